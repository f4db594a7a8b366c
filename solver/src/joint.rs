//! Joints of beams with wider parts and with each other: averaged root lines, root cells that correct them, chains.

pub mod cell;
pub mod chain;
pub mod line;
