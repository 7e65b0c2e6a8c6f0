//! What is marked on each surface: panels, rows with equal gaps, fixing points, and what lies behind.
//!
//! Every measure is a mark of the tape, a millimeter or a sixteenth of an inch, from the left and the lower edge of the surface's chart.
//!
//! *Limits.* Measures are those of the scene: what a tape says on the day wins.

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::rails::{self, Rail};
use super::rows;
use super::statics;
use super::trouble::Trouble;
use super::words;
use super::{battens, corners};
use crate::layout::fixings::{Fixings, Members, Rule, at_least};
use crate::layout::is_overhead;
use crate::room::{Role, Room, hung_size};
use crate::scene::making::{Construction, Making, Runs, Structure, StructureKind};
use crate::scene::{Panel, PanelPlace, PanelType, Rectangle, Scene};
use crate::units::LengthUnit;

/// How many points what lies flat overhead is tried with, one after the other.
const POINTS_OVERHEAD: [usize; 4] = [0, 6, 9, 12];

/// A surface with all that is marked on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkedSurface {
    /// Name.
    pub surface: String,
    /// Which of the room's surfaces: a ceiling plane may have several facets.
    pub facet: usize,
    /// Whether what hangs on it hangs over heads.
    pub is_overhead: bool,
    /// What stands or runs behind it.
    pub members: Vec<MarkedMembers>,
    /// Panels in hanging order.
    pub panels: Vec<MarkedPanel>,
    /// Rows of panels at one level.
    pub rows: Vec<MarkedRow>,
}

/// Members behind a surface.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkedMembers {
    /// What they are called.
    pub name: String,
    /// What they are.
    pub kind: StructureKind,
    /// Whether they run from the lower edge to the upper one; else from left to right.
    pub upright: bool,
    /// Their middles: from the left edge where they run up, else from the lower edge, meters. None for what carries everywhere.
    pub at_m: Vec<f64>,
    /// How wide each is, meters.
    pub width_m: f64,
    /// Of each, whether an opening overhead cuts it: nothing hangs from such a one.
    pub is_cut: Vec<bool>,
}

impl MarkedSurface {
    /// What marks lie in line with, where cables and pipes are to be expected, each with the names of these marks.
    #[must_use]
    pub fn in_line(&self) -> Vec<(&str, Vec<&str>)> {
        let mut told: Vec<(&str, Vec<&str>)> = Vec::new();
        for mark in self.panels.iter().flat_map(|panel| &panel.marks) {
            let Some(thing) = mark.in_line_with.as_deref() else { continue };
            match told.iter_mut().find(|(name, _)| *name == thing) {
                Some((_, names)) => names.push(&mark.name),
                None => told.push((thing, vec![&mark.name])),
            }
        }
        told
    }
}

impl MarkedMembers {
    /// Those that may carry: which one, and its middle.
    pub fn carrying(&self) -> impl Iterator<Item = (usize, f64)> {
        self.at_m.iter().copied().enumerate().filter(|(index, _)| !self.is_cut.get(*index).is_some_and(|is_cut| *is_cut))
    }

    /// What one of them is called: with its number from the left or from below where there are several.
    #[must_use]
    pub fn name_of(&self, index: usize) -> String {
        if self.at_m.len() > 1 { format!("{}, {}", self.name, words::ordinal(index + 1)) } else { self.name.clone() }
    }
}

/// A panel on a surface.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkedPanel {
    /// Number in hanging order.
    pub number: u32,
    /// Type.
    pub kind: String,
    /// From the left edge to the panel's, meters.
    pub left_m: f64,
    /// From the lower edge to the panel's, meters.
    pub bottom_m: f64,
    /// Width on the surface, meters.
    pub width_m: f64,
    /// Height on the surface, meters.
    pub height_m: f64,
    /// How far it was moved to the right to make gaps equal, meters.
    pub moved_m: f64,
    /// Fixing points.
    pub marks: Vec<Mark>,
    /// Rails that its points are on, where no member lies behind them.
    pub rails: Vec<Rail>,
    /// What the person on the ladder must know of them.
    pub notes: Vec<String>,
}

/// A point to mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// Number of the panel and a letter.
    pub name: String,
    /// From the left edge, meters.
    pub left_m: f64,
    /// From the lower edge, meters.
    pub bottom_m: f64,
    /// What goes there.
    pub what: MarkKind,
    /// The member that it lies on.
    pub member: Option<String>,
    /// What on its surface it lies straight above, below or beside, where cables and pipes are to be expected.
    pub in_line_with: Option<String>,
}

/// What goes into a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MarkKind {
    /// A clip or screw of a panel that lies flat or across a corner.
    Fixing,
    /// The anchor of a wire that carries.
    Wire,
    /// The anchor of a secondary wire.
    Secondary,
}

impl MarkKind {
    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Fixing => "fixing",
            Self::Wire => "wire",
            Self::Secondary => "secondary wire",
        }
    }
}

/// Panels side by side at one level.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkedRow {
    /// Their numbers, from the left.
    pub panels: Vec<u32>,
    /// Their upper edge, meters from the lower edge of the surface.
    pub top_m: f64,
    /// Width of the surface at their level, meters: sum of the spaces and the widths.
    pub width_m: f64,
    /// Where the surface begins at their level, meters from its left edge.
    pub begins_m: f64,
    /// Space before the first, between each two, after the last, meters.
    pub spaces_m: Vec<f64>,
    /// Whether the spaces between them are all alike.
    pub is_even: bool,
}

/// What the tape shows at best: a millimeter or a sixteenth of an inch, meters.
#[must_use]
pub fn tape_step(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => 0.001,
        LengthUnit::Foot | LengthUnit::Inch => 0.0254 / 16.0,
    }
}

/// A length on the nearest mark of the tape, meters.
#[must_use]
pub fn on_tape(meters: f64, unit: LengthUnit) -> f64 {
    let step = tape_step(unit);
    (meters / step).round() * step
}

/// The name of a mark: the panel's number and a letter, after `z` two of them.
#[must_use]
pub fn mark_name(number: u32, index: usize) -> String {
    let letter = |index: usize| char::from(b'a' + (index % 26) as u8);
    if index < 26 { format!("{number}{}", letter(index)) } else { format!("{number}{}{}", letter(index / 26 - 1), letter(index)) }
}

/// Every surface that one of `panels` hangs on, with these panels moved so that rows are even. Numbers count from `first`.
#[must_use]
pub fn surfaces(scene: &Scene, room: &Room, panels: &mut [Panel], troubles: &mut Vec<Trouble>) -> Vec<MarkedSurface> {
    let before = panels.to_vec();
    let rows = rows::even(scene, room, panels, troubles);
    let mut all: Vec<MarkedSurface> = Vec::new();
    for (index, panel) in panels.iter().enumerate() {
        let number = index as u32 + 1;
        let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) else { continue };
        match &panel.place {
            PanelPlace::Surface { surface, left, bottom, gap, .. } => {
                let size = hung_size(kind, &panel.place);
                let low = DVec2::new(*left, *bottom);
                let Some(facet) = room.surface_at(surface, low + 0.5 * size) else { continue };
                let moved = match &before[index].place {
                    PanelPlace::Surface { left: planned, .. } => left - planned,
                    _ => 0.0,
                };
                let marked = flat(scene, room, facet, kind, number, (low, size), (*gap, moved));
                on(&mut all, scene, room, facet).panels.push(marked);
            }
            PanelPlace::Corner { corner, bottom } => {
                for (facet, marked) in corners::panel(scene, room, kind, number, (*corner, *bottom)) {
                    on(&mut all, scene, room, facet).panels.push(marked);
                }
            }
            PanelPlace::Cloud(cloud) => {
                let Some(facet) = room.ceiling_over(cloud.center) else { continue };
                panel_on(&mut all, scene, room, facet, number, panel);
            }
        }
    }
    troubles.extend(corners::too_full(scene, panels));
    for surface in &mut all {
        surface.rows = rows.iter().filter(|(facet, _)| *facet == surface.facet).map(|(_, row)| row.clone()).collect();
    }
    all.sort_by_key(|surface| surface.facet);
    all
}

/// A panel on a facet, of a cloud plumb above its underside; found there, or begun.
pub(super) fn panel_on<'a>(
    all: &'a mut Vec<MarkedSurface>,
    scene: &Scene,
    room: &Room,
    facet: usize,
    number: u32,
    panel: &Panel,
) -> &'a mut MarkedPanel {
    let surface = on(all, scene, room, facet);
    let place = surface.panels.iter().position(|marked| marked.number == number).unwrap_or_else(|| {
        let chart = &room.surfaces[facet].chart;
        let kind = scene.stock.iter().find(|kind| kind.name == panel.kind);
        let corners: Vec<DVec2> = match (&panel.place, kind) {
            (PanelPlace::Cloud(cloud), Some(kind)) => {
                cloud.underside_corners(kind).map(|corner| chart.position(chart.plumb(corner.truncate()))).to_vec()
            }
            _ => Vec::new(),
        };
        let (low, high) = corners.iter().fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), at| (low.min(*at), high.max(*at)));
        surface.panels.push(MarkedPanel {
            number,
            kind: panel.kind.clone(),
            left_m: low.x,
            bottom_m: low.y,
            width_m: high.x - low.x,
            height_m: high.y - low.y,
            moved_m: 0.0,
            marks: Vec::new(),
            rails: Vec::new(),
            notes: Vec::new(),
        });
        surface.panels.sort_by_key(|marked| marked.number);
        surface.panels.iter().position(|marked| marked.number == number).expect("it was put there")
    });
    &mut surface.panels[place]
}

/// The sheet of this facet, begun where there is none yet.
fn on<'a>(all: &'a mut Vec<MarkedSurface>, scene: &Scene, room: &Room, facet: usize) -> &'a mut MarkedSurface {
    let place = all.iter().position(|surface| surface.facet == facet).unwrap_or_else(|| {
        let surface = &room.surfaces[facet];
        all.push(MarkedSurface {
            surface: surface.name.clone(),
            facet,
            is_overhead: is_overhead(surface.role),
            members: members(scene, room, facet),
            panels: Vec::new(),
            rows: Vec::new(),
        });
        all.len() - 1
    });
    &mut all[place]
}

/// What stands behind a facet: members whose lines cross it.
#[must_use]
pub fn members(scene: &Scene, room: &Room, facet: usize) -> Vec<MarkedMembers> {
    let surface = &room.surfaces[facet];
    let corners = &surface.outline.corners;
    let (low, high) = corners.iter().fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), at| (low.min(*at), high.max(*at)));
    let behind = scene.making.structure.iter().filter(|structure| structure.surface == surface.name);
    behind
        .map(|structure| {
            let upright = structure.runs == Runs::Up;
            let (from, to) = if upright { (low.x, high.x) } else { (low.y, high.y) };
            let at_m = lines(structure, from, to);
            let is_cut = |at: &f64| {
                let crosses = |place: &Rectangle| {
                    let (begins, size) = if upright { (place.left, place.width) } else { (place.bottom, place.height) };
                    *at + 0.5 * structure.width > begins && *at - 0.5 * structure.width < begins + size
                };
                // Beside a door or a window of a wall studs stand closer, not fewer.
                is_overhead(surface.role) && scene.openings.iter().any(|opening| opening.surface == surface.name && crosses(&opening.place))
            };
            MarkedMembers {
                name: structure.name.clone(),
                kind: structure.kind,
                upright,
                is_cut: at_m.iter().map(is_cut).collect(),
                at_m,
                width_m: structure.width,
            }
        })
        .collect()
}

/// Where members lie between two ends, meters: those that lie there with all of their width, since in the edge of a wall nothing is screwed.
fn lines(structure: &Structure, from: f64, to: f64) -> Vec<f64> {
    if structure.kind == StructureKind::Solid {
        return Vec::new();
    }
    let half = 0.5 * structure.width;
    let within = |at: &f64| (from + half - 1e-9..=to - half + 1e-9).contains(at);
    let Some(spacing) = structure.spacing else { return std::iter::once(structure.first).filter(within).collect() };
    // Before the first there is none.
    let first = ((from - structure.first) / spacing - 1e-9).ceil().max(0.0);
    let last = ((to - structure.first) / spacing + 1e-9).floor();
    (first as i64..=last as i64).map(|step| structure.first + step as f64 * spacing).filter(within).collect()
}

/// The structural members of a facet that fixings may land on: the first kind of them that has lines.
#[must_use]
pub fn fixing_members(members: &[MarkedMembers]) -> Option<&MarkedMembers> {
    members.iter().find(|members| members.kind.is_structural() && !members.at_m.is_empty())
}

/// The rule for fixing points.
fn rule(making: &Making) -> Rule {
    match making.fixings {
        Some(own) => Rule::Own { count: own.count, inset: own.inset },
        // A maker's rating holds as it stands: it has its own factor in it.
        None => Rule::Usual { rated_kg: making.fixing_holds, factor: 1.0 },
    }
}

/// A panel that lies flat, or before its surface.
fn flat(
    scene: &Scene,
    room: &Room,
    facet: usize,
    kind: &PanelType,
    number: u32,
    (low, size): (DVec2, DVec2),
    (gap, moved): (f64, f64),
) -> MarkedPanel {
    let behind = members(scene, room, facet);
    let lines = fixing_members(&behind);
    let solid = behind.iter().any(|members| members.kind == StructureKind::Solid);
    let carrying: Vec<(usize, f64)> = lines.map(|members| members.carrying().collect()).unwrap_or_default();
    let on_lines = lines.map(|members| Members {
        upright: members.upright,
        centers: carrying.iter().map(|(_, at)| *at).collect(),
        width: members.width_m,
    });
    let found: Fixings = if kind.is_drilled() && room.surfaces[facet].role != Role::Floor {
        let points = |least: usize| at_least(least, low, size, kind.mass, &rule(&scene.making), on_lines.as_ref());
        if is_overhead(room.surfaces[facet].role) { holding(points, low + 0.5 * size) } else { points(0) }
    } else {
        Fixings::default()
    };
    let marks: Vec<Mark> = found
        .points
        .iter()
        .enumerate()
        .map(|(index, point)| Mark {
            name: mark_name(number, index),
            left_m: on_tape(point.at.x, scene.unit),
            bottom_m: on_tape(point.at.y, scene.unit),
            what: MarkKind::Fixing,
            member: lines.zip(point.on_member).map(|(members, index)| members.name_of(carrying[index].0)),
            in_line_with: None,
        })
        .collect();
    let rails =
        if is_overhead(room.surfaces[facet].role) || solid { Vec::new() } else { rails::behind(room, facet, lines, &marks, scene.unit) };
    let mut notes = words::fixing_notes(&found.notes, scene.unit, solid || !rails.is_empty());
    notes.extend(words::rails(&rails, gap, scene.unit));
    let mut panel = MarkedPanel {
        number,
        kind: kind.name.clone(),
        left_m: low.x,
        bottom_m: low.y,
        width_m: size.x,
        height_m: size.y,
        moved_m: moved,
        marks,
        rails,
        notes,
    };
    if kind.construction() == Construction::WoodenFrame {
        let middles = battens::middles(&battens::places(&panel));
        panel.notes.extend(words::battens(&middles, size.y >= size.x, scene.unit));
    }
    panel
}

/// The fewest points that hold the panel with any one of them lost, where some do.
fn holding(points: impl Fn(usize) -> Fixings, middle: DVec2) -> Fixings {
    let holds = |found: &Fixings| {
        let places: Vec<DVec2> = found.points.iter().map(|point| point.at).collect();
        statics::one_lost(&places, middle).iter().all(Option::is_some)
    };
    POINTS_OVERHEAD.into_iter().map(&points).find(holds).unwrap_or_else(|| points(0))
}
