//! Modules import downward only, with no circles, and the calculator reaches nothing else.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use super::arrows::{self, Arrows};

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

/// Who names whom in the whole house; read once a run.
fn arrows() -> &'static Arrows {
    static READ: OnceLock<Arrows> = OnceLock::new();
    READ.get_or_init(read_arrows)
}

fn read_arrows() -> Arrows {
    let texts: Vec<(String, String)> = arrows::source(&source())
        .into_iter()
        .map(|(path, text)| (path.strip_prefix(source()).unwrap().to_string_lossy().into_owned(), text))
        .collect();
    Arrows::of(texts.iter().map(|(path, text)| (path.as_str(), text.as_str())))
}

/// The top-level module of a file.
fn top(path: &str) -> &str {
    path.split('/').next().unwrap_or(path).trim_end_matches(".rs")
}

/// Top-level module of each file, and its code without comments.
fn modules() -> Vec<(String, PathBuf, String)> {
    let named = arrows::source(&source()).into_iter().map(|(path, text)| {
        let relative = path.strip_prefix(source()).unwrap().to_string_lossy().into_owned();
        let code = text.lines().map(|line| line.split("//").next().unwrap_or("")).collect::<Vec<_>>().join("\n");
        (top(&relative).to_owned(), path, code)
    });
    named.filter(|(top, _, _)| top != "lib").collect()
}

#[test]
fn imports_run_downward_only() {
    let allowed: BTreeMap<&str, &[&str]> = MAY_USE.iter().copied().collect();
    for (from, to, name) in arrows().all() {
        let may = allowed.get(top(&from)).unwrap_or_else(|| panic!("{from} is not in the table"));
        assert!(top(&from) == top(&to) || may.contains(&top(&to)), "{from} names {to} ({name}), which it may not");
    }
    let seen: BTreeSet<String> = modules().into_iter().map(|(top, _, _)| top).collect();
    assert_eq!(seen.len(), MAY_USE.len(), "{seen:?}");
}

#[test]
fn no_files_name_each_other_in_a_circle() {
    let circles: Vec<String> = arrows().circles().iter().map(|circle| circle.join("\n")).collect();
    assert!(circles.is_empty(), "files name each other in a circle:\n\n{}", circles.join("\n\n"));
}

#[test]
fn the_jobs_row_lies_at_the_bottom_and_what_asks_all_records_at_the_top() {
    let arrows = arrows();
    let below_the_job = arrows.reached_from("records/job.rs");
    for above in
        ["condition", "observation", "reading", "draft", "plan", "labour", "work", "quote", "final_check", "care"]
    {
        assert!(!below_the_job.contains(&format!("records/{above}.rs")), "the job's row asks {above}.rs");
    }
    for (from, to, name) in arrows.all() {
        let is_top = ["records/moves.rs", "records/check_in.rs"].contains(&to.as_str());
        assert!(!is_top || top(&from) != "records", "{from} names {to} ({name}), which stands above all records");
    }
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

#[test]
fn the_records_read_data_of_the_trade_in_one_place_that_is_never_silent() {
    assert!(thumbplane::records::check_seed_data().is_ok());
    for (top, path, code) in modules() {
        let is_the_place = path.ends_with("records/seed_data.rs");
        assert!(top != "records" || is_the_place || !code.contains("toml::"), "{} reads by itself", path.display());
    }
}

#[test]
fn the_records_decide_nothing_by_the_words_of_an_event() {
    for (top, path, code) in modules() {
        // taking words out of events is their own business, and showing them that of whoever reads the deeds
        if top != "records" || path.ends_with("records/event.rs") || path.ends_with("records/audit.rs") {
            continue;
        }
        // how many deeds there are so far is no word of theirs
        let code = code.replace("SELECT max(id) FROM event WHERE record_id", "");
        for word in ["FROM event", "JOIN event", "after_json", "before_json"] {
            assert!(!code.contains(word), "{} asks the events: {word}", path.display());
        }
    }
}
