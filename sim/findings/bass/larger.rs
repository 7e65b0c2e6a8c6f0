//! What waves bring in a room in cells twice as large, for rooms that are compared: an eighth of the cells in half the steps, a sixteenth of the cost.
//!
//! *References.* None of its own.
//!
//! *Limits.* What cells do wrong goes by the square of their edge, so here by four times as much: figures are to be compared with those of other rooms in the same cells, not with those of the
//! usual ones.

use super::run::{check, ears};
use super::{BassAsked, BassError};
use crate::progress::Progress;
use crate::response::low::octaves;
use crate::response::{Crossover, LowEnd};
use crate::room::Emitter;
use crate::scene::Scene;
use crate::wave::sounding::LONGEST;
use crate::wave::stencil::COURANT;
use crate::wave::walls::{Draw, fit};
use crate::wave::{Hearing, Seen, Sounding, cost};

/// By how much cells are larger: they are fewer by its third power, and so are steps by itself.
pub const LARGER: f64 = 2.0;

/// What waves bring in each of some rooms, its walls as the scene says, in cells twice as large as a study's.
///
/// # Errors
/// [`BassError`]: nobody sounds or hears, somebody lies in no air of these cells, or stopped.
pub fn in_larger_cells(
    progress: &Progress,
    rooms: impl Iterator<Item = Scene>,
    asked: &BassAsked,
    crossover: Crossover,
) -> Result<Vec<LowEnd>, BassError> {
    let rooms: Vec<(Scene, Seen)> = rooms.map(|scene| (scene.clone(), Seen::new(&scene))).collect();
    let steps = |(_, seen): &(Scene, Seen)| {
        let step_s = COURANT * LARGER * cost::spacing(asked.top_hz, seen.room.medium.speed) / seen.room.medium.speed;
        (LONGEST / step_s) as u64 * seen.room.sources.len() as u64
    };
    progress.begin("waves of the layouts", rooms.iter().map(steps).sum());
    rooms.iter().map(|(scene, seen)| one(progress, (scene, seen), asked, crossover)).collect()
}

fn one(progress: &Progress, (scene, seen): (&Scene, &Seen), asked: &BassAsked, crossover: Crossover) -> Result<LowEnd, BassError> {
    let (room, top) = (&seen.room, asked.top_hz);
    check(room, asked)?;
    let walls: Vec<_> = room.finishes.iter().map(|finish| fit(finish, 1.2 * top, Draw::NOMINAL).wall).collect();
    let sounding = Sounding::new(seen, &walls, LARGER * cost::spacing(top, room.medium.speed), top);
    let (_, listened, ears) = ears(room);
    let hear =
        |source: &Emitter| sounding.hear_in(progress, source.position, &ears, &[]).map_err(|silent| BassError::of(&source.name, silent));
    let heard: Vec<Hearing> = room.sources.iter().map(hear).collect::<Result<_, _>>()?;
    Ok(LowEnd { crossover, nominal: octaves(room, &listened, &heard, crossover, scene.settings.bin_s), beside: None })
}
