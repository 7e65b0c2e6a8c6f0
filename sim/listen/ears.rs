//! What a head and pairs of microphones make of a plane wave: a finite response for each direction that it comes from.
//!
//! **Head.** A rigid sphere with an ear at either end of the axis across, at 90 degrees from where it faces: `H` of [`super::sphere`] at
//! every degree between the directions to the source and to the ear, limited in frequency by [`super::limit`], turned into samples and cut
//! 4 ms after time zero, when e^(-c t / a) has taken what goes round the sphere down by 130 dB. Between degrees a cubic through four of
//! them: within 0.03 dB of the exact one up to 20 kHz (tested).
//!
//! **Pair.** Two microphones of a first-order pattern, `s` apart on the axis across, each turned outward by half of the opening angle: the
//! pulse of [`super::limit`], later by `-x . from / c` for one that stands at `x`, times what its pattern takes in from there.
//!
//! Time zero is when the wave passes the middle of the head or pair; it stands at sample `lead`, since an ear that faces the source is
//! reached before. The left ear or microphone is channel 0; left is `up x facing`, with z up: a head that looks up or down keeps its ears
//! level.
//!
//! *References.* R. O. Duda and W. L. Martens, J. Acoust. Soc. Am. 104 (1998) 3048 (sphere of 8.75 cm; from memory). Ears across: as R. S.
//! Woodworth (1938) and G. F. Kuhn, J. Acoust. Soc. Am. 62 (1977) 157, have them for their differences in time of arrival (from memory);
//! real ones lie some 10 degrees further back.
//!
//! *Limits.* A sphere has no outer ears: nothing tells front from back or above from below but turning the head, and every source seems to
//! lie on the arc across. Waves are plane: a real source 1 m away is up to 1.3 dB louder or softer at an ear than that, re the middle of
//! the head, and one 0.5 m away 2.5 dB (tested). Microphones have their pattern at all frequencies, and no size.

use std::sync::Arc;

use glam::DVec3;
use num_complex::Complex64;

use super::limit::{Limit, RATES, RINGING_S};
use super::sphere::{plane_weights, sum};
use crate::directivity::Pattern;
use crate::dsp::transform::{quick_length, signals};
use crate::response::Pickup;

/// Radius of a head, meters.
pub const RADIUS: f64 = 0.0875;

/// How long a head answers after time zero, seconds.
const ANSWER_S: f64 = 0.004;

/// Least and most radius of a sphere, meters.
const RADII: std::ops::RangeInclusive<f64> = 0.04..=0.15;

/// Largest distance between two microphones, meters.
const SPACING_MAX: f64 = 2.0;

/// Speeds of sound that any air has, m/s.
const SPEEDS: std::ops::RangeInclusive<f64> = 250.0..=450.0;

/// Why there is no such head or pair.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum EarsError {
    /// Too few or too many samples a second.
    #[error("responses are made at 44100 to 192000 samples a second, not at {rate}")]
    Rate {
        /// Samples a second.
        rate: u32,
    },
    /// No speed that sound has.
    #[error("sound travels at 250 to 450 m/s in air, not at {speed} m/s")]
    Speed {
        /// In m/s.
        speed: f64,
    },
    /// No way that a head can face.
    #[error("a head or pair faces along a vector that is neither zero nor plumb: give one with a part along the floor")]
    Facing,
    /// No head.
    #[error("a head has a radius of 0.04 to 0.15 m, not of {radius} m")]
    Radius {
        /// In meters.
        radius: f64,
    },
    /// No pair of microphones.
    #[error("two microphones have an omni share of 0 to 1, an opening angle of 0 to 360 degrees and stand 0 to 2 m apart")]
    Arrangement,
}

/// A head that listens: a rigid sphere with two ears.
#[derive(Clone, Debug)]
pub struct Head {
    /// Unit vector to the left ear.
    left: DVec3,
    sphere: Arc<Sphere>,
}

/// Responses at the surface of a sphere.
#[derive(Debug)]
pub(super) struct Sphere {
    /// The sample of every response at which the wave passes the middle.
    pub(super) lead: usize,
    /// By degrees between source and ear, 0 to 180; all of one length.
    responses: Vec<Vec<f64>>,
}

impl Head {
    /// A head of this radius in meters that faces there, in air where sound has this speed in m/s, at this rate in samples a second. Takes
    /// some 50 ms; [`Self::turned`] takes none.
    ///
    /// # Errors
    /// Values that no head, air or rate has.
    pub fn new(facing: DVec3, radius: f64, speed: f64, rate: u32) -> Result<Self, EarsError> {
        let left = left_of(facing)?;
        check(speed, rate)?;
        if !RADII.contains(&radius) {
            return Err(EarsError::Radius { radius });
        }
        Ok(Self { left, sphere: Arc::new(Sphere::new(radius / speed, Limit::new(rate), rate)) })
    }

    /// The same head, turned to face there.
    ///
    /// # Errors
    /// A vector that is zero, plumb or no number.
    pub fn turned(&self, facing: DVec3) -> Result<Self, EarsError> {
        Ok(Self { left: left_of(facing)?, sphere: Arc::clone(&self.sphere) })
    }
}

impl Pickup for Head {
    fn channels(&self) -> usize {
        2
    }

    /// The sample of every response at which the wave passes the middle of the head.
    fn lead(&self) -> usize {
        self.sphere.lead
    }

    /// Pressure at an ear (0 left, 1 right) for a pulse that comes from this direction (world coordinates, from the head to where sound
    /// comes from), re the same pulse without head. Nothing of an ear that there is not, or from a direction that is none.
    fn response(&self, channel: usize, from: DVec3) -> Vec<f64> {
        let (Some(from), Some(side)) = (from.try_normalize(), side(channel)) else { return vec![0.0; self.sphere.responses[0].len()] };
        self.sphere.at(self.left.dot(from) * side)
    }
}

impl Sphere {
    /// A sphere that sound takes `crossing_s` seconds to pass half of.
    pub(super) fn new(crossing_s: f64, limit: Limit, rate: u32) -> Self {
        // An ear that faces the source is reached by a radius earlier.
        let lead = limit.samples(RINGING_S + crossing_s);
        let kept = lead + limit.samples(ANSWER_S + RINGING_S);
        // Twice as long, so that what rings on beyond either end does not come in again at the other.
        let length = quick_length(2 * kept);
        let line_hz = f64::from(rate) / length as f64;
        let mut spectra = vec![vec![Complex64::ZERO; length / 2 + 1]; 181];
        for line in 0..=((limit.high_hz / line_hz) as usize).min(length / 2) {
            let frequency_hz = line as f64 * line_hz;
            // Back to the beginning of the response: time zero stands at the sample `lead`.
            let turn =
                Complex64::from_polar(limit.share(frequency_hz), -std::f64::consts::TAU * (line * lead % length) as f64 / length as f64);
            let weights = plane_weights(std::f64::consts::TAU * frequency_hz * crossing_s);
            for (degrees, spectrum) in spectra.iter_mut().enumerate() {
                spectrum[line] = turn * sum(&weights, (degrees as f64).to_radians().cos());
            }
        }
        let mut responses = signals(spectra, length);
        for response in &mut responses {
            response.truncate(kept);
            limit.fade_ends(response);
        }
        Self { lead, responses }
    }

    /// The response where the direction to the ear has this cosine to that to the source: the cubic through the four nearest degrees.
    pub(super) fn at(&self, cosine: f64) -> Vec<f64> {
        let degrees = cosine.clamp(-1.0, 1.0).acos().to_degrees();
        let below = degrees.floor().min(179.0);
        let (t, below) = (degrees - below, below as usize);
        // Lagrange's weights for nodes at -1, 0, 1 and 2.
        let weights = [
            -t * (t - 1.0) * (t - 2.0) / 6.0,
            (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
            -(t + 1.0) * t * (t - 2.0) / 2.0,
            (t + 1.0) * t * (t - 1.0) / 6.0,
        ];
        // Either side of the axis is the same: -1 degree is 1 degree, 181 are 179.
        let [a, b, c, d] = [below.abs_diff(1), below, below + 1, (below + 2).min(358 - below)].map(|node| &self.responses[node]);
        let value = |index: usize| weights[0] * a[index] + weights[1] * b[index] + weights[2] * c[index] + weights[3] * d[index];
        (0..a.len()).map(value).collect()
    }
}

/// How two microphones stand to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arrangement {
    /// Pattern of both.
    pub pattern: Pattern,
    /// Angle between their axes, degrees.
    pub opening_deg: f64,
    /// Distance from one to the other, meters.
    pub spacing: f64,
}

impl Arrangement {
    /// Two cardioids at one place, 90 degrees between their axes: differences of level alone.
    pub const CROSSED: Self = Self { pattern: Pattern { omni: 0.5 }, opening_deg: 90.0, spacing: 0.0 };
    /// Two omnis 40 cm apart: differences of time alone.
    pub const APART: Self = Self { pattern: Pattern { omni: 1.0 }, opening_deg: 0.0, spacing: 0.4 };
    /// Two cardioids 17 cm apart, 110 degrees between their axes: some of both.
    pub const SPLAYED: Self = Self { pattern: Pattern { omni: 0.5 }, opening_deg: 110.0, spacing: 0.17 };
}

/// Two microphones.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    limit: Limit,
    lead: usize,
    rate_hz: f64,
    pattern: Pattern,
    /// Unit vectors that they aim at, left first.
    aims: [DVec3; 2],
    /// Where the left one stands, in seconds of the way of sound; the right one stands opposite.
    aside_s: DVec3,
}

impl Pair {
    /// Two microphones whose middle faces there, in air where sound has this speed in m/s, at this rate in samples a second.
    ///
    /// # Errors
    /// Values that no pair, air or rate has.
    pub fn new(facing: DVec3, arrangement: Arrangement, speed: f64, rate: u32) -> Result<Self, EarsError> {
        let left = left_of(facing)?;
        check(speed, rate)?;
        let Arrangement { pattern, opening_deg, spacing } = arrangement;
        let stands = (0.0..=1.0).contains(&pattern.omni) && (0.0..=360.0).contains(&opening_deg) && (0.0..=SPACING_MAX).contains(&spacing);
        if !stands {
            return Err(EarsError::Arrangement);
        }
        let facing = facing.try_normalize().ok_or(EarsError::Facing)?;
        let (sine, cosine) = (0.5 * opening_deg).to_radians().sin_cos();
        let limit = Limit::new(rate);
        let aside = 0.5 * spacing / speed;
        Ok(Self {
            limit,
            lead: limit.samples(RINGING_S + aside),
            rate_hz: f64::from(rate),
            pattern,
            aims: [cosine * facing + sine * left, cosine * facing - sine * left],
            aside_s: aside * left,
        })
    }
}

impl Pickup for Pair {
    fn channels(&self) -> usize {
        2
    }

    /// The sample of every response at which the wave passes the middle of the pair.
    fn lead(&self) -> usize {
        self.lead
    }

    /// What a microphone (0 left, 1 right) takes in of a pulse that comes from this direction (world coordinates, from the pair to where
    /// sound comes from), re an omni in the middle. Nothing of a microphone that there is not, or from a direction that is none.
    fn response(&self, channel: usize, from: DVec3) -> Vec<f64> {
        let mut response = vec![0.0; 2 * self.lead + 1];
        let (Some(from), Some(side)) = (from.try_normalize(), side(channel)) else { return response };
        let gain = self.pattern.pressure(self.aims[channel].dot(from));
        // Whoever stands nearer to the source is reached earlier.
        let early_s = side * self.aside_s.dot(from);
        for (index, value) in response.iter_mut().enumerate() {
            let time_s = (index as f64 - self.lead as f64) / self.rate_hz;
            *value = gain * self.limit.pulse(time_s + early_s);
        }
        self.limit.fade_ends(&mut response);
        response
    }
}

/// 1 for the left channel, -1 for the right one.
fn side(channel: usize) -> Option<f64> {
    [1.0, -1.0].get(channel).copied()
}

/// The unit vector to the left of who faces there.
pub(super) fn left_of(facing: DVec3) -> Result<DVec3, EarsError> {
    let facing = facing.try_normalize().ok_or(EarsError::Facing)?;
    // Within a millionth of plumb no side is left.
    let across = DVec3::Z.cross(facing);
    if across.length() < 1e-6 { Err(EarsError::Facing) } else { across.try_normalize().ok_or(EarsError::Facing) }
}

pub(super) fn check(speed: f64, rate: u32) -> Result<(), EarsError> {
    if !RATES.contains(&rate) {
        return Err(EarsError::Rate { rate });
    }
    if !SPEEDS.contains(&speed) {
        return Err(EarsError::Speed { speed });
    }
    Ok(())
}
