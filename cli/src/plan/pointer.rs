//! JSON Pointers (RFC 6901): their steps, and what to say of one that leads nowhere.

use crate::device::keys::nearest;
use serde_json::Value;

/// The steps of a pointer, unescaped.
///
/// # Errors
/// What is wrong with the text.
///
/// ```
/// use modalith::plan::pointer::steps;
/// assert_eq!(steps("/a~1b/0").unwrap(), ["a/b", "0"]);
/// assert!(steps("a").is_err() && steps("").is_err() && steps("/~2").is_err());
/// ```
pub fn steps(pointer: &str) -> Result<Vec<String>, String> {
    let Some(rest) = pointer.strip_prefix('/') else {
        return Err(format!("\"{pointer}\" is no JSON Pointer to a member: it must begin with /"));
    };
    rest.split('/')
        .map(|step| {
            let plain = step.replace("~0", "").replace("~1", "");
            if plain.contains('~') {
                return Err(format!("\"{pointer}\" is no JSON Pointer: ~ stands only in ~0 (a ~) and ~1 (a /)"));
            }
            Ok(step.replace("~1", "/").replace("~0", "~"))
        })
        .collect()
}

/// The pointer with these steps.
pub fn pointer<S: AsRef<str>>(steps: &[S]) -> String {
    steps.iter().map(|s| format!("/{}", s.as_ref().replace('~', "~0").replace('/', "~1"))).collect()
}

/// Why a pointer leads nowhere in a value, and what was probably meant.
pub fn nowhere(value: &Value, steps: &[String]) -> (String, String) {
    let mut at = value;
    for (n, step) in steps.iter().enumerate() {
        let inside = match at {
            Value::Object(members) => members.get(step),
            Value::Array(list) => index(step).and_then(|i| list.get(i)),
            _ => None,
        };
        if let Some(next) = inside {
            at = next;
            continue;
        }
        let place = if n == 0 { "the whole".to_owned() } else { format!("\"{}\"", pointer(&steps[..n])) };
        let rest = pointer(&steps[n + 1..]);
        let meant = |key: &str| format!("did you mean \"{}{}{rest}\"?", pointer(&steps[..n]), pointer(&[key]));
        return match at {
            Value::Object(members) => {
                let keys = || members.keys().map(String::as_str);
                let hint = match nearest(step, keys()) {
                    Some(key) => meant(key),
                    None => format!("keys there: {}", keys().collect::<Vec<_>>().join(", ")),
                };
                (format!("leads nowhere: {place} has no \"{step}\""), hint)
            }
            Value::Array(list) if list.is_empty() => (format!("leads nowhere: {place} is empty"), String::new()),
            Value::Array(list) => {
                let last = list.len() - 1;
                let hint = index(step).map_or_else(|| meant("0"), |i| meant(&i.min(last).to_string()));
                (format!("leads nowhere: the elements of {place} are 0 to {last}, not {step}"), hint)
            }
            _ => (format!("leads nowhere: {place} is a single value"), "end the pointer there".to_owned()),
        };
    }
    (String::new(), String::new())
}

/// An index as RFC 6901 has it: no sign, no leading zero.
pub fn index(step: &str) -> Option<usize> {
    let plain = step == "0" || (!step.starts_with('0') && step.bytes().all(|b| b.is_ascii_digit()));
    plain.then(|| step.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn the_nearest_key_is_named() {
        let value = json!({"modes": [{"frequency_hz": 1.0}, {"frequency_hz": 2.0}], "n": 1});
        let say = |p: &str| nowhere(&value, &steps(p).unwrap());
        assert_eq!(say("/modes/0/frequncy_hz").1, "did you mean \"/modes/0/frequency_hz\"?");
        assert_eq!(say("/mode/0/frequency_hz").1, "did you mean \"/modes/0/frequency_hz\"?");
        assert_eq!(say("/modes/2/frequency_hz").1, "did you mean \"/modes/1/frequency_hz\"?");
        assert!(say("/modes/2").0.contains("0 to 1"));
        assert!(say("/modes/01").0.contains("not 01"));
        assert!(say("/n/x").0.contains("single value"));
    }
}
