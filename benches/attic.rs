//! The attic voice room as shipped, with its stock hung, and with every panel a body.

use std::fs;
use std::io::Write as _;
use std::time::{Duration, Instant};

use roomwright::layout::Free;
use roomwright::plan::place::record_length;
use roomwright::plan::thumb::even_spread;
use roomwright::progress::Progress;
use roomwright::room::{Bodies, Room, build};
use roomwright::scene::{Panel, Scene, read};
use roomwright::weigh::Traced;

/// Options of criterion that take no value.
const FLAGS: &[&str] =
    &["--bench", "--discard-baseline", "--exact", "--ignored", "--noplot", "--quick", "--quiet", "--verbose", "-n", "-v"];

/// Text of the scene.
pub(crate) const TEXT: &str = include_str!("../scenes/attic-voice-room.toml");

/// The scene as shipped: bare, stock beside it.
pub(crate) fn scene() -> Scene {
    read(TEXT).expect("the shipped scene reads").0
}

/// The room of a scene, flat panels left to re-weighing.
pub(crate) fn bare_room(scene: &Scene) -> Room {
    build(scene, Bodies::Standing)
}

/// The whole stock, spread evenly by the rule of thumb: a full room that no change of the search can alter.
pub(crate) fn spread(scene: &Scene) -> Vec<Panel> {
    let room = bare_room(scene);
    let counts: Vec<u32> = scene.stock.iter().map(|kind| kind.count).collect();
    even_spread(scene, &room, &Free::new(scene, &room), &counts)
}

/// The room with that stock in it, every panel a body.
pub(crate) fn furnished_room(scene: &Scene) -> Room {
    build(&Scene { panels: spread(scene), ..scene.clone() }, Bodies::All)
}

/// The bare room traced as `hear` and `place` do.
pub(crate) fn traced(scene: &Scene) -> Traced {
    let room = bare_room(scene);
    let end_s = record_length(&Progress::new(), &room, &scene.settings).expect("nobody cancels");
    Traced::new(&Progress::new(), room, scene.settings.clone(), end_s).expect("nobody cancels")
}

/// Runs something for a second (three times at least) and prints wall and processor time of one run and `counts` a second of
/// wall time. Criterion sees the wall clock alone; on a busy machine the processor time is what can be compared.
pub(crate) fn count(name: &str, counts: &[(u64, &str)], run: impl Fn()) {
    let (before, begin) = (user_s(OWN), now());
    let mut runs = 0;
    while runs < 3 || begin.elapsed() < Duration::from_secs(1) {
        run();
        runs += 1;
    }
    let wall = begin.elapsed().as_secs_f64() / f64::from(runs);
    let user = user_s(OWN)
        .zip(before)
        .map_or_else(|| "not measured".to_owned(), |(after, before)| format!("{:.1} ms", 1e3 * (after - before) / f64::from(runs)));
    let rates: Vec<String> = counts.iter().map(|&(count, unit)| format!("; {:.3} million {unit}/s", count as f64 / wall / 1e6)).collect();
    say(&format!("{name}: wall {:.1} ms, user {user} a run ({runs} runs){}", 1e3 * wall, rates.concat()));
}

/// The clock.
pub(crate) fn now() -> Instant {
    #[expect(clippy::disallowed_methods, reason = "a bench looks at the clock")]
    Instant::now()
}

/// Field of `/proc/self/stat`, counted from behind the name, that holds the user time of this process.
pub(crate) const OWN: usize = 11;

/// The same of all its children that have ended.
pub(crate) const CHILDREN: usize = 13;

/// The time in such a field, seconds, where there is a `/proc`.
pub(crate) fn user_s(field: usize) -> Option<f64> {
    let stat = fs::read_to_string("/proc/self/stat").ok()?;
    seconds(stat.rsplit_once(')')?.1.split_whitespace().nth(field)?)
}

/// Time in which the processors did something, but nothing for this process or for children of it that have ended; seconds.
pub(crate) fn others_s() -> Option<f64> {
    let stat = fs::read_to_string("/proc/stat").ok()?;
    let of_all: Vec<f64> = stat.lines().next()?.split_whitespace().skip(1).map(|ticks| seconds(ticks).unwrap_or(0.0)).collect();
    // User, nice, system; interrupts, soft ones, stolen by other machines; between them idle and waiting.
    let busy: f64 = of_all.get(..3)?.iter().chain(of_all.get(5..8)?).sum();
    // Each with the system's time next to the user's.
    let own = [OWN, OWN + 1, CHILDREN, CHILDREN + 1].into_iter().map(user_s).sum::<Option<f64>>()?;
    Some(busy - own)
}

/// Linux shows 100 ticks a second whatever it counts itself.
fn seconds(ticks: &str) -> Option<f64> {
    Some(ticks.parse::<f64>().ok()? / 100.0)
}

/// The middle one.
pub(crate) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Prints a line among the results.
pub(crate) fn say(line: &str) {
    writeln!(std::io::stdout(), "{line}").expect("standard output is open");
}

/// Whether the command line asks for any of these: no filter, or one that is part of a name; never when criterion only lists or tests.
pub(crate) fn asked(names: &[&str]) -> bool {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let has = |option: &str| arguments.iter().any(|argument| argument == option);
    if has("--test") || has("--list") {
        return false;
    }
    // What follows an option is its value, except after those that take none.
    let mut before = "";
    let mut filters = arguments.iter().filter(|argument| {
        let is_value = before.starts_with('-') && !FLAGS.contains(&before);
        before = argument.as_str();
        !argument.starts_with('-') && !is_value
    });
    filters.next().is_none_or(|filter| names.iter().any(|name| name.contains(filter.as_str())))
}
