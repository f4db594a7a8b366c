//! A cell with everything it contains as plain polygons and texts, µm, in the frame of that cell.

use super::fault::GdsError;
use super::hierarchy::Hierarchy;
use super::layer::{LayerCount, LayerSpec};
use super::library::{Cell, Grid, Library, Path, PathEnd};
use super::path::{Cap, Stroke, outline};
use super::placement::Placement;
use super::selection::{POLYGON_COST, Selection};
use super::survey::{Contents, Extent, survey};
use super::window;
use crate::geometry::{Point, Ring, bounds, ring_area};
use std::collections::{BTreeMap, HashSet};

/// For every point that may be kept so many may be looked at in search of those inside a window.
const LOOKS: usize = 25;
/// Coordinates beyond this are an error, µm (1 km).
const FARTHEST_UM: f64 = 1e9;

/// One polygon of a flattened cell.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatPolygon {
    /// Its ring, µm, anticlockwise. It may touch itself along the cut lines that join holes to it.
    pub ring: Ring,
    /// Number of the drawn shape: a path that crosses itself comes as several polygons of one number.
    pub shape: usize,
}

/// One text of a flattened cell.
#[derive(Clone, Debug, PartialEq)]
pub struct FlatText {
    /// Where it stands, µm.
    pub at: Point,
    /// What it says, without blanks around it.
    pub text: String,
}

/// A flattened cell, µm.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Flat {
    /// The cell.
    pub cell: String,
    /// Polygons by layer and datatype (boxes by boxtype), in the order of the stream.
    pub polygons: BTreeMap<LayerSpec, Vec<FlatPolygon>>,
    /// Texts by layer and texttype.
    pub texts: BTreeMap<LayerSpec, Vec<FlatText>>,
    /// Paths without a width, left out.
    pub zero_width_paths: usize,
    /// Polygons and paths without an area, left out.
    pub zero_area_shapes: usize,
    /// Texts that say nothing, left out.
    pub empty_texts: usize,
    /// Where the drawn boundaries and boxes stand in the stream that lie in the window, bytes.
    pub drawn_at: HashSet<usize>,
}

impl Flat {
    /// How many polygons each layer holds.
    pub fn polygon_counts(&self) -> Vec<LayerCount> {
        self.polygons.iter().map(|(&layer, p)| LayerCount { layer, count: p.len() }).collect()
    }

    /// How many texts each layer holds.
    pub fn text_counts(&self) -> Vec<LayerCount> {
        self.texts.iter().map(|(&layer, t)| LayerCount { layer, count: t.len() }).collect()
    }
}

/// Flattens `cell`, or the only cell that no other contains. Turns by multiples of 90° at magnification 1 are exact on the
/// grid; the work and the memory are bounded by the selection's [`Limits`](super::Limits).
///
/// # Errors
/// An unknown cell, several top cells, a cell that contains itself, a missing cell, a window that is none, too much to
/// unfold, elements out of range.
pub fn flatten(library: &Library, cell: Option<&str>, selection: &Selection<'_>) -> Result<Flat, GdsError> {
    if let Some(area) = selection.window {
        window::check(area)?;
    }
    let hierarchy = Hierarchy::new(library, cell)?;
    unfold(library, &hierarchy, selection)
}

/// Walks through all placements with a stack of its own, one frame for each level.
pub(super) fn unfold(library: &Library, hierarchy: &Hierarchy, selection: &Selection<'_>) -> Result<Flat, GdsError> {
    struct Frame {
        cell: usize,
        placement: Placement,
        reference: usize,
        copy: u64,
    }
    let top = &library.cells[hierarchy.top];
    let grid = library.grid();
    let contents = survey(library, hierarchy, selection)?;
    let mut sink = Sink { grid, selection, looked_at: 0, kept: 0, shapes: 0, flat: Flat::default(), top: &top.name };
    sink.flat.cell.clone_from(&top.name);
    if selection.window.is_none() {
        // Known beforehand: no need to try.
        sink.check_placements(contents[hierarchy.top].placements)?;
        sink.check_kept(contents[hierarchy.top].points)?;
    }
    sink.place(top, &contents[hierarchy.top], &Placement::TOP)?;
    let mut stack = vec![Frame { cell: hierarchy.top, placement: Placement::TOP, reference: 0, copy: 0 }];
    let mut placements = 0_u64;
    while let Some(frame) = stack.last_mut() {
        let Some(reference) = library.cells[frame.cell].references.get(frame.reference) else {
            stack.pop();
            continue;
        };
        let child = hierarchy.children[frame.cell][frame.reference];
        if frame.copy == reference.copies() || contents[child].extent == Extent::Empty {
            (frame.reference, frame.copy) = (frame.reference + 1, 0);
            continue;
        }
        let placement = frame.placement.inner(reference, frame.copy);
        frame.copy += 1;
        placements += 1;
        sink.check_placements(placements)?;
        if selection.window.is_some_and(|w| !contents[child].extent.reaches(w, &placement, grid)) {
            continue;
        }
        let cell = &library.cells[child];
        sink.place(cell, &contents[child], &placement)?;
        if !cell.references.is_empty() {
            stack.push(Frame { cell: child, placement, reference: 0, copy: 0 });
        }
    }
    Ok(sink.flat)
}

impl Path {
    /// Its centre line.
    pub(super) fn centre_line(&self) -> Vec<Point> {
        self.points.iter().map(|p| p.map(f64::from)).collect()
    }

    /// What is drawn along it, database units of its cell, when the cell is placed with a magnification.
    pub(super) fn stroke(&self, magnification: f64, grid: Grid, chord_error_um: f64) -> Stroke {
        let width = f64::from(self.width) / if self.absolute_width { magnification } else { 1.0 };
        let half_width = 0.5 * width;
        let caps = match self.end {
            PathEnd::Flush => [Cap::Straight(0.0); 2],
            PathEnd::Round => [Cap::Round; 2],
            PathEnd::HalfWidth => [Cap::Straight(half_width); 2],
            PathEnd::Extended { begin, end } => [begin, end].map(|e| Cap::Straight(f64::from(e))),
        };
        Stroke { half_width, caps, chord_error: grid.database_units(chord_error_um) / magnification, tolerance: 1.0 }
    }
}

/// Where placed elements are gathered.
struct Sink<'a> {
    grid: Grid,
    selection: &'a Selection<'a>,
    looked_at: usize,
    kept: usize,
    shapes: usize,
    flat: Flat,
    top: &'a str,
}

impl Sink<'_> {
    fn check_placements(&self, count: u64) -> Result<(), GdsError> {
        let limit = self.selection.limits.placements;
        self.check(count > limit as u64, limit, "placements of cells")
    }

    fn check_kept(&self, count: u64) -> Result<(), GdsError> {
        let limit = self.selection.limits.points;
        self.check(count > limit as u64, limit, "points")
    }

    fn check(&self, too_much: bool, limit: usize, what: &'static str) -> Result<(), GdsError> {
        if too_much { Err(GdsError::TooMuch { cell: self.top.to_owned(), limit, what }) } else { Ok(()) }
    }

    /// Adds a cell's own elements.
    fn place(&mut self, cell: &Cell, contents: &Contents, placement: &Placement) -> Result<(), GdsError> {
        for polygon in contents.polygons.iter().map(|&i| &cell.polygons[i as usize]) {
            let points = polygon.points.iter().map(|p| p.map(f64::from));
            let added = self.ring(cell, polygon.offset, polygon.layer, points, placement)?;
            // A bow tie may have no area.
            if added != Added::Outside {
                self.flat.drawn_at.insert(polygon.offset);
            }
            self.count(added);
        }
        for path in contents.paths.iter().map(|&i| &cell.paths[i as usize]) {
            if path.width == 0 {
                self.look_at(1)?;
                self.flat.zero_width_paths += 1;
                continue;
            }
            let stroke = path.stroke(placement.magnification, self.grid, self.selection.chord_error_um);
            self.look_at(path.points.len())?;
            let mut added = Added::NoArea;
            for ring in outline(&path.centre_line(), &stroke) {
                added = added.max(self.ring(cell, path.offset, path.layer, ring.into_iter(), placement)?);
            }
            self.count(added);
        }
        for text in contents.texts.iter().map(|&i| &cell.texts[i as usize]) {
            self.look_at(1)?;
            let at = self.to_um(cell, text.offset, placement.apply(text.at.map(f64::from)))?;
            let words = text.text.trim();
            if self.selection.window.is_some_and(|w| !window::holds(w, at)) {
                continue;
            } else if words.is_empty() {
                self.flat.empty_texts += 1;
                continue;
            }
            self.keep(POLYGON_COST)?;
            self.flat.texts.entry(text.layer).or_default().push(FlatText { at, text: words.to_owned() });
        }
        Ok(())
    }

    /// Counts a shape of which at least one ring was looked at.
    fn count(&mut self, added: Added) {
        match added {
            Added::NoArea => self.flat.zero_area_shapes += 1,
            Added::Outside => {}
            Added::Kept => self.shapes += 1,
        }
    }

    fn look_at(&mut self, points: usize) -> Result<(), GdsError> {
        self.looked_at += points;
        let limit = self.selection.limits.points.saturating_mul(LOOKS);
        self.check(self.looked_at > limit, limit, "points to look at")
    }

    fn keep(&mut self, points: usize) -> Result<(), GdsError> {
        self.kept += points;
        self.check_kept(self.kept as u64)
    }

    fn to_um(&self, cell: &Cell, offset: usize, p: Point) -> Result<Point, GdsError> {
        let p = p.map(|v| self.grid.um(v));
        // Written so that NaN fails.
        if p.iter().all(|v| v.abs() <= FARTHEST_UM) {
            Ok(p)
        } else {
            Err(GdsError::OutOfRange { cell: cell.name.clone(), offset })
        }
    }

    fn ring(
        &mut self,
        cell: &Cell,
        offset: usize,
        layer: LayerSpec,
        points: impl ExactSizeIterator<Item = Point>,
        placement: &Placement,
    ) -> Result<Added, GdsError> {
        self.look_at(points.len())?;
        let mut ring =
            points.map(|p| self.to_um(cell, offset, placement.apply(p))).collect::<Result<Ring, GdsError>>()?;
        if let (Some(area), Some(extent)) = (self.selection.window, bounds(&ring))
            && !window::meets(area, extent)
        {
            return Ok(Added::Outside);
        }
        let area = ring_area(&ring);
        if area == 0.0 {
            return Ok(Added::NoArea);
        }
        if area < 0.0 {
            ring.reverse();
        }
        self.keep(ring.len() + POLYGON_COST)?;
        self.flat.polygons.entry(layer).or_default().push(FlatPolygon { ring, shape: self.shapes });
        Ok(Added::Kept)
    }
}

/// What became of a ring, or of the luckiest ring of a shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Added {
    NoArea,
    Outside,
    Kept,
}
