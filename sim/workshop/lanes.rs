//! Which marks lie where cables or pipes are to be expected: straight above, below or beside what the scene names on the same surface.
//!
//! *References.* Zones for hidden cables run level or plumb from an accessory, as wide as it is: BS 7671, regulation 522.6.202, and DIN 18015-3 (both from memory).
//!
//! *Limits.* Old and careless work keeps to no zone, and a scene names few sockets: a mark outside is not safe for it. Walls only: in a ceiling cables run along and through members, which way nobody knows.

use super::marking::MarkedSurface;
use crate::scene::{ClearanceRegion, Scene};

/// Words in the name of what cables or pipes run to.
const SUPPLIED: [&str; 12] =
    ["socket", "outlet", "switch", "lamp", "light", "thermostat", "detector", "alarm", "tap", "radiator", "heater", "boiler"];
/// Cables are looked for this far beyond its edges, meters (common practice, no source).
const BESIDE: f64 = 0.05;

/// Names at every mark what lies in line with it.
pub(super) fn name(scene: &Scene, surfaces: &mut [MarkedSurface]) {
    for surface in surfaces.iter_mut().filter(|surface| !surface.is_overhead) {
        let places: Vec<(&str, crate::scene::Rectangle)> = scene
            .clearances
            .iter()
            .filter_map(|clearance| match &clearance.region {
                ClearanceRegion::Surface { surface: on, place } if *on == surface.surface && is_supplied(&clearance.name) => {
                    Some((clearance.name.as_str(), *place))
                }
                _ => None,
            })
            .collect();
        for mark in surface.panels.iter_mut().flat_map(|panel| &mut panel.marks) {
            let within = |at: f64, low: f64, size: f64| (low - BESIDE..=low + size + BESIDE).contains(&at);
            let in_line = places
                .iter()
                .find(|(_, place)| within(mark.left_m, place.left, place.width) || within(mark.bottom_m, place.bottom, place.height));
            mark.in_line_with = in_line.map(|(name, _)| (*name).to_owned());
        }
    }
}

fn is_supplied(name: &str) -> bool {
    let name = name.to_lowercase();
    SUPPLIED.iter().any(|word| name.contains(word))
}
