//! The pages' scripts, as far as they need no browser: Node.js runs what is under `tests/scripts`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;

#[test]
fn the_scripts_hold_without_a_browser() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    // Node.js takes a script for a module by its name or by a file beside it, and a browser needs neither
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("package.json"), r#"{"type": "module"}"#).unwrap();
    copy(&root.join("static"), &folder.path().join("static"), "js");
    copy(&root.join("tests"), &folder.path().join("tests"), "json");
    let tests = copy(&root.join("tests/scripts"), &folder.path().join("tests/scripts"), "js");
    assert!(!tests.is_empty());
    let done = Command::new("node")
        .arg("--test")
        .args(tests)
        .current_dir(folder.path())
        .output()
        .expect("Node.js is installed: tests/run installs Debian's npm, which brings it");
    let told = String::from_utf8_lossy(&done.stdout);
    assert!(done.status.success(), "{told}{}", String::from_utf8_lossy(&done.stderr));
}

/// The files of a folder whose names end like that, as they are called in the other.
fn copy(from: &Path, into: &Path, ending: &str) -> Vec<PathBuf> {
    fs::create_dir_all(into).unwrap();
    let files = fs::read_dir(from).unwrap().map(|entry| entry.unwrap().path());
    let wanted = files.filter(|path| path.extension().is_some_and(|found| found == ending));
    wanted
        .map(|path| {
            let copied = into.join(path.file_name().unwrap());
            fs::copy(&path, &copied).unwrap();
            copied
        })
        .collect()
}
