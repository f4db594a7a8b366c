//! Named masses of the user on the rigid bodies of the model: which body carries which, and how a named mass moves.

use super::moments::Inertia;
use super::spring::carried;
use super::{Body, Lumped};
use crate::mode::MassMotion;
use modalith_mesher::boolean::intersection;
use modalith_mesher::geometry::{NamedArea, Polygon};
use nalgebra::{Cholesky, Matrix6, Vector6};

/// A named mass as the pieces of bodies that it covers. What it covers of flexures is left out.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedPart {
    /// The user's name.
    pub name: String,
    /// Its mass and centre.
    pub inertia: Inertia,
    /// Bodies it covers, by number, and the mass properties of what it covers of each.
    pub on: Vec<(usize, Inertia)>,
}

impl Lumped {
    /// The named masses of an outline, in their order. `density_kg_m3` is the layer's.
    pub fn named(&self, masses: &[NamedArea], density_kg_m3: f64) -> Vec<NamedPart> {
        let thickness = self.springs.first().map_or(0.0, |s| s.thickness_m);
        let part = |mass: &NamedArea| {
            let (mut on, mut all) = (Vec::new(), Vec::<Polygon>::new());
            for (number, body) in self.pieces.bodies.iter().enumerate() {
                let (Body::Moving(area) | Body::Held(area)) = body else { continue };
                let common = intersection(std::slice::from_ref(area), &mass.polygons);
                if common.iter().map(Polygon::area).sum::<f64>() > 0.0 {
                    on.push((number, Inertia::of(&common, thickness, density_kg_m3)));
                    all.extend(common);
                }
            }
            NamedPart { name: mass.name.clone(), inertia: Inertia::of(&all, thickness, density_kg_m3), on }
        };
        masses.iter().map(part).collect()
    }

    /// The name of every body: that of the named mass that covers most of it, if it covers half.
    pub fn names(&self, named: &[NamedPart]) -> Vec<Option<String>> {
        let name = |body: usize| {
            let covers = |part: &NamedPart| part.on.iter().find(|(b, _)| *b == body).map_or(0.0, |(_, i)| i.mass_kg);
            let best = named.iter().max_by(|a, b| covers(a).total_cmp(&covers(b)))?;
            (covers(best) >= 0.5 * self.inertia[body].mass_kg && covers(best) > 0.0).then(|| best.name.clone())
        };
        (0..self.pieces.bodies.len()).map(name).collect()
    }
}

impl NamedPart {
    /// The rigid motion nearest to that of its pieces (least squares weighted by mass); exact on a single body.
    /// `kinetic` is twice the kinetic energy of the mode at unit speed.
    pub(super) fn motion(&self, lumped: &Lumped, shape: &[f64], kinetic: f64) -> MassMotion {
        let (mut mass, mut projection, mut own) = (Matrix6::zeros(), Vector6::zeros(), 0.0);
        for (body, piece) in &self.on {
            // Motion of the piece's centre from that of the whole named mass.
            let carry = carried(piece.centre_m, self.inertia.centre_m);
            let piece_mass: Matrix6<f64> = piece.by_direction().iter().sum();
            mass += carry.transpose() * piece_mass * carry;
            if let Some(unknowns) = lumped.unknowns_of(*body) {
                let moves = carried(piece.centre_m, lumped.inertia[*body].centre_m)
                    * Vector6::from_column_slice(&shape[unknowns]);
                projection += carry.transpose() * piece_mass * moves;
                own += moves.dot(&(piece_mass * moves));
            }
        }
        let rigid = Cholesky::new(mass).map_or_else(Vector6::zeros, |c| c.solve(&projection));
        let share = |part: f64, whole: f64| if whole > 0.0 { (part / whole).clamp(0.0, 1.0) } else { 0.0 };
        MassMotion {
            name: self.name.clone(),
            mass_kg: self.inertia.mass_kg,
            centre_um: self.inertia.centre_m.map(|x| x * 1e6),
            inertia_kg_m2: [3, 4, 5].map(|i| [3, 4, 5].map(|j| mass[(i, j)])),
            translation: [rigid[0], rigid[1], rigid[2]],
            turn: [rigid[3], rigid[4], rigid[5]],
            motion_share: [0, 1, 2, 3, 4, 5].map(|i| share(mass[(i, i)] * rigid[i] * rigid[i], own)),
            kinetic_share: share(own, kinetic),
            rigid_share: share(rigid.dot(&projection), own),
        }
    }
}
