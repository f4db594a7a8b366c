use super::*;
use crate::material::{Orientation, library};
use nalgebra::Vector6;

fn silicon(x_along: [i32; 3]) -> Law {
    library("silicon", Some(&Orientation { wafer: [0, 0, 1], x_along, x_off_deg: 0.0 })).unwrap()
}

fn film(poissons_ratio: f64) -> Law {
    Law::isotropic(2330.0, 160e9, poissons_ratio).unwrap()
}

/// Resultants of the six columns of tractions, by a rule of our own on the corners' bilinear map.
fn resultants(section: &Section, corners: [[f64; 2]; 4]) -> Matrix6<f64> {
    let patch = Patch::new(corners);
    let mut sum = Matrix6::zeros();
    for (point, weight) in patch.rule() {
        let at = patch.at(point);
        let [y, z] = at.position;
        for (k, t) in section.tractions(y, z).unwrap().into_iter().enumerate() {
            let load = Vector6::new(t[0], t[1], t[2], y * t[2] - z * t[1], z * t[0], -y * t[0]);
            let mut column = sum.column_mut(k);
            column += weight * at.stretch * load;
        }
    }
    sum
}

/// Whatever the law and the shape, tractions under unit resultants have exactly these resultants.
#[test]
fn tractions_have_unit_resultants() {
    for (law, angle) in [(film(0.3), 0.0), (silicon([1, 0, 0]), 0.3), (silicon([1, 1, 0]), -1.2)] {
        for corners in [
            etched(4e-6, 20e-6, 0.0, 0.0),
            etched(30e-6, 3e-6, 0.03, 0.0),
            etched(10e-6, 12e-6, 0.02, 0.04),
            [[-1e-6, -2e-6], [4e-6, -1.5e-6], [3e-6, 2.5e-6], [-2e-6, 1e-6]],
        ] {
            let section = Section::quadrilateral(&law, angle, corners).unwrap();
            let length = 1e-6;
            let unit = |i: usize| if i < 3 { 1.0 } else { length };
            let found = resultants(&section, corners);
            let off = Matrix6::from_fn(|i, j| (found[(i, j)] - if i == j { 1.0 } else { 0.0 }) / unit(i) * unit(j));
            assert!(off.amax() < 1e-8, "{off:.1e}");
        }
    }
}

/// The compliance is the energy of the stresses, computed from both independently.
#[test]
fn compliance_is_the_energy_of_the_stresses() {
    let (law, angle) = (silicon([1, 0, 0]), 0.3);
    let corners = etched(10e-6, 12e-6, 0.05, 0.04);
    let section = Section::quadrilateral(&law, angle, corners).unwrap();
    let by_stress = law.turned(&axes_at(angle)).stiffness_pa.try_inverse().unwrap();
    let patch = Patch::new(corners);
    let mut energy = Matrix6::zeros();
    for (point, weight) in patch.rule() {
        let at = patch.at(point);
        let stress = section.stress(at.position[0], at.position[1]).unwrap();
        energy += weight * at.stretch * stress.tr_mul(&(by_stress * stress));
    }
    let root = section.compliance.diagonal().map(f64::sqrt);
    let off = (energy - section.compliance).component_div(&(root * root.transpose()));
    assert!(off.amax() < 1e-9, "{off:.1e}");
}

/// The tractions of no unit resultant do work on the warping of any.
#[test]
fn warping_takes_no_work() {
    let corners = etched(4e-6, 12e-6, 0.05, 0.02);
    let section = Section::quadrilateral(&silicon([1, 0, 0]), 0.2, corners).unwrap();
    let patch = Patch::new(corners);
    let (mut work, mut size) = (Matrix6::<f64>::zeros(), Matrix6::<f64>::zeros());
    for (point, weight) in patch.rule() {
        let at = patch.at(point);
        let [y, z] = at.position;
        let (tractions, warping) = (section.tractions(y, z).unwrap(), section.warping(y, z).unwrap());
        for i in 0..6 {
            for j in 0..6 {
                let here: f64 = tractions[i].iter().zip(&warping[j]).map(|(t, w)| t * w).sum();
                work[(i, j)] += weight * at.stretch * here;
                size[(i, j)] += weight * at.stretch * here.abs();
            }
        }
    }
    let off = work.component_div(&size);
    assert!(off.amax() < 1e-8, "{off:.1e}");
}

/// A bar at an odd angle to the crystal: positive definite, and its couplings are there. About ⟨100⟩ and ⟨110⟩ they are not.
#[test]
fn crystal_at_an_odd_angle() {
    for (angle, coupled) in [(0.0, false), (0.3, true), (std::f64::consts::FRAC_PI_4, false)] {
        let section = Section::rectangle(&silicon([1, 0, 0]), angle, 4e-6, 10e-6).unwrap();
        let f = section.compliance;
        assert!((f - f.transpose()).amax() == 0.0);
        let share = |i: usize, j: usize| f[(i, j)] / (f[(i, i)] * f[(j, j)]).sqrt();
        // In the wafer's plane a pull shears; out of it bending twists.
        for (i, j) in [(0, 1), (3, 4)] {
            assert_eq!(share(i, j).abs() > 1e-2, coupled, "{i} {j} {}", share(i, j));
        }
        let e = section.axial_stiffness_n() / 40e-12;
        let along = 1.0 / silicon([1, 0, 0]).turned(&axes_at(angle)).stiffness_pa.try_inverse().unwrap()[(0, 0)];
        assert!((e / along - 1.0).abs() < 1e-9, "E along the axis is one over the compliance");
        let bending = section.bending_stiffness_nm2();
        assert!((bending[(1, 1)] / (along * 10e-6 * 4e-6_f64.powi(3) / 12.0) - 1.0).abs() < 1e-9);
    }
}

/// Turning the beam and turning the law the other way are the same.
#[test]
fn angle_is_anticlockwise_from_x() {
    let law = silicon([1, 0, 0]);
    let turned = Section::rectangle(&law, 0.4, 3e-6, 5e-6).unwrap();
    let straight = Section::rectangle(&law.turned(&axes_at(0.4)), 0.0, 3e-6, 5e-6).unwrap();
    assert!((turned.compliance - straight.compliance).norm() < 1e-12 * straight.compliance.norm());
}

#[test]
fn mass_of_a_rectangle() {
    let (w, t, law) = (4e-6, 10e-6, film(0.2));
    let m = Section::rectangle(&law, 0.7, w, t).unwrap().mass_per_length;
    let mass = law.density_kg_m3 * w * t;
    let expected = [mass, mass, mass, mass * (w * w + t * t) / 12.0, mass * t * t / 12.0, mass * w * w / 12.0];
    for i in 0..6 {
        assert!((m[(i, i)] / expected[i] - 1.0).abs() < 1e-12);
    }
}

/// Moved corners move the centres, and nothing else about them.
#[test]
fn centres_move_with_the_corners() {
    let corners = etched(2e-6, 5e-6, 0.0, 0.02);
    let shift = [3e-6, -2e-6];
    let moved = corners.map(|p| [p[0] + shift[0], p[1] + shift[1]]);
    let [here, there] = [corners, moved].map(|c| Section::quadrilateral(&film(0.22), 0.0, c).unwrap());
    for centre in [Section::centroid_m, Section::elastic_centre_m, Section::shear_centre_m] {
        let (a, b) = (centre(&here), centre(&there));
        assert!((0..2).all(|k| (b[k] - a[k] - shift[k]).abs() < 1e-13), "{a:?} {b:?}");
    }
    assert!((here.torsion_stiffness_nm2() / there.torsion_stiffness_nm2() - 1.0).abs() < 1e-9);
    assert!((here.shear_stiffness_n()[0] / there.shear_stiffness_n()[0] - 1.0).abs() < 1e-9);
}

#[test]
fn given_constants_come_back() {
    let given = Constants {
        axial_n: 2.0,
        shear_n: [0.5, 0.6],
        torsion_nm2: 3e-12,
        bending_nm2: [1e-12, 2e-12],
        mass_kg_m: 1e-7,
        rotary_kgm: [1e-19, 2e-19],
    };
    let section = Section::from_constants(&given).unwrap();
    assert!((section.torsion_stiffness_nm2() / 3e-12 - 1.0).abs() < 1e-12);
    assert!((section.shear_stiffness_n()[1] / 0.6 - 1.0).abs() < 1e-12);
    assert!((section.stiffness * section.compliance - Matrix6::identity()).amax() < 1e-12);
    assert!(section.tractions(0.0, 0.0).is_none());
    let wrong = Constants { torsion_nm2: -1.0, ..given };
    assert_eq!(Section::from_constants(&wrong), Err(SectionError::NotPositiveDefinite));
}

#[test]
fn impossible_sections_are_refused() {
    let law = film(0.2);
    assert!(matches!(Section::rectangle(&law, 0.0, 0.0, 1e-6), Err(SectionError::Size { .. })));
    assert!(matches!(Section::rectangle(&law, 0.0, 1e-6, f64::NAN), Err(SectionError::Size { .. })));
    let mut corners = etched(1e-6, 1e-6, 0.0, 0.0);
    corners[2] = [-0.4e-6, -0.4e-6];
    assert_eq!(Section::quadrilateral(&law, 0.0, corners), Err(SectionError::NotConvex(2)));
    corners = etched(1e-6, 1e-6, 0.0, 0.0);
    corners.reverse();
    assert!(matches!(Section::quadrilateral(&law, 0.0, corners), Err(SectionError::NotConvex(_))));
}
