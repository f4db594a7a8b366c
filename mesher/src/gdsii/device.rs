//! From a flattened cell to the drawing of one device, with a plan that says what each layer is for. Lengths in µm.

use super::crossing::crossing;
use super::fault::{GdsError, PlanFault, Purpose};
use super::flatten::{Flat, FlatPolygon, FlatText, unfold};
use super::hierarchy::Hierarchy;
use super::layer::{LayerCount, LayerSpec};
use super::library::Library;
use super::naming;
use super::selection::{Limits, Selection};
use super::window::{self, Cut};
use crate::drawing::{Anchoring, Drawing, Film};
use crate::geometry::{Point, Polygon};
use crate::layout::at_corner;
use std::collections::{BTreeMap, BTreeSet};

/// What the layers of a library mean for one device.
///
/// Either `structure` (with `holes` cut out) or `trenches` (the mask draws what is etched inside the window; `holes` count
/// as trenches); exactly one of `anchors`, `release_undercut_um` and `free`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LayerPlan {
    /// The cell; `None` for the only one that no other contains.
    pub cell: Option<String>,
    /// Lower-left and upper-right corner, µm, in the cell's frame. What lies wholly outside is dropped. A polygon that
    /// crosses the border is cut there and counted in [`Notes::cut`]; trenches and the holes with them are kept whole, for
    /// the drawing carries the window along. A text outside is dropped.
    pub window: Option<[Point; 2]>,
    /// Layers that draw the structural layer.
    pub structure: Vec<LayerSpec>,
    /// Layers that draw openings in it.
    pub holes: Vec<LayerSpec>,
    /// Layers that draw what is etched away.
    pub trenches: Vec<LayerSpec>,
    /// Layers that draw anchors.
    pub anchors: Vec<LayerSpec>,
    /// Layers that draw named masses.
    pub masses: Vec<LayerSpec>,
    /// Layers that draw named electrodes.
    pub electrodes: Vec<LayerSpec>,
    /// Layers (with texttype) whose texts name masses and electrodes.
    pub labels: Vec<LayerSpec>,
    /// Instead of anchors: what lies farther than this from every etched edge stays held, µm.
    pub release_undercut_um: Option<f64>,
    /// Whether the part floats.
    pub free: bool,
    /// How much of the stream may be taken.
    pub limits: Limits,
}

/// What a reader of the drawing should be told.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Notes {
    /// The cell that was read.
    pub cell: String,
    /// The library's database unit, metres.
    pub database_unit_m: f64,
    /// Polygons taken from each layer of the plan.
    pub polygons: Vec<LayerCount>,
    /// Layers with polygons cut at the window's border, with how many.
    pub cut: Vec<LayerCount>,
    /// Paths without a width, left out.
    pub zero_width_paths: usize,
    /// Polygons and paths without an area, left out.
    pub zero_area_shapes: usize,
    /// Texts that say nothing, left out.
    pub empty_texts: usize,
}

/// The drawing of one device out of a library.
///
/// A polygon of masses or electrodes takes the name of the text of a labels layer inside it; same names unite. Names are
/// sorted. Polygons of the result may touch themselves along cut lines and overlap each other, as GDSII allows: only their
/// union (non-zero winding) is meaningful.
///
/// # Errors
/// A plan that does not say one thing, everything that [`flatten()`](super::flatten()) refuses, outlines that cross themselves, a layer
/// of the plan with nothing on it, and names that do not match polygons.
pub fn drawing(library: &Library, plan: &LayerPlan) -> Result<(Drawing, Notes), GdsError> {
    let anchoring = anchoring_of(plan)?;
    if let Some(area) = plan.window {
        window::check(area)?;
    }
    let layers: BTreeSet<LayerSpec> = plan.purposes().iter().flat_map(|(_, l)| l.iter().copied()).collect();
    let hierarchy = Hierarchy::new(library, plan.cell.as_deref())?;
    let selection =
        Selection { window: plan.window, layers: Some(&layers), limits: plan.limits, ..Selection::default() };
    let flat = unfold(library, &hierarchy, &selection)?;
    refuse_crossings(library, &hierarchy, &flat)?;
    refuse_empty_layers(library, &hierarchy, plan, &flat)?;
    let polygons = flat.polygon_counts();
    let mut sorter = Sorter::new(plan, flat.polygons);
    let film = match plan.window {
        Some(window) if !plan.trenches.is_empty() => {
            let mut trenches = sorter.whole(&plan.trenches);
            trenches.extend(sorter.whole(&plan.holes));
            Film::Trenches { trenches: solid(trenches), window }
        }
        _ => Film::Drawn { structure: solid(sorter.cut(&plan.structure)), holes: solid(sorter.cut(&plan.holes)) },
    };
    let anchors = solid(sorter.cut(&plan.anchors));
    let mut shapes = naming::shapes(Purpose::Masses, sorter.cut(&plan.masses));
    shapes.extend(naming::shapes(Purpose::Electrodes, sorter.cut(&plan.electrodes)));
    let cut = sorter.cut.iter().map(|(&layer, &count)| LayerCount { layer, count }).collect();
    let texts: Vec<FlatText> = distinct(&plan.labels).filter_map(|l| flat.texts.get(&l)).flatten().cloned().collect();
    let [masses, electrodes] = naming::named(shapes, &texts)?;
    let anchoring = anchoring.unwrap_or(Anchoring::Drawn(anchors));
    let notes = Notes {
        cell: flat.cell,
        database_unit_m: library.database_unit_m,
        polygons,
        cut,
        zero_width_paths: flat.zero_width_paths,
        zero_area_shapes: flat.zero_area_shapes,
        empty_texts: flat.empty_texts,
    };
    Ok((Drawing { film, anchoring, masses, electrodes }, notes))
}

impl LayerPlan {
    /// Every list of layers with its purpose.
    fn purposes(&self) -> [(Purpose, &[LayerSpec]); 7] {
        [
            (Purpose::Structure, &self.structure),
            (Purpose::Holes, &self.holes),
            (Purpose::Trenches, &self.trenches),
            (Purpose::Anchors, &self.anchors),
            (Purpose::Masses, &self.masses),
            (Purpose::Electrodes, &self.electrodes),
            (Purpose::Labels, &self.labels),
        ]
    }
}

/// Checks that the plan says one thing; the anchoring where it is not drawn.
fn anchoring_of(plan: &LayerPlan) -> Result<Option<Anchoring>, GdsError> {
    let fault = match (plan.structure.is_empty(), plan.trenches.is_empty()) {
        (true, true) => Some(PlanFault::NoFilm),
        (false, false) => Some(PlanFault::TwoFilms),
        (true, false) if plan.window.is_none() => Some(PlanFault::NoWindow),
        _ if plan.labels.is_empty() && !(plan.masses.is_empty() && plan.electrodes.is_empty()) => {
            Some(PlanFault::NoLabels)
        }
        _ => None,
    };
    if let Some(fault) = fault {
        return Err(GdsError::Plan(fault));
    }
    match (plan.anchors.is_empty(), plan.release_undercut_um, plan.free) {
        (false, None, false) => Ok(None),
        (true, Some(undercut_um), false) if undercut_um > 0.0 && undercut_um.is_finite() => {
            Ok(Some(Anchoring::LeftByRelease { undercut_um }))
        }
        (true, Some(_), false) => Err(GdsError::Plan(PlanFault::BadUndercut)),
        (true, None, true) => Ok(Some(Anchoring::Free)),
        (true, None, false) => Err(GdsError::Plan(PlanFault::NoAnchoring)),
        _ => Err(GdsError::Plan(PlanFault::TwoAnchorings)),
    }
}

/// Checks each drawn polygon once, on the grid, however often it is placed, and only those that are. Crossings within one database unit come from
/// rounding to the grid and are let pass.
fn refuse_crossings(library: &Library, hierarchy: &Hierarchy, flat: &Flat) -> Result<(), GdsError> {
    let grid = library.grid();
    for cell in hierarchy.order.iter().map(|&i| &library.cells[i]) {
        for polygon in cell.polygons.iter().filter(|p| flat.drawn_at.contains(&p.offset)) {
            let ring: Vec<Point> = polygon.points.iter().map(|p| p.map(f64::from)).collect();
            if let Some(at) = crossing(&ring, 1.0).or_else(|| at_corner(&ring, 1.0)) {
                return Err(GdsError::SelfCrossing {
                    cell: cell.name.clone(),
                    layer: polygon.layer,
                    at: at.map(|v| grid.um(v)),
                    offset: polygon.offset,
                });
            }
        }
    }
    Ok(())
}

fn refuse_empty_layers(
    library: &Library,
    hierarchy: &Hierarchy,
    plan: &LayerPlan,
    flat: &Flat,
) -> Result<(), GdsError> {
    for (purpose, layers) in plan.purposes() {
        for &layer in layers {
            let texts = purpose == Purpose::Labels;
            if if texts { flat.texts.contains_key(&layer) } else { flat.polygons.contains_key(&layer) } {
                continue;
            }
            // Now all layers matter on which everything can be drawn.
            let layers = sound_layers(library, hierarchy);
            let selection = Selection { window: plan.window, layers: Some(&layers), ..Selection::default() };
            let everything = unfold(library, hierarchy, &selection)?;
            return Err(GdsError::EmptyLayer {
                purpose,
                layer,
                what: if texts { "texts" } else { "polygons" },
                windowed: plan.window.is_some(),
                present: if texts { everything.text_counts() } else { everything.polygon_counts() },
            });
        }
    }
    Ok(())
}

/// The layers of the cells of a hierarchy, those with elements at fault left out.
fn sound_layers(library: &Library, hierarchy: &Hierarchy) -> BTreeSet<LayerSpec> {
    let cells = || hierarchy.order.iter().map(|&i| &library.cells[i]);
    let drawn = cells().flat_map(|c| {
        let (polygons, paths) = (c.polygons.iter().map(|p| p.layer), c.paths.iter().map(|p| p.layer));
        polygons.chain(paths).chain(c.texts.iter().map(|t| t.layer))
    });
    let unsound: BTreeSet<LayerSpec> = cells().flat_map(|c| c.unsound.keys().flatten().copied()).collect();
    drawn.filter(|layer| !unsound.contains(layer)).collect()
}

/// Hands out the polygons of layers, whole or cut to the window.
struct Sorter {
    window: Option<[Point; 2]>,
    polygons: BTreeMap<LayerSpec, Vec<FlatPolygon>>,
    /// How many purposes still want a layer: the last one gets the polygons themselves, the others copies.
    wanted: BTreeMap<LayerSpec, usize>,
    cut: BTreeMap<LayerSpec, usize>,
}

impl Sorter {
    fn new(plan: &LayerPlan, polygons: BTreeMap<LayerSpec, Vec<FlatPolygon>>) -> Self {
        let mut wanted = BTreeMap::new();
        for (_, layers) in plan.purposes().iter().filter(|(p, _)| *p != Purpose::Labels) {
            for layer in distinct(layers) {
                *wanted.entry(layer).or_insert(0) += 1;
            }
        }
        Self { window: plan.window, polygons, wanted, cut: BTreeMap::new() }
    }

    fn whole(&mut self, layers: &[LayerSpec]) -> Vec<FlatPolygon> {
        distinct(layers).flat_map(|layer| self.take(layer)).collect()
    }

    fn take(&mut self, layer: LayerSpec) -> Vec<FlatPolygon> {
        let left = self.wanted.entry(layer).or_insert(1);
        *left -= 1;
        let found = if *left == 0 { self.polygons.remove(&layer) } else { self.polygons.get(&layer).cloned() };
        found.unwrap_or_default()
    }

    fn cut(&mut self, layers: &[LayerSpec]) -> Vec<FlatPolygon> {
        let Some(area) = self.window else { return self.whole(layers) };
        let mut kept = Vec::new();
        for layer in distinct(layers) {
            let mut crossing = BTreeSet::new();
            for polygon in self.take(layer) {
                match window::cut(&polygon.ring, area) {
                    Cut::Inside => kept.push(polygon),
                    Cut::Outside => {}
                    Cut::Crossing(ring) => {
                        crossing.insert(polygon.shape);
                        kept.push(FlatPolygon { ring, shape: polygon.shape });
                    }
                }
            }
            if !crossing.is_empty() {
                self.cut.insert(layer, crossing.len());
            }
        }
        kept
    }
}

/// The layers of a list, each once.
fn distinct(layers: &[LayerSpec]) -> impl Iterator<Item = LayerSpec> + use<> {
    layers.iter().copied().collect::<BTreeSet<_>>().into_iter()
}

fn solid(polygons: Vec<FlatPolygon>) -> Vec<Polygon> {
    polygons.into_iter().map(|p| Polygon::solid(p.ring)).collect()
}
