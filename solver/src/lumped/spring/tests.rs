use super::*;
use nalgebra::Vector6;

const E: f64 = 160e9;
const G: f64 = 65e9;

fn bar(from: [f64; 2], to: [f64; 2], widths_m: [f64; 2]) -> Stretch {
    let moduli = Moduli { youngs_pa: E, shear_normal_pa: G, shear_plane_pa: G };
    Stretch { from_to_m: [from, to], widths_m, moduli }
}

fn close(value: f64, expected: f64, bound: f64) {
    assert!((value / expected - 1.0).abs() < bound, "{value:e} against {expected:e}");
}

/// A cranked flexure with a taper in its middle leg.
fn cranked() -> Spring {
    let p = [[10e-6, 5e-6], [110e-6, 5e-6], [150e-6, 65e-6], [150e-6, 165e-6]];
    let widths = [[4e-6, 4e-6], [4e-6, 7e-6], [7e-6, 3e-6]];
    let stretches = (0..3).map(|k| bar(p[k], p[k + 1], widths[k])).collect();
    Spring::new(stretches, 12e-6, 3e-11).unwrap()
}

#[test]
fn a_rigid_motion_needs_no_force_and_carries_the_whole_mass() {
    let spring = cranked();
    let [from, to] = spring.ends_m();
    let scale = spring.stiffness.diagonal();
    for i in 0..6 {
        let own = Vector6::from_fn(|k, _| if k == i { 1.0 } else { 0.0 });
        let both = Vector12::from_iterator(own.iter().copied().chain((carried(to, from) * own).iter().copied()));
        let force = spring.stiffness * both;
        for (f, k) in force.iter().zip(scale.iter()) {
            assert!(f.abs() < 1e-9 * k * both.amax().max(1e-4), "motion {i}: {f:e}");
        }
        if i < 3 {
            for (k, m) in spring.mass_by_direction.iter().enumerate() {
                let expected = if k == i { spring.mass_kg } else { 0.0 };
                assert!((both.dot(&(m * both)) - expected).abs() < 1e-12 * spring.mass_kg);
            }
        }
    }
    assert!(spring.mass().cholesky().is_some());
    let rigid = |motion: [f64; 6]| {
        let own = Vector6::from(motion);
        Vector12::from_iterator(own.iter().copied().chain((carried(to, from) * own).iter().copied()))
    };
    let (along, turning) = (rigid([0.3, -0.4, 0.9, 0.0, 0.0, 0.0]), rigid([0.1, 0.2, -0.5, 0.0, 0.0, 0.0]));
    let shifts = ([0.3, -0.4, 0.9], [0.1, 0.2, -0.5]);
    for (k, m) in spring.mass_crossed.iter().enumerate() {
        let expected = spring.mass_kg * shifts.0[(k + 1) % 3] * shifts.1[(k + 2) % 3];
        assert!((along.dot(&(m * turning)) - expected).abs() < 1e-12 * spring.mass_kg);
    }
}

/// A twist about an axis that is turned in the plane moves as one about x, seen from there.
#[test]
fn products_of_motions_turn_with_the_flexure() {
    let (l, angle) = (200e-6, 0.7_f64);
    let (s, c) = angle.sin_cos();
    let spring = |end: [f64; 2]| Spring::new(vec![bar([0.0, 0.0], end, [4e-6, 4e-6])], 10e-6, 2e-11).unwrap();
    let (straight, turned) = (spring([l, 0.0]), spring([c * l, s * l]));
    let about_z = |v: [f64; 12]| {
        let mut out = Vector12::zeros();
        for (from, to) in v.chunks(3).zip(out.as_mut_slice().chunks_mut(3)) {
            to.copy_from_slice(&[c * from[0] - s * from[1], s * from[0] + c * from[1], from[2]]);
        }
        out
    };
    let (a, b) = (
        [0.2e-6, 1e-6, -0.4e-6, 0.01, 0.02, -0.03, 0.5e-6, 0.1e-6, 0.7e-6, 0.05, -0.01, 0.02],
        [-1e-6, 0.3e-6, 0.6e-6, -0.04, 0.01, 0.02, 0.2e-6, -0.8e-6, 0.1e-6, 0.03, 0.02, -0.05],
    );
    // ∫ ρ u × v dV is a vector.
    let moment = |spring: &Spring, a: &Vector12, b: &Vector12| {
        [0, 1, 2].map(|k| a.dot(&(spring.mass_crossed[k] * b)) - b.dot(&(spring.mass_crossed[k] * a)))
    };
    let own = moment(&straight, &Vector12::from(a), &Vector12::from(b));
    let found = moment(&turned, &about_z(a), &about_z(b));
    let expected = [c * own[0] - s * own[1], s * own[0] + c * own[1], own[2]];
    let size = own.iter().map(|x| x.abs()).fold(0.0, f64::max);
    for (f, e) in found.iter().zip(expected) {
        assert!((f - e).abs() < 1e-9 * size, "{f:e} against {e:e}");
    }
}

/// The fractions of any textbook on structural dynamics: consistent mass of a beam.
#[test]
fn fractions_of_a_straight_flexure() {
    let (l, w, t, mass) = (200e-6, 4e-6, 10e-6, 2e-11);
    let spring = Spring::new(vec![bar([0.0, 0.0], [l, 0.0], [w, w])], t, mass).unwrap();
    let m = spring.mass();
    for across in [1, 2] {
        close(m[(across, across)] / mass, 13.0 / 35.0, 1e-12);
        close(m[(across, across + 6)] / mass, 9.0 / 70.0, 1e-12);
    }
    close(m[(0, 0)] / mass, 1.0 / 3.0, 1e-12);
    close(m[(0, 6)] / mass, 1.0 / 6.0, 1e-12);
    for (share, expected) in spring.mass_shares()[0].into_iter().zip([1.0 / 3.0, 13.0 / 35.0, 13.0 / 35.0]) {
        close(share, expected, 1e-12);
    }
    let polar = mass * (w * w + t * t) / 12.0;
    close(m[(9, 9)] / polar, 1.0 / 3.0, 1e-12);
    close(m[(3, 9)] / polar, 1.0 / 6.0, 1e-12);
    close(m[(5, 5)] / (mass * l * l), 1.0 / 105.0, 1e-12);
}

#[test]
fn the_static_shape_meets_both_ends() {
    let spring = cranked();
    let start = spring.shape(0, 0.0);
    let end = spring.shape(2, 1.0);
    for (n, place) in [(start, 0), (end, 6)] {
        for i in 0..6 {
            for j in 0..12 {
                // Per turn of one radian a place moves by its distance: 1e-4 m here.
                let unit = if i < 3 && j % 6 > 2 {
                    1e-4
                } else if i > 2 && j % 6 < 3 {
                    1e4
                } else {
                    1.0
                };
                let expected = if j == place + i { 1.0 } else { 0.0 };
                assert!((n[(i, j)] - expected).abs() < 1e-9 * unit, "{place} ({i}, {j}): {:e}", n[(i, j)]);
            }
        }
    }
}

/// Tip compliance of a cantilever whose width grows linearly to its root: ∫ s² / (E t w³/12) ds with w = a + b s.
#[test]
fn tapers_are_exact() {
    let (l, a, root, t) = (150e-6, 2e-6, 9e-6, 5e-6);
    let spring = Spring::new(vec![bar([0.0, 0.0], [0.0, l], [root, a])], t, 1e-11).unwrap();
    let b = (root - a) / l;
    let primitive = |u: f64| u.ln() + 2.0 * a / u - 0.5 * (a / u).powi(2);
    close(spring.flexibility[(0, 0)], 12.0 / (E * t * b.powi(3)) * (primitive(root) - primitive(a)), 1e-12);
    close(spring.flexibility[(1, 1)], (root / a).ln() / (E * t * b), 1e-12);
}

#[test]
fn what_has_no_length_or_width_is_no_spring() {
    assert!(Spring::new(Vec::new(), 1e-6, 1.0).is_none());
    assert!(Spring::new(vec![bar([0.0, 0.0], [0.0, 0.0], [1e-6, 1e-6])], 1e-6, 1.0).is_none());
    assert!(Spring::new(vec![bar([0.0, 0.0], [1e-6, 0.0], [1e-6, 0.0])], 1e-6, 1.0).is_none());
}
