//! Shapes written out in a device file. In: JSON with numbers in the layout's unit. Out: shapes in µm.
//!
//! - `{"rect": [[x, y], [x, y]]}`: two opposite corners.
//! - `{"polygon": [[x, y], …], "holes": [[[x, y], …], …]}`: corners in either direction, openings optional.
//! - `{"path": [[x, y], …], "width": w, "ends": "flush"}`: a line with a width; ends `flush` with the end point (the
//!   default), `square` (half a width beyond it) or `round`.
//! - `{"circle": [x, y], "radius": r}`, `{"ring": [x, y], "inner_radius": a, "outer_radius": b}`.
//! - `{"arc": [x, y], "radius": r, "width": w, "from_deg": a, "to_deg": b, "ends": "flush"}`: a line along a circle,
//!   anticlockwise from angle a to angle b, measured from +x.
//!
//! Every shape may be repeated, `"array": {"columns": n, "rows": m, "step": [dx, dy]}`, and then mirrored,
//! `"mirror_about": {"x": 0}`: the mirror image in the line x = 0 is added, the original stays. With both `x` and `y`
//! there are four.

use super::keys;
use super::node::{Node, Object, Read};
use modalith_mesher::geometry::{Point, Ring, ring_area};
use serde_json::Value;

/// Coordinates beyond this, µm, are a mistake of unit: a wafer is 0.3 m across.
const LARGEST_UM: f64 = 1e6;
/// More copies than this of one shape are a mistake, and would use up the memory.
const MOST_COPIES: u64 = 1_000_000;

/// How a line ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ends {
    /// At the end point.
    #[default]
    Flush,
    /// Half a width beyond the end point.
    Square,
    /// With a half circle about the end point.
    Round,
}

/// The figure of one shape, µm.
#[derive(Clone, Debug, PartialEq)]
pub enum Figure {
    /// Lower-left and upper-right corner.
    Rect([Point; 2]),
    /// Corners, and those of its openings.
    Polygon(Ring, Vec<Ring>),
    /// A line through points.
    Path {
        /// Its points.
        points: Vec<Point>,
        /// Its width.
        width: f64,
        /// Its ends.
        ends: Ends,
    },
    /// A disc about a point.
    Circle(Point, f64),
    /// Centre, inner and outer radius.
    Ring(Point, [f64; 2]),
    /// A line along a circle.
    Arc {
        /// Centre of the circle.
        centre: Point,
        /// Radius of the centre-line.
        radius: f64,
        /// Width of the line.
        width: f64,
        /// First and last angle, degrees anticlockwise from +x.
        angles_deg: [f64; 2],
        /// Its ends.
        ends: Ends,
    },
}

/// Copies in columns and rows, the original at the lower left of a positive step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Array {
    /// Copies along x.
    pub columns: u32,
    /// Copies along y.
    pub rows: u32,
    /// Distance between neighbours along x and y, µm.
    pub step: [f64; 2],
}

/// A shape, its copies and where it is written.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// The figure.
    pub figure: Figure,
    /// Its copies.
    pub array: Option<Array>,
    /// Mirror lines x = … and y = …, µm; images are added.
    pub mirror_x: Option<f64>,
    /// See `mirror_x`.
    pub mirror_y: Option<f64>,
    /// JSON Pointer to the shape.
    pub pointer: String,
}

/// A list of shapes; `scale` is the size of the layout's unit in µm.
///
/// # Errors
/// For anything that is no shape, with its place.
pub fn shapes(node: &Node, scale: f64) -> Read<Vec<Shape>> {
    node.array("shapes")?.iter().map(|n| shape(n, scale)).collect()
}

const KINDS: [&keys::Keys; 6] = [&keys::RECT, &keys::POLYGON, &keys::PATH, &keys::CIRCLE, &keys::RING, &keys::ARC];

fn shape(node: &Node, scale: f64) -> Read<Shape> {
    let list = KINDS.map(|k| k.object).join(", ");
    let any = node.any_object("a shape")?;
    let mut kinds = KINDS.iter().filter(|k| any.get(k.object).is_some());
    let Some(kind) = kinds.next() else {
        let near = any.members().find_map(|(key, _)| keys::nearest(key, KINDS.map(|k| k.object)));
        let hint = match near {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("write one of the keys {list}, e.g. {{\"rect\": [[0, 0], [10, 5]]}}"),
        };
        return Err(node.error("is no known shape", hint));
    };
    if let Some(other) = kinds.next() {
        let what = format!("is two shapes at once, \"{}\" and \"{}\"", kind.object, other.object);
        return Err(node.error(what, "write two objects"));
    }
    let o = node.object(kind)?;
    let of_figure = |key: &str| o.need(key, "see `modalith schema device` for every shape");
    let size = |key: &str, what: &str| -> Read<f64> {
        let node = o.need(key, &format!("write \"{key}\": …, {what} in the layout's unit"))?;
        coordinate(&node, &[], node.positive(what)?, scale)
    };
    let ends = || match o.get("ends") {
        None => Ok(Ends::default()),
        Some(n) => n.word(&["flush", "square", "round"]).map(|word| match word {
            "square" => Ends::Square,
            "round" => Ends::Round,
            _ => Ends::Flush,
        }),
    };
    let main = of_figure(kind.object)?;
    let figure = match kind.object {
        "rect" => {
            let corners = points(&main, scale)?;
            let [a, b] = corners[..] else {
                return Err(main.error(
                    format!("must be two opposite corners, not {} points", corners.len()),
                    "write [[x, y], [x, y]]",
                ));
            };
            let low = [a[0].min(b[0]), a[1].min(b[1])];
            let high = [a[0].max(b[0]), a[1].max(b[1])];
            if low[0] == high[0] || low[1] == high[1] {
                let what = format!(
                    "has no area: both corners at {} = {}",
                    if low[0] == high[0] { "x" } else { "y" },
                    if low[0] == high[0] { low[0] / scale } else { low[1] / scale }
                );
                return Err(main.error(what, "give two opposite corners"));
            }
            Figure::Rect([low, high])
        }
        "polygon" => {
            let outer = ring(&main, scale)?;
            let holes = match o.get("holes") {
                None => Vec::new(),
                Some(list) => list
                    .array("openings, each a list of points")?
                    .iter()
                    .map(|n| ring(n, scale))
                    .collect::<Read<_>>()?,
            };
            Figure::Polygon(outer, holes)
        }
        "path" => {
            let mut points = points(&main, scale)?;
            points.dedup();
            if points.len() < 2 {
                return Err(main.error("needs two different points or more", "a lone spot is a rect or a circle"));
            }
            Figure::Path { points, width: size("width", "a width")?, ends: ends()? }
        }
        "circle" => Figure::Circle(point(&main, scale)?, size("radius", "a radius")?),
        "ring" => {
            let (inner, outer) = (size("inner_radius", "a radius")?, size("outer_radius", "a radius")?);
            if inner >= outer {
                let what = format!("inner_radius {} is not smaller than outer_radius {}", inner / scale, outer / scale);
                return Err(node.error(what, "swap the two, or use a circle"));
            }
            Figure::Ring(point(&main, scale)?, [inner, outer])
        }
        _ => {
            let angle = |key: &str| {
                o.need(key, "write the angle in degrees, anticlockwise from +x")?.number("an angle in degrees")
            };
            let (radius, width, from, to) =
                (size("radius", "a radius")?, size("width", "a width")?, angle("from_deg")?, angle("to_deg")?);
            if width >= 2.0 * radius {
                let what = format!("width {} reaches over the centre of radius {}", width / scale, radius / scale);
                return Err(node.error(what, "radius is that of the centre-line; use a circle for a full disc"));
            }
            if !(to > from && to - from <= 360.0 && from.abs() <= 3600.0) {
                let what = format!("runs from {from} to {to} degrees");
                return Err(node.error(
                    what,
                    "to_deg must be larger than from_deg, by 360 at most; use a ring for the full circle",
                ));
            }
            Figure::Arc { centre: point(&main, scale)?, radius, width, angles_deg: [from, to], ends: ends()? }
        }
    };
    let (mirror_x, mirror_y) = mirror(&o, scale)?;
    Ok(Shape { figure, array: array(&o, scale)?, mirror_x, mirror_y, pointer: node.pointer() })
}

fn array(o: &Object, scale: f64) -> Read<Option<Array>> {
    let Some(node) = o.get("array") else { return Ok(None) };
    let a = node.object(&keys::ARRAY)?;
    let count = |key: &str| a.get(key).map_or(Ok(1), |n| n.whole(1, MOST_COPIES));
    let (columns, rows) = (count("columns")?, count("rows")?);
    if columns * rows > MOST_COPIES {
        let what = format!("makes {} copies; {MOST_COPIES} is the most", columns * rows);
        return Err(node.error(what, "give a layout of this size as GDSII"));
    }
    let step_node = a.need("step", "write \"step\": [dx, dy]")?;
    let step = point(&step_node, scale)?;
    if (columns > 1 && step[0] == 0.0) || (rows > 1 && step[1] == 0.0) {
        return Err(step_node
            .error("puts copies on top of each other", "give a step other than 0 along every repeated direction"));
    }
    Ok(Some(Array { columns: columns as u32, rows: rows as u32, step }))
}

fn mirror(o: &Object, scale: f64) -> Read<(Option<f64>, Option<f64>)> {
    let Some(node) = o.get("mirror_about") else { return Ok((None, None)) };
    let m = node.object(&keys::MIRROR)?;
    let line = |key: &str| -> Read<Option<f64>> {
        m.get(key).map(|n| coordinate(&n, &[], n.number("a coordinate")?, scale)).transpose()
    };
    let lines = (line("x")?, line("y")?);
    if lines == (None, None) {
        return Err(node.error("names no line", "write {\"x\": 0} to mirror in the line x = 0, {\"y\": 0} for y = 0"));
    }
    Ok(lines)
}

/// A size or coordinate in µm, refused when it is beyond any wafer.
fn coordinate(node: &Node, inside: &[usize], x: f64, scale: f64) -> Read<f64> {
    let um = x * scale;
    if um.abs() <= LARGEST_UM {
        Ok(um)
    } else {
        let what = format!("{x} lies beyond {} m from the origin", LARGEST_UM * 1e-6);
        Err(node.error_at(inside, what, "check the layout's unit, and move the device near the origin"))
    }
}

fn xy(node: &Node, inside: &[usize], value: &Value, scale: f64) -> Read<Point> {
    let pair = match value.as_array().map(Vec::as_slice) {
        Some([x, y]) => x.as_f64().zip(y.as_f64()),
        _ => None,
    };
    let Some((x, y)) = pair else {
        let mut found = value.to_string();
        if found.chars().count() > 40 {
            found = found.chars().take(40).chain(['…']).collect();
        }
        return Err(node.error_at(
            inside,
            format!("must be a point [x, y], not {found}"),
            "write two numbers in brackets",
        ));
    };
    Ok([coordinate(node, inside, x, scale)?, coordinate(node, inside, y, scale)?])
}

/// A point, µm.
///
/// # Errors
/// For anything but two numbers.
pub fn point(node: &Node, scale: f64) -> Read<Point> {
    xy(node, &[], node.value(), scale)
}

/// A list of points, µm.
///
/// # Errors
/// For anything but a list of points.
pub fn points(node: &Node, scale: f64) -> Read<Vec<Point>> {
    let Value::Array(list) = node.value() else { return node.array("points").map(|_| Vec::new()) };
    list.iter().enumerate().map(|(n, value)| xy(node, &[n], value, scale)).collect()
}

/// A closed outline; a last point that repeats the first is dropped, and points that repeat their neighbour.
fn ring(node: &Node, scale: f64) -> Read<Ring> {
    let mut ring = points(node, scale)?;
    ring.dedup();
    if ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    if ring.len() < 3 {
        return Err(
            node.error(format!("has {} different points", ring.len()), "an outline needs three corners or more")
        );
    }
    let collinear = {
        let [a, b] = [ring[0], ring[1]];
        ring.iter().all(|p| ((b[0] - a[0]) * (p[1] - a[1]) - (p[0] - a[0]) * (b[1] - a[1])).abs() < 1e-12)
    };
    if collinear || ring_area(&ring).is_nan() {
        let what = format!(
            "has no area: all {} points lie on one line through ({}, {})",
            ring.len(),
            ring[0][0] / scale,
            ring[0][1] / scale
        );
        return Err(node.error(what, "give the corners of an area; a line with a width is a path"));
    }
    Ok(ring)
}
