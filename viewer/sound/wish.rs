//! What was asked of the worker last, and who hears where in a scene.

use std::sync::Arc;

use roomwright::scene::Scene;
use roomwright::study::Listener;

use super::ready::{At, DryChoice, Ear, Room};

/// What was asked of the worker last.
#[derive(Clone)]
pub(crate) struct Asked {
    pub(crate) rooms: [Option<Room>; 2],
    pub(crate) at: At,
    pub(crate) dry: DryChoice,
}

impl Asked {
    /// Whether both ask for the same.
    pub(crate) fn is(&self, other: &Self) -> bool {
        let held = |asked: &Self, side: usize| asked.rooms[side].as_ref()?.held.as_ref().map(|held| Arc::as_ptr(&held.traced));
        self.at == other.at && (0..2).all(|side| self.sounds_like(other, side) && held(self, side) == held(other, side))
    }

    /// Whether one version of both is the same to the ear, from however many rays.
    pub(crate) fn sounds_like(&self, other: &Self, side: usize) -> bool {
        let same = match (&self.rooms[side], &other.rooms[side]) {
            (Some(one), Some(other)) => {
                let low = |room: &Room| room.low.as_ref().map(|(low, bare)| (Arc::as_ptr(low), *bare));
                Arc::ptr_eq(&one.scene, &other.scene) && one.ear == other.ear && low(one) == low(other)
            }
            (one, other) => one.is_none() && other.is_none(),
        };
        same && self.dry == other.dry
    }
}

/// Who listens at the receiver of this number of one scene, in another one: at the seat, or the microphone, of the same name. Of a microphone
/// its own pattern hears.
///
/// # Errors
/// Why nobody does.
pub(crate) fn ear_in(scene: &Scene, (of, receiver): (&Scene, usize), listener: Listener) -> Result<Ear, String> {
    let lacks = |what: &str, name: &str| format!("it has no {what} named {name}");
    if let Some(seat) = of.seats.get(receiver) {
        let receiver = scene.seats.iter().position(|one| one.name == seat.name).ok_or_else(|| lacks("seat", &seat.name))?;
        return Ok(Ear { receiver, listener });
    }
    let microphone = of.microphones.get(receiver - of.seats.len()).ok_or("nobody listens in the room that is shown")?;
    let index =
        scene.microphones.iter().position(|one| one.name == microphone.name).ok_or_else(|| lacks("microphone", &microphone.name))?;
    Ok(Ear { receiver: scene.seats.len() + index, listener: Listener::Point })
}
