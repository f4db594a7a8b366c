//! Assembly of K and M, in parallel and without locks: element matrices are made in parallel by batches, then every
//! worker adds what falls into its own columns, in the order of the triangles, so that the sums do not depend on the
//! number of threads.

use super::unknowns::HELD;
use super::{AddedMass, Layer, Supports, SystemError, Unknowns};
use crate::element::plane::{PlaneIntegrals, PlaneTable};
use crate::element::prism::Prism;
use modalith_mesher::mesh::Mesh;
use nalgebra::DMatrix;
use nalgebra_sparse::CscMatrix;
use nalgebra_sparse::pattern::SparsityPattern;
use rayon::prelude::*;

/// Triangles whose element matrices are held at a time: enough to keep the cores busy, little memory.
const BATCH: usize = 2048;

/// The element matrices of a layer on a mesh, triangle by triangle.
pub struct Prisms<'a> {
    mesh: &'a Mesh,
    table: PlaneTable,
    /// The layer's constants.
    pub prism: Prism,
}

impl<'a> Prisms<'a> {
    /// Element matrices of `layer` on `mesh`.
    pub fn new(mesh: &'a Mesh, layer: &Layer) -> Self {
        Self { mesh, table: PlaneTable::new(layer.order), prism: layer.prism() }
    }

    /// Tables of the plane integrals.
    pub fn table(&self) -> &PlaneTable {
        &self.table
    }

    /// Corners and mid-side points of a triangle, m.
    pub fn sides_m(&self, triangle: usize) -> [[f64; 2]; 6] {
        self.mesh.geometry(triangle).map(|p| p.map(|x| x * 1e-6))
    }

    /// Which functions of a triangle change sign because their edge runs from the higher corner to the lower.
    pub fn flips(&self, triangle: usize) -> Vec<bool> {
        let corners = self.mesh.triangles[triangle];
        let order = self.table.order();
        (0..order.functions()).map(|a| order.odd_edge(a).is_some_and(|k| corners[k] > corners[(k + 1) % 3])).collect()
    }

    /// Plane integrals of a triangle, its edge functions in the mesh's direction.
    ///
    /// # Errors
    /// [`SystemError::Folded`].
    pub fn integrate(&self, triangle: usize) -> Result<PlaneIntegrals, SystemError> {
        let mut plane = self
            .table
            .integrate(&self.sides_m(triangle))
            .map_err(|folded| SystemError::Folded { triangle, at_um: folded.0.map(|x| x * 1e6) })?;
        plane.flip(&self.flips(triangle));
        Ok(plane)
    }
}

/// Stiffness and mass of a layer on a mesh, held unknowns left out.
#[derive(Clone, Debug)]
pub struct System {
    /// Stiffness, N/m, symmetric, both halves stored.
    pub k: CscMatrix<f64>,
    /// Mass, kg, symmetric, both halves stored.
    pub m: CscMatrix<f64>,
    /// Which unknown is which.
    pub unknowns: Unknowns,
    /// The layer it was assembled from.
    pub layer: Layer,
}

/// An uncoupled motion of a layer: its fields and its free unknowns, without the matrices.
#[derive(Clone, Debug)]
pub struct Motion {
    /// Which unknown is which.
    pub unknowns: Unknowns,
    /// The layer with the fields of this motion.
    pub layer: Layer,
}

impl System {
    /// Gives up the matrices.
    pub fn into_motion(self) -> Motion {
        Motion { unknowns: self.unknowns, layer: self.layer }
    }

    /// Assembles K and M.
    ///
    /// # Errors
    /// See [`SystemError`].
    ///
    /// ```
    /// use modalith_mesher::mesh::Mesh;
    /// use modalith_solver::{material::Law, system::{AddedMass, Layer, Supports, System}};
    /// let mut strip = Mesh::rectangle(200.0, 10.0, 10, 1)?;
    /// strip.hold(|middle| middle[0] == 0.0);
    /// let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.22)?, 2.0);
    /// let system = System::assemble(&strip, &layer, &Supports::anchors(&strip), &AddedMass::none())?;
    /// assert_eq!(system.k.nrows(), system.unknowns.len());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn assemble(mesh: &Mesh, layer: &Layer, supports: &Supports, added: &AddedMass) -> Result<Self, SystemError> {
        if !layer.thickness_m.is_finite() || layer.thickness_m <= 0.0 {
            return Err(SystemError::Thickness(layer.thickness_m * 1e6));
        }
        if mesh.triangles.is_empty() || layer.fields.is_empty() {
            return Err(SystemError::NothingMoves);
        }
        let unknowns = Unknowns::new(mesh, layer, supports);
        if unknowns.is_empty() {
            return Err(SystemError::NothingMoves);
        }
        let blocks = Blocks::new(mesh, &unknowns);
        let mut k = vec![0.0; blocks.entries()];
        let mut m = vec![0.0; blocks.entries()];
        let prisms = Prisms::new(mesh, layer);
        let triangles: Vec<usize> = (0..mesh.triangles.len()).collect();
        for batch in triangles.chunks(BATCH) {
            let elements = batch
                .par_iter()
                .map(|&t| {
                    let plane = prisms.integrate(t)?;
                    Ok((t, prisms.prism.stiffness(&plane), plane.value))
                })
                .collect::<Result<Vec<_>, SystemError>>()?;
            blocks.windows(&mut k, &mut m).into_par_iter().for_each(|mut window| {
                for (t, stiffness, value) in &elements {
                    window.add(mesh, &unknowns, &prisms.prism, *t, stiffness, value, added.per_area(*t));
                }
            });
        }
        for &(corner, kilograms) in added.points(mesh)? {
            blocks.add_point(&mut m, &unknowns, corner as usize, kilograms);
        }
        let m = blocks.mass(&unknowns, m)?;
        let k = blocks.stiffness(k)?;
        Ok(Self { k, m, unknowns, layer: layer.clone() })
    }
}

/// The sparsity of a system by pairs of mesh entities.
struct Blocks {
    /// Sorted neighbours of every entity (itself included), and where each one's rows start within a column.
    neighbours: Vec<Vec<(u32, u32)>>,
    /// Free unknowns of every entity.
    free: Vec<u32>,
    /// Start of every free unknown's column.
    column: Vec<usize>,
    rows: Vec<usize>,
    /// Entities at which the windows of the workers begin, and the end.
    cuts: Vec<usize>,
    /// First free unknown of every entity, and the end.
    first: Vec<u32>,
}

impl Blocks {
    fn new(mesh: &Mesh, unknowns: &Unknowns) -> Self {
        let entities = unknowns.entities();
        let mut free = vec![0u32; entities];
        unknowns.groups().iter().for_each(|&e| free[e as usize] += 1);
        let mut first = vec![0u32; entities + 1];
        for e in 0..entities {
            first[e + 1] = first[e] + free[e];
        }
        let mut neighbours: Vec<Vec<(u32, u32)>> = vec![Vec::new(); entities];
        for t in 0..mesh.triangles.len() {
            let own = unknowns.entities_of(mesh, t);
            for e in own.into_iter().filter(|&e| free[e] > 0) {
                neighbours[e].extend(own.iter().filter(|&&o| free[o] > 0).map(|&o| (o as u32, 0)));
            }
        }
        neighbours.par_iter_mut().for_each(|list| {
            list.sort_unstable();
            list.dedup();
            let mut start = 0;
            for (other, at) in list.iter_mut() {
                *at = start;
                start += free[*other as usize];
            }
        });
        let mut column = vec![0usize; unknowns.len() + 1];
        let mut height = vec![0usize; entities];
        for e in 0..entities {
            height[e] = neighbours[e].iter().map(|(o, _)| free[*o as usize] as usize).sum();
            for j in first[e]..first[e + 1] {
                column[j as usize + 1] = column[j as usize] + height[e];
            }
        }
        let mut rows = Vec::with_capacity(column[unknowns.len()]);
        for e in 0..entities {
            for _ in first[e]..first[e + 1] {
                for (other, _) in &neighbours[e] {
                    rows.extend((first[*other as usize]..first[*other as usize + 1]).map(|r| r as usize));
                }
            }
        }
        // Windows of about equal numbers of entries, several a thread.
        let windows = 4 * rayon::current_num_threads();
        let share = rows.len() / windows + 1;
        let mut cuts = vec![0];
        for e in 0..entities {
            let start = column[first[cuts[cuts.len() - 1]] as usize];
            if column[first[e + 1] as usize] - start >= share {
                cuts.push(e + 1);
            }
        }
        cuts.push(entities);
        Self { neighbours, free, column, rows, cuts, first }
    }

    fn entries(&self) -> usize {
        self.rows.len()
    }

    /// The stiffness matrix; gives up the pattern.
    fn stiffness(self, values: Vec<f64>) -> Result<CscMatrix<f64>, SystemError> {
        let n = self.column.len() - 1;
        SparsityPattern::try_from_offsets_and_indices(n, n, self.column, self.rows)
            .ok()
            .and_then(|pattern| CscMatrix::try_from_pattern_and_values(pattern, values).ok())
            .ok_or(SystemError::NothingMoves)
    }

    /// Cuts the values into one window of whole columns a worker.
    fn windows<'a>(&'a self, mut k: &'a mut [f64], mut m: &'a mut [f64]) -> Vec<Window<'a>> {
        let mut windows = Vec::with_capacity(self.cuts.len());
        for cut in self.cuts.windows(2) {
            let start = self.column[self.first[cut[0]] as usize];
            let end = self.column[self.first[cut[1]] as usize];
            let (k_here, k_rest) = k.split_at_mut(end - start);
            let (m_here, m_rest) = m.split_at_mut(end - start);
            windows.push(Window { blocks: self, entities: cut[0]..cut[1], start, k: k_here, m: m_here });
            (k, m) = (k_rest, m_rest);
        }
        windows
    }

    fn add_point(&self, m: &mut [f64], unknowns: &Unknowns, corner: usize, kilograms: f64) {
        for slot in unknowns.slots(corner) {
            let j = unknowns.number(slot);
            if j != HELD && unknowns.field(j as usize).degree == 0 {
                let column = self.column[j as usize]..self.column[j as usize + 1];
                if let Ok(at) = self.rows[column.clone()].binary_search(&(j as usize)) {
                    m[column.start + at] += kilograms;
                }
            }
        }
    }

    /// The mass matrix without the entries between different fields, which are zero by orthogonality.
    fn mass(&self, unknowns: &Unknowns, values: Vec<f64>) -> Result<CscMatrix<f64>, SystemError> {
        let n = unknowns.len();
        let (mut offsets, mut rows, mut kept) = (vec![0], Vec::new(), Vec::new());
        for j in 0..n {
            let column = self.column[j]..self.column[j + 1];
            for (&row, &value) in self.rows[column.clone()].iter().zip(&values[column]) {
                if unknowns.field_number(row) == unknowns.field_number(j) {
                    rows.push(row);
                    kept.push(value);
                }
            }
            offsets.push(rows.len());
        }
        CscMatrix::try_from_csc_data(n, n, offsets, rows, kept).map_err(|_| SystemError::NothingMoves)
    }
}

/// The columns of some entities.
struct Window<'a> {
    blocks: &'a Blocks,
    entities: std::ops::Range<usize>,
    start: usize,
    k: &'a mut [f64],
    m: &'a mut [f64],
}

impl Window<'_> {
    #[allow(clippy::too_many_arguments)]
    fn add(
        &mut self,
        mesh: &Mesh,
        unknowns: &Unknowns,
        prism: &Prism,
        triangle: usize,
        stiffness: &DMatrix<f64>,
        value: &DMatrix<f64>,
        added_per_area: f64,
    ) {
        let own = unknowns.entities_of(mesh, triangle);
        if own.iter().all(|e| !self.entities.contains(e)) {
            return;
        }
        let fields = unknowns.fields().len();
        let mass_factor: Vec<f64> = (0..fields)
            .map(|f| prism.mass_factor(f) + if unknowns.fields()[f].degree == 0 { added_per_area } else { 0.0 })
            .collect();
        let mut local_column = 0;
        for e in own {
            let column_slots = unknowns.slots(e);
            if !self.entities.contains(&e) || self.blocks.free[e] == 0 {
                local_column += column_slots.len();
                continue;
            }
            let list = &self.blocks.neighbours[e];
            for slot in column_slots {
                let j = unknowns.number(slot);
                if j != HELD {
                    let column = self.blocks.column[j as usize] - self.start;
                    let (b, g) = (local_column / fields, local_column % fields);
                    let mut local_row = 0;
                    for o in own {
                        let row_slots = unknowns.slots(o);
                        let Ok(found) = list.binary_search_by_key(&(o as u32), |(other, _)| *other) else {
                            local_row += row_slots.len();
                            continue;
                        };
                        let mut at = column + list[found].1 as usize;
                        for row_slot in row_slots {
                            if unknowns.number(row_slot) != HELD {
                                self.k[at] += stiffness[(local_row, local_column)];
                                if local_row % fields == g {
                                    self.m[at] += mass_factor[g] * value[(local_row / fields, b)];
                                }
                                at += 1;
                            }
                            local_row += 1;
                        }
                    }
                }
                local_column += 1;
            }
        }
    }
}
