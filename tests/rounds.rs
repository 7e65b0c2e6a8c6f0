//! More rays, round after round: joined, replayed, stopped when the figures are sure; and how long the record is.

use glam::DVec3;
use roomwright::absorbers::Finish;
use roomwright::bands::Bands;
use roomwright::findings::judge::judge;
use roomwright::findings::sure::{judge_until_sure, least_sure};
use roomwright::findings::survey::survey;
use roomwright::hanging::Hanging;
use roomwright::plan::place::record_length;
use roomwright::progress::Progress;
use roomwright::rays::{self, RayNumber};
use roomwright::report;
use roomwright::room::{Bodies, Role, build};
use roomwright::scene::{self, Scene};
use roomwright::settings::Settings;
use roomwright::study;
use roomwright::weigh::{Linings, Traced, weigh_rays};

use crate::rays::uniform_box;
use crate::support::on_threads;

fn basement() -> Scene {
    scene::read(include_str!("../scenes/basement-mix-room.toml")).expect("a shipped scene reads").0
}

/// Three rounds are the mean of three tracings of one round: batch by batch, bin by bin.
#[test]
fn exact_mean_of_the_rounds() {
    let progress = Progress::new();
    let scene = basement();
    let room = build(&scene, Bodies::Standing);
    let settings = Settings { rays: 3_000, ..Settings::DEFAULT };
    let mut traced = Traced::new(&progress, room, settings, 0.3).expect("nobody cancels");
    let curves = |traced: &Traced| {
        let linings = Linings::new(&traced.room, &Hanging::default());
        weigh_rays(&progress, traced, &linings).expect("nobody cancels")
    };
    let one = curves(&traced);
    traced.refine(&progress, 1).expect("nobody cancels");
    let two = curves(&traced);
    traced.refine(&progress, 1).expect("nobody cancels");
    let three = curves(&traced);
    assert_eq!((traced.paths.rounds, traced.rays()), (3, 9_000));
    // What the second round says alone is `2 two - one`, the third `3 three - 2 two`: energies, none of them below 0 but for rounding.
    let (mut least, mut most, mut apart) = (0.0_f64, 0.0_f64, 0.0_f64);
    for ((one, two), three) in one[0][0].batches.iter().zip(&two[0][0].batches).zip(&three[0][0].batches) {
        for ((one, two), three) in one.iter().zip(two).zip(three) {
            let (second, third) = (*two * 2.0 - *one, *three * 3.0 - *two * 2.0);
            for value in second.0.into_iter().chain(third.0) {
                (least, most) = (least.min(value), most.max(value));
            }
            apart = apart.max((second - *one).0.into_iter().fold(0.0, |sum, value| sum + value.abs()));
        }
    }
    assert!(least > -1e-5 * most && apart > 0.01 * most, "{least} {most} {apart}");
}

/// A ray of any round is traced again by its number alone.
#[test]
fn keeps_each_ray_of_any_round_when_it_is_traced_again() {
    let progress = Progress::new();
    let room = build(&basement(), Bodies::Standing);
    let settings = Settings { rays: 2_010, ..Settings::DEFAULT };
    let mut paths = rays::trace(&progress, &room, &settings, 0.3).expect("nobody cancels");
    rays::trace_more(&progress, &room, &settings, &mut paths, 2).expect("nobody cancels");
    let (mut bounces, mut parents) = (0, 0);
    for (group, (own, sources)) in paths.groups.iter().enumerate() {
        for batch in [0, 13] {
            let chunk = &sources[1].chunks[batch];
            for ray in [0, chunk.rays.len() / 2, chunk.rays.len() - 1] {
                let number = RayNumber { group, source: 1, batch, ray };
                let again = rays::retrace(&progress, &room, &settings, &paths, number).expect("nobody cancels");
                assert_eq!(again.hits, chunk.hits[chunk.hits_of(ray)], "{number:?}");
                assert_eq!(again.crossings, chunk.crossings[chunk.crossings_of(ray)], "{number:?}");
                bounces += again.hits.len();
                if let Some(before) = own.goes_on_from {
                    // Three rounds end to end: a ray of the last goes on from one of the last.
                    let round = |number: usize, count: usize| 3 * number / count;
                    let parent = chunk.rays[ray].parent as usize;
                    let rounds = [round(ray, chunk.rays.len()), round(parent, paths.groups[before].1[1].chunks[batch].rays.len())];
                    assert_eq!(rounds[0], rounds[1], "{number:?}");
                    parents += rounds[0];
                }
            }
        }
    }
    assert!(bounces > 500 && parents > 10, "{bounces} bounces, rounds {parents}");
}

/// It goes on while it must and may, and the findings say which.
#[test]
fn stops_when_sure_or_at_the_limit() {
    let progress = Progress::new();
    let judged = |settings: Settings| {
        let scene = Scene { settings, ..basement() };
        let mut traced = study::trace(&progress, &scene).expect("nobody cancels");
        let standing = survey(&scene, &traced.room);
        judge_until_sure(&progress, &scene, (&mut traced, None), &Hanging::default(), &standing).expect("nobody cancels")
    };
    let base = Settings { rays: 2_000, ..Settings::DEFAULT };
    let excess = |findings: &roomwright::findings::Findings, settings: &Settings| {
        least_sure(&findings.pairs, settings).expect("figures have errors").excess
    };
    // So few rays that a lopsided decay may be told to no better than half of itself.
    let loose = 1.0;
    let easy = Settings { t30_error: loose, early_error_db: 5.0, ..base.clone() };
    let at_once = judged(easy.clone());
    assert_eq!((at_once.tracing.rounds, at_once.tracing.errors_met), (1, true));
    assert!(excess(&at_once, &easy) <= 1.0);
    // A quarter less than one round knows: one more look or two.
    let wanted = 0.75 * excess(&at_once, &Settings { early_error_db: 1e9, ..easy.clone() }) * loose;
    let harder = Settings { t30_error: wanted, early_error_db: 5.0, rounds: 32, ..base.clone() };
    let met = judged(harder.clone());
    assert!(met.tracing.errors_met && met.tracing.rounds > 1, "{:?}", met.tracing);
    assert!(met.tracing.rounds.is_power_of_two() && met.tracing.rays_per_source == 2_000 * met.tracing.rounds);
    assert!(excess(&met, &harder) <= 1.0);
    let hopeless = Settings { t30_error: 1e-4, rounds: 3, ..base };
    let missed = judged(hopeless.clone());
    assert_eq!((missed.tracing.rounds, missed.tracing.errors_met), (3, false));
    assert!(excess(&missed, &hopeless) > 1.0);
    let says = |findings: &roomwright::findings::Findings| findings.notes.iter().any(|note| note.contains("known less well than asked"));
    assert!(says(&missed) && !says(&met) && !says(&at_once), "{:?}", missed.notes);
}

/// The number of threads changes neither when it stops nor what it says.
#[test]
fn keeps_where_it_stops_with_1_2_and_5_threads() {
    let scene = Scene { settings: Settings { rays: 1_500, rounds: 4, t30_error: 0.1, ..Settings::DEFAULT }, ..basement() };
    let heard = |threads| {
        on_threads(threads, || {
            serde_json::to_string(&study::hear(&Progress::new(), &scene).expect("nobody cancels").0).expect("findings are JSON")
        })
    };
    let one = heard(1);
    assert!(!one.contains("\"rounds\":1,"), "one round is enough: nothing is tested");
    assert!(one == heard(2) && one == heard(5));
}

/// A store that would grow beyond its bound is not asked for more rounds.
#[test]
fn keeps_rounds_within_the_store() {
    let room = uniform_box([4.0, 3.0, 2.5], 0.1, Bands::splat(0.3), DVec3::new(1.0, 1.0, 1.0), DVec3::new(3.0, 2.0, 1.2));
    let mut traced =
        Traced::new(&Progress::new(), room, Settings { rays: 1_000, rounds: 64, ..Settings::DEFAULT }, 0.1).expect("nobody cancels");
    assert_eq!(traced.rounds_left(), 1);
    traced.paths.rounds = 40;
    assert_eq!(traced.rounds_left(), 24);
    traced.paths.reckoned_bytes = rays::STORE_MOST / 50;
    assert_eq!(traced.rounds_left(), 10);
    traced.paths.reckoned_bytes = rays::STORE_MOST;
    assert_eq!(traced.rounds_left(), 0);
}

/// The findings of a scene on paths traced by hand.
fn judged(scene: &Scene, traced: &Traced) -> roomwright::findings::Findings {
    judge(&Progress::new(), scene, (traced, None), &Hanging::default(), survey(scene, &traced.room)).expect("nobody cancels")
}

/// A room with a hole: how many rays left stands in the findings and on the page, and a note says what that does to the decay.
#[test]
fn says_how_many_rays_left_the_room() {
    let progress = Progress::new();
    let scene = Scene { settings: Settings { rays: 1_000, ..Settings::DEFAULT }, ..basement() };
    let whole = build(&scene, Bodies::Standing);
    let mut cracked = whole.clone();
    let wall = cracked.surfaces.iter().position(|surface| surface.role == Role::Floor).expect("a floor");
    let (low, high) = cracked.surfaces[wall].outline.bounds();
    // A crack a hundredth of the floor wide.
    for corner in &mut cracked.surfaces[wall].outline.corners {
        corner.x = low.x + (corner.x - low.x) * 0.99;
    }
    assert!(high.x - low.x > 2.0);
    let said = |room| {
        let traced = Traced::new(&progress, room, scene.settings.clone(), 0.3).expect("nobody cancels");
        let findings = judged(&scene, &traced);
        (
            traced.paths.escaped,
            traced.paths.traced,
            findings.tracing.rays_escaped,
            findings.notes.clone(),
            report::text::hear(&scene, &findings, report::text::Extent::Full),
        )
    };
    let (escaped, traced, stated, notes, page) = said(cracked);
    assert!(escaped > 10 && stated == escaped, "{escaped} of {traced}, {stated} stated");
    let share = format!("{:.3} % of the rays left through cracks", 100.0 * escaped as f64 / traced as f64);
    assert!(notes.iter().any(|note| note.starts_with(&share)), "{share}: {notes:?}");
    assert!(page.contains(&format!("{escaped} left the room through cracks")), "{page}");
    let (escaped, _, stated, notes, page) = said(whole);
    assert_eq!((escaped, stated), (0, 0));
    assert!(!notes.iter().any(|note| note.contains("cracks")), "{notes:?}");
    assert!(page.contains("none left the room through a crack"), "{page}");
}

/// A scene that asks for more rays than the store holds is traced with fewer, and the findings say how many; `rays = 10000000` is held to what is
/// reckoned, before anything is traced.
#[test]
fn says_that_fewer_rays_are_traced_than_asked_for() {
    let progress = Progress::new();
    let text = include_str!("../scenes/basement-mix-room.toml");
    let text = format!("{text}\n[settings]\nrays = 10000000\n");
    let (asked, _) = scene::read(&text).expect("so many may be asked for");
    assert_eq!(asked.settings.rays, 10_000_000);
    let room = build(&asked, Bodies::Standing);
    // A bound that a test can fill; the room's own store would be held in the same way at 4 GB.
    let most = 10 << 20;
    let held = rays::trace_within(&progress, &room, &asked.settings, 0.3, most).expect("nobody cancels");
    assert_eq!(held.asked, 10_000_000);
    assert!((100..1_000_000).contains(&held.rays) && held.reckoned_bytes <= most, "{} rays, {} bytes", held.rays, held.reckoned_bytes);
    let own = Settings { rays: held.rays, ..asked.settings.clone() };
    let mut traced = Traced::new(&progress, room, own, 0.3).expect("nobody cancels");
    assert_eq!(traced.paths.reckoned_bytes, held.reckoned_bytes);
    let note = |traced: &Traced| judged(&asked, traced).notes.into_iter().find(|note| note.contains("rays a source are traced and not"));
    assert_eq!(note(&traced), None);
    traced.paths.asked = held.asked;
    let note = note(&traced).expect("it is said");
    assert!(note.starts_with(&format!("{} rays a source are traced and not 10000000", held.rays)), "{note}");
}

/// In a room whose walls scatter all and absorb alike the record is that of Eyring's decay, 50 of 60 dB of it; under a soft ceiling it is that of the
/// hard walls, much longer.
#[test]
fn record_follows_the_decay_that_there_is() {
    let progress = Progress::new();
    let seat = DVec3::new(3.6, 2.7, 1.3);
    let room = uniform_box([5.1, 3.9, 2.6], 0.2, Bands::splat(1.0), DVec3::new(1.2, 1.0, 1.1), seat);
    let settings = Settings { image_order: 0, ..Settings::DEFAULT };
    let eyring = |room: &roomwright::room::Room| roomwright::hanging::eyring(room, &Hanging::default()).0[4];
    let length = record_length(&progress, &room, &settings).expect("nobody cancels");
    let expected = 50.0 / 60.0 * eyring(&room);
    assert!((length / expected - 1.0).abs() < 0.06, "{length} s, expected {expected} s");
    let mut uneven = uniform_box([5.1, 3.9, 2.6], 0.03, Bands::splat(0.1), DVec3::new(1.2, 1.0, 1.1), seat);
    for index in 0..uneven.surfaces.len() {
        if matches!(uneven.surfaces[index].role, Role::Ceiling(_)) {
            let finish = uneven.surfaces[index].finish;
            uneven.finishes[finish] = Finish::uniform("soft", Bands::splat(0.9), Bands::splat(0.1));
        }
    }
    let length = record_length(&progress, &uneven, &settings).expect("nobody cancels");
    let mixed = 50.0 / 60.0 * eyring(&uneven);
    assert!(length > 1.5 * mixed, "{length} s, {mixed} s if it were mixed");
}
