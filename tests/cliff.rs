//! Records that end at once: as good as those that go on, whatever quiet follows; and a response of the program's own, played through a sweep, says what it says by itself.

use std::sync::LazyLock;

use roomwright::bands::Band;
use roomwright::dsp::filter::Filter;
use roomwright::dsp::sweep::Sweep;
use roomwright::dsp::wav::Sound;
use roomwright::measured::band::Look;
use roomwright::measured::take::{Signal, Take};
use roomwright::measured::{MeasuredBand, measure};
use roomwright::progress::Progress;
use roomwright::response::impulse::begun;
use roomwright::study::{self, BassAsked, Point, SoundAsked};

use crate::measured::{convolved, decaying};
use crate::support::{gaussian, small_scene};
use crate::validation::{Check, hold};

const RATE: f64 = 48_000.0;

fn octave(response: &[f64], band: Band) -> MeasuredBand {
    let filter = Filter::octave(band, RATE).expect("the rate is high enough");
    Look { response, onset: 0, rate_hz: RATE }.band(Some(&filter), f64::from(band.nominal()))
}

/// Figures of decays that were cut beside those of decays that go on.
pub(crate) struct Cut {
    pub(crate) t30: Vec<Check>,
    pub(crate) c50: Vec<Check>,
}

/// A decay that is cut 75 dB down, with four seconds of quiet behind it, has the figures of the one that goes on: T30 needs 45 dB, clarity 30.
pub(crate) static CUT: LazyLock<Cut> = LazyLock::new(|| {
    let mut rows = Cut { t30: Vec::new(), c50: Vec::new() };
    let row = |what: String, ours: f64, expected: f64, tolerance: f64| Check {
        what,
        ours,
        expected,
        tolerance,
        why: "what is cut away is below what the figure is read from",
        source: "the same decay that is not cut",
    };
    for (seed, time) in [(1, 0.25), (2, 0.25), (3, 0.6), (4, 1.3), (5, 1.3), (6, 2.0)] {
        let whole = decaying(seed, time, -200.0, 6.0);
        let end = (75.0 / 60.0 * time * RATE) as usize;
        for floor_db in [-110.0, -120.0, -140.0, f64::NEG_INFINITY] {
            let floor = 10.0_f64.powf(0.05 * floor_db);
            let quiet = gaussian(seed, 9, whole.len());
            let cut: Vec<f64> = whole
                .iter()
                .zip(quiet)
                .enumerate()
                .map(|(index, (value, quiet))| if index < end { *value } else { floor * quiet })
                .collect();
            for band in &Band::ALL[3..] {
                let [wanted, found] = [&whole, &cut].map(|response| octave(response, *band));
                let figures = |of: fn(&MeasuredBand) -> Option<f64>| of(&wanted).zip(of(&found));
                let at = format!("{} of {time} s over {floor_db} dB", band.label());
                let Some((wanted_s, found_s)) = figures(|band| band.t30_s.value) else { panic!("no T30 at {at}") };
                rows.t30.push(row(format!("T30 of {at}, re that of the whole"), found_s / wanted_s, 1.0, 0.005));
                let Some((wanted_db, found_db)) = figures(|band| band.c50_db.value) else { panic!("no C50 at {at}") };
                rows.c50.push(row(format!("C50 of {at}, dB"), found_db, wanted_db, 0.05));
            }
        }
    }
    rows
});

#[test]
fn exact_decays_that_are_cut() {
    hold(&CUT.t30);
    hold(&CUT.c50);
}

/// The sound of waves has a lower end as loudspeakers do, and what lies below reaches no octave: its energy in the octave of 63 Hz is that of the whole within 0.01 dB.
#[test]
fn exact_lower_end_of_waves() {
    let level = |frequency: f64| 20.0 * begun(frequency).norm().log10();
    assert!((level(20.0) + 10.0 * 2.0_f64.log10()).abs() < 1e-9, "{}", level(20.0));
    assert!(level(44.0) > -0.01 && level(5.0) < -48.0, "{} and {}", level(44.0), level(5.0));
}

/// Whoever tries the way from sweep to answer before there is a room, with the response that the program writes, reads what is in that response.
#[test]
fn keeps_a_response_of_ours_through_a_sweep() {
    let scene = small_scene(4_000);
    let asked = BassAsked { top_hz: 125.0, others: 0, beside_bare: false, ..BassAsked::default() };
    let low = study::waves(&Progress::new(), &scene, &asked).unwrap_or_else(|why| panic!("{why}")).low;
    let heard = SoundAsked { receiver: 0, pickup: &Point, rate_hz: RATE };
    let made = study::impulses(&Progress::new(), &scene, Some(&low), &heard).expect("nobody cancels").swap_remove(0);
    let response: Vec<f64> = made.channels[0].iter().map(|value| f64::from(*value)).collect();
    let sweep = Sweep { silence_s: 3.0, repeats: 1, ..Sweep::new(20.0, 20_000.0, 4.0, RATE) };
    let played: Vec<f64> = sweep.signal().iter().map(|value| f64::from(*value)).collect();
    let mut recorded = vec![0.0; RATE as usize];
    recorded.extend(convolved(&played, &response));
    recorded.extend(vec![0.0; RATE as usize]);
    let hiss = gaussian(3, 1, recorded.len());
    let samples = recorded.iter().zip(hiss).map(|(value, hiss)| (value + 3e-6 * hiss) as f32).collect();
    let sound = Sound { rate: 48_000, channels: vec![samples] };
    let take = Take::new(&sound, &Signal::Sweep(sweep), None).expect("the sweep is found").measured;
    let own = measure(&response, RATE).expect("it is a response");
    let mut told = 0;
    for (through, own) in take.octaves.iter().zip(&own.octaves) {
        let hertz = own.nominal_hz.unwrap_or(0.0);
        let Some((through_s, own_s)) = through.t30_s.value.or(through.t20_s.value).zip(own.t30_s.value.or(own.t20_s.value)) else {
            continue;
        };
        told += 1;
        assert!((through_s / own_s - 1.0).abs() < 0.05, "T30 {through_s} s for {own_s} s at {hertz} Hz");
        if let Some((through_db, own_db)) = through.c50_db.value.zip(own.c50_db.value) {
            // The lower end of the sweep rings both ways in time, which the lowest octave has in its 50 ms.
            let most_db = if hertz < 100.0 { 1.0 } else { 0.5 };
            assert!((through_db - own_db).abs() < most_db, "C50 {through_db} dB for {own_db} dB at {hertz} Hz");
        }
    }
    assert!(told >= 6, "{told} octaves");
}
