//! Gauss quadrature: on the line [-1, 1], and on the reference triangle (0,0), (1,0), (0,1) by collapsing a square.

/// Points and weights of the n-point Gauss-Legendre rule on [-1, 1], exact to degree 2n - 1.
///
/// Nodes by Newton's method on the Legendre recurrence (Abramowitz & Stegun 25.4.29).
pub fn gauss(n: usize) -> Vec<(f64, f64)> {
    (0..n)
        .map(|i| {
            let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..100 {
                let (p, d) = legendre(n, x);
                slope = d;
                let step = p / d;
                x -= step;
                if step.abs() < 1e-15 {
                    slope = legendre(n, x).1;
                    break;
                }
            }
            (-x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

/// Value and slope of the Legendre polynomial of degree n.
pub fn legendre(n: usize, x: f64) -> (f64, f64) {
    let (mut p0, mut p1, mut d0, mut d1) = (1.0, x, 0.0, 1.0);
    if n == 0 {
        return (1.0, 0.0);
    }
    for k in 1..n {
        let kf = k as f64;
        let p2 = ((2.0 * kf + 1.0) * x * p1 - kf * p0) / (kf + 1.0);
        let d2 = d0 + (2.0 * kf + 1.0) * p1;
        (p0, p1, d0, d1) = (p1, p2, d1, d2);
    }
    (p1, d1)
}

/// Points (r, s) and weights on the reference triangle (weights add up to 1/2), exact to the given total degree.
pub fn triangle(degree: usize) -> Vec<([f64; 2], f64)> {
    // Collapsing the square multiplies by (1 - b), one degree more along b.
    let along_a = gauss(degree / 2 + 1);
    let along_b = gauss(degree.div_ceil(2) + 1);
    let mut rule = Vec::with_capacity(along_a.len() * along_b.len());
    for &(b, wb) in &along_b {
        for &(a, wa) in &along_a {
            let (a, b) = (0.5 * (1.0 + a), 0.5 * (1.0 + b));
            rule.push(([a * (1.0 - b), b], 0.25 * wa * wb * (1.0 - b)));
        }
    }
    rule
}

#[cfg(test)]
mod tests {
    use super::*;

    fn factorial(n: usize) -> f64 {
        (1..=n).map(|k| k as f64).product()
    }

    /// ∫ r^i s^j = i! j! / (i + j + 2)! over the reference triangle.
    #[test]
    fn monomials_on_the_triangle() {
        for degree in 0..=14 {
            let rule = triangle(degree);
            for i in 0..=degree {
                let j = degree - i;
                let sum: f64 = rule.iter().map(|(p, w)| w * p[0].powi(i as i32) * p[1].powi(j as i32)).sum();
                let exact = factorial(i) * factorial(j) / factorial(degree + 2);
                assert!((sum / exact - 1.0).abs() < 1e-12, "{i} {j}: {sum} {exact}");
            }
        }
    }
}
