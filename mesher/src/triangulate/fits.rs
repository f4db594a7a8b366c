//! Whether a mesh is the outline it was made of: the area of every part, and the lengths of its etched and its held borders. In: the
//! mesh and the lengths of the facets that its edges stand for, the outline with the pieces its rings were taken for. Out: nothing,
//! or what differs and where. µm.
//!
//! Nothing is compared to a percentage. A quadratic edge across facets of a circle holds the area between them and its chord, a straight piece
//! stands for corners next to it: what that may change is computed; what is left must be rounding.

use super::error::TriangulateError;
use super::symmetry::Frame;
use crate::curve::Piece;
use crate::geometry::{Point, centroid, distance, middle, twice_area};
use crate::locate::Locator;
use crate::mesh::{Edge, EdgeKind, Mesh};
use crate::outline::{Outline, Part};

/// Share that rounding may change.
const ROUNDING: f64 = 1e-9;
/// Share of an area with arcs that images of one wedge may change at the most; of a straight one no more than rounding.
const MIRRORED: f64 = 1e-6;

/// Area and lengths of etched (0) and held (1) borders of a part, µm² and µm.
#[derive(Clone, Copy, Debug, Default)]
struct Measure {
    area: f64,
    lengths: [f64; 2],
}

impl Measure {
    /// Takes in an edge of a border from `p` to `q` that stands for facets of a length, if for any; gives its chord, and how far a
    /// straight one's middle lies off.
    fn add(&mut self, edge: &Edge, facets: Option<f64>, [p, q]: [Point; 2]) -> (f64, f64) {
        let class = usize::from(edge.kind == EdgeKind::Held);
        let chord = distance(p, q);
        // A parabola over a chord holds 2/3 of chord times rise.
        self.area += 2.0 / 3.0 * twice_area(p, edge.middle, q);
        self.lengths[class] += facets.unwrap_or(chord);
        (chord, if facets.is_some() { 0.0 } else { distance(edge.middle, middle(p, q)) })
    }
}

/// What a part measures as drawn and as the pieces of its rings, and how far the two may be apart.
#[derive(Clone, Debug, Default)]
pub struct Drawn {
    polygon: Measure,
    pieces: Measure,
    between: Measure,
    count: usize,
    has_arcs: bool,
}

impl Drawn {
    /// A part's ring and the pieces it was taken for, each also as cut at points to be kept.
    pub fn add(&mut self, ring: &[Point], held: &[bool], pieces: &[Piece], cut: &[Vec<Piece>]) {
        let Some(&origin) = ring.first() else { return };
        let n = ring.len();
        for (i, &a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % n];
            self.polygon.area += 0.5 * twice_area(origin, a, b);
            self.polygon.lengths[usize::from(held.get(i) == Some(&true))] += distance(a, b);
        }
        let first = pieces.first().and_then(|p| ring.iter().position(|v| *v == p.from)).unwrap_or(0);
        let mut at = first;
        for (piece, parts) in pieces.iter().zip(cut) {
            let class = usize::from(piece.held);
            let mut steps = 0;
            loop {
                let (a, b) = (ring[at % n], ring[(at + 1) % n]);
                let (area, length) = replaced(piece, a, b);
                self.between.area += area;
                self.between.lengths[class] += length;
                at += 1;
                steps += 1;
                if b == piece.to || steps > n {
                    break;
                }
            }
            let off = |p: &Piece| distance(piece.at(piece.nearest(p.to)), p.to);
            let most = parts.iter().map(off).fold(0.0, f64::max);
            self.between.area += most * piece.length();
            self.between.lengths[class] += 2.0 * most * parts.len() as f64;
            for part in parts {
                let corners = part.corners();
                self.has_arcs |= !part.is_straight();
                self.pieces.area += corners.windows(2).map(|w| 0.5 * twice_area(origin, w[0].1, w[1].1)).sum::<f64>();
                self.pieces.lengths[class] += part.length();
            }
            self.count += parts.len();
        }
    }
}

/// What the area and the length of one segment may change by when a piece takes its place.
fn replaced(piece: &Piece, a: Point, b: Point) -> (f64, f64) {
    let off = |p: Point| distance(piece.at(piece.nearest(p)), p);
    (0.5 * (off(a) + off(b)) * distance(a, b), off(a) + off(b))
}

/// Compares a mesh with the outline it was made of.
///
/// # Errors
/// [`TriangulateError::Misfit`]
pub fn check(
    mesh: &Mesh,
    lengths: &[Option<f64>],
    outline: &Outline,
    drawn: &[Drawn],
    frame: &Frame,
) -> Result<(), TriangulateError> {
    let parts = Locator::new(outline.parts.iter().map(|p| std::slice::from_ref(&p.polygon)));
    let of_triangle = pieces_of(mesh, &parts, outline);
    let mut meshed = vec![Measure::default(); drawn.len()];
    let neighbours = mesh.neighbours();
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let [a, b, c] = corners.map(|i| mesh.points[i as usize]);
        let Some(own) = of_triangle[t].and_then(|part| meshed.get_mut(part)) else {
            return Err(misfit("area", 0.5 * twice_area(a, b, c), 0.0, a));
        };
        own.area += 0.5 * twice_area(a, b, c);
        for k in (0..3).filter(|&k| neighbours[t][k].is_none()) {
            let number = mesh.triangle_edges[t][k] as usize;
            let edge = &mesh.edges[number];
            let (p, q) = (mesh.points[corners[k] as usize], mesh.points[corners[(k + 1) % 3] as usize]);
            let (chord, off) = own.add(edge, lengths[number], [p, q]);
            if off > ROUNDING * chord {
                return Err(misfit("length of a border", chord + off, chord, edge.middle));
            }
        }
    }
    for ((own, drawn), part) in meshed.iter().zip(drawn).zip(&outline.parts) {
        let at = || place(mesh, &parts).or(part.polygon.outer.first().copied()).unwrap_or_default();
        let border: f64 = drawn.pieces.lengths.iter().sum();
        // Images of one wedge stand for walls that are theirs up to how far the outline misses its mirrors.
        let off_um = frame.axes as f64 * (frame.off_um + frame.on_axis_um());
        let compare = |what, [mesh, pieces, polygon]: [f64; 3], whole: f64, mirrored: f64, between: f64| {
            let rounding = ROUNDING * whole;
            let same = (mesh - pieces).abs() <= rounding + mirrored && (pieces - polygon).abs() <= rounding + between;
            if same { Ok(()) } else { Err(misfit(what, mesh, polygon, at())) }
        };
        let areas = [own.area, drawn.pieces.area, drawn.polygon.area];
        let mirrored = if drawn.has_arcs { (off_um * border).min(MIRRORED * drawn.polygon.area) } else { 0.0 };
        compare("area", areas, drawn.polygon.area, mirrored, drawn.between.area)?;
        for (class, what) in ["length of the etched border", "length of the held border"].into_iter().enumerate() {
            let lengths = [own.lengths[class], drawn.pieces.lengths[class], drawn.polygon.lengths[class]];
            compare(what, lengths, border, 2.0 * off_um * drawn.count as f64, drawn.between.lengths[class])?;
        }
    }
    Ok(())
}

fn misfit(what: &'static str, mesh: f64, outline: f64, at: Point) -> TriangulateError {
    TriangulateError::Misfit { what, mesh, outline, at }
}

/// The part with the corner nearest to any of some points.
fn nearest_part(outline: &Outline, points: impl Iterator<Item = Point>) -> Option<usize> {
    let points: Vec<Point> = points.collect();
    let off = |part: &Part| {
        let corners = part.polygon.rings().flatten();
        corners.flat_map(|c| points.iter().map(|p| distance(*p, *c))).fold(f64::INFINITY, f64::min)
    };
    let all = outline.parts.iter().map(off).enumerate();
    all.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(part, _)| part)
}

/// A triangle outside the outline, if there is one.
fn place(mesh: &Mesh, parts: &Locator) -> Option<Point> {
    let centre = |corners: &[u32; 3]| centroid(corners.map(|i| mesh.points[i as usize]));
    mesh.triangles.iter().map(centre).find(|p| parts.find(*p).is_none())
}

/// For each triangle the part that its connected piece of the mesh lies in, as its largest triangle tells; where bowed edges take a ring
/// thinner than they bow off the polygon, another one or, of none, the nearest corner.
fn pieces_of(mesh: &Mesh, parts: &Locator, outline: &Outline) -> Vec<Option<usize>> {
    let centre = |t: usize| centroid(mesh.triangles[t].map(|i| mesh.points[i as usize]));
    let neighbours = mesh.neighbours();
    let mut of_triangle = vec![None; mesh.triangles.len()];
    let mut seen = vec![false; mesh.triangles.len()];
    for start in 0..mesh.triangles.len() {
        if seen[start] {
            continue;
        }
        seen[start] = true;
        let (mut piece, mut next, mut largest) = (vec![start], 0, (0.0, start));
        while let Some(&t) = piece.get(next) {
            next += 1;
            let [a, b, c] = mesh.triangles[t].map(|i| mesh.points[i as usize]);
            let twice = twice_area(a, b, c);
            if twice > largest.0 {
                largest = (twice, t);
            }
            for n in neighbours[t].into_iter().flatten() {
                if !std::mem::replace(&mut seen[n as usize], true) {
                    piece.push(n as usize);
                }
            }
        }
        let mut likeliest = std::iter::once(&largest.1).chain(&piece);
        let part = likeliest.find_map(|&t| parts.find(centre(t)).map(usize::from));
        let corners = || piece.iter().flat_map(|&t| mesh.triangles[t].map(|i| mesh.points[i as usize]));
        let part = part.or_else(|| nearest_part(outline, corners()));
        piece.iter().for_each(|&t| of_triangle[t] = part);
    }
    of_triangle
}
