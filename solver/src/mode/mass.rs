//! Mass properties of named masses: mass, centre, and the 6 × 6 matrix of their rigid motions.

use crate::element::plane::PlaneIntegrals;
use crate::element::through::Field;
use crate::system::{Layer, Prisms, SystemError};
use modalith_mesher::mesh::Mesh;
use nalgebra::{Cholesky, DVector, Matrix6, U6};

/// A named mass as a rigid body.
#[derive(Clone, Debug)]
pub(super) struct RigidBody {
    pub(super) mass_kg: f64,
    /// Centre of mass, m.
    pub(super) centre_m: [f64; 2],
    /// Size by which turns are scaled so that all six motions are lengths, m.
    pub(super) size_m: f64,
    /// ∫ ρ rᵢ·rⱼ dV over the six rigid motions, kg.
    pub(super) products: Matrix6<f64>,
    /// Its inverse.
    pub(super) inverse: Option<Cholesky<f64, U6>>,
}

/// Element coefficients of rigid motion `i` (three translations, then turns about x, y, z through `centre`, each turn
/// scaled to a displacement of one at distance `size`) in one field, if it has any there.
pub(super) fn rigid(
    prisms: &Prisms,
    sides: &[[f64; 2]; 6],
    half_thickness: f64,
    body: &RigidBody,
    i: usize,
    field: Field,
) -> Option<Vec<f64>> {
    let arm = |k: usize, sign: f64| sides.map(|p| sign * (p[k] - body.centre_m[k]) / body.size_m);
    let values = match (i, field) {
        (0, Field::STRETCH_X) | (1, Field::STRETCH_Y) | (2, Field::DEFLECTION) => [1.0; 6],
        (3, Field::TILT_Y) => [-half_thickness / body.size_m; 6],
        (3, Field::DEFLECTION) => arm(1, 1.0),
        (4, Field::TILT_X) => [half_thickness / body.size_m; 6],
        (4, Field::DEFLECTION) => arm(0, -1.0),
        (5, Field::STRETCH_X) => arm(1, -1.0),
        (5, Field::STRETCH_Y) => arm(0, 1.0),
        _ => return None,
    };
    Some(prisms.table().linear(values))
}

/// The rigid bodies of all named masses.
pub(super) fn bodies(mesh: &Mesh, layer: &Layer) -> Result<Vec<RigidBody>, SystemError> {
    let prisms = Prisms::new(mesh, layer);
    let per_area = layer.density_kg_m3 * layer.thickness_m;
    let half = 0.5 * layer.thickness_m;
    let mut bodies = Vec::new();
    for mass in 0..mesh.mass_names.len() {
        let own: Vec<usize> =
            (0..mesh.triangles.len()).filter(|&t| mesh.mass_of[t].map(usize::from) == Some(mass)).collect();
        let planes = own.iter().map(|&t| prisms.integrate(t)).collect::<Result<Vec<PlaneIntegrals>, _>>()?;
        let one = DVector::from_vec(prisms.table().linear([1.0; 6]));
        let (mut area, mut first) = (0.0, [0.0; 2]);
        for (&t, plane) in own.iter().zip(&planes) {
            let weight = &plane.value * &one;
            area += one.dot(&weight);
            for (k, sum) in first.iter_mut().enumerate() {
                *sum += weight.dot(&DVector::from_vec(prisms.table().linear(prisms.sides_m(t).map(|p| p[k]))));
            }
        }
        let mut body = RigidBody {
            mass_kg: per_area * area,
            centre_m: first.map(|f| if area > 0.0 { f / area } else { 0.0 }),
            size_m: area.sqrt().max(f64::MIN_POSITIVE),
            products: Matrix6::zeros(),
            inverse: None,
        };
        for (&t, plane) in own.iter().zip(&planes) {
            let sides = prisms.sides_m(t);
            for (f, &field) in layer.fields.iter().enumerate() {
                let motions: Vec<Option<DVector<f64>>> =
                    (0..6).map(|i| rigid(&prisms, &sides, half, &body, i, field).map(DVector::from_vec)).collect();
                for i in 0..6 {
                    let Some(a) = &motions[i] else { continue };
                    let weighted = &plane.value * a * prisms.prism.mass_factor(f);
                    for (j, b) in motions.iter().enumerate().filter_map(|(j, b)| Some((j, b.as_ref()?))) {
                        body.products[(i, j)] += weighted.dot(b);
                    }
                }
            }
        }
        body.inverse = Cholesky::new(body.products);
        bodies.push(body);
    }
    Ok(bodies)
}
