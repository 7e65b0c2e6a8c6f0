//! Panels on a real small study, by what they say to a screen reader and by clicks: no window, no graphics.

use std::sync::{Arc, LazyLock};

use bevy_egui::egui::{self, Key, Modifiers, Ui};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use egui_kittest::{Harness, Node};
use roomwright::absorbers::table::find;
use roomwright::bands::Band;
use roomwright::findings::Findings;
use roomwright::hanging::from_panels;
use roomwright::plan::HotSpot;
use roomwright::progress::Progress;
use roomwright::report::text::figures::number;
use roomwright::scene::{Panel, PanelPlace, RoomSize, Scene, ThingKind, with_panels};
use roomwright::study::{self, BassAsked, EarlyFindings, Live};
use roomwright::units::LengthUnit;

use super::*;
use crate::command::NewRoom;
use crate::errand::{Errand, Running};
use crate::results::{Generation, Known, Status};
use crate::view::{ArrivalChoice, Cut, MapChoice, Quantity, Question, Section, Step, Strip, Thing, Which};

const TEXT: &str = include_str!("../../scenes/attic-voice-room.toml");

/// What a study of a few rays finds of the attic with one panel hung, and with nothing hung.
struct Studied {
    text: String,
    scene: Arc<Scene>,
    early: Arc<EarlyFindings>,
    bare_early: Arc<EarlyFindings>,
    findings: Arc<Findings>,
    bare: Arc<Findings>,
    hot_spots: Arc<Vec<HotSpot>>,
    earnings: Arc<Vec<Option<roomwright::findings::Estimate>>>,
}

static STUDIED: LazyLock<Studied> = LazyLock::new(|| {
    let text = TEXT.replace("[air]", "[settings]\nrays = 2000\n\n[air]");
    let place = PanelPlace::Surface { surface: "east".into(), left: 0.8, bottom: 0.6, lying: false, gap: 0.05 };
    let text = with_panels(&text, &[Panel { kind: "wall panel".into(), place }]).unwrap();
    let scene = Arc::new(roomwright::scene::read(&text).unwrap().0);
    let bare = Scene { panels: Vec::new(), ..(*scene).clone() };
    let progress = Progress::new();
    let traced = study::trace_for_trials(&progress, &scene, 2000).unwrap();
    let findings = |scene: &Scene| study::study(&progress, scene, &traced, &from_panels(scene, &traced.room, &scene.panels)).unwrap();
    let mut live = Live::new(&progress, &traced).unwrap();
    Studied {
        early: Arc::new(live.early(&progress, &scene).unwrap()),
        bare_early: Arc::new(live.early(&progress, &bare).unwrap()),
        findings: Arc::new(findings(&scene)),
        bare: Arc::new(findings(&bare)),
        hot_spots: Arc::new(live.hot_spots(&scene, &scene.stock[0])),
        earnings: Arc::new(live.earnings(&progress, &scene).unwrap()),
        text,
        scene,
    }
});

#[path = "absorber_tests.rs"]
mod absorber_tests;
#[path = "arrival_tests.rs"]
mod arrival_tests;
#[path = "build_tests.rs"]
mod build_tests;
#[path = "cloud_tests.rs"]
mod cloud_tests;
#[path = "form_tests.rs"]
mod form_tests;
#[path = "goals_tests.rs"]
mod goals_tests;
#[path = "listen_tests.rs"]
mod listen_tests;
#[path = "low_end_tests.rs"]
mod low_end_tests;
#[path = "plan_tests.rs"]
mod plan_tests;
#[path = "positions_tests.rs"]
mod positions_tests;
#[path = "prove_tests.rs"]
mod prove_tests;
#[path = "voice_fit_tests.rs"]
mod voice_fit_tests;

/// All that panels read and write.
#[derive(Default)]
struct Desk {
    document: Document,
    view: View,
    results: Results,
    shelf: Shelf,
    sound: Listening,
    drafts: Drafts,
    asked: Asked,
}

impl Desk {
    /// The studied attic.
    fn studied() -> Self {
        let studied = &*STUDIED;
        let mut document = Document::default();
        document.open(Some("attic.toml".into()), studied.text.clone(), true);
        let generation = Generation(document.revision());
        let mut results = Results::default();
        results.show(generation, &studied.scene);
        fn known<T>(generation: Generation, value: &Arc<T>) -> Option<Known<T>> {
            Some(Known { generation, rays: 2000, value: value.clone() })
        }
        results.survey = known(generation, &Arc::new(study::survey(&studied.scene)));
        results.early = known(generation, &studied.early);
        results.bare_early = known(generation, &studied.bare_early);
        (results.findings, results.bare) = (known(generation, &studied.findings), known(generation, &studied.bare));
        results.hot_spots = known(generation, &studied.hot_spots);
        results.earnings = known(generation, &studied.earnings);
        results.status = Status { rays: 2000, rays_wanted: 100_000, ..Status::default() };
        Self { document, results, ..Self::empty() }
    }

    /// A text with a mistake that was once without.
    fn broken() -> Self {
        let mut desk = Self::studied();
        desk.document.replace(TEXT.replace("material = \"Solid wooden door\"", "material = \"Solid wooden dor\""));
        desk
    }

    fn empty() -> Self {
        Self::default()
    }

    fn with_view(mut self, change: impl FnOnce(&mut View)) -> Self {
        change(&mut self.view);
        self
    }
}

type Drawn = fn(&mut Ui, Shown<'_>, &mut Drafts, &mut Asked);

/// The panel on the desk, drawn once letters are there.
fn shown(desk: Desk, panel: Drawn) -> Harness<'static, Desk> {
    // Tall enough that nothing is left out for being beyond the edge.
    shown_in([480.0, 4000.0], desk, panel)
}

/// The same in a window of this size.
fn shown_in(size: [f32; 2], desk: Desk, panel: Drawn) -> Harness<'static, Desk> {
    let draw = move |ui: &mut Ui, desk: &mut Desk| {
        if tokens::dress(ui.ctx()) {
            let Desk { document, view, results, shelf, sound, drafts, asked } = desk;
            panel(ui, Shown { document, view, results, shelf, sound }, drafts, asked);
        }
    };
    let mut harness = Harness::builder().with_size(size).with_max_steps(12).build_ui_state(draw, desk);
    harness.run_ok();
    harness
}

/// The first thing whose words begin so.
fn find_begin<'a>(harness: &'a Harness<'_, Desk>, begin: &'a str) -> Node<'a> {
    let begins = move |node: &egui_kittest::kittest::AccessKitNode<'_>| node.label().is_some_and(|label| label.starts_with(begin));
    harness.query_all(egui_kittest::kittest::by().predicate(begins)).next().unwrap_or_else(|| panic!("nothing begins with {begin}"))
}

fn says(harness: &Harness<'_, Desk>, words: &str) -> bool {
    harness.query_all_by_label_contains(words).next().is_some()
}

fn click(harness: &mut Harness<'_, Desk>, begin: &str) -> Asked {
    harness.state_mut().asked.clear();
    find_begin(harness, begin).click();
    harness.run_ok();
    std::mem::take(&mut harness.state_mut().asked)
}

fn hear_panel(ui: &mut Ui, shown: Shown<'_>, _: &mut Drafts, asked: &mut Asked) {
    hear::hear(ui, shown, asked);
}

#[test]
fn keeps_the_sizes_of_the_survey() {
    let harness = shown(Desk::studied(), survey::survey);
    let survey = study::survey(&STUDIED.scene);
    for words in [
        format!("floor, {} m2", number(survey.floor_area_m2, 2)),
        format!("Schroeder's frequency, {} Hz", number(survey.schroeder_hz, 0)),
        format!("({} %)", number(100.0 * survey.treated_share, 1)),
    ] {
        assert!(says(&harness, &words), "{words}");
    }
    assert!(!survey.unsaid.is_empty() && survey.unsaid.iter().all(|sentence| says(&harness, sentence)));
    assert!(!says(&harness, "What is wrong with the text"));
}

#[test]
fn keeps_mistakes_a_click_from_their_line() {
    let mut harness = shown(Desk::broken(), survey::survey);
    assert!(says(&harness, "What is wrong with the text"));
    let mistake = harness.state().document.mistakes().iter().find(|one| one.message.contains("dor")).unwrap().clone();
    let asked = click(&mut harness, &format!("{}, {}", mistake.line, mistake.message));
    assert_eq!(asked, [Command::ChooseStrip(Strip::Text)]);
    let mut harness = shown(harness.into_state(), text::text);
    let editor = egui::TextEdit::load_state(&harness.ctx, "scene-text".into()).unwrap();
    let line = harness.state().document.text().lines().nth(mistake.line - 1).unwrap().to_owned();
    let range = editor.cursor.char_range().unwrap().as_sorted_char_range();
    let text: Vec<char> = harness.state().document.text().chars().collect();
    assert_eq!(text[range.start.0..range.end.0].iter().collect::<String>(), line);
    harness.run_ok();
}

#[test]
fn keeps_every_early_reflection_of_the_pair_in_front() {
    let mut harness = shown(Desk::studied(), hear_panel);
    let pair = STUDIED.early.pairs.iter().position(|pair| pair.source == 0 && pair.receiver == 0).unwrap();
    let rows: Vec<String> = STUDIED.early.pairs[pair]
        .reflections
        .iter()
        .map(|one| format!("{}, {}", number(one.delay_ms, 2), number(one.level_db, 1)))
        .collect();
    assert!(rows.len() > 3);
    for (row, words) in rows.iter().enumerate() {
        let asked = click(&mut harness, words);
        assert_eq!(asked, [Command::ChooseArrival(Some(ArrivalChoice { pair, which: Which::Reflection(row) }))], "{words}");
    }
    // Chosen already: let go.
    let desk = harness.into_state().with_view(|view| view.arrival = Some(ArrivalChoice { pair, which: Which::Reflection(1) }));
    let mut harness = shown(desk, hear_panel);
    assert_eq!(click(&mut harness, &rows[1]), [Command::ChooseArrival(None)]);
    // Of the other loudspeaker are other rows.
    let desk = harness.into_state().with_view(|view| view.source = 1);
    let harness = shown(desk, hear_panel);
    let other = STUDIED.early.pairs.iter().find(|pair| pair.source == 1 && pair.receiver == 0).unwrap();
    for one in &other.reflections {
        find_begin(&harness, &format!("{}, {}", number(one.delay_ms, 2), number(one.level_db, 1)));
    }
}

#[test]
fn keeps_the_wavefront_in_hand() {
    let mut harness = shown(Desk::studied(), hear_panel);
    assert_eq!(click(&mut harness, "Run"), [Command::Play(true)]);
    let desk = harness.into_state().with_view(|view| (view.playing, view.time_ms) = (true, 30.0));
    let mut harness = shown(desk, hear_panel);
    assert_eq!(click(&mut harness, "Stop"), [Command::Play(false)]);
    // Over: it runs again from the beginning.
    let desk = harness.into_state().with_view(|view| (view.playing, view.time_ms) = (false, View::TIME_MOST_MS));
    let mut harness = shown(desk, hear_panel);
    assert_eq!(click(&mut harness, "Run"), [Command::SetTime(0.0), Command::Play(true)]);
}

/// A section is typed as a tape reads, in the unit of the scene or another, and held to the room.
#[test]
fn keeps_sections_where_they_are_typed() {
    for (typed, meters) in [("1.75", 1.75), ("1 ft", 0.3048), ("9 m", 5.2)] {
        let section = Section { cut: Cut::AlongLength, at: 2.6 };
        let mut harness = shown(Desk::studied().with_view(|view| view.section = Some(section)), hear_panel);
        // The moment, the pace, then the section; a measure that is looked at is typed over.
        harness.query_all_by_role(egui::accesskit::Role::SpinButton).last().unwrap().focus();
        harness.run_ok();
        harness.query_all_by_role(egui::accesskit::Role::SpinButton).last().unwrap().type_text(typed);
        harness.run_ok();
        harness.key_press(Key::Enter);
        harness.run_ok();
        let asked = std::mem::take(&mut harness.state_mut().asked);
        let Some(Command::ChooseSection(Some(to))) = asked.last() else { panic!("{typed}: {asked:?}") };
        assert!(to.cut == Cut::AlongLength && (to.at - meters).abs() < 1e-9, "{typed}: {to:?}");
    }
}

#[test]
fn keeps_the_words_of_the_command_line() {
    let harness = shown(Desk::studied(), hear_panel);
    let page = roomwright::report::text::hear(&STUDIED.scene, &STUDIED.findings, roomwright::report::text::Extent::Full);
    let one_line = page.split_whitespace().collect::<Vec<_>>().join(" ");
    let wrong = roomwright::report::text::findings::wrong(&STUDIED.scene, &STUDIED.findings);
    assert!(wrong.len() > 2);
    for sentence in wrong {
        assert!(one_line.contains(&sentence) && says(&harness, &sentence), "{sentence}");
    }
    // Octaves below Schroeder's frequency carry the mark.
    assert!(says(&harness, "63 Hz *") && !says(&harness, "4 kHz *"));
}

#[test]
fn keeps_older_figures_marked() {
    let mut desk = Desk::studied();
    desk.document.edit(|editor| editor.set_stock_count("cloud", 7)).unwrap();
    desk.results.generation = Generation(desk.document.revision());
    let harness = shown(desk, hear_panel);
    assert!(says(&harness, "Of an earlier scene"));
    assert!(!says(&shown(Desk::studied(), hear_panel), "Of an earlier scene"));
    let harness = shown(Desk::broken(), hear_panel);
    assert!(!says(&harness, "Not known yet"));
    let mut desk = Desk::studied();
    desk.results.findings = None;
    assert!(says(&shown(desk, hear_panel), "Not known yet"));
}

#[test]
fn keeps_a_panel_hung_on_the_chosen_hot_spot_legal() {
    let spot = STUDIED.hot_spots.iter().position(|spot| spot.center.surface == "north").unwrap();
    let mut harness = shown(Desk::studied(), place::place);
    assert!(find_begin(&harness, "Hang one wall panel there").accesskit_node().is_disabled());
    let found = &STUDIED.hot_spots[spot];
    let words = format!("{}, {}, {}", found.center.surface, number(found.center.left_m, 3), number(found.center.bottom_m, 3));
    if spot < 8 {
        assert_eq!(click(&mut harness, &words), [Command::ChooseHotSpot(Some(spot))]);
    }
    let mut harness = shown(harness.into_state().with_view(|view| view.hot_spot = Some(spot)), place::place);
    let asked = click(&mut harness, "Hang one wall panel there");
    let [Command::AddPanel(panel), Command::ChooseHotSpot(None)] = &asked[..] else { panic!("{asked:?}") };
    let PanelPlace::Surface { surface, left, bottom, .. } = &panel.place else { panic!("{panel:?}") };
    assert_eq!((panel.kind.as_str(), surface.as_str()), ("wall panel", "north"));
    let off = ((left + 0.3 - found.center.left_m).abs(), (bottom + 0.6 - found.center.bottom_m).abs());
    assert!(off.0 < 0.31 && off.1 < 0.61, "the panel covers the middle of the spot: {off:?}");
    assert!(
        harness
            .state_mut()
            .document
            .edit(|editor| {
                editor.add_panel(panel);
                Ok(())
            })
            .unwrap()
    );
}

#[test]
fn keeps_a_panel_off_what_cannot_carry_it() {
    let desk = STUDIED.hot_spots.iter().position(|spot| spot.center.surface.starts_with("desk")).unwrap();
    let mut harness = shown(Desk::studied().with_view(|view| view.hot_spot = Some(desk)), place::place);
    assert_eq!(click(&mut harness, "Hang one wall panel there"), []);
    assert!(says(&harness, "wall panel cannot hang there: "));
}

#[test]
fn keeps_stock_panels_and_maps_a_click_away() {
    let mut harness = shown(Desk::studied(), place::place);
    assert_eq!(click(&mut harness, "corner panel, "), [Command::ChooseStock(Some(1))]);
    assert_eq!(
        click(&mut harness, "One more"),
        [Command::SetStockCount { kind: "wall panel".into(), count: STUDIED.scene.stock[0].count + 1 }]
    );
    assert_eq!(click(&mut harness, "1, wall panel, east"), [Command::Choose(Some(Thing::Panel(0)))]);
    assert_eq!(click(&mut harness, "none"), [Command::ChooseMap(None)]);
    let earning = MapChoice { quantity: Quantity::Earning, source: None, octave: None };
    assert_eq!(click(&mut harness, "early, one panel"), [Command::ChooseMap(Some(earning))]);
    let late = MapChoice { quantity: Quantity::LateEarning, source: None, octave: None };
    assert_eq!(click(&mut harness, "decay, one panel"), [Command::ChooseMap(Some(late))]);
    let clarity = MapChoice { quantity: Quantity::Clarity, source: None, octave: None };
    assert_eq!(click(&mut harness, "clarity, by area"), [Command::ChooseMap(Some(clarity))]);
    let octave = MapChoice { quantity: Quantity::Early, source: None, octave: Some(Band::new(6)) };
    assert_eq!(click(&mut harness, "4 kHz"), [Command::ChooseMap(Some(octave))]);
    assert_eq!(click(&mut harness, "Keep it as A"), [Command::ToggleLayout]);
    assert_eq!(click(&mut harness, "Plan where the stock hangs"), [Command::Begin(Errand::Plan(Some(BassAsked::default())))]);
    assert!(find_begin(&harness, "Take the chosen panel down").accesskit_node().is_disabled());
    let mut harness = shown(harness.into_state().with_view(|view| view.chosen = Some(Thing::Panel(0))), place::place);
    assert_eq!(click(&mut harness, "Take the chosen panel down"), [Command::RemovePanel(0)]);
    assert_eq!(click(&mut harness, "Hang by hand"), [Command::HangByHand(true)]);
    let mut harness = shown(harness.into_state().with_view(|view| view.hanging = true), place::place);
    assert_eq!(click(&mut harness, "Press where it is to hang"), [Command::HangByHand(false)]);
    let mut desk = harness.into_state();
    desk.results.status.errand = Some(Running { errand: Errand::Plan(None), stage: "hanging", done: 0.4, can_end: false });
    let mut harness = shown(desk, place::place);
    assert!(harness.query_by_label("Take the best so far").is_none(), "nothing is found yet");
    assert_eq!(click(&mut harness, "Stop"), [Command::StopErrand]);
    let mut desk = harness.into_state();
    desk.results.status.errand = desk.results.status.errand.map(|running| Running { can_end: true, ..running });
    assert_eq!(click(&mut shown(desk, place::place), "Take the best so far"), [Command::EndErrand]);
}

#[test]
fn keeps_typed_text_until_it_is_read() {
    let mut harness = shown(Desk::studied(), text::text);
    assert!(find_begin(&harness, "Read it").accesskit_node().is_disabled());
    let editor = harness.get_by_role(egui::accesskit::Role::MultilineTextInput);
    editor.focus();
    harness.run_ok();
    harness.get_by_role(egui::accesskit::Role::MultilineTextInput).type_text("# mine\n");
    harness.run_ok();
    assert!(harness.state().asked.is_empty());
    let asked = click(&mut harness, "Read it");
    // The pane is left by the same click: said once or twice, it is the same.
    assert!(matches!(&asked[..], [Command::SetText(text), ..] if text.contains("# mine")), "{asked:?}");
    assert!(asked.iter().all(|command| *command == asked[0]));
    let typed = asked[0].clone();
    let Command::SetText(text) = typed else { return };
    harness.state_mut().document.replace(text);
    harness.run_ok();
    assert!(find_begin(&harness, "Read it").accesskit_node().is_disabled());
}

#[test]
fn keeps_every_material_of_the_start_page_in_the_table() {
    for (part, choices) in start::CHOICES {
        for (word, _, material) in choices {
            assert!(find(material).is_some_and(|row| row.name == *material), "{part}, {word}: {material}");
        }
    }
}

#[test]
fn keeps_a_new_room_as_typed() {
    let mut harness = shown(Desk::empty(), start::start);
    assert!(click(&mut harness, "walls: bare brick").is_empty());
    assert!(click(&mut harness, "I talk or play").is_empty());
    let asked = click(&mut harness, "Begin");
    let room = NewRoom {
        name: "My room".into(),
        size: RoomSize::read("4x3x2.5m").unwrap(),
        activity: roomwright::scene::Activity::Voice,
        materials: ["Standard brickwork", "Wood floor (on joists)", "Plasterboard ceiling on battens, large air space above"]
            .map(|material| Some(material.to_owned())),
    };
    assert_eq!(asked, [Command::New(room)]);
    // What is wrong is said while it is typed, and nothing can be begun with it.
    for (typed, said) in [("q", "is not a length"), (" 2,4", "a decimal comma"), (" 12 m", "is out of range")] {
        retype(&mut harness, "height", typed);
        assert!(says(&harness, said), "{typed}");
        assert!(find_begin(&harness, "Begin").accesskit_node().is_disabled());
    }
    retype(&mut harness, "height", "8 ft 2 1/2 in");
    assert!(says(&harness, "= 2.502 m"), "what was understood is told");
    // The other unit: what reads goes over.
    click(&mut harness, "feet and inches");
    let [Command::New(room)] = &click(&mut harness, "Begin")[..] else { panic!("nothing begins") };
    assert_eq!((room.size.unit, room.size.height.0), (LengthUnit::Foot, 98.5 * 0.0254));
    assert!((room.size.length.0 - 4.0).abs() < 0.001, "to the sixteenth of an inch");
}

#[test]
fn keeps_a_new_room_by_the_mouse_alone() {
    let mut harness = shown(Desk::empty(), start::start);
    for (name, presses) in [("length: more", 3), ("height: less", 2)] {
        for _ in 0..presses {
            assert!(click(&mut harness, name).is_empty());
        }
    }
    let [Command::New(room)] = &click(&mut harness, "Begin")[..] else { panic!("nothing begins") };
    assert_eq!(room.size, RoomSize::read("4.03x3x2.48m").unwrap());
    // Held, it goes on; never beyond what a room may be.
    let button = harness.get_by_label("height: more").rect().center();
    harness.drag_at(button);
    for _ in 0..2000 {
        harness.step();
    }
    harness.drop_at(button);
    harness.run_ok();
    assert!(says(&harness, "height") && !find_begin(&harness, "Begin").accesskit_node().is_disabled());
    let [Command::New(room)] = &click(&mut harness, "Begin")[..] else { panic!("nothing begins") };
    assert!(room.size.height.0 > 5.0, "{:?}", room.size);
}

/// Types a text over what stands in a field.
fn retype(harness: &mut Harness<'_, Desk>, label: &str, text: &str) {
    harness.get_by_label(label).focus();
    harness.run_ok();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.key_press(Key::Backspace);
    harness.run_ok();
    harness.get_by_label(label).type_text(text);
    harness.run_ok();
}

#[test]
fn keeps_the_demo_rooms_readable() {
    let mut harness = shown(Desk::empty(), start::start);
    for begin in ["Attic", "Basement", "L-shaped"] {
        let asked = click(&mut harness, begin);
        assert!(matches!(&asked[..], [Command::OpenCopy(text)] if roomwright::scene::read(text).is_ok()), "{begin}");
    }
    assert_eq!(click(&mut harness, "3  Flutter"), [Command::OpenLesson(3)]);
}

#[test]
fn keeps_an_answer_for_every_question() {
    fn ask_panel(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
        ask::ask(ui, shown, shown.view.question.as_ref().unwrap(), drafts, asked);
    }
    let cases: [(Question, &[(&str, Command)]); 5] = [
        (Question::Unsaved, &[("Save", Command::Save), ("Drop it", Command::Discard), ("Go on", Command::Stay)]),
        (Question::WhereTo("room.toml".into()), &[("Save there", Command::SaveAs("room.toml".into())), ("Leave it", Command::Stay)]),
        (Question::Which, &[("Leave it", Command::Stay)]),
        (Question::ChangedOnDisk, &[("Take the", Command::Reload), ("Write mine", Command::Overwrite), ("Decide", Command::Stay)]),
        (Question::Recovery, &[("Take it up", Command::RestoreRecovery), ("Remove", Command::DiscardRecovery)]),
    ];
    for (question, answers) in cases {
        for (word, command) in answers {
            let desk = Desk::studied().with_view(|view| view.question = Some(question.clone()));
            let mut harness = shown(desk, ask_panel);
            let asked = if *word == "Save" {
                harness.get_by_label("Save").click();
                harness.run_ok();
                std::mem::take(&mut harness.state_mut().asked)
            } else {
                click(&mut harness, word)
            };
            assert_eq!(&asked[..], std::slice::from_ref(command), "{question:?}");
        }
    }
}

fn keys_panel(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    text::text(ui, shown, drafts, asked);
    keys::keys(ui.ctx(), shown, asked);
}

#[test]
fn keeps_the_keys() {
    let press = |desk: Desk, modifiers, key| {
        let mut harness = shown(desk, keys_panel);
        harness.key_press_modifiers(modifiers, key);
        harness.run_ok();
        std::mem::take(&mut harness.state_mut().asked)
    };
    let shift = Modifiers::COMMAND | Modifiers::SHIFT;
    for (modifiers, key, command) in [
        (Modifiers::COMMAND, Key::Z, Command::Undo),
        (Modifiers::COMMAND, Key::Y, Command::Redo),
        (Modifiers::COMMAND, Key::P, Command::ExportPicture(None)),
        (shift, Key::Z, Command::Redo),
        (Modifiers::COMMAND, Key::S, Command::Save),
        (shift, Key::S, Command::AskWhere),
        (Modifiers::COMMAND, Key::O, Command::AskFile),
        (Modifiers::NONE, Key::B, Command::ToggleLayout),
        (Modifiers::NONE, Key::M, Command::ChooseStrip(Strip::Absorbers)),
    ] {
        assert_eq!(press(Desk::studied(), modifiers, key), [command]);
    }
    assert_eq!(press(Desk::studied(), Modifiers::NONE, Key::Delete), []);
    let with = |thing: Thing| Desk::studied().with_view(|view| view.chosen = Some(thing));
    let chosen = || with(Thing::Panel(0));
    assert_eq!(press(chosen(), Modifiers::NONE, Key::Delete), [Command::RemovePanel(0)]);
    assert_eq!(
        press(with(Thing::Clearance(3)), Modifiers::NONE, Key::Delete),
        [Command::RemoveThing(ThingKind::Clearance, "socket".into())]
    );
    assert!(matches!(press(with(Thing::Source(0)), Modifiers::NONE, Key::Delete)[..], [Command::Say(_)]));
    // Escape takes the nearest thing back first.
    assert!(press(chosen(), Modifiers::NONE, Key::Escape).contains(&Command::Choose(None)));
    let hanging = chosen().with_view(|view| view.hanging = true);
    assert_eq!(press(hanging, Modifiers::NONE, Key::Escape), [Command::HangByHand(false)]);
    let mut dragged = chosen().with_view(|view| view.hanging = true);
    dragged.document.begin_drag();
    assert_eq!(press(dragged, Modifiers::NONE, Key::Escape), [Command::CancelDrag]);
    let mut asking = chosen().with_view(|view| (view.hanging, view.asks_place) = (true, true));
    asking.document.begin_drag();
    assert_eq!(press(asking, Modifiers::NONE, Key::Escape), [Command::AskPlace(false)]);
    let asked = Desk::studied().with_view(|view| view.question = Some(Question::Unsaved));
    assert_eq!(press(asked, Modifiers::COMMAND, Key::Z), []);
    // What is typed is text.
    let mut harness = shown(chosen(), keys_panel);
    harness.get_by_role(egui::accesskit::Role::MultilineTextInput).focus();
    harness.run_ok();
    harness.key_press(Key::B);
    harness.key_press(Key::Delete);
    harness.run_ok();
    assert!(!harness.state().asked.iter().any(|command| matches!(command, Command::ToggleLayout | Command::RemovePanel(_))));
}

fn frame_panel(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    frame::frame(ui, shown, drafts, asked);
}

#[test]
fn keeps_all_steps_in_the_window_and_says_what_does_not_exist() {
    for (step, words) in [(Step::Build, "It is being worked out"), (Step::Prove, "A recording of the room tells")] {
        let mut harness = shown(Desk::studied().with_view(|view| view.step = step), frame_panel);
        assert!(says(&harness, words));
        assert!(says(&harness, "2,000 of 100,000 rays a source"));
        for (name, step) in ["survey", "hear", "place", "build", "prove"].into_iter().zip(Step::ALL) {
            harness.state_mut().asked.clear();
            harness.get_by_label(name).click();
            harness.run_ok();
            assert_eq!(harness.state().asked, [Command::ChooseStep(step)]);
        }
    }
}

#[test]
fn keeps_a_picture_a_click_away() {
    let mut harness = shown(Desk::studied(), frame_panel);
    assert_eq!(click(&mut harness, "picture"), [Command::ExportPicture(None)]);
    let mut desk = Desk::studied();
    desk.results.room = None;
    assert!(find_begin(&shown(desk, frame_panel), "picture").accesskit_node().is_disabled());
}

#[test]
fn keeps_the_path_where_it_is_whatever_the_room_is_called() {
    let mut heights = Vec::new();
    for name in ["Attic", "Spare room", "The small room at the end of the upper corridor"] {
        let mut desk = Desk::studied();
        desk.results.scene = desk.results.scene.map(|scene| Arc::new(Scene { name: name.into(), ..(*scene).clone() }));
        let harness = shown(desk, frame_panel);
        assert!(says(&harness, name));
        heights.push(harness.get_by_label("survey").rect().top());
    }
    assert!(heights.iter().all(|height| *height == heights[0]), "{heights:?}");
}
