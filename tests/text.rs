//! What the command line prints: snapshots of invented findings and plans, and that every page keeps its columns.

use super::invented::{findings, plan, scene, survey};
use expect_test::{ExpectFile, expect_file};
use glam::{DVec2, DVec3};
use roomwright::bands::Bands;
use roomwright::findings::{Estimate, Findings};
use roomwright::plan::Plan;
use roomwright::report::text;
use roomwright::report::text::figures::{asked, standing, with_error};
use roomwright::room::{Bodies, Role, build};
use roomwright::scene::{Block, Scene};
use roomwright::units::LengthUnit;

/// The page of `place` for this scene, in the room that it builds.
pub(crate) fn place_page(scene: &Scene, plan: &Plan) -> String {
    text::place(scene, &build(scene, Bodies::Standing), plan, text::Extent::Full)
}

fn check(page: &str, expected: &ExpectFile) {
    keeps_its_columns(page);
    expected.assert_eq(page);
}

/// No line is wider than 100 columns or ends in spaces, all is ASCII, and in a table every cell stays under its rule.
pub(crate) fn keeps_its_columns(page: &str) {
    let lines: Vec<&str> = page.lines().collect();
    for line in &lines {
        assert!(line.chars().count() <= 100, "{} columns: {line}", line.chars().count());
        assert!(line.is_ascii() && !line.ends_with(' '), "{line:?}");
    }
    let is_rule = |line: &&str| line.starts_with("  -") && line.contains("---") && line.chars().all(|c| c == '-' || c == ' ');
    for (index, rule) in lines.iter().enumerate().filter(|(_, line)| is_rule(line)) {
        // A column begins and ends where its dashes do; between two columns only spaces may stand, in the head and every row.
        let gaps: Vec<usize> = rule.char_indices().filter(|(_, c)| *c == ' ').map(|(column, _)| column).collect();
        let rows = lines[index + 1..].iter().take_while(|line| !line.is_empty() && !is_prose(line));
        for line in std::iter::once(&lines[index - 1]).chain(rows) {
            for &gap in &gaps {
                assert!(line.as_bytes().get(gap).is_none_or(|&byte| byte == b' '), "column {gap} is no gap:\n{rule}\n{line}");
            }
        }
    }
}

/// Lines under a table that are no row of it: sentences, whose words stand one space apart.
fn is_prose(line: &str) -> bool {
    !line.trim().contains("  ") && line.trim().split(' ').count() > 4
}

#[test]
fn locked_survey_page() {
    // Kept so that a change of the page is seen in the difference; the figures are invented.
    check(&text::survey(&scene(LengthUnit::Meter), &survey()), &expect_file!["cases/text/survey.txt"]);
}

#[test]
fn locked_hear_page() {
    // Kept so that a change of the page is seen in the difference; the figures are invented.
    check(&text::hear(&scene(LengthUnit::Centimeter), &findings(0.52, -4.2), text::Extent::Full), &expect_file!["cases/text/hear.txt"]);
}

#[test]
fn locked_place_page() {
    // Kept so that a change of the page is seen in the difference; the figures are invented.
    check(&place_page(&scene(LengthUnit::Foot), &plan()), &expect_file!["cases/text/place.txt"]);
}

#[test]
fn keeps_columns_in_every_unit() {
    for unit in LengthUnit::ALL {
        let scene = scene(unit);
        for page in
            [text::survey(&scene, &survey()), text::hear(&scene, &findings(0.52, -4.2), text::Extent::Full), place_page(&scene, &plan())]
        {
            keeps_its_columns(&page);
        }
    }
}

/// In short a page ends where the answer does, and says where the rest is; nobody is spared the cautions.
#[test]
fn keeps_the_short_page_the_beginning_of_the_whole() {
    let (scene, plan) = (scene(LengthUnit::Meter), plan());
    let place = |extent| text::place(&scene, &build(&scene, Bodies::Standing), &plan, extent);
    let hear = |extent| text::hear(&scene, &findings(0.52, -4.2), extent);
    for (short, full) in [(place(text::Extent::Short), place(text::Extent::Full)), (hear(text::Extent::Short), hear(text::Extent::Full))] {
        let (answer, left_out) = short.split_once("\n  That is the answer.").expect("it says where it ends");
        assert!(full.starts_with(answer) && left_out.contains("--full") && !full.contains("--full"), "{short}");
        assert!(2 * short.lines().count() < full.lines().count(), "{short}");
    }
    let short = place(text::Extent::Short);
    for said in ["The panels, in the order to hang them", "Targets, before and after", "Ladders, overhead"] {
        assert!(short.contains(said), "{said}\n{short}");
    }
}

#[test]
fn keeps_the_answer_first() {
    let page = text::hear(&scene(LengthUnit::Meter), &findings(0.52, -4.2), text::Extent::Full);
    let at = |words: &str| page.find(words).unwrap_or_else(|| panic!("the page says: {words}\n{page}"));
    assert!(at("What is wrong here") < at("Reverberation, mean of 250 Hz - 4 kHz: 0.52 +-0.01 s (inputs 0.42 to 0.64 s), asked"));
    assert!(at("1.425 m from its left edge, 1.2 m from the floor") < at("Targets"));
    assert!(at("Flutter between west and east") < at("Targets"));
    // The treated share is a start, not a goal: below it nothing is wrong.
    assert!(!page.contains("Treated share of floor, walls and ceiling: 3.4"));
    // A good room is told so.
    let mut good = findings(0.2, -14.0);
    good.flutter.clear();
    assert!(text::hear(&scene(LengthUnit::Meter), &good, text::Extent::Full).contains("Nothing that these figures can judge."));
}

/// What no panel ends is said: a bounce off what stands there, where it is the loudest that is left.
#[test]
fn keeps_what_comes_off_furniture_said() {
    let table = Block {
        name: "table".to_owned(),
        center: DVec2::new(2.2, 2.6),
        base: 0.0,
        size: DVec3::new(1.2, 0.6, 0.72),
        rotation: 0.0,
        material: "boards".to_owned(),
        scattering: None,
    };
    let room = build(&Scene { blocks: vec![table], ..scene(LengthUnit::Meter) }, Bodies::Standing);
    let top = room.surfaces.iter().find(|surface| matches!(surface.role, Role::Block(_))).expect("a table is in it");
    let left = |surface: &str, level_db: f64| {
        let mut plan = plan();
        let loudest = &mut plan.after.pairs[0].reflections[0];
        (loudest.surfaces, loudest.level_db, loudest.excess_db) = (vec![surface.to_owned()], level_db, level_db + 10.0);
        text::plan::what_is_left(&room, &plan)
    };
    let told = left(&top.name, -6.0);
    assert!(
        told.len() == 1 && told[0].starts_with(&format!("The loudest reflection that is left, -6.0 dB, bounces off {}", top.name)),
        "{told:?}"
    );
    // Off a wall a panel may end it, and what is not too loud needs none.
    assert!(left("west", -6.0).is_empty() && left(&top.name, -11.0).is_empty());
}

/// A figure that misses its bound does not read like it.
#[test]
fn exact_digits_beside_a_bound() {
    let told = |time: f64| {
        let target = findings(time, -4.2).targets.swap_remove(0);
        (standing(&target), asked(&target))
    };
    let (value, bound) = told(0.252);
    assert!(value.starts_with("0.252 +-") && bound == "0.150 to 0.250 s", "{value}, {bound}");
    for (time, reads) in [(0.31, "0.31 +-"), (0.25, "0.25 +-"), (0.2, "0.20 +-")] {
        let (value, bound) = told(time);
        assert!(value.starts_with(reads) && bound == "0.15 to 0.25 s", "{value}, {bound}");
    }
}

#[test]
fn keeps_pages_of_empty_and_hostile_input() {
    let mut scene = scene(LengthUnit::Inch);
    scene.name = format!("A \u{1b}[31m name\nof {}", "x".repeat(150));
    let mut findings = findings(f64::NAN, -4.2);
    findings.pairs[0].source = "y".repeat(120);
    findings.pairs[0].reflections[0].places.clear();
    findings.pairs[0].reflections[1].surfaces.clear();
    findings.flutter[0].clap_at_m = [f64::INFINITY; 3];
    findings.flutter[0].t_s = Bands::splat(1e300);
    let mut plan = plan();
    plan.before = findings.clone();
    plan.after.pairs.clear();
    plan.after.flutter.clear();
    for page in [text::survey(&scene, &survey()), text::hear(&scene, &findings, text::Extent::Full), place_page(&scene, &plan)] {
        assert!(page.lines().all(|line| line.chars().count() <= 100 && line.chars().all(|c| !c.is_control())), "{page}");
        assert!(!page.contains("NaN"), "{page}");
    }
    let empty =
        Findings { pairs: Vec::new(), flutter: Vec::new(), likeness: Vec::new(), targets: Vec::new(), notes: Vec::new(), ..findings };
    let bare = Plan {
        hot_spots: Vec::new(),
        choice: None,
        placed: Vec::new(),
        left_over: Vec::new(),
        before: empty.clone(),
        after: empty.clone(),
        layouts: Vec::new(),
        notes: Vec::new(),
        ..plan
    };
    keeps_its_columns(&place_page(&self::scene(LengthUnit::Meter), &bare));
    keeps_its_columns(&text::hear(&self::scene(LengthUnit::Meter), &empty, text::Extent::Full));
}

#[test]
fn keeps_cautions_in_three_lines() {
    let page = place_page(&scene(LengthUnit::Meter), &plan());
    let cautions: Vec<&str> = page.lines().skip_while(|line| *line != "Cautions").skip(1).take_while(|line| !line.is_empty()).collect();
    assert_eq!(cautions.len(), 3, "{cautions:?}");
    for word in ["overhead", "cables", "fiber", "local codes"] {
        assert!(cautions.iter().any(|line| line.to_lowercase().contains(word)), "the cautions speak of {word}");
    }
}

proptest::proptest! {
    #[test]
    fn keeps_any_name_within_the_page(names in proptest::collection::vec(".{0,60}", 6)) {
        let mut findings = findings(0.52, -4.2);
        findings.survey.surfaces[0].name.clone_from(&names[0]);
        findings.survey.surfaces[1].material.clone_from(&names[1]);
        findings.pairs[0].receiver.clone_from(&names[2]);
        findings.pairs[0].reflections[2].surfaces[1].clone_from(&names[3]);
        findings.flutter[1].between[0].clone_from(&names[4]);
        findings.likeness[0].left.clone_from(&names[5]);
        let scene = scene(LengthUnit::Inch);
        for page in [text::survey(&scene, &findings.survey), text::hear(&scene, &findings, text::Extent::Full)] {
            for line in page.lines() {
                assert!(line.chars().count() <= 100 && line.chars().all(|c| !c.is_control()), "{line:?}");
            }
        }
    }
}

#[test]
fn keeps_the_unit_of_the_scene() {
    let page = place_page(&scene(LengthUnit::Foot), &plan());
    assert!(page.contains("3 ft 8 1/8 in"), "1.12 m is 3 ft 8 1/8 in to the nearest sixteenth:\n{page}");
    let page = place_page(&scene(LengthUnit::Millimeter), &plan());
    assert!(page.contains("from left, mm") && page.contains(" 1120 "), "{page}");
}

/// Two digits of the error, three decimals at most, zero without a sign.
#[test]
fn exact_figures_with_their_standard_error() {
    let figure = |value, se| with_error(Estimate { value, se });
    assert_eq!(figure(0.4123, 0.0134), "0.412 +- 0.013");
    assert_eq!(figure(-17.26, 2.4), "-17.3 +- 2.4");
    assert_eq!(figure(-0.0, 0.0), "0.000");
    assert_eq!(figure(-1e-9, 1e-9), "0.000 +- under 0.001");
    assert_eq!(figure(0.41234, 0.0006), "0.412 +- under 0.001");
    assert_eq!(figure(-0.0004, 0.012), "0.000 +- 0.012");
    assert_eq!(figure(-0.0006, 0.012), "-0.001 +- 0.012");
}
