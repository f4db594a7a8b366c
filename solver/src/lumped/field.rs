//! Displacement of any point of the layout: a body's rigid motion, a flexure's static shape between its ends. For
//! comparison with other models, and for pictures on any mesh of the same layout.

use super::spring::carried;
use super::{Body, Lumped};
use crate::mode::{Mode, Sampled, sampling_points};
use modalith_mesher::geometry::{Point, Polygon, closest, distance, share_along};
use modalith_mesher::locate::Locator;
use modalith_mesher::mesh::Mesh;
use nalgebra::Vector6;
use rayon::prelude::*;

/// On which piece of the model a point of the layout lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// On a body, by number.
    Body(usize),
    /// On a flexure.
    Flexure {
        /// Its number.
        flexure: usize,
        /// The stretch of its centre-line.
        stretch: usize,
        /// Where along the stretch, 0 to 1.
        share: f64,
    },
}

impl Lumped {
    /// The piece under a point, µm; outside of all, the nearest.
    pub fn place(&self, at: Point) -> Place {
        let mut nearest = (f64::INFINITY, Place::Body(0));
        for (number, body) in self.pieces.bodies.iter().enumerate() {
            let (Body::Moving(area) | Body::Held(area)) = body else { continue };
            if area.contains(at) {
                return Place::Body(number);
            }
            let far = border(area, at);
            if far < nearest.0 {
                nearest = (far, Place::Body(number));
            }
        }
        for (flexure, spring) in self.springs.iter().enumerate() {
            for (stretch, own) in spring.stretches.iter().enumerate() {
                let [from, to] = own.from_to_m.map(|p| p.map(|x| x * 1e6));
                let (share, off) = (share_along(at, from, to), distance(at, closest(at, from, to)));
                let far = off - 0.5e6 * own.width_at(share);
                if far < nearest.0 {
                    nearest = (far, Place::Flexure { flexure, stretch, share });
                }
            }
        }
        nearest.1
    }

    /// Displacement at mid-layer of a point in the layout, µm, along x, y, z, for given unknowns (such as a mode's
    /// shape), and the layer's slopes ∂u/∂z and ∂v/∂z there. In the unit of the unknowns, per metre for the slopes.
    pub fn motion(&self, shape: &[f64], at: Point, place: Place) -> ([f64; 3], [f64; 2]) {
        let at = at.map(|x| x * 1e-6);
        let motion = match place {
            Place::Body(body) => self.unknowns_of(body).map_or_else(Vector6::zeros, |own| {
                carried(at, self.inertia[body].centre_m) * Vector6::from_column_slice(&shape[own])
            }),
            Place::Flexure { flexure, stretch, share } => {
                let spring = &self.springs[flexure];
                let section = spring.shape(stretch, share) * self.ends(flexure, shape);
                carried(at, spring.stretches[stretch].at(share)) * section
            }
        };
        ([motion[0], motion[1], motion[2]], [motion[4], -motion[3]])
    }

    /// Displacement along x, y, z of a point of the layout, µm; see [`Lumped::motion`].
    pub fn displacement(&self, shape: &[f64], at: Point) -> [f64; 3] {
        self.motion(shape, at, self.place(at)).0
    }
}

impl Lumped {
    /// The body that a point lies on, fast for many points; none where it lies on no body.
    fn under(&self) -> impl Fn(Point) -> Option<Place> + Sync {
        let motion_of = |body: &Body| match body {
            Body::Moving(area) | Body::Held(area) => vec![area.clone()],
            Body::Joint(_) => Vec::new(),
        };
        let areas: Vec<Vec<Polygon>> = self.pieces.bodies.iter().map(motion_of).collect();
        let locator = Locator::new(areas.iter().map(Vec::as_slice));
        move |p| locator.find(p).map(|body| Place::Body(usize::from(body)))
    }

    /// Modes at the corners and mid-sides of a mesh of the same layout.
    pub fn sample(&self, mesh: &Mesh, modes: &[Mode]) -> Sampled {
        let grid = sampling_points(mesh);
        let points = &grid.points;
        let body = self.under();
        let places: Vec<Place> = points.par_iter().map(|&p| body(p).unwrap_or_else(|| self.place(p))).collect();
        let fields_of = |mode: &Mode| {
            let moved = points.iter().zip(&places).map(|(&at, &place)| self.motion(&mode.shape, at, place));
            moved.unzip::<_, _, Vec<_>, Vec<_>>()
        };
        let (shapes, tilts) = modes.par_iter().map(fields_of).unzip();
        Sampled { modes: shapes, tilts, ..grid }
    }
}

/// Distance to the border of a polygon.
pub(super) fn border(area: &Polygon, at: Point) -> f64 {
    let sides = area.rings().flat_map(|ring| (0..ring.len()).map(move |i| (ring[i], ring[(i + 1) % ring.len()])));
    sides.map(|(a, b)| distance(at, closest(at, a, b))).fold(f64::INFINITY, f64::min)
}
