//! Tables: columns beside each other, as many as a line has room for. In: columns ranked by importance. Out: one line a row, and
//! below them the names of the columns that there was no room for.

use super::lines::{Lines, columns as width_of, in_line};

/// Between two columns.
const GAP: usize = 2;
/// A text is shortened to no less than this.
const SHORTEST: usize = 8;

/// One column of a table.
#[derive(Clone, Debug)]
pub struct Column {
    head: String,
    /// Whether its cells are set flush right.
    right: bool,
    cells: Vec<String>,
    /// How soon it is left out where there is no room: those of rank 0 never are.
    rank: u8,
}

impl Column {
    /// Texts, set flush left; never left out.
    pub fn texts(head: impl AsRef<str>, cells: impl IntoIterator<Item = impl AsRef<str>>) -> Self {
        let cells = cells.into_iter().map(|c| in_line(c.as_ref())).collect();
        Self { head: in_line(head.as_ref()), right: false, cells, rank: 0 }
    }

    /// Figures, set flush right; never left out.
    pub fn figures(head: impl AsRef<str>, cells: impl IntoIterator<Item = impl AsRef<str>>) -> Self {
        Self { right: true, ..Self::texts(head, cells) }
    }

    /// Figures whose decimal points stand below each other.
    pub fn decimals(head: impl AsRef<str>, cells: Vec<String>) -> Self {
        Self::figures(head, aligned(cells))
    }

    /// Left out where there is no room: of two columns the one of higher rank first.
    pub fn rank(self, rank: u8) -> Self {
        Self { rank, ..self }
    }

    fn width(&self) -> usize {
        self.cells.iter().chain([&self.head]).map(|c| width_of(c)).max().unwrap_or(0)
    }

    /// A line of it, as wide as all.
    fn set(&self, cell: &str, width: usize) -> String {
        let fill = " ".repeat(width.saturating_sub(width_of(cell)));
        if self.right { format!("{fill}{cell}") } else { format!("{cell}{fill}") }
    }

    fn shorten(&mut self, width: usize) {
        self.cells.iter_mut().chain([&mut self.head]).for_each(|cell| *cell = shortened(cell, width));
    }
}

impl Lines {
    /// A table: the columns of rank 0, and by rank those of the others that there is room for.
    pub fn table(&mut self, mut columns: Vec<Column>) {
        let mut shown = vec![true; columns.len()];
        let mut short = false;
        if !self.screen.wide {
            short = shorten(&mut columns, self.screen.width);
            shown = fitting(&columns, self.screen.width);
        }
        let said: Vec<&Column> = columns.iter().zip(&shown).filter(|(_, s)| **s).map(|(c, _)| c).collect();
        let widths: Vec<usize> = said.iter().map(|c| c.width()).collect();
        let line = |cell: &dyn Fn(&Column) -> String| {
            let set: Vec<String> = said.iter().zip(&widths).map(|(c, w)| c.set(&cell(c), *w)).collect();
            set.join(&" ".repeat(GAP))
        };
        self.put(&line(&|c| c.head.clone()));
        for row in 0..said.first().map_or(0, |c| c.cells.len()) {
            self.put(&line(&|c| c.cells.get(row).cloned().unwrap_or_default()));
        }
        let mut lacks: Vec<&str> =
            columns.iter().zip(&shown).filter(|(_, s)| !**s).map(|(c, _)| c.head.as_str()).collect();
        lacks.extend(short.then_some("the middle of long names"));
        if !lacks.is_empty() {
            self.told("Columns", &format!("left out for want of room: {}; `--wide` shows all", lacks.join(", ")));
        }
    }
}

/// Which columns a line holds.
fn fitting(columns: &[Column], room: usize) -> Vec<bool> {
    let mut shown: Vec<bool> = columns.iter().map(|c| c.rank == 0).collect();
    let mut taken = always(columns);
    let mut others: Vec<usize> = (0..columns.len()).filter(|k| !shown[*k]).collect();
    others.sort_by_key(|k| columns[*k].rank);
    for k in others {
        let width = columns[k].width();
        if taken + width <= room {
            taken += width + GAP;
            shown[k] = true;
        }
    }
    shown
}

/// Room that the columns which are never left out take, a gap behind each.
fn always(columns: &[Column]) -> usize {
    columns.iter().filter(|c| c.rank == 0).map(|c| c.width() + GAP).sum()
}

/// Where the columns that are never left out do not fit, shortens the widest texts of them; says whether it did.
fn shorten(columns: &mut [Column], room: usize) -> bool {
    let over = always(columns).saturating_sub(room + GAP);
    let texts = columns.iter_mut().filter(|c| c.rank == 0 && !c.right);
    let Some(widest) = texts.max_by_key(|c| c.width()).filter(|c| over > 0 && c.width() > SHORTEST) else {
        return false;
    };
    widest.shorten(widest.width().saturating_sub(over).max(SHORTEST));
    true
}

/// A text without its middle, in so many columns: the ends of a name tell more.
fn shortened(text: &str, width: usize) -> String {
    if width_of(text) <= width {
        return text.to_owned();
    }
    let end = |chars: &mut dyn Iterator<Item = char>, room: usize| -> Vec<char> {
        let mut taken = String::new();
        chars
            .take_while(|c| {
                taken.push(*c);
                width_of(&taken) <= room
            })
            .collect()
    };
    let tail = (width - 1) / 2;
    let start = end(&mut text.chars(), width - 1 - tail);
    let rest = end(&mut text.chars().rev(), tail);
    start.into_iter().chain(['…']).chain(rest.into_iter().rev()).collect()
}

/// Pads on the right so that decimal points stand below each other once the cells are set flush right.
fn aligned(cells: Vec<String>) -> Vec<String> {
    let tail = |c: &String| c.find('.').map_or(0, |at| c.len() - at);
    let longest = cells.iter().map(tail).max().unwrap_or(0);
    cells.into_iter().map(|c| if c.is_empty() { c } else { format!("{c}{}", " ".repeat(longest - tail(&c))) }).collect()
}

#[cfg(test)]
mod tests {
    use super::super::screen::Screen;
    use super::*;

    fn printed(width: usize, wide: bool, columns: &[Column]) -> Vec<String> {
        let mut lines = Lines::new(Screen { width, wide });
        lines.table(columns.to_vec());
        lines.finish().lines().map(str::to_owned).collect()
    }

    #[test]
    fn figures_stand_below_each_other() {
        let cells = aligned(["9 473.52", "142 170", "", "70 972.2"].map(str::to_owned).to_vec());
        assert_eq!(cells, ["9 473.52", "142 170   ", "", "70 972.2 "]);
        let lines = printed(40, false, &[Column::figures("Hz", cells)]);
        assert_eq!(lines, ["        Hz", "  9 473.52", "142 170", "", " 70 972.2"]);
    }

    /// Ten columns each, so that with gaps 40 hold three, and 46 four.
    fn ranked() -> Vec<Column> {
        let column = |head: &str, rank| Column::figures(head, ["1234567890"]).rank(rank);
        vec![column("mode", 0), column("first out", 3), column("second out", 2), column("last out", 1)]
    }

    #[test]
    fn the_least_important_columns_are_left_out_and_named() {
        assert_eq!(printed(46, false, &ranked()).len(), 2);
        let lines = printed(45, false, &ranked());
        assert!(lines[0].contains("second out") && !lines[0].contains("first out"), "{lines:?}");
        let said = lines[2..].join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(said, "Columns left out for want of room: first out; `--wide` shows all");
        let lines = printed(40, false, &ranked());
        assert!(lines.iter().all(|l| width_of(l) <= 40) && lines[1].matches("1234567890").count() == 3, "{lines:?}");
        let lines = printed(40, true, &ranked());
        assert!(lines.len() == 2 && lines[0].contains("first out"), "{lines:?}");
    }

    #[test]
    fn a_narrow_column_takes_the_room_that_a_more_important_one_has_no_use_for() {
        let mut columns = ranked();
        columns.push(Column::texts("twist", ["0 %"]).rank(4));
        let lines = printed(42, false, &columns);
        assert!(lines[0].ends_with("last out  twist"), "{lines:?}");
    }

    #[test]
    fn rows_keep_what_identifies_them_at_any_width() {
        let names = ["left proof mass of the second pair", "質量質量質量質量質量質量質量質量質量"];
        let columns = [Column::texts("name", names), Column::figures("kg", ["1.2345e-9", "1.2345e-9"])];
        let lines = printed(40, false, &columns);
        assert!(lines.iter().all(|l| width_of(l) <= 40) && lines[1].starts_with("left proof"), "{lines:?}");
        assert!(lines[1].contains("…") && lines[1].contains("cond pair  1.2345e-9"), "{lines:?}");
        assert!(lines[3].starts_with("Columns  left out for want of room: the") && lines.len() == 6, "{lines:?}");
        assert_eq!(printed(40, true, &columns)[1], format!("{}    1.2345e-9", names[0]));
    }
}
