//! An independent frame of shear-rigid beams in space, textbook 12 × 12 element matrices, assembled and condensed by
//! dense algebra. In: nodes in the plane, m, and rectangular beams between them. Out: the stiffness of chosen nodes.
//!
//! Source: Przemieniecki, *Theory of Matrix Structural Analysis* (1968), ch. 5 (element stiffness of a beam in space).

use nalgebra::{DMatrix, SMatrix};

/// A beam between two nodes.
#[derive(Clone, Copy, Debug)]
pub struct FrameBeam {
    /// Its nodes.
    pub nodes: [usize; 2],
    /// Width in the plane, m.
    pub width: f64,
    /// Height along z, m.
    pub height: f64,
    /// Young's modulus along it, Pa.
    pub youngs: f64,
    /// G J, N·m².
    pub twist: f64,
}

/// Saint-Venant's constant of a rectangle by its plain series.
pub fn torsion_series(width: f64, height: f64) -> f64 {
    let (a, b) = (width.max(height), width.min(height));
    let pi = std::f64::consts::PI;
    let sum: f64 =
        (0..4000).rev().map(|k| f64::from(2 * k + 1)).map(|n| (n * pi * a / (2.0 * b)).tanh() / n.powi(5)).sum();
    a * b.powi(3) / 3.0 * (1.0 - 192.0 / pi.powi(5) * b / a * sum)
}

/// Element stiffness in the frame of the layout; at each node along x, y, z, about x, y, z.
fn element(beam: &FrameBeam, from: [f64; 2], to: [f64; 2]) -> SMatrix<f64, 12, 12> {
    let l = (to[0] - from[0]).hypot(to[1] - from[1]);
    let (c, s) = ((to[0] - from[0]) / l, (to[1] - from[1]) / l);
    let (w, h, e) = (beam.width, beam.height, beam.youngs);
    let (ea, iy, iz) = (e * w * h, e * w * h.powi(3) / 12.0, e * h * w.powi(3) / 12.0);
    let mut k = SMatrix::<f64, 12, 12>::zeros();
    let mut put = |i: usize, j: usize, v: f64| {
        k[(i, j)] = v;
        k[(j, i)] = v;
    };
    for (axis, value) in [(0, ea / l), (3, beam.twist / l)] {
        put(axis, axis, value);
        put(axis + 6, axis + 6, value);
        put(axis, axis + 6, -value);
    }
    // In the plane: deflection along local y, turn about z; out of it: along z, turn about y with the other sign.
    for (u, turn, ei, sign) in [(1, 5, iz, 1.0), (2, 4, iy, -1.0)] {
        let (a, b) = (12.0 * ei / l.powi(3), sign * 6.0 * ei / l.powi(2));
        put(u, u, a);
        put(u + 6, u + 6, a);
        put(u, u + 6, -a);
        put(u, turn, b);
        put(u, turn + 6, b);
        put(u + 6, turn, -b);
        put(u + 6, turn + 6, -b);
        put(turn, turn, 4.0 * ei / l);
        put(turn + 6, turn + 6, 4.0 * ei / l);
        put(turn, turn + 6, 2.0 * ei / l);
    }
    let mut turn = SMatrix::<f64, 12, 12>::identity();
    for at in [0, 3, 6, 9] {
        turn[(at, at)] = c;
        turn[(at, at + 1)] = s;
        turn[(at + 1, at)] = -s;
        turn[(at + 1, at + 1)] = c;
    }
    turn.transpose() * k * turn
}

/// Stiffness of the `kept` nodes, six unknowns each in their order, with `held` nodes at rest and all others free.
///
/// # Errors
/// If the free nodes can move without strain.
pub fn condensed(
    nodes: &[[f64; 2]],
    beams: &[FrameBeam],
    kept: &[usize],
    held: &[usize],
) -> Result<DMatrix<f64>, &'static str> {
    let mut k = DMatrix::<f64>::zeros(6 * nodes.len(), 6 * nodes.len());
    for beam in beams {
        let own = element(beam, nodes[beam.nodes[0]], nodes[beam.nodes[1]]);
        for i in 0..12 {
            for j in 0..12 {
                k[(6 * beam.nodes[i / 6] + i % 6, 6 * beam.nodes[j / 6] + j % 6)] += own[(i, j)];
            }
        }
    }
    let unknowns = |chosen: &[usize]| chosen.iter().flat_map(|n| 6 * n..6 * n + 6).collect::<Vec<_>>();
    let free: Vec<usize> = (0..nodes.len()).filter(|n| !kept.contains(n) && !held.contains(n)).collect();
    let (a, b) = (unknowns(kept), unknowns(&free));
    let part = |rows: &[usize], columns: &[usize]| {
        DMatrix::from_fn(rows.len(), columns.len(), |i, j| k[(rows[i], columns[j])])
    };
    if b.is_empty() {
        return Ok(part(&a, &a));
    }
    let factor = part(&b, &b).cholesky().ok_or("the free nodes move without strain")?;
    Ok(part(&a, &a) - part(&a, &b) * factor.solve(&part(&b, &a)))
}
