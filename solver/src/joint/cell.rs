//! Root and corner cells: how much more a beam's end gives than beam theory and an averaged root line say, as a 6 × 6
//! flexibility to be added to the beam's own.
//!
//! A cell is cut out of an ideal neighbourhood and solved as a solid: a stub of the flexure on a half disc of the wide
//! part, or on a rigid wall, or two stubs around a corner, loaded at their ends by the Saint-Venant tractions of the six unit
//! resultants, so that the ends themselves add nothing. From its flexibility goes what the beam-shell model has there: beams,
//! averaged root line, shell. The difference, carried to the root, is what warping restraint, the strain through the
//! thickness and the stress in re-entrant corners do; by Saint-Venant's principle it is local and holds for any length.
//! For twist of a clamped 4 × 15 section it shortens the flexure by 0.18 of its height.

use super::line::{Axis, RootLine};
use crate::element::basis::Order;
use crate::element::beam::flexibility;
use crate::element::prism::SHEAR_CORRECTION;
use crate::element::through::Field;
use crate::material::Law;
use crate::rigid::{transport, turned};
use crate::section::{Section, SectionError, TractionMoments};
use crate::spectrum::{SpectrumError, statics};
use crate::system::{Layer, Structure, Supports, System, SystemError};
use modalith_mesher::geometry::{Point, Polygon};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::mirror::axes;
use modalith_mesher::outline::{Outline, Part};
use modalith_mesher::triangulate::{MeshSize, TriangulateError, triangulate_keeping};
use nalgebra::{DMatrix, Matrix3, Matrix6, Vector3, Vector6};
use std::borrow::Cow;
use std::f64::consts::PI;
use std::sync::Arc;

/// Length of a stub, in units of the larger of width and thickness: the disturbance at a root is gone within it.
const STUB: f64 = 1.5;
/// Radius of the half disc in the same units, from the root line's end.
const DISC: f64 = 2.0;
/// Chords of the half circle; the mesher fits the arc again.
const CHORDS: usize = 48;
/// Growth of the mesh of the wide parts away from a root line.
pub(crate) const GRADING: f64 = 1.5;
/// Order of the wide parts' triangles.
const SHELL_ORDER: u8 = 3;
/// Order of the solid's triangles.
const SOLID_ORDER: u8 = 3;
/// Ratio of the mesh's progression towards the cell's corners.
const CORNER_RATIO: f64 = 0.25;
/// What mirrors across a flexure and along it make of its axes.
const ACROSS_Y: Vector3<f64> = Vector3::new(1.0, -1.0, 1.0);
const ACROSS_X: Vector3<f64> = Vector3::new(-1.0, 1.0, 1.0);
/// A law that differs by no more than this share of its largest entry is the same law.
const ROUNDING: f64 = 1e-12;

/// A flexure's section as the cells need it, in the flexure's own axes: x along it, away from the root.
#[derive(Clone, Debug)]
pub struct Stub<'a> {
    /// Law in the flexure's axes.
    pub law: &'a Law,
    /// Width, µm.
    pub width_um: f64,
    /// Thickness of the layer, µm.
    pub thickness_um: f64,
    /// The section's constants in these axes.
    pub section: &'a Section,
    /// What the cell is measured by, µm: the larger of width and thickness.
    pub size_um: f64,
    /// Degree of the solid through the thickness, as [`degree`] has it.
    pub degree: u8,
}

/// Why a cell has no flexibility.
#[derive(Debug, thiserror::Error)]
pub enum CellError {
    /// No mesh.
    #[error(transparent)]
    Mesh(#[from] TriangulateError),
    /// No system.
    #[error(transparent)]
    System(#[from] SystemError),
    /// No solution.
    #[error(transparent)]
    Statics(#[from] SpectrumError),
    /// No section.
    #[error(transparent)]
    Section(#[from] SectionError),
    /// A root or corner that nobody solved: it is not rigid.
    #[error("the flexibility of a root or corner {width_um:.3} µm wide is missing")]
    Missing {
        /// Width of the flexure there, µm.
        width_um: f64,
    },
    /// Mesh edges do not follow a root line.
    #[error("the mesh of a root cell does not follow its root line")]
    Line,
}

/// A flexibility carried a distance (m) along x: loads act that much farther out, and displacements are those there.
pub fn carried(flexibility: &Matrix6<f64>, distance: f64) -> Matrix6<f64> {
    let lever = lever([distance, 0.0]);
    lever.transpose() * flexibility * lever
}

/// Resultants at a point from resultants at another that lies `by` (x, y, m) from it: moments gain `by` × force.
pub fn lever(by: [f64; 2]) -> Matrix6<f64> {
    transport(&Vector3::new(by[0], by[1], 0.0)).transpose()
}

/// What a root on a rigid wall adds to the beam's flexibility.
///
/// # Errors
/// A cell that cannot be meshed or solved.
pub fn wall(stub: &Stub) -> Result<Matrix6<f64>, CellError> {
    let (half, length) = (0.5 * stub.width_um, STUB * stub.size_um);
    let bar = vec![[0.0, -half], [length, -half], [length, half], [0.0, half]];
    let cell = Cell::new(bar, vec![false, false, false, true], &fine(), &[], Mirrors::Kept)?;
    let reach = length * 1e-6;
    let solid = cell.flexibility(&stub.solid(), &[stub.end(length)], Supports::anchors(&cell.mesh))?;
    Ok(carried(&(solid - flexibility(stub.section, reach)), -reach))
}

/// What a root on the straight border of a wide part adds to the beam's flexibility and the shell's.
///
/// # Errors
/// A cell that cannot be meshed or solved.
pub fn wide(stub: &Stub) -> Result<Matrix6<f64>, CellError> {
    let (half, length) = (0.5 * stub.width_um, STUB * stub.size_um);
    let radius = half + DISC * stub.size_um;
    let arc: Vec<Point> = (0..=CHORDS)
        .map(|i| PI * (0.5 + i as f64 / CHORDS as f64))
        .map(|a| [(radius * a.cos()).min(0.0), radius * a.sin()])
        .collect();
    let closed = |mut ring: Vec<Point>| {
        let first = ring.len();
        ring.extend(&arc);
        let held = (0..ring.len()).map(|i| (first..ring.len() - 1).contains(&i)).collect();
        (ring, held)
    };
    let reach = length * 1e-6;
    let (ring, held) = closed(vec![[0.0, -half], [length, -half], [length, half], [0.0, half]]);
    let cell = Cell::new(ring, held, &fine(), &[], Mirrors::Kept)?;
    let solid = cell.flexibility(&stub.solid(), &[stub.end(length)], Supports::anchors(&cell.mesh))?;
    // As coarse around the root line as the model's own mesh: what such a mesh misses of the give is part of the difference. A mesh made
    // in mirrored halves would be finer; the mean of this one and its image keeps the mirror as well.
    let as_coarse = MeshSize { largest_um: Some(f64::MAX), grading: GRADING, corner_ratio: 1.0, ..MeshSize::default() };
    let (ring, held) = closed(vec![[0.0, -half], [0.0, half]]);
    let cell = Cell::new(ring, held, &as_coarse, &[[0.0, -half], [0.0, half]], Mirrors::Ignored)?;
    let give = |stub: &Stub| {
        cell.flexibility(&shell(stub.law, stub.thickness_um), &[stub.end(0.0)], Supports::anchors(&cell.mesh))
    };
    let (image, m) = (Image::of(stub, &ACROSS_Y)?, reflected(&ACROSS_Y));
    let shell = 0.5 * (give(stub)? + m * give(&image.stub(stub))? * m);
    Ok(carried(&(solid - flexibility(stub.section, reach)), -reach) - shell)
}

/// What a corner adds to the flexibility of two beams that meet on their centre-lines; the second leaves at `angle` (rad) from
/// the first, each with its own section. At the corner, along the second beam's axes.
///
/// Turns to the right are solved as their mirror images, and the narrower beam comes first: corners that are images of each other, or
/// the same one passed the other way, have one mesh, and what it leaves does not break a layout's mirror.
///
/// # Errors
/// A cell that cannot be meshed or solved.
pub fn corner(first: &Stub, second: &Stub, angle: f64) -> Result<Matrix6<f64>, CellError> {
    if angle < 0.0 {
        let image = |stub| Image::of(stub, &ACROSS_Y);
        let (a, b) = (image(first)?, image(second)?);
        let m = reflected(&ACROSS_Y);
        return Ok(m * corner(&a.stub(first), &b.stub(second), -angle)? * m);
    }
    if first.width_um > second.width_um {
        // Passed the other way, then mirrored: x of both beams changes its sign.
        let image = |stub| Image::of(stub, &ACROSS_X);
        let (a, b) = (image(second)?, image(first)?);
        let m = reflected(&ACROSS_X) * turned(-angle);
        return Ok(m.transpose() * left_turn(&a.stub(second), &b.stub(first), angle)? * m);
    }
    left_turn(first, second, angle)
}

/// [`corner`] for a positive angle, as it stands.
fn left_turn(first: &Stub, second: &Stub, angle: f64) -> Result<Matrix6<f64>, CellError> {
    let size = first.size_um.max(second.size_um);
    let (a, b) = (0.5 * first.width_um, 0.5 * second.width_um);
    let (sin, cos) = angle.sin_cos();
    // Where the walls on one side cross: −1 right, +1 left.
    let crossing = |side: f64| [(side * a * cos - side * b) / sin, side * a];
    let reach = (STUB * size + (a.max(b) * (0.5 * angle).tan()).abs()) * 1e-6;
    let length = reach * 1e6;
    let at_end = |y: f64| [length * cos - y * sin, length * sin + y * cos];
    let ring = vec![[-length, -a], crossing(-1.0), at_end(-b), at_end(b), crossing(1.0), [-length, a]];
    let cell = Cell::new(ring, vec![false; 6], &fine(), &[], Mirrors::Kept)?;
    let far = End {
        line: [at_end(-b), at_end(b)],
        axis: Axis { origin: [reach * cos, reach * sin], angle },
        section: second.section,
        resultants: Matrix6::identity(),
    };
    // The near end carries what balances the far end: seen from there the far end lies ahead, then turned.
    let near = End {
        line: [[-length, -a], [-length, a]],
        axis: Axis { origin: [-reach, 0.0], angle: 0.0 },
        section: first.section,
        resultants: -(lever([reach + reach * cos, reach * sin]) * turned(angle).transpose()),
    };
    let degree = first.degree.max(second.degree);
    // The cell's axes are the first beam's.
    let solid = Layer::solid(first.law, first.thickness_um, order(SOLID_ORDER), degree, degree);
    let solid = cell.flexibility(&solid, &[far, near], cell.rigid_motions_held())?;
    // Two beams in series, the near end clamped.
    let chain = lever([reach * cos, reach * sin]) * turned(angle).transpose();
    let beams = flexibility(second.section, reach) + chain.transpose() * flexibility(first.section, reach) * chain;
    Ok(carried(&(solid - beams), -reach))
}

/// The shell of the wide parts.
pub(crate) fn shell(law: &Law, thickness_um: f64) -> Layer {
    Layer::shell_with(law, thickness_um, order(SHELL_ORDER), SHEAR_CORRECTION)
}

fn order(p: u8) -> Order {
    Order::new(p).unwrap_or(Order::DEFAULT)
}

/// Degree through the thickness for a section so many times as tall as wide: only odd degrees carry twist, tall ones need more.
pub fn degree(height_to_width: f64) -> u8 {
    match height_to_width {
        r if r < 1.5 => 3,
        r if r < 5.0 => 5,
        _ => 7,
    }
}

fn fine() -> MeshSize {
    MeshSize { corner_ratio: CORNER_RATIO, ..MeshSize::default() }
}

/// A flexure's law and section in mirrored axes.
struct Image<'a> {
    law: Law,
    section: Cow<'a, Section>,
}

impl<'a> Image<'a> {
    /// `signs`: −1 for the axis that the mirror turns about, 1 for the others.
    fn of(stub: &Stub<'a>, signs: &Vector3<f64>) -> Result<Self, SectionError> {
        let law = stub.law.turned(&Matrix3::from_diagonal(signs));
        let off = (law.stiffness_pa - stub.law.stiffness_pa).amax();
        let section = if off <= ROUNDING * law.stiffness_pa.amax() {
            Cow::Borrowed(stub.section)
        } else {
            Cow::Owned(Section::rectangle(&law, 0.0, stub.width_um * 1e-6, stub.thickness_um * 1e-6)?)
        };
        Ok(Self { law, section })
    }

    fn stub<'s>(&'s self, of: &Stub<'s>) -> Stub<'s> {
        Stub { law: &self.law, section: &self.section, ..of.clone() }
    }
}

/// Motions and loads in mirrored axes: turns and moments take the other sign of each.
fn reflected(signs: &Vector3<f64>) -> Matrix6<f64> {
    let turns = signs * signs.product();
    Matrix6::from_diagonal(&Vector6::new(signs.x, signs.y, signs.z, turns.x, turns.y, turns.z))
}

impl Stub<'_> {
    fn solid(&self) -> Layer {
        Layer::solid(self.law, self.thickness_um, order(SOLID_ORDER), self.degree, self.degree)
    }

    /// The section at x = `at_um`, loaded by unit resultants.
    fn end(&self, at_um: f64) -> End<'_> {
        let half = 0.5 * self.width_um;
        End {
            line: [[at_um, -half], [at_um, half]],
            axis: Axis { origin: [at_um * 1e-6, 0.0], angle: 0.0 },
            section: self.section,
            resultants: Matrix6::identity(),
        }
    }
}

/// A loaded section of a cell.
struct End<'a> {
    line: [Point; 2],
    axis: Axis,
    section: &'a Section,
    /// Resultants there, one column a load case.
    resultants: Matrix6<f64>,
}

/// Whether a cell's mesh is made of mirrored pieces where its outline is.
enum Mirrors {
    Kept,
    Ignored,
}

struct Cell {
    mesh: Arc<Mesh>,
}

impl Cell {
    fn new(
        ring: Vec<Point>,
        held: Vec<bool>,
        size: &MeshSize,
        kept: &[Point],
        mirrors: Mirrors,
    ) -> Result<Self, CellError> {
        let mut outline =
            Outline { parts: vec![Part { polygon: Polygon::solid(ring), held: vec![held] }], ..Outline::default() };
        if matches!(mirrors, Mirrors::Kept) {
            outline.mirrors = axes(&outline);
        }
        Ok(Self { mesh: Arc::new(triangulate_keeping(&outline, size, kept)?) })
    }

    /// Displacements in the sense of the loads, for every load case: Σ over ends.
    fn flexibility(&self, layer: &Layer, ends: &[End], supports: Supports) -> Result<Matrix6<f64>, CellError> {
        let mut sum = Matrix6::zeros();
        for part in Structure::new(Arc::clone(&self.mesh), layer.clone(), supports).uncoupled() {
            let system = System::assemble(&part)?;
            let mut loads = DMatrix::zeros(system.unknowns.len(), 6);
            let degree = system.unknowns.fields().iter().map(|f| usize::from(f.degree)).max().unwrap_or(0);
            for end in ends {
                let tractions = TractionMoments::new(end.section, layer.thickness_m, degree);
                let line = RootLine::find(&self.mesh, end.line).ok_or(CellError::Line)?;
                let motions = line.motions(&self.mesh, part.layer(), &system.unknowns, &end.axis, &tractions);
                for (number, weights) in motions {
                    for case in 0..6 {
                        let work: f64 = (0..6).map(|i| weights[i] * end.resultants[(i, case)]).sum();
                        loads[(number as usize, case)] += work;
                    }
                }
            }
            let moved = statics(&system.k, Some(system.unknowns.groups()), &loads)?;
            sum += (loads.transpose() * moved).fixed_view::<6, 6>(0, 0);
        }
        Ok(0.5 * (sum + sum.transpose()))
    }

    /// Six unknowns at three corners of the mesh, enough to hold a body whose loads balance.
    fn rigid_motions_held(&self) -> Supports {
        let points = &self.mesh.points;
        let far = |from: Point| {
            let away = |p: &Point| (p[0] - from[0]).hypot(p[1] - from[1]);
            (0..points.len()).max_by(|i, j| away(&points[*i]).total_cmp(&away(&points[*j]))).unwrap_or(0)
        };
        let a = far(points[0]);
        let b = far(points[a]);
        let (p, q) = (points[a], points[b]);
        let off = |r: &Point| ((r[0] - p[0]) * (q[1] - p[1]) - (r[1] - p[1]) * (q[0] - p[0])).abs();
        let c = (0..points.len()).max_by(|i, j| off(&points[*i]).total_cmp(&off(&points[*j]))).unwrap_or(0);
        let across = if (q[0] - p[0]).abs() > (q[1] - p[1]).abs() { Field::STRETCH_Y } else { Field::STRETCH_X };
        let mut supports = Supports::none();
        supports.hold_corner(a as u32, &[Field::STRETCH_X, Field::STRETCH_Y, Field::DEFLECTION]);
        supports.hold_corner(b as u32, &[across, Field::DEFLECTION]);
        supports.hold_corner(c as u32, &[Field::DEFLECTION]);
        supports
    }
}
