//! What on the stage can be taken hold of: where it is, the command that puts it elsewhere, its outline, its name.
//!
//! *Limits.* A hatch or window goes up and down its surface only as far as the hand clearly means it; a door never does.

use bevy::math::{DVec2, DVec3};
use roomwright::layout::{body, measure_step};
use roomwright::room::{Role, Room, hung_size};
use roomwright::scene::shell::rectangle_corners;
use roomwright::scene::{Block, ClearanceRegion, Cloud, OpeningKind, Panel, PanelPlace, PanelType, Rectangle, Scene, StockKind, ThingKind};
use roomwright::units::Length;

use super::mesh::hung_of;
use crate::command::Command;
use crate::view::Thing;

/// Radius of the ring round a loudspeaker, voice or microphone, meters.
const RING: f64 = 0.16;

/// Where a thing is, as far as a hand can change it.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Spot {
    /// On a surface: its name, the left lower corner on the chart, meters.
    On(String, DVec2),
    /// Across a corner of the outline: its number, and the height of the lower edge, meters.
    Across(usize, f64),
    /// In space: of a cloud the middle of its underside, of a block that of its footprint at its base, of a box its lowest corner. Meters.
    At(DVec3),
}

/// A seat or microphone: name, position, radius of its zone. Meters.
fn receiver(scene: &Scene, index: usize) -> Option<(&str, DVec3, f64)> {
    let seats = scene.seats.len();
    match index.checked_sub(seats) {
        None => scene.seats.get(index).map(|seat| (seat.name.as_str(), seat.ear, seat.zone_radius)),
        Some(index) => scene.microphones.get(index).map(|microphone| (microphone.name.as_str(), microphone.position, RING)),
    }
}

fn spot_of(place: &PanelPlace) -> Spot {
    match place {
        PanelPlace::Surface { surface, left, bottom, .. } => Spot::On(surface.clone(), DVec2::new(*left, *bottom)),
        PanelPlace::Corner { corner, bottom } => Spot::Across(*corner, *bottom),
        PanelPlace::Cloud(cloud) => Spot::At(cloud.center.extend(cloud.underside)),
    }
}

/// Where a thing is.
pub(super) fn spot(scene: &Scene, thing: Thing) -> Option<Spot> {
    Some(match thing {
        Thing::Panel(index) => spot_of(&scene.panels.get(index)?.place),
        Thing::Source(index) => Spot::At(scene.sources.get(index)?.position),
        Thing::Receiver(index) => Spot::At(receiver(scene, index)?.1),
        Thing::Opening(index) => {
            let opening = scene.openings.get(index)?;
            Spot::On(opening.surface.clone(), DVec2::new(opening.place.left, opening.place.bottom))
        }
        Thing::Block(index) => scene.blocks.get(index).map(|block| Spot::At(block.center.extend(block.base)))?,
        Thing::Clearance(index) => match &scene.clearances.get(index)?.region {
            ClearanceRegion::Surface { surface, place } => Spot::On(surface.clone(), DVec2::new(place.left, place.bottom)),
            ClearanceRegion::Space { low, .. } => Spot::At(*low),
        },
    })
}

/// How a panel of this type hangs before it is known where.
pub(super) fn usual_place(kind: &PanelType) -> PanelPlace {
    match kind.kind {
        StockKind::Corner => PanelPlace::Corner { corner: 0, bottom: 0.0 },
        StockKind::Cloud => PanelPlace::Cloud(Cloud::level(DVec2::ZERO, 0.0, false)),
        _ => PanelPlace::Surface { surface: String::new(), left: 0.0, bottom: 0.0, lying: false, gap: kind.gap },
    }
}

/// The same way of hanging elsewhere; `None` where it cannot hang that way.
pub(super) fn placed(before: &PanelPlace, spot: Spot) -> Option<PanelPlace> {
    Some(match (before, spot) {
        (PanelPlace::Surface { lying, gap, .. }, Spot::On(surface, low)) => {
            PanelPlace::Surface { surface, left: low.x, bottom: low.y, lying: *lying, gap: *gap }
        }
        (PanelPlace::Corner { .. }, Spot::Across(corner, bottom)) => PanelPlace::Corner { corner, bottom },
        (PanelPlace::Cloud(cloud), Spot::At(at)) => PanelPlace::Cloud(Cloud { center: at.truncate(), underside: at.z, ..*cloud }),
        _ => return None,
    })
}

/// The command that puts a thing elsewhere.
pub(super) fn moved(scene: &Scene, thing: Thing, to: Spot) -> Option<Command> {
    Some(match (thing, to) {
        (Thing::Panel(panel), to) => Command::MovePanel { panel, place: placed(&scene.panels.get(panel)?.place, to)? },
        (Thing::Source(index), Spot::At(position)) => Command::MoveSource { name: scene.sources.get(index)?.name.clone(), position },
        (Thing::Receiver(index), Spot::At(position)) => Command::MoveReceiver { name: receiver(scene, index)?.0.to_owned(), position },
        (Thing::Opening(index), Spot::On(_, low)) => Command::MoveOpening { name: scene.openings.get(index)?.name.clone(), low },
        (Thing::Block(index), Spot::At(at)) => Command::MoveBlock { name: scene.blocks.get(index)?.name.clone(), center: at.truncate() },
        (Thing::Clearance(index), to) => {
            let clearance = scene.clearances.get(index)?;
            let region = match (&clearance.region, to) {
                (ClearanceRegion::Surface { place, .. }, Spot::On(surface, low)) => {
                    ClearanceRegion::Surface { surface, place: Rectangle { left: low.x, bottom: low.y, ..*place } }
                }
                (ClearanceRegion::Space { low, high }, Spot::At(at)) => ClearanceRegion::Space { low: at, high: *high + (at - *low) },
                _ => return None,
            };
            Command::MoveClearance { name: clearance.name.clone(), region }
        }
        _ => return None,
    })
}

/// The command that removes a thing, or says how.
pub(crate) fn removed(scene: &Scene, thing: Thing) -> Option<Command> {
    Some(match thing {
        Thing::Panel(panel) => Command::RemovePanel(panel),
        Thing::Opening(index) => Command::RemoveThing(ThingKind::Opening, scene.openings.get(index)?.name.clone()),
        Thing::Block(index) => Command::RemoveThing(ThingKind::Block, scene.blocks.get(index)?.name.clone()),
        Thing::Clearance(index) => Command::RemoveThing(ThingKind::Clearance, scene.clearances.get(index)?.name.clone()),
        Thing::Source(_) | Thing::Receiver(_) => {
            Command::Say("Loudspeakers, voices, seats and microphones are removed in the scene text.".to_owned())
        }
    })
}

/// The command that turns a panel upright or lying about its middle, or a cloud by a quarter; its measures on the steps of the tape.
pub(super) fn turned(scene: &Scene, panel: usize) -> Option<Command> {
    let Panel { kind, place } = scene.panels.get(panel)?;
    let kind = scene.stock.iter().find(|stock| stock.name == *kind)?;
    let mut turned = place.clone();
    match &mut turned {
        PanelPlace::Surface { lying, .. } => *lying = !*lying,
        PanelPlace::Cloud(cloud) => {
            // All of it by a quarter; it goes on leaning the way it leans.
            cloud.turned = !cloud.turned;
            cloud.panels.reverse();
        }
        PanelPlace::Corner { .. } => return Some(Command::Say("A panel across a corner is always upright.".to_owned())),
    }
    let shift = 0.5 * (hung_size(kind, place) - hung_size(kind, &turned));
    if let PanelPlace::Surface { left, bottom, .. } = &mut turned {
        let low = super::snap::rounded(DVec2::new(*left, *bottom) + shift, measure_step(scene.unit));
        *left = low.x;
        if !stands(kind.kind) {
            *bottom = low.y;
        }
    }
    Some(Command::MovePanel { panel, place: turned })
}

/// Whether a kind of stock stands on the floor before its wall.
pub(super) fn stands(kind: StockKind) -> bool {
    matches!(kind, StockKind::FreeStanding | StockKind::Bookcase)
}

/// Width and height of what lies on a surface, meters; `None` for what does not.
pub(super) fn size_on_surface(scene: &Scene, thing: Thing) -> Option<DVec2> {
    let size = |place: &Rectangle| DVec2::new(place.width, place.height);
    match thing {
        Thing::Panel(index) => {
            let panel = scene.panels.get(index)?;
            let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
            matches!(panel.place, PanelPlace::Surface { .. }).then(|| hung_size(kind, &panel.place))
        }
        Thing::Opening(index) => scene.openings.get(index).map(|opening| size(&opening.place)),
        Thing::Clearance(index) => match &scene.clearances.get(index)?.region {
            ClearanceRegion::Surface { place, .. } => Some(size(place)),
            ClearanceRegion::Space { .. } => None,
        },
        _ => None,
    }
}

/// Whether a thing may be dragged onto this part of the shell: openings stay on their surface.
pub(super) fn goes_on(scene: &Scene, thing: Thing, kind: Option<&PanelType>, role: Role) -> bool {
    match thing {
        Thing::Clearance(_) => role.is_shell(),
        Thing::Panel(index) => {
            let hung = || scene.panels.get(index).and_then(|panel| scene.stock.iter().find(|kind| kind.name == panel.kind));
            kind.or_else(hung).is_some_and(|kind| body::carries(kind.kind, role))
        }
        _ => false,
    }
}

/// How far a thing on a surface must be moved upward or downward before it is: nothing for panels, far for windows, never for doors and
/// what stands. Meters.
pub(super) fn upward_hold(scene: &Scene, thing: Thing) -> f64 {
    match thing {
        Thing::Opening(index) => match scene.openings.get(index).map(|opening| opening.kind) {
            Some(OpeningKind::Window | OpeningKind::Hatch) => 0.12,
            Some(OpeningKind::Door) | None => f64::INFINITY,
        },
        Thing::Panel(index) => {
            let kind = scene.panels.get(index).and_then(|panel| scene.stock.iter().find(|kind| kind.name == panel.kind));
            if kind.is_some_and(|kind| stands(kind.kind)) { f64::INFINITY } else { 0.0 }
        }
        _ => 0.0,
    }
}

/// A thing's name.
pub(super) fn name(scene: &Scene, thing: Thing) -> Option<String> {
    Some(match thing {
        Thing::Panel(index) => scene.panels.get(index)?.kind.clone(),
        Thing::Source(index) => scene.sources.get(index)?.name.clone(),
        Thing::Receiver(index) => receiver(scene, index)?.0.to_owned(),
        Thing::Opening(index) => scene.openings.get(index)?.name.clone(),
        Thing::Block(index) => scene.blocks.get(index)?.name.clone(),
        Thing::Clearance(index) => format!("{}: stays clear", scene.clearances.get(index)?.name),
    })
}

/// Where a thing is, in words and in the unit of the scene.
pub(super) fn place_words(scene: &Scene, thing: Thing) -> Option<String> {
    let print = |meters: f64| Length(meters).print(scene.unit);
    Some(match spot(scene, thing)? {
        Spot::On(surface, low) => format!("{surface}: {} from the left edge, {} up", print(low.x), print(low.y)),
        Spot::Across(corner, bottom) => {
            let walls = scene.walls.len();
            let name = |wall: usize| scene.walls.get(wall % walls.max(1)).map_or("-", |wall| wall.name.as_str());
            format!("corner of {} and {}: {} up", name(corner + walls - 1), name(corner), print(bottom))
        }
        Spot::At(at) => {
            let words = format!("x {}, y {}, {} over the floor", print(at.x), print(at.y), print(at.z));
            let shape = match thing {
                Thing::Panel(index) => scene.panels.get(index).and_then(|panel| shape_words(scene, panel)),
                _ => None,
            };
            shape.map_or_else(|| words.clone(), |shape| format!("{words}; {shape}"))
        }
    })
}

/// How a cloud leans and what it is made of, in words; `None` of a level one of one panel, and of all else.
pub(crate) fn shape_words(scene: &Scene, panel: &Panel) -> Option<String> {
    let PanelPlace::Cloud(cloud) = &panel.place else { return None };
    let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
    let print = |meters: f64| Length(meters).print(scene.unit);
    let made = (cloud.count() > 1).then(|| format!("{} x {} panels", cloud.panels[0], cloud.panels[1]));
    let leans = cloud.lean(kind).map(|lean| {
        let [low, high] = lean.edges;
        let (along, tilt) = (["x", "y"][lean.axis], cloud.tilt[lean.axis]);
        let way = if tilt > 0.0 { "rises" } else { "falls" };
        format!("{way} {} degrees along {along}, edges at {} and {}", tilt.abs(), print(low), print(high))
    });
    let words: Vec<String> = made.into_iter().chain(leans).collect();
    (!words.is_empty()).then(|| words.join(", "))
}

/// The scene as it would be with a thing elsewhere, right or not, and the thing. `None` if the command moves and adds nothing.
pub(super) fn as_wanted(scene: &Scene, command: &Command) -> Option<(Scene, Thing)> {
    let mut scene = scene.clone();
    let thing = match command {
        Command::AddPanel(panel) => {
            scene.panels.push(panel.clone());
            Thing::Panel(scene.panels.len() - 1)
        }
        Command::MovePanel { panel, place } => {
            scene.panels.get_mut(*panel)?.place = place.clone();
            Thing::Panel(*panel)
        }
        Command::MoveSource { name, position } => {
            let index = scene.sources.iter().position(|source| source.name == *name)?;
            scene.sources[index].position = *position;
            Thing::Source(index)
        }
        Command::MoveReceiver { name, position } => {
            if let Some(index) = scene.seats.iter().position(|seat| seat.name == *name) {
                scene.seats[index].ear = *position;
                Thing::Receiver(index)
            } else {
                let index = scene.microphones.iter().position(|microphone| microphone.name == *name)?;
                scene.microphones[index].position = *position;
                Thing::Receiver(scene.seats.len() + index)
            }
        }
        Command::MoveBlock { name, center } => {
            let index = scene.blocks.iter().position(|block| block.name == *name)?;
            scene.blocks[index].center = *center;
            Thing::Block(index)
        }
        Command::MoveOpening { name, low } => {
            let index = scene.openings.iter().position(|opening| opening.name == *name)?;
            let place = &mut scene.openings[index].place;
            (place.left, place.bottom) = (low.x, low.y);
            Thing::Opening(index)
        }
        Command::MoveClearance { name, region } => {
            let index = scene.clearances.iter().position(|clearance| clearance.name == *name)?;
            scene.clearances[index].region = region.clone();
            Thing::Clearance(index)
        }
        _ => return None,
    };
    Some((scene, thing))
}

fn closed(mut points: Vec<DVec3>) -> Vec<DVec3> {
    points.extend(points.first().copied());
    points
}

/// The edges of an upright prism over a footprint.
fn prism(foot: &[DVec2], base: f64, top: f64) -> Vec<Vec<DVec3>> {
    let foot: Vec<DVec3> = foot.iter().map(|corner| corner.extend(base)).collect();
    raised(&foot, DVec3::Z * (top - base))
}

/// The edges of a prism between a figure and the same farther on.
fn raised(foot: &[DVec3], by: DVec3) -> Vec<Vec<DVec3>> {
    let at = |by: DVec3| closed(foot.iter().map(|corner| *corner + by).collect());
    let sides = foot.iter().map(|corner| vec![*corner, *corner + by]);
    [at(DVec3::ZERO), at(by)].into_iter().chain(sides).collect()
}

/// Lines on the underside of a cloud where its panels meet.
pub(super) fn seams(cloud: &Cloud, kind: &PanelType) -> Vec<[DVec3; 2]> {
    let [a, b, c, d] = cloud.underside_corners(kind);
    let across = |count: u32, from: [DVec3; 2], to: [DVec3; 2]| -> Vec<[DVec3; 2]> {
        let share = move |number: u32| f64::from(number) / f64::from(count);
        (1..count).map(|number| [from[0].lerp(to[0], share(number)), from[1].lerp(to[1], share(number))]).collect()
    };
    let mut seams = across(cloud.panels[0], [a, d], [b, c]);
    seams.extend(across(cloud.panels[1], [a, b], [d, c]));
    seams
}

/// The corners of a block seen from above.
fn footprint(block: &Block) -> [DVec2; 4] {
    let (half, turn) = (0.5 * block.size.truncate(), DVec2::from_angle(block.rotation));
    [DVec2::new(-1.0, -1.0), DVec2::new(1.0, -1.0), DVec2::ONE, DVec2::new(-1.0, 1.0)].map(|sign| block.center + turn.rotate(sign * half))
}

/// A ring round a point, and its way down to the floor.
fn standing(at: DVec3, radius: f64) -> Vec<Vec<DVec3>> {
    const STEPS: i32 = 28;
    let step = |number: i32| DVec2::from_angle(std::f64::consts::TAU * f64::from(number) / f64::from(STEPS)) * radius;
    let ring = (0..STEPS).map(|number| at + step(number).extend(0.0)).collect();
    vec![closed(ring), vec![at.with_z(0.0), at]]
}

fn on_surface(scene: &Scene, surface: &str, place: &Rectangle) -> Vec<Vec<DVec3>> {
    let Some(index) = scene.surface(surface) else { return Vec::new() };
    let chart = scene.chart(index);
    vec![closed(rectangle_corners(place).map(|corner| chart.point(corner)).to_vec())]
}

/// The lines round a thing, wherever it is: in the room or where it could not be.
pub(super) fn outlines(scene: &Scene, room: &Room, thing: Thing) -> Vec<Vec<DVec3>> {
    match thing {
        Thing::Panel(index) => scene.panels.get(index).map_or_else(Vec::new, |panel| panel_outlines(scene, room, panel)),
        Thing::Source(index) => scene.sources.get(index).map_or_else(Vec::new, |source| standing(source.position, RING)),
        Thing::Receiver(index) => receiver(scene, index).map_or_else(Vec::new, |(_, at, radius)| standing(at, radius)),
        Thing::Opening(index) => {
            scene.openings.get(index).map_or_else(Vec::new, |opening| on_surface(scene, &opening.surface, &opening.place))
        }
        Thing::Block(index) => {
            scene.blocks.get(index).map_or_else(Vec::new, |block| prism(&footprint(block), block.base, block.base + block.size.z))
        }
        Thing::Clearance(index) => match scene.clearances.get(index).map(|clearance| &clearance.region) {
            Some(ClearanceRegion::Surface { surface, place }) => on_surface(scene, surface, place),
            Some(ClearanceRegion::Space { low, high }) => {
                let (a, b) = (low.truncate(), high.truncate());
                prism(&[a, DVec2::new(b.x, a.y), b, DVec2::new(a.x, b.y)], low.z, high.z)
            }
            None => Vec::new(),
        },
    }
}

fn panel_outlines(scene: &Scene, room: &Room, panel: &Panel) -> Vec<Vec<DVec3>> {
    if let PanelPlace::Cloud(cloud) = &panel.place {
        let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) else { return Vec::new() };
        let up = cloud.chart().normal * kind.thickness;
        let foot = cloud.underside_corners(kind);
        let seams = seams(cloud, kind).into_iter().map(|ends| ends.to_vec());
        return raised(&foot, up).into_iter().chain(seams).collect();
    }
    // Across a corner it is told once for each wall.
    hung_of(scene, room, panel).into_iter().take(1).map(|hung| closed(hung.front)).collect()
}

/// The middle of what a thing's outline goes round, for a name to stand at.
pub(super) fn middle(scene: &Scene, room: &Room, thing: Thing) -> Option<DVec3> {
    let lines = outlines(scene, room, thing);
    let ring = lines.first()?;
    let corners = &ring[..ring.len().saturating_sub(1).max(1)];
    Some(corners.iter().sum::<DVec3>() / corners.len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stage::samples;

    /// Everything that the attic has, with a flat panel, one across a corner and a cloud.
    fn things(scene: &Scene) -> Vec<Thing> {
        let all = |count: usize, make: fn(usize) -> Thing| (0..count).map(make);
        all(scene.panels.len(), Thing::Panel)
            .chain(all(scene.sources.len(), Thing::Source))
            .chain(all(scene.seats.len() + scene.microphones.len(), Thing::Receiver))
            .chain(all(scene.openings.len(), Thing::Opening))
            .chain(all(scene.blocks.len(), Thing::Block))
            .chain(all(scene.clearances.len(), Thing::Clearance))
            .collect()
    }

    #[test]
    fn keeps_everything_where_it_is_when_it_is_put_there() {
        let (scene, room) = samples::furnished();
        let all = things(&scene);
        assert_eq!(all.len(), 3 + 2 + 2 + 2 + 2 + 4);
        for thing in all {
            let command = moved(&scene, thing, spot(&scene, thing).expect("it is somewhere")).expect("it can be put there");
            assert_eq!(as_wanted(&scene, &command), Some((scene.clone(), thing)), "{command:?}");
            assert!(!outlines(&scene, &room, thing).is_empty() && name(&scene, thing).is_some() && place_words(&scene, thing).is_some());
            assert!(removed(&scene, thing).is_some() && thing.is_in(&scene));
        }
        assert!(!Thing::Panel(3).is_in(&scene) && !Thing::Receiver(2).is_in(&scene));
    }

    #[test]
    fn exact_outline_of_a_box() {
        let (scene, room) = samples::furnished();
        // The swing of the door: [3.3, 0, 0] to [4.1, 0.85, 2].
        let lines = outlines(&scene, &room, Thing::Clearance(0));
        let long: f64 = lines.iter().flat_map(|line| line.windows(2)).map(|ends| ends[0].distance(ends[1])).sum();
        assert!((long - 4.0 * (0.8 + 0.85 + 2.0)).abs() < 1e-9, "{long}");
        assert!(middle(&scene, &room, Thing::Clearance(0)).expect("it has one").distance(DVec3::new(3.7, 0.425, 0.0)) < 1e-9);
    }

    #[test]
    fn exact_turn_about_the_middle() {
        let (scene, _) = samples::furnished();
        // 0.6 x 1.2 m from (1.5, 0.6): its middle is (1.8, 1.2), lying it begins at (1.2, 0.9).
        let Some(Command::MovePanel { panel: 0, place: PanelPlace::Surface { left, bottom, lying: true, .. } }) = turned(&scene, 0) else {
            panic!()
        };
        assert!((left - 1.2).abs() < 1e-9 && (bottom - 0.9).abs() < 1e-9);
        assert!(matches!(turned(&scene, 1), Some(Command::Say(_))));
        let mut scene = scene;
        let PanelPlace::Cloud(cloud) = &mut scene.panels[2].place else { panic!() };
        (cloud.panels, cloud.tilt) = ([2, 1], DVec2::new(5.0, 0.0));
        let quarter = Cloud { turned: !cloud.turned, panels: [1, 2], ..*cloud };
        let Some(Command::MovePanel { place: PanelPlace::Cloud(turned), .. }) = turned(&scene, 2) else { panic!() };
        assert_eq!(turned, quarter, "about its middle, still leaning the same way");
    }
}
