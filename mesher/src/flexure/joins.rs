//! What flexures are rooted in. In: legs and nodes, chains of legs with their verdicts, named masses. Out: for the root line at an end
//! of a chain an anchor, a mass, a body or another flexure. µm.

use super::chain::{self, Chain, Stop, Verdict};
use super::graph::{self, End, Graph};
use crate::geometry::{NamedArea, Point, Polygon, ahead, distance, middle, unit};
use crate::locate::Locator;
use crate::outline::Joins;

/// What nodes are.
pub(super) struct Nodes<'a> {
    graph: &'a Graph,
    masses: &'a Locator,
    /// The first node of the body that each belongs to.
    bodies: Vec<usize>,
    /// Which are nothing but joints of flexures.
    joints: Vec<bool>,
    /// The only named mass of every body, by its first node.
    named: Vec<Option<usize>>,
    /// The flexures that end on each, in their order, with the end.
    flexures: Vec<Vec<(usize, End)>>,
}

impl<'a> Nodes<'a> {
    /// `masses` finds the masses of `areas`.
    pub fn new(graph: &'a Graph, chains: &[Chain], areas: &[NamedArea], masses: &'a Locator) -> Self {
        let bodies = chain::bodies(graph, chains);
        let joints = chain::joints(graph, chains, &bodies);
        let named = named_bodies(areas, graph, chains, &bodies);
        Self { graph, masses, bodies, joints, named, flexures: flexures_at(graph, chains) }
    }

    /// What a root line joins where a chain stops; at a joint the number of another chain that ends there.
    pub fn joins(&self, stop: Stop, root: [Point; 2]) -> Joins {
        let Stop::Node(n) = stop else { return Joins::Anchor };
        let mut others = self.flexures[n].iter().filter(|_| self.joints[n]);
        if let Some((c, _)) = others.find(|(_, (l, e))| graph::root_differs(&self.graph.legs[*l], *e, root)) {
            return Joins::Flexure(*c);
        }
        let width = distance(root[0], root[1]);
        let out = unit(root[0], root[1]);
        let beyond = [0.5, 0.1].map(|share| ahead(middle(root[0], root[1]), [out[1], -out[0]], share * width));
        let mass = beyond.iter().find_map(|p| self.masses.find(*p)).map(usize::from);
        mass.or(self.named[self.bodies[n]]).map_or(Joins::Frame, Joins::Mass)
    }
}

/// The only named mass of every body, by the body's first node.
fn named_bodies(masses: &[NamedArea], graph: &Graph, chains: &[Chain], bodies: &[usize]) -> Vec<Option<usize>> {
    let mut named: Vec<Vec<usize>> = vec![Vec::new(); bodies.len()];
    let nodes = graph.nodes.iter().zip(bodies).filter_map(|(node, body)| Some((*body, node.face?)));
    let legs = chains.iter().filter(|c| c.verdict == Verdict::Body).flat_map(|c| &c.legs);
    let legs = legs.filter_map(|(l, _)| Some((bodies[*graph.at[*l].iter().flatten().next()?], graph.face_of[*l]?)));
    let faces: Vec<(usize, Polygon)> = nodes.chain(legs).map(|(body, f)| (body, graph.faces[f].polygon())).collect();
    let locator = Locator::new(faces.iter().map(|(_, p)| std::slice::from_ref(p)));
    for (m, mass) in masses.iter().enumerate() {
        for p in mass.polygons.iter().filter_map(Polygon::inner_point) {
            if let Some(k) = locator.find(p) {
                let body = faces[usize::from(k)].0;
                if !named[body].contains(&m) {
                    named[body].push(m);
                }
            }
        }
    }
    named.into_iter().map(|m| if m.len() == 1 { Some(m[0]) } else { None }).collect()
}

/// For every node the flexures that end on it, in their order, with the end.
fn flexures_at(graph: &Graph, chains: &[Chain]) -> Vec<Vec<(usize, End)>> {
    let mut at: Vec<Vec<(usize, End)>> = vec![Vec::new(); graph.nodes.len()];
    for (c, chain) in chains.iter().enumerate().filter(|(_, c)| c.verdict == Verdict::Flexure) {
        for end in chain.ends {
            if let Some(n) = graph.at[end.0][end.1] {
                at[n].push((c, end));
            }
        }
    }
    at
}
