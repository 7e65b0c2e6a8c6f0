//! Rays on their way, eight side by side: what they meet, which way they go on, and what is written down of it.
//!
//! All that happens to a ray at a bounce happens to eight at once; several eights go together, so that the kernel always has rays to look
//! at. A ray that has ended makes room for the next. Which rays go side by side changes nothing for any of them.
//!
//! *References.* Lambert's law by the square root of a number drawn evenly: e.g. M. Pharr, W. Jakob, G. Humphreys, Physically Based
//! Rendering, ch. 13.6.

use std::f32::consts::PI;

use fearless_simd::prelude::*;
use fearless_simd::{f32x8, mask32x8};
use glam::Vec3;

use crate::absorbers::cosine_bin;
use crate::geometry::lanes::{LANES, RayLanes, Some8, Vec3Lanes, array};
use crate::geometry::packets::{Asked, HitLanes, NOTHING};
use crate::progress::{Cancelled, Progress};
use crate::random::StreamLanes;

use super::ball::{Ball, Bounces, Frame};
use super::parts::Part;
use super::store::{Chunk, Crossing, Hit, Link, Ray, diffuse_chance};
use super::trace::Tracer;

/// Eights of rays that go together.
pub(super) const OCTETS: usize = 4;

/// Bounces of all of them between two looks at whether the work is still wanted.
const PATIENCE: u32 = 256;

/// Rays to trace.
pub(super) struct Job<'a> {
    pub(super) part: &'a Part,
    pub(super) rays: Vec<Origin>,
    /// Who hears them.
    pub(super) balls: &'a [Ball],
}

/// What a ray is made of: trace it again, and it goes the same way.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Origin {
    /// Its share of what the source sends.
    pub(super) share: f32,
    /// Which ray of the part before it goes on from.
    pub(super) parent: u32,
    /// Share of the sphere nearer to the source's aim than its first direction.
    pub(super) off_aim: f32,
    /// What its random numbers are made of.
    pub(super) key: u64,
    /// Where it begins: at the source, or where the ray before it bounced last.
    pub(super) place: Place,
}

/// Where a ray is, and all that its way from there on depends on.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Place {
    pub(super) point: Vec3,
    /// Which way it leaves.
    pub(super) direction: Vec3,
    /// Way from the source, meters.
    pub(super) travelled: f32,
    /// Reflections so far.
    pub(super) bounces: u16,
    /// They were mirror reflections, all of them.
    pub(super) all_specular: bool,
    /// The last one was diffuse (the source counts as specular).
    pub(super) last_diffuse: bool,
}

/// What came of a job.
pub(super) struct Flown {
    pub(super) chunk: Chunk,
    /// Where each ray bounced last before its part ended; nothing of those that escaped.
    pub(super) ends: Vec<Option<Place>>,
}

impl Job<'_> {
    /// Room for about what the rays will bring.
    fn empty(&self, tracer: &Tracer<'_>) -> Flown {
        let bounces = (self.rays.len() as f32 * self.part.bounces(tracer.free_path)) as usize;
        let chunk = Chunk {
            rays: vec![Ray::default(); self.rays.len()],
            hits: Vec::with_capacity(bounces),
            links: Vec::with_capacity(bounces * self.balls.len()),
            crossings: Vec::new(),
            escaped: 0,
        };
        Flown { chunk, ends: vec![None; self.rays.len()] }
    }
}

/// What is written down of one ray while it is on its way.
#[derive(Default)]
struct Trail {
    number: usize,
    hits: Vec<Hit>,
    links: Vec<Link>,
    crossings: Vec<Crossing>,
    end: Option<Place>,
}

impl Trail {
    /// Writes it into the chunk for good.
    fn end(&mut self, job: &Job<'_>, Flown { chunk, ends }: &mut Flown) {
        let Origin { share, parent, off_aim, .. } = job.rays[self.number];
        ends[self.number] = self.end.take();
        chunk.rays[self.number] = Ray {
            first_hit: chunk.hits.len() as u32,
            first_crossing: chunk.crossings.len() as u32,
            hits: self.hits.len() as u32,
            crossings: self.crossings.len() as u32,
            off_aim,
            share,
            parent,
        };
        chunk.hits.append(&mut self.hits);
        chunk.links.append(&mut self.links);
        chunk.crossings.append(&mut self.crossings);
    }
}

/// Traces the rays of a job, numbered in their order.
///
/// # Errors
/// [`Cancelled`].
#[inline(always)]
pub(super) fn fly<S: Simd>(simd: S, progress: &Progress, tracer: &Tracer<'_>, job: &Job<'_>) -> Result<Flown, Cancelled> {
    let mut octets = [Octet::idle(simd); OCTETS];
    let mut trails: [[Trail; LANES]; OCTETS] = Default::default();
    let mut flown = job.empty(tracer);
    let (mut next, mut round) = (0, 0_u32);
    loop {
        for (octet, trails) in octets.iter_mut().zip(&mut trails) {
            octet.begin(simd, job, &mut next, trails);
        }
        let mut asked = [Asked { rays: octets[0].rays, far: f32x8::splat(simd, f32::INFINITY), busy: Some8(0) }; OCTETS];
        let mut any_busy = Some8(0);
        for (asked, octet) in asked.iter_mut().zip(&octets) {
            (asked.rays, asked.busy) = (octet.rays, octet.busy);
            any_busy.0 |= octet.busy.0;
        }
        if any_busy == Some8(0) {
            return Ok(flown);
        }
        if round.is_multiple_of(PATIENCE) {
            progress.step(0)?;
        }
        round += 1;
        let mut hits = [HitLanes::NOTHING; OCTETS];
        tracer.packets.first_hits(simd, &asked, false, &mut hits);
        let mut bounces = [Bounces::none(simd); OCTETS];
        for index in 0..OCTETS {
            let octet = &mut octets[index];
            let was_busy = octet.busy;
            if was_busy != Some8(0) {
                flown.chunk.escaped += u64::from(octet.drop_lost(&hits[index]));
                bounces[index] = octet.advance(simd, tracer, job, &hits[index], &mut trails[index]);
                for lane in Some8(was_busy.0 & !octet.busy.0) {
                    trails[index][lane].end(job, &mut flown);
                }
            }
        }
        for ball in job.balls {
            link(simd, tracer, ball, &octets, &bounces, &mut trails);
        }
    }
}

/// Writes down how a receiver hears the bounces of this round.
#[inline(always)]
fn link<S: Simd>(
    simd: S,
    tracer: &Tracer<'_>,
    ball: &Ball,
    octets: &[Octet<S>; OCTETS],
    bounces: &[Bounces<S>; OCTETS],
    trails: &mut [[Trail; LANES]; OCTETS],
) {
    let mut links = [ball.links(simd, &bounces[0]); OCTETS];
    let mut asked = [links[0].asked; OCTETS];
    for octet in 1..OCTETS {
        links[octet] = ball.links(simd, &bounces[octet]);
        asked[octet] = links[octet].asked;
    }
    let mut between = [HitLanes::NOTHING; OCTETS];
    if !tracer.occluders.is_empty() {
        tracer.occluders.first_hits(simd, &asked, true, &mut between);
    }
    for octet in 0..OCTETS {
        let (weights, ways) = (array(links[octet].weight), array(links[octet].travelled));
        for lane in octets[octet].busy {
            let link = if links[octet].near.has(lane) {
                ball.near_link(simd, &tracer.packets, &bounces[octet], lane)
            } else if asked[octet].busy.has(lane) && between[octet].surface[lane] == NOTHING {
                Link { weight: weights[lane], travelled: ways[lane] }
            } else {
                Link::default()
            };
            trails[octet][lane].links.push(link);
        }
    }
}

/// Eight rays on their way.
#[derive(Clone, Copy)]
struct Octet<S: Simd> {
    rays: RayLanes<S>,
    /// Way from the source, meters.
    travelled: f32x8<S>,
    random: StreamLanes<S>,
    /// Lanes that hold a ray.
    busy: Some8,
    /// All reflections so far were mirror reflections.
    all_specular: Some8,
    /// The last one was diffuse (the source counts as specular).
    last_diffuse: Some8,
    bounces: [u16; LANES],
}

impl<S: Simd> Octet<S> {
    #[inline(always)]
    fn idle(simd: S) -> Self {
        Self {
            rays: RayLanes::splat(simd, Vec3::ZERO, Vec3::ZERO),
            travelled: f32x8::splat(simd, 0.0),
            random: StreamLanes::new(simd, [0; LANES]),
            busy: Some8(0),
            all_specular: Some8(0),
            last_diffuse: Some8(0),
            bounces: [0; LANES],
        }
    }

    /// Puts rays in the lanes that hold none.
    #[inline(always)]
    fn begin(&mut self, simd: S, job: &Job<'_>, next: &mut usize, trails: &mut [Trail; LANES]) {
        let (mut fresh, mut keys) = (Some8(0), [0; LANES]);
        // Point, direction, way.
        let mut numbers = [[0.0; LANES]; 7];
        for lane in Some8(!self.busy.0) {
            if let Some(&Origin { key, place, .. }) = job.rays.get(*next) {
                fresh.0 |= 1 << lane;
                let (Vec3 { x, y, z }, Vec3 { x: dx, y: dy, z: dz }) = (place.point, place.direction);
                for (lanes, number) in numbers.iter_mut().zip([x, y, z, dx, dy, dz, place.travelled]) {
                    lanes[lane] = number;
                }
                (keys[lane], self.bounces[lane], trails[lane].number) = (key, place.bounces, *next);
                self.all_specular.set(lane, place.all_specular);
                self.last_diffuse.set(lane, place.last_diffuse);
                *next += 1;
            }
        }
        if fresh == Some8(0) {
            return;
        }
        let is_fresh = mask32x8::from_bitmask(simd, u64::from(fresh.0));
        let [x, y, z, dx, dy, dz, travelled] = numbers;
        self.rays.origin = Vec3Lanes::load(simd, &[x, y, z]).or(is_fresh, self.rays.origin);
        self.rays.direction = Vec3Lanes::load(simd, &[dx, dy, dz]).or(is_fresh, self.rays.direction);
        self.travelled = is_fresh.select(f32x8::load_array(simd, travelled), self.travelled);
        self.random.replace(is_fresh, StreamLanes::new(simd, keys));
        self.busy.0 |= fresh.0;
    }

    /// The way on which a stage of the tail begins has been flown by the ray before it, and is on record there.
    #[inline(always)]
    fn known(&self, simd: S, job: &Job<'_>) -> Some8 {
        match job.part.group.goes_on_from {
            Some(_) => Some8::of(self.travelled.simd_le(f32x8::splat(simd, job.part.group.heard_from))),
            None => Some8(0),
        }
    }

    /// Ends the rays that met nothing; how many there are.
    #[inline(always)]
    fn drop_lost(&mut self, hits: &HitLanes) -> u32 {
        let mut lost = 0;
        for lane in self.busy {
            lost |= u8::from(hits.surface[lane] == NOTHING) << lane;
        }
        self.busy.0 &= !lost;
        lost.count_ones()
    }

    /// Ends the rays whose next bounce lies beyond the part, and keeps where they are.
    #[inline(always)]
    fn end_at(&mut self, simd: S, job: &Job<'_>, arriving: f32x8<S>, trails: &mut [Trail; LANES]) {
        let over = Some8(self.busy.0 & !Some8::of(arriving.simd_le(f32x8::splat(simd, job.part.end))).0);
        if over == Some8(0) {
            return;
        }
        let (points, directions, ways) = (self.rays.origin.store(), self.rays.direction.store(), array(self.travelled));
        for lane in over {
            trails[lane].end = Some(Place {
                point: Vec3::from(points.map(|part| part[lane])),
                direction: Vec3::from(directions.map(|part| part[lane])),
                travelled: ways[lane],
                bounces: self.bounces[lane],
                all_specular: self.all_specular.has(lane),
                last_diffuse: self.last_diffuse.has(lane),
            });
        }
        self.busy.0 &= !over.0;
    }

    /// Goes on to what was met, writes that down and turns; what bounced where.
    #[inline(always)]
    fn advance(&mut self, simd: S, tracer: &Tracer<'_>, job: &Job<'_>, hits: &HitLanes, trails: &mut [Trail; LANES]) -> Bounces<S> {
        let distance = f32x8::load_array(simd, hits.distance).max(f32x8::splat(simd, 0.0));
        self.cross(simd, tracer, job, distance, trails);
        let arriving = self.travelled + distance;
        self.end_at(simd, job, arriving, trails);
        self.travelled = arriving;
        for lane in self.busy {
            self.bounces[lane] += 1;
            // Nobody bounces that often.
            self.busy.0 &= !(u8::from(self.bounces[lane] == u16::MAX) << lane);
        }
        if self.busy == Some8(0) {
            return Bounces::none(simd);
        }
        let ways = array(self.travelled);
        let mut probability = [0_u8; LANES];
        let mut mirrors = [[0.0; LANES]; Mirror::NUMBERS];
        for lane in self.busy {
            let surface = hits.surface[lane] as usize;
            probability[lane] = job.part.group.diffuse_probability[surface];
            for (lanes, number) in mirrors.iter_mut().zip(tracer.mirrors[surface].0) {
                lanes[lane] = number;
            }
        }
        let [nx, ny, nz, rx, ry, rz, ux, uy, uz, right_begin, up_begin] = mirrors;
        let normal = Vec3Lanes::load(simd, &[nx, ny, nz]);
        let (right, up) = (Vec3Lanes::load(simd, &[rx, ry, rz]), Vec3Lanes::load(simd, &[ux, uy, uz]));
        let frame = Frame { right, up, normal };
        let point = self.rays.at(distance);
        let cosine = (-self.rays.direction.dot(normal)).max(f32x8::splat(simd, 0.0)).min(f32x8::splat(simd, 1.0));
        let mut chance = [0.0; LANES];
        for (chance, probability) in chance.iter_mut().zip(probability) {
            *chance = diffuse_chance(probability);
        }
        let is_diffuse = self.random.unit(simd).simd_lt(f32x8::load_array(simd, chance));
        let diffuse = Some8::of(is_diffuse);
        let across = array(right.dot(point) - f32x8::load_array(simd, right_begin));
        let along = array(up.dot(point) - f32x8::load_array(simd, up_begin));
        let cosines = array(cosine);
        for lane in self.busy {
            let (position, bin) = ([across[lane], along[lane]], cosine_bin(f64::from(cosines[lane])));
            let hit = Hit::new(position, hits.surface[lane] as u16, bin, probability[lane], ways[lane], diffuse.has(lane));
            trails[lane].hits.push(hit);
        }
        let scattered = lambert(simd, [self.random.unit(simd), self.random.unit(simd)], &frame);
        let mirrored = self.rays.direction.plus(cosine + cosine, normal);
        self.rays.origin = point;
        self.rays.direction = unit(simd, scattered.or(is_diffuse, mirrored));
        self.all_specular.0 &= !diffuse.0;
        self.last_diffuse = diffuse;
        Bounces { point, frame, travelled: self.travelled, heard: self.busy }
    }

    /// Writes down where the ways that begin now pass through a receiver's ball, where that belongs to class (c).
    #[inline(always)]
    fn cross(&self, simd: S, tracer: &Tracer<'_>, job: &Job<'_>, distance: f32x8<S>, trails: &mut [Trail; LANES]) {
        let mut counted = self.busy.0 & !self.last_diffuse.0 & !self.known(simd, job).0;
        for lane in Some8(counted & self.all_specular.0) {
            counted &= !(u8::from(self.bounces[lane] <= u16::from(tracer.settings.image_order)) << lane);
        }
        if counted == 0 {
            return;
        }
        let is_late = self.travelled.simd_gt(f32x8::splat(simd, tracer.early));
        for (receiver, ball) in job.balls.iter().enumerate() {
            let chords = ball.chords(simd, &self.rays, distance, is_late);
            let crossed = Some8(counted & Some8::of(chords.leave.simd_gt(chords.enter)).0);
            if crossed == Some8(0) {
                continue;
            }
            let weights = array(chords.weight);
            let ways = array(self.travelled + (chords.enter + chords.leave) * f32x8::splat(simd, 0.5));
            for lane in crossed {
                let (after, receiver) = ((trails[lane].hits.len() - 1) as u16, receiver as u16);
                trails[lane].crossings.push(Crossing { after, receiver, weight: weights[lane], travelled: ways[lane] });
            }
        }
    }
}

/// What a surface does to a ray: its normal, its axes to the right and upward, and where its origin lies along those.
#[derive(Clone, Copy)]
pub(super) struct Mirror(pub(super) [f32; Self::NUMBERS]);

impl Mirror {
    pub(super) const NUMBERS: usize = 11;
}

/// Directions drawn evenly from the sphere.
#[inline(always)]
pub(super) fn sphere<S: Simd>(simd: S, [first, second]: [f32x8<S>; 2]) -> Vec3Lanes<S> {
    let one = f32x8::splat(simd, 1.0);
    let z = one - (first + first);
    let ring = (one - z * z).max(f32x8::splat(simd, 0.0)).sqrt();
    let [sin, cos] = sin_cos_turns(simd, second);
    Vec3Lanes { x: ring * cos, y: ring * sin, z }
}

/// Directions drawn by Lambert's law about the normal.
#[inline(always)]
pub(super) fn lambert<S: Simd>(simd: S, [first, second]: [f32x8<S>; 2], frame: &Frame<S>) -> Vec3Lanes<S> {
    let ring = first.sqrt();
    let height = (f32x8::splat(simd, 1.0) - first).max(f32x8::splat(simd, 0.0)).sqrt();
    let [sin, cos] = sin_cos_turns(simd, second);
    (frame.normal * height).plus(ring * cos, frame.right).plus(ring * sin, frame.up)
}

/// What is nearly of length 1 made so: rounding must not let it drift over hundreds of bounces.
#[inline(always)]
pub(super) fn unit<S: Simd>(simd: S, direction: Vec3Lanes<S>) -> Vec3Lanes<S> {
    direction * (f32x8::splat(simd, 1.5) - direction.dot(direction) * f32x8::splat(simd, 0.5))
}

/// Sine and cosine of an angle given in turns from 0 to 1, to 2e-7: the series of half the angle, which lies within a quarter turn.
#[inline(always)]
fn sin_cos_turns<S: Simd>(simd: S, turns: f32x8<S>) -> [f32x8<S>; 2] {
    /// `pi^n / n!`, signs alternating, the highest first.
    const SIN: [f32; 6] = [-0.007_370_431, 0.082_145_89, -0.599_264_5, 2.550_164, -5.167_713, PI];
    const COS: [f32; 7] = [0.001_929_574, -0.025_806_89, 0.235_330_63, -1.335_262_8, 4.058_712, -4.934_802, 1.0];
    let half = turns - f32x8::splat(simd, 0.5);
    let square = half * half;
    let (mut sin, mut cos) = (f32x8::splat(simd, 0.0), f32x8::splat(simd, 0.0));
    for term in SIN {
        sin = sin.mul_add(square, f32x8::splat(simd, term));
    }
    for term in COS {
        cos = cos.mul_add(square, f32x8::splat(simd, term));
    }
    sin *= half;
    // Half a turn more turns both round.
    [sin * cos * f32x8::splat(simd, -2.0), sin * sin * f32x8::splat(simd, 2.0) - f32x8::splat(simd, 1.0)]
}
