//! The room from above: which surface is which, where x and y are counted from, and where each panel comes.
//!
//! *Limits.* Drawn to no round scale: it shows where things are, the marking sheets how far.

use glam::DVec2;

use super::shop_pages::Job;
use crate::report::elevation::{bodies, bounds};
use crate::report::floor_plan::FloorPlan;
use crate::report::hung;
use crate::report::leaf::Writer;
use crate::report::svg::{Area, Drawing, Lettering, Look};
use crate::report::tape::Tape;
use crate::report::{paper, top_view};
use crate::scene::SourceKind;

/// Height of the drawing at most and, where a page is to be finished with it, at least, mm.
const HIGH: [f64; 2] = [88.0, 60.0];
/// What the heading over it takes, mm.
const HEADING: f64 = 10.0;
/// Room round the outline for names and axes, mm.
const ROUND: f64 = 12.0;

/// Draws it on the page.
pub fn draw(page: &mut Writer, job: Job<'_>) {
    let (low, high) = bounds(&job.scene.outline);
    let size = (high - low).max(DVec2::splat(0.01));
    let already = if job.scene.panels.is_empty() { "" } else { " Gray: what hangs already." };
    let words = format!(
        "Panels by their numbers, as they are hung; dashed: overhead.{already} Letters x and y: along which sides the overhead pages count, from the corner with the dot."
    );
    let round = 2.0 * ROUND + page.height_of(&words);
    let left = page.left() - round - HEADING;
    let tall = if left < HIGH[1] { HIGH[0] } else { left.min(HIGH[0]) };
    let scale = ((page.width() - 2.0 * ROUND) / size.x).min(tall / size.y);
    let tape = page.tape();
    page.section("The room from above", scale * size.y + round);
    page.paragraph(&words);
    page.figure(scale * size.y + 2.0 * ROUND, false, |page, area| {
        let left = area.low.x + 0.5 * (area.size().x - scale * size.x);
        let plan = FloorPlan { low, high, scale, at: DVec2::new(left, area.low.y + ROUND) };
        outline(page, job, &plan);
        axes(page, job, &plan, tape);
    });
}

fn outline(page: &mut Drawing, job: Job<'_>, plan: &FloorPlan) {
    page.polygon(&plan.all(&job.scene.outline), Look::fill(paper::WHITE).edged(paper::INK, 0.6));
    for body in bodies(job.scene) {
        let foot: Vec<DVec2> = body.corners[..4].iter().map(|corner| plan.paper(corner.truncate())).collect();
        page.polygon(&foot, Look::line(paper::SOFT, 0.2));
    }
    keep_walls_free(page, &plan.all(&job.scene.outline));
    let openings = top_view::draw_openings(page, plan, job.room);
    let all: Vec<_> = job.scene.panels.iter().chain(job.panels).cloned().collect();
    let hung = hung::panels(job.scene, job.room, &[], &all);
    let mut told: Vec<Told> = Vec::new();
    for panel in &hung {
        let look = if panel.number.is_none() {
            Look::fill(paper::LINE).edged(paper::SOFT, 0.2)
        } else {
            Look::fill(paper::PANEL).edged(paper::INK, 0.3)
        };
        let (area, normal) = plan.draw_panel(page, job.room, panel, look);
        if let Some(number) = panel.number {
            tell(&mut told, number, area, normal);
        }
    }
    top_view::keep_people_free(page, plan, job.room);
    top_view::draw_names(page, plan, job.scene, job.room);
    let letters = Lettering::new(paper::BODY, paper::INK).bold().middle().rim(paper::WHITE);
    for Told { area, outward, numbers } in &told {
        let text = numbers.iter().map(u32::to_string).collect::<Vec<_>>().join(", ");
        let drop = DVec2::new(0.0, 1.0);
        let places: Vec<DVec2> = if *outward == DVec2::ZERO {
            // Inside it, where nothing else stands.
            let steps = [0.0, -0.3, 0.3];
            steps.iter().flat_map(|y| steps.map(|x| area.middle() + area.size() * DVec2::new(x, *y) + drop)).collect()
        } else {
            let reach = 2.4 + 0.5 * letters.length(&text) * outward.x.abs();
            [0.0, 2.6, 5.2, 7.8].map(|more| area.middle() + *outward * (reach + more) + drop).to_vec()
        };
        page.text_where_free(&places, &text, letters);
    }
    // A side alone reads like one of the room's.
    let mut people = job.room.clone();
    let is_side = |name: &str| ["left", "right", "center", "middle"].contains(&name);
    let sides = people.sources.iter_mut().filter(|source| source.kind == SourceKind::Loudspeaker && is_side(&source.name));
    sides.for_each(|source| source.name = format!("loudspeaker {}", source.name));
    top_view::draw_people(page, plan, &people);
    let quiet = Lettering::new(2.2, paper::QUIET).middle().rim(paper::WHITE);
    for (places, name) in openings {
        page.text_where_free(&places, &name, quiet);
    }
}

/// Small boxes along the walls, so that names stand on one side of them.
fn keep_walls_free(page: &mut Drawing, outline: &[DVec2]) {
    for (index, from) in outline.iter().enumerate() {
        let to = outline[(index + 1) % outline.len()];
        let steps = from.distance(to).ceil().max(1.0) as u32;
        let along = (0..=steps).map(|step| from.lerp(to, f64::from(step) / f64::from(steps)));
        along.for_each(|at| page.keep_free(Area::new(at.x - 0.5, at.y - 0.5, 1.0, 1.0)));
    }
}

/// Panels that are told at one place: where they lie on the paper, which way out of the room is, their numbers.
struct Told {
    area: Area,
    outward: DVec2,
    numbers: Vec<u32>,
}

/// Panels one over another share a place: their numbers stand side by side.
fn tell(told: &mut Vec<Told>, number: u32, area: Area, normal: DVec2) {
    let outward = normal.try_normalize().map_or(DVec2::ZERO, |normal| normal * DVec2::new(-1.0, 1.0));
    let same = told
        .iter_mut()
        .find(|other| other.area.middle().distance(area.middle()) < 2.0 && (other.outward == DVec2::ZERO) == (outward == DVec2::ZERO));
    match same {
        Some(other) if !other.numbers.contains(&number) => other.numbers.push(number),
        Some(_) => {}
        None => told.push(Told { area, outward, numbers: vec![number] }),
    }
}

/// The axes of the plan outside its lowest corner, a dot on the corner of the room that lies nearest, and what x and y are there.
fn axes(page: &mut Drawing, job: Job<'_>, plan: &FloorPlan, tape: Tape) {
    let corner = plan.area();
    let at = DVec2::new(corner.low.x - 7.0, corner.high.y + 7.0);
    page.arrow(at, at + DVec2::new(12.0, 0.0), paper::INK, 0.3);
    page.arrow(at, at - DVec2::new(0.0, 12.0), paper::INK, 0.3);
    let letters = Lettering::new(paper::BODY, paper::INK).bold();
    page.text(at + DVec2::new(13.2, 1.0), "x", letters);
    page.text(at + DVec2::new(-0.9, -13.4), "y", letters);
    let off = |corner: &DVec2| corner.distance_squared(plan.low);
    let Some(dot) = job.scene.outline.iter().copied().min_by(|a, b| off(a).total_cmp(&off(b))) else { return };
    page.circle(plan.paper(dot), 1.2, Look::fill(paper::INK).edged(paper::WHITE, 0.3));
    let small = Lettering::new(paper::SMALL, paper::INK);
    // Beside the axes, below every wall.
    page.text(at + DVec2::new(16.4, 1.0), &format!("at the dot: x {}, y {}", tape.read(dot.x), tape.read(dot.y)), small);
}
