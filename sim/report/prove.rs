//! The page of whether it worked: the answer, decay by octave and energy over time as measured and predicted, tables, how sure it is.

use glam::DVec2;

use crate::bands::Band;
use crate::prove::fit::Fit;
use crate::prove::fit::variant::FILE;
use crate::prove::{Compared, Found, Proof, Proved, ProvedOctave};
use crate::scene::Scene;
use crate::scene::edit::Edited;

use super::axis::Marks;
use super::html::{self, Names, figure, list, signs, table};
use super::paper;
use super::plot::{self, Plot};
use super::svg::{Area, Drawing, Lettering, Look, escape};
use super::text;
use super::text::prove::{
    COLUMNS, MEASURES, NEW_HEADS, REFLECTION_HEADS, REFLECTIONS, about, bent, cells, heading, heads, new, octave, reasons, reflection,
    speech,
};

/// What `prove` writes: file name and bytes, page and JSON first; the scene with fitted materials, where there is one, last.
#[must_use]
pub fn prove_files(scene: &Scene, proof: &Proof, variant: Option<&Edited>) -> Vec<(String, Vec<u8>)> {
    let mut names = Names::default();
    let mut charts = Vec::new();
    for one in &proof.recordings {
        let words = format!("{} {}", one.source, one.receiver);
        let decay = names.give("prove-decay", &words, "svg");
        let time = names.give("prove-energy-time", &words, "svg");
        let [decays, times] = self::charts(one, proof.asked_s);
        charts.push([(decay, decays), (time, times)]);
    }
    let page = page(scene, proof, &charts);
    let drawn = charts.into_iter().flatten().map(|(name, svg)| (name, svg.into_bytes()));
    let json = serde_json::to_string_pretty(proof).expect("a proof has no keys but texts");
    let first = [("prove.html".to_owned(), page.into_bytes()), ("prove.json".to_owned(), format!("{json}\n").into_bytes())];
    let last = variant.map(|variant| (FILE.to_owned(), variant.text.clone().into_bytes()));
    first.into_iter().chain(drawn).chain(last).collect()
}

/// Decays and energy over time of a recording, as drawings.
#[must_use]
pub(super) fn charts(one: &Proved, asked_s: Option<[f64; 2]>) -> [String; 2] {
    [decay_chart(one, asked_s), energy_time(one)]
}

/// Two charts of a recording, name and drawing.
type Charts = [(String, String); 2];

fn page(scene: &Scene, proof: &Proof, charts: &[Charts]) -> String {
    let mut body = format!("<h1>{}: did it work?</h1>\n", escape(&scene.name));
    let mut sentences = proof.verdict.iter();
    if let Some(first) = sentences.next() {
        body += &format!("<p class=\"lead\">{}</p>\n", signs(&escape(first)));
    }
    body += &signs(&list(&sentences.cloned().collect::<Vec<_>>()));
    if let Some(by) = &proof.asked_by {
        body += &format!("<p class=\"quiet\">What is asked of the decay: {}.</p>\n", escape(by));
    }
    body += &proof.fit.as_ref().map_or_else(String::new, fitted);
    for (one, charts) in proof.recordings.iter().zip(charts) {
        body += &recording(one, charts);
    }
    body += &format!("<h2>How sure this is</h2>\n{}", signs(&list(&proof.notes)));
    let json = ("prove.json".to_owned(), "every number of this page, third octaves among them".to_owned());
    let drawn = proof.recordings.iter().zip(charts).flat_map(|(one, charts)| {
        let what = ["decay by octave", "what arrives, and when"];
        charts.iter().zip(what).map(move |((name, _), what)| (name.clone(), format!("{what}, {}", heading(one))))
    });
    let variant = proof.fit.as_ref().filter(|fit| !fit.changed.is_empty());
    let variant = variant.map(|_| (FILE.to_owned(), "the scene with fitted materials: hear it, or place anew".to_owned()));
    let rows = std::iter::once(json)
        .chain(variant)
        .chain(drawn)
        .map(|(name, about)| vec![format!("<a href=\"{0}\">{0}</a>", escape(&name)), escape(&about)]);
    body += &format!("<h2>Files beside this page</h2>\n{}", table(&["file", "what it is"], &rows.collect::<Vec<_>>()));
    html::page(&format!("{}: did it work?", scene.name), &body)
}

/// Materials fitted to what was measured.
fn fitted(fit: &Fit) -> String {
    let heads = |heads: &[&str]| -> Vec<String> { heads.iter().map(|head| of_text(head)).collect() };
    let cells = |row: &[String]| -> Vec<String> { row.iter().map(|cell| escape(cell)).collect() };
    let one = |all: &[&str], rows: Vec<Vec<String>>, what: &str| {
        let heads = heads(all);
        let table = table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows);
        format!("{table}<p class=\"quiet\">{}</p>\n", escape(what))
    };
    let decays = text::fit::decays(fit).iter().map(|row| cells(row)).collect();
    let materials = text::fit::materials(fit).iter().map(|row| cells(row)).collect();
    format!(
        "<h2>{}</h2>\n{}{}{}{}",
        escape(text::fit::HEADING),
        list(&fit.verdict),
        one(&text::fit::DECAY_HEADS, decays, text::fit::DECAYS),
        one(&text::fit::MATERIAL_HEADS, materials, text::fit::MATERIALS),
        list(&fit.notes)
    )
}

fn recording(one: &Proved, charts: &Charts) -> String {
    let with_before = one.before.is_some();
    let mut body = format!(
        "<h2>{}</h2>\n<p class=\"quiet\">{}</p>\n<p>{}</p>\n",
        escape(&heading(one)),
        escape(&about(one)),
        signs(&escape(&speech(one)))
    );
    body += &format!(
        "<div class=\"two\">\n{}{}</div>\n",
        figure(&charts[0].0, "decay by octave, measured and predicted"),
        figure(&charts[1].0, "what arrives, and when")
    );
    for (name, unit, digits, of) in MEASURES {
        let heads: Vec<String> = heads(unit, with_before).iter().map(|head| of_text(head)).collect();
        let row = |each: &ProvedOctave| {
            std::iter::once(octave(each)).chain(cells(of(each), digits, with_before)).map(|cell| signs(&escape(&cell))).collect()
        };
        let rows: Vec<Vec<String>> = one.octaves.iter().map(row).collect();
        body += &format!("<h3>{}</h3>\n{}", escape(name), table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows));
    }
    body += &format!("<p class=\"quiet\">{}</p>\n", escape(COLUMNS));
    body += &list(&bent(one).into_iter().chain(reasons(one)).collect::<Vec<_>>());
    let rows = |rows: Vec<Vec<String>>, heads: &[&str]| {
        let heads: Vec<String> = heads.iter().map(|head| of_text(head)).collect();
        table(&heads.iter().map(String::as_str).collect::<Vec<_>>(), &rows)
    };
    if !one.reflections.is_empty() {
        let all = one.reflections.iter().map(|each| reflection(each).map(|cell| escape(&cell)).to_vec()).collect();
        body += &format!("<h3>Early reflections</h3>\n{}<p class=\"quiet\">{}</p>\n", rows(all, &REFLECTION_HEADS), escape(REFLECTIONS));
    }
    if !one.new_reflections.is_empty() {
        let all = one.new_reflections.iter().map(|each| new(each).map(|cell| escape(&cell)).to_vec()).collect();
        body += &format!("<h3>Reflections that nothing predicts</h3>\n{}", rows(all, &NEW_HEADS));
    }
    body
}

/// A head of a text's table as one of a page's: columns of words there are marked, those of numbers here.
fn of_text(head: &str) -> String {
    head.strip_prefix('<').map_or_else(|| format!("#{head}"), str::to_owned)
}

/// Decay by octave: measured with the scatter of the place, predicted with where inputs may move it, before.
fn decay_chart(one: &Proved, asked: Option<[f64; 2]>) -> String {
    let mut page = Drawing::new(160.0, 100.0, paper::CARD);
    plot::title(
        &mut page,
        &format!("{}: how long it rings", heading(one)),
        "T30 or T20 by octave; whiskers: two standard uncertainties of a single place",
    );
    let decays: Vec<&Compared> = one.octaves.iter().map(ProvedOctave::decay).collect();
    let tops = decays.iter().flat_map(|decay| {
        let measured = decay.measured.value.map(|value| value + 2.0 * decay.scatter.unwrap_or(0.0));
        let before = decay.before.as_ref().and_then(|before| before.value);
        [measured, decay.predicted.map(|predicted| predicted.value), decay.predicted_inputs.map(|inputs| inputs.high), before]
            .into_iter()
            .flatten()
    });
    let highest = tops.chain(asked.map(|[_, high]| high)).filter(|value| value.is_finite()).fold(0.1, f64::max);
    let frame = Plot {
        area: Area::new(20.0, 20.0, 132.0, 60.0),
        x: Marks { low: 0.0, high: 8.0, step: 1.0 },
        y: Marks::round(0.0, 1.06 * highest, 6),
    };
    let ends =
        one.decay_octaves_hz.map(|ends| ends.map(|hertz| Band::ALL.iter().position(|band| band.nominal() == hertz).unwrap_or(0) as f64));
    if let Some(([low, high], [first, last])) = asked.zip(ends) {
        page.rect(frame.box_between((first, low), (last + 1.0, high)), Look::fill(paper::ACCENT_SHADE));
    }
    frame.draw_y(&mut page, "seconds");
    let plain = Lettering::new(paper::SMALL, paper::INK).middle();
    for (band, decay) in Band::ALL.into_iter().zip(&decays) {
        let start = band.index() as f64;
        page.text(frame.at(start + 0.5, 0.0) + DVec2::new(0.0, 4.0), band.label(), plain);
        if let Some(before) = decay.before.as_ref().and_then(|before| before.value) {
            page.rect(frame.box_between((start + 0.1, 0.0), (start + 0.38, before)), Look::fill(paper::PALE));
        }
        if let Some(value) = decay.measured.value {
            page.rect(frame.box_between((start + 0.38, 0.0), (start + 0.66, value)), Look::fill(paper::INK));
            let reach = 2.0 * decay.scatter.unwrap_or(0.0);
            page.line(
                frame.at(start + 0.52, (value - reach).max(0.0)),
                frame.at(start + 0.52, value + reach),
                Look::line(paper::SOFT, 0.35),
            );
        }
        if let Some(predicted) = decay.predicted {
            let middle = start + 0.8;
            if let Some(inputs) = decay.predicted_inputs {
                page.line(frame.at(middle, inputs.low), frame.at(middle, inputs.high), Look::line(paper::ACCENT, 0.35));
            }
            page.circle(frame.at(middle, predicted.value), 1.1, Look::fill(paper::CARD).edged(paper::ACCENT, 0.5));
        }
    }
    frame.draw_base(&mut page);
    let mut entries = vec![
        (Look::fill(paper::INK), "measured"),
        (Look::fill(paper::CARD).edged(paper::ACCENT, 0.5), "predicted, with what inputs leave open"),
    ];
    if one.before.is_some() {
        entries.push((Look::fill(paper::PALE), "before"));
    }
    if asked.is_some() {
        entries.push((Look::fill(paper::ACCENT_SHADE).edged(paper::ACCENT, 0.2), "asked for"));
    }
    plot::legend(&mut page, DVec2::new(20.0, 92.0), &entries);
    page.finish()
}

/// How much of the curve is shown, ms.
const SHOWN_MS: f64 = 40.0;

/// Energy over time as measured, predicted reflections at their places.
fn energy_time(one: &Proved) -> String {
    let mut page = Drawing::new(160.0, 100.0, paper::CARD);
    let pale = if one.before.is_some() { "; pale: before" } else { "" };
    let dashed = if one.energy_time.predicted.is_some() { "; dashed: predicted" } else { "" };
    plot::title(
        &mut page,
        &format!("{}: what arrives, and when", heading(one)),
        &format!("energy in 1-8 kHz within 0.5 ms to either side, re direct sound{pale}{dashed}"),
    );
    let frame = Plot {
        area: Area::new(20.0, 20.0, 132.0, 60.0),
        x: Marks { low: 0.0, high: SHOWN_MS, step: 5.0 },
        y: Marks { low: -50.0, high: 10.0, step: 10.0 },
    };
    frame.draw_y(&mut page, "dB re direct");
    let curve = &one.energy_time;
    let points = |levels: &[f64], step_ms: f64| -> Vec<DVec2> {
        let shown = levels.iter().enumerate().map(|(index, level)| (index as f64 * step_ms, level.clamp(frame.y.low, frame.y.high)));
        shown.take_while(|(time, _)| *time <= SHOWN_MS).map(|(time, level)| frame.at(time, level)).collect()
    };
    if let Some(before) = &curve.before_level_db {
        page.polyline(&points(before, curve.step_ms), Look::line(paper::PALE, 0.45));
    }
    page.polyline(&points(&curve.level_db, curve.step_ms), Look::line(paper::INK, 0.45));
    if let Some(predicted) = &curve.predicted {
        page.polyline(&points(&predicted.level_db, predicted.step_ms), Look::line(paper::ACCENT, 0.35).dashed(1.2, 0.8));
    }
    for each in one.reflections.iter().filter(|each| each.delay_ms <= SHOWN_MS) {
        let missing = matches!(each.found, Found::Missing | Found::NotToldApart);
        let fill = if missing { paper::CARD } else { paper::ACCENT };
        page.circle(frame.at(each.delay_ms, each.level_db), 0.9, Look::fill(fill).edged(paper::ACCENT, 0.35));
    }
    for each in one.new_reflections.iter().filter(|each| each.delay_ms <= SHOWN_MS) {
        let at = frame.at(each.delay_ms, each.level_db);
        page.line(at + DVec2::new(0.0, -1.0), at + DVec2::new(0.0, -4.0), Look::line(paper::INK, 0.35));
    }
    frame.draw_base(&mut page);
    frame.draw_x(&mut page, "ms after the direct sound");
    let entries = [
        (Look::fill(paper::INK), "measured"),
        (Look::fill(paper::ACCENT), "reflection, found"),
        (Look::fill(paper::CARD).edged(paper::ACCENT, 0.35), "reflection, not found"),
    ];
    plot::legend(&mut page, DVec2::new(20.0, 95.0), &entries);
    page.text(DVec2::new(110.0, 95.0), "|  above the curve: new", Lettering::new(paper::SMALL, paper::INK));
    page.finish()
}
