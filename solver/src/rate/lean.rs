//! Leaning walls: an etch tilted by θ makes a flexure's section a parallelogram, whose product of inertia ties bending in the
//! plane to bending out of it. That is how a drive in the plane reaches a sense motion out of it, which no error of the outline does.
//!
//! In: mode shapes sampled on six-node triangles, the flexures, the law, the tilt. Out: what the lean adds to the stiffness
//! between the modes, in rad²/s² at unit modal mass.
//!
//! Both walls lean by the same angle towards +x, so across a flexure of normal n they lean by the share n·x: I_nz = w t³ tan θ (n·x)/12
//! (product of inertia of the parallelogram), and to first order k_ij = Σ ∫ E I_nz (v_i″ w_j″ + w_i″ v_j″) ds over its
//! straight stretches, v the shape across the flexure in the plane, w out of it. Shapes are fitted with polynomials in s: cubics, what a
//! beam without load along it takes, on stubby stretches, and higher ones on slender ones, whose own modes a list may hold: a cubic
//! gives a clamped bar's own mode a coupling with what bends the bar by its ends, where it has none.

use crate::element::quadrature::{gauss, legendre};
use crate::material::Law;
use crate::mode::Sampled;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::Flexure;
use nalgebra::DMatrix;

/// A stretch shorter than this many widths bends little and is left out.
const SHORTEST: f64 = 2.0;
/// A stretch leaves its chord by at most this share of the width.
const STRAIGHT: f64 = 0.25;
/// Narrowest and widest of a stretch differ by at most this share: bending of a taper or a step is no cubic.
const UNIFORM: f64 = 0.01;
/// Degree along a stretch at least, and at most: four half-waves of a clamped bar to a hundredth of their curvature.
const DEGREE: [usize; 2] = [3, 9];
/// A degree more than the least for every so many widths of length: a fit leaves out half a width at either end, and what goes
/// beyond where it is fitted grows with the degree.
const WIDTHS_A_DEGREE: f64 = 5.0;

/// Coupling through leaning walls.
#[derive(Clone, Debug, PartialEq)]
pub struct Lean {
    /// k_ij between all modes for this tilt, rad²/s² at unit modal mass, signed.
    pub coupling: DMatrix<f64>,
    /// What the lean adds to bending in the plane by itself, of second order in the tilt, likewise: Σ ∫ E w t³ tan² θ (n·x)²/12 v_i″ v_j″ ds.
    /// Where nothing holds bending out of the plane back, the coupling takes as much away: the section's least moment stays.
    pub raised: DMatrix<f64>,
    /// Share of the flexures' length that is straight enough, of one width and without openings, so that it counts; the rest is left
    /// out.
    pub counted: f64,
}

/// Coupling of the sampled modes through walls that lean by `tilt_rad` towards +x.
pub fn lean(
    mesh: &Mesh,
    sampled: &Sampled,
    flexures: &[Flexure],
    (law, thickness_um): (&Law, f64),
    tilt_rad: f64,
) -> Lean {
    let modes = sampled.modes.len();
    let mut points: Vec<Vec<u32>> = vec![Vec::new(); flexures.len()];
    for (cell, &t) in sampled.cells.iter().zip(&sampled.triangle_of) {
        if let Some(f) = mesh.flexure_of[t as usize] {
            points[usize::from(f)].extend(cell);
        }
    }
    let (mut coupling, mut length, mut counted) = (DMatrix::zeros(modes, modes), 0.0, 0.0);
    let mut raised = DMatrix::zeros(modes, modes);
    for (flexure, own) in flexures.iter().zip(&mut points) {
        own.sort_unstable();
        own.dedup();
        for (from, to) in straight(flexure) {
            let ends = [flexure.centre_line[from], flexure.centre_line[to]];
            let along = [ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]];
            let (long, width) = (along[0].hypot(along[1]), mean_width(flexure, from, to));
            length += long;
            if long < SHORTEST * width || flexure.is_perforated() || !is_uniform(flexure, from, to) {
                continue;
            }
            let stretch = Stretch { from: ends[0], along: along.map(|x| x / long), long, width };
            let Some(bent) = stretch.bent(sampled, own) else { continue };
            counted += long;
            // Young's modulus along the stretch: the compliance there of the law seen from its axes.
            let modulus = law.turned_with_layout(-stretch.along[1].atan2(stretch.along[0]).to_degrees());
            let tangent = tilt_rad.tan() * -stretch.along[1];
            let product = width * 1e-6 * (thickness_um * 1e-6).powi(3) / 12.0 * tangent;
            let size = modulus.youngs_modulus_x_pa() * product * long * 1e-6;
            for (i, [v_i, w_i]) in bent.iter().enumerate() {
                for (j, [v_j, w_j]) in bent.iter().enumerate() {
                    coupling[(i, j)] += size * (together(v_i, w_j) + together(w_i, v_j));
                    raised[(i, j)] += size * tangent * together(v_i, v_j);
                }
            }
        }
    }
    Lean { coupling, raised, counted: if length > 0.0 { counted / length } else { 0.0 } }
}

/// The most that walls leaning towards +x by an angle of this tangent change a flexure against its own stiffness: the product of inertia
/// over the root of both moments, I_nz/(I_n I_z)^½ = (t/w) tan θ (n·x).
pub fn against_own_bending(flexure: &Flexure, thickness_um: f64, tangent: f64) -> f64 {
    let upright = flexure.centre_line.windows(2).map(|p| {
        let d = [p[1][0] - p[0][0], p[1][1] - p[0][1]];
        (d[1] / d[0].hypot(d[1])).abs()
    });
    thickness_um / flexure.narrowest_um() * tangent.abs() * upright.fold(0.0, f64::max)
}

/// Stretches of a flexure that are straight but for a small share of the width, whatever that does: first and last point of the middle
/// line. Teeth of a wall and chords of an arc are no stretches of their own.
fn straight(flexure: &Flexure) -> Vec<(usize, usize)> {
    let line = &flexure.centre_line;
    let on_line = |from: usize, to: usize| {
        let d = [0, 1].map(|k| line[to][k] - line[from][k]);
        let long = d[0].hypot(d[1]);
        let within = |p: &[f64; 2]| {
            let (x, y) = (p[0] - line[from][0], p[1] - line[from][1]);
            let along = (x * d[0] + y * d[1]) / long;
            (0.0..=long).contains(&along) && (x * d[1] - y * d[0]).abs() <= STRAIGHT * flexure.width_um * long
        };
        line[from + 1..to].iter().all(within)
    };
    let mut out: Vec<(usize, usize)> = Vec::new();
    for i in 1..line.len() {
        match out.last_mut().filter(|(from, _)| on_line(*from, i)) {
            Some(stretch) => stretch.1 = i,
            None => out.push((i - 1, i)),
        }
    }
    out
}

/// Whether the width stays as it is between two points of the middle line.
fn is_uniform(flexure: &Flexure, from: usize, to: usize) -> bool {
    let widths = &flexure.widths_um[from..=to];
    let [least, most] = [f64::min, f64::max].map(|of| widths.iter().copied().reduce(of).unwrap_or(0.0));
    most <= (1.0 + UNIFORM) * least
}

/// Mean width between two points of the middle line, weighted by length, µm.
fn mean_width(flexure: &Flexure, from: usize, to: usize) -> f64 {
    let (line, widths) = (&flexure.centre_line, &flexure.widths_um);
    let (area, length) = (from..to).fold((0.0, 0.0), |(area, length), i| {
        let l = (line[i + 1][0] - line[i][0]).hypot(line[i + 1][1] - line[i][1]);
        (area + 0.5 * (widths[i] + widths[i + 1]) * l, length + l)
    });
    area / length
}

/// Mean over a stretch of the product of two curvatures.
fn together(one: &[f64], other: &[f64]) -> f64 {
    gauss(one.len()).iter().zip(one.iter().zip(other)).map(|((_, weight), (a, b))| 0.5 * weight * a * b).sum()
}

/// A straight stretch of a flexure, µm.
struct Stretch {
    from: [f64; 2],
    along: [f64; 2],
    long: f64,
    width: f64,
}

impl Stretch {
    /// Degree of the polynomial along it.
    fn degree(&self) -> usize {
        let [least, most] = DEGREE;
        (least + (self.long / self.width / WIDTHS_A_DEGREE) as usize).min(most)
    }

    /// Curvatures of every mode at Gauss points along, m⁻²·kg^-½: across in the plane, and out of it; `None` where too few points lie
    /// there.
    fn bent(&self, sampled: &Sampled, points: &[u32]) -> Option<Vec<[Vec<f64>; 2]>> {
        let place = |p: u32| {
            let [x, y] = sampled.points[p as usize];
            let (dx, dy) = (x - self.from[0], y - self.from[1]);
            (dx * self.along[0] + dy * self.along[1], dy * self.along[0] - dx * self.along[1])
        };
        // Ends are left out by half a width: roots and corners are no beams.
        let rim = 0.5 * self.width;
        let inside = |p: &u32| {
            let (s, n) = place(*p);
            s > rim && s < self.long - rim && n.abs() < 0.75 * self.width
        };
        let own: Vec<u32> = points.iter().copied().filter(inside).collect();
        let degree = self.degree();
        // Along, and a twist of two degrees less.
        let (along, fit) = (degree + 1, 2 * degree);
        if own.len() < 2 * fit {
            return None;
        }
        let half = 0.5 * self.long;
        let matrix = DMatrix::from_fn(own.len(), fit, |i, k| {
            let (s, n) = place(own[i]);
            let s = (s - half) / half;
            if k < along { legendre(k, s).0 } else { n / self.width * legendre(k - along, s).0 }
        });
        // Two columns a mode: across, then up.
        let values = DMatrix::from_fn(own.len(), 2 * sampled.modes.len(), |i, k| {
            let u = sampled.modes[k / 2][own[i] as usize];
            if k % 2 == 0 { u[1] * self.along[0] - u[0] * self.along[1] } else { u[2] }
        });
        let fitted = matrix.svd(true, true).solve(&values, 1e-10).ok()?;
        let scale = (half * 1e-6).powi(-2);
        // Legendre's equation gives the second derivative.
        let bend = |k: usize, s: f64| {
            let (value, slope) = legendre(k, s);
            (2.0 * s * slope - (k * (k + 1)) as f64 * value) / (1.0 - s * s)
        };
        let rule = gauss(degree);
        let curvature = |column: usize| -> Vec<f64> {
            rule.iter()
                .map(|(s, _)| scale * (2..along).map(|k| fitted[(k, column)] * bend(k, *s)).sum::<f64>())
                .collect()
        };
        Some((0..sampled.modes.len()).map(|m| [curvature(2 * m), curvature(2 * m + 1)]).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use modalith_mesher::geometry::Polygon;
    use modalith_mesher::outline::{FlexureEnd, Joins};

    /// Shapes at the corners and mid-sides of a mesh.
    fn sampled(mesh: &Mesh, modes: Vec<Vec<[f64; 3]>>) -> Sampled {
        let corners = mesh.points.len() as u32;
        let points: Vec<[f64; 2]> = mesh.points.iter().copied().chain(mesh.edges.iter().map(|e| e.middle)).collect();
        let cell = |(t, e): (&[u32; 3], &[u32; 3])| [t[0], t[1], t[2], corners + e[0], corners + e[1], corners + e[2]];
        Sampled {
            cells: mesh.triangles.iter().zip(&mesh.triangle_edges).map(cell).collect(),
            triangle_of: (0..mesh.triangles.len() as u32).collect(),
            tilts: vec![vec![[0.0; 2]; points.len()]; modes.len()],
            modes,
            points,
        }
    }

    /// A guided beam along y moved by 1 at its far end across and by 1 upwards: with shapes 3s² − 2s³ the coupling is
    /// 12 E I_xz/L³ (mixed entry of the beam's stiffness), I_xz = w t³ tan θ/12 for the parallelogram; along x nothing leans.
    #[test]
    fn a_guided_beam() {
        let (length, width, thickness) = (120.0, 4.0, 20.0);
        for upright in [true, false] {
            let (a, b) = if upright { (width, length) } else { (length, width) };
            let mut mesh = Mesh::rectangle(a, b, if upright { 1 } else { 20 }, if upright { 20 } else { 1 }).unwrap();
            mesh.flexure_of = vec![Some(0); mesh.triangles.len()];
            let points: Vec<[f64; 2]> =
                mesh.points.iter().copied().chain(mesh.edges.iter().map(|e| e.middle)).collect();
            let low = points.iter().fold([f64::INFINITY; 2], |l, p| [l[0].min(p[0]), l[1].min(p[1])]);
            let shape = |p: &[f64; 2]| {
                let s = if upright { p[1] - low[1] } else { p[0] - low[0] } / length;
                3.0 * s * s - 2.0 * s * s * s
            };
            let moved = |p: &[f64; 2]| if upright { [shape(p), 0.0, 0.0] } else { [0.0, shape(p), 0.0] };
            let sampled = sampled(
                &mesh,
                vec![points.iter().map(moved).collect(), points.iter().map(|p| [0.0, 0.0, shape(p)]).collect()],
            );
            let middle = [low[0] + 0.5 * a, low[1] + 0.5 * b];
            let ends = if upright {
                [[middle[0], low[1]], [middle[0], low[1] + length]]
            } else {
                [[low[0], middle[1]], [low[0] + length, middle[1]]]
            };
            let flexure = Flexure {
                area: Polygon::solid(vec![]),
                centre_line: ends.to_vec(),
                widths_um: vec![width; 2],
                length_um: length,
                width_um: width,
                ligament_um: None,
                ends: [0, 1].map(|e| FlexureEnd { root: [ends[e]; 2], joins: Joins::Anchor }),
            };
            let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
            let tilt = 0.5_f64.to_radians();
            // A middle line that zigzags with the teeth of a wall is one stretch too.
            let share = |k: usize| f64::from(k as u32) / 60.0;
            let tooth = |k: usize| if k.is_multiple_of(2) { 0.0 } else { 0.2 };
            let zigzag = (0..=60).map(|k| {
                let p = [0, 1].map(|c| ends[0][c] + share(k) * (ends[1][c] - ends[0][c]));
                if upright { [p[0] + tooth(k), p[1]] } else { [p[0], p[1] + tooth(k)] }
            });
            let sawn = Flexure { centre_line: zigzag.collect(), widths_um: vec![width; 61], ..flexure.clone() };
            let sawn = lean(&mesh, &sampled, &[sawn], (&law, thickness), tilt);
            let found = lean(&mesh, &sampled, &[flexure], (&law, thickness), tilt);
            let largest = found.coupling.amax().max(f64::MIN_POSITIVE);
            assert!(sawn.counted == 1.0 && (&sawn.coupling - &found.coupling).amax() < 1e-9 * largest, "{sawn:?}");
            let product = width * thickness.powi(3) * 1e-24 / 12.0 * tilt.tan();
            // Seen along +y the flexure's normal is −x, and both the shape and the lean turn with it.
            let exact = if upright { 12.0 * 160e9 * product / (length * 1e-6).powi(3) } else { 0.0 };
            assert_eq!(found.coupling, found.coupling.transpose());
            assert!(
                (found.coupling[(0, 1)] - exact).abs() < 1e-9 * 12.0 * 160e9 * product / (length * 1e-6).powi(3),
                "{found:?} {exact}"
            );
            assert_eq!(found.counted, 1.0);
        }
    }
}
