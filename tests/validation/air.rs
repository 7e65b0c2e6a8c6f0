//! Attenuation, speed and density of air.

use roomwright::air::{Medium, attenuation_db_per_m, energy_attenuation};
use roomwright::bands::{Band, Bands};

use super::{Check, rounding, three_digits};

const TABLE_1: &str = include_str!("../cases/air_iso9613_table1.csv");

/// Octave values in dB/km at 101.325 kPa, exact mid-band frequencies, computed independently of this project from the formulas of
/// ISO 9613-1:1993, four digits: temperature, humidity, eight octaves.
const OCTAVES: [(f64, f64, [&str; 8]); 4] = [
    (20.0, 50.0, [".1228", ".4453", "1.318", "2.733", "4.665", "9.855", "29.42", "103.9"]),
    (20.0, 30.0, [".1918", ".6147", "1.425", "2.516", "5.005", "14.06", "48.47", "166.3"]),
    (20.0, 70.0, [".0897", ".3395", "1.132", "2.798", "4.978", "9.016", "22.91", "76.62"]),
    (10.0, 70.0, [".1217", ".411", "1.043", "1.928", "3.658", "9.664", "32.77", "116.9"]),
];

/// The exact third-octave mid-band frequency `1000 * 10^(k / 10)` that a rounded one stands for.
fn exact(frequency: f64) -> f64 {
    1000.0 * 10.0_f64.powf((10.0 * (frequency / 1000.0).log10()).round() / 10.0)
}

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for line in TABLE_1.lines().skip(2) {
        let fields: Vec<&str> = line.split(',').collect();
        let [temperature, humidity, frequency, published] = fields[..] else { panic!("four fields in {line:?}") };
        let number = |text: &str| text.parse::<f64>().expect("a number");
        let ours = 1000.0 * attenuation_db_per_m(exact(number(frequency)), number(temperature), number(humidity), 101.325);
        let what = format!("{temperature} C {humidity} % {frequency} Hz, dB/km");
        // One entry contradicts the formula it is computed from: printed 9.18 where that gives 9.1893, as two general libraries do. It is
        // held to the formula instead, and its row says so.
        let is_misprint = (temperature, humidity, frequency) == ("-10", "70", "1000.0");
        checks.push(if is_misprint {
            Check {
                what,
                ours,
                expected: 9.1893,
                tolerance: rounding("9.1893"),
                why: "printed 9.18, which its own formula contradicts: five digits of the formula, computed by two general libraries",
                source: "ISO 9613-1:1993 formulas, computed independently",
            }
        } else {
            Check {
                what,
                ours,
                expected: number(published),
                tolerance: three_digits(number(published)),
                why: "three printed digits",
                source: "ISO 9613-1:1993, Table 1",
            }
        });
    }
    for (temperature, humidity, values) in OCTAVES {
        for (band, printed) in Band::ALL.into_iter().zip(values) {
            checks.push(Check {
                what: format!("{temperature} C {humidity} % octave {}, dB/km", band.label()),
                ours: 1000.0 * attenuation_db_per_m(band.center(), temperature, humidity, 101.325),
                expected: printed.parse().expect("a number"),
                tolerance: rounding(printed),
                why: "printed digits",
                source: "ISO 9613-1:1993 formulas, computed independently",
            });
        }
    }
    for (frequency, printed) in [(1000.0, "4.6188"), (exact(3981.072), "28.930")] {
        checks.push(Check {
            what: format!("80 kPa 20 C 50 % {frequency:.3} Hz, dB/km"),
            ours: 1000.0 * attenuation_db_per_m(frequency, 20.0, 50.0, 80.0),
            expected: printed.parse().expect("a number"),
            tolerance: rounding(printed),
            why: "printed digits",
            source: "ISO 9613-1:1993 formulas, computed independently",
        });
    }
    checks.push(Check {
        what: "density at 20 C, kg/m3".to_owned(),
        ours: Medium::new(20.0, 50.0, 101.325).density,
        expected: 1.2041,
        tolerance: rounding("1.2041"),
        why: "printed digits",
        source: "dry air at 20 C and 101.325 kPa, hand-book value (from memory)",
    });
    checks
}

#[test]
fn published_table_has_all_its_points() {
    assert_eq!(TABLE_1.lines().skip(2).count(), 85);
}

#[test]
fn exact_energy_attenuation_is_the_decibels_over_ten_lg_e() {
    let medium = Medium::new(20.0, 50.0, 101.325);
    for band in Band::ALL {
        let decibels = attenuation_db_per_m(band.center(), 20.0, 50.0, 101.325);
        let left = medium.transmission(37.0)[band];
        assert!((10.0 * left.log10() + 37.0 * decibels).abs() < 1e-12, "{}", band.label());
        assert!((energy_attenuation(decibels) - decibels / (10.0 * std::f64::consts::E.log10())).abs() < 1e-15);
    }
}

#[test]
fn exact_speed_scales_with_the_root_of_temperature() {
    assert_eq!(Medium::new(20.0, 50.0, 101.325).speed, 343.2);
    let ratio = Medium::new(0.0, 50.0, 101.325).speed / 343.2;
    assert!((ratio * ratio - 273.15 / 293.15).abs() < 1e-15);
    let set = Medium::with_speed(343.0).without_attenuation();
    assert_eq!((set.speed, set.attenuation), (343.0, Bands::splat(0.0)));
}

#[test]
fn keeps_attenuation_rising_with_frequency() {
    for temperature in [0.0, 10.0, 20.0, 35.0] {
        for humidity in [10.0, 40.0, 100.0] {
            let medium = Medium::new(temperature, humidity, 101.325);
            assert!(medium.attenuation.0.windows(2).all(|pair| 0.0 < pair[0] && pair[0] < pair[1]), "{temperature} C, {humidity} %");
        }
    }
}
