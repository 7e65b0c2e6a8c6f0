//! The lists: they read back, with the values of the build, and no cell is a formula.

use super::{FEET, METERS, built};
use roomwright::report::build::lists::{files, guarded};
use roomwright::report::tape::Tape;

/// Headings and rows of a file.
fn read(files: &[(String, Vec<u8>)], name: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let (_, bytes) = files.iter().find(|(file, _)| file == name).expect("the file");
    let mut reader = csv::Reader::from_reader(&bytes[..]);
    let heads = reader.headers().expect("a file has headings").iter().map(str::to_owned).collect();
    // The reader refuses rows that are not as long as their headings.
    (heads, reader.records().map(|row| row.expect("a row is as long as its headings").iter().map(str::to_owned).collect()).collect())
}

fn column(heads: &[String], name: &str) -> usize {
    heads.iter().position(|head| head == name).unwrap_or_else(|| panic!("{name} in {heads:?}"))
}

#[test]
fn shopping_reads_back_and_adds_up() {
    let built = built(METERS);
    let (heads, rows) = read(&files(&built.scene, &built.build), "shopping.csv");
    assert_eq!(rows.len(), built.build.purchases.len());
    let cost = heads.iter().position(|head| head.starts_with("cost")).unwrap();
    let sum: f64 = rows.iter().filter_map(|row| row[cost].parse::<f64>().ok()).sum();
    assert!((sum - built.build.costs.total).abs() < 0.0051 * rows.len() as f64);
    assert!(sum > 0.0);
}

#[test]
fn cuts_hold_every_piece_with_its_place() {
    let built = built(METERS);
    let build = &built.build;
    let (heads, rows) = read(&files(&built.scene, build), "cuts.csv");
    let pieces: usize = build.boards.iter().flat_map(|board| &board.sheets).map(|sheet| sheet.pieces.len()).sum::<usize>()
        + build.cloths.iter().map(|cloth| cloth.pieces.len()).sum::<usize>()
        + build.timbers.iter().flat_map(|timber| &timber.lengths).map(|length| length.pieces.len()).sum::<usize>();
    assert_eq!(rows.len(), pieces);
    assert!(build.timbers.iter().any(|timber| timber.lengths.iter().any(|length| length.pieces.len() > 1)));
    let (kind, left, width) = (column(&heads, "out of"), column(&heads, "left edge (mm)"), column(&heads, "width (mm)"));
    // No length of timber ends before its last piece, and pieces lie apart by a cut.
    for timber in &build.timbers {
        let of = |number: usize| {
            rows.iter().filter(move |row| row[kind] == "length" && row[1] == timber.timber && row[2] == (number + 1).to_string())
        };
        for number in 0..timber.lengths.len() {
            let mut end = -1000.0 * built.scene.making.kerf;
            for row in of(number) {
                let (low, size): (f64, f64) = (row[left].parse().unwrap(), row[width].parse().unwrap());
                // A cut lies between two pieces.
                assert!((low - end - 1000.0 * built.scene.making.kerf).abs() < 0.11, "{row:?}");
                end = low + size;
            }
            assert!(end > 0.0 && end <= 1000.0 * timber.length_m + 0.1);
        }
    }
}

#[test]
fn marks_stand_as_the_tape_reads_them_and_in_millimeters() {
    for text in [METERS, FEET] {
        let built = built(text);
        let tape = Tape::of(built.scene.unit);
        let (heads, rows) = read(&files(&built.scene, &built.build), "marks.csv");
        let marks: Vec<_> = built.build.surfaces.iter().flat_map(|surface| &surface.panels).flat_map(|panel| &panel.marks).collect();
        assert_eq!(rows.len(), marks.len());
        assert!(rows.len() > 8);
        for (row, mark) in rows.iter().zip(marks) {
            assert_eq!(row[column(&heads, "mark")], mark.name);
            assert_eq!(row[column(&heads, "from left (tape)")].trim_start_matches('\''), tape.say(mark.left_m));
            let mm: f64 = row[column(&heads, "from left (mm)")].parse().unwrap();
            assert!((mm - 1000.0 * mark.left_m).abs() < 0.051);
        }
    }
}

#[test]
fn overhead_and_schedule_read_back() {
    let built = built(FEET);
    let files = files(&built.scene, &built.build);
    let (heads, rows) = read(&files, "overhead.csv");
    assert_eq!(rows.len(), built.build.overhead.len());
    let needed: f64 = rows[0][column(&heads, "breaking load needed of every part (N)")].parse().unwrap();
    assert!(needed >= built.build.overhead[0].suspension.as_ref().unwrap().needed_n.unwrap());
    let (heads, rows) = read(&files, "schedule.csv");
    let schedule = built.build.schedule.as_ref().unwrap();
    assert_eq!(rows.len(), schedule.tasks.len());
    let work: f64 = rows.iter().map(|row| row[column(&heads, "work (h)")].parse::<f64>().unwrap()).sum();
    assert!((work - schedule.work_h).abs() < 0.0051 * rows.len() as f64);
}

#[test]
fn every_heading_of_a_number_has_a_unit() {
    let built = built(METERS);
    for (name, _) in files(&built.scene, &built.build) {
        let (heads, rows) = read(&files(&built.scene, &built.build), &name);
        for (index, head) in heads.iter().enumerate() {
            let numeric = rows.iter().any(|row| !row[index].is_empty())
                && rows.iter().all(|row| row[index].is_empty() || row[index].parse::<f64>().is_ok());
            let counts = head.contains('(') || head.starts_with("number of") || ["needed", "packs to buy"].contains(&head.as_str());
            assert!(!numeric || counts, "{name}: {head}");
        }
    }
}

#[test]
fn no_cell_is_a_formula_and_lines_end_as_the_standard_has_them() {
    let built = built(METERS);
    let all = files(&built.scene, &built.build);
    let mut guarded_names = 0;
    for (name, bytes) in &all {
        assert!(bytes.ends_with(b"\r\n"));
        let (_, rows) = read(&all, name);
        for cell in rows.iter().flatten() {
            assert!(!cell.starts_with(['=', '+', '@']) && (!cell.starts_with('-') || cell.parse::<f64>().is_ok()), "{name}: {cell}");
            guarded_names += usize::from(cell == "'=corner & <panel>");
        }
    }
    assert!(guarded_names > 0);
    assert_eq!(guarded("=1+1"), "'=1+1");
    assert_eq!(guarded("plain"), "plain");
}
