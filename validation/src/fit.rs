//! Rate of convergence: the slope of log(error) against log(size), fitted by least squares.

/// The fitted slope over the points whose error lies between `least` and `most`; `None` with fewer than three.
///
/// ```
/// use modalith_validation::fit::slope;
/// let points: Vec<(f64, f64)> = [0.5_f64, 0.25, 0.125].iter().map(|h| (*h, 3.0 * h.powi(4))).collect();
/// assert!((slope(&points, 1e-9, 1.0).unwrap() - 4.0).abs() < 1e-12);
/// ```
pub fn slope(size_and_error: &[(f64, f64)], least: f64, most: f64) -> Option<f64> {
    let logs: Vec<(f64, f64)> =
        size_and_error.iter().filter(|(_, e)| (least..=most).contains(e)).map(|(h, e)| (h.ln(), e.ln())).collect();
    if logs.len() < 3 {
        return None;
    }
    let n = logs.len() as f64;
    let (mx, my) = (logs.iter().map(|l| l.0).sum::<f64>() / n, logs.iter().map(|l| l.1).sum::<f64>() / n);
    let (top, bottom) =
        logs.iter().fold((0.0, 0.0), |(t, b), l| (t + (l.0 - mx) * (l.1 - my), b + (l.0 - mx) * (l.0 - mx)));
    Some(top / bottom)
}
