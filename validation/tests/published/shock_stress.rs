//! Nominal stress of guided flexures under a slow half-sine: statics by hand. A plate on four straight flexures, invented: each
//! carries a quarter of the plate and, at the plate's end, half of itself (a uniform load q on a fixed and guided beam bends as
//! the end load q L/2); the end moment F L/2 is 6 M/(t w²) at the edge fibre (any textbook of strength of materials).

use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::lumped::{Lumped, Pieces};
use modalith_solver::material::Law;
use modalith_solver::modal::{Wanted, modes};
use modalith_solver::rate::GRAVITY_M_S2;
use modalith_solver::rate::shock::HalfSine;
use modalith_solver::rate::stress::{Driven, FibreStresses};
use modalith_solver::system::{Layer, Structure};
use modalith_validation::bench::Failure;
use modalith_validation::drawn::{polygons, rect};

#[test]
fn guided_flexures_under_a_slow_shock() -> Result<(), Failure> {
    let (width, length, thickness, density) = (4.0, 150.0, 10.0, 2330.0);
    let (x, y) = (200.0, 100.0);
    let mut structure = vec![rect([-x, -y], [x, y])];
    let mut anchors = vec![];
    for left in [-120.0, 120.0 - width] {
        structure.push(rect([left, y], [left + width, y + length]));
        structure.push(rect([left, -y - length], [left + width, -y]));
        anchors.push(rect([left - 20.0, y + length], [left + width + 20.0, y + length + 20.0]));
        anchors.push(rect([left - 20.0, -y - length - 20.0], [left + width + 20.0, -y - length]));
    }
    let drawing = Drawing {
        film: Film::Drawn { structure: polygons(&structure), holes: vec![] },
        anchoring: Anchoring::Drawn(polygons(&anchors)),
        masses: vec![],
        electrodes: vec![],
    };
    let outline = Outline::build(&drawing, &Etch::default())?;
    let mesh = triangulate(&outline, &MeshSize::default())?;
    let law = Law::isotropic(density, 160e9, 0.22)?;
    let layer = Layer::shell(&law, thickness);
    let modal = modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(20), &|_| {})?;
    let springs = Lumped::new(Pieces::of(&outline)?, &law, thickness, true)?.springs;
    let pulse = HalfSine { peak_g: 2000.0, duration_s: 0.02 };
    let driven: Vec<Driven> = (0..modal.modes.len())
        .map(|mode| Driven {
            mode,
            omega: modal.modes[mode].omega(),
            participation: modal.modes[mode].participation[0],
        })
        .collect();
    let sampled = modal.sample_coarse();
    let found = FibreStresses::new(&sampled, &outline.flexures, &springs).under(&pulse, &driven, None);
    assert_eq!(found.len(), 4);
    let kilograms = |area_um2: f64| density * thickness * 1e-6 * area_um2 * 1e-12;
    let force = (kilograms(4.0 * x * y) / 4.0 + kilograms(width * length) / 2.0) * 2000.0 * GRAVITY_M_S2;
    let exact = 6.0 * (0.5 * force * length * 1e-6) / (thickness * 1e-6 * (width * 1e-6_f64).powi(2));
    for flexure in &found {
        println!("flexure {}: {:.2} MPa, by hand {:.2}", flexure.flexure + 1, flexure.peak_pa * 1e-6, exact * 1e-6);
        assert!((flexure.peak_pa / exact - 1.0).abs() < 0.03, "{flexure:?} against {exact:e}");
        assert!((flexure.at_um[1].abs() - y).abs() < 1.0 || (flexure.at_um[1].abs() - y - length).abs() < 1.0);
    }
    Ok(())
}
