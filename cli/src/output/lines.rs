//! Lines of text: sentences wrapped below their start, two texts at both margins, the last line of a run. In: words, and a screen
//! to lay them out for. Out: lines for stdout. [`super::columns`] sets tables.

use super::printable::printable;
use super::screen::Screen;
use std::path::Path;
use unicode_width::UnicodeWidthStr;

/// Width of the word that starts a line.
const LEAD: usize = 9;

/// Text being laid out.
#[derive(Clone, Debug)]
pub struct Lines {
    pub(super) screen: Screen,
    pub(super) text: String,
}

impl Lines {
    /// Nothing yet.
    pub fn new(screen: Screen) -> Self {
        Self { screen, text: String::new() }
    }

    /// The text, a line break at its end.
    pub fn finish(self) -> String {
        self.text
    }

    /// An empty line.
    pub fn blank(&mut self) {
        self.text.push('\n');
    }

    /// A sentence from the margin on, its other lines indented.
    pub fn sentence(&mut self, text: &str) {
        self.flow("", LEAD, text);
    }

    /// A leading word and a sentence beside it; its other lines stand below its start.
    pub fn told(&mut self, lead: &str, text: &str) {
        let start = format!("{lead:LEAD$}");
        self.flow(&start, columns(&start), text);
    }

    /// As [`Lines::told`] of several sentences under one word.
    pub fn all_told<T: AsRef<str>>(&mut self, lead: &str, texts: impl IntoIterator<Item = T>) {
        for (i, text) in texts.into_iter().enumerate() {
            self.told(if i == 0 { lead } else { "" }, text.as_ref());
        }
    }

    /// Two texts on one line, the second at the right margin; each from a line of its own where they do not fit. Without a leading
    /// word the first starts at the margin.
    pub fn spread(&mut self, lead: &str, left: &str, right: &str) {
        let start = if lead.is_empty() { String::new() } else { format!("{lead:LEAD$}") };
        let one = format!("{start}{}", in_line(left));
        let taken = columns(&one) + columns(&in_line(right));
        match self.screen.width.checked_sub(taken) {
            Some(room) if room >= 2 => self.put(&format!("{one}{}{}", " ".repeat(room), in_line(right))),
            _ => {
                self.flow(&start, LEAD, left);
                self.told("", right);
            }
        }
    }

    /// What was written where, at what cost.
    pub fn wrote(&mut self, files: &[String], out: &Path, cost: &str) {
        let files = format!("{}  in {}", files.join("  "), out.display());
        self.spread("Wrote", &files, &format!("{cost}.  Design estimate, not a test."));
    }

    /// Words after a start, on as many lines as they need.
    fn flow(&mut self, start: &str, indent: usize, text: &str) {
        let mut line = start.to_owned();
        let mut empty = true;
        for word in words(text) {
            if !empty && columns(&line) + 1 + columns(&word) > self.screen.width {
                self.put(&line);
                line = " ".repeat(indent);
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(&word);
            empty = false;
        }
        self.put(&line);
    }

    pub(super) fn put(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }
}

/// Columns of a terminal that a text takes.
pub(super) fn columns(text: &str) -> usize {
    text.width()
}

/// A text that may hold anything, as it is shown within one line.
pub(super) fn in_line(text: &str) -> String {
    printable(&text.replace(['\n', '\t'], " ")).into_owned()
}

/// The words of a text; a number in groups of three digits is one.
fn words(text: &str) -> Vec<String> {
    let is_group = |w: &str| w.bytes().take_while(u8::is_ascii_digit).count() == 3;
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match words.last_mut() {
            Some(last) if last.ends_with(|c: char| c.is_ascii_digit()) && is_group(word) => {
                last.push(' ');
                last.push_str(&in_line(word));
            }
            _ => words.push(in_line(word)),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laid_out(width: usize, lay: impl Fn(&mut Lines)) -> String {
        let mut lines = Lines::new(Screen { width, wide: false });
        lay(&mut lines);
        lines.finish()
    }

    #[test]
    fn long_sentences_are_wrapped_below_their_start() {
        for width in [40, 80, 100] {
            let out = laid_out(width, |l| l.told("Look at", &"word ".repeat(40)));
            assert!(out.lines().all(|l| l.len() <= width && l[LEAD..].starts_with("word")), "{out}");
            assert!(out.matches("word").count() == 40 && out.starts_with("Look at  word"), "{out}");
        }
        let out = laid_out(40, |l| l.told("Expected  ", &"word ".repeat(10)));
        assert!(out.lines().skip(1).all(|l| l.starts_with("          word")), "{out}");
        let out = laid_out(40, |l| l.told("Per °/s", &"word ".repeat(10)));
        assert!(out.lines().skip(1).all(|l| l.starts_with("         word")), "{out}");
        let out = laid_out(40, |l| l.sentence(&"word ".repeat(10)));
        assert!(out.starts_with("word") && out.lines().skip(1).all(|l| l.starts_with("         word")), "{out}");
    }

    #[test]
    fn wide_characters_take_two_columns_and_commands_are_written_out() {
        let out = laid_out(40, |l| l.told("Mass", &"質量 ".repeat(20)));
        assert!(out.lines().all(|l| columns(l) <= 40) && out.lines().count() == 4, "{out}");
        assert_eq!(laid_out(40, |l| l.told("Mass", "a\u{1b}b")), "Mass     a\\u{1b}b\n");
        assert_eq!(laid_out(40, |l| l.spread("", "a\nb", "c")), format!("a b{}c\n", " ".repeat(36)));
    }

    #[test]
    fn a_number_is_not_torn() {
        assert_eq!(words("at 1 234 567.8 Hz, 12 more"), ["at", "1 234 567.8", "Hz,", "12", "more"]);
        assert_eq!(words("flexures 12, 130 of 4 12345"), ["flexures", "12,", "130", "of", "4", "12345"]);
    }

    #[test]
    fn two_texts_share_a_line_where_they_fit() {
        assert_eq!(laid_out(40, |l| l.spread("Wrote", "a  b", "1 s")), format!("Wrote    a  b{}1 s\n", " ".repeat(24)));
        let out = laid_out(40, |l| l.spread("", "a device with a name", "and a material too"));
        assert_eq!(out.lines().collect::<Vec<_>>(), ["a device with a name  and a material too"]);
        let out = laid_out(40, |l| l.spread("", "a device with a long name", "and a material too"));
        assert_eq!(out.lines().collect::<Vec<_>>(), ["a device with a long name", "         and a material too"]);
        let out = laid_out(40, |l| l.spread("Wrote", &"name ".repeat(10), "1 s"));
        assert!(out.lines().count() == 3 && out.lines().all(|l| l.len() <= 40), "{out}");
    }
}
