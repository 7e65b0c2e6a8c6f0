//! The page of `survey`: what the room is.

use glam::DVec3;

use super::columns::{Page, Table};
use super::figures::{OCTAVES, activity, area, area_cell, area_unit, length, length_cell, length_head, number, volume};
use super::{holding, suspended};
use crate::absorbers::sized::piece::{APART, IN_A_ROW};
use crate::bands::{Band, Bands};
use crate::findings::stock::{EdgedPanel, SCATTERING_RULE};
use crate::findings::survey::sending_limits;
use crate::findings::{Sending, SurfaceArea, Survey};
use crate::scene::Scene;

/// The whole page.
pub(in crate::report) fn page(scene: &Scene, survey: &Survey) -> Page {
    let mut page = Page::new(&format!("{}: what the room is", scene.name));
    if let Some(question) = &scene.question {
        page.paragraph(question);
    }
    sizes(&mut page, scene, survey);
    surfaces(&mut page, scene, survey);
    materials(&mut page, scene, survey);
    stock(&mut page, scene, survey);
    survey.without_place.iter().for_each(|sentence| page.hanging("-", sentence));
    suspended::section(&mut page, scene, &survey.suspended.iter().collect::<Vec<_>>(), survey.schroeder_hz);
    holding::section(&mut page, scene, survey);
    stands(&mut page, scene);
    senders(&mut page, scene, survey);
    modes(&mut page, survey);
    page.section("What panels do not do");
    page.paragraph("Panels do not keep sound in or out: what the neighbors hear is decided by mass, tightness and distance.");
    page
}

fn sizes(page: &mut Page, scene: &Scene, survey: &Survey) {
    page.section("Size");
    let mut table = Table::new(&["<what", "<how much", "<remark"]);
    for row in size_rows(scene, survey) {
        table.row(row);
    }
    page.table(&table);
}

/// What, how much, remark: every size of the room.
#[must_use]
pub fn size_rows(scene: &Scene, survey: &Survey) -> [[String; 3]; 9] {
    let share = number(100.0 * survey.treated_share, 1);
    [
        ("use", activity(scene.activity).to_owned(), "decides the targets"),
        ("floor", area(survey.floor_area_m2, scene), ""),
        ("height", length(survey.height_m, scene), if scene.seats.is_empty() { "highest point" } else { "clear over the seat" }),
        ("air volume", volume(survey.volume_m3, scene), "blocks and panels taken out"),
        ("surface", area(survey.surface_area_m2, scene), "floor, walls and ceiling, openings included"),
        ("treated", format!("{} ({share} %)", area(survey.treated_area_m2, scene)), "one face of each panel, of the surface"),
        ("exposed", area(survey.exposed_area_m2, scene), "all faces of panels that meet air, edges that are closed left out"),
        ("Schroeder's frequency", format!("{} Hz", number(survey.schroeder_hz, 0)), "below it single waves rule, bare room"),
        ("tape", length(scene.tape_tolerance.0, scene), "how far a measure may be off"),
    ]
    .map(|(what, how_much, remark)| [what.to_owned(), how_much, remark.to_owned()])
}

fn surfaces(page: &mut Page, scene: &Scene, survey: &Survey) {
    page.section("Surfaces, with random-incidence absorption by octave (Hz)");
    let mut heads = vec!["<surface".to_owned(), area_unit(scene).to_owned(), "<material".to_owned()];
    // The space keeps a head over its digits: a value may carry a mark behind.
    heads.extend(OCTAVES.iter().map(|octave| format!("{octave} ")));
    let mut table = Table::new(&heads);
    for surface in &survey.surfaces {
        let mut row = vec![surface.name.clone(), area_cell(surface.area_m2, scene), surface.material.clone()];
        row.extend(Band::ALL.map(|band| absorption(surface, band)));
        table.row(row);
    }
    page.table(&table);
    if survey.surfaces.iter().any(|surface| surface.extrapolated.0.contains(&true)) {
        page.paragraph("~ no table holds this octave: filled by rule, not measured.");
    }
}

/// Absorption of an octave, marked where no table holds it.
#[must_use]
pub fn absorption(surface: &SurfaceArea, band: Band) -> String {
    marked(surface.absorption[band], surface.extrapolated[band])
}

fn marked(absorption: f64, extrapolated: bool) -> String {
    format!("{}{}", number(absorption, 2), if extrapolated { '~' } else { ' ' })
}

/// Areas by material, in the order of first mention, with their sources.
fn materials(page: &mut Page, scene: &Scene, survey: &Survey) {
    let mut found: Vec<(&str, f64, &str)> = Vec::new();
    for surface in &survey.surfaces {
        match found.iter_mut().find(|(material, _, source)| *material == surface.material && *source == surface.source) {
            Some((_, area, _)) => *area += surface.area_m2,
            None => found.push((&surface.material, surface.area_m2, &surface.source)),
        }
    }
    page.section("Materials");
    let mut table = Table::new(&["<material", area_unit(scene), "<source of its absorption"]);
    for (material, area, source) in found {
        table.row([material.to_owned(), area_cell(area, scene), source.to_owned()]);
    }
    page.table(&table);
}

/// What each type of panel absorbs as it would be hung, and what it is made of.
fn stock(page: &mut Page, scene: &Scene, survey: &Survey) {
    if survey.stock.is_empty() {
        return;
    }
    page.section("Panels, with random-incidence absorption by octave (Hz)");
    let mut heads = vec!["<type".to_owned(), length_head("depth", scene)];
    heads.extend(OCTAVES.iter().map(|octave| format!("{octave} ")));
    let mut table = Table::new(&heads);
    for kind in &survey.stock {
        let mut row = vec![kind.name.clone(), length_cell(kind.depth_m, scene)];
        row.extend(Band::ALL.map(|band| marked(kind.absorption[band], kind.extrapolated[band])));
        table.row(row);
    }
    page.table(&table);
    let clouds = if survey.suspended.is_empty() { "" } else { ", of clouds too" };
    page.paragraph(&format!("Depth is from the front to the wall. Values are those of an endless panel before a rigid wall{clouds}."));
    if survey.stock.iter().any(|kind| kind.extrapolated.0.contains(&true)) {
        page.paragraph("~ filled by rule, or outside what the model was fitted on.");
    }
    edged(page, scene, survey);
    for kind in &survey.stock {
        page.hanging("-", &format!("{}, front to back: {}; {}.", kind.name, kind.made_of.join(", "), kind.source));
        if kind.scattering_source.starts_with(SCATTERING_RULE) {
            let values: Vec<String> = kind.scattering.0.iter().map(|value| number(*value, 2)).collect();
            page.hanging("-", &format!("{} scatters by {}: {} (63 to 8k).", kind.name, kind.scattering_source, values.join(", ")));
        }
        kind.cautions.iter().for_each(|caution| page.hanging("!", &format!("{}: {caution}", kind.name)));
    }
}

/// What one flat panel takes with its edges, by what hangs beside it.
fn edged(page: &mut Page, scene: &Scene, survey: &Survey) {
    let known: Vec<_> = survey.stock.iter().filter_map(|kind| Some((kind, kind.edged.as_ref()?))).collect();
    if known.is_empty() {
        return;
    }
    page.section(&format!("One panel on the wall, with what its edges draw in, {}, by octave (Hz)", area_unit(scene)));
    let mut table = Table::new(&["<type", "<hung"].into_iter().chain(OCTAVES).collect::<Vec<_>>());
    for (kind, panel) in known {
        for (index, (how, areas)) in beside(panel, scene).into_iter().enumerate() {
            let name = if index == 0 { kind.name.clone() } else { String::new() };
            table.row([name, how].into_iter().chain(areas.0.map(|area| area_cell(area, scene))));
        }
    }
    page.table(&table);
    page.paragraph(EDGES);
}

/// How the table of edges is to be read.
pub const EDGES: &str = "The last line of each is its area times the value of an endless one. Rooms are computed with the edges of the panels as they hang, \
                         where they end walls and doors included; a single thin panel may take a sixth more at 500 Hz than this model says.";

/// The ways a panel may hang that are told, with what one takes of a diffuse field.
#[must_use]
pub fn beside(panel: &EdgedPanel, scene: &Scene) -> [(String, Bands<f64>); 4] {
    [
        ("by itself".to_owned(), panel.alone_m2),
        (format!("{IN_A_ROW} in a row, {} apart", length(APART, scene)), panel.apart_m2),
        (format!("{IN_A_ROW} in a row, touching"), panel.touching_m2),
        ("edges left out".to_owned(), panel.endless_m2),
    ]
}

/// Where each source points, how it sends, and what that leaves out.
/// Where everything that sounds or hears is, and which way it looks: what is easily typed wrong, and seen at once when it is read.
fn stands(page: &mut Page, scene: &Scene) {
    let sources = scene.sources.iter().map(|source| (&source.name, source.kind.word(), source.position, source.aim));
    let seats = scene.seats.iter().map(|seat| (&seat.name, "seat", seat.ear, seat.facing));
    let microphones = scene.microphones.iter().map(|microphone| (&microphone.name, "microphone", microphone.position, microphone.aim));
    page.section("Where they are, and where they look");
    let heads = ["<who", "<what", "x", "y", "height", "<looks to"].map(|head| match head {
        "x" | "y" | "height" => length_head(head, scene),
        _ => head.to_owned(),
    });
    let mut table = Table::new(&heads);
    for (name, what, at, aim) in sources.chain(seats).chain(microphones) {
        let [x, y, z] = at.to_array().map(|coordinate| length_cell(coordinate, scene));
        table.row([name.clone(), what.to_owned(), x, y, z, looks(aim).to_owned()]);
    }
    page.table(&table);
}

/// The compass side that something looks to.
fn looks(aim: DVec3) -> &'static str {
    const SIDES: [&str; 8] = ["north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest"];
    if aim.truncate().length() < 0.1 {
        return if aim.z > 0.0 { "up" } else { "down" };
    }
    SIDES[(aim.x.atan2(aim.y).to_degrees() / 45.0).round().rem_euclid(8.0) as usize]
}

fn senders(page: &mut Page, scene: &Scene, survey: &Survey) {
    if survey.sources.is_empty() {
        return;
    }
    page.section("Who sends, with the directivity index by octave (Hz), dB");
    let mut heads = ["<source", "<points to", "<sends as"].map(str::to_owned).to_vec();
    heads.extend(OCTAVES.iter().map(|&octave| octave.to_owned()));
    let mut table = Table::new(&heads);
    for source in &survey.sources {
        let indices = source.directivity_index_db.0.map(|index| number(index, 1));
        table.row([source.name.clone(), aim(source), sends_as(source, scene)].into_iter().chain(indices));
    }
    page.table(&table);
    page.paragraph(BEARINGS);
    for limits in sending_limits(&survey.sources) {
        page.hanging("-", &limits);
    }
}

/// How the aims of sources are to be read.
pub const BEARINGS: &str = "Bearings are degrees on the floor plan from +y (north) to +x (east). The index says how much more goes along the axis than on average \
                            into all directions.";

/// `30 deg, 5 down`: bearing and elevation of the axis.
#[must_use]
pub fn aim(source: &Sending) -> String {
    let Some(elevation) = source.elevation_deg else { return "all sides".to_owned() };
    let upright = match elevation.round() {
        0.0 => None,
        rounded => Some(format!("{} {}", number(rounded.abs(), 0), if rounded > 0.0 { "up" } else { "down" })),
    };
    // What rounds to a full turn is north.
    let bearing = source.bearing_deg.map(|bearing| number(bearing.round() % 360.0, 0));
    [bearing, upright].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// `piston, radius 65 mm`
#[must_use]
pub fn sends_as(source: &Sending, scene: &Scene) -> String {
    match source.radius_m {
        Some(radius) => format!("{}, radius {}", source.directivity, length(radius, scene)),
        None => source.directivity.clone(),
    }
}

fn modes(page: &mut Page, survey: &Survey) {
    page.section("First axial modes, for orientation only");
    if survey.axial_modes.is_empty() {
        page.paragraph("No two walls face each other in parallel.");
        return;
    }
    let mut table = Table::new(&["Hz", "order", "<between"]);
    for mode in &survey.axial_modes {
        table.row([number(mode.frequency_hz, 1), mode.order.to_string(), format!("{} and {}", mode.between[0], mode.between[1])]);
    }
    page.table(&table);
    page.paragraph("They are those of rigid parallel surfaces; a room with slopes and corners has others beside them.");
}
