//! Prints section constants of an isotropic material as JSON, for `validation/sections.py` to compare, with the milliseconds
//! each took at best.
//!
//! `cargo run --release -p modalith-validation --example sections`

use modalith_solver::material::Law;
use modalith_solver::section::{Section, etched};
use modalith_validation::bench::Failure;
use serde_json::json;
use std::io::{Write, stdout};
use std::time::Instant;

/// Name, width and thickness in µm, lean and taper in degrees.
const SECTIONS: [(&str, f64, f64, f64, f64); 9] = [
    ("square", 4.0, 4.0, 0.0, 0.0),
    ("wide", 12.0, 3.0, 0.0, 0.0),
    ("tall", 4.0, 20.0, 0.0, 0.0),
    ("tall leaning", 4.0, 20.0, 1.0, 0.0),
    ("leaning", 6.0, 6.0, 5.0, 0.0),
    ("wide leaning", 12.0, 3.0, 8.0, 0.0),
    ("tall tapered", 4.0, 20.0, 0.0, 2.0),
    ("tapered", 6.0, 6.0, 0.0, 5.0),
    ("leaning and tapered", 5.0, 15.0, 2.0, 1.5),
];
/// Timings are the best of so many.
const REPEATS: usize = 5;
const YOUNGS_MODULUS: f64 = 160e9;

fn main() -> Result<(), Failure> {
    let um = 1e-6_f64;
    let mut sections = Vec::new();
    for poissons_ratio in [0.0, 0.3] {
        let shear = YOUNGS_MODULUS / (2.0 * (1.0 + poissons_ratio));
        let law = Law::isotropic(2330.0, YOUNGS_MODULUS, poissons_ratio)?;
        for (name, w, t, lean, taper) in SECTIONS {
            let corners = etched(w * um, t * um, lean.to_radians(), taper.to_radians());
            let section = Section::quadrilateral(&law, 0.0, corners)?;
            let mut milliseconds = f64::INFINITY;
            for _ in 0..REPEATS {
                let start = Instant::now();
                Section::quadrilateral(&law, 0.0, corners)?;
                milliseconds = milliseconds.min(1e3 * start.elapsed().as_secs_f64());
            }
            let bending = section.bending_stiffness_nm2() / (YOUNGS_MODULUS * um.powi(4));
            let sheared = section.shear_stiffness_n().map(|s| s / (shear * um * um));
            sections.push(json!({
                "name": name,
                "poissons_ratio": poissons_ratio,
                "corners_um": corners.map(|p| p.map(|x| x / um)),
                "milliseconds": milliseconds,
                "area_um2": section.axial_stiffness_n() / (YOUNGS_MODULUS * um * um),
                "centroid_um": section.centroid_m().map(|x| x / um),
                "shear_centre_um": section.shear_centre_m().map(|x| x / um),
                "second_moment_z_um4": bending[(0, 0)],
                "second_moment_y_um4": bending[(1, 1)],
                "product_moment_um4": -bending[(0, 1)],
                "torsion_um4": section.torsion_stiffness_nm2() / (shear * um.powi(4)),
                "shear_area_um2": sheared,
            }));
        }
    }
    writeln!(stdout(), "{}", serde_json::to_string_pretty(&sections)?)?;
    Ok(())
}
