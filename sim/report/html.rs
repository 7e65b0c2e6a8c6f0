//! Small pieces of a page: tables, estimates, names of files.

use crate::findings::Estimate;

use super::svg::escape;

/// A value with half the width of its 95 % interval, as the text prints it: `0.27 ± 0.02`; left out where the value is exact.
#[must_use]
pub fn estimate(estimate: Estimate, digits: usize) -> String {
    let (value, half) = (estimate.value, estimate.half_width_95());
    if !value.is_finite() {
        return "not known".to_owned();
    }
    let value = plain(value, digits);
    if half > 0.0 && half.is_finite() {
        let least = 0.5 * 10.0_f64.powi(-i32::try_from(digits).unwrap_or(0));
        let error = if half < least { format!("&lt;{}", plain(2.0 * least, digits)) } else { plain(half, digits) };
        format!("{value} <small>\u{b1} {error}</small>")
    } else {
        value
    }
}

/// The same, or a dash.
#[must_use]
pub fn maybe(value: Option<Estimate>, digits: usize) -> String {
    value.map_or_else(|| "\u{2013}".to_owned(), |value| estimate(value, digits))
}

/// A number with so many digits, never `-0`; a dash for what is no number.
#[must_use]
pub fn plain(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return "\u{2013}".to_owned();
    }
    let text = format!("{value:.digits$}");
    if text.trim_start_matches('-').chars().all(|letter| matches!(letter, '0' | '.')) {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

/// Text with the signs that plain text has no letters for.
#[must_use]
pub fn signs(text: &str) -> String {
    text.replace("+-", "\u{b1}")
}

/// A table; headings and cells that begin with `#` are set to the right. Cells are HTML.
#[must_use]
pub fn table(headings: &[&str], rows: &[Vec<String>]) -> String {
    let right: Vec<bool> = headings.iter().map(|heading| heading.starts_with('#')).collect();
    let class = |index: usize| if right.get(index).copied().unwrap_or(false) { " class=\"n\"" } else { "" };
    let as_cards = is_cards(&right, rows);
    let mut out = format!("<table{}><thead><tr>", if as_cards { CARDS } else { "" });
    for (index, heading) in headings.iter().enumerate() {
        out += &format!("<th{}>{}</th>", class(index), escape(heading.trim_start_matches('#')));
    }
    out += "</tr></thead><tbody>\n";
    for row in rows {
        out += "<tr>";
        for (index, cell) in row.iter().enumerate() {
            let head = headings.get(index).filter(|_| as_cards).map_or_else(String::new, |head| head_of(head.trim_start_matches('#')));
            out += &format!("<td{}{head}>{cell}</td>", class(index));
        }
        out += "</tr>\n";
    }
    out + "</tbody></table>\n"
}

/// Of a table that is set as cards.
pub(super) const CARDS: &str = " class=\"cards\"";

/// More letters than these in a cell beside the first are words, not a name or a measure.
const WORDS: usize = 14;

/// Whether a table becomes cards where a screen is narrow, its headings beside the cells of each row: it has more columns with sentences than a phone is wide. `right`: which columns are
/// numbers. Numbers and names side by side stay a table, and scroll. Cells are HTML.
#[must_use]
pub(super) fn is_cards(right: &[bool], rows: &[Vec<String>]) -> bool {
    let letters = |part: &str| part.rsplit('>').next().unwrap_or(part).chars().filter(|letter| letter.is_alphabetic()).count();
    let is_long = |cell: &String| cell.split('<').map(letters).sum::<usize>() > WORDS;
    let says = |row: &Vec<String>| row.iter().zip(right).skip(1).any(|(cell, right)| !right && is_long(cell));
    right.len() >= 4 && rows.iter().any(says)
}

/// The heading that a cell takes along into a card.
#[must_use]
pub(super) fn head_of(heading: &str) -> String {
    format!(" data-head=\"{}\"", signs(&escape(heading)))
}

/// A picture with its caption.
#[must_use]
pub fn figure(file: &str, caption: &str) -> String {
    let (file, caption) = (escape(file), escape(caption));
    format!("<figure><a href=\"{file}\"><img src=\"{file}\" alt=\"{caption}\"></a><figcaption>{caption}</figcaption></figure>\n")
}

/// A list of sentences.
#[must_use]
pub fn list(lines: &[String]) -> String {
    let items: String = lines.iter().map(|line| format!("<li>{}</li>\n", escape(line))).collect();
    format!("<ul>\n{items}</ul>\n")
}

/// A whole page.
#[must_use]
pub fn page(title: &str, body: &str) -> String {
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n\
         <title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n{body}</main>\n</body>\n</html>\n",
        escape(title)
    )
}

/// Paper, ink, one accent; no script, no font from elsewhere.
pub(super) const STYLE: &str = "\
body { margin: 0; background: #f5f1e8; color: #2e2c29; font: 15px/1.45 'DejaVu Sans', Verdana, sans-serif; }
main { max-width: 1080px; margin: 0 auto; padding: 28px 24px 60px; }
h1 { font-size: 30px; margin: 0 0 4px; }
h2 { font-size: 20px; margin: 38px 0 8px; }
p { max-width: 76ch; margin: 6px 0; }
.quiet, small, figcaption { color: #6f6960; }
small { font-size: 0.86em; white-space: nowrap; }
.lead { font-size: 17px; }
.bad { color: #b5451b; font-weight: bold; }
table { border-collapse: collapse; background: #fbf8f1; width: 100%; margin: 8px 0 4px; font-size: 13.5px; }
th { text-align: left; font-weight: normal; color: #6f6960; vertical-align: bottom; }
th, td { padding: 4px 9px; border-bottom: 1px solid #d8d1c2; vertical-align: top; }
.n { text-align: right; font-variant-numeric: tabular-nums; }
tr.ours td, td b { color: #2e2c29; }
figure { margin: 12px 0; break-inside: avoid; }
figure img { width: 100%; height: auto; border: 1px solid #d8d1c2; background: #fbf8f1; }
figcaption { font-size: 13px; }
.two { display: grid; grid-template-columns: repeat(auto-fit, minmax(440px, 1fr)); gap: 8px 16px; }
.box { border: 1.5px solid #2e2c29; background: #fbf8f1; padding: 6px 18px; margin: 12px 0; break-inside: avoid; }
a { color: #b5451b; }
.scroll { overflow-x: auto; }
@media (max-width: 600px) { main { padding: 18px 14px 40px; } .two { grid-template-columns: 1fr; } table { display: block; overflow-x: auto; } \
td:nth-child(n + 3):not(.n) { min-width: 7em; } td:nth-child(n + 5):not(.n) { min-width: 13em; } .scroll table:not(.cards) td.n { white-space: nowrap; } \
.cards tbody, .cards tr { display: block; } .cards thead { display: none; } .cards tr { border-bottom: 1px solid #d8d1c2; padding: 6px 0; } \
.cards td:nth-child(n):not(#x) { display: flow-root; border: 0; padding: 1px 9px 1px 9.5em; min-width: 0; text-align: left; } \
.cards td:first-child { font-weight: bold; } .cards td:not(#x):empty { display: none; } \
.cards td::before { content: attr(data-head); float: left; width: 8em; margin-left: -8.8em; color: #6f6960; font-weight: normal; } \
figure { overflow-x: auto; } figure > img, figure > .drawing { min-width: 620px; } figcaption { position: sticky; left: 0; } }
@media print { body { background: #fff; font-size: 10.5pt; } main { max-width: none; padding: 0; } table { font-size: 9pt; } \
tr { break-inside: avoid; } a { color: inherit; text-decoration: none; } h2 { break-after: avoid; } }
";

/// Words as part of a name: small letters, digits and hyphens, 60 at the most.
#[must_use]
pub fn slug(words: &str) -> String {
    let mut slug = String::new();
    for letter in words.chars().flat_map(char::to_lowercase) {
        if letter.is_ascii_alphanumeric() {
            slug.push(letter);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let slug = slug.trim_end_matches('-');
    if slug.is_empty() { "part".to_owned() } else { slug.chars().take(60).collect() }
}

/// File names made of the names of things: `sheet-knee-wall.svg`; a second of the same gets a number.
#[derive(Clone, Debug, Default)]
pub struct Names {
    taken: Vec<String>,
}

impl Names {
    /// A name not yet given: `prefix-words.extension`.
    pub fn give(&mut self, prefix: &str, words: &str, extension: &str) -> String {
        let slug = slug(words);
        let mut name = format!("{prefix}-{slug}.{extension}");
        let mut count = 2;
        while self.taken.contains(&name) {
            name = format!("{prefix}-{slug}-{count}.{extension}");
            count += 1;
        }
        self.taken.push(name.clone());
        name
    }
}
