//! The plan explained panel by panel: what is lost last and won alone against layouts weighed each by itself, the curve and its ends, the order, the words.

use roomwright::bands::Band;
use roomwright::findings::Estimate;
use roomwright::findings::survey::survey;
use roomwright::plan::explain::order;
use roomwright::plan::flush::Flush;
use roomwright::plan::place::{Judgement, asked_range, judged_bands, judged_pairs, trace};
use roomwright::plan::score::{Faults, Ground, Weighed, faults_of};
use roomwright::plan::search::{Found, Goal, Hung};
use roomwright::plan::stock::Stock;
use roomwright::plan::{Curve, Plan};
use roomwright::progress::Progress;
use roomwright::report::text::explain::{how_many, most, sums, terms};
use roomwright::scene::{self, Panel, PanelPlace, Scene, Term};
use roomwright::settings::Settings;
use roomwright::study;
use roomwright::weigh::early::EarlyIndex;

use crate::invented;
use crate::support::{on_threads, small_scene_text};

const ATTIC: &str = include_str!("../scenes/attic-voice-room.toml");

/// A small room with so many panels in stock, and nothing else.
fn scene(panels: u32, rays: u32) -> Scene {
    let (mut scene, _) = scene::read(&small_scene_text()).expect("what `roomwright new` writes reads");
    scene.settings = Settings { rays, rounds: 1, leaders: 4, image_order: 2, ..scene.settings };
    scene.stock.retain(|kind| kind.kind == scene::StockKind::Panel);
    scene.stock.truncate(1);
    scene.stock[0].count = panels;
    scene
}

/// What is wrong with some layouts, each weighed by itself, on the paths of the seed that lies so far after the scene's.
fn faults(scene: &Scene, seed: u64, layouts: &[Vec<Panel>]) -> Vec<Faults> {
    on_ground(scene, seed, |ground| {
        let weigh = |panels: &Vec<Panel>| Weighed::new(&Progress::new(), ground, panels).expect("nobody cancels");
        let weighed: Vec<Weighed> = layouts.iter().map(weigh).collect();
        faults_of(ground.traced, ground.goal, &weighed.iter().collect::<Vec<_>>())
    })
}

fn on_ground<T>(scene: &Scene, seed: u64, ask: impl FnOnce(Ground<'_>) -> T) -> T {
    let mut scene = scene.clone();
    scene.settings.seed += seed;
    let traced = trace(&Progress::new(), &scene).expect("nobody cancels");
    let standing = survey(&scene, &traced.room);
    let (pairs, bands) = (judged_pairs(&scene, &traced.room), judged_bands(standing.schroeder_hz));
    let weights = scene.goals.weights(scene.activity);
    let goal = Goal { pairs: &pairs, bands: &bands, target: asked_range(&scene, &standing), weights };
    let index = EarlyIndex::new(&Progress::new(), &traced).expect("nobody cancels");
    let flush = Flush::new(&scene, &traced.room);
    ask(Ground { traced: &traced, index: &index, flush: &flush, goal: &goal })
}

fn close(own: Estimate, other: Estimate, what: &str) {
    let near = |own: f64, other: f64| (own - other).abs() < 2e-3 * other.abs().max(0.05);
    assert!(near(own.value, other.value) && near(own.se, other.se), "{what}: {own:?} and {other:?}");
}

/// Weighed together by what layouts differ in, and each by itself: the same to two thousandths, which is what sums in single precision leave of a T30.
#[test]
fn exact_earnings_between_layouts_weighed_apart() {
    let scene = scene(4, 3_000);
    let placement = study::place(&Progress::new(), &scene).expect("nobody cancels");
    let (plan, all) = (&placement.plan, &placement.pictures.panels);
    assert!(plan.placed.len() >= 3 && scene.panels.is_empty(), "{} panels", plan.placed.len());
    let without = |one: usize| all.iter().enumerate().filter(|(other, _)| *other != one).map(|(_, panel)| panel.clone()).collect();
    let layouts: Vec<Vec<Panel>> = [Vec::new(), all.clone()]
        .into_iter()
        .chain((0..all.len()).map(without))
        .chain((0..all.len()).map(|one| vec![all[one].clone()]))
        .collect();
    let faults = faults(&scene, 1, &layouts);
    let (bare, whole) = (&faults[0], &faults[1]);
    for (one, panel) in plan.placed.iter().enumerate() {
        let (without, alone) = (&faults[2 + one], &faults[2 + all.len() + one]);
        let earns = &panel.earns;
        close(earns.last_steps, whole.better_by(without).error(), "last");
        close(earns.alone_steps, alone.better_by(bare).error(), "alone");
        let by_term = whole.better_by_term(without);
        let mut sum = 0.0;
        for term in Term::ALL {
            assert_eq!(earns.last_terms_steps[term].is_some(), by_term[term].is_some(), "{term:?}");
            if let (Some(own), Some(other)) = (earns.last_terms_steps[term], by_term[term]) {
                close(own, other, term.words());
                sum += own.value;
            }
        }
        assert!((sum - earns.last_steps.value).abs() < 1e-9, "terms add up to {sum}, {:?}", earns.last_steps);
        // The octaves are those of the mean that stands beside them.
        let octaves: Vec<f64> = earns.decay_octaves_percent.0.iter().flatten().map(|grown| grown.value).collect();
        let mean = octaves.iter().sum::<f64>() / octaves.len() as f64;
        assert!((mean - panel.earns_decay_percent.expect("it decays").value).abs() < 1e-9, "{mean}");
        assert!(earns.decay_octaves_percent[Band::new(1)].is_none(), "125 Hz is not judged");
    }
    assert!(plan.placed.iter().all(|panel| panel.earns.alone_steps.value > 0.5), "{:?}", plan.placed);
}

#[test]
fn keeps_the_curve_between_bare_and_plan() {
    let scene = scene(5, 2_000);
    let plan = study::place(&Progress::new(), &scene).expect("nobody cancels").plan;
    let curve = plan.curve.as_ref().expect("panels hang");
    let layout = |name: &str| plan.layouts.iter().find(|layout| layout.name == name).expect("it is compared");
    let (first, last) = (&curve.points[0], curve.points.last().expect("there are points"));
    assert_eq!((first.panels, first.number, first.left_steps), (0, None, layout("bare").together_steps));
    assert_eq!((last.panels as usize, last.left_steps), (plan.placed.len(), layout("plan").together_steps));
    assert_eq!(curve.gain_steps, layout("bare").plan_better_steps);
    let whole = last.share_percent.expect("they earn more than their error");
    assert!((whole.value - 100.0).abs() < 1e-9 && whole.se < 1e-9, "{whole:?}");
    let adds: f64 = curve.points.iter().filter_map(|point| point.adds_steps).map(|adds| adds.value).sum();
    assert!((adds - curve.gain_steps.value).abs() < 1e-9, "{adds} and {:?}", curve.gain_steps);
    let mut numbers: Vec<u32> = curve.points.iter().filter_map(|point| point.number).collect();
    numbers.sort_unstable();
    assert_eq!(numbers, plan.placed.iter().map(|panel| panel.number).collect::<Vec<_>>());
    let sum = |of: fn(&roomwright::plan::Earnings) -> Estimate| plan.placed.iter().map(|panel| of(&panel.earns).value).sum::<f64>();
    assert!((sum(|earns| earns.last_steps) - curve.last_sum_steps.value).abs() < 1e-9);
    assert!((sum(|earns| earns.alone_steps) - curve.alone_sum_steps.value).abs() < 1e-9);
    // What the first adds is what it earns alone, what the last adds is what it earns last.
    let earns = |number: Option<u32>| &plan.placed[number.expect("a panel hangs") as usize - 1].earns;
    assert_eq!(curve.points[1].adds_steps, Some(earns(curve.points[1].number).alone_steps));
    assert_eq!(last.adds_steps, Some(earns(last.number).last_steps));
}

#[test]
fn keeps_one_panel_alone_what_it_is_last() {
    let plan = study::place(&Progress::new(), &scene(1, 1_000)).expect("nobody cancels").plan;
    let (curve, earns) = (plan.curve.as_ref().expect("a panel hangs"), &plan.placed[0].earns);
    assert_eq!((plan.placed.len(), earns.alone_steps), (1, earns.last_steps));
    assert_eq!((curve.gain_steps, curve.last_sum_steps, curve.alone_sum_steps), (earns.last_steps, earns.last_steps, earns.last_steps));
    assert!(earns.last_steps.value > 0.5 && sums(curve).is_none(), "{earns:?}");
}

/// Behind the shelf of the attic no sound comes to the wall; on the bare wall beside it the same panel earns a step and more.
#[test]
fn keeps_a_panel_where_nothing_happens_without_earnings() {
    let (mut scene, _) = scene::read(ATTIC).expect("a shipped scene reads");
    scene.settings = Settings { rays: 2_000, rounds: 1, image_order: 2, ..scene.settings };
    let panel = |left: f64| Panel {
        kind: "wall panel".to_owned(),
        place: PanelPlace::Surface { surface: "east".to_owned(), left, bottom: 0.3, gap: 0.05, lying: false },
    };
    // The middle of the shelf on the wall behind it, and a place well away from it.
    let east = study::room(&scene);
    let shelf = east.named("east").next().expect("there is an east wall").1.chart.position(glam::DVec3::new(4.4, 1.95, 1.0)).x;
    let hung =
        [shelf - 0.3, if shelf > 2.6 { 0.9 } else { 3.4 }].map(|left| Hung { panel: panel(left), reason: "decay", serves: String::new() });
    let found = Found { hung: hung.to_vec(), left: vec![10, 4, 2], stopped_because: String::new(), next: None };
    let (pairs, bands, target, weights) =
        on_ground(&scene, 0, |ground| (ground.goal.pairs.to_vec(), ground.goal.bands.to_vec(), ground.goal.target, ground.goal.weights));
    let goal = Goal { pairs: &pairs, bands: &bands, target, weights };
    let judged = Judgement::new(&Progress::new(), &Stock::of(&scene), scene.settings.clone(), &goal, (&found, &[1, 0]), None)
        .expect("nobody cancels");
    let [behind, beside] = [0, 1].map(|one| &judged.placed[one].earns);
    for steps in [behind.alone_steps, behind.last_steps] {
        assert!(steps.value.abs() < 0.1, "behind the shelf: {steps:?}");
    }
    assert!(beside.alone_steps.value > 1.0 && beside.last_steps.value > 1.0, "{beside:?}");
    assert_eq!((judged.curve.enough_panels, judged.curve.points[1].number), (1, Some(2)));
    assert!(how_many(&judged.curve)[1].starts_with("Stop buying at 1"), "{:?}", how_many(&judged.curve));
}

/// The first is the one that is best alone, the second the one that is best beside it.
#[test]
fn keeps_the_order_of_greatest_gain() {
    let scene = scene(4, 1_500);
    let placement = study::place(&Progress::new(), &scene).expect("nobody cancels");
    let panels = &placement.pictures.panels;
    let hung: Vec<Hung> = panels.iter().map(|panel| Hung { panel: panel.clone(), reason: "decay", serves: String::new() }).collect();
    let order = on_ground(&scene, 5, |ground| order(&Progress::new(), ground, &[], &hung).expect("nobody cancels"));
    let mut sorted = order.clone();
    sorted.sort_unstable();
    assert_eq!(sorted, (0..panels.len()).collect::<Vec<_>>());
    let best = |first: &[usize]| {
        let left: Vec<usize> = (0..panels.len()).filter(|one| !first.contains(one)).collect();
        let with = |&one: &usize| {
            (0..panels.len()).filter(|other| *other == one || first.contains(other)).map(|other| panels[other].clone()).collect()
        };
        let faults = faults(&scene, 5, &left.iter().map(with).collect::<Vec<_>>());
        let wrong: Vec<f64> = faults.iter().map(|faults| faults.together().whole).collect();
        left[(0..left.len()).min_by(|&a, &b| wrong[a].total_cmp(&wrong[b])).expect("some are left")]
    };
    assert_eq!(order[0], best(&[]));
    assert_eq!(order[1], best(&order[..1]));
}

#[test]
fn keeps_the_explained_plan_whatever_the_threads() {
    let told = |threads| {
        on_threads(threads, || {
            let plan: Plan = study::place(&Progress::new(), &scene(3, 800)).expect("nobody cancels").plan;
            serde_json::to_string(&(plan.placed, plan.curve)).expect("plain data")
        })
    };
    assert!(told(1) == told(3), "what panels earn depends on the number of threads");
}

#[test]
fn keeps_words_to_the_figures() {
    let earns = invented::earnings(1);
    assert_eq!(terms(&earns), "reflections 1.4, decay 1.2, evenness -0.3");
    assert_eq!(most(&earns), "4 kHz 5 %");
    let few = invented::curve(&[2, 1, 3]);
    assert_eq!(how_many(&few)[0], "It takes all 3 panels to get 90 % of what all get.");
    assert_eq!(how_many(&few)[1], "None of them is one too many: the last in this order still adds 5.0 +-0.3 steps.");
    let many = invented::curve(&[5, 3, 1, 4, 2, 8, 6, 7, 9]);
    assert_eq!(how_many(&many)[0], "4 of 9 panels get 94 +-1 % of what all get.");
    assert_eq!(how_many(&many)[1], "Stop buying at 8: each further panel of this order adds less than a tenth of a step.");
    let nothing = Curve { enough_panels: 0, ..few.clone() };
    assert!(how_many(&nothing)[1].starts_with("No panel adds"));
    let unknown = Curve {
        points: few.points.iter().map(|point| roomwright::plan::AfterPanels { share_percent: None, ..point.clone() }).collect(),
        ..few
    };
    assert_eq!(how_many(&unknown)[0], "What all panels earn together is no more than its error.");
    assert!(
        sums(&many)
            .expect("there are nine")
            .contains("alone they are 75.9 +-0.6 steps in sum, last 12.0 +-0.8, while all panels together earn 39.9 +-0.4")
    );
}
