//! Everything that changes a number and is not the room: how many rays, how far, how fine.

use serde::Serialize;

/// How rays leave their sources.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Leaving {
    /// Spread over all directions piece by piece, more of them into the beam and to and fro between walls.
    Aimed,
    /// Each in a direction of its own, all alike: what the other is measured by.
    Even,
}

impl Leaving {
    /// Both, with the words of the scene.
    pub const ALL: [(&'static str, Self); 2] = [("aimed", Self::Aimed), ("even", Self::Even)];
}

/// Settings of a study, read from the scene's `[settings]` and `seed`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Settings {
    /// Seed of every random number.
    pub seed: u64,
    /// Rays traced per source, in the first round.
    pub rays: u32,
    /// So many rounds of these at most: their number is doubled until the two errors below are met.
    pub rounds: u32,
    /// Standard error that is wanted of every T30, as a share of it.
    pub t30_error: f64,
    /// Standard error that is wanted of every early level, dB.
    pub early_error_db: f64,
    /// How rays leave their sources.
    pub leaving: Leaving,
    /// After `early_s` of travel one ray for this many goes on in each long stage of the tail, drawn by what the rays before it still carry.
    pub tail_one_in: u32,
    /// Travel time in seconds after which the tail is thinned.
    pub early_s: f64,
    /// Radius in meters of the ball round a receiver in which mirror reflections are caught after `early_s`; never under its zone.
    pub late_radius_m: f64,
    /// Highest order of the image sources.
    pub image_order: u8,
    /// Length of the early window in seconds after the direct sound, in which reflections are judged.
    pub window_s: f64,
    /// Width of a bin of the energy-time curve in seconds.
    pub bin_s: f64,
    /// Side of a patch of the maps in meters.
    pub patch_m: f64,
    /// How many leading candidates are weighed exactly before a panel is hung.
    pub leaders: u32,
}

/// Batches that standard errors rest on.
pub const BATCHES: u32 = 20;

impl Settings {
    /// The shipped defaults.
    pub const DEFAULT: Self = Self {
        seed: 1,
        rays: 100_000,
        rounds: 4,
        t30_error: 0.025,
        early_error_db: 0.1,
        leaving: Leaving::Aimed,
        tail_one_in: 20,
        early_s: 0.03,
        late_radius_m: 1.0,
        image_order: 3,
        window_s: 0.015,
        bin_s: 0.0005,
        patch_m: 0.1,
        leaders: 24,
    };
}
