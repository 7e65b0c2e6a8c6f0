//! What waves bring in rooms that are compared, walls as each scene says, in the cells of a study: as its own run has it, without the rest that a study tells.
//!
//! *References.* As `findings::bass`.
//!
//! *Limits.* Rooms are run at the same time: what they hold adds up over as many as there are threads. Cells twice as large would take a sixteenth of the time, but tell a room's decay off by up to 16 % at
//! 125 Hz in the basement, three steps that are just noticed, and otherwise off with one panel than with another.

use rayon::prelude::*;

use super::run::{check, ears};
use super::{BassAsked, BassError};
use crate::absorbers::Finish;
use crate::progress::Progress;
use crate::response::low::{octaves, pressures};
use crate::response::{Crossover, LowEnd};
use crate::room::Emitter;
use crate::scene::Scene;
use crate::wave::admittance::Admittance;
use crate::wave::sounding::LONGEST;
use crate::wave::stencil::COURANT;
use crate::wave::walls::{Draw, fit};
use crate::wave::{Hearing, Seen, Sounding, cost};

/// What waves bring in each of some rooms, its walls as the scene says.
///
/// # Errors
/// [`BassError`]: nobody sounds or hears, somebody lies in no air of these cells, or stopped.
pub fn in_rooms(progress: &Progress, rooms: &[Scene], asked: &BassAsked, crossover: Crossover) -> Result<Vec<LowEnd>, BassError> {
    let seen: Vec<Seen> = rooms.par_iter().map(Seen::new).collect();
    let steps = |seen: &Seen| {
        let step_s = COURANT * cost::spacing(asked.top_hz, seen.room.medium.speed) / seen.room.medium.speed;
        (LONGEST / step_s).ceil() as u64 * seen.room.sources.len() as u64
    };
    progress.begin("waves of the layouts", seen.iter().map(steps).sum());
    let beside = Beside { asked, crossover, runs: seen.iter().map(|seen| seen.room.sources.len()).sum() };
    let walls = walls(&seen, asked.top_hz);
    let of_room = |((scene, seen), walls): ((&Scene, &Seen), &Vec<Admittance>)| one(progress, (scene, seen, walls), beside);
    // A room at a time, so that no thread is left with many of them at the end.
    let heard: Vec<_> = rooms.par_iter().zip(&seen).zip(&walls).with_max_len(1).map(of_room).collect();
    heard.into_iter().collect()
}

/// What the walls of some rooms do, room by room; each finish fitted once, since that takes a fifth of the time of a room.
fn walls(rooms: &[Seen], top: f64) -> Vec<Vec<Admittance>> {
    let mut finishes: Vec<&Finish> = Vec::new();
    let mut number = |finish| {
        finishes.iter().position(|other| *other == finish).unwrap_or_else(|| {
            finishes.push(finish);
            finishes.len() - 1
        })
    };
    let numbers: Vec<Vec<usize>> = rooms.iter().map(|seen| seen.room.finishes.iter().map(&mut number).collect()).collect();
    let fitted: Vec<Admittance> = finishes.into_par_iter().map(|finish| fit(finish, 1.2 * top, Draw::NOMINAL).wall).collect();
    numbers.iter().map(|room| room.iter().map(|&number| fitted[number].clone()).collect()).collect()
}

/// What is the same for all rooms, and how many runs there are.
#[derive(Clone, Copy)]
struct Beside<'a> {
    asked: &'a BassAsked,
    crossover: Crossover,
    runs: usize,
}

/// One of the rooms.
fn one(progress: &Progress, (scene, seen, walls): (&Scene, &Seen, &[Admittance]), beside: Beside<'_>) -> Result<LowEnd, BassError> {
    let Beside { asked, crossover, runs } = beside;
    // Who stops it waits for no room to be cut into cells.
    progress.step(0)?;
    let (room, top) = (&seen.room, asked.top_hz);
    check(room, asked)?;
    let sounding = Sounding::new(seen, walls, cost::spacing(top, room.medium.speed), top).beside(runs);
    let (_, listened, ears) = ears(room);
    let hear = |source: &Emitter| {
        let heard = sounding.hear_in(progress, source.position, &ears, &[]).map_err(|silent| BassError::of(&source.name, silent))?;
        // A room that has rung out is done with the steps of the longest run.
        let ran = (heard.seconds / sounding.stencil.step).round() as u64;
        progress.step(sounding.most_steps().saturating_sub(ran))?;
        Ok(heard)
    };
    let heard: Vec<Result<Hearing, BassError>> = room.sources.par_iter().map(hear).collect();
    let heard: Vec<Hearing> = heard.into_iter().collect::<Result<_, _>>()?;
    let nominal = octaves(room, &listened, &heard, crossover, scene.settings.bin_s);
    Ok(LowEnd { crossover, nominal, pressures: pressures(room, &listened, &heard), beside: None })
}
