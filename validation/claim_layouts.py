"""Random device layouts, all invented, from a seed: the same seed gives the same device file.

Plates on straight, folded and crab-leg springs, paddles, meanders, rings on spokes, arcs, H and bow shapes, perforated plates, combs and
pairs of masses; thin and up to five times as tall as their flexures are wide. Every third is nearly symmetric: a drawing with
mirror axes, one edge of which is moved by 1 to 50 nm. Lengths in µm.
"""

import math
import random


def rect(x0, y0, x1, y1):
    return {"rect": [[round(x0, 3), round(y0, 3)], [round(x1, 3), round(y1, 3)]]}


class Drawing:
    """What a generator of shapes makes: lists of shapes, named masses, and the width of its flexures."""

    def __init__(self, w):
        self.w, self.structure, self.holes, self.anchors, self.masses = w, [], [], [], {}

    def mass(self, *names_and_shapes):
        for name, shape in names_and_shapes:
            self.structure.append(shape)
            self.masses.setdefault(name, []).append(shape)


def straight(r):
    """A plate on two, four or more straight beams along y."""
    d = Drawing(r.uniform(2, 6))
    a, b, length = r.uniform(30, 90), r.uniform(25, 70), r.uniform(40, 150)
    d.mass(("plate", rect(-a, -b, a, b)))
    for s in r.choice([[0.0], [-0.8, 0.8], [-0.85, 0, 0.85]]):
        x = s * a
        d.structure += [rect(x - d.w / 2, b, x + d.w / 2, b + length), rect(x - d.w / 2, -b - length, x + d.w / 2, -b)]
    if r.random() < 0.5:
        d.anchors = [rect(-a - 10, b + length, a + 10, b + length + 15), rect(-a - 10, -b - length - 15, a + 10, -b - length)]
    else:
        xs = sorted({(s["rect"][0][0] + s["rect"][1][0]) / 2 for s in d.structure[1:]})
        for x in xs:
            d.anchors += [rect(x - 8, b + length, x + 8, b + length + 15), rect(x - 8, -b - length - 15, x + 8, -b - length)]
    if r.random() < 0.4:
        d.holes.append({"circle": [0, 0], "radius": round(r.uniform(2, 0.6 * b), 3)})
    return d


def paddle(r):
    """A plate at the end of one beam, or of two."""
    d = Drawing(r.uniform(3, 8))
    length, a, b = r.uniform(30, 120), r.uniform(20, 60), r.uniform(20, 60)
    d.mass(("plate", rect(length, -b, length + 2 * a, b)))
    ys = r.choice([[0.0], [-0.7 * b, 0.7 * b], [0.5 * b]])
    d.structure += [rect(0, y - d.w / 2, length, y + d.w / 2) for y in ys]
    d.anchors = [rect(-20, -b - 10, 0, b + 10)]
    if r.random() < 0.5:
        c = r.uniform(3, 0.5 * min(a, b))
        d.holes.append(rect(length + a - c, -c / 2, length + a + c, c / 2))
    return d


def folded(r):
    """A plate on folded beams: out to a truss and back to an anchor."""
    d = Drawing(r.uniform(2, 5))
    a, b, length = r.uniform(40, 80), r.uniform(25, 60), r.uniform(40, 120)
    d.mass(("plate", rect(-a, -b, a, b)))
    w, t = d.w, r.uniform(2, 4) * d.w
    inner, outer = r.uniform(0.15, 0.35) * a, r.uniform(0.6, 0.9) * a
    for s in (1, -1):
        def along(x0, y0, x1, y1):
            return rect(x0, min(s * y0, s * y1), x1, max(s * y0, s * y1))

        top = b + length
        d.structure.append(along(-outer - w / 2, top, outer + w / 2, top + t))
        for x in (-outer, outer):
            d.structure.append(along(x - w / 2, b, x + w / 2, top))
        for x in (-inner, inner):
            d.structure.append(along(x - w / 2, b + 15, x + w / 2, top))
        d.anchors.append(along(-inner - w - 2, b + 5, inner + w + 2, b + 15))
    return d


def crab(r):
    """A plate on four crab legs."""
    d = Drawing(r.uniform(2, 5))
    a, b = r.uniform(30, 80), r.uniform(30, 80)
    shin, thigh = r.uniform(30, 100), r.uniform(20, 60)
    d.mass(("plate", rect(-a, -b, a, b)))
    w = d.w
    for sx in (1, -1):
        for sy in (1, -1):
            xs, ys = sorted((sx * a, sx * (a + thigh))), sorted((sy * (b - w), sy * b))
            d.structure.append(rect(xs[0], ys[0], xs[1], ys[1]))
            xs, ys = sorted((sx * (a + thigh - w), sx * (a + thigh))), sorted((sy * (b - w), sy * (b + shin)))
            d.structure.append(rect(xs[0], ys[0], xs[1], ys[1]))
            ys = sorted((sy * (b + shin), sy * (b + shin + 12)))
            d.anchors.append(rect(sx * (a + thigh - w / 2) - 10, ys[0], sx * (a + thigh - w / 2) + 10, ys[1]))
    return d


def meander(r):
    """A plate on two meanders, one above and one below."""
    d = Drawing(r.uniform(2, 4))
    a, b, n = r.uniform(30, 60), r.uniform(25, 50), r.choice([1, 2, 3])
    d.mass(("plate", rect(-a, -b, a, b)))
    span, gap = r.uniform(0.4, 0.9) * a, r.uniform(3, 6) * d.w
    points, y = [[0, b]], b
    for k in range(n):
        y += gap
        points += [[points[-1][0], y], [span if k % 2 == 0 else -span, y]]
    y += gap
    points += [[points[-1][0], y], [0, y], [0, y + gap]]
    points = [[round(p[0], 3), round(p[1], 3)] for p in points]
    d.structure.append({"path": points, "width": round(d.w, 3), "mirror_about": {"y": 0}})
    top = points[-1][1]
    d.anchors = [rect(-15, top, 15, top + 12), rect(-15, -top - 12, 15, -top)]
    return d


def ring(r):
    """A ring on spokes about an anchored hub."""
    d = Drawing(r.uniform(3, 6))
    radius, wide = r.uniform(60, 120), r.uniform(5, 12)
    d.mass(("ring", {"ring": [0, 0], "inner_radius": round(radius - wide / 2, 3), "outer_radius": round(radius + wide / 2, 3)}))
    d.structure += [rect(-radius, -d.w / 2, radius, d.w / 2)]
    if r.random() < 0.7:
        d.structure += [rect(-d.w / 2, -radius, d.w / 2, radius)]
    d.anchors = [rect(-15, -15, 15, 15)]
    return d


def arcs(r):
    """A disc on arcs."""
    d = Drawing(r.uniform(3, 6))
    disc, radius = r.uniform(25, 45), r.uniform(70, 110)
    d.mass(("disc", {"circle": [0, 0], "radius": round(disc, 3)}))
    sweep = r.uniform(40, 80)
    for k in (0, 180):
        s = 1 if k == 0 else -1
        d.structure.append({"arc": [0, 0], "radius": round(radius, 3), "width": round(d.w, 3), "from_deg": k, "to_deg": round(k + sweep, 2)})
        xs = sorted((s * 0.8 * disc, s * (radius + d.w / 2)))
        d.structure.append(rect(xs[0], -d.w, xs[1], d.w))
        end = math.radians(k + sweep)
        x, y = radius * math.cos(end), radius * math.sin(end)
        d.anchors.append(rect(x - 9, y - 7, x + 9, y + 7))
    return d


def letter(r):
    """An H, held at its feet or floating, with legs of unlike width at times."""
    d = Drawing(r.uniform(6, 12))
    a, b, w = r.uniform(30, 70), r.uniform(40, 90), d.w
    d.mass(("h", rect(-a, -w / 2, a, w / 2)))
    d.structure += [rect(-a - w, -b, -a + w, b), rect(a - w, -b, a + w * r.choice([1, 1, 1.6]), b)]
    if r.random() < 0.6:
        d.anchors = [rect(-a - w - 5, -b - 12, -a + w + 5, -b), rect(a - w - 5, -b - 12, a + w + 5, -b)]
    return d


def bow(r):
    """Two lobes that meet in a waist, on two beams."""
    d = Drawing(r.uniform(3, 6))
    a, b, waist = r.uniform(40, 90), r.uniform(25, 50), r.uniform(5, 12)
    corners = [[-a, -b], [0, -waist], [a, -b], [a, b], [0, waist], [-a, b]]
    d.mass(("bow", {"polygon": [[round(x, 3), round(y, 3)] for x, y in corners]}))
    length = r.uniform(30, 80)
    d.structure += [rect(-a - length, -d.w / 2, -a, d.w / 2), rect(a, -d.w / 2, a + length, d.w / 2)]
    d.anchors = [rect(-a - length - 12, -15, -a - length, 15), rect(a + length, -15, a + length + 12, 15)]
    return d


def perforated(r):
    """A plate with openings on four beams along x."""
    d = Drawing(r.uniform(3, 6))
    nx, ny, pitch = r.choice([2, 3, 4]), r.choice([1, 2, 3]), r.uniform(14, 26)
    a, b, length = nx * pitch / 2 + 6, ny * pitch / 2 + 6, r.uniform(40, 100)
    d.mass(("plate", rect(-a, -b, a, b)))
    for y in (b - d.w / 2, -b + d.w / 2):
        d.structure.append({"rect": rect(a, y - d.w / 2, a + length, y + d.w / 2)["rect"], "mirror_about": {"x": 0}})
    d.anchors = [rect(a + length, -b - 8, a + length + 12, b + 8), rect(-a - length - 12, -b - 8, -a - length, b + 8)]
    x, y = round(-(nx - 1) * pitch / 2, 3), round(-(ny - 1) * pitch / 2, 3)
    array = {"columns": nx, "rows": ny, "step": [round(pitch, 3), round(pitch, 3)]}
    size = round(r.uniform(2, 0.35 * pitch), 3)
    if r.random() < 0.5:
        d.holes.append({"circle": [x, y], "radius": size, "array": array})
    else:
        d.holes.append({"rect": rect(x - size, y - size, x + size, y + size)["rect"], "array": array})
    return d


def comb(r):
    """A shuttle with fingers on four beams along y."""
    d = Drawing(r.uniform(2, 4))
    a, b, length = r.uniform(40, 70), r.uniform(15, 25), r.uniform(60, 120)
    d.mass(("shuttle", rect(-a, -b, a, b)))
    for x in (-a + d.w / 2, a - d.w / 2):
        d.structure += [rect(x - d.w / 2, b, x + d.w / 2, b + length), rect(x - d.w / 2, -b - length, x + d.w / 2, -b)]
    d.anchors = [rect(-a - 10, b + length, a + 10, b + length + 12), rect(-a - 10, -b - length - 12, a + 10, -b - length)]
    n, finger = r.choice([2, 3, 4]), r.uniform(15, 30)
    pitch = 2 * (b - 2) / n
    for k in range(n):
        y = -b + 2 + (k + 0.5) * pitch
        d.structure.append({"rect": rect(a, y - 1, a + finger, y + 1)["rect"], "mirror_about": {"x": 0}})
    return d


def pair(r):
    """Two masses on beams, joined by a beam between them: driven along x, sensed along z."""
    d = Drawing(r.uniform(2.5, 5))
    a, b, length, gap = r.uniform(25, 45), r.uniform(25, 50), r.uniform(50, 110), r.uniform(20, 50)
    w = d.w
    for s, name in ((-1, "left"), (1, "right")):
        centre = s * (a + gap / 2)
        d.mass((name, rect(centre - a, -b, centre + a, b)))
        for x in (centre - a + w / 2, centre + a - w / 2):
            d.structure += [rect(x - w / 2, b, x + w / 2, b + length), rect(x - w / 2, -b - length, x + w / 2, -b)]
    d.structure.append(rect(-gap / 2, -w / 2, gap / 2, w / 2))
    far = 2 * a + gap / 2 + 10
    d.anchors = [rect(-far, b + length, far, b + length + 12), rect(-far, -b - length - 12, far, -b - length)]
    return d


KINDS = [straight, paddle, folded, crab, meander, ring, arcs, letter, bow, perforated, comb, pair, pair]


def nearly(r, drawing):
    """Moves one side of one rectangle of the structure outward by 1 to 50 nm; says by how much, µm, or None where there is none."""
    rects = [s for s in drawing.structure if "rect" in s and "mirror_about" not in s]
    if not rects:
        return None
    shape, corner, axis = r.choice(rects), r.choice([0, 1]), r.choice([0, 1])
    by = r.choice([1, 2, 5, 10, 20, 50]) * 1e-3
    p = shape["rect"]
    p[corner][axis] = round(p[corner][axis] + (by if corner else -by), 4)
    return by


def device(seed):
    """The device file of a seed, and what the generator knows of it."""
    r = random.Random(seed)
    kind = KINDS[seed % len(KINDS)]
    d = kind(r)
    moved = nearly(r, d) if seed % 3 == 0 else None
    free = not d.anchors
    # What is tall and has many flexures would take solids of some 200 000 unknowns.
    tall = [0.4, 0.8, 1.0, 1.5, 2.5, 4.0, 5.0] if len(d.structure) < 7 else [0.4, 0.8, 1.0, 1.5, 1.9]
    thick = r.choice(tall) * d.w
    layout = {"unit": "um", "structure": d.structure}
    if d.holes:
        layout["holes"] = d.holes
    if not free:
        layout["anchors"] = d.anchors
    material = r.choice([
        {"density_kg_m3": 2330, "youngs_modulus_gpa": 160, "poissons_ratio": 0.22},
        {"name": "silicon", "wafer": "100", "x_along": "110"},
        {"name": "silicon", "wafer": "100", "x_along": "100"},
        {"name": "polysilicon"},
    ])
    document = {
        "format": "modalith.device/1", "name": f"{kind.__name__} {seed}", "notes": "Invented.", "layout": layout,
        "process": {"thickness_um": round(thick, 3)}, "material": material, "masses": d.masses,
        "modes": {"count": r.choice([4, 6, 8])}, "mesh": {"largest_um": 80},
    }
    if free:
        document["support"] = "free"
    if r.random() < 0.3:
        document["process"]["edge_bias_um"] = r.choice([-0.2, -0.05, 0.05, 0.1])
    if d.holes and r.random() < 0.3:
        layout["holes_below_um"] = r.choice([2, 10, 30])
    names = list(d.masses)
    if not free and r.random() < 0.3:
        # A paddle's plate may lie beyond the middle: an electrode over nothing is refused.
        first = d.structure[0].get("rect")
        below = rect(*first[0], *first[1]) if first and first[0][0] >= 60 else rect(-25, -20, 60, 20)
        document["electrodes"] = {"below": {
            "kind": "plate", "role": "sense", "side": "below", "gap_um": round(r.uniform(1.5, 4), 2),
            "bias_v": r.choice([0.5, 2]), "shapes": [below]}}
        if "rect" in d.structure[0] and r.random() < 0.5:
            document["electrodes"]["along"] = {"kind": "comb", "role": "drive", "direction": "+x", "mass": names[0], "gap_um": 2,
                                               "overlap_um": 10, "fingers": 6, "bias_v": 3}
    if kind is pair:
        document["intent"] = {"drive": {"left": "+x", "right": "-x"},
                              "sense": [{"rate_axis": "y", "left": "+z", "right": "-z"}]}
        document["operation"] = {"drive_amplitude_um": 2, "quality_drive": 5000, "quality_sense": 1000,
                                 "readout_noise_m_per_rthz": 1e-13, "full_scale_deg_per_s": 300,
                                 "shock": {"peak_g": 1000, "duration_ms": 0.5, "direction": r.choice("xyz")}}
        document["spread_3sigma"] = {"edge_bias_um": 0.02, "thickness_um": 0.1, "youngs_modulus_percent": 1, "density_percent": 0.1}
        document["imperfections"] = {"sidewall_tilt_deg": 0.1, "left_right_width_um": r.choice([0, 0.01, 0.02]),
                                     "electrode_mismatch": 0.01, "drive_force_leak": 0.001, "phase_error_deg": 0.1}
        document["requirements"] = {"coupling": r.choice([0.3, 0.7, 0.95]), "drive_frequency_hz": [1000, 1e7],
                                    "mode_split_hz": [-1e6, 1e6], "quadrature_deg_per_s": r.choice([100, 1e5]),
                                    "angle_random_walk_deg_per_rth": r.choice([1, 1e4]), "cross_axis": 0.1,
                                    "zero_rate_deg_per_s": r.choice([1, 1e3]), "vibration_deg_per_s_per_g": r.choice([0.1, 1e3]),
                                    "shock_travel_um": r.choice([2, 100]), "shock_stress_mpa": 500}
    return document, {"kind": kind.__name__, "moved_um": moved, "free": free}
