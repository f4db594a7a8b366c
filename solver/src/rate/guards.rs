//! Near modes: which modes lie within a guard of the frequencies at work, what can excite them, and whether the readout would
//! see them.
//!
//! In: modes as the report knows them, guards, spreads of frequency by process parameter. Out: one entry a mode and guard,
//! the nearest first, and the combinations of two modes that land on drive or sense.
//!
//! A guard moves with the frequencies it is made of, so what counts is the spread of the distance, not of the mode alone.
//! Internal resonance: a mode at two or three times the drive frequency takes energy from it through quadratic or cubic
//! stiffness (Nayfeh & Mook, *Nonlinear Oscillations*, 1979, ch. 6), unless a mirror forbids it: an energy q_d² q_m or q_d³ q_m must be even in z
//! where layer and supports are.

/// Least half width of a guard that states none, Hz.
pub const LEAST_HALF_WIDTH_HZ: f64 = 100.0;

/// What a guard stands for.
#[derive(Clone, Debug, PartialEq)]
pub enum GuardKind {
    /// The drive frequency.
    Drive,
    /// The sense frequency.
    Sense,
    /// The mode split, |f_s − f_d|.
    Split,
    /// Twice the drive frequency.
    TwiceDrive,
    /// Three times the drive frequency.
    ThriceDrive,
    /// Drive and sense frequency together: a mode there mixes the one into the other.
    DriveAndSense,
    /// The user's own, by name.
    Own(String),
}

/// A frequency to keep clear of.
#[derive(Clone, Debug, PartialEq)]
pub struct Guard {
    /// What it stands for.
    pub kind: GuardKind,
    /// Its frequency as drawn, Hz.
    pub frequency_hz: f64,
    /// Half its width, Hz; `None`: the larger of [`LEAST_HALF_WIDTH_HZ`] and the spread of the distance.
    pub half_width_hz: Option<f64>,
    /// How it follows the drive and the sense frequency: d(guard)/d(f_d), d(guard)/d(f_s).
    pub follows: [f64; 2],
}

/// The guards of a pair, then the user's own (name, Hz, half width in Hz).
pub fn guards(drive_hz: f64, sense_hz: f64, own: &[(String, f64, Option<f64>)]) -> Vec<Guard> {
    let apart = if sense_hz < drive_hz { [1.0, -1.0] } else { [-1.0, 1.0] };
    let made = [
        (GuardKind::Drive, [1.0, 0.0]),
        (GuardKind::Sense, [0.0, 1.0]),
        (GuardKind::Split, apart),
        (GuardKind::TwiceDrive, [2.0, 0.0]),
        (GuardKind::ThriceDrive, [3.0, 0.0]),
        (GuardKind::DriveAndSense, [1.0, 1.0]),
    ];
    let of_pair = made.into_iter().map(|(kind, follows)| Guard {
        kind,
        frequency_hz: follows[0] * drive_hz + follows[1] * sense_hz,
        half_width_hz: None,
        follows,
    });
    let own = own.iter().map(|(name, frequency_hz, half_width_hz)| Guard {
        kind: GuardKind::Own(name.clone()),
        frequency_hz: *frequency_hz,
        half_width_hz: *half_width_hz,
        follows: [0.0; 2],
    });
    of_pair.chain(own).collect()
}

/// A mode as guards see it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Neighbour {
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Change of frequency at three sigma of each process parameter, Hz, signed, in one order for all modes; empty where no
    /// spread is stated.
    pub spread_hz: Vec<f64>,
    /// Effective mass along x, y, z as a share of the moving mass.
    pub base: [f64; 3],
    /// Work of the drive force on the mode as a share of its work on the drive mode, at equal modal amplitudes; signed.
    pub drive_force: f64,
    /// |G|/2 with the drive mode about x, y, z, 0 to 1.
    pub coriolis: [f64; 3],
    /// Reading as a share of the sense mode's, at equal modal amplitudes; signed.
    pub reading: f64,
    /// Whether the layer's mirror at its middle forbids quadratic and cubic stiffness between the drive mode and this one.
    pub forbidden: [bool; 2],
}

/// What can excite a mode within a guard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Excitation {
    /// Base acceleration along an axis (0 to 2): share of the moving mass.
    Base(usize, f64),
    /// The drive force: share of its work.
    DriveForce(f64),
    /// Coriolis force from the drive under rotation about an axis (0 to 2): |G|/2.
    Coriolis(usize, f64),
    /// The drive motion through stiffness of this order: 2 for a mode at twice its frequency, 3 at three times.
    Internal(u8),
}

/// Shares below this excite nothing worth a word: they are the numerical floor of a symmetric layout, or little more.
pub const WORTH: f64 = 1e-3;

/// A mode within a guard.
#[derive(Clone, Debug, PartialEq)]
pub struct Near {
    /// Number of the mode, from 0.
    pub mode: usize,
    /// Number of the guard.
    pub guard: usize,
    /// Mode less guard, Hz, as drawn.
    pub distance_hz: f64,
    /// Three sigma of the distance, Hz; 0 where no spread is stated.
    pub spread_hz: f64,
    /// Half width of the guard, Hz.
    pub half_width_hz: f64,
    /// What can excite the mode, the strongest first, internal resonance before the rest.
    pub excitations: Vec<Excitation>,
    /// |reading| as a share of the sense mode's.
    pub visible: f64,
}

/// Distance of a mode from a guard and its three sigma, Hz: parameters are independent, and each moves mode and guard
/// together.
fn distance(modes: &[Neighbour], pair: (usize, usize), mode: usize, guard: &Guard) -> (f64, f64) {
    let own = &modes[mode];
    let part = |k: usize| {
        let spread_of = |i: usize| modes[i].spread_hz.get(k).copied().unwrap_or(0.0);
        own.spread_hz[k] - guard.follows[0] * spread_of(pair.0) - guard.follows[1] * spread_of(pair.1)
    };
    let variance: f64 = (0..own.spread_hz.len()).map(|k| part(k).powi(2)).sum();
    (own.frequency_hz - guard.frequency_hz, variance.sqrt())
}

fn excitations(mode: &Neighbour, guard: &Guard) -> Vec<Excitation> {
    let base = (0..3).map(|k| (mode.base[k], Excitation::Base(k, mode.base[k])));
    let force = [(mode.drive_force.abs(), Excitation::DriveForce(mode.drive_force.abs()))];
    let turn = (0..3).map(|k| (mode.coriolis[k], Excitation::Coriolis(k, mode.coriolis[k])));
    let mut all: Vec<(f64, Excitation)> = base.chain(force).chain(turn).filter(|(size, _)| *size >= WORTH).collect();
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    let internal: Option<u8> = match guard.kind {
        GuardKind::TwiceDrive => Some(2),
        GuardKind::ThriceDrive => Some(3),
        _ => None,
    };
    let internal = internal.filter(|order| !mode.forbidden[usize::from(order - 2)]).map(Excitation::Internal);
    internal.into_iter().chain(all.into_iter().map(|(_, e)| e)).collect()
}

/// Every mode at every guard, the least clear first: by |distance| over the half width. Drive and sense are left out at each
/// other's frequencies, which the mode split judges; `pair` is (drive, sense).
pub fn near_modes(modes: &[Neighbour], pair: (usize, usize), guards: &[Guard]) -> Vec<Near> {
    let mut found = Vec::new();
    for (g, guard) in guards.iter().enumerate() {
        for (m, mode) in modes.iter().enumerate() {
            if (m == pair.0 || m == pair.1) && matches!(guard.kind, GuardKind::Drive | GuardKind::Sense) {
                continue;
            }
            let (distance_hz, spread_hz) = distance(modes, pair, m, guard);
            found.push(Near {
                mode: m,
                guard: g,
                distance_hz,
                spread_hz,
                half_width_hz: guard.half_width_hz.unwrap_or(spread_hz.max(LEAST_HALF_WIDTH_HZ)),
                excitations: excitations(mode, guard),
                visible: mode.reading.abs(),
            });
        }
    }
    found.sort_by(|a, b| (a.distance_hz.abs() / a.half_width_hz).total_cmp(&(b.distance_hz.abs() / b.half_width_hz)));
    found
}

/// Half width of a guard, Hz: as stated, else what the mode nearest to it has.
pub fn half_width_hz(modes: &[Neighbour], pair: (usize, usize), guard: &Guard) -> f64 {
    nearest(modes, pair, std::slice::from_ref(guard))
        .map_or(guard.half_width_hz.unwrap_or(LEAST_HALF_WIDTH_HZ), |n| n.half_width_hz)
}

/// The modes within their guards, the least clear first.
pub fn near(modes: &[Neighbour], pair: (usize, usize), guards: &[Guard]) -> Vec<Near> {
    let mut found = near_modes(modes, pair, guards);
    found.retain(|n| n.distance_hz.abs() <= n.half_width_hz);
    found
}

/// The mode nearest to any guard in Hz, within it or not; the figure for a requirement on distance.
pub fn nearest(modes: &[Neighbour], pair: (usize, usize), guards: &[Guard]) -> Option<Near> {
    near_modes(modes, pair, guards).into_iter().min_by(|a, b| a.distance_hz.abs().total_cmp(&b.distance_hz.abs()))
}

/// The least distance of any mode from any guard as made, Hz, lowest and highest: each mode within three sigma of its own distance.
pub fn clearance(modes: &[Neighbour], pair: (usize, usize), guards: &[Guard]) -> Option<[f64; 2]> {
    let all = near_modes(modes, pair, guards);
    let ends = all.iter().map(|n| {
        let distance = n.distance_hz.abs();
        [(distance - n.spread_hz).max(0.0), distance + n.spread_hz]
    });
    ends.reduce(|a, b| [a[0].min(b[0]), a[1].min(b[1])])
}

/// Two modes whose frequencies together, or apart, make the drive or the sense frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combination {
    /// The two modes, from 0; the same twice for half the frequency. Of a difference the higher first.
    pub modes: [usize; 2],
    /// Whether it is their difference; else their sum.
    pub difference: bool,
    /// The mode they meet: drive or sense, from 0.
    pub meets: usize,
    /// Sum or difference less that mode's frequency, Hz.
    pub distance_hz: f64,
    /// The larger of [`LEAST_HALF_WIDTH_HZ`] and three sigma of the distance, Hz.
    pub half_width_hz: f64,
}

/// Sums and differences of modes that land on drive or sense within their width, the nearest first. Modes of the pair are left
/// out as members: with them it is a guard of [`guards`].
pub fn combinations(modes: &[Neighbour], pair: (usize, usize)) -> Vec<Combination> {
    let mut found = Vec::new();
    let others: Vec<usize> = (0..modes.len()).filter(|&i| i != pair.0 && i != pair.1).collect();
    for (n, &i) in others.iter().enumerate() {
        for &j in &others[n..] {
            for (difference, sign) in [(false, 1.0), (true, -1.0)] {
                if difference && i == j {
                    continue;
                }
                let [high, low] = if modes[j].frequency_hz > modes[i].frequency_hz { [j, i] } else { [i, j] };
                for meets in [pair.0, pair.1] {
                    let values_of = |value: &dyn Fn(&Neighbour) -> f64| {
                        value(&modes[high]) + sign * value(&modes[low]) - value(&modes[meets])
                    };
                    let distance_hz = values_of(&|m| m.frequency_hz);
                    let parameters = modes[meets].spread_hz.len();
                    let part = |k: usize| values_of(&|m| m.spread_hz.get(k).copied().unwrap_or(0.0)).powi(2);
                    let spread = (0..parameters).map(part).sum::<f64>().sqrt();
                    let half_width_hz = spread.max(LEAST_HALF_WIDTH_HZ);
                    if distance_hz.abs() <= half_width_hz {
                        found.push(Combination { modes: [high, low], difference, meets, distance_hz, half_width_hz });
                    }
                }
            }
        }
    }
    found.sort_by(|a, b| a.distance_hz.abs().total_cmp(&b.distance_hz.abs()));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mode(frequency_hz: f64, spread_hz: &[f64]) -> Neighbour {
        Neighbour { frequency_hz, spread_hz: spread_hz.to_vec(), ..Neighbour::default() }
    }

    #[test]
    fn a_mode_near_twice_the_drive() {
        let mut modes = vec![mode(9e3, &[]), mode(14_812.0, &[]), mode(15_634.0, &[]), mode(29_655.0, &[])];
        modes[3].base = [0.0, 1e-9, 0.2];
        modes[3].coriolis = [0.0, 0.4, 0.0];
        modes[3].reading = -0.02;
        let all = guards(14_812.0, 15_634.0, &[("pump".into(), 9050.0, Some(40.0))]);
        let found = near(&modes, (1, 2), &all);
        assert_eq!(found.len(), 1);
        let n = &found[0];
        assert_eq!((n.mode, &all[n.guard].kind, n.half_width_hz), (3, &GuardKind::TwiceDrive, 100.0));
        assert!((n.distance_hz - 31.0).abs() < 1e-9 && n.visible == 0.02);
        let expected = [Excitation::Internal(2), Excitation::Coriolis(1, 0.4), Excitation::Base(2, 0.2)];
        assert_eq!(n.excitations, expected);
        // The user's own guard of 40 Hz is kept by 50 Hz.
        let own = near_modes(&modes, (1, 2), &all[6..]);
        assert!((own[0].distance_hz + 50.0).abs() < 1e-9 && own[0].mode == 0);
        assert_eq!(nearest(&modes, (1, 2), &all).map(|n| (n.mode, n.guard)), Some((3, 3)));
    }

    /// A bias that moves drive and mode in step leaves the distance from 2 f_d alone: three sigma of 20 − 2 · 10 is 0; a layer
    /// that moves only the mode widens the guard.
    #[test]
    fn widths_follow_the_distance() {
        let all = guards(1e4, 1.2e4, &[]);
        let width = |spread: &[f64]| {
            let modes = [mode(1e4, &[300.0, 0.0]), mode(1.2e4, &[0.0, 0.0]), mode(2e4, spread)];
            near(&modes, (0, 1), &all).first().map(|n| (n.half_width_hz, n.spread_hz))
        };
        assert_eq!(width(&[600.0, 0.0]), Some((100.0, 0.0)));
        assert_eq!(width(&[600.0, 250.0]), Some((250.0, 250.0)));
        let (half, _) = width(&[0.0, 800.0]).unwrap();
        assert!((half - 1000.0).abs() < 1e-9);
        // A guard that no mode lies in is as wide as for the nearest one, the user's own as wide as stated.
        let modes = [mode(1e4, &[300.0]), mode(1.2e4, &[0.0]), mode(2.5e4, &[700.0])];
        assert_eq!(half_width_hz(&modes, (0, 1), &all[3]), 100.0);
        assert_eq!(near(&modes, (0, 1), &all[3..4]), []);
        let own = guards(1e4, 1.2e4, &[("clock".into(), 2.6e4, None), ("pump".into(), 2.6e4, Some(40.0))]);
        assert_eq!([6, 7].map(|g| half_width_hz(&modes, (0, 1), &own[g])), [700.0, 40.0]);
    }

    /// A mode farther away that spreads more comes nearer than the nearest one.
    #[test]
    fn the_least_clearance_is_of_all_modes() {
        let all = guards(1e4, 1.2e4, &[("clock".into(), 5e4, None)]);
        let modes = [mode(1e4, &[0.0]), mode(1.2e4, &[0.0]), mode(4.9e4, &[100.0]), mode(5.3e4, &[2900.0])];
        assert_eq!(nearest(&modes, (0, 1), &all[6..]).map(|n| n.mode), Some(2));
        assert_eq!(clearance(&modes, (0, 1), &all[6..]), Some([100.0, 1100.0]));
    }

    /// The split of a sense mode below the drive is as large as above, and moves the other way.
    #[test]
    fn split_is_a_distance() {
        let below = guards(1.2e4, 1e4, &[]);
        assert_eq!((below[2].frequency_hz, below[2].follows), (2e3, [1.0, -1.0]));
        assert_eq!(guards(1e4, 1.2e4, &[])[2].follows, [-1.0, 1.0]);
    }

    #[test]
    fn sums_and_differences() {
        // 3 + 7 kHz and 17.05 − 7 kHz meet the drive at 10 kHz, 6.02 kHz twice the sense at 12.
        let modes = [3e3, 6.02e3, 7e3, 1e4, 1.2e4, 1.705e4].map(|f| mode(f, &[0.0])).to_vec();
        let found = combinations(&modes, (3, 4));
        let seen: Vec<_> = found.iter().map(|c| (c.modes, c.difference, c.meets, c.distance_hz.round())).collect();
        assert_eq!(seen, [([2, 0], false, 3, 0.0), ([1, 1], false, 4, 40.0), ([5, 2], true, 3, 50.0)]);
    }
}
