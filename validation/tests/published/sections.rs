//! Section constants against published ones: twist of rectangles, leaning and tapered walls, shear, crystals.

use modalith_solver::material::{Law, Orientation, library};
use modalith_solver::section::{Section, etched};
use modalith_validation::bench::{Failure, compare};
use std::f64::consts::PI;

const BOUND: f64 = 1e-3;
/// What one spectral element gives on a rectangle.
const CONVERGED: f64 = 1e-5;

fn film(poissons_ratio: f64) -> Result<Law, Failure> {
    Ok(Law::isotropic(2330.0, 160e9, poissons_ratio)?)
}

/// G of [`film`], Pa.
fn shear(poissons_ratio: f64) -> f64 {
    160e9 / (2.0 * (1.0 + poissons_ratio))
}

/// β of J = β a b³, a ≥ b: Saint-Venant's series, 1/3 (1 − 192/π⁵ (b/a) Σ tanh(n π a/2b)/n⁵), n odd.
fn saint_venant(ratio: f64) -> f64 {
    let sum: f64 = (0..200).map(|k| f64::from(2 * k + 1)).map(|n| (n * PI * ratio / 2.0).tanh() / n.powi(5)).sum();
    (1.0 - 192.0 / PI.powi(5) / ratio * sum) / 3.0
}

/// J of a rectangle, whichever side is longer.
fn rectangle_torsion(w: f64, t: f64) -> f64 {
    let (a, b) = (w.max(t), w.min(t));
    saint_venant(a / b) * a * b.powi(3)
}

/// Timoshenko & Goodier, *Theory of Elasticity*, table of the torsion of rectangular bars, three digits; six by the series.
#[test]
fn twist_of_rectangles() -> Result<(), Failure> {
    let ratios = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 20.0];
    let table =
        [0.140577, 0.195761, 0.228682, 0.249365, 0.263317, 0.280813, 0.291317, 0.298320, 0.307073, 0.312325, 0.322829];
    for tall in [false, true] {
        let mut ours = Vec::new();
        for a in ratios.map(|a| a * 1e-6) {
            let (w, t) = if tall { (1e-6, a) } else { (a, 1e-6) };
            let section = Section::rectangle(&film(0.22)?, 0.4, w, t)?;
            ours.push(section.torsion_stiffness_nm2() / (shear(0.22) * a * 1e-18));
        }
        let exact = ratios.map(saint_venant);
        println!(
            "{}",
            compare("twist of rectangles", "Saint-Venant, Timoshenko & Goodier", &ours, &exact, &table)
                .within(CONVERGED)?
                .table
        );
    }
    Ok(())
}

/// Leaning and tapered walls, ν = 0: tables computed with the section-property library sectionproperties 3.10.2.
/// Width, thickness, lean and taper in degrees; ∫ z², ∫ y², ∫ y z about the centroid, J; shear centre below the centroid.
#[test]
fn leaning_and_tapered_walls() -> Result<(), Failure> {
    #[rustfmt::skip]
    let rows = [
        (2.0, 1.0, 0.0, 0.0, [0.1666667, 0.6666667, 0.0, 0.457364], 0.0),
        (2.0, 1.0, 1.0, 0.0, [0.1666667, 0.6667175, 0.0029092, 0.457347], 0.0),
        (2.0, 1.0, 2.0, 0.0, [0.1666667, 0.6668699, 0.0058201, 0.457283], 0.0),
        (2.0, 1.0, 0.0, 1.0, [0.1666624, 0.6667175, 0.0, 0.457349], f64::NAN),
        (2.0, 1.0, 0.0, 2.0, [0.1666497, 0.6668699, 0.0, 0.457285], f64::NAN),
        (1.0, 2.0, 1.0, 0.0, [0.6666667, 0.1668698, 0.0116367, 0.457272], 0.0),
        (1.0, 2.0, 2.0, 0.0, [0.6666667, 0.1674796, 0.0232805, 0.456975], 0.0),
        (1.0, 5.0, 0.0, 0.0, [10.416667, 0.4166667, 0.0, 1.456597], 0.0),
        (1.0, 5.0, 1.0, 0.0, [10.416667, 0.4198404, 0.1818236, 1.456199], 0.0),
        (1.0, 5.0, 2.0, 0.0, [10.416667, 0.4293694, 0.3637580, 1.454993], 0.0),
        (1.0, 5.0, 0.0, 1.0, [10.390219, 0.4198404, 0.0, 1.461651], 0.129),
        (1.0, 5.0, 0.0, 2.0, [10.310811, 0.4293694, 0.0, 1.476798], 0.250),
    ];
    let (e, g, um) = (160e9, shear(0.0), 1e-6_f64);
    for (w, t, lean, taper, published, below) in rows {
        let corners = etched(w * um, t * um, f64::to_radians(lean), f64::to_radians(taper));
        let section = Section::quadrilateral(&film(0.0)?, 0.0, corners)?;
        let bending = section.bending_stiffness_nm2() / (e * um.powi(4));
        let twist = section.torsion_stiffness_nm2() / (g * um.powi(4));
        let mut ours = vec![bending[(0, 0)], bending[(1, 1)], twist];
        let mut table = vec![published[0], published[1], published[3]];
        if published[2] != 0.0 {
            ours.push(-bending[(0, 1)]);
            table.push(published[2]);
        }
        let what = format!("{w} x {t}, lean {lean}°, taper {taper}°");
        // The table is good to about 1e-5.
        println!("{}", compare(&what, "sectionproperties", &ours, &table, &table).within(3e-5)?.table);
        assert!((bending[(0, 1)] + published[2]).abs() < 1e-6 * bending[(1, 1)], "{what}: {bending}");
        let (centroid, shear_centre) = (section.centroid_m(), section.shear_centre_m());
        if below.is_finite() {
            // Three digits are published.
            let ours_below = (centroid[1] - shear_centre[1]) / um;
            println!("shear centre {ours_below:.5} below the centroid, {below:.3}");
            assert!((ours_below - below).abs() < 0.0006, "{what}: {ours_below}");
        }
    }
    Ok(())
}

/// 1/κ of a rectangle by static energy, shear along the side h, the other side b (Renton, Int. J. Solids Struct. 27 (1991)
/// 1955; derived anew from Saint-Venant's flexure): 6/5 + (ν/(1+ν))² 144 (b/h)⁴/π⁶ Σ 1/(m² n² (n² + m² b²/4h²)), m odd.
fn renton(poissons_ratio: f64, h: f64, b: f64) -> f64 {
    let ratio = b / h;
    let mut sum = 0.0;
    for m in (1..400).step_by(2).map(f64::from) {
        for n in (1..400).map(f64::from) {
            sum += 1.0 / (m * m * n * n * (n * n + 0.25 * m * m * ratio * ratio));
        }
    }
    1.0 / (1.2 + (poissons_ratio / (1.0 + poissons_ratio)).powi(2) * 144.0 * ratio.powi(4) / PI.powi(6) * sum)
}

#[test]
fn shear_coefficients() -> Result<(), Failure> {
    for ratio in [0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 10.0] {
        let coefficients = |nu: f64| -> Result<Vec<f64>, Failure> {
            let section = Section::rectangle(&film(nu)?, 0.0, ratio * 1e-6, 1e-6)?;
            Ok(section.shear_coefficients().ok_or("a computed section")?.to_vec())
        };
        let reissner = [5.0 / 6.0; 2];
        println!(
            "{}",
            compare(&format!("κ, ν = 0, w/t = {ratio}"), "5/6", &coefficients(0.0)?, &reissner, &[])
                .within(CONVERGED)?
                .table
        );
        let expected = [renton(0.3, ratio, 1.0), renton(0.3, 1.0, ratio)];
        println!(
            "{}",
            compare(&format!("κ, ν = 0.3, w/t = {ratio}"), "Renton 1991", &coefficients(0.3)?, &expected, &[])
                .within(1e-4)?
                .table
        );
    }
    Ok(())
}

/// Silicon along ⟨100⟩ and ⟨110⟩ of a (100) wafer, where the axes are planes of symmetry: an affine map makes the
/// twist isotropic, GJ = G_xz √(G_xz/G_xy) J(w, t √(G_xy/G_xz)) (Lekhnitskii, *Theory of Elasticity of an Anisotropic
/// Body*, 1963). Constants: Hopcroft, Nix & Kenny, JMEMS 19 (2010) 229.
#[test]
fn twist_of_crystals() -> Result<(), Failure> {
    for x_along in [[1, 0, 0], [1, 1, 0]] {
        let law = library("silicon", Some(&Orientation { wafer: [0, 0, 1], x_along, x_off_deg: 0.0 }))?;
        let (xy, xz) = (law.stiffness_pa[(5, 5)], law.stiffness_pa[(4, 4)]);
        let (mut ours, mut exact) = (Vec::new(), Vec::new());
        for ratio in [0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 10.0] {
            let (w, t) = (2e-6, ratio * 2e-6);
            ours.push(1e12 * Section::rectangle(&law, 0.0, w, t)?.torsion_stiffness_nm2());
            exact.push(1e12 * xz * (xz / xy).sqrt() * rectangle_torsion(w, t * (xy / xz).sqrt()));
        }
        println!(
            "{}",
            compare(&format!("GJ along {x_along:?}, µN µm²"), "closed form", &ours, &exact, &[])
                .within(CONVERGED)?
                .table
        );
        assert!(compare("", "", &ours, &exact, &[]).worst < BOUND);
    }
    Ok(())
}
