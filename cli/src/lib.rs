//! Command line of modalith.

pub mod args;
pub mod command;
pub mod device;
pub mod exit;
pub mod memory;
pub mod output;
pub mod plan;
pub mod understood;
