//! Paper, ink and letters: every color and every size of type that the pictures use.
//!
//! Maps use perceptually uniform scales whose lightness rises all the way, so that they read in gray and by the color-blind. They are
//! given by 16 of their 256 colors, every 17th, linear in between (at most 10/255 off in one channel). The scale for values with a sign is as dark at both ends, and its two sides are told apart by
//! the color-blind.
//!
//! *References.* viridis and magma: S. van der Walt, N. Smith, `mpl-colormaps` (CC0), as in matplotlib's `_cm_listed.py`. cividis:
//! Nunez, Anderton, Renslow, `PLoS ONE` 13(7), 2018, e0199239, as in the same file. Signed: from paper to two
//! ends, in even steps of Oklab (B. Ottosson, 2020, from memory). Letter widths: `hmtx` table of `DejaVu Sans` 2.37.
//!
//! *Limits.* Colors are sRGB.

use std::fmt;

/// A color, sRGB.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Color(pub u8, pub u8, pub u8);

impl fmt::Display for Color {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }
}

/// The sheet.
pub const PAPER: Color = Color(0xf5, 0xf1, 0xe8);
/// A card on the sheet.
pub const CARD: Color = Color(0xfb, 0xf8, 0xf1);
/// What must be printed cheaply: working drawings.
pub const WHITE: Color = Color(0xff, 0xff, 0xff);
/// Lines and letters.
pub const INK: Color = Color(0x2e, 0x2c, 0x29);
/// Lines of second rank.
pub const SOFT: Color = Color(0x8b, 0x85, 0x7a);
/// Letters of second rank: a shade darker, to be read at arm's length.
pub const QUIET: Color = Color(0x6f, 0x69, 0x60);
/// Grid and rules.
pub const LINE: Color = Color(0xd8, 0xd1, 0xc2);
/// The one accent.
pub const ACCENT: Color = Color(0xb5, 0x45, 0x1b);
/// The accent as a shade behind a plot.
pub const ACCENT_SHADE: Color = Color(0xf3, 0xe3, 0xd8);
/// Panels, and floors.
pub const PANEL: Color = Color(0xe9, 0xdf, 0xc9);
/// Where a map has no value.
pub const NONE: Color = Color(0xec, 0xe8, 0xdf);
/// How things were before.
pub const PALE: Color = Color(0xb9, 0xb1, 0xa1);

/// Letters of all pages; the first is shipped and used for pictures.
pub const FONT_FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";

/// Headline, mm.
pub const HEAD: f64 = 5.2;
/// Second headline, mm.
pub const SUBHEAD: f64 = 3.4;
/// Running text, mm.
pub const BODY: f64 = 2.7;
/// Small text, mm.
pub const SMALL: f64 = 2.4;

/// A perceptually uniform color scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Colormap {
    /// For early sound.
    Viridis,
    /// For late sound.
    Magma,
    /// For early against late sound, and for bass.
    Cividis,
    /// For values with a sign: blue below the middle, red above it, paper there.
    Signed,
}

impl Colormap {
    /// The color at 0 (lowest) to 1 (highest); the ends hold beyond, and for no number the lowest.
    #[must_use]
    pub fn color(self, value: f64) -> Color {
        let anchors: &[u32] = match self {
            Self::Viridis => &VIRIDIS,
            Self::Magma => &MAGMA,
            Self::Cividis => &CIVIDIS,
            Self::Signed => &SIGNED,
        };
        let last = anchors.len() - 1;
        let place = if value.is_nan() { 0.0 } else { value.clamp(0.0, 1.0) * last as f64 };
        let low = (place as usize).min(last - 1);
        let share = place - low as f64;
        let channel = |shift: u32| {
            let (a, b) = (f64::from(anchors[low] >> shift & 0xff), f64::from(anchors[low + 1] >> shift & 0xff));
            (a + (b - a) * share).round() as u8
        };
        Color(channel(16), channel(8), channel(0))
    }
}

const VIRIDIS: [u32; 16] = [
    0x44_0154, 0x48_1a6c, 0x47_2f7d, 0x41_4487, 0x39_568c, 0x31_688e, 0x2a_788e, 0x23_888e, 0x1f_988b, 0x22_a884, 0x35_b779, 0x54_c568,
    0x7a_d151, 0xa5_db36, 0xd2_e21b, 0xfd_e725,
];
const MAGMA: [u32; 16] = [
    0x00_0004, 0x0b_0924, 0x20_114b, 0x3b_0f70, 0x57_157e, 0x72_1f81, 0x8c_2981, 0xa8_327d, 0xc4_3c75, 0xde_4968, 0xf1_605d, 0xfa_7f5e,
    0xfe_9f6d, 0xfe_bf84, 0xfd_dea0, 0xfc_fdbf,
];
const CIVIDIS: [u32; 16] = [
    0x00_224e, 0x00_2e6c, 0x1e_3a6f, 0x35_456c, 0x47_516c, 0x57_5d6d, 0x66_6970, 0x75_7575, 0x84_8279, 0x94_8e77, 0xa5_9c74, 0xb7_a96e,
    0xc8_b866, 0xdb_c75a, 0xee_d649, 0xfe_e838,
];

const SIGNED: [u32; 17] = [
    0x24_538f, 0x3f_679c, 0x58_7ba9, 0x72_8fb6, 0x8d_a4c2, 0xa7_b8ce, 0xc3_cdda, 0xdf_e3e5, 0xfb_f8f1, 0xef_ded4, 0xe3_c5b7, 0xd7_ac9b,
    0xca_9380, 0xbc_7a64, 0xae_614a, 0x9f_482e, 0x8f_2d0c,
];

/// Length of a text in units of its size.
#[must_use]
pub fn text_width(text: &str, bold: bool) -> f64 {
    let widths = if bold { &BOLD } else { &REGULAR };
    let sum: u32 = text
        .chars()
        .map(|letter| {
            let index = (letter as usize).wrapping_sub(32);
            u32::from(*widths.get(index).unwrap_or(&widths[usize::from(b'm' - 32)]))
        })
        .sum();
    f64::from(sum) / 2048.0
}

/// Advance widths of ASCII 32 to 126, `DejaVu Sans`, 1/2048 em.
const REGULAR: [u16; 95] = [
    651, 821, 942, 1716, 1303, 1946, 1597, 563, 799, 799, 1024, 1716, 651, 739, 651, 690, 1303, 1303, 1303, 1303, 1303, 1303, 1303, 1303,
    1303, 1303, 690, 690, 1716, 1716, 1716, 1087, 2048, 1401, 1405, 1430, 1577, 1294, 1178, 1587, 1540, 604, 604, 1343, 1141, 1767, 1532,
    1612, 1235, 1612, 1423, 1300, 1251, 1499, 1401, 2025, 1403, 1251, 1403, 799, 690, 799, 1716, 1024, 1024, 1255, 1300, 1126, 1300, 1260,
    721, 1300, 1298, 569, 569, 1186, 569, 1995, 1298, 1253, 1300, 1300, 842, 1067, 803, 1298, 1212, 1675, 1212, 1212, 1075, 1303, 690,
    1303, 1716,
];

/// Advance widths of ASCII 32 to 126, `DejaVu Sans Bold`, 1/2048 em.
const BOLD: [u16; 95] = [
    713, 934, 1067, 1716, 1425, 2052, 1786, 627, 936, 936, 1071, 1716, 778, 850, 778, 748, 1425, 1425, 1425, 1425, 1425, 1425, 1425, 1425,
    1425, 1425, 819, 819, 1716, 1716, 1716, 1188, 2048, 1585, 1561, 1503, 1700, 1399, 1399, 1681, 1714, 762, 762, 1587, 1305, 2038, 1714,
    1741, 1501, 1741, 1577, 1475, 1397, 1663, 1585, 2259, 1579, 1483, 1485, 936, 748, 936, 1716, 1024, 1024, 1382, 1466, 1214, 1466, 1389,
    891, 1466, 1458, 702, 702, 1362, 702, 2134, 1458, 1407, 1466, 1466, 1010, 1219, 979, 1458, 1335, 1892, 1321, 1335, 1192, 1458, 748,
    1458, 1716,
];
