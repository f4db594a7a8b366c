//! Lines of text: sentences wrapped below their start, columns beside each other. In: words and cells. Out: lines for stdout.

/// Width to which sentences are wrapped, in characters.
const WIDTH: usize = 100;
/// Width of the word that starts a line.
pub(super) const LEAD: usize = 9;
/// One column of the table.
pub(super) struct Column {
    pub(super) head: String,
    /// Whether its cells are set flush right.
    pub(super) right: bool,
    pub(super) cells: Vec<String>,
}

/// Pads on the right so that decimal points stand below each other once the cells are set flush right.
pub(super) fn aligned(cells: Vec<String>) -> Vec<String> {
    let tail = |c: &String| c.find('.').map_or(0, |at| c.len() - at);
    let longest = cells.iter().map(tail).max().unwrap_or(0);
    cells.into_iter().map(|c| if c.is_empty() { c } else { format!("{c}{}", " ".repeat(longest - tail(&c))) }).collect()
}

/// Columns beside each other, their heads on top.
pub(super) fn push_columns(out: &mut String, columns: &[Column]) {
    let width =
        |c: &Column| c.cells.iter().map(|s| s.chars().count()).chain([c.head.chars().count()]).max().unwrap_or(0);
    let widths: Vec<usize> = columns.iter().map(width).collect();
    let rows = columns.first().map_or(0, |c| c.cells.len());
    let mut line = |cell: &dyn Fn(&Column) -> String| {
        let mut text = String::new();
        for (column, &w) in columns.iter().zip(&widths) {
            let cell = cell(column);
            text.push_str(&if column.right { format!("{cell:>w$}") } else { format!("{cell:w$}") });
            text.push_str("   ");
        }
        out.push_str(text.trim_end());
        out.push('\n');
    };
    line(&|c| c.head.to_owned());
    for row in 0..rows {
        line(&|c| c.cells.get(row).cloned().unwrap_or_default());
    }
}

/// Two texts on one line, the second at the right margin; on two lines where they do not fit.
pub(super) fn push_spread(out: &mut String, left: &str, right: &str) {
    let (l, r) = (left.chars().count(), right.chars().count());
    if l + r + 2 <= WIDTH {
        out.push_str(&format!("{left}{}{right}\n", " ".repeat(WIDTH - l - r)));
    } else {
        out.push_str(&format!("{left}\n{:LEAD$}{right}\n", ""));
    }
}

/// A leading word and a sentence, wrapped and indented.
pub(super) fn push_wrapped(out: &mut String, lead: &str, text: &str) {
    let mut line = format!("{lead:LEAD$}");
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            out.push_str(&line);
            out.push('\n');
            line = " ".repeat(LEAD);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stand_below_each_other() {
        let cells = aligned(["9 473.52", "142 170", "", "70 972.2"].map(str::to_owned).to_vec());
        assert_eq!(cells, ["9 473.52", "142 170   ", "", "70 972.2 "]);
        let mut out = String::new();
        push_columns(&mut out, &[Column { head: "Hz".into(), right: true, cells }]);
        assert_eq!(out, "        Hz\n  9 473.52\n142 170\n\n 70 972.2\n");
    }

    #[test]
    fn long_sentences_are_wrapped_below_their_start() {
        let mut out = String::new();
        push_wrapped(&mut out, "Look at", &"word ".repeat(40));
        assert!(out.lines().all(|l| l.chars().count() <= WIDTH && l[LEAD..].starts_with("word")), "{out}");
        assert_eq!(out.matches("word").count(), 40);
    }
}
