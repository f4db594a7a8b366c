//! What a batch of variants found: table, text, report.

pub mod html;
pub mod numbers;
pub mod plot;
pub mod table;
pub mod text;
pub mod track;
pub mod tracks;

use crate::plan::Plan;
use serde_json::Value;
use track::Track;

/// One row: kept results, and what went wrong.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Kept results in the order of the plan.
    pub kept: Vec<Option<f64>>,
    /// The modes of the device as drawn, found again; empty where modes were not compared.
    pub modes: Vec<Option<Track>>,
    /// Whether its outline had to be meshed anew.
    pub meshed_anew: bool,
    /// Why something is missing; empty where nothing is.
    pub error: String,
}

/// A finished batch.
#[derive(Debug)]
pub struct Batch<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Name of the device.
    pub device: &'a str,
    /// The model of every point.
    pub model: &'a str,
    /// Kept results of the device as drawn.
    pub as_drawn: &'a [Option<f64>],
    /// Labels of the modes of the device as drawn.
    pub labels: &'a [String],
    /// Mean and standard deviation that first-order terms expect of each kept result.
    pub first_order: &'a [Option<[f64; 2]>],
    /// Varied values by point.
    pub points: &'a [Vec<Value>],
    /// Results by point.
    pub rows: &'a [Row],
}

impl Batch<'_> {
    /// The values of a kept result over all points that have it.
    pub fn column(&self, kept: usize) -> Vec<f64> {
        self.rows.iter().filter_map(|r| r.kept[kept]).collect()
    }

    /// Pairs of a variable's value and a kept result, over all points that have both as numbers.
    pub fn pairs(&self, variable: usize, kept: usize) -> (Vec<f64>, Vec<f64>) {
        let both = |(p, r): (&Vec<Value>, &Row)| Some((p[variable].as_f64()?, r.kept[kept]?));
        self.points.iter().zip(self.rows).filter_map(both).unzip()
    }

    /// Every variable's values, and a kept result, over all points that have all of them as numbers; `None` where a variable never is one.
    pub fn all_numbers(&self, kept: usize) -> Option<(Vec<Vec<f64>>, Vec<f64>)> {
        let numbers = |(p, r): (&Vec<Value>, &Row)| {
            Some((p.iter().map(Value::as_f64).collect::<Option<Vec<f64>>>()?, r.kept[kept]?))
        };
        let (points, y): (Vec<Vec<f64>>, Vec<f64>) = self.points.iter().zip(self.rows).filter_map(numbers).unzip();
        let by_variable = |v: usize| points.iter().map(|p| p[v]).collect();
        (!y.is_empty()).then(|| ((0..self.plan.variables.len()).map(by_variable).collect(), y))
    }

    /// Points that have a mesh of their own.
    pub fn meshed_anew(&self) -> usize {
        self.rows.iter().filter(|r| r.meshed_anew).count()
    }

    /// Points with an error.
    pub fn failed(&self) -> usize {
        self.rows.iter().filter(|r| !r.error.is_empty()).count()
    }
}
