//! A root line on a mesh: where a beam's end section meets shells or solids. In: mesh, end points of the line, section.
//! Out: the section's six motions as weighted averages of the unknowns on the line.
//!
//! The averages are those that do work with the resultants: motion i is ∫ τ_i · u dA, τ_i the Saint-Venant tractions of the
//! unit resultant i. A rigid motion of the line gives itself, because the tractions are statically equivalent to their
//! resultants; what the averages leave out (the line's true stress has corners) is put right by the root cell.

use crate::element::basis::evaluate;
use crate::element::plane::map;
use crate::element::quadrature::gauss;
use crate::section::TractionMoments;
use crate::system::{ElementMatrices, Layer, Unknowns};
use modalith_mesher::geometry::Point;
use modalith_mesher::mesh::Mesh;
use std::collections::BTreeMap;

/// Gauss points along an edge: the tractions are polynomials of the section's degree, the shape functions of at most 8.
const POINTS: usize = 14;

/// A beam's frame at a section: where its middle is and where its axis points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    /// Middle of the section, m.
    pub origin: [f64; 2],
    /// Direction of the beam's axis, rad from the layout's x.
    pub angle: f64,
}

/// Boundary edges of a mesh along a straight line.
#[derive(Clone, Debug, PartialEq)]
pub struct RootLine {
    /// Triangle and local edge.
    edges: Vec<(usize, usize)>,
}

impl RootLine {
    /// The boundary edges between two points (µm); `None` unless they cover the whole line.
    pub fn find(mesh: &Mesh, [a, b]: [Point; 2]) -> Option<Self> {
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        let along = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
        // A root on a curved wall: the mesh follows the arc, a little off its chord.
        let near = 4e-3 * length;
        let on_line = |p: Point| {
            let r = [p[0] - a[0], p[1] - a[1]];
            let (s, off) = (r[0] * along[0] + r[1] * along[1], r[1] * along[0] - r[0] * along[1]);
            off.abs() <= near && s >= -near && s <= length + near
        };
        let mut uses = vec![0u8; mesh.edges.len()];
        mesh.triangle_edges.iter().flatten().for_each(|&e| uses[e as usize] += 1);
        let (mut edges, mut covered) = (Vec::new(), 0.0);
        for (t, own) in mesh.triangle_edges.iter().enumerate() {
            for (k, &e) in own.iter().enumerate() {
                let ends = mesh.edges[e as usize].ends.map(|c| mesh.points[c as usize]);
                if uses[e as usize] == 1 && ends.iter().all(|p| on_line(*p)) {
                    edges.push((t, k));
                    covered += (ends[1][0] - ends[0][0]).hypot(ends[1][1] - ends[0][1]);
                }
            }
        }
        ((covered / length - 1.0).abs() < 1e-3).then_some(Self { edges })
    }

    /// The section's motions (u, v, w along the beam's axes; turns about them) as weights of the free unknowns: for every
    /// unknown its number and its share in each of the six.
    pub fn motions(
        &self,
        mesh: &Mesh,
        layer: &Layer,
        unknowns: &Unknowns,
        axis: &Axis,
        tractions: &TractionMoments,
    ) -> BTreeMap<u32, [f64; 6]> {
        let mut weights: BTreeMap<u32, [f64; 6]> = BTreeMap::new();
        let prisms = ElementMatrices::new(mesh, layer);
        let (sin, cos) = axis.angle.sin_cos();
        for &(t, k) in &self.edges {
            let fields = layer.fields_of(t);
            let sides = prisms.sides_m(t);
            let (a, b) = (sides[k], sides[(k + 1) % 3]);
            // What of the edge lies across the beam: a root line need not be square to it.
            let length = ((b[1] - a[1]) * cos - (b[0] - a[0]) * sin).abs();
            let numbers = unknowns.of_triangle(mesh, t);
            let flips = prisms.flips(t);
            for (s, ws) in gauss(POINTS) {
                let share = 0.5 * (1.0 + s);
                let place = [[share, 0.0], [1.0 - share, share], [0.0, 1.0 - share]][k];
                let at = map(&sides, place).0;
                let y = (at[1] - axis.origin[1]) * cos - (at[0] - axis.origin[0]) * sin;
                // ∫ τ P_k dz for every field.
                let by_degree = tractions.at(y);
                let of_field = fields.iter().map(|field| {
                    by_degree[usize::from(field.degree)].map(|local| {
                        let layout = [cos * local[0] - sin * local[1], sin * local[0] + cos * local[1], local[2]];
                        layout[usize::from(field.axis)]
                    })
                });
                let of_field: Vec<[f64; 6]> = of_field.collect();
                let values = evaluate(unknowns.order(), place).value;
                for (c, value) in values.iter().enumerate().filter(|(_, v)| **v != 0.0) {
                    let value = value * ws * 0.5 * length * if flips[c] { -1.0 } else { 1.0 };
                    for (f, row) in of_field.iter().enumerate() {
                        let Some(number) = numbers[c * fields.len() + f] else { continue };
                        let own = weights.entry(number).or_default();
                        own.iter_mut().zip(row).for_each(|(sum, w)| *sum += value * w);
                    }
                }
            }
        }
        weights.retain(|_, w| w.iter().any(|x| *x != 0.0));
        weights
    }
}
