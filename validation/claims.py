"""Every claim on random layouts, derived again from outside: `claims.py [--layouts N] [--first SEED] [--seed SEED …] [--quick] [--self-test]`.

In:   nothing; needs the built program (target/release/modalith) and numpy, scipy, pypardiso, shapely from PyPI.
Out:  a table of what was checked on stdout, false claims with the device file and the command that makes them; exit code 1 where
      one is false. Devices and results go to target/claims/.

Layouts come from `claim_layouts`, what is true of them from `claim_truth` (Shapely for the outline; eigenvalues of the exported K and
M by SciPy, dense under 4000 unknowns, else shift-invert and a count of negative pivots by MKL), the comparison from
`claim_checks`. With --self-test every kind of check is shown results that were made false, and must object.
"""

import argparse
import collections
import copy
import json
import multiprocessing
import pathlib
import shutil
import subprocess
import sys
import time

import claim_checks as checks
import claim_layouts
from claim_truth import DENSE, Geometry, Pencil

ROOT = pathlib.Path(__file__).resolve().parent.parent
OUT = ROOT / "target/claims"
PROGRAM = ROOT / "target/release/modalith"
MODELS = ["lumped", "beam-shell", "shell", "solid", "auto"]
# A guard against hanging, s.
HANG_S = 600

# `quick`: two minutes for thirty layouts on two idle cores, by fewer solids, rate reports of the lumped model, one further request each.
Options = collections.namedtuple("Options", "dense solids quick models until")


class Layout:
    """One layout: its device file, its truth, and what was found."""

    def __init__(self, seed):
        self.folder = OUT / str(seed)
        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True)
        self.device, self.known = claim_layouts.device(seed)
        self.path = self.write("device", self.device)
        self.seed, self.truth = seed, Geometry(self.device)
        self.claims, self.runs, self.answers, self.unknowns = [], 0, {}, []

    def write(self, name, device):
        path = self.folder / f"{name}.json"
        path.write_text(json.dumps(device, indent=1) + "\n")
        return path

    def run(self, *words, path=None):
        """Runs the program; the exit code, stdout, stderr."""
        path = path or self.path
        command = [words[0], str(path), *map(str, words[1:]), "--threads", "1"]
        self.runs += 1
        self.command = "modalith " + " ".join(command).replace(str(ROOT) + "/", "")
        try:
            done = subprocess.run([PROGRAM, *command], capture_output=True, text=True, timeout=HANG_S, check=False)
        except subprocess.TimeoutExpired:
            self.take([("exit codes", False, f"no end after {HANG_S} s")])
            return None, "", ""
        self.take(checks.refusal(done.returncode, done.stderr, path))
        return done.returncode, done.stdout, done.stderr

    def take(self, claims):
        for kind, holds, said in claims:
            self.claims.append((kind, bool(holds), said, self.command))

    def modes(self, model, *more, path=None, export=False):
        """`modes` under a model: the result or None, and the exported matrices where they are wanted."""
        out = self.folder / "out"
        shutil.rmtree(out, ignore_errors=True)
        matrices = ("--export-matrices", self.folder / "matrices") if export else ()
        code, _, stderr = self.run("modes", "--out", out, "--model", model, "--quiet", *matrices, *more, path=path)
        if code != 0:
            return None, stderr
        return json.loads((out / "modes.json").read_text()), stderr


def model_of(layout, model, options, solved):
    """One model of a layout: its list, and one more that asks otherwise."""
    n = layout.device["modes"]["count"]
    result, _ = layout.modes(model, export=True)
    layout.answers[model] = result is not None
    if result is None:
        return
    solved[model] = result
    pencil = Pencil(layout.folder / "matrices", options.dense)
    layout.unknowns.append(pencil.n)
    layout.take([("search", pencil.n == result["degrees_of_freedom"],
                  f"{result['degrees_of_freedom']} unknowns said, {pencil.n} exported")])
    layout.take(checks.search(result, pencil, ("count", n)))
    layout.take(described(layout, result, model))
    f = [m["frequency_hz"] for m in result["modes"] if m["frequency_hz"] > 1.0]
    turn = layout.seed + MODELS.index(model)
    if not f or (model == "solid" and turn % 2) or (options.quick and turn % 3):
        return
    if turn % 4 == 0:
        request, words = ("up to", f[-1], None), ("--up-to", f[-1])
    elif turn % 4 == 1:
        hz, k = (0.3 * f[0] + 0.7 * f[-1]), 3
        request, words = ("near", hz, k), ("--near", hz, "--count", k)
    elif turn % 4 == 2:
        request, words = ("up to", 1.05 * f[-1], n - 1), ("--up-to", 1.05 * f[-1], "--count", n - 1)
    else:
        request, words = ("near", f[len(f) // 2], 2), ("--near", f[len(f) // 2], "--count", 2)
    if request[0] == "near" and model == "lumped":
        request, words = ("count", n + 3), ("--count", n + 3)
    again, _ = layout.modes(model, *words)
    if again is None:
        layout.take([("asked", False, f"answers without, not with {' '.join(map(str, words))}")])
        return
    layout.take(checks.search(again, pencil, request))
    layout.take(described(layout, again, model))


def described(layout, result, model):
    yield from checks.bodies(result, layout.truth)
    yield from checks.parities(result, layout.truth)
    yield from checks.used(result, layout.device, model)
    yield from checks.filled(result, layout.device, layout.truth)


def finer(layout, model, result):
    """The same layout on a mesh of half the size."""
    device = copy.deepcopy(layout.device)
    mesh = json.loads((layout.folder / "mesh/mesh.json").read_text())
    device["mesh"] = {"largest_um": round(0.5 * min(mesh["largest_edge_um"], device["mesh"]["largest_um"]), 3), "across_flexure": 2}
    fine, _ = layout.modes(model, "--count", len(result["modes"]) + 2, path=layout.write("finer", device))
    if fine is not None:
        # A circle that is meshed anew is another polygon by some 1e-6.
        layout.take(checks.finer(result, fine, 2e-6 * result["modes"][-1]["frequency_hz"] if layout.truth.curved else 0.0))


def rate(layout, options):
    """The rate report, and the same with inputs deleted."""
    model = "lumped" if options.quick else ["shell", "beam-shell", "lumped", "beam-shell"][layout.seed % 4]

    def report(path=None):
        out = layout.folder / "rate"
        shutil.rmtree(out, ignore_errors=True)
        code, _, _ = layout.run("rate", "--out", out, "--model", model, "--quiet", path=path)
        return json.loads((out / "rate.json").read_text()) if code == 0 else None

    whole = report()
    if whole is None:
        return
    layout.take(checks.rate(whole))
    for section, key in [("operation", "readout_noise_m_per_rthz"), ("operation", "quality_sense"),
                         ("imperfections", "sidewall_tilt_deg")]:
        device = copy.deepcopy(layout.device)
        del device[section][key]
        less = report(layout.write(f"without_{key}", device))
        if less is not None:
            layout.take(checks.rate(less))
            layout.take(checks.poorer(whole, less, key))


def judge(seed, options):
    """Everything of one layout; none where its time is up."""
    began = time.monotonic()
    if began > options.until:
        return None
    layout = Layout(seed)
    try:
        code, text, _ = layout.run("check", "--json")
        if code == 0:
            checked = json.loads(text)
            out = layout.folder / "mesh"
            out.mkdir()
            meshed, text, _ = layout.run("mesh", "--out", out, "--json")
            layout.take([("exit codes", meshed == 0, f"check accepts, mesh ends with {meshed}")])
            if meshed == 0:
                (out / "mesh.json").write_text(text)
                layout.take(checks.geometry(layout.truth, checked, json.loads(text)))
            _, text, _ = layout.run("check")
            layout.take(checks.openings_in_words(layout.truth, text))
        solved = {}
        for model in MODELS[:4]:
            if model in options.models and (model != "solid" or (options.solids and seed % options.solids == 1)):
                model_of(layout, model, options, solved)
        if "auto" in options.models:
            automatic(layout, options, solved)
        if "solid" in solved:
            for model in ("beam-shell", "shell"):
                if model in solved:
                    layout.take(checks.against_solid(solved[model], solved["solid"]))
        if "shell" in solved and seed % 3 == 0:
            finer(layout, "shell", solved["shell"])
        if "solid" in solved and options.solids and not options.quick and seed % (4 * options.solids) == 1:
            finer(layout, "solid", solved["solid"])
        if "intent" in layout.device and {"lumped", "beam-shell"} <= set(options.models):
            rate(layout, options)
        if seed % 15 == 4 and not options.quick and options.models == MODELS:
            layout.run("audit", "--out", layout.folder / "audit", "--quiet")
    except Exception as e:  # A fault of this program is told beside its layout, and fails.
        layout.take([("checker", False, f"{type(e).__name__}: {e}")])
    for name in ("out", "matrices", "mesh", "rate", "audit"):
        shutil.rmtree(layout.folder / name, ignore_errors=True)
    return {"seed": seed, "kind": layout.known["kind"], "path": str(layout.path.relative_to(ROOT)), "claims": layout.claims,
            "runs": layout.runs, "answers": layout.answers, "unknowns": layout.unknowns, "seconds": time.monotonic() - began}


def automatic(layout, options, solved):
    """`auto` answers, and gives what the model that it took gives."""
    # Solids, which it mostly takes, are held against outside eigenvalues where they are asked for, and when there is time.
    result, stderr = layout.modes("auto", export=not options.quick)
    layout.answers["auto"] = result is not None
    layout.take([("auto answers", result is not None, stderr.strip().split("\n")[0])])
    if result is None:
        return
    layout.take(described(layout, result, "auto"))
    if result["model"] in solved:
        own = solved[result["model"]]
        same = all(a["frequency_hz"] == b["frequency_hz"] for a, b in zip(result["modes"], own["modes"]))
        layout.take([("auto answers", same, f"auto took {result['model']} and gives other frequencies than it")])
    elif not options.quick:
        pencil = Pencil(layout.folder / "matrices", options.dense)
        layout.unknowns.append(pencil.n)
        layout.take(checks.search(result, pencil, ("count", layout.device["modes"]["count"])))


def summary(results, seconds):
    """Prints the table; how many claims are false."""
    held, false = collections.Counter(), collections.defaultdict(list)
    for r in results:
        for kind, holds, _, _ in r["claims"]:
            held[kind] += 1
            if not holds:
                false[kind].append(r)
    print(f"\n{'claims about':<16}{'checked':>10}{'false':>8}{'layouts':>9}")
    for kind in sorted(held):
        print(f"{kind:<16}{held[kind]:>10}{len(false[kind]):>8}{len({r['seed'] for r in false[kind]}):>9}")
    print(f"\n{'model':<16}{'asked':>10}{'answers':>9}")
    for model in MODELS:
        asked = [r["answers"][model] for r in results if model in r["answers"]]
        print(f"{model:<16}{len(asked):>10}{sum(asked):>9}")
    unknowns = sorted(n for r in results for n in r["unknowns"])
    total = sum(map(len, false.values()))
    print(f"\n{len(results)} layouts, {sum(r['runs'] for r in results)} runs, {sum(held.values())} claims, {total} false; "
          f"{len(unknowns)} spectra of {unknowns[0]} to {unknowns[-1]} unknowns, {sum(n < DENSE for n in unknowns)} under {DENSE}; "
          f"{seconds:.0f} s")
    return total


def main():
    parser = argparse.ArgumentParser(description="Every claim on random layouts, derived again from outside.")
    parser.add_argument("--layouts", type=int, default=300, help="how many")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--seed", type=int, action="append", help="only this seed; can be given more than once")
    parser.add_argument("--models", nargs="+", choices=MODELS, default=MODELS)
    parser.add_argument("--quick", action="store_true", help="less of each layout")
    parser.add_argument("--dense", type=int, default=DENSE, help="dense eigenvalues under so many unknowns")
    parser.add_argument("--solids", type=int, default=3, help="solids on every so many layouts, 0 for none")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--minutes", type=float, default=float("inf"), help="begin no layout after so many")
    parser.add_argument("--self-test", action="store_true", help="show every check something false")
    args = parser.parse_args()
    if args.self_test:
        import claim_falsehoods
        sys.exit(claim_falsehoods.main(Layout))
    seeds = args.seed or range(args.first, args.first + args.layouts)
    began = time.monotonic()
    options = Options(args.dense, args.solids, args.quick, args.models, began + 60 * args.minutes)
    with multiprocessing.Pool(args.processes, maxtasksperchild=8) as pool:
        jobs = [pool.apply_async(judge, (seed, options)) for seed in seeds]
        results = []
        for job in jobs:
            r = job.get()
            if r is None:
                continue
            results.append(r)
            false = [claim for claim in r["claims"] if not claim[1]]
            print(f"{r['path']} ({r['kind']}): {r['runs']} runs, {len(r['claims'])} claims, {len(false)} false, {r['seconds']:.0f} s")
            for kind, _, said, command in false:
                print(f"  {kind}: {said}\n      {command}")
            sys.stdout.flush()
    sys.exit(1 if summary(results, time.monotonic() - began) else 0)


if __name__ == "__main__":
    main()
