//! Do rays that are aimed earn their keep, and do more of them tell as much more as they should?
//!
//! Each shipped scene is heard with more and more rays a source, one round each, once with every ray drawn alone in any direction
//! (`Leaving::Even`), once aimed (`Leaving::Aimed`: one ray in each piece of the sphere, more into the beam and to and fro between walls).
//! Scatter is the standard deviation from seed to seed, as a root mean square over pairs of source and receiver and, where there are such,
//! octaves: of T30 in percent of what 400,000 aimed rays give in the mean, of early level and strength in dB. Variance falls as one over
//! the number of rays where each is drawn alone, so the ratio of the two variances is how many times the rays the aimed ones save.
//!
//! Scatter alone would praise a way that never meets the rays that matter; so it is told how far its mean over the seeds is from that of
//! 400,000 aimed rays.
//!
//! It takes twenty minutes and more on one core and runs only if `cargo bench -- convergence` asks for it by name, never in a plain `cargo
//! bench`; `convergence/attic` is one scene alone. `UPDATE_PICTURE=1` draws `benches/convergence.svg` anew where all scenes are heard.
//! Nothing but the times depends on the machine's load.
//!
//! **Errors.** Of a variance: jackknife of its logarithm over the seeds, pairs and octaves of a seed left out together since they share its
//! rays. No two figures share a seed, so the errors of a ratio's two variances, and of an exponent's four scatters, add in squares.
//!
//! *Limits.* A T30 counts only where all seeds print it, both ways and with all numbers of rays. Pieces, beam and cones are set together,
//! so what each of them brings is not told.
//!
//! *References.* Jackknife: R. G. Miller, Biometrika 61 (1974) 1 (from memory).

use criterion::Criterion;
use glam::DVec2;
use roomwright::findings::{Estimate, Octave, Pair};
use roomwright::progress::Progress;
use roomwright::report::axis::Marks;
use roomwright::report::paper;
use roomwright::report::plot::{self, Plot};
use roomwright::report::sheet::grouped;
use roomwright::report::svg::{Area, Drawing, Lettering, Look, number};
use roomwright::scene::{Scene, read};
use roomwright::settings::{Leaving, Settings};
use roomwright::study;

use super::attic;

const SCENES: [(&str, &str); 3] = [
    ("convergence/attic voice room", attic::TEXT),
    ("convergence/basement mix room", include_str!("../scenes/basement-mix-room.toml")),
    ("convergence/L-shaped rehearsal room", include_str!("../scenes/l-shaped-rehearsal-room.toml")),
];

/// Rays of each source, with as many seeds.
const COUNTS: [(u32, usize); 4] = [(6_250, 48), (25_000, 48), (100_000, 48), (400_000, 24)];

const WAYS: [(&str, Leaving); 2] = [("each drawn alone", Leaving::Even), ("aimed", Leaving::Aimed)];
/// Which of them the means are compared with.
const AIMED: usize = 1;

/// A figure that is looked at.
struct Figure {
    name: &'static str,
    unit: &'static str,
    /// Whether its scatter is a share of it, in percent.
    is_relative: bool,
    /// Its values at one pair.
    of_pair: fn(&Pair) -> Vec<Option<f64>>,
}

const FIGURES: [Figure; 3] = [
    Figure { name: "T30", unit: "%", is_relative: true, of_pair: |pair| by_octave(pair, |octave| octave.t30_s) },
    Figure { name: "Early level", unit: "dB", is_relative: false, of_pair: |pair| vec![Some(pair.early_level_db.value)] },
    Figure { name: "Strength G", unit: "dB", is_relative: false, of_pair: |pair| by_octave(pair, |octave| octave.g_db) },
];

/// Values of the three figures, by pair or by pair and octave, in one hearing.
type Heard = [Vec<Option<f64>>; 3];

/// How a figure of a scene settles: by number of rays, then by way.
struct Convergence {
    scatter: Vec<[Scatter; 2]>,
    off: Vec<[Estimate; 2]>,
    /// So many pairs, or pairs and octaves, of so many.
    counted: [usize; 2],
}

/// A root mean square standard deviation from seed to seed.
#[derive(Clone, Copy)]
struct Scatter {
    value: f64,
    /// Standard error of the logarithm of its square.
    error: f64,
}

pub(crate) fn benches(_: &mut Criterion) {
    // The empty name is asked for where there is no filter, and then everything is.
    let asked: Vec<_> = SCENES.into_iter().filter(|(name, _)| attic::asked(&[name]) && !attic::asked(&[""])).collect();
    let found: Vec<(&str, [Convergence; 3])> = asked.into_iter().map(|(name, text)| (name, of_scene(name, text))).collect();
    if found.len() == SCENES.len() && std::env::var_os("UPDATE_PICTURE").is_some() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/convergence.svg");
        std::fs::write(path, picture(&found)).expect("it can be written");
    }
}

/// Hears a scene again and again and prints what is found as rows of two tables.
fn of_scene(name: &str, text: &str) -> [Convergence; 3] {
    let scene = read(text).expect("the shipped scene reads").0;
    let mut heard: Vec<[Vec<Heard>; 2]> = Vec::new();
    for (index, &(rays, seeds)) in COUNTS.iter().enumerate() {
        let mut user = Vec::new();
        heard.push([0, 1].map(|way| {
            let first_seed = 1000 * (2 * index + way + 1) as u64;
            let before = attic::user_s(attic::OWN);
            let heard = (0..seeds as u64).map(|seed| hear(&scene, rays, WAYS[way].1, first_seed + seed)).collect();
            user.extend(attic::user_s(attic::OWN).zip(before).map(|(after, before)| 1e3 * (after - before) / seeds as f64));
            heard
        }));
        let times: Vec<String> = user.iter().zip(WAYS).map(|(user, (way, _))| format!("{user:.0} ms {way}")).collect();
        attic::say(&format!("{name}, {} rays a source: user {} a hearing ({seeds} seeds)", grouped(rays), times.join(", ")));
    }
    let found = [0, 1, 2].map(|figure| Convergence::new(&heard, figure));
    table(name, &found);
    found
}

/// One hearing.
fn hear(scene: &Scene, rays: u32, leaving: Leaving, seed: u64) -> Heard {
    let settings = Settings { seed, rays, rounds: 1, leaving, ..scene.settings.clone() };
    let (findings, _) = study::hear(&Progress::new(), &Scene { settings, ..scene.clone() }).expect("nobody cancels");
    FIGURES.map(|figure| findings.pairs.iter().flat_map(figure.of_pair).collect())
}

fn by_octave(pair: &Pair, of: impl Fn(&Octave) -> Option<Estimate>) -> Vec<Option<f64>> {
    pair.octaves.iter().map(|octave| of(octave).map(|estimate| estimate.value)).collect()
}

impl Convergence {
    /// Of a figure, by what was heard with each number of rays each way.
    fn new(heard: &[[Vec<Heard>; 2]], figure: usize) -> Self {
        let all = heard[0][0][0][figure].len();
        let is_printed = |cell: &usize| heard.iter().flatten().flatten().all(|heard| heard[figure][*cell].is_some());
        let cells: Vec<usize> = (0..all).filter(is_printed).collect();
        let values = |heard: &Vec<Heard>| -> Vec<Vec<f64>> {
            heard.iter().map(|heard| cells.iter().filter_map(|&cell| heard[figure][cell]).collect()).collect()
        };
        let most = values(&heard[heard.len() - 1][AIMED]);
        let wanted: Vec<f64> = (0..cells.len()).map(|cell| most.iter().map(|seed| seed[cell]).sum::<f64>() / most.len() as f64).collect();
        let departure = |(&value, &wanted): (&f64, &f64)| (value - wanted) * if FIGURES[figure].is_relative { 100.0 / wanted } else { 1.0 };
        let departures = |heard: &Vec<Heard>| -> Vec<Vec<f64>> {
            values(heard).iter().map(|seed| seed.iter().zip(&wanted).map(departure).collect()).collect()
        };
        let mean = |seed: &Vec<f64>| seed.iter().sum::<f64>() / seed.len() as f64;
        let off = |heard: &Vec<Heard>| Estimate::mean(&departures(heard).iter().map(mean).collect::<Vec<_>>());
        Self {
            scatter: heard.iter().map(|ways| ways.each_ref().map(|heard| Scatter::new(&departures(heard)))).collect(),
            off: heard.iter().map(|ways| ways.each_ref().map(off)).collect(),
            counted: [cells.len(), all],
        }
    }

    /// How many times the rays the aimed ones save: geometric mean over the numbers of rays, as its logarithm and standard error.
    fn saving(&self) -> (f64, f64) {
        let each = 1.0 / self.scatter.len() as f64;
        self.scatter
            .iter()
            .map(|[even, aimed]| even.ratio(*aimed))
            .fold((0.0, 0.0_f64), |(sum, error), (log, of_one)| (sum + each * log, error.hypot(each * of_one)))
    }

    /// The power of the number of rays that the scatter goes by: slope and its standard error of the straight line through the logarithms.
    fn exponent(&self, way: usize) -> (f64, f64) {
        let along: Vec<f64> = COUNTS.iter().map(|&(rays, _)| f64::from(rays).ln()).collect();
        let middle = along.iter().sum::<f64>() / along.len() as f64;
        let squares: f64 = along.iter().map(|x| (x - middle).powi(2)).sum();
        let levers = along.iter().map(|x| (x - middle) / squares).zip(&self.scatter);
        levers.fold((0.0, 0.0_f64), |(slope, error), (lever, ways)| {
            (slope + lever * ways[way].value.ln(), error.hypot(lever * 0.5 * ways[way].error))
        })
    }
}

impl Scatter {
    /// Of figures by seed.
    fn new(seeds: &[Vec<f64>]) -> Self {
        let n = seeds.len() as f64;
        let without: Vec<f64> = (0..seeds.len()).map(|left_out| variance(seeds, Some(left_out)).ln()).collect();
        let mean = without.iter().sum::<f64>() / n;
        let squares: f64 = without.iter().map(|log| (log - mean).powi(2)).sum();
        Self { value: variance(seeds, None).sqrt(), error: ((n - 1.0) / n * squares).sqrt() }
    }

    /// How many times the variance of the other: the logarithm and its standard error.
    fn ratio(self, other: Self) -> (f64, f64) {
        (2.0 * (self.value / other.value).ln(), self.error.hypot(other.error))
    }
}

/// A ratio, and where it lies with one standard error to each side, by its logarithm.
fn told((log, error): (f64, f64)) -> String {
    format!("{:.1} ({:.1}-{:.1})", log.exp(), (log - error).exp(), (log + error).exp())
}

/// Variance of each figure from seed to seed, in the mean over figures; one seed may be left out.
fn variance(seeds: &[Vec<f64>], left_out: Option<usize>) -> f64 {
    let figures = seeds[0].len();
    let of = |figure: usize| {
        let kept: Vec<f64> = seeds.iter().enumerate().filter(|(seed, _)| Some(*seed) != left_out).map(|(_, seed)| seed[figure]).collect();
        let mean = kept.iter().sum::<f64>() / kept.len() as f64;
        kept.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (kept.len() - 1) as f64
    };
    (0..figures).map(of).sum::<f64>() / figures as f64
}

/// Scatter, saving and exponents of a scene, then how far the means are off.
fn table(name: &str, found: &[Convergence; 3]) {
    let row = |head: &str, cell: &dyn Fn(&Convergence) -> String| {
        attic::say(&format!("| {head} | {} |", found.iter().map(cell).collect::<Vec<_>>().join(" | ")));
    };
    let heads = FIGURES.map(|figure| format!("{}, {}", figure.name, figure.unit));
    attic::say(&format!("{name}: scatter each drawn alone, aimed: ratio of the variances (one standard error to each side)"));
    attic::say(&format!("| rays a source (seeds) | {} |\n| --- | --- | --- | --- |", heads.join(" | ")));
    for (index, (rays, seeds)) in COUNTS.into_iter().enumerate() {
        row(&format!("{} ({seeds})", grouped(rays)), &|found| {
            let [even, aimed] = found.scatter[index];
            format!("{}, {}: {}", digits(even.value), digits(aimed.value), told(even.ratio(aimed)))
        });
    }
    row("all four, geometric mean", &|found| told(found.saving()));
    row("goes by the power", &|found| {
        let [even, aimed] = [0, 1].map(|way| found.exponent(way)).map(|(slope, error)| format!("{slope:.2} ± {error:.2}"));
        format!("{even}, {aimed}")
    });
    row("counted", &|found| format!("{} of {}", found.counted[0], found.counted[1]));
    attic::say(&format!("{name}: mean off that of {} aimed rays", grouped(COUNTS[COUNTS.len() - 1].0)));
    for (index, (rays, _)) in COUNTS.into_iter().enumerate() {
        row(&grouped(rays), &|found| {
            let [even, aimed] = found.off[index].map(|off| format!("{:+.*} ± {}", decimals(off.se), off.value, digits(off.se)));
            // The last aimed ones are what the others are compared with.
            if index + 1 == COUNTS.len() { format!("{even}, -") } else { format!("{even}, {aimed}") }
        });
    }
}

/// A value with two digits.
fn digits(value: f64) -> String {
    format!("{value:.*}", decimals(value))
}

/// Places behind the point of two digits.
fn decimals(value: f64) -> usize {
    (1.0 - value.log10().floor()).clamp(0.0, 4.0) as usize
}

// The picture.

/// Places of the panels, a row a scene and a column a figure, mm.
const FIRST: DVec2 = DVec2::new(19.0, 36.0);
const STEP: DVec2 = DVec2::new(71.0, 62.0);
const PANEL: DVec2 = DVec2::new(55.0, 46.0);
/// Room beside the outermost points, as a factor.
const ROOM: f64 = 1.4;

/// Scatter by rays, both logarithmic.
fn picture(found: &[(&str, [Convergence; 3])]) -> String {
    let mut page = Drawing::new(FIRST.x + 3.0 * STEP.x - 9.0, FIRST.y + found.len() as f64 * STEP.y - 1.0, paper::CARD);
    plot::title(
        &mut page,
        "Scatter by rays: each drawn alone, or aimed",
        "scatter: standard deviation from seed to seed, root mean square over pairs and octaves; bars: one standard error",
    );
    legend(&mut page);
    for (column, figure) in FIGURES.iter().enumerate() {
        let values = found.iter().flat_map(|(_, found)| found[column].scatter.iter().flatten());
        let logs: Vec<f64> = values.map(|scatter| scatter.value.log10()).collect();
        let y = marks(logs.iter().copied().fold(f64::MAX, f64::min), logs.iter().copied().fold(f64::MIN, f64::max));
        let x = marks(f64::from(COUNTS[0].0).log10(), f64::from(COUNTS[COUNTS.len() - 1].0).log10());
        for (row, (name, found)) in found.iter().enumerate() {
            let at = FIRST + STEP * DVec2::new(column as f64, row as f64);
            let frame = Plot { area: Area { low: at, high: at + PANEL }, x, y };
            let name = name.split_once('/').map_or(*name, |(_, scene)| scene);
            axes(&mut page, &frame, &format!("{}, {}", figure.name, name), &format!("scatter, {}", figure.unit));
            (0..WAYS.len()).for_each(|way| curve(&mut page, &frame, &found[column].scatter, way));
        }
    }
    page.finish()
}

/// From a little under one logarithm to a little over another.
fn marks(low: f64, high: f64) -> Marks {
    Marks { low: low - ROOM.log10(), high: high + ROOM.log10(), step: 1.0 }
}

/// Line, radius of the points and points of a way: told apart without color, by dashes and by rings that show round points of the other.
fn looks(way: usize) -> (Look, f64, Look) {
    if way == AIMED {
        (Look::line(paper::ACCENT, 0.5), 0.65, Look::fill(paper::ACCENT))
    } else {
        (Look::line(paper::INK, 0.4).dashed(1.8, 1.1), 1.1, Look::fill(paper::CARD).edged(paper::INK, 0.35))
    }
}

fn legend(page: &mut Drawing) {
    let letters = Lettering::new(paper::BODY, paper::INK);
    let mut at = DVec2::new(8.0, 23.0);
    let mut entry = |text: &str, line: Look, point: Option<(f64, Look)>| {
        page.line(at - DVec2::new(0.0, 0.9), at + DVec2::new(12.0, -0.9), line);
        if let Some((radius, point)) = point {
            page.circle(at + DVec2::new(6.0, -0.9), radius, point);
        }
        page.text(at + DVec2::new(14.0, 0.0), text, letters);
        at.x += 14.0 + letters.length(text) + 8.0;
    };
    for (way, text) in ["each ray drawn alone, all directions alike", "aimed, one in each piece of the sphere"].into_iter().enumerate() {
        let (line, radius, point) = looks(way);
        entry(text, line, Some((radius, point)));
    }
    entry("as one over the root of the rays", Look::line(paper::PALE, 0.2), None);
}

/// Frame, scales, and lines along which scatter falls as one over the root of the number of rays, each half as high as the one before.
fn axes(page: &mut Drawing, frame: &Plot, head: &str, name: &str) {
    let Plot { area, x, y } = frame;
    let corners = [area.low, DVec2::new(area.high.x, area.low.y), area.high, DVec2::new(area.low.x, area.high.y)];
    page.clipped(&corners, |page| {
        let fall = 0.5 * (x.high - x.low);
        for step in 0..40 {
            let from = area.low + DVec2::new(0.0, area.size().y * (2.0_f64.log10() * f64::from(step) - fall) / (y.high - y.low));
            page.line(from, from + DVec2::new(area.size().x, area.size().y * fall / (y.high - y.low)), Look::line(paper::PALE, 0.2));
        }
    });
    page.polygon(&corners, Look::line(paper::SOFT, 0.25));
    page.text(area.low - DVec2::new(0.0, 1.8), head, Lettering::new(paper::BODY, paper::INK).bold());
    let small = Lettering::new(paper::SMALL, paper::INK);
    for (rays, _) in COUNTS {
        let at = frame.at(f64::from(rays).log10(), y.low);
        page.line(at, at - DVec2::new(0.0, 1.2), Look::line(paper::INK, 0.25));
        page.text(at + DVec2::new(0.0, 3.4), &grouped(rays), small.middle());
    }
    let values = (-4..4).flat_map(|power| [1.0, 2.0, 5.0].map(|first| first * 10.0_f64.powi(power)));
    for value in values.filter(|value| (y.low..=y.high).contains(&value.log10())) {
        let at = frame.at(x.low, value.log10());
        page.line(at, at + DVec2::new(1.2, 0.0), Look::line(paper::INK, 0.25));
        page.text(at + DVec2::new(-1.2, 0.9), &number(value), small.end());
    }
    let quiet = Lettering::new(paper::SMALL, paper::QUIET).middle();
    page.text(DVec2::new(area.middle().x, area.high.y + 7.4), "rays a source", quiet);
    page.text(DVec2::new(area.low.x - 9.0, area.middle().y), name, quiet.upright());
}

fn curve(page: &mut Drawing, frame: &Plot, scatter: &[[Scatter; 2]], way: usize) {
    let (line, radius, point) = looks(way);
    let at = |index: usize, factor: f64| frame.at(f64::from(COUNTS[index].0).log10(), (factor * scatter[index][way].value).log10());
    let points: Vec<DVec2> = (0..scatter.len()).map(|index| at(index, 1.0)).collect();
    page.polyline(&points, line);
    for (index, &place) in points.iter().enumerate() {
        let factor = (0.5 * scatter[index][way].error).exp();
        page.line(at(index, factor), at(index, 1.0 / factor), Look { dash: [0.0; 2], width: 0.3, ..line });
        page.circle(place, radius, point);
    }
}
