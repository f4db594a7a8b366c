//! The motion inside a mesh from that of its border: v = reach² Δv on linear triangles with lumped mass, by conjugate
//! gradients with the diagonal as preconditioner (Hestenes & Stiefel, J. Res. NBS 49 (1952) 409).

use crate::geometry::{Point, dot};
use crate::mesh::Mesh;

/// Residual left, as a share of the first.
const LEFT: f64 = 1e-12;

/// Motion of all corners: as given on the border, zero where `near` does not hold, and in between what solves the equation.
pub(super) fn extended(
    mesh: &Mesh,
    on_border: &[Option<Point>],
    reach: f64,
    near: impl Fn(Point) -> bool,
) -> Vec<Point> {
    let mut v: Vec<Point> = on_border.iter().map(|m| m.unwrap_or_default()).collect();
    let mut number = vec![usize::MAX; v.len()];
    let mut free = Vec::new();
    for (c, p) in mesh.points.iter().enumerate() {
        if on_border[c].is_none() && near(*p) {
            number[c] = free.len();
            free.push(c);
        }
    }
    // Rows of the matrix by free corner: diagonal first, then the neighbours' shares.
    let mut diagonal = vec![0.0; free.len()];
    let mut off: Vec<Vec<(usize, f64)>> = vec![Vec::new(); free.len()];
    let mut load = vec![[0.0; 2]; free.len()];
    for corners in &mesh.triangles {
        if corners.iter().all(|&c| number[c as usize] == usize::MAX) {
            continue;
        }
        let p = corners.map(|c| mesh.points[c as usize]);
        let twice = (p[1][0] - p[0][0]) * (p[2][1] - p[0][1]) - (p[2][0] - p[0][0]) * (p[1][1] - p[0][1]);
        let slope = |k: usize| {
            let (a, b) = (p[(k + 1) % 3], p[(k + 2) % 3]);
            [a[1] - b[1], b[0] - a[0]]
        };
        for i in 0..3 {
            let row = number[corners[i] as usize];
            if row == usize::MAX {
                continue;
            }
            diagonal[row] += twice / 6.0 / (reach * reach);
            for (j, &other) in corners.iter().enumerate() {
                let (g, h) = (slope(i), slope(j));
                let share = 0.5 * dot(g, h) / twice;
                let other = other as usize;
                if i == j {
                    diagonal[row] += share;
                } else if number[other] == usize::MAX {
                    (0..2).for_each(|k| load[row][k] -= share * v[other][k]);
                } else {
                    match off[row].iter_mut().find(|o| o.0 == number[other]) {
                        Some(found) => found.1 += share,
                        None => off[row].push((number[other], share)),
                    }
                }
            }
        }
    }
    for k in 0..2 {
        let solved = solve(&diagonal, &off, load.iter().map(|l| l[k]).collect());
        free.iter().zip(solved).for_each(|(&c, x)| v[c][k] = x);
    }
    v
}

fn solve(diagonal: &[f64], off: &[Vec<(usize, f64)>], load: Vec<f64>) -> Vec<f64> {
    let n = diagonal.len();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let mut x = vec![0.0; n];
    let mut residual = load;
    let scaled = |r: &[f64]| r.iter().zip(diagonal).map(|(r, d)| r / d).collect::<Vec<f64>>();
    let mut z = scaled(&residual);
    let mut direction = z.clone();
    let mut rz = dot(&residual, &z);
    let enough = rz * LEFT * LEFT;
    // In exact arithmetic n steps are enough.
    for _ in 0..2 * n {
        if rz <= enough || rz <= 0.0 {
            break;
        }
        let product: Vec<f64> = (0..n)
            .map(|i| diagonal[i] * direction[i] + off[i].iter().map(|(j, a)| a * direction[*j]).sum::<f64>())
            .collect();
        let step = rz / dot(&direction, &product);
        for i in 0..n {
            x[i] += step * direction[i];
            residual[i] -= step * product[i];
        }
        z = scaled(&residual);
        let next = dot(&residual, &z);
        let keep = next / rz;
        rz = next;
        direction.iter_mut().zip(&z).for_each(|(d, z)| *d = z + keep * *d);
    }
    x
}
