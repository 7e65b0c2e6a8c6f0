//! Where seat and loudspeakers stand: mirrored places have mirrored figures, levels by hand from image sources, what does not fit and why, what moves along, the same bytes on any number of threads.

use std::collections::BTreeMap;

use glam::DVec3;
use roomwright::findings::Estimate;
use roomwright::plan::positions::{PositionsStudy, SetPlace, TriedFigures};
use roomwright::progress::{Cancelled, Progress};
use roomwright::report::positions_map::Shown;
use roomwright::report::{self, positions_map, raster, text};
use roomwright::room::{Bodies, build};
use roomwright::scene::{self, Scene, Term, with_positions};
use roomwright::study::{self, PositionsAsked, PositionsError};
use roomwright::units::LengthUnit;
use roomwright::weigh::flat_weights;

use super::edit::read;
use super::schema::check as check_schema;
use super::support::{Folder, even_box, on_threads, run};
use super::text as pages;

/// A box of 4 x 5 x 2.7 m of a material that takes 0.2 and mirrors the rest at every angle, a seat 0.2 m aside of its middle line and two loudspeakers to all sides.
const MIXING: &str = concat!(
    even_box!("mixing", "[4, 5, 2.7]", 400, 4, 0),
    r#"[[loudspeaker]]
name = "left"
position = [1.3, 3, 1.2]
directivity = "omni"
[[loudspeaker]]
name = "right"
position = [2.3, 3, 1.2]
directivity = "omni"
[[seat]]
name = "seat"
ear = [1.8, 2, 1.2]
zone_radius = 0.1
"#
);

/// A source and a microphone in the same box, both to all sides, 0.8 m apart at unlike heights.
const VOICE: &str = concat!(
    even_box!("voice", "[5, 4, 2.7]", 200, 6, 0),
    r#"[[voice]]
name = "voice"
position = [1.5, 2, 1.5]
directivity = "omni"
[[microphone]]
name = "microphone"
position = [2.3, 2, 1.4]
"#
);

fn asked(step_m: f64) -> PositionsAsked {
    PositionsAsked { step_m: Some(step_m), ..PositionsAsked::default() }
}

fn study_of(text: &str, asked: &PositionsAsked) -> Result<PositionsStudy, PositionsError> {
    study::positions(&Progress::new(), &read(text), asked)
}

#[track_caller]
fn done(text: &str, asked: &PositionsAsked) -> PositionsStudy {
    study_of(text, asked).unwrap_or_else(|why| panic!("{why}"))
}

#[track_caller]
fn refused(text: &str, asked: &PositionsAsked) -> String {
    match study_of(text, asked) {
        Err(PositionsError::Cannot(why)) => why.to_string(),
        Err(PositionsError::Stopped(_)) => panic!("nobody stops it"),
        Ok(study) => panic!("studied at {} places", study.tried.len()),
    }
}

/// A place to the millimeter, to be found again.
fn key(place: SetPlace) -> (i64, i64, u32) {
    let [x, y] = place.middle_m.map(|meters| (1000.0 * meters).round() as i64);
    (x, y, place.turned_deg)
}

/// The box is its own mirror image across x = 2 and y = 2.5, and so is the set across the way that it faces: places that mirror each other have the same figures, and on the middle line left is
/// as loud as right. What is mirrored alone is exact; tables are in single precision.
#[test]
fn exact_mirror_images_of_places() {
    let study = done(MIXING, &asked(0.5));
    let all: BTreeMap<_, &TriedFigures> = study.tried.iter().map(|one| (key(one.place), &one.figures)).collect();
    assert!(all.len() > 40, "{} places", all.len());
    let same = |one: &TriedFigures, other: &TriedFigures| {
        let like = |figures: &TriedFigures| figures.likeness_db.map_or(f64::NAN, |value| value.value);
        let pairs = [
            (one.early_level_db.value, other.early_level_db.value),
            (one.over_criterion_db, other.over_criterion_db),
            (like(one), like(other)),
            (one.better_steps.value, other.better_steps.value),
        ];
        assert!(pairs.iter().all(|(one, other)| (one - other).abs() < 1e-3), "{pairs:?}");
    };
    let mut off_the_line = 0;
    for (&(x, y, turned), figures) in &all {
        // Across the middle line of a set that faces along y the facing stays; across that of one that faces along x, too.
        let along_y = turned % 180 == 0;
        same(figures, all[&if along_y { (4000 - x, y, turned) } else { (x, 5000 - y, turned) }]);
        // The whole room turned by half a turn.
        same(figures, all[&(4000 - x, 5000 - y, (turned + 180) % 360)]);
        let likeness = figures.likeness_db.expect("two loudspeakers").value;
        if if along_y { x == 2000 } else { y == 2500 } {
            assert!(likeness < 1e-3, "{likeness} on the middle line at {x}, {y}");
        } else {
            off_the_line += usize::from(likeness > 0.05);
        }
    }
    assert!(off_the_line > 20, "left and right are alike everywhere, so the line shows nothing");
    assert!(study.reasons[0].starts_with("Move the set") || study.reasons[0].starts_with("Stay where you are"), "{}", study.reasons[0]);
}

/// Early level of every place of the voice's grid as it is told, and by the sum of all image sources of a box: `0.8^k exp(-m d) / d^2` over those that come within 15 ms, dB.
pub(crate) fn told_and_by_hand() -> Vec<(f64, f64)> {
    let study = done(VOICE, &asked(1.0));
    let room = build(&read(VOICE), Bodies::Standing);
    let (size, weights) = (DVec3::new(5.0, 4.0, 2.7), flat_weights());
    let arrives =
        |length: f64| (room.medium.attenuation.map(|attenuation| (-attenuation * length).exp() / (length * length)) * weights).sum();
    // Images along one side: where, and after how many bounces.
    let along = |at: f64, side: f64| -> Vec<(f64, i32)> {
        let images = |n: i32| {
            let shift = 2.0 * f64::from(n) * side;
            [(shift + at, (2 * n).abs()), (shift - at, (2 * n - 1).abs())]
        };
        (-3..=3).flat_map(images).collect()
    };
    let by_hand = |place: &SetPlace| {
        let microphone = place.middle().extend(1.4);
        let turn = glam::DVec2::from_angle(f64::from(place.turned_deg).to_radians());
        let source = (place.middle() + turn.rotate(glam::DVec2::new(-0.8, 0.0))).extend(1.5);
        let direct = source.distance(microphone);
        let mut early = 0.0;
        for &(x, bounces_x) in &along(source.x, size.x) {
            for &(y, bounces_y) in &along(source.y, size.y) {
                for &(z, bounces_z) in &along(source.z, size.z) {
                    let (bounces, way) = (bounces_x + bounces_y + bounces_z, DVec3::new(x, y, z).distance(microphone));
                    if bounces > 0 && way <= direct + 0.015 * room.medium.speed {
                        early += 0.8_f64.powi(bounces) * arrives(way);
                    }
                }
            }
        }
        10.0 * (early / arrives(direct)).log10()
    };
    study.tried.iter().map(|one| (one.figures.early_level_db.value, by_hand(&one.place))).collect()
}

/// Every place against image sources by hand; they differ from place to place, so that one place told for another would show.
#[test]
fn exact_image_sources_of_a_box_at_every_place() {
    let all = told_and_by_hand();
    assert!(all.len() >= 10, "{} places", all.len());
    for (told, expected) in &all {
        assert!((told - expected).abs() < 2e-3, "{told} for {expected}");
    }
    let (low, high) = all.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| (low.min(one.1), high.max(one.1)));
    assert!(high - low > 0.5, "{low} to {high}");
}

/// Hard against a side wall, with loudspeakers that face the seat: there is a better place, its gain is more than its error, and the room with the set there is what was told.
#[test]
fn keeps_a_set_off_the_side_wall() {
    let text = MIXING
        .replace("[1.3, 3, 1.2]\ndirectivity = \"omni\"", "[0.35, 3, 1.2]\ntoward = \"seat\"")
        .replace("[2.3, 3, 1.2]\ndirectivity = \"omni\"", "[1.35, 3, 1.2]\ntoward = \"seat\"")
        .replace("ear = [1.8, 2, 1.2]", "ear = [0.85, 2, 1.2]")
        .replace("scattering = 0\n", "scattering = 0.1\n");
    let asked = asked(0.5);
    let study = done(&text, &asked);
    let best = study.suggested().expect("there is a better place");
    assert!(
        best.number == 1 && best.score_steps.value > best.half_width_steps && best.half_width_steps >= best.score_steps.half_width_95()
    );
    assert!(study.reasons[0].starts_with("Move the set so that the head at \"seat\" is"), "{}", study.reasons[0]);
    let sum: f64 = Term::ALL.into_iter().filter_map(|term| best.gains_steps[term]).map(|gain| gain.value).sum();
    assert!((sum - best.score_steps.value).abs() < 1e-9, "the score is the sum of its terms");
    for pair in study.finalists.windows(2) {
        assert!(pair[0].score_steps.value >= pair[1].score_steps.value && pair[0].number + 1 == pair[1].number);
    }
    let facings: Vec<u32> = study.finalists.iter().map(|one| one.place.turned_deg).collect();
    assert!([0, 90, 180, 270].iter().all(|facing| facings.contains(facing)), "each facing has its best: {facings:?}");
    // The moved room is told alike from there.
    let moved = study.moved(&read(&text), &asked).expect("a suggestion");
    let again = study::positions(&Progress::new(), &moved, &asked).expect("it moves");
    let early = |figures: &roomwright::plan::Figures| {
        (figures.early_level_db, figures.octave_excess_db, figures.likeness_db, figures.ringing_share)
    };
    assert_eq!(early(&again.present.figures), early(&best.figures));
    // How long a record is followed is asked at the present place.
    let [one, other] = [&again.present.figures, &best.figures].map(|figures| figures.t_mid_s.expect("a decay"));
    assert!((one.value - other.value).abs() <= one.half_width_95(), "{one:?} and {other:?}");
    assert_eq!(again.present.standing, best.standing);
    assert!(again.present.objection.is_none() && again.suggested().is_none_or(|other| other.score_steps.value < best.score_steps.value));
    // In the person's own text.
    let written = read(&with_positions(&text, &moved).expect("it reads"));
    alike(&written, &moved);
    // Measured as it stands.
    let seat = best.standing.iter().find(|part| part.kind == "seat").expect("a seat");
    let [x, y, z] = seat.point_m;
    let expected = [x.min(4.0 - x), y.min(5.0 - y)];
    let told: Vec<f64> = seat.from_walls.iter().map(|wall| wall.distance_m).collect();
    assert!(told.len() == 2 && told[0] <= told[1] && z == 1.2);
    assert!(expected.iter().all(|expected| told.iter().any(|told| (told - expected).abs() < 1e-9)), "{told:?} for {expected:?}");
}

/// Positions, aims and blocks within a nanometer.
#[track_caller]
fn alike(one: &Scene, other: &Scene) {
    let near = |one: DVec3, other: DVec3| assert!(one.distance(other) < 2e-6, "{one} for {other}");
    for (a, b) in one.sources.iter().zip(&other.sources) {
        near(a.position, b.position);
        near(a.aim, b.aim);
    }
    for (a, b) in one.seats.iter().zip(&other.seats) {
        near(a.ear, b.ear);
        near(a.facing, b.facing);
    }
    for (a, b) in one.microphones.iter().zip(&other.microphones) {
        near(a.position, b.position);
        near(a.aim, b.aim);
    }
    for (a, b) in one.blocks.iter().zip(&other.blocks) {
        near(a.center.extend(a.rotation), b.center.extend(b.rotation));
    }
}

/// Things in the box: a desk below the loudspeakers with a screen on it, a lamp over heads, a built-in pillar, a shelf far off.
const THINGS: &str = r#"
[[block]]
name = "desk"
corner = [1.2, 2.6]
base = 0.7
size = [1.2, 0.6, 0.04]
material = "even"
[[block]]
name = "screen"
center = [1.8, 3.15]
base = 0.74
size = [0.6, 0.2, 0.3]
material = "even"
[[block]]
name = "lamp"
center = [1.8, 2.5]
base = 2.2
size = [0.3, 0.3, 0.2]
material = "even"
[[block]]
name = "pillar"
center = [1.8, 2.5]
size = [0.1, 0.1, 2.7]
material = "even"
[[block]]
name = "shelf"
corner = [3.7, 4]
size = [0.3, 0.9, 1.9]
material = "even"
"#;

#[test]
fn keeps_the_set_together() {
    let more = "[[microphone]]\nname = \"over the desk\"\nposition = [1.8, 2.3, 1.3]\n[[microphone]]\nname = \"far\"\nposition = [3.5, 0.5, 1.3]\n";
    let text = format!("{MIXING}{}{more}", THINGS.replace("center = [1.8, 2.5]\nsize", "center = [1.9, 2.1]\nsize"));
    let study = done(&text, &asked(1.0));
    assert_eq!(
        study.moves,
        [
            "seat \"seat\"",
            "loudspeaker \"left\"",
            "loudspeaker \"right\"",
            "microphone \"over the desk\"",
            "block \"desk\"",
            "block \"screen\""
        ]
    );
    assert_eq!(study.stays, ["lamp", "pillar", "shelf"]);
    assert_eq!(study.middle, "the head at \"seat\"");
    let stays = PositionsAsked { stays: vec!["screen".into(), "over the desk".into()], ..asked(1.0) };
    assert_eq!(done(&text, &stays).moves.len(), 4);
    // Rigid: all distances within the set stay, and blocks turn with it.
    let scene = read(&text);
    for one in study.finalists.iter().map(|one| &one.standing) {
        for (a, b) in one.iter().zip(&study.present.standing).skip(1) {
            let way = |part: &roomwright::plan::positions::Standing, of: &[roomwright::plan::positions::Standing]| {
                DVec3::from_array(part.point_m).distance(DVec3::from_array(of[0].point_m))
            };
            assert!((way(a, one) - way(b, &study.present.standing)).abs() < 1e-9, "{}", a.name);
        }
    }
    assert_eq!(scene.blocks[0].rotation, 0.0);
    for one in &study.finalists {
        let desk = one.standing.iter().find(|part| part.name == "desk").expect("a desk");
        let turned = desk.rotation_deg.expect("a block").abs();
        assert!((turned - if one.place.turned_deg % 180 == 0 { 0.0 } else { 90.0 }).abs() < 1e-9, "{turned}");
    }
}

/// All places of the grid are told, each once, with the reason where the set does not fit; those that are tried keep what is asked.
#[test]
fn keeps_sets_off_walls_doors_and_things() {
    let door =
        "[[opening]]\nname = \"door\"\nkind = \"door\"\nsurface = \"south\"\nleft = 0.3\nwidth = 0.9\nheight = 2\nmaterial = \"even\"\n";
    let clear = "[[clearance]]\nname = \"hatch\"\nlow = [0, 3.6, 0]\nhigh = [0.9, 5, 2]\n";
    let text = format!("{MIXING}{}{door}{clear}", &THINGS[THINGS.find("[[block]]\nname = \"shelf\"").expect("a shelf")..]);
    let asked = PositionsAsked { from_walls_m: Some(0.4), ..asked(0.5) };
    let study = done(&text, &asked);
    for facing in &study.facings {
        let of = |place: &SetPlace| place.turned_deg == facing.turned_deg;
        let left_out = study.left_out.iter().filter(|out| of(&out.place)).count();
        assert_eq!(facing.places_fitting, study.tried.iter().filter(|one| of(&one.place)).count());
        assert_eq!(facing.places_fitting + left_out, facing.places, "{}", facing.wall);
    }
    assert_eq!(study.facings.iter().map(|facing| facing.wall.as_str()).collect::<Vec<_>>(), ["north", "west", "south", "east"]);
    let reasons: Vec<&str> = study.in_the_way().into_iter().map(|(reason, _)| reason).collect();
    for said in [
        "the loudspeaker \"left\" would be outside the room",
        "the loudspeaker \"left\" would be less than 0.4 m from a wall",
        "the head at \"seat\" would stand before the door \"door\"",
        "the loudspeaker \"left\" would stand in \"hatch\", which must stay clear",
        "the head at \"seat\" would stand in \"shelf\"",
    ] {
        assert!(reasons.contains(&said), "{said} in {reasons:?}");
    }
    // The door spans x = 2.8 to 3.7; 0.9 m and 0.6 m before it stay clear of the disc of 0.3 m round the head.
    for one in &study.tried {
        let [x, y] = one.place.middle_m;
        assert!((0.5..=3.5).contains(&x) && (0.5..=4.5).contains(&y));
        assert!(!(2.55..3.95).contains(&x) || y > 1.75, "before the door at {x}, {y}");
    }
    // A slope over heads, and a corner round which the direct sound does not go.
    let attic = MIXING.replace("ceiling_material = \"even\"\n", "ceiling_material = \"even\"\n[[room.ceiling]]\nname = \"level\"\nmaterial = \"even\"\nheight = 2.4\n[[room.ceiling]]\nname = \"slope\"\nmaterial = \"even\"\nheight = 0.9\nslope = [0.8, 0]\n").replace("ceiling_material = \"even\"\n", "");
    let attic = attic.replace("size = [4, 5, 2.7]", "outline = [[0, 0], [4, 0], [4, 5], [0, 5]]");
    let out: Vec<String> = done(&attic, &self::asked(0.5)).left_out.into_iter().map(|out| out.reason).collect();
    assert!(out.iter().any(|reason| reason == "the ceiling is too low over the head at \"seat\""), "{out:?}");
    let corner = VOICE
        .replace("size = [5, 4, 2.7]", "outline = [[0, 0], [5, 0], [5, 2], [2.6, 2], [2.6, 4], [0, 4]]\nheight = 2.7")
        .replace("position = [2.3, 2, 1.4]", "position = [2, 1, 1.4]")
        .replace("position = [1.5, 2, 1.5]", "position = [1, 1, 1.5]");
    let corner = corner.replace("position = [1, 1, 1.5]", "position = [0.6, 2.2, 1.5]");
    let out = done(&corner, &PositionsAsked { from_walls_m: Some(0.1), ..self::asked(0.25) }).left_out;
    assert!(out.iter().any(|out| out.reason == "the direct sound of the voice \"voice\" would not reach \"microphone\""), "{out:?}");
}

#[test]
fn keeps_what_cannot_be_moved_to_a_sentence() {
    let stays = |names: &[&str]| PositionsAsked { stays: names.iter().map(|&name| name.to_owned()).collect(), ..asked(0.5) };
    for (text, asked, said) in [
        (
            MIXING,
            stays(&["left", "right", "seat"]),
            "nothing is left to move: no source and no receiver that is judged may move; they are \"left\", \"right\", \"seat\"",
        ),
        (MIXING, stays(&["lefd"]), "there is nothing called \"lefd\" that could move along; did you mean \"left\"?"),
        (MIXING, PositionsAsked { from_walls_m: Some(2.2), ..asked(0.5) }, "the set fits at none of"),
        (MIXING, asked(0.0), "--step: expected a length of 0.02 m or more"),
        (MIXING, asked(f64::NAN), "--step"),
        (MIXING, asked(0.02), "--step: "),
        (MIXING, PositionsAsked { from_walls_m: Some(-0.1), ..asked(0.5) }, "--from-walls: expected a length of 0 m or more"),
    ] {
        let words = refused(text, &asked);
        assert!(words.contains(said), "{words}\nfor {said}");
    }
    let progress = Progress::new();
    progress.cancel();
    assert_eq!(study::positions(&progress, &read(MIXING), &asked(0.5)), Err(PositionsError::Stopped(Cancelled)));
}

#[test]
fn keeps_places_with_1_and_3_threads() {
    let text = MIXING.replace("scattering = 0\n", "scattering = 0.3\n").replace("image_order = 4", "image_order = 2");
    let json = |text: &str, threads: usize| on_threads(threads, || serde_json::to_string(&done(text, &asked(1.0))).expect("JSON"));
    let one = json(&text, 1);
    assert!(one == json(&text, 3), "threads show");
    let seeded = text.replace("format = 1", "format = 1\nseed = 2");
    assert_ne!(one, json(&seeded, 2), "the seed has no effect, so this test shows nothing");
}

/// Whatever way it is written that something points, after a turn it points as before; comments and what stays are kept.
#[test]
fn keeps_a_moved_scene_as_it_was_written() {
    let text = MIXING
        .replace("[1.3, 3, 1.2]\ndirectivity = \"omni\"", "[1.3, 3, 1.2]   # the one with the dent\naim = [1.8, 2, 1.2]")
        .replace("[2.3, 3, 1.2]\ndirectivity = \"omni\"", "[2.3, 3, 1.2]\ndirection = [-0.5, -1, 0]")
        + "[[microphone]]\nname = \"over the desk\"\nposition = [1.8, 2.3, 1.3]\naim = [1.8, 2, 1.2]\n"
        + THINGS.split("[[block]]\nname = \"lamp\"").next().expect("desk and screen");
    let scene = read(&text);
    let mut study = done(&text, &asked(1.0));
    let asked = asked(1.0);
    for (middle_m, turned_deg) in [([2.2, 2.6], 0), ([2.0, 2.5], 90), ([2.0, 2.5], 180), ([1.95, 2.25], 270)] {
        study.finalists[0].place = SetPlace { middle_m, turned_deg };
        study.finalists[0].is_better = true;
        let moved = study.moved(&scene, &asked).expect("a place");
        let text = with_positions(&text, &moved).unwrap_or_else(|why| panic!("{why}"));
        alike(&read(&text), &moved);
        assert!(text.contains("# the one with the dent") && text.contains("aim = [") && text.contains("direction = ["), "{text}");
        assert!(!text.contains("99999"), "digits that no tape can show:\n{text}");
    }
    // Something that points at what stays is turned by its direction.
    let toward = MIXING.replace("[1.3, 3, 1.2]\ndirectivity = \"omni\"", "[1.3, 3, 1.2]\ntoward = \"seat\"");
    let stays = PositionsAsked { stays: vec!["seat".into()], ..asked };
    let mut study = done(&toward, &stays);
    study.finalists[0].place = SetPlace { middle_m: [2.2, 4.0], turned_deg: 90 };
    study.finalists[0].is_better = true;
    let moved = study.moved(&read(&toward), &stays).expect("a place");
    alike(&read(&with_positions(&toward, &moved).expect("it reads")), &moved);
}

/// Pages, maps and JSON of a real study: in columns, drawings that lay out, the figures in them.
#[test]
fn keeps_pages_and_maps_of_places_legible() {
    let study = done(&format!("{MIXING}{}", THINGS.split("[[block]]\nname = \"lamp\"").next().expect("desk and screen")), &asked(0.5));
    check_schema(&study);
    for unit in LengthUnit::ALL {
        let scene = Scene { unit, ..read(MIXING) };
        let page = text::positions(&scene, &study);
        pages::keeps_its_columns(&page);
        for words in ["Bass is not computed", "Where to stand, and why", "Before you move anything", "By facing", "Where it stands now"] {
            assert!(page.contains(words), "{words} in\n{page}");
        }
        assert!(!page.contains("NaN") && !page.contains("inf"), "{page}");
    }
    let scene = read(MIXING);
    let files = report::positions_files(&scene, &study);
    let names: Vec<&str> = files.iter().map(|file| file.0.as_str()).collect();
    assert_eq!(
        names,
        ["positions.html", "positions-score.svg", "positions-reflections.svg", "positions-early-level.svg", "positions-likeness.svg"]
    );
    let page = String::from_utf8(files[0].1.clone()).expect("UTF-8");
    assert!(names[1..].iter().all(|name| page.contains(name)) && page.contains("Bass is not computed") && !page.contains("NaN"));
    for shown in Shown::ALL.into_iter().filter(|shown| shown.is_known(&study)) {
        let drawn = positions_map::svg(&scene, &study, shown);
        raster::lay_out(&drawn).expect("it is a drawing");
        assert!(drawn.contains(shown.unit()) && drawn.contains("facing north, as now") && drawn.contains("facing east"), "{drawn}");
    }
    // Nowhere better: said so, and no scene is written.
    let mut flat = study.clone();
    for one in &mut flat.finalists {
        (one.is_better, one.score_steps) = (false, Estimate { value: 0.0, se: 0.1 });
    }
    assert!(flat.suggested().is_none() && flat.moved(&scene, &asked(0.5)).is_none());
    assert!(!text::positions(&scene, &flat).contains("with a tape"));
}

#[test]
fn keeps_the_command_to_where_things_stand() {
    let folder = Folder::new("cli-positions");
    let text = MIXING.replace("[1.3, 3,", "[0.35, 3,").replace("[2.3, 3,", "[1.35, 3,").replace("ear = [1.8, 2,", "ear = [0.85, 2,");
    folder.put("box.toml", &text);
    let ran = run(&folder, &["positions", "box.toml", "--step", "0.5", "--top", "80"]);
    assert_eq!(ran.code, Some(0), "{}{}", ran.out, ran.err);
    for name in ["positions.toml", "positions.json", "positions.html", "positions-score.svg", "positions-bass.svg"] {
        assert!(ran.out.contains(name) && folder.names("out/box").iter().any(|written| written == name), "{name}:\n{}", ran.out);
    }
    assert_eq!(folder.text("box.toml"), text, "the scene is never written to");
    let (written, _) = scene::read(&folder.text("out/box/positions.toml")).expect("a scene");
    let json = run(&folder, &["positions", "box.toml", "--step", "50 cm", "--top", "80", "--json", "--threads", "1"]);
    let study: PositionsStudy = serde_json::from_str(&json.out).expect("JSON alone");
    assert_eq!(folder.text("out/box/positions.json").trim_end(), json.out.trim_end(), "the file and the output are one text");
    let best = study.suggested().expect("off the wall it is better");
    assert!(written.seats[0].ear.truncate().distance(best.place.middle()) < 1e-6);
    let before = folder.names("out/box");
    for (arguments, code, said) in [
        (&["positions", "box.toml", "--step", "far"][..], 2, "error: --step \"far\""),
        (&["positions", "box.toml", "--from-walls", "-1"], 2, "error: --from-walls: expected a length of 0 m or more"),
        (&["positions", "box.toml", "--stays", "sofa"], 2, "error: there is nothing called \"sofa\""),
        (&["positions"], 2, "Usage"),
    ] {
        let ran = run(&folder, arguments);
        assert_eq!((ran.code, ran.out.as_str()), (Some(code), ""), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
    }
    assert_eq!(folder.names("out/box"), before);
}
