"""Draws the platform rate sensor twice from one set of measures: platform.gds (cells, arrays, mirrored references, labels)
and device-shapes.json (shapes written out). Invented data. Lengths in µm. Needs gdstk; the same measures give the same bytes.

    python make_gds.py
"""

import datetime
import json
import pathlib

import gdstk

FOLDER = pathlib.Path(__file__).parent / "platform"
STRUCTURE, HOLES, ANCHORS, MASSES, LABELS = (1, 0), (2, 0), (3, 0), (4, 0), (5, 0)

# One quarter, x > 0 and y > 0; the rest are its mirror images.
MASS = (115, 0, 345, 230)
LEG = 4  # width of the drive flexures' legs
COUPLER = 4  # of the coupler's beams
RAIL = 34  # of the frame's rails
TORSION = 11  # of the torsion bars, along y, the axis that the masses rock about
HOLE, COLUMNS, ROWS, STEP = 10, 4, 6, (60, 70)
FIRST_HOLE = (135, -180)  # lower left corner; the array's middle is the middle of the mass
WEIGHT_HOLES, WEIGHT_STEP = 4, 50

FLEXURE = [  # one folded flexure at the outer side, x from the mass's edge, y from the middle
    (0, 222, 16, 230),  # arm on the mass
    (16 - LEG, 18, 16, 222),  # leg from the mass
    (16 - LEG, 10, 30, 18),  # fold
    (30 - LEG, 18, 30, 245),  # leg to the rail
]
FOOT = 245 + RAIL + 30
FRAME = [
    (0, 245, 405, 245 + RAIL),  # rail
    (387, 0, 405, 245),  # end bar
    (0, 245 + RAIL, TORSION / 2, FOOT + 10),  # half of the torsion bar
    (0, FOOT + 10, 110, FOOT + 20),  # half of the cross beam that carries it
    (110, FOOT, 150, FOOT + 30),  # footing under the anchor
]
COUPLER_LOOP = [
    (46, 0, 46 + COUPLER, 222),  # beam that bends when the masses part
    (0, 222, 46 + COUPLER, 232),  # end of the loop
    (0, 16, 36, 222),  # half of the weight on that end, whose sway is the flaw of this device
    (46 + COUPLER, 0, MASS[0], 5),  # half of the stub to the mass
]
WEIGHT_HOLE = (-HOLE / 2, 40, HOLE / 2, 40 + HOLE)
ANCHOR = (110, FOOT, 150, FOOT + 30)


def mirrored(rect, axes):
    """Shape of the device file with its mirror images."""
    x0, y0, x1, y1 = rect
    return {"rect": [[x0, y0], [x1, y1]], "mirror_about": {axis: 0 for axis in axes}}


def upright(rect):
    """The quarter's rectangle joined with its image in y = 0 where it touches that line."""
    x0, y0, x1, y1 = rect
    return (x0, -y1, x1, y1) if y0 == 0 else rect


def shapes():
    """The device as shapes."""
    outer = [(MASS[2] + x0, y0, MASS[2] + x1, y1) for x0, y0, x1, y1 in FLEXURE]
    inner = [(MASS[0] - x1, y0, MASS[0] - x0, y1) for x0, y0, x1, y1 in FLEXURE]
    structure = [mirrored(upright(MASS), "x")]
    structure += [mirrored(rect, "xy") for rect in outer + inner + FRAME]
    structure += [mirrored(rect, "xy") for rect in COUPLER_LOOP]
    x, y = FIRST_HOLE
    holes = [{"rect": [[x, y], [x + HOLE, y + HOLE]],
              "array": {"columns": COLUMNS, "rows": ROWS, "step": list(STEP)}, "mirror_about": {"x": 0}},
             {"rect": [list(WEIGHT_HOLE[:2]), list(WEIGHT_HOLE[2:])],
              "array": {"rows": WEIGHT_HOLES, "step": [0, WEIGHT_STEP]}, "mirror_about": {"y": 0}}]
    right = upright(MASS)
    left = (-right[2], right[1], -right[0], right[3])
    masses = {name: [{"rect": [[r[0], r[1]], [r[2], r[3]]]}] for name, r in (("left", left), ("right", right))}
    return structure, holes, [mirrored(ANCHOR, "xy")], masses


def rectangle(rect, layer):
    """A polygon of the stream."""
    return gdstk.rectangle(rect[:2], rect[2:], layer=layer[0], datatype=layer[1])


def stream():
    """The device as a GDSII library."""
    library = gdstk.Library("platform", unit=1e-6, precision=1e-9)
    hole = library.new_cell("release_hole")
    hole.add(rectangle((0, 0, HOLE, HOLE), HOLES))
    flexure = library.new_cell("folded_flexure")
    flexure.add(*[rectangle(rect, STRUCTURE) for rect in FLEXURE])
    half = library.new_cell("proof_mass")
    width = MASS[2] - MASS[0]
    plate = (-width / 2, -MASS[3], width / 2, MASS[3])
    half.add(rectangle(plate, STRUCTURE), rectangle(plate, MASSES))
    half.add(gdstk.Reference(hole, (FIRST_HOLE[0] - MASS[0] - width / 2, FIRST_HOLE[1]),
                             columns=COLUMNS, rows=ROWS, spacing=STEP))
    # x_reflection mirrors in the x axis before the turn, so a half turn with it mirrors in the y axis.
    for quarter_turns, flip in ((0, False), (0, True), (2, False), (2, True)):
        at = (width / 2 if quarter_turns == 0 else -width / 2, 0)
        half.add(gdstk.Reference(flexure, at, rotation=quarter_turns * 1.5707963267948966, x_reflection=flip))
    quarter = library.new_cell("frame_quarter")
    quarter.add(*[rectangle(rect, STRUCTURE) for rect in FRAME + COUPLER_LOOP], rectangle(ANCHOR, ANCHORS))
    top = library.new_cell("rate_sensor")
    middle = (MASS[0] + MASS[2]) / 2
    for name, x, turn in (("right", middle, 0.0), ("left", -middle, 3.141592653589793)):
        top.add(gdstk.Reference(half, (x, 0), rotation=turn))
        top.add(gdstk.Label(name, (x, 0), layer=LABELS[0], texttype=LABELS[1]))
    for turn, flip in ((0.0, False), (0.0, True), (3.141592653589793, False), (3.141592653589793, True)):
        top.add(gdstk.Reference(quarter, (0, 0), rotation=turn, x_reflection=flip))
    for flip, sign in ((False, 1), (True, -1)):
        top.add(gdstk.Reference(hole, (WEIGHT_HOLE[0], sign * WEIGHT_HOLE[1]), x_reflection=flip,
                                columns=1, rows=WEIGHT_HOLES, spacing=(HOLE, WEIGHT_STEP)))
    return library


def one_line_each(rows):
    """A JSON list with a line for each row, as people write it."""
    return "[\n" + ",\n".join("      " + json.dumps(row) for row in rows) + "\n    ]"


def head(name, notes):
    """What both device files start with."""
    return ('{\n  "$schema": "../device.schema.json",\n  "format": "modalith.device/1",\n'
            f'  "name": {json.dumps(name)},\n  "notes": {json.dumps(notes, ensure_ascii=False)},\n')


TAIL = """  "process": {"thickness_um": 20.0},
  "material": {"name": "silicon", "wafer": "100", "x_along": "110"},
"""
INTENT = """  "intent": {
    "drive": {"left": "-x", "right": "+x"},
    "sense": [{"rate_axis": "y", "left": "+z", "right": "-z"}]
  },
  "modes": {"count": 12}
}
"""
NOTES = ("Invented data: a two-mass rate sensor that steadies a survey camera on a swaying platform. Drive: the masses part "
         "and meet along x. Sense: they rock about y, one up, one down. ")


def write():
    """Writes the three files."""
    FOLDER.mkdir(exist_ok=True)
    stream().write_gds(FOLDER / "platform.gds", timestamp=datetime.datetime(2000, 1, 1))
    layers = {name: [{"layer": layer, "datatype": datatype}] for name, (layer, datatype) in
              (("structure", STRUCTURE), ("holes", HOLES), ("anchors", ANCHORS), ("masses", MASSES), ("labels", LABELS))}
    rows = ",\n".join(f'      {json.dumps(name)}: {json.dumps(value)}' for name, value in layers.items())
    (FOLDER / "device.json").write_text(
        head("platform rate sensor", NOTES + "The drawing is platform.gds.")
        + '  "layout": {\n    "gds": "platform.gds",\n    "cell": "rate_sensor",\n    "layers": {\n' + rows
        + "\n    }\n  },\n" + TAIL + INTENT, encoding="utf-8")
    structure, holes, anchors, masses = shapes()
    lists = (("structure", structure), ("holes", holes), ("anchors", anchors))
    layout = ",\n".join(f'    "{name}": {one_line_each(rows)}' for name, rows in lists)
    named = ",\n".join(f'    "{name}": {json.dumps(rows)}' for name, rows in masses.items())
    (FOLDER / "device-shapes.json").write_text(
        head("platform rate sensor, as shapes", NOTES + "The same outline as platform.gds, written out.")
        + '  "layout": {\n    "unit": "um",\n' + layout + "\n  },\n" + TAIL
        + '  "masses": {\n' + named + "\n  },\n" + INTENT, encoding="utf-8")


if __name__ == "__main__":
    write()
