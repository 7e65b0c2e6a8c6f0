//! Lengths and levels: what a tape measure writes is read, and what is printed reads back.

use proptest::prelude::*;
use roomwright::units::{Decibels, Frequency, Length, LengthError, LengthUnit};

#[track_caller]
fn check(text: &str, meters: f64) {
    assert_eq!(Length::read(text, LengthUnit::Meter), Ok(Length(meters)), "{text}");
}

#[test]
fn exact_lengths_are_read() {
    check("2.4", 2.4);
    check("2.4 m", 2.4);
    check("2.4m", 2.4);
    check("  2.4   m ", 2.4);
    check("610 mm", 0.61);
    check("24.5 cm", 0.245);
    check("-5 mm", -0.005);
    check("1 in", 0.0254);
    check("1 ft", 0.3048);
    check("8 ft 2 1/2 in", 98.5 * 0.0254);
    check("98 1/2 in", 98.5 * 0.0254);
    check("8' 2 1/2\"", 98.5 * 0.0254);
    check("8\u{2032}2\u{2033}", 98.0 * 0.0254);
    check("8ft2in", 98.0 * 0.0254);
    check("8 feet 2 inches", 98.0 * 0.0254);
    check("3/4 in", 0.01905);
    check("8 1/2 ft", 2.5908);
    check(".5 m", 0.5);
    check("6 um", 6e-6);
    check("6.5 \u{b5}m", 6.5e-6);
    check("6 \u{3bc}m", 6e-6);
}

#[test]
fn exact_bare_numbers_are_in_the_unit() {
    for (unit, meters) in [
        (LengthUnit::Meter, 12.0),
        (LengthUnit::Centimeter, 0.12),
        (LengthUnit::Millimeter, 0.012),
        (LengthUnit::Micrometer, 12e-6),
        (LengthUnit::Foot, 3.6576),
        (LengthUnit::Inch, 0.3048),
    ] {
        assert_eq!(Length::read("12", unit), Ok(Length(meters)));
        assert_eq!(LengthUnit::named(unit.symbol()), Some(unit));
    }
}

#[test]
fn exact_faults_are_named() {
    let fault = |text: &str| Length::read(text, LengthUnit::Meter).unwrap_err();
    assert_eq!(fault(""), LengthError::Empty);
    assert_eq!(fault("m"), LengthError::Empty);
    assert_eq!(fault("2,4 m"), LengthError::Comma);
    assert_eq!(fault("2.4 yd"), LengthError::Unit("yd".to_owned()));
    assert_eq!(fault("1e3 m"), LengthError::Unit("e".to_owned()));
    assert_eq!(fault("about 2 m"), LengthError::Unit("about".to_owned()));
    assert_eq!(fault("1.2.3 m"), LengthError::Number("1.2.3".to_owned()));
    assert_eq!(fault("1/0 in"), LengthError::Number("1/0".to_owned()));
    assert_eq!(fault("1/2/3 in"), LengthError::Number("1/2/3".to_owned()));
    assert_eq!(fault("2 m 40 cm"), LengthError::Sequence);
    assert_eq!(fault("8 ft 14 in"), LengthError::Sequence);
    assert_eq!(fault("2 4 m"), LengthError::Sequence);
    assert_eq!(fault("inf"), LengthError::Unit("inf".to_owned()));
    assert_eq!(fault("NaN"), LengthError::Unit("NaN".to_owned()));
}

#[test]
fn exact_lengths_are_printed() {
    let print = |meters: f64, unit: LengthUnit| Length(meters).print(unit);
    assert_eq!(print(2.4, LengthUnit::Meter), "2.4 m");
    assert_eq!(print(2.4051, LengthUnit::Meter), "2.405 m");
    assert_eq!(print(-0.0001, LengthUnit::Meter), "0 m");
    assert_eq!(print(0.61, LengthUnit::Millimeter), "610 mm");
    assert_eq!(print(6.54e-6, LengthUnit::Micrometer), "6.5 um");
    assert_eq!(print(0.245, LengthUnit::Centimeter), "24.5 cm");
    assert_eq!(print(98.5 * 0.0254, LengthUnit::Foot), "8 ft 2 1/2 in");
    assert_eq!(print(98.5 * 0.0254, LengthUnit::Inch), "98 1/2 in");
    assert_eq!(print(2.4384, LengthUnit::Foot), "8 ft");
    // 8 ft 11.99 in rounds up to the next foot.
    assert_eq!(print(107.99 * 0.0254, LengthUnit::Foot), "9 ft");
    assert_eq!(print(-0.01905, LengthUnit::Foot), "-3/4 in");
    assert_eq!(print(0.0, LengthUnit::Foot), "0 in");
}

#[test]
fn exact_levels() {
    assert_eq!(Decibels::from_energy_ratio(100.0), Decibels(20.0));
    assert!((Decibels(-3.0).energy_ratio() - 0.501_187_233_627_272_3).abs() < 1e-15);
    assert_eq!(Decibels(-3.04).to_string(), "-3.0 dB");
    assert_eq!(Frequency(36.04).to_string(), "36.0 Hz");
    assert_eq!(Frequency(1250.0).to_string(), "1.25 kHz");
}

fn unit() -> impl Strategy<Value = LengthUnit> {
    proptest::sample::select(LengthUnit::ALL.to_vec())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// What is printed reads back to within half of what printing rounds to, and prints the same again.
    #[test]
    fn keeps_lengths_through_print_and_read(meters in -100.0..100.0_f64, unit in unit(), reader in unit()) {
        let printed = Length(meters).print(unit);
        let read = Length::read(&printed, reader).unwrap();
        let half_step = match unit {
            LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter => 0.0005,
            LengthUnit::Micrometer => 0.5e-7,
            LengthUnit::Foot | LengthUnit::Inch => 0.0254 / 32.0,
        };
        prop_assert!((read.0 - meters).abs() <= half_step * (1.0 + 1e-9), "{} {}", printed, read.0);
        prop_assert_eq!(read.print(unit), printed);
    }

    #[test]
    fn keeps_numbers_through_units(meters in -100.0..100.0_f64, unit in unit()) {
        let back = unit.to_meters(unit.from_meters(meters));
        prop_assert!((back - meters).abs() <= 1e-15 * meters.abs());
    }

    /// Reading says yes or no to any text.
    #[test]
    fn keeps_calm_at_any_text(text in "[-0-9./ a-z'\"]{0,20}|\\PC{0,20}", unit in unit()) {
        if let Ok(length) = Length::read(&text, unit) {
            prop_assert!(length.0.is_finite());
        }
    }
}
