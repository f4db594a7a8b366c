//! Every key a plan may hold, object by object: what the reader checks against, and a test the JSON Schema.

use crate::device::keys::Keys;

/// The whole file.
pub const PLAN: Keys = Keys {
    object: "plan",
    known: &["format", "device", "command", "model", "vary", "correlation", "sampling", "keep", "limits"],
};
/// What a varied value may be.
pub const VARIABLE: Keys =
    Keys { object: "variable", known: &["list", "range", "normal", "lognormal", "uniform", "triangular"] };
/// Equally spaced values.
pub const RANGE: Keys = Keys { object: "range", known: &["from", "to", "count"] };
/// A normal distribution.
pub const NORMAL: Keys = Keys { object: "normal", known: &["mean", "deviation"] };
/// A distribution whose logarithm is normal.
pub const LOGNORMAL: Keys = Keys { object: "lognormal", known: &["median", "log_deviation"] };
/// An even distribution.
pub const UNIFORM: Keys = Keys { object: "uniform", known: &["low", "high"] };
/// A distribution that rises to a peak and falls, both linearly.
pub const TRIANGULAR: Keys = Keys { object: "triangular", known: &["low", "peak", "high"] };
/// How two variables go together.
pub const CORRELATION: Keys = Keys { object: "correlation", known: &["between", "coefficient"] };
/// Which points are taken.
pub const SAMPLING: Keys = Keys { object: "sampling", known: &["method", "points", "seed"] };

/// All objects with fixed keys.
pub const ALL: [&Keys; 9] =
    [&PLAN, &VARIABLE, &RANGE, &NORMAL, &LOGNORMAL, &UNIFORM, &TRIANGULAR, &CORRELATION, &SAMPLING];
