//! Gaps of a drawn comb: where the fingers of a moving part face material that stays. In: outline, a window, the direction of
//! the pull. Out: gap, overlap and side of every pair of facing walls, µm.
//!
//! What stays is islands, anchors and other parts than the finger's own. A pair counts where the overlap grows as the finger
//! moves on: the fixed wall begins beyond the finger's root and reaches past its tip. Nearer walls hide farther ones, those of other
//! moving fingers too.

use crate::geometry::{Point, Polygon, Ring, distance};
use crate::outline::{Finger, Outline};

/// Walls within this of parallel face each other (sine, 5°).
const PARALLEL: f64 = 0.087;
/// Fingers within this of the direction belong to the comb (sine, 10°).
const ALONG: f64 = 0.17;
/// Lengths below this are rounding, µm.
const ROUNDING_UM: f64 = 1e-6;

/// Two walls of a comb that face each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrawnGap {
    /// Number of the moving finger in [`Outline::fingers`].
    pub finger: usize,
    /// Distance of the walls, µm.
    pub gap_um: f64,
    /// Length over which they face each other along the pull, µm.
    pub overlap_um: f64,
    /// Whether motion to the left of the pull closes the gap.
    pub on_left: bool,
    /// How far the finger can go along the pull until its tip or that of the fixed finger meets something, µm.
    pub tip_gap_um: f64,
}

/// The gaps of the moving fingers that lie within `window` (their middles) and point along the unit vector `direction`.
pub fn drawn_gaps(outline: &Outline, window: &[Polygon], direction: Point) -> Vec<DrawnGap> {
    let mut gaps = Vec::new();
    for (number, finger) in outline.fingers.iter().enumerate() {
        let middle = mean(&finger.area.outer);
        if !window.iter().any(|w| w.contains(middle)) || !points_along(finger, direction) {
            continue;
        }
        let (own, others): (Vec<&Polygon>, Vec<&Polygon>) =
            outline.parts.iter().map(|p| &p.polygon).partition(|p| p.contains(middle));
        let rings: Vec<&Ring> = [&outline.islands, &outline.anchors, &outline.idle_anchors]
            .into_iter()
            .flatten()
            .chain(others)
            .flat_map(Polygon::rings)
            .collect();
        let moving = own.into_iter().flat_map(Polygon::rings).flat_map(|r| walls(r, direction));
        let all: Vec<(Wall, bool)> = (rings.iter().flat_map(|r| walls(r, direction)).map(|w| (w, true)))
            .chain(moving.map(|w| (w, false)))
            .collect();
        let ahead_um = ahead_of_tip(&finger.area.outer, &rings, direction);
        for wall in walls(&finger.area.outer, direction) {
            gaps.extend(facing(&wall, &all).into_iter().map(|faced| DrawnGap {
                finger: number,
                gap_um: faced.gap,
                overlap_um: faced.overlap,
                on_left: wall.outward > 0.0,
                tip_gap_um: faced.to_root.min(ahead_um),
            }));
        }
    }
    gaps
}

fn mean(ring: &Ring) -> Point {
    let n = ring.len().max(1) as f64;
    ring.iter().fold([0.0; 2], |s, p| [s[0] + p[0] / n, s[1] + p[1] / n])
}

fn points_along(finger: &Finger, [x, y]: Point) -> bool {
    let [a, b] = finger.root;
    let length = distance(b, a).max(f64::MIN_POSITIVE);
    // The finger lies on the left of its root.
    let out = [(a[1] - b[1]) / length, (b[0] - a[0]) / length];
    out[0] * x + out[1] * y > 0.0 && (out[0] * y - out[1] * x).abs() < ALONG
}

/// A wall along the pull, in coordinates along it and to its left.
#[derive(Clone, Copy, Debug)]
struct Wall {
    from: f64,
    to: f64,
    across: f64,
    /// +1 where the material's outside is on the left, −1 on the right.
    outward: f64,
}

/// A point in coordinates along a direction and to its left.
fn local(p: Point, [x, y]: Point) -> Point {
    [p[0] * x + p[1] * y, p[1] * x - p[0] * y]
}

/// Distance along a direction from a finger's tip to the nearest border within its width, infinite where there is none.
fn ahead_of_tip(finger: &Ring, fixed: &[&Ring], direction: Point) -> f64 {
    let own: Vec<Point> = finger.iter().map(|p| local(*p, direction)).collect();
    let ends = |k: usize| own.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], p| [a.min(p[k]), b.max(p[k])]);
    let (tip, [right, left]) = (ends(0)[1], ends(1));
    let nearest = |ring: &&Ring| {
        let side = |i: usize| [ring[i], ring[(i + 1) % ring.len()]].map(|p| local(p, direction));
        (0..ring.len())
            .filter_map(|i| lowest_between(side(i), [right, left]))
            .filter(|at| *at > tip - ROUNDING_UM)
            .fold(f64::INFINITY, f64::min)
    };
    (fixed.iter().map(nearest).fold(f64::INFINITY, f64::min) - tip).max(0.0)
}

/// The least first coordinate of the stretch of a segment whose second one lies between two values; none where that is nowhere.
fn lowest_between([a, b]: [Point; 2], [low, high]: [f64; 2]) -> Option<f64> {
    let (from, to) = if a[1] < b[1] { (a, b) } else { (b, a) };
    let (first, last) = (from[1].max(low), to[1].min(high));
    if last - first <= ROUNDING_UM {
        return None;
    }
    let at = |y: f64| from[0] + (to[0] - from[0]) * (y - from[1]) / (to[1] - from[1]);
    Some(at(first).min(at(last)))
}

/// Walls of a ring with its material on the left that run along a direction.
fn walls(ring: &Ring, direction: Point) -> Vec<Wall> {
    let gap_of = |i: usize| {
        let [a, b] = [ring[i], ring[(i + 1) % ring.len()]].map(|p| local(p, direction));
        let (along, off) = (b[0] - a[0], b[1] - a[1]);
        let parallel = off.abs() < PARALLEL * along.hypot(off) && along.abs() > ROUNDING_UM;
        parallel.then(|| Wall {
            from: a[0].min(b[0]),
            to: a[0].max(b[0]),
            across: 0.5 * (a[1] + b[1]),
            outward: if along > 0.0 { -1.0 } else { 1.0 },
        })
    };
    (0..ring.len()).filter_map(gap_of).collect()
}

/// A fixed wall that faces a moving one.
struct Faced {
    gap: f64,
    overlap: f64,
    /// From its own tip to the moving finger's root.
    to_root: f64,
}

/// Every fixed wall that faces a moving one, nearest first, each stretch counted once; of all walls, and whether each is fixed.
fn facing(moving: &Wall, all: &[(Wall, bool)]) -> Vec<Faced> {
    let gap = |f: &Wall| (f.across - moving.across) * moving.outward;
    let faces = |(f, _): &&(Wall, bool)| f.outward != moving.outward && gap(f) > ROUNDING_UM;
    let mut seen: Vec<&(Wall, bool)> = all.iter().filter(faces).collect();
    seen.sort_by(|a, b| gap(&a.0).total_cmp(&gap(&b.0)));
    let mut open = vec![(moving.from, moving.to)];
    let mut found = Vec::new();
    for (f, fixed) in seen {
        let grows = *fixed && f.from > moving.from + ROUNDING_UM && f.to >= moving.to - ROUNDING_UM;
        let mut left = Vec::new();
        for (from, to) in open {
            let (a, b) = (from.max(f.from), to.min(f.to));
            if b - a <= ROUNDING_UM {
                left.push((from, to));
                continue;
            }
            if grows {
                found.push(Faced { gap: gap(f), overlap: b - a, to_root: f.from - moving.from });
            }
            left.extend([(from, a), (b, to)].into_iter().filter(|(p, q)| q - p > ROUNDING_UM));
        }
        open = left;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{Anchoring, Drawing, Film};
    use crate::outline::Etch;

    fn rect(a: Point, b: Point) -> Polygon {
        Polygon::solid(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
    }

    fn drawn(structure: Vec<Polygon>, anchors: Vec<Polygon>) -> Drawing {
        Drawing {
            film: Film::Drawn { structure, holes: vec![] },
            anchoring: Anchoring::Drawn(anchors),
            masses: vec![],
            electrodes: vec![],
        }
    }

    /// A shuttle with three fingers to the right between four fixed ones of a stator: gaps 2 and 3 µm, overlap 20 µm; and the
    /// same after an edge bias.
    #[test]
    fn gaps_are_measured_as_drawn_and_as_etched() {
        let mut structure = vec![rect([-100.0, -50.0], [0.0, 50.0]), rect([-160.0, -4.0], [-100.0, 4.0])];
        let mut stator = vec![rect([70.0, -50.0], [110.0, 50.0])];
        for k in 0..3 {
            let y = -20.0 + 14.0 * f64::from(k);
            structure.push(rect([0.0, y], [50.0, y + 4.0]));
            // Upper fixed finger 2 µm above, lower one 3 µm below.
            stator.push(rect([30.0, y + 6.0], [70.0, y + 8.5]));
            stator.push(rect([30.0, y - 5.5], [70.0, y - 3.0]));
        }
        let anchors = [vec![rect([-190.0, -20.0], [-160.0, 20.0])], stator.clone()].concat();
        structure.extend(stator);
        let drawing = drawn(structure, anchors);
        let window = [rect([-10.0, -60.0], [120.0, 60.0])];
        let outline = Outline::build(&drawing, &Etch::default()).unwrap();
        let gaps = drawn_gaps(&outline, &window, [1.0, 0.0]);
        assert_eq!(gaps.len(), 6, "{gaps:?}");
        for g in &gaps {
            let gap = if g.on_left { 2.0 } else { 3.0 };
            assert!((g.gap_um - gap).abs() < 1e-4 && (g.overlap_um - 20.0).abs() < 1e-4, "{g:?}");
            // The tips are 20 µm off the stator's back, the fixed tips 30 µm off the shuttle.
            assert!((g.tip_gap_um - 20.0).abs() < 1e-4, "{g:?}");
        }
        assert!(drawn_gaps(&outline, &window, [-1.0, 0.0]).is_empty());
        assert!(drawn_gaps(&outline, &[rect([-300.0, -60.0], [-200.0, 60.0])], [1.0, 0.0]).is_empty());
        // Fingers widen on both sides of the gap, and both tips grow.
        let etched = Outline::build(&drawing, &Etch { edge_bias_um: 0.2, ..Etch::default() }).unwrap();
        let gaps = drawn_gaps(&etched, &window, [1.0, 0.0]);
        assert!(gaps.iter().any(|g| g.on_left && (g.gap_um - 1.6).abs() < 1e-3), "{gaps:?}");
        assert!(gaps.iter().all(|g| (g.overlap_um - 20.4).abs() < 1e-3), "{gaps:?}");
    }

    /// Six moving fingers, two fixed ones between some of them: four pairs of walls face each other 3 µm apart. Seen: fingers faced
    /// fixed ones through other moving fingers, and capacitance was 15 % too high.
    #[test]
    fn moving_fingers_hide_what_lies_behind_them() {
        let mut structure = vec![rect([-20.0, -40.0], [0.0, 40.0])];
        structure.extend((0..6).map(|k| rect([0.0, 10.0 * f64::from(k) - 26.0], [30.0, 10.0 * f64::from(k) - 24.0])));
        let mut stator = vec![rect([45.0, -40.0], [60.0, 40.0])];
        stator.extend([-1.0, 9.0].map(|y| rect([15.0, y], [45.0, y + 2.0])));
        let anchors = [vec![rect([-60.0, -10.0], [-40.0, 10.0])], stator.clone()].concat();
        structure.push(rect([-40.0, -2.0], [-20.0, 2.0]));
        structure.extend(stator);
        let drawing = drawn(structure, anchors);
        let outline = Outline::build(&drawing, &Etch::default()).unwrap();
        let gaps = drawn_gaps(&outline, &[rect([-1.0, -40.0], [50.0, 40.0])], [1.0, 0.0]);
        assert_eq!(gaps.len(), 4, "{gaps:?}");
        assert!(gaps.iter().all(|g| (g.gap_um - 3.0).abs() < 1e-4 && (g.overlap_um - 15.0).abs() < 1e-4), "{gaps:?}");
    }
}
