//! A document on paper: its parts laid out on pages, drawings as large as fits, sheets to work by on pages of their own.
//!
//! *Limits.* Drawings are fitted to the page; only sheets are true to scale.

use crate::report::content::{Align, Block, Table};
use crate::report::html;
use crate::report::leaf::{Chapter, Format, Voice, Writer, bind};
use crate::report::leaf_table;
use crate::report::svg::size_of;
use crate::scene::Scene;

use super::{Part, Piece};

/// A heading within a part, mm.
const HEADING: f64 = 8.0;
/// Height that follows a heading on its page, mm.
const FOLLOWS: f64 = 24.0;
/// A drawing is no taller than this share of a page, so that two or three fit one.
const TALLEST: f64 = 0.55;
/// Words below a drawing, mm.
const WORDS: f64 = 10.0;
/// A drawing is drawn so much smaller at most to stay on a page that has a little less height left than it would have.
const SHRINKS: f64 = 0.75;

/// The pages as SVG documents, of paper that goes with a scene; what makes them, for their feet.
pub(in crate::report) fn pages((title, parts): (&str, &[Part]), (scene, command): (&Scene, &str)) -> Vec<String> {
    let format = Format::of(scene);
    let mut writer = Writer::new(&format, title);
    for part in parts {
        writer.part(&part.heading, follows(&writer, &part.pieces));
        for (index, piece) in part.pieces.iter().enumerate() {
            self::piece(&mut writer, piece, &part.pieces[index + 1..]);
        }
    }
    let chapters: Vec<Chapter> = vec![writer.finish(command.rsplit(' ').next().unwrap_or(command))];
    let of = chapters.iter().map(|chapter| chapter.leaves.len()).sum();
    bind(&format, chapters, (&[1], of), command).into_iter().map(|(_, leaf)| leaf.drawing.finish()).collect()
}

/// Height that a heading before these pieces is kept together with, mm: neither a drawing nor a second heading is parted from it.
fn follows(writer: &Writer, next: &[Piece]) -> f64 {
    match next {
        [Piece::Drawing { svg, .. } | Piece::Room { svg, .. }, ..] => SHRINKS * fitted(writer, svg).unwrap_or_default() + WORDS,
        [Piece::Heading(_), rest @ ..] => HEADING + follows(writer, rest),
        _ => FOLLOWS,
    }
}

/// Lays a piece out; `next` follow it.
fn piece(writer: &mut Writer, piece: &Piece, next: &[Piece]) {
    match piece {
        Piece::Heading(heading) => writer.section(&signs(heading), follows(writer, next)),
        Piece::Block(Block::Paragraph { mark, text }) if mark.is_empty() => writer.paragraph(&signs(text)),
        Piece::Block(Block::Paragraph { mark, text }) => writer.list(&[(mark.clone(), signs(text))]),
        Piece::Block(Block::Table(table)) => writer.table(&self::table(table)),
        Piece::Block(Block::Rest) => {}
        Piece::Block(Block::Title(text) | Block::Section(text)) => writer.section(&signs(text), FOLLOWS),
        Piece::Drawing { svg, about } | Piece::Room { svg, about } => drawing(writer, svg, about),
        Piece::Sheet { svg, .. } => writer.sheet(svg),
        Piece::Gap(why) => writer.boxed("Not here", &[signs(why)], Voice::Plain),
        Piece::Sounds(files) => {
            let items: Vec<(String, String)> = files.iter().map(|(name, what)| ("-".to_owned(), format!("{name}: {what}"))).collect();
            writer.list(&items);
        }
        Piece::Cautions(lines) => writer.boxed("Cautions", &lines.iter().map(|line| signs(line)).collect::<Vec<_>>(), Voice::Heavy),
    }
}

/// Height that a drawing has on the page, mm.
fn fitted(writer: &Writer, svg: &str) -> Option<f64> {
    let size = size_of(svg)?;
    Some(size.y * (writer.width() / size.x).min(TALLEST * writer.tallest() / size.y))
}

/// A drawing with its words below.
fn drawing(writer: &mut Writer, svg: &str, about: &str) {
    let Some(height) = fitted(writer, svg) else { return };
    let left = writer.left() - WORDS;
    let height = if left >= SHRINKS * height { height.min(left) } else { height };
    writer.keep(height + WORDS);
    writer.figure(height, false, |page, area| page.inlay(svg, area));
    writer.note(&signs(about));
}

/// Text with the signs that plain text has no letters for; commands stand between quotes, since paper sets no code.
fn signs(text: &str) -> String {
    html::signs(&text.replace('`', "'"))
}

fn table(table: &Table) -> leaf_table::Table {
    let heads: Vec<String> =
        table.heads.iter().map(|(head, align)| if *align == Align::Right { format!("#{}", signs(head)) } else { signs(head) }).collect();
    let mut out = leaf_table::Table::new(&heads.iter().map(String::as_str).collect::<Vec<_>>());
    table.rows.iter().for_each(|row| out.row(row.iter().map(|cell| signs(cell)).collect()));
    out
}
