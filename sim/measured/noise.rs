//! Where a decay goes down in the noise of its record.
//!
//! After Lundeby and others, over squared samples from the arrival of the direct sound on: means over intervals; noise from the last tenth of the record; a line through the levels from the
//! loudest interval down to 10 dB above the noise; then, eight times: intervals of a fifth of the time of 10 dB; noise from 10 dB beyond the crossing to the end, a tenth of the record at the least;
//! a line through the levels between 27 and 7 dB above the noise, which is taken off them; where that line meets the noise, the record is cut.
//!
//! What remains of noise before the cut goes by weighing each sample with the share that the line has of line and noise, `1 / (1 + e^(k (t - t_cut)))`, `k` the rate of the line: of an exponential in noise that is the decay,
//! on the mean. What lies beyond the cut is the rest of the line, `noise / k`.
//!
//! A record whose end still decays as the line does (its last part falls by more than half of what the line falls, and by 1 dB at the least) has met no noise: it is cut at its end, nothing is
//! weighed, and the rest of the line follows.
//!
//! A decay that ends at once, so that two intervals later and from there on all is 20 dB and more below where it would be, was cut by whoever made the record, not by a room: the record is taken as if it ended there.
//! Where ten times as much lies beyond the cut as the line says, and a thousandth of all, the line is not that of the decay: the first guess stands in for it, and where that is no better nothing is told.
//!
//! *References.* A. Lundeby, T. E. Vigran, H. Bietz, M. Vorländer, Acustica 81 (1995) 344 (from memory; the weighing is our own, in place of the subtraction of noise that others do).
//! ISO 3382-1:2009, 5.3.3 on the rest beyond the cut (from memory). What tells an early end and a line that is astray (20 and 35 dB; ten times, a thousandth) is our own choice, no source:
//! `tests/cliff.rs` holds it to decays that were cut and to decays that were not.
//!
//! *Limits.* Steady noise. The compensation knows the late decay only: a decay that bends below the cut is told as if it did not.

/// How often the crossing is sought anew.
const ROUNDS: usize = 8;

/// Levels above the noise, dB, that the late line goes through.
const LATE_DB: (f64, f64) = (27.0, 7.0);

/// How far below the decay all that comes after its end is, dB.
const CLIFF_DB: f64 = 20.0;

/// What is cut away holds less than all of it by so much, dB: T20 needs a range of 35. What follows the step of the direct sound, and a late echo, are no end.
const BEYOND_DB: f64 = 35.0;

/// What lies beyond the cut is more than so many times what the line says, and more than this share of all.
const ASTRAY: [f64; 2] = [10.0, 1e-3];

/// Intervals to a fall of 10 dB.
const INTERVALS: f64 = 5.0;

/// Shortest first interval, seconds.
const FIRST_S: f64 = 0.010;

/// Where the decay meets the noise, in samples from the arrival on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Mean square of the noise; 0 where the record ends before the decay meets any.
    pub noise: f64,
    /// Where the record is cut, samples.
    pub place: f64,
    /// Rate of the late decay: energy falls as `e^(-rate t)`, 1/sample.
    pub rate: f64,
    /// Mean square of the late decay at the cut.
    pub late: f64,
}

impl Cut {
    /// Finds the cut of squared samples at `rate_hz` that hold a band `width_hz` wide; `None` where no decay stands out of the noise.
    #[must_use]
    pub fn find(squares: &[f64], rate_hz: f64, width_hz: f64) -> Option<Self> {
        let finest = (0.5 * rate_hz / width_hz).max(4.0);
        let first = (FIRST_S * rate_hz).max(2.0 * finest);
        let squares = cliff(squares, first).map_or(squares, |end| &squares[..end]);
        let length = squares.len();
        let mut noise = last_tenth(squares);
        let mut line = first_line(squares, noise, first)?;
        let guessed = Self::of(line, noise, length as f64);
        for _ in 0..ROUNDS {
            let ten_db = -10.0 / line.slope;
            let cross = line.falls_to(decibels(noise)).clamp(0.0, length as f64);
            let quiet = ((cross + ten_db) as usize).min(length - length / 10);
            noise = mean(&squares[quiet.min(length - 1)..]);
            let decays_on = still_decays(&squares[quiet.min(length - 1)..], -line.slope);
            let (cross, taken) = if decays_on { (length as f64, 0.0) } else { (cross, noise) };
            let (from, to) = (cross - 0.1 * LATE_DB.0 * ten_db, cross - 0.1 * LATE_DB.1 * ten_db);
            let levels = levels(squares, (ten_db / INTERVALS).max(finest), taken);
            let Some(next) = Line::through(levels.into_iter().filter(|(time, _)| (from..to).contains(time))) else { break };
            line = next;
            if decays_on {
                noise = 0.0;
            }
        }
        [Self::of(line, noise, length as f64), guessed].into_iter().find(|cut| !cut.is_astray(squares))
    }

    /// Whether far more lies beyond it than its line says.
    fn is_astray(&self, squares: &[f64]) -> bool {
        let beyond: f64 = squares[(self.place as usize).min(squares.len())..].iter().map(|square| square - self.noise).sum();
        beyond > ASTRAY[0] * self.beyond() && beyond > ASTRAY[1] * squares.iter().sum::<f64>()
    }

    fn of(line: Line, noise: f64, length: f64) -> Self {
        let rate = -line.slope * std::f64::consts::LN_10 / 10.0;
        let place = if noise > 0.0 { line.falls_to(decibels(noise)).clamp(0.0, length) } else { length };
        Self { noise, place, rate, late: 10.0_f64.powf(0.1 * line.at(place)) }
    }

    /// Share of the decay in the energy at a place, samples from the arrival on: nothing beyond the cut.
    #[must_use]
    pub fn share(&self, place: f64) -> f64 {
        if place >= self.place {
            0.0
        } else if self.noise > 0.0 {
            1.0 / (1.0 + (self.rate * (place - self.place)).exp())
        } else {
            1.0
        }
    }

    /// What is left of the late decay beyond the cut, sample by sample over 60 dB.
    pub fn rest(&self) -> impl Iterator<Item = f64> {
        let (late, rate) = (self.late, self.rate);
        let samples = (6.0 * std::f64::consts::LN_10 / rate).ceil().min(1e7) as usize;
        (0..samples).map(move |sample| late * (-rate * sample as f64).exp())
    }

    /// Energy beyond the cut.
    #[must_use]
    pub fn beyond(&self) -> f64 {
        self.late / -(-self.rate).exp_m1()
    }
}

/// A line through levels: dB over samples.
#[derive(Clone, Copy, Debug)]
struct Line {
    slope: f64,
    start: f64,
}

impl Line {
    /// The line of least squares; `None` for fewer than three points or where it does not fall.
    fn through(points: impl Iterator<Item = (f64, f64)>) -> Option<Self> {
        let (mut count, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (time, level) in points {
            count += 1.0;
            x += time;
            y += level;
            xx += time * time;
            xy += time * level;
        }
        let slope = (count * xy - x * y) / (count * xx - x * x);
        (count >= 3.0 && slope < 0.0).then(|| Self { slope, start: (y - slope * x) / count })
    }

    fn at(self, time: f64) -> f64 {
        self.start + self.slope * time
    }

    fn falls_to(self, level: f64) -> f64 {
        (level - self.start) / self.slope
    }
}

fn decibels(energy: f64) -> f64 {
    10.0 * energy.max(f64::MIN_POSITIVE).log10()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Level over intervals of so many samples, at their middles, with the noise taken off; intervals that hold no more than noise are left out.
fn levels(squares: &[f64], interval: f64, noise: f64) -> Vec<(f64, f64)> {
    let samples = (interval as usize).max(1);
    let middle = 0.5 * (samples - 1) as f64;
    let of_chunk = |(index, chunk): (usize, &[f64])| ((index * samples) as f64 + middle, mean(chunk) - noise);
    let all = squares.chunks_exact(samples).enumerate().map(of_chunk);
    all.filter(|(_, energy)| *energy > 0.0).map(|(time, energy)| (time, decibels(energy))).collect()
}

/// Noise as the last tenth of a record has it.
fn last_tenth(squares: &[f64]) -> f64 {
    mean(&squares[squares.len() - (squares.len() / 10).max(1).min(squares.len())..])
}

/// Where a decay ends at once, samples: all that comes later is far below.
fn cliff(squares: &[f64], interval: f64) -> Option<usize> {
    let samples = (interval as usize).max(1);
    let levels: Vec<f64> = squares.chunks_exact(samples).map(|chunk| decibels(mean(chunk))).collect();
    let loudest = (0..levels.len()).max_by(|a, b| levels[*a].total_cmp(&levels[*b]))?;
    // The loudest that is still to come.
    let mut to_come = levels.clone();
    (0..levels.len().saturating_sub(1)).rev().for_each(|index| to_come[index] = levels[index].max(to_come[index + 1]));
    let whole: f64 = squares.iter().sum();
    let ends = |&index: &usize| {
        let fall = (levels[loudest] - to_come[index]) / (index - loudest) as f64;
        // The interval that it ends in holds a part of it.
        to_come[index] - 2.0 * fall - to_come[index + 2] >= CLIFF_DB
            && squares[index * samples..].iter().sum::<f64>() <= 10.0_f64.powf(-0.1 * BEYOND_DB) * whole
    };
    (loudest + 1..levels.len().saturating_sub(2)).find(ends).map(|index| index * samples)
}

/// The first guess of the line: from the loudest interval down to 10 dB above the noise, in intervals fine enough to hold four of them.
fn first_line(squares: &[f64], noise: f64, mut interval: f64) -> Option<Line> {
    let lowest = decibels(noise) + 10.0;
    while interval >= 4.0 {
        let levels = levels(squares, interval, 0.0);
        let loudest = (0..levels.len()).max_by(|a, b| levels[*a].1.total_cmp(&levels[*b].1))?;
        let falling: Vec<_> = levels[loudest..].iter().copied().take_while(|(_, level)| *level > lowest).collect();
        if falling.len() >= 4 {
            return Line::through(falling.into_iter());
        }
        interval *= 0.5;
    }
    None
}

/// Whether the end of a record falls as the decay does, by so many dB a sample.
fn still_decays(end: &[f64], fall: f64) -> bool {
    let half = end.len() / 2;
    let expected = fall * half as f64;
    let found = decibels(mean(&end[..half])) - decibels(mean(&end[half..]));
    half > 0 && found > (0.5 * expected).max(1.0)
}
