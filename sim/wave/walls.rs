//! What is a finish to waves: a few passive branches, from its layers or from its row in a table, and how far off may they be?
//!
//! From [`LOWEST`] to a top of about 300 Hz, tone by tone, eight to the octave:
//!
//! - *layers* before a rigid wall: their admittance `1 / Z` at normal incidence, as `absorbers::layers` has it, met in size and phase;
//! - *boards and leaves* (`absorbers::body`): a branch of their mass and of the spring of the air behind them. Its resistance lets it absorb as nearly as a mass, a spring and a resistance can what
//!   the table says at the centers of the octaves, and nowhere more; further branches are what it lacks. Between the centers absorption goes as the board's does, times a factor whose logarithm
//!   is a cubic; the phase is that of the board beside what resists: a spring below its resonance, a mass above;
//! - *any other finish*: the real admittance whose random-incidence absorption is the one that the table or the user gives, `absorbers::impedance`. Between the centers of the octaves its
//!   logarithm is a cubic over that of the frequency; below 63 Hz it is that of 63 Hz. No real locally reacting surface absorbs more than 0.951: more counts as that.
//!
//! *The phase.* A table tells none, and an absorption that changes over frequency has no admittance that is real throughout: what gives way at one frequency is a spring below or a mass above
//! (Bode). So absorption comes first, most of all at the centers of the octaves, where it is known, and the phase is what is asked only as far as that costs nothing.
//!
//! *Members.* What is not known of a wall is drawn: how far off its absorption is, within one standard uncertainty either way ([`Finish::absorption_range`], as everywhere in the program), and
//! how it moves, as far as that is open:
//!
//! - boards: mass and gap each within a factor of 1.3 either way, their resonance as much; what they are made of is named by most rows, how deep the studs are is not;
//! - massive walls: beside what absorbs, from a mass that nothing holds, `1 / (j w m)`, to a spring that gives way as much at 60 Hz and as frequency more or less elsewhere. No wall moves
//!   more than its mass lets it but near its own bending, and below that it is held: 150 to 200 mm of concrete over 4 m x 2.5 m bend first at 55 to 75 Hz, brick at 30 to 55 Hz (plates laid on
//!   their edges, `0.45 c_L h (1 / a^2 + 1 / b^2)`, from memory). Above, the spring is more than such a wall has; it moves modes by a few thousandths there;
//! - all else, a user's materials, carpets, what is porous: a phase within 60 degrees either way (common practice, no source).
//!
//! Each material has its own draw, by its name; members are spread evenly from end to end in each (a Latin hypercube), member 0 is nominal. Of layers the phase is known: their absorption
//! is off by their resistance, and what is stiff or heavy in them stays as far as that can be.
//!
//! *References.* Mass and spring of boards, mass law: text books. Size and phase: H. W. Bode, Network Analysis and Feedback Amplifier Design (1945); cubics that pass nothing: F. N. Fritsch,
//! J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300; sampling: M. D. `McKay`, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239; names as numbers: the FNV-1a hash of G. Fowler, L. C. Noll, K.-P. Vo (all from memory).
//!
//! *Limits.* Locally reacting at all angles: fiber and gaps without partitions carry sound sideways and absorb otherwise from the side, 50 mm of fiber before a wall more, before a gap less
//! ([`Fit::absorption`] shows both). A phase is turned as far as absorption and passive branches let it: by how much is in [`Fit::phase`]. What hangs free is taken by its absorption alone.
//! A table's 63 Hz is filled by rule: a pane or a board that absorbs otherwise there is held to it. The bending of walls is not there. The envelope of the members is about one standard
//! uncertainty, no more.

use std::f64::consts::{FRAC_PI_3, TAU};

use num_complex::Complex64;

use super::admittance::{Admittance, Branch};
use super::branches::{Wanted, nearest};
use super::diffuse::absorbed;
use crate::absorbers::fluid::AIR_IMPEDANCE;
use crate::absorbers::impedance::{GREATEST_ABSORPTION, from_random_incidence};
use crate::absorbers::{Backing, Body, BuildUp, Finish};
use crate::air::REFERENCE_SPEED;
use crate::bands::{BAND_COUNT, Band, Bands};
use crate::random::{Purpose, Stream};

/// The lowest tone that walls are fitted at, Hz.
pub const LOWEST: f64 = 20.0;
/// Tones to the octave.
const TO_THE_OCTAVE: f64 = 8.0;
/// A value of a table counts as so many of the tones between.
const OF_A_VALUE: f64 = 16.0;
/// A wall that gives way less than this re air is rigid: it absorbs 8e-9.
const RIGID: f64 = 1e-9;
/// Absorption that counts as this where other octaves have more: a power of the frequency never comes to 0.
const LEAST_ABSORPTION: f64 = 0.001;
/// Layers that lose nothing are taken to lose this share of what they move.
const LEAST_LOSS: f64 = 1e-3;
/// Phases of what nothing is known of are drawn within this to either side, radians.
const MOST_TURNED: f64 = FRAC_PI_3;
/// Masses and gaps of boards are drawn within this factor to either side.
const MOST_OTHERWISE: f64 = 1.3;
/// Massive walls are held by their springs up to this at least, Hz: the first bending of the usual ones.
const STIFF_UP_TO: f64 = 60.0;
/// Resistances of boards re that of air that are looked at: from that of a pane that loses no more than the air behind takes, in so many steps to the octave, so many octaves up.
const RESISTANCES: (i32, i32) = (16, 12);
/// A board itself absorbs no more than this above what a table says at the center of an octave, by which tables are rounded: nothing beside it could take that back.
const ROUNDED: f64 = 0.01;
/// How much an error of size and phase counts against one of the absorption where the phase is a guess.
const GUESSED: f64 = 0.03;
/// The same where layers are off: none that resist otherwise are quite as stiff (Bode).
const KNOWN_OF_LAYERS: f64 = 0.3;

/// Where a wall may be otherwise than its finish says.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Draw {
    /// Share of the uncertainty of its absorption, -1 to 1.
    pub off: f64,
    /// How much it is like a mass, -1, or like a spring, 1, within what is not known of how it moves: its mass where it is known, else the phase.
    pub turned: f64,
    /// How deep the air behind it is within what is not known, -1 to 1.
    pub depth: f64,
}

/// Which rooms are computed in place of the one that nobody knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ensemble {
    /// What chance begins with.
    pub seed: u64,
    /// Members besides the nominal one, which is member 0.
    pub others: usize,
}

/// A finish as branches.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The branches.
    pub wall: Admittance,
    /// Worst relative error of the admittance re the one asked for, phase included.
    pub error: f64,
    /// Worst relative error of the random-incidence absorption re that of the admittance asked for.
    pub absorption_error: f64,
    /// Mean phase of the admittance over the tones, radians.
    pub phase: f64,
    /// Random-incidence absorption at the centers of octaves up to the top: what the finish says, off as it was drawn, and what the branches have.
    pub absorption: Bands<Option<[f64; 2]>>,
}

impl Draw {
    /// As the finish says.
    pub const NOMINAL: Self = Self { off: 0.0, turned: 0.0, depth: 0.0 };
}

impl Ensemble {
    /// How a material of this name is in a member; member 0 and those beyond the last are nominal.
    #[must_use]
    pub fn draw(&self, member: usize, name: &str) -> Draw {
        let Some(other) = member.checked_sub(1).filter(|other| *other < self.others) else { return Draw::NOMINAL };
        let material = name.bytes().fold(0xCBF2_9CE4_8422_2325, |hash: u64, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3));
        let of =
            |dimension: u64| self.place(other, Stream::new(self.seed, Purpose::Wall, material.wrapping_mul(3).wrapping_add(dimension)));
        Draw { off: of(0), turned: of(1), depth: of(2) }
    }

    /// Where a member stands among the others in an order by lot, from -1 to 1.
    fn place(&self, other: usize, mut chance: Stream) -> f64 {
        let mut order: Vec<usize> = (0..self.others).collect();
        for last in (1..self.others).rev() {
            order.swap(last, (chance.unit() * (last + 1) as f64) as usize);
        }
        if self.others > 1 { 2.0 * order[other] as f64 / (self.others - 1) as f64 - 1.0 } else { 0.0 }
    }
}

/// A finish, off as it was drawn, as branches that hold from [`LOWEST`] to `top` Hz, an octave at least.
#[must_use]
pub fn fit(finish: &Finish, top: f64, draw: Draw) -> Fit {
    let drawn = finish.off_by(draw.off);
    let Asked { tones: asked, known, most, board } = Asked::of(finish, &drawn, top, draw);
    let is_rigid = asked.iter().all(|one| one.admittance.norm() < RIGID);
    let wall = if is_rigid { Admittance::RIGID } else { nearest(&asked, known, board) };
    let shares = asked.iter().map(|one| (one, wall.at_frequency(one.frequency)));
    let worst = |of: fn(Complex64, Complex64) -> f64| {
        if is_rigid { 0.0 } else { shares.clone().map(|(one, has)| of(one.admittance, has)).fold(0.0, f64::max) }
    };
    let octave =
        |band: Band| (band.center() <= top).then(|| [drawn.absorption[band].min(most), absorbed(wall.at_frequency(band.center()))]);
    Fit {
        error: worst(|asked, has| (has / asked - 1.0).norm()),
        absorption_error: worst(|asked, has| (absorbed(has) / absorbed(asked) - 1.0).abs()),
        phase: shares.clone().map(|(_, has)| has.arg()).sum::<f64>() / asked.len() as f64,
        absorption: Bands::from_fn(octave),
        wall,
    }
}

/// A board or a leaf as a branch, of this resistance re the air; `None` of a massive wall.
#[must_use]
pub fn branch(body: &Body, resistance: f64) -> Option<Branch> {
    let spring = match *body {
        Body::Board { gap, .. } => REFERENCE_SPEED / gap,
        Body::Leaf { .. } => 0.0,
        Body::Massive { .. } => return None,
    };
    Some(Branch { mass: body.mass() / AIR_IMPEDANCE, resistance, spring })
}

/// What branches are asked to be.
struct Asked {
    tones: Vec<Wanted>,
    /// How much an error of size and phase counts.
    known: f64,
    /// More absorption than this counts as this.
    most: f64,
    /// A branch whose mass and spring are known.
    board: Option<Branch>,
}

impl Asked {
    /// Of a finish, which absorbs as `drawn` does.
    fn of(finish: &Finish, drawn: &Finish, top: f64, draw: Draw) -> Self {
        let tabled = |tones: Vec<Wanted>| Self { tones, known: GUESSED, most: GREATEST_ABSORPTION, board: None };
        if let Some(layers) = finish.build_up.as_deref().filter(|build_up| build_up.backing == Backing::Rigid) {
            let known = if draw.off == 0.0 { 1.0 } else { KNOWN_OF_LAYERS };
            let tones = of_layers(layers, top, finish.absorption.zip(drawn.absorption, ratio));
            return Self { tones, known, most: 1.0, board: None };
        }
        match finish.body.map(|body| otherwise(&body, draw)) {
            Some(body @ Body::Massive { .. }) => {
                tabled(of_absorption(drawn, top, |frequency, absorption| beside(absorption, yielding(&body, frequency, draw.turned))))
            }
            Some(body) if let Some(board) = damped(&body, &drawn.absorption, top) => {
                Self { board: Some(board), ..tabled(of_board(drawn, top, board)) }
            }
            // Nothing is known, or the board alone would absorb more than the table says whatever its resistance.
            _ => tabled(of_absorption(drawn, top, |_, absorption| turned(absorption, MOST_TURNED * draw.turned))),
        }
    }
}

/// A board or leaf as it was drawn.
fn otherwise(body: &Body, draw: Draw) -> Body {
    let times = |share: f64| MOST_OTHERWISE.powf(share);
    match *body {
        Body::Board { mass, gap } => Body::Board { mass: mass * times(-draw.turned), gap: gap * times(draw.depth) },
        Body::Leaf { mass } => Body::Leaf { mass: mass * times(-draw.turned) },
        massive @ Body::Massive { .. } => massive,
    }
}

/// The admittance that a massive wall has by moving as a whole, from a mass that nothing holds, at -1, to a spring that gives as much at [`STIFF_UP_TO`], at 1.
fn yielding(body: &Body, frequency: f64, turned: f64) -> Complex64 {
    let law = if turned < 0.0 { 1.0 / body.inertia(frequency) } else { frequency / STIFF_UP_TO / body.inertia(STIFF_UP_TO) };
    Complex64::new(0.0, turned * law)
}

/// A board with the resistance that lets it absorb as nearly as it can what is asked at the centers of the octaves, and nowhere more; `None` where it cannot.
fn damped(body: &Body, absorption: &Bands<f64>, top: f64) -> Option<Branch> {
    let (steps, octaves) = RESISTANCES;
    let all = (0..=steps * octaves).filter_map(|step| branch(body, (f64::from(step) / f64::from(steps)).exp2()));
    let rated = all.filter_map(|branch| {
        let both = || centers(top).map(|band| (absorbed(branch.at(Complex64::new(0.0, TAU * band.center()))), absorption[band]));
        let is_less = both().all(|(own, asked)| own <= asked + ROUNDED);
        is_less.then(|| (both().map(|(own, asked)| (own / asked).ln().powi(2)).sum::<f64>(), branch))
    });
    rated.min_by(|(off, _), (other, _)| off.total_cmp(other)).map(|(_, branch)| branch)
}

/// Octaves whose centers are known and below the top.
fn centers(top: f64) -> impl Iterator<Item = Band> {
    Band::ALL.into_iter().filter(move |band| band.center() <= top)
}

/// Tones from the lowest to the top.
fn tones(top: f64) -> impl Iterator<Item = f64> {
    let octaves = (top / LOWEST).log2().max(1.0);
    let count = (octaves * TO_THE_OCTAVE).ceil() as i32;
    (0..=count).map(move |index| LOWEST * (octaves * f64::from(index) / f64::from(count)).exp2())
}

/// What part of a value is left.
fn ratio(value: f64, other: f64) -> f64 {
    if value > 0.0 { other / value } else { 1.0 }
}

/// Layers as they are, with as much more or less resistance as makes their absorption that many times what it is.
fn of_layers(build_up: &BuildUp, top: f64, times: Bands<f64>) -> Vec<Wanted> {
    let of = |frequency: f64| {
        let impedance = build_up.surface_impedance(frequency, 1.0);
        let exact = if impedance.is_finite() { impedance.inv() } else { Complex64::ZERO };
        let own = Complex64::new(exact.re.max(LEAST_LOSS * exact.norm()), exact.im);
        let absorption = absorbed(own);
        let factor = smooth(&times, frequency);
        if factor == 1.0 || absorption <= 0.0 {
            return Wanted { frequency, admittance: own, weight: 1.0 };
        }
        let with = |resistance: f64| Complex64::new(resistance, own.im);
        let real = meeting(factor * absorption, own.re, |resistance| absorbed(with(resistance)));
        Wanted { frequency, admittance: with(real), weight: 1.0 }
    };
    tones(top).map(of).collect()
}

/// What absorbs as a finish does, with the admittance that is made of a frequency and of what is absorbed there.
fn of_absorption(finish: &Finish, top: f64, made: impl Fn(f64, f64) -> Complex64) -> Vec<Wanted> {
    let logarithm = finish.absorption.map(|absorption| (1.0 / from_random_incidence(absorption.max(LEAST_ABSORPTION))).ln());
    wanted(finish, top, |frequency| made(frequency, absorbed(smooth(&logarithm, frequency).exp().into())))
}

/// What absorbs as a finish does at the centers of the octaves and between them as a board with as much more or less as it takes there: what the board lacks resists beside it, where it
/// absorbs too much there is less of it.
fn of_board(finish: &Finish, top: f64, board: Branch) -> Vec<Wanted> {
    let at = |frequency: f64| board.at(Complex64::new(0.0, TAU * frequency));
    let logarithm =
        Bands::from_fn(|band| (finish.absorption[band].clamp(LEAST_ABSORPTION, GREATEST_ABSORPTION) / absorbed(at(band.center()))).ln());
    wanted(finish, top, |frequency| {
        let (own, factor) = (at(frequency), smooth(&logarithm, frequency).exp());
        let absorption = factor * absorbed(own);
        if factor > 1.0 { beside(absorption, own) } else { turned(absorption, own.arg()) }
    })
}

/// Tones from the lowest to the top and, weighing more, the centers of the octaves; nothing gives way where nothing is absorbed.
fn wanted(finish: &Finish, top: f64, admittance: impl Fn(f64) -> Complex64) -> Vec<Wanted> {
    let absorbs = Band::ALL.into_iter().any(|band| band.lower() < top && finish.absorption[band] > 0.0);
    let all = tones(top).map(|tone| (tone, 1.0)).chain(centers(top).map(|band| (band.center(), OF_A_VALUE)));
    let of = |(frequency, weight)| Wanted { frequency, admittance: if absorbs { admittance(frequency) } else { Complex64::ZERO }, weight };
    all.map(of).collect()
}

/// What is known at the centers of the octaves, at a frequency in Hz: cubic over its logarithm, with no value beyond those that it lies between, level below the first.
fn smooth(known: &Bands<f64>, frequency: f64) -> f64 {
    let rise = |index: usize| if index > 0 && index < BAND_COUNT { known.0[index] - known.0[index - 1] } else { 0.0 };
    // Harmonic means of the rises at both sides, level where these are of different signs: no cubic then passes what it joins.
    let slope = |index: usize| {
        let (before, after) = (rise(index), rise(index + 1));
        if before * after > 0.0 { 2.0 * before * after / (before + after) } else { 0.0 }
    };
    let place = ((frequency / Band::ALL[0].center()).log10() / 0.3).clamp(0.0, (BAND_COUNT - 1) as f64);
    let low = (place as usize).min(BAND_COUNT - 2);
    let (share, rest) = (place - low as f64, 1.0 - place + low as f64);
    known.0[low] + share * share * (3.0 - 2.0 * share) * rise(low + 1) + share * rest * (rest * slope(low) - share * slope(low + 1))
}

/// The admittance of the harder surface that absorbs so much and has this phase, or as much of it as one that absorbs so much can have.
fn turned(absorption: f64, phase: f64) -> Complex64 {
    let at = |phase: f64| move |size: f64| absorbed(Complex64::from_polar(size, phase));
    let reaches = |phase: f64| at(phase)(peak(at(phase))) >= absorption;
    let phase = if reaches(phase) { phase } else { phase * halved(0.0, 1.0, |share| !reaches(share * phase)) };
    Complex64::from_polar(meeting(absorption, 0.0, at(phase)), phase)
}

/// What absorbs so much where this gives way beside a resistance.
fn beside(absorption: f64, own: Complex64) -> Complex64 {
    own + meeting(absorption, 0.0, |real| absorbed(own + real))
}

/// Logarithms of the least and the most admittance that is looked at.
const SEARCHED: (f64, f64) = (-14.0, 4.0);

/// Where a quantity that rises and then falls reaches `wanted`, on the side of the peak that `from` is on; the peak where it never does.
fn meeting(wanted: f64, from: f64, of: impl Fn(f64) -> f64) -> f64 {
    let top = peak(&of);
    if of(top) <= wanted {
        return top;
    }
    let far = if from > top { SEARCHED.1 } else { SEARCHED.0 };
    halved(top.ln(), far, |logarithm| of(logarithm.exp()) < wanted).exp()
}

/// Where a quantity that rises and then falls is largest, by the golden section over the logarithm.
fn peak(of: impl Fn(f64) -> f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = SEARCHED;
    while high - low > 1e-4 {
        let apart = GOLDEN * (high - low);
        if of((high - apart).exp()) < of((low + apart).exp()) {
            low = high - apart;
        } else {
            high = low + apart;
        }
    }
    (0.5 * (low + high)).exp()
}

/// Where something begins to hold between `not` and `yes`.
fn halved(mut not: f64, mut yes: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..40 {
        let middle = 0.5 * (not + yes);
        if holds(middle) {
            yes = middle;
        } else {
            not = middle;
        }
    }
    not
}
