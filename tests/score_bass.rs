//! Bass in the score: two corner stacks in a hard box, steps by hand from the decays that are told, what a panel earns against rooms run one by one, what no waves tell, what counts twice, rooms
//! beside one another, threads.

use std::collections::BTreeMap;

use roomwright::bands::Band;
use roomwright::findings::bass::{BassError, in_larger_cells};
use roomwright::findings::survey::survey;
use roomwright::plan::bass::ByWaves;
use roomwright::plan::decay::SideBySide;
use roomwright::plan::flush::Flush;
use roomwright::plan::place::{Judgement, asked_range, judged_bands, judged_pairs, trace};
use roomwright::plan::score::{Ground, Weighed};
use roomwright::plan::search::{Found, Goal, Hung};
use roomwright::plan::stock::Stock;
use roomwright::plan::{BassOctave, Layout};
use roomwright::progress::{Cancelled, Progress};
use roomwright::response::{LowEnd, Response};
use roomwright::room::{Bodies, build};
use roomwright::scene::{Panel, PanelPlace, Scene, Term, Terms};
use roomwright::study::{self, BassAsked};
use roomwright::weigh::early::EarlyIndex;

use super::edit::read;
use super::support::{even_box, on_threads, taking};

/// Four corner panels of fiber for a hard box.
const BOX: &str = concat!(
    even_box!("mixing", "[3.1, 2.7, 2.3]", 400, 2, 0),
    r#"[[loudspeaker]]
name = "left"
position = [0.7, 0.6, 0.4]
directivity = "omni"
[[seat]]
name = "seat"
ear = [2.1, 1.4, 1.2]
[[stock]]
name = "corner panel"
kind = "corner"
count = 4
size = [0.6, 1.0]
thickness = 0.1
flow_resistivity = 12000
"#
);

const ASKED: BassAsked = BassAsked { top_hz: 160.0, memory: study::MEMORY, others: 0, beside_bare: false };

fn scene(activity: &str) -> Scene {
    read(&taking(BOX, 0.04).replace("use = \"mixing\"", &format!("use = \"{activity}\"")))
}

/// Two panels over one another in each of two corners.
fn stacks() -> Vec<Panel> {
    let panel = |(corner, bottom)| Panel { kind: "corner panel".to_owned(), place: PanelPlace::Corner { corner, bottom } };
    [(1, 0.0), (1, 1.0), (2, 0.0), (2, 1.0)].map(panel).to_vec()
}

/// The stacks as a plan of the scene, judged beside bare and the rules of thumb; by waves or without.
fn judged(scene: &Scene, weights: Terms<f64>, with_waves: bool) -> Judgement {
    judged_beside(scene, weights, with_waves, false)
}

/// The same; the bare room run in the usual cells too, or not.
fn judged_beside(scene: &Scene, weights: Terms<f64>, with_waves: bool, with_bare: bool) -> Judgement {
    let progress = Progress::new();
    let planned = Scene { panels: stacks(), ..scene.clone() };
    let run = with_waves.then(|| study::waves(&progress, &planned, &BassAsked { beside_bare: with_bare, ..ASKED }).expect("it can be"));
    let room = build(scene, Bodies::Standing);
    let standing = survey(scene, &room);
    let (pairs, bands) = (judged_pairs(scene, &room), judged_bands(standing.schroeder_hz));
    let goal = Goal { pairs: &pairs, bands: &bands, target: asked_range(scene, &standing), weights };
    let hung = stacks().into_iter().map(|panel| Hung { panel, reason: "corner", serves: String::new() }).collect();
    let found = Found { hung, left: vec![0], stopped_because: String::new(), next: None };
    let by_waves = run.as_ref().map(|run| {
        let others = run.bare_low.iter().map(|low| (&[][..], low)).collect();
        ByWaves { asked: &ASKED, planned: &run.low, others, survey: &standing }
    });
    Judgement::new(&progress, &Stock::of(scene), scene.settings.clone(), &goal, (&found, &[0, 1, 2, 3]), by_waves).expect("nobody cancels")
}

fn usual(scene: &Scene) -> Terms<f64> {
    scene.goals.weights(scene.activity)
}

/// Steps of 5 % by which the decays that are told exceed what is asked, or those of the bare room; their mean.
fn by_hand(layout: &Layout, bare: &Layout, octaves: &[BassOctave]) -> f64 {
    let steps = |octave: &BassOctave| {
        let band = Band::ALL.into_iter().find(|band| band.nominal() == octave.frequency_hz).expect("it is an octave");
        let [own, bare] = [layout, bare].map(|layout| layout.figures.t30_s[band].expect("it decays").value);
        octave.longest_s.map_or_else(|| (own / bare).ln(), |longest| (own / longest).ln().max(0.0)) / 1.05_f64.ln()
    };
    octaves.iter().map(steps).sum::<f64>() / octaves.len() as f64
}

fn bass(layout: &Layout) -> f64 {
    layout.faults_steps.bass.expect("waves tell it").value
}

#[test]
fn counts_the_bass_of_corner_stacks() {
    let scene = scene("mixing");
    let judged = judged(&scene, usual(&scene), true);
    // EBU Tech 3276 never asks for less than 0.2 s, and allows 0.3 s more at 63 Hz and 0.15 s more at 125 Hz.
    let wanted = [(63, 0.5), (125, 0.35)];
    assert_eq!(judged.bass_octaves.len(), 2, "{:?}", judged.bass_octaves);
    for (octave, (frequency_hz, longest)) in judged.bass_octaves.iter().zip(wanted) {
        assert!(octave.frequency_hz == frequency_hz && (octave.longest_s.expect("asked") - longest).abs() < 1e-9, "{octave:?}");
    }
    let [bare, plan] = [&judged.layouts[0], &judged.layouts[1]];
    for layout in &judged.layouts {
        let wanted = by_hand(layout, bare, &judged.bass_octaves);
        assert!((bass(layout) - wanted).abs() < 1e-9, "{}: {} and {wanted} by hand", layout.name, bass(layout));
    }
    assert!(bass(plan) > 0.0 && bass(plan) < bass(bare) - 1.0, "{} bare, {} with four panels", bass(bare), bass(plan));
    // The plan's own figure is that of its findings.
    let planned = Scene { panels: stacks(), ..scene };
    let (findings, _) = study::hear_with(&Progress::new(), &planned, Some(&ASKED)).expect("nobody cancels");
    let octave = &findings.pairs[0].octaves[0];
    let told = plan.figures.t30_s[Band::new(0)].expect("it decays").value;
    assert!([octave.t30_s, octave.t20_s].into_iter().flatten().any(|time| (time.value / told - 1.0).abs() < 1e-9), "{told} {octave:?}");
}

/// Where the bare room was run in the usual cells its figure is that of findings; larger ones lead near it, and it moves no other layout.
#[test]
fn puts_layouts_on_figures_of_the_usual_cells() {
    let scene = scene("mixing");
    let [usual_cells, larger] = [true, false].map(|with_bare| judged_beside(&scene, usual(&scene), true, with_bare));
    let (findings, _) = study::hear_with(&Progress::new(), &scene, Some(&ASKED)).expect("nobody cancels");
    let told = |judged: &Judgement, layout: usize| judged.layouts[layout].figures.t30_s[Band::new(0)].expect("it decays").value;
    let octave = &findings.pairs[0].octaves[0];
    let found = told(&usual_cells, 0);
    assert!([octave.t30_s, octave.t20_s].into_iter().flatten().any(|time| (time.value / found - 1.0).abs() < 1e-9), "{found} {octave:?}");
    let off = told(&larger, 0) / found - 1.0;
    assert!(off != 0.0 && off.abs() < 0.2, "{off} of {found} s in larger cells");
    assert!((1..larger.layouts.len()).all(|layout| told(&larger, layout) == told(&usual_cells, layout)));
}

#[test]
fn holds_bass_against_bare_where_nothing_is_asked() {
    let scene = scene("rehearsal");
    let judged = judged(&scene, usual(&scene), true);
    assert!(judged.bass_octaves.iter().all(|octave| octave.longest_s.is_none()) && !judged.bass_octaves.is_empty());
    assert_eq!(bass(&judged.layouts[0]), 0.0);
    assert!(bass(&judged.layouts[1]) < -1.0, "{}", bass(&judged.layouts[1]));
}

#[test]
fn tells_no_bass_without_waves_and_weighs_it_with() {
    let scene = scene("mixing");
    let weights = usual(&scene);
    let [without, with, twice] =
        [(weights, false), (weights, true), (Terms { bass: 2.0, ..weights }, true)].map(|(weights, waves)| judged(&scene, weights, waves));
    assert!(without.bass_octaves.is_empty() && without.bass_note.is_none() && with.bass_note.is_some());
    for ((without, with), twice) in without.layouts.iter().zip(&with.layouts).zip(&twice.layouts) {
        assert_eq!(without.faults_steps, Terms { bass: None, ..with.faults_steps }, "nothing else is changed");
        assert!((with.together_steps.value - without.together_steps.value - bass(with)).abs() < 1e-9);
        assert!((bass(twice) - 2.0 * bass(with)).abs() < 1e-9);
    }
    let gain = |judged: &Judgement| judged.layouts[0].plan_better_steps.value;
    let won = bass(&with.layouts[0]) - bass(&with.layouts[1]);
    assert!((gain(&with) - gain(&without) - won).abs() < 1e-9 && won > 0.0, "{won}");
    for (without, with) in without.placed.iter().zip(&with.placed) {
        let own = with.earns.last_terms_steps;
        assert_eq!(without.earns.last_terms_steps, Terms { bass: None, ..own }, "nothing else is changed");
        assert_eq!(without.earns.decay_octaves_percent, with.earns.decay_octaves_percent);
        let won = own.bass.expect("waves tell it").value;
        assert!((with.earns.last_steps.value - without.earns.last_steps.value - won).abs() < 1e-9);
        let sum: f64 = Term::ALL.into_iter().filter_map(|term| own[term]).map(|steps| steps.value).sum();
        assert!((sum - with.earns.last_steps.value).abs() < 1e-9 && won > 0.0, "{sum} of {:?}, bass {won}", with.earns.last_steps);
    }
}

/// Between bare and plan as the table of layouts has them; what panels add in turn is what all of them earn.
#[test]
fn keeps_the_curve_with_bass_between_bare_and_plan() {
    let scene = scene("mixing");
    let judged = judged(&scene, usual(&scene), true);
    let (curve, [bare, plan]) = (&judged.curve, [&judged.layouts[0], &judged.layouts[1]]);
    let (first, last) = (&curve.points[0], curve.points.last().expect("there are points"));
    assert_eq!((curve.points.len(), first.left_steps, last.left_steps), (5, bare.together_steps, plan.together_steps));
    assert_eq!(curve.gain_steps, bare.plan_better_steps);
    let adds: f64 = curve.points.iter().filter_map(|point| point.adds_steps).map(|adds| adds.value).sum();
    assert!((adds - curve.gain_steps.value).abs() < 1e-9, "{adds} and {:?}", curve.gain_steps);
    assert_eq!(curve.points[1].adds_steps, Some(judged.placed[0].earns.alone_steps));
    assert_eq!(last.adds_steps, Some(judged.placed[3].earns.last_steps));
    let sum: f64 = judged.placed.iter().map(|panel| panel.earns.last_steps.value).sum();
    assert!((sum - curve.last_sum_steps.value).abs() < 1e-9);
}

/// What some layouts have of the octaves at 63 and 125 Hz, seconds: each weighed by itself on the trace that they are judged on, and joined with these waves.
fn decays(scene: &Scene, layouts: &[(&[Panel], &LowEnd)]) -> Vec<[f64; 2]> {
    let progress = Progress::new();
    let traced = trace(&progress, scene).expect("nobody cancels");
    let (pairs, index) = (judged_pairs(scene, &traced.room), EarlyIndex::new(&progress, &traced).expect("nobody cancels"));
    let bands = judged_bands(survey(scene, &traced.room).schroeder_hz);
    let goal = Goal { pairs: &pairs, bands: &bands, target: None, weights: usual(scene) };
    let ground = Ground { traced: &traced, index: &index, flush: &Flush::new(scene, &traced.room), goal: &goal };
    let joined = |(panels, low): &(&[Panel], &LowEnd)| -> BTreeMap<(usize, usize), Response> {
        let weighed = Weighed::new(&progress, ground, panels).expect("nobody cancels");
        let of_pair = |&pair: &(usize, usize)| (pair, weighed.response(pair).expect("it is judged").clone().with_low(low, pair));
        pairs.iter().map(of_pair).collect()
    };
    let joined: Vec<_> = layouts.iter().map(joined).collect();
    let octaves = SideBySide::of(&joined.iter().collect::<Vec<_>>(), &goal);
    octaves.iter().map(|octaves| [0, 1].map(|band| octaves.by_octave()[Band::new(band)].expect("it decays").value)).collect()
}

/// Without the panel, and with it alone, in larger cells; led to the usual ones by the ratio that both cells have in the bare room and in the plan, in parts as many panels hang.
#[test]
fn tells_what_a_corner_panel_earns_of_the_bass_as_rooms_run_one_by_one() {
    let scene = scene("mixing");
    let judged = judged_beside(&scene, usual(&scene), true, true);
    let (progress, all) = (Progress::new(), stacks());
    let planned = Scene { panels: all.clone(), ..scene.clone() };
    let run = study::waves(&progress, &planned, &BassAsked { beside_bare: true, ..ASKED }).expect("it can be");
    let bare = run.bare_low.as_ref().expect("it is run beside");
    for (one, panel) in judged.placed.iter().enumerate() {
        let without: Vec<Panel> = all.iter().enumerate().filter(|(other, _)| *other != one).map(|(_, panel)| panel.clone()).collect();
        let alone = [all[one].clone()];
        let rooms: [&[Panel]; 4] = [&[], &all, &without, &alone];
        let in_larger = |panels: &[Panel]| {
            let room = Scene { panels: panels.to_vec(), ..scene.clone() };
            in_larger_cells(&progress, &[room], &ASKED, run.low.crossover).expect("it can be").remove(0)
        };
        let larger = rooms.map(in_larger);
        let layouts: Vec<(&[Panel], &LowEnd)> = rooms.into_iter().zip(&larger).chain([(&[][..], bare), (&all[..], &run.low)]).collect();
        let [bare_larger, all_larger, without, alone, bare, all] = decays(&scene, &layouts)[..] else { panic!("six rooms") };
        let steps = |of_octave: &dyn Fn(usize) -> f64| {
            let over = |octave: usize| (of_octave(octave) / [0.5, 0.35][octave]).ln().max(0.0) / 1.05_f64.ln();
            0.5 * (over(0) + over(1))
        };
        let led = |times: [f64; 2], share: f64| {
            steps(&|octave| {
                let ratio = |usual: [f64; 2], larger: [f64; 2]| usual[octave] / larger[octave];
                times[octave] * ratio(bare, bare_larger).powf(1.0 - share) * ratio(all, all_larger).powf(share)
            })
        };
        let last = led(without, 0.75) - steps(&|octave| all[octave]);
        let told = panel.earns.last_terms_steps.bass.expect("waves tell it").value;
        assert!((told - last).abs() < NEAR && last > 0.3, "last {told}, {last} by rooms run one by one");
        // Alone it has no terms of its own: what is left of it without waves is what rays tell.
        let by_rays = self::judged(&scene, usual(&scene), false).placed[one].earns.alone_steps.value;
        let (alone, told) = (steps(&|octave| bare[octave]) - led(alone, 0.25), panel.earns.alone_steps.value - by_rays);
        assert!((told - alone).abs() < NEAR && alone > 0.3, "alone {told}, {alone} by rooms run one by one");
    }
}

/// Layouts that differ from others by little are weighed by that alone, in sums of single precision: two thousandths of a decay time (`explain`), of a step of 5 %.
const NEAR: f64 = 0.04;

#[test]
fn runs_rooms_beside_one_another_as_one_by_one() {
    let scene = scene("mixing");
    let rooms: Vec<Scene> = (0..3).map(|count| Scene { panels: stacks()[..count].to_vec(), ..scene.clone() }).collect();
    let crossover = roomwright::response::Crossover::new(survey(&scene, &study::room(&scene)).schroeder_hz, ASKED.top_hz);
    let run = |rooms: &[Scene]| {
        let progress = Progress::new();
        let lows = in_larger_cells(&progress, rooms, &ASKED, crossover).expect("it can be");
        let (_, done, all) = progress.state();
        assert!(done == all && all > 0, "{done} of {all} steps");
        lows
    };
    let one_by_one: Vec<LowEnd> = rooms.iter().flat_map(|room| run(std::slice::from_ref(room))).collect();
    assert!(one_by_one[0] != one_by_one[1], "a panel is heard");
    for threads in [1, 3] {
        assert!(on_threads(threads, || run(&rooms)) == one_by_one, "on {threads} threads");
    }
    let stopped = Progress::new();
    stopped.cancel();
    assert_eq!(in_larger_cells(&stopped, &rooms, &ASKED, crossover), Err(BassError::Stopped(Cancelled)));
}

#[test]
fn keeps_bass_of_layouts_with_1_and_3_threads() {
    let scene = scene("mixing");
    let told = |judged: Judgement| format!("{:?}", (judged.layouts, judged.placed, judged.curve));
    let of = |threads: usize| on_threads(threads, || told(judged(&scene, usual(&scene), true)));
    assert_eq!(of(1), of(3));
}
