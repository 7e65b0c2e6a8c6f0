//! The page of whether it worked: all the way from a file to the answer, what is asked of a recording, what is in its way, and what its tables choose.

use std::path::PathBuf;
use std::time::Duration;

use bevy::time::TimeUpdateStrategy;
use roomwright::report::text::figures::optional;
use roomwright::report::text::prove::{MEASURES, cells, found, octave, reflection, speech};

use super::*;
use crate::box_tests::{PROVEN, TAKEN, heard, read, response, taking, wave};
use crate::proving::{Fault, ProveChoice, Told};
use crate::recordings::{Kind, Listed, SoundFile};
use crate::recovery::Storage;
use crate::session::SessionPlugin;
use crate::test_disk::Memory;

pub(super) fn prove_panel(ui: &mut Ui, shown: Shown<'_>, _: &mut Drafts, asked: &mut Asked) {
    prove::prove(ui, shown, asked);
}

/// The box with its recordings, compared.
fn proven() -> Desk {
    let mut desk = Desk::empty();
    desk.document.open(Some("box.toml".into()), taking(TAKEN[0]), true);
    desk.results.show(Generation(desk.document.revision()), &PROVEN.scene);
    desk.results.proof = Some(PROVEN.clone());
    desk.view.step = Step::Prove;
    desk.view.proving.listed.clone_from(&PROVEN.listed);
    desk
}

pub(super) fn row(cells: impl IntoIterator<Item = String>) -> String {
    cells.into_iter().filter(|cell| !cell.trim().is_empty()).collect::<Vec<_>>().join(", ")
}

/// Updates until something is so; `what`, if it never is. Five minutes are long for the box, on a slow machine that others use, too.
#[track_caller]
fn wait_for(app: &mut App, what: &str, until: impl Fn(&App) -> bool) {
    for _ in 0..60_000 {
        app.update();
        if until(app) {
            return;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    let results = app.world().resource::<Results>();
    panic!("waited in vain until {what}: {:?}, {:?}", results.status, results.faults);
}

/// From the scene and the file on disk by what a person does to the verdict on the page and the word at the step.
#[test]
fn keeps_the_verdict_of_a_recording_of_our_own_on_the_page() {
    let disk = Memory::holding("rooms/box.toml", &taking(TAKEN[0]));
    disk.put("rooms/after.wav", wave(vec![heard(&read(&taking(TAKEN[0]))).0]));
    disk.put("rooms/bare.wav", wave(vec![heard(&read(&taking(TAKEN[1]))).0]));
    let mut app = App::new();
    app.add_plugins((MinimalPlugins, SessionPlugin))
        .insert_resource(TimeUpdateStrategy::ManualDuration(Duration::from_secs(1)))
        .insert_resource(Storage(disk));
    app.update();
    let mut send = |command: Command| {
        app.world_mut().write_message(command);
        app.update();
    };
    send(Command::Open("rooms/box.toml".into()));
    send(Command::ChooseStep(Step::Prove));
    send(Command::Prove(ProveChoice::Take(None, "rooms/after.wav".into())));
    send(Command::Prove(ProveChoice::Take(Some(0), "rooms/bare.wav".into())));
    let all_read = |app: &App| app.world().resource::<View>().proving.listed[0].files().all(|file| file.found.is_some());
    wait_for(&mut app, "both files are read", all_read);
    let mut send = |command: Command| {
        app.world_mut().write_message(command);
        app.update();
    };
    send(Command::LowEnd(crate::low_end::LowEndChoice::ByWaves(false)));
    let one = Listed { kind: Kind::Response, ..app.world().resource::<View>().proving.listed[0].clone() };
    app.world_mut().write_message(Command::Prove(ProveChoice::Change(0, Box::new(one))));
    app.update();
    // The button on the page.
    let desk = |app: &mut App| Desk {
        document: app.world_mut().remove_resource().unwrap(),
        view: app.world().resource::<View>().clone(),
        results: app.world_mut().remove_resource().unwrap(),
        ..Desk::empty()
    };
    let mut harness = shown(desk(&mut app), frame_panel);
    let word = |harness: &Harness<'_, Desk>| {
        let Desk { document, view, results, shelf, sound, .. } = harness.state();
        prove::words(Shown { document, view, results, shelf, sound })
    };
    assert!(word(&harness) == "1 recording" && says(&harness, "after.wav"));
    let asked = click(&mut harness, "Compare with the room");
    let [Command::Begin(Errand::Prove(wanted))] = &asked[..] else { panic!("{asked:?}") };
    assert!(wanted.listed.len() == 1 && wanted.waves.is_none());
    let Desk { document, results, .. } = harness.into_state();
    app.world_mut().insert_resource(document);
    app.world_mut().insert_resource(results);
    for command in asked {
        app.world_mut().write_message(command);
    }
    wait_for(&mut app, "the recording is compared", |app| app.world().resource::<Results>().proof.is_some());
    let harness = shown(desk(&mut app), prove_panel);
    let proven = harness.state().results.proof.clone().unwrap();
    assert!(proven.verdict().len() >= 3 && proven.verdict()[0].starts_with("The work took the decay from"));
    for sentence in proven.verdict() {
        assert!(says(&harness, sentence), "{sentence}");
    }
    let (agree, all) = proven.agreeing();
    assert!(all > 3 && word(&harness) == format!("{agree} of {all} agree"));
}

/// Octave by octave measured beside predicted and before, speech, reflections with what became of each, notes: the words of the printed page.
#[test]
fn keeps_the_answer_in_the_words_of_the_printed_page() {
    let mut harness = shown(proven(), prove_panel);
    let one = &PROVEN.recordings()[0];
    let (_, unit, digits, of) = MEASURES[0];
    assert!(says(&harness, &format!("octave, measured, {unit}, predicted, {unit}, inputs, {unit}, off, {unit}, steps")));
    for each in &one.octaves {
        let words = row(std::iter::once(octave(each)).chain(cells(of(each), digits, false)));
        assert!(says(&harness, &words), "{words}");
        let before = of(each).before.as_ref().and_then(|before| before.value);
        let change = [optional(before, 2), optional(of(each).measured.value, 2), optional(of(each).change_steps, 1)];
        assert!(says(&harness, &row(std::iter::once(octave(each)).chain(change.clone()))), "{change:?}");
    }
    let mean = row(cells(one.decay_s.as_ref().unwrap(), 2, false));
    assert!(says(&harness, &format!("mean, {mean}")) && says(&harness, &speech(one)) && says(&harness, "Asked for: "));
    for (name, _, digits, of) in &MEASURES[1..] {
        let words = row(cells(of(&one.octaves[4]), *digits, false));
        assert!(!says(&harness, &words), "folded at first: {name}");
        let mut letters = name.chars();
        let title = letters.next().unwrap().to_uppercase().chain(letters).collect::<String>();
        click(&mut harness, &title);
        assert!(says(&harness, &words), "{name}: {words}");
    }
    assert!(one.reflections.len() > 3);
    for each in &one.reflections {
        let words = row(reflection(each));
        assert!(words.contains(found(each.found)) && says(&harness, &words), "{words}");
    }
    assert!(says(&harness, "listed as a voice, both takes are compared"));
    click(&mut harness, "How sure this is");
    for note in PROVEN.notes() {
        assert!(says(&harness, &note) && !note.contains("--"), "{note}");
    }
}

#[test]
fn keeps_reflections_and_recordings_a_press_away() {
    let mut harness = shown(proven(), prove_panel);
    let [first, second] = PROVEN.recordings() else { panic!("two") };
    let begins = row(reflection(&first.reflections[1]));
    assert_eq!(click(&mut harness, &begins), [Command::Prove(ProveChoice::Tell(Some(Told::Predicted(1))))]);
    let again = shown(harness.into_state().with_view(|view| view.proving.told = Some(Told::Predicted(1))), prove_panel);
    let mut harness = again;
    assert_eq!(click(&mut harness, &begins), [Command::Prove(ProveChoice::Tell(None))], "a second press lets go");
    // Tables of what there is alone: without new ones there is no word of them.
    let mut desk = proven();
    let mut proof = PROVEN.proof.clone().unwrap();
    proof.recordings[0].new_reflections.clear();
    desk.results.proof = Some(Arc::new(crate::proving::Proven { proof: Some(proof), ..(**PROVEN).clone() }));
    assert!(!says(&shown(desk, prove_panel), "Reflections that nothing predicts"));
    // The other recording has one that nothing predicts.
    assert_eq!(
        click(&mut harness, &format!("{} at {} (again.wav)", second.source, second.receiver)),
        [Command::Prove(ProveChoice::Show(1))]
    );
    let mut harness = shown(harness.into_state().with_view(|view| view.proving.shown = 1), prove_panel);
    assert!(says(&harness, "Reflections that nothing predicts"));
    let number = second.new_reflections.iter().position(|new| (new.delay_ms - crate::box_tests::FOREIGN_MS).abs() < 0.1).unwrap();
    let words = row(roomwright::report::text::prove::new(&second.new_reflections[number]));
    assert_eq!(click(&mut harness, &words), [Command::Prove(ProveChoice::Tell(Some(Told::New(number))))]);
}

/// The channel that is taken if none is said.
const USUAL: &str = "the one with sound, else 1";

/// Whether a field or a list holds just this.
fn holds(harness: &Harness<'_, Desk>, value: &str) -> bool {
    let shows = |node: &egui_kittest::kittest::AccessKitNode<'_>| {
        node.value().is_some_and(|own| own == value) || node.label().is_some_and(|own| own == value)
    };
    harness.query_all(egui_kittest::kittest::by().predicate(shows)).next().is_some()
}

/// What is asked of a recording: the sweep's own settings of a sweep alone, a channel where there are several; and a change is said at once.
#[test]
fn keeps_what_is_asked_of_a_recording() {
    let mut desk = proven();
    desk.results.proof = None;
    desk.view.proving.listed = vec![Listed { kind: Kind::Sweep, ..response("after.wav", vec![0.5, 0.25], None) }];
    let harness = shown(desk, prove_panel);
    for words in ["goes from", "up to", "lasts", "repeats", "pause", "level", "rate", "2 channels"] {
        assert_eq!(says(&harness, words), words != "2 channels", "{words}");
    }
    for value in ["20 Hz", "20000 Hz", "10.0 s", "3.0 s", "-30 dB", "48000 Hz"] {
        assert!(holds(&harness, value), "{value}");
    }
    assert!(!holds(&harness, USUAL) && says(&harness, "48,000 samples a second, one channel"));
    // Two channels, one of them chosen by what it holds until something else is said; and a file that is still read.
    let disk = Memory::default();
    disk.put("two.wav", wave(vec![vec![0.5, 0.25], vec![0.0, 0.0]]));
    let files = [SoundFile::read("two.wav".as_ref(), &disk), SoundFile::unread("long.wav".as_ref())];
    let [two, long] = files.map(|file| Listed::new(file, None));
    let harness = shown(harness.into_state().with_view(|view| view.proving.listed = vec![two]), prove_panel);
    assert!(holds(&harness, USUAL) && says(&harness, "2 channels") && !says(&harness, "reading ..."));
    let harness = shown(harness.into_state().with_view(|view| view.proving.listed = vec![long]), prove_panel);
    assert!(says(&harness, "long.wav") && says(&harness, "reading ..."));
    let clap = Listed { kind: Kind::Clap, ..response("after.wav", vec![0.5, 0.25], None) };
    let mut harness = shown(harness.into_state().with_view(|view| view.proving.listed = vec![clap]), prove_panel);
    assert!(!says(&harness, "goes from") && says(&harness, "A phone saves compressed sound"));
    assert_eq!(click(&mut harness, "take out"), [Command::Prove(ProveChoice::LeaveOut(0))]);
    assert_eq!(click(&mut harness, "Choose the same of before"), [Command::Prove(ProveChoice::Ask(Some(0)))]);
    assert_eq!(click(&mut harness, "Add another recording"), [Command::Prove(ProveChoice::Ask(None))]);
    // With one of before: it can be left out.
    let listed = vec![PROVEN.listed[0].clone()];
    let mut harness = shown(harness.into_state().with_view(|view| view.proving.listed.clone_from(&listed)), prove_panel);
    let without = Listed { before: None, ..listed[0].clone() };
    assert_eq!(click(&mut harness, "leave out"), [Command::Prove(ProveChoice::Change(0, Box::new(without)))]);
}

/// Each sentence stands beside its file, the button waits, and the answer that was there stays.
#[test]
fn keeps_what_is_wrong_beside_its_recording() {
    let mut desk = proven();
    desk.view.proving.listed[1].source = Some("gone".into());
    let wrong = Fault { listed: desk.view.proving.listed[0].clone(), is_before: true, why: "The recording is silent.".into() };
    desk.results.faults = vec![wrong];
    let mut harness = shown(desk, prove_panel);
    assert!(says(&harness, "Before: The recording is silent.") && says(&harness, "The scene has no \"gone\" any more."));
    assert!(says(&harness, "First see to what is said") && says(&harness, PROVEN.verdict()[0]));
    assert_eq!(click(&mut harness, "Compare with the room"), []);
    // What is said of it otherwise may be right.
    let mut desk = harness.into_state();
    desk.view.proving.listed[0].channel = Some(1);
    desk.view.proving.listed[1].source = None;
    let harness = shown(desk, prove_panel);
    assert!(!says(&harness, "is silent") && says(&harness, "as they were listed then; compare again"));
}

#[test]
fn keeps_an_answer_that_is_of_something_else_marked() {
    let harness = shown(proven(), prove_panel);
    assert!(!says(&harness, "compare again"));
    let mut desk = harness.into_state();
    let moved = taking(TAKEN[0]).replace("position = [0.6, 0.5, 0.4]", "position = [0.7, 0.5, 0.4]");
    desk.document.replace(moved.clone());
    let scene = Arc::new(roomwright::scene::read(&moved).unwrap().0);
    desk.results.show(Generation(desk.document.revision()), &scene);
    let harness = shown(desk, prove_panel);
    let Desk { document, view, results, shelf, sound, .. } = harness.state();
    assert_eq!(prove::words(Shown { document, view, results, shelf, sound }), "earlier scene");
    assert!(says(&harness, "This is of the scene as it was; compare again."));
    assert!(says(&harness, PROVEN.verdict()[0]), "it stays readable");
    // A file that is another one now.
    let mut desk = proven();
    desk.view.proving.listed[1] = response("again.wav", vec![0.5, 0.25], None);
    let harness = shown(desk, prove_panel);
    assert!(says(&harness, "Changed on disk since: again.wav; compare again."));
}

/// Where a recording is asked for only recordings are listed, and where a scene is, scenes.
#[test]
fn keeps_recordings_and_scenes_apart_in_the_chooser() {
    let disk = Memory::holding("rooms/box.toml", &taking(TAKEN[0]));
    disk.put("rooms/after.WAV", "");
    disk.put("rooms/old/bare.wav", "");
    let asking = |folder: &str, question: Question| {
        let mut desk = proven().with_view(|view| view.question = Some(question));
        desk.shelf.look_into(folder.as_ref(), &*disk).unwrap();
        shown(desk, |ui, shown, drafts, asked| {
            let question = shown.view.question.clone().unwrap();
            ask::ask(ui, shown, &question, drafts, asked);
        })
    };
    let harness = asking("rooms", Question::Which);
    assert!(says(&harness, "box.toml") && says(&harness, "old") && !says(&harness, "after.WAV"));
    let mut harness = asking("rooms", Question::WhichRecording(Some(0)));
    assert!(says(&harness, "Which recording of before?") && says(&harness, "old") && !says(&harness, "box.toml"));
    assert_eq!(click(&mut harness, "after.WAV"), []);
    let taken = Command::Prove(ProveChoice::Take(Some(0), PathBuf::from("rooms/after.WAV")));
    assert_eq!(click(&mut harness, "Take it"), [taken]);
    assert!(!says(&harness, "A phone saves other files"));
    // Where there is none, what a phone saves may be the reason.
    disk.put("phone/clap.m4a", "");
    let empty = |question: Question| says(&asking("phone", question), "A phone saves other files");
    assert!(empty(Question::WhichRecording(None)) && !empty(Question::Which));
}

/// Both charts stand beneath the stage in this step, and only where there is an answer.
#[test]
fn keeps_charts_of_the_recording_beneath_the_stage() {
    let harness = shown_in([1280.0, 720.0], proven(), frame_panel);
    assert!(says(&harness, "dot: measured; ring: predicted") && says(&harness, "pale: before"));
    assert!(says(&harness, "diamond: predicted, hollow: missing or not told apart") && says(&harness, "dashed: predicted"));
    let mut desk = proven();
    desk.results.proof = None;
    assert!(!says(&shown_in([1280.0, 720.0], desk, frame_panel), "dot: measured"));
}
