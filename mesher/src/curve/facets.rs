//! The facets of an arc as drawn. In: corners that lie on one circle, in order, µm. Out: points along them, and for the edges of a
//! mesh that take their place the area and the length that the facets have.
//!
//! Corners of a mesh lie on the facets, and an edge across several of them bows until it holds as much area as they do: whatever
//! the facets, the mesh has the area of the drawing, and it needs no edge for every one.

use crate::geometry::{Point, ahead, closest, cross, distance, dot, middle, sub, twice_area, unit};
use std::f64::consts::TAU;

/// A cut goes to a corner of the facets that is nearer to it than this share of the edge,
const TO_CORNER: f64 = 0.25;
/// and than this one where facets are longer than edges: no corner is left inside an edge.
const TO_CORNER_OF_LONG: f64 = 0.5;
/// Facets looked at on either side of the one that the direction from the centre tells: the grid blurs short ones.
const BESIDE: usize = 3;

/// Facets in order, with what lies before each corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Facets {
    centre: Point,
    radius: f64,
    corners: Vec<Point>,
    /// Angle of each corner ahead of the first as seen from the centre, radians, never falling.
    turns: Vec<f64>,
    /// Length of the facets before each corner, µm.
    lengths: Vec<f64>,
    /// Twice the area between the centre and the facets before each corner, µm², anticlockwise positive.
    areas: Vec<f64>,
    /// 1 where they run anticlockwise, −1 where clockwise.
    sense: f64,
}

impl Facets {
    /// Facets between corners next to a circle of this centre and radius, µm; a closed ring repeats its first corner.
    pub fn new(corners: Vec<Point>, (centre, radius): (Point, f64)) -> Self {
        let turn = |a: Point, b: Point| {
            let (u, v) = (sub(a, centre), sub(b, centre));
            cross(u, v).atan2(dot(u, v))
        };
        let whole: f64 = corners.windows(2).map(|w| turn(w[0], w[1])).sum();
        let sense = whole.signum();
        let (mut turns, mut lengths, mut areas) = (vec![0.0], vec![0.0], vec![0.0]);
        let (mut turned, mut length, mut area) = (0.0, 0.0, 0.0);
        for w in corners.windows(2) {
            turned += (sense * turn(w[0], w[1])).max(0.0);
            length += distance(w[0], w[1]);
            area += twice_area(centre, w[0], w[1]);
            turns.push(turned);
            lengths.push(length);
            areas.push(area);
        }
        Self { centre, radius, corners, turns, lengths, areas, sense }
    }

    /// Centre and radius of the circle, µm.
    pub fn circle(&self) -> (Point, f64) {
        (self.centre, self.radius)
    }

    /// Length of all, µm.
    pub fn length(&self) -> f64 {
        self.lengths.last().copied().unwrap_or(0.0)
    }

    /// Angle from the first corner to the last, radians, anticlockwise positive.
    pub fn sweep(&self) -> f64 {
        self.sense * self.turns.last().copied().unwrap_or(0.0)
    }

    /// Corners between two places along the facets, µm from the first corner, ends left out: places and corners.
    pub fn between(&self, from: f64, to: f64) -> impl Iterator<Item = (f64, Point)> + '_ {
        let first = self.lengths.partition_point(|l| *l <= from);
        let corners = self.lengths[first..].iter().copied().zip(self.corners[first..].iter().copied());
        corners.take_while(move |(l, _)| *l < to)
    }

    fn is_closed(&self) -> bool {
        self.corners.first() == self.corners.last()
    }

    /// The facet that a place lies on.
    fn facet(&self, place: f64) -> usize {
        self.lengths.partition_point(|l| *l <= place).clamp(1, self.corners.len() - 1) - 1
    }

    /// The point at a place, µm from the first corner.
    pub fn at(&self, place: f64) -> Point {
        let i = self.facet(place);
        let (a, b, length) = (self.corners[i], self.corners[i + 1], self.lengths[i + 1] - self.lengths[i]);
        if length <= 0.0 { a } else { ahead(a, sub(b, a), ((place - self.lengths[i]) / length).clamp(0.0, 1.0)) }
    }

    /// Unit vector from the centre towards a point.
    pub fn outward(&self, p: Point) -> Point {
        unit(self.centre, p)
    }

    /// Where along the facets a point next to them lies; of one that is not, the place in its direction from the centre or the end nearer to
    /// that.
    pub fn place(&self, p: Point) -> f64 {
        let (first, out) = (sub(self.corners[0], self.centre), sub(p, self.centre));
        let (mut turn, whole) = (self.sense * cross(first, out).atan2(dot(first, out)), self.sweep().abs());
        turn -= TAU * (turn / TAU).floor();
        if turn > whole {
            turn = if turn - whole < TAU - turn { whole } else { 0.0 };
        }
        let n = self.corners.len() - 1;
        let found = self.turns.partition_point(|t| *t <= turn).clamp(1, n) - 1;
        let near = (found.saturating_sub(BESIDE)..(found + BESIDE + 1).min(n)).map(|i| {
            let q = closest(p, self.corners[i], self.corners[i + 1]);
            (distance(p, q), self.lengths[i] + distance(self.corners[i], q))
        });
        near.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(0.0, |best| best.1)
    }

    /// The places of two points on a run of facets shorter than half a closed ring; beyond the end where the run passes it.
    fn places(&self, a: Point, b: Point) -> [f64; 2] {
        let [mut s, mut t] = [a, b].map(|p| self.place(p));
        if self.is_closed() && (t - s).abs() > 0.5 * self.length() {
            if s < t { s += self.length() } else { t += self.length() }
        }
        [s, t]
    }

    /// Twice the area about the centre before a place, which may lie beyond the end of a closed ring.
    fn twice_area_before(&self, place: f64) -> f64 {
        let (whole, rest) = self.wrapped(place);
        let i = self.facet(rest);
        whole * self.areas[self.areas.len() - 1]
            + self.areas[i]
            + twice_area(self.centre, self.corners[i], self.at(rest))
    }

    /// Whole turns before a place, and what is left of it.
    fn wrapped(&self, place: f64) -> (f64, f64) {
        if place > self.length() && self.is_closed() { (1.0, place - self.length()) } else { (0.0, place) }
    }

    /// What the facets from one of their points to another have: area on the right of the straight way, µm², and length, µm.
    pub fn measure(&self, a: Point, b: Point) -> (f64, f64) {
        let [s, t] = self.places(a, b);
        let twice = self.twice_area_before(t) - self.twice_area_before(s) - twice_area(self.centre, a, b);
        (0.5 * twice, (t - s).abs())
    }

    /// Half-way along the facets from one of their points to another, or a corner near there.
    pub fn half_way(&self, a: Point, b: Point) -> Point {
        let [s, t] = self.places(a, b);
        self.at(self.wrapped(self.to_corner(0.5 * (s + t), (t - s).abs())).1)
    }

    /// A place, or the nearest corner's if that is near beside an edge of this length, µm.
    pub fn to_corner(&self, place: f64, edge: f64) -> f64 {
        let (whole, rest) = self.wrapped(place);
        let i = self.facet(rest);
        let near = |l: &f64| (l - rest).abs();
        let corner =
            if near(&self.lengths[i]) < near(&self.lengths[i + 1]) { self.lengths[i] } else { self.lengths[i + 1] };
        let share = if self.lengths[i + 1] - self.lengths[i] > edge { TO_CORNER_OF_LONG } else { TO_CORNER };
        if near(&corner) <= share * edge { whole * self.length() + corner } else { place }
    }

    /// The middle of a quadratic edge between two points of the facets that holds as much area as they do.
    pub fn mid_side(&self, a: Point, b: Point) -> Point {
        let (m, chord, d) = (middle(a, b), distance(a, b), sub(b, a));
        if chord == 0.0 {
            return m;
        }
        // A parabola over a chord holds 2/3 of chord times rise.
        let rise = 1.5 * self.measure(a, b).0 / chord;
        [m[0] + rise * d[1] / chord, m[1] - rise * d[0] / chord]
    }
}
