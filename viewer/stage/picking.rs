//! What lies under the mouse: a place on a surface, a panel, a hot spot, a path, a loudspeaker, a head.

use bevy::math::{DVec2, DVec3, Vec2};
use roomwright::geometry::Polygon;
use roomwright::report::hung::How;
use roomwright::room::{Role, Room};
use roomwright::scene::shell::FLOOR;
use roomwright::scene::{Clearance, ClearanceRegion, Rectangle, Scene, SurfaceIndex};

use super::camera::Sight;
use super::mesh::{hung_of, is_body};
use super::{ink, proved, thing};
use crate::command::Command;
use crate::comparison::Target;
use crate::marks::Marked;
use crate::proving::{ProveChoice, Told};
use crate::results::Results;
use crate::view::{ArrivalChoice, CameraView, Pressed, Strip, Thing, View};

/// How near a line must be to be meant, logical pixels.
const LINE_NEAR: f32 = 6.0;
/// How near a mark to drill at must be to be meant, logical pixels.
const MARK_NEAR: f32 = 8.0;
/// How near the middle of a loudspeaker or head must be to be meant, logical pixels.
const PERSON_NEAR: f32 = 12.0;

/// A place on a surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct OnSurface {
    /// Index into the room's surfaces.
    pub(super) surface: usize,
    /// From its left edge and from its lower edge (of a wall: from the floor), meters.
    pub(super) position: DVec2,
    /// The same in the room, meters.
    pub(super) point: DVec3,
}

/// The nearest surface of these that faces the eye along a line of sight, and how far it is in meters.
pub(super) fn surface_along(room: &Room, from: DVec3, way: DVec3, is_meant: impl Fn(Role) -> bool) -> Option<(f64, OnSurface)> {
    let hit = |(index, surface): (usize, &roomwright::room::Surface)| {
        if !is_meant(surface.role) {
            return None;
        }
        let (height, fall) = (surface.chart.height(from), -surface.chart.normal.dot(way));
        if height <= 0.0 || fall <= 1e-9 {
            return None;
        }
        let point = from + way * (height / fall);
        let position = surface.chart.position(point);
        surface.outline.contains(position).then_some((height / fall, OnSurface { surface: index, position, point }))
    };
    room.surfaces.iter().enumerate().filter_map(hit).min_by(|a, b| a.0.total_cmp(&b.0))
}

/// The place on a surface that a point of the room is, as `View::pointer` holds it.
pub(super) fn on_surface(room: &Room, point: DVec3) -> Option<OnSurface> {
    let place = |(surface, found): (usize, &roomwright::room::Surface)| {
        let position = found.chart.position(point);
        let is_on = found.chart.height(point).abs() < 1e-6 && found.outline.contains(position);
        is_on.then_some(OnSurface { surface, position, point })
    };
    room.surfaces.iter().enumerate().find_map(place)
}

/// The flat panel whose front is met first along a line of sight, and how far it is in meters.
fn panel_along(scene: &Scene, room: &Room, from: DVec3, way: DVec3) -> Option<(f64, usize)> {
    let mut nearest: Option<(f64, usize)> = None;
    for (index, panel) in scene.panels.iter().enumerate().filter(|(index, _)| !is_body(room, *index)) {
        for hung in hung_of(scene, room, panel).iter().filter(|hung| matches!(hung.how, How::Flat { .. })) {
            let chart = room.surfaces[hung.surface].chart;
            let (height, fall) = (chart.normal.dot(from - hung.front[0]), -chart.normal.dot(way));
            if height <= 0.0 || fall <= 1e-9 || nearest.is_some_and(|(distance, _)| distance <= height / fall) {
                continue;
            }
            let position = chart.position(from + way * (height / fall));
            if Polygon::new(hung.outline.clone()).contains(position) {
                nearest = Some((height / fall, index));
            }
        }
    }
    nearest
}

fn distance_to_line(at: Vec2, from: Vec2, to: Vec2) -> f32 {
    let along = to - from;
    let share = ((at - from).dot(along) / along.length_squared().max(1e-6)).clamp(0.0, 1.0);
    at.distance(from + along * share)
}

/// The thing under the pointer, and the point of it that is under there: people first, then what is met first along the line of sight,
/// and the edges of boxes that must stay clear. The head that we look out of is not seen.
pub(super) fn thing_at(scene: &Scene, room: &Room, camera: CameraView, sight: &Sight, at: Vec2) -> Option<(Thing, DVec3)> {
    let nearness = |(thing, point): (Thing, DVec3)| sight.screen(point).map(|screen| (screen.distance(at), thing, point));
    let sources = room.sources.iter().enumerate().map(|(index, source)| (Thing::Source(index), source.position));
    let receivers = room.receivers.iter().enumerate().filter(|(index, _)| camera != CameraView::Ear(*index));
    let receivers = receivers.map(|(index, receiver)| (Thing::Receiver(index), receiver.position));
    let people = sources.chain(receivers).filter_map(nearness).filter(|(near, ..)| *near <= PERSON_NEAR);
    if let Some((_, thing, point)) = people.min_by(|a, b| a.0.total_cmp(&b.0)) {
        return Some((thing, point));
    }
    let (from, way) = sight.ray(at);
    let surface = surface_along(room, from, way, |_| true);
    let panel =
        panel_along(scene, room, from, way).filter(|(distance, _)| surface.as_ref().is_none_or(|(behind, _)| *distance < *behind + 1e-6));
    if let Some((distance, panel)) = panel {
        return Some((Thing::Panel(panel), from + way * distance));
    }
    if let Some((_, hit)) = &surface
        && let Role::Panel(panel) = room.surfaces[hit.surface].role
    {
        return Some((Thing::Panel(panel), hit.point));
    }
    if let Some(found) = clear_box_near(scene, room, sight, at) {
        return Some(found);
    }
    let (_, hit) = surface?;
    let host = &room.surfaces[hit.surface];
    if let Role::Block(block) = host.role {
        return Some((Thing::Block(block), hit.point));
    }
    let holds = |surface: &str, place: &Rectangle| {
        let low = DVec2::new(place.left, place.bottom);
        let high = low + DVec2::new(place.width, place.height);
        surface == host.name && hit.position.cmpge(low).all() && hit.position.cmple(high).all()
    };
    let opening = scene.openings.iter().position(|opening| holds(&opening.surface, &opening.place)).map(Thing::Opening);
    let is_here = |clearance: &Clearance| match &clearance.region {
        ClearanceRegion::Surface { surface, place } => holds(surface, place),
        ClearanceRegion::Space { .. } => false,
    };
    let clearance = || scene.clearances.iter().position(is_here).map(Thing::Clearance);
    opening.or_else(clearance).map(|thing| (thing, hit.point))
}

/// The box that must stay clear one of whose edges passes near, and the point of the edge: what is in the box is not hidden by it.
fn clear_box_near(scene: &Scene, room: &Room, sight: &Sight, at: Vec2) -> Option<(Thing, DVec3)> {
    let boxes = scene.clearances.iter().enumerate().filter(|(_, clearance)| matches!(clearance.region, ClearanceRegion::Space { .. }));
    let mut nearest: Option<(f64, Thing, DVec3)> = None;
    for (index, _) in boxes {
        let thing = Thing::Clearance(index);
        for edge in thing::outlines(scene, room, thing).iter().flat_map(|line| line.windows(2)) {
            let (Some(from), Some(to)) = (sight.screen(edge[0]), sight.screen(edge[1])) else { continue };
            if distance_to_line(at, from, to) > LINE_NEAR {
                continue;
            }
            let share = f64::from(((at - from).dot(to - from) / (to - from).length_squared().max(1e-6)).clamp(0.0, 1.0));
            let point = edge[0].lerp(edge[1], share);
            // Of edges that lie over each other the one before the others.
            let depth = (point - sight.pose.eye).dot(sight.pose.forward);
            if nearest.is_none_or(|(least, ..)| depth < least) {
                nearest = Some((depth, thing, point));
            }
        }
    }
    nearest.map(|(_, thing, point)| (thing, point))
}

/// What a click means. While a form asks: a place and nothing else. Otherwise people first, then bends, paths, those of a recording, panels and blocks, hot spots, what
/// is in a surface; on nothing it lets go.
pub(super) fn clicked(scene: &Scene, room: &Room, view: &View, results: &Results, sight: &Sight, at: Vec2) -> Vec<Command> {
    if view.asks_place {
        let (from, way) = sight.ray(at);
        let hit = surface_along(room, from, way, |_| true);
        return hit.and_then(|(_, hit)| pressed(scene, room, &hit)).map(Command::GivePlace).into_iter().collect();
    }
    let thing = thing_at(scene, room, view.camera, sight, at).map(|(thing, _)| thing);
    match thing {
        Some(Thing::Source(source)) => return vec![Command::ChooseSource(source), Command::Choose(thing)],
        Some(Thing::Receiver(receiver)) => return vec![Command::ChooseReceiver(receiver), Command::Choose(thing)],
        _ => {}
    }
    if let Some(choice) = bend_near(view, results, sight, at).or_else(|| path_near(room, view, results, sight, at)) {
        return vec![Command::ChooseArrival(Some(choice))];
    }
    if let Some(told) = proved_near(view, results, sight, at) {
        return vec![Command::Prove(ProveChoice::Tell(Some(told)))];
    }
    if let Some(marked) = mark_near(view, results, sight, at) {
        return vec![Command::Choose(Some(Thing::Panel(marked.scene_panel()))), Command::ChooseSheet(Some(marked.surface.facet))];
    }
    if matches!(thing, Some(Thing::Panel(_) | Thing::Block(_))) {
        return vec![Command::Choose(thing)];
    }
    let (from, way) = sight.ray(at);
    let surface = surface_along(room, from, way, |_| true);
    let spot = surface.and_then(|(_, hit)| {
        let holds = |(_, spot, surface): &(usize, &roomwright::plan::HotSpot, usize)| {
            *surface == hit.surface && ink::spot_outlines(room, spot, *surface).iter().any(|part| part.contains(hit.position))
        };
        // Where two lie over each other, the smaller one.
        let hot_spots = ink::spots(room, view, results).into_iter().filter(holds);
        hot_spots.min_by(|a, b| a.1.area_m2.total_cmp(&b.1.area_m2)).map(|(index, ..)| index)
    });
    let mut commands = match spot {
        Some(spot) => vec![Command::ChooseHotSpot(Some(spot))],
        None if thing.is_some() => return vec![Command::Choose(thing)],
        None => vec![Command::Choose(None), Command::ChooseHotSpot(None), Command::ChooseArrival(None)],
    };
    if spot.is_none() && view.proving.told.is_some() {
        commands.push(Command::Prove(ProveChoice::Tell(None)));
    }
    // Who looks at absorbers points at what to give one to.
    let pressed = surface.filter(|_| view.strip == Strip::Absorbers).and_then(|(_, hit)| pressed(scene, room, &hit));
    commands.extend(pressed.map(|pressed| Command::ChooseTarget(Some(Target::One(pressed.surface)))));
    commands
}

/// A press for a form. The scene's own chart tells where on a surface it is: a part of the ceiling may be several surfaces of the room.
fn pressed(scene: &Scene, room: &Room, hit: &OnSurface) -> Option<Pressed> {
    let (surface, index) = match room.surfaces[hit.surface].role {
        Role::Wall(wall) => (scene.walls.get(wall)?.name.clone(), SurfaceIndex::Wall(wall)),
        Role::Ceiling(plane) => (scene.ceiling.get(plane)?.name.clone(), SurfaceIndex::Ceiling(plane)),
        Role::Floor => (FLOOR.to_owned(), SurfaceIndex::Floor),
        Role::Block(block) => {
            return Some(Pressed { surface: scene.blocks.get(block)?.name.clone(), position: hit.position, point: hit.point });
        }
        Role::Panel(_) | Role::Face(_) => return None,
    };
    Some(Pressed { surface, position: scene.chart(index).position(hit.point), point: hit.point })
}

/// The place that is marked as one where sound bends, if one is near enough; of two over each other the louder.
fn bend_near(view: &View, results: &Results, sight: &Sight, at: Vec2) -> Option<ArrivalChoice> {
    let near = ink::bends(view, results).into_iter().filter_map(|(choice, point)| Some((sight.screen(point)?.distance(at), choice)));
    near.filter(|(near, _)| *near <= LINE_NEAR).min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, choice)| choice)
}

/// The mark to drill at that is nearest on the screen, if near enough.
pub(super) fn mark_near<'a>(view: &View, results: &'a Results, sight: &Sight, at: Vec2) -> Option<Marked<'a>> {
    let drawn = ink::marks(view, results, &sight.pose).into_iter();
    let near = drawn.filter_map(|marked| Some((sight.screen(marked.at)?.distance(at), marked)));
    near.filter(|(near, _)| *near <= MARK_NEAR).min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, marked)| marked)
}

/// The path that passes nearest on the screen, if near enough.
fn path_near(room: &Room, view: &View, results: &Results, sight: &Sight, at: Vec2) -> Option<ArrivalChoice> {
    nearest(ink::paths(room, view, results), sight, at)
}

/// The reflection of a recording whose path does, likewise.
fn proved_near(view: &View, results: &Results, sight: &Sight, at: Vec2) -> Option<Told> {
    nearest(proved::paths(view, results).into_iter().map(|(told, _, points)| (told, points)), sight, at)
}

fn nearest<T>(paths: impl IntoIterator<Item = (T, Vec<DVec3>)>, sight: &Sight, at: Vec2) -> Option<T> {
    let nearness = |points: &[DVec3]| {
        let screen: Vec<Option<Vec2>> = points.iter().map(|point| sight.screen(*point)).collect();
        let stretch = |pair: &[Option<Vec2>]| Some(distance_to_line(at, pair[0]?, pair[1]?));
        screen.windows(2).filter_map(stretch).fold(f32::INFINITY, f32::min)
    };
    let near = paths.into_iter().map(|(choice, points)| (nearness(&points), choice)).filter(|(near, _)| *near <= LINE_NEAR);
    near.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, choice)| choice)
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use roomwright::progress::Progress;
    use roomwright::study::{self, Live};

    use super::*;
    use crate::results::{Generation, Known};
    use crate::stage::StageArea;
    use crate::stage::camera::{Rig, bounds};
    use crate::stage::samples;
    use crate::view::{CameraView, Step, Which};

    fn sight(room: &Room, view: CameraView) -> Sight {
        let mut rig = Rig::default();
        rig.fit(room, 1.5);
        rig.fit_flat(room, view, 1.5);
        Sight { pose: rig.pose(room, view), area: StageArea { low: Vec2::ZERO, high: Vec2::new(900.0, 600.0) } }
    }

    /// What is projected to the screen is found there again, on the same surface, unless something stands before it.
    #[test]
    fn keeps_places_on_surfaces() {
        for (_, room) in samples::all() {
            let sight = sight(&room, CameraView::Orbit);
            let mut found = 0;
            for (index, surface) in room.surfaces.iter().enumerate() {
                let position = surface.outline.triangles()[0].iter().sum::<DVec2>() / 3.0;
                let point = surface.chart.point(position);
                if !sight.pose.is_before(point, surface.chart.normal) {
                    continue;
                }
                let (from, way) = sight.ray(sight.screen(point).expect("before the eye"));
                let (distance, hit) = surface_along(&room, from, way, |_| true).expect("something is met");
                let beyond = from.distance(point) - distance;
                assert!(beyond > -1e-4, "nothing lies behind what is met");
                if beyond < 1e-4 {
                    assert!(hit.surface == index && hit.position.distance(position) < 1e-4, "{}", surface.name);
                    assert_eq!(on_surface(&room, hit.point).map(|place| place.surface), Some(index));
                    found += 1;
                }
            }
            assert!(found >= 3, "floor and two walls at least");
        }
    }

    #[test]
    fn keeps_the_clicked_panel_and_lets_go_beside_it() {
        let (scene, room) = samples::with_panel();
        let (view, results) = (View::default(), Results::default());
        let surface = room.surfaces.iter().position(|surface| surface.name == "east").expect("there");
        let sight = sight(&room, CameraView::Elevation(surface));
        let chart = room.surfaces[surface].chart;
        let click = |left: f64, bottom: f64| {
            let at = sight.screen(chart.point(DVec2::new(left, bottom))).expect("parallel");
            clicked(&scene, &room, &view, &results, &sight, at)
        };
        // 0.6 x 1.2 m from (1.5, 0.6).
        assert_eq!(click(1.55, 0.65), [Command::Choose(Some(Thing::Panel(0)))]);
        assert_eq!(click(2.05, 1.75), [Command::Choose(Some(Thing::Panel(0)))]);
        assert!(click(1.45, 0.65).contains(&Command::Choose(None)));
        assert!(click(1.55, 1.85).contains(&Command::Choose(None)));
        // The socket is 0.3 x 0.3 m from (0.9, 0.2).
        assert_eq!(click(1.0, 0.3), [Command::Choose(Some(Thing::Clearance(3)))]);
    }

    /// While a form asks, a press is a place and nothing else: a panel, a head or a path is not chosen.
    #[test]
    fn keeps_a_press_for_a_form_on_its_surface() {
        let (scene, room) = samples::with_panel();
        let view = View { asks_place: true, ..View::default() };
        for surface in ["east", "slope"] {
            let index = room.surfaces.iter().position(|known| known.name == surface).expect("there");
            let sight = sight(&room, CameraView::Elevation(index));
            let at = sight.screen(room.surfaces[index].chart.point(DVec2::new(1.55, 0.65))).expect("parallel");
            let commands = clicked(&scene, &room, &view, &Results::default(), &sight, at);
            let [Command::GivePlace(pressed)] = &commands[..] else { panic!("{commands:?}") };
            assert_eq!(pressed.surface, surface);
            assert!(pressed.position.distance(DVec2::new(1.55, 0.65)) < 1e-3, "{pressed:?}");
        }
    }

    /// While absorbers are looked at a press says what one is given to, and that is outlined; a hot spot on it can be chosen as ever.
    #[test]
    fn keeps_a_press_for_a_material_on_its_surface() {
        let (scene, room) = samples::with_panel();
        for strip in [Strip::Absorbers, Strip::Plots] {
            for surface in ["east", "slope", "floor"] {
                let mut view = View { strip, ..View::default() };
                let index = room.surfaces.iter().position(|known| known.name == surface).expect("there");
                let sight = sight(&room, CameraView::Elevation(index));
                let at = sight
                    .screen(room.surfaces[index].chart.point(DVec2::new(0.3, 1.9).min(room.surfaces[index].outline.corners[2])))
                    .expect("parallel");
                let commands = clicked(&scene, &room, &view, &Results::default(), &sight, at);
                let target = Target::One(surface.to_owned());
                let gives = commands.contains(&Command::ChooseTarget(Some(target.clone())));
                assert_eq!(gives, strip == Strip::Absorbers, "{surface}: {commands:?}");
                view.comparison.target = Some(target);
                let lines = ink::target_lines(&scene, &room, &view);
                let corner = room.surfaces[index].chart.point(room.surfaces[index].outline.corners[0]);
                assert_eq!(lines.len(), usize::from(gives));
                assert!(lines.iter().all(|line| line.points[0].distance(corner) < 1e-9));
            }
        }
    }

    #[test]
    fn keeps_people_clickable() {
        let (scene, room) = samples::attic();
        let sight = sight(&room, CameraView::Orbit);
        let at = sight.screen(room.sources[1].position).expect("in sight");
        let commands = clicked(&scene, &room, &View::default(), &Results::default(), &sight, at + 3.0);
        assert_eq!(commands, [Command::ChooseSource(1), Command::Choose(Some(Thing::Source(1)))]);
    }

    /// What a coarse trace finds in the early window.
    fn heard(scene: &Scene) -> Results {
        let progress = Progress::new();
        let traced = study::trace_for_trials(&progress, scene, 400).expect("not canceled");
        let mut live = Live::new(&progress, &traced).expect("not canceled");
        let early = live.early(&progress, scene).expect("not canceled");
        Results { early: Some(Known { generation: Generation(0), rays: 400, value: Arc::new(early) }), ..Results::default() }
    }

    /// On each stretch of a path that is drawn a click chooses the row of its reflection, as long as no other path and no head is as
    /// near; a little more than the reach of a line beside all of them it chooses none.
    #[test]
    fn keeps_a_drawn_path_clickable() {
        let (scene, room) = samples::attic();
        let (results, sight) = (heard(&scene), sight(&room, CameraView::Orbit));
        let pairs = &results.early.as_ref().expect("there").value.pairs;
        let (mut drawn, mut beside) = (0, 0);
        for (pair, found) in pairs.iter().enumerate() {
            // One that is chosen is drawn whether it is too loud or not.
            let last = found.reflections.len().checked_sub(1);
            let arrival = last.map(|row| ArrivalChoice { pair, which: Which::Reflection(row) });
            let view = View { step: Step::Hear, source: found.source, receiver: found.receiver, arrival, ..View::default() };
            let click = |at: Vec2| clicked(&scene, &room, &view, &results, &sight, at);
            let is_person =
                |at: Vec2| matches!(thing_at(&scene, &room, view.camera, &sight, at), Some((Thing::Source(_) | Thing::Receiver(_), _)));
            let lines = lines(&room, &view, &results, &sight);
            let away = |at: Vec2, except: Option<ArrivalChoice>| {
                let others = lines.iter().filter(|(choice, _)| Some(*choice) != except);
                others.map(|(_, [from, to])| distance_to_line(at, *from, *to)).fold(f32::INFINITY, f32::min)
            };
            for ((choice, [from, to]), share) in lines.iter().flat_map(|line| [0.3, 0.5, 0.7].map(|share| (line, share))) {
                let on = from.lerp(*to, share);
                if !is_person(on) && away(on, Some(*choice)) > 1.0 {
                    assert_eq!(click(on), [Command::ChooseArrival(Some(*choice))]);
                    drawn += 1;
                }
                let off = on + (*to - *from).perp().normalize_or_zero() * (LINE_NEAR + 1.0);
                if away(off, None) > LINE_NEAR {
                    let commands = click(off);
                    assert!(!commands.iter().any(|command| matches!(command, Command::ChooseArrival(Some(_)))), "{commands:?}");
                    beside += 1;
                }
            }
            // What is not drawn is not there.
            let elsewhere = View { step: Step::Survey, arrival: None, ..view.clone() };
            for (_, [from, to]) in &lines {
                let commands = clicked(&scene, &room, &elsewhere, &results, &sight, from.lerp(*to, 0.5));
                assert!(!commands.iter().any(|command| matches!(command, Command::ChooseArrival(Some(_)))), "{commands:?}");
            }
        }
        assert!(drawn > 20 && beside > 20, "{drawn} places on paths, {beside} beside");
    }

    /// Where sound bends that reaches the ear that is looked at is marked, and a click there chooses it; chosen, its path leads over its bends to that ear. So
    /// does the direct sound, by itself.
    #[test]
    fn keeps_bends_and_the_direct_sound_clickable() {
        let (scene, room) = samples::attic();
        let progress = Progress::new();
        let traced = study::trace_for_trials(&progress, &scene, 400).expect("not canceled");
        let hanging = roomwright::hanging::from_panels(&scene, &room, &scene.panels);
        let findings = study::study(&progress, &scene, &traced, &hanging).expect("not canceled");
        let known = Known { generation: Generation(0), rays: 400, value: Arc::new(findings) };
        let results = Results { findings: Some(known), ..heard(&scene) };
        let sight = sight(&room, CameraView::Orbit);
        let ear = 1;
        let looked = View { step: Step::Hear, ear, ..View::default() };
        let marks = ink::bends(&looked, &results);
        let response = crate::arrival::response(&results, 0, ear).expect("the right ear");
        assert!(marks.len() == response.edges.len() && marks.len() > 3, "{}", marks.len());
        let end = DVec3::from_array(response.position_m);
        for (choice, point) in &marks {
            let at = sight.screen(*point).expect("before the eye");
            let [Command::ChooseArrival(Some(found))] = clicked(&scene, &room, &looked, &results, &sight, at)[..] else {
                panic!("{choice:?}")
            };
            let place = marks.iter().find(|mark| mark.0 == found).expect("it is one of them").1;
            assert!(sight.screen(place).expect("before the eye").distance(at) < 0.5, "the one that is there");
            let chosen = View { arrival: Some(*choice), ..looked.clone() };
            let drawn = ink::paths(&room, &chosen, &results);
            let path = &drawn.iter().find(|path| path.0 == *choice).expect("it is drawn").1;
            let Which::Edge { row, .. } = choice.which else { panic!("{choice:?}") };
            let edge = &response.edges[row];
            let length: f64 = path.windows(2).map(|ends| ends[0].distance(ends[1])).sum();
            assert_eq!((path[0], path[1], path[path.len() - 1]), (room.sources[0].position, *point, end));
            assert_eq!(path.len(), 2 + edge.bends as usize);
            assert!((length - edge.made_of.legs_m.iter().sum::<f64>()).abs() < 1e-9);
        }
        let direct = ArrivalChoice { pair: 0, which: Which::Direct { ear } };
        let drawn = ink::paths(&room, &looked, &results);
        assert_eq!(drawn.iter().find(|path| path.0 == direct).expect("it is drawn").1, [room.sources[0].position, end]);
        let on = |share: f64| sight.screen(room.sources[0].position.lerp(end, share)).expect("before the eye");
        assert_eq!(clicked(&scene, &room, &looked, &results, &sight, on(0.35)), [Command::ChooseArrival(Some(direct))]);
        // Where that is not asked nothing of it is drawn.
        let elsewhere = View { step: Step::Survey, ..looked };
        assert!(ink::bends(&elsewhere, &results).is_empty() && ink::paths(&room, &elsewhere, &results).is_empty());
    }

    /// The stretches of the paths that are drawn, on the screen.
    fn lines(room: &Room, view: &View, results: &Results, sight: &Sight) -> Vec<(ArrivalChoice, [Vec2; 2])> {
        let screen = |point: DVec3| sight.screen(point).expect("before the eye");
        let stretches = |(choice, points): (ArrivalChoice, Vec<DVec3>)| -> Vec<_> {
            points.windows(2).map(|ends| (choice, [screen(ends[0]), screen(ends[1])])).collect()
        };
        ink::paths(room, view, results).into_iter().flat_map(stretches).collect()
    }

    /// Whatever is pointed at in its middle, seen square on or from outside, is found.
    #[test]
    fn keeps_things_under_the_pointer() {
        let (scene, room) = samples::furnished();
        let wall = |name: &str| room.surfaces.iter().position(|surface| surface.name == name).expect("there");
        let at = |camera: CameraView, point: DVec3| {
            let sight = sight(&room, camera);
            thing_at(&scene, &room, camera, &sight, sight.screen(point).expect("before the eye"))
        };
        let south = room.surfaces[wall("south")].chart;
        // The door: 0.8 m wide from 0.3 m. The swing before it is a box whose edges alone are met.
        let (thing, point) = at(CameraView::Elevation(wall("south")), south.point(DVec2::new(0.8, 1.5))).expect("the door");
        assert_eq!(thing, Thing::Opening(1));
        assert!(south.height(point).abs() < 1e-9);
        let edge = DVec3::new(3.3, 0.85, 1.0);
        let (thing, point) = at(CameraView::Elevation(wall("south")), edge).expect("the swing");
        assert!(thing == Thing::Clearance(0) && point.distance(edge) < 0.02, "{thing:?} {point}");
        // From above the cloud and the shelf are seen by their tops.
        let (thing, point) = at(CameraView::Plan, DVec3::new(3.1, 3.1, 2.15)).expect("the cloud");
        assert!(thing == Thing::Panel(2) && (point.z - 2.15).abs() < 1e-9, "{thing:?} {point}");
        assert_eq!(at(CameraView::Plan, DVec3::new(4.25, 1.95, 1.9)).map(|found| found.0), Some(Thing::Block(1)));
        assert_eq!(at(CameraView::Plan, scene.seats[0].ear).map(|found| found.0), Some(Thing::Receiver(0)));
        assert_ne!(at(CameraView::Ear(0), scene.seats[0].ear + scene.seats[0].facing).map(|found| found.0), Some(Thing::Receiver(0)));
        assert_eq!(at(CameraView::Plan, DVec3::new(1.0, 1.0, 0.0)), None, "nothing on the bare floor");
    }

    #[test]
    fn exact_distance_to_a_line() {
        assert_eq!(distance_to_line(Vec2::new(5.0, 3.0), Vec2::ZERO, Vec2::new(10.0, 0.0)), 3.0);
        assert_eq!(distance_to_line(Vec2::new(13.0, 4.0), Vec2::ZERO, Vec2::new(10.0, 0.0)), 5.0);
    }

    /// The plan of the scene says 4.4 x 5.2 m, 2.4 m high.
    #[test]
    fn exact_bounds_of_the_attic() {
        let (low, high) = bounds(&samples::attic().1);
        assert!(low.length() < 1e-9 && high.distance(DVec3::new(4.4, 5.2, 2.4)) < 1e-9);
    }
}
