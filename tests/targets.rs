//! Targets of each use against the documents' own figures; verdicts, ranges, errors; likeness of left and right.

use glam::DVec3;
use roomwright::air::Medium;
use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, Pattern};
use roomwright::findings::likeness::{azimuth_deg, likeness};
use roomwright::findings::pairs::Decays;
use roomwright::findings::targets::{
    self, CRITERION_DB, CRITERION_WINDOW_MS, judged_pairs, likeness_target, mean_inputs, mixing_decay, reverberation_range, too_loud,
};
use roomwright::findings::{Basis, EnergyTime, Estimate, Likeness, MadeOf, Octave, Pair, Reflection, Span, Survey, Target};
use roomwright::response::Resampled;
use roomwright::room::{Bodies, Emitter, Receiver, Room};
use roomwright::scene::{Activity, SourceKind};

use crate::validation::{Check, hold, none};

fn survey(volume: f64, floor: f64) -> Survey {
    Survey {
        volume_m3: volume,
        floor_area_m2: floor,
        surface_area_m2: 80.0,
        height_m: 2.4,
        treated_share: 0.12,
        treated_area_m2: 9.6,
        exposed_area_m2: 11.0,
        schroeder_hz: 180.0,
        axial_modes: Vec::new(),
        surfaces: Vec::new(),
        sources: Vec::new(),
        stock: Vec::new(),
        suspended: Vec::new(),
        without_place: Vec::new(),
        unsaid: Vec::new(),
    }
}

fn reflection(delay_ms: f64, level_db: f64) -> Reflection {
    Reflection {
        delay_ms,
        level_db,
        level_inputs_db: Some(Span { low: level_db - 0.5, high: level_db + 0.4 }),
        level_by_octave_db: Bands::splat(level_db),
        excess_db: (level_db - CRITERION_DB).max(0.0),
        order: 1,
        surfaces: vec!["west".to_owned()],
        points_m: vec![[0.0, 1.0, 1.2]],
        places: Vec::new(),
        azimuth_deg: 30.0,
        elevation_deg: 0.0,
        made_of: MadeOf::default(),
        joined_by: Vec::new(),
    }
}

/// T30 by octave with this standard error; below `crossover` (an index) the basis is statistical.
fn pair(source: &str, receiver: &str, t30: [f64; 8], se: f64, crossover: usize) -> Pair {
    let octave = |index: usize| Octave {
        frequency_hz: Band::new(index).nominal(),
        basis: if index < crossover { Basis::Statistical } else { Basis::Geometric },
        edt_s: None,
        edt_inputs_s: None,
        t20_s: None,
        t20_inputs_s: None,
        t30_s: Some(Estimate { value: t30[index], se }),
        t30_inputs_s: Some(Span { low: 0.8 * t30[index], high: 1.3 * t30[index] }),
        c50_db: None,
        c50_inputs_db: None,
        c80_db: None,
        c80_inputs_db: None,
        d50: None,
        ts_ms: None,
        g_db: None,
        effective_sample_share: 1.0,
        note: None,
    };
    Pair {
        source: source.to_owned(),
        receiver: receiver.to_owned(),
        distance_m: 1.2,
        octaves: (0..8).map(octave).collect(),
        speech_transmission_index: Some(Estimate { value: 0.7, se: 0.01 }),
        speech_transmission_index_inputs: None,
        speech_index_noise_free: true,
        initial_delay_gap_ms: None,
        reflections: vec![reflection(3.0, -8.0), reflection(12.0, -6.0), reflection(15.5, -2.0)],
        early_level_db: Estimate { value: -3.0, se: 0.1 },
        early_level_inputs_db: None,
        early_excess_db: 6.0,
        at_microphone: false,
        judged: false,
        early_responses: Vec::new(),
        direct_to_reverberant_db: None,
        comb_depth_db: None,
        energy_time: EnergyTime { bin_ms: 0.5, level_db: Vec::new(), decay_db: Bands([const { Vec::new() }; 8]), decay_step_ms: 5.0 },
    }
}

/// Decay times whose jackknife has the errors of the pair, every octave off in the same way: batch `b` by `pattern(b)`, 1 or -1.
fn decays(pair: &Pair, source: usize, pattern: fn(usize) -> f64) -> Decays {
    let batches = 20;
    let resampled = |estimate: Estimate| {
        // (n - 1) / n times n squares of it is the squared error.
        let off = estimate.se / (batches as f64 - 1.0).sqrt();
        Resampled { whole: estimate.value, without: (0..batches).map(|batch| estimate.value + off * pattern(batch)).collect() }
    };
    Decays { source, octaves: Bands::from_fn(|band| pair.octaves[band.index()].t30_s.or(pair.octaves[band.index()].t20_s).map(resampled)) }
}

/// Even batches one way, odd ones the other.
fn alternating(batch: usize) -> f64 {
    if batch.is_multiple_of(2) { 1.0 } else { -1.0 }
}

/// As often the one as the other, and as often with [`alternating`] as against it.
fn by_two(batch: usize) -> f64 {
    alternating(batch / 2)
}

/// Pairs whose sources are told by their names.
fn heard(pairs: &[Pair]) -> Vec<Decays> {
    let source = |pair: &Pair| pairs.iter().position(|other| other.source == pair.source).expect("it is one of them");
    pairs.iter().map(|pair| decays(pair, source(pair), alternating)).collect()
}

fn targets(activity: Activity, survey: &Survey, pairs: &[Pair]) -> Vec<Target> {
    targets::targets((activity, None), survey, pairs, &heard(pairs))
}

fn mean_decay(pairs: &[&Pair], octaves: (usize, usize)) -> Option<((usize, usize), Estimate)> {
    let owned: Vec<Pair> = pairs.iter().copied().cloned().collect();
    let decays = heard(&owned);
    targets::mean_decay(&owned.iter().zip(&decays).collect::<Vec<_>>(), octaves)
}

fn find<'a>(targets: &'a [Target], start: &str) -> &'a Target {
    targets.iter().find(|target| target.question.starts_with(start)).expect("the use asks this")
}

/// What is asked of mixing rooms; under 51 m3 we hold 0.2 s, the floor of EBU Tech 3276.
pub(crate) fn mixing_decays() -> Vec<Check> {
    let row = |(volume, law): (f64, f64)| Check {
        what: format!("decay time of a mixing room of {volume} m3, s"),
        ours: mixing_decay(volume),
        expected: if volume < 51.0 { 0.2 } else { law },
        tolerance: 5e-5,
        why: "printed digits",
        source: "ITU-R BS.1116-3 and EBU Tech 3276: 0.25 (V / 100)^(1/3), not under 0.2 s; evaluated independently",
    };
    let rows = [
        (15.0, 0.1328),
        (20.0, 0.1462),
        (25.0, 0.1575),
        (30.0, 0.1674),
        (40.0, 0.1842),
        (50.0, 0.1984),
        (60.0, 0.2109),
        (80.0, 0.2321),
        (100.0, 0.25),
        (150.0, 0.2862),
        (200.0, 0.315),
        (300.0, 0.3606),
    ];
    rows.map(row).into()
}

#[test]
fn published_mixing_decay() {
    hold(&mixing_decays());
    // The hold begins where the law itself crosses 0.2 s: 100 (0.2 / 0.25)^3 = 51.2 m3.
    assert_eq!(mixing_decay(51.1), 0.2);
    assert!(mixing_decay(51.3) > 0.2);
}

/// The targets of teaching rooms of this volume: A3 and A4.
fn taught(volume: f64) -> [Target; 2] {
    let asked = targets(Activity::Lesson, &survey(volume, 40.0), &[]);
    ["reverberation, teaching (A3)", "reverberation, teaching, inclusive (A4)"].map(|start| find(&asked, start).clone())
}

fn bounds(target: &Target) -> (f64, f64) {
    (target.low.expect("both bounds"), target.high.expect("both bounds"))
}

/// Volumes of teaching rooms, m3, with what is asked of them, seconds.
const TAUGHT: [(f64, f64, f64); 7] = [
    (30.0, 0.303, 0.244),
    (50.0, 0.374, 0.302),
    (80.0, 0.439, 0.355),
    (100.0, 0.47, 0.38),
    (200.0, 0.566, 0.458),
    (250.0, 0.597, 0.483),
    (500.0, 0.694, 0.562),
];

/// What is asked of teaching rooms, and how far either way of it.
pub(crate) fn teaching_rooms() -> Vec<Check> {
    const LAW: &str = "DIN 18041:2016: A3 = 0.32 lg V - 0.17, A4 = 0.26 lg V - 0.14; evaluated independently";
    let of = |(volume, a3, a4): (f64, f64, f64)| {
        let [first, second] = taught(volume);
        [("A3", a3, first), ("A4, inclusive", a4, second)].map(|(name, expected, target)| {
            let (low, high) = bounds(&target);
            let middle = Check {
                what: format!("decay time of a teaching room ({name}) of {volume} m3, s"),
                ours: 0.5 * (low + high),
                expected,
                tolerance: 5.1e-4,
                why: "printed digits",
                source: LAW,
            };
            (middle, high / low)
        })
    };
    let (mut rows, ratios): (Vec<Check>, Vec<f64>) = TAUGHT.into_iter().flat_map(of).unzip();
    let other = ratios.iter().filter(|ratio| (*ratio - 1.2 / 0.8).abs() >= 1e-9).count();
    let what = format!("the same, of {}: those whose longest is not 1.2 / 0.8 of the shortest", ratios.len());
    rows.push(none(what, other, "none may", "DIN 18041:2016: 20 % either way (from memory)"));
    rows
}

#[test]
fn published_teaching_rooms() {
    hold(&teaching_rooms());
    for (volume, ..) in TAUGHT {
        assert!(taught(volume).iter().all(|target| target.verdict == "not known"), "{volume} m3");
    }
}

/// Up to where documents reach, and what they ask there.
pub(crate) fn ranges() -> Vec<Check> {
    use Activity::{Lesson, Mixing};
    const A3: &str = "reverberation, teaching (A3)";
    const A4: &str = "reverberation, teaching, inclusive (A4)";
    const CLASS: &str = "reverberation, classroom";
    const OUTSIDE: &str = "outside its range";
    let of = |document: &str, source: &'static str, cases: &[(Activity, [f64; 2], &str, &str)]| {
        let wrong = cases.iter().filter(|(activity, [volume, floor], start, verdict)| {
            let pairs = [pair("left", "desk", [0.3; 8], 0.0, 2)];
            find(&targets(*activity, &survey(*volume, *floor), &pairs), start).verdict != *verdict
        });
        let what = format!("rooms of 0.3 s at the ends of what {document} covers: verdicts of {} that are wrong", cases.len());
        none(what, wrong.count(), "exact", source)
    };
    let high = |(volume, expected): (f64, f64)| Check {
        what: format!("longest decay time of a classroom of {volume} m3, s"),
        ours: find(&targets(Lesson, &survey(volume, 100.0), &[]), CLASS).high.unwrap_or(f64::NAN),
        expected,
        tolerance: 1e-9,
        why: "as printed",
        source: "ANSI/ASA S12.60: 0.6 s under 283 m3, 0.7 s up to 566 m3",
    };
    let mut rows = vec![
        of(
            "DIN 18041",
            "DIN 18041:2016: A3 30 to 1000 m3, A4 30 to 500 m3",
            &[
                (Lesson, [29.0, 12.0], A3, OUTSIDE),
                (Lesson, [30.0, 12.0], A3, "met"),
                (Lesson, [1001.0, 300.0], A3, OUTSIDE),
                (Lesson, [600.0, 200.0], A4, OUTSIDE),
                (Lesson, [600.0, 200.0], A3, "too low"),
            ],
        ),
        of(
            "ANSI/ASA S12.60",
            "ANSI/ASA S12.60: up to 566 m3",
            &[(Lesson, [20.0, 9.0], CLASS, "met"), (Lesson, [567.0, 200.0], CLASS, OUTSIDE)],
        ),
        of(
            "ITU-R BS.1116",
            "ITU-R BS.1116-3: floor of 20 to 60 m2 (from memory)",
            &[
                (Mixing, [25.0, 10.4], "reverberation", OUTSIDE),
                (Mixing, [48.5, 22.9], "reverberation", "too high"),
                (Mixing, [160.0, 64.0], "reverberation", OUTSIDE),
            ],
        ),
    ];
    rows.extend([(282.0, 0.6), (284.0, 0.7)].map(high));
    rows
}

#[test]
fn published_ranges_of_volume_and_area() {
    hold(&ranges());
}

/// Between what a plan is to bring the decay: of a use, a volume in m3 and a floor in m2, lowest and highest in seconds.
pub(crate) fn planned() -> Vec<Check> {
    use Activity::{Lesson, Mixing, Rehearsal, Voice};
    const MIXED: &str = "ITU-R BS.1116-3: 0.05 s either way (from memory)";
    const PRACTICE: &str = "common practice, no source";
    let of = |(activity, name, [volume, floor], asked, source): (Activity, &str, [f64; 2], [f64; 2], &'static str)| {
        let (low, high) = reverberation_range(activity, volume, floor).unwrap_or((f64::NAN, f64::NAN));
        [("least", low, asked[0]), ("most", high, asked[1])].map(|(end, ours, expected)| Check {
            what: format!("decay time that a plan goes for, {name} of {volume} m3 over {floor} m2: {end}, s"),
            ours,
            expected,
            tolerance: 1e-9,
            why: "rounding",
            source,
        })
    };
    let cases = [
        (Mixing, "mixing", [48.5, 22.9], [0.15, 0.25], MIXED),
        (Mixing, "mixing", [25.0, 10.4], [0.15, 0.25], MIXED),
        (Mixing, "mixing", [100.0, 40.0], [0.20, 0.30], MIXED),
        (Voice, "voice", [12.0, 5.0], [0.15, 0.30], PRACTICE),
        (Rehearsal, "rehearsal", [60.0, 25.0], [0.3, 0.6], PRACTICE),
        (Lesson, "teaching", [100.0, 40.0], [0.8 * 0.47, 1.2 * 0.47], "DIN 18041:2016: 20 % either way (from memory)"),
    ];
    cases.into_iter().flat_map(of).collect()
}

#[test]
fn published_bounds_on_the_planner() {
    hold(&planned());
    for (activity, volume, floor) in [(Activity::Mixing, 400.0, 50.0), (Activity::Mixing, 200.0, 80.0), (Activity::Lesson, 20.0, 8.0)] {
        assert_eq!(reverberation_range(activity, volume, floor), None);
    }
}

#[test]
fn keeps_bounds_finite_for_any_volume() {
    for activity in [Activity::Mixing, Activity::Voice, Activity::Rehearsal, Activity::Lesson] {
        for volume in [0.0, 1e-6, 1.0, 3.0, 30.0, 1e6] {
            for target in targets(activity, &survey(volume, 0.0), &[]) {
                assert!(target.low.is_none_or(f64::is_finite) && target.high.is_none_or(f64::is_finite), "{volume} m3: {target:?}");
            }
            assert!(reverberation_range(activity, volume, 0.0).is_none_or(|(low, high)| 0.0 < low && low < high));
        }
    }
}

#[test]
fn exact_mean_decay_and_its_error() {
    let t30 = [9.0, 9.0, 0.50, 0.40, 0.35, 0.30, 0.25, 9.0];
    let (left, right) = (pair("left", "desk", t30, 0.02, 2), pair("right", "desk", t30.map(|t| t + 0.1), 0.03, 2));
    let (octaves, mean) = mean_decay(&[&left, &right], (2, 6)).expect("five octaves are known");
    assert_eq!(octaves, (2, 6));
    // (0.50 + 0.40 + 0.35 + 0.30 + 0.25) / 5 = 0.36, plus half of 0.1.
    assert!((mean.value - 0.41).abs() < 1e-12);
    // Octaves that err together keep their error (0.02, 0.03); sources in squares, over two: sqrt(0.02^2 + 0.03^2) / 2.
    assert!((mean.se - 0.0013_f64.sqrt() / 2.0).abs() < 1e-12);
    // The doubt of what went in moves all of them together: 0.8 and 1.3 times 0.41, without the octaves outside.
    let span = mean_inputs(&[&left, &right], (2, 6)).expect("all ranges are known");
    assert!((span.low - 0.8 * 0.41).abs() < 1e-12 && (span.high - 1.3 * 0.41).abs() < 1e-12, "{span:?}");
    let mut unknown = left.clone();
    unknown.octaves[3].t30_inputs_s = None;
    assert!(mean_inputs(&[&unknown, &right], (2, 6)).is_none(), "one unknown range makes the mean's unknown");
    assert!(mean_inputs(&[], (2, 6)).is_none());
    // Two seats of one source share its rays: where they err together the error stays, where they do not it falls by the root of two, as
    // that of two sources does.
    let elsewhere = pair("left", "sofa", t30, 0.02, 2);
    let (_, mean) = mean_decay(&[&left, &elsewhere], (2, 6)).expect("five octaves are known");
    assert!((mean.se - 0.02).abs() < 1e-12);
    for (source, pattern, se) in [(0, by_two as fn(usize) -> f64, 0.02 / 2.0_f64.sqrt()), (1, alternating, 0.02 / 2.0_f64.sqrt())] {
        let (one, other) = (decays(&left, 0, alternating), decays(&elsewhere, source, pattern));
        let (_, mean) = targets::mean_decay(&[(&left, &one), (&elsewhere, &other)], (2, 6)).expect("five octaves are known");
        assert!((mean.se - se).abs() < 1e-12, "source {source}: {}", mean.se);
    }
}

#[test]
fn keeps_statistical_octaves_out_of_the_mean() {
    let t30 = [9.0, 9.0, 9.0, 0.40, 0.35, 0.30, 0.25, 9.0];
    let (octaves, mean) = mean_decay(&[&pair("left", "desk", t30, 0.02, 3)], (2, 6)).expect("four octaves are left");
    assert_eq!(octaves, (3, 6));
    assert!((mean.value - 0.325).abs() < 1e-12);
    let asked = targets(Activity::Mixing, &survey(60.0, 25.0), &[pair("left", "desk", t30, 0.02, 3)]);
    assert_eq!(find(&asked, "reverberation").question, "reverberation, mean of 500 Hz - 4 kHz");
    // Two octaves are no mean decay.
    assert!(mean_decay(&[&pair("left", "desk", t30, 0.02, 5)], (2, 6)).is_none());
    assert!(mean_decay(&[], (2, 6)).is_none());
    // T20 stands in where T30 is missing.
    let mut short = pair("left", "desk", t30, 0.02, 3);
    short.octaves[4].t30_s = None;
    short.octaves[4].t20_s = Some(Estimate { value: 0.45, se: 0.02 });
    short.octaves[4].t20_inputs_s = Some(Span { low: 0.40, high: 0.60 });
    let span = mean_inputs(&[&short], (2, 6)).expect("four octaves are left");
    // 0.8 and 1.3 times 0.40 + 0.30 + 0.25, and the range of T20 in place of 0.35's.
    assert!((span.low - (0.8 * 0.95 + 0.40) / 4.0).abs() < 1e-12 && (span.high - (1.3 * 0.95 + 0.60) / 4.0).abs() < 1e-12, "{span:?}");
    let (_, mean) = mean_decay(&[&short], (2, 6)).expect("four octaves are left");
    assert!((mean.value - 0.35).abs() < 1e-12);
}

/// Limits of what is told beside the direct sound, as they are judged by.
pub(crate) fn limits() -> Vec<Check> {
    const EARLY: &str = "ITU-R BS.1116-3 and EBU Tech 3276: 10 dB under the direct sound within 15 ms (from memory)";
    const ALIKE: &str = "ITU-R BS.1116-3: direct sound within 2 dB, 250 Hz to 2 kHz (from memory)";
    let asked = targets(Activity::Mixing, &survey(60.0, 25.0), &[pair("left", "desk", [0.2; 8], 0.0, 2)]);
    let early = find(&asked, "strongest reflection");
    let alike = likeness_target(Activity::Mixing, &[unlike()]).expect("a pair was judged");
    let row = |what: &str, ours: Option<f64>, expected: f64, source| Check {
        what: what.to_owned(),
        ours: ours.unwrap_or(f64::NAN),
        expected,
        tolerance: 1e-9,
        why: "as printed",
        source,
    };
    vec![
        row("early reflections, mixing: highest level re direct, dB", early.high, -10.0, EARLY),
        row("early reflections: up to, ms", Some(CRITERION_WINDOW_MS), 15.0, EARLY),
        row("judged of reflections at 3, 12 and 15.5 ms of -8, -6 and -2 dB: level, dB", early.value.map(|value| value.value), -6.0, EARLY),
        row("direct sound, left re right: most, dB", alike.high, 2.0, ALIKE),
        row(
            "judged of differences of 9, 9, 0.5, -1.9, 1, 0, 9 and 9 dB from 63 Hz to 8 kHz: dB",
            alike.value.map(|value| value.value),
            1.9,
            ALIKE,
        ),
    ]
}

#[test]
fn published_early_reflections() {
    hold(&limits());
    let mut one = pair("left", "desk", [0.2; 8], 0.0, 2);
    let judged = |pair: &Pair| {
        let asked = targets(Activity::Mixing, &survey(60.0, 25.0), std::slice::from_ref(pair));
        let target = find(&asked, "strongest reflection");
        (target.value.map(|value| value.value), target.high, target.verdict.clone())
    };
    assert_eq!(judged(&one), (Some(-6.0), Some(-10.0), "too high".to_owned()));
    one.reflections[1].level_db = -10.0;
    one.reflections[0].level_db = -14.0;
    assert_eq!(judged(&one), (Some(-10.0), Some(-10.0), "met".to_owned()));
    one.reflections.clear();
    assert_eq!(judged(&one), (None, Some(-10.0), "met".to_owned()));
    let unknown = targets(Activity::Mixing, &survey(60.0, 25.0), &[]);
    assert_eq!(find(&unknown, "strongest reflection").verdict, "not known");
}

#[test]
fn keeps_a_voice_at_its_microphone() {
    let mut at_microphone = pair("voice", "microphone", [0.25; 8], 0.0, 2);
    (at_microphone.at_microphone, at_microphone.judged) = (true, true);
    at_microphone.direct_to_reverberant_db = Some(Estimate { value: 9.0, se: 0.1 });
    let at_seat = pair("voice", "desk", [0.5; 8], 0.0, 2);
    let asked = targets(Activity::Voice, &survey(48.5, 22.9), &[at_seat.clone(), at_microphone]);
    let target = find(&asked, "reverberation at the microphone");
    assert!((target.value.expect("it is known").value - 0.25).abs() < 1e-12);
    assert_eq!((target.low, target.high, target.verdict.as_str()), (Some(0.15), Some(0.30), "met"));
    // Without a microphone the seat has to do.
    let asked = targets(Activity::Voice, &survey(48.5, 22.9), &[at_seat]);
    assert_eq!(find(&asked, "reverberation at the microphone").verdict, "too high");
}

/// What is too loud at another place than the use is judged at does not count; the loudest comes first, and just at the criterion is not over it.
#[test]
fn keeps_what_is_too_loud_where_the_use_is_judged() {
    let with = |receiver: &str, judged: bool, levels: &[f64]| Pair {
        judged,
        reflections: levels.iter().map(|&level| reflection(4.0, level)).collect(),
        ..pair("voice", receiver, [0.25; 8], 0.0, 2)
    };
    let mut pairs =
        [with("desk", false, &[-3.0, -20.0]), with("microphone", true, &[-9.0, -10.0, -6.0, -14.0]), with("second", true, &[-7.0])];
    let found = |pairs: &[Pair]| too_loud(pairs).iter().map(|(pair, one)| (pair.receiver.clone(), one.level_db)).collect::<Vec<_>>();
    let at = |receiver: &str, level: f64| (receiver.to_owned(), level);
    assert_eq!(found(&pairs), [at("microphone", -6.0), at("second", -7.0), at("microphone", -9.0)]);
    pairs.iter_mut().for_each(|pair| pair.judged = !pair.judged);
    assert_eq!(found(&pairs), [at("desk", -3.0)]);
    assert_eq!(pairs.each_ref().map(Pair::strongest_db), [Some(-3.0), Some(-6.0), Some(-7.0)]);
    assert_eq!(with("desk", false, &[]).strongest_db(), None);
}

/// Where loudspeakers are heard at a seat, what a voice sends there is no fault of a room to mix in, nor what they send to a microphone of one to speak in.
#[test]
fn keeps_pairs_to_what_the_use_is_judged_by() {
    let mut made = room(
        &[("left", SourceKind::Loudspeaker, DVec3::new(1.0, 3.0, 1.2)), ("voice", SourceKind::Voice, DVec3::new(2.0, 3.0, 1.5))],
        DVec3::Y,
    );
    let judged = |activity| judged_pairs(activity, &made);
    assert_eq!(judged(Activity::Mixing), [(0, 0)]);
    assert_eq!(judged(Activity::Voice), [(1, 1)]);
    assert_eq!(judged(Activity::Rehearsal), [(0, 0), (1, 0)]);
    // Without a voice the seat has to do, and without a seat whatever hears.
    made.sources.truncate(1);
    assert_eq!(judged_pairs(Activity::Voice, &made), [(0, 0)]);
    made.receivers.remove(0);
    assert_eq!(judged_pairs(Activity::Voice, &made), [(0, 0)]);
}

#[test]
fn keeps_coverage_a_share_of_the_shell() {
    let coverage = |share: f64| {
        let asked = targets(Activity::Rehearsal, &Survey { treated_share: share, ..survey(60.0, 25.0) }, &[]);
        find(&asked, "treated share").verdict.clone()
    };
    assert_eq!([coverage(0.1), coverage(0.15), coverage(0.2), coverage(0.25)], ["less", "as usual", "as usual", "more"]);
}

fn room(loudspeakers: &[(&str, SourceKind, DVec3)], facing: DVec3) -> Room {
    let source = |&(name, kind, position): &(&str, SourceKind, DVec3)| Emitter {
        name: name.to_owned(),
        kind,
        position,
        aim: DVec3::X,
        directivity: Directivity::Omni,
    };
    let receiver = |name: &str, zone_radius| Receiver {
        name: name.to_owned(),
        position: DVec3::new(2.0, 2.0, 1.2),
        facing,
        zone_radius,
        pattern: Pattern { omni: 1.0 },
    };
    Room {
        surfaces: Vec::new(),
        finishes: Vec::new(),
        volume: 50.0,
        sources: loudspeakers.iter().map(source).collect(),
        receivers: vec![receiver("desk", Some(0.3)), receiver("microphone", None)],
        medium: Medium { speed: 343.0, density: 1.2041, attenuation: Bands::splat(0.0) },
        solids: Vec::new(),
        contacts: Vec::new(),
        bodies: Bodies::Standing,
        takes_patches: false,
        is_shell_convex: true,
        patches: std::sync::Arc::new(roomwright::room::PatchGrid::new(&[], 0.1)),
    }
}

#[test]
fn exact_likeness_of_left_and_right() {
    use SourceKind::{Loudspeaker, Voice};
    // The listener faces +y: left is -x. A center and a voice have no partner; the surrounds pair with each other.
    let sources = [
        ("right", Loudspeaker, DVec3::new(2.6, 3.0, 1.2)),
        ("left", Loudspeaker, DVec3::new(1.4, 3.0, 1.2)),
        ("center", Loudspeaker, DVec3::new(2.0, 3.2, 1.2)),
        ("rear left", Loudspeaker, DVec3::new(1.0, 1.5, 1.2)),
        ("rear right", Loudspeaker, DVec3::new(3.1, 1.5, 1.2)),
        ("singer", Voice, DVec3::new(1.0, 3.0, 1.2)),
    ];
    let room = room(&sources, DVec3::Y);
    let seat = &room.receivers[0];
    let azimuth = azimuth_deg(seat, DVec3::new(1.4, 3.0, 0.4));
    assert!((azimuth - 0.6_f64.atan().to_degrees()).abs() < 1e-9, "left is counterclockwise of the facing: {azimuth}");
    let energy = |values: [f64; 6]| -> Vec<Vec<Bands<f64>>> { values.iter().map(|&value| vec![Bands::splat(value); 2]).collect() };
    let mut early = energy([1.0, 2.0, 9.0, 0.0, 0.0, 9.0]);
    early[1][0].0[3] = 0.5;
    let found = likeness(&room, &early, &energy([1.0, 1.0, 9.0, 1.0, 0.0, 9.0]));
    let named: Vec<_> = found.iter().map(|one| (one.left.as_str(), one.right.as_str(), one.seat.as_str())).collect();
    assert_eq!(named, [("left", "right", "desk"), ("rear left", "rear right", "desk")]);
    let double = 10.0 * 2.0_f64.log10();
    for (band, difference) in found[0].early_difference_db.iter() {
        let expected = if band.index() == 3 { -double } else { double };
        assert!((difference - expected).abs() < 1e-12);
    }
    assert_eq!(found[0].direct_difference_db, Bands::splat(0.0));
    // Silence against silence is alike; against sound it is held at 60 dB.
    assert_eq!((found[1].early_difference_db, found[1].direct_difference_db), (Bands::splat(0.0), Bands::splat(60.0)));
}

/// Loudspeakers whose direct sound differs only where nobody judges it.
fn unlike() -> Likeness {
    Likeness {
        left: "left".to_owned(),
        right: "right".to_owned(),
        seat: "desk".to_owned(),
        early_difference_db: Bands::splat(5.0),
        direct_difference_db: Bands([9.0, 9.0, 0.5, -1.9, 1.0, 0.0, 9.0, 9.0]),
    }
}

#[test]
fn published_likeness_of_the_direct_sound() {
    hold(&limits());
    let one = unlike();
    let target = likeness_target(Activity::Mixing, std::slice::from_ref(&one)).expect("a pair was judged");
    assert_eq!((target.value.map(|value| value.value), target.high, target.verdict.as_str()), (Some(1.9), Some(2.0), "met"));
    assert!(likeness_target(Activity::Mixing, &[]).is_none());
    assert!(likeness_target(Activity::Rehearsal, &[one]).is_none());
}
