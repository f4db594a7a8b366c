//! What the mirrors of a drawing forbid: a motion of one parity about a mirror is not read, not coupled and not shaken by what has
//! the other. What a solver shows of it is the floor of its numbers; anything else is a property of the drawing.
//!
//! In: the drive mode, the pattern that is read, the mirrors that the mesh has exactly, the material. Out: which figures they forbid.

use crate::material::Law;
use crate::mode::{MassMotion, Mode, Pattern, Target};
use modalith_mesher::mesh::MirrorAxis;
use nalgebra::{Matrix3, Vector3};

/// Share of a motion's energy that its image must be, with its sign, to have a parity.
const PLAIN: f64 = 1.0 - 1e-3;
/// Centres of two masses that are each other's images lie closer than this, µm.
const SAME_UM: f64 = 1e-2;

/// Figures of the drawing that one of its mirrors forbids.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Forbidden {
    /// The readout sees nothing of the drive mode.
    pub quadrature: bool,
    /// The readout sees nothing of an acceleration of the base, along any axis.
    pub vibration: bool,
    /// The drive leaves no force at the anchors, along any axis.
    pub drive_force: bool,
}

/// A reflection about an upright plane through a point, µm, or about the middle of the layer.
struct Plane {
    matrix: Matrix3<f64>,
    point: [f64; 2],
}

impl Plane {
    fn upright(mirror: &MirrorAxis) -> Self {
        let (sin, cos) = (2.0 * mirror.angle_deg.to_radians()).sin_cos();
        Self { matrix: Matrix3::new(cos, sin, 0.0, sin, -cos, 0.0, 0.0, 0.0, 1.0), point: mirror.point }
    }

    fn middle() -> Self {
        Self { matrix: Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, -1.0)), point: [0.0; 2] }
    }
}

/// Whether a crystal is its own image in a mirror of the drawing.
fn has(law: &Law, mirror: &MirrorAxis) -> bool {
    let across = 1;
    law.turned_with_layout(-mirror.angle_deg).has_mirror(across)
}

/// What the mirrors forbid that drawing and material share, for a pattern read alike on all its masses. The middle of the layer is a
/// mirror too where the material has it and the drive moves that in its plane alone, `flat`, to the last bit.
pub fn forbidden((drive, flat): (&Mode, bool), read: &Pattern, mirrors: &[MirrorAxis], law: &Law) -> Forbidden {
    let (driven, pattern) = (drive.masses.as_slice(), meant(&drive.masses, read));
    let through = 2;
    let middle = (law.has_mirror(through) && flat).then(Plane::middle);
    let planes: Vec<Plane> = mirrors.iter().filter(|m| has(law, m)).map(Plane::upright).chain(middle).collect();
    let unlike = |a: Option<bool>, b: Option<bool>| a.zip(b).is_some_and(|(a, b)| a != b);
    let no_force = |masses: &[MassMotion]| {
        (0..3).all(|axis| planes.iter().any(|p| unlike(of_translation(axis, p), parity(masses, p))))
    };
    Forbidden {
        quadrature: planes.iter().any(|p| unlike(parity(driven, p), parity(&pattern, p))),
        vibration: no_force(&pattern),
        drive_force: no_force(driven),
    }
}

/// Whether a translation along x, y or z is odd about a plane; `None` where it is neither odd nor even.
fn of_translation(axis: usize, plane: &Plane) -> Option<bool> {
    let kept = plane.matrix[(axis, axis)];
    (kept.abs() > PLAIN).then_some(kept < 0.0)
}

/// Whether a motion of masses is odd about a plane; `None` where it is neither odd nor even, or the masses are not each other's
/// images.
fn parity(masses: &[MassMotion], plane: &Plane) -> Option<bool> {
    let (matrix, point) = (plane.matrix, plane.point);
    let image = |c: [f64; 2]| {
        let off = matrix * Vector3::new(c[0] - point[0], c[1] - point[1], 0.0);
        [point[0] + off[0], point[1] + off[1]]
    };
    let (mut own, mut both) = (0.0, 0.0);
    for mass in masses {
        let at = image(mass.centre_um);
        let near = |m: &&MassMotion| (m.centre_um[0] - at[0]).hypot(m.centre_um[1] - at[1]) < SAME_UM;
        let other = masses.iter().find(near)?;
        let inertia = Matrix3::from_fn(|i, j| mass.inertia_kg_m2[i][j]);
        let (t, w) = (Vector3::from(mass.translation), Vector3::from(mass.turn));
        // A turn is an axial vector.
        let (mirrored, turned) = (matrix * Vector3::from(other.translation), -(matrix * Vector3::from(other.turn)));
        own += mass.mass_kg * t.dot(&t) + w.dot(&(inertia * w));
        both += mass.mass_kg * t.dot(&mirrored) + w.dot(&(inertia * turned));
    }
    (own > 0.0 && both.abs() > PLAIN * own).then_some(both < 0.0)
}

/// The masses moving as a pattern is read.
fn meant(masses: &[MassMotion], read: &Pattern) -> Vec<MassMotion> {
    let image_of = |(number, mass): (usize, &MassMotion)| {
        let moves = match read.targets.get(number) {
            Some(Target::Moves(moves)) => *moves,
            _ => [0.0; 6],
        };
        let radius = |k: usize| (mass.inertia_kg_m2[k][k] / mass.mass_kg).sqrt();
        let turn = [0, 1, 2].map(|k| if moves[3 + k] == 0.0 { 0.0 } else { moves[3 + k] / radius(k) });
        MassMotion { translation: [moves[0], moves[1], moves[2]], turn, ..mass.clone() }
    };
    masses.iter().enumerate().map(image_of).collect()
}

#[cfg(test)]
mod tests {
    use super::super::reading::tests::{antiphase, mass, mode};
    use super::*;
    use crate::material::Orientation;

    fn at(x: f64, translation: [f64; 3]) -> MassMotion {
        MassMotion { centre_um: [x, 0.0], ..mass("", translation) }
    }

    fn plain() -> Law {
        Law::isotropic(2330.0, 160e9, 0.22).unwrap()
    }

    /// A crystal whose axes lie askew to the drawing has none of its mirrors but the middle of the layer; one cut without a mirror
    /// plane along the layer not that either. Seen: quadrature of 14 032 °/s was called a numerical floor.
    #[test]
    fn a_crystal_without_the_mirror_forbids_nothing() {
        let drive = mode(1e4, vec![at(-300.0, [-1.0, 0.0, 0.0]), at(300.0, [1.0, 0.0, 0.0])]);
        let silicon = |wafer: [i32; 3], x_along: [i32; 3], x_off_deg: f64| {
            let orientation = Orientation { wafer, x_along, x_off_deg };
            Law::cubic(2330.0, 165.7e9, 63.9e9, 79.6e9, &orientation).unwrap()
        };
        let mirrors = [ACROSS_X, ACROSS_Y];
        let along = forbidden((&drive, true), &antiphase(1), &mirrors, &silicon([0, 0, 1], [1, 1, 0], 0.0));
        assert!(along.quadrature && along.vibration && along.drive_force);
        let askew = forbidden((&drive, true), &antiphase(1), &mirrors, &silicon([0, 0, 1], [1, 1, 0], 20.0));
        assert_eq!(askew, Forbidden::default());
        assert!(forbidden((&drive, true), &antiphase(2), &[], &silicon([0, 0, 1], [1, 1, 0], 20.0)).quadrature);
        assert!(!forbidden((&drive, true), &antiphase(2), &[], &silicon([1, 1, 1], [1, -1, 0], 20.0)).quadrature);
    }

    const ACROSS_X: MirrorAxis = MirrorAxis { point: [0.0; 2], angle_deg: 90.0 };
    const ACROSS_Y: MirrorAxis = MirrorAxis { point: [0.0; 2], angle_deg: 0.0 };

    /// Read out of the plane, the middle of the layer alone forbids quadrature, and shaking along x and y.
    #[test]
    fn out_of_the_plane() {
        let drive = mode(1e4, vec![at(-300.0, [-1.0, 0.0, 0.0]), at(300.0, [1.0, 0.0, 0.0])]);
        let none = forbidden((&drive, true), &antiphase(2), &[], &plain());
        assert_eq!(none, Forbidden { quadrature: true, vibration: false, drive_force: false });
        assert!(forbidden((&drive, true), &antiphase(2), &[ACROSS_X], &plain()).vibration);
    }

    /// Two masses that part along x, read along y in antiphase: the mirror between them forbids nothing, that through both
    /// forbids quadrature. Where the mirror between them is lost, shaking along y is read.
    #[test]
    fn in_the_plane() {
        let drive = mode(1e4, vec![at(-300.0, [-1.0, 0.0, 0.0]), at(300.0, [1.0, 0.0, 0.0])]);
        let both = forbidden((&drive, true), &antiphase(1), &[ACROSS_X, ACROSS_Y], &plain());
        assert_eq!(both, Forbidden { quadrature: true, vibration: true, drive_force: true });
        let one = forbidden((&drive, true), &antiphase(1), &[ACROSS_Y], &plain());
        assert_eq!(one, Forbidden { quadrature: true, vibration: false, drive_force: false });
        assert_eq!(forbidden((&drive, true), &antiphase(1), &[], &plain()), Forbidden::default());
        // Masses that are not each other's images, and a motion that is neither odd nor even.
        let apart = mode(1e4, vec![at(-300.0, [-1.0, 0.0, 0.0]), at(310.0, [1.0, 0.0, 0.0])]);
        assert!(!forbidden((&apart, true), &antiphase(1), &[ACROSS_X], &plain()).drive_force);
        let mixed = mode(1e4, vec![at(-300.0, [-1.0, 0.9, 0.0]), at(300.0, [1.0, 0.9, 0.0])]);
        assert!(!forbidden((&mixed, true), &antiphase(1), &[ACROSS_Y], &plain()).quadrature);
    }
}
