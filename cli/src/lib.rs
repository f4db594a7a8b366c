//! Command line of modalith.

pub mod output;
