//! Cells of many variants of one device: solved at the nodes of a lattice and interpolated between them. In: what a joint is made
//! of, at the constants, width and thickness of one variant. Out: its flexibility, as [`super::cell`] has it.
//!
//! What is exact: a flexibility is inverse to the scale of the stiffness, and cells of similar shape scale with their size. What
//! is left varies slowly, because it is taken relative to the powers of width and thickness that a short end of a beam has: with
//! the logarithm of width over thickness, and with the ratios of the constants. Over these it is interpolated to second degree
//! by `stencil`.
//!
//! Differences between variants are physics and not noise of meshes: a flexure that is as drawn, narrower or wider is the same
//! cell in the plane, of a layer that is thinner or thicker, so that all nodes around a width share one mesh and one degree
//! through the thickness, those of the device as drawn. Another mesh comes 18 % from there. A variant solved by itself has cells on a
//! mesh and of a degree of its own, and differs by what these leave.
//!
//! A value depends on its nodes alone, and a node on its place alone, so that the order of variants, threads and processes does
//! not matter. Limits: one orientation of a crystal.

use super::cell::{self, CellError, Stub};
use super::stencil::stencil;
use crate::material::{Constants, Law};
use crate::rigid::axes_at;
use crate::section::Section;
use nalgebra::{Matrix6, Vector6};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// Distance of nodes in the logarithm of width over thickness: ± 6 % lie around one node.
const WIDTH_STEP: f64 = 0.12;
/// Distance of nodes in a ratio of constants: of c11/c44 and c12/c44 this share of c11/c44, of Poisson's ratio half of it.
const LAW_STEP: f64 = 0.06;
/// Nodes to either side, with the one in the middle, that share a mesh.
const REACH: f64 = 1.5;
/// From there another mesh serves, in the same logarithm.
const APART: f64 = 2.0 * REACH * WIDTH_STEP;
/// Widths as drawn that are nearer to each other than this share their meshes, in the logarithm.
const ONE_WIDTH: f64 = 0.1;
/// Entries of a law are rounded to this share of its scale, so that equal directions of a crystal share their nodes.
const ROUNDED: f64 = 1e-9;
/// Directions and turns are rounded to this, rad, so that the last digits of an outline make no nodes; right angles and their
/// halves stay what they are.
const DIRECTION: f64 = std::f64::consts::FRAC_PI_2 / 16_384.0;

/// What a joint is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum JointKind {
    /// A root on a rigid wall.
    Wall,
    /// A root on the border of a wide part.
    Wide,
    /// A corner between two stretches.
    Corner,
}

/// A joint of a variant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Joint {
    /// What it is.
    pub kind: JointKind,
    /// Direction (rad from the layout's x) and width (µm) of the flexure, of both stretches at a corner; else the same twice.
    pub stretches: [(f64, f64); 2],
    /// Angle at which a corner's second stretch leaves from the first, rad.
    pub turn: f64,
}

/// A place on the lattice: everything that the cell there is solved from.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Node {
    kind: JointKind,
    /// In units of [`DIRECTION`].
    turn: i64,
    /// Number of the width as drawn, and steps of [`APART`] from there: what the mesh is made for.
    around: (usize, i64),
    /// Steps of ln(width/thickness) from the width as drawn, and of ln(second width/first).
    widths: [i64; 2],
    /// Laws along both stretches, in units of [`ROUNDED`] of the scale.
    laws: [Vec<i64>; 2],
}

/// The cells of a device and all its variants.
#[derive(Debug)]
pub struct CellTable {
    reference: Constants,
    thickness_um: f64,
    /// ln(width/thickness) as drawn, rising.
    drawn: Vec<f64>,
    width_step: f64,
    law_step: f64,
    /// `None` while somebody is at work on it.
    nodes: Mutex<BTreeMap<Node, Option<Matrix6<f64>>>>,
    changed: Condvar,
}

/// A claim on a node, given back unless it is kept.
struct Claim<'a> {
    table: &'a CellTable,
    node: &'a Node,
}

impl Drop for Claim<'_> {
    fn drop(&mut self) {
        let mut nodes = self.table.lock();
        if nodes.get(self.node).is_some_and(Option::is_none) {
            nodes.remove(self.node);
        }
        drop(nodes);
        self.table.changed.notify_all();
    }
}

impl CellTable {
    /// An empty table around the device as drawn: its constants, its thickness and the widths of its flexures, µm.
    pub fn new(reference: Constants, thickness_um: f64, widths_um: impl Iterator<Item = f64>) -> Self {
        let mut drawn: Vec<f64> = widths_um.map(|w| (w / thickness_um).ln()).collect();
        drawn.sort_by(f64::total_cmp);
        drawn.dedup_by(|next, kept| *next - *kept < ONE_WIDTH);
        if drawn.is_empty() {
            drawn.push(0.0);
        }
        let (width_step, law_step) = (WIDTH_STEP, LAW_STEP);
        Self { reference, thickness_um, drawn, width_step, law_step, nodes: Mutex::default(), changed: Condvar::new() }
    }

    /// The same with its nodes nearer to each other by a factor, to see what interpolation costs; meshes stay.
    pub fn refined(self, factor: f64) -> Self {
        let (width_step, law_step) = (self.width_step / factor, self.law_step / factor);
        Self { width_step, law_step, nodes: Mutex::default(), ..self }
    }

    /// Nodes solved so far.
    pub fn solved(&self) -> usize {
        self.lock().values().flatten().count()
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<Node, Option<Matrix6<f64>>>> {
        self.nodes.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Flexibilities of joints at these constants and this thickness, in their order; `None` where the table does not reach:
    /// another kind of material, another orientation of the crystal, nodes that no material has.
    ///
    /// # Errors
    /// A cell that cannot be meshed or solved.
    pub fn flexibilities(
        &self,
        constants: &Constants,
        thickness_um: f64,
        joints: &[Joint],
    ) -> Result<Option<Vec<Matrix6<f64>>>, CellError> {
        let Some((scale, ratios)) = self.ratios(constants) else { return Ok(None) };
        let mut wanted = Vec::with_capacity(joints.len());
        for joint in joints {
            let widths = joint.stretches.map(|(_, w)| w);
            let shape = (widths[0] / thickness_um).ln();
            let off = |n: &usize| (shape - self.drawn[*n]).abs();
            let nearest = (0..self.drawn.len()).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0);
            let away = shape - self.drawn[nearest];
            let around = (nearest, (away / APART).round() as i64);
            let mut at = vec![away / self.width_step, (widths[1] / widths[0]).ln() / self.width_step];
            at.extend(ratios);
            let centre: Vec<i64> = at.iter().map(|x| x.round() as i64).collect();
            let off: Vec<f64> = at.iter().zip(&centre).map(|(x, c)| x - *c as f64).collect();
            let mut shares = Vec::new();
            for (steps, share) in stencil(&off) {
                let place: Vec<i64> = centre.iter().zip(steps).map(|(c, s)| c + s).collect();
                let Some(node) = self.node(joint, around, &place) else { return Ok(None) };
                shares.push((node, share));
            }
            wanted.push(shares);
        }
        self.solve(wanted.iter().flatten().map(|(node, _)| node))?;
        let nodes = self.lock();
        let sum = |(joint, shares): (&Joint, &Vec<(Node, f64)>)| {
            let mut relative = Matrix6::zeros();
            for (node, share) in shares {
                let missing = CellError::Missing { width_um: joint.stretches[0].1 };
                relative += nodes.get(node).copied().flatten().ok_or(missing)? * *share;
            }
            let powers = powers(joint.stretches.map(|(_, w)| w), thickness_um) / scale.sqrt();
            Ok(relative.component_mul(&(powers * powers.transpose())))
        };
        joints.iter().zip(&wanted).map(sum).collect::<Result<Vec<_>, CellError>>().map(Some)
    }

    /// The scale of the stiffness, Pa, and the ratios of the constants in steps from those as drawn.
    fn ratios(&self, constants: &Constants) -> Option<(f64, [f64; 2])> {
        match (&self.reference, constants) {
            (
                Constants::Isotropic { poissons_ratio: drawn, .. },
                Constants::Isotropic { youngs_modulus_pa, poissons_ratio, .. },
            ) => Some((*youngs_modulus_pa, [(poissons_ratio - drawn) / (0.5 * self.law_step), 0.0])),
            (
                Constants::Cubic { stiffness_pa: drawn, orientation: lay, .. },
                Constants::Cubic { stiffness_pa: [c11, c12, c44], orientation, .. },
            ) if lay == orientation => {
                let step = self.law_step * drawn[0] / drawn[2];
                Some((*c44, [(c11 / c44 - drawn[0] / drawn[2]) / step, (c12 / c44 - drawn[1] / drawn[2]) / step]))
            }
            _ => None,
        }
    }

    /// The law at so many steps from the device as drawn, and its scale, Pa.
    fn law(&self, steps: [i64; 2]) -> Option<(Law, f64)> {
        let [a, b] = steps.map(|s| s as f64);
        let mut constants = self.reference;
        let scale = match &mut constants {
            Constants::Isotropic { youngs_modulus_pa, poissons_ratio, .. } => {
                *poissons_ratio += a * 0.5 * self.law_step;
                *youngs_modulus_pa
            }
            Constants::Cubic { stiffness_pa: [c11, c12, c44], .. } => {
                let step = self.law_step * *c11;
                *c11 += a * step;
                *c12 += b * step;
                *c44
            }
        };
        Some((constants.law().ok()?, scale))
    }

    fn node(&self, joint: &Joint, around: (usize, i64), place: &[i64]) -> Option<Node> {
        let (law, scale) = self.law([place[2], place[3]])?;
        let laws = joint.stretches.map(|(angle, _)| {
            let law = law.turned(&axes_at((angle / DIRECTION).round() * DIRECTION));
            law.stiffness_pa.iter().map(|c| (c / scale / ROUNDED).round() as i64).collect()
        });
        let turn = (joint.turn / DIRECTION).round() as i64;
        Some(Node { kind: joint.kind, turn, around, widths: [place[0], place[1]], laws })
    }

    /// Solves the nodes that are missing; what others are at work on is waited for.
    fn solve<'a>(&self, wanted: impl Iterator<Item = &'a Node>) -> Result<(), CellError> {
        let mut wanted: Vec<&Node> = wanted.collect();
        wanted.sort();
        wanted.dedup();
        loop {
            let missing: Vec<&Node> = {
                let nodes = self.lock();
                wanted.iter().copied().filter(|n| !nodes.contains_key(*n)).collect()
            };
            // Nobody waits in here, so whoever holds a claim gets on with it.
            missing.into_par_iter().try_for_each(|node| {
                {
                    let mut nodes = self.lock();
                    if nodes.contains_key(node) {
                        return Ok(());
                    }
                    nodes.insert(node.clone(), None);
                }
                let claim = Claim { table: self, node };
                let made = self.cell(node)?;
                self.lock().insert(node.clone(), Some(made));
                drop(claim);
                Ok::<(), CellError>(())
            })?;
            let mut nodes = self.lock();
            // A claim that was given back is taken up here.
            while wanted.iter().all(|n| nodes.contains_key(*n)) {
                if wanted.iter().all(|n| nodes.get(*n).is_some_and(Option::is_some)) {
                    return Ok(());
                }
                nodes = self.changed.wait(nodes).unwrap_or_else(PoisonError::into_inner);
            }
        }
    }

    /// The cell at a node, relative to the powers of its width and thickness and to its law's scale.
    fn cell(&self, node: &Node) -> Result<Matrix6<f64>, CellError> {
        let (reference, scale) = self.law([0, 0]).ok_or(CellError::Line)?;
        // The width stays and the thickness changes.
        let drawn = self.drawn[node.around.0];
        let first = self.thickness_um * drawn.exp();
        let thickness_um = self.thickness_um * (-(node.widths[0] as f64) * self.width_step).exp();
        let second = first * (node.widths[1] as f64 * self.width_step).exp();
        let widths = [first, second];
        let middle = self.thickness_um * (-(node.around.1 as f64) * APART).exp();
        let size_um = first.max(second).max(middle);
        let degree = cell::degree(middle / first.min(second));
        let laws = [0, 1].map(|s| Law {
            stiffness_pa: Matrix6::from_iterator(node.laws[s].iter().map(|c| *c as f64 * ROUNDED * scale)),
            density_kg_m3: reference.density_kg_m3,
        });
        let section = |s: usize| Section::rectangle(&laws[s], 0.0, widths[s] * 1e-6, thickness_um * 1e-6);
        let sections = [section(0)?, section(1)?];
        let stub = |s: usize| Stub {
            law: &laws[s],
            width_um: widths[s],
            thickness_um,
            section: &sections[s],
            size_um,
            degree,
        };
        let made = match node.kind {
            JointKind::Wall => cell::wall(&stub(0))?,
            JointKind::Wide => cell::wide(&stub(0))?,
            JointKind::Corner => cell::corner(&stub(0), &stub(1), node.turn as f64 * DIRECTION)?,
        };
        let powers = powers(widths, thickness_um) / scale.sqrt();
        Ok(made.component_div(&(powers * powers.transpose())))
    }
}

/// Roots of what a short end of a beam gives under the six resultants at unit stiffness: N: 1/t, Q_y: 1/t, Q_z: 1/w, twist: 1/w³,
/// M_y: 1/(w t²), M_z: 1/(t w²), in SI.
fn powers(widths_um: [f64; 2], thickness_um: f64) -> Vector6<f64> {
    let (w, t) = ((widths_um[0] * widths_um[1]).sqrt() * 1e-6, thickness_um * 1e-6);
    Vector6::new(t, t, w, w * w * w, w * t * t, t * w * w).map(|x| 1.0 / x.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::beam::flexibility;
    use crate::material::Orientation;

    fn silicon(c11: f64, c44: f64) -> Constants {
        let orientation = Orientation { wafer: [0, 0, 1], x_along: [1, 1, 0], x_off_deg: 0.0 };
        Constants::Cubic { density_kg_m3: 2330.0, stiffness_pa: [c11 * 1e9, 63.9e9, c44 * 1e9], orientation }
    }

    const ROOTS: [JointKind; 2] = [JointKind::Wall, JointKind::Wide];

    fn largest_difference(a: &[Matrix6<f64>], b: &[Matrix6<f64>]) -> f64 {
        let differs = |a: &Matrix6<f64>, b: &Matrix6<f64>| {
            let size = |i: usize| b[(i, i)].abs().sqrt();
            let entry = |n: usize| (a - b)[(n / 6, n % 6)].abs() / size(n / 6) / size(n % 6);
            (0..36).map(entry).fold(0.0, f64::max)
        };
        a.iter().zip(b).map(|(a, b)| differs(a, b)).fold(0.0, f64::max)
    }

    /// Another scale of stiffness and of size is exact and needs no node more; so is a cell of its own on the same mesh.
    #[test]
    fn similar_cells_scale() {
        let table = CellTable::new(silicon(165.7, 79.6), 20.0, [4.0].into_iter());
        let joints = |w: f64| ROOTS.map(|kind| Joint { kind, stretches: [(0.0, w); 2], turn: 0.0 });
        let drawn = table.flexibilities(&silicon(165.7, 79.6), 20.0, &joints(4.0)).unwrap().unwrap();
        let larger = table.flexibilities(&silicon(165.7, 79.6), 30.0, &joints(6.0)).unwrap().unwrap();
        assert_eq!(table.solved(), 2);
        let scaled: Vec<Matrix6<f64>> = drawn
            .iter()
            .map(|f| {
                let by = Vector6::new(1.0, 1.0, 1.0, 1.0 / 1.5, 1.0 / 1.5, 1.0 / 1.5);
                f.component_mul(&(by * by.transpose())) / 1.5
            })
            .collect();
        assert!(largest_difference(&larger, &scaled) < 1e-12);
        let law = silicon(165.7, 79.6).law().unwrap();
        let section = Section::rectangle(&law, 0.0, 4e-6, 20e-6).unwrap();
        let stub = Stub { law: &law, width_um: 4.0, thickness_um: 20.0, section: &section, size_um: 20.0, degree: 7 };
        let own = [cell::wall(&stub).unwrap(), cell::wide(&stub).unwrap()];
        let off = largest_difference(&drawn, &own);
        println!("own cells differ by {off:e}");
        assert!(off < 1e-6, "{off:e}");
    }

    /// Between nodes: against nodes eight times as close, on the same mesh, in units of what a beam as long as the section is
    /// tall gives. A flexure is ten times as long or more and has two roots, so that 1e-4 here is 1e-5 of a frequency.
    #[test]
    fn between_nodes() {
        let table = || CellTable::new(silicon(165.7, 79.6), 20.0, [4.0].into_iter());
        let (coarse, fine) = (table(), table().refined(8.0));
        let mut worst: f64 = 0.0;
        for (w, t, c11, c44) in [(4.1, 19.7, 168.0, 79.0), (3.85, 20.3, 163.0, 80.5)] {
            let joints = ROOTS.map(|kind| Joint { kind, stretches: [(0.0, w); 2], turn: 0.0 });
            let flexibilities_of =
                |table: &CellTable| table.flexibilities(&silicon(c11, c44), t, &joints).unwrap().unwrap();
            let section = Section::rectangle(&silicon(c11, c44).law().unwrap(), 0.0, w * 1e-6, t * 1e-6).unwrap();
            let beam = flexibility(&section, t * 1e-6).map_diagonal(f64::sqrt);
            for (a, b) in flexibilities_of(&coarse).iter().zip(&flexibilities_of(&fine)) {
                worst = worst.max((a - b).component_div(&(beam * beam.transpose())).amax());
            }
        }
        println!("interpolation: {worst:e} of a beam's flexibility");
        assert!(worst < 1e-4, "{worst:e}");
    }
}
