//! Statements of what stands behind the figures: inputs, what was put in the place of parts, what was fallen back on, what was not stated,
//! and what was stated but is not in them; each made where the facts are.

/// What a statement is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum StatementKind {
    /// Stated by the user and in the figures.
    Input,
    /// Put in the place of a part of the layout.
    Replacement,
    /// Taken because what was meant does not serve here.
    Fallback,
    /// Not stated, so that something was taken for it.
    Default,
    /// Stated by the user and not in the figures.
    Neglected,
}

impl StatementKind {
    /// The word for it, in text and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Input => "input",
            Self::Replacement => "replacement",
            Self::Fallback => "fallback",
            Self::Default => "default",
            Self::Neglected => "neglected",
        }
    }
}

/// A statement of what was used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Used {
    /// What it is about.
    pub kind: StatementKind,
    /// A sentence.
    pub what: String,
}

impl Used {
    /// Something that the user stated and the figures have.
    pub fn input(what: impl Into<String>) -> Self {
        Self { kind: StatementKind::Input, what: what.into() }
    }

    /// Something put in the place of a part.
    pub fn replacement(what: impl Into<String>) -> Self {
        Self { kind: StatementKind::Replacement, what: what.into() }
    }

    /// Something taken because what was meant does not serve.
    pub fn fallback(what: impl Into<String>) -> Self {
        Self { kind: StatementKind::Fallback, what: what.into() }
    }

    /// Something taken for what was not stated.
    pub fn default(what: impl Into<String>) -> Self {
        Self { kind: StatementKind::Default, what: what.into() }
    }

    /// Something stated that the figures do not have.
    pub fn neglected(what: impl Into<String>) -> Self {
        Self { kind: StatementKind::Neglected, what: what.into() }
    }

    /// In one line, its kind first.
    pub fn line(&self) -> String {
        format!("{}: {}", self.kind.word(), self.what)
    }
}

/// Numbers of flexures as the user counts them, from 1: "1 to 4, 7".
pub fn numbers(which: &[usize]) -> String {
    let mut runs: Vec<[usize; 2]> = Vec::new();
    for &n in which {
        match runs.last_mut() {
            Some(run) if run[1] + 1 == n => run[1] = n,
            _ => runs.push([n, n]),
        }
    }
    let word = |[a, b]: &[usize; 2]| match b - a {
        0 => format!("{}", a + 1),
        1 => format!("{}, {}", a + 1, b + 1),
        _ => format!("{} to {}", a + 1, b + 1),
    };
    runs.iter().map(word).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_numbers_are_joined() {
        assert_eq!(numbers(&[0, 1, 2, 3, 6, 8, 9]), "1 to 4, 7, 9, 10");
        assert_eq!(numbers(&[]), "");
    }
}
