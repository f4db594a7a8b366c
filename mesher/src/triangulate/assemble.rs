//! From the wedge to the mesh. In: the refined triangulation of one wedge and the strands its edges lie on. Out: all copies of the
//! wedge, joined on the mirror axes, in the layout frame, with mid-side points, what lies along edges and in triangles.

use super::error::TriangulateError;
use super::planar::Planar;
use super::refine::{NONE, Triangulation};
use super::strand::Role;
use super::symmetry::Frame;
use crate::geometry::{Point, centroid, middle};
use crate::locate::Locator;
use crate::mesh::{EdgeKind, Mesh, MeshError};
use crate::outline::Outline;

/// The mid-side point of edge `k` of a triangle, in the frame.
pub fn mid_side(triangulation: &Triangulation, planar: &Planar, t: usize, k: usize) -> Point {
    let me = &triangulation.triangles[t];
    let (a, b) = (me.corners[k], me.corners[(k + 1) % 3]);
    // From the lower number to the higher, so that both neighbours round alike.
    let (a, b) = (triangulation.points[a.min(b) as usize], triangulation.points[a.max(b) as usize]);
    planar.facets(me.strand[k]).map_or_else(|| middle(a, b), |facets| facets.mid_side(a, b))
}

/// Copies of the wedge, joined on the axes, with what lies along edges and in triangles; and of every edge that takes the place of
/// facets their length, µm.
pub fn assemble(
    wedge: &Triangulation,
    planar: &Planar,
    frame: &Frame,
    outline: &Outline,
) -> Result<(Mesh, Vec<Option<f64>>), TriangulateError> {
    let mut mesh = copies(wedge, planar, frame)?;
    let lengths = along_edges(&mut mesh, wedge, planar, frame);
    name_areas(&mut mesh, outline);
    mesh.mirrors.clone_from(&frame.mirrors);
    Ok((mesh, lengths))
}

/// Which points of the wedge lie on its first and on its second side.
fn on_axes(wedge: &Triangulation, planar: &Planar) -> Vec<[bool; 2]> {
    let mut on_axis = vec![[false; 2]; wedge.points.len()];
    for t in &wedge.triangles {
        for k in 0..3 {
            if let Some(Role::Axis(which)) = planar.role(t.strand[k]) {
                for corner in [t.corners[k], t.corners[(k + 1) % 3]] {
                    on_axis[corner as usize][which as usize] = true;
                }
            }
        }
    }
    on_axis
}

/// All copies as one mesh of straight edges.
fn copies(wedge: &Triangulation, planar: &Planar, frame: &Frame) -> Result<Mesh, MeshError> {
    let on_axis = on_axes(wedge, planar);
    // Copies 2k and 2k + 1 share the first axis, copies 2k and 2k + 3 the second.
    let copies = frame.copies();
    let owner = |copy: usize, point: usize| match on_axis[point] {
        [true, true] => 0,
        [true, false] => copy - copy % 2,
        [false, true] if copy % 2 == 1 => (copy + copies - 3) % copies,
        _ => copy,
    };
    let n = wedge.points.len();
    let mut number = vec![NONE; copies * n];
    let mut points: Vec<Point> = Vec::new();
    let mut triangles: Vec<[u32; 3]> = Vec::with_capacity(copies * wedge.triangles.len());
    for copy in 0..copies {
        for t in &wedge.triangles {
            let mut corners = t.corners.map(|c| {
                let c = c as usize;
                let slot = &mut number[owner(copy, c) * n + c];
                if *slot == NONE {
                    *slot = points.len() as u32;
                    points.push(frame.leave(frame.image(owner(copy, c), wedge.points[c])));
                }
                *slot
            });
            if copy % 2 == 1 {
                corners.swap(1, 2);
            }
            triangles.push(corners);
        }
    }
    let mut mesh = Mesh::from_triangles(points, triangles)?;
    mesh.long_in = wedge.long_in.repeat(copies);
    Ok(mesh)
}

/// Tells walls what lies along them and bends what follows facets of a circle; gives the lengths of the facets, by edge.
fn along_edges(mesh: &mut Mesh, wedge: &Triangulation, planar: &Planar, frame: &Frame) -> Vec<Option<f64>> {
    let mut lengths = vec![None; mesh.edges.len()];
    for copy in 0..frame.copies() {
        for (t, triangle) in wedge.triangles.iter().enumerate() {
            let of_triangle = mesh.triangle_edges[copy * wedge.triangles.len() + t];
            for k in 0..3 {
                let number = of_triangle[if copy % 2 == 1 { 2 - k } else { k }] as usize;
                let edge = &mut mesh.edges[number];
                match planar.role(triangle.strand[k]) {
                    Some(Role::Wall { held }) => edge.kind = if held { EdgeKind::Held } else { EdgeKind::Free },
                    Some(Role::Border) => {}
                    _ => continue,
                }
                if let Some(facets) = planar.facets(triangle.strand[k]) {
                    let [a, b] = [k, (k + 1) % 3].map(|c| wedge.points[triangle.corners[c] as usize]);
                    lengths[number] = Some(facets.measure(a, b).1);
                    edge.middle = frame.leave(frame.image(copy, mid_side(wedge, planar, t, k)));
                }
            }
        }
    }
    lengths
}

/// Tells triangles which mass and which flexure they lie in, and edges between masses that they do.
fn name_areas(mesh: &mut Mesh, outline: &Outline) {
    let masses = Locator::new(outline.masses.iter().map(|m| m.polygons.as_slice()));
    let flexures = Locator::new(outline.flexures.iter().map(|f| std::slice::from_ref(&f.area)));
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let centre = centroid(corners.map(|i| mesh.points[i as usize]));
        mesh.mass_of[t] = masses.find(centre);
        mesh.flexure_of[t] = flexures.find(centre);
    }
    mesh.mass_names = outline.masses.iter().map(|m| m.name.clone()).collect();
    let mut first: Vec<Option<usize>> = vec![None; mesh.edges.len()];
    for (t, edges) in mesh.triangle_edges.iter().enumerate() {
        for &e in edges {
            match first[e as usize] {
                None => first[e as usize] = Some(t),
                Some(other) if mesh.mass_of[other] != mesh.mass_of[t] => {
                    mesh.edges[e as usize].kind = EdgeKind::Interface;
                }
                _ => {}
            }
        }
    }
}
