//! The lumped model: rigid masses on springs that are taken from the layout, not typed in.
//!
//! In: bodies as polygons and flexures as centre-lines with widths, µm ([`Pieces`]), the layer's law and thickness. Out:
//! six unknowns a moving body, K and M, modes in the words of every other model, and the closed forms that a designer's own
//! sheet has, beside what was extracted.
//!
//! Limits, which are the assumptions of such a model: bodies rigid, roots rigid, flexures shear-rigid beams whose own
//! modes do not matter (their mass follows their static shape).

mod assemble;
mod field;
mod formula;
mod modes;
mod moments;
mod named;
mod outline;
mod relaxed;
mod spring;

pub use field::Place;
pub use formula::{FlexureKind, Formula, Term};
pub use modes::LumpedModes;
pub use moments::Inertia;
pub use named::NamedPart;
pub use spring::{Matrix12, Spring, Stretch, Vector12};

use crate::spectrum::SpectrumError;
use modalith_mesher::geometry::{Point, Polygon};
use nalgebra::{DMatrix, DVector};

/// A rigid piece of the layer.
#[derive(Clone, Debug, PartialEq)]
pub enum Body {
    /// Free to move, µm.
    Moving(Polygon),
    /// Along an anchor, so held like it, µm.
    Held(Polygon),
    /// A place where flexures meet that has no material of its own, µm.
    Joint(Point),
}

/// What holds an end of a flexure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hold {
    /// An anchor.
    Ground,
    /// A body, by number.
    Body(usize),
}

/// A flexure before it is a spring, µm.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// From the middle of one root to that of the other, through its corners.
    pub centre_line: Vec<Point>,
    /// Width at start and end of every straight stretch of the centre-line.
    pub widths_um: Vec<[f64; 2]>,
    /// Area of its material, µm²: its mass, whatever the centre-line says.
    pub area_um2: f64,
    /// What holds its ends.
    pub ends: [Hold; 2],
}

/// A layout taken apart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pieces {
    /// Rigid pieces.
    pub bodies: Vec<Body>,
    /// Flexures.
    pub flexures: Vec<Strip>,
}

/// Why a layout has no lumped model.
#[derive(Debug, thiserror::Error)]
pub enum LumpedError {
    /// No flexure.
    #[error("no slender part: nothing to lump")]
    NoFlexure,
    /// A strip that would have to be a spring and is not known as one.
    #[error("the slender strip at ({:.1}, {:.1}) µm was not recognised as a flexure, and no rigid body bends as it does", .at_um[0], .at_um[1])]
    Unrecognised {
        /// A point in it, µm.
        at_um: Point,
    },
    /// Nothing moves.
    #[error("every body lies along an anchor: nothing is left to move")]
    NothingMoves,
    /// A centre-line without length, or a width that is not positive.
    #[error("flexure {} near ({:.1}, {:.1}) µm has a stretch without length or width", .flexure + 1, .at_um[0], .at_um[1])]
    Shape {
        /// Number of the flexure.
        flexure: usize,
        /// Where it starts, µm.
        at_um: Point,
    },
    /// A flexure with openings.
    #[error("flexure {} near ({:.1}, {:.1}) µm has openings, and no closed form describes such a spring", .flexure + 1, .at_um[0], .at_um[1])]
    Perforated {
        /// Number of the flexure.
        flexure: usize,
        /// Where it starts, µm.
        at_um: Point,
    },
    /// An end that is held by nothing.
    #[error("end {end} of flexure {} near ({:.1}, {:.1}) µm meets no body and no anchor", .flexure + 1, .at_um[0], .at_um[1])]
    LooseEnd {
        /// Number of the flexure.
        flexure: usize,
        /// Which end, 0 or 1.
        end: usize,
        /// Where it is, µm.
        at_um: Point,
    },
    /// An end on material as narrow as the flexure itself, which is no rigid body: a lattice of beams, as a rule.
    #[error(
        "flexure {} ends near ({:.1}, {:.1}) µm on material no wider than itself, {far_um:.0} µm from the nearest rigid part: cross-linked beams, or a strip that was not recognised as a flexure; no closed form describes such a spring",
        .flexure + 1, .at_um[0], .at_um[1]
    )]
    Lattice {
        /// Number of the flexure.
        flexure: usize,
        /// Where it ends, µm.
        at_um: Point,
        /// How far from it the material is wider than the flexure, µm; the extent of the body where it is nowhere.
        far_um: f64,
    },
    /// The eigensolver gave up.
    #[error(transparent)]
    Spectrum(#[from] SpectrumError),
}

/// A lumped model, SI units. Unknowns: for every moving body the motion of its centre along x, y, z, then its turns
/// about x, y, z.
#[derive(Clone, Debug)]
pub struct Lumped {
    /// The pieces it was made of.
    pub pieces: Pieces,
    /// Mass, centre and inertias of every body; a joint has its place and no mass.
    pub inertia: Vec<Inertia>,
    /// Every flexure as a spring.
    pub springs: Vec<Spring>,
    /// What kind of flexure each is.
    pub kinds: Vec<FlexureKind>,
    /// Stiffness, six rows for each body, axes of the layout: N/m between motions, N between motions and turns, N m between turns.
    pub k: DMatrix<f64>,
    /// Mass likewise: kg, kg m, kg m².
    pub m: DMatrix<f64>,
    /// Whether the flexures' mass is in `m`.
    pub flexure_mass: bool,
    /// Place of every body's first unknown; `None` for bodies that do not move.
    first: Vec<Option<usize>>,
    /// Mass matrices of motion along x, y, z.
    by_direction: [DMatrix<f64>; 3],
    /// ∫ ρ u_b u_c dV for (b, c) = (y, z), (z, x), (x, y): rows give u_b, columns u_c.
    crossed: [DMatrix<f64>; 3],
    /// ∫ ρ φ·e dV along x, y, z and ∫ ρ φ·(e × r) dV about them per unknown, kg to kg·m²; r from the layout's origin.
    momentum: [DVector<f64>; 6],
}

#[cfg(test)]
mod tests;
