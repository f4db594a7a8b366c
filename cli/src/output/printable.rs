//! Text from inputs on its way to a screen: characters that command a terminal, or turn the order of letters around, are
//! written out. In JSON they are written in JSON's own way, so that it means the same.

use std::borrow::Cow;

/// Whether a screen obeys this character instead of showing it: control characters but line feed and tab, line and paragraph
/// separators, and those that set the direction of text (Unicode Standard Annex 9, section 2).
fn commands(c: char) -> bool {
    match c {
        '\n' | '\t' => false,
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => true,
        c => c.is_control(),
    }
}

fn written_out(text: &str, write: impl Fn(char) -> String) -> Cow<'_, str> {
    if !text.contains(commands) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().map(|c| if commands(c) { write(c) } else { c.to_string() }).collect())
}

/// Text for a screen.
///
/// ```
/// use modalith::output::printable::printable;
/// assert_eq!(printable("left\u{1b}[2J\u{202e}\n"), "left\\u{1b}[2J\\u{202e}\n");
/// ```
pub fn printable(text: &str) -> Cow<'_, str> {
    written_out(text, |c| c.escape_unicode().to_string())
}

/// JSON for a screen: the same value.
///
/// ```
/// use modalith::output::printable::printable_json;
/// assert_eq!(printable_json("[\"\u{9b}2J\"]"), "[\"\\u009b2J\"]");
/// ```
pub fn printable_json(json: &str) -> Cow<'_, str> {
    written_out(json, |c| format!("\\u{:04x}", u32::from(c)))
}
