//! A line of JSON with a checksum of its own, so that no altered figure goes into a result unseen.

use crate::device::source::sha256;

/// The last member of a sealed object up to its value.
const MARK: &str = ",\"sha256\":\"";
/// What follows the value.
const END: &str = "\"}";

/// Adds the SHA-256 of an object's text to it as its last member. `object` is the text of a JSON object with members.
pub fn seal(object: &str) -> String {
    let open = object.strip_suffix('}').unwrap_or(object);
    format!("{open}{MARK}{}{END}", sha256(object.as_bytes()))
}

/// The text that was sealed.
///
/// # Errors
/// For text without a checksum, and text that is not what was sealed, in words.
pub fn unseal(text: &str) -> Result<String, &'static str> {
    let sealed = text.strip_suffix(END).and_then(|t| t.rsplit_once(MARK));
    let Some((open, sum)) = sealed else { return Err("has no checksum at its end") };
    let object = format!("{open}}}");
    if sha256(object.as_bytes()) == sum { Ok(object) } else { Err("is not what was written: its checksum differs") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_altered_byte_is_seen() {
        let object = r#"{"point":12,"kept":[38270.4,null],"error":"a \"quote\""}"#;
        let sealed = seal(object);
        assert_eq!(unseal(&sealed).unwrap(), object);
        serde_json::from_str::<serde_json::Value>(&sealed).unwrap();
        for n in 0..sealed.len() {
            let mut altered = sealed.clone().into_bytes();
            altered[n] = if altered[n] == b'7' { b'8' } else { b'7' };
            assert!(unseal(&String::from_utf8(altered).unwrap()).is_err(), "byte {n}");
            assert!(unseal(&sealed[..n]).is_err(), "cut at {n}");
        }
        assert!(unseal(object).is_err());
    }
}
