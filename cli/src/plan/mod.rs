//! A plan of variants, read and checked. In: the path of a file of format `modalith.plan/1`. Out: a [`Plan`], or one
//! [`InputError`] that says where, what and what to do.

pub mod keys;
pub mod pointer;
pub mod variable;

use crate::args::Model;
use crate::device::document::Document;
use crate::device::error::InputError;
use crate::device::keys::nearest;
use crate::device::node::{Node, Object, Read};
use crate::device::source::{LARGEST_TEXT, read_bytes};
use clap::ValueEnum;
use modalith_solver::process::{Correlation, METHODS, MOST_SOBOL_DIMENSIONS, Method, Sampling, combination};
use serde_json::Value;
use std::path::{Path, PathBuf};
use variable::Variation;

/// The format this program reads.
pub const FORMAT: &str = "modalith.plan/1";
/// Most points of a plan.
const MOST_POINTS: u64 = 10_000_000;
/// Most values of all points together: 32 bytes each.
const MOST_VALUES: u64 = 20_000_000;
/// Columns that every table has.
const OWN_COLUMNS: [&str; 2] = ["point", "error"];

/// What is run at each point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Run {
    /// `modes`
    Modes,
    /// `rate`
    Rate,
    /// `audit`
    Audit,
}

/// A value of the device that varies.
#[derive(Clone, Debug)]
pub struct Variable {
    /// Its JSON Pointer in the merged device file.
    pub pointer: String,
    /// The pointer's steps.
    pub steps: Vec<String>,
    /// How it varies.
    pub variation: Variation,
}

/// A result that is kept.
#[derive(Clone, Debug)]
pub struct Kept {
    /// Name of its column.
    pub name: String,
    /// Its JSON Pointer in the command's JSON result.
    pub pointer: String,
    /// The pointer's steps.
    pub steps: Vec<String>,
    /// Lower and upper limit that a good device keeps, where stated.
    pub limits: Option<[Option<f64>; 2]>,
}

/// A plan as its file describes it.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The device file.
    pub device: PathBuf,
    /// What is run at each point.
    pub run: Run,
    /// The mechanical model, `auto` where none is stated.
    pub model: Model,
    /// What varies.
    pub variables: Vec<Variable>,
    /// Correlation of the variables' normal scores.
    pub correlation: Correlation,
    /// Which points are taken.
    pub sampling: Sampling,
    /// What is kept.
    pub kept: Vec<Kept>,
    document: Document,
}

impl Run {
    /// Its name in the plan.
    pub fn name(self) -> &'static str {
        match self {
            Self::Modes => "modes",
            Self::Rate => "rate",
            Self::Audit => "audit",
        }
    }
}

impl Plan {
    /// Reads a plan.
    ///
    /// # Errors
    /// The first fault found.
    pub fn read(path: &Path) -> Read<Self> {
        Self::from_document(Document::from_bytes(path, read_bytes(path, LARGEST_TEXT)?)?)
    }

    /// Reads a document.
    ///
    /// # Errors
    /// The first fault found.
    pub fn from_document(document: Document) -> Read<Self> {
        let root = Node::root(&document);
        let o = root.object(&keys::PLAN)?;
        let format = o.need("format", &format!("write \"format\": \"{FORMAT}\""))?;
        if format.text("a format")? != FORMAT {
            return Err(format
                .error("is no format of a plan that this version reads", format!("write \"format\": \"{FORMAT}\"")));
        }
        let device = o.need("device", "write \"device\": \"device.json\", a path relative to this file")?;
        let named = device.text("the path of a device file")?;
        if named.is_empty() {
            return Err(
                device.error("names no file", "write \"device\": \"device.json\", a path relative to this file")
            );
        }
        let run = match o
            .need("command", "write \"command\": \"modes\", \"rate\" or \"audit\"")?
            .word(&["modes", "rate", "audit"])?
        {
            "modes" => Run::Modes,
            "rate" => Run::Rate,
            _ => Run::Audit,
        };
        let model = o.get("model").map_or(Ok(Model::Auto), |n| model(&n, run))?;
        let variables = variables(&o)?;
        let correlation = correlation(&o, &variables)?;
        let sampling = sampling(&o, &variables)?;
        let kept = kept(&o)?;
        let device = device.file().parent().unwrap_or(Path::new("")).join(named);
        Ok(Self { device, run, model, variables, correlation, sampling, kept, document })
    }

    /// The plan's merged value as written.
    pub fn value(&self) -> &Value {
        &self.document.value
    }

    /// The plan's own file.
    pub fn file(&self) -> &Path {
        &self.document.sources[0].path
    }

    /// An error about a value of the plan.
    pub fn error(&self, steps: &[&str], what: impl Into<String>, hint: impl Into<String>) -> InputError {
        let steps: Vec<String> = steps.iter().map(|&s| s.to_owned()).collect();
        self.document.error(&steps, false, what, hint)
    }

    /// All points, the varied values in the order of the plan.
    pub fn points(&self) -> Vec<Vec<Value>> {
        let variations = || self.variables.iter().map(|v| &v.variation);
        if self.sampling.method == Method::Grid {
            let lengths: Vec<usize> = variations().map(Variation::values).collect();
            let point =
                |p: usize| variations().zip(combination(p, &lengths)).map(|(v, place)| v.listed(place)).collect();
            return (0..self.sampling.points).map(point).collect();
        }
        let draws = self.sampling.draws(self.variables.len(), &self.correlation);
        draws.iter().map(|row| variations().zip(row).map(|(v, draw)| v.at(*draw)).collect()).collect()
    }
}

fn model(node: &Node, run: Run) -> Read<Model> {
    let words = Model::value_variants().iter().filter_map(|m| Some((m.to_possible_value()?.get_name().to_owned(), *m)));
    let words: Vec<(String, Model)> = words.collect();
    let names: Vec<&str> = words.iter().map(|(name, _)| name.as_str()).collect();
    let word = node.word(&names)?;
    if run == Run::Audit {
        return Err(node.error("has no meaning for an audit, which runs every model", "leave \"model\" out"));
    }
    Ok(words.iter().find(|(name, _)| name == word).map_or(Model::Auto, |(_, model)| *model))
}

fn variables(o: &Object) -> Read<Vec<Variable>> {
    let vary = o.need(
        "vary",
        "write \"vary\": {\"/process/thickness_um\": {\"normal\": {\"mean\": 20, \"deviation\": 0.2}}}",
    )?;
    let mut all: Vec<Variable> = Vec::new();
    for (pointer, node) in vary.any_object("an object of JSON Pointers")?.members() {
        let hint = "write a pointer into the device file, such as \"/process/thickness_um\"";
        let steps = pointer::steps(pointer).map_err(|what| node.error(what, hint))?;
        if matches!(steps[0].as_str(), "format" | "based_on") {
            return Err(node.error("cannot be varied", hint));
        }
        if let Some(other) = all.iter().find(|v| v.steps.starts_with(&steps) || steps.starts_with(&v.steps)) {
            return Err(node.error(format!("lies in the same place as \"{}\"", other.pointer), "keep one of the two"));
        }
        all.push(Variable { pointer: pointer.to_owned(), steps, variation: Variation::read(&node)? });
    }
    if all.is_empty() {
        return Err(vary.error("names nothing to vary", "name at least one value of the device file"));
    }
    Ok(all)
}

/// The correlation of the variables' normal scores.
fn correlation(o: &Object, variables: &[Variable]) -> Read<Correlation> {
    let mut pairs: Vec<([usize; 2], f64)> = Vec::new();
    let Some(list) = o.get("correlation") else { return Ok(Correlation::none(variables.len())) };
    let hint = "write \"correlation\": [{\"between\": [\"/process/thickness_um\", \"/process/edge_bias_um\"], \"coefficient\": 0.5}]";
    for entry in list.array("objects with the keys between, coefficient")? {
        let e = entry.object(&keys::CORRELATION)?;
        let between = e.need("between", hint)?;
        let place = |n: &Node| {
            let name = n.text("the pointer of a variable")?;
            variables.iter().position(|v| v.pointer == name).ok_or_else(|| {
                let near = nearest(name, variables.iter().map(|v| v.pointer.as_str()));
                let way =
                    near.map_or_else(|| "name two keys of \"vary\"".to_owned(), |n| format!("did you mean \"{n}\"?"));
                n.error("is not varied", way)
            })
        };
        let pair = between.array("two variables")?;
        let [a, b] = pair.as_slice() else { return Err(between.error("must name two variables", hint)) };
        let (i, j) = (place(a)?, place(b)?);
        if i == j {
            return Err(between.error("names one variable twice", hint));
        }
        if pairs.iter().any(|(pair, _)| *pair == [i.min(j), i.max(j)]) {
            return Err(between.error("states the same pair again", "keep one of the two"));
        }
        let coefficient = e.need("coefficient", hint)?;
        let r = coefficient.number("a number between -1 and 1")?;
        if !(r > -1.0 && r < 1.0) {
            return Err(coefficient.error("must lie between -1 and 1", "variables that are one need no second one"));
        }
        pairs.push(([i.min(j), i.max(j)], r));
    }
    Correlation::of_pairs(variables.len(), &pairs).ok_or_else(|| {
        list.error("contradicts itself: no variables can go together like this", "make the coefficients smaller")
    })
}

fn sampling(o: &Object, variables: &[Variable]) -> Read<Sampling> {
    let hint = "write \"sampling\": {\"method\": \"monte carlo\", \"points\": 1000, \"seed\": 7}";
    let s = o.need("sampling", hint)?.object(&keys::SAMPLING)?;
    let word = s.need("method", hint)?;
    let name = word.word(&METHODS.map(|(name, _)| name))?;
    let method = METHODS.iter().find(|(n, _)| *n == name).map_or(Method::Grid, |(_, m)| *m);
    if method == Method::Grid {
        for key in ["points", "seed"] {
            if let Some(n) = s.get(key) {
                return Err(n.error("has no meaning for a grid", "a grid takes every combination of the listed values"));
            }
        }
        if let Some(n) = o.get("correlation") {
            return Err(n.error("has no meaning for a grid", "take another method, or leave it out"));
        }
        let mut points = 1_u64;
        for v in variables {
            let Variation::Listed(list) = &v.variation else {
                let what = format!("a grid needs listed values, and \"{}\" has a distribution", v.pointer);
                return Err(word.error(what, "write \"list\" or \"range\" there, or take another method"));
            };
            points = points.saturating_mul(list.len() as u64);
        }
        if points > MOST_POINTS {
            return Err(word.error(format!("the grid has more than {MOST_POINTS} points"), "list fewer values"));
        }
        check_values(&word, points, variables)?;
        return Ok(Sampling { method, points: points as usize, seed: 0 });
    }
    if method == Method::Sobol && variables.len() > MOST_SOBOL_DIMENSIONS {
        let what =
            format!("Sobol points serve up to {} variables here, not {}", MOST_SOBOL_DIMENSIONS, variables.len());
        return Err(word.error(what, "take \"latin hypercube\""));
    }
    let points_node = s.need("points", "write \"points\": 1000")?;
    let points = points_node.whole(1, MOST_POINTS)?;
    check_values(&points_node, points, variables)?;
    // Seeds beyond 2^53 do not survive in every JSON reader.
    let seed = s.need("seed", "write \"seed\": 7; the same seed gives the same points")?.whole(0, 1 << 53)?;
    Ok(Sampling { method, points: points as usize, seed })
}

/// Refuses a table of points that would not fit.
fn check_values(node: &Node, points: u64, variables: &[Variable]) -> Read<()> {
    let values = points.saturating_mul(variables.len() as u64);
    if values <= MOST_VALUES {
        return Ok(());
    }
    let what =
        format!("makes {values} values, {points} points of {} variables; {MOST_VALUES} is the most", variables.len());
    Err(node.error(what, "ask for fewer points, or vary fewer values"))
}

fn kept(o: &Object) -> Read<Vec<Kept>> {
    let keep = o.need("keep", "write \"keep\": {\"first_hz\": \"/modes/0/frequency_hz\"}")?;
    let mut all: Vec<Kept> = Vec::new();
    for (name, node) in keep.any_object("an object of column names")?.members() {
        if name.is_empty() || name.starts_with('/') || OWN_COLUMNS.contains(&name) {
            return Err(node.error(format!("\"{name}\" cannot name a column"), "give it a name such as \"first_hz\""));
        }
        let pointer = node.text("a JSON Pointer into the command's JSON result")?;
        let hint = "write a pointer into the command's JSON result, such as \"/modes/0/frequency_hz\"";
        let steps = pointer::steps(pointer).map_err(|what| node.error(what, hint))?;
        let ends_in = |names: [&str; 4]| steps.last().is_some_and(|last| names.contains(&last.as_str()));
        if steps.iter().any(|s| s == "requirements") && ends_in(["met", "error", "because", "margin"]) {
            let what = "is not known in a batch: verdicts need a second model, and a batch solves one";
            let hint =
                "keep the figure, .../drawn, with limits of its own; `modalith rate` on a point gives its verdict";
            return Err(node.error(what, hint));
        }
        all.push(Kept { name: name.to_owned(), pointer: pointer.to_owned(), steps, limits: None });
    }
    if all.is_empty() {
        return Err(keep.error("names nothing to keep", "name at least one result"));
    }
    let Some(limits) = o.get("limits") else { return Ok(all) };
    for (name, node) in limits.any_object("an object of column names")?.members() {
        let Some(kept) = all.iter_mut().find(|k| k.name == name) else {
            let near = nearest(name, all.iter().map(|k| k.name.as_str()));
            let hint = near
                .map_or_else(|| "limits go with a column of \"keep\"".to_owned(), |n| format!("did you mean \"{n}\"?"));
            return Err(node.error(format!("\"{name}\" is not kept"), hint));
        };
        let hint = "write a lower and an upper limit, null for none: [800, null]";
        let pair = node.array("two limits")?;
        let [low, high] = pair.as_slice() else { return Err(node.error("must hold two limits", hint)) };
        let end = |n: &Node| if n.value().is_null() { Ok(None) } else { n.number("a number or null").map(Some) };
        let (low, high) = (end(low)?, end(high)?);
        if low.is_none() && high.is_none() || low.zip(high).is_some_and(|(l, h)| l > h) {
            return Err(node.error("limits nothing, or everything", hint));
        }
        kept.limits = Some([low, high]);
    }
    Ok(all)
}
