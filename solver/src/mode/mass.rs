//! Mass properties: of named masses mass, centre, and the 6 × 6 matrix of their rigid motions; of the whole layer that matrix.

use crate::element::plane::PlaneIntegrals;
use crate::element::through::Field;
use crate::system::{AddedMass, ElementMatrices, Layer, SystemError};
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
    prisms: &ElementMatrices,
    sides: &[[f64; 2]; 6],
    half_thickness: f64,
    (centre, size): ([f64; 2], f64),
    i: usize,
    field: Field,
) -> Option<Vec<f64>> {
    let arm = |k: usize, sign: f64| sides.map(|p| sign * (p[k] - centre[k]) / size);
    let values = match (i, field) {
        (0, Field::STRETCH_X) | (1, Field::STRETCH_Y) | (2, Field::DEFLECTION) => [1.0; 6],
        (3, Field::TILT_Y) => [-half_thickness / size; 6],
        (3, Field::DEFLECTION) => arm(1, 1.0),
        (4, Field::TILT_X) => [half_thickness / size; 6],
        (4, Field::DEFLECTION) => arm(0, -1.0),
        (5, Field::STRETCH_X) => arm(1, -1.0),
        (5, Field::STRETCH_Y) => arm(0, 1.0),
        _ => return None,
    };
    Some(prisms.table().linear(values))
}

/// ∫ ρ rᵢ·rⱼ dV over the whole layer, held material included, for its six rigid motions: translations along x, y, z, then turns
/// about x, y, z through the point `about_um` of the layout at mid-layer, rᵢ = e × (position − point). Rows and columns of
/// translations in kg, of turns in kg m², mixed ones in kg m.
///
/// # Errors
/// A curved triangle that folds over.
///
/// ```
/// use modalith_mesher::mesh::Mesh;
/// use modalith_solver::{material::Law, mode::rigid_mass, system::Layer};
/// let block = Mesh::rectangle(40.0, 20.0, 4, 2)?;
/// let layer = Layer::solid_by_region(&Law::isotropic(2330.0, 160e9, 0.22)?, 10.0, &block);
/// let mass = rigid_mass(&block, &layer, [20.0, 10.0])?;
/// let kilograms = 2330.0 * 40e-6 * 20e-6 * 10e-6;
/// assert!((mass[(2, 2)] / kilograms - 1.0).abs() < 1e-12);
/// assert!((mass[(3, 3)] / (kilograms * (20e-6_f64.powi(2) + 10e-6_f64.powi(2)) / 12.0) - 1.0).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn rigid_mass(mesh: &Mesh, layer: &Layer, about_um: [f64; 2]) -> Result<Matrix6<f64>, SystemError> {
    let prisms = ElementMatrices::new(mesh, layer);
    let frame = (about_um.map(|x| x * 1e-6), 1.0);
    let mut sum = Matrix6::zeros();
    for t in 0..mesh.triangles.len() {
        add_products(&mut sum, &prisms, &prisms.integrate(t)?, t, 0.5 * layer.thickness_m, frame);
    }
    Ok(sum)
}

/// Adds what one triangle gives to the products of rigid motions.
fn add_products(
    sum: &mut Matrix6<f64>,
    prisms: &ElementMatrices,
    plane: &PlaneIntegrals,
    t: usize,
    half_thickness: f64,
    frame: ([f64; 2], f64),
) {
    let (sides, prism) = (prisms.sides_m(t), prisms.of(t));
    for (f, &field) in prism.fields().iter().enumerate() {
        let motions: Vec<Option<DVector<f64>>> =
            (0..6).map(|i| rigid(prisms, &sides, half_thickness, frame, i, field).map(DVector::from_vec)).collect();
        for i in 0..6 {
            let Some(a) = &motions[i] else { continue };
            let weighted = &plane.value * a * prism.mass_factor(f);
            for j in 0..6 {
                if let Some(b) = &motions[j] {
                    sum[(i, j)] += weighted.dot(b);
                }
            }
        }
    }
}

/// The rigid bodies of all named masses.
pub(super) fn bodies(mesh: &Mesh, layer: &Layer, added: &AddedMass) -> Result<Vec<RigidBody>, SystemError> {
    let prisms = ElementMatrices::new(mesh, layer);
    let per_area = layer.density_kg_m3 * layer.thickness_m;
    let half = 0.5 * layer.thickness_m;
    let mut bodies = Vec::new();
    for mass in 0..mesh.mass_names.len() {
        let own: Vec<usize> =
            (0..mesh.triangles.len()).filter(|&t| mesh.mass_of[t].map(usize::from) == Some(mass)).collect();
        let planes = own
            .iter()
            .map(|&t| {
                let mut plane = prisms.integrate(t)?;
                plane.value *= added.solid(t);
                Ok(plane)
            })
            .collect::<Result<Vec<PlaneIntegrals>, SystemError>>()?;
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
            add_products(&mut body.products, &prisms, plane, t, half, (body.centre_m, body.size_m));
        }
        body.inverse = Cholesky::new(body.products);
        bodies.push(body);
    }
    Ok(bodies)
}
