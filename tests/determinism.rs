//! Same scene, same seed: the same bytes, whatever the number of threads, and every time.
//!
//! Few rays serve as well as many here: what could differ is the order in which chunks are folded, not how many there are. There are
//! still more chunks than threads.

use roomwright::progress::Progress;
use roomwright::scene::Scene;
use roomwright::study;

use crate::support::{on_threads, small_scene};

fn hear(scene: &Scene) -> String {
    let (findings, _) = study::hear(&Progress::new(), scene).expect("nobody cancels");
    serde_json::to_string(&findings).expect("findings are JSON")
}

fn place(scene: &Scene) -> String {
    let placement = study::place(&Progress::new(), scene).expect("nobody cancels");
    format!(
        "{} {:?} {:?} {:?} {:?}",
        serde_json::to_string(&placement.plan).expect("a plan is JSON"),
        placement.pictures.early,
        placement.pictures.earning,
        placement.pictures.clarity,
        placement.pictures.late
    )
}

/// Where two long texts part, for a message that fits a screen.
#[track_caller]
fn assert_same(what: &str, one: &str, other: &str) {
    let at = one.bytes().zip(other.bytes()).take_while(|(a, b)| a == b).count();
    let near = |text: &str| String::from_utf8_lossy(&text.as_bytes()[at.saturating_sub(60)..(at + 60).min(text.len())]).into_owned();
    assert!(one == other, "{what} differ at byte {at}:\n  {}\n  {}", near(one), near(other));
}

#[test]
fn keeps_the_findings_with_1_2_and_7_threads() {
    let scene = small_scene(6_000);
    let one = on_threads(1, || hear(&scene));
    for threads in [2, 7] {
        assert_same(&format!("1 and {threads} threads"), &one, &on_threads(threads, || hear(&scene)));
    }
    // And that the check can fail: another seed is another text.
    let mut other = scene.clone();
    other.settings.seed += 1;
    assert_ne!(one, hear(&other), "the seed has no effect, so this test shows nothing");
}

#[test]
fn keeps_the_plan_with_1_2_and_7_threads() {
    let scene = small_scene(3_000);
    let one = on_threads(1, || place(&scene));
    for threads in [2, 7] {
        assert_same(&format!("1 and {threads} threads"), &one, &on_threads(threads, || place(&scene)));
    }
}

#[test]
fn keeps_the_findings_when_asked_twice() {
    let scene = small_scene(2_000);
    assert_same("two runs", &hear(&scene), &hear(&scene));
}

#[test]
fn keeps_a_cancelled_study_from_answering() {
    let progress = Progress::new();
    progress.cancel();
    let scene = small_scene(2_000);
    assert!(study::hear(&progress, &scene).is_err());
    assert!(study::place(&progress, &scene).is_err());
}
