//! Fill-reducing order of the unknowns.
//!
//! In: the pattern of a matrix, optionally the mesh entity of every unknown. Out: a permutation for its factor.
//! Nested dissection (George 1973) by multilevel vertex separators (Karypis & Kumar 1998, METIS) on the graph of the
//! mesh entities, expanded to unknowns, then a postorder of the elimination tree (Liu 1990) so that supernodes are
//! contiguous.

use super::error::SpectrumError;
use super::pencil::{Lower, UpperEntries};
use std::sync::Mutex;

/// A permutation: `forward[new] = old`, `inverse[old] = new`.
#[derive(Clone, Debug)]
pub(super) struct Order {
    pub(super) forward: Vec<u32>,
    pub(super) inverse: Vec<u32>,
}

impl Order {
    fn from_forward(forward: Vec<u32>) -> Self {
        let mut inverse = vec![0; forward.len()];
        for (new, &old) in forward.iter().enumerate() {
            inverse[old as usize] = new as u32;
        }
        Self { forward, inverse }
    }
}

/// The unknowns of every group, one group after the other.
struct Members {
    /// Numbers of the groups as given, rising.
    numbers: Vec<u32>,
    /// For every unknown the place of its group among them.
    group_of: Vec<u32>,
    start: Vec<u32>,
    unknowns: Vec<u32>,
}

impl Members {
    fn new(n: usize, groups: Option<&[u32]>) -> Self {
        let (numbers, group_of): (Vec<u32>, Vec<u32>) = match groups {
            None => ((0..n as u32).collect(), (0..n as u32).collect()),
            Some(given) => {
                let mut numbers = given.to_vec();
                numbers.sort_unstable();
                numbers.dedup();
                let group_of = given.iter().map(|g| numbers.partition_point(|x| x < g) as u32).collect();
                (numbers, group_of)
            }
        };
        let count = numbers.len();
        let mut start = vec![0u32; count + 1];
        for &g in &group_of {
            start[g as usize + 1] += 1;
        }
        for g in 0..count {
            start[g + 1] += start[g];
        }
        let mut next = start.clone();
        let mut unknowns = vec![0u32; n];
        for (unknown, &g) in group_of.iter().enumerate() {
            unknowns[next[g as usize] as usize] = unknown as u32;
            next[g as usize] += 1;
        }
        Self { numbers, group_of, start, unknowns }
    }

    fn of(&self, group: usize) -> &[u32] {
        &self.unknowns[self.start[group] as usize..self.start[group + 1] as usize]
    }
}

/// Graph of the groups: neighbours of every group, without itself, and how many unknowns it has.
pub(super) struct Graph {
    pub(super) start: Vec<i32>,
    pub(super) neighbours: Vec<i32>,
    pub(super) weight: Vec<i32>,
}

/// Places of mesh entities in a fill-reducing order, the same for all problems that are parts of one: found once.
#[derive(Clone, Debug)]
pub struct EntityOrder {
    /// By number of the entity; `u32::MAX` for one that has no unknown.
    rank: Vec<u32>,
}

impl EntityOrder {
    /// The order for one triangle of a pattern, given the entity of every unknown.
    pub(super) fn of(pattern: &Lower, groups: Option<&[u32]>) -> Result<Self, SpectrumError> {
        let members = Members::new(pattern.len(), groups);
        let mut rank = vec![u32::MAX; members.numbers.last().map_or(0, |&n| n as usize + 1)];
        for (place, &g) in dissect(&mut graph(&members, pattern)?)?.iter().enumerate() {
            rank[members.numbers[g as usize] as usize] = place as u32;
        }
        Ok(Self { rank })
    }

    /// Whether all of some entities are in it.
    pub(crate) fn knows(&self, groups: &[u32]) -> bool {
        groups.iter().all(|&g| self.rank.get(g as usize).is_some_and(|&rank| rank != u32::MAX))
    }

    /// The groups that there are by rank; those that it does not know come last.
    fn sorted(&self, members: &Members) -> Vec<i32> {
        let rank = |g: &i32| self.rank.get(members.numbers[*g as usize] as usize).copied().unwrap_or(u32::MAX);
        let mut groups: Vec<i32> = (0..members.numbers.len() as i32).collect();
        groups.sort_by_key(rank);
        groups
    }
}

/// The order for the factor of a pattern, on that of the entities if it is there.
pub(super) fn order(
    pattern: &Lower,
    groups: Option<&[u32]>,
    entities: Option<&EntityOrder>,
) -> Result<Order, SpectrumError> {
    let members = Members::new(pattern.len(), groups);
    let group_order = match entities {
        Some(entities) => entities.sorted(&members),
        None => dissect(&mut graph(&members, pattern)?)?,
    };
    let mut forward = Vec::with_capacity(pattern.len());
    group_order.iter().for_each(|&g| forward.extend_from_slice(members.of(g as usize)));
    let grouped = Order::from_forward(forward);
    let parents = elimination_tree(&pattern.upper_entries(&grouped.inverse));
    let post = postorder(&parents);
    Ok(Order::from_forward(post.into_iter().map(|p| grouped.forward[p as usize]).collect()))
}

/// The graph of the groups from one triangle of the pattern.
fn graph(members: &Members, pattern: &Lower) -> Result<Graph, SpectrumError> {
    let count = members.numbers.len();
    // Neighbours seen from the columns, each once; the mirror images are added after.
    let mut seen = vec![u32::MAX; count];
    let mut half: Vec<(u32, u32)> = Vec::new();
    for g in 0..count as u32 {
        seen[g as usize] = g;
        for &j in members.of(g as usize) {
            for &row in &pattern.row_idx[pattern.column(j as usize)] {
                let h = members.group_of[row as usize];
                if seen[h as usize] != g {
                    seen[h as usize] = g;
                    half.push((g, h));
                }
            }
        }
    }
    let mut start = vec![0usize; count + 1];
    for &(g, h) in &half {
        start[g as usize + 1] += 1;
        start[h as usize + 1] += 1;
    }
    for g in 0..count {
        start[g + 1] += start[g];
    }
    if start[count] > i32::MAX as usize {
        return Err(SpectrumError::TooLarge { entries: start[count] });
    }
    let mut next = start.clone();
    let mut doubled = vec![0u32; start[count]];
    for &(g, h) in &half {
        doubled[next[g as usize]] = h;
        next[g as usize] += 1;
        doubled[next[h as usize]] = g;
        next[h as usize] += 1;
    }
    let mut graph = Graph {
        start: vec![0],
        neighbours: Vec::with_capacity(doubled.len()),
        weight: members.start.windows(2).map(|w| (w[1] - w[0]) as i32).collect(),
    };
    for g in 0..count {
        let mut list = doubled[start[g]..start[g + 1]].to_vec();
        list.sort_unstable();
        list.dedup();
        graph.neighbours.extend(list.into_iter().map(|h| h as i32));
        graph.start.push(graph.neighbours.len() as i32);
    }
    Ok(graph)
}

/// METIS draws from the C library's generator, which is one for the whole process: calls must not interleave, or the
/// order, and with it the last bits of every result, would depend on the threads.
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// Seed of the generator inside METIS: any fixed number will do.
const SEED: i32 = 20_011;

#[allow(unsafe_code, reason = "METIS_NodeND has no safe wrapper")]
pub(super) fn dissect(graph: &mut Graph) -> Result<Vec<i32>, SpectrumError> {
    let mut count = graph.weight.len() as i32;
    let (mut forward, mut inverse) = (vec![0i32; graph.weight.len()], vec![0i32; graph.weight.len()]);
    if graph.neighbours.is_empty() {
        return Ok((0..count).collect());
    }
    let mut options = [-1i32; metis_sys::METIS_NOPTIONS as usize];
    options[metis_sys::moptions_et_METIS_OPTION_SEED as usize] = SEED;
    options[metis_sys::moptions_et_METIS_OPTION_NUMBERING as usize] = 0;
    let guard = ONE_AT_A_TIME.lock();
    // SAFETY: `start` has count + 1 ascending offsets into `neighbours`, every neighbour is below count, the graph is
    // symmetric without loops, and weights and both permutations have count elements. METIS does not keep the pointers.
    let status = unsafe {
        metis_sys::METIS_NodeND(
            &raw mut count,
            graph.start.as_mut_ptr(),
            graph.neighbours.as_mut_ptr(),
            graph.weight.as_mut_ptr(),
            options.as_mut_ptr(),
            forward.as_mut_ptr(),
            inverse.as_mut_ptr(),
        )
    };
    drop(guard);
    if status != metis_sys::rstatus_et_METIS_OK {
        return Err(SpectrumError::Inner { stage: "ordering", reason: format!("METIS_NodeND returned {status}") });
    }
    Ok(forward)
}

/// Parent of every column in the elimination tree, `u32::MAX` for roots (Liu 1990, with path compression).
fn elimination_tree(upper: &UpperEntries) -> Vec<u32> {
    let n = upper.start.len() - 1;
    let (mut parent, mut ancestor) = (vec![u32::MAX; n], vec![u32::MAX; n]);
    for j in 0..n as u32 {
        for &(row, _) in &upper.entries[upper.start[j as usize] as usize..upper.start[j as usize + 1] as usize] {
            let mut i = row;
            while i < j {
                let next = ancestor[i as usize];
                ancestor[i as usize] = j;
                if next == u32::MAX {
                    parent[i as usize] = j;
                    break;
                }
                i = next;
            }
        }
    }
    parent
}

/// Columns in an order in which every subtree is contiguous and ends with its root.
fn postorder(parent: &[u32]) -> Vec<u32> {
    let n = parent.len();
    let (mut first_child, mut sibling) = (vec![u32::MAX; n], vec![u32::MAX; n]);
    for j in (0..n).rev() {
        if parent[j] != u32::MAX {
            sibling[j] = first_child[parent[j] as usize];
            first_child[parent[j] as usize] = j as u32;
        }
    }
    let mut order = Vec::with_capacity(n);
    let mut stack = Vec::new();
    for root in (0..n).filter(|&j| parent[j] == u32::MAX) {
        stack.push(root as u32);
        while let Some(&top) = stack.last() {
            let child = first_child[top as usize];
            if child == u32::MAX {
                order.push(top);
                stack.pop();
            } else {
                first_child[top as usize] = sibling[child as usize];
                stack.push(child);
            }
        }
    }
    order
}
