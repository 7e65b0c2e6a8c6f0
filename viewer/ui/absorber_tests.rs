//! Absorbers beneath the stage: that its figures are the front door's, what a click on a row, a target or a button sends, and what stays of what is typed.

use roomwright::bands::Bands;
use roomwright::report::absorption::Field;
use roomwright::study::absorbers::{Asked as Question, Sample, SampleKind, absorbers as answer, panel_type};

use super::*;
use crate::comparison::{Choice, Target, uses};

const WOOL: &str = "Rock wool 50 mm, 40 kg/m3";
const CONCRETE: &str = "Rough concrete";
const TYPED: &str = "50 mm, 12000, gap 50 mm";

fn material(name: &str) -> Choice {
    Choice::Material(name.to_owned())
}

/// The studied attic with these beside its stock.
fn desk(choices: &[Choice]) -> Desk {
    follow(Desk::studied().with_view(|view| {
        view.strip = Strip::Absorbers;
        choices.iter().for_each(|choice| assert!(view.comparison.put(Some(&STUDIED.scene), choice)));
    }))
}

/// Its figures as the session would have them.
fn follow(mut desk: Desk) -> Desk {
    let scene = desk.results.scene.clone();
    desk.results.absorbers.follow(&desk.view.comparison.chosen(scene.as_deref()), scene.as_deref());
    desk
}

fn pane(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    ui.horizontal(|ui| absorbers::head(ui, shown, asked));
    absorbers::absorbers(ui, shown, drafts, asked);
    drafts.absorbers.note_shown(true);
}

fn drawn(desk: Desk) -> Harness<'static, Desk> {
    shown_in([1400.0, 6000.0], desk, pane)
}

/// What the command line compares: the same rows, stock and build-up.
fn front_door() -> Vec<Sample> {
    let rows = [WOOL, CONCRETE].map(str::to_owned);
    let question = Question { rows: &rows, panels: &[TYPED.to_owned()], ..Question::default() };
    answer(&question, Some(&STUDIED.scene)).unwrap().samples
}

#[test]
fn keeps_the_figures_of_the_front_door() {
    let choices = [material(WOOL), material(CONCRETE), Choice::Typed(TYPED.into())];
    for field in [Field::Diffuse, Field::Normal] {
        let mut desk = desk(&choices);
        desk.view.comparison.field = field;
        let harness = drawn(desk);
        let samples = front_door();
        // Rows come before the stock on the command line; here the stock was there first.
        for (place, name) in [(1, "wall panel"), (2, "corner panel"), (3, "cloud"), (4, WOOL), (5, CONCRETE), (6, TYPED)] {
            let sample = samples.iter().find(|sample| sample.name == name).unwrap();
            let values = if field == Field::Diffuse { sample.absorption } else { sample.absorption_normal };
            let mark = |band: Band| if sample.extrapolated[band] { "~" } else { " " };
            let cells = Band::ALL.map(|band| format!("{}{}", number_of(values, band), mark(band)));
            let row = format!("{place}, {}", cells.join(", "));
            assert!(says(&harness, &row), "{row}");
            for band in Band::ALL {
                let told = absorbers::told_octave(sample, field, band);
                assert!(told.starts_with(&format!("{} Hz: {}", band.nominal(), number_of(values, band))), "{told}");
                let (low, high) = (sample.absorption_range[band].low, sample.absorption_range[band].high);
                let range = format!("between {} and {}", number(low, 2), number(high, 2));
                assert_eq!(told.contains(&range), field == Field::Diffuse, "{told}");
                assert_eq!(told.contains("filled") || told.contains("beyond"), sample.extrapolated[band], "{told}");
                let has_edges = field == Field::Diffuse && sample.absorption_alone.is_some();
                assert_eq!(told.contains("with edges"), has_edges, "{told}");
            }
            if let Some(source) = &sample.source {
                assert!(sample.kind == SampleKind::Material && says(&harness, source), "{source}");
            }
        }
    }
}

fn number_of(values: Bands<f64>, band: Band) -> String {
    number(values[band], 2)
}

#[test]
fn keeps_rows_a_click_away_and_those_of_the_room_first() {
    let mut harness = drawn(desk(&[]));
    // The pane lists what the room is made of, then the stock, then all of the table.
    let of_walls = STUDIED.scene.walls[0].material.clone();
    let place = |words: &str| find_begin(&harness, words).rect().top();
    let stock = harness.get_by_label("In stock").rect().top();
    assert!(place(&of_walls) < stock && stock < place(CONCRETE));
    for row in roomwright::absorbers::table::rows() {
        find_begin(&harness, row.name);
    }
    assert_eq!(click(&mut harness, CONCRETE), [Command::Compare(material(CONCRETE))]);
    assert_eq!(click(&mut harness, &of_walls), [Command::Compare(material(&of_walls))]);
    assert_eq!(click(&mut harness, "1, wall panel"), [Command::LeaveOut(Choice::Stock("wall panel".into()))]);
    let mut harness = drawn(desk(&[material(CONCRETE)]));
    assert_eq!(click(&mut harness, &format!("4, {CONCRETE}")), [Command::LeaveOut(material(CONCRETE))]);
    assert_eq!(click(&mut harness, "at normal incidence"), [Command::ChooseField(Field::Normal)]);
    // Without anything there is something to do, not an empty frame.
    let mut none = desk(&[]);
    for (_, choice) in none.view.comparison.chosen(Some(&STUDIED.scene)) {
        none.view.comparison.leave_out(Some(&STUDIED.scene), &choice);
    }
    assert!(says(&drawn(follow(none)), "Nothing stands here"));
}

#[test]
fn keeps_the_search_of_the_command_line() {
    let mut harness = drawn(desk(&[]));
    retype(&mut harness, "search", "rough concret");
    assert!(says(&harness, "In the table") && says(&harness, CONCRETE));
    assert!(!says(&harness, "Heavy carpet on concrete") && !says(&harness, "In stock, "), "what is called otherwise is not shown");
    assert!(harness.state().asked.is_empty());
    harness.key_press(Key::Enter);
    harness.run_ok();
    assert_eq!(std::mem::take(&mut harness.state_mut().asked), [Command::Compare(material(CONCRETE))]);
    retype(&mut harness, "search", "xylophone");
    assert!(says(&harness, "No row is called \"xylophone\""));
}

#[test]
fn keeps_what_is_typed_and_says_what_is_wrong_with_it() {
    let mut harness = drawn(desk(&[]));
    assert!(!says(&harness, "beside the others"), "nothing is typed");
    for (typed, said) in [
        ("50 mm", "of what? Its flow resistivity is missing"),
        ("50 mm, 12000, gap", "as a gap has no unit"),
        ("50 mm, 12", "is out of range"),
    ] {
        retype(&mut harness, "build-up", typed);
        assert!(says(&harness, said), "{typed}");
        assert!(find_begin(&harness, "put it beside").accesskit_node().is_disabled(), "{typed}");
        harness.key_press(Key::Enter);
        harness.run_ok();
        assert!(harness.state().asked.is_empty(), "{typed}");
        assert_eq!(harness.get_by_label("build-up").value().as_deref(), Some(typed), "it stays");
    }
    retype(&mut harness, "build-up", TYPED);
    let choice = Choice::Typed(TYPED.into());
    assert_eq!(click(&mut harness, "put it beside"), [Command::Compare(choice.clone())]);
    // Enter does the same; the text stays to be varied; the same twice is not offered.
    harness.get_by_label("build-up").focus();
    harness.run_ok();
    harness.key_press(Key::Enter);
    harness.run_ok();
    assert_eq!(std::mem::take(&mut harness.state_mut().asked), [Command::Compare(choice.clone())]);
    let desk = follow(harness.into_state().with_view(|view| assert!(view.comparison.put(Some(&STUDIED.scene), &choice))));
    let mut harness = drawn(desk);
    assert_eq!(harness.get_by_label("build-up").value().as_deref(), Some(TYPED));
    assert!(find_begin(&harness, "it stands beside the others").accesskit_node().is_disabled());
    retype(&mut harness, "build-up", "100 mm");
    assert!(click(&mut harness, "type on").is_empty());
    assert_eq!(harness.get_by_label("build-up").value().as_deref(), Some(TYPED));
}

#[test]
fn keeps_a_material_given_to_what_is_meant() {
    let harness = drawn(desk(&[material(CONCRETE)]));
    assert!(!says(&harness, "give it to"), "to what is not said");
    let given = |target: Target, choice: &str| {
        let mut harness = drawn(desk(&[material(choice)]));
        harness.state_mut().view.comparison.target = Some(target);
        harness.run_ok();
        let can = !find_begin(&harness, "give it to").accesskit_node().is_disabled();
        (click(&mut harness, "give it to"), can)
    };
    let to = |surface: &str| Target::One(surface.to_owned());
    for surface in ["north", "slope", "floor", "door", "desk"] {
        let command = Command::SetMaterial { surface: surface.into(), material: CONCRETE.into() };
        assert_eq!(given(to(surface), CONCRETE), (vec![command.clone()], true), "{surface}");
        assert_eq!(crate::edits::objection(&desk(&[]).document, &command), None);
    }
    assert_eq!(given(Target::Walls, CONCRETE), (vec![Command::SetWallMaterial(CONCRETE.into())], true));
    // What has it is not given it again, and that it has it is said.
    let floor = STUDIED.scene.floor_material.clone();
    assert_eq!(given(to("floor"), &floor), (Vec::new(), false));
    let harness = drawn(desk(&[material(&floor)]));
    assert_eq!(uses(&STUDIED.scene, &floor), ["floor"]);
    assert!(says(&harness, "Now of it: floor."));
}

#[test]
fn keeps_a_material_for_the_form_that_is_open() {
    fn both(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
        forms::lists(ui, shown, &STUDIED.scene, drafts, asked);
        pane(ui, shown, drafts, asked);
    }
    let mut harness = shown_in([1400.0, 9000.0], desk(&[material(CONCRETE)]), both);
    assert!(!says(&harness, "into the form"));
    click(&mut harness, "door, south");
    assert!(click(&mut harness, "into the form: Change \"door\"").is_empty());
    let asked = click(&mut harness, "Change it");
    assert!(matches!(&asked[..], [Command::ChangeOpening { opening, .. }] if opening.material == CONCRETE), "{asked:?}");
}

#[test]
fn keeps_a_build_up_from_the_stock_until_it_is_whole() {
    let harness = drawn(desk(&[Choice::Typed(TYPED.into())]));
    assert!(find_begin(&harness, "put it in stock").accesskit_node().is_disabled());
    assert!(says(&harness, "Not for stock: a panel in stock has a size - add size 60 x 120 cm"));
    // Under a name that the stock has it gets a number.
    let sized = "wall panel: 50 mm, 12000, gap 50 mm, size 60 x 120 cm, price 45";
    let mut harness = drawn(desk(&[Choice::Typed(sized.into())]));
    let expected = panel_type(sized, "wall panel 2").unwrap();
    assert_eq!(click(&mut harness, "put it in stock"), [Command::AddStock(expected.clone())]);
    let edited = crate::edits::tried(&harness.state().document, &Command::AddStock(expected)).unwrap();
    assert_eq!(edited.scene.stock.len(), STUDIED.scene.stock.len() + 1);
    // What no room holds is refused by the scene's rules, and that is said.
    let deep = "wool: 1.9 m, 12000, gap 0.9 m, gap 0.9 m, gap 0.9 m, gap 0.9 m, size 60 x 120 cm";
    let harness = drawn(desk(&[Choice::Typed(deep.into())]));
    assert!(find_begin(&harness, "put it in stock").accesskit_node().is_disabled() && says(&harness, "Not for stock: "));
}

#[test]
fn keeps_the_way_from_a_surface_to_its_material() {
    let mut harness = shown(Desk::studied(), survey::survey);
    let of_floor = STUDIED.scene.floor_material.clone();
    let expected = [
        Command::ChooseTarget(Some(Target::One("floor".into()))),
        Command::Compare(material(&of_floor)),
        Command::ChooseStrip(Strip::Absorbers),
    ];
    harness.get_by_label("floor").click();
    harness.run_ok();
    assert_eq!(std::mem::take(&mut harness.state_mut().asked), expected);
}

#[test]
fn keeps_absorbers_in_the_strip_beneath_the_stage() {
    let mut harness = shown_in([1280.0, 800.0], desk(&[material(CONCRETE)]), frame_panel);
    assert_eq!(click(&mut harness, "scene text"), [Command::ChooseStrip(Strip::Text)]);
    assert!(says(&harness, "give to") && says(&harness, "search") && says(&harness, "build-up"));
    // All three columns lie in the strip, side by side.
    let [search, field, give] =
        ["search", "at normal incidence", "give to"].map(|words| harness.get_all_by_label(words).next().unwrap().rect());
    assert!(search.left() < field.left() && field.left() < give.left() && give.right() < 1280.0 - 360.0, "{search:?} {field:?} {give:?}");
    // Its height is what it was given, however often it is drawn and however much stands side by side.
    let choices = [material(CONCRETE), material(WOOL), Choice::Typed(TYPED.into())];
    let mut harness = shown_in([1280.0, 800.0], desk(&choices), frame_panel);
    let top = |harness: &Harness<'_, Desk>| find_begin(harness, "absorbers").rect().top();
    let before = top(&harness);
    (0..20).for_each(|_| harness.step());
    assert_eq!(top(&harness), before);
    assert!(before > 800.0 - 26.0 - 400.0, "{before}");
    let mut harness = shown_in([1280.0, 800.0], Desk::studied(), frame_panel);
    assert_eq!(click(&mut harness, "absorbers"), [Command::ChooseStrip(Strip::Absorbers)]);
}
