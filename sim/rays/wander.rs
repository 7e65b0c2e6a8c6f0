//! How long are the flights between two bounces where all surfaces scatter by Lambert's law? Nothing else is written down.
//!
//! In equilibrium their mean is `4 V / S`, and `gamma^2`, their variance over the square of the mean, tells how a decay departs from Eyring's
//! formula.
//!
//! *References.* H. Kuttruff, Room Acoustics, ch. 5 (mean free path, `gamma^2`).
//!
//! *Limits.* The first flights of each ray, which tell more of the source than of the room, are left out as asked.

use fearless_simd::prelude::*;
use fearless_simd::{dispatch, f32x8};
use glam::Vec3;
use rayon::prelude::*;

use crate::geometry::lanes::{LANES, RayLanes, Some8, Vec3Lanes, array};
use crate::geometry::packets::{Asked, HitLanes};
use crate::progress::{Cancelled, Progress};
use crate::random::{self, Purpose, StreamLanes};
use crate::room::Room;
use crate::settings::Settings;

use super::flight::{Mirror, OCTETS, sphere};
use super::trace::Tracer;

/// Rays that go together.
const TOGETHER: u64 = (OCTETS * LANES) as u64;

/// Which flights are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Flights {
    /// Rays from each source.
    pub rays: u64,
    /// Flights of each that are left out.
    pub left_out: u32,
    /// Flights of each that are counted after these.
    pub counted: u32,
}

/// Their sums.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FreePaths {
    /// How many there are.
    pub count: u64,
    /// Sum of their lengths, meters.
    pub sum: f64,
    /// Sum of the squares of their lengths, m2.
    pub squares: f64,
    /// Rays that left the room through a crack.
    pub escaped: u64,
}

impl FreePaths {
    /// Mean free path, meters.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.sum / self.count as f64
    }

    /// Variance over the square of the mean.
    #[must_use]
    pub fn gamma_squared(&self) -> f64 {
        self.squares * self.count as f64 / (self.sum * self.sum) - 1.0
    }

    fn and(self, other: Self) -> Self {
        Self {
            count: self.count + other.count,
            sum: self.sum + other.sum,
            squares: self.squares + other.squares,
            escaped: self.escaped + other.escaped,
        }
    }
}

/// Flights of rays from each source, the seed that of the settings.
///
/// # Errors
/// [`Cancelled`].
pub fn free_paths(progress: &Progress, room: &Room, settings: &Settings, flights: Flights) -> Result<Vec<FreePaths>, Cancelled> {
    let tracer = Tracer::new(room, settings, 0.0);
    let of = |source: usize| {
        let groups = (0..flights.rays.div_ceil(TOGETHER)).into_par_iter().map(|group| {
            progress.step(0)?;
            let keys = std::array::from_fn(|lane| {
                let ray = group * TOGETHER + lane as u64;
                (ray < flights.rays).then(|| random::key(settings.seed, Purpose::Ray, ray + ((source as u64) << 40)))
            });
            Ok(dispatch!(tracer.packets.level(), simd => wander(simd, &tracer, source, &keys, flights)))
        });
        let groups = groups.collect::<Result<Vec<FreePaths>, Cancelled>>()?;
        Ok(groups.into_iter().fold(FreePaths::default(), FreePaths::and))
    };
    (0..room.sources.len()).map(of).collect()
}

#[inline(always)]
fn wander<S: Simd>(simd: S, tracer: &Tracer<'_>, source: usize, keys: &[Option<u64>; OCTETS * LANES], flights: Flights) -> FreePaths {
    let zero = f32x8::splat(simd, 0.0);
    let nowhere = RayLanes::splat(simd, tracer.room.sources[source].position.as_vec3(), Vec3::ZERO);
    let mut asked = [Asked { rays: nowhere, far: f32x8::splat(simd, f32::INFINITY), busy: Some8(0) }; OCTETS];
    let mut random = [StreamLanes::new(simd, [0; LANES]); OCTETS];
    for (octet, (asked, random)) in asked.iter_mut().zip(&mut random).enumerate() {
        let mut own = [0; LANES];
        for (lane, (own, key)) in own.iter_mut().zip(&keys[octet * LANES..]).enumerate() {
            if let Some(key) = key {
                *own = *key;
                asked.busy.0 |= 1 << lane;
            }
        }
        *random = StreamLanes::new(simd, own);
        asked.rays.direction = sphere(simd, [random.unit(simd), random.unit(simd)]);
    }
    let mut paths = FreePaths::default();
    let (mut sums, mut squares) = ([zero; OCTETS], [zero; OCTETS]);
    for flight in 0..flights.left_out + flights.counted {
        let mut hits = [HitLanes::NOTHING; OCTETS];
        tracer.packets.first_hits(simd, &asked, false, &mut hits);
        for octet in 0..OCTETS {
            let mut normals = [[0.0; LANES]; 3];
            let [along_x, along_y, along_z] = &mut normals;
            for (lane, ((to_x, to_y), to_z)) in along_x.iter_mut().zip(along_y).zip(along_z).enumerate() {
                if let Some(Mirror([x, y, z, ..])) = tracer.mirrors.get(hits[octet].surface[lane] as usize) {
                    (*to_x, *to_y, *to_z) = (*x, *y, *z);
                } else if asked[octet].busy.has(lane) {
                    asked[octet].busy.0 &= !(1 << lane);
                    paths.escaped += 1;
                }
            }
            let distance = f32x8::load_array(simd, hits[octet].distance).max(zero).min(f32x8::splat(simd, 1e9));
            if flight >= flights.left_out {
                sums[octet] += distance;
                squares[octet] += distance * distance;
                paths.count += u64::from(asked[octet].busy.0.count_ones());
            }
            let rays = &mut asked[octet].rays;
            rays.origin = rays.at(distance);
            // A point of the sphere round the tip of the normal: Lambert's law without any axes. A hair less than the sphere: no direction is 0.
            let ball = sphere(simd, [random[octet].unit(simd), random[octet].unit(simd)]);
            let tip = Vec3Lanes::load(simd, &normals).plus(f32x8::splat(simd, 0.999_999), ball);
            rays.direction = tip * (f32x8::splat(simd, 1.0) / tip.dot(tip).sqrt());
        }
    }
    for octet in 0..OCTETS {
        let (sums, squares) = (array(sums[octet]), array(squares[octet]));
        for lane in asked[octet].busy {
            paths.sum += f64::from(sums[lane]);
            paths.squares += f64::from(squares[lane]);
        }
    }
    paths
}
