//! Members behind a surface: their lines, what they are called, and where they are to be looked for.
//!
//! *Limits.* Where no place along a line is free of marks and letters, one that carries a mark is named over them, and any other not at all.

use glam::DVec2;

use crate::report::elevation::Elevation;
use crate::report::paper;
use crate::report::sheet_title::Origin;
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::tape::Tape;
use crate::workshop::MarkedSurface;
use crate::workshop::marking::MarkedMembers;
use crate::workshop::words::ordinal;

/// Spaces that differ by less than this are the same, meters.
const SAME: f64 = 0.001;
/// Places for a name along a line are this far apart, mm.
const STEP: f64 = 1.4;

/// Lines of what stands behind the surface.
pub(super) fn draw(page: &mut Drawing, view: &Elevation<'_>, surface: &MarkedSurface) {
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

/// What the lines are, beside the first of them that has room; the number of each, where there are several, at its beginning, else at its end, else where it is free.
pub(super) fn name(page: &mut Drawing, view: &Elevation<'_>, surface: &MarkedSurface, panels: &[Area]) {
    let letters = Lettering::new(2.2, paper::QUIET).rim(paper::WHITE);
    for members in surface.members.iter().filter(|members| !members.at_m.is_empty()) {
        let mut is_named = false;
        for (index, at) in members.at_m.iter().enumerate() {
            let number = if members.at_m.len() > 1 { ordinal(index + 1) } else { String::new() };
            let is_cut = members.is_cut.get(index).is_some_and(|is_cut| *is_cut);
            let number = if is_cut { format!("{number} cut") } else { number };
            let own = members.name_of(index);
            let marks = surface.panels.iter().flat_map(|panel| &panel.marks);
            let carries = marks.filter_map(|mark| mark.member.as_deref()).any(|member| member == own);
            let mut write = |text: &str, must: bool| {
                let places = places(view, (members.upright, *at), letters, text, panels);
                let free = places.iter().find(|at| page.is_free(&letters.area(**at, text), 0.3)).copied();
                match free {
                    Some(at) => page.text(at, text, letters),
                    None => return must && page.text_where_free(&places, text, letters),
                }
                true
            };
            let named = format!("{} {number}", members.name);
            if !is_named && write(named.trim_end(), false) {
                is_named = true;
            } else if !number.is_empty() {
                write(&number, carries);
            }
        }
    }
}

/// Where a name may stand beside a line, the best first: clear of panels, near its beginning, near its end, anywhere along it.
fn places(view: &Elevation<'_>, (upright, at): (bool, f64), letters: Lettering, text: &str, panels: &[Area]) -> Vec<DVec2> {
    let (area, length) = (view.area(), letters.length(text));
    let on = view.paper(if upright { DVec2::new(at, view.high.y) } else { DVec2::new(view.low.x, at) });
    let far = if upright { area.size().y } else { area.size().x };
    // From where along the line letters begin, and how far they reach along it.
    let (first, reach) = if upright { (3.0, 0.8) } else { (0.6, length + 0.6) };
    let last = far - reach;
    let begins = [0.0, 2.8, 5.8, 8.8].map(|more| first + more);
    let ends = [0.0, 2.8, 5.8].map(|less| last - less);
    let steps = ((last - first) / STEP).max(0.0) as usize;
    let between = (0..=steps).map(|step| first + STEP * step as f64);
    let sides = if upright { [0.6, -0.6 - length] } else { [-0.6, 2.3] };
    let mut all: Vec<DVec2> = begins
        .into_iter()
        .chain(ends)
        .chain(between)
        .flat_map(|along| sides.map(|side| on + if upright { DVec2::new(side, along) } else { DVec2::new(along, side) }))
        .filter(|at| {
            let ground = letters.area(*at, text);
            let corners = [ground.low, DVec2::new(ground.high.x, ground.low.y), ground.high, DVec2::new(ground.low.x, ground.high.y)];
            corners.iter().all(|corner| view.surface.outline.contains(view.position(*corner)))
        })
        .collect();
    all.sort_by_key(|at| panels.iter().any(|panel| panel.overlaps(&letters.area(*at, text), 0.0)));
    all
}

/// Where to look for members of a kind: the first, how far apart, how many; all places of those that stand unevenly.
pub(super) fn told(members: &MarkedMembers, tape: Tape, origin: &Origin) -> String {
    let name = match members.kind.word() {
        kind if members.name.contains(kind) => members.name.clone(),
        kind => format!("{} ({kind})", members.name),
    };
    let from = if members.upright { &origin.left } else { &origin.lower };
    let spaces: Vec<f64> = members.at_m.windows(2).map(|pair| pair[1] - pair[0]).collect();
    match (members.at_m.as_slice(), spaces.as_slice()) {
        ([], _) => name,
        ([first, ..], [space, ..]) if spaces.iter().all(|other| (other - space).abs() < SAME) => {
            let (first, space, count) = (tape.read(*first), tape.read(*space), members.at_m.len());
            format!("{name}: 1st at {first} from {from}, then every {space}, {count} of them")
        }
        (all, _) => {
            let all: Vec<String> = all.iter().map(|at| tape.read(*at)).collect();
            format!("{name}: at {} from {from}", all.join(", "))
        }
    }
}
