//! The main job: the modes of a structure. In: the structure, what is wanted in Hz. Out: described modes,
//! count-verified, and the systems they belong to.

mod error;
mod forecast;
mod pieces;
mod statics;
mod wanted;

pub use error::ModalError;
pub use forecast::{Forecast, forecast};
pub use statics::base_acceleration;
pub(crate) use wanted::NEXT_TO_END;
pub use wanted::{Asked, Wanted};

use crate::completed::CompletedSearch;
use crate::mode::{Mode, Sampled, describe, sample, sample_coarse};
use crate::spectrum::{
    Analysed, Held, Nearest, Options, Problem, Progress, Spectrum, SpectrumError, Timings, Wanted as WantedLambda,
    held_at_once, in_turns, most_modes, together,
};
use crate::system::{Beams, Fold, Mirrored, Motion, Structure, System, Unknowns};
use modalith_mesher::geometry::bounds;
use modalith_mesher::mesh::Mesh;
use pieces::{Part, orders, taken_apart};
use rayon::prelude::*;
use std::f64::consts::TAU;
use std::time::Instant;

/// A mode this near above an end, a share of λ, lies on it: a frequency that was printed and is asked for again.
const ON_END: f64 = 1e-12;
/// Modes whose distances to a place differ by less than this share of their frequency are one multiple, or lie equally far from it.
const SAME_PLACE: f64 = 5e-10;

/// Modes that memory is counted for where a band is asked for and nobody knows how many lie in it.
const GUESSED: usize = 40;

/// Wall-clock seconds by stage, added up over the uncoupled systems.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Seconds {
    /// Element matrices and assembly, s.
    pub assembly: f64,
    /// Ordering and symbolic analysis, s.
    pub ordering: f64,
    /// Numeric factorizations.
    pub factorization: f64,
    /// Iteration.
    pub eigen: f64,
    /// Energies and motions of the modes found, s.
    pub description: f64,
}

impl Seconds {
    fn add(&mut self, spectrum: &Timings) {
        self.ordering += spectrum.ordering;
        self.factorization += spectrum.factorization;
        self.eigen += spectrum.eigen;
    }
}

/// The modes of a structure.
#[derive(Debug)]
pub struct Modal {
    /// The structure whose they are.
    pub structure: Structure,
    /// Uncoupled motions (in-plane, out-of-plane), or one.
    pub motions: Vec<Motion>,
    /// Modes by rising frequency.
    pub modes: Vec<Mode>,
    /// For each mode the motion it belongs to.
    pub motion_of: Vec<usize>,
    /// For each mode what its image in each mirror is that it was sought with; empty where it was sought in the whole.
    pub mirrored: Vec<Vec<Mirrored>>,
    /// In which band none is missing, and how that was counted.
    pub search: CompletedSearch,
    /// Seconds by stage.
    pub seconds: Seconds,
    /// Bytes that systems and search were predicted to need.
    pub predicted_bytes: usize,
}

impl Modal {
    /// Unknowns of all systems together.
    pub fn degrees_of_freedom(&self) -> usize {
        self.motions.iter().map(|m| m.unknowns.len() + m.beams.unknowns()).sum()
    }

    /// Mode shapes at the points of a six-node triangulation.
    pub fn sample(&self) -> Sampled {
        sample(self.structure.mesh(), &self.motions, &self.with_motions())
    }

    /// Mode shapes at the corners and mid-sides of the mesh: the points at which all models can be compared.
    pub fn sample_coarse(&self) -> Sampled {
        sample_coarse(self.structure.mesh(), &self.motions, &self.with_motions())
    }

    /// The same motions with one shape a motion instead of modes, to be sampled as modes are: static displacements. `None`
    /// where there is no mode to take the place of.
    pub fn with_shapes(&self, shapes: Vec<Vec<f64>>) -> Option<Self> {
        let like = self.modes.first()?;
        Some(Self {
            structure: self.structure.clone(),
            motions: self.motions.clone(),
            motion_of: (0..shapes.len()).collect(),
            mirrored: vec![Vec::new(); shapes.len()],
            modes: shapes.into_iter().map(|shape| Mode { shape, ..like.clone() }).collect(),
            search: self.search.clone(),
            seconds: self.seconds,
            predicted_bytes: self.predicted_bytes,
        })
    }

    fn with_motions(&self) -> Vec<(usize, &Mode)> {
        self.motion_of.iter().copied().zip(&self.modes).collect()
    }
}

/// Finds modes. The layer's uncoupled motions are solved apart and side by side; the result does not depend on threads.
///
/// # Errors
/// See [`ModalError`].
///
/// ```
/// use modalith_mesher::mesh::Mesh;
/// use modalith_solver::{material::Law, modal::{Wanted, modes}, system::{Layer, Structure}};
/// // A cantilever strip 200 µm long, 10 µm wide, 2 µm thick, ν = 0: f₁ = 1.8751²/(2π L²) √(E t²/12ρ).
/// let mut strip = Mesh::rectangle(200.0, 10.0, 16, 1)?;
/// strip.hold(|middle| middle[0] == 0.0);
/// let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.0)?, 2.0);
/// let modal = modes(&Structure::anchored(strip, layer), Wanted::Lowest(2), &|_| {})?;
/// let beam = 1.875_104_f64.powi(2) / (std::f64::consts::TAU * 200e-6_f64.powi(2))
///     * (160e9 / 2330.0 * 2e-6_f64.powi(2) / 12.0).sqrt();
/// assert!((modal.modes[0].frequency_hz / beam - 1.0).abs() < 1e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn modes(
    structure: &Structure,
    asked: impl Into<Asked>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Modal, ModalError> {
    let Asked { wanted, room_bytes } = asked.into();
    let mut seconds = Seconds::default();
    let clock = Instant::now();
    let taken = Taken::of(structure)?;
    seconds.ordering = taken.ordering_s;
    let Taken { fold, motions, parts, problems, .. } = taken;
    seconds.assembly = clock.elapsed().as_secs_f64() - seconds.ordering;
    let options: Vec<Options> = parts
        .iter()
        .map(|p| Options { scale_hint: Some(scale(structure.mesh(), &motions[p.motion].0)), ..Options::default() })
        .collect();
    let asked = in_lambda(wanted);
    let (analysed, needed) = planned((problems, &options), (wanted, asked), room_bytes, progress)?;
    let spectra = spectra(&analysed, asked, &options, progress)?;
    drop(analysed);
    spectra.iter().for_each(|s| seconds.add(&s.timings));
    let mut picked = pick(&spectra, wanted);
    picked.sort_by(|a, b| spectra[a.0].lambda[a.1].total_cmp(&spectra[b.0].lambda[b.1]).then(a.cmp(b)));
    let clock = Instant::now();
    let shape = |&(s, i): &(usize, usize)| {
        let (spectrum, (motion, piece)) = (&spectra[s], &motions[parts[s].motion]);
        // Below the round-off floor a frequency means nothing: a rigid motion is zero.
        let lambda = spectrum.lambda[i];
        let lambda = if lambda.abs() <= spectrum.lambda_floor[i] { 0.0 } else { lambda };
        let shape = match (&fold, piece, &parts[s].parity) {
            (Some(fold), Some(piece), Some(own)) => own.unfold(fold, &motion.unknowns, piece, &spectrum.vectors[i]),
            _ => spectrum.vectors[i].clone(),
        };
        (lambda, spectrum.backward_error[i], shape)
    };
    let mut described = Vec::new();
    for (number, (motion, _)) in motions.iter().enumerate() {
        let own = picked.iter().filter(|p| parts[p.0].motion == number).map(shape).collect::<Vec<_>>();
        described.push(describe(structure, motion, &own)?.into_iter());
    }
    let modes = picked.iter().filter_map(|&(s, _)| described[parts[s].motion].next()).collect();
    seconds.description = clock.elapsed().as_secs_f64();
    let mirrored = |&(s, _): &(usize, usize)| match (&fold, &parts[s].parity) {
        (Some(fold), Some(own)) => own.mirrored(fold),
        _ => Vec::new(),
    };
    Ok(Modal {
        structure: structure.clone(),
        modes,
        mirrored: picked.iter().map(mirrored).collect(),
        motion_of: picked.iter().map(|p| parts[p.0].motion).collect(),
        search: CompletedSearch::of(&spectra, &picked, wanted),
        motions: motions.into_iter().map(|m| m.0).collect(),
        seconds,
        predicted_bytes: needed,
    })
}

/// Problems analysed, and the bytes that all of them take side by side.
///
/// # Errors
/// More modes than there are, and more bytes than there is room for.
fn planned(
    (problems, options): (Vec<Problem>, &[Options]),
    (wanted, asked): (Wanted, WantedLambda),
    room_bytes: Option<usize>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<(Vec<Analysed>, usize), ModalError> {
    let (count, unknowns) = (wanted.count().unwrap_or(0), problems.iter().map(Problem::unknowns).sum());
    let most = most_modes(unknowns);
    if count > most {
        return Err(SpectrumError::TooMany { asked: count, unknowns, most }.into());
    }
    let analysed = problems.into_par_iter().map(Analysed::new).collect::<Result<Vec<_>, SpectrumError>>()?;
    let held = |(a, o): (&Analysed, &Options)| a.held(asked, o, GUESSED, analysed.len());
    let needed = Held::bytes(&analysed.iter().zip(options).map(held).collect::<Vec<_>>());
    progress(Progress::Planned { bytes: needed });
    match room_bytes.filter(|room| needed > *room) {
        Some(room) => Err(ModalError::Memory { needed, room }),
        None => Ok((analysed, needed)),
    }
}

/// A structure taken apart into problems that do not couple: by motion, and where it is folded by parity.
struct Taken {
    fold: Option<Fold>,
    /// Every motion, and the unknowns of its piece where it is folded.
    motions: Vec<(Motion, Option<Unknowns>)>,
    /// Of which motion and parity each problem is.
    parts: Vec<Part>,
    problems: Vec<Problem>,
    /// Seconds that ordering took.
    ordering_s: f64,
}

impl Taken {
    /// Matrices are given up as soon as the solver has its own scaled half of them: they are the largest arrays of all.
    fn of(structure: &Structure) -> Result<Self, ModalError> {
        let uncoupled = structure.uncoupled();
        let Some(fold) = Fold::along(structure) else { return Self::whole(&uncoupled) };
        let whole = || uncoupled.par_iter().map(Motion::new).collect::<Vec<_>>();
        let (whole, found) = rayon::join(whole, || taken_apart(&fold, &uncoupled));
        let found = found?;
        let motions = whole.into_iter().zip(found.unknowns.into_iter().map(Some)).collect();
        let (parts, problems) = found.problems.into_iter().unzip();
        Ok(Self { fold: Some(fold), motions, parts, problems, ordering_s: found.ordering_s })
    }

    fn whole(uncoupled: &[Structure]) -> Result<Self, ModalError> {
        let (mut motions, mut whole) = (Vec::new(), Vec::new());
        for part in uncoupled {
            let system = System::assemble(part)?;
            let beams = Beams::new(part, &system.unknowns);
            let (groups, problem) = if beams.is_empty() {
                let groups = system.unknowns.groups().to_vec();
                let problem = Problem::symmetric(&system.k, &system.m, Some(&groups))?;
                (groups, problem)
            } else {
                let (k, m, groups) = beams.join(part.mesh(), &system);
                let problem = Problem::symmetric(&k, &m, Some(&groups))?;
                (groups, problem)
            };
            whole.push((groups, problem));
            motions.push((system.into_motion(beams), None));
        }
        let started = Instant::now();
        let orders = orders(whole.iter().map(|(groups, problem)| (groups.as_slice(), problem)))?;
        let ordering_s = started.elapsed().as_secs_f64();
        let problems = whole.into_iter().zip(&orders).map(|((_, problem), order)| problem.ordered_as(order)).collect();
        let parts = (0..motions.len()).map(|motion| Part { motion, parity: None }).collect();
        Ok(Self { fold: None, motions, parts, problems, ordering_s })
    }
}

/// The spectra of all parts, as far as the whole needs them.
pub(crate) fn spectra(
    parts: &[Analysed],
    asked: WantedLambda,
    options: &[Options],
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Vec<Spectrum>, SpectrumError> {
    let nearest = match asked {
        WantedLambda::Lowest { count } => Nearest { to: None, count },
        WantedLambda::Near { lambda, count } => Nearest { to: Some(lambda), count },
        WantedLambda::Band { .. } => {
            let each = parts.iter().zip(options).collect();
            return in_turns(each, held_at_once(parts), |(a, o): (&Analysed, &Options)| a.solve(asked, o, progress));
        }
    };
    together(parts, nearest, options, progress)
}

pub(crate) fn in_lambda(wanted: Wanted) -> WantedLambda {
    let lambda = |hz: f64| (TAU * hz).powi(2);
    match wanted {
        Wanted::Lowest(count) => WantedLambda::Lowest { count },
        Wanted::UpTo { most: Some(count), .. } => WantedLambda::Lowest { count },
        // What lies a little above the end is looked at too: without the mesh it might lie below.
        Wanted::UpTo { hz, most: None } => WantedLambda::Band { low: 0.0, high: lambda(hz * (1.0 + NEXT_TO_END)) },
        Wanted::Near { hz, count } => WantedLambda::Near { lambda: lambda(hz), count },
    }
}

/// Which modes of the parts belong to the whole: (system, number).
pub(crate) fn pick(spectra: &[Spectrum], wanted: Wanted) -> Vec<(usize, usize)> {
    let mut all: Vec<(usize, usize)> =
        spectra.iter().enumerate().flat_map(|(s, spectrum)| (0..spectrum.lambda.len()).map(move |i| (s, i))).collect();
    // Rounding spreads the rigid motions of a free body about zero, where they are one multiple.
    let lambda = |p: &(usize, usize)| {
        let (lambda, floor) = (spectra[p.0].lambda[p.1], spectra[p.0].lambda_floor[p.1]);
        if lambda.abs() <= floor { 0.0 } else { lambda }
    };
    let (count, centre_hz) = match wanted {
        Wanted::UpTo { hz, most: None } => {
            all.retain(|p| lambda(p) <= (TAU * hz).powi(2) * (1.0 + ON_END));
            return all;
        }
        Wanted::UpTo { hz, most: Some(count) } => {
            all.retain(|p| lambda(p) <= (TAU * hz).powi(2) * (1.0 + ON_END));
            (count, 0.0)
        }
        Wanted::Lowest(count) => (count, 0.0),
        Wanted::Near { hz, count } => (count, hz),
    };
    let hz = |p: &(usize, usize)| lambda(p).max(0.0).sqrt() / TAU;
    let distance = |p: &(usize, usize)| (hz(p) - centre_hz).abs();
    all.sort_by(|a, b| distance(a).total_cmp(&distance(b)).then(a.cmp(b)));
    // A multiple at the end is kept whole, and so are two of them that lie equally far to either side.
    let Some(last) = all.get(count.saturating_sub(1)) else { return all };
    let farthest = distance(last) + SAME_PLACE * hz(last);
    all.retain(|p| distance(p) <= farthest);
    all
}

/// λ of the order of a free layer's first elastic mode: (c t / L²)² for bending, (c / L)² for stretching.
fn scale(mesh: &Mesh, motion: &Motion) -> f64 {
    let [low, high] = bounds(&mesh.points).unwrap_or_default();
    let size = (high[0] - low[0]).hypot(high[1] - low[1]) * 1e-6;
    let speed = motion.layer.sound_speed_m_s();
    let bends = motion.unknowns.fields().iter().any(|f| !f.is_in_plane());
    let omega = speed / size * if bends { motion.layer.thickness_m / size } else { 1.0 };
    omega * omega
}
