//! Flexures of generated outlines with known answers, each turned by odd angles: how many, how long, how wide, what they
//! join; and what is left without them. Lengths in µm. Devices are invented.

#![allow(clippy::unwrap_used, clippy::panic)]

use modalith_mesher::boolean;
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{NamedArea, Point, Polygon};
use modalith_mesher::layout::{Ends, LayoutShape};
use modalith_mesher::outline::{Etch, Flexure, Joins, Outline};
use std::f64::consts::PI;
use std::time::Instant;

/// Largest error of lengths and widths, as a share.
const BOUND: f64 = 0.02;
const TURNS_DEG: [f64; 6] = [0.0, 17.0, 33.0, 45.0, 71.0, 164.3];

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Polygon {
    Polygon::solid(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
}

fn drawn(shape: LayoutShape) -> Vec<Polygon> {
    shape.polygons(0.001).unwrap()
}

fn path(points: &[Point], width: f64) -> Vec<Polygon> {
    drawn(LayoutShape::Path { points: points.to_vec(), width, ends: Ends::Flush })
}

fn arc(centre: Point, radius: f64, width: f64, from_deg: f64, to_deg: f64) -> Vec<Polygon> {
    drawn(LayoutShape::Arc { centre, radius, width, from_deg, to_deg, ends: Ends::Flush })
}

fn ring(inner: f64, outer: f64) -> Vec<Polygon> {
    drawn(LayoutShape::Ring { centre: [0.0, 0.0], inner, outer })
}

fn circle(radius: f64) -> Vec<Polygon> {
    drawn(LayoutShape::Circle { centre: [0.0, 0.0], radius })
}

fn along(points: &[Point]) -> f64 {
    points.windows(2).map(|w| (w[0][0] - w[1][0]).hypot(w[0][1] - w[1][1])).sum()
}

/// A drawing with what should be found in it.
#[derive(Clone, Default)]
struct Case {
    structure: Vec<Polygon>,
    holes: Vec<Polygon>,
    anchors: Vec<Polygon>,
    masses: Vec<NamedArea>,
    /// Length, narrowest and widest width.
    flexures: Vec<[f64; 3]>,
    fingers: usize,
}

impl Case {
    fn new(structure: Vec<Vec<Polygon>>, anchors: Vec<Polygon>, flexures: &[(f64, f64)]) -> Self {
        let flexures = flexures.iter().map(|f| [f.0, f.1, f.1]).collect();
        Self { structure: structure.concat(), anchors, flexures, ..Self::default() }
    }

    fn turned(&self, deg: f64) -> Outline {
        let (s, c) = deg.to_radians().sin_cos();
        let ring = |r: &Vec<Point>| r.iter().map(|p| [c * p[0] - s * p[1], s * p[0] + c * p[1]]).collect();
        let turn = |list: &[Polygon]| -> Vec<Polygon> {
            list.iter().map(|p| Polygon { outer: ring(&p.outer), holes: p.holes.iter().map(ring).collect() }).collect()
        };
        let masses = self.masses.iter();
        // United before it is turned: corners rounded one by one would miss the edges they were drawn on.
        let structure = boolean::union(&[&self.structure[..], &self.anchors].concat());
        let drawing = Drawing {
            film: Film::Drawn { structure: turn(&structure), holes: turn(&self.holes) },
            anchoring: Anchoring::Drawn(turn(&self.anchors)),
            masses: masses.map(|m| NamedArea { name: m.name.clone(), polygons: turn(&m.polygons) }).collect(),
            electrodes: vec![],
        };
        Outline::build(&drawing, &Etch::default()).unwrap()
    }

    /// Builds it at every angle; looks at what is found and at what is left without it. Gives the outlines.
    fn check(&self, name: &str) -> Vec<Outline> {
        let widest = |f: &Flexure| f.widths_um.iter().fold(0.0_f64, |m, w| m.max(*w));
        TURNS_DEG
            .iter()
            .map(|&deg| {
                let outline = self.turned(deg);
                let mut found: Vec<[f64; 3]> =
                    outline.flexures.iter().map(|f| [f.length_um, f.width_um, widest(f)]).collect();
                let mut wanted = self.flexures.clone();
                let sort = |list: &mut Vec<[f64; 3]>| {
                    list.sort_by(|a, b| (a[0] * 3.0 + 100.0 * a[1]).total_cmp(&(b[0] * 3.0 + 100.0 * b[1])));
                };
                sort(&mut found);
                sort(&mut wanted);
                assert_eq!(found.len(), wanted.len(), "{name} at {deg}°: {found:?} for {wanted:?}");
                for (f, w) in found.iter().zip(&wanted) {
                    let off = (0..3).map(|k| (f[k] / w[k] - 1.0).abs()).fold(0.0, f64::max);
                    assert!(off <= BOUND, "{name} at {deg}°: {f:?} for {w:?}");
                }
                assert_eq!(outline.fingers.len(), self.fingers, "{name} at {deg}°");
                sound(&outline, &format!("{name} at {deg}°"));
                outline
            })
            .collect()
    }
}

fn area(list: &[Polygon]) -> f64 {
    list.iter().map(Polygon::area).sum()
}

/// What holds for every outline.
fn sound(outline: &Outline, name: &str) {
    for f in &outline.flexures {
        assert_eq!(f.centre_line.len(), f.widths_um.len());
        assert!((along(&f.centre_line) / f.length_um - 1.0).abs() < 1e-9);
        for (end, tip) in f.ends.iter().zip([f.centre_line.first(), f.centre_line.last()]) {
            let [a, b] = end.root;
            let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
            assert!(along(&[middle, *tip.unwrap()]) < 1e-6 * f.width_um, "{name}: {middle:?} {tip:?}");
        }
        // The flexure lies on the left of its root lines, and its area is its length times its width.
        for (k, end) in f.ends.iter().enumerate() {
            let [a, b] = end.root;
            let n = f.centre_line.len();
            let [p, q] = if k == 0 {
                [f.centre_line[0], f.centre_line[1]]
            } else {
                [f.centre_line[n - 1], f.centre_line[n - 2]]
            };
            assert!((b[0] - a[0]) * (q[1] - p[1]) - (b[1] - a[1]) * (q[0] - p[0]) > 0.0, "{name}");
        }
        let mean: f64 = (1..f.centre_line.len())
            .map(|k| 0.5 * (f.widths_um[k - 1] + f.widths_um[k]) * along(&f.centre_line[k - 1..=k]))
            .sum();
        assert!((f.area.area() / mean - 1.0).abs() < 0.05, "{name}: area {} for {mean}", f.area.area());
    }
    let whole: f64 = outline.parts.iter().map(|p| p.polygon.area()).sum();
    let all: Vec<usize> = (0..outline.flexures.len()).collect();
    let some: Vec<usize> = all.iter().copied().filter(|k| k % 2 == 0).collect();
    for (taken, fingers, holes) in [(&all, true, Some(30.0)), (&all, false, None), (&some, true, None)] {
        let bodies = outline.bodies(taken, fingers, holes);
        let parts: f64 = bodies.parts.iter().map(|p| p.polygon.area()).sum();
        let flexures: f64 = taken.iter().map(|k| outline.flexures[*k].area.area()).sum();
        let combs: f64 = if fingers { outline.fingers.iter().map(|f| f.area.area()).sum() } else { 0.0 };
        let sum = parts + flexures + combs - area(&bodies.filled_holes);
        assert!((sum / whole - 1.0).abs() < 1e-10, "{name}: {sum} of {whole}");
        let segments: Vec<[Point; 2]> = bodies
            .parts
            .iter()
            .flat_map(|p| p.polygon.rings())
            .flat_map(|r| (0..r.len()).map(|i| [r[i], r[(i + 1) % r.len()]]))
            .collect();
        for end in taken.iter().flat_map(|k| &outline.flexures[*k].ends).filter(|e| e.joins != Joins::Anchor) {
            let [a, b] = end.root;
            // Bodies have their material on the other side.
            assert_eq!(segments.iter().filter(|s| **s == [b, a]).count(), 1, "{name}: {:?}", end.root);
        }
        for p in &bodies.parts {
            assert_eq!(p.held.len(), 1 + p.polygon.holes.len());
            assert!(p.polygon.rings().zip(&p.held).all(|(r, h)| r.len() == h.len()));
            assert!(p.polygon.area() > 0.0, "{name}");
        }
    }
}

/// A mass of 120 × 100 about the origin.
fn mass() -> Vec<Polygon> {
    vec![rect(-60.0, -50.0, 60.0, 50.0)]
}

/// Beams up and down from it to anchors.
fn guided(width: f64, length: f64) -> Case {
    let beam = |x: f64, s: f64| path(&[[x, 50.0 * s], [x, (50.0 + length) * s]], width);
    let anchor = |s: f64| rect(-70.0, (50.0 + length) * s, 70.0, (70.0 + length) * s);
    let structure = vec![mass(), beam(-40.0, 1.0), beam(40.0, 1.0), beam(-40.0, -1.0), beam(40.0, -1.0)];
    Case::new(structure, vec![anchor(1.0), anchor(-1.0)], &[(length, width); 4])
}

#[test]
fn straight_guided() {
    guided(2.0, 200.0).check("thin");
    guided(6.0, 60.0).check("stout");
    guided(6.0, 19.0).check("just slender");
    Case { flexures: vec![], ..guided(6.0, 16.0) }.check("necks");
    // Flush with the mass's sides, on a frame, with a corner on one side only.
    let mut flush = guided(3.0, 150.0);
    flush.structure = vec![rect(-41.5, -50.0, 41.5, 50.0)];
    flush.structure.extend(
        [(-40.0, 1.0), (40.0, 1.0), (-40.0, -1.0), (40.0, -1.0)]
            .iter()
            .flat_map(|&(x, s)| path(&[[x, 50.0 * s], [x, 200.0 * s]], 3.0)),
    );
    flush.anchors = vec![rect(-70.0, 200.0, 70.0, 220.0), rect(-70.0, -220.0, 70.0, -200.0)];
    flush.flexures = vec![[150.0, 3.0, 3.0]; 4];
    flush.check("flush");
}

#[test]
fn joins_are_named() {
    let mut case = guided(3.0, 100.0);
    case.masses = vec![NamedArea { name: "shuttle".into(), polygons: mass() }];
    for outline in case.check("named") {
        for f in &outline.flexures {
            let joins: Vec<Joins> = f.ends.iter().map(|e| e.joins).collect();
            assert!(joins.contains(&Joins::Anchor) && joins.contains(&Joins::Mass(0)), "{joins:?}");
        }
        // Without them the mass is alone, and free.
        let bodies = outline.bodies(&[0, 1, 2, 3], true, None);
        assert_eq!(bodies.parts.len(), 1);
        assert!(!bodies.parts[0].held.iter().flatten().any(|h| *h));
        assert!((bodies.parts[0].polygon.area() - 12000.0).abs() < 0.1);
    }
}

#[test]
fn between_anchors() {
    let case = Case::new(
        vec![path(&[[0.0, 0.0], [200.0, 0.0]], 4.0)],
        vec![rect(-20.0, -20.0, 0.0, 20.0), rect(200.0, -20.0, 220.0, 20.0)],
        &[(200.0, 4.0)],
    );
    for outline in case.check("clamped at both ends") {
        assert!(outline.bodies(&[0], true, None).parts.is_empty());
    }
}

/// Two inner beams to a truss, two outer ones back to anchors.
fn folded(width: f64, truss: f64) -> Case {
    let beam = |x: f64| path(&[[x, 20.0], [x, 220.0]], width);
    let half = 0.5 * width;
    let structure = vec![
        vec![rect(-40.0, -20.0, 40.0, 20.0), rect(-79.0 - half, 220.0, 79.0 + half, 220.0 + truss)],
        beam(-79.0),
        beam(79.0),
        beam(-29.0),
        beam(29.0),
    ];
    Case::new(structure, vec![rect(-90.0, 0.0, -70.0, 20.0), rect(70.0, 0.0, 90.0, 20.0)], &[(200.0, width); 4])
}

#[test]
fn folded_with_truss() {
    folded(2.0, 10.0).check("stiff truss");
    folded(3.0, 4.5).check("slim truss");
    // A truss as narrow as the beams: the outer ones go round the corner to a joint.
    let mut equal = folded(2.0, 2.0);
    equal.flexures = vec![[250.0, 2.0, 2.0], [250.0, 2.0, 2.0], [200.0, 2.0, 2.0], [200.0, 2.0, 2.0], [56.0, 2.0, 2.0]];
    for outline in equal.check("soft truss") {
        let joints = outline.flexures.iter().flat_map(|f| &f.ends).filter(|e| matches!(e.joins, Joins::Flexure(_)));
        assert_eq!(joints.count(), 6);
    }
}

/// Legs to and fro from an anchor below to a mass above.
fn serpentine(legs: usize, width: f64, gap: f64, reach: f64) -> Case {
    let mut points = vec![[0.0, 0.0], [0.0, 10.0]];
    for k in 0..legs {
        let y = 10.0 + k as f64 * (gap + width);
        let x = if k % 2 == 0 { reach } else { 0.0 };
        points.extend([[x, y], [x, y + gap + width]]);
    }
    points.pop();
    let [x, y] = points[points.len() - 1];
    points.push([x, y + 15.0]);
    let length = along(&points);
    let structure = vec![path(&points, width), vec![rect(-100.0, y + 15.0, 160.0, y + 135.0)]];
    Case::new(structure, vec![rect(-20.0, -20.0, 20.0, 0.0)], &[(length, width)])
}

#[test]
fn serpentines() {
    for (legs, width, gap) in
        [(1, 3.0, 7.0), (2, 3.0, 7.0), (3, 2.0, 2.0), (4, 4.0, 2.0), (5, 3.0, 12.0), (6, 2.0, 1.0)]
    {
        serpentine(legs, width, gap, 60.0).check(&format!("{legs} legs {width} wide {gap} apart"));
    }
    for outline in serpentine(4, 3.0, 6.0, 50.0).check("points") {
        // Two ends and two corners a leg; the corners are where the middle lines cross.
        assert_eq!(outline.flexures[0].centre_line.len(), 10);
        let corners = &outline.flexures[0].centre_line;
        assert!(
            (along(&corners[1..3]) - 50.0).abs() < 1e-3 || (along(&corners[1..3]) - 9.0).abs() < 1e-3,
            "{corners:?}"
        );
    }
}

#[test]
fn crab_legs() {
    for (thigh, shin, ratio) in [(100.0, 40.0, 1.0), (60.0, 120.0, 1.3)] {
        let (w, v) = (4.0, 4.0 * ratio);
        let mut structure = vec![mass()];
        let mut anchors = Vec::new();
        for (sx, sy) in [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)] {
            // Up from the mass's top near its side, then out.
            let (x, y) = (sx * 50.0, sy * (50.0 + shin));
            let leg = [
                rect(x - 0.5 * w, sy * 50.0, x + 0.5 * w, y + sy * 0.5 * v),
                rect(x - sx * 0.5 * w, y - 0.5 * v, x + sx * thigh, y + 0.5 * v),
            ];
            structure.push(leg.map(ordered).to_vec());
            anchors.push(ordered(rect(x + sx * thigh, y - 12.0, x + sx * (thigh + 20.0), y + 12.0)));
        }
        let mut case = Case::new(structure, anchors, &[]);
        case.flexures = vec![[thigh + shin, w, v]; 4];
        case.check(&format!("crab-leg {thigh} {shin} {ratio}"));
    }
}

/// The rectangle with its corners in order.
fn ordered(p: Polygon) -> Polygon {
    let [a, b] = modalith_mesher::geometry::bounds(&p.outer).unwrap();
    rect(a[0], a[1], b[0], b[1])
}

#[test]
fn curved() {
    let quarter = vec![arc([0.0, 0.0], 100.0, 4.0, 0.0, 90.0), vec![rect(60.0, -80.0, 140.0, 0.0)]];
    Case::new(quarter, vec![rect(-30.0, 90.0, 0.0, 110.0)], &[(50.0 * PI, 4.0)]).check("quarter");
    let half = vec![arc([0.0, 0.0], 40.0, 3.0, 0.0, 180.0), vec![rect(10.0, -80.0, 90.0, 0.0)]];
    Case::new(half, vec![rect(-60.0, -20.0, -20.0, 0.0)], &[(40.0 * PI, 3.0)]).check("half");
    // Straight, round the corner, straight; two alike side by side.
    let bent = |r: f64| {
        [
            path(&[[r, 0.0], [r, 60.0]], 3.0),
            arc([0.0, 60.0], r, 3.0, 0.0, 90.0),
            path(&[[0.0, 60.0 + r], [-70.0, 60.0 + r]], 3.0),
        ]
        .concat()
    };
    let structure = vec![bent(30.0), bent(24.0), vec![rect(0.0, -80.0, 80.0, 0.0)]];
    let anchors = vec![rect(-90.0, 75.0, -70.0, 100.0)];
    Case::new(structure, anchors, &[(130.0 + 15.0 * PI, 3.0), (130.0 + 12.0 * PI, 3.0)]).check("bent pair");
    // A spiral of two turns, whose radius grows all the way; both ends drawn into what holds them.
    let spiral = |from: f64, to: f64| -> Vec<Point> {
        let at = |a: f64| [(30.0 + 3.0 * a) * a.cos(), (30.0 + 3.0 * a) * a.sin()];
        (0..=400).map(|k| at(from + (to - from) * f64::from(k) / 400.0)).collect()
    };
    let structure = vec![path(&spiral(-0.1, 4.0 * PI + 0.1), 4.0), vec![rect(56.0, 0.0, 140.0, 70.0)]];
    let clear = along(&spiral(0.0, 4.0 * PI));
    Case::new(structure, vec![rect(20.0, -12.0, 36.0, 0.0)], &[(clear, 4.0)]).check("spiral");
}

#[test]
fn tapered() {
    let taper = |a: f64, b: f64, length: f64| {
        vec![Polygon::solid(vec![[-0.5 * a, 0.0], [0.5 * a, 0.0], [0.5 * b, length], [-0.5 * b, length]])]
    };
    for (a, b, length) in [(3.0, 6.0, 100.0), (8.0, 4.0, 120.0), (4.0, 10.0, 40.0)] {
        let structure = vec![taper(a, b, length), vec![rect(-60.0, length, 60.0, length + 80.0)]];
        let mut case = Case::new(structure, vec![rect(-20.0, -20.0, 20.0, 0.0)], &[]);
        case.flexures = vec![[length, a.min(b), a.max(b)]];
        case.check(&format!("taper {a} {b}"));
    }
}

#[test]
fn joints() {
    // Three beams of one width: two to anchors, one to the mass.
    let tee = vec![
        path(&[[-100.0, 0.0], [100.0, 0.0]], 4.0),
        path(&[[0.0, 0.0], [0.0, 80.0]], 4.0),
        vec![rect(-50.0, 80.0, 50.0, 160.0)],
    ];
    let anchors = vec![rect(-120.0, -20.0, -100.0, 20.0), rect(100.0, -20.0, 120.0, 20.0)];
    let flexures = [(98.0, 4.0), (98.0, 4.0), (78.0, 4.0)];
    for outline in Case::new(tee, anchors, &flexures).check("T") {
        let joints = outline.flexures.iter().flat_map(|f| &f.ends).filter(|e| matches!(e.joins, Joins::Flexure(_)));
        assert_eq!(joints.count(), 3);
        // The block between them and the mass are left.
        assert_eq!(outline.bodies(&[0, 1, 2], true, None).parts.len(), 2);
    }
    // A crossing, and a joint of three at 120°.
    let cross = vec![
        path(&[[-100.0, 0.0], [100.0, 0.0]], 4.0),
        path(&[[0.0, -100.0], [0.0, 80.0]], 4.0),
        vec![rect(-50.0, 80.0, 50.0, 160.0)],
    ];
    let anchors =
        vec![rect(-120.0, -20.0, -100.0, 20.0), rect(100.0, -20.0, 120.0, 20.0), rect(-20.0, -120.0, 20.0, -100.0)];
    Case::new(cross, anchors, &[(98.0, 4.0), (98.0, 4.0), (98.0, 4.0), (78.0, 4.0)]).check("cross");
    let arm = |deg: f64| {
        let (s, c) = f64::to_radians(deg).sin_cos();
        let at = |r: f64, h: f64| [r * c - h * s, r * s + h * c];
        vec![Polygon::solid(vec![at(-1.0, -2.0), at(100.0, -2.0), at(100.0, 2.0), at(-1.0, 2.0)])]
    };
    let hub = drawn(LayoutShape::Ring { centre: [0.0, 0.0], inner: 90.0, outer: 120.0 });
    let clear = (90f64.powi(2) - 4.0).sqrt() - 2.0 / 3f64.sqrt();
    Case::new(vec![arm(90.0), arm(210.0), arm(330.0)], hub, &[(clear, 4.0); 3]).check("Y");
}

#[test]
fn combs_holes_and_frames_around() {
    // A shuttle with a comb on either side, release holes, on folded flexures.
    let mut case = folded(2.0, 10.0);
    for k in 0..8 {
        let y = -18.0 + 5.0 * f64::from(k);
        case.structure.extend([rect(40.0, y, 70.0, y + 2.0), rect(-70.0, y, -40.0, y + 2.0)]);
    }
    case.anchors = vec![rect(-90.0, 25.0, -70.0, 45.0), rect(70.0, 25.0, 90.0, 45.0)];
    case.flexures = vec![[200.0, 2.0, 2.0], [200.0, 2.0, 2.0], [175.0, 2.0, 2.0], [175.0, 2.0, 2.0]];
    case.structure.retain(|p| !(p.outer[0][0].abs() > 70.0 && p.outer[0][1] == 20.0));
    case.structure.extend([rect(-80.0, 45.0, -78.0, 220.0), rect(78.0, 45.0, 80.0, 220.0)]);
    for (i, j) in (0..7).flat_map(|i| (0..3).map(move |j| (f64::from(i), f64::from(j)))) {
        case.holes.push(rect(-33.0 + 10.0 * i, -14.0 + 11.0 * j, -28.0 + 10.0 * i, -9.0 + 11.0 * j));
    }
    case.fingers = 16;
    for outline in case.check("comb drive") {
        assert!(outline.fingers.iter().all(|f| (f.length_um - 30.0).abs() < 0.3 && (f.width_um - 2.0).abs() < 0.02));
        let bodies = outline.bodies(&[0, 1, 2, 3], true, Some(8.0));
        assert_eq!((bodies.parts.len(), bodies.filled_holes.len()), (2, 21));
        assert!((area(&bodies.filled_holes) - 525.0).abs() < 0.01);
        let kept = outline.bodies(&[0, 1, 2, 3], true, Some(7.0));
        assert!(kept.filled_holes.is_empty());
    }
    // A frame on narrower flexures at its corners, and a mass inside it on narrower ones still.
    let frame = Polygon { holes: vec![rect(-90.0, -90.0, 90.0, 90.0).outer], ..rect(-105.0, -105.0, 105.0, 105.0) };
    let inner = path(&[[-90.0, 0.0], [90.0, 0.0]], 3.0);
    let outer = [path(&[[0.0, 105.0], [0.0, 165.0]], 5.0), path(&[[0.0, -105.0], [0.0, -165.0]], 5.0)].concat();
    let structure = vec![vec![frame], mass(), inner, outer];
    let anchors = vec![rect(-20.0, 165.0, 20.0, 185.0), rect(-20.0, -185.0, 20.0, -165.0)];
    Case::new(structure, anchors, &[(30.0, 3.0), (30.0, 3.0), (60.0, 5.0), (60.0, 5.0)]).check("gimbal");
}

#[test]
fn no_flexures() {
    let hold = |r: &[Polygon]| r.to_vec();
    Case::new(vec![circle(150.0)], drawn(LayoutShape::Ring { centre: [0.0, 0.0], inner: 150.0, outer: 180.0 }), &[])
        .check("diaphragm");
    Case::new(vec![mass()], vec![rect(-80.0, -50.0, -60.0, 50.0)], &[]).check("held plate");
    Case::new(vec![path(&[[0.0, 0.0], [100.0, 0.0]], 4.0)], vec![rect(-20.0, -20.0, 0.0, 20.0)], &[])
        .check("cantilever");
    // A plate with a window, on two torsion bars: its rim is no flexure.
    let plate = Polygon { holes: vec![rect(-90.0, -90.0, 90.0, 90.0).outer], ..rect(-100.0, -100.0, 100.0, 100.0) };
    let bars = [path(&[[0.0, 100.0], [0.0, 160.0]], 4.0), path(&[[0.0, -100.0], [0.0, -160.0]], 4.0)].concat();
    let anchors = vec![rect(-20.0, 160.0, 20.0, 180.0), rect(-20.0, -180.0, 20.0, -160.0)];
    Case::new(vec![vec![plate], bars.clone()], anchors.clone(), &[(60.0, 4.0); 2]).check("window");
    // Long windows beside one edge leave a rim as narrow as the bars.
    let plate = Polygon { holes: vec![rect(-90.0, 60.0, 90.0, 96.0).outer], ..rect(-100.0, -100.0, 100.0, 100.0) };
    let bars = [path(&[[-98.0, 100.0], [-98.0, 160.0]], 4.0), path(&[[0.0, -100.0], [0.0, -160.0]], 4.0)].concat();
    let mut case = Case::new(vec![vec![plate], bars], anchors, &[(60.0, 4.0); 2]);
    case.anchors[0] = rect(-120.0, 160.0, 20.0, 180.0);
    case.check("rim");
    // Rings: the ring of a ring resonator stays a body, whatever its spokes' width.
    let spoke = |deg: f64, w: f64| {
        let (s, c) = f64::to_radians(deg).sin_cos();
        let at = |r: f64, h: f64| [r * c - h * s, r * s + h * c];
        vec![Polygon::solid(vec![at(0.0, -0.5 * w), at(195.0, -0.5 * w), at(195.0, 0.5 * w), at(0.0, 0.5 * w)])]
    };
    for (width, name) in [(5.0, "thin spokes"), (18.0, "spokes as wide as the ring")] {
        let h = 0.5 * width;
        let clear = (180f64.powi(2) - h * h).sqrt() - (40f64.powi(2) - h * h).sqrt();
        let mut structure: Vec<Vec<Polygon>> = (0..8).map(|k| spoke(45.0 * f64::from(k), width)).collect();
        structure.extend([ring(180.0, 200.0), circle(40.0)]);
        Case::new(structure, hold(&circle(40.0)), &[(clear, width); 8]).check(name);
    }
}

#[test]
fn fast_with_many_holes() {
    let hole = |i: usize, j: usize| {
        let (x, y) = (-790.0 + 5.0 * i as f64, -790.0 + 5.0 * j as f64);
        rect(x, y, x + 2.5, y + 2.5)
    };
    let seconds = |n: usize| {
        let bars = [path(&[[0.0, 800.0], [0.0, 900.0]], 8.0), path(&[[0.0, -800.0], [0.0, -900.0]], 8.0)].concat();
        let structure = [vec![rect(-800.0, -800.0, 800.0, 800.0)], bars].concat();
        let holes = (0..n).flat_map(|i| (0..n).map(move |j| hole(i, j))).collect();
        let anchors = vec![rect(-30.0, 900.0, 30.0, 930.0), rect(-30.0, -930.0, 30.0, -900.0)];
        let drawing = Drawing {
            film: Film::Drawn { structure, holes },
            anchoring: Anchoring::Drawn(anchors),
            masses: vec![],
            electrodes: vec![],
        };
        let outline = Outline::build(&drawing, &Etch::default()).unwrap();
        let start = Instant::now();
        let found = modalith_mesher::flexure::find(&outline);
        let bodies = outline.bodies(&[0, 1], true, Some(4.0));
        let time = start.elapsed().as_secs_f64();
        assert_eq!((found.flexures.len(), bodies.parts.len(), bodies.filled_holes.len()), (2, 1, n * n));
        time
    };
    let (few, many) = (seconds(100), seconds(316));
    // Ten times the holes; twice that leaves room for a busy machine, a quadratic search would take a hundred times.
    assert!(many < 25.0 * few + 0.05, "{few} s, {many} s");
    println!("10 000 holes {few:.3} s, 100 000 holes {many:.3} s");
}
