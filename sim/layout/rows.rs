//! Level rows with equal gaps, and measures that a tape can read.
//!
//! Panels of one surface whose middles differ in height by less than the tolerance become a row at one level: the level of what hangs
//! there already, else the one that moves the row least. Between the first and the last of three or more, gaps become equal. Nothing is
//! moved farther than the tolerance, and nothing into a place where it does not fit.
//!
//! *Limits.* Tidying knows nothing of sound; the planner weighs the tidy layout again and keeps it only if it costs nothing.
//! Gaps are equal to within the measuring step where panels of different width share a row or something fixed ends it.

use glam::DVec2;

use super::body::size_as_hung;
use super::free::{Free, PANEL_GAP};
use super::measure_step;
use crate::room::Room;
use crate::scene::{Cloud, Panel, PanelPlace, PanelType, Scene};

/// How far tidying may move a panel unless told otherwise, meters.
pub const TIDY_MAX: f64 = 0.15;
/// Two measures closer than this, in meters, are the same.
const SAME: f64 = 0.001;

/// Lines up panels within [`TIDY_MAX`] and rounds their measures. `free` is the room without them.
#[must_use]
pub fn tidy(scene: &Scene, room: &Room, free: &Free, panels: Vec<Panel>) -> Vec<Panel> {
    tidy_within(scene, room, free, panels, TIDY_MAX)
}

/// Lines up panels, moving none of them farther than `tolerance` meters (rounding of its measures apart).
#[must_use]
pub fn tidy_within(scene: &Scene, room: &Room, free: &Free, panels: Vec<Panel>, tolerance: f64) -> Vec<Panel> {
    let mut wall = Arrangement::new(scene, free, panels);
    let start = wall.panels.clone();
    wall.round_measures();
    for surface in 0..room.surfaces.len() {
        for row in wall.rows(surface, tolerance) {
            wall.level(&row, &start, tolerance);
        }
        for row in wall.rows(surface, wall.unit) {
            wall.space(&row, &start, tolerance);
        }
    }
    wall.panels
}

/// Moves of one panel that would tidy the layout: onto the level of another, under or over its edges, beside it at the least gap, midway
/// between its neighbors, onto round measures. Each is shorter than `tolerance` meters and fits while all others stay.
#[must_use]
pub fn moves(scene: &Scene, room: &Room, free: &Free, panels: &[Panel], tolerance: f64) -> Vec<(usize, Panel)> {
    let mut wall = Arrangement::new(scene, free, panels.to_vec());
    let mut found: Vec<(usize, Panel)> = Vec::new();
    let mut offer = |wall: &mut Arrangement<'_>, index: usize, panel: Panel| {
        if panel != wall.panels[index] && !found.contains(&(index, panel.clone())) && wall.would_fit(index, &panel) {
            found.push((index, panel));
        }
    };
    for (index, panel) in panels.iter().enumerate() {
        for panel in wall.rounded(panel) {
            offer(&mut wall, index, panel);
        }
    }
    for surface in 0..room.surfaces.len() {
        let tiles = wall.tiles(surface);
        for tile in &tiles {
            let Some(index) = tile.panel else { continue };
            for low in tile.neighborly(&tiles, wall.unit) {
                let step = (low - tile.low).length();
                if step > SAME && step <= tolerance {
                    offer(&mut wall, index, moved(&panels[index], low));
                }
            }
        }
    }
    found
}

/// A flat panel on a surface; `panel` is `None` for what hangs already.
#[derive(Clone, Copy, Debug)]
struct Tile {
    panel: Option<usize>,
    low: DVec2,
    size: DVec2,
}

impl Tile {
    fn middle(&self) -> f64 {
        self.low.y + self.size.y / 2.0
    }

    /// Lower left corners that line up with other tiles.
    fn neighborly(&self, tiles: &[Self], unit: f64) -> Vec<DVec2> {
        let mut lows = Vec::new();
        let level = |other: &Self| (self.middle() - other.middle()).abs() < (self.size.y + other.size.y) / 2.0;
        let others = || tiles.iter().filter(|other| other.panel != self.panel || other.panel.is_none());
        for other in others() {
            let (right, top) = (other.low.x + other.size.x, other.low.y + other.size.y);
            lows.push(self.low.with_y(other.middle() - self.size.y / 2.0));
            lows.extend([other.low.y, top - self.size.y].map(|bottom| self.low.with_y(bottom)));
            lows.extend([other.low.x, right - self.size.x].map(|left| self.low.with_x(left)));
            if level(other) {
                lows.push(self.low.with_x(right + PANEL_GAP));
                lows.push(self.low.with_x(other.low.x - PANEL_GAP - self.size.x));
            } else {
                lows.push(self.low.with_y(top + PANEL_GAP));
                lows.push(self.low.with_y(other.low.y - PANEL_GAP - self.size.y));
            }
        }
        let ends = others().filter(|other| level(other)).filter(|other| other.low.x + other.size.x <= self.low.x);
        let before = ends.map(|other| other.low.x + other.size.x).max_by(f64::total_cmp);
        let starts = others().filter(|other| level(other)).map(|other| other.low.x).filter(|&left| left >= self.low.x + self.size.x);
        if let (Some(before), Some(after)) = (before, starts.min_by(f64::total_cmp)) {
            let left = f64::midpoint(before, after) - self.size.x / 2.0;
            lows.push(self.low.with_x((left / unit).round() * unit));
        }
        lows
    }
}

/// Panels as they hang, and a room that knows them.
struct Arrangement<'a> {
    scene: &'a Scene,
    base: &'a Free,
    free: Free,
    panels: Vec<Panel>,
    numbers: Vec<Option<usize>>,
    unit: f64,
}

impl<'a> Arrangement<'a> {
    fn new(scene: &'a Scene, base: &'a Free, panels: Vec<Panel>) -> Self {
        let mut free = base.clone();
        let numbers = panels.iter().map(|panel| kind_of(scene, panel).and_then(|kind| free.hang(panel, kind).ok())).collect();
        Self { scene, base, free, panels, numbers, unit: measure_step(scene.unit) }
    }

    /// Moves several panels at once if all fit afterwards.
    fn try_moves(&mut self, moves: &[(usize, Panel)]) -> bool {
        let mut free = self.free.clone();
        for (index, _) in moves {
            if let Some(number) = self.numbers[*index] {
                free.take_down(number);
            }
        }
        let mut numbers = self.numbers.clone();
        for (index, panel) in moves {
            let Some(kind) = kind_of(self.scene, panel) else { return false };
            if free.fits_panel(panel, kind).is_err() {
                return false;
            }
            let Ok(number) = free.hang(panel, kind) else { return false };
            numbers[*index] = Some(number);
        }
        for (index, panel) in moves {
            self.panels[*index] = panel.clone();
        }
        (self.free, self.numbers) = (free, numbers);
        true
    }

    /// Whether one panel, moved alone, would fit.
    fn would_fit(&self, index: usize, panel: &Panel) -> bool {
        kind_of(self.scene, panel).is_some_and(|kind| self.free.fits_without(panel, kind, self.numbers[index].as_slice()).is_ok())
    }

    /// Gives every panel round measures where it fits with them.
    fn round_measures(&mut self) {
        for index in 0..self.panels.len() {
            for panel in self.rounded(&self.panels[index].clone()) {
                if panel == self.panels[index] || self.try_moves(&[(index, panel)]) {
                    break;
                }
            }
        }
    }

    /// The panel with round measures: the nearest first, then the others around.
    fn rounded(&self, panel: &Panel) -> Vec<Panel> {
        let round = |value: f64, turn: i32| {
            let nearest = (value / self.unit).round();
            let other = if value / self.unit >= nearest { nearest + 1.0 } else { nearest - 1.0 };
            (if turn == 0 { nearest } else { other }) * self.unit
        };
        let turns = [(0, 0), (1, 0), (0, 1), (1, 1)];
        let place = |(across, along): (i32, i32)| match panel.place.clone() {
            PanelPlace::Surface { surface, left, bottom, lying, gap } => {
                PanelPlace::Surface { surface, left: round(left, across), bottom: round(bottom, along), lying, gap }
            }
            PanelPlace::Corner { corner, bottom } => PanelPlace::Corner { corner, bottom: round(bottom, along) },
            PanelPlace::Cloud(cloud) => {
                let center = DVec2::new(round(cloud.center.x, across), round(cloud.center.y, across));
                PanelPlace::Cloud(Cloud { center, underside: round(cloud.underside, along), ..cloud })
            }
        };
        turns.into_iter().map(|turn| Panel { kind: panel.kind.clone(), place: place(turn) }).collect()
    }

    /// What hangs flat on a surface, left to right.
    fn tiles(&self, surface: usize) -> Vec<Tile> {
        let mut tiles: Vec<Tile> = self.base.hung_on(surface).map(|(low, high)| Tile { panel: None, low, size: high - low }).collect();
        for (index, panel) in self.panels.iter().enumerate() {
            let (PanelPlace::Surface { left, bottom, lying, .. }, Some(kind)) = (&panel.place, kind_of(self.scene, panel)) else {
                continue;
            };
            if self.free.body(panel, kind).is_ok_and(|body| body.surface == Some(surface)) {
                tiles.push(Tile { panel: Some(index), low: DVec2::new(*left, *bottom), size: size_as_hung(kind, *lying) });
            }
        }
        tiles.sort_by(|a, b| a.low.x.total_cmp(&b.low.x).then(a.low.y.total_cmp(&b.low.y)));
        tiles
    }

    /// Groups of tiles whose middles differ by no more than `tolerance`, each left to right.
    fn rows(&self, surface: usize, tolerance: f64) -> Vec<Vec<Tile>> {
        let mut tiles = self.tiles(surface);
        tiles.sort_by(|a, b| a.middle().total_cmp(&b.middle()).then(a.low.x.total_cmp(&b.low.x)));
        let mut rows: Vec<Vec<Tile>> = Vec::new();
        for tile in tiles {
            match rows.last_mut() {
                Some(row) if tile.middle() - row[0].middle() <= tolerance => row.push(tile),
                _ => rows.push(vec![tile]),
            }
        }
        for row in &mut rows {
            row.sort_by(|a, b| a.low.x.total_cmp(&b.low.x));
        }
        rows.retain(|row| row.len() > 1 && row.iter().any(|tile| tile.panel.is_some()));
        rows
    }

    /// Brings a row to one level.
    fn level(&mut self, row: &[Tile], start: &[Panel], tolerance: f64) {
        let fixed = row.iter().find(|tile| tile.panel.is_none()).map(Tile::middle);
        let mut levels: Vec<f64> = row.iter().map(Tile::middle).collect();
        // The level that moves the row least comes first.
        let cost = |level: f64| row.iter().map(|tile| (tile.middle() - level).abs()).sum::<f64>();
        levels.sort_by(|a, b| cost(*a).total_cmp(&cost(*b)).then(a.total_cmp(b)));
        levels.dedup();
        for level in fixed.into_iter().chain(levels) {
            // What hangs already is met exactly; otherwise the measure stays readable.
            let bottom = |tile: &Tile| match fixed {
                Some(_) => level - tile.size.y / 2.0,
                None => ((level - tile.size.y / 2.0) / self.unit).round() * self.unit,
            };
            let moves = self.moves_to(row, start, tolerance, |tile| tile.low.with_y(bottom(tile)));
            if moves.is_some_and(|moves| self.try_moves(&moves)) {
                return;
            }
        }
    }

    /// Makes the gaps of a level row equal; where that moves a panel too far, splits the row at its widest gap.
    fn space(&mut self, row: &[Tile], start: &[Panel], tolerance: f64) {
        if row.len() < 3 {
            return;
        }
        // Something fixed within the row ends one run and begins the next.
        if let Some(fixed) = (1..row.len() - 1).find(|&i| row[i].panel.is_none()) {
            self.space(&row[..=fixed], start, tolerance);
            self.space(&row[fixed..], start, tolerance);
            return;
        }
        let lefts = self.even_lefts(row);
        if let Some(lefts) = lefts {
            let place = |tile: &Tile| row.iter().position(|other| other.low == tile.low).map_or(tile.low, |i| tile.low.with_x(lefts[i]));
            let moves = self.moves_to(row, start, tolerance, place);
            if moves.is_some_and(|moves| self.try_moves(&moves)) {
                return;
            }
        }
        let gap = |i: usize| row[i + 1].low.x - row[i].low.x - row[i].size.x;
        if let Some(widest) = (0..row.len() - 1).max_by(|&a, &b| gap(a).total_cmp(&gap(b)).then(b.cmp(&a))) {
            self.space(&row[..=widest], start, tolerance);
            self.space(&row[widest + 1..], start, tolerance);
        }
    }

    /// Left edges with equal gaps between the first and the last tile of a row; `None` where there is no room for the least gap.
    fn even_lefts(&self, row: &[Tile]) -> Option<Vec<f64>> {
        let (first, last) = (row.first()?, row.last()?);
        let between = (row.len() - 1) as f64;
        let widths: f64 = row[..row.len() - 1].iter().map(|tile| tile.size.x).sum();
        let gap = (last.low.x - first.low.x - widths) / between;
        if gap < PANEL_GAP - 1e-9 {
            return None;
        }
        let alike = row.iter().all(|tile| (tile.size.x - first.size.x).abs() < 1e-9) && last.panel.is_some();
        let round = |value: f64| (value / self.unit).round() * self.unit;
        // Alike panels repeat at a round pitch; the last one gives way by less than half a step a panel.
        let pitch = if alike { round(first.size.x + gap).max(first.size.x + PANEL_GAP) } else { 0.0 };
        let mut left = first.low.x;
        let mut lefts = Vec::with_capacity(row.len());
        for (i, tile) in row.iter().enumerate() {
            lefts.push(match (alike, tile.panel) {
                (true, _) => first.low.x + pitch * i as f64,
                (false, Some(_)) if i > 0 && i < row.len() - 1 => round(left),
                _ => tile.low.x,
            });
            left += tile.size.x + gap;
        }
        Some(lefts)
    }

    /// The moves that bring the tiles of a row where `place` says; `None` if one of them would end farther than `tolerance` from
    /// where it began (but for rounding).
    fn moves_to(&self, row: &[Tile], start: &[Panel], tolerance: f64, place: impl Fn(&Tile) -> DVec2) -> Option<Vec<(usize, Panel)>> {
        let mut moves = Vec::new();
        for tile in row {
            let low = place(tile);
            let Some(index) = tile.panel else {
                if (low - tile.low).length() > SAME {
                    return None;
                }
                continue;
            };
            let PanelPlace::Surface { left, bottom, .. } = start[index].place else { return None };
            if (low - DVec2::new(left, bottom)).abs().max_element() > tolerance + self.unit {
                return None;
            }
            moves.push((index, moved(&self.panels[index], low)));
        }
        Some(moves)
    }
}

/// The panel with its lower left corner elsewhere on its surface.
fn moved(panel: &Panel, low: DVec2) -> Panel {
    let place = match panel.place.clone() {
        PanelPlace::Surface { surface, lying, gap, .. } => PanelPlace::Surface { surface, left: low.x, bottom: low.y, lying, gap },
        other => other,
    };
    Panel { kind: panel.kind.clone(), place }
}

fn kind_of<'a>(scene: &'a Scene, panel: &Panel) -> Option<&'a PanelType> {
    scene.stock.iter().find(|kind| kind.name == panel.kind)
}
