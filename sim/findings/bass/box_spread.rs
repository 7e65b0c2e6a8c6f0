//! What published criteria say of how the modes of a rigid, empty box of the room's sides are spread: information, and no verdict on the room.
//!
//! - *Count*: from one third octave (10 to 200 Hz, base ten) to the next the number of modes does not fall, and modes of one frequency lie only where a third octave has [`ENOUGH`] or more.
//! - *Sides* `l`, `w`, `h` (length, width, height): `1.1 w / h <= l / h <= 4.5 w / h - 4`, `l < 3 h`, `w < 3 h`; no ratio of two sides within 5 % of a whole number.
//!
//! *References.* Count: O. J. Bonello, J. Audio Eng. Soc. 29 (1981) 597 (from memory). Sides, of rooms to listen in: Recommendation ITU-R BS.1116 and EBU Tech 3276, whole numbers the latter alone
//! (all from memory).
//!
//! *Limits.* Boxes alone, nothing in them. Neither knows where anyone sits, what walls take or how loud a mode is driven. How near two modes are one frequency no source says: [`ONE`] is our own.

use glam::DVec3;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::response::nominal;
use crate::modes::{Mode, shoebox};

/// So many modes in a third octave let some of them be of one frequency.
pub const ENOUGH: usize = 5;
/// Modes this near, re their frequency, are of one frequency: what a centimeter in four meters moves them by.
pub const ONE: f64 = 0.0025;
/// How near to a whole number a ratio of sides is to be avoided, re the number.
pub const WHOLE: f64 = 0.05;
/// Middles of the lowest and the highest third octave that are counted, tenths of a decade re 1 Hz.
const THIRDS: [i32; 2] = [10, 23];

/// How the modes of a rigid box are spread.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoxSpread {
    /// The longer side of the floor.
    pub length_m: f64,
    /// The shorter one.
    pub width_m: f64,
    /// Height.
    pub height_m: f64,
    /// Third octaves, from the lowest that holds a mode.
    pub thirds: Vec<BoxThird>,
    /// Third octaves with fewer modes than the one below.
    pub falls_hz: Vec<f64>,
    /// Third octaves with modes of one frequency, though they have few.
    pub crowded_hz: Vec<f64>,
    /// Shortest length that is recommended for this width and height.
    pub least_length_m: f64,
    /// Longest; less than the shortest where no length would do.
    pub most_length_m: f64,
    /// What both length and width are to be less than.
    pub longest_m: f64,
    /// Whether length and width are within all of these.
    pub is_recommended: bool,
    /// Sides whose ratio is near a whole number.
    pub near_whole: Vec<SideRatio>,
}

/// A third octave of the box.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoxThird {
    /// Its nominal middle.
    pub band_hz: f64,
    /// Its modes.
    pub count: usize,
    /// Those of them that share their frequency with another.
    pub coinciding: usize,
}

/// Two sides.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SideRatio {
    /// The longer one.
    pub longer: String,
    /// The shorter one.
    pub shorter: String,
    /// Longer over shorter.
    pub ratio: f64,
}

impl BoxSpread {
    /// Of a box with sides `size` meters, the third its height, where sound travels at `speed` m/s.
    #[must_use]
    pub fn new(size: DVec3, speed: f64) -> Self {
        let (length, width, height) = (size.x.max(size.y), size.x.min(size.y), size.z);
        let thirds = thirds(size, speed);
        let falls = thirds.windows(2).filter(|pair| pair[1].count < pair[0].count).map(|pair| pair[1].band_hz).collect();
        let crowded = thirds.iter().filter(|third| third.coinciding > 0 && third.count < ENOUGH).map(|third| third.band_hz).collect();
        let (least, most, longest) = (1.1 * width, 4.5 * width - 4.0 * height, 3.0 * height);
        let mut sides = [("length", length), ("width", width), ("height", height)];
        sides.sort_by(|a, b| b.1.total_cmp(&a.1));
        let ratio = |longer: usize, shorter: usize| SideRatio {
            longer: sides[longer].0.to_owned(),
            shorter: sides[shorter].0.to_owned(),
            ratio: sides[longer].1 / sides[shorter].1,
        };
        let is_near_whole = |sides: &SideRatio| (sides.ratio / sides.ratio.round() - 1.0).abs() <= WHOLE;
        Self {
            length_m: length,
            width_m: width,
            height_m: height,
            thirds,
            falls_hz: falls,
            crowded_hz: crowded,
            least_length_m: least,
            most_length_m: most,
            longest_m: longest,
            is_recommended: (least..=most).contains(&length) && length < longest && width < longest,
            near_whole: [ratio(0, 1), ratio(0, 2), ratio(1, 2)].into_iter().filter(is_near_whole).collect(),
        }
    }
}

/// Its third octaves, from the lowest that holds a mode.
fn thirds(size: DVec3, speed: f64) -> Vec<BoxThird> {
    let border = |tenths: f64| 10.0_f64.powf(tenths / 10.0);
    // A little beyond, so that the last mode's neighbor is known.
    let modes = shoebox(size, speed, 1.01 * border(f64::from(THIRDS[1]) + 0.5));
    let is_one = |a: &Mode, b: &Mode| (a.frequency / b.frequency - 1.0).abs() <= ONE;
    let coincides = |index: usize| {
        let beside = [index.checked_sub(1), Some(index + 1)].into_iter().flatten().filter_map(|other| modes.get(other));
        beside.into_iter().any(|other| is_one(&modes[index], other))
    };
    let third = |tenths: i32| {
        let within = border(f64::from(tenths) - 0.5)..border(f64::from(tenths) + 0.5);
        let held = || (0..modes.len()).filter(|index| within.contains(&modes[*index].frequency));
        BoxThird { band_hz: nominal(tenths), count: held().count(), coinciding: held().filter(|index| coincides(*index)).count() }
    };
    (THIRDS[0]..=THIRDS[1]).map(third).skip_while(|third| third.count == 0).collect()
}
