//! What can hurt someone, said on the page where the work is. Every page defers to local codes and to who is licensed, and none can be switched off.
//!
//! *References.* Names of fire tests: EN 13501-1 (building products), ASTM E84 (surface burning), NFPA 286 (room corner), NFPA 701 and EN 13773 (hanging cloth), all from memory. Everything
//! else is common practice without a source.
//!
//! *Limits.* Common safety practice, not a code; it cannot know the building. Garage and attic are told everywhere, since a scene does not say what a room was built as.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::marking::MarkedSurface;
use super::pieces::Made;
use crate::room::{Role, Room};
use crate::scene::making::Construction;
use crate::scene::{ClearanceRegion, OpeningKind, PanelType, Scene};
use crate::units::{LengthUnit, POUND_KG};

/// A page of the sheets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Where things are bought.
    Shop,
    /// Where cores, cloth and frames are cut.
    Cutting,
    /// Where panels are hardened, glued, wrapped.
    Making,
    /// At a wall, under a ceiling, on the floor.
    Surface,
}

/// What could hurt on one page.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cautions {
    /// Which page.
    pub place: Place,
    /// Of a surface, which one of the room's.
    pub facet: Option<usize>,
    /// Its heading.
    pub heading: String,
    /// Sentences, the gravest first.
    pub lines: Vec<String>,
}

/// The last word of every page.
const LAST: &str = "Where this sheet and a code, a maker's sheet or a licensed person disagree, they hold.";

/// All pages with what could hurt there.
#[must_use]
pub fn cautions(scene: &Scene, room: &Room, types: &[Made], surfaces: &[MarkedSurface]) -> Vec<Cautions> {
    let any = |construction: Construction| types.iter().any(|made| made.construction == construction);
    let owned = |lines: &[&str]| lines.iter().map(|line| (*line).to_owned()).chain([LAST.to_owned()]).collect::<Vec<_>>();
    let mut all = vec![Cautions { place: Place::Shop, facet: None, heading: "Before you buy".to_owned(), lines: owned(&SHOP) }];
    if any(Construction::HardenedBoard) || any(Construction::WoodenFrame) {
        all.push(Cautions { place: Place::Cutting, facet: None, heading: "Before you cut".to_owned(), lines: owned(&CUTTING) });
        all.push(Cautions { place: Place::Making, facet: None, heading: "Before you open a can".to_owned(), lines: owned(&MAKING) });
    }
    all.extend(surfaces.iter().map(|surface| {
        let hazards = hazards(scene, room, surface);
        let mut lines = lines(hazards);
        // The last two defer: what this surface brings besides stands before them.
        let place = lines.len().saturating_sub(2);
        lines.splice(place..place, of_surface(scene, room, surface));
        Cautions { place: Place::Surface, facet: Some(surface.facet), heading: heading(hazards).to_owned(), lines }
    }));
    all
}

const SHOP: [&str; 5] = [
    "Fire: ask what class your local code wants of cores, cloth and frames in this room, and for the maker's certificate: EN 13501-1, or ASTM E84 and NFPA 286; for cloth NFPA 701 or EN 13773. A treated cloth loses its class when it is washed.",
    "Never bare polyurethane foam, and no foam at all without a certificate: it burns fast and its smoke kills.",
    "Take the safety data sheets of hardener, adhesive and fiber with you, and mask, gloves and glasses that they ask for.",
    "Fittings that hang something overhead are bought with a rating on them or on their sheet; what has none is not used.",
    "Sealing a room against sound takes its air: people and heaters need a way for fresh air in; ask before you close one.",
];
const CUTTING: [&str; 5] = [
    "Fiber: a mask of the class that its data sheet asks for (P2, N95 or better), glasses that close, gloves, long sleeves; cut with a knife along a rule, not with a saw that throws dust; wash work clothes apart.",
    "Cut where air moves out, away from children; wet or vacuum the dust, do not sweep it.",
    "Knife and saw: cut away from the hand, clamp the piece, blade guard on, no gloves near a turning blade.",
    "Cover what stays open: bare fiber sheds as long as it hangs.",
    "Lift boards by two; a stack of them tips.",
];
const MAKING: [&str; 5] = [
    "Hardeners, resins and adhesives: read the data sheet; air through the room while they are wet and until they are cured, gloves, glasses, and the cartridge mask that it names; some cure warm in a thick layer: mix little.",
    "Solvent and spray burn: no flame, no pilot light, no heater, no switch that sparks, no smoking. In a garage fuel vapor adds to it: take vehicle, mower and cans out, and turn boiler and heater off by their makers' sheets; they need their combustion air.",
    "Rags with oil or resin can light by themselves: dry them flat outside.",
    "Drying times are the maker's; cold and damp make them longer. Do not hang what still smells.",
    "Staples and screws: glasses; nothing may come through the face.",
];

/// The hazards of a surface.
fn hazards(scene: &Scene, room: &Room, surface: &MarkedSurface) -> Hazards {
    let types: Vec<&PanelType> = scene.stock.iter().filter(|kind| surface.panels.iter().any(|panel| panel.kind == kind.name)).collect();
    let role = room.surfaces[surface.facet].role;
    Hazards {
        drilling: role != Role::Floor && types.iter().any(|kind| kind.is_drilled()),
        standing: types.iter().any(|kind| kind.kind.stands()),
        laid: role == Role::Floor,
        overhead: surface.is_overhead,
        corner: types.iter().any(|kind| kind.kind == crate::scene::StockKind::Corner),
        fiber: types.iter().any(|kind| kind.core.is_fibrous()),
        heaviest_kg: types.iter().filter_map(|kind| kind.mass).reduce(f64::max),
        pounds: matches!(scene.unit, LengthUnit::Foot | LengthUnit::Inch),
    }
}

/// What this surface brings besides: what the scene names on it, and what such surfaces hide.
fn of_surface(scene: &Scene, room: &Room, surface: &MarkedSurface) -> Vec<String> {
    let mut lines = Vec::new();
    let on = |name: &str| surface.surface == *name;
    let sockets: Vec<&str> = scene
        .clearances
        .iter()
        .filter(|clearance| matches!(&clearance.region, ClearanceRegion::Surface { surface, .. } if on(surface)))
        .map(|clearance| clearance.name.as_str())
        .collect();
    if !sockets.is_empty() {
        let way = if surface.is_overhead {
            "Which way their cables run above it nobody knows: find them"
        } else {
            "Cables run straight up, down or level from them"
        };
        lines.push(format!("On this surface: {}. {way}; what must be reached stays free.", sockets.join(", ")));
    }
    let openings = || scene.openings.iter().filter(|opening| on(&opening.surface));
    if openings().any(|opening| opening.kind == OpeningKind::Window) {
        lines.push("A window here may be the second way out: nothing over it, before it, or in the way to it.".to_owned());
    }
    if openings().any(|opening| opening.kind == OpeningKind::Door) {
        lines.push(
            "The door stays free over its whole travel. A garage door's springs and cables are under tension that kills: nobody but its fitter touches them, and nothing hangs from its tracks."
                .to_owned(),
        );
    }
    if surface.is_overhead {
        lines.push(
            "Wires: open hooks are moused (closed with wire); a closed secondary wire to another member, short enough not to gather speed. Never cut or notch a joist, rafter or truss; never hang from a pipe, a track or a lamp rail. Sprinklers: distances are set by code."
                .to_owned(),
        );
        lines.push(
            "Above it, in an attic: hot flues and recessed lamps need air round them, cables lie in the insulation, and only joists carry a foot.".to_owned(),
        );
    } else if matches!(room.surfaces[surface.facet].role, Role::Wall(_)) {
        lines.push("A damp wall first dries and its cause is mended: behind a panel it molds. On outer walls leave air behind.".to_owned());
    }
    lines
}

/// What this piece of work brings with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hazards {
    /// Something is fixed to a wall or ceiling.
    pub drilling: bool,
    /// Something stands on the floor.
    pub standing: bool,
    /// Something is laid on the floor.
    pub laid: bool,
    /// Something hangs over heads.
    pub overhead: bool,
    /// Something hangs across a corner.
    pub corner: bool,
    /// Fiber is cut or handled.
    pub fiber: bool,
    /// Mass of the heaviest panel in kg, where known.
    pub heaviest_kg: Option<f64>,
    /// Say pounds beside kilograms.
    pub pounds: bool,
}

/// The heading over these sentences.
#[must_use]
pub fn heading(hazards: Hazards) -> &'static str {
    match (hazards.drilling, hazards.standing) {
        (true, _) => "Before you drill",
        (false, true) => "Before you set it up",
        (false, false) => "Before you lay it",
    }
}

/// Sentences for the box beside the drawing, the gravest first.
#[must_use]
pub fn lines(hazards: Hazards) -> Vec<String> {
    let mut lines = if hazards.drilling { before_drilling(hazards) } else { Vec::new() };
    if hazards.standing {
        lines.push("What stands can tip over: feet wide enough or a tie to the wall as its maker says, above all where there are children; ways out stay free.".to_owned());
    }
    if hazards.laid {
        lines.push(
            "On the floor: no edge to trip over, nothing that slips, no cable and no heater beneath; keep doors and ways out free."
                .to_owned(),
        );
    }
    lines.push("Fire: ask what class your local code wants of cores and cloth in this room.".to_owned());
    lines.push(LAST.to_owned());
    lines
}

/// What concerns walls and ceilings.
fn before_drilling(hazards: Hazards) -> Vec<String> {
    let mut lines = vec![
        "Look for cables and pipes behind the surface: expect them above, below and beside every socket, switch, lamp and tap. Switch the circuit off."
            .to_owned(),
        "Old plaster, boards, textured coats, tiles and paint can hold asbestos or lead: have them tested before you drill, sand or scrape.".to_owned(),
    ];
    if hazards.overhead {
        lines.push(
            "Overhead: rated fixings into joists or structure, never into plasterboard alone; a second wire to a fixing of its own on every panel. \
             Where your code asks for a licensed person, let one hang it. Keep smoke detectors and sprinklers clear."
                .to_owned(),
        );
    }
    if hazards.corner {
        lines.push("Corner panels touch both walls: each has its own sheet; look for cables in both.".to_owned());
    }
    let mass = hazards.heaviest_kg.filter(|mass| mass.is_finite()).map_or_else(String::new, |mass| {
        let pounds = if hazards.pounds { format!(" ({:.0} lb)", mass / POUND_KG) } else { String::new() };
        format!("; the heaviest panel weighs about {mass:.1} kg{pounds}")
    });
    lines.push(format!("Ladder on level ground, somebody at its foot; two people lift{mass}. Fixings rated for the wall you have."));
    if hazards.fiber {
        lines.push("Fiber: mask, gloves and glasses when cutting or pressing it; cover what lies open.".to_owned());
    }
    lines
}
