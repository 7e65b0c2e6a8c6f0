//! What hangs over heads, a chapter for each thing: what speaks against it, its loads, its points, its distances. Each stands alone on the ladder.
//!
//! *References.* As `workshop::overhead` and `workshop::suspension`.
//!
//! *Limits.* Figures are no permit and no proof; no page says that anything may be hung, only what speaks against it and what was figured.

use glam::DVec2;

use crate::report::html::plain;
use crate::report::tape::Tape;
use crate::scene::making::Construction;
use crate::scene::{Cloud, PanelPlace};
use crate::units::{LengthUnit, POUND_FORCE_N};
use crate::workshop::caution::Place;
use crate::workshop::flat::FlatLoads;
use crate::workshop::marking::mark_name;
use crate::workshop::suspension::Part;
use crate::workshop::words;
use crate::workshop::{Mark, MarkedPanel, MarkedSurface, Overhead, Suspension};

use super::overhead_views::{self, View};
use super::shop_pages::{Job, cautions, mass, sentence};
use crate::report::leaf::{Chapter, Format, Voice, Writer};
use crate::report::leaf_table::{TICK, Table};

/// A chapter for everything overhead, in hanging order.
#[must_use]
pub fn chapters(format: &Format, job: Job<'_>) -> Vec<Chapter> {
    job.build.overhead.iter().map(|overhead| chapter(format, job, overhead)).collect()
}

/// Where something overhead is marked.
fn marked<'a>(job: Job<'a>, overhead: &Overhead) -> Option<(&'a MarkedSurface, &'a MarkedPanel)> {
    let on = |surface: &'a MarkedSurface| surface.panels.iter().find(|panel| panel.number == overhead.number).map(|panel| (surface, panel));
    job.build.surfaces.iter().filter(|surface| surface.is_overhead).find_map(on)
}

fn chapter(format: &Format, job: Job<'_>, overhead: &Overhead) -> Chapter {
    let mut page = Writer::new(format, &format!("Overhead: panel {}, {}, under {}", overhead.number, overhead.kind, overhead.surface));
    if !overhead.not_to_be_hung.is_empty() {
        let reasons: Vec<String> = overhead.not_to_be_hung.iter().map(|reason| format!("{}.", sentence(reason))).collect();
        page.boxed("NOT TO BE HUNG", &reasons, Voice::Heavy);
    }
    let place = marked(job, overhead);
    if let Some((surface, panel)) = place {
        beyond(&mut page, job, surface, panel);
        cautions(&mut page, job.build, Place::Surface, Some(surface.facet));
    }
    page.paragraph(
        "No permit and no proof. Figures assume sound members that run as drawn and parts fitted as their makers say. Local codes hold before this page, and where they ask for a licensed person, \
         that person decides.",
    );
    page.paragraph(&format!("Its lowest point is {} over the floor.", page.tape().say(overhead.lowest_m)));
    if let Some(suspension) = &overhead.suspension {
        hung(&mut page, job, overhead, suspension, place);
    }
    if let Some(flat) = &overhead.flat {
        lying(&mut page, flat, place);
    }
    if let Some((_, panel)) = place
        && !panel.notes.is_empty()
    {
        panel.notes.iter().for_each(|note| page.paragraph(&format!("{}.", sentence(note))));
    }
    overhead.remarks.iter().for_each(|remark| page.paragraph(&format!("{}.", sentence(remark))));
    distances(&mut page, overhead);
    page.finish(&format!("build-overhead-panel-{}", overhead.number))
}

/// Marks that lie beyond the edge of their surface: the members that are named there belong to another one.
fn beyond(page: &mut Writer, job: Job<'_>, surface: &MarkedSurface, panel: &MarkedPanel) {
    // A plane may have several facets, which share its chart.
    let facets = || job.room.surfaces.iter().filter(|facet| facet.name == surface.surface);
    let is_out = |mark: &&Mark| facets().all(|facet| facet.outline.distance_to(DVec2::new(mark.left_m, mark.bottom_m)) > 0.001);
    let names: Vec<&str> = panel.marks.iter().filter(is_out).map(|mark| mark.name.as_str()).collect();
    if !names.is_empty() {
        let line = format!(
            "Beyond the edge of {}: {}. Members of that surface are not known to run there: find out what is above before anything is fixed, and do not hang it on these points until then.",
            surface.surface,
            names.join(", ")
        );
        page.boxed("Look at this first", &[line], Voice::Heavy);
    }
}

/// A force: newtons, and pounds-force beside them for a tape in inches.
pub(crate) fn force(newtons: Option<f64>, tape: Tape) -> String {
    match newtons.filter(|newtons| newtons.is_finite()) {
        Some(newtons) if tape.is_inch() => format!("{} N ({} lbf)", plain(newtons, 0), plain(newtons / POUND_FORCE_N, 0)),
        Some(newtons) => format!("{} N", plain(newtons, 0)),
        None => "not known".to_owned(),
    }
}

/// The same, rounded up: a strength that is asked for is never printed lower than it is.
fn at_least(newtons: Option<f64>, tape: Tape) -> String {
    let unit = if tape.is_inch() { LengthUnit::Inch } else { LengthUnit::Millimeter };
    newtons.filter(|newtons| newtons.is_finite()).map_or_else(|| "not known".to_owned(), |newtons| words::force(newtons, unit))
}

/// The largest of loads that are all known.
pub(crate) fn largest(loads: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    loads.collect::<Option<Vec<f64>>>()?.into_iter().reduce(f64::max)
}

/// The weakest part, and what it makes of the load. Cut off, not rounded: a factor that is short of what is asked for must not read like it.
fn weakest(part: Option<&Part>, factor: Option<f64>, tape: Tape) -> String {
    match (part, factor) {
        (Some(part), Some(factor)) => {
            format!(
                "{}, breaks at {}: factor {}",
                part.name,
                force(Some(part.breaking_n), tape),
                plain((100.0 * factor).floor() / 100.0, 2)
            )
        }
        (Some(part), None) => format!("{}, breaks at {}: factor not known", part.name, force(Some(part.breaking_n), tape)),
        (None, _) => "strengths not checked".to_owned(),
    }
}

/// Loads in the order in which one asks for them.
fn figures(page: &mut Writer, rows: Vec<(&str, String)>) {
    page.section("Loads", 40.0);
    let mut table = Table::new(&["figure", "value"]);
    rows.into_iter().for_each(|(name, value)| table.row(vec![name.to_owned(), value]));
    page.table(&table);
}

fn hung(page: &mut Writer, job: Job<'_>, overhead: &Overhead, suspension: &Suspension, place: Option<(&MarkedSurface, &MarkedPanel)>) {
    let tape = page.tape();
    let load = |of: fn(&crate::workshop::suspension::Point) -> Option<f64>| force(largest(suspension.points.iter().map(of)), tape);
    figures(
        page,
        vec![
            ("mass", mass(suspension.mass_kg, tape)),
            ("weight", force(suspension.weight_n, tape)),
            ("largest load of a wire, all sharing", load(|point| point.load_n)),
            ("largest load of a wire, any other one lost", load(|point| point.load_one_lost_n)),
            ("most that can come on one wire (a stiff panel may rest on two)", load(|point| point.load_alone_n)),
            ("factor of strength over load, wanted", plain(suspension.factor_wanted, 1)),
            (
                "breaking load that every part of every wire must have at least, the anchor's pull-out included",
                at_least(suspension.needed_n, tape),
            ),
            ("the same of every part of a secondary wire", at_least(largest(suspension.secondary.iter().map(|wire| wire.needed_n)), tape)),
            ("weakest known part of a wire that carries", weakest(suspension.weakest.as_ref(), suspension.factor, tape)),
        ],
    );
    let cloud = job.panels.get(overhead.number as usize - 1).and_then(|panel| match &panel.place {
        PanelPlace::Cloud(cloud) => Some(cloud),
        _ => None,
    });
    if let (Some((surface, panel)), Some(cloud)) = (place, cloud) {
        let thickness = job.scene.stock.iter().find(|kind| kind.name == overhead.kind).map_or(0.0, |kind| kind.thickness);
        overhead_views::draw(page, View { scene: job.scene, room: job.room, surface, panel, cloud, thickness, suspension });
        heights(page, cloud);
    }
    let name = |index: usize| mark_name(overhead.number, index);
    if !suspension.points.is_empty() {
        page.section("Wires that carry", 30.0);
        let unit = if tape.is_inch() { "ft, in" } else { "mm" };
        page.paragraph(&format!("Measures in {unit}; x and y on the floor plan{}; heights over the floor. Where each mark is measured on its surface stands on the sheet of that surface. wire: the clear height from ceiling to panel; cut: that and a loop at both ends, as the scene has them: take off what your fittings are long. all, one lost, most: what it bears with all sharing, with another one lost, and at the most.", axes(job)));
        let mut table =
            Table::new(&["", "mark", "#x", "#y", "#top of panel", "#anchor", "#wire", "#cut", "member", "#all", "#one lost", "#most"]);
        for (index, point) in suspension.points.iter().enumerate() {
            let newtons = |load: Option<f64>| load.map_or_else(|| "-".to_owned(), |load| format!("{} N", plain(load, 0)));
            table.row(vec![
                TICK.to_owned(),
                name(index),
                tape.read(point.x_m),
                tape.read(point.y_m),
                tape.read(point.attachment_m),
                tape.read(point.anchor_m),
                tape.read(point.wire_m),
                cut(tape, point.cut_m),
                point.member.clone().unwrap_or_else(|| "none found".to_owned()),
                newtons(point.load_n),
                newtons(point.load_one_lost_n),
                newtons(point.load_alone_n),
            ]);
        }
        page.table(&table);
    }
    if let Some(cloud) = cloud {
        eyes(page, job, overhead, suspension, cloud);
    }
    if !suspension.secondary.is_empty() {
        page.section("Secondary wires", 30.0);
        let mut table = Table::new(&[
            "",
            "mark",
            "begins beside",
            "#x",
            "#y",
            "#anchor",
            "#straight",
            "#longest",
            "#cut",
            "#comes down",
            "#must hold",
            "member",
        ]);
        for (index, wire) in suspension.secondary.iter().enumerate() {
            let mut row = vec![
                TICK.to_owned(),
                name(suspension.points.len() + index),
                name((wire.beside_number as usize).saturating_sub(1)),
                tape.read(wire.x_m),
                tape.read(wire.y_m),
                tape.read(wire.anchor_m),
            ];
            row.extend(run(tape, [wire.straight_m, wire.longest_m], wire.cut_m, wire.drop_m, (wire.needed_n, &wire.member)));
            table.row(row);
        }
        page.table(&table);
        page.paragraph("A secondary wire begins at a fitting of its own in the same batten, beside the eye of the wire that is named and no more than 20 mm from it along the batten, is closed, no shorter than straight and no longer than longest. Comes down: how far the panel drops there before the longest one is taut.");
        page.paragraph(HOLDS);
    }
}

/// What the strength of a secondary wire does not cover.
const HOLDS: &str = "Must hold: the whole weight on this wire alone, as slanted as it is when it is taut, times the factor. The jerk when a falling panel is caught is not figured: it grows with how far it comes down, so keep wires as short as the lengths \
                     allow, and where somebody sits or stands below let who is licensed judge it.";
/// What stands for the length that is cut off the roll where a wire is too short for loops.
pub(crate) const LINK: &str = "chain or link";

/// What is cut off the roll.
fn cut(tape: Tape, meters: Option<f64>) -> String {
    meters.map_or_else(|| LINK.to_owned(), |meters| tape.read(meters))
}

/// Of a secondary wire: straight, longest, cut, how far it lets the panel come down; what it must hold; the member of its anchor.
fn run(tape: Tape, lengths: [f64; 2], cut_m: Option<f64>, drop_m: f64, (needed_n, member): (Option<f64>, &str)) -> Vec<String> {
    let after = [cut(tape, cut_m), tape.read(drop_m), at_least(needed_n, Tape::Millimeters), member.to_owned()];
    lengths.iter().map(|meters| tape.read(*meters)).chain(after).collect()
}

/// Where the eyes of the wires go on the back of the cloud, and what they are screwed into.
fn eyes(page: &mut Writer, job: Job<'_>, overhead: &Overhead, suspension: &Suspension, cloud: &Cloud) {
    let (tape, points) = (page.tape(), &suspension.points);
    let Some(made) = job.build.types.iter().find(|made| made.kind == overhead.kind).filter(|_| !points.is_empty()) else { return };
    page.section("Eyes on the back of the cloud", 30.0);
    let whole = DVec2::from_array(made.face_m);
    let panel = if cloud.turned { whole } else { DVec2::new(whole.y, whole.x) };
    let size = panel * DVec2::new(f64::from(cloud.panels[0]), f64::from(cloud.panels[1]));
    page.paragraph(&format!(
        "Measured along the back of the {}, {} along x and {} along y, from its edges at the lower x and at the lower y{}. Every eye is then plumb below its anchor.",
        if cloud.count() == 1 { "panel".to_owned() } else { format!("frame of {} panels", cloud.count()) },
        tape.say(size.x),
        tape.say(size.y),
        axes(job)
    ));
    let mut table = Table::new(&["", "eye of wire", "#from the edge at lower x", "#from the edge at lower y"]);
    for (index, point) in points.iter().enumerate() {
        let [x, y] = point.on_back_m.map(|meters| tape.read(meters));
        table.row(vec![TICK.to_owned(), mark_name(overhead.number, index), x, y]);
    }
    page.table(&table);
    if made.construction == Construction::WoodenFrame && cloud.count() == 1 {
        page.paragraph(&battens(points, cloud, made.frame.iter().map(|side| side.count).sum::<u32>().saturating_sub(4), tape));
    } else if cloud.count() > 1 {
        page.paragraph("Panels side by side hang on one frame that does not bend: battens across all of them, screwed into every frame that they cross. Who builds it judges whether it is stiff enough; its mass is a part of the load.");
    } else {
        page.paragraph("The eyes go into what its maker made to be hung by: never into fiber, never into a hardened edge alone.");
    }
}

/// The cross-battens of a frame, one under each row of eyes.
fn battens(points: &[crate::workshop::suspension::Point], cloud: &Cloud, have: u32, tape: Tape) -> String {
    // They lie across the shorter side: along x where the longer one runs along y.
    let (axis, edge) = if cloud.turned { (1, "y") } else { (0, "x") };
    let mut rows: Vec<f64> = points.iter().map(|point| point.on_back_m[axis]).collect();
    rows.sort_by(f64::total_cmp);
    rows.dedup_by(|a, b| (*a - *b).abs() < 0.002);
    let places: Vec<String> = rows.iter().map(|row| tape.say(*row)).collect();
    let more = (rows.len() as u32).saturating_sub(have);
    let missing = if more > 0 {
        format!(" That is {more} more than the cut list has: cut them from the rest of the timber, or buy a length.")
    } else {
        String::new()
    };
    format!(
        "Cross-battens let into the back of its core, between its long sides and screwed to both, flush with its back: their middles {} from the edge at the lower {edge} as it hangs: write on the back, before anything is let in, which edge that is. The eyes go into these.{missing}",
        places.join(" and ")
    )
}

/// From which walls x and y count, where walls stand there.
fn axes(job: Job<'_>) -> String {
    let outline = &job.scene.outline;
    let low = outline.iter().copied().reduce(DVec2::min).unwrap_or(DVec2::ZERO);
    let wall = |axis: usize| {
        let stands = |index: &usize| {
            [outline[*index], outline[(*index + 1) % outline.len()]].iter().all(|corner| (corner[axis] - low[axis]).abs() < 0.001)
        };
        (0..outline.len()).find(stands).and_then(|index| job.scene.walls.get(index)).map(|wall| wall.name.clone())
    };
    match (wall(0), wall(1)) {
        (Some(x), Some(y)) if low.length() < 0.001 => format!(", x from {x}, y from {y} (see \"The room from above\" at the front)"),
        _ => ", from the corner that \"The room from above\" at the front marks".to_owned(),
    }
}

/// Heights of the underside at its middle and its edges.
fn heights(page: &mut Writer, cloud: &Cloud) {
    let tape = page.tape();
    let mut text = format!("Its underside is {} over the floor in the middle", tape.say(cloud.underside));
    if cloud.tilt.length() > 0.0 {
        let axis = if cloud.tilt.x.abs() > 0.0 { ("x", cloud.tilt.x) } else { ("y", cloud.tilt.y) };
        text += &format!(" and {} by {} degrees along {}", if axis.1 > 0.0 { "rises" } else { "falls" }, plain(axis.1.abs(), 1), axis.0);
    } else {
        text += ", level";
    }
    page.paragraph(&format!("{text}."));
}

fn lying(page: &mut Writer, flat: &FlatLoads, place: Option<(&MarkedSurface, &MarkedPanel)>) {
    let tape = page.tape();
    figures(
        page,
        vec![
            ("mass", mass(flat.mass_kg, tape)),
            ("weight", force(flat.weight_n, tape)),
            ("largest load of a point, all sharing", force(flat.load_n, tape)),
            ("largest load of a point, any other one lost", force(flat.load_one_lost_n, tape)),
            ("most that can come on one point (a stiff panel may rest on two)", force(flat.load_alone_n, tape)),
            ("factor of strength over load, wanted", plain(flat.factor_wanted, 1)),
            (
                "breaking load that every part of every point must have at least, the anchor's pull-out included",
                at_least(flat.needed_n, tape),
            ),
            ("weakest known part of its fixings", "strengths not checked".to_owned()),
        ],
    );
    let Some((surface, panel)) = place else { return };
    page.section("Fixing points", 30.0);
    let unit = if tape.is_inch() { "ft, in" } else { "mm" };
    page.paragraph(&format!("Measures in {unit} on {}, from its left and its lower edge as on its sheet.", surface.surface));
    let mut table = Table::new(&["", "mark", "#from left", "#from lower edge", "what", "member"]);
    for mark in &panel.marks {
        table.row(vec![
            TICK.to_owned(),
            mark.name.clone(),
            tape.read(mark.left_m),
            tape.read(mark.bottom_m),
            mark.what.word().to_owned(),
            mark.member.clone().unwrap_or_else(|| "none found".to_owned()),
        ]);
    }
    page.table(&table);
    if !flat.secondary.is_empty() {
        page.section("Secondary wires", 30.0);
        let mut table = Table::new(&[
            "",
            "mark",
            "#fitting from left",
            "#from lower edge",
            "#straight",
            "#longest",
            "#cut",
            "#comes down",
            "#must hold",
            "member",
        ]);
        for wire in &flat.secondary {
            let [left, lower] = wire.from_m;
            let mut row = vec![TICK.to_owned(), wire.mark.clone(), tape.read(left), tape.read(lower)];
            row.extend(run(tape, [wire.straight_m, wire.longest_m], wire.cut_m, wire.drop_m, (wire.needed_n, &wire.member)));
            table.row(row);
        }
        page.table(&table);
        page.paragraph("Each goes, closed, from a fitting of its own at the back edge of the panel (measured on the surface) to its mark. Make it as long as longest, 5 mm less at most: a shorter one is pulled harder than its parts are asked to hold, a longer one lets the panel fall deeper; cut: that and a loop at both ends. It hangs loose as long as the fixings hold; comes down: how far that edge drops before it is taut. The fitting goes through the side of the frame from outside, eye outside, nut and washer inside, before the core is laid in; never into fiber.");
        page.paragraph(HOLDS);
    }
}

fn distances(page: &mut Writer, overhead: &Overhead) {
    let tape = page.tape();
    if overhead.distances.is_empty() {
        page.paragraph("The scene names no lamp, detector or sprinkler on this surface: look for them, and keep their makers' distances and the code's.");
        return;
    }
    page.section("Distances from what stays free", 20.0);
    let mut table = Table::new(&["what", "#how far", "#kept at least", "verdict"]);
    for distance in &overhead.distances {
        let verdict = match distance.kept_m {
            Some(kept) if distance.distance_m < kept => "TOO NEAR",
            Some(_) => "far enough by this rule; local code may ask for more",
            None => "no least distance known: keep it reachable",
        };
        table.row(vec![
            distance.name.clone(),
            tape.say(distance.distance_m),
            distance.kept_m.map_or_else(|| "-".to_owned(), |kept| tape.say(kept)),
            verdict.to_owned(),
        ]);
    }
    page.table(&table);
}
