//! How the area that a plate covers changes while the part moves in its plane, which capacitance gradients here leave out.

use super::{Electrode, Law};
use modalith_mesher::boolean::intersection;
use modalith_mesher::geometry::Polygon;
use modalith_mesher::outline::Outline;

/// Motion to either side over which the change is taken, µm.
const STEP_UM: f64 = 0.1;
/// A change below this share of the root of the area is that of rounded corners: a circle cut into facets, a grid.
const ROUNDING: f64 = 1e-3;

/// By how many µm² the area of the part that a plate covers grows for a µm of its motion along x and y, at the most; `None` where it stays as it is:
/// edges of the part lie off the plate, or under it on both sides alike, and for what is no plate.
pub fn overlap_change(electrode: &Electrode, outline: &Outline) -> Option<[f64; 2]> {
    let Law::Plate(_) = &electrode.law else { return None };
    let parts: Vec<Polygon> = outline.parts.iter().map(|p| p.polygon.clone()).collect();
    // The plate moves the other way instead of the part.
    let covered = |axis: usize, by: f64| {
        let mut plate = electrode.over.clone();
        let rings = plate.iter_mut().flat_map(|p| std::iter::once(&mut p.outer).chain(&mut p.holes));
        rings.flatten().for_each(|point| point[axis] -= by);
        intersection(&plate, &parts).iter().map(Polygon::area).sum::<f64>()
    };
    // An edge of the part along one of the plate has a kink there: the steeper side counts.
    let slope = [0, 1].map(|axis| {
        let at_rest = covered(axis, 0.0);
        let sides = [(covered(axis, STEP_UM) - at_rest) / STEP_UM, (at_rest - covered(axis, -STEP_UM)) / STEP_UM];
        if sides[1].abs() > sides[0].abs() { sides[1] } else { sides[0] }
    });
    let least = ROUNDING * covered(0, 0.0).sqrt();
    slope.iter().any(|s| s.abs() > least).then_some(slope)
}

/// Area that two electrodes cover both, µm², and its share of the smaller one.
pub fn shared_um2(one: &Electrode, other: &Electrode) -> (f64, f64) {
    let area = |polygons: &[Polygon]| polygons.iter().map(Polygon::area).sum::<f64>();
    let shared = area(&intersection(&one.over, &other.over));
    let smaller = area(&one.over).min(area(&other.over));
    (shared, if shared > 0.0 { shared / smaller } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::super::{Face, Plate};
    use super::*;
    use modalith_mesher::drawing::{Anchoring, Drawing, Film};
    use modalith_mesher::outline::Etch;

    fn rect(from: [f64; 2], to: [f64; 2]) -> Polygon {
        Polygon::solid(vec![from, [to[0], from[1]], to, [from[0], to[1]]])
    }

    /// A mass of 120 × 120 µm with an opening: a plate under its middle, one past both edges, one under its right edge.
    #[test]
    fn only_an_edge_over_the_plate_changes_what_it_covers() {
        let drawing = Drawing {
            film: Film::Drawn {
                structure: vec![rect([-60.0, -60.0], [60.0, 60.0]), rect([-160.0, -2.0], [-60.0, 2.0])],
                holes: vec![rect([18.0, -5.0], [26.0, 5.0])],
            },
            anchoring: Anchoring::Drawn(vec![rect([-180.0, -20.0], [-160.0, 20.0])]),
            masses: vec![],
            electrodes: vec![],
        };
        let outline = Outline::build(&drawing, &Etch::default()).unwrap();
        let change = |from: [f64; 2], to: [f64; 2]| {
            let law = Law::Plate(Plate { gap_m: 2e-6, face: Face::Below });
            let over = vec![rect(from, to)];
            let plate = Electrode { name: "p".into(), law, over, bias_v: 0.0, stated_gradient_f_per_m: None };
            overlap_change(&plate, &outline)
        };
        assert_eq!(change([-50.0, -50.0], [50.0, 50.0]), None);
        assert_eq!(change([15.0, -70.0], [35.0, 70.0]), None);
        let [x, y] = change([30.0, -70.0], [90.0, 70.0]).unwrap();
        assert!((x - 120.0).abs() < 1e-3 && y.abs() < 1e-3, "{x} {y}");
    }
}
