//! Modes of a clamped strip, by the library alone: in a crate that is no member of the workspace.

use modalith_mesher::mesh::Mesh;
use modalith_solver::material::Law;
use modalith_solver::modal::{Wanted, modes};
use modalith_solver::system::{Layer, Structure};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut strip = Mesh::rectangle(200.0, 10.0, 16, 1)?;
    strip.hold(|middle| middle[0] == 0.0);
    let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.22)?, 2.0);
    let found = modes(&Structure::anchored(strip, layer), Wanted::Lowest(3), &|_| {})?;
    for mode in &found.modes {
        println!("{:.1} Hz", mode.frequency_hz);
    }
    Ok(())
}
