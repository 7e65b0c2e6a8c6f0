//! What can hurt someone, said where the work is. Every line defers to local codes.
//!
//! *Limits.* Common safety practice, not a code; it cannot know the building.

use crate::units::POUND_KG;

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
    lines.push("Where this sheet and a code disagree, the code holds.".to_owned());
    lines
}

/// What concerns walls and ceilings.
fn before_drilling(hazards: Hazards) -> Vec<String> {
    let mut lines = vec![
        "Look for cables and pipes behind the surface: expect them above, below and beside every socket, switch, lamp and tap. Switch the circuit off."
            .to_owned(),
        "Old plaster, boards, textured coats and paint can hold asbestos or lead: have them tested before you drill, sand or scrape.".to_owned(),
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
