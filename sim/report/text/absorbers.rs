//! The page of `absorbers`: the table's rows in a list, or samples side by side.

use super::super::svg;
use super::columns::{Page, Table};
use super::figures::{OCTAVES, number};
use crate::bands::{Band, Bands};
use crate::findings::Span;
use crate::study::absorbers::{Absorbers, Group, LayerKind, Listed, PRICE_UNIT, Same, Sample, SampleKind, SampleLayer};
use crate::units::{Length, LengthUnit};

/// The whole page; lengths in `unit`.
pub(super) fn print(answer: &Absorbers, unit: LengthUnit) -> String {
    if answer.samples.is_empty() { list(answer) } else { side_by_side(answer, unit) }
}

/// The list, category by category; what was searched for in the order of how well it fits.
fn list(answer: &Absorbers) -> String {
    let mut page = match &answer.search {
        Some(words) => Page::new(&format!("Materials like \"{words}\"")),
        None => Page::new("Materials that come with the program"),
    };
    page.paragraph("Random-incidence absorption by octave (Hz), as published; `-` where the source prints none.");
    for note in &answer.notes {
        page.paragraph(note);
    }
    if answer.search.is_some() {
        page.section(&format!("{} of the table", counted(answer.listed.len(), "row")));
        page.table(&rows(&answer.listed));
    } else {
        for of_one in answer.listed.chunk_by(|one, other| one.category == other.category) {
            page.section(&format!("{}, {}", of_one[0].category, counted(of_one.len(), "row")));
            page.table(&rows(of_one));
        }
    }
    page.section("Where they come from");
    page.paragraph(
        "read: a transcription of the source was read; memory: quoted from memory. --show \"NAME\" names the source and shows the row.",
    );
    page.finish()
}

fn rows(listed: &[Listed]) -> Table {
    let mut table = Table::new(&["<material"].into_iter().chain(OCTAVES[1..].iter().copied()).chain(["<status"]).collect::<Vec<_>>());
    for row in listed {
        let values = row.absorption.0[1..].iter().map(|value| value.map_or_else(|| "-".to_owned(), |value| number(value, 2)));
        let status = if row.status == "from memory" { "memory" } else { "read" };
        table.row([row.name.clone()].into_iter().chain(values).chain([status.to_owned()]));
    }
    table
}

fn side_by_side(answer: &Absorbers, unit: LengthUnit) -> String {
    let mut page = Page::new(match &answer.samples[..] {
        [only] => &only.name,
        _ => "Absorbers side by side",
    });
    what(&mut page, answer, unit);
    octaves(&mut page, "What 1 m2 absorbs in a diffuse field, m2, by octave (Hz)", &answer.samples, |sample, band| {
        format!("{}{}", number(sample.absorption[band], 2), if sample.extrapolated[band] { '~' } else { ' ' })
    });
    if answer.samples.iter().any(|sample| sample.extrapolated.0.contains(&true)) {
        page.paragraph("~ filled by rule, or beyond what the model was fitted on: twice as uncertain.");
    }
    octaves(&mut page, "It lies between (one standard uncertainty to either side)", &answer.samples, |sample, band| {
        let Span { low, high } = sample.absorption_range[band];
        format!("{}-{}", number(low, 2), number(high, 2))
    });
    edged(&mut page, answer);
    octaves(&mut page, "At normal incidence, mean over the octave", &answer.samples, |sample, band| {
        number(sample.absorption_normal[band], 2)
    });
    materials(&mut page, answer);
    against(&mut page, answer);
    for group in &answer.groups {
        alike(&mut page, answer, group, unit);
    }
    budget(&mut page, answer);
    page.section("How to read it");
    for note in &answer.notes {
        page.hanging("-", note);
    }
    page.finish()
}

/// Name, layers, price.
fn what(page: &mut Page, answer: &Absorbers, unit: LengthUnit) {
    page.section("What is compared");
    let mut table = Table::new(&["#", "<name", "<front first", "price/m2"]);
    for sample in &answer.samples {
        let price = sample.price_per_m2.map_or_else(|| "-".to_owned(), |price| number(price, 2));
        table.row([sample.number.to_string(), sample.name.clone(), made_of(sample, unit), price]);
    }
    page.table(&table);
}

/// `50 mm of 12000 Pa s/m2, 50 mm of air`, or that it is known by octave.
#[must_use]
pub fn made_of(sample: &Sample, unit: LengthUnit) -> String {
    if sample.kind == SampleKind::Material {
        let row = |status: &String| format!("row of the table, {status}");
        return sample.status.as_ref().map_or_else(|| "material of the scene, by octave".to_owned(), row);
    }
    let mut parts: Vec<String> = sample.layers.iter().map(|layer| of_layer(layer, unit)).collect();
    parts.extend(sample.cells.then(|| "in cells".to_owned()));
    parts.extend(sample.suspended.then(|| "both sides in free air".to_owned()));
    parts.join(", ")
}

fn of_layer(layer: &SampleLayer, unit: LengthUnit) -> String {
    let value = |value: Option<f64>, decimals| number(value.unwrap_or(f64::NAN), decimals);
    let thickness = Length(layer.thickness_m).print(unit);
    let openings = |what| {
        // Holes and sheets are told in millimeters: a tape shows no less.
        let [thickness, opening] = [layer.thickness_m, layer.opening_m.unwrap_or(f64::NAN)].map(|meters| svg::number(1000.0 * meters));
        format!("{thickness} mm sheet with {} % of {opening} mm {what}", svg::number(layer.open_percent.unwrap_or(f64::NAN)))
    };
    match layer.what {
        LayerKind::Air => format!("{thickness} of air"),
        LayerKind::Fiber => format!("{thickness} of {} Pa s/m2", value(layer.flow_resistivity_pa_s_per_m2, 0)),
        LayerKind::Membrane => format!("membrane of {} kg/m2", value(layer.mass_kg_per_m2, 2)),
        LayerKind::Cloth => match layer.mass_kg_per_m2 {
            Some(mass) => format!("cloth of {} Pa s/m, {mass:.2} kg/m2", value(layer.flow_resistance_pa_s_per_m, 0)),
            None => format!("cloth of {} Pa s/m", value(layer.flow_resistance_pa_s_per_m, 0)),
        },
        LayerKind::Perforated => openings("holes"),
        LayerKind::Slotted => openings("slots"),
    }
}

/// A line a sample, a column an octave.
fn octaves(page: &mut Page, heading: &str, samples: &[Sample], cell: impl Fn(&Sample, Band) -> String) {
    page.section(heading);
    let mut table = Table::new(&["#"].into_iter().chain(OCTAVES).collect::<Vec<_>>());
    for sample in samples {
        table.row([sample.number.to_string()].into_iter().chain(Band::ALL.map(|band| cell(sample, band))));
    }
    page.table(&table);
}

/// What panels of known size absorb with their edges.
fn edged(page: &mut Page, answer: &Absorbers) {
    let known: Vec<&Sample> = answer.samples.iter().filter(|sample| sample.absorption_alone.is_some()).collect();
    if known.is_empty() {
        return;
    }
    page.section("With edges: what 1 m2 absorbs as panels of their size on a hard wall, m2, by octave (Hz)");
    let mut table = Table::new(&["#", "<hung"].into_iter().chain(OCTAVES).collect::<Vec<_>>());
    for sample in known {
        for (how, values) in [("one by one", sample.absorption_alone), ("four in a touching row", sample.absorption_touching)] {
            let Some(values) = values else { continue };
            table.row([sample.number.to_string(), how.to_owned()].into_iter().chain(values.0.map(|value| number(value, 2))));
        }
    }
    page.table(&table);
}

/// Sources and what rooms are computed with.
fn materials(page: &mut Page, answer: &Absorbers) {
    for sample in answer.samples.iter().filter(|sample| sample.kind == SampleKind::Material) {
        page.section(&format!("{}: {}", sample.number, sample.name));
        let status = sample.status.as_ref().map_or_else(String::new, |status| format!(" ({status})"));
        page.paragraph(&format!("Source: {}{status}.", sample.source.as_deref().unwrap_or("none given")));
        let mut table = Table::new(&["<by octave (Hz)"].into_iter().chain(OCTAVES).collect::<Vec<_>>());
        let mut line = |what: &str, values: Bands<String>| table.row([what.to_owned()].into_iter().chain(values.0));
        line("absorption that rooms are computed with", sample.absorption_used.map(|value| number(value, 2)));
        if let Some(impedance) = sample.impedance {
            line(
                "impedance, re air, that absorbs so",
                impedance.map(|z| z.map_or_else(|| "-".to_owned(), |z| number(z, if z < 10.0 { 2 } else { 0 }))),
            );
        }
        if let Some(share) = sample.deep_share.filter(|share| share.0.iter().any(|share| *share > 0.0)) {
            line("share of a deep layer beside it, %", share.map(|share| number(100.0 * share, 0)));
        }
        line("scattering", sample.scattering.map(|value| number(value, 2)));
        page.table(&table);
    }
}

/// Rows beside layers.
fn against(page: &mut Page, answer: &Absorbers) {
    if answer.against.is_empty() {
        return;
    }
    page.section("Row less layers, in a diffuse field, by octave (Hz)");
    let mut table = Table::new(&["<#"].into_iter().chain(OCTAVES).collect::<Vec<_>>());
    for pair in &answer.against {
        let cell = |band| format!("{:+.2}{}", pair.difference[band], if pair.apart[band] { '*' } else { ' ' });
        table.row([format!("{} less {}", pair.row, pair.layers)].into_iter().chain(Band::ALL.map(cell)));
    }
    page.table(&table);
    if answer.against.iter().any(|pair| pair.apart.0.contains(&true)) {
        page.paragraph("* their ranges do not touch: not the same thing there, or measured with its edges.");
    }
}

/// Samples alike in price, depth or thickness.
fn alike(page: &mut Page, answer: &Absorbers, group: &Group, unit: LengthUnit) {
    let size = group.size_m.map(|size| Length(size).print(unit)).unwrap_or_default();
    page.section(&match group.same {
        Same::Price => format!("For the same money: what {} buys, m2 of absorption, by octave (Hz)", number(PRICE_UNIT, 0)),
        Same::Depth => format!("For the same depth before the wall, {size}: what 1 m2 absorbs, by octave (Hz)"),
        Same::Thickness => format!("Of the same thickness, {size}, air left out: what 1 m2 absorbs, by octave (Hz)"),
    });
    let mut table = Table::new(&["#", "<name"].into_iter().chain(OCTAVES).collect::<Vec<_>>());
    for member in &group.members {
        let name = answer.samples.iter().find(|sample| sample.number == member.number).map(|sample| sample.name.clone());
        let cell =
            |band| format!("{}{}", number(member.absorbed_m2[band], 2), if group.ahead[band] == Some(member.number) { '*' } else { ' ' });
        table.row([member.number.to_string(), name.unwrap_or_default()].into_iter().chain(Band::ALL.map(cell)));
    }
    page.table(&table);
    if group.ahead.0.iter().any(Option::is_some) {
        page.paragraph("* a tenth or more ahead of every other.");
    }
}

/// What the budget buys.
fn budget(page: &mut Page, answer: &Absorbers) {
    let Some(budget) = answer.budget else { return };
    page.section(&format!("What a budget of {} buys, m2 of absorption, by octave (Hz)", number(budget, 2)));
    let mut table = Table::new(&["#", "panels", "cost", "m2"].into_iter().chain(OCTAVES).collect::<Vec<_>>());
    for sample in &answer.samples {
        let Some(bought) = sample.bought else { continue };
        let panels = bought.panels.map_or_else(|| "-".to_owned(), |panels| panels.to_string());
        let figures = [sample.number.to_string(), panels, number(bought.price, 2), number(bought.area_m2, 2)];
        table.row(figures.into_iter().chain(bought.absorption_m2.0.map(|area| number(area, 2))));
    }
    page.table(&table);
}

fn counted(count: usize, word: &str) -> String {
    if count == 1 { format!("1 {word}") } else { format!("{count} {word}s") }
}
