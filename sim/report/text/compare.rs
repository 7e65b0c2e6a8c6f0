//! Versions of a room side by side: what differs, what that does, every figure.

use super::columns::{Page, Table};
use super::figures::{ERRORS, STATISTICAL, estimate, number, optional_estimate};
use crate::findings::{Estimate, Findings};
use crate::scene::difference::Difference;
use crate::study::compare::{Cell, Change, Compared, ComparedFigure, Comparison, Kind};

/// Changes of one kind that are told one by one; more of them are counted.
const TOLD: usize = 4;

/// What stands behind a figure of the second table.
pub const CHANGES: &str = "Less A: this version less A, +- of both together; behind it in steps that are just noticed (5 % of a decay time, 1 dB, 0.03 of the speech index). =: not told apart.";

/// Heading of what changes do.
pub(super) const DOES: &str = "What it does";

/// The letter of a version.
#[must_use]
pub fn letter(index: usize) -> char {
    char::from(b'A' + (index % 26) as u8)
}

/// The page.
pub(in crate::report) fn page(name: &str, comparison: &Comparison) -> Page {
    let mut page = Page::new(&format!("{name}: versions side by side"));
    page.section("What differs");
    for (index, version) in comparison.versions.iter().enumerate() {
        page.hanging(&format!("{}.", letter(index)), &differs(index, version));
    }
    page.section(DOES);
    for sentence in answers(comparison) {
        page.hanging("-", &sentence);
    }
    page.section("Figures");
    page.table(&values(comparison));
    page.section("Less A");
    page.table(&changes(comparison));
    page.section("How to read the tables");
    page.paragraph(CHANGES);
    page.paragraph(ERRORS);
    if comparison.figures.iter().any(|figure| figure.statistical) {
        page.paragraph(STATISTICAL);
    }
    page
}

/// What a version is called, and in what it differs from the first.
fn differs(index: usize, version: &Compared) -> String {
    let name = &version.name;
    if index == 0 {
        return format!("{name}: what the others are compared with.");
    }
    if version.differs.is_empty() {
        return format!("{name}: its text says the same as that of A.");
    }
    let mut told: Vec<String> = version.differs.iter().filter(|one| !one.key.is_empty()).map(difference).collect();
    // Things that come or go are counted by kind: 21 panels are no sentence.
    let whole: Vec<&Difference> = version.differs.iter().filter(|one| one.key.is_empty()).collect();
    let mut kinds: Vec<(&str, bool)> = whole.iter().map(|one| (kind(&one.part), one.is.is_some())).collect();
    kinds.sort_unstable();
    kinds.dedup();
    for (of, comes) in kinds {
        let like: Vec<&&Difference> = whole.iter().filter(|one| (kind(&one.part), one.is.is_some()) == (of, comes)).collect();
        let verb = if comes { "more" } else { "fewer" };
        if like.len() > TOLD {
            told.push(format!("{} {verb} of {of}", like.len()));
        } else {
            told.extend(like.iter().map(|one| difference(one)));
        }
    }
    format!("{name}: {}.", told.join("; "))
}

/// What a part is one of.
fn kind(part: &str) -> &str {
    part.split(" (").next().unwrap_or(part)
}

/// One difference in words.
fn difference(one: &Difference) -> String {
    let at = match (one.part.as_str(), one.key.as_str()) {
        ("", key) => key.to_owned(),
        (part, "") => part.to_owned(),
        (part, key) => format!("{key} of {part}"),
    };
    match (&one.was, &one.is) {
        (Some(was), Some(is)) => format!("{at} {is} for {was}"),
        (None, Some(is)) => format!("{at} added: {is}"),
        (Some(was), None) => format!("{at} taken out: {was}"),
        (None, None) => at,
    }
}

/// A sentence for each version: what changed most, in steps that are just noticed, of each kind of figure.
#[must_use]
pub fn answers(comparison: &Comparison) -> Vec<String> {
    (1..comparison.versions.len()).map(|index| answer(comparison, index)).collect()
}

fn answer(comparison: &Comparison, index: usize) -> String {
    // Octave by octave where the mean is not told in both.
    let has_mean = comparison.figure(Kind::MeanDecay).and_then(|figure| figure.cells.get(index)).is_some_and(|cell| cell.change.is_some());
    let decay = if has_mean { Kind::MeanDecay } else { Kind::Decay };
    let kinds = [Kind::EarlyLevel, Kind::Strongest, Kind::Clarity, Kind::Speech, decay];
    let mut noticed: Vec<(f64, String)> = Vec::new();
    for kind in kinds {
        let judged = comparison.figures.iter().filter(|figure| figure.kind == kind && !figure.statistical);
        let changes = judged.filter_map(|figure| Some((figure, figure.cells.get(index)?.change?)));
        let strongest = changes.filter(|(_, change)| change.told_apart).max_by(|a, b| a.1.by_steps.abs().total_cmp(&b.1.by_steps.abs()));
        if let Some((figure, change)) = strongest.filter(|(_, change)| change.by_steps.abs() >= 1.0) {
            noticed.push((change.by_steps.abs(), told(figure, index, change)));
        }
    }
    noticed.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (who, name) = (letter(index), &comparison.versions[index].name);
    let told: Vec<String> = noticed.into_iter().map(|(_, told)| told).chain(flutter(comparison, index)).collect();
    if told.is_empty() {
        return format!("{who}, {name}: no figure of the whole differs from A by more than its error and a step that is just noticed.");
    }
    format!("{who}, {name}: {}.", told.join("; "))
}

/// Flutter that is heard in a version and not in the first, and the other way round.
fn flutter(comparison: &Comparison, index: usize) -> Vec<String> {
    let heard = |findings: &Findings| -> Vec<String> {
        findings.flutter.iter().filter(|pair| pair.audible).map(|pair| format!("{} and {}", pair.between[0], pair.between[1])).collect()
    };
    let [was, is] = [0, index].map(|index| heard(&comparison.versions[index].findings));
    let comes = is
        .iter()
        .filter(|pair| !was.contains(pair))
        .map(|pair| format!("flutter between {pair} is heard, in A it is not (heard is what rings over twice as long as the room)"));
    let ends = was.iter().filter(|pair| !is.contains(pair)).map(|pair| format!("flutter between {pair} is no longer heard"));
    comes.chain(ends).collect()
}

/// A change in words.
fn told(figure: &ComparedFigure, index: usize, change: Change) -> String {
    let decimals = figure.kind.decimals();
    let value = |index: usize| {
        figure.cells.get(index).and_then(|cell| cell.value).map_or_else(|| "-".to_owned(), |value| number(value.value, decimals))
    };
    let of = match (&figure.pair, figure.frequency_hz) {
        (Some([source, receiver]), _) => format!(" of {source} at {receiver}"),
        (None, Some(hz)) => format!(" at {hz} Hz"),
        (None, None) => String::new(),
    };
    let verb = if change.by.value < 0.0 { "lower" } else { "higher" };
    let unit = unit(figure.kind, "");
    format!("{}{of} {} for {}{unit}, {} steps {verb}", figure.kind.words(), value(index), value(0), number(change.by_steps.abs(), 1),)
}

/// The unit of a figure behind a mark; nothing where it has none.
fn unit(kind: Kind, mark: &str) -> String {
    if kind.unit().is_empty() { String::new() } else { format!("{mark} {}", kind.unit()) }
}

/// What a figure is called in a table.
fn label(figure: &ComparedFigure) -> String {
    let of = match (&figure.pair, figure.frequency_hz) {
        (Some([source, receiver]), _) => format!(", {source} at {receiver}"),
        (None, Some(hz)) => format!(", {hz} Hz{}", if figure.statistical { "*" } else { "" }),
        (None, None) => String::new(),
    };
    format!("{}{of}{}", figure.kind.words(), unit(figure.kind, ","))
}

/// Every figure of every version.
fn values(comparison: &Comparison) -> Table {
    table(comparison, 0, |figure, cell| optional_estimate(cell.value, figure.kind.decimals()))
}

/// By how much each differs from the first.
fn changes(comparison: &Comparison) -> Table {
    table(comparison, 1, |figure, cell| cell.change.map_or_else(|| "-".to_owned(), |change| changed(figure.kind, change)))
}

fn changed(kind: Kind, Change { by, by_steps, told_apart }: Change) -> String {
    if !told_apart {
        return "=".to_owned();
    }
    format!("{} ({})", signed(by, kind.decimals()), number(by_steps.abs(), 1))
}

/// A value with its sign and error.
fn signed(value: Estimate, decimals: usize) -> String {
    let plain = estimate(value, decimals);
    if value.value > 0.0 { format!("+{plain}") } else { plain }
}

/// What each figure is called, its value in the first version and in the one of this number, and by how much that differs; for a page of two versions.
#[must_use]
pub fn rows(comparison: &Comparison, index: usize) -> Vec<[String; 4]> {
    let cell = |figure: &ComparedFigure, index: usize| {
        figure.cells.get(index).map_or_else(|| "-".to_owned(), |cell| optional_estimate(cell.value, figure.kind.decimals()))
    };
    let less = |figure: &ComparedFigure| {
        let change = figure.cells.get(index).and_then(|cell| cell.change);
        change.map_or_else(|| "-".to_owned(), |change| changed(figure.kind, change))
    };
    comparison.figures.iter().map(|figure| [label(figure), cell(figure, 0), cell(figure, index), less(figure)]).collect()
}

/// A row a figure, a column a version, from the version of this number on.
fn table(comparison: &Comparison, from: usize, print: impl Fn(&ComparedFigure, &Cell) -> String) -> Table {
    let heads = std::iter::once("<figure".to_owned()).chain((from..comparison.versions.len()).map(|index| letter(index).to_string()));
    let mut table = Table::new(&heads.collect::<Vec<_>>());
    for figure in &comparison.figures {
        let cells = figure.cells.iter().skip(from).map(|cell| print(figure, cell));
        table.row(std::iter::once(label(figure)).chain(cells));
    }
    table
}
