//! The lumped model: springs against an independent frame of shear-rigid beams, mass against the layer's.

use modalith_mesher::geometry::{Point, Polygon};
use modalith_solver::lumped::{Body, Hold, Lumped, Pieces, Strip};
use modalith_solver::material::Law;
use modalith_validation::bench::Failure;
use modalith_validation::drawn::rect;
use modalith_validation::frame::{FrameBeam, condensed, torsion_series};
use nalgebra::DMatrix;

const E: f64 = 160e9;
const NU: f64 = 0.22;
/// Beams of the frame along one straight stretch.
const CUTS: usize = 3;

/// Nodes and beams along a polyline, µm; the numbers of its first and last node.
fn along(nodes: &mut Vec<[f64; 2]>, beams: &mut Vec<FrameBeam>, line: &[Point], w: f64, t: f64) -> [usize; 2] {
    let (width, height) = (w * 1e-6, t * 1e-6);
    let twist = E / (2.0 * (1.0 + NU)) * torsion_series(width, height);
    let first = nodes.len();
    nodes.push(line[0].map(|x| x * 1e-6));
    for p in line.windows(2) {
        for cut in 1..=CUTS {
            let share = cut as f64 / CUTS as f64;
            nodes.push([0, 1].map(|k| 1e-6 * (p[0][k] + share * (p[1][k] - p[0][k]))));
            let last = nodes.len() - 1;
            beams.push(FrameBeam { nodes: [last - 1, last], width, height, youngs: E, twist });
        }
    }
    [first, nodes.len() - 1]
}

fn strip(line: &[Point], width: f64, ends: [Hold; 2]) -> Strip {
    let length: f64 = line.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum();
    let widths_um = vec![[width; 2]; line.len() - 1];
    Strip { centre_line: line.to_vec(), widths_um, area_um2: length * width, ends }
}

/// Largest difference, each entry against the geometric mean of its diagonal entries.
fn apart(a: &DMatrix<f64>, b: &DMatrix<f64>) -> f64 {
    let n = a.nrows();
    let entry = |i: usize, j: usize| (a[(i, j)] - b[(i, j)]).abs() / (b[(i, i)] * b[(j, j)]).sqrt();
    (0..n).flat_map(|i| (0..n).map(move |j| (i, j))).map(|(i, j)| entry(i, j)).fold(0.0, f64::max)
}

/// Guided, crab-leg and serpentine: stiffness of both ends, 12 × 12, to 1e-8.
#[test]
fn springs_are_frames() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, E, NU)?;
    let turned = |[x, y]: Point| {
        let (s, c) = 23_f64.to_radians().sin_cos();
        [c * x - s * y + 40.0, s * x + c * y - 70.0]
    };
    let serpentine = [
        [0.0, 0.0],
        [10.0, 0.0],
        [10.0, 40.0],
        [22.0, 40.0],
        [22.0, -40.0],
        [34.0, -40.0],
        [34.0, 40.0],
        [46.0, 40.0],
        [46.0, 0.0],
        [56.0, 0.0],
    ];
    let cases: [(&str, &[Point], f64, f64); 4] = [
        ("guided", &[[0.0, 0.0], [200.0, 0.0]], 2.0, 2.0),
        ("guided, tall", &[[0.0, 0.0], [0.0, 300.0]], 3.0, 20.0),
        ("crab-leg", &[[0.0, 0.0], [150.0, 0.0], [150.0, 60.0]], 4.0, 15.0),
        ("serpentine", &serpentine, 2.0, 10.0),
    ];
    for (name, line, w, t) in cases {
        let line: Vec<Point> = line.iter().copied().map(turned).collect();
        let (mut nodes, mut beams) = (Vec::new(), Vec::new());
        let ends = along(&mut nodes, &mut beams, &line, w, t);
        let frame = condensed(&nodes, &beams, &ends, &[])?;
        let plate = Polygon::solid(rect([500.0, 0.0], [600.0, 80.0]));
        let pieces = Pieces {
            bodies: vec![Body::Moving(plate)],
            flexures: vec![strip(&line, w, [Hold::Ground, Hold::Body(0)])],
        };
        let lumped = Lumped::new(pieces, &law, t, true)?;
        let ours = DMatrix::from_fn(12, 12, |i, j| lumped.springs[0].stiffness[(i, j)]);
        let error = apart(&ours, &frame);
        println!("{name}: {error:.1e}");
        assert!(error < 1e-8, "{name}: {error:e}");
        // Far softer along some directions than the largest entries say: compare the flexibility too.
        let held = condensed(&nodes, &beams, &ends[1..], &ends[..1])?;
        let softness = held.try_inverse().ok_or("singular frame")?;
        let own = DMatrix::from_fn(6, 6, |i, j| lumped.springs[0].flexibility[(i, j)]);
        let error = apart(&own, &softness);
        println!("{name}, flexibility: {error:.1e}");
        assert!(error < 1e-8, "{name}: {error:e}");
    }
    Ok(())
}

/// The folded flexure of a resonator: the shuttle's stiffness with elastic beams on rigid trusses, to 1e-8. The frame's
/// beams are tied to the centres of shuttle and trusses by u + θ × r.
#[test]
fn folded_flexures_are_frames() -> Result<(), Failure> {
    let law = Law::isotropic(2330.0, E, NU)?;
    let (w, t, l) = (2.0, 2.0, 200.0);
    let mut pieces =
        Pieces { bodies: vec![Body::Moving(Polygon::solid(rect([-50.0, -20.0], [50.0, 20.0])))], flexures: Vec::new() };
    // Rigid bodies by constraint: unknowns of the bodies' centres, beams' ends carried to them.
    let mut whole = DMatrix::<f64>::zeros(18, 18);
    for (truss, side) in [(1, 1.0), (2, -1.0)] {
        let [a, b]: [f64; 2] = [200.0 * side, 210.0 * side];
        pieces.bodies.push(Body::Moving(Polygon::solid(rect([-30.0, a.min(b)], [30.0, a.max(b)]))));
        for (x, shuttle) in [(-30.0, true), (-10.0, false), (10.0, false), (30.0, true)] {
            let line = [[x, 0.0], [x, l * side]];
            let hold = if shuttle { Hold::Body(0) } else { Hold::Ground };
            pieces.flexures.push(strip(&line, w, [hold, Hold::Body(truss)]));
            let (mut nodes, mut beams) = (Vec::new(), Vec::new());
            let ends = along(&mut nodes, &mut beams, &line, w, t);
            let beam = condensed(&nodes, &beams, &ends, &[])?;
            let mut carry = DMatrix::<f64>::zeros(12, 18);
            let centres = [shuttle.then_some((0, [0.0, 0.0])), Some((truss, [0.0, 205e-6 * side]))];
            for (end, held) in centres.into_iter().enumerate() {
                let Some((body, centre)) = held else { continue };
                let [dx, dy] = [0, 1].map(|k| nodes[ends[end]][k] - centre[k]);
                for k in 0..6 {
                    carry[(6 * end + k, 6 * body + k)] = 1.0;
                }
                // u + θ × r.
                for (row, turn, arm) in [(0, 5, -dy), (1, 5, dx), (2, 3, dy), (2, 4, -dx)] {
                    carry[(6 * end + row, 6 * body + turn)] = arm;
                }
            }
            whole += carry.transpose() * beam * carry;
        }
    }
    let lumped = Lumped::new(pieces, &law, t, true)?;
    let error = apart(&lumped.k, &whole);
    println!("folded, whole stiffness: {error:.1e}");
    assert!(error < 1e-8, "{error:e}");
    let factor = whole.view((6, 6), (12, 12)).into_owned().cholesky().ok_or("loose trusses")?;
    let shuttle = whole.view((0, 0), (6, 6)) - whole.view((0, 6), (6, 12)) * factor.solve(&whole.view((6, 0), (12, 6)));
    let own = lumped.stiffness_at(0).ok_or("loose trusses")?;
    let error = apart(&DMatrix::from_fn(6, 6, |i, j| own[(i, j)]), &shuttle);
    println!("folded, at the shuttle: {error:.1e}, along x {} N/m", own[(0, 0)]);
    assert!(error < 1e-8, "{error:e}");
    let closed = 2.0 * E * t * 1e-6 * (w / l).powi(3);
    for k in [
        own[(0, 0)],
        shuttle[(0, 0)],
        lumped.formulas().iter().filter(|f| f.name.starts_with("folded")).map(|f| f.value).sum(),
    ] {
        assert!((k / closed - 1.0).abs() < 1e-8, "{k} against {closed} N/m");
    }
    Ok(())
}
