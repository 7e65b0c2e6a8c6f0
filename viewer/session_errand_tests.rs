//! Errands: the plan, the cloud against its height, places for the set; begun, given up, taken into the text.

use roomwright::study::{CloudAsked, PositionsAsked};

use super::*;
use crate::errand::Running;

/// Few rays, and nothing hung.
fn small() -> String {
    include_str!("../scenes/attic-voice-room.toml").replace("[air]", "[settings]\nrays = 200\nrounds = 1\npatch = 0.3\n\n[air]")
}

fn three_heights() -> Errand {
    Errand::Cloud(CloudAsked { heights: 3, ..CloudAsked::default() })
}

#[test]
fn keeps_the_plan_in_the_text_when_it_is_taken() {
    let text = attic().replace("rays = 2000", "rays = 400");
    let mut app = opened(&Memory::holding(FILE, &text));
    send(&mut app, Command::TakePlan);
    assert!(view(&app).notice.as_ref().unwrap().contains("no plan"));
    send(&mut app, Command::Begin(Errand::Plan(None)));
    send(&mut app, Command::StopErrand);
    assert!(results(&app).status.errand.is_none() && results(&app).plan.is_none());
    send(&mut app, Command::Begin(Errand::Plan(None)));
    assert!(results(&app).status.errand.is_some());
    wait(&mut app, |results| results.plan.is_some());
    let placed = results(&app).plan.as_ref().unwrap().value.plan.placed.len();
    assert!(placed > 0);
    send(&mut app, Command::TakePlan);
    assert_eq!(document(&app).scene().unwrap().panels.len(), 2 + placed);
    // The plan was for the scene before.
    assert!(!results(&app).plan.as_ref().is_some_and(|plan| results(&app).is_fresh(plan)));
    send(&mut app, Command::Undo);
    assert_eq!(document(&app).text(), text);
}

/// Somebody has waited long enough: the best that was found is judged like any plan.
#[test]
fn keeps_the_best_so_far_when_the_search_is_ended() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    send(&mut app, Command::EndErrand);
    assert!(results(&app).status.errand.is_none(), "there is nothing to end");
    send(&mut app, Command::Begin(Errand::Plan(None)));
    wait(&mut app, |results| results.status.errand.as_ref().is_none_or(|running| running.can_end));
    assert!(results(&app).status.errand.is_some(), "the search offers what it has");
    send(&mut app, Command::EndErrand);
    assert!(!results(&app).status.errand.as_ref().is_some_and(|running| running.can_end), "it is asked once");
    wait(&mut app, |results| results.plan.is_some());
    let plan = &results(&app).plan.as_ref().unwrap().value.plan;
    assert!(plan.stopped_because.contains("stopped by hand") && !plan.placed.is_empty() && !plan.layouts.is_empty());
}

#[test]
fn keeps_the_cloud_in_the_text_when_it_is_hung() {
    let text = small();
    let mut app = opened(&Memory::holding(FILE, &text));
    send(&mut app, Command::TakeCloud(1));
    assert!(view(&app).notice.as_ref().unwrap().contains("No cloud was tried"));
    send(&mut app, Command::Begin(three_heights()));
    assert!(matches!(results(&app).status.errand, Some(Running { errand: Errand::Cloud(_), .. })));
    wait(&mut app, |results| results.cloud.is_some());
    let of = results(&app).cloud.clone().unwrap();
    let study = of.found.as_ref().unwrap();
    let asked = scene::with_cloud(&text, None, &study.panel().unwrap()).unwrap();
    send(&mut app, Command::TakeCloud(study.best));
    assert_eq!(document(&app).text(), asked, "as the command line writes it");
    assert_eq!(view(&app).chosen, Some(Thing::Panel(0)));
    assert!(!results(&app).shows(&of.scene), "the cloud hangs now, which it did not when it was tried");
    send(&mut app, Command::TakeCloud(study.best));
    assert_eq!(document(&app).text(), asked, "no second one is hung by what was found before");
    // One step back, and what was found holds again.
    send(&mut app, Command::Undo);
    assert!(document(&app).text() == text && results(&app).shows(&of.scene));
    let other = study.heights.iter().find(|one| one.number != study.best).unwrap();
    send(&mut app, Command::TakeCloud(other.number));
    assert_eq!(document(&app).scene().unwrap().panels, [study.hung(other)]);
    // What hangs is taken elsewhere, not hung twice.
    send(&mut app, Command::Begin(three_heights()));
    wait(&mut app, |results| results.cloud.as_ref().is_some_and(|cloud| results.shows(&cloud.scene)));
    let of = results(&app).cloud.clone().unwrap();
    let study = of.found.as_ref().unwrap();
    assert_eq!(study.hung_panel_number, Some(1));
    send(&mut app, Command::TakeCloud(study.best));
    assert_eq!(document(&app).scene().unwrap().panels, [study.panel().unwrap()]);
}

/// Seat, loudspeakers and what stands among them as one step.
#[test]
fn keeps_the_set_moved_as_one_step() {
    let text = small();
    let mut app = opened(&Memory::holding(FILE, &text));
    send(&mut app, Command::TakePlace(1));
    assert!(view(&app).notice.as_ref().unwrap().contains("No place was found"));
    let asked = PositionsAsked { step_m: Some(0.5), ..PositionsAsked::default() };
    send(&mut app, Command::Begin(Errand::Positions(asked.clone(), None)));
    wait(&mut app, |results| results.positions.is_some());
    let of = results(&app).positions.clone().unwrap();
    let (_, study) = of.found.as_ref().unwrap();
    for one in &study.finalists {
        send(&mut app, Command::TakePlace(one.number));
        let moved = study.moved_to(&of.scene, &asked, one).unwrap();
        assert_eq!(document(&app).text(), scene::with_positions(&text, &moved).unwrap(), "as the command line writes it");
        let now = document(&app).scene().unwrap();
        for part in &one.standing {
            let at = match part.kind.as_str() {
                "block" => now.blocks.iter().find(|block| block.name == part.name).unwrap().center.extend(part.point_m[2]),
                "seat" => now.seats.iter().find(|seat| seat.name == part.name).unwrap().ear,
                "microphone" => now.microphones.iter().find(|other| other.name == part.name).unwrap().position,
                _ => now.sources.iter().find(|source| source.name == part.name).unwrap().position,
            };
            assert!(at.distance(part.point_m.into()) < 1e-6, "{part:?}: {at}");
        }
        send(&mut app, Command::Undo);
        assert!(document(&app).text() == text && results(&app).shows(&of.scene));
    }
    assert!(!study.finalists.is_empty() && !document(&app).can_undo_redo().0);
}

#[test]
fn keeps_errands_given_up() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    let running = |app: &App| results(app).status.errand.as_ref().map(|running| running.errand.clone());
    // By whoever asked.
    send(&mut app, Command::Begin(three_heights()));
    assert_eq!(running(&app), Some(three_heights()));
    send(&mut app, Command::StopErrand);
    assert!(running(&app).is_none());
    // By an edit.
    send(&mut app, Command::Begin(Errand::Positions(PositionsAsked::default(), None)));
    assert!(running(&app).is_some());
    send(&mut app, Command::SetStockCount { kind: "cloud".into(), count: 1 });
    assert!(running(&app).is_none());
    // By another errand.
    send(&mut app, Command::Begin(Errand::Positions(PositionsAsked::default(), None)));
    send(&mut app, Command::Begin(Errand::Plan(None)));
    assert_eq!(running(&app), Some(Errand::Plan(None)));
    send(&mut app, Command::StopErrand);
    for _ in 0..20 {
        app.update();
        std::thread::sleep(Duration::from_millis(20));
    }
    assert!(results(&app).cloud.is_none() && results(&app).positions.is_none() && results(&app).plan.is_none());
}

/// Why nothing can be tried is told, in words without keys.
#[test]
fn keeps_what_is_in_the_way_of_an_errand() {
    let text = small().replace("kind = \"cloud\"", "kind = \"panel\"");
    let mut app = opened(&Memory::holding(FILE, &text));
    assert!(document(&app).scene().is_some(), "{:?}", document(&app).mistakes());
    send(&mut app, Command::Begin(three_heights()));
    wait(&mut app, |results| results.cloud.is_some());
    let said = results(&app).cloud.as_ref().unwrap().found.clone().unwrap_err();
    assert_eq!(said, "there is no cloud to hang");
}
