//! Where a cell lands: mirror, magnification, turn and shift of nested references, in database units.

use super::library::Reference;
use crate::geometry::Point;

/// How coordinates of a cell become coordinates of the cell at the top: mirrored about x, magnified, turned, shifted.
/// Multiples of 90° at magnification 1 are exact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Placement {
    pub mirrored: bool,
    pub magnification: f64,
    angle_deg: f64,
    cosine: f64,
    sine: f64,
    origin: Point,
}

impl Placement {
    /// Of the cell at the top itself.
    pub const TOP: Self =
        Self { mirrored: false, magnification: 1.0, angle_deg: 0.0, cosine: 1.0, sine: 0.0, origin: [0.0; 2] };

    /// Where copy `copy` of a reference inside a cell placed like `self` puts the cell it names.
    pub fn inner(&self, reference: &Reference, copy: u64) -> Self {
        let turn = if self.mirrored { -reference.angle_deg } else { reference.angle_deg };
        let angle_deg =
            if reference.absolute_angle { reference.angle_deg } else { self.angle_deg + turn }.rem_euclid(360.0);
        let (cosine, sine) =
            if angle_deg == self.angle_deg { (self.cosine, self.sine) } else { cosine_sine(angle_deg) };
        let outer = if reference.absolute_magnification { 1.0 } else { self.magnification };
        Self {
            mirrored: self.mirrored ^ reference.mirrored,
            magnification: outer * reference.magnification,
            angle_deg,
            cosine,
            sine,
            origin: self.apply(reference.origin_of(copy)),
        }
    }

    /// A point of the placed cell in the frame of the cell at the top.
    pub fn apply(&self, [x, y]: Point) -> Point {
        let y = if self.mirrored { -y } else { y };
        let (x, y) = (self.magnification * x, self.magnification * y);
        [self.cosine * x - self.sine * y + self.origin[0], self.sine * x + self.cosine * y + self.origin[1]]
    }
}

/// Cosine and sine of an angle in [0°, 360°), exact for multiples of 90°.
fn cosine_sine(angle_deg: f64) -> (f64, f64) {
    let quarters = (angle_deg / 90.0).round();
    let (sine, cosine) = (angle_deg - 90.0 * quarters).to_radians().sin_cos();
    match quarters as i32 % 4 {
        0 => (cosine, sine),
        1 => (-sine, cosine),
        2 => (-cosine, -sine),
        _ => (sine, -cosine),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reference(mirrored: bool, magnification: f64, angle_deg: f64, origin: [i32; 2]) -> Reference {
        Reference {
            offset: 0,
            cell: String::new(),
            mirrored,
            magnification,
            absolute_magnification: false,
            angle_deg,
            absolute_angle: false,
            origin,
            array: None,
        }
    }

    #[test]
    fn quarter_turns_are_exact() {
        for (angle, expected) in
            [(0.0, [3.0, 1.0]), (90.0, [-1.0, 3.0]), (180.0, [-3.0, -1.0]), (270.0, [1.0, -3.0]), (-90.0, [1.0, -3.0])]
        {
            assert_eq!(Placement::TOP.inner(&reference(false, 1.0, angle, [0, 0]), 0).apply([3.0, 1.0]), expected);
        }
        let eighth = Placement::TOP.inner(&reference(false, 1.0, 45.0, [0, 0]), 0);
        assert_eq!(eighth.inner(&reference(false, 1.0, 45.0, [0, 0]), 0).apply([3.0, 1.0]), [-1.0, 3.0]);
    }

    /// Two references one inside the other act like one after the other, whatever they do.
    #[test]
    fn nesting_is_composition() {
        let p = [17.0, -5.0];
        for (mirror, other) in [(false, false), (true, false), (false, true), (true, true)] {
            let (inner, outer) = (reference(mirror, 2.0, 30.0, [5, 7]), reference(other, 0.5, 100.0, [-3, 4]));
            let alone = |r: &Reference, p| Placement::TOP.inner(r, 0).apply(p);
            let nested = Placement::TOP.inner(&outer, 0).inner(&inner, 0).apply(p);
            let expected = alone(&outer, alone(&inner, p));
            assert!((0..2).all(|k| (nested[k] - expected[k]).abs() < 1e-12), "{nested:?} {expected:?}");
        }
    }

    #[test]
    fn absolute_flags_ignore_the_cells_around() {
        let outer = Placement::TOP.inner(&reference(false, 3.0, 90.0, [0, 0]), 0);
        let absolute =
            Reference { absolute_magnification: true, absolute_angle: true, ..reference(false, 2.0, 180.0, [1, 0]) };
        // The origin follows the outer cell, size and direction do not.
        assert_eq!(outer.inner(&absolute, 0).apply([1.0, 0.0]), [-2.0, 3.0]);
    }
}
