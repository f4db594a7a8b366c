//! The points of a ring and how it turns at them. In: borders as drawn, or rings with bridges. Out: points, turns, sharp corners.

use crate::geometry::{cross, dot, sub};
use crate::outline::cut::{Border, Place};

/// A corner that turns by more than this ends a run, radians (24°): a circle of 16 facets is one run.
pub(super) const BEND: f64 = 0.42;

/// A point of a ring.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stop {
    pub place: Place,
    /// What comes after it is held.
    pub held: bool,
    /// What comes after it is no wall as drawn: it takes the place of a jog.
    pub bridge: bool,
    /// No point of the border as drawn: where walls on both sides of a jog would meet, or a point of another bridge.
    pub crossing: bool,
}

/// The corners of a ring as drawn.
pub(super) fn drawn(borders: &[Border], ring: usize) -> Vec<Stop> {
    let Border { points, held, .. } = borders[ring];
    let corners = points.iter().zip(held).enumerate();
    corners
        .map(|(segment, (at, held))| Stop {
            place: Place { ring, segment, at: *at },
            held: *held,
            bridge: false,
            crossing: false,
        })
        .collect()
}

/// By how much a ring turns to the left at every corner.
pub(super) fn turns(ring: &[Stop]) -> Vec<f64> {
    let n = ring.len();
    let at = |i: usize| ring[i % n].place.at;
    let turn = |i: usize| {
        let (a, b) = (sub(at(i), at(i + n - 1)), sub(at(i + 1), at(i)));
        cross(a, b).atan2(dot(a, b))
    };
    (0..n).map(turn).collect()
}

/// The corners at which runs end.
pub(super) fn sharp(ring: &[Stop]) -> Vec<usize> {
    let n = ring.len();
    let turns = turns(ring);
    (0..n).filter(|&i| ring[i].held || ring[(i + n - 1) % n].held || turns[i].abs() > BEND).collect()
}
