//! Sentences for the sheet: what is known of fixings, corners and what hangs overhead, in the user's unit.
//!
//! *Limits.* Every one of them defers to the maker's sheet, to local codes, and to whoever is licensed to judge.

use super::pieces::CornerCut;
use super::rails::{self, Rail};
use super::suspension::{Reason, Remark};
use crate::layout::fixings::Note;
use crate::layout::places::Axis;
use crate::room::Room;
use crate::scene::making::HeldBy;
use crate::scene::{Panel, PanelPlace, Scene};
use crate::units::{Length, LengthUnit, POUND_FORCE_N, POUND_KG};

/// A length as a tape shows it, with its unit.
pub(super) fn print(meters: f64, unit: LengthUnit) -> String {
    let unit = match unit {
        LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => LengthUnit::Millimeter,
        other => other,
    };
    Length(super::marking::on_tape(meters, unit)).print(unit)
}

fn side(axis: Axis) -> &'static str {
    match axis {
        Axis::X => "width",
        Axis::Y => "height",
    }
}

/// What a person must know of the fixing points of a panel. `solid`: the surface carries everywhere.
#[must_use]
pub(super) fn fixing_notes(notes: &[Note], unit: LengthUnit, solid: bool) -> Vec<String> {
    notes.iter().filter_map(|note| fixing_note(note, unit, solid)).collect()
}

fn fixing_note(note: &Note, unit: LengthUnit, solid: bool) -> Option<String> {
    Some(match note {
        Note::SizeUnusable => "no fixing points: its size is out of range".to_owned(),
        Note::MassUnchecked { mass_known: false, .. } => {
            "its mass is not in the scene: weigh it, and ask the clip's maker what one holds".to_owned()
        }
        Note::MassUnchecked { .. } => return None,
        Note::TooManyNeeded { needed, given } => {
            format!("its mass asks for {needed} points and there is room for {given}: take stronger fixings")
        }
        Note::NoMemberBehind | Note::FewOnMembers { .. } if solid => return None,
        Note::NoMemberBehind => "no member lies behind it: screw a rail to two members, or take fixings made for this surface".to_owned(),
        Note::FewOnMembers { behind } => {
            format!("only {behind} of the members lies behind it: screw a rail to two members, or take fixings made for this surface")
        }
        Note::NarrowMembers { width } => format!("the members are {} wide: find the middle of each", print(*width, unit)),
        Note::InsetOffRule { axis, inset, share } => {
            format!("outer points {} in from the edge, {} of its {} (usual: 20 to 25 %)", print(*inset, unit), percent(*share), side(*axis))
        }
        Note::SpacingOver { axis, spacing } => {
            format!("points {} apart along its {} (usual: {} at most)", print(*spacing, unit), side(*axis), print(0.6, unit))
        }
        Note::OwnRule { count, usual } => format!("{count} points by your own rule (usual: {usual})"),
        Note::OwnInsetMoved { axis, asked, given } => {
            format!("{} from the edge does not go on its {}: {} instead", print(*asked, unit), side(*axis), print(*given, unit))
        }
        Note::OwnMoved { farthest } => format!("points of your own rule moved by up to {} onto members", print(*farthest, unit)),
    })
}

/// How a panel is cut to lie across a corner.
#[must_use]
pub(super) fn corner_note(cut: &CornerCut, unit: LengthUnit) -> String {
    format!(
        "upright sides askew by {:.0} degrees, back {} wide; front edges {} from the corner on each wall; {:.0} liters of air behind",
        cut.bevel_deg,
        print(cut.back_m, unit),
        print(cut.leg_m, unit),
        1000.0 * cut.air_m3
    )
}

/// Why something must not be hung.
#[must_use]
pub(super) fn reason(reason: &Reason, unit: LengthUnit) -> String {
    match reason {
        Reason::OutOfRange => "its size, height or tilt is out of range: nothing was figured".to_owned(),
        Reason::NoMember => "the scene names no structural member above it (add a [[structure]] for this surface once you have found the joists)".to_owned(),
        Reason::MemberMisses => "no two members cross where it may be fixed: screw rails that are rated for it across two members, and enter them as a [[structure]] of kind \"beams\"".to_owned(),
        Reason::NotStructural { name } => {
            format!("\"{name}\" moves or was made to carry something else: never an anchor unless its maker or a licensed person rates it for this")
        }
        Reason::NoSecondMember => "no second member for its secondary wire is in reach".to_owned(),
        Reason::CeilingTooLow { number, wire_m, least_m } => {
            format!("wire {number} would be {} long, and its fittings need {}: hang it lower, or flat", print(*wire_m, unit), print(*least_m, unit))
        }
        Reason::MassUnknown => "its mass is not in the scene: weigh one and add `mass` to its [[stock]]".to_owned(),
        Reason::TooWeak { part, factor, factor_wanted } => {
            format!("\"{part}\" breaks at {factor:.1} times the load, and {factor_wanted:.0} times is asked for")
        }
        Reason::Tips { number } => format!("it tips when wire {number} is lost"),
    }
}

/// What is on the same ceiling and carries nothing.
pub(super) fn no_anchor(name: &str) -> String {
    format!("\"{name}\" on this surface moves or was made to carry something else: never an anchor")
}

/// What is unusual about wires.
#[must_use]
pub(super) fn remark(remark: &Remark, unit: LengthUnit) -> String {
    match remark {
        Remark::InsetOffRule { axis, share } => {
            format!("outer wires {} of its {} in from the edge, where the members are (usual: 20 to 25 %)", percent(*share), along(*axis))
        }
        Remark::SpacingOver { axis, spacing_m } => {
            format!("wires {} apart along its {}, where the members are", print(*spacing_m, unit), along(*axis))
        }
        Remark::RowAdded => "more wires than its size asks for, so that it does not tip when one is lost".to_owned(),
        Remark::SharedMember { name } => format!("a secondary wire goes to \"{name}\", which carries wires of this cloud, too"),
    }
}

/// A share in percent, with a tenth where it is not whole.
fn percent(share: f64) -> String {
    let tenths = (1000.0 * share).round() / 10.0;
    format!("{tenths} %")
}

fn along(axis: Axis) -> &'static str {
    match axis {
        Axis::X => "side along x",
        Axis::Y => "side along y",
    }
}

/// Nobody said what the parts hold.
#[must_use]
pub(super) fn strength_unknown(needed_n: Option<f64>, unit: LengthUnit) -> String {
    match needed_n {
        Some(needed) => {
            format!(
                "strengths not checked: every part, the anchor's pull-out included, must break at no less than {}; write `breaks_at` in [build] from the makers' sheets",
                force(needed, unit)
            )
        }
        None => "strengths not checked: nothing is known of its loads".to_owned(),
    }
}

/// A part that holds as one of several wires, and not as the secondary wire alone.
pub(super) fn secondary_too_weak(part: &str, breaking_n: f64, needed_n: f64, unit: LengthUnit) -> String {
    format!(
        "\"{part}\" breaks at {breaking_n:.0} N, and as a part of the secondary wire, which may come to hold alone, it must hold {}",
        force(needed_n, unit)
    )
}

/// Nothing is known of what holds a panel that lies flat overhead.
pub(super) fn flat_strength_unknown(needed_n: Option<f64>, unit: LengthUnit) -> String {
    let needed = needed_n.map_or_else(|| "what its loads come to".to_owned(), |needed| force(needed, unit));
    format!(
        "strengths not checked: its fixing, how that is held in the panel, and the screw in the member must each break at no less than {needed}, by their makers' sheets; a fixing that holds in \
         fiber alone is not one, and a clip overhead is of a kind that locks"
    )
}

/// Something is nearer than it is kept.
#[must_use]
pub(super) fn too_near(name: &str, distance: f64, kept: f64, unit: LengthUnit) -> String {
    format!("{} from \"{name}\", and {} are kept free; local code may ask for more", print(distance, unit), print(kept, unit))
}

/// A way of holding that gives way without a sign.
#[must_use]
pub(super) fn held_by_alone(held_by: HeldBy) -> String {
    format!(
        "{} alone let go without a sign: over a bed, a seat, a door or anywhere overhead it must be held by what closes or goes through",
        held_by.word()
    )
}

/// Where a panel hangs, in words.
#[must_use]
pub(super) fn whereabouts(panel: &Panel, scene: &Scene, room: &Room) -> String {
    match &panel.place {
        PanelPlace::Surface { surface, .. } => surface.clone(),
        PanelPlace::Corner { corner, .. } => corner_name(scene, *corner),
        PanelPlace::Cloud(cloud) => {
            let above = room.ceiling_over(cloud.center).map_or("the ceiling", |facet| room.surfaces[facet].name.as_str());
            format!("under {above}")
        }
    }
}

/// `1st`, `2nd`, `3rd`, `4th`.
#[must_use]
pub fn ordinal(number: usize) -> String {
    let ending = match (number % 10, number % 100) {
        (1, rest) if rest != 11 => "st",
        (2, rest) if rest != 12 => "nd",
        (3, rest) if rest != 13 => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

/// A force that is at least asked for: newtons, and pounds-force beside them for a tape in inches, both rounded up.
#[must_use]
pub fn force(newtons: f64, unit: LengthUnit) -> String {
    let pounds = if is_imperial(unit) { format!(" ({:.0} lbf)", (newtons / POUND_FORCE_N).ceil()) } else { String::new() };
    format!("{:.0} N{pounds}", newtons.ceil())
}

/// A mass that is at least asked for, rounded up.
#[must_use]
pub(super) fn mass_at_least(kg: f64, unit: LengthUnit) -> String {
    let pounds = if is_imperial(unit) { format!(" ({:.1} lb)", (10.0 * kg / POUND_KG).ceil() / 10.0) } else { String::new() };
    format!("{:.1} kg{pounds}", (10.0 * kg).ceil() / 10.0)
}

fn is_imperial(unit: LengthUnit) -> bool {
    matches!(unit, LengthUnit::Foot | LengthUnit::Inch)
}

/// Rails behind points that no member lies behind: those that begin and end alike together.
#[must_use]
pub(super) fn rails(all: &[Rail], gap: f64, unit: LengthUnit) -> Vec<String> {
    let mut told: Vec<(&Rail, Vec<String>)> = Vec::new();
    for rail in all {
        let alike = |other: &Rail| (other.from_m, other.to_m) == (rail.from_m, rail.to_m);
        match told.iter_mut().find(|(other, _)| alike(other)) {
            Some((_, places)) => places.push(print(rail.at_m, unit)),
            None => told.push((rail, vec![print(rail.at_m, unit)])),
        }
    }
    let line = |(rail, places): (&Rail, Vec<String>)| {
        let screws: Vec<String> = rail.screws_m.iter().map(|meters| print(*meters, unit)).collect();
        let (place, ends) = if rail.level { ("over the floor", "from the left") } else { ("from the left", "over the floor") };
        let thick = print(rails::THICK, unit);
        let depth = if gap > rails::THICK + 1e-6 {
            format!("the rail takes {thick} of the air, its stand-offs are {} deep", print(gap - rails::THICK, unit))
        } else {
            format!("the panel comes {} farther off the wall than planned, by the rail", print(rails::THICK - gap, unit))
        };
        format!(
            "no members lie behind its points: a rail {thick} thick each, middle at {} {place}; from {} to {} {ends}, screwed into the members at {}; {depth}; rails go on before any panel",
            places.join(" and "),
            print(rail.from_m, unit),
            print(rail.to_m, unit),
            screws.join(", ")
        )
    };
    told.into_iter().map(line).collect()
}

/// `the corner of north and east`.
pub(super) fn corner_name(scene: &Scene, corner: usize) -> String {
    let count = scene.walls.len();
    let name = |wall: usize| scene.walls.get(wall).map_or("", |wall| wall.name.as_str());
    format!("the corner of {} and {}", name((corner + count - 1) % count), name(corner))
}

/// A panel without wood that lies flat overhead.
pub(super) const NO_WOOD: &str = "it is a board of fiber with hardened edges, and nothing in it holds a fixing overhead: make its type with `made = \"wooden frame\"`, or buy one that is made to hang there";

/// A long panel with one secondary wire.
#[must_use]
pub(super) fn one_secondary(long: f64, unit: LengthUnit) -> String {
    format!(
        "one secondary wire only is in reach of a member: if its fixings fail, its far end swings down, up to {} deep",
        print(long, unit)
    )
}

/// Something overhead that a head reaches.
#[must_use]
pub(super) fn low(lowest: f64, unit: LengthUnit) -> String {
    format!(
        "its lowest point is {} over the floor, in the way of heads: nobody walks there, or its edge is marked and padded",
        print(lowest, unit)
    )
}

/// Anchors in a slope that a plumb wire pulls askew.
#[must_use]
pub(super) fn sloped_anchors(marks: &[&str], degrees: f64) -> String {
    format!(
        "the ceiling slopes by up to {degrees:.0} degrees at {}: anchors that swivel, or that their maker rates for a pull that far off their axis; an eye screwed in square to a slope is bent",
        marks.join(", ")
    )
}

/// A part that is named in the scene and holds less than the secondary wire of a flat panel must.
pub(super) fn too_weak_there(part: &str, breaking_n: f64, mark: &str, needed_n: f64, unit: LengthUnit) -> String {
    format!(
        "\"{part}\" breaks at {breaking_n:.0} N: too weak for the secondary wire of mark {mark}, whose parts must each hold {}",
        force(needed_n, unit)
    )
}

/// What is known of several things overhead by the id of its trouble, and what to do.
pub(super) fn to_look_at(id: &str, numbers: &[u32], heads: f64, unit: LengthUnit) -> (String, &'static str) {
    let named = match numbers {
        [one] => format!("panel {one}"),
        [before @ .., last] => format!("panels {} and {last}", before.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")),
        [] => String::new(),
    };
    let one = numbers.len() == 1;
    match id {
        "in-the-way-of-heads" => (
            format!("{named} {} down below {}, where heads are", if one { "reaches" } else { "reach" }, print(heads, unit)),
            "let nobody walk there, or mark and pad the edge",
        ),
        "one-secondary-wire" => (
            format!("{named} {} one secondary wire only: if fixings fail, the far end swings down", if one { "has" } else { "have" }),
            "enter a member that a second wire reaches, if there is one; keep people from under the far end",
        ),
        _ => (
            format!("nothing is known of how strong the fixings or parts are that hold {named}"),
            "compare every part with the breaking load on the page of that panel, by its maker's sheet, before anything is hung",
        ),
    }
}

/// A cloud under the anchor of something that lies flat.
pub(super) fn before_the_cloud(panel: u32, anchors: &[&str], cloud: u32) -> String {
    let (anchors, are) = match anchors {
        [one] => (format!("anchor {one}"), "is"),
        several => (format!("anchors {}", several.join(", ")), "are"),
    };
    format!("panel {panel} goes up before cloud {cloud}: its {anchors} {are} above the cloud and out of reach once that hangs")
}

/// Wires too short for two loops.
#[must_use]
pub(super) fn short_wires(loops: f64, unit: LengthUnit) -> String {
    format!(
        "wires shorter than {} leave no room for two loops with their clamps: a rated chain or rated threaded links that hold as much instead, as the shopping list has them; one turnbuckle or fine link a point levels it",
        print(loops, unit)
    )
}

/// Where the cross-battens of a framed panel lie.
#[must_use]
pub(super) fn battens(middles: &[f64], upright: bool, unit: LengthUnit) -> Option<String> {
    let places: Vec<String> = middles.iter().map(|meters| print(*meters, unit)).collect();
    // The back is worked on face down, where left and right change sides.
    let end = if upright { "lower end" } else { "left end as it is seen hung, which is the right one with its back up on the bench" };
    (!places.is_empty()).then(|| format!("middles of its cross-battens {} from its {end}", places.join(", ")))
}
