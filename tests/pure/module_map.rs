//! The map of the modules, drawn from the code: who imports whom. A module imports only what stands before it in
//! the order that `src/lib.rs` states, and the files of no folder import one another in a circle.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use syn::visit::{self, Visit};
use syn::{Attribute, ItemFn, ItemImpl, ItemMod, ItemUse, UseTree};

/// A module by its path from the crate's root, which is empty.
type Module = Vec<String>;

/// What a file names of other modules.
#[derive(Default)]
struct Names {
    /// Paths as they are written.
    paths: Vec<Vec<String>>,
    /// What it imports or hands on, by the name that it has here.
    imports: BTreeMap<String, Vec<String>>,
    /// How deep in modules within the file.
    depth: usize,
}

impl Names {
    fn of(file: &Path) -> Self {
        let mut names = Self::default();
        names.visit_file(&syn::parse_file(&fs::read_to_string(file).unwrap()).unwrap());
        names
    }

    /// A path as it would be written outside the modules within the file.
    fn add(&mut self, mut path: Vec<String>) {
        for _ in 0..self.depth {
            if path.first().is_some_and(|first| first == "super") {
                path.remove(0);
            }
        }
        let leads_out = |first: &String| ["crate", "super", "self"].contains(&first.as_str());
        if path.first().is_some_and(leads_out) {
            self.paths.push(path);
        }
    }

    /// What a macro is given is no code yet, but the paths in it can be told.
    fn add_all_in(&mut self, tokens: &str) {
        let tokens = tokens.replace(" :: ", "::").replace(":: ", "::");
        let is_of_path = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
        for path in tokens.split(|c| !is_of_path(c)).filter(|word| word.contains("::")) {
            self.add(path.split("::").map(str::to_owned).collect());
        }
    }

    fn import(&mut self, tree: &UseTree, before: &[String]) {
        let with = |name: String| [before, &[name]].concat();
        match tree {
            UseTree::Path(path) => self.import(&path.tree, &with(path.ident.to_string())),
            UseTree::Name(name) => {
                let name = name.ident.to_string();
                self.imports.insert(name.clone(), with(name.clone()));
                self.add(with(name));
            }
            UseTree::Rename(renamed) => {
                let path = with(renamed.ident.to_string());
                self.imports.insert(renamed.rename.to_string(), path.clone());
                self.add(path);
            }
            UseTree::Glob(_) => self.add(before.to_vec()),
            UseTree::Group(group) => {
                group.items.iter().for_each(|tree| self.import(tree, before));
            }
        }
    }
}

fn is_for_tests(attributes: &[Attribute]) -> bool {
    let is_test = |meta: &syn::MetaList| meta.tokens.to_string() == "test";
    attributes.iter().any(|attribute| {
        attribute.path().is_ident("cfg") && attribute.meta.require_list().is_ok_and(is_test)
    })
}

impl<'ast> Visit<'ast> for Names {
    fn visit_item_mod(&mut self, item: &'ast ItemMod) {
        if !is_for_tests(&item.attrs) {
            self.depth += 1;
            visit::visit_item_mod(self, item);
            self.depth -= 1;
        }
    }

    fn visit_item_fn(&mut self, item: &'ast ItemFn) {
        if !is_for_tests(&item.attrs) {
            visit::visit_item_fn(self, item);
        }
    }

    fn visit_item_impl(&mut self, item: &'ast ItemImpl) {
        if !is_for_tests(&item.attrs) {
            visit::visit_item_impl(self, item);
        }
    }

    fn visit_item_use(&mut self, item: &'ast ItemUse) {
        if !is_for_tests(&item.attrs) {
            self.import(&item.tree, &[]);
        }
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        self.add(path.segments.iter().map(|segment| segment.ident.to_string()).collect());
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, item: &'ast syn::Macro) {
        self.add_all_in(&item.tokens.to_string());
    }

    fn visit_attribute(&mut self, attribute: &'ast Attribute) {
        if let Ok(list) = attribute.meta.require_list() {
            self.add_all_in(&list.tokens.to_string());
        }
    }
}

/// All modules and what they name.
struct Code {
    modules: BTreeMap<Module, Names>,
}

impl Code {
    /// Of the program's own source, without what is only there for its tests.
    fn read() -> Self {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let mut files = Vec::new();
        collect(&root, &mut files);
        let modules = files.iter().filter_map(|file| {
            let path = file.strip_prefix(&root).unwrap().with_extension("");
            let mut module: Module =
                path.iter().map(|part| part.to_str().unwrap().to_owned()).collect();
            let name = module.last().unwrap().clone();
            match name.as_str() {
                "main" => return None,
                "testing" => return None,
                name if name.ends_with("tests") => return None,
                "mod" | "lib" => _ = module.pop(),
                _ => {}
            }
            Some((module, Names::of(file)))
        });
        Self { modules: modules.collect() }
    }

    /// The module in which a path ends, as written in `from`; where it names what is handed on from another
    /// module, that one.
    fn lead(&self, from: &Module, path: &[String], steps: usize) -> Option<Module> {
        let mut module = from.clone();
        let mut rest = path;
        // The last part is a module, an item or what an item has.
        while let Some((first, after)) = rest.split_first() {
            match first.as_str() {
                "crate" => module.clear(),
                "self" => {}
                "super" => _ = module.pop()?,
                name => {
                    let inner = [module.as_slice(), &[name.to_owned()]].concat();
                    if self.modules.contains_key(&inner) {
                        module = inner;
                    } else {
                        let imports = &self.modules.get(&module)?.imports;
                        let handed_on =
                            imports.get(name).filter(|path| steps > 0 && path.len() > 1);
                        let Some(handed_on) = handed_on else { return Some(module) };
                        return self.lead(&module, handed_on, steps - 1).or(Some(module));
                    }
                }
            }
            rest = after;
        }
        Some(module)
    }

    /// Every import: who, and of whom.
    fn imports(&self) -> BTreeSet<(Module, Module)> {
        /// What is handed on is handed on by few.
        const STEPS: usize = 8;
        let mut found = BTreeSet::new();
        for (module, names) in &self.modules {
            for path in &names.paths {
                let to = self.lead(module, path, STEPS);
                found.extend(to.filter(|to| to != module).map(|to| (module.clone(), to)));
            }
        }
        found
    }
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    for path in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            files.push(path);
        }
    }
}

/// The modules in the order in which the crate's first words have them.
fn stated_order() -> Vec<String> {
    let lib = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/lib.rs");
    let lib = fs::read_to_string(lib).unwrap();
    let order = lib.lines().skip_while(|line| !line.contains('→'));
    let order: String = order.take_while(|line| *line != "//!").collect();
    order.split("[`").skip(1).map(|rest| rest.split('`').next().unwrap().to_owned()).collect()
}

#[test]
fn every_module_stands_in_the_stated_order() {
    let mut stated = stated_order();
    let code = Code::read();
    let mut there: Vec<String> =
        code.modules.keys().filter(|module| module.len() == 1).map(|one| one[0].clone()).collect();
    stated.sort();
    there.sort();
    assert_eq!(stated, there);
}

#[test]
fn a_module_imports_only_what_stands_before_it() {
    let order = stated_order();
    let place = |module: &Module| order.iter().position(|name| Some(name) == module.first());
    let mut wrong = BTreeSet::new();
    for (from, to) in Code::read().imports() {
        if let (Some(here), Some(there)) = (place(&from), place(&to))
            && there > here
        {
            wrong.insert(format!("{} imports {}", from.join("::"), to.join("::")));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// What the band plays comes from the rehearsal, and of all that stands after it from nowhere else.
#[test]
fn nobody_arranges_or_performs_behind_the_rehearsals_back() {
    let order = stated_order();
    let place = |name: &String| order.iter().position(|other| other == name);
    let door = place(&"rehearsal".to_owned()).unwrap();
    let code = Code::read();
    let after = code
        .modules
        .iter()
        .filter(|(module, _)| module.first().and_then(place).is_some_and(|here| here > door));
    let deeds = ["arrange::arrange", "perform::perform", "coverage::coverage", "backup::backup"];
    let mut behind = BTreeSet::new();
    for (module, names) in after {
        let paths = names.paths.iter().map(|path| path.join("::"));
        let found = paths.filter(|path| deeds.iter().any(|deed| path.ends_with(deed)));
        behind.extend(found.map(|path| format!("{} names {path}", module.join("::"))));
    }
    assert!(behind.is_empty(), "{behind:#?}");
}

/// Those of the files and folders of a folder that lead back to themselves.
fn in_circles(imports: &BTreeSet<(String, String)>) -> BTreeSet<String> {
    let mut reached = imports.clone();
    loop {
        let further: BTreeSet<(String, String)> = reached
            .iter()
            .flat_map(|(from, by)| {
                let on = imports.iter().filter(move |(next, _)| next == by);
                on.map(move |(_, to)| (from.clone(), to.clone()))
            })
            .filter(|way| !reached.contains(way))
            .collect();
        if further.is_empty() {
            break;
        }
        reached.extend(further);
    }
    reached.into_iter().filter(|(from, to)| from == to).map(|(from, _)| from).collect()
}

/// A folder's own file hands on what its files hold, and may hold a type whose deeds they are; among
/// themselves they stand in an order.
#[test]
fn no_folder_has_a_circle_among_its_files() {
    let mut folders: BTreeMap<String, BTreeSet<(String, String)>> = BTreeMap::new();
    for (from, to) in Code::read().imports() {
        let shared = from.iter().zip(&to).take_while(|(one, other)| one == other).count();
        if let (Some(one), Some(other)) = (from.get(shared), to.get(shared)) {
            let folder = folders.entry(from[..shared].join("::")).or_default();
            folder.insert((one.clone(), other.clone()));
        }
    }
    let circles: BTreeMap<&String, _> = folders
        .iter()
        .map(|(folder, imports)| (folder, in_circles(imports)))
        .filter(|(_, circle)| !circle.is_empty())
        .collect();
    assert!(circles.is_empty(), "{circles:#?}");
}

/// What shows that the tests above would notice.
#[test]
fn circles_are_noticed() {
    let imports = |pairs: &[(&str, &str)]| -> BTreeSet<(String, String)> {
        pairs.iter().map(|(from, to)| ((*from).to_owned(), (*to).to_owned())).collect()
    };
    let line = imports(&[("a", "b"), ("b", "c"), ("a", "c")]);
    assert!(in_circles(&line).is_empty());
    let round = imports(&[("a", "b"), ("b", "c"), ("c", "d"), ("d", "b")]);
    assert_eq!(in_circles(&round).into_iter().collect::<String>(), "bcd");
    let all = Code::read().imports();
    let module = |path: &str| -> Module { path.split("::").map(str::to_owned).collect() };
    for (from, to) in [
        ("rehearsal::rehearsal", "arrange::unroll"),
        ("rehearsal::remark", "rehearsal::rehearsal"),
        ("cli::args", "cli::play"),
        ("cli::play", "cli::jam::jam"),
    ] {
        assert!(all.contains(&(module(from), module(to))), "{from} imports {to}");
    }
}

/// The rows of the map in DEVELOPERS.md: each module's name, and what it is said to import.
fn map_in_the_document() -> Vec<(String, String)> {
    let text = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/DEVELOPERS.md")).unwrap();
    let (_, map) = text.split_once("| module | holds | imports |\n").unwrap();
    let rows = map.lines().skip(1).take_while(|line| line.starts_with('|'));
    rows.map(|row| {
        let cells: Vec<&str> = row.trim_matches('|').split(" | ").map(str::trim).collect();
        (cells[0].trim_matches('`').to_owned(), (*cells.last().unwrap()).to_owned())
    })
    .collect()
}

/// What a reader is told is what the code does.
#[test]
fn the_developers_map_is_the_codes() {
    let code = Code::read();
    let mut imports: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (from, to) in code.imports() {
        if let ([from, ..], [to, ..]) = (from.as_slice(), to.as_slice())
            && from != to
        {
            imports.entry(from.clone()).or_default().insert(to.clone());
        }
    }
    let order = stated_order();
    let drawn: Vec<(String, String)> = order
        .iter()
        .map(|module| {
            let of = imports.get(module);
            let names = order.iter().filter(|name| of.is_some_and(|of| of.contains(*name)));
            let names: Vec<String> = names.map(|name| format!("`{name}`")).collect();
            let words = if names.is_empty() { "nothing".to_owned() } else { names.join(", ") };
            (module.clone(), words)
        })
        .collect();
    let lines = |map: &[(String, String)]| -> String {
        map.iter().map(|(module, imports)| format!("{module} | {imports}\n")).collect()
    };
    let document = map_in_the_document();
    assert!(document == drawn, "the map in DEVELOPERS.md should say\n{}", lines(&drawn));
}
