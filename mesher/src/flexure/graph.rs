//! What legs join: in come legs, out come nodes, the pieces of material between them, each with the legs that end on it.

use super::leg::Leg;
use super::wall::Runs;
use crate::geometry::{Point, Ring, cross, distance, ring_area, sides, sub};
use crate::outline::cut::{self, Face, Place};
use std::collections::HashMap;

/// A block between flexures has at most this area and extent, in squares of the widest leg and in its widths.
const BLOCK_AREA: f64 = 3.0;
const BLOCK_EXTENT: f64 = 4.5;
/// A circle this many widths across that fits a piece makes it a body; where four equal legs cross, 1.41 fit.
const BODY_CIRCLE: f64 = 1.6;

/// An end of a leg.
pub(super) type End = (usize, usize);

/// A piece of material that is no leg, or the line at which two legs meet.
#[derive(Clone, Debug)]
pub(super) struct Node {
    pub ends: Vec<End>,
    /// Small and no wider than its legs: a corner, a joint or a tip.
    pub block: bool,
    pub held: bool,
    /// Its face; none for a line.
    pub face: Option<usize>,
    /// What tells a block from a body; none for a line.
    shape: Option<FaceMeasures>,
}

/// What of a face does not change with the legs that end on it.
#[derive(Clone, Copy, Debug)]
struct FaceMeasures {
    held: bool,
    whole: bool,
    area: f64,
    extent: f64,
    /// Diameter of the circle around its middle that fits.
    circle: f64,
}

/// Legs and the nodes between them.
pub(super) struct Graph {
    pub legs: Vec<Leg>,
    pub faces: Vec<Face>,
    pub nodes: Vec<Node>,
    /// The node at each end of every leg; none on an anchor.
    pub at: Vec<[Option<usize>; 2]>,
    /// The face of every leg; none where it reaches from anchor to anchor.
    pub face_of: Vec<Option<usize>>,
}

/// The root line of an end of a leg, the leg on its left.
pub(super) fn root(runs: &Runs, leg: &Leg, end: usize) -> [Place; 2] {
    let rung = leg.end(end);
    let (p, q) = (runs.place(&rung.p), runs.place(&rung.q));
    if end == 0 { [q, p] } else { [p, q] }
}

impl Graph {
    pub fn new(runs: &Runs, legs: Vec<Leg>, kept: impl Fn(usize) -> bool) -> Self {
        let key = |p: &Place| (p.ring, p.segment, p.at.map(f64::to_bits));
        let mut known: HashMap<_, (usize, bool)> = HashMap::new();
        let mut chords: Vec<[Place; 2]> = Vec::new();
        let mut chord_of: Vec<[Option<(usize, bool)>; 2]> = vec![[None; 2]; legs.len()];
        for (l, leg) in legs.iter().enumerate() {
            for end in (0..2).filter(|e| !leg.held[*e]) {
                let [a, b] = root(runs, leg, end);
                let (forth, back) = ((key(&a), key(&b)), (key(&b), key(&a)));
                let chord = *known.entry(forth).or_insert_with(|| {
                    chords.push([a, b]);
                    (chords.len() - 1, true)
                });
                known.entry(back).or_insert((chord.0, !chord.1));
                chord_of[l][end] = Some(chord);
            }
        }
        let faces = cut::faces(runs.borders, kept, &chords);
        let mut left = vec![[None; 2]; chords.len()];
        for (f, face) in faces.iter().enumerate() {
            face.chords().for_each(|(c, forward)| left[c][usize::from(forward)] = Some(f));
        }
        let face_of: Vec<Option<usize>> =
            chord_of.iter().map(|c| c.iter().flatten().find_map(|(c, f)| left[*c][usize::from(*f)])).collect();
        let is_leg: std::collections::HashSet<usize> = face_of.iter().flatten().copied().collect();
        let mut graph = Self { at: vec![[None; 2]; legs.len()], legs, faces, nodes: Vec::new(), face_of };
        let mut node_of_face: HashMap<usize, usize> = HashMap::new();
        let mut node_of_line: HashMap<usize, usize> = HashMap::new();
        for (l, ends) in chord_of.iter().enumerate() {
            for (end, chord) in ends.iter().enumerate() {
                let Some((c, forward)) = *chord else { continue };
                let beyond = left[c][usize::from(!forward)];
                let face = beyond.filter(|f| !is_leg.contains(f));
                let fresh = graph.nodes.len();
                let n = match face {
                    Some(f) => *node_of_face.entry(f).or_insert(fresh),
                    None => *node_of_line.entry(c).or_insert(fresh),
                };
                if n == fresh {
                    graph.nodes.push(Node { ends: Vec::new(), block: true, held: false, face, shape: None });
                }
                graph.nodes[n].ends.push((l, end));
                graph.at[l][end] = Some(n);
            }
        }
        for n in 0..graph.nodes.len() {
            graph.nodes[n].shape = graph.nodes[n].face.map(|f| FaceMeasures::of(&graph.faces[f], runs));
            let widest = graph.nodes[n].ends.iter().map(|e| graph.width(e)).fold(0.0, f64::max);
            graph.size(n, widest);
        }
        graph
    }

    /// Tells blocks from bodies by the widest of the legs that end on a node.
    pub fn size(&mut self, n: usize, widest: f64) {
        let node = &mut self.nodes[n];
        let Some(shape) = node.shape else { return };
        node.held = shape.held;
        node.block = !shape.held
            && shape.whole
            && shape.area <= BLOCK_AREA * widest * widest
            && shape.extent <= BLOCK_EXTENT * widest
            && shape.circle <= BODY_CIRCLE * widest;
    }

    pub fn width(&self, end: &End) -> f64 {
        self.legs[end.0].width(end.1)
    }

    /// The border of a node's face.
    pub fn border(&self, node: usize) -> Option<&Ring> {
        self.nodes[node].face.map(|f| &self.faces[f].outer.points)
    }
}

impl FaceMeasures {
    fn of(face: &Face, runs: &Runs) -> Self {
        let held = |s: &cut::Side| matches!(s, cut::Side::Wall { ring, segment } if runs.borders[*ring].held[*segment]);
        let outer = &face.outer.points;
        let middle = centroid(outer);
        Self {
            held: face.loops().flat_map(|l| &l.sides).any(held),
            whole: face.holes.is_empty(),
            area: ring_area(outer),
            extent: 2.0 * outer.iter().map(|p| distance(*p, middle)).fold(0.0, f64::max),
            circle: 2.0 * runs.clearance(middle),
        }
    }
}

/// The centre of area; of a piece without area the mean of its corners.
fn centroid(ring: &[Point]) -> Point {
    let area = ring_area(ring);
    let origin = ring.first().copied().unwrap_or_default();
    let n = ring.len() as f64;
    let mean = ring.iter().fold([0.0; 2], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
    let mut first = [0.0; 2];
    for [a, b] in sides(ring) {
        let (p, q) = (sub(a, origin), sub(b, origin));
        for k in 0..2 {
            first[k] += cross(p, q) * (p[k] + q[k]) / 6.0;
        }
    }
    let size = ring.iter().map(|p| distance(*p, mean)).fold(0.0, f64::max);
    if area.abs() <= 1e-6 * size * size { mean } else { [0, 1].map(|k| origin[k] + first[k] / area) }
}

/// Whether an end of a leg has another root line.
pub(super) fn root_differs(leg: &Leg, end: usize, root: [Point; 2]) -> bool {
    let rung = leg.end(end);
    !(root.contains(&rung.p.at) && root.contains(&rung.q.at))
}
