//! Listening in the viewer: what the seat hears of a dry sound, in two versions of the room, while panels move.
//!
//! ```text
//! document, paths ─ready→ responses ┐
//!                  choice ─dry→ sound ┴─Order→ feeder ─mixer→ ring ─→ device
//! ```
//!
//! - `ring`: samples on their way, without a lock;
//! - `gain`: volume, guard, fades; `scale`: gains of both versions: nothing raises a gain but the user's hand;
//! - `dry`: dry sound in memory or from a file;
//! - `mixer`: both versions side by side, block by block;
//! - `device`: what plays; `feeder`: who keeps it fed;
//! - `ready`: responses in the background; `wish`: what was asked of it;
//! - `choice`: what can be chosen; `listening`: how it stands, and the system that joins all of it.
//!
//! *Limits.* Loudness in the room of whoever listens is not known here: that is the amplifier's.

pub(crate) mod choice;
pub(crate) mod device;
pub(crate) mod dry;
pub(crate) mod feeder;
pub(crate) mod gain;
pub(crate) mod listening;
pub(crate) mod mixer;
pub(crate) mod ready;
pub(crate) mod ring;
pub(crate) mod scale;
pub(crate) mod wish;

pub(crate) use choice::SoundChoice;
pub(crate) use listening::{Listening, SoundPlugin};

#[cfg(test)]
mod tests;
