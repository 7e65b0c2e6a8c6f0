//! A document of parts: sentences, tables, drawings, sounds, what is missing, printed as one page of HTML that holds all it needs and on paper.
//!
//! What it is made of is content ([`super::content`]) with the drawings between; both printers say the same.
//!
//! *Limits.* Drawings are SVG documents of ours.

mod html;
mod paper;

pub(super) use html::page;
pub(super) use paper::pages;

use super::content::{Block, Page, Section};
use super::text::listen;
use crate::study::listen::Sounds;

/// A part of a document.
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// Its heading.
    pub(super) heading: String,
    /// What it is made of.
    pub(super) pieces: Vec<Piece>,
}

/// A piece of a part.
#[derive(Clone, Debug)]
pub(super) enum Piece {
    /// A heading within it.
    Heading(String),
    /// A paragraph or table.
    Block(Block),
    /// A drawing, with what it shows.
    Drawing {
        /// SVG document of ours.
        svg: String,
        /// What it shows, for those who do not see it.
        about: String,
    },
    /// A sheet to work by: on paper a page by itself, true to scale.
    Sheet {
        /// SVG document of ours, with a head and a foot of its own.
        svg: String,
        /// What it shows.
        about: String,
    },
    /// The room, which can be turned where the page allows it; a drawing elsewhere.
    Room {
        /// SVG document of ours.
        svg: String,
        /// What it shows.
        about: String,
    },
    /// What is not there, and how to get it.
    Gap(String),
    /// Sounds beside the document: name of the file, what it is.
    Sounds(Vec<(String, String)>),
    /// What can hurt someone.
    Cautions(Vec<String>),
}

/// A part of these pieces.
pub(super) fn part(heading: &str, pieces: Vec<Piece>) -> Part {
    Part { heading: heading.to_owned(), pieces }
}

/// A sentence, or more.
pub(super) fn paragraph(text: impl Into<String>) -> Piece {
    Piece::Block(Block::Paragraph { mark: String::new(), text: text.into() })
}

/// A drawing, with what it shows.
pub(super) fn drawing(svg: String, about: impl Into<String>) -> Piece {
    Piece::Drawing { svg, about: about.into() }
}

/// Pieces of a section, with its heading if asked.
pub(super) fn pieces(section: Section, with_heading: bool) -> Vec<Piece> {
    let heading = with_heading.then_some(Piece::Heading(section.heading));
    heading.into_iter().chain(section.blocks.into_iter().map(Piece::Block)).collect()
}

/// Takes the section whose heading begins so; with its heading if asked.
pub(super) fn take(sections: &mut Vec<Section>, heading: &str, with_heading: bool) -> Vec<Piece> {
    let Some(place) = sections.iter().position(|section| section.heading.starts_with(heading)) else { return Vec::new() };
    pieces(sections.remove(place), with_heading)
}

/// Who listens, what to know before, and every sound that is there to be played; `folder` is where they lie, with a stroke behind, or nothing.
pub(super) fn heard(sounds: &Sounds, folder: &str) -> Vec<Piece> {
    let mut pieces = vec![paragraph(listen::who(sounds))];
    pieces.extend(sounds.notes.iter().map(paragraph));
    let files = sounds.files.iter().filter(|file| !file.name.starts_with("response-"));
    pieces.push(Piece::Sounds(files.map(|file| (format!("{folder}{}", file.name), file.what.clone())).collect()));
    pieces
}

/// A page with what stands before its first section.
pub(super) fn whole(page: Page) -> Vec<Piece> {
    let of = |block: Block| match block {
        Block::Title(_) | Block::Rest => None,
        Block::Section(heading) => Some(Piece::Heading(heading)),
        other => Some(Piece::Block(other)),
    };
    page.blocks.into_iter().filter_map(of).collect()
}
