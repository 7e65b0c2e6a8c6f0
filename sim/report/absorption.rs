//! Absorption over frequency of samples side by side: in a diffuse field, octave by octave with its range and as a curve, and at normal incidence.
//!
//! A sample is told from the others by its number, its line (solid, dashed, dotted) and its shade; nothing hangs on hue alone. Squares are octaves of a material, circles are octaves
//! of layers; hollow ones were filled by rule or lie beyond what the model was fitted on. Whiskers are set
//! aside from the middle of their octave so that they stand beside each other. What a chart on screen needs to be the same stands here, too: where a frequency comes, how a line
//! looks, where its number goes.
//!
//! *Limits.* Straight lines between the octaves of a material join them and say nothing about what lies between.

use glam::DVec2;

use crate::bands::{Band, Bands};
use crate::study::absorbers::{Absorbers, AbsorptionCurve, Sample, SampleKind};
use crate::units::LengthUnit;

use super::axis::Marks;
use super::paper::{self, Color};
use super::plot::{self, Plot};
use super::svg::{Area, Drawing, Lettering, Look};
use super::text::absorbers::made_of;

/// Frequencies drawn, Hz.
pub const FREQUENCIES: [f64; 2] = [50.0, 10_000.0];

/// Size of a frame, mm.
const FRAME: DVec2 = DVec2::new(134.0, 58.0);

/// Left edge of the list of samples, mm, and its width.
const LIST: [f64; 2] = [164.0, 62.0];

/// Shade, dash and gap of the lines (mm), in turn: neighbors differ in both.
pub const LINES: [(Color, [f64; 2]); 6] = [
    (paper::INK, [0.0, 0.0]),
    (paper::ACCENT, [2.6, 1.0]),
    (paper::SOFT, [0.0, 0.0]),
    (paper::INK, [0.9, 0.9]),
    (paper::ACCENT, [0.0, 0.0]),
    (paper::SOFT, [2.6, 1.0]),
];

/// Which of its values a frame shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Field {
    /// With sound from everywhere.
    #[default]
    Diffuse,
    /// With sound straight on.
    Normal,
}

impl Field {
    /// For print.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::Diffuse => "in a diffuse field",
            Self::Normal => "at normal incidence",
        }
    }

    /// The absorption coefficient of a sample by octave.
    #[must_use]
    pub fn octaves(self, sample: &Sample) -> Bands<f64> {
        match self {
            Self::Diffuse => sample.absorption,
            Self::Normal => sample.absorption_normal,
        }
    }

    /// The line of a sample: frequencies in Hz and absorption coefficients, those of its curve or else of its octaves.
    #[must_use]
    pub fn line(self, sample: &Sample) -> Vec<(f64, f64)> {
        let on_curve = |curve: &AbsorptionCurve| {
            let values = if self == Self::Diffuse { &curve.absorption_diffuse } else { &curve.absorption_normal };
            curve.frequency_hz.iter().copied().zip(values.iter().copied()).collect()
        };
        let octaves = self.octaves(sample);
        sample.curve.as_ref().map_or_else(|| Band::ALL.map(|band| (band.center(), octaves[band])).to_vec(), on_curve)
    }

    /// The highest mark of the axis: a multiple of a fifth that no value or whisker passes, 1 at least.
    #[must_use]
    pub fn top(self, samples: &[Sample]) -> f64 {
        let ends = |sample: &Sample| match self {
            Self::Diffuse => sample.absorption_range.map(|range| range.high),
            Self::Normal => sample.absorption_normal,
        };
        let highest = samples.iter().flat_map(|sample| ends(sample).0).filter(|value| value.is_finite()).fold(1.0, f64::max);
        (5.0 * highest - 1e-6).ceil().max(5.0) / 5.0
    }

    /// Where its number may stand on the line of a sample, as [`place`] and value, the best first: between the octaves, where no whisker stands, and farthest
    /// from the lines of others; what is `enough` away is as good as any.
    #[must_use]
    pub fn number_places(self, sample: &Sample, samples: &[Sample], enough: f64) -> Vec<[f64; 2]> {
        let points = |sample: &Sample| -> Vec<[f64; 2]> { self.line(sample).into_iter().map(|(hz, value)| [place(hz), value]).collect() };
        let others: Vec<Vec<[f64; 2]>> = samples.iter().filter(|other| other.number != sample.number).map(points).collect();
        let far = |at: &[f64; 2]| others.iter().map(|line| distance(*at, line)).fold(enough, f64::min);
        let own = points(sample);
        let between = Band::ALL.windows(2).map(|two| 0.5 * (place(two[0].center()) + place(two[1].center())));
        let mut places: Vec<[f64; 2]> = between.filter_map(|x| crossing(&own, x)).collect();
        places.sort_by(|one, other| far(other).total_cmp(&far(one)));
        places
    }
}

/// The chart; lengths in `unit`.
#[must_use]
pub fn svg(answer: &Absorbers, unit: LengthUnit) -> String {
    let samples = &answer.samples;
    let lines: Vec<Vec<(String, Lettering)>> = samples.iter().map(|sample| described(sample, unit)).collect();
    let list_height: f64 = lines.iter().map(|lines| 4.6 + 3.5 * lines.len() as f64).sum();
    let height = (2.0 * FRAME.y + 62.0).max(list_height + 46.0);
    let mut page = Drawing::new(LIST[0] + LIST[1] + 6.0, height, paper::CARD);
    let head = match &samples[..] {
        [only] => format!("{}: what it absorbs", only.name),
        _ => "What absorbers absorb, side by side".to_owned(),
    };
    plot::title(&mut page, &head, "absorption coefficient by frequency in Hz; whiskers: one standard uncertainty to either side");
    let upper = frame(24.0, Field::Diffuse.top(samples));
    let lower = frame(24.0 + FRAME.y + 22.0, Field::Normal.top(samples));
    for (frame, field) in [(upper, Field::Diffuse), (lower, Field::Normal)] {
        axes(&mut page, &frame, field.label());
        for sample in samples {
            draw(&mut page, &frame, sample, field, samples.len());
        }
        frame.draw_base(&mut page);
        for sample in samples {
            number(&mut page, &frame, sample, samples, field);
        }
    }
    list(&mut page, samples, &lines);
    page.finish()
}

/// Where a frequency in Hz comes on the axis: decades over the lowest.
#[must_use]
pub fn place(frequency: f64) -> f64 {
    (frequency / FREQUENCIES[0]).log10()
}

fn frame(top: f64, most: f64) -> Plot {
    Plot {
        area: Area::new(20.0, top, FRAME.x, FRAME.y),
        x: Marks { low: 0.0, high: place(FREQUENCIES[1]), step: 1.0 },
        y: Marks { low: 0.0, high: most, step: 0.2 },
    }
}

fn axes(page: &mut Drawing, frame: &Plot, name: &str) {
    frame.draw_y(page, "absorption coefficient");
    let letters = Lettering::new(paper::SMALL, paper::INK).middle();
    for band in Band::ALL {
        let (foot, top) = (frame.at(place(band.center()), frame.y.low), frame.at(place(band.center()), frame.y.high));
        page.line(foot, top, Look::line(paper::LINE, 0.15));
        page.text(foot + DVec2::new(0.0, 3.9), &band.nominal().to_string(), letters);
    }
    // One is what a surface without edges can absorb at most.
    page.line(frame.at(0.0, 1.0), frame.at(frame.x.high, 1.0), Look::line(paper::SOFT, 0.25));
    page.text(DVec2::new(frame.area.middle().x, frame.area.high.y + 8.0), "Hz", Lettering::new(paper::SMALL, paper::QUIET).middle());
    page.text(frame.area.low + DVec2::new(0.0, -1.6), name, Lettering::new(paper::SMALL, paper::INK).bold());
}

/// The line of a sample.
fn look(number: usize, width: f64) -> Look {
    let (color, [dash, gap]) = LINES[(number.max(1) - 1) % LINES.len()];
    Look::line(color, width).dashed(dash, gap)
}

/// Points of its line in a frame.
fn points(frame: &Plot, sample: &Sample, field: Field) -> Vec<DVec2> {
    field.line(sample).into_iter().map(|(frequency, value)| frame.at(place(frequency), value)).collect()
}

fn draw(page: &mut Drawing, frame: &Plot, sample: &Sample, field: Field, count: usize) {
    let is_material = sample.kind == SampleKind::Material;
    page.polyline(&points(frame, sample, field), look(sample.number, if is_material { 0.25 } else { 0.5 }));
    let color = LINES[(sample.number.max(1) - 1) % LINES.len()].0;
    // Whiskers stand beside each other; marks without one stand where they belong.
    let step = if field == Field::Diffuse { (7.0 / count as f64).min(1.3) } else { 0.0 };
    let aside = (sample.number as f64 - 0.5 * (count as f64 + 1.0)) * step;
    let octaves = field.octaves(sample);
    for band in Band::ALL {
        let at = frame.at(place(band.center()), octaves[band]) + DVec2::new(aside, 0.0);
        if field == Field::Diffuse {
            let range = sample.absorption_range[band];
            whisker(page, at.x, frame.at(0.0, range.low).y, frame.at(0.0, range.high).y, color);
        } else if !is_material {
            // The curve says more than a mark on it.
            continue;
        }
        let inside = if sample.extrapolated[band] { paper::CARD } else { color };
        mark(page, at, is_material, Look::fill(inside).edged(color, 0.3));
    }
}

fn whisker(page: &mut Drawing, x: f64, low: f64, high: f64, color: Color) {
    let look = Look::line(color, 0.22);
    page.line(DVec2::new(x, low), DVec2::new(x, high), look);
    for end in [low, high] {
        page.line(DVec2::new(x - 0.6, end), DVec2::new(x + 0.6, end), look);
    }
}

fn mark(page: &mut Drawing, at: DVec2, is_material: bool, look: Look) {
    if is_material {
        page.rect(Area::new(at.x - 0.75, at.y - 0.75, 1.5, 1.5), look);
    } else {
        page.circle(at, 0.75, look);
    }
}

/// Its number on its line, where that is farthest from the other lines.
fn number(page: &mut Drawing, frame: &Plot, sample: &Sample, samples: &[Sample], field: Field) {
    // 30 mm.
    let enough = 30.0 / FRAME.y * frame.y.high;
    let color = LINES[(sample.number.max(1) - 1) % LINES.len()].0;
    let letters = Lettering::new(paper::BODY, color).bold().middle().rim(paper::CARD);
    let places = field.number_places(sample, samples, enough);
    let lowered: Vec<DVec2> = places.into_iter().map(|[x, value]| frame.at(x, value) + DVec2::new(0.0, 0.95)).collect();
    page.text_where_free(&lowered, &sample.number.to_string(), letters);
}

/// The point of a line at this x.
fn crossing(line: &[[f64; 2]], x: f64) -> Option<[f64; 2]> {
    let pair = line.windows(2).find(|pair| (pair[0][0]..=pair[1][0]).contains(&x))?;
    let [from, to] = [pair[0], pair[1]];
    let share = if to[0] > from[0] { (x - from[0]) / (to[0] - from[0]) } else { 0.0 };
    Some([x, from[1] + (to[1] - from[1]) * share])
}

/// From a point straight up or down to a line.
fn distance(at: [f64; 2], line: &[[f64; 2]]) -> f64 {
    crossing(line, at[0]).map_or(f64::INFINITY, |other| (other[1] - at[1]).abs())
}

/// What the list says of a sample, each line with its letters.
fn described(sample: &Sample, unit: LengthUnit) -> Vec<(String, Lettering)> {
    let [bold, quiet] = letters();
    let width = LIST[1] - 14.0;
    let name = bold.wrap(&sample.name, width).into_iter().take(3).map(|line| (line, bold));
    let price = sample.price_per_m2.map_or_else(String::new, |price| format!("; {price:.2} per m2"));
    let more = quiet.wrap(&format!("{}{price}", made_of(sample, unit)), width).into_iter().take(5).map(|line| (line, quiet));
    name.chain(more).collect()
}

/// Letters of names, and of all else.
fn letters() -> [Lettering; 2] {
    [Lettering::new(paper::SMALL, paper::INK).bold(), Lettering::new(paper::SMALL, paper::QUIET)]
}

fn list(page: &mut Drawing, samples: &[Sample], lines: &[Vec<(String, Lettering)>]) {
    let [bold, quiet] = letters();
    let mut y = 26.0;
    for (sample, lines) in samples.iter().zip(lines) {
        let at = DVec2::new(LIST[0], y);
        page.text(at, &sample.number.to_string(), bold);
        let middle = at + DVec2::new(7.5, -0.85);
        let is_material = sample.kind == SampleKind::Material;
        page.line(middle - DVec2::new(3.5, 0.0), middle + DVec2::new(3.5, 0.0), look(sample.number, if is_material { 0.25 } else { 0.5 }));
        let color = LINES[(sample.number.max(1) - 1) % LINES.len()].0;
        mark(page, middle, is_material, Look::fill(color).edged(color, 0.3));
        for (line, letters) in lines {
            page.text(DVec2::new(LIST[0] + 14.0, y), line, *letters);
            y += 3.5;
        }
        y += 4.6;
    }
    let marks = "hollow: filled by rule, or beyond what the model was fitted on; squares: a material by octave, lines only join them; \
                 circles: layers, mean over the octave";
    for line in quiet.wrap(marks, LIST[1]) {
        page.text(DVec2::new(LIST[0], y), &line, quiet);
        y += 3.4;
    }
}
