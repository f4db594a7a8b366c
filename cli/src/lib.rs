//! Command line of modalith.
