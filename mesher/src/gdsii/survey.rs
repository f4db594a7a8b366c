//! What each cell holds on the selected layers, looked up once and before anything is unfolded: its own elements, how much
//! it unfolds into, and the box around it.

use super::fault::GdsError;
use super::hierarchy::Hierarchy;
use super::layer::LayerSpec;
use super::library::{Cell, Grid, Library, Reference};
use super::path::outline;
use super::placement::Placement;
use super::selection::{POLYGON_COST, Selection};
use crate::geometry::{Point, bounds};

/// What a cell holds on the selected layers.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Contents {
    /// Numbers of its own polygons.
    pub polygons: Vec<u32>,
    /// Numbers of its own paths.
    pub paths: Vec<u32>,
    /// Numbers of its own texts.
    pub texts: Vec<u32>,
    /// Placements of cells inside it, all levels.
    pub placements: u64,
    /// Cost of what is drawn inside it in points, all levels, at least: of paths the corners of the centre line, twice.
    pub points: u64,
    /// The box around all levels.
    pub extent: Extent,
}

/// The box around a cell with all its levels, database units of that cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Extent {
    /// Nothing on the selected layers.
    Empty,
    /// Something inside this box.
    Box([Point; 2]),
    /// Something whose place is not known: sizes or directions that ignore the cells around, or nobody asked.
    Unknown,
}

impl Extent {
    fn add(&mut self, points: &[Point]) {
        let Some(more) = bounds(points) else { return };
        *self = match *self {
            Self::Unknown => Self::Unknown,
            Self::Empty => Self::Box(more),
            Self::Box([low, high]) => bounds(&[low, high, more[0], more[1]]).map_or(Self::Unknown, Self::Box),
        };
    }

    /// Whether a cell placed like this may hold something in the window (µm), with room for rounding.
    pub fn reaches(&self, window: [Point; 2], placement: &Placement, grid: Grid) -> bool {
        let Self::Box(extent) = *self else { return *self == Self::Unknown };
        let placed = corners(extent).map(|p| placement.apply(p).map(|v| grid.um(v)));
        bounds(&placed).is_none_or(|[low, high]| {
            (0..2).all(|k| !(low[k] > window[1][k] + ROUNDING_UM || high[k] < window[0][k] - ROUNDING_UM))
        })
    }
}

/// Room for rounding where it only decides what is worth looking at, µm.
const ROUNDING_UM: f64 = 1e-3;

fn corners([low, high]: [Point; 2]) -> [Point; 4] {
    [low, [high[0], low[1]], high, [low[0], high[1]]]
}

/// Looks through all cells below the top; the others stay empty. Boxes are looked up only where there is a window.
///
/// # Errors
/// For elements on the selected layers that cannot be drawn, wherever a window lies: they have no place.
pub(super) fn survey(
    library: &Library,
    hierarchy: &Hierarchy,
    selection: &Selection<'_>,
) -> Result<Vec<Contents>, GdsError> {
    let nothing = Contents {
        polygons: Vec::new(),
        paths: Vec::new(),
        texts: Vec::new(),
        placements: 0,
        points: 0,
        extent: Extent::Empty,
    };
    let mut all = vec![nothing; library.cells.len()];
    for &number in &hierarchy.order {
        let cell = &library.cells[number];
        cell.check_sound(selection.layers)?;
        let mut found = own(cell, selection, library.grid());
        for (reference, &child) in cell.references.iter().zip(&hierarchy.children[number]) {
            let inner = &all[child];
            if inner.extent == Extent::Empty {
                continue;
            }
            let copies = reference.copies();
            found.placements =
                found.placements.saturating_add(copies.saturating_mul(inner.placements.saturating_add(1)));
            found.points = found.points.saturating_add(copies.saturating_mul(inner.points));
            match inner.extent {
                Extent::Box(extent) if !(reference.absolute_angle || reference.absolute_magnification) => {
                    for copy in corner_copies(reference) {
                        let placement = Placement::TOP.inner(reference, copy);
                        found.extent.add(&corners(extent).map(|p| placement.apply(p)));
                    }
                }
                _ => found.extent = Extent::Unknown,
            }
        }
        all[number] = found;
    }
    Ok(all)
}

/// A cell without the cells inside it.
fn own(cell: &Cell, selection: &Selection<'_>, grid: Grid) -> Contents {
    let wanted = |layer: &LayerSpec| selection.layers.is_none_or(|l| l.contains(layer));
    fn numbers<'a>(layers: impl Iterator<Item = &'a LayerSpec>, wanted: impl Fn(&LayerSpec) -> bool) -> Vec<u32> {
        (0..).zip(layers).filter(|(_, l)| wanted(l)).map(|(i, _)| i).collect()
    }
    let polygons = numbers(cell.polygons.iter().map(|p| &p.layer), wanted);
    let paths = numbers(cell.paths.iter().map(|p| &p.layer), wanted);
    let texts = numbers(cell.texts.iter().map(|t| &t.layer), wanted);
    let of_polygons: usize = polygons.iter().map(|&i| cell.polygons[i as usize].points.len() + POLYGON_COST).sum();
    let of_paths: usize = paths.iter().map(|&i| 2 * cell.paths[i as usize].points.len() + POLYGON_COST).sum();
    let points = (of_polygons + of_paths + POLYGON_COST * texts.len()) as u64;
    let mut extent = Extent::Empty;
    if selection.window.is_none() {
        if points > 0 {
            extent = Extent::Unknown;
        }
        return Contents { polygons, paths, texts, placements: 0, points, extent };
    }
    for polygon in polygons.iter().map(|&i| &cell.polygons[i as usize]) {
        let mut around = [polygon.points[0]; 2];
        for p in &polygon.points {
            for k in 0..2 {
                around[0][k] = around[0][k].min(p[k]);
                around[1][k] = around[1][k].max(p[k]);
            }
        }
        extent.add(&around.map(|p| p.map(f64::from)));
    }
    for path in paths.iter().map(|&i| &cell.paths[i as usize]) {
        if path.absolute_width {
            extent = Extent::Unknown;
        }
        let stroke = path.stroke(1.0, grid, selection.chord_error_um);
        // Magnified, a round end has finer facets, which reach up to a chord error farther.
        let margin = stroke.chord_error;
        for ring in outline(&path.centre_line(), &stroke) {
            if let Some([low, high]) = bounds(&ring) {
                extent.add(&[low.map(|v| v - margin), high.map(|v| v + margin)]);
            }
        }
    }
    for text in texts.iter().map(|&i| &cell.texts[i as usize]) {
        extent.add(&[text.at.map(f64::from)]);
    }
    Contents { polygons, paths, texts, placements: 0, points, extent }
}

/// Numbers of the copies at the four corners of an array.
fn corner_copies(reference: &Reference) -> [u64; 4] {
    let columns = reference.array.map_or(1, |a| u64::from(a.columns));
    let copies = reference.copies();
    [0, columns - 1, copies - columns, copies - 1]
}
