//! Voices and fits: asked for, answered as the front door answers, written beside the scene, refused.

use roomwright::files;
use roomwright::report::{prove_files, voice_files};

use super::*;
use crate::box_tests::{WRITTEN, spoken};
use crate::proving::Front;

const FOLDER: &str = "rooms/out/box";

/// A box whose walls take this much, on disk with recordings beside it, opened, and all of these listed.
fn box_with(taken: f64, files: &[(&str, Kind, Vec<f32>)]) -> (Arc<Memory>, App) {
    let disk = Memory::holding(BOX, &taking(taken));
    let mut app = app(&disk);
    send(&mut app, Command::Open(BOX.into()));
    send(&mut app, Command::ChooseStep(Step::Prove));
    for (number, (name, kind, samples)) in files.iter().enumerate() {
        disk.put(&format!("rooms/{name}"), wave(vec![samples.clone()]));
        send(&mut app, Command::Prove(ProveChoice::Take(None, format!("rooms/{name}").into())));
        let one = Listed { kind: *kind, ..listed(&app)[number].clone() };
        send(&mut app, Command::Prove(ProveChoice::Change(number, Box::new(one))));
    }
    wait_read(&mut app);
    (disk, app)
}

/// Compares, with materials fitted or not, and waits for the end of it.
#[track_caller]
fn compare(app: &mut App, fits: bool) {
    // What the page says of text and list is made good when it is begun.
    let asked = ProveAsked { listed: Vec::new(), waves: None, fits: fits.then(|| "".into()) };
    send(app, Command::Begin(Errand::Prove(asked)));
    wait(app, |results| results.status.errand.is_none());
}

fn said(app: &App) -> &str {
    view(app).notice.as_deref().unwrap_or_default()
}

/// From two takes to the verdict, and to files that the command line writes.
#[test]
fn keeps_the_way_from_two_takes_to_a_verdict() {
    let [after, before] = spoken();
    let own = heard(&read(&taking(TAKEN[0]))).0;
    let (disk, mut app) = box_with(TAKEN[0], &[("voice.wav", Kind::Voice, after), ("clap.wav", Kind::Response, own)]);
    // By itself it says nothing, and that is known before anything is begun.
    compare(&mut app, false);
    assert!(results(&app).proof.is_none() && said(&app).starts_with("Nothing was compared"), "{}", said(&app));
    disk.put("rooms/bare.wav", wave(vec![before]));
    send(&mut app, Command::Prove(ProveChoice::Take(Some(0), "rooms/bare.wav".into())));
    wait_read(&mut app);
    compare(&mut app, false);
    let proven = results(&app).proof.clone().unwrap_or_else(|| panic!("{:?}", results(&app).faults));
    let voices = proven.voices.as_ref().unwrap();
    let take = listed(&app)[0].voice(&proven.scene).unwrap();
    let asked = study::prove_voices(&roomwright::progress::Progress::new(), &proven.scene, &[take]).unwrap();
    assert_eq!((&voices.proof, &voices.heard), (&asked.0, &asked.1), "as the front door answers");
    assert!(matches!((proven.of(0), proven.of(1), proven.of(2)), (Some(Front::Voice(_)), Some(Front::Recording(_)), None)));
    let [before, now] = [proven.proof.as_ref().unwrap().verdict.len(), proven.verdict().len()];
    assert_eq!(now, before + voices.proof.verdict.len());
    assert!(proven.verdict()[before].starts_with("The voice is clearer after the work"), "{:?}", proven.verdict());
    // Files, all of them or none.
    *disk.full.lock().unwrap() = true;
    let held = disk.names();
    send(&mut app, Command::Prove(ProveChoice::WriteVoices));
    assert!(disk.names() == held && said(&app).contains("the disk is full"), "{}", said(&app));
    *disk.full.lock().unwrap() = false;
    send(&mut app, Command::Prove(ProveChoice::WriteVoices));
    let files = voice_files(&proven.scene, &voices.proof, &voices.heard).unwrap();
    assert_eq!(said(&app), format!("Wrote {} files into {FOLDER}.", files.len()));
    for name in ["voice.html", "voice.json", "voice-before.wav", "voice-after.wav", "voice-turns.wav"] {
        let bytes = &files.iter().find(|(own, _)| own == name).unwrap_or_else(|| panic!("{name}")).1;
        assert_eq!(&disk.read(format!("{FOLDER}/{name}").as_ref(), u64::MAX).unwrap(), bytes, "{name}");
    }
    // What it wrote is no take: it would be replaced.
    let held = disk.names();
    let mut again = (*proven).clone();
    again.listed[0].file.path = format!("{FOLDER}/voice-after.wav").into();
    app.world_mut().resource_mut::<Results>().proof = Some(Arc::new(again));
    send(&mut app, Command::Prove(ProveChoice::WriteVoices));
    assert!(disk.names() == held && said(&app).contains("voice-after.wav is a take and would be replaced"), "{}", said(&app));
}

/// What is wrong with either take stands at its file, and what was answered before stays.
#[test]
fn keeps_what_is_wrong_with_a_take_at_its_file() {
    let second = vec![0.1; 48_000];
    let (disk, mut app) = box_with(TAKEN[0], &[("short.wav", Kind::Voice, second)]);
    disk.put("rooms/silent.wav", wave(vec![vec![0.0; 48_000]]));
    send(&mut app, Command::Prove(ProveChoice::Take(Some(0), "rooms/silent.wav".into())));
    wait_read(&mut app);
    compare(&mut app, false);
    let faults = &results(&app).faults;
    let told: Vec<(bool, &str)> = faults.iter().map(|fault| (fault.is_before, fault.why.as_str())).collect();
    assert!(told.len() == 2 && faults.iter().all(|fault| fault.listed == listed(&app)[0]), "{told:?}");
    assert!(
        !told[0].0 && told[0].1.contains("read aloud for 20 s at least") && told[1].0 && told[1].1.starts_with("The recording is silent"),
        "{told:?}"
    );
    // Decays are what materials are fitted to.
    compare(&mut app, true);
    assert!(said(&app).contains("which a voice does not tell"), "{}", said(&app));
}

/// From a recording to fitted materials, the scene with them beside the page, and that scene on screen.
#[test]
fn keeps_the_way_from_a_recording_to_fitted_materials() {
    let file = format!("{FOLDER}/fitted.toml");
    let (disk, mut app) = box_with(WRITTEN, &[("after.wav", Kind::Response, heard(&read(&taking(TAKEN[0]))).0)]);
    send(&mut app, Command::Prove(ProveChoice::WriteFit));
    assert!(said(&app).starts_with("Nothing was written") && disk.text(&file).is_none(), "{}", said(&app));
    compare(&mut app, false);
    assert!(results(&app).proof.as_ref().is_some_and(|proven| proven.proof.as_ref().unwrap().fit.is_none()));
    send(&mut app, Command::Prove(ProveChoice::WriteFit));
    assert!(said(&app).contains("no material was told") && disk.text(&file).is_none(), "{}", said(&app));
    compare(&mut app, true);
    let proven = results(&app).proof.clone().unwrap();
    let text = taking(WRITTEN);
    let recording = listed(&app)[0].recording(&proven.scene).unwrap();
    let asked = study::prove_and_fit(&roomwright::progress::Progress::new(), (&text, &proven.scene), &[recording], None).unwrap();
    assert_eq!((proven.proof.as_ref(), &proven.variant), (Some(&asked.proof), &asked.variant), "as the front door answers");
    let variant = proven.variant.clone().unwrap();
    // A plan of an earlier fit goes with it, and what somebody made of the earlier scene stays.
    files::write_all(&*disk, format!("{FOLDER}/fitted").as_ref(), "place", BOX.as_ref(), &[("plan.html".into(), b"old".into())]).unwrap();
    send(&mut app, Command::Prove(ProveChoice::WriteFit));
    let files = prove_files(&proven.scene, &asked.proof, Some(&variant));
    let written = format!("Wrote {} files into {FOLDER}. The plan in {FOLDER}/fitted was of another fit and is gone.", files.len());
    assert!(said(&app) == written && disk.text(&file).as_ref() == Some(&variant.text), "{}", said(&app));
    assert!(disk.text(&format!("{FOLDER}/fitted/plan.html")).is_none() && disk.text(BOX).as_ref() == Some(&text));
    assert_eq!(view(&app).proving.fitted.as_deref(), Some(Path::new(&file)));
    let edited = format!("{}# mine\n", variant.text);
    disk.put(&file, &edited);
    send(&mut app, Command::Prove(ProveChoice::WriteFit));
    let second = format!("{FOLDER}/fitted-2.toml");
    assert!(
        disk.text(&file) == Some(edited)
            && disk.text(&second).as_ref() == Some(&variant.text)
            && said(&app).contains("was changed by you and stays")
    );
    assert_eq!(view(&app).proving.fitted.as_deref(), Some(Path::new(&second)));
    // Of another scene nothing is written.
    let held = disk.names();
    send(&mut app, Command::MoveSource { name: "left".into(), position: DVec3::new(0.8, 0.5, 0.4) });
    send(&mut app, Command::Prove(ProveChoice::WriteFit));
    // The change itself is kept from a crash.
    let copy = "rooms/.box.toml.unsaved".to_owned();
    assert!(
        disk.names().iter().all(|name| held.contains(name) || *name == copy) && said(&app).contains("This is of the scene as it was"),
        "{}",
        said(&app)
    );
    send(&mut app, Command::Undo);
    send(&mut app, Command::Open(second.clone().into()));
    assert!(document(&app).path() == Some(Path::new(&second)) && document(&app).scene().is_some_and(|scene| **scene == variant.scene));
}

/// A fit that is given up or refused leaves what was answered, and is not begun of another text than that on screen.
#[test]
fn keeps_the_answer_when_nothing_is_fitted() {
    let (_, mut app) = box_with(WRITTEN, &[("after.wav", Kind::Response, heard(&read(&taking(TAKEN[0]))).0)]);
    compare(&mut app, false);
    let before = results(&app).proof.clone().unwrap();
    let asked = ProveAsked { listed: listed(&app).to_vec(), waves: None, fits: Some("".into()) };
    send(&mut app, Command::Begin(Errand::Prove(asked.clone())));
    let running = results(&app).status.errand.clone().unwrap();
    let Errand::Prove(ProveAsked { fits: Some(text), .. }) = &running.errand else { panic!("{running:?}") };
    assert_eq!((&**text, running.errand.doing()), (taking(WRITTEN).as_str(), "fitting materials"));
    send(&mut app, Command::StopErrand);
    assert!(results(&app).status.errand.is_none() && Arc::ptr_eq(results(&app).proof.as_ref().unwrap(), &before));
    let scene = document(&app).scene().unwrap().clone();
    let another = taking(WRITTEN).replace("use = \"mixing\"", "use = \"fishing\"");
    let broken = ProveAsked { fits: Some(another.into()), ..asked };
    let answered = broken.run(&roomwright::progress::Progress::new(), &scene, &*Memory::holding("rooms/after.wav", "")).unwrap();
    assert!(answered.answer.is_err_and(|refusal| refusal.fit.is_none() && refusal.faults.len() == 1), "the file is read anew");
    let refusal = broken.answer(&roomwright::progress::Progress::new(), &scene).unwrap().unwrap_err();
    assert!(refusal.faults.is_empty() && refusal.fit.is_some_and(|why| why.ends_with('.')));
}
