//! Rows of panels, and equal gaps in them.
//!
//! ```text
//! gap = floor((sum of the gaps) / count) in marks of the tape
//! ```
//!
//! The marks that are left over go outside the row, half on each side, where a space of its own width ends at a corner and nobody sees them. No panel is moved
//! farther than `even_within`, and no gap becomes less than `least_gap`. Where a door, a window or something else lies in a gap, the panels on
//! either side of it are rows of their own.
//!
//! *Limits.* Only panels of one height and one level make a row; only gaps along it become equal.

use glam::DVec2;

use super::marking::{MarkedRow, tape_step};
use super::trouble::Trouble;
use super::words;
use crate::layout::Free;
use crate::room::{Room, hung_size};
use crate::scene::{ClearanceRegion, Panel, PanelPlace, Scene};

/// A flat panel of the plan.
#[derive(Clone, Copy, Debug)]
struct Flat {
    /// Index among the panels.
    index: usize,
    facet: usize,
    low: DVec2,
    size: DVec2,
}

impl Flat {
    fn high(&self) -> DVec2 {
        self.low + self.size
    }

    fn number(&self) -> u32 {
        self.index as u32 + 1
    }
}

/// Makes gaps equal where they nearly are, and tells every row with its facet.
pub(super) fn even(scene: &Scene, room: &Room, panels: &mut [Panel], troubles: &mut Vec<Trouble>) -> Vec<(usize, MarkedRow)> {
    let mut found = Vec::new();
    for row in rows(&flats(scene, room, panels), tape_step(scene.unit)) {
        for part in parts(scene, room, panels, &row, troubles) {
            space(scene, room, panels, &part, troubles);
            let part: Vec<Flat> =
                flats(scene, room, panels).into_iter().filter(|flat| part.iter().any(|other| other.index == flat.index)).collect();
            found.extend(marked(room, part, tape_step(scene.unit)));
        }
    }
    least_gaps(scene, room, &flats(scene, room, panels), troubles);
    found
}

/// All flat panels.
fn flats(scene: &Scene, room: &Room, panels: &[Panel]) -> Vec<Flat> {
    panels
        .iter()
        .enumerate()
        .filter_map(|(index, panel)| {
            let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
            let PanelPlace::Surface { surface, left, bottom, .. } = &panel.place else { return None };
            let (low, size) = (DVec2::new(*left, *bottom), hung_size(kind, &panel.place));
            Some(Flat { index, facet: room.surface_at(surface, low + 0.5 * size)?, low, size })
        })
        .collect()
}

/// Two or more panels of one facet, level and height, from the left, none over another.
fn rows(flats: &[Flat], step: f64) -> Vec<Vec<Flat>> {
    let alike = |one: &Flat, other: &Flat| {
        one.facet == other.facet && (one.low.y - other.low.y).abs() < step && (one.size.y - other.size.y).abs() < step
    };
    let mut rows: Vec<Vec<Flat>> = Vec::new();
    for flat in flats {
        match rows.iter_mut().find(|row| alike(&row[0], flat)) {
            Some(row) => row.push(*flat),
            None => rows.push(vec![*flat]),
        }
    }
    for row in &mut rows {
        row.sort_by(|a, b| a.low.x.total_cmp(&b.low.x));
    }
    rows.retain(|row| row.len() > 1 && row.windows(2).all(|pair| pair[0].high().x <= pair[1].low.x + 1e-9));
    rows
}

/// The row in parts with nothing in their gaps; tells what lies between them.
fn parts(scene: &Scene, room: &Room, panels: &[Panel], row: &[Flat], troubles: &mut Vec<Trouble>) -> Vec<Vec<Flat>> {
    let mut parts = vec![vec![row[0]]];
    let mut between: Vec<String> = Vec::new();
    for pair in row.windows(2) {
        match in_gap(scene, room, panels, pair[0], pair[1]) {
            Some(name) => {
                between.push(format!("\"{name}\" between {} and {}", pair[0].number(), pair[1].number()));
                parts.push(vec![pair[1]]);
            }
            None => parts.last_mut().expect("begun with one part").push(pair[1]),
        }
    }
    if row.len() > 2 && !between.is_empty() {
        let surface = &room.surfaces[row[0].facet].name;
        troubles.push(
            Trouble::new(
                "gaps-not-equal",
                format!("panels {} on {surface} share a level, and their gaps cannot all be equal: {}", numbers(row), between.join(", ")),
                "hang each part of the row by its own measures; or give the panels beyond it another level, so that it reads as two rows",
            )
            .on(surface, row.iter().map(Flat::number).collect()),
        );
    }
    parts
}

/// What lies in the gap between two panels of a row: a door or window, a place to keep clear, another panel.
fn in_gap(scene: &Scene, room: &Room, panels: &[Panel], one: Flat, other: Flat) -> Option<String> {
    let (low, high) = (DVec2::new(one.high().x, one.low.y), DVec2::new(other.low.x, one.high().y));
    let surface = &room.surfaces[one.facet].name;
    let over = |from: DVec2, to: DVec2| {
        let share = to.min(high) - from.max(low);
        share.x > 1e-6 && share.y > 1e-6
    };
    let rectangle = |place: &crate::scene::Rectangle| {
        let from = DVec2::new(place.left, place.bottom);
        over(from, from + DVec2::new(place.width, place.height))
    };
    let opening =
        scene.openings.iter().find(|opening| opening.surface == *surface && rectangle(&opening.place)).map(|opening| opening.name.clone());
    let clearance = || {
        let on = |clearance: &&crate::scene::Clearance| match &clearance.region {
            ClearanceRegion::Surface { surface: name, place } => name == surface && rectangle(place),
            ClearanceRegion::Space { .. } => false,
        };
        scene.clearances.iter().find(on).map(|clearance| clearance.name.clone())
    };
    let panel = || {
        let all = flats(scene, room, panels);
        let within =
            |flat: &&Flat| flat.facet == one.facet && ![one.index, other.index].contains(&flat.index) && over(flat.low, flat.high());
        all.iter().find(within).map(|flat| format!("panel {}", flat.number()))
    };
    opening.or_else(clearance).or_else(panel)
}

/// Moves the panels of a row so that its gaps are equal, where that is a small matter.
fn space(scene: &Scene, room: &Room, panels: &mut [Panel], row: &[Flat], troubles: &mut Vec<Trouble>) {
    if row.len() < 3 {
        return;
    }
    let step = tape_step(scene.unit);
    let mark = |meters: f64| (meters / step).round() as i64;
    let gaps: Vec<i64> = row.windows(2).map(|pair| mark(pair[1].low.x) - mark(pair[0].low.x) - mark(pair[0].size.x)).collect();
    let (sum, count) = (gaps.iter().sum::<i64>(), gaps.len() as i64);
    let (gap, over) = (sum.div_euclid(count), sum.rem_euclid(count));
    let mut at = mark(row[0].low.x) + over / 2;
    let moved: Vec<f64> = row
        .iter()
        .map(|flat| {
            let left = at as f64 * step;
            at += mark(flat.size.x) + gap;
            left
        })
        .collect();
    let farthest = row.iter().zip(&moved).map(|(flat, left)| (left - flat.low.x).abs()).fold(0.0, f64::max);
    // Gaps that differ by more are meant to differ.
    if farthest < 1e-9 || farthest > scene.making.even_within + 1e-9 || (gap as f64) * step < scene.making.least_gap - 1e-9 {
        return;
    }
    let tried = with_lefts(panels, row, &moved);
    if let Some(why) = refused(scene, room, &tried, row) {
        let surface = &room.surfaces[row[0].facet].name;
        troubles.push(
            Trouble::new(
                "gaps-not-equal",
                format!(
                    "the gaps of panels {} on {surface} stay as planned: moved to be equal, one would be in the way ({why})",
                    numbers(row)
                ),
                "hang them by their own measures",
            )
            .on(surface, row.iter().map(Flat::number).collect()),
        );
        return;
    }
    panels.clone_from_slice(&tried);
}

fn with_lefts(panels: &[Panel], row: &[Flat], lefts: &[f64]) -> Vec<Panel> {
    let mut tried = panels.to_vec();
    for (flat, moved) in row.iter().zip(lefts) {
        if let PanelPlace::Surface { left, .. } = &mut tried[flat.index].place {
            *left = *moved;
        }
    }
    tried
}

/// Why panels of a row cannot hang there, if they cannot.
fn refused(scene: &Scene, room: &Room, panels: &[Panel], row: &[Flat]) -> Option<String> {
    let mut free = Free::new(scene, room);
    let kind = |panel: &Panel| scene.stock.iter().find(|kind| kind.name == panel.kind);
    let in_row = |index: usize| row.iter().any(|flat| flat.index == index);
    for (_, panel) in panels.iter().enumerate().filter(|(index, _)| !in_row(*index)) {
        if let Some(kind) = kind(panel) {
            // What cannot hang was told when the scene was read.
            drop(free.hang(panel, kind));
        }
    }
    let body = |flat: &Flat| free.fits_panel(&panels[flat.index], kind(&panels[flat.index])?).err().map(|refusal| refusal.to_string());
    row.iter().find_map(body)
}

/// A row as it is marked.
fn marked(room: &Room, row: Vec<Flat>, step: f64) -> Option<(usize, MarkedRow)> {
    if row.len() < 2 {
        return None;
    }
    let mut row = row;
    row.sort_by(|a, b| a.low.x.total_cmp(&b.low.x));
    let (first, last) = (row[0], row[row.len() - 1]);
    let (begins, ends) = across(room, first.facet, first.low.y + 0.5 * first.size.y)?;
    let mut spaces = vec![first.low.x - begins];
    spaces.extend(row.windows(2).map(|pair| pair[1].low.x - pair[0].high().x));
    spaces.push(ends - last.high().x);
    let gaps = &spaces[1..spaces.len() - 1];
    let is_even = gaps.iter().all(|gap| (gap - gaps[0]).abs() < 0.5 * step);
    let row = MarkedRow {
        panels: row.iter().map(Flat::number).collect(),
        top_m: first.high().y,
        width_m: ends - begins,
        begins_m: begins,
        spaces_m: spaces,
        is_even,
    };
    Some((first.facet, row))
}

/// Where a facet begins and ends at this height on its chart, meters.
fn across(room: &Room, facet: usize, height: f64) -> Option<(f64, f64)> {
    let corners = &room.surfaces[facet].outline.corners;
    let crossings = (0..corners.len()).filter_map(|index| {
        let (from, to) = (corners[index], corners[(index + 1) % corners.len()]);
        let crosses = (from.y - height) * (to.y - height) <= 0.0 && (to.y - from.y).abs() > 1e-12;
        crosses.then(|| from.x + (to.x - from.x) * (height - from.y) / (to.y - from.y))
    });
    let (low, high) = crossings.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
    (low < high).then_some((low, high))
}

/// Tells neighbors that are nearer to each other than the least gap.
fn least_gaps(scene: &Scene, room: &Room, flats: &[Flat], troubles: &mut Vec<Trouble>) {
    for (index, one) in flats.iter().enumerate() {
        for other in flats[index + 1..].iter().filter(|other| other.facet == one.facet) {
            let apart = (other.low - one.high()).max(one.low - other.high());
            let gap = apart.max_element();
            // Corner to corner is no gap.
            if apart.min_element() < -1e-6 && gap < scene.making.least_gap - 1e-6 {
                let surface = &room.surfaces[one.facet].name;
                troubles.push(
                    Trouble::new(
                        "gap-too-small",
                        format!(
                            "panels {} and {} on {surface} are {} apart, less than the least gap of {}",
                            one.number(),
                            other.number(),
                            words::print(gap.max(0.0), scene.unit),
                            words::print(scene.making.least_gap, scene.unit)
                        ),
                        "wrapped edges are thicker than the drawing: move one of them, or lower `least_gap` in [build]",
                    )
                    .on(surface, vec![one.number(), other.number()]),
                );
            }
        }
    }
}

/// `3, 4 and 5`.
fn numbers(row: &[Flat]) -> String {
    let all: Vec<String> = row.iter().map(|flat| flat.number().to_string()).collect();
    match all.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => all.concat(),
    }
}
