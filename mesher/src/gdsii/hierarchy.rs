//! Which cell contains which: the cell at the top, an order with children before parents, and every broken hierarchy as
//! an error.

use super::fault::GdsError;
use super::library::Library;
use std::collections::HashMap;

/// The cells below one cell.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Hierarchy {
    /// The cell at the top.
    pub top: usize,
    /// It and everything it contains, children before parents.
    pub order: Vec<usize>,
    /// For each cell of the library that is in `order`: the cells its references name, in their order.
    pub children: Vec<Vec<usize>>,
}

impl Hierarchy {
    /// Sorts the cells below `cell`, or below the only cell that no other contains.
    pub fn new(library: &Library, cell: Option<&str>) -> Result<Self, GdsError> {
        let numbers: HashMap<&str, usize> =
            library.cells.iter().enumerate().map(|(i, c)| (c.name.as_str(), i)).collect();
        let top = match cell {
            Some(name) => *numbers.get(name).ok_or_else(|| unknown(library, name))?,
            None => only_top(library, &numbers)?,
        };
        let mut found = Self { top, order: Vec::new(), children: vec![Vec::new(); library.cells.len()] };
        found.descend(library, &numbers)?;
        Ok(found)
    }

    /// Depth first, without recursion: a stream can nest cells far deeper than a thread's stack.
    fn descend(&mut self, library: &Library, numbers: &HashMap<&str, usize>) -> Result<(), GdsError> {
        let mut state = vec![State::New; library.cells.len()];
        let mut chain = vec![self.top];
        state[self.top] = State::Open;
        while let Some(&at) = chain.last() {
            let cell = &library.cells[at];
            let Some(reference) = cell.references.get(self.children[at].len()) else {
                state[at] = State::Done;
                self.order.push(at);
                chain.pop();
                continue;
            };
            let Some(&child) = numbers.get(reference.cell.as_str()) else {
                let (cell, target) = (cell.name.clone(), reference.cell.clone());
                return Err(GdsError::Dangling { cell, target, offset: reference.offset });
            };
            self.children[at].push(child);
            match state[child] {
                State::New => {
                    state[child] = State::Open;
                    chain.push(child);
                }
                State::Open => {
                    let around = chain.iter().skip_while(|&&c| c != child).chain([&child]);
                    return Err(GdsError::Cycle { chain: around.map(|&c| library.cells[c].name.clone()).collect() });
                }
                State::Done => {}
            }
        }
        Ok(())
    }
}

#[derive(Clone, Copy, PartialEq)]
enum State {
    New,
    Open,
    Done,
}

/// The only cell that no other contains.
fn only_top(library: &Library, numbers: &HashMap<&str, usize>) -> Result<usize, GdsError> {
    let mut inside = vec![false; library.cells.len()];
    for reference in library.cells.iter().flat_map(|c| &c.references) {
        if let Some(&child) = numbers.get(reference.cell.as_str()) {
            inside[child] = true;
        }
    }
    let tops: Vec<usize> = (0..inside.len()).filter(|&i| !inside[i]).collect();
    match *tops.as_slice() {
        [top] => Ok(top),
        // Every cell is inside another one: the first one leads into a cycle, which the descent names.
        [] if !library.cells.is_empty() => Ok(0),
        [] => Err(GdsError::NoCells),
        _ => Err(GdsError::SeveralTops { tops: tops.iter().map(|&i| library.cells[i].name.clone()).collect() }),
    }
}

fn unknown(library: &Library, name: &str) -> GdsError {
    if library.cells.is_empty() {
        return GdsError::NoCells;
    }
    // Names can be tens of thousands of bytes long, and the comparison's time grows with the square.
    let start = |text: &str| text.chars().take(64).collect::<String>().to_lowercase();
    let wanted = start(name);
    let mut ranked: Vec<(usize, usize)> = library
        .cells
        .iter()
        .enumerate()
        .map(|(i, c)| (strsim::damerau_levenshtein(&wanted, &start(&c.name)), i))
        .collect();
    ranked.sort_unstable();
    let nearest = ranked.iter().take(5).map(|&(_, i)| library.cells[i].name.clone()).collect();
    GdsError::UnknownCell { name: name.to_owned(), nearest }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gdsii::library::{Cell, Reference};

    fn library(cells: &[(&str, &[&str])]) -> Library {
        let reference = |name: &&str| Reference {
            offset: 42,
            cell: (*name).to_owned(),
            mirrored: false,
            magnification: 1.0,
            absolute_magnification: false,
            angle_deg: 0.0,
            absolute_angle: false,
            origin: [0, 0],
            array: None,
        };
        let cell = |(name, inside): &(&str, &[&str])| Cell {
            name: (*name).to_owned(),
            references: inside.iter().map(reference).collect(),
            ..Cell::default()
        };
        Library { cells: cells.iter().map(cell).collect(), ..Library::default() }
    }

    #[test]
    fn children_come_before_parents() {
        let library = library(&[("top", &["b", "a", "a"]), ("a", &["c"]), ("b", &["a", "c"]), ("c", &[])]);
        let found = Hierarchy::new(&library, None).unwrap();
        assert_eq!(found.top, 0);
        assert_eq!(found.order, [3, 1, 2, 0]);
        assert_eq!(found.children, [vec![2, 1, 1], vec![3], vec![1, 3], vec![]]);
        assert_eq!(Hierarchy::new(&library, Some("b")).unwrap().order, [3, 1, 2]);
    }

    #[test]
    fn a_cycle_is_named_whole() {
        let round = library(&[("top", &["a"]), ("a", &["b"]), ("b", &["c"]), ("c", &["a"])]);
        let error = Hierarchy::new(&round, None).unwrap_err();
        assert_eq!(error, GdsError::Cycle { chain: ["a", "b", "c", "a"].map(String::from).to_vec() });
        assert!(error.to_string().contains("\"a\" places \"b\" places \"c\" places \"a\""));
        let own = library(&[("self", &["self"])]);
        assert!(matches!(Hierarchy::new(&own, None), Err(GdsError::Cycle { chain }) if chain == ["self", "self"]));
        // A cycle elsewhere does not concern a cell that does not contain it.
        let elsewhere = library(&[("top", &["a"]), ("a", &[]), ("x", &["y"]), ("y", &["x"])]);
        assert!(Hierarchy::new(&elsewhere, Some("top")).is_ok());
    }

    #[test]
    fn a_deep_chain_needs_no_deep_stack() {
        let names: Vec<String> = (0..200_000).map(|i| i.to_string()).collect();
        let mut deep = library(&[]);
        for (i, name) in names.iter().enumerate() {
            let inside = names.get(i + 1).map(String::as_str);
            deep.cells.extend(library(&[(name, inside.as_slice())]).cells);
        }
        assert_eq!(Hierarchy::new(&deep, None).unwrap().order.len(), names.len());
    }

    #[test]
    fn names_that_do_not_exist() {
        let two = library(&[("fork", &[]), ("frame", &["gone"])]);
        let Err(GdsError::UnknownCell { nearest, .. }) = Hierarchy::new(&two, Some("Forc")) else { panic!() };
        assert_eq!(nearest, ["fork", "frame"]);
        assert_eq!(
            Hierarchy::new(&two, Some("frame")),
            Err(GdsError::Dangling { cell: "frame".into(), target: "gone".into(), offset: 42 })
        );
        assert!(matches!(Hierarchy::new(&two, None), Err(GdsError::SeveralTops { tops }) if tops == ["fork", "frame"]));
        assert_eq!(Hierarchy::new(&library(&[]), None), Err(GdsError::NoCells));
        assert_eq!(Hierarchy::new(&library(&[]), Some("a")), Err(GdsError::NoCells));
    }
}
