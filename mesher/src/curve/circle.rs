//! Runs of vertices that lie on one circle. In: points in µm, in order, with a held mark for every segment. Out: where a run ends and its
//! circle. The fit is the algebraic one of Kåsa (IEEE Trans. Instrum. Meas. 25, 1976, 8–14).

use crate::geometry::{Point, cross, distance, dot, twice_area};
use std::f64::consts::TAU;

/// Vertices needed before a run counts as an arc.
const FEWEST: usize = 6;
/// Largest turn at a vertex inside an arc, radians (23°: a drawn circle of 16 facets still counts).
pub(super) const LARGEST_TURN: f64 = 0.4015;
/// Vertices may lie this far off the circle, µm: a mask grid of 1 nm moves them by up to 0.7 nm.
pub(super) const OFF_CIRCLE: f64 = 0.0015;
/// The same as a share of the radius.
const OFF_CIRCLE_SHARE: f64 = 1e-4;

/// Circle through points, by least squares; `None` where they lie on a line.
fn fit(points: &[Point]) -> Option<(Point, f64)> {
    let n = points.len() as f64;
    let mean = points.iter().fold([0.0, 0.0], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
    let (mut uu, mut uv, mut vv, mut ru, mut rv) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for p in points {
        let (u, v) = (p[0] - mean[0], p[1] - mean[1]);
        let q = u * u + v * v;
        uu += u * u;
        uv += u * v;
        vv += v * v;
        ru += 0.5 * q * u;
        rv += 0.5 * q * v;
    }
    let det = uu * vv - uv * uv;
    if det.is_nan() || det <= 1e-14 * (uu + vv) * (uu + vv) {
        return None;
    }
    let (a, b) = ((ru * vv - rv * uv) / det, (rv * uu - ru * uv) / det);
    Some(([mean[0] + a, mean[1] + b], (a * a + b * b + (uu + vv) / n).sqrt()))
}

/// Largest distance of the points from a circle.
fn off(points: &[Point], centre: Point, radius: f64) -> f64 {
    points.iter().map(|&p| (distance(p, centre) - radius).abs()).fold(0.0, f64::max)
}

/// Tolerance for a run: the fixed one or a share of the radius, but never more than a small part of how far the run bows,
/// so that a line is no circle.
fn tolerance(run: &[Point], radius: f64) -> Option<f64> {
    let (a, b) = (run[0], run[run.len() - 1]);
    let chord = distance(a, b);
    let bow =
        if chord > 0.0 { run.iter().map(|&p| twice_area(a, b, p).abs() / chord).fold(0.0, f64::max) } else { radius };
    (bow > 4.0 * OFF_CIRCLE).then(|| (OFF_CIRCLE_SHARE * radius).min(0.02 * bow).max(OFF_CIRCLE))
}

/// Centre and radius when all points of a ring lie on one circle.
pub(super) fn full_circle(points: &[Point]) -> Option<(Point, f64)> {
    if points.len() < 3 * FEWEST / 2 {
        return None;
    }
    let (centre, radius) = fit(points)?;
    (off(points, centre, radius) <= OFF_CIRCLE.max(OFF_CIRCLE_SHARE * radius)).then_some((centre, radius))
}

/// The longest run on one circle that starts at point `i`: its last point and the circle.
pub(super) fn run_from(points: &[Point], held: &[bool], i: usize) -> Option<(usize, Point, f64)> {
    let last = points.len() - 1;
    if i + FEWEST > points.len() {
        return None;
    }
    let first_turn = turn_at(points[i], points[i + 1], points[i + 2]);
    // Facets of one circle turn alike; the mask grid blurs short ones.
    let continues = |k: usize| {
        let (a, b) = (distance(points[k - 1], points[k]), distance(points[k], points[k + 1]));
        let turn = turn_at(points[k - 1], points[k], points[k + 1]);
        held[k] == held[i]
            && turn.abs() <= LARGEST_TURN
            && turn * first_turn > 0.0
            && a.max(b) <= 2.2 * a.min(b) + 4.0 * OFF_CIRCLE
    };
    let mut end = i + FEWEST - 1;
    if !(i + 1..end).all(continues) {
        return None;
    }
    let checked = |end: usize| {
        let run = &points[i..=end];
        let (centre, radius) = fit(run)?;
        (off(run, centre, radius) <= tolerance(run, radius)?).then_some((centre, radius))
    };
    let (mut centre, mut radius) = checked(end)?;
    let mut refit_at = end + 2;
    let mut turned: f64 = (i + 1..end).map(|k| turn_at(points[k - 1], points[k], points[k + 1])).sum();
    while end < last && continues(end) {
        let near = 4.0 * OFF_CIRCLE.max(OFF_CIRCLE_SHARE * radius);
        turned += turn_at(points[end - 1], points[end], points[end + 1]);
        if (distance(points[end + 1], centre) - radius).abs() > near || turned.abs() > TAU {
            break;
        }
        end += 1;
        if end >= refit_at {
            match checked(end) {
                Some(found) => (centre, radius) = found,
                None => {
                    end -= 1;
                    break;
                }
            }
            refit_at = end + 1 + (end - i) / 4;
        }
    }
    while end >= i + FEWEST - 1 {
        if let Some((centre, radius)) = checked(end) {
            return Some((end, centre, radius));
        }
        end -= 1;
    }
    None
}

/// Turn at `b`, radians, left positive.
pub(super) fn turn_at(a: Point, b: Point, c: Point) -> f64 {
    let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
    cross(u, v).atan2(dot(u, v))
}
