//! GDSII streams: bytes in, a [`crate::drawing::Drawing`] in µm out.
//!
//! [`read`] turns the bytes of a stream into a [`Library`] of cells in integer database units, [`flatten()`] a cell with
//! everything it contains into polygons and texts in µm, [`drawing`] sorts those by purpose with a [`LayerPlan`].
//!
//! [`overlay()`] writes the flexures of an outline as a stream to be laid over the mask.
//!
//! What is read: boundaries, boxes (as polygons on their layer and boxtype), paths with all end types, texts, references
//! and arrays with mirror, magnification, turn and their absolute flags. What is passed over: nodes, properties, and
//! everything about editing sessions, plot styles and linked libraries. Errors say the byte, the cell or the place in µm,
//! and what to do. Source: the GDSII Stream Format, release 6.0.

mod crossing;
mod device;
mod encode;
mod fault;
mod flatten;
mod hierarchy;
mod layer;
mod library;
mod masks;
mod naming;
mod overlay;
mod parse;
mod path;
mod placement;
mod record;
mod selection;
mod survey;
mod window;

pub use device::{LayerPlan, Notes, drawing};
pub use fault::{GdsError, PlanFault, Purpose, StreamFault};
pub use flatten::{Flat, FlatPolygon, FlatText, flatten};
pub use layer::{LayerCount, LayerSpec};
pub use library::{Array, Cell, DrawnPolygon, Grid, Library, Path, PathEnd, Reference, Text};
pub use masks::masks;
pub use overlay::overlay;
pub use parse::read;
pub use selection::{Limits, POLYGON_COST, Selection};

#[cfg(test)]
mod tests;
