//! One room by itself, traced until its early level and its mean decay are sure: for comparisons of rooms that differ in geometry, one after the other.
//!
//! Rounds of rays are doubled until the early level is known to `early_error_db` and the mean decay to `t30_error_percent`, standard errors both, and at most as many are traced as the settings
//! allow. It is asked after whole rounds only, whose rays are the same for any number of threads.

use super::decay::{BothRanges, SideBySide, responses};
use super::score::Heard;
use super::search::Goal;
use crate::hanging;
use crate::progress::{Cancelled, Progress};
use crate::room::{Bodies, build};
use crate::scene::Scene;
use crate::settings::Settings;
use crate::weigh::early::early_energy;
use crate::weigh::{Linings, Traced};

/// A room and what it is scored by.
pub(super) struct Sure {
    pub(super) traced: Traced,
    pub(super) linings: Linings,
    pub(super) heard: Heard,
    pub(super) times: BothRanges,
    /// Whether its figures are as sure as asked.
    pub(super) is_sure: bool,
}

/// Traces and weighs a scene with all that hangs in it; paths are followed for `end_s` seconds.
///
/// # Errors
/// [`Cancelled`].
pub(super) fn until_sure(progress: &Progress, scene: &Scene, goal: &Goal<'_>, settings: Settings, end_s: f64) -> Result<Sure, Cancelled> {
    let room = build(scene, Bodies::Standing);
    let hanging = hanging::from_panels(scene, &room, &scene.panels);
    let mut traced = Traced::new(progress, room, settings, end_s)?;
    let linings = Linings::new(&traced.room, &hanging);
    loop {
        let weighed = early_energy(progress, &traced, &linings)?;
        let responses = responses(progress, &traced, &linings)?;
        let heard = Heard::new(&traced, goal, (&hanging, &linings), &weighed, &responses);
        let times = BothRanges::of(&responses, goal);
        let is_sure = is_sure(&heard, &times, goal, &traced.settings);
        let rounds = traced.rounds_left();
        if is_sure || rounds == 0 {
            return Ok(Sure { traced, linings, heard, times, is_sure });
        }
        traced.refine(progress, rounds)?;
    }
}

/// Whether early level and mean decay are known as well as the settings ask.
fn is_sure(heard: &Heard, times: &BothRanges, goal: &Goal<'_>, settings: &Settings) -> bool {
    let decay = SideBySide::among(&[times]).first().and_then(|times| times.mean(goal.bands));
    // Without an octave to judge there is no decay to wait for.
    let is_known = goal.bands.is_empty() || decay.is_some_and(|time| time.se <= settings.t30_error * time.value);
    is_known && heard.early_level_db.se <= settings.early_error_db
}
