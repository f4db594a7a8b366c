//! Circles, rings and arcs as polygons: corners on the curve, sagitta within the chord error, exact symmetry about the
//! axes and diagonals through the centre.

use super::crossing::self_crossing;
use super::error::{LayoutError, length};
use super::shape::Ends;
use crate::geometry::{Point, Polygon, Ring};

/// Corners of a full circle are a multiple of this, so that turns of 15° map the polygon onto itself.
const MULTIPLE: u32 = 24;

/// Most corners of one circle, whatever the chord error.
const MOST_CORNERS: u32 = 24_000;

/// Unit vector at `k` of `n` equal parts of the turn; exactly symmetric about axes and diagonals if 8 divides `n`.
fn part_of_turn(k: u32, n: u32) -> Point {
    let (eighth, k) = (n / 8, k % n);
    let first = |k: u32| {
        let (s, c) = (std::f64::consts::TAU * f64::from(k) / f64::from(n)).sin_cos();
        [c, s]
    };
    let quarter = |k: u32| {
        if k < eighth {
            first(k)
        } else if k == eighth {
            [std::f64::consts::FRAC_1_SQRT_2; 2]
        } else {
            let [c, s] = first(2 * eighth - k);
            [s, c]
        }
    };
    let [c, s] = quarter(k % (2 * eighth));
    match k / (2 * eighth) {
        0 => [c, s],
        1 => [-s, c],
        2 => [-c, -s],
        _ => [s, -c],
    }
}

/// Unit vector at an angle in degrees, exact at multiples of 90°.
pub(super) fn unit(deg: f64) -> Point {
    let turn = deg.rem_euclid(360.0);
    let quarter = (turn / 90.0).floor();
    let rest = turn - 90.0 * quarter;
    let (s, c) = if rest <= 45.0 {
        rest.to_radians().sin_cos()
    } else {
        let (s, c) = (90.0 - rest).to_radians().sin_cos();
        (c, s)
    };
    match quarter as i64 {
        0 => [c, s],
        1 => [-s, c],
        2 => [-c, -s],
        _ => [s, -c],
    }
}

/// Corners of a full circle for a sagitta of at most `chord_error`.
pub(super) fn corners(radius: f64, chord_error: f64) -> u32 {
    // Sagitta r (1 − cos(π/n)).
    let half_step = (1.0 - (chord_error / radius).min(1.0)).acos();
    let n = (std::f64::consts::PI / half_step).ceil().min(f64::from(MOST_CORNERS)) as u32;
    n.div_ceil(MULTIPLE).max(1) * MULTIPLE
}

fn around(centre: Point, radius: f64, n: u32) -> Ring {
    (0..n)
        .map(|k| {
            let [c, s] = part_of_turn(k, n);
            [centre[0] + radius * c, centre[1] + radius * s]
        })
        .collect()
}

/// A circle, anticlockwise from angle 0.
pub(super) fn circle(centre: Point, radius: f64, chord_error: f64) -> Ring {
    around(centre, radius, corners(radius, chord_error))
}

/// A disc with a round opening; both circles have the same number of corners.
pub(super) fn ring(centre: Point, inner: f64, outer: f64, chord_error: f64) -> Polygon {
    let n = corners(outer, chord_error);
    let mut hole = around(centre, inner, n);
    hole.reverse();
    Polygon { outer: around(centre, outer, n), holes: vec![hole] }
}

/// Inner points of a half circle from `a`, anticlockwise to the opposite point, without both ends.
pub(super) fn cap(centre: Point, from: Point, chord_error: f64) -> Ring {
    let arm = [from[0] - centre[0], from[1] - centre[1]];
    let n = corners(arm[0].hypot(arm[1]), chord_error);
    (1..n / 2)
        .map(|k| {
            let [c, s] = part_of_turn(k, n);
            [centre[0] + c * arm[0] - s * arm[1], centre[1] + s * arm[0] + c * arm[1]]
        })
        .collect()
}

/// A bent bar between two angles in degrees.
pub(super) fn arc(
    centre: Point,
    radius: f64,
    width: f64,
    [from, to]: [f64; 2],
    ends: Ends,
    chord_error: f64,
) -> Result<Vec<Polygon>, LayoutError> {
    length("the arc's first angle", from)?;
    length("the arc's last angle", to)?;
    let (inner, outer) = (radius - 0.5 * width, radius + 0.5 * width);
    let sweep = if to > from { to - from } else { to - from + 360.0 };
    if sweep <= 0.0 || sweep > 360.0 {
        return Err(LayoutError::Sweep { sweep_deg: sweep, at: centre });
    }
    if inner <= 0.0 {
        return Err(LayoutError::NotPositive { what: "the arc's inner radius", value: inner, at: centre });
    }
    if sweep == 360.0 {
        return Ok(vec![ring(centre, inner, outer, chord_error)]);
    }
    let steps = (sweep / 360.0 * f64::from(corners(outer, chord_error))).ceil().max(1.0) as u32;
    let at = |r: f64, k: u32| {
        // The two halves are counted from their own ends, so that an arc is symmetric about its own middle.
        let step = sweep / f64::from(steps);
        let deg = if 2 * k <= steps { from + step * f64::from(k) } else { from + sweep - step * f64::from(steps - k) };
        let [c, s] = unit(if k == steps { to } else { deg });
        [centre[0] + r * c, centre[1] + r * s]
    };
    let mut out: Ring = (0..=steps).map(|k| at(outer, k)).collect();
    let end = |out: &mut Ring, deg: f64, sign: f64, [a, b]: [f64; 2]| {
        let [c, s] = unit(deg);
        let ahead = [-s * sign * 0.5 * width, c * sign * 0.5 * width];
        let on = |r: f64| [centre[0] + r * c, centre[1] + r * s];
        match ends {
            Ends::Flush => {}
            Ends::Square => out.extend([a, b].map(|r| [on(r)[0] + ahead[0], on(r)[1] + ahead[1]])),
            Ends::Round => out.extend(cap(on(radius), on(a), chord_error)),
        }
    };
    end(&mut out, to, 1.0, [outer, inner]);
    out.extend((0..=steps).rev().map(|k| at(inner, k)));
    end(&mut out, from, -1.0, [inner, outer]);
    match self_crossing(&out) {
        Some(at) => Err(LayoutError::Crossing { at }),
        None => Ok(vec![Polygon::solid(out)]),
    }
}
