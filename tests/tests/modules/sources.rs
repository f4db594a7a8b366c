//! The modules of a crate as its sources name them. In: the folder of a crate. Out: which file names an item of which other one, and on
//! which line. Names are followed through imports and re-exports to the file that defines the item; tests inside files are left out.

use proc_macro2::{TokenStream, TokenTree};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{Attribute, Item, ItemUse, UseTree};

/// A module's path from the root of its crate.
type ModulePath = Vec<String>;

/// What went wrong with the sources.
pub(crate) type Failure = Box<dyn std::error::Error>;

/// A file names an item that another one defines.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Arrow {
    /// The file that names it.
    pub from: String,
    /// The file that defines it.
    pub to: String,
    /// The first line on which it does.
    pub line: usize,
}

#[derive(Default)]
struct Module {
    file: PathBuf,
    /// Items that it defines itself.
    defined: BTreeSet<String>,
    /// Names that it imports, and what they stand for as written.
    imported: BTreeMap<String, Vec<String>>,
    /// Modules all of whose items it imports.
    globs: Vec<Vec<String>>,
    /// Paths that it names, with lines.
    named: Vec<(usize, Vec<String>)>,
    /// Of these, re-exports.
    exported: Vec<(usize, Vec<String>)>,
}

/// The modules of one crate.
pub(crate) struct Crate {
    modules: BTreeMap<ModulePath, Module>,
}

impl Crate {
    /// Reads the crate in a folder, from `src/lib.rs` on.
    ///
    /// # Errors
    /// A file that cannot be read or parsed.
    pub(crate) fn read(folder: &Path) -> Result<Self, Failure> {
        let mut all = Self { modules: BTreeMap::new() };
        all.add(&folder.join("src/lib.rs"), &folder.join("src"), Vec::new())?;
        Ok(all)
    }

    fn add(&mut self, file: &Path, children: &Path, path: ModulePath) -> Result<(), Failure> {
        let text = std::fs::read_to_string(file).map_err(|e| format!("{}: {e}", file.display()))?;
        let parsed = syn::parse_file(&text).map_err(|e| format!("{}: {e}", file.display()))?;
        let mut reader = Reader { module: Module { file: file.to_owned(), ..Module::default() }, below: Vec::new() };
        parsed.items.iter().for_each(|item| reader.visit_item(item));
        for name in reader.below {
            let own: ModulePath = path.iter().cloned().chain([name.clone()]).collect();
            let (flat, nested) = (children.join(format!("{name}.rs")), children.join(&name));
            let file = if flat.exists() { flat } else { nested.join("mod.rs") };
            self.add(&file, &nested, own)?;
        }
        self.modules.insert(path, reader.module);
        Ok(())
    }

    /// The module that defines what a path stands for when a module writes it; `None` for another crate's or a local name.
    fn owner(&self, from: &ModulePath, path: &[String], depth: usize) -> Option<ModulePath> {
        // Names that import each other in a ring stand for nothing.
        if depth > 16 {
            return None;
        }
        let (mut at, mut rest) = match path.first()?.as_str() {
            "crate" => (Vec::new(), &path[1..]),
            "self" => (from.clone(), &path[1..]),
            "super" => (from[..from.len().checked_sub(1)?].to_vec(), &path[1..]),
            _ => (from.clone(), path),
        };
        while rest.first().is_some_and(|s| s == "super") {
            at.pop()?;
            rest = &rest[1..];
        }
        while let Some(name) = rest.first() {
            let module = self.modules.get(&at)?;
            let child: ModulePath = at.iter().cloned().chain([name.clone()]).collect();
            if self.modules.contains_key(&child) {
                at = child;
                rest = &rest[1..];
            } else if module.defined.contains(name) {
                return Some(at);
            } else if let Some(meant) = module.imported.get(name) {
                let whole: Vec<String> = meant.iter().chain(&rest[1..]).cloned().collect();
                return self.owner(&at, &whole, depth + 1);
            } else {
                let through = |glob: &Vec<String>| {
                    let whole: Vec<String> = glob.iter().chain(rest).cloned().collect();
                    self.owner(&at, &whole, depth + 1)
                };
                return module.globs.iter().find_map(through);
            }
        }
        Some(at)
    }

    /// All arrows, files named from `root` on. A module that re-exports what its own files define does not use it.
    pub(crate) fn arrows(&self, root: &Path) -> Vec<Arrow> {
        let name = |module: &Module| module.file.strip_prefix(root).unwrap_or(&module.file).display().to_string();
        let mut found: BTreeMap<(String, String), usize> = BTreeMap::new();
        for (path, module) in &self.modules {
            let below = |owner: &ModulePath| owner.len() > path.len() && owner.starts_with(path);
            let named = module.named.iter().map(|n| (n, false)).chain(module.exported.iter().map(|n| (n, true)));
            for ((line, segments), exported) in named {
                let Some(owner) = self.owner(path, segments, 0).filter(|o| o != path) else { continue };
                if exported && below(&owner) {
                    continue;
                }
                let key = (name(module), name(&self.modules[&owner]));
                let first = found.entry(key).or_insert(*line);
                *first = (*first).min(*line);
            }
        }
        found.into_iter().map(|((from, to), line)| Arrow { from, to, line }).collect()
    }
}

/// Takes in one file.
struct Reader {
    module: Module,
    below: Vec<String>,
}

fn only_for_tests(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|a| {
        a.path().is_ident("cfg") && a.parse_args::<syn::Path>().is_ok_and(|p| p.is_ident("test"))
            || a.path().is_ident("test")
    })
}

impl Reader {
    fn import(&mut self, tree: &UseTree, before: &[String], (line, exported): (usize, bool)) {
        let with = |name: String| -> Vec<String> { before.iter().cloned().chain([name]).collect() };
        let mut add = |name: String, meant: Vec<String>| {
            let list = if exported { &mut self.module.exported } else { &mut self.module.named };
            list.push((line, meant.clone()));
            self.module.imported.insert(name, meant);
        };
        match tree {
            UseTree::Path(p) => self.import(&p.tree, &with(p.ident.to_string()), (line, exported)),
            UseTree::Group(g) => g.items.iter().for_each(|t| self.import(t, before, (line, exported))),
            UseTree::Name(n) if n.ident == "self" => {
                if let Some(last) = before.last() {
                    add(last.clone(), before.to_vec());
                }
            }
            UseTree::Name(n) => add(n.ident.to_string(), with(n.ident.to_string())),
            UseTree::Rename(r) => add(r.rename.to_string(), with(r.ident.to_string())),
            UseTree::Glob(_) => self.module.globs.push(before.to_vec()),
        }
    }

    /// Paths among the words of a macro call.
    fn words(&mut self, tokens: TokenStream) {
        let mut path: Vec<String> = Vec::new();
        let mut line = 0;
        let (mut colons, mut after_word) = (0, false);
        let mut flush = |path: &mut Vec<String>, line: usize| {
            if path.len() > 1 {
                self.module.named.push((line, std::mem::take(path)));
            }
            path.clear();
        };
        let mut groups = Vec::new();
        for token in tokens {
            match token {
                TokenTree::Ident(word) => {
                    if after_word || colons != 2 {
                        flush(&mut path, line);
                    }
                    line = word.span().start().line;
                    path.push(word.to_string());
                    (colons, after_word) = (0, true);
                }
                TokenTree::Punct(p) if p.as_char() == ':' && !path.is_empty() => {
                    colons += 1;
                    after_word = false;
                }
                other => {
                    flush(&mut path, line);
                    (colons, after_word) = (0, false);
                    if let TokenTree::Group(group) = other {
                        groups.push(group.stream());
                    }
                }
            }
        }
        flush(&mut path, line);
        groups.into_iter().for_each(|g| self.words(g));
    }
}

impl<'ast> Visit<'ast> for Reader {
    fn visit_item(&mut self, item: &'ast Item) {
        let (attributes, name) = match item {
            Item::Const(i) => (&i.attrs, Some(&i.ident)),
            Item::Enum(i) => (&i.attrs, Some(&i.ident)),
            Item::Fn(i) => (&i.attrs, Some(&i.sig.ident)),
            Item::Static(i) => (&i.attrs, Some(&i.ident)),
            Item::Struct(i) => (&i.attrs, Some(&i.ident)),
            Item::Trait(i) => (&i.attrs, Some(&i.ident)),
            Item::Type(i) => (&i.attrs, Some(&i.ident)),
            Item::Macro(i) => (&i.attrs, i.ident.as_ref()),
            Item::Mod(i) => (&i.attrs, None),
            Item::Impl(i) => (&i.attrs, None),
            Item::Use(i) => (&i.attrs, None),
            _ => return,
        };
        if only_for_tests(attributes) {
            return;
        }
        self.module.defined.extend(name.map(ToString::to_string));
        match item {
            Item::Mod(m) if m.content.is_none() => self.below.push(m.ident.to_string()),
            _ => visit::visit_item(self, item),
        }
    }

    fn visit_item_use(&mut self, item: &'ast ItemUse) {
        let exported = !matches!(item.vis, syn::Visibility::Inherited);
        self.import(&item.tree, &[], (item.span().start().line, exported));
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        if path.segments.len() > 1 && path.leading_colon.is_none() {
            let segments = path.segments.iter().map(|s| s.ident.to_string()).collect();
            self.module.named.push((path.span().start().line, segments));
        }
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, call: &'ast syn::Macro) {
        self.words(call.tokens.clone());
    }
}
