//! How our plan does against two rules of thumb in twelve rooms, with as many panels, with a quarter fewer, and in rooms that are not quite as measured.
//!
//! **The rooms**: the scenes of the repository and `tests/cases/rooms`, of all uses and shapes, with the stock that they come with.
//!
//! **The layouts**: the plan; the plan that the search makes of three quarters of what it hung; mirror points, corners and an even spread (`plan::thumb`) and the even spread alone,
//! each with as many pieces of each type as the plan hangs. They are weighed on one trace with another seed than any that a plan was made or told with, and told apart by
//! their difference on the same rays, see `plan::score`.
//!
//! **What is asked** (`SLOW=1`, the rays of the scenes): `ROOMS.txt` is written from what is computed, won or lost; the tests ask that it says so.
//! `SLOW=1 UPDATE_EXPECT=1 cargo test --release locked_table_of_rooms` writes it anew; `ROOM=long` beside `SLOW=1` judges rooms of that name alone and prints
//! their rows, `RAYS=4000` sends so many rays. Where a room is, is said on
//! standard error.
//!
//! **What is asked of every change**: in three rooms with few rays the plan is no worse than either rule by more than the error, no layout is better than the bound, and figures
//! are the same with any number of threads.

mod bound;
mod disturbed;
mod judged;
mod table;

use std::io::Write as _;

use roomwright::scene::{self, Scene};
use roomwright::settings::Settings;

use self::judged::{Judged, Planned, judge};
use self::table::print;

/// Name and text.
const ROOMS: [(&str, &str); 12] = [
    ("attic", include_str!("../../../scenes/attic-voice-room.toml")),
    ("basement", include_str!("../../../scenes/basement-mix-room.toml")),
    ("thin or thick", include_str!("../../../scenes/basement-thin-or-thick.toml")),
    ("l-shaped, rehearsal", include_str!("../../../scenes/l-shaped-rehearsal-room.toml")),
    ("asymmetric", include_str!("../../cases/rooms/asymmetric.toml")),
    ("booth", include_str!("../../cases/rooms/booth.toml")),
    ("l-shaped, lessons", include_str!("../../cases/rooms/l-shaped.toml")),
    ("large door", include_str!("../../cases/rooms/large-door.toml")),
    ("long", include_str!("../../cases/rooms/long.toml")),
    ("sloped", include_str!("../../cases/rooms/sloped.toml")),
    ("square", include_str!("../../cases/rooms/square.toml")),
    ("window wall", include_str!("../../cases/rooms/window-wall.toml")),
];

/// Rooms of the quick test.
const QUICK_ROOMS: [&str; 3] = ["booth", "sloped", "square"];

/// How much is computed.
#[derive(Clone, Copy)]
struct Asked {
    /// Rays from each source in a round; `None`: as many as the scene says.
    rays: Option<u32>,
    /// Rounds of these in which layouts are judged.
    rounds: u32,
    /// Drawings of each disturbance, and the share of the rays that each is judged with, as one in so many.
    drawings: u64,
    drawn_one_in: u32,
}

const QUICK: Asked = Asked { rays: Some(3_000), rounds: 1, drawings: 1, drawn_one_in: 1 };
const WHOLE: Asked = Asked { rays: None, rounds: 2, drawings: 4, drawn_one_in: 4 };

fn read(text: &str, asked: Asked) -> Scene {
    let (scene, _) = scene::read(text).unwrap_or_else(|found| panic!("{found:?}"));
    let settings = match asked.rays {
        Some(rays) => Settings { rays, rounds: 1, leaders: 6, ..scene.settings },
        None => scene.settings,
    };
    Scene { settings, ..scene }
}

/// The rooms whose names are wanted, one after the other: each may take gigabytes.
fn judged(asked: Asked, is_wanted: impl Fn(&str) -> bool) -> Vec<Judged> {
    let rooms = ROOMS.into_iter().filter(|(name, _)| is_wanted(name));
    let one = |(name, text)| {
        let scene = read(text, asked);
        let room = judge(name, &scene, &Planned::new(name, &scene), asked);
        let [leads, fewer] = [room.leads, room.fewer_leads].map(|leads| leads.map(|lead| format!("{:+.2}", lead.value)).join(" and "));
        say(name, &format!("{leads} steps better than the rules, with fewer panels {fewer}"));
        room
    };
    rooms.map(one).collect()
}

/// Says how far it is, past what the test harness keeps back: the whole table takes long.
fn say(room: &str, what: &str) {
    if std::env::var_os("SLOW").is_some() {
        // Nobody may be listening.
        drop(writeln!(std::io::stderr(), "{room}: {what}"));
    }
}

/// No worse than a rule of thumb by more than the error; no layout better than the bound; the same again with another number of threads.
#[test]
fn keeps_up_with_the_rules_of_thumb() {
    let rooms = ROOMS.into_iter().filter(|(name, _)| QUICK_ROOMS.contains(name)).map(|(name, text)| (name, read(text, QUICK)));
    let rooms: Vec<(&str, Scene, Planned)> = rooms.map(|(name, scene)| (name, scene.clone(), Planned::new(name, &scene))).collect();
    assert_eq!(rooms.len(), QUICK_ROOMS.len());
    let all: Vec<Judged> = rooms.iter().map(|(name, scene, planned)| judge(name, scene, planned, QUICK)).collect();
    for room in &all {
        let name = room.name;
        for lead in room.leads {
            assert!(lead.value >= -lead.half_width_95(), "{name}: a rule of thumb is better, {lead:?}");
        }
        for layout in [&room.bare, &room.plan, &room.fewer, &room.rules[0], &room.rules[1]] {
            assert!(room.bound.steps() <= layout.steps.value, "{name}: {:?} under {:?}", layout.steps, room.bound);
            assert!(room.bound.reflections_steps <= layout.reflections_steps + 1e-9, "{name}: {:?}, {layout:?}", room.bound);
            assert!(room.bound.early_level_steps <= layout.early_level_steps + 1e-9, "{name}: {:?}, {layout:?}", room.bound);
            assert!(layout.c50_db.is_some_and(|c50| c50.value.is_finite()) && layout.loudest_db < 0.0, "{name}: {layout:?}");
        }
        assert!(room.fewer.panels <= room.plan.panels * 3 / 4, "{name}: {} of {}", room.fewer.panels, room.plan.panels);
        for (disturbance, drawn) in &room.disturbed {
            for lead in drawn.iter().flatten() {
                assert!(lead.value >= -lead.half_width_95(), "{name}, {}: a rule of thumb is better, {lead:?}", disturbance.words());
            }
        }
    }
    let text = print(&all, QUICK);
    assert!(QUICK_ROOMS.iter().all(|name| text.contains(name)), "{text}");
    let (name, scene, planned) = &rooms[0];
    let again = crate::support::on_threads(1, || [judge(name, scene, planned, QUICK)]);
    assert_eq!(print(&again, QUICK), print(&all[..1], QUICK));
}

#[test]
fn locked_table_of_rooms() {
    if std::env::var_os("SLOW").is_none() {
        return;
    }
    let asked = match std::env::var("RAYS") {
        Ok(rays) => Asked { rays: Some(rays.parse().expect("RAYS is a number")), ..WHOLE },
        Err(_) => WHOLE,
    };
    let Ok(only) = std::env::var("ROOM") else {
        expect_test::expect_file!["../ROOMS.txt"].assert_eq(&print(&judged(asked, |_| true), asked));
        return;
    };
    let some = judged(asked, |name| name.contains(&only));
    assert!(!some.is_empty(), "no room's name has \"{only}\" in it");
    drop(write!(std::io::stderr(), "{}", print(&some, asked)));
}
