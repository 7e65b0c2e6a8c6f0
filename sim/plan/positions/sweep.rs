//! Tries a listening set at the places of a grid in four facings, looks closer round the leaders, and judges the best of them against the present place with a fresh seed.
//!
//! The grid lies evenly about the middle of the box round the floor plan, so that the middle lines of a room are tried. Without a step asked for it is the finest of some round ones that leaves no
//! more than [`PLACES_MOST`] places at which the set fits. Places of a round are traced side by side, each by itself: nothing depends on how many threads there are.
//!
//! *Limits.* Leaders that are near to each other in the same facing are one; what lies between the places of the grid is looked at round the leaders alone.

use std::collections::BTreeSet;

use glam::DVec2;
use rayon::prelude::*;

use crate::findings::bass::{BassAsked, BassEffort, BassError, BassEvenness};
use crate::findings::survey::survey;
use crate::plan::decay::{BothRanges, SideBySide};
use crate::plan::place::{asked_range, judged_bands, judged_pairs, octave_range, record_length};
use crate::plan::score::{Faults, Heard, LEAST_STEPS, faults};
use crate::plan::search::Goal;
use crate::plan::sure::{Sure, until_sure};
use crate::progress::{Cancelled, Progress};
use crate::response::widths_together;
use crate::room::{Bodies, build};
use crate::scene::Scene;
use crate::settings::{BATCHES, Settings};
use crate::units::{Length, LengthUnit};

use super::fit::{CLEAR_WAY, Fit, HEAD_FROM_WALL, POINT_FROM_WALL};
use super::low::{self, LowEnds, Waves};
use super::reasons;
use super::set::{CannotMove, ListeningSet, turned};
use super::trial::{Early, Judged, Setup};
use super::{Facing, Finalist, LeftOutPlace, PositionsAsked, PositionsStudy, Present, SetPlace, TriedFigures, TriedPlace};

/// Most places at which a set fits, unless a step is asked for.
const PLACES_MOST: usize = 400;

/// Most places of a grid at all.
const GRID_MOST: usize = 40_000;

/// Steps of the grid in meters, and in feet for scenes in feet or inches.
const STEPS: [f64; 8] = [0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 1.0];
const FOOT_STEPS: [f64; 6] = [1.0 / 3.0, 0.5, 2.0 / 3.0, 1.0, 1.5, 3.0];

/// Rays from each source at each place of the grid, and by how much more round the leaders.
const GRID_RAYS: u32 = 1000;
const CLOSER: u32 = 4;

/// Leaders that are looked at closer: the best of each facing, and where not all of them fit the next best; the best round each is a finalist.
const LEADERS: usize = 4;

/// Nearer to each other than this in one facing, in steps of the grid, leaders are one.
const LEADER_STEPS: f64 = 2.5;

/// Places within so much of the best are half a step away, steps.
const HALF_STEP: f64 = 0.5;

/// Why there is no study.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PositionsError {
    /// Nothing can be moved.
    #[error(transparent)]
    Cannot(#[from] CannotMove),
    /// Stopped by whoever asked.
    #[error(transparent)]
    Stopped(#[from] Cancelled),
}

/// Studies where the listening set of a scene stands, its low end by waves where they are asked for.
///
/// # Errors
/// [`PositionsError`]: nothing moves, it fits nowhere, or stopped.
pub fn positions(
    progress: &Progress,
    scene: &Scene,
    asked: &PositionsAsked,
    waves: Option<&BassAsked>,
) -> Result<PositionsStudy, PositionsError> {
    let set = ListeningSet::of(scene, asked)?;
    let from_walls = sensible("from-walls", asked.from_walls_m, 0.0, POINT_FROM_WALL)?;
    let fit = Fit::new(scene, &set, from_walls);
    let room = build(scene, Bodies::Standing);
    let standing = survey(scene, &room);
    let pairs = judged_pairs(scene, &room);
    let bands = judged_bands(standing.schroeder_hz);
    let target = asked_range(scene, &standing);
    let goal = Goal { pairs: &pairs, bands: &bands, target, weights: scene.goals.weights(scene.activity) };
    progress.begin("places at which the set fits", 1);
    let grid = Grid::new(progress, scene, &set, &fit, asked)?;
    let end_s = record_length(&progress.part(), &room, &scene.settings)?;
    let judged = Judged::of(&pairs);
    let early_goal = Goal { pairs: &judged.pairs, bands: &[], ..goal };
    let setup = Setup { judged: &judged, goal: &early_goal, settings: &scene.settings, end_s };
    let study = Study { progress, scene, set: &set, fit: &fit, goal: &goal, setup: &setup, step: grid.step };
    let mut round = study.grid(&grid)?;
    let closer = study.closer(&round)?;
    let chosen: Vec<(SetPlace, Option<f64>)> = closer.iter().filter_map(Round::first_and_beside).collect();
    let (low, why) = study.low(&round, &chosen, &pairs, waves)?;
    round.take(low.as_ref());
    let (present, finalists, errors_met) = study.finals(&round, &chosen, fit.objection(scene), low.as_ref())?;
    let best = round.best();
    let rays = [finalists.iter().map(|one| one.rays_per_source).min(), finalists.iter().map(|one| one.rays_per_source).max()];
    let [fewest, most] = rays.map(Option::unwrap_or_default);
    let mut told = PositionsStudy {
        moves: set.words(scene),
        stays: (0..scene.blocks.len()).filter(|index| !set.blocks.contains(index)).map(|index| scene.blocks[index].name.clone()).collect(),
        middle: set.middle_words.clone(),
        step_m: grid.step,
        points_from_walls_m: from_walls,
        heads_from_walls_m: HEAD_FROM_WALL.max(from_walls),
        clear_way_m: CLEAR_WAY,
        asked_decay_s: target.map(|(low, high)| [low, high]),
        decay_octaves_hz: octave_range(&bands),
        schroeder_hz: standing.schroeder_hz,
        present,
        facings: study.facings(&round, grid.places),
        places_within_half_step: round.tried.iter().filter(|(_, figures)| best - figures.better_steps.value <= HALF_STEP).count(),
        tried: round.tried.into_iter().map(|(place, figures)| TriedPlace { place, figures }).collect(),
        left_out: round.left_out,
        finalists,
        bass: low.map(|low| low.told),
        reasons: Vec::new(),
        cautions: reasons::cautions(scene, &set),
        rays_per_source: [grid_rays(&scene.settings), closer_rays(&scene.settings), fewest, most],
        errors_met,
        notes: Vec::new(),
    };
    told.notes = notes(&told, why);
    told.reasons = reasons::reasons(&told, scene.unit);
    Ok(told)
}

/// What the waves of a study would take at most where no step of the grid is asked for.
///
/// # Errors
/// [`BassError`] as far as nothing needs to be run for it.
pub fn effort(scene: &Scene, waves: &BassAsked) -> Result<BassEffort, BassError> {
    let pairs = judged_pairs(scene, &build(scene, Bodies::Standing));
    let receivers: BTreeSet<usize> = pairs.iter().map(|pair| pair.1).collect();
    low::effort(scene, waves, receivers.len(), (LEADERS, PLACES_MOST))
}

/// Where theory and data stop; `why` the low end could not be computed.
fn notes(study: &PositionsStudy, why: Option<BassError>) -> Vec<String> {
    let low = study.bass.as_ref().map(|bass| {
        let off = bass.grid_off_db.map_or_else(String::new, |off| format!(", which moved evenness by up to {off:.1} dB where both were done"));
        format!(
            "The low end is that of waves up to {:.0} Hz, {} together, at the least even place that is judged: in cells of {:.0} mm at the present and the best places, over the grid in cells of {:.0} mm and \
             without what moves along{off}. Levels there are re the free field; walls are what their tables say.",
            bass.top_hz,
            bass.sources.join(" and "),
            1e3 * bass.cell_m,
            1e3 * bass.grid_cell_m
        )
    });
    let rays = [
        "The room is traced anew at every place, with one seed for all of a round; the places of the grid are told by early terms alone, since the decay hardly changes with the place.",
        "Gains of the finalists are those of a fresh seed, which had no part in choosing them; their intervals are wide enough for all of them together.",
        "A loudspeaker is a point with a directivity: what its own box and a wall close behind it do is not in these figures.",
        "Panels stay where they hang. Those that were hung for the present place may be wrong for another: place them anew after moving.",
    ];
    low.into_iter().chain(why.map(|why| format!("The low end was not computed: {why}."))).chain(rays.map(str::to_owned)).collect()
}

/// A length as asked, held to be no less than `least`.
fn sensible(name: &str, asked: Option<f64>, least: f64, usual: f64) -> Result<f64, CannotMove> {
    match asked {
        Some(length) if !(length.is_finite() && length >= least) => {
            Err(CannotMove::Asked(format!("--{name}: expected a length of {} or more", Length(least).print(LengthUnit::Meter))))
        }
        other => Ok(other.unwrap_or(usual)),
    }
}

/// Rays from each source at a place of the grid, and round the leaders.
fn grid_rays(settings: &Settings) -> u32 {
    GRID_RAYS.min(settings.rays).max(BATCHES)
}

fn closer_rays(settings: &Settings) -> u32 {
    (CLOSER * GRID_RAYS).min(settings.rays).max(BATCHES)
}

/// Where the set fits, and where it does not.
struct Grid {
    step: f64,
    /// Places of one facing.
    places: usize,
    fitting: Vec<SetPlace>,
    left_out: Vec<LeftOutPlace>,
}

impl Grid {
    /// By the step that is asked for, or the finest that leaves few enough places.
    fn new(progress: &Progress, scene: &Scene, set: &ListeningSet, fit: &Fit<'_>, asked: &PositionsAsked) -> Result<Self, PositionsError> {
        let own = match scene.unit {
            LengthUnit::Foot | LengthUnit::Inch => FOOT_STEPS.map(|step| LengthUnit::Foot.to_meters(step)).to_vec(),
            LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => STEPS.to_vec(),
        };
        let steps = match asked.step_m {
            Some(step) => vec![sensible("step", Some(step), 0.02, step)?],
            None => own,
        };
        let mut last = None;
        for step in steps.into_iter().rev() {
            let nodes = nodes(scene, step);
            if 4 * nodes.len() > GRID_MOST {
                if asked.step_m.is_some() {
                    return Err(CannotMove::Asked(format!(
                        "--step: {} places are too many, at most {GRID_MOST} are looked at",
                        4 * nodes.len()
                    ))
                    .into());
                }
                break;
            }
            let grid = Self::of(progress, scene, (set, fit), step, &nodes)?;
            if grid.fitting.len() > PLACES_MOST
                && asked.step_m.is_none()
                && last.as_ref().is_some_and(|last: &Self| !last.fitting.is_empty())
            {
                break;
            }
            last = Some(grid);
        }
        match last {
            Some(grid) if !grid.fitting.is_empty() => Ok(grid),
            other => Err(nowhere(scene, other.as_ref()).into()),
        }
    }

    fn of(
        progress: &Progress,
        scene: &Scene,
        (set, fit): (&ListeningSet, &Fit<'_>),
        step: f64,
        nodes: &[DVec2],
    ) -> Result<Self, Cancelled> {
        let places =
            (0..4).flat_map(|quarters| nodes.iter().map(move |node| SetPlace { middle_m: node.to_array(), turned_deg: 90 * quarters }));
        let looked: Vec<(SetPlace, Option<String>)> = places
            .collect::<Vec<_>>()
            .into_par_iter()
            .map(|place| {
                progress.step(0)?;
                let moved = set.at(scene, place);
                Ok((place, fit.refusal(&moved)))
            })
            .collect::<Result<_, Cancelled>>()?;
        let (mut fitting, mut left_out) = (Vec::new(), Vec::new());
        for (place, objection) in looked {
            match objection {
                None => fitting.push(place),
                Some(reason) => left_out.push(LeftOutPlace { place, reason }),
            }
        }
        Ok(Self { step, places: nodes.len(), fitting, left_out })
    }
}

/// Points of a grid within the walls, evenly about the middle of the box round them; by rows from the least y.
fn nodes(scene: &Scene, step: f64) -> Vec<DVec2> {
    let plan = scene.floor_plan();
    let (low, high) = plan.bounds();
    let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
    let [across, up] = [half.x, half.y].map(|half| (half / step - 1e-9).floor() as i64);
    let node = |column: i64, row: i64| middle + step * DVec2::new(column as f64, row as f64);
    (-up..=up).flat_map(|row| (-across..=across).map(move |column| node(column, row))).filter(|&node| plan.contains(node)).collect()
}

fn nowhere(scene: &Scene, grid: Option<&Grid>) -> CannotMove {
    let left_out = grid.map_or(&[][..], |grid| &grid.left_out);
    let reasons: Vec<String> =
        reasons::by_reason(left_out).into_iter().take(3).map(|(reason, count)| format!("{reason} ({count})")).collect();
    CannotMove::Nowhere {
        places: left_out.len(),
        step: Length(grid.map_or(0.0, |grid| grid.step)).print(scene.unit),
        reasons: reasons.join("; "),
    }
}

/// What a round of the search came to.
struct Round {
    present: TriedFigures,
    tried: Vec<(SetPlace, TriedFigures)>,
    left_out: Vec<LeftOutPlace>,
}

impl Round {
    /// The best of it against the present place, steps.
    fn best(&self) -> f64 {
        self.tried.iter().map(|(_, figures)| figures.better_steps.value).fold(f64::NEG_INFINITY, f64::max)
    }

    /// What the low end is like at these places.
    fn take(&mut self, low: Option<&LowEnds>) {
        let Some(low) = low else { return };
        self.present.bass = low.tried_present;
        self.tried.iter_mut().zip(&low.tried).for_each(|((_, figures), bass)| figures.bass = *bass);
    }

    /// The first of the best places, and how much the worst of the others is behind it.
    fn first_and_beside(&self) -> Option<(SetPlace, Option<f64>)> {
        let (first, best) =
            self.tried.iter().find(|(_, figures)| figures.better_steps.value >= self.best()).map(|(place, _)| (*place, self.best()))?;
        let others = self.tried.iter().filter(|(place, _)| *place != first);
        Some((first, others.map(|(_, figures)| best - figures.better_steps.value).reduce(f64::max)))
    }
}

/// What all rounds have in common.
struct Study<'a> {
    progress: &'a Progress,
    scene: &'a Scene,
    set: &'a ListeningSet,
    fit: &'a Fit<'a>,
    goal: &'a Goal<'a>,
    setup: &'a Setup<'a>,
    /// Of the grid, meters.
    step: f64,
}

impl Study<'_> {
    fn grid(&self, grid: &Grid) -> Result<Round, Cancelled> {
        self.progress.begin("places for the set", grid.fitting.len() as u64 + 1);
        let mut round = self.round(&grid.fitting, grid_rays(&self.scene.settings))?;
        round.left_out.extend(grid.left_out.iter().cloned());
        Ok(round)
    }

    /// Leaders in half steps round where they stand, with more rays.
    fn closer(&self, round: &Round) -> Result<Vec<Round>, Cancelled> {
        let leaders = leaders(&round.tried, self.step);
        self.progress.begin("closer round the best places", 9 * leaders.len() as u64);
        let around = |leader: SetPlace| -> Vec<SetPlace> {
            let shifts = (-1..=1).flat_map(|row| (-1..=1).map(move |column| DVec2::new(f64::from(column), f64::from(row))));
            let places = shifts.map(|shift| SetPlace { middle_m: (leader.middle() + 0.5 * self.step * shift).to_array(), ..leader });
            places.filter(|&place| self.fit.refusal(&self.set.at(self.scene, place)).is_none()).collect()
        };
        leaders.into_iter().map(|leader| self.round(&around(leader), closer_rays(&self.scene.settings))).collect()
    }

    /// These places against the present one.
    fn round(&self, places: &[SetPlace], rays: u32) -> Result<Round, Cancelled> {
        let all: Vec<SetPlace> = std::iter::once(self.set.present()).chain(places.iter().copied()).collect();
        let traced: Vec<Early> = all
            .par_iter()
            .map(|&place| {
                let early = self.setup.early(&self.progress.part(), &self.set.at(self.scene, place), rays)?;
                self.progress.step(1)?;
                Ok(early)
            })
            .collect::<Result<_, Cancelled>>()?;
        let judged = self.setup.faults(&traced.iter().collect::<Vec<_>>());
        let (mut tried, mut left_out) = (Vec::new(), Vec::new());
        for ((place, early), own) in all.iter().zip(&traced).zip(&judged).skip(1) {
            match early.hidden(self.scene, &traced[0], self.goal.pairs) {
                Some(reason) => left_out.push(LeftOutPlace { place: *place, reason }),
                None => tried.push((*place, figures(own, &judged[0]))),
            }
        }
        Ok(Round { present: figures(&judged[0], &judged[0]), tried, left_out })
    }

    /// The low end where waves are asked for, or why it could not be computed.
    fn low(
        &self,
        round: &Round,
        chosen: &[(SetPlace, Option<f64>)],
        pairs: &[(usize, usize)],
        waves: Option<&BassAsked>,
    ) -> Result<(Option<LowEnds>, Option<BassError>), Cancelled> {
        let Some(asked) = waves else { return Ok((None, None)) };
        let &Self { progress, scene, set, step, .. } = self;
        let waves = Waves { progress, scene, set, pairs, asked: *asked, step };
        match waves.hear(&round.tried, &chosen.iter().map(|one| one.0).collect::<Vec<_>>()) {
            Ok(mut low) => {
                low.told.evenest.iter_mut().for_each(|evenest| evenest.facing = self.wall_ahead(evenest.place));
                Ok((Some(low), None))
            }
            Err(BassError::Stopped(stopped)) => Err(stopped),
            Err(why) => Ok((None, Some(why))),
        }
    }

    /// The best round each leader against the present place: a fresh seed, all rays, all terms.
    fn finals(
        &self,
        round: &Round,
        chosen: &[(SetPlace, Option<f64>)],
        objection: Option<String>,
        low: Option<&LowEnds>,
    ) -> Result<(Present, Vec<Finalist>, bool), Cancelled> {
        self.progress.begin("judging the best places", chosen.len() as u64 + 1);
        let settings = Settings { seed: self.scene.settings.seed.wrapping_add(1), ..self.scene.settings.clone() };
        let all = std::iter::once(self.set.present()).chain(chosen.iter().map(|one| one.0));
        let rooms: Vec<Final> = all.map(|place| self.last(place, &settings)).collect::<Result<_, _>>()?;
        let decays = SideBySide::among(&rooms.iter().map(|room| &room.times).collect::<Vec<_>>());
        let judged = faults(self.goal, &rooms.iter().map(|room| &room.heard).collect::<Vec<_>>(), &decays);
        let present = Present {
            place: self.set.present(),
            objection,
            tried: round.present.clone(),
            figures: judged[0].figures.clone(),
            faults_steps: judged[0].told(),
            together_steps: judged[0].together().error(),
            bass: low.and_then(|low| low.present),
            standing: self.set.standing(self.scene),
        };
        let widths = widths_together(chosen.len());
        let one = |(index, own): (usize, &Faults)| {
            let (place, lost) = chosen[index];
            let bass = low.and_then(|low| low.finalists[index]);
            let score = own.better_by(&judged[0]).error();
            let half_width = widths * score.se;
            Finalist {
                number: 0,
                place,
                facing: self.wall_ahead(place),
                moved_m: place.middle().distance(self.set.middle),
                figures: own.figures.clone(),
                gains_steps: own.better_by_term(&judged[0]),
                score_steps: score,
                half_width_steps: half_width,
                is_better: score.value > half_width.max(LEAST_STEPS),
                lost_beside_steps: lost,
                bass,
                evener_db: present.bass.zip(bass).map(|(present, own)| present.evenness_db - own.evenness_db),
                standing: self.set.standing(&self.set.at(self.scene, place)),
                rays_per_source: rooms[1 + index].rays,
            }
        };
        let told = judged[1..].iter().enumerate().map(one);
        let mut finalists = ranked(told.zip(&judged[1..]).collect(), widths, low.is_some());
        finalists.iter_mut().enumerate().for_each(|(index, one)| one.number = index + 1);
        Ok((present, finalists, rooms.iter().all(|room| room.is_sure)))
    }

    /// A place traced until it is sure.
    fn last(&self, place: SetPlace, settings: &Settings) -> Result<Final, Cancelled> {
        let scene = self.set.at(self.scene, place);
        let Sure { traced, heard, times, is_sure, .. } =
            until_sure(&self.progress.part(), &scene, self.goal, settings.clone(), self.setup.end_s)?;
        self.progress.step(1)?;
        Ok(Final { heard, times, is_sure, rays: traced.rays() })
    }

    fn facings(&self, round: &Round, places: usize) -> Vec<Facing> {
        let one = |quarters: u32| {
            let turned_deg = 90 * quarters;
            let place = SetPlace { turned_deg, ..self.set.present() };
            let fitting = round.tried.iter().filter(|(place, _)| place.turned_deg == turned_deg).count();
            Facing { turned_deg, wall: self.wall_ahead(place), places_fitting: fitting, places }
        };
        (0..4).map(one).collect()
    }

    /// The wall that a set faces: whose outward normal is nearest to the way ahead; of equals the longest.
    fn wall_ahead(&self, place: SetPlace) -> String {
        let ahead = turned(self.set.ahead, place.quarters());
        let faces = |wall: usize| {
            let (from, to) = self.scene.wall_ends(wall);
            let outward = -(to - from).try_normalize().unwrap_or(DVec2::X).perp();
            // A thousandth apart is the same direction.
            ((1000.0 * ahead.dot(outward)).round(), from.distance(to))
        };
        let best = (0..self.scene.walls.len()).reduce(|best, wall| {
            let (own, other) = (faces(best), faces(wall));
            if other.0.total_cmp(&own.0).then(other.1.total_cmp(&own.1)).is_gt() { wall } else { best }
        });
        best.map_or_else(String::new, |wall| self.scene.walls[wall].name.clone())
    }
}

/// What is kept of a place in the last round.
struct Final {
    heard: Heard,
    times: BothRanges,
    is_sure: bool,
    rays: u32,
}

/// The best by rays first. With waves, of those that rays do not tell apart from the best of them, each by the interval of their difference, the evenest; what is suggested before what is not.
fn ranked(mut rest: Vec<(Finalist, &Faults)>, widths: f64, by_waves: bool) -> Vec<Finalist> {
    rest.sort_by(|a, b| b.0.score_steps.value.total_cmp(&a.0.score_steps.value));
    if !by_waves {
        return rest.into_iter().map(|(one, _)| one).collect();
    }
    let evenness = |one: &Finalist| one.bass.as_ref().map_or(f64::INFINITY, |bass: &BassEvenness| bass.evenness_db);
    let mut ranked: Vec<Finalist> = Vec::new();
    while let Some(&(_, best)) = rest.first() {
        let is_alike = |faults: &Faults| {
            let behind = best.better_by(faults).error();
            behind.value <= (widths * behind.se).max(LEAST_STEPS)
        };
        let (alike, others): (Vec<_>, Vec<_>) = rest.into_iter().partition(|(_, faults)| is_alike(faults));
        let mut alike: Vec<Finalist> = alike.into_iter().map(|(one, _)| one).collect();
        // Stable: of equals the better by rays.
        alike.sort_by(|a, b| b.is_better.cmp(&a.is_better).then(evenness(a).total_cmp(&evenness(b))));
        ranked.extend(alike);
        rest = others;
    }
    ranked
}

/// What a place is told by, against the present one.
fn figures(own: &Faults, present: &Faults) -> TriedFigures {
    TriedFigures {
        early_level_db: own.figures.early_level_db,
        over_criterion_db: own.figures.octave_mean_db(),
        likeness_db: own.figures.likeness_db,
        speech_c50_db: own.figures.speech_c50_db,
        better_steps: own.better_by(present).error(),
        bass: None,
    }
}

/// The best place of each facing, then the best of all others that are apart from those before them.
fn leaders(tried: &[(SetPlace, TriedFigures)], step: f64) -> Vec<SetPlace> {
    let mut order: Vec<&(SetPlace, TriedFigures)> = tried.iter().collect();
    // Stable: of equals the first of the grid.
    order.sort_by(|a, b| b.1.better_steps.value.total_cmp(&a.1.better_steps.value));
    let mut leaders: Vec<SetPlace> = Vec::new();
    for (place, _) in &order {
        if !leaders.iter().any(|other| other.turned_deg == place.turned_deg) {
            leaders.push(*place);
        }
    }
    for (place, _) in order {
        let is_near =
            |other: &SetPlace| other.turned_deg == place.turned_deg && other.middle().distance(place.middle()) < LEADER_STEPS * step;
        if leaders.len() < LEADERS && !leaders.iter().any(is_near) {
            leaders.push(*place);
        }
    }
    leaders
}
