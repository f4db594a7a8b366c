//! Delaunay refinement. In: a constrained Delaunay triangulation of the material, edges already cut to size. Out: the
//! same with points added until no triangle is too large for the sizing or has too small an angle; long triangles are left alone.
//!
//! Points go to circumcentres (J. Ruppert, J. Algorithms 18, 1995, 548–585) or, for thin triangles, nearer (A. Üngör,
//! Computational Geometry 42, 2009, 109–118); what would come too near a wall cuts the wall instead (J. R. Shewchuk,
//! Computational Geometry 22, 2002, 21–74), on its facets if it has them. Triangles are kept in order of making, so the same
//! input gives the same result.

use super::planar::Planar;
use crate::geometry::{Point, centroid, cross, distance, dot, middle, twice_area};
use crate::mesh::LongIn;
use crate::sizing::{LongParts, Sizing};
use robust::{Coord, incircle, orient2d};
use std::collections::VecDeque;

/// No triangle, no constraint.
pub const NONE: u32 = u32::MAX;
/// Angle refined for: a little over the 25° that the mesh promises.
const ANGLE_DEG: f64 = 26.5;
/// Angles are given up where edges would become shorter than this share of the wanted size; only sharp input corners
/// lead there.
const SHORTEST_SHARE: f64 = 0.12;
/// Circumradius allowed in units of the wanted size: right triangles in a strip of unit width have 0.76.
const LARGEST_RADIUS: f64 = 0.8;

/// A triangle: corners anticlockwise, and for edge `k` (corner `k` to `k + 1`) the neighbour and the constraint.
#[derive(Clone, Copy, Debug)]
pub struct Triangle {
    /// Corner numbers.
    pub corners: [u32; 3],
    /// Neighbour across each edge.
    pub next_to: [u32; 3],
    /// Strand that each edge lies on.
    pub strand: [u32; 3],
}

/// A triangulation of the material only.
#[derive(Debug, Default)]
pub struct Triangulation {
    /// Corners, µm.
    pub points: Vec<Point>,
    /// Triangles.
    pub triangles: Vec<Triangle>,
    /// For each whether it stays as long as it is: it lies in a long part, which constraints close off.
    pub long_in: Vec<Option<LongIn>>,
}

/// Where a walk ended.
enum Reached {
    Triangle(usize),
    Wall(usize, usize),
}

fn coord(p: Point) -> Coord<f64> {
    Coord { x: p[0], y: p[1] }
}

fn orient(a: Point, b: Point, c: Point) -> f64 {
    orient2d(coord(a), coord(b), coord(c))
}

impl Triangulation {
    /// Of these triangles; long parts are closed off by constraints.
    pub fn new(points: Vec<Point>, triangles: Vec<Triangle>, long: &LongParts) -> Self {
        let locator = long.locator();
        let long_in = |t: &Triangle| {
            let number = locator.find(centroid(t.corners.map(|i| points[i as usize])))?;
            Some(long.kind(usize::from(number)))
        };
        let long_in = triangles.iter().map(long_in).collect();
        Self { points, triangles, long_in }
    }

    fn corner(&self, t: usize, k: usize) -> Point {
        self.points[self.triangles[t].corners[k % 3] as usize]
    }

    /// Corners of a triangle, µm.
    pub fn corners(&self, t: usize) -> [Point; 3] {
        self.triangles[t].corners.map(|i| self.points[i as usize])
    }

    fn point_across(&mut self, at: u32, from: u32, to: u32) {
        if at != NONE {
            for n in &mut self.triangles[at as usize].next_to {
                if *n == from {
                    *n = to;
                    return;
                }
            }
        }
    }

    /// Edge of `t` towards `neighbour`; two triangles share at most one edge.
    fn edge_towards(&self, t: usize, neighbour: usize) -> usize {
        self.triangles[t].next_to.iter().position(|&n| n == neighbour as u32).unwrap_or(0)
    }

    /// Flips edges until the empty-circle property holds again around new triangles.
    fn legalize(&mut self, mut open: Vec<(usize, u32)>, touched: &mut Vec<usize>) {
        // Each entry: a triangle and the new point in it; the edge opposite the point is in question.
        while let Some((t, apex)) = open.pop() {
            let Some(j) = self.triangles[t].corners.iter().position(|&c| c == apex) else { continue };
            let k = (j + 1) % 3;
            let (n, strand) = (self.triangles[t].next_to[k], self.triangles[t].strand[k]);
            if n == NONE || strand != NONE {
                continue;
            }
            let n = n as usize;
            let m = self.edge_towards(n, t);
            let far = self.triangles[n].corners[(m + 2) % 3];
            let [a, b, c] = self.corners(t).map(coord);
            if incircle(a, b, c, coord(self.points[far as usize])) <= 0.0 {
                continue;
            }
            let (x, y) = (self.triangles[t], self.triangles[n]);
            let (from, to) = (x.corners[k], x.corners[(k + 1) % 3]);
            let (k1, k2, m1, m2) = ((k + 1) % 3, (k + 2) % 3, (m + 1) % 3, (m + 2) % 3);
            // t becomes apex, from, far; n becomes apex, far, to.
            self.triangles[t] = Triangle {
                corners: [apex, from, far],
                next_to: [x.next_to[k2], y.next_to[m1], n as u32],
                strand: [x.strand[k2], y.strand[m1], NONE],
            };
            self.triangles[n] = Triangle {
                corners: [apex, far, to],
                next_to: [t as u32, y.next_to[m2], x.next_to[k1]],
                strand: [NONE, y.strand[m2], x.strand[k1]],
            };
            self.point_across(y.next_to[m1], n as u32, t as u32);
            self.point_across(x.next_to[k1], t as u32, n as u32);
            touched.extend([t, n]);
            open.extend([(t, apex), (n, apex)]);
        }
    }

    /// Puts a point inside a triangle.
    fn insert(&mut self, t: usize, p: Point, touched: &mut Vec<usize>) {
        for k in 0..3 {
            if orient(self.corner(t, k), self.corner(t, k + 1), p) <= 0.0 {
                // On an edge (or a rounding error outside it): cut the edge.
                if self.triangles[t].strand[k] == NONE {
                    self.cut(t, k, p, touched);
                }
                return;
            }
        }
        let v = self.points.len() as u32;
        self.points.push(p);
        let old = self.triangles[t];
        let (t1, t2) = (self.triangles.len(), self.triangles.len() + 1);
        let [a, b, c] = old.corners;
        self.triangles[t] = Triangle {
            corners: [a, b, v],
            next_to: [old.next_to[0], t1 as u32, t2 as u32],
            strand: [old.strand[0], NONE, NONE],
        };
        self.triangles.push(Triangle {
            corners: [b, c, v],
            next_to: [old.next_to[1], t2 as u32, t as u32],
            strand: [old.strand[1], NONE, NONE],
        });
        self.triangles.push(Triangle {
            corners: [c, a, v],
            next_to: [old.next_to[2], t as u32, t1 as u32],
            strand: [old.strand[2], NONE, NONE],
        });
        self.long_in.extend([self.long_in[t]; 2]);
        self.point_across(old.next_to[1], t as u32, t1 as u32);
        self.point_across(old.next_to[2], t as u32, t2 as u32);
        touched.extend([t, t1, t2]);
        self.legalize(vec![(t, v), (t1, v), (t2, v)], touched);
    }

    /// Cuts edge `k` of triangle `t` at `p`; false where that would turn a triangle over.
    fn cut(&mut self, t: usize, k: usize, p: Point, touched: &mut Vec<usize>) -> bool {
        let x = self.triangles[t];
        let [a, b, c] = [0, 1, 2].map(|i| x.corners[(k + i) % 3]);
        let fits = |me: &Self, a: u32, b: u32, c: u32| {
            let [a, b, c] = [a, b, c].map(|i| me.points[i as usize]);
            orient(a, p, c) > 0.0 && orient(p, b, c) > 0.0
        };
        let n = x.next_to[k];
        let mut other = None;
        if n != NONE {
            let m = self.edge_towards(n as usize, t);
            let d = self.triangles[n as usize].corners[(m + 2) % 3];
            if !fits(self, b, a, d) {
                return false;
            }
            other = Some((n as usize, m));
        }
        if !fits(self, a, b, c) {
            return false;
        }
        let v = self.points.len() as u32;
        self.points.push(p);
        let t1 = self.halved(t, k, v);
        touched.extend([t, t1]);
        let mut open = vec![(t, v), (t1, v)];
        if let Some((n, m)) = other {
            let n1 = self.halved(n, m, v);
            for (half, across) in [(t, n1), (t1, n), (n, t1), (n1, t)] {
                self.triangles[half].next_to[0] = across as u32;
            }
            touched.extend([n, n1]);
            open.extend([(n, v), (n1, v)]);
        }
        self.legalize(open, touched);
        true
    }

    /// Cuts one triangle in two, from the point `v` on its edge `k` to the corner across; edge 0 of both is half of that edge, without
    /// a neighbour yet. Gives the number of the second.
    fn halved(&mut self, t: usize, k: usize, v: u32) -> usize {
        let x = self.triangles[t];
        let [a, b, c] = [0, 1, 2].map(|i| x.corners[(k + i) % 3]);
        let (strand, k1, k2) = (x.strand[k], (k + 1) % 3, (k + 2) % 3);
        let new = self.triangles.len();
        self.triangles[t] = Triangle {
            corners: [a, v, c],
            next_to: [NONE, new as u32, x.next_to[k2]],
            strand: [strand, NONE, x.strand[k2]],
        };
        self.triangles.push(Triangle {
            corners: [v, b, c],
            next_to: [NONE, x.next_to[k1], t as u32],
            strand: [strand, x.strand[k1], NONE],
        });
        self.long_in.push(self.long_in[t]);
        self.point_across(x.next_to[k1], t as u32, new as u32);
        new
    }

    /// Cuts a constrained edge half-way, on its facets if it has them.
    pub fn halve(&mut self, t: usize, k: usize, planar: &Planar, touched: &mut Vec<usize>) -> bool {
        let (a, b) = (self.corner(t, k), self.corner(t, k + 1));
        let p = planar.facets(self.triangles[t].strand[k]).map_or_else(|| middle(a, b), |facets| facets.half_way(a, b));
        self.cut(t, k, p, touched)
    }

    /// Walks from triangle `t` towards a point, up to the first constrained edge.
    fn walk(&self, t: usize, to: Point) -> Reached {
        let from = centroid(self.corners(t));
        let mut t = t;
        let mut came = NONE;
        for _ in 0..self.triangles.len() {
            let mut leave = None;
            for k in 0..3 {
                if self.triangles[t].next_to[k] == came && came != NONE {
                    continue;
                }
                let (a, b) = (self.corner(t, k), self.corner(t, k + 1));
                if orient(a, b, to) < 0.0 && orient(from, to, a) <= 0.0 && orient(from, to, b) >= 0.0 {
                    leave = Some(k);
                    break;
                }
            }
            let Some(k) = leave else { return Reached::Triangle(t) };
            if self.triangles[t].strand[k] != NONE || self.triangles[t].next_to[k] == NONE {
                return Reached::Wall(t, k);
            }
            came = t as u32;
            t = self.triangles[t].next_to[k] as usize;
        }
        Reached::Triangle(t)
    }

    /// The constrained edge near triangle `t` that the point comes too near to: it sees the edge under more than 120°.
    fn encroached(&self, t: usize, p: Point) -> Option<(usize, usize)> {
        let sees = |t: usize, k: usize| {
            if self.triangles[t].strand[k] == NONE {
                return false;
            }
            let (a, b) = (self.corner(t, k), self.corner(t, k + 1));
            let (u, v) = ([a[0] - p[0], a[1] - p[1]], [b[0] - p[0], b[1] - p[1]]);
            u[0] * v[0] + u[1] * v[1] < -0.5 * u[0].hypot(u[1]) * v[0].hypot(v[1])
        };
        if let Some(k) = (0..3).find(|&k| sees(t, k)) {
            return Some((t, k));
        }
        for n in self.triangles[t].next_to {
            if n != NONE
                && let Some(k) = (0..3).find(|&k| sees(n as usize, k))
            {
                return Some((n as usize, k));
            }
        }
        None
    }

    /// Refines; returns false when the limit of points was reached first.
    pub fn refine(&mut self, sizing: &Sizing, planar: &Planar, most_points: usize) -> bool {
        let mut queue: VecDeque<(usize, [u32; 3])> = VecDeque::new();
        let mut touched: Vec<usize> = (0..self.triangles.len()).collect();
        loop {
            for &t in &touched {
                queue.push_back((t, self.triangles[t].corners));
            }
            touched.clear();
            let Some((t, corners)) = queue.pop_front() else { return true };
            if self.triangles[t].corners != corners || self.long_in[t].is_some() {
                continue;
            }
            if self.points.len() > most_points {
                return false;
            }
            let Some(p) = self.wanted_point(t, sizing) else { continue };
            let wall = match self.walk(t, p) {
                Reached::Wall(t, k) => Some((t, k)),
                Reached::Triangle(at) => match self.encroached(at, p) {
                    Some(wall) => Some(wall),
                    None => {
                        let before = self.points.len();
                        self.insert(at, p, &mut touched);
                        if self.points.len() > before && self.triangles[t].corners == corners {
                            queue.push_back((t, corners));
                        }
                        None
                    }
                },
            };
            if let Some((w, k)) = wall {
                let (a, b) = (self.corner(w, k), self.corner(w, k + 1));
                let half = 0.5 * distance(a, b);
                let here = sizing.at(middle(a, b));
                if half > 2.0 * SHORTEST_SHARE * here
                    && self.halve(w, k, planar, &mut touched)
                    && self.triangles[t].corners == corners
                {
                    queue.push_back((t, corners));
                }
            }
        }
    }

    /// Where a triangle that is too large or too thin wants a point; `None` where it may stay.
    fn wanted_point(&self, t: usize, sizing: &Sizing) -> Option<Point> {
        let [a, b, c] = self.corners(t);
        let sides = [distance(a, b), distance(b, c), distance(c, a)];
        let twice_area = twice_area(a, b, c);
        let radius = sides[0] * sides[1] * sides[2] / (2.0 * twice_area);
        let short = if sides[0] <= sides[1] && sides[0] <= sides[2] {
            0
        } else if sides[1] <= sides[2] {
            1
        } else {
            2
        };
        let longest = sides[0].max(sides[1]).max(sides[2]);
        let wanted = sizing.at(centroid([a, b, c]));
        let large = radius > LARGEST_RADIUS * wanted && longest > wanted || longest > sizing.largest * (1.0 + 1e-9);
        let thin = sides[short] < 2.0 * radius * ANGLE_DEG.to_radians().sin();
        if !large && (!thin || sides[short] < SHORTEST_SHARE * wanted) {
            return None;
        }
        let centre = circumcentre(a, b, c);
        if !thin {
            return Some(centre);
        }
        // On the bisector of the shortest side, no farther than makes the wanted angle.
        let m = middle(self.corner(t, short), self.corner(t, short + 1));
        let reach = 0.5 * sides[short] / (0.5 * ANGLE_DEG.to_radians()).tan() * 0.97;
        let s = (reach / distance(m, centre)).min(1.0);
        Some([m[0] + s * (centre[0] - m[0]), m[1] + s * (centre[1] - m[1])])
    }
}

/// Centre of the circle through three points.
fn circumcentre(a: Point, b: Point, c: Point) -> Point {
    let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - a[0], c[1] - a[1]]);
    let d = 2.0 * cross(u, v);
    let (uu, vv) = (dot(u, u), dot(v, v));
    [a[0] + (v[1] * uu - u[1] * vv) / d, a[1] + (u[0] * vv - v[0] * uu) / d]
}
