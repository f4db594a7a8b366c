//! Which cell contains which: the cell at the top, an order with children before parents, and every broken hierarchy as
//! an error.

use super::fault::GdsError;
use super::library::Library;
use std::collections::{HashMap, HashSet};

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
        let numbers = Numbers::new(library);
        let top = match cell {
            Some(name) => numbers.find(name)?.ok_or_else(|| unknown(library, name))?,
            None => only_top(library, &numbers)?,
        };
        let mut found = Self { top, order: Vec::new(), children: vec![Vec::new(); library.cells.len()] };
        found.descend(library, &numbers)?;
        Ok(found)
    }

    /// Depth first, without recursion: a stream can nest cells far deeper than a thread's stack.
    fn descend(&mut self, library: &Library, numbers: &Numbers<'_>) -> Result<(), GdsError> {
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
            let Some(child) = numbers.find(&reference.cell)? else {
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

/// Cells by name. Two of one name are an error only where that name is used.
struct Numbers<'a> {
    library: &'a Library,
    first: HashMap<&'a str, usize>,
    second: HashMap<&'a str, usize>,
}

impl<'a> Numbers<'a> {
    fn new(library: &'a Library) -> Self {
        let (mut first, mut second) = (HashMap::new(), HashMap::new());
        for (i, cell) in library.cells.iter().enumerate() {
            if *first.entry(cell.name.as_str()).or_insert(i) != i {
                second.entry(cell.name.as_str()).or_insert(i);
            }
        }
        Self { library, first, second }
    }

    fn find(&self, name: &str) -> Result<Option<usize>, GdsError> {
        let Some(&number) = self.first.get(name) else { return Ok(None) };
        let offset = |i: usize| self.library.cells[i].offset;
        match self.second.get(name) {
            None => Ok(Some(number)),
            Some(&other) => {
                Err(GdsError::DuplicateCell { name: name.to_owned(), first: offset(number), second: offset(other) })
            }
        }
    }
}

impl Library {
    /// Names of the cells that no other contains, in the order of the stream, each once.
    pub fn tops(&self) -> Vec<&str> {
        let references = self.cells.iter().flat_map(|c| &c.references);
        // Placed by others, or listed already.
        let mut known: HashSet<&str> = references.map(|reference| reference.cell.as_str()).collect();
        self.cells.iter().map(|c| c.name.as_str()).filter(|name| known.insert(name)).collect()
    }
}

/// The only cell that no other contains.
fn only_top(library: &Library, numbers: &Numbers<'_>) -> Result<usize, GdsError> {
    let tops = library.tops();
    match *tops.as_slice() {
        [top] => numbers.find(top)?.ok_or(GdsError::NoCells),
        // Every cell is inside another one: the first one leads into a cycle, which the descent names.
        [] if !library.cells.is_empty() => Ok(0),
        [] => Err(GdsError::NoCells),
        _ => Err(GdsError::SeveralTops { tops: tops.into_iter().map(str::to_owned).collect() }),
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
