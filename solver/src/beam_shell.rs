//! The beam-shell model: shells for the wide parts, chains of Timoshenko beams for the flexures, root cells at their joints,
//! fingers as rigid mass. In: outline, law, thickness. Out: a mesh of the wide parts and what hangs on it, ready for
//! [`crate::modal::modes`].
//!
//! A flexure becomes a beam if its clear length is at least [`SLENDER`] times the larger of its width and the thickness, so
//! that the disturbances of its two roots do not meet; shorter ones stay with the shells. Roots and corners get the
//! flexibility of [`crate::joint::cell`], computed once for every section, direction in the crystal and kind of root, or taken
//! from a [`crate::joint::table::CellTable`] for many variants of a device.

mod chains;
mod error;
mod moved;
mod sample;
mod sections;
mod stretch;
mod wide;

pub use error::{BeamShellError, SLENDER};
pub use sections::Cells;

use crate::joint::cell;
use crate::joint::table::JointKind;
use crate::material::Law;
use crate::system::{AddedMass, Attachments, Structure};
use chains::{appendage, chain, elements};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Flexure, Joins, Outline};
use modalith_mesher::triangulate::MeshSize;
use sections::{Key, SectionCache};
use std::f64::consts::PI;
use stretch::{Stretch, stretches};
use wide::Wide;

/// The wide parts' mesh and what hangs on it.
#[derive(Clone, Debug)]
pub struct BeamShell {
    /// Shells on the mesh of the wide parts, flexures and fingers attached, filled openings as mass taken away.
    pub structure: Structure,
    /// Number of the chain of every flexure of the outline; none where it stays with the shells.
    pub chain_of: Vec<Option<usize>>,
    /// Slender flexures that stay with the shells, since corrections at the ends of a stretch outweigh it.
    pub too_short: Vec<usize>,
    /// Slender flexures that stay with the shells, since no mesh of the wide parts takes the ends of their root lines beside a corner.
    pub crowded: Vec<usize>,
    /// What the mesh covers.
    wide: Wide,
}

/// The wide parts without these flexures, their mesh, given or made, and the flexures that such a mesh cannot take the ends of: those
/// stay with it, unless the beams are given.
fn wide_parts(
    outline: &Outline,
    flexures: Vec<usize>,
    holes_below_um: Option<f64>,
    (size, mesh, given): (&MeshSize, Option<Mesh>, bool),
) -> Result<(Wide, Mesh, Vec<usize>), BeamShellError> {
    if mesh.is_none() && !given {
        return Wide::meshed(outline, flexures, holes_below_um, size);
    }
    let wide = Wide::of(outline, flexures, holes_below_um);
    let mesh = mesh.map_or_else(|| wide.mesh(size), Ok)?;
    Ok((wide, mesh, Vec::new()))
}

/// What flexures become: their stretches, and the section and kind of each of their two roots.
struct Planned {
    all: Vec<Vec<Stretch>>,
    roots: Vec<(Key, JointKind)>,
}

/// Stretches of flexures, with all their sections and joints found in `shelf`.
fn planned(
    outline: &Outline,
    candidates: &[usize],
    shelf: &mut SectionCache,
    cells: Cells,
) -> Result<Planned, BeamShellError> {
    let mut all: Vec<Vec<Stretch>> = candidates.iter().map(|&i| stretches(&outline.flexures[i])).collect();
    let wanted: Vec<(f64, f64)> = all.iter().flatten().map(|s| (s.angle, s.width_um)).collect();
    let keys = shelf.sections(&wanted)?;
    all.iter_mut().flatten().zip(keys).for_each(|(s, key)| s.section = key);
    // Roots see the flexure leave, as wide as it is there: at the far end that is backwards.
    let ends_of = |(&i, s): (&usize, &Vec<Stretch>)| {
        let widths = &outline.flexures[i].widths_um;
        [(s[0].angle, widths[0]), (s[s.len() - 1].angle + PI, widths[widths.len() - 1])]
    };
    let ends: Vec<[(f64, f64); 2]> = candidates.iter().zip(&all).map(ends_of).collect();
    let end_keys = shelf.sections(&ends.concat())?;
    let kind = |i: usize, end: usize| match outline.flexures[i].ends[end].joins {
        Joins::Anchor => JointKind::Wall,
        _ => JointKind::Wide,
    };
    let roots: Vec<(Key, JointKind)> = candidates
        .iter()
        .zip(end_keys.chunks(2))
        .flat_map(|(&i, keys)| [0, 1].map(|e| (keys[e].clone(), kind(i, e))))
        .collect();
    let corners: Vec<(Key, Key, f64)> = all
        .iter()
        .flat_map(|s| s.windows(2))
        .filter_map(|w| w[1].corner.map(|turn| (w[0].section.clone(), w[1].section.clone(), turn)))
        .collect();
    shelf.cells(cells, &roots, &corners)?;
    Ok(Planned { all, roots })
}

/// Which flexures of an outline become beams: slender ones without openings.
pub fn beams_of(outline: &Outline, thickness_um: f64) -> Vec<usize> {
    let slender = |f: &Flexure| f.length_um >= SLENDER * f.width_um.max(thickness_um) && !f.is_perforated();
    (0..outline.flexures.len()).filter(|&i| slender(&outline.flexures[i])).collect()
}

impl BeamShell {
    /// Builds the model. A flexure of which a stretch is too short for the corrections at its ends stays with the shells.
    ///
    /// # Errors
    /// See [`BeamShellError`].
    pub fn new(outline: &Outline, law: &Law, thickness_um: f64, wishes: Wishes) -> Result<Self, BeamShellError> {
        let Wishes { size, holes_below_um, cells, mesh, beams } = wishes;
        let candidates = beams.map_or_else(|| beams_of(outline, thickness_um), <[usize]>::to_vec);
        if let Some(gone) = candidates.iter().find(|&&i| i >= outline.flexures.len()) {
            return Err(BeamShellError::NoFlexure { number: gone + 1 });
        }
        let mut shelf = SectionCache::new(law, thickness_um);
        let Planned { all, roots } = planned(outline, &candidates, &mut shelf, cells)?;
        let mut made = Vec::new();
        let mut too_short = Vec::new();
        let mut none_serves = BeamShellError::NoBeams;
        for (c, (&i, stretches)) in candidates.iter().zip(&all).enumerate() {
            let root = |e: usize| {
                let missing = || BeamShellError::Joint { number: i + 1, at: outline.flexures[i].ends[e].root[0] };
                shelf.roots.get(&roots[2 * c + e]).copied().ok_or_else(missing)
            };
            match elements(&outline.flexures[i], i, stretches, [root(0)?, root(1)?], &shelf, law) {
                // Where the beams are given, one that does not serve is no answer.
                Err(e @ BeamShellError::TooShort { .. }) if beams.is_none() => {
                    too_short.push(i);
                    none_serves = e;
                }
                elements => made.push((i, stretches, elements?)),
            }
        }
        if made.is_empty() {
            return Err(none_serves);
        }
        let numbers = made.iter().map(|(i, ..)| *i).collect();
        let (wide, mesh, crowded) = wide_parts(outline, numbers, holes_below_um, (size, mesh, beams.is_some()))?;
        made.retain(|(i, ..)| !crowded.contains(i));
        let mut attachments = Attachments::default();
        let mut chain_of = vec![None; outline.flexures.len()];
        for (c, (i, stretches, elements)) in made.into_iter().enumerate() {
            chain_of[i] = Some(c);
            attachments.chains.push(chain(&outline.flexures[i], i, stretches, elements, &mut shelf, &mesh)?);
        }
        for finger in &outline.fingers {
            attachments.appendages.push(appendage(finger, &mut shelf, law, &mesh)?);
        }
        let mut added = AddedMass::none();
        added.subtract_hole_mass(&mesh, &wide.filled_holes);
        let structure = Structure::anchored(mesh, cell::shell(law, thickness_um));
        let structure = structure.with_added_mass(added).with_attachments(attachments);
        Ok(Self { structure, chain_of, too_short, crowded, wide })
    }

    /// Flexures that are beams, in order.
    pub fn beams(&self) -> &[usize] {
        &self.wide.beams
    }

    /// Openings that were filled.
    pub fn filled(&self) -> usize {
        self.wide.filled_holes.len()
    }
}

/// What a model is made with beside outline, law and thickness.
#[derive(Clone, Debug)]
pub struct Wishes<'a> {
    /// Sizes of the wide parts' mesh.
    pub size: &'a MeshSize,
    /// Openings smaller than this are filled and their mass taken away; `None` keeps all of them.
    pub holes_below_um: Option<f64>,
    /// Where the flexibilities of joints come from.
    pub cells: Cells<'a>,
    /// A mesh of the wide parts that is there already, from [`BeamShell::mesh_moved_to`].
    pub mesh: Option<Mesh>,
    /// The flexures that are beams, of a model that this one is compared with; `None` for all that are slender.
    pub beams: Option<&'a [usize]>,
}

impl<'a> Wishes<'a> {
    /// Every opening kept, a mesh of its own, all that is slender a beam.
    pub fn new(size: &'a MeshSize, cells: Cells<'a>) -> Self {
        Self { size, holes_below_um: None, cells, mesh: None, beams: None }
    }
}
