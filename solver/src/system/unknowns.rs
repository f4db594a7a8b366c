//! Which unknown is which: numbers for every shape function of every corner, edge and interior times every field.

use super::{Layer, Supports};
use crate::element::basis::Order;
use crate::element::through::Field;
use modalith_mesher::mesh::Mesh;
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
        };
        let mut held = vec![false; unknowns.slots(unknowns.entities() - 1).end];
        let positions = |fields: &[Field]| -> Vec<usize> {
            (0..layer.fields.len()).filter(|&f| fields.contains(&layer.fields[f])).collect()
        };
        let mut hold = |entity: usize, fields: &[usize]| {
            for slot in unknowns.slots(entity).step_by(layer.fields.len().max(1)) {
                for f in fields {
                    held[slot + f] = true;
                }
            }
        };
        let everything: Vec<usize> = (0..layer.fields.len()).collect();
        let anchored = supports.anchored.iter().map(|&e| (e, everything.clone()));
        let edges = supports.edges.iter().map(|(e, fields)| (*e, positions(fields)));
        for (e, fields) in anchored.chain(edges) {
            hold(mesh.points.len() + e as usize, &fields);
            for corner in mesh.edges[e as usize].ends {
                hold(corner as usize, &fields);
            }
        }
        for (corner, fields) in &supports.corners {
            hold(*corner as usize, &positions(fields));
        }
        // A point that no triangle uses has no stiffness.
        let mut used = vec![false; mesh.points.len()];
        mesh.triangles.iter().flatten().for_each(|&c| used[c as usize] = true);
        for corner in (0..used.len()).filter(|&c| !used[c]) {
            hold(corner, &everything);
        }
        let mut number = vec![HELD; held.len()];
        for entity in 0..unknowns.entities() {
            for slot in unknowns.slots(entity) {
                if !held[slot] {
                    number[slot] = unknowns.group.len() as u32;
                    unknowns.group.push(entity as u32);
                    unknowns.field_of.push((slot % layer.fields.len()) as u8);
                }
            }
        }
        unknowns.number = number;
        unknowns
    }

    /// How many unknowns are free.
    pub fn len(&self) -> usize {
        self.group.len()
    }

    /// Whether nothing is free.
    pub fn is_empty(&self) -> bool {
        self.group.is_empty()
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
        let (start, functions) = if entity < self.corners {
            (entity, 1)
        } else if entity < self.corners + self.edges {
            (self.corners + (entity - self.corners) * e, e)
        } else {
            (self.corners + self.edges * e + (entity - self.corners - self.edges) * i, i)
        };
        start * m..(start + functions) * m
    }

    pub(super) fn number(&self, slot: usize) -> u32 {
        self.number[slot]
    }

    /// The seven entities of a triangle in the order of its shape functions.
    pub(super) fn entities_of(&self, mesh: &Mesh, triangle: usize) -> [usize; 7] {
        let [a, b, c] = mesh.triangles[triangle].map(|i| i as usize);
        let [d, e, f] = mesh.triangle_edges[triangle].map(|i| self.corners + i as usize);
        [a, b, c, d, e, f, self.corners + self.edges + triangle]
    }

    /// Unknown numbers of a triangle in element order (function by function, field by field); `None` where held.
    pub fn of_triangle(&self, mesh: &Mesh, triangle: usize) -> Vec<Option<u32>> {
        self.entities_of(mesh, triangle)
            .into_iter()
            .flat_map(|entity| self.slots(entity))
            .map(|slot| Some(self.number[slot]).filter(|&n| n != HELD))
            .collect()
    }

    /// Element coefficients of a triangle from values over the free unknowns; zero where held.
    pub fn gather(&self, mesh: &Mesh, triangle: usize, values: &[f64]) -> Vec<f64> {
        self.of_triangle(mesh, triangle).into_iter().map(|n| n.map_or(0.0, |n| values[n as usize])).collect()
    }

    /// Every field at a corner of the mesh, from values over the free unknowns; zero where held.
    pub(crate) fn at_corner(&self, corner: u32, values: &[f64]) -> impl Iterator<Item = (Field, f64)> {
        self.fields.iter().copied().zip(self.slots(corner as usize)).map(|(field, slot)| {
            let number = self.number(slot);
            (field, if number == HELD { 0.0 } else { values[number as usize] })
        })
    }
}
