//! Where figures of the low end may lie, since nobody knows what walls really take.
//!
//! Members of an ensemble (`wave::walls`) have other absorption, within what tables leave open, and move otherwise: boards by mass and gap, massive walls by what their mass lets them. Each is run in cells twice as large, at a sixteenth of the cost, beside the
//! nominal room in the same cells; what differs between the two is put on the figures of the fine run, so that the cells' own error falls out.
//!
//! *References.* None of its own.
//!
//! *Limits.* The envelope of few members: about one standard uncertainty to either side, not the most. Fiber is as the scene says in all of them. Modes have a span only where they stand
//! farther apart than walls may move them ([`SAME`]) and are found in all members.

use super::{BassMode, BassResponse, BassRoom, Third};
use crate::findings::Span;

/// Walls move a mode by less than this, as a difference of logarithms of the frequency: measured 0.01 between masonry, 0.05 where ceiling and a wall are boards, up to 0.10 between boards all round,
/// whose masses and gaps nobody knows.
pub const SAME: f64 = 0.12;

/// A room's figures with where they may lie: `coarse` and `members` are the nominal room and others in the same larger cells.
pub(super) fn with_spans(mut room: BassRoom, coarse: &BassRoom, members: &[BassRoom]) -> BassRoom {
    for (index, response) in room.responses.iter_mut().enumerate() {
        let others: Vec<&BassResponse> = members.iter().map(|member| &member.responses[index]).collect();
        let beside = &coarse.responses[index];
        let moved = |frequency: usize| others.iter().map(move |other| other.level_db[frequency] - beside.level_db[frequency]);
        let bounds: Vec<Span> = response
            .level_db
            .iter()
            .enumerate()
            .map(|(frequency, level)| around(*level, moved(frequency), |level, moved| level + moved))
            .collect();
        response.level_low_db = bounds.iter().map(|span| span.low).collect();
        response.level_high_db = bounds.iter().map(|span| span.high).collect();
        for (band, third) in response.thirds.iter_mut().enumerate() {
            let near = |other: &&BassResponse| other.thirds[band];
            *third = of_third(*third, &beside.thirds[band], &others.iter().map(near).collect::<Vec<_>>());
        }
    }
    let alone: Vec<bool> =
        room.modes.iter().map(|mode| room.modes.iter().filter(|other| is_same(other, mode.frequency_hz)).count() == 1).collect();
    for (mode, _) in room.modes.iter_mut().zip(alone).filter(|(_, alone)| *alone) {
        let same = |room: &BassRoom| -> Option<BassMode> {
            let off = |other: &BassMode| (other.frequency_hz / mode.frequency_hz).ln().abs();
            room.modes.iter().min_by(|a, b| off(a).total_cmp(&off(b))).filter(|near| is_same(near, mode.frequency_hz)).cloned()
        };
        let (Some(beside), Some(others)) = (same(coarse), members.iter().map(same).collect::<Option<Vec<BassMode>>>()) else { continue };
        let times = others.iter().map(|other| other.frequency_hz / beside.frequency_hz);
        mode.frequency_span_hz = Some(around(mode.frequency_hz, times, |value, times| value * times));
        mode.decay_span_s = longer(mode.decay_s, beside.decay_s, others.iter().map(|other| other.decay_s));
    }
    room
}

/// Whether a mode may be the one of this frequency in another member.
fn is_same(mode: &BassMode, frequency: f64) -> bool {
    (mode.frequency_hz / frequency).ln().abs() < SAME
}

fn of_third(third: Third, beside: &Third, others: &[Third]) -> Third {
    let moved = others.iter().map(|other| other.level_db - beside.level_db);
    Third {
        level_span_db: Some(around(third.level_db, moved, |level, moved| level + moved)),
        decay_span_s: longer(third.decay_s, beside.decay_s, others.iter().map(|other| other.decay_s)),
        ..third
    }
}

/// Where a decay may lie; `None` unless all of them are known.
fn longer(decay: Option<f64>, beside: Option<f64>, others: impl Iterator<Item = Option<f64>>) -> Option<Span> {
    let (decay, beside) = (decay?, beside?);
    let times: Option<Vec<f64>> = others.map(|other| other.map(|other| other / beside)).collect();
    Some(around(decay, times?.into_iter(), |value, times| value * times))
}

/// A value and all that it is moved to.
fn around(value: f64, moved: impl Iterator<Item = f64>, to: fn(f64, f64) -> f64) -> Span {
    moved
        .map(|moved| to(value, moved))
        .fold(Span { low: value, high: value }, |span, at| Span { low: span.low.min(at), high: span.high.max(at) })
}
