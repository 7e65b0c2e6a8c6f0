//! What hangs open on both sides: where the power goes, what a ceiling behind does, faces of bodies, figures of the survey; and rules of scattering.

use glam::{DVec2, DVec3};
use proptest::prelude::*;
use roomwright::absorbers::suspended::{Side, Suspended, radius};
use roomwright::absorbers::{BuildUp, COSINE_BINS, Finish, Incidence, Layer, bin_weight, scattering};
use roomwright::bands::{Band, Bands};
use roomwright::room::{self, Bodies, Role, build};
use roomwright::scene::making::Construction;
use roomwright::scene::{Cloud, Panel, PanelPlace, Scene, StockKind};
use roomwright::study;

use crate::edit::read;
use crate::room::{panel_type, shoebox};
use crate::validation::{Check, hold};

const FAR: f64 = f64::INFINITY;

fn fiber() -> BuildUp {
    BuildUp::new([Layer::fiber(12_000.0, 0.05)])
}

fn face(side: Side, gap: f64, radius: f64) -> Suspended {
    Suspended::new(&fiber(), side, gap, radius)
}

fn layers() -> impl Strategy<Value = Vec<Layer>> {
    let layer = prop_oneof![
        (1_000.0..100_000.0_f64, 0.005..0.3_f64).prop_map(|(resistivity, thickness)| Layer::fiber(resistivity, thickness)),
        (0.001..0.3_f64).prop_map(|thickness| Layer::Air { thickness }),
        (0.05..20.0_f64).prop_map(|mass| Layer::Membrane { mass, resistance: 0.0 }),
        (0.002..0.02_f64, 0.02..0.5_f64).prop_map(|(hole, open)| Layer::Perforated { hole, open, thickness: 0.003 }),
    ];
    proptest::collection::vec(layer, 1..5)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    /// Nothing is made or lost at any face, whatever the layers, the gap, the size and the angle.
    #[test]
    fn keeps_all_power(layers in layers(), gap in 0.0..2.0_f64, radius in 0.1..3.0_f64, frequency in 20.0..10_000.0_f64, cosine in 0.0..=1.0_f64) {
        for side in [Side::Front, Side::Back] {
            for (gap, radius) in [(gap, radius), (FAR, radius), (gap, FAR), (0.0, radius)] {
                let face = Suspended::new(&BuildUp::new(layers.clone()), side, gap, radius);
                let shares = face.tone(frequency).shares(cosine);
                prop_assert!((shares.mirrored + shares.absorbed + shares.passed - 1.0).abs() < 1e-12, "{shares:?}");
                prop_assert!([shares.mirrored, shares.absorbed, shares.passed].into_iter().all(|share| (-1e-12..=1.0 + 1e-12).contains(&share)), "{shares:?}");
                prop_assert!(face.reflection_factor(frequency, cosine).norm() <= 1.0 + 1e-9);
            }
        }
    }

    /// Far from any wall and without end, the three shares are those of the layers themselves, and both ways as much passes.
    #[test]
    fn exact_shares_without_end(layers in layers(), frequency in 50.0..8_000.0_f64, cosine in 0.02..=1.0_f64) {
        let build_up = BuildUp::new(layers).suspended();
        let sides = [Side::Front, Side::Back].map(|side| Suspended::new(&build_up, side, FAR, FAR).tone(frequency).shares(cosine));
        for (shares, layers) in sides.iter().zip([build_up.clone(), build_up.clone().reversed()]) {
            prop_assert!((shares.mirrored - layers.reflection_factor(frequency, cosine).norm_sqr()).abs() < 1e-8);
            prop_assert!((shares.passed - layers.transmission_factor(frequency, cosine).norm_sqr()).abs() < 1e-8);
            prop_assert!((shares.absorbed - layers.absorption(frequency, cosine)).abs() < 1e-8);
        }
        prop_assert!((sides[0].passed - sides[1].passed).abs() < 1e-8);
    }
}

/// The table that rays meet: mirrored what the layers mirror, less what their surface scatters; absorbed what they absorb; all else scattered. A small outline scatters of the mirrored share alone.
#[test]
fn exact_balance_of_the_table() {
    let face = face(Side::Front, 0.4, 0.4);
    let finish = Finish::suspended("cloud", &face, Bands::splat(0.1));
    let edged = finish.with_edge(Bands::splat(0.5));
    for band in Band::ALL {
        let mean = |of: &[Bands<f32>]| (0..COSINE_BINS).map(|bin| bin_weight(bin) * f64::from(of[bin][band])).sum::<f64>();
        let (mirrored, scattered) = (mean(&finish.specular), mean(&finish.diffuse));
        let shares: Vec<_> =
            roomwright::absorbers::average::octave_frequencies(band, 9).map(|frequency| face.tone(frequency).diffuse()).collect();
        let of = |what: fn(&roomwright::absorbers::suspended::Shares) -> f64| shares.iter().map(what).sum::<f64>() / 9.0;
        assert!((mirrored - 0.9 * of(|shares| shares.mirrored)).abs() < 1e-6);
        assert!((mirrored + scattered + of(|shares| shares.absorbed) - 1.0).abs() < 1e-6);
        assert!((finish.absorption[band] - of(|shares| shares.absorbed)).abs() < 1e-9);
        assert!((finish.passed[band] - of(|shares| shares.passed)).abs() < 1e-9);
        assert!((finish.scattered(band) - scattered / (mirrored + scattered)).abs() < 1e-6);
        assert!((mean(&edged.specular) - 0.5 * mirrored).abs() < 1e-6);
        assert!((mean(&edged.specular) + mean(&edged.diffuse) - mirrored - scattered).abs() < 1e-6);
    }
    // The first sound comes with the complex factor of the face.
    for (frequency, cosine) in [(150.0, 0.9), (700.0, 0.5), (3_000.0, 0.7)] {
        let off = finish.reflector(cosine).factor(frequency) - face.reflection_factor(frequency, cosine) * 0.9_f64.sqrt();
        assert!(off.norm() < 1e-12);
    }
}

/// A gap that closes ends as the flush panel, whose back takes nothing; a wall far away as free air.
#[test]
fn exact_ends_of_the_gap() {
    for frequency in [100.0, 500.0, 2_000.0] {
        for cosine in [0.3, 0.8, 1.0] {
            let shares = face(Side::Front, 1e-9, 0.4).tone(frequency).shares(cosine);
            assert!((shares.absorbed - fiber().absorption(frequency, cosine)).abs() < 1e-6 && shares.passed < 1e-6, "{shares:?}");
            assert_eq!(face(Side::Back, 1e-9, 0.4).tone(frequency).shares(cosine).mirrored, 1.0);
            for side in [Side::Front, Side::Back] {
                let near = face(side, 1e6, 0.4).tone(frequency).shares(cosine);
                let free = face(side, FAR, 0.4).tone(frequency).shares(cosine);
                assert!((near.absorbed - free.absorbed).abs() < 1e-6 && (near.mirrored - free.mirrored).abs() < 1e-12);
            }
        }
    }
}

/// Which of both pictures is right, by wavelength. Layers, gap and rigid wall are exact for a panel without end. Under a quarter of a wavelength free air behind would be wrong, and the front is that
/// build-up; well above, its octave mean is what the layers take on their way there and back out of step, and what both sides together can take is within a fifth of it.
#[test]
fn exact_side_of_a_quarter_of_a_wavelength() {
    let mut compared = [0; 2];
    for gap in [0.05, 0.15, 0.3, 0.6, 1.0] {
        let exact = BuildUp::panel(12_000.0, 0.05, gap).octaves(Incidence::Diffuse);
        let [front, back] =
            [Side::Front, Side::Back].map(|side| Finish::suspended("", &face(side, gap, FAR), Bands::splat(0.0)).absorption);
        let free = Finish::suspended("", &face(Side::Front, FAR, FAR), Bands::splat(0.0));
        for band in Band::ALL {
            let quarter = 343.2 / (4.0 * gap);
            if band.upper() < quarter / 1.5 {
                assert!((front[band] - exact[band]).abs() < 1e-9 && back[band] == 0.0, "{gap} {}", band.label());
                compared[0] += 1;
            }
            if band.upper() < quarter / 8.0 {
                assert!(free.absorption[band] > 1.5 * exact[band], "{gap} {}: {} {}", band.label(), free.absorption[band], exact[band]);
            }
            if band.lower() > 2.0 * quarter {
                // In and out of the gap with all phases: what passes is absorbed on its second way, or leaves.
                let (absorbed, passed) = (free.absorption[band], free.passed[band]);
                let twice = absorbed + passed * absorbed / (absorbed + passed);
                assert!((exact[band] - twice).abs() < 0.04, "{gap} {}: {} and {twice}", band.label(), exact[band]);
                assert!((front[band] - absorbed).abs() < 1e-9);
                let both = front[band] + back[band];
                assert!(both > 0.95 * twice, "{gap} {}: {both} and {twice}", band.label());
                compared[1] += 1;
            }
        }
    }
    assert!(compared[0] > 8 && compared[1] > 8, "{compared:?}");
}

fn with_cloud(height: f64, underside: f64) -> Scene {
    let mut scene = shoebox(5.0, 4.0, height);
    let mut kind = panel_type("cloud", StockKind::Cloud);
    kind.core = roomwright::scene::Core::porous(12_000.0);
    kind.made = Some(Construction::Bought);
    scene.stock = vec![kind];
    let cloud = Cloud { panels: [2, 1], ..Cloud::level(DVec2::new(2.5, 2.0), underside, false) };
    scene.panels = vec![Panel { kind: "cloud".into(), place: PanelPlace::Cloud(cloud) }];
    scene
}

/// Its underside is the front, its top the back, its rim the edges, each with its own finish; the gap is measured from the top.
#[test]
fn exact_faces_of_a_cloud() {
    let scene = with_cloud(2.8, 2.2);
    let room = build(&scene, Bodies::Standing);
    let finish = |name: &str| {
        let surface = room.surfaces.iter().find(|surface| surface.name == name).unwrap_or_else(|| panic!("{name}"));
        (&room.finishes[surface.finish], surface.edge_scattering)
    };
    for (name, side) in [("cloud 1, underside", Side::Front), ("cloud 1, top", Side::Back)] {
        let (found, edge) = finish(name);
        let expected = Finish::suspended("cloud", &face(side, 0.55, radius(2.4, 0.6)), Bands::splat(0.1)).with_edge(edge);
        assert!(found.absorption.0.iter().zip(expected.absorption.0).all(|(a, b)| (a - b).abs() < 1e-9), "{name}");
        assert_eq!(found.specular.len(), expected.specular.len());
        assert!((f64::from(found.specular[40][Band::new(3)]) - f64::from(expected.specular[40][Band::new(3)])).abs() < 1e-6, "{name}");
    }
    let (edge, _) = finish("cloud 1, left edge");
    assert_eq!(edge.absorption, Finish::of("", &fiber(), Bands::splat(0.1)).absorption);
    // In a frame they take nothing, and all of its faces take as much less.
    let mut framed = with_cloud(2.8, 2.2);
    framed.stock[0].made = None;
    let figures = |scene: &Scene| study::survey(scene).suspended.remove(1);
    let (bare, closed) = (figures(&scene), figures(&framed));
    for band in Band::ALL {
        assert_eq!(closed.edges_m2[band], 0.0);
        assert!((bare.absorption_m2[band] - bare.edges_m2[band] - closed.absorption_m2[band]).abs() < 1e-12);
        assert!((bare.flush_m2[band] - bare.edges_m2[band] - closed.flush_m2[band]).abs() < 1e-12);
    }
    // What is flush under the ceiling has no back.
    let high = build(&with_cloud(2.8, 2.75), Bodies::Standing);
    assert!(high.surfaces.iter().all(|surface| surface.name != "cloud 1, top"));
    let under = high.surfaces.iter().find(|surface| surface.name == "cloud 1, underside").expect("its front");
    assert!((high.finishes[under.finish].absorption[Band::new(3)] - fiber().octaves(Incidence::Diffuse)[Band::new(3)]).abs() < 1e-3);
}

/// A tilted cloud takes the gap at its middle; under a slope it is square to it.
#[test]
fn exact_gap_of_what_leans() {
    let gap = |scene: &Scene| {
        let room = build(scene, Bodies::Standing);
        room::open_gap(&room.surfaces, &scene.stock[0], &scene.panels[0]).expect("a cloud")
    };
    let mut scene = with_cloud(2.8, 2.2);
    let PanelPlace::Cloud(cloud) = &mut scene.panels[0].place else { panic!() };
    cloud.tilt = DVec2::new(10.0, 0.0);
    assert!((gap(&scene) - (0.6 - 0.05 * 10.0_f64.to_radians().cos())).abs() < 1e-9);
    let mut scene = with_cloud(2.8, 2.2);
    scene.ceiling[0].slope = DVec2::new(0.0, 0.2);
    let plumb = 2.8 + 0.2 * 2.0 - 2.25;
    assert!((gap(&scene) - plumb / 1.04_f64.sqrt()).abs() < 1e-9);
}

/// A free-standing panel with air behind is as deep as it is thick, and its back is met.
#[test]
fn exact_body_of_a_free_standing_panel() {
    let mut scene = shoebox(5.0, 4.0, 2.5);
    let mut kind = panel_type("screen", StockKind::FreeStanding);
    kind.core = roomwright::scene::Core::porous(12_000.0);
    scene.stock = vec![kind];
    let standing = |gap: f64| Panel {
        kind: "screen".into(),
        place: PanelPlace::Surface { surface: "wall 3".into(), left: 1.0, bottom: 0.0, lying: false, gap },
    };
    scene.panels = vec![standing(0.6)];
    let room = build(&scene, Bodies::Standing);
    assert!((room.volume - (5.0 * 4.0 * 2.5 - 0.6 * 1.2 * 0.05)).abs() < 1e-9);
    let wall = room.surfaces.iter().find(|surface| surface.name == "wall 3").expect("a wall").chart;
    for (name, height, facing) in [("screen 1, front", 0.65, 1.0), ("screen 1, back", 0.6, -1.0)] {
        let face = room.surfaces.iter().find(|surface| surface.name == name).unwrap_or_else(|| panic!("{name}"));
        assert!((wall.height(face.chart.origin) - height).abs() < 1e-9 && face.chart.normal.distance(wall.normal * facing) < 1e-9);
        assert!(room.finishes[face.finish].absorption[Band::new(3)] > 0.3);
    }
    let behind: DVec3 = wall.point(DVec2::new(1.3, 0.6)) + wall.normal * 0.3;
    assert!(room.contains(behind), "air behind it");
    // Against the wall it is what it was: a box without a back.
    scene.panels = vec![standing(0.0)];
    assert!(build(&scene, Bodies::Standing).surfaces.iter().all(|surface| surface.name != "screen 1, back"));
}

/// What the survey tells: per panel, front, back and edges as traced; flush beside it; clouds in stock far from any surface.
#[test]
fn exact_figures_of_clouds() {
    let scene = with_cloud(2.8, 2.2);
    let survey = study::survey(&scene);
    let [stock, hung] = &survey.suspended[..] else { panic!("{:?}", survey.suspended) };
    assert_eq!((stock.name.as_str(), stock.hung, stock.gap_m, stock.panels), ("cloud", false, None, 1));
    assert_eq!((hung.name.as_str(), hung.hung, hung.panels), ("cloud 1", true, 2));
    assert!((hung.gap_m.expect("a ceiling") - 0.55).abs() < 1e-9);
    let room = build(&scene, Bodies::Standing);
    for band in Band::ALL {
        let faces = room.surfaces.iter().filter(|surface| surface.role == Role::Panel(0));
        let traced =
            faces.map(|surface| (surface.name.ends_with("top"), surface.outline.area() * room.finishes[surface.finish].absorption[band]));
        let (back, rest): (Vec<_>, Vec<_>) = traced.partition(|(is_back, _)| *is_back);
        let [back, rest] = [back, rest].map(|faces| faces.iter().map(|(_, area)| area).sum::<f64>());
        // Through the open sides of the gap, 6 m of 0.55 m.
        let expected = rest + 1.0 / (1.0 / back.max(1e-12) + 1.0 / (6.0 * 0.55));
        assert!((2.0 * hung.absorption_m2[band] - expected).abs() < 1e-9, "{}", band.label());
        let parts = hung.front_m2[band] + hung.back_m2[band] + hung.edges_m2[band];
        assert!((parts - hung.absorption_m2[band]).abs() < 1e-12);
        let flush = fiber().octaves(Incidence::Diffuse)[band];
        assert!((stock.flush_m2[band] - flush * (0.72 + 3.6 * 0.05)).abs() < 1e-9);
        // A wide cloud has fewer edges a panel, and less goes round it.
        assert!(hung.edges_m2[band] < stock.edges_m2[band]);
    }
    // Hung free a panel takes more than flush where its thickness is small against the wavelength, and at most twice where it is not.
    assert!(stock.absorption_m2[Band::new(2)] > 1.5 * stock.flush_m2[Band::new(2)]);
    assert!(stock.absorption_m2[Band::new(7)] < 2.0 * stock.flush_m2[Band::new(7)]);
}

/// The mean of `1 - sinc^2` at a quarter of a wavelength, `k h = pi / 2`.
pub(crate) fn quarter_of_a_wavelength() -> Check {
    let depth = 343.2 / Band::new(4).center() / 4.0;
    Check {
        what: "wide steps a quarter of a wavelength deep, 1 kHz: scattered, of all they can".to_owned(),
        ours: scattering::steps(depth, 100.0)[Band::new(4)] / scattering::FULL,
        expected: 1.0 - 4.0 / std::f64::consts::PI.powi(2) * (std::f64::consts::PI.ln() + 0.577_216 - 0.073_67),
        tolerance: 0.03,
        why: "mean over an octave for that at its middle",
        source: "mean of 1 - sinc^2: 1 - (4 / pi^2) (ln pi + 0.5772 - Ci(pi)); Ci: Abramowitz and Stegun, table 5.1 (from memory)",
    }
}

/// Steps scatter nothing far below their depth and all they can far above; half a wavelength deep nearly all; nothing where the row is narrower than half a wavelength.
#[test]
fn exact_rules_of_scattering() {
    let wide = |depth: f64| scattering::steps(depth, 100.0);
    for band in Band::ALL {
        let length = 343.2 / band.center();
        assert!(wide(length / 50.0)[band] < 0.01 * scattering::FULL);
        let [eighth, quarter, half] = [8.0, 4.0, 2.0].map(|part| wide(length / part)[band] / scattering::FULL);
        assert!(eighth < 0.2 && (0.3..0.4).contains(&quarter) && half > 0.65, "{eighth} {quarter} {half}");
        assert!(scattering::steps(1.0, length / 4.0)[band] == 0.0);
        assert!((scattering::slots(0.15 * length * 100.0, 0.15)[band] - 0.15).abs() < 0.01, "of wide slats what is open");
        assert_eq!(scattering::slots(0.15 * length / 4.0, 0.15)[band], 0.0);
    }
    hold(&[quarter_of_a_wavelength()]);
}

/// The rule of a type of panel, and that the scene's word wins.
#[test]
fn keeps_what_the_scene_says_of_scattering() {
    let text = include_str!("../scenes/l-shaped-rehearsal-room.toml");
    let given = read(text);
    let diffuser = |scene: &Scene| scene.stock.iter().position(|kind| kind.kind == StockKind::Diffuser).expect("it has one");
    let index = diffuser(&given);
    assert_eq!(given.stock[index].scattering(), Bands([0.05, 0.1, 0.25, 0.5, 0.75, 0.85, 0.85, 0.85]));
    let survey = study::survey(&given);
    assert_eq!(survey.stock[index].scattering_source, "the scene");
    let without = read(&text.replace("scattering = [0.05, 0.1, 0.25, 0.5, 0.75, 0.85, 0.85, 0.85]", ""));
    let by_rule = &study::survey(&without).stock[index];
    assert!(by_rule.scattering_source.starts_with("a rule without a measurement: steps up to"), "{}", by_rule.scattering_source);
    assert!(by_rule.scattering[Band::new(0)] < 0.15 && by_rule.scattering[Band::new(7)] > 0.7, "{:?}", by_rule.scattering);
    let mut slats = panel_type("slats", StockKind::Panel);
    assert_eq!(slats.scattering(), Bands::splat(0.1));
    slats.facing = Some(roomwright::scene::Facing::Slotted { slot: 0.03, open: 0.3, thickness: 0.02 });
    // A period of 100 mm: nothing more below 1.7 kHz, 1 - 0.9 * 0.7 where all angles find another direction.
    let scattering = slats.scattering();
    assert!((scattering[Band::new(3)] - 0.1).abs() < 1e-12 && (scattering[Band::new(7)] - 0.37).abs() < 1e-3, "{scattering:?}");
}
