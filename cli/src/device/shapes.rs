//! Shapes written out in a device file. In: JSON with numbers in the layout's unit. Out: shapes in µm.
//!
//! - `{"rect": [[x, y], [x, y]]}`: two opposite corners.
//! - `{"polygon": [[x, y], …], "holes": [[[x, y], …], …]}`: corners in either direction, openings optional.
//! - `{"path": [[x, y], …], "width": w, "ends": "flush"}`: a line with a width; ends `flush` with the end point (the
//!   default), `square` (half a width beyond it) or `round`.
//! - `{"circle": [x, y], "radius": r}`, `{"ring": [x, y], "inner_radius": a, "outer_radius": b}`.
//! - `{"arc": [x, y], "radius": r, "width": w, "from_deg": a, "to_deg": b, "ends": "flush"}`: a line along a circle,
//!   anticlockwise from angle a to angle b, measured from +x (b below a: through the turn's end).
//!
//! Every shape may be repeated, `"array": {"columns": n, "rows": m, "step": [dx, dy]}`, and then mirrored,
//! `"mirror_about": {"x": 0}`: the mirror image in the line x = 0 is added, the original stays. With both `x` and `y`
//! there are four.

use super::keys;
use super::node::{Node, Object, Read};
use modalith_mesher::geometry::{Point, Polygon};
use modalith_mesher::layout::{
    Array, Ends, LARGEST_UM, LayoutError, LayoutShape, Line, MOST_CORNERS, Mirroring, Placed,
};
use serde_json::Value;

/// A shape, its copies and where it is written.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnShape {
    /// The figure, µm.
    pub figure: LayoutShape,
    /// Its copies.
    pub array: Option<Array>,
    /// Mirror lines x = … and y = …, µm; images are added.
    pub mirrors: Vec<Line>,
    /// JSON Pointer to the shape.
    pub pointer: String,
}

impl DrawnShape {
    /// Corners of the shape with all its copies and images, at most.
    pub fn most_corners(&self, chord_error_um: f64) -> u64 {
        let copies = self.array.map_or(1, |a| a.copies()) << self.mirrors.len();
        self.figure.most_corners(chord_error_um).saturating_mul(copies)
    }

    /// The polygons of the shape and all its copies and images, µm.
    ///
    /// # Errors
    /// For a shape that cannot be drawn, such as an outline that crosses itself.
    pub fn polygons(&self, chord_error_um: f64) -> Result<Vec<Polygon>, LayoutError> {
        let mirroring = |line: &Line| Mirroring { line: *line, keep_original: true };
        let mut lines = self.mirrors.iter();
        let placed = Placed { shape: self.figure.clone(), array: self.array, mirror: lines.next().map(mirroring) };
        let mut polygons = placed.polygons(chord_error_um)?;
        for line in lines {
            let mut images = Vec::with_capacity(2 * polygons.len());
            for Polygon { outer, holes } in polygons {
                let again =
                    Placed { shape: LayoutShape::Polygon { outer, holes }, array: None, mirror: Some(mirroring(line)) };
                images.extend(again.polygons(chord_error_um)?);
            }
            polygons = images;
        }
        Ok(polygons)
    }
}

/// A list of shapes; `scale` is the size of the layout's unit in µm.
///
/// # Errors
/// For anything that is no shape, with its place.
pub fn shapes(node: &Node, scale: f64) -> Read<Vec<DrawnShape>> {
    node.array("shapes")?.iter().map(|n| shape(n, scale)).collect()
}

const KINDS: [&keys::Keys; 6] = [&keys::RECT, &keys::POLYGON, &keys::PATH, &keys::CIRCLE, &keys::RING, &keys::ARC];

// One arm a kind of shape, each a few keys: apart they would hide that they are read alike.
fn shape(node: &Node, scale: f64) -> Read<DrawnShape> {
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
                let what = format!("must be two opposite corners, not {} points", corners.len());
                return Err(main.error(what, "write [[x, y], [x, y]]"));
            };
            LayoutShape::Rect { corners: [a, b] }
        }
        "polygon" => {
            let holes = match o.get("holes") {
                None => Vec::new(),
                Some(list) => {
                    let rings = list.array("openings, each a list of points")?;
                    rings.iter().map(|n| points(n, scale)).collect::<Read<_>>()?
                }
            };
            LayoutShape::Polygon { outer: points(&main, scale)?, holes }
        }
        "path" => LayoutShape::Path { points: points(&main, scale)?, width: size("width", "a width")?, ends: ends()? },
        "circle" => LayoutShape::Circle { centre: point(&main, scale)?, radius: size("radius", "a radius")? },
        "ring" => LayoutShape::Ring {
            centre: point(&main, scale)?,
            inner: size("inner_radius", "a radius")?,
            outer: size("outer_radius", "a radius")?,
        },
        _ => {
            let angle = |key: &str| {
                let node = o.need(key, "write the angle in degrees, anticlockwise from +x")?;
                node.number("an angle in degrees")
            };
            LayoutShape::Arc {
                centre: point(&main, scale)?,
                radius: size("radius", "a radius")?,
                width: size("width", "a width")?,
                from_deg: angle("from_deg")?,
                to_deg: angle("to_deg")?,
                ends: ends()?,
            }
        }
    };
    let shape = DrawnShape { figure, array: array(&o, scale)?, mirrors: mirrors(&o, scale)?, pointer: node.pointer() };
    Ok(shape)
}

fn array(o: &Object, scale: f64) -> Read<Option<Array>> {
    let Some(node) = o.get("array") else { return Ok(None) };
    let a = node.object(&keys::ARRAY)?;
    let count = |key: &str| a.get(key).map_or(Ok(1), |n| n.whole(1, MOST_CORNERS));
    let (columns, rows) = (count("columns")?, count("rows")?);
    let step_node = a.need("step", "write \"step\": [dx, dy]")?;
    let step = point(&step_node, scale)?;
    if (columns > 1 && step[0] == 0.0) || (rows > 1 && step[1] == 0.0) {
        return Err(step_node
            .error("puts copies on top of each other", "give a step other than 0 along every repeated direction"));
    }
    let (columns, rows) = (columns as u32, rows as u32);
    Ok(Some(Array { columns, rows, column_step: [step[0], 0.0], row_step: [0.0, step[1]] }))
}

fn mirrors(o: &Object, scale: f64) -> Read<Vec<Line>> {
    let Some(node) = o.get("mirror_about") else { return Ok(Vec::new()) };
    let m = node.object(&keys::MIRROR)?;
    let line = |key: &str| -> Read<Option<f64>> {
        m.get(key).map(|n| coordinate(&n, &[], n.number("a coordinate")?, scale)).transpose()
    };
    let lines: Vec<Line> = line("x")?.map(Line::Vertical).into_iter().chain(line("y")?.map(Line::Horizontal)).collect();
    if lines.is_empty() {
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
