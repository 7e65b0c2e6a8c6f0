//! What materials and tape may move a decay time by: closed forms in a box, what widens it, and a second weighing of the same rays.

use glam::{DVec2, DVec3};
use proptest::prelude::{prop_assert, proptest};
use roomwright::bands::{Band, Bands};
use roomwright::findings::inputs::decay_doubt;
use roomwright::findings::{Octave, Span};
use roomwright::hanging::{self, Hanging};
use roomwright::metrics::decay::{DecayCurve, Tail};
use roomwright::progress::Progress;
use roomwright::response::Response;
use roomwright::room::{Bodies, Room, build};
use roomwright::scene::{Panel, PanelPlace, Scene, StockKind};
use roomwright::settings::Settings;
use roomwright::study;
use roomwright::weigh::{Linings, Traced, weigh_rays};

use crate::rays::uniform_box;
use crate::room::{panel_type, shoebox};
use crate::support::small_scene;

const SIZE: [f64; 3] = [5.0, 4.0, 2.5];
/// Of the box above.
const VOLUME: f64 = 50.0;
const AREA: f64 = 85.0;

/// Eyring's time in the box without the constant in front, which cancels.
fn eyring(absorption: f64, attenuation: f64) -> f64 {
    VOLUME / (-AREA * (1.0 - absorption).ln() + 4.0 * attenuation * VOLUME)
}

fn box_of(absorption: f64) -> Scene {
    let mut scene = shoebox(SIZE[0], SIZE[1], SIZE[2]);
    scene.materials[0].absorption = Bands::splat(Some(absorption));
    scene
}

/// Range of a decay time that is Eyring's own, over that time.
fn factors(scene: &Scene, tolerance: f64) -> Bands<Option<Span>> {
    let room = build(scene, Bodies::Standing);
    let hung = hanging::from_panels(scene, &room, &scene.panels);
    factors_in(&room, &hung, tolerance)
}

fn factors_in(room: &Room, hung: &Hanging, tolerance: f64) -> Bands<Option<Span>> {
    decay_doubt(room, hung, tolerance).zip(hanging::eyring(room, hung), |doubt, time| {
        doubt.map(|doubt| doubt.range(time)).map(|span| Span { low: span.low / time, high: span.high / time })
    })
}

#[track_caller]
fn assert_span(ours: Option<Span>, low: f64, high: f64) {
    let ours = ours.expect("a decay");
    assert!((ours.low / low - 1.0).abs() < 1e-9 && (ours.high / high - 1.0).abs() < 1e-9, "{ours:?} is not {low} to {high}");
}

#[test]
fn exact_range_of_a_box_of_one_material() {
    // Absorption and its range by hand: 0.1 up to 250 Hz and 0.05 above, but at most a factor of two, and never above 0.99.
    for (absorption, below_500, from_500) in [
        (0.02, (0.01, 0.04), (0.01, 0.04)),
        (0.1, (0.05, 0.2), (0.05, 0.15)),
        (0.4, (0.3, 0.5), (0.35, 0.45)),
        (0.97, (0.87, 0.99), (0.92, 0.99)),
    ] {
        let scene = box_of(absorption);
        let air = build(&scene, Bodies::Standing).medium.attenuation;
        for (band, ours) in factors(&scene, 0.0).iter() {
            let (low, high) = if band.nominal() <= 250 { below_500 } else { from_500 };
            let time = |absorption: f64| eyring(absorption, air[band]) / eyring(scene.materials[0].absorption[band].unwrap(), air[band]);
            assert_span(*ours, time(high), time(low));
        }
    }
}

#[test]
fn exact_range_of_a_value_filled_by_rule() {
    // 63 Hz and 8 kHz take their neighbor's 0.4 and are twice as uncertain; so is 0.02, by the square of the factor.
    let mut scene = box_of(0.4);
    let air = build(&scene, Bodies::Standing).medium.attenuation;
    let ends = [Band::new(0), Band::new(7)];
    for (value, ranges) in [(0.4, [(0.2, 0.6), (0.3, 0.5)]), (0.02, [(0.005, 0.08), (0.005, 0.08)])] {
        scene.materials[0].absorption = Bands::from_fn(|band| (!ends.contains(&band)).then_some(value));
        let ours = factors(&scene, 0.0);
        for (band, (low, high)) in ends.into_iter().zip(ranges) {
            let time = |absorption: f64| eyring(absorption, air[band]) / eyring(value, air[band]);
            assert_span(ours[band], time(high), time(low));
        }
    }
}

#[test]
fn exact_range_of_two_materials_adds_in_squares() {
    // The floor of 20 m2 soft (0.5), all else hard (0.1), at 1 kHz.
    let mut scene = box_of(0.1);
    scene.floor_material = "soft".to_owned();
    let band = Band::new(4);
    let air = build(&scene, Bodies::Standing).medium.attenuation[band];
    let time = |hard: f64, soft: f64| eyring((65.0 * hard + 20.0 * soft) / AREA, air);
    let log = |hard: f64, soft: f64| (time(hard, soft) / time(0.1, 0.5)).ln();
    let (up, down) = (log(0.05, 0.5).hypot(log(0.1, 0.45)), log(0.15, 0.5).hypot(log(0.1, 0.55)));
    assert_span(factors(&scene, 0.0)[band], (-down).exp(), up.exp());
}

#[test]
fn exact_range_of_panels_of_one_type_goes_together() {
    // Two rugs of 0.5 are one material: twice the area, not the root of two; what they cover takes no part.
    let mut scene = box_of(0.1);
    let mut rug = panel_type("rug", StockKind::Rug);
    rug.size = DVec2::new(2.0, 1.5);
    scene.stock = vec![rug];
    let place = |left: f64| PanelPlace::Surface { surface: "floor".to_owned(), left, bottom: 0.5, lying: false, gap: 0.0 };
    scene.panels = [0.0, 2.5].map(|left| Panel { kind: "rug".to_owned(), place: place(left) }).to_vec();
    let band = Band::new(4);
    let air = build(&scene, Bodies::Standing).medium.attenuation[band];
    let time = |hard: f64, soft: f64| eyring(((AREA - 6.0) * hard + 6.0 * soft) / AREA, air);
    let log = |hard: f64, soft: f64| (time(hard, soft) / time(0.1, 0.5)).ln();
    let (up, down) = (log(0.05, 0.5).hypot(log(0.1, 0.45)), log(0.15, 0.5).hypot(log(0.1, 0.55)));
    assert_span(factors(&scene, 0.0)[band], (-down).exp(), up.exp());
}

#[test]
fn exact_share_of_the_tape() {
    // What the tape adds in squares is the box with all edges 10 mm longer or shorter. Ours scales the box instead. By hand, without air: V grows
    // by 10 mm (1/5 + 1/4 + 1/2.5) = 0.85 %, S by 10 mm 4 (5 + 4 + 2.5) / 85 = 0.54 %, so V / S by 0.309 %; ours by 10 mm 85 / 300 = 0.283 %.
    let scene = box_of(0.1);
    let band = Band::new(3);
    let medium = build(&scene, Bodies::Standing).medium;
    let (without, with) = (factors(&scene, 0.0)[band].unwrap(), factors(&scene, 0.01)[band].unwrap());
    let added = |with: f64, without: f64| (with.ln().powi(2) - without.ln().powi(2)).sqrt();
    let time = |longer: f64| {
        let [x, y, z] = SIZE.map(|edge| edge + longer);
        let (volume, area) = (x * y * z, 2.0 * (x * y + y * z + z * x));
        volume / (-area * 0.9_f64.ln() + 4.0 * medium.attenuation[band] * volume)
    };
    for (ours, longer) in [(added(with.high, without.high), 0.01), (added(with.low, without.low), -0.01)] {
        let exact: f64 = (time(longer) / time(0.0)).ln().abs();
        assert!((ours / exact - 0.283 / 0.309).abs() < 0.01, "{ours} is not near {exact}");
    }
}

#[test]
fn exact_range_of_a_time_that_is_not_the_formula_s() {
    // dT / T = -dA / A with A = (24 ln 10 / c) V / T: a time twice as long has half the absorption, so the factor counts twice; without a tape.
    let scene = box_of(0.1);
    let room = build(&scene, Bodies::Standing);
    let band = Band::new(4);
    let (time, doubt) = (hanging::eyring(&room, &Hanging::default())[band], decay_doubt(&room, &Hanging::default(), 0.0)[band].unwrap());
    let (own, twice) = (doubt.range(time), doubt.range(2.0 * time));
    assert_span(Some(twice), 2.0 * time * (own.low / time).powi(2), 2.0 * time * (own.high / time).powi(2));
}

#[test]
fn keeps_rooms_that_never_end_without_a_range() {
    let mut room = build(&box_of(0.0), Bodies::Standing);
    room.medium.attenuation = Bands::splat(0.0);
    assert_eq!(decay_doubt(&room, &Hanging::default(), 0.01), Bands::splat(None));
    // Nor one that keeps nothing, nor a tape that nobody has.
    assert_eq!(factors(&box_of(1.0), 0.01), Bands::splat(None));
    assert!(factors(&box_of(0.2), 1e9)[Band::new(4)].is_some_and(|span| span.low > 0.0 && span.high.is_finite()));
}

proptest! {
    #[test]
    fn keeps_a_range_round_one_that_grows_with_every_doubt(hard in 0.005..0.95_f64, soft in 0.005..0.95_f64, tolerance in 0.0..0.05_f64) {
        let mut scene = box_of(hard);
        scene.materials[1].absorption = Bands::splat(Some(soft));
        scene.floor_material = "soft".to_owned();
        let narrow = factors(&scene, tolerance);
        let wider_tape = factors(&scene, tolerance + 0.02);
        scene.materials[1].absorption[Band::new(0)] = None;
        scene.materials[1].absorption[Band::new(7)] = None;
        let filled = factors(&scene, tolerance);
        for band in Band::ALL {
            let (one, other) = (narrow[band].unwrap(), wider_tape[band].unwrap());
            prop_assert!(0.0 < one.low && one.low < 1.0 && 1.0 < one.high, "{one:?}");
            prop_assert!(other.low < one.low && other.high > one.high, "{one:?} {other:?}");
            // The filled octaves take the same value, so only their doubt is larger; upward it may end at 0.99 already.
            let third = filled[band].unwrap();
            if [0, 7].contains(&band.index()) {
                prop_assert!(third.low <= one.low && third.high > one.high, "{one:?} {third:?}");
            } else {
                prop_assert!(third == one, "{one:?} {third:?}");
            }
        }
    }
}

/// T30 at 1 kHz of these rays with the finishes of a room that is built alike.
fn weighed(traced: &Traced, like: &Room) -> f64 {
    let linings = Linings::new(like, &Hanging::default());
    let rays = weigh_rays(&Progress::new(), traced, &linings).expect("nobody cancels").remove(0).remove(0);
    let response = Response::new(traced, &linings, rays, 0, 0);
    let curve = response.curve(Band::new(4));
    DecayCurve::new(&curve, response.bin_s, Tail::Exponential).and_then(|curve| curve.t30()).expect("a decay")
}

/// Someone to hear the box, and nothing in its air.
fn heard(room: Room) -> Room {
    let empty = uniform_box(SIZE, 0.1, Bands::splat(0.1), DVec3::new(1.1, 1.3, 1.2), DVec3::new(3.6, 2.5, 1.4));
    Room { sources: empty.sources, receivers: empty.receivers, medium: empty.medium, ..room }
}

fn trace(room: Room, end_s: f64) -> Traced {
    let settings = Settings { rays: 20_000, tail_one_in: 1, image_order: 0, ..Settings::DEFAULT };
    Traced::new(&Progress::new(), room, settings, end_s).expect("nobody cancels")
}

#[test]
fn keeps_the_range_where_a_second_weighing_goes() {
    // The claim itself, in a box that mixes: the same rays, weighed at both ends of the range of 0.3. Chance hardly enters, since the rays are the
    // same; 3 % is left for what Eyring's formula does not know (free paths that vary).
    let room = |absorption: f64| {
        let mut scene = box_of(absorption);
        scene.materials[0].scattering = Bands::splat(0.9);
        heard(build(&scene, Bodies::Standing))
    };
    let doubt = decay_doubt(&room(0.3), &Hanging::default(), 0.0)[Band::new(4)].expect("a decay");
    let traced = trace(room(0.3), 0.6);
    let span = doubt.range(weighed(&traced, &traced.room));
    for (end, absorption) in [(span.low, 0.35), (span.high, 0.25)] {
        let ours = weighed(&traced, &room(absorption));
        assert!((ours / end - 1.0).abs() < 0.03, "{absorption}: the trace goes to {ours} s, the range to {end} s");
    }
}

#[test]
fn keeps_the_range_near_a_second_weighing_of_hard_walls_over_a_dead_floor() {
    // A floor of 0.99 has nowhere to go upward, so the lower end is the hard walls' alone: from 0.1 to 0.15. Little scatters, the decay hangs on
    // the walls, and Eyring's factor by itself would be far too near to one.
    let room = |hard: f64| {
        let mut scene = box_of(hard);
        scene.materials[1].absorption = Bands::splat(Some(0.99));
        scene.floor_material = "soft".to_owned();
        for material in &mut scene.materials {
            material.scattering = Bands::splat(0.05);
        }
        heard(build(&scene, Bodies::Standing))
    };
    let eyring = |hard: f64| hanging::eyring(&room(hard), &Hanging::default())[Band::new(4)];
    let doubt = decay_doubt(&room(0.1), &Hanging::default(), 0.0)[Band::new(4)].expect("a decay");
    let traced = trace(room(0.1), 1.5);
    let time = weighed(&traced, &traced.room);
    let (ours, traced, formula) =
        ((doubt.range(time).low / time).ln(), (weighed(&traced, &room(0.15)) / time).ln(), (eyring(0.15) / eyring(0.1)).ln());
    // What the file claims for such rooms: within a half either way.
    assert!((ours / traced - 1.0).abs() < 0.5, "the trace moves by {traced}, the range by {ours} (logarithms)");
    assert!(formula / traced < 0.6, "the formula alone would do: {formula}");
}

#[test]
fn keeps_the_range_beside_every_decay_time() {
    let scene = small_scene(4_000);
    let (findings, room) = study::hear(&Progress::new(), &scene).expect("nobody cancels");
    let doubt = decay_doubt(&room, &Hanging::default(), scene.tape_tolerance.0);
    let mut seen = 0;
    for octave in findings.pairs.iter().flat_map(|pair| &pair.octaves) {
        let band = Band::ALL.into_iter().find(|band| band.nominal() == octave.frequency_hz).unwrap();
        let Octave { edt_s, edt_inputs_s, t20_s, t20_inputs_s, t30_s, t30_inputs_s, .. } = octave;
        for (time, inputs) in [(edt_s, edt_inputs_s), (t20_s, t20_inputs_s), (t30_s, t30_inputs_s)] {
            assert_eq!(time.is_some(), inputs.is_some(), "{} Hz", octave.frequency_hz);
            if let (Some(time), Some(inputs)) = (time, inputs) {
                assert_eq!(*inputs, doubt[band].unwrap().range(time.value));
                assert!(inputs.low < time.value && time.value < inputs.high, "{} Hz: {inputs:?}", octave.frequency_hz);
                seen += 1;
            }
        }
    }
    assert!(seen > 20, "{seen}");
    for target in &findings.targets {
        let of_time = target.unit == "s";
        assert_eq!(target.inputs.is_some(), of_time && target.value.is_some(), "{}", target.question);
        if let (Some(value), Some(inputs)) = (target.value, target.inputs) {
            assert!(inputs.low < value.value && value.value < inputs.high, "{}: {inputs:?}", target.question);
        }
    }
}
