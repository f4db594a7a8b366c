//! `modalith mesh`: the mesh alone, with how good it is.

use super::fault;
use super::folder::Folder;
use super::opened::Opened;
use super::solved::model_input;
use crate::args::MeshArgs;
use crate::device::Device;
use crate::exit::{CommandError, say, say_json};
use crate::output::units::grouped;
use modalith_mesher::quality::Quality;
use modalith_solver::model::{Model, SolveContext};
use serde_json::{Value, json};

/// Runs the command.
///
/// # Errors
/// For wrong input, and when the mesh cannot be written.
pub fn run(args: &MeshArgs) -> Result<(), CommandError> {
    let Opened { device, drawing, outline, electrodes, mut progress } =
        Opened::new(&args.device, &args.out, &args.common)?;
    let input = model_input(&device, &drawing, &outline, &electrodes)?;
    let mesh = progress.stage("mesh", || SolveContext::of(Model::Shell, &input));
    let mesh = mesh.map_err(|e| fault::of_model(&device, &e))?.mesh;
    let quality = Quality::of(&mesh);
    let mut out = Folder::open(&args.out)?;
    out.write("mesh.vtu", &crate::output::vtu::mesh(&mesh)?)?;
    let files = out.finish()?;
    if args.common.json {
        say_json(&format!("{:#}\n", document(&device, &quality)))
    } else if args.common.quiet {
        Ok(())
    } else {
        say(&table(&device, &quality, mesh.mirrors.len(), &files.join("  ")))
    }
}

fn document(device: &Device, q: &Quality) -> Value {
    json!({
        "format": "modalith.mesh/1",
        "device": device.name,
        "input_sha256": device.input_sha256,
        "points": q.points,
        "triangles": q.triangles,
        "edges": q.edges,
        "held_edges": q.held_edges,
        "free_edges": q.free_edges,
        "interface_edges": q.interface_edges,
        "area_um2": q.area_um2,
        "smallest_edge_um": q.smallest_edge_um,
        "largest_edge_um": q.largest_edge_um,
        "smallest_angle_deg": q.smallest_angle_deg,
        "smallest_angle_at_um": q.smallest_angle_at,
        "triangles_in_fingers": q.in_fingers,
        "smallest_angle_in_fingers_deg": q.smallest_angle_in_fingers_deg,
        "smallest_jacobian": q.smallest_jacobian,
        "worst_triangle": q.worst_triangle,
        "worst_at_um": q.worst_at,
        "angle_histogram_5_deg": q.angle_histogram,
    })
}

fn table(device: &Device, q: &Quality, mirrors: usize, files: &str) -> String {
    let n = |count: usize| grouped(count as f64, 0, ' ');
    let in_fingers = q.smallest_angle_in_fingers_deg.map_or_else(String::new, |angle| {
        format!("; {angle:.2}° in the {} long triangles of plain fingers", n(q.in_fingers))
    });
    format!(
        "{}\n\
         Mesh     {} triangles, {} corners, {} edges ({} held, {} free, {} on borders of masses)\n\
         Size     {:.1} µm² in all, edges from {:.4} to {:.3} µm\n\
         Angles   smallest {:.2}° at ({:.3}, {:.3}) µm{in_fingers}\n\
         Worst    triangle {} at ({:.3}, {:.3}) µm; smallest Jacobian {:.3} of the mean\n\
         Mirrors  {} exact mirror axes\n\
         Wrote    {files}\n",
        device.name,
        n(q.triangles),
        n(q.points),
        n(q.edges),
        n(q.held_edges),
        n(q.free_edges),
        n(q.interface_edges),
        q.area_um2,
        q.smallest_edge_um,
        q.largest_edge_um,
        q.smallest_angle_deg,
        q.smallest_angle_at[0],
        q.smallest_angle_at[1],
        q.worst_triangle,
        q.worst_at[0],
        q.worst_at[1],
        q.smallest_jacobian,
        mirrors,
    )
}
