//! Tries a cloud at one height after the other, then tilted, larger and elsewhere, and scores all against the room without it.
//!
//! Rooms are traced one by one, each on all threads, in a fixed order: nothing depends on how many threads there are.
//!
//! *Limits.* See `trial` for what is computed, `plan::score` for the score.

use glam::DVec2;

use crate::bands::Bands;
use crate::findings::survey::survey;
use crate::plan::choice::lead;
use crate::plan::decay::SideBySide;
use crate::plan::place::{asked_range, judged_bands, judged_pairs, octave_range, record_length};
use crate::plan::score::{Faults, LEAST_STEPS, faults};
use crate::plan::search::Goal;
use crate::progress::{Cancelled, Progress};
use crate::response::{Estimate, Resampled, widths_together};
use crate::room::{Bodies, Room, build, open_area, open_gap};
use crate::scene::{Cloud, Panel, PanelPlace, PanelType, Scene};

use super::fresnel::{CeilingBounce, mean_covered};
use super::hang::{CannotHang, Chosen, Hanger, choose};
use super::reasons;
use super::trial::{Part, Setup, Trial};
use super::{Besides, CloudAsked, CloudStudy, CloudVariant, LeftOut, NOW, Without};

/// Tilts that are tried along x and along y, degrees.
const TILTS: [f64; 4] = [-15.0, -7.5, 7.5, 15.0];

/// How far aside it is tried along the way from the sources to the seat and across it, meters.
const ASIDE: [f64; 4] = [-0.6, -0.3, 0.3, 0.6];

/// Panels side by side that are tried.
const SIZES: [[u32; 2]; 4] = [[1, 1], [2, 1], [1, 2], [2, 2]];

/// Scores within so much of the best are half a step away, steps.
const HALF_STEP: f64 = 0.5;

/// Why there is no study.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CloudError {
    /// Nothing can be hung.
    #[error(transparent)]
    Cannot(#[from] CannotHang),
    /// Stopped by whoever asked.
    #[error(transparent)]
    Stopped(#[from] Cancelled),
}

/// Studies a cloud of a scene.
///
/// # Errors
/// [`CloudError`]: no cloud, no place for it, or stopped.
pub fn cloud(progress: &Progress, scene: &Scene, asked: &CloudAsked) -> Result<CloudStudy, CloudError> {
    let Chosen { scene: without, kind, hung } = choose(scene, asked)?;
    let kind = &without.stock[kind];
    let room = build(&without, Bodies::Standing);
    let standing = survey(&without, &room);
    let pairs = judged_pairs(&without, &room);
    let bands = judged_bands(standing.schroeder_hz);
    let target = asked_range(&without, &standing);
    let goal = Goal { pairs: &pairs, bands: &bands, target, weights: without.goals.weights(without.activity) };
    let hanger = Hanger::new(&without, kind, &room);
    progress.begin("the room without the cloud", 1);
    let part = progress.part();
    let end_s = record_length(&part, &room, &without.settings)?;
    let setup = Setup { scene: &without, kind: &kind.name, goal: &goal, end_s };
    let bare = setup.trial(&part, None)?;
    let (middle, centered) = place_of(&hanger, asked, hung, (&room, &pairs), &bare.bounces)?;
    let study = Study { progress, hanger: &hanger, room: &room, setup: &setup, bare: &bare };
    let (tried, left_out) = study.sweep(middle, asked, hung)?;
    let mut heights = study.judged(&tried.iter().collect::<Vec<_>>());
    let best = best_of(&heights);
    tell_behind(&mut heights, best);
    let (besides, others) = study.besides(&tried[best], (&room, &pairs))?;
    let [alike_m, half_step_m] =
        [reach(&heights, best, |one| one.variant.alike), reach(&heights, best, |one| one.variant.behind_steps.value <= HALF_STEP)];
    let trials = || std::iter::once(&bare).chain(tried.iter().chain(&others).map(|tried| &tried.trial));
    let mut told = CloudStudy {
        kind: kind.name.clone(),
        hung_panel_number: hung.map(|(index, _)| index + 1),
        centered,
        center_m: middle.center.to_array(),
        panels: middle.panels,
        size_m: middle.size(kind).to_array(),
        thickness_m: kind.thickness,
        asked_decay_s: target.map(|(low, high)| [low, high]),
        decay_octaves_hz: octave_range(&bands),
        schroeder_hz: standing.schroeder_hz,
        without: study.without(),
        best: heights[best].variant.number,
        left_out,
        alike_m,
        half_step_m,
        reasons: Vec::new(),
        rays_per_source: [trials().map(|trial| trial.rays).min(), trials().map(|trial| trial.rays).max()].map(Option::unwrap_or_default),
        errors_met: trials().all(|trial| trial.is_sure),
        heights: heights.into_iter().map(|one| one.variant).collect(),
        besides,
        notes: notes(),
    };
    told.reasons = reasons::reasons(&told, without.unit);
    Ok(told)
}

fn notes() -> Vec<String> {
    [
        "Every room is traced by itself with the same seed, so that rays go the same ways as far as the rooms are alike; nothing is smoothed from height to height.",
        "Heights are told apart from the best only where all their differences together would be chance in fewer than 5 of 100 repeats: of many heights some look worse, and one better, by chance.",
        "Parts by way of the ceiling and of the cloud are mirror images alone; what is scattered is in the early level and in neither. What bends round the cloud's edges is in none of them.",
        "The first Fresnel zone ends where the way is half a wavelength longer than by the mirror point; covered is what of it, as far as the ceiling reaches, the cloud hides from the source or from the seat.",
        "Absorption is that of a diffuse field; below Schroeder's frequency it is a statistical reading.",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// Where the cloud hangs, level, and where that comes from in words.
fn place_of(
    hanger: &Hanger<'_>,
    asked: &CloudAsked,
    hung: Option<(usize, Cloud)>,
    (room, pairs): (&Room, &[(usize, usize)]),
    bounces: &[CeilingBounce],
) -> Result<(Cloud, String), CannotHang> {
    let level = |cloud: Cloud| Cloud { tilt: DVec2::ZERO, ..cloud };
    if let Some([x, y]) = asked.center_m {
        let center = DVec2::new(x, y);
        let cloud = hung.map_or_else(|| hanger.at_place(center, bounces), |(_, cloud)| level(cloud));
        return Ok((Cloud { center, ..cloud }, "as asked".to_owned()));
    }
    if let Some((_, cloud)) = hung {
        return Ok((level(cloud), "as it hangs in the scene".to_owned()));
    }
    let mean = |points: &[DVec2]| points.iter().sum::<DVec2>() / points.len().max(1) as f64;
    let (target, what) = if bounces.is_empty() {
        let [from, to] = ends(room, pairs);
        (0.5 * (from + to), "half way from the sources to the seat")
    } else {
        (
            mean(&bounces.iter().map(|bounce| bounce.point.truncate()).collect::<Vec<_>>()),
            "the middle of the ceiling's first reflection points",
        )
    };
    let cloud = hanger.over(target, bounces)?;
    let moved = cloud.center.distance(target);
    // Less than a step of the measures is no move.
    let words = if moved < crate::layout::measure_step(hanger.scene.unit) {
        format!("over {what}")
    } else {
        format!("{} from {what}, the nearest place where it fits at enough heights", hanger.told(moved))
    };
    Ok((cloud, words))
}

/// Mean places on the floor plan of the sources and of the receivers of these pairs, meters.
fn ends(room: &Room, pairs: &[(usize, usize)]) -> [DVec2; 2] {
    let count = pairs.len().max(1) as f64;
    let from = pairs.iter().map(|pair| room.sources[pair.0].position.truncate()).sum::<DVec2>() / count;
    [from, pairs.iter().map(|pair| room.receivers[pair.1].position.truncate()).sum::<DVec2>() / count]
}

/// A cloud that was tried, and what came of it.
struct Tried {
    what: String,
    cloud: Cloud,
    trial: Trial,
}

/// The same as judged.
struct Scored {
    variant: CloudVariant,
    score: Resampled<f64>,
}

/// The highest score, of equal ones the lowest; there is one at the least.
fn best_of(heights: &[Scored]) -> usize {
    (0..heights.len()).reduce(|best, other| if heights[other].score.whole > heights[best].score.whole { other } else { best }).unwrap_or(0)
}

/// Tells of each how far it is behind the best.
fn tell_behind(all: &mut [Scored], best: usize) {
    let score = all[best].score.clone();
    let widths = widths_together(all.len().saturating_sub(1));
    for (index, one) in all.iter_mut().enumerate() {
        let behind = lead(&score, &one.score);
        one.variant.behind_steps = behind;
        one.variant.alike = index == best || behind.value.abs() <= (widths * behind.se).max(LEAST_STEPS);
    }
}

/// From where to where heights round the best are like this, without a break, meters.
fn reach(heights: &[Scored], best: usize, is_like: impl Fn(&Scored) -> bool) -> [f64; 2] {
    let low = (0..best).rev().take_while(|&index| is_like(&heights[index])).last().unwrap_or(best);
    let high = (best + 1..heights.len()).take_while(|&index| is_like(&heights[index])).last().unwrap_or(best);
    [low, high].map(|index| heights[index].variant.underside_m)
}

/// What all variants have in common.
struct Study<'a> {
    progress: &'a Progress,
    hanger: &'a Hanger<'a>,
    room: &'a Room,
    setup: &'a Setup<'a>,
    bare: &'a Trial,
}

impl Study<'_> {
    /// One height after the other; those at which it does not fit with their reasons.
    fn sweep(&self, middle: Cloud, asked: &CloudAsked, hung: Option<(usize, Cloud)>) -> Result<(Vec<Tried>, Vec<LeftOut>), CloudError> {
        let mut heights = self.hanger.heights(&middle, asked)?;
        // Where it hangs now, if that is among those that are asked for.
        let now = hung.map(|(_, now)| now).filter(|now| now.tilt == DVec2::ZERO && now.center == middle.center).map(|now| now.underside);
        let is_now = |height: f64| now.is_some_and(|now| (height - now).abs() < 1e-4);
        if let (Some(now), Some(&low), Some(&high)) = (now, heights.first(), heights.last())
            && (low..=high).contains(&now)
            && !heights.iter().any(|&height| is_now(height))
        {
            heights.push(now);
            heights.sort_by(f64::total_cmp);
        }
        let what = |height: f64| if is_now(height) { NOW.to_owned() } else { self.hanger.told(height) };
        let clouds = heights.iter().map(|&underside| (what(underside), Cloud { underside, ..middle }));
        let (fitting, left_out) = self.fitting(clouds, |cloud| self.hanger.fits(&cloud).map(|()| cloud));
        if fitting.is_empty() {
            return Err(self.hanger.no_height(&middle, &heights, &left_out).into());
        }
        self.progress.begin("heights of the cloud", fitting.len() as u64);
        Ok((self.trace(fitting)?, left_out))
    }

    /// Those that fit, as they fit, and those that do not.
    fn fitting<E: std::fmt::Display>(
        &self,
        clouds: impl Iterator<Item = (String, Cloud)>,
        fit: impl Fn(Cloud) -> Result<Cloud, E>,
    ) -> (Vec<(String, Cloud)>, Vec<LeftOut>) {
        let (mut fitting, mut left_out) = (Vec::new(), Vec::new());
        for (what, cloud) in clouds {
            match fit(cloud) {
                Ok(cloud) => fitting.push((what, cloud)),
                Err(refusal) => left_out.push(LeftOut { what, underside_m: cloud.underside, reason: refusal.to_string() }),
            }
        }
        (fitting, left_out)
    }

    fn trace(&self, clouds: Vec<(String, Cloud)>) -> Result<Vec<Tried>, Cancelled> {
        let one = |(what, cloud): (String, Cloud)| {
            let trial = self.setup.trial(&self.progress.part(), Some(cloud))?;
            self.progress.step(1)?;
            Ok(Tried { what, cloud, trial })
        };
        clouds.into_iter().map(one).collect()
    }

    /// The one use of the score: the room without the cloud and all that were tried.
    fn scored(&self, tried: &[&Tried]) -> (Vec<SideBySide>, Vec<Faults>) {
        let rooms: Vec<&Trial> = std::iter::once(self.bare).chain(tried.iter().map(|tried| &tried.trial)).collect();
        let decays = SideBySide::among(&rooms.iter().map(|room| &room.times).collect::<Vec<_>>());
        let faults = faults(self.setup.goal, &rooms.iter().map(|room| &room.heard).collect::<Vec<_>>(), &decays);
        (decays, faults)
    }

    /// All that is told of the room without the cloud.
    fn without(&self) -> Without {
        let (_, judged) = self.scored(&[]);
        Without {
            figures: judged[0].figures.clone(),
            ceiling_db: level(self.bare.parts[0].flat),
            ceiling_by_octave_db: self.bare.parts[0].by_octave.map(level),
            comb_depth_db: self.bare.comb_depth_db,
        }
    }

    /// All that is told of what was tried; how far behind the best is not known yet.
    fn judged(&self, tried: &[&Tried]) -> Vec<Scored> {
        let (decays, judged) = self.scored(tried);
        let mean = |decays: &SideBySide| {
            let times = decays.known(self.setup.goal.bands);
            (!times.whole.is_empty()).then(|| times.map(|times| times.iter().sum::<f64>() / times.len() as f64))
        };
        let bare_time = mean(&decays[0]);
        let of_one = |(index, tried): (usize, &&Tried)| {
            let own = &judged[index + 1];
            let change = bare_time.as_ref().zip(mean(&decays[index + 1]));
            let change = change.map(|(bare, with)| bare.with(&with, |bare, with| 100.0 * (with / bare - 1.0)).error());
            let score = own.better_by(&judged[0]);
            let Tried { what, cloud, trial } = tried;
            let still = self.still(cloud);
            let [ceiling, by_cloud]: [Part; 2] = trial.parts;
            let variant = CloudVariant {
                number: index + 1,
                what: what.clone(),
                underside_m: cloud.underside,
                center_m: cloud.center.to_array(),
                turned: cloud.turned,
                tilt_deg: cloud.tilt.to_array(),
                panels: cloud.panels,
                headroom_m: still.headroom,
                air_above_m: still.air,
                figures: own.figures.clone(),
                ceiling_db: level(ceiling.flat),
                ceiling_by_octave_db: ceiling.by_octave.map(level),
                cloud_db: level(by_cloud.flat),
                cloud_by_octave_db: by_cloud.by_octave.map(level),
                comb_depth_db: trial.comb_depth_db,
                zone_share: still.zone_share,
                absorption_m2: still.absorption,
                gained_m2: still.gained,
                decay_change_percent: change,
                gains_steps: own.better_by_term(&judged[0]),
                score_steps: score.error(),
                behind_steps: Estimate::exact(0.0),
                alike: false,
                rays_per_source: trial.rays,
            };
            Scored { variant, score }
        };
        tried.iter().enumerate().map(of_one).collect()
    }

    /// What of a cloud needs no tracing.
    fn still(&self, cloud: &Cloud) -> Still {
        let (kind, scene): (&PanelType, &Scene) = (self.hanger.kind, self.hanger.scene);
        let panel = Panel { kind: kind.name.clone(), place: PanelPlace::Cloud(*cloud) };
        let air = open_gap(&self.room.surfaces, kind, &panel).unwrap_or(f64::INFINITY);
        let area = open_area(scene, kind, cloud.size(kind), air);
        let absorption = area.front + area.back + area.edges;
        let solid = cloud.solid(kind);
        Still {
            headroom: solid.bounds().0.z,
            air: if air.is_finite() { air } else { 0.0 },
            zone_share: mean_covered(&self.bare.bounces, &solid),
            absorption,
            gained: absorption - area.flush,
        }
    }

    /// Tilts, sizes and places at the best height, all scored beside it; and what was tried.
    fn besides(&self, best: &Tried, at: (&Room, &[(usize, usize)])) -> Result<(Vec<Besides>, Vec<Tried>), Cancelled> {
        let groups = [("tilt", tilts(best.cloud)), ("size", self.sizes(best.cloud)), ("place", self.places(best.cloud, at))];
        let groups = groups.map(|(what, clouds)| (what, self.fitting(clouds.into_iter(), |cloud| self.hanger.nearest(cloud))));
        self.progress.begin("tilts, sizes and places", groups.iter().map(|(_, (fitting, _))| fitting.len() as u64).sum());
        let fitting = groups.iter().flat_map(|(_, (fitting, _))| fitting.iter().cloned()).collect();
        let tried = self.trace(fitting)?;
        let mut scored = self.judged(&std::iter::once(best).chain(&tried).collect::<Vec<_>>());
        tell_behind(&mut scored, 0);
        let mut variants = scored.into_iter().skip(1).map(|one| one.variant);
        let besides = groups.map(|(what, (fitting, left_out))| {
            let own = variants.by_ref().take(fitting.len()).enumerate().map(|(index, one)| CloudVariant { number: index + 1, ..one });
            Besides { what: what.to_owned(), variants: own.collect(), left_out }
        });
        Ok((besides.into(), tried))
    }

    /// Of more and of fewer panels, as far as the stock holds them.
    fn sizes(&self, hung: Cloud) -> Vec<(String, Cloud)> {
        let others = SIZES.into_iter().filter(|&panels| panels != hung.panels && panels[0] * panels[1] <= self.hanger.kind.count);
        others.map(|panels| (format!("{} x {} panels", panels[0], panels[1]), Cloud { panels, ..hung })).collect()
    }

    /// Aside, along the way from the sources to the seat and across it.
    fn places(&self, hung: Cloud, (room, pairs): (&Room, &[(usize, usize)])) -> Vec<(String, Cloud)> {
        let [from, to] = ends(room, pairs);
        let along = (to - from).try_normalize().unwrap_or(DVec2::NEG_Y);
        // Seen by who faces the sources from the seat.
        let right = DVec2::new(-along.y, along.x);
        let words = [(along, "toward the seat", "toward the sources"), (right, "to the right", "to the left")];
        let one = |(way, ahead, back): (DVec2, &str, &str), aside: f64| {
            let what = format!("{} {}", self.hanger.told(aside.abs()), if aside > 0.0 { ahead } else { back });
            (what, Cloud { center: hung.center + way * aside, ..hung })
        };
        words.into_iter().flat_map(|way| ASIDE.map(|aside| one(way, aside))).collect()
    }
}

/// What of a cloud needs no tracing: meters, shares, m2.
struct Still {
    headroom: f64,
    air: f64,
    zone_share: Option<Bands<f64>>,
    absorption: Bands<f64>,
    gained: Bands<f64>,
}

/// Tilted along x and along y.
fn tilts(hung: Cloud) -> Vec<(String, Cloud)> {
    let one = |axis: usize, degrees: f64| {
        let tilt = if axis == 0 { DVec2::new(degrees, 0.0) } else { DVec2::new(0.0, degrees) };
        let way = if degrees > 0.0 { "rises" } else { "falls" };
        (format!("{way} {} degrees along {}", degrees.abs(), ["x", "y"][axis]), Cloud { tilt, ..hung })
    };
    (0..2).flat_map(|axis| TILTS.map(|degrees| one(axis, degrees))).collect()
}

/// A share of energy as a level, dB; none of nothing.
fn level(share: f64) -> Option<f64> {
    (share > 0.0 && share.is_finite()).then(|| 10.0 * share.log10())
}
