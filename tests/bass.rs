//! The low end as it is told: modes and decays of a box in closed form by the whole way from scene to study, corner stacks in a basement, what cannot be computed, threads, pages.

use std::fs;
use std::sync::LazyLock;

use glam::DVec3;
use roomwright::absorbers::impedance::from_random_incidence;
use roomwright::findings::bass::{BassRoom, BassStudy, SAME};
use roomwright::progress::{Cancelled, Progress};
use roomwright::report::{self, raster, text};
use roomwright::room::Emitter;
use roomwright::scene::{Panel, PanelPlace, Scene, StockKind};
use roomwright::study::{self, BassAsked, BassError, BassRun, MEMORY};
use roomwright::wave::walls::{Ensemble, fit};
use roomwright::wave::{Seen, Sounding};

use super::edit::read;
use super::schema::check as check_schema;
use super::support::{Folder, even_box, on_threads, run, taking};
use super::text as pages;
use crate::validation::{Check, hold};

/// A box of 5.1 x 3.9 x 2.6 m whose walls take 0.2 at every angle, two loudspeakers and a seat.
pub(crate) const MIXING: &str = concat!(
    even_box!("mixing", "[5.1, 3.9, 2.6]", 400, 4, 0),
    r#"[[loudspeaker]]
name = "left"
position = [0.6, 0.5, 0.4]
directivity = "omni"
[[loudspeaker]]
name = "right"
position = [0.6, 3.1, 1.3]
directivity = "omni"
[[seat]]
name = "seat"
ear = [3.4, 2.3, 1.2]
"#
);

fn asked(top_hz: f64) -> BassAsked {
    BassAsked { top_hz, memory: MEMORY, others: 0, beside_bare: true }
}

fn done(scene: &Scene, top_hz: f64) -> BassStudy {
    study::bass(&Progress::new(), scene, &asked(top_hz)).unwrap_or_else(|why| panic!("{why}"))
}

/// Modes of a box by the whole way from scene to study, and their decays.
pub(crate) struct OfABox {
    pub(crate) frequencies: Vec<Check>,
    pub(crate) decays: Vec<Check>,
}

/// Damping of a box by a small wall admittance `b`, the same everywhere: `delta = (c b / 2 V) sum of e S`, `e` 1 where the mode has no half wave across, else 2 (H. Kuttruff, *Room Acoustics*,
/// chapter 3, from memory); `b` from the absorption by E. T. Paris's average.
pub(crate) static OF_A_BOX: LazyLock<OfABox> = LazyLock::new(|| {
    let scene = read(&taking(MIXING, 0.04));
    let study = done(&scene, 125.0);
    let speed = study::room(&scene).medium.speed;
    let (sides, admittance) = ([5.1, 3.9, 2.6], 1.0 / from_random_incidence(0.04));
    let volume: f64 = sides.iter().product();
    let rigid = study.box_modes.as_ref().expect("it is a box");
    assert!(study.stands.modes_to_hz > 100.0 && rigid.len() > 10, "{}", study.stands.modes_to_hz);
    assert_eq!(study.stands.modes.len(), rigid.len(), "{:?}", study.stands.modes);
    let mut both = OfABox { frequencies: Vec::new(), decays: Vec::new() };
    for (found, wanted) in study.stands.modes.iter().zip(rigid) {
        let row = |what: &str, share: f64, tolerance: f64, why, source| Check {
            what: format!(
                "bass study of a box, walls that take 0.04, mode {:?} ({:.1} Hz): {what}",
                wanted.half_waves, wanted.frequency_hz
            ),
            ours: share,
            expected: 1.0,
            tolerance,
            why,
            source,
        };
        both.frequencies.push(row(
            "frequency re that of hard walls",
            found.frequency_hz / wanted.frequency_hz,
            0.003,
            "21 cells to the shortest wave; walls that give way a little",
            "rigid box, closed form (H. Kuttruff, Room Acoustics, from memory)",
        ));
        let area = |axis: usize| 2.0 * volume / sides[axis] * if wanted.half_waves[axis] == 0 { 1.0 } else { 2.0 };
        let delta = speed * admittance / (2.0 * volume) * (0..3).map(area).sum::<f64>();
        let (decay, exact) = (found.decay_s.expect("it decays"), 3.0 * 10.0_f64.ln() / delta);
        both.decays.push(row(
            "decay time re that by its walls",
            decay / exact,
            0.03,
            "21 cells to the shortest wave; the closed form is the first order in the admittance",
            "delta = (c b / 2 V) sum of e S (H. Kuttruff, Room Acoustics, ch. 3, from memory); b by E. T. Paris's average",
        ));
    }
    both
});

#[test]
fn published_modes_and_decays_of_a_box_from_scene_to_study() {
    hold(&OF_A_BOX.frequencies);
    hold(&OF_A_BOX.decays);
}

/// The shipped basement with two corner panels over one another in each of two corners.
fn basement(corners: &[usize]) -> Scene {
    let mut scene = read(&fs::read_to_string("scenes/basement-mix-room.toml").expect("it is shipped"));
    // Two of them stand over one another under 2.15 m.
    scene.stock.iter_mut().filter(|kind| kind.kind == StockKind::Corner).for_each(|kind| kind.size.y = 1.0);
    scene.panels = corners
        .iter()
        .flat_map(|corner| {
            [0.0, 1.0].map(|bottom| Panel { kind: "corner panel".to_owned(), place: PanelPlace::Corner { corner: *corner, bottom } })
        })
        .collect();
    scene
}

#[test]
fn corner_stacks_take_from_every_mode() {
    let study = done(&basement(&[2, 3]), 100.0);
    let bare = study.bare.as_ref().expect("panels hang");
    let compared =
        |room: &BassRoom| room.modes.iter().map(|mode| (mode.frequency_hz, mode.decay_s.expect("it decays"))).collect::<Vec<_>>();
    let (stands, before) = (compared(&study.stands), compared(bare));
    assert!(stands.len() >= 4 && before.len() >= 4, "{stands:?} {before:?}");
    for ((with, decay), (without, longer)) in stands.iter().zip(&before) {
        assert!((with / without - 1.0).abs() < 0.03 && decay < longer, "{with} Hz: {decay} s, bare {without} Hz: {longer} s");
    }
    let both =
        |room: &BassRoom| room.responses.iter().find(|response| response.sources.len() == 2).expect("two loudspeakers").thirds.clone();
    let changed =
        both(&study.stands).iter().zip(both(bare)).map(|(with, without)| (with.level_db - without.level_db).abs()).fold(0.0, f64::max);
    assert!(changed > 0.3, "levels change by {changed} dB at most");
    // The same as a twin read from the study without panels.
    let alone = done(&basement(&[]), 100.0);
    assert!(alone.bare.is_none() && alone.stands == *bare);
}

#[test]
fn keeps_figures_where_rooms_with_other_walls_put_them() {
    let scene = read(MIXING);
    let asked = BassAsked { others: 3, ..asked(80.0) };
    let study = study::bass(&Progress::new(), &scene, &asked).expect("it can be");
    let plain = done(&scene, 80.0);
    for (with, without) in study.stands.responses.iter().zip(&plain.stands.responses) {
        assert_eq!(with.level_db, without.level_db, "members change nothing of the figures themselves");
        let widths: Vec<f64> = with.thirds.iter().map(|third| third.level_span_db.map_or(0.0, |span| span.high - span.low)).collect();
        assert!(widths.iter().all(|width| *width > 0.0) && widths.iter().any(|width| *width > 0.5), "{widths:?}");
    }
    // Each member by itself, in cells twice as large, beside the nominal room in the same cells: what differs is put on the figure.
    let seen = Seen::new(&scene);
    let levels = |member: usize| member_levels(&seen, &Ensemble { seed: scene.settings.seed, others: 3 }, member, &study);
    let [nominal, members @ ..] = [0, 1, 2, 3].map(levels);
    let mut moves = [0.0_f64; 2];
    for (source, told) in study.stands.responses.iter().enumerate().take(2) {
        for (index, level) in told.level_db.iter().enumerate().step_by(10) {
            let moved = members.iter().map(|member| member[source][index] - nominal[source][index]);
            let (low, high) = moved.fold((0.0_f64, 0.0_f64), |(low, high), moved| (low.min(moved), high.max(moved)));
            let found = [told.level_low_db[index] - level, told.level_high_db[index] - level];
            assert!((found[0] - low).abs() < 1e-6 && (found[1] - high).abs() < 1e-6, "{found:?} for {low} and {high} dB");
            moves = [moves[0].min(low), moves[1].max(high)];
        }
    }
    assert!(moves[0] < -0.2 && moves[1] > 0.2, "other walls put levels lower and higher: {moves:?}");
    let first = &study.stands.modes[0];
    let (frequency, decay) = (first.frequency_span_hz.expect("all have it"), first.decay_span_s.expect("all decay"));
    let most = SAME.exp() * first.frequency_hz;
    let least = (-SAME).exp() * first.frequency_hz;
    assert!(frequency.high > 1.01 * frequency.low, "a phase of 60 degrees either way moves it: {frequency:?}");
    assert!(least < frequency.low && frequency.high < most, "no farther than a mode is the same: {frequency:?}");
    assert!(decay.high > 1.1 * decay.low, "walls that take 0.15 to 0.25: {decay:?}");
}

/// Levels at the seat from each source re free field, at the frequencies of a study, in a room with the walls of a member.
fn member_levels(seen: &Seen, ensemble: &Ensemble, member: usize, study: &BassStudy) -> Vec<Vec<f64>> {
    let room = &seen.room;
    let walls: Vec<_> =
        room.finishes.iter().map(|finish| fit(finish, 1.2 * study.top_hz, ensemble.draw(member, &finish.name)).wall).collect();
    let sounding = Sounding::new(seen, &walls, 2.0 * study.cost.cell_m, study.top_hz);
    let (seat, radius) = (room.receivers[0].position, room.receivers[0].zone_radius.expect("it is a head"));
    // A run goes on until all of the zone has rung out.
    let round = DVec3::AXES.into_iter().flat_map(|axis| [axis * radius, -axis * radius]);
    let ears: Vec<DVec3> = std::iter::once(seat).chain(round.map(|off| seat + off)).collect();
    let of = |source: &Emitter| {
        let heard = sounding.hear(&Progress::new(), source.position, &ears).unwrap_or_else(|why| panic!("{why}"));
        let level =
            |frequency: &f64| 20.0 * (heard.ears[0].transfer(&heard.pulse, *frequency).norm() * source.position.distance(seat)).log10();
        study.frequencies_hz.iter().map(level).collect()
    };
    room.sources.iter().map(of).collect()
}

#[test]
fn keeps_what_cannot_be_computed_to_a_sentence() {
    let scene = read(MIXING);
    let why = |scene: &Scene, asked: BassAsked| study::bass(&Progress::new(), scene, &asked).expect_err("it cannot be").to_string();
    assert!(why(&scene, asked(10.0)).contains("between 80 and 500 Hz"));
    let dear = why(&scene, BassAsked { top_hz: 250.0, memory: 1_000_000, others: 0, beside_bare: true });
    assert!(dear.contains("210924 cells of 65.4 mm") && dear.contains("0.28 GB") && dear.contains("--memory"), "{dear}");
    assert!(why(&Scene { sources: Vec::new(), ..scene.clone() }, asked(100.0)).contains("no source"));
    assert!(why(&Scene { seats: Vec::new(), ..scene.clone() }, asked(100.0)).contains("no seat"));
    let progress = Progress::new();
    progress.cancel();
    assert_eq!(study::bass(&progress, &scene, &asked(100.0)), Err(BassError::Stopped(Cancelled)));
}

#[test]
fn keeps_bass_with_1_and_3_threads() {
    let scene = read(MIXING);
    let of = |threads: usize| on_threads(threads, || done(&scene, 80.0));
    assert!(of(1) == of(3));
}

#[test]
fn keeps_pages_and_charts_of_bass_legible() {
    let scene = basement(&[3]);
    let asked = BassAsked { others: 2, ..asked(80.0) };
    let BassRun { study, fields, .. } = study::waves(&Progress::new(), &scene, &asked).expect("it can be");
    check_schema(&study);
    let page = text::bass(&scene, &study);
    pages::keeps_its_columns(&page);
    for words in [
        "left and right at seat",
        "Modes that stand apart",
        "How sure this is",
        "bare: level",
        "likely",
        "published criteria",
        "bass-modes.svg",
    ] {
        assert!(page.contains(words), "{words} in\n{page}");
    }
    assert!(!page.contains("NaN") && !page.contains("inf"), "{page}");
    let files = report::bass_files(&scene, &study, Some(&fields));
    let names: Vec<&str> = files.iter().map(|file| file.0.as_str()).collect();
    let times = ["bass-time-1.svg", "bass-time-2.svg", "bass-time-3.svg"];
    assert_eq!(names[..4], ["bass.html", "bass-1.svg", "bass-2.svg", "bass-3.svg"]);
    assert_eq!((&names[4..7], &names[7..]), (&times[..], &["bass-floor.svg", "bass-modes.svg"][..]));
    for (name, bytes) in &files[1..4] {
        let drawn = String::from_utf8(bytes.clone()).expect("UTF-8");
        raster::lay_out(&drawn).unwrap_or_else(|why| panic!("{name}: {why}"));
        assert!(drawn.contains("frequency, Hz") && drawn.contains("level, dB") && drawn.contains("bare"), "{drawn}");
    }
}

#[test]
fn keeps_the_command_to_the_low_end() {
    let folder = Folder::new("cli-bass");
    folder.put("box.toml", MIXING);
    let ran = run(&folder, &["bass", "box.toml", "--top", "80", "--others", "1"]);
    assert_eq!(ran.code, Some(0), "{}{}", ran.out, ran.err);
    for name in ["bass.html", "bass.json", "bass-1.svg"] {
        assert!(ran.out.contains(name) && folder.names("out/box").iter().any(|written| written == name), "{name}:\n{}", ran.out);
    }
    let json = run(&folder, &["bass", "box.toml", "--top", "80", "--others", "1", "--json", "--threads", "1"]);
    let study: BassStudy = serde_json::from_str(&json.out).expect("JSON alone");
    assert_eq!(folder.text("out/box/bass.json").trim_end(), json.out.trim_end(), "the file and the output are one text");
    assert_eq!(study.top_hz, 80.0);
    for (arguments, said) in [
        (&["bass", "box.toml", "--top", "20"][..], "error: --top 20"),
        (&["bass", "box.toml", "--memory", "0.001"], "allow more with --memory"),
    ] {
        let ran = run(&folder, arguments);
        assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
    }
}
