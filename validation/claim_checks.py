"""What a result claims, each claim derived again from what is true of the device.

Every check takes results as the program wrote them and yields (kind, whether it holds, what was claimed and what is true).
"""

import bisect
import math

# Frequencies as listed against the outside spectrum of the same matrices.
SAME = 1e-6
# Points of the outline lie on a grid: an axis that the mesher may use is missed by no more, µm.
EXACT_UM = 2e-4
# Axes that are missed by no more are to be named, µm.
LISTED_UM = 0.1
AXES = "xyz"


def geometry(truth, checked, mesh):
    """Areas, openings, mirrors of `check` and `mesh`."""
    claimed = sum(p["area_um2"] for p in checked["parts"])
    yield "area", abs(claimed - truth.area) <= truth.tolerance(), f"check says {claimed} µm², Shapely {truth.area}"
    yield "parts", len(checked["parts"]) == len(truth.parts), f"check says {len(checked['parts'])} parts, Shapely {len(truth.parts)}"
    for part in checked["parts"]:
        mass = part["area_um2"] * truth.thickness
        density = part["mass_kg"] / (mass * 1e-18)
        yield "area", 10 < density < 30000, f"{part['name']}: {part['mass_kg']} kg is {density} kg/m³"
    # Curved edges of quadratic elements are off a circle by 5e-5 of its radius, a share of its segment.
    room = 2e-4 * truth.area if truth.curved else truth.tolerance()
    yield "area", abs(mesh["area_um2"] - truth.area) <= room, f"mesh says {mesh['area_um2']} µm², Shapely {truth.area}"
    # Euler: points - edges + triangles of every part is one less its openings.
    euler = mesh["points"] - mesh["edges"] + mesh["triangles"]
    true = len(truth.parts) - truth.openings
    yield "openings", euler == true, f"points - edges + triangles of the mesh is {euler}, parts less openings are {true}"
    yield from mirrors(truth, checked["mirrors"])


def mirrors(truth, listed):
    for m in listed:
        area, distance = truth.mirrored(m["point_um"], m["angle_deg"])
        said = f"mirror at {m['angle_deg']}°, exact to {m['deviation_um']} µm; Shapely: {area:.3g} µm², {distance:.3g} µm"
        room = m["deviation_um"] + EXACT_UM
        yield "mirrors", distance <= room and area <= 2 * room * (truth.perimeter + truth.held.length), said
    for angle, area, distance in truth.axes():
        apart = [abs((m["angle_deg"] - angle + 90) % 180 - 90) for m in listed]
        if distance <= EXACT_UM / 4:
            # Round outlines have more axes than are listed.
            found = any(a < 0.2 for a in apart) or len(listed) >= 12
            yield "mirrors", found, f"mirror at {angle}° (Shapely: {area:.3g} µm², {distance:.3g} µm) is not listed"


def openings_in_words(truth, text):
    """The table of `check` says how many openings there are."""
    row = next((line for line in text.splitlines() if line.startswith("Parts")), "")
    claimed = int(row.split(",")[1].split()[0]) if "," in row else -1
    yield "openings", claimed == truth.openings, f"check says {claimed} openings, Shapely {truth.openings}"


def zero(pencil_top):
    """Rigid motions come out of rounding as a small share of the band."""
    return 1e-4 * pencil_top


def search(result, pencil, request):
    """`search` and the list of modes against the spectrum of the exported matrices. `request`: ("count", n), ("up to", hz, n or
    None), ("near", hz, n)."""
    said, listed = result["search"], [m["frequency_hz"] for m in result["modes"]]
    low, high = said["from_hz"], said["to_hz"]
    yield "search", listed == sorted(listed), "modes are not in order"
    reach = max([high] + listed + ([2 * request[1] - min(listed)] if request[0] == "near" and listed else []))
    true = list(pencil.below(reach * (1 + 1e-5) + 1e-9))
    floor = zero(reach)

    def count(hz):
        return bisect.bisect_left(true, hz)

    def same(a, b):
        return abs(a - b) <= SAME * abs(b) or (a < floor and b < floor)

    # An end that lies on a mode may fall to either side of it.
    begin = [count(low - SAME * low), count(low + SAME * low)] if low > floor else [0, 0]
    end = [count(high - SAME * high), count(high + SAME * high)]
    least, most = end[0] - begin[1], end[1] - begin[0]
    band = f"{low} to {high} Hz"
    for key in ("found", "counted"):
        yield "search", least <= said[key] <= most, f"{key} {said[key]} in {band}; of K and M there are {least} to {most}"
    inside = [f for f in listed if low * (1 - SAME) <= f <= high * (1 + SAME)]
    yield "search", least <= len(inside) <= most, f"{len(inside)} listed in {band}; of K and M there are {least} to {most}"
    yield "search", not said["complete"] or said["found"] == said["counted"] == len(listed), \
        f"complete, but found {said['found']}, counted {said['counted']}, listed {len(listed)}"
    yield "search", result["count_verified"] == (said["found"] == said["counted"] == len(listed)), \
        f"count_verified {result['count_verified']} beside found {said['found']}, counted {said['counted']}, listed {len(listed)}"
    # One to one, from the first listed on.
    first = count(listed[0] * (1 - 10 * SAME)) if listed and listed[0] > floor else 0
    for i, f in enumerate(listed):
        g = true[first + i] if first + i < len(true) else math.nan
        yield "frequencies", same(f, g), f"mode {i + 1}: {f} Hz, of K and M {g} Hz"
    yield from asked(said, listed, true, request, floor, pencil.n)


def asked(said, listed, true, request, floor, unknowns):
    """Whether the list is what was asked for."""
    kind = request[0]
    if kind == "count":
        n = request[1]
        # A multiple at the end is kept whole, the motions of a free body at 0 Hz among them.
        end = listed[n - 1] if len(listed) > n else math.nan
        multiple = all(abs(f - end) <= SAME * end or f < floor for f in listed[n:])
        whole = len(listed) == n or (len(listed) > n and multiple) or len(listed) == said["counted"] == unknowns < n
        yield "asked", whole, f"{n} modes asked, {len(listed)} listed, {said['counted']} counted"
        yield "asked", said["from_hz"] <= floor, f"the lowest modes were asked, the band begins at {said['from_hz']} Hz"
    elif kind == "up to":
        hz, most = request[1:]
        below = sum(f < hz * (1 - SAME) for f in true)
        short = "asked_to_hz" in said
        yield "asked", short or said["to_hz"] >= hz * (1 - SAME), f"asked up to {hz} Hz, the band ends at {said['to_hz']} Hz"
        yield "asked", short or len(listed) >= below, f"{len(listed)} listed up to {hz} Hz, of K and M there are {below}"
        yield "asked", all(f <= hz * (1 + SAME) for f in listed), f"asked up to {hz} Hz, listed up to {listed[-1:]} Hz"
        yield "asked", most is None or len(listed) <= most, f"at most {most} asked, {len(listed)} listed"
        yield "asked", not short or (most is not None and len(listed) == most), f"short of {hz} Hz with {len(listed)} of {most} modes"
    elif kind == "near":
        hz, n = request[1:]
        far = sorted(abs(f - hz) for f in true)
        # The last of n nearest: nothing that is left out may be nearer; what lies as far as it, a multiple or on the other side, comes too.
        as_far = sum(d <= far[min(n, len(far)) - 1] + SAME * hz + floor for d in far)
        yield "nearest", min(n, len(far)) <= len(listed) <= max(n, as_far), f"{n} asked near {hz} Hz, {len(listed)} listed"
        mine = sorted(abs(f - hz) for f in listed)
        for i, (a, b) in enumerate(zip(mine, far)):
            yield "nearest", abs(a - b) <= SAME * hz + floor, f"number {i + 1} of the modes nearest {hz} Hz is {a} Hz off, {b} Hz is the nearest"


def bodies(result, truth):
    """Sums and bounds that every list of modes keeps."""
    density_mass = result["moving_mass_kg"]
    by_area = truth.area * truth.thickness * 1e-18
    yield "masses", 10 < density_mass / by_area < 30000, f"{density_mass} kg of {by_area} m³"
    tiny = 1e-6
    total = {k: 0.0 for k in AXES}
    for mode in result["modes"]:
        i, share = mode["index"], mode["kinetic_energy_fraction"]
        sum_ = sum(share[k] for k in AXES)
        yield "energies", abs(sum_ - 1) <= tiny and min(share.values()) >= -tiny, f"mode {i}: kinetic energy fractions {share}"
        for k in AXES:
            effective = mode["effective_mass_kg"][k]
            total[k] += effective
            # Cauchy-Schwarz: (∫ρφ_k)² ≤ m ∫ρφ_k².
            room = density_mass * share[k] * (1 + tiny) + tiny * density_mass
            yield "masses", -tiny * density_mass <= effective <= room, f"mode {i}: effective mass {effective} kg along {k}, at most {room}"
        for key in ("twist_strain_energy_fraction",):
            yield "energies", -tiny <= mode[key] <= 1 + tiny, f"mode {i}: {key} {mode[key]}"
        flexures = mode["flexure_strain_energy_fraction"]
        yield "energies", min(flexures, default=0) >= -tiny and sum(flexures) <= 1 + tiny, f"mode {i}: flexures hold {flexures}"
        in_masses = sum(m["kinetic_energy_fraction"] for m in mode["masses"])
        yield "energies", in_masses <= 1 + tiny, f"mode {i}: masses hold {in_masses} of the kinetic energy"
        for m in mode["masses"]:
            r = m["rigid_fraction"]
            yield "energies", -tiny <= r <= 1 + tiny, f"mode {i}: rigid share {r} of {m['name']}"
        for key, mac in macs(mode):
            yield "MAC", -tiny <= mac <= 1 + tiny, f"mode {i}: MAC {mac} of {key}"
        for key in ("mesh_error_hz", "model_error_hz", "backward_error"):
            if mode.get(key) is not None:
                yield "energies", mode[key] >= 0, f"mode {i}: {key} {mode[key]}"
    for k in AXES:
        yield "masses", total[k] <= density_mass * (1 + tiny), f"effective masses along {k} sum to {total[k]} of {density_mass} kg"
    yield from coriolis(result)


def macs(mode):
    intent = mode.get("intent", {})
    if "drive" in intent:
        yield "drive", intent["drive"]["mac"]
    for s in intent.get("sense", []):
        yield "sense", s["mac"]


def coriolis(result):
    found = result.get("coriolis")
    if not found:
        return
    n = len(found["modes"])
    for k in AXES:
        g = found[k]
        skew = max((abs(g[i][j] + g[j][i]) for i in range(n) for j in range(n)), default=0.0)
        size = max((abs(g[i][j]) for i in range(n) for j in range(n)), default=0.0)
        yield "coriolis", skew <= 1e-9, f"about {k}: G + Gᵀ is {skew}"
        yield "coriolis", size <= 2 * (1 + 1e-6), f"about {k}: {size} is larger than 2"
        # Rows too: G of an orthonormal set is a projection of 2 e ×, whose norm is 2.
        rows = max((sum(x * x for x in row) for row in g), default=0.0)
        yield "coriolis", rows <= 4 * (1 + 1e-6), f"about {k}: a row of size {math.sqrt(rows)}"


def parities(result, truth):
    """A parity is claimed only about an axis that the outline has, and effective masses follow it."""
    centre = truth.free.centroid
    for axis, angle in (("x", 90.0), ("y", 0.0)):
        claimed = [m for m in result["modes"] if axis in m.get("parity", {})]
        if not claimed:
            continue
        area, distance = truth.mirrored((centre.x, centre.y), angle)
        yield "mirrors", distance <= 2 * EXACT_UM, f"parity about {axis} claimed; the outline misses the axis by {distance:.3g} µm, {area:.3g} µm²"


def used(result, device, model):
    """Inputs that the model leaves out are said to be: in `used`, else in cautions and what is left out."""
    words = " ".join(str(w) for key in ("used", "cautions", "left_out") for w in result.get(key, [])).lower()
    biased = any(e.get("bias_v", 0) != 0 for e in device.get("electrodes", {}).values())
    if biased and model == "lumped":
        told = " ".join(str(w) for key in ("used", "cautions") for w in result.get(key, []))
        yield "used", "soften" in told, "a bias is stated, and nothing says that the lumped model leaves softening out"
    if biased and result["model"] != "lumped":
        yield "used", "electrode softening" not in " ".join(result["left_out"]), "softening is said to be left out where a bias is stated"
    if "used" in result:
        for entry in result["used"]:
            yield "used", {"kind", "what"} <= set(entry), f"entry of used without kind and what: {entry}"
        rate = "pair" in result
        imperfections = device.get("imperfections", {})
        named = [("electrodes", biased)]
        if rate:
            named += [("spread_3sigma", device.get("spread_3sigma")),
                      ("left_right_width_um", imperfections.get("left_right_width_um") is not None)]
        else:
            # Modes are those of the drawing: every key of what is made of it, and of the work, is named as neglected.
            away = [str(e["what"]) for e in result["used"] if e["kind"] == "neglected"]
            for part in ("imperfections", "spread_3sigma", "operation", "guards", "stoppers", "requirements"):
                stated = device.get(part)
                keys = [f"{part}/{k}" for k in stated if k not in ("notes", "$schema")] if part == "imperfections" and stated else [part] if stated else []
                for key in keys:
                    yield "used", any(key in a for a in away), f"{key} is stated, and `used` does not say that no mode contains it"
            tilt = imperfections.get("sidewall_tilt_deg") is not None
            told = any("wall tilt" in str(w) for w in result["left_out"])
            yield "used", not (tilt and told), "wall tilt is stated, and said to be left out for want of it"
        for word, stated in named:
            if stated:
                yield "used", word in words, f"{word} is stated, and `used` does not name it"


def filled(result, device, truth):
    """Openings that beam-shell fills, where the device file asks, are said."""
    limit = device["layout"].get("holes_below_um")
    if result["model"] != "beam-shell" or limit is None:
        return
    from shapely.geometry import Polygon
    small = 0
    for part in truth.parts:
        for ring in part.interiors:
            a, b, c, d = Polygon(ring).bounds
            small += math.hypot(c - a, d - b) < 0.98 * limit
    if small:
        words = " ".join(str(w) for key in ("used", "cautions", "left_out") for w in result.get(key, [])).lower()
        said = any(w in words for w in ("opening", "hole"))
        yield "openings", said, f"{small} openings are smaller than {limit:.3g} µm; nothing says that they are filled"


def finer(result, fine, floor_hz=0.0):
    """Bars against a finer mesh: displacement elements fall towards the truth, so the fall is no larger than the bar; where the other mesh
    is coarser at the place that counts, the rise is no larger than its own."""
    for mode, better in zip(result["modes"], fine["modes"]):
        bar = mode.get("mesh_error_hz")
        if bar is None:
            continue
        f, g = mode["frequency_hz"], better["frequency_hz"]
        most = bar if g <= f else better.get("mesh_error_hz") or 0.0
        yield "bars", abs(f - g) <= most + 1e-7 * f + floor_hz, f"mode {mode['index']}: {f} ± {bar} Hz; on a finer mesh {g} Hz"
    said = result["search"]
    if said["complete"] and said["of"] == "the model, within its error bars":
        hz = said["to_hz"]
        inside = sum(m["frequency_hz"] < hz for m in fine["modes"])
        reaches = fine["search"]["to_hz"] >= hz
        yield "bars", not reaches or inside == said["found"], f"complete with {said['found']} below {hz} Hz; on a finer mesh {inside}"


def against_solid(result, solid):
    """Errors that a cheaper model states of itself, against solids; modes are taken in order within their direction."""
    def sorted_by(modes):
        z = [m for m in modes if m["kinetic_energy_fraction"]["z"] >= 0.5]
        return [m for m in modes if m["kinetic_energy_fraction"]["z"] < 0.5], z

    words = " ".join(result["cautions"])
    for mine, theirs in zip(sorted_by(result["modes"]), sorted_by(solid["modes"])):
        for a, b in zip(mine, theirs):
            # Only pairs that move alike.
            alike = all(abs(a["kinetic_energy_fraction"][k] - b["kinetic_energy_fraction"][k]) < 0.05 for k in AXES)
            if not alike:
                break
            if b["frequency_hz"] < 1.0:
                # A rigid motion has no error to state.
                continue
            off = a["frequency_hz"] - b["frequency_hz"]
            bars = a.get("mesh_error_hz", 0.0) + b.get("mesh_error_hz", 0.0)
            said = f"{result['model']} mode {a['index']}: {a['frequency_hz']:.1f} Hz, solid {b['frequency_hz']:.1f} Hz ({100 * off / b['frequency_hz']:+.2f} %)"
            if a.get("model_error_hz") is not None:
                yield "model error", abs(off) <= a["model_error_hz"] + bars, f"{said}, model error {a['model_error_hz']:.1f} Hz"
            if result["model"] == "shell" and "% low in plane" in words and a["kinetic_energy_fraction"]["z"] < 0.5:
                percent = float(words.split("up to ")[-1].split(" % low in plane")[0])
                yield "cautions", off >= -percent / 100 * b["frequency_hz"] - bars, f"{said}, caution of {percent} % in plane"
            if result["model"] == "beam-shell" and "beams are good to about" in words:
                percent = float(words.split("beams are good to about ")[1].split()[0])
                yield "cautions", abs(off) <= 1.5 * percent / 100 * b["frequency_hz"] + bars, f"{said}, caution of about {percent} %"


def rate(report):
    """A rate report against itself."""
    tiny = 1e-6
    hz = {m["index"]: m["frequency_hz"] for m in report["modes"]}
    for axis in report["axes"]:
        pair = axis["pair"]
        for role in ("drive", "sense"):
            if role in pair:
                yield "MAC", -tiny <= pair[role]["mac"] <= 1 + tiny, f"{role} mode with MAC {pair[role]['mac']}"
                yield "rate", pair[role]["frequency_hz"] == hz[pair[role]["index"]], f"{role} at two frequencies"
        if "mode_split_hz" in pair:
            split = pair["sense"]["frequency_hz"] - pair["drive"]["frequency_hz"]
            yield "rate", abs(pair["mode_split_hz"] - split) <= 1e-9 * hz[pair["drive"]["index"]], f"split {pair['mode_split_hz']} of {split} Hz"
        if "coriolis_coupling" in pair:
            yield "rate", 0 <= pair["coriolis_coupling"] <= 1 + tiny, f"coupling {pair['coriolis_coupling']}"
        for r in axis.get("requirements", []):
            yield from verdict(r, at_least(axis, r["name"]))


def at_least(axis, name):
    """What the terms that are known make of a figure, all of which only grows by what is missing."""
    zero, noise = axis.get("zero_rate", {}), axis.get("noise", {})
    if name == "quadrature_deg_per_s":
        return sum(zero.get(f"quadrature_{k}_deg_per_s") or 0.0 for k in ("drawn", "leaning_walls", "left_right_width"))
    if name == "zero_rate_deg_per_s":
        return sum(term["deg_per_s"] for term in zero.get("in_phase_as_made", []))
    if name == "angle_random_walk_deg_per_rth":
        known = [noise.get(f"{k}_deg_per_h_per_rthz") or 0.0 for k in ("brownian", "readout")]
        return math.hypot(*known) / (60 * math.sqrt(2))
    if name == "vibration_deg_per_s_per_g":
        found = [axis.get("balance", {}).get(f"vibration_{k}") for k in ("drawn", "as_made")]
        worst = [f[k]["worst_deg_per_s_per_g"] for f in found if f for k in AXES]
        return max((x for w in worst for x in (w if isinstance(w, list) else [w]) if x is not None), default=0.0)
    return None


def verdict(r, known=None):
    low, high = (x if x is not None else s * math.inf for x, s in zip(r["asked"], (-1, 1)))
    # Without a figure as made, what is drawn stands for it.
    as_made = (r["known_terms"] or {"at_least": r["as_made"]})["at_least"]
    figures = list(as_made) if isinstance(as_made, list) else [x for x in [as_made, r["drawn"]] if x is not None][:1]
    inside = bool(figures) and all(low <= x <= high for x in figures)
    margin = min([min(x - low, high - x) for x in figures], default=-math.inf)
    said = f"{r['name']} asked {r['asked']}, drawn {r['drawn']}, as made {r['as_made']}, error {r['error']}, met {r['met']}"
    if r["met"] is True:
        yield "verdicts", inside and not r["because"], said
        yield "verdicts", r["error"] is not None and margin >= r["error"], said
    elif r["met"] is False:
        missed = bool(figures) and not inside
        if as_made is None and known is not None:
            missed = missed or known - (r["error"] or 0.0) > high
        yield "verdicts", missed and not r["because"], f"{said}; known terms {known}"
    else:
        yield "verdicts", bool(r["because"]), f"{said}: unknown without a reason"


def poorer(report, less, what):
    """With an input deleted no requirement turns met, and no margin grows."""
    for axis, axis_less in zip(report["axes"], less["axes"]):
        before = {r["name"]: r for r in axis.get("requirements", [])}
        for r in axis_less.get("requirements", []):
            if r["name"] not in before:
                continue
            b = before[r["name"]]
            said = f"{r['name']}: met {b['met']}, margin {b['margin']}; without {what} met {r['met']}, margin {r['margin']}"
            yield "deleted inputs", r["met"] is not True or b["met"] is True, said
            # Less than the figure's own error is no difference.
            rounding = max(1e-9 * abs(b["margin"] or 0.0), b["error"] or 0.0)
            grown = r["margin"] is not None and b["margin"] is not None and r["margin"] > b["margin"] + rounding
            yield "deleted inputs", not grown, said
            yield "deleted inputs", r["known_terms"] is None or r["margin"] is None, said


def refusal(code, stderr, path):
    """A refusal names the file, the place and what to do; anything else than 0 and 2 is a failure."""
    first = stderr.strip().splitlines()[0] if stderr.strip() else ""
    yield "exit codes", code in (0, 2), f"exit {code}: {first}"
    if code == 2:
        named = path.name in first and any(c.isdigit() for c in first.split(path.name)[1][:6])
        yield "refusals", named and "hint:" in stderr, f"names no place or nothing to do: {stderr.strip()}"
    yield "exit codes", "panicked" not in stderr, f"panic: {stderr[:300]}"
