//! Decay times, clarity, definition and center time of decays that have a closed form.

use roomwright::metrics::clarity::{Clarity, early_to_late_db};
use roomwright::metrics::decay::{DecayCurve, NotSupported, Range, Tail, curvature_percent};
use roomwright::random::{Purpose, Stream};
use serde_json::Value;

use super::Check;

/// Closed forms of decays, computed independently of this project.
pub(crate) fn cases() -> Value {
    serde_json::from_str(include_str!("../cases/decay_and_sti.json")).expect("the case file parses")
}

/// Bin of the test records in seconds: so fine that a bin is an instant to six digits.
const BIN: f64 = 2e-6;

/// Rate in 1/s of a decay of 60 dB in this time.
pub(crate) fn rate(time: f64) -> f64 {
    6.0 * std::f64::consts::LN_10 / time
}

/// Energy in each bin of a sum of exponentials `share e^(-rate t)`, each share counting the whole energy of its term.
pub(crate) fn exponentials(terms: &[(f64, f64)], bin: f64, length: f64) -> Vec<f64> {
    (0..(length / bin).round() as usize)
        .map(|index| terms.iter().map(|(share, rate)| share * (-rate * index as f64 * bin).exp() * -(-rate * bin).exp_m1()).sum())
        .collect()
}

struct Rows {
    checks: Vec<Check>,
    source: &'static str,
}

impl Rows {
    fn push(&mut self, what: String, ours: f64, expected: &Value, tolerance: f64) {
        let expected = expected.as_f64().expect("a number in the case file");
        self.checks.push(Check { what, ours, expected, tolerance, why: "printed digits", source: self.source });
    }
}

pub(crate) fn checks() -> Vec<Check> {
    let cases = cases();
    let mut rows =
        Rows { checks: Vec::new(), source: "ISO 3382-1 definitions of an exponential decay, closed form, computed independently" };
    for case in cases["pure_exponential"].as_array().expect("a list") {
        let time = case["T"].as_f64().expect("a number");
        // Short enough to need its tail, long enough to hold the rest.
        let record = exponentials(&[(1.0, rate(time))], BIN, 2.5 * time);
        let curve = DecayCurve::new(&record, BIN, Tail::Exponential).expect("a decay");
        let clarity = Clarity::new(&record, BIN).expect("energy");
        let name = format!("exponential, {time} s");
        rows.push(format!("{name}, EDT, s"), curve.edt().expect("supported"), &case["EDT"], 5e-7);
        rows.push(format!("{name}, T20, s"), curve.t20().expect("supported"), &case["T20"], 5e-7);
        rows.push(format!("{name}, T30, s"), curve.t30().expect("supported"), &case["T30"], 5e-7);
        rows.push(format!("{name}, C50, dB"), clarity.c50_db.expect("late energy"), &case["C50"], 5e-7);
        rows.push(format!("{name}, C80, dB"), clarity.c80_db.expect("late energy"), &case["C80"], 5e-7);
        rows.push(format!("{name}, D50"), clarity.d50, &case["D50"], 5e-7);
        rows.push(format!("{name}, Ts, ms"), 1000.0 * clarity.center_time_s, &case["Ts_ms"], 5e-7);
    }
    rows.source = "direct sound and exponential decay, closed form, computed independently";
    for case in cases["direct_plus_exponential"].as_array().expect("a list") {
        let (time, ratio) = (case["T"].as_f64().expect("a number"), case["DRR_dB"].as_f64().expect("a number"));
        let mut record = exponentials(&[(1.0, rate(time))], BIN, 2.5 * time);
        record[0] += 10.0_f64.powf(ratio / 10.0);
        let curve = DecayCurve::new(&record, BIN, Tail::Exponential).expect("a decay");
        let clarity = Clarity::new(&record, BIN).expect("energy");
        let name = format!("direct {ratio} dB re exponential, {time} s");
        rows.push(format!("{name}, T20, s"), curve.t20().expect("supported"), &case["T20"], 5e-7);
        rows.push(format!("{name}, T30, s"), curve.t30().expect("supported"), &case["T30"], 5e-7);
        rows.push(format!("{name}, C50, dB"), clarity.c50_db.expect("late energy"), &case["C50"], 5e-7);
        rows.push(format!("{name}, C80, dB"), clarity.c80_db.expect("late energy"), &case["C80"], 5e-7);
        rows.push(format!("{name}, D50"), clarity.d50, &case["D50"], 5e-7);
        rows.push(format!("{name}, Ts, ms"), 1000.0 * clarity.center_time_s, &case["Ts_ms"], 5e-7);
    }
    rows.source = "two exponentials, least squares on the continuous level, computed independently";
    for case in cases["double_slope"].as_array().expect("a list") {
        let number = |key: &str| case[key].as_f64().expect("a number");
        let share = 10.0_f64.powf(number("A2_dB") / 10.0);
        let record = exponentials(&[(1.0 - share, rate(number("T1"))), (share, rate(number("T2")))], BIN, 2.5 * number("T2"));
        let curve = DecayCurve::new(&record, BIN, Tail::Exponential).expect("a decay");
        let clarity = Clarity::new(&record, BIN).expect("energy");
        let thirty = curve.fit(Range::Thirty).expect("supported");
        let name = format!("{} s and {} s from {} dB", case["T1"], case["T2"], case["A2_dB"]);
        rows.push(format!("{name}, EDT, s"), curve.edt().expect("supported"), &case["EDT"], 5e-7);
        rows.push(format!("{name}, T20, s"), curve.t20().expect("supported"), &case["T20"], 5e-7);
        rows.push(format!("{name}, T30, s"), thirty.time_s, &case["T30"], 5e-7);
        rows.push(format!("{name}, T30 from, s"), thirty.start_s, &case["t_at_m5"], 5e-7);
        rows.push(format!("{name}, T30 to, s"), thirty.end_s, &case["t_at_m35"], 5e-7);
        rows.push(format!("{name}, xi, permille"), thirty.xi_permille, &case["xi_permille_T30"], 5e-7);
        let curvature = curvature_percent(curve.t20().expect("supported"), thirty.time_s);
        rows.push(format!("{name}, curvature, %"), curvature, &case["curvature_C_pct"], 5e-7);
        rows.push(format!("{name}, C50, dB"), clarity.c50_db.expect("late energy"), &case["C50"], 5e-7);
        rows.push(format!("{name}, C80, dB"), clarity.c80_db.expect("late energy"), &case["C80"], 5e-7);
        rows.push(format!("{name}, D50"), clarity.d50, &case["D50"], 5e-7);
        rows.push(format!("{name}, Ts, ms"), 1000.0 * clarity.center_time_s, &case["Ts_ms"], 5e-7);
    }
    rows.source = "exponential and steady noise, plain backward integration, computed independently";
    for case in cases["exponential_plus_noise_no_compensation"].as_array().expect("a list") {
        let number = |key: &str| case[key].as_f64().expect("a number");
        let mut record = exponentials(&[(1.0 / rate(number("T")), rate(number("T")))], BIN, number("t_end"));
        for value in &mut record {
            *value += 10.0_f64.powf(number("noise_floor_dB") / 10.0) * BIN;
        }
        let curve = DecayCurve::new(&record, BIN, Tail::Ignored).expect("a decay");
        let name = format!("{} s with noise {} dB, record {} s", case["T"], case["noise_floor_dB"], case["t_end"]);
        rows.push(format!("{name}, EDT, s"), curve.edt().expect("supported"), &case["EDT"], 5e-6);
        rows.push(format!("{name}, T20, s"), curve.t20().expect("supported"), &case["T20"], 5e-6);
        rows.push(format!("{name}, T30, s"), curve.t30().expect("supported"), &case["T30"], 5e-6);
    }
    rows.checks.push(Check {
        what: "derivative of EDT, T20 and T30 by the energy of each bin, farthest from a difference, re the greatest".to_owned(),
        ours: farthest_sensitivity(),
        expected: 0.0,
        tolerance: 0.002,
        why: "where a fit ends the fall is read over a tenth of it",
        source: "finite difference, everything fitted anew; two exponentials with and without direct sound",
    });
    rows.checks
}

#[test]
fn exact_times_in_coarse_bins() {
    // A broken line through points of a straight one is straight: the bin does not matter.
    for bin in [1e-4, 1e-3, 2.5e-3] {
        let record = exponentials(&[(1.0, rate(0.3))], bin, 0.5);
        let curve = DecayCurve::new(&record, bin, Tail::Exponential).expect("a decay");
        for range in [Range::Early, Range::Twenty, Range::Thirty] {
            let fit = curve.fit(range).expect("supported");
            assert!((fit.time_s - 0.3).abs() < 1e-9, "{bin}: {}", fit.time_s);
            assert!(fit.xi_permille < 1e-6);
            assert!(fit.intercept_db.abs() < 1e-6);
        }
    }
}

#[test]
fn exact_tail_of_a_short_record() {
    // The record ends 40 dB down: T30 leans on the tail, and gets it exactly.
    let record = exponentials(&[(1.0, rate(0.6))], 1e-3, 0.4);
    let curve = DecayCurve::new(&record, 1e-3, Tail::Exponential).expect("a decay");
    assert!((curve.t30().expect("supported") - 0.6).abs() < 1e-9);
    assert!((curve.level_db().last().expect("levels") + 40.0).abs() < 1e-9);
    // Without it the curve bends down.
    let plain = DecayCurve::new(&record, 1e-3, Tail::Ignored).expect("a decay");
    assert!(plain.t30().expect("reached") < 0.59);
    // Silence after the end changes nothing.
    let mut padded = record;
    padded.resize(1000, 0.0);
    let padded = DecayCurve::new(&padded, 1e-3, Tail::Exponential).expect("a decay");
    assert!((padded.t30().expect("supported") - 0.6).abs() < 1e-9);
}

#[test]
fn keeps_silent_where_a_record_does_not_support_a_range() {
    let of =
        |terms: &[(f64, f64)], length: f64| DecayCurve::new(&exponentials(terms, 1e-3, length), 1e-3, Tail::Exponential).expect("a decay");
    // 30 dB of one exponential: T20 stands, T30 does not.
    let short = of(&[(1.0, rate(0.6))], 0.3);
    assert!((short.t20().expect("supported") - 0.6).abs() < 1e-9);
    assert!(matches!(short.t30(), Err(NotSupported::TooShort { range: Range::Thirty, .. })), "{:?}", short.t30());
    assert!(short.t30().expect_err("too short").to_string().contains("-30 dB"));
    // A bend in the last eighths: the rates disagree, and 10 dB more are asked for.
    let bent = of(&[(0.999, rate(0.2)), (0.001, rate(2.0))], 0.2);
    assert!(matches!(bent.t30(), Err(NotSupported::TooShort { .. })), "{:?}", bent.t30());
    // Noise at -40 dB of the energy.
    let mut noisy = exponentials(&[(1.0, rate(0.3))], 1e-3, 1.0);
    for value in &mut noisy {
        *value += 1e-6;
    }
    let noisy = DecayCurve::new(&noisy, 1e-3, Tail::Exponential).expect("a decay");
    assert!(matches!(noisy.t30(), Err(NotSupported::NotDecaying { .. })), "{:?}", noisy.t30());
    assert!((noisy.edt().expect("supported") - 0.3).abs() < 0.01);
    // Nothing, nonsense, and a decay within a bin.
    assert_eq!(DecayCurve::new(&[], 1e-3, Tail::Exponential), Err(NotSupported::Empty));
    assert_eq!(DecayCurve::new(&[0.0; 50], 1e-3, Tail::Ignored), Err(NotSupported::Empty));
    assert_eq!(DecayCurve::new(&[1.0, f64::NAN], 1e-3, Tail::Ignored), Err(NotSupported::Unsound));
    assert_eq!(DecayCurve::new(&[1.0, -1.0], 1e-3, Tail::Ignored), Err(NotSupported::Unsound));
    let dead = of(&[(1.0, rate(0.005))], 0.05);
    assert!(matches!(dead.edt(), Err(NotSupported::TooFast { .. })));
    // A direct sound that stands this many dB above all that follows: three quarters of a range at most are its step.
    let stepped = |step_db: f64| {
        let mut energy = exponentials(&[(1.0, rate(0.5))], 1e-3, 1.0);
        let after: f64 = energy[1..].iter().sum();
        energy[0] = after * (10.0_f64.powf(0.1 * step_db) - 1.0);
        DecayCurve::new(&energy, 1e-3, Tail::Exponential).expect("a decay")
    };
    assert!(stepped(7.4).edt().is_ok() && stepped(7.6).t20().is_ok());
    assert!(matches!(stepped(7.6).edt(), Err(NotSupported::Stepped { range: Range::Early, step_db }) if (step_db - 7.6).abs() < 0.01));
    assert!((stepped(19.9).t20().expect("a quarter is left") - 0.5).abs() < 1e-3);
    assert!(matches!(stepped(20.1).t20(), Err(NotSupported::Stepped { range: Range::Twenty, .. })));
    let impulse = DecayCurve::new(&[1.0, 0.0, 0.0], 1e-3, Tail::Exponential).expect("energy");
    assert!(matches!(impulse.t20(), Err(NotSupported::TooShort { .. })));
}

#[test]
fn keeps_the_mean_of_noisy_decays() {
    // Energies scattered about an exponential as those of a narrow band of noise (exponential distribution, 2 ms apart), records cut 54 dB down and leaning on
    // their tail. The mean of 400 records must be the time within 3 standard errors, and 1 % for the bias of a ratio: wrong by chance once in 370 seeds; the seed is fixed.
    let clean = exponentials(&[(1.0, rate(0.5))], 2e-3, 0.45);
    for range in [Range::Early, Range::Twenty, Range::Thirty] {
        let times: Vec<f64> = (0..400)
            .map(|index| {
                let mut stream = Stream::new(7, Purpose::Search, index);
                let record: Vec<f64> = clean.iter().map(|energy| -energy * (1.0 - stream.unit()).ln()).collect();
                DecayCurve::new(&record, 2e-3, Tail::Exponential).expect("a decay").fit(range).map(|fit| fit.time_s)
            })
            .filter_map(Result::ok)
            .collect();
        assert!(times.len() > 360, "{}: only {} records support it", range.name(), times.len());
        let count = times.len() as f64;
        let mean = times.iter().sum::<f64>() / count;
        let error = (times.iter().map(|time| (time - mean).powi(2)).sum::<f64>() / (count * (count - 1.0))).sqrt();
        assert!((mean - 0.5).abs() < 3.0 * error + 0.005, "{}: {mean} +- {error}", range.name());
        assert!(error < 0.005, "{}: {error}", range.name());
    }
}

#[test]
fn exact_weights_give_the_slope_and_no_offset() {
    let record = exponentials(&[(0.9, rate(0.3)), (0.1, rate(0.9))], 1e-3, 2.0);
    let curve = DecayCurve::new(&record, 1e-3, Tail::Exponential).expect("a decay");
    for range in [Range::Early, Range::Twenty, Range::Thirty] {
        let fit = curve.fit(range).expect("supported");
        assert!(fit.weights.weights.iter().sum::<f64>().abs() < 1e-9);
        assert_eq!(fit.weights.slope(curve.level_db()), fit.slope_db_per_s);
        // A ramp of one decibel a bin has a slope of 1000 dB/s.
        let ramp: Vec<f64> = (0..curve.level_db().len()).map(|index| index as f64).collect();
        assert!((fit.weights.slope(&ramp) - 1000.0).abs() < 1e-6);
    }
}

/// The derivative of decay times by the energy of each bin against a difference with everything fitted anew: where the fit begins and ends, and the tail. The
/// farthest apart, re the greatest derivative.
///
/// How fast a curve falls where a fit ends is read over a tenth of the fit, so that the noise of single bins does not count: on these bent decays that leaves 0.0009,
/// the steps 1e-5.
fn farthest_sensitivity() -> f64 {
    const STEP: f64 = 1e-9;
    let bent = [(0.97, rate(0.3)), (0.03, rate(0.9))];
    let mut farthest = 0.0_f64;
    // A record that shows all that counts, one that leans on its tail, and a loud direct sound, from whose step on the fit runs.
    for (length, tail, direct) in
        [(0.7, Tail::Ignored, 0.0), (0.7, Tail::Exponential, 0.5), (0.45, Tail::Exponential, 0.0), (0.7, Tail::Exponential, 3.0)]
    {
        let mut record = exponentials(&bent, 1e-3, length);
        record[0] += direct;
        let curve = DecayCurve::new(&record, 1e-3, tail).expect("a decay");
        for range in [Range::Early, Range::Twenty, Range::Thirty] {
            let fit = curve.fit(range).expect("supported");
            assert_eq!(fit.starts_held, range == Range::Early || direct > 2.5, "{} {direct}", range.name());
            let sensitivity = curve.sensitivity(&fit);
            let most = sensitivity.iter().fold(0.0, |most: f64, value| most.max(value.abs()));
            for bin in (0..record.len()).step_by(3) {
                let time = |steps: f64| {
                    let mut changed = record.clone();
                    changed[bin] += STEP * steps;
                    DecayCurve::new(&changed, 1e-3, tail).expect("a decay").fit(range).expect("supported").time_s
                };
                // One-sided, of second order: energies cannot fall below 0.
                let difference = (4.0 * time(1.0) - 3.0 * fit.time_s - time(2.0)) / (2.0 * STEP * fit.time_s);
                farthest = farthest.max((sensitivity[bin] - difference).abs() / most);
            }
        }
    }
    farthest
}

#[test]
fn exact_sensitivity_against_a_finite_difference() {
    let farthest = farthest_sensitivity();
    assert!(farthest < 0.002, "{farthest}");
}

#[test]
fn exact_clarity_identity_and_shared_bins() {
    let record = exponentials(&[(1.0, rate(0.4))], 1e-3, 2.0);
    let clarity = Clarity::new(&record, 1e-3).expect("energy");
    let identity = 10.0 * (clarity.d50 / (1.0 - clarity.d50)).log10();
    assert!((clarity.c50_db.expect("late energy") - identity).abs() < 1e-9);
    // A bin across the limit is shared.
    assert!((early_to_late_db(&[1.0, 1.0, 1.0], 0.04, 0.06).expect("both") - 0.0).abs() < 1e-12);
    assert_eq!(Clarity::new(&[1.0], 1e-3).expect("energy").c50_db, None);
    assert_eq!(Clarity::new(&[0.0], 1e-3), None);
    assert_eq!(Clarity::new(&[f64::NAN], 1e-3), None);
}
