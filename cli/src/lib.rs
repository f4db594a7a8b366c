//! Command line of modalith.

pub mod device;
