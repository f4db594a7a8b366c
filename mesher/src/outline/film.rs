//! The film and its anchors before and after etching, on one grid: unions, holes, trenches, edge bias, undercut.

use super::thin::{self, Thin};
use super::{Etch, OutlineError, weld::weld};
use crate::boolean::{Grid, Join, NodeRing, Region, rings_on};
use crate::drawing::{Anchoring, Drawing, Film};
use crate::geometry::{Point, Polygon, bounds};
use i_overlay::core::fill_rule::FillRule;

/// Drawn pieces that miss each other by less than this are taken to meet, µm.
const WELD_UM: f64 = 0.001;

/// Chord error of the round front of a release etch, µm, and at least as a share of the undercut.
const FRONT_UM: f64 = 0.01;
const FRONT_SHARE: f64 = 1e-4;

/// Film and anchors, as drawn and as etched.
pub(super) struct Layers {
    /// Film as drawn, holes cut; reaches beyond the window of a trench mask.
    pub drawn: Region,
    /// Film after the edge bias, clipped to the window; anchors included where they are covered by it.
    pub film: Region,
    /// What is held.
    pub anchors: Region,
    /// Pieces of film set aside because they are held but for a rim.
    pub set_aside: Region,
    /// Film after the edge bias over what is held too, where it has one: its walls, unlike those of an anchor, are etched.
    pub etched: Option<Region>,
    /// The window of a trench mask.
    pub window: Option<Region>,
    /// Whether edges moved outward.
    grows: bool,
    /// Whether the bias only moved every ring: nothing of it vanished, joined or split.
    only_moved: bool,
}

fn rectangle([a, b]: [Point; 2]) -> Polygon {
    Polygon::solid(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
}

/// All polygons of a drawing that shape the film or hold it.
fn film_polygons(drawing: &Drawing) -> (&[Polygon], &[Polygon], &[Polygon]) {
    let anchors = if let Anchoring::Drawn(a) = &drawing.anchoring { a.as_slice() } else { &[] };
    match &drawing.film {
        Film::Drawn { structure, holes } => (structure, holes, anchors),
        Film::Trenches { trenches, .. } => (&[], trenches, anchors),
    }
}

/// A grid for a drawing, after a check that all its numbers are lengths on a wafer.
pub(super) fn grid(drawing: &Drawing, etch: &Etch) -> Result<Grid, OutlineError> {
    let length = |what: &'static str, value: f64| {
        if value.abs() <= crate::layout::LARGEST_UM { Ok(value) } else { Err(OutlineError::NotALength { what, value }) }
    };
    let (structure, cut, anchors) = film_polygons(drawing);
    let masses = drawing.masses.iter().flat_map(|m| m.polygons.iter());
    let all = || structure.iter().chain(cut).chain(anchors).chain(masses.clone());
    for p in all().flat_map(Polygon::rings).flatten() {
        length("x", p[0])?;
        length("y", p[1])?;
    }
    let mut margin =
        length("the edge bias", etch.edge_bias_um)?.abs() + length("the smallest feature", etch.smallest_feature_um)?;
    if let Anchoring::LeftByRelease { undercut_um } = drawing.anchoring {
        if length("the release undercut", undercut_um)? <= 0.0 {
            return Err(OutlineError::Undercut { undercut_um });
        }
        margin += undercut_um;
    }
    let mut extent = bounds(all().flat_map(|p| p.outer.iter()));
    if let Film::Trenches { window, .. } = &drawing.film {
        for v in window.iter().flatten() {
            length("the window", *v)?;
        }
        if !(window[0][0] < window[1][0] && window[0][1] < window[1][1]) {
            return Err(OutlineError::EmptyWindow { window: *window });
        }
        extent = bounds(extent.iter().flatten().chain(window));
    }
    Ok(Grid::around(extent, 8.0 * margin))
}

impl Layers {
    pub(super) fn of(drawing: &Drawing, etch: &Etch, grid: Grid) -> Result<Self, OutlineError> {
        let (structure, cut, drawn_anchors) = film_polygons(drawing);
        let mut window = None;
        let (drawn, anchors) = match &drawing.film {
            Film::Drawn { .. } => welded(grid, structure, cut, drawn_anchors),
            Film::Trenches { window: frame, .. } => {
                window = Some(Region::of(grid, [&rectangle(*frame)]));
                let reach = match drawing.anchoring {
                    Anchoring::LeftByRelease { undercut_um } => undercut_um,
                    _ => 0.0,
                } + 2.0 * etch.edge_bias_um.abs()
                    + 1.0;
                let wide = Region::of(grid, [&rectangle([frame[0].map(|v| v - reach), frame[1].map(|v| v + reach)])]);
                (wide.minus(&continued(grid, &Region::of(grid, cut), *frame, reach)), Region::of(grid, drawn_anchors))
            }
        };
        let clipped = |r: &Region| window.as_ref().map_or_else(|| r.clone(), |w| r.common(w));
        if clipped(&drawn).shapes.is_empty() {
            return Err(OutlineError::EmptyFilm { window: bounds(structure.iter().flat_map(|p| p.outer.iter())) });
        }
        let bias = etch.edge_bias_um;
        let steps = grid.steps(bias);
        let (etched, only_moved) = match steps {
            0 => (drawn.clone(), true),
            1.. => drawn.mitred(steps),
            _ => drawn.union(&anchors).mitred(steps),
        };
        let film = clipped(&etched);
        let own = (steps != 0).then(|| film.clone());
        let mut layers = Self {
            film,
            drawn,
            anchors,
            set_aside: Region::empty(grid),
            etched: own,
            window,
            grows: bias > 0.0,
            only_moved,
        };
        if bias > 0.0 {
            layers.trim_skirts(bias);
        }
        if let Anchoring::LeftByRelease { undercut_um } = drawing.anchoring {
            layers.release(&etched, undercut_um);
        }
        Ok(layers)
    }

    /// The film as drawn, inside the window.
    pub(super) fn drawn_in_window(&self) -> Region {
        self.window.as_ref().map_or_else(|| self.drawn.clone(), |w| self.drawn.common(w))
    }

    /// What the bias (µm) etches away for good or fills for good.
    pub(super) fn lost(&self, drawn: &Region, bias: f64) -> Vec<Thin> {
        if bias < 0.0 && self.only_moved {
            return Vec::new();
        }
        let held = self.anchors.union(&self.set_aside);
        let [mut before, mut after] = [drawn.clone(), self.film.clone()];
        if self.only_moved {
            // No gap of the film closed, but one between film and anchor may have.
            let near = self.anchors.grown(4.0 * bias, Join::Mitre);
            [before, after] = [before.common(&near), after.common(&near)];
        }
        [before, after] = [before.union(&held), after.union(&held)];
        thin::lost(&before, &after, bias)
    }

    /// A held piece that holds nothing, with the walls of the film on it: fixed fingers are etched as moving ones are.
    pub(super) fn as_etched(&self, held: Region) -> Region {
        let Some(etched) = &self.etched else { return held };
        let own: Vec<_> = etched
            .shapes
            .iter()
            .filter(|shape| {
                let one = Region { grid: held.grid, shapes: vec![(*shape).clone()] };
                !one.common(&held).shapes.is_empty()
            })
            .cloned()
            .collect();
        if own.is_empty() {
            return held;
        }
        let own = Region { grid: held.grid, shapes: own };
        // Where the film grows an anchor reaches as far as it is drawn all the same; where it shrinks, so does what stands on the anchor.
        if self.grows { own.union(&held) } else { own }
    }

    /// Anchors do not move, but the grown film flows around them: takes away what is no wider than the bias, lies along an
    /// anchor and was not drawn.
    fn trim_skirts(&mut self, bias: f64) {
        let step = self.film.grid.step();
        let free = self.film.common(&self.anchors.grown(4.0 * bias, Join::Mitre)).minus(&self.anchors);
        let Some(wide) = free.opened(0.5 * bias + 2.0 * step, 0.0) else { return };
        let near = self.anchors.grown(bias + 2.0 * step, Join::Mitre);
        let mut skirts = free.minus(&wide).minus(&self.drawn).common(&near);
        skirts.shapes.retain(|s| {
            let one = Region { grid: skirts.grid, shapes: vec![s.clone()] };
            one.area() > 0.05 * bias * bias
        });
        self.film = self.film.minus(&skirts);
    }

    /// What lies farther than the undercut from every etched edge stays bonded. A piece of film whose free rim nowhere
    /// reaches farther than twice the undercut from its bond is a pad or stator.
    fn release(&mut self, etched: &Region, undercut_um: f64) {
        let grid = self.film.grid;
        let front = Join::Round(FRONT_UM.max(FRONT_SHARE * undercut_um));
        let bonded = etched.grown(-undercut_um, front);
        let bonded = self.window.as_ref().map_or_else(|| bonded.clone(), |w| bonded.common(w));
        let (mut film, mut anchors) = (Vec::new(), Vec::new());
        for shape in &self.film.shapes {
            let piece = Region { grid, shapes: vec![shape.clone()] };
            let held = piece.common(&bonded);
            let free = piece.minus(&held).minus(&held.grown(2.0 * undercut_um, front));
            if !held.shapes.is_empty() && free.area() < 1e-3 * undercut_um * undercut_um {
                self.set_aside.shapes.extend(piece.shapes);
            } else {
                film.extend(piece.shapes);
                anchors.extend(held.shapes);
            }
        }
        self.film.shapes = film;
        self.anchors = Region { grid, shapes: anchors };
    }
}

/// Structure less holes, and anchors, after pieces that nearly meet, holes among them, have been made to meet.
fn welded(grid: Grid, structure: &[Polygon], holes: &[Polygon], anchors: &[Polygon]) -> (Region, Region) {
    let (mut rings, mut owner): (Vec<NodeRing>, Vec<u32>) = (Vec::new(), Vec::new());
    for (k, p) in structure.iter().chain(anchors).chain(holes).enumerate() {
        for ring in rings_on(&grid, p) {
            rings.push(ring);
            owner.push(k as u32);
        }
    }
    let first_of = |k: usize| owner.partition_point(|o| (*o as usize) < k);
    let (first_anchor, first_hole) = (first_of(structure.len()), first_of(structure.len() + anchors.len()));
    weld(&mut rings, &owner, first_hole, WELD_UM / grid.step());
    let drawn = Region::of_difference(grid, &rings[..first_anchor], &rings[first_hole..]);
    (drawn, Region::of_rings(grid, &rings[first_anchor..first_hole], FillRule::Positive))
}

/// Trenches as if the pattern went on beyond its window as its own mirror image: a trench that runs out of the window has
/// no end wall there.
fn continued(grid: Grid, trenches: &Region, [a, b]: [Point; 2], reach: f64) -> Region {
    let inside = trenches.common(&Region::of(grid, [&rectangle([a, b])]));
    let mut all = inside.clone();
    for k in 0..2 {
        for wall in [a[k], b[k]] {
            let wall = if k == 0 { grid.node([wall, 0.0]).x } else { grid.node([0.0, wall]).y };
            let limit = grid.steps(reach);
            let mut image = all.clone();
            image.shapes.retain(|s| {
                s.iter().flatten().any(|n| (if k == 0 { n.x } else { n.y }).abs_diff(wall) <= limit.unsigned_abs())
            });
            for ring in image.shapes.iter_mut().flatten() {
                for n in ring.iter_mut() {
                    let v = if k == 0 { &mut n.x } else { &mut n.y };
                    *v = (2 * i64::from(wall) - i64::from(*v)).clamp(-(1 << 30), (1 << 30) - 1) as i32;
                }
                ring.reverse();
            }
            all = all.union(&image);
        }
    }
    let frame = rectangle([a.map(|v| v - reach), b.map(|v| v + reach)]);
    all.common(&Region::of(grid, [&frame]))
}
