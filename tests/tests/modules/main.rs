//! Modules of a crate do not use each other in circles, and nothing in them grows too long.

mod sizes;
mod sources;

use petgraph::algo::tarjan_scc;
use petgraph::graphmap::DiGraphMap;
use sources::{Arrow, Crate, Failure};
use std::collections::BTreeSet;
use std::path::Path;

const CRATES: [&str; 3] = ["mesher", "solver", "cli"];

/// The arrows that lie in a circle.
fn in_circles(arrows: &[Arrow]) -> Vec<&Arrow> {
    let mut graph: DiGraphMap<&str, ()> = DiGraphMap::new();
    for a in arrows {
        graph.add_edge(&a.from, &a.to, ());
    }
    let circles: Vec<BTreeSet<&str>> = tarjan_scc(&graph).into_iter().map(|c| c.into_iter().collect()).collect();
    let one = |a: &&Arrow| circles.iter().any(|c| c.contains(a.from.as_str()) && c.contains(a.to.as_str()));
    arrows.iter().filter(one).collect()
}

#[test]
fn no_circles() -> Result<(), Failure> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().ok_or("the crate lies in the workspace")?;
    let mut arrows = Vec::new();
    for name in CRATES {
        arrows.extend(Crate::read(&root.join(name))?.arrows(root));
    }
    let closes = |a: &&Arrow| format!("{}:{} closes a circle: it uses {}", a.from, a.line, a.to);
    let found: Vec<String> = in_circles(&arrows).iter().map(closes).collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
    Ok(())
}

/// A circle through a re-export and a macro call is found, with its line; what only tests use is not in it.
#[test]
fn circles_are_found() -> Result<(), Failure> {
    let folder = tempfile::tempdir()?;
    let source = folder.path().join("src");
    std::fs::create_dir_all(source.join("shape"))?;
    let write = |name: &str, text: &str| std::fs::write(source.join(name), text);
    write("lib.rs", "mod shape;\nmod user;\nmod leaf;\n")?;
    write("shape.rs", "mod round;\npub use round::Round;\n")?;
    write("shape/round.rs", "pub struct Round;\nfn f() {\n    println!(\"{}\", crate::user::size());\n}\n")?;
    write("user.rs", "use crate::shape::Round;\npub fn size() -> usize { 0 }\nfn g(_: Round) {}\n")?;
    write("leaf.rs", "pub fn h() {}\n#[cfg(test)]\nmod tests {\n    use crate::user::size;\n}\n")?;
    let arrows = Crate::read(folder.path())?.arrows(&source);
    let said: Vec<String> = in_circles(&arrows).iter().map(|a| format!("{}:{} {}", a.from, a.line, a.to)).collect();
    assert_eq!(said, ["shape/round.rs:3 user.rs", "user.rs:1 shape/round.rs"]);
    assert!(!arrows.iter().any(|a| a.from == "leaf.rs"), "{arrows:?}");
    Ok(())
}
