//! Why a shape cannot be drawn, and the checks of single numbers: in comes a number as written, out comes the same or why not. µm.

use super::limits::{LARGEST_UM, MOST_CORNERS};
use crate::geometry::Point;

/// Why a shape cannot be drawn; coordinates in µm.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LayoutError {
    /// A number that is not finite or far too large.
    #[error("{what} {value} µm is not a length on a wafer; give a finite number of at most a metre")]
    NotALength {
        /// What the number is.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// A width, radius or side that is not positive.
    #[error("{what} is {value} µm at ({:.4}, {:.4}) µm; it must be positive", at[0], at[1])]
    NotPositive {
        /// What the number is.
        what: &'static str,
        /// The number, µm.
        value: f64,
        /// Where.
        at: Point,
    },
    /// A ring or path with too few different points.
    #[error("{found} different points near ({:.4}, {:.4}) µm; {needed} are needed", at[0], at[1])]
    TooFewPoints {
        /// Different points given.
        found: usize,
        /// Different points needed.
        needed: usize,
        /// The first point.
        at: Point,
    },
    /// A polygon whose outline encloses nothing.
    #[error("the polygon at ({:.4}, {:.4}) µm encloses no area; its points lie on one line", at[0], at[1])]
    NoArea {
        /// Its first point.
        at: Point,
    },
    /// An outline that crosses itself.
    #[error("the outline crosses itself at ({:.4}, {:.4}) µm; draw it as separate polygons", at[0], at[1])]
    Crossing {
        /// Where.
        at: Point,
    },
    /// A hole that is not inside its polygon.
    #[error("the hole at ({:.4}, {:.4}) µm is not inside its polygon; list it under holes of the layout", at[0], at[1])]
    HoleOutside {
        /// A point of the hole.
        at: Point,
    },
    /// Openings of one polygon that overlap one another or its border.
    #[error("openings of the polygon overlap one another or run over its border, the first of them at ({:.4}, {:.4}) µm; list them under holes of the layout", at[0], at[1])]
    HolesOverlap {
        /// A corner of the first opening.
        at: Point,
    },
    /// An inner radius not below the outer one.
    #[error("the opening of radius {inner} µm leaves nothing of the disc of radius {outer} µm at ({:.4}, {:.4}) µm", at[0], at[1])]
    NothingLeft {
        /// Inner radius.
        inner: f64,
        /// Outer radius.
        outer: f64,
        /// Centre.
        at: Point,
    },
    /// An arc through more than a full turn or through nothing.
    #[error("the arc around ({:.4}, {:.4}) µm runs through {sweep_deg} degrees; more than 0 and at most 360 are possible", at[0], at[1])]
    Sweep {
        /// Its turn.
        sweep_deg: f64,
        /// Centre.
        at: Point,
    },
    /// An array with no copy, or with more corners than a device may have.
    #[error("an array of {columns} × {rows} copies; at least 1 copy and at most {MOST_CORNERS} corners are possible")]
    Copies {
        /// Columns asked.
        columns: u32,
        /// Rows asked.
        rows: u32,
    },
    /// A mirror line without a direction.
    #[error("the mirror line through ({:.4}, {:.4}) µm has no direction; give two different points", at[0], at[1])]
    MirrorLine {
        /// Its point.
        at: Point,
    },
    /// A chord error that is not positive.
    #[error("a chord error of {value} µm; it must be positive")]
    ChordError {
        /// The number asked.
        value: f64,
    },
}

pub(super) fn length(what: &'static str, value: f64) -> Result<f64, LayoutError> {
    if value.abs() <= LARGEST_UM { Ok(value) } else { Err(LayoutError::NotALength { what, value }) }
}

pub(super) fn point(p: Point) -> Result<Point, LayoutError> {
    Ok([length("x", p[0])?, length("y", p[1])?])
}

pub(super) fn positive(what: &'static str, value: f64, at: Point) -> Result<f64, LayoutError> {
    if length(what, value)? > 0.0 { Ok(value) } else { Err(LayoutError::NotPositive { what, value, at }) }
}

pub(super) fn chord(value: f64) -> Result<f64, LayoutError> {
    if value > 0.0 && value.is_finite() { Ok(value) } else { Err(LayoutError::ChordError { value }) }
}
