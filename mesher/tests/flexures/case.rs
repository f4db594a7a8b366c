//! Drawings with known flexures, and what must hold for every outline of them. µm.

use modalith_mesher::boolean;
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{NamedArea, Point, Polygon};
use modalith_mesher::layout::{Ends, LayoutShape};
use modalith_mesher::outline::{Etch, Flexure, Joins, Outline};

/// Largest error of lengths and widths, as a share.
const BOUND: f64 = 0.02;
const TURNS_DEG: [f64; 6] = [0.0, 17.0, 33.0, 45.0, 71.0, 164.3];

pub fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Polygon {
    Polygon::solid(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
}

pub fn drawn(shape: LayoutShape) -> Vec<Polygon> {
    shape.polygons(0.001).unwrap()
}

pub fn path(points: &[Point], width: f64) -> Vec<Polygon> {
    drawn(LayoutShape::Path { points: points.to_vec(), width, ends: Ends::Flush })
}

pub fn arc(centre: Point, radius: f64, width: f64, from_deg: f64, to_deg: f64) -> Vec<Polygon> {
    drawn(LayoutShape::Arc { centre, radius, width, from_deg, to_deg, ends: Ends::Flush })
}

pub fn ring(inner: f64, outer: f64) -> Vec<Polygon> {
    drawn(LayoutShape::Ring { centre: [0.0, 0.0], inner, outer })
}

pub fn circle(radius: f64) -> Vec<Polygon> {
    drawn(LayoutShape::Circle { centre: [0.0, 0.0], radius })
}

pub fn along(points: &[Point]) -> f64 {
    points.windows(2).map(|w| (w[0][0] - w[1][0]).hypot(w[0][1] - w[1][1])).sum()
}

/// A drawing with what should be found in it.
#[derive(Clone, Default)]
pub struct Case {
    pub structure: Vec<Polygon>,
    pub holes: Vec<Polygon>,
    pub anchors: Vec<Polygon>,
    pub masses: Vec<NamedArea>,
    /// Length, narrowest and widest width.
    pub flexures: Vec<[f64; 3]>,
    pub fingers: usize,
}

impl Case {
    pub fn new(structure: Vec<Vec<Polygon>>, anchors: Vec<Polygon>, flexures: &[(f64, f64)]) -> Self {
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
    pub fn check(&self, name: &str) -> Vec<Outline> {
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

pub fn area(list: &[Polygon]) -> f64 {
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
pub fn mass() -> Vec<Polygon> {
    vec![rect(-60.0, -50.0, 60.0, 50.0)]
}

/// Beams up and down from it to anchors.
pub fn guided(width: f64, length: f64) -> Case {
    let beam = |x: f64, s: f64| path(&[[x, 50.0 * s], [x, (50.0 + length) * s]], width);
    let anchor = |s: f64| rect(-70.0, (50.0 + length) * s, 70.0, (70.0 + length) * s);
    let structure = vec![mass(), beam(-40.0, 1.0), beam(40.0, 1.0), beam(-40.0, -1.0), beam(40.0, -1.0)];
    Case::new(structure, vec![anchor(1.0), anchor(-1.0)], &[(length, width); 4])
}

/// Two inner beams to a truss, two outer ones back to anchors.
pub fn folded(width: f64, truss: f64) -> Case {
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
