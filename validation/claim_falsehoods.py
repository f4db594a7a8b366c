"""Shows every kind of check something false: it must hold before, and object after. For `claims.py --self-test`."""

import copy
import json

import claim_checks as checks
from claim_truth import DENSE, Pencil

# A pair of masses with an intent, mirror axes and flexures that beams serve.
SEED = 38


def altered(document, *path_and_value):
    """A copy with the value at a path replaced; a function is applied to what stands there."""
    *path, value = path_and_value
    out = copy.deepcopy(document)
    place = out
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value(place[path[-1]]) if callable(value) else value
    return out


def without_a_mode(result, i):
    """A mode lost, and the counts made to agree."""
    out = altered(result, "modes", lambda modes: modes[:i] + modes[i + 1:])
    out["search"]["found"] -= 1
    out["search"]["counted"] -= 1
    return out


def falsehoods(layout):
    """(kind, what is false, the check with the truth, the check with the falsehood)."""
    truth = layout.truth
    checked = json.loads(layout.run("check", "--json")[1])
    text = layout.run("check")[1]
    mesh = json.loads(layout.run("mesh", "--out", layout.folder / "mesh", "--json")[1])

    def geometry(c=checked, m=mesh):
        return checks.geometry(truth, c, m)

    yield "area", "a part a millionth larger", geometry, lambda: geometry(altered(checked, "parts", 0, "area_um2", lambda a: a * (1 + 1e-6)))
    yield "area", "a mesh a millionth smaller", geometry, lambda: geometry(m=altered(mesh, "area_um2", lambda a: a * (1 - 1e-6)))
    yield "parts", "a part twice", geometry, lambda: geometry(altered(checked, "parts", lambda p: p + p))
    yield "openings", "a triangle that closes an opening", geometry, lambda: geometry(m=altered(mesh, "triangles", lambda n: n + 1))
    yield "openings", "one opening more in words", lambda: checks.openings_in_words(truth, text), \
        lambda: checks.openings_in_words(truth, text.replace(f"{truth.openings} opening", f"{truth.openings + 1} opening"))
    yield "mirrors", "an axis not named", geometry, lambda: geometry(altered(checked, "mirrors", lambda m: m[1:]))
    yield "mirrors", "an axis turned", geometry, lambda: geometry(altered(checked, "mirrors", 0, "angle_deg", lambda a: a + 45))
    yield "mirrors", "an axis moved by 2 nm", geometry, \
        lambda: geometry(altered(checked, "mirrors", 0, "point_um", lambda p: [p[0] + 0.002, p[1] + 0.002]))

    n = layout.device["modes"]["count"]
    result, _ = layout.modes("shell", export=True)
    pencil = Pencil(layout.folder / "matrices", DENSE)
    f = [m["frequency_hz"] for m in result["modes"]]

    def search(r=result, request=("count", n)):
        return checks.search(r, pencil, request)

    yield "search", "a mode lost, counts with it", search, lambda: search(without_a_mode(result, 2))
    yield "search", "a band that reaches over the next mode", search, lambda: search(altered(result, "search", "to_hz", lambda hz: 1.8 * hz))
    yield "search", "complete, one counted more", search, lambda: search(altered(result, "search", "counted", lambda c: c + 1))
    yield "frequencies", "a frequency off by 3e-6", search, lambda: search(altered(result, "modes", 1, "frequency_hz", lambda hz: hz * (1 + 3e-6)))
    yield "asked", "one mode fewer than asked", search, lambda: search(request=("count", n + 1))
    yield "asked", "a band short of what was asked", search, lambda: search(request=("up to", 1.5 * result["search"]["to_hz"], None))
    hz = 0.4 * f[0] + 0.6 * f[-1]
    near, _ = layout.modes("shell", "--near", hz, "--count", 2)
    far, _ = layout.modes("shell", "--near", f[0], "--count", 2)
    yield "nearest", "other modes than the nearest", lambda: search(near, ("near", hz, 2)), lambda: search(far, ("near", hz, 2))

    def bodies(r=result):
        return checks.bodies(r, truth)

    yield "energies", "kinetic energy that sums to 1.001", bodies, \
        lambda: bodies(altered(result, "modes", 0, "kinetic_energy_fraction", "x", lambda x: x + 1e-3))
    yield "energies", "flexures that hold more than all", bodies, \
        lambda: bodies(altered(result, "modes", 0, "flexure_strain_energy_fraction", 0, 1.5))
    yield "masses", "more effective mass than moves", bodies, \
        lambda: bodies(altered(result, "moving_mass_kg", lambda m: 0.5 * m))
    yield "masses", "no such material", bodies, lambda: bodies(altered(result, "moving_mass_kg", lambda m: 1e3 * m))
    yield "MAC", "a MAC over 1", bodies, lambda: bodies(altered(result, "modes", 0, "intent", "drive", "mac", 1.01))
    yield "coriolis", "G that is not skew", bodies, lambda: bodies(altered(result, "coriolis", "z", 0, 1, lambda g: g + 1e-6))
    yield "coriolis", "G larger than 2", bodies, \
        lambda: bodies(altered(altered(result, "coriolis", "z", 0, 1, 2.1), "coriolis", "z", 1, 0, -2.1))
    lopsided = copy.deepcopy(layout.device)
    lopsided["layout"]["structure"][0]["rect"][0][0] -= 0.05
    from claim_truth import Geometry
    other = Geometry(lopsided)
    yield "mirrors", "parities of a drawing that has none", lambda: checks.parities(result, truth), lambda: checks.parities(result, other)
    biased = altered(layout.device, "electrodes", {"e": {"bias_v": 1.0}})
    lumped, _ = layout.modes("lumped")
    yield "used", "a bias that nobody mentions", lambda: checks.used(lumped, layout.device, "lumped"), lambda: checks.used(lumped, biased, "lumped")
    beams = altered(result, "model", "beam-shell")
    holed = altered(layout.device, "layout", "holes_below_um", 10) if "holes_below_um" in layout.device["layout"] else copy.deepcopy(layout.device)
    holed["layout"]["holes_below_um"] = 10
    holed["layout"]["holes"] = [{"circle": [layout.device["layout"]["structure"][0]["rect"][0][0] + 20, 0], "radius": 3}]
    yield "openings", "an opening filled without a word", lambda: checks.filled(beams, layout.device, truth), \
        lambda: checks.filled(beams, holed, Geometry(holed))
    fine = altered(result, "modes", 0, "frequency_hz", lambda hz: hz - 2 * result["modes"][0]["mesh_error_hz"])
    yield "bars", "a bar half as large as the fall", lambda: checks.finer(result, result), lambda: checks.finer(result, fine)
    whole = altered(altered(result, "search", "complete", True), "search", "of", "the model, within its error bars")
    extra = altered(whole, "modes", lambda modes: [modes[0]] + modes)
    yield "bars", "a mode more on the finer mesh", lambda: checks.finer(whole, whole), lambda: checks.finer(whole, extra)
    low = altered(altered(result, "modes", lambda modes: [{**m, "frequency_hz": 0.98 * m["frequency_hz"]} for m in modes]), "cautions",
                  ["up to 1.3 % low in plane"])
    yield "cautions", "2 % low where 1.3 % is said", lambda: checks.against_solid(result, result), lambda: checks.against_solid(low, result)
    doubted = altered(result, "modes", lambda modes: [{**m, "model_error_hz": 1.0} for m in modes])
    yield "model error", "1 Hz where 1 % is true", lambda: checks.against_solid(doubted, result), \
        lambda: checks.against_solid(altered(doubted, "modes", 0, "frequency_hz", lambda hz: 1.01 * hz), result)

    layout.run("rate", "--out", layout.folder / "rate", "--model", "lumped", "--quiet")
    report = json.loads((layout.folder / "rate/rate.json").read_text())
    yield "rate", "a split that is none", lambda: checks.rate(report), \
        lambda: checks.rate(altered(report, "axes", 0, "pair", "mode_split_hz", lambda hz: hz + 1))
    missed = {"name": "coupling", "asked": [0.9, None], "drawn": 0.8, "as_made": None, "margin": -0.1, "error": 0.0, "met": False, "because": None,
              "known_terms": None}
    met = {**missed, "asked": [0.7, None], "margin": 0.1, "met": True}
    unknown = {**met, "met": None, "because": "an input is missing"}
    yield "verdicts", "met though missed", lambda: checks.verdict(missed), lambda: checks.verdict({**missed, "met": True})
    yield "verdicts", "met inside the error", lambda: checks.verdict(met), lambda: checks.verdict({**met, "error": 0.2})
    yield "verdicts", "missed though met", lambda: checks.verdict(met), lambda: checks.verdict({**met, "met": False})
    worst = {**missed, "asked": [None, 100], "drawn": 0.0}
    yield "verdicts", "missed by terms that do not reach the limit", lambda: checks.verdict(worst, 150.0), lambda: checks.verdict(worst, 50.0)
    yield "verdicts", "met with a because", lambda: checks.verdict(unknown), lambda: checks.verdict({**unknown, "met": True})
    with_, without = ({"axes": [{"requirements": [r]}]} for r in (unknown, met))
    with_missed = {"axes": [{"requirements": [missed]}]}
    yield "deleted inputs", "met once an input is gone", lambda: checks.poorer(without, with_, "it"), lambda: checks.poorer(with_, without, "it")
    grown = {"axes": [{"requirements": [{**missed, "margin": -0.05}]}]}
    yield "deleted inputs", "a margin that grows though it fails", lambda: checks.poorer(with_missed, with_missed, "it"), \
        lambda: checks.poorer(with_missed, grown, "it")
    said = f"error: {layout.path}:3:4: /layout: wrong\nhint: do so\n"
    yield "exit codes", "exit 1", lambda: checks.refusal(2, said, layout.path), lambda: checks.refusal(1, said, layout.path)
    yield "refusals", "no hint", lambda: checks.refusal(2, said, layout.path), lambda: checks.refusal(2, said.split("\n")[0], layout.path)


def main(layout_of):
    """Prints a line for every falsehood; 1 where one went through or a truth was objected to."""
    wrong = 0
    for kind, what, true, false in falsehoods(layout_of(SEED)):
        objected = [said for k, holds, said in true() if not holds]
        seen = any(k == kind and not holds for k, holds, _ in false())
        wrong += bool(objected) or not seen
        verdict = f"objects to the truth: {objected[0]}" if objected else "seen" if seen else "NOT SEEN"
        print(f"{kind:<16}{what:<48}{verdict}")
    print(f"{wrong} falsehoods went unseen or truths were objected to" if wrong else "every falsehood was seen")
    return 1 if wrong else 0
