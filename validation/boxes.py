"""Vibrating solids made of rectangles, from an outside finite-element library (scikit-fem): 27-node bricks and mirror classes.

`Solid` meshes what lies on the positive side of the mirrors it is told of; `spectrum` takes one class of symmetry after the
other and puts the modes of all in one list. Lengths in µm, stiffness in Pa, density in kg/m³, frequencies in Hz.

Scalar forms alone are assembled, 3 Gauss points an axis, which integrate them exactly on bricks; the components of the
displacement are put together from these, entry (a, b) of the scalar forms being the integral of d_a v d_b u.
"""

import itertools

import numpy as np
import pypardiso
import scipy.sparse as sp
import scipy.sparse.linalg as sla
from skfem import Basis, BilinearForm, ElementHex2, LinearForm, MeshHex, asm

# Equilibria are settled by then to a ten-thousandth of what the stress adds.
PASSES = 4
VOIGT = {(0, 0): 0, (1, 1): 1, (2, 2): 2, (1, 2): 3, (2, 1): 3, (0, 2): 4, (2, 0): 4, (0, 1): 5, (1, 0): 5}


def isotropic(youngs_modulus, poissons_ratio):
    """Stiffness, 6 x 6, Pa."""
    shear = youngs_modulus / (2 * (1 + poissons_ratio))
    lame = youngs_modulus * poissons_ratio / ((1 + poissons_ratio) * (1 - 2 * poissons_ratio))
    c = np.diag([2 * shear] * 3 + [shear] * 3)
    c[:3, :3] += lame
    return c


def lines(breaks, near, far):
    """Grid lines through all breaks, spaced `near` at each and growing by 1.6 up to `far` between them."""
    out = [breaks[0]]
    for a, b in zip(breaks[:-1], breaks[1:]):
        half, steps, step = (b - a) / 2, [], near
        while sum(steps) < half:
            steps.append(min(step, far))
            step *= 1.6
        steps = np.array(steps) * half / sum(steps)
        left = a + np.cumsum(steps)
        out += list(left) + list((b - (left[:-1][::-1] - a))) + [b]
    return np.array(out)


def inside(rects, x, y):
    hit = np.zeros(x.shape, bool)
    for x0, y0, x1, y1 in rects:
        hit |= (x > x0) & (x < x1) & (y > y0) & (y < y1)
    return hit


def lowest(K, M, held, count):
    """The lowest modes of K - ω² M: frequencies, shapes (a column each, of unit modal mass), number of unknowns."""
    free = np.setdiff1d(np.arange(K.shape[0]), held)
    Kf, Mf = K[free][:, free].tocsr(), M[free][:, free].tocsr()
    # Upper half, positive definite; phase 33 directly, so that the matrix is not hashed again for every solve.
    upper = sp.triu(Kf, format="csr")
    pardiso = pypardiso.PyPardisoSolver(mtype=2)
    pardiso.factorize(upper)
    pardiso.set_phase(33)
    inverse = sla.LinearOperator(Kf.shape, lambda b: pardiso._call_pardiso(upper, np.ascontiguousarray(b)), dtype=float)
    values, vectors = sla.eigsh(Kf, count, Mf, sigma=0.0, OPinv=inverse)
    pardiso.free_memory(everything=True)
    full = np.zeros((K.shape[0], count))
    full[free] = vectors
    # Lengths in µm: ω² comes out in units of 1e12 /s².
    return np.sqrt(values * 1e12) / (2 * np.pi), full, len(free)


class Solid:
    """`rects` and `holes` (x0, y0, x1, y1), z from `levels`; held on the side faces that lie on `anchors`, or, with
    `from_below`, on the lower face over them. `mirrors` are the axes (0, 1, 2) about whose zero the part is its own image."""

    def __init__(self, rects, anchors, levels, law, density, near, far, holes=(), mirrors=(), from_below=False):
        def own(some):
            floor = [0.0 if k in mirrors else -np.inf for k in (0, 1)]
            clipped = [(max(r[0], floor[0]), max(r[1], floor[1]), r[2], r[3]) for r in some]
            return [r for r in clipped if r[0] < r[2] and r[1] < r[3]]

        rects, holes, anchors = own(rects), own(holes), own(anchors)
        drawn = rects + holes + anchors
        xs, ys = (sorted({v for r in drawn for v in (r[k], r[k + 2])}) for k in (0, 1))
        grid = MeshHex.init_tensor(lines(xs, near, far), lines(ys, near, far), np.asarray(levels, float))
        centre = grid.p[:, grid.t].mean(axis=1)
        empty = holes if from_below else holes + anchors
        keep = inside(rects, centre[0], centre[1]) & ~inside(empty, centre[0], centre[1])
        mesh = grid.remove_elements(np.nonzero(~keep)[0])
        self.basis, self.mirrors, self.n = Basis(mesh, ElementHex2(), intorder=5), tuple(mirrors), 0
        self.n = self.basis.N
        gradients = {(a, b): asm(BilinearForm(lambda u, v, w, a=a, b=b: u.grad[b] * v.grad[a]), self.basis)
                     for a in range(3) for b in range(3)}
        blocks = [[sum(law[VOIGT[i, a], VOIGT[k, b]] * gradients[a, b] for a in range(3) for b in range(3))
                   for k in range(3)] for i in range(3)]
        self.K, self.law = sp.bmat(blocks, format="csr"), law
        self.inertia = asm(BilinearForm(lambda u, v, w: density * u * v), self.basis).tocsr()
        self.M = sp.block_diag([self.inertia] * 3, format="csr")
        edge = 1e-9

        def on_anchor(x):
            hit = np.zeros(x.shape[1:], bool)
            for x0, y0, x1, y1 in anchors:
                hit |= (x[0] > x0 - edge) & (x[0] < x1 + edge) & (x[1] > y0 - edge) & (x[1] < y1 + edge)
            return hit & (x[2] < levels[0] + edge) if from_below else hit

        self.held = self._on(on_anchor)
        self.planes = {k: self._on(lambda x, k=k: np.abs(x[k]) < edge) for k in mirrors}

    def _on(self, where):
        return self.basis.get_dofs(self.basis.mesh.facets_satisfying(where, boundaries_only=True)).all()

    def even(self, component, axis, sign):
        """Whether a component is its own mirror image about the axis, in the class `sign` (True where the motion is)."""
        return (component != axis) == sign

    def at_rest(self, film):
        """Brings it to rest under a film's stress (xx, yy, xy in Pa) that has all its mirrors, as stiff as what is left of the stress
        makes it, and puts that into its stiffness. Returns the largest displacement in the plane, µm."""
        tensor = np.zeros((3, 3))
        tensor[0, 0], tensor[1, 1], tensor[0, 1], tensor[1, 0] = film[0], film[1], film[2], film[2]
        slope = [asm(LinearForm(lambda v, w, a=a: v.grad[a]), self.basis) for a in range(3)]
        load = np.concatenate([-sum(tensor[c, a] * slope[a] for a in range(3)) for c in range(3)])
        still = [self.held + c * self.n for c in range(3)] + [self.planes[k] + k * self.n for k in self.planes]
        free = np.setdiff1d(np.arange(3 * self.n), np.unique(np.concatenate(still)))
        stiff = self.K
        for _ in range(PASSES):
            moved = np.zeros(3 * self.n)
            moved[free] = pypardiso.spsolve(stiff[free][:, free].tocsr(), load[free])
            stiff = (self.K + self._geometric(moved, tensor)).tocsr()
        self.K = stiff
        return np.hypot(moved[:self.n], moved[self.n:2 * self.n]).max()

    def _geometric(self, moved, tensor):
        """The geometric stiffness of a film's stress (3 x 3, Pa) less what a displacement relaxes of it."""
        grad = np.array([self.basis.interpolate(moved[c * self.n:(c + 1) * self.n]).grad for c in range(3)])
        strain = np.array([grad[0, 0], grad[1, 1], grad[2, 2], grad[1, 2] + grad[2, 1], grad[0, 2] + grad[2, 0],
                           grad[0, 1] + grad[1, 0]])
        voigt = np.einsum("ij,j...->i...", self.law, strain)
        stress = np.array([[voigt[VOIGT[i, j]] + tensor[i, j] for j in range(3)] for i in range(3)])
        form = BilinearForm(lambda u, v, w: sum(stress[i, j] * v.grad[i] * u.grad[j] for i in range(3) for j in range(3)))
        return sp.block_diag([asm(form, self.basis)] * 3)

    def spectrum(self, count, of_each):
        """The lowest `count` modes of all classes, `of_each` taken of each: frequencies, classes {axis: sign}, shapes (3 n)
        of unit modal mass on the part that is meshed, unknowns of the largest class."""
        found, unknowns = [], 0
        for signs in itertools.product([True, False], repeat=len(self.mirrors)):
            kind = dict(zip(self.mirrors, signs))
            still = [self.held + c * self.n for c in range(3)]
            still += [self.planes[k] + c * self.n for k in kind for c in range(3) if not self.even(c, k, kind[k])]
            f, shapes, free = lowest(self.K, self.M, np.unique(np.concatenate(still)), of_each)
            unknowns = max(unknowns, free)
            found += [(f[i], kind, shapes[:, i].reshape(3, self.n)) for i in range(of_each)]
        found.sort(key=lambda m: m[0])
        return found[:count], unknowns

    def z_share(self, shape):
        """The share of the modal mass that moves along z."""
        return shape[2] @ (self.inertia @ shape[2])

    def coriolis(self, modes):
        """G[k][i][j] = 2 ∫ ρ φ_i · (e_k × φ_j) dV over the whole part, shapes of unit modal mass."""
        out = np.zeros((3, len(modes), len(modes)))
        moved = [[self.inertia @ shape[c] for c in range(3)] for _, _, shape in modes]
        for i, j in itertools.product(range(len(modes)), repeat=2):
            def product(a, b):
                odd = any(self.even(a, k, modes[i][1][k]) != self.even(b, k, modes[j][1][k]) for k in self.mirrors)
                return 0.0 if odd else modes[i][2][a] @ moved[j][b]

            for k in range(3):
                a, b = (k + 1) % 3, (k + 2) % 3
                # (e_k × φ) has -φ_b along a and φ_a along b.
                out[k, i, j] = 2 * (product(b, a) - product(a, b))
        return out
