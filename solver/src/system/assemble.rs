//! Assembly of K and M, in parallel and without locks: element matrices are made in parallel by batches, then every
//! worker adds what falls into its own columns, in the order of the triangles, so that the sums do not depend on the
//! number of threads.

use super::unknowns::foot_pairs;
use super::{ElementMatrices, Layer, Structure, SystemError, Unknowns};
use modalith_mesher::mesh::Mesh;
use nalgebra::DMatrix;
use nalgebra_sparse::CscMatrix;
use nalgebra_sparse::pattern::SparsityPattern;
use rayon::prelude::*;

/// Entries of the element matrices that are held at a time: enough triangles to keep the cores busy, little memory.
const BATCH: usize = 1 << 23;

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

impl System {
    /// Assembles K and M of a structure's layer and added mass; what is attached joins by [`super::Beams::join`].
    ///
    /// # Errors
    /// See [`SystemError`].
    ///
    /// ```
    /// use modalith_mesher::mesh::Mesh;
    /// use modalith_solver::{material::Law, system::{Layer, Structure, System}};
    /// let mut strip = Mesh::rectangle(200.0, 10.0, 10, 1)?;
    /// strip.hold(|middle| middle[0] == 0.0);
    /// let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.22)?, 2.0);
    /// let system = System::assemble(&Structure::anchored(strip, layer))?;
    /// assert_eq!(system.k.nrows(), system.unknowns.len());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn assemble(structure: &Structure) -> Result<Self, SystemError> {
        let (mesh, layer, added) = (structure.mesh(), structure.layer(), structure.added_mass());
        if !layer.thickness_m.is_finite() || layer.thickness_m <= 0.0 {
            return Err(SystemError::Thickness(layer.thickness_m * 1e6));
        }
        if mesh.triangles.is_empty() || layer.fields.is_empty() {
            return Err(SystemError::NothingMoves);
        }
        let unknowns = structure.unknowns();
        if unknowns.is_empty() {
            return Err(SystemError::NothingMoves);
        }
        let blocks = Blocks::new(mesh, &unknowns);
        let mut k = vec![0.0; blocks.entries()];
        let mut m = vec![0.0; blocks.entries()];
        let prisms = ElementMatrices::new(mesh, layer);
        let triangles: Vec<usize> = (0..mesh.triangles.len()).collect();
        let bends = layer.fields.iter().all(|f| !f.is_in_plane());
        let entries = (layer.order.functions() * layer.fields.len()).pow(2);
        for batch in triangles.chunks((BATCH / entries).max(64)) {
            let elements = batch
                .par_iter()
                .map(|&t| Element::new(structure, &prisms, &unknowns, t, bends))
                .collect::<Result<Vec<_>, SystemError>>()?;
            blocks.windows(&mut k, &mut m).into_par_iter().for_each(|mut window| {
                elements.iter().for_each(|element| window.add(&unknowns, element));
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
        Self { neighbours, column, rows, cuts, first }
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
        let own = self.first[corner] as usize..self.first[corner + 1] as usize;
        for j in own.clone() {
            for i in own.clone().filter(|&i| unknowns.field(i).axis == unknowns.field(j).axis) {
                let column = self.column[j]..self.column[j + 1];
                if let Ok(at) = self.rows[column.clone()].binary_search(&i) {
                    m[column.start + at] += kilograms * unknowns.mean(i) * unknowns.mean(j);
                }
            }
        }
    }

    /// The mass matrix without the entries between different fields that are zero by orthogonality.
    fn mass(&self, unknowns: &Unknowns, values: Vec<f64>) -> Result<CscMatrix<f64>, SystemError> {
        let n = unknowns.len();
        let (mut offsets, mut rows, mut kept) = (vec![0], Vec::new(), Vec::new());
        for j in 0..n {
            let column = self.column[j]..self.column[j + 1];
            for (&row, &value) in self.rows[column.clone()].iter().zip(&values[column]) {
                if unknowns.field_number(row) == unknowns.field_number(j) || value != 0.0 {
                    rows.push(row);
                    kept.push(value);
                }
            }
            offsets.push(rows.len());
        }
        CscMatrix::try_from_csc_data(n, n, offsets, rows, kept).map_err(|_| SystemError::NothingMoves)
    }
}

/// What a triangle adds.
pub(super) struct Element {
    /// Its unknowns, function by function, field by field.
    pub numbers: Vec<Option<u32>>,
    /// Fields of the triangle.
    fields: usize,
    /// Stiffness between them, N/m.
    pub stiffness: DMatrix<f64>,
    /// ∫ N_a N_b dA.
    value: DMatrix<f64>,
    /// Which functions are held from below, if any.
    clamped: Option<Vec<bool>>,
    /// Mass per area of pairs of fields, by whether the row's and the column's function is held from below.
    mass: [[DMatrix<f64>; 2]; 2],
}

impl Element {
    /// Everything that the structure has at a triangle: what is missing here is missing in its modes and in their error bars alike.
    pub fn new(
        structure: &Structure,
        prisms: &ElementMatrices,
        unknowns: &Unknowns,
        triangle: usize,
        bends: bool,
    ) -> Result<Self, SystemError> {
        let (mesh, added) = (structure.mesh(), structure.added_mass());
        let plane = prisms.integrate(triangle)?;
        let prism = prisms.of(triangle);
        let fields = prism.fields();
        let numbers = unknowns.of_triangle(mesh, triangle);
        let clamped = unknowns.clamped_below_functions(mesh, triangle);
        // Where the layer is held from below, unknowns stand for pairs with a degree that has none of its own.
        let mut stiffness = prism.stiffness_between(&plane, |i| clamped.is_some() || numbers[i].is_some());
        stiffness *= added.stiffness(triangle, bends);
        if let Some(stress) = structure.pre_stress() {
            stiffness += stress.geometric(prisms, triangle)?;
        }
        let pairs = foot_pairs(fields);
        for (a, _) in clamped.iter().flatten().enumerate().filter(|(_, clamped)| **clamped) {
            for &(f, constant, sign) in &pairs {
                let (to, from) = (a * fields.len() + f, a * fields.len() + constant);
                for j in 0..stiffness.ncols() {
                    stiffness[(to, j)] += sign * stiffness[(from, j)];
                }
            }
            for &(f, constant, sign) in &pairs {
                let (to, from) = (a * fields.len() + f, a * fields.len() + constant);
                for i in 0..stiffness.nrows() {
                    stiffness[(i, to)] += sign * stiffness[(i, from)];
                }
            }
        }
        let plain = DMatrix::from_fn(fields.len(), fields.len(), |f, g| {
            let per_area = if fields[f].degree == 0 { added.per_area(triangle) } else { 0.0 };
            if f == g { prism.mass_factor(f) * added.solid(triangle) + per_area } else { 0.0 }
        });
        let mut turn = DMatrix::identity(fields.len(), fields.len());
        pairs.iter().for_each(|&(f, constant, sign)| turn[(constant, f)] = sign);
        let mass = [[plain.clone(), &plain * &turn], [turn.transpose() * &plain, turn.transpose() * &plain * &turn]];
        Ok(Self { numbers, fields: fields.len(), stiffness, value: plane.value, clamped, mass })
    }

    /// Mass of a pair of local unknowns, kg.
    fn mass(&self, i: usize, j: usize) -> f64 {
        let ((a, f), (b, g)) = ((i / self.fields, i % self.fields), (j / self.fields, j % self.fields));
        let clamped = |a: usize| usize::from(self.clamped.as_ref().is_some_and(|clamped| clamped[a]));
        self.mass[clamped(a)][clamped(b)][(f, g)] * self.value[(a, b)]
    }
}

impl Element {
    /// Mass (kg) times some vectors over the local unknowns, one a column.
    pub fn inertia(&self, x: &DMatrix<f64>) -> DMatrix<f64> {
        if self.clamped.is_some() {
            return DMatrix::from_fn(x.nrows(), x.nrows(), |i, j| self.mass(i, j)) * x;
        }
        let mut product = DMatrix::zeros(x.nrows(), x.ncols());
        for f in 0..self.fields {
            let own = x.rows_with_step(f, self.value.nrows(), self.fields - 1).into_owned();
            let moved = (&self.value * own) * self.mass[0][0][(f, f)];
            product.rows_with_step_mut(f, self.value.nrows(), self.fields - 1).copy_from(&moved);
        }
        product
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
    fn add(&mut self, unknowns: &Unknowns, element: &Element) {
        let entity = |number: u32| unknowns.groups()[number as usize] as usize;
        for (local_column, j) in element.numbers.iter().enumerate() {
            let Some(j) = *j else { continue };
            let own = entity(j);
            if !self.entities.contains(&own) {
                continue;
            }
            let column = self.blocks.column[j as usize] - self.start;
            let list = &self.blocks.neighbours[own];
            // Rows of one entity come together: its place in the column is looked up once.
            let mut found = (usize::MAX, 0);
            for (local_row, i) in element.numbers.iter().enumerate() {
                let Some(i) = *i else { continue };
                let other = entity(i);
                if found.0 != other {
                    let place = list.partition_point(|(entity, _)| (*entity as usize) < other);
                    found = (other, list[place].1 as usize);
                }
                let at = column + found.1 + (i - self.blocks.first[other]) as usize;
                self.k[at] += element.stiffness[(local_row, local_column)];
                self.m[at] += element.mass(local_row, local_column);
            }
        }
    }
}
