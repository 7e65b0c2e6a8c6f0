//! Sends the rays and stores what they meet.

use fearless_simd::dispatch;
use glam::DVec2;
use rayon::prelude::*;
use smallvec::smallvec;

use crate::bands::{Band, Bands};
use crate::geometry::packets::{Packets, Piece};
use crate::progress::{Cancelled, Progress};
use crate::random::{self, Purpose, Stream};
use crate::room::{Emitter, Room, Surface};
use crate::settings::{BATCHES, Settings};

use super::ball::Ball;
use super::energy::{Drawn, Leavings, Moments, draw};
use super::flight::{Job, Mirror, Origin, fly};
use super::groups::{BandGroup, Way};
use super::start::{Start, Starts};
use super::store::{Chunk, Hit, Link, Paths, Ray, RayNumber, SourcePaths};

/// Share of the record at which half the rays of every band must still count: -15 dB, the middle of the range of T20, of the 60 dB that a
/// record is about long.
const EFFECTIVE_AT: f32 = 0.25;

/// Rays that are sent ahead from each source.
const SCOUTS: u64 = 1024;

/// Stages of the tail, each as many times longer than the one before, so that bands that decay soon have stages too.
const STAGES: usize = 6;

/// Bytes that stored paths take at most.
pub const STORE_MOST: u64 = 4 << 30;

/// Traces `settings.rays` rays from every source until `end_s` seconds of travel, or as many as [`STORE_MOST`] has room for.
///
/// # Errors
/// [`Cancelled`].
pub fn trace(progress: &Progress, room: &Room, settings: &Settings, end_s: f64) -> Result<Paths, Cancelled> {
    trace_within(progress, room, settings, end_s, STORE_MOST)
}

/// The same with room for so many bytes.
///
/// # Errors
/// [`Cancelled`].
pub fn trace_within(progress: &Progress, room: &Room, settings: &Settings, end_s: f64, most: u64) -> Result<Paths, Cancelled> {
    let mut tracer = Tracer::new(room, settings, end_s);
    let lines = tracer.lines(progress)?;
    let reckoned = tracer.reckoned_bytes(&lines);
    if reckoned > most {
        // A ray each for the batches at the least: less is no estimate.
        tracer.rays = ((u64::from(settings.rays) as f64 * most as f64 / reckoned as f64) as u32).max(BATCHES);
    }
    let reckoned_bytes = tracer.reckoned_bytes(&lines);
    let sources = room.sources.len();
    let rays: u64 = lines
        .iter()
        .map(|line| u64::from(tracer.rays) + line.tails.iter().map(|tail| tracer.thinned() * tail.len() as u64).sum::<u64>())
        .sum();
    progress.begin("tracing rays", rays * sources as u64);
    let tasks: Vec<(usize, usize, u32)> = (0..lines.len())
        .flat_map(|line| (0..sources).flat_map(move |source| (0..BATCHES).map(move |batch| (line, source, batch))))
        .collect();
    let traced = tasks
        .into_par_iter()
        .map(|(line, source, batch)| tracer.batch(progress, &lines[line], source, batch))
        .collect::<Result<Vec<_>, Cancelled>>()?;

    Ok(Paths {
        receivers: room.receivers.len(),
        end_s,
        traced: u64::from(tracer.rays) * (sources * lines.len()) as u64,
        asked: settings.rays,
        rays: tracer.rays,
        reckoned_bytes,
        ..gathered(&lines, sources, traced)
    })
}

/// Groups of the traced parts, with the share of rays that carry each band and the rays that escaped; the rest is not known here.
fn gathered(lines: &[Line], sources: usize, traced: Vec<Vec<(Chunk, Moments)>>) -> Paths {
    let (mut escaped, mut effective_share) = (0, Bands::splat(1.0));
    let mut groups: Vec<(BandGroup, Vec<SourcePaths>)> = Vec::new();
    let mut traced = traced.into_iter();
    for line in lines {
        let parts: Vec<&Part> = line.parts().collect();
        let mut moments = vec![Moments::default(); parts.len()];
        let mut stored = vec![Vec::with_capacity(sources); parts.len()];
        for _ in 0..sources {
            let mut own = vec![SourcePaths { chunks: Vec::with_capacity(BATCHES as usize) }; parts.len()];
            for batch in traced.by_ref().take(BATCHES as usize) {
                for ((own, moments), (chunk, of_chunk)) in own.iter_mut().zip(&mut moments).zip(batch) {
                    escaped += chunk.escaped;
                    moments.add(&of_chunk);
                    own.chunks.push(chunk);
                }
            }
            for (stored, own) in stored.iter_mut().zip(own) {
                stored.push(own);
            }
        }
        for ((part, stored), moments) in parts.into_iter().zip(stored).zip(moments) {
            for band in Band::ALL {
                effective_share[band] = moments.share(band).unwrap_or(effective_share[band]);
            }
            groups.push((part.group.clone(), stored));
        }
    }
    Paths { groups, effective_share, escaped, ..Paths::default() }
}

/// Traces one stored ray again: a chunk that holds it alone. Room and settings are those that the paths were traced with.
///
/// # Errors
/// [`Cancelled`].
pub fn retrace(progress: &Progress, room: &Room, settings: &Settings, paths: &Paths, ray: RayNumber) -> Result<Chunk, Cancelled> {
    let mut tracer = Tracer::new(room, settings, paths.end_s);
    tracer.rays = paths.rays;
    let lines = tracer.lines(progress)?;
    let (mut line, mut part) = (0, ray.group);
    while part >= lines[line].parts().count() {
        (line, part) = (line + 1, part - lines[line].parts().count());
    }
    let first = ray.group - part;
    let stored = |part: usize, number: usize| paths.groups[first + part].1[ray.source].chunks[ray.batch].rays[number];
    let streams = Streams { seed: settings.seed, source: ray.source as u64, line: lines[line].stream };
    let (begin, end) = of_batch(u64::from(tracer.rays), ray.batch as u32);
    let (begin_thinned, _) = of_batch(tracer.thinned(), ray.batch as u32);
    let (mut keys, mut number, mut at) = (Vec::new(), ray.ray, part);
    while at > 0 {
        keys.push(streams.key(at as u64, begin_thinned + number as u64));
        number = stored(at, number).parent as usize;
        at = if (at - 1) % STAGES == 0 { 0 } else { at - 1 };
    }
    keys.push(streams.key(0, begin + number as u64));
    keys.reverse();
    let Start { direction, worth, .. } =
        lines[line].starts[ray.source].ray(settings.seed, streams.index(0, begin + number as u64), number as u64, end - begin);
    let Ray { share, parent, .. } = stored(part, ray.ray);
    let part = lines[line].parts().nth(part).unwrap_or(&lines[line].early);
    let rays = vec![Origin { share, parent, direction, worth, keys: keys.into() }];
    tracer.fly(progress, &Job { part, emitter: &room.sources[ray.source], rays, balls: &tracer.balls })
}

/// First and end of the numbers of a batch.
fn of_batch(all: u64, batch: u32) -> (u64, u64) {
    (all * u64::from(batch) / u64::from(BATCHES), all * u64::from(batch + 1) / u64::from(BATCHES))
}

/// The random numbers of a source in a line.
#[derive(Clone, Copy)]
struct Streams {
    seed: u64,
    source: u64,
    line: u64,
}

impl Streams {
    /// Each ray of each source, line and stage has numbers of its own.
    fn index(self, stage: u64, number: u64) -> u64 {
        number + (self.source << 32) + (stage << 48) + (self.line << 56)
    }

    fn key(self, stage: u64, ray: u64) -> u64 {
        random::key(self.seed, Purpose::Ray, self.index(stage, ray))
    }
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
    /// Rays of each source.
    rays: u32,
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
    leavings: Leavings,
    /// Way in meters after which it is asked how many rays carry a band: where it has fallen by about 15 dB.
    looked_at: Bands<f32>,
}

/// Bands that go together from the source on: an early part and its tails, each in stages.
struct Line {
    /// How its rays leave each source.
    starts: Vec<Starts>,
    early: Part,
    tails: Vec<Vec<Part>>,
    /// Tells its random numbers from those of other lines.
    stream: u64,
}

impl Line {
    /// In the order in which they are stored.
    fn parts(&self) -> impl Iterator<Item = &Part> {
        std::iter::once(&self.early).chain(self.tails.iter().flatten())
    }
}

/// A part of all paths that is traced together.
#[derive(Clone)]
pub(super) struct Part {
    /// Its bands, and how their rays choose.
    pub(super) group: BandGroup,
    /// How the rays of a tail went in the early part.
    pub(super) before: Option<BandGroup>,
    /// Way in meters at which each stage of its tail up to this begins.
    pub(super) stages: Vec<f32>,
    /// Way in meters after which its rays end.
    pub(super) end: f32,
}

impl Part {
    /// Bounces that are stored of a ray, about: the first flight is shorter than others, and rooms are not all mixed.
    pub(super) fn bounces(&self, free_path: f32) -> f32 {
        0.5 + 1.05 * self.end / free_path
    }
}

impl<'a> Tracer<'a> {
    pub(super) fn new(room: &'a Room, settings: &'a Settings, end_s: f64) -> Self {
        let mirror = |Surface { chart, .. }: &Surface| {
            let [normal, right, up] = [chart.normal, chart.right, chart.up].map(|axis| axis.as_vec3().to_array());
            let begin = [chart.right, chart.up].map(|axis| axis.dot(chart.origin) as f32);
            let mut numbers = [normal, right, up].concat().into_iter().chain(begin);
            Mirror(std::array::from_fn(|_| numbers.next().unwrap_or(0.0)))
        };
        let (early, end) = ((early_part(room, settings) * room.medium.speed) as f32, (end_s * room.medium.speed) as f32);
        let looked_at = fallen(room).map(|way| (way as f32).max(early).min(end));
        Self {
            room,
            settings,
            rays: settings.rays,
            packets: Packets::new(&pieces(room, |_| true)),
            occluders: Packets::new(&pieces(room, |surface| !room.is_shell_convex || !surface.role.is_shell())),
            mirrors: room.surfaces.iter().map(mirror).collect(),
            balls: room.receivers.iter().map(|receiver| Ball::new(room, receiver, settings.late_radius_m)).collect(),
            early,
            end,
            free_path: room.mean_free_path() as f32,
            leavings: Leavings::new(room),
            looked_at,
        }
    }

    /// Rays of a source in each stage of a tail: thinned no further than leaves it twice the bounces of the early part.
    fn thinned(&self) -> u64 {
        let times = (1.25 * self.end / self.early).ceil().max(1.0) as u64;
        u64::from(self.rays) / times.min(u64::from(self.settings.tail_one_in.max(1)))
    }

    /// Bytes that all parts are reckoned to take; crossings, a few in a hundred of that, are left out.
    fn reckoned_bytes(&self, lines: &[Line]) -> u64 {
        let a_bounce = size_of::<Hit>() + size_of::<Link>() * self.balls.len();
        let a_ray = |part: &Part| size_of::<Ray>() as f64 + a_bounce as f64 * f64::from(part.bounces(self.free_path));
        let of_line = |line: &Line| {
            let tails: f64 = line.tails.iter().flatten().map(a_ray).sum();
            f64::from(self.rays) * a_ray(&line.early) + self.thinned() as f64 * tails
        };
        (lines.iter().map(of_line).sum::<f64>() * self.room.sources.len() as f64) as u64
    }

    /// All parts, early ones with their tails.
    fn lines(&self, progress: &Progress) -> Result<Vec<Line>, Cancelled> {
        let ways = self.scout(progress)?;
        let stage = |index: usize| self.early * (self.end / self.early).powf(index as f32 / STAGES as f32);
        let tail = |before: &BandGroup, group: &BandGroup| {
            let part = |index: usize| Part {
                group: BandGroup { heard_from: stage(index), ..group.clone() },
                before: Some(before.clone()),
                stages: (0..=index).map(stage).collect(),
                end: if index + 1 == STAGES { self.end } else { stage(index + 1) },
            };
            (0..STAGES).map(part).collect::<Vec<_>>()
        };
        let line = |(group, stream): (BandGroup, u64)| {
            let tails = if self.end > self.early { BandGroup::split(self.room, Some(&group), &ways) } else { Vec::new() };
            let tails = tails.iter().map(|own| tail(&group, own)).collect();
            let starts = self.starts(&group.member);
            Line { starts, early: Part { group, before: None, stages: Vec::new(), end: self.end.min(self.early) }, tails, stream }
        };
        Ok(BandGroup::split(self.room, None, &ways).into_iter().zip(0..).map(line).collect())
    }

    /// How rays that carry these bands leave each source.
    fn starts(&self, member: &Bands<bool>) -> Vec<Starts> {
        self.room.sources.iter().zip(&self.leavings.sources).map(|(source, sends)| Starts::new(self.room, source, sends, member)).collect()
    }

    /// The ways of some rays through the early part and up to [`EFFECTIVE_AT`] of the record.
    fn scout(&self, progress: &Progress) -> Result<Vec<Way>, Cancelled> {
        let end = self.early.max(EFFECTIVE_AT * self.end);
        let part = Part { group: BandGroup::common(self.room), before: None, stages: Vec::new(), end };
        let starts = self.starts(&part.group.member);
        let ways = self.room.sources.par_iter().enumerate().map(|(source, emitter)| {
            let scout = |number: u64| {
                let (index, seed) = (source as u64 * SCOUTS + number, self.settings.seed);
                let Start { direction, weight, worth } = starts[source].ray(seed, index, number, SCOUTS);
                Origin { share: weight, parent: 0, direction, worth, keys: smallvec![random::key(seed, Purpose::Scout, index)] }
            };
            let rays = (0..SCOUTS).map(scout).collect();
            let chunk = self.fly(progress, &Job { part: &part, emitter, rays, balls: &[] })?;
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

    /// A batch of rays of a source, one chunk a part: the early part, then the stages of each tail, whose rays are drawn from those before.
    fn batch(&self, progress: &Progress, line: &Line, source: usize, batch: u32) -> Result<Vec<(Chunk, Moments)>, Cancelled> {
        let streams = Streams { seed: self.settings.seed, source: source as u64, line: line.stream };
        let (first, end) = of_batch(u64::from(self.rays), batch);
        let count = end - first;
        let origin = |ray: u64| {
            let Start { direction, weight, worth } = line.starts[source].ray(self.settings.seed, streams.index(0, ray), ray - first, count);
            Origin { share: weight / count as f32, parent: (ray - first) as u32, direction, worth, keys: smallvec![streams.key(0, ray)] }
        };
        let origins: Vec<Origin> = (first..end).map(origin).collect();
        let mut chunks = Vec::with_capacity(line.parts().count());
        let early = self.part(progress, &line.early, source, origins.clone())?;
        chunks.push(early);
        let (first, end) = of_batch(self.thinned(), batch);
        for (tail, parts) in line.tails.iter().enumerate() {
            let (mut before, mut from) = (origins.clone(), 0);
            for (index, part) in parts.iter().enumerate() {
                let stage = (1 + tail * STAGES + index) as u64;
                let chunk = &chunks[from].0;
                let energies = self.leavings.energies(chunk, source, &Bands::splat(part.group.heard_from));
                let random = Stream::new(
                    self.settings.seed,
                    Purpose::Draw,
                    u64::from(batch) + ((source as u64) << 32) + (stage << 48) + (line.stream << 56),
                )
                .unit();
                let is_mirrored = |ray: usize| {
                    let hits = &chunk.hits[chunk.hits_of(ray)];
                    hits.iter().take_while(|hit| hit.travelled() <= part.group.heard_from).all(|hit| !hit.went_diffuse())
                };
                let worth = |ray: usize| if before[ray].worth > 1.0 && is_mirrored(ray) { before[ray].worth } else { 1.0 };
                let drawn = draw(chunk, &energies, worth, &part.group.member, (end - first) as usize, random);
                let origin = |(Drawn { ray, share }, number): (Drawn, u64)| {
                    let mut keys = before[ray].keys.clone();
                    keys.push(streams.key(stage, number));
                    Origin { share, parent: ray as u32, keys, direction: before[ray].direction, worth: before[ray].worth }
                };
                before = drawn.into_iter().zip(first..).map(origin).collect();
                from = chunks.len();
                chunks.push(self.part(progress, part, source, before.clone())?);
            }
        }
        Ok(chunks)
    }

    /// Rays of one part, and what they carry where half of them should count.
    fn part(&self, progress: &Progress, part: &Part, source: usize, rays: Vec<Origin>) -> Result<(Chunk, Moments), Cancelled> {
        let chunk = self.fly(progress, &Job { part, emitter: &self.room.sources[source], rays, balls: &self.balls })?;
        progress.step(chunk.rays.len() as u64)?;
        let is_here = |band: &Band| {
            let way = self.looked_at[*band];
            part.group.member[*band] && part.group.heard_from < way && way <= part.end
        };
        let bands: Vec<Band> = Band::ALL.into_iter().filter(is_here).collect();
        let energies = if bands.is_empty() { Vec::new() } else { self.leavings.energies(&chunk, source, &self.looked_at) };
        Ok((chunk, Moments::of(&energies, &bands)))
    }

    fn fly(&self, progress: &Progress, job: &Job<'_>) -> Result<Chunk, Cancelled> {
        dispatch!(self.packets.level(), simd => fly(simd, progress, self, job))
    }
}

/// Way in meters after which a band has fallen by 15 dB, the middle of the range of T20: a bounce every mean free path leaves what the surfaces do
/// not absorb on the average.
fn fallen(room: &Room) -> Bands<f64> {
    let areas = room.finished_areas();
    let area: f64 = areas.iter().map(|&(_, area)| area).sum();
    let absorbed = areas.iter().fold(Bands::splat(0.0), |sum, &(finish, own)| sum + room.finishes[finish].absorption * (own / area));
    let free_path = room.mean_free_path();
    let per_meter = absorbed.zip(room.medium.attenuation, |absorbed, air| air - (-absorbed).ln_1p() / free_path);
    per_meter.map(|per_meter| 1.5 * std::f64::consts::LN_10 / per_meter.max(f64::MIN_POSITIVE))
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
