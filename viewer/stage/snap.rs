//! Where a panel that is dragged over a surface falls into line: the middle of a hot spot, the level of a row, equal gaps.
//!
//! All in coordinates of the surface's chart, meters. A rule counts when it would move the panel by no more than the reach; a hot spot
//! decides both coordinates, else equal gaps beside it decide the first one, and the second the level of a neighbor or equal gaps above and
//! below, whichever is nearer, the level if both are.
//!
//! *Limits.* A surface ends where its outline is widest and highest, slope or not.

use bevy::math::DVec2;

/// A rectangle on the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Span {
    /// Left lower corner.
    pub(super) low: DVec2,
    /// Right upper corner.
    pub(super) high: DVec2,
}

impl Span {
    /// From its left lower corner and its size.
    pub(super) fn new(low: DVec2, size: DVec2) -> Self {
        Self { low, high: low + size }
    }

    fn middle(&self) -> DVec2 {
        0.5 * (self.low + self.high)
    }

    fn shares_height_with(&self, other: &Self) -> bool {
        self.low.y < other.high.y - SAME && other.low.y < self.high.y - SAME
    }
}

/// Two measures closer than this are the same, meters.
const SAME: f64 = 1e-6;
/// Half the length of the cross that marks the middle of a hot spot, meters.
const CROSS: f64 = 0.12;

/// What there is to line up with on a surface.
#[derive(Clone, Debug, Default)]
pub(super) struct Around {
    /// Other panels.
    pub(super) panels: Vec<Span>,
    /// What ends a gap beside them: doors, windows, hatches.
    pub(super) stops: Vec<Span>,
    /// Lowest and highest coordinates of the surface: its left and lower, its right and upper end.
    pub(super) ends: [DVec2; 2],
    /// Middles of hot spots.
    pub(super) spots: Vec<DVec2>,
    /// How far a panel is moved to fall into line.
    pub(super) reach: f64,
    /// The finest step that measures are given in.
    pub(super) step: f64,
}

/// What a panel fell into line with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Line {
    /// A gap that another one equals.
    Gap,
    /// The level of a neighbor.
    Level,
    /// The middle of a hot spot.
    Spot,
}

/// A thin line that shows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Guide {
    /// Why.
    pub(super) line: Line,
    /// One end.
    pub(super) from: DVec2,
    /// The other.
    pub(super) to: DVec2,
}

/// The place beside a wanted one that is in line, and with what. Nothing in reach: the wanted place on the steps of the tape.
pub(super) fn snapped(wanted: DVec2, size: DVec2, around: &Around) -> (DVec2, Vec<Guide>) {
    let middle = wanted + 0.5 * size;
    let nearest = around.spots.iter().copied().min_by(|a, b| a.distance(middle).total_cmp(&b.distance(middle)));
    if let Some(spot) = nearest.filter(|spot| spot.distance(middle) <= 1.5 * around.reach) {
        let cross = [DVec2::X, DVec2::Y].map(|way| Guide { line: Line::Spot, from: spot - CROSS * way, to: spot + CROSS * way });
        return (rounded(spot - 0.5 * size, around.step), cross.to_vec());
    }
    let mut low = rounded(wanted, around.step);
    let mut guides = Vec::new();
    let level = level(wanted, size, around);
    let off = |bottom: f64| (bottom - wanted.y).abs();
    let stack = upright_gap(wanted, size, around).filter(|(bottom, _)| level.is_none_or(|(other, ..)| off(*bottom) < off(other) - SAME));
    let level = level.filter(|_| stack.is_none());
    low.y = stack.map(|(bottom, _)| bottom).or(level.map(|(bottom, ..)| bottom)).unwrap_or(low.y);
    if let Some((left, gaps)) = gap(DVec2::new(wanted.x, low.y), size, around) {
        low.x = left;
        guides.extend(gaps);
    }
    // Where the panel went aside, what is above and below it may be another; the gaps are shown if they are still these.
    let still = stack.and_then(|(bottom, _)| upright_gap(low, size, around).filter(|(other, _)| (other - bottom).abs() < SAME));
    guides.extend(still.into_iter().flat_map(|(_, gaps)| gaps));
    if let Some((_, height, neighbor)) = level {
        let own = Span::new(low, size);
        let (from, to) = (own.low.x.min(neighbor.low.x), own.high.x.max(neighbor.high.x));
        guides.push(Guide { line: Line::Level, from: DVec2::new(from, height), to: DVec2::new(to, height) });
    }
    (low, guides)
}

/// Onto the steps of the tape.
pub(super) fn rounded(place: DVec2, step: f64) -> DVec2 {
    (place / step).round() * step
}

/// The lower edge at which the panel is level with a neighbor - below, above, or by its middle -, at what height, and with which.
fn level(wanted: DVec2, size: DVec2, around: &Around) -> Option<(f64, f64, Span)> {
    let middle = wanted.x + 0.5 * size.x;
    let levels = |panel: &Span| {
        let (bottom, top) = (panel.low.y, panel.high.y);
        let center = panel.middle().y;
        [(bottom, bottom), (top - size.y, top), (center - 0.5 * size.y, center)].map(|(low, height)| (low, height, *panel))
    };
    let off = |(low, ..): &(f64, f64, Span)| (low - wanted.y).abs();
    let away = |(_, _, panel): &(f64, f64, Span)| (panel.middle().x - middle).abs();
    let all = around.panels.iter().flat_map(levels).filter(|found| off(found) <= around.reach);
    // Of neighbors on one level the nearest one.
    all.min_by(|a, b| {
        let by_height = if (a.0 - b.0).abs() < SAME { std::cmp::Ordering::Equal } else { off(a).total_cmp(&off(b)) };
        by_height.then(away(a).total_cmp(&away(b)))
    })
}

/// The other way round: what was to the right is upward.
fn flipped(place: DVec2) -> DVec2 {
    DVec2::new(place.y, place.x)
}

/// The lower edge at which the gap above or below the panel equals another one, and both gaps.
fn upright_gap(wanted: DVec2, size: DVec2, around: &Around) -> Option<(f64, [Guide; 2])> {
    let turned = |spans: &[Span]| spans.iter().map(|span| Span { low: flipped(span.low), high: flipped(span.high) }).collect();
    let lying = Around {
        panels: turned(&around.panels),
        stops: turned(&around.stops),
        ends: around.ends.map(flipped),
        spots: Vec::new(),
        ..*around
    };
    let (bottom, gaps) = gap(flipped(wanted), flipped(size), &lying)?;
    Some((bottom, gaps.map(|gap| Guide { from: flipped(gap.from), to: flipped(gap.to), ..gap })))
}

/// The left edge at which the gap beside the panel equals another one, and both gaps.
fn gap(wanted: DVec2, size: DVec2, around: &Around) -> Option<(f64, [Guide; 2])> {
    let own = Span::new(wanted, size);
    let mut mates: Vec<Span> = around.panels.iter().chain(&around.stops).copied().filter(|span| span.shares_height_with(&own)).collect();
    mates.sort_by(|a, b| a.middle().x.total_cmp(&b.middle().x));
    let split = mates.partition_point(|mate| mate.middle().x < own.middle().x);
    let (before, after) = mates.split_at(split);
    let [start, end] = around.ends.map(|end| end.x);
    let height = own.middle().y;
    let line = |from: f64, to: f64| Guide { line: Line::Gap, from: DVec2::new(from, height), to: DVec2::new(to, height) };
    let mut found: Vec<(f64, [Guide; 2])> = Vec::new();
    let left_stop = before.last().map_or(start, |mate| mate.high.x);
    let right_stop = after.first().map_or(end, |mate| mate.low.x);
    if right_stop - left_stop > size.x {
        // Half a step, so that both gaps are the same.
        let left = (0.5 * (left_stop + right_stop - size.x) / (0.5 * around.step)).round() * 0.5 * around.step;
        found.push((left, [line(left_stop, left), line(left + size.x, right_stop)]));
    }
    if let Some(mate) = before.last() {
        let stop = before.iter().rev().nth(1).map_or(start, |other| other.high.x);
        let width = mate.low.x - stop;
        found.push((mate.high.x + width, [line(stop, mate.low.x), line(mate.high.x, mate.high.x + width)]));
    }
    if let Some(mate) = after.first() {
        let stop = after.get(1).map_or(end, |other| other.low.x);
        let width = stop - mate.high.x;
        let left = mate.low.x - width - size.x;
        found.push((left, [line(mate.low.x - width, mate.low.x), line(mate.high.x, stop)]));
    }
    let off = |left: f64| (left - wanted.x).abs();
    // A gap of nothing is no gap to show.
    found.retain(|(left, gaps)| off(*left) <= around.reach && gaps.iter().all(|gap| gap.to.x - gap.from.x > SAME));
    found.into_iter().min_by(|a, b| off(a.0).total_cmp(&off(b.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: DVec2 = DVec2::new(0.6, 1.2);

    fn span(left: f64, bottom: f64) -> Span {
        Span::new(DVec2::new(left, bottom), SIZE)
    }

    /// A wall of 5 m with panels at 0.5 and 1.4 m, a gap of 0.3 m between them.
    fn wall() -> Around {
        Around {
            panels: vec![span(0.5, 0.6), span(1.4, 0.6)],
            ends: [DVec2::ZERO, DVec2::new(5.0, 2.4)],
            reach: 0.05,
            step: 0.01,
            ..Around::default()
        }
    }

    fn widths(guides: &[Guide]) -> Vec<f64> {
        guides.iter().filter(|guide| guide.line == Line::Gap).map(|guide| guide.to.x - guide.from.x).collect()
    }

    fn is_near(one: DVec2, other: DVec2) -> bool {
        one.distance(other) < 1e-9
    }

    #[test]
    fn exact_gap_that_goes_on() {
        // 1.4 + 0.6 + 0.3 = 2.3 m.
        let (low, guides) = snapped(DVec2::new(2.33, 0.6), SIZE, &wall());
        assert!(is_near(low, DVec2::new(2.3, 0.6)), "{low}");
        let widths = widths(&guides);
        assert!(widths.len() == 2 && widths.iter().all(|width| (width - 0.3).abs() < 1e-9), "{widths:?}");
        // Out of reach it stays where it was wanted, on the tape's steps.
        let (low, guides) = snapped(DVec2::new(2.363, 0.9), SIZE, &wall());
        assert!(is_near(low, DVec2::new(2.36, 0.9)) && guides.is_empty(), "{low} {guides:?}");
    }

    #[test]
    fn exact_middle_between_two_stops() {
        let mut around = wall();
        around.panels[1] = span(3.0, 0.6);
        // A door takes the place of the first panel.
        around.stops.push(Span::new(DVec2::new(0.0, 0.0), DVec2::new(1.135, 2.0)));
        around.panels.remove(0);
        // (1.135 + 3.0 - 0.6) / 2 = 1.7675: on half steps 1.77 or 1.765.
        let (low, guides) = snapped(DVec2::new(1.80, 0.62), SIZE, &around);
        assert!((low.x - 1.7675).abs() < 0.0026 && (low.y - 0.6).abs() < 1e-9, "{low}");
        let widths = widths(&guides);
        assert!((widths[0] - widths[1]).abs() < 0.0051, "{widths:?}");
        // A panel that shares no height with the row has no neighbors in it: the middle of the wall.
        let high = Around { panels: vec![span(0.5, 0.0)], ..wall() };
        let (low, _) = snapped(DVec2::new(2.17, 1.3), SIZE, &high);
        assert!(is_near(low, DVec2::new(2.2, 1.3)), "{low}");
    }

    #[test]
    fn exact_levels_with_a_neighbor() {
        for (wanted, bottom, height) in [(0.57, 0.6, 0.6), (1.23, 1.2, 1.8), (0.92, 0.9, 1.2)] {
            let low_panel = DVec2::new(1.0, 0.6);
            let (low, guides) = snapped(DVec2::new(3.1, wanted), low_panel, &wall());
            assert!((low.y - bottom).abs() < 1e-9, "{wanted}: {low}");
            let level = guides.iter().find(|guide| guide.line == Line::Level).expect("shown");
            assert!((level.from.y - height).abs() < 1e-9 && level.from.x < 2.0 && level.to.x > 4.0, "from the neighbor to it: {level:?}");
            assert_eq!(level.from.x, 1.4, "the nearest neighbor of the row");
        }
    }

    /// The same wall on its side: panels above one another.
    #[test]
    fn exact_gaps_above_and_below() {
        const LYING: DVec2 = DVec2::new(1.2, 0.3);
        let lying = |left: f64, bottom: f64| Span::new(DVec2::new(left, bottom), LYING);
        // Panels at 0.2 and 0.7 m, a gap of 0.2 m between them: the next one at 1.2 m.
        let around = Around { panels: vec![lying(2.0, 0.2), lying(2.0, 0.7)], ..wall() };
        let (low, guides) = snapped(DVec2::new(2.3, 1.23), LYING, &around);
        assert!(is_near(low, DVec2::new(2.3, 1.2)), "{low}");
        let gaps: Vec<&Guide> = guides.iter().filter(|guide| guide.line == Line::Gap).collect();
        assert!(gaps.len() == 2 && gaps.iter().all(|gap| (gap.to - gap.from).distance(DVec2::new(0.0, 0.2)) < 1e-9), "{gaps:?}");
        assert!((gaps[1].from.y - 1.0).abs() < 1e-9 && (gaps[0].from.x - 2.9).abs() < 1e-9, "over its own middle: {gaps:?}");
        // In the middle between the upper one, which ends at 1.0 m, and the end of the wall at 2.4 m.
        let (low, guides) = snapped(DVec2::new(2.3, 1.58), LYING, &around);
        assert!(is_near(low, DVec2::new(2.3, 1.55)) && guides.len() == 2, "{low} {guides:?}");
        // What shares no width with the stack has no gaps in it: between floor and upper end of the wall.
        let (low, _) = snapped(DVec2::new(0.3, 1.02), LYING, &around);
        assert!(is_near(low, DVec2::new(0.3, 1.05)), "{low}");
        // Level with a neighbor that is nearer than equal gaps are; and gaps that are nearer than a level.
        let beside = Around { panels: vec![lying(2.0, 0.2), lying(2.0, 0.7), lying(0.2, 1.24)], ..wall() };
        assert!(is_near(snapped(DVec2::new(2.3, 1.235), LYING, &beside).0, DVec2::new(2.3, 1.24)));
        let (low, guides) = snapped(DVec2::new(2.3, 1.21), LYING, &beside);
        assert!(is_near(low, DVec2::new(2.3, 1.2)) && guides.iter().all(|guide| guide.line == Line::Gap), "{low} {guides:?}");
    }

    #[test]
    fn exact_middle_of_a_hot_spot() {
        let around = Around { spots: vec![DVec2::new(2.6, 1.2), DVec2::new(4.0, 1.2)], ..wall() };
        let (low, guides) = snapped(DVec2::new(2.26, 0.64), SIZE, &around);
        assert!(is_near(low, DVec2::new(2.3, 0.6)) && guides.iter().all(|guide| guide.line == Line::Spot), "{low} {guides:?}");
        // A spot between the steps of the tape is met as near as the tape can tell.
        let around = Around { spots: vec![DVec2::new(2.6037, 1.2)], ..wall() };
        assert!(is_near(snapped(DVec2::new(2.26, 0.64), SIZE, &around).0, DVec2::new(2.3, 0.6)));
    }

    #[test]
    fn keeps_still_without_reach() {
        let still = Around { reach: 0.0, spots: vec![DVec2::new(2.6, 1.2)], ..wall() };
        let (low, guides) = snapped(DVec2::new(2.314, 0.617), SIZE, &still);
        assert!(is_near(low, DVec2::new(2.31, 0.62)) && guides.is_empty());
    }
}
