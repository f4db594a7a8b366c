//! End-to-end tests live in `tests/tests`; this crate holds their shared helpers.
