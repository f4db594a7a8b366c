//! Which text names which mass or electrode, µm.
//!
//! A polygon takes the name of the text inside it; a text on its border counts where it is strictly inside of none. An
//! electrode usually lies under a mass, so that its text is inside both: a polygon with several names drops those that also
//! stand in a smaller polygon of the other kind.

use super::fault::{GdsError, Purpose};
use super::flatten::{FlatPolygon, FlatText};
use crate::geometry::{NamedArea, Point, Polygon, Ring, bounds, ring_area, sides};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::collections::{BTreeMap, BTreeSet};

/// A drawn shape to be named: one polygon, or the pieces of a path.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct StreamShape {
    purpose: Purpose,
    rings: Vec<Ring>,
    area: f64,
    names: BTreeMap<String, Vec<usize>>,
}

/// Puts the pieces of each shape together.
pub(super) fn shapes(purpose: Purpose, polygons: Vec<FlatPolygon>) -> Vec<StreamShape> {
    let mut shapes: Vec<StreamShape> = Vec::new();
    let mut last = None;
    for polygon in polygons {
        let area = ring_area(&polygon.ring);
        match shapes.last_mut() {
            Some(shape) if last == Some(polygon.shape) => {
                shape.area += area;
                shape.rings.push(polygon.ring);
            }
            _ => shapes.push(StreamShape { purpose, rings: vec![polygon.ring], area, names: BTreeMap::new() }),
        }
        last = Some(polygon.shape);
    }
    shapes
}

/// Names all shapes; gives the masses and the electrodes, each sorted by name.
pub(super) fn named(mut shapes: Vec<StreamShape>, texts: &[FlatText]) -> Result<[Vec<NamedArea>; 2], GdsError> {
    let boxes = shapes.iter().enumerate().flat_map(|(i, shape)| {
        let extents = shape.rings.iter().filter_map(bounds);
        extents.map(move |[low, high]| GeomWithData::new(Rectangle::from_corners(low, high), i))
    });
    let tree = RTree::bulk_load(boxes.collect());
    for text in texts {
        let around: BTreeSet<usize> =
            tree.locate_in_envelope_intersecting(&AABB::from_point(text.at)).map(|b| b.data).collect();
        let (mut inside, mut on_border) = (Vec::new(), Vec::new());
        for i in around {
            match place(text.at, &shapes[i].rings) {
                Place::Inside => inside.push(i),
                Place::Border => on_border.push(i),
                Place::Outside => {}
            }
        }
        let holders = if inside.is_empty() { on_border } else { inside };
        if holders.is_empty() {
            return Err(GdsError::NameOverNothing { name: text.text.clone(), at: text.at });
        }
        for &i in &holders {
            shapes[i].names.entry(text.text.clone()).or_default().extend(&holders);
        }
    }
    let mut masses: BTreeMap<String, Vec<Polygon>> = BTreeMap::new();
    let mut electrodes = masses.clone();
    for (i, shape) in shapes.iter().enumerate() {
        let name = name_of(i, shape, &shapes)?;
        let areas = if shape.purpose == Purpose::Masses { &mut masses } else { &mut electrodes };
        areas.entry(name).or_default().extend(shape.rings.iter().cloned().map(Polygon::solid));
    }
    Ok([masses, electrodes]
        .map(|areas| areas.into_iter().map(|(name, polygons)| NamedArea { name, polygons }).collect()))
}

fn name_of(number: usize, shape: &StreamShape, shapes: &[StreamShape]) -> Result<String, GdsError> {
    let purpose = shape.purpose;
    let at = shape.rings.first().and_then(|r| r.first()).copied().unwrap_or_default();
    let all: Vec<&String> = shape.names.keys().collect();
    let smaller =
        |&other: &usize| other != number && shapes[other].purpose != purpose && shapes[other].area < shape.area;
    let own: Vec<&String> = shape.names.iter().filter(|(_, h)| !h.iter().any(smaller)).map(|(n, _)| n).collect();
    match (all.as_slice(), own.as_slice()) {
        ([name], _) | (_, [name]) => Ok((*name).clone()),
        ([], _) => Err(GdsError::Unnamed { purpose, at }),
        _ => Err(GdsError::TwoNames { purpose, names: all.into_iter().cloned().collect(), at }),
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Place {
    Outside,
    Border,
    Inside,
}

/// Where a point lies relative to the union of rings.
fn place(p: Point, rings: &[Ring]) -> Place {
    let places: Vec<Place> = rings.iter().map(|r| place_in_ring(p, r)).collect();
    // On the line between two pieces of one path is inside it.
    match places.iter().filter(|&&w| w == Place::Border).count() {
        _ if places.contains(&Place::Inside) => Place::Inside,
        0 => Place::Outside,
        1 => Place::Border,
        _ => Place::Inside,
    }
}

/// By the winding number; cut lines that join a hole to the outline belong to the inside.
fn place_in_ring(p: Point, ring: &[Point]) -> Place {
    let mut winding = 0;
    let mut along = 0_i32;
    let mut on_border = false;
    for [a, b] in sides(ring) {
        let side = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
        let in_box = (0..2).all(|k| a[k].min(b[k]) <= p[k] && p[k] <= a[k].max(b[k]));
        if side == 0.0 && in_box {
            on_border = true;
            // A cut line is walked once each way.
            along += if (b[0], b[1]) > (a[0], a[1]) { 1 } else { -1 };
        }
        if a[1] <= p[1] && b[1] > p[1] && side > 0.0 {
            winding += 1;
        } else if a[1] > p[1] && b[1] <= p[1] && side < 0.0 {
            winding -= 1;
        }
    }
    match (on_border, winding) {
        (true, 1..) if along == 0 => Place::Inside,
        (true, _) => Place::Border,
        (false, 0) => Place::Outside,
        (false, _) => Place::Inside,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<FlatPolygon> {
        let ring = vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]];
        vec![FlatPolygon { ring, shape: 0 }]
    }

    fn text(name: &str, x: f64, y: f64) -> FlatText {
        FlatText { at: [x, y], text: name.to_owned() }
    }

    #[test]
    fn an_electrode_under_a_mass_keeps_its_own_name() {
        let mut all = shapes(Purpose::Masses, square(0.0, 0.0, 100.0));
        all.extend(shapes(Purpose::Electrodes, square(10.0, 10.0, 20.0)));
        let texts = [text("left", 90.0, 90.0), text("plate", 15.0, 15.0)];
        let [masses, electrodes] = named(all.clone(), &texts).unwrap();
        assert_eq!((masses[0].name.as_str(), electrodes[0].name.as_str()), ("left", "plate"));
        // One text inside both names both.
        let [masses, electrodes] = named(all.clone(), &texts[1..]).unwrap();
        assert_eq!((masses[0].name.as_str(), electrodes[0].name.as_str()), ("plate", "plate"));
        assert!(matches!(named(all, &texts[..1]), Err(GdsError::Unnamed { purpose: Purpose::Electrodes, .. })));
    }

    #[test]
    fn a_shared_border_belongs_to_the_polygon_that_has_no_other_text() {
        let mut all = shapes(Purpose::Masses, square(0.0, 0.0, 10.0));
        all.extend(shapes(Purpose::Masses, square(10.0, 0.0, 10.0)));
        // A text at a lower-left corner, as layout editors like to put it.
        let corner = named(shapes(Purpose::Masses, square(0.0, 0.0, 10.0)), &[text("a", 0.0, 0.0)]).unwrap();
        assert_eq!(corner[0][0].name, "a");
        let both = named(all, &[text("a", 10.0, 5.0)]).unwrap();
        assert_eq!(both[0][0].polygons.len(), 2);
    }

    #[test]
    fn the_inside_of_a_keyhole() {
        let ring: Vec<Point> = [[0, 0], [20, 0], [20, 20], [0, 20], [0, 0], [4, 4], [4, 8], [8, 8], [8, 4], [4, 4]]
            .map(|p: [i32; 2]| p.map(f64::from))
            .to_vec();
        assert_eq!(place_in_ring([6.0, 6.0], &ring), Place::Outside);
        assert_eq!(place_in_ring([12.0, 6.0], &ring), Place::Inside);
        assert_eq!(place_in_ring([8.0, 6.0], &ring), Place::Border);
        assert_eq!(place_in_ring([20.0, 6.0], &ring), Place::Border);
        // On the cut line.
        assert_eq!(place_in_ring([2.0, 2.0], &ring), Place::Inside);
    }
}
