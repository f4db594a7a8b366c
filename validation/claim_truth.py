"""What is true of a device, found without the program: its geometry by Shapely, the spectrum of exported K and M by SciPy and MKL.

Lengths in µm, areas in µm², frequencies in Hz.
"""

import math
import os

# One thread: several processes share the machine.
os.environ.setdefault("MKL_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pypardiso
import scipy.io
import scipy.linalg
import scipy.sparse as sp
import scipy.sparse.csgraph as csgraph
import scipy.sparse.linalg as sla
from shapely import affinity, union_all
from shapely.geometry import LineString, Point, Polygon, box

# Quarter circles in so many chords: a circle of 100 µm is then missed by 5e-4 µm, its area by a share of 6e-6.
FINE = 256
# Dense eigenvalues under so many unknowns.
DENSE = 4000


def polygon(shape):
    """One shape of a device file, without its copies."""
    if "rect" in shape:
        (x0, y0), (x1, y1) = shape["rect"]
        return box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
    if "polygon" in shape:
        return Polygon(shape["polygon"], shape.get("holes", []))
    if "path" in shape:
        style = {"flush": "flat", "square": "square", "round": "round"}[shape.get("ends", "flush")]
        return LineString(shape["path"]).buffer(shape["width"] / 2, cap_style=style, join_style="mitre", mitre_limit=100)
    if "circle" in shape:
        return Point(shape["circle"]).buffer(shape["radius"], quad_segs=FINE)
    if "ring" in shape:
        centre = Point(shape["ring"])
        return centre.buffer(shape["outer_radius"], quad_segs=FINE).difference(centre.buffer(shape["inner_radius"], quad_segs=FINE))
    if "arc" in shape:
        (x, y), radius, half = shape["arc"], shape["radius"], shape["width"] / 2
        angles = np.radians(np.linspace(shape["from_deg"], shape["to_deg"], FINE))
        outer = [(x + (radius + half) * math.cos(t), y + (radius + half) * math.sin(t)) for t in angles]
        inner = [(x + (radius - half) * math.cos(t), y + (radius - half) * math.sin(t)) for t in angles[::-1]]
        return Polygon(outer + inner)
    raise ValueError(f"a shape that is not known here: {sorted(shape)}")


def copies(shape):
    """A shape with its copies and mirror images."""
    array = shape.get("array", {})
    step = array.get("step", [0, 0])
    one = polygon(shape)
    out = [affinity.translate(one, i * step[0], j * step[1])
           for i in range(array.get("columns", 1)) for j in range(array.get("rows", 1))]
    about = shape.get("mirror_about", {})
    if "x" in about:
        out += [affinity.scale(p, -1, 1, origin=(about["x"], 0)) for p in out]
    if "y" in about:
        out += [affinity.scale(p, 1, -1, origin=(0, about["y"])) for p in out]
    return out


def united(shapes):
    return union_all([p for s in shapes for p in copies(s)])


def pieces(area):
    return [p for p in getattr(area, "geoms", [area]) if p.geom_type == "Polygon" and p.area > 1e-9]


class Geometry:
    """The outline of a device: `free` is what moves, `held` the anchors that touch it."""

    def __init__(self, device):
        layout = device["layout"]
        shapes = [s for key in ("structure", "holes", "anchors") for s in layout.get(key, [])]
        self.curved = any(set(s) & {"circle", "ring", "arc"} for s in shapes)
        film = united(layout["structure"]).difference(united(layout.get("holes", [])))
        anchors = united(layout.get("anchors", []))
        bias = device["process"].get("edge_bias_um", 0.0)
        if bias:
            # Edges under an anchor are no etched edges: a film that shrinks stays joined to its anchors.
            base = film.union(anchors) if bias < 0 else film
            film = base.buffer(bias, join_style="mitre", mitre_limit=100)
        self.free = film.difference(anchors)
        self.held = union_all([p for p in pieces(anchors) if p.intersects(film)]) if not anchors.is_empty else anchors
        self.parts = pieces(self.free)
        inside = [Polygon(ring) for p in self.parts for ring in p.interiors]
        # What an anchor fills is no opening.
        self.openings = sum(ring.difference(anchors).area > 1e-9 * ring.area for ring in inside)
        self.area = sum(p.area for p in self.parts)
        self.perimeter = sum(p.length for p in self.parts)
        self.bias = bias
        self.thickness = device["process"]["thickness_um"]

    def tolerance(self):
        """By how much an area may differ: rounding where edges are straight; where moved edges cross at a slant, corners lie on a
        grid of 0.01 nm; where they are curved, chords miss them by 1 nm."""
        if self.curved:
            return 1e-3 * self.perimeter
        return 1e-9 * self.area + (0.5e-5 * self.perimeter if self.bias else 0.0)

    def mirrored(self, point, angle_deg):
        """How far the outline is from its image: area of the symmetric difference, and the largest distance of the borders, µm."""
        c, s = math.cos(2 * math.radians(angle_deg)), math.sin(2 * math.radians(angle_deg))
        x, y = point
        matrix = [c, s, s, -c, x - c * x - s * y, y - s * x + c * y]
        area, distance = 0.0, 0.0
        for part in (self.free, self.held):
            if part.is_empty:
                continue
            image = affinity.affine_transform(part, matrix)
            area += part.symmetric_difference(image).area
            if area > 0.2 * self.perimeter:
                return area, math.inf
            distance = max(distance, part.boundary.hausdorff_distance(image.boundary))
        return area, distance

    def axes(self):
        """Every mirror axis along the layout's own axes and diagonals, with what it misses: (angle, area, distance)."""
        c = self.free.centroid
        return [(angle, *self.mirrored((c.x, c.y), angle)) for angle in (0.0, 45.0, 90.0, 135.0)]


class Pencil:
    """K - λM as exported; frequencies from outside libraries. Unknowns are scaled to a unit diagonal of K + sM."""

    def __init__(self, folder, dense=DENSE):
        k, m = (scipy.io.mmread(folder / f"{name}.mtx").tocsr() for name in "KM")
        self.n, self.dense = k.shape[0], k.shape[0] < dense
        self.lift = 1e-3 * float(np.median(k.diagonal() / np.maximum(m.diagonal(), 1e-300)) or 1.0)
        scale = sp.diags(1 / np.sqrt(k.diagonal() + self.lift * m.diagonal()))
        self.k, self.m = (scale @ k @ scale).tocsr(), (scale @ m @ scale).tocsr()
        self.values, self.known_to = None, -math.inf

    def _solver(self, shift):
        upper = sp.triu(self.k - shift * self.m, format="csr")
        solver = pypardiso.PyPardisoSolver(mtype=-2)
        solver.set_iparm(1, 1)
        solver.set_iparm(2, 2)
        solver.set_iparm(10, 13)
        solver.set_iparm(11, 1)
        solver.set_iparm(13, 1)
        solver.set_iparm(21, 1)
        solver.factorize(upper)
        return solver, upper

    def count(self, hz):
        """Eigenvalues below a frequency: negative pivots of the factors (Sylvester), or dense eigenvalues."""
        shift = (2 * math.pi * hz) ** 2
        if self.dense:
            return int(np.sum(self._all() < shift))
        solver, _ = self._solver(shift)
        below = int(solver.get_iparm(23))
        solver.free_memory(everything=True)
        return below

    def _all(self):
        if self.values is None:
            _, label = csgraph.connected_components(self.k + self.m, directed=False)
            found = []
            for part in range(label.max() + 1):
                rows = np.nonzero(label == part)[0]
                k, m = (a[rows][:, rows].toarray() for a in (self.k, self.m))
                found.append(scipy.linalg.eigvalsh(k, m))
            self.values, self.known_to = np.sort(np.concatenate(found)), math.inf
        return self.values

    def below(self, hz):
        """All frequencies below one, Hz, in order; as many as the count says."""
        if self.dense:
            values = self._all()
        else:
            if hz > self.known_to:
                wanted = self.count(hz)
                # A shift below the spectrum, of the size of the band: rigid motions stay apart from it.
                shift = -0.05 * (2 * math.pi * hz) ** 2
                solver, upper = self._solver(shift)
                solver.set_phase(33)
                inverse = sla.LinearOperator(
                    self.k.shape, lambda b: solver._call_pardiso(upper, np.ascontiguousarray(b)), dtype=float)
                values = np.zeros(0)
                if wanted:
                    values = sla.eigsh(self.k, wanted, self.m, sigma=shift, OPinv=inverse, return_eigenvectors=False, ncv=2 * wanted + 20,
                                       v0=np.ones(self.n))
                solver.free_memory(everything=True)
                if wanted and max(values) > (2 * math.pi * hz * (1 + 1e-6)) ** 2:
                    raise ArithmeticError(f"{wanted} eigenvalues counted below {hz} Hz, others found")
                self.values, self.known_to = np.sort(values), hz
            values = self.values
        values = values[values < (2 * math.pi * hz) ** 2]
        return np.sqrt(np.maximum(values, 0)) / (2 * math.pi)
