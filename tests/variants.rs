//! Decays of a room in several states at once: each is what weighing that state alone gives, and what a panel earns is what two weighings differ by.

use std::collections::BTreeMap;

use glam::{DVec2, DVec3};
use roomwright::absorbers::Finish;
use roomwright::bands::{Band, Bands};
use roomwright::findings::pairs::reverberations;
use roomwright::geometry::Polygon;
use roomwright::hanging::{Hanging, Patch};
use roomwright::plan::decay::{BothRanges, SideBySide, responses};
use roomwright::plan::search::Goal;
use roomwright::progress::Progress;
use roomwright::response::{Resampled, Response};
use roomwright::settings::Settings;
use roomwright::weigh::{Linings, Traced, variants, weigh_rays};

use crate::rays::uniform_box;
use crate::support::on_threads;

/// Two sources, a seat and a microphone; octaves scatter so unlike that rays part into groups, and the tail goes on from few of them.
fn traced() -> Traced {
    let scattering = Bands([0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7]);
    let mut room = uniform_box([4.1, 3.2, 2.5], 0.12, scattering, DVec3::new(1.2, 1.0, 1.1), DVec3::new(2.9, 2.1, 1.2));
    room.receivers[0].zone_radius = Some(0.3);
    let mut source = room.sources[0].clone();
    source.position = DVec3::new(1.4, 2.3, 1.0);
    room.sources.push(source);
    let mut microphone = room.receivers[0].clone();
    (microphone.position, microphone.zone_radius) = (DVec3::new(2.2, 1.3, 1.5), None);
    room.receivers.push(microphone);
    let settings = Settings { rays: 3_000, seed: 5, image_order: 2, ..Settings::DEFAULT };
    Traced::new(&Progress::new(), room, settings, 0.8).expect("nobody cancels")
}

/// Rectangles of four finishes, one of which leaves nothing at all, on every surface; some lie on one another. One may be left out.
fn linings(traced: &Traced, without: Option<usize>) -> Linings {
    let finish = |absorption: [f64; 8], scattering| Finish::uniform("hung", Bands(absorption), Bands::splat(scattering));
    let finishes = vec![
        finish([0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 0.9, 0.8], 0.1),
        finish([1.0; 8], 0.2),
        finish([0.3, 0.3, 0.2, 0.2, 0.1, 0.1, 0.05, 0.05], 0.6),
        finish([0.7, 0.9, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0], 0.1),
    ];
    let patch = |number: usize| {
        let low = DVec2::new(0.2 + 0.17 * (number % 7) as f64, 0.25 + 0.13 * (number % 5) as f64);
        let region = Polygon::rectangle(low, low + DVec2::new(0.6, 1.2));
        Patch { surface: number % 6, region, finish: number % 4 }
    };
    let patches = (0..HUNG).filter(|&number| Some(number) != without).map(patch).collect();
    Linings::new(&traced.room, &Hanging { finishes, patches, ..Hanging::default() })
}

/// More than are followed in one walk.
const HUNG: usize = 35;

/// All that differs is the order of sums of `f32`: 2e-6 of a curve's largest value.
#[test]
fn exact_variants_beside_weighing_each() {
    let (traced, progress) = (traced(), Progress::new());
    assert!(traced.paths.groups.iter().filter(|(group, _)| group.goes_on_from.is_some()).count() > 1, "the tail goes on in groups");
    let base = linings(&traced, None);
    let without: Vec<Linings> = (0..HUNG).map(|number| linings(&traced, Some(number))).collect();
    let pairs = [(1, 1), (0, 0), (0, 1)];
    let weighed = weigh_rays(&progress, &traced, &base).expect("nobody cancels");
    let changes = variants::changes(&progress, &traced, &base, &without.iter().collect::<Vec<_>>(), &pairs).expect("nobody cancels");
    assert_eq!(changes.len(), HUNG);
    let mut changed = 0;
    for (number, (variant, changes)) in without.iter().zip(&changes).enumerate() {
        let alone = weigh_rays(&progress, &traced, variant).expect("nobody cancels");
        for (&(source, receiver), change) in pairs.iter().zip(changes) {
            let (base, alone) = (&weighed[source][receiver], &alone[source][receiver]);
            let found = base.changed(change);
            for (found, (alone, base)) in found.batches.iter().zip(alone.batches.iter().zip(&base.batches)) {
                for band in Band::ALL {
                    let most = alone.iter().fold(0.0, |most: f64, value| most.max(value[band]));
                    for ((found, alone), base) in found.iter().zip(alone).zip(base) {
                        let (found, alone) = (found[band], alone[band]);
                        assert!((found - alone).abs() <= 2e-6 * most, "without {number}: {found} and {alone}, largest {most}");
                        changed += usize::from((alone - base[band]).abs() > 1e-4 * most);
                    }
                }
            }
        }
    }
    assert!(changed > 100_000, "only {changed} values change, so little is compared");
    let text = |threads| {
        on_threads(threads, || {
            format!(
                "{:?}",
                variants::changes(&progress, &traced, &base, &without[..3].iter().collect::<Vec<_>>(), &pairs).expect("nobody cancels")
            )
        })
    };
    assert!(text(1) == text(3), "the changes depend on the number of threads");
}

/// What is printed of a panel's worth is the growth of T30 between two weighings of whole decays, batch by batch: to a thousandth of itself and
/// of its error, where the other layout is weighed by what it differs in.
#[test]
fn keeps_growths_what_two_weighings_differ_by() {
    let (traced, progress) = (traced(), Progress::new());
    let base = linings(&traced, None);
    let without: Vec<Linings> = [29, 33, 34].into_iter().map(|number| linings(&traced, Some(number))).collect();
    let (pairs, bands) = ([(0, 0), (1, 0)], [Band::new(3), Band::new(4)]);
    let goal = Goal { pairs: &pairs, bands: &bands, target: None, weights: Default::default() };
    let before = responses(&progress, &traced, &base).expect("nobody cancels");
    let rays = weigh_rays(&progress, &traced, &base).expect("nobody cancels");
    let changes = variants::changes(&progress, &traced, &base, &without.iter().collect::<Vec<_>>(), &pairs).expect("nobody cancels");
    for (variant, changes) in without.iter().zip(changes) {
        let changed: BTreeMap<(usize, usize), Response> = (pairs.iter().zip(&changes))
            .map(|(&(source, receiver), change)| {
                ((source, receiver), Response::new(&traced, variant, rays[source][receiver].changed(change), source, receiver))
            })
            .collect();
        let ranges = [BothRanges::of(&before, &goal), BothRanges::of(&changed, &goal)];
        let sides = SideBySide::among(&ranges.each_ref());
        let found = sides[0].growth_to(&sides[1], &bands).expect("it decays");
        let after = responses(&progress, &traced, variant).expect("nobody cancels");
        let mut figures: Vec<(usize, Resampled<f64>)> = Vec::new();
        for &(source, receiver) in &pairs {
            for &band in &bands {
                let (before, after) = (&before[source][receiver], &after[source][receiver]);
                let [before, after] = reverberations([&before.resampled(band), &after.resampled(band)], before.bin_s).expect("it decays");
                figures.push((source, before.with(&after, |before, after| 100.0 * (after - before) / before)));
            }
        }
        let expected = Resampled::weighted_sum(figures.iter().map(|(source, figure)| (*source, 0.25, figure)));
        assert!(expected.value.abs() > 0.1, "taking it down changes the decay by {} %", expected.value);
        assert!((found.value / expected.value - 1.0).abs() < 1e-3, "{found:?} and {expected:?}");
        assert!((found.se / expected.se - 1.0).abs() < 1e-3, "{found:?} and {expected:?}");
    }
}

/// Shares of the rays' energy are constant over stretches of time, so what comes from the beginning of a stretch on is exact but for single precision.
#[test]
fn keeps_shares_what_weighing_each_leaves() {
    let (traced, progress) = (traced(), Progress::new());
    let base = linings(&traced, None);
    let softer = |name: &'static str| {
        base.refinished(move |finish| {
            (finish.name == name).then(|| finish.with_absorption(finish.absorption.map(|value| 0.6 * value + 0.1)))
        })
    };
    let states = [softer("even"), softer("hung")];
    let pairs = [(1, 1), (0, 0), (0, 1)];
    let weighed = weigh_rays(&progress, &traced, &base).expect("nobody cancels");
    let shares = variants::shares(&progress, &traced, (&base, &weighed), &states.each_ref(), &pairs).expect("nobody cancels");
    for (state, shares) in states.iter().zip(&shares) {
        let alone = weigh_rays(&progress, &traced, state).expect("nobody cancels");
        for (&(source, receiver), shares) in pairs.iter().zip(shares) {
            let (base, alone) = (weighed[source][receiver].mean(), alone[source][receiver].mean());
            let begins =
                |from: usize| (from.max(1)..base.len()).find(|&bin| shares.at(bin) != shares.at(bin - 1)).expect("a stretch begins");
            for band in Band::ALL {
                for from in [0, begins(base.len() / 10), begins(base.len() / 4)] {
                    let exact: f64 = alone[from..].iter().map(|energy| energy[band]).sum();
                    let ours: f64 = (from..base.len()).map(|bin| base[bin][band] * shares.at(bin)[band]).sum();
                    let was: f64 = base[from..].iter().map(|energy| energy[band]).sum();
                    assert!((ours / exact - 1.0).abs() < 1e-4, "from {from}: {ours} is not {exact}");
                    assert!(from == 0 || (was / exact - 1.0).abs() > 0.03, "from {from}: {was} hardly moves to {exact}");
                }
            }
        }
    }
}
