//! The rigid motion nearest to the motion of a whole device, for the words of a mode where no mass is named.
//!
//! In: a sampled shape, kg^-½ over points in µm. Out: translation, turn and their energies, in one unit that only ratios need.

use super::Sampled;

/// A rigid motion fitted to the mid-layer of the whole device.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct RigidFit {
    /// Energy of the translations along x, y, z, in the unit of the squared shape times mass.
    pub along: [f64; 3],
    /// Energy of the turns about x, y, z, likewise.
    pub about: [f64; 3],
    /// Translation of the centre of area, in the unit of the shape.
    pub translation: [f64; 3],
    /// Turn about x, y, z through it, per µm.
    pub turn: [f64; 3],
    /// Share of the mean-square displacement that the rigid motion explains, 0 to 1.
    pub explained: f64,
}

/// Least-squares rigid motion of the whole mid-layer, weighted by area, and the share of the mean-square displacement
/// that it explains. One film has one density and thickness, so area stands for mass; rotary inertia is left out.
pub(super) fn fit(sampled: &Sampled, shape: &[[f64; 3]]) -> Option<RigidFit> {
    // The rule with the three mid-side points is exact to degree two (Strang and Fix 1973, table 4.1).
    let mut area = 0.0;
    let (mut cx, mut cy) = (0.0, 0.0);
    let mut nodes: Vec<(f64, [f64; 2], [f64; 3])> = Vec::with_capacity(3 * sampled.cells.len());
    for cell in &sampled.cells {
        let [a, b, c] =
            [cell[0], cell[1], cell[2]].map(|i| sampled.points.get(i as usize).copied().unwrap_or_default());
        let weight = ((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])) / 6.0;
        for &node in &cell[3..] {
            let (p, u) = (*sampled.points.get(node as usize)?, *shape.get(node as usize)?);
            area += weight;
            cx += weight * p[0];
            cy += weight * p[1];
            nodes.push((weight, p, u));
        }
    }
    if area <= 0.0 {
        return None;
    }
    let centre = [cx / area, cy / area];
    let mut mean = [0.0; 3];
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    let (mut zx, mut zy, mut polar, mut all) = (0.0, 0.0, 0.0, 0.0);
    for &(w, p, u) in &nodes {
        let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
        for k in 0..3 {
            mean[k] += w * u[k] / area;
        }
        xx += w * x * x;
        xy += w * x * y;
        yy += w * y * y;
        zx += w * x * u[2];
        zy += w * y * u[2];
        polar += w * (x * u[1] - y * u[0]);
        all += w * (u[0] * u[0] + u[1] * u[1] + u[2] * u[2]);
    }
    let det = xx * yy - xy * xy;
    if all <= 0.0 || det <= 0.0 {
        return None;
    }
    // z = about_x·y − about_y·x over the centred plane.
    let (slope_x, slope_y) = ((zx * yy - zy * xy) / det, (zy * xx - zx * xy) / det);
    let turn = [slope_y, -slope_x, polar / (xx + yy)];
    let along = mean.map(|m| area * m * m);
    // The two tilts share a cross term; halving it keeps their sum equal to the energy explained.
    let cross = slope_x * slope_y * xy;
    let about = [slope_y * slope_y * yy + cross, slope_x * slope_x * xx + cross, turn[2] * turn[2] * (xx + yy)];
    let explained = along.iter().chain(&about).sum::<f64>() / all;
    Some(RigidFit { along, about, translation: mean, turn, explained })
}

#[cfg(test)]
mod tests {
    use super::super::specimen::sampled_by;
    use super::*;
    use modalith_mesher::mesh::Mesh;
    use std::f64::consts::PI;

    #[test]
    fn half_waves_of_a_plate_move_it_by_a_known_share() {
        // sin(πx/a) sin(πy/b): the mean squared over the mean square is (2/π)⁴ × 4 = (8/π²)².
        let mesh = Mesh::rectangle(300.0, 160.0, 24, 12).unwrap();
        let half_wave = |p: [f64; 2]| [0.0, 0.0, (PI * p[0] / 300.0).sin() * (PI * p[1] / 160.0).sin()];
        let sampled = sampled_by(&mesh, &half_wave);
        let found = fit(&sampled, &sampled.modes[0]).unwrap();
        assert!((found.explained - (8.0 / (PI * PI)).powi(2)).abs() < 1e-3, "{}", found.explained);
        assert!((found.translation[2] - (2.0 / PI).powi(2)).abs() < 1e-3);
    }

    #[test]
    fn a_rigid_motion_is_found_as_it_is() {
        let mesh = Mesh::rectangle(300.0, 160.0, 6, 4).unwrap();
        let rigid = |p: [f64; 2]| {
            let (x, y) = (p[0] - 150.0, p[1] - 80.0);
            [1.0 - 0.02 * y, 2.0 + 0.02 * x, 3.0 + 0.01 * y - 0.04 * x]
        };
        let sampled = sampled_by(&mesh, &rigid);
        let found = fit(&sampled, &sampled.modes[0]).unwrap();
        for (f, w) in found.translation.iter().chain(&found.turn).zip([1.0, 2.0, 3.0, 0.01, 0.04, 0.02]) {
            assert!((f - w).abs() < 1e-12, "{f} {w}");
        }
        assert!((found.explained - 1.0).abs() < 1e-12);
    }
}
