//! Rooms for tests of the traced rays: boxes, a Lambertian cube and a sphere; their free paths and decay (rows stand in `validation/rays.rs`).

use glam::{DVec2, DVec3};
use roomwright::absorbers::Finish;
use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, Pattern};
use roomwright::hanging::Hanging;
use roomwright::mesh::close;
use roomwright::progress::Progress;
use roomwright::rays::{self, Flights, FreePaths};
use roomwright::response::{Estimate, Response};
use roomwright::room::{Bodies, Emitter, Receiver, Room, build, of_mesh};
use roomwright::scene::SourceKind;
use roomwright::settings::Settings;
use roomwright::weigh::{Linings, Traced, weigh_rays};

use crate::mesh::{plain_air, sphere};
use crate::room::shoebox;

/// A box with one finish everywhere, an omni source and an omni seat, no air absorption, speed of sound 343 m/s.
pub(crate) fn uniform_box(size: [f64; 3], absorption: f64, scattering: Bands<f64>, source: DVec3, seat: DVec3) -> Room {
    let mut room = build(&shoebox(size[0], size[1], size[2]), Bodies::Standing);
    let finish = Finish::uniform("even", Bands::splat(absorption), scattering);
    room.finishes = vec![finish; room.finishes.len()];
    room.medium.speed = 343.0;
    room.medium.attenuation = Bands::splat(0.0);
    furnish(&mut room, &[source], &[seat]);
    room
}

pub(crate) fn responses(room: Room, settings: Settings, end_s: f64) -> (Traced, Response) {
    let progress = Progress::new();
    let traced = Traced::new(&progress, room, settings, end_s).expect("nobody cancels");
    let linings = Linings::new(&traced.room, &Hanging::default());
    let rays = weigh_rays(&progress, &traced, &linings).expect("nobody cancels").remove(0).remove(0);
    let response = Response::new(&traced, &linings, rays, 0, 0);
    (traced, response)
}

/// Decay rate of the energy between two times, from the energies of two long windows.
pub(crate) fn decay_rate(response: &Response, band: Band, from_s: f64, window_s: f64) -> Estimate {
    let curve = response.resampled(band);
    let bins = |t: f64| (t / response.bin_s).round() as usize;
    curve
        .estimate(|energy| {
            let sum = |from: f64| energy[bins(from)..bins(from + window_s)].iter().sum::<f64>();
            Some((sum(from_s) / sum(from_s + window_s)).ln() / window_s)
        })
        .expect("the record is long enough")
}

/// Slowest decay rate of a Lambertian cube of 3 m at 343 m/s, as `s` in `E ~ exp(-s c t / edge)`, read from two windows that begin after the
/// start-up from the source is over; mean over independent seeds.
pub(crate) fn lambertian_cube(absorption: f64, (from_s, window_s): (f64, f64), seeds: u64) -> Estimate {
    let edge = 3.0;
    let mut mean = Estimate::exact(0.0);
    for seed in 1..=seeds {
        let room = uniform_box([edge; 3], absorption, Bands::splat(1.0), DVec3::new(0.9, 1.1, 1.3), DVec3::new(2.0, 1.8, 1.4));
        let settings = Settings { seed, rays: 200_000, tail_one_in: 1, image_order: 0, ..Settings::DEFAULT };
        let (_, response) = responses(room, settings, from_s + 2.0 * window_s + 0.02);
        let rate = decay_rate(&response, Band::new(4), from_s, window_s);
        let share = edge / 343.0 / seeds as f64;
        mean = Estimate { value: mean.value + rate.value * share, se: mean.se.hypot(rate.se * share) };
    }
    mean
}

/// A sphere of diffuse walls, drawn as an icosphere, in units of the radius `R` of the sphere that has its mean free path: `4 V / S = 4 R / 3`.
pub(crate) struct LambertianSphere {
    traced: Traced,
    /// Radius `R`, meters.
    pub(crate) radius: f64,
    /// Volume in `4/3 pi R^3`: what the faces, flat as they are, make of it.
    pub(crate) volume: f64,
    /// Mean free path of the traced rays, in `4 R / 3`.
    pub(crate) free_path: Estimate,
    /// Variance of free paths over their squared mean.
    pub(crate) free_path_variance: Estimate,
}

impl LambertianSphere {
    /// 5120 faces about 2 m round the seat; the source stands half a radius off.
    ///
    /// The seat hears every bounce alike, so that the curve is the energy of the room, a little later.
    pub(crate) fn new(seed: u64) -> Self {
        let mesh = close(&sphere(4, 2.0), 1).expect("an icosphere is closed");
        assert_eq!(mesh.faces.len(), 5120);
        let mut room = of_mesh(&mesh, &[even(0.1)], plain_air(), 0.5);
        let radius = 0.75 * room.mean_free_path();
        let volume = room.volume / (4.0 / 3.0 * std::f64::consts::PI * radius.powi(3));
        furnish(&mut room, &[DVec3::new(0.25, -0.35, 0.25) * radius], &[DVec3::ZERO]);
        let end_s = Self::END * radius / room.medium.speed;
        let settings = Settings { seed, rays: 400_000, tail_one_in: 1, image_order: 0, early_s: end_s, bin_s: 5e-5, ..Settings::DEFAULT };
        let traced = Traced::new(&Progress::new(), room, settings, end_s).expect("nobody cancels");
        let (mean, variance) = free_paths(&traced, 3, 12);
        let unit = 0.75 / radius;
        Self { traced, radius, volume, free_path: Estimate { value: mean.value * unit, se: mean.se * unit }, free_path_variance: variance }
    }

    /// Length of the record in `R / c`.
    const END: f64 = 42.0;

    /// Decay rate at an absorption coefficient, in `c / R`.
    ///
    /// What is left of the start-up dies as the next root of [`sphere_equation`], `y + i w`; windows are whole periods of it, at least three and until
    /// the energy has fallen by a factor of e, and begin where its energy, re the last, no longer moves the rate by 0.2 % of itself.
    pub(crate) fn rate(&mut self, absorption: f64) -> Estimate {
        let (slowest, (next, turn)) = (sphere_rate(absorption), next_sphere_root(absorption));
        let period = std::f64::consts::TAU / turn;
        let window = period * (1.0 / slowest / period).ceil().clamp(3.0, 8.0);
        let from = (1.0 / (0.002 * slowest * window)).ln().max(0.0) / (next - slowest);
        assert!(from + 2.0 * window + 2.0 < Self::END, "a record of {} R/c is too short", Self::END);
        for finish in &mut self.traced.room.finishes {
            *finish = even(absorption);
        }
        let linings = Linings::new(&self.traced.room, &Hanging::default());
        let rays = weigh_rays(&Progress::new(), &self.traced, &linings).expect("nobody cancels").remove(0).remove(0);
        let response = Response::new(&self.traced, &linings, rays, 0, 0);
        let bins_in = |way: f64| (way * self.radius / self.traced.room.medium.speed / response.bin_s).round() as usize;
        let (first, length) = (bins_in(from), bins_in(window));
        let rate = response.resampled(Band::new(4)).estimate(|energy| {
            let sum = |from: usize| energy[from..from + length].iter().sum::<f64>();
            Some((sum(first) / sum(first + length)).ln() / (length as f64 * response.bin_s))
        });
        let rate = rate.expect("the record is long enough");
        let unit = self.radius / self.traced.room.medium.speed;
        Estimate { value: rate.value * unit, se: rate.se * unit }
    }
}

/// The same absorption at every angle and in every band, all of the rest scattered.
pub(crate) fn even(absorption: f64) -> Finish {
    Finish::uniform("even", Bands::splat(absorption), Bands::splat(1.0))
}

/// `(1 - a) [1 + (2 x - 1) e^(2 x)] / (2 x^2) - 1`: zero where `E ~ exp(-x c t / R)` in a Lambertian sphere, whose chords are independent and have the
/// density `l / (2 R^2)`.
fn sphere_equation(absorption: f64, x: f64) -> f64 {
    (1.0 - absorption) * (1.0 + (2.0 * x - 1.0) * (2.0 * x).exp()) / (2.0 * x * x) - 1.0
}

/// The slowest rate, in `c / R`, by halving.
pub(crate) fn sphere_rate(absorption: f64) -> f64 {
    let (mut low, mut high) = (1e-4, 20.0);
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if sphere_equation(absorption, middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// The next root in the complex plane, by Newton's method on `(1 - a) [1 + (2 z - 1) e^(2 z)] - 2 z^2`.
fn next_sphere_root(absorption: f64) -> (f64, f64) {
    let times = |a: DVec2, b: DVec2| DVec2::new(a.x * b.x - a.y * b.y, a.x * b.y + a.y * b.x);
    let kept = 1.0 - absorption;
    let mut z = DVec2::new(0.5 * (4.0 / kept).ln(), 3.8);
    for _ in 0..50 {
        let (sin, cos) = (2.0 * z.y).sin_cos();
        let power = (2.0 * z.x).exp() * DVec2::new(cos, sin);
        let value = kept * (DVec2::X + times(2.0 * z - DVec2::X, power)) - 2.0 * times(z, z);
        let slope = 4.0 * kept * times(z, power) - 4.0 * z;
        z -= times(value, DVec2::new(slope.x, -slope.y)) / slope.length_squared();
    }
    (z.x, z.y)
}

/// Mean of free paths in meters and their variance over the squared mean: of every ray `flights` from bounce `first` on, by which the rays are at rest,
/// spread as if sound came from everywhere.
pub(crate) fn free_paths(traced: &Traced, first: usize, flights: usize) -> (Estimate, Estimate) {
    let chunks = &traced.paths.groups[0].1[0].chunks;
    let sums: Vec<[f64; 4]> = chunks
        .iter()
        .map(|chunk| {
            let mut sums = [0.0; 4];
            for ray in 0..chunk.rays.len() {
                let hits = &chunk.hits[chunk.hits_of(ray)];
                if hits.len() <= first + flights {
                    // Escaped, which is counted; any other end would leave out the long flights.
                    sums[3] += 1.0;
                    continue;
                }
                for pair in hits[first..=first + flights].windows(2) {
                    let way = f64::from(pair[1].travelled()) - f64::from(pair[0].travelled());
                    sums = [sums[0] + 1.0, sums[1] + way, sums[2] + way * way, sums[3]];
                }
            }
            sums
        })
        .collect();
    let ended: f64 = sums.iter().map(|sums| sums[3]).sum();
    assert!(ended == 0.0 && traced.paths.escaped == 0, "{ended} rays ended before their flights, {} escaped", traced.paths.escaped);
    let total = |left_out: Option<usize>| {
        let kept = sums.iter().enumerate().filter(|(batch, _)| Some(*batch) != left_out);
        kept.fold([0.0; 3], |total, (_, sums)| [total[0] + sums[0], total[1] + sums[1], total[2] + sums[2]])
    };
    let mean = |[count, sum, _]: [f64; 3]| sum / count;
    let variance = |[count, sum, squares]: [f64; 3]| squares * count / (sum * sum) - 1.0;
    let estimate = |measure: &dyn Fn([f64; 3]) -> f64| {
        let without: Vec<f64> = (0..sums.len()).map(|batch| measure(total(Some(batch)))).collect();
        Estimate::jackknife(measure(total(None)), &without)
    };
    (estimate(&mean), estimate(&variance))
}

/// Free paths of a box, mean in `4 V / S` and variance over the squared mean.
pub(crate) fn box_free_paths(size: [f64; 3]) -> (Estimate, Estimate) {
    let [x, y, z] = size;
    let expected = 2.0 * x * y * z / (x * y + y * z + z * x);
    let room = uniform_box(size, 0.0, Bands::splat(1.0), 0.4 * DVec3::from(size), 0.6 * DVec3::from(size));
    // Sound takes some dozen flights from one end of a flat room to the other.
    let flights = Flights { rays: 20_000, left_out: 40, counted: 80 };
    let batches: Vec<FreePaths> = (1..=20)
        .map(|seed| {
            let settings = Settings { seed, ..Settings::DEFAULT };
            rays::free_paths(&Progress::new(), &room, &settings, flights).expect("nobody cancels").remove(0)
        })
        .collect();
    assert!(batches.iter().all(|batch| batch.escaped == 0), "rays escaped from a box");
    let of = |measure: &dyn Fn(&FreePaths) -> f64| Estimate::mean(&batches.iter().map(measure).collect::<Vec<_>>());
    (of(&|batch| batch.mean() / expected), of(&FreePaths::gamma_squared))
}

/// Omni sources and seats at these places.
pub(crate) fn furnish(room: &mut Room, sources: &[DVec3], seats: &[DVec3]) {
    let source = |(index, &position): (usize, &DVec3)| Emitter {
        name: format!("source {index}"),
        kind: SourceKind::Loudspeaker,
        position,
        aim: DVec3::X,
        directivity: Directivity::Omni,
    };
    let seat = |(index, &position): (usize, &DVec3)| Receiver {
        name: format!("seat {index}"),
        position,
        facing: DVec3::X,
        zone_radius: Some(0.1),
        pattern: Pattern { omni: 1.0 },
    };
    room.sources = sources.iter().enumerate().map(source).collect();
    room.receivers = seats.iter().enumerate().map(seat).collect();
}

/// The equation against the digits that stand in print, and against its exact root at one half.
#[test]
fn published_rates_of_a_lambertian_sphere() {
    for (absorption, rate) in [(0.1, 0.07851), (0.3, 0.261_926), (0.5, 0.5), (0.9, 1.555_673)] {
        assert!((sphere_rate(absorption) - rate).abs() < 5e-6, "{absorption}: {}", sphere_rate(absorption));
        // The next root is one, and faster.
        let (next, turn) = next_sphere_root(absorption);
        assert!(next > rate && (3.0..4.5).contains(&turn), "{absorption}: {next} + {turn} i");
    }
}

/// What becomes of all that a source sends, of which it is a share each.
pub(crate) struct Balance {
    /// Shares of all rays; what the walls took of them, what is still on its way in the end, and what left through a hole.
    sent: f64,
    pub(crate) taken: f64,
    pub(crate) left: f64,
    pub(crate) gone: f64,
    /// Rays that left before their last flight.
    lost: u64,
    /// Rays that left, as the engine counts them.
    escaped: u64,
}

/// A box with walls that absorb so much, one of them too short if it is open. Every way is as likely as it scatters, so that no energy is drawn by lot.
pub(crate) fn energy_balance(absorption: f64, is_open: bool) -> Balance {
    const SCATTERING: f64 = 102.0 / 255.0;
    let size = [5.1, 3.9, 2.6];
    let mut room = uniform_box(size, absorption, Bands::splat(SCATTERING), DVec3::new(1.2, 1.0, 1.1), DVec3::new(3.6, 2.7, 1.3));
    if is_open {
        for corner in &mut room.surfaces[0].outline.corners {
            corner.x *= 0.8;
        }
    }
    let end_s = 0.2;
    let settings = Settings { rays: 5_000, early_s: end_s, ..Settings::DEFAULT };
    let traced = Traced::new(&Progress::new(), room, settings, end_s).expect("nobody cancels");
    let (band, finish) = (Band::new(4), &traced.room.finishes[0]);
    let longest = DVec3::from(size).length();
    let chunks = &traced.paths.groups[0].1[0].chunks;
    let share = 1.0 / chunks.len() as f64;
    let mut balance = Balance { sent: 0.0, taken: 0.0, left: 0.0, gone: 0.0, lost: 0, escaped: traced.paths.escaped };
    for chunk in chunks {
        for (ray, stored) in chunk.rays.iter().enumerate() {
            let mut energy = share * f64::from(stored.share);
            balance.sent += energy;
            let mut way = 0.0;
            for hit in &chunk.hits[chunk.hits_of(ray)] {
                let bin = usize::from(hit.cosine_bin);
                let [mirrored, scattered] = [&finish.specular, &finish.diffuse].map(|table| f64::from(table[bin][band]));
                balance.taken += energy * (1.0 - mirrored - scattered);
                energy *= if hit.went_diffuse() { scattered } else { mirrored } / f64::from(hit.chance());
                way = f64::from(hit.travelled());
            }
            // One flight more would still have been stored: it left.
            if way + longest < end_s * 343.0 {
                (balance.gone, balance.lost) = (balance.gone + energy, balance.lost + 1);
            } else {
                balance.left += energy;
            }
        }
    }
    balance
}

/// Nothing is lost and nothing made: what the walls took, what left through a hole and what is still on its way is what was sent, for hard walls and soft,
/// for all stored rays together.
#[test]
fn keeps_energy_to_a_millionth() {
    for (absorption, is_open) in [(0.0, false), (0.0, true), (0.3, false), (0.3, true)] {
        let Balance { sent, taken, left, gone, lost, escaped } = energy_balance(absorption, is_open);
        let all = taken + left + gone;
        assert!((sent - 1.0).abs() < 1e-6 && (all - 1.0).abs() < 1e-6, "{absorption}, {is_open}: {all} of {sent}");
        // Those that left during their last flight cannot be told from those that ended.
        assert!(
            if is_open { escaped > 1000 && lost <= escaped && lost + 200 > escaped } else { escaped == 0 && lost == 0 },
            "{lost} {escaped}"
        );
        assert!((absorption > 0.0) == (taken > 0.01));
    }
}
