//! What kind of flexure a piece is, in the words of the trade: from its straight legs and from what it joins.

use crate::lumped::moments::Inertia;
use crate::lumped::spring::Stretch;
use crate::lumped::{Body, Hold, Pieces, Strip};
use modalith_mesher::geometry::Point;

/// Directions and widths that differ by less than this share are the same.
const SAME: f64 = 1e-6;

/// A kind of flexure with closed forms, or none of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FlexureKind {
    /// Straight, both ends kept from turning.
    Guided,
    /// Straight, the only one of its body.
    Cantilever,
    /// Straight, one of two on a line through the centre of the body that turns about it.
    TorsionBar,
    /// Two legs at a right angle.
    CrabLeg,
    /// Legs at right angles that go to and fro.
    Serpentine {
        /// How many legs go to and fro.
        spans: usize,
    },
    /// Straight, of changing width.
    Tapered,
    /// Anything else.
    Bent,
}

impl FlexureKind {
    /// The trade's word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Guided => "guided",
            Self::Cantilever => "cantilever",
            Self::TorsionBar => "torsion bar",
            Self::CrabLeg => "crab-leg",
            Self::Serpentine { .. } => "serpentine",
            Self::Tapered => "tapered",
            Self::Bent => "bent",
        }
    }
}

/// A straight run of one width, from a place to a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Leg {
    pub(super) from: Point,
    pub(super) to: Point,
    pub(super) width: f64,
}

impl Leg {
    pub(super) fn length(&self) -> f64 {
        (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1])
    }

    pub(super) fn axis(&self) -> [f64; 2] {
        [0, 1].map(|k| (self.to[k] - self.from[k]) / self.length())
    }
}

pub(super) fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn turn(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

/// Straight runs of one width, joined where they go on; `None` where a width changes along a stretch.
pub(super) fn legs(stretches: impl Iterator<Item = (Point, Point, [f64; 2])>) -> Option<Vec<Leg>> {
    let mut legs: Vec<Leg> = Vec::new();
    for (from, to, [w0, w1]) in stretches {
        if (w0 - w1).abs() > SAME * w0 {
            return None;
        }
        let next = Leg { from, to, width: w0 };
        match legs.last_mut() {
            Some(last)
                if turn(last.axis(), next.axis()).abs() < SAME
                    && dot(last.axis(), next.axis()) > 0.0
                    && (last.width - w0).abs() < SAME * w0 =>
            {
                last.to = to;
            }
            _ => legs.push(next),
        }
    }
    Some(legs)
}

/// Legs of a spring, m.
pub(super) fn legs_of(stretches: &[Stretch]) -> Option<Vec<Leg>> {
    legs(stretches.iter().map(|s| (s.from_to_m[0], s.from_to_m[1], s.widths_m)))
}

fn legs_of_strip(strip: &Strip) -> Option<Vec<Leg>> {
    legs(strip.centre_line.windows(2).zip(&strip.widths_um).map(|(p, w)| (p[0], p[1], *w)))
}

/// Which legs of a rectilinear run go to and fro: those of every second number from 0 or from 1; `None` if the run is
/// not rectilinear, or neither family turns back at every leg while the other keeps its direction.
pub(super) fn spans(legs: &[Leg]) -> Option<usize> {
    if legs.len() < 3 || !legs.windows(2).all(|l| dot(l[0].axis(), l[1].axis()).abs() < SAME) {
        return None;
    }
    let all = |start: usize, sign: f64| {
        let own: Vec<&Leg> = legs.iter().skip(start).step_by(2).collect();
        own.windows(2).all(|l| dot(l[0].axis(), l[1].axis()) * sign > 0.0)
    };
    (0..2).find(|&start| (legs.len() - start).div_ceil(2) > 1 && all(start, -1.0) && all(1 - start, 1.0))
}

/// The kind of every flexure.
pub(in crate::lumped) fn kinds(pieces: &Pieces, inertia: &[Inertia]) -> Vec<FlexureKind> {
    (0..pieces.flexures.len()).map(|f| kind(pieces, inertia, f)).collect()
}

fn kind(pieces: &Pieces, inertia: &[Inertia], flexure: usize) -> FlexureKind {
    let strip = &pieces.flexures[flexure];
    let Some(legs) = legs_of_strip(strip) else {
        let (first, last) = (strip.centre_line.first(), strip.centre_line.last());
        let straight = first.zip(last).is_some_and(|(a, b)| {
            let whole = Leg { from: *a, to: *b, width: 1.0 };
            strip
                .centre_line
                .windows(2)
                .all(|p| turn(whole.axis(), Leg { from: p[0], to: p[1], width: 1.0 }.axis()).abs() < SAME)
        });
        return if straight { FlexureKind::Tapered } else { FlexureKind::Bent };
    };
    match legs.as_slice() {
        [leg] => straight(pieces, inertia, flexure, leg),
        [a, b] if dot(a.axis(), b.axis()).abs() < SAME => FlexureKind::CrabLeg,
        legs => {
            spans(legs).map_or(FlexureKind::Bent, |s| FlexureKind::Serpentine { spans: (legs.len() - s).div_ceil(2) })
        }
    }
}

/// What holds an end; a held body counts as ground.
pub(super) fn holder(pieces: &Pieces, flexure: usize, end: usize) -> Hold {
    match pieces.flexures[flexure].ends[end] {
        Hold::Body(b) if matches!(pieces.bodies[b], Body::Held(_)) => Hold::Ground,
        hold => hold,
    }
}

/// Flexures of a body: number, and which end is on it.
pub(super) fn flexures_of(pieces: &Pieces, body: usize) -> Vec<(usize, usize)> {
    let ends = (0..pieces.flexures.len()).flat_map(|f| [(f, 0), (f, 1)]);
    ends.filter(|&(f, end)| pieces.flexures[f].ends[end] == Hold::Body(body)).collect()
}

fn straight(pieces: &Pieces, inertia: &[Inertia], flexure: usize, leg: &Leg) -> FlexureKind {
    for end in 0..2 {
        let Hold::Body(body) = holder(pieces, flexure, end) else { continue };
        let other = holder(pieces, flexure, 1 - end);
        let own = flexures_of(pieces, body);
        if own.len() == 1 && other == Hold::Ground {
            return FlexureKind::Cantilever;
        }
        let same_target: Vec<usize> =
            own.iter().filter(|&&(f, e)| holder(pieces, f, 1 - e) == other).map(|&(f, _)| f).collect();
        let centre = inertia[body].centre_m.map(|x| x * 1e6);
        let off_line = |p: Point| turn(leg.axis(), [p[0] - leg.from[0], p[1] - leg.from[1]]).abs() > 0.05 * leg.width;
        let partner = same_target.iter().find(|&&f| f != flexure).map(|&f| &pieces.flexures[f].centre_line);
        if same_target.len() == 2 && !off_line(centre) && partner.is_some_and(|line| !line.iter().any(|&p| off_line(p)))
        {
            return FlexureKind::TorsionBar;
        }
    }
    FlexureKind::Guided
}
