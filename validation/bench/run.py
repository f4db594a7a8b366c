"""This program and its peers on the flagship's K and M, one after another on the same machine; prints a table and bounds.

In:   sizes as unknowns:order of the elements (the default is in SIZES), `--limit` seconds for SciPy's default; the built example `pencil`.
Out:  Markdown on stdout; the matrices stay in target/bench. Ends with an error where frequencies differ by more than 1e-8 or
      the round-off floor.
"""

import argparse
import json
import math
import os
import platform
import subprocess
import sys
import time

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
PENCIL = os.path.join(ROOT, "target/release/examples/pencil")
COUNT = 20
# Runs of our own program, of which the one in the middle counts.
ROUNDS = 3
# Quadratic elements, as few unknowns as the coarsest mesh has first; last the program's own order.
SIZES = ["30000:2", "100000:2", "350000:2", "1000000:2", "350000:4"]


def child(command, limit=None, threads=None):
    """The JSON that a program ends with, beside its peak memory, bytes, and its time on the cores, s; None after the limit."""
    env = dict(os.environ, **({"RAYON_NUM_THREADS": str(threads)} if threads else {}))
    process = subprocess.Popen(command, stdout=subprocess.PIPE, env=env)
    end = None if limit is None else time.monotonic() + limit
    while True:
        pid, status, usage = os.wait4(process.pid, os.WNOHANG)
        if pid:
            peak, cpu = usage.ru_maxrss * 1024, usage.ru_utime + usage.ru_stime
            break
        if end and time.monotonic() > end:
            process.kill()
            os.wait4(process.pid, 0)
            return None
        time.sleep(0.05)
    if status != 0:
        return None
    return {**json.loads(process.stdout.read().splitlines()[-1]), "peak": peak, "cpu": cpu}


def apart_by(a, b):
    return max(abs(x / y - 1) for x, y in zip(a, b))


def machine():
    with open("/proc/cpuinfo") as f:
        cpu = next((line.split(":")[1].strip() for line in f if line.startswith("model name")), "unknown")
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return f"{os.cpu_count()} cores ({cpu}), {memory:.0f} GiB, {platform.system()}, load average {os.getloadavg()[0]:.1f} at the start"


def median(command):
    """The run in the middle of ROUNDS by its seconds: a single short one says more of the machine than of the program."""
    runs = [child(command) for _ in range(ROUNDS)]
    return None if None in runs else sorted(runs, key=lambda run: run["seconds"])[ROUNDS // 2]


def measure(size, order, limit):
    folder = os.path.join(ROOT, "target/bench", f"{size}-{order}")
    made = child([PENCIL, "export", size, order, folder])
    peer = lambda kind, seconds=None: child([sys.executable, os.path.join(HERE, "peer.py"), kind, folder, str(COUNT)], seconds)
    ours = median([PENCIL, "whole", folder, str(COUNT)])
    motions = median([PENCIL, "motions", size, order, str(COUNT)])
    pieces = median([PENCIL, "pieces", size, order, str(COUNT)])
    pardiso, scipy = peer("pardiso", 900), peer("scipy", limit) if limit else None
    if None in (made, ours, motions, pieces):
        sys.exit(f"{size}: the pencil was not solved")
    return {"made": made, "ours": ours, "motions": motions, "pieces": pieces, "pardiso": pardiso, "scipy": scipy}


def many(size, order, count=200):
    """Seconds for many modes on one core and on two."""
    return [child([PENCIL, "pieces", size, order, str(count)], threads=n)["seconds"] for n in (1, 2)]


def figures(row):
    ours, motions, pieces, worst = row["ours"], row["motions"], row["pieces"], 0.0
    # Frequencies are good to half the floor of ω².
    bound = max(1e-8, ours["floor"])
    for other in (motions, pieces, row["pardiso"], row["scipy"]):
        if other:
            worst = max(worst, apart_by(ours["hz"], other["hz"]))
    gb = lambda x: f"{x['peak'] / 1e9:.2f}" if x else "-"
    s = lambda x: f"{x['seconds']:.1f} ({x['cpu']:.0f})" if x else "-"
    ways = (ours, motions, pieces)
    over = lambda x: ", ".join(f"{x['seconds'] / y['seconds']:.1f}" for y in ways) if x else "-"
    made, p = row["made"], row["pardiso"]
    bare = ", ".join(f"{y['seconds'] / p['factorization_s']:.1f}" for y in ways) if p else "-"
    print(
        f"| {made['unknowns']} (order {made['order']}) | {made['entries'] / 1e6:.1f} | {s(ours)} | {s(motions)} | {s(pieces)} | {s(p)} | {s(row['scipy'])} "
        f"| {over(p)} | {over(row['scipy'])} | {bare} "
        f"| {gb(ours)}, {gb(pieces)}, {gb(p)}, {gb(row['scipy'])} | {worst:.0e} |",
        flush=True,
    )
    return worst <= bound


def stages(row):
    o, a, p, made = row["ours"], row["pieces"], row["pardiso"], row["made"]
    print(
        f"| {made['unknowns']} | {o['scaling_s']:.1f}, {o['ordering_s']:.1f}, {o['factorization_s']:.1f} ({o['factors']}), "
        f"{o['eigen_s']:.1f} ({o['solves']} of 4) | {a['ordering_s']:.1f}, {a['factorization_s']:.1f}, {a['eigen_s']:.1f} | {a['meshing_s']:.2f}, {a['assembly_s']:.2f} "
        f"| {o['factor_entries'] / 1e6:.0f} | {o['backward_error']:.0e}, {a['backward_error']:.0e} | "
        + (f"{p['analysis_s']:.1f}, {p['factorization_s']:.1f}, {p['eigen_s']:.1f} ({p['solves']}) |" if p else "- |"),
        flush=True,
    )


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("sizes", nargs="*", default=SIZES)
    parser.add_argument("--limit", type=float, default=600.0, help="seconds for SciPy's default at one size")
    parser.add_argument("--scipy-up-to", type=int, default=350_000, help="largest size given to SciPy's default")
    parser.add_argument("--many", default="350000:2", help="size at which 200 modes are sought on one core and on two; empty for none")
    asked = parser.parse_args()
    print(f"{machine()}; 20 modes; ours: the middle one of {ROUNDS} runs; peers: SciPy eigsh with its default LU, ARPACK with MKL PARDISO\n")
    print("| unknowns | entries, M | ours as one problem, s (all of it on the cores) | motions apart, s | and in pieces, s | PARDISO, s | SciPy, s | PARDISO over ours | SciPy over ours "
          "| ours over PARDISO's bare factorization | peak GB: ours, in pieces, PARDISO, SciPy | apart |")
    print("| --- " * 12 + "|", flush=True)
    rows, equal = [], True
    for size, order in (word.split(":") for word in asked.sizes):
        rows.append(measure(size, order, asked.limit if int(size) <= asked.scipy_up_to and order == "2" else 0))
        equal &= figures(rows[-1])
    print("\n| unknowns | ours: scaling, order, factor (times), eigen (solves), s | in pieces, added up: order, factor, eigen, s | meshing, assembly, s | factor, M "
          "| backward errors | PARDISO: analysis, factor, eigen (solves), s |")
    print("| --- " * 7 + "|")
    for row in rows:
        stages(row)
    print("\nGrowth from size to size (exponent):")
    for a, b in ((a, b) for a, b in zip(rows, rows[1:]) if a["made"]["order"] == b["made"]["order"]):
        step = math.log(b["made"]["unknowns"] / a["made"]["unknowns"])
        of = lambda who: f"{math.log(b[who]['seconds'] / a[who]['seconds']) / step:.2f}" if a[who] and b[who] else "-"
        print(f"{a['made']['unknowns']} to {b['made']['unknowns']}: ours {of('ours')}, motions apart {of('motions')}, in pieces {of('pieces')}, "
              f"PARDISO {of('pardiso')}, SciPy {of('scipy')}", flush=True)
    if asked.many:
        one, two = many(*asked.many.split(":"))
        print(f"\n200 modes at {asked.many}, in pieces: {one:.1f} s on one core, {two:.1f} s on two: {one / two:.2f}")
    if not equal:
        sys.exit("frequencies differ by more than 1e-8 and the round-off floor")


if __name__ == "__main__":
    main()
