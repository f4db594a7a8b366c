//! Beams in a system: flexures as chains of beams whose ends hang on root lines of the mesh, and rigid appendages. In: a
//! system of the mesh, chains. Out: the system with the inner nodes' unknowns behind the mesh's, and what moves where in a
//! mode.
//!
//! An end on the mesh has no unknowns of its own: its motion is the root line's averaged one, a linear combination of the
//! mesh's unknowns; the chain's matrices are folded into theirs and nothing is constrained.

use super::{Attachments, End, Layer, Places, PointSpring, Structure, System, Unknowns};
use crate::joint::chain::Particle;
use crate::rigid::turned;
use modalith_mesher::mesh::Mesh;
use nalgebra::{Const, DMatrix, Dyn, OMatrix, SMatrix, SVector, Vector6};
use nalgebra_sparse::{CooMatrix, CscMatrix};
use std::sync::Arc;

/// How a node's motion follows from the unknowns: number and share.
type Node = Vec<(u32, Vector6<f64>)>;

/// The chains and appendages of one motion, with their unknowns.
#[derive(Clone, Debug, Default)]
pub struct Beams {
    attachments: Arc<Attachments>,
    chains: Vec<Vec<Node>>,
    appendages: Vec<Node>,
    unknowns: usize,
}

impl Beams {
    /// Numbers the inner nodes' unknowns from the mesh's on: in-plane or out-of-plane ones, or all, as the layer's fields are.
    pub fn new(structure: &Structure, unknowns: &Unknowns) -> Self {
        let (mesh, layer, attachments) = (structure.mesh(), structure.layer(), structure.attachments());
        let in_plane = unknowns.fields().iter().any(|f| f.is_in_plane());
        let out_of_plane = unknowns.fields().iter().any(|f| !f.is_in_plane());
        let own: Vec<usize> = [(0, in_plane), (1, in_plane), (2, out_of_plane), (3, out_of_plane), (4, out_of_plane)]
            .into_iter()
            .chain([(5, in_plane)])
            .filter_map(|(k, has)| has.then_some(k))
            .collect();
        let end_motion = |end: &End| -> Node {
            let End::On { line, axis, tractions } = end else { return Node::new() };
            let to_layout = turned(-axis.angle);
            let keep = |w: Vector6<f64>| Vector6::from_fn(|i, _| if own.contains(&i) { w[i] } else { 0.0 });
            let motions = line.motions(mesh, layer, unknowns, axis, tractions);
            motions.into_iter().map(|(n, w)| (n, keep(to_layout * Vector6::from(w)))).collect()
        };
        let mut next = unknowns.len() as u32;
        let mut chains = Vec::with_capacity(attachments.chains.len());
        for chain in &attachments.chains {
            let mut nodes = vec![end_motion(&chain.ends[0])];
            for _ in 1..chain.elements.len() {
                nodes.push(own.iter().zip(next..).map(|(&k, n)| (n, Vector6::ith(k, 1.0))).collect());
                next += own.len() as u32;
            }
            nodes.push(end_motion(&chain.ends[1]));
            chains.push(nodes);
        }
        let appendages = attachments.appendages.iter().map(|r| end_motion(&r.end)).collect();
        Self { attachments: Arc::clone(attachments), chains, appendages, unknowns: next as usize - unknowns.len() }
    }

    /// Springs to the ground at places of the mesh.
    pub(super) fn springs(&self) -> &[PointSpring] {
        &self.attachments.springs
    }

    /// Whether chains or appendages hang on the mesh.
    pub(crate) fn hang(&self) -> bool {
        !self.chains.is_empty() || !self.appendages.is_empty()
    }

    /// The unknowns that are displacements of inner nodes along an axis, 0 to 2.
    pub(crate) fn translation(&self, axis: usize) -> impl Iterator<Item = u32> + '_ {
        let inner = self.chains.iter().flat_map(|nodes| &nodes[1..nodes.len() - 1]);
        inner.flatten().filter(move |(_, motion)| motion[axis] == 1.0).map(|(unknown, _)| *unknown)
    }

    /// Unknowns of the inner nodes.
    pub fn unknowns(&self) -> usize {
        self.unknowns
    }

    /// Whether nothing hangs there.
    pub fn is_empty(&self) -> bool {
        self.attachments.is_empty()
    }

    /// One more than the highest number of a flexure that is a chain.
    pub fn flexures(&self) -> usize {
        self.attachments.chains.iter().map(|c| c.flexure + 1).max().unwrap_or(0)
    }

    /// Adds the beams' and springs' matrices to a system's and gives every inner node a group of its own for the fill-reducing order.
    pub fn join(&self, mesh: &Mesh, system: &System) -> (CscMatrix<f64>, CscMatrix<f64>, Vec<u32>) {
        let (old, new) = (system.unknowns.len(), system.unknowns.len() + self.unknowns);
        let (mut k, mut m) = (CooMatrix::new(new, new), CooMatrix::new(new, new));
        let zero = SMatrix::<f64, 12, 12>::zeros();
        let mut fold = |a: &Node, b: &Node, stiffness: &SMatrix<f64, 12, 12>, particles: &[Particle]| {
            let mass = particles.iter().fold(zero, |sum, p| sum + p.place.transpose() * p.place * p.mass_kg);
            let all: Vec<(usize, SVector<f64, 12>)> = widened(a, b).collect();
            for (i, wi) in &all {
                let (ki, mi) = (stiffness * wi, mass * wi);
                for (j, wj) in &all {
                    k.push(*i, *j, wj.dot(&ki));
                    m.push(*i, *j, wj.dot(&mi));
                }
            }
        };
        for (chain, nodes) in self.attachments.chains.iter().zip(&self.chains) {
            for (e, element) in chain.elements.iter().enumerate() {
                fold(&nodes[e], &nodes[e + 1], &element.beam.stiffness, &element.particles);
            }
        }
        for (appendage, node) in self.attachments.appendages.iter().zip(&self.appendages) {
            fold(node, &Node::new(), &zero, &appendage.particles);
        }
        Places::new(mesh, &system.layer, &system.unknowns)
            .springs(&self.attachments.springs, |i, j, v| k.push(i, j, v));
        let mut groups = system.unknowns.groups().to_vec();
        let first = groups.iter().max().map_or(0, |g| g + 1);
        let per_node = self.chains.iter().flat_map(|c| c.get(1)).map(Vec::len).min().unwrap_or(1).max(1);
        groups.extend((0..new - old).map(|i| first + (i / per_node) as u32));
        (merged(&system.k, &CscMatrix::from(&k)), merged(&system.m, &CscMatrix::from(&m)), groups)
    }

    /// ΦᵀKΦ and ΦᵀMΦ of all that hangs on the mesh, for the columns of Φ in `modes`.
    pub(crate) fn between(
        &self,
        mesh: &Mesh,
        layer: &Layer,
        unknowns: &Unknowns,
        modes: &[&[f64]],
    ) -> [DMatrix<f64>; 2] {
        let n = modes.len();
        let (mut k, mut m) = (DMatrix::zeros(n, n), DMatrix::zeros(n, n));
        let mut add = |a: &Node, b: &Node, stiffness: Option<&SMatrix<f64, 12, 12>>, particles: &[Particle]| {
            let columns: Vec<SVector<f64, 12>> = modes.iter().map(|x| at_nodes(a, b, x)).collect();
            let q = OMatrix::<f64, Const<12>, Dyn>::from_columns(&columns);
            if let Some(stiffness) = stiffness {
                k += q.tr_mul(&(stiffness * &q));
            }
            for p in particles {
                let u = p.place * &q;
                m += u.tr_mul(&u) * p.mass_kg;
            }
        };
        for (chain, nodes) in self.attachments.chains.iter().zip(&self.chains) {
            for (e, element) in chain.elements.iter().enumerate() {
                add(&nodes[e], &nodes[e + 1], Some(&element.beam.stiffness), &element.particles);
            }
        }
        for (appendage, node) in self.attachments.appendages.iter().zip(&self.appendages) {
            add(node, &Node::new(), None, &appendage.particles);
        }
        Places::new(mesh, layer, unknowns).springs(&self.attachments.springs, |i, j, v| {
            for a in 0..n {
                for b in 0..n {
                    k[(a, b)] += v * modes[a][i] * modes[b][j];
                }
            }
        });
        [k, m]
    }

    /// Calls `visit` with every mass point of the beams and appendages and its displacements along x, y, z in some modes, one entry a
    /// mode, in the unit of the modes (m·kg^-½ at unit modal mass); a mode is over the mesh's unknowns, then those of the inner nodes.
    pub fn particles(&self, modes: &[&[f64]], mut visit: impl FnMut(&Particle, &[[f64; 3]])) {
        let mut one = |a: &Node, b: &Node, particles: &[Particle]| {
            let moved: Vec<SVector<f64, 12>> = modes.iter().map(|x| at_nodes(a, b, x)).collect();
            for p in particles {
                let u: Vec<[f64; 3]> = moved.iter().map(|q| (p.place * q).into()).collect();
                visit(p, &u);
            }
        };
        for (chain, nodes) in self.attachments.chains.iter().zip(&self.chains) {
            for (e, element) in chain.elements.iter().enumerate() {
                one(&nodes[e], &nodes[e + 1], &element.particles);
            }
        }
        for (appendage, node) in self.attachments.appendages.iter().zip(&self.appendages) {
            one(node, &Node::new(), &appendage.particles);
        }
    }

    /// For every chain the number of its flexure, and twice its strain energy qᵀKq in a mode over the mesh's unknowns with what of it is twist, s⁻²
    /// for unit modal mass. K and twist: [`crate::element::beam`] (Przemieniecki, *Theory of Matrix Structural Analysis*, 1968, ch. 5).
    pub fn strain(&self, x: &[f64]) -> Vec<(usize, [f64; 2])> {
        let chains = self.attachments.chains.iter().zip(&self.chains);
        chains
            .map(|(chain, nodes)| {
                let mut sum = [0.0; 2];
                for (e, element) in chain.elements.iter().enumerate() {
                    let q = at_nodes(&nodes[e], &nodes[e + 1], x);
                    sum[0] += q.dot(&(element.beam.stiffness * q));
                    sum[1] += element.beam.twist(&q);
                }
                (chain.flexure, sum)
            })
            .collect()
    }

    /// For every chain the motions of both nodes of each of its elements in a mode: u_x, u_y, u_z, m, and turns, rad, of one and the other.
    pub fn nodes(&self, x: &[f64]) -> Vec<Vec<SVector<f64, 12>>> {
        let of_chain = |nodes: &Vec<Node>| nodes.windows(2).map(|n| at_nodes(&n[0], &n[1], x)).collect();
        self.chains.iter().map(of_chain).collect()
    }
}

/// Shares of an element's two nodes' motions, one entry an unknown of a node.
fn widened<'a>(a: &'a Node, b: &'a Node) -> impl Iterator<Item = (usize, SVector<f64, 12>)> + 'a {
    let place = |start: usize| {
        move |(n, w): &(u32, Vector6<f64>)| {
            let mut wide = SVector::<f64, 12>::zeros();
            wide.fixed_rows_mut::<6>(start).copy_from(w);
            (*n as usize, wide)
        }
    };
    a.iter().map(place(0)).chain(b.iter().map(place(6)))
}

fn at_nodes(a: &Node, b: &Node, x: &[f64]) -> SVector<f64, 12> {
    widened(a, b).fold(SVector::zeros(), |sum, (n, w)| sum + w * x[n])
}

/// A matrix with empty rows and columns behind it, and a larger one added, whose few entries lie anywhere.
fn merged(a: &CscMatrix<f64>, added: &CscMatrix<f64>) -> CscMatrix<f64> {
    let n = added.ncols();
    let entries = a.nnz() + added.nnz();
    let (mut offsets, mut rows, mut values) = (vec![0], Vec::with_capacity(entries), Vec::with_capacity(entries));
    for j in 0..n {
        let column = |m: &CscMatrix<f64>| m.col_offsets().get(j + 1).map_or((0, 0), |&end| (m.col_offsets()[j], end));
        let ((mut i, end), (mut k, last)) = (column(a), column(added));
        while i < end || k < last {
            let (own, more) =
                (a.row_indices().get(i).filter(|_| i < end), added.row_indices().get(k).filter(|_| k < last));
            let row = own.into_iter().chain(more).copied().min().unwrap_or(usize::MAX);
            let mut value = 0.0;
            if own == Some(&row) {
                value += a.values()[i];
                i += 1;
            }
            if more == Some(&row) {
                value += added.values()[k];
                k += 1;
            }
            rows.push(row);
            values.push(value);
        }
        offsets.push(rows.len());
    }
    CscMatrix::try_from_csc_data(n, n, offsets, rows, values).unwrap_or_else(|_| CscMatrix::zeros(n, n))
}
