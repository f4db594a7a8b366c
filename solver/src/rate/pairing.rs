//! Drive and sense among the modes: the best match to each intended motion, and what makes it doubtful.
//!
//! In: modes with the motions of their named masses, the intended patterns. Out: a match a pattern, with findings. A match is
//! given even where it is poor, so that the report can show it; it is never given without the finding.

use crate::mode::{Candidate, Mode, Pattern, best, candidates};

/// Criterion (MAC, 0 to 1) below which a match is called poor.
pub const POOR: f64 = 0.8;
/// Criterion (MAC, 0 to 1) below which a mode is no match at all.
pub const NONE: f64 = 0.3;
/// Share of a mode's kinetic energy in the masses meant to move, below which other parts are called the ones that move.
pub const CARRIED: f64 = 0.2;
/// Rank and criterion of the second candidate, as a share of the best one's, from which the two share the pattern.
pub const SHARED: f64 = 0.3;

/// What makes a match doubtful.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Doubt {
    /// The mode is only partly the intended motion: its criterion.
    Poor(f64),
    /// Another mode holds much of the motion too.
    Shared(Candidate),
    /// The masses meant to move hold only this share of its kinetic energy: other parts move more.
    Carried(f64),
    /// Drive and sense are the same mode.
    SameMode,
}

/// The mode taken for an intended motion.
#[derive(Clone, Debug, PartialEq)]
pub struct Match {
    /// Number of the mode, from 0.
    pub mode: usize,
    /// Its criterion, 0 to 1.
    pub mac: f64,
    /// Why to look at it twice; empty for a clear match.
    pub doubts: Vec<Doubt>,
}

/// Matches for one intended answer to rotation.
#[derive(Clone, Debug, PartialEq)]
pub struct Pairing {
    /// The drive mode; `None` where no mode is like the intended motion: then nothing that follows means anything.
    pub drive: Option<Match>,
    /// The sense mode; likewise.
    pub sense: Option<Match>,
}

/// The match for one pattern: that of [`best`]; where no mode is more like the pattern than unlike it, the highest ranked
/// with a criterion of at least [`NONE`].
pub fn matched(modes: &[Mode], pattern: &Pattern) -> Option<Match> {
    let all = candidates(modes, pattern);
    let taken = best(modes, pattern).map(|(mode, _)| mode);
    let chosen = *all.iter().find(|c| taken.map_or(c.mac >= NONE, |mode| c.mode == mode))?;
    let mut doubts = Vec::new();
    if chosen.mac < POOR {
        doubts.push(Doubt::Poor(chosen.mac));
    }
    if chosen.held < CARRIED {
        doubts.push(Doubt::Carried(chosen.held));
    }
    // A mode ranks high by how lively the masses are in it too: it shares the motion only where it is like it.
    let shares = |c: &&Candidate| c.rank > SHARED * chosen.rank && c.mac > SHARED * chosen.mac;
    let second = all.iter().find(|c| c.mode != chosen.mode && shares(c));
    doubts.extend(second.map(|c| Doubt::Shared(*c)));
    Some(Match { mode: chosen.mode, mac: chosen.mac, doubts })
}

/// Drive and sense for one intended answer.
pub fn pair(modes: &[Mode], drive: &Pattern, sense: &Pattern) -> Pairing {
    let (mut drive, mut sense) = (matched(modes, drive), matched(modes, sense));
    if let (Some(a), Some(b)) = (&mut drive, &mut sense)
        && a.mode == b.mode
    {
        a.doubts.push(Doubt::SameMode);
        b.doubts.push(Doubt::SameMode);
    }
    Pairing { drive, sense }
}

#[cfg(test)]
mod tests {
    use super::super::reading::tests::{antiphase, mass, mode};
    use super::*;

    #[test]
    fn a_clear_pair() {
        let modes = [
            mode(1.0, vec![mass("a", [1.0, 0.0, 0.0]), mass("b", [1.0, 0.0, 0.0])]),
            mode(2.0, vec![mass("a", [1.0, 0.0, 0.0]), mass("b", [-1.0, 0.0, 0.0])]),
            mode(3.0, vec![mass("a", [0.0, 0.1, 1.0]), mass("b", [0.0, 0.0, -1.0])]),
        ];
        let found = pair(&modes, &antiphase(0), &antiphase(2));
        assert_eq!(found.drive, Some(Match { mode: 1, mac: 1.0, doubts: vec![] }));
        let sense = found.sense.unwrap();
        assert!(sense.mode == 2 && sense.doubts.is_empty() && sense.mac > 0.99);
        assert_eq!(pair(&modes[..1], &antiphase(0), &antiphase(2)), Pairing { drive: None, sense: None });
    }

    #[test]
    fn doubtful_matches_are_given_with_their_doubts() {
        // One mass hardly moves: (1 + 0.3)²/(2 · 1.09); a second mode has what is missing.
        let modes = [
            mode(1.0, vec![mass("a", [1.0, 0.0, 0.0]), mass("b", [-0.3, 0.0, 0.0])]),
            mode(2.0, vec![mass("a", [0.3, 0.0, 0.0]), mass("b", [-1.0, 0.0, 0.4])]),
        ];
        let found = matched(&modes, &antiphase(0)).unwrap();
        let mac = 1.69 / 2.18;
        assert!(found.mode == 0 && (found.mac - mac).abs() < 1e-12);
        assert!(matches!(found.doubts[..], [Doubt::Poor(m), Doubt::Shared(c)] if m == found.mac && c.mode == 1));
        // Between none and poor: 1/(2 · 1.25).
        let weak = [mode(1.0, vec![mass("a", [1.0, 0.0, 0.5]), mass("b", [0.0; 3])])];
        let found = matched(&weak, &antiphase(0)).unwrap();
        assert!((found.mac - 0.4).abs() < 1e-12);
        assert_eq!(found.doubts, [Doubt::Poor(found.mac)]);
        // Livelier and hardly like it: no share of the motion, though it ranks half as high.
        let mut lively = mode(1.0, vec![mass("a", [0.25, 1.0, 0.0]), mass("b", [-0.25, 1.0, 0.0])]);
        lively.masses.iter_mut().for_each(|m| m.kinetic_share = 5.0);
        let found =
            matched(&[mode(2.0, vec![mass("a", [1.0, 0.0, 0.0]), mass("b", [-1.0, 0.0, 0.0])]), lively], &antiphase(0));
        assert!(found.unwrap().doubts.is_empty());
        // Other parts that carry the masses along just as intended: doubtful, and no match at all where these hardly take part.
        let carried = |share: f64| {
            let mut own = mode(1.0, vec![mass("a", [1.0, 0.0, 0.0]), mass("b", [-1.0, 0.0, 0.0])]);
            own.masses.iter_mut().for_each(|m| m.kinetic_share = 0.5 * share);
            matched(&[own], &antiphase(0))
        };
        assert_eq!(carried(0.3).unwrap().doubts, []);
        assert_eq!(carried(0.1).unwrap().doubts, [Doubt::Carried(0.1)]);
        assert_eq!(carried(0.005), None);
        // The same motion asked for twice.
        let both = pair(&weak, &antiphase(0), &antiphase(0));
        assert!(both.sense.unwrap().doubts.contains(&Doubt::SameMode));
    }

    /// A mode of other parts that carries the masses along exactly is no rival: it holds little energy there.
    #[test]
    fn carried_along_is_not_shared() {
        let mut carried = mode(2.0, vec![mass("a", [0.1, 0.0, 0.0]), mass("b", [-0.1, 0.0, 0.0])]);
        carried.masses.iter_mut().for_each(|m| m.kinetic_share = 0.02);
        let modes = [mode(1.0, vec![mass("a", [1.0, 0.0, 0.0]), mass("b", [-1.0, 0.0, 0.0])]), carried];
        assert!(matched(&modes, &antiphase(0)).unwrap().doubts.is_empty());
    }
}
