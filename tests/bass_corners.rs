//! Corners ranked by two fields of the room: what weak fiber changes against a fresh run, where first order stops, order and signs in a small basement, pages.

use std::f64::consts::TAU;
use std::sync::LazyLock;

use glam::DVec3;
use num_complex::Complex64;
use roomwright::findings::bass::BassCorners;
use roomwright::progress::Progress;
use roomwright::report::{self, raster};
use roomwright::scene::Scene;
use roomwright::study::{self, BassAsked, BassError, MEMORY};
use roomwright::wave::adjoint::Sheet;
use roomwright::wave::walls::{Draw, fit};
use roomwright::wave::{Cells, Exchange, Fiber, Hearing, Seen, Sounding, Tones};

use super::edit::read;
use super::support::{even_box, taking};

/// A basement of 4.1 x 3.3 x 2.2 m whose walls take 0.1, a loudspeaker and a seat that see its corners unlike, and panels of 10 cm for them.
const BASEMENT: &str = concat!(
    even_box!("mixing", "[4.1, 3.3, 2.2]", 400, 4, 0),
    r#"[[loudspeaker]]
name = "left"
position = [0.5, 0.6, 0.5]
directivity = "omni"
[[seat]]
name = "seat"
ear = [2.7, 2.2, 1.2]
[[block]]
name = "cupboard"
corner = [0, 2.5]
size = [0.6, 0.8, 1.9]
material = "even"
[[stock]]
name = "corner panel"
kind = "corner"
size = [0.6, 1.0]
thickness = 0.1
flow_resistivity = 12000
count = 2
"#
);

fn basement() -> Scene {
    read(&taking(BASEMENT, 0.1))
}

/// Highest frequency and edge of the cells.
const TOP: f64 = 125.0;
const SPACING: f64 = 0.13;

/// The room with some fiber in it, made ready.
fn ready(seen: &Seen) -> Sounding {
    let walls: Vec<_> = seen.room.finishes.iter().map(|finish| fit(finish, 1.2 * TOP, Draw::NOMINAL).wall).collect();
    Sounding::new(seen, &walls, SPACING, TOP)
}

/// What is heard from one end to the other, and in some cells.
fn heard(seen: &Seen, cells: &[usize], is_back: bool) -> Hearing {
    let (source, seat) = (seen.room.sources[0].position, seen.room.receivers[0].position);
    let (from, to) = if is_back { (seat, source) } else { (source, seat) };
    ready(seen).hear_in(&Progress::new(), from, &[to], cells).unwrap_or_else(|why| panic!("{why}"))
}

/// How far what 15 cm of fiber in a corner changes at the seat is predicted wrong, re what a run finds, root mean squares over tones: fiber of so many meters of height and Pa s/m2.
pub(crate) fn wrong(height: f64, flow_resistivity: f64) -> f64 {
    let tones: Vec<Complex64> = (0..30).map(|index| Complex64::new(-1.0, TAU * (32.0 + 3.0 * f64::from(index)))).collect();
    let seen = Seen::new(&basement());
    let (low, high) = (DVec3::new(3.7, 0.0, 0.0), DVec3::new(4.1, 0.15, height));
    let faces = DVec3::AXES.iter().enumerate().flat_map(|(axis, unit)| [(-*unit, -low[axis]), (*unit, high[axis])]);
    let piece = Fiber::new(faces.collect(), flow_resistivity);
    let sounding = ready(&seen);
    let sheet = Sheet { normal: DVec3::Y, thickness: 0.15, behind: 0.0 };
    let exchange = Exchange::new(&Cells::new(&seen.room, sounding.grid), &sounding.stencil, &seen.room.medium, &piece, sheet);
    let cells: Vec<usize> = exchange.cells().into_iter().collect();
    let (there, back) = (heard(&seen, &cells, false), heard(&seen, &cells, true));
    let fields = [&there, &back].map(|hearing| Tones::new(hearing, (&cells, 0), &tones));
    let of = |hearing: &Hearing| hearing.ears[0].transfers(&hearing.pulse, &tones);
    let (before, after) = (of(&there), of(&heard(&Seen { fibers: vec![piece], ..seen.clone() }, &[], false)));
    let found = after.iter().zip(&before).map(|(after, before)| after - before);
    let squares = tones.iter().enumerate().zip(found).map(|((tone, s), found)| {
        let predicted = exchange.change((&fields[0], &fields[1]), (tone, *s));
        ((predicted - found).norm_sqr(), found.norm_sqr())
    });
    let (off, whole) = squares.fold((0.0, 0.0), |(off, whole), (one, other)| (off + one, whole + other));
    (off / whole).sqrt()
}

#[test]
fn keeps_first_order_to_what_a_fresh_run_finds() {
    let (small, large) = (wrong(0.28, 30.0), wrong(1.1, 30.0));
    assert!(small < 0.05 && large < 0.1, "{small} and {large}");
    assert!(small < 0.6 * large, "what is wrong is of second order: {small} of a quarter of the fiber, {large} of all");
    let thick = wrong(1.1, 20_000.0);
    assert!(thick > 0.3, "fiber that hardly lets flow through is beyond first order: {thick}");
}

static RANKED: LazyLock<BassCorners> = LazyLock::new(|| {
    let asked = BassAsked { top_hz: TOP, memory: MEMORY, others: 0, beside_bare: true };
    study::bass_corners(&Progress::new(), &basement(), &asked).unwrap_or_else(|why| panic!("{why}"))
});

/// Cells that fields are kept at count, before anything is run: memory that is enough for a study of the room is not for its corners.
#[test]
fn keeps_the_memory_of_corners_counted() {
    let asked = |memory: u64| BassAsked { top_hz: TOP, memory, others: 0, beside_bare: true };
    let plain = study::bass_effort(&basement(), &asked(MEMORY)).expect("it can be").memory_mb * 1e6;
    let progress = Progress::new();
    progress.cancel();
    let why = |memory: u64| study::bass_corners(&progress, &basement(), &asked(memory)).expect_err("it is canceled");
    let BassError::TooDear(dear) = why(plain as u64 + 1000) else { panic!("{}", why(plain as u64 + 1000)) };
    // Of two states, and of a run: a figure of 4 bytes a moment at every cell round six panels of 0.6 by 1.0 m and 0.2 m, four hundred cells at least; 2.5 moments a period, 3 s.
    let records = 400.0 * 4.0 * 2.5 * TOP * 3.0;
    assert!(dear.cost.bytes as f64 > plain + records, "{} bytes, of the study {plain}", dear.cost.bytes);
    assert!(matches!(why(2 * dear.cost.bytes), BassError::Stopped(_)), "{}", why(2 * dear.cost.bytes));
}

#[test]
fn keeps_corners_in_the_order_of_fresh_runs() {
    let corners = &*RANKED;
    assert!(corners.is_stock && corners.candidates.len() >= 6 && corners.verified == corners.candidates.len().min(10), "{corners:?}");
    // Counted anew from what is told of each place: pairs that the run leaves in the order of the prediction, ranks, signs.
    let run: Vec<[f64; 2]> =
        corners.candidates.iter().filter_map(|candidate| candidate.verified_db.map(|run| [candidate.predicted_db, run])).collect();
    assert!(run.len() == corners.verified && run.is_sorted_by(|one, other| one[0] <= other[0]), "the best predicted are run: {run:?}");
    let pairs = || run.iter().enumerate().flat_map(|(index, one)| run[index + 1..].iter().map(move |other| (one, other)));
    let same = pairs().filter(|(one, other)| one[1] < other[1]).count();
    assert_eq!((corners.same_order, corners.pairs), (same, pairs().count()));
    let mut order: Vec<usize> = (0..run.len()).collect();
    order.sort_by(|a, b| run[*a][1].total_cmp(&run[*b][1]));
    let ranks: Vec<usize> = corners.candidates.iter().filter_map(|candidate| candidate.verified_rank).collect();
    assert_eq!(order.iter().map(|place| ranks[*place]).collect::<Vec<_>>(), (1..=run.len()).collect::<Vec<_>>(), "{run:?}");
    // Without any knowledge half of the pairs agree, give or take an eighth (ten places; M. G. Kendall, Biometrika 30 (1938) 81, from memory): three quarters are two standard deviations above.
    assert!(corners.same_order * 4 >= corners.pairs * 3, "{} of {} pairs", corners.same_order, corners.pairs);
    assert!(run.iter().all(|[predicted, run]| predicted * run > 0.0) && corners.same_sign == run.len(), "{run:?}");
    for candidate in corners.candidates.iter().take(corners.verified) {
        let change = candidate.change.as_ref().expect("it was run");
        assert!(candidate.verified_db.is_some_and(|verified| verified < 0.0), "{candidate:?}");
        let modes: Vec<f64> = change.modes.iter().filter_map(|mode| mode.decay_change_s).collect();
        assert!(modes.len() >= 3 && modes.iter().all(|change| *change < 0.0), "fiber only takes: {modes:?}");
        assert!(
            !candidate.place.walls.contains(&"north".to_owned()) || !candidate.place.walls.contains(&"west".to_owned()),
            "a cupboard is there"
        );
    }
    // Two panels over one another take more than either alone.
    let taken = |bottoms: usize| {
        let of = corners.candidates.iter().filter(|candidate| candidate.place.corner == 1 && candidate.place.bottoms_m.len() == bottoms);
        of.filter_map(|candidate| candidate.verified_db).fold(0.0, f64::min)
    };
    assert!(taken(2) < taken(1), "{} dB and {} dB", taken(2), taken(1));
    assert_eq!(corners.steps.len(), 2);
    assert!(corners.steps[1].together_db < corners.steps[0].together_db);
    let settled = corners.settled.as_ref().expect("panels hang");
    // The same in cells half as large.
    assert!(
        (settled.verified_db / corners.steps[1].together_db - 1.0).abs() < 0.15,
        "{} for {}",
        settled.verified_db,
        corners.steps[1].together_db
    );
}

/// Every place that was run has a row under its number, and the third octaves stand twice; the page has the picture once, and none without corners.
#[test]
fn keeps_the_chart_of_corners_on_the_page() {
    let (scene, corners) = (basement(), &*RANKED);
    let asked = BassAsked { top_hz: 80.0, memory: MEMORY, others: 0, beside_bare: true };
    let mut study = study::bass(&Progress::new(), &scene, &asked).unwrap_or_else(|why| panic!("{why}"));
    let text = |files: &[(String, Vec<u8>)], wanted: &str| {
        let bytes = files.iter().find(|(name, _)| name == wanted).map(|(_, bytes)| bytes.clone());
        bytes.map(|bytes| String::from_utf8(bytes).expect("UTF-8"))
    };
    assert_eq!(text(&report::bass_files(&scene, &study, None), "bass-corners.svg"), None);
    study.corners = Some(corners.clone());
    let files = report::bass_files(&scene, &study, None);
    let (page, drawn) = (text(&files, "bass.html").expect("a page"), text(&files, "bass-corners.svg").expect("a chart"));
    raster::lay_out(&drawn).unwrap_or_else(|why| panic!("{why}"));
    assert_eq!((page.matches("<img src=\"bass-corners.svg\"").count(), page.matches("What a corner panel buys").count()), (1, 1));
    // A ring and a dot for each place, and one of each in the key.
    assert_eq!(drawn.matches("<circle").count(), 2 * (corners.verified + 1));
    for words in ["change of the ring, dB", "predicted, first order", "verified by a run", "change of level, dB"] {
        assert_eq!(drawn.matches(words).count(), 1, "{words}");
    }
    // Of decay times only what is told is drawn.
    let settled = corners.settled.as_ref().expect("one takes something");
    let is_told = report::text::bass_corners::scored(corners, &settled.change).iter().any(|third| third.decay_change_s.is_some());
    assert_eq!(drawn.matches("change of decay time, s").count(), usize::from(is_told));
    assert_eq!(drawn.matches("third octave, Hz").count(), 1 + usize::from(is_told));
    for (index, candidate) in corners.candidates.iter().take(corners.verified).enumerate() {
        let name = format!("{} {}", index + 1, candidate.place.walls.join(" / "));
        assert!(drawn.replace("  ", " ").contains(&name), "{name}");
    }
}
