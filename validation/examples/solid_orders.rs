//! First twisting and first in-plane bending mode of a clamped bar 25 widths long, by degrees through the thickness, against
//! degree 11: the table of ELEMENTS.md.

#![allow(clippy::print_stdout, reason = "prints a table")]

use modalith_mesher::mesh::Mesh;
use modalith_solver::element::basis::Order;
use modalith_solver::element::through::Field;
use modalith_solver::material::Law;
use modalith_solver::system::{Layer, Regions, Supports};
use modalith_validation::bench::{Failure, held};
use modalith_validation::shape::{graded, grid};

/// The half y > 0 of the bar, 4 µm wide, graded towards its clamp and its walls.
fn bar(layers: u32) -> Result<Mesh, Failure> {
    let w = 4.0;
    let xs = graded(25.0 * w, 8, layers, 0.25);
    let ys: Vec<f64> =
        graded(w, 2, layers, 0.3).into_iter().filter(|y| *y >= 0.5 * w - 1e-9).map(|y| y - 0.5 * w).collect();
    Ok(grid(&xs, &ys)?)
}

/// The lowest ω, rad/s, with u and w odd in y: twist where the fields are out of plane, bending where they are in the plane.
fn lowest(mesh: &Mesh, fields: Vec<Field>, tall: f64, order: u8) -> Result<f64, Failure> {
    let law = Law::isotropic(2330.0, 160e9, 0.22)?;
    let order = Order::new(order).ok_or("no such order")?;
    let layer = Layer::solid_with(&law, 4.0 * tall, order, Regions::uniform(fields));
    let mut supports = Supports::none();
    supports.hold_edges(mesh, |m| m[0] == 0.0, &layer.fields);
    let odd: Vec<Field> = layer.fields.iter().copied().filter(|f| f.axis != 1).collect();
    supports.hold_edges(mesh, |m| m[1] == 0.0, &odd);
    Ok(held(mesh, &layer, &supports, 1)?[0])
}

fn set(u: &[u8], w: &[u8]) -> Vec<Field> {
    let fields_along = |axis: u8, d: &[u8]| d.iter().map(move |&degree| Field { axis, degree }).collect::<Vec<_>>();
    [fields_along(0, u), fields_along(1, u), fields_along(2, w)].concat()
}

fn main() -> Result<(), Failure> {
    let (fine, mesh) = (bar(3)?, bar(2)?);
    let twist: [(&[u8], &[u8]); 6] = [
        (&[1], &[0, 2]),
        (&[1, 3], &[0, 2]),
        (&[1, 3, 5], &[0, 2]),
        (&[1, 3, 5], &[0, 2, 4]),
        (&[1, 3, 5, 7], &[0, 2, 4]),
        (&[1, 3, 5, 7, 9], &[0, 2, 4]),
    ];
    let bending: [(&[u8], &[u8]); 6] = [
        (&[0], &[1]),
        (&[0, 2], &[1]),
        (&[0, 2], &[1, 3]),
        (&[0, 2, 4], &[1, 3]),
        (&[0, 2, 4], &[1, 3, 5]),
        (&[0, 2, 4, 6], &[1, 3, 5]),
    ];
    let references = [set(&[1, 3, 5, 7, 9, 11], &[0, 2, 4, 6, 8, 10]), set(&[0, 2, 4, 6, 8, 10], &[1, 3, 5, 7, 9, 11])];
    for (kind, sets, reference) in [("twist", twist, &references[0]), ("bending", bending, &references[1])] {
        for tall in [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0] {
            let best = lowest(&fine, reference.clone(), tall, 6)?;
            print!("| {kind} | {tall} |");
            for (u, w) in sets {
                print!(" {:+.3} |", 100.0 * (lowest(&mesh, set(u, w), tall, 4)? / best - 1.0));
            }
            println!();
        }
    }
    Ok(())
}
