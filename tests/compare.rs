//! Scenes side by side: what differs in their texts, by how much in their figures, the command and its page.

use std::path::Path;

use roomwright::progress::Progress;
use roomwright::report::text::compare::answers;
use roomwright::scene;
use roomwright::scene::difference::{Difference, differences};
use roomwright::study::compare::{Kind, compare};
use roomwright::study::{Comparison, Version};

use crate::schema::check;
use crate::support::{Folder, on_threads, quick, run, small_scene_text};

fn told(differences: &[Difference]) -> Vec<String> {
    let side = |value: &Option<String>| value.clone().unwrap_or_else(|| "none".to_owned());
    differences.iter().map(|one| format!("{}|{}: {} -> {}", one.part, one.key, side(&one.was), side(&one.is))).collect()
}

#[test]
fn exact_differences_of_texts() {
    let text =
        "name = \"Den\"\n[room]\nfloor = \"Carpet\"\n[[seat]]\nname = \"seat\"\near = [1, 2, 1.2]\n[[panel]]\ntype = \"thin\"\nleft = 1\n";
    // Comments, order and spaces do not count.
    let same = "# mine\nname=\"Den\"\n[[seat]]\near = [ 1,2 , 1.2 ]\nname = \"seat\"\n[[panel]]\nleft = 1\ntype = \"thin\"\n[room]\nfloor = \"Carpet\"\n";
    assert_eq!(differences(text, same), []);
    let other = text.replace("Carpet", "Cork").replace("[1, 2, 1.2]", "[1, 3, 1.2]").replace("left = 1", "left = 1\nbottom = 0.5");
    assert_eq!(
        told(&differences(text, &other)),
        ["panel \"thin\"|bottom: none -> 0.5", "room|floor: \"Carpet\" -> \"Cork\"", "seat \"seat\"|ear: [1, 2, 1.2] -> [1, 3, 1.2]",]
    );
    // A second panel of a type is a part of its own; what goes is told by what it was.
    let more = format!("{text}[[panel]]\ntype = \"thin\"\nleft = 2\n");
    assert_eq!(told(&differences(text, &more)), ["panel \"thin\" (2)|: none -> left = 2, type = \"thin\""]);
    assert_eq!(told(&differences(&more, text)), ["panel \"thin\" (2)|: left = 2, type = \"thin\" -> none"]);
    assert_eq!(differences(text, "not = a = text"), [], "a text that is none has nothing to be told of");
}

fn version(name: &str, text: &str, first: &str) -> Version {
    let (scene, _) = scene::read(text).expect("it reads");
    Version { name: name.to_owned(), scene, differs: differences(first, text) }
}

/// A small room, the same again, and with a wall that takes far more.
fn three(threads: usize) -> Comparison {
    let text = quick(&small_scene_text(), 4_000);
    let soft = text.replacen("wall_material = \"", "wall_material = \"Acoustic tile, suspended\" # \"", 1);
    assert_ne!(soft, text, "the walls of the small scene are where they were");
    let versions = [version("hard", &text, &text), version("again", &text, &text), version("soft", &soft, &text)];
    on_threads(threads, || compare(&Progress::default(), &versions, None).expect("nobody stops it").comparison)
}

#[test]
fn keeps_differences_of_figures() {
    let comparison = three(2);
    check(&comparison);
    assert_eq!(comparison, three(1), "whatever the number of threads");
    assert!(comparison.versions[1].differs.is_empty() && comparison.versions[2].differs.len() == 1);
    for figure in &comparison.figures {
        let [hard, again, _] = &figure.cells[..] else { panic!("a cell a version") };
        assert!(hard.change.is_none(), "the first is not compared with itself");
        // The same scene and seed: the same figure, and nothing told apart.
        assert_eq!(hard.value, again.value, "{figure:?}");
        assert!(again.change.is_none_or(|change| change.by.value == 0.0 && !change.told_apart && change.by_steps == 0.0), "{figure:?}");
    }
    let decay = comparison.figure(Kind::MeanDecay).expect("it rings");
    let (hard, soft) = (decay.cells[0].value.expect("told"), decay.cells[2].value.expect("told"));
    let change = decay.cells[2].change.expect("both are known");
    assert!(change.told_apart && change.by.value < 0.0);
    assert_eq!(change.by.value, soft.value - hard.value);
    assert!((change.by.se - hard.se.hypot(soft.se)).abs() < 1e-12, "errors are added in squares");
    assert!((change.by_steps - (soft.value / hard.value).ln() / 1.05_f64.ln()).abs() < 1e-9, "5 % is a step");
}

/// Flutter that comes and that ends is told of each version, whatever else it does.
#[test]
fn keeps_flutter_that_comes_and_ends() {
    let mut comparison = three(2);
    for (index, heard) in [(0, [true, false]), (1, [true, false]), (2, [false, true])] {
        let flutter = &mut comparison.versions[index].findings.flutter;
        flutter.iter_mut().for_each(|pair| pair.audible = false);
        flutter.iter_mut().zip(heard).for_each(|(pair, heard)| pair.audible = heard);
    }
    let [first, second] = [0, 1].map(|index| comparison.versions[0].findings.flutter[index].between.join(" and "));
    let answers = answers(&comparison);
    assert!(!answers[0].contains("flutter"), "{answers:?}");
    assert!(answers[1].contains(&format!("flutter between {second} is heard, in A it is not")), "{answers:?}");
    assert!(answers[1].contains(&format!("flutter between {first} is no longer heard")), "{answers:?}");
}

#[test]
fn keeps_the_command_for_scenes_side_by_side() {
    let folder = Folder::new("compare");
    let text = quick(&small_scene_text(), 2_000);
    folder.put("den.toml", &text);
    folder.put("soft den.toml", text.replacen("wall_material = \"", "wall_material = \"Acoustic tile, suspended\" # \"", 1));
    let ran = run(&folder, &["compare", "den.toml", "soft den.toml", "--rays-only"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    for words in [
        "A. den: what the others are compared with",
        "B. soft den: wall_material of room \"Acoustic tile, suspended\" for",
        "Less A",
        "steps lower",
    ] {
        assert!(ran.out.contains(words), "no \"{words}\" in:\n{}", ran.out);
    }
    assert!(ran.out.lines().all(|line| line.chars().count() <= 100), "{}", ran.out);
    assert_eq!(folder.names("out/den"), [".compare.sum", "compare.html", "compare.json"]);
    let page = folder.text("out/den/compare.html");
    assert!(page.contains("<svg") && !page.contains("http://") | page.contains("www.w3.org"), "nothing from elsewhere");
    let json: Comparison = serde_json::from_str(&folder.text("out/den/compare.json")).expect("it reads back");
    assert_eq!(json.versions.len(), 2);
    let printed = run(&folder, &["compare", "den.toml", "soft den.toml", "--rays-only", "--json"]);
    assert_eq!(printed.out.trim_end(), folder.text("out/den/compare.json").trim_end());
}

#[test]
fn keeps_compare_from_what_is_no_scene() {
    let folder = Folder::new("compare-wrong");
    folder.put("den.toml", quick(&small_scene_text(), 2_000));
    folder.put("one.toml", "nonsense = 1\n");
    folder.put("two.toml", "name = \n");
    let ran = run(&folder, &["compare", "den.toml", "one.toml", "two.toml"]);
    assert_eq!(ran.code, Some(1), "{}", ran.err);
    assert!(ran.err.contains("one.toml:1") && ran.err.contains("two.toml:1"), "all files are told at once:\n{}", ran.err);
    assert!(!Path::new(&folder.path().join("out")).exists(), "nothing is written");
    let many = run(&folder, &["compare", "den.toml", "den.toml", "den.toml", "den.toml", "den.toml", "den.toml", "den.toml"]);
    assert_eq!(many.code, Some(2));
    assert!(many.err.contains("6 at most"), "{}", many.err);
}
