//! Writes small VTK files and what must be found in them, for `validation/vtk_read.py`.
//!
//! In: a folder. Out: `modes.vtu`, `mesh.vtu`, `mode-01-000.vtu` … and `mode-01.pvd` of a plate with analytic shapes, and beside
//! each grid a JSON file of the cell types, array names and some values, µm.

use modalith::output::vtu;
use modalith_mesher::mesh::Mesh;
use modalith_solver::mode::Sampled;
use serde_json::{Value, json};
use std::error::Error;
use std::path::PathBuf;

/// Sides of the plate, µm.
const SIDES: [f64; 2] = [100.0, 40.0];

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args_os().nth(1).ok_or("usage: small_vtu FOLDER")?);
    std::fs::create_dir_all(&folder)?;
    let mut mesh = Mesh::rectangle(SIDES[0], SIDES[1], 5, 2)?;
    // One curved edge, so that the mid-side points are seen to be written and not made up from the corners.
    mesh.bend(|edge, ends| (ends[0][1] + ends[1][1] < 1e-9).then(|| [edge.middle[0], -1.0]));
    mesh.mass_of[3] = Some(0);
    mesh.flexure_of[7] = Some(4);
    let corners = mesh.points.len() as u32;
    let points: Vec<[f64; 2]> = mesh.points.iter().copied().chain(mesh.edges.iter().map(|e| e.middle)).collect();
    let six = |(t, e): (&[u32; 3], &[u32; 3])| [t[0], t[1], t[2], corners + e[0], corners + e[1], corners + e[2]];
    let pull = |p: &[f64; 2]| [3e4 * p[0] / SIDES[0], 0.0, 0.0];
    let bend = |p: &[f64; 2]| [0.0, 0.0, 5e4 * (p[0] / SIDES[0]).powi(2)];
    let sampled = Sampled {
        cells: mesh.triangles.iter().zip(&mesh.triangle_edges).map(six).collect(),
        triangle_of: (0..mesh.triangles.len() as u32).collect(),
        modes: vec![points.iter().map(pull).collect(), points.iter().map(bend).collect()],
        tilts: vec![vec![[0.0; 2]; points.len()]; 2],
        points,
    };
    let cells = mesh.triangles.len();
    // The rectangle, and below its lower side a parabola under each of five chords of 20 µm, 1 µm deep.
    let area = SIDES[0] * SIDES[1] + 5.0 * 2.0 / 3.0 * 20.0;
    let grid = |point: Value, cell: Value, values: Value| {
        json!({ "cells": cells, "cell_type": 22, "points": sampled.points.len(), "area_um2": area,
                "point_arrays": point, "cell_arrays": cell, "point_values": values })
    };
    let at = |p: [f64; 2], array: &str, value: [f64; 3]| json!({ "at_um": p, "array": array, "value": value });
    let (first, second) = ("mode 01 14812.0 Hz", "mode 02 15634.4 Hz");
    let mut modes = grid(
        json!([first, second]),
        json!(["triangle", "mass", "flexure"]),
        json!([
            at([50.0, -1.0], first, [0.5, 0.0, 0.0]),
            at([20.0, 20.0], second, [0.0, 0.0, 0.04]),
            at([100.0, 40.0], second, [0.0, 0.0, 1.0])
        ]),
    );
    modes["cell_values"] = json!([{ "cell": 3, "array": "mass", "value": 0 }, { "cell": 2, "array": "mass", "value": -1 },
        { "cell": 7, "array": "flexure", "value": 4 }, { "cell": 19, "array": "triangle", "value": 19 }]);
    let mut plain = grid(json!([]), json!(["smallest angle deg", "mass", "flexure"]), json!([]));
    plain["cell_values"] = json!([{ "cell": 0, "array": "smallest angle deg", "value": 45.0 }]);
    let write = |name: &str, bytes: Vec<u8>, expected: &Value| -> Result<(), Box<dyn Error>> {
        std::fs::write(folder.join(name), bytes)?;
        Ok(std::fs::write(folder.join(name).with_extension("json"), serde_json::to_vec_pretty(expected)?)?)
    };
    write("modes.vtu", vtu::modes(&sampled, &mesh, &[14_812.04, 15_634.4], None)?, &modes)?;
    write("mesh.vtu", vtu::mesh(&mesh)?, &plain)?;
    for (frame, (name, bytes)) in vtu::series(&sampled, 0, 8, 2.0)?.into_iter().enumerate() {
        if name.ends_with(".pvd") {
            std::fs::write(folder.join(name), bytes)?;
            continue;
        }
        let largest = 2.0 * (std::f64::consts::TAU * frame as f64 / 8.0).cos();
        let array = "displacement um";
        let value = json!([at([50.0, -1.0], array, [0.5 * largest, 0.0, 0.0])]);
        write(&name, bytes, &grid(json!([array]), json!([]), value))?;
    }
    Ok(())
}
