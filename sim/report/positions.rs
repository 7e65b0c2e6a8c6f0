//! The page of where seat and loudspeakers stand: the place and its reasons, its measures, a map for each term of the score, what else was tried, cautions.

use crate::plan::Figures;
use crate::plan::positions::{Finalist, PositionsStudy, Standing};
use crate::scene::{Scene, Term};

use super::html::{self, estimate, figure, list, maybe, plain, signs, table};
use super::positions_map::{Shown, svg};
use super::svg::escape;
use super::text::figures::length;
use super::text::positions::{FACINGS, MEASURES, bass, better, columns, facings, measures, rays, reasons, tape_heading, weakest, what};
use super::text::score::known;

/// What `positions` writes beside the scene and the JSON: file name and bytes, the page first.
#[must_use]
pub fn positions_files(scene: &Scene, study: &PositionsStudy) -> Vec<(String, Vec<u8>)> {
    let maps = maps(study).map(|shown| (shown.file().to_owned(), svg(scene, study, shown).into_bytes()));
    std::iter::once(("positions.html".to_owned(), page(scene, study).into_bytes())).chain(maps).collect()
}

/// Maps that have something to show.
fn maps(study: &PositionsStudy) -> impl Iterator<Item = Shown> {
    Shown::ALL.into_iter().filter(|shown| shown.is_known(study))
}

fn page(scene: &Scene, study: &PositionsStudy) -> String {
    let mut body = format!(
        "<h1>{}: where seat and loudspeakers stand</h1>\n<p class=\"quiet\">{}</p>\n",
        escape(&scene.name),
        escape(&what(scene, study))
    );
    let mut sentences = study.reasons.iter();
    if let Some(verdict) = sentences.next() {
        body += &format!("<p class=\"lead\">{}</p>\n", signs(&escape(verdict)));
    }
    body += &signs(&list(&sentences.cloned().collect::<Vec<_>>()));
    for one in study.finalists.iter().filter(|one| one.is_better) {
        body += &format!("<h2>{}</h2>\n{}", escape(&tape_heading(one)), tape(scene, &one.standing));
    }
    body += "<h2>Maps</h2>\n<div class=\"two\">\n";
    for shown in maps(study) {
        body += &figure(shown.file(), shown.meaning());
    }
    body += "</div>\n<h2>The best places against the present one</h2>\n";
    body += &finalists(scene, study);
    for line in columns() {
        body += &format!("<p class=\"quiet\">{}</p>\n", escape(&line));
    }
    let heads = [FACINGS[0].to_owned()].into_iter().chain(FACINGS[1..].iter().map(|head| format!("#{head}"))).collect::<Vec<_>>();
    let rows: Vec<Vec<String>> = facings(study).into_iter().map(|row| row.map(|cell| escape(&cell)).to_vec()).collect();
    body += &format!("<h2>By facing</h2>\n{}", table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows));
    body += "<p class=\"quiet\">Against the present place, early terms of the score alone: these say where to look, the table above what it is worth.</p>\n";
    body += &format!("<h2>Where it stands now</h2>\n{}", tape(scene, &study.present.standing));
    if !study.left_out.is_empty() {
        body += &format!("<h2>At how many places it does not fit, and why</h2>\n{}", list(&reasons(study)));
    }
    body += &format!("<h2>Before you move anything</h2>\n<div class=\"box\">{}</div>\n", list(&study.cautions));
    let sure: Vec<String> = std::iter::once(rays(study)).chain(study.notes.iter().cloned()).collect();
    body += &format!("<h2>How sure this is</h2>\n{}", signs(&list(&sure)));
    body += &format!("<h2>Files beside this page</h2>\n{}", beside(study));
    html::page(&format!("{}: where seat and loudspeakers stand", scene.name), &body)
}

fn tape(scene: &Scene, standing: &[Standing]) -> String {
    let rows: Vec<Vec<String>> = standing.iter().map(|one| measures(scene, one).map(|cell| escape(&cell)).to_vec()).collect();
    table(&MEASURES, &rows)
}

fn finalists(scene: &Scene, study: &PositionsStudy) -> String {
    let terms = known(study.finalists.iter().map(|one| &one.gains_steps));
    let figures = |figures: &Figures| {
        vec![
            estimate(figures.early_level_db, 1),
            plain(figures.octave_mean_db(), 1),
            maybe(figures.likeness_db, 1),
            maybe(figures.speech_c50_db, 1),
            maybe(figures.t_mid_s, 2),
        ]
    };
    let facing = study.facings.first().map_or("", |facing| facing.wall.as_str());
    let dash = || "\u{2013}".to_owned();
    let now = [escape("now"), escape(facing), dash()].into_iter().chain(figures(&study.present.figures));
    let now = now.chain([bass(study.present.bass), weakest(study.present.bass)]);
    let now = now.chain(terms.iter().map(|_| dash())).chain([dash(), String::new()]).collect();
    let row = |one: &Finalist| -> Vec<String> {
        let place = [one.number.to_string(), escape(&one.facing), length(one.moved_m, scene)];
        let gains = terms.iter().map(|&term| maybe(one.gains_steps[term], 1));
        let suggested = if one.is_better { "<b>suggested</b>" } else { "" };
        let together = [format!("<b>{}</b>", signs(&better(one))), suggested.to_owned()];
        place.into_iter().chain(figures(&one.figures)).chain([bass(one.bass), weakest(one.bass)]).chain(gains).chain(together).collect()
    };
    let rows: Vec<Vec<String>> = std::iter::once(now).chain(study.finalists.iter().map(row)).collect();
    let fixed = ["place", "facing", "#moved", "#early, dB", "#over, dB", "#L-R, dB", "#C50, dB", "#decay, s", "#bass, dB", "#weakest"]
        .map(str::to_owned);
    let heads: Vec<String> = fixed
        .into_iter()
        .chain(terms.iter().map(|term: &Term| format!("#{}, steps", term.words())))
        .chain(["#better, steps", ""].map(str::to_owned))
        .collect();
    format!("<div class=\"scroll\">{}</div>\n", table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows))
}

fn beside(study: &PositionsStudy) -> String {
    let scene = study.suggested().map(|_| ("positions.toml", "the scene with the set at place 1: hear it, or place the panels there"));
    let json = ("positions.json", "every number of this page, and every place that was tried");
    let maps = maps(study).map(|shown| (shown.file(), shown.meaning()));
    let rows: Vec<Vec<String>> = scene
        .into_iter()
        .chain([json])
        .chain(maps)
        .map(|(name, about)| vec![format!("<a href=\"{name}\">{name}</a>"), escape(about)])
        .collect();
    table(&["file", "what it is"], &rows)
}
