//! How many triangles a size field asks for, told before any is made. In: sizes and polygons, µm. Out: a count good to some tens of
//! per cent, and where most of it lies.

use super::Sizing;
use crate::geometry::{Point, Polygon, bounds, middle};
use crate::locate::Locator;

/// Area of a triangle in squares of the wanted size, as meshed: the size bounds the longest edges.
pub(crate) const TRIANGLE: f64 = 0.21;
/// Cells are halved until they are no larger than this many sizes.
const CELL: f64 = 3.0;
/// Cells looked at; what needs more is beyond every limit.
const MOST_CELLS: usize = 1_000_000;

/// Triangles that a size field asks for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Count {
    /// Triangles.
    pub triangles: f64,
    /// Those of them that are as large as is allowed.
    pub largest: f64,
    /// A place where they are smallest, µm.
    pub densest_at: Point,
    /// Their size there, µm.
    pub smallest_um: f64,
}

impl Sizing {
    /// Counts up to somewhat more than `most` triangles.
    pub fn count(&self, polygons: &[Polygon], most: f64) -> Count {
        let in_long = self.in_long as f64;
        let mut count = Count { triangles: in_long, smallest_um: f64::INFINITY, ..Count::default() };
        let material = Locator::new([polygons]);
        let Some([low, high]) = bounds(polygons.iter().flat_map(|p| &p.outer)) else { return count };
        let width = (high[0] - low[0]).max(high[1] - low[1]);
        let mut open = vec![(middle(low, high), width)];
        let mut looked_at = 0;
        while let Some((middle, side)) = open.pop() {
            looked_at += 1;
            if count.triangles > most {
                return count;
            }
            if looked_at > MOST_CELLS {
                count.triangles = count.triangles.max(2.0 * most);
                return count;
            }
            let size = self.at(middle);
            if side > CELL * size {
                let quarter = 0.25 * side;
                for (x, y) in [(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)] {
                    open.push(([middle[0] + x * quarter, middle[1] + y * quarter], 0.5 * side));
                }
            } else if material.find(middle).is_some() && self.long.find(middle).is_none() {
                let here = side * side / (TRIANGLE * size * size);
                count.triangles += here;
                if size > 0.99 * self.largest {
                    count.largest += here;
                }
                if size < count.smallest_um {
                    (count.smallest_um, count.densest_at) = (size, middle);
                }
            }
        }
        count
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve::pieces_of_ring;
    use crate::outline::{Finger, Outline, Part};
    use crate::sizing::{LongFinger, LongParts, MeshSize};
    use crate::triangulate::triangulate;

    /// A bar of 300 × 100 with thirty fingers of 3 × 40, 9 µm apart: as many triangles as the mesh has, to a third, and exactly those
    /// of the fingers among them.
    #[test]
    fn a_comb_is_counted_as_it_is_meshed() {
        let mut ring = vec![[0.0, 0.0], [300.0, 0.0], [300.0, 100.0]];
        let mut fingers = Vec::new();
        for i in (0..30).rev() {
            let (x, y) = (15.0 + 9.0 * f64::from(i), 100.0);
            let own = vec![[x + 3.0, y], [x + 3.0, y + 40.0], [x, y + 40.0], [x, y]];
            ring.extend(&own);
            let (area, root) = (Polygon::solid(own), [[x, y], [x + 3.0, y]]);
            fingers.push(Finger { area, root, length_um: 40.0, width_um: 3.0 });
        }
        ring.push([0.0, 100.0]);
        let pieces = vec![pieces_of_ring(&ring, &[])];
        let size = MeshSize { largest_um: Some(40.0), ..MeshSize::default() };
        let long = LongFinger::find(&fingers, |p| p, &pieces, &[], &[], &size);
        assert_eq!(long.len(), 30);
        let long = LongParts { fingers: long, ..LongParts::default() };
        let polygon = Polygon::solid(ring);
        let counted = Sizing::new(&pieces, &[], &long, &size).count(std::slice::from_ref(&polygon), 1e6).triangles;
        let held = vec![vec![false; polygon.outer.len()]];
        let outline = Outline { parts: vec![Part { polygon, held }], fingers, ..Outline::default() };
        let mesh = triangulate(&outline, &size).unwrap();
        let meshed = mesh.triangles.len() as f64;
        assert!((counted / meshed - 1.0).abs() < 1.0 / 3.0, "{counted} for {meshed}");
        assert_eq!((0..mesh.triangles.len()).filter(|&t| mesh.in_finger(t)).count(), long.triangles());
    }
}
