//! Laws of capacitance alone. Source: comb F = N ε₀ h V²/g.

use super::*;

#[test]
fn comb_force_is_the_published_one() {
    let comb = Comb::even([0.0, -1.0], 2e-6, 40.0, 2e-6, 10e-6);
    let force = 0.5 * 40.0 * 40.0 * comb.at([0.0; 3]).unwrap().gradient[1];
    assert!((force / -5.667e-7 - 1.0).abs() < 1e-4, "{force}");
    // Independent of the overlap.
    let later = comb.at([0.0, -3e-6, 0.0]).unwrap();
    assert!((later.gradient[1] * 800.0 / force - 1.0).abs() < 1e-12);
    let across = 0.5 * 1600.0 * comb.at([0.0; 3]).unwrap().curvature[0][0];
    let per_gap = VACUUM_PERMITTIVITY * 1600.0 * 2e-6 * 10e-6 / 2e-6_f64.powi(3);
    assert!((across / (80.0 * per_gap) - 1.0).abs() < 1e-12);
    assert!(comb.at([2.1e-6, 0.0, 0.0]).is_none());
}

/// Derivatives of every law against differences of its capacitance and gradient.
#[test]
fn laws_are_their_own_derivatives() {
    let laws = [
        Law::Plate(Plate { gap_m: 2e-6, face: Face::Above }),
        Law::Comb(Comb {
            along: [0.6, -0.8],
            thickness_m: 10e-6,
            gaps: vec![
                FingerGap { gap_m: 2e-6, overlap_m: 9e-6, on_left: true, count: 4.0 },
                FingerGap { gap_m: 3e-6, overlap_m: 8e-6, on_left: false, count: 5.0 },
            ],
            tip_gap_m: Some(1e-6),
        }),
        Law::Side(Side { gap_m: 1.5e-6, area_m2: 1e-9, towards: [0.8, 0.6] }),
    ];
    let u = [0.3e-6, -0.2e-6, 0.4e-6];
    for law in laws {
        let here = law.at(u).unwrap();
        for k in 0..3 {
            let step = 1e-10;
            let [mut a, mut b] = [u, u];
            (a[k], b[k]) = (u[k] - step, u[k] + step);
            let (a, b) = (law.at(a).unwrap(), law.at(b).unwrap());
            let size = here.gradient.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
            let slope = (b.capacitance - a.capacitance) / (2.0 * step);
            assert!((slope - here.gradient[k]).abs() < 1e-6 * size, "{law:?}");
            let size = here.curvature.as_flattened().iter().fold(0.0_f64, |m, x| m.max(x.abs()));
            for l in 0..3 {
                let bend = (b.gradient[l] - a.gradient[l]) / (2.0 * step);
                assert!((bend - here.curvature[k][l]).abs() < 1e-5 * size, "{law:?} {k} {l}");
            }
        }
    }
}
