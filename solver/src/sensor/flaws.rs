//! What the stated imperfections of shape change between the modes drawn. In: what is stated, what was solved. Out: changes of stiffness and
//! mass between all modes, to first order, and what goes with their square: the width of a flexure enters bending with its cube, and walls
//! that lean stiffen it in the plane by as much as the coupling that they make softens it.

use super::stated::StatedSensor;
use crate::model::ModalSolution;
use crate::process::ModalSensitivity;
use crate::rate::lean::{against_own_bending, lean};
use crate::rate::requirements::Because;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Flexure, Outline};
use nalgebra::DMatrix;

/// Shares that differ by this are alike.
pub(super) const ROUNDING: f64 = 1e-9;

/// By how much more a device makes of its imperfections than the one drawn: of flexures wider on one side, of walls that lean.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    pub(super) width: f64,
    pub(super) lean: f64,
}

/// The device drawn.
pub(super) const DRAWN: Scale = Scale { width: 1.0, lean: 1.0 };

/// What the stated imperfections of shape change between the modes drawn.
#[derive(Clone)]
pub(super) struct Flaws {
    /// Flexures wider on the right than on the left; none where that is not stated or the model does not have it.
    pub(super) width: Option<ModalSensitivity>,
    /// Walls that lean, likewise.
    pub(super) lean: Option<ModalSensitivity>,
    /// What the lean adds to bending in the plane, whichever way walls lean: as much as the modes listed take away of it, so that a section
    /// free to bend out of the plane keeps its least moment.
    raised: DMatrix<f64>,
    /// The same two otherwise: the widths to first order, and all that the lean adds, of which modes that are not listed take away the rest.
    otherwise: Otherwise,
    /// Share of the flexures' length that the lean counts; none where no lean is stated.
    pub(super) lean_counted: Option<f64>,
    /// The most that all of it changes each flexure against its own stiffness.
    pub(super) relative: Vec<f64>,
    /// What is stated and the model does not have.
    missing: Vec<Because>,
}

/// How else terms of second order may be.
#[derive(Clone)]
struct Otherwise {
    width: Option<ModalSensitivity>,
    raised: DMatrix<f64>,
}

impl Flaws {
    pub(super) fn of(
        stated: &StatedSensor,
        outline: &Outline,
        mesh: &Mesh,
        solved: &ModalSolution,
        middle_um: f64,
    ) -> Self {
        let (imperfections, modes) = (stated.imperfections, solved.modes.len());
        let mut missing = Vec::new();
        let widths = imperfections.left_right_width_um.and_then(|um| {
            let found = wider_right(outline, solved, um, middle_um);
            if found.is_none() {
                missing.push(Because::NotFound(format!(
                    "the {} model, as it was solved here, does not have the stated imperfections/left_right_width_um",
                    solved.model
                )));
            }
            found
        });
        let (width, width_to_first) = widths.unzip();
        let upright = imperfections.sidewall_tilt_deg == Some(0.0);
        let leaning = imperfections.sidewall_tilt_deg.map(|degrees| {
            let law = (stated.law, stated.thickness_um);
            lean(mesh, &solved.sampled, &outline.flexures, law, degrees.to_radians())
        });
        // Walls that stand upright need no counting.
        let lean_counted = leaning.as_ref().map(|l| if upright { 1.0 } else { l.counted });
        let none = || DMatrix::zeros(modes, modes);
        let raised = leaning.as_ref().map_or_else(none, |l| balanced(&l.raised, &taken_away(&l.coupling, solved)));
        let raised_at_most = leaning.as_ref().map_or_else(none, |l| l.raised.clone());
        let lean = leaning.map(|l| ModalSensitivity { stiffness: l.coupling, mass: none() });
        let changed = |flexure: &Flexure| {
            let narrowest = flexure.narrowest_um();
            // Bending in the plane goes with the cube of the width.
            let wider = imperfections.left_right_width_um.unwrap_or(0.0) * half(flexure, middle_um);
            let tilt = imperfections.sidewall_tilt_deg.unwrap_or(0.0).to_radians().tan();
            3.0 * (0.5 * wider).abs() / narrowest + against_own_bending(flexure, stated.thickness_um, tilt)
        };
        let relative = outline.flexures.iter().map(changed).collect();
        let otherwise = Otherwise { width: width_to_first, raised: raised_at_most };
        Self { width, lean, raised, otherwise, lean_counted, relative, missing }
    }

    /// The same with terms of second order as they may be otherwise: what the two differ by is what is not known of them. None where there
    /// are none.
    pub(super) fn otherwise(&self) -> Option<Self> {
        let Otherwise { width, raised } = self.otherwise.clone();
        let differs = width != self.width || raised != self.raised;
        let otherwise = Otherwise { width: self.width.clone(), raised: self.raised.clone() };
        differs.then(|| Self { width, raised, otherwise, ..self.clone() })
    }

    /// Walls that lean, one way, with what that adds to bending in the plane.
    pub(super) fn leaning(&self) -> Option<ModalSensitivity> {
        let mut all = self.lean.clone()?;
        all.stiffness += &self.raised;
        Some(all)
    }

    /// What is stated and the model does not have.
    pub(super) fn missing(&self) -> &[Because] {
        &self.missing
    }

    /// Whether anything that is stated moves a mode, or cannot be weighed.
    pub(super) fn any(&self) -> bool {
        let moves = |change: &Option<ModalSensitivity>| {
            change.as_ref().is_some_and(|f| f.stiffness.amax() + f.mass.amax() > 0.0)
        };
        !self.missing.is_empty() || moves(&self.width) || moves(&self.lean)
    }

    /// All that is stated together, on a layer that makes more or less of it: with walls that lean one way and, where that is another
    /// device, the other way. Empty where nothing is.
    pub(super) fn together(&self, on: Scale) -> Vec<ModalSensitivity> {
        let scaled = |change: &ModalSensitivity, by: f64| {
            let mut own = change.clone();
            own *= by;
            own
        };
        let leaning = |sign: f64| {
            let mut lean = scaled(self.lean.as_ref()?, sign * on.lean);
            lean.stiffness += &self.raised * on.lean;
            Some(lean)
        };
        match (&self.width, leaning(1.0)) {
            (None, None) => Vec::new(),
            (Some(one), None) => vec![scaled(one, on.width)],
            (None, Some(one)) => vec![one],
            (Some(width), Some(lean)) => {
                let with = |lean: ModalSensitivity| {
                    let mut sum = scaled(width, on.width);
                    sum += &lean;
                    sum
                };
                let one_way = lean.stiffness.amax() == 0.0 || width.stiffness.amax() == 0.0;
                let other = leaning(-1.0).filter(|_| !one_way);
                std::iter::once(lean).chain(other).map(with).collect()
            }
        }
    }
}

/// What a lean adds, of every mode no more than is taken away from it.
fn balanced(raised: &DMatrix<f64>, taken: &DMatrix<f64>) -> DMatrix<f64> {
    let share = |i: usize| {
        let share = taken[(i, i)] / raised[(i, i)];
        if share.is_finite() { share.clamp(0.0, 1.0).sqrt() } else { 1.0 }
    };
    let shares: Vec<f64> = (0..raised.nrows()).map(share).collect();
    DMatrix::from_fn(raised.nrows(), raised.ncols(), |i, j| raised[(i, j)] * shares[i] * shares[j])
}

/// What a coupling takes away from modes at rest by moving the others listed: C Λ⁻¹ C.
fn taken_away(coupling: &DMatrix<f64>, solved: &ModalSolution) -> DMatrix<f64> {
    let mut over = coupling.clone();
    for (mut row, mode) in over.row_iter_mut().zip(&solved.modes) {
        let eigenvalue = mode.modal_stiffness_n_per_m();
        row *= if eigenvalue > 0.0 { 1.0 / eigenvalue } else { 0.0 };
    }
    coupling * over
}

/// What a difference of width does, half of it wider on the right of the middle, half narrower on the left: with its square as well, then to
/// first order alone. The whole difference on a moved mesh makes shapes that the mesh drags along shear, by more than the width changes
/// them; so the square follows from how the first order goes: what goes with the n-th power of a width grows by 1 + n ε + n (n − 1) ε²/2. None
/// where the model has no such terms and something is to be changed.
fn wider_right(
    outline: &Outline,
    solved: &ModalSolution,
    um: f64,
    middle_um: f64,
) -> Option<(ModalSensitivity, ModalSensitivity)> {
    let modes = solved.modes.len();
    if um == 0.0 || outline.flexures.is_empty() {
        return Some((ModalSensitivity::zeros(modes), ModalSensitivity::zeros(modes)));
    }
    if solved.flexure_terms.is_empty() {
        return None;
    }
    let (mut all, mut first) = (ModalSensitivity::zeros(modes), ModalSensitivity::zeros(modes));
    for (f, (flexure, terms)) in outline.flexures.iter().zip(&solved.flexure_terms).enumerate() {
        let mut own = terms.widened();
        let power = |i: usize| {
            let held = solved.modes[i].flexure_strain_share.get(f).copied().unwrap_or(0.0);
            let stiffness = held * solved.modes[i].modal_stiffness_n_per_m();
            let by_width = own.stiffness[(i, i)] * flexure.width_um / stiffness;
            // Stretching and bending out of the plane go with the width, bending in it and twist of a tall section with its cube.
            if held > LITTLE && by_width.is_finite() { by_width.clamp(1.0, 3.0) } else { 1.0 }
        };
        let powers: Vec<f64> = (0..modes).map(power).collect();
        let wider_um = half(flexure, middle_um) * 0.5 * um;
        own *= wider_um;
        first += &own;
        let wider = wider_um / flexure.width_um;
        let with_square = |i: usize, j: usize| 1.0 + 0.5 * wider * (0.5 * (powers[i] + powers[j]) - 1.0);
        own.stiffness.component_mul_assign(&DMatrix::from_fn(modes, modes, with_square));
        all += &own;
    }
    Some((all, first))
}

/// A flexure that holds less than this share of a mode's strain energy does not tell how that goes with its width.
const LITTLE: f64 = 1e-6;

/// Of which half a flexure is: 1 of the right, −1 of the left, 0 of neither where some of it lies on either side of the middle.
pub(super) fn half(flexure: &Flexure, middle_um: f64) -> f64 {
    let any = |beyond: fn(f64) -> bool| flexure.area.outer.iter().any(|p| beyond(p[0] - middle_um));
    match (any(|x| x < -SAME_UM), any(|x| x > SAME_UM)) {
        (true, false) => -1.0,
        (false, true) => 1.0,
        _ => 0.0,
    }
}

/// Points this near to the middle lie on it, µm.
const SAME_UM: f64 = 1e-6;

#[cfg(test)]
mod tests {
    use super::*;
    use modalith_mesher::geometry::Polygon;

    /// Seen: a coupler across the middle was widened with one half as soon as the middle of the masses lay a few µm off its own.
    #[test]
    fn what_lies_on_both_sides_of_the_middle_is_of_neither_half() {
        let between = |low: f64, high: f64| Flexure {
            area: Polygon::solid(vec![[low, 0.0], [high, 0.0], [high, 4.0], [low, 4.0]]),
            centre_line: vec![[low, 2.0], [high, 2.0]],
            widths_um: vec![4.0; 2],
            length_um: high - low,
            width_um: 4.0,
            ligament_um: None,
            ends: [low, high].map(|x| modalith_mesher::outline::FlexureEnd {
                root: [[x, 0.0], [x, 4.0]],
                joins: modalith_mesher::outline::Joins::Anchor,
            }),
        };
        for (low, high, of) in
            [(-50.0, 50.0, 0.0), (-40.0, 60.0, 0.0), (-60.0, 5.0, 0.0), (-60.0, -5.0, -1.0), (0.0, 9.0, 1.0)]
        {
            assert!(half(&between(low, high), 0.0) == of, "{low} {high}");
        }
    }
}
