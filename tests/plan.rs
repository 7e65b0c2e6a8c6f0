//! The plan on the repository's scenes: legal, within the stock, better than bare, and again a scene.

use std::sync::LazyLock;

use roomwright::progress::Progress;
use roomwright::scene::{self, Scene, Term};
use roomwright::settings::Settings;
use roomwright::study::{self, Placement};

const SCENES: [(&str, &str); 3] = [
    ("attic", include_str!("../scenes/attic-voice-room.toml")),
    ("basement", include_str!("../scenes/basement-mix-room.toml")),
    ("l-shaped", include_str!("../scenes/l-shaped-rehearsal-room.toml")),
];

fn read(text: &str) -> Scene {
    let (mut scene, _) = scene::read(text).unwrap_or_else(|found| panic!("{found:?}"));
    scene.settings = Settings { rays: 4_000, leaders: 6, rounds: 1, patch_m: 0.2, ..scene.settings };
    scene
}

/// Each of them with its name, its text and its plan.
static PLANNED: LazyLock<[(&str, &str, Scene, Placement); 3]> = LazyLock::new(|| {
    SCENES.map(|(name, text)| {
        let scene = read(text);
        let placement = study::place(&Progress::new(), &scene).expect("nobody cancels");
        (name, text, scene, placement)
    })
});

#[test]
fn keeps_plans_legal_and_within_the_stock() {
    for (name, text, scene, placement) in PLANNED.iter() {
        let plan = &placement.plan;
        assert!(!plan.placed.is_empty(), "{name}: nothing was hung");
        let placed = &placement.pictures.panels[scene.panels.len()..];
        assert_eq!(placed.len(), plan.placed.len(), "{name}");
        for kind in &scene.stock {
            let used = placed.iter().filter(|panel| panel.kind == kind.name).count() as u32;
            let left = plan.left_over.iter().find(|(other, _)| *other == kind.name).map_or(0, |(_, left)| *left);
            assert_eq!(used + left, kind.count, "{name}: {}", kind.name);
        }
        // The plan is a scene: it reads without a mistake, with what was hung taken off the stock.
        let written = scene::with_panels(text, placed).unwrap_or_else(|refused| panic!("{name}: {refused}"));
        let (again, _) = scene::read(&written).unwrap_or_else(|found| panic!("{name}: {found:?}"));
        assert_eq!(again.panels.len(), scene.panels.len() + placed.len(), "{name}");
        let counts = |scene: &Scene| scene.stock.iter().map(|kind| kind.count).sum::<u32>();
        assert_eq!(counts(&again) + placed.len() as u32, counts(scene), "{name}");
    }
}

#[test]
fn keeps_the_plan_better_than_bare_on_a_fresh_trace() {
    for (name, _, _, Placement { plan, .. }) in PLANNED.iter() {
        let layout = |wanted: &str| plan.layouts.iter().find(|layout| layout.name == wanted).unwrap_or_else(|| panic!("{name}: {wanted}"));
        let (bare, ours) = (layout("bare"), layout("plan"));
        assert!(ours.figures.early_level_db.value < bare.figures.early_level_db.value, "{name}: early level");
        let decay = |layout: &roomwright::plan::Layout| layout.figures.t_mid_s.unwrap_or_else(|| panic!("{name}: no decay")).value;
        assert!(decay(ours) < decay(bare), "{name}: decay");
        let lead = bare.plan_better_steps;
        assert!(lead.value > 3.0 * lead.half_width_95() && lead.value > 5.0, "{name}: {lead:?}");
        assert_eq!(ours.plan_better_steps, roomwright::findings::Estimate::exact(0.0));
        for rule in ["first reflection points, corners, even spread", "even spread"] {
            assert!(layout(rule).panels <= ours.panels, "{name}: {rule} has more panels");
            let lead = layout(rule).plan_better_steps;
            assert!(lead.value >= -lead.half_width_95(), "{name}: {rule} is better, {lead:?}");
        }
        for layout in &plan.layouts {
            let terms: f64 = Term::ALL.into_iter().filter_map(|term| layout.faults_steps[term]).map(|steps| steps.value).sum();
            assert!((terms - layout.together_steps.value).abs() < 1e-9, "{name}: {}", layout.name);
        }
    }
}

/// A hard room gets as many corner panels as its free corners hold; one that is dead enough gets none, and is told why.
#[test]
fn keeps_corner_panels_to_the_decay() {
    for (lined, hung) in [(false, 3), (true, 0)] {
        let mut text = SCENES[1].1.to_owned();
        if lined {
            let soft = "50 mm mineral wool 40 kg/m3 glued to wall";
            for hard in ["Concrete block, painted", "Plasterboard on 25 mm battens", "Thin carpet cemented to concrete"] {
                assert!(text.contains(hard), "the scene has no {hard}");
                text = text.replace(hard, soft);
            }
        }
        let mut scene = read(&text);
        scene.panels.clear();
        scene.stock.retain(|kind| kind.kind == scene::StockKind::Corner);
        let plan = study::place(&Progress::new(), &scene).expect("nobody cancels").plan;
        assert_eq!(plan.placed.len(), hung, "{}", plan.stopped_because);
        let stopped = if lined { "corner panels are left: the next panel would" } else { "the corner panels that are left have no place" };
        assert!(plan.stopped_because.starts_with(stopped), "{}", plan.stopped_because);
    }
}

#[test]
fn keeps_an_empty_stock_a_plan_without_panels() {
    let mut scene = read(SCENES[0].1);
    for kind in &mut scene.stock {
        kind.count = 0;
    }
    let plan = study::place(&Progress::new(), &scene).expect("nobody cancels").plan;
    assert!(plan.placed.is_empty() && plan.stopped_because == "there is no stock to hang");
    assert_eq!(plan.before, plan.after);
}

#[test]
fn keeps_every_figure_finite_whatever_the_stock() {
    let room = SCENES[0].1.split("[[stock]]").next().expect("a text has a beginning");
    let kinds = [
        ("free-standing", "flow_resistivity = 12000"),
        ("curtain", "material = \"Medium velour 0.47 kg/m2 draped to half area\""),
        ("rug", "material = \"Heavy carpet on concrete\""),
        ("bookcase", "material = \"Bookshelf with books (mixed sizes), full wall\""),
        ("diffuser", "material = \"Wooden lining 12 mm on frame\"\nscattering = [0.1, 0.2, 0.4, 0.6, 0.7, 0.7]\nleast_distance = 1"),
        ("panel", "flow_resistivity = 12000"),
    ];
    for (kind, core) in kinds {
        // Sizes that end exactly at ear height, where a face lies in the plane of source and seat.
        let text =
            format!("{room}[[stock]]\nname = \"it\"\nkind = \"{kind}\"\nsize = [0.6, 1.2]\nthickness = \"100 mm\"\n{core}\ncount = 3\n");
        // Where faces lie is what is asked, not how finely the rest is drawn.
        let mut scene = read(&text);
        scene.settings = Settings { rays: 1_000, image_order: 2, patch_m: 0.3, ..scene.settings };
        let plan = study::place(&Progress::new(), &scene).expect("nobody cancels").plan;
        assert!(!plan.placed.is_empty(), "{kind}");
        // What is not a number is written as null, and does not read back as one.
        let json = serde_json::to_string(&plan).expect("a plan is plain data");
        let again: Result<roomwright::plan::Plan, _> = serde_json::from_str(&json);
        assert!(again.is_ok(), "{kind}: {again:?}");
    }
}

/// In a room that is dead enough all of the stock stays where it is, and the plan says why.
#[test]
fn keeps_the_stock_where_a_room_needs_no_more() {
    let soft = "50 mm mineral wool 40 kg/m3 glued to wall";
    let mut text = SCENES[1].1.to_owned();
    for hard in ["Concrete block, painted", "Plasterboard on 25 mm battens", "Thin carpet cemented to concrete"] {
        assert!(text.contains(hard), "the scene has no {hard}");
        text = text.replace(hard, soft);
    }
    let mut scene = read(&text);
    scene.panels.clear();
    let plan = study::place(&Progress::new(), &scene).expect("nobody cancels").plan;
    let worth: Vec<f64> = plan.placed.iter().map(|placed| placed.earns_early_db.value).collect();
    let left: u32 = plan.left_over.iter().map(|(_, left)| left).sum();
    let stock: u32 = scene.stock.iter().map(|kind| kind.count).sum();
    assert!(left * 2 > stock, "{left} of {stock} left, {worth:?}");
    assert!(plan.stopped_because.contains("would"), "{}", plan.stopped_because);
}
