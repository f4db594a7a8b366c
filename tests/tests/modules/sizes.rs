//! How long files and functions are. In: the sources of the workspace. Out: files and functions that are longer than a reader holds in mind.

use super::sources::Failure;
use std::path::{Path, PathBuf};
use syn::spanned::Spanned;
use syn::visit::{self, Visit};

/// Most lines of a file.
const FILE: usize = 400;
/// Most lines of a function without a reason beside it.
const FUNCTION: usize = 60;

/// Functions by name, with their first and last line.
#[derive(Default)]
struct Functions(Vec<(String, usize, usize)>);

impl Functions {
    fn add(&mut self, signature: &syn::Signature, block: &syn::Block) {
        let (from, to) = (signature.span().start().line, block.span().end().line);
        self.0.push((signature.ident.to_string(), from, to));
    }
}

impl<'ast> Visit<'ast> for Functions {
    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        self.add(&item.sig, &item.block);
        visit::visit_item_fn(self, item);
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        self.add(&item.sig, &item.block);
        visit::visit_impl_item_fn(self, item);
    }
}

/// All Rust files below a folder.
fn below(folder: &Path, found: &mut Vec<PathBuf>) -> Result<(), Failure> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            below(&path, found)?;
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    Ok(())
}

/// Functions of a source that are too long: name, lines, and whether a comment before the signature says why.
fn long(text: &str) -> Result<Vec<(String, usize, bool)>, Failure> {
    let lines: Vec<&str> = text.lines().collect();
    let mut functions = Functions::default();
    functions.visit_file(&syn::parse_file(text)?);
    let reason = |from: usize| from >= 2 && lines[from - 2].trim_start().starts_with("// ");
    let too_long = functions.0.into_iter().filter(|(_, from, to)| to - from >= FUNCTION);
    Ok(too_long.map(|(name, from, to)| (name, to - from + 1, reason(from))).collect())
}

#[test]
fn files_and_functions_are_short() -> Result<(), Failure> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().ok_or("the crate lies in the workspace")?;
    let (mut files, mut said, mut excused) = (Vec::new(), Vec::new(), 0);
    for folder in ["mesher", "solver", "cli", "tests", "validation"] {
        below(&root.join(folder), &mut files)?;
    }
    for file in files {
        let text = std::fs::read_to_string(&file)?;
        let own = file.strip_prefix(root)?.display();
        if text.lines().count() > FILE {
            said.push(format!("{own} has more than {FILE} lines"));
        }
        for (name, lines, reason) in long(&text)? {
            excused += usize::from(reason);
            if !reason {
                said.push(format!("{own}: {name} has {lines} lines and no reason beside it"));
            }
        }
    }
    assert!(said.is_empty(), "{}", said.join("\n"));
    assert!(excused < 10, "{excused} functions are longer than {FUNCTION} lines");
    Ok(())
}

#[test]
fn what_is_long_is_found() -> Result<(), Failure> {
    let body = "    let _ = 1;\n".repeat(60);
    let source = format!("fn a() {{\n{body}}}\n\n// A list.\nfn b() {{\n{body}}}\n\nfn c() {{}}\n");
    let found = long(&source)?;
    assert_eq!(found, [("a".to_owned(), 62, false), ("b".to_owned(), 62, true)]);
    Ok(())
}
