//! Nominal stress of flexures under a half-sine shock.
//!
//! In: the pulse, sampled modes with their participation along the shock, flexures and their springs. Out: for every flexure
//! the largest stress of an edge fibre and where. Each mode moves the ends of a flexure; the flexure answers as the beam
//! between them ([`Spring::fibre_stresses_pa`]); the modes' stresses add up over time as their travels do ([`Answers`]).
//!
//! Nominal: corners and roots concentrate more, by their radius, which a drawing does not have. Undamped, up to first contact,
//! modes beyond the list left out. Brittle parts break by their worst flaw: strength is a distribution of the process owner's.

use super::shock::{Answers, HalfSine};
use crate::lumped::{Spring, Vector12};
use crate::mode::Sampled;
use modalith_mesher::geometry::Point;
use modalith_mesher::outline::{Flexure, Joins};
use nalgebra::DMatrix;
use rayon::prelude::*;

/// Stresses that differ by less than this share are alike up to rounding, as those of flexures that are images of each other.
pub const ALIKE: f64 = 1e-9;

/// The most stressed place of a flexure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stressed {
    /// Number of the flexure, from 0.
    pub flexure: usize,
    /// Where on its centre-line, µm.
    pub at_um: Point,
    /// Largest stress of a fibre there during and after the pulse, Pa, either sign.
    pub peak_pa: f64,
}

/// A mode as the shock drives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Driven {
    /// Its number among the sampled modes, or among what is made of them, from 0.
    pub mode: usize,
    /// Angular frequency, rad/s, over zero.
    pub omega: f64,
    /// Participation along the shock, kg^½.
    pub participation: f64,
}

/// The sampled points at the corners of a flexure's root lines; none for an end at an anchor, which is at rest.
fn corners(flexure: &Flexure, sampled: &Sampled) -> [Option<[usize; 2]>; 2] {
    let nearest = |p: &Point| -> Option<usize> {
        let off = |q: &Point| (q[0] - p[0]).powi(2) + (q[1] - p[1]).powi(2);
        let points = &sampled.points;
        (0..points.len()).min_by(|&a, &b| off(&points[a]).total_cmp(&off(&points[b])))
    };
    [0, 1].map(|end| {
        let at = &flexure.ends[end];
        let moves = at.joins != Joins::Anchor;
        moves.then(|| Some([nearest(&at.root[0])?, nearest(&at.root[1])?])).flatten()
    })
}

/// Motions of both ends of a flexure in a sampled mode, per modal amplitude: along x, y, z in m, about x, y, z in rad.
///
/// Limits: the end section is taken as plane, and as turned about z by what its two corners say.
fn end_motions(corners: &[Option<[usize; 2]>; 2], sampled: &Sampled, mode: usize) -> Vector12 {
    let mut both = Vector12::zeros();
    for (end, at) in corners.iter().enumerate() {
        let Some([a, b]) = *at else { continue };
        let (u, v) = (sampled.modes[mode][a], sampled.modes[mode][b]);
        let (g, h) = (sampled.tilts[mode][a], sampled.tilts[mode][b]);
        let r = [0, 1].map(|k| (sampled.points[b][k] - sampled.points[a][k]) * 1e-6);
        let about_z = (r[0] * (v[1] - u[1]) - r[1] * (v[0] - u[0])) / (r[0] * r[0] + r[1] * r[1]);
        let own = [
            0.5 * (u[0] + v[0]),
            0.5 * (u[1] + v[1]),
            0.5 * (u[2] + v[2]),
            -0.5 * (g[1] + h[1]),
            0.5 * (g[0] + h[0]),
            about_z,
        ];
        both.fixed_rows_mut::<6>(6 * end).copy_from_slice(&own);
    }
    both
}

/// Stresses of the edge fibres of all flexures in every sampled mode, per modal amplitude.
#[derive(Clone, Debug)]
pub struct FibreStresses {
    flexures: Vec<Fibres>,
}

/// Those of one flexure.
#[derive(Clone, Debug)]
struct Fibres {
    /// Where its stations are, m.
    stations_m: Vec<Point>,
    /// By sampled mode and station those of four fibres, Pa.
    by_mode: Vec<Vec<[f64; 4]>>,
}

impl FibreStresses {
    /// Of modes sampled on a layout (m per root of modal mass); `springs` in the order of `flexures`.
    pub fn new(sampled: &Sampled, flexures: &[Flexure], springs: &[Spring]) -> Self {
        let fibres_of = |(flexure, spring): (&Flexure, &Spring)| {
            let corners = corners(flexure, sampled);
            let stresses = |i: usize| spring.fibre_stresses_pa(&end_motions(&corners, sampled, i));
            Fibres { stations_m: spring.stations_m(), by_mode: (0..sampled.modes.len()).map(stresses).collect() }
        };
        Self { flexures: flexures.par_iter().zip(springs).map(fibres_of).collect() }
    }

    /// The most stressed place of every flexure under a pulse. The modes are those sampled, or columns of `shares` of them.
    pub fn under(&self, pulse: &HalfSine, modes: &[Driven], shares: Option<&DMatrix<f64>>) -> Vec<Stressed> {
        let omegas: Vec<f64> = modes.iter().map(|m| m.omega).collect();
        let answers = Answers::new(pulse, &omegas);
        let stresses_of = |(number, fibres): (usize, &Fibres)| {
            let stress = |mode: usize, station: usize, fibre: usize| -> f64 {
                let own = |i: usize| fibres.by_mode[i][station][fibre];
                shares
                    .map_or_else(|| own(mode), |all| all.column(mode).iter().enumerate().map(|(i, y)| y * own(i)).sum())
            };
            let mut most = Stressed { flexure: number, at_um: [0.0; 2], peak_pa: 0.0 };
            for (station, at) in fibres.stations_m.iter().enumerate() {
                for fibre in 0..4 {
                    let moved = modes.iter().map(|m| [m.participation, stress(m.mode, station, fibre)]);
                    let peak_pa = answers.travel(moved, None).peak_m;
                    // Of places that are alike up to rounding the first.
                    if peak_pa > most.peak_pa * (1.0 + ALIKE) {
                        most = Stressed { peak_pa, at_um: at.map(|x| x * 1e6), ..most };
                    }
                }
            }
            most
        };
        self.flexures.par_iter().enumerate().map(stresses_of).collect()
    }
}
