//! The layout of a device file: shapes written out, or layers of a GDSII stream. Lengths come out in µm.

use super::keys;
use super::node::{Node, Object, Read};
use super::shapes::{DrawnShape, points, shapes};
use modalith_mesher::geometry::Point;
use std::path::{Path, PathBuf};

/// Where the outline comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum Layout {
    /// Shapes written out.
    Shapes {
        /// United.
        structure: Vec<DrawnShape>,
        /// Cut from the structure.
        holes: Vec<DrawnShape>,
        /// What holds it.
        held: Held<Vec<DrawnShape>>,
    },
    /// Layers of a GDSII stream.
    Gds(Box<Stream>),
}

/// What holds the device, drawn as `T`.
#[derive(Clone, Debug, PartialEq)]
pub enum Held<T> {
    /// Footprints.
    Drawn(T),
    /// What lies farther than this from every etched edge, µm.
    ByRelease(f64),
    /// Nothing: `"support": "free"`.
    Free,
}

/// A layer and datatype of a GDSII stream.
pub type LayerNumber = (u16, u16);

/// Which layers of which cell of which stream.
#[derive(Clone, Debug, PartialEq)]
pub struct Stream {
    /// Path of the stream, relative paths resolved against the file that names it.
    pub path: PathBuf,
    /// Name of the cell; without one, the only top cell.
    pub cell: Option<String>,
    /// Lower-left and upper-right corner of what is kept, µm.
    pub window: Option<[Point; 2]>,
    /// Whether the `film` layers draw what is etched away.
    pub trenches: bool,
    /// Layers of the structure, or of the trenches.
    pub film: Vec<LayerNumber>,
    /// Layers of holes.
    pub holes: Vec<LayerNumber>,
    /// What holds the device.
    pub held: Held<Vec<LayerNumber>>,
    /// Layers of named masses.
    pub masses: Vec<LayerNumber>,
    /// Layers of electrodes.
    pub electrodes: Vec<LayerNumber>,
    /// Layers of the texts that name them.
    pub labels: Vec<LayerNumber>,
}

/// A layout, the unit its shapes are in and the chord error of its curves.
#[derive(Clone, Debug, PartialEq)]
pub struct LayoutRead {
    /// The layout.
    pub layout: Layout,
    /// Size of the layout's unit, µm, if it names one.
    pub unit_um: Option<f64>,
    /// Largest distance between a curve and its facets, µm, if stated.
    pub chord_error_um: Option<f64>,
    /// Openings whose largest extent is below this are filled in the beam-shell model, µm, if stated.
    pub holes_below_um: Option<f64>,
}

const NOTHING_HOLDS: &str = "add \"anchors\": [SHAPE, …], or \"release_undercut_um\", or write \"support\": \"free\" at the top level for a part that floats";

/// Reads `layout`; `free` is whether the device says `"support": "free"`.
///
/// # Errors
/// For anything malformed, empty or contradictory, with its place.
pub fn layout(node: &Node, free: bool) -> Read<LayoutRead> {
    let any = node.any_object("an object")?;
    let from_stream = any.get("gds").is_some();
    let o = node.object(if from_stream { &keys::LAYOUT_GDS } else { &keys::LAYOUT_SHAPES })?;
    let unit_um = match o.get("unit") {
        None => None,
        Some(n) => Some(if n.word(&["um", "nm"])? == "nm" { 1e-3 } else { 1.0 }),
    };
    let chord_error_um = o.get("chord_error_um").map(|n| n.positive("a length in µm")).transpose()?;
    let holes_below_um = o.get("holes_below_um").map(|n| n.positive("a length in µm")).transpose()?;
    let layout = if from_stream { Layout::Gds(Box::new(stream(&o, free)?)) } else { written_out(&o, unit_um, free)? };
    Ok(LayoutRead { layout, unit_um, chord_error_um, holes_below_um })
}

fn written_out(o: &Object, unit_um: Option<f64>, free: bool) -> Read<Layout> {
    let structure_node =
        o.need("structure", "write \"structure\": [SHAPE, …], or \"gds\": \"file.gds\" for a GDSII stream")?;
    let Some(scale) = unit_um else {
        return Err(o
            .node()
            .error("\"unit\" is missing", "write \"unit\": \"um\" or \"unit\": \"nm\" beside the shapes"));
    };
    let structure = shapes(&structure_node, scale)?;
    if structure.is_empty() {
        return Err(structure_node.error("is empty", "draw the structure: [{\"rect\": [[x, y], [x, y]]}, …]"));
    }
    let list = |n: Node| shapes(&n, scale);
    let holes = o.get("holes").map_or(Ok(Vec::new()), list)?;
    let held = held(&[o], free, list, Vec::is_empty)?;
    Ok(Layout::Shapes { structure, holes, held })
}

/// What holds the device: exactly one of anchors, a release undercut, and support that is free. `places` are the
/// objects in which the keys may stand.
fn held<T>(
    places: &[&Object],
    free: bool,
    read: impl Fn(Node) -> Read<T>,
    empty: impl Fn(&T) -> bool,
) -> Read<Held<T>> {
    let find = |key: &str| places.iter().find_map(|o| o.get(key));
    let undercut = find("release_undercut_um");
    let anchors = match find("anchors") {
        None => None,
        Some(n) => Some(read(n.clone())?).filter(|list| !empty(list)).map(|list| (n, list)),
    };
    match (free, anchors, undercut) {
        (false, Some((_, list)), None) => Ok(Held::Drawn(list)),
        (false, None, Some(n)) => Ok(Held::ByRelease(n.positive("a length in µm")?)),
        (true, None, None) => Ok(Held::Free),
        (_, Some((n, _)), Some(_)) => Err(n.error(
            "stands beside \"release_undercut_um\"",
            "keep one: drawn anchors, or what the release etch leaves",
        )),
        (true, Some((n, _)), None) | (true, None, Some(n)) => {
            Err(n.error("holds a part whose support is free", "take it out, or take out \"support\": \"free\""))
        }
        (false, None, None) => {
            let at = places.first().map(|o| o.node());
            let error = |n: &Node| n.error("no anchor at all: nothing holds the device", NOTHING_HOLDS);
            Err(find("anchors")
                .as_ref()
                .or(at)
                .map_or_else(|| super::InputError::of_file("", "no anchor", NOTHING_HOLDS), error))
        }
    }
}

fn stream(o: &Object, free: bool) -> Read<Stream> {
    let gds = o.need("gds", "write the path of a GDSII stream")?;
    let written = gds.text("the path of a GDSII stream")?;
    if written.is_empty() {
        return Err(gds.error("is empty", "write the path of a GDSII stream, relative to this file"));
    }
    let path = gds.file().parent().unwrap_or(Path::new("")).join(written);
    let cell = o.get("cell").map(|n| n.text("the name of a cell").map(str::to_owned)).transpose()?;
    let window = o.get("window").map(|n| window(&n)).transpose()?;
    let layers_node = o.need("layers", "write \"layers\": {\"structure\": [{\"layer\": 1, \"datatype\": 0}], …}")?;
    let layers = layers_node.object(&keys::LAYERS)?;
    let list = |key: &str| layers.get(key).map_or(Ok(Vec::new()), |n| layer_numbers(&n));
    let (structure, trenches) = (list("structure")?, list("trenches")?);
    let (film, trenches) = match (structure.is_empty(), trenches.is_empty()) {
        (false, true) => (structure, false),
        (true, false) if window.is_none() => {
            let hint = "write \"window\": [[x, y], [x, y]] in the layout, µm: trenches are cut from a film that fills the window";
            return Err(o.node().error("\"trenches\" need a \"window\"", hint));
        }
        (true, false) => (trenches, true),
        (true, true) => {
            let hint = "write \"structure\": [{\"layer\": 1, \"datatype\": 0}], or \"trenches\" where the mask draws what is etched";
            return Err(layers_node.error("names no layer of the structure", hint));
        }
        (false, false) => {
            return Err(
                layers_node.error("names both \"structure\" and \"trenches\"", "keep the one that the mask draws")
            );
        }
    };
    let (masses, electrodes, labels) = (list("masses")?, list("electrodes")?, list("labels")?);
    if labels.is_empty() && !(masses.is_empty() && electrodes.is_empty()) {
        let hint = "write \"labels\": [{\"layer\": …, \"datatype\": …}], the layer of the texts inside the polygons";
        return Err(layers_node.error("masses and electrodes get their names from \"labels\", which is missing", hint));
    }
    let held = held(&[&layers, o], free, |n| layer_numbers(&n), Vec::is_empty)?;
    Ok(Stream { path, cell, window, trenches, film, holes: list("holes")?, held, masses, electrodes, labels })
}

fn window(node: &Node) -> Read<[Point; 2]> {
    let corners = points(node, 1.0)?;
    let [a, b] = corners[..] else {
        return Err(
            node.error(format!("must be two corners, not {} points", corners.len()), "write [[x, y], [x, y]] in µm")
        );
    };
    let (low, high) = ([a[0].min(b[0]), a[1].min(b[1])], [a[0].max(b[0]), a[1].max(b[1])]);
    if low[0] == high[0] || low[1] == high[1] {
        return Err(node.error("has no area", "give two opposite corners in µm"));
    }
    Ok([low, high])
}

fn layer_numbers(node: &Node) -> Read<Vec<LayerNumber>> {
    node.array("layers, each {\"layer\": 1, \"datatype\": 0}")?.iter().map(layer_number).collect()
}

fn layer_number(node: &Node) -> Read<LayerNumber> {
    let o = node.object(&keys::LAYER)?;
    let number = |n: &Node| n.whole(0, u64::from(u16::MAX)).map(|x| x as u16);
    let layer = number(&o.need("layer", "write \"layer\": 1")?)?;
    let datatype = o.get("datatype").map_or(Ok(0), |n| number(&n))?;
    Ok((layer, datatype))
}

/// Named shapes of `masses`.
///
/// # Errors
/// For malformed or empty lists; without a unit in the layout.
pub fn masses(node: &Node, unit_um: Option<f64>) -> Read<Vec<(String, Vec<DrawnShape>)>> {
    let o = node.any_object("an object of shapes by name")?;
    let mut named = Vec::new();
    for (name, n) in o.members() {
        let Some(scale) = unit_um else {
            return Err(n.error("shapes need the layout's unit", "write \"unit\": \"um\" in \"layout\""));
        };
        if name.trim().is_empty() {
            return Err(n.error("a mass without a name", "give it a name, e.g. \"left\""));
        }
        if name == "rate_axis" {
            return Err(n.error(
                "\"rate_axis\" cannot be the name of a mass",
                "it means the axis of rotation in \"intent\"; take another name",
            ));
        }
        let list = shapes(&n, scale)?;
        if list.is_empty() {
            return Err(n.error("is empty", "draw the mass: [{\"rect\": [[x, y], [x, y]]}, …]"));
        }
        named.push((name.to_owned(), list));
    }
    Ok(named)
}
