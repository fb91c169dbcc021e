//! Modules import downward only, with no circles, and the calculator reaches nothing else.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Each top-level module, and what it may name. Nothing may name itself into a circle.
const MAY_USE: &[(&str, &[&str])] = &[
    ("main", &["command"]),
    ("command", &["calc", "clock", "problem", "quantity", "records", "setup", "web"]),
    ("web", &["calc", "clock", "drawing", "forecast", "problem", "quantity", "records", "setup", "working"]),
    ("calc", &["forecast", "problem", "setup", "working"]),
    ("records", &["calc", "quantity", "setup"]),
    ("drawing", &["setup"]),
    ("setup", &["problem", "working"]),
    ("forecast", &["problem", "working"]),
    ("clock", &["quantity"]),
    ("quantity", &[]),
    ("problem", &[]),
    ("working", &[]),
];

/// Crates that reach a file, a network, a database, a clock or chance.
const REACHING: &[&str] = &[
    "sqlx::",
    "axum::",
    "tokio::",
    "std::fs",
    "std::net",
    "std::env",
    "std::time",
    "SystemTime",
    "now_utc",
    "getrandom",
    "tower",
];

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn files(below: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(below).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|kind| kind == "rs") {
            found.push(path);
        }
    }
}

/// Top-level module of each file, and its code without comments.
fn modules() -> Vec<(String, PathBuf, String)> {
    let mut found = Vec::new();
    files(&source(), &mut found);
    let named = found.into_iter().map(|path| {
        let relative = path.strip_prefix(source()).unwrap();
        let top =
            relative.components().next().unwrap().as_os_str().to_string_lossy().trim_end_matches(".rs").to_owned();
        let text = std::fs::read_to_string(&path).unwrap();
        let code = text.lines().map(|line| line.split("//").next().unwrap_or("")).collect::<Vec<_>>().join("\n");
        (top, path, code)
    });
    named.filter(|(top, _, _)| top != "lib").collect()
}

/// The top-level modules a piece of code names.
fn named(code: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for prefix in ["crate::", "thumbplane::"] {
        for after in code.split(prefix).skip(1) {
            let name: String = after.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
            names.insert(name);
        }
    }
    names
}

#[test]
fn imports_run_downward_only() {
    let allowed: BTreeMap<&str, &[&str]> = MAY_USE.iter().copied().collect();
    let mut seen = BTreeSet::new();
    for (top, path, code) in modules() {
        seen.insert(top.clone());
        let may = allowed.get(top.as_str()).unwrap_or_else(|| panic!("{top} is not in the table"));
        for name in named(&code) {
            assert!(
                name == top || may.contains(&name.as_str()),
                "{} names {name}, which {top} may not",
                path.display()
            );
        }
    }
    assert_eq!(seen.len(), MAY_USE.len(), "{seen:?}");
}

#[test]
fn the_allowed_arrows_have_no_circle() {
    // peel off modules whose allowed targets are gone; what cannot be peeled is a circle
    let mut left: BTreeMap<&str, &[&str]> = MAY_USE.iter().copied().collect();
    while let Some(bottom) =
        left.iter().find(|(_, targets)| targets.iter().all(|target| !left.contains_key(target))).map(|(name, _)| *name)
    {
        left.remove(bottom);
    }
    assert!(left.is_empty(), "a circle among {:?}", left.keys());
}

#[test]
fn the_calculator_reaches_nothing_outside_itself() {
    for (top, path, code) in modules() {
        if !matches!(top.as_str(), "setup" | "forecast" | "drawing" | "quantity" | "problem") {
            continue;
        }
        for reaching in REACHING {
            assert!(!code.contains(reaching), "{} reaches {reaching}", path.display());
        }
    }
}

#[test]
fn records_know_no_http_and_no_door_calls_another() {
    for (top, path, code) in modules() {
        if top == "records" {
            assert!(!code.contains("axum") && !code.contains("askama"), "{}", path.display());
        }
        if top != "web" {
            continue;
        }
        let inside = path.strip_prefix(source().join("web")).ok().and_then(|path| path.components().next());
        let own = inside
            .map(|part| part.as_os_str().to_string_lossy().trim_end_matches(".rs").to_owned())
            .unwrap_or_default();
        for door in ["desk", "bench", "office", "customer"] {
            let calls = code.contains(&format!("web::{door}::"));
            assert!(!calls || own == door || own == "router", "{} calls the door {door}", path.display());
        }
    }
}

#[test]
fn writes_to_a_table_stand_in_its_own_record() {
    for (top, path, code) in modules() {
        let writes = ["INSERT INTO", "UPDATE ", "DELETE FROM", "INSERT OR"]
            .iter()
            .any(|verb| code.contains(&format!("\"{verb}")));
        assert!(!writes || top == "records", "{} writes to the books", path.display());
    }
}
