//! Which mode of a point is which of the device as drawn, by MAC at points that both share. In: the modes as drawn and those of a
//! point. Out: for every mode as drawn its counterpart.
//!
//! Shapes are compared at an even choice of the sampled points. A point with the drawing's own mesh, moved or not, has the same ones;
//! another mesh gives the nearest.

use crate::output::variants::track::{MULTIPLE, Track};
use modalith_mesher::geometry::Point;
use modalith_solver::mode::{ModeShape, ModelModes, PointWeights, Sampled, clusters, matching};
use modalith_solver::model::ModalSolution;
use serde_json::{Map, Value};

/// Points at which shapes are compared.
const MOST: usize = 1500;
/// A mode is found again if this much of its shape is, by MAC.
const FOUND: f64 = 0.5;

/// The modes as drawn.
pub struct Drawn {
    /// Labels.
    pub labels: Vec<String>,
    cells: Vec<[u32; 6]>,
    /// Where shapes are compared, by number of the sampled point, and where that is, µm.
    chosen: Vec<usize>,
    places: Vec<Point>,
    weights: PointWeights,
    modes: Compared,
}

/// Modes at the points where they are compared.
struct Compared {
    frequency_hz: Vec<f64>,
    displacement: Vec<Vec<[f64; 3]>>,
    tilt: Vec<Vec<[f64; 2]>>,
}

impl Compared {
    fn new(solved: &ModalSolution, chosen: &[usize]) -> Self {
        let sampled = &solved.sampled;
        let pick3 = |mode: &Vec<[f64; 3]>| chosen.iter().map(|&i| mode[i]).collect();
        let pick2 = |mode: &Vec<[f64; 2]>| chosen.iter().map(|&i| mode[i]).collect();
        Self {
            frequency_hz: solved.modes.iter().map(|m| m.frequency_hz).collect(),
            displacement: sampled.modes.iter().map(pick3).collect(),
            tilt: sampled.tilts.iter().map(pick2).collect(),
        }
    }

    fn shapes(&self) -> Vec<ModeShape<'_>> {
        self.displacement.iter().zip(&self.tilt).map(|(displacement, tilt)| ModeShape { displacement, tilt }).collect()
    }
}

impl Drawn {
    /// From the device as drawn: its modes, their labels, its layer's mass (kg/m²) and thickness (m).
    pub fn new(solved: &ModalSolution, labels: Vec<String>, kg_per_m2: f64, thickness_m: f64) -> Self {
        let sampled = &solved.sampled;
        let whole = PointWeights::of_cells(sampled, kg_per_m2, thickness_m);
        let heavy: Vec<usize> = (0..sampled.points.len()).filter(|&i| whole.mass_kg[i] > 0.0).collect();
        let chosen: Vec<usize> = heavy.iter().copied().step_by(heavy.len().div_ceil(MOST).max(1)).collect();
        let mass_kg = chosen.iter().map(|&i| whole.mass_kg[i]).collect();
        Self {
            labels,
            cells: sampled.cells.clone(),
            places: chosen.iter().map(|&i| sampled.points[i]).collect(),
            modes: Compared::new(solved, &chosen),
            weights: PointWeights { mass_kg, ..whole },
            chosen,
        }
    }

    /// The counterparts of the modes as drawn; `None` for one that is not among the modes found.
    pub fn found_again(&self, solved: &ModalSolution) -> Vec<Option<Track>> {
        let modes = if solved.sampled.cells == self.cells {
            Compared::new(solved, &self.chosen)
        } else {
            Compared::new(solved, &self.nearest(&solved.sampled))
        };
        let (own, other) = (self.modes.shapes(), modes.shapes());
        let (first, second) = (
            ModelModes { frequency_hz: &self.modes.frequency_hz, shapes: &own },
            ModelModes { frequency_hz: &modes.frequency_hz, shapes: &other },
        );
        let mut tracks = vec![None; self.labels.len()];
        for pair in matching(&first, &second, &self.weights, MULTIPLE) {
            let (index, frequency_hz) = (pair.second + 1, modes.frequency_hz[pair.second]);
            if pair.mac >= FOUND {
                tracks[pair.first] = Some(Track { index, frequency_hz, mac: pair.mac });
            }
        }
        // Which member of a multiple is which has no meaning as drawn: they keep the order that they have in the point.
        for multiple in clusters(&self.modes.frequency_hz, MULTIPLE) {
            let members = &mut tracks[multiple];
            if members.iter().all(Option::is_some) {
                members.sort_by_key(|t| t.map(|t| t.index));
            }
        }
        tracks
    }

    fn nearest(&self, sampled: &Sampled) -> Vec<usize> {
        let to = |p: &Point, q: &Point| (p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2);
        let points = &sampled.points;
        let nearest =
            |p: &Point| (0..points.len()).min_by(|i, j| to(p, &points[*i]).total_cmp(&to(p, &points[*j]))).unwrap_or(0);
        self.places.iter().map(nearest).collect()
    }
}

/// The modes as drawn in a command's JSON result, by number and, where a label is one mode's alone, by label: null for one
/// that was not found again.
pub fn by_name(result: &Value, labels: &[String], tracks: &[Option<Track>]) -> Value {
    let mut named = Map::new();
    for (i, (label, track)) in labels.iter().zip(tracks).enumerate() {
        let mode = track.and_then(|t| {
            let mut mode = result["modes"].get(t.index - 1)?.clone();
            mode["mac"] = t.mac.into();
            Some(mode)
        });
        let mode = mode.unwrap_or(Value::Null);
        if labels.iter().filter(|l| *l == label).count() == 1 {
            named.insert(label.clone(), mode.clone());
        }
        named.insert((i + 1).to_string(), mode);
    }
    Value::Object(named)
}

/// Labels of the modes of a command's JSON result.
pub fn labels(result: &Value) -> Vec<String> {
    let label = |mode: &Value| mode["label"].as_str().unwrap_or_default().to_owned();
    result["modes"].as_array().map_or_else(Vec::new, |modes| modes.iter().map(label).collect())
}
