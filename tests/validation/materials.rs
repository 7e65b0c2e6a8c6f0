//! The materials table against a list compiled independently of this project, value by value; copying errors that go round; how its rows are filled and found.

use roomwright::absorbers::table::{self, Category, Row, Status};
use roomwright::bands::{BAND_COUNT, Band, Bands};

use super::Check;

/// The list: name, category, eight octaves (empty where none is printed), source, status.
const LIST: &str = include_str!("../cases/absorption.csv");

/// A row of the list.
struct ListRow {
    name: String,
    category: String,
    absorption: [Option<f64>; BAND_COUNT],
    source: String,
    status: String,
}

/// The rows of the list in their order, their names in our spelling.
fn list() -> Vec<ListRow> {
    let row = |line: &str| {
        let fields = fields(line);
        assert_eq!(fields.len(), 4 + BAND_COUNT, "{line}");
        let value = |text: &String| (!text.is_empty()).then(|| text.parse().expect("a number"));
        ListRow {
            name: respelled(&fields[0]),
            category: fields[1].clone(),
            absorption: std::array::from_fn(|band| value(&fields[2 + band])),
            source: fields[2 + BAND_COUNT].clone(),
            status: fields[3 + BAND_COUNT].clone(),
        }
    };
    LIST.lines().skip(1).map(row).collect()
}

/// Fields between commas that stand in no quotation marks; the marks are dropped.
fn fields(line: &str) -> Vec<String> {
    let (mut fields, mut quoted) = (vec![String::new()], false);
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            _ => fields.last_mut().expect("begins with one").push(letter),
        }
    }
    fields
}

fn respelled(name: &str) -> String {
    [("fibre", "fiber"), ("Fibre", "Fiber"), ("panelling", "paneling"), ("(DE)", "(German table)")]
        .iter()
        .fold(name.to_owned(), |name, (from, to)| name.replace(from, to))
}

/// Letters and digits alone, an umlaut as it is written without one.
fn letters(text: &str) -> String {
    text.replace('\u{e4}', "ae").to_lowercase().chars().filter(|letter| letter.is_alphanumeric()).collect()
}

pub(crate) fn checks() -> Vec<Check> {
    let list = list();
    let of = |category: &str| {
        let rows: Vec<&ListRow> = list.iter().filter(|row| row.category == category).collect();
        let off = |row: &&ListRow| {
            // A row that is missing, and a value that only one side has, is as far off as can be.
            let Some(ours) = table::find(&row.name) else { return f64::INFINITY };
            let differences = ours.published.0.iter().zip(&row.absorption).map(|(ours, theirs)| match (ours, theirs) {
                (Some(ours), Some(theirs)) => (ours - theirs).abs(),
                (None, None) => 0.0,
                _ => f64::INFINITY,
            });
            differences.fold(0.0, f64::max)
        };
        let count: usize = rows.iter().map(|row| row.absorption.iter().flatten().count()).sum();
        Check {
            what: format!("{category}: greatest difference of {count} values from the list"),
            ours: rows.iter().map(off).fold(0.0, f64::max),
            expected: 0.0,
            tolerance: 1e-12,
            why: "as printed",
            source: "list of absorption coefficients compiled independently of this project from the source that each row names",
        }
    };
    let mut categories: Vec<&str> = list.iter().map(|row| row.category.as_str()).collect();
    categories.sort_unstable();
    categories.dedup();
    categories.into_iter().map(of).collect()
}

#[test]
fn published_rows_are_those_of_the_list_with_source_and_status() {
    let list = list();
    assert_eq!((list.len(), table::rows().len()), (173, 173));
    for (theirs, ours) in list.iter().zip(table::rows()) {
        assert_eq!(ours.name, theirs.name);
        assert_eq!(ours.published.0, theirs.absorption, "{}", ours.name);
        let category = format!("{:?}", ours.category).to_lowercase();
        assert_eq!(category, theirs.category, "{}", ours.name);
        let status = if theirs.status == "transcription seen" { Status::TranscriptionRead } else { Status::FromMemory };
        assert_eq!(ours.status, status, "{}", ours.name);
        // What our status says is not said twice.
        let source = respelled(&theirs.source.replace("from memory (see note) - ", ""));
        assert!(
            !source.is_empty() && letters(ours.source).starts_with(&letters(&source)),
            "{}: {} is not {source}",
            ours.name,
            ours.source
        );
    }
}

/// A wrong copy of a row: its octaves from 125 Hz to 4 kHz, `None` where the copy is right.
struct WrongCopy {
    name: &'static str,
    octaves: [Option<f64>; 6],
    what: &'static str,
}

const BATTENS: &str = "Plasterboard on 50 mm battens (= US 1/2 in gypsum on 2x4 studs)";

/// Copying errors in circulation.
fn wrong_copies() -> Vec<WrongCopy> {
    let all = |octaves: [f64; 6]| octaves.map(Some);
    let swapped = "a list prints the pair twice, once with the values of the other: the board over empty air resonates";
    let comma = "a copy has 0.15 at 500 Hz for 0.015";
    vec![
        WrongCopy { name: "Plasterboard on frame, 100 mm air space", octaves: all([0.08, 0.11, 0.05, 0.03, 0.02, 0.03]), what: swapped },
        WrongCopy {
            name: "Plasterboard on frame, 100 mm air space with glass wool",
            octaves: all([0.30, 0.12, 0.08, 0.06, 0.06, 0.05]),
            what: swapped,
        },
        WrongCopy {
            name: "2x13 mm plasterboard on steel frame, 50 mm mineral wool in cavity, painted",
            octaves: [None, Some(0.01), None, None, None, None],
            what: "a copy has 0.01 at 250 Hz for 0.10",
        },
        WrongCopy { name: "Concrete floor", octaves: [None, None, Some(0.15), None, None, None], what: comma },
        WrongCopy { name: "Concrete or terrazzo", octaves: [None, None, Some(0.15), None, None, None], what: comma },
        WrongCopy { name: BATTENS, octaves: all([0.10, 0.08, 0.05, 0.03, 0.03, 0.03]), what: "a reprint has other values" },
    ]
}

/// What is wrong with a row, if it is one of the wrong copies or takes a missing value for nothing.
fn copying_error(row: &Row) -> Option<&'static str> {
    if row.published.0.iter().flatten().any(|value| *value <= 0.0) {
        return Some("0.00 stands for a value that is missing");
    }
    let is = |copy: &WrongCopy| {
        let octaves = row.published.0[1..7].iter().zip(&copy.octaves);
        copy.name == row.name && octaves.filter(|(_, wrong)| wrong.is_some()).all(|(ours, wrong)| ours == wrong)
    };
    wrong_copies().iter().find(|copy| is(copy)).map(|copy| copy.what)
}

#[test]
fn published_rows_without_the_copying_errors_in_circulation() {
    for row in table::rows() {
        assert_eq!(copying_error(row), None, "{}", row.name);
    }
    // Each of them, put in the place of the right row, is noticed.
    for copy in wrong_copies() {
        let right = table::find(copy.name).unwrap_or_else(|| panic!("{} is in the table", copy.name));
        let mut wrong = right.clone();
        for (band, value) in Band::ALL[1..7].iter().zip(copy.octaves) {
            wrong.published[*band] = value.or(right.published[*band]);
        }
        assert_ne!(wrong.published, right.published, "{}", copy.name);
        assert_eq!(copying_error(&wrong), Some(copy.what));
    }
    let mut missing = table::find("Carpet 7 mm").expect("in the table").clone();
    missing.published[Band::new(6)] = Some(0.0);
    assert!(copying_error(&missing).is_some());
    // And what stands there instead.
    let values = |name: &str| table::find(name).unwrap_or_else(|| panic!("{name} is in the table")).published.0;
    assert_eq!(values("2x13 mm plasterboard on steel frame, 50 mm mineral wool in cavity, painted")[2], Some(0.10));
    assert_eq!(values(BATTENS)[1..7], [0.29, 0.10, 0.05, 0.04, 0.07, 0.09].map(Some));
    assert_eq!(values("Plasterboard on frame, 100 mm air space")[1], Some(0.30));
    assert_eq!(values("Plasterboard on frame, 100 mm air space with glass wool")[1], Some(0.08));
}

#[test]
fn published_rows_are_all_there() {
    let count = |category: Category| table::rows().iter().filter(|row| row.category == category).count();
    assert_eq!(table::rows().len(), 173);
    assert_eq!((count(Category::Hard), count(Category::Light), count(Category::Glass)), (27, 11, 10));
    assert_eq!((count(Category::Wood), count(Category::Door), count(Category::Floor), count(Category::Curtain)), (10, 2, 24, 15));
    assert_eq!((count(Category::Seating) + count(Category::People), count(Category::Absorber)), (13, 51));
    assert_eq!((count(Category::Ceiling), count(Category::Furniture)), (9, 1));
    assert_eq!(table::rows().iter().filter(|row| row.status == Status::FromMemory).count(), 13);
}

#[test]
fn keeps_the_table_sound() {
    let mut seen = std::collections::BTreeSet::new();
    for row in table::rows() {
        assert!(seen.insert(row.name.to_lowercase()), "{} is there twice", row.name);
        assert!(!row.name.contains('"') && !row.source.contains('"') && !row.source.is_empty(), "{}", row.name);
        assert_eq!(row.published.0[0], None, "{}: no table has 63 Hz", row.name);
        for band in &Band::ALL[1..7] {
            // In one list 0.00 means missing; above 1.3 nothing was ever measured.
            let value = row.published[*band].unwrap_or_else(|| panic!("{} lacks {}", row.name, band.label()));
            assert!(value > 0.0 && value < 1.3, "{}: {value}", row.name);
        }
        // A comma in the wrong place: no octave of a bare wall, window or floor is far above both of its neighbors.
        if matches!(row.category, Category::Hard | Category::Light | Category::Glass | Category::Wood | Category::Door) {
            for three in row.published.0[1..7].windows(3) {
                let [below, here, above] = [three[0], three[1], three[2]].map(|value| value.expect("checked above"));
                assert!(here < 4.0 * below.max(above), "{}: {below} {here} {above}", row.name);
            }
        }
        assert!(std::ptr::eq(table::find(row.name).expect("finds itself"), row));
    }
}

#[test]
fn keeps_the_fill_rule() {
    let (carpet, marks) = table::find("  carpet 7 MM ").expect("case and spaces do not matter").absorption();
    assert_eq!((carpet.0[0], carpet.0[1], carpet.0[6], carpet.0[7]), (0.01, 0.02, 0.6, 0.6));
    assert_eq!(marks.0, [true, false, false, false, false, false, false, true]);
    let (wall, marks) = table::find("Rough concrete").expect("in the table").absorption();
    assert_eq!((wall.0[0], wall.0[7], marks.0[0], marks.0[7]), (0.02, 0.07, true, false));
    let some = |values: [f64; 8]| Bands(values.map(|value| (value >= 0.0).then_some(value)));
    assert_eq!(table::fill(some([-1.0, -1.0, 0.4, -1.0, 0.6, -1.0, -1.0, -1.0]), true).0.0, [0.1, 0.2, 0.4, 0.5, 0.6, 0.6, 0.6, 0.6]);
    assert_eq!(table::fill(some([-1.0; 8]), false), (Bands::splat(0.0), Bands::splat(true)));
}

#[test]
fn keeps_suggestions_near() {
    assert!(table::find("rockwool").is_none());
    assert_eq!(table::nearest("Breeze blok", 1)[0].name, "Breeze block");
    assert!(table::nearest("glass wool 50 mm", 4).iter().all(|row| row.name.starts_with("Glass wool 50 mm")));
    assert_eq!(table::nearest("", 3).len(), 3);
    for (typed, meant) in [
        ("rockwol 50mm", "Rock wool 50 mm"),
        ("plasterbord on studs", "Plasterboard 12 mm paneling on studs"),
        ("velvet curtian", "Velvet curtain, tight"),
        ("bookcase", "Bookshelf with books"),
        ("painted brick", "Brick, unglazed, painted"),
    ] {
        let nearest: Vec<&str> = table::nearest(typed, 3).iter().map(|row| row.name).collect();
        assert!(nearest.iter().any(|name| name.starts_with(meant)), "{typed}: {nearest:?}");
    }
}

#[test]
fn keeps_searches_to_what_is_called_so() {
    let names = |words: &str| table::search(words).iter().map(|row| row.name).collect::<Vec<_>>();
    // All that hold the words, whatever their order, the shortest first, and nothing else.
    let curtains = table::rows().iter().filter(|row| row.name.to_lowercase().contains("curtain")).count();
    assert_eq!(names("curtain").len(), curtains);
    assert!(names("curtain").iter().all(|name| name.to_lowercase().contains("curtain")), "{:?}", names("curtain"));
    assert_eq!(names("wool glass 50").len(), names("glass wool 50 mm").len());
    assert!(names("carpet").windows(2).all(|two| two[0].chars().count() <= two[1].chars().count()));
    // A slip of the pen is forgiven, another word is not.
    assert!(names("rockwol 50mm").iter().all(|name| name.starts_with("Rock wool 50 mm")) && !names("rockwol 50mm").is_empty());
    assert_eq!(names("xylophone"), Vec::<&str>::new());
    assert_eq!(names(""), Vec::<&str>::new(), "nothing is asked for");
}

#[test]
fn keeps_ranges_by_band_and_lopsided() {
    let close = |(low, high): (f64, f64), expected: (f64, f64)| (low - expected.0).abs() < 1e-12 && (high - expected.1).abs() < 1e-12;
    let [low, high] = [Band::new(1), Band::new(4)];
    // By a difference where that is less than a factor of two, else by the factor: more up than down.
    assert!(close(table::range(0.5, low, false), (0.4, 0.6)) && close(table::range(0.5, high, false), (0.45, 0.55)));
    assert!(close(table::range(0.06, low, false), (0.03, 0.12)) && close(table::range(0.08, low, true), (0.02, 0.28)));
    // Measured values may pass 1, and so may their range; a finish does not.
    assert!(close(table::range(1.24, low, false), (1.14, 1.34)));
    let row = table::find("Rigid glass-fiber board 48 kg/m3 100 mm, A mount").expect("in the table");
    assert!(row.finish().absorption_range(Band::new(2)).1 <= 0.99);
}
