//! The product of two mode shapes that are known at the same points, weighted by mass: the modal assurance criterion
//! (a·b)² / (a·a b·b) is then the square of the cosine between them in the metric of the kinetic energy (Allemang & Brown,
//! Proc. 1st Int. Modal Analysis Conf., 1982, 110, there with unit weights).

use super::Sampled;

/// A mode shape at points: from [`Sampled`], or from [`super::Stations::sample`].
#[derive(Clone, Copy, Debug)]
pub struct ModeShape<'a> {
    /// Displacement at mid-layer along x, y, z at every point, in any unit that all share.
    pub displacement: &'a [[f64; 3]],
    /// Slopes ∂u/∂z, ∂v/∂z at every point, m⁻¹ per unit of displacement in m.
    pub tilt: &'a [[f64; 2]],
}

impl<'a> ModeShape<'a> {
    /// Mode `i` of a sampled list.
    pub fn sampled(sampled: &'a Sampled, i: usize) -> Self {
        Self { displacement: &sampled.modes[i], tilt: &sampled.tilts[i] }
    }
}

/// What each point stands for.
#[derive(Clone, Debug, PartialEq)]
pub struct PointWeights {
    /// Mass of the layer around every point, kg.
    pub mass_kg: Vec<f64>,
    /// Weight of a slope against a displacement: t²/12, m².
    pub rotary_m2: f64,
}

impl PointWeights {
    /// Weights of the points of a six-node triangulation for a layer of `kg_per_m2` and `thickness_m`.
    ///
    /// A third of each cell's mass goes to each of its mid-side points and none to its corners: the rule of second degree on
    /// a triangle (Strang & Fix, *An Analysis of the Finite Element Method*, 1973, table 4.1), which is also the row sum of
    /// the six-node triangle's consistent mass. Curved cells are weighed by the map's own area at those points.
    pub fn of_cells(sampled: &Sampled, kg_per_m2: f64, thickness_m: f64) -> Self {
        let mut mass_kg = vec![0.0; sampled.points.len()];
        for cell in &sampled.cells {
            let sides = cell.map(|i| sampled.points[i as usize]);
            for (node, at) in cell[3..].iter().zip([[0.5, 0.0], [0.5, 0.5], [0.0, 0.5]]) {
                let (_, dx) = crate::element::plane::map(&sides, at);
                let twice_area = dx[0][0] * dx[1][1] - dx[1][0] * dx[0][1];
                mass_kg[*node as usize] += kg_per_m2 * twice_area * 1e-12 / 6.0;
            }
        }
        Self { mass_kg, rotary_m2: thickness_m * thickness_m / 12.0 }
    }

    /// The product a·b, kg times the units of the shapes.
    pub fn product(&self, a: &ModeShape, b: &ModeShape) -> f64 {
        let mut sum = 0.0;
        for (i, mass) in self.mass_kg.iter().enumerate() {
            let u: f64 = a.displacement[i].iter().zip(&b.displacement[i]).map(|(x, y)| x * y).sum();
            let tilt: f64 = a.tilt[i].iter().zip(&b.tilt[i]).map(|(x, y)| x * y).sum();
            sum += mass * (u + self.rotary_m2 * tilt);
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Law;
    use crate::modal::{Wanted, modes};
    use crate::system::{Layer, Structure};
    use modalith_mesher::mesh::Mesh;

    #[test]
    fn modes_of_a_plate_are_orthogonal() {
        // Thick, so that slopes carry a good part.
        let mut plate = Mesh::rectangle(200.0, 90.0, 8, 4).unwrap();
        plate.hold(|m| m[0] == 0.0);
        let law = Law::isotropic(2330.0, 160e9, 0.22).unwrap();
        let layer = Layer::shell(&law, 30.0);
        let modal = modes(&Structure::anchored(plate.clone(), layer.clone()), Wanted::Lowest(10), &|_| {}).unwrap();
        let sampled = modal.sample();
        let weights = PointWeights::of_cells(&sampled, 2330.0 * 30e-6, 30e-6);
        let mass: f64 = weights.mass_kg.iter().sum();
        assert!((mass / (2330.0 * 200e-6 * 90e-6 * 30e-6) - 1.0).abs() < 1e-12);
        let mut worst: f64 = 0.0;
        for i in 0..10 {
            let a = ModeShape::sampled(&sampled, i);
            // Unit modal mass comes out of the weights, rotary part included.
            assert!((weights.product(&a, &a) - 1.0).abs() < 1e-2, "{}", weights.product(&a, &a));
            for j in 0..i {
                worst = worst.max(weights.product(&a, &ModeShape::sampled(&sampled, j)).powi(2));
            }
        }
        assert!(worst < 1e-5, "{worst:e}");
    }

    #[test]
    fn slopes_weigh_by_their_inertia() {
        let weights = PointWeights { mass_kg: vec![1.0, 3.0], rotary_m2: 0.5 };
        let a = ModeShape { displacement: &[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]], tilt: &[[0.0; 2]; 2] };
        let c = ModeShape { displacement: &[[1.0, 0.0, 0.0], [0.0; 3]], tilt: &[[0.0; 2], [0.0, 2.0]] };
        // 1 + 3; 1 + 3 (2² · ½); 1.
        let products = [weights.product(&a, &a), weights.product(&c, &c), weights.product(&a, &c)];
        assert!(products.iter().zip([4.0, 7.0, 1.0]).all(|(p, exact)| (p - exact).abs() < 1e-15), "{products:?}");
    }
}
