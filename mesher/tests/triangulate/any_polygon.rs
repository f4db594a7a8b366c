//! Any polygon is meshed or refused by name.

use super::shapes::*;
use modalith_mesher::geometry::{NamedArea, Polygon, Ring};
use modalith_mesher::quality::Quality;
use modalith_mesher::triangulate::{MeshSize, TriangulateError, triangulate};
use proptest::prelude::*;
use std::f64::consts::PI;

#[test]
fn what_cannot_be_meshed_is_named() {
    let none = MeshSize::default();
    assert_eq!(triangulate(&outline(vec![]), &none), Err(TriangulateError::NoMaterial));
    let bow = Polygon::solid(vec![[0.0, 0.0], [10.0, 8.0], [10.0, 0.0], [0.0, 10.0]]);
    assert!(matches!(triangulate(&outline(vec![part(bow)]), &none), Err(TriangulateError::Crossing { .. })));
    let nan = Polygon::solid(vec![[0.0, 0.0], [f64::NAN, 0.0], [10.0, 10.0]]);
    assert!(matches!(triangulate(&outline(vec![part(nan)]), &none), Err(TriangulateError::Coordinate { .. })));
    let square = outline(vec![part(rect(0.0, 0.0, 10.0, 10.0))]);
    for largest in [0.0, -1.0, f64::NAN] {
        let size = MeshSize { largest_um: Some(largest), ..none };
        assert!(matches!(triangulate(&square, &size), Err(TriangulateError::Size { .. })));
    }
    let size = MeshSize { largest_um: Some(1e-6), ..none };
    assert!(matches!(triangulate(&square, &size), Err(TriangulateError::TooFine { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn star_shaped_polygons_mesh(radii in prop::collection::vec(1.0..10.0_f64, 3..24), turn in 0.0..6.0_f64) {
        let n = radii.len() as f64;
        let ring: Ring = radii
            .iter()
            .enumerate()
            .map(|(i, r)| {
                let (s, c) = (turn + 2.0 * PI * i as f64 / n).sin_cos();
                [r * c, r * s]
            })
            .collect();
        let polygon = Polygon::solid(ring);
        let area = polygon.area();
        let mesh = triangulate(&outline(vec![part(polygon)]), &MeshSize::default()).unwrap();
        let q = Quality::of(&mesh);
        prop_assert!((q.area_um2 / area - 1.0).abs() < 1e-9);
        prop_assert_eq!(q.points + q.triangles, q.edges + 1);
    }

    #[test]
    fn any_polygon_returns(points in prop::collection::vec((-9_i8..9, -9_i8..9), 0..14), mirror in 0..5_usize) {
        let ring: Ring = points.iter().map(|p| [f64::from(p.0), f64::from(p.1)]).collect();
        let mut o = outline(vec![part(Polygon::solid(ring.clone()))]);
        o.masses = vec![NamedArea { name: "m".into(), polygons: vec![Polygon::solid(ring.iter().map(|p| [p[0] + 1.0, p[1]]).collect())] }];
        o.mirrors = (0..mirror).map(|k| axis([0.0, 0.0], 45.0 * k as f64)).collect();
        if let Ok(mesh) = triangulate(&o, &MeshSize::default()) {
            prop_assert!(mesh.triangles.len() < 100_000);
        }
    }
}
