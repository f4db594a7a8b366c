"""Two builds of the program say the same of the demos: for changes that must not change an answer.

In:   OLD NEW, two programs; the demos under meshes/; NumPy and VTK from validation/requirements.txt. By hand, for instance
      git worktree add ../before COMMIT; (cd ../before; cargo build --release --locked --workspace --bins)
      target/python/bin/python validation/baseline.py ../before/target/release/modalith target/release/modalith
Out:  a line a run and every difference; exit code 1 if there is one.
Bounds: keys and their order equal; numbers of JSON, CSV and VTU to 1e-9 of themselves, or of the largest of their array or of
      their list where they are parts of a vector; what is smaller than 1e-9 of a sibling is rounding; mode shapes up to their sign;
      text equal but for digits. Seconds, memory and hashes of the program are not compared.
"""

import csv
import json
import pathlib
import re
import subprocess
import sys
import tempfile

import numpy
import vtk
from vtk.util.numpy_support import vtk_to_numpy

ROOT = pathlib.Path(__file__).resolve().parent.parent
NEAR = 1e-9
# Figures that hang on the machine or that are rounding themselves.
SKIPPED = {"seconds", "peak_memory_bytes", "predicted_memory_bytes", "threads", "version", "backward_error", "program"}
COMMANDS = ["check", "mesh", "modes", "rate", "audit"]
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


def numbers(value):
    """All numbers of a list that may hold lists."""
    if isinstance(value, list):
        return [n for part in value for n in numbers(part)]
    return [value] if isinstance(value, (int, float)) and not isinstance(value, bool) else []


def differences(old, new, at, scale=0.0):
    """Where two JSON values differ."""
    if isinstance(old, dict) and isinstance(new, dict):
        if list(old) != list(new):
            return [f"{at}: keys {list(old)} became {list(new)}"]
        own = max([abs(v) for v in old.values() if isinstance(v, (int, float))], default=0.0)
        return [d for k in old if k not in SKIPPED for d in differences(old[k], new[k], f"{at}/{k}", 1e-6 * own)]
    if isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            return [f"{at}: {len(old)} entries became {len(new)}"]
        own = max(map(abs, numbers(old)), default=0.0)
        return [d for i, (a, b) in enumerate(zip(old, new)) for d in differences(a, b, f"{at}/{i}", max(own, scale))]
    if isinstance(old, (int, float)) and isinstance(new, (int, float)) and not isinstance(old, bool):
        return [] if abs(old - new) <= NEAR * max(abs(old), scale) else [f"{at}: {old!r} became {new!r}"]
    if isinstance(old, str) and isinstance(new, str):
        return [] if NUMBER.sub("#", old) == NUMBER.sub("#", new) else [f"{at}: {old!r} became {new!r}"]
    return [] if old == new and type(old) is type(new) else [f"{at}: {old!r} became {new!r}"]


def of_tables(old, new):
    rows = [list(csv.reader(path.open(encoding="utf-8"))) for path in (old, new)]
    if len(rows[0]) != len(rows[1]) or rows[0][0] != rows[1][0]:
        return ["rows or columns differ"]
    found = []
    for number, (a, b) in enumerate(zip(*rows)):
        for x, y in zip(a, b):
            same = x == y
            if not same and NUMBER.fullmatch(x) and NUMBER.fullmatch(y):
                same = abs(float(x) - float(y)) <= NEAR * abs(float(x))
            if not same:
                found.append(f"row {number}: {x} became {y}")
    return found


def arrays(path):
    reader = vtk.vtkXMLUnstructuredGridReader()
    reader.SetFileName(str(path))
    reader.Update()
    grid = reader.GetOutput()
    out = {"points": vtk_to_numpy(grid.GetPoints().GetData()), "cells": vtk_to_numpy(grid.GetCells().GetConnectivityArray())}
    for data in (grid.GetPointData(), grid.GetCellData()):
        for i in range(data.GetNumberOfArrays()):
            out[data.GetArrayName(i)] = vtk_to_numpy(data.GetArray(i))
    return out


def of_grids(old, new):
    a, b = arrays(old), arrays(new)
    if list(a) != list(b):
        return [f"arrays {list(a)} became {list(b)}"]
    found = []
    for name in a:
        if a[name].shape != b[name].shape:
            found.append(f"{name}: shape {a[name].shape} became {b[name].shape}")
            continue
        largest = numpy.abs(a[name]).max(initial=0.0)
        # A shape is known as well as the root of its frequency's digits allows.
        off = min(numpy.abs(a[name] - b[name]).max(initial=0.0), numpy.abs(a[name] + b[name]).max(initial=0.0))
        if off > 1e3 * NEAR * largest:
            found.append(f"{name}: off by {off:.1e} of {largest:.1e}")
    return found


def compare(old, new):
    found = []
    names = [sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file()) for folder in (old, new)]
    if names[0] != names[1]:
        return [f"files {names[0]} became {names[1]}"]
    for name in names[0]:
        a, b = old / name, new / name
        if name.endswith(".json") and name != "run.json":
            texts = [json.loads(p.read_text(encoding="utf-8")) for p in (a, b)]
            found += [f"{name}{d}" for d in differences(*texts, "")]
        elif name.endswith(".csv") and name != "timings.csv":
            found += [f"{name}: {d}" for d in of_tables(a, b)]
        elif name.endswith(".vtu"):
            found += [f"{name}: {d}" for d in of_grids(a, b)]
    return found


def main():
    programs = [pathlib.Path(p).resolve() for p in sys.argv[1:3]]
    faults = 0
    for device in sorted((ROOT / "meshes").glob("*/device.json")):
        for command in COMMANDS:
            with tempfile.TemporaryDirectory() as folder:
                outs = [pathlib.Path(folder) / name for name in ("old", "new")]
                codes = []
                for program, out in zip(programs, outs):
                    run = [program, command, device, "--out", out]
                    codes.append(subprocess.run(run, capture_output=True, text=True).returncode)
                    out.mkdir(exist_ok=True)
                found = compare(*outs) + ([f"exit codes {codes}"] if codes[0] != codes[1] else [])
            faults += len(found)
            print(f"{device.parent.name:16} {command:6} {'same' if not found else f'{len(found)} differences'}")
            for fault in found[:20]:
                print(f"    {fault}")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
