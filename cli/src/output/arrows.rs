//! The one arrow of a mass in the drawing of a mode.
//!
//! In: the rigid motion of a named mass (kg^-½ and rad·m⁻¹·kg^-½) and the scale of the drawing. Out: an arrow on the canvas, at the
//! centre of the mass: straight for a shift in the plane, a circle with a point (towards the viewer) or a cross (away) for one
//! out of it, curved for a turn, two heads along the axis of a right-handed tilt, a small circle for standing still or bending.

use super::svg::{Canvas, INK, number};
use modalith_mesher::geometry::Point;
use modalith_mesher::mesh::Mesh;
use modalith_solver::mode::MassMotion;

/// A mass that moves less than this share of the largest motion stands still.
const STILL: f64 = 0.04;

/// Root mean square distance of a mass from its centre, µm: what a turn is multiplied with to compare it with a shift.
pub(super) fn radius_um(mesh: &Mesh, mass: usize) -> f64 {
    let mut sums = [0.0; 4];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        if mesh.mass_of.get(t).copied().flatten().is_some_and(|m| usize::from(m) == mass) {
            let area = mesh.area(t);
            let centre = [0, 1].map(|c| corners.iter().map(|&i| mesh.points[i as usize][c]).sum::<f64>() / 3.0);
            let [x, y] = centre;
            sums[0] += area;
            sums[1] += area * x;
            sums[2] += area * y;
            sums[3] += area * (x * x + y * y);
        }
    }
    let [area, x, y, square] = sums;
    if area > 0.0 { ((square - (x * x + y * y) / area) / area).max(0.0).sqrt() } else { 0.0 }
}

/// The one arrow of a mass. `largest` is the largest displacement of the mode, kg^-½; `reach` its length in the drawing, µm.
pub(super) fn arrow(canvas: &mut Canvas, mass: &MassMotion, radius_um: f64, largest: f64, reach: f64) {
    let shift = mass.translation.map(|u| u / largest);
    let turn = mass.turn.map(|t| t * radius_um * 1e-6 / largest);
    let motions = [shift[0].hypot(shift[1]), shift[2].abs(), turn[2].abs(), turn[0].hypot(turn[1])];
    let greatest = motions.iter().copied().fold(0.0, f64::max);
    let [x, y] = canvas.place(mass.centre_um);
    let unit = canvas.scale() * reach;
    // Long enough to be seen beside the silhouettes, with its length still telling the amplitude.
    let length = |share: f64| unit.mul_add(1.6 * share, 12.0);
    if !(greatest.is_finite() && greatest >= STILL) {
        canvas.element(&format!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"4\" fill=\"#fff\" stroke=\"{INK}\" stroke-width=\"1.4\"/>",
            number(x),
            number(y)
        ));
    } else if greatest <= motions[0] {
        let [dx, dy] = [shift[0] / motions[0] * length(motions[0]), -shift[1] / motions[0] * length(motions[0])];
        canvas.arrow([x - 0.5 * dx, y - 0.5 * dy], [x + 0.5 * dx, y + 0.5 * dy], 1, INK);
    } else if greatest <= motions[1] {
        let r = 7.0 + 5.0 * motions[1];
        let [cx, cy, rr] = [x, y, r].map(number);
        let inner = if shift[2] > 0.0 {
            format!("<circle cx=\"{cx}\" cy=\"{cy}\" r=\"2.6\" fill=\"{INK}\"/>")
        } else {
            let dd = number(-1.4 * r);
            let (left, top, across) = (number(x - 0.7 * r), number(y - 0.7 * r), number(1.4 * r));
            format!(
                "<path d=\"M{left} {top}l{across} {across}m{dd} 0l{across} {dd}\" stroke=\"{INK}\" stroke-width=\"1.8\"/>"
            )
        };
        canvas.element(&format!(
            "<circle cx=\"{cx}\" cy=\"{cy}\" r=\"{rr}\" fill=\"#fff\" stroke=\"{INK}\" stroke-width=\"1.8\"/>{inner}"
        ));
    } else if greatest <= motions[2] {
        turned(canvas, [x, y], turn[2] > 0.0, 14.0 + 0.4 * unit * motions[2]);
    } else {
        let [dx, dy] = [turn[0] / motions[3] * length(motions[3]), -turn[1] / motions[3] * length(motions[3])];
        canvas.arrow([x - 0.5 * dx, y - 0.5 * dy], [x + 0.5 * dx, y + 0.5 * dy], 2, INK);
    }
}

/// A curved arrow of radius `r` px around a place, over three quarters of a circle; anticlockwise on the layout if `left`.
fn turned(canvas: &mut Canvas, [x, y]: Point, left: bool, r: f64) {
    // Starts at the right, ends below (anticlockwise) or above (clockwise); y runs downward in px.
    let side = if left { 1.0 } else { -1.0 };
    let [x0, y0, x1, y1, rr] = [x + r, y, x, y + side * r, r].map(number);
    let sweep = u8::from(!left);
    canvas.element(&format!(
        "<path d=\"M{x0} {y0}A{rr} {rr} 0 1 {sweep} {x1} {y1}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"2.6\"/>"
    ));
    canvas.head([x + 9.0, y + side * r], [1.0, 0.0], 11.0, INK);
}
