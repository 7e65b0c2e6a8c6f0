//! What documents ask of rooms: decay times, limits of reflections and of loudspeakers, up to which size they hold.

use super::Check;
use crate::targets::{limits, mixing_decays, planned, ranges, teaching_rooms};

pub(crate) fn checks() -> Vec<Check> {
    [mixing_decays(), teaching_rooms(), ranges(), planned(), limits()].concat()
}
