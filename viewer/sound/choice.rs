//! What can be chosen of what is listened to, and what is told of a version.

use std::path::PathBuf;

use roomwright::listen::dry::Dry;
use roomwright::study::Listener;

use super::device::Which;
use super::ready::Loud;

/// One thing that is chosen.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SoundChoice {
    /// Plays, or holds.
    Play(bool),
    /// Hears version A (0) or B (1).
    Hear(usize),
    /// Sets the volume, dB re full scale.
    Volume(f64),
    /// Plays a sound of the program's own.
    Own(Dry),
    /// Asks for a file.
    AskFile,
    /// Plays a file.
    File(PathBuf),
    /// Begins the sound again when it ends, or not.
    Repeat(bool),
    /// Who listens.
    Listener(Listener),
    /// Both versions equally loud, or as loud as they are.
    Equal(bool),
    /// Looks which devices there are.
    FindDevices,
    /// Plays on this device, or on the usual one.
    Device(Option<Which>),
}

/// A version of the room, as the page tells it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Told {
    /// `layout A`, `bare`.
    pub(crate) name: String,
    /// Rays a source that its response rests on; 0 while there is none.
    pub(crate) rays: u32,
    /// How loud the sound is in it, and where its peaks lie.
    pub(crate) loud: Option<Loud>,
    /// Why it cannot be heard.
    pub(crate) why_not: Option<String>,
}
