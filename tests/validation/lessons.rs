//! What lessons tell of their first bounces, beside what a pencil and a textbook give.

use glam::DVec3;
use roomwright::scene::Scene;
use roomwright::scene::lessons::Lesson;
use roomwright::settings::Settings;
use roomwright::study::ComparedRooms;

use super::Check;
use crate::lessons::{heard_with, single};

/// From the image of a source in a wall; from memory.
const IMAGE: &str = "Allen and Berkley, J. Acoust. Soc. Am. 65 (1979) 943: image of a source in a plane";

/// A lesson's versions on few rays: nothing told here rests on them.
fn heard(word: &str) -> (Vec<Scene>, ComparedRooms) {
    heard_with(Lesson::named(word).expect("there is such a lesson"), |settings| Settings { rays: 500, rounds: 1, ..settings })
}

fn row(what: String, ours: f64, expected: f64, source: &'static str) -> Check {
    Check { what, ours, expected, tolerance: 1e-6, why: "closed form", source }
}

pub(crate) fn checks() -> Vec<Check> {
    let mut rows = one_wall();
    rows.extend(mirror_point());
    rows.push(flutter());
    rows.extend(shares());
    rows
}

/// Delay and spreading of the bounce off the one wall, y = 0.
fn one_wall() -> Vec<Check> {
    let (scenes, compared) = heard("one-wall");
    let of = |version: usize| {
        let (source, seat) = (scenes[version].sources[0].position, scenes[version].microphones[0].position);
        let image = DVec3::new(source.x, -source.y, source.z);
        let (straight, by_wall) = (source.distance(seat), image.distance(seat));
        let bounce = single(&compared.comparison.versions[version].findings, |point| point.y < 0.01);
        let name = &compared.comparison.versions[version].name;
        let delay_ms = 1000.0 * (by_wall - straight) / compared.rooms[version].medium.speed;
        [
            row(format!("one wall, {name}: delay of its bounce, ms"), bounce.delay_ms, delay_ms, IMAGE),
            row(
                format!("one wall, {name}: spreading of its bounce against the direct sound, dB"),
                bounce.made_of.spreading_db,
                20.0 * (straight / by_wall).log10(),
                "pressure of a point source falls as 1 / r",
            ),
        ]
    };
    [0, 1].into_iter().flat_map(of).collect()
}

/// Where the wall x = 3.6 m mirrors, for a seat here and there.
fn mirror_point() -> Vec<Check> {
    let (scenes, compared) = heard("mirror-point");
    let of = |version: usize| {
        let (source, seat) = (scenes[version].sources[0].position, scenes[version].microphones[0].position);
        let along = source.y + (seat.y - source.y) * (3.6 - source.x) / (3.6 - source.x + 3.6 - seat.x);
        let bounce = single(&compared.comparison.versions[version].findings, |point| point.x > 3.3);
        let what = format!("mirror point, seat at y = {} m: where the wall mirrors, m", seat.y);
        row(what, bounce.points_m[0][1], along, "law of reflection, by similar triangles")
    };
    [1, 2].map(of).into()
}

/// Period of the flutter between two walls 3 m apart.
fn flutter() -> Check {
    let (_, compared) = heard("flutter");
    let period_ms = compared.comparison.versions[0].findings.flutter[0].period_ms;
    row(
        "flutter: its period between walls 3 m apart, ms".to_owned(),
        period_ms,
        1000.0 * 2.0 * 3.0 / compared.rooms[0].medium.speed,
        "way there and back over the speed of sound",
    )
}

/// Treated share of the room of the rule of twenty per cent: whole panels over floor, walls and ceiling.
fn shares() -> Vec<Check> {
    let (scenes, compared) = heard("twenty-per-cent");
    let of = |version: usize| {
        let scene = &scenes[version];
        let area = |name: &str| scene.stock.iter().find(|kind| kind.name == name).map_or(f64::NAN, |kind| kind.size.x * kind.size.y);
        let panels: f64 = scene.panels.iter().map(|panel| area(&panel.kind)).sum();
        let (low, high) = scene.outline.iter().fold((glam::DVec2::MAX, glam::DVec2::MIN), |(low, high), at| (low.min(*at), high.max(*at)));
        let (length, width, height) = ((high - low).x, (high - low).y, scene.ceiling[0].height);
        let all = 2.0 * (length * width + width * height + height * length);
        let told = &compared.comparison.versions[version];
        row(format!("twenty per cent, {}: treated share", told.name), told.findings.survey.treated_share, panels / all, "areas, by hand")
    };
    [1, 2].map(of).into()
}
