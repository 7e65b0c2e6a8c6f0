//! A plan that is stopped by hand: the best found until then, legal and told as such; what cannot be ended so is cancelled.

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use roomwright::plan::search::BY_HAND;
use roomwright::progress::{Cancelled, Progress};
use roomwright::scene::{self, Scene};
use roomwright::study::{self, Placement};

use super::edit::read;
use super::schema::check as check_schema;
use super::support::{quick, small_scene_text};

/// A small hard room with enough in stock to be busy with.
pub(crate) fn busy(count: u32, rays: u32) -> String {
    let text = small_scene_text();
    let (room, _) = text.split_once("# What you have or would buy or build.").expect("the starter has a stock");
    let room = room.replace("Plasterboard on frame, 100 mm air space", "Smooth brickwork, flush pointing, painted");
    let stock = "[[stock]]\nname = \"panel\"\nkind = \"panel\"\nsize = [\"600 mm\", \"1200 mm\"]\nthickness = \"50 mm\"\nflow_resistivity = 12000\n";
    // The space before `count` keeps it from `quick`, which leaves one of everything.
    quick(&format!("{room}\n{stock} count = {count}\n"), rays)
}

/// Plans while somebody watches, who acts once the computation is in a stage, so many steps on.
fn watched(scene: &Scene, (stage, steps): (&str, u64), act: impl FnOnce(&Progress) + Send) -> (Result<Placement, Cancelled>, Progress) {
    let (progress, is_over) = (Progress::new(), AtomicBool::new(false));
    let is_there = || matches!(progress.state(), (now, done, _) if now == stage && done >= steps);
    let result = std::thread::scope(|scope| {
        scope.spawn(|| {
            while !is_there() {
                assert!(!is_over.load(Ordering::Relaxed), "it never came to step {steps} of {stage}");
                std::thread::sleep(Duration::from_micros(200));
            }
            act(&progress);
        });
        let result = study::place(&progress, scene);
        is_over.store(true, Ordering::Relaxed);
        result
    });
    (result, progress)
}

/// Asks for the best so far, which there must be.
fn takes(progress: &Progress) {
    assert!(progress.enough(), "there is something to take");
}

#[test]
fn keeps_enough_to_what_is_offered() {
    let whole = Progress::new();
    let part = whole.part();
    assert!(!whole.enough() && !whole.is_enough(), "nothing to end with yet");
    part.offer(true);
    assert!(whole.enough() && part.is_enough() && part.part().is_enough());
    assert_eq!(part.step(1), Ok(()), "it goes on to its end");
    whole.offer(false);
    assert!(!whole.enough() && whole.is_enough(), "no more to be asked, but it was");
    whole.cancel();
    assert_eq!(part.step(1), Err(Cancelled));
    let other = Progress::new();
    let own = other.part();
    own.offer(true);
    assert!(own.enough() && !other.is_enough(), "a part ends itself alone");
}

/// Early and late in the search: no more hangs than there is, the plan reads as a scene, and it says that it was stopped.
#[test]
fn keeps_a_plan_that_is_stopped_by_hand_legal() {
    let text = busy(6, 2_000);
    let scene = read(&text);
    for (stage, steps) in [("placing panels", 1), ("placing panels", 2), ("exchanging panels", 0)] {
        let (placement, progress) = watched(&scene, (stage, steps), takes);
        let placement = placement.expect("nobody cancels");
        let plan = &placement.plan;
        assert!(progress.is_enough() && !progress.enough(), "judged and drawn, there is nothing to end early");
        assert_eq!(plan.stopped_because, BY_HAND, "{stage}");
        assert!(plan.notes.iter().any(|note| note.starts_with("Stopped by hand: in the order")), "{:?}", plan.notes);
        let panels = &placement.pictures.panels;
        assert_eq!(panels.len(), plan.placed.len());
        let left: u32 = plan.left_over.iter().map(|(_, left)| left).sum();
        assert!(!panels.is_empty() && panels.len() as u32 + left == 6, "{stage}: {} hang, {left} are left", panels.len());
        let written = scene::with_panels(&text, panels).unwrap_or_else(|refused| panic!("{stage}: {refused}"));
        assert_eq!(read(&written).panels.len(), panels.len());
        check_schema(plan);
        let curve = plan.curve.as_ref().expect("something hangs");
        let mut numbers: Vec<u32> = curve.points.iter().filter_map(|point| point.number).collect();
        numbers.sort_unstable();
        assert_eq!(numbers, (1..=panels.len() as u32).collect::<Vec<_>>(), "each panel has its place in the order");
        let said = roomwright::report::text::place(&scene, &placement.room, plan, roomwright::report::text::Extent::Full);
        assert!(said.contains("It stopped because it was"), "{said}");
    }
}

/// Stopped while the first of two alternatives is planned: the other is not taken for worse than it.
#[test]
fn keeps_alternatives_that_were_not_planned_in_stock() {
    let text = busy(3, 2_000);
    let (before, panel) = text.split_once("[[stock]]").expect("there is a stock");
    let (kind, settings) = panel.split_once("\n\n[settings]").expect("settings follow");
    let other = kind.replace("\"panel\"\nkind", "\"other\"\nkind") + "\ninstead_of = \"panel\"";
    let text = format!("{before}[[stock]]{kind}\n[[stock]]{other}\n\n[settings]{settings}");
    let (placement, _) = watched(&read(&text), ("placing panels", 1), takes);
    let plan = placement.expect("nobody cancels").plan;
    assert!(plan.choice.is_none() && plan.out().is_empty(), "{:#?}", plan.choice);
    assert!(
        plan.notes.iter().any(|note| note == "Stopped by hand: 0 of 2 alternatives in stock were planned to the end."),
        "{:?}",
        plan.notes
    );
}

#[test]
fn keeps_a_plan_that_is_cancelled_from_ending() {
    let scene = read(&busy(6, 2_000));
    let both = |progress: &Progress| {
        takes(progress);
        progress.cancel();
    };
    assert_eq!(watched(&scene, ("exchanging panels", 0), both).0.err(), Some(Cancelled));
    assert_eq!(watched(&scene, ("placing panels", 1), Progress::cancel).0.err(), Some(Cancelled));
}

/// What the program does at a first and a second Ctrl-C. When the search begins depends on the machine, so the first is sent later and later, twice as late each time; the second is sent
/// when the first has been answered.
#[cfg(unix)]
#[test]
fn keeps_the_best_plan_at_ctrl_c() {
    use std::io::{BufRead as _, BufReader, Read as _};
    use std::process::{Child, Command, Stdio};

    use super::support::{Folder, program};

    const ENDING: &str = "finishing with the best plan so far; once more to stop\n";
    let folder = Folder::new("enough-ctrl-c");
    folder.put("den.toml", busy(24, 2_000));
    let interrupt = |child: &mut Child| {
        // The number of a child that ended is still its own until it is waited for, so the signal meets nobody else.
        let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill is there");
        assert!(sent.success());
    };
    let run = |wait: Duration, again: bool| {
        drop(std::fs::remove_dir_all(folder.path().join("out")));
        let mut child = program(&folder, &["place", "den.toml", "--rays-only"])
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it starts");
        std::thread::sleep(wait);
        interrupt(&mut child);
        let mut heard = BufReader::new(child.stderr.take().expect("is piped"));
        let mut said = String::new();
        heard.read_line(&mut said).expect("UTF-8");
        if again && said == ENDING {
            interrupt(&mut child);
        }
        heard.read_to_string(&mut said).expect("UTF-8");
        (child.wait().expect("ends").code(), said)
    };
    let waits = || (0..9).map(|number| Duration::from_millis(100 << number));

    waits().find(|&wait| run(wait, false) == (Some(0), ENDING.to_owned())).expect("one of the waits ends within the search");
    let written = folder.text("out/den/plan.json");
    assert!(written.contains(BY_HAND), "{written}");

    // A run that was over before the second, or was not searching yet at the first, says nothing of two.
    let twice = waits().map(|wait| run(wait, true)).find(|(code, said)| *code != Some(0) && said.starts_with(ENDING));
    assert_eq!(twice, Some((Some(2), format!("{ENDING}stopped; nothing was written\n"))));
    assert_eq!(folder.names("out"), Vec::<String>::new());
}
