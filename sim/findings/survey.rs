//! What the room is: sizes, areas by material, treated share, where waves begin to rule, first axial modes, how its sources send, and what its stock is made of.
//!
//! - *Treated share*: one face of each panel, clouds once, over floor, walls and ceiling as built, openings included. The *exposed area* beside it counts
//!   every face of a panel that meets the room's air: fronts, edges as deep as the panel is thick, both sides of clouds and of free-standing panels with air behind, fronts only across corners.
//! - *Schroeder's frequency* `f = 2000 sqrt(T / V)` of the bare room (no panels), `T` the mean of Eyring's estimates at 500 Hz and 1 kHz.
//! - *Directivity index* of a source: what it sends along its axis re the mean over all directions, in dB, by octave.
//! - *Axial modes* `f = n c / (2 L)` between parallel surfaces of the shell that face and see each other; for orientation only.
//!
//! *References.* M. R. Schroeder, K. H. Kuttruff, J. Acoust. Soc. Am. 34 (1962) 76 (the factor 2000 for SI units) (from memory).
//!
//! *Limits.* Axial modes take walls as rigid and infinite; a room that is not a box has others.

use glam::{DVec2, DVec3};

use super::stock::stock;
use super::suspended::suspended;
use super::{AxialMode, Sending, SurfaceArea, Survey};
use crate::absorbers::table::{self, Status};
use crate::bands::Band;
use crate::directivity::Directivity;
use crate::geometry::Polygon;
use crate::hanging::{self, Hanging};
use crate::room::{self, Bodies, Emitter, Role, Room, Surface};
use crate::scene::{Panel, PanelPlace, Scene, StockKind};

/// Axial modes listed for each pair of surfaces.
const MODES_PER_PAIR: u32 = 3;

/// Surfaces face each other if at least this share of the smaller one does, in sight of the other.
const LEAST_FACING_SHARE: f64 = 0.2;

/// Sight is tried from the middles of this many by this many cells of the facing part.
const SIGHT_LINES: u32 = 12;

/// The survey of a scene and the room built from it.
#[must_use]
pub fn survey(scene: &Scene, room: &Room) -> Survey {
    let bare = bare_room(scene);
    let surface_area = bare.shell_area();
    let treated = treated_area(scene);
    Survey {
        volume_m3: room.volume,
        floor_area_m2: Polygon { corners: scene.outline.clone() }.area(),
        surface_area_m2: surface_area,
        height_m: height(scene, room),
        treated_share: treated / surface_area,
        treated_area_m2: treated,
        exposed_area_m2: exposed_area(scene),
        schroeder_hz: schroeder(&bare),
        axial_modes: axial_modes(&bare),
        surfaces: areas(scene, &bare),
        sources: room.sources.iter().map(|source| sending(source, room.medium.speed)).collect(),
        stock: stock(scene),
        suspended: suspended(scene, room),
        without_place: Vec::new(),
        unsaid: unsaid(scene),
    }
}

/// What would be asked of somebody who is about to drill, and the scene does not answer.
fn unsaid(scene: &Scene) -> Vec<String> {
    let mut sentences = Vec::new();
    let is_bare = |name: &&str| scene.making.structure.iter().all(|of| of.surface != **name);
    let walls: Vec<&str> = scene.walls.iter().map(|wall| wall.name.as_str()).filter(is_bare).collect();
    let ceilings: Vec<&str> = scene.ceiling.iter().map(|plane| plane.name.as_str()).filter(is_bare).collect();
    if scene.stock.iter().any(|kind| kind.count > 0) {
        if !walls.is_empty() {
            sentences
                .push(format!("Nothing says what holds behind {}: with [[structure]] sheets show where screws find it.", walls.join(", ")));
        }
        if !ceilings.is_empty() {
            sentences.push(format!(
                "Nothing says what holds behind {}: until a [[structure]] does, what hangs there is planned and not to be hung.",
                ceilings.join(", ")
            ));
        }
    }
    let is_made = |kind: StockKind| matches!(kind, StockKind::Panel | StockKind::Corner | StockKind::Cloud);
    let taken: Vec<String> = scene
        .stock
        .iter()
        .filter(|kind| is_made(kind.kind) && kind.made.is_none())
        .map(|kind| format!("{} is taken as {}", kind.name, kind.construction().word()))
        .collect();
    if !taken.is_empty() {
        sentences.push(format!("The scene does not say how these are made (made): {}.", taken.join(", ")));
    }
    sentences
}

/// Where a source points and how it sends where sound travels at `speed` m/s.
fn sending(source: &Emitter, speed: f64) -> Sending {
    let directivity = &source.directivity;
    let aim = source.axis();
    let level = |aim: DVec3| aim.truncate().length() > 1e-9;
    Sending {
        name: source.name.clone(),
        kind: source.kind.word().to_owned(),
        directivity: directivity.word().to_owned(),
        radius_m: if let Directivity::Piston { radius } = directivity { Some(*radius) } else { None },
        bearing_deg: aim.filter(|&aim| level(aim)).map(|aim| aim.x.atan2(aim.y).to_degrees().rem_euclid(360.0)),
        elevation_deg: aim.map(|aim| aim.z.atan2(aim.truncate().length()).to_degrees()),
        directivity_index_db: directivity.mean_energy(speed).map(|mean| -10.0 * mean.log10() + 0.0),
        limits: directivity.limits(),
    }
}

/// What the directivities leave out or take for granted, a sentence or two each, the sources that it holds for before it.
#[must_use]
pub fn sending_limits(sources: &[Sending]) -> Vec<String> {
    let mut told: Vec<(&[String], Vec<&str>)> = Vec::new();
    for source in sources.iter().filter(|source| !source.limits.is_empty()) {
        match told.iter_mut().find(|(limits, _)| *limits == source.limits.as_slice()) {
            Some((_, names)) => names.push(&source.name),
            None => told.push((&source.limits, vec![&source.name])),
        }
    }
    told.into_iter().map(|(limits, names)| format!("{}: {}", names.join(", "), limits.join(" "))).collect()
}

/// The room of a scene without its panels.
#[must_use]
pub fn bare_room(scene: &Scene) -> Room {
    room::build(&Scene { panels: Vec::new(), ..scene.clone() }, Bodies::Standing)
}

/// Schroeder's frequency in Hz of a room taken as it is, without patches; infinite where nothing absorbs.
#[must_use]
pub fn schroeder(bare: &Room) -> f64 {
    let times = hanging::eyring(bare, &Hanging::default());
    let middle = (times[Band::new(3)] + times[Band::new(4)]) / 2.0;
    2000.0 * (middle / bare.volume).sqrt()
}

/// One face of each panel, m2.
fn treated_area(scene: &Scene) -> f64 {
    let kind = |panel: &Panel| scene.stock.iter().find(|kind| kind.name == panel.kind);
    let faces = scene.panels.iter().filter_map(|panel| Some(f64::from(panel.count()) * kind(panel)?.size.element_product()));
    // A sum over nothing would be minus zero.
    faces.fold(0.0, |sum, face| sum + face)
}

/// Every face of a panel that meets air and is not closed by a frame or a hardener, m2.
fn exposed_area(scene: &Scene) -> f64 {
    if scene.panels.is_empty() {
        return 0.0;
    }
    let room = room::build(scene, Bodies::All);
    let hung = hanging::from_panels(scene, &room, &scene.panels);
    let flat: f64 = hung.patches.iter().map(|patch| patch.region.area()).sum();
    let faces = room.surfaces.iter().enumerate().filter_map(|(index, surface)| {
        let Role::Panel(number) = surface.role else { return None };
        let panel = &scene.panels[number];
        let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
        let named = |face: &str| surface.name.ends_with(face);
        let front = named(", front");
        if !kind.has_open_edges() && named(" edge") {
            return None;
        }
        // The body reaches back to the wall; the panel is only as deep as it is thick.
        let share = match panel.place {
            PanelPlace::Surface { gap, .. } if !front && gap > 0.0 && kind.kind != StockKind::FreeStanding => {
                kind.thickness / (kind.thickness + gap)
            }
            PanelPlace::Corner { .. } if !front => 0.0,
            _ => 1.0,
        };
        Some(room.open_area(index) * share)
    });
    flat + faces.sum::<f64>()
}

/// Clear height over the first seat, from the floor to whatever is above the head; the highest point of the ceiling without a seat.
fn height(scene: &Scene, room: &Room) -> f64 {
    let highest = room.surfaces.iter().filter(|surface| surface.role.is_shell());
    let highest = highest.flat_map(|s| s.outline.corners.iter().map(|&corner| s.chart.point(corner).z)).fold(0.0, f64::max);
    let Some(seat) = scene.seats.first() else { return highest };
    let above = room.surfaces.iter().filter(|surface| surface.chart.normal.z < -1e-9).filter_map(|surface| {
        let rise = surface.chart.height(seat.ear) / -surface.chart.normal.z;
        let foot = seat.ear + DVec3::Z * rise;
        (rise >= 0.0 && surface.outline.contains(surface.chart.position(foot))).then_some(foot.z)
    });
    above.fold(highest, f64::min)
}

/// Where two surfaces face each other: the part of `one` over which `other` lies, and the distance in meters.
fn facing(one: &Surface, other: &Surface) -> Option<(f64, Vec<Polygon>)> {
    if one.chart.normal.dot(other.chart.normal) > -1.0 + 1e-9 {
        return None;
    }
    let distance = one.chart.height(other.chart.origin);
    if distance <= room::CONTACT {
        return None;
    }
    let shadow = other.outline.corners.iter().map(|&corner| one.chart.position(other.chart.point(corner)));
    let common = one.outline.intersection(&Polygon::new(shadow.collect()));
    (!common.is_empty()).then_some((distance, common))
}

/// Area in m2 of that part of the common region from which the other surface is in sight straight across the room.
fn area_in_sight(room: &Room, one: &Surface, distance: f64, common: &[Polygon]) -> f64 {
    let seen = |position: DVec2| {
        let from = one.chart.point(position);
        let to = from + one.chart.normal * distance;
        !room.surfaces.iter().filter(|surface| surface.role.is_shell()).any(|surface| {
            let (a, b) = (surface.chart.height(from), surface.chart.height(to));
            a > room::CONTACT && b < -room::CONTACT && surface.outline.contains(surface.chart.position(from.lerp(to, a / (a - b))))
        })
    };
    let piece_in_sight = |piece: &Polygon| {
        let (low, high) = piece.bounds();
        let cell = (high - low) / f64::from(SIGHT_LINES);
        let middle = |i: u32, j: u32| low + cell * DVec2::new(f64::from(i) + 0.5, f64::from(j) + 0.5);
        let cells = (0..SIGHT_LINES).flat_map(|i| (0..SIGHT_LINES).map(move |j| middle(i, j)));
        let inside: Vec<DVec2> = cells.filter(|&position| piece.winds(position)).collect();
        let count = inside.iter().filter(|&&position| seen(position)).count();
        piece.area() * count as f64 / inside.len().max(1) as f64
    };
    common.iter().map(piece_in_sight).sum()
}

fn axial_modes(bare: &Room) -> Vec<AxialMode> {
    let shell: Vec<&Surface> = bare.surfaces.iter().filter(|surface| surface.role.is_shell()).collect();
    let mut modes: Vec<AxialMode> = Vec::new();
    for (i, one) in shell.iter().enumerate() {
        for other in &shell[i + 1..] {
            let Some((distance, common)) = facing(one, other) else { continue };
            let between = [one.name.clone(), other.name.clone()];
            let least = LEAST_FACING_SHARE * one.outline.area().min(other.outline.area());
            if area_in_sight(bare, one, distance, &common) < least || modes.iter().any(|mode| mode.between == between) {
                continue;
            }
            let lowest = bare.medium.speed / (2.0 * distance);
            modes.extend((1..=MODES_PER_PAIR).map(|order| AxialMode {
                frequency_hz: f64::from(order) * lowest,
                between: between.clone(),
                order,
            }));
        }
    }
    modes.sort_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz));
    modes
}

/// Where the values of a material come from.
#[must_use]
pub fn material_source(scene: &Scene, name: &str) -> String {
    if let Some(material) = scene.materials.iter().find(|material| material.name == name) {
        return material.source.clone();
    }
    table::find(name).map_or_else(String::new, |row| match row.status {
        Status::TranscriptionRead => format!("{} (a transcription was read)", row.source),
        Status::FromMemory => format!("{} (from memory)", row.source),
    })
}

/// Shell surfaces less their openings (the facets of a ceiling plane together), then openings, then blocks.
fn areas(scene: &Scene, bare: &Room) -> Vec<SurfaceArea> {
    let mut shell: Vec<SurfaceArea> = Vec::new();
    let mut openings: Vec<SurfaceArea> = Vec::new();
    let mut blocks: Vec<SurfaceArea> = Vec::new();
    let add = |list: &mut Vec<SurfaceArea>, name: &str, material: &str, finish: usize, area: f64| {
        if let Some(known) = list.iter_mut().find(|known| known.name == name) {
            known.area_m2 += area;
            return;
        }
        let finish = &bare.finishes[finish];
        list.push(SurfaceArea {
            name: name.to_owned(),
            area_m2: area,
            material: material.to_owned(),
            absorption: finish.absorption,
            extrapolated: finish.extrapolated,
            source: material_source(scene, material),
        });
    };
    for (index, surface) in bare.surfaces.iter().enumerate() {
        let material = match surface.role {
            Role::Wall(wall) => &scene.walls[wall].material,
            Role::Floor => &scene.floor_material,
            Role::Ceiling(plane) => &scene.ceiling[plane].material,
            Role::Block(block) => {
                let block = &scene.blocks[block];
                add(&mut blocks, &block.name, &block.material, surface.finish, bare.open_area(index));
                continue;
            }
            Role::Panel(_) | Role::Face(_) => continue,
        };
        add(&mut shell, &surface.name, material, surface.finish, surface.area());
        for lining in &surface.linings {
            let opening = scene.openings.iter().find(|opening| opening.name == lining.name && opening.surface == surface.name);
            let material = opening.map_or("", |opening| opening.material.as_str());
            add(&mut openings, &lining.name, material, lining.finish, lining.region.area());
        }
    }
    shell.into_iter().chain(openings).chain(blocks).collect()
}
