//! What is to be said to the marks of a surface, remark by remark, in lines of a column.
//!
//! *Limits.* What is behind a surface is what the scene says: a detector on the day wins.

use super::members;
use super::{COLUMN, Line, Marking, SMALL};
use crate::report::hung::How;
use crate::report::paper;
use crate::report::sheet_title::Origin;
use crate::report::svg::Lettering;
use crate::report::tape::Tape;
use crate::workshop::{MarkKind, MarkedPanel, MarkedSurface};

/// Notes of the panels, those that are the same together; rows; the rule.
pub(super) fn remarks(marking: Marking<'_>, tape: Tape, origin: &Origin) -> Vec<Line> {
    let surface = marking.surface;
    let mut lines = vec![Line::Head("To these marks".to_owned())];
    lines.extend(in_line(surface));
    lines.extend(behind(surface, tape, origin));
    lines.extend(depths(marking, tape));
    let mut told: Vec<(&str, Vec<String>)> = Vec::new();
    for panel in &surface.panels {
        for note in &panel.notes {
            match told.iter_mut().find(|(text, _)| *text == note) {
                Some((_, numbers)) => numbers.push(panel.number.to_string()),
                None => told.push((note, vec![panel.number.to_string()])),
            }
        }
    }
    for (note, numbers) in told {
        lines.extend(wrapped(&format!("{}:", numbers.join(", ")), note, false));
    }
    for row in &surface.rows {
        let numbers: Vec<String> = row.panels.iter().map(ToString::to_string).collect();
        let spaces: Vec<String> = row.spaces_m.iter().map(|space| tape.read(*space)).collect();
        let even = if !row.is_even {
            ", gaps as planned"
        } else if row.panels.len() > 2 {
            ", equal gaps"
        } else {
            ""
        };
        let text = format!("top at {}{even}; spaces from the left: {}", tape.read(row.top_m), spaces.join(", "));
        lines.extend(wrapped(&format!("Row {}:", numbers.join(", ")), &text, false));
    }
    for panel in surface.panels.iter().filter(|panel: &&MarkedPanel| tape.mark(panel.moved_m) != 0) {
        let way = if panel.moved_m > 0.0 { "right" } else { "left" };
        lines.extend(wrapped(
            &format!("{}:", panel.number),
            &format!("moved {} to the {way} of the plan, for equal gaps", tape.read(panel.moved_m.abs())),
            false,
        ));
    }
    let kinds = |kind: MarkKind| surface.panels.iter().flat_map(|panel| &panel.marks).any(|mark| mark.what == kind);
    if kinds(MarkKind::Wire) {
        lines.extend(wrapped(
            "",
            "Cross in a circle: wire, plumb below. Cross in a square: secondary wire. Lengths and loads on the panel's own page.",
            false,
        ));
    }
    lines.extend(wrapped("", "Fixing points by common rule; the clip maker's sheet and local code win.", false));
    lines
}

/// Marks where cables or pipes are to be expected.
fn in_line(surface: &MarkedSurface) -> Vec<Line> {
    let line = |(thing, marks): (&str, Vec<&str>)| {
        let text = format!(
            "{}: in line with \"{thing}\". Expect its cable or pipe behind them: find it before you drill, or move the mark.",
            marks.join(", ")
        );
        wrapped("!", &text, true)
    };
    surface.in_line().into_iter().flat_map(line).collect()
}

/// What is behind the surface, as far as the scene says.
fn behind(surface: &MarkedSurface, tape: Tape, origin: &Origin) -> Vec<Line> {
    if surface.members.is_empty() {
        return wrapped("", "what is behind it is not in the scene: find out before you drill", false);
    }
    let mut lines: Vec<Line> =
        surface.members.iter().flat_map(|members| wrapped("Behind it,", &members::told(members, tape, origin), false)).collect();
    if surface.members.iter().any(|members| !members.at_m.is_empty()) {
        let text = "Where your detector finds a member elsewhere, the mark goes where the member is, and the panel with it.";
        lines.extend(wrapped("", text, false));
    }
    if surface.members.iter().any(|members| members.is_cut.contains(&true)) {
        lines.extend(wrapped("", "\"cut\" beside a member: an opening cuts it, and nothing hangs from it", false));
    }
    if surface.is_overhead {
        lines.extend(wrapped(
            "",
            "Set every anchor, try it, and put its wire on, before anything is hung; clear what stands below: the ladder has to stand there",
            false,
        ));
    }
    lines
}

/// How thick panels are, and how much air they leave behind, those that are alike together.
fn depths(marking: Marking<'_>, tape: Tape) -> Vec<Line> {
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for hung in marking.job.hung.iter().filter(|hung| hung.surface == marking.surface.facet) {
        let (Some(number), How::Flat { gap }) = (hung.number, hung.how) else { continue };
        let on_rails = marking.surface.panels.iter().any(|panel| panel.number == number && !panel.rails.is_empty());
        let text = match tape.mark(gap) {
            _ if on_rails => format!("{} thick, on rails: see there", tape.read(hung.thickness)),
            0 => format!("{} thick, flush", tape.read(hung.thickness)),
            _ => format!("{} thick, {} of air behind, by stand-offs", tape.read(hung.thickness), tape.read(gap)),
        };
        match told.iter_mut().find(|(known, _)| *known == text) {
            Some((_, numbers)) => numbers.push(number.to_string()),
            None => told.push((text, vec![number.to_string()])),
        }
    }
    told.into_iter().flat_map(|(text, numbers)| wrapped(&format!("{}:", numbers.join(", ")), &text, false)).collect()
}

/// A remark in lines of a column.
pub(super) fn wrapped(lead: &str, text: &str, heavy: bool) -> Vec<Line> {
    let letters = if heavy { Lettering::new(SMALL, paper::INK).bold() } else { Lettering::new(SMALL, paper::INK) };
    let whole = if lead.is_empty() { text.to_owned() } else { format!("{lead} {text}") };
    let lines = letters.wrap(&whole, COLUMN).into_iter().enumerate();
    lines.map(|(index, line)| if heavy { Line::Heavy(line, index > 0) } else { Line::Note(line, index > 0) }).collect()
}
