//! What a finish absorbs as a figure of finite size.
//!
//! Layers tell their impedance at every frequency and angle; a value of a table that was measured on a sample and turned back into an endless surface (`sample`) stands for a
//! real one. Of nothing else is an impedance known, and a value that was not turned back holds the edges of its sample already.
//!
//! *Limits.* Impedances of [`MOST`] build-ups are kept, then all are forgotten.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use glam::DVec2;
use num_complex::Complex64;

use super::{ANGLES, INCIDENCE, Octaves, Rectangle, pairs};
use crate::absorbers::average::{FREQUENCIES_PER_OCTAVE, octave_frequencies};
use crate::absorbers::{Backing, BuildUp, Finish, cache};
use crate::bands::Bands;

/// How many build-ups are kept, 28 kB each.
pub const MOST: usize = 1024;

/// Surface impedance re air by tone and angle of incidence.
pub(super) type Impedances = Bands<Vec<[Complex64; ANGLES]>>;

static KNOWN: LazyLock<Mutex<HashMap<Vec<u64>, Arc<Impedances>>>> = LazyLock::new(Mutex::default);

/// Absorption coefficient in a diffuse field, re the figure's area, of a finish on a figure of this radiation, which may pass 1; `None` where its impedance is not known.
#[must_use]
pub fn absorption(finish: &Finish, octaves: &Octaves) -> Option<Bands<f64>> {
    if !is_known(finish) {
        return None;
    }
    match &finish.build_up {
        Some(build_up) => Some(octaves.absorption_of(&known(build_up))),
        None => Some(Bands::from_fn(|band| octaves.material(band, finish.absorption[band]))),
    }
}

/// What panels of one size absorb by what hangs beside them: absorption coefficients in a diffuse field re their area, which may pass 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beside {
    /// By itself.
    pub alone: Bands<f64>,
    /// One of [`IN_A_ROW`] that touch, side by side.
    pub touching: Bands<f64>,
    /// One of as many with gaps of [`APART`].
    pub apart: Bands<f64>,
}

/// Panels in a row that is told.
pub const IN_A_ROW: u32 = 4;

/// The gaps of a row with gaps, meters.
pub const APART: f64 = 0.3;

impl Beside {
    /// Of panels of this finish and size in meters; `None` where no impedance is known, or it is no size.
    #[must_use]
    pub fn of(finish: &Finish, size: DVec2) -> Option<Self> {
        let panel = Rectangle::sized(size.x, size.y)?;
        let row = |count: u32, gap: f64| {
            let panels: Vec<Rectangle> = (0..count).map(|index| panel.moved(DVec2::new(f64::from(index) * (size.x + gap), 0.0))).collect();
            absorption(finish, &pairs::octaves(&panels)?)
        };
        Some(Self { alone: row(1, 0.0)?, touching: row(IN_A_ROW, 0.0)?, apart: row(IN_A_ROW, APART)? })
    }
}

/// Whether the impedance of a finish is known, so that a piece of it can be told from an endless surface.
#[must_use]
pub fn is_known(finish: &Finish) -> bool {
    finish.is_turned_back || finish.build_up.as_ref().is_some_and(|build_up| build_up.backing == Backing::Rigid)
}

fn known(build_up: &BuildUp) -> Arc<Impedances> {
    let key = cache::key(build_up);
    // A table is whole before it is kept, so a panic elsewhere leaves nothing half made.
    let kept = KNOWN.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
    kept.unwrap_or_else(|| {
        let tone = |frequency| {
            let tone = build_up.tone(frequency);
            INCIDENCE.0.map(|cosine| tone.surface_impedance(cosine))
        };
        let of = Arc::new(Bands::from_fn(|band| octave_frequencies(band, FREQUENCIES_PER_OCTAVE).map(tone).collect()));
        let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        if known.len() >= MOST {
            known.clear();
        }
        known.insert(key, Arc::clone(&of));
        of
    })
}
