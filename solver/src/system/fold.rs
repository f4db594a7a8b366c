//! What the mirrors of a layout make of its system: a piece of the mesh, the motions of which are even or odd about each
//! mirror, and the way back to the whole.
//!
//! In: mesh (µm), layer, supports. Out: the piece with its system, the unknowns of every parity, modes over the whole. A motion
//! u is even about a mirror if it is its own image, odd if it is minus that: where a mirror lies, an even motion has no
//! displacement across it and an odd one none along it and none along z. Any one mirror splits the modes exactly, two that
//! cross at right angles split them into four (common practice; physics: the operators of the group commute with K and M).

use super::unknowns::Image;
use super::{Layer, PreStress, Structure, Supports, System, SystemError, Unknowns};
use crate::element::basis::interior_turned;
use modalith_mesher::half::{EXACT_UM, Half, Original};
use modalith_mesher::mesh::{Mesh, MirrorAxis};
use nalgebra::DMatrix;
use std::sync::Arc;

/// Where a mirror lies: across x (0) or y (1), µm.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Mirror {
    normal: usize,
    at_um: f64,
}

/// Whether a motion is odd about each mirror of a fold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parity(Vec<bool>);

/// What a mode's image in one mirror of the layout is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mirrored {
    /// The mirror lies across y, else across x.
    pub across_y: bool,
    /// Minus the mode, else the mode itself.
    pub odd: bool,
}

impl Mirrored {
    /// The axis that the mirror turns around.
    pub fn axis(self) -> &'static str {
        if self.across_y { "y" } else { "x" }
    }

    /// `even` or `odd`.
    pub fn parity(self) -> &'static str {
        if self.odd { "odd" } else { "even" }
    }
}

/// An entity of the whole in the piece: its number there and which of the mirrors lie between.
#[derive(Clone, Copy, Debug)]
struct Folded {
    entity: usize,
    /// Bit k: mirror k lies between.
    mirrored: u8,
    /// Which matrix turns its functions; 0 for none.
    turn: usize,
}

/// A mesh folded along its mirrors.
#[derive(Clone, Debug)]
pub struct Fold {
    mirrors: Vec<Mirror>,
    /// The piece.
    pub mesh: Arc<Mesh>,
    /// Triangles of the whole that the piece consists of.
    triangles: Vec<u32>,
    anchored: Vec<u32>,
    below: Vec<u32>,
    folded: Vec<Option<Folded>>,
    turns: Vec<DMatrix<f64>>,
    /// The stress in the piece before it moves.
    pre_stress: Option<PreStress>,
}

impl Fold {
    /// Folds a mesh along those of its mirrors that lie along x or y and that material, supports and fields have too. `None` where
    /// there is no such mirror, or where something other than anchors holds or loads the layer.
    pub fn along(structure: &Structure) -> Option<Self> {
        if !structure.is_plain() {
            return None;
        }
        let (mesh, layer, supports) = (structure.mesh(), structure.layer(), structure.supports());
        let mut piece = Piece::whole(mesh);
        let across = mesh.mirrors.iter().filter_map(MirrorAxis::across).map(|(normal, at_um)| Mirror { normal, at_um });
        for mirror in across.filter(|m| layer.has_mirror(m.normal)) {
            let normals = piece.mirrors.iter().map(|m| m.normal).collect::<Vec<_>>();
            if !normals.contains(&mirror.normal)
                && let Some(half) = Half::of(&piece.mesh, mirror.normal, mirror.at_um)
                && let Some(next) = piece.folded(mirror, half).filter(|next| next.is_alike(layer, supports))
            {
                piece = next;
            }
        }
        let fold = if piece.mirrors.is_empty() { None } else { piece.finish(mesh, layer, supports) };
        fold.map(|fold| Self { pre_stress: structure.pre_stress().map(|s| s.on(&fold.triangles)), ..fold })
    }

    /// All parities: two for one mirror, four for two.
    pub fn parities(&self) -> Vec<Parity> {
        let n = self.mirrors.len();
        (0..1_usize << n).map(|bits| Parity((0..n).map(|k| bits >> k & 1 == 1).collect())).collect()
    }

    /// The parity of a translation along an axis (0: x, 1: y, 2: z).
    pub fn parity_of_translation(&self, axis: usize) -> Parity {
        Parity(self.mirrors.iter().map(|m| m.normal == axis).collect())
    }

    /// What the images of a motion of a parity are (itself or its opposite), the mirror across x first.
    pub fn mirrored(&self, parity: &Parity) -> Vec<Mirrored> {
        let mirrored = |(mirror, &odd): (&Mirror, &bool)| Mirrored { across_y: mirror.normal == 1, odd };
        let mut images: Vec<Mirrored> = self.mirrors.iter().zip(&parity.0).map(mirrored).collect();
        images.sort_unstable();
        images
    }

    /// How many pieces make the whole.
    pub fn pieces(&self) -> usize {
        1 << self.mirrors.len()
    }

    /// Unknowns of the piece, motions of all parities together.
    pub(crate) fn unknowns(&self, part: &Layer) -> Unknowns {
        self.piece(part).unknowns()
    }

    /// The piece with the layer of one of the whole's motions.
    pub(crate) fn piece(&self, part: &Layer) -> Structure {
        let supports = Supports { anchored: self.anchored.clone(), below: self.below.clone(), ..Supports::default() };
        let piece = Structure::new(Arc::clone(&self.mesh), part.on(&self.triangles), supports);
        match &self.pre_stress {
            Some(stress) => piece.with_pre_stress(stress.clone()),
            None => piece,
        }
    }

    /// The piece's system, motions of all parities together.
    ///
    /// # Errors
    /// See [`SystemError`].
    pub fn assemble(&self, part: &Layer) -> Result<System, SystemError> {
        System::assemble(&self.piece(part))
    }

    /// Unknowns of the piece that a motion of a parity has.
    pub fn unknowns_of(&self, piece: &Unknowns, parity: &Parity) -> Vec<u32> {
        let corners = self.mesh.points.len();
        let lies = |mirror: &Mirror, entity: usize| {
            let on = |c: u32| (self.mesh.points[c as usize][mirror.normal] - mirror.at_um).abs() <= EXACT_UM;
            match entity.checked_sub(corners) {
                None => on(entity as u32),
                Some(edge) => self.mesh.edges.get(edge).is_some_and(|e| e.ends.into_iter().all(on)),
            }
        };
        let groups = piece.groups();
        let free = |u: &u32| {
            let across = |mirror: &Mirror| usize::from(piece.field(*u as usize).axis) == mirror.normal;
            let held =
                |(mirror, odd): (&Mirror, &bool)| across(mirror) != *odd && lies(mirror, groups[*u as usize] as usize);
            !self.mirrors.iter().zip(&parity.0).any(held)
        };
        (0..groups.len() as u32).filter(free).collect()
    }

    /// A motion of the whole from that of its piece, of some parity.
    pub fn unfold(&self, whole: &Unknowns, piece: &Unknowns, parity: &Parity, values: &[f64]) -> Vec<f64> {
        let image = |folded: &Folded| {
            let mut signs = [1.0; 3];
            let mirrors = self.mirrors.iter().zip(&parity.0).enumerate();
            for (_, (mirror, odd)) in mirrors.filter(|(k, _)| folded.mirrored >> k & 1 == 1) {
                for (axis, sign) in signs.iter_mut().enumerate() {
                    *sign *= if (axis == mirror.normal) == *odd { 1.0 } else { -1.0 };
                }
            }
            let functions = folded.turn.checked_sub(1).map(|turn| &self.turns[turn]);
            Image { entity: folded.entity, signs, functions }
        };
        let images: Vec<Option<Image<'_>>> = self.folded.iter().map(|f| f.as_ref().map(image)).collect();
        piece.unfolded(whole, &images, values)
    }
}

/// A mesh folded so far.
#[derive(Clone)]
struct Piece {
    mirrors: Vec<Mirror>,
    mesh: Mesh,
    corners: Vec<Option<Place>>,
    edges: Vec<Option<Place>>,
    triangles: Vec<Option<Place>>,
}

/// Number in the piece, and which mirrors lie between, bit by bit.
#[derive(Clone, Copy)]
struct Place {
    number: u32,
    mirrored: u8,
}

impl Piece {
    fn whole(mesh: &Mesh) -> Self {
        let all = |n: usize| (0..n as u32).map(|number| Some(Place { number, mirrored: 0 })).collect();
        Self {
            mirrors: Vec::new(),
            mesh: mesh.clone(),
            corners: all(mesh.points.len()),
            edges: all(mesh.edges.len()),
            triangles: all(mesh.triangles.len()),
        }
    }

    fn folded(&self, mirror: Mirror, half: Half) -> Option<Self> {
        let through = |places: &[Option<Place>], next: &dyn Fn(usize) -> Option<Original>| {
            let place = |place: Place| {
                let original = next(place.number as usize)?;
                let mirrored = place.mirrored | u8::from(original.mirrored) << self.mirrors.len();
                Some(Place { number: original.number, mirrored })
            };
            places.iter().map(|p| p.and_then(place)).collect()
        };
        Some(Self {
            mirrors: self.mirrors.iter().copied().chain([mirror]).collect(),
            corners: through(&self.corners, &|n| half.corners[n]),
            edges: through(&self.edges, &|n| Some(half.edges[n])),
            triangles: through(&self.triangles, &|n| Some(half.triangles[n])),
            mesh: half.mesh,
        })
    }

    /// Whether supports and fields of the whole are images of those of the piece.
    fn is_alike(&self, layer: &Layer, supports: &Supports) -> bool {
        let edges = marked(self.edges.len(), &supports.anchored);
        let below = marked(self.triangles.len(), &supports.below);
        let regions = &layer.regions;
        let same = |t: usize, o: usize| {
            below[t] == below[o] && regions.set_of(t) == regions.set_of(o) && regions.lowered(t) == regions.lowered(o)
        };
        alike(&self.edges, |e, o| edges[e] == edges[o]) && alike(&self.triangles, same)
    }

    fn finish(self, whole: &Mesh, layer: &Layer, supports: &Supports) -> Option<Fold> {
        let order = layer.order;
        let mut turns = vec![DMatrix::from_fn(order.per_edge(), order.per_edge(), |a, b| match a == b {
            true if a % 2 == 1 => -1.0,
            same => f64::from(u8::from(same)),
        })];
        for corners in TURNED {
            turns.push(interior_turned(order, corners)?);
        }
        let corner = |c: u32| self.corners[c as usize].map(|p| p.number);
        let image = |first: usize, place: Place, turn: usize| Folded {
            entity: first + place.number as usize,
            mirrored: place.mirrored,
            turn,
        };
        let mut folded: Vec<Option<Folded>> = self.corners.iter().map(|p| p.map(|p| image(0, p, 0))).collect();
        let (corners, edges) = (self.mesh.points.len(), self.mesh.edges.len());
        for (edge, place) in whole.edges.iter().zip(&self.edges) {
            let turn = usize::from(corner(edge.ends[0])? > corner(edge.ends[1])?);
            folded.push(Some(image(corners, (*place)?, turn)));
        }
        for (triangle, place) in whole.triangles.iter().zip(&self.triangles) {
            let place = (*place)?;
            let own = self.mesh.triangles[place.number as usize];
            let mut local = [0; 3];
            for (k, c) in triangle.iter().enumerate() {
                let number = corner(*c)?;
                local[k] = own.iter().position(|o| *o == number)?;
            }
            let turn = if local == [0, 1, 2] { 0 } else { 2 + TURNED.iter().position(|t| *t == local)? };
            folded.push(Some(image(corners + edges, place, turn)));
        }
        let chosen = |marks: &[u32], places: &[Option<Place>]| -> Vec<u32> {
            let own = marks.iter().filter_map(|&e| direct(places[e as usize]));
            own.collect()
        };
        let mut triangles = vec![0; self.mesh.triangles.len()];
        for (t, place) in self.triangles.iter().enumerate() {
            if let Some(number) = direct(*place) {
                triangles[number as usize] = t as u32;
            }
        }
        Some(Fold {
            anchored: chosen(&supports.anchored, &self.edges),
            below: chosen(&supports.below, &self.triangles),
            mirrors: self.mirrors,
            mesh: Arc::new(self.mesh),
            triangles,
            folded,
            turns,
            pre_stress: None,
        })
    }
}

/// Corners of a triangle as those of its image, wherever it starts.
const TURNED: [[usize; 3]; 5] = [[1, 2, 0], [2, 0, 1], [0, 2, 1], [1, 0, 2], [2, 1, 0]];

fn marked(n: usize, marks: &[u32]) -> Vec<bool> {
    let mut marked = vec![false; n];
    marks.iter().for_each(|&e| marked[e as usize] = true);
    marked
}

/// The number in the piece of what lies there itself.
fn direct(place: Option<Place>) -> Option<u32> {
    place.filter(|p| p.mirrored == 0).map(|p| p.number)
}

/// Whether something holds between every thing and its original.
fn alike(places: &[Option<Place>], same: impl Fn(usize, usize) -> bool) -> bool {
    let mut original = vec![usize::MAX; places.len()];
    for (e, place) in places.iter().enumerate() {
        if let Some(number) = direct(*place) {
            original[number as usize] = e;
        }
    }
    places.iter().enumerate().all(|(e, p)| p.is_none_or(|p| same(e, original[p.number as usize])))
}
