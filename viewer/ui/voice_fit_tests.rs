//! The page of whether it worked, of voices and of fitted materials: words and columns of the printed page, what can be pressed, what is marked when it is of something else.

use roomwright::report::text;

use super::prove_tests::{prove_panel, row};
use super::*;
use crate::box_tests::{FITTED, TAKEN, VOICED, WRITTEN, taking};
use crate::proving::{NO_DECAY, ProveAsked, ProveChoice, Proven};
use crate::recordings::{Kind, Listed};

/// A box whose walls take this much, compared.
fn compared(taken: f64, proven: &Arc<Proven>) -> Desk {
    let mut desk = Desk::empty();
    desk.document.open(Some("box.toml".into()), taking(taken), true);
    desk.results.show(Generation(desk.document.revision()), &proven.scene);
    desk.results.proof = Some(proven.clone());
    desk.view.step = Step::Prove;
    desk.view.proving.listed.clone_from(&proven.listed);
    desk
}

fn word(harness: &Harness<'_, Desk>) -> String {
    let Desk { document, view, results, shelf, sound, .. } = harness.state();
    prove::words(Shown { document, view, results, shelf, sound })
}

/// The text moved under an answer.
fn moved(mut desk: Desk, taken: f64) -> Desk {
    let text = taking(taken).replace("position = [0.6, 0.5, 0.4]", "position = [0.7, 0.5, 0.4]");
    desk.document.replace(text.clone());
    let scene = Arc::new(roomwright::scene::read(&text).unwrap().0);
    desk.results.show(Generation(desk.document.revision()), &scene);
    desk
}

#[test]
fn keeps_two_takes_of_a_voice_in_the_words_of_the_printed_page() {
    let mut harness = shown(compared(TAKEN[0], &VOICED), prove_panel);
    let voices = VOICED.voices.as_ref().unwrap();
    let one = &voices.proof.voices[0];
    for sentence in &voices.proof.verdict {
        assert!(says(&harness, sentence), "{sentence}");
    }
    assert!(voices.proof.verdict[0].starts_with("The voice is clearer after the work") && says(&harness, &text::voice::about(one)));
    let rows = text::voice::depths(one).into_iter().chain(one.octaves.iter().map(text::voice::octave));
    for cells in rows {
        assert!(says(&harness, &row(cells.clone())), "{cells:?}");
    }
    assert!(says(&harness, text::voice::DEPTHS) && says(&harness, text::voice::OCTAVES) && says(&harness, "Read the same text for 20 s"));
    assert_eq!(click(&mut harness, "Write the takes equally loud"), [Command::Prove(ProveChoice::WriteVoices)]);
    click(&mut harness, "How sure this is");
    for note in VOICED.notes() {
        assert!(says(&harness, &note) && !note.contains("--"), "{note}");
    }
    // The recording behind it is a press away, and has the fit of its own.
    let behind = format!("{} (after.wav)", text::prove::heading(&VOICED.recordings()[0]));
    assert_eq!(click(&mut harness, &behind), [Command::Prove(ProveChoice::Show(1))]);
    let harness = shown(harness.into_state().with_view(|view| view.proving.shown = 1), prove_panel);
    assert!(says(&harness, &text::prove::speech(&VOICED.recordings()[0])) && !says(&harness, text::voice::DEPTHS));
}

/// Both charts, of the voice in front; and those of a recording where that is.
#[test]
fn keeps_charts_of_the_voice_beneath_the_stage() {
    let mut harness = shown_in([1280.0, 720.0], compared(TAKEN[0], &VOICED), frame_panel);
    assert!(says(&harness, "How much clearer: ") && says(&harness, "How its tone changed") && !says(&harness, "How long it rings"));
    harness.run();
    let harness = shown_in([1280.0, 720.0], harness.into_state().with_view(|view| view.proving.shown = 1), frame_panel);
    assert!(!says(&harness, "How much clearer: ") && says(&harness, "How long it rings"));
}

/// A voice alone: no decay is told, so nothing is fitted; without its take of before it says what it needs.
#[test]
fn keeps_a_voice_alone_from_what_it_cannot_tell() {
    assert!(says(&shown(compared(TAKEN[0], &VOICED), prove_panel), "Before, after, and both in turns."));
    let mut alone = Proven { listed: VOICED.listed[..1].to_vec(), proof: None, ..(**VOICED).clone() };
    alone.voices.as_mut().unwrap().heard = vec![None];
    let harness = shown(compared(TAKEN[0], &Arc::new(alone)), prove_panel);
    assert!(says(&harness, text::voice::NO_FILES) && !says(&harness, "Before, after, and both in turns."));
    assert!(!says(&harness, text::fit::HEADING) && word(&harness) == "compared");
    let mut desk = compared(TAKEN[0], &VOICED);
    desk.view.proving.listed.truncate(1);
    let mut harness = shown(desk, prove_panel);
    assert!(says(&harness, NO_DECAY) && !says(&harness, "Fit the materials") && says(&harness, "as they were listed then; compare again"));
    let without = Listed { before: None, ..VOICED.listed[0].clone() };
    assert_eq!(click(&mut harness, "leave out"), [Command::Prove(ProveChoice::Change(0, Box::new(without.clone())))]);
    let mut harness = shown(harness.into_state().with_view(|view| view.proving.listed = vec![without]), prove_panel);
    assert!(says(&harness, "A voice is compared with a take of before") && says(&harness, "First see to what is said"));
    assert_eq!(click(&mut harness, "Compare with the room"), []);
}

#[test]
fn keeps_fitted_materials_in_the_words_of_the_printed_page() {
    let mut harness = shown(compared(WRITTEN, &FITTED), prove_panel);
    let fit = FITTED.proof.as_ref().unwrap().fit.as_ref().unwrap();
    assert!(says(&harness, text::fit::HEADING) && says(&harness, text::fit::DECAYS) && says(&harness, text::fit::MATERIALS));
    assert!(fit.verdict.iter().any(|sentence| sentence.starts_with("Fitted: \"even\" absorbs")), "{:?}", fit.verdict);
    for sentence in &fit.verdict {
        assert!(says(&harness, sentence), "{sentence}");
    }
    for cells in text::fit::decays(fit) {
        assert!(says(&harness, &row(cells.clone())), "{cells:?}");
    }
    for [name, cells @ ..] in text::fit::materials(fit) {
        assert!(says(&harness, &row(cells.clone())) && says(&harness, &name), "{name} {cells:?}");
    }
    click(&mut harness, "How sure the fit is");
    assert!(fit.notes.iter().all(|note| says(&harness, &format!("- {note}"))), "{:?}", fit.notes);
    // Again, of the text on screen; written; opened once it is.
    let asked = click(&mut harness, "Fit the materials");
    let [Command::Begin(Errand::Prove(ProveAsked { listed, fits: Some(text), .. }))] = &asked[..] else { panic!("{asked:?}") };
    assert!(*listed == FITTED.listed && **text == taking(WRITTEN));
    assert!(!says(&harness, "Open fitted"));
    assert_eq!(click(&mut harness, "Write fitted.toml"), [Command::Prove(ProveChoice::WriteFit)]);
    let written = |view: &mut View| view.proving.fitted = Some("out/box/fitted-2.toml".into());
    let mut harness = shown(harness.into_state().with_view(written), prove_panel);
    assert!(says(&harness, "It lies in out/box/fitted-2.toml."));
    assert_eq!(click(&mut harness, "Open fitted-2.toml to plan anew"), [Command::Open("out/box/fitted-2.toml".into())]);
}

/// Before it is asked for there is a button; while it is run a bar; where it was refused the reason.
#[test]
fn keeps_what_becomes_of_a_fit_at_its_button() {
    let mut desk = compared(TAKEN[0], &crate::box_tests::PROVEN);
    assert!(desk.results.proof.as_ref().is_some_and(|proven| proven.proof.as_ref().unwrap().fit.is_none()));
    desk.results.no_fit = Some("The text is another one.".into());
    let mut harness = shown(desk, prove_panel);
    assert!(says(&harness, "Nothing was fitted. The text is another one.") && !says(&harness, text::fit::DECAYS));
    let asked = click(&mut harness, "Fit the materials");
    let [Command::Begin(errand @ Errand::Prove(_))] = &asked[..] else { panic!("{asked:?}") };
    let mut desk = harness.into_state();
    desk.results.status.errand = Some(Running { errand: errand.clone(), stage: "fitting materials", done: 0.5, can_end: false });
    let mut harness = shown(desk, prove_panel);
    assert!(!says(&harness, "Fit the materials") && says(&harness, "Compare with the room"), "the bar stands where it was asked for");
    assert_eq!(click(&mut harness, "Compare with the room"), [], "one at a time");
    assert_eq!(click(&mut harness, "Stop"), [Command::StopErrand]);
    // What is in the way of comparing is in the way of fitting.
    let mut desk = compared(TAKEN[0], &crate::box_tests::PROVEN);
    desk.view.proving.listed[0] = Listed { kind: Kind::Voice, before: None, ..desk.view.proving.listed[0].clone() };
    assert_eq!(click(&mut shown(desk, prove_panel), "Fit the materials"), []);
}

/// Of a scene that was changed since nothing is written, and both say that they are of it as it was.
#[test]
fn keeps_fits_and_voices_of_something_else_marked() {
    for (proven, taken, button) in [(&*FITTED, WRITTEN, "Write fitted.toml"), (&*VOICED, TAKEN[0], "Write the takes equally loud")] {
        let harness = shown(compared(taken, proven), prove_panel);
        assert!(!says(&harness, "compare again"));
        let mut harness = shown(moved(harness.into_state(), taken), prove_panel);
        assert!(word(&harness) == "earlier scene" && says(&harness, "This is of the scene as it was; compare again."));
        assert!(says(&harness, proven.verdict()[0]), "it stays readable");
        assert_eq!(click(&mut harness, button), []);
        // No file to write beside.
        let mut desk = compared(taken, proven);
        desk.document.open(None, taking(taken), false);
        desk.results.show(Generation(desk.document.revision()), &proven.scene);
        assert_eq!(click(&mut shown(desk, prove_panel), button), []);
    }
}
