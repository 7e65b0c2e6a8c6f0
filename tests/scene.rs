//! Broken scenes, and all that is wrong with them.
//!
//! A file in `cases/scene` holds many cases. What stands before the first case is put before the text of each. A case is
//!
//! ```text
//! === what it shows
//! error surface-not-found 3:11 "nroth"
//! ---
//! the text
//! ```
//!
//! with every expected diagnostic: severity, id, line and column, and the offending text. Lines count from the start of the
//! case's own text; what is wrong with the whole is at line 0. `UPDATE_EXPECT=1` writes what is found; read it before you keep it.

use std::fs;
use std::path::{Path, PathBuf};

use expect_test::expect;
use proptest::prelude::*;
use roomwright::scene::diagnostic::{edit_distance, line_and_column, nearest};
use roomwright::scene::{self, Diagnostic, FORMAT, Severity};

struct Case {
    title: String,
    expected: String,
    text: String,
}

/// The common start and the cases of a file.
fn cases(path: &Path) -> (String, Vec<Case>) {
    let file = fs::read_to_string(path).unwrap();
    let mut parts = file.split("=== ");
    let start = parts.next().unwrap().to_owned();
    let case = |part: &str| {
        let (title, rest) = part.split_once('\n').unwrap();
        let (expected, text) = rest.split_once("---\n").unwrap_or_else(|| panic!("{}: no --- line in {title}", path.display()));
        Case { title: title.to_owned(), expected: expected.to_owned(), text: text.to_owned() }
    };
    (start, parts.map(case).collect())
}

fn case_files() -> Vec<PathBuf> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/cases/scene");
    let mut files: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

/// Errors and warnings of a text.
fn diagnose(text: &str) -> Vec<Diagnostic> {
    match scene::read(text) {
        Ok((_, warnings)) => {
            assert!(warnings.iter().all(|found| found.severity == Severity::Warning));
            warnings
        }
        Err(found) => {
            assert!(found.iter().any(|found| found.severity == Severity::Error));
            found
        }
    }
}

/// One line a diagnostic, as the case files write it.
fn summary(found: &[Diagnostic], text: &str, start: &str) -> String {
    let lines_before = start.lines().count();
    let mut summary = String::new();
    for found in found {
        let severity = if found.severity == Severity::Error { "error" } else { "warning" };
        let line = found.line.saturating_sub(lines_before);
        let column = if line == 0 { 0 } else { found.column };
        let offending = text[found.span.clone()].lines().next().unwrap_or("");
        let offending = if line == 0 { "" } else { offending };
        summary.push_str(&format!("{severity} {} {line}:{column} {offending:?}\n", found.id));
    }
    summary
}

#[test]
fn exact_diagnostics_of_broken_scenes() {
    let update = std::env::var_os("UPDATE_EXPECT").is_some();
    let (mut count, mut wrong) = (0, String::new());
    for path in case_files() {
        let (start, cases) = cases(&path);
        let mut written = start.clone();
        for case in cases {
            let text = format!("{start}{}", case.text);
            let found = diagnose(&text);
            let summary = summary(&found, &text, &start);
            if summary != case.expected {
                let rendered: String = found.iter().map(|found| found.render(&text, "scene.toml")).collect();
                let name = path.file_name().unwrap().to_string_lossy();
                wrong.push_str(&format!("{name}: {}\nexpected\n{}found\n{summary}\n{rendered}\n", case.title, case.expected));
            }
            written.push_str(&format!("=== {}\n{summary}---\n{}", case.title, case.text));
            count += 1;
        }
        if update {
            fs::write(&path, written).unwrap();
        }
    }
    assert!(update || wrong.is_empty(), "{wrong}");
    assert!(count >= 40, "{count} cases");
}

/// Every id that a person may meet is shown by a case.
#[test]
fn keeps_every_rule_covered() {
    let sources = [
        include_str!("../sim/scene/walk.rs"),
        include_str!("../sim/scene/read/mod.rs"),
        include_str!("../sim/scene/read/room.rs"),
        include_str!("../sim/scene/read/things.rs"),
        include_str!("../sim/scene/check/mod.rs"),
        include_str!("../sim/scene/check/places.rs"),
        include_str!("../sim/scene/check/hanging.rs"),
    ];
    let all: String = case_files().iter().map(|path| fs::read_to_string(path).unwrap()).collect();
    let mut ids: Vec<&str> = Vec::new();
    for source in sources {
        for marker in ["walk.error(\"", "walk.warning(\"", "self.error(\""] {
            ids.extend(source.split(marker).skip(1).map(|rest| rest.split('"').next().unwrap()));
        }
    }
    ids.sort_unstable();
    ids.dedup();
    assert!(ids.len() > 30, "{ids:?}");
    let missing: Vec<&&str> = ids.iter().filter(|id| !all.contains(&format!(" {id} "))).collect();
    assert!(missing.is_empty(), "no case shows {missing:?}");
}
