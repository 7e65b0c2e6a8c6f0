//! The lists of a build as tables for a spreadsheet: what to buy, cut, mark, hang, and when.
//!
//! Every file has one row of headings with units. Lengths stand as the tape reads them and in millimeters. A cell that a spreadsheet would take for a formula begins with an apostrophe.
//!
//! *References.* RFC 4180 (comma-separated values: quotes, line ends, one heading).
//!
//! *Limits.* UTF-8 without a mark at its beginning; a point in decimals.

use csv::{Terminator, WriterBuilder};

use crate::report::html::plain;
use crate::report::tape::Tape;
use crate::scene::Scene;
use crate::workshop::marking::mark_name;
use crate::workshop::overhead::Distance;
use crate::workshop::suspension::Part;
use crate::workshop::{Build, CutPiece, MarkKind, Overhead};

use super::overhead_pages::largest;

/// All files: name and bytes.
#[must_use]
pub fn files(scene: &Scene, build: &Build) -> Vec<(String, Vec<u8>)> {
    let tape = Tape::of(scene.unit);
    vec![
        ("shopping.csv".to_owned(), shopping(build)),
        ("cuts.csv".to_owned(), cuts(build, tape, scene.making.kerf)),
        ("marks.csv".to_owned(), marks(build, tape)),
        ("overhead.csv".to_owned(), overhead(build, tape)),
        ("wires.csv".to_owned(), wires(build, tape)),
        ("schedule.csv".to_owned(), schedule(build)),
    ]
}

/// A table of these headings and rows.
fn written(heads: &[&str], rows: impl IntoIterator<Item = Vec<String>>) -> Vec<u8> {
    let mut out = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    out.write_record(heads).expect("writing to memory cannot fail");
    for row in rows {
        debug_assert_eq!(row.len(), heads.len(), "a row has a cell for each heading");
        out.write_record(&row).expect("rows are as long as their headings");
    }
    out.into_inner().expect("writing to memory cannot fail")
}

/// A text that no spreadsheet takes for a formula.
#[must_use]
pub fn guarded(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) { format!("'{text}") } else { text.to_owned() }
}

fn maybe(value: Option<f64>, digits: usize) -> String {
    value.filter(|value| value.is_finite()).map_or_else(String::new, |value| plain(value, digits))
}

fn mm(meters: f64) -> String {
    plain(1000.0 * meters, 1)
}

fn yes(is: bool) -> String {
    if is { "yes" } else { "no" }.to_owned()
}

fn shopping(build: &Build) -> Vec<u8> {
    let currency = if build.currency.is_empty() { "no currency named" } else { build.currency.as_str() };
    let heads = [
        "what",
        "ask for",
        "needed",
        "unit",
        "pack holds (units)",
        "packs to buy",
        &format!("price of a pack ({currency})"),
        &format!("cost ({currency})"),
        "prices are invented examples",
    ];
    let heads: Vec<String> = heads.iter().map(|head| guarded(head)).collect();
    let rows = build.purchases.iter().map(|line| {
        vec![
            guarded(&line.name),
            guarded(&line.ask_for),
            plain(line.needed, 3),
            guarded(&line.unit),
            plain(line.pack, 3),
            line.packs.to_string(),
            maybe(line.price, 2),
            maybe(line.cost, 2),
            yes(build.prices_are_invented),
        ]
    });
    written(&heads.iter().map(String::as_str).collect::<Vec<_>>(), rows)
}

fn cuts(build: &Build, tape: Tape, kerf: f64) -> Vec<u8> {
    let heads = [
        "out of",
        "what",
        "number of sheet, roll or length",
        "for type",
        "left edge (tape)",
        "lower edge, or along the roll (tape)",
        "width (tape)",
        "height, or along the roll (tape)",
        "left edge (mm)",
        "lower edge, or along the roll (mm)",
        "width (mm)",
        "height, or along the roll (mm)",
        "turned",
    ];
    let mut rows = Vec::new();
    let mut row = |out_of: &str, name: &str, number: usize, piece: &CutPiece| {
        let lengths = [piece.low_m[0], piece.low_m[1], piece.size_m[0], piece.size_m[1]];
        let mut row = vec![out_of.to_owned(), guarded(name), number.to_string(), guarded(&piece.kind)];
        row.extend(lengths.iter().map(|length| guarded(&tape.say(*length))));
        row.extend(lengths.iter().map(|length| mm(*length)));
        row.push(yes(piece.turned));
        rows.push(row);
    };
    for board in &build.boards {
        for (index, sheet) in board.sheets.iter().enumerate() {
            sheet.pieces.iter().for_each(|piece| row("sheet", &board.board, index + 1, piece));
        }
    }
    for cloth in &build.cloths {
        cloth.pieces.iter().for_each(|piece| row("roll", &cloth.cloth, 1, piece));
    }
    for timber in &build.timbers {
        for (index, length) in timber.lengths.iter().enumerate() {
            let mut at = 0.0;
            for side in &length.pieces {
                let mut row = vec!["length".to_owned(), guarded(&timber.timber), (index + 1).to_string(), guarded(&side.kind)];
                row.extend([tape.say(at), String::new(), tape.say(side.length_m), String::new()].map(|text| guarded(&text)));
                row.extend([mm(at), String::new(), mm(side.length_m), String::new()]);
                row.push(yes(false));
                rows.push(row);
                at += side.length_m + kerf;
            }
        }
    }
    written(&heads, rows)
}

fn marks(build: &Build, tape: Tape) -> Vec<u8> {
    let heads = [
        "surface",
        "panel (number)",
        "type",
        "mark",
        "from left (tape)",
        "from lower edge (tape)",
        "from left (mm)",
        "from lower edge (mm)",
        "what",
        "member",
        "in line with (cable or pipe)",
    ];
    let mut rows = Vec::new();
    for surface in &build.surfaces {
        for panel in &surface.panels {
            for mark in &panel.marks {
                rows.push(vec![
                    guarded(&surface.surface),
                    panel.number.to_string(),
                    guarded(&panel.kind),
                    mark.name.clone(),
                    guarded(&tape.say(mark.left_m)),
                    guarded(&tape.say(mark.bottom_m)),
                    mm(mark.left_m),
                    mm(mark.bottom_m),
                    mark.what.word().to_owned(),
                    guarded(mark.member.as_deref().unwrap_or("")),
                    guarded(mark.in_line_with.as_deref().unwrap_or("")),
                ]);
            }
        }
    }
    written(&heads, rows)
}

/// What the loads of hung and of flat things have in common; newtons.
#[derive(Default)]
struct Loads<'a> {
    mass_kg: Option<f64>,
    weight: Option<f64>,
    shared: Option<f64>,
    lost: Option<f64>,
    alone: Option<f64>,
    needed: Option<f64>,
    secondary: Option<f64>,
    factor_wanted: Option<f64>,
    weakest: Option<&'a Part>,
    factor: Option<f64>,
}

impl<'a> Loads<'a> {
    fn of(overhead: &'a Overhead) -> Self {
        match (&overhead.suspension, &overhead.flat) {
            (Some(hung), _) => Self {
                mass_kg: hung.mass_kg,
                weight: hung.weight_n,
                shared: largest(hung.points.iter().map(|point| point.load_n)),
                lost: largest(hung.points.iter().map(|point| point.load_one_lost_n)),
                alone: largest(hung.points.iter().map(|point| point.load_alone_n)),
                needed: hung.needed_n,
                secondary: largest(hung.secondary.iter().map(|wire| wire.needed_n)),
                factor_wanted: Some(hung.factor_wanted),
                weakest: hung.weakest.as_ref(),
                factor: hung.factor,
            },
            (None, Some(flat)) => Self {
                mass_kg: flat.mass_kg,
                weight: flat.weight_n,
                shared: flat.load_n,
                lost: flat.load_one_lost_n,
                alone: flat.load_alone_n,
                needed: flat.needed_n,
                secondary: largest(flat.secondary.iter().map(|wire| wire.needed_n)),
                factor_wanted: Some(flat.factor_wanted),
                weakest: None,
                factor: None,
            },
            (None, None) => Self::default(),
        }
    }
}

fn overhead(build: &Build, tape: Tape) -> Vec<u8> {
    let heads = [
        "panel (number)",
        "type",
        "under",
        "not to be hung",
        "mass (kg)",
        "weight (N)",
        "largest load of a point, all sharing (N)",
        "largest load of a point, any other lost (N)",
        "most on one point alone (N)",
        "breaking load needed of every part (N)",
        "breaking load needed of secondary wires (N)",
        "factor wanted (ratio)",
        "weakest known part",
        "its factor (ratio)",
        "reasons",
        "distances (tape)",
    ];
    let rows = build.overhead.iter().map(|overhead| {
        let loads = Loads::of(overhead);
        let far = |distance: &Distance| format!("{} {}", distance.name, tape.say(distance.distance_m));
        vec![
            overhead.number.to_string(),
            guarded(&overhead.kind),
            guarded(&overhead.surface),
            yes(!overhead.not_to_be_hung.is_empty()),
            maybe(loads.mass_kg, 2),
            maybe(loads.weight, 1),
            maybe(loads.shared, 1),
            maybe(loads.lost, 1),
            maybe(loads.alone, 1),
            maybe(loads.needed.map(f64::ceil), 0),
            maybe(loads.secondary.map(f64::ceil), 0),
            maybe(loads.factor_wanted, 1),
            loads.weakest.map_or_else(|| "strengths not checked".to_owned(), |part| guarded(&part.name)),
            // Cut off, not rounded up to what is wanted.
            maybe(loads.factor.map(|factor| (100.0 * factor).floor() / 100.0), 2),
            guarded(&overhead.not_to_be_hung.join("; ")),
            guarded(&overhead.distances.iter().map(far).collect::<Vec<_>>().join("; ")),
        ]
    });
    written(&heads, rows)
}

/// Wires one by one: where they go on the back of the cloud, how long they are.
fn wires(build: &Build, tape: Tape) -> Vec<u8> {
    let heads = [
        "panel (number)",
        "wire",
        "what",
        "eye from the edge at lower x (mm)",
        "eye from the edge at lower y (mm)",
        "length, of a secondary wire at most (tape)",
        "cut off the roll (tape)",
        "length, of a secondary wire at most (mm)",
        "cut off the roll (mm)",
        "breaking load needed of every part (N)",
        "member",
    ];
    let row = |number: u32,
               name: String,
               kind: MarkKind,
               eye: Option<[f64; 2]>,
               (long, cut): (f64, Option<f64>),
               needed: Option<f64>,
               member: Option<&str>| {
        let [x, y] = eye.map_or_else(Default::default, |eye| eye.map(mm));
        vec![
            number.to_string(),
            name,
            kind.word().to_owned(),
            x,
            y,
            guarded(&tape.say(long)),
            cut.map_or_else(|| super::overhead_pages::LINK.to_owned(), |cut| guarded(&tape.say(cut))),
            mm(long),
            cut.map_or_else(String::new, mm),
            maybe(needed.map(f64::ceil), 0),
            guarded(member.unwrap_or("")),
        ]
    };
    let mut rows = Vec::new();
    for overhead in &build.overhead {
        let number = overhead.number;
        if let Some(hung) = &overhead.suspension {
            rows.extend(hung.points.iter().enumerate().map(|(index, point)| {
                let long = (point.wire_m, point.cut_m);
                row(number, mark_name(number, index), MarkKind::Wire, Some(point.on_back_m), long, hung.needed_n, point.member.as_deref())
            }));
            rows.extend(hung.secondary.iter().enumerate().map(|(index, wire)| {
                let name = mark_name(number, hung.points.len() + index);
                row(number, name, MarkKind::Secondary, None, (wire.longest_m, wire.cut_m), wire.needed_n, Some(&wire.member))
            }));
        }
        for wire in overhead.flat.iter().flat_map(|flat| &flat.secondary) {
            let long = (wire.longest_m, wire.cut_m);
            rows.push(row(number, wire.mark.clone(), MarkKind::Secondary, None, long, wire.needed_n, Some(&wire.member)));
        }
    }
    written(&heads, rows)
}

fn schedule(build: &Build) -> Vec<u8> {
    let heads = [
        "task (number)",
        "evening (number)",
        "begins (h after the evening begins)",
        "what",
        "type",
        "batch (number)",
        "panels (count)",
        "work (h)",
        "dries (h)",
        "delays the end",
    ];
    let tasks = build.schedule.iter().flat_map(|schedule| &schedule.tasks);
    let rows = tasks.enumerate().map(|(index, task)| {
        vec![
            (index + 1).to_string(),
            task.evening.to_string(),
            plain(task.begins_h, 2),
            task.work.clone(),
            guarded(&task.kind),
            task.batch.map_or_else(String::new, |batch| batch.to_string()),
            task.panels.to_string(),
            plain(task.work_h, 2),
            plain(task.dries_h, 1),
            yes(task.critical),
        ]
    });
    written(&heads, rows)
}
