//! The sheet that goes up the ladder: one surface true to scale with every mark on it, its table in hanging order, what lies behind, and what could hurt there.
//!
//! The scale is the largest of the list at which drawing, table and cautions find room on one page, or the next where that has room for all of the table; what the table has no room for
//! goes on on a page of its own.
//!
//! *Limits.* Measures are those of the scene: what a tape says on the day wins.

mod members;
mod remarks;

use glam::DVec2;

use self::remarks::{remarks, wrapped};
use crate::report::elevation::Elevation;
use crate::report::hung::Hung;
use crate::report::paper;
use crate::report::sheet::{self, A4, FOOT, Format, Job, LEFT, LETTER, MARGIN, ROW, TOP};
use crate::report::sheet_title::{self, Origin};
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::tape::Tape;
use crate::scene::making::{Making, Paper};
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
/// A column of more rows than this is a tall one.
const TALL: usize = 30;
/// Arms of the cross at a mark, mm.
const ARM: f64 = 1.3;

/// A line of the table.
#[derive(Clone, Debug, PartialEq)]
enum Line {
    /// A heading.
    Head(String),
    /// What the columns are.
    Columns,
    /// A panel: number, left, lower, size; whether there is a box to tick: not where it is not to be hung.
    Panel([String; 4], bool),
    /// A mark: name, left, lower, where; as above.
    Mark([String; 4], bool),
    /// What the columns and rows are, said once.
    Quiet(&'static str),
    /// What a person must read; whether it goes on from the line before.
    Heavy(String, bool),
    /// A remark; whether it goes on from the line before.
    Note(String, bool),
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
    let format = format(marking.paper, Tape::of(marking.job.scene.unit));
    let (scale, pages) = drawn(marking, format);
    // A larger drawing is not worth a page for a few words that the next scale leaves room for.
    let smaller = format.scales.iter().position(|other| *other > scale).map_or(&[][..], |next| &format.scales[next..]);
    if pages.len() == 1 || smaller.is_empty() {
        return pages;
    }
    let (_, fewer) = drawn(marking, Format { scales: smaller, ..format });
    if fewer.len() < pages.len() { fewer } else { pages }
}

/// The same at the largest scale of the format, and which that is.
fn drawn(marking: Marking<'_>, format: Format) -> (f64, Vec<Drawing>) {
    let job = marking.job;
    let tape = Tape::of(job.scene.unit);
    let hung: Vec<&Hung> = in_order(job.hung, marking.surface.facet);
    let whole = Elevation::new(job.room, marking.surface.facet, 1.0, DVec2::ZERO);
    let origin = Origin::of(job.room, &whole);
    let lines = lines(marking, tape, &origin);
    let arranged = arrange(marking, format, lines.len());
    let view = arranged.view;
    let mut page = Drawing::new(format.size.x, format.size.y, paper::WHITE);
    sheet_title::draw(&mut page, job, &view, tape, 1);
    members::draw(&mut page, &view, marking.surface);
    draw_rails(&mut page, &view, marking.surface);
    let names = view.draw_parts(&mut page, job.scene, None);
    page.polygon(&view.outline(), Look::line(paper::INK, 0.55));
    let level = sheet::level_line(&mut page, &view, &hung);
    for panel in &hung {
        sheet::draw_panel(&mut page, &view, panel);
    }
    let elsewhere = draw_elsewhere(&mut page, &view, marking, &hung);
    draw_crosses(&mut page, &view, marking.surface);
    for (index, panel) in hung.iter().enumerate() {
        sheet::draw_lean(&mut page, &view, panel, tape);
        sheet::name_panel(&mut page, &view, panel, &hung[index + 1..], tape);
    }
    name_elsewhere(&mut page, &elsewhere);
    draw_marks(&mut page, &view, marking, &hung);
    sheet::draw_chains(&mut page, &view, &hung, tape, format, &origin);
    sheet_title::draw_corners(&mut page, &view);
    if let Some(level) = level {
        sheet::name_level(&mut page, &view, &hung, level, tape);
    }
    let panels: Vec<Area> = hung.iter().map(|panel| view.shown(&view.all(&panel.outline))).collect();
    view.write_names(&mut page, &names, &panels, Lettering::new(paper::SMALL, paper::QUIET).rim(paper::WHITE));
    members::name(&mut page, &view, marking.surface, &panels);
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
    (arranged.scale, pages)
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

/// Clouds that hang under the next part of the ceiling and reach below this one: their outline. Returns their numbers, and what is seen of each.
fn draw_elsewhere(page: &mut Drawing, view: &Elevation<'_>, marking: Marking<'_>, hung: &[&Hung]) -> Vec<(u32, Area)> {
    let elsewhere = marking.surface.panels.iter().filter(|panel| !is_hung(hung, panel.number));
    elsewhere
        .map(|panel| {
            let corners = corners(view, panel);
            page.clipped(&view.outline(), |page| page.polygon(&corners, Look::line(paper::INK, 0.3).dashed(1.8, 0.8)));
            (panel.number, view.shown(&corners))
        })
        .collect()
}

/// Their numbers, beside them where marks leave no room within.
fn name_elsewhere(page: &mut Drawing, elsewhere: &[(u32, Area)]) {
    let letters = Lettering::new(3.4, paper::INK).bold().middle().rim(paper::WHITE);
    for (number, area) in elsewhere {
        let name = number.to_string();
        if sheet::name_within(page, *area, &[], &name, letters).is_none() {
            let side = 0.5 * (area.size().x + letters.length(&name)) + 1.0;
            let beside = [1.0, -1.0].map(|way| area.middle() + DVec2::new(way * side, 1.2));
            let below = [area.high.y + 3.6, area.low.y - 1.2].map(|y| DVec2::new(area.middle().x, y));
            page.text_where_free(&[beside, below].concat(), &name, letters);
        }
    }
}

/// Whether a panel is drawn as hung on this surface.
fn is_hung(hung: &[&Hung], number: u32) -> bool {
    hung.iter().any(|hung| hung.number == Some(number))
}

/// Corners of a panel on the paper.
fn corners(view: &Elevation<'_>, panel: &MarkedPanel) -> Vec<DVec2> {
    let low = DVec2::new(panel.left_m, panel.bottom_m);
    let high = low + DVec2::new(panel.width_m, panel.height_m);
    view.all(&[low, DVec2::new(high.x, low.y), high, DVec2::new(low.x, high.y)])
}

/// A cross at every mark.
fn draw_crosses(page: &mut Drawing, view: &Elevation<'_>, surface: &MarkedSurface) {
    for mark in surface.panels.iter().flat_map(|panel| &panel.marks) {
        draw_cross(page, view, mark);
    }
}

/// A letter or a name beside every mark, and what must not be hung.
fn draw_marks(page: &mut Drawing, view: &Elevation<'_>, marking: Marking<'_>, hung: &[&Hung]) {
    let edges: Vec<Area> = marking.surface.panels.iter().map(|panel| view.shown(&corners(view, panel))).chain([view.area()]).collect();
    for panel in &marking.surface.panels {
        let area = view.shown(&corners(view, panel));
        if forbidden(marking.overhead, panel.number).is_some() {
            forbid(page, area, &edges);
        }
        // What lies beyond its panel, or in one that hangs elsewhere, could be anybody's: its whole name.
        let own = is_hung(hung, panel.number).then_some(area);
        panel.marks.iter().for_each(|mark| draw_letter(page, view, (mark, panel.number), own, &edges));
    }
}

/// Writes into a panel that it must not be hung, else beside it, where no mark is and across no edge.
fn forbid(page: &mut Drawing, panel: Area, edges: &[Area]) {
    let letters = Lettering::new(2.4, paper::INK).bold().middle().rim(paper::WHITE);
    let wide = letters.length("NOT TO BE HUNG") + 1.0 < panel.size().x;
    let words: &[&str] = if wide { &["NOT TO BE HUNG"] } else { &["NOT TO", "BE HUNG"] };
    let under = 2.8 * (words.len() - 1) as f64;
    let ground = |at: DVec2| {
        let lines = words.iter().enumerate().map(|(index, word)| letters.area(at + DVec2::new(0.0, 2.8 * index as f64), word));
        Area::round(&lines.flat_map(|area| [area.low, area.high]).collect::<Vec<_>>())
    };
    let middle = panel.middle();
    let inside = [-6.4, 6.4, -10.0, 10.0, -14.0, 14.0, -3.0, 3.0].map(|down| middle + DVec2::new(0.0, down));
    let beyond = [panel.low.y - 1.4 - under, panel.high.y + 3.0].map(|y| DVec2::new(middle.x, y));
    let side = 0.5 * (panel.size().x + ground(middle).size().x) + 1.0;
    let beside = [side, -side].map(|x| middle + DVec2::new(x, 0.0));
    let places = [&inside[..], &beyond, &beside].concat();
    let is_open = |at: &&DVec2| {
        let ground = ground(**at);
        page.is_free(&ground, 0.2) && edges.iter().all(|edge| edge.holds(&ground) || !edge.overlaps(&ground, 0.0))
    };
    let at = places.iter().find(is_open).copied().unwrap_or(places[0]);
    for (index, word) in words.iter().enumerate() {
        page.text(at + DVec2::new(0.0, 2.8 * index as f64), word, letters);
    }
}

fn draw_cross(page: &mut Drawing, view: &Elevation<'_>, mark: &Mark) {
    let at = view.paper(DVec2::new(mark.left_m, mark.bottom_m));
    let look = Look::line(paper::ACCENT, 0.3);
    page.line(at - DVec2::new(ARM, 0.0), at + DVec2::new(ARM, 0.0), look);
    page.line(at - DVec2::new(0.0, ARM), at + DVec2::new(0.0, ARM), look);
    let kept = |half: DVec2| Area { low: at - half, high: at + half };
    page.keep_free(kept(DVec2::new(ARM, 0.2)));
    page.keep_free(kept(DVec2::new(0.2, ARM)));
    page.keep_free(kept(DVec2::splat(if mark.what == MarkKind::Fixing { 0.2 } else { 0.95 })));
    match mark.what {
        MarkKind::Fixing => {}
        MarkKind::Wire => page.circle(at, 0.8, Look::line(paper::ACCENT, 0.3)),
        MarkKind::Secondary => {
            let corners = [DVec2::new(-0.8, -0.8), DVec2::new(0.8, -0.8), DVec2::new(0.8, 0.8), DVec2::new(-0.8, 0.8)];
            page.polygon(&corners.map(|corner| at + corner), Look::line(paper::ACCENT, 0.3));
        }
    }
}

/// Beside a mark: its letter within its own panel, else its whole name.
fn draw_letter(page: &mut Drawing, view: &Elevation<'_>, (mark, number): (&Mark, u32), own: Option<Area>, edges: &[Area]) {
    let at = view.paper(DVec2::new(mark.left_m, mark.bottom_m));
    let warned = |name: &str| if mark.in_line_with.is_some() { format!("{name}!") } else { name.to_owned() };
    let letters = Lettering::new(2.2, paper::INK).middle().rim(paper::PANEL);
    let letter = warned(mark.name.strip_prefix(&number.to_string()).unwrap_or(&mark.name));
    if let Some(own) = own.filter(|own| mark.what == MarkKind::Fixing && own.holds(&Area::round(&[at]))) {
        let is_free = |place: &DVec2| own.holds(&letters.area(*place, &letter)) && page.is_free(&letters.area(*place, &letter), 0.25);
        if let Some(place) = beside(at, letters.length(&letter), 0.0).into_iter().find(is_free) {
            page.text(place, &letter, letters);
            return;
        }
    }
    let (name, letters) = (warned(&mark.name), letters.rim(paper::WHITE));
    for far in [0.0, 1.4, 2.8, 4.6] {
        let mut places = beside(at, letters.length(&name), far);
        // Best across no edge of a panel.
        let crossed = |place: &DVec2| {
            let ground = letters.area(*place, &name);
            edges.iter().filter(|edge| edge.overlaps(&ground, -0.2) && !edge.holds(&ground)).count()
        };
        places.sort_by_key(crossed);
        if let Some(place) = places.iter().find(|place| page.is_free(&letters.area(**place, &name), 0.25)) {
            if far > 1.0 {
                let ground = letters.area(*place, &name);
                let to = at.clamp(ground.low, ground.high);
                page.line(at, to, Look::line(paper::SOFT, 0.12));
            }
            page.text(*place, &name, letters);
            return;
        }
    }
    page.text_where_free(&beside(at, letters.length(&name), 0.0), &name, letters);
}

/// Places for letters of this length round a mark, so much farther off than the nearest.
fn beside(at: DVec2, length: f64, far: f64) -> Vec<DVec2> {
    let half = 0.5 * length;
    let (near, side) = (half + 0.75 + far, half + ARM + 0.35 + far);
    let (above, below) = (-1.05 - far, 2.45 + far);
    // In the quarters between the arms; clear of a ring or a square; level with the mark; above and below.
    let (corner, over, under) = (half + 1.3 + far, -ARM - 0.85 - far, ARM + 2.05 + far);
    [
        (near, above),
        (-near, above),
        (near, below),
        (-near, below),
        (corner, above),
        (-corner, above),
        (corner, below),
        (-corner, below),
        (side, 0.6),
        (-side, 0.6),
        (0.0, over),
        (0.0, under),
    ]
    .map(|(x, y)| at + DVec2::new(x, y))
    .to_vec()
}

/// Why a panel must not be hung.
fn forbidden(overhead: &[Overhead], number: u32) -> Option<&Overhead> {
    overhead.iter().find(|overhead| overhead.number == number && !overhead.not_to_be_hung.is_empty())
}

/// The table, line by line.
fn lines(marking: Marking<'_>, tape: Tape, origin: &Origin) -> Vec<Line> {
    let surface = marking.surface;
    let mut lines = rails(surface, tape);
    let bold = Line::Quiet("Bold: the panel's own lower left corner.");
    lines.extend([Line::Head("Marks, in hanging order".to_owned()), Line::Columns, bold]);
    for panel in &surface.panels {
        let [left, lower] = [panel.left_m, panel.bottom_m].map(|meters| tape.read(meters));
        // Of a cloud only its shadow lies on the surface.
        let is_cloud = panel.marks.iter().any(|mark| mark.what == MarkKind::Wire);
        let size = if is_cloud { "cloud".to_owned() } else { format!("{} x {}", tape.read(panel.width_m), tape.read(panel.height_m)) };
        let barred = forbidden(marking.overhead, panel.number);
        lines.push(Line::Panel([panel.number.to_string(), left, lower, size], barred.is_none()));
        if let Some(overhead) = barred {
            lines.extend(wrapped("NOT TO BE HUNG:", &overhead.not_to_be_hung.join("; "), true));
        }
        for mark in &panel.marks {
            let [left, lower] = [mark.left_m, mark.bottom_m].map(|meters| tape.read(meters));
            let warned = if mark.in_line_with.is_some() { format!("{} !", mark.name) } else { mark.name.clone() };
            lines.push(Line::Mark([warned, left, lower, into(mark, where_width(tape))], barred.is_none()));
        }
    }
    lines.extend(remarks(marking, tape, origin));
    lines
}

/// Rails, which go on before any panel: where each begins, its middle, how long it is.
fn rails(surface: &MarkedSurface, tape: Tape) -> Vec<Line> {
    let all = surface.panels.iter().flat_map(|panel| panel.rails.iter().map(move |rail| (panel.number, rail)));
    let mut lines: Vec<Line> = all
        .map(|(number, rail)| {
            let (left, lower) = if rail.level { (rail.from_m, rail.at_m) } else { (rail.at_m, rail.from_m) };
            let way = if rail.level { "to the right" } else { "upward" };
            Line::Mark(
                [format!("{number} rail"), tape.read(left), tape.read(lower), format!("{} long {way}", tape.read(rail.length_m))],
                true,
            )
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
    if member.is_empty() {
        return words[0].to_owned();
    }
    let last = format!("{}, {member}", words[2]);
    // Cut where it is set rather than without what it is.
    words.map(|word| format!("{word}, {member}")).into_iter().find(fits).unwrap_or(last)
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

/// Sets lines in columns from an upper left corner; what has no room is returned, under a heading that says what goes on.
fn pour(page: &mut Drawing, lines: &[Line], corner: DVec2, columns: usize, heads: (&Origin, Tape)) -> Vec<Line> {
    let bottom = page.size.y - FOOT - 1.0;
    let rows = ((bottom - corner.y) / ROW).max(0.0) as usize;
    let mut rest = lines.to_vec();
    for column in 0..columns {
        let at = corner + DVec2::new(column as f64 * (COLUMN + BETWEEN), 0.0);
        let count = whole(&rest, rows);
        column_of(page, &rest[..count], at, heads);
        rest = going_on(&rest, count);
    }
    rest
}

/// How many of these lines a column of so many rows takes: a remark whole or not at all, and nothing that heads what comes after it.
fn whole(lines: &[Line], rows: usize) -> usize {
    let heads = |line: &Line| matches!(line, Line::Head(_) | Line::Columns | Line::Quiet(_) | Line::Panel(..));
    let goes_on = |line: &Line| matches!(line, Line::Heavy(_, true) | Line::Note(_, true));
    let most = lines.len().min(rows);
    let mut count = most;
    while count > 0 && count < lines.len() && (goes_on(&lines[count]) || heads(&lines[count - 1])) {
        count -= 1;
    }
    // What no column could hold whole is broken all the same; a short one is left empty.
    if count == 0 && rows > TALL { most } else { count }
}

/// What is left after so many lines, under their last heading.
fn going_on(lines: &[Line], count: usize) -> Vec<Line> {
    let rest = &lines[count..];
    let is_headed = rest.first().is_none_or(|line| matches!(line, Line::Head(_)));
    let head = lines[..count].iter().rev().find_map(|line| match line {
        Line::Head(text) => Some(text),
        _ => None,
    });
    let Some(head) = head.filter(|_| !is_headed) else { return rest.to_vec() };
    let mut all = vec![Line::Head(format!("{}, continued", head.split(',').next().unwrap_or(head)))];
    if matches!(rest[0], Line::Panel(..) | Line::Mark(..)) {
        all.push(Line::Columns);
    }
    all.extend_from_slice(rest);
    all
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
            Line::Quiet(text) => page.text(place(0.0), text, Lettering::new(2.2, paper::QUIET)),
            Line::Heavy(text, _) => page.text(place(0.0), text, ink.bold()),
            Line::Note(text, _) => page.text(place(0.0), text, ink),
            Line::Panel(cells, has_box) | Line::Mark(cells, has_box) => {
                let letters = if matches!(line, Line::Panel(..)) { ink.bold() } else { ink };
                page.text(place(0.0), &cells[0], letters);
                page.text(place(first), &cells[1], letters.end());
                page.text(place(second), &cells[2], letters.end());
                page.text(place(second + 2.0), &letters.fit(&cells[3], where_width(tape)), letters);
                if *has_box {
                    page.rect(Area::new(at.x + COLUMN - 2.8, y - 2.3, 2.5, 2.5), Look::line(paper::INK, 0.2));
                }
                page.line(place(0.0) + DVec2::new(0.0, 0.9), place(COLUMN) + DVec2::new(0.0, 0.9), Look::line(paper::LINE, 0.12));
            }
        }
    }
}
