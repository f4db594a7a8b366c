//! A closed form with the numbers in it. SI.

/// A quantity in a formula.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// Its symbol, as in the expression.
    pub symbol: &'static str,
    /// Its value in `unit`.
    pub value: f64,
    /// SI unit; empty for a plain number.
    pub unit: &'static str,
}

/// A closed form with its numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Formula {
    /// Flexures it is about, by number.
    pub flexures: Vec<usize>,
    /// What it gives: "guided, across in plane".
    pub name: &'static str,
    /// The expression, symbols and signs apart by spaces: `E t w³ / L³`.
    pub expression: &'static str,
    /// Its quantities.
    pub terms: Vec<Term>,
    /// Its value, in its unit.
    pub value: f64,
    /// The same stiffness from the extracted spring, in the same unit.
    pub extracted: f64,
    /// SI unit of both.
    pub unit: &'static str,
}

pub(super) const N_PER_M: &str = "N/m";
pub(super) const N_M_PER_RAD: &str = "N·m/rad";

/// Moduli that differ by less than this share are the same.
pub(super) const SAME: f64 = 1e-6;

pub(super) fn term(symbol: &'static str, value: f64, unit: &'static str) -> Term {
    Term { symbol, value, unit }
}
