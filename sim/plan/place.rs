//! The main job: the room as it stands, its hot spots, the stock hung where it earns, and what that is worth on a fresh trace.
//!
//! Two judgements, both with paths that the search never saw (the next seed): every layout - bare, ours, the rules of thumb - weighed on
//! one fresh trace of the room, so that they differ by nothing else; and the finished plan as built, every panel a body, traced anew.

use rayon::prelude::*;

use crate::bands::Band;
use crate::findings::bass::BassAsked;
use crate::findings::sure::judge_until_sure;
use crate::findings::survey::survey;
use crate::findings::targets::{self, reverberation_range};
use crate::findings::{Estimate, Findings, Survey};
use crate::hanging::{self, Hanging};
use crate::hotspots::{self, Octaves, PatchMap, Spot};
use crate::layout::free::Free;
use crate::progress::{Cancelled, Progress};
use crate::rays;
use crate::response::LowEnd;
use crate::room::{Bodies, PatchGrid, Room, build};
use crate::scene::{Panel, PanelPlace, Scene, StockKind, print_panels};
use crate::settings::Settings;
use crate::weigh::early::EarlyIndex;
use crate::weigh::{Linings, Traced, flat_weights};
use crate::workshop::bearing;

use super::accounts::{hung_before, purchase, without_place};
use super::bass::{BassOctave, ByWaves};
use super::choice::{Tried, choose};
use super::decay::responses;
use super::explain::{self, BARE, Curve, Judged, Kept, Parts};
use super::flush::Flush;
use super::integral::MapIntegral;
use super::low::{LowEnds, corner_places};
use super::maps::{Trials, late_patches};
use super::score::{Faults, Ground, Weighed};
use super::search::{BY_HAND, Corners, Found, Goal, Hung, search};
use super::stock::{MOVING_STEPS, Stock};
use super::thumb;
use super::{HotSpot, Layout, Placed, Plan, PlanPictures, SurfaceMap};

/// Hot spots this far below the loudest are left out, dB.
const SPOT_FLOOR_DB: f64 = -12.0;

/// Side of the patches on which hot spots are sought, meters.
const SPOT_PATCH: f64 = 0.025;

/// By how many decibels the energy in the room falls while paths are followed: the range of T30, and enough beyond it to see that it decays on.
const RECORD_FALL_DB: f64 = 50.0;

/// Length of the record at most: this many times the slowest octave's decay time by Eyring's formula.
const RECORD_DECAYS: f64 = 4.0;

/// Bounds of the length of the record, seconds.
const RECORD_RANGE: (f64, f64) = (0.3, 4.0);

/// How long paths are followed in a room as it stands, seconds: what lies flat on its surfaces can but shorten its decay.
///
/// # Errors
/// [`Cancelled`].
pub fn record_length(progress: &Progress, room: &Room, settings: &Settings) -> Result<f64, Cancelled> {
    let slowest = hanging::eyring(room, &Hanging::default()).0.into_iter().filter(|time| time.is_finite()).fold(0.0, f64::max);
    let most = (RECORD_DECAYS * slowest).clamp(RECORD_RANGE.0, RECORD_RANGE.1);
    Ok(rays::reach(progress, room, settings, RECORD_FALL_DB, most)?.max(RECORD_RANGE.0))
}

/// Traces a scene as it stands, its flat panels left to be weighed.
///
/// # Errors
/// [`Cancelled`].
pub fn trace(progress: &Progress, scene: &Scene) -> Result<Traced, Cancelled> {
    let room = build(scene, Bodies::Standing);
    let end_s = record_length(progress, &room, &scene.settings)?;
    Traced::new(progress, room, scene.settings.clone(), end_s)
}

/// A scene with every panel as a body.
pub struct AsBuilt {
    /// What was traced.
    pub traced: Traced,
    /// What lies flat in it: rugs, curtains, margins.
    pub hanging: Hanging,
    /// Of the room that its panels hang in.
    pub survey: Survey,
}

/// Traces a scene with every panel as a body, as long as its own decay asks: for whatever is told of what hangs and is not moved any more.
///
/// # Errors
/// [`Cancelled`].
pub fn trace_as_built(progress: &Progress, scene: &Scene) -> Result<AsBuilt, Cancelled> {
    let room = build(scene, Bodies::All);
    let hanging = hanging::from_panels(scene, &room, &scene.panels);
    let survey = survey(scene, &build(scene, Bodies::Standing));
    let end_s = record_length(progress, &room, &scene.settings)?;
    Ok(AsBuilt { traced: Traced::new(progress, room, scene.settings.clone(), end_s)?, hanging, survey })
}

/// The pairs of source and receiver that the use of a scene is judged by.
#[must_use]
pub fn judged_pairs(scene: &Scene, room: &Room) -> Vec<(usize, usize)> {
    targets::judged_pairs(scene.activity, room)
}

/// Range that the mean decay shall lie in, seconds: the scene's own, else that of its use; `None` where nothing asks.
#[must_use]
pub fn asked_range(scene: &Scene, survey: &Survey) -> Option<(f64, f64)> {
    scene.goals.decay_s.or_else(|| reverberation_range(scene.activity, survey.volume_m3, survey.floor_area_m2))
}

/// Plans a scene's stock and judges the plan, its low end by waves where they are asked for.
///
/// # Errors
/// [`Cancelled`].
pub fn place(progress: &Progress, written: &Scene, waves: Option<&BassAsked>) -> Result<(Plan, PlanPictures, Room), Cancelled> {
    let scene = &Stock::of(written).scene;
    let mut traced = trace(progress, scene)?;
    let standing = survey(scene, &traced.room);
    let pairs = judged_pairs(scene, &traced.room);
    let bands = judged_bands(standing.schroeder_hz);
    let target = asked_range(scene, &standing);
    let goal = Goal { pairs: &pairs, bands: &bands, target, weights: scene.goals.weights(scene.activity) };
    if reference_panel(scene).is_none() {
        let low = LowEnds::of(progress, written, written, waves)?;
        let before = as_it_stands(progress, written, (&mut traced, low.before()))?;
        let [_, bass] = low.studies();
        return Ok(nothing_to_hang(scene, Findings { bass, ..before }, traced));
    }
    let fresh = fresh_settings(&scene.settings);
    // One, with all of the stock, where no type excludes another.
    let alternatives = written.alternatives();
    let stocks: Vec<Stock> = alternatives.iter().map(|types| Stock::of(&written.with_alternative(types))).collect();
    let index = EarlyIndex::new(progress, &traced)?;
    let others = search_paths(progress, scene)?;
    let others_index = EarlyIndex::new(progress, &others)?;
    let mut searched: Vec<Searched<'_>> = Vec::new();
    for stocked in &stocks {
        // Who has waited long enough gets the best of what was planned until then.
        if searched.is_empty() || !progress.is_enough() {
            let corners = corner_places(progress, stocked, waves)?;
            searched.push(Searched::new(progress, (stocked, corners), &traced, (&others, &others_index), &goal)?);
        }
    }
    let finished = searched.iter().filter(|searched| searched.found.stopped_because != BY_HAND).count();
    let choice = if searched.len() > 1 {
        let tried = alternatives.iter().zip(&stocks).zip(&searched);
        let tried: Vec<Tried<'_>> = tried.map(|((types, stock), searched)| Tried { stock, types, found: &searched.found }).collect();
        Some(choose(progress, scene, fresh.clone(), &goal, (standing.schroeder_hz, &tried))?)
    } else {
        None
    };
    let chosen = choice.as_ref().map_or(0, |choice| choice.chosen - 1);
    let (stock, stocked) = (&stocks[chosen], &stocks[chosen].scene);
    let Searched { found, corners, spots, exchanged, absorber, flush } = searched.swap_remove(chosen);
    drop(searched);
    let trials = Flush::for_trials(stocked, &others.room);
    let on_others = Ground { traced: &others, index: &others_index, flush: &trials, goal: &goal };
    let order = explain::order(progress, on_others, &stocked.panels, &found.hung)?;
    progress.offer(false);
    let by_hand = stopped_by_hand(progress, (finished, stocks.len()));
    drop(others_index);
    drop(others);
    let mut pictures = Weigh { progress, scene: stocked, traced: &traced, index: &index, flush: &flush, goal: &goal }
        .draw(absorber, &exchanged, &found)?;
    let hot_spots = spots.iter().map(|spot| hot_spot(&traced, spot)).collect();
    drop((index, flush));
    // The search has gone by the first round: more rays make what is printed surer, not another plan.
    let planned = Scene { panels: pictures.panels.clone(), ..stocked.clone() };
    let low = LowEnds::of(progress, written, &planned, waves)?;
    let before = as_it_stands(progress, written, (&mut traced, low.before()))?;
    drop(traced);

    // Without a weight nobody asks for it.
    let asked = waves.filter(|_| goal.weights.bass > 0.0);
    let by_waves = |planned| asked.map(|asked| ByWaves { asked, planned, others: low.others(written), survey: &standing });
    let judged = Judgement::new(progress, stock, fresh.clone(), &goal, (&found, &order), low.after().and_then(by_waves))?;
    let built = Scene { panels: pictures.panels.clone(), settings: fresh, ..scene.clone() };
    let after = as_built(progress, &built, low.after())?;
    pictures.layouts = judged.arranged;
    let notes = plan_notes(stock, &judged.room, low.notes(&corners)).into_iter().chain(judged.bass_note).chain(by_hand).collect();
    let [bass_before, bass_after] = low.studies();
    let plan = Plan {
        hot_spots,
        choice,
        hung_before: hung_before(stock, &judged.room, &found.hung),
        purchase: purchase(stock, &judged.room, &found, judged.next_steps),
        placed: judged.placed,
        held_back: Vec::new(),
        meanwhile: None,
        left_over: stock.left_over(&found.left),
        stopped_because: found.stopped_because,
        decay_octaves_hz: octave_range(&bands),
        bass_octaves: judged.bass_octaves,
        before: Findings { bass: bass_before, ..before },
        after: Findings { bass: bass_after, ..after },
        weights: goal.weights,
        layouts: judged.layouts,
        curve: Some(judged.curve),
        notes,
    };
    Ok((plan, pictures, judged.room))
}

/// A stock, and what the search made of it.
struct Searched<'a> {
    found: Found,
    /// Where its corner panels go by waves.
    corners: Corners,
    spots: Vec<Spot>,
    /// Every surface of the panel that maps are drawn for, and the number of its type.
    exchanged: Linings,
    absorber: usize,
    flush: Flush<'a>,
}

impl<'a> Searched<'a> {
    /// Something is in stock.
    fn new(
        progress: &Progress,
        (stock, corners): (&'a Stock, Corners),
        traced: &'a Traced,
        (others, index): (&Traced, &EarlyIndex<'_>),
        goal: &Goal<'_>,
    ) -> Result<Self, Cancelled> {
        let scene = &stock.scene;
        let absorber = reference_panel(scene).expect("an alternative is made of what is in stock");
        let flush = Flush::new(scene, &traced.room);
        let exchanged = Linings::everywhere(&traced.room, &flush.finish(absorber, scene.stock[absorber].gap));
        let spots = spots(traced, &flush.linings(&scene.panels), &exchanged, goal.pairs);
        let trials = Flush::for_trials(scene, &others.room);
        let ground = Ground { traced: others, index, flush: &trials, goal };
        let found = search(progress, stock, ground, (&spots, &corners))?;
        Ok(Self { found, corners, spots, exchanged, absorber, flush })
    }
}

/// Rays that places are sought by, as a share of those that the room is traced by.
const SEARCH_ONE_IN: u32 = 8;

/// But no fewer than these, where there are as many.
const SEARCH_LEAST: u32 = 4_000;

/// Fewer rays with another seed: what places are sought by. Moves are compared on the same rays, so few tell them apart.
///
/// # Errors
/// [`Cancelled`].
pub fn search_paths(progress: &Progress, scene: &Scene) -> Result<Traced, Cancelled> {
    let settings = Settings {
        seed: scene.settings.seed.wrapping_add(2),
        rays: (scene.settings.rays / SEARCH_ONE_IN).max(SEARCH_LEAST.min(scene.settings.rays)),
        ..scene.settings.clone()
    };
    let room = build(scene, Bodies::Standing);
    let end_s = record_length(progress, &room, &settings)?;
    Traced::new(progress, room, settings, end_s)
}

/// Settings of the judgement: the next seed.
#[must_use]
pub fn fresh_settings(settings: &Settings) -> Settings {
    Settings { seed: settings.seed.wrapping_add(1), ..settings.clone() }
}

/// Octaves of 250 Hz - 4 kHz above Schroeder's frequency.
#[must_use]
pub fn judged_bands(schroeder_hz: f64) -> Vec<Band> {
    Band::ALL.into_iter().filter(|band| (250..=4000).contains(&band.nominal()) && band.center() >= schroeder_hz).collect()
}

/// Lowest and highest of these octaves, Hz; 0 where there are none.
pub(super) fn octave_range(bands: &[Band]) -> [u32; 2] {
    [bands.first(), bands.last()].map(|band| band.map_or(0, |band| band.nominal()))
}

/// The type of panel that maps are drawn for: the flat one of which there are most.
#[must_use]
pub fn reference_panel(scene: &Scene) -> Option<usize> {
    (0..scene.stock.len())
        .filter(|&kind| scene.stock[kind].count > 0 && scene.stock[kind].kind == StockKind::Panel)
        .max_by_key(|&kind| (scene.stock[kind].count, std::cmp::Reverse(kind)))
        .or_else(|| (0..scene.stock.len()).find(|&kind| scene.stock[kind].count > 0))
}

/// The room as it stands, in as many rounds as it takes: on the paths that the plan was sought by where nothing hangs, else as built.
fn as_it_stands(progress: &Progress, written: &Scene, (traced, low): (&mut Traced, Option<&LowEnd>)) -> Result<Findings, Cancelled> {
    if !written.panels.is_empty() {
        return as_built(progress, written, low);
    }
    let standing = survey(written, &traced.room);
    judge_until_sure(progress, written, (traced, low), &Hanging::default(), &standing)
}

/// What is said of places overhead where the scene says what carries them.
const BORNE: &str = "Overhead, what would find nothing to hang from by the joists, rafters and beams that the scene names was moved to where it does: by up to 200 mm or turned if that is enough, clouds 100 mm lower where wires need that.";

fn plan_notes(stock: &Stock, room: &Room, low: Vec<String>) -> Vec<String> {
    let moved = format!(
        "Hot spots and maps are those of the room without the panels that may be moved. A place that is left counts {MOVING_STEPS} steps against a layout; corner panels and clouds stay."
    );
    let bought = "With a budget the rules of thumb buy what absorbs most for its money (250 Hz - 4 kHz) until the money, or by Sabine's formula the decay that is asked, is used up.";
    let borne = bearing::is_known(&stock.scene, room).then(|| BORNE.to_owned());
    let lengthy = [(!stock.hangs.is_empty()).then_some(moved), stock.budget().map(|_| bought.to_owned()), borne];
    [
        "Earnings are what is lost when that panel alone is removed; they do not add up.",
        "Layouts are compared with corner panels and clouds taken as flush; 'after' is traced anew with every panel as built.",
    ]
    .map(str::to_owned)
    .into_iter()
    .chain(low)
    .chain(lengthy.into_iter().flatten())
    .chain(without_place(&stock.scene, room))
    .collect()
}

/// What is less than in other plans where somebody had waited long enough: of all alternatives so many were planned to the end.
fn stopped_by_hand(progress: &Progress, (finished, all): (usize, usize)) -> Vec<String> {
    if !progress.is_enough() {
        return Vec::new();
    }
    let alternatives = format!("Stopped by hand: {finished} of {all} alternatives in stock were planned to the end.");
    let order = "Stopped by hand: in the order of greatest gain the panels that were left then follow by what each adds to those before."
        .to_owned();
    (all > 1 && finished < all).then_some(alternatives).into_iter().chain([order]).collect()
}

fn nothing_to_hang(scene: &Scene, before: Findings, traced: Traced) -> (Plan, PlanPictures, Room) {
    let plan = Plan {
        hot_spots: Vec::new(),
        choice: None,
        placed: Vec::new(),
        held_back: Vec::new(),
        meanwhile: None,
        hung_before: Vec::new(),
        purchase: None,
        left_over: Vec::new(),
        stopped_because: "there is no stock to hang".to_owned(),
        decay_octaves_hz: octave_range(&judged_bands(before.survey.schroeder_hz)),
        bass_octaves: Vec::new(),
        after: before.clone(),
        before,
        weights: scene.goals.weights(scene.activity),
        layouts: Vec::new(),
        curve: None,
        notes: Vec::new(),
    };
    let pictures = PlanPictures { panels: scene.panels.clone(), ..PlanPictures::default() };
    (plan, pictures, traced.room)
}

/// A hot spot in the words of the scene.
#[must_use]
pub fn hot_spot(traced: &Traced, spot: &Spot) -> HotSpot {
    let chart = &traced.room.surfaces[spot.surface].chart;
    HotSpot {
        center: spot.place.clone(),
        point_m: chart.point(spot.center).to_array(),
        extent_m: spot.extent.to_array(),
        area_m2: spot.area,
        source: traced.room.sources[spot.source].name.clone(),
        receiver: traced.room.receivers[spot.receiver].name.clone(),
        delay_ms: spot.delay_s * 1000.0,
        level_db: spot.level_db,
        share: spot.share,
    }
}

/// The hot spots of all pairs, the loudest first.
#[must_use]
pub fn spots(traced: &Traced, standing: &Linings, exchanged: &Linings, pairs: &[(usize, usize)]) -> Vec<Spot> {
    let grid = PatchGrid::new(&traced.room.surfaces, SPOT_PATCH);
    let mut spots: Vec<Spot> =
        pairs.par_iter().flat_map_iter(|&pair| hotspots::hot_spots(traced, standing, exchanged, &grid, pair, SPOT_FLOOR_DB)).collect();
    spots.sort_by(|a, b| b.level_db.total_cmp(&a.level_db));
    spots
}

/// What maps are weighed with.
struct Weigh<'a> {
    progress: &'a Progress,
    scene: &'a Scene,
    traced: &'a Traced,
    index: &'a EarlyIndex<'a>,
    flush: &'a Flush<'a>,
    goal: &'a Goal<'a>,
}

impl Weigh<'_> {
    /// Maps of the room as it stands, and all panels.
    fn draw(&self, absorber: usize, exchanged: &Linings, found: &Found) -> Result<PlanPictures, Cancelled> {
        let Self { progress, scene, traced, goal, .. } = *self;
        let hung = self.flush.hanging(&scene.panels);
        let standing = Linings::new(&traced.room, &hung);
        let early = self.index.weigh(progress, &standing)?;
        let maps = hotspots::early_maps(progress, traced, &standing, &[exchanged], &early, (goal.pairs, flat_weights()))?;
        let responses = responses(progress, traced, &standing)?;
        // Late arrivals come from everywhere: on small patches their map would be noise.
        let coarse = late_patches(&traced.room);
        let octaves = Octaves::Together(goal.bands);
        let clarity = hotspots::clarity(traced, &responses, goal.pairs, octaves);
        let decay = hotspots::decay(traced, &responses, goal.pairs, octaves);
        let is_there = [clarity.is_some(), decay.is_some()];
        let quantities: Vec<_> = clarity.into_iter().chain(decay).collect();
        let grids = vec![&coarse; quantities.len()];
        let mut drawings = hotspots::maps(progress, traced, &standing, exchanged, &quantities, &grids)?.into_iter();
        let [clarity, late] = is_there.map(|is_there| if is_there { drawings.next().unwrap_or_default() } else { Vec::new() });
        let drawn = |grid: &PatchGrid, maps: &[PatchMap]| maps.first().map_or_else(Vec::new, |map| SurfaceMap::of_map(grid, map));
        let earning = match maps.first() {
            Some(map) => {
                let slope = MapIntegral::new(&traced.room.patches, map);
                let with = |panel: &Panel| {
                    let mut panels = scene.panels.clone();
                    panels.push(panel.clone());
                    let after = self.flush.hanging(&panels);
                    (Linings::new(&traced.room, &after), hung.differing(&after))
                };
                let (standing, early, slope) = (&standing, &early, &slope);
                Trials { scene, traced, index: self.index, asked: (goal.pairs, flat_weights()), standing, early, slope, with: &with }
                    .earning(progress, &scene.stock[absorber])?
            }
            None => Vec::new(),
        };
        let panels = scene.panels.iter().cloned().chain(found.hung.iter().map(|hung| hung.panel.clone())).collect();
        Ok(PlanPictures {
            earning,
            early: drawn(&traced.room.patches, &maps),
            clarity: drawn(&coarse, &clarity),
            late: drawn(&coarse, &late),
            panels,
            layouts: Vec::new(),
        })
    }
}

/// A scene as built, with its waves if they were run; the crossover is that of the bare room.
///
/// # Errors
/// [`Cancelled`].
pub fn as_built(progress: &Progress, scene: &Scene, low: Option<&LowEnd>) -> Result<Findings, Cancelled> {
    let AsBuilt { mut traced, hanging, survey } = trace_as_built(progress, scene)?;
    judge_until_sure(progress, scene, (&mut traced, low), &hanging, &survey)
}

/// What the bass of layouts rests on.
const BASS: &str = "Bass of layouts: those that findings do not tell were run through waves as the plan was, and the plan without each of its corner panels. The search does not know it, nor do choices between types, what flat panels and clouds earn, what a panel earns alone and how many it takes.";

/// What our layout is called.
const OURS: &str = "plan";

/// All layouts that are judged side by side, with their names: the rules of thumb with as many of each type as ours hangs, or with the same money.
fn arrangements(stock: &Stock, traced: &Traced, flush: &Flush<'_>, goal: &Goal<'_>, found: &Found) -> Vec<(&'static str, Vec<Panel>)> {
    let (scene, free) = (&stock.scene, Free::new(&stock.scene, &traced.room));
    let counts = match stock.budget() {
        Some(_) => stock.installed(flush, &traced.room, goal),
        None => stock.used(&found.left),
    };
    let points = thumb::mirror_points(traced, goal.pairs);
    let as_it_hangs = (!stock.hangs.is_empty()).then(|| ("as it hangs", stock.hangs.iter().map(|(_, panel)| panel.clone()).collect()));
    let ours = found.hung.iter().map(|hung| hung.panel.clone()).collect();
    let rules = [
        ("first reflection points, corners, even spread", thumb::first_points(scene, &traced.room, &free, &counts, &points)),
        ("even spread", thumb::even_spread(scene, &traced.room, &free, &counts)),
    ];
    let all = [("bare", Vec::new())].into_iter().chain(as_it_hangs).chain([(OURS, ours)]).chain(rules);
    all.map(|(name, panels)| (name, scene.panels.iter().cloned().chain(panels).collect())).collect()
}

/// Those of some panels that hang across corners, by their number from 0.
fn corner_panels(hung: &[Hung]) -> impl Iterator<Item = usize> {
    (0..hung.len()).filter(|&one| matches!(hung[one].panel.place, PanelPlace::Corner { .. }))
}

/// All layouts on one trace that the search never saw, and what each panel of ours is worth there.
pub struct Judgement {
    /// Our panels in hanging order.
    pub placed: Vec<Placed>,
    /// Bare, as it hangs where that may change, ours and the rules of thumb.
    pub layouts: Vec<Layout>,
    /// All that hangs in each of these.
    pub arranged: Vec<Vec<Panel>>,
    /// How much is wrong after so many of our panels, without bass.
    pub curve: Curve,
    /// Octaves whose bass layouts are judged by; none without waves.
    pub bass_octaves: Vec<BassOctave>,
    /// What is to be said of it.
    pub bass_note: Option<String>,
    /// By how many steps the piece that would be bought next makes the room better.
    next_steps: Option<Estimate>,
    room: Room,
}

impl Judgement {
    /// The room as it stands is traced with these settings to the end of its record, in one round: layouts on the same rays differ by nothing else. `order`: the panels from the one
    /// that earns most on, by their number from 0, made on other paths ([`explain::order`]). With `by_waves` layouts are judged by their bass as well.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(
        progress: &Progress,
        stock: &Stock,
        settings: Settings,
        goal: &Goal<'_>,
        (found, order): (&Found, &[usize]),
        by_waves: Option<ByWaves<'_>>,
    ) -> Result<Self, Cancelled> {
        let scene = &stock.scene;
        let room = build(scene, Bodies::Standing);
        let end_s = record_length(progress, &room, &settings)?;
        let traced = Traced::new(progress, room, settings, end_s)?;
        let index = EarlyIndex::new(progress, &traced)?;
        let flush = Flush::new(scene, &traced.room);
        let arrangements = arrangements(stock, &traced, &flush, goal, found);
        let free = Free::new(scene, &traced.room);
        let plan = arrangements.iter().position(|(name, _)| *name == OURS).expect("ours is among them");
        let ground = Ground { traced: &traced, index: &index, flush: &flush, goal };
        let next = found.next.iter().map(|next| arrangements[plan].1.iter().chain([next]).cloned().collect::<Vec<Panel>>());
        let named = arrangements.iter().map(|(_, panels)| panels.clone()).chain(next);
        let weighed: Vec<Weighed> = named.map(|panels| Weighed::new(progress, ground, &panels)).collect::<Result<_, _>>()?;
        let mut kept: Vec<Kept> = weighed.iter().map(|weighed| Kept::of(ground, weighed)).collect();
        let parts = Parts::new(&found.hung, order, plan, kept.len());
        kept.extend(parts.weigh(progress, ground, (&weighed[BARE], &weighed[plan]), &scene.panels, weighed.len())?);
        let named = weighed.len();
        // Corner panels hang for the bass: what each earns of it is what the plan lacks without it.
        let corners: Vec<usize> = if by_waves.is_some() { corner_panels(&found.hung).collect() } else { Vec::new() };
        let lacking: Vec<Vec<Panel>> = corners.iter().map(|&one| parts.plan_without(&scene.panels, one)).collect();
        let lacking_weighed = weighed[plan].others(progress, ground, &lacking)?;
        let compared = arrangements.iter().map(|(_, panels)| panels).zip(&weighed).chain(lacking.iter().zip(&lacking_weighed));
        let compared: Vec<(&[Panel], &Weighed)> = compared.map(|(panels, weighed)| (&panels[..], weighed)).collect();
        let bass = by_waves.map(|waves| waves.layouts(progress, (ground, scene), &compared, plan)).transpose()?;
        let (bass, bass_note) = bass.map_or((None, None), |bass| match bass {
            Ok(bass) => (Some(bass), Some(BASS.to_owned())),
            Err(why) => (None, Some(format!("The layouts' bass is not told, since {why}."))),
        });
        drop((weighed, lacking_weighed));
        let all = Judged::new(goal, kept);
        let ours = &all.faults[plan];
        let next_steps = (named > arrangements.len()).then(|| all.faults[arrangements.len()].better_by(ours).error());
        // Panels and what the next piece would bring are known by rays alone; layouts by all that there is.
        let joined = |(number, faults): (usize, &Faults)| match &bass {
            Some(bass) => bass.joined(number, faults.clone(), goal.weights.bass),
            None => faults.clone(),
        };
        let compared: Vec<Faults> = all.faults[..arrangements.len()].iter().enumerate().map(joined).collect();
        let layout = |((name, panels), faults): ((&str, Vec<Panel>), &Faults)| {
            let arranged = Scene { panels, ..scene.clone() };
            Layout {
                name: name.to_owned(),
                panels: arranged.panels.len() as u32,
                hangs: print_panels(&arranged, &arranged.panels),
                treated_share: survey(&arranged, &traced.room).treated_share,
                cost: stock.budget().map(|_| stock.cost(&stock.counted(&arranged.panels[scene.panels.len()..]))),
                figures: faults.figures.clone(),
                faults_steps: faults.told(),
                together_steps: faults.together().error(),
                plan_better_steps: compared[plan].better_by(faults).error(),
            }
        };
        let arranged = arrangements.iter().map(|(_, panels)| panels.clone()).collect();
        let first_lacking = arrangements.len();
        let layouts = arrangements.into_iter().zip(&compared).map(layout).collect();
        let (mut placed, curve) = (parts.placed(&all, goal, scene, &free, &found.hung), parts.curve(&all));
        if let Some(bass) = &bass {
            for (number, &one) in (first_lacking..).zip(&corners) {
                let without = bass.joined(number, all.faults[parts.place(&parts.without(one))].clone(), goal.weights.bass);
                if let Some(panel) = placed.iter_mut().find(|panel| panel.number as usize == one + 1) {
                    panel.earns.with_bass(&compared[plan], &without, bass.growth(plan, number));
                }
            }
        }
        drop((index, flush));
        let bass_octaves = bass.map_or_else(Vec::new, |bass| bass.octaves);
        Ok(Self { placed, layouts, arranged, curve, bass_octaves, bass_note, next_steps, room: traced.room })
    }
}
