//! From the outline to the mesh, µm: exact mirror axes first, then sizes, a constrained Delaunay triangulation of one wedge,
//! refinement, curved edges, and the copies that make the whole.
//!
//! Guarantees: triangles run anticlockwise and their quadratic maps are not folded; corners lie on the walls as drawn,
//! and edges across several facets of a circle bow until they hold the area of the facets; edges along anchors and on borders of named masses are kept; the mesh has the mirror axes of [`Mesh::mirrors`] to
//! rounding; the same input gives the same mesh. Angles are 25° or more except next to input corners sharper than about 60°, where
//! features are much shorter than the material is wide, and in plain fingers and straight stretches of flexures
//! ([`Mesh::long_in`]), whose triangles are up to eight times as long as wide, with angles from 7°.

mod assemble;
mod clamped_below;
mod delaunay;
mod error;
mod fits;
mod planar;
mod refine;
mod strand;
mod symmetry;

pub use crate::sizing::MeshSize;
pub use clamped_below::triangulate_clamped_below;
pub use error::TriangulateError;

use crate::curve::{Piece, facets_of_ring, pieces_of_ring};
use crate::geometry::{Point, Polygon, Ring, distance};
use crate::mesh::Mesh;
use crate::outline::Outline;
use crate::quality::smallest_jacobian;
use crate::sizing::{Count, LongFinger, LongParts, LongStretch, Planned, Sizing, TRIANGLE};
use assemble::{assemble, mid_side};
use delaunay::delaunay;
use fits::Drawn;
use planar::Planar;
use refine::Triangulation;
use strand::Strands;
use symmetry::Frame;

/// Triangles allowed: more take more than 2 GB, and no element of ours could be solved on them.
pub const MOST_TRIANGLES: usize = 1_500_000;
/// Rings whose arcs are given up one by one before all are.
const RINGS_ONE_BY_ONE: usize = 2;
/// Points nearer than this are one, µm: twice the grid of the outline.
const SAME_UM: f64 = 2e-5;
/// A curved triangle is cut finer when its Jacobian varies to less than this share of its mean.
const FLATTEST: f64 = 0.2;

/// Meshes an outline.
///
/// # Errors
/// See [`TriangulateError`]; every place is in the layout frame.
///
/// ```
/// use modalith_mesher::geometry::Polygon;
/// use modalith_mesher::outline::{Outline, Part};
/// use modalith_mesher::triangulate::{MeshSize, triangulate};
/// let square = Polygon::solid(vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
/// let part = Part { polygon: square, held: vec![vec![true, false, false, false]] };
/// let outline = Outline { parts: vec![part], ..Outline::default() };
/// let mesh = triangulate(&outline, &MeshSize::default())?;
/// let area: f64 = (0..mesh.triangles.len()).map(|t| mesh.area(t)).sum();
/// assert!((area - 100.0).abs() < 1e-9);
/// # Ok::<(), modalith_mesher::triangulate::TriangulateError>(())
/// ```
pub fn triangulate(outline: &Outline, size: &MeshSize) -> Result<Mesh, TriangulateError> {
    triangulate_keeping(outline, size, &[])
}

/// Meshes an outline so that the points `kept` on its border, µm, become corners of the mesh, as ends of root lines should.
///
/// # Errors
/// See [`TriangulateError`].
pub fn triangulate_keeping(outline: &Outline, size: &MeshSize, kept: &[Point]) -> Result<Mesh, TriangulateError> {
    check(outline, size)?;
    let frame = Frame::of(outline);
    match in_frame(outline, size, kept, &frame) {
        // Circles fitted through coarse facets may miss a mirror that the facets have: then the whole is meshed.
        Err(TriangulateError::Misfit { .. }) if frame.axes > 0 => in_frame(outline, size, kept, &Frame::layout()),
        done => done,
    }
}

/// The mesh with the mirrors of a frame.
fn in_frame(outline: &Outline, size: &MeshSize, kept: &[Point], frame: &Frame) -> Result<Mesh, TriangulateError> {
    let kept: Vec<Point> = kept.iter().chain(&LongFinger::ends_of_roots(outline)).map(|&p| frame.enter(p)).collect();
    let polygons: Vec<Polygon> = outline.parts.iter().map(|p| p.polygon.moved(|q| frame.enter(q))).collect();
    let area: f64 = polygons.iter().map(Polygon::area).sum();
    if area.is_nan() || area <= 0.0 {
        return Err(TriangulateError::NoMaterial);
    }
    let mut walls: Vec<Wall> = Vec::new();
    for (n, (polygon, part)) in polygons.iter().zip(&outline.parts).enumerate() {
        for (i, ring) in polygon.rings().enumerate() {
            let held = part.held.get(i).map_or(&[][..], Vec::as_slice);
            walls.push(Wall { part: n, ring, held, pieces: pieces_of_ring(ring, held) });
        }
    }
    let masses = outline.masses.iter().flat_map(|m| &m.polygons).flat_map(Polygon::rings);
    let masses: Vec<Ring> = masses.map(|ring| ring.iter().map(|p| frame.enter(*p)).collect()).collect();
    let wedge = Wedge { outline, size, frame, polygons: &polygons, masses: &masses };
    for given_up in 0.. {
        let all = given_up > RINGS_ONE_BY_ONE;
        let uncut: Vec<Vec<Piece>> = walls.iter().map(|w| w.pieces.clone()).collect();
        let stretches = wedge.stretches(&uncut, &kept);
        let kept: Vec<Point> = kept.iter().copied().chain(stretches.iter().flat_map(|s| s.corners)).collect();
        let mut parts = vec![Drawn::default(); polygons.len()];
        let mut rings: Vec<Vec<Piece>> = Vec::with_capacity(walls.len());
        for w in &walls {
            let cut: Vec<Vec<Piece>> = w.pieces.iter().map(|p| cut_at(p, &kept)).collect();
            parts[w.part].add(w.ring, w.held, &w.pieces, &cut);
            rings.push(cut.into_iter().flatten().collect());
        }
        let found = wedge.mesh((&rings, &stretches), &parts, !all);
        // Circles through coarse facets may leave no room between two walls. Facets as drawn always fit.
        let Err(TriangulateError::Crossing { at } | TriangulateError::Folded { at } | TriangulateError::Open { at }) =
            found
        else {
            return found;
        };
        let at = frame.enter(at);
        let off = |pieces: &[Piece]| {
            let arcs = pieces.iter().filter(|p| !p.is_straight());
            arcs.map(|p| distance(p.at(p.nearest(at)), at)).fold(f64::INFINITY, f64::min)
        };
        let nearest = (0..walls.len()).min_by(|&i, &j| off(&walls[i].pieces).total_cmp(&off(&walls[j].pieces)));
        let Some(nearest) = nearest.filter(|&i| off(&walls[i].pieces).is_finite() || !all) else { return found };
        for (i, w) in walls.iter_mut().enumerate() {
            if i == nearest || given_up >= RINGS_ONE_BY_ONE {
                w.pieces = facets_of_ring(w.ring, w.held);
            }
        }
    }
    Err(TriangulateError::NoMaterial)
}

/// A ring of a part and the pieces it is meshed as.
struct Wall<'a> {
    part: usize,
    ring: &'a Ring,
    held: &'a [bool],
    pieces: Vec<Piece>,
}

/// What the attempts at a mesh share.
struct Wedge<'a> {
    outline: &'a Outline,
    size: &'a MeshSize,
    frame: &'a Frame,
    /// The parts in the frame.
    polygons: &'a [Polygon],
    /// Borders of the named masses in the frame.
    masses: &'a [Ring],
}

impl Wedge<'_> {
    /// Stretches of flexures on walls as pieces that are not cut yet.
    fn stretches(&self, walls: &[Vec<Piece>], kept: &[Point]) -> Vec<Planned> {
        let Self { outline, size, frame, masses, .. } = *self;
        Planned::all(&outline.flexures, |p| frame.enter(p), walls, (masses, kept), &frame.sides(), size)
    }

    /// Meshes walls given as pieces, cut at the corners of stretches; borders of masses keep their arcs if `curved`.
    fn mesh(
        &self,
        (rings, stretches): (&[Vec<Piece>], &[Planned]),
        parts: &[Drawn],
        curved: bool,
    ) -> Result<Mesh, TriangulateError> {
        let Self { outline, size, frame, polygons, masses } = *self;
        let enter = |p: Point| frame.enter(p);
        let flexures: Vec<(Polygon, f64)> =
            outline.flexures.iter().map(|f| (f.area.moved(enter), f.width_um)).collect();
        let long = LongParts {
            fingers: LongFinger::find(&outline.fingers, enter, rings, masses, &frame.sides(), size),
            stretches: LongStretch::find(stretches, rings),
        };
        let sizing = Sizing::new(rings, &flexures, &long, size);
        allowed(&sizing, polygons, frame)?;
        let slimmest = flexures.iter().map(|f| f.1).fold(0.1 * sizing.largest, f64::min);
        let mut strands = Strands::new(rings, polygons, (0.2 * slimmest).clamp(1e-3, 1.0), curved);
        strands.close_off(&long, rings);
        masses.iter().for_each(|ring| strands.border(ring));
        // Coarse chords of an arc may run into a wall behind it: then they are made finer.
        let mut found = Err(TriangulateError::NoMaterial);
        for finer in [1.0, 2.0, 4.0, 8.0] {
            let planar = Planar::new(&strands, frame, &sizing, finer);
            found = delaunay(&planar, frame, &long).map(|t| (planar, t));
            if !matches!(found, Err(TriangulateError::Crossing { .. })) {
                break;
            }
        }
        let (planar, mut triangulation) = found?;
        if triangulation.triangles.is_empty() {
            return Err(TriangulateError::NoMaterial);
        }
        // A triangulation has half as many points as triangles.
        let most_points = MOST_TRIANGLES / frame.copies();
        if !triangulation.refine(&sizing, &planar, most_points) {
            let count = sizing.count(polygons, 4.0 * MOST_TRIANGLES as f64);
            return Err(too_many(&count, frame));
        }
        unfold(&mut triangulation, &planar, &sizing, frame, most_points)?;
        let (mesh, lengths) = assemble(&triangulation, &planar, frame, outline)?;
        fits::check(&mesh, &lengths, outline, parts, frame)?;
        Ok(mesh)
    }
}

/// Refuses sizes that ask for more triangles than are allowed.
fn allowed(sizing: &Sizing, polygons: &[Polygon], frame: &Frame) -> Result<(), TriangulateError> {
    let limit = MOST_TRIANGLES as f64;
    let area: f64 = polygons.iter().map(Polygon::area).sum();
    let as_large = area / (TRIANGLE * sizing.largest * sizing.largest);
    let count = if as_large > limit {
        Count { triangles: as_large, largest: as_large, ..Default::default() }
    } else {
        sizing.count(polygons, limit)
    };
    if count.triangles <= limit {
        return Ok(());
    }
    if count.largest > 0.5 * count.triangles {
        let enough = sizing.largest * (2.0 * count.triangles / limit).sqrt();
        let digits = 10f64.powf(enough.log10().floor() - 1.0);
        return Err(TriangulateError::TooFine {
            needed: count.triangles as usize,
            limit: MOST_TRIANGLES,
            largest_um: sizing.largest,
            enough_um: (enough / digits).ceil() * digits,
        });
    }
    Err(too_many(&count, frame))
}

fn too_many(count: &Count, frame: &Frame) -> TriangulateError {
    let (smallest_um, at) = (count.smallest_um, frame.leave(count.densest_at));
    TriangulateError::TooMany { limit: MOST_TRIANGLES, smallest_um, at }
}

/// A piece cut at the points that lie on it, ends left out.
fn cut_at(piece: &Piece, kept: &[Point]) -> Vec<Piece> {
    let near = 1e-9 * piece.length() + SAME_UM;
    let mut cuts: Vec<(f64, Point)> = kept
        .iter()
        .filter(|p| distance(**p, piece.from) > near && distance(**p, piece.to) > near)
        .map(|p| (piece.nearest(*p), *p))
        .filter(|(t, p)| distance(piece.at(*t), *p) <= near)
        .collect();
    cuts.sort_by(|a, b| a.0.total_cmp(&b.0));
    cuts.dedup_by(|a, b| distance(a.1, b.1) <= near);
    let (mut t, mut from, mut out) = (0.0, piece.from, Vec::with_capacity(cuts.len() + 1));
    for (next, at) in cuts {
        out.push(piece.part(t, next, from, at));
        (t, from) = (next, at);
    }
    out.push(piece.part(t, 1.0, from, piece.to));
    out
}

/// Refuses what no triangulation could digest.
fn check(outline: &Outline, size: &MeshSize) -> Result<(), TriangulateError> {
    let positive = |name, value: f64| {
        if value.is_finite() && value > 0.0 { Ok(()) } else { Err(TriangulateError::Size { name, value }) }
    };
    positive("the largest edge", size.largest_um.unwrap_or(1.0))?;
    positive("the grading", size.grading)?;
    positive("the ratio at corners", size.corner_ratio)?;
    let all = outline.parts.iter().map(|p| &p.polygon).chain(outline.masses.iter().flat_map(|m| &m.polygons));
    for ring in all.flat_map(Polygon::rings) {
        for (point, &at) in ring.iter().enumerate() {
            if !at.iter().all(|x| x.is_finite() && x.abs() < 1e12) {
                return Err(TriangulateError::Coordinate { point, at });
            }
        }
    }
    if outline.parts.iter().all(|p| p.polygon.outer.len() < 3) {
        return Err(TriangulateError::NoMaterial);
    }
    Ok(())
}

/// Cuts arcs finer where a curved triangle would be folded or nearly so.
fn unfold(
    triangulation: &mut Triangulation,
    planar: &Planar,
    sizing: &Sizing,
    frame: &Frame,
    most_points: usize,
) -> Result<(), TriangulateError> {
    for round in 0..8 {
        let mut bad: Vec<(usize, [u32; 3], f64)> = Vec::new();
        for (t, triangle) in triangulation.triangles.iter().enumerate() {
            let curved = triangle.strand.iter().any(|&s| planar.facets(s).is_some());
            if curved {
                let [a, b, c] = triangulation.corners(t);
                let [d, e, f] = [0, 1, 2].map(|k| mid_side(triangulation, planar, t, k));
                let share = smallest_jacobian(&[a, b, c, d, e, f]);
                if share < FLATTEST {
                    bad.push((t, triangle.corners, share));
                }
            }
        }
        if bad.is_empty() {
            return Ok(());
        }
        let mut touched = Vec::new();
        let mut changed = false;
        for &(t, corners, _) in &bad {
            // A cut before may have changed it; the next round looks again.
            if triangulation.triangles[t].corners != corners {
                continue;
            }
            for k in 0..3 {
                if planar.facets(triangulation.triangles[t].strand[k]).is_some() {
                    changed |= triangulation.halve(t, k, planar, &mut touched);
                    break;
                }
            }
        }
        triangulation.refine(sizing, planar, most_points);
        let folded = bad.iter().find(|b| b.2 <= 0.0);
        if let Some((_, corners, _)) = folded
            && (!changed || round == 7)
        {
            return Err(TriangulateError::Folded { at: frame.leave(triangulation.points[corners[0] as usize]) });
        }
        if !changed {
            break;
        }
    }
    Ok(())
}
