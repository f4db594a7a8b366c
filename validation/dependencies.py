#!/usr/bin/env python3
"""Licences and duplicates of the crates that the workspace is built from: `dependencies.py [--list]`.

In:   Cargo.lock, and the manifests of the crates it names, as cargo has them on this machine; no network.
Out:  what is wrong, a line each, and exit code 1: a licence that is not among those below, a crate from elsewhere than the registry,
      a version beside another one that is not among those below, or one that is and is no longer there. With --list every crate.

Advisories are not checked: their database changes by the day, and a copy kept here would call safe what is not.
"""

import collections
import json
import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
REGISTRY = "registry+https://github.com/rust-lang/crates.io-index"
# Licences that ask for no more than their notice. The exception of LLVM adds a permission.
TAKEN = {
    "MIT", "MIT-0", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "BSD-2-Clause", "BSD-3-Clause", "BSL-1.0", "Zlib", "0BSD",
    "CC0-1.0", "Unlicense", "Unicode-3.0",
}
# Crates in more than one version, and who holds the older ones.
TWICE = {
    "equator": "faer and its kernels pin three versions",
    "equator-macro": "the same",
    "getrandom": "ahash and const-random hold older ones",
    "glam": "nalgebra names several that it could convert to; none is built",
    "hashbrown": "spade and petgraph hold older ones",
    "foldhash": "of the same",
    "syn": "macros of faer's kernels and of others hold older ones",
    "thiserror": "sysctl (of gemm, on one system only) holds the older one",
    "thiserror-impl": "the same",
    "windows-sys": "faer's threads hold the older one, on one system only",
    "r-efi": "getrandom's, on one system only",
    "bit-set": "checks only: jsonschema and proptest",
    "bit-vec": "checks only: the same",
    "num-bigint": "checks only: jsonschema's fraction",
}


def taken(expression):
    """Whether one way of reading an SPDX expression, or the older form with strokes, is taken. OR binds less than AND."""
    text = expression.replace("/", " OR ")
    tokens = re.findall(r"\(|\)|\bOR\b|\bAND\b|[\w.+-]+(?: WITH [\w.-]+)?", text)

    def either():
        found = both()
        while tokens and tokens[0] == "OR":
            tokens.pop(0)
            found = both() or found
        return found

    def both():
        found = one()
        while tokens and tokens[0] == "AND":
            tokens.pop(0)
            found = one() and found
        return found

    def one():
        token = tokens.pop(0)
        if token != "(":
            return token in TAKEN
        found = either()
        tokens.pop(0)
        return found

    return either()


def main():
    command = ["cargo", "metadata", "--locked", "--offline", "--format-version", "1"]
    found = json.loads(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout)
    own = set(found["workspace_members"])
    crates = sorted((p for p in found["packages"] if p["id"] not in own), key=lambda p: (p["name"], p["version"]))
    faults, versions = [], collections.defaultdict(set)
    for p in crates:
        versions[p["name"]].add(p["version"])
        if "--list" in sys.argv[1:]:
            print(f"{p['name']} {p['version']}: {p['license']}")
        if p["source"] != REGISTRY:
            faults.append(f"{p['name']} {p['version']} comes from {p['source']}, not from the registry")
        if not p["license"] or not taken(p["license"]):
            faults.append(f"{p['name']} {p['version']}: licence \"{p['license']}\" is not among those taken")
    twice = {name for name, all_of in versions.items() if len(all_of) > 1}
    faults += [f"{name} is there in versions {', '.join(sorted(versions[name]))}: let it agree, or say who holds it" for name in sorted(twice - TWICE.keys())]
    faults += [f"{name} is there once: take it off the list" for name in sorted(TWICE.keys() - twice)]
    for fault in faults:
        print(fault)
    print(f"{len(crates)} crates, {len(faults)} faults")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    # What must be refused is.
    assert not taken("GPL-3.0-only") and not taken("MIT AND GPL-2.0") and taken("LGPL-2.1 OR (MIT AND Zlib)")
    main()
