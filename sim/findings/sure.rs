//! Are the figures as sure as they are wanted, and if not: are more rays worth it?
//!
//! Every T30 that is printed, of every source at every receiver in every octave, has a standard error of at most `settings.t30_error` of it, every early
//! reflected level one of at most `settings.early_error_db`. Hot spots are made of images alone: their places have no such error, and nothing is waited for.
//!
//! Rounds of rays are doubled until that is so, or until there are as many as the settings or the store allow. It is asked after whole rounds only,
//! whose rays are the same for any number of threads.
//!
//! A search for places goes by one round.
//!
//! *Limits.* The errors are estimates themselves, known to a sixth from 20 batches: what stops here is a little less sure than it looks. The largest of many decides,
//! so it matters little (`tests/validation/coverage.rs` counts it in).

use crate::hanging::Hanging;
use crate::progress::{Cancelled, Progress};
use crate::response::LowEnd;
use crate::scene::Scene;
use crate::settings::Settings;
use crate::weigh::Traced;

use super::judge::Heard;
use super::{Findings, Pair, Survey};

/// The figure that is least sure, by what is wanted of it.
#[derive(Clone, Debug, PartialEq)]
pub struct LeastSure {
    /// Its standard error over what is wanted.
    pub excess: f64,
    /// What it is, and how sure.
    pub words: String,
}

/// The figure that is least sure; `None` where none has an error.
#[must_use]
pub fn least_sure(pairs: &[Pair], settings: &Settings) -> Option<LeastSure> {
    let of_pair = |pair: &Pair| {
        let name = format!("{} at {}", pair.source, pair.receiver);
        let early = LeastSure {
            excess: pair.early_level_db.se / settings.early_error_db,
            words: format!("the early level of {name} to {:.2} dB, not to {:.2} dB", pair.early_level_db.se, settings.early_error_db),
        };
        let octaves = pair.octaves.iter().filter_map(|octave| {
            let share = octave.t30_s.map(|time| time.se / time.value)?;
            let percents = (100.0 * share, 100.0 * settings.t30_error);
            let words = format!("T30 of {name} at {} Hz to {:.1} %, not to {:.1} %", octave.frequency_hz, percents.0, percents.1);
            Some(LeastSure { excess: share / settings.t30_error, words })
        });
        octaves.chain([early]).collect::<Vec<_>>()
    };
    pairs.iter().flat_map(of_pair).max_by(|a, b| a.excess.total_cmp(&b.excess))
}

/// Findings of a traced room that is traced on until they are sure, as far as the settings allow; `low` and `survey` as for [`super::judge::judge`].
///
/// # Errors
/// [`Cancelled`].
pub fn judge_until_sure(
    progress: &Progress,
    scene: &Scene,
    (traced, low): (&mut Traced, Option<&LowEnd>),
    hanging: &Hanging,
    survey: &Survey,
) -> Result<Findings, Cancelled> {
    let heard = hear_until_sure(progress, scene, (traced, low), hanging, survey)?;
    heard.judged(progress, scene, (traced, low), hanging, survey.clone())
}

/// What they are judged by alone.
///
/// # Errors
/// [`Cancelled`].
pub fn hear_until_sure(
    progress: &Progress,
    scene: &Scene,
    (traced, low): (&mut Traced, Option<&LowEnd>),
    hanging: &Hanging,
    survey: &Survey,
) -> Result<Heard, Cancelled> {
    loop {
        let heard = Heard::new(progress, scene, (traced, low), hanging, survey.schroeder_hz)?;
        let rounds = traced.rounds_left();
        if rounds == 0 || heard.unsure(traced).is_none() {
            return Ok(heard);
        }
        drop(heard);
        traced.refine(progress, rounds)?;
    }
}
