//! Vibration modes of planar suspended structures: elements, systems, spectrum, modes.

pub mod element;
pub mod material;
pub mod modal;
pub mod mode;
pub mod rotation;
pub mod spectrum;
pub mod system;
