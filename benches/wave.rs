//! Steps of the wave solver in cells a second, beside the memory stream of the same traffic: read one value, read and write another.
//!
//! Two rooms: a box of 200 x 150 x 100 cells, and the attic in cells of 50 mm; their walls are real admittances, give way like a board on studs all over, or are what the rooms are made of. One run on one
//! thread, one on two, and two side by side as the program makes them. The stream goes over as many values as the box has, in turns with the steps, on as many threads; the ratio of each turn is told.
//!
//! *Limits.* Cells of solid count for nothing. What else runs on the machine takes from both.

use criterion::Criterion;
use roomwright::progress::Progress;
use roomwright::room::{Bodies, Room, build};
use roomwright::scene::{RoomSize, Scene, read, starter};
use roomwright::wave::walls::{Draw, fit};
use roomwright::wave::{Admittance, Branch, Cells, Driving, Field, Grid, Layout, Listening, Stencil};

use super::attic::{self, median, now};

const NAME: &str = "wave/steps beside the memory stream (cells)";
const SPACING: f64 = 0.05;
/// Steps of a turn, and turns.
const STEPS: usize = 64;
const TURNS: usize = 15;
/// Walls are fitted up to a fifth over this, Hz.
const TOP_HZ: f64 = 250.0;
/// Values that the stream goes over: two fields of 12 MB, more than caches of the processor's own hold.
const VALUES: usize = 200 * 150 * 100;

pub(crate) fn benches(_: &mut Criterion) {
    if !attic::asked(&[NAME]) {
        return;
    }
    let size = RoomSize::read("10x7.5x5m").expect("it is a size");
    let boxed = read(&starter("box", &size)).expect("the box reads").0;
    let boxed = Scene { blocks: Vec::new(), ..boxed };
    let rooms = [("box of 200 x 150 x 100", build(&boxed, Bodies::All)), ("attic", attic::bare_room(&attic::scene()))];
    for (name, room) in &rooms {
        let own = room.finishes.iter().map(|finish| fit(finish, 1.2 * TOP_HZ, Draw::NOMINAL).wall).collect();
        let walls = [("real", alike(room, &Admittance::real(0.02))), ("boards", alike(room, &boards())), ("its own", own)];
        for (kind, walls) in &walls {
            for (runs, threads) in [(1, 1), (1, 2), (2, 1)] {
                turn(&format!("wave/{name}, {kind} walls, {runs} run(s) of {threads} thread(s)"), (room, walls), (runs, threads));
            }
        }
    }
}

/// All walls of one kind.
fn alike(room: &Room, wall: &Admittance) -> Vec<Admittance> {
    vec![wall.clone(); room.finishes.len()]
}

/// A board on studs that resonates at 80 Hz, and a little loss beside.
fn boards() -> Admittance {
    let mass: f64 = 9.0 / 413.0;
    Admittance {
        branches: vec![Branch { mass, resistance: 4.0, spring: mass * (std::f64::consts::TAU * 80.0).powi(2) }, Branch::real(0.01)],
    }
}

fn turn(name: &str, (room, walls): (&Room, &[Admittance]), (runs, threads): (usize, usize)) {
    let cells = Cells::new(room, Grid::over(room, SPACING));
    let stencil = Stencil::new(&cells, room.medium.speed, walls);
    let air = stencil.mass.iter().filter(|mass| **mass > 0.0).count();
    let mut fields: Vec<Field<f32>> = (0..runs).map(|_| Field::new(Layout::new(&cells.grid, &stencil))).collect();
    let (mut one, mut other) = (vec![0.5_f32; VALUES], vec![0.25_f32; VALUES]);
    let rates: Vec<[f64; 2]> = (0..TURNS)
        .map(|_| {
            let begin = now();
            std::thread::scope(|scope| {
                for field in &mut fields {
                    scope.spawn(|| field.run(&Progress::new(), threads, Driving::NONE, Listening::NONE, STEPS).expect("nobody cancels"));
                }
            });
            let ours = (runs * air * STEPS) as f64 / begin.elapsed().as_secs_f64();
            let begin = now();
            let rounds = 12;
            let part = VALUES / (runs * threads);
            std::thread::scope(|scope| {
                for (one, other) in one.chunks_mut(part).zip(other.chunks_mut(part)) {
                    scope.spawn(move || {
                        for _ in 0..rounds {
                            one.iter_mut().zip(&*other).for_each(|(one, other)| *one = 0.25 * other - *one);
                            std::hint::black_box(&mut *one);
                        }
                    });
                }
            });
            [ours, (rounds * VALUES) as f64 / begin.elapsed().as_secs_f64()]
        })
        .collect();
    let of = |which: usize| median(rates.iter().map(|rate| rate[which] / 1e9).collect());
    let ratio = median(rates.iter().map(|rate| rate[0] / rate[1]).collect());
    attic::say(&format!("{name}: {:.2} Gcell/s, stream {:.2} G/s, ratio {ratio:.2} ({air} cells)", of(0), of(1)));
}
