//! Low and high joined: what leaves the crossover adds up, levels of waves are those of exact sums and of rays what patterns of walls say, records of known sound give their energy and decay, and the findings of a room say which octaves rest on what.

use std::f64::consts::{PI, TAU};
use std::sync::LazyLock;

use glam::DVec3;
use roomwright::absorbers::impedance::from_random_incidence;
use roomwright::bands::Band;
use roomwright::directivity::Pattern;
use roomwright::findings::{Basis, Findings, Octave};
use roomwright::metrics::decay::{DecayCurve, Tail};
use roomwright::progress::Progress;
use roomwright::random::{Purpose, Stream};
use roomwright::response::Crossover;
use roomwright::response::low::{Listened, ON_AXIS, octaves};
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::study::{self, BassAsked};
use roomwright::wave::{Hearing, Pulse, Record};

use super::bass::MIXING;
use super::edit::read;
use super::shoebox::{SPEED, Shoebox};
use super::support::{Folder, run, taking};
use crate::validation::{Check, hold};

/// Highest frequency of the pulses, and steps that they are sent in.
pub(crate) const TOP: f64 = 250.0;
const STEP: f64 = 7.0e-5;

/// What ears hear of a pulse along ways of their own: lengths in meters and strengths re 1 m.
pub(crate) fn heard(ways: &[Vec<(f64, f64)>], speed: f64, seconds: f64) -> Hearing {
    let pulse = Pulse::new(TOP, STEP);
    let every = pulse.every();
    let peak = TOP / 1.8;
    let sent = |time: f64| {
        let a = (PI * peak * (time - pulse.middle())).powi(2);
        (1.0 - 2.0 * a) * (-a).exp()
    };
    let moments = (seconds / STEP) as usize / every;
    let ear = |ways: &Vec<(f64, f64)>| {
        let at = |moment: usize| ways.iter().map(|(way, strength)| strength * sent((moment * every) as f64 * STEP - way / speed)).sum();
        Record::of(every as f64 * STEP, (1..=moments).map(at).collect())
    };
    Hearing { ears: ways.iter().map(ear).collect(), places: Vec::new(), after: 0, seconds, pulse }
}

/// The box of `bass` with its first source so far from its seat.
fn room() -> Room {
    study::room(&read(MIXING))
}

#[test]
fn keeps_energy_across_the_crossover() {
    let crossover = Crossover::new(400.0, TOP);
    for frequency in (20..2000).map(f64::from) {
        let sum = crossover.waves(frequency).powi(2) + crossover.rays(frequency).powi(2);
        assert!((sum - 1.0).abs() < 1e-12, "{sum} at {frequency} Hz");
    }
    assert!(
        crossover.waves(TOP) < 1e-9 && (crossover.waves(TOP / 2.0_f64.cbrt()) - 1.0).abs() < 1e-9,
        "a third of an octave under the top"
    );
    let shares = Band::ALL.map(|band| crossover.rays_share(band));
    assert_eq!((shares[0], shares[1], shares[3]), (0.0, 0.0, 1.0));
    assert!((0.3..0.8).contains(&shares[2]), "{shares:?}");
    assert!((Crossover::new(120.0, TOP).frequency - 120.0).abs() < 1e-12, "Schroeder's frequency where waves reach it");
}

/// What the free field's energy is in the octaves from 63 to 250 Hz re `1 / (4 pi r^2)` (H. Kuttruff, *Room Acoustics*, chapter 1, from memory), the part of rays put back where the octave is joined; and
/// what of it comes within the time that the octave's filter rings.
pub(crate) fn free_field() -> [[f64; 2]; 3] {
    let room = room();
    let distance = room.sources[0].position.distance(room.receivers[0].position);
    let heard = heard(&[vec![(distance, 1.0 / distance)]], room.medium.speed, 1.0);
    let crossover = Crossover::new(400.0, TOP);
    let of = &octaves(&room, &[Listened { zone: 0..1, axis: None }], &[heard], crossover, 0.0005)[0][0];
    let wanted = 1.0 / (4.0 * PI * distance * distance);
    assert!(of[Band::new(3)].is_empty());
    [0, 1, 2].map(Band::new).map(|band| {
        let energy: f64 = of[band].iter().sum();
        let early: f64 = of[band][..(4.0 / (band.upper() - band.lower()) / 0.0005) as usize].iter().sum();
        [energy / wanted + crossover.rays_share(band), early / energy]
    })
}

/// From the direct sound on, in every octave that is all of waves, and its share in the one that is not.
#[test]
fn exact_energy_of_the_free_field_in_octaves() {
    for [share, early] in free_field() {
        assert!((share - 1.0).abs() < 0.005 && early > 0.95, "{share}, {early} of it early");
    }
}

/// What comes 0.1 s after the direct sound lies there, its middle within a quarter of a millisecond.
#[test]
fn exact_time_of_an_arrival_in_octaves() {
    let room = room();
    let distance = room.sources[0].position.distance(room.receivers[0].position);
    let late = vec![(distance + 0.1 * room.medium.speed, 1.0)];
    let of = &octaves(
        &room,
        &[Listened { zone: 0..1, axis: None }],
        &[heard(&[late], room.medium.speed, 1.0)],
        Crossover::new(400.0, TOP),
        0.0005,
    )[0][0];
    for band in [0, 1, 2].map(Band::new) {
        let energy: f64 = of[band].iter().sum();
        let middle = of[band].iter().enumerate().map(|(bin, value)| (bin as f64 + 0.5) * 0.0005 * value).sum::<f64>() / energy;
        assert!((middle - 0.1).abs() < 0.00025, "{middle} s at {}", band.label());
    }
}

/// Echoes at random moments, one in 0.9 ms, that fall by 60 dB in a known time: that is the decay of every octave.
///
/// One such decay differs from it by chance: `s(T20) / T20 = 0.88 sqrt((1 + 1.90 / n) / (B T20))`, an impulse response as good as `n = 10` decays of noise (ISO 3382-2:2008, annex A, from memory); the mean
/// of so many by their root less. Three of these are allowed.
pub(crate) static ECHOES: LazyLock<Vec<Check>> = LazyLock::new(|| {
    let room = room();
    let (speed, time, seeds) = (room.medium.speed, 0.8, 25);
    let distance = room.sources[0].position.distance(room.receivers[0].position);
    let times = |seed: u64| -> [f64; 3] {
        let mut stream = Stream::new(seed, Purpose::Search, 0);
        let echo = |_| {
            let delay = 1.8 * stream.unit();
            let sign = if stream.unit() < 0.5 { 1.0 } else { -1.0 };
            (distance + speed * delay, sign * 10.0_f64.powf(-3.0 * delay / time) / distance)
        };
        let heard = heard(&[(0..2000).map(echo).collect()], speed, 1.8);
        let of = &octaves(&room, &[Listened { zone: 0..1, axis: None }], &[heard], Crossover::new(400.0, TOP), 0.0005)[0][0];
        [0, 1, 2].map(Band::new).map(|band| {
            let curve = DecayCurve::new(&of[band], 0.0005, Tail::Exponential).expect("it decays");
            curve.t20().expect("it falls by 25 dB")
        })
    };
    let all: Vec<[f64; 3]> = (0..seeds).map(times).collect();
    let row = |band: Band| {
        let one = 0.88 * ((1.0 + 1.90 / 10.0) / ((band.upper() - band.lower()) * time)).sqrt();
        let most = 3.0 * one / (seeds as f64).sqrt();
        Check {
            what: format!("echoes at random that fall by 60 dB in {time} s, octave {}: T20, mean of {seeds} draws, s", band.label()),
            ours: all.iter().map(|times| times[band.index()]).sum::<f64>() / seeds as f64,
            expected: time,
            tolerance: most * time,
            why: "three standard errors of that mean",
            source: "ISO 3382-2:2008, annex A: scatter of T20 of one decay (from memory)",
        }
    };
    [0, 1, 2].map(Band::new).map(row).into()
});

#[test]
fn published_spread_of_decays_of_echoes_in_octaves() {
    hold(&ECHOES);
}

/// Cosines of the angles that a microphone is asked from.
pub(crate) const COSINES: [f64; 4] = [0.5, 0.0, -0.5, -1.0];

/// What a microphone that sends as much alike as along its axis hears from these angles re from before it, as energy.
pub(crate) fn pattern() -> [f64; 4] {
    let mut room = room();
    let distance = room.sources[0].position.distance(room.receivers[0].position);
    room.receivers[0].pattern = Pattern { omni: 0.5 };
    let energy = |cosine: f64| -> f64 {
        // Far away, so that the front is flat: ears on the axis hear it so much sooner or later.
        let ear = |off: f64| vec![(distance - off * cosine, 1.0)];
        let heard = heard(&[ear(0.0), ear(ON_AXIS), ear(-ON_AXIS)], room.medium.speed, 1.0);
        octaves(&room, &[Listened { zone: 0..1, axis: Some(1) }], &[heard], Crossover::new(400.0, TOP), 0.0005)[0][0][Band::new(1)]
            .iter()
            .sum()
    };
    let front = energy(1.0);
    COSINES.map(|cosine| energy(cosine) / front)
}

/// A microphone hears what comes from an angle by `a + (1 - a) cos` (IEC 60268-4, from memory).
#[test]
fn exact_pattern_of_a_microphone() {
    for (cosine, found) in COSINES.into_iter().zip(pattern()) {
        let wanted = (0.5 + 0.5 * cosine).powi(2);
        assert!((found - wanted).abs() < 0.004, "{found} for {wanted} at cos {cosine}");
    }
}

fn asked() -> BassAsked {
    BassAsked { top_hz: 160.0, others: 2, beside_bare: false, ..BassAsked::default() }
}

fn of_octaves(findings: &Findings) -> Vec<&[Octave]> {
    findings.pairs.iter().map(|pair| pair.octaves.as_slice()).collect()
}

fn decibels(energy: f64) -> f64 {
    10.0 * energy.log10()
}

/// Tones of an octave, Hz, and what each counts in the mean over it, besides what `weight` lets pass.
fn passed(band: Band, weight: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    const TONES: usize = 60;
    let (from, to) = (band.lower() / 1.125, band.upper() * 1.125);
    let tones = (0..TONES).map(|tone| from + (to - from) * (tone as f64 + 0.5) / TONES as f64);
    // Borders fall off as the crossover does.
    let begins = |frequency| Crossover { frequency: band.lower() }.rays(frequency);
    let ends = |frequency| Crossover { frequency: band.upper() }.waves(frequency);
    let all: Vec<(f64, f64)> = tones.map(|tone| (tone, (begins(tone) * ends(tone)).powi(2))).collect();
    let whole: f64 = all.iter().map(|(_, share)| share).sum();
    all.into_iter().map(|(tone, share)| (tone, weight(tone) * share / whole)).collect()
}

/// The box of a scene, exactly.
struct Exact {
    room: Room,
    shoebox: Shoebox,
}

impl Exact {
    /// Its walls all take this much of sound from everywhere, as waves have it: an admittance without a phase.
    fn new(scene: &Scene, absorption: f64) -> Self {
        let size = scene.outline.iter().fold(glam::DVec2::ZERO, |most, corner| most.max(*corner)).extend(scene.ceiling[0].height);
        Self { room: study::room(scene), shoebox: Shoebox { size, admittance: 1.0 / from_random_incidence(absorption) } }
    }

    /// Mean square of the pressure re free field at 1 m over some tones.
    fn between(&self, from: DVec3, to: DVec3, tones: &[(f64, f64)]) -> f64 {
        let one = |(tone, share): &(f64, f64)| {
            if *share > 0.0 { share * self.shoebox.transfer(tone * SPEED / self.room.medium.speed, from, to).norm_sqr() } else { 0.0 }
        };
        tones.iter().map(one).sum()
    }

    /// The mean over the zone of the only seat.
    fn at_the_seat(&self, source: usize, tones: &[(f64, f64)]) -> f64 {
        let (from, seat) = (self.room.sources[source].position, &self.room.receivers[0]);
        let radius = seat.zone_radius.expect("a seat has a zone");
        let off = DVec3::AXES.into_iter().flat_map(|axis| [axis * radius, -axis * radius]);
        let zone: Vec<DVec3> = std::iter::once(DVec3::ZERO).chain(off).map(|off| seat.position + off).collect();
        zone.iter().map(|ear| self.between(from, *ear, tones)).sum::<f64>() / zone.len() as f64
    }

    /// By how much a diffuse field is louder at a place, and a source there, for the walls near it: `sin(k d) / (k d)` for each of its own images at a distance `d`, itself among them.
    fn by_walls(&self, at: DVec3, tones: &[(f64, f64)]) -> f64 {
        let kept = (1.0 - self.shoebox.admittance) / (1.0 + self.shoebox.admittance);
        let along = |axis: usize| -> Vec<(f64, i32)> {
            let (length, place) = (2.0 * self.shoebox.size[axis], 2.0 * at[axis]);
            (-2..=2).flat_map(|n: i32| [(f64::from(n) * length, 2 * n.abs()), (f64::from(n) * length - place, (2 * n - 1).abs())]).collect()
        };
        let [x, y, z] = [0, 1, 2].map(along);
        let images = x.iter().flat_map(|x| y.iter().flat_map(|y| z.iter().map(|z| (DVec3::new(x.0, y.0, z.0).length(), x.1 + y.1 + z.1))));
        let of = |(way, bounces): (f64, i32)| {
            let sinc = |turn: f64| if turn == 0.0 { 1.0 } else { turn.sin() / turn };
            let mean = tones.iter().map(|(tone, share)| share * sinc(TAU * tone / self.room.medium.speed * way)).sum::<f64>();
            kept.powi(bounces) * mean
        };
        images.map(of).sum()
    }
}

/// How much the level of a diffuse field, which is what late rays come to, is above the exact one away from walls, decibels, by octaves from 63 Hz; and the ratio of the exact energy to that by Waterhouse's
/// patterns, its mean over pairs of places and the standard error of that. 48 pairs 0.8 m and more from walls that take 0.1, 1 m and more apart.
pub(crate) fn away_from_walls() -> [[f64; 3]; 2] {
    const ABSORPTION: f64 = 0.1;
    let exact = Exact::new(&read(MIXING), ABSORPTION);
    let size = exact.shoebox.size;
    let place = |index: u64| {
        let mut chance = Stream::new(3, Purpose::Search, index);
        0.8 + (size - 1.6) * DVec3::from_array([0, 1, 2].map(|_| chance.unit()))
    };
    let pairs = || (0..).map(|pair| (place(2 * pair), place(2 * pair + 1))).filter(|(from, to)| from.distance(*to) > 1.0).take(48);
    let sides = [(0, 1), (1, 2), (0, 2)];
    let area = |(one, other): (usize, usize)| 2.0 * size[one] * size[other];
    let surface: f64 = sides.into_iter().map(area).sum();
    [0, 1].map(Band::new).map(|band| {
        let (tones, length) = (passed(band, |_| 1.0), exact.room.medium.speed / band.center());
        // Along an edge of a wall the square of the pressure is up to twice that on its middle: the mean over a side.
        let edges = |side: usize| 1.0 + length / (4.0 * size[side]);
        let taken = sides.into_iter().map(|wall| area(wall) * edges(wall.0) * edges(wall.1)).sum::<f64>() / surface;
        let late = 16.0 * PI * (1.0 - ABSORPTION) / (ABSORPTION * surface);
        let of = |(from, to): (DVec3, DVec3)| {
            let (found, direct) = (exact.between(from, to, &tones), from.distance_squared(to).recip());
            let wanted = direct + late * exact.by_walls(from, &tones) * exact.by_walls(to, &tones) / taken;
            (direct + late, found, found / wanted)
        };
        let all: Vec<(f64, f64, f64)> = pairs().map(of).collect();
        let count = all.len() as f64;
        let (rays, found) = all.iter().fold((0.0, 0.0), |(rays, found), one| (rays + one.0, found + one.1));
        let mean = all.iter().map(|one| one.2).sum::<f64>() / count;
        let spread = all.iter().map(|one| (one.2 - mean).powi(2)).sum::<f64>() / (count - 1.0);
        [decibels(rays / found), mean, (spread / count).sqrt()]
    })
}

/// A diffuse field is louder near walls by an interference pattern, and so it is quieter away from them than its mean; a source near walls sends more, one away from them less; and walls take more than
/// they would from what is heard away from them, since pressure doubles once more along their edges (R. V. Waterhouse, J. Acoust. Soc. Am. 27 (1955) 247, and 30 (1958) 4: a source; both from memory).
/// Rays know none of these. Exact sums agree within three standard errors of the mean of 48 pairs; rays are 4.2 and 2.2 dB too loud, where ISO 3741 (from memory) corrects levels by
/// `10 lg (1 + S lambda / 8 V)`, 3.3 and 2.0 dB.
#[test]
fn published_patterns_of_walls_say_what_rays_are_loud_by() {
    for ([loud, ratio, error], band) in away_from_walls().into_iter().zip([0, 1].map(Band::new)) {
        assert!((ratio - 1.0).abs() < 3.0 * error && error < 0.15, "{ratio} +- {error} of the patterns at {}", band.label());
        assert!(loud > decibels(1.0 + 3.0 * error), "{loud} dB too loud at {}: that is chance", band.label());
    }
}

#[test]
fn keeps_rays_above_the_crossover_and_waves_below() {
    let scene: Scene = read(MIXING);
    let with = study::hear_with(&Progress::new(), &scene, Some(&asked())).expect("nobody cancels").0;
    let without = study::hear(&Progress::new(), &scene).expect("nobody cancels").0;
    assert!(without.bass.is_none() && with.bass.as_ref().is_some_and(|bass| (bass.crossover_hz - 142.5).abs() < 0.1));
    for (with, without) in of_octaves(&with).into_iter().zip(of_octaves(&without)) {
        let bases: Vec<Basis> = with.iter().map(|octave| octave.basis).collect();
        assert_eq!(bases[..2], [Basis::Waves, Basis::Joined]);
        assert!(without[..2].iter().all(|octave| octave.basis == Basis::Statistical));
        assert_eq!(with[3..], without[3..], "rays are what they were");
        let waves = &with[0];
        let (time, span) = (waves.t20_s.expect("it decays"), waves.t20_inputs_s.expect("walls are not known"));
        assert!(time.se == 0.0 && span.low < time.value && time.value < span.high, "{time:?} {span:?}");
        assert!(with[1].t20_s.is_some_and(|time| time.se > 0.0), "rays have their part in it");
    }
    // One level: what waves bring is that of the exact sum of the box's modes, within what cells may be off; rays add their share.
    let crossover = Crossover { frequency: with.bass.as_ref().map_or(f64::NAN, |bass| bass.crossover_hz) };
    let exact = Exact::new(&scene, 0.2);
    for ((with, without), source) in of_octaves(&with).into_iter().zip(of_octaves(&without)).zip(0..) {
        for (octave, band) in [0, 1].map(|index| (index, Band::new(index))) {
            let level = |octaves: &[Octave]| octaves[octave].g_db.expect("it is told").value;
            let rays = crossover.rays_share(band) * 10.0_f64.powf(0.1 * level(without)) / 100.0;
            let waves = exact.at_the_seat(source, &passed(band, |frequency| crossover.waves(frequency).powi(2)));
            let off = level(with) - decibels(100.0 * (waves + rays));
            // A third octave of these cells is within 0.3 dB, an octave the mean of three.
            assert!(off.abs() < 0.2, "{off} dB between waves and the exact sum in octave {octave} of source {source}");
        }
    }
    assert!(with.notes[0].contains("crossover") && !with.notes.iter().any(|note| note.contains("statistical reading")), "{:?}", with.notes);
    let asks =
        |findings: &Findings| findings.targets.iter().filter(|target| target.question.starts_with("reverberation of the bass")).count();
    assert_eq!((asks(&with), asks(&without)), (2, 0));
}

/// The default way of the command: waves run, octaves say that they rest on them, and the low end is on the page; without on demand.
#[test]
fn keeps_the_command_with_waves_unless_told_otherwise() {
    let folder = Folder::new("cli-hear-waves");
    folder.put("box.toml", taking(MIXING, 0.2));
    let waves = ["--top", "160", "--others", "0"];
    let ran = run(&folder, &[&["hear", "box.toml"][..], &waves].concat());
    assert_eq!(ran.code, Some(0), "{}{}", ran.out, ran.err);
    assert!(ran.out.contains("The low end") && ran.out.contains("in place of rays below 143 Hz"), "{}", ran.out);
    let findings = |more: &[&str]| -> Findings {
        let ran = run(&folder, &[&["hear", "box.toml", "--json"], more].concat());
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        serde_json::from_str(&ran.out).expect("JSON alone")
    };
    let bases = |findings: &Findings| findings.pairs.iter().map(|pair| [0, 1].map(|octave| pair.octaves[octave].basis)).collect::<Vec<_>>();
    let with = findings(&waves);
    assert!(with.bass.is_some() && bases(&with).iter().all(|bases| *bases == [Basis::Waves, Basis::Joined]), "{:?}", bases(&with));
    let by_rays = findings(&["--rays-only"]);
    assert!(by_rays.bass.is_none() && bases(&by_rays).iter().all(|bases| *bases == [Basis::Statistical; 2]), "{:?}", bases(&by_rays));
}

#[test]
fn keeps_a_plan_without_waves_where_they_cannot_be() {
    let scene = read(MIXING);
    let dear = BassAsked { memory: 1000, ..asked() };
    let findings = study::hear_with(&Progress::new(), &scene, Some(&dear)).expect("nobody cancels").0;
    assert!(findings.bass.is_none() && findings.notes.iter().any(|note| note.contains("was not computed") && note.contains("GB")));
    let plan = study::place_with(&Progress::new(), &scene, Some(&dear)).expect("nobody cancels").plan;
    assert!(plan.before.bass.is_none() && plan.after.bass.is_none() && plan.bass_octaves.is_empty());
    assert!(plan.layouts.iter().all(|layout| layout.faults_steps.bass.is_none()), "nobody knows it");
}

/// A corner panel and a flat one in a small room.
const SMALL: &str = concat!(
    super::support::even_box!("mixing", "[3.1, 2.7, 2.3]", 400, 2, 0),
    r#"[[loudspeaker]]
name = "left"
position = [0.6, 0.5, 0.4]
directivity = "omni"
[[seat]]
name = "seat"
ear = [2.1, 1.4, 1.2]
[[stock]]
name = "corner panel"
kind = "corner"
count = 2
size = [0.6, 1.0]
thickness = 0.1
flow_resistivity = 12000
"#
);

#[test]
fn keeps_the_low_end_before_and_after_a_plan() {
    let scene = read(&taking(SMALL, 0.06));
    let place = |waves: &BassAsked| study::place_with(&Progress::new(), &scene, Some(waves)).expect("nobody cancels").plan;
    let plan = place(&BassAsked { others: 0, ..asked() });
    let [before, after] = [&plan.before, &plan.after].map(|findings| findings.bass.as_ref().expect("they were run"));
    let alone = study::bass(&Progress::new(), &scene, &BassAsked { others: 0, ..asked() }).expect("it can be");
    assert_eq!((&before.stands, before.crossover_hz), (&alone.stands, alone.crossover_hz), "the room stands without panels");
    assert_eq!(after.crossover_hz, alone.crossover_hz, "fixed by the bare room");
    let time = |findings: &Findings| findings.pairs[0].octaves[0].t20_s.expect("it decays").value;
    assert!(!plan.placed.is_empty() && time(&plan.after) < time(&plan.before), "{} {}", time(&plan.before), time(&plan.after));
    assert!(plan.placed.iter().all(|placed| placed.serves.contains("by waves")), "{:?}", plan.placed);
    assert!(plan.notes.iter().any(|note| note.contains("take most from the ring")), "{:?}", plan.notes);
    let bass: Vec<f64> = plan.layouts.iter().map(|layout| layout.faults_steps.bass.expect("all were run").value).collect();
    assert!(
        bass[1] < bass[0] && !plan.bass_octaves.is_empty() && plan.notes.iter().any(|note| note.starts_with("Bass of layouts")),
        "{bass:?}"
    );
}
