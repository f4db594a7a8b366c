//! Plain comb fingers and straight stretches of flexures in long triangles: how many, how shaped, on mirror axes, moved with their
//! edges; and which are none.

#![allow(clippy::unwrap_used)]

mod shapes;

use modalith_mesher::drawing::{Anchoring, Drawing, Film};
use modalith_mesher::geometry::{NamedArea, Point, Polygon, Ring};
use modalith_mesher::mesh::{EdgeKind, LongIn, Mesh};
use modalith_mesher::motion::MeshMotion;
use modalith_mesher::outline::{Etch, Outline};
use modalith_mesher::quality::Quality;
use modalith_mesher::refine::graded;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use shapes::{circle, rect, symmetric};

/// A bar held below with `count` fingers of 3 × `length` on it, 9 µm apart, about x = 0, turned by some degrees.
fn comb(count: i32, length: f64, turn_deg: f64, masses: Vec<NamedArea>) -> Outline {
    let half = 4.5 * f64::from(count) + 20.0;
    let fingers = (0..count).map(|i| 9.0 * (f64::from(i) - 0.5 * f64::from(count - 1)));
    let mut film: Vec<Polygon> = fingers.map(|x| rect(x - 1.5, 39.0, x + 1.5, 40.0 + length)).collect();
    film.push(rect(-half, 0.0, half, 40.0));
    drawn(film, rect(-half, -10.0, half, 0.0), turn_deg, masses)
}

fn drawn(film: Vec<Polygon>, anchor: Polygon, turn_deg: f64, masses: Vec<NamedArea>) -> Outline {
    let (s, c) = turn_deg.to_radians().sin_cos();
    let ring = |r: &Ring| -> Ring { r.iter().map(|p: &Point| [c * p[0] - s * p[1], s * p[0] + c * p[1]]).collect() };
    let turned = |p: &Polygon| Polygon { outer: ring(&p.outer), holes: p.holes.iter().map(ring).collect() };
    let of_mass = |m: NamedArea| NamedArea { polygons: m.polygons.iter().map(turned).collect(), ..m };
    let drawing = Drawing {
        film: Film::Drawn { structure: film.iter().map(turned).collect(), holes: vec![] },
        anchoring: Anchoring::Drawn(vec![turned(&anchor)]),
        masses: masses.into_iter().map(of_mass).collect(),
        electrodes: vec![],
    };
    Outline::build(&drawing, &Etch::default()).unwrap()
}

/// Meshes and checks what every mesh with fingers must satisfy; the number of triangles in fingers beside the mesh.
fn sound(outline: &Outline, size: &MeshSize) -> (Mesh, usize) {
    let mesh = triangulate(outline, size).unwrap();
    let q = Quality::of(&mesh);
    let area: f64 = outline.parts.iter().map(|p| p.polygon.area()).sum();
    assert!((q.area_um2 / area - 1.0).abs() < 1e-7, "{} for {area}", q.area_um2);
    assert!(q.smallest_angle_deg >= 25.0, "{} at {:?}", q.smallest_angle_deg, q.smallest_angle_at);
    assert!(q.smallest_angle_of_long_deg.is_none_or(|angle| angle >= 7.0), "{q:?}");
    assert_eq!(q.long[0], (0..mesh.triangles.len()).filter(|&t| mesh.in_finger(t)).count());
    mesh.mirrors.iter().for_each(|m| symmetric(&mesh, m));
    (mesh, q.long[0])
}

/// Area in fingers, µm².
fn in_fingers(mesh: &Mesh) -> f64 {
    (0..mesh.triangles.len()).filter(|&t| mesh.in_finger(t)).map(|t| mesh.area(t)).sum()
}

/// A finger of 3 × 40 is six triangles, whichever way the comb is turned, and all it adds to the bar is less than sixteen.
#[test]
fn a_finger_is_a_few_long_triangles() {
    let size = MeshSize { largest_um: Some(50.0), ..MeshSize::default() };
    for turn in [0.0, 90.0, 30.0, 211.7] {
        let outline = comb(24, 40.0, turn, vec![]);
        assert_eq!(outline.fingers.len(), 24);
        let (mesh, long) = sound(&outline, &size);
        assert!((in_fingers(&mesh) / (24.0 * 120.0) - 1.0).abs() < 1e-3, "{turn}");
        assert!(long <= 24 * 8, "{long} at {turn}");
        let (bar, _) = sound(&comb(0, 40.0, turn, vec![]), &size);
        let added = mesh.triangles.len() - bar.triangles.len();
        assert!(added < 24 * 16, "{added} at {turn}");
    }
}

/// The middle one of an odd number lies on the axis: its half is cut where its wall is.
#[test]
fn a_finger_on_a_mirror_axis() {
    for count in [1, 5] {
        let (mesh, long) =
            sound(&comb(count, 60.0, 0.0, vec![]), &MeshSize { largest_um: Some(40.0), ..MeshSize::default() });
        assert_eq!(mesh.mirrors.len(), 1);
        assert!(long > 0 && (in_fingers(&mesh) - f64::from(count) * 180.0).abs() < 1e-6);
    }
}

/// Combs on all four sides of a square about its diagonals: eight copies of one wedge.
#[test]
fn combs_about_diagonals() {
    let at = |i: i32| 9.0 * f64::from(i);
    let mut film = vec![rect(-60.0, -60.0, 60.0, 60.0)];
    for i in -6..=6 {
        film.extend([rect(at(i) - 1.5, -90.0, at(i) + 1.5, -60.0), rect(at(i) - 1.5, 60.0, at(i) + 1.5, 90.0)]);
        film.extend([rect(-90.0, at(i) - 1.5, -60.0, at(i) + 1.5), rect(60.0, at(i) - 1.5, 90.0, at(i) + 1.5)]);
    }
    let outline = drawn(film, rect(-10.0, -10.0, 10.0, 10.0), 0.0, vec![]);
    assert_eq!(outline.fingers.len(), 52);
    let (mesh, long) = sound(&outline, &MeshSize { largest_um: Some(50.0), ..MeshSize::default() });
    assert_eq!((mesh.mirrors.len(), long), (4, 48 * 6 + 4 * 16));
    assert!((in_fingers(&mesh) - 52.0 * 90.0).abs() < 1e-6);
}

/// A finger flush with the end of its bar, where one wall runs on into the bar's side.
#[test]
fn a_finger_flush_with_its_bar() {
    let film = vec![rect(0.0, 0.0, 80.0, 20.0), rect(0.0, 20.0, 3.0, 60.0), rect(77.0, 20.0, 80.0, 60.0)];
    let (mesh, _) = sound(&drawn(film, rect(0.0, -10.0, 80.0, 0.0), 0.0, vec![]), &MeshSize::default());
    assert!((in_fingers(&mesh) - 240.0).abs() < 1e-6);
}

/// An anchor that covers a part of its root: meshed as everything else.
#[test]
fn a_finger_half_on_an_anchor() {
    let film = vec![rect(0.0, -30.0, 80.0, 30.0), rect(-50.0, -2.0, 0.0, 2.0)];
    let outline = drawn(film, rect(-10.0, 0.0, 0.0, 20.0), 0.0, vec![]);
    assert_eq!(outline.fingers.len(), 1);
    assert_eq!(sound(&outline, &MeshSize::default()).1, 0);
}

/// Openings inside a finger or across its root, straight and round: meshed as everything else.
#[test]
fn openings_in_fingers() {
    let size = MeshSize { largest_um: Some(60.0), ..MeshSize::default() };
    for hole in
        [rect(41.0, 40.0, 43.0, 42.0), rect(41.0, 19.0, 43.0, 21.0), Polygon::solid(circle([42.0, 45.0], 1.5, 48))]
    {
        let drawing = Drawing {
            film: Film::Drawn {
                structure: vec![rect(0.0, 0.0, 90.0, 20.0), rect(39.0, 19.0, 45.0, 70.0)],
                holes: vec![hole],
            },
            anchoring: Anchoring::Drawn(vec![rect(0.0, -10.0, 90.0, 0.0)]),
            masses: vec![],
            electrodes: vec![],
        };
        let outline = Outline::build(&drawing, &Etch::default()).unwrap();
        assert_eq!(outline.fingers.len(), 1);
        let mesh = triangulate(&outline, &size).unwrap();
        assert!(!mesh.long_in.contains(&Some(LongIn::Finger)) && Quality::of(&mesh).smallest_angle_deg >= 25.0);
    }
}

/// What an island inside it holds does not hang on its root: no finger.
#[test]
fn held_from_inside_it_is_no_finger() {
    let drawing = Drawing {
        film: Film::Drawn { structure: vec![rect(0.0, 0.0, 90.0, 20.0), rect(39.0, 19.0, 45.0, 70.0)], holes: vec![] },
        anchoring: Anchoring::Drawn(vec![rect(0.0, -10.0, 90.0, 0.0), rect(41.0, 30.0, 43.0, 60.0)]),
        masses: vec![],
        electrodes: vec![],
    };
    let outline = Outline::build(&drawing, &Etch::default()).unwrap();
    assert!(outline.fingers.is_empty(), "{:?}", outline.fingers);
    assert_eq!(sound(&outline, &MeshSize { largest_um: Some(60.0), ..MeshSize::default() }).1, 0);
}

/// Masses whose borders follow the roots, cross the fingers square or take them in leave them long; a slanted one does not.
#[test]
fn borders_of_masses() {
    let named = |polygon: Polygon| vec![NamedArea { name: "m".into(), polygons: vec![polygon] }];
    let size = MeshSize { largest_um: Some(50.0), ..MeshSize::default() };
    for y in [40.0, 40.3, 55.0, 90.0] {
        let (mesh, long) = sound(&comb(6, 40.0, 0.0, named(rect(-60.0, 0.0, 60.0, y))), &size);
        assert!(long > 0 && mesh.mass_of.iter().flatten().count() > 0, "{y}");
        let border = mesh.edges.iter().filter(|e| e.kind == EdgeKind::Interface).count();
        assert_eq!(border > 0, y < 80.0, "{y}");
    }
    let slanted = Polygon::solid(vec![[-60.0, 0.0], [60.0, 0.0], [60.0, 78.0], [-60.0, 42.0]]);
    let mesh = triangulate(&comb(6, 40.0, 0.0, named(slanted)), &size).unwrap();
    assert!(!mesh.long_in.contains(&Some(LongIn::Finger)));
}

/// Tips that are round or pointed, more than one element across, triangles hardly larger than a finger is wide: as everything else.
#[test]
fn other_fingers_and_finer_meshes() {
    let bar = |finger: Ring| {
        drawn(vec![rect(0.0, 0.0, 90.0, 20.0), Polygon::solid(finger)], rect(0.0, -10.0, 90.0, 0.0), 0.0, vec![])
    };
    let none = |outline: &Outline, size: &MeshSize| {
        assert!(!outline.fingers.is_empty());
        assert_eq!(sound(outline, size).1, 0);
    };
    none(&bar(vec![[40.0, 19.0], [46.0, 19.0], [44.0, 60.0], [42.0, 60.0]]), &MeshSize::default());
    none(&bar(vec![[40.0, 19.0], [43.0, 19.0], [43.0, 50.0], [41.5, 53.0], [40.0, 50.0]]), &MeshSize::default());
    let plain = comb(6, 40.0, 0.0, vec![]);
    none(&plain, &MeshSize { across_flexure: 2, ..MeshSize::default() });
    none(&plain, &MeshSize { largest_um: Some(4.0), ..MeshSize::default() });
    // In between no edge is longer than asked for.
    let size = MeshSize { largest_um: Some(7.0), ..MeshSize::default() };
    let (mesh, long) = sound(&plain, &size);
    assert!(long > 0 && Quality::of(&mesh).largest_edge_um <= 7.0 + 1e-9);
}

/// Edges moved by 0.2 µm either way: the mesh covers the outline of that bias, no triangle folds; cut meshes know their fingers.
#[test]
fn long_triangles_move_and_are_cut() {
    let size = MeshSize { largest_um: Some(50.0), ..MeshSize::default() };
    let mesh = triangulate(&comb(7, 40.0, 0.0, vec![]), &size).unwrap();
    let motion = MeshMotion::edges(&mesh, 2.0);
    let area = |mesh: &Mesh| (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum::<f64>();
    for step in [-0.2, 0.2] {
        let moved = motion.moved(&mesh, step);
        // Seven fingers 0.4 wider and 0.2 longer on a bar 0.4 longer and 0.2 higher, whose fingers start 0.2 farther up.
        let (w, half) = (3.0 + 2.0 * step, 31.5 + 20.0 + step);
        let wanted = 2.0 * half * (40.0 + step) + 7.0 * w * 40.0;
        assert!((area(&moved) / wanted - 1.0).abs() < 1e-9, "{} for {wanted}", area(&moved));
        assert!(motion.smallest_jacobian(&mesh, step) > 0.5);
    }
    let corners: Vec<bool> = mesh.points.iter().map(|p| p[1] > 39.0).collect();
    let (finer, _) = graded(&mesh, &corners, 1).unwrap();
    assert!((in_fingers(&finer) - 7.0 * 120.0).abs() < 1e-9);
}

/// A mass of 60 × 60 about (x, 0) on two flexures of `width`, 200 long, up and down, held at their far ends; turned by some degrees.
fn hung(x: f64, width: f64, turn_deg: f64, masses: Vec<NamedArea>) -> Outline {
    let flexure = |low: f64, high: f64| rect(x - 0.5 * width, low, x + 0.5 * width, high);
    let film = [rect(-30.0, -30.0, 30.0, 30.0), flexure(29.0, 240.0), flexure(-240.0, -29.0)];
    let (s, c) = turn_deg.to_radians().sin_cos();
    let turned = |p: &Polygon| {
        Polygon::solid(p.outer.iter().map(|p| [c * p[0] - s * p[1], s * p[0] + c * p[1]]).collect::<Ring>())
    };
    let drawing = Drawing {
        film: Film::Drawn { structure: film.iter().map(turned).collect(), holes: vec![] },
        anchoring: Anchoring::Drawn(
            [rect(-30.0, 230.0, 30.0, 250.0), rect(-30.0, -250.0, 30.0, -230.0)].iter().map(turned).collect(),
        ),
        masses,
        electrodes: vec![],
    };
    Outline::build(&drawing, &Etch::default()).unwrap()
}

/// Long triangles in flexures: how many, and their area, µm².
fn in_stretches(outline: &Outline) -> (usize, f64) {
    let (mesh, _) = sound(outline, &MeshSize::default());
    let long: Vec<usize> = (0..mesh.triangles.len()).filter(|&t| mesh.long_in[t] == Some(LongIn::Flexure)).collect();
    assert!(long.iter().all(|&t| mesh.flexure_of[t].is_some()));
    (long.len(), long.iter().map(|&t| mesh.area(t)).sum())
}

/// All of a straight flexure but one and a half widths at either end, in parts of 2, 4, 8 widths: whichever way it is turned, on a
/// mirror axis, and where an axis crosses it.
#[test]
fn a_straight_flexure_is_a_few_long_triangles() {
    for (x, turn) in [(10.0, 0.0), (10.0, 33.0), (0.0, 0.0), (0.0, 33.0)] {
        let (count, area) = in_stretches(&hung(x, 4.0, turn, vec![]));
        assert!((area - 2.0 * 4.0 * 188.0).abs() < 1e-3, "{x}, {turn}°: {area}");
        // Halves of a flexure on its axis are half as wide: their parts are half as long.
        assert!(count < if x == 0.0 { 160 } else { 60 }, "{x}, {turn}°: {count}");
    }
    // Two ends alike: the axis y = 0 crosses a flexure between two anchors.
    let film = vec![rect(-2.0, -120.0, 2.0, 120.0), rect(-40.0, 110.0, 40.0, 150.0), rect(-40.0, -150.0, 40.0, -110.0)];
    let outline = drawn(film, rect(-40.0, 140.0, 40.0, 160.0), 0.0, vec![]);
    assert!(outline.flexures.is_empty() || in_stretches(&outline).0 > 0);
}

/// Where the border of a mass, an opening or a second flexure meets it, a flexure is meshed as everything else.
#[test]
fn stretches_end_where_something_meets_them() {
    let across = NamedArea { name: "m".into(), polygons: vec![rect(-30.0, -60.0, 30.0, 60.0)] };
    assert_eq!(in_stretches(&hung(10.0, 4.0, 0.0, vec![across])).0, 0);
    let film = vec![
        rect(-30.0, -30.0, 30.0, 30.0),
        rect(-2.0, 29.0, 2.0, 240.0),
        rect(-2.0, -240.0, 2.0, -29.0),
        rect(1.0, 120.0, 60.0, 124.0),
    ];
    let drawing = Drawing {
        film: Film::Drawn { structure: film, holes: vec![] },
        anchoring: Anchoring::Drawn(vec![
            rect(-30.0, 230.0, 30.0, 250.0),
            rect(-30.0, -250.0, 30.0, -230.0),
            rect(55.0, 110.0, 80.0, 134.0),
        ]),
        masses: vec![],
        electrodes: vec![],
    };
    let outline = Outline::build(&drawing, &Etch::default()).unwrap();
    let (_, area) = in_stretches(&outline);
    // 188 below; above, what the branch leaves of both pieces; the branch: 53 less twice 6.
    assert!((area - 4.0 * (188.0 + (90.0 - 12.0) + (106.0 - 12.0) + (53.0 - 12.0))).abs() < 1.0, "{area}");
}
