//! An attic by hand, with invented figures: enough of a plan to draw every picture without tracing a ray.

use glam::{DVec2, DVec3};

use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, Pattern};
use roomwright::findings::{
    AxialMode, Basis, EnergyTime, Estimate, Findings, Flutter, Likeness, MadeOf, Octave, Pair, Place, Reflection, Span, SurfaceArea,
    Survey, Target, Tracing,
};
use roomwright::plan::{HotSpot, Layout, Placed, Plan, PlanPictures, SurfaceMap};
use roomwright::room::{Bodies, Room, build};
use roomwright::scene::{
    Activity, AirState, AngleLaw, Block, CeilingPlane, Clearance, ClearanceRegion, Cloud, Core, Goals, Microphone, Opening, OpeningKind,
    Panel, PanelPlace, PanelType, Rectangle, Scene, Seat, Source, SourceKind, StockKind, Terms, UserMaterial, Wall,
};
use roomwright::settings::Settings;
use roomwright::units::{Length, LengthUnit};

use crate::invented::{curve, earnings, figures};

/// Width (x), depth (y), knee wall, where the slope ends, ridge height; meters.
const SIZE: [f64; 5] = [4.4, 5.2, 1.1, 1.9, 2.4];

fn rectangle(left: f64, bottom: f64, width: f64, height: f64) -> Rectangle {
    Rectangle { left, bottom, width, height }
}

/// The scene, in this unit.
pub(super) fn scene(unit: LengthUnit) -> Scene {
    let [w, d, knee, run, top] = SIZE;
    let wall = |name: &str| Wall { name: name.to_owned(), material: "plasterboard".to_owned() };
    let kind = |name: &str, kind, size: [f64; 2], thickness, gap, count, mass| PanelType {
        made: None,
        fixing: None,
        name: name.to_owned(),
        kind,
        size: DVec2::from_array(size),
        thickness,
        core: Core::porous(12_000.0),
        facing: None,
        gap,
        other_gaps: Vec::new(),
        count,
        instead_of: None,
        price: None,
        drill: None,
        mass: Some(mass),
        scattering: None,
        least_distance: 0.0,
    };
    Scene {
        name: "attic voice room".to_owned(),
        question: Some("Which panels quiet an attic enough for a voice?".to_owned()),
        unit,
        tape_tolerance: Length(0.01),
        activity: Activity::Voice,
        air: AirState { temperature_c: 20.0, humidity_percent: 45.0, pressure_kpa: 101.325 },
        noise_level: None,
        speech_level: None,
        outline: vec![DVec2::ZERO, DVec2::new(w, 0.0), DVec2::new(w, d), DVec2::new(0.0, d)],
        walls: vec![wall("south"), wall("east"), wall("north"), wall("knee wall")],
        floor_material: "wood".to_owned(),
        ceiling: vec![
            CeilingPlane {
                name: "slope".to_owned(),
                material: "plasterboard".to_owned(),
                height: knee,
                slope: DVec2::new((top - knee) / run, 0.0),
            },
            CeilingPlane { name: "ceiling".to_owned(), material: "plasterboard".to_owned(), height: top, slope: DVec2::ZERO },
        ],
        openings: vec![
            Opening {
                name: "door".to_owned(),
                kind: OpeningKind::Door,
                surface: "south".to_owned(),
                place: rectangle(0.7, 0.0, 0.8, 2.0),
                material: "door".to_owned(),
            },
            Opening {
                name: "window".to_owned(),
                kind: OpeningKind::Window,
                surface: "north".to_owned(),
                place: rectangle(2.2, 0.9, 1.2, 1.1),
                material: "glass".to_owned(),
            },
        ],
        blocks: vec![
            Block {
                name: "desk".to_owned(),
                center: DVec2::new(2.6, 4.75),
                base: 0.68,
                size: DVec3::new(1.5, 0.7, 0.04),
                rotation: 0.0,
                material: "wood".to_owned(),
                scattering: None,
            },
            Block {
                name: "shelf".to_owned(),
                center: DVec2::new(4.25, 1.0),
                base: 0.0,
                size: DVec3::new(0.3, 0.8, 1.2),
                rotation: 0.0,
                material: "wood".to_owned(),
                scattering: None,
            },
        ],
        sources: [("left loudspeaker", 2.0), ("right loudspeaker", 3.2)]
            .map(|(name, x)| Source {
                name: name.to_owned(),
                kind: SourceKind::Loudspeaker,
                position: DVec3::new(x, 4.6, 1.15),
                aim: -DVec3::Y,
                directivity: Directivity::Piston { radius: 0.065 },
            })
            .to_vec(),
        seats: vec![Seat { name: "seat".to_owned(), ear: DVec3::new(2.6, 3.4, 1.2), facing: DVec3::Y, zone_radius: 0.3 }],
        microphones: vec![Microphone {
            name: "microphone".to_owned(),
            position: DVec3::new(2.6, 2.0, 1.4),
            aim: DVec3::Y,
            pattern: Pattern { omni: 0.5 },
        }],
        clearances: vec![
            Clearance {
                name: "socket".to_owned(),
                region: ClearanceRegion::Surface { surface: "east".to_owned(), place: rectangle(2.9, 0.3, 0.1, 0.1) },
            },
            Clearance {
                name: "door swing".to_owned(),
                region: ClearanceRegion::Space { low: DVec3::new(2.9, 0.0, 0.0), high: DVec3::new(3.7, 0.9, 2.0) },
            },
            Clearance {
                name: "lamp".to_owned(),
                region: ClearanceRegion::Surface { surface: "ceiling".to_owned(), place: rectangle(1.1, 2.5, 0.3, 0.3) },
            },
        ],
        panels: vec![Panel { kind: "flat 50".to_owned(), place: on("south", 2.6, 0.6, false, 0.0) }],
        stock: vec![
            kind("flat 50", StockKind::Panel, [0.6, 1.2], 0.05, 0.0, 8, 3.4),
            kind("deep 100", StockKind::Panel, [0.6, 1.2], 0.1, 0.05, 4, 5.6),
            kind("corner stack", StockKind::Corner, [0.6, 1.2], 0.1, 0.0, 2, 6.1),
            kind("cloud 80", StockKind::Cloud, [1.2, 1.8], 0.08, 0.0, 1, 9.5),
        ],
        materials: ["plasterboard", "wood", "door", "glass"]
            .map(|name| UserMaterial {
                name: name.to_owned(),
                absorption: Bands::splat(Some(0.1)),
                scattering: Bands::splat(0.1),
                law: AngleLaw::LocalReaction,
                moves_like: String::new(),
                source: "invented".to_owned(),
            })
            .to_vec(),
        goals: Goals::default(),
        making: roomwright::scene::Making::default(),
        settings: Settings::DEFAULT,
    }
}

fn on(surface: &str, left: f64, bottom: f64, lying: bool, gap: f64) -> PanelPlace {
    PanelPlace::Surface { surface: surface.to_owned(), left, bottom, lying, gap }
}

/// The room of that scene.
pub(super) fn room(scene: &Scene) -> Room {
    build(scene, Bodies::Standing)
}

fn about(value: f64, se: f64) -> Estimate {
    Estimate { value, se }
}

/// Mirror point of a source on a surface, on its way to a receiver.
fn mirror_point(room: &Room, surface: usize, source: usize, receiver: usize) -> DVec3 {
    let chart = room.surfaces[surface].chart;
    let (image, ear) = (chart.mirror(room.sources[source].position), room.receivers[receiver].position);
    let (a, b) = (chart.height(image).abs(), chart.height(ear));
    image + (ear - image) * (a / (a + b))
}

fn place(room: &Room, surface: usize, point: DVec3) -> Place {
    let position = room.surfaces[surface].chart.position(point);
    Place { surface: room.surfaces[surface].name.clone(), left_m: position.x, bottom_m: position.y }
}

/// Findings of a room whose decay takes `t` seconds at mid frequencies and whose reflections are `down` dB weaker than bare.
pub(super) fn findings(room: &Room, t: f64, down: f64) -> Findings {
    let pairs = (0..2).flat_map(|source| (0..2).map(move |receiver| pair(room, source, receiver, t, down))).collect();
    let surfaces = room
        .surfaces
        .iter()
        .map(|surface| SurfaceArea {
            name: surface.name.clone(),
            area_m2: 10.0,
            material: "plasterboard".to_owned(),
            absorption: Bands::splat(0.1),
            extrapolated: Bands::splat(false),
            source: "invented".to_owned(),
        })
        .collect();
    Findings {
        bass: None,
        survey: Survey {
            volume_m3: room.volume,
            floor_area_m2: 22.88,
            surface_area_m2: 87.6,
            height_m: 2.4,
            treated_share: if down > 0.0 { 0.14 } else { 0.008 },
            treated_area_m2: if down > 0.0 { 12.2 } else { 0.72 },
            exposed_area_m2: if down > 0.0 { 15.1 } else { 0.9 },
            schroeder_hz: 214.0,
            axial_modes: vec![AxialMode { frequency_hz: 33.0, between: ["south".to_owned(), "north".to_owned()], order: 1 }],
            surfaces,
            sources: Vec::new(),
            stock: Vec::new(),
            suspended: Vec::new(),
            without_place: Vec::new(),
            unsaid: Vec::new(),
        },
        pairs,
        flutter: vec![Flutter {
            between: ["south".to_owned(), "north".to_owned()],
            distance_m: 5.2,
            period_ms: 30.3,
            t_s: Bands::splat(1.1),
            room_t_s: Bands::splat(Some(t)),
            audible: down <= 0.0,
            clap_at_m: [3.0, 2.6, 1.5],
        }],
        likeness: vec![Likeness {
            left: "left loudspeaker".to_owned(),
            right: "right loudspeaker".to_owned(),
            seat: "seat".to_owned(),
            early_difference_db: Bands::splat(1.4),
            direct_difference_db: Bands::splat(0.1),
        }],
        targets: vec![
            target("reverberation, mean of 250 Hz - 4 kHz", Some(0.15), Some(0.3), "s", t, "common practice, no source"),
            target("strongest early reflection", None, Some(-10.0), "dB", -4.2 - down, "published listening-room recommendation"),
        ],
        tracing: Tracing { rays_per_source: 100_000, rounds: 1, errors_met: true, rays_escaped: 0 },
        notes: vec!["Bands below 214 Hz are a statistical reading: waves rule there.".to_owned()],
    }
}

/// An invented range of a decay time because of what went in.
fn doubted(time: f64) -> Span {
    Span { low: 0.84 * time, high: 1.22 * time }
}

fn target(question: &str, low: Option<f64>, high: Option<f64>, unit: &str, value: f64, source: &str) -> Target {
    let verdict = if high.is_some_and(|high| value > high) { "too high" } else { "met" };
    Target {
        question: question.to_owned(),
        source: source.to_owned(),
        low,
        high,
        unit: unit.to_owned(),
        value: Some(about(value, 0.01)),
        inputs: (unit == "s").then(|| doubted(value)),
        verdict: verdict.to_owned(),
    }
}

fn pair(room: &Room, source: usize, receiver: usize, t: f64, down: f64) -> Pair {
    let (from, to) = (room.sources[source].position, room.receivers[receiver].position);
    let direct = from.distance(to);
    let mut reflections: Vec<Reflection> = [1, 2, 3, 4, 5, 6]
        .into_iter()
        .map(|surface| {
            let point = mirror_point(room, surface, source, receiver);
            let length = from.distance(point) + point.distance(to);
            let level = 20.0 * (direct / length).log10() - 1.0 - down;
            Reflection {
                delay_ms: (length - direct) / 0.3432,
                level_db: level,
                level_inputs_db: Some(Span { low: level - 0.7, high: level + 0.6 }),
                level_by_octave_db: Bands::splat(level),
                excess_db: (level + 10.0).max(0.0),
                order: 1,
                surfaces: vec![room.surfaces[surface].name.clone()],
                points_m: vec![point.to_array()],
                places: vec![place(room, surface, point)],
                azimuth_deg: 30.0,
                elevation_deg: 0.0,
                made_of: MadeOf::default(),
                joined_by: Vec::new(),
            }
        })
        .collect();
    reflections.sort_by(|a, b| a.delay_ms.total_cmp(&b.delay_ms));
    let bin_ms = 0.5;
    let mut level_db: Vec<f64> =
        (0..400).map(|bin| -18.0 - down - 60.0 * f64::from(bin) * bin_ms / 1000.0 / t + 2.0 * (f64::from(bin) * 1.7).sin()).collect();
    level_db[0] = 0.0;
    level_db[1] = -120.0;
    for reflection in &reflections {
        let bin = (reflection.delay_ms / bin_ms) as usize;
        level_db[bin] = level_db[bin].max(reflection.level_db);
    }
    let slower = |band: Band| if band.index() < 2 { 1.6 } else { 1.0 };
    Pair {
        source: room.sources[source].name.clone(),
        receiver: room.receivers[receiver].name.clone(),
        distance_m: direct,
        octaves: Band::ALL
            .iter()
            .map(|band| Octave {
                frequency_hz: band.nominal(),
                basis: if band.index() < 2 { Basis::Statistical } else { Basis::Geometric },
                edt_s: Some(about(0.9 * t, 0.01)),
                edt_inputs_s: Some(doubted(0.9 * t)),
                t20_s: Some(about(t * slower(*band), 0.01)),
                t20_inputs_s: Some(doubted(t * slower(*band))),
                t30_s: (band.index() != 7).then(|| about(t * slower(*band), 0.02)),
                t30_inputs_s: (band.index() != 7).then(|| doubted(t * slower(*band))),
                c50_db: Some(about(9.0, 0.1)),
                c50_inputs_db: Some(Span { low: 8.1, high: 9.8 }),
                c80_db: Some(about(14.0, 0.1)),
                c80_inputs_db: Some(Span { low: 12.7, high: 15.2 }),
                d50: Some(about(0.88, 0.01)),
                ts_ms: Some(about(22.0, 0.2)),
                g_db: Some(about(17.0, 0.1)),
                effective_sample_share: 0.8,
                note: (band.index() == 7).then(|| "the decay does not reach -35 dB".to_owned()),
            })
            .collect(),
        speech_transmission_index: Some(about(0.78, 0.002)),
        speech_transmission_index_inputs: Some(Span { low: 0.75, high: 0.80 }),
        speech_index_noise_free: true,
        initial_delay_gap_ms: Some(reflections[0].delay_ms),
        reflections,
        early_level_db: about(-1.2 - down, 0.1),
        early_level_inputs_db: Some(Span { low: -1.7 - down, high: -0.6 - down }),
        early_excess_db: (14.0 - down).max(0.0),
        at_microphone: false,
        judged: true,
        early_responses: Vec::new(),
        direct_to_reverberant_db: (receiver == 1).then(|| about(1.2 + down, 0.1)),
        comb_depth_db: (receiver == 1).then_some(7.0),
        energy_time: EnergyTime {
            bin_ms,
            level_db,
            decay_db: Bands::from_fn(|band| (0..60).map(|step| -60.0 * f64::from(step) * 0.005 / (t * slower(band))).collect()),
            decay_step_ms: 5.0,
        },
    }
}

/// The plan, with invented earnings.
pub(super) fn plan(scene: &Scene, room: &Room) -> (Plan, PlanPictures) {
    let hung = [
        ("flat 50", on("east", 0.9, 0.55, false, 0.0), "hot spot"),
        ("flat 50", on("east", 1.6, 0.55, false, 0.0), "hot spot"),
        ("deep 100", on("slope", 3.4, 0.7, false, 0.05), "hot spot"),
        ("deep 100", on("slope", 4.1, 0.7, false, 0.05), "hot spot"),
        ("cloud 80", PanelPlace::Cloud(Cloud::level(DVec2::new(2.9, 3.9), 2.15, true)), "hot spot"),
        ("corner stack", PanelPlace::Corner { corner: 2, bottom: 0.2 }, "corner"),
        ("corner stack", PanelPlace::Corner { corner: 1, bottom: 0.2 }, "corner"),
        ("flat 50", on("north", 0.5, 0.15, true, 0.0), "decay"),
        ("flat 50", on("south", 1.9, 0.6, false, 0.0), "decay"),
    ];
    let panels: Vec<Panel> = scene
        .panels
        .iter()
        .cloned()
        .chain(hung.iter().map(|(kind, place, _)| Panel { kind: (*kind).to_owned(), place: place.clone() }))
        .collect();
    let placed = hung
        .iter()
        .enumerate()
        .map(|(index, (kind, at, reason))| {
            let size = scene.stock.iter().find(|stock| stock.name == *kind).expect("hung from stock").size;
            let (surface, left, bottom, mount, size) = match at {
                PanelPlace::Surface { surface, left, bottom, lying, .. } => {
                    (surface.clone(), *left, *bottom, "flat", if *lying { [size.y, size.x] } else { [size.x, size.y] })
                }
                PanelPlace::Corner { corner, bottom } => (scene.walls[*corner].name.clone(), 4.776, *bottom, "corner", size.to_array()),
                PanelPlace::Cloud(_) => ("ceiling".to_owned(), 0.4, 0.4, "cloud", size.to_array()),
            };
            Placed {
                number: index as u32 + 1,
                kind: (*kind).to_owned(),
                place: Place { surface, left_m: left, bottom_m: bottom },
                size_m: size,
                gap_m: (mount == "flat").then_some(0.05),
                underside_m: (mount == "cloud").then_some(2.1),
                mount: mount.to_owned(),
                reason: (*reason).to_owned(),
                serves: "left loudspeaker at seat".to_owned(),
                earns_early_db: about(2.4 / (index as f64 + 1.0), 0.05),
                earns_decay_percent: Some(about(4.0 - 0.3 * index as f64, 0.4)),
                earns: earnings(index as u32 + 1),
            }
        })
        .collect();
    let hot_spots = hot_spots(room);
    let shell = || (0..room.surfaces.len()).filter(|index| room.surfaces[*index].role.is_shell());
    let maps = |peak: f64| shell().map(|index| map(room, index, &hot_spots, peak)).collect::<Vec<_>>();
    // Two rules of thumb that hang the same pieces but the first, and but the last.
    let layouts = vec![scene.panels.clone(), panels.clone(), panels[1..].to_vec(), panels[..panels.len() - 1].to_vec()];
    let pictures = PlanPictures { earning: maps(4.2), early: maps(6.5), clarity: maps(0.4), late: maps(3.1), panels, layouts };
    let layout = |name: &str, panels: u32, early: f64, t: f64| Layout {
        hangs: String::new(),
        name: name.to_owned(),
        panels,
        cost: None,
        treated_share: 0.012 * f64::from(panels),
        figures: figures(early, t),
        faults_steps: Terms { speech: None, bass: None, ..Terms::from_fn(|_| Some(about(2.0 * (early + 10.0), 0.1))) },
        together_steps: about(12.0 * (early + 10.0), 0.3),
        plan_better_steps: about(12.0 * (early + 8.9), 0.3),
    };
    let layouts = vec![
        layout("bare", 0, -1.2, 0.61),
        layout("plan", 9, -8.9, 0.27),
        layout("first reflection points, corners, even spread", 9, -6.1, 0.29),
        layout("even spread", 9, -3.9, 0.31),
    ];
    let plan = Plan {
        hot_spots,
        choice: None,
        hung_before: Vec::new(),
        purchase: None,
        placed,
        held_back: Vec::new(),
        meanwhile: None,
        left_over: vec![("flat 50".to_owned(), 4), ("deep 100".to_owned(), 2)],
        stopped_because: "the next panel would earn less than its error".to_owned(),
        decay_octaves_hz: [500, 4000],
        bass_octaves: Vec::new(),
        before: findings(room, 0.61, 0.0),
        after: findings(room, 0.27, 7.7),
        weights: Terms::from_fn(|_| 1.0),
        layouts,
        curve: Some(curve(&[5, 3, 1, 4, 2, 8, 6, 7, 9])),
        notes: vec!["Corner panels stand by common practice: their bass is not computed.".to_owned()],
    };
    (plan, pictures)
}

fn hot_spots(room: &Room) -> Vec<HotSpot> {
    let mut spots = Vec::new();
    for surface in [1, 2, 5, 6, 4] {
        for source in 0..2 {
            let point = mirror_point(room, surface, source, 0);
            spots.push(HotSpot {
                center: place(room, surface, point),
                point_m: point.to_array(),
                extent_m: [0.5, 0.6],
                area_m2: 0.24,
                source: room.sources[source].name.clone(),
                receiver: "seat".to_owned(),
                delay_ms: 3.9 + 0.7 * surface as f64,
                level_db: -4.0 - surface as f64,
                share: 0.2 / surface as f64,
            });
        }
    }
    spots
}

fn map(room: &Room, surface: usize, spots: &[HotSpot], peak: f64) -> SurfaceMap {
    let outline = &room.surfaces[surface].outline;
    let high = outline.corners.iter().copied().reduce(DVec2::max).expect("an outline has corners");
    let patch = 0.1;
    let (columns, rows) = ((high.x / patch).ceil() as usize, (high.y / patch).ceil() as usize);
    let values: Vec<f64> = (0..rows * columns)
        .map(|index| {
            let position = patch * (DVec2::new((index % columns) as f64, (index / columns) as f64) + 0.5);
            if !outline.contains(position) {
                return f64::NAN;
            }
            let name = &room.surfaces[surface].name;
            let near = |spot: &HotSpot| {
                let offset = position - DVec2::new(spot.center.left_m, spot.center.bottom_m);
                peak * 3.0 * spot.share.min(0.3) * (-offset.length_squared() / 0.15).exp()
            };
            0.1 + spots.iter().filter(|spot| spot.center.surface == *name).map(near).sum::<f64>()
        })
        .collect();
    SurfaceMap { surface, patch_m: patch, origin: DVec2::ZERO, columns, rows, errors: vec![0.0; values.len()], values }
}
