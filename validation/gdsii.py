"""GDSII streams written by an outside library, read by ours, compared area by area and outline by outline.

In:   nothing; needs gdstk and numpy from PyPI and a built workspace:
      python3 -m venv target/venv && target/venv/bin/pip install gdstk numpy
      target/venv/bin/python validation/gdsii.py [DIRECTORY]
Out:  DIRECTORY (target/gdsii by default) with every stream and, beside it, a JSON file of its union areas (µm²) and
      bounding boxes (µm) per layer and datatype as gdstk computes them; a table on stdout; exit code 1 on a mismatch.
Bounds: union areas 1e-8 of themselves (gdstk's boolean grid), bounding boxes 1e-9 µm, area of the symmetric difference of the outlines 1e-6 of
      the union (round path ends, which both sides facet in their own way, included), texts equal, 200 000 boundaries read
      and flattened in less than a second; flexures.gds of a demo: counts and areas as drawn.

The layouts are invented. gdstk (https://github.com/heitzmann/gdstk) is a general library for such files.
"""

import json
import math
import pathlib
import subprocess
import sys

import gdstk
import numpy

ROOT = pathlib.Path(__file__).resolve().parent.parent
CHORD_UM = 1e-6  # for round ends, on both sides
PRECISION_UM = 1e-7  # grid of gdstk's boolean operations

failures = []


def leaf(name):
    """A cell without any symmetry, so that every turn and mirror shows."""
    cell = gdstk.Cell(name)
    cell.add(gdstk.Polygon([(0, 0), (30, 0), (30, 10), (12, 10), (9, 25.5), (0, 20)], layer=1))
    cell.add(gdstk.rectangle((2, 2), (6, 7), layer=2, datatype=5))
    cell.add(gdstk.ellipse((20, 5), 3, tolerance=1e-3, layer=2))
    cell.add(gdstk.Label("leaf", (3, 4), layer=9, texttype=1))
    return cell


def nested():
    """References in references: turned, mirrored, scaled, alone and in skew arrays."""
    library = gdstk.Library("nested", unit=1e-6, precision=1e-9)
    low, middle, high, top = leaf("leaf"), gdstk.Cell("middle"), gdstk.Cell("high"), gdstk.Cell("top")
    middle.add(gdstk.Reference(low, (100, 0), rotation=math.radians(33), magnification=1.5, x_reflection=True))
    middle.add(gdstk.Reference(low, (-40, 10), rotation=math.pi / 2))
    middle.add(gdstk.rectangle((-5, -5), (5, 5), layer=3))
    high.add(gdstk.Reference(middle, (0, 200), rotation=math.radians(-71.25), x_reflection=True))
    high.add(gdstk.Reference(low, (0, 0), columns=4, rows=3, spacing=(41, 37)))
    turned = gdstk.Reference(low, (300, 0), rotation=math.radians(90), columns=3, rows=2, spacing=(50, 60))
    high.add(turned)
    top.add(gdstk.Reference(high, (1000, 500), rotation=math.pi, magnification=0.25))
    top.add(gdstk.Reference(high, (0, 0), rotation=math.radians(10), x_reflection=True))
    top.add(gdstk.Reference(middle, (-700, 0), columns=2, rows=5, spacing=(250, 130), x_reflection=True, rotation=1.0))
    library.add(low, middle, high, top)
    return library


def straight_paths(precision):
    """Paths with every straight end, gentle and sharp turns, over themselves, and in scaled references."""
    library = gdstk.Library("paths", unit=1e-6, precision=precision)
    cell, top = gdstk.Cell("lines"), gdstk.Cell("top")
    meander = [(0, 0), (50, 0), (50, 20), (0, 20), (0, 40), (50, 40), (75, 65), (75, 90), (30, 117)]
    zigzag = [(0, 0), (60, 8), (0, 16), (60, 24), (0, 32)]
    over_itself = [(0, 0), (60, 0), (60, 40), (30, 40), (30, -30)]
    ends = ["flush", "extended", (3.0, 7.5), (0.0, -1.25)]
    for i, end in enumerate(ends):
        for j, (points, width) in enumerate([(meander, 4), (zigzag, 2), (over_itself, 5)]):
            shifted = [(x + 150 * i, y + 200 * j) for x, y in points]
            cell.add(gdstk.FlexPath(shifted, width, ends=end, simple_path=True, layer=10 + i, datatype=j))
    fixed = gdstk.FlexPath([(0, -100), (40, -100), (60, -120)], 3, simple_path=True, scale_width=False, layer=20)
    cell.add(fixed)
    top.add(gdstk.Reference(cell, (0, 0), magnification=1.75, rotation=math.radians(27), x_reflection=True))
    top.add(gdstk.Reference(cell, (2000, 0)))
    library.add(cell, top)
    return library


def round_paths():
    """Paths with round ends, one in a scaled reference."""
    library = gdstk.Library("round", unit=1e-6, precision=1e-9)
    cell, top = gdstk.Cell("lines"), gdstk.Cell("top")
    cell.add(gdstk.FlexPath([(0, 0), (50, 0), (50, 30)], 8, ends="round", simple_path=True, layer=1, tolerance=CHORD_UM))
    cell.add(gdstk.FlexPath([(0, 60), (50, 90)], 3, ends="round", simple_path=True, layer=1, datatype=1, tolerance=CHORD_UM))
    top.add(gdstk.Reference(cell, (0, 0)))
    top.add(gdstk.Reference(cell, (200, 0), magnification=2, rotation=0.3))
    library.add(cell, top)
    return library


def keyholes():
    """Plates with holes as gdstk writes them: joined to the outline by cut lines; one with more points than a record."""
    library = gdstk.Library("keyholes", unit=1e-6, precision=1e-9)
    cell = gdstk.Cell("plate")
    holes = [gdstk.ellipse((20 * i, 20 * j), 6, tolerance=1e-3) for i in range(12) for j in range(9)]
    for polygon in gdstk.boolean(gdstk.rectangle((-10, -10), (230, 170)), holes, "not", layer=1):
        cell.add(polygon)
    cell.add(gdstk.ellipse((400, 0), 90, inner_radius=60, tolerance=1e-6, layer=2))
    library.add(cell)
    return library


def crowd():
    """200 000 boundaries in one cell."""
    library = gdstk.Library("crowd", unit=1e-6, precision=1e-9)
    cell = gdstk.Cell("crowd")
    corners = numpy.array([(0, 0), (3, 0), (4, 2), (2, 4), (0, 3)])
    for k in range(200_000):
        cell.add(gdstk.Polygon(corners + (5 * (k % 500), 5 * (k // 500)), layer=1 + k % 2))
    library.add(cell)
    return library


def boxes(path):
    """The stream of nested() with its 2/5 boundaries rewritten as boxes, record by record."""
    data, out, at, pending = path.read_bytes(), bytearray(), 0, None
    while at < len(data):
        length, kind = int.from_bytes(data[at : at + 2]), data[at + 2]
        record = bytearray(data[at : at + length])
        if kind == 0x08:
            pending = bytearray()
        if pending is None:
            out += record
        else:
            pending += record
            if kind == 0x11:
                layer, datatype = pending.find(b"\x00\x06\x0d\x02"), pending.find(b"\x00\x06\x0e\x02")
                if pending[layer + 4 : layer + 6] + pending[datatype + 4 : datatype + 6] == b"\x00\x02\x00\x05":
                    pending[2], pending[datatype + 2] = 0x2D, 0x2E
                out += pending
                pending = None
        at += length
    path.with_name("boxes.gds").write_bytes(out)


def outlines_of(cell):
    """Polygons of a cell by layer and datatype, flattened by gdstk: elements first, for only then do widths that ignore
    magnification stay."""
    found = {}
    for polygon in cell.copy(cell.name + " flat").flatten().get_polygons():
        found.setdefault((polygon.layer, polygon.datatype), []).append(polygon)
    return found


def united(polygons):
    return gdstk.boolean(polygons, [], "or", precision=PRECISION_UM)


def area(polygons):
    return sum(p.area() for p in polygons)


def box(polygons):
    points = numpy.concatenate([p.points for p in polygons])
    return [points.min(axis=0).tolist(), points.max(axis=0).tolist()]


def check(sound, what):
    if not sound:
        failures.append(what)
    return "ok" if sound else "MISMATCH"


def compare(path, unite=True):
    library = gdstk.read_gds(path, unit=1e-6, tolerance=CHORD_UM)
    cell = library.top_level()[0]
    expected = outlines_of(cell)
    facts = [
        {"layer": layer, "datatype": datatype, "polygons": len(polygons), "area_um2": area(polygons),
         "union_area_um2": area(united(polygons)) if unite else None, "bounds_um": box(polygons)}
        for (layer, datatype), polygons in sorted(expected.items())
    ]  # fmt: skip
    path.with_suffix(".json").write_text(json.dumps(facts, indent=1))
    program = ROOT / "target/release/examples/gds_areas"
    run = [program, path, "--outlines", "--chord-um", repr(CHORD_UM)]
    ours = json.loads(subprocess.run(run, check=True, capture_output=True, text=True).stdout)
    layers = {(l["layer"], l["datatype"]): l for l in ours["layers"]}
    print(f"{path.name}: read {ours['read_s'] * 1e3:.1f} ms, flattened {ours['flatten_s'] * 1e3:.1f} ms")
    check(sorted(layers) == sorted(expected), f"{path.name}: layers {sorted(layers)}, expected {sorted(expected)}")
    for fact in facts:
        key = (fact["layer"], fact["datatype"])
        found = layers.get(key)
        if found is None:
            continue
        rings = [gdstk.Polygon(r) for r in found["outlines"]]
        off = max(abs(a - b) for p, q in zip(found["bounds_um"], fact["bounds_um"]) for a, b in zip(p, q))
        line = f"  {key[0]:3}/{key[1]}  {fact['polygons']:6} polygons, ours {found['polygons']:6}"
        round_end = path.stem == "round"
        line += f"  box off {off:.1e} µm " + check(off < (2 * CHORD_UM if round_end else 1e-9), f"{path.name} {key}: box")
        if unite:
            whole = fact["union_area_um2"]
            difference = area(gdstk.boolean(expected[key], rings, "xor", precision=PRECISION_UM)) / whole
            drift = abs(area(united(rings)) / whole - 1)
            line += f"  area {whole:.6f} µm², off {drift:.1e} "
            line += check(drift < 1e-8 * (10 if round_end else 1), f"{path.name} {key}: union area off by {drift:.1e}")
            line += f"  outlines {difference:.1e} " + check(difference < 1e-6, f"{path.name} {key}: outlines {difference:.1e}")
        else:
            drift = abs(found["area_um2"] / fact["area_um2"] - 1)
            line += f"  sum of areas off {drift:.1e} " + check(drift < 1e-9, f"{path.name} {key}: area")
        print(line)
    wanted = sorted((l.layer, l.texttype, l.text, *l.origin) for l in cell.get_labels())
    texts = sorted((t["layer"], t["texttype"], t["text"], *t["at_um"]) for t in ours["texts"])
    same = len(wanted) == len(texts) and all(
        a[:3] == b[:3] and math.dist(a[3:], b[3:]) < 1e-9 for a, b in zip(wanted, texts)
    )
    print(f"  {len(texts)} texts", check(same, f"{path.name}: texts"))
    return ours


def overlay(folder):
    """flexures.gds of the comb-driven resonator: eight beams of 200 µm, 2 µm wide, thirty fingers of 30 µm, 2 µm wide."""
    program, device = ROOT / "target/release/modalith", ROOT / "meshes/comb-resonator/device.json"
    subprocess.run([program, "check", device, "--out", folder / "overlay", "--quiet"], check=True)
    cell = gdstk.read_gds(folder / "overlay/flexures.gds", unit=1e-6).top_level()[0]
    areas = {layer: [p for p in cell.polygons if p.layer == layer] for layer in (201, 205)}
    lines = {layer: [p for p in cell.paths if p.layers[0] == layer] for layer in (202, 203)}
    length = sum(math.dist(*p.spine()[[0, -1]]) for p in lines[202])
    numbers = sorted(int(l.text) for l in cell.labels if l.layer == 204)
    sound = numbers == list(range(1, 9)) and [len(l) for l in (*areas.values(), *lines.values())] == [8, 30, 8, 16]
    sound &= abs(area(areas[201]) - 8 * 400) < 0.1 and abs(area(areas[205]) - 30 * 60) < 0.1 and abs(length - 1600) < 0.01
    print("flexures.gds: areas, middle lines, root lines, numbers", check(sound, "flexures.gds"))


def main():
    folder = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "target/gdsii"
    folder.mkdir(parents=True, exist_ok=True)
    # The whole workspace at once: single packages would be built anew with features of their own.
    build = ["cargo", "build", "--locked", "--release", "--quiet", "--bins", "--examples"]
    subprocess.run(build, check=True, cwd=ROOT)
    made = {
        "nested": nested(),
        "paths": straight_paths(1e-9),
        "paths_half_nm": straight_paths(5e-10),
        "round": round_paths(),
        "keyholes": keyholes(),
        "crowd": crowd(),
    }
    for name, library in made.items():
        library.write_gds(folder / f"{name}.gds", max_points=8190)
    boxes(folder / "nested.gds")
    for name in made:
        ours = compare(folder / f"{name}.gds", unite=name != "crowd")
        if name == "crowd":
            seconds = ours["read_s"] + ours["flatten_s"]
            check(seconds < 1.0, f"200 000 boundaries took {seconds:.2f} s")
    compare(folder / "boxes.gds")
    overlay(folder)
    for failure in failures:
        print("MISMATCH", failure)
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
