//! An edge bias on the flagship, invented: flexures keep their numbers, and beams on shells follow it on one mesh, so that the
//! differences of two biases are physics. Frequencies are analytic in the bias: over ±30 nm a parabola holds to 1e-6 (the third
//! order of a flexure's (w + 2b)³, b/w = 0.0075, is 4e-7 of its stiffness; derived here).

use modalith_mesher::outline::Outline;
use modalith_mesher::triangulate::MeshSize;
use modalith_solver::beam_shell::{BeamShell, Cells, Wishes};
use modalith_solver::material::Law;
use modalith_solver::modal::{Wanted, modes};

use modalith_validation::bars::outlined;
use modalith_validation::bench::Failure;
use nalgebra::{DMatrix, DVector};

const BIASES_UM: [f64; 9] = [-0.03, -0.023, -0.014, -0.01, 0.0, 0.0069, 0.01, 0.0213, 0.03];
/// Openings that the model takes for release holes, µm.
const HOLES_UM: Option<f64> = Some(20.0);

fn biased(edge_bias_um: f64) -> Result<(Outline, Law, f64), Failure> {
    let (mut device, _) = outlined("platform")?;
    device.edge_bias_um = edge_bias_um;
    let (drawing, _) = device.drawing().map_err(|e| format!("{e:?}"))?;
    let outline = device.outline(&drawing).map_err(|e| format!("{e:?}"))?;
    Ok((outline, device.law, device.thickness_um))
}

#[test]
fn a_bias_keeps_the_numbers_of_flexures() {
    let (drawn, ..) = biased(0.0).unwrap();
    for bias in BIASES_UM {
        let (outline, ..) = biased(bias).unwrap();
        assert_eq!(outline.flexures.len(), drawn.flexures.len());
        for (a, b) in drawn.flexures.iter().zip(&outline.flexures) {
            let (a, b) = (a.centre_line[0], b.centre_line[0]);
            assert!((a[0] - b[0]).hypot(a[1] - b[1]) <= 2.0 * bias.abs() + 1e-3, "{bias}: {a:?} {b:?}");
        }
    }
}

#[test]
fn beams_on_shells_follow_a_bias_on_one_mesh() {
    let (drawn, law, thickness_um) = biased(0.0).unwrap();
    let size = MeshSize::default();
    let made = |outline: &Outline, mesh| {
        let wishes = Wishes { holes_below_um: HOLES_UM, mesh, ..Wishes::new(&size, Cells::None) };
        BeamShell::new(outline, &law, thickness_um, wishes)
    };
    let first = made(&drawn, None).unwrap();
    let lowest = |bias: f64| -> Vec<f64> {
        let (outline, ..) = biased(bias).unwrap();
        let mesh = first.mesh_moved_to(&outline, HOLES_UM, bias, 4.0);
        assert_eq!(mesh.is_some(), bias != 0.0, "{bias}");
        let model = made(&outline, mesh).unwrap();
        let found = modes(&model.structure, Wanted::Lowest(8), &|_| {});
        found.unwrap().modes.iter().map(|m| m.frequency_hz).collect()
    };
    let all: Vec<Vec<f64>> = BIASES_UM.iter().map(|&b| lowest(b)).collect();
    let powers = DMatrix::from_fn(BIASES_UM.len(), 3, |i, k| (BIASES_UM[i] / 0.03).powi(k as i32));
    let fit = powers.clone().svd(true, true);
    for (mode, drawn_hz) in all[4].iter().enumerate() {
        let hz = DVector::from_fn(BIASES_UM.len(), |i, _| all[i][mode]);
        let parabola = &powers * fit.solve(&hz, 1e-14).unwrap();
        let off = (&hz - &parabola).amax() / drawn_hz;
        println!("mode {}: {off:.1e} off a parabola", mode + 1);
        assert!(off < 1e-6, "mode {}: {off:e}", mode + 1);
    }
}
