//! The sheet that goes up the ladder: one surface true to scale with every mark on it, its table in hanging order, what lies behind, and what could hurt there.
//!
//! The scale is the largest of the list at which drawing, table and cautions find room on one page; what the table has no room for goes on on a page of its own.
//!
//! *Limits.* Measures are those of the scene: what a tape says on the day wins.

use glam::DVec2;

use crate::report::elevation::Elevation;
use crate::report::hung::{How, Hung};
use crate::report::paper;
use crate::report::sheet::{self, A4, FOOT, Format, Job, LEFT, LETTER, MARGIN, ROW, TOP};
use crate::report::sheet_title::{self, Origin};
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::tape::Tape;
use crate::scene::making::{Making, Paper};
use crate::workshop::words::ordinal;
use crate::workshop::{Cautions, Mark, MarkKind, MarkedPanel, MarkedSurface, Overhead};

/// What a marking sheet is made from.
#[derive(Clone, Copy, Debug)]
pub struct Marking<'a> {
    /// What is drawn, and which sheet of how many.
    pub job: Job<'a>,
    /// What is marked.
    pub surface: &'a MarkedSurface,
    /// What hangs over heads.
    pub overhead: &'a [Overhead],
    /// What could hurt here.
    pub cautions: Option<&'a Cautions>,
    /// The paper.
    pub paper: Paper,
}

/// Width of a column of the table, mm.
const COLUMN: f64 = 72.0;
/// Between columns, mm.
const BETWEEN: f64 = 5.0;
/// Letters of the cautions, mm.
const SMALL: f64 = 2.4;
/// Distance of the lines of the cautions, mm.
const LEAD: f64 = 3.2;
/// Cautions need at least this width beside a drawing, mm.
const NARROWEST: f64 = 62.0;
/// Arms of the cross at a mark, mm.
const ARM: f64 = 1.3;

/// A line of the table.
#[derive(Clone, Debug, PartialEq)]
enum Line {
    /// A heading.
    Head(String),
    /// What the columns are.
    Columns,
    /// A panel: number, left, lower, size.
    Panel([String; 4]),
    /// A mark: name, left, lower, where.
    Mark([String; 4]),
    /// What a person must read.
    Heavy(String),
    /// A remark.
    Note(String),
}

/// The drawing, the cautions, the columns of the table.
struct Arrangement<'a> {
    view: Elevation<'a>,
    scale: f64,
    cautions: Area,
    columns: usize,
}

/// The pages of a surface: the drawing, and what of its table goes on.
#[must_use]
pub fn pages(marking: Marking<'_>) -> Vec<Drawing> {
    let job = marking.job;
    let tape = Tape::of(job.scene.unit);
    let format = format(marking.paper, tape);
    let hung: Vec<&Hung> = in_order(job.hung, marking.surface.facet);
    let lines = lines(marking, tape);
    let arranged = arrange(marking, format, lines.len());
    let view = arranged.view;
    let mut page = Drawing::new(format.size.x, format.size.y, paper::WHITE);
    sheet_title::draw(&mut page, job, &view, tape, 1);
    let origin = Origin::of(job.room, &view);
    draw_members(&mut page, &view, marking.surface);
    draw_rails(&mut page, &view, marking.surface);
    let names = view.draw_parts(&mut page, job.scene, None);
    page.polygon(&view.outline(), Look::line(paper::INK, 0.55));
    let level = sheet::level_line(&mut page, &view, &hung);
    for panel in &hung {
        sheet::draw_panel(&mut page, &view, panel);
    }
    draw_elsewhere(&mut page, &view, marking, &hung);
    draw_crosses(&mut page, &view, marking.surface);
    for (index, panel) in hung.iter().enumerate() {
        sheet::draw_lean(&mut page, &view, panel, tape);
        sheet::name_panel(&mut page, &view, panel, &hung[index + 1..], tape);
    }
    draw_marks(&mut page, &view, marking);
    sheet::draw_chains(&mut page, &view, &hung, tape, format, &origin);
    sheet_title::draw_corners(&mut page, &view);
    if let Some(level) = level {
        sheet::name_level(&mut page, &view, &hung, level, tape);
    }
    let panels: Vec<Area> = hung.iter().map(|panel| view.shown(&view.all(&panel.outline))).collect();
    view.write_names(&mut page, &names, &panels, Lettering::new(paper::SMALL, paper::QUIET).rim(paper::WHITE));
    name_members(&mut page, &view, marking.surface);
    draw_cautions(&mut page, marking.cautions, arranged.cautions);
    let left = format.size.x - MARGIN - arranged.columns as f64 * (COLUMN + BETWEEN) + BETWEEN;
    let mut rest = pour(&mut page, &lines, DVec2::new(left, TOP - 1.0), arranged.columns, (&origin, tape));
    // What has no room goes on below the cautions, where that is wide enough.
    let under = arranged.cautions.low + DVec2::new(0.0, cautions_height(marking.cautions, arranged.cautions.size().x) + 3.0);
    let columns = columns_within(arranged.cautions.size().x);
    if !rest.is_empty() && columns > 0 && under.y + 4.0 * ROW < format.size.y - FOOT {
        rest = pour(&mut page, &rest, under, columns, (&origin, tape));
    }
    sheet::draw_foot(&mut page, job, &view, tape, format, (arranged.scale, &origin));
    let mut pages = vec![page];
    while !rest.is_empty() {
        let mut page = Drawing::new(format.size.x, format.size.y, paper::WHITE);
        sheet_title::draw(&mut page, job, &view, tape, pages.len() + 1);
        let columns = columns_within(format.size.x - 2.0 * MARGIN);
        rest = pour(&mut page, &rest, DVec2::new(MARGIN, TOP + 2.0), columns, (&origin, tape));
        pages.push(page);
    }
    pages
}

/// The paper lying, with the scales of the tape.
fn format(paper: Paper, tape: Tape) -> Format {
    let scales = if tape.is_inch() { LETTER } else { A4 };
    match paper {
        Paper::A4 => Format { name: A4.name, size: A4.size, ..scales },
        Paper::Letter => Format { name: LETTER.name, size: LETTER.size, ..scales },
    }
}

/// The paper of a scene where nobody asks for another.
#[must_use]
pub fn usual_paper(making: &Making, tape: Tape) -> Paper {
    making.paper.unwrap_or(if tape.is_inch() { Paper::Letter } else { Paper::A4 })
}

/// What hangs on a surface: what hangs already first, then by number.
fn in_order(hung: &[Hung], facet: usize) -> Vec<&Hung> {
    let mut all: Vec<&Hung> = hung.iter().filter(|panel| panel.surface == facet).collect();
    all.sort_by_key(|panel| panel.number.map_or((0, 0), |number| (1, number)));
    all
}

/// Drawing, cautions and table at the largest scale.
fn arrange<'a>(marking: Marking<'a>, format: Format, lines: usize) -> Arrangement<'a> {
    let view = Elevation::new(marking.job.room, marking.surface.facet, 1.0, DVec2::new(LEFT, TOP + 4.0));
    let size = 1000.0 * (view.high - view.low);
    let under = format.chain + format.running + 5.0;
    let foot = format.size.y - FOOT - 1.0;
    let rows = ((foot - TOP) / ROW) as usize;
    let most = if lines > rows { 2 } else { 1 };
    let mut best: Option<Arrangement<'a>> = None;
    for columns in 1..=most {
        let right = format.size.x - MARGIN - columns as f64 * (COLUMN + BETWEEN);
        let below_height = cautions_height(marking.cautions, right - MARGIN);
        for scale in format.scales.iter().copied().chain([(size.max_element() / 100.0).ceil()]) {
            let drawn = size / scale;
            let bottom = view.at.y + drawn.y + under;
            let beside = right - (LEFT + drawn.x + 8.0);
            let found = if drawn.x <= right - LEFT && bottom + below_height <= foot {
                Area { low: DVec2::new(MARGIN, bottom), high: DVec2::new(right, foot) }
            } else if beside >= NARROWEST && bottom <= foot && TOP + cautions_height(marking.cautions, beside) <= foot {
                Area { low: DVec2::new(LEFT + drawn.x + 8.0, TOP), high: DVec2::new(right, foot) }
            } else {
                continue;
            };
            // Two columns only where they cost no scale.
            if best.as_ref().is_none_or(|best| scale <= best.scale) {
                best = Some(Arrangement { view: Elevation { scale: 1000.0 / scale, ..view }, scale, cautions: found, columns });
            }
            break;
        }
    }
    best.unwrap_or_else(|| {
        let scale = (size.max_element() / 60.0).ceil().max(1.0);
        let area = Area { low: DVec2::new(LEFT + 70.0, TOP), high: DVec2::new(format.size.x - MARGIN - COLUMN - BETWEEN, foot) };
        Arrangement { view: Elevation { scale: 1000.0 / scale, ..view }, scale, cautions: area, columns: 1 }
    })
}

/// How tall the box of the cautions is, mm.
fn cautions_height(cautions: Option<&Cautions>, width: f64) -> f64 {
    cautions.map_or(0.0, |cautions| {
        let letters = Lettering::new(SMALL, paper::INK);
        9.5 + LEAD * cautions.lines.iter().flat_map(|line| letters.wrap(line, width - 7.0)).count() as f64
    })
}

fn draw_cautions(page: &mut Drawing, cautions: Option<&Cautions>, area: Area) {
    let Some(cautions) = cautions else { return };
    let width = area.size().x;
    page.rect(Area::new(area.low.x, area.low.y, width, cautions_height(Some(cautions), width)), Look::line(paper::INK, 0.45));
    page.text(area.low + DVec2::new(3.5, 5.0), &cautions.heading, Lettering::new(paper::SUBHEAD, paper::INK).bold());
    let letters = Lettering::new(SMALL, paper::INK);
    let lines = cautions.lines.iter().flat_map(|line| letters.wrap(line, width - 7.0));
    for (index, line) in lines.enumerate() {
        page.text(area.low + DVec2::new(3.5, 9.3 + LEAD * index as f64), &line, letters);
    }
}

/// Lines of what stands behind the surface.
fn draw_members(page: &mut Drawing, view: &Elevation<'_>, surface: &MarkedSurface) {
    for members in &surface.members {
        for at in &members.at_m {
            let (from, to) = if members.upright {
                (DVec2::new(*at, view.low.y), DVec2::new(*at, view.high.y))
            } else {
                (DVec2::new(view.low.x, *at), DVec2::new(view.high.x, *at))
            };
            let (from, to) = (view.paper(from), view.paper(to));
            // Dotted: the level line is dashed, and both must tell apart in gray.
            let look = Look::line(paper::SOFT, 0.22).dashed(0.6, 1.0);
            page.clipped(&view.outline(), |page| page.line(from, to, look));
        }
    }
}

/// Rails with their screws.
fn draw_rails(page: &mut Drawing, view: &Elevation<'_>, surface: &MarkedSurface) {
    for rail in surface.panels.iter().flat_map(|panel| &panel.rails) {
        let place = |along: f64| view.paper(if rail.level { DVec2::new(along, rail.at_m) } else { DVec2::new(rail.at_m, along) });
        page.line(place(rail.from_m), place(rail.to_m), Look::line(paper::SOFT, 1.2));
        for screw in &rail.screws_m {
            page.circle(place(*screw), 0.6, Look::fill(paper::WHITE).edged(paper::INK, 0.2));
        }
    }
}

/// What the lines are, beside the first of them; the number of each, where there are several, at its beginning.
fn name_members(page: &mut Drawing, view: &Elevation<'_>, surface: &MarkedSurface) {
    let letters = Lettering::new(2.2, paper::QUIET).rim(paper::WHITE);
    let is_inside = |area: Area| {
        let corners = [area.low, DVec2::new(area.high.x, area.low.y), area.high, DVec2::new(area.low.x, area.high.y)];
        corners.iter().all(|corner| view.surface.outline.contains(view.position(*corner)))
    };
    for members in surface.members.iter().filter(|members| !members.at_m.is_empty()) {
        let write = |page: &mut Drawing, at: f64, text: &str| {
            let on = if members.upright { DVec2::new(at, view.high.y) } else { DVec2::new(view.low.x, at) };
            let on = view.paper(on);
            let places: Vec<DVec2> = [0.6, 3.4, 6.4, 9.4, 14.0, 20.0]
                .map(|down| on + if members.upright { DVec2::new(0.6, down + 2.4) } else { DVec2::new(down, -0.6) })
                .into_iter()
                .filter(|at| is_inside(letters.area(*at, text)))
                .collect();
            page.text_where_free(&places, text, letters)
        };
        let mut is_named = false;
        for (index, at) in members.at_m.iter().enumerate() {
            let number = if members.at_m.len() > 1 { ordinal(index + 1) } else { String::new() };
            let is_cut = members.is_cut.get(index).is_some_and(|is_cut| *is_cut);
            let number = if is_cut { format!("{number} cut") } else { number };
            let named = format!("{} {number}", members.name);
            if !is_named && write(page, *at, named.trim_end()) {
                is_named = true;
            } else if !number.is_empty() {
                write(page, *at, &number);
            }
        }
    }
}

/// Clouds that hang under the next part of the ceiling and reach below this one: their outline, and their number.
fn draw_elsewhere(page: &mut Drawing, view: &Elevation<'_>, marking: Marking<'_>, hung: &[&Hung]) {
    for panel in marking.surface.panels.iter().filter(|panel| !hung.iter().any(|hung| hung.number == Some(panel.number))) {
        let low = DVec2::new(panel.left_m, panel.bottom_m);
        let high = low + DVec2::new(panel.width_m, panel.height_m);
        let corners = view.all(&[low, DVec2::new(high.x, low.y), high, DVec2::new(low.x, high.y)]);
        page.clipped(&view.outline(), |page| page.polygon(&corners, Look::line(paper::INK, 0.3).dashed(1.8, 0.8)));
        let inside = DVec2::new(low.x.max(view.low.x), low.y.max(view.low.y)).lerp(high.min(view.high), 0.5);
        page.text(
            view.paper(inside) + DVec2::new(0.0, 1.2),
            &panel.number.to_string(),
            Lettering::new(3.4, paper::INK).bold().middle().rim(paper::WHITE),
        );
    }
}

/// A cross at every mark.
fn draw_crosses(page: &mut Drawing, view: &Elevation<'_>, surface: &MarkedSurface) {
    for mark in surface.panels.iter().flat_map(|panel| &panel.marks) {
        draw_cross(page, view, mark);
    }
}

/// A letter beside every mark, and what must not be hung.
fn draw_marks(page: &mut Drawing, view: &Elevation<'_>, marking: Marking<'_>) {
    for panel in &marking.surface.panels {
        for mark in &panel.marks {
            draw_letter(page, view, mark, panel.number);
        }
        if forbidden(marking.overhead, panel.number).is_some() {
            let middle = view.paper(DVec2::new(panel.left_m + 0.5 * panel.width_m, panel.bottom_m + 0.5 * panel.height_m));
            let letters = Lettering::new(2.4, paper::INK).bold().middle().rim(paper::WHITE);
            let wide = letters.length("NOT TO BE HUNG") + 1.0 < panel.width_m * view.scale;
            let words: &[&str] = if wide { &["NOT TO BE HUNG"] } else { &["NOT TO", "BE HUNG"] };
            for (index, word) in words.iter().enumerate() {
                page.text(middle + DVec2::new(0.0, -6.4 + 2.8 * index as f64), word, letters);
            }
        }
    }
}

fn draw_cross(page: &mut Drawing, view: &Elevation<'_>, mark: &Mark) {
    let at = view.paper(DVec2::new(mark.left_m, mark.bottom_m));
    let look = Look::line(paper::ACCENT, 0.3);
    page.line(at - DVec2::new(ARM, 0.0), at + DVec2::new(ARM, 0.0), look);
    page.line(at - DVec2::new(0.0, ARM), at + DVec2::new(0.0, ARM), look);
    page.keep_free(Area::new(at.x - 0.7 * ARM, at.y - 0.7 * ARM, 1.4 * ARM, 1.4 * ARM));
    match mark.what {
        MarkKind::Fixing => {}
        MarkKind::Wire => page.circle(at, 0.8, Look::line(paper::ACCENT, 0.3)),
        MarkKind::Secondary => {
            let corners = [DVec2::new(-0.8, -0.8), DVec2::new(0.8, -0.8), DVec2::new(0.8, 0.8), DVec2::new(-0.8, 0.8)];
            page.polygon(&corners.map(|corner| at + corner), Look::line(paper::ACCENT, 0.3));
        }
    }
}

fn draw_letter(page: &mut Drawing, view: &Elevation<'_>, mark: &Mark, number: u32) {
    let at = view.paper(DVec2::new(mark.left_m, mark.bottom_m));
    let letter = mark.name.strip_prefix(&number.to_string()).unwrap_or(&mark.name);
    let letter = &if mark.in_line_with.is_some() { format!("{letter}!") } else { letter.to_owned() };
    let letters = Lettering::new(2.2, paper::INK).middle().rim(paper::PANEL);
    let near = [DVec2::new(2.2, -0.6), DVec2::new(-2.2, -0.6), DVec2::new(2.2, 2.2), DVec2::new(-2.2, 2.2)];
    let places: Vec<DVec2> = [1.0, 1.5, 2.0].iter().flat_map(|far| near.map(|beside| at + beside * *far)).collect();
    page.text_where_free(&places, letter, letters);
}

/// Why a panel must not be hung.
fn forbidden(overhead: &[Overhead], number: u32) -> Option<&Overhead> {
    overhead.iter().find(|overhead| overhead.number == number && !overhead.not_to_be_hung.is_empty())
}

/// The table, line by line.
fn lines(marking: Marking<'_>, tape: Tape) -> Vec<Line> {
    let surface = marking.surface;
    let mut lines = rails(surface, tape);
    lines.extend([Line::Head("Marks, in hanging order".to_owned()), Line::Columns]);
    for panel in &surface.panels {
        let [left, lower] = [panel.left_m, panel.bottom_m].map(|meters| tape.read(meters));
        // Of a cloud only its shadow lies on the surface.
        let is_cloud = panel.marks.iter().any(|mark| mark.what == MarkKind::Wire);
        let size = if is_cloud { "cloud".to_owned() } else { format!("{} x {}", tape.read(panel.width_m), tape.read(panel.height_m)) };
        lines.push(Line::Panel([panel.number.to_string(), left, lower, size]));
        if let Some(overhead) = forbidden(marking.overhead, panel.number) {
            lines.extend(wrapped("NOT TO BE HUNG:", &overhead.not_to_be_hung.join("; "), true));
        }
        for mark in &panel.marks {
            let [left, lower] = [mark.left_m, mark.bottom_m].map(|meters| tape.read(meters));
            let warned = if mark.in_line_with.is_some() { format!("{} !", mark.name) } else { mark.name.clone() };
            lines.push(Line::Mark([warned, left, lower, into(mark, where_width(tape))]));
        }
    }
    lines.extend(remarks(marking, tape));
    lines
}

/// Rails, which go on before any panel: where each begins, its middle, how long it is.
fn rails(surface: &MarkedSurface, tape: Tape) -> Vec<Line> {
    let all = surface.panels.iter().flat_map(|panel| panel.rails.iter().map(move |rail| (panel.number, rail)));
    let mut lines: Vec<Line> = all
        .map(|(number, rail)| {
            let (left, lower) = if rail.level { (rail.from_m, rail.at_m) } else { (rail.at_m, rail.from_m) };
            let way = if rail.level { "to the right" } else { "upward" };
            Line::Mark([format!("{number} rail"), tape.read(left), tape.read(lower), format!("{} long {way}", tape.read(rail.length_m))])
        })
        .collect();
    if !lines.is_empty() {
        lines.splice(0..0, [Line::Head("Rails, before any panel: end, middle".to_owned()), Line::Columns]);
    }
    lines
}

/// What a mark is for, in a word or two.
fn into(mark: &Mark, room: f64) -> String {
    let member = mark.member.as_deref().unwrap_or_default();
    let words = match mark.what {
        MarkKind::Fixing => return member.to_owned(),
        MarkKind::Wire => ["wire", "wire", "wire"],
        MarkKind::Secondary => ["secondary wire", "second wire", "2nd wire"],
    };
    let letters = Lettering::new(SMALL, paper::INK);
    let fits = |text: &String| letters.length(text) <= room;
    let last = format!("{}, {member}", words[2]);
    // Cut where it is set rather than without what it is.
    words.map(|word| format!("{word}, {member}")).into_iter().find(fits).unwrap_or(last)
}

/// Notes of the panels, those that are the same together; rows; the rule.
fn remarks(marking: Marking<'_>, tape: Tape) -> Vec<Line> {
    let surface = marking.surface;
    let mut lines = vec![Line::Head("To these marks".to_owned())];
    lines.extend(in_line(surface));
    lines.extend(behind(surface));
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
fn behind(surface: &MarkedSurface) -> Vec<Line> {
    let told: Vec<String> = surface
        .members
        .iter()
        .map(|members| match members.kind.word() {
            kind if members.name.contains(kind) => members.name.clone(),
            kind => format!("{} ({kind})", members.name),
        })
        .collect();
    let text = if told.is_empty() {
        "what is behind it is not in the scene: find out before you drill".to_owned()
    } else {
        format!("behind it: {}", told.join(", "))
    };
    let mut lines = wrapped("", &text, false);
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
fn wrapped(lead: &str, text: &str, heavy: bool) -> Vec<Line> {
    let letters = if heavy { Lettering::new(SMALL, paper::INK).bold() } else { Lettering::new(SMALL, paper::INK) };
    let whole = if lead.is_empty() { text.to_owned() } else { format!("{lead} {text}") };
    letters.wrap(&whole, COLUMN).into_iter().map(|line| if heavy { Line::Heavy(line) } else { Line::Note(line) }).collect()
}

/// Where the two measures end in a column, mm: feet, inches and sixteenths take more.
fn stops(tape: Tape) -> [f64; 2] {
    if tape.is_inch() { [22.0, 38.0] } else { [20.0, 34.0] }
}

/// Room for where a mark lies, mm.
fn where_width(tape: Tape) -> f64 {
    COLUMN - stops(tape)[1] - 2.0 - 3.4
}

/// How many columns of the table this width holds.
fn columns_within(width: f64) -> usize {
    ((width + BETWEEN) / (COLUMN + BETWEEN)).max(0.0) as usize
}

/// Sets lines in columns from an upper left corner; what has no room is returned.
fn pour(page: &mut Drawing, lines: &[Line], corner: DVec2, columns: usize, heads: (&Origin, Tape)) -> Vec<Line> {
    let bottom = page.size.y - FOOT - 1.0;
    let rows = ((bottom - corner.y) / ROW).max(0.0) as usize;
    let mut rest = lines;
    for column in 0..columns {
        if rest.is_empty() {
            break;
        }
        let at = corner + DVec2::new(column as f64 * (COLUMN + BETWEEN), 0.0);
        let mut count = rest.len().min(rows);
        // A heading, or a panel without its first mark, goes over with what it heads.
        while count > 1 && count < rest.len() && matches!(rest[count - 1], Line::Head(_) | Line::Columns | Line::Panel(_)) {
            count -= 1;
        }
        column_of(page, &rest[..count], at, heads);
        rest = &rest[count..];
    }
    rest.to_vec()
}

/// One column.
fn column_of(page: &mut Drawing, lines: &[Line], at: DVec2, (origin, tape): (&Origin, Tape)) {
    let [first, second] = stops(tape);
    let ink = Lettering::new(SMALL, paper::INK);
    for (index, line) in lines.iter().enumerate() {
        let y = at.y + ROW * (index as f64 + 0.7);
        let place = |x: f64| DVec2::new(at.x + x, y);
        match line {
            Line::Head(text) => page.text(place(0.0), text, Lettering::new(2.8, paper::INK).bold()),
            Line::Columns => {
                let quiet = Lettering::new(2.2, paper::QUIET);
                let [left, lower] = origin.heads();
                page.text(place(0.0), "mark", quiet);
                page.text(place(first), &left, quiet.end());
                page.text(place(second), &lower, quiet.end());
            }
            Line::Heavy(text) => page.text(place(0.0), text, ink.bold()),
            Line::Note(text) => page.text(place(0.0), text, ink),
            Line::Panel(cells) | Line::Mark(cells) => {
                let letters = if matches!(line, Line::Panel(_)) { ink.bold() } else { ink };
                page.text(place(0.0), &cells[0], letters);
                page.text(place(first), &cells[1], letters.end());
                page.text(place(second), &cells[2], letters.end());
                page.text(place(second + 2.0), &letters.fit(&cells[3], where_width(tape)), letters);
                page.rect(Area::new(at.x + COLUMN - 2.8, y - 2.3, 2.5, 2.5), Look::line(paper::INK, 0.2));
                page.line(place(0.0) + DVec2::new(0.0, 0.9), place(COLUMN) + DVec2::new(0.0, 0.9), Look::line(paper::LINE, 0.12));
            }
        }
    }
}
