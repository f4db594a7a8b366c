//! Strands: walls of the outline and borders of the named masses as curves that meet only where they are cut. In: pieces of the
//! outline in the mesher's frame, long parts, rings of the masses, µm. Out: strands with their cuts.

use crate::curve::{Piece, facets_of_ring, pieces_of_chain, pieces_of_ring};
use crate::geometry::{Point, Polygon, Ring, cross, distance, middle, sides};
use crate::locate::Locator;
use crate::sizing::{LongParts, Parts};
use rstar::primitives::{GeomWithData, Line};
use rstar::{AABB, RTree};

/// What a strand is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Border of the material; it lies on the left.
    Wall {
        /// Along an anchor.
        held: bool,
    },
    /// Border of a named mass inside the material.
    Border,
    /// The wedge's first or second side, inside the material; the wedge lies on the left.
    Axis(u8),
}

/// A curve with its cuts.
pub(super) struct Strand {
    pub piece: Piece,
    pub role: Role,
    /// Shares of the piece and the points there.
    pub cuts: Vec<(f64, Point)>,
    /// How it is cut where the sizing has no say.
    pub parts: Option<Parts>,
}

/// A point of a mass's ring, and the strand and share of it that it was moved to.
#[derive(Clone, Copy)]
struct Node {
    at: Point,
    strand: Option<(usize, f64)>,
}

/// Strands of an outline, cut where they meet.
pub struct Strands {
    pub(super) strands: Vec<Strand>,
    tree: RTree<GeomWithData<Line<[f64; 2]>, u32>>,
    pub(super) material: Locator,
    near: f64,
    /// Whether borders of masses may follow circles.
    curved: bool,
    /// Areas of long parts, and how lines along them are cut.
    long: (Locator, Vec<Parts>),
}

/// Chords of a piece, fine enough to find what crosses it.
fn chords(piece: &Piece) -> Vec<Line<[f64; 2]>> {
    let n = (piece.sweep().abs() / 0.09).ceil().max(1.0) as usize;
    (0..n).map(|i| Line::new(piece.at(i as f64 / n as f64), piece.at((i + 1) as f64 / n as f64))).collect()
}

fn box_around(a: Point, b: Point, margin: f64) -> AABB<[f64; 2]> {
    AABB::from_corners(
        [a[0].min(b[0]) - margin, a[1].min(b[1]) - margin],
        [a[0].max(b[0]) + margin, a[1].max(b[1]) + margin],
    )
}

impl Strands {
    /// From the pieces of all rings and the polygons they came from. What comes nearer to a wall than `near` (µm) is taken
    /// to lie on it: after an edge bias the border of a mass runs a little beside the wall that it was drawn on.
    pub fn new(rings: &[Vec<Piece>], polygons: &[Polygon], near: f64, curved: bool) -> Self {
        let strands: Vec<Strand> = rings
            .iter()
            .flatten()
            .map(|piece| Strand {
                piece: piece.clone(),
                role: Role::Wall { held: piece.held },
                cuts: Vec::new(),
                parts: None,
            })
            .collect();
        let tree = RTree::bulk_load(
            strands
                .iter()
                .enumerate()
                .flat_map(|(i, s)| chords(&s.piece).into_iter().map(move |c| GeomWithData::new(c, i as u32)))
                .collect::<Vec<_>>(),
        );
        Self { strands, tree, material: Locator::new([polygons]), near, curved, long: Default::default() }
    }

    /// Puts in the lines that close off long parts found on the rings that this was made of, and cuts their walls into their parts.
    pub fn close_off(&mut self, long: &LongParts, rings: &[Vec<Piece>]) {
        let mut first = Vec::with_capacity(rings.len());
        rings.iter().fold(0, |n, ring| {
            first.push(n);
            n + ring.len()
        });
        for ([r, i], parts, _) in long.pieces() {
            self.strands[first[r] + i].parts = Some(parts);
        }
        for finger in &long.fingers {
            for (at, [r, i]) in finger.across.into_iter().zip([finger.pieces[2], finger.pieces[0]]) {
                let wall = &mut self.strands[first[r] + i];
                wall.cuts.push((wall.piece.nearest(at), at));
            }
        }
        for ([from, to], parts) in long.lines() {
            self.take_border(Piece::straight(from, to, false), parts);
        }
        self.long = (long.locator(), long.parts());
    }

    /// How a line along the long part is cut that a point lies in.
    pub fn parts_at(&self, p: Point) -> Option<Parts> {
        self.long.0.find(p).map(|number| self.long.1[usize::from(number)])
    }

    fn take_border(&mut self, piece: Piece, parts: Option<Parts>) {
        let k = self.strands.len() as u32;
        for chord in chords(&piece) {
            self.tree.insert(GeomWithData::new(chord, k));
        }
        self.strands.push(Strand { piece, role: Role::Border, cuts: Vec::new(), parts });
    }

    /// The strand nearest to a point and the share of it, if within reach.
    fn strand_near(&self, p: Point) -> Option<(usize, f64)> {
        let mut best: Option<(f64, usize, f64)> = None;
        for found in self.tree.locate_in_envelope_intersecting(&box_around(p, p, 2.0 * self.near)) {
            let k = found.data as usize;
            let piece = &self.strands[k].piece;
            let t = piece.nearest(p);
            let d = distance(piece.at(t), p);
            if d <= self.near && best.is_none_or(|b| (d, k) < (b.0, b.1)) {
                best = Some((d, k, t));
            }
        }
        best.map(|b| (b.1, b.2))
    }

    /// A point of a mass's ring, moved to the corner, cut or wall that it lies next to.
    fn snap(&self, p: Point) -> Node {
        let Some((k, t)) = self.strand_near(p) else { return Node { at: p, strand: None } };
        // Corners of any strand first.
        let mut corner: Option<(f64, Point)> = None;
        for found in self.tree.locate_in_envelope_intersecting(&box_around(p, p, 2.0 * self.near)) {
            let s = &self.strands[found.data as usize];
            for q in [s.piece.from, s.piece.to].into_iter().chain(s.cuts.iter().map(|c| c.1)) {
                let d = distance(p, q);
                if d <= self.near && corner.is_none_or(|c| (d, q) < (c.0, c.1)) {
                    corner = Some((d, q));
                }
            }
        }
        let at = corner.map_or_else(|| self.strands[k].piece.at(t), |c| c.1);
        Node { at, strand: Some((k, t)) }
    }

    /// Cuts the strand that a kept border ends on, unless it ends at a corner or cut of it.
    fn cut_at(&mut self, node: Node) {
        if let Some((k, t)) = node.strand {
            let strand = &mut self.strands[k];
            let known = node.at == strand.piece.from
                || node.at == strand.piece.to
                || strand.cuts.iter().any(|c| c.1 == node.at)
                || node.at != strand.piece.at(t);
            if !known {
                strand.cuts.push((t, node.at));
            }
        }
    }

    /// Puts in the border of a mass where it runs inside the material.
    pub fn border(&mut self, ring: &Ring) {
        let mut nodes: Vec<Node> = Vec::new();
        for [a, b] in sides(ring) {
            if a == b {
                continue;
            }
            let edge = Piece::straight(a, b, false);
            let mut stops: Vec<f64> = vec![0.0];
            for found in self.tree.locate_in_envelope_intersecting(&box_around(a, b, self.near)) {
                let (c, d) = (found.geom().from, found.geom().to);
                let (u, v, w) = ([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]], [c[0] - a[0], c[1] - a[1]]);
                let det = cross(u, v);
                if det.abs() > 1e-9 * u[0].hypot(u[1]) * v[0].hypot(v[1]) {
                    let (t, s) = (cross(w, v) / det, cross(w, u) / det);
                    if t > 0.0 && t < 1.0 && (-1e-9..=1.0 + 1e-9).contains(&s) {
                        stops.push(t);
                    }
                }
                let strand = &self.strands[found.data as usize];
                for q in [strand.piece.from, strand.piece.to].into_iter().chain(strand.cuts.iter().map(|c| c.1)) {
                    let t = edge.nearest(q);
                    if t > 0.0 && t < 1.0 && distance(edge.at(t), q) <= self.near {
                        stops.push(t);
                    }
                }
            }
            stops.sort_by(f64::total_cmp);
            for t in stops {
                let node = self.snap(edge.at(t));
                if nodes.last().is_none_or(|n| n.at != node.at) {
                    nodes.push(node);
                }
            }
        }
        while nodes.len() > 1 && nodes.first().map(|n| n.at) == nodes.last().map(|n| n.at) {
            nodes.pop();
        }
        self.take_in(&nodes);
    }

    /// Pieces of a border.
    fn pieces(&self, points: &[Point], closed: bool) -> Vec<Piece> {
        match (self.curved, closed) {
            (true, true) => pieces_of_ring(points, &[]),
            (true, false) => pieces_of_chain(points, &vec![false; points.len() - 1]),
            (false, true) => facets_of_ring(points, &[]),
            (false, false) => points.windows(2).map(|w| Piece::straight(w[0], w[1], false)).collect(),
        }
    }

    /// Takes in the stretches of a snapped border that run inside the material.
    fn take_in(&mut self, nodes: &[Node]) {
        let n = nodes.len();
        if n < 2 {
            return;
        }
        let inside = |me: &Self, i: usize| {
            let (from, to) = (nodes[i % n], nodes[(i + 1) % n]);
            let (a, b) = (from.at, to.at);
            let middle = middle(a, b);
            me.material.find(middle).is_some()
                && !(from.strand.is_some() && to.strand.is_some() && me.strand_near(middle).is_some())
        };
        let kept: Vec<bool> = (0..n).map(|i| inside(self, i)).collect();
        let mut new: Vec<Piece> = Vec::new();
        let breaks = |i: usize| nodes[i].strand.is_some() || !kept[(i + n - 1) % n] || !kept[i];
        match (0..n).find(|&i| breaks(i)) {
            None => {
                let ring: Ring = nodes.iter().map(|n| n.at).collect();
                new.extend(self.pieces(&ring, true));
            }
            Some(start) => {
                let mut chain: Vec<Point> = Vec::new();
                for i in start..start + n {
                    if !kept[i % n] {
                        continue;
                    }
                    if chain.is_empty() {
                        chain.push(nodes[i % n].at);
                        self.cut_at(nodes[i % n]);
                    }
                    chain.push(nodes[(i + 1) % n].at);
                    if breaks((i + 1) % n) {
                        self.cut_at(nodes[(i + 1) % n]);
                        new.extend(self.pieces(&chain, false));
                        chain.clear();
                    }
                }
            }
        }
        new.into_iter().for_each(|piece| self.take_border(piece, None));
    }
}
