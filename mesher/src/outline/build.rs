//! From a drawing to its outline, and every reason why there is none.

use super::film::{self, Layers};
use super::marked::{Marked, difference};
use super::narrow::{self, Between};
use super::{Etch, Outline, OutlineError, Part, masses, thin};
use crate::boolean::{Node, Region};
use crate::drawing::{Anchoring, Drawing};
use crate::geometry::{Point, Polygon, bounds, closest, distance};

/// No mask resolves less, µm, whatever least feature is stated.
const RESOLVED_UM: f64 = 0.001;

/// Two corners are one point if they are this close, in grid steps.
const SAME_STEPS: f64 = 2.0;

impl Outline {
    /// Builds the outline of a drawing.
    ///
    /// Shapes are united, holes cut, edges moved by the bias; anchors stay where they are drawn and take their footprint
    /// out of the free material. With [`crate::drawing::Anchoring::LeftByRelease`] what lies farther than the undercut
    /// from every etched edge is held, and pieces of film that are bonded but for a rim are set aside as islands.
    /// Masses follow the biased edges. Coordinates of the result lie on a grid of 0.01 nm (coarser for drawings wider than
    /// 10 mm); a biased edge lies within one grid step of its exact place.
    ///
    /// # Errors
    /// [`OutlineError`], with the place and what to do.
    ///
    /// ```
    /// use modalith_mesher::drawing::{Anchoring, Drawing, Film};
    /// use modalith_mesher::layout::LayoutShape;
    /// use modalith_mesher::outline::{Etch, Outline};
    /// let rect = |a, b| LayoutShape::Rect { corners: [a, b] }.polygons(0.001);
    /// let drawing = Drawing {
    ///     film: Film::Drawn { structure: rect([0.0, 0.0], [100.0, 4.0])?, holes: vec![] },
    ///     anchoring: Anchoring::Drawn(rect([-20.0, -10.0], [0.0, 14.0])?),
    ///     masses: vec![],
    ///     electrodes: vec![],
    /// };
    /// let outline = Outline::build(&drawing, &Etch { edge_bias_um: 0.1, ..Etch::default() })?;
    /// assert!((outline.areas().free_um2 - 100.1 * 4.2).abs() < 1e-9);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn build(drawing: &Drawing, etch: &Etch) -> Result<Self, OutlineError> {
        let grid = film::grid(drawing, etch)?;
        let layers = Layers::of(drawing, etch, grid)?;
        let drawn = layers.drawn_in_window();
        let filled = filled(drawing, &layers, &drawn, etch.edge_bias_um)?;
        let free = difference(&layers.film, &layers.anchors, |k| k as u32 + 1);
        let material = layers.film.union(&layers.anchors);
        let least_um = etch.smallest_feature_um.max(RESOLVED_UM);
        // What a piece misses its anchor by is to be told before that it is held by none.
        wide_gaps(&material, least_um)?;
        // Of a piece that hangs on a point only, the point is to be told.
        meet_only_at_points(&layers.film, &layers.anchors)?;
        held(&free, &drawing.anchoring, &drawn)?;
        let free_region = Region::of_apart(grid, free.iter().map(|m| &m.polygon));
        wide_material(&free_region, &material, least_um)?;
        let masses = masses::cut(&drawing.masses, &free_region, etch.edge_bias_um)?;
        let [anchors, idle_anchors, islands] = sort_anchors(&layers, &free, &drawn);
        let part = |m: Marked| Part {
            polygon: m.polygon,
            held: m.marks.into_iter().map(|ring| ring.into_iter().map(|k| k > 0).collect()).collect(),
        };
        let parts = free.into_iter().map(part).collect();
        let mut outline = Self { parts, anchors, idle_anchors, islands, masses, filled, ..Self::default() };
        outline.mirrors = crate::mirror::axes(&outline);
        let slender = crate::flexure::find(&outline);
        (outline.flexures, outline.fingers) = (slender.flexures, slender.fingers);
        (outline.covered, outline.unrecognised) = (slender.covered, slender.unrecognised);
        Ok(outline)
    }
}

/// Middles of the drawn openings that the bias, µm, fills; an error where it takes or closes anything else.
fn filled(drawing: &Drawing, layers: &Layers, drawn: &Region, bias: f64) -> Result<Vec<Point>, OutlineError> {
    if bias == 0.0 {
        return Ok(Vec::new());
    }
    let released = matches!(drawing.anchoring, Anchoring::LeftByRelease { .. });
    if !released {
        meet_only_at_points(drawn, &layers.anchors)?;
    }
    let lost = layers.lost(drawn, bias);
    let filled_hole = |t: &thin::Thin| bias > 0.0 && is_filled_hole(t, bias);
    let narrowest = lost.iter().filter(|t| !filled_hole(t)).min_by(|a, b| a.width_um.total_cmp(&b.width_um));
    let Some(worst) = narrowest else { return Ok(lost.iter().map(|t| t.at).collect()) };
    if !released {
        // What is wrong as drawn is said before what the bias does to it.
        let free = difference(drawn, &layers.anchors, |k| k as u32 + 1);
        held(&free, &drawing.anchoring, drawn)?;
    }
    let (width_um, at) = (worst.width_um, worst.at);
    Err(if bias < 0.0 {
        OutlineError::BiasCuts { edge_bias_um: bias, width_um, at }
    } else {
        OutlineError::BiasCloses { edge_bias_um: bias, width_um, at }
    })
}

/// The width below which a gap or a neck is too narrow, µm: the grid moves both its sides.
fn limit_um(material: &Region, least_um: f64) -> f64 {
    least_um - 4.0 * material.grid.step()
}

/// No gap may be narrower than the least feature, µm.
fn wide_gaps(material: &Region, least_um: f64) -> Result<(), OutlineError> {
    let gaps = narrow::narrower(material, Between::Gap, limit_um(material, least_um));
    let Some(worst) = gaps.first() else { return Ok(()) };
    Err(OutlineError::TooClose { places: gaps.len(), least_um, gap_um: worst.width_um, at: worst.at() })
}

/// No free material may be thinner than the least feature, µm, nor have a narrower neck.
fn wide_material(free: &Region, material: &Region, least_um: f64) -> Result<(), OutlineError> {
    let thin = thin::thinner(free, material, least_um);
    if let Some(worst) = thin.iter().min_by(|a, b| a.width_um.total_cmp(&b.width_um)) {
        return Err(OutlineError::TooThin { places: thin.len(), least_um, width_um: worst.width_um, at: worst.at });
    }
    let necks = narrow::narrower(material, Between::Material, limit_um(material, least_um));
    match necks.iter().find(|n| touches(free, n.at())) {
        None => Ok(()),
        Some(worst) => {
            Err(OutlineError::TooThin { places: necks.len(), least_um, width_um: worst.width_um, at: worst.at() })
        }
    }
}

/// Whether a point lies on the free material: a neck of an anchor is none of the structure's.
fn touches(free: &Region, at: Point) -> bool {
    let node = free.grid.node(at);
    let rings = free.shapes.iter().flatten();
    rings.fold(false, |inside, ring| {
        (0..ring.len()).fold(inside, |inside, i| {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            if (a.y > node.y) == (b.y > node.y) {
                return inside;
            }
            let [ax, ay, bx, by] = [a.x, a.y, b.x, b.y].map(f64::from);
            inside != (f64::from(node.x) < ax + (f64::from(node.y) - ay) / (by - ay) * (bx - ax))
        })
    })
}

fn box_of(m: &Marked) -> [Point; 2] {
    bounds(&m.polygon.outer).unwrap_or_default()
}

/// Every part must be held along an edge.
fn held(free: &[Marked], anchoring: &Anchoring, film: &Region) -> Result<(), OutlineError> {
    let around = |marked: &[Marked]| bounds(marked.iter().flat_map(|m| m.polygon.outer.iter())).unwrap_or_default();
    if free.is_empty() {
        let bounds = bounds(film.polygons().iter().flat_map(|p| p.outer.iter())).unwrap_or_default();
        return Err(OutlineError::NothingFree { bounds });
    }
    if *anchoring == Anchoring::Free {
        return Ok(());
    }
    let loose: Vec<_> = free.iter().filter(|m| m.marks.iter().flatten().all(|k| *k == 0)).map(box_of).collect();
    if loose.len() == free.len() {
        let drawn = if let Anchoring::Drawn(anchors) = anchoring { anchors.len() } else { 0 };
        return Err(OutlineError::NoAnchor { drawn, bounds: around(free) });
    }
    if loose.is_empty() { Ok(()) } else { Err(OutlineError::Unheld { parts: loose }) }
}

/// Points at which free material meets other material or itself without sharing an edge.
fn meet_only_at_points(film: &Region, anchors: &Region) -> Result<(), OutlineError> {
    let mut nodes: Vec<Node> = film.union_with_contacts(anchors).into_iter().flatten().collect();
    nodes.sort_unstable_by_key(|n| (n.y, n.x));
    let twice = nodes.windows(2).filter(|w| w[0] == w[1]).map(|w| film.grid.point(w[0]));
    let mut edges: Vec<[Point; 2]> = Vec::new();
    let reach = SAME_STEPS * film.grid.step();
    for at in twice {
        if edges.is_empty() {
            for ring in film.minus(anchors).shapes.iter().flatten() {
                let p = |i: usize| film.grid.point(ring[i % ring.len()]);
                edges.extend((0..ring.len()).map(|i| [p(i), p(i + 1)]));
            }
        }
        if edges.iter().any(|e| distance(closest(at, e[0], e[1]), at) <= reach) {
            return Err(OutlineError::PointJoin { at });
        }
    }
    Ok(())
}

/// A compact opening that a positive bias fills altogether is no gap between two edges.
fn is_filled_hole(lost: &thin::Thin, bias: f64) -> bool {
    let polygon = &lost.piece.polygon;
    let wholly_walls = lost.piece.marks.iter().flatten().all(|m| *m == 1);
    let [a, b] = bounds(&polygon.outer).unwrap_or_default();
    let longest = distance(a, b);
    wholly_walls && longest < 3.0 * 2.0 * bias.max(lost.width_um)
}

/// Anchors that hold a part, anchors that touch nothing, and pieces held altogether.
fn sort_anchors(layers: &Layers, free: &[Marked], drawn: &Region) -> [Vec<Polygon>; 3] {
    let grid = layers.film.grid;
    let mut holds = vec![false; layers.anchors.shapes.len()];
    for k in free.iter().flat_map(|m| m.marks.iter().flatten()).filter(|k| **k > 0) {
        holds[*k as usize - 1] = true;
    }
    let mut sorted = [Region::empty(grid), Region::empty(grid), layers.set_aside.clone()];
    for (shape, holds) in layers.anchors.shapes.iter().zip(holds) {
        let one = Region { grid, shapes: vec![shape.clone()] };
        let kind = if holds {
            0
        } else if one.common(drawn).shapes.is_empty() {
            1
        } else {
            2
        };
        let one = if kind == 2 { layers.as_etched(one) } else { one };
        sorted[kind].shapes.extend(one.shapes);
    }
    sorted.map(|r| r.polygons())
}
