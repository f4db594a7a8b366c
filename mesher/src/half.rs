//! Half a mesh that a mirror makes whole.
//!
//! In: a mesh and a mirror, x = c or y = c. Out: the half on the mirror's positive side, and for every corner, edge and
//! triangle of the whole what it is an image of; nothing where the mesh is not its own image.

use crate::geometry::Point;
use crate::mesh::{Mesh, MeshError};
use std::collections::HashMap;

/// How far an image may be off, µm: rounding of coordinates, nothing else.
pub const EXACT_UM: f64 = 1e-8;

/// What a corner, edge or triangle of the whole is in the half.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Original {
    /// Its number in the half.
    pub number: u32,
    /// Whether it is the image of that, not the thing itself.
    pub mirrored: bool,
}

/// The half of a mesh on one side of a mirror.
#[derive(Clone, Debug)]
pub struct Half {
    /// The half, as a mesh of its own. What lies on the mirror is part of it and keeps its kind.
    pub mesh: Mesh,
    /// For every corner of the whole its original; none for a corner that no triangle uses.
    pub corners: Vec<Option<Original>>,
    /// For every edge of the whole its original.
    pub edges: Vec<Original>,
    /// For every triangle of the whole its original.
    pub triangles: Vec<Original>,
}

impl Half {
    /// The half of `whole` on the positive side of the mirror at `at_um` across the axis `normal` (0: x, 1: y). `None` where a
    /// triangle crosses the mirror, or where the two sides are not images of each other: corners, mid-side points, kinds of edges.
    ///
    /// ```
    /// use modalith_mesher::{half::Half, mesh::Mesh};
    /// let plate = Mesh::rectangle(40.0, 20.0, 4, 2)?;
    /// let half = Half::of(&plate, 0, 20.0).expect("its own image about x = 20");
    /// assert_eq!(half.mesh.triangles.len(), 8);
    /// assert!(Half::of(&plate, 0, 10.0).is_none());
    /// # Ok::<(), modalith_mesher::mesh::MeshError>(())
    /// ```
    pub fn of(whole: &Mesh, normal: usize, at_um: f64) -> Option<Self> {
        let beyond = |p: Point| p[normal] - at_um;
        let sides = whole.triangles.iter().map(|corners| {
            let beyond = corners.map(|c| beyond(whole.points[c as usize]));
            match () {
                () if beyond.iter().all(|b| *b >= -EXACT_UM) => Some(true),
                () if beyond.iter().all(|b| *b <= EXACT_UM) => Some(false),
                () => None,
            }
        });
        let kept: Vec<bool> = sides.collect::<Option<_>>()?;
        let (mesh, corner_numbers) = part(whole, &kept).ok()?;
        let image = |mut p: Point| {
            p[normal] = 2.0 * at_um - p[normal];
            p
        };
        let places = Places::new(&mesh.points);
        let mut used = vec![false; whole.points.len()];
        whole.triangles.iter().flatten().for_each(|&c| used[c as usize] = true);
        let mut corners = vec![None; whole.points.len()];
        for c in (0..used.len()).filter(|&c| used[c]) {
            let mirrored = corner_numbers[c].is_none();
            let number = corner_numbers[c].or_else(|| places.find(&mesh.points, image(whole.points[c])))?;
            corners[c] = Some(Original { number, mirrored });
        }
        let original = |c: u32| corners[c as usize].map(|o| o.number);
        let ends: HashMap<[u32; 2], u32> = mesh.edges.iter().map(|e| e.ends).zip(0..).collect();
        let mut edges = Vec::with_capacity(whole.edges.len());
        for edge in &whole.edges {
            let [a, b] = [original(edge.ends[0])?, original(edge.ends[1])?];
            let number = *ends.get(&[a.min(b), a.max(b)])?;
            let own = &mesh.edges[number as usize];
            let mirrored = beyond(edge.middle) < -EXACT_UM;
            let middle = if mirrored { image(edge.middle) } else { edge.middle };
            if own.kind != edge.kind || !near(own.middle, middle) {
                return None;
            }
            edges.push(Original { number, mirrored });
        }
        let sorted = |mut corners: [u32; 3]| {
            corners.sort_unstable();
            corners
        };
        let numbers: HashMap<[u32; 3], u32> = mesh.triangles.iter().map(|t| sorted(*t)).zip(0..).collect();
        let mut triangles = Vec::with_capacity(whole.triangles.len());
        for (t, [a, b, c]) in whole.triangles.iter().enumerate() {
            let number = *numbers.get(&sorted([original(*a)?, original(*b)?, original(*c)?]))?;
            triangles.push(Original { number, mirrored: !kept[t] });
        }
        // Distinct triangles have distinct originals on their side: as many on both sides means that each has its image.
        (2 * mesh.triangles.len() == whole.triangles.len()).then_some(Self { mesh, corners, edges, triangles })
    }
}

fn near(a: Point, b: Point) -> bool {
    (a[0] - b[0]).abs() <= EXACT_UM && (a[1] - b[1]).abs() <= EXACT_UM
}

/// Some triangles of a mesh, in their order, with the corners they use, in theirs; and the new number of every corner.
fn part(whole: &Mesh, kept: &[bool]) -> Result<(Mesh, Vec<Option<u32>>), MeshError> {
    let chosen: Vec<usize> = (0..kept.len()).filter(|&t| kept[t]).collect();
    let mut used = vec![false; whole.points.len()];
    chosen.iter().flat_map(|&t| whole.triangles[t]).for_each(|c| used[c as usize] = true);
    let (mut numbers, mut points) = (vec![None; used.len()], Vec::new());
    for c in (0..used.len()).filter(|&c| used[c]) {
        numbers[c] = Some(points.len() as u32);
        points.push(whole.points[c]);
    }
    let renumbered = |t: &usize| whole.triangles[*t].map(|c| numbers[c as usize].unwrap_or_default());
    let mut mesh = Mesh::from_triangles(points, chosen.iter().map(renumbered).collect())?;
    for (own, &t) in mesh.triangle_edges.clone().into_iter().zip(&chosen) {
        for (own, edge) in own.into_iter().zip(whole.triangle_edges[t]) {
            let edge = &whole.edges[edge as usize];
            let own = &mut mesh.edges[own as usize];
            (own.kind, own.middle) = (edge.kind, edge.middle);
        }
    }
    mesh.mass_of = chosen.iter().map(|&t| whole.mass_of[t]).collect();
    mesh.mass_names.clone_from(&whole.mass_names);
    mesh.flexure_of = chosen.iter().map(|&t| whole.flexure_of[t]).collect();
    mesh.long_in = chosen.iter().map(|&t| whole.long_in[t]).collect();
    Ok((mesh, numbers))
}

/// Points by cells, to be found again up to rounding.
struct Places(HashMap<[i64; 2], Vec<u32>>);

/// Side of a cell, µm: far above rounding, far below the distance of two corners.
const CELL_UM: f64 = 1e-4;

impl Places {
    fn cell(p: Point) -> [i64; 2] {
        p.map(|x| (x / CELL_UM).round() as i64)
    }

    fn new(points: &[Point]) -> Self {
        let mut cells: HashMap<[i64; 2], Vec<u32>> = HashMap::with_capacity(points.len());
        for (&p, number) in points.iter().zip(0..) {
            cells.entry(Self::cell(p)).or_default().push(number);
        }
        Self(cells)
    }

    fn find(&self, points: &[Point], p: Point) -> Option<u32> {
        let [x, y] = Self::cell(p);
        let cells = (-1..=1).flat_map(|i| (-1..=1).map(move |j| [x + i, y + j]));
        cells.filter_map(|cell| self.0.get(&cell)).flatten().copied().find(|&n| near(points[n as usize], p))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_image_is_where_its_original_says() {
        let mut plate = Mesh::rectangle(60.0, 20.0, 6, 2).unwrap();
        plate.hold(|m| m[1] == 0.0);
        let half = Half::of(&plate, 0, 30.0).unwrap();
        let image = |o: Original, p: Point| if o.mirrored { [60.0 - p[0], p[1]] } else { p };
        for (c, original) in half.corners.iter().enumerate() {
            let original = original.unwrap();
            assert!(near(image(original, half.mesh.points[original.number as usize]), plate.points[c]));
        }
        for (edge, original) in plate.edges.iter().zip(&half.edges) {
            let own = &half.mesh.edges[original.number as usize];
            assert!(near(image(*original, own.middle), edge.middle));
            assert_eq!(own.kind, edge.kind);
        }
        assert_eq!(half.triangles.iter().filter(|t| t.mirrored).count(), 12);
    }

    /// A wall held on one side only, a bent edge and a moved corner are no images.
    #[test]
    fn what_is_not_its_own_image_has_no_half() {
        let plate = Mesh::rectangle(60.0, 20.0, 6, 2).unwrap();
        let mut held = plate.clone();
        held.hold(|m| m[0] == 0.0);
        let mut bent = plate.clone();
        bent.bend(|edge, _| (edge.middle[0] == 0.0).then_some([-0.1, edge.middle[1]]));
        let mut moved = plate.clone();
        moved.points[0][0] += 1e-6;
        assert!([held, bent, moved].iter().all(|mesh| Half::of(mesh, 0, 30.0).is_none()));
        assert!(Half::of(&plate, 0, 30.0).is_some());
    }
}
