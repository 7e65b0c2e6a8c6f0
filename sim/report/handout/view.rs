//! The room as data for the picture that can be turned (`room_view/data.md` has the contract), and the picture itself around its drawing.
//!
//! Faces are those of the room, seen from the air; openings those of its linings; panels their fronts as bodies where they have a depth. Maps are grids on the charts of surfaces.
//!
//! *Limits.* Reflections are those of the picture from above: single bounces, and what is over the line.

use glam::{DVec2, DVec3};
use serde::Serialize;
use serde_json::{Value, json};

use crate::findings::{Pair, Reflection};
use crate::geometry::Chart;
use crate::plan::SurfaceMap;
use crate::report::heatmap::{self, Heat, heading};
use crate::report::html::signs;
use crate::report::hung::{self, How, Hung};
use crate::report::tape::Tape;
use crate::report::text::figures;
use crate::report::text::findings::capitalized;
use crate::report::top_view;
use crate::room::{Role, Room, Surface};
use crate::scene::Panel;

use super::{Handout, maps};

/// Style of the picture.
pub(in crate::report) const STYLE: &str = include_str!("../room_view/room_view.css");
/// How it stands in a page.
const TEMPLATE: &str = include_str!("../room_view/room_view.html");
/// The library that draws it, with its license in its own head.
const LIBRARY: &str = include_str!("../room_view/vendored/three.js");
/// Our own part, one module in four files.
const MODULES: [&str; 4] = [
    include_str!("../room_view/solid.js"),
    include_str!("../room_view/picture.js"),
    include_str!("../room_view/overlay.js"),
    include_str!("../room_view/room_view.js"),
];

/// Colors of a scale.
const COLORS: usize = 16;

/// The picture around its drawing.
pub(in crate::report) fn figure(handout: &Handout<'_>, still: &str, about: &str) -> String {
    let still = still.replacen("class=\"drawing\"", "class=\"still\"", 1);
    let room = room(handout).to_string().replace('<', "\\u003c");
    let modules = MODULES.concat();
    let mut out = String::new();
    let mut rest = TEMPLATE;
    // One pass: what is put in is not searched again.
    while let Some((before, after)) = rest.split_once('@') {
        let (name, after) = after.split_once('@').unwrap_or((after, ""));
        out += before;
        out += match name {
            "still" => &still,
            "caption" => about,
            "room" => &room,
            "library" => LIBRARY,
            "modules" => &modules,
            _ => "",
        };
        rest = after;
    }
    out + rest
}

/// The room with what hangs in it, maps and reflections.
fn room(handout: &Handout<'_>) -> Value {
    let Handout { scene, room, .. } = *handout;
    let mut bodies = Vec::new();
    let none = crate::plan::PlanPictures::default();
    let (placed, pictures) = handout.plan.as_ref().map_or((&[][..], &none), |(plan, pictures)| (plan.placed.as_slice(), *pictures));
    let panels: &[Panel] = if pictures.panels.is_empty() { &scene.panels } else { &pictures.panels };
    let hung = hung::panels(scene, room, placed, panels);
    for surface in room.surfaces.iter().filter(|surface| !matches!(surface.role, Role::Panel(_))) {
        bodies.push(face(handout, surface));
    }
    // Openings come after all surfaces, so that the numbers of these stay.
    let shown: Vec<&Surface> = room.surfaces.iter().filter(|surface| !matches!(surface.role, Role::Panel(_))).collect();
    let openings: Vec<Value> = shown.iter().flat_map(|surface| openings(handout, surface)).collect();
    bodies.extend(openings);
    let number = |index: usize| shown.iter().position(|surface| std::ptr::eq(*surface, &raw const room.surfaces[index]));
    json!({
        "name": scene.name,
        "surfaces": bodies,
        "panels": panels_of(handout, &hung, &number),
        "maps": maps(handout.maps).into_iter().filter_map(|(heat, maps)| map(room, heat, maps, &number)).collect::<Vec<_>>(),
        "paths": paths(handout),
        "sources": room.sources.iter().map(|source| json!({"name": source.name, "position": short(source.position), "text": ""})).collect::<Vec<_>>(),
        "receivers": room.receivers.iter().map(|one| json!({
            "name": one.name,
            "position": short(one.position),
            "facing": one.zone_radius.map(|_| short(one.facing)),
            "text": "",
        })).collect::<Vec<_>>(),
    })
}

/// A point to the millimeter.
fn short(point: DVec3) -> [f64; 3] {
    point.to_array().map(|value| (1000.0 * value).round() / 1000.0 + 0.0)
}

fn corners(chart: &Chart, outline: &[DVec2]) -> Vec<[f64; 3]> {
    outline.iter().map(|corner| short(chart.point(*corner))).collect()
}

/// A face with what it is made of.
fn face(handout: &Handout<'_>, surface: &Surface) -> Value {
    let kind = match surface.role {
        Role::Floor => "floor",
        Role::Wall(_) => "wall",
        Role::Ceiling(_) => "ceiling",
        Role::Face(0) => "wall",
        Role::Block(_) | Role::Panel(_) | Role::Face(_) => "block",
    };
    json!({
        "name": heading(&surface.name, surface.role).to_lowercase(),
        "kind": kind,
        "material": handout.room.finishes[surface.finish].name,
        "size": figures::area(surface.area(), handout.scene),
        "polygons": [corners(&surface.chart, &surface.outline.corners)],
    })
}

/// Doors, windows and hatches of a face.
fn openings<'a>(handout: &'a Handout<'_>, surface: &'a Surface) -> impl Iterator<Item = Value> + 'a {
    surface.linings.iter().map(move |lining| {
        json!({
            "name": lining.name,
            "kind": "opening",
            "material": handout.room.finishes[lining.finish].name,
            "size": figures::area(lining.region.area(), handout.scene),
            "polygons": [corners(&surface.chart, &lining.region.corners)],
        })
    })
}

/// Panels as they hang, each once.
fn panels_of(handout: &Handout<'_>, hung: &[Hung], number: &dyn Fn(usize) -> Option<usize>) -> Vec<Value> {
    let plan = handout.plan.as_ref().ok().map(|(plan, _)| *plan);
    let mut seen: Vec<&[DVec3]> = Vec::new();
    let mut all = Vec::new();
    for panel in hung {
        // A corner panel lies on two walls.
        if seen.contains(&panel.front.as_slice()) {
            continue;
        }
        seen.push(&panel.front);
        let placed = plan.and_then(|plan| plan.placed.iter().find(|placed| Some(placed.number) == panel.number));
        let name = panel.number.map_or_else(|| "hung".to_owned(), |number| number.to_string());
        let tape = Tape::of(handout.scene.unit);
        let size = format!("{} x {}, {} deep", tape.say(panel.size.x), tape.say(panel.size.y), tape.say(panel.thickness));
        let surface = &handout.room.surfaces[panel.surface];
        let earns = placed.map_or_else(
            || "hangs already".to_owned(),
            |placed| format!("earns {} dB of the early level, taken down alone", signs(&figures::estimate(placed.earns_early_db, 2))),
        );
        all.push(json!({
            "name": name,
            "label": format!("{name}: {}, {}", panel.kind, heading(&surface.name, surface.role).to_lowercase()),
            "size": size,
            "earns": earns,
            "on": matches!(panel.how, How::Flat { .. }).then(|| number(panel.surface)).flatten(),
            "polygons": body(panel, &surface.chart),
        }));
    }
    all
}

/// The front of a panel as a body as deep as it is: into the room from what it hangs on.
fn body(panel: &Hung, chart: &Chart) -> Vec<Vec<[f64; 3]>> {
    let Some(normal) = normal(&panel.front) else { return Vec::new() };
    // A front looks into the room as what it hangs on does, an underside down as its ceiling.
    let is_turned = normal.dot(chart.normal) < 0.0;
    let front: Vec<DVec3> = if is_turned { panel.front.iter().rev().copied().collect() } else { panel.front.clone() };
    let depth = -panel.thickness * if is_turned { -normal } else { normal };
    let back: Vec<DVec3> = front.iter().map(|corner| *corner + depth).collect();
    let count = front.len();
    let side = |index: usize| {
        let next = (index + 1) % count;
        [front[index], back[index], back[next], front[next]].map(short).to_vec()
    };
    let face = |corners: &[DVec3]| corners.iter().map(|corner| short(*corner)).collect::<Vec<_>>();
    let behind: Vec<DVec3> = back.iter().rev().copied().collect();
    [face(&front), face(&behind)].into_iter().chain((0..count).map(side)).collect()
}

/// Unit normal of a flat outline that runs counterclockwise round it.
fn normal(corners: &[DVec3]) -> Option<DVec3> {
    let [a, b, c, ..] = corners else { return None };
    (*b - *a).cross(*c - *b).try_normalize()
}

/// A map of all surfaces that have one.
fn map(room: &Room, heat: Heat, maps: &[SurfaceMap], number: &dyn Fn(usize) -> Option<usize>) -> Option<Value> {
    let shell = || maps.iter().filter(|map| room.surfaces.get(map.surface).is_some_and(|surface| surface.role.is_shell()));
    shell().next()?;
    let marks = heatmap::scale(shell());
    let values = marks.values();
    let colors: Vec<String> = (0..COLORS).map(|step| heat.colors().color(step as f64 / (COLORS - 1) as f64).to_string()).collect();
    let fields: Vec<Value> = shell().filter_map(|map| Some(field(&room.surfaces[map.surface], map, number(map.surface)?))).collect();
    Some(json!({
        "title": capitalized(heat.meaning()),
        "by": null,
        "unit": heat.unit(),
        "colors": colors,
        "low": marks.low,
        "high": marks.high,
        "marks": values.iter().map(|value| marks.print(*value)).collect::<Vec<_>>(),
        "fields": fields,
    }))
}

/// A grid on a surface.
fn field(surface: &Surface, map: &SurfaceMap, number: usize) -> Value {
    let chart = &surface.chart;
    let value = |value: &f64| value.is_finite().then(|| (value * 1e3).round() / 1e3);
    json!({
        "surface": number,
        "origin": short(chart.point(map.origin)),
        "right": short(chart.right * map.patch_m),
        "up": short(chart.up * map.patch_m),
        "columns": map.columns,
        "rows": map.rows,
        "values": map.values.iter().map(value).collect::<Vec<_>>(),
    })
}

/// The way of a reflection.
#[derive(Serialize)]
struct Way {
    number: String,
    source: String,
    receiver: String,
    points: Vec<[f64; 3]>,
    level_db: f64,
    delay_ms: f64,
    text: String,
}

/// The reflections that the picture from above shows, with the numbers that they have there; those to further receivers go on from these.
fn paths(handout: &Handout<'_>) -> Vec<Way> {
    let Handout { room, now, .. } = *handout;
    let window = 1000.0 * handout.scene.settings.window_s;
    let all = top_view::receivers(now).into_iter().flat_map(|receiver| top_view::strongest(now, receiver, window));
    all.enumerate().filter_map(|(index, (pair, one))| way(room, index, pair, one)).collect()
}

fn way(room: &Room, index: usize, pair: &Pair, one: &Reflection) -> Option<Way> {
    let from = room.sources.iter().find(|source| source.name == pair.source)?.position;
    let to = room.receivers.iter().find(|receiver| receiver.name == pair.receiver)?.position;
    let points = one.points_m.iter().map(|point| DVec3::from_array(*point));
    Some(Way {
        number: (index + 1).to_string(),
        source: pair.source.clone(),
        receiver: pair.receiver.clone(),
        points: std::iter::once(from).chain(points).chain([to]).map(short).collect(),
        level_db: (10.0 * one.level_db).round() / 10.0,
        delay_ms: (10.0 * one.delay_ms).round() / 10.0,
        text: format!("by {}", one.surfaces.join(", then ")),
    })
}
