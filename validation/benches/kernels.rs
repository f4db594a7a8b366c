//! Seconds of the kernels on the flagship (invented) as quadratic shells, 58 000 unknowns of which 35 000 move out of the plane:
//! `cargo bench -p modalith-validation --bench kernels`. For a change's effect count instructions instead (DEVELOPERS.md).

// A bench that cannot be posed has nothing to measure.
#![allow(clippy::unwrap_used, missing_docs)]

use divan::{Bencher, black_box};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::triangulate::{MeshSize, triangulate};
use modalith_solver::element::basis::Order;
use modalith_solver::spectrum::{Compliance, inner, subtract};
use modalith_solver::system::{Layer, Structure, Supports, System};
use modalith_validation::bars::outlined;
use nalgebra::DMatrix;
use std::sync::OnceLock;

fn main() {
    divan::main();
}

fn size() -> MeshSize {
    MeshSize { corner_ratio: 1.0, ..MeshSize::default() }
}

fn posed() -> &'static (Mesh, Layer) {
    static POSED: OnceLock<(Mesh, Layer)> = OnceLock::new();
    POSED.get_or_init(|| {
        let (device, outline) = outlined("platform").unwrap();
        let mesh = triangulate(&outline, &size()).unwrap();
        let mut layer = Layer::shell(&device.law, device.thickness_um).keeping(|f| !f.is_in_plane());
        layer.order = Order::new(2).unwrap();
        (mesh, layer)
    })
}

fn assembled() -> &'static System {
    static SYSTEM: OnceLock<System> = OnceLock::new();
    SYSTEM.get_or_init(|| {
        let (mesh, layer) = posed();
        System::assemble(&Structure::anchored(mesh.clone(), layer.clone())).unwrap()
    })
}

fn ordered() -> &'static Compliance {
    static ORDERED: OnceLock<Compliance> = OnceLock::new();
    ORDERED.get_or_init(|| Compliance::new(&assembled().k, Some(assembled().unknowns.groups())).unwrap())
}

#[divan::bench]
fn meshing(bencher: Bencher) {
    let (_, outline) = outlined("platform").unwrap();
    bencher.bench(|| triangulate(black_box(&outline), &size()).unwrap());
}

#[divan::bench]
fn assembly(bencher: Bencher) {
    let (mesh, layer) = posed();
    let supports = Supports::anchors(mesh);
    bencher
        .bench(|| System::assemble(&Structure::new(mesh.clone(), black_box(layer).clone(), supports.clone())).unwrap());
}

#[divan::bench]
fn order(bencher: Bencher) {
    let system = assembled();
    bencher.bench(|| Compliance::new(black_box(&system.k), Some(system.unknowns.groups())).unwrap());
}

#[divan::bench]
fn factor(bencher: Bencher) {
    bencher.bench(|| black_box(ordered()).factor().unwrap());
}

#[divan::bench(args = [1, 4, 8])]
fn solve(bencher: Bencher, vectors: usize) {
    let factor = ordered().factor().unwrap();
    let loads = DMatrix::from_fn(assembled().k.nrows(), vectors, |i, j| ((i + j) % 7) as f64 - 3.0);
    bencher.bench(|| factor.solve(black_box(&loads)));
}

/// A block of four against a basis of forty, once.
#[divan::bench]
fn orthogonalisation(bencher: Bencher) {
    let n = assembled().k.nrows();
    let fill = |columns: usize| faer::Mat::from_fn(n, columns, |i, j| ((i * 31 + j * 17) % 13) as f64 - 6.0);
    let (basis, block) = (fill(40), fill(4));
    bencher.bench(|| {
        let mut block = block.clone();
        let shares = inner(basis.as_ref(), block.as_ref());
        subtract(block.as_mut(), basis.as_ref(), shares.as_ref());
        block
    });
}
