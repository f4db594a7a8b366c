//! From pieces to K and M: springs carried from their ends to the centres of the bodies.

use super::formula::kinds;
use super::moments::Inertia;
use super::spring::{Matrix12, Spring, Stretch, Vector12, carried};
use super::{Body, Hold, Lumped, LumpedError, Pieces, Strip};
use crate::material::Law;
use crate::section::Moduli;
use nalgebra::{DMatrix, DVector, Matrix6, Vector6};

impl Strip {
    /// The spring of this flexure in a layer; `None` where it has no length or width.
    fn spring(&self, law: &Law, thickness_m: f64) -> Option<Spring> {
        let line = self.centre_line.windows(2).zip(&self.widths_um);
        let stretch = |(ends, widths): (&[[f64; 2]], &[f64; 2])| Stretch {
            from_to_m: [ends[0], ends[1]].map(|p| p.map(|x| x * 1e-6)),
            widths_m: widths.map(|w| w * 1e-6),
            moduli: Moduli::along(law, (ends[1][1] - ends[0][1]).atan2(ends[1][0] - ends[0][0])),
        };
        Spring::new(line.map(stretch).collect(), thickness_m, law.density_kg_m3 * thickness_m * self.area_um2 * 1e-12)
    }
}

impl Lumped {
    /// Builds the model of a layer `thickness_um` µm thick; `flexure_mass` says whether flexures have any.
    ///
    /// # Errors
    /// No flexure, nothing that moves, or a flexure without length or width.
    pub fn new(pieces: Pieces, law: &Law, thickness_um: f64, flexure_mass: bool) -> Result<Self, LumpedError> {
        if pieces.flexures.is_empty() {
            return Err(LumpedError::NoFlexure);
        }
        let thickness_m = thickness_um * 1e-6;
        let inertia_of = |body: &Body| match body {
            Body::Moving(area) | Body::Held(area) => {
                Inertia::of(std::slice::from_ref(area), thickness_m, law.density_kg_m3)
            }
            Body::Joint(at) => Inertia { centre_m: at.map(|x| x * 1e-6), ..Inertia::default() },
        };
        let inertia: Vec<Inertia> = pieces.bodies.iter().map(inertia_of).collect();
        let mut springs = Vec::with_capacity(pieces.flexures.len());
        for (flexure, strip) in pieces.flexures.iter().enumerate() {
            let fault =
                || LumpedError::Shape { flexure, at_um: strip.centre_line.first().copied().unwrap_or_default() };
            springs.push(strip.spring(law, thickness_m).ok_or_else(fault)?);
        }
        let mut count = 0;
        let number = |body: &Body| {
            let moves = !matches!(body, Body::Held(_));
            moves.then(|| {
                count += 6;
                count - 6
            })
        };
        let first: Vec<Option<usize>> = pieces.bodies.iter().map(number).collect();
        if count == 0 {
            return Err(LumpedError::NothingMoves);
        }
        let mut lumped = Self {
            kinds: kinds(&pieces, &inertia),
            pieces,
            inertia,
            springs,
            k: DMatrix::zeros(count, count),
            m: DMatrix::zeros(count, count),
            flexure_mass,
            first,
            by_direction: [0; 3].map(|_| DMatrix::zeros(count, count)),
            crossed: [0; 3].map(|_| DMatrix::zeros(count, count)),
            momentum: [0; 6].map(|_| DVector::zeros(count)),
        };
        lumped.fill();
        Ok(lumped)
    }

    fn fill(&mut self) {
        for (body, first) in self.inertia.iter().zip(&self.first) {
            let Some(at) = *first else { continue };
            for (k, own) in body.by_direction().iter().enumerate() {
                add(&mut self.by_direction[k], at, at, own);
            }
            for (sum, own) in self.crossed.iter_mut().zip(&body.crossed()) {
                add(sum, at, at, own);
            }
            let mass: Matrix6<f64> = body.by_direction().iter().sum();
            add_momenta(&mut self.momentum, at, &(mass * carried(body.centre_m, [0.0; 2])));
        }
        for (f, spring) in self.springs.iter().enumerate() {
            let ends = [0, 1].map(|end| self.end(f, end));
            for (i, a) in ends.iter().enumerate() {
                let Some((row, left)) = a else { continue };
                for (j, b) in ends.iter().enumerate() {
                    let Some((column, right)) = b else { continue };
                    let block = spring.stiffness.fixed_view::<6, 6>(6 * i, 6 * j);
                    add(&mut self.k, *row, *column, &(left.transpose() * block * right));
                    if !self.flexure_mass {
                        continue;
                    }
                    let sums = self.by_direction.iter_mut().chain(&mut self.crossed);
                    for (sum, mass) in sums.zip(spring.mass_by_direction.iter().chain(&spring.mass_crossed)) {
                        let block = mass.fixed_view::<6, 6>(6 * i, 6 * j);
                        add(sum, *row, *column, &(left.transpose() * block * right));
                    }
                }
                if self.flexure_mass {
                    let whole = spring.ends_m().map(|end| carried(end, [0.0; 2]));
                    let mass: Matrix12 = spring.mass_by_direction.iter().sum();
                    let block = |j: usize| mass.fixed_view::<6, 6>(6 * i, 6 * j) * whole[j];
                    add_momenta(&mut self.momentum, *row, &(left.transpose() * (block(0) + block(1))));
                }
            }
        }
        self.m = self.by_direction.iter().sum();
    }

    /// First unknown of the body that holds an end of a flexure, and the end's motion from the body's; `None` at rest.
    pub(super) fn end(&self, flexure: usize, end: usize) -> Option<(usize, Matrix6<f64>)> {
        let Hold::Body(body) = self.pieces.flexures[flexure].ends[end] else { return None };
        let first = self.first[body]?;
        Some((first, carried(self.springs[flexure].ends_m()[end], self.inertia[body].centre_m)))
    }

    /// Motion of both ends of a flexure, given all unknowns.
    pub(super) fn ends(&self, flexure: usize, shape: &[f64]) -> Vector12 {
        let mut both = Vector12::zeros();
        for end in 0..2 {
            if let Some((first, carry)) = self.end(flexure, end) {
                let own = Vector6::from_column_slice(&shape[first..first + 6]);
                both.fixed_rows_mut::<6>(6 * end).copy_from(&(carry * own));
            }
        }
        both
    }

    /// Place of a body's six unknowns; `None` if it does not move.
    pub fn unknowns_of(&self, body: usize) -> Option<std::ops::Range<usize>> {
        self.first.get(body).copied().flatten().map(|at| at..at + 6)
    }

    /// Mass of the whole layer: bodies, held ones too, and flexures, kg.
    pub fn total_mass_kg(&self) -> f64 {
        let bodies: f64 = self.inertia.iter().map(|b| b.mass_kg).sum();
        bodies + self.springs.iter().map(|s| s.mass_kg).sum::<f64>()
    }

    /// Share of the flexures in the mass of the layer.
    pub fn flexure_share(&self) -> f64 {
        self.springs.iter().map(|s| s.mass_kg).sum::<f64>() / self.total_mass_kg()
    }

    /// Stiffness felt by one body with every other moving body free to follow, 6 × 6, N/m and so on; `None` if it is
    /// held, or if the others are not held without it.
    pub fn stiffness_at(&self, body: usize) -> Option<Matrix6<f64>> {
        let own = self.unknowns_of(body)?;
        let others: Vec<usize> = (0..self.k.nrows()).filter(|i| !own.contains(i)).collect();
        let own: Vec<usize> = own.collect();
        let condensed = condensed(&self.k, &own, &others)?.0;
        Some(Matrix6::from_fn(|i, j| condensed[(i, j)]))
    }
}

/// K_aa − K_ab K_bb⁻¹ K_ba, and −K_bb⁻¹ K_ba, by which b follows a; `None` if K_bb is singular.
pub(super) fn condensed(k: &DMatrix<f64>, a: &[usize], b: &[usize]) -> Option<(DMatrix<f64>, DMatrix<f64>)> {
    let part = |rows: &[usize], columns: &[usize]| {
        DMatrix::from_fn(rows.len(), columns.len(), |i, j| k[(rows[i], columns[j])])
    };
    let (aa, ba) = (part(a, a), part(b, a));
    if b.is_empty() {
        return Some((aa, ba));
    }
    let follow = -part(b, b).cholesky()?.solve(&ba);
    let whole = aa + ba.transpose() * &follow;
    Some((0.5 * (&whole + whole.transpose()), follow))
}

fn add(to: &mut DMatrix<f64>, row: usize, column: usize, block: &Matrix6<f64>) {
    let mut view = to.fixed_view_mut::<6, 6>(row, column);
    view += block;
}

/// Adds the momenta of a body's six unknowns: a column for each rigid motion of the whole about the layout's origin.
fn add_momenta(to: &mut [DVector<f64>; 6], row: usize, momenta: &Matrix6<f64>) {
    for (sum, column) in to.iter_mut().zip(momenta.column_iter()) {
        let mut own = sum.rows_mut(row, 6);
        own += column;
    }
}
