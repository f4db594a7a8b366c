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
mod leg;
mod line;
mod perforated;
mod ring;
mod unseen;
mod wall;

pub use chain::SLENDER;

use crate::geometry::{NamedArea, Point, Polygon, Ring, ahead, bounds, distance, dot, middle, ring_area, sub, unit};
use crate::locate::Locator;
use crate::outline::cut::{self, Border, Face, Place, Side};
use crate::outline::{Finger, Flexure, FlexureEnd, Joins, LEVEL_UM, Outline, lowest};
use chain::{Chain, Stop, Verdict};
use graph::{End, Graph};
use line::Station;
use std::collections::HashMap;
use wall::Runs;

/// Openings smaller than this share of their part, corner to corner, are release holes if they are compact.
const RELEASE_HOLE: f64 = 0.08;

/// Strips up to so many times as wide as the widest flexure, or as the material of a part is on the whole, carry load as flexures do.
const AS_NARROW: f64 = 1.4;

/// What is thinner than this share of the narrowest flexure is the rim of something known; without flexures, than this, µm.
const RIM: f64 = 0.1;
const LEAST_UM: f64 = 0.05;

/// Outlines of more corners are not searched for wide strips: borders moved that far cross each other as often as its square.
const MOST_CORNERS: usize = 400;

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
    let inside_mass = |line: &[Station]| {
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
    };
    let chains = chain::chains(&mut graph, inside_mass);
    let bodies = chain::bodies(&graph, &chains);
    let joints = chain::joints(&graph, &chains, &bodies);
    let named = named_bodies(&outline.masses, &graph, &chains, &bodies);
    let at_node = ends_at_nodes(&graph, &chains);
    let mut flexures: Vec<(usize, Flexure)> = Vec::new();
    let mut fingers: Vec<Finger> = Vec::new();
    // Cut the outline again, along the root lines of flexures and fingers only.
    let mut roots: Vec<[Place; 2]> = Vec::new();
    let mut wanted: Vec<(usize, Option<usize>)> = Vec::new();
    for (c, chain) in chains.iter().enumerate().filter(|(_, c)| c.verdict != Verdict::Body) {
        let first = roots.len();
        for ((l, e), stop) in chain.ends.iter().zip(chain.stops) {
            if matches!(stop, Stop::Node(_)) {
                roots.push(graph::root(&runs, &graph.legs[*l], *e));
            }
        }
        wanted.push((c, (roots.len() > first).then_some(first)));
    }
    let faces = cut::faces(&borders, |_| true, &roots);
    let mut face_of_root: Vec<Option<&Face>> = vec![None; roots.len()];
    for face in &faces {
        face.chords().filter(|(_, forward)| *forward).for_each(|(c, _)| face_of_root[c] = Some(face));
    }
    for (c, first) in wanted {
        let chain = &chains[c];
        let face = match first {
            Some(root) => face_of_root[root],
            None => {
                faces.iter().find(|f| f.part == borders[runs.place(&graph.legs[chain.legs[0].0].rungs[0].p).ring].part)
            }
        };
        let Some(face) = face else { continue };
        let area = canonical(face);
        let ends = [0, 1].map(|k| {
            let (l, e) = chain.ends[k];
            let root = graph::root(&runs, &graph.legs[l], e).map(|p| p.at);
            let joins = match chain.stops[k] {
                Stop::Node(n) => {
                    joins(&graph, joints[n].then(|| at_node[n].as_slice()), named[bodies[n]], &masses, root)
                }
                _ => Joins::Anchor,
            };
            FlexureEnd { root, joins }
        });
        let width_um = chain.line.iter().map(|s| s.width).fold(f64::INFINITY, f64::min);
        if chain.verdict == Verdict::Finger {
            // What is held, by an island inside it for instance, does not hang on its root.
            if face.loops().flat_map(|l| &l.sides).any(|side| is_held(&borders, side)) {
                continue;
            }
            let base = usize::from(matches!(chain.stops[0], Stop::Free(_)));
            let (l, e) = chain.ends[1 - base];
            let (tip, out) = (graph.legs[l].end(e).middle(), graph.legs[l].outward(e));
            let beyond = |n: usize| graph.border(n).into_iter().flatten().map(|p| dot(sub(*p, tip), out));
            let cap = match chain.stops[1 - base] {
                Stop::Free(n) if n < graph.nodes.len() => beyond(n).fold(0.0, f64::max),
                _ => 0.0,
            };
            fingers.push(Finger { area, root: ends[base].root, length_um: chain.length() + cap, width_um });
        } else {
            let centre_line: Vec<Point> = chain.line.iter().map(|s| s.at).collect();
            let widths_um = chain.line.iter().map(|s| s.width).collect();
            let ligament_um = perforated::ligament_um(&area, outline.parts.iter().map(|p| &p.polygon));
            let length_um = chain.length();
            flexures.push((c, Flexure { area, centre_line, widths_um, length_um, width_um, ligament_um, ends }));
        }
    }
    sort_by_start(&mut fingers, |f| &f.area);
    sort_by_start(&mut flexures, |f| &f.1.area);
    // Joints name chains; now they name flexures.
    let order: HashMap<usize, usize> = flexures.iter().enumerate().map(|(i, f)| (f.0, i)).collect();
    let mut flexures: Vec<Flexure> = flexures.into_iter().map(|f| f.1).collect();
    for end in flexures.iter_mut().flat_map(|f| &mut f.ends) {
        if let Joins::Flexure(c) = end.joins {
            end.joins = order.get(&c).copied().map_or(Joins::Frame, Joins::Flexure);
        }
    }
    let covered = chains.iter().filter(|c| c.in_mass).filter_map(|c| Some(c.line.get(c.line.len() / 2)?.at));
    let covered = covered.collect();
    let unrecognised = unrecognised(outline, &borders, &kept, &graph, &chains, &flexures);
    Slender { flexures, fingers, covered, unrecognised }
}

/// Points in slender strips of which nothing was made: those without a leg, and legs that end where material goes on.
fn unrecognised(
    outline: &Outline,
    borders: &[Border],
    kept: &[bool],
    graph: &Graph,
    chains: &[Chain],
    flexures: &[Flexure],
) -> Vec<Point> {
    let cut_off = chains.iter().filter(|c| c.cut_off(graph));
    let mut out: Vec<Point> = cut_off.filter_map(|c| Some(c.line.get(c.line.len() / 2)?.at)).collect();
    let mut material: Vec<Polygon> = Vec::new();
    for border in borders.iter().zip(kept).filter(|(_, kept)| **kept).map(|(b, _)| b) {
        match material.last_mut().filter(|_| border.number > 0) {
            Some(part) => part.holes.push(border.points.clone()),
            None => material.push(Polygon::solid(border.points.clone())),
        }
    }
    let widest = flexures.iter().flat_map(|f| &f.widths_um).fold(0.0_f64, |m, w| m.max(*w));
    let narrowest = flexures.iter().map(|f| f.width_um).fold(f64::INFINITY, f64::min);
    let thinnest = if flexures.is_empty() { LEAST_UM } else { RIM * narrowest };
    let on_the_whole = material.iter().map(|p| unseen::length_and_width(p)[1]).fold(0.0, f64::max);
    let anchors: Vec<Polygon> = outline.anchors.iter().chain(&outline.islands).cloned().collect();
    let strips = |legs: &mut dyn Iterator<Item = usize>, width: f64| {
        let faces = legs.filter_map(|l| graph.face_of[l]).map(|f| graph.faces[f].polygon());
        let known: Vec<Polygon> = faces.chain(flexures.iter().map(|f| f.area.clone())).collect();
        unseen::strips(&material, &anchors, &known, [thinnest, AS_NARROW * width])
    };
    if widest > 0.0 {
        out.extend(strips(&mut (0..graph.legs.len()), widest).into_iter().map(|s| s.at));
    }
    // What ends on an anchor carries the part, however wide; short stretches between the teeth of a wall are none that anything was
    // made of. Elsewhere such strips are the webs of frames and lattices.
    if material.iter().flat_map(Polygon::rings).map(Vec::len).sum::<usize>() > MOST_CORNERS {
        return out;
    }
    let mut slender = chains.iter().filter(|c| c.slender()).flat_map(|c| &c.legs).map(|(l, _)| *l);
    let held = strips(&mut slender, on_the_whole).into_iter().filter(|s| s.held).map(|s| s.at);
    let new = |at: &Point| out.iter().all(|other| distance(*other, *at) > on_the_whole);
    let held: Vec<Point> = held.filter(new).collect();
    out.extend(held);
    out
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

/// The only named mass of every body, by the body's first node.
fn named_bodies(masses: &[NamedArea], graph: &Graph, chains: &[Chain], bodies: &[usize]) -> Vec<Option<usize>> {
    let mut named: Vec<Vec<usize>> = vec![Vec::new(); bodies.len()];
    let nodes = graph.nodes.iter().zip(bodies).filter_map(|(node, body)| Some((*body, node.face?)));
    let legs = chains.iter().filter(|c| c.verdict == Verdict::Body).flat_map(|c| &c.legs);
    let legs = legs.filter_map(|(l, _)| Some((bodies[*graph.at[*l].iter().flatten().next()?], graph.face_of[*l]?)));
    let faces: Vec<(usize, Polygon)> = nodes.chain(legs).map(|(body, f)| (body, graph.faces[f].polygon())).collect();
    let locator = Locator::new(faces.iter().map(|(_, p)| std::slice::from_ref(p)));
    for (m, mass) in masses.iter().enumerate() {
        for p in mass.polygons.iter().filter_map(Polygon::inner_point) {
            if let Some(k) = locator.find(p) {
                let body = faces[usize::from(k)].0;
                if !named[body].contains(&m) {
                    named[body].push(m);
                }
            }
        }
    }
    named.into_iter().map(|m| if m.len() == 1 { Some(m[0]) } else { None }).collect()
}

/// For every node the flexures that end on it, in their order, with the end.
fn ends_at_nodes(graph: &Graph, chains: &[Chain]) -> Vec<Vec<(usize, End)>> {
    let mut at: Vec<Vec<(usize, End)>> = vec![Vec::new(); graph.nodes.len()];
    for (c, chain) in chains.iter().enumerate().filter(|(_, c)| c.verdict == Verdict::Flexure) {
        for end in chain.ends {
            if let Some(n) = graph.at[end.0][end.1] {
                at[n].push((c, end));
            }
        }
    }
    at
}

/// What a root line on a node joins; a joint, of which the flexures that end there are given, gives the number of another of
/// them.
fn joins(
    graph: &Graph,
    joint: Option<&[(usize, End)]>,
    named: Option<usize>,
    masses: &Locator,
    root: [Point; 2],
) -> Joins {
    let mut other = joint.into_iter().flatten();
    if let Some((c, _)) = other.find(|(_, (l, e))| graph::root_differs(&graph.legs[*l], *e, root)) {
        return Joins::Flexure(*c);
    }
    let width = distance(root[0], root[1]);
    let out = unit(root[0], root[1]);
    let beyond = [0.5, 0.1].map(|share| ahead(middle(root[0], root[1]), [out[1], -out[0]], share * width));
    let mass = beyond.iter().find_map(|p| masses.find(*p)).map(usize::from).or(named);
    mass.map_or(Joins::Frame, Joins::Mass)
}

#[cfg(test)]
mod tests;
