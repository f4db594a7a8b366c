//! Frames of straight beams in the layout plane: nodes, beams, supports and added masses to stiffness K and mass M.
//!
//! In: nodes in metres, [`Beam`]s between them. Out: K and M, SI, symmetric with both halves stored, of the free unknowns:
//! (u_x, u_y, u_z, φ_x, φ_y, φ_z) of every node in the layout's axes, held ones left out.

use crate::element::beam::{Beam, BeamError};
use crate::rigid::axes_at;
use crate::section::Section;
use nalgebra::Matrix6;
use nalgebra_sparse::{CooMatrix, CscMatrix};

/// Why a frame cannot be assembled.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FrameError {
    /// A beam that cannot be made.
    #[error("beam from node {from} to node {to}: {fault}")]
    Beam {
        /// Its near node.
        from: usize,
        /// Its far node.
        to: usize,
        /// What is wrong.
        fault: BeamError,
    },
    /// A node that does not exist.
    #[error("there is no node {0}")]
    NoNode(usize),
}

/// Straight beams between nodes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Frame {
    nodes_m: Vec<[f64; 2]>,
    held: Vec<[bool; 6]>,
    /// Near and far node, and the beam in the layout's axes.
    beams: Vec<([usize; 2], Beam)>,
    masses: Vec<(usize, Matrix6<f64>)>,
}

impl Frame {
    /// Adds a free node at (x, y), m, and returns its number.
    pub fn node(&mut self, at_m: [f64; 2]) -> usize {
        self.nodes_m.push(at_m);
        self.held.push([false; 6]);
        self.nodes_m.len() - 1
    }

    /// Length, m, and direction, radians from the layout's x, from one node to another.
    ///
    /// # Errors
    /// [`FrameError::NoNode`].
    pub fn span(&self, from: usize, to: usize) -> Result<(f64, f64), FrameError> {
        let at = |n: usize| self.nodes_m.get(n).ok_or(FrameError::NoNode(n));
        let ([x0, y0], [x1, y1]) = (at(from)?, at(to)?);
        Ok(((x1 - x0).hypot(y1 - y0), (y1 - y0).atan2(x1 - x0)))
    }

    /// Joins two nodes by a beam in its own axes, such as one with end corrections.
    ///
    /// # Errors
    /// [`FrameError::NoNode`].
    pub fn join(&mut self, beam: &Beam, from: usize, to: usize) -> Result<(), FrameError> {
        let (_, angle) = self.span(from, to)?;
        self.beams.push(([from, to], beam.in_frame(&axes_at(angle))));
        Ok(())
    }

    /// Joins two nodes by `pieces` equal beams (at least one) and returns the nodes between. A crystal's section is one for
    /// this direction.
    ///
    /// # Errors
    /// See [`FrameError`].
    pub fn straight(
        &mut self,
        section: &Section,
        from: usize,
        to: usize,
        pieces: usize,
    ) -> Result<Vec<usize>, FrameError> {
        let pieces = pieces.max(1);
        let (length, _) = self.span(from, to)?;
        let beam = Beam::new(section, length / pieces as f64).map_err(|fault| FrameError::Beam { from, to, fault })?;
        let ([x0, y0], [x1, y1]) = (self.nodes_m[from], self.nodes_m[to]);
        let between: Vec<usize> = (1..pieces)
            .map(|k| k as f64 / pieces as f64)
            .map(|s| self.node([x0 + s * (x1 - x0), y0 + s * (y1 - y0)]))
            .collect();
        let chain: Vec<usize> = std::iter::once(from).chain(between.iter().copied()).chain([to]).collect();
        for ends in chain.windows(2) {
            self.join(&beam, ends[0], ends[1])?;
        }
        Ok(between)
    }

    /// Holds the marked unknowns of a node, on top of those already held.
    ///
    /// # Errors
    /// [`FrameError::NoNode`].
    pub fn hold(&mut self, node: usize, unknowns: [bool; 6]) -> Result<(), FrameError> {
        let held = self.held.get_mut(node).ok_or(FrameError::NoNode(node))?;
        held.iter_mut().zip(unknowns).for_each(|(h, u)| *h |= u);
        Ok(())
    }

    /// Adds a rigid mass to a node: momentum per motion of the node, kg, kg m, kg m², in the layout's axes.
    ///
    /// # Errors
    /// [`FrameError::NoNode`].
    pub fn add_mass(&mut self, node: usize, mass: Matrix6<f64>) -> Result<(), FrameError> {
        self.nodes_m.get(node).ok_or(FrameError::NoNode(node))?;
        self.masses.push((node, mass));
        Ok(())
    }

    /// Row of every unknown in K and M by node, `None` where it is held, and how many there are.
    pub fn unknowns(&self) -> (Vec<[Option<usize>; 6]>, usize) {
        let mut count = 0;
        let mut number = |held: bool| {
            (!held).then(|| {
                count += 1;
                count - 1
            })
        };
        let rows = self.held.iter().map(|held| held.map(&mut number)).collect();
        (rows, count)
    }

    /// K and M of the free unknowns.
    ///
    /// ```
    /// use modalith_solver::{frame::Frame, material::Law, section::Section};
    /// let section = Section::rectangle(&Law::isotropic(2330.0, 160e9, 0.22)?, 0.0, 4e-6, 20e-6)?;
    /// let mut frame = Frame::default();
    /// let (root, tip) = (frame.node([0.0, 0.0]), frame.node([200e-6, 0.0]));
    /// frame.straight(&section, root, tip, 4)?;
    /// frame.hold(root, [true; 6])?;
    /// let (k, m) = frame.assemble();
    /// assert_eq!((k.nrows(), m.nrows()), (24, 24));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn assemble(&self) -> (CscMatrix<f64>, CscMatrix<f64>) {
        let (rows, count) = self.unknowns();
        let (mut k, mut m) = (CooMatrix::new(count, count), CooMatrix::new(count, count));
        for (ends, beam) in &self.beams {
            let own: Vec<Option<usize>> = ends.iter().flat_map(|&n| rows[n]).collect();
            for (b, column) in own.iter().enumerate() {
                for (a, row) in own.iter().enumerate() {
                    if let (Some(i), Some(j)) = (row, column) {
                        k.push(*i, *j, beam.stiffness[(a, b)]);
                        m.push(*i, *j, beam.mass[(a, b)]);
                    }
                }
            }
        }
        for (node, mass) in &self.masses {
            for (b, column) in rows[*node].iter().enumerate() {
                for (a, row) in rows[*node].iter().enumerate() {
                    if let (Some(i), Some(j)) = (row, column) {
                        m.push(*i, *j, mass[(a, b)]);
                    }
                }
            }
        }
        (CscMatrix::from(&k), CscMatrix::from(&m))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::material::Law;
    use nalgebra::DVector;

    /// A right angle: the tip of the second leg, pushed along its normal in the plane, gives by both legs.
    #[test]
    fn bracket() {
        let law = Law::isotropic(2330.0, 160e9, 0.3).unwrap();
        let section = Section::rectangle(&law, 0.0, 2e-6, 3e-6).unwrap();
        let mut frame = Frame::default();
        let (a, b) = (50e-6, 30e-6);
        let nodes = [[0.0, 0.0], [a, 0.0], [a, b]].map(|p| frame.node(p));
        frame.straight(&section, nodes[0], nodes[1], 3).unwrap();
        frame.straight(&section, nodes[1], nodes[2], 1).unwrap();
        frame.hold(nodes[0], [true; 6]).unwrap();
        let (rows, count) = frame.unknowns();
        let (k, _) = frame.assemble();
        let push = rows[nodes[2]][0].unwrap();
        let mut load = DVector::zeros(count);
        load[push] = 1.0;
        let moved = nalgebra::DMatrix::from(&k).cholesky().unwrap().solve(&load)[push];
        // The second leg bends and shears, the first stretches and is bent by the moment b.
        let (ei, ea) = (section.bending_stiffness_nm2()[(1, 1)], section.axial_stiffness_n());
        let expected = b.powi(3) / (3.0 * ei) + b / section.shear_stiffness_n()[0] + a / ea + b * b * a / ei;
        assert!((moved / expected - 1.0).abs() < 1e-8, "{moved:e} {expected:e}");
    }

    #[test]
    fn faults() {
        let law = Law::isotropic(2330.0, 160e9, 0.3).unwrap();
        let section = Section::rectangle(&law, 0.0, 2e-6, 3e-6).unwrap();
        let mut frame = Frame::default();
        let node = frame.node([0.0, 0.0]);
        assert_eq!(frame.straight(&section, node, 7, 1), Err(FrameError::NoNode(7)));
        assert!(matches!(frame.straight(&section, node, node, 1), Err(FrameError::Beam { .. })));
        assert_eq!(frame.hold(3, [true; 6]), Err(FrameError::NoNode(3)));
        assert_eq!(frame.add_mass(3, Matrix6::identity()), Err(FrameError::NoNode(3)));
    }
}
