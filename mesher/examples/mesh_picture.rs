//! Draws the mesh of an invented two-mass sensor, or of a few other outlines, as SVG on stdout:
//! `cargo run --release -p modalith-mesher --example mesh_picture -- sensor > mesh.svg`. Three numbers x, y, w after the
//! name show the square of side w around (x, y), µm. Figures go to stderr.

#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../tests/shapes/mod.rs"]
mod shapes;

use modalith_mesher::geometry::{Point, Polygon, bounds};
use modalith_mesher::mesh::{EdgeKind, Mesh};
use modalith_mesher::outline::Outline;
use modalith_mesher::quality::Quality;
use modalith_mesher::triangulate::{MeshSize, TriangulateError, triangulate};
use std::fmt::Write as _;
use std::time::Instant;

fn plate() -> Outline {
    let mut plate = shapes::rect(0.0, 0.0, 1000.0, 1000.0);
    for i in 0..900 {
        let c = [16.0 + 33.0 * f64::from(i % 30), 16.0 + 33.0 * f64::from(i / 30)];
        plate.holes.push(shapes::reversed(shapes::circle(c, 5.0, 48)));
    }
    shapes::outline(vec![shapes::part(plate)])
}

fn main() -> Result<(), TriangulateError> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize| args.get(i).and_then(|a| a.parse::<f64>().ok());
    let outline = match args.first().map(String::as_str) {
        Some("guided") => shapes::guided(),
        Some("spokes") => shapes::spokes(),
        Some("plate") => plate(),
        Some("square") => shapes::outline(vec![shapes::part(shapes::rect(0.0, 0.0, 10.0, 10.0))]),
        Some("disc") => shapes::outline(vec![shapes::part(Polygon::solid(shapes::circle([0.0, 0.0], 10.0, 64)))]),
        _ => shapes::sensor(),
    };
    let start = Instant::now();
    let mesh = triangulate(&outline, &MeshSize { largest_um: number(4), ..MeshSize::default() })?;
    eprintln!("{:.3} s, {} mirrors", start.elapsed().as_secs_f64(), mesh.mirrors.len());
    eprintln!("{:#?}", Quality::of(&mesh));
    if mesh.triangles.len() > 100_000 {
        return Ok(());
    }
    let Some([mut low, mut high]) = bounds(&mesh.points) else { return Ok(()) };
    if let (Some(x), Some(y), Some(w)) = (number(1), number(2), number(3)) {
        (low, high) = ([x - w / 2.0, y - w / 2.0], [x + w / 2.0, y + w / 2.0]);
    }
    println!("{}", drawn(&mesh, low, high));
    Ok(())
}

/// A mesh as SVG, within a box.
fn drawn(mesh: &Mesh, low: Point, high: Point) -> String {
    let (w, h) = (high[0] - low[0], high[1] - low[1]);
    let mut svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='1400' height='{:.0}' viewBox='{} {} {w} {h}'>\n",
        1400.0 * h / w,
        low[0],
        -high[1]
    );
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let fill = match mesh.mass_of[t] {
            Some(0) => "#dde8f0",
            Some(_) => "#f0e6d8",
            None => "#f4f4f0",
        };
        let p = corners.map(|i| mesh.points[i as usize]);
        let _ = writeln!(
            svg,
            "<path fill='{fill}' d='M{} {} L{} {} L{} {}z'/>",
            p[0][0], -p[0][1], p[1][0], -p[1][1], p[2][0], -p[2][1]
        );
    }
    for edge in &mesh.edges {
        let [a, b] = edge.ends.map(|i| mesh.points[i as usize]);
        // The parabola through the mid-side point, as a quadratic Bézier curve.
        let c = [2.0 * edge.middle[0] - 0.5 * (a[0] + b[0]), 2.0 * edge.middle[1] - 0.5 * (a[1] + b[1])];
        let (colour, width) = match edge.kind {
            EdgeKind::Inner => ("#8899a6", 0.7),
            EdgeKind::Interface => ("#2a6f97", 1.6),
            EdgeKind::Free => ("#222222", 1.2),
            EdgeKind::Held => ("#b5472b", 3.0),
        };
        let _ = writeln!(
            svg,
            "<path fill='none' stroke='{colour}' stroke-width='{}' d='M{} {} Q{} {} {} {}'/>",
            width * w / 1400.0,
            a[0],
            -a[1],
            c[0],
            -c[1],
            b[0],
            -b[1]
        );
    }
    svg + "</svg>"
}
