//! A flexure as a spring between its two ends, by unit loads on a shear-rigid beam that follows its centre-line.
//!
//! In: straight stretches with their widths, m; the layer's moduli. Out: the 6 × 6 flexibility of one end against the
//! other, the 12 × 12 stiffness and mass matrices of both ends in the frame of the layout (each end: along x, y, z, about
//! x, y, z), and the static shape between them.
//!
//! With B_q(p) the section's tension, twist and two bendings at p per load at q, and D the section's flexibility, a load
//! at the far end moves a point q by G(q) = ∫ B_qᵀ D B₁ ds (Castigliano; any textbook of statics). Widths that change
//! linearly are integrated by Gauss' rule on pieces over which they change by a fifth at most: exact to rounding.
//! The mass matrix is that of the static shape N, M = ∫ ρ A Nᵀ N ds, condensed to the ends: 13/35 and 9/70 of a guided
//! flexure's mass, 1/3 and 1/6 along the axis. The section's own rotary part is kept in twist alone.

use crate::element::quadrature::gauss;
use crate::section::Moduli;
use nalgebra::{Cholesky, Matrix3, Matrix6, RowSVector, SMatrix, SVector, U6, Vector3};

/// Twelve motions of two ends by twelve.
pub type Matrix12 = SMatrix<f64, 12, 12>;
/// Motions of both ends.
pub type Vector12 = SVector<f64, 12>;
/// Six motions of a section by twelve of the ends.
pub(super) type SectionMotion = SMatrix<f64, 6, 12>;
/// Tension, twist, bending out of the plane and in it, per load.
type Loads = SMatrix<f64, 4, 6>;

/// Points of Gauss' rule: exact for the mass of a uniform stretch (degree 6), and for 1/w³ over a fifth of width.
const POINTS: usize = 6;
/// Largest change of width over one piece, as a share of the narrower end.
const CHANGE: f64 = 0.2;

/// A straight piece of a flexure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Start and end, m.
    pub from_to_m: [[f64; 2]; 2],
    /// Width at start and end, m; linear between.
    pub widths_m: [f64; 2],
    /// Moduli along it.
    pub moduli: Moduli,
}

impl Spring {
    /// Its narrowest and its widest, m.
    pub fn width_range_m(&self) -> [f64; 2] {
        let widths = || self.stretches.iter().flat_map(|s| s.widths_m);
        [widths().fold(f64::INFINITY, f64::min), widths().fold(0.0, f64::max)]
    }
}

impl Stretch {
    /// Torsional stiffness at its mean width in a layer of a thickness in m, N m².
    pub fn twist_nm2(&self, thickness_m: f64) -> f64 {
        self.moduli.twist_nm2(0.5 * (self.widths_m[0] + self.widths_m[1]), thickness_m)
    }

    /// Its length, m.
    pub fn length_m(&self) -> f64 {
        let [a, b] = self.from_to_m;
        (b[0] - a[0]).hypot(b[1] - a[1])
    }

    /// Unit vector along it.
    pub fn axis(&self) -> [f64; 2] {
        let ([a, b], l) = (self.from_to_m, self.length_m());
        [(b[0] - a[0]) / l, (b[1] - a[1]) / l]
    }

    pub(super) fn at(&self, share: f64) -> [f64; 2] {
        let [a, b] = self.from_to_m;
        [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]
    }

    pub(super) fn width_at(&self, share: f64) -> f64 {
        self.widths_m[0] + share * (self.widths_m[1] - self.widths_m[0])
    }

    fn pieces(&self) -> usize {
        let [a, b] = self.widths_m;
        ((a.max(b) / a.min(b) - 1.0) / CHANGE).ceil().max(1.0) as usize
    }

    /// Section loads at `share` of the stretch per load (force, moment) at `to`.
    fn loads(&self, share: f64, to: [f64; 2]) -> Loads {
        let ([c, s], p) = (self.axis(), self.at(share));
        let (axis, side, normal) = (Vector3::new(c, s, 0.0), Vector3::new(-s, c, 0.0), Vector3::z());
        let arm = cross(to, p);
        let mut b = Loads::zeros();
        b.fixed_view_mut::<1, 3>(0, 0).copy_from(&axis.transpose());
        for (row, along) in [axis, side, normal].iter().enumerate() {
            b.fixed_view_mut::<1, 3>(row + 1, 0).copy_from(&(along.transpose() * arm));
            b.fixed_view_mut::<1, 3>(row + 1, 3).copy_from(&along.transpose());
        }
        b
    }
}

/// The matrix of (p − q) × at mid-layer.
fn cross(p: [f64; 2], q: [f64; 2]) -> Matrix3<f64> {
    Vector3::new(p[0] - q[0], p[1] - q[1], 0.0).cross_matrix()
}

/// Motion of a rigid body at `to` from its motion at `from`.
pub(super) fn carried(to: [f64; 2], from: [f64; 2]) -> Matrix6<f64> {
    let mut r = Matrix6::identity();
    r.fixed_view_mut::<3, 3>(0, 3).copy_from(&-cross(to, from));
    r
}

/// A flexure as a spring with mass. Limits: shear-rigid, rigid roots, small motion.
#[derive(Clone, Debug)]
pub struct Spring {
    /// Its stretches, from end 0 to end 1.
    pub stretches: Vec<Stretch>,
    /// Layer thickness, m.
    pub thickness_m: f64,
    /// Flexibility of end 1 with end 0 held, m/N and so on.
    pub flexibility: Matrix6<f64>,
    /// Stiffness of both ends, N/m and so on.
    pub stiffness: Matrix12,
    /// Mass matrices of motion along x, y, z, kg and so on; their sum is the mass matrix.
    pub mass_by_direction: [Matrix12; 3],
    /// ∫ ρ u_b u_c dV for (b, c) = (y, z), (z, x), (x, y), bilinear in the motions of both ends: the left gives u_b.
    pub mass_crossed: [Matrix12; 3],
    /// Mass, kg.
    pub mass_kg: f64,
    /// The part of the flexibility that is twist.
    twist: Matrix6<f64>,
    factor: Cholesky<f64, U6>,
    /// G at the start of every stretch.
    starts: Vec<Matrix6<f64>>,
}

impl Spring {
    /// A spring along `stretches` that join end to end; its mass is spread in proportion to the width.
    /// `None` if there are none or one has no length or width, so that it has no stiffness.
    pub fn new(stretches: Vec<Stretch>, thickness_m: f64, mass_kg: f64) -> Option<Self> {
        let end = stretches.last()?.from_to_m[1];
        let sound = |s: &Stretch| s.length_m() > 0.0 && s.widths_m.iter().all(|w| *w > 0.0);
        if !stretches.iter().all(sound) {
            return None;
        }
        let none = || Matrix6::zeros();
        let mut spring = Self {
            thickness_m,
            flexibility: none(),
            stiffness: Matrix12::zeros(),
            mass_by_direction: [Matrix12::zeros(); 3],
            mass_crossed: [Matrix12::zeros(); 3],
            mass_kg,
            twist: none(),
            factor: Cholesky::new(Matrix6::identity())?,
            starts: Vec::new(),
            stretches,
        };
        let mut reached = (none(), spring.stretches[0].from_to_m[0]);
        for stretch in &spring.stretches {
            let here = stretch.from_to_m[0];
            spring.starts.push(carried(here, reached.1) * reached.0);
            let to = stretch.from_to_m[1];
            let whole = carried(to, here) * spring.starts[spring.starts.len() - 1];
            reached = (whole + spring.bent(stretch, 1.0, to, end, false), to);
            spring.twist += spring.bent(stretch, 1.0, end, end, true);
        }
        spring.flexibility = 0.5 * (reached.0 + reached.0.transpose());
        spring.factor = Cholesky::new(spring.flexibility)?;
        let difference = spring.difference();
        let stiffness = difference.transpose() * spring.factor.solve(&difference);
        spring.stiffness = 0.5 * (stiffness + stiffness.transpose());
        spring.fill_mass();
        Some(spring)
    }

    /// Positions of the two ends, m.
    pub fn ends_m(&self) -> [[f64; 2]; 2] {
        let first = self.stretches.first().map_or([0.0; 2], |s| s.from_to_m[0]);
        [first, self.stretches.last().map_or([0.0; 2], |s| s.from_to_m[1])]
    }

    /// Length along the centre-line, m.
    pub fn length_m(&self) -> f64 {
        self.stretches.iter().map(Stretch::length_m).sum()
    }

    /// Motion of end 1 beyond the rigid motion that end 0 has.
    fn difference(&self) -> SectionMotion {
        let [from, to] = self.ends_m();
        let mut d = SectionMotion::zeros();
        d.fixed_view_mut::<6, 6>(0, 0).copy_from(&-carried(to, from));
        d.fixed_view_mut::<6, 6>(0, 6).copy_from(&Matrix6::identity());
        d
    }

    /// ∫ B_qᵀ D B₁ ds over the first `share` of a stretch, loads at `end`, motion of `q`; of twist alone if asked.
    fn bent(&self, stretch: &Stretch, share: f64, q: [f64; 2], end: [f64; 2], twist_only: bool) -> Matrix6<f64> {
        let mut sum = Matrix6::zeros();
        for (at, weight) in points(stretch, share) {
            let resists = stretch.moduli.resists(stretch.width_at(at), self.thickness_m);
            let (mut own, loads) = (stretch.loads(at, q), stretch.loads(at, end));
            for (row, stiffness) in resists.iter().enumerate() {
                let kept = if twist_only && row != 1 { 0.0 } else { weight / stiffness };
                own.row_mut(row).scale_mut(kept);
            }
            sum += own.transpose() * loads;
        }
        sum
    }

    /// Motion of the section at `share` of stretch `number` from the motions of both ends.
    pub(super) fn shape(&self, number: usize, share: f64) -> SectionMotion {
        let (stretch, [from, end]) = (&self.stretches[number], self.ends_m());
        let q = stretch.at(share);
        let bent = carried(q, stretch.from_to_m[0]) * self.starts[number] + self.bent(stretch, share, q, end, false);
        let mut n = bent * self.factor.solve(&self.difference());
        let mut rigid = n.fixed_view_mut::<6, 6>(0, 0);
        rigid += carried(q, from);
        n
    }

    fn fill_mass(&mut self) {
        let area: f64 = self.stretches.iter().map(|s| s.length_m() * 0.5 * (s.widths_m[0] + s.widths_m[1])).sum();
        let density = self.mass_kg / (area * self.thickness_m);
        let mut mass = [Matrix12::zeros(); 3];
        let mut crossed = [Matrix12::zeros(); 3];
        for (number, stretch) in self.stretches.iter().enumerate() {
            let [c, s] = stretch.axis();
            for (at, weight) in points(stretch, 1.0) {
                let (n, w, t) = (self.shape(number, at), stretch.width_at(at), self.thickness_m);
                let section = density * weight * w * t;
                for (k, m) in mass.iter_mut().enumerate() {
                    *m += section * n.row(k).transpose() * n.row(k);
                }
                for (k, m) in crossed.iter_mut().enumerate() {
                    *m += section * n.row((k + 1) % 3).transpose() * n.row((k + 2) % 3);
                }
                // A twist moves the section along the normal by its width, and across by its height.
                let twist: RowSVector<f64, 12> = n.row(3) * c + n.row(4) * s;
                let twist = twist.transpose() * twist * (section / 12.0);
                mass[0] += twist * (s * s * t * t);
                mass[1] += twist * (c * c * t * t);
                mass[2] += twist * (w * w);
                crossed[2] -= twist * (s * c * t * t);
            }
        }
        self.mass_crossed = crossed;
        self.mass_by_direction = mass.map(|m| 0.5 * (m + m.transpose()));
    }

    /// The mass matrix of both ends, kg and so on.
    pub fn mass(&self) -> Matrix12 {
        self.mass_by_direction.iter().sum()
    }

    /// Shares of the flexure's mass that move with an end taken alone, the other at rest: along the line between the
    /// ends, across it in the plane, out of the plane. A guided flexure has 1/3, 13/35, 13/35 at both.
    pub fn mass_shares(&self) -> [[f64; 3]; 2] {
        let [from, to] = self.ends_m();
        let apart = Vector3::new(to[0] - from[0], to[1] - from[1], 0.0);
        // Ends in one place have no line between them: then along x.
        let along = if apart.norm() > 0.0 { apart.normalize() } else { Vector3::x() };
        let mass = self.mass();
        [0, 6].map(|at| {
            let own = mass.fixed_view::<3, 3>(at, at);
            [along, Vector3::z().cross(&along), Vector3::z()].map(|u| u.dot(&(own * u)) / self.mass_kg)
        })
    }

    /// Twice the strain energy at given motions of the ends, and the part of it that is twist.
    pub(super) fn strain(&self, ends: &Vector12) -> [f64; 2] {
        let bent = self.difference() * ends;
        let load = self.factor.solve(&bent);
        [bent.dot(&load), load.dot(&(self.twist * load))]
    }
}

impl Spring {
    /// Nominal stress, Pa, of the four edge fibres at the start and the end of every stretch, from end 0 to end 1, for given
    /// motions of the ends: tension N/A and both bendings M c/I. Signs follow the motion's. Left out: what corners and roots
    /// concentrate, and the shear of twist.
    ///
    /// ```
    /// use modalith_solver::lumped::{Spring, Stretch, Vector12};
    /// use modalith_solver::section::Moduli;
    /// // Guided: the far end moves across by d, and bends both roots to 3 E w d/L².
    /// let moduli = Moduli { youngs_pa: 160e9, shear_normal_pa: 65e9, shear_plane_pa: 65e9 };
    /// let bar = Stretch { from_to_m: [[0.0, 0.0], [200e-6, 0.0]], widths_m: [4e-6; 2], moduli };
    /// let spring = Spring::new(vec![bar], 20e-6, 1e-11).ok_or("no spring")?;
    /// let mut ends = Vector12::zeros();
    /// ends[7] = 1e-6;
    /// let roots = spring.fibre_stresses_pa(&ends);
    /// let exact = 3.0 * 160e9 * 4e-6 * 1e-6 / (200e-6_f64 * 200e-6);
    /// assert!(roots.iter().flatten().all(|s| (s.abs() / exact - 1.0).abs() < 1e-9));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn fibre_stresses_pa(&self, ends: &Vector12) -> Vec<[f64; 4]> {
        let load = self.factor.solve(&(self.difference() * ends));
        let (to, t) = (self.ends_m()[1], self.thickness_m);
        let at = |(stretch, share): (&Stretch, f64)| {
            let section = stretch.loads(share, to) * load;
            let w = stretch.width_at(share);
            let (axial, out, across) =
                (section[0] / (w * t), 6.0 * section[2] / (w * t * t), 6.0 * section[3] / (t * w * w));
            [axial + out + across, axial + out - across, axial - out + across, axial - out - across]
        };
        self.stretches.iter().flat_map(|s| [(s, 0.0), (s, 1.0)]).map(at).collect()
    }

    /// Where [`Self::fibre_stresses_pa`] stands, in its order, m.
    pub fn stations_m(&self) -> Vec<[f64; 2]> {
        self.stretches.iter().flat_map(|s| s.from_to_m).collect()
    }
}

/// Gauss points of the first `share` of a stretch: place as a share of the whole stretch, weight in metres.
fn points(stretch: &Stretch, share: f64) -> Vec<(f64, f64)> {
    let pieces = stretch.pieces();
    let step = share / pieces as f64;
    let rule = gauss(POINTS);
    let piece = |k: usize| {
        let place = move |&(x, w): &(f64, f64)| (step * (k as f64 + 0.5 * (1.0 + x)), 0.5 * w * step);
        rule.iter().map(place).collect::<Vec<_>>()
    };
    let length = stretch.length_m();
    (0..pieces).flat_map(piece).map(|(at, w)| (at, w * length)).collect()
}

#[cfg(test)]
mod tests;
