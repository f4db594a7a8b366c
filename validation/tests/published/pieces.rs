//! Demo devices, invented, solved in the pieces that their mirrors leave and in one: the same modes, on meshes with curved walls
//! and in solids with fields by region. Which way is right is checked elsewhere; here both must agree to rounding.

use modalith_mesher::mesh::Mesh;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::system::{Fold, Layer, Structure};
use modalith_validation::bars::outlined;

/// What equal accuracy means for two solvers of one pencil: rounding leaves ε ‖K‖ ‖φ‖² of ω², a few 1e-9 in solids.
const EQUAL: f64 = 1e-8;

#[test]
fn demos_in_pieces_and_in_one() {
    let solid: fn(&modalith_solver::material::Law, f64, &Mesh) -> Layer = Layer::solid_by_region;
    let shell: fn(&modalith_solver::material::Law, f64, &Mesh) -> Layer = |law, t, _| Layer::shell(law, t);
    for (name, layer) in [("gimbal", solid), ("diaphragm", shell), ("ring", shell)] {
        let (device, outline) = outlined(name).unwrap();
        let mesh = triangulate(&outline, &MeshSize { corner_ratio: 1.0, ..MeshSize::default() }).unwrap();
        let layer = layer(&device.law, device.thickness_um, &mesh);
        let fold = Fold::along(&Structure::anchored(mesh.clone(), layer.clone()));
        assert_eq!(fold.map(|f| f.pieces()), Some(4), "{name}");
        let one = |mesh: &Mesh| -> Modal {
            modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(12), &|_| {}).unwrap()
        };
        let (split, whole) = (one(&mesh), one(&Mesh { mirrors: Vec::new(), ..mesh.clone() }));
        assert_eq!(split.modes.len(), whole.modes.len(), "{name}");
        for (a, b) in split.modes.iter().zip(&whole.modes) {
            let off = (a.frequency_hz / b.frequency_hz - 1.0).abs();
            assert!(off < EQUAL, "{name}: {} {} {off:e}", a.frequency_hz, b.frequency_hz);
        }
    }
}
