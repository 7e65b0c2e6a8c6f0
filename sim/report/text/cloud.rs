//! How high a cloud hangs: the height and its reasons first, then every height, what it covers and absorbs there, and what else was tried at the best one.

use super::Extent;
use super::columns::{Page, Table};
use super::figures::{OCTAVES, area_cell, area_unit, estimate, length, length_cell, length_head, number, optional, optional_estimate};
use super::score::STEPS;
use crate::bands::{Band, Bands};
use crate::plan::cloud::{Besides, CloudStudy, CloudVariant, LeftOut};
use crate::scene::Scene;
use crate::units::{Length, LengthUnit};

/// What to do with the answer.
const NEXT: &str = "cloud.toml is the scene with the cloud in it: `place` with that finds places for the rest of the stock beside it, and keeps the cloud where it is.";

/// The page.
pub(super) fn print(scene: &Scene, study: &CloudStudy, extent: Extent) -> String {
    let mut page = Page::new(&format!("{}: how high the cloud hangs", scene.name));
    page.paragraph(&what(scene, study));
    page.section("How high, and why");
    for reason in &study.reasons {
        page.hanging("-", reason);
    }
    page.paragraph(NEXT);
    page.rest();
    page.section("Height by height");
    by_height(&mut page, scene, study);
    for line in columns(study) {
        page.paragraph(&line);
    }
    page.section("What it covers of the ceiling's first Fresnel zones, %, by octave (Hz)");
    zones(&mut page, scene, study);
    page.section(&format!("What it absorbs as it hangs, {}, by octave (Hz)", area_unit(scene)));
    absorbs(&mut page, scene, study);
    for besides in &study.besides {
        beside(&mut page, scene, study, besides);
    }
    left_out(&mut page, &study.left_out);
    page.section("How sure this is");
    page.hanging("-", &rays(study));
    for note in &study.notes {
        page.hanging("-", note);
    }
    page.print(extent)
}

/// Which cloud, and where.
#[must_use]
pub fn what(scene: &Scene, study: &CloudStudy) -> String {
    let [along_x, along_y] = study.panels;
    let panels = match along_x * along_y {
        1 => "one panel".to_owned(),
        _ => format!("{along_x} x {along_y} panels"),
    };
    let from = study.hung_panel_number.map_or_else(
        || "from the stock".to_owned(),
        |number| format!("that hangs in the scene as panel {number} and is taken down for the comparison"),
    );
    let [x, y] = study.center_m.map(|coordinate| length(coordinate, scene));
    let [width, depth] = study.size_m.map(|side| length(side, scene));
    format!(
        "\"{}\" {from}: {panels}, {width} along x and {depth} along y, {} thick, its middle at x {x}, y {y}, {}. Heights are those of its underside over the floor.",
        study.kind,
        length(study.thickness_m, scene),
        study.centered
    )
}

/// A height for a column: in inches where lengths are in feet, so that ten columns fit a line.
#[must_use]
pub fn on_tape(meters: f64, scene: &Scene) -> String {
    match scene.unit {
        LengthUnit::Foot | LengthUnit::Inch => Length(meters).print(LengthUnit::Inch),
        LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => length_cell(meters, scene),
    }
}

/// What the columns of the first table mean.
#[must_use]
pub fn columns(study: &CloudStudy) -> Vec<String> {
    let [low, high] =
        study.decay_octaves_hz.map(|nominal| Band::ALL.into_iter().find(|band| band.nominal() == nominal).map_or("-", Band::label));
    vec![
        "Early: all that comes early, re direct, 1-8 kHz; ceiling, cloud: what of it is mirrored on a way by the ceiling or by the cloud's own faces. Comb: the deepest that the loudest \
         way by either makes at an ear. Too loud: sum over the criterion."
            .to_owned(),
        format!(
            "Decay: mean of {low} - {high}. Score: by how many just-noticed steps the room is better than without it (a sum of terms, see below). =: not told apart from the best, all heights together."
        ),
        STEPS.to_owned(),
    ]
}

/// How many rays, and whether they were enough.
#[must_use]
pub fn rays(study: &CloudStudy) -> String {
    let grouped = super::super::sheet::grouped;
    let [least, most] = study.rays_per_source.map(grouped);
    let count = if least == most { format!("{most} rays") } else { format!("{least} to {most} rays") };
    let sure = if study.errors_met {
        "until its early level and mean decay are as sure as the scene's settings ask"
    } else {
        "which does not make every early level and mean decay as sure as the scene's settings ask: more `rays` or `rounds` help"
    };
    format!(
        "Each room was traced with {count} from each source, {sure}. +- holds 95 of 100 repeats of the tracing; what materials add moves all heights alike, or nearly."
    )
}

/// `best`, `=`, or nothing.
#[must_use]
pub fn standing(variant: &CloudVariant, best: usize) -> String {
    if variant.number == best {
        "best"
    } else if variant.alike {
        "="
    } else {
        ""
    }
    .to_owned()
}

fn by_height(page: &mut Page, scene: &Scene, study: &CloudStudy) {
    let places = [length_head("height", scene), "<".to_owned(), length_head("air", scene)];
    let mut table = Table::new(&places.iter().map(String::as_str).chain(FIGURES).collect::<Vec<_>>());
    table.row(["without", "", "-"].map(str::to_owned).into_iter().chain(without(study)));
    for one in &study.heights {
        let places = [on_tape(one.underside_m, scene), standing(one, study.best), on_tape(one.air_above_m, scene)];
        table.row(places.into_iter().chain(figures(one)));
    }
    page.table(&table);
}

/// Heads of the figures that every table of variants has.
pub const FIGURES: [&str; 7] = ["early, dB", "ceiling", "cloud", "comb", "too loud", "decay, s", "score"];

/// These figures.
#[must_use]
pub fn figures(one: &CloudVariant) -> [String; 7] {
    [
        estimate(one.figures.early_level_db, 1),
        optional(one.ceiling_db, 1),
        optional(one.cloud_db, 1),
        optional(one.comb_depth_db, 1),
        number(one.figures.early_excess_db, 1),
        optional_estimate(one.figures.t_mid_s, 2),
        estimate(one.score_steps, 1),
    ]
}

/// Heads of octave columns, marked where octaves are a statistical reading.
#[must_use]
pub fn octave_heads(study: &CloudStudy) -> Vec<String> {
    let mark = |band: Band| if band.center() < study.schroeder_hz { "*" } else { "" };
    Band::ALL.map(|band| format!("{}{}", OCTAVES[band.index()], mark(band))).to_vec()
}

/// The same of the room without it.
#[must_use]
pub fn without(study: &CloudStudy) -> [String; 7] {
    let without = &study.without;
    [
        estimate(without.figures.early_level_db, 1),
        optional(without.ceiling_db, 1),
        "-".to_owned(),
        optional(without.comb_depth_db, 1),
        number(without.figures.early_excess_db, 1),
        optional_estimate(without.figures.t_mid_s, 2),
        "-".to_owned(),
    ]
}

fn zones(page: &mut Page, scene: &Scene, study: &CloudStudy) {
    let height = length_head("height", scene);
    let mut table = Table::new(&std::iter::once(height.as_str()).chain(OCTAVES).collect::<Vec<_>>());
    for one in &study.heights {
        if let Some(share) = one.zone_share {
            table.row(std::iter::once(on_tape(one.underside_m, scene)).chain(share.map(|share| number(100.0 * share, 0)).0));
        }
    }
    if study.heights.iter().all(|one| one.zone_share.is_none()) {
        page.paragraph("The ceiling mirrors no single bounce to a receiver: there is nothing to cover.");
    }
    page.table(&table);
}

/// What it absorbs lying flush, from any of its heights.
#[must_use]
pub fn flush(study: &CloudStudy) -> Option<Bands<f64>> {
    study.heights.first().map(|one| one.absorption_m2 - one.gained_m2)
}

fn absorbs(page: &mut Page, scene: &Scene, study: &CloudStudy) {
    let mut table = Table::new(&std::iter::once(length_head("height", scene)).chain(octave_heads(study)).collect::<Vec<_>>());
    for one in &study.heights {
        table.row(std::iter::once(on_tape(one.underside_m, scene)).chain(one.absorption_m2.map(|area| area_cell(area, scene)).0));
    }
    if let Some(flush) = flush(study) {
        table.row(std::iter::once("flush".to_owned()).chain(flush.map(|area| area_cell(area, scene)).0));
    }
    page.table(&table);
    page.paragraph("Front, back and edges, in a diffuse field; flush: front and edges of the same lying on a surface. * below Schroeder's frequency, a statistical reading.");
}

/// The heading over a table of variants.
#[must_use]
pub fn heading(besides: &Besides) -> &'static str {
    match besides.what.as_str() {
        "tilt" => "Tilted",
        "size" => "Of more or fewer panels",
        _ => "Hung beside that place",
    }
}

fn beside(page: &mut Page, scene: &Scene, study: &CloudStudy, besides: &Besides) {
    if besides.variants.is_empty() && besides.left_out.is_empty() {
        return;
    }
    page.section(&format!("{}, at the best height or as near to it as fits", heading(besides)));
    let height = length_head("height", scene);
    let mut table = Table::new(&["<what", "", &height].into_iter().chain(FIGURES).collect::<Vec<_>>());
    let best = study.best().map(|best| ("as above".to_owned(), "", best));
    let others = besides.variants.iter().map(|one| (one.what.clone(), if one.alike { "=" } else { "" }, one));
    for (what, mark, one) in best.into_iter().chain(others) {
        table.row([what, mark.to_owned(), on_tape(one.underside_m, scene)].into_iter().chain(figures(one)));
    }
    page.table(&table);
    for out in &besides.left_out {
        page.hanging("-", &format!("{}: {}.", out.what, out.reason));
    }
}

fn left_out(page: &mut Page, left_out: &[LeftOut]) {
    if left_out.is_empty() {
        return;
    }
    page.section("Heights at which it does not fit");
    for (heights, reason) in by_reason(left_out) {
        page.hanging("-", &format!("{heights}: {reason}."));
    }
}

/// Heights that are left out for one reason, in one line.
#[must_use]
pub fn by_reason(left_out: &[LeftOut]) -> Vec<(String, &str)> {
    let mut lines: Vec<(String, &str)> = Vec::new();
    for out in left_out {
        match lines.iter_mut().find(|(_, reason)| *reason == out.reason) {
            Some((heights, _)) => heights.push_str(&format!(", {}", out.what)),
            None => lines.push((out.what.clone(), &out.reason)),
        }
    }
    lines
}
