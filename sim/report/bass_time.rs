//! How a response dies away: level over time and frequency, the room as it stands beside the bare one.
//!
//! *Limits.* As in `findings::bass`: left of the dashed line a band shows its own filter rather than the room.

use glam::DVec2;

use super::axis::Marks;
use super::bass::NAMED;
use super::heatmap::bar;
use super::paper::{self, Colormap};
use super::plot::{self, Plot};
use super::svg::{Area, Drawing, Lettering, Look};
use super::text::bass::heading;
use crate::findings::bass::{BassOverTime, BassResponse, FALLEN_DB};

/// Steps of color.
const LEVELS: usize = 40;
/// Half of what bands lie apart, octaves.
const HALF: f64 = 1.0 / 12.0;
/// Width of both frames together and between them, mm.
const WIDTH: [f64; 2] = [142.0, 8.0];

/// The map of a response; nothing where it is not told.
#[must_use]
pub fn svg(response: &BassResponse, bare: Option<&BassResponse>) -> Option<String> {
    let own = response.over_time.as_ref()?;
    let bare = bare.and_then(|bare| bare.over_time.as_ref());
    let all: Vec<(&BassOverTime, &str)> =
        if let Some(bare) = bare { vec![(own, "with all that hangs"), (bare, "bare")] } else { vec![(own, "as it stands")] };
    let ends = |(told, _): &(&BassOverTime, &str)| 1e3 * told.step_s * told.levels_db.iter().map(Vec::len).max().unwrap_or(0) as f64;
    let until = all.iter().map(ends).fold(0.0, f64::max);
    let mut page = Drawing::new(170.0, 110.0, paper::CARD);
    plot::title(&mut page, &heading(response), "how it dies away: level in bands a third of an octave wide, re the loudest");
    let width = (WIDTH[0] - WIDTH[1] * (all.len() - 1) as f64) / all.len() as f64;
    let (lowest, highest) = (*own.bands_hz.first()?, *own.bands_hz.last()?);
    for (index, (told, name)) in all.iter().enumerate() {
        let frame = Plot {
            area: Area::new(20.0 + index as f64 * (width + WIDTH[1]), 24.0, width, 58.0),
            x: Marks { low: 0.0, high: until, step: until },
            y: Marks { low: lowest.log2() - HALF, high: highest.log2() + HALF, step: 1.0 },
        };
        page.text(DVec2::new(frame.area.low.x, 21.5), name, Lettering::new(paper::BODY, paper::INK).bold());
        page.rect(frame.area, Look::fill(paper::NONE));
        paint(&mut page, &frame, told);
        axes(&mut page, &frame, index == 0);
    }
    let marks = Marks { low: -FALLEN_DB, high: 0.0, step: 10.0 };
    bar(&mut page, DVec2::new(20.0, 99.0), 80.0, ("dB re the loudest", marks), |share| Colormap::Magma.color(share));
    let quiet = Lettering::new(paper::SMALL, paper::QUIET);
    let key = format!("steps of {:.0} ms; left of the dashes: as long as the filter itself", 1e3 * own.step_s);
    for (index, line) in quiet.wrap(&key, 54.0).iter().enumerate() {
        page.text(DVec2::new(108.0, 99.0 + 3.3 * index as f64), line, quiet);
    }
    Some(page.finish())
}

/// Levels, and how long the filters are.
fn paint(page: &mut Drawing, frame: &Plot, told: &BassOverTime) {
    let mut cells: Vec<Vec<Vec<DVec2>>> = vec![Vec::new(); LEVELS];
    for (band, levels) in told.bands_hz.iter().zip(&told.levels_db) {
        for (step, level) in levels.iter().enumerate() {
            let share = (level / FALLEN_DB + 1.0).clamp(0.0, 1.0);
            let begin = 1e3 * told.step_s * step as f64;
            let Area { low, high } = frame.box_between((begin, band.log2() - HALF), (begin + 1e3 * told.step_s, band.log2() + HALF));
            cells[(share * (LEVELS - 1) as f64).round() as usize].push(vec![
                low,
                DVec2::new(high.x, low.y),
                high,
                DVec2::new(low.x, high.y),
            ]);
        }
    }
    for (level, cells) in cells.iter().enumerate().filter(|(_, cells)| !cells.is_empty()) {
        page.cells(cells, Look::fill(Colormap::Magma.color(level as f64 / (LEVELS - 1) as f64)));
    }
    let filters: Vec<DVec2> = told.bands_hz.iter().zip(&told.widths_hz).map(|(band, width)| frame.at(1e3 / width, band.log2())).collect();
    page.polyline(&filters, Look::line(paper::INK, 0.6));
    page.polyline(&filters, Look::line(paper::CARD, 0.35).dashed(1.4, 0.9));
}

/// Time below; frequencies beside the first frame.
fn axes(page: &mut Drawing, frame: &Plot, is_first: bool) {
    let (area, letters) = (frame.area, Lettering::new(paper::SMALL, paper::INK));
    let times = Marks::round(0.0, frame.x.high, (area.size().x / 14.0) as usize);
    for time in times.values().into_iter().filter(|time| *time <= frame.x.high) {
        let at = frame.at(time, frame.y.low);
        page.line(at, at + DVec2::new(0.0, 1.0), Look::line(paper::INK, 0.2));
        page.text(at + DVec2::new(0.0, 3.9), &times.print(time), letters.middle());
    }
    let quiet = Lettering::new(paper::SMALL, paper::QUIET).middle();
    page.text(DVec2::new(area.middle().x, area.high.y + 8.0), "time, ms", quiet);
    for frequency in NAMED.into_iter().filter(|frequency| (frame.y.low..=frame.y.high).contains(&frequency.log2())) {
        let at = frame.at(0.0, frequency.log2());
        page.line(at, at - DVec2::new(1.0, 0.0), Look::line(paper::INK, 0.2));
        if is_first {
            page.text(at + DVec2::new(-1.6, 0.9), &format!("{frequency:.0}"), letters.end());
        }
    }
    if is_first {
        page.text(DVec2::new(area.low.x - 11.0, area.middle().y), "frequency, Hz", quiet.upright());
    }
    page.rect(area, Look::line(paper::INK, 0.3));
}
