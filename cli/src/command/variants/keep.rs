//! From a command's JSON result to the kept columns of one row. Numbers are kept as they are, true and false as 1 and 0, null as an
//! empty place.

use super::journal::Line;
use super::subject::Subject;
use crate::exit::CommandError;
use crate::plan::pointer::nowhere;
use crate::plan::{Kept, Plan};
use serde_json::Value;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Instant;

/// One kept result.
///
/// # Errors
/// What is wrong and what to do: the pointer leads nowhere, or to something else than a number.
pub fn kept(result: &Value, keep: &Kept) -> Result<Option<f64>, (String, String)> {
    match result.pointer(&keep.pointer) {
        None if lost(result, keep) => Err((
            "is not among the modes found: less than half of its shape is left, by MAC".into(),
            "ask for more modes, or for smaller steps".into(),
        )),
        None => Err(nowhere(result, &keep.steps)),
        Some(Value::Null) => Ok(None),
        Some(Value::Bool(yes)) => Ok(Some(f64::from(u8::from(*yes)))),
        Some(Value::Number(n)) => Ok(n.as_f64()),
        Some(other) => {
            let kind = match other {
                Value::String(_) => "a text",
                Value::Array(_) => "an array",
                _ => "an object",
            };
            Err((
                format!("leads to {kind}, and a column holds numbers"),
                "point to a number inside, or another one".into(),
            ))
        }
    }
}

/// Whether a mode as drawn was named and not found again.
fn lost(result: &Value, keep: &Kept) -> bool {
    let [list, name, ..] = keep.steps.as_slice() else { return false };
    list == "tracks" && result[list].get(name).is_some_and(Value::is_null)
}

/// The kept results of the device as drawn; here a pointer that leads nowhere is a fault of the plan.
///
/// # Errors
/// The first such fault, at its place in the plan.
pub fn of_drawn(plan: &Plan, result: &Value) -> Result<Vec<Option<f64>>, CommandError> {
    let one = |k: &Kept| kept(result, k).map_err(|(what, hint)| plan.error(&["keep", &k.name], what, hint).into());
    plan.kept.iter().map(one).collect()
}

/// Solves a point, from 0; what goes wrong is recorded, a panic of the solver too.
pub fn line(plan: &Plan, subject: &Subject, point: usize, values: &[Value]) -> Line {
    let clock = Instant::now();
    let mut errors: Vec<String> = Vec::new();
    let result = catch_unwind(AssertUnwindSafe(|| subject.at(values)));
    let (mut modes, mut meshed_anew) = (Vec::new(), false);
    let kept = match result {
        Ok(Ok(found)) => {
            (modes, meshed_anew) = (found.modes, found.meshed_anew);
            let one = |k: &Kept| {
                kept(&found.result, k).unwrap_or_else(|(what, _)| {
                    errors.push(format!("{}: \"{}\" {what}", k.name, k.pointer));
                    None
                })
            };
            plan.kept.iter().map(one).collect()
        }
        Ok(Err(error)) => {
            errors.push(error.to_string());
            vec![None; plan.kept.len()]
        }
        Err(panic) => {
            let text = panic.downcast_ref::<String>().map(String::as_str);
            let text = text.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("no message");
            errors.push(format!("the solver broke off: {text}"));
            vec![None; plan.kept.len()]
        }
    };
    let error = errors.join("; ").replace(['\n', '\r'], " ");
    Line { point: point + 1, kept, modes, meshed_anew, error, seconds: clock.elapsed().as_secs_f64() }
}
