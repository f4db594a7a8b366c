//! Vibration modes of planar suspended structures: elements, systems, spectrum, modes.

pub mod audit;
pub mod beam_shell;
pub mod completed;
pub mod electrode;
pub mod element;
pub mod frame;
pub mod joint;
pub mod lumped;
pub mod material;
pub mod modal;
pub mod mode;
pub mod model;
pub mod process;
pub mod rate;
pub mod rigid;
pub mod rotation;
pub mod section;
pub mod sensor;
pub mod spectrum;
pub mod system;
