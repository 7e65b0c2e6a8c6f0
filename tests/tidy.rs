//! House rules as tests: layers, invariants, headers, the fixed top level, and documents that keep what they promise.
//!
//! Each rule is a function from text to complaints, so that it can be shown a sample that breaks it: a checker that cannot fail
//! checks nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Everything the top level may hold.
const TOP_LEVEL: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "sim",
    "viewer",
    "scenes",
    "tests",
    "benches",
];

/// Built or written by the program, never kept.
const UNKEPT: &[&str] = &["target", "out"];

/// The most lines of a file in `sim`.
const LINES_MAX: usize = 600;

/// Files in `sim` that may be longer, each with a reason. Empty, and meant to stay so.
const LONGER: &[&str] = &[];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn text_of(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// All files below a folder of the house, as paths from the root with `/`, sorted.
fn files_below(folder: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![root().join(folder)];
    while let Some(folder) = open.pop() {
        let Ok(entries) = fs::read_dir(&folder) else { continue };
        for entry in entries {
            let path = entry.expect("a folder that opens can be listed").path();
            if path.is_dir() {
                open.push(path);
            } else {
                let shown = path.strip_prefix(root()).expect("found below the root").to_string_lossy().replace('\\', "/");
                found.push(shown);
            }
        }
    }
    found.sort();
    found
}

fn rust_below(folders: &[&str]) -> Vec<String> {
    folders.iter().flat_map(|folder| files_below(folder)).filter(|path| path.ends_with(".rs") && !path.contains("/target/")).collect()
}

#[track_caller]
fn expect_none(rule: &str, complaints: &[String]) {
    assert!(complaints.is_empty(), "{rule}\n  {}\n", complaints.join("\n  "));
}

/// Code without line comments.
fn code_of(text: &str) -> String {
    let without_comment = |line: &str| match line.find("//") {
        Some(at) if !line[..at].ends_with(':') => line[..at].to_owned(),
        _ => line.to_owned(),
    };
    text.lines().map(without_comment).collect::<Vec<_>>().join("\n")
}

// The layers.

/// Module -> line, from the table in a document (`| 3 | scene | ... |`).
fn layers(document: &str) -> BTreeMap<String, u32> {
    let mut table = BTreeMap::new();
    for line in document.lines() {
        let cells: Vec<&str> = line.trim_start_matches("//!").trim().split('|').map(str::trim).collect();
        let [_, number, modules, ..] = cells[..] else { continue };
        let Ok(number) = number.parse() else { continue };
        table.extend(modules.split_whitespace().map(|module| (module.trim_matches('`').to_owned(), number)));
    }
    table
}

/// The module a file of `sim` belongs to, and how many folders below `sim` its own module lies.
fn module_of(path: &str) -> (String, usize) {
    let inner = path.trim_start_matches("sim/").trim_end_matches(".rs").trim_end_matches("/mod");
    (inner.split('/').next().unwrap_or_default().to_owned(), inner.split('/').count())
}

/// Names that directly follow `crate::`, or enough `super::` to mean the same.
fn imports(code: &str, depth: usize) -> BTreeSet<String> {
    let climb = "super::".repeat(depth);
    let mut names = BTreeSet::new();
    for prefix in ["crate::", climb.as_str()] {
        for (at, _) in code.match_indices(prefix) {
            let longer_word = code[..at].ends_with(|before: char| before.is_alphanumeric() || before == '_' || before == ':');
            if !longer_word {
                names.extend(names_after(&code[at + prefix.len()..]));
            }
        }
    }
    names
}

/// The first name of a path, or of each path of a group in braces.
fn names_after(path: &str) -> Vec<String> {
    let word = |text: &str| text.chars().take_while(|letter| letter.is_alphanumeric() || *letter == '_').collect::<String>();
    let Some(group) = path.strip_prefix('{') else { return vec![word(path)] };
    let (mut depth, mut items) = (0, vec![String::new()]);
    for letter in group.chars() {
        match letter {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => items.push(String::new()),
            _ if depth == 0 => items.last_mut().expect("begins with one").push(letter),
            _ => {}
        }
    }
    items.iter().map(|item| word(item.trim())).collect()
}

fn layer_complaints(path: &str, text: &str, table: &BTreeMap<String, u32>) -> Vec<String> {
    let (own, depth) = module_of(path);
    if ["lib", "main", "cli"].contains(&own.as_str()) || path.ends_with("tests.rs") {
        return Vec::new();
    }
    let Some(own_line) = table.get(&own) else {
        return vec![format!("{path}: module `{own}` is not in the table of sim/lib.rs; give it a line")];
    };
    let later = |name: &String| table.get(name).filter(|line| *line >= own_line && *name != own).map(|line| (name.clone(), *line));
    let complain = |(name, line): (String, u32)| {
        let what = if line == *own_line { "its sibling" } else { "later" };
        format!("{path}: `{own}` (line {own_line}) imports `{name}` (line {line}), {what}; a module imports only from earlier lines")
    };
    imports(&code_of(text), depth).iter().filter_map(later).map(complain).collect()
}

#[test]
fn keeps_the_layers() {
    let table = layers(&text_of(&root().join("sim/lib.rs")));
    assert!(table.len() >= 20, "the table in sim/lib.rs has gone: {table:?}");
    let complaints: Vec<String> =
        rust_below(&["sim"]).iter().flat_map(|path| layer_complaints(path, &text_of(&root().join(path)), &table)).collect();
    expect_none("layers of sim/lib.rs:", &complaints);
}

#[test]
fn keeps_one_table_of_layers_in_both_documents() {
    let (code, guide) = (layers(&text_of(&root().join("sim/lib.rs"))), layers(&text_of(&root().join("DEVELOPERS.md"))));
    assert_eq!(code, guide, "the tables of layers in sim/lib.rs and DEVELOPERS.md differ");
}

#[test]
fn keeps_the_layer_check_able_to_fail() {
    let table = layers("//! | 0 | units bands | words |\n//! | 3 | scene |\n//! | 5 | rays modes |\n//! | 10 | findings |");
    let complaints = |path, text| layer_complaints(path, text, &table).len();
    assert_eq!(complaints("sim/scene/read.rs", "use crate::units::Length;\nuse super::check;"), 0);
    assert_eq!(complaints("sim/scene/read.rs", "use crate::findings::Survey;"), 1, "a later line");
    assert_eq!(complaints("sim/scene/read.rs", "use crate::{units::Length, rays::{a, b}, findings};"), 2, "two in a group");
    assert_eq!(complaints("sim/scene/read.rs", "use super::super::rays;"), 1, "climbing out");
    assert_eq!(complaints("sim/scene/mod.rs", "use super::rays;"), 1, "climbing out of a folder");
    assert_eq!(complaints("sim/rays/mod.rs", "fn f() { crate::modes::list(); }"), 1, "a sibling, inline");
    assert_eq!(complaints("sim/rays/mod.rs", "// crate::modes is a stranger\nuse crate::rays::store;"), 0, "a comment, oneself");
    assert_eq!(complaints("sim/stray.rs", ""), 1, "a module without a line");
}

// What the library may not do.

/// Words that read the world or print, banned in `sim` outside `files.rs`, `main.rs` and `cli/`.
const WORLD: &[&str] = &[
    "std::fs",
    "std::env",
    "std::net",
    "std::process",
    "println!",
    "eprintln!",
    "print!(",
    "eprint!(",
    "dbg!",
    "stdout()",
    "stderr()",
    "stdin()",
    "Instant",
    "SystemTime",
    "thread_rng",
    "rand::rng(",
    "from_os_rng",
    "sleep(",
];

/// Words banned in every Rust file of the product.
const NOWHERE: &[&str] = &["todo!", "unimplemented!", "#[allow", "#![allow", ".normalize()"];

/// Whether `word` stands in the code as a word of its own.
fn stands_in(code: &str, word: &str) -> bool {
    let is_letter = |letter: char| letter.is_alphanumeric() || letter == '_';
    let begins = word.starts_with(is_letter);
    let ends = word.ends_with(is_letter);
    code.match_indices(word).any(|(at, _)| {
        let joined_before = begins && code[..at].ends_with(is_letter);
        let joined_after = ends && code[at + word.len()..].starts_with(is_letter);
        !joined_before && !joined_after
    })
}

fn world_complaints(path: &str, text: &str) -> Vec<String> {
    let may = path == "sim/files.rs" || path == "sim/main.rs" || path.starts_with("sim/cli/");
    let code = code_of(text);
    let of_world = WORLD.iter().filter(|word| !may && path.starts_with("sim/") && stands_in(&code, word));
    let of_all = NOWHERE.iter().filter(|word| stands_in(&code, word));
    of_world.chain(of_all).map(|word| format!("{path}: `{word}` has no place here")).collect()
}

#[test]
fn keeps_the_library_away_from_files_clocks_environment_and_print() {
    let complaints: Vec<String> =
        rust_below(&["sim", "viewer", "benches"]).iter().flat_map(|path| world_complaints(path, &text_of(&root().join(path)))).collect();
    expect_none("bytes and strings in, values out; nothing unfinished:", &complaints);
}

#[test]
fn keeps_the_world_check_able_to_fail() {
    assert_eq!(world_complaints("sim/rays/mod.rs", "fn f() { std::fs::read(\"a\"); println!(\"b\"); }").len(), 2);
    assert_eq!(world_complaints("sim/rays/mod.rs", "let begin = Instant::now();").len(), 1);
    assert_eq!(world_complaints("sim/rays/mod.rs", "/// Instantaneous\nlet instant_s = 0.0; // println! is banned").len(), 0);
    assert_eq!(world_complaints("sim/files.rs", "use std::fs;").len(), 0);
    assert_eq!(world_complaints("sim/files.rs", "todo!()").len(), 1);
    assert_eq!(world_complaints("viewer/main.rs", "let n = v.normalize();").len(), 1);
}

// What the viewer may not do.

/// Modules of `sim` that the viewer names: the front door, what it answers with, what the user wrote, where things lie, and what plays sounds.
/// Not the medium, not the solvers, not what weighs.
const SEEN_BY_VIEWER: &[&str] = &[
    "units",
    "bands",
    "progress",
    "geometry",
    "absorbers",
    "scene",
    "room",
    "hanging",
    "findings",
    "listen",
    "layout",
    "plan",
    "prove",
    "workshop",
    "study",
    "report",
    "files",
];

/// What it names of other modules: sound as a file has it, at the rate of a device, and what a recording is of.
const OF_SOUND: [&str; 4] = ["dsp::wav", "dsp::resample", "dsp::sweep::Sweep", "measured::take::Signal"];

/// Words of acoustics, banned in `viewer`: the medium, images of sources, levels of energies, the strongest of some levels, the criterion.
/// What is wanted there is a field or method of a result of `sim/study`.
const ACOUSTICS: &[&str] = &[
    "medium",
    "density",
    "mirror",
    "log10",
    "ln",
    "exp",
    "LN_10",
    "max_by(f64::total_cmp)",
    "excess_db >",
    "level_db >",
    "level_db <",
    "excess_db +",
    "level_db +",
    "level_db -",
];

/// The code of the viewer that runs: its tests may compute what they compare with.
fn without_tests(path: &str, text: &str) -> String {
    if path.ends_with("tests.rs") { String::new() } else { code_of(text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default()) }
}

fn viewer_complaints(path: &str, text: &str) -> Vec<String> {
    let code = without_tests(path, text);
    let code = OF_SOUND.iter().fold(code, |code, part| code.replace(&format!("roomwright::{part}"), ""));
    let paths = code.match_indices("roomwright::").flat_map(|(at, prefix)| names_after(&code[at + prefix.len()..]));
    let modules: BTreeSet<String> = paths.filter(|name| !SEEN_BY_VIEWER.contains(&name.as_str())).collect();
    let strange = modules.into_iter().map(|name| format!("{path}: names `{name}` of sim; the viewer asks `study`"));
    let words = ACOUSTICS.iter().filter(|word| stands_in(&code, word));
    strange.chain(words.map(|word| format!("{path}: `{word}` is acoustics; it belongs behind `study`"))).collect()
}

#[test]
fn keeps_acoustics_out_of_the_viewer() {
    let files = rust_below(&["viewer"]);
    let complaints: Vec<String> = files.iter().flat_map(|path| viewer_complaints(path, &text_of(&root().join(path)))).collect();
    expect_none("the viewer draws what `sim/study` gives:", &complaints);
    let named: String = files.iter().map(|path| without_tests(path, &text_of(&root().join(path)))).collect();
    assert!(named.contains("roomwright::study"), "the files of the viewer are no longer found where they were");
}

#[test]
fn keeps_the_viewer_check_able_to_fail() {
    let complaints = |text| viewer_complaints("viewer/stage/wave.rs", text).len();
    assert_eq!(complaints("use roomwright::study::Wavefront;\nuse roomwright::{room::Room, scene};"), 0);
    assert_eq!(complaints("use roomwright::{images, study, weigh::Traced};"), 2, "two in a group");
    assert_eq!(complaints("let m = roomwright::air::Medium::new(air);"), 1, "inline");
    assert_eq!(complaints("use roomwright::dsp::wav::{self, Sound};\nuse roomwright::measured::take::Signal;"), 0, "a recording");
    assert_eq!(complaints("use roomwright::measured::take::Take;\nuse roomwright::dsp::recorded::deconvolve;"), 2, "what is made of it");
    assert_eq!(complaints("let radius = room.medium.speed * time_s;"), 1);
    assert_eq!(complaints("let image = chart.mirror(source);"), 1);
    assert_eq!(complaints("let level = 10.0 * energy.log10();"), 1);
    assert_eq!(complaints("levels.max_by(f64::total_cmp)"), 1);
    assert_eq!(complaints("rows.filter(|one| one.excess_db > 0.0)"), 1);
    assert_eq!(complaints("// the medium's mirror\nslider.speed(0.1); zoom.powf(2.0)"), 0, "a comment, speed of a hand");
    let tested = "fn f() {}\n#[cfg(test)]\nmod tests {\n    let c = room.medium.speed;\n}";
    assert_eq!(complaints(tested), 0, "a test compares");
    assert_eq!(complaints(&tested.replace("fn f() {}", "use roomwright::rays::trace;")), 1, "what stands before the tests");
    assert_eq!(viewer_complaints("viewer/stage/tests.rs", "room.medium").len(), 0);
}

// Files as such.

fn file_complaints(path: &str, text: &str) -> Vec<String> {
    let mut complaints = Vec::new();
    if !text.starts_with("//!") {
        complaints.push(format!("{path}: does not begin with `//!` (what it answers, the equation, references, limits)"));
    }
    let lines = text.lines().count();
    if path.starts_with("sim/") && lines > LINES_MAX && !LONGER.contains(&path) {
        complaints.push(format!("{path}: {lines} lines, more than {LINES_MAX}; split it by what it answers"));
    }
    complaints
}

#[test]
fn keeps_a_header_on_every_file_and_files_short() {
    let complaints: Vec<String> = rust_below(&["sim", "tests", "benches", "viewer"])
        .iter()
        .flat_map(|path| file_complaints(path, &text_of(&root().join(path))))
        .collect();
    expect_none("headers and lengths:", &complaints);
}

#[test]
fn keeps_the_file_check_able_to_fail() {
    assert_eq!(file_complaints("tests/a.rs", "use std::fs;").len(), 1);
    assert_eq!(file_complaints("sim/a.rs", &format!("//! A.\n{}", "\n".repeat(LINES_MAX))).len(), 1);
    assert_eq!(file_complaints("sim/a.rs", "//! A.\n").len(), 0);
}

/// Names that lie at the top level.
fn lying() -> BTreeSet<String> {
    let entries = fs::read_dir(root()).expect("the root can be listed");
    entries.map(|entry| entry.expect("an entry of the root").file_name().to_string_lossy().into_owned()).collect()
}

/// Names at the top level that the repository keeps, or that lie there where there is no repository: a scene of one's own is no harm.
fn kept() -> BTreeSet<String> {
    let output = Command::new("git").args(["ls-files", "--cached"]).current_dir(root()).output();
    match output {
        Ok(output) if output.status.success() && !output.stdout.is_empty() => {
            let text = String::from_utf8_lossy(&output.stdout).into_owned();
            text.lines().map(|path| path.split('/').next().unwrap_or(path).to_owned()).collect()
        }
        _ => lying(),
    }
}

fn top_level_complaints(kept: &BTreeSet<String>, lying: &BTreeSet<String>) -> Vec<String> {
    let known = |name: &str| TOP_LEVEL.contains(&name) || UNKEPT.contains(&name) || name.starts_with('.');
    let strange = kept.iter().filter(|name| !known(name)).map(|name| format!("`{name}` has no place at the top level"));
    let lacking = TOP_LEVEL.iter().filter(|name| !lying.contains(**name)).map(|name| format!("`{name}` is missing"));
    strange.chain(lacking).collect()
}

#[test]
fn keeps_the_top_level_fixed() {
    expect_none("the top level is fixed:", &top_level_complaints(&kept(), &lying()));
    let all: BTreeSet<String> = TOP_LEVEL.iter().chain(&["src", ".ci"]).map(|name| (*name).to_owned()).collect();
    assert_eq!(top_level_complaints(&all, &all).len(), 1, "a folder `src` would be noticed");
    assert_eq!(top_level_complaints(&all, &BTreeSet::new()).len(), TOP_LEVEL.len() + 1, "a missing file would be noticed");
}

/// Text files of the house that people read.
fn prose_and_code() -> Vec<String> {
    let endings = [".rs", ".toml", ".md", ".json", ".csv", ".svg", ".txt"];
    let mut files: Vec<String> =
        ["sim", "viewer", "scenes", "tests", "benches", ".ci", ".cargo"].iter().flat_map(|f| files_below(f)).collect();
    files.retain(|path| (endings.iter().any(|ending| path.ends_with(ending)) || path.starts_with(".ci")) && !path.contains("/target/"));
    files.extend(["README.md", "DEVELOPERS.md", "CHANGELOG.md", "Cargo.toml"].map(str::to_owned));
    files
}

/// Places that exist on one machine only. Put together here so that this file does not hold them.
fn machine_places() -> Vec<String> {
    [["/wo", "rk/"], ["/ro", "ot/"], ["/ho", "me/"], ["/Us", "ers/"], ["../sh", "ared"], [":\\Us", "ers"]]
        .map(|halves| halves.concat())
        .to_vec()
}

fn place_complaints(path: &str, text: &str) -> Vec<String> {
    let found = |place: &String| text.contains(place.as_str()).then(|| format!("{path}: names `{place}`, a place of one machine"));
    machine_places().iter().filter_map(found).collect()
}

#[test]
fn keeps_places_of_one_machine_out() {
    let complaints: Vec<String> = prose_and_code()
        .iter()
        .filter_map(|path| fs::read_to_string(root().join(path)).ok().map(|text| (path, text)))
        .flat_map(|(path, text)| place_complaints(path, &text))
        .collect();
    expect_none("the house builds anywhere:", &complaints);
    assert_eq!(place_complaints("a", &["see ../sh", "ared/x"].concat()).len(), 1, "a sample would be noticed");
}

// Documents.

#[test]
fn keeps_a_question_in_every_scene() {
    let scenes: Vec<String> = files_below("scenes").into_iter().filter(|path| path.ends_with(".toml")).collect();
    assert!(!scenes.is_empty(), "no scenes");
    let has = |text: &str| text.lines().any(|line| line.trim_start().starts_with("question = \"") && line.contains('?'));
    let complaints: Vec<String> =
        scenes.iter().filter(|path| !has(&text_of(&root().join(path)))).map(|path| format!("{path}: no `question = \"...?\"`")).collect();
    expect_none("each scene is the answer to one question:", &complaints);
    assert!(!has("name = \"no question\""));
}

/// Lines of a document that call the program: the words after `roomwright` or `cargo run --release --`.
fn commands_in(document: &str) -> Vec<Vec<String>> {
    let mut commands = Vec::new();
    let mut inside = false;
    for line in document.lines() {
        if line.trim_start().starts_with("```") {
            inside = !inside;
        }
        let line = line.trim().trim_start_matches("$ ");
        let called = line.strip_prefix("cargo run --release -- ").or_else(|| line.strip_prefix("roomwright "));
        if let Some(called) = called.filter(|_| inside) {
            let called = called.split(" #").next().unwrap_or_default();
            commands.push(called.split_whitespace().map(str::to_owned).collect());
        }
    }
    commands
}

fn command_complaints(document: &str, help: impl Fn(&str) -> Option<String>) -> Vec<String> {
    let mut complaints = Vec::new();
    for words in commands_in(document) {
        let Some(verb) = words.first() else { continue };
        let Some(help) = help(verb) else {
            complaints.push(format!("`{}`: there is no command `{verb}`", words.join(" ")));
            continue;
        };
        for word in &words[1..] {
            let flag = word.split('=').next().unwrap_or(word);
            if flag.starts_with("--") && !stands_in(&help, flag) {
                complaints.push(format!("`{}`: `{verb}` has no `{flag}`", words.join(" ")));
            }
            if word.starts_with("scenes/") && verb != "new" && !root().join(word).exists() {
                complaints.push(format!("`{}`: there is no {word}", words.join(" ")));
            }
        }
    }
    complaints
}

#[test]
fn keeps_the_promises_of_the_readme() {
    let readme = text_of(&root().join("README.md"));
    let help = |verb: &str| {
        let output = Command::new(env!("CARGO_BIN_EXE_roomwright")).args([verb, "--help"]).output().expect("the program runs");
        output.status.success().then(|| String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let mut complaints = command_complaints(&readme, help);
    for (at, _) in readme.match_indices("](") {
        let target = readme[at + 2..].split([')', '#']).next().unwrap_or_default();
        if !target.is_empty() && !target.contains("://") && !root().join(target).exists() {
            complaints.push(format!("a link or picture leads to `{target}`, which does not exist"));
        }
    }
    for first in ["cargo run --release -- place scenes/attic-voice-room.toml", "cargo test --release"] {
        if !readme.contains(first) {
            complaints.push(format!("`{first}` is not shown"));
        }
    }
    let script = text_of(&root().join(".ci/run"));
    if !script.lines().any(|line| line.ends_with(" cargo test --release")) {
        complaints.push("`.ci/run` does not call the test command shown here".to_owned());
    }
    expect_none("README.md:", &complaints);

    let sample = "```\nroomwright fly scenes/none.toml\nroomwright place scenes/none.toml --wings\n```\n";
    assert_eq!(command_complaints(sample, |verb| (verb == "place").then(|| "--json".into())).len(), 3, "a sample would be noticed");
}

#[test]
fn keeps_the_scene_of_the_readme_readable() {
    let readme = text_of(&root().join("README.md"));
    let scene = readme.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).expect("README.md shows a scene");
    let found = match roomwright::scene::read(scene) {
        Ok((_, warnings)) => warnings,
        Err(mistakes) => mistakes,
    };
    expect_none("the scene in README.md:", &found.iter().map(|one| format!("line {}: {one}", one.line)).collect::<Vec<_>>());
}

/// Words with a hyphen in the scene format that are not ids.
const NOT_IDS: &[&str] = &["kebab-case", "free-standing", "delany-bazley", "johnson-champoux-allard"];

/// Ids of diagnostics in the code that reads and checks scenes: texts that are lower-case words joined by hyphens.
fn ids_in(code: &str) -> BTreeSet<String> {
    let is_word = |word: &str| !word.is_empty() && word.chars().all(|letter| letter.is_ascii_lowercase());
    let is_id = |text: &str| text.contains('-') && text.split('-').all(is_word) && !NOT_IDS.contains(&text);
    code.split('"').filter(|text| is_id(text)).map(str::to_owned).collect()
}

#[test]
fn keeps_every_id_of_a_diagnostic_in_the_readme() {
    let readme = text_of(&root().join("README.md"));
    let ids: BTreeSet<String> = rust_below(&["sim/scene"]).iter().flat_map(|path| ids_in(&text_of(&root().join(path)))).collect();
    assert!(ids.len() > 15, "the ids are no longer found where they were: {ids:?}");
    let complaints: Vec<String> =
        ids.iter().filter(|id| !readme.contains(&format!("`{id}`"))).map(|id| format!("`{id}` is not explained")).collect();
    expect_none("ids in README.md:", &complaints);
    assert_eq!(ids_in("walk.error(\"a-b\", span); (\"c-d\", \"What-is\", \"x\", \"free-standing\")").len(), 2);
}

#[test]
fn keeps_an_unreleased_section_with_numbers_in_the_change_log() {
    let log = text_of(&root().join("CHANGELOG.md"));
    assert!(log.contains("\n## Unreleased\n"), "CHANGELOG.md has no `## Unreleased`");
    assert!(log.contains("**Numbers**"), "CHANGELOG.md has no **Numbers**: every entry that moves a predicted number stands there");
}

#[test]
fn keeps_the_guide_short() {
    let lines = text_of(&root().join("DEVELOPERS.md")).lines().count();
    assert!(lines < 400, "DEVELOPERS.md has {lines} lines; it stays under 400");
}

#[test]
fn keeps_every_test_file_in_the_table_of_contents() {
    let contents = text_of(&root().join("tests/main.rs"));
    let modules = rust_below(&["tests"]).into_iter().filter(|path| path.matches('/').count() == 1 && path != "tests/main.rs");
    let complaints: Vec<String> = modules
        .map(|path| path.trim_start_matches("tests/").trim_end_matches(".rs").to_owned())
        .filter(|module| !contents.contains(&format!("mod {module};")))
        .map(|module| format!("tests/{module}.rs is not in tests/main.rs, so it never runs"))
        .collect();
    expect_none("tests/main.rs is the table of contents:", &complaints);
}
