//! Sends the rays and stores what they meet.

use fearless_simd::dispatch;
use glam::DVec2;
use rayon::prelude::*;

use crate::bands::Bands;
use crate::geometry::packets::{Packets, Piece};
use crate::progress::{Cancelled, Progress};
use crate::random::{self, Purpose};
use crate::room::{Emitter, Room, Surface};
use crate::settings::{BATCHES, Settings};

use super::ball::Ball;
use super::flight::{Job, Mirror, fly};
use super::groups::{BandGroup, Way};
use super::share::Moments;
use super::store::{Chunk, Paths, SourcePaths};

/// Share of the record at which half the rays of every band must still count: -15 dB, the middle of the range of T20, of the 60 dB that a
/// record is about long.
const EFFECTIVE_AT: f32 = 0.25;

/// Rays that are sent ahead from each source.
const SCOUTS: u64 = 1024;

/// Traces `settings.rays` rays from every source until `end_s` seconds of travel.
///
/// # Errors
/// [`Cancelled`].
pub fn trace(progress: &Progress, room: &Room, settings: &Settings, end_s: f64) -> Result<Paths, Cancelled> {
    let tracer = Tracer::new(room, settings, end_s);
    let parts = tracer.parts(progress)?;
    let sources = room.sources.len();
    let rays = parts.iter().map(|part| u64::from(settings.rays) / part.one_in).sum::<u64>() * sources as u64;
    progress.begin("tracing rays", rays);
    let tasks: Vec<(usize, usize, u32)> = (0..parts.len())
        .flat_map(|part| (0..sources).flat_map(move |source| (0..BATCHES).map(move |batch| (part, source, batch))))
        .collect();
    let traced = tasks
        .into_par_iter()
        .map(|(part, source, batch)| tracer.chunk(progress, &parts[part], source, batch))
        .collect::<Result<Vec<_>, Cancelled>>()?;

    let mut traced = traced.into_iter();
    let mut escaped = 0;
    let mut effective_share = Bands::splat(1.0);
    let mut groups = Vec::with_capacity(parts.len());
    let mut sent = 0;
    for part in parts {
        let mut moments = Moments::default();
        let sources: Vec<SourcePaths> = (0..sources)
            .map(|_| {
                let chunks = traced
                    .by_ref()
                    .take(BATCHES as usize)
                    .map(|(chunk, chunk_moments)| {
                        escaped += chunk.escaped;
                        moments.add(&chunk_moments);
                        chunk
                    })
                    .collect();
                SourcePaths { chunks }
            })
            .collect();
        // The tail comes last and has the last word.
        if let Some(shares) = moments.shares() {
            for (band, _) in part.group.member.iter().filter(|(_, member)| **member) {
                effective_share[band] = shares[band];
            }
        }
        if part.before.is_none() {
            sent += u64::from(settings.rays) * sources.len() as u64;
        }
        groups.push((part.group, sources));
    }
    Ok(Paths { groups, receivers: room.receivers.len(), end_s, effective_share, escaped, traced: sent })
}

/// Travel time in seconds at which the tail begins: what the settings say, but never within the early window of any receiver.
#[must_use]
pub fn early_part(room: &Room, settings: &Settings) -> f64 {
    let distance = |source: &Emitter| room.receivers.iter().map(|receiver| source.position.distance(receiver.position)).fold(0.0, f64::max);
    let farthest = room.sources.iter().map(distance).fold(0.0, f64::max);
    settings.early_s.max(settings.window_s + farthest / room.medium.speed)
}

/// What rays are traced with.
pub(super) struct Tracer<'a> {
    pub(super) room: &'a Room,
    pub(super) settings: &'a Settings,
    pub(super) packets: Packets,
    /// What can stand between a bounce and a receiver.
    pub(super) occluders: Packets,
    pub(super) mirrors: Vec<Mirror>,
    balls: Vec<Ball>,
    /// Way in meters after which the tail begins, and after which paths end.
    pub(super) early: f32,
    end: f32,
    /// Mean free path, meters.
    pub(super) free_path: f32,
}

/// A part of all paths that is traced together.
pub(super) struct Part {
    /// Its bands, and how their rays choose.
    pub(super) group: BandGroup,
    /// How the rays of a tail went before it.
    pub(super) before: Option<BandGroup>,
    /// Tells the random numbers of the early groups apart; a tail shares those of its own.
    stream: u64,
    /// Of so many rays one is in it.
    one_in: u64,
}

impl<'a> Tracer<'a> {
    pub(super) fn new(room: &'a Room, settings: &'a Settings, end_s: f64) -> Self {
        let mirror = |Surface { chart, .. }: &Surface| {
            let [normal, right, up] = [chart.normal, chart.right, chart.up].map(|axis| axis.as_vec3().to_array());
            let begin = [chart.right, chart.up].map(|axis| axis.dot(chart.origin) as f32);
            let mut numbers = [normal, right, up].concat().into_iter().chain(begin);
            Mirror(std::array::from_fn(|_| numbers.next().unwrap_or(0.0)))
        };
        Self {
            room,
            settings,
            packets: Packets::new(&pieces(room, |_| true)),
            occluders: Packets::new(&pieces(room, |surface| !room.is_shell_convex || !surface.role.is_shell())),
            mirrors: room.surfaces.iter().map(mirror).collect(),
            balls: room.receivers.iter().map(|receiver| Ball::new(room, receiver, settings.late_radius_m)).collect(),
            early: (early_part(room, settings) * room.medium.speed) as f32,
            end: (end_s * room.medium.speed) as f32,
            free_path: room.mean_free_path() as f32,
        }
    }

    /// The tail is thinned no further than leaves it twice the bounces of the early part.
    fn tail_one_in(&self) -> u64 {
        let times = (self.end / (2.0 * self.early)).ceil().max(1.0) as u64;
        times.min(u64::from(self.settings.tail_one_in.max(1)))
    }

    /// Early parts, then tails.
    fn parts(&self, progress: &Progress) -> Result<Vec<Part>, Cancelled> {
        let ways = self.scout(progress)?;
        let early: Vec<Part> = BandGroup::split(self.room, None, &ways)
            .into_iter()
            .zip(0..)
            .map(|(group, stream)| Part { group, before: None, stream, one_in: 1 })
            .collect();
        let tail = |early: &Part| {
            let part = |group| Part { group, before: Some(early.group.clone()), stream: early.stream, one_in: self.tail_one_in() };
            BandGroup::split(self.room, Some(&early.group), &ways).into_iter().map(part).collect::<Vec<_>>()
        };
        let tails: Vec<Part> = if self.end > self.early { early.iter().flat_map(tail).collect() } else { Vec::new() };
        Ok(early.into_iter().chain(tails).collect())
    }

    /// The ways of some rays through the early part and up to [`EFFECTIVE_AT`] of the record.
    fn scout(&self, progress: &Progress) -> Result<Vec<Way>, Cancelled> {
        let part = Part { group: BandGroup::common(self.room), before: None, stream: 0, one_in: 1 };
        let ways = self.room.sources.par_iter().enumerate().map(|(source, emitter)| {
            let keys = (0..SCOUTS).map(|scout| random::key(self.settings.seed, Purpose::Scout, source as u64 * SCOUTS + scout)).collect();
            let end = self.early.max(EFFECTIVE_AT * self.end);
            let chunk = self.fly(progress, &Job { part: &part, emitter, keys, balls: &[], end })?;
            let way = |ray: usize| {
                let (mut way, limit) = (Way::default(), EFFECTIVE_AT * self.end);
                for hit in &chunk.hits[chunk.hits_of(ray)] {
                    if hit.travelled() <= self.early {
                        way.early.push(hit.surface);
                    } else if hit.travelled() <= limit {
                        way.late.push(hit.surface);
                    }
                }
                way
            };
            Ok((0..chunk.rays.len()).map(way).collect::<Vec<_>>())
        });
        Ok(ways.collect::<Result<Vec<_>, Cancelled>>()?.concat())
    }

    fn chunk(&self, progress: &Progress, part: &Part, source: usize, batch: u32) -> Result<(Chunk, Moments), Cancelled> {
        let rays = u64::from(self.settings.rays);
        let (first, end) = (rays * u64::from(batch) / u64::from(BATCHES), rays * u64::from(batch + 1) / u64::from(BATCHES));
        // Each ray of each source and early group has numbers of its own; a tail begins where these left its ray.
        let index = |ray: u64| ray + ((source as u64) << 40) + (part.stream << 56);
        let key = |ray: u64| random::key(self.settings.seed, Purpose::Ray, index(ray));
        let keys = (first..end).step_by(part.one_in as usize).map(key).collect();
        let way = if part.before.is_none() { self.end.min(self.early) } else { self.end };
        let job = Job { part, emitter: &self.room.sources[source], keys, balls: &self.balls, end: way };
        let chunk = self.fly(progress, &job)?;
        progress.step(chunk.rays.len() as u64)?;
        let moments = Moments::of(self.room, &chunk, way.min(EFFECTIVE_AT * self.end));
        Ok((chunk, moments))
    }

    fn fly(&self, progress: &Progress, job: &Job<'_>) -> Result<Chunk, Cancelled> {
        dispatch!(self.packets.level(), simd => fly(simd, progress, self, job))
    }
}

/// The chosen surfaces in flat pieces: rectangles whole, other polygons in triangles.
fn pieces(room: &Room, chosen: impl Fn(&Surface) -> bool) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (index, surface) in room.surfaces.iter().enumerate().filter(|(_, surface)| chosen(surface)) {
        let at = |position: DVec2| surface.chart.point(position);
        let mut add = |a: DVec2, b: DVec2, c: DVec2, parallelogram: bool| {
            pieces.push(Piece { surface: index as u16, corner: at(a), a: at(b) - at(a), b: at(c) - at(a), parallelogram });
        };
        if surface.outline.is_rectangle(1e-9) {
            let corners = &surface.outline.corners;
            add(corners[0], corners[1], corners[3], true);
        } else {
            for [a, b, c] in surface.outline.triangles() {
                add(a, b, c, false);
            }
        }
    }
    pieces
}
