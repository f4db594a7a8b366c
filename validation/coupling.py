"""Coriolis coupling of the flagship from an outside library's own solids, scikit-fem, beside our models.

In:   meshes/platform/device-shapes.json (rectangles alone), the built program (target/release/modalith); numpy, scipy, pypardiso,
      scikit-fem from PyPI. Models to compare as arguments; by default beam-shell and solid.
Out:  frequencies and couplings as tables on stdout; exit code 1 where a bound is missed: |G| of the working pair within 1 %,
      every other entry within 0.02.

The layout has the mirrors x and y, and the layer the mirror z, so that one eighth is enough: 27-node solids, eight classes of
symmetry, each with its own supports on the mirrors. G_k[i][j] = 2 * int rho phi_i . (e_k x phi_j) dV over the whole part.
"""

import itertools
import json
import pathlib
import subprocess
import sys

import numpy as np
from skfem import Basis, BilinearForm, ElementHex2, ElementVector, MeshHex, asm

import solids

ROOT = pathlib.Path(__file__).resolve().parent.parent
OUT = ROOT / "target/coupling"
COUNT = 12
NEAR, LEVELS = 1.6, [0.0, 0.6, 1.0]
# Silicon (Hopcroft, Nix & Kenny, J. Microelectromech. Syst. 19 (2010) 229), x along <110> on a (100) wafer.
C11, C12, C44, RHO = 165.7e9, 63.9e9, 79.6e9, 2329.0


def rectangles(shapes):
    """All rectangles of a list of shapes, arrays and mirrors carried out."""
    out = []
    for shape in shapes:
        (x0, y0), (x1, y1) = shape["rect"]
        array = shape.get("array", {})
        steps = itertools.product(range(array.get("columns", 1)), range(array.get("rows", 1)))
        dx, dy = array.get("step", [0, 0])
        own = [(x0 + i * dx, y0 + j * dy, x1 + i * dx, y1 + j * dy) for i, j in steps]
        for axis, at in shape.get("mirror_about", {}).items():
            k = 0 if axis == "x" else 1
            flip = lambda r: tuple(2 * at - r[(n + 2) % 4] if n % 2 == k else r[n] for n in range(4))
            own += [flip(r) for r in own]
        out += own
    return out


def quarter(rects):
    cut = [(max(r[0], 0), max(r[1], 0), r[2], r[3]) for r in rects]
    return [r for r in cut if r[0] < r[2] - 1e-9 and r[1] < r[3] - 1e-9]


def stiffness():
    """In the layout's axes: turned by 45 degrees about z."""
    c = np.zeros((6, 6))
    c[0, 0] = c[1, 1] = (C11 + C12) / 2 + C44
    c[0, 1] = c[1, 0] = (C11 + C12) / 2 - C44
    c[2, 2], c[0, 2], c[2, 0], c[1, 2], c[2, 1] = C11, C12, C12, C12, C12
    c[3, 3] = c[4, 4] = C44
    c[5, 5] = (C11 - C12) / 2
    return c


def form():
    c = stiffness()

    @BilinearForm
    def energy(u, v, w):
        def strain(f):
            g = f.grad
            return [g[0, 0], g[1, 1], g[2, 2], g[1, 2] + g[2, 1], g[0, 2] + g[2, 0], g[0, 1] + g[1, 0]]
        a, b = strain(u), strain(v)
        return sum(c[i, j] * a[j] * b[i] for i in range(6) for j in range(6) if c[i, j] != 0.0)
    return energy


def parity(component, axis, mirrored):
    """+1 where a component is even about a mirror, in a class that is symmetric (True) or antisymmetric there."""
    return -1 if (component == axis) == mirrored else 1


def reference(device):
    layout = device["layout"]
    structure, holes, anchors = (quarter(rectangles(layout[k])) for k in ("structure", "holes", "anchors"))
    t = device["process"]["thickness_um"]
    material = structure
    xs, ys = (sorted({v for r in structure + holes + anchors for v in (r[k], r[k + 2])}) for k in (0, 1))
    grid = MeshHex.init_tensor(solids.lines(xs, NEAR, 20.0), solids.lines(ys, NEAR, 20.0), t / 2 * np.array(LEVELS))
    centre = grid.p[:, grid.t].mean(axis=1)
    keep = solids.inside(material, centre[0], centre[1]) & ~solids.inside(holes + anchors, centre[0], centre[1])
    mesh = grid.remove_elements(np.nonzero(~keep)[0])
    basis = Basis(mesh, ElementVector(ElementHex2()))
    energy, inertia = asm(form(), basis), []
    for c in range(3):
        inertia.append(asm(BilinearForm(lambda u, v, w, c=c: RHO * u.value[c] * v.value[c]), basis))
    cross = {(a, b): asm(BilinearForm(lambda u, v, w, a=a, b=b: RHO * u.value[b] * v.value[a]), basis)
             for a in range(3) for b in range(3) if a != b}
    mass = sum(inertia)
    held = solids.held_dofs(basis, anchors)
    on = [basis.get_dofs(mesh.facets_satisfying(lambda x, k=k: np.abs(x[k]) < 1e-9, boundaries_only=True)) for k in range(3)]
    names = ["u^1", "u^2", "u^3"]
    modes = []
    for signs in itertools.product([True, False], repeat=3):
        still = [held]
        for axis in range(3):
            odd = [names[c] for c in range(3) if parity(c, axis, signs[axis]) < 0]
            still.append(on[axis].all(odd))
        frequencies, shapes, n = solids.spectrum(energy, mass, np.unique(np.concatenate(still)), 6)
        modes += [(f, signs, s) for f, s in zip(frequencies, shapes.T)]
        print(f"  {signs}: {n} unknowns", file=sys.stderr)
    modes.sort(key=lambda m: m[0])
    modes = modes[:COUNT]

    def product(i, j, a, b):
        even = all(parity(a, k, modes[i][1][k]) * parity(b, k, modes[j][1][k]) > 0 for k in range(3))
        return 8 * modes[i][2] @ (cross[a, b] @ modes[j][2]) if even else 0.0

    # Shapes of unit modal mass over the whole part: an eighth of it each here.
    G = np.zeros((3, COUNT, COUNT))
    for i, j in itertools.product(range(COUNT), repeat=2):
        for k in range(3):
            a, b = (k + 1) % 3, (k + 2) % 3
            # (e_k x phi) has -phi_b along a and phi_a along b.
            G[k, i, j] = 2 * (product(i, j, b, a) - product(i, j, a, b)) / 8
    return np.array([m[0] for m in modes]), [m[1][2] for m in modes], G


def ours(device, model):
    folder = OUT / model
    folder.mkdir(parents=True, exist_ok=True)
    source = ROOT / "meshes/platform/device-shapes.json"
    done = subprocess.run([ROOT / "target/release/modalith", "modes", source, "--out", folder, "--json", "--model", model,
                           "--count", str(COUNT + 2)], check=True, capture_output=True, text=True)
    result = json.loads(done.stdout)
    f = np.array([m["frequency_hz"] for m in result["modes"]])
    in_plane = [m["kinetic_energy_fraction"]["z"] < 0.5 for m in result["modes"]]
    return f, in_plane, np.array([result["coriolis"][k] for k in "xyz"])


def main():
    device = json.loads((ROOT / "meshes/platform/device-shapes.json").read_text())
    f, in_plane, G = reference(device)
    failures = 0
    for model in sys.argv[1:] or ["beam-shell", "solid"]:
        g, own_in_plane, H = ours(device, model)
        # By number within in-plane and within out-of-plane modes: no two of a kind lie near each other here.
        pick = []
        for i, kind in enumerate(in_plane):
            rank = sum(k == kind for k in in_plane[:i])
            pick.append([m for m, k in enumerate(own_in_plane) if k == kind][rank])
        H = H[:, pick][:, :, pick]
        print(f"\n{model}: frequency against 27-node solids")
        for i in range(COUNT):
            print(f"  {i + 1:2d} {'in plane' if in_plane[i] else 'in z    '} {f[i]:10.1f} Hz  {100 * (g[pick[i]] / f[i] - 1):+.3f} %")
        drive, sense = [i for i in range(COUNT) if in_plane[i]][1], [i for i in range(COUNT) if not in_plane[i]][0]
        a, b = abs(G[1, drive, sense]), abs(H[1, drive, sense])
        off = np.abs(np.abs(H) - np.abs(G))
        off[1, drive, sense] = off[1, sense, drive] = 0
        ok = abs(b / a - 1) < 0.01 and off.max() < 0.02
        failures += not ok
        print(f"  |G| of the pair about y: {b:.5f} against {a:.5f}, {100 * (b / a - 1):+.3f} %; other entries off by at most "
              f"{off.max():.4f}{'' if ok else '   MISSED 1 % OR 0.02'}")
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
