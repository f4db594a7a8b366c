//! Command line of modalith.

pub mod args;
pub mod check_report;
pub mod command;
pub mod device;
pub mod exit;
pub mod memory;
pub mod output;
pub mod plan;
