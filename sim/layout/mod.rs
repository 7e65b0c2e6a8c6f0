//! Where something may hang, all the places worth trying, and tidy rows.
//!
//! [`Free`] knows what every surface leaves free and says what is in the way; [`mod@candidates`] lists the places for one type of
//! panel; [`rows`] lines up what was placed so that it can be measured and drilled without doubt, [`symmetry`] makes left and right alike.

pub mod body;
pub mod candidates;
pub mod fixings;
pub mod free;
pub mod places;
pub mod refusal;
pub mod rows;
pub mod symmetry;

pub use body::Body;
pub use candidates::{Candidate, Found, candidates};
pub use free::Free;
pub use refusal::Refusal;

use glam::DVec2;

use crate::findings::Place;
use crate::room::Role;
use crate::scene::{Panel, PanelPlace, PanelType};
use crate::units::LengthUnit;

/// The finest step that measures of a placed panel are given in, meters: 10 mm, or half an inch.
#[must_use]
pub fn measure_step(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => 0.010,
        LengthUnit::Foot | LengthUnit::Inch => 0.0127,
    }
}

/// Where to measure a panel from, and its width and height as hung (meters): its lower left corner on its surface; for a corner
/// panel on the wall left of the corner; for a cloud plumb above its underside on the ceiling facet over its middle, its size its own and not
/// that of its outline there, which is longer on a slope and shorter where the cloud is tilted.
///
/// # Errors
/// Its surface or corner is not in the room.
pub fn place(free: &Free, panel: &Panel, kind: &PanelType) -> Result<(Place, DVec2), Refusal> {
    let body = free.body(panel, kind)?;
    let surface = body.surface.ok_or_else(|| Refusal::NoPlace(kind.name.clone()))?;
    let (Some((chart, _)), Some(name)) = (free.surface(surface), free.name(surface)) else {
        return Err(Refusal::NoPlace(kind.name.clone()));
    };
    let (position, size) = match (&panel.place, body.span) {
        (_, Some((low, high))) => (low, high - low),
        (PanelPlace::Corner { .. }, None) => {
            // Where its edge meets the wall: of its corners on the wall's plane, not the one in the corner of the room (0 or the
            // wall's end), the lowest.
            let on_wall =
                body.solid.corners().iter().filter(|&&corner| chart.height(corner).abs() < 1e-6).map(|&corner| chart.position(corner));
            (on_wall.fold(DVec2::INFINITY, DVec2::min), kind.size)
        }
        (PanelPlace::Cloud(cloud), None) => {
            let size = cloud.size(kind);
            let corners = cloud.underside_corners(kind).map(|corner| chart.position(chart.plumb(corner.truncate())));
            let along_x = chart.right.x.abs() >= chart.right.y.abs();
            (corners.into_iter().fold(DVec2::INFINITY, DVec2::min), if along_x { size } else { DVec2::new(size.y, size.x) })
        }
        (_, None) => {
            let corners = body.solid.corners().iter().map(|&corner| chart.position(corner));
            let (low, high) = corners.fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
            (low, high - low)
        }
    };
    Ok((Place { surface: name.to_owned(), left_m: position.x, bottom_m: position.y }, size))
}

/// Whether what hangs on this surface hangs over people.
#[must_use]
pub fn is_overhead(role: Role) -> bool {
    matches!(role, Role::Ceiling(_))
}
