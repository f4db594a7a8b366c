//! Where material or a gap is narrowest between pieces of a boundary that are no neighbours: necks at corners, notches and points
//! as well as between facing walls. In: rings on the grid, material on their left. Out: places and widths, µm.
//!
//! A width is a chord through the material from a corner to the nearest point of another side, at which the boundary leads away
//! from the chord on both ends: a local minimum of the distance. A single corner, however sharp, has none.

use crate::boolean::Region;
use crate::geometry::{Point, closest, cross, distance, dot, middle, sub};
use rstar::primitives::{GeomWithData, Line};
use rstar::{AABB, RTree};

/// Walls lead away from a chord when they make at least a right angle with it, but for this (a cosine): rounding.
const SQUARE: f64 = 1e-3;
/// A bump or dent whose contour is shorter than so many least widths is no width of anything.
const SHORT: f64 = 2.0;
/// Places looked for; a drawing with more is refused all the same.
const MOST_PLACES: usize = 1000;
/// Sides looked at for one corner: more lie within a least width only where the drawing is finer than it by orders.
const MOST_SIDES: usize = 4000;

/// What lies between two pieces of a boundary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Between {
    /// Material: the chord is a width.
    Material,
    /// Nothing: the chord is a gap.
    Gap,
}

/// A chord.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Narrow {
    pub ends: [Point; 2],
    pub width_um: f64,
}

impl Narrow {
    /// Its middle, µm.
    pub fn at(&self) -> Point {
        let [a, b] = self.ends;
        middle(a, b)
    }
}

/// A side of a ring.
#[derive(Clone, Copy)]
struct Side {
    ring: usize,
    number: usize,
}

struct Rings {
    points: Vec<Vec<Point>>,
    /// Length of each ring's contour up to each corner, and round it.
    along: Vec<Vec<f64>>,
    tree: RTree<GeomWithData<Line<Point>, u32>>,
    sides: Vec<Side>,
}

/// All local minima below `least_um`, the narrowest first; at most a thousand.
pub(crate) fn narrower(region: &Region, between: Between, least_um: f64) -> Vec<Narrow> {
    let rings = Rings::new(region, between);
    let mut found: Vec<Narrow> = Vec::new();
    for r in 0..rings.points.len() {
        for i in 0..rings.points[r].len() {
            rings.at_corner(r, i, least_um, &mut found);
            if found.len() > 2 * MOST_PLACES {
                break;
            }
        }
    }
    found.sort_by(|a, b| a.width_um.total_cmp(&b.width_um).then(a.at()[1].total_cmp(&b.at()[1])));
    // A chord from corner to corner is found from both, a stretch of parallel walls from both its ends.
    found.dedup_by(|a, b| distance(a.at(), b.at()) < 1e-9);
    found
}

impl Rings {
    fn new(region: &Region, between: Between) -> Self {
        let mut points: Vec<Vec<Point>> = Vec::new();
        for ring in region.shapes.iter().flatten() {
            let mut ring: Vec<Point> = ring.iter().map(|n| region.grid.point(*n)).collect();
            if between == Between::Gap {
                ring.reverse();
            }
            points.push(ring);
        }
        let along = points
            .iter()
            .map(|ring| {
                let mut sum = 0.0;
                let mut table = vec![0.0];
                for i in 0..ring.len() {
                    sum += distance(ring[i], ring[(i + 1) % ring.len()]);
                    table.push(sum);
                }
                table
            })
            .collect();
        let (mut sides, mut lines) = (Vec::new(), Vec::new());
        for (ring, p) in points.iter().enumerate() {
            for number in 0..p.len() {
                lines.push(GeomWithData::new(Line::new(p[number], p[(number + 1) % p.len()]), sides.len() as u32));
                sides.push(Side { ring, number });
            }
        }
        Self { points, along, tree: RTree::bulk_load(lines), sides }
    }

    /// Corner `i` of a ring with its neighbours.
    fn corner(&self, ring: usize, i: usize) -> [Point; 3] {
        let p = &self.points[ring];
        [p[(i + p.len() - 1) % p.len()], p[i], p[(i + 1) % p.len()]]
    }

    fn at_corner(&self, ring: usize, i: usize, least: f64, found: &mut Vec<Narrow>) {
        let corner = self.corner(ring, i);
        // The inside angle of a corner from which a chord can be shortest is half a turn or more.
        let (u, v) = (sub(corner[1], corner[0]), sub(corner[2], corner[1]));
        if cross(u, v) > SQUARE * dot(u, u).sqrt() * dot(v, v).sqrt() {
            return;
        }
        let p = corner[1];
        let around = AABB::from_corners(p.map(|x| x - least), p.map(|x| x + least));
        let near: Vec<Side> = self
            .tree
            .locate_in_envelope_intersecting(&around)
            .take(MOST_SIDES)
            .map(|l| self.sides[l.data as usize])
            .collect();
        for side in &near {
            let n = self.points[side.ring].len();
            let next = (side.number + 1) % n;
            if side.ring == ring && (side.number == i || next == i) {
                continue;
            }
            let (a, b) = (self.points[side.ring][side.number], self.points[side.ring][next]);
            let q = closest(p, a, b);
            let d = distance(p, q);
            // A corner belongs to the side that starts there.
            if d >= least || d == 0.0 || q == b || (q == a && !self.leads_away(side.ring, side.number, p, d)) {
                continue;
            }
            let inward = cross(sub(b, a), sub(p, q)) > 0.0 || q == a;
            if inward && self.leads_away(ring, i, q, d) && !self.short(ring, i, *side, q, least) {
                let blocked = near.iter().any(|s| self.blocks(*s, p, q));
                if !blocked {
                    found.push(Narrow { ends: [p, q], width_um: d });
                }
            }
        }
    }

    /// Whether the boundary at a corner leads away from a chord of length `d` to `q`, the chord lying inside.
    fn leads_away(&self, ring: usize, i: usize, q: Point, d: f64) -> bool {
        let [before, p, after] = self.corner(ring, i);
        let chord = sub(q, p).map(|x| x / d);
        let away = |s: Point| dot(s, chord) <= SQUARE * dot(s, s).sqrt();
        let (back, ahead) = (sub(before, p), sub(after, p));
        // Inside: anticlockwise from the side ahead, before the side back.
        let turn = |s: Point| cross(ahead, s).atan2(dot(ahead, s)).rem_euclid(std::f64::consts::TAU);
        let (to_chord, to_back) = (turn(chord), turn(back));
        away(back) && away(ahead) && to_chord > 0.0 && to_chord < to_back
    }

    /// Whether the contour between a corner and a point of a side of the same ring is that of a mere bump.
    fn short(&self, ring: usize, i: usize, side: Side, q: Point, least: f64) -> bool {
        if side.ring != ring {
            return false;
        }
        let table = &self.along[ring];
        let whole = table[table.len() - 1];
        let at = table[side.number] + distance(self.points[ring][side.number], q);
        let path = (at - table[i]).abs();
        path.min(whole - path) < SHORT * least
    }

    /// Whether a side crosses the inner part of a chord.
    fn blocks(&self, side: Side, p: Point, q: Point) -> bool {
        let points = &self.points[side.ring];
        let (a, b) = (points[side.number], points[(side.number + 1) % points.len()]);
        let (along, chord) = (sub(b, a), sub(q, p));
        let det = cross(chord, along);
        if det == 0.0 {
            return false;
        }
        let w = sub(a, p);
        let (t, s) = (cross(w, along) / det, cross(w, chord) / det);
        (1e-6..1.0 - 1e-6).contains(&t) && (0.0..=1.0).contains(&s)
    }
}

#[cfg(test)]
mod tests {
    use crate::drawing::{Anchoring, Drawing, Film};
    use crate::geometry::{Point, Polygon};
    use crate::layout::LayoutShape;
    use crate::outline::{Etch, Outline, OutlineError};

    fn built(structure: Vec<Polygon>, holes: Vec<Polygon>, least_um: f64) -> Result<Outline, OutlineError> {
        let film = Film::Drawn { structure, holes };
        let drawing = Drawing { film, anchoring: Anchoring::Free, masses: vec![], electrodes: vec![] };
        Outline::build(&drawing, &Etch { smallest_feature_um: least_um, ..Etch::default() })
    }

    fn rect(a: Point, b: Point) -> Polygon {
        Polygon::solid(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
    }

    fn neck(found: Result<Outline, OutlineError>) -> (f64, Point) {
        match found {
            Err(OutlineError::TooThin { width_um, at, .. }) => (width_um, at),
            other => panic!("{other:?}"),
        }
    }

    fn gap(found: Result<Outline, OutlineError>) -> (f64, Point) {
        match found {
            Err(OutlineError::TooClose { gap_um, at, .. }) => (gap_um, at),
            other => panic!("{other:?}"),
        }
    }

    /// A width at a place, or along a stretch with that place in its middle.
    fn near((width, at): (f64, Point), want: f64, place: Point, stretch: [f64; 2]) {
        assert!((width - want).abs() < 1e-4, "{width} for {want}");
        let off = [0, 1].map(|k| (at[k] - place[k]).abs() - 0.5 * stretch[k]);
        assert!(off[0] < 0.02 && off[1] < 0.02, "{at:?} for {place:?}");
    }

    #[test]
    fn a_neck_of_10_nm_between_two_notches_is_thinner_than_half_a_micrometre() {
        let half = [[-30.0, -10.0], [-10.0, -10.0], [0.0, -0.005], [10.0, -10.0], [30.0, -10.0]];
        let outer = half.iter().copied().chain(half.iter().rev().map(|p| [p[0], -p[1]])).collect();
        near(neck(built(vec![Polygon::solid(outer)], vec![], 0.5)), 0.01, [0.0, 0.0], [0.0, 0.0]);
    }

    #[test]
    fn corners_that_overlap_by_1_nm_are_a_neck() {
        let plates = vec![rect([0.0, 0.0], [20.0, 20.0]), rect([19.999, 19.999], [40.0, 40.0])];
        near(neck(built(plates, vec![], 0.5)), 0.001 * 2f64.sqrt(), [19.9995, 19.9995], [0.0, 0.0]);
    }

    #[test]
    fn a_sliver_that_fuses_two_fingers_is_named() {
        let frame = vec![
            rect([0.0, 0.0], [40.0, 10.0]),
            rect([5.0, 10.0], [10.0, 60.0]),
            rect([12.0, 10.0], [17.0, 60.0]),
            rect([9.5, 30.0], [12.5, 30.01]),
        ];
        near(neck(built(frame, vec![], 0.05)), 0.01, [11.0, 30.005], [2.0, 0.0]);
    }

    #[test]
    fn openings_that_leave_a_thread_between_them_are_named() {
        let hole = |x: f64| LayoutShape::Circle { centre: [x, 20.0], radius: 5.0 }.polygons(1e-3).unwrap().remove(0);
        let found = built(vec![rect([0.0, 0.0], [40.0, 40.0])], vec![hole(15.0), hole(25.02)], 0.05);
        near(neck(found), 0.02, [20.01, 20.0], [0.0, 0.0]);
    }

    #[test]
    fn gaps_below_the_least_feature_are_named() {
        let fork = |off: f64| {
            vec![rect([0.0, 0.0], [40.0, 10.0]), rect([5.0, 9.0], [15.0, 50.0]), rect([15.0 + off, 9.0], [30.0, 50.0])]
        };
        near(gap(built(fork(0.02), vec![], 0.05)), 0.02, [15.01, 30.0], [0.0, 40.0]);
        assert!(built(fork(0.06), vec![], 0.05).is_ok());
        // Corners apart by less than a quarter of a nanometre are one; half of one, a step of fine masks, is a gap.
        assert_eq!(built(fork(0.0002), vec![], 0.05).unwrap().parts[0].polygon.outer.len(), 8);
        near(gap(built(fork(0.0005), vec![], 0.0)), 0.0005, [15.0, 30.0], [0.0, 40.0]);
    }

    #[test]
    fn sharp_corners_and_tangent_circles_have_no_width() {
        let spike = Polygon::solid(vec![[0.0, 0.0], [40.0, 0.0], [0.0, 10.0]]);
        assert!(built(vec![spike], vec![], 0.5).is_ok());
        let disc = LayoutShape::Circle { centre: [20.0, 14.9], radius: 5.0 }.polygons(1e-3).unwrap();
        assert!(built([disc, vec![rect([0.0, 0.0], [40.0, 10.0])]].concat(), vec![], 0.05).is_ok());
    }

    /// Seen to hang: webs of a grid step between the openings were meshed.
    #[test]
    fn openings_drawn_side_by_side_leave_no_web() {
        let pitch = 11.21565155735645;
        let at = |i: u32| 5.607836994329782 + f64::from(i) * pitch;
        let holes = (0..4).flat_map(|i| (0..2).map(move |j| (i, j)));
        let side = 16.823466120383117 - 5.607836994329782;
        let holes = holes.map(|(i, j)| rect([at(i), at(j)], [at(i) + side, at(j) + side])).collect();
        let outline = built(vec![rect([0.0, 0.0], [56.07825778678225, 33.64695467206935])], holes, 0.5).unwrap();
        assert_eq!(outline.parts.len(), 1);
        assert_eq!(outline.parts[0].polygon.holes.len(), 1);
    }
}
