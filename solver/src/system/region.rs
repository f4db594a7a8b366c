//! Which displacement fields each triangle of a layer has: few where the layer is as wide as it is tall, many in tall flexures.
//!
//! In: a mesh (µm) and a thickness. Out: a set of fields for every triangle.
//!
//! A mesh entity (corner, edge, interior) has the fields common to all triangles that touch it: what a triangle has beyond its
//! neighbour vanishes on their common edge, so that displacements stay continuous (the minimum rule: L. Demkowicz, Computing
//! with hp-Adaptive Finite Elements 1, 2007).

use crate::element::through::Field;
use modalith_mesher::half::Half;
use modalith_mesher::mesh::{Mesh, MirrorAxis};
use modalith_mesher::singular::at_roots;
use modalith_mesher::width::strip_widths;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Sets of fields, and the set of every triangle.
#[derive(Clone, Debug, PartialEq)]
pub struct Regions {
    /// The sets, each sorted by axis and degree.
    sets: Vec<Vec<Field>>,
    /// For every triangle the number of its set; empty where all triangles have the first.
    of_triangle: Vec<u16>,
    /// How many orders below the layer's each triangle is; empty where none is.
    lowered: Vec<u8>,
    /// For every set how its fields' orders in the plane fall with their degree; empty where none does.
    falling: Vec<Falling>,
}

impl Regions {
    /// The same fields everywhere.
    pub fn uniform(fields: Vec<Field>) -> Self {
        Self::new(vec![fields], Vec::new())
    }

    /// A set for every triangle, by number.
    pub fn new(mut sets: Vec<Vec<Field>>, of_triangle: Vec<u16>) -> Self {
        sets.iter_mut().for_each(|set| set.sort_unstable());
        Self { sets, of_triangle, lowered: Vec::new(), falling: Vec::new() }
    }

    /// Fields for a solid of some thickness, µm: by the width of slender strips against the thickness, and the same within
    /// a margin around them. Triangles that are `held_below` have those of a flexure taller than wide. Around singular corners at the
    /// roots of flexures the order is one lower: the sizes there shrink towards the corner in a geometric progression, and the
    /// best orders fall with them (I. Babuška, B. Q. Guo, SIAM J. Numer. Anal. 25, 1988, 837–861). Everywhere the order falls with the
    /// degree through the thickness ([`Self::lowered_for`]).
    pub fn of_solid(mesh: &Mesh, thickness_um: f64, held_below: &[u32]) -> Self {
        let widths = strip_widths(mesh);
        let level = |w: f64| LEVELS.iter().rposition(|l| thickness_um >= l.from_height * w).unwrap_or(0);
        let mut tall: Vec<usize> = widths.iter().map(|w| w.map_or(0, level)).collect();
        held_below.iter().for_each(|&t| tall[t as usize] = tall[t as usize].max(FOOTED));
        let mut of_triangle = vec![0; tall.len()];
        for level in 1..LEVELS.len() {
            let sources: Vec<usize> = (0..tall.len()).filter(|&t| tall[t] >= level && !mesh.in_finger(t)).collect();
            for t in within(mesh, &sources, MARGIN * thickness_um) {
                of_triangle[t] = level as u16;
            }
        }
        for t in (0..tall.len()).filter(|&t| mesh.in_finger(t)) {
            of_triangle[t] = of_triangle[t].max(tall[t].min(IN_FINGER) as u16);
        }
        same_on_both_sides(mesh, &mut of_triangle);
        let mut high: Vec<u8> = at_roots(mesh, LOW_ORDER).into_iter().map(|at_root| u8::from(!at_root)).collect();
        same_on_both_sides(mesh, &mut high);
        let lowered = high.into_iter().map(|high| 1 - high).collect();
        let sets = LEVELS.iter().map(Level::fields).collect();
        let falling = LEVELS.iter().map(|l| l.falling).collect();
        Self { lowered, falling, ..Self::new(sets, of_triangle) }
    }

    /// The sets of fields.
    pub fn sets(&self) -> &[Vec<Field>] {
        &self.sets
    }

    /// Number of the set of a triangle.
    pub fn set_of(&self, triangle: usize) -> usize {
        self.of_triangle.get(triangle).map_or(0, |&s| usize::from(s))
    }

    /// How many orders below the layer's a triangle is.
    pub fn lowered(&self, triangle: usize) -> u8 {
        self.lowered.get(triangle).copied().unwrap_or(0)
    }

    /// How many orders below the layer's a field is in the plane of a triangle.
    pub fn lowered_for(&self, triangle: usize, field: Field) -> u8 {
        self.falling.get(self.set_of(triangle)).map_or(0, |falling| falling.of(field))
    }

    /// Whether a triangle of [`Self::of_solid`] has the fields of the tallest flexures, beyond which no degrees are taken.
    pub fn is_tallest(&self, triangle: usize) -> bool {
        self.falling.len() == LEVELS.len() && self.set_of(triangle) + 1 == LEVELS.len()
    }

    /// Fields of a triangle.
    pub fn fields_of(&self, triangle: usize) -> &[Field] {
        &self.sets[self.set_of(triangle)]
    }

    /// All fields that some triangle has, sorted by axis and degree.
    pub(super) fn all(&self) -> Vec<Field> {
        let mut all: Vec<Field> = self.sets.iter().flatten().copied().collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The regions of some triangles, in their order.
    pub(super) fn on(&self, triangles: &[u32]) -> Self {
        let (of_triangle, lowered) = (chosen(&self.of_triangle, triangles), chosen(&self.lowered, triangles));
        Self { sets: self.sets.clone(), of_triangle, lowered, falling: self.falling.clone() }
    }

    /// The same regions with only some of the fields.
    pub(super) fn keeping(&self, keep: impl Fn(Field) -> bool) -> Self {
        let sets = self.sets.iter().map(|set| set.iter().copied().filter(|f| keep(*f)).collect()).collect();
        Self { sets, ..self.clone() }
    }

    /// The same regions with the next degree of every axis and parity that is there: even and odd degrees belong to
    /// different motions.
    pub(super) fn enriched(&self) -> Self {
        let richer = |set: &Vec<Field>| {
            let next = |axis: u8, parity: u8| {
                let own = set.iter().filter(|f| f.axis == axis && f.degree % 2 == parity).map(|f| f.degree + 2).max();
                own.map(|degree| Field { axis, degree })
            };
            let new = (0..3).flat_map(|axis| [0, 1].map(|parity| next(axis, parity))).flatten();
            set.iter().copied().chain(new).collect()
        };
        let sets = self.sets.iter().map(richer).collect();
        Self {
            falling: self.falling.clone(),
            lowered: self.lowered.clone(),
            ..Self::new(sets, self.of_triangle.clone())
        }
    }
}

/// The values of some triangles, in their order; none where no triangle has any.
fn chosen<T: Copy>(values: &[T], triangles: &[u32]) -> Vec<T> {
    triangles.iter().filter_map(|&t| values.get(t as usize).copied()).collect()
}

/// Orders in the plane below those of stretch, tilt and deflection, by degree through the thickness, the last for all higher ones.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Falling {
    in_plane: &'static [u8],
    normal: &'static [u8],
}

impl Falling {
    fn of(self, field: Field) -> u8 {
        let by_degree = if field.axis == 2 { self.normal } else { self.in_plane };
        by_degree.get(usize::from(field.degree)).or(by_degree.last()).copied().unwrap_or(0)
    }
}

/// What bends a section out of shape varies along a flexure less than the flexure's own motion. The cubic in the plane is the warping of
/// twist and the shear of wide parts. The flagship has 363 552 unknowns for 587 356, and its frequencies move by at most 0.016 %
/// (validation/ELEMENTS.md).
const FALLS: Falling = Falling { in_plane: &[0, 0, 2, 1, 3], normal: &[0, 0, 2, 3] };
/// In flexures several times as tall as wide sections bend out of shape more, and farther from their roots.
const FALLS_IN_TALL: Falling = Falling { in_plane: &[0, 0, 1, 1, 2], normal: &[0, 0, 1, 2] };

/// Fields of material from some height over width on.
struct Level {
    from_height: f64,
    in_plane: &'static [u8],
    normal: &'static [u8],
    falling: Falling,
}

impl Level {
    fn fields(&self) -> Vec<Field> {
        let fields_along = |axis: u8, degrees: &'static [u8]| degrees.iter().map(move |&degree| Field { axis, degree });
        fields_along(0, self.in_plane)
            .chain(fields_along(1, self.in_plane))
            .chain(fields_along(2, self.normal))
            .collect()
    }
}

/// By height over width, rising. Twist needs odd powers in the plane: degree 3 leaves 0.03 and 0.18 % of the frequency of a
/// clamped bar at t/w = 1 and 2, degree 5 leaves 0.06 % at 4, degree 7 0.04 % at 8 and 0.2 % at 16; bending in the plane at a
/// root needs even ones, degree 2 up to t/w = 4 and degree 4 beyond (validation/ELEMENTS.md). A wide part needs the cubic for
/// its shear, without which it is up to 1 % too stiff where it is five times as wide as thick.
const LEVELS: [Level; 6] = [
    Level { from_height: 0.0, in_plane: &[0, 1, 3], normal: &[0, 1, 2], falling: FALLS },
    Level { from_height: 0.125, in_plane: &[0, 1, 2, 3], normal: &[0, 1, 2], falling: FALLS },
    Level { from_height: 1.5, in_plane: &[0, 1, 2, 3, 5], normal: &[0, 1, 2, 3], falling: FALLS },
    Level { from_height: 5.0, in_plane: &[0, 1, 2, 3, 4, 5, 7], normal: &[0, 1, 2, 3, 4], falling: FALLS },
    Level { from_height: 7.0, in_plane: &[0, 1, 2, 3, 4, 5, 7], normal: &[0, 1, 2, 3, 4], falling: FALLS_IN_TALL },
    Level { from_height: 12.0, in_plane: &[0, 1, 2, 3, 4, 5, 7, 9], normal: &[0, 1, 2, 3, 4], falling: FALLS_IN_TALL },
];

/// Level of material held from below: its shear is as uneven in z as that of a tall flexure, even degrees too.
const FOOTED: usize = 4;

/// Level of the tallest fingers, which carry nothing but themselves: their twist, the first to need more, rings far above their
/// bending. The material around their roots has its own level.
const IN_FINGER: usize = 2;

/// How far around a strip its fields reach, in thicknesses.
const MARGIN: f64 = 1.0;

/// How far around a singular corner the order is lower, in widths of the flexure that is rooted there.
const LOW_ORDER: f64 = 1.5;

/// Gives triangles that are images of each other the higher of their levels: widths are measured to rounding only.
fn same_on_both_sides<T: Copy + Default + Ord>(mesh: &Mesh, levels: &mut [T]) {
    for (normal, at_um) in mesh.mirrors.iter().filter_map(MirrorAxis::across) {
        let Some(half) = Half::of(mesh, normal, at_um) else { continue };
        let mut highest = vec![T::default(); half.mesh.triangles.len()];
        for (original, level) in half.triangles.iter().zip(levels.iter()) {
            let own = &mut highest[original.number as usize];
            *own = (*own).max(*level);
        }
        for (original, level) in half.triangles.iter().zip(levels.iter_mut()) {
            *level = highest[original.number as usize];
        }
    }
}

/// Triangles that a path of some length, µm, reaches from the sources, through the middles of edges.
fn within(mesh: &Mesh, sources: &[usize], reach_um: f64) -> Vec<usize> {
    let next_to = mesh.neighbours();
    let mut nearest = vec![f64::INFINITY; mesh.triangles.len()];
    let mut open = BinaryHeap::new();
    // Lengths are not negative, so their bits are in their order.
    let mut reach = |open: &mut BinaryHeap<_>, t: usize, path: f64, entry: Option<[f64; 2]>| {
        if path < nearest[t] && path <= reach_um {
            nearest[t] = path;
            open.push((Reverse(path.to_bits()), t, entry.map(|p| p.map(f64::to_bits))));
        }
    };
    sources.iter().for_each(|&t| reach(&mut open, t, 0.0, None));
    while let Some((Reverse(path), t, entry)) = open.pop() {
        let entry = entry.map(|p| p.map(f64::from_bits));
        for (k, next) in next_to[t].iter().enumerate() {
            let Some(next) = *next else { continue };
            let middle = mesh.edges[mesh.triangle_edges[t][k] as usize].middle;
            let hop = entry.map_or(0.0, |p| (middle[0] - p[0]).hypot(middle[1] - p[1]));
            reach(&mut open, next as usize, f64::from_bits(path) + hop, Some(middle));
        }
    }
    (0..nearest.len()).filter(|&t| nearest[t].is_finite()).collect()
}
