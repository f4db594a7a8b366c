//! Sections, roots and corners of a beam-shell model, each computed once. In: a law, the thickness, directions and widths. Out: sections,
//! tractions at their ends, and what roots and corners add to the flexibility of beams. SI but for widths in µm.

use crate::joint::cell::{self, CellError, Stub};
use crate::joint::table::{CellTable, Joint, JointKind};
use crate::material::{Constants, Law};
use crate::section::{Section, SectionError, TractionMoments};
use nalgebra::{Matrix3, Matrix6};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

/// Where the flexibilities of roots and corners come from.
#[derive(Clone, Copy, Debug)]
pub enum Cells<'a> {
    /// Cells of the model's own.
    Own,
    /// A table for many variants of a device, and the constants of this one's law; where the table does not reach, cells of its own.
    Table(&'a CellTable, &'a Constants),
    /// None: plain beams between averaged root lines.
    None,
}

/// Legendre degree through the thickness of a shell's fields: each is constant or linear.
const SHELL_DEGREE: usize = 1;

/// A law and a width, rounded so that equal sections are recognised.
pub(super) type Key = Vec<i64>;

/// A section: its law, direction (rad), width (µm) and constants.
pub(super) struct CachedSection {
    pub law: Law,
    pub angle: f64,
    pub width_um: f64,
    pub section: Section,
    /// Its tractions as the shells' fields take them, once an end needs them.
    pub tractions: OnceLock<Arc<TractionMoments>>,
}

impl CachedSection {
    pub fn tractions(&self, thickness_um: f64) -> Arc<TractionMoments> {
        let made = || Arc::new(TractionMoments::new(&self.section, thickness_um * 1e-6, SHELL_DEGREE));
        Arc::clone(self.tractions.get_or_init(made))
    }
}

/// Sections and cells, each computed once.
pub(super) struct SectionCache<'a> {
    pub law: &'a Law,
    pub thickness_um: f64,
    pub sections: BTreeMap<Key, CachedSection>,
    pub roots: BTreeMap<(Key, JointKind), Matrix6<f64>>,
    pub corners: BTreeMap<(Key, Key, i64), Matrix6<f64>>,
}

/// The law seen from axes turned by `angle` about z.
pub(super) fn along(law: &Law, angle: f64) -> Law {
    let (s, c) = angle.sin_cos();
    law.turned(&Matrix3::new(c, s, 0.0, -s, c, 0.0, 0.0, 0.0, 1.0))
}

pub(super) fn key(law: &Law, width_um: f64) -> Key {
    let largest = law.stiffness_pa.amax();
    let mut key: Key = law.stiffness_pa.iter().map(|c| (c / largest * 1e9).round() as i64).collect();
    key.push((width_um * 1e5).round() as i64);
    key
}

/// The width in a key, µm.
pub(super) fn width_um(key: &Key) -> f64 {
    key.last().map_or(0.0, |w| *w as f64 * 1e-5)
}

impl<'a> SectionCache<'a> {
    pub fn new(law: &'a Law, thickness_um: f64) -> Self {
        Self { law, thickness_um, sections: BTreeMap::new(), roots: BTreeMap::new(), corners: BTreeMap::new() }
    }

    /// Computes what `wanted` lists (direction, rad; width, µm) and is not there yet, side by side.
    pub fn sections(&mut self, wanted: &[(f64, f64)]) -> Result<Vec<Key>, SectionError> {
        let mut missing: BTreeMap<Key, (Law, f64, f64)> = BTreeMap::new();
        let mut keys = Vec::with_capacity(wanted.len());
        for &(angle, width_um) in wanted {
            let law = along(self.law, angle);
            let key = key(&law, width_um);
            if !self.sections.contains_key(&key) {
                missing.entry(key.clone()).or_insert((law, angle, width_um));
            }
            keys.push(key);
        }
        let made = missing
            .into_par_iter()
            .map(|(key, (law, angle, width_um))| {
                let section = Section::rectangle(&law, 0.0, width_um * 1e-6, self.thickness_um * 1e-6)?;
                Ok((key, CachedSection { law, angle, width_um, section, tractions: OnceLock::new() }))
            })
            .collect::<Result<Vec<_>, SectionError>>()?;
        self.sections.extend(made);
        Ok(keys)
    }

    fn stub(&self, key: &Key) -> Option<Stub<'_>> {
        let CachedSection { law, width_um, section, .. } = self.sections.get(key)?;
        let degree = cell::degree(self.thickness_um / width_um);
        let (width_um, thickness_um) = (*width_um, self.thickness_um);
        Some(Stub { law, width_um, thickness_um, section, size_um: width_um.max(thickness_um), degree })
    }

    /// The flexibilities of all roots and corners, side by side.
    pub fn cells(
        &mut self,
        source: Cells,
        roots: &[(Key, JointKind)],
        corners: &[(Key, Key, f64)],
    ) -> Result<(), CellError> {
        let mut roots: Vec<(Key, JointKind)> = roots.to_vec();
        roots.sort();
        roots.dedup();
        let mut turns: Vec<(Key, Key, i64)> =
            corners.iter().map(|(a, b, t)| (a.clone(), b.clone(), rounded(*t))).collect();
        turns.sort();
        turns.dedup();
        let made = match source {
            Cells::None => Some(vec![Matrix6::zeros(); roots.len() + turns.len()]),
            Cells::Own => None,
            Cells::Table(table, constants) => {
                table.flexibilities(constants, self.thickness_um, &self.joints(&roots, &turns))?
            }
        };
        let [roots_made, corners_made] = match made {
            Some(mut made) => {
                let corners_made = made.split_off(roots.len());
                [made, corners_made]
            }
            None => self.own_cells(&roots, &turns)?,
        };
        self.roots = roots.into_iter().zip(roots_made).collect();
        self.corners = turns.into_iter().zip(corners_made).collect();
        Ok(())
    }

    /// Roots, then corners, as a table takes them.
    fn joints(&self, roots: &[(Key, JointKind)], turns: &[(Key, Key, i64)]) -> Vec<Joint> {
        let stretch = |key: &Key| self.sections.get(key).map_or((0.0, 0.0), |s| (s.angle, s.width_um));
        let of_roots = roots.iter().map(|(key, kind)| Joint { kind: *kind, stretches: [stretch(key); 2], turn: 0.0 });
        let of_corner = |(a, b, turn): &(Key, Key, i64)| Joint {
            kind: JointKind::Corner,
            stretches: [stretch(a), stretch(b)],
            turn: *turn as f64 * 1e-9,
        };
        of_roots.chain(turns.iter().map(of_corner)).collect()
    }

    fn own_cells(
        &self,
        roots: &[(Key, JointKind)],
        turns: &[(Key, Key, i64)],
    ) -> Result<[Vec<Matrix6<f64>>; 2], CellError> {
        let of_root = |(key, kind): &(Key, JointKind)| match (self.stub(key), kind) {
            (Some(stub), JointKind::Wall) => cell::wall(&stub),
            (Some(stub), JointKind::Wide) => cell::wide(&stub),
            (None, _) | (_, JointKind::Corner) => Err(CellError::Missing { width_um: width_um(key) }),
        };
        let of_corner = |(a, b, turn): &(Key, Key, i64)| match (self.stub(a), self.stub(b)) {
            (Some(first), Some(second)) => cell::corner(&first, &second, *turn as f64 * 1e-9),
            _ => Err(CellError::Missing { width_um: width_um(a) }),
        };
        let (roots_made, corners_made) = rayon::join(
            || roots.par_iter().map(of_root).collect::<Result<Vec<_>, _>>(),
            || turns.par_iter().map(of_corner).collect::<Result<Vec<_>, _>>(),
        );
        Ok([roots_made?, corners_made?])
    }
}

pub(super) fn rounded(angle: f64) -> i64 {
    (angle * 1e9).round() as i64
}
