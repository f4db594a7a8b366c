//! The mirror axes a mesh can have exactly, and the wedge between two of them that is enough to mesh. In: the outline. Out:
//! a frame in which the first axis is x and the axes meet at the origin; maps from there to every copy of the wedge.
//!
//! n axes through one point at angles k·180°/n, their reflections and rotations, are the dihedral group D_n; 2n copies of
//! a wedge of 180°/n fill the plane.

use crate::geometry::{MirrorAxis, Point, cross};
use crate::locate::Locator;
use crate::mirror::{Borders, EXACT_UM};
use crate::outline::Outline;
use std::f64::consts::PI;

/// Most axes used where they meet inside material: the wedge of D_6 is 30° wide, a sharper one would force small angles
/// at its tip.
const MOST_AXES: usize = 6;
/// Most axes used where they meet in an opening or an anchor. With twelve, all pairs of a round part with fewer than six
/// nodal diameters are pairs of the mesh too: D_m splits the pair of n diameters only if m divides 2n.
const MOST_AXES_AROUND_OPENING: usize = 12;

/// A frame on the mirror axes.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// Where the axes meet, or a point on the only one, µm.
    pub centre: Point,
    /// Cosine and sine of the angle of the first axis.
    pub turn: [f64; 2],
    /// Number of mirror axes; 0 for none.
    pub axes: usize,
    /// The axes in the layout frame.
    pub mirrors: Vec<MirrorAxis>,
    /// Largest distance of the outline from its image in one of them, µm.
    pub off_um: f64,
}

/// Cosine and sine of an angle, exact at multiples of 90°.
fn cos_sin(degrees: f64) -> [f64; 2] {
    let quarter = degrees / 90.0;
    if (quarter - quarter.round()).abs() < 1e-9 {
        return match quarter.round().rem_euclid(4.0) as i64 {
            0 => [1.0, 0.0],
            1 => [0.0, 1.0],
            2 => [-1.0, 0.0],
            _ => [0.0, -1.0],
        };
    }
    let (s, c) = degrees.to_radians().sin_cos();
    [c, s]
}

impl Frame {
    /// The layout frame, without mirrors.
    pub fn layout() -> Self {
        Self { centre: [0.0, 0.0], turn: [1.0, 0.0], axes: 0, mirrors: Vec::new(), off_um: 0.0 }
    }

    /// The largest group of mirrors that the outline has to [`EXACT_UM`]: measured on this outline and for the axes as the group
    /// has them, whatever the list of mirrors says of them.
    pub fn of(outline: &Outline) -> Self {
        let stated = outline.mirrors.iter().filter(|m| m.deviation_um <= EXACT_UM);
        let axes: Vec<MirrorAxis> = stated.map(|m| m.axis).collect();
        if axes.is_empty() {
            return Self::layout();
        }
        let borders = Borders::of(outline);
        let measured = |axis: &MirrorAxis| {
            let off_um = borders.deviation_um(axis);
            (off_um <= EXACT_UM && borders.covers_its_image(axis, off_um)).then_some(off_um)
        };
        let axes: Vec<MirrorAxis> = axes.into_iter().filter(|axis| measured(axis).is_some()).collect();
        let material = Locator::new(outline.parts.iter().map(|p| std::slice::from_ref(&p.polygon)));
        for n in (1..=MOST_AXES_AROUND_OPENING).rev() {
            for first in &axes {
                if let Some(mut frame) = Self::group(first, &axes, n)
                    && (n <= MOST_AXES || material.find(frame.centre).is_none())
                    && let Some(off_um) =
                        frame.mirrors.iter().map(measured).try_fold(0.0, |worst: f64, m| Some(worst.max(m?)))
                {
                    frame.off_um = off_um;
                    return frame;
                }
            }
        }
        Self::layout()
    }

    /// The group of `n` axes that starts with `first`, if they are all there.
    fn group(first: &MirrorAxis, axes: &[MirrorAxis], n: usize) -> Option<Self> {
        let step = 180.0 / n as f64;
        let mut mirrors: Vec<MirrorAxis> = vec![*first];
        let mut centre = first.point;
        for k in 1..n {
            let want = (first.angle_deg + k as f64 * step).rem_euclid(180.0);
            let found = axes.iter().find(|a| {
                let off = (a.angle_deg - want).rem_euclid(180.0);
                off.min(180.0 - off) < 1e-3 && (k == 1 || distance_to_axis(centre, a) < 2.0 * EXACT_UM)
            })?;
            if k == 1 {
                centre = meeting(first, found)?;
            }
            mirrors.push(*found);
        }
        for (k, m) in mirrors.iter_mut().enumerate() {
            *m = MirrorAxis { point: centre, angle_deg: (first.angle_deg + k as f64 * step).rem_euclid(180.0) };
        }
        Some(Self { centre, turn: cos_sin(first.angle_deg), axes: n, mirrors, off_um: 0.0 })
    }

    /// How near to an axis a point lies on it, µm: rounding, and what the outline misses its mirrors by.
    pub fn on_axis_um(&self) -> f64 {
        1e-9 + 2.0 * self.off_um
    }

    /// From the layout into this frame.
    pub fn enter(&self, p: Point) -> Point {
        let (d, [c, s]) = ([p[0] - self.centre[0], p[1] - self.centre[1]], self.turn);
        [c * d[0] + s * d[1], c * d[1] - s * d[0]]
    }

    /// From this frame into the layout.
    pub fn leave(&self, p: Point) -> Point {
        let [c, s] = self.turn;
        [self.centre[0] + (c * p[0] - s * p[1]), self.centre[1] + (s * p[0] + c * p[1])]
    }

    /// Directions of the two sides of the wedge: the first axis, and the next one anticlockwise (none for one axis).
    pub fn sides(&self) -> Vec<Point> {
        match self.axes {
            0 => Vec::new(),
            1 => vec![[1.0, 0.0]],
            n => vec![[1.0, 0.0], cos_sin(180.0 / n as f64)],
        }
    }

    /// Number of copies of the wedge that make the whole.
    pub fn copies(&self) -> usize {
        (2 * self.axes).max(1)
    }

    /// Image in a copy, 0 to [`Self::copies`] − 1, of a point of this frame, µm (not of the layout: [`Self::enter`]). Odd copies are mirror images.
    pub fn image(&self, copy: usize, p: Point) -> Point {
        let p = if copy % 2 == 1 { [p[0], -p[1]] } else { p };
        if copy < 2 {
            return p;
        }
        let [c, s] = cos_sin((copy / 2) as f64 * 360.0 / self.axes as f64);
        [c * p[0] - s * p[1], s * p[0] + c * p[1]]
    }
}

/// Intersection of two axes.
fn meeting(a: &MirrorAxis, b: &MirrorAxis) -> Option<Point> {
    let (u, v) = (cos_sin(a.angle_deg), cos_sin(b.angle_deg));
    let det = cross(u, v);
    if det.abs() < 1e-6 {
        return None;
    }
    let w = [b.point[0] - a.point[0], b.point[1] - a.point[1]];
    let t = cross(w, v) / det;
    Some([a.point[0] + t * u[0], a.point[1] + t * u[1]])
}

fn distance_to_axis(p: Point, axis: &MirrorAxis) -> f64 {
    let u = cos_sin(axis.angle_deg);
    (u[0] * (p[1] - axis.point[1]) - u[1] * (p[0] - axis.point[0])).abs()
}

/// Whether a point of the frame lies in the wedge of `n` axes.
pub fn in_wedge(axes: usize, p: Point) -> bool {
    match axes {
        0 => true,
        1 => p[1] >= 0.0,
        2 => p[1] >= 0.0 && p[0] >= 0.0,
        n => {
            let angle = p[1].atan2(p[0]);
            (0.0..=PI / n as f64).contains(&angle)
        }
    }
}
