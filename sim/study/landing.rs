//! What a moment of sound makes of the surfaces: the energy that has landed on each patch, as maps to be drawn.
//!
//! Levels are in dB re the direct sound at 1 m on axis: a patch that faces an omni source at 2 m stands at -6 dB once the direct sound has
//! passed. The equations and their limits stand in `weigh::landing`.

use crate::bands::Band;
use crate::findings::Estimate;
use crate::hanging;
use crate::plan::SurfaceMap;
use crate::progress::{Cancelled, Progress};
use crate::scene::Scene;
use crate::weigh::landing::{self, Landed, Landing};
use crate::weigh::{Linings, Traced};

pub use crate::weigh::landing::{END_S, STEP_S};

/// What lands of one source in one octave, with the flat panels of `scene`, whose room is the traced one
/// ([`super::same_room`]).
///
/// # Errors
/// [`Cancelled`].
pub fn landing(progress: &Progress, scene: &Scene, traced: &Traced, source: usize, band: Band) -> Result<Landing, Cancelled> {
    let linings = Linings::new(&traced.room, &hanging::from_panels(scene, &traced.room, &scene.panels));
    landing::landing(progress, traced, &linings, source, band)
}

fn estimate(landed: Landed) -> Estimate {
    Estimate { value: f64::from(landed.energy), se: f64::from(landed.error) }
}

impl Landing {
    /// What has landed on a patch `time_s` seconds after the source sounded, as a multiple of the direct sound at 1 m on axis; whole steps of
    /// [`STEP_S`].
    #[must_use]
    pub fn at(&self, patch: usize, time_s: f64) -> Estimate {
        estimate(self.landed(patch, time_s))
    }

    /// What of it came straight from the source, at the end.
    #[must_use]
    pub fn directly(&self, patch: usize) -> Estimate {
        estimate(self.straight(patch))
    }

    /// What has landed after `time_s` seconds, in dB re the direct sound at 1 m, surface by surface; negative infinity where nothing has.
    #[must_use]
    pub fn maps(&self, time_s: f64) -> Vec<SurfaceMap> {
        SurfaceMap::of_patches(&self.grid, |patch| self.level(patch, time_s))
    }

    /// The same of one patch.
    #[must_use]
    pub fn level(&self, patch: usize, time_s: f64) -> Estimate {
        match self.at(patch, time_s) {
            Estimate { value: 0.0, .. } => Estimate::exact(f64::NEG_INFINITY),
            Estimate { value, se } => Estimate { value: 10.0 * value.log10(), se: 10.0 / std::f64::consts::LN_10 * se / value },
        }
    }
}
