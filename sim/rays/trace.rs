//! Sends the rays and stores what they meet.
//!
//! Rays go in rounds of like size, each an estimate of the whole in as many batches; what a round brings is added to its batch, and the shares of all
//! rays are set right. How many rounds are sent decides whoever asks (`weigh`).

use fearless_simd::dispatch;
use glam::DVec2;
use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::geometry::packets::{Packets, Piece};
use crate::progress::{Cancelled, Progress};
use crate::random::{self, Purpose, Stream};
use crate::room::{Emitter, Room, Surface};
use crate::settings::{BATCHES, Settings};

use super::ball::Ball;
use super::energy::{Drawn, Energy, Leavings, Moments, Urn};
use super::flight::{Flown, Job, Mirror, Origin, Place, fly};
use super::groups::BandGroup;
use super::parts::{Line, Part, STAGES, fallen};
use super::store::{Chunk, Paths, RayNumber, SourcePaths};

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
    tracer.round(progress, &lines, 0)
}

/// Traces as many rounds more. Room and settings are those that the paths were traced with.
///
/// # Errors
/// [`Cancelled`]; the paths are then as they were, or some rounds longer.
pub fn trace_more(progress: &Progress, room: &Room, settings: &Settings, paths: &mut Paths, rounds: u32) -> Result<(), Cancelled> {
    let tracer = Tracer { rays: paths.rays, ..Tracer::new(room, settings, paths.end_s) };
    let lines = tracer.lines(progress)?;
    for round in paths.rounds..paths.rounds + rounds {
        let more = tracer.round(progress, &lines, round)?;
        paths.join(more);
    }
    Ok(())
}

/// Traces one stored ray again: a chunk that holds it alone. Room and settings are those that the paths were traced with.
///
/// # Errors
/// [`Cancelled`].
pub fn retrace(progress: &Progress, room: &Room, settings: &Settings, paths: &Paths, ray: RayNumber) -> Result<Chunk, Cancelled> {
    let tracer = Tracer { rays: paths.rays, ..Tracer::new(room, settings, paths.end_s) };
    let lines = tracer.lines(progress)?;
    let stored = |group: usize, number: usize| paths.groups[group].1[ray.source].chunks[ray.batch].rays[number];
    let mut way = vec![(ray.group, ray.ray)];
    while let Some(&(group, number)) = way.last()
        && let Some(before) = paths.groups[group].0.goes_on_from
    {
        way.push((before, stored(group, number).parent as usize));
    }
    let (mut chunk, mut place) = (Chunk::default(), None);
    for (group, number) in way.into_iter().rev() {
        let Some(line) = lines.iter().rfind(|line| line.first <= group) else { break };
        let Some(part) = line.parts().nth(group - line.first) else { break };
        let batch = tracer.numbers(line, (group - line.first) as u64, ray.source, ray.batch as u32);
        let origin = match place {
            None => tracer.begun(line, ray.source, &batch, number as u64).0,
            Some(place) => Origin { place, key: batch.key(number as u64), ..Origin::default() },
        };
        let own = stored(group, number);
        let rays = vec![Origin { share: own.share, parent: own.parent, off_aim: own.off_aim, ..origin }];
        let Flown { chunk: flown, ends } = tracer.fly(progress, &Job { part, rays, balls: &tracer.balls })?;
        (chunk, place) = (flown, ends[0]);
    }
    Ok(chunk)
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
    pub(super) rays: u32,
    pub(super) packets: Packets,
    /// What can stand between a bounce and a receiver.
    pub(super) occluders: Packets,
    pub(super) mirrors: Vec<Mirror>,
    pub(super) balls: Vec<Ball>,
    /// Way in meters after which the tail begins, and after which paths end.
    pub(super) early: f32,
    pub(super) end: f32,
    /// The same in seconds.
    pub(super) end_s: f64,
    /// Mean free path, meters.
    pub(super) free_path: f32,
    pub(super) leavings: Leavings,
    /// Way in meters after which it is asked how many rays carry a band: where it has fallen by about 15 dB.
    pub(super) looked_at: Bands<f32>,
}

/// The rays of one part of a source that make up a batch: their numbers in the first round, and what their random numbers are made of.
pub(super) struct Numbers {
    seed: u64,
    /// Tells source, part and line apart.
    base: u64,
    first: u64,
    pub(super) count: u64,
    /// Of all batches of a round.
    all: u64,
}

impl Numbers {
    /// What the random numbers of a ray are made of, by its number in the batch, all rounds end to end.
    fn index(&self, number: u64) -> u64 {
        self.base + self.first + number % self.count + self.all * (number / self.count)
    }

    fn key(&self, number: u64) -> u64 {
        random::key(self.seed, Purpose::Ray, self.index(number))
    }
}

/// A batch of the rays of a part.
pub(super) struct Leg {
    flown: Flown,
    /// What each carries at its end.
    pub(super) carried: Vec<Energy>,
    /// How many times more it is worth by what is to come; 0 of one that is lost.
    worths: Vec<f32>,
    /// Of what they carry where half of them should count.
    moments: Moments,
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
            end_s,
            free_path: room.mean_free_path() as f32,
            leavings: Leavings::new(room),
            looked_at,
        }
    }

    /// One round of rays from every source.
    fn round(&self, progress: &Progress, lines: &[Line], round: u32) -> Result<Paths, Cancelled> {
        let sources = self.room.sources.len();
        let tail = |tail: &Vec<Part>| (0..tail.len()).map(|stage| self.in_stage(stage)).sum::<u64>();
        let rays = |line: &Line| u64::from(self.rays) + line.tails.iter().map(tail).sum::<u64>();
        progress.begin("tracing rays", lines.iter().map(rays).sum::<u64>() * sources as u64);
        let tasks: Vec<(usize, usize, u32)> = (0..lines.len())
            .flat_map(|line| (0..sources).flat_map(move |source| (0..BATCHES).map(move |batch| (line, source, batch))))
            .collect();
        let traced = tasks
            .into_par_iter()
            .map(|(line, source, batch)| {
                let legs = self.batch(progress, &lines[line], source, batch, round)?;
                Ok(legs.into_iter().map(|leg| (leg.flown.chunk, leg.moments)).collect())
            })
            .collect::<Result<Vec<_>, Cancelled>>()?;
        Ok(Paths {
            receivers: self.room.receivers.len(),
            end_s: self.end_s,
            traced: u64::from(self.rays) * (sources * lines.len()) as u64,
            asked: self.settings.rays,
            rays: self.rays,
            rounds: 1,
            reckoned_bytes: self.reckoned_bytes(lines),
            ..gathered(lines, sources, traced)
        })
    }

    /// The numbers of a batch of a part of this line.
    fn numbers(&self, line: &Line, part: u64, source: usize, batch: u32) -> Numbers {
        // Parts of a line are its early one, then the stages of each tail.
        let all = part.checked_sub(1).map_or(u64::from(self.rays), |stage| self.in_stage(stage as usize % STAGES));
        let border = |batch: u32| all * u64::from(batch) / u64::from(BATCHES);
        let first = border(batch);
        let base = ((source as u64) << 32) + (part << 48) + (line.stream << 56);
        Numbers { seed: self.settings.seed, base, first, count: border(batch + 1) - first, all }
    }

    /// A ray that leaves its source, its share that of one drawn evenly, and its worth.
    fn begun(&self, line: &Line, source: usize, numbers: &Numbers, number: u64) -> (Origin, f32) {
        let index = numbers.index(number);
        let start = line.starts[source].ray(numbers.seed, index, number % numbers.count, numbers.count);
        let origin = start.origin(&self.room.sources[source], number as u32, numbers.key(number));
        (origin, start.worth)
    }

    /// A batch of rays of a source, one leg a part: the early part, then the stages of each tail, whose rays are drawn from those before.
    pub(super) fn batch(&self, progress: &Progress, line: &Line, source: usize, batch: u32, round: u32) -> Result<Vec<Leg>, Cancelled> {
        let numbers = |part: usize| self.numbers(line, part as u64, source, batch);
        let own = numbers(0);
        let (mut rays, worths): (Vec<Origin>, Vec<f32>) =
            (0..own.count).map(|ray| self.begun(line, source, &own, ray + own.count * u64::from(round))).unzip();
        // Together they are all that the source sends, whatever the draw.
        let all: f64 = rays.iter().map(|ray| f64::from(ray.share)).sum();
        for ray in &mut rays {
            ray.share = (f64::from(ray.share) / all) as f32;
        }
        let begun = self.leavings.sent(source, &rays);
        let mut legs = Vec::with_capacity(line.parts().count());
        legs.push(self.leg(progress, &line.early, rays, &begun, worths)?);
        for part in line.tails.iter().flatten() {
            let before: &Leg = &legs[part.group.goes_on_from.unwrap_or(line.first) - line.first];
            let own = numbers(legs.len());
            let random = Stream::new(own.seed, Purpose::Draw, own.base + u64::from(batch) + (u64::from(round) << 8)).unit();
            let urn = Urn { rays: &before.flown.chunk.rays, energies: &before.carried, worths: &before.worths };
            let drawn = urn.draw(&part.group.member, own.count as usize, random);
            let (mut rays, mut begun, mut worths) = (Vec::new(), Vec::new(), Vec::new());
            for (Drawn { ray, share }, number) in drawn.into_iter().zip(own.count * u64::from(round)..) {
                let Some(place) = before.flown.ends[ray] else { continue };
                let parent = &before.flown.chunk.rays[ray];
                rays.push(Origin { share, parent: ray as u32, off_aim: parent.off_aim, key: own.key(number), place });
                begun.push(before.carried[ray].map(|energy| energy * share / parent.share));
                worths.push(before.worths[ray]);
            }
            legs.push(self.leg(progress, part, rays, &begun, worths)?);
        }
        Ok(legs)
    }

    /// Rays of one part, each begun with so much.
    fn leg(&self, progress: &Progress, part: &Part, rays: Vec<Origin>, begun: &[Energy], mut worths: Vec<f32>) -> Result<Leg, Cancelled> {
        let flown = self.fly(progress, &Job { part, rays, balls: &self.balls })?;
        progress.step(flown.chunk.rays.len() as u64)?;
        let is_here = |band: &Band| {
            let way = self.looked_at[*band];
            part.group.member[*band] && part.group.heard_from < way && way <= part.end
        };
        let bands: Vec<Band> = Band::ALL.into_iter().filter(is_here).collect();
        let looked_at = if bands.is_empty() { Vec::new() } else { self.leavings.carried(&flown.chunk, begun, &self.looked_at) };
        let carried = self.leavings.carried(&flown.chunk, begun, &Bands::splat(f32::INFINITY));
        for (worth, end) in worths.iter_mut().zip(&flown.ends) {
            *worth = match end {
                Some(Place { all_specular: true, .. }) => *worth,
                Some(_) => 1.0,
                None => 0.0,
            };
        }
        Ok(Leg { flown, carried, worths, moments: Moments::of(&looked_at, &bands) })
    }

    pub(super) fn fly(&self, progress: &Progress, job: &Job<'_>) -> Result<Flown, Cancelled> {
        dispatch!(self.packets.level(), simd => fly(simd, progress, self, job))
    }
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
