//! Which mode of a changed layout is which of the layout as drawn, by MAC at points that both share. In: the modes as drawn and those of
//! the change. Out: for every mode as drawn its counterpart.
//!
//! Shapes are compared at an even choice of the sampled points. A change with the drawing's own mesh, moved or not, has the same ones;
//! another mesh gives the nearest.

use super::matching::{ModelModes, clusters, matching};
use super::{ModeShape, PointWeights, Sampled};
use modalith_mesher::geometry::Point;

/// Neighbours this near, as a share of the frequency, count as one multiple: its basis is a matter of choice, and the order of its
/// members is none.
pub const MULTIPLE: f64 = 1e-4;
/// Points at which shapes are compared.
const MOST: usize = 1500;
/// A mode that keeps less of its shape than this is on its way to become another one.
pub const ITSELF: f64 = 0.9;
/// A mode is found again if this much of its shape is, by MAC.
const FOUND: f64 = 0.5;

/// Modes at the points where they were sampled.
pub struct SampledModes<'a> {
    /// Their frequencies, Hz.
    pub frequency_hz: &'a [f64],
    /// Their shapes.
    pub sampled: &'a Sampled,
}

/// A mode as drawn, found again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundAgain {
    /// The mode that it is, from 0.
    pub mode: usize,
    /// Its frequency there, Hz.
    pub frequency_hz: f64,
    /// MAC with the mode as drawn, 0 to 1.
    pub mac: f64,
}

/// The modes as drawn.
pub struct DrawnModes {
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
    fn new(solved: &SampledModes, chosen: &[usize]) -> Self {
        let sampled = solved.sampled;
        let pick3 = |mode: &Vec<[f64; 3]>| chosen.iter().map(|&i| mode[i]).collect();
        let pick2 = |mode: &Vec<[f64; 2]>| chosen.iter().map(|&i| mode[i]).collect();
        Self {
            frequency_hz: solved.frequency_hz.to_vec(),
            displacement: sampled.modes.iter().map(pick3).collect(),
            tilt: sampled.tilts.iter().map(pick2).collect(),
        }
    }

    fn shapes(&self) -> Vec<ModeShape<'_>> {
        self.displacement.iter().zip(&self.tilt).map(|(displacement, tilt)| ModeShape { displacement, tilt }).collect()
    }
}

impl DrawnModes {
    /// From the modes as drawn, their layer's mass (kg/m²) and thickness (m).
    pub fn new(solved: &SampledModes, kg_per_m2: f64, thickness_m: f64) -> Self {
        let sampled = solved.sampled;
        let whole = PointWeights::of_cells(sampled, kg_per_m2, thickness_m);
        let heavy: Vec<usize> = (0..sampled.points.len()).filter(|&i| whole.mass_kg[i] > 0.0).collect();
        let chosen: Vec<usize> = heavy.iter().copied().step_by(heavy.len().div_ceil(MOST).max(1)).collect();
        let mass_kg = chosen.iter().map(|&i| whole.mass_kg[i]).collect();
        Self {
            cells: sampled.cells.clone(),
            places: chosen.iter().map(|&i| sampled.points[i]).collect(),
            modes: Compared::new(solved, &chosen),
            weights: PointWeights { mass_kg, ..whole },
            chosen,
        }
    }

    /// The counterparts of the modes as drawn; `None` for one that is not among the modes found.
    pub fn found_again(&self, solved: &SampledModes) -> Vec<Option<FoundAgain>> {
        let modes = if solved.sampled.cells == self.cells {
            Compared::new(solved, &self.chosen)
        } else {
            Compared::new(solved, &self.nearest(solved.sampled))
        };
        let (own, other) = (self.modes.shapes(), modes.shapes());
        let (first, second) = (
            ModelModes { frequency_hz: &self.modes.frequency_hz, shapes: &own },
            ModelModes { frequency_hz: &modes.frequency_hz, shapes: &other },
        );
        let mut tracks = vec![None; own.len()];
        for pair in matching(&first, &second, &self.weights, MULTIPLE) {
            if pair.mac >= FOUND {
                let frequency_hz = modes.frequency_hz[pair.second];
                tracks[pair.first] = Some(FoundAgain { mode: pair.second, frequency_hz, mac: pair.mac });
            }
        }
        // Which member of a multiple is which has no meaning as drawn: they keep the order that they have in the point.
        for multiple in clusters(&self.modes.frequency_hz, MULTIPLE) {
            let members = &mut tracks[multiple];
            if members.iter().all(Option::is_some) {
                members.sort_by_key(|t| t.map(|t| t.mode));
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
