//! The beam-shell model: shells for the wide parts, chains of Timoshenko beams for the flexures, root cells at their joints,
//! fingers as rigid mass. In: outline, law, thickness. Out: a mesh of the wide parts and what hangs on it, ready for
//! [`crate::modal::modes_with`].
//!
//! A flexure becomes a beam if its clear length is at least [`SLENDER`] times the larger of its width and the thickness, so
//! that the disturbances of its two roots do not meet; shorter ones stay with the shells. Roots and corners get the
//! flexibility of [`crate::joint::cell`], computed once for every section, direction in the crystal and kind of root, or taken
//! from a [`CellTable`] for many variants of a device.

mod wide;

use crate::element::beam::BeamError;
use crate::joint::cell::{self, CellError, Stub, turned};
use crate::joint::chain::{Element, OnChain, rigid};
use crate::joint::line::{Axis, RootLine};
use crate::joint::table::{CellTable, Joint, Kind};
use crate::material::{Constants, Law};
use crate::modal::Modal;
use crate::mode::{Astray, Fields, Mode, Sampled, Stations, sampling_points};
use crate::section::{Section, SectionError, TractionMoments};
use crate::system::{AddedMass, Chain, End, Hangers, Layer, Rider};
use modalith_mesher::geometry::Point;
use modalith_mesher::locate::Locator;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Finger, Flexure, Joins, Outline};
use modalith_mesher::triangulate::{MeshSize, TriangulateError};
use nalgebra::{Matrix3, Matrix6};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::sync::{Arc, OnceLock};
use wide::Wide;

/// Least clear length of a beam, in units of the larger of width and thickness.
pub const SLENDER: f64 = 4.0;
/// Elements along a straight stretch: a flexure's own first bending mode is good to 1e-4 with six.
const ALONG: f64 = 6.0;
/// A curve's chords are joined until they turn by this, rad.
const CHORD_TURN: f64 = 0.1;
/// Chords leave the middle line by at most this share of the width, or of the height of the whole bow.
const NEAR_LINE: f64 = 0.02;
const NEAR_BOW: f64 = 0.01;
/// Legendre degree through the thickness of a shell's fields: each is constant or linear.
const SHELL_DEGREE: usize = 1;
/// A bend sharper than this is a corner, rad; less is a chord of a curve.
const CORNER: f64 = 0.35;

/// Why there is no beam-shell model.
#[derive(Debug, thiserror::Error)]
pub enum BeamShellError {
    /// No flexure is long enough.
    #[error("no flexure is {SLENDER} times as long as it is wide and thick: there is nothing to model as a beam")]
    NoBeams,
    /// The wide parts cannot be meshed.
    #[error(transparent)]
    Mesh(#[from] TriangulateError),
    /// A section.
    #[error(transparent)]
    Section(#[from] SectionError),
    /// A root cell.
    #[error(transparent)]
    Cell(#[from] CellError),
    /// A beam that its joints use up.
    #[error("flexure {number}: {source}")]
    TooShort {
        /// Number of the flexure, from 1.
        number: usize,
        /// What is wrong.
        source: BeamError,
    },
    /// A joint that nobody solved: it is not rigid.
    #[error("flexure {number}: the flexibility of its root or corner near ({:.3}, {:.3}) µm is missing", .at[0], .at[1])]
    Joint {
        /// Number of the flexure, from 1.
        number: usize,
        /// Where, µm.
        at: Point,
    },
    /// The mesh does not follow a root line.
    #[error("the mesh of the wide parts does not follow the root of flexure {number} near ({:.3}, {:.3}) µm", .at[0], .at[1])]
    Root {
        /// Number of the flexure, from 1.
        number: usize,
        /// Middle of the root line, µm.
        at: Point,
    },
}

/// The wide parts' mesh and what hangs on it.
#[derive(Clone, Debug)]
pub struct BeamShell {
    /// Mesh of the wide parts.
    pub mesh: Mesh,
    /// The shell's layer.
    pub layer: Layer,
    /// Flexures and fingers.
    pub hangers: Arc<Hangers>,
    /// Openings that were filled.
    pub added: AddedMass,
    /// Number of the chain of every flexure of the outline; none where it stays with the shells.
    pub chain_of: Vec<Option<usize>>,
    /// Slender flexures that stay with the shells, since corrections at the ends of a stretch outweigh it.
    pub too_short: Vec<usize>,
    /// Slender flexures that stay with the shells, since no mesh of the wide parts takes the ends of their root lines beside a corner.
    pub crowded: Vec<usize>,
    /// What the mesh covers.
    wide: Wide,
}

/// Which flexures of an outline become beams.
pub fn beams_of(outline: &Outline, thickness_um: f64) -> Vec<usize> {
    let slender = |f: &Flexure| f.length_um >= SLENDER * f.width_um.max(thickness_um);
    (0..outline.flexures.len()).filter(|&i| slender(&outline.flexures[i])).collect()
}

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

/// A law and a width, rounded so that equal sections are recognised.
type Key = Vec<i64>;

/// A section: its law, direction (rad), width (µm) and constants.
struct Shelved {
    law: Law,
    angle: f64,
    width_um: f64,
    section: Section,
    /// Its tractions as the shells' fields take them, once an end needs them.
    tractions: OnceLock<Arc<TractionMoments>>,
}

impl Shelved {
    fn tractions(&self, thickness_um: f64) -> Arc<TractionMoments> {
        let made = || Arc::new(TractionMoments::new(&self.section, thickness_um * 1e-6, SHELL_DEGREE));
        Arc::clone(self.tractions.get_or_init(made))
    }
}

/// Sections and cells, each computed once.
struct Shelf<'a> {
    law: &'a Law,
    thickness_um: f64,
    sections: BTreeMap<Key, Shelved>,
    roots: BTreeMap<(Key, Kind), Matrix6<f64>>,
    corners: BTreeMap<(Key, Key, i64), Matrix6<f64>>,
}

/// The law seen from axes turned by `angle` about z.
fn along(law: &Law, angle: f64) -> Law {
    let (s, c) = angle.sin_cos();
    law.turned(&Matrix3::new(c, s, 0.0, -s, c, 0.0, 0.0, 0.0, 1.0))
}

fn key(law: &Law, width_um: f64) -> Key {
    let largest = law.stiffness_pa.amax();
    let mut key: Key = law.stiffness_pa.iter().map(|c| (c / largest * 1e9).round() as i64).collect();
    key.push((width_um * 1e5).round() as i64);
    key
}

/// The width in a key, µm.
fn width_um(key: &Key) -> f64 {
    key.last().map_or(0.0, |w| *w as f64 * 1e-5)
}

/// A stretch of a flexure between two nodes.
struct Stretch {
    from: [f64; 2],
    to: [f64; 2],
    angle: f64,
    width_um: f64,
    section: Key,
    /// A corner lies at its start: angle from the stretch before.
    corner: Option<f64>,
}

impl<'a> Shelf<'a> {
    fn new(law: &'a Law, thickness_um: f64) -> Self {
        Self { law, thickness_um, sections: BTreeMap::new(), roots: BTreeMap::new(), corners: BTreeMap::new() }
    }

    /// Computes what `wanted` lists and is not there yet, side by side.
    fn sections(&mut self, wanted: &[(f64, f64)]) -> Result<Vec<Key>, SectionError> {
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
                Ok((key, Shelved { law, angle, width_um, section, tractions: OnceLock::new() }))
            })
            .collect::<Result<Vec<_>, SectionError>>()?;
        self.sections.extend(made);
        Ok(keys)
    }

    fn stub(&self, key: &Key) -> Option<Stub<'_>> {
        let Shelved { law, width_um, section, .. } = self.sections.get(key)?;
        let degree = cell::degree(self.thickness_um / width_um);
        let (width_um, thickness_um) = (*width_um, self.thickness_um);
        Some(Stub { law, width_um, thickness_um, section, size_um: width_um.max(thickness_um), degree })
    }

    /// The flexibilities of all roots and corners, side by side.
    fn cells(&mut self, source: Cells, roots: &[(Key, Kind)], corners: &[(Key, Key, f64)]) -> Result<(), CellError> {
        let mut roots: Vec<(Key, Kind)> = roots.to_vec();
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
    fn joints(&self, roots: &[(Key, Kind)], turns: &[(Key, Key, i64)]) -> Vec<Joint> {
        let stretch = |key: &Key| self.sections.get(key).map_or((0.0, 0.0), |s| (s.angle, s.width_um));
        let of_roots = roots.iter().map(|(key, kind)| Joint { kind: *kind, stretches: [stretch(key); 2], turn: 0.0 });
        let of_corner = |(a, b, turn): &(Key, Key, i64)| Joint {
            kind: Kind::Corner,
            stretches: [stretch(a), stretch(b)],
            turn: *turn as f64 * 1e-9,
        };
        of_roots.chain(turns.iter().map(of_corner)).collect()
    }

    fn own_cells(&self, roots: &[(Key, Kind)], turns: &[(Key, Key, i64)]) -> Result<[Vec<Matrix6<f64>>; 2], CellError> {
        let of_root = |(key, kind): &(Key, Kind)| match (self.stub(key), kind) {
            (Some(stub), Kind::Wall) => cell::wall(&stub),
            (Some(stub), Kind::Wide) => cell::wide(&stub),
            (None, _) | (_, Kind::Corner) => Err(CellError::Missing { width_um: width_um(key) }),
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

fn rounded(angle: f64) -> i64 {
    (angle * 1e9).round() as i64
}

/// The stretches of a flexure, in order.
fn stretches(flexure: &Flexure) -> Vec<Stretch> {
    let (line, widths_um) = merged(flexure);
    let lengths: Vec<f64> = line.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).collect();
    // A straight stretch in six, but no more than eighteen for the whole: statics are exact with one, mass needs no more.
    let longest = lengths.iter().copied().fold(0.0, f64::max);
    let step = (longest / ALONG).max(lengths.iter().sum::<f64>() / (3.0 * ALONG));
    let mut out: Vec<Stretch> = Vec::new();
    for (i, ends) in line.windows(2).enumerate() {
        let d = [ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]];
        let angle = d[1].atan2(d[0]);
        let widths = [widths_um[i], widths_um[i + 1]];
        let tapers = (widths[1] / widths[0] - 1.0).abs() > 1e-6;
        let corner = out.last().map(|before| wrapped(angle - before.angle)).filter(|turn| turn.abs() > CORNER);
        let n = ((lengths[i] / step - 1e-9).ceil() as usize).max(1) * if tapers { 2 } else { 1 };
        for k in 0..n {
            let at = |s: usize| [0, 1].map(|c| (ends[0][c] + d[c] * s as f64 / n as f64) * 1e-6);
            let width_um = widths[0] + (widths[1] - widths[0]) * (k as f64 + 0.5) / n as f64;
            let corner = if k == 0 { corner } else { None };
            out.push(Stretch { from: at(k), to: at(k + 1), angle, width_um, section: Key::new(), corner });
        }
    }
    out
}

/// The centre-line with the fine chords of its curves joined, and its widths.
fn merged(flexure: &Flexure) -> (Vec<Point>, Vec<f64>) {
    let (line, widths) = (&flexure.centre_line, &flexure.widths_um);
    let step = |i: usize| [line[i + 1][0] - line[i][0], line[i + 1][1] - line[i][1]];
    let angle = |i: usize| step(i)[1].atan2(step(i)[0]);
    let length = |i: usize| step(i)[0].hypot(step(i)[1]);
    let off_line = |k: usize, from: usize, to: usize| {
        let (a, d) = (line[from], [0, 1].map(|c| line[to][c] - line[from][c]));
        let across = d[0] * (line[k][1] - a[1]) - d[1] * (line[k][0] - a[0]);
        (across / d[0].hypot(d[1]).max(f64::MIN_POSITIVE)).abs()
    };
    // A bow, however slight, is soft along the line by 12 times the square of its height over the width.
    let bow = (1..line.len() - 1).map(|k| off_line(k, 0, line.len() - 1)).fold(0.0, f64::max);
    let near = (NEAR_LINE * flexure.width_um).max(NEAR_BOW * bow);
    let mut kept = vec![0];
    let mut turned = 0.0;
    for i in 1..line.len() - 1 {
        let turn = wrapped(angle(i) - angle(i - 1)).abs();
        turned += turn;
        // Corners and the ends of straight stretches stay.
        let (before, after) = (length(i - 1), length(i));
        // Joints change the ends' flexibility: their elements must be longer than that.
        let ends = [0, line.len() - 1].map(|e| (line[i][0] - line[e][0]).hypot(line[i][1] - line[e][1]));
        if turn <= CORNER && ends[0].min(ends[1]) < 2.0 * flexure.width_um {
            continue;
        }
        let last = kept[kept.len() - 1];
        let bows = (last + 1..=i).any(|k| off_line(k, last, i + 1) > near);
        if bows || turned > CHORD_TURN || turn > CORNER || before.max(after) > 3.0 * before.min(after) {
            kept.push(i);
            turned = 0.0;
        }
    }
    kept.push(line.len() - 1);
    (kept.iter().map(|&i| line[i]).collect(), kept.iter().map(|&i| widths[i]).collect())
}

/// An angle between −π and π.
fn wrapped(angle: f64) -> f64 {
    angle - 2.0 * PI * (angle / (2.0 * PI)).round()
}

impl BeamShell {
    /// Builds the model. A flexure of which a stretch is too short for the corrections at its ends stays with the shells.
    ///
    /// # Errors
    /// See [`BeamShellError`].
    pub fn new(outline: &Outline, law: &Law, thickness_um: f64, wishes: Wishes) -> Result<Self, BeamShellError> {
        let Wishes { size, holes_below_um, cells, mesh, beams } = wishes;
        let candidates = beams.map_or_else(|| beams_of(outline, thickness_um), <[usize]>::to_vec);
        let mut shelf = Shelf::new(law, thickness_um);
        let mut all: Vec<Vec<Stretch>> = candidates.iter().map(|&i| stretches(&outline.flexures[i])).collect();
        let wanted: Vec<(f64, f64)> = all.iter().flatten().map(|s| (s.angle, s.width_um)).collect();
        let keys = shelf.sections(&wanted)?;
        all.iter_mut().flatten().zip(keys).for_each(|(s, key)| s.section = key);
        // Roots see the flexure leave, as wide as it is there: at the far end that is backwards.
        let ends: Vec<[(f64, f64); 2]> = candidates
            .iter()
            .zip(&all)
            .map(|(&i, s)| {
                let widths = &outline.flexures[i].widths_um;
                [(s[0].angle, widths[0]), (s[s.len() - 1].angle + PI, widths[widths.len() - 1])]
            })
            .collect();
        let end_keys = shelf.sections(&ends.concat())?;
        let kind = |i: usize, end: usize| match outline.flexures[i].ends[end].joins {
            Joins::Anchor => Kind::Wall,
            _ => Kind::Wide,
        };
        let roots: Vec<(Key, Kind)> = candidates
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
        let (wide, mesh, crowded) = match (mesh, beams) {
            (Some(mesh), _) => (Wide::of(outline, numbers, holes_below_um), mesh, Vec::new()),
            (None, Some(_)) => {
                let wide = Wide::of(outline, numbers, holes_below_um);
                let mesh = wide.mesh(size)?;
                (wide, mesh, Vec::new())
            }
            (None, None) => Wide::meshed(outline, numbers, holes_below_um, size)?,
        };
        made.retain(|(i, ..)| !crowded.contains(i));
        let mut hangers = Hangers::default();
        let mut chain_of = vec![None; outline.flexures.len()];
        for (c, (i, stretches, elements)) in made.into_iter().enumerate() {
            chain_of[i] = Some(c);
            hangers.chains.push(chain(&outline.flexures[i], i, stretches, elements, &mut shelf, &mesh)?);
        }
        for finger in &outline.fingers {
            hangers.riders.push(rider(finger, &mut shelf, law, &mesh)?);
        }
        let mut added = AddedMass::none();
        added.open(&mesh, &wide.filled_holes);
        let (layer, hangers) = (cell::shell(law, thickness_um), Arc::new(hangers));
        Ok(Self { mesh, layer, hangers, added, chain_of, too_short, crowded, wide })
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

/// What a triangle of the whole layout is in the model.
#[derive(Clone, Copy, PartialEq)]
enum Tag {
    Wide,
    Chain(usize),
    Finger(usize),
}

/// Where a point of the layout gets its motion from.
enum Source {
    /// The wide parts, by number of the station.
    Wide(usize),
    /// A chain, and the number of the point among those on chains.
    Chain(usize, usize),
    /// A finger: the station at its root, and how far out the point is, m.
    Finger(usize, [f64; 2]),
}

impl BeamShell {
    fn tag(&self, fingers: &Locator, whole: &Mesh, t: usize) -> Tag {
        if let Some(chain) = whole.flexure_of[t].and_then(|f| self.chain_of.get(usize::from(f)).copied().flatten()) {
            return Tag::Chain(chain);
        }
        let [a, b, c] = whole.triangles[t].map(|i| whole.points[i as usize]);
        let centre = [(a[0] + b[0] + c[0]) / 3.0, (a[1] + b[1] + c[1]) / 3.0];
        fingers.find(centre).map_or(Tag::Wide, |f| Tag::Finger(usize::from(f)))
    }

    /// Modes at the corners and mid-sides of a mesh of the whole layout, as [`crate::modal::Modal::sample_coarse`] has them for
    /// shells and solids.
    ///
    /// # Errors
    /// [`Astray`] for a point of the layout that lies on no part of the model.
    pub fn sample(&self, outline: &Outline, whole: &Mesh, modal: &Modal) -> Result<Sampled, Astray> {
        let grid = sampling_points(whole);
        let fingers = Locator::new(outline.fingers.iter().map(|f| std::slice::from_ref(&f.area)));
        let tags: Vec<Tag> = (0..whole.triangles.len()).map(|t| self.tag(&fingers, whole, t)).collect();
        // A point on a root line belongs to the wide part, so that both sides agree.
        let mut of_point: Vec<Option<Tag>> = vec![None; grid.points.len()];
        for (cell, &t) in grid.cells.iter().zip(&grid.triangle_of) {
            let own = tags[t as usize];
            for &p in cell {
                let known = &mut of_point[p as usize];
                *known = Some(if known.is_none_or(|k| k == own) { own } else { Tag::Wide });
            }
        }
        let (mut stations, mut on_chains) = (Vec::new(), Vec::new());
        let mut sources = Vec::with_capacity(grid.points.len());
        for (&p, tag) in grid.points.iter().zip(of_point) {
            sources.push(match tag {
                Some(Tag::Chain(c)) => {
                    on_chains.push(OnChain::find(&self.hangers.chains[c].elements, p.map(|x| x * 1e-6)));
                    Source::Chain(c, on_chains.len() - 1)
                }
                Some(Tag::Finger(f)) => {
                    let [a, b] = outline.fingers[f].root;
                    let root = [0, 1].map(|k| 0.5 * (a[k] + b[k]));
                    stations.push(root);
                    Source::Finger(stations.len() - 1, [0, 1].map(|k| (p[k] - root[k]) * 1e-6))
                }
                _ => {
                    stations.push(p);
                    Source::Wide(stations.len() - 1)
                }
            });
        }
        // The whole layout's triangles may straddle a root line, and two meshes cut a curve into different pieces.
        let widths = outline.flexures.iter().map(|f| f.width_um).chain(outline.fingers.iter().map(|f| f.width_um));
        let reach_um = 1.5 * widths.fold(1.0, f64::max);
        let found = Stations::new(&self.mesh, &stations, reach_um)?;
        // Modes of one motion are looked up together.
        let mut all: Vec<Fields> = vec![Fields::default(); modal.modes.len()];
        for (m, motion) in modal.motions.iter().enumerate() {
            let own: Vec<usize> = (0..all.len()).filter(|&i| modal.motion_of[i] == m).collect();
            let list: Vec<&Mode> = own.iter().map(|&i| &modal.modes[i]).collect();
            let wide = found.sample(&self.mesh, motion, &list);
            let of = |(mode, (shape, tilt)): (&&Mode, Fields)| -> Fields {
                let nodes = motion.beams.nodes(&mode.shape);
                let at = |source: &Source| match source {
                    Source::Wide(s) => (shape[*s], tilt[*s]),
                    Source::Chain(c, on) => on_chains[*on].moved(&nodes[*c]),
                    Source::Finger(s, out) => {
                        let (mut u, g) = (shape[*s], tilt[*s]);
                        u[2] -= g[0] * out[0] + g[1] * out[1];
                        (u, g)
                    }
                };
                sources.iter().map(at).unzip()
            };
            let sampled: Vec<Fields> = list.par_iter().zip(wide).map(of).collect();
            own.into_iter().zip(sampled).for_each(|(i, fields)| all[i] = fields);
        }
        let (modes, tilts) = all.into_iter().unzip();
        Ok(Sampled { modes, tilts, ..grid })
    }
}

/// The elements of one flexure; `joints` are the flexibilities of its roots, each seen from its root.
fn elements(
    flexure: &Flexure,
    number: usize,
    stretches: &[Stretch],
    joints: [Matrix6<f64>; 2],
    shelf: &Shelf,
    law: &Law,
) -> Result<Vec<Element>, BeamShellError> {
    let length = |s: &Stretch| (s.to[0] - s.from[0]).hypot(s.to[1] - s.from[1]);
    // The mass of the true area, whatever the chords and tapers make of it.
    let drawn: f64 = stretches.iter().map(|s| s.width_um * 1e-6 * length(s)).sum();
    let scale = flexure.area.area() * 1e-12 / drawn;
    let thickness = shelf.thickness_um * 1e-6;
    let about = turned(PI);
    let mut elements = Vec::with_capacity(stretches.len());
    for (k, s) in stretches.iter().enumerate() {
        let missing = || BeamShellError::Joint { number: number + 1, at: s.from.map(|x| 1e6 * x) };
        let Shelved { section, .. } = shelf.sections.get(&s.section).ok_or_else(missing)?;
        let near = match (k, s.corner) {
            (0, _) => joints[0],
            (_, Some(angle)) => shelf
                .corners
                .get(&(stretches[k - 1].section.clone(), s.section.clone(), rounded(angle)))
                .copied()
                .ok_or_else(missing)?,
            _ => Matrix6::zeros(),
        };
        let far = if k + 1 == stretches.len() { about * joints[1] * about.transpose() } else { Matrix6::zeros() };
        let width = s.width_um * 1e-6;
        let kg_per_m = law.density_kg_m3 * thickness * width * scale;
        let element = Element::new(s.from, s.to, section, [&near, &far], [width, thickness], kg_per_m)
            .map_err(|source| BeamShellError::TooShort { number: number + 1, source })?;
        elements.push(element);
    }
    Ok(elements)
}

/// The chain of one flexure between its root lines.
fn chain(
    flexure: &Flexure,
    number: usize,
    stretches: &[Stretch],
    elements: Vec<Element>,
    shelf: &mut Shelf,
    mesh: &Mesh,
) -> Result<Chain, BeamShellError> {
    let width_um = |e: usize| flexure.widths_um[if e == 0 { 0 } else { flexure.widths_um.len() - 1 }];
    let mut end = |e: usize, s: &Stretch, at: [f64; 2]| -> Result<End, BeamShellError> {
        let root = flexure.ends[e].root;
        if flexure.ends[e].joins == Joins::Anchor {
            return Ok(End::Held);
        }
        let middle = [0, 1].map(|c| 0.5 * (root[0][c] + root[1][c]));
        let line = RootLine::find(mesh, root).ok_or(BeamShellError::Root { number: number + 1, at: middle })?;
        // Its tractions weigh the whole line: it is as wide as that, also where the beam tapers.
        let key = shelf.sections(&[(s.angle, width_um(e))])?.swap_remove(0);
        let shelved = shelf.sections.get(&key).ok_or(BeamShellError::NoBeams)?;
        let tractions = shelved.tractions(shelf.thickness_um);
        Ok(End::On { line, axis: Axis { origin: at, angle: s.angle }, tractions })
    };
    let (first, last) = (&stretches[0], &stretches[stretches.len() - 1]);
    Ok(Chain { flexure: number, elements, ends: [end(0, first, first.from)?, end(1, last, last.to)?] })
}

/// A finger as rigid mass on its root line.
fn rider(finger: &Finger, shelf: &mut Shelf, law: &Law, mesh: &Mesh) -> Result<Rider, BeamShellError> {
    let [a, b] = finger.root;
    let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
    // The root line has the finger on its left.
    let angle = (b[1] - a[1]).atan2(b[0] - a[0]) + 0.5 * PI;
    let key = shelf.sections(&[(angle, finger.width_um)])?.swap_remove(0);
    let shelved = shelf.sections.get(&key).ok_or(BeamShellError::NoBeams)?;
    let tractions = shelved.tractions(shelf.thickness_um);
    let line = RootLine::find(mesh, finger.root).ok_or(BeamShellError::Root { number: 0, at: middle })?;
    let thickness = shelf.thickness_um * 1e-6;
    let mass = law.density_kg_m3 * thickness * finger.area.area() * 1e-12;
    let (length, width) = (finger.length_um * 1e-6, finger.width_um * 1e-6);
    let (sin, cos) = angle.sin_cos();
    let arm = [0.5 * length * cos, 0.5 * length * sin];
    let radii = [length, width, thickness].map(|e| e / 12f64.sqrt());
    let axis = Axis { origin: middle.map(|x| x * 1e-6), angle };
    let particles = rigid(mass, axis.origin, arm, angle, radii);
    Ok(Rider { end: End::On { line, axis, tractions }, particles })
}
