//! Film stress at rest: what a structure relaxes of it, how far it moves, and how far it is from buckling.
//!
//! In: a structure without stress, what its film would carry if nothing moved. Out: the structure with the stress that is left, of which
//! modes take the geometric stiffness; deflection and buckling factors.
//!
//! The equilibrium is (K + K_G) u = −∫ ε : σ with the geometric stiffness of what is left of the stress (O. C. Zienkiewicz & R. L. Taylor,
//! *The Finite Element Method*, from memory), settled by passes: strains are small and a flat part stays flat. A part that curls by more than a share of its thickness has other modes than the flat one,
//! and is refused.

use super::buckling::{BucklingFactors, buckling_factors};
use super::film_error::FilmError;
use crate::element::quadrature::legendre;
use crate::spectrum::{Compliance, Problem};
use crate::system::{FilmStress, Fold, Motion, PreStress, Structure, System};
use modalith_mesher::geometry::bounds;
use nalgebra::DVector;
use nalgebra_sparse::CscMatrix;
use rayon::prelude::*;
use std::sync::Arc;

/// Curl, as a share of the thickness, up to which modes of the flat part are given. What curl itself does goes with its square: a sag of a
/// tenth of the thickness takes 9 % off the third mode of a plate ten times as long as wide (shallow-shell elements, recomputed), a hundredth
/// a thousandth.
const CURLED: f64 = 0.01;
/// Passes at most, and the change of the largest motion, or what the stress is of the nearest buckling, below which no more is made.
const PASSES: usize = 12;
const SETTLED: f64 = 1e-3;
/// Motion that is rounding, as a share of the thickness.
const STILL: f64 = 1e-9;
/// Change of the largest motion from which buckling is looked at again.
const MUCH: f64 = 1e-2;
/// What holds a free part while its strains are found, as a share of the λ of its first bending, and at the least of its largest.
const HELD_BY: f64 = 1e-4;
const ROUNDING: f64 = 1e-14;
/// What of the load may be left then, a share.
const FOUND: f64 = 1e-6;
/// How often what that takes is given back at most.
const GIVEN_BACK: usize = 30;

/// A structure at rest under film stress.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilmRest {
    /// What the film would carry if nothing moved.
    pub film: FilmStress,
    /// Largest motion in the plane and out of it, of corners of the mesh at mid-layer, m.
    pub largest_m: [f64; 2],
    /// At which multiples of the film's stress the part buckles; `None` of a free part, which keeps none of it.
    pub buckling: Option<BucklingFactors>,
}

/// What some motions of a structure have moved, m, each over its unknowns.
pub type Displaced = Vec<(Motion, Vec<f64>)>;

/// Brings a structure to rest under its film's stress: as it is then, figures of it, and what has moved.
///
/// # Errors
/// See [`FilmError`].
pub fn film_at_rest(structure: &Structure, film: FilmStress) -> Result<(Structure, FilmRest, Displaced), FilmError> {
    // As if nothing moved, it is known along which mirrors and into which motions it comes apart.
    let held = under(structure, film, &Vec::new());
    let mut found = moved(structure, structure, film)?;
    let mut stressed = under(structure, film, &found);
    let mut largest_m = largest(structure, &found)?;
    let (first_m, thickness_m) = (largest_m, structure.layer().thickness_m);
    let mut buckling = None;
    if structure.is_held() {
        let mut factors = buckling_factors(structure, &stressed)?;
        let flat = |factors: &BucklingFactors| match factors.positive.filter(|factor| *factor <= 1.0) {
            Some(factor) => Err(FilmError::Buckled { factor }),
            None => Ok(()),
        };
        flat(&factors)?;
        // What the stress adds to the stiffness adds to or takes from the motion too, the more the nearer buckling is.
        let mut changes = factors.nearest().map_or(0.0, |factor| 1.0 / factor);
        let mut passes = 0;
        while changes > SETTLED {
            if passes == PASSES {
                return Err(FilmError::NotSettled { passes, change: changes });
            }
            passes += 1;
            let before = largest_m;
            found = moved(&held, &stressed, film)?;
            stressed = under(structure, film, &found);
            largest_m = largest(structure, &found)?;
            let change = |k: usize| (largest_m[k] - before[k]).abs() / largest_m[k].max(STILL * thickness_m);
            changes = change(0).max(change(1));
        }
        let change = |k: usize| (largest_m[k] - first_m[k]).abs() > MUCH * largest_m[k].max(STILL * thickness_m);
        if change(0) || change(1) {
            factors = buckling_factors(structure, &stressed)?;
            flat(&factors)?;
        }
        buckling = Some(factors);
    }
    if largest_m[1] > CURLED * thickness_m {
        return Err(FilmError::Curled { curl_m: largest_m[1], thickness_m });
    }
    Ok((stressed, FilmRest { film, largest_m, buckling }, found))
}

/// What the film's stress moves in a structure that is as stiff as `stiff`, both taken apart alike, as `like` is.
fn moved(like: &Structure, stiff: &Structure, film: FilmStress) -> Result<Displaced, FilmError> {
    // Free parts, which are rare, are taken whole.
    let fold = if film.has_mirrors() && stiff.is_held() { Fold::along(stiff) } else { None };
    let parts: Vec<Structure> = like.uncoupled().iter().map(|part| stiff.with_layer(part.layer().clone())).collect();
    let one = |part: &Structure| displaced(stiff, part, film, fold.as_ref());
    let found = parts.par_iter().map(one).collect::<Result<Vec<_>, FilmError>>()?;
    Ok(found.into_iter().filter(|(_, values)| !values.is_empty()).collect())
}

/// A structure with the stress of a film, less what is relaxed where this has moved.
pub(super) fn under(structure: &Structure, film: FilmStress, moved: &Displaced) -> Structure {
    let held = PreStress::held(film, structure.mesh(), structure.layer());
    let add = |stress: PreStress, (motion, values): &(Motion, Vec<f64>)| {
        stress.moved(structure.mesh(), (&motion.layer, &motion.unknowns), values)
    };
    structure.with_pre_stress(moved.iter().fold(held, add))
}

/// Largest motion in the plane and out of it, of corners of the mesh at mid-layer, m.
fn largest(structure: &Structure, moved: &Displaced) -> Result<[f64; 2], FilmError> {
    let mut largest = [0.0_f64; 2];
    for corner in 0..structure.mesh().points.len() as u32 {
        let mut u = [0.0; 3];
        for (motion, values) in moved {
            for (field, value) in motion.unknowns.at_corner(corner, values) {
                u[usize::from(field.axis)] += value * legendre(usize::from(field.degree), 0.0).0;
            }
        }
        if u.iter().any(|u| !u.is_finite()) {
            return Err(FilmError::NotSettled { passes: 0, change: f64::INFINITY });
        }
        largest = [largest[0].max(u[0].hypot(u[1])), largest[1].max(u[2].abs())];
    }
    Ok(largest)
}

/// Displacement of one of a structure's motions, m, over its unknowns; empty where the film does not load it.
fn displaced(
    structure: &Structure,
    part: &Structure,
    film: FilmStress,
    fold: Option<&Fold>,
) -> Result<(Motion, Vec<f64>), FilmError> {
    let motion = Motion::new(part);
    let values = match fold {
        Some(fold) => {
            let piece = fold.piece(part.layer());
            let system = System::assemble(&piece)?;
            let load = film.load(piece.mesh(), piece.layer(), &system.unknowns)?;
            // The film has the mirrors, and so has what it does, as a motion along z.
            let parity = fold.parity_of_translation(2);
            let own = fold.unknowns_of(&system.unknowns, &parity);
            if own.is_empty() || load.iter().all(|f| *f == 0.0) {
                return Ok((motion, Vec::new()));
            }
            let problem = Problem::symmetric(&system.k, &system.m, Some(system.unknowns.groups()))?;
            let order = Arc::new(problem.entity_order()?);
            let some = DVector::from_iterator(own.len(), own.iter().map(|&u| load[u as usize]));
            let compliance = Compliance::of(problem.restricted(&own).ordered_as(&order))?;
            let moved = compliance.factor()?.solve_one(&some);
            let mut values = vec![0.0; load.len()];
            own.iter().zip(moved.iter()).for_each(|(&u, x)| values[u as usize] = *x);
            fold.unfold(&motion.unknowns, &system.unknowns, &parity, &values)
        }
        None => {
            let system = System::assemble(part)?;
            let load = film.load(part.mesh(), part.layer(), &system.unknowns)?;
            if load.iter().all(|f| *f == 0.0) {
                return Ok((motion, Vec::new()));
            }
            let moved = if structure.is_held() {
                Compliance::new(&system.k, Some(system.unknowns.groups()))?.factor()?.solve_one(&load)
            } else {
                of_free(structure, (&system.k, &system.m), &load)?
            };
            moved.iter().copied().collect()
        }
    };
    Ok((motion, values))
}

/// A displacement of a free part under a load that balances itself: held softly by its mass, what that takes given back until nothing is
/// left but rounding.
fn of_free(
    structure: &Structure,
    (k, m): (&CscMatrix<f64>, &CscMatrix<f64>),
    load: &DVector<f64>,
) -> Result<DVector<f64>, FilmError> {
    let [low, high] = bounds(&structure.mesh().points).unwrap_or_default();
    let size_m = (high[0] - low[0]).hypot(high[1] - low[1]) * 1e-6;
    // Of the order of the first bending: c t / L².
    let omega = structure.layer().sound_speed_m_s() * structure.layer().thickness_m / size_m.powi(2);
    let diagonal =
        |a: &CscMatrix<f64>| a.triplet_iter().filter(|(i, j, _)| i == j).map(|(_, _, v)| v.abs()).sum::<f64>();
    let softly = (HELD_BY * omega * omega).max(ROUNDING * diagonal(k) / diagonal(m));
    let held = k + &(m * softly);
    let compliance = Compliance::new(&held, None)?;
    let factor = compliance.factor()?;
    let mut moved = factor.solve_one(load);
    let mut before = f64::INFINITY;
    for _ in 0..GIVEN_BACK {
        let left = load - k * &moved;
        if left.norm() > 0.5 * before {
            break;
        }
        before = left.norm();
        moved += factor.solve_one(&left);
    }
    let change = before / load.norm();
    if change < FOUND { Ok(moved) } else { Err(FilmError::NotSettled { passes: GIVEN_BACK, change }) }
}
