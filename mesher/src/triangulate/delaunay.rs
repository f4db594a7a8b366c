//! Constrained Delaunay triangulation of the material. In: the planar graph of the wedge. Out: triangles on the left of walls, with
//! their neighbours and what lies along their edges.

use super::error::TriangulateError;
use super::planar::Planar;
use super::refine::{NONE, Triangle, Triangulation};
use super::strand::Role;
use super::symmetry::Frame;
use crate::geometry::{Point, middle};
use crate::sizing::LongParts;
use spade::{ConstrainedDelaunayTriangulation, HasPosition, InsertionError, Point2, Triangulation as _};
use std::collections::HashMap;

/// A point that knows its number.
struct Numbered {
    at: Point,
    number: u32,
}

impl HasPosition for Numbered {
    type Scalar = f64;
    fn position(&self) -> Point2<f64> {
        Point2::new(self.at[0], self.at[1])
    }
}

type Constrained = ConstrainedDelaunayTriangulation<Numbered>;

/// Delaunay triangulation of points, without constraints.
///
/// Points are not loaded together with the edges: that sets aside what rounding hides from the sweep in a hash set, and adds it
/// in the set's order, which is another one in every run. Another order numbers the triangles otherwise, and of points on one
/// circle makes other triangles. Points alone are set aside in a list.
fn unconstrained(points: &[Point]) -> Result<Constrained, InsertionError> {
    // Coordinates below the smallest that the triangulation accepts are rounding errors of 0.
    let tidy = |p: Point| p.map(|x| if x.abs() < 1e-40 { 0.0 } else { x });
    Constrained::bulk_load(points.iter().zip(0..).map(|(&p, number)| Numbered { at: tidy(p), number }).collect())
}

/// Makes constraints of edges, in their order; else gives the first that crosses another or ends in a point that is not there.
fn constrain(cdt: &mut Constrained, points: usize, edges: &[[u32; 2]]) -> Result<(), [u32; 2]> {
    let mut vertex = vec![None; points];
    cdt.vertices().for_each(|v| vertex[v.data().number as usize] = Some(v.fix()));
    for &edge in edges {
        let [Some(a), Some(b)] = edge.map(|i| vertex[i as usize]) else { return Err(edge) };
        if cdt.try_add_constraint(a, b).is_empty() {
            return Err(edge);
        }
    }
    Ok(())
}

/// Constrained Delaunay triangulation of the material on the left of the walls.
pub fn delaunay(planar: &Planar, frame: &Frame, long: &LongParts) -> Result<Triangulation, TriangulateError> {
    let points = &planar.points;
    let near = |[a, b]: [u32; 2]| frame.leave(middle(points[a as usize], points[b as usize]));
    let mut cdt =
        unconstrained(points).map_err(|_| TriangulateError::Coordinate { point: 0, at: frame.leave(points[0]) })?;
    let crossing = |edge| TriangulateError::Crossing { at: near(edge) };
    constrain(&mut cdt, points.len(), &planar.edges).map_err(crossing)?;
    let mut strand_of: HashMap<[u32; 2], (u32, u32)> = HashMap::with_capacity(planar.edges.len());
    for (&[a, b], &s) in planar.edges.iter().zip(&planar.strand_of) {
        if strand_of.insert([a.min(b), a.max(b)], (s, a)).is_some() {
            return Err(crossing([a, b]));
        }
    }
    let (faces, seeds) = faces(&cdt, planar, &strand_of).map_err(crossing)?;
    let inside = flooded(&faces, seeds, planar);
    let triangles = kept(&faces, &inside, planar).map_err(|edge| TriangulateError::Open { at: near(edge) })?;
    Ok(Triangulation::new(points.clone(), triangles, long))
}

/// Whether material ends at a strand.
fn is_wall(strand: u32, planar: &Planar) -> bool {
    strand != NONE && planar.roles[strand as usize] != Role::Border
}

/// All faces by number, with their neighbours and what lies along their edges, and those on the left of walls; else an edge that was
/// cut at a point that lies on it. `strand_of` gives the strand of an edge and the point it starts from.
fn faces(
    cdt: &Constrained,
    planar: &Planar,
    strand_of: &HashMap<[u32; 2], (u32, u32)>,
) -> Result<(Vec<Triangle>, Vec<usize>), [u32; 2]> {
    let none = Triangle { corners: [0; 3], next_to: [NONE; 3], strand: [NONE; 3] };
    let mut all = vec![none; cdt.num_all_faces()];
    let mut seeds: Vec<usize> = Vec::new();
    for face in cdt.inner_faces() {
        let me = &mut all[face.index()];
        for (k, edge) in face.adjacent_edges().into_iter().enumerate() {
            me.corners[k] = edge.from().data().number;
            me.next_to[k] = edge.rev().face().as_inner().map_or(NONE, |f| f.index() as u32);
            if !edge.is_constraint_edge() {
                continue;
            }
            let (a, b) = (edge.from().data().number, edge.to().data().number);
            let Some(&(strand, from)) = strand_of.get(&[a.min(b), a.max(b)]) else { return Err([a, b]) };
            me.strand[k] = strand;
            if is_wall(strand, planar) && from == a && seeds.last() != Some(&face.index()) {
                seeds.push(face.index());
            }
        }
    }
    Ok((all, seeds))
}

/// Which faces can be reached from some without crossing a wall.
fn flooded(faces: &[Triangle], mut open: Vec<usize>, planar: &Planar) -> Vec<bool> {
    let mut inside = vec![false; faces.len()];
    open.iter().for_each(|&t| inside[t] = true);
    while let Some(t) = open.pop() {
        let me = faces[t];
        for k in 0..3 {
            if !is_wall(me.strand[k], planar) && me.next_to[k] != NONE && !inside[me.next_to[k] as usize] {
                inside[me.next_to[k] as usize] = true;
                open.push(me.next_to[k] as usize);
            }
        }
    }
    inside
}

/// The faces inside, numbered anew; else an edge at which material goes on through a wall or ends without one.
fn kept(faces: &[Triangle], inside: &[bool], planar: &Planar) -> Result<Vec<Triangle>, [u32; 2]> {
    let mut number = vec![NONE; faces.len()];
    let all = (0..faces.len()).filter(|&t| inside[t]);
    all.clone().zip(0..).for_each(|(t, new)| number[t] = new);
    let renumbered = |t: usize| {
        let mut me = faces[t];
        for k in 0..3 {
            me.next_to[k] = number.get(me.next_to[k] as usize).copied().unwrap_or(NONE);
            if is_wall(me.strand[k], planar) == (me.next_to[k] != NONE) {
                return Err([me.corners[k], me.corners[(k + 1) % 3]]);
            }
        }
        Ok(me)
    };
    all.map(renumbered).collect()
}
