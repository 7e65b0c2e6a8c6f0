//! A document on paper: its parts laid out on pages, drawings as large as fits.
//!
//! *Limits.* Drawings are fitted to the page; only the sheets of `roomwright build` are true to scale.

use crate::report::content::{Align, Block, Table};
use crate::report::html::signs;
use crate::report::leaf::{Chapter, Format, Voice, Writer, bind};
use crate::report::leaf_table;
use crate::report::svg::size_of;
use crate::scene::Scene;

use super::{Part, Piece};

/// Height that follows a heading on its page, mm.
const FOLLOWS: f64 = 24.0;
/// A drawing is no taller than this share of a page, so that two or three fit one.
const TALLEST: f64 = 0.55;

/// The pages as SVG documents, of paper that goes with a scene; what makes them, for their feet.
pub(in crate::report) fn pages((title, parts): (&str, &[Part]), (scene, command): (&Scene, &str)) -> Vec<String> {
    let format = Format::of(scene);
    let mut writer = Writer::new(&format, title);
    for part in parts {
        writer.part(&part.heading, FOLLOWS);
        part.pieces.iter().for_each(|piece| self::piece(&mut writer, piece));
    }
    let chapters: Vec<Chapter> = vec![writer.finish(command.rsplit(' ').next().unwrap_or(command))];
    let of = chapters.iter().map(|chapter| chapter.leaves.len()).sum();
    bind(&format, chapters, (&[1], of), command).into_iter().map(|(_, leaf)| leaf.drawing.finish()).collect()
}

fn piece(writer: &mut Writer, piece: &Piece) {
    match piece {
        Piece::Heading(heading) => writer.section(&signs(heading), FOLLOWS),
        Piece::Block(Block::Paragraph { mark, text }) if mark.is_empty() => writer.paragraph(&signs(text)),
        Piece::Block(Block::Paragraph { mark, text }) => writer.list(&[(mark.clone(), signs(text))]),
        Piece::Block(Block::Table(table)) => writer.table(&self::table(table)),
        Piece::Block(Block::Title(text) | Block::Section(text)) => writer.section(&signs(text), FOLLOWS),
        Piece::Drawing { svg, about } | Piece::Room { svg, about } => drawing(writer, svg, about),
        Piece::Gap(why) => writer.boxed("Not here", &[signs(why)], Voice::Plain),
        Piece::Sounds(files) => {
            let items: Vec<(String, String)> = files.iter().map(|(name, what)| ("-".to_owned(), format!("{name}: {what}"))).collect();
            writer.list(&items);
        }
        Piece::Cautions(lines) => writer.boxed("Cautions", &lines.iter().map(|line| signs(line)).collect::<Vec<_>>(), Voice::Heavy),
    }
}

/// A drawing with its words below.
fn drawing(writer: &mut Writer, svg: &str, about: &str) {
    let Some(size) = size_of(svg) else { return };
    let scale = (writer.width() / size.x).min(TALLEST * writer.tallest() / size.y);
    let height = scale * size.y;
    writer.keep(height + 10.0);
    writer.figure(height, false, |page, area| page.inlay(svg, area));
    writer.note(&signs(about));
}

fn table(table: &Table) -> leaf_table::Table {
    let heads: Vec<String> =
        table.heads.iter().map(|(head, align)| if *align == Align::Right { format!("#{}", signs(head)) } else { signs(head) }).collect();
    let mut out = leaf_table::Table::new(&heads.iter().map(String::as_str).collect::<Vec<_>>());
    table.rows.iter().for_each(|row| out.row(row.iter().map(|cell| signs(cell)).collect()));
    out
}
