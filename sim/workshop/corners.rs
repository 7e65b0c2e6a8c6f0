//! Panels across corners: their marks on both walls, and whether as many as are planned go in.
//!
//! Marks lie along each upright edge, just inside, where the batten or the fittings behind it are. Panels one on the other need some room to be lifted in.
//!
//! *References.* Common practice, no source, for every distance.
//!
//! *Limits.* The height of a corner is that of the ceiling over the corner itself; a slope takes more from a panel whose edges lie farther out.

use super::marking::{Mark, MarkKind, MarkedMembers, MarkedPanel, mark_name, members, on_tape};
use super::pieces::{self, CornerCut};
use super::trouble::Trouble;
use super::words;
use crate::layout::places::{count_least, spread};
use crate::room::{Role, Room};
use crate::scene::making::StructureKind;
use crate::scene::{Panel, PanelPlace, PanelType, Scene};

/// Fixings of a corner panel lie this far inside its edges, meters: in the batten behind (common practice, no source).
const CORNER_INSET: f64 = 0.02;
/// Spacing of them at most, meters (common practice, no source).
const CORNER_SPACING: f64 = 0.6;
/// Room that panels one on the other need in their corner, to be lifted in and for a floor that is not level, meters (common practice, no source).
const LIFT: f64 = 0.01;

/// A panel across a corner, on both of its walls: marks along each of its upright edges, just inside.
pub(super) fn panel(
    scene: &Scene,
    room: &Room,
    kind: &PanelType,
    number: u32,
    (corner, bottom): (usize, f64),
) -> Vec<(usize, MarkedPanel)> {
    let count = scene.outline.len();
    let Some(cut) = pieces::corner_angle(scene, corner).and_then(|angle| pieces::corner_cut(kind.size, kind.thickness, angle)) else {
        return Vec::new();
    };
    let wall = |wall: usize| room.surfaces.iter().position(|surface| surface.role == Role::Wall(wall));
    let walls = [wall((corner + count - 1) % count), wall(corner)];
    let heights = spread(kind.size.y, count_least(kind.size.y, CORNER_SPACING), CORNER_SPACING);
    let mut letter = 0;
    let mut found = Vec::new();
    for facet in walls.into_iter().flatten() {
        let surface = &room.surfaces[facet];
        let at = surface.chart.position(scene.outline[corner].extend(0.0)).x;
        let begins = surface.outline.corners.iter().map(|corner| corner.x).fold(f64::INFINITY, f64::min);
        let at_left = (at - begins).abs() < 0.5 * cut.leg_m;
        let left = if at_left { at } else { at - cut.leg_m };
        let line = if at_left { left + cut.leg_m - CORNER_INSET } else { left + CORNER_INSET };
        let marks = heights
            .iter()
            .rev()
            .map(|height| {
                letter += 1;
                Mark {
                    name: mark_name(number, letter - 1),
                    left_m: on_tape(line, scene.unit),
                    bottom_m: on_tape(bottom + height, scene.unit),
                    what: MarkKind::Fixing,
                    member: None,
                    in_line_with: None,
                }
            })
            .collect();
        let panel = MarkedPanel {
            number,
            kind: kind.name.clone(),
            left_m: left,
            bottom_m: bottom,
            width_m: cut.leg_m,
            height_m: kind.size.y,
            moved_m: 0.0,
            marks,
            rails: Vec::new(),
            notes: notes(scene, room, facet, &cut, line),
        };
        found.push((facet, panel));
    }
    found
}

/// What a person must know of a corner panel on one of its walls.
fn notes(scene: &Scene, room: &Room, facet: usize, cut: &CornerCut, line: f64) -> Vec<String> {
    let mut notes = vec![words::corner_note(cut, scene.unit)];
    let members = members(scene, room, facet);
    let hit = |members: &MarkedMembers| members.at_m.iter().any(|at| (at - line).abs() <= 0.5 * members.width_m);
    let is_solid = members.iter().any(|members| members.kind == StructureKind::Solid);
    if members.iter().any(|members| members.upright) && !members.iter().any(hit) && !is_solid {
        notes.push("no member lies behind its marks: fixings made for this surface, and each tried before the panel goes on".to_owned());
    }
    notes
}

/// Corners whose panels fill them from floor to ceiling, so that the last one does not go in.
pub(super) fn too_full(scene: &Scene, panels: &[Panel]) -> Vec<Trouble> {
    let in_corner = |corner: usize| {
        panels.iter().enumerate().filter_map(move |(index, panel)| match panel.place {
            PanelPlace::Corner { corner: own, .. } if own == corner => {
                let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
                Some((index as u32 + 1, kind.size.y, panel))
            }
            _ => None,
        })
    };
    let one = |corner: usize| {
        let high: f64 = in_corner(corner).map(|(_, height, _)| height).sum();
        let free = scene.ceiling_height(scene.outline[corner]) - high;
        let numbers: Vec<u32> = in_corner(corner).map(|(number, ..)| number).collect();
        let (_, _, panel) = in_corner(corner).next().filter(|_| free < LIFT)?;
        let named = numbers.iter().map(u32::to_string).collect::<Vec<_>>().join(" and ");
        let (panels, fill) = if numbers.len() == 1 { ("panel", "fills its corner") } else { ("panels", "fill their corner") };
        let message = format!(
            "{panels} {named} {fill} from floor to ceiling and leave {}: a panel needs {} to be lifted in",
            words::print(free.max(0.0), scene.unit),
            words::print(LIFT, scene.unit)
        );
        let high = scene.stock.iter().find(|kind| kind.name == panel.kind).map_or(0.0, |kind| kind.size.y);
        let hint = format!(
            "measure the height of that corner in three places before anything is cut, and make the upper one {} high instead of {}: its sides and core that much shorter than the cut list has them, ends and cloth as listed",
            words::print(high - LIFT + free.min(LIFT), scene.unit),
            words::print(high, scene.unit)
        );
        // Which corner it is, in the words of the other troubles of panels.
        Some(Trouble::new("no-room-to-lift", message, &hint).on(&words::corner_name(scene, corner), numbers).of(&panel.kind))
    };
    (0..scene.outline.len()).filter_map(one).collect()
}
