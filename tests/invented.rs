//! A scene, findings and a plan that were never computed: for pages that must hold together whatever the figures are.

use glam::{DVec2, DVec3};
use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, Pattern};
use roomwright::findings::stock::EdgedPanel;
use roomwright::findings::{
    AxialMode, Basis, BendMadeOf, BoundaryDip, DirectSound, EarlyResponse, EdgeArrival, EnergyTime, Estimate, Findings, Flutter, Likeness,
    MadeOf, Octave, Pair, Place, Reflection, Sending, Span, StockPanel, SurfaceArea, Survey, SuspendedPanel, Target, Tracing,
};
use roomwright::plan::{AfterPanels, BassOctave, Curve, Earnings, Figures, HeldBack, HotSpot, Layout, Placed, Plan};
use roomwright::scene::{Activity, AirState, Goals, Microphone, Scene, Seat, Source, SourceKind, Terms, Wall};
use roomwright::settings::Settings;
use roomwright::units::{Length, LengthUnit};

pub(crate) fn scene(unit: LengthUnit) -> Scene {
    let wall = |name: &str| Wall { name: name.to_owned(), material: "plaster".to_owned() };
    Scene {
        name: "Invented room".to_owned(),
        question: Some("Does a page hold together?".to_owned()),
        unit,
        tape_tolerance: Length(0.01),
        activity: Activity::Mixing,
        air: AirState { temperature_c: 20.0, humidity_percent: 50.0, pressure_kpa: 101.325 },
        noise_level: None,
        speech_level: None,
        outline: vec![DVec2::ZERO, DVec2::new(4.4, 0.0), DVec2::new(4.4, 5.2), DVec2::new(0.0, 5.2)],
        walls: ["south", "east", "north", "west"].map(wall).to_vec(),
        floor_material: "boards".to_owned(),
        ceiling: Vec::new(),
        openings: Vec::new(),
        blocks: Vec::new(),
        sources: vec![Source {
            name: "left".to_owned(),
            kind: SourceKind::Loudspeaker,
            position: DVec3::new(1.5, 3.2, 1.2),
            aim: DVec3::NEG_Y,
            directivity: Directivity::Omni,
        }],
        seats: vec![Seat { name: "desk".to_owned(), ear: DVec3::new(2.2, 2.0, 1.2), facing: DVec3::Y, zone_radius: 0.3 }],
        microphones: vec![Microphone {
            name: "microphone".to_owned(),
            position: DVec3::new(1.0, 1.0, 1.3),
            aim: DVec3::Y,
            pattern: Pattern { omni: 0.5 },
        }],
        clearances: Vec::new(),
        panels: Vec::new(),
        stock: Vec::new(),
        materials: Vec::new(),
        goals: Goals::default(),
        making: roomwright::scene::Making::default(),
        settings: Settings::DEFAULT,
    }
}

fn about(value: f64, se: f64) -> Estimate {
    Estimate { value, se }
}

fn sending(name: &str, directivity: &str, radius_m: Option<f64>, aim: Option<[f64; 2]>) -> Sending {
    let limits: &[&str] = match directivity {
        "piston" => &["It has a box that is not modeled."],
        "polar" => &["One arc stands for all.", "8 kHz sends as 4 kHz."],
        _ => &[],
    };
    Sending {
        name: name.to_owned(),
        kind: if directivity == "piston" { "loudspeaker" } else { "instrument" }.to_owned(),
        directivity: directivity.to_owned(),
        radius_m,
        bearing_deg: aim.map(|[bearing, _]| bearing),
        elevation_deg: aim.map(|[_, elevation]| elevation),
        directivity_index_db: Bands::from_fn(|band| if directivity == "omni" { 0.0 } else { 1.7 * band.index() as f64 }),
        limits: limits.iter().map(|&limit| limit.to_owned()).collect(),
    }
}

fn stock_panel(name: &str, made_of: &[&str], cautions: &[&str]) -> StockPanel {
    let words = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect();
    StockPanel {
        name: name.to_owned(),
        made_of: words(made_of),
        depth_m: 0.1,
        absorption: Bands::from_fn(|band| 0.1 + 0.11 * band.index() as f64),
        extrapolated: Bands::from_fn(|band| band.index() == 0),
        edged: cautions.is_empty().then(|| EdgedPanel {
            endless_m2: Bands::from_fn(|band| 0.08 * band.index() as f64),
            alone_m2: Bands::from_fn(|band| 0.1 * band.index() as f64),
            touching_m2: Bands::from_fn(|band| 0.09 * band.index() as f64),
            apart_m2: Bands::from_fn(|band| 0.095 * band.index() as f64),
        }),
        source: "computed from its layers (fiber and foam: Miki)".to_owned(),
        scattering: Bands::splat(0.1),
        scattering_source: "flat things (common practice, no source)".to_owned(),
        high_octaves_absorption_unfaced: (!cautions.is_empty()).then_some(0.93),
        cautions: words(cautions),
    }
}

fn suspended(name: &str, gap_m: Option<f64>) -> SuspendedPanel {
    let areas = |base: f64| Bands::from_fn(|band| base + 0.15 * band.index() as f64);
    SuspendedPanel {
        name: name.to_owned(),
        panels: 2,
        hung: gap_m.is_some(),
        gap_m,
        open_above_hz: gap_m.map(|gap| 121.3 / gap),
        front_m2: areas(0.1),
        back_m2: areas(0.05),
        edges_m2: areas(0.0),
        absorption_m2: areas(0.15),
        flush_m2: areas(0.07),
    }
}

pub(crate) fn survey() -> Survey {
    let row = |name: &str, area_m2: f64, material: &str, base: f64, source: &str| SurfaceArea {
        name: name.to_owned(),
        area_m2,
        material: material.to_owned(),
        absorption: Bands::from_fn(|band| base + 0.01 * band.index() as f64),
        extrapolated: Bands::from_fn(|band| band.index() == 0 || band.index() == 7),
        source: source.to_owned(),
    };
    Survey {
        volume_m3: 48.487,
        floor_area_m2: 22.88,
        surface_area_m2: 84.3,
        height_m: 2.4,
        treated_share: 0.034,
        treated_area_m2: 2.88,
        exposed_area_m2: 4.1,
        schroeder_hz: 217.4,
        axial_modes: vec![
            AxialMode { frequency_hz: 32.98, between: ["south".to_owned(), "north".to_owned()], order: 1 },
            AxialMode { frequency_hz: 65.96, between: ["south".to_owned(), "north".to_owned()], order: 2 },
        ],
        surfaces: vec![
            row("south", 10.56, "plaster on brick", 0.02, "a list of coefficients, transcription read"),
            row("east", 12.48, "plaster on brick", 0.02, "a list of coefficients, transcription read"),
            row(
                "the long sloped facet of the ceiling over the stairs",
                9.1,
                "two layers of gypsum board on battens, filled with mineral wool",
                0.2,
                "the owner's own value",
            ),
            row("floor", 22.88, "boards", 0.1, "another list, from memory"),
        ],
        sources: vec![
            sending("left", "piston", Some(0.065), Some([153.4, -4.6])),
            sending("right", "piston", Some(0.065), Some([206.6, -4.6])),
            sending("the guitar amplifier in the corner", "polar", None, Some([359.7, 0.2])),
            sending("drums", "omni", None, None),
        ],
        stock: vec![
            stock_panel("wall panel", &["open cloth", "50 mm fiber or foam of 12000 Pa s/m2", "50 mm air"], &[]),
            stock_panel(
                "the panel that came wrapped in film",
                &["membrane of 0.2 kg/m2", "100 mm glass fiber, 48 kg/m3, about 24000 Pa s/m2"],
                &["What lies before it turns the high octaves back: of 2 to 8 kHz it absorbs 0.21 on average, without that 0.93."],
            ),
        ],
        suspended: vec![suspended("cloud", None), suspended("cloud 3", Some(0.55))],
        without_place: Vec::new(),
        unsaid: Vec::new(),
    }
}

fn reflection(delay_ms: f64, level_db: f64, ways: &[(&str, f64, f64)], azimuth_deg: f64) -> Reflection {
    let place = |&(surface, left_m, bottom_m): &(&str, f64, f64)| Place { surface: surface.to_owned(), left_m, bottom_m };
    // Half of what is not spreading at each bounce.
    let way = 1.253 + 0.343 * delay_ms;
    let spreading_db = 20.0 * (1.253 / way).log10();
    let bounce = Bands::from_fn(|band| (level_db - 0.3 * band.index() as f64 - spreading_db) / ways.len() as f64);
    let made_of = MadeOf {
        way_m: [way, 1.253],
        spreading_db,
        bounces_db: vec![bounce; ways.len()],
        angles_deg: vec![38.2; ways.len()],
        ..MadeOf::default()
    };
    Reflection {
        delay_ms,
        level_db,
        level_inputs_db: Some(Span { low: level_db - 0.7, high: level_db + 0.6 }),
        level_by_octave_db: Bands::from_fn(|band| level_db - 0.3 * band.index() as f64),
        excess_db: (level_db + 10.0_f64).max(0.0),
        order: ways.len() as u32,
        surfaces: ways.iter().map(|way| way.0.to_owned()).collect(),
        points_m: ways.iter().map(|way| [way.1, 0.0, way.2]).collect(),
        places: ways.iter().map(place).collect(),
        azimuth_deg,
        elevation_deg: -12.4,
        made_of,
        joined_by: Vec::new(),
    }
}

fn early_response(at: &str, higher_db: f64) -> EarlyResponse {
    let dip = |surface: &str, longer_m: f64, alone_db: f64| BoundaryDip {
        surface: surface.to_owned(),
        place: Place { surface: surface.to_owned(), left_m: 1.2, bottom_m: 0.8 },
        longer_m,
        frequency_hz: 343.0 / (2.0 * longer_m),
        alone_db,
        level_db: alone_db + higher_db,
    };
    EarlyResponse {
        at: at.to_owned(),
        position_m: [2.0, 2.4, 1.2],
        frequency_hz: vec![100.0, 200.0, 400.0],
        level_db: vec![-3.1, 2.2, -12.4],
        comb_depth_db: Bands::from_fn(|band| 5.3 + higher_db + 2.0 * band.index() as f64),
        boundary_dips: vec![dip("the long sloped facet of the ceiling over the stairs", 1.45, -4.6), dip("floor", 0.82, -11.2)],
        direct: DirectSound {
            way_m: 1.253,
            arrives_ms: 3.65,
            azimuth_deg: 30.0,
            elevation_deg: -2.0,
            level_by_octave_db: Bands::from_fn(|band| -2.0 - 0.7 * band.index() as f64),
            spreading_db: -1.9,
            air_db: Bands::splat(-0.1),
            source_db: Bands::from_fn(|band| -0.7 * band.index() as f64),
            ..DirectSound::default()
        },
        edges: vec![EdgeArrival {
            faces: ["desk, top".to_owned(), "desk, underside".to_owned()],
            bends: 2,
            points_m: [[2.0, 3.1, 0.74], [2.4, 2.9, 0.74]],
            places: [0.4, 0.8].map(|left_m| Place { surface: "desk, top".to_owned(), left_m, bottom_m: 0.0 }),
            delay_ms: 0.99,
            level_db: -19.4 + higher_db,
            level_by_octave_db: Bands::splat(-19.4),
            azimuth_deg: 12.0,
            elevation_deg: -38.0,
            holds_above_hz: 497.0,
            made_of: BendMadeOf {
                legs_m: [0.7, 0.447, 0.6],
                direct_m: 1.253,
                turns_deg: [38.0, 21.0],
                spreading_db: -2.9,
                bend_db: Bands::splat(-16.1),
                faces_db: Bands::splat(-0.4),
                mirrored_db: [Bands::splat(-0.2), Bands::splat(-0.3)],
                ..BendMadeOf::default()
            },
        }],
        edges_counted: 12,
    }
}

fn pair(source: &str, receiver: &str, t: f64, level_db: f64) -> Pair {
    let octave = |band: Band| {
        let t30 = t * (1.3 - 0.05 * band.index() as f64);
        let inputs = |time: f64| Some(Span { low: 0.81 * time, high: 1.24 * time });
        Octave {
            frequency_hz: band.nominal(),
            basis: if band.index() < 2 { Basis::Statistical } else { Basis::Geometric },
            edt_s: Some(about(0.9 * t30, 0.0061)),
            edt_inputs_s: inputs(0.9 * t30),
            t20_s: Some(about(0.98 * t30, 0.0032)),
            t20_inputs_s: inputs(0.98 * t30),
            t30_s: (band.index() != 7).then(|| about(t30, 0.0041)),
            t30_inputs_s: if band.index() != 7 { inputs(t30) } else { None },
            c50_db: Some(about(3.0 / t30, 0.08)),
            c50_inputs_db: Some(Span { low: 3.0 / t30 - 1.1, high: 3.0 / t30 + 0.9 }),
            c80_db: Some(about(6.0 / t30, 0.11)),
            c80_inputs_db: Some(Span { low: 6.0 / t30 - 1.3, high: 6.0 / t30 + 1.2 }),
            d50: Some(about(0.7, 0.004)),
            ts_ms: Some(about(70.0 * t30, 0.6)),
            g_db: Some(about(18.2, 0.05)),
            effective_sample_share: 0.83,
            note: (band.index() == 7).then(|| "the decay does not reach -35 dB".to_owned()),
        }
    };
    Pair {
        source: source.to_owned(),
        receiver: receiver.to_owned(),
        distance_m: 1.253,
        octaves: Band::ALL.into_iter().map(octave).collect(),
        speech_transmission_index: Some(about(0.71, 0.002)),
        speech_transmission_index_inputs: Some(Span { low: 0.684, high: 0.733 }),
        speech_index_noise_free: true,
        initial_delay_gap_ms: Some(2.31),
        reflections: vec![
            reflection(2.31, level_db, &[("west", 1.425, 1.2)], 41.3),
            reflection(4.07, level_db - 1.5, &[("sloped ceiling", 2.0, 0.615)], 0.2),
            reflection(9.52, level_db - 6.0, &[("east", 0.31, 1.1), ("north", 3.77, 1.05)], -77.0),
        ],
        early_level_db: about(level_db + 2.1, 0.06),
        early_level_inputs_db: Some(Span { low: level_db + 1.6, high: level_db + 2.7 }),
        early_excess_db: 2.0 * (level_db + 9.0_f64).max(0.0),
        at_microphone: false,
        judged: true,
        early_responses: match receiver {
            "microphone" => vec![early_response("microphone", 0.6)],
            _ => vec![early_response("left ear", 0.0), early_response("right ear", 1.4)],
        },
        direct_to_reverberant_db: (receiver == "microphone").then(|| about(4.4, 0.1)),
        comb_depth_db: (receiver == "microphone").then_some(5.7),
        energy_time: EnergyTime { bin_ms: 0.5, level_db: Vec::new(), decay_db: Bands([const { Vec::new() }; 8]), decay_step_ms: 5.0 },
    }
}

pub(crate) fn findings(t: f64, level_db: f64) -> Findings {
    let target = |question: &str, source: &str, low, high, unit: &str, value, verdict: &str| Target {
        question: question.to_owned(),
        source: source.to_owned(),
        low,
        high,
        unit: unit.to_owned(),
        value,
        inputs: value.filter(|_| unit == "s").map(|value: Estimate| Span { low: 0.81 * value.value, high: 1.24 * value.value }),
        verdict: verdict.to_owned(),
    };
    let flutter = |a: &str, b: &str, distance_m: f64, ring: f64| Flutter {
        between: [a.to_owned(), b.to_owned()],
        distance_m,
        period_ms: 5.83 * distance_m,
        t_s: Bands::splat(ring),
        room_t_s: Bands::from_fn(|band| (band.index() > 1).then_some(t)),
        audible: ring > 2.0 * t,
        clap_at_m: [2.2, 2.6, 1.35],
    };
    Findings {
        bass: None,
        survey: survey(),
        pairs: vec![pair("left", "desk", t, level_db), pair("voice", "microphone", t, level_db - 3.0)],
        flutter: vec![flutter("south", "north", 5.2, 0.61), flutter("west", "east", 4.4, 1.42), flutter("floor", "ceiling", 2.4, 0.0)],
        likeness: vec![Likeness {
            left: "left".to_owned(),
            right: "right".to_owned(),
            seat: "desk".to_owned(),
            early_difference_db: Bands([0.0, 0.4, -1.2, 2.6, 3.1, -0.02, 0.04, 1.0]),
            direct_difference_db: Bands::splat(0.0),
        }],
        targets: vec![
            target(
                "reverberation, mean of 250 Hz - 4 kHz",
                "an invented document",
                Some(0.15),
                Some(0.25),
                "s",
                Some(about(t, 0.003)),
                if t > 0.25 { "too high" } else { "met" },
            ),
            target(
                "strongest reflection within 15 ms, 1 - 8 kHz, re direct",
                "an invented document",
                None,
                Some(-10.0),
                "dB",
                Some(about(level_db, 0.0)),
                if level_db > -10.0 { "too high" } else { "met" },
            ),
            target("speech transmission index, without noise", "an invented document", Some(0.6), None, "", None, "not known"),
            target(
                "treated share of floor, walls and ceiling",
                "common practice, no source: a start, not a goal",
                Some(15.0),
                Some(20.0),
                "%",
                Some(about(3.4, 0.0)),
                "less",
            ),
        ],
        tracing: Tracing { rays_per_source: 100_000, rounds: 1, errors_met: true, rays_escaped: 0 },
        notes: vec![
            "The octave of 8 kHz rests on absorption filled by rule, so read its decay as a hint and no more; measure it.".to_owned(),
        ],
    }
}

pub(crate) fn plan() -> Plan {
    let hot_spot = |surface: &str, left_m: f64, bottom_m: f64, level_db: f64| HotSpot {
        center: Place { surface: surface.to_owned(), left_m, bottom_m },
        point_m: [0.0, left_m, bottom_m],
        extent_m: [0.6, 0.9],
        area_m2: 0.5,
        source: "left".to_owned(),
        receiver: "desk".to_owned(),
        delay_ms: 2.31,
        level_db,
        share: 0.412,
    };
    let placed = |number: u32, surface: &str, mount: &str, reason: &str, serves: &str| Placed {
        number,
        kind: "panel 50".to_owned(),
        place: Place { surface: surface.to_owned(), left_m: 1.12, bottom_m: 0.6 },
        size_m: [0.6, 1.2],
        gap_m: Some(0.05),
        underside_m: (mount == "cloud").then_some(2.1),
        mount: mount.to_owned(),
        reason: reason.to_owned(),
        serves: serves.to_owned(),
        earns_early_db: about(1.234 / f64::from(number), 0.021),
        earns_decay_percent: Some(about(-2.51, 0.31)),
        earns: earnings(number),
    };
    let layout = |name: &str, panels: u32, level_db: f64, t: f64| Layout {
        hangs: String::new(),
        name: name.to_owned(),
        panels,
        cost: None,
        treated_share: 0.034 + 0.0085 * f64::from(panels),
        figures: figures(level_db, t),
        faults_steps: Terms {
            speech: None,
            ..Terms::from_fn(|term| Some(about((level_db + 10.0) * (1.0 + 0.7 * term as u8 as f64), 0.06)))
        },
        together_steps: about(28.0 * (level_db + 10.0), 0.31),
        plan_better_steps: about(28.0 * (level_db + 9.3), if name == "plan" { 0.0 } else { 0.27 }),
    };
    Plan {
        hot_spots: vec![hot_spot("west", 1.425, 1.2, -4.2), hot_spot("sloped ceiling", 2.0, 0.615, -5.7)],
        choice: None,
        hung_before: Vec::new(),
        purchase: None,
        held_back: vec![HeldBack {
            number: 2,
            surface: "sloped ceiling".to_owned(),
            why: vec!["the scene names no structural member above it".to_owned()],
        }],
        meanwhile: Some(findings(0.38, -8.1)),
        placed: vec![
            placed(1, "west", "flat", "hot spot", "first bounce from left to desk"),
            placed(2, "sloped ceiling", "cloud", "hot spot", "ceiling bounce from left to desk"),
            with_bass(placed(3, "north", "corner", "corner", "low end, by common practice: its bass is not computed")),
        ],
        left_over: vec![("panel 50".to_owned(), 4), ("panel 100".to_owned(), 0), ("trap".to_owned(), 1)],
        stopped_because: "the next panel would earn less than its error".to_owned(),
        decay_octaves_hz: [500, 4000],
        bass_octaves: vec![BassOctave { frequency_hz: 63, longest_s: Some(0.5) }, BassOctave { frequency_hz: 125, longest_s: None }],
        before: findings(0.52, -4.2),
        after: Findings { survey: Survey { treated_share: 0.06, treated_area_m2: 5.06, ..survey() }, ..findings(0.31, -11.4) },
        weights: Terms { likeness: 0.5, ..Terms::from_fn(|_| 1.0) },
        layouts: vec![
            layout("bare", 0, -2.1, 0.52),
            layout("plan", 3, -9.3, 0.31),
            layout("first reflection points, corners, even spread", 3, -7.7, 0.32),
            layout("even spread", 3, -9.25, 0.30),
        ],
        curve: Some(curve(&[2, 1, 3])),
        notes: vec!["Corner panels stand by common practice: their bass is not computed.".to_owned()],
    }
}

/// A corner panel with what waves tell of it.
fn with_bass(mut panel: Placed) -> Placed {
    panel.earns.last_terms_steps.bass = Some(about(0.4, 0.0));
    panel.earns.decay_octaves_percent[Band::new(0)] = Some(about(2.4, 0.0));
    panel.earns.decay_octaves_percent[Band::new(1)] = Some(about(4.1, 0.3));
    panel
}

/// Invented worth of a panel in the score.
pub(crate) fn earnings(number: u32) -> Earnings {
    let part = 1.0 / f64::from(number);
    Earnings {
        last_steps: about(2.3 * part, 0.11),
        last_terms_steps: Terms {
            reflections: Some(about(1.4 * part, 0.0)),
            decay: Some(about(1.2 * part, 0.1)),
            evenness: Some(about(-0.3 * part, 0.05)),
            flutter: Some(about(0.02, 0.0)),
            ..Terms::default()
        },
        alone_steps: about(9.1 * part, 0.07),
        decay_octaves_percent: Bands::from_fn(|band| {
            (3..7).contains(&band.index()).then(|| about(5.2 * part * band.index() as f64 / 6.0, 0.4))
        }),
    }
}

/// An invented curve of panels in this order, each of which adds half of what the one before it does.
pub(crate) fn curve(order: &[u32]) -> Curve {
    let won = |count: usize| 40.0 * (1.0 - 0.5_f64.powi(count as i32));
    let all = won(order.len());
    let point = |count: usize| AfterPanels {
        panels: count as u32,
        number: count.checked_sub(1).map(|last| order[last]),
        left_steps: about(50.0 - won(count), 0.1),
        adds_steps: (count > 0).then(|| about(won(count) - won(count - 1), 0.12)),
        share_percent: Some(about(100.0 * won(count) / all, if count == order.len() { 0.0 } else { 0.4 })),
    };
    Curve {
        points: (0..=order.len()).map(point).collect(),
        gain_steps: about(all, 0.21),
        last_sum_steps: about(0.3 * all, 0.4),
        alone_sum_steps: about(1.9 * all, 0.3),
        enough_panels: order.len().min(8) as u32,
    }
}

/// Invented figures of a layout with this early level in dB and mean decay in seconds.
pub(crate) fn figures(level_db: f64, t: f64) -> Figures {
    Figures {
        early_level_db: about(level_db, 0.07),
        early_excess_db: (2.0 * (level_db + 8.0)).max(0.0),
        octave_excess_db: Bands::from_fn(|band| if band.index() < 4 { 0.0 } else { (level_db + 8.0).max(0.0) * (8 - band.index()) as f64 }),
        t30_s: Bands::from_fn(|band| (band.index() != 7).then(|| about(t * (1.3 - 0.05 * band.index() as f64), 0.004))),
        t_mid_s: Some(about(t, 0.003)),
        outside_percent: Some(about(100.0 * (t / 0.3 - 1.0).max(0.0), 0.7)),
        unevenness_percent: Some(about(30.0 * t, 0.4)),
        likeness_db: Some(about(0.7, 0.05)),
        speech_c50_db: None,
        ringing_share: Some(0.9 * t),
    }
}
