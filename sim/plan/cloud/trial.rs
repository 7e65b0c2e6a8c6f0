//! One room with the cloud in one place, or without it: traced by itself until its figures are sure, and weighed.
//!
//! All rooms are traced with one seed, so that rays go the same ways as far as the rooms are alike; figures of two rooms are compared batch by batch, which counts whatever they have in
//! common and is right where they have nothing. Nothing is smoothed from height to height.
//!
//! **Rays**: a quarter of the scene's for each room, doubled round by round until its figures are sure (`plan::sure`), and at most as many as the scene allows.
//!
//! **Parts of the early level**: images are exact, so the energy of the ways that meet the ceiling, or a face of the cloud, is a plain sum over them, re the direct sound, mean over the judged
//! pairs as the early level is. A way that meets both counts in both. What is scattered has no way of its own and is in the early level alone.
//!
//! **Comb depth**: of the loudest single way by ceiling or cloud at each ear, `20 lg((1 + a) / (1 - a))`, `a` its pressure re direct (energy in 1-8 kHz); the deepest of all judged pairs.
//!
//! *Limits.* What bends round the cloud's edges is not in these figures.

use crate::bands::Bands;
use crate::findings::pairs::{DEAF_SHARE, comb_depth};
use crate::images::Prepared;
use crate::plan::decay::BothRanges;
use crate::plan::score::Heard;
use crate::plan::search::Goal;
use crate::plan::sure::{Sure, until_sure};
use crate::progress::{Cancelled, Progress};
use crate::room::Role;
use crate::scene::{Cloud, Panel, PanelPlace, Scene};
use crate::settings::{BATCHES, Settings};
use crate::weigh::ear::ear_images;
use crate::weigh::{Linings, SpecularPath, Traced, flat_weights};

use super::fresnel::{CeilingBounce, ceiling_bounces};

/// Each room begins with the scene's rays over this.
const FRACTION: u32 = 4;

/// Fewest rays that a room begins with, if the scene has as many: a hundred a batch.
const FEWEST: u32 = 100 * BATCHES;

/// What rooms are tried with.
pub(super) struct Setup<'a> {
    /// The scene without the cloud.
    pub(super) scene: &'a Scene,
    /// Name of the cloud's type.
    pub(super) kind: &'a str,
    pub(super) goal: &'a Goal<'a>,
    /// How long paths are followed, seconds: as in the room without the cloud, which rings longest.
    pub(super) end_s: f64,
}

/// What one room came to.
pub(super) struct Trial {
    pub(super) heard: Heard,
    pub(super) times: BothRanges,
    /// Energy by way of the ceiling and of the cloud re the direct sound, by octave and flat.
    pub(super) parts: [Part; 2],
    pub(super) comb_depth_db: Option<f64>,
    /// Rays from each source.
    pub(super) rays: u32,
    /// Whether its figures are as sure as asked.
    pub(super) is_sure: bool,
    /// Bounces on the ceiling; of the room without the cloud.
    pub(super) bounces: Vec<CeilingBounce>,
}

/// Energies re the direct sound.
#[derive(Clone, Copy)]
pub(super) struct Part {
    pub(super) by_octave: Bands<f64>,
    pub(super) flat: f64,
}

/// Settings with as few rays in a round as a room begins with; as many at the most as the scene allows.
pub(super) fn begun(settings: &Settings) -> Settings {
    let rays = (settings.rays / FRACTION).max(FEWEST.min(settings.rays)).max(1);
    let most = u64::from(settings.rays) * u64::from(settings.rounds);
    Settings { rays, rounds: (most / u64::from(rays)).clamp(1, u64::from(u32::MAX)) as u32, ..settings.clone() }
}

impl Setup<'_> {
    /// Traces and weighs the room with a cloud, or without one.
    pub(super) fn trial(&self, progress: &Progress, cloud: Option<Cloud>) -> Result<Trial, Cancelled> {
        let Self { scene, kind, goal, end_s } = *self;
        let mut scene = scene.clone();
        scene.panels.extend(cloud.map(|cloud| Panel { kind: kind.to_owned(), place: PanelPlace::Cloud(cloud) }));
        let Sure { traced, linings, heard, times, is_sure } = until_sure(progress, &scene, goal, begun(&scene.settings), end_s)?;
        let own = Role::Panel(scene.panels.len().wrapping_sub(1));
        let by = |role: Role| move |other: Role| other == role;
        let ceiling = |role: Role| matches!(role, Role::Ceiling(_));
        let is_cloud = |role: Role| cloud.is_some() && by(own)(role);
        Ok(Trial {
            heard,
            times,
            parts: [part(&traced, &linings, goal, &ceiling), part(&traced, &linings, goal, &is_cloud)],
            comb_depth_db: comb(progress, &traced, &linings, goal, &|role| ceiling(role) || is_cloud(role))?,
            rays: traced.rays(),
            is_sure,
            bounces: if cloud.is_none() { ceiling_bounces(&traced, goal.pairs) } else { Vec::new() },
        })
    }
}

/// Whether a way meets a surface of this role.
fn meets(traced: &Traced, path: &SpecularPath, is_asked: &dyn Fn(Role) -> bool) -> bool {
    path.path.bounces.iter().any(|bounce| is_asked(traced.room.surfaces[bounce.surface].role))
}

/// Early energy by ways that meet surfaces of this role, re the direct sound, mean over the judged pairs.
fn part(traced: &Traced, linings: &Linings, goal: &Goal<'_>, is_asked: &dyn Fn(Role) -> bool) -> Part {
    let (weights, window) = (flat_weights(), traced.settings.window_s * traced.room.medium.speed);
    let mut sum = Part { by_octave: Bands::splat(0.0), flat: 0.0 };
    for &(source, receiver) in goal.pairs {
        let zone = &traced.images[source][receiver];
        let met = zone.early(window).flatten().filter(|path| meets(traced, path, is_asked));
        let energy = met.fold(Bands::splat(0.0), |sum, path| sum + path.energy(&traced.room, linings));
        let share = 1.0 / (zone.points.len().max(1) as f64 * goal.pairs.len() as f64);
        let direct = traced.direct_energy(source, traced.room.receivers[receiver].position);
        sum.by_octave = sum.by_octave + energy.zip(direct, |energy, direct| energy / direct) * share;
        sum.flat += (energy * weights).sum() / (direct * weights).sum() * share;
    }
    sum
}

/// The deepest comb that a single way by surfaces of this role makes at an ear of a judged pair, dB; `None` where none comes.
fn comb(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    goal: &Goal<'_>,
    is_asked: &dyn Fn(Role) -> bool,
) -> Result<Option<f64>, Cancelled> {
    let (prepared, weights) = (Prepared::new(&traced.room), flat_weights());
    let mut deepest: Option<f64> = None;
    for &(source, receiver) in goal.pairs {
        let direct_share = traced.direct_share(source, receiver);
        if direct_share <= DEAF_SHARE {
            continue;
        }
        for (position, paths) in ear_images(progress, &prepared, traced, (source, receiver))? {
            let direct = (traced.direct_energy(source, position) * weights).sum() * direct_share;
            let met = paths.iter().filter(|path| meets(traced, path, is_asked));
            let loudest = met.map(|path| (path.energy(&traced.room, linings) * weights).sum() / direct).fold(0.0, f64::max);
            if loudest > 0.0 {
                let depth = comb_depth(10.0 * loudest.log10());
                deepest = Some(deepest.map_or(depth, |deepest: f64| deepest.max(depth)));
            }
        }
    }
    Ok(deepest)
}
