//! The marks of what is to be built as places in the room: where each is, its wire, what it lies on, what is said of it.
//!
//! Every measure and every verdict is that of `study::build`. Surfaces are those of its room, which is the shell with what stands in it.

use bevy::math::{DVec2, DVec3};
use roomwright::report::tape::Tape;
use roomwright::scene::making::StructureKind;
use roomwright::study::Building;
use roomwright::workshop::suspension::Suspension;
use roomwright::workshop::{Mark, MarkKind, MarkedPanel, MarkedSurface};

/// What is said of a panel that must not be hung as it is.
pub(crate) const NOT_TO_BE_HUNG: &str = "not to be hung";

/// A mark in the room.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Marked<'a> {
    /// Its surface.
    pub(crate) surface: &'a MarkedSurface,
    /// Its panel.
    pub(crate) panel: &'a MarkedPanel,
    /// The mark.
    pub(crate) mark: &'a Mark,
    /// Where it is, meters.
    pub(crate) at: DVec3,
    /// The wire from it down to its cloud.
    pub(crate) wire: Option<Wire>,
}

/// A wire from a mark down to a cloud.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Wire {
    /// Anchor and fitting, meters. The fitting of a secondary wire is one of its own beside the one that is given here.
    pub(crate) ends: [DVec3; 2],
    /// Shortest and longest, meters: of a plumb wire both are alike.
    pub(crate) long_m: [f64; 2],
}

impl Marked<'_> {
    /// Index of its panel in the scene.
    pub(crate) fn scene_panel(&self) -> usize {
        scene_panel(self.panel)
    }
}

/// Index of a marked panel in the scene: all that hang in it are built, in their order.
pub(crate) fn scene_panel(panel: &MarkedPanel) -> usize {
    (panel.number as usize).saturating_sub(1)
}

/// All marks, surface by surface.
pub(crate) fn all(building: &Building) -> Vec<Marked<'_>> {
    let mut found = Vec::new();
    for surface in &building.build.surfaces {
        let Some(chart) = building.room.surfaces.get(surface.facet).map(|host| host.chart) else { continue };
        for panel in &surface.panels {
            let suspension =
                building.build.overhead.iter().find(|one| one.number == panel.number).and_then(|overhead| overhead.suspension.as_ref());
            let marks = panel.marks.iter().enumerate().map(|(index, mark)| Marked {
                surface,
                panel,
                mark,
                at: chart.point(DVec2::new(mark.left_m, mark.bottom_m)),
                wire: suspension.and_then(|suspension| wire(suspension, index)),
            });
            found.extend(marks);
        }
    }
    found
}

/// The wire of the mark with this index: first those that carry, then secondary ones.
fn wire(suspension: &Suspension, index: usize) -> Option<Wire> {
    let place = |x: f64, y: f64, z: f64| DVec3::new(x, y, z);
    if let Some(point) = suspension.points.get(index) {
        let ends = [place(point.x_m, point.y_m, point.anchor_m), place(point.x_m, point.y_m, point.attachment_m)];
        return Some(Wire { ends, long_m: [point.wire_m; 2] });
    }
    let secondary = suspension.secondary.get(index - suspension.points.len())?;
    let beside = suspension.points.iter().find(|point| point.number == secondary.beside_number)?;
    let ends = [place(secondary.x_m, secondary.y_m, secondary.anchor_m), place(beside.x_m, beside.y_m, beside.attachment_m)];
    Some(Wire { ends, long_m: [secondary.straight_m, secondary.longest_m] })
}

/// What a mark lies on, as far as the scene says.
pub(crate) fn lies_on<'a>(surface: &'a MarkedSurface, panel: &MarkedPanel, mark: &'a Mark) -> &'a str {
    let solid = surface.members.iter().find(|members| members.kind == StructureKind::Solid);
    match (&mark.member, solid) {
        (Some(member), _) => member,
        (None, Some(solid)) => &solid.name,
        (None, None) if !panel.rails.is_empty() => "a rail",
        (None, None) if surface.members.iter().any(|members| members.kind.is_structural()) => "no member",
        (None, None) => "not known",
    }
}

/// Whether the panel must not be hung like this.
pub(crate) fn stays_down(building: &Building, number: u32) -> bool {
    let is_it = |panels: &[u32]| panels.contains(&number);
    let overhead = || building.build.overhead.iter().any(|one| one.number == number && !one.not_to_be_hung.is_empty());
    overhead() || building.build.troubles.iter().any(|trouble| trouble.id == "held-too-weakly" && is_it(&trouble.panels))
}

/// What is said of a mark that is pointed at, line by line.
pub(crate) fn words(building: &Building, marked: &Marked<'_>) -> Vec<String> {
    let tape = Tape::of(building.scene.unit);
    let Marked { surface, panel, mark, wire, .. } = *marked;
    let mut lines = vec![
        format!("{}, {} of panel {}, {}", mark.name, mark.what.word(), panel.number, panel.kind),
        format!("from left {}, from the lower edge {}", tape.say(mark.left_m), tape.say(mark.bottom_m)),
        format!("behind it on {}: {}", surface.surface, lies_on(surface, panel, mark)),
    ];
    lines.extend(mark.in_line_with.as_ref().map(|thing| format!("! in line with \"{thing}\": expect its cable or pipe")));
    if let Some(Wire { long_m: [least, most], .. }) = wire {
        let long = tape.say(least);
        lines.push(if mark.what == MarkKind::Secondary {
            format!("{long} straight, at most {} long", tape.say(most))
        } else {
            format!("{long} long")
        });
    }
    if stays_down(building, panel.number) {
        lines.push(NOT_TO_BE_HUNG.to_owned());
    }
    lines
}
