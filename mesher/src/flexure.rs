//! Flexures from the outline alone: in comes an outline, out come its slender parts with root lines, middle line, widths
//! and what they join; and comb fingers. µm.
//!
//! Method: stretches of border that face each other become legs (`leg`); what is left between legs are nodes, blocks or
//! bodies (`graph`); legs of alike width are joined through corners into chains, and a chain is a flexure if it is at
//! least three widths long and both its ends lie on wider material, an anchor or a joint with other flexures (`chain`).
//! Jogs of a wall that are small against the width, such as shapes leave that overlap at a bend, are bridged first (`jog`).
//! No flexures are: strips that carry clearly narrower ones or fingers on their side (frames, trusses), closed rings, strips
//! inside named masses, and strips whose ends all lie on one body that is not held (rims, webs between openings). Small
//! compact openings are release holes and are looked through; a flexure that has one inside is marked as `perforated`. Strips that none of this makes anything of are told (`unseen`).
//!
//! Limits: a strip that widens faster than 20° between its walls ends there; a beam with both ends on one floating frame
//! counts as that frame's rim.

mod chain;
mod graph;
mod jog;
mod joins;
mod leg;
mod line;
mod perforated;
mod ring;
mod unseen;
mod wall;

pub use chain::SLENDER;

use crate::geometry::{Point, Polygon, Ring, bounds, distance, dot, ring_area, sub};
use crate::locate::Locator;
use crate::outline::cut::{self, Border, Face, Place, Side};
use crate::outline::{Finger, Flexure, FlexureEnd, Joins, LEVEL_UM, Outline, lowest};
use chain::{Chain, Stop, Verdict};
use graph::Graph;
use joins::Nodes;
use line::Station;
use std::collections::HashMap;
use wall::Runs;

/// Openings smaller than this share of their part, corner to corner, are release holes if they are compact.
const RELEASE_HOLE: f64 = 0.08;

/// Pieces of a stretch of a middle line that are looked at one by one.
const PIECES: usize = 16;

/// Shares that differ by this are alike.
const ROUNDING: f64 = 1e-9;

/// What is slender in an outline.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Slender {
    /// Flexures, numbered from the lower left: by the lowest, then leftmost corner.
    pub flexures: Vec<Flexure>,
    /// Fingers in the same order.
    pub fingers: Vec<Finger>,
    /// Middles of strips to anchors that are no flexures because a named mass lies over them.
    pub covered: Vec<Point>,
    /// Points in strips of which nothing was made: neither flexures nor known as parts of bodies.
    pub unrecognised: Vec<Point>,
}

/// Finds what is slender.
pub fn find(outline: &Outline) -> Slender {
    let borders = cut::borders(&outline.parts);
    let kept: Vec<bool> = kept_rings(&borders);
    let runs = Runs::new(&borders, |ring| kept[ring]);
    let mut graph = Graph::new(&runs, leg::legs(&runs), |ring| kept[ring]);
    let masses = Locator::new(outline.masses.iter().map(|m| m.polygons.as_slice()));
    let boxes: Vec<_> = outline.parts.iter().map(|p| bounds(&p.polygon.outer).unwrap_or_default()).collect();
    let part_um2 = |at: Point| {
        let near =
            outline.parts.iter().zip(&boxes).filter(|(_, [a, b])| (0..2).all(|k| a[k] <= at[k] && at[k] <= b[k]));
        near.map(|(part, _)| &part.polygon).find(|p| p.contains(at)).map_or(0.0, |p| p.area())
    };
    let chains = chain::chains(&mut graph, |line| mostly_inside(line, &masses), part_um2);
    let nodes = Nodes::new(&graph, &chains, &outline.masses, &masses);
    let mut flexures: Vec<(usize, Flexure)> = Vec::new();
    let mut fingers: Vec<Finger> = Vec::new();
    let (faces, face_of) = cut_out(&runs, &graph, &chains);
    for (c, face) in face_of {
        let (chain, face) = (&chains[c], &faces[face]);
        let ends = [0, 1].map(|k| {
            let (l, e) = chain.ends[k];
            let root = graph::root(&runs, &graph.legs[l], e).map(|p| p.at);
            FlexureEnd { root, joins: nodes.joins(chain.stops[k], root) }
        });
        if chain.verdict == Verdict::Finger {
            // What is held, by an island inside it for instance, does not hang on its root.
            if !face.loops().flat_map(|l| &l.sides).any(|side| is_held(&borders, side)) {
                fingers.push(finger(&graph, chain, face, &ends));
            }
        } else {
            flexures.push((c, flexure(outline, chain, face, ends)));
        }
    }
    sort_by_start(&mut fingers, |f| &f.area);
    let flexures = numbered(flexures);
    let covered = chains.iter().filter(|c| c.in_mass).filter_map(|c| Some(c.line.get(c.line.len() / 2)?.at));
    let covered = covered.collect();
    let unrecognised = unseen::unrecognised(outline, &borders, &kept, &graph, &chains, &flexures);
    Slender { flexures, fingers, covered, unrecognised }
}

/// Whether most of a middle line runs in named masses.
fn mostly_inside(line: &[Station], masses: &Locator) -> bool {
    // An even number of pieces, so that a mass that ends halfway takes half and no border decides.
    let inside = line.windows(2).map(|w| {
        let at = |piece: usize| {
            let share = (piece as f64 + 0.5) / PIECES as f64;
            [0, 1].map(|k| w[0].at[k] + share * (w[1].at[k] - w[0].at[k]))
        };
        let l = distance(w[0].at, w[1].at);
        let pieces = (0..PIECES).filter(|piece| masses.find(at(*piece)).is_some()).count();
        (l, l * pieces as f64 / PIECES as f64)
    });
    let (all, inside) = inside.fold((0.0, 0.0), |s, w| (s.0 + w.0, s.1 + w.1));
    // Half of it is not most of it, whatever rounding says.
    inside > (0.5 + ROUNDING) * all
}

/// The outline cut along the root lines of flexures and fingers only: its faces, and which of them each of these chains is.
fn cut_out(runs: &Runs, graph: &Graph, chains: &[Chain]) -> (Vec<Face>, Vec<(usize, usize)>) {
    let mut roots: Vec<[Place; 2]> = Vec::new();
    let mut wanted: Vec<(usize, Option<usize>)> = Vec::new();
    for (c, chain) in chains.iter().enumerate().filter(|(_, c)| c.verdict != Verdict::Body) {
        let first = roots.len();
        for ((l, e), stop) in chain.ends.iter().zip(chain.stops) {
            if matches!(stop, Stop::Node(_)) {
                roots.push(graph::root(runs, &graph.legs[*l], *e));
            }
        }
        wanted.push((c, (roots.len() > first).then_some(first)));
    }
    let faces = cut::faces(runs.borders, |_| true, &roots);
    let mut face_of_root: Vec<Option<usize>> = vec![None; roots.len()];
    for (f, face) in faces.iter().enumerate() {
        face.chords().filter(|(_, forward)| *forward).for_each(|(c, _)| face_of_root[c] = Some(f));
    }
    // From anchor to anchor it is a part of its own.
    let part = |c: usize| runs.borders[runs.place(&graph.legs[chains[c].legs[0].0].rungs[0].p).ring].part;
    let face = |(c, first): (usize, Option<usize>)| {
        let whole = || faces.iter().position(|f| f.part == part(c));
        Some((c, first.map_or_else(whole, |root| face_of_root[root])?))
    };
    let face_of = wanted.into_iter().filter_map(face).collect();
    (faces, face_of)
}

fn finger(graph: &Graph, chain: &Chain, face: &Face, ends: &[FlexureEnd; 2]) -> Finger {
    let base = usize::from(matches!(chain.stops[0], Stop::Free(_)));
    let (l, e) = chain.ends[1 - base];
    let (tip, out) = (graph.legs[l].end(e).middle(), graph.legs[l].outward(e));
    let beyond = |n: usize| graph.border(n).into_iter().flatten().map(|p| dot(sub(*p, tip), out));
    let cap = match chain.stops[1 - base] {
        Stop::Free(n) if n < graph.nodes.len() => beyond(n).fold(0.0, f64::max),
        _ => 0.0,
    };
    let length_um = chain.length() + cap;
    Finger { area: canonical(face), root: ends[base].root, length_um, width_um: chain.narrowest() }
}

fn flexure(outline: &Outline, chain: &Chain, face: &Face, ends: [FlexureEnd; 2]) -> Flexure {
    let area = canonical(face);
    Flexure {
        centre_line: chain.line.iter().map(|s| s.at).collect(),
        widths_um: chain.line.iter().map(|s| s.width).collect(),
        length_um: chain.length(),
        width_um: chain.narrowest(),
        ligament_um: perforated::ligament_um(&area, outline.parts.iter().map(|p| &p.polygon)),
        ends,
        area,
    }
}

/// Flexures in their order; where their ends name a chain that joins them, it is named by its number among them.
fn numbered(mut flexures: Vec<(usize, Flexure)>) -> Vec<Flexure> {
    sort_by_start(&mut flexures, |f| &f.1.area);
    let order: HashMap<usize, usize> = flexures.iter().enumerate().map(|(i, f)| (f.0, i)).collect();
    let mut flexures: Vec<Flexure> = flexures.into_iter().map(|f| f.1).collect();
    for end in flexures.iter_mut().flat_map(|f| &mut f.ends) {
        if let Joins::Flexure(c) = end.joins {
            end.joins = order.get(&c).copied().map_or(Joins::Frame, Joins::Flexure);
        }
    }
    flexures
}

fn is_held(borders: &[Border], side: &Side) -> bool {
    matches!(side, Side::Wall { ring, segment } if borders[*ring].held[*segment])
}

/// Lowest first, then leftmost, then the smaller.
fn sort_by_start<T>(items: &mut [T], area: impl Fn(&T) -> &Polygon) {
    let start = |item: &T| area(item).outer.first().copied().unwrap_or_default();
    items.sort_by(|a, b| crate::boolean::by_start(&area(a).outer, &area(b).outer));
    for level in items.chunk_by_mut(|a, b| start(b)[1] - start(a)[1] < LEVEL_UM) {
        level.sort_by(|a, b| {
            let size = |item: &T| ring_area(&area(item).outer).abs();
            start(a)[0].total_cmp(&start(b)[0]).then(size(a).total_cmp(&size(b)))
        });
    }
}

/// Which rings are no release holes.
fn kept_rings(borders: &[Border]) -> Vec<bool> {
    let mut size = 0.0;
    borders
        .iter()
        .map(|b| {
            let [low, high] = bounds(b.points).unwrap_or_default();
            let (w, h) = (high[0] - low[0], high[1] - low[1]);
            if b.number == 0 {
                size = w.hypot(h);
                return true;
            }
            let filled = ring_area(b.points).abs() / (w * h);
            b.held.contains(&true) || w.hypot(h) >= RELEASE_HOLE * size || w.max(h) >= 3.0 * w.min(h) || filled <= 0.4
        })
        .collect()
}

/// The face with rings that start at their lowest, then leftmost corner.
fn canonical(face: &Face) -> Polygon {
    let mut polygon = face.polygon();
    let turn = |r: &mut Ring| {
        let first = lowest(r);
        r.rotate_left(first);
    };
    turn(&mut polygon.outer);
    polygon.holes.iter_mut().for_each(turn);
    polygon.holes.sort_by(crate::boolean::by_start);
    polygon
}

#[cfg(test)]
mod tests;
