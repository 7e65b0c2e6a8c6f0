//! Results that come without being asked for again: all of them, from more and more rays.

use super::*;

#[test]
fn keeps_all_results_coming() {
    let mut app = opened(&Memory::holding(FILE, &attic()));
    assert!(results(&app).room.is_some(), "the room is drawn at once");
    wait(&mut app, is_done);
    assert!((results(&app).survey.as_ref().unwrap().value.floor_area_m2 - 4.4 * 5.2).abs() < 1e-9);
    let known = results(&app);
    assert_eq!(known.status.rays, 2000);
    assert_eq!(known.findings.as_ref().unwrap().value.pairs.len(), 4);
    let (early, bare) = (&known.early.as_ref().unwrap().value, &known.bare_early.as_ref().unwrap().value);
    assert!(early.level_db.value < bare.level_db.value, "panels take something off");
    assert!(!known.hot_spots.as_ref().unwrap().value.is_empty());
    assert_eq!(known.earnings.as_ref().unwrap().value.len(), 2);
    let default = View::default().map.unwrap();
    assert_eq!(known.maps.keys().collect::<Vec<_>>(), [&default]);
    // Another map is drawn when it is chosen, and nothing else is done again.
    let findings = known.findings.clone().unwrap();
    let choice = MapChoice { quantity: Quantity::Late, source: Some(0), octave: None };
    send(&mut app, Command::ChooseMap(Some(choice)));
    wait(&mut app, |results| results.maps.contains_key(&choice));
    assert!(Arc::ptr_eq(&findings.value, &results(&app).findings.as_ref().unwrap().value));
    // What lands is found when there is a wavefront, and again when another octave is chosen.
    assert!(results(&app).landing.is_none());
    send(&mut app, Command::SetTime(3.0));
    wait(&mut app, |results| results.landing.is_some());
    let (source, band) = view(&app).lands().unwrap();
    assert_eq!(results(&app).landing_of((source, band)).unwrap().rays, 2000);
    let other = Band::new(2);
    send(&mut app, Command::ChooseLanding(Some(other)));
    wait(&mut app, |results| results.landing_of((source, other)).is_some());
    assert!(Arc::ptr_eq(&findings.value, &results(&app).findings.as_ref().unwrap().value));
}

/// Findings rest on more rays where the errors ask for them; what is weighed while something is moved rests on the first round.
#[test]
fn keeps_tracing_until_the_findings_are_sure() {
    let mut app = opened(&Memory::holding(FILE, &attic().replace("rounds = 1", "rounds = 3\nt30_error_percent = 0.1")));
    wait(&mut app, is_done);
    let known = results(&app);
    let findings = known.findings.as_ref().unwrap();
    assert_eq!((findings.rays, findings.value.tracing.rounds, findings.value.tracing.errors_met), (6000, 3, false));
    assert_eq!((known.early.as_ref().unwrap().rays, known.status.rays, known.status.rays_wanted), (2000, 6000, 2000));
}
