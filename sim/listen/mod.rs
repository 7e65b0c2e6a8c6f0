//! What it sounds like: dry sound through responses to ears and microphones, at levels that can be compared.
//!
//! ```text
//! Dry ─play→ loudspeakers x responses ─add→ ears ─match→ versions ─alternate→ one file
//! ```
//!
//! - `limit`: the one limit in frequency that all responses here have;
//! - `sphere`: sound on a rigid sphere, exactly;
//! - `ears`: a head and pairs of microphones as pickups: a finite response for each direction that sound comes from;
//! - `filtered`: a head as it was measured, as a pickup (`hull`: between which directions; `sofa`: out of an open file, in builds with
//!   that feature);
//! - `dry`: sounds that the program makes itself, so that nobody has to look for any (`string` and `talk` hold two of them);
//! - `loudness`: how loud a sound is, and gains for versions that are compared;
//! - `supply`: where dry sound comes from, memory or a file, piece by piece;
//! - `play`: dry sound through a response for each loudspeaker and ear, whole or block by block;
//! - `alternate`: versions of one sound in turns, in one file.
//!
//! Samples in, samples out: nothing here knows rooms.
//!
//! *Limits.* Levels are relative: how loud a version is played, only the one who listens can set.

pub mod alternate;
pub mod dry;
pub mod ears;
pub mod filtered;
mod hull;
pub mod limit;
pub mod loudness;
pub mod play;
#[cfg(feature = "sofa")]
pub mod sofa;
pub mod sphere;
mod string;
pub mod supply;
mod talk;
