//! Rules about panels: where they hang now, and whether the stock fits anywhere.
//!
//! A panel across a corner of angle `t` covers `(w / 2) / sin(t / 2)` of each wall, `w` its width. What hangs is a convex solid: it is in the
//! way of another, of a block, of a head or a loudspeaker if the two cannot be parted by a plane.
//!
//! *Limits.* Whether stock fits is judged by its size alone, as if nothing else were there; on a ceiling by the box round the plane.

use glam::{DVec2, DVec3};

use super::super::read::Draft;
use super::super::shell::{SLACK, SurfaceIndex, overlap, rectangle_corners};
use super::super::walk::{Span, Walk};
use super::super::{ClearanceRegion, Cloud, Panel, PanelPlace, PanelType, Rectangle, Scene, StockKind};
use super::places::{CROWN, dots, is_ceiling, miss_words};
use crate::geometry::{Polygon, Solid};

/// Two walls that meet at more than this angle make no corner to hang a panel across, radians.
const WIDEST_CORNER: f64 = 150.0 * std::f64::consts::PI / 180.0;

/// The space a hung panel takes, and what it covers of walls and ceiling.
struct Hung {
    number: usize,
    name: String,
    span: Span,
    covers: Vec<(SurfaceIndex, Rectangle)>,
    solid: Solid,
    middle: DVec3,
    /// Of what hangs below the ceiling, so that what is above it on the ceiling is behind it: seen from above.
    shadow: Option<Polygon>,
}

/// Lengths below this are no overlap, meters.
const OVERLAP: f64 = 1e-4;

/// Every type in stock fits on some surface that its kind may go on.
pub(super) fn stock_fits(walk: &mut Walk<'_>, draft: &Draft) {
    for (stock, places) in draft.scene.stock.iter().zip(&draft.at.stock) {
        if stock.count > 0 && !fits(&draft.scene, stock) {
            let size = format!("{} x {}", walk.print(stock.size.x), walk.print(stock.size.y));
            let whereto = match stock.kind {
                StockKind::Panel | StockKind::Diffuser => "on any wall or ceiling",
                StockKind::Corner => "across any corner of two walls",
                StockKind::Cloud => "below the ceiling",
                StockKind::Curtain | StockKind::Bookcase | StockKind::FreeStanding => "before any wall",
                StockKind::Rug => "on the floor",
            };
            let message = format!("\"{}\" ({size}) does not fit {whereto}", stock.name);
            walk.error("stock-too-large", places.of("size"), message, "check `size`; a bare number is in the scene's unit".to_owned());
        }
    }
}

fn fits(scene: &Scene, stock: &PanelType) -> bool {
    let turned = DVec2::new(stock.size.y, stock.size.x);
    let on_wall = || (0..scene.walls.len()).any(|wall| fits_wall(scene, wall, stock.size) || fits_wall(scene, wall, turned));
    let within = |bounds: (DVec2, DVec2)| {
        let room = bounds.1 - bounds.0 + SLACK;
        stock.size.cmple(room).all() || turned.cmple(room).all()
    };
    let on_ceiling = || (0..scene.ceiling.len()).any(|plane| facet_bounds(scene, plane).is_some_and(within));
    match stock.kind {
        StockKind::Panel | StockKind::Diffuser => on_wall() || on_ceiling(),
        StockKind::Curtain | StockKind::Bookcase | StockKind::FreeStanding => on_wall(),
        StockKind::Cloud | StockKind::Rug => within(scene.floor_plan().bounds()),
        StockKind::Corner => (0..scene.outline.len()).any(|corner| {
            corner_legs(scene, corner, stock.size.x).is_some_and(|ends| {
                let height = ends.iter().map(|&end| scene.ceiling_height(end)).fold(scene.ceiling_height(scene.outline[corner]), f64::min);
                stock.size.y <= height + SLACK
            })
        }),
    }
}

/// Whether an upright rectangle fits somewhere below the upper edge of a wall, which is concave: the best place is found by thirds.
fn fits_wall(scene: &Scene, wall: usize, size: DVec2) -> bool {
    let chart = scene.chart(SurfaceIndex::Wall(wall));
    let spare = scene.wall_length(wall) - size.x;
    if spare < -SLACK {
        return false;
    }
    let height_at = |left: f64| {
        let over = |position: f64| scene.ceiling_height(chart.point(DVec2::new(position, 0.0)).truncate());
        over(left).min(over(left + size.x))
    };
    let (mut low, mut high) = (0.0, spare.max(0.0));
    for _ in 0..100 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if height_at(a) < height_at(b) { low = a } else { high = b }
    }
    height_at((low + high) / 2.0) + SLACK >= size.y
}

fn facet_bounds(scene: &Scene, plane: usize) -> Option<(DVec2, DVec2)> {
    let chart = scene.chart(SurfaceIndex::Ceiling(plane));
    let facets = scene.ceiling_facets(plane);
    let corners = facets.iter().flat_map(|facet| &facet.corners);
    let positions = corners.map(|&corner| chart.position(corner.extend(scene.ceiling[plane].height_at(corner))));
    positions.map(|position| (position, position)).reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

/// Where a panel of this width across a corner touches its two walls: the wall that ends there first. `None` if the corner sticks into
/// the room or a wall is too short.
fn corner_legs(scene: &Scene, corner: usize, width: f64) -> Option<[DVec2; 2]> {
    let count = scene.outline.len();
    let (before, here, after) = (scene.outline[(corner + count - 1) % count], scene.outline[corner], scene.outline[(corner + 1) % count]);
    let (back, ahead) = ((before - here).try_normalize()?, (after - here).try_normalize()?);
    // Inside is to the left: the corner opens to the room if the outline turns left there.
    if (here - before).perp_dot(after - here) <= 0.0 {
        return None;
    }
    let half_angle = back.angle_to(ahead).abs() / 2.0;
    if 2.0 * half_angle > WIDEST_CORNER {
        return None;
    }
    let leg = width / 2.0 / half_angle.sin();
    (leg <= before.distance(here) + SLACK && leg <= after.distance(here) + SLACK).then(|| [here + back * leg, here + ahead * leg])
}

/// Panels hang on their surface, on nothing else, and on nothing that must stay clear.
pub(super) fn panels_hang(walk: &mut Walk<'_>, draft: &Draft) {
    let scene = &draft.scene;
    let mut hung: Vec<Hung> = Vec::new();
    for (index, panel) in scene.panels.iter().enumerate() {
        let Some(kind) = scene.stock.iter().find(|stock| stock.name == panel.kind) else { continue };
        if !goes_there(walk, draft, index, kind) {
            continue;
        }
        let Some(place) = hang(walk, draft, index, panel, kind) else { continue };
        over_openings(walk, scene, &place);
        over_clearances(walk, scene, &place);
        in_the_way(walk, scene, &place, kind);
        for earlier in &hung {
            let shared = place.covers.iter().any(|(surface, a)| earlier.covers.iter().any(|(other, b)| surface == other && overlap(a, b)));
            if shared || !place.solid.apart(&earlier.solid, -OVERLAP) {
                let message = format!("{} hangs in the way of panel {}", place.name, earlier.number);
                walk.error("panels-overlap", place.span.clone(), message, "move one of them".to_owned());
                break;
            }
        }
        hung.push(place);
    }
}

/// A kind of stock goes only where it belongs.
fn goes_there(walk: &mut Walk<'_>, draft: &Draft, index: usize, kind: &PanelType) -> bool {
    let panel = &draft.scene.panels[index];
    let floor = matches!(&panel.place, PanelPlace::Surface { surface, .. } if draft.scene.surface(surface) == Some(SurfaceIndex::Floor));
    let ceiling = matches!(&panel.place, PanelPlace::Surface { surface, .. } if is_ceiling(&draft.scene, surface));
    let flat = matches!(panel.place, PanelPlace::Surface { .. });
    let (right, expected) = match kind.kind {
        StockKind::Panel => (!floor, "on a wall or ceiling, across a corner or as a cloud"),
        StockKind::Diffuser => (flat && !floor, "on a wall or ceiling"),
        StockKind::Corner => (matches!(panel.place, PanelPlace::Corner { .. }), "across a corner: `corner = [\"north\", \"east\"]`"),
        StockKind::Cloud => (matches!(panel.place, PanelPlace::Cloud { .. }), "below the ceiling: `center = [x, y]` and `underside`"),
        StockKind::Curtain | StockKind::Bookcase | StockKind::FreeStanding => (flat && !floor && !ceiling, "before a wall: `surface`"),
        StockKind::Rug => (floor, "on the floor: `surface = \"floor\"`"),
    };
    if !right {
        let span = draft.at.panels[index].first(&["surface", "corner", "center"]);
        let message = format!("\"{}\" does not go there: it goes {expected}", kind.name);
        walk.error("panel-wrong-place", span, message, None);
    }
    right
}

/// Works out the space a panel takes, or says why it cannot hang there.
fn hang(walk: &mut Walk<'_>, draft: &Draft, index: usize, panel: &Panel, kind: &PanelType) -> Option<Hung> {
    let (scene, places) = (&draft.scene, &draft.at.panels[index]);
    let name = format!("panel {} (\"{}\")", index + 1, kind.name);
    let span = places.first(&["left", "corner", "center"]);
    match &panel.place {
        PanelPlace::Surface { surface: surface_name, left, bottom, lying, gap } => {
            let surface = scene.surface(surface_name)?;
            let size = if *lying { DVec2::new(kind.size.y, kind.size.x) } else { kind.size };
            let place = Rectangle { left: *left, bottom: *bottom, width: size.x, height: size.y };
            if let Some(miss) = scene.off_surface(surface, &place) {
                let (key, message, hint) = miss_words(walk, &place, surface_name, miss);
                walk.error("panel-off-surface", places.of(key), format!("{name} {message}"), hint);
                return None;
            }
            let chart = scene.chart(surface);
            let back = rectangle_corners(&place).map(|corner| chart.point(corner));
            let depth = gap + kind.thickness;
            let middle = |height: f64| back.iter().sum::<DVec3>() / 4.0 + chart.normal * height;
            if *gap > 0.0 && !scene.in_shell(middle(depth)) {
                let message = format!("{name} is {} deep with its gap: its front is outside the room", walk.print(depth));
                walk.error("gap-too-deep", places.first(&["gap", "left"]), message, "make `gap` smaller".to_owned());
                return None;
            }
            let low = DVec2::new(*left, *bottom);
            Some(Hung {
                number: index + 1,
                name,
                span,
                covers: vec![(surface, place)],
                solid: Solid::before(&chart, low, low + size, depth),
                middle: middle(depth / 2.0),
                shadow: None,
            })
        }
        PanelPlace::Corner { corner, bottom } => {
            let here = scene.outline[*corner];
            let Some(ends) = corner_legs(scene, *corner, kind.size.x) else {
                let message = format!("{name} does not fit across this corner");
                let hint = "it needs a corner that opens to the room, with walls longer than the panel is wide".to_owned();
                walk.error("panel-off-surface", places.of("corner"), message, hint);
                return None;
            };
            let (top, count) = (bottom + kind.size.y, scene.outline.len());
            let under = ends.into_iter().chain([here]).map(|point| scene.ceiling_height(point)).fold(f64::INFINITY, f64::min);
            if top > under + SLACK {
                let message = format!("{name} reaches up to {}, where the ceiling is at {}", walk.print(top), walk.print(under));
                walk.error("panel-off-surface", places.of("bottom"), message, None);
                return None;
            }
            let (before, leg) = ((corner + count - 1) % count, ends[0].distance(here));
            let strip = |left: f64| Rectangle { left, bottom: *bottom, width: leg, height: kind.size.y };
            Some(Hung {
                number: index + 1,
                name,
                span,
                // As seen from inside, the corner is the left end of the wall that ends there and the right end of the next.
                covers: vec![
                    (SurfaceIndex::Wall(before), strip(0.0)),
                    (SurfaceIndex::Wall(*corner), strip(scene.wall_length(*corner) - leg)),
                ],
                solid: Solid::column(&[here, ends[1], ends[0]], *bottom, top),
                middle: ((ends[0] + ends[1]) / 2.0).extend(bottom + kind.size.y / 2.0),
                shadow: None,
            })
        }
        PanelPlace::Cloud(cloud) => {
            let (solid, shadow) = float(walk, draft, index, (cloud, kind), &name)?;
            let middle = solid.corners().iter().sum::<DVec3>() / 8.0;
            Some(Hung { number: index + 1, name, span, covers: Vec::new(), solid, middle, shadow: Some(shadow) })
        }
    }
}

/// The space that a cloud takes and its shadow on the floor, or why it cannot hang there: between the walls, over the floor, and under the
/// ceiling, the lower envelope of whose planes is concave, so that the corners decide.
fn float(walk: &mut Walk<'_>, draft: &Draft, index: usize, (cloud, kind): (&Cloud, &PanelType), name: &str) -> Option<(Solid, Polygon)> {
    let (scene, places) = (&draft.scene, &draft.at.panels[index]);
    let solid = cloud.solid(kind);
    let (low, high) = solid.bounds();
    let shadow = Polygon::rectangle(low.truncate(), high.truncate());
    if !scene.floor_plan().covers(&shadow, SLACK) {
        walk.error("panel-off-surface", places.of("center"), format!("{name} reaches through a wall"), "move `center`".to_owned());
        return None;
    }
    if low.z < -SLACK {
        let message = format!("the lower edge of {name} is {} below the floor", walk.print(-low.z));
        walk.error("panel-off-surface", places.of("underside"), message, "raise `underside`, or make `tilt` smaller".to_owned());
        return None;
    }
    let over = |corner: &DVec3| corner.z - scene.ceiling_height(corner.truncate());
    let highest = solid.corners().iter().max_by(|a, b| over(a).total_cmp(&over(b)))?;
    let (reach, under) = (highest.z, scene.ceiling_height(highest.truncate()));
    if reach > under + SLACK {
        let message = format!("{name} reaches up to {}, where the ceiling is at {}", walk.print(reach), walk.print(under));
        let most = cloud.underside - (reach - under);
        let flatter = if cloud.tilt == DVec2::ZERO { "" } else { ", or `tilt` smaller" };
        let hint = (most > 0.0).then(|| format!("`underside` is at most {}{flatter}", walk.print(most)));
        walk.error("panel-off-surface", places.of("underside"), message, hint);
        return None;
    }
    Some((solid, shadow))
}

/// Nothing hangs over a door, window or hatch.
fn over_openings(walk: &mut Walk<'_>, scene: &Scene, hung: &Hung) {
    for opening in &scene.openings {
        let surface = scene.surface(&opening.surface);
        if hung.covers.iter().any(|(covered, place)| Some(*covered) == surface && overlap(place, &opening.place)) {
            let message = format!("{} hangs over the opening \"{}\"", hung.name, opening.name);
            walk.error("panel-over-opening", hung.span.clone(), message, "move the panel".to_owned());
        }
    }
}

/// Nothing hangs where something must stay clear.
fn over_clearances(walk: &mut Walk<'_>, scene: &Scene, hung: &Hung) {
    for clearance in &scene.clearances {
        let hit = match &clearance.region {
            ClearanceRegion::Surface { surface, place } => {
                let surface = scene.surface(surface);
                let covered = hung.covers.iter().any(|(covered, own)| Some(*covered) == surface && overlap(own, place));
                covered || surface.is_some_and(|surface| above(scene, surface, place, hung))
            }
            ClearanceRegion::Space { low, high } => !hung.solid.apart(&Solid::upright(*low, *high), -OVERLAP),
        };
        if hit {
            let message = format!("{} hangs where \"{}\" must stay clear", hung.name, clearance.name);
            walk.error("panel-over-clearance", hung.span.clone(), message, "move the panel".to_owned());
        }
    }
}

/// Whether a region of the ceiling is above a cloud.
fn above(scene: &Scene, surface: SurfaceIndex, place: &Rectangle, hung: &Hung) -> bool {
    let chart = scene.chart(surface);
    let region = Polygon::new(rectangle_corners(place).map(|corner| chart.point(corner).truncate()).to_vec());
    matches!(surface, SurfaceIndex::Ceiling(_)) && hung.shadow.as_ref().is_some_and(|shadow| shadow.overlaps(&region, OVERLAP))
}

/// Nothing hangs inside furniture, where somebody sits or something stands, or nearer to a seat than it may.
fn in_the_way(walk: &mut Walk<'_>, scene: &Scene, hung: &Hung, kind: &PanelType) {
    for block in &scene.blocks {
        let body = Solid::turned(block.center, block.base, block.size, block.rotation);
        if kind.kind != StockKind::Rug && !hung.solid.apart(&body, -OVERLAP) {
            let message = format!("{} hangs inside \"{}\"", hung.name, block.name);
            walk.error("panel-in-the-way", hung.span.clone(), message, "move one of them".to_owned());
        }
    }
    for (kind, name, point) in dots(scene) {
        let crown = if kind == "seat" { CROWN } else { 0.0 };
        // Two roundings off, since a point on a face is neither in the air nor in the panel.
        if !hung.solid.apart(&Solid::upright(point, point + DVec3::Z * crown), 2.0 * SLACK) {
            let message = format!("{} hangs where the {kind} \"{name}\" is", hung.name);
            walk.error("panel-in-the-way", hung.span.clone(), message, "move one of them".to_owned());
        }
    }
    for seat in &scene.seats {
        let distance = seat.ear.distance(hung.middle);
        if distance < kind.least_distance {
            let message =
                format!("{} is {} from \"{}\"; it needs {}", hung.name, walk.print(distance), seat.name, walk.print(kind.least_distance));
            walk.error("panel-too-near", hung.span.clone(), message, "move the panel or the seat".to_owned());
        }
    }
}
