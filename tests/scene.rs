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
use proptest::sample::Index;
use roomwright::scene::diagnostic::{IDS, edit_distance, line_and_column, nearest, report};
use roomwright::scene::{self, Diagnostic, FORMAT, Severity};

use super::scenes::shipped_with_lessons;

struct Case {
    title: String,
    expected: String,
    text: String,
}

/// The common start and the cases of a file.
fn cases(path: &Path) -> (String, Vec<Case>) {
    let file = fs::read_to_string(path).expect("a case file can be read");
    let mut parts = file.split("=== ");
    let start = parts.next().expect("a split has a first part").to_owned();
    let case = |part: &str| {
        let (title, rest) = part.split_once('\n').expect("a case has lines");
        let (expected, text) = rest.split_once("---\n").unwrap_or_else(|| panic!("{}: no --- line in {title}", path.display()));
        Case { title: title.to_owned(), expected: expected.to_owned(), text: text.to_owned() }
    };
    (start, parts.map(case).collect())
}

/// The case files, by name.
fn case_files() -> Vec<PathBuf> {
    let folder = fs::read_dir(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/cases/scene")).expect("the folder is there");
    let mut files: Vec<PathBuf> = folder.map(|entry| entry.expect("a folder can be listed").path()).collect();
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

/// Every id that a person may meet is explained, and shown by a case; nothing is explained that nobody meets.
#[test]
fn keeps_every_rule_covered() {
    let mut shown: Vec<String> = Vec::new();
    for path in case_files() {
        let (start, cases) = cases(&path);
        shown.extend(cases.iter().flat_map(|case| diagnose(&format!("{start}{}", case.text))).map(|found| found.id.to_owned()));
    }
    shown.sort();
    shown.dedup();
    let explained: Vec<&str> = IDS.iter().map(|(id, _)| *id).collect();
    assert_eq!(shown, explained);
}

#[test]
fn locked_diagnostics_as_they_are_shown() {
    let text = "format = 1\nname = \"Höhle\"\nuse = \"mixing\"\n\n[room]\nsize = [\"12 ft\", 2.9, 2,4]\n\tflor = \"Concrete floor\"\n\n[[seat]]\near = [1, \"4 yd\", 1.2]\n";
    let shown = report(&diagnose(text), text, "cave.toml");
    expect![[r#"
        error[no-source]: nothing makes a sound in this scene
         --> cave.toml:1:1
          |
        1 | format = 1
          | ^
          = hint: add a [[loudspeaker]], [[voice]] or [[instrument]] with `position`

        error[wrong-count]: expected a size [along x, along y, height], found a list of 4: `["12 ft", 2.9, 2,4]`
         --> cave.toml:6:8
          |
        6 | size = ["12 ft", 2.9, 2,4]
          |        ^^^^^^^^^^^^^^^^^^^
          = hint: if these are decimal commas, write points: 3.6

        error[unknown-key]: [room] has no key `flor`
         --> cave.toml:7:2
          |
        7 | 	flor = "Concrete floor"
          | 	^^^^
          = hint: did you mean `floor`?

        error[not-a-length]: `"4 yd"` is not a length: `yd` is not a unit of length
          --> cave.toml:10:11
           |
        10 | ear = [1, "4 yd", 1.2]
           |           ^^^^^^
           = hint: write 2.4, "2.4 m", "610 mm", "24.5 cm", "8 ft 2 1/2 in" or "98 1/2 in"

        cave.toml: 4 errors
    "#]]
    .assert_eq(&shown);
}

/// What is far from every word is told what the words mean, a bare number what it may be in, and a stray key that it may go.
#[test]
fn keeps_hints_that_say_what_to_type() {
    let room = "format = 1\nname = \"box\"\nuse = \"mixing\"\nunit = \"m\"\n[room]\nsize = [4, 3, 2.4]\nfloor = \"Concrete floor\"\nwall_material = \"Concrete floor\"\nceiling_material = \"Concrete floor\"\n[[loudspeaker]]\nposition = [1, 1, 1]\ntoward = \"seat\"\n[[seat]]\near = [2, 2, 1.2]\n";
    let panel = "[[stock]]\nname = \"panel\"\nkind = \"panel\"\nsize = [0.6, 1.2]\nthickness = 0.05\nflow_resistivity = 12000\n";
    let joists = "[[structure]]\nname = \"joists\"\nkind = \"joists\"\nsurface = \"ceiling\"\nruns = \"up\"\nfirst = 0.3\n";
    let hint = |addition: &str| {
        let text = format!("{room}{addition}");
        let found = diagnose(&text);
        assert_eq!(found.len(), 1, "{}", report(&found, &text, "box.toml"));
        found[0].hint.clone().unwrap_or_default()
    };
    assert!(hint(&joists.replace("up", "along")).contains("\"across\" from left to right"));
    assert_eq!(hint(&joists.replace("\"up\"", "\"acros\"")), "did you mean \"across\"?");
    assert_eq!(
        hint(&panel.replace("[0.6, 1.2]", "[60, 1.2]")),
        "did you mean \"60 mm\" or \"60 cm\"? a bare number is in the scene's unit, m"
    );
    assert_eq!(hint("[[lamp]]\nname = \"lamp\"\n"), "did you mean `clearance`?");
    assert_eq!(hint(&panel.replace("flow_resistivity", "resistivity")), "did you mean `flow_resistivity`?");
    assert_eq!(hint(&format!("{panel}mass = \"8 lb\"\n")), "write the number alone, in kg: 3.63");
    let door = "[[opening]]\nname = \"door\"\nkind = \"door\"\nsurface = \"south\"\nleft = 0.2\nwidth = 8\nheight = 2\nmaterial = \"Solid wooden door\"\n";
    assert!(hint(door).starts_with("a bare number is in the scene's unit, m: "));
    let feet = diagnose("format = 1\nname = \"box\"\nuse = \"mixing\"\nunit = \"ft\"\n[room]\nsize = [13, 10, 7'8\"]\n");
    assert!(feet.iter().any(|found| found.hint.as_deref().unwrap_or_default().contains("7 ft 8 in")), "{feet:?}");
    let stray = hint(&format!("{panel}fiber = \"glass\"\n"));
    assert!(stray.starts_with("leave `fiber` out") && stray.contains("`density = 48`"), "{stray}");
}

#[test]
fn exact_lines_and_columns() {
    let text = "aä\n\nb";
    assert_eq!(line_and_column(text, 0), (1, 1));
    assert_eq!(line_and_column(text, 3), (1, 3));
    assert_eq!(line_and_column(text, 4), (2, 1));
    assert_eq!(line_and_column(text, 5), (3, 1));
    assert_eq!(line_and_column(text, 99), (3, 2));
    // Inside of a character and beyond the end count as the nearest place before.
    assert_eq!(line_and_column(text, 2), (1, 2));
}

#[test]
fn exact_edit_distances() {
    assert_eq!(edit_distance("", "abc"), 3);
    assert_eq!(edit_distance("floor", "flor"), 1);
    assert_eq!(edit_distance("seat", "saet"), 1);
    assert_eq!(edit_distance("kitten", "sitting"), 3);
    assert_eq!(nearest("nroth", ["south", "north"]), Some("north"));
    assert_eq!(nearest("banana", ["south", "north"]), None);
}

/// Texts that are real scenes.
fn originals() -> Vec<String> {
    shipped_with_lessons().into_iter().map(|(_, text)| text).chain([FORMAT.to_owned()]).collect()
}

/// Reading says what is wrong, whatever the text: every place is in the text, and every complaint can be shown.
fn survives(text: &str) {
    let (lines, found) = (text.split('\n').count(), diagnose(text));
    for found in found {
        assert!(text.get(found.span.clone()).is_some(), "{found:?}");
        assert!((1..=lines).contains(&found.line) && found.column >= 1, "{found:?}");
        assert!(!found.message.is_empty() && !found.message.contains("NaN"), "{found:?}");
        assert!(found.render(text, "scene.toml").contains('^'));
    }
    if let Ok((scene, _)) = scene::read(text) {
        let printed = scene::print(&scene);
        let (again, _) = scene::read(&printed).unwrap_or_else(|found| panic!("{printed}\n{found:?}"));
        assert_eq!(again, scene);
    }
}

/// What fingers and editors do to a text.
fn mangled(text: &str, edits: &[(usize, usize, String)]) -> String {
    let mut characters: Vec<char> = text.chars().collect();
    for (at, gone, put) in edits {
        let at = at % (characters.len() + 1);
        let end = (at + gone).min(characters.len());
        characters.splice(at..end, put.chars());
    }
    characters.into_iter().collect()
}

/// A value of the text changed into another.
fn revalued(text: &str, which: usize, value: &str) -> String {
    let lines: Vec<usize> =
        text.lines().enumerate().filter(|(_, line)| line.contains(" = ") && !line.starts_with('#')).map(|(index, _)| index).collect();
    let target = lines[which % lines.len()];
    let change = |(index, line): (usize, &str)| match line.split_once(" = ") {
        Some((key, _)) if index == target => format!("{key} = {value}\n"),
        _ => format!("{line}\n"),
    };
    text.lines().enumerate().map(change).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn keeps_calm_at_mangled_scenes(
        which in any::<Index>(),
        edits in proptest::collection::vec((0..10_000_usize, 0..12_usize, "[-0-9.,=\\[\\]{}\"'#a-z \n]{0,6}|\\PC{0,2}"), 1..5),
    ) {
        survives(&mangled(which.get::<String>(&originals()), &edits));
    }

    #[test]
    fn keeps_calm_at_cut_scenes(which in any::<Index>(), from in 0..8000_usize, to in 0..8000_usize) {
        let text: Vec<char> = which.get(&originals()).chars().collect();
        let (from, to) = (from.min(to) % (text.len() + 1), from.max(to).min(text.len()));
        survives(&text[from.min(to)..to].iter().collect::<String>());
        survives(&text[..to].iter().collect::<String>());
    }

    #[test]
    fn keeps_calm_at_strange_values(
        which in any::<Index>(),
        changes in proptest::collection::vec((0..500_usize, "-?[0-9]{1,3}(\\.[0-9]{1,3})?|nan|inf|-inf|1e308|0|\"[a-z0-9 '/]{0,8}\"|true|\\[\\]|\\[[-0-9., ]{0,9}\\]|\\[[0-9]\\.[0-9], [0-9]\\.[0-9], [0-9]\\.[0-9]\\]|\\{\\}|1979-05-27|\"seat\"|\"north\"|\"ceiling\"|\"floor\""), 1..4),
    ) {
        let text = changes.iter().fold(which.get(&originals()).clone(), |text, (line, value)| revalued(&text, *line, value));
        survives(&text);
    }

    #[test]
    fn keeps_calm_at_noise(text in "\\PC{0,200}|[-0-9.,=\\[\\]{}\"'#a-z \n]{0,300}") {
        survives(&text);
    }

    /// Outlines of any corners are judged without a panic; those that pass have an area and run counterclockwise.
    #[test]
    fn keeps_outlines_simple(corners in proptest::collection::vec((-5..5_i32, -5..5_i32), 0..8), slopes in proptest::collection::vec((-20..20_i32, -20..20_i32, 5..80_i32), 1..4)) {
        let corners: Vec<String> = corners.iter().map(|(x, y)| format!("[{x}, {y}]")).collect();
        let planes: String = slopes.iter().map(|(a, b, height)| format!("[[room.ceiling]]\nheight = {}\nslope = [{}, {}]\n", *height as f64 / 10.0, *a as f64 / 10.0, *b as f64 / 10.0)).collect();
        let text = format!(
            "format = 1\nname = \"r\"\nuse = \"voice\"\n[room]\noutline = [{}]\nfloor = \"Concrete floor\"\nwall_material = \"Glass 4 mm\"\nceiling_material = \"Glass 4 mm\"\n{planes}[[voice]]\nposition = [0.5, 0.5, 1]\ndirectivity = \"omni\"\n[[seat]]\near = [1, 1, 1]\n[[stock]]\nkind = \"corner\"\nsize = [0.5, 0.6]\nthickness = 0.1\nflow_resistivity = 9000\ncount = 1\n[[stock]]\nname = \"p\"\nkind = \"panel\"\nsize = [0.5, 0.6]\nthickness = 0.1\nflow_resistivity = 9000\ncount = 1\n[[panel]]\ntype = \"p\"\nsurface = \"ceiling 1\"\nleft = 0.2\nbottom = 0.1\n",
            corners.join(", ")
        );
        survives(&text);
        if let Ok((scene, _)) = scene::read(&text) {
            let area = scene.floor_plan().area();
            prop_assert!(area > 0.0);
            let parts: f64 = (0..scene.ceiling.len()).flat_map(|plane| scene.ceiling_facets(plane)).map(|facet| facet.area()).sum();
            prop_assert!((parts - area).abs() < 1e-6, "{parts} {area}");
        }
    }
}

#[test]
fn keeps_broken_scenes_fit_to_be_drawn() {
    let (mut drawn, mut shapeless) = (0, 0);
    for path in case_files() {
        let (start, cases) = cases(&path);
        for case in cases {
            let Some(sketch) = scene::sketch(&(start.clone() + &case.text)) else {
                shapeless += 1;
                continue;
            };
            drawn += 1;
            let room = roomwright::study::room(&sketch);
            assert!(room.volume > 0.0 && room.surfaces.len() >= 5, "{}: {}", path.display(), case.title);
        }
    }
    assert!(drawn > 30 && shapeless > 5, "{drawn} drawn, {shapeless} without a shape");
}

#[test]
fn keeps_all_of_a_sound_scene_in_its_sketch() {
    let sketch = scene::sketch(FORMAT).unwrap();
    let (mut scene, _) = scene::read(FORMAT).unwrap();
    scene.panels.retain(|panel| matches!(panel.place, scene::PanelPlace::Surface { .. }));
    assert_eq!(sketch, scene);
    let broken = FORMAT.replace("material = \"Glass 4 mm\"", "material = \"Glas\"").replace("left = 0.5", "left = 50");
    let sketch = scene::sketch(&broken).unwrap();
    assert_eq!(sketch.openings.iter().map(|opening| opening.name.as_str()).collect::<Vec<_>>(), ["window"]);
}
