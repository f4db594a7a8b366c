//! Cuts parts along chords between points of their borders. In: the rings of an outline and straight chords inside the
//! material that do not cross one another. Out: the faces, with the origin of every side. No coordinate is changed and no
//! area lost: a face's corners are corners of the outline and ends of chords, bit for bit. µm.

use super::Part;
use crate::geometry::{Point, Polygon, Ring, cross, distance, dot, middle, ring_area};
use crate::locate::Locator;
use std::collections::HashMap;

/// A ring of the outline with the number of its part and the marks of its segments.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Border<'a> {
    pub part: usize,
    /// Number within its part: 0 is the outer ring.
    pub number: usize,
    pub points: &'a Ring,
    pub held: &'a [bool],
}

/// All rings, part by part.
pub(crate) fn borders(parts: &[Part]) -> Vec<Border<'_>> {
    parts
        .iter()
        .enumerate()
        .flat_map(|(part, p)| {
            let rings = p.polygon.rings().zip(&p.held).enumerate();
            rings.map(move |(number, (points, held))| Border { part, number, points, held })
        })
        .collect()
}

/// A point of a border: on the segment that starts at corner `segment`, or that corner itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Place {
    pub ring: usize,
    pub segment: usize,
    pub at: Point,
}

/// What a side of a face lies on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Side {
    Wall {
        ring: usize,
        segment: usize,
    },
    /// `forward`: the face lies on the left of the chord from its first to its second end.
    Chord {
        chord: usize,
        forward: bool,
    },
}

/// A closed line with the material on its left; side `i` runs from point `i` to the next.
#[derive(Clone, Debug, Default)]
pub(crate) struct Loop {
    pub points: Ring,
    pub sides: Vec<Side>,
}

/// A connected piece.
#[derive(Clone, Debug, Default)]
pub(crate) struct Face {
    pub part: usize,
    pub outer: Loop,
    pub holes: Vec<Loop>,
}

impl Face {
    pub fn polygon(&self) -> Polygon {
        Polygon { outer: self.outer.points.clone(), holes: self.holes.iter().map(|h| h.points.clone()).collect() }
    }

    pub fn loops(&self) -> impl Iterator<Item = &Loop> {
        std::iter::once(&self.outer).chain(&self.holes)
    }

    /// Chords along its border, with their direction.
    pub fn chords(&self) -> impl Iterator<Item = (usize, bool)> {
        self.loops().flat_map(|l| &l.sides).filter_map(|s| match s {
            Side::Chord { chord, forward } => Some((*chord, *forward)),
            Side::Wall { .. } => None,
        })
    }
}

/// A corner of a cut ring.
struct Station {
    at: Point,
    ring: usize,
    segment: usize,
    next: usize,
    /// Chords that start here (`true`) or end here, anticlockwise from the segment that leaves.
    chords: Vec<(usize, bool)>,
}

/// Faces of the rings for which `kept` holds, cut along chords; the chords' ends lie on kept rings.
pub(crate) fn faces(borders: &[Border], kept: impl Fn(usize) -> bool, chords: &[[Place; 2]]) -> Vec<Face> {
    let mut on_ring: HashMap<usize, Vec<(usize, bool)>> = HashMap::new();
    for (c, ends) in chords.iter().enumerate() {
        for (end, start) in ends.iter().zip([true, false]) {
            on_ring.entry(end.ring).or_default().push((c, start));
        }
    }
    let place = |&(c, start): &(usize, bool)| &chords[c][usize::from(!start)];
    let mut stations: Vec<Station> = Vec::new();
    let mut ends = vec![[0usize; 2]; chords.len()];
    let mut loops: Vec<(usize, Loop)> = Vec::new();
    for (ring, border) in borders.iter().enumerate().filter(|(ring, _)| kept(*ring)) {
        let Some(here) = on_ring.get_mut(&ring) else {
            let sides = (0..border.points.len()).map(|segment| Side::Wall { ring, segment }).collect();
            loops.push((border.part, Loop { points: border.points.clone(), sides }));
            continue;
        };
        let along = |p: &Place| {
            let a = border.points[p.segment];
            (p.at[0] - a[0]).hypot(p.at[1] - a[1])
        };
        here.sort_by(|a, b| {
            let (p, q) = (place(a), place(b));
            p.segment.cmp(&q.segment).then(along(p).total_cmp(&along(q))).then(a.cmp(b))
        });
        let first = stations.len();
        let mut open = here.iter().peekable();
        for (segment, &corner) in border.points.iter().enumerate() {
            stations.push(Station { at: corner, ring, segment, next: stations.len() + 1, chords: Vec::new() });
            while let Some(&&end) = open.peek() {
                let p = place(&end);
                if p.segment != segment {
                    break;
                }
                if stations.last().is_some_and(|s| s.at != p.at) {
                    stations.push(Station { at: p.at, ring, segment, next: stations.len() + 1, chords: Vec::new() });
                }
                let last = stations.len() - 1;
                stations[last].chords.push(end);
                ends[end.0][usize::from(!end.1)] = last;
                open.next();
            }
        }
        if let Some(last) = stations.last_mut() {
            last.next = first;
        }
    }
    sort_by_angle(&mut stations, &ends);
    loops.extend(traced(&stations, &ends).into_iter().map(|(s, l)| (borders[stations[s].ring].part, l)));
    assembled(loops)
}

fn sort_by_angle(stations: &mut [Station], ends: &[[usize; 2]]) {
    for s in 0..stations.len() {
        if stations[s].chords.len() < 2 {
            continue;
        }
        let (at, next) = (stations[s].at, stations[stations[s].next].at);
        let out = [next[0] - at[0], next[1] - at[1]];
        let angle = |&(c, start): &(usize, bool)| {
            let to = stations[ends[c][usize::from(start)]].at;
            let d = [to[0] - at[0], to[1] - at[1]];
            let a = cross(out, d).atan2(dot(out, d));
            // A chord along the segment that leaves may round to just below 0, never one along the segment that arrives.
            if a < -1e-7 { a + std::f64::consts::TAU } else { a }
        };
        let mut sorted: Vec<(f64, (usize, bool))> = stations[s].chords.iter().map(|c| (angle(c), *c)).collect();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        stations[s].chords = sorted.into_iter().map(|(_, c)| c).collect();
    }
}

/// Closed lines, each with one of its stations: at every corner the sharpest turn to the left.
fn traced(stations: &[Station], ends: &[[usize; 2]]) -> Vec<(usize, Loop)> {
    #[derive(Clone, Copy, PartialEq)]
    enum Step {
        Wall(usize),
        Chord(usize, bool),
    }
    let leave = |s: usize, chord: Option<usize>| match chord {
        Some(k) => Step::Chord(stations[s].chords[k].0, stations[s].chords[k].1),
        None => Step::Wall(s),
    };
    let next = |step: Step| match step {
        Step::Wall(s) => leave(stations[s].next, stations[stations[s].next].chords.len().checked_sub(1)),
        Step::Chord(c, forward) => {
            let s = ends[c][usize::from(forward)];
            let here = stations[s].chords.iter().position(|e| *e == (c, !forward));
            leave(s, here.and_then(|k| k.checked_sub(1)))
        }
    };
    let mut walked = vec![false; stations.len()];
    let mut crossed = vec![[false; 2]; ends.len()];
    let starts = (0..stations.len()).map(Step::Wall);
    let starts = starts.chain((0..ends.len()).flat_map(|c| [true, false].map(|f| Step::Chord(c, f))));
    let mut out = Vec::new();
    for start in starts {
        let mut step = start;
        let mut found = Loop::default();
        loop {
            let (done, s, side) = match step {
                Step::Wall(s) => {
                    let side = Side::Wall { ring: stations[s].ring, segment: stations[s].segment };
                    (&mut walked[s], s, side)
                }
                Step::Chord(chord, forward) => {
                    let s = ends[chord][usize::from(!forward)];
                    (&mut crossed[chord][usize::from(forward)], s, Side::Chord { chord, forward })
                }
            };
            if *done {
                break;
            }
            *done = true;
            found.points.push(stations[s].at);
            found.sides.push(side);
            step = next(step);
        }
        if !found.points.is_empty() {
            let station = match start {
                Step::Wall(s) => s,
                Step::Chord(c, forward) => ends[c][usize::from(!forward)],
            };
            out.push((station, found));
        }
    }
    out
}

/// Puts every hole into the smallest face around it.
fn assembled(loops: Vec<(usize, Loop)>) -> Vec<Face> {
    let hole = |l: &Loop| {
        let perimeter: f64 = (0..l.points.len())
            .map(|i| {
                let (a, b) = (l.points[i], l.points[(i + 1) % l.points.len()]);
                distance(a, b)
            })
            .sum();
        ring_area(&l.points) < -1e-9 * perimeter * perimeter
    };
    let (holes, outers): (Vec<_>, Vec<_>) = loops.into_iter().partition(|(_, l)| hole(l));
    let mut faces: Vec<Face> =
        outers.into_iter().map(|(part, outer)| Face { part, outer, holes: Vec::new() }).collect();
    if holes.is_empty() {
        return faces;
    }
    let mut by_area: Vec<usize> = (0..faces.len()).collect();
    by_area.sort_by(|a, b| ring_area(&faces[*a].outer.points).total_cmp(&ring_area(&faces[*b].outer.points)));
    let outlines: Vec<Polygon> = by_area.iter().map(|f| Polygon::solid(faces[*f].outer.points.clone())).collect();
    let locator = Locator::new(outlines.iter().map(std::slice::from_ref));
    for (part, hole) in holes {
        // The middle of a wall lies on no other border.
        let wall = hole.sides.iter().position(|s| matches!(s, Side::Wall { .. })).unwrap_or(0);
        let (a, b) = (hole.points[wall], hole.points[(wall + 1) % hole.points.len()]);
        let around = locator.find(middle(a, b)).map(|k| by_area[usize::from(k)]);
        let around = around.or_else(|| faces.iter().position(|f| f.part == part));
        if let Some(f) = around {
            faces[f].holes.push(hole);
        }
    }
    faces
}
