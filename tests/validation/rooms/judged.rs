//! One room: planned, planned with fewer panels, and both rules of thumb, all weighed on a trace that no plan was made with.

use roomwright::bands::Band;
use roomwright::findings::Estimate;
use roomwright::findings::reflections::loudest_db;
use roomwright::findings::survey::survey;
use roomwright::hotspots::CLARITY_LIMIT_S;
use roomwright::layout::Free;
use roomwright::metrics::clarity::early_to_late_db;
use roomwright::plan::flush::Flush;
use roomwright::plan::place::{asked_range, judged_bands, judged_pairs, record_length};
use roomwright::plan::score::{Faults, Ground, Weighed, faults_of};
use roomwright::plan::search::Goal;
use roomwright::plan::stock::Stock;
use roomwright::plan::thumb;
use roomwright::progress::Progress;
use roomwright::response::Resampled;
use roomwright::room::{Bodies, Room, build};
use roomwright::scene::{Panel, Scene, Term};
use roomwright::settings::Settings;
use roomwright::study;
use roomwright::weigh::Traced;
use roomwright::weigh::early::EarlyIndex;

use super::bound::{Bound, bound};
use super::disturbed::{self, Disturbance};
use super::{Asked, say};

/// Added to the seed of a scene for the trace that its layouts are judged on; a plan is made with the seeds 0 and 2 after the scene's own and told with the next.
const JUDGED: u64 = 1000;

/// Share of the panels that the smaller plan hangs.
const FEWER: f64 = 0.75;

/// Octaves that clarity is told in: 500 Hz to 4 kHz.
fn clarity_bands() -> impl Iterator<Item = Band> + Clone {
    Band::ALL.into_iter().filter(|band| (500..=4000).contains(&band.nominal()))
}

/// What is told of one layout.
#[derive(Clone, Debug)]
pub(super) struct Told {
    /// Pieces that the planner may choose the places of.
    pub(super) panels: u32,
    /// What is wrong with it, steps.
    pub(super) steps: Estimate,
    /// Of these, weighted: reflections over the criterion, and early level.
    pub(super) reflections_steps: f64,
    pub(super) early_level_steps: f64,
    /// Sum of excess over the criterion, worst pair, dB.
    pub(super) excess_db: f64,
    /// The same of each octave of 1-8 kHz by itself, mean of these, dB.
    pub(super) octave_excess_db: f64,
    /// Mean of C50 over the judged pairs and the octaves 500 Hz - 4 kHz, dB; `None` where one of them cannot be read.
    pub(super) c50_db: Option<Estimate>,
    /// Level of the loudest reflection anywhere in the zones, worst pair, 1-8 kHz re direct, dB.
    pub(super) loudest_db: f64,
}

/// What is told of one room.
#[derive(Clone, Debug)]
pub(super) struct Judged {
    pub(super) name: &'static str,
    pub(super) activity: &'static str,
    pub(super) bare: Told,
    pub(super) plan: Told,
    /// The plan with a quarter fewer panels.
    pub(super) fewer: Told,
    /// The rules of thumb: mirror points first, evenly spread.
    pub(super) rules: [Told; 2],
    /// By how many steps the plan is better than each of them, and the plan with fewer panels than each with all of theirs.
    pub(super) leads: [Estimate; 2],
    pub(super) fewer_leads: [Estimate; 2],
    pub(super) bound: Bound,
    /// By how many steps the plan is better than each of the rules, by disturbance and drawing.
    pub(super) disturbed: Vec<(Disturbance, Vec<[Estimate; 2]>)>,
}

/// A room with all that a layout in it is judged by.
pub(super) struct Case<'a> {
    pub(super) scene: &'a Scene,
    pub(super) pairs: Vec<(usize, usize)>,
    pub(super) bands: Vec<Band>,
    pub(super) target: Option<(f64, f64)>,
}

impl<'a> Case<'a> {
    pub(super) fn new(scene: &'a Scene) -> Self {
        let room = build(scene, Bodies::Standing);
        let standing = survey(scene, &room);
        Self { scene, pairs: judged_pairs(scene, &room), bands: judged_bands(standing.schroeder_hz), target: asked_range(scene, &standing) }
    }

    pub(super) fn goal(&self) -> Goal<'_> {
        let weights = self.scene.goals.weights(self.scene.activity);
        Goal { pairs: &self.pairs, bands: &self.bands, target: self.target, weights }
    }
}

/// Traces a room in so many rounds of rays.
pub(super) fn traced(room: Room, settings: Settings, rounds: u32) -> Traced {
    let progress = Progress::new();
    let end_s = record_length(&progress, &room, &settings).expect("nobody cancels");
    let mut traced = Traced::new(&progress, room, settings, end_s).expect("nobody cancels");
    traced.refine(&progress, rounds - 1).expect("nobody cancels");
    traced
}

/// All that hangs in a scene once its stock is hung as planned.
fn planned(scene: &Scene) -> Vec<Panel> {
    study::place(&Progress::new(), scene).expect("nobody cancels").pictures.panels
}

/// A stock of three quarters of these, rounded down, each type in proportion.
fn fewer(scene: &Scene, hung: &[u32]) -> Scene {
    let all: u32 = hung.iter().sum();
    let target = (FEWER * f64::from(all)).floor() as u32;
    let mut counts: Vec<u32> = hung.iter().map(|&count| count * target / all.max(1)).collect();
    // What the types lose by rounding goes to those that lose most.
    let mut kinds: Vec<usize> = (0..hung.len()).collect();
    kinds.sort_by_key(|&kind| std::cmp::Reverse(hung[kind] * target % all.max(1)));
    let short = target - counts.iter().sum::<u32>();
    for &kind in kinds.iter().take(short as usize) {
        counts[kind] += 1;
    }
    let mut scene = scene.clone();
    for (kind, count) in scene.stock.iter_mut().zip(counts) {
        kind.count = count;
    }
    scene
}

/// What is planned of a room: all that hangs then, with all of its stock and with a quarter fewer panels.
pub(super) struct Planned {
    plan: Vec<Panel>,
    fewer: Vec<Panel>,
    /// How many of each type the plan hangs.
    counts: Vec<u32>,
}

impl Planned {
    pub(super) fn new(name: &str, scene: &Scene) -> Self {
        say(name, "planning");
        let plan = planned(scene);
        let counts = Stock::of(scene).counted(&plan[scene.panels.len()..]);
        say(name, "planning with fewer panels");
        Self { plan, fewer: planned(&fewer(scene, &counts)), counts }
    }
}

/// Judges the plans of a room and the rules of thumb.
pub(super) fn judge(name: &'static str, scene: &Scene, Planned { plan, fewer, counts }: &Planned, asked: Asked) -> Judged {
    let own = scene.panels.len();
    say(name, "judging");
    let (progress, case) = (Progress::new(), Case::new(scene));
    let goal = case.goal();
    let settings = Settings { seed: scene.settings.seed + JUDGED, ..scene.settings.clone() };
    let traced = traced(build(scene, Bodies::Standing), settings, asked.rounds);
    let free = Free::new(scene, &traced.room);
    let points = thumb::mirror_points(&traced, goal.pairs);
    let rules = [thumb::first_points(scene, &traced.room, &free, counts, &points), thumb::even_spread(scene, &traced.room, &free, counts)];
    let rules = rules.map(|rule| scene.panels.iter().cloned().chain(rule).collect::<Vec<_>>());
    let index = EarlyIndex::new(&progress, &traced).expect("nobody cancels");
    let flush = Flush::new(scene, &traced.room);
    let ground = Ground { traced: &traced, index: &index, flush: &flush, goal: &goal };
    let layouts = [&scene.panels, plan, fewer, &rules[0], &rules[1]];
    let weighed = layouts.map(|panels| Weighed::new(&progress, ground, panels).expect("nobody cancels"));
    let faults: Vec<Faults> = faults_of(&traced, &goal, &weighed.each_ref());
    let term = |number: usize, term: Term| faults[number].told()[term].map_or(0.0, |steps| steps.value);
    let told = |number: usize| Told {
        panels: Stock::of(scene).counted(&layouts[number][own..]).iter().sum(),
        steps: faults[number].together().error(),
        reflections_steps: term(number, Term::Reflections),
        early_level_steps: term(number, Term::EarlyLevel),
        excess_db: faults[number].figures.early_excess_db,
        octave_excess_db: faults[number].figures.octave_mean_db(),
        c50_db: c50(&weighed[number], &goal),
        loudest_db: goal
            .pairs
            .iter()
            .map(|&(source, receiver)| loudest_db(&traced, weighed[number].linings(), source, receiver))
            .fold(f64::NEG_INFINITY, f64::max),
    };
    let leads = |of: usize| [3, 4].map(|rule| faults[of].better_by(&faults[rule]).error());
    let mut judged = Judged {
        name,
        activity: scene.activity.word(),
        bare: told(0),
        plan: told(1),
        fewer: told(2),
        rules: [told(3), told(4)],
        leads: leads(1),
        fewer_leads: leads(2),
        bound: bound(scene, ground, counts),
        disturbed: Vec::new(),
    };
    drop(weighed);
    drop(index);
    drop(traced);
    let rays = scene.settings.rays / asked.drawn_one_in;
    for disturbance in Disturbance::ALL {
        say(name, disturbance.words());
        let drawn = (0..asked.drawings).map(|drawing| disturbed::leads(&case, (disturbance, drawing), rays, [plan, &rules[0], &rules[1]]));
        judged.disturbed.push((disturbance, drawn.collect()));
    }
    judged
}

/// Mean of C50 over the judged pairs and [`clarity_bands`].
fn c50(weighed: &Weighed, goal: &Goal<'_>) -> Option<Estimate> {
    let of_pair = |&pair: &(usize, usize)| {
        let response = weighed.response(pair)?;
        let of_octave = |band| response.resampled(band).measure(|curve| early_to_late_db(curve, response.bin_s, CLARITY_LIMIT_S));
        clarity_bands().map(of_octave).collect::<Option<Vec<Resampled<f64>>>>()
    };
    let all: Vec<Resampled<f64>> = goal.pairs.iter().map(of_pair).collect::<Option<Vec<_>>>()?.into_iter().flatten().collect();
    let count = all.len() as f64;
    let sum = all.into_iter().reduce(|sum, one| sum.with(&one, |sum, one| sum + one))?;
    Some(sum.map(|sum| sum / count).error())
}
