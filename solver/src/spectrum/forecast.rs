//! What a factor will hold, told from the mesh entities alone: before any matrix is made. In: how many unknowns every entity has and
//! which entities meet in an element. Out: unknowns, entries of the matrix and of the factor.
//!
//! The order is that of the factor itself; the pattern of every column is that of its row beneath joined with those of its children
//! (George & Liu 1981, ch. 5), on entities instead of unknowns.

use super::error::SpectrumError;
use super::memory::Held;
use super::order::{Graph, dissect};
use super::wanted::Wanted;

/// What merged supernodes store in vain, as seen on flagship and perforated plates: at the most a tenth.
const MERGED: f64 = 1.1;

/// What one factor and its matrix hold.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Fill {
    /// Unknowns.
    pub unknowns: usize,
    /// Entries of one triangle of the matrix.
    pub entries: usize,
    /// Entries of the factor.
    pub factor_entries: usize,
}

impl Fill {
    /// From the unknowns of every entity and the entities of every element.
    ///
    /// # Errors
    /// When the order cannot be found.
    pub fn of(weights: &[u32], elements: &[[u32; 7]]) -> Result<Self, SpectrumError> {
        let mut number = vec![u32::MAX; weights.len()];
        let mut weight = Vec::new();
        for (entity, &w) in weights.iter().enumerate().filter(|(_, w)| **w > 0) {
            number[entity] = weight.len() as u32;
            weight.push(w as i32);
        }
        let mut beside: Vec<Vec<u32>> = vec![Vec::new(); weight.len()];
        for element in elements {
            let own = || element.iter().map(|&e| number[e as usize]).filter(|&n| n != u32::MAX);
            own().for_each(|a| beside[a as usize].extend(own().filter(|b| *b != a)));
        }
        for list in &mut beside {
            list.sort_unstable();
            list.dedup();
        }
        let mut graph = Graph { start: vec![0], neighbours: Vec::new(), weight };
        for list in &beside {
            graph.neighbours.extend(list.iter().map(|&n| n as i32));
            graph.start.push(graph.neighbours.len() as i32);
        }
        let order = dissect(&mut graph)?;
        let size = |entity: u32| graph.weight[entity as usize] as usize;
        let mut place = vec![0u32; order.len()];
        order.iter().enumerate().for_each(|(at, &entity)| place[entity as usize] = at as u32);
        let mut fill = Self::default();
        // Places that a column reaches, handed on to the first of them.
        let mut handed: Vec<Vec<u32>> = vec![Vec::new(); order.len()];
        for (at, &entity) in order.iter().enumerate() {
            let (entity, at) = (entity as u32, at as u32);
            let own = size(entity);
            let mut reach = std::mem::take(&mut handed[at as usize]);
            reach.extend(beside[entity as usize].iter().map(|&n| place[n as usize]));
            reach.retain(|&p| p > at);
            reach.sort_unstable();
            reach.dedup();
            let below: usize = reach.iter().map(|&p| size(order[p as usize] as u32)).sum();
            let near: usize =
                beside[entity as usize].iter().filter(|n| place[**n as usize] > at).map(|&n| size(n)).sum();
            fill.unknowns += own;
            fill.entries += own * (own + 1) / 2 + own * near;
            fill.factor_entries += own * (own + below);
            if let Some(&first) = reach.first() {
                let parent = &mut handed[first as usize];
                if parent.is_empty() { *parent = reach } else { parent.extend(reach) }
            }
        }
        fill.factor_entries = (MERGED * fill.factor_entries as f64) as usize;
        Ok(fill)
    }

    /// What a search in one of `parts` such problems holds, as [`super::Analysed::held`].
    pub fn held(&self, wanted: Wanted, block: usize, guessed: usize, parts: usize) -> Held {
        Held::of(self.unknowns, (self.entries, self.factor_entries), block, wanted.count_in(parts, guessed))
    }
}
