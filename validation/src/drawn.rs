//! Drawings, µm, and the mesh that the default wishes give of them.

use crate::bench::Failure;
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{Point, Polygon, Ring};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::triangulate::{MeshSize, triangulate};

/// The mesh that a user gets who asks for nothing.
///
/// # Errors
/// Whatever outline and mesher find wrong with the drawing.
pub fn default_mesh(structure: Vec<Polygon>, anchoring: Anchoring) -> Result<Mesh, Failure> {
    let film = Film::Drawn { structure, holes: vec![] };
    let drawing = Drawing { film, anchoring, masses: vec![], electrodes: vec![] };
    Ok(triangulate(&Outline::build(&drawing, &Etch::default())?, &MeshSize::default())?)
}

/// A rectangle by its lower left and upper right corner.
pub fn rect(from: Point, to: Point) -> Ring {
    vec![from, [to[0], from[1]], to, [from[0], to[1]]]
}

/// Rings without openings as polygons.
pub fn polygons(rings: &[Ring]) -> Vec<Polygon> {
    rings.iter().map(|outer| Polygon { outer: outer.clone(), holes: vec![] }).collect()
}

/// An invented device, structure and anchors: a mass on two flexures 8 µm wide, one straight and one cranked; no mirror
/// axis. In one piece per part, or cut otherwise.
pub fn device(cut: bool) -> (Vec<Ring>, Vec<Ring>) {
    let anchors = vec![rect([-60.0, 20.0], [-40.0, 60.0]), rect([200.0, 120.0], [240.0, 140.0])];
    let structure = if cut {
        vec![
            rect([-40.0, 36.0], [0.0, 44.0]),
            rect([-5.0, 36.0], [60.0, 44.0]),
            rect([60.0, 0.0], [110.0, 80.0]),
            rect([100.0, 0.0], [160.0, 80.0]),
            rect([160.0, 60.0], [224.0, 68.0]),
            rect([216.0, 60.0], [224.0, 120.0]),
        ]
    } else {
        vec![
            rect([-40.0, 36.0], [60.0, 44.0]),
            rect([60.0, 0.0], [160.0, 80.0]),
            vec![[160.0, 60.0], [224.0, 60.0], [224.0, 120.0], [216.0, 120.0], [216.0, 68.0], [160.0, 68.0]],
        ]
    };
    (structure, anchors)
}
