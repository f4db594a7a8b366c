//! What a lumped model assumes, each assumption with what it costs. In: the modes of one layout under several models, those
//! that matter. Out: a measure, a limit and a verdict for every assumption, and the cheapest model that is good enough.

/// One assumption of the simple model.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumption {
    /// The assumption in the trade's words.
    pub name: &'static str,
    /// What is measured.
    pub measured: &'static str,
    /// The worst over the modes that matter; `None` where a model that it needs does not exist for the layout or lacks one of the
    /// modes, unless the others are beyond the limit already.
    pub measure: Option<f64>,
    /// What meshes leave of the measure: the error bars of the models that it compares, where they have any.
    pub doubt: f64,
    /// Largest measure, in its unit, at which the assumption holds.
    pub limit: f64,
    /// Models that it needs.
    pub needs: &'static [&'static str],
}

impl Assumption {
    /// Whether it holds; unknown without a measure, or where meshes leave more than the measure is away from the limit.
    pub fn holds(&self) -> Option<bool> {
        self.measure.filter(|m| (m - self.limit).abs() > self.doubt || self.doubt == 0.0).map(|m| m <= self.limit)
    }
}

/// The assumption that is measured by a lumped model of its own.
pub const MASSLESS: &str = "flexures have no mass";

/// One mode that matters under all models; frequencies in Hz.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ModelComparison {
    /// Share of strain energy outside the flexures.
    pub body_strain: f64,
    /// Share of kinetic energy outside the main direction.
    pub off_axis: f64,
    /// Under the lumped model, if it has the mode.
    pub lumped_hz: Option<f64>,
    /// Under the lumped model without the flexures' mass.
    pub massless_hz: Option<f64>,
    /// Under the lumped model with turns held.
    pub guided_hz: Option<f64>,
    /// Under the lumped model without cross terms.
    pub straight_hz: Option<f64>,
    /// Under beams and shells.
    pub beam_shell_hz: Option<f64>,
    /// Under shells.
    pub shell_hz: Option<f64>,
    /// Under solids, the reference.
    pub solid_hz: Option<f64>,
    /// Error bars of shells and of solids, each a share of its frequency; 0 where there is none.
    pub mesh: [f64; 2],
    /// Whether springs lack what all others have, the softening of biased electrodes: then their difference says nothing of roots and shear.
    pub springs_unbiased: bool,
}

/// Share of the strain energy outside the flexures beyond which what masses give and what roots give are not told apart.
pub const MASSES_BEND: f64 = 0.1;
/// The assumption about roots, by name.
pub const ROOTS: &str = "roots are rigid, flexures do not shear";

/// The eight assumptions of rigid masses on springs; `accuracy` is the error of a frequency that is allowed, a share.
///
/// Energy shares cost half of themselves in frequency, so that they may be twice the accuracy.
///
/// ```
/// use modalith_solver::audit::{ModelComparison, assumptions};
/// let mode = ModelComparison { body_strain: 0.1, lumped_hz: Some(105.0), solid_hz: Some(100.0), ..ModelComparison::default() };
/// let list = assumptions(&[mode], 0.01);
/// assert_eq!(list[0].holds(), Some(false));
/// assert_eq!(list[1].holds(), None);
/// ```
// One table of eight rows: what is measured, its limit, what it needs.
pub fn assumptions(modes: &[ModelComparison], accuracy: f64) -> Vec<Assumption> {
    let apart = |a: Option<f64>, b: Option<f64>| Some((a? / b? - 1.0).abs());
    let assumption = |name: &'static str,
                      measured: &'static str,
                      needs: &'static [&'static str],
                      measure: &dyn Fn(&ModelComparison) -> Option<f64>,
                      limit: f64| {
        let all: Vec<Option<f64>> = modes.iter().map(measure).collect();
        let worst = all.iter().flatten().copied().reduce(f64::max);
        let measure = worst.filter(|w| *w > limit || all.iter().all(Option::is_some));
        // What shares are off by is not known; of frequencies the bars tell.
        let bars = |m: &ModelComparison| {
            let [shell, solid] = m.mesh;
            if needs.contains(&"solid") { solid + if needs.contains(&"shell") { shell } else { 0.0 } } else { 0.0 }
        };
        Assumption { name, measured, measure, doubt: modes.iter().map(bars).fold(0.0, f64::max), limit, needs }
    };
    vec![
        assumption(
            "masses are rigid",
            "share of the strain energy outside the flexures",
            &[],
            &|m: &ModelComparison| Some(m.body_strain),
            2.0 * accuracy,
        ),
        assumption(
            MASSLESS,
            "frequency without the flexures' mass against with it",
            &["lumped"],
            &|m: &ModelComparison| apart(m.massless_hz, m.lumped_hz),
            accuracy,
        ),
        assumption(
            "flexure ends are guided",
            "frequency with turning masses held against free",
            &["lumped"],
            &|m: &ModelComparison| apart(m.guided_hz, m.lumped_hz),
            accuracy,
        ),
        assumption(
            "springs are straight lines",
            "frequency without the springs' cross terms against with them",
            &["lumped"],
            &|m: &ModelComparison| apart(m.straight_hz, m.lumped_hz),
            accuracy,
        ),
        assumption(
            "axes do not couple",
            "kinetic energy outside the main direction",
            &[],
            &|m: &ModelComparison| Some(m.off_axis),
            2.0 * accuracy,
        ),
        assumption(
            "flexures are beams on rigid root lines",
            "beams on shells, their mesh and all, against the solid",
            &["beam-shell", "solid"],
            &|m: &ModelComparison| apart(m.beam_shell_hz, m.solid_hz),
            accuracy,
        ),
        assumption(
            "the layer is thin",
            "shell against the solid",
            &["shell", "solid"],
            &|m: &ModelComparison| apart(m.shell_hz, m.solid_hz),
            accuracy,
        ),
        assumption(
            ROOTS,
            "lumped against beams on shells, the masses' own strain taken off",
            &["lumped", "beam-shell"],
            &|m: &ModelComparison| {
                // Masses that give lie in series with their flexures: rigid, they would raise a frequency by 1/√(1 − s).
                let told = !m.springs_unbiased && m.body_strain <= MASSES_BEND;
                let rigid_hz = m.lumped_hz.filter(|_| told)? * (1.0 - m.body_strain).sqrt();
                apart(Some(rigid_hz), m.beam_shell_hz)
            },
            accuracy,
        ),
    ]
}

/// How far a model is off on the modes that matter.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// The model's name.
    pub model: &'static str,
    /// Worst difference in frequency from the reference, a share; `None` where a mode has no match.
    pub frequency: Option<f64>,
    /// What meshes leave of that, a share.
    pub doubt: f64,
    /// Worst difference in coupling from the reference, a share, where there is a pair.
    pub coupling: Option<f64>,
}

/// The first of the candidates (cheapest first) that surely keeps frequency and coupling within `accuracy`, a share: the reference does.
pub fn cheapest(candidates: &[Candidate], accuracy: f64) -> Option<&Candidate> {
    let good = |c: &&Candidate| {
        c.frequency.is_some_and(|f| f + c.doubt <= accuracy) && c.coupling.is_none_or(|g| g <= accuracy)
    };
    candidates.iter().find(good)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seen: "FAILS" of a shell 0.167 % off where 0.15 % is allowed, its mesh and the solid's uncertain by 0.19 %.
    #[test]
    fn what_meshes_leave_open_is_no_verdict() {
        let mode = |mesh: [f64; 2]| ModelComparison {
            shell_hz: Some(100.167),
            solid_hz: Some(100.0),
            mesh,
            ..ModelComparison::default()
        };
        let holds =
            |mesh| assumptions(&[mode(mesh)], 0.0015).iter().find(|a| a.name == "the layer is thin").unwrap().holds();
        assert_eq!(holds([6e-4, 1.3e-3]), None);
        assert_eq!(holds([1e-5, 1e-5]), Some(false));
        let candidate = |doubt| Candidate { model: "shell", frequency: Some(0.0014), doubt, coupling: None };
        assert!(cheapest(&[candidate(2e-4)], 0.0015).is_none() && cheapest(&[candidate(0.0)], 0.0015).is_some());
    }
}
