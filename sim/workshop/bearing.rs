//! What speaks against hanging panels overhead, counted for each: what the sheets would say, for whoever still seeks places.
//!
//! *Limits.* What a panel weighs counts as far as its type says it: what is only known from what it is made of the sheets alone know.

use super::{marking, overhead};
use crate::layout::is_overhead;
use crate::room::Room;
use crate::scene::{Panel, Scene};

/// Whether the scene names anything above that carries.
#[must_use]
pub fn is_known(scene: &Scene, room: &Room) -> bool {
    let hangs_over = |surface: &str| room.named(surface).any(|(index, _)| is_overhead(room.surfaces[index].role));
    scene.making.structure.iter().any(|structure| structure.kind.is_structural() && hangs_over(&structure.surface))
}

/// How many reasons speak against hanging each of these, all of them together, beside what hangs in the scene already; none against what hangs over nobody.
#[must_use]
pub fn against(scene: &Scene, room: &Room, panels: &[Panel]) -> Vec<usize> {
    let mut marked = panels.to_vec();
    let mut surfaces = marking::surfaces(scene, room, &mut marked, &mut Vec::new());
    let mut reasons = vec![0; panels.len()];
    for found in overhead::overhead(scene, room, &marked, &mut surfaces) {
        if let Some(own) = (found.number as usize).checked_sub(1).and_then(|index| reasons.get_mut(index)) {
            *own = found.not_to_be_hung.len();
        }
    }
    reasons
}
