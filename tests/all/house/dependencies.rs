//! What the program is built on: licences that may be passed on, one source, few doubles, nothing unused, in order.
//!
//! Cargo says what it resolved, without a network. Known weaknesses are not looked up: their list is in no package
//! registry. Where it is in reach, `cargo audit` reads the lock file.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;
use std::sync::LazyLock;

use serde_json::Value;

use super::arrows;

/// What may be passed on with the program, whose own licence is MIT.
const LICENCES: &[&str] = &["0BSD", "Apache-2.0", "BSD-3-Clause", "ISC", "MIT", "Unicode-3.0", "Zlib"];
/// The older of two versions that both go into the program or its build, and who asks for it.
const DOUBLES: &[(&str, &str)] = &[
    ("base64 0.22.1", "sqlx-core"),
    ("block-buffer 0.10.4", "sha2 0.10, below"),
    ("cpufeatures 0.2.17", "sha2 0.10, below"),
    ("crypto-common 0.1.6", "sha2 0.10, below"),
    ("digest 0.10.7", "sha2 0.10, below"),
    ("getrandom 0.2.17", "ring, below rustls"),
    ("hashbrown 0.16.1", "sqlx-core and its hashlink"),
    ("miniz_oxide 0.8.9", "png"),
    ("nom 7.1.3", "phonenumber"),
    ("quick-xml 0.41.0", "phonenumber, while it is built; calamine's is newer"),
    ("regex-syntax 0.6.29", "phonenumber's regex-cache"),
    ("sha2 0.10.9", "sqlx-core, to fingerprint migrations"),
    ("syn 2.0.119", "macros that have not moved on, at build time only"),
];

/// The shop's machines.
const MACHINES: [&str; 2] = ["x86_64-unknown-linux-gnu", "aarch64-unknown-linux-gnu"];

/// What cargo says, in this folder and without a network.
fn cargo(arguments: &[&str]) -> String {
    let mut cargo = Command::new(env!("CARGO"));
    let said = cargo.args(arguments).args(["--locked", "--offline"]).current_dir(env!("CARGO_MANIFEST_DIR")).output();
    let said = said.unwrap();
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
    String::from_utf8(said.stdout).unwrap()
}

/// Every package of the lock file, and who asks for what.
static RESOLVED: LazyLock<Value> =
    LazyLock::new(|| serde_json::from_str(&cargo(&["metadata", "--format-version", "1"])).unwrap());

fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name].as_str().unwrap_or_default()
}

fn list<'a>(value: &'a Value, name: &str) -> &'a [Value] {
    value[name].as_array().map_or(&[], Vec::as_slice)
}

/// Every package of the program and its build, by its name and version, with its licence; what only tests ask for is
/// not passed on.
fn in_the_program() -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    for machine in MACHINES {
        let listed =
            ["tree", "--edges", "normal,build", "--prefix", "none", "--no-dedupe", "--format", "{p}|{l}", "--target"];
        for line in cargo(&[&listed[..], &[machine]].concat()).lines() {
            let (package, licence) = line.split_once('|').unwrap();
            let mut words = package.split(' ');
            let (name, version) = (words.next().unwrap(), words.next().unwrap().trim_start_matches('v'));
            found.insert(format!("{name} {version}"), licence.to_owned());
        }
    }
    assert!(found.len() > 150, "{}", found.len());
    found
}

/// Whether a licence's expression (SPDX, or with a stroke for *or* as it was once written) can be met.
fn can_be_met(expression: &str, allowed: &[&str]) -> bool {
    let spaced = expression.replace('(', " ( ").replace(')', " ) ").replace('/', " OR ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut at = 0;
    any_of(&words, &mut at, allowed) && at == words.len()
}

fn any_of(words: &[&str], at: &mut usize, allowed: &[&str]) -> bool {
    let mut met = all_of(words, at, allowed);
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        met |= all_of(words, at, allowed);
    }
    met
}

fn all_of(words: &[&str], at: &mut usize, allowed: &[&str]) -> bool {
    let mut met = one(words, at, allowed);
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        met &= one(words, at, allowed);
    }
    met
}

fn one(words: &[&str], at: &mut usize, allowed: &[&str]) -> bool {
    let word = words.get(*at).copied().unwrap_or_default();
    *at += 1;
    if word == "(" {
        let met = any_of(words, at, allowed);
        *at += 1;
        return met;
    }
    // an exception only gives more than the licence it is added to
    if words.get(*at) == Some(&"WITH") {
        *at += 2;
    }
    allowed.contains(&word)
}

#[test]
fn a_licence_is_read_as_it_is_meant() {
    let allowed = ["MIT", "Zlib"];
    for met in ["MIT", "GPL-3.0 OR MIT", "MIT/GPL-3.0", "(GPL-3.0 OR Zlib) AND MIT", "MIT WITH more OR GPL-3.0"] {
        assert!(can_be_met(met, &allowed), "{met}");
    }
    for refused in ["", "GPL-3.0", "MIT AND GPL-3.0", "(MIT OR Zlib) AND GPL-3.0", "MIT Zlib"] {
        assert!(!can_be_met(refused, &allowed), "{refused}");
    }
}

#[test]
fn every_licence_in_the_program_may_be_passed_on() {
    for (package, licence) in in_the_program() {
        assert!(can_be_met(&licence, LICENCES), "{package} is under {licence:?}");
    }
}

#[test]
fn what_stands_twice_in_the_program_is_named_with_who_asks_for_the_older() {
    let packages = in_the_program();
    let mut versions: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for package in packages.keys() {
        let (name, version) = package.split_once(' ').unwrap();
        versions.entry(name).or_default().push(version);
    }
    let number = |version: &str| -> Vec<u64> {
        version.split(['.', '-', '+']).map(|part| part.parse().unwrap_or_default()).collect()
    };
    let mut older = BTreeSet::new();
    for (name, mut versions) in versions {
        versions.sort_by_key(|version| number(version));
        versions.pop();
        older.extend(versions.iter().map(|version| format!("{name} {version}")));
    }
    let named: BTreeSet<String> = DOUBLES.iter().map(|(double, _)| (*double).to_owned()).collect();
    assert_eq!(older, named);
}

#[test]
fn everything_comes_from_the_one_registry_in_a_stated_version() {
    for package in list(&RESOLVED, "packages") {
        let source = package["source"].as_str();
        let is_own = text(package, "name") == "thumbplane";
        let is_there = source == Some("registry+https://github.com/rust-lang/crates.io-index");
        assert!(is_own || is_there, "{} comes from {source:?}", package["name"]);
        let mut asked = list(package, "dependencies").iter().filter(|_| is_own);
        assert!(asked.all(|asked| text(asked, "req") != "*"), "any version will do for {package}");
    }
}

#[test]
fn each_dependency_is_named_where_it_is_asked_for() {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read =
        |below: &str| -> String { arrows::source(&home.join(below)).into_iter().map(|(_, text)| text).collect() };
    let places = BTreeMap::from([("", read("src")), ("build", read("migrations")), ("dev", read("tests"))]);
    let resolve = &RESOLVED["resolve"];
    let own = list(resolve, "nodes").iter().find(|node| node["id"] == resolve["root"]).unwrap();
    assert!(list(own, "deps").len() > 30);
    for named in list(own, "deps") {
        let name = text(named, "name");
        let is_named = |text: &str| {
            text.match_indices(name).any(|(at, _)| {
                let before = text[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric() && c != '_');
                let after = &text[at + name.len()..];
                before && (after.starts_with("::") || after.starts_with(';'))
            })
        };
        for kind in list(named, "dep_kinds") {
            let place = text(kind, "kind");
            assert!(is_named(&places[place]), "nothing names {name}, which is asked for as {place:?}");
        }
    }
}

#[test]
fn dependencies_stand_in_the_order_of_the_alphabet() {
    let manifest = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml")).unwrap();
    let mut sections = 0;
    for section in manifest.split("\n[").filter(|section| section.split(']').next().unwrap().ends_with("dependencies"))
    {
        let lines = section.lines().skip(1).filter(|line| !line.starts_with('#'));
        let names: Vec<&str> = lines.filter_map(|line| Some(line.split_once(" = ")?.0)).collect();
        assert!(names.is_sorted(), "{names:?}");
        sections += usize::from(!names.is_empty());
    }
    assert_eq!(sections, 3, "those of the program, of its build and of the tests");
}
