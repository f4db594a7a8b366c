//! The `modalith` binary.
fn main() {}
