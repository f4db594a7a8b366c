//! Vibration modes of planar suspended structures: elements, systems, spectrum, modes.

pub mod mode;
pub mod spectrum;
