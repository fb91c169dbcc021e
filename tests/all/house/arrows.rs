//! Who names whom among the files of `src`: read from `use` lines and from paths in code, also inside macros.
//!
//! A name that a file only passes on (`pub use`) is no arrow of that file: whoever takes it from there points at the
//! file that defines it. What stands in `#[cfg(test)]` is not looked at.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use proc_macro2::{Delimiter, TokenStream, TokenTree};

/// Files by their module's path below the crate: `["records", "job"]` is `src/records/job.rs`.
type Module = Vec<String>;

/// One file, as far as names go.
#[derive(Debug, Default)]
struct File {
    /// Modules it declares as files of their own.
    children: BTreeSet<String>,
    /// What it takes in, by the name it goes by here.
    taken: Vec<(String, Module)>,
    /// What it passes on, by the name it goes by here.
    passed_on: BTreeMap<String, Module>,
    /// Paths in its code.
    paths: Vec<Module>,
}

/// Who names whom.
#[derive(Debug)]
pub(super) struct Arrows {
    files: BTreeMap<Module, File>,
    /// From a file to each that it names, with one of the names.
    named: BTreeMap<Module, BTreeMap<Module, String>>,
}

/// Every Rust file below a folder, with its text.
pub(super) fn source(below: &Path) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(below).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(source(&path));
        } else if path.extension().is_some_and(|kind| kind == "rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            found.push((path, text));
        }
    }
    found.sort();
    found
}

impl Arrows {
    /// Reads files by their paths below `src`.
    pub(super) fn of<'a>(texts: impl Iterator<Item = (&'a str, &'a str)>) -> Self {
        let files: BTreeMap<Module, File> =
            texts.filter(|(path, _)| *path != "lib.rs").map(|(path, text)| (module(path), read(path, text))).collect();
        let mut arrows = Self { files, named: BTreeMap::new() };
        for own in arrows.files.keys() {
            let named = arrows.named_by(own);
            arrows.named.insert(own.clone(), named);
        }
        arrows
    }

    /// Every arrow: from, to, and a name that makes it.
    pub(super) fn all(&self) -> impl Iterator<Item = (String, String, &str)> {
        self.named
            .iter()
            .flat_map(|(from, named)| named.iter().map(|(to, name)| (path_of(from), path_of(to), name.as_str())))
    }

    /// Everything that a file names, and what that names in turn.
    pub(super) fn reached_from(&self, path: &str) -> BTreeSet<String> {
        let mut reached = BTreeSet::new();
        let mut next = vec![module(path)];
        while let Some(from) = next.pop() {
            for to in self.named.get(&from).into_iter().flat_map(BTreeMap::keys) {
                if reached.insert(path_of(to)) {
                    next.push(to.clone());
                }
            }
        }
        reached
    }

    /// Files that name each other in a circle, each circle with the arrows that tie it.
    pub(super) fn circles(&self) -> Vec<Vec<String>> {
        let reached: BTreeMap<String, BTreeSet<String>> =
            self.files.keys().map(|own| (path_of(own), self.reached_from(&path_of(own)))).collect();
        let mut circles: BTreeMap<BTreeSet<&str>, Vec<String>> = BTreeMap::new();
        for (from, to, name) in self.all() {
            if reached[&to].contains(&from) {
                let round =
                    reached.iter().filter(|(other, theirs)| theirs.contains(&from) && reached[&from].contains(*other));
                let round: BTreeSet<&str> = round.map(|(other, _)| other.as_str()).collect();
                circles.entry(round).or_default().push(format!("{from} names {to} ({name})"));
            }
        }
        circles.into_values().collect()
    }

    fn named_by(&self, own: &Module) -> BTreeMap<Module, String> {
        let file = &self.files[own];
        let taken = file.taken.iter().filter_map(|(alias, path)| Some((alias, self.absolute(own, path)?)));
        let taken: BTreeMap<&String, Module> = taken.collect();
        let in_code = file.paths.iter().filter_map(|path| {
            self.absolute(own, path).or_else(|| {
                let mut whole = taken.get(path.first()?)?.clone();
                whole.extend(path.iter().skip(1).cloned());
                Some(whole)
            })
        });
        let named = taken.values().cloned().chain(in_code);
        let targets = named.map(|path| (self.definer(&path, 0), path.join("::")));
        // the crate's own root defines nothing
        targets.filter(|(target, _)| target != own && !target.is_empty()).collect()
    }

    /// A path from the crate's root; `None` for what is no path of ours.
    fn absolute(&self, own: &Module, path: &[String]) -> Option<Module> {
        let mut from = own.clone();
        let mut rest = path;
        match path.first()?.as_str() {
            "crate" | "thumbplane" => return Some(path[1..].to_vec()),
            "self" => rest = &path[1..],
            "super" => {
                while rest.first().is_some_and(|part| part == "super") {
                    from.pop();
                    rest = &rest[1..];
                }
            }
            child if self.files[own].children.contains(child) => {}
            _ => return None,
        }
        from.extend(rest.iter().cloned());
        Some(from)
    }

    /// The file that defines what a path names: down the modules, and on through what they pass on.
    fn definer(&self, path: &[String], depth: usize) -> Module {
        assert!(depth < 20, "{path:?} is passed on without end");
        let mut at = Module::new();
        for (place, part) in path.iter().enumerate() {
            let Some(file) = self.files.get(&at) else {
                at.push(part.clone());
                continue;
            };
            if file.children.contains(part) {
                at.push(part.clone());
            } else if let Some(mut onward) = file.passed_on.get(part).and_then(|onward| self.absolute(&at, onward)) {
                onward.extend(path.iter().skip(place + 1).cloned());
                return self.definer(&onward, depth + 1);
            } else {
                break;
            }
        }
        at
    }
}

fn module(path: &str) -> Module {
    path.trim_end_matches(".rs").split('/').map(str::to_owned).collect()
}

fn path_of(module: &Module) -> String {
    format!("{}.rs", module.join("/"))
}

fn read(path: &str, text: &str) -> File {
    let tokens: TokenStream = text.parse().unwrap_or_else(|cause| panic!("{path}: {cause}"));
    let mut flat = Vec::new();
    flatten(tokens, &mut flat);
    let mut file = File::default();
    let mut at = 0;
    let mut is_passed_on = false;
    while let Some(token) = flat.get(at) {
        match token.as_str() {
            "use" => {
                let end = (at..flat.len()).find(|at| flat[*at] == ";").unwrap_or(flat.len());
                for (alias, path) in tree(&flat[at + 1..end], &[]) {
                    if is_passed_on {
                        file.passed_on.insert(alias, path);
                    } else {
                        file.taken.push((alias, path));
                    }
                }
                at = end;
            }
            // who may see a name is told by `pub(in …)`, and is no arrow
            "in" if at > 1 && flat[at - 1] == "(" && flat[at - 2] == "pub" => {
                at = (at..flat.len()).find(|at| flat[*at] == ")").unwrap_or(flat.len());
            }
            "mod" if flat.get(at + 2).is_some_and(|after| after == ";") => {
                file.children.insert(flat[at + 1].clone());
                at += 2;
            }
            _ if is_name(token) && (at == 0 || flat[at - 1] != "::") => {
                let mut path = vec![token.clone()];
                while flat.get(at + 1).is_some_and(|next| next == "::")
                    && flat.get(at + 2).is_some_and(|next| is_name(next))
                {
                    path.push(flat[at + 2].clone());
                    at += 2;
                }
                if path.len() > 1 {
                    file.paths.push(path);
                }
            }
            _ => {}
        }
        // `pub use` and `pub(super) use`
        is_passed_on = token == "pub" || (is_passed_on && !matches!(token.as_str(), ";" | "{" | "}" | "use"));
        at += 1;
    }
    file
}

fn is_name(token: &str) -> bool {
    token.starts_with(|first: char| first.is_alphabetic() || first == '_')
}

/// The names of a `use` tree: what each goes by, and its path.
fn tree(tokens: &[String], before: &[String]) -> Vec<(String, Module)> {
    let mut path = before.to_vec();
    let mut at = 0;
    while let Some(token) = tokens.get(at) {
        match token.as_str() {
            "::" => {}
            "{" => {
                let inside = &tokens[at + 1..tokens.len() - 1];
                let mut depth = 0;
                let branches = inside.split(|token| {
                    depth += i32::from(token == "{") - i32::from(token == "}");
                    token == "," && depth == 0
                });
                return branches.filter(|branch| !branch.is_empty()).flat_map(|branch| tree(branch, &path)).collect();
            }
            "as" => return vec![(tokens[at + 1].clone(), path)],
            "self" if !path.is_empty() => {}
            name => path.push(name.to_owned()),
        }
        at += 1;
    }
    path.last().cloned().map(|alias| (alias, path)).into_iter().collect()
}

/// Names and punctuation in order, without texts, and without the file's own tests.
fn flatten(tokens: TokenStream, flat: &mut Vec<String>) {
    let mut trees = tokens.into_iter().peekable();
    while let Some(token) = trees.next() {
        match token {
            TokenTree::Punct(mark) if mark.as_char() == '#' => {
                let is_test = trees.next_if(|next| matches!(next, TokenTree::Group(_)));
                if is_test.is_some_and(|attribute| attribute.to_string().replace(' ', "") == "[cfg(test)]") {
                    while trees.next().is_some_and(
                        |next| !matches!(&next, TokenTree::Group(group) if group.delimiter() == Delimiter::Brace),
                    ) {}
                }
            }
            TokenTree::Punct(mark) if mark.as_char() == ':' && trees.peek().is_some_and(is_colon) => {
                trees.next();
                flat.push("::".to_owned());
            }
            TokenTree::Punct(mark) => flat.push(mark.as_char().to_string()),
            TokenTree::Ident(name) => flat.push(name.to_string()),
            TokenTree::Literal(_) => flat.push("\"\"".to_owned()),
            TokenTree::Group(group) => {
                let (open, close) = match group.delimiter() {
                    Delimiter::Brace => ("{", "}"),
                    Delimiter::Parenthesis => ("(", ")"),
                    Delimiter::Bracket => ("[", "]"),
                    Delimiter::None => ("", ""),
                };
                flat.push(open.to_owned());
                flatten(group.stream(), flat);
                flat.push(close.to_owned());
            }
        }
    }
}

fn is_colon(token: &TokenTree) -> bool {
    matches!(token, TokenTree::Punct(mark) if mark.as_char() == ':')
}

#[test]
fn an_arrow_is_found_in_every_way_that_rust_can_name_a_file() {
    let arrows_of = |job: &str| -> Vec<String> {
        let texts = [
            (
                "records.rs",
                "mod error; pub mod job; pub mod work; pub mod plan; pub use error::{Error, Result as Done};",
            ),
            ("records/error.rs", "pub enum Error { No } pub type Result = ();"),
            ("records/work.rs", "pub struct Line; pub fn start() {}"),
            ("records/plan.rs", "mod kept; pub use kept::keep;"),
            ("records/plan/kept.rs", "pub fn keep() {}"),
            ("records/job.rs", job),
        ];
        let arrows = Arrows::of(texts.into_iter());
        arrows.all().filter(|(from, _, _)| from == "records/job.rs").map(|(_, to, _)| to).collect()
    };
    let work = ["records/work.rs"];
    for way in [
        "use super::work;",
        "use super::{work::{self, Line}};",
        "use crate::records::work::Line as Other;",
        "fn f() { super::work::start() }",
        "fn f() { crate::records::work::start() }",
        "fn f() { println!(\"{}\", super::work::start()) }",
        "fn f(of: &[super::work::Line]) {}",
    ] {
        assert_eq!(arrows_of(way), work, "{way}");
    }
    assert_eq!(arrows_of("use super::{Error, Done};"), ["records/error.rs"], "through what the face passes on");
    assert_eq!(arrows_of("use super::plan; fn f() { plan::keep() }"), ["records/plan.rs", "records/plan/kept.rs"]);
    for none in [
        "// use super::work;",
        "fn f() { let words = \"super::work::start\"; }",
        "#[cfg(test)] mod tests { use super::super::work; }",
        "use std::work::Line; fn f() { work::start() }",
        "pub(in crate::records::work) fn f() {}",
    ] {
        assert!(arrows_of(none).is_empty(), "{none}: {:?}", arrows_of(none));
    }
}

#[test]
fn a_circle_is_named_with_what_ties_it() {
    let texts = [
        ("a.rs", "use crate::b::B; pub use crate::c::C;"),
        ("b.rs", "use crate::c;"),
        ("c.rs", "fn f() { crate::a::f() }"),
        ("d.rs", "use crate::a; use crate::b;"),
    ];
    let circles = Arrows::of(texts.into_iter()).circles();
    assert_eq!(circles.len(), 1, "{circles:?}");
    assert_eq!(
        circles[0],
        ["a.rs names b.rs (b::B)", "b.rs names c.rs (c)", "c.rs names a.rs (a::f)"],
        "and what a file only passes on ties nothing"
    );
}
