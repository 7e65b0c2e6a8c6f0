//! Pages, drawings and pictures of a study: pure functions from values to strings and bytes.
//!
//! [`files`] is everything that `place` writes beside plan.toml and plan.json; [`hear_files`] is what `hear` writes, [`absorption`] draws what `absorbers` compares, [`cloud_files`] is what `cloud`
//! writes beside cloud.toml and cloud.json, [`build_files`] what `build` does beside build.json, [`positions_files`] what `positions` writes beside positions.toml and positions.json,
//! [`bass_files`] what `bass` writes beside bass.json, [`prove_files`] what `prove` writes, [`voice_files`] what it writes of a voice, [`sweep_files`] the sounds of `sweep`, [`sound_files`] those of `hear --sound`, [`write_played`] what is played there,
//! [`compare_files`] what `compare` writes, [`lesson_files`] what `lesson` writes beside its scenes.
//!
//! *Limits.* Pictures are drawn in parallel; their bytes and their order do not depend on the number of threads.

pub mod absorption;
pub mod as_built;
pub mod axis;
pub mod axonometry;
pub mod bass;
mod bass_corners;
pub mod bass_map;
pub mod bass_modes;
pub mod bass_time;
pub mod build;
pub mod chart;
pub mod choice;
pub mod cloud;
pub mod compare;
pub mod content;
pub mod dimension;
mod document;
mod edged;
pub mod elevation;
mod explain;
mod floor_plan;
mod handout;
pub mod heatmap;
pub mod html;
pub mod hung;
mod layouts;
pub mod leaf;
pub mod leaf_table;
mod listen;
mod owned;
pub mod page;
pub mod paper;
pub mod pdf;
pub mod pdf_order;
pub mod plot;
pub mod positions;
pub mod positions_map;
mod prove;
pub mod raster;
mod score;
pub mod sheet;
pub mod sheet_title;
pub mod suspended;
pub mod svg;
mod sweep;
pub mod tape;
pub mod text;
pub mod tone;
pub mod top_view;
mod voice;

pub use bass::bass_files;
pub use build::build_files;
pub use cloud::cloud_files;
pub use compare::{compare_files, lesson_files};
pub use handout::{Contents, ContentsPart, Handout, handout_files};
pub use listen::{PlayedError, sound_files, write_played};
pub use positions::positions_files;
pub use prove::prove_files;
pub use sweep::sweep_files;
pub use voice::voice_files;

use rayon::prelude::*;

use crate::findings::{Findings, Pair};
use crate::plan::{Plan, PlanPictures, SurfaceMap};
use crate::room::{Role, Room};
use crate::scene::Scene;

use heatmap::Heat;
use html::Names;
use page::{Beside, Kind};

/// Hot spots that a list holds at most: behind them stands a tail of hundreds that carry a percent each.
pub const HOT_SPOTS: usize = 24;

/// Width of pictures, pixels.
const PIXELS: u32 = 1200;

/// A file to be drawn: what it is, and how.
struct Planned<'a> {
    beside: Beside,
    draw: Box<dyn Fn() -> String + Send + Sync + 'a>,
}

impl<'a> Planned<'a> {
    fn new(name: impl Into<String>, kind: Kind, about: impl Into<String>, draw: impl Fn() -> String + Send + Sync + 'a) -> Self {
        Self { beside: Beside { name: name.into(), about: about.into(), kind }, draw: Box::new(draw) }
    }

    /// Name and bytes; what is named `.png` becomes a picture.
    fn make(&self) -> (String, Vec<u8>) {
        let drawing = (self.draw)();
        let bytes = if self.beside.name.ends_with(".png") {
            raster::png(&drawing, PIXELS).expect("our own drawings are well-formed and of moderate size")
        } else {
            drawing.into_bytes()
        };
        (self.beside.name.clone(), bytes)
    }
}

/// Draws all, in parallel, in order, after a page.
fn make(page: (String, Vec<u8>), planned: &[Planned<'_>]) -> Vec<(String, Vec<u8>)> {
    let mut files = vec![page];
    files.par_extend(planned.par_iter().map(Planned::make));
    files
}

/// Everything that `place` writes beside plan.toml and plan.json: file name and bytes, `index.html` first.
#[must_use]
pub fn files(scene: &Scene, room: &Room, plan: &Plan, pictures: &PlanPictures) -> Vec<(String, Vec<u8>)> {
    let hung = hung::panels(scene, room, &plan.placed, &pictures.panels);
    // On the sheets what stays where it hangs is drawn as what hangs already: there is nothing to mark for it.
    let to_mark = |panel: &hung::Hung| panel.number.filter(|&number| !plan.hangs_already(number));
    let marked: Vec<hung::Hung> = hung.iter().map(|panel| hung::Hung { number: to_mark(panel), ..panel.clone() }).collect();
    let window = 1000.0 * scene.settings.window_s;
    let (before, after) = (&plan.before, &plan.after);
    let mut names = Names::default();
    let mut all = Vec::new();
    // A panel can be centered only where all of it fits: where that leaves most of the walls without color, the derivative shows more.
    let (heat, maps) =
        if coverage(room, &pictures.earning) < 0.7 { (Heat::Early, &pictures.early) } else { (Heat::Earning, &pictures.earning) };
    for name in ["room.svg", "room.png"] {
        let about = format!("the room, the plan, and in color {}", heat.meaning());
        let view = axonometry::View { scene, room, hung: &hung, hot_spots: &plan.hot_spots, maps, heat };
        all.push(Planned::new(name, Kind::Room, about, move || axonometry::svg(view)));
    }
    all.push(Planned::new("top-view.svg", Kind::TopView, "early reflections as the room stands, from above", move || {
        top_view::svg(scene, room, before, window)
    }));
    if let Some(choice) = &plan.choice {
        let about = "what a square meter of the types that exclude one another absorbs, by frequency";
        all.push(Planned::new("alternatives.svg", Kind::Curves, about, move || choice::curves(scene, choice)));
    }
    all.push(Planned::new("earnings.svg", Kind::Earnings, "what each panel earns", || chart::earnings(&plan.placed)));
    if let Some(curve) = plan.curve.as_ref().filter(|curve| curve.points.len() > 1) {
        let about = "what is wrong after so many panels, in the order of greatest gain";
        all.push(Planned::new("how-many.svg", Kind::HowMany, about, move || explain::svg(curve)));
    }
    if !pictures.layouts.is_empty() {
        let about = "the plan, the room without it, and the same stock hung by rules of thumb, each with what is wrong with it";
        all.push(Planned::new("layouts.svg", Kind::Layouts, about, || layouts::svg(scene, room, plan, pictures)));
    }
    all.push(Planned::new("decay.svg", Kind::Decay, "decay time by octave, before and after", move || chart::decay(before, Some(after))));
    all.extend(pair_charts(before, Some(after), window, "", &mut names));
    all.extend(sheets(scene, room, plan, &marked, &mut names));
    let sheet = heatmap::Sheet { scene, room, hung: &hung, hot_spots: &plan.hot_spots };
    let kinds = [
        (Heat::Earning, &pictures.earning, Kind::Heat),
        (Heat::Early, &pictures.early, Kind::Map),
        (Heat::Clarity, &pictures.clarity, Kind::Map),
        (Heat::Late, &pictures.late, Kind::Map),
    ];
    for (heat, maps, kind) in kinds {
        all.extend(heat_maps(sheet, heat, maps, kind, &mut names));
    }
    let besides: Vec<Beside> = all.iter().map(|planned| planned.beside.clone()).collect();
    let index = page::plan(scene, room, plan, &hung, &besides);
    let mut files = make(("index.html".to_owned(), index.into_bytes()), &all);
    files.extend(plan.after.bass.iter().flat_map(|study| bass_files(scene, study, None)));
    files
}

/// Everything that `hear` writes: file name and bytes, `hear.html` first.
#[must_use]
pub fn hear_files(scene: &Scene, room: &Room, findings: &Findings) -> Vec<(String, Vec<u8>)> {
    let hung = hung::panels(scene, room, &[], &scene.panels);
    let window = 1000.0 * scene.settings.window_s;
    let mut names = Names::default();
    let mut all = Vec::new();
    all.push(Planned::new("hear-room.svg", Kind::Room, "the room", || {
        axonometry::svg(axonometry::View { scene, room, hung: &hung, hot_spots: &[], maps: &[], heat: Heat::Earning })
    }));
    all.push(Planned::new("hear-top-view.svg", Kind::TopView, "early reflections from above", move || {
        top_view::svg(scene, room, findings, window)
    }));
    all.push(Planned::new("hear-decay.svg", Kind::Decay, "decay time by octave", move || chart::decay(findings, None)));
    all.extend(pair_charts(findings, None, window, "hear-", &mut names));
    let besides: Vec<Beside> = all.iter().map(|planned| planned.beside.clone()).collect();
    let mut files = make(("hear.html".to_owned(), page::hear(scene, findings, &besides).into_bytes()), &all);
    files.extend(findings.bass.iter().flat_map(|study| bass_files(scene, study, None)));
    files
}

/// Which share of the patches of the walls has a value.
fn coverage(room: &Room, maps: &[SurfaceMap]) -> f64 {
    let walls = || maps.iter().filter(|map| room.surfaces.get(map.surface).is_some_and(|surface| matches!(surface.role, Role::Wall(_))));
    let all = walls().map(|map| map.values.len()).sum::<usize>().max(1);
    walls().flat_map(|map| &map.values).filter(|value| value.is_finite()).count() as f64 / all as f64
}

/// Energy-time curve, early response and decays of every pair.
fn pair_charts<'a>(before: &'a Findings, after: Option<&'a Findings>, window: f64, prefix: &str, names: &mut Names) -> Vec<Planned<'a>> {
    let mut all = Vec::new();
    for (index, pair) in before.pairs.iter().enumerate() {
        let other: Option<&Pair> = after.and_then(|after| after.pairs.get(index));
        let words = format!("{} {}", pair.source, pair.receiver);
        let about = |what: &str| format!("{what}, {} at {}", pair.source, pair.receiver);
        let name = names.give(&format!("{prefix}energy-time"), &words, "svg");
        all.push(Planned::new(name, Kind::EnergyTime, about("what arrives, and when"), move || chart::energy_time(pair, other, window)));
        let name = names.give(&format!("{prefix}early-response"), &words, "svg");
        let draw = move || tone::early_response(pair, other, window, before.survey.schroeder_hz);
        all.push(Planned::new(name, Kind::EarlyResponse, about("the tone of the first sound"), draw));
        let name = names.give(&format!("{prefix}decay"), &words, "svg");
        all.push(Planned::new(name, Kind::DecayCurves, about("decay by octave"), move || chart::decay_curves(pair, other)));
    }
    all
}

/// One working drawing for every surface that something of the plan hangs on.
fn sheets<'a>(scene: &'a Scene, room: &'a Room, plan: &'a Plan, hung: &'a [hung::Hung], names: &mut Names) -> Vec<Planned<'a>> {
    let treated: Vec<usize> =
        (0..room.surfaces.len()).filter(|index| hung.iter().any(|panel| panel.surface == *index && panel.number.is_some())).collect();
    let sheets = treated.len();
    treated
        .into_iter()
        .enumerate()
        .map(|(order, index)| {
            let surface = &room.surfaces[index];
            let numbers: Vec<String> = hung
                .iter()
                .filter(|panel| panel.surface == index)
                .filter_map(|panel| panel.number)
                .map(|number| number.to_string())
                .collect();
            let plural = if numbers.len() == 1 { "" } else { "s" };
            let about = format!("{}: panel{plural} {}", heatmap::heading(&surface.name, surface.role), numbers.join(", "));
            let job = sheet::Job {
                scene,
                room,
                hung,
                hot_spots: &plan.hot_spots,
                sheet: order + 1,
                sheets,
                planned: plan.placed.len(),
                held_back: &plan.held_back,
                command: "roomwright place",
            };
            Planned::new(names.give("sheet", &surface.name, "svg"), Kind::Sheet(index), about, move || sheet::svg(job, index))
        })
        .collect()
}

/// One map for every surface of the shell.
fn heat_maps<'a>(sheet: heatmap::Sheet<'a>, heat: Heat, maps: &'a [SurfaceMap], kind: Kind, names: &mut Names) -> Vec<Planned<'a>> {
    let shell = |map: &&SurfaceMap| sheet.room.surfaces.get(map.surface).is_some_and(|surface| surface.role.is_shell());
    let marks = heatmap::scale(maps.iter().filter(shell));
    maps.iter()
        .filter(shell)
        .map(|map| {
            let surface = &sheet.room.surfaces[map.surface];
            let about = format!("{}: {}, {}", heatmap::heading(&surface.name, surface.role), heat.meaning(), heat.unit());
            let name = names.give(heat.file_word(), &surface.name, "png");
            Planned::new(name, kind, about, move || heatmap::svg(sheet, heat, map, marks))
        })
        .collect()
}
