"""Modes under film stress from an outside finite-element library, scikit-fem, beside ours: equilibrium, then modes with what is left.

In:   nothing; needs scikit-fem, scipy, numpy, pypardiso from PyPI and the built program (target/release/modalith).
Out:  a table on stdout; exit code 1 where a frequency or the largest displacement is off by more than 0.3 %. The layouts are invented.
"""

import json
import pathlib
import subprocess
import sys

import numpy as np

from boxes import Solid, isotropic

ROOT = pathlib.Path(__file__).resolve().parent.parent
OUT = ROOT / "target/film_stress"
E, NU, RHO, BOUND = 160e9, 0.22, 2330.0, 0.3

# name, thickness µm, rectangles, anchors (x0, y0, x1, y1) µm, film stress xx, yy in MPa: tension, compression, other along y.
LAYOUTS = [
    ("guided mass", 3.0, [(-40, -30, 40, 30), (-40, 30, -34, 130), (34, 30, 40, 130), (-40, -130, -34, -30),
                          (34, -130, 40, -30)],
     [(-60, 130, 60, 150), (-60, -150, 60, -130)], [(50.0, 50.0), (-20.0, -20.0)]),
    ("bridge with a wide middle", 4.0, [(-120, -5, 120, 5), (-25, -30, 25, 30)],
     [(-140, -20, -120, 20), (120, -20, 140, 20)], [(80.0, 20.0)]),
]


def ours(layout, film):
    name, t, rects, anchors, _ = layout
    device = {
        "format": "modalith.device/1", "name": name, "notes": "Invented.",
        "layout": {"unit": "um", "structure": [{"rect": [r[:2], r[2:]]} for r in rects],
                   "anchors": [{"rect": [r[:2], r[2:]]} for r in anchors]},
        "process": {"thickness_um": t, "film_stress_mpa": {"xx": film[0], "yy": film[1]}},
        "material": {"density_kg_m3": RHO, "youngs_modulus_gpa": E / 1e9, "poissons_ratio": NU},
        "modes": {"count": 6},
    }
    folder = OUT / name.replace(" ", "-")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "device.json").write_text(json.dumps(device))
    done = subprocess.run([ROOT / "target/release/modalith", "modes", folder / "device.json", "--out", folder / "out", "--json",
                           "--model", "solid"],
                          check=True, capture_output=True, text=True)
    found = json.loads(done.stdout)
    return [m["frequency_hz"] for m in found["modes"]], found["state"]["largest_deflection_um"]["in_plane"]


def main():
    missed = 0
    for layout in LAYOUTS:
        name, t, rects, anchors, films = layout
        for film in films:
            part = Solid(rects, anchors, t / 2 * np.array([0.0, 0.5, 1.0]), isotropic(E, NU), RHO, 0.9, 4.5, mirrors=(0, 1, 2))
            moved = part.at_rest([1e6 * film[0], 1e6 * film[1], 0.0])
            modes, n = part.spectrum(6, 3)
            hz, rest = ours(layout, film)
            print(f"\n{name}, {t} µm, {film} MPa: {n} unknowns of one class")
            pairs = [(f"mode {i + 1}, Hz", a, m[0]) for i, (a, m) in enumerate(zip(hz, modes))] + [("largest rest, µm", rest, moved)]
            for what, a, b in pairs:
                off = 100 * (a / b - 1)
                missed += abs(off) > BOUND
                print(f"  {what}: {a:.6g}, reference {b:.6g}, {off:+.4f} %{'' if abs(off) <= BOUND else ' MISSED'}")
    print(f"\n{missed} bounds missed" if missed else "\nall bounds met")
    sys.exit(1 if missed else 0)


if __name__ == "__main__":
    main()
