//! Likeness: whether the left and the right loudspeaker of a seat sound alike.
//!
//! For each octave the level of the early reflected energy, left minus right, and the same of the direct sound:
//! `10 lg (E_left / E_right)`.
//!
//! Which loudspeaker is left is read from its azimuth at the seat, counterclockwise from the facing. Of several, those whose
//! azimuths mirror each other best are taken as a pair, each once.
//!
//! *Limits.* A loudspeaker within 5 degrees of straight ahead or behind has no partner. A difference is held at 60 dB, where one
//! side is silent in a band.

use glam::DVec3;

use crate::bands::Bands;
use crate::findings::Likeness;
use crate::room::{Receiver, Room};
use crate::scene::SourceKind;

/// A loudspeaker nearer than this to the line straight through the head is neither left nor right, degrees.
const MIDDLE_DEG: f64 = 5.0;
/// Largest difference that is told apart, dB.
const DIFFERENCE_MAX_DB: f64 = 60.0;

/// Left-right likeness at every seat; `early` and `direct` hold energies by source and receiver, in the order of the room's.
#[must_use]
pub fn likeness(room: &Room, early: &[Vec<Bands<f64>>], direct: &[Vec<Bands<f64>>]) -> Vec<Likeness> {
    let of_pair = |(left, right, seat): (usize, usize, usize)| Likeness {
        left: room.sources[left].name.clone(),
        right: room.sources[right].name.clone(),
        seat: room.receivers[seat].name.clone(),
        early_difference_db: early[left][seat].zip(early[right][seat], difference_db),
        direct_difference_db: direct[left][seat].zip(direct[right][seat], difference_db),
    };
    mirrored_loudspeakers(room).into_iter().map(of_pair).collect()
}

/// Left and right loudspeaker and seat, seat by seat, the best mirrored pair first; indices into the room's sources and receivers.
#[must_use]
pub fn mirrored_loudspeakers(room: &Room) -> Vec<(usize, usize, usize)> {
    let seats = room.receivers.iter().enumerate().filter(|(_, receiver)| receiver.zone_radius.is_some());
    let at_seat =
        |(seat, receiver): (usize, &Receiver)| mirrored_pairs(room, receiver).into_iter().map(move |(left, right)| (left, right, seat));
    seats.flat_map(at_seat).collect()
}

/// Azimuth of a point at a head in degrees, counterclockwise from the facing seen from above, -180 to 180.
#[must_use]
pub fn azimuth_deg(head: &Receiver, point: DVec3) -> f64 {
    let to = (point - head.position).truncate();
    let facing = head.facing.truncate();
    facing.perp_dot(to).atan2(facing.dot(to)).to_degrees()
}

/// Loudspeakers left and right of a seat, best mirrored pair first.
fn mirrored_pairs(room: &Room, seat: &Receiver) -> Vec<(usize, usize)> {
    let loudspeakers = room.sources.iter().enumerate().filter(|(_, source)| source.kind == SourceKind::Loudspeaker);
    let (mut left, mut right) = (Vec::new(), Vec::new());
    for (index, source) in loudspeakers {
        let azimuth = azimuth_deg(seat, source.position);
        if (MIDDLE_DEG..=180.0 - MIDDLE_DEG).contains(&azimuth.abs()) {
            if azimuth > 0.0 { left.push((index, azimuth)) } else { right.push((index, azimuth)) }
        }
    }
    let mut candidates: Vec<(f64, usize, usize)> = Vec::new();
    for &(l, at_left) in &left {
        candidates.extend(right.iter().map(|&(r, at_right)| ((at_left + at_right).abs(), l, r)));
    }
    candidates.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, l, r) in candidates {
        if pairs.iter().all(|&(taken_left, taken_right)| taken_left != l && taken_right != r) {
            pairs.push((l, r));
        }
    }
    pairs
}

fn difference_db(left: f64, right: f64) -> f64 {
    match (left > 0.0, right > 0.0) {
        (true, true) => (10.0 * (left / right).log10()).clamp(-DIFFERENCE_MAX_DB, DIFFERENCE_MAX_DB),
        (true, false) => DIFFERENCE_MAX_DB,
        (false, true) => -DIFFERENCE_MAX_DB,
        (false, false) => 0.0,
    }
}
