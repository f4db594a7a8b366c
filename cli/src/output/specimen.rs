//! Known devices and shapes for the tests of this folder, and a check that text is well-formed XML. All invented.

use super::findings::{Findings, Input, Timings};
use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{NamedArea, Polygon};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::sizing::MeshSize;
use modalith_mesher::triangulate::triangulate;
use modalith_solver::completed::CompletedSearch;
use modalith_solver::material::Law;
use modalith_solver::modal::{Wanted, modes};
use modalith_solver::mode::label::Words;
use modalith_solver::mode::{MassMotion, Mode, Sampled};
use modalith_solver::model::{ModeExtra, Used};
use modalith_solver::process::FirstOrder;
use modalith_solver::sensor::Intended;
use modalith_solver::system::{Layer, Mirrored, Structure, Supports};

/// A plate of 100 × 40 µm, held on the left, its left half a named mass: the mesh, and two shapes on its six-node triangles: `u = 1 + 0.01 x` along x; `w = sin(π x / 100)` along z.
pub fn plate() -> (Mesh, Sampled) {
    let mut mesh = Mesh::rectangle(100.0, 40.0, 4, 2).unwrap();
    mesh.hold(|p| p[0] < 1e-9);
    mesh.mass_names = vec!["left".to_owned()];
    for t in 0..mesh.triangles.len() {
        let g = mesh.geometry(t);
        let middle = (g[0][0] + g[1][0] + g[2][0]) / 3.0;
        mesh.mass_of[t] = (middle < 50.0).then_some(0);
    }
    let (points, cells) = six_nodes(&mesh);
    let sampled = Sampled {
        cells,
        triangle_of: (0..mesh.triangles.len() as u32).collect(),
        modes: vec![
            points.iter().map(|p| [1.0 + 0.01 * p[0], 0.0, 0.0]).collect(),
            points.iter().map(|p| [0.0, 0.0, (std::f64::consts::PI * p[0] / 100.0).sin()]).collect(),
        ],
        tilts: vec![vec![[0.0; 2]; points.len()]; 2],
        points,
    };
    (mesh, sampled)
}

/// Two masses on beams between two anchors, 420 × 120 µm, mirrored about
/// y, and three shapes: apart along x, a rocking about y, a turn of both masses in the plane.
// One list of coordinates.
pub fn sensor() -> (Outline, Mesh, Sampled, Vec<Mode>) {
    let rect = |x: [f64; 2], y: [f64; 2]| Polygon::solid(vec![[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]]);
    let (mut structure, mut holes, mut anchors) = (Vec::new(), Vec::new(), Vec::new());
    for side in [-1.0, 1.0] {
        let across = |a: f64, b: f64| if side > 0.0 { [a, b] } else { [-b, -a] };
        structure.push(rect(across(30.0, 150.0), [-60.0, 60.0]));
        structure.extend([[-50.0, -46.0], [46.0, 50.0]].map(|y| rect(across(149.0, 211.0), y)));
        anchors.push(rect(across(210.0, 240.0), [-60.0, 60.0]));
        for k in 0..9 {
            let (x, y) = (50.0 + 35.0 * f64::from(k % 3), -35.0 + 32.0 * f64::from(k / 3));
            holes.push(rect(across(x, x + 8.0), [y, y + 8.0]));
        }
    }
    structure.push(rect([-31.0, 31.0], [-3.0, 3.0]));
    let area = |name: &str, x: [f64; 2]| NamedArea { name: name.to_owned(), polygons: vec![rect(x, [-60.0, 60.0])] };
    let drawing = Drawing {
        film: Film::Drawn { structure, holes },
        anchoring: Anchoring::Drawn(anchors),
        masses: vec![area("left <&> proof", [-150.0, -30.0]), area("right", [30.0, 150.0])],
        electrodes: Vec::new(),
    };
    let outline = Outline::build(&drawing, &Etch::default()).unwrap();
    let mesh = triangulate(&outline, &MeshSize::default()).unwrap();
    let give = |x: f64| ((210.0 - x.abs()) / 60.0).clamp(0.0, 1.0);
    let (points, cells) = six_nodes(&mesh);
    let shape = |f: &dyn Fn(f64, f64) -> [f64; 3]| {
        points.iter().map(|p| f(p[0], p[1]).map(|u| u * give(p[0]) * 1e4)).collect::<Vec<[f64; 3]>>()
    };
    let sampled = Sampled {
        modes: vec![
            shape(&|x, _| [(x / 30.0).clamp(-1.0, 1.0), 0.0, 0.0]),
            shape(&|x, _| [0.0, 0.0, -x / 150.0]),
            shape(&|x, y| [-y / 60.0, (x - 90.0 * x.signum()) / 60.0, 0.0].map(|u| u * x.signum())),
        ],
        tilts: vec![vec![[0.0; 2]; points.len()]; 3],
        triangle_of: (0..cells.len() as u32).collect(),
        points,
        cells,
    };
    let part = |name: &str, x: f64, translation: [f64; 3], turn: [f64; 3]| MassMotion {
        name: name.to_owned(),
        mass_kg: 6e-10,
        centre_um: [x, 0.0],
        inertia_kg_m2: [0, 1, 2].map(|i| [0, 1, 2].map(|j| if i == j { 6e-10 * 50e-6 * 50e-6 } else { 0.0 })),
        translation: translation.map(|u| u * 1e4),
        turn: turn.map(|t| t * 1e4 / 1e-6),
        motion_share: std::array::from_fn(|i| {
            // Weights by a radius of 50 µm; each specimen has one motion that leads.
            let size = |i: usize| if i < 3 { translation[i] } else { 50.0 * turn[i - 3] };
            size(i).powi(2) / (0..6).map(|i| size(i).powi(2)).sum::<f64>()
        }),
        kinetic_share: 0.5,
        rigid_share: 1.0,
    };
    let motions =
        [([1.0, 0.0, 0.0], [0.0; 3]), ([0.0, 0.0, -0.6], [0.0, 1.0 / 150.0, 0.0]), ([0.0; 3], [0.0, 0.0, 1.0 / 60.0])];
    let modes = motions.iter().zip([14812.04, 15634.4, 29655.0]).map(|((shift, turn), frequency_hz)| Mode {
        frequency_hz,
        backward_error: 1e-15,
        kinetic_share: [shift[0] * shift[0], 0.0, 1.0 - shift[0] * shift[0]],
        participation: [0.0, 0.0, 1e-5, 0.0, 0.0, 0.0],
        masses: vec![
            part("left <&> proof", -90.0, shift.map(|u| -u), turn.map(|t| -t)),
            part("right", 90.0, *shift, *turn),
        ],
        flexure_strain_share: vec![1.0 / outline.flexures.len() as f64; outline.flexures.len()],
        mass_strain_share: vec![0.0; 2],
        ..Mode::default()
    });
    let modes = modes.collect();
    (outline, mesh, sampled, modes)
}

/// What a run would find out about [`sensor`].
pub fn findings() -> Findings {
    Findings {
        device: "Two masses <script>alert(1)</script> & beams (invented)".to_owned(),
        model: "shell".to_owned(),
        full_law: false,
        model_reason: "parts wider than thick".to_owned(),
        thickness_um: 20.0,
        material: "silicon, (100) wafer, x along <110>".to_owned(),
        moving_mass_kg: 1.3e-9,
        degrees_of_freedom: 12345,
        input_sha256: "ab".repeat(32),
        inputs: vec![Input { file: "device \"a\".json".to_owned(), sha256: "cd".repeat(32) }],
        search: search().with_error_bars(&[14812.04, 15634.4, 29655.0], &[2.6, 1.0, 2.0]),
        words: ["antiphase x", "rocking <y>", "turn"]
            .map(|label| Words { label: label.to_owned(), masses: Vec::new(), sign: 1.0, turned: false })
            .to_vec(),
        extras: vec![
            ModeExtra {
                mesh_error_hz: Some(2.6),
                first_order: Some(first_order()),
                mirrored: vec![Mirrored { across_y: false, odd: true }, Mirrored { across_y: true, odd: false }],
            },
            ModeExtra::default(),
        ],
        split: None,
        intended: vec![
            Intended { rate_axis: None, mac: vec![0.998, 0.0, 0.02], mode: Some(0) },
            Intended { rate_axis: Some(1), mac: vec![0.0, 0.991, 0.0], mode: Some(1) },
        ],
        rotation: None,
        cautions: vec!["flexure 2 is taller than wide".to_owned()],
        electrodes: Vec::new(),
        used: vec![Used::replacement("flexure 1 as a <beam>")],
        pull_in: None,
        film: None,
        left_out: vec!["anchor give".to_owned(), "package stress".to_owned()],
        timings: Timings::default(),
        threads: 2,
        peak_memory_bytes: None,
        predicted_memory_bytes: 0,
        version: "0.1.0".to_owned(),
    }
}

/// A search that was really completed, since no other can be had: the three modes of a strip below 40 kHz.
pub fn search() -> CompletedSearch {
    let mut strip = Mesh::rectangle(1000.0, 10.0, 8, 1).unwrap();
    strip.hold(|middle| middle[0] == 0.0);
    let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.0).unwrap(), 2.0);
    let wanted = Wanted::UpTo { hz: 40_000.0, most: None };
    let supports = Supports::anchors(&strip);
    modes(&Structure::new(strip.clone(), layer.clone(), supports.clone()), wanted, &|_| {}).unwrap().search
}

/// Shifts of the first mode of [`findings`].
pub fn first_order() -> FirstOrder {
    FirstOrder {
        hz_per_nm_edge_bias: 10.9,
        hz_per_um_thickness: -4.0,
        hz_per_percent: vec![("youngs_modulus", 74.06), ("poissons_ratio", 0.1), ("density", -74.06)],
    }
}

/// Points and six-node cells of a mesh: corners, then the middles of edges.
fn six_nodes(mesh: &Mesh) -> (Vec<[f64; 2]>, Vec<[u32; 6]>) {
    let corners = mesh.points.len() as u32;
    let points = mesh.points.iter().copied().chain(mesh.edges.iter().map(|e| e.middle)).collect();
    let six = |(t, e): (&[u32; 3], &[u32; 3])| [t[0], t[1], t[2], corners + e[0], corners + e[1], corners + e[2]];
    (points, mesh.triangles.iter().zip(&mesh.triangle_edges).map(six).collect())
}

/// Fails where a text is no well-formed XML.
pub fn assert_well_formed(text: &str) {
    let mut open: Vec<String> = Vec::new();
    let mut rest = text;
    while let Some(start) = rest.find('<') {
        assert_entities(&rest[..start]);
        let end = start + rest[start..].find('>').unwrap();
        let tag = &rest[start + 1..end];
        assert!(!tag.contains('<') && tag.matches('"').count().is_multiple_of(2), "{tag}");
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(name));
        } else if !tag.ends_with('/') && !tag.starts_with(['!', '?']) {
            open.push(tag.split_whitespace().next().unwrap().to_owned());
        }
        rest = &rest[end + 1..];
    }
    assert_entities(rest);
    assert!(open.is_empty(), "{open:?}");
}

fn assert_entities(text: &str) {
    for after in text.split('&').skip(1) {
        assert!(["amp;", "lt;", "gt;", "quot;", "#39;"].iter().any(|e| after.starts_with(e)), "&{after:.20}");
    }
}
