//! Dimensions as a builder draws them: a chain of lengths and the running measure from one edge, along the lower side or the left side.
//!
//! Lengths in the chain are differences of rounded running measures, so they add up. A length that has no room in the chain is left out:
//! the running measures on both sides of it hold the same information.

use glam::DVec2;

use super::paper;
use super::svg::{Drawing, Lettering, Look};
use super::tape::Tape;

/// Which way a chain runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    /// Below the drawing, to the right.
    Right,
    /// Beside the drawing, upward.
    Up,
}

/// A chain to draw.
#[derive(Clone, Debug)]
pub struct Chain<'a> {
    /// Direction.
    pub along: Along,
    /// The tape that is read.
    pub tape: Tape,
    /// All ends of lengths: measure in meters and place on the paper in mm, in rising measure.
    pub ends: &'a [(f64, f64)],
    /// Those that get a running measure.
    pub running: &'a [(f64, f64)],
    /// The edge of the drawing that the chain runs along: y (below) or x (beside), mm.
    pub edge: f64,
    /// Distance of the chain from that edge, mm.
    pub offset: f64,
    /// Between which places on the paper running measures may stand, mm.
    pub limits: (f64, f64),
}

/// Between the base lines of two neighboring labels, mm.
const GAP: f64 = 3.1;

/// Draws a chain with its running measures.
pub fn draw(page: &mut Drawing, chain: &Chain<'_>) {
    let line = match chain.along {
        Along::Right => chain.edge + chain.offset,
        Along::Up => chain.edge - chain.offset,
    };
    let at = |place: f64, off: f64| match chain.along {
        Along::Right => DVec2::new(place, line + off),
        Along::Up => DVec2::new(line - off, place),
    };
    let letters = Lettering::new(paper::SMALL, paper::INK).middle();
    for pair in chain.ends.windows(2) {
        page.line(at(pair[0].1, 0.0), at(pair[1].1, 0.0), Look::line(paper::SOFT, 0.2));
        let text = chain.tape.print(chain.tape.mark(pair[1].0) - chain.tape.mark(pair[0].0));
        let (room, middle) = ((pair[1].1 - pair[0].1).abs(), 0.5 * (pair[0].1 + pair[1].1));
        let length = letters.length(&text);
        match chain.along {
            Along::Right if length + 1.2 < room => page.text(at(middle, -1.0), &text, letters),
            Along::Right if room > GAP && length + 2.0 < chain.offset => {
                page.text(
                    DVec2::new(middle + 0.85, line - 1.2),
                    &text,
                    Lettering { anchor: super::svg::Anchor::Start, ..letters.upright() },
                );
            }
            Along::Up if length + 1.2 < room => page.text(DVec2::new(line + 2.8, middle), &text, letters.upright()),
            _ => {}
        }
    }
    for end in chain.ends {
        page.tick(at(end.1, 0.0));
    }
    let sorted = thinned(chain.running, chain.limits);
    let places = spread_within(&sorted.iter().map(|end| end.1).collect::<Vec<_>>(), GAP, chain.limits);
    let accent = Lettering::new(paper::SMALL, paper::ACCENT).end();
    for (end, place) in sorted.iter().zip(places) {
        let text = chain.tape.read(end.0);
        page.polyline(&[at(end.1, 0.9), at(place, 2.4), at(place, 3.0)], Look::line(paper::ACCENT, 0.15));
        match chain.along {
            Along::Right => page.text(DVec2::new(place + 0.85, line + 3.4), &text, accent.upright()),
            Along::Up => page.text(DVec2::new(line - 3.4, place + 0.85), &text, accent),
        }
    }
}

/// In rising place on the paper; where there are more than have room, without those nearest to their neighbors: the table holds them all.
fn thinned(ends: &[(f64, f64)], limits: (f64, f64)) -> Vec<(f64, f64)> {
    let mut sorted = ends.to_vec();
    sorted.sort_by(|a, b| a.1.total_cmp(&b.1));
    let most = ((limits.1 - limits.0) / GAP).floor().max(0.0) as usize + 1;
    while sorted.len() > most {
        let gap = |index: &usize| sorted[*index].1 - sorted[*index - 1].1;
        let nearest = (1..sorted.len()).min_by(|a, b| gap(a).total_cmp(&gap(b)));
        let Some(nearest) = nearest else { break };
        sorted.remove(nearest);
    }
    sorted
}

/// The same as [`spread`], pushed back between limits; what has no room runs over the far one.
#[must_use]
pub fn spread_within(places: &[f64], gap: f64, limits: (f64, f64)) -> Vec<f64> {
    let mut all = spread(places, gap);
    let count = all.len();
    for (index, place) in all.iter_mut().enumerate() {
        *place = place.min(limits.1 - gap * (count - 1 - index) as f64).max(limits.0 + gap * index as f64);
    }
    all
}

/// Rising places moved apart so that neighbors are at least `gap` apart, each cluster staying around its own middle.
#[must_use]
pub fn spread(places: &[f64], gap: f64) -> Vec<f64> {
    // Clusters as (sum of places less their rank's offset, count): merged while they would overlap.
    let mut clusters: Vec<(f64, usize)> = Vec::new();
    let start = |cluster: &(f64, usize)| cluster.0 / cluster.1 as f64 - 0.5 * gap * (cluster.1 as f64 - 1.0);
    for place in places {
        clusters.push((*place, 1));
        while clusters.len() > 1 {
            let (last, before) = (clusters[clusters.len() - 1], clusters[clusters.len() - 2]);
            if start(&last) >= start(&before) + gap * before.1 as f64 - 1e-9 {
                break;
            }
            clusters.pop();
            clusters.pop();
            clusters.push((before.0 + last.0, before.1 + last.1));
        }
    }
    clusters.iter().flat_map(|cluster| (0..cluster.1).map(|index| start(cluster) + gap * index as f64).collect::<Vec<_>>()).collect()
}

/// Ends without those that fall on the same mark of the tape.
#[must_use]
pub fn distinct(tape: Tape, mut ends: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    ends.dedup_by_key(|end| tape.mark(end.0));
    ends
}

/// Length of the bar to check a print with, mm.
#[must_use]
pub fn ruler_length(tape: Tape) -> f64 {
    if tape.is_inch() { 101.6 } else { 100.0 }
}

/// A bar of known length to check a print with: 60 mm in centimeters, or 2 inches in quarters.
pub fn ruler(page: &mut Drawing, at: DVec2, tape: Tape) {
    let (step, count, text) = if tape.is_inch() { (6.35, 16, "4 inches on a true print") } else { (10.0, 10, "100 mm on a true print") };
    let end = at + DVec2::new(ruler_length(tape), 0.0);
    page.line(at, end, Look::line(paper::INK, 0.4));
    for index in 0..=count {
        let half = if index == 0 || index == count || (tape.is_inch() && index % 4 == 0) { 1.6 } else { 1.0 };
        let x = at.x + step * f64::from(index);
        page.line(DVec2::new(x, at.y - half), DVec2::new(x, at.y + half), Look::line(paper::INK, 0.25));
    }
    page.text(at + DVec2::new(0.0, 4.6), text, Lettering::new(paper::SMALL, paper::QUIET));
}
