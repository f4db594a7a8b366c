//! Outlines made by hand, invented, µm.

#![allow(dead_code, clippy::panic)]

use modalith_mesher::geometry::{NamedArea, Point, Polygon, Ring};
use modalith_mesher::mesh::{Mesh, MirrorAxis};
use modalith_mesher::outline::{Mirror, Outline, Part};
use std::collections::HashMap;

/// A free part.
pub fn part(polygon: Polygon) -> Part {
    let held = polygon.rings().map(|r| vec![false; r.len()]).collect();
    Part { polygon, held }
}

/// A part held where the middle of a segment of its outer ring satisfies `at`.
pub fn held_part(polygon: Polygon, at: impl Fn(Point) -> bool) -> Part {
    let held = polygon
        .rings()
        .map(|r| {
            (0..r.len())
                .map(|i| {
                    let (a, b) = (r[i], r[(i + 1) % r.len()]);
                    at([0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])])
                })
                .collect()
        })
        .collect();
    Part { polygon, held }
}

/// An outline of parts only.
pub fn outline(parts: Vec<Part>) -> Outline {
    Outline {
        parts,
        anchors: vec![],
        idle_anchors: vec![],
        islands: vec![],
        masses: vec![],
        mirrors: vec![],
        flexures: vec![],
        fingers: vec![],
        covered: vec![],
        filled: vec![],
        unrecognised: vec![],
    }
}

/// An exact mirror axis.
pub fn axis(point: Point, angle_deg: f64) -> Mirror {
    Mirror { axis: MirrorAxis { point, angle_deg }, deviation_um: 0.0 }
}

/// A rectangle.
pub fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Polygon {
    Polygon::solid(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
}

/// A faceted circle, anticlockwise.
pub fn circle(c: Point, r: f64, n: usize) -> Ring {
    (0..n)
        .map(|i| {
            let (s, co) = (std::f64::consts::TAU * i as f64 / n as f64).sin_cos();
            [c[0] + r * co, c[1] + r * s]
        })
        .collect()
}

/// The other way round.
pub fn reversed(mut ring: Ring) -> Ring {
    ring.reverse();
    ring
}

/// A mass of 160 × 60 on four flexures of 4 × 100, held at their ends.
pub fn guided() -> Outline {
    let mut ring: Ring = vec![[-80.0, -30.0], [-52.0, -30.0], [-52.0, -130.0], [-48.0, -130.0], [-48.0, -30.0]];
    ring.extend([[48.0, -30.0], [48.0, -130.0], [52.0, -130.0], [52.0, -30.0], [80.0, -30.0]]);
    ring.extend([[80.0, 30.0], [52.0, 30.0], [52.0, 130.0], [48.0, 130.0], [48.0, 30.0]]);
    ring.extend([[-48.0, 30.0], [-48.0, 130.0], [-52.0, 130.0], [-52.0, 30.0], [-80.0, 30.0]]);
    let mut o = outline(vec![held_part(Polygon::solid(ring), |p| p[1].abs() > 129.9)]);
    o.mirrors = vec![axis([0.0, 0.0], 0.0), axis([0.0, 0.0], 90.0)];
    o
}

/// A ring of radii 96 and 102 on eight spokes 3 wide from a held hub of radius 30.
pub fn spokes() -> Outline {
    let (hub, inner) = (30.0_f64, 96.0_f64);
    let step = std::f64::consts::TAU / 8.0;
    let mut o = Polygon::solid(circle([0.0, 0.0], 102.0, 512));
    let (a0, a1) = ((1.5 / hub).asin(), (1.5 / inner).asin());
    for k in 0..8 {
        // The opening between spoke k and spoke k + 1, clockwise: hub side back, ring side forth.
        let at = |r: f64, a: f64| [r * a.cos(), r * a.sin()];
        let (from, to) = (f64::from(k) * step, f64::from(k + 1) * step);
        let mut ring: Ring =
            (0..=16).map(|i| at(hub, from + a0 + (to - from - 2.0 * a0) * f64::from(i) / 16.0)).collect();
        ring.extend((0..=60).rev().map(|i| at(inner, from + a1 + (to - from - 2.0 * a1) * f64::from(i) / 60.0)));
        o.holes.push(ring);
    }
    o.holes.push(reversed(circle([0.0, 0.0], 20.0, 96)));
    let mut o = outline(vec![held_part(o, |p| p[0].hypot(p[1]) < 20.1)]);
    o.mirrors = (0..8).map(|k| axis([0.0, 0.0], 22.5 * f64::from(k))).collect();
    o
}

/// Two masses of 240 × 300 with round release holes, joined by two flexures, each on six flexures to the ground.
pub fn sensor() -> Outline {
    // One quarter's wall from (0, y) to (x, 0), mirrored into a ring.
    let quarter: Ring = vec![
        [0.0, 102.0],
        [60.0, 102.0],
        [60.0, 150.0],
        [100.0, 150.0],
        [100.0, 250.0],
        [104.0, 250.0],
        [104.0, 150.0],
        [178.0, 150.0],
        [178.0, 250.0],
        [182.0, 250.0],
        [182.0, 150.0],
        [256.0, 150.0],
        [256.0, 250.0],
        [260.0, 250.0],
        [260.0, 150.0],
        [300.0, 150.0],
        [300.0, 0.0],
    ];
    let mut outer: Ring = Vec::new();
    let (n, flip) = (quarter.len(), |sx: f64, sy: f64| move |p: &Point| [sx * p[0], sy * p[1]]);
    outer.extend(quarter[1..n - 1].iter().rev().map(flip(1.0, 1.0)));
    outer.extend(quarter[1..n - 1].iter().map(flip(-1.0, 1.0)));
    outer.extend(quarter[1..n - 1].iter().rev().map(flip(-1.0, -1.0)));
    outer.extend(quarter[1..n - 1].iter().map(flip(1.0, -1.0)));
    let mut p = Polygon::solid(outer);
    p.holes.push(vec![[-60.0, -98.0], [-60.0, 98.0], [60.0, 98.0], [60.0, -98.0]]);
    let mut masses = Vec::new();
    for (name, side) in [("left", -1.0), ("right", 1.0)] {
        for i in 0..5 {
            for j in 0..6 {
                p.holes.push(reversed(circle(
                    [side * (100.0 + 40.0 * f64::from(i)), -125.0 + 50.0 * f64::from(j)],
                    4.0,
                    40,
                )));
            }
        }
        let (a, b) = if side < 0.0 { (-300.0, -60.0) } else { (60.0, 300.0) };
        masses.push(NamedArea { name: name.into(), polygons: vec![rect(a, -150.0, b, 150.0)] });
    }
    let mut o = outline(vec![held_part(p, |p| p[1].abs() > 249.9)]);
    o.masses = masses;
    o.mirrors = vec![axis([0.0, 0.0], 0.0), axis([0.0, 0.0], 90.0)];
    o
}

/// The image of a point.
pub fn mirrored(axis: &MirrorAxis, p: Point) -> Point {
    // Exact for axes along x and y, where the sine and cosine of the doubled angle are.
    let (s, c) = match axis.angle_deg {
        0.0 => (0.0, 1.0),
        90.0 => (0.0, -1.0),
        a => (2.0 * a).to_radians().sin_cos(),
    };
    let d = [p[0] - axis.point[0], p[1] - axis.point[1]];
    [axis.point[0] + c * d[0] + s * d[1], axis.point[1] + s * d[0] - c * d[1]]
}

/// Every point, mid-side point, edge kind and triangle has its mirror image in the mesh.
pub fn symmetric(mesh: &Mesh, axis: &MirrorAxis) {
    let scale = mesh.points.iter().flatten().fold(0.0_f64, |m, x| m.max(x.abs()));
    let tolerance = 1e-12 * scale;
    let key = |p: Point| p.map(|x| (x / (1e3 * tolerance)).floor() as i64);
    let mut at: HashMap<[i64; 2], Vec<u32>> = HashMap::new();
    for (i, &p) in mesh.points.iter().enumerate() {
        at.entry(key(p)).or_default().push(i as u32);
    }
    let find = |p: Point| {
        let k = key(p);
        for dx in -1..=1 {
            for dy in -1..=1 {
                for &i in at.get(&[k[0] + dx, k[1] + dy]).into_iter().flatten() {
                    let q = mesh.points[i as usize];
                    if (q[0] - p[0]).hypot(q[1] - p[1]) <= tolerance {
                        return i;
                    }
                }
            }
        }
        panic!("no point at {p:?}, the image about {axis:?}");
    };
    let image: Vec<u32> = mesh.points.iter().map(|&p| find(mirrored(axis, p))).collect();
    let edges: HashMap<[u32; 2], usize> = mesh.edges.iter().enumerate().map(|(i, e)| (e.ends, i)).collect();
    for edge in &mesh.edges {
        let [a, b] = edge.ends.map(|i| image[i as usize]);
        let other = mesh.edges[edges[&[a.min(b), a.max(b)]]];
        let (want, got) = (mirrored(axis, edge.middle), other.middle);
        assert_eq!(edge.kind, other.kind);
        assert!((want[0] - got[0]).hypot(want[1] - got[1]) <= tolerance);
    }
}
