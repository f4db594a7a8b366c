//! From a posed benchmark to angular frequencies, and the comparison that every check prints.
//!
//! In: mesh (µm), layer, supports, added mass. Out: ω in rad/s, ascending, rigid motions left out.

use modalith_mesher::mesh::Mesh;
use modalith_solver::element::basis::Order;
use modalith_solver::element::through::Field;
use modalith_solver::material::Law;
use modalith_solver::spectrum::{Options, Problem, Wanted, solve};
use modalith_solver::system::{AddedMass, Layer, Structure, Supports, System};
use std::error::Error;
use std::fmt::Write;

/// What can go wrong on the way; benchmarks are ours, so any of it fails the check.
pub type Failure = Box<dyn Error + Send + Sync>;

/// The fields of plate bending.
pub const BENDING: [Field; 3] = [Field::DEFLECTION, Field::TILT_X, Field::TILT_Y];

/// The fields of a membrane.
pub const STRETCH: [Field; 2] = [Field::STRETCH_X, Field::STRETCH_Y];

/// κ = 5/6 (Reissner).
pub const REISSNER: f64 = 5.0 / 6.0;

/// κ = π²/12 (Mindlin 1951).
pub const MINDLIN: f64 = std::f64::consts::PI * std::f64::consts::PI / 12.0;

/// Plate bending alone: a shear-flexible plate of order `p` (1 to 8), `thickness_um` thick, with shear correction κ.
pub fn plate(law: &Law, thickness_um: f64, p: u8, shear_correction: f64) -> Layer {
    let order = Order::new(p).unwrap_or(Order::DEFAULT);
    Layer::shell_with(law, thickness_um, order, shear_correction).keeping(|f| !f.is_in_plane())
}

/// Stretching in the plane alone, of order `p` (1 to 8).
pub fn membrane(law: &Law, thickness_um: f64, p: u8) -> Layer {
    let order = Order::new(p).unwrap_or(Order::DEFAULT);
    Layer::shell_with(law, thickness_um, order, REISSNER).keeping(Field::is_in_plane)
}

/// The `count` lowest elastic ω, rad/s, of a body with `rigid` rigid motions.
///
/// # Errors
/// Whatever assembly and spectrum report, or another number of rigid motions than stated.
pub fn omegas(
    mesh: &Mesh,
    layer: &Layer,
    supports: &Supports,
    added: &AddedMass,
    rigid: usize,
    count: usize,
) -> Result<Vec<f64>, Failure> {
    let system = System::assemble(
        &Structure::new(mesh.clone(), layer.clone(), supports.clone()).with_added_mass(added.clone()),
    )?;
    let problem = Problem::new(&system.k, &system.m, Some(system.unknowns.groups()))?;
    let found = solve(problem, Wanted::Lowest { count: rigid + count }, &Options::default(), &|_| {})?;
    let first = found.lambda.get(rigid).copied().unwrap_or(0.0);
    let still = found.lambda.iter().take_while(|l| l.abs() < 1e-4 * first).count();
    if still != rigid || found.lambda.last().is_none_or(|last| found.covered.high() < *last) {
        return Err(format!("{still} rigid motions instead of {rigid}").into());
    }
    Ok(found.lambda.iter().skip(rigid).take(count).map(|l| l.sqrt()).collect())
}

/// The same for a body held at its boundary, nothing added.
///
/// # Errors
/// As [`omegas`].
pub fn held(mesh: &Mesh, layer: &Layer, supports: &Supports, count: usize) -> Result<Vec<f64>, Failure> {
    omegas(mesh, layer, supports, &AddedMass::none(), 0, count)
}

/// √(ρh/D) of an isotropic plate, s/m²: ω times a² times this is the table's λ.
pub fn plate_scale(law: &Law, thickness_m: f64) -> f64 {
    let e = law.layer_stiffness_pa()[(0, 0)]; // E/(1 − ν²)
    (law.density_kg_m3 * 12.0 / (e * thickness_m * thickness_m)).sqrt()
}

/// A comparison: what was measured beside what it must be, and what was published.
#[derive(Debug)]
pub struct Comparison {
    /// The table, for people.
    pub table: String,
    /// The largest relative difference from the reference.
    pub worst: f64,
}

/// Compares value by value. `published` may be shorter than `reference`; NaN marks a value that was not published.
pub fn compare(what: &str, source: &str, ours: &[f64], reference: &[f64], published: &[f64]) -> Comparison {
    let mut table =
        format!("{what} — {source}\n{:>14} {:>14} {:>10} {:>14}\n", "ours", "reference", "diff %", "published");
    let mut worst: f64 = if ours.len() < reference.len() { f64::INFINITY } else { 0.0 };
    for (i, (&a, &b)) in ours.iter().zip(reference).enumerate() {
        let difference = a / b - 1.0;
        worst = if difference.is_nan() { f64::INFINITY } else { worst.max(difference.abs()) };
        let target = published.get(i).filter(|p| p.is_finite()).map_or("-".into(), |p| format!("{p:.6}"));
        let _ = writeln!(table, "{a:14.6} {b:14.6} {:10.4} {target:>14}", 100.0 * difference);
    }
    let _ = writeln!(table, "largest difference {:.4} %", 100.0 * worst);
    Comparison { table, worst }
}

impl Comparison {
    /// Fails the test when the worst difference is above `bound` (relative).
    ///
    /// # Errors
    /// The table, when it is.
    pub fn within(self, bound: f64) -> Result<Self, Failure> {
        if self.worst <= bound {
            Ok(self)
        } else {
            Err(format!("above the bound of {} %\n{}", 100.0 * bound, self.table).into())
        }
    }
}
