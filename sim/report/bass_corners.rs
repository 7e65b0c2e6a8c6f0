//! The part of the low end's page about panels across corners.

use super::html::{list, table};
use super::svg::escape;
use super::text::bass_corners::{HEADING, blocks, sure, what};
use crate::findings::bass::BassCorners;
use crate::scene::Scene;

/// The section.
pub(super) fn section(scene: &Scene, corners: &BassCorners) -> String {
    let mut body = format!("<h2>{HEADING}</h2>\n<p class=\"quiet\">{}</p>\n", escape(&what(scene, corners)));
    for block in blocks(scene, corners) {
        // On pages it is columns of numbers that are marked, on terminals those of words.
        let heads: Vec<String> =
            block.heads.iter().map(|head| head.strip_prefix('<').map_or_else(|| format!("#{head}"), str::to_owned)).collect();
        let rows: Vec<Vec<String>> = block.rows.iter().map(|row| row.iter().map(|cell| escape(cell)).collect()).collect();
        let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
        body += &format!("<p>{}</p>\n<div class=\"scroll\">{}</div>\n", escape(&block.title), table(&heads, &rows));
    }
    body + &list(&sure(scene, corners))
}
