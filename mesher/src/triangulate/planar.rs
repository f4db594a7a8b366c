//! From strands to a planar graph of short edges. In: strands of the outline, the wedge to keep, sizes. Out: points, and edges that
//! meet only at points, each with the strand (wall, border of a mass, mirror axis) that it is a cut of.

use super::strand::{Role, Strands};
use super::symmetry::{Frame, in_wedge};
use crate::curve::{Facets, Piece};
use crate::geometry::{Point, cross, dot, middle};
use crate::sizing::{Parts, Sizing};
use std::collections::HashMap;
use std::sync::Arc;

/// The graph.
#[derive(Debug, Default)]
pub struct Planar {
    /// Points, µm.
    pub points: Vec<Point>,
    /// Ends of each edge, from and to in the strand's direction.
    pub edges: Vec<[u32; 2]>,
    /// Strand of each edge.
    pub strand_of: Vec<u32>,
    /// Role of each strand.
    pub roles: Vec<Role>,
    /// Facets of each strand.
    pub facets: Vec<Option<Arc<Facets>>>,
}

/// A part of a strand that lies in the wedge.
struct Kept {
    piece: Piece,
    role: Role,
    /// How it is cut where the sizing has no say.
    parts: Option<Parts>,
}

impl Planar {
    /// What a strand is; none for no strand.
    pub fn role(&self, strand: u32) -> Option<Role> {
        self.roles.get(strand as usize).copied()
    }

    /// The facets that a strand lies on.
    pub fn facets(&self, strand: u32) -> Option<&Facets> {
        self.facets.get(strand as usize)?.as_deref()
    }

    /// The graph of what lies in the wedge of the frame; `finer` divides the turn allowed to an edge of an arc.
    pub fn new(strands: &Strands, frame: &Frame, sizing: &Sizing, finer: f64) -> Self {
        let sides = frame.sides();
        let mut kept = in_the_wedge(strands, frame, &sides);
        for (which, &u) in sides.iter().enumerate() {
            let along = along_side(strands, frame, which, u, &kept);
            kept.extend(along);
        }
        let mut planar = Self::default();
        let mut numbers: HashMap<[u64; 2], u32> = HashMap::new();
        for Kept { piece, role, parts } in kept {
            let strand = planar.roles.len() as u32;
            planar.roles.push(role);
            planar.facets.push(piece.facets().cloned());
            let mut before = planar.number(&mut numbers, piece.from);
            for t in parts.map_or_else(|| sizing.cuts(&piece, finer), |parts| parts.shares(&piece)) {
                let p = match role {
                    Role::Axis(which) => foot(sides[which as usize], piece.at(t)),
                    _ => piece.at(t),
                };
                let next = planar.number(&mut numbers, p);
                planar.link(before, next, strand);
                before = next;
            }
            let last = planar.number(&mut numbers, piece.to);
            planar.link(before, last, strand);
        }
        planar
    }

    fn number(&mut self, numbers: &mut HashMap<[u64; 2], u32>, p: Point) -> u32 {
        // Adding 0 turns -0 into 0.
        *numbers.entry(p.map(|x| (x + 0.0).to_bits())).or_insert_with(|| {
            self.points.push(p.map(|x| x + 0.0));
            (self.points.len() - 1) as u32
        })
    }

    fn link(&mut self, from: u32, to: u32, strand: u32) {
        if from != to {
            self.edges.push([from, to]);
            self.strand_of.push(strand);
        }
    }
}

/// Strands cut at the sides of the wedge, those parts of them that lie in it.
fn in_the_wedge(strands: &Strands, frame: &Frame, sides: &[Point]) -> Vec<Kept> {
    let near_axis = frame.on_axis_um();
    let mut kept = Vec::new();
    for strand in &strands.strands {
        let mut cuts = strand.cuts.clone();
        for &u in sides {
            cuts.extend(crossings(&strand.piece, u, near_axis));
        }
        for c in &mut cuts {
            c.1 = snapped(frame, sides, c.1);
        }
        cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
        let end = (1.0, snapped(frame, sides, strand.piece.to));
        let mut from = (0.0, snapped(frame, sides, strand.piece.from));
        for cut in cuts.into_iter().chain([end]) {
            if cut.0 < 1.0 && (cut.1 == from.1 || cut.1 == end.1) {
                continue;
            }
            let piece = strand.piece.part(from.0, cut.0, from.1, cut.1);
            let whole_turn = from.0 == 0.0 && cut.0 == 1.0 && strand.piece.from == strand.piece.to;
            let middle = piece.at(0.5);
            let on_axis = strand.role == Role::Border && sides.iter().any(|u| cross(*u, middle).abs() <= near_axis);
            if (cut.1 != from.1 || whole_turn) && in_wedge(frame.axes, middle) && !on_axis {
                kept.push(Kept { piece, role: strand.role, parts: strand.parts });
            }
            from = cut;
        }
    }
    kept
}

/// A point, on the side of the wedge that it lies next to.
fn snapped(frame: &Frame, sides: &[Point], p: Point) -> Point {
    let near_axis = frame.on_axis_um();
    if !sides.is_empty() && p[0].hypot(p[1]) <= near_axis {
        return [0.0, 0.0];
    }
    let on = |u: &&Point| cross(**u, p).abs() <= near_axis && (dot(**u, p) >= 0.0 || frame.axes == 1);
    sides.iter().find(on).map_or(p, |u| foot(*u, p))
}

/// What of a side of the wedge, along `u`, lies in the material: between the ends of what is kept.
fn along_side(strands: &Strands, frame: &Frame, which: usize, u: Point, kept: &[Kept]) -> Vec<Kept> {
    // Each stop keeps its point: projecting it again could move it by a rounding error.
    let mut stops: Vec<(f64, Point)> = if frame.axes > 1 { vec![(0.0, [0.0, 0.0])] } else { Vec::new() };
    for p in kept.iter().flat_map(|k| [k.piece.from, k.piece.to]) {
        let along = dot(u, p);
        if cross(u, p).abs() <= 1e-9 && (along >= 0.0 || frame.axes == 1) {
            stops.push((along, p));
        }
    }
    stops.sort_by(|a, b| a.0.total_cmp(&b.0));
    stops.dedup_by(|a, b| (a.0 - b.0).abs() < 1e-9);
    let mut found = Vec::new();
    for pair in stops.windows(2) {
        let (a, b) = (pair[0].1, pair[1].1);
        let middle = middle(a, b);
        if strands.material.find(middle).is_some() {
            let (from, to) = if which == 0 { (a, b) } else { (b, a) };
            let role = Role::Axis(which as u8);
            found.push(Kept { piece: Piece::straight(from, to, false), role, parts: strands.parts_at(middle) });
        }
    }
    found
}

/// The point next to `p` exactly on the line through the origin along `u`.
fn foot(u: Point, p: Point) -> Point {
    u.map(|x| x * dot(u, p))
}

/// Where a piece crosses the line through the origin along `u`, ends nearer to it than `near_axis` left out: shares and points.
fn crossings(piece: &Piece, u: Point, near_axis: f64) -> Vec<(f64, Point)> {
    let (mut found, mut before, mut on) = (Vec::new(), None, None);
    for (t, p) in piece.corners() {
        let off = cross(u, p);
        if off.abs() <= near_axis {
            on = Some(t);
            continue;
        }
        if let Some((t0, off0)) = before.filter(|(_, off0)| off0 * off < 0.0) {
            found.push(on.unwrap_or(t0 + (t - t0) * off0 / (off0 - off)));
        }
        (before, on) = (Some((t, off)), None);
    }
    found.into_iter().map(|t: f64| (t, foot(u, piece.at(t)))).collect()
}
