//! What a bias does for a design, on the modes' own basis: bias for a wanted split, volts for a drive amplitude, bias that cancels
//! a coupling. Amplitudes q as in [`super::Reading`]. Modes left out of the basis stiffen what they would soften: the split
//! converges from one side as modes are added.

use nalgebra::{DMatrix, SymmetricEigen};
use std::f64::consts::TAU;

/// Largest bias that is tried, V.
const MOST_V: f64 = 1e4;

/// Frequencies, Hz, in the order of the modes they come from, at a change of V² of an electrode by `square_v2`: those of
/// diag(ω²) − ½ V² ∂²C/∂q∂q. A mode keeps its place by its largest share; `None` where one falls to zero.
pub fn softened_frequencies_hz(frequencies_hz: &[f64], curvature: &DMatrix<f64>, square_v2: f64) -> Option<Vec<f64>> {
    let n = frequencies_hz.len();
    let stiffness = DMatrix::from_fn(n, n, |i, j| {
        let own = if i == j { (TAU * frequencies_hz[i]).powi(2) } else { 0.0 };
        own - 0.5 * square_v2 * curvature[(i, j)]
    });
    let eigen = SymmetricEigen::new(stiffness);
    let mut order: Vec<usize> = (0..n).collect();
    let mut out = vec![0.0; n];
    for (mode, slot) in out.iter_mut().enumerate() {
        let share = |k: &usize| eigen.eigenvectors[(mode, *k)].abs();
        let (place, &k) = order.iter().enumerate().max_by(|a, b| share(a.1).total_cmp(&share(b.1)))?;
        let lambda = eigen.eigenvalues[k];
        if lambda <= 0.0 {
            return None;
        }
        *slot = lambda.sqrt() / TAU;
        order.remove(place);
    }
    Some(out)
}

/// Bias, V, of an electrode at which mode `pair[1]` lies `split_hz` above mode `pair[0]`, from modes found with `present_v` on it;
/// `curvature` is ∂²C/∂q∂q, F·m⁻²·kg⁻¹, modes × modes: softening is −½ V² ∂²C/∂q∂q ([`crate::electrode`]). The lowest such bias, `None` where none brings it about before a mode falls to zero.
pub fn bias_for_split(
    frequencies_hz: &[f64],
    curvature: &DMatrix<f64>,
    pair: [usize; 2],
    split_hz: f64,
    present_v: f64,
) -> Option<f64> {
    let off = |square: f64| {
        softened_frequencies_hz(frequencies_hz, curvature, square - present_v * present_v)
            .map(|f| f[pair[1]] - f[pair[0]] - split_hz)
    };
    let start = off(0.0)?;
    if start == 0.0 {
        return Some(0.0);
    }
    // Steps of V² that move neither mode by more than a hundredth of ω².
    let rate = |i: usize| 0.5 * curvature[(i, i)].abs() / (TAU * frequencies_hz[i]).powi(2);
    let step = 0.01 / pair.into_iter().map(rate).fold(f64::MIN_POSITIVE, f64::max);
    let mut low = 0.0;
    while low < MOST_V * MOST_V {
        let high = low + step;
        if off(high)?.signum() == start.signum() {
            low = high;
            continue;
        }
        let (mut a, mut b) = (low, high);
        for _ in 0..60 {
            let middle = 0.5 * (a + b);
            if off(middle)?.signum() == start.signum() { a = middle } else { b = middle }
        }
        return Some((0.5 * (a + b)).sqrt());
    }
    None
}

/// A change of capacitance by deflection, as a share, up to which a gap counts as it is: softening goes with its third power.
pub const SMALL_DEFLECTION: f64 = 0.01;

/// By what share of itself the capacitance `capacitance_f` (F) of an electrode of gradients ∂C/∂q (F·m⁻¹·kg^-½) changes while the part
/// follows its bias from one value to another, V: Σ (∂C/∂q_i)² (V² − V₀²)/(2 ω_i² C), force balance to first order. Where it is not
/// small, gap and softening are others than those that a bias was reckoned with. `None` where something floats or covers nothing.
pub fn change_by_deflection(
    frequencies_hz: &[f64],
    gradient: &[f64],
    capacitance_f: f64,
    [from_v, to_v]: [f64; 2],
) -> Option<f64> {
    let compliance: f64 =
        frequencies_hz.iter().zip(gradient).map(|(hz, g)| (g / (TAU * hz)).powi(2)).filter(|x| *x > 0.0).sum();
    let share = 0.5 * compliance * (to_v.powi(2) - from_v.powi(2)).abs() / capacitance_f;
    share.is_finite().then_some(share)
}

/// Amplitude of the alternating voltage, V peak, that holds a mode at amplitude `q` (peak, m·kg^½) at its resonance: a bias times
/// an alternating voltage on electrodes whose gradients, each with the sign of its alternating voltage, add up with their biases
/// to `bias_gradient` = Σ ± V ∂C/∂q (V·F·m⁻¹·kg^-½). Force V v ∂C/∂q = ω² q/Q. Terms in v² at twice the frequency, which opposite
/// drives cancel, are left out. `None` without a gradient.
pub fn drive_volts(frequency_hz: f64, quality_factor: f64, q: f64, bias_gradient: f64) -> Option<f64> {
    (bias_gradient != 0.0).then(|| (TAU * frequency_hz).powi(2) * q / (quality_factor * bias_gradient.abs()))
}

/// Bias, V, of an electrode whose softening −½ V² ∂²C/∂q_d∂q_s takes away a coupling k_ds (s⁻², the off-diagonal of the modal
/// stiffness) of a part found with `present_v` on it; `mixed_curvature` is ∂²C/∂q_d∂q_s, F·m⁻²·kg⁻¹. `None` where its sign is the wrong one. Softening
/// as in S. D. Senturia, *Microsystem Design*, 2001, ch. 6.
pub fn bias_to_cancel(coupling_per_s2: f64, mixed_curvature: f64, present_v: f64) -> Option<f64> {
    let square = present_v * present_v + 2.0 * coupling_per_s2 / mixed_curvature;
    (square.is_finite() && square >= 0.0).then(|| square.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two modes, the upper softened alone: f² − V² c/(8π²) = (f₁ + split)², solved by hand.
    #[test]
    fn split_by_bias_as_by_hand() {
        let curvature = DMatrix::from_row_slice(2, 2, &[0.0, 0.0, 0.0, 3e6]);
        let v = bias_for_split(&[10_000.0, 11_000.0], &curvature, [0, 1], 600.0, 0.0).unwrap();
        let exact = (2.0 * TAU * TAU * (11_000f64.powi(2) - 10_600f64.powi(2)) / 3e6).sqrt();
        assert!((v / exact - 1.0).abs() < 1e-9, "{v} {exact}");
        assert_eq!(bias_for_split(&[10_000.0, 11_000.0], &curvature, [0, 1], 1200.0, 0.0), None);
        // The same from modes that half of V² has softened already.
        let present = (0.5 * v * v).sqrt();
        let found = softened_frequencies_hz(&[10_000.0, 11_000.0], &curvature, 0.5 * v * v).unwrap();
        let again = bias_for_split(&found, &curvature, [0, 1], 600.0, present).unwrap();
        assert!((again / v - 1.0).abs() < 1e-9, "{again} {v}");
        let f = softened_frequencies_hz(&[10_000.0, 11_000.0], &curvature, v * v).unwrap();
        assert!((f[1] - f[0] - 600.0).abs() < 1e-6);
    }

    /// Drive: at resonance the force balances damping, F = ω q ω/Q.
    #[test]
    fn drive_and_coupling_as_by_hand() {
        let (f, quality, q, gradient) = (10e3, 5000.0, 3e-10, 2e-3);
        let v = drive_volts(f, quality, q, 10.0 * gradient).unwrap();
        let work_in = std::f64::consts::PI * 10.0 * v * gradient * q;
        let lost = std::f64::consts::PI * (TAU * f).powi(2) / quality * q * q;
        assert!((work_in / lost - 1.0).abs() < 1e-12);
        assert_eq!(drive_volts(f, quality, q, 0.0), None);
        let v = bias_to_cancel(4e5, 2e4, 0.0).unwrap();
        assert!((4e5 - 0.5 * v * v * 2e4).abs() < 1e-6);
        assert_eq!(bias_to_cancel(4e5, -2e4, 0.0), None);
        assert!((bias_to_cancel(4e5, 2e4, 3.0).unwrap() - (v * v + 9.0).sqrt()).abs() < 1e-9);
    }
}
