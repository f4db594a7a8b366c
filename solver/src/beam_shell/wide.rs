//! The wide parts of a layout: what is left of its outline without beams, and meshes of it. In: an outline. Out: what is not a beam, a
//! coarse mesh of it, and that mesh moved with its edges.

use super::error::BeamShellError;
use crate::joint::cell;
use crate::joint::line::RootLine;
use modalith_mesher::curve::distance;
use modalith_mesher::geometry::{NamedArea, Point, Polygon, Ring, bounds};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Flexure, Joins, Outline};
use modalith_mesher::triangulate::{MeshSize, TriangulateError, triangulate_keeping};

/// Largest edge of the wide parts' mesh: the diagonal over this.
const COARSE: f64 = 6.0;
/// Root lines whose ends lie up to so many times as far from another corner as those of one that cannot be meshed go with it.
const AS_NEAR: f64 = 1.5;

/// What is left of an outline without its beams.
#[derive(Clone, Debug)]
pub struct Wide {
    /// Flexures that are beams.
    pub beams: Vec<usize>,
    outline: Outline,
    /// Openings that were filled.
    pub filled_holes: Vec<Polygon>,
    /// Points of root lines that a mesh keeps, µm.
    pub kept: Vec<Point>,
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
        let mut kept: Vec<Point> = beams.iter().flat_map(|&i| roots(&outline.flexures[i])).flatten().collect();
        kept.extend(outline.fingers.iter().flat_map(|f| f.root));
        Self { beams, outline: wide, filled_holes: bodies.filled_holes, kept }
    }

    /// The wide parts with a mesh, and which of `beams` are left in them: where a corner lies so near to the end of a root line
    /// that no mesh takes both, that flexure is no beam.
    ///
    /// # Errors
    /// What a mesh fails for that is no matter of root lines, or where no beam is left.
    pub fn meshed(
        outline: &Outline,
        mut beams: Vec<usize>,
        holes_below_um: Option<f64>,
        size: &MeshSize,
    ) -> Result<(Self, Mesh, Vec<usize>), BeamShellError> {
        let mut left = Vec::new();
        loop {
            let wide = Self::of(outline, beams.clone(), holes_below_um);
            let (worst, error): (Vec<usize>, BeamShellError) = match wide.mesh(size) {
                Ok(mesh) => {
                    let off = |i: &usize| roots(&outline.flexures[*i]).find(|r| RootLine::find(&mesh, *r).is_none());
                    let missed: Vec<(usize, [Point; 2])> = beams.iter().filter_map(|i| Some((*i, off(i)?))).collect();
                    let Some((first, root)) = missed.first() else { return Ok((wide, mesh, left)) };
                    let at = [0, 1].map(|k| 0.5 * (root[0][k] + root[1][k]));
                    let error = BeamShellError::Root { number: first + 1, at };
                    (missed.into_iter().map(|(i, _)| i).collect(), error)
                }
                Err(e) => (e.near().map_or_else(Vec::new, |at| wide.crowded(outline, at)), e.into()),
            };
            beams.retain(|i| !worst.contains(i));
            if worst.is_empty() || beams.is_empty() {
                return Err(error);
            }
            left.extend(worst);
            left.sort_unstable();
        }
    }

    /// The beam whose root line passes a place, and those as near to another corner as that one.
    fn crowded(&self, outline: &Outline, at: Point) -> Vec<usize> {
        let off =
            |i: usize| roots(&outline.flexures[i]).flatten().map(|p| distance(p, at)).fold(f64::INFINITY, f64::min);
        let near = |i: &usize| off(*i) < outline.flexures[*i].width_um;
        let Some(worst) = self.beams.iter().copied().filter(near).min_by(|a, b| off(*a).total_cmp(&off(*b))) else {
            return Vec::new();
        };
        let corners = || self.outline.parts.iter().flat_map(|p| p.polygon.rings()).flatten();
        let gap = |i: usize| {
            let to_corner =
                |p: Point| corners().map(|c| distance(*c, p)).filter(|d| *d > 0.0).fold(f64::INFINITY, f64::min);
            roots(&outline.flexures[i]).flatten().map(to_corner).fold(f64::INFINITY, f64::min)
        };
        let limit = AS_NEAR * gap(worst);
        self.beams.iter().copied().filter(|&i| i == worst || gap(i) <= limit).collect()
    }

    pub fn area_um2(&self) -> f64 {
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

/// Root lines of a flexure that lie on the wide parts.
fn roots(flexure: &Flexure) -> impl Iterator<Item = [Point; 2]> {
    flexure.ends.into_iter().filter(|e| e.joins != Joins::Anchor).map(|e| e.root)
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
