//! Which of several areas a point lies in. Edges are sorted into horizontal bands, so that a query looks at the few
//! edges of its own band and not at all. In and out: µm.

use crate::geometry::{Point, Polygon, sides};

/// Areas made ready for point queries; a point belongs to an area when a ray from it crosses the area's rings an odd
/// number of times.
#[derive(Clone, Debug, Default)]
pub struct Locator {
    low: f64,
    scale: f64,
    bands: Vec<Vec<(u32, Point, Point)>>,
    areas: usize,
}

impl Locator {
    /// From the polygons of each area.
    pub fn new<'a>(areas: impl IntoIterator<Item = &'a [Polygon]>) -> Self {
        let mut edges: Vec<(u32, Point, Point)> = Vec::new();
        let mut count = 0;
        for (number, polygons) in areas.into_iter().enumerate() {
            count = number + 1;
            for ring in polygons.iter().flat_map(Polygon::rings) {
                edges.extend(sides(ring).map(|[a, b]| (number as u32, a, b)));
            }
        }
        let low = edges.iter().map(|e| e.1[1]).fold(f64::INFINITY, f64::min);
        let high = edges.iter().map(|e| e.1[1]).fold(f64::NEG_INFINITY, f64::max);
        let n = (edges.len() / 2).clamp(1, 4096);
        let scale = if high > low { n as f64 / (high - low) } else { 0.0 };
        let mut bands = vec![Vec::new(); n];
        for e in edges {
            let band = |y: f64| (((y - low) * scale) as usize).min(n - 1);
            for of_band in &mut bands[band(e.1[1].min(e.2[1]))..=band(e.1[1].max(e.2[1]))] {
                of_band.push(e);
            }
        }
        Self { low, scale, bands, areas: count }
    }

    /// The first area that holds the point.
    pub fn find(&self, p: Point) -> Option<u16> {
        if p[1].is_nan() || p[1] < self.low || self.areas == 0 {
            return None;
        }
        let band = self.bands.get(((p[1] - self.low) * self.scale) as usize)?;
        let mut inside: Option<(u32, bool)> = None;
        // Edges of a band stay in the order of their areas.
        for &(area, a, b) in band {
            if let Some((current, odd)) = inside
                && current != area
            {
                if odd {
                    break;
                }
                inside = None;
            }
            let (_, odd) = inside.get_or_insert((area, false));
            if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
                *odd = !*odd;
            }
        }
        inside.filter(|i| i.1).map(|i| i.0 as u16)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Polygon {
        Polygon::solid(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    }

    #[test]
    fn points_find_their_area() {
        let mut ring = rect(0.0, 0.0, 10.0, 10.0);
        ring.holes.push(vec![[4.0, 4.0], [4.0, 6.0], [6.0, 6.0], [6.0, 4.0]]);
        let areas = [vec![ring], vec![rect(4.5, 4.5, 5.5, 5.5), rect(20.0, 0.0, 30.0, 5.0)]];
        let locator = Locator::new(areas.iter().map(Vec::as_slice));
        for (p, want) in [
            ([1.0, 1.0], Some(0)),
            ([5.0, 5.0], Some(1)),
            ([4.2, 4.2], None),
            ([25.0, 2.0], Some(1)),
            ([25.0, 7.0], None),
            ([-1.0, 5.0], None),
            ([5.0, 11.0], None),
            ([5.0, -1.0], None),
        ] {
            assert_eq!(locator.find(p), want, "{p:?}");
        }
        assert_eq!(Locator::new(std::iter::empty()).find([0.0, 0.0]), None);
    }
}
