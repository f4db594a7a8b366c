//! Which unknown is which: numbers for every shape function of every corner, edge and interior times every field that
//! all triangles around it have.
//!
//! A layer held from below vanishes at z = −t/2 over the held triangles and on their edges. There the polynomials are
//! P_k − (−1)^k P_0, k ≥ 1, which vanish at ζ = −1 and span all that do: an unknown of degree k belongs to that pair, and
//! there is none of degree 0.

use super::{Layer, Regions, Supports};
use crate::element::basis::Order;
use crate::element::through::Field;
use modalith_mesher::mesh::Mesh;
use nalgebra::DMatrix;
use std::ops::Range;

/// Marks an unknown that is held.
pub(super) const HELD: u32 = u32::MAX;

/// Numbers of the free unknowns. Mesh entities are numbered corners first, then edges, then interiors; an entity's
/// unknowns run function by function, field by field.
#[derive(Clone, Debug, PartialEq)]
pub struct Unknowns {
    order: Order,
    fields: Vec<Field>,
    corners: usize,
    edges: usize,
    triangles: usize,
    number: Vec<u32>,
    group: Vec<u32>,
    field_of: Vec<u8>,
    regions: Regions,
    /// For every set of fields their places among all fields.
    places: Vec<Vec<usize>>,
    /// Which entities are held at z = −t/2; empty where nothing is.
    clamped: Vec<bool>,
}

/// A mesh entity of a whole as the image of one of a piece.
#[derive(Clone, Copy, Debug)]
pub(super) struct Image<'a> {
    /// The entity of the piece.
    pub entity: usize,
    /// Signs of displacement along x, y and z.
    pub signs: [f64; 3],
    /// Its functions in those of the piece; `None` where they are the same.
    pub functions: Option<&'a DMatrix<f64>>,
}

impl Unknowns {
    pub(super) fn new(mesh: &Mesh, layer: &Layer, supports: &Supports) -> Self {
        let mut unknowns = Self {
            order: layer.order,
            fields: layer.fields.clone(),
            corners: mesh.points.len(),
            edges: mesh.edges.len(),
            triangles: mesh.triangles.len(),
            number: Vec::new(),
            group: Vec::new(),
            field_of: Vec::new(),
            regions: layer.regions.clone(),
            places: layer.regions.sets().iter().map(|set| places(set, &layer.fields)).collect(),
            clamped: Vec::new(),
        };
        unknowns.clamped = unknowns.find_clamped(mesh, supports);
        let held = unknowns.find_held(mesh, supports);
        unknowns.number = vec![HELD; held.len()];
        for entity in 0..unknowns.entities() {
            for slot in unknowns.slots(entity) {
                if !held[slot] {
                    unknowns.number[slot] = unknowns.group.len() as u32;
                    unknowns.group.push(entity as u32);
                    unknowns.field_of.push((slot % layer.fields.len()) as u8);
                }
            }
        }
        unknowns
    }

    /// Entities of the triangles that are held from below.
    fn find_clamped(&self, mesh: &Mesh, supports: &Supports) -> Vec<bool> {
        if supports.below.is_empty() {
            return Vec::new();
        }
        let mut clamped = vec![false; self.entities()];
        for &t in &supports.below {
            self.entities_of(mesh, t as usize).into_iter().for_each(|e| clamped[e] = true);
        }
        clamped
    }

    /// How many functions of an entity an order has.
    fn functions(&self, entity: usize, order: Order) -> usize {
        match entity {
            e if e < self.corners => 1,
            e if e < self.corners + self.edges => order.per_edge(),
            _ => order.per_interior(),
        }
    }

    /// Which slots have no unknown: supports, and fields and functions that some triangle around the entity does not have.
    fn find_held(&self, mesh: &Mesh, supports: &Supports) -> Vec<bool> {
        let fields = self.fields.len();
        let mut held = vec![false; self.slots(self.entities() - 1).end];
        let mut hold = |entity: usize, places: &[usize]| {
            for slot in self.slots(entity).step_by(fields.max(1)) {
                places.iter().for_each(|f| held[slot + f] = true);
            }
        };
        let everything: Vec<usize> = (0..fields).collect();
        let anchored = supports.anchored.iter().map(|&e| (e, everything.clone()));
        let edges = supports.edges.iter().map(|(e, held)| (*e, places(held, &self.fields)));
        for (e, held) in anchored.chain(edges) {
            hold(self.corners + e as usize, &held);
            for corner in mesh.edges[e as usize].ends {
                hold(corner as usize, &held);
            }
        }
        for (corner, held) in &supports.corners {
            hold(*corner as usize, &places(held, &self.fields));
        }
        // A point that no triangle uses has no stiffness.
        let mut used = vec![false; mesh.points.len()];
        mesh.triangles.iter().flatten().for_each(|&c| used[c as usize] = true);
        for corner in (0..used.len()).filter(|&c| !used[c]) {
            hold(corner, &everything);
        }
        let missing: Vec<Vec<usize>> =
            self.places.iter().map(|own| everything.iter().copied().filter(|f| !own.contains(f)).collect()).collect();
        for t in 0..self.triangles {
            let missing = &missing[self.regions.set_of(t)];
            if !missing.is_empty() {
                self.entities_of(mesh, t).into_iter().for_each(|entity| hold(entity, missing));
            }
        }
        let constant: Vec<usize> = everything.into_iter().filter(|&f| self.fields[f].degree == 0).collect();
        for entity in (0..self.clamped.len()).filter(|&e| self.clamped[e]) {
            hold(entity, &constant);
        }
        self.hold_high_orders(mesh, &mut held);
        held
    }

    /// Holds what triangles of a lower order do not have, and fields that have a lower one.
    fn hold_high_orders(&self, mesh: &Mesh, held: &mut [bool]) {
        let fields = self.fields.len();
        // Functions run from low to high degree.
        for t in (0..self.triangles).filter(|&t| self.regions.lowered(t) > 0) {
            let order = self.order.lowered(self.regions.lowered(t));
            for entity in self.entities_of(mesh, t) {
                let slots = self.slots(entity);
                held[slots.start + self.functions(entity, order) * fields..slots.end].fill(true);
            }
        }
        for t in 0..self.triangles {
            for (f, &field) in self.fields.iter().enumerate() {
                let order = match self.regions.lowered_for(t, field) {
                    0 => continue,
                    lowered => self.order.lowered(lowered),
                };
                for entity in self.entities_of(mesh, t) {
                    let slots = self.slots(entity);
                    let beyond = slots.start + self.functions(entity, order) * fields + f;
                    (beyond..slots.end).step_by(fields).for_each(|slot| held[slot] = true);
                }
            }
        }
    }

    /// How many unknowns are free.
    pub fn len(&self) -> usize {
        self.group.len()
    }

    /// Whether nothing is free.
    pub fn is_empty(&self) -> bool {
        self.group.is_empty()
    }

    /// How many free unknowns every entity has.
    pub(crate) fn per_entity(&self) -> Vec<u32> {
        let mut count = vec![0; self.entities()];
        self.group.iter().for_each(|&entity| count[entity as usize] += 1);
        count
    }

    /// The entities of every triangle.
    pub(crate) fn elements(&self, mesh: &Mesh) -> Vec<[u32; 7]> {
        (0..self.triangles).map(|t| self.entities_of(mesh, t).map(|e| e as u32)).collect()
    }

    /// The mesh entity of every free unknown: the groups that a fill-reducing order may keep together.
    pub fn groups(&self) -> &[u32] {
        &self.group
    }

    /// The field of a free unknown.
    pub fn field(&self, unknown: usize) -> Field {
        self.fields[usize::from(self.field_of[unknown])]
    }

    pub(super) fn field_number(&self, unknown: usize) -> u8 {
        self.field_of[unknown]
    }

    /// The fields.
    pub fn fields(&self) -> &[Field] {
        &self.fields
    }

    /// Order of the triangles.
    pub fn order(&self) -> Order {
        self.order
    }

    pub(super) fn entities(&self) -> usize {
        self.corners + self.edges + self.triangles
    }

    /// Slots of an entity in the table of numbers: all functions times all fields, held or not.
    pub(super) fn slots(&self, entity: usize) -> Range<usize> {
        let (m, e, i) = (self.fields.len(), self.order.per_edge(), self.order.per_interior());
        let start = if entity < self.corners {
            entity
        } else if entity < self.corners + self.edges {
            self.corners + (entity - self.corners) * e
        } else {
            self.corners + self.edges * e + (entity - self.corners - self.edges) * i
        };
        let functions = self.functions(entity, self.order);
        start * m..(start + functions) * m
    }

    /// The seven entities of a triangle in the order of its shape functions.
    pub(super) fn entities_of(&self, mesh: &Mesh, triangle: usize) -> [usize; 7] {
        let [a, b, c] = mesh.triangles[triangle].map(|i| i as usize);
        let [d, e, f] = mesh.triangle_edges[triangle].map(|i| self.corners + i as usize);
        [a, b, c, d, e, f, self.corners + self.edges + triangle]
    }

    /// Unknown numbers of a triangle in element order (function by function, each of the triangle's own fields); `None`
    /// where there is none.
    pub fn of_triangle(&self, mesh: &Mesh, triangle: usize) -> Vec<Option<u32>> {
        let places = &self.places[self.regions.set_of(triangle)];
        self.entities_of(mesh, triangle)
            .into_iter()
            .flat_map(|entity| self.slots(entity).step_by(self.fields.len().max(1)))
            .flat_map(|slot| places.iter().map(move |f| slot + f))
            .map(|slot| Some(self.number[slot]).filter(|&n| n != HELD))
            .collect()
    }

    /// Values over the unknowns of a richer system of the same mesh and supports, zero where these have none.
    pub(super) fn carried_into(&self, richer: &Self, values: &[f64]) -> Vec<f64> {
        let own_places = places(&self.fields, &richer.fields);
        let mut carried = vec![0.0; richer.len()];
        for entity in 0..self.entities() {
            let own = self.slots(entity).step_by(self.fields.len().max(1));
            let there = richer.slots(entity).step_by(richer.fields.len().max(1));
            for (from, to) in own.zip(there) {
                for (f, place) in own_places.iter().enumerate() {
                    let (from, to) = (self.number[from + f], richer.number[to + place]);
                    if from != HELD && to != HELD {
                        carried[to as usize] = values[from as usize];
                    }
                }
            }
        }
        carried
    }

    /// Values over the unknowns of a whole of which this is a piece: every entity there is an image of one here.
    pub(super) fn unfolded(&self, whole: &Self, images: &[Option<Image<'_>>], values: &[f64]) -> Vec<f64> {
        let fields = self.fields.len();
        let mut unfolded = vec![0.0; whole.len()];
        for (entity, image) in images.iter().enumerate() {
            let Some(image) = image else { continue };
            let (own, there) = (self.slots(image.entity), whole.slots(entity));
            for slot in there.clone().filter(|&slot| whole.number[slot] != HELD) {
                let (a, f) = ((slot - there.start) / fields, (slot - there.start) % fields);
                let value = |b: usize| match self.number[own.start + b * fields + f] {
                    HELD => 0.0,
                    number => values[number as usize],
                };
                let turned = match image.functions {
                    None => value(a),
                    Some(turn) => (0..turn.ncols()).map(|b| turn[(a, b)] * value(b)).sum(),
                };
                unfolded[whole.number[slot] as usize] = image.signs[usize::from(self.fields[f].axis)] * turned;
            }
        }
        unfolded
    }

    /// Element coefficients of a triangle, over plain Legendre polynomials, from values over the free unknowns; zero where held.
    pub fn gather(&self, mesh: &Mesh, triangle: usize, values: &[f64]) -> Vec<f64> {
        self.gather_all(mesh, triangle, &[values]).data.into()
    }

    /// The same for several vectors at once, one a column.
    pub fn gather_all(&self, mesh: &Mesh, triangle: usize, vectors: &[&[f64]]) -> DMatrix<f64> {
        let numbers = self.of_triangle(mesh, triangle);
        let mut all = DMatrix::from_fn(numbers.len(), vectors.len(), |row, column| {
            numbers[row].map_or(0.0, |n| vectors[column][n as usize])
        });
        if let Some(clamped) = self.clamped_below_functions(mesh, triangle) {
            let fields = self.regions.fields_of(triangle);
            for (a, _) in clamped.iter().enumerate().filter(|(_, clamped)| **clamped) {
                for (f, constant, sign) in foot_pairs(fields) {
                    for mut q in all.column_iter_mut() {
                        q[a * fields.len() + constant] += sign * q[a * fields.len() + f];
                    }
                }
            }
        }
        all
    }

    /// For every shape function of a triangle whether it belongs to an entity held from below; `None` where none does.
    pub(super) fn clamped_below_functions(&self, mesh: &Mesh, triangle: usize) -> Option<Vec<bool>> {
        let entities = self.entities_of(mesh, triangle);
        if self.clamped.is_empty() || entities.iter().all(|&e| !self.clamped[e]) {
            return None;
        }
        let functions = |e: usize| self.slots(e).len() / self.fields.len().max(1);
        Some(entities.into_iter().flat_map(|e| std::iter::repeat_n(self.clamped[e], functions(e))).collect())
    }

    /// The mean of a free unknown's polynomial over the thickness: 0, 1 or −1.
    pub(super) fn mean(&self, unknown: usize) -> f64 {
        let clamped = self.clamped.get(self.group[unknown] as usize).copied().unwrap_or(false);
        match self.field(unknown).degree {
            0 => 1.0,
            k if clamped => foot_sign(k),
            _ => 0.0,
        }
    }

    /// Every field at a corner of the mesh, from values over the free unknowns; zero where held.
    pub(crate) fn at_corner(&self, corner: u32, values: &[f64]) -> impl Iterator<Item = (Field, f64)> {
        self.fields.iter().copied().zip(self.slots(corner as usize)).map(|(field, slot)| {
            let number = self.number[slot];
            (field, if number == HELD { 0.0 } else { values[number as usize] })
        })
    }
}

/// −(−1)^k, the share of P_0 that makes P_k vanish at ζ = −1.
fn foot_sign(degree: u8) -> f64 {
    if degree.is_multiple_of(2) { -1.0 } else { 1.0 }
}

/// Among the fields of a triangle those of degree 1 and higher, each with the place of its axis' degree 0 and the share of it
/// that it takes where the layer is held from below.
pub(super) fn foot_pairs(fields: &[Field]) -> Vec<(usize, usize, f64)> {
    let constant = |axis: u8| fields.iter().position(|g| *g == Field { axis, degree: 0 });
    let higher = fields.iter().enumerate().filter(|(_, f)| f.degree > 0);
    higher.filter_map(|(place, f)| constant(f.axis).map(|c| (place, c, foot_sign(f.degree)))).collect()
}

/// Places of some fields among all; those that are not there are left out.
fn places(some: &[Field], all: &[Field]) -> Vec<usize> {
    (0..all.len()).filter(|&f| some.contains(&all[f])).collect()
}
