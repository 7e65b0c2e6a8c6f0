//! Into which parts the paths are cut: bands that go together, an early part, and a tail in stages.

use rayon::prelude::*;

use crate::bands::Bands;
use crate::progress::{Cancelled, Progress};
use crate::random::{self, Purpose};
use crate::room::Room;
use crate::settings::BATCHES;

use super::flight::Job;
use super::groups::{BandGroup, Way};
use super::start::Starts;
use super::store::{Hit, Link, Ray};
use super::trace::Tracer;

/// Share of the record at which half the rays of every band must still count: -15 dB, the middle of the range of T20, of the 60 dB that a
/// record is about long.
const EFFECTIVE_AT: f32 = 0.25;

/// Rays that are sent ahead from each source.
const SCOUTS: u64 = 1024;

/// Stages of the tail, each as many times longer than the one before, so that bands that decay soon have stages too.
pub(super) const STAGES: usize = 12;

/// A stage has at most this many times the rays of a long one. What outlasts the rest is met by chance, most of it early: octaves that decay soon have only short
/// stages, and errors of their T30 would rest on a handful of rays.
const MORE_WHERE_SHORT: f32 = 3.0;

/// Bands that go together from the source on: an early part and its tails, each in stages.
pub(super) struct Line {
    /// How its rays leave each source.
    pub(super) starts: Vec<Starts>,
    pub(super) early: Part,
    pub(super) tails: Vec<Vec<Part>>,
    /// Number of its early part among all parts; those of its tails come after it.
    pub(super) first: usize,
    /// Tells its random numbers from those of other lines.
    pub(super) stream: u64,
}

impl Line {
    /// In the order in which they are stored.
    pub(super) fn parts(&self) -> impl Iterator<Item = &Part> {
        std::iter::once(&self.early).chain(self.tails.iter().flatten())
    }
}

/// A part of all paths that is traced together.
#[derive(Clone)]
pub(super) struct Part {
    /// Its bands, and how their rays choose.
    pub(super) group: BandGroup,
    /// Way in meters after which its rays end.
    pub(super) end: f32,
}

impl Part {
    /// Bounces that are stored of a ray, about: the first flight is shorter than others, and rooms are not all mixed.
    pub(super) fn bounces(&self, free_path: f32) -> f32 {
        0.5 + 1.05 * (self.end - self.group.heard_from) / free_path
    }
}

impl Tracer<'_> {
    /// Rays of a source in a stage of a tail, so that short stages take no less time than long ones as far as [`MORE_WHERE_SHORT`] goes.
    pub(super) fn in_stage(&self, stage: usize) -> u64 {
        let length = self.begin(stage + 1) - self.begin(stage);
        let even = (self.end - self.early) / STAGES as f32;
        let more = if length > 0.0 { (even / length).clamp(1.0, MORE_WHERE_SHORT) } else { 1.0 };
        ((self.thinned() as f64 * f64::from(more)) as u64).min(u64::from(self.rays))
    }

    /// Way in meters after which a stage of a tail begins.
    fn begin(&self, stage: usize) -> f32 {
        self.early * (self.end / self.early).powf(stage as f32 / STAGES as f32)
    }

    /// Rays of a source in the longest stages: thinned no further than leaves the tail twice the bounces of the early part.
    fn thinned(&self) -> u64 {
        let times = (1.25 * self.end / self.early).ceil().max(1.0) as u64;
        // One a batch at the least: a batch without a tail would be an estimate of a shorter decay.
        (u64::from(self.rays) / times.min(u64::from(self.settings.tail_one_in.max(1)))).max(u64::from(BATCHES))
    }

    /// Bytes that all parts are reckoned to take; crossings, a few in a hundred of that, are left out.
    pub(super) fn reckoned_bytes(&self, lines: &[Line]) -> u64 {
        let a_bounce = size_of::<Hit>() + size_of::<Link>() * self.balls.len();
        let a_ray = |part: &Part| size_of::<Ray>() as f64 + a_bounce as f64 * f64::from(part.bounces(self.free_path));
        let of_line = |line: &Line| {
            let tail =
                |tail: &Vec<Part>| tail.iter().enumerate().map(|(stage, part)| self.in_stage(stage) as f64 * a_ray(part)).sum::<f64>();
            f64::from(self.rays) * a_ray(&line.early) + line.tails.iter().map(tail).sum::<f64>()
        };
        (lines.iter().map(of_line).sum::<f64>() * self.room.sources.len() as f64) as u64
    }

    /// All parts, early ones with their tails.
    pub(super) fn lines(&self, progress: &Progress) -> Result<Vec<Line>, Cancelled> {
        let ways = self.scout(progress)?;
        let mut first = 0;
        let mut lines = Vec::new();
        for (group, stream) in BandGroup::split(self.room, None, &ways).into_iter().zip(0..) {
            let starts = self.starts(&group.member);
            let tails = if self.end > self.early { BandGroup::split(self.room, Some(&group), &ways) } else { Vec::new() };
            let part = |(tail, own): (usize, &BandGroup), index: usize| {
                let before = if index == 0 { first } else { first + tail * STAGES + index };
                let group = BandGroup { heard_from: self.begin(index), goes_on_from: Some(before), ..own.clone() };
                Part { group, end: if index + 1 == STAGES { self.end } else { self.begin(index + 1) } }
            };
            let tails = tails.iter().enumerate().map(|tail| (0..STAGES).map(|index| part(tail, index)).collect()).collect();
            let line = Line { starts, early: Part { group, end: self.end.min(self.early) }, tails, first, stream };
            first += line.parts().count();
            lines.push(line);
        }
        Ok(lines)
    }

    /// How rays that carry these bands leave each source.
    fn starts(&self, member: &Bands<bool>) -> Vec<Starts> {
        self.room
            .sources
            .iter()
            .zip(&self.leavings.sources)
            .map(|(source, sends)| Starts::new(self.room, source, sends, member, self.settings.leaving))
            .collect()
    }

    /// The ways of some rays through the early part and up to [`EFFECTIVE_AT`] of the record.
    fn scout(&self, progress: &Progress) -> Result<Vec<Way>, Cancelled> {
        let end = self.early.max(EFFECTIVE_AT * self.end);
        let part = Part { group: BandGroup::common(self.room), end };
        let starts = self.starts(&part.group.member);
        let ways = self.room.sources.par_iter().enumerate().map(|(source, emitter)| {
            let scout = |number: u64| {
                let (index, seed) = (source as u64 * SCOUTS + number, self.settings.seed);
                let start = starts[source].ray(seed, index, number, SCOUTS);
                start.origin(emitter, 0, random::key(seed, Purpose::Scout, index))
            };
            let rays = (0..SCOUTS).map(scout).collect();
            let chunk = self.fly(progress, &Job { part: &part, rays, balls: &[] })?.chunk;
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
}

/// Way in meters after which a band has fallen by 15 dB, the middle of the range of T20: a bounce every mean free path leaves what the surfaces do
/// not absorb on the average.
pub(super) fn fallen(room: &Room) -> Bands<f64> {
    let areas = room.finished_areas();
    let area: f64 = areas.iter().map(|&(_, area)| area).sum();
    let absorbed = areas.iter().fold(Bands::splat(0.0), |sum, &(finish, own)| sum + room.finishes[finish].absorption * (own / area));
    let free_path = room.mean_free_path();
    let per_meter = absorbed.zip(room.medium.attenuation, |absorbed, air| air - (-absorbed).ln_1p() / free_path);
    per_meter.map(|per_meter| 1.5 * std::f64::consts::LN_10 / per_meter.max(f64::MIN_POSITIVE))
}
