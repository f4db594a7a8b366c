//! The closed forms that a designer's own sheet has, with the layout's numbers put in, beside what was extracted.
//!
//! In: a lumped model. Out: for every flexure of a recognised kind its formulas, SI. Sources: any textbook of strength of
//! materials (guided, cantilever, axial, torsion); elastic centre of a plane frame (crab-leg, serpentine: stiffness along
//! one direction with the turn held and the other direction free; both with the stretch of their legs kept).

mod folded;
mod kind;
mod term;

pub use kind::FlexureKind;
pub(super) use kind::kinds;
use kind::{Leg, dot, legs_of, spans};
pub use term::{Formula, Term};
use term::{N_M_PER_RAD, N_PER_M, SAME, term};

use super::Lumped;
use super::spring::{Spring, Stretch};
use nalgebra::{Matrix3, Vector3, Vector6};

impl Lumped {
    /// All formulas: flexure by flexure, then folded pairs.
    pub fn formulas(&self) -> Vec<Formula> {
        let own = self.springs.iter().zip(&self.kinds).enumerate().flat_map(|(f, (spring, kind))| match kind {
            FlexureKind::Guided | FlexureKind::Cantilever | FlexureKind::TorsionBar => straight(f, spring, *kind),
            FlexureKind::CrabLeg => crab_leg(f, spring),
            FlexureKind::Serpentine { .. } => serpentine(f, spring),
            FlexureKind::Tapered | FlexureKind::Bent => Vec::new(),
        });
        own.chain(folded::folded(self)).collect()
    }
}

/// Stiffness of end 1 along six motions with everything else held: xᵀ K x.
fn held(spring: &Spring, along: &Vector6<f64>) -> f64 {
    along.dot(&(spring.stiffness.fixed_view::<6, 6>(6, 6) * along))
}

/// Stiffness of end 1 along six motions with everything else free: 1 / (xᵀ F x).
fn free(spring: &Spring, along: &Vector6<f64>) -> f64 {
    1.0 / along.dot(&(spring.flexibility * along))
}

fn motions(axis: [f64; 2]) -> [Vector6<f64>; 4] {
    let [c, s] = axis;
    [
        [-s, c, 0.0, 0.0, 0.0, 0.0],
        [0.0, 0.0, 1.0, 0.0, 0.0, 0.0],
        [c, s, 0.0, 0.0, 0.0, 0.0],
        [0.0, 0.0, 0.0, c, s, 0.0],
    ]
    .map(Vector6::from)
}

fn straight(f: usize, spring: &Spring, kind: FlexureKind) -> Vec<Formula> {
    let Some([leg]) =
        legs_of(&spring.stretches).as_deref().map(<[Leg]>::to_vec).and_then(|l| <[Leg; 1]>::try_from(l).ok())
    else {
        return Vec::new();
    };
    let moduli = spring.stretches[0].moduli;
    let (e, t, w, l) = (moduli.youngs_pa, spring.thickness_m, leg.width, leg.length());
    let [across, out, along, twist] = motions(leg.axis());
    let beam = || vec![term("E", e, "Pa"), term("t", t, "m"), term("w", w, "m"), term("L", l, "m")];
    let make = |name, expression, terms, value, extracted, unit| Formula {
        flexures: vec![f],
        name,
        expression,
        terms,
        value,
        extracted,
        unit,
    };
    let (in_plane, normal) = (e * t * w.powi(3) / l.powi(3), e * w * t.powi(3) / l.powi(3));
    let bends = if kind == FlexureKind::Cantilever {
        let (a, b) = (in_plane / 4.0, normal / 4.0);
        [
            make("cantilever, across in plane", "E t w³ / (4 L³)", beam(), a, free(spring, &across), N_PER_M),
            make("cantilever, out of plane", "E w t³ / (4 L³)", beam(), b, free(spring, &out), N_PER_M),
        ]
    } else {
        [
            make("guided, across in plane", "E t w³ / L³", beam(), in_plane, held(spring, &across), N_PER_M),
            make("guided, out of plane", "E w t³ / L³", beam(), normal, held(spring, &out), N_PER_M),
        ]
    };
    // A crystal's two shear moduli are in J: that of the rectangle stretched to one modulus.
    let (g, gj) = (moduli.shear_normal_pa, moduli.twist_nm2(w, t));
    let torsion = vec![term("G", g, "Pa"), term("J", gj / g, "m⁴"), term("L", l, "m")];
    let mut all = vec![
        make("torsion bar", "G J / L", torsion, gj / l, held(spring, &twist), N_M_PER_RAD),
        make("axial", "E w t / L", beam(), e * w * t / l, held(spring, &along), N_PER_M),
    ];
    let at = if kind == FlexureKind::TorsionBar { 1 } else { 0 };
    all.splice(at..at, bends);
    all
}

/// Stiffness of end 1 along a direction in the plane, the turn held and the other direction free.
fn guided(spring: &Spring, along: [f64; 2]) -> f64 {
    const PLANE: [usize; 3] = [0, 1, 5];
    let plane = Matrix3::from_fn(|i, j| spring.flexibility[(PLANE[i], PLANE[j])]);
    let (x, turn) = (Vector3::new(along[0], along[1], 0.0), Vector3::z());
    let inner = |a: &Vector3<f64>, b: &Vector3<f64>| a.dot(&(plane * b));
    1.0 / (inner(&x, &x) - inner(&x, &turn).powi(2) / inner(&turn, &turn))
}

/// The one Young's modulus of all stretches, if there is one.
fn youngs(stretches: &[Stretch]) -> Option<f64> {
    let first = stretches.first()?.moduli.youngs_pa;
    stretches.iter().all(|s| (s.moduli.youngs_pa / first - 1.0).abs() < SAME).then_some(first)
}

fn crab_leg(f: usize, spring: &Spring) -> Vec<Formula> {
    let (Some(legs), Some(e)) = (legs_of(&spring.stretches), youngs(&spring.stretches)) else { return Vec::new() };
    let [first, second] = legs.as_slice() else { return Vec::new() };
    let t = spring.thickness_m;
    let along = |own: &Leg, other: &Leg, name| {
        let (a, b) = (own.length(), other.length());
        let (alpha, beta) = (12.0 * a / own.width.powi(3), 12.0 * b / other.width.powi(3));
        let bends = b * b * beta * (beta + 4.0 * alpha) / (12.0 * (alpha + beta));
        Formula {
            flexures: vec![f],
            name,
            expression: "E t / (b² β (β + 4 α) / (12 (α + β)) + a / w), α = 12 a / w³, β = 12 b / v³",
            terms: vec![
                term("E", e, "Pa"),
                term("t", t, "m"),
                term("a", a, "m"),
                term("w", own.width, "m"),
                term("b", b, "m"),
                term("v", other.width, "m"),
            ],
            value: e * t / (bends + a / own.width),
            extracted: guided(spring, own.axis()),
            unit: N_PER_M,
        }
    };
    vec![along(first, second, "crab-leg, along its first leg"), along(second, first, "crab-leg, along its second leg")]
}

fn serpentine(f: usize, spring: &Spring) -> Vec<Formula> {
    let (Some(legs), Some(e)) = (legs_of(&spring.stretches), youngs(&spring.stretches)) else { return Vec::new() };
    let w = legs[0].width;
    let Some(start) = spans(&legs).filter(|_| legs.iter().all(|l| (l.width / w - 1.0).abs() < SAME)) else {
        return Vec::new();
    };
    let to_and_fro = legs[start].axis();
    let onward = legs[1 - start].axis();
    let length: f64 = legs.iter().map(Leg::length).sum();
    let spans: Vec<f64> = legs.iter().skip(start).step_by(2).map(Leg::length).collect();
    let middle = |l: &Leg| [0, 1].map(|k| 0.5 * (l.from[k] + l.to[k]));
    let t = spring.thickness_m;
    let along = |pull: [f64; 2], lever: [f64; 2], name| {
        let centre = legs.iter().map(|l| l.length() * dot(middle(l), lever)).sum::<f64>() / length;
        let own = |l: &Leg| (l.length() * dot(l.axis(), lever)).powi(2) / 12.0;
        let second: f64 = legs.iter().map(|l| l.length() * ((dot(middle(l), lever) - centre).powi(2) + own(l))).sum();
        let stretched: f64 = legs.iter().map(|l| l.length() * dot(l.axis(), pull).powi(2)).sum();
        Formula {
            flexures: vec![f],
            name,
            expression: "E t / (12 Q / w³ + C / w)",
            terms: vec![
                term("E", e, "Pa"),
                term("t", t, "m"),
                term("Q", second, "m³"),
                term("w", w, "m"),
                term("C", stretched, "m"),
                term("spans", spans.len() as f64, ""),
                term("longest span", spans.iter().copied().fold(0.0, f64::max), "m"),
            ],
            value: e * t / (12.0 * second / w.powi(3) + stretched / w),
            extracted: guided(spring, pull),
            unit: N_PER_M,
        }
    };
    vec![
        along(onward, to_and_fro, "serpentine, along its run"),
        along(to_and_fro, onward, "serpentine, along its spans"),
    ]
}
