//! The early window weighed again and again, against the same weighed whole and against what `hear` finds.

use roomwright::findings::{Findings, Reflection};
use roomwright::geometry::Polygon;
use roomwright::hanging;
use roomwright::progress::Progress;
use roomwright::scene::{self, Activity, Cloud, Panel, PanelPlace, Scene};
use roomwright::study::{self, EarlyFindings, Live, MapChoice, Quantity, same_judgement, same_room};
use roomwright::weigh::Traced;

use super::scenes::shipped;

/// Few rays: what is compared rests on the same ones.
const RAYS: u32 = 4000;

/// The attic with three panels hung and one cloud.
fn attic() -> Scene {
    let (_, text) = shipped().into_iter().find(|(name, _)| name == "attic-voice-room").expect("it is shipped");
    let flat = |surface: &str, left: f64, bottom: f64| Panel {
        kind: "wall panel".into(),
        place: PanelPlace::Surface { surface: surface.into(), left, bottom, lying: false, gap: 0.05 },
    };
    let cloud = PanelPlace::Cloud(Cloud::level(glam::DVec2::new(2.4, 3.6), 2.2, false));
    let panels = [flat("east", 0.8, 0.7), flat("north", 2.0, 0.6), flat("north", 3.2, 0.6), Panel { kind: "cloud".into(), place: cloud }];
    let hung = scene::with_panels(&text, &panels).unwrap_or_else(|refused| panic!("{refused}"));
    scene::read(&hung).expect("an editor's text reads").0
}

fn traced(scene: &Scene) -> Traced {
    study::trace_for_trials(&Progress::new(), scene, RAYS).expect("nobody cancels")
}

fn moved(scene: &Scene, panel: usize, by: f64) -> Scene {
    let mut scene = scene.clone();
    let PanelPlace::Surface { left, .. } = &mut scene.panels[panel].place else { panic!("panel {panel} is not flat") };
    *left += by;
    scene
}

/// The early window of a layout, weighed whole.
fn whole(traced: &Traced, scene: &Scene) -> EarlyFindings {
    Live::new(&Progress::new(), traced).and_then(|mut live| live.early(&Progress::new(), scene)).expect("nobody cancels")
}

/// Sums of the same terms in another order: a few in 10^7 of stored single precision.
#[track_caller]
fn expect_same(one: &EarlyFindings, other: &EarlyFindings) {
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-4, "{a} {b}");
    close(one.level_db.value, other.level_db.value);
    close(one.level_db.se, other.level_db.se);
    assert_eq!(one.pairs.len(), other.pairs.len());
    for (one, other) in one.pairs.iter().zip(&other.pairs) {
        close(one.level_db.value, other.level_db.value);
        close(one.level_db.se, other.level_db.se);
        assert_eq!((one.source, one.receiver, one.excess_db), (other.source, other.receiver, other.excess_db));
        assert_eq!(one.reflections, other.reflections);
    }
}

#[test]
fn keeps_the_early_window_of_a_moved_panel_as_weighed_whole() {
    let scene = attic();
    let traced = traced(&scene);
    let mut live = Live::new(&Progress::new(), &traced).unwrap();
    let before = live.early(&Progress::new(), &scene).unwrap();
    for step in 1..=5 {
        for panel in 0..3 {
            let there = moved(&scene, panel, 0.07 * f64::from(step));
            let after = live.early(&Progress::new(), &there).unwrap();
            expect_same(&after, &whole(&traced, &there));
        }
    }
    // Off the mirror point of the right loudspeaker.
    let away = live.early(&Progress::new(), &moved(&scene, 0, 0.8)).unwrap();
    assert!(away.level_db.value > before.level_db.value + 0.05, "{:?} {:?}", away.level_db, before.level_db);
    expect_same(&live.early(&Progress::new(), &scene).unwrap(), &before);
    let bare = Scene { panels: scene.panels[3..].to_vec(), ..scene.clone() };
    let bare = live.early(&Progress::new(), &bare).unwrap();
    assert!(bare.level_db.value > before.level_db.value + 0.3, "three panels take {} dB", bare.level_db.value - before.level_db.value);
}

#[test]
fn keeps_the_early_window_as_hear_finds_it() {
    let scene = attic();
    let traced = traced(&scene);
    let hanging = hanging::from_panels(&scene, &traced.room, &scene.panels);
    let findings: Findings = study::study(&Progress::new(), &scene, &traced, &hanging).unwrap();
    let early = whole(&traced, &scene);
    assert_eq!(early.pairs.len(), findings.pairs.len());
    for (early, found) in early.pairs.iter().zip(&findings.pairs) {
        assert_eq!(
            (&traced.room.sources[early.source].name, &traced.room.receivers[early.receiver].name),
            (&found.source, &found.receiver)
        );
        assert_eq!((early.level_db, early.excess_db), (found.early_level_db, found.early_excess_db));
        // What inputs move is left to `hear`.
        let plain: Vec<Reflection> = found.reflections.iter().map(|one| Reflection { level_inputs_db: None, ..one.clone() }).collect();
        assert_eq!(early.reflections, plain);
    }
}

#[test]
fn keeps_earnings_what_is_lost_by_taking_a_panel_down() {
    let scene = attic();
    let traced = traced(&scene);
    let live = Live::new(&Progress::new(), &traced).unwrap();
    let earnings = live.earnings(&Progress::new(), &scene).unwrap();
    assert_eq!(earnings.iter().map(Option::is_some).collect::<Vec<_>>(), [true, true, true, false]);
    let with = whole(&traced, &scene).level_db.value;
    for (panel, earning) in earnings[..3].iter().enumerate() {
        let mut without = scene.clone();
        without.panels.remove(panel);
        // The cloud is still the room's fourth panel; only flat ones are looked at here.
        let lost = whole(&traced, &without).level_db.value - with;
        assert!((lost - earning.unwrap().value).abs() < 1e-4, "{lost} {earning:?}");
    }
}

/// While a panel is dragged its earning is that of where it is now, from the layout that was weighed by what it differs in, within rounding.
#[test]
fn keeps_the_earning_of_a_panel_that_is_dragged() {
    let mut scene = attic();
    let traced = traced(&scene);
    let mut live = Live::new(&Progress::new(), &traced).unwrap();
    assert_eq!(live.earning(&scene, 0), None, "nothing was weighed yet");
    let mut seen = Vec::new();
    for step in 0..3 {
        let PanelPlace::Surface { bottom, .. } = &mut scene.panels[0].place else { panic!("it hangs flat") };
        *bottom += 0.2 * f64::from(step);
        live.early(&Progress::new(), &scene).unwrap();
        let (own, all) = (live.earning(&scene, 0).unwrap(), live.earnings(&Progress::new(), &scene).unwrap());
        let expected = all[0].unwrap();
        assert!((own.value - expected.value).abs() < 1e-5 && (own.se - expected.se).abs() < 1e-5, "{own:?} {expected:?}");
        seen.push(own.value);
    }
    assert!((seen[0] - seen[2]).abs() > 0.01, "it earns the same everywhere, so little is compared: {seen:?}");
    assert_eq!((live.earning(&scene, 3), live.earning(&scene, 99)), (None, None), "a body of the room; no panel");
}

#[test]
fn keeps_the_map_of_earnings_what_a_panel_there_takes_off() {
    let mut scene = attic();
    scene.panels.clear();
    let traced = traced(&scene);
    let live = Live::new(&Progress::new(), &traced).unwrap();
    let kind = scene.stock[study::usual_panel(&scene).unwrap()].clone();
    let choice = MapChoice { quantity: Quantity::Earning, source: None, octave: None };
    let maps = live.map(&Progress::new(), &scene, &kind, choice).unwrap();
    let bare = whole(&traced, &scene).level_db.value;
    let mut tried = 0;
    for map in &maps {
        let surface = &traced.room.surfaces[map.surface];
        let finite = map.values.iter().enumerate().filter(|(_, value)| value.is_finite());
        let Some((patch, &value)) = finite.max_by(|a, b| a.1.total_cmp(b.1)) else { continue };
        let center = map.origin + map.patch_m * (glam::DVec2::new((patch % map.columns) as f64, (patch / map.columns) as f64) + 0.5);
        let hung = [false, true].into_iter().find_map(|lying| {
            let size = if lying { glam::DVec2::new(kind.size.y, kind.size.x) } else { kind.size };
            let low = ((center - size / 2.0) / 0.01).round() * 0.01;
            let place = PanelPlace::Surface { surface: surface.name.clone(), left: low.x, bottom: low.y, lying, gap: kind.gap };
            let region = Polygon::rectangle(low, low + size);
            let panel = Panel { kind: kind.name.clone(), place };
            let inside = region.corners.iter().all(|&corner| surface.outline.contains(corner));
            inside.then(|| Scene { panels: vec![panel], ..scene.clone() })
        });
        let hung = hung.unwrap();
        let earned = bare - whole(&traced, &hung).level_db.value;
        // Where it does not fit upright it may fit lying, which is not tried here.
        tried += usize::from((earned - value).abs() < 1e-4);
    }
    assert!(tried >= 4, "{tried} of {} maps", maps.len());
}

#[test]
fn keeps_maps_of_one_source_apart() {
    let scene = attic();
    let traced = traced(&scene);
    let live = Live::new(&Progress::new(), &traced).unwrap();
    let kind = &scene.stock[study::usual_panel(&scene).unwrap()];
    for quantity in [Quantity::Early, Quantity::Clarity, Quantity::Late] {
        let map = |source| live.map(&Progress::new(), &scene, kind, MapChoice { quantity, source, octave: None }).unwrap();
        let (both, left, right) = (map(None), map(Some(0)), map(Some(1)));
        assert_eq!(both.len(), traced.room.surfaces.len());
        assert_ne!(left, right);
        let sum =
            |maps: &[roomwright::plan::SurfaceMap]| -> f64 { maps.iter().flat_map(|map| &map.values).filter(|v| v.is_finite()).sum() };
        assert!(sum(&both) > 0.0 && sum(&left) > 0.0 && sum(&right) > 0.0, "absorber earns somewhere");
        assert!(map(Some(2)).is_empty(), "there is no third source");
    }
    // An octave at a time: of one pair the weighted map is a mean of those of the octaves, and one panel covers some of the map of the decay.
    let map = |quantity, octave| live.map(&Progress::new(), &scene, kind, MapChoice { quantity, source: Some(0), octave }).unwrap();
    let values = |maps: Vec<roomwright::plan::SurfaceMap>| -> Vec<f64> { maps.into_iter().flat_map(|map| map.values).collect() };
    let octaves = MapChoice::octaves(Quantity::Early, 200.0);
    assert_eq!(octaves.iter().map(|octave| octave.nominal()).collect::<Vec<_>>(), [1000, 2000, 4000, 8000]);
    let (weighted, single) =
        (values(map(Quantity::Early, None)), octaves.iter().map(|&octave| values(map(Quantity::Early, Some(octave)))).collect::<Vec<_>>());
    for (patch, value) in weighted.iter().enumerate().filter(|(_, value)| value.is_finite()) {
        let (low, high) =
            single.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), map| (low.min(map[patch]), high.max(map[patch])));
        assert!((low - 1e-6..high + 1e-6).contains(value), "{low} {value} {high}");
    }
    assert_ne!(single[0], single[3]);
    for octave in [None, MapChoice::octaves(Quantity::Late, 200.0).pop()] {
        let most = |quantity| values(map(quantity, octave)).into_iter().filter(|value| value.is_finite()).fold(0.0, f64::max);
        let (by_area, by_panel) = (most(Quantity::Late), most(Quantity::LateEarning));
        assert!(by_panel > 0.0 && by_panel <= 1.001 * by_area * kind.size.x * kind.size.y, "{by_panel} {by_area}");
    }
    // All that can be asked for at once is what each is by itself, but for the order in which `f32` sums are taken.
    let octave = |quantity| MapChoice::octaves(quantity, 200.0).pop();
    let quantities = [Quantity::Late, Quantity::Early, Quantity::Clarity, Quantity::LateEarning];
    let choices: Vec<MapChoice> = (quantities.iter())
        .flat_map(|&quantity| [(None, None), (Some(1), octave(quantity)), (Some(2), None)].map(|choice| (quantity, choice)))
        .map(|(quantity, (source, octave))| MapChoice { quantity, source, octave })
        .collect();
    let together = live.maps(&Progress::new(), &scene, kind, &choices).unwrap();
    for (choice, maps) in choices.into_iter().zip(together) {
        let alone = live.map(&Progress::new(), &scene, kind, choice).unwrap();
        assert_eq!(maps.is_empty(), choice.source == Some(2), "{choice:?}");
        let (maps, alone) = (values(maps), values(alone));
        let most = alone.iter().copied().filter(|value| value.is_finite()).fold(0.0, f64::max);
        let near = |(a, b): (&f64, &f64)| (a - b).abs() <= 1e-5 * most || a.is_nan() && b.is_nan();
        assert!(maps.len() == alone.len() && maps.iter().zip(&alone).all(near), "{choice:?}");
    }
    let spots = live.hot_spots(&scene, kind);
    assert!(!spots.is_empty() && spots.windows(2).all(|two| two[0].level_db >= two[1].level_db));
}

#[test]
fn keeps_paths_only_where_they_hold() {
    let scene = attic();
    let change = |change: &dyn Fn(&mut Scene)| {
        let mut other = scene.clone();
        change(&mut other);
        assert_ne!(other, scene);
        same_room(&scene, &other)
    };
    assert!(same_room(&scene, &scene));
    assert!(change(&|scene| scene.panels[0].place = scene.panels[1].place.clone()));
    assert!(change(&|scene| scene.name = "Other".into()));
    assert!(change(&|scene| scene.stock[0].count -= 1));
    assert!(change(&|scene| scene.stock[0].count = 0));
    assert!(change(&|scene| scene.stock[0].price = None));
    let added = |scene: &mut Scene| scene.panels.push(scene.panels[0].clone());
    assert!(change(&added));
    assert!(!change(&|scene| scene.sources[0].position.x += 0.1));
    assert!(!change(&|scene| scene.seats[0].zone_radius = 0.2));
    assert!(!change(&|scene| scene.blocks[0].base += 0.01));
    assert!(!change(&|scene| scene.walls[0].material = scene.floor_material.clone()));
    assert!(!change(&|scene| scene.settings.seed += 1));
    let lower = |scene: &mut Scene| {
        let PanelPlace::Cloud(cloud) = &mut scene.panels[3].place else { panic!() };
        cloud.underside -= 0.1;
    };
    assert!(!change(&lower), "a cloud is geometry");
    let tilted = |scene: &mut Scene| {
        let PanelPlace::Cloud(cloud) = &mut scene.panels[3].place else { panic!() };
        cloud.tilt.y = 5.0;
    };
    assert!(!change(&tilted));
    // What the room is for, and what must stay clear, sends no sound elsewhere.
    let used = |scene: &mut Scene| scene.activity = Activity::Rehearsal;
    assert!(change(&used) && change(&|scene| scene.clearances.clear()) && change(&|scene| scene.tape_tolerance.0 *= 2.0));
    let judged = |change: &dyn Fn(&mut Scene)| {
        let mut other = scene.clone();
        change(&mut other);
        same_judgement(&scene, &other)
    };
    assert!(judged(&|scene| scene.clearances.clear()) && !judged(&used) && !judged(&|scene| scene.tape_tolerance.0 *= 2.0));
    let first = |scene: &mut Scene| {
        scene.panels.remove(0);
    };
    assert!(!change(&first), "the faces of the cloud say it is the fourth panel");
}
