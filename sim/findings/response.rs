//! What the first sound does to the tone at each ear and each microphone: direct sound, mirror images and edges, summed with their phases.
//!
//! The level is that of all that arrives within the window after the direct sound, re the direct sound alone where nothing stands before it, at
//! [`PER_OCTAVE`] frequencies to the octave. A comb is as deep as the greatest and the least level of an octave are apart. A reflection of a way longer by `d` meets the
//! direct sound in opposite phase at `f = c / (2 d)`, the dip of that boundary, `20 lg(1 - a)` deep if it came alone with the pressure `a`.
//!
//! *References.* Image sources, edges: `weigh::ear`. Single arrivals: `reflections`, `arrivals`.
//!
//! *Limits.* The first sound only: what comes later fills dips and lifts peaks, in a small room within tens of milliseconds, and waves rule below Schroeder's frequency. The head is not there.

use glam::DVec2;

use crate::bands::{Band, Bands};
use crate::progress::{Cancelled, Progress};
use crate::room::Room;
use crate::weigh::ear::{Arrival, Ear, Ears};
use crate::weigh::{Linings, Traced};

use super::arrivals::{At, Bent};
use super::reflections::place;
use super::{BoundaryDip, EarlyResponse, NOTHING_DB};

/// Frequencies to the octave.
pub const PER_OCTAVE: usize = 48;

/// Dips are listed in this range, Hz, and down to a reflection of this pressure re the direct sound.
const DIPS_HZ: (f64, f64) = (40.0, 1000.0);
const DIP_LEAST: f64 = 0.1;

/// The frequencies at which the response is known, Hz, from the lower end of the lowest octave to the upper end of the highest.
#[must_use]
pub fn frequencies() -> Vec<f64> {
    let place = |step: usize| (step as f64 + 0.5) / PER_OCTAVE as f64;
    let of_octave = |band: Band| (0..PER_OCTAVE).map(move |step| band.lower() * (band.upper() / band.lower()).powf(place(step)));
    Band::ALL.into_iter().flat_map(of_octave).collect()
}

/// The early response at each ear of a receiver.
///
/// # Errors
/// [`Cancelled`].
pub fn early_response(
    progress: &Progress,
    ears: &Ears,
    traced: &Traced,
    linings: &Linings,
    source: usize,
    receiver: usize,
) -> Result<Vec<EarlyResponse>, Cancelled> {
    let heard = ears.hear(progress, traced, source, receiver)?;
    let names: &[&str] = if heard.len() == 1 { &["microphone"] } else { &["left ear", "right ear"] };
    Ok(heard.iter().zip(names).map(|(ear, name)| Sum::new(ears, traced, linings, ear).finding(name)).collect())
}

/// All arrivals at an ear, at all frequencies.
struct Sum<'a> {
    ears: &'a Ears,
    traced: &'a Traced,
    ear: &'a Ear,
    /// Amplitude of the free direct sound by frequency.
    direct: Vec<f64>,
    images: Vec<Arrival<'a>>,
    edges: Vec<Arrival<'a>>,
    /// Pressure of each edge by frequency.
    bent: Vec<Vec<DVec2>>,
    frequencies: Vec<f64>,
}

impl<'a> Sum<'a> {
    fn new(ears: &'a Ears, traced: &'a Traced, linings: &'a Linings, ear: &'a Ear) -> Self {
        let frequencies = frequencies();
        let speed = traced.room.medium.speed;
        let mut images = ears.arrivals(traced, linings, ear);
        let edges = images.split_off(ear.images.len());
        let bent = edges.iter().map(|edge| frequencies.iter().map(|&frequency| edge.at(frequency, speed)).collect()).collect();
        let free = ears.free(traced, ear);
        let direct = frequencies.iter().map(|&frequency| free.at(frequency, speed).length()).collect();
        Self { ears, traced, ear, direct, images, edges, bent, frequencies }
    }

    fn room(&self) -> &Room {
        &self.traced.room
    }

    fn finding(&self, name: &str) -> EarlyResponse {
        let speed = self.room().medium.speed;
        let total = |(step, &frequency): (usize, &f64)| {
            let images: DVec2 = self.images.iter().map(|image| image.at(frequency, speed)).sum();
            let edges: DVec2 = self.bent.iter().map(|edge| edge[step]).sum();
            level(images + edges, self.direct[step])
        };
        let level_db: Vec<f64> = self.frequencies.iter().enumerate().map(total).collect();
        let of_octave = |band: Band| &level_db[band.index() * PER_OCTAVE..(band.index() + 1) * PER_OCTAVE];
        let comb_depth_db = Bands::from_fn(|band| {
            let (low, high) =
                of_octave(band).iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &at| (low.min(at), high.max(at)));
            high - low
        });
        let at = At { ears: self.ears, traced: self.traced, ear: self.ear, frequencies: &self.frequencies, direct: &self.direct };
        let bent = self.edges.iter().zip(&self.bent).map(|(arrival, pressures)| Bent { arrival, pressures });
        EarlyResponse {
            at: name.to_owned(),
            position_m: self.ear.position.to_array(),
            boundary_dips: self.dips(&level_db),
            direct: at.direct_sound(),
            edges: at.edges(bent),
            edges_counted: self.edges.len() as u32,
            comb_depth_db,
            frequency_hz: self.frequencies.clone(),
            level_db,
        }
    }

    /// The dips of single reflections by walls, floor and ceiling, lowest first.
    fn dips(&self, level_db: &[f64]) -> Vec<BoundaryDip> {
        let speed = self.room().medium.speed;
        let direct = self.ear.position.distance(self.room().sources[self.ear.source].position);
        let dip = |(index, image): (usize, &crate::weigh::SpecularPath)| {
            let [bounce] = image.path.bounces[..] else { return None };
            let longer = image.path.length - direct;
            let frequency = speed / (2.0 * longer);
            let step = self.step(frequency)?;
            let pressure = self.images[index].at(frequency, speed).length() / self.direct[step];
            let counts = self.room().surfaces[bounce.surface].role.is_shell() && (DIPS_HZ.0..DIPS_HZ.1).contains(&frequency);
            (counts && pressure >= DIP_LEAST).then(|| BoundaryDip {
                surface: self.room().surfaces[bounce.surface].name.clone(),
                place: place(self.room(), bounce.surface, bounce.point),
                longer_m: longer,
                frequency_hz: frequency,
                alone_db: (20.0 * (1.0 - pressure).abs().log10()).max(NOTHING_DB),
                level_db: level_db[step],
            })
        };
        let mut dips: Vec<BoundaryDip> = self.ear.images.iter().enumerate().filter_map(dip).collect();
        dips.sort_by(|one, other| one.frequency_hz.total_cmp(&other.frequency_hz));
        dips
    }

    /// The nearest of the frequencies.
    fn step(&self, frequency: f64) -> Option<usize> {
        let off = |step: &usize| (self.frequencies[*step] / frequency).ln().abs();
        (0..self.frequencies.len()).min_by(|one, other| off(one).total_cmp(&off(other)))
    }
}

/// Level of a pressure re another, dB.
fn level(pressure: DVec2, direct: f64) -> f64 {
    (20.0 * (pressure.length() / direct).log10()).max(NOTHING_DB)
}
