//! What pages are drawn with: readings of the tape, colors, letters, marks of an axis, texts cut to their room.

use super::*;
use crate::validation::{Check, hold};

#[test]
fn exact_tape_readings() {
    let feet = Tape::of(LengthUnit::Foot);
    // 1 ft = 0.3048 m, 1 in = 25.4 mm by definition.
    for (meters, text) in [
        (0.0, "0\""),
        (0.0254, "1\""),
        (0.3048, "1'"),
        (0.3048 + 0.75 * 0.0254, "1' 0 3/4\""),
        (8.0 * 0.3048 + 2.5 * 0.0254, "8' 2 1/2\""),
        (0.0254 / 16.0, "1/16\""),
        (0.3048 - 0.0254 / 64.0, "1'"),
        (-0.6096, "-2'"),
    ] {
        assert_eq!(feet.read(meters), text);
    }
    assert_eq!(Tape::of(LengthUnit::Inch).read(98.5 * 0.0254), "98 1/2\"");
    assert_eq!(Tape::of(LengthUnit::Meter).read(2.4004), "2400");
    assert_eq!(Tape::of(LengthUnit::Centimeter).say(0.61), "610 mm");
}

#[test]
fn keeps_labels_apart_when_spread() {
    let places = dimension::spread(&[0.0, 0.1, 0.2, 5.0, 5.0, 30.0], 3.0);
    assert!(places.windows(2).all(|pair| pair[1] - pair[0] >= 3.0 - 1e-9), "{places:?}");
    assert!((places[5] - 30.0).abs() < 1e-12, "what is alone stays");
    let middle = places[..5].iter().sum::<f64>() / 5.0;
    assert!((middle - 10.3 / 5.0).abs() < 1e-9, "a cluster stays around its own middle: {places:?}");
    assert!(dimension::spread(&[], 3.0).is_empty());
    let held = dimension::spread_within(&[0.0, 0.1, 9.9, 10.0], 3.0, (0.0, 10.0));
    assert_eq!(held, [0.0, 3.0, 7.0, 10.0], "pushed back between the limits");
}

/// Colors 100 and 200 of the 256 of each scale, as in matplotlib's `_cm_listed.py` (x 255, rounded).
pub(crate) fn colors() -> Vec<Check> {
    let cases = [
        (Colormap::Viridis, 100, [42, 118, 142]),
        (Colormap::Viridis, 200, [112, 207, 87]),
        (Colormap::Magma, 100, [137, 40, 129]),
        (Colormap::Magma, 200, [253, 152, 105]),
        (Colormap::Cividis, 100, [101, 104, 112]),
        (Colormap::Cividis, 200, [196, 180, 104]),
    ];
    let of = |(map, index, expected): (Colormap, i32, [i32; 3])| {
        let Color(r, g, b) = map.color(f64::from(index) / 255.0);
        let row = |((name, ours), theirs): ((&str, u8), i32)| Check {
            what: format!("{map:?}, color {index} of 256: {name}, of 255"),
            ours: f64::from(ours),
            expected: f64::from(theirs),
            tolerance: 10.0,
            why: "16 anchors with straight lines between, held to 10 over all 256 when they were chosen",
            source: "colors as matplotlib's _cm_listed.py lists them, x 255",
        };
        [("red", r), ("green", g), ("blue", b)].into_iter().zip(expected).map(row).collect::<Vec<_>>()
    };
    cases.into_iter().flat_map(of).collect()
}

#[test]
fn published_colors_of_the_scales() {
    hold(&colors());
}

#[test]
fn keeps_scales_rising_in_gray() {
    for map in [Colormap::Viridis, Colormap::Magma, Colormap::Cividis] {
        let gray = |index: u32| {
            let Color(r, g, b) = map.color(f64::from(index) / 63.0);
            0.2126 * (f64::from(r) / 255.0).powf(2.2)
                + 0.7152 * (f64::from(g) / 255.0).powf(2.2)
                + 0.0722 * (f64::from(b) / 255.0).powf(2.2)
        };
        assert!((1..64).all(|index| gray(index) > gray(index - 1)), "{map:?} is not monotonic in gray");
    }
}

/// Both signs are darker the farther from zero, which is the lightest.
#[test]
fn keeps_the_scale_of_signs_lightest_at_zero() {
    let gray = |share: f64| {
        let Color(r, g, b) = Colormap::Signed.color(share);
        [(0.2126, r), (0.7152, g), (0.0722, b)].iter().map(|(part, channel)| part * (f64::from(*channel) / 255.0).powf(2.2)).sum::<f64>()
    };
    let nearer = |index: i32| (0.5 - 0.5 * f64::from(index + 1) / 32.0, 0.5 - 0.5 * f64::from(index) / 32.0);
    assert!((0..32).map(nearer).all(|(far, near)| gray(far) < gray(near) && gray(1.0 - far) < gray(1.0 - near)));
    assert_eq!(Colormap::Signed.color(0.5), paper::CARD, "nothing is the paper");
}

#[test]
fn keeps_letter_widths_of_the_shipped_font() {
    for (text, bold) in
        [("level line 1770", false), ("Mark and hang 0123456789", true), ("6' 10 11/16\" x (%)", false), ("WAVE, quiet!", true)]
    {
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        // A full stop at either end: its ink begins and ends at known bearings, so the distance of the stops is the advance between.
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"900\" height=\"40\"><text x=\"0\" y=\"30\" font-size=\"20\" style=\"font-kerning:none\"{weight} \
             font-family=\"DejaVu Sans\">.{}.</text></svg>",
            text.replace('"', "&quot;")
        );
        let mut all = Vec::new();
        texts(raster::lay_out(&svg).unwrap().root(), &mut all);
        let mut stop = Vec::new();
        let one = svg.replace(&format!(".{}.", text.replace('"', "&quot;")), ".");
        texts(raster::lay_out(&one).unwrap().root(), &mut stop);
        let laid_out = f64::from(all[0].1.width() - stop[0].1.width());
        let ours = 20.0 * paper::text_width(&format!(".{text}"), bold);
        assert!((laid_out - ours).abs() < 0.01 * ours, "`{text}`: laid out {laid_out}, ours {ours}");
    }
}

#[test]
fn keeps_marks_round() {
    let marks = axis::Marks::round(0.0, 4.2, 6);
    assert_eq!(marks.values(), [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
    assert_eq!(axis::print(0.25, 0.25), "0.25");
    assert_eq!(axis::print(-1e-12, 0.5), "0.0");
    let nothing = axis::Marks::round(f64::NAN, 1.0, 5);
    assert!(nothing.values().len() >= 2 && nothing.high > nothing.low);
    assert_eq!((number(1.23456), number(-0.0001), number(f64::NAN)), ("1.235".to_owned(), "0".to_owned(), "0".to_owned()));
}

#[test]
fn keeps_cut_texts_within_their_room() {
    let letters = Lettering::new(2.7, paper::INK);
    for room in [0.0, 3.0, 20.0, 80.0] {
        let cut = letters.fit("left loudspeaker, 3.9 ms later, at the seat", room);
        assert!(letters.length(&cut) <= room.max(0.0), "{cut}");
    }
    assert!(letters.wrap("look for cables and pipes behind the plaster", 30.0).iter().all(|line| letters.length(line) <= 30.0));
}
