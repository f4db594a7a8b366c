//! Joints of beams with wider parts and with each other: averaged root lines, root cells that correct them, alone or
//! from a table for many variants, chains.

pub mod cell;
pub mod chain;
pub mod line;
mod stencil;
pub mod table;
