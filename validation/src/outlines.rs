//! Generated outlines: rectangles, arcs, holes, slivers, abutting and touching shapes, release undercuts, streams. In: a seed. Out:
//! a drawing, and what becomes of it: refused with a reason, or an outline and a mesh that agree in area.

use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::gdsii::{LayerPlan, LayerSpec, drawing, masks, read};
use modalith_mesher::geometry::Polygon;
use modalith_mesher::layout::{Array, Ends, LayoutShape, Placed};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::triangulate::{MeshSize, triangulate};
use std::time::Instant;

/// Kinds of drawings, by the remainder of the seed.
pub const KINDS: [&str; 6] = ["rectangles", "arcs", "holes", "slivers", "undercut", "stream"];

/// A generated case.
#[derive(Clone, Debug)]
pub struct Case {
    /// What kind it is.
    pub kind: &'static str,
    /// What is drawn.
    pub drawing: Drawing,
    /// What etching does to it.
    pub etch: Etch,
}

/// What becomes of a case.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// No outline, because.
    Refused(String),
    /// An outline and its mesh.
    Meshed {
        /// Area of the outline, µm².
        outline_um2: f64,
        /// Area of the mesh, µm².
        mesh_um2: f64,
        /// Whether all edges are straight.
        straight: bool,
        /// Triangles.
        triangles: usize,
        /// Seconds for both.
        seconds: f64,
    },
    /// An outline that cannot be meshed, because: a fault of ours.
    NoMesh(String),
}

/// Numbers from a seed (splitmix64; G. L. Steele et al., OOPSLA 2014).
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len() as u64) as usize]
    }

    /// A length between powers of ten.
    fn magnitude(&mut self, low: f64, high: f64) -> f64 {
        10f64.powf(self.within(low.log10(), high.log10()))
    }
}

fn rect(a: [f64; 2], b: [f64; 2]) -> LayoutShape {
    LayoutShape::Rect { corners: [a, b] }
}

/// The case of a seed, or why a shape of it is no polygon.
pub fn case(seed: u64) -> Result<Case, String> {
    let kind = KINDS[(seed % KINDS.len() as u64) as usize];
    let mut dice = Dice(seed.wrapping_mul(0x2545_f491_4f6c_dd1d) ^ 0x6d6f_6461);
    let etch = Etch::default();
    let chord = if kind == "arcs" { dice.one(&[0.001, 0.01, 0.1, 1.0]) } else { 0.001 };
    let (structure, holes, mut anchors) = match kind {
        "arcs" => arcs(&mut dice),
        "holes" => holes(&mut dice),
        "slivers" => slivers(&mut dice),
        _ => rectangles(&mut dice),
    };
    let polygons = |shapes: &[Placed]| -> Result<Vec<Polygon>, String> {
        let mut out = Vec::new();
        for s in shapes {
            out.extend(s.polygons(chord).map_err(|e| e.to_string())?);
        }
        Ok(out)
    };
    if kind == "undercut" {
        anchors.clear();
    }
    let mut film = (polygons(&structure)?, polygons(&holes)?);
    let mut held = polygons(&anchors)?;
    if kind == "stream" {
        (film, held) = through_a_stream(&film, &held)?;
    }
    let anchoring = match kind {
        "undercut" => Anchoring::LeftByRelease { undercut_um: dice.within(1.0, 8.0) },
        _ if held.is_empty() => Anchoring::Free,
        _ => Anchoring::Drawn(held),
    };
    let film = Film::Drawn { structure: film.0, holes: film.1 };
    Ok(Case { kind, drawing: Drawing { film, anchoring, masses: vec![], electrodes: vec![] }, etch })
}

type Shapes = (Vec<Placed>, Vec<Placed>, Vec<Placed>);

/// Bars that each start inside, flush with or at a corner of one before; an anchor at the first.
fn rectangles(dice: &mut Dice) -> Shapes {
    let grid = dice.one(&[1.0, 0.1, 0.001, 0.0]);
    let tidy = |v: f64| if grid > 0.0 { (v / grid).round() * grid } else { v };
    let mut bars: Vec<[[f64; 2]; 2]> =
        vec![[[0.0, 0.0], [tidy(dice.within(10.0, 80.0)), tidy(dice.within(10.0, 60.0))]]];
    for _ in 0..dice.below(7) {
        let from = bars[dice.below(bars.len() as u64) as usize];
        let corner = [0, 1].map(|k| match dice.below(4) {
            0 => from[0][k],
            1 => from[1][k],
            _ => tidy(dice.within(from[0][k], from[1][k])),
        });
        let size = [0; 2].map(|_| tidy(dice.magnitude(2.0, 60.0)).max(1.0));
        let sign = [0; 2].map(|_| dice.one(&[-1.0, 1.0]));
        let other = [0, 1].map(|k| corner[k] + sign[k] * size[k]);
        bars.push([[0, 1].map(|k| corner[k].min(other[k])), [0, 1].map(|k| corner[k].max(other[k]))]);
    }
    let width = bars[0][1];
    let anchor = rect([-10.0, 0.0], [0.0, tidy(dice.within(0.3, 1.0) * width[1]).max(1.0)]);
    let mut cut = Vec::new();
    for _ in 0..dice.below(3) {
        let a = [0, 1].map(|k| tidy(dice.within(0.2, 0.6) * width[k]));
        let size = [0; 2].map(|_| tidy(dice.within(1.0, 8.0)).max(0.5));
        cut.push(rect(a, [a[0] + size[0], a[1] + size[1]]).into());
    }
    let anchors = if dice.below(5) == 0 { vec![] } else { vec![anchor.into()] };
    (bars.into_iter().map(|[a, b]| rect(a, b).into()).collect(), cut, anchors)
}

/// Discs, rings and bent bars around a common place.
fn arcs(dice: &mut Dice) -> Shapes {
    let mut structure: Vec<Placed> = Vec::new();
    for _ in 0..=dice.below(3) {
        let centre = [dice.within(-20.0, 20.0), dice.within(-20.0, 20.0)];
        let radius = dice.magnitude(3.0, 300.0);
        let width = radius * dice.magnitude(1e-3, 0.5);
        structure.push(match dice.below(3) {
            0 => LayoutShape::Circle { centre, radius }.into(),
            1 => LayoutShape::Ring { centre, inner: radius - width, outer: radius }.into(),
            _ => {
                let from_deg = dice.within(0.0, 360.0);
                let to_deg = from_deg + dice.one(&[360.0, 90.0, 200.0, 0.01, 359.0]);
                let ends = dice.one(&[Ends::Flush, Ends::Square, Ends::Round]);
                LayoutShape::Arc { centre, radius, width, from_deg, to_deg, ends }.into()
            }
        });
    }
    let anchor = rect([-30.0, -30.0], [dice.within(-10.0, 10.0), dice.within(-12.0, 10.0)]);
    let anchors = if dice.below(2) == 0 { vec![] } else { vec![anchor.into()] };
    (structure, vec![], anchors)
}

/// A plate with an array of openings: apart, side by side to rounding, or over one another.
fn holes(dice: &mut Dice) -> Shapes {
    let pitch = dice.within(2.0, 20.0);
    let (columns, rows) = (1 + dice.below(6) as u32, 1 + dice.below(4) as u32);
    let side = pitch * dice.one(&[1.0, 1.0, 0.5, 0.9, 0.999, 1.1]);
    let rim = dice.one(&[0.5, 1.0, 0.01, 0.0]) * pitch;
    let plate = rect([0.0, 0.0], [f64::from(columns) * pitch + 2.0 * rim, f64::from(rows) * pitch + 2.0 * rim + 5.0]);
    let shape = match dice.below(2) {
        0 => rect([rim, rim], [rim + side, rim + side]),
        _ => LayoutShape::Circle { centre: [rim + 0.5 * pitch; 2], radius: 0.5 * side },
    };
    let array = Some(Array { columns, rows, column_step: [pitch, 0.0], row_step: [0.0, pitch] });
    let anchor = rect([-10.0, -10.0], [0.0, 0.7 * pitch * f64::from(rows)]);
    (vec![plate.into()], vec![Placed { shape, array, mirror: None }], vec![anchor.into()])
}

/// Two plates that overlap, abut or miss each other by little, turned or not, and a polygon with a point.
fn slivers(dice: &mut Dice) -> Shapes {
    let off = dice.one(&[-1.0, 1.0]) * dice.magnitude(1e-6, 3.0) * f64::from(u8::from(dice.below(4) > 0));
    let turn: f64 = dice.one(&[0.0, 0.0, 30.0, 17.3]);
    let (s, c) = turn.to_radians().sin_cos();
    let put = |p: [f64; 2]| [c * p[0] - s * p[1], s * p[0] + c * p[1]];
    let plate = |a: [f64; 2], b: [f64; 2]| {
        Placed::from(LayoutShape::Polygon {
            outer: [a, [b[0], a[1]], b, [a[0], b[1]]].map(put).to_vec(),
            holes: vec![],
        })
    };
    let shift = dice.one(&[0.0, 5.0, 20.0 + off]);
    let mut structure = vec![plate([0.0, 0.0], [20.0, 20.0]), plate([20.0 + off, shift], [40.0, shift + 20.0])];
    let tip = [30.0, shift + 20.0 + dice.within(1.0, 30.0)];
    let spike = [[20.5, shift + 19.0], [39.0, shift + 19.0], tip].map(put).to_vec();
    if dice.below(2) == 0 {
        structure.push(LayoutShape::Polygon { outer: spike, holes: vec![] }.into());
    }
    (structure, vec![], vec![plate([-10.0, 0.0], [0.0, 20.0])])
}

type Film2 = (Vec<Polygon>, Vec<Polygon>);

/// The same polygons written as a stream on a grid of 1 nm and read again.
fn through_a_stream(film: &Film2, held: &[Polygon]) -> Result<(Film2, Vec<Polygon>), String> {
    let mut rings = Vec::new();
    for (layer, polygons) in [(1, film.0.as_slice()), (2, film.1.as_slice()), (3, held)] {
        rings.extend(
            polygons
                .iter()
                .map(|p| (layer, p.outer.iter().map(|q| q.map(|x| (x * 1000.0).round() as i32)).collect::<Vec<_>>())),
        );
    }
    let library = read(&masks("device", 1e-9, &rings)).map_err(|e| e.to_string())?;
    let on = |layer: u16, any: bool| if any { vec![LayerSpec::new(layer, 0)] } else { vec![] };
    let plan = LayerPlan {
        structure: on(1, true),
        holes: on(2, !film.1.is_empty()),
        anchors: on(3, !held.is_empty()),
        free: held.is_empty(),
        ..LayerPlan::default()
    };
    let (drawn, _) = drawing(&library, &plan).map_err(|e| e.to_string())?;
    let held = if let Anchoring::Drawn(a) = drawn.anchoring { a } else { vec![] };
    match drawn.film {
        Film::Drawn { structure, holes } => Ok(((structure, holes), held)),
        Film::Trenches { .. } => Err("trenches that nobody wrote".to_owned()),
    }
}

/// Builds the outline of a case and meshes it.
pub fn outcome(case: &Case) -> Outcome {
    let start = Instant::now();
    let outline = match Outline::build(&case.drawing, &case.etch) {
        Ok(outline) => outline,
        Err(e) => return Outcome::Refused(e.to_string()),
    };
    match triangulate(&outline, &MeshSize::default()) {
        Err(e) => Outcome::NoMesh(e.to_string()),
        Ok(mesh) => Outcome::Meshed {
            outline_um2: outline.areas().free_um2,
            mesh_um2: (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum(),
            straight: straight(&mesh),
            triangles: mesh.triangles.len(),
            seconds: start.elapsed().as_secs_f64(),
        },
    }
}

fn straight(mesh: &Mesh) -> bool {
    mesh.edges.iter().all(|e| {
        let [a, b] = e.ends.map(|i| mesh.points[i as usize]);
        (0..2).all(|k| e.middle[k] == 0.5 * (a[k] + b[k]))
    })
}

/// Share that the areas of an outline and its mesh may be apart by where edges are straight: rounding.
const STRAIGHT: f64 = 1e-9;
/// The same with arcs: one wedge stands for images whose corners lie elsewhere on the grid of 0.01 nm.
const MIRRORED: f64 = 1e-6;
/// Seconds that nothing accepted may take.
const GUARD_S: f64 = 20.0;

/// What is wrong with the outcome of a case, if anything.
pub fn fault(outcome: &Outcome) -> Option<String> {
    match outcome {
        Outcome::NoMesh(why) => Some(format!("accepted, but: {why}")),
        Outcome::Meshed { outline_um2, mesh_um2, straight, .. }
            if (mesh_um2 / outline_um2 - 1.0).abs() > if *straight { STRAIGHT } else { MIRRORED } =>
        {
            Some(format!("outline {outline_um2} µm², mesh {mesh_um2} µm²"))
        }
        Outcome::Meshed { seconds, .. } if *seconds > GUARD_S => Some(format!("{seconds:.1} s")),
        _ => None,
    }
}
