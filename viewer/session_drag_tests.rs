//! Drags on a bare application: one step of undo, refusals, results that follow; and hot spots that others take the place of.

use super::*;
use crate::results::Status;

#[test]
fn keeps_a_drag_one_step_and_a_refused_place_out() {
    let text = attic();
    let mut app = opened(&Memory::holding(FILE, &text));
    send(&mut app, Command::BeginDrag);
    for step in 1..8 {
        send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.0 + 0.05 * f64::from(step)) });
    }
    // Beyond the end of the wall: it stays where it was last allowed, and the reason is shown.
    send(&mut app, Command::MovePanel { panel: 1, place: place("north", 4.0) });
    let PanelPlace::Surface { left, .. } = document(&app).scene().unwrap().panels[1].place else { panic!() };
    assert!((left - 2.35).abs() < 1e-9);
    let refused = view(&app).refused.clone().unwrap();
    assert_eq!(refused.command, Command::MovePanel { panel: 1, place: place("north", 4.0) });
    assert!(refused.reason.contains("wall panel"), "{}", refused.reason);
    send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.4) });
    assert_eq!(view(&app).refused, None);
    send(&mut app, Command::EndDrag);
    send(&mut app, Command::Undo);
    assert_eq!(document(&app).text(), text);
    // Nor is a panel hung that is not in stock.
    send(&mut app, Command::SetStockCount { kind: "wall panel".into(), count: 0 });
    let none_left = document(&app).text().to_owned();
    send(&mut app, Command::AddPanel(panel("north", 3.0)));
    assert_eq!(document(&app).text(), none_left);
    assert_eq!(view(&app).refused.as_ref().unwrap().reason, "there is no \"wall panel\" left in stock");
}

#[test]
fn keeps_a_copy_within_a_long_drag() {
    let disk = Memory::holding(FILE, &attic());
    let mut app = opened(&disk);
    send(&mut app, Command::BeginDrag);
    for step in 1..6 {
        send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.0 + 0.01 * f64::from(step)) });
    }
    assert!(disk.text(COPY).is_some_and(|copy| copy != attic()), "five seconds of dragging");
}

#[test]
fn keeps_up_with_a_dragged_panel_on_the_stored_paths() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    wait(&mut app, is_done);
    let bare = results(&app).bare.clone().unwrap();
    let mut last = Generation::default();
    send(&mut app, Command::BeginDrag);
    for step in 1..20 {
        send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.0 + 0.02 * f64::from(step)) });
        let early = results(&app).early.as_ref().unwrap().generation;
        assert!(early >= last, "an older one took the place of a newer one");
        last = early;
    }
    send(&mut app, Command::EndDrag);
    wait(&mut app, |results| results.early.as_ref().is_some_and(|known| results.is_fresh(known)));
    assert_eq!(results(&app).early.as_ref().unwrap().rays, 2000, "no coarse trace was needed");
    // What it takes off where it is now comes with it, before the earnings of all.
    wait(&mut app, |results| results.earning.as_ref().is_some_and(|known| results.is_fresh(known)));
    let moved = results(&app).earning.clone().unwrap();
    let own = moved.value.1.unwrap();
    assert_eq!((moved.value.0, results(&app).earning_of(1).1), (1, true));
    wait(&mut app, is_done);
    let known = results(&app);
    let settled = known.earnings.as_ref().unwrap().value[1].unwrap();
    assert!((settled.value - own.value).abs() < 1e-4 && known.earning_of(1) == (Some(settled), true), "{settled:?} {own:?}");
    assert!(Arc::ptr_eq(&bare.value, &known.bare.as_ref().unwrap().value), "the bare room is the same room");
    // The same as a fresh start from that text.
    let fresh = study::trace_for_trials(&roomwright::progress::Progress::new(), known.scene.as_ref().unwrap(), 2000).unwrap();
    let mut live = study::Live::new(&roomwright::progress::Progress::new(), &fresh).unwrap();
    let early = live.early(&roomwright::progress::Progress::new(), known.scene.as_ref().unwrap()).unwrap();
    let shown = &known.early.as_ref().unwrap().value;
    assert!((early.level_db.value - shown.level_db.value).abs() < 1e-4);
    assert_eq!(early.pairs[0].reflections, shown.pairs[0].reflections);
}

#[test]
fn keeps_the_last_of_many_edits_that_need_a_trace() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    let mut seen = Vec::new();
    for step in 0..15 {
        let position = DVec3::new(1.75 - 0.01 * f64::from(step), 4.45, 1.2);
        send(&mut app, Command::MoveSource { name: "left".into(), position });
        seen.extend(results(&app).findings.as_ref().map(|known| known.generation));
        std::thread::sleep(Duration::from_millis(3));
    }
    wait(&mut app, is_done);
    assert!(seen.is_sorted());
    let known = results(&app);
    assert!(known.is_fresh(known.findings.as_ref().unwrap()) && known.is_fresh(known.early.as_ref().unwrap()));
    let distance = known.findings.as_ref().unwrap().value.pairs[0].distance_m;
    let scene = known.scene.as_ref().unwrap();
    assert!((scene.sources[0].position.x - 1.61).abs() < 1e-9);
    assert!((distance - scene.sources[0].position.distance(scene.seats[0].ear)).abs() < 1e-9, "findings of where it stands now");
}

#[test]
fn keeps_what_was_before_a_drag_that_is_taken_back() {
    let text = attic();
    let mut app = opened(&Memory::holding(FILE, &text));
    send(&mut app, Command::BeginDrag);
    send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.3) });
    send(&mut app, Command::MovePanel { panel: 1, place: place("north", 4.0) });
    assert!(view(&app).refused.is_some() && document(&app).is_dragged());
    send(&mut app, Command::CancelDrag);
    assert_eq!(
        (document(&app).text(), document(&app).is_dragged(), document(&app).can_undo_redo()),
        (text.as_str(), false, (false, false))
    );
    assert!(view(&app).refused.is_none() && !document(&app).is_unsaved());
    let PanelPlace::Surface { left, .. } = results(&app).scene.as_ref().unwrap().panels[1].place else { panic!() };
    assert!((left - 2.0).abs() < 1e-9, "it is drawn where it was");
    // Whoever drags has moved on before knowing: neither that place nor a refusal is left.
    for left in [2.4, 4.0] {
        send(&mut app, Command::BeginDrag);
        send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.3) });
        app.world_mut().write_message(Command::CancelDrag);
        send(&mut app, Command::MovePanel { panel: 1, place: place("north", left) });
        assert_eq!((document(&app).text(), document(&app).can_undo_redo()), (text.as_str(), (false, false)));
        assert!(view(&app).refused.is_none());
    }
    // A panel that was hung within the drag goes with it.
    send(&mut app, Command::BeginDrag);
    send(&mut app, Command::AddPanel(panel("north", 3.0)));
    assert_eq!(view(&app).chosen, Some(Thing::Panel(2)));
    send(&mut app, Command::CancelDrag);
    assert_eq!((document(&app).text(), view(&app).chosen), (text.as_str(), None));
}

#[test]
fn keeps_a_moved_opening_and_clearance_within_the_rules() {
    let text = attic();
    let mut app = opened(&Memory::holding(FILE, &text));
    let slide = |left: f64| Command::MoveOpening { name: "door".into(), low: DVec2::new(left, 0.0) };
    send(&mut app, slide(0.5));
    assert!((document(&app).scene().unwrap().openings[1].place.left - 0.5).abs() < 1e-9);
    let good = document(&app).text().to_owned();
    // The wall is 4.4 m long and the door 0.8 m wide.
    send(&mut app, slide(3.7));
    assert_eq!(document(&app).text(), good);
    assert_eq!(view(&app).refused.as_ref().unwrap().command, slide(3.7));
    // Nothing hangs where something must stay clear, whichever of the two moved there.
    let place = Rectangle { left: 1.0, bottom: 0.8, width: 0.3, height: 0.3 };
    let region = ClearanceRegion::Surface { surface: "east".into(), place };
    send(&mut app, Command::MoveClearance { name: "socket".into(), region });
    assert_eq!(document(&app).text(), good);
    let reason = &view(&app).refused.as_ref().unwrap().reason;
    assert!(reason.contains("\"socket\" must stay clear"), "{reason}");
}

/// The early window of what is dragged comes while it is dragged, at whatever pace, and never of an earlier place after a later one.
#[test]
fn keeps_the_early_window_coming_within_a_drag() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    wait(&mut app, is_done);
    let begun = results(&app).generation;
    send(&mut app, Command::BeginDrag);
    let mut seen: Vec<Generation> = Vec::new();
    for step in 0..4000 {
        let left = 2.0 + 0.01 * f64::from(step % 60);
        send(&mut app, Command::MovePanel { panel: 1, place: place("north", left) });
        let early = results(&app).early.as_ref().unwrap();
        if early.generation > begun && seen.last() != Some(&early.generation) {
            seen.push(early.generation);
        }
        if seen.len() == 5 {
            break;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    assert!(document(&app).is_dragged() && seen.len() == 5, "five refreshed within the drag: {seen:?}");
    assert!(seen.is_sorted());
}

/// Loudspeakers dragged fast: no result of an earlier scene takes the place of a later one, and what is coarse becomes fine.
#[test]
fn keeps_the_newest_of_everything_while_a_loudspeaker_is_dragged() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    wait(&mut app, is_done);
    let of = |results: &Results| {
        [
            results.early.as_ref().map(|known| (known.generation, known.rays)),
            results.findings.as_ref().map(|known| (known.generation, known.rays)),
            results.bare.as_ref().map(|known| (known.generation, known.rays)),
            results.hot_spots.as_ref().map(|known| (known.generation, known.rays)),
            results.maps.values().next().map(|known| (known.generation, known.rays)),
        ]
    };
    let mut last = of(results(&app));
    let mut check = |results: &Results| {
        let now = of(results);
        for (was, is) in last.iter().zip(&now) {
            // What speaks of another room goes; it never comes back older.
            assert!(is.is_none() || is >= was, "{was:?} -> {is:?}");
        }
        // Where one has gone, what was known last still counts.
        last = std::array::from_fn(|index| now[index].or(last[index]));
    };
    send(&mut app, Command::BeginDrag);
    for step in 1..40 {
        let position = DVec3::new(1.75 - 0.01 * f64::from(step % 20), 4.45, 1.2);
        send(&mut app, Command::MoveSource { name: "left".into(), position });
        check(results(&app));
        std::thread::sleep(Duration::from_millis(2));
    }
    send(&mut app, Command::EndDrag);
    let mut coarse = false;
    for _ in 0..12_000 {
        app.update();
        check(results(&app));
        let known = results(&app);
        let fresh = known.findings.as_ref().filter(|found| known.is_fresh(found));
        coarse |= fresh.is_some_and(|found| found.rays == 1000);
        if is_done(known) {
            break;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    let known = results(&app);
    assert!(is_done(known) && coarse, "a coarse look comes before the fine one: {:?}", known.status);
    assert_eq!(known.findings.as_ref().unwrap().rays, 2000);
    assert_eq!(known.status, Status { rays: 2000, rays_wanted: 2000, done: 1.0, ..Status::default() });
}

#[test]
fn keeps_a_chosen_hot_spot_only_while_it_is_that_spot() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    wait(&mut app, is_done);
    let spot = results(&app).hot_spot(1).unwrap().clone();
    send(&mut app, Command::ChooseHotSpot(Some(1)));
    // What lies in the stock changes nothing of it: it is computed anew and is the same.
    let before = results(&app).hot_spots.as_ref().unwrap().generation;
    send(&mut app, Command::SetStockCount { kind: "cloud".into(), count: 5 });
    wait(&mut app, |results| results.hot_spots.as_ref().is_some_and(|known| known.generation > before));
    assert_eq!(results(&app).hot_spot(1), Some(&spot));
    assert_eq!(view(&app).hot_spot, Some(1));
    // With a loudspeaker elsewhere every spot is another one.
    send(&mut app, Command::MoveSource { name: "left".into(), position: DVec3::new(1.5, 4.3, 1.2) });
    assert_eq!(view(&app).hot_spot, None);
    // With a panel taken down from it, the reflection there is louder.
    wait(&mut app, is_done);
    let near = |results: &Results| results.hot_spots.as_ref().unwrap().value.iter().position(|spot| spot.center.surface == "north");
    let index = near(results(&app)).unwrap();
    let spot = results(&app).hot_spot(index).unwrap().clone();
    send(&mut app, Command::ChooseHotSpot(Some(index)));
    send(&mut app, Command::RemovePanel(1));
    assert_eq!(view(&app).hot_spot, Some(index), "it stands until others are known");
    let generation = results(&app).generation;
    wait(&mut app, |results| results.hot_spots.as_ref().is_some_and(|known| known.generation == generation));
    assert_ne!(results(&app).hot_spot(index), Some(&spot));
    assert_eq!(view(&app).hot_spot, None);
}

#[test]
fn keeps_a_question_from_leaving_a_drag_open() {
    let bare = attic();
    // Saved under the hand: nobody knows where to.
    let mut app = app(&Memory::holding("elsewhere", ""));
    send(&mut app, Command::OpenCopy(bare.clone()));
    send(&mut app, Command::BeginDrag);
    send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.3) });
    send(&mut app, Command::Save);
    assert!(matches!(view(&app).question, Some(Question::WhereTo(_))) && !document(&app).is_dragged());
    // What comes from a hand that has not noticed yet opens none.
    send(&mut app, Command::BeginDrag);
    assert!(!document(&app).is_dragged());
    send(&mut app, Command::Stay);
    let moved = document(&app).text().to_owned();
    assert_ne!(moved, bare, "it stays where it was dragged to");
    send(&mut app, Command::Undo);
    assert_eq!(document(&app).text(), bare, "one step");

    // Changed by another program under the hand.
    let disk = Memory::holding(FILE, &bare);
    let mut app = opened(&disk);
    send(&mut app, Command::BeginDrag);
    send(&mut app, Command::MovePanel { panel: 1, place: place("north", 2.3) });
    disk.put(FILE, format!("{bare}# a word from elsewhere\n"));
    for _ in 0..5 {
        app.update();
    }
    assert_eq!(view(&app).question, Some(Question::ChangedOnDisk));
    assert!(!document(&app).is_dragged());
    assert_eq!(document(&app).text(), moved);
}

#[test]
fn keeps_paths_and_maps_when_the_room_is_used_otherwise() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    wait(&mut app, |results| is_done(results) && !results.maps.is_empty());
    let moved = Command::MoveClearance {
        name: "swing of the door".into(),
        region: ClearanceRegion::Space { low: DVec3::new(3.2, 0.0, 0.0), high: DVec3::new(4.0, 0.85, 2.0) },
    };
    for command in [Command::SetActivity(Activity::Rehearsal), moved] {
        send(&mut app, command.clone());
        let known = results(&app);
        assert!(!known.maps.is_empty() && known.hot_spots.is_some(), "{command:?}: they stand until others are known");
        wait(&mut app, |results| is_done(results) && results.early.as_ref().is_some_and(|known| results.is_fresh(known)));
        assert_eq!(results(&app).early.as_ref().unwrap().rays, 2000, "{command:?}: no coarse trace was needed");
    }
}
