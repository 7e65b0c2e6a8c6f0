//! A document as one page of HTML: nothing beside it is needed to read it, and no network.
//!
//! Drawings stand in the page as SVG with their words for those who do not see them. The room can be turned where a browser has script and WebGL; where it has not, its drawing stays.
//!
//! *Limits.* Sounds are files beside the page: it names them and plays them from there.

use crate::report::content::{Align, Block, Table};
use crate::report::html::{self, STYLE, slug};
use crate::report::svg::{escape, isolated};

use super::{Part, Piece};

/// Style of what only this page has.
const OWN: &str = include_str!("document.css");

/// Puts the room that can be turned around its drawing, which is given with its words.
type Room<'a> = &'a dyn Fn(&str, &str) -> String;

/// The page; how its room is made one that can be turned, and the style which that asks for.
pub(in crate::report) fn page((title, parts): (&str, &[Part]), (room, style): (Room<'_>, &str)) -> String {
    let mut drawn = 0;
    let body: String = parts.iter().map(|part| section(room, part, &mut drawn)).collect();
    let contents: String =
        parts.iter().map(|part| format!("<li><a href=\"#{}\">{}</a></li>\n", slug(&part.heading), signs(&part.heading))).collect();
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width\">\n\
         <title>{0}</title>\n<style>\n{STYLE}{style}{OWN}</style>\n</head>\n<body>\n<main>\n<h1>{0}</h1>\n<nav aria-label=\"Contents\"><ol>\n{contents}</ol></nav>\n{body}</main>\n</body>\n</html>\n",
        escape(title),
    )
}

fn section(room: Room<'_>, part: &Part, drawn: &mut usize) -> String {
    let heading = &part.heading;
    let pieces = pieces(room, &part.pieces, drawn);
    format!("<section id=\"{}\">\n<h2>{}</h2>\n{pieces}</section>\n", slug(heading), signs(heading))
}

/// Pieces one after another; sentences behind the same kind of mark are a list.
fn pieces(room: Room<'_>, pieces: &[Piece], drawn: &mut usize) -> String {
    let mut out = String::new();
    let mut list: Option<&str> = None;
    for piece in pieces {
        let tag = match piece {
            Piece::Block(Block::Paragraph { mark, .. }) => list_of(mark),
            _ => None,
        };
        if list != tag {
            out += &list.map_or_else(String::new, closed);
            out += &tag.map_or_else(String::new, |tag| format!("<{tag}>\n"));
            list = tag;
        }
        out += &self::piece(room, piece, drawn);
    }
    out + &list.map_or_else(String::new, closed)
}

/// Which list a mark belongs to: of dots, of numbers, of letters.
fn list_of(mark: &str) -> Option<&'static str> {
    match mark.chars().next()? {
        '-' => Some("ul"),
        first if first.is_ascii_uppercase() => Some("ol type=\"A\""),
        _ => Some("ol"),
    }
}

/// The end of a list that began so.
fn closed(tag: &str) -> String {
    format!("</{}>\n", tag.split(' ').next().unwrap_or(tag))
}

fn piece(room: Room<'_>, piece: &Piece, drawn: &mut usize) -> String {
    match piece {
        Piece::Heading(heading) => format!("<h3>{}</h3>\n", signs(heading)),
        Piece::Block(Block::Paragraph { mark, text }) if mark.is_empty() => format!("<p>{}</p>\n", signs(text)),
        Piece::Block(Block::Paragraph { text, .. }) => format!("<li>{}</li>\n", signs(text)),
        Piece::Block(Block::Table(table)) => self::table(table),
        Piece::Block(Block::Rest) => String::new(),
        Piece::Block(Block::Title(text) | Block::Section(text)) => format!("<h3>{}</h3>\n", signs(text)),
        Piece::Drawing { svg, about } | Piece::Sheet { svg, about } => figure(&inline(svg, about, drawn), about),
        Piece::Room { svg, about } => room(&inline(svg, about, drawn), about),
        Piece::Gap(why) => format!("<p class=\"gap\">{}</p>\n", signs(why)),
        Piece::Sounds(files) => files.iter().map(sound).collect(),
        Piece::Cautions(lines) => {
            let lines: String = lines.iter().map(|line| format!("<li>{}</li>\n", signs(line))).collect();
            format!("<div class=\"box\"><ul>\n{lines}</ul></div>\n")
        }
    }
}

fn figure(drawing: &str, about: &str) -> String {
    format!("<figure>{drawing}<figcaption>{}</figcaption></figure>\n", signs(about))
}

/// A drawing as part of the page: names within it are its own, and it is as wide as there is room.
fn inline(svg: &str, about: &str, drawn: &mut usize) -> String {
    *drawn += 1;
    let own = isolated(svg, &format!("d{drawn}-"));
    own.replacen("<svg ", &format!("<svg role=\"img\" aria-label=\"{}\" class=\"drawing\" ", escape(about)), 1)
}

fn sound((name, what): &(String, String)) -> String {
    let (name, what) = (escape(name), escape(what));
    format!("<p><b>{what}</b>, <a href=\"{name}\">{name}</a><br><audio controls preload=\"none\" src=\"{name}\"></audio></p>\n")
}

/// A table in a box that scrolls where a screen is narrow; with many words cards there.
fn table(table: &Table) -> String {
    let right: Vec<bool> = table.heads.iter().map(|(_, align)| *align == Align::Right).collect();
    let as_cards = html::is_cards(&right, &table.rows);
    let taken = |head: &str| if as_cards { html::head_of(head) } else { String::new() };
    let class = |align: Align| if align == Align::Right { " class=\"n\"" } else { "" };
    let heads: String =
        table.heads.iter().map(|(head, align)| format!("<th scope=\"col\"{}>{}</th>", class(*align), signs(head))).collect();
    let row = |row: &Vec<String>| {
        let cells: String = row
            .iter()
            .zip(&table.heads)
            .map(|(cell, (head, align))| format!("<td{}{}>{}</td>", class(*align), taken(head), signs(cell)))
            .collect();
        format!("<tr>{cells}</tr>\n")
    };
    let rows: String = table.rows.iter().map(row).collect();
    let cards = if as_cards { html::CARDS } else { "" };
    format!("<div class=\"scroll\"><table{cards}><thead><tr>{heads}</tr></thead><tbody>\n{rows}</tbody></table></div>\n")
}

/// Text of a page with the signs that plain text has no letters for.
fn signs(text: &str) -> String {
    html::signs(&coded(&escape(text)))
}

/// What stands between backticks is a command or a line of a scene; one without a second is left as it is.
fn coded(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, inside, after)) =
        rest.split_once('`').and_then(|(before, rest)| rest.split_once('`').map(|(inside, after)| (before, inside, after)))
    {
        out += before;
        out += &format!("<code>{inside}</code>");
        rest = after;
    }
    out + rest
}
