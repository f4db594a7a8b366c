//! The wide parts of a layout: what is left of its outline without beams, and meshes of it. In: an outline. Out: what is not a beam, a
//! coarse mesh of it, and that mesh moved with its edges.

use super::BeamShell;
use crate::joint::cell;
use modalith_mesher::geometry::{NamedArea, Point, Polygon, Ring, bounds};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::MeshMotion;
use modalith_mesher::outline::{Flexure, Joins, Outline};
use modalith_mesher::triangulate::{MeshSize, TriangulateError, triangulate_keeping};
use std::collections::BTreeMap;

/// Largest edge of the wide parts' mesh: the diagonal over this.
const COARSE: f64 = 6.0;
/// How near a corner of the mesh lies to the point of a root line that it is, µm.
const THERE_UM: f64 = 1e-6;

/// What is left of an outline without its beams.
#[derive(Clone, Debug)]
pub struct Wide {
    /// Flexures that are beams.
    pub beams: Vec<usize>,
    outline: Outline,
    /// Openings that were filled.
    pub filled_holes: Vec<Polygon>,
    /// Points of root lines that a mesh keeps, µm.
    kept: Vec<Point>,
}

impl Wide {
    /// `beams` are the flexures that are taken out.
    pub fn of(outline: &Outline, beams: Vec<usize>, holes_below_um: Option<f64>) -> Self {
        let bodies = outline.bodies(&beams, true, holes_below_um);
        let wide = Outline {
            parts: bodies.parts,
            masses: outline.masses.iter().map(|m| without_small_holes(m, holes_below_um)).collect(),
            mirrors: outline.mirrors.clone(),
            ..Outline::default()
        };
        let on_mesh = |f: &Flexure| f.ends.into_iter().filter(|e| e.joins != Joins::Anchor);
        let mut kept: Vec<Point> =
            beams.iter().flat_map(|&i| on_mesh(&outline.flexures[i])).flat_map(|e| e.root).collect();
        kept.extend(outline.fingers.iter().flat_map(|f| f.root));
        Self { beams, outline: wide, filled_holes: bodies.filled_holes, kept }
    }

    fn area_um2(&self) -> f64 {
        self.outline.parts.iter().map(|p| p.polygon.area()).sum()
    }

    /// A coarse mesh: the parts hardly bend, and their roots' stress concentrations are the cells' business.
    pub fn mesh(&self, size: &MeshSize) -> Result<Mesh, TriangulateError> {
        let wide = &self.outline;
        let diagonal = bounds(wide.parts.iter().flat_map(|p| &p.polygon.outer))
            .map_or(1.0, |[a, b]| (b[0] - a[0]).hypot(b[1] - a[1]));
        let largest_um = size.largest_um.unwrap_or(f64::INFINITY).min(diagonal / COARSE);
        let size = MeshSize { largest_um: Some(largest_um), grading: cell::GRADING, corner_ratio: 1.0, ..*size };
        triangulate_keeping(wide, &size, &self.kept).or_else(|_| {
            // Small pieces on a mirror axis can defeat the wedge mesher; the whole can still be meshed.
            triangulate_keeping(&Outline { mirrors: Vec::new(), ..wide.clone() }, &size, &self.kept)
        })
    }
}

impl BeamShell {
    /// This model's mesh moved to an outline whose etched edges lie `step_um` farther out, so that the difference of two models is
    /// physics and not noise of meshes; motions fade over `reach_um`. `None` where the outline is another one.
    pub fn mesh_moved_to(
        &self,
        outline: &Outline,
        holes_below_um: Option<f64>,
        step_um: f64,
        reach_um: f64,
    ) -> Option<Mesh> {
        let wide = Wide::of(outline, self.wide.beams.clone(), holes_below_um);
        if wide.kept.len() != self.wide.kept.len() || step_um == 0.0 {
            return None;
        }
        // Where a flexure was cut off the walls run on through its root: its ends are told how far to slide along them.
        let mut pinned = BTreeMap::new();
        for (&old, new) in self.wide.kept.iter().zip(&wide.kept) {
            let there = |p: &Point| (p[0] - old[0]).hypot(p[1] - old[1]) < THERE_UM;
            let corner = self.mesh.points.iter().position(there)?;
            pinned.insert(corner as u32, [0, 1].map(|k| (new[k] - old[k]) / step_um));
        }
        let motion = MeshMotion::of_edges(&self.mesh, reach_um, |_| 1.0, &pinned);
        motion.moved_between(&self.mesh, step_um, self.wide.area_um2(), wide.area_um2())
    }
}

/// A named mass whose small openings are filled like the layer's.
fn without_small_holes(mass: &NamedArea, below_um: Option<f64>) -> NamedArea {
    let small = |hole: &Ring| {
        let extent = bounds(hole).map_or(0.0, |[a, b]| (b[0] - a[0]).hypot(b[1] - a[1]));
        below_um.is_some_and(|limit| extent < limit)
    };
    let filled = |p: &Polygon| Polygon {
        outer: p.outer.clone(),
        holes: p.holes.iter().filter(|h| !small(h)).cloned().collect(),
    };
    NamedArea { name: mass.name.clone(), polygons: mass.polygons.iter().map(filled).collect() }
}
