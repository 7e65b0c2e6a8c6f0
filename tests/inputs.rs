//! What materials and tape may move a figure by: closed forms, weighings of a room in which one material is at an end of its range, traces of such a room anew, and all materials at once.

use glam::DVec3;
use proptest::prelude::{prop_assert, proptest};
use roomwright::absorbers::fluid::Model;
use roomwright::absorbers::resistivity::Fiber;
use roomwright::absorbers::{BuildUp, Finish, Incidence, Layer, diffuse_average, impedance, table};
use roomwright::bands::{Band, Bands};
use roomwright::findings::inputs::{ends, tape};
use roomwright::findings::judge::judge;
use roomwright::findings::survey::survey;
use roomwright::findings::targets::REFLECTION_QUESTION;
use roomwright::findings::{Octave, Pair, Span};
use roomwright::hanging::{self, Hanging};
use roomwright::metrics::decay::{DecayCurve, Tail};
use roomwright::progress::Progress;
use roomwright::response::{Estimate, Response};
use roomwright::room::{Bodies, Face, Room, build, open_finish, panel_finish};
use roomwright::scene::build_up::{Fibers, Filling, PorousLaw};
use roomwright::scene::making::Construction;
use roomwright::scene::{AngleLaw, Core, Panel, PanelPlace, PanelType, Scene, StockKind};
use roomwright::settings::Settings;
use roomwright::study;
use roomwright::units::Length;
use roomwright::weigh::{Linings, Traced, weigh_rays};

use crate::rays::uniform_box;
use crate::room::{panel_type, shoebox};
use crate::support::{on_threads, small_scene};

const SIZE: [f64; 3] = [5.0, 4.0, 2.5];
/// The octave that is looked at where one is enough, 1 kHz; its range is 0.05 either way, at most a factor of two.
fn octave() -> Band {
    Band::new(4)
}

/// The box with hard walls and a soft floor; all surfaces scatter by this share.
fn box_of(hard: f64, soft: f64, scattering: f64) -> Scene {
    let mut scene = shoebox(SIZE[0], SIZE[1], SIZE[2]);
    scene.floor_material = "soft".to_owned();
    for (material, absorption) in scene.materials.iter_mut().zip([hard, soft]) {
        material.absorption = Bands::splat(Some(absorption));
        material.scattering = Bands::splat(scattering);
    }
    scene
}

/// Its room, with someone to hear it and nothing in its air.
fn heard(scene: &Scene) -> Room {
    let room = build(scene, Bodies::Standing);
    let empty = uniform_box(SIZE, 0.1, Bands::splat(0.1), DVec3::new(1.1, 1.3, 1.2), DVec3::new(3.6, 2.5, 1.4));
    Room { sources: empty.sources, receivers: empty.receivers, medium: empty.medium, ..room }
}

fn trace(room: Room, rays: u32, end_s: f64) -> Traced {
    let settings = Settings { rays, tail_one_in: 1, image_order: 2, ..Settings::DEFAULT };
    Traced::new(&Progress::new(), room, settings, end_s).expect("nobody cancels")
}

/// The pair of a traced room, with its ranges but for the tape.
fn told(scene: &Scene, traced: &Traced) -> Pair {
    let scene = Scene { tape_tolerance: Length(0.0), ..scene.clone() };
    let survey = survey(&scene, &traced.room);
    judge(&Progress::new(), &scene, (traced, None), &Hanging::default(), survey).expect("nobody cancels").pairs.remove(0)
}

/// T30 in [`OCTAVE`] with its range, as logarithms of factors.
fn factors(pair: &Pair) -> Span {
    let octave = &pair.octaves[octave().index()];
    let (time, range) = (octave.t30_s.expect("a decay").value, octave.t30_inputs_s.expect("a range"));
    Span { low: (range.low / time).ln(), high: (range.high / time).ln() }
}

/// T30 in [`OCTAVE`] of these rays with the finishes of a room that is built alike.
fn weighed(traced: &Traced, like: &Room) -> f64 {
    let linings = Linings::new(like, &Hanging::default());
    let rays = weigh_rays(&Progress::new(), traced, &linings).expect("nobody cancels").remove(0).remove(0);
    let response = Response::new(traced, &linings, rays, 0, 0);
    let curve = response.curve(octave());
    DecayCurve::new(&curve, response.bin_s, Tail::Exponential).and_then(|curve| curve.t30()).expect("a decay")
}

#[track_caller]
fn assert_near(ours: f64, exact: f64, within: f64) {
    assert!((ours - exact).abs() <= within, "{ours} is not {exact} within {within}");
}

#[test]
fn exact_finish_that_absorbs_more_or_less() {
    // A row of a table is turned back into an impedance; of any other law all angles are scaled, none beyond all; octaves that stay are what they were.
    let steps = |finish: &Finish| Bands::from_fn(|band: Band| finish.absorption[band] * [1.0, 0.5, 1.3, 2.0][band.index() % 4]);
    let flat = Bands::splat(0.4);
    let table = Finish::from_random_incidence("table", flat, Bands::splat(0.2), Bands::splat(false));
    let moved = table.with_absorption(steps(&table));
    let again = Finish::from_random_incidence("table", steps(&table), Bands::splat(0.2), Bands::splat(false));
    assert_eq!((&moved.absorption, &moved.admittance), (&again.absorption, &again.admittance));
    for (one, other) in moved.specular.iter().chain(&moved.diffuse).zip(again.specular.iter().chain(&again.diffuse)) {
        assert!(one.zip(*other, |one, other| (one - other).abs()).0.into_iter().all(|off| off <= 1e-7), "{one:?} {other:?}");
    }
    let layers = BuildUp::new(vec![Layer::Porous { flow_resistivity: 12_000.0, thickness: 0.05, model: Model::Miki }]);
    let (uniform, porous) = (Finish::uniform("uniform", flat, Bands::splat(0.2)), Finish::of("porous", &layers, Bands::splat(0.1)));
    for finish in [&uniform, &porous, &Finish::mixed(&porous, &table, 0.3)] {
        let wanted = steps(finish).map(|value| value.min(0.97));
        let moved = finish.with_absorption(wanted);
        let left = diffuse_average(&moved.specular).zip(diffuse_average(&moved.diffuse), |mirrored, scattered| mirrored + scattered);
        for band in Band::ALL {
            assert_near(1.0 - left[band], wanted[band], 1e-6);
            let absorbed = |finish: &Finish, bin: usize| 1.0 - f64::from(finish.specular[bin][band]) - f64::from(finish.diffuse[bin][band]);
            let scale: Vec<f64> = (0..64).map(|bin| absorbed(&moved, bin) / absorbed(finish, bin)).collect();
            let most = scale.iter().copied().fold(0.0, f64::max);
            assert!(
                (0..64).all(|bin| absorbed(&moved, bin) > 1.0 - 1e-6 || scale[bin] > most * (1.0 - 1e-4)),
                "{}: {scale:?}",
                finish.name
            );
        }
    }
    assert_eq!(table.with_absorption(table.absorption), table);
    assert_eq!(uniform.with_absorption(uniform.absorption), uniform);
}

proptest! {
    #[test]
    fn keeps_a_moved_finish_a_share_of_what_comes(kept in proptest::array::uniform8(0.0..1.0_f64), moved in proptest::array::uniform8(-0.5..1.5_f64), law in 0..3_usize) {
        let scattering = Bands::splat(0.3);
        let finish = match law {
            0 => Finish::uniform("one", Bands(kept), scattering),
            1 => Finish::from_random_incidence("one", Bands(kept), scattering, Bands::splat(false)),
            _ => Finish::mixed(&Finish::uniform("one", Bands(kept), scattering), &Finish::from_random_incidence("other", Bands(moved.map(f64::abs)), Bands::splat(0.8), Bands::splat(false)), 0.4),
        };
        let after = finish.with_absorption(Bands(moved));
        for (mirrored, scattered) in after.specular.iter().zip(&after.diffuse) {
            for band in Band::ALL {
                let (mirrored, scattered) = (mirrored[band], scattered[band]);
                prop_assert!(mirrored >= 0.0 && scattered >= 0.0 && mirrored + scattered <= 1.0, "{mirrored} {scattered}");
            }
        }
        prop_assert!(after.absorption.0.iter().all(|value| (0.0..=1.0).contains(value)));
    }
}

#[test]
fn exact_range_of_one_reflection() {
    // A floor far nearer than all else: within 10 ms it alone reflects, by images alone. Its level moves by what 1 - alpha does at its angle, with the published law of a real impedance.
    let mut scene = shoebox(8.0, 7.0, 6.0);
    scene.floor_material = "soft".to_owned();
    for material in &mut scene.materials {
        (material.absorption, material.scattering, material.law) = (Bands::splat(Some(0.3)), Bands::splat(0.0), AngleLaw::LocalReaction);
    }
    let (source, seat) = (DVec3::new(3.0, 3.5, 1.0), DVec3::new(5.0, 3.5, 1.0));
    let empty = uniform_box([8.0, 7.0, 6.0], 0.1, Bands::splat(0.0), source, seat);
    let mut room = Room { sources: empty.sources, receivers: empty.receivers, medium: empty.medium, ..build(&scene, Bodies::Standing) };
    room.receivers[0].zone_radius = None;
    let settings = Settings { rays: 2_000, image_order: 2, window_s: 0.010, ..Settings::DEFAULT };
    let traced = Traced::new(&Progress::new(), room, settings, 0.5).expect("nobody cancels");
    let pair = told(&scene, &traced);
    assert!(pair.reflections.len() == 1 && pair.early_level_db.se < 1e-12, "{:?}", pair.reflections);
    let range = pair.early_level_inputs_db.expect("a range");
    assert_eq!(
        pair.reflections[0].level_inputs_db.map(|one| ((one.low - range.low).abs() < 1e-9, (one.high - range.high).abs() < 1e-9)),
        Some((true, true))
    );
    let cosine = 1.0 / 2.0_f64.sqrt();
    let left = |absorption: f64| 10.0 * (1.0 - impedance::law(absorption, cosine)).log10();
    // The law is straight between the middles of the bins: 0.002 dB.
    assert_near(range.high - pair.early_level_db.value, left(0.25) - left(0.3), 0.002);
    assert_near(pair.early_level_db.value - range.low, left(0.3) - left(0.35), 0.002);
}

#[test]
fn keeps_the_range_where_eyring_s_formula_goes_in_a_box_that_mixes() {
    // One material, all surfaces scatter. What the formula does not know, free paths that vary, moves the logarithm of the factor by 0.015 (Kuttruff's correction for a variance of 0.4).
    let mut scene = box_of(0.3, 0.3, 0.9);
    scene.floor_material = "hard".to_owned();
    let range = factors(&told(&scene, &trace(heard(&scene), 40_000, 0.6)));
    for (ours, absorption) in [(range.low, 0.35), (range.high, 0.25)] {
        let eyring: f64 = ((1.0_f64 - 0.3).ln() / (1.0_f64 - absorption).ln()).ln();
        assert_near(ours, eyring, 0.02);
    }
}

#[test]
fn keeps_the_range_where_traces_anew_go() {
    // Hard walls over a dead floor scatter little: the decay hangs on the walls, and Eyring's factor is half of what it does. A floor of 0.99 has nowhere to go upward.
    let scene = |hard: f64| box_of(hard, 0.99, 0.05);
    let traced = trace(heard(&scene(0.1)), 60_000, 1.6);
    let range = factors(&told(&scene(0.1), &traced));
    let time = weighed(&traced, &traced.room);
    let eyring = |hard: f64| hanging::eyring(&heard(&scene(hard)), &Hanging::default())[octave()];
    for (ours, absorption) in [(range.low, 0.15), (range.high, 0.05)] {
        let again = (weighed(&traced, &heard(&scene(absorption))) / time).ln();
        let settings = Settings { seed: 77, ..traced.settings.clone() };
        let anew = Traced::new(&Progress::new(), heard(&scene(absorption)), settings, 2.5).expect("nobody cancels");
        let anew = (weighed(&anew, &anew.room) / time).ln();
        let formula = (eyring(absorption) / eyring(0.1)).ln();
        // The floor's own downward end (0.94) is in the upper range, in squares: it moves hardly anything here.
        assert_near(ours / again, 1.0, 0.03);
        assert_near(ours / anew, 1.0, 0.12);
        assert!((formula / again - 1.0).abs() > 0.3, "the formula alone would do: {formula} for {again}");
    }
}

#[test]
fn keeps_the_range_near_that_of_all_materials_at_once() {
    // Eight rooms in which each of three materials is at one end or the other, weighed one by one: the spread of their decays is what squares of single moves add up to, but for
    // products of moves. And in them alone one after the other, exactly.
    let scene = |[walls, floor, ceiling]: [f64; 3]| {
        let mut scene = box_of(walls, floor, 0.5);
        let mut third = scene.materials[0].clone();
        (third.name, third.absorption) = ("third".to_owned(), Bands::splat(Some(ceiling)));
        scene.materials.push(third);
        scene.ceiling[0].material = "third".to_owned();
        scene
    };
    let own = [0.15, 0.3, 0.6];
    let traced = trace(heard(&scene(own)), 20_000, 1.0);
    let range = factors(&told(&scene(own), &traced));
    let time = weighed(&traced, &traced.room);
    let log = |absorption: [f64; 3]| (weighed(&traced, &heard(&scene(absorption))) / time).ln();
    let alone = |end: f64| {
        let one = |number: usize| log(std::array::from_fn(|index| own[index] + if index == number { end } else { 0.0 }));
        (0..3).map(|number| one(number).powi(2)).sum::<f64>().sqrt()
    };
    assert_near(-range.low / alone(0.05), 1.0, 0.02);
    assert_near(range.high / alone(-0.05), 1.0, 0.02);
    let logs: Vec<f64> =
        (0..8).map(|run| log(std::array::from_fn(|index| own[index] + if run >> index & 1 == 1 { 0.05 } else { -0.05 }))).collect();
    let mean = logs.iter().sum::<f64>() / 8.0;
    let spread = (logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>() / 8.0).sqrt();
    assert_near(0.5 * (range.high - range.low) / spread, 1.0, 0.05);
}

#[test]
fn exact_materials_by_their_names() {
    // Two rugs of one type, hung with unlike gaps, go together; what nothing is made of is not there.
    let mut scene = box_of(0.1, 0.5, 0.1);
    scene.stock = vec![panel_type("rug", StockKind::Rug)];
    let place = |left: f64, gap: f64| PanelPlace::Surface { surface: "floor".to_owned(), left, bottom: 0.5, lying: false, gap };
    scene.panels = [(0.0, 0.0), (2.5, 0.01)].map(|(left, gap)| Panel { kind: "rug".to_owned(), place: place(left, gap) }).to_vec();
    let room = build(&scene, Bodies::Standing);
    let linings = Linings::new(&room, &hanging::from_panels(&scene, &room, &scene.panels));
    let of_state =
        |linings: &Linings| linings.in_use().iter().map(|finish| (finish.name.clone(), finish.absorption[octave()])).collect::<Vec<_>>();
    let named = |values: [f64; 4]| ["hard", "soft", "rug", "rug"].map(str::to_owned).into_iter().zip(values).collect::<Vec<_>>();
    let mut states: Vec<_> = ends(&linings).iter().map(of_state).collect();
    for state in &mut states {
        state.sort_by(|a, b| "hsr".find(&a.0[..1]).cmp(&"hsr".find(&b.0[..1])));
        state.iter_mut().for_each(|(_, value)| *value = (*value * 1e9).round() / 1e9);
    }
    let exact = [
        [0.05, 0.5, 0.5, 0.5],
        [0.15, 0.5, 0.5, 0.5],
        [0.1, 0.45, 0.5, 0.5],
        [0.1, 0.55, 0.5, 0.5],
        [0.1, 0.5, 0.45, 0.45],
        [0.1, 0.5, 0.55, 0.55],
    ];
    assert_eq!(states, exact.map(named));
    assert_eq!(ends(&Linings::new(&room, &Hanging::default())).len(), 4);
}

#[test]
fn exact_range_of_a_value() {
    // By hand: 0.1 up to 250 Hz and 0.05 above, but at most a factor of two, and never above 0.99; twice as uncertain where filled by rule, by the square of the factor.
    let finish =
        |value: f64, filled: bool| Finish::from_random_incidence("one", Bands::splat(value), Bands::splat(0.1), Bands::splat(filled));
    for (value, filled, below_500, from_500) in [
        (0.02, false, (0.01, 0.04), (0.01, 0.04)),
        (0.1, false, (0.05, 0.2), (0.05, 0.15)),
        (0.4, false, (0.3, 0.5), (0.35, 0.45)),
        (0.97, false, (0.87, 0.99), (0.92, 0.99)),
        (0.4, true, (0.2, 0.6), (0.3, 0.5)),
        (0.02, true, (0.005, 0.08), (0.005, 0.08)),
    ] {
        for band in Band::ALL {
            let (low, high) = if band.nominal() <= 250 { below_500 } else { from_500 };
            let ours = finish(value, filled).absorption_range(band);
            assert_near(ours.0, low, 1e-12);
            assert_near(ours.1, high, 1e-12);
        }
    }
}

#[test]
fn exact_share_of_the_tape() {
    // The box with all edges 10 mm longer or shorter. Ours scales the box instead. By hand, without air: V grows
    // by 10 mm (1/5 + 1/4 + 1/2.5) = 0.85 %, S by 10 mm 4 (5 + 4 + 2.5) / 85 = 0.54 %, so V / S by 0.309 %; ours by 10 mm 85 / 300 = 0.283 %.
    let room = build(&box_of(0.1, 0.1, 0.1), Bodies::Standing);
    let ours = tape(&room, &Hanging::default(), 0.01)[octave()].expect("a decay");
    let time = |longer: f64| {
        let [x, y, z] = SIZE.map(|edge| edge + longer);
        let (volume, area) = (x * y * z, 2.0 * (x * y + y * z + z * x));
        volume / (-area * 0.9_f64.ln() + 4.0 * room.medium.attenuation[octave()] * volume)
    };
    for (ours, longer) in [(ours.high, 0.01), (ours.low, -0.01)] {
        let exact: f64 = (time(longer) / time(0.0)).ln().abs();
        assert_near(ours / exact, 0.283 / 0.309, 0.01);
    }
    // A room that never ends has none, nor does one that keeps nothing; a tape that nobody has is held.
    let mut still = build(&box_of(0.0, 0.0, 0.1), Bodies::Standing);
    still.medium.attenuation = Bands::splat(0.0);
    assert_eq!(tape(&still, &Hanging::default(), 0.01), Bands::splat(None));
    assert!(tape(&room, &Hanging::default(), 1e9)[octave()].is_some_and(|span| span.low.is_finite() && span.high.is_finite()));
}

#[test]
fn keeps_a_range_where_the_record_ends_too_early_for_an_end() {
    // Walls of 0.02 may be of 0.01, and of 0.005 where filled by rule: the record, long enough for the room, is then too short for T30.
    let mut scene = box_of(0.02, 0.02, 0.5);
    for material in &mut scene.materials {
        material.absorption[Band::new(0)] = None;
    }
    let pair = told(&scene, &trace(heard(&scene), 8_000, 4.0));
    for octave in [&pair.octaves[0], &pair.octaves[octave().index()]] {
        let (time, range) = (octave.t30_s.expect("a decay").value, octave.t30_inputs_s.expect("a range"));
        let factor = if octave.frequency_hz == 63 { 4.0 } else { 2.0 };
        // Hall and walls of two names, in squares: 65 and 20 of 85 m2 up by the factor each.
        let up = |share: f64| (1.0_f64 / (1.0 - share * (1.0 - 1.0 / factor))).ln();
        assert_near((range.high / time).ln() / up(65.0 / 85.0).hypot(up(20.0 / 85.0)), 1.0, 0.1);
    }
}

#[test]
fn keeps_the_range_beside_every_figure() {
    let scene = small_scene(4_000);
    let hear = || study::hear(&Progress::new(), &scene).expect("nobody cancels").0;
    let findings = on_threads(1, hear);
    assert!(findings == on_threads(3, hear), "threads change findings");
    let mut seen = 0;
    let mut holds = |value: Option<Estimate>, range: Option<Span>, what: &str| {
        assert_eq!(value.is_some(), range.is_some(), "{what}");
        if let (Some(value), Some(range)) = (value, range) {
            assert!(range.low < value.value && value.value < range.high, "{what}: {range:?} round {}", value.value);
            seen += 1;
        }
    };
    for pair in &findings.pairs {
        holds(Some(pair.early_level_db), pair.early_level_inputs_db, "early level");
        for reflection in &pair.reflections {
            holds(Some(Estimate::exact(reflection.level_db)), reflection.level_inputs_db, "reflection");
        }
        holds(pair.speech_transmission_index, pair.speech_transmission_index_inputs, "speech");
        for octave in &pair.octaves {
            let Octave { edt_s, edt_inputs_s, t20_s, t20_inputs_s, t30_s, t30_inputs_s, c50_db, c50_inputs_db, .. } = octave;
            for (value, range) in [(edt_s, edt_inputs_s), (t20_s, t20_inputs_s), (t30_s, t30_inputs_s), (c50_db, c50_inputs_db)] {
                holds(*value, *range, &format!("{} Hz", octave.frequency_hz));
            }
            holds(octave.c80_db, octave.c80_inputs_db, "C80");
        }
    }
    assert!(seen > 40, "{seen}");
    for target in &findings.targets {
        let is_moved = target.unit == "s" || target.question == REFLECTION_QUESTION;
        assert_eq!(target.inputs.is_some(), is_moved && target.value.is_some(), "{}", target.question);
        if let (Some(value), Some(inputs)) = (target.value, target.inputs) {
            assert!(inputs.low < value.value && value.value < inputs.high, "{}: {inputs:?}", target.question);
        }
    }
}

#[test]
fn keeps_ranges_that_grow_with_the_tape() {
    let scene = small_scene(4_000);
    let traced = study::trace(&Progress::new(), &scene).expect("nobody cancels");
    let of = |tolerance: f64| {
        let scene = Scene { tape_tolerance: Length(tolerance), ..scene.clone() };
        study::study(&Progress::new(), &scene, &traced, &Hanging::default()).expect("nobody cancels").pairs.remove(0)
    };
    let (without, with) = (of(0.0), of(0.05));
    assert_eq!(without.early_level_inputs_db, with.early_level_inputs_db);
    for (one, other) in without.octaves.iter().zip(&with.octaves) {
        let (one, other) = (one.t20_inputs_s.expect("a range"), other.t20_inputs_s.expect("a range"));
        assert!(other.low < one.low && other.high > one.high, "{one:?} {other:?}");
    }
}

#[test]
fn exact_range_of_fiber_known_by_density() {
    // By hand: the likely layer, and what its least and most flow resistivity move it to, beside what tables disagree by, in squares.
    let fibers = Fibers { kind: Fiber::Glass, density: 24.0, diameter: None };
    let filling = Filling { flow_resistivity: None, fiber: Some(fibers), law: PorousLaw::Miki };
    let kind = PanelType { core: Core::Porous(filling), thickness: 0.05, ..panel_type("panel", StockKind::Panel) };
    let scene = box_of(0.1, 0.5, 0.1);
    let finish = panel_finish(&scene, &kind, 0.0);
    let known = filling.resistivity();
    assert!(known.low < known.likely && known.likely < known.high);
    let at = |resistivity: f64| BuildUp::panel(resistivity, 0.05, 0.0).octaves(Incidence::Diffuse);
    let [least, likely, most] = [known.low, known.likely, known.high].map(at);
    for band in Band::ALL {
        let (value, (low, high)) = (likely[band], table::range(likely[band], band, finish.extrapolated[band]));
        let down = value - least[band].min(most[band]).min(value);
        let up = least[band].max(most[band]).max(value) - value;
        let (ours_low, ours_high) = finish.absorption_range(band);
        assert_near(ours_low, (value - (value - low).hypot(down)).max(0.0), 1e-4);
        assert_near(ours_high, (value + (high - value).hypot(up)).min(0.99), 1e-4);
    }
    // A declared value leaves nothing open, and a cloud's faces know as much as a panel on the wall.
    let declared = PanelType { core: Core::Porous(Filling::of_resistivity(known.likely)), ..kind.clone() };
    assert_eq!(panel_finish(&scene, &declared, 0.0).by_resistivity, None);
    let cloud = PanelType { kind: StockKind::Cloud, made: Some(Construction::Bought), ..kind };
    assert!(open_finish(&scene, &cloud, Face::Edge).by_resistivity.is_some());
}
