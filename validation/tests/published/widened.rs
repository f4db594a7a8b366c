//! One flexure 20 nm wider than drawn: what it does to split and quadrature to first order, and to balance by the eigenproblem
//! between the modes drawn, against a full solve of the part with that flexure on a moved mesh. The layout is invented: a plate on
//! four cranked legs, driven along x, sensed along y, its own image about both axes.

use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{NamedArea, Ring};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::{MeshMotion, Wall};
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::material::Law;
use modalith_solver::modal::{Modal, Wanted, modes};
use modalith_solver::mode::Mode;
use modalith_solver::process::flexure_terms;
use modalith_solver::rate::Oscillator;
use modalith_solver::rate::answer::WorkingPair;
use modalith_solver::rate::as_made::made as eigen;
use modalith_solver::rate::errors::{coupling_from_readings, quadrature};
use modalith_solver::rotation::coriolis;
use modalith_solver::system::{Layer, Structure};
use modalith_validation::bench::Failure;
use modalith_validation::drawn::{polygons, rect};

/// Modes kept: what the drive takes up of the others converges with them.
const COUNT: usize = 40;
const WIDER_UM: f64 = 0.02;
const BOUND: f64 = 0.03;

fn device() -> Result<Outline, Failure> {
    let plate = rect([-60.0, -50.0], [60.0, 50.0]);
    let (mut structure, mut anchors): (Vec<Ring>, Vec<Ring>) = (vec![plate.clone()], vec![]);
    for (sx, sy) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
        let turned = |a: [f64; 2], b: [f64; 2]| {
            let (p, q) = ([sx * a[0], sy * a[1]], [sx * b[0], sy * b[1]]);
            rect([p[0].min(q[0]), p[1].min(q[1])], [p[0].max(q[0]), p[1].max(q[1])])
        };
        structure.push(turned([60.0, 40.0], [134.0, 44.0]));
        structure.push(turned([130.0, 44.0], [134.0, 140.0]));
        anchors.push(turned([110.0, 140.0], [150.0, 160.0]));
    }
    let drawing = Drawing {
        film: Film::Drawn { structure: polygons(&structure), holes: vec![] },
        anchoring: Anchoring::Drawn(polygons(&anchors)),
        masses: vec![NamedArea { name: "plate".into(), polygons: polygons(&[plate]) }],
        electrodes: vec![],
    };
    Ok(Outline::build(&drawing, &Etch::default())?)
}

/// A part solved, its drive and sense signed along +x and +y.
struct Solved {
    modal: Modal,
    drive: usize,
    sense: usize,
    pair: WorkingPair,
}

impl Solved {
    fn new(mesh: &Mesh, layer: &Layer) -> Result<Self, Failure> {
        let modal = modes(&Structure::anchored(mesh.clone(), layer.clone()), Wanted::Lowest(COUNT), &|_| {})?;
        let along = |k: usize| {
            let size = |i: &usize| modal.modes[*i].participation[k].abs();
            (0..COUNT).max_by(|a, b| size(a).total_cmp(&size(b))).unwrap_or(0)
        };
        let (drive, sense) = (along(0), along(1));
        let at = |i: usize| Oscillator { omega: modal.modes[i].omega(), quality: None };
        let gyroscopic = coriolis(&modal, &[drive, sense])?.about(2)[(0, 1)];
        let pair = WorkingPair { drive: at(drive), sense: at(sense), gyroscopic, amplitude: None };
        Ok(Self { modal, drive, sense, pair })
    }

    fn mode(&self, i: usize) -> &Mode {
        &self.modal.modes[i]
    }

    /// Participation of the drive along y, signed as if it moved the part along +x.
    fn unbalance(&self) -> f64 {
        let p = self.mode(self.drive).participation;
        p[1] * p[0].signum()
    }

    /// Quadrature as the plate's motion along y shows it, with the drive signed along +x and the sense along +y.
    fn quadrature(&self) -> f64 {
        let sign = |i: usize, k: usize| self.mode(i).participation[k].signum();
        let y = |i: usize, k: usize| self.mode(i).masses[0].translation[1] * sign(i, k);
        let pair =
            WorkingPair { gyroscopic: self.pair.gyroscopic * sign(self.drive, 0) * sign(self.sense, 1), ..self.pair };
        quadrature(&pair, coupling_from_readings(&pair, y(self.drive, 0), y(self.sense, 1)))
    }
}

#[test]
fn one_flexure_wider_by_20_nm() -> Result<(), Failure> {
    let outline = device()?;
    let mesh = triangulate(&outline, &MeshSize::default())?;
    let layer = Layer::shell(&Law::isotropic(2330.0, 160e9, 0.22)?, 10.0);
    let drawn = Solved::new(&mesh, &layer)?;
    let upper_right = |i: &usize| {
        let line = &outline.flexures[*i].centre_line;
        line.iter().all(|p| p[0] > 0.0 && p[1] > 0.0)
    };
    let number = (0..outline.flexures.len()).find(upper_right).ok_or("no flexure in the upper right")?;
    let flexure = &outline.flexures[number];
    let reach = 4.0;
    let all: Vec<usize> = (0..COUNT).collect();
    let terms = flexure_terms(&drawn.modal, &outline.flexures, reach, &all)?;
    let forms = terms[number].widened();
    let mut wider = mesh.clone();
    for wall in [Wall::Left, Wall::Right] {
        wider = MeshMotion::of_wall(&mesh, number, flexure, wall, reach).moved(&wider, 0.5 * WIDER_UM);
    }
    let made = Solved::new(&wider, &layer)?;
    let (d, s) = (drawn.drive, drawn.sense);
    assert_eq!((d, s), (made.drive, made.sense));
    let hz = |i: usize| WIDER_UM * forms.hz(i, drawn.mode(i).frequency_hz);
    let signs = drawn.mode(d).participation[0].signum() * drawn.mode(s).participation[1].signum();
    let coupling = WIDER_UM * forms.at(d, s, drawn.pair.drive.omega.powi(2)) * signs;
    let pair = WorkingPair { gyroscopic: drawn.pair.gyroscopic * signs, ..drawn.pair };
    let mut change = forms.clone();
    change *= WIDER_UM;
    let whole = eigen(&drawn.modal.modes, None, &change).ok_or("no modes made")?;
    let moved = whole.modes[d].participation[1] - drawn.mode(d).participation[1];
    let rows = [
        ("split, Hz", hz(s) - hz(d), made.pair.mode_split_hz() - drawn.pair.mode_split_hz()),
        ("quadrature, rad/s", quadrature(&pair, coupling), made.quadrature() - drawn.quadrature()),
        ("unbalance, kg^1/2", moved * drawn.mode(d).participation[0].signum(), made.unbalance() - drawn.unbalance()),
    ];
    for (what, first, full) in rows {
        println!("{what}: {first:.5e} to first order, {full:.5e} solved anew, {:+.3} %", 100.0 * (first / full - 1.0));
        assert!((first / full - 1.0).abs() < BOUND, "{what}: {first:e} against {full:e}");
    }
    // What is compared is far above what the symmetric drawing itself shows.
    assert!(drawn.quadrature().abs() < 1e-3 * made.quadrature().abs(), "{:e}", drawn.quadrature());
    assert!(drawn.unbalance().abs() < 1e-3 * made.unbalance().abs(), "{:e}", drawn.unbalance());
    Ok(())
}
