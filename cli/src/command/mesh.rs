//! `modalith mesh`: the mesh alone, with how good it is.

use super::fault;
use super::folder::Folder;
use super::opened::Opened;
use super::solved::model_input;
use crate::args::MeshArgs;
use crate::device::Device;
use crate::exit::{CommandError, say, say_json};
use crate::output::lines::Lines;
use crate::output::screen::Screen;
use crate::output::units::grouped;
use modalith_mesher::quality::Quality;
use modalith_solver::model::{Model, SolveContext};
use serde_json::{Value, json};

/// Runs the command.
///
/// # Errors
/// For wrong input, and when the mesh cannot be written.
pub fn run(args: &MeshArgs) -> Result<(), CommandError> {
    let Opened { device, drawing, outline, loads, mut progress } = Opened::new(&args.device, &args.out, &args.common)?;
    let input = model_input(&device, &drawing, &outline, &loads)?;
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
        let mut screen = table(&device, &quality, mesh.mirrors.len(), Screen::of_stdout(args.common.wide));
        screen.told("Wrote", &files.join("  "));
        say(&screen.finish())
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
        "triangles_in_fingers": q.long[0],
        "long_triangles_in_flexures": q.long[1],
        "smallest_angle_of_long_triangles_deg": q.smallest_angle_of_long_deg,
        "smallest_jacobian": q.smallest_jacobian,
        "worst_triangle": q.worst_triangle,
        "worst_at_um": q.worst_at,
        "angle_histogram_5_deg": q.angle_histogram,
    })
}

/// How good the mesh is, in lines.
fn table(device: &Device, q: &Quality, mirrors: usize, screen: Screen) -> Lines {
    let n = |count: usize| grouped(count as f64, 0, ' ');
    let at = |p: [f64; 2]| format!("({:.3}, {:.3}) µm", p[0], p[1]);
    let [triangles, corners, edges] = [q.triangles, q.points, q.edges].map(n);
    let [held, free, borders] = [q.held_edges, q.free_edges, q.interface_edges].map(n);
    let long = q.smallest_angle_of_long_deg.map_or_else(String::new, |angle| {
        let [fingers, flexures] = q.long.map(n);
        format!(
            "; {angle:.2}° in triangles long on purpose, {fingers} of plain fingers and {flexures} of straight flexures"
        )
    });
    let mut t = Lines::new(screen);
    t.sentence(&device.name);
    for (lead, text) in [
        (
            "Mesh",
            format!(
                "{triangles} triangles, {corners} corners, {edges} edges ({held} held, {free} free, {borders} on borders of masses)"
            ),
        ),
        (
            "Size",
            format!(
                "{:.1} µm² in all, edges from {:.4} to {:.3} µm",
                q.area_um2, q.smallest_edge_um, q.largest_edge_um
            ),
        ),
        ("Angles", format!("smallest {:.2}° at {}{long}", q.smallest_angle_deg, at(q.smallest_angle_at))),
        (
            "Worst",
            format!(
                "triangle {} at {}; smallest Jacobian {:.3} of the mean",
                q.worst_triangle,
                at(q.worst_at),
                q.smallest_jacobian
            ),
        ),
        ("Mirrors", format!("{mirrors} exact mirror axes")),
    ] {
        t.told(lead, &text);
    }
    t
}
