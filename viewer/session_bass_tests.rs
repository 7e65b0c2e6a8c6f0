//! The low end: studied as an errand, kept with its scene, looked at by frequency, mode, height and moment.

use roomwright::findings::{Basis, Findings};
use roomwright::hanging::from_panels;
use roomwright::progress::Progress;
use roomwright::scene::{Scene, StockKind};
use roomwright::study::{BassAsked, BassRun, MEMORY, PositionsAsked};

use super::*;
use crate::box_tests::{COARSE, SMALL};
use crate::errand::OfScene;
use crate::low_end::{Look, LowEndChoice, PERIOD_S, Sounds, response};

/// Coarse, and without other walls.
const QUICK: BassAsked = BassAsked { top_hz: 80.0, memory: MEMORY, others: 0, beside_bare: true };

/// A box with two loudspeakers and a seat, few rays.
fn mixing() -> String {
    let size = RoomSize::read("4x3x2.5m").unwrap();
    let text = scene::starter("Box", &size);
    format!("{}\n[settings]\nrays = 200\nrounds = 1\n", text.trim_end())
}

fn look(app: &mut App, choice: LowEndChoice) {
    send(app, Command::LowEnd(choice));
}

/// The box in the step hear, its low end studied.
fn studied() -> App {
    let mut app = opened(&Memory::holding(FILE, &mixing()));
    assert!(document(&app).scene().is_some(), "{:?}", document(&app).mistakes());
    send(&mut app, Command::ChooseStep(Step::Hear));
    send(&mut app, Command::Begin(Errand::LowEnd(QUICK)));
    assert!(results(&app).status.errand.as_ref().is_some_and(|running| running.errand == Errand::LowEnd(QUICK)));
    wait(&mut app, |results| results.low_end.is_some());
    app
}

#[test]
fn keeps_the_low_end_with_its_scene() {
    let mut app = studied();
    let of = results(&app).low_end.clone().unwrap();
    let scene = document(&app).scene().unwrap().clone();
    let BassRun { study, fields, .. } = of.found.as_ref().unwrap();
    assert_eq!(study, &study::bass(&Progress::new(), &scene, &QUICK).unwrap(), "as the command line finds it");
    assert!(study.stands.modes.len() == fields.modes_hz.len() && !study.stands.modes.is_empty());
    assert!(results(&app).shows(&of.scene) && results(&app).slice.is_none(), "nobody looks at the field yet");
    look(&mut app, LowEndChoice::Frequency(43.0));
    assert!(results(&app).slice.is_some());
    // An edit: the figures stay with their scene, the field of another room is not drawn.
    let name = scene.sources[0].name.clone();
    let position = scene.sources[0].position + DVec3::new(0.1, 0.0, 0.0);
    send(&mut app, Command::MoveSource { name, position });
    assert!(results(&app).slice.is_none() && !results(&app).shows(&of.scene) && results(&app).low_end.is_some());
    send(&mut app, Command::Undo);
    assert!(results(&app).slice.is_some() && results(&app).shows(&of.scene));
    send(&mut app, Command::ChooseStep(Step::Place));
    assert!(results(&app).slice.is_none(), "it belongs to what is heard");
}

#[test]
fn keeps_the_field_of_what_is_in_front() {
    let mut app = studied();
    let of = results(&app).low_end.clone().unwrap();
    let BassRun { study, fields, .. } = of.found.as_ref().unwrap();
    let room = results(&app).room.as_ref().unwrap().value.clone();
    look(&mut app, LowEndChoice::Frequency(43.0));
    let slice = results(&app).slice.clone().unwrap();
    assert!(view(&app).low_end.field == Some(Look::Level) && slice.sounds == Sounds::Sources(vec![0, 1], 43.0));
    let ear = room.receivers[0].position.z;
    assert_eq!(*slice.picture, fields.slice(&room, ear).sounding(fields, &[0, 1], 43.0));
    // One of them alone; then the other.
    look(&mut app, LowEndChoice::Together(false));
    assert_eq!(results(&app).slice.as_ref().unwrap().sounds, Sounds::Sources(vec![0], 43.0));
    send(&mut app, Command::ChooseSource(1));
    let slice = results(&app).slice.clone().unwrap();
    assert_eq!(slice.sounds, Sounds::Sources(vec![1], 43.0));
    let index = response(study, &of.scene, view(&app)).unwrap();
    assert_eq!(study.stands.responses[index].sources, [of.scene.sources[1].name.clone()]);
    // Another height: other cells.
    look(&mut app, LowEndChoice::Height(Some(0.7)));
    let low = results(&app).slice.clone().unwrap();
    assert_eq!((low.cells.height_m, slice.cells.height_m), (0.7, ear));
    look(&mut app, LowEndChoice::Height(None));
    assert_eq!(results(&app).slice.as_ref().unwrap().cells.height_m, slice.cells.height_m);
    // A mode draws its shape; a frequency lets it go; one that is not there is none.
    look(&mut app, LowEndChoice::Mode(Some(0)));
    let slice = results(&app).slice.clone().unwrap();
    assert!(slice.sounds == Sounds::Mode(0) && view(&app).low_end.field == Some(Look::Pressure));
    assert_eq!(*slice.picture, slice.cells.mode(fields, 0));
    assert!((slice.marks(Look::Pressure).high, slice.heading().1) == (1.0, fields.modes_hz[0]));
    look(&mut app, LowEndChoice::Mode(Some(9999)));
    assert_eq!(results(&app).slice.as_ref().unwrap().sounds, Sounds::Sources(vec![1], 43.0));
    look(&mut app, LowEndChoice::Frequency(70.0));
    assert!(view(&app).low_end.mode.is_none() && results(&app).slice.as_ref().unwrap().sounds == Sounds::Sources(vec![1], 70.0));
    look(&mut app, LowEndChoice::Frequency(f64::NAN));
    assert_eq!(view(&app).low_end.frequency_hz, 70.0);
    look(&mut app, LowEndChoice::Frequency(9000.0));
    assert_eq!(results(&app).slice.as_ref().unwrap().sounds, Sounds::Sources(vec![1], 80.0), "no farther than was studied");
    look(&mut app, LowEndChoice::Field(None));
    assert!(results(&app).slice.is_none());
}

/// By the engine's clock, which goes on by a quarter of a second a frame at most: half a period turns every sign.
#[test]
fn keeps_the_pace_of_a_moving_pressure() {
    let mut app = studied();
    look(&mut app, LowEndChoice::Frequency(43.0));
    let at = |app: &App| view(app).low_end.periods;
    assert_eq!(at(&app), 0.0);
    look(&mut app, LowEndChoice::Play(true));
    assert!((at(&app) - 0.25 / PERIOD_S).abs() < 1e-12 && view(&app).low_end.field == Some(Look::Pressure));
    let half = (2.0 * PERIOD_S) as usize;
    (1..half).for_each(|_| app.update());
    assert!((at(&app) - 0.5).abs() < 1e-12);
    let slice = results(&app).slice.clone().unwrap();
    let [begun, now] = [0.0, at(&app)].map(|periods| slice.values(Look::Pressure, periods));
    let turned = begun.iter().flatten().zip(now.iter().flatten()).all(|(one, other)| (one + other).abs() < 1e-9);
    assert!(turned && begun.iter().flatten().any(|value| value.abs() > 0.1));
    (0..half).for_each(|_| app.update());
    assert!(at(&app) < 1e-9, "a whole period is none");
    look(&mut app, LowEndChoice::Play(false));
    let held = at(&app);
    app.update();
    assert_eq!(at(&app), held);
    // A level does not move.
    look(&mut app, LowEndChoice::Play(true));
    look(&mut app, LowEndChoice::Field(Some(Look::Level)));
    assert!(!view(&app).low_end.playing);
}

#[test]
fn keeps_what_it_takes_before_it_is_run() {
    let mut app = opened(&Memory::holding(FILE, &mixing()));
    assert!(results(&app).effort.is_none());
    send(&mut app, Command::ChooseStep(Step::Hear));
    let scene = document(&app).scene().unwrap().clone();
    let effort = |app: &App| results(app).effort.clone().unwrap().found;
    assert_eq!(effort(&app), Ok(study::bass_effort(&scene, &BassAsked::default()).unwrap()));
    look(&mut app, LowEndChoice::Ask(BassAsked { top_hz: 9.0, ..QUICK }));
    assert_eq!(effort(&app), Ok(study::bass_effort(&scene, &QUICK).unwrap()), "no lower than can be asked");
    // Too dear: said in words that no command line is needed for, before and after.
    look(&mut app, LowEndChoice::Ask(BassAsked { memory: 1000, ..QUICK }));
    let why = effort(&app).unwrap_err();
    assert!(why.contains("GB are allowed") && why.contains("more with \"memory\"") && !why.contains("--"), "{why}");
    let dear = view(&app).low_end.asked;
    send(&mut app, Command::Begin(Errand::LowEnd(dear)));
    wait(&mut app, |results| results.low_end.is_some());
    assert_eq!(results(&app).low_end.as_ref().unwrap().found.as_ref().unwrap_err(), &why);
    // Given up by whoever asked, and by an edit.
    let running = |app: &App| results(app).status.errand.is_some();
    for end in [Command::StopErrand, Command::SetActivity(Activity::Voice)] {
        send(&mut app, Command::Begin(Errand::LowEnd(BassAsked::default())));
        assert!(running(&app));
        send(&mut app, end);
        assert!(!running(&app));
    }
}

/// Plan and places go through the same waves as the study of the low end, and by rays alone where nobody wants them.
#[test]
fn keeps_plan_and_places_by_the_waves_of_the_low_end() {
    let mut app = opened(&Memory::holding(FILE, SMALL));
    send(&mut app, Command::ChooseStep(Step::Place));
    let scene = document(&app).scene().unwrap().clone();
    look(&mut app, LowEndChoice::Ask(COARSE));
    assert_eq!(view(&app).low_end.waves(), Some(COARSE));
    let effort = results(&app).place_effort.clone().unwrap();
    let [plan, positions] = [effort.plan.unwrap(), effort.positions.unwrap()];
    assert_eq!(plan, study::place_effort(&scene, &COARSE).unwrap());
    assert_eq!(positions, study::positions_effort(&scene, &COARSE).unwrap());
    let planned = |app: &mut App, waves: Option<BassAsked>| {
        app.world_mut().resource_mut::<Results>().plan = None;
        send(app, Command::Begin(Errand::Plan(waves)));
        wait(app, |results| results.plan.is_some());
        results(app).plan.as_ref().unwrap().value.plan.clone()
    };
    let by_waves = planned(&mut app, Some(COARSE));
    assert_eq!(by_waves, study::place_with(&Progress::new(), &scene, Some(&COARSE)).unwrap().plan, "as the command line plans it");
    let told = by_waves.after.bass.as_ref().unwrap();
    assert!(by_waves.before.bass.is_some() && !by_waves.placed.is_empty() && !by_waves.bass_octaves.is_empty());
    // Both rules of thumb are run for the score, and the plan without each corner panel that there may be.
    let corners: usize = scene.stock.iter().filter(|kind| kind.kind == StockKind::Corner).map(|kind| kind.count as usize).sum();
    let runs = told.cost.runs + (2 + corners) * scene.sources.len();
    assert_eq!((plan.runs, plan.cells, plan.cell_m), (runs, told.cost.cells, told.cost.cell_m), "as it was told before");
    let asked = PositionsAsked { step_m: Some(0.5), ..PositionsAsked::default() };
    send(&mut app, Command::Begin(Errand::Positions(asked.clone(), Some(COARSE))));
    wait(&mut app, |results| results.positions.is_some());
    let (_, places) = results(&app).positions.as_ref().unwrap().found.clone().unwrap();
    assert_eq!(places, study::positions_with(&Progress::new(), &scene, &asked, Some(&COARSE)).unwrap());
    let bass = places.bass.as_ref().unwrap();
    assert!(bass.cell_m == positions.cell_m && bass.evenest.is_some() && places.present.bass.is_some());
    // Left out: nothing of the low end is told, and nothing of what it would take is kept up.
    look(&mut app, LowEndChoice::ByWaves(false));
    assert_eq!(view(&app).low_end.waves(), None);
    let by_rays = planned(&mut app, None);
    assert_eq!(by_rays, study::place(&Progress::new(), &scene).unwrap().plan);
    assert!(by_rays.after.bass.is_none() && by_rays.bass_octaves.is_empty());
}

/// What the lowest octave of the first pair rests on.
fn basis(findings: &Findings) -> Basis {
    findings.pairs[0].octaves[0].basis
}

/// Low octaves are those of waves while these are of the scene on screen, bare beside hung; after an edit they are a statistical reading again.
#[test]
fn keeps_live_octaves_by_waves_until_the_scene_is_another() {
    let on_wall = with_panels(&mixing(), &[Panel { kind: "wall panel".into(), place: place("north", 1.0) }]).unwrap();
    let mut app = opened(&Memory::holding(FILE, &on_wall));
    assert!(document(&app).scene().is_some(), "{:?}", document(&app).mistakes());
    let both = |app: &App| {
        let [now, bare] = [&results(app).findings, &results(app).bare].map(|known| known.clone().unwrap().value);
        [basis(&now), basis(&bare)]
    };
    wait(&mut app, is_done);
    assert_eq!(both(&app), [Basis::Statistical; 2]);
    let rays = results(&app).findings.as_ref().unwrap().rays;
    send(&mut app, Command::Begin(Errand::LowEnd(QUICK)));
    wait(&mut app, |results| results.low_end.is_some());
    wait(&mut app, is_done);
    assert!(results(&app).is_joined(false) && results(&app).is_joined(true));
    assert!(both(&app).iter().all(|basis| matches!(basis, Basis::Waves | Basis::Joined)), "{:?}", both(&app));
    // The figures are those of the front door, from the same rays.
    let of = results(&app).low_end().unwrap().clone();
    let scene = of.scene.clone();
    let traced = study::trace_for_trials(&Progress::new(), &scene, scene.settings.rays).unwrap();
    let hanging = from_panels(&scene, &traced.room, &scene.panels);
    let low = &of.found.as_ref().unwrap().low;
    let known = results(&app).findings.clone().unwrap();
    assert_eq!(known.rays, rays);
    assert_eq!(*known.value, study::study_with(&Progress::new(), &scene, (&traced, Some(low)), &hanging).unwrap());
    // A panel is moved: what was found is of an earlier state.
    send(&mut app, Command::MovePanel { panel: 0, place: place("north", 1.1) });
    assert!(results(&app).low_end().is_none() && !results(&app).is_joined(false));
    wait(&mut app, is_done);
    assert_eq!(both(&app), [Basis::Statistical; 2]);
    assert!(results(&app).joined.iter().all(Option::is_none));
    // Taken back, it holds again.
    send(&mut app, Command::Undo);
    wait(&mut app, is_done);
    assert!(both(&app).iter().all(|basis| matches!(basis, Basis::Waves | Basis::Joined)), "{:?}", both(&app));
}

/// Of the scene on screen findings with its low end in them are better than any number of rays without.
#[test]
fn keeps_findings_with_the_low_end_before_those_without() {
    let scene = Arc::new(scene::read(&mixing()).unwrap().0);
    let low_end = Arc::new(OfScene { scene: scene.clone(), found: Ok(study::waves(&Progress::new(), &scene, &QUICK).unwrap()) });
    let value = Arc::new(study_of(&scene));
    let report = |generation, rays, low_end: Option<&Arc<_>>| {
        Report::Findings(Known { generation: Generation(generation), rays, value: value.clone() }, low_end.cloned())
    };
    let mut results = Results::default();
    results.show(Generation(7), &scene);
    assert!(results.take(report(7, 800, None)) && results.has(None, None).findings == 800);
    results.low_end = Some(low_end.clone());
    assert_eq!(results.has(None, None).findings, 0, "they are to be joined");
    assert!(results.take(report(7, 200, Some(&low_end))) && results.has(None, None).findings == 200);
    assert!(!results.take(report(7, 1600, None)) && results.take(report(7, 400, Some(&low_end))));
    // The next scene has none yet.
    let other = Arc::new(Scene { activity: Activity::Rehearsal, ..(*scene).clone() });
    results.show(Generation(8), &other);
    assert!(results.low_end().is_none() && results.take(report(8, 100, None)) && results.is_joined(false));
}
