//! What a rate report says, gathered: one answer for every intended axis of rotation, with every figure in SI or in the unit its
//! name says.

use crate::electrode::SMALL_DEFLECTION;
use crate::process::Range;
use crate::rate::answer::{Bandwidth, Linearity, WorkingPair};
use crate::rate::balance::{AnchorLoad, FalseRate};
use crate::rate::errors::InPhase;
use crate::rate::forbidden::Forbidden;
use crate::rate::guards::{Combination, Guard, Near, Neighbour};
use crate::rate::noise::Noise;
use crate::rate::pairing::Match;
use crate::rate::requirements::{Because, Verdict};
use crate::rate::shock::Travel;
use crate::rate::stress::Stressed;
use crate::rate::tally::Tally;

/// One intended axis of rotation.
pub struct AxisAnswer {
    /// The axis, 0 to 2 for x to z.
    pub axis: usize,
    /// The mode taken for the drive motion.
    pub drive: Option<Match>,
    /// The mode taken for the sense motion.
    pub sense: Option<Match>,
    /// What the pair does; none where one of the two is missing.
    pub work: Option<Work>,
}

/// A pair at work.
pub struct Work {
    /// Drive and sense mode, from 0.
    pub modes: (usize, usize),
    /// The pair.
    pub pair: WorkingPair,
    /// G_ds about x, y, z over that about the rate axis.
    pub cross_axis: [f64; 3],
    /// Mode split as made with its three sigma: of the modes that the stated imperfections make, else of those drawn; none
    /// where neither imperfections nor a spread are stated, or the model has no first-order terms.
    pub split: Option<Range>,
    /// Drive and sense frequency with their three sigma, likewise.
    pub frequencies: Option<[Range; 2]>,
    /// Peak motion of the drive, µm, and where.
    pub drive_amplitude: Option<(f64, String)>,
    /// Motion of the sense masses, pm per °/s (peak).
    pub scale_pm: Option<f64>,
    /// The same as capacitance of the sense electrodes, aF per °/s (peak).
    pub scale_af: Option<f64>,
    /// Voltage that holds the drive amplitude through the drive electrodes' bias, V peak.
    pub drive_volts: Option<f64>,
    /// Open-loop bandwidth.
    pub bandwidth: Option<Bandwidth>,
    /// Departure from a straight line at full scale (°/s).
    pub linearity: Option<(f64, Linearity)>,
    /// Noise as drawn.
    pub noise: Noise,
    /// Angle random walk over the split's three sigma alone, °/√h, low and high.
    pub walk_of_frequencies: Option<[f64; 2]>,
    /// Quadrature, rad/s.
    pub quadrature: Quadrature,
    /// Leak of the drive force, rad/s.
    pub drive_leak: Option<f64>,
    /// In-phase terms, rad/s, as made.
    pub in_phase: InPhase,
    /// Anchor loads of drive and sense.
    pub loads: [AnchorLoad; 2],
    /// False rate along x, y, z, read by electrodes alike, rad/s per g.
    pub vibration: Option<[FalseRate; 3]>,
    /// The same with the stated mismatch of the electrodes.
    pub vibration_mismatched: Option<[FalseRate; 3]>,
    /// Guards.
    pub guards: Vec<Guard>,
    /// Modes as the guards see them.
    pub neighbours: Vec<Neighbour>,
    /// Modes within guards, the least clear first.
    pub near: Vec<NearMode>,
    /// Nearest mode to any guard.
    pub nearest: Option<Near>,
    /// Sums and differences of modes that land on drive or sense.
    pub combinations: Vec<Combination>,
    /// Travel at stoppers.
    pub touches: Vec<Touch>,
    /// Largest travel of any named mass where no stopper is given: mass, m.
    pub free_travel: Option<(String, Travel)>,
    /// The same with every mode at the lower end of its range.
    pub free_travel_as_made: Option<(String, Travel)>,
    /// Share of the moving mass that the modes looked at hold along the shock.
    pub shaken_mass: Option<f64>,
    /// The most stressed flexure under the shock.
    pub stress: Option<Stressed>,
    /// The same with every mode at the lower end of its range.
    pub stress_as_made: Option<Stressed>,
    /// The pair as the stated imperfections make it, once for every sign of the lean that makes another device; empty where
    /// none is stated or it is not known.
    pub made: Vec<Made>,
    /// For each of these, and each parameter of the stated spread, what it becomes at three sigma to either side.
    pub spread_made: Vec<Vec<[Made; 2]>>,
    /// Where no imperfection is stated that moves a mode, what the pair drawn becomes at three sigma of each parameter, likewise.
    pub spread_drawn: Vec<[Made; 2]>,
    /// Why it is not known, or not in all its terms.
    pub made_missing: Vec<Because>,
    /// What the mirrors of the drawing forbid, so that it shows nothing but the floor of the numbers.
    pub forbidden: Forbidden,
    /// What biases could do.
    pub biases: Vec<BiasOffer>,
    /// Requirements weighed.
    pub verdicts: Vec<Verdict>,
}

impl Work {
    /// Coriolis coupling about x, y or z (0, 1, 2), signed against that about the rate axis; 1 is an ideal point mass.
    pub fn coupling_about(&self, axis: usize) -> f64 {
        self.cross_axis[axis] * self.pair.coupling()
    }

    /// Of all that is made the pair that couples least; none where it is not known.
    pub fn worst_made(&self) -> Option<&Made> {
        self.made.iter().min_by(|a, b| a.work.pair.coupling().total_cmp(&b.work.pair.coupling()))
    }

    /// Largest travel at a stopper as made, m, of all that is made; none where that is not known or nothing is stated of it.
    pub fn travel_as_made_m(&self, stopper: usize) -> Option<f64> {
        let worst = |w: &Self| w.touches.get(stopper).map(|t| t.worst_m);
        match (&self.frequencies, self.made.as_slice()) {
            (None, _) => None,
            (Some(_), []) => worst(self),
            (Some(_), made) => made.iter().filter_map(|m| worst(&m.work)).reduce(f64::max),
        }
    }

    /// All that is made; nothing where a stated imperfection is not in it.
    pub fn whole_made(&self) -> &[Made] {
        if self.made_missing.is_empty() { &self.made } else { &[] }
    }

    /// The largest force that the drive as made leaves at the anchors.
    pub fn drive_load_as_made(&self) -> Option<&AnchorLoad> {
        let size = |l: &AnchorLoad| l.force_ratio().unwrap_or(0.0);
        self.whole_made().iter().map(|m| &m.drive_load).max_by(|a, b| size(a).total_cmp(&size(b)))
    }

    /// False rate as made, rad/s per g of base acceleration along x, y, z: of all that is made the largest, with the stated mismatch of
    /// the electrodes. `None` where nothing is made, or no pair answers.
    pub fn vibration_as_made(&self) -> Option<&[FalseRate; 3]> {
        let size = |rates: &[FalseRate; 3]| rates.iter().map(|r| r.worst.unwrap_or(f64::INFINITY)).fold(0.0, f64::max);
        let all = self.whole_made().iter().filter_map(|m| m.work.vibration_mismatched.as_ref());
        let worst = all.max_by(|a, b| size(a).total_cmp(&size(b)));
        worst.or(self.vibration_mismatched.as_ref().filter(|_| self.made.is_empty() && self.made_missing.is_empty()))
    }
}

/// A pair as made: modes of their own, numbered from 0 by rising frequency.
pub struct Made {
    /// The modes taken for drive and sense, by the intent.
    pub matches: [Match; 2],
    /// For every mode made the modes drawn that it holds, the largest share first.
    pub of_drawn: Vec<Vec<(usize, f64)>>,
    /// Frequencies, Hz.
    pub frequency_hz: Vec<f64>,
    /// What the drive leaves at the anchors.
    pub drive_load: AnchorLoad,
    /// Two modes that the stated spread could turn into each other.
    pub turned_by_spread: Option<[usize; 2]>,
    /// What the pair does.
    pub work: Box<Work>,
}

/// Quadrature by source, as a rate, rad/s, not negative.
#[derive(Clone, Copy, Debug, Default)]
pub struct Quadrature {
    /// What the modes of the drawing hold, °/s.
    pub drawn: f64,
    /// Through walls that lean, °/s; none where that is not stated or not counted on the whole length.
    pub lean: Option<f64>,
    /// Through flexures of different width left and right, °/s.
    pub width: Option<f64>,
    /// Through both together, with walls that lean to the worse side, °/s.
    pub together: Option<f64>,
    /// The most that modes beyond the list may add to what is made, °/s; none where no bound is known.
    pub left_out: Option<f64>,
    /// Share of the flexures' length that the lean counts, where that is not all and walls lean.
    pub lean_partly: Option<f64>,
}

impl Quadrature {
    /// What is made, °/s, where both sources are known.
    pub fn as_made(&self) -> Option<f64> {
        self.together.filter(|_| self.lean.is_some() && self.width.is_some())
    }
}

/// A mode within a guard and what would move it.
pub struct NearMode {
    /// The mode and its guard.
    pub near: Near,
    /// The flexures that hold most of its energy, from 0, with their shares.
    pub flexures: Vec<(usize, f64)>,
    /// What widening these by one µm together does; none where the model has no such terms.
    pub remedy: Option<Remedy>,
}

/// Least that a flexure is said to be made wider by, µm.
const LEAST_WIDER_UM: f64 = 1e-3;

/// Effect of widening some flexures, Hz per µm.
#[derive(Clone, Copy, Debug)]
pub struct Remedy {
    /// On the near mode.
    pub mode_hz_per_um: f64,
    /// On the guard.
    pub guard_hz_per_um: f64,
    /// On the mode split.
    pub split_hz_per_um: f64,
    /// Up to how much wider, µm, these hold: a small share of the width, and modes do not mix.
    pub most_um: f64,
}

impl NearMode {
    /// Share of its strain energy in the flexures that hold most of it.
    pub fn held(&self) -> f64 {
        self.flexures.iter().map(|(_, share)| share).sum()
    }
}

impl Remedy {
    /// How much wider, µm, moves the mode by the half width of the guard, Hz, or the most that these terms are good for, rounded down to one
    /// digit; and what that does to mode, guard and split, Hz. None where that is less than a nanometre.
    pub fn widening(&self, half_width_hz: f64) -> Option<(f64, [f64; 3])> {
        let apart = (self.mode_hz_per_um - self.guard_hz_per_um).abs().max(1e-9);
        let wanted = (half_width_hz / apart).min(self.most_um);
        let digit = 10f64.powf(wanted.log10().floor());
        let um = (wanted / digit * (1.0 + 1e-9)).floor() * digit;
        let moved = [self.mode_hz_per_um, self.guard_hz_per_um, self.split_hz_per_um].map(|per_um| per_um * um);
        (um >= LEAST_WIDER_UM).then_some((um, moved))
    }
}

/// What the bias of an electrode could do.
#[derive(Clone, Debug, PartialEq)]
pub struct BiasOffer {
    /// The electrode.
    pub name: String,
    /// Its bias, V.
    pub present_v: f64,
    /// The wanted split, Hz, and the bias that brings it about, V.
    pub for_split: Option<(f64, Offered)>,
    /// The bias that cancels the quadrature as made, on this electrode or on its mirror image.
    pub cancels_quadrature: Option<Offered>,
}

/// A bias reckoned with the gap as it is now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offered {
    /// The bias, V.
    pub volts: f64,
    /// By what share of itself the capacitance changes while the part follows that bias; none where that is not known.
    pub deflection: Option<f64>,
}

impl Offered {
    /// The bias, V, where the gap hardly changes on the way to it.
    pub fn holds(&self) -> Option<f64> {
        self.deflection.filter(|share| *share <= SMALL_DEFLECTION).map(|_| self.volts)
    }
}

/// Travel towards a stopper.
pub struct Touch {
    /// Where, in words.
    pub place: String,
    /// Direction, "+z".
    pub direction: String,
    /// Gap, m.
    pub gap_m: f64,
    /// What the drive motion takes of it, m.
    pub driven_m: f64,
    /// What the static deflection under bias takes of it, m; 0 where that leans away: the bias may be off.
    pub rest_m: f64,
    /// Travel as drawn.
    pub travel: Travel,
    /// The largest travel as made, m: every mode at the lower end of its range.
    pub worst_m: f64,
    /// Peak of the pulse at first touch, g.
    pub first_touch_g: f64,
    /// The same as made, g.
    pub worst_first_touch_g: f64,
}

impl Touch {
    /// What drive motion and static deflection take of the gap, m, each where it is more than a thousandth.
    pub fn taken_m(&self) -> [Option<f64>; 2] {
        [self.driven_m, self.rest_m].map(|m| Some(m).filter(|m| *m > 1e-3 * self.gap_m))
    }

    /// Whether the shock, as drawn, brings the part there.
    pub fn touches(&self) -> bool {
        self.travel.peak_m > self.open_m()
    }

    /// What drive motion and static deflection leave of the gap, m.
    pub fn open_m(&self) -> f64 {
        self.gap_m - self.driven_m - self.rest_m
    }
}

/// By how much another model of the same layout differs.
#[derive(Clone, Debug, PartialEq)]
pub struct ModelDifference {
    /// The other model; none where the modes are those of the full law, with nothing to compare.
    pub against: Option<&'static str>,
    /// Its frequency less the one reported, Hz, for every mode; none where it has no such mode.
    pub hz: Vec<Option<f64>>,
    /// Its modes within the list's band that are none of those listed, Hz.
    pub others_hz: Vec<f64>,
}

impl ModelDifference {
    /// For a pair of modes by number the differences of drive, sense and mode split, Hz; `None` where one has no counterpart.
    pub fn of_pair(&self, (drive, sense): (usize, usize)) -> Option<[f64; 3]> {
        let [drive, sense] = [drive, sense].map(|i| self.hz.get(i).copied().flatten());
        drive.zip(sense).map(|(drive, sense)| [drive, sense, sense - drive])
    }

    /// The lowest of its modes that are none of those listed, Hz.
    pub fn lowest_other_hz(&self) -> Option<f64> {
        self.others_hz.iter().copied().reduce(f64::min)
    }
}

/// The report.
pub struct RateReport {
    /// The answers, by intended axis.
    pub axes: Vec<AxisAnswer>,
    /// What a second model says of the modes, or why the error of this one is not known.
    pub compared: Result<ModelDifference, Because>,
    /// Inputs that are missing and what they would bring.
    pub missing: Vec<String>,
}

impl RateReport {
    /// What the requirements, of which `stated` are asked for every axis, came to over all axes: without a pair they have no verdict.
    pub fn tally(&self, stated: usize) -> Tally {
        let found = Tally::of(self.axes.iter().filter_map(|a| a.work.as_ref()).flat_map(|w| &w.verdicts));
        let all = stated * self.axes.len().max(1);
        Tally { all, open: found.open + all.saturating_sub(found.all), ..found }
    }
}
