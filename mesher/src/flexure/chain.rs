//! Which legs are flexures. In: the graph of legs and nodes. Out: chains of legs from end to end, each with its verdict. µm.

use super::graph::{End, Graph};
use super::line::{self, Station, middle_line};
use crate::geometry::{Point, distance, dot};
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

/// A flexure is at least so many widths long.
pub const SLENDER: f64 = 3.0;

/// Widths within this ratio are alike: legs go on through a corner, meet at a joint. A wider strip is a frame.
const ALIKE: f64 = 1.4;
/// Legs go straight through a joint within this angle, as a cosine (20°).
const STRAIGHT: f64 = 0.94;
/// A closed ring has at least so many joints.
const RING_JOINTS: usize = 3;

/// What a chain is taken for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Verdict {
    Flexure,
    Finger,
    /// Part of a body.
    Body,
}

/// Share of its part above which a strip with a free end is no finger.
const SMALL: f64 = 0.2;

/// How a chain ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stop {
    Anchor,
    /// The tip of a finger.
    Free(usize),
    /// On a node: a body, a frame or a joint.
    Node(usize),
}

/// Legs joined through corners.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    /// Legs in order, and whether each is taken backwards.
    pub legs: Vec<(usize, bool)>,
    /// First and last end.
    pub ends: [End; 2],
    pub stops: [Stop; 2],
    pub line: Vec<Station>,
    pub verdict: Verdict,
    /// It would be a flexure to an anchor if no named mass lay over it.
    pub in_mass: bool,
    /// A clearly narrower one goes on where it ends, so that it carries what that carries.
    pub stepped: bool,
}

impl Chain {
    pub fn length(&self) -> f64 {
        line::length(&self.line)
    }

    /// Narrowest width, µm.
    pub fn narrowest(&self) -> f64 {
        self.line.iter().map(|s| s.width).fold(f64::INFINITY, f64::min)
    }

    fn mean_width(&self) -> f64 {
        let weights = self.line.windows(2).map(|w| {
            let l = distance(w[0].at, w[1].at);
            (l, 0.5 * l * (w[0].width + w[1].width))
        });
        let (length, area) = weights.fold((0.0, 0.0), |s, w| (s.0 + w.0, s.1 + w.1));
        area / length
    }

    /// Slender, but no flexure though it carries load as one: it ends on an anchor, or a narrower one goes on where it ends, or
    /// material that no leg and no face was made of.
    pub fn cut_off(&self, graph: &Graph) -> bool {
        let lost = |s: &Stop| matches!(s, Stop::Free(n) if graph.nodes.get(*n).is_some_and(|n| n.face.is_none()));
        let held = self.stops.contains(&Stop::Anchor) && !self.in_mass;
        self.verdict == Verdict::Body && self.slender() && (held || self.stepped || self.stops.iter().any(lost))
    }

    /// Whether it is a small thing on its part, as a finger is: a tine, or half of a bar that is the mass itself, is none.
    fn is_small_beside(&self, part_um2: impl Fn(Point) -> f64) -> bool {
        let middle = self.line.get(self.line.len() / 2).map_or(0.0, |s| part_um2(s.at));
        self.length() * self.mean_width() <= SMALL * middle
    }

    pub fn slender(&self) -> bool {
        self.length() >= SLENDER * self.mean_width()
    }
}

/// All chains; `inside_mass` tells whether a middle line runs in a named mass, `part_um2` how large the part is that a place lies in, µm².
pub(super) fn chains(
    graph: &mut Graph,
    inside_mass: impl Fn(&[Station]) -> bool,
    part_um2: impl Fn(Point) -> f64,
) -> Vec<Chain> {
    drop_stubs(graph);
    let mut chains = joined(graph);
    let mut chain_of = vec![usize::MAX; graph.legs.len()];
    for (c, chain) in chains.iter().enumerate() {
        chain.legs.iter().for_each(|(l, _)| chain_of[*l] = c);
    }
    for chain in &mut chains {
        let free = chain.stops.iter().filter(|s| matches!(s, Stop::Free(_))).count();
        let anchors = chain.stops.iter().filter(|s| **s == Stop::Anchor).count();
        chain.in_mass = free == 0 && anchors > 0 && chain.slender() && inside_mass(&chain.line);
        chain.verdict = match (free, anchors) {
            (0, _) if chain.slender() && !inside_mass(&chain.line) => Verdict::Flexure,
            (1, 0) if chain.slender() && chain.is_small_beside(&part_um2) => Verdict::Finger,
            _ => Verdict::Body,
        };
    }
    // A strip with narrower ones, or with fingers, on its side is a frame.
    for node in graph.nodes.iter().filter(|n| n.block && n.ends.len() > 1) {
        let widest = node.ends.iter().map(|e| graph.width(e)).fold(0.0, f64::max);
        let alike: Vec<&End> = node.ends.iter().filter(|e| graph.width(e) * ALIKE >= widest).collect();
        let finger = |e: &&End| chains[chain_of[e.0]].verdict == Verdict::Finger;
        let narrower = node.ends.len() > alike.len();
        let fingers = node.ends.len() > 2 && node.ends.iter().any(|e| finger(&e));
        if (narrower && alike.len() < 3) || fingers {
            let out = |e: &End| graph.legs[e.0].outward(e.1);
            let straight_on = matches!(node.ends.as_slice(), [a, b] if -dot(out(a), out(b)) >= STRAIGHT);
            let frames: Vec<usize> = alike.iter().filter(|e| !(fingers && finger(e))).map(|e| chain_of[e.0]).collect();
            for c in frames {
                chains[c].verdict = Verdict::Body;
                chains[c].stepped |= straight_on;
            }
        }
    }
    for c in rings(graph, &chains, &chain_of) {
        chains[c].verdict = Verdict::Body;
    }
    loop {
        let inner = inside_one_body(graph, &chains);
        if inner.is_empty() {
            return chains;
        }
        inner.into_iter().for_each(|c| chains[c].verdict = Verdict::Body);
    }
}

/// Takes short dead ends off the nodes they end on: marks and bumps on a wall, not legs. Legs are looked at in their order, again
/// and again until none goes; one is looked at anew only where the node at its other end has become its tip.
fn drop_stubs(graph: &mut Graph) {
    let widths = |ends: &[End]| {
        let mut sorted: Widths = BTreeMap::new();
        ends.iter().for_each(|e| *sorted.entry(graph.width(e).to_bits()).or_default() += 1);
        sorted
    };
    let mut on: Vec<(usize, Widths)> = graph.nodes.iter().map(|n| (n.ends.len(), widths(&n.ends))).collect();
    let mut open: BTreeSet<usize> = (0..graph.legs.len()).collect();
    let mut from = 0;
    while let Some(l) = open.range(from..).next().copied().or_else(|| open.first().copied()) {
        open.remove(&l);
        from = l + 1;
        let is_tip = |n: usize| graph.nodes[n].block && on[n].0 == 1;
        let Some(tip) = (0..2).find(|e| graph.at[l][*e].is_some_and(is_tip)) else { continue };
        let Some(other) = graph.at[l][1 - tip] else { continue };
        let leg = &graph.legs[l];
        let short = leg.length() + 0.5 * leg.width(tip) < SLENDER * leg.width(tip);
        let own = leg.width(1 - tip);
        let (count, widths) = &mut on[other];
        take(widths, own);
        let beside = widest(widths);
        if !(short && own <= ALIKE * beside) {
            *widths.entry(own.to_bits()).or_default() += 1;
            continue;
        }
        *count -= 1;
        let last = *count == 1;
        graph.at[l][1 - tip] = None;
        graph.size(other, beside);
        if last {
            open.extend(graph.nodes[other].ends.iter().filter(|(l, e)| graph.at[*l][*e] == Some(other)).map(|e| e.0));
        }
    }
    for n in 0..graph.nodes.len() {
        let at = &graph.at;
        graph.nodes[n].ends.retain(|(l, e)| at[*l][*e] == Some(n));
    }
}

/// How many legs of every width end on a node; the bits of positive numbers are in their order.
type Widths = BTreeMap<u64, usize>;

fn take(widths: &mut Widths, width: f64) {
    if let Some(count) = widths.get_mut(&width.to_bits()) {
        *count -= 1;
        if *count == 0 {
            widths.remove(&width.to_bits());
        }
    }
}

fn widest(widths: &Widths) -> f64 {
    widths.last_key_value().map_or(0.0, |(bits, _)| f64::from_bits(*bits))
}

/// Joins legs through blocks with two ends of alike width.
fn joined(graph: &Graph) -> Vec<Chain> {
    let through = |(l, e): End| -> Option<End> {
        let node = &graph.nodes[graph.at[l][e]?];
        let other = *node.ends.iter().find(|o| **o != (l, e))?;
        let (a, b) = (graph.width(&(l, e)), graph.width(&other));
        (node.block && node.ends.len() == 2 && a.max(b) <= ALIKE * a.min(b)).then_some(other)
    };
    let mut done = vec![false; graph.legs.len()];
    let mut out = Vec::new();
    for l in 0..graph.legs.len() {
        if done[l] {
            continue;
        }
        // Back to the first leg, or round a closed ring to the start.
        let mut first = (l, 0);
        while let Some((k, e)) = through(first) {
            first = (k, 1 - e);
            if k == l {
                break;
            }
        }
        let mut legs = Vec::new();
        let mut nodes = Vec::new();
        let mut at = first;
        let last = loop {
            done[at.0] = true;
            legs.push((at.0, at.1 == 1));
            let far = (at.0, 1 - at.1);
            match through(far) {
                Some(next) if !done[next.0] => {
                    nodes.push(graph.at[far.0][far.1]);
                    at = next;
                }
                _ => break far,
            }
        };
        let stop = |(l, e): End| match graph.at[l][e] {
            _ if graph.legs[l].held[e] => Stop::Anchor,
            Some(n) if graph.nodes[n].block && graph.nodes[n].ends.len() == 1 => Stop::Free(n),
            Some(n) => Stop::Node(n),
            // A stub.
            None => Stop::Free(usize::MAX),
        };
        let pairs: Vec<_> = legs.iter().map(|(l, back)| (&graph.legs[*l], *back)).collect();
        let line = middle_line(&pairs, nodes.iter().map(|n| n.and_then(|n| graph.border(n))));
        // A closed ring has no ends.
        let ring = through(first) == Some(last) && (first != last);
        let verdict = if ring { Verdict::Body } else { Verdict::Flexure };
        let stops = if ring { [Stop::Free(usize::MAX); 2] } else { [stop(first), stop(last)] };
        out.push(Chain { legs, ends: [first, last], stops, line, verdict, in_mass: false, stepped: false });
    }
    out
}

/// Chains that go straight through joints until they close: the ring of a ring resonator.
fn rings(graph: &Graph, chains: &[Chain], chain_of: &[usize]) -> BTreeSet<usize> {
    let live = |e: &End| chains[chain_of[e.0]].verdict == Verdict::Flexure;
    let mut found = BTreeSet::new();
    // Ends from which the way leads nowhere.
    let mut blind: HashSet<End> = HashSet::new();
    for start in (0..chains.len()).filter(|c| chains[*c].verdict == Verdict::Flexure) {
        let (mut passed, mut left) = (HashSet::from([start]), vec![chains[start].ends[1]]);
        let mut at = left[0];
        let closed = loop {
            let block = graph.at[at.0][at.1].filter(|n| graph.nodes[*n].block && !blind.contains(&at));
            let out = graph.legs[at.0].outward(at.1);
            let ahead = block.map_or(&[][..], |n| &graph.nodes[n].ends).iter().filter(|e| **e != at && live(e));
            let next = ahead.copied().find(|(l, e)| dot(graph.legs[*l].outward(*e), out) < -STRAIGHT);
            let Some(next) = next else {
                blind.extend(left);
                break false;
            };
            let c = chain_of[next.0];
            if !passed.insert(c) {
                break c == start;
            }
            at = if chains[c].ends[0] == next { chains[c].ends[1] } else { chains[c].ends[0] };
            left.push(at);
        };
        if closed && passed.len() >= RING_JOINTS {
            found.extend(passed);
        }
    }
    found
}

/// Which node belongs to which body: nodes joined by what is no flexure.
pub(super) fn bodies(graph: &Graph, chains: &[Chain]) -> Vec<usize> {
    let mut body: Vec<usize> = (0..graph.nodes.len()).collect();
    for chain in chains.iter().filter(|c| c.verdict == Verdict::Body) {
        let mut touched = chain.legs.iter().flat_map(|(l, _)| graph.at[*l]).flatten();
        if let Some(first) = touched.next() {
            touched.for_each(|n| unite(&mut body, first, n));
        }
    }
    (0..body.len()).map(|n| root(&body, n)).collect()
}

fn root(of: &[usize], mut k: usize) -> usize {
    while of[k] != k {
        k = of[k];
    }
    k
}

fn unite(of: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root(of, a), root(of, b));
    of[a.max(b)] = a.min(b);
}

/// Which nodes are nothing but joints of flexures.
pub(super) fn joints(graph: &Graph, chains: &[Chain], bodies: &[usize]) -> Vec<bool> {
    let mut joint: Vec<bool> = graph.nodes.iter().map(|n| n.block && n.ends.len() > 2).collect();
    for (n, b) in bodies.iter().enumerate().filter(|(n, b)| n != *b) {
        (joint[n], joint[*b]) = (false, false);
    }
    for (l, _) in chains.iter().filter(|c| c.verdict != Verdict::Flexure).flat_map(|c| &c.legs) {
        graph.at[*l].iter().flatten().for_each(|n| joint[*n] = false);
    }
    joint
}

/// Flexures that, with the joints between them, touch one unheld body only and no anchor: rims and webs of a plate.
fn inside_one_body(graph: &Graph, chains: &[Chain]) -> Vec<usize> {
    let body = bodies(graph, chains);
    let joint = joints(graph, chains, &body);
    let mut held = vec![false; graph.nodes.len()];
    (0..body.len()).for_each(|n| held[body[n]] |= graph.nodes[n].held);
    for (l, _) in chains.iter().filter(|c| c.verdict == Verdict::Body).flat_map(|c| &c.legs) {
        let on_anchor = graph.legs[*l].held.contains(&true);
        graph.at[*l].iter().flatten().for_each(|n| held[body[*n]] |= on_anchor);
    }
    // Networks of flexures joined by joints.
    let mut network: Vec<usize> = (0..chains.len()).collect();
    let mut at_joint: HashMap<usize, usize> = HashMap::new();
    let flexures: Vec<usize> = (0..chains.len()).filter(|c| chains[*c].verdict == Verdict::Flexure).collect();
    for &c in &flexures {
        for stop in chains[c].stops {
            if let Stop::Node(n) = stop
                && joint[n]
            {
                let other = *at_joint.entry(n).or_insert(c);
                unite(&mut network, other, c);
            }
        }
    }
    let mut touches: HashMap<usize, (HashSet<usize>, bool)> = HashMap::new();
    for &c in &flexures {
        let (touched, grounded) = touches.entry(root(&network, c)).or_default();
        for stop in chains[c].stops {
            match stop {
                Stop::Node(n) if joint[n] => {}
                Stop::Node(n) => {
                    *grounded |= held[body[n]];
                    touched.insert(body[n]);
                }
                _ => *grounded = true,
            }
        }
    }
    let inner = |c: &usize| touches.get(&root(&network, *c)).is_some_and(|(t, grounded)| !grounded && t.len() < 2);
    flexures.into_iter().filter(inner).collect()
}
