//! What stands behind the figures, printed. In: statements made where the facts are. Out: lines of text, a list for a page, and `used` in
//! JSON.

use super::lines::Lines;
use modalith_solver::model::Used;
use serde_json::{Value, json};

/// Lines under the word "Used".
pub fn push(out: &mut Lines, used: &[Used]) {
    out.all_told("Used", lines(used));
}

/// Lines for a page.
pub fn lines(used: &[Used]) -> Vec<String> {
    used.iter().map(Used::line).collect()
}

/// `used` of a result.
pub fn document(used: &[Used]) -> Value {
    used.iter().map(|u| json!({"kind": u.kind.word(), "what": u.what})).collect()
}

#[cfg(test)]
mod tests {
    use super::super::screen::Screen;
    use super::*;

    #[test]
    fn statements_say_their_kind_in_every_form() {
        let used = [Used::input("bias"), Used::fallback("shell instead")];
        let mut text = Lines::new(Screen::FILE);
        push(&mut text, &used);
        assert_eq!(text.finish(), "Used     input: bias\n         fallback: shell instead\n");
        assert_eq!(document(&used)[1]["kind"], "fallback");
        assert_eq!(lines(&used)[0], "input: bias");
    }
}
