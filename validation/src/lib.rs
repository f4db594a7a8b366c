//! Shared helpers of the validation tests: benchmark meshes and rate fits.
