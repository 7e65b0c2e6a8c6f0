//! Recordings: listed, asked for, compared, given up; what is wrong with them, and what stays.

use roomwright::dsp::wav::Sound;
use roomwright::study;

use super::*;
use crate::box_tests::{PROVEN, RATE, TAKEN, heard, read, taking, wave};
use crate::proving::{ProveAsked, ProveChoice, Told};
use crate::recordings::{Kind, Listed};

#[path = "session_fit_tests.rs"]
mod fits;

const BOX: &str = "rooms/box.toml";

/// The box on disk with what is heard in it, opened.
fn box_with(files: &[(&str, Vec<u8>)]) -> (Arc<Memory>, App) {
    let disk = Memory::holding(BOX, &taking(TAKEN[0]));
    for (name, bytes) in files {
        disk.put(&format!("rooms/{name}"), bytes);
    }
    let mut app = app(&disk);
    send(&mut app, Command::Open(BOX.into()));
    send(&mut app, Command::ChooseStep(Step::Prove));
    (disk, app)
}

fn own() -> Vec<u8> {
    wave(vec![heard(&read(&taking(TAKEN[0]))).0])
}

fn listed(app: &App) -> &[Listed] {
    &view(app).proving.listed
}

/// Lists it, and waits until it is read.
fn take(app: &mut App, name: &str) {
    send(app, Command::Prove(ProveChoice::Take(None, format!("rooms/{name}").into())));
    wait_read(app);
}

/// Waits until all that is listed is read.
#[track_caller]
fn wait_read(app: &mut App) {
    wait_for(app, "all that is listed is read", |app| listed(app).iter().flat_map(Listed::files).all(|file| file.found.is_some()));
}

/// Says that a recording is a response.
fn as_response(app: &mut App, number: usize) {
    let changed = Listed { kind: Kind::Response, ..listed(app)[number].clone() };
    send(app, Command::Prove(ProveChoice::Change(number, Box::new(changed))));
}

fn compare(app: &mut App) {
    let asked = ProveAsked { listed: listed(app).to_vec(), waves: None, fits: None };
    send(app, Command::Begin(Errand::Prove(asked)));
}

fn is_at_rest(results: &Results) -> bool {
    results.status.errand.is_none()
}

#[test]
fn keeps_the_way_from_a_file_to_an_answer() {
    let (_, mut app) = box_with(&[("after.wav", own())]);
    send(&mut app, Command::Prove(ProveChoice::Ask(None)));
    assert_eq!(view(&app).question, Some(Question::WhichRecording(None)));
    let shelf: &Shelf = app.world().resource();
    assert!(shelf.folder().held.iter().any(|held| held.name == "after.wav"), "{:?}", shelf.folder());
    take(&mut app, "after.wav");
    assert_eq!((view(&app).question.clone(), listed(&app).len()), (None, 1));
    as_response(&mut app, 0);
    // The next one is of the same kind, and the file of before is asked for by its number.
    send(&mut app, Command::Prove(ProveChoice::Ask(Some(0))));
    assert_eq!(view(&app).question, Some(Question::WhichRecording(Some(0))));
    send(&mut app, Command::Prove(ProveChoice::Take(Some(0), "rooms/after.wav".into())));
    wait_read(&mut app);
    take(&mut app, "after.wav");
    assert!(listed(&app)[0].before.is_some() && listed(&app)[1].kind == Kind::Response);
    send(&mut app, Command::Prove(ProveChoice::LeaveOut(1)));
    send(&mut app, Command::Prove(ProveChoice::LeaveOut(7)));
    assert_eq!(listed(&app).len(), 1);
    compare(&mut app);
    assert!(matches!(results(&app).status.errand.as_ref().unwrap().errand, Errand::Prove(_)));
    wait(&mut app, |results| results.proof.is_some());
    let proven = results(&app).proof.clone().unwrap();
    assert_eq!(proven.listed, listed(&app));
    assert!(results(&app).shows(&proven.scene));
    let recording = listed(&app)[0].recording(&proven.scene).unwrap();
    let asked = study::prove(&roomwright::progress::Progress::new(), &proven.scene, &[recording], None).unwrap();
    assert_eq!(proven.proof, Some(asked), "as the front door answers");
    // It stays that of the scene as it was, and holds again once the edit is taken back.
    send(&mut app, Command::Prove(ProveChoice::Tell(Some(Told::Predicted(0)))));
    let moved = Command::MoveSource { name: "left".into(), position: DVec3::new(0.8, 0.5, 0.4) };
    send(&mut app, moved);
    assert!(results(&app).proof.is_some() && !results(&app).shows(&proven.scene));
    send(&mut app, Command::Undo);
    assert!(results(&app).shows(&proven.scene) && view(&app).proving.told == Some(Told::Predicted(0)));
    assert_eq!(document(&app).text(), taking(TAKEN[0]), "recordings stand in no scene");
}

/// All that is wrong is said at once, each at its file; the list, its settings and what was answered before stay.
#[test]
fn keeps_the_answer_when_recordings_say_nothing() {
    let sweep = crate::recordings::usual_sweep();
    let another = roomwright::dsp::sweep::Sweep { low_hz: 200.0, seconds: 1.0, repeats: 1, ..sweep };
    let files = [
        ("after.wav", own()),
        ("silent.wav", wave(vec![vec![0.0; RATE as usize]])),
        ("another.wav", wave(vec![another.signal()])),
        ("noise.wav", wave(vec![(0..30 * RATE).map(|step| 0.1 * (f64::from(step).powi(2) * 0.618).sin() as f32).collect()])),
    ];
    let (disk, mut app) = box_with(&files);
    take(&mut app, "after.wav");
    as_response(&mut app, 0);
    compare(&mut app);
    wait(&mut app, |results| results.proof.is_some());
    let before = results(&app).proof.clone().unwrap();
    for name in ["silent.wav", "another.wav", "noise.wav"] {
        take(&mut app, name);
    }
    let of_sweep: Vec<Listed> = listed(&app)[2..].iter().map(|one| Listed { kind: Kind::Sweep, ..one.clone() }).collect();
    for (number, one) in of_sweep.into_iter().enumerate() {
        send(&mut app, Command::Prove(ProveChoice::Change(number + 2, Box::new(one))));
    }
    compare(&mut app);
    wait(&mut app, |results| is_at_rest(results) && !results.faults.is_empty());
    let faults = results(&app).faults.clone();
    let said: Vec<(&Listed, &str)> = faults.iter().map(|fault| (&fault.listed, fault.why.as_str())).collect();
    assert_eq!(said.len(), 3, "{said:?}");
    for ((fault, why), (one, begins)) in said.iter().zip(listed(&app)[1..].iter().zip([
        "The recording is silent",
        "The recording ends before one whole sweep",
        "No sweep found",
    ])) {
        assert_eq!(*fault, one);
        assert!(why.starts_with(begins) && why.ends_with('.'), "{why}");
    }
    assert!(Arc::ptr_eq(results(&app).proof.as_ref().unwrap(), &before) && listed(&app).len() == 4);
    // A file that is gone is noticed when it is read to be compared.
    disk.remove(Path::new("rooms/after.wav")).unwrap();
    compare(&mut app);
    wait(&mut app, is_at_rest);
    let scene = document(&app).scene().unwrap().clone();
    assert!(listed(&app)[0].faults(&scene)[0].1.starts_with("Cannot read rooms/after.wav"));
    assert!(Arc::ptr_eq(results(&app).proof.as_ref().unwrap(), &before));
    // From then on that is known before anything is begun.
    compare(&mut app);
    assert!(is_at_rest(results(&app)) && view(&app).notice.as_ref().unwrap().starts_with("Nothing was compared"));
    // It is back, and nothing had to be said anew.
    disk.put("rooms/after.wav", own());
    send(&mut app, Command::ChooseStep(Step::Hear));
    send(&mut app, Command::ChooseStep(Step::Prove));
    wait_for(&mut app, "after.wav is read again", |app| listed(app)[0].faults(&scene).is_empty());
    assert_eq!(listed(&app)[0].kind, Kind::Response);
    assert_eq!(listed(&app)[..1], before.listed, "the same file");
}

/// A sweep that is not the one that was listed tells so, and one of the kind that was said is undone.
#[test]
fn keeps_a_sweep_undone_by_how_it_was_made() {
    let sweep =
        roomwright::dsp::sweep::Sweep { repeats: 1, silence_s: 1.5, ..roomwright::dsp::sweep::Sweep::new(50.0, 16_000.0, 2.0, 48_000.0) };
    let (samples, _) = heard(&read(&taking(TAKEN[0])));
    let mut sound = sweep.signal();
    // A quarter of a second before, and the room after it.
    let played = std::mem::take(&mut sound);
    let mut recorded = vec![0.0_f32; RATE as usize / 4];
    recorded.extend(roomwright::dsp::convolve::convolve(&played, &samples).into_iter().map(|value| 0.05 * value));
    let two = Sound { rate: RATE, channels: vec![vec![0.0; recorded.len()], recorded] };
    let (_, mut app) = box_with(&[("sweep.wav", wave(two.channels))]);
    take(&mut app, "sweep.wav");
    let made = Listed { sweep, ..listed(&app)[0].clone() };
    assert_eq!((made.kind, made.channels()), (Kind::Sweep, 2));
    send(&mut app, Command::Prove(ProveChoice::Change(0, Box::new(made))));
    compare(&mut app);
    wait(&mut app, |results| is_at_rest(results) && (results.proof.is_some() || !results.faults.is_empty()));
    let proven = results(&app).proof.clone().unwrap_or_else(|| panic!("{:?}", results(&app).faults));
    let about = &proven.recordings()[0].recording;
    assert_eq!((about.signal.as_str(), about.channel), ("sweep", 2));
    assert!(proven.notes().iter().any(|note| note.contains("only channel 2 holds a sound")), "{:?}", proven.notes());
}

#[test]
fn keeps_an_errand_of_recordings_given_up_by_an_edit() {
    let (_, mut app) = box_with(&[("after.wav", own())]);
    take(&mut app, "after.wav");
    as_response(&mut app, 0);
    compare(&mut app);
    assert!(!is_at_rest(results(&app)));
    send(&mut app, Command::SetStockCount { kind: "corner panel".into(), count: 1 });
    assert!(is_at_rest(results(&app)));
    compare(&mut app);
    send(&mut app, Command::StopErrand);
    assert!(is_at_rest(results(&app)) && results(&app).proof.is_none() && listed(&app).len() == 1);
    send(&mut app, Command::Prove(ProveChoice::Show(1)));
    assert_eq!(view(&app).proving.shown, 1);
}

/// A folder is no recording: it is looked into, and the question stays.
#[test]
fn keeps_a_folder_out_of_the_list() {
    let (_, mut app) = box_with(&[("old/bare.wav", own())]);
    send(&mut app, Command::Prove(ProveChoice::Ask(None)));
    send(&mut app, Command::Prove(ProveChoice::Take(None, "rooms/old".into())));
    let shelf: &Shelf = app.world().resource();
    assert_eq!(shelf.folder().path, Path::new("rooms/old"));
    assert!(shelf.folder().held.iter().any(|held| held.name == "bare.wav"), "{:?}", shelf.folder());
    assert!(view(&app).question == Some(Question::WhichRecording(None)) && listed(&app).is_empty());
}

/// The window goes on while a recording is read, which may be long: when it is listed, when the step is opened and when it is compared. What another program wrote meanwhile counts.
#[test]
fn keeps_the_window_from_waiting_for_recordings() {
    const FILE: &str = "rooms/after.wav";
    let (disk, mut app) = box_with(&[("after.wav", own())]);
    disk.hold_back(FILE);
    send(&mut app, Command::Prove(ProveChoice::Take(None, FILE.into())));
    assert!(listed(&app)[0].file.found.is_none() && view(&app).question.is_none());
    disk.let_go(FILE);
    wait_read(&mut app);
    as_response(&mut app, 0);
    let was = listed(&app)[0].clone();
    assert!(was.file.sound().is_some() && disk.reads(FILE) == 1);
    disk.hold_back(FILE);
    send(&mut app, Command::ChooseStep(Step::Hear));
    send(&mut app, Command::ChooseStep(Step::Prove));
    assert!(disk.reads(FILE) == 1 && listed(&app)[0] == was, "what was read stays meanwhile");
    disk.let_go(FILE);
    wait_for(&mut app, "after.wav is read when the step is opened", |_| disk.reads(FILE) == 2);
    disk.put(FILE, wave(vec![heard(&read(&taking(TAKEN[1]))).0]));
    disk.hold_back(FILE);
    compare(&mut app);
    assert!(disk.reads(FILE) == 2 && !is_at_rest(results(&app)));
    disk.let_go(FILE);
    wait(&mut app, |results| is_at_rest(results) && results.proof.is_some());
    assert_eq!(disk.reads(FILE), 3);
    assert!(listed(&app)[0] != was && results(&app).proof.as_ref().unwrap().listed == listed(&app), "the file that was compared is listed");
}

/// What the foot of the two answers rests on: what was recorded is what the program itself hears, so decays agree, before rang longer, and the reflection that was put in is new.
#[test]
fn keeps_recordings_of_the_program_itself_as_predicted() {
    let [own, foreign] = PROVEN.recordings() else { panic!("two") };
    let (agree, all) = PROVEN.agreeing();
    assert!(all >= 6 && agree + 1 >= all, "{agree} of {all}");
    let decay = own.decay_s.as_ref().unwrap();
    let [before, now] = [&decay.before.as_ref().unwrap(), &&decay.measured].map(|figure| figure.value.unwrap());
    assert!(before > 1.5 * now, "{before} {now}");
    assert!(PROVEN.verdict()[0].starts_with("The work took the decay from"), "{:?}", PROVEN.verdict());
    let news = |one: &roomwright::prove::Proved| {
        one.new_reflections.iter().filter(|new| (new.delay_ms - crate::box_tests::FOREIGN_MS).abs() < 0.1).count()
    };
    assert_eq!((news(own), news(foreign)), (0, 1), "{:?}", foreign.new_reflections);
}
