//! What the command line prints: snapshots of invented findings and plans, and that every page keeps its columns.

use expect_test::{Expect, expect};
use glam::{DVec2, DVec3};
use roomwright::bands::{Band, Bands};
use roomwright::directivity::Pattern;
use roomwright::findings::{
    AxialMode, Basis, EnergyTime, Estimate, Findings, Flutter, Likeness, Octave, Pair, Place, Reflection, Survey, SurfaceArea, Target,
};
use roomwright::plan::{HotSpot, Layout, Placed, Plan};
use roomwright::report::text;
use roomwright::scene::{Activity, AirState, Microphone, Scene, Seat, Wall};
use roomwright::settings::Settings;
use roomwright::units::{Length, LengthUnit};

fn scene(unit: LengthUnit) -> Scene {
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
        sources: Vec::new(),
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
        settings: Settings::DEFAULT,
    }
}

fn about(value: f64, se: f64) -> Estimate {
    Estimate { value, se }
}

fn survey() -> Survey {
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
    }
}

fn reflection(delay_ms: f64, level_db: f64, ways: &[(&str, f64, f64)], azimuth_deg: f64) -> Reflection {
    let place = |&(surface, left_m, bottom_m): &(&str, f64, f64)| Place { surface: surface.to_owned(), left_m, bottom_m };
    Reflection {
        delay_ms,
        level_db,
        level_by_octave_db: Bands::from_fn(|band| level_db - 0.3 * band.index() as f64),
        excess_db: (level_db + 10.0_f64).max(0.0),
        order: ways.len() as u32,
        surfaces: ways.iter().map(|way| way.0.to_owned()).collect(),
        points_m: ways.iter().map(|way| [way.1, 0.0, way.2]).collect(),
        places: ways.iter().map(place).collect(),
        azimuth_deg,
        elevation_deg: -12.4,
    }
}

fn pair(source: &str, receiver: &str, t: f64, level_db: f64) -> Pair {
    let octave = |band: Band| {
        let t30 = t * (1.3 - 0.05 * band.index() as f64);
        Octave {
            frequency_hz: band.nominal(),
            basis: if band.index() < 2 { Basis::Statistical } else { Basis::Geometric },
            edt_s: Some(about(0.9 * t30, 0.0061)),
            t20_s: Some(about(0.98 * t30, 0.0032)),
            t30_s: (band.index() != 7).then(|| about(t30, 0.0041)),
            c50_db: Some(about(3.0 / t30, 0.08)),
            c80_db: Some(about(6.0 / t30, 0.11)),
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
        speech_index_noise_free: true,
        initial_delay_gap_ms: Some(2.31),
        reflections: vec![
            reflection(2.31, level_db, &[("west", 1.425, 1.2)], 41.3),
            reflection(4.07, level_db - 1.5, &[("sloped ceiling", 2.0, 0.615)], 0.2),
            reflection(9.52, level_db - 6.0, &[("east", 0.31, 1.1), ("north", 3.77, 1.05)], -77.0),
        ],
        early_level_db: about(level_db + 2.1, 0.06),
        early_excess_db: 2.0 * (level_db + 9.0_f64).max(0.0),
        direct_to_reverberant_db: (receiver == "microphone").then(|| about(4.4, 0.1)),
        comb_depth_db: (receiver == "microphone").then_some(5.7),
        energy_time: EnergyTime { bin_ms: 0.5, level_db: Vec::new(), decay_db: Bands([const { Vec::new() }; 8]), decay_step_ms: 5.0 },
    }
}

fn findings(t: f64, level_db: f64) -> Findings {
    let target = |question: &str, source: &str, low, high, unit: &str, value, verdict: &str| Target {
        question: question.to_owned(),
        source: source.to_owned(),
        low,
        high,
        unit: unit.to_owned(),
        value,
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
                "too low",
            ),
        ],
        notes: vec!["The octave of 8 kHz rests on absorption filled by rule, so read its decay as a hint and no more; measure it.".to_owned()],
    }
}

fn plan() -> Plan {
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
        mount: mount.to_owned(),
        reason: reason.to_owned(),
        serves: serves.to_owned(),
        earns_early_db: about(1.234 / f64::from(number), 0.021),
        earns_decay_percent: about(-2.51, 0.31),
    };
    let layout = |name: &str, panels: u32, level_db: f64, t: f64| Layout {
        name: name.to_owned(),
        panels,
        treated_share: 0.034 + 0.0085 * f64::from(panels),
        early_level_db: about(level_db, 0.07),
        early_excess_db: (2.0 * (level_db + 8.0)).max(0.0),
        t30_s: Bands::from_fn(|band| (band.index() != 7).then(|| about(t * (1.3 - 0.05 * band.index() as f64), 0.004))),
        t_mid_s: Some(about(t, 0.003)),
    };
    Plan {
        hot_spots: vec![hot_spot("west", 1.425, 1.2, -4.2), hot_spot("sloped ceiling", 2.0, 0.615, -5.7)],
        placed: vec![
            placed(1, "west", "flat", "hot spot", "first bounce from left to desk"),
            placed(2, "sloped ceiling", "cloud", "hot spot", "ceiling bounce from left to desk"),
            placed(3, "north", "corner", "corner", "bass, by common practice; not computed"),
        ],
        left_over: vec![("panel 50".to_owned(), 4), ("panel 100".to_owned(), 0), ("trap".to_owned(), 1)],
        stopped_because: "the next panel would earn less than its error".to_owned(),
        before: findings(0.52, -4.2),
        after: Findings { survey: Survey { treated_share: 0.06, treated_area_m2: 5.06, ..survey() }, ..findings(0.31, -11.4) },
        layouts: vec![
            layout("bare", 0, -2.1, 0.52),
            layout("plan", 3, -9.3, 0.31),
            layout("first reflection points, corners, even spread", 3, -7.7, 0.32),
            layout("even spread", 3, -9.25, 0.30),
        ],
        notes: vec!["Corner panels stand by common practice: the bass is not computed yet.".to_owned()],
    }
}

fn check(page: &str, expected: &Expect) {
    keeps_its_columns(page);
    expected.assert_eq(page);
}

/// No line is wider than 100 columns or ends in spaces, all is ASCII, and in a table every cell stays under its rule.
fn keeps_its_columns(page: &str) {
    let lines: Vec<&str> = page.lines().collect();
    for line in &lines {
        assert!(line.chars().count() <= 100, "{} columns: {line}", line.chars().count());
        assert!(line.is_ascii() && !line.ends_with(' '), "{line:?}");
    }
    let is_rule = |line: &&str| line.starts_with("  -") && line.contains("---") && line.chars().all(|c| c == '-' || c == ' ');
    for (index, rule) in lines.iter().enumerate().filter(|(_, line)| is_rule(line)) {
        // A column begins and ends where its dashes do; between two columns only spaces may stand, in the head and every row.
        let gaps: Vec<usize> = rule.char_indices().filter(|(_, c)| *c == ' ').map(|(column, _)| column).collect();
        let head = std::iter::once(lines[index - 1]);
        let rows = lines[index + 1..].iter().copied().take_while(|line| !line.is_empty());
        // A paragraph or another table may follow at once: stop where the next head stands over its own rule.
        let rows = rows.take_while(|line| line.starts_with("  ")).enumerate();
        let end = rows.map(|(row, _)| row).find(|row| lines.get(index + 2 + row).is_some_and(is_rule)).unwrap_or(usize::MAX);
        let rows = lines[index + 1..].iter().copied().take_while(|line| !line.is_empty()).enumerate();
        let rows = rows.take_while(|(row, line)| *row < end && !is_prose(line)).map(|(_, line)| line);
        for line in head.chain(rows) {
            for &gap in &gaps {
                assert!(line.as_bytes().get(gap).is_none_or(|&byte| byte == b' '), "column {gap} is no gap:\n{rule}\n{line}");
            }
        }
    }
}

/// Lines under a table that are no row of it: sentences, which begin with a word and a single space after it.
fn is_prose(line: &str) -> bool {
    !line.trim().contains("  ") && line.trim().split(' ').count() > 4
}

#[test]
fn locked_survey_page() {
    // Kept so that a change of the page is seen in the difference; the figures are invented.
    check(&text::survey(&scene(LengthUnit::Meter), &survey()), &expect![[r#"
        Invented room: what the room is
        ===============================
          Does a page hold together?

        Size
          what                   how much                remark
          ---------------------  ----------------------  -------------------------------------------
          use                    mixing on loudspeakers  decides the targets
          floor                  22.88 m2
          height                 2.4 m                   clear over the seat
          air volume             48.49 m3                blocks and panels taken out
          surface                84.30 m2                floor, walls and ceiling, openings included
          treated                2.88 m2 (3.4 %)         one face of each panel, of the surface
          exposed                4.10 m2                 all faces of panels that meet air
          Schroeder's frequency  217 Hz                  below it single waves rule, bare room
          tape                   0.01 m                  how far a measure may be off

        Surfaces, with random-incidence absorption by octave (Hz)
          surface               m2  material             63    125    250    500     1k     2k     4k     8k
          -----------------  -----  ----------------  -----  -----  -----  -----  -----  -----  -----  -----
          south              10.56  plaster on brick  0.02~   0.03   0.04   0.05   0.06   0.07   0.08  0.09~
          east               12.48  plaster on brick  0.02~   0.03   0.04   0.05   0.06   0.07   0.08  0.09~
          the long sloped     9.10  two layers of     0.20~   0.21   0.22   0.23   0.24   0.25   0.26  0.27~
          facet of the              gypsum board on
          ceiling over the          battens, filled
          stairs                    with mineral
                                    wool
          floor              22.88  boards            0.10~   0.11   0.12   0.13   0.14   0.15   0.16  0.17~
          ~ no table holds this octave: filled by rule, not measured.

        Materials
          material                                            m2  source of its absorption
          -----------------------------------------------  -----  ------------------------------------------
          plaster on brick                                 23.04  a list of coefficients, transcription read
          two layers of gypsum board on battens, filled     9.10  the owner's own value
          with mineral wool
          boards                                           22.88  another list, from memory

        First axial modes, for orientation only
            Hz  order  between
          ----  -----  ---------------
          33.0      1  south and north
          66.0      2  south and north
          They are those of rigid parallel surfaces; a room with slopes and corners has others beside them.

        What panels do not do
          Panels do not keep sound in or out: what the neighbors hear is decided by mass, tightness and
          distance.
    "#]]);
}

#[test]
fn locked_hear_page() {
    // Kept so that a change of the page is seen in the difference; the figures are invented.
    check(&text::hear(&scene(LengthUnit::Centimeter), &findings(0.52, -4.2)), &expect![[r#"
        Invented room: what is heard now
        ================================

        What is wrong here
          1. Reverberation, mean of 250 Hz - 4 kHz: 0.52 +-0.01 s, asked 0.15 to 0.25 s: too high.
          2. Strongest reflection within 15 ms, 1 - 8 kHz, re direct: -4.2 dB, asked at most -10.0 dB: too
             high.
          3. A reflection of -4.2 dB arrives 2.3 ms after the direct sound from left to desk, 5.8 dB too
             loud. It bounces off west, 142.5 cm from its left edge, 120 cm from the floor.
          4. A reflection of -5.7 dB arrives 4.1 ms after the direct sound from left to desk, 4.3 dB too
             loud. It bounces off sloped ceiling, 200 cm from its left edge, 61.5 cm from its lower edge.
          5. A reflection of -7.2 dB arrives 2.3 ms after the direct sound from voice to microphone, 2.8 dB
             too loud. It bounces off west, 142.5 cm from its left edge, 120 cm from the floor.
          6. A reflection of -8.7 dB arrives 4.1 ms after the direct sound from voice to microphone, 1.3 dB
             too loud. It bounces off sloped ceiling, 200 cm from its left edge, 61.5 cm from its lower
             edge.
          7. Flutter between west and east: every 25.7 ms, ringing 1.42 s at 8 kHz, the room itself 0.52 s.
             To hear it stand at x 220 cm, y 260 cm and clap 135 cm above the floor.

        Targets
          what is asked               here           asked             verdict    document
          --------------------------  -------------  ----------------  ---------  --------------------------
          reverberation, mean of 250  0.52 +-0.01 s  0.15 to 0.25 s    too high   an invented document
          Hz - 4 kHz
          strongest reflection        -4.2 dB        at most -10.0 dB  too high   an invented document
          within 15 ms, 1 - 8 kHz,
          re direct
          speech transmission index,  -              at least 0.60     not known  an invented document
          without noise
          treated share of floor,     3.4 %          15.0 to 20.0 %    too low    common practice, no
          walls and ceiling                                                       source: a start, not a
                                                                                  goal

        How to read the tables
          +- holds 95 of 100 repeats of the tracing; materials add their own doubt (published tables differ
          by 0.1 at 125 and 250 Hz, by 0.05 above).
          * below Schroeder's frequency of the bare room, where waves rule: a statistical reading, judged by
          nothing.

        left to desk, 125.3 cm apart: early reflections
          First reflection after 2.3 ms; early reflections together -2.1 +-0.1 dB re direct; sum over the
          criterion 9.6 dB; speech transmission index 0.71 +-0.00 without noise. Directions are degrees from
          where the head faces.
            ms     dB  too loud  order  bounces off     from left, cm  from floor, cm  comes from
          ----  -----  --------  -----  --------------  -------------  --------------  -----------------
          2.31   -4.2       5.8      1  west                    142.5           120.0  41 left, 12 down
          4.07   -5.7       4.3      1  sloped ceiling          200.0            61.5  ahead, 12 down
          9.52  -10.2                2  east                     31.0           110.0  77 right, 12 down
                                        north                   377.0           105.0
            ms  63 Hz dB  125 Hz dB  250 Hz dB  500 Hz dB  1 kHz dB  2 kHz dB  4 kHz dB  8 kHz dB
          ----  --------  ---------  ---------  ---------  --------  --------  --------  --------
          2.31      -4.2       -4.5       -4.8       -5.1      -5.4      -5.7      -6.0      -6.3
          4.07      -5.7       -6.0       -6.3       -6.6      -6.9      -7.2      -7.5      -7.8
          9.52     -10.2      -10.5      -10.8      -11.1     -11.4     -11.7     -12.0     -12.3

        left to desk: decay and clarity
          octave            EDT s          T20 s          T30 s  rays that count  remark
          --------  -------------  -------------  -------------  ---------------  --------------------------
          63 Hz *   0.608 +-0.013  0.662 +-0.007  0.676 +-0.009             83 %
          125 Hz *  0.585 +-0.013  0.637 +-0.007  0.650 +-0.009             83 %
          250 Hz    0.562 +-0.013  0.612 +-0.007  0.624 +-0.009             83 %
          500 Hz    0.538 +-0.013  0.586 +-0.007  0.598 +-0.009             83 %
          1 kHz     0.515 +-0.013  0.561 +-0.007  0.572 +-0.009             83 %
          2 kHz     0.491 +-0.013  0.535 +-0.007  0.546 +-0.009             83 %
          4 kHz     0.468 +-0.013  0.510 +-0.007  0.520 +-0.009             83 %
          8 kHz     0.445 +-0.013  0.484 +-0.007              -             83 %  the decay does not reach
                                                                                  -35 dB
          octave       C50 dB      C80 dB       D50 %       Ts ms        G dB
          --------  ---------  ----------  ----------  ----------  ----------
          63 Hz *   4.4 +-0.2   8.9 +-0.2  70.0 +-0.8  47.3 +-1.3  18.2 +-0.1
          125 Hz *  4.6 +-0.2   9.2 +-0.2  70.0 +-0.8  45.5 +-1.3  18.2 +-0.1
          250 Hz    4.8 +-0.2   9.6 +-0.2  70.0 +-0.8  43.7 +-1.3  18.2 +-0.1
          500 Hz    5.0 +-0.2  10.0 +-0.2  70.0 +-0.8  41.9 +-1.3  18.2 +-0.1
          1 kHz     5.2 +-0.2  10.5 +-0.2  70.0 +-0.8  40.0 +-1.3  18.2 +-0.1
          2 kHz     5.5 +-0.2  11.0 +-0.2  70.0 +-0.8  38.2 +-1.3  18.2 +-0.1
          4 kHz     5.8 +-0.2  11.5 +-0.2  70.0 +-0.8  36.4 +-1.3  18.2 +-0.1
          8 kHz     6.1 +-0.2  12.1 +-0.2  70.0 +-0.8  34.6 +-1.3  18.2 +-0.1

        voice to microphone, 125.3 cm apart: early reflections
          First reflection after 2.3 ms; early reflections together -5.1 +-0.1 dB re direct; sum over the
          criterion 3.6 dB; speech transmission index 0.71 +-0.00 without noise; direct to reverberant 4.4
          +-0.2 dB; comb depth 5.7 dB. Directions are degrees from where the head faces.
            ms     dB  too loud  order  bounces off     from left, cm  from floor, cm  comes from
          ----  -----  --------  -----  --------------  -------------  --------------  -----------------
          2.31   -7.2       2.8      1  west                    142.5           120.0  41 left, 12 down
          4.07   -8.7       1.3      1  sloped ceiling          200.0            61.5  ahead, 12 down
          9.52  -13.2                2  east                     31.0           110.0  77 right, 12 down
                                        north                   377.0           105.0
            ms  63 Hz dB  125 Hz dB  250 Hz dB  500 Hz dB  1 kHz dB  2 kHz dB  4 kHz dB  8 kHz dB
          ----  --------  ---------  ---------  ---------  --------  --------  --------  --------
          2.31      -7.2       -7.5       -7.8       -8.1      -8.4      -8.7      -9.0      -9.3
          4.07      -8.7       -9.0       -9.3       -9.6      -9.9     -10.2     -10.5     -10.8
          9.52     -13.2      -13.5      -13.8      -14.1     -14.4     -14.7     -15.0     -15.3

        voice to microphone: decay and clarity
          octave            EDT s          T20 s          T30 s  rays that count  remark
          --------  -------------  -------------  -------------  ---------------  --------------------------
          63 Hz *   0.608 +-0.013  0.662 +-0.007  0.676 +-0.009             83 %
          125 Hz *  0.585 +-0.013  0.637 +-0.007  0.650 +-0.009             83 %
          250 Hz    0.562 +-0.013  0.612 +-0.007  0.624 +-0.009             83 %
          500 Hz    0.538 +-0.013  0.586 +-0.007  0.598 +-0.009             83 %
          1 kHz     0.515 +-0.013  0.561 +-0.007  0.572 +-0.009             83 %
          2 kHz     0.491 +-0.013  0.535 +-0.007  0.546 +-0.009             83 %
          4 kHz     0.468 +-0.013  0.510 +-0.007  0.520 +-0.009             83 %
          8 kHz     0.445 +-0.013  0.484 +-0.007              -             83 %  the decay does not reach
                                                                                  -35 dB
          octave       C50 dB      C80 dB       D50 %       Ts ms        G dB
          --------  ---------  ----------  ----------  ----------  ----------
          63 Hz *   4.4 +-0.2   8.9 +-0.2  70.0 +-0.8  47.3 +-1.3  18.2 +-0.1
          125 Hz *  4.6 +-0.2   9.2 +-0.2  70.0 +-0.8  45.5 +-1.3  18.2 +-0.1
          250 Hz    4.8 +-0.2   9.6 +-0.2  70.0 +-0.8  43.7 +-1.3  18.2 +-0.1
          500 Hz    5.0 +-0.2  10.0 +-0.2  70.0 +-0.8  41.9 +-1.3  18.2 +-0.1
          1 kHz     5.2 +-0.2  10.5 +-0.2  70.0 +-0.8  40.0 +-1.3  18.2 +-0.1
          2 kHz     5.5 +-0.2  11.0 +-0.2  70.0 +-0.8  38.2 +-1.3  18.2 +-0.1
          4 kHz     5.8 +-0.2  11.5 +-0.2  70.0 +-0.8  36.4 +-1.3  18.2 +-0.1
          8 kHz     6.1 +-0.2  12.1 +-0.2  70.0 +-0.8  34.6 +-1.3  18.2 +-0.1

        Flutter: how long facing surfaces ring by themselves, s
          between            apart, cm  every ms  500 Hz  1 kHz  2 kHz  4 kHz  heard  clap at x, y, z in cm
          -----------------  ---------  --------  ------  -----  -----  -----  -----  ---------------------
          west and east          440.0      25.7    1.42   1.42   1.42   1.42  yes    220.0, 260.0, 135.0
          south and north        520.0      30.3    0.61   0.61   0.61   0.61  no
          floor and ceiling      240.0      14.0    0.00   0.00   0.00   0.00  no
          the room itself                           0.52   0.52   0.52   0.52
          Heard: more than twice slower than the room in some octave from 500 Hz up (a rule from memory).

        Left against right: level difference by octave (Hz), dB
          at                  of                 63*  125*   250   500    1k   2k   4k    8k
          ------------------  -----------------  ---  ----  ----  ----  ----  ---  ---  ----
          desk: left - right  early reflections  0.0  +0.4  -1.2  +2.6  +3.1  0.0  0.0  +1.0
          desk: left - right  direct sound       0.0   0.0   0.0   0.0   0.0  0.0  0.0   0.0

        Notes
          - The octave of 8 kHz rests on absorption filled by rule, so read its decay as a hint and no more;
            measure it.
    "#]]);
}

#[test]
fn locked_place_page() {
    // Kept so that a change of the page is seen in the difference; the figures are invented.
    check(&text::place(&scene(LengthUnit::Foot), &plan()), &expect![[r#"
        Invented room: where the panels go
        ==================================

        The plan in short
          3 panels to hang. It stopped because the next panel would earn less than its error.
          Early reflections, worst source: -2.1 +-0.1 dB re direct before, -9.3 +-0.1 dB after. Decay, mean
          of 250 Hz - 4 kHz: 0.520 +-0.006 s before, 0.310 +-0.006 s after.
          Treated share of floor, walls and ceiling: 3.4 % (31.0 ft2) before, 6.0 % (54.5 ft2) after.
          Left over: 4 panel 50, 1 trap.

        Hot spots of the room as it stands
          surface             from left      from floor  size                 from  to     ms    dB  share %
          --------------  -------------  --------------  -------------------  ----  ----  ---  ----  -------
          west            4 ft 8 1/8 in  3 ft 11 1/4 in  1 ft 11 5/8 in x 2   left  desk  2.3  -4.2       41
                                                         ft 11 7/16 in
          sloped ceiling  6 ft 6 3/4 in    2 ft 3/16 in  1 ft 11 5/8 in x 2   left  desk  2.3  -5.7       41
                                                         ft 11 7/16 in
          Lengths are to the middle of the spot, as seen from inside; share: of this source's early
          reflected energy there.

        The panels, in the order to hang them
          no  type      surface       from left      from floor  size      why         early, dB    decay, %
          --  --------  --------  -------------  --------------  --------  --------  -----------  ----------
           1  panel     west      3 ft 8 1/8 in  1 ft 11 5/8 in  1 ft 11   hot       1.23 +-0.04  -2.5 +-0.6
              50, flat                                           5/8 in x  spot:
                                                                 3 ft 11   first
                                                                 1/4 in    bounce
                                                                           from
                                                                           left to
                                                                           desk
           2  panel     sloped    3 ft 8 1/8 in  1 ft 11 5/8 in  1 ft 11   hot       0.62 +-0.04  -2.5 +-0.6
              50,       ceiling                                  5/8 in x  spot:
              cloud                                              3 ft 11   ceiling
                                                                 1/4 in    bounce
                                                                           from
                                                                           left to
                                                                           desk
           3  panel     north     3 ft 8 1/8 in  1 ft 11 5/8 in  1 ft 11   corner:   0.41 +-0.04  -2.5 +-0.6
              50,                                                5/8 in x  bass, by
              corner                                             3 ft 11   common
                                                                 1/4 in    practice
                                                                           ; not
                                                                           computed
          Lengths are to the panel's lower left corner as seen from inside; a corner panel's surface is the
          wall left of the corner, a cloud's the ceiling above it.
          Early and decay: what the room loses when this panel alone is taken down again; earnings do not
          add up, since panels share the same bounces.

        Cautions
          Ladders and overhead: rated parts and anchors, a second wire on each cloud; local codes come
          first.
          Before drilling find cables and pipes; keep clear of lamps, detectors, sprinklers, exits, heaters.
          Mineral fiber: mask (FFP2 or N95), gloves, goggles, fresh air, full wrap; ask for its fire class.

        How to read the tables
          +- holds 95 of 100 repeats of the tracing; materials add their own doubt (published tables differ
          by 0.1 at 125 and 250 Hz, by 0.05 above).
          * below Schroeder's frequency of the bare room, where waves rule: a statistical reading, judged by
          nothing.

        Targets, before and after
          what is asked                    asked             before         after          verdict
          -------------------------------  ----------------  -------------  -------------  -----------------
          reverberation, mean of 250 Hz -  0.15 to 0.25 s    0.52 +-0.01 s  0.31 +-0.01 s  too high
          4 kHz
          strongest reflection within 15   at most -10.0 dB  -4.2 dB        -11.4 dB       met, was too high
          ms, 1 - 8 kHz, re direct
          speech transmission index,       at least 0.60     -              -              not known
          without noise
          treated share of floor, walls    15.0 to 20.0 %    3.4 %          3.4 %          too low
          and ceiling

        left to desk, before and after
          what                                           before        after
          ----------------------------------------  -----------  -----------
          early reflections together, dB re direct   -2.1 +-0.1   -9.3 +-0.1
          sum over the criterion, dB                        9.6          0.0
          strongest early reflection, dB re direct         -4.2        -11.4
          first reflection after, ms                        2.3          2.3
          speech transmission index                 0.71 +-0.00  0.71 +-0.00
          octave            EDT s          after          T20 s          after          T30 s          after
          --------  -------------  -------------  -------------  -------------  -------------  -------------
          63 Hz *   0.608 +-0.013  0.363 +-0.013  0.662 +-0.007  0.395 +-0.007  0.676 +-0.009  0.403 +-0.009
          125 Hz *  0.585 +-0.013  0.349 +-0.013  0.637 +-0.007  0.380 +-0.007  0.650 +-0.009  0.388 +-0.009
          250 Hz    0.562 +-0.013  0.335 +-0.013  0.612 +-0.007  0.365 +-0.007  0.624 +-0.009  0.372 +-0.009
          500 Hz    0.538 +-0.013  0.321 +-0.013  0.586 +-0.007  0.349 +-0.007  0.598 +-0.009  0.356 +-0.009
          1 kHz     0.515 +-0.013  0.307 +-0.013  0.561 +-0.007  0.334 +-0.007  0.572 +-0.009  0.341 +-0.009
          2 kHz     0.491 +-0.013  0.293 +-0.013  0.535 +-0.007  0.319 +-0.007  0.546 +-0.009  0.326 +-0.009
          4 kHz     0.468 +-0.013  0.279 +-0.013  0.510 +-0.007  0.304 +-0.007  0.520 +-0.009  0.310 +-0.009
          8 kHz     0.445 +-0.013  0.265 +-0.013  0.484 +-0.007  0.289 +-0.007              -              -
          octave       C50 dB       after      C80 dB       after       D50 %       after
          --------  ---------  ----------  ----------  ----------  ----------  ----------
          63 Hz *   4.4 +-0.2   7.4 +-0.2   8.9 +-0.2  14.9 +-0.2  70.0 +-0.8  70.0 +-0.8
          125 Hz *  4.6 +-0.2   7.7 +-0.2   9.2 +-0.2  15.5 +-0.2  70.0 +-0.8  70.0 +-0.8
          250 Hz    4.8 +-0.2   8.1 +-0.2   9.6 +-0.2  16.1 +-0.2  70.0 +-0.8  70.0 +-0.8
          500 Hz    5.0 +-0.2   8.4 +-0.2  10.0 +-0.2  16.8 +-0.2  70.0 +-0.8  70.0 +-0.8
          1 kHz     5.2 +-0.2   8.8 +-0.2  10.5 +-0.2  17.6 +-0.2  70.0 +-0.8  70.0 +-0.8
          2 kHz     5.5 +-0.2   9.2 +-0.2  11.0 +-0.2  18.4 +-0.2  70.0 +-0.8  70.0 +-0.8
          4 kHz     5.8 +-0.2   9.7 +-0.2  11.5 +-0.2  19.4 +-0.2  70.0 +-0.8  70.0 +-0.8
          8 kHz     6.1 +-0.2  10.2 +-0.2  12.1 +-0.2  20.4 +-0.2  70.0 +-0.8  70.0 +-0.8
          octave         Ts ms       after        G dB       after
          --------  ----------  ----------  ----------  ----------
          63 Hz *   47.3 +-1.3  28.2 +-1.3  18.2 +-0.1  18.2 +-0.1
          125 Hz *  45.5 +-1.3  27.1 +-1.3  18.2 +-0.1  18.2 +-0.1
          250 Hz    43.7 +-1.3  26.0 +-1.3  18.2 +-0.1  18.2 +-0.1
          500 Hz    41.9 +-1.3  25.0 +-1.3  18.2 +-0.1  18.2 +-0.1
          1 kHz     40.0 +-1.3  23.9 +-1.3  18.2 +-0.1  18.2 +-0.1
          2 kHz     38.2 +-1.3  22.8 +-1.3  18.2 +-0.1  18.2 +-0.1
          4 kHz     36.4 +-1.3  21.7 +-1.3  18.2 +-0.1  18.2 +-0.1
          8 kHz     34.6 +-1.3  20.6 +-1.3  18.2 +-0.1  18.2 +-0.1

        voice to microphone, before and after
          what                                           before        after
          ----------------------------------------  -----------  -----------
          early reflections together, dB re direct   -5.1 +-0.1  -12.3 +-0.1
          sum over the criterion, dB                        3.6          0.0
          strongest early reflection, dB re direct         -7.2        -14.4
          first reflection after, ms                        2.3          2.3
          speech transmission index                 0.71 +-0.00  0.71 +-0.00
          direct to reverberant, dB                   4.4 +-0.2    4.4 +-0.2
          comb depth, dB                                    5.7          5.7
          octave            EDT s          after          T20 s          after          T30 s          after
          --------  -------------  -------------  -------------  -------------  -------------  -------------
          63 Hz *   0.608 +-0.013  0.363 +-0.013  0.662 +-0.007  0.395 +-0.007  0.676 +-0.009  0.403 +-0.009
          125 Hz *  0.585 +-0.013  0.349 +-0.013  0.637 +-0.007  0.380 +-0.007  0.650 +-0.009  0.388 +-0.009
          250 Hz    0.562 +-0.013  0.335 +-0.013  0.612 +-0.007  0.365 +-0.007  0.624 +-0.009  0.372 +-0.009
          500 Hz    0.538 +-0.013  0.321 +-0.013  0.586 +-0.007  0.349 +-0.007  0.598 +-0.009  0.356 +-0.009
          1 kHz     0.515 +-0.013  0.307 +-0.013  0.561 +-0.007  0.334 +-0.007  0.572 +-0.009  0.341 +-0.009
          2 kHz     0.491 +-0.013  0.293 +-0.013  0.535 +-0.007  0.319 +-0.007  0.546 +-0.009  0.326 +-0.009
          4 kHz     0.468 +-0.013  0.279 +-0.013  0.510 +-0.007  0.304 +-0.007  0.520 +-0.009  0.310 +-0.009
          8 kHz     0.445 +-0.013  0.265 +-0.013  0.484 +-0.007  0.289 +-0.007              -              -
          octave       C50 dB       after      C80 dB       after       D50 %       after
          --------  ---------  ----------  ----------  ----------  ----------  ----------
          63 Hz *   4.4 +-0.2   7.4 +-0.2   8.9 +-0.2  14.9 +-0.2  70.0 +-0.8  70.0 +-0.8
          125 Hz *  4.6 +-0.2   7.7 +-0.2   9.2 +-0.2  15.5 +-0.2  70.0 +-0.8  70.0 +-0.8
          250 Hz    4.8 +-0.2   8.1 +-0.2   9.6 +-0.2  16.1 +-0.2  70.0 +-0.8  70.0 +-0.8
          500 Hz    5.0 +-0.2   8.4 +-0.2  10.0 +-0.2  16.8 +-0.2  70.0 +-0.8  70.0 +-0.8
          1 kHz     5.2 +-0.2   8.8 +-0.2  10.5 +-0.2  17.6 +-0.2  70.0 +-0.8  70.0 +-0.8
          2 kHz     5.5 +-0.2   9.2 +-0.2  11.0 +-0.2  18.4 +-0.2  70.0 +-0.8  70.0 +-0.8
          4 kHz     5.8 +-0.2   9.7 +-0.2  11.5 +-0.2  19.4 +-0.2  70.0 +-0.8  70.0 +-0.8
          8 kHz     6.1 +-0.2  10.2 +-0.2  12.1 +-0.2  20.4 +-0.2  70.0 +-0.8  70.0 +-0.8
          octave         Ts ms       after        G dB       after
          --------  ----------  ----------  ----------  ----------
          63 Hz *   47.3 +-1.3  28.2 +-1.3  18.2 +-0.1  18.2 +-0.1
          125 Hz *  45.5 +-1.3  27.1 +-1.3  18.2 +-0.1  18.2 +-0.1
          250 Hz    43.7 +-1.3  26.0 +-1.3  18.2 +-0.1  18.2 +-0.1
          500 Hz    41.9 +-1.3  25.0 +-1.3  18.2 +-0.1  18.2 +-0.1
          1 kHz     40.0 +-1.3  23.9 +-1.3  18.2 +-0.1  18.2 +-0.1
          2 kHz     38.2 +-1.3  22.8 +-1.3  18.2 +-0.1  18.2 +-0.1
          4 kHz     36.4 +-1.3  21.7 +-1.3  18.2 +-0.1  18.2 +-0.1
          8 kHz     34.6 +-1.3  20.6 +-1.3  18.2 +-0.1  18.2 +-0.1

        Reflections that stay too loud
          None.

        Flutter at 1 kHz, before and after
          between            rings s  after  heard  after
          -----------------  -------  -----  -----  -----
          west and east         1.42   1.42  yes    yes
          south and north       0.61   0.61  no     no
          floor and ceiling     0.00   0.00  no     no

        Left against right: early level difference by octave (Hz), dB
          at                  when    63*  125*   250   500    1k   2k   4k    8k
          ------------------  ------  ---  ----  ----  ----  ----  ---  ---  ----
          desk: left - right  before  0.0  +0.4  -1.2  +2.6  +3.1  0.0  0.0  +1.0
          desk: left - right  after   0.0  +0.4  -1.2  +2.6  +3.1  0.0  0.0  +1.0

        What the search bought: the same panels hung by rules of thumb
          layout                                  panels  treated %   early, dB  too loud, dB       decay, s
          --------------------------------------  ------  ---------  ----------  ------------  -------------
          bare                                         0        3.4  -2.1 +-0.1          11.8  0.520 +-0.006
          plan                                         3        6.0  -9.3 +-0.1           0.0  0.310 +-0.006
          first reflection points, corners, even       3        6.0  -7.7 +-0.1           0.6  0.320 +-0.006
          spread
          even spread                                  3        6.0  -9.2 +-0.1           0.0  0.300 +-0.006
          Early level and sum over the criterion of the worst source; decay: mean of 250 Hz - 4 kHz. T30 by
          octave (Hz), s:
          layout                                          63*  125*   250   500    1k    2k    4k  8k
          ---------------------------------------------  ----  ----  ----  ----  ----  ----  ----  --
          bare                                           0.68  0.65  0.62  0.60  0.57  0.55  0.52   -
          plan                                           0.40  0.39  0.37  0.36  0.34  0.33  0.31   -
          first reflection points, corners, even spread  0.42  0.40  0.38  0.37  0.35  0.34  0.32   -
          even spread                                    0.39  0.38  0.36  0.34  0.33  0.32  0.30   -
          Against first reflection points, corners, even spread: 1.6 dB less early level, 0.6 dB less over
          the criterion.
          Against even spread: no difference in early level that the tracing can tell.

        Notes
          - Corner panels stand by common practice: the bass is not computed yet.
    "#]]);
}

#[test]
fn keeps_columns_in_every_unit() {
    for unit in LengthUnit::ALL {
        let scene = scene(unit);
        for page in [text::survey(&scene, &survey()), text::hear(&scene, &findings(0.52, -4.2)), text::place(&scene, &plan())] {
            keeps_its_columns(&page);
        }
    }
}

#[test]
fn keeps_the_answer_first() {
    let page = text::hear(&scene(LengthUnit::Meter), &findings(0.52, -4.2));
    let at = |words: &str| page.find(words).unwrap_or_else(|| panic!("the page says: {words}\n{page}"));
    assert!(at("What is wrong here") < at("Reverberation, mean of 250 Hz - 4 kHz: 0.52 +-0.01 s, asked 0.15 to 0.25 s: too high."));
    assert!(at("1.425 m from its left edge, 1.2 m from the floor") < at("Targets"));
    assert!(at("Flutter between west and east") < at("Targets"));
    // The treated share is a start, not a goal: below it nothing is wrong.
    assert!(!page.contains("Treated share of floor, walls and ceiling: 3.4"));
    // A good room is told so.
    let mut good = findings(0.2, -14.0);
    good.flutter.clear();
    assert!(text::hear(&scene(LengthUnit::Meter), &good).contains("Nothing that these figures can judge."));
}

#[test]
fn keeps_pages_of_empty_and_hostile_input() {
    let mut scene = scene(LengthUnit::Inch);
    scene.name = format!("A \u{1b}[31m name\nof {}", "x".repeat(150));
    let mut findings = findings(f64::NAN, -4.2);
    findings.pairs[0].source = "y".repeat(120);
    findings.pairs[0].reflections[0].places.clear();
    findings.pairs[0].reflections[1].surfaces.clear();
    findings.flutter[0].clap_at_m = [f64::INFINITY; 3];
    findings.flutter[0].t_s = Bands::splat(1e300);
    let mut plan = plan();
    plan.before = findings.clone();
    plan.after.pairs.clear();
    plan.after.flutter.clear();
    for page in [text::survey(&scene, &survey()), text::hear(&scene, &findings), text::place(&scene, &plan)] {
        assert!(page.lines().all(|line| line.chars().count() <= 100 && line.chars().all(|c| !c.is_control())), "{page}");
        assert!(!page.contains("NaN"), "{page}");
    }
    let empty = Findings { pairs: Vec::new(), flutter: Vec::new(), likeness: Vec::new(), targets: Vec::new(), notes: Vec::new(), ..findings };
    let bare = Plan {
        hot_spots: Vec::new(),
        placed: Vec::new(),
        left_over: Vec::new(),
        before: empty.clone(),
        after: empty.clone(),
        layouts: Vec::new(),
        notes: Vec::new(),
        ..plan
    };
    keeps_its_columns(&text::place(&self::scene(LengthUnit::Meter), &bare));
    keeps_its_columns(&text::hear(&self::scene(LengthUnit::Meter), &empty));
}

#[test]
fn keeps_the_unit_of_the_scene() {
    let page = text::place(&scene(LengthUnit::Foot), &plan());
    assert!(page.contains("3 ft 8 1/8 in"), "1.12 m is 3 ft 8 1/8 in to the nearest sixteenth:\n{page}");
    let page = text::place(&scene(LengthUnit::Millimeter), &plan());
    assert!(page.contains("from left, mm") && page.contains(" 1120 "), "{page}");
}
