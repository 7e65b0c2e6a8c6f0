//! How much a traced ray tells: links of every bounce and crossings after mirrors (classes b and c) against the plain way, where a ray counts whenever it passes
//! through the zone, whatever it met before.
//!
//! Same room, same rays, same zone; class (a) is left out of both, images have it. The plain way is computed here from the stored bounces: the way between two of
//! them, its chord in the ball over the ball's volume, times the ray's energy. Both estimate the same energy, so they must agree in the mean; the ratio of
//! their variances is how many times as many rays the plain way would need.
//!
//! **The room** is a box of 5.1 x 3.9 x 2.6 m that absorbs 0.2 and scatters by octave from 0.05 to 0.7, a zone of 0.3 m, an omnidirectional source. Every ray is followed to
//! the end, its zone the same all along.
//!
//! **Errors.** Means: 4 standard errors of the difference, batch by batch, with more than 70 degrees of freedom; 32 comparisons, one false alarm in 200 choices of seeds.
//! Ratios: with n batches the logarithm of a ratio of two variances has the standard error 2 / sqrt(n) at most (of normal numbers); correlated, as here, it is less.

use std::sync::LazyLock;

use glam::{DVec2, DVec3};
use roomwright::bands::{Band, Bands};
use roomwright::findings::pairs::reverberation;
use roomwright::hanging::Hanging;
use roomwright::progress::Progress;
use roomwright::rays::{Chunk, volume_inside};
use roomwright::response::{Estimate, Resampled, Response};
use roomwright::room::Room;
use roomwright::settings::{BATCHES, Settings};
use roomwright::weigh::{Linings, RayCurve, Traced, weigh_rays};

use crate::rays::uniform_box;
use crate::support::chord;

const SOURCE: DVec3 = DVec3::new(1.2, 1.0, 1.1);
const SEAT: DVec3 = DVec3::new(3.6, 2.7, 1.3);
const RADIUS: f64 = 0.3;
const END_S: f64 = 0.45;
const RAYS: u32 = 10_000;

/// Windows in seconds after the direct sound whose energies are compared.
const WINDOWS: [(f64, f64); 4] = [(0.0, 0.015), (0.015, 0.05), (0.05, 0.1), (0.1, 0.2)];

fn room() -> Room {
    let mut room = uniform_box([5.1, 3.9, 2.6], 0.2, Bands([0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7]), SOURCE, SEAT);
    room.receivers[0].zone_radius = Some(RADIUS);
    room
}

/// What the rays of a batch bring when they pass through the zone, by bin; `member` says which octaves they serve.
fn plain(traced: &Traced, chunk: &Chunk, member: Bands<bool>, curve: &mut [Bands<f64>]) {
    let Traced { room, settings, .. } = traced;
    let volume = volume_inside(room, SEAT, RADIUS);
    let direct = SOURCE.distance(SEAT);
    for ray in 0..chunk.rays.len() {
        let hits = &chunk.hits[chunk.hits_of(ray)];
        let point = |index: usize| {
            let chart = &room.surfaces[usize::from(hits[index].surface)].chart;
            chart.point(DVec2::new(hits[index].position[0].into(), hits[index].position[1].into()))
        };
        let mut energy = member.map(|member| if member { f64::from(chunk.rays[ray].share) } else { 0.0 });
        let mut is_specular = true;
        for (index, hit) in hits.iter().enumerate().take(hits.len().saturating_sub(1)) {
            let finish = &room.finishes[room.surfaces[usize::from(hit.surface)].finish];
            let kept = if hit.went_diffuse() { &finish.diffuse } else { &finish.specular }[usize::from(hit.cosine_bin)];
            energy = energy.zip(kept, |energy, kept| energy * f64::from(kept) / f64::from(hit.chance()));
            is_specular &= !hit.went_diffuse();
            if is_specular && index < usize::from(settings.image_order) {
                continue;
            }
            let (from, to) = (point(index), point(index + 1));
            let inside = chord(from, to, SEAT, RADIUS);
            if inside > 0.0 {
                let middle = f64::from(hit.travelled()) + (SEAT - from).dot((to - from) / from.distance(to));
                let bin = ((middle - direct) / (settings.bin_s * room.medium.speed)).max(0.0) as usize;
                if let Some(sum) = curve.get_mut(bin) {
                    let way = direct + (bin as f64 + 0.5) * settings.bin_s * room.medium.speed;
                    let air = room.medium.attenuation.map(|m| (-m * way).exp());
                    *sum = *sum + energy * air * (inside / volume);
                }
            }
        }
    }
}

/// Both ways with one seed: ours, then the plain one.
fn both(seed: u64) -> [Response; 2] {
    let progress = Progress::new();
    let settings = Settings { seed, rays: RAYS, tail_one_in: 1, early_s: END_S, ..Settings::DEFAULT };
    let traced = Traced::new(&progress, room(), settings, END_S).expect("nobody cancels");
    let linings = Linings::new(&traced.room, &Hanging::default());
    let ours = weigh_rays(&progress, &traced, &linings).expect("nobody cancels").remove(0).remove(0);
    let mut batches = vec![vec![Bands::splat(0.0); ours.batches[0].len()]; BATCHES as usize];
    for (group, sources) in &traced.paths.groups {
        for (chunk, curve) in sources[0].chunks.iter().zip(&mut batches) {
            plain(&traced, chunk, group.member, curve);
        }
    }
    [ours, RayCurve { batches }].map(|rays| Response::new(&traced, &linings, rays, 0, 0))
}

/// The pseudo-values of a figure, one a batch: their mean is the figure but for its bias, their scatter its error.
fn pseudo_values(figure: Option<Resampled<f64>>) -> Vec<f64> {
    let figure = figure.expect("the record supports it");
    let n = f64::from(BATCHES);
    figure.without.iter().map(|without| n * figure.whole - (n - 1.0) * without).collect()
}

/// Ours and the plain way, all batches of all seeds, of one figure.
struct Compared {
    ours: Vec<f64>,
    plain: Vec<f64>,
}

impl Compared {
    fn new(responses: &[[Response; 2]], values: impl Fn(&Response) -> Vec<f64>) -> Self {
        let of = |which: usize| responses.iter().flat_map(|both| values(&both[which])).collect();
        Self { ours: of(0), plain: of(1) }
    }

    /// How far apart.
    fn difference(&self) -> Estimate {
        Estimate::mean(&self.ours.iter().zip(&self.plain).map(|(a, b)| a - b).collect::<Vec<_>>())
    }

    /// The same in its standard errors.
    fn apart(&self) -> f64 {
        let difference = self.difference();
        difference.value / difference.se
    }

    /// Variance of the plain way re ours.
    fn ratio(&self) -> f64 {
        (Estimate::mean(&self.plain).se / Estimate::mean(&self.ours).se).powi(2)
    }
}

/// Both ways with four seeds.
static RESPONSES: LazyLock<Vec<[Response; 2]>> = LazyLock::new(|| (1..=4).map(both).collect());

/// Energy between two times in seconds.
fn energy_within((from, to): (f64, f64), bin_s: f64) -> impl Fn(&Vec<f64>) -> Option<f64> {
    let bins = (from / bin_s).round() as usize..(to / bin_s).round() as usize;
    move |curve| Some(curve[bins.clone()].iter().sum())
}

/// What links and crossings say in an octave re plain crossings, the same rays: what, and the ratio.
pub(crate) fn re_plain(band: Band) -> Vec<(String, Estimate)> {
    let bin_s = RESPONSES[0][0].bin_s;
    let re = |compared: &Compared| {
        let (difference, plain) = (compared.difference(), Estimate::mean(&compared.plain).value);
        Estimate { value: 1.0 + difference.value / plain, se: difference.se / plain }
    };
    let of_window = |&(from, to): &(f64, f64)| {
        let values = |response: &Response| pseudo_values(response.resampled(band).measure(energy_within((from, to), bin_s)));
        (format!("energy {:.0}-{:.0} ms", 1000.0 * from, 1000.0 * to), re(&Compared::new(&RESPONSES, values)))
    };
    let decay = |response: &Response| pseudo_values(reverberation(&response.resampled(band), response.bin_s));
    WINDOWS.iter().map(of_window).chain([("T30".to_owned(), re(&Compared::new(&RESPONSES, decay)))]).collect()
}

/// `SLOW=1` takes ten times the seeds and holds the ratios to `validation/VARIANCE.txt` (`UPDATE_EXPECT=1` writes it; `benches/RESULTS.md` tells what they mean).
#[test]
fn keeps_the_mean_of_plain_crossings_with_less_variance() {
    let slow = std::env::var_os("SLOW").is_some();
    let all: Vec<[Response; 2]>;
    let responses = if slow {
        all = (1..=40).map(both).collect();
        &all
    } else {
        &*RESPONSES
    };
    let mut table = String::from(
        "Variance of plain crossings re that of links and crossings, by octave: energies in windows (ms after the direct sound), T30.\n",
    );
    for band in Band::ALL {
        let mut line = format!("{:>7}", band.label());
        let bin_s = responses[0][0].bin_s;
        for (from, to) in WINDOWS {
            let window = |response: &Response| pseudo_values(response.resampled(band).measure(energy_within((from, to), bin_s)));
            let compared = Compared::new(responses, window);
            assert!(compared.apart().abs() < 4.0, "{}, {from} to {to} s: {} standard errors apart", band.label(), compared.apart());
            line += &format!(" | {:.0}-{:.0}: {:5.1}", 1000.0 * from, 1000.0 * to, compared.ratio());
            // The early window is what links are for: from 250 Hz up the ratio is 2.6 and more, its logarithm's error a fifth.
            assert!(band.index() < 2 || from > 0.0 || compared.ratio() > 1.5, "{}: {line}", band.label());
        }
        let decay = |response: &Response| pseudo_values(reverberation(&response.resampled(band), response.bin_s));
        let compared = Compared::new(responses, decay);
        table += &format!("{line} | T30: {:5.1}\n", compared.ratio());
    }
    if slow {
        expect_test::expect_file!["validation/VARIANCE.txt"].assert_eq(&table);
    }
}
