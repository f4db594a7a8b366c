//! How wide text is, said in one place. In: `COLUMNS`, the terminal on stdout, `--wide`. Out: columns of a terminal.

/// Columns where nothing says how many there are: in a pipe, in a file.
const WIDTH: usize = 100;
/// With fewer, `COLUMNS` is taken for a slip: no table has room to be one.
const LEAST: u16 = 40;

/// What text is laid out for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Screen {
    /// Columns of a line.
    pub width: usize,
    /// Whether tables keep all their columns, however wide that makes them.
    pub wide: bool,
}

impl Screen {
    /// Text that is kept: the same in whatever terminal it was made, with whole tables.
    pub const FILE: Self = Self { width: WIDTH, wide: true };

    /// Text on stdout; `wide` as the user asks.
    pub fn of_stdout(wide: bool) -> Self {
        let columns = std::env::var("COLUMNS").ok();
        Self { width: width(columns.as_deref(), of_terminal()), wide }
    }
}

/// Columns of the terminal on stdout, where it is one that tells; how many rows it has, or none, does not matter.
#[cfg(unix)]
fn of_terminal() -> Option<u16> {
    let size = rustix::termios::tcgetwinsize(std::io::stdout()).ok()?;
    Some(size.ws_col).filter(|columns| *columns > 0)
}

/// Columns of the terminal on stdout, where it is one that tells.
#[cfg(not(unix))]
fn of_terminal() -> Option<u16> {
    terminal_size::terminal_size_of(std::io::stdout()).map(|(width, _)| width.0)
}

/// The user's word before the terminal's.
fn width(columns: Option<&str>, terminal: Option<u16>) -> usize {
    let asked = columns.and_then(|c| c.parse().ok()).filter(|c| *c >= LEAST);
    asked.or(terminal).map_or(WIDTH, usize::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_come_before_the_terminal_and_a_pipe_has_a_hundred() {
        for (columns, terminal, expected) in [
            (Some("80"), Some(120), 80),
            (Some("40"), None, 40),
            (Some("39"), Some(120), 120),
            (Some("wide"), Some(120), 120),
            (Some("80.5"), None, 100),
            (Some("-80"), None, 100),
            (Some(""), Some(52), 52),
            (Some("99999999999999999999"), None, 100),
            (None, Some(120), 120),
            (None, None, 100),
        ] {
            assert_eq!(width(columns, terminal), expected, "{columns:?} {terminal:?}");
        }
    }
}
