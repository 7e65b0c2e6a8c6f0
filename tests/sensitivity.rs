//! How early level, clarity and decay change with every patch of wall: octave by octave, pair by pair, all in one pass over the rays.
//!
//! Statistical bounds as in `engine`: chi-square at the 1 % level, seeds fixed.

use std::sync::LazyLock;

use glam::{DVec2, DVec3};
use roomwright::absorbers::Finish;
use roomwright::bands::{Band, Bands};
use roomwright::geometry::Polygon;
use roomwright::hanging::{Hanging, Patch};
use roomwright::hotspots::{self, CLARITY_LIMIT_S, Octaves, PatchMap};
use roomwright::metrics::clarity::{early_to_late_db, sensitivity};
use roomwright::metrics::decay::{DecayCurve, Tail};
use roomwright::plan::decay::responses;
use roomwright::progress::Progress;
use roomwright::response::{Estimate, Response};
use roomwright::room::PatchGrid;
use roomwright::settings::Settings;
use roomwright::weigh::early::EarlyIndex;
use roomwright::weigh::{Linings, Traced, flat_weights};

use crate::rays::uniform_box;
use crate::support::{chi_square_99, normal_square, on_threads, welch};

const SIZE: [f64; 3] = [5.1, 3.9, 2.7];
const SOURCE: DVec3 = DVec3::new(1.2, 1.0, 1.1);
const SEAT: DVec3 = DVec3::new(3.6, 2.7, 1.3);

/// Two sources, a seat and a microphone in air that absorbs; every octave absorbs and scatters differently.
fn traced(rays: u32, seed: u64, end_s: f64) -> Traced {
    let scattering = Bands([0.1, 0.12, 0.15, 0.2, 0.2, 0.25, 0.3, 0.3]);
    let mut room = uniform_box(SIZE, 0.1, scattering, SOURCE, SEAT);
    room.finishes = vec![Finish::uniform("even", Bands([0.1, 0.1, 0.12, 0.1, 0.08, 0.1, 0.14, 0.2]), scattering); room.finishes.len()];
    room.medium.attenuation = Bands([0.0, 0.0001, 0.0003, 0.0006, 0.001, 0.002, 0.007, 0.025]);
    room.receivers[0].zone_radius = Some(0.3);
    let mut source = room.sources[0].clone();
    source.position = DVec3::new(1.4, 2.9, 1.1);
    room.sources.push(source);
    let mut microphone = room.receivers[0].clone();
    (microphone.position, microphone.zone_radius) = (DVec3::new(2.6, 1.3, 1.5), None);
    room.receivers.push(microphone);
    let settings = Settings { rays, seed, image_order: 2, tail_one_in: 1, ..Settings::DEFAULT };
    Traced::new(&Progress::new(), room, settings, end_s).expect("nobody cancels")
}

fn soft() -> Finish {
    Finish::uniform("soft", Bands([0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 0.9, 0.8]), Bands::splat(0.1))
}

fn bare(traced: &Traced) -> Linings {
    Linings::new(&traced.room, &Hanging::default())
}

fn heard(traced: &Traced, linings: &Linings) -> Vec<Vec<Response>> {
    responses(&Progress::new(), traced, linings).expect("nobody cancels")
}

/// A rectangle of wall, some share of whose finish is the soft one.
fn softened(traced: &Traced, surface: usize, (low, size): (DVec2, DVec2), share: f64) -> Linings {
    let finish = Finish::mixed(&traced.room.finishes[traced.room.surfaces[surface].finish], &soft(), share);
    let patches = vec![Patch { surface, region: Polygon::rectangle(low, low + size), finish: 0 }];
    Linings::new(&traced.room, &Hanging { finishes: vec![finish], patches, ..Hanging::default() })
}

/// Derivatives beside differences.
#[derive(Default)]
pub(crate) struct Compared {
    pub(crate) count: usize,
    /// The two that are farthest apart, by how much, and how much is let pass.
    pub(crate) farthest: f64,
    pub(crate) bound: f64,
    /// Least and greatest derivative.
    least: f64,
    most: f64,
}

impl Compared {
    fn add(&mut self, derivative: f64, difference: f64) {
        self.count += 1;
        self.farthest = self.farthest.max((difference - derivative).abs());
        (self.least, self.most) = (self.least.min(derivative), self.most.max(derivative));
    }
}

fn c50(curve: &[f64], bin_s: f64) -> Option<f64> {
    early_to_late_db(curve, bin_s, CLARITY_LIMIT_S)
}

/// The derivative of clarity by the energy of each bin, against the difference that a little energy makes, the limit on a border of bins
/// and across one. The error of a central difference of a logarithm is a third of the cube of the relative change: under 1e-9 here.
#[test]
fn exact_derivative_of_clarity_by_energy() {
    let energy: Vec<f64> = (0..120).map(|bin| (-0.05 * f64::from(bin)).exp() * f64::from(1 + bin % 3)).collect();
    for bin_s in [0.001, 0.0007] {
        let found = sensitivity(&energy, bin_s, CLARITY_LIMIT_S).expect("energy on either side");
        for (bin, &derivative) in found.iter().enumerate() {
            let with = |change: f64| {
                let mut other = energy.clone();
                other[bin] += change;
                c50(&other, bin_s).expect("energy on either side")
            };
            let difference = (with(1e-4) - with(-1e-4)) / 2e-4;
            assert!((difference - derivative).abs() < 1e-7, "bin {bin}: {derivative} and {difference}");
        }
    }
    assert_eq!(sensitivity(&energy[..50], 0.001, CLARITY_LIMIT_S), None, "nothing comes late");
}

/// Clarity of every pair in every octave, its derivative over a rectangle of wall against weighing the same rays anew.
///
/// A share of a finish is never below 0, so the difference is one-sided, `(4 f(h) - f(2h) - 3 f(0)) / 2h`: its error is of the order of the
/// square of the relative change. That and the rounding of `f32` energies leave 2e-4 dB; the values go to a third of a dB.
pub(crate) static CLARITY_MAPS: LazyLock<Compared> = LazyLock::new(|| {
    let traced = traced(4_000, 5, 0.12);
    let (linings, exchanged) = (bare(&traced), Linings::everywhere(&traced.room, &soft()));
    let grid = &traced.room.patches;
    let before = heard(&traced, &linings);
    let pairs = [(0, 0), (0, 1), (1, 0), (1, 1)];
    let quantity = |pair| hotspots::clarity(&traced, &before, &[pair], Octaves::Apart(&Band::ALL)).expect("energy on either side");
    let quantities = pairs.map(quantity);
    let maps = hotspots::maps(&Progress::new(), &traced, &linings, &exchanged, &quantities, &[&**grid; 4]).expect("nobody cancels");
    let mut compared = Compared { bound: 2e-4, ..Compared::default() };
    for surface in 0..traced.room.surfaces.len() {
        let own = &grid.surfaces[surface];
        let (low, size) = (own.corner(own.columns * 8 + 9), DVec2::new(0.8, 1.1));
        let inside = |slot: &usize| {
            let middle = own.middle(*slot) - low;
            middle.cmpgt(DVec2::ZERO).all() && middle.cmplt(size).all()
        };
        let states = [0.1, 0.2].map(|share| heard(&traced, &softened(&traced, surface, (low, size), share)));
        for (&(source, receiver), maps) in pairs.iter().zip(&maps) {
            for (band, map) in Band::ALL.into_iter().zip(maps) {
                let map: &PatchMap = map;
                let derivative: f64 = (0..own.len()).filter(inside).map(|slot| map.value[own.first + slot] * own.area[slot]).sum();
                let of = |state: &[Vec<Response>]| {
                    let response = &state[source][receiver];
                    c50(&response.curve(band), response.bin_s).expect("energy on either side")
                };
                let difference = (4.0 * of(&states[0]) - of(&states[1]) - 3.0 * of(&before)) / 0.2;
                compared.add(derivative, difference);
            }
        }
    }
    compared
});

#[test]
fn exact_derivative_of_clarity_on_the_same_rays() {
    let Compared { farthest, bound, least, most, .. } = *CLARITY_MAPS;
    assert!(farthest < bound, "{farthest} dB apart");
    assert!(most > 0.3 && least < 0.01, "{least} to {most} dB: too much alike to show anything");
}

/// T30 of every pair in three octaves, its derivative over rectangles of every wall and over all of two walls, against weighing the same rays anew and
/// fitting what comes of it anew; as shares of the difference.
///
/// The difference is that of shares of 1 and 2 %. It moves the ends of the fit over a few bins, each of which holds a few rays, while the map knows how fast the
/// curve falls thereabouts: 0.2 % at the most is left of that. With the ends of the fit and the tail held the map was off by up to 4 %.
pub(crate) static DECAY_MAPS: LazyLock<Compared> = LazyLock::new(|| {
    const SHARES: [f64; 2] = [0.01, 0.02];
    let traced = traced(20_000, 5, 0.8);
    let (linings, exchanged) = (bare(&traced), Linings::everywhere(&traced.room, &soft()));
    let grid = &traced.room.patches;
    let before = heard(&traced, &linings);
    let pairs = [(0, 0), (0, 1), (1, 0), (1, 1)];
    let bands = [Band::new(2), Band::new(4), Band::new(6)];
    let quantities = pairs.map(|pair| hotspots::decay(&traced, &before, &[pair], Octaves::Apart(&bands)).expect("it decays"));
    let maps = hotspots::maps(&Progress::new(), &traced, &linings, &exchanged, &quantities, &[&**grid; 4]).expect("nobody cancels");
    let rectangle = |surface: usize| {
        let own = &grid.surfaces[surface];
        (surface, own.corner(own.columns * 8 + 9), DVec2::new(0.8, 1.1))
    };
    let whole = |surface: usize| {
        let (low, high) = traced.room.surfaces[surface].outline.bounds();
        (surface, low, high - low)
    };
    let mut compared = Compared { bound: 0.004, ..Compared::default() };
    for (surface, low, size) in (0..traced.room.surfaces.len()).map(rectangle).chain([0, 4].map(whole)) {
        let own = &grid.surfaces[surface];
        let inside = |slot: &usize| {
            let middle = own.middle(*slot) - low;
            middle.cmpgt(DVec2::ZERO).all() && middle.cmplt(size).all()
        };
        let states = SHARES.map(|share| heard(&traced, &softened(&traced, surface, (low, size), share)));
        for (&(source, receiver), maps) in pairs.iter().zip(&maps) {
            for (&band, map) in bands.iter().zip(maps) {
                let derivative: f64 = (0..own.len()).filter(inside).map(|slot| map.value[own.first + slot] * own.area[slot]).sum();
                let of = |state: &[Vec<Response>]| {
                    let response = &state[source][receiver];
                    let curve = DecayCurve::new(&response.curve(band), response.bin_s, Tail::Exponential).expect("energy");
                    -100.0 * curve.t30().expect("the record is long enough").ln()
                };
                let difference = (4.0 * of(&states[0]) - of(&states[1]) - 3.0 * of(&before)) / SHARES[1];
                compared.add(derivative / difference, 1.0);
            }
        }
    }
    compared
});

#[test]
fn exact_derivative_of_decay_on_the_same_rays() {
    let Compared { count, farthest, bound, .. } = *DECAY_MAPS;
    assert_eq!(count, 8 * 4 * 3);
    assert!(farthest < bound, "{farthest} of the difference apart");
}

/// The map of clarity against an exchange of a quarter of single patches of 0.3 m, on rays traced afresh.
///
/// Patches share rays within the reach of their footings, so those taken are 0.9 m apart. A quarter of the exchange bends the level by a
/// hundredth of what it changes, a tenth of the standard errors. Shown as the viewer shows it: the mean of octaves, all pairs together.
#[test]
fn exact_derivative_of_clarity_by_finite_difference() {
    let (one, two) = (traced(100_000, 11, 0.12), traced(100_000, 12, 0.12));
    let progress = Progress::new();
    let (linings, exchanged) = (bare(&one), Linings::everywhere(&one.room, &soft()));
    let grid = PatchGrid::new(&one.room.surfaces, 0.3);
    let bands = [Band::new(3), Band::new(5)];
    let quantity = hotspots::clarity(&one, &heard(&one, &linings), &[(0, 0)], Octaves::Together(&bands)).expect("energy on either side");
    let map = hotspots::maps(&progress, &one, &linings, &exchanged, &[quantity], &[&grid]).expect("nobody cancels").remove(0).remove(0);
    let before = heard(&two, &bare(&two)).swap_remove(0).swap_remove(0);
    let (share, bin_s) = (0.25, before.bin_s);
    let mean = |response: &Response| {
        let curves = bands.map(|band| response.resampled(band));
        let of = |curves: [&Vec<f64>; 2]| curves.iter().map(|curve| 0.5 * c50(curve, bin_s).expect("energy on either side")).sum::<f64>();
        let [low, high] = &curves;
        (of([&low.whole, &high.whole]), low.without.iter().zip(&high.without).map(|(low, high)| of([low, high])).collect::<Vec<f64>>())
    };
    let (was, was_without) = mean(&before);
    let (mut chi_square, mut count, mut errors) = (0.0, 0, 0.0);
    let (mut low, mut high) = (0.0_f64, 0.0_f64);
    for (surface, own) in grid.surfaces.iter().enumerate() {
        for slot in (0..own.len()).filter(|slot| (slot % own.columns) % 3 == 1 && (slot / own.columns) % 3 == 1) {
            let after = softened(&two, surface, (own.corner(slot), DVec2::splat(grid.side)), share);
            let (is, without) = mean(&heard(&two, &after)[0][0]);
            let per_area = 1.0 / (share * own.area[slot]);
            let without: Vec<f64> = without.iter().zip(&was_without).map(|(is, was)| (is - was) * per_area).collect();
            let finite = Estimate::jackknife((is - was) * per_area, &without);
            let (value, se) = (map.value[own.first + slot], map.se[own.first + slot]);
            chi_square += normal_square((value - finite.value) / se.hypot(finite.se), welch(se, finite.se));
            count += 1;
            errors += se;
            (low, high) = (low.min(value), high.max(value));
        }
    }
    let error = errors / count as f64;
    assert!(count > 80, "{count} patches");
    assert!(error < 0.1 * (high - low), "standard error {error}, values from {low} to {high} dB/m2");
    assert!(chi_square < chi_square_99(count), "chi-square {chi_square} with {count} patches");
}

/// All quantities, pairs and octaves in one pass are what each is by itself; the octaves of a pair, weighted by what each holds, are its
/// whole map. Sums are of `f32` products: 1e-5 of the largest value.
#[test]
fn exact_sum_of_octaves_and_quantities() {
    let traced = traced(2_000, 3, 0.8);
    let progress = Progress::new();
    let (linings, exchanged) = (bare(&traced), Linings::everywhere(&traced.room, &soft()));
    let grid = &*traced.room.patches;
    let energy = EarlyIndex::new(&progress, &traced).and_then(|index| index.weigh(&progress, &linings)).expect("nobody cancels");
    let before = heard(&traced, &linings);
    let pairs = [(0, 0), (0, 1), (1, 0), (1, 1)];
    let judged = [Band::new(4), Band::new(5), Band::new(6), Band::new(7)];
    let middle = [Band::new(2), Band::new(3), Band::new(4)];
    let early = |octaves| pairs.map(|pair| hotspots::early(&traced, &energy, &[pair], (flat_weights(), octaves)));
    let clarity = |octaves| pairs.map(|pair| hotspots::clarity(&traced, &before, &[pair], octaves).expect("energy on either side"));
    let decay = |octaves| pairs.map(|pair| hotspots::decay(&traced, &before, &[pair], octaves).expect("it decays"));
    let maps = |quantities: &[_]| {
        let grids = vec![grid; quantities.len()];
        hotspots::maps(&progress, &traced, &linings, &exchanged, quantities, &grids).expect("nobody cancels")
    };
    let apart: Vec<_> = [early(Octaves::Apart(&judged)), clarity(Octaves::Apart(&middle)), decay(Octaves::Apart(&middle))].concat();
    let together: Vec<_> =
        [early(Octaves::Together(&judged)), clarity(Octaves::Together(&middle)), decay(Octaves::Together(&middle))].concat();
    let (all, wholes) = (maps(&apart), maps(&together));
    let near = |found: &[f64], expected: &[f64], what: &str| {
        let most = expected.iter().copied().filter(|value| value.is_finite()).fold(0.0, |most: f64, value| most.max(value.abs()));
        assert!(most > 0.0, "{what}: nothing to compare");
        for (found, expected) in found.iter().zip(expected) {
            assert!((found - expected).abs() <= 1e-5 * most || found.is_nan() && expected.is_nan(), "{what}: {found} and {expected}");
        }
    };
    for (index, (octaves, whole)) in all.iter().zip(&wholes).enumerate() {
        let (source, receiver) = pairs[index % 4];
        let held = energy.total(source, receiver) * flat_weights();
        let shares: Vec<f64> = if index < 4 {
            judged.iter().map(|&band| held[band] / held.sum()).collect()
        } else {
            vec![1.0 / middle.len() as f64; middle.len()]
        };
        let sum: Vec<f64> =
            (0..grid.count).map(|patch| octaves.iter().zip(&shares).map(|(map, share)| share * map.value[patch]).sum()).collect();
        near(&sum, &whole[0].value, &format!("quantity {index}, sum of octaves"));
    }
    // By itself: one quantity, one octave.
    for (index, part) in [(1, 2), (6, 1), (11, 0)] {
        let octave = std::slice::from_ref(if index < 4 { &judged[part] } else { &middle[part] });
        let own = Octaves::Together(octave);
        let alone = maps(&[[early(own), clarity(own), decay(own)].concat()[index].clone()]);
        near(&alone[0][0].value, &all[index][part].value, &format!("quantity {index}, octave {part} alone"));
        near(&alone[0][0].se, &all[index][part].se, &format!("error of quantity {index}, octave {part} alone"));
    }
    // And what holds all batches says the same.
    let kept =
        hotspots::late_maps(&progress, &traced, &linings, &[&exchanged], grid, &before, (&[(0, 1)], &middle)).expect("nobody cancels");
    near(&kept[0].value, &wholes[9][0].value, "batches kept");
    near(&kept[0].se, &wholes[9][0].se, "error of batches kept");
    let text = |threads| on_threads(threads, || format!("{:?}", maps(&apart[3..6])));
    assert!(text(1) == text(3), "the maps depend on the number of threads");
}
