//! Samples side by side: their figures, and what they absorb for the same price, at the same depth, of the same thickness.
//!
//! *Limits.* Ranges of two samples are not independent of each other: a model that is off is off for all build-ups of one fiber. So a sample counts as ahead where it absorbs a
//! tenth more, not where ranges part.

use glam::DVec2;

use super::written::{self, Written};
use super::{AbsorptionCurve, Against, Asked, Bought, Group, LayerKind, Member, Mistake, Same, Sample, SampleKind, SampleLayer};
use crate::absorbers::sized::piece::Beside;
use crate::absorbers::suspended::{BothSides, radius};
use crate::absorbers::table::{self, Row};
use crate::absorbers::{Backing, BuildUp, Finish, Incidence, Layer, impedance};
use crate::bands::{Band, Bands};
use crate::findings::Span;
use crate::room::{build_up, panel_finish};
use crate::scene::build_up::FLAT_SCATTERING;
use crate::scene::{Core, Diagnostic, PanelType, Scene, Severity, StockKind};

/// By which factor a sample must absorb more than the others to be ahead.
pub const LEAD: f64 = 1.1;

/// Money that samples of the same price are compared for.
pub const PRICE_UNIT: f64 = 100.0;

/// Curves run from 50 Hz to 10 kHz in steps of a twenty-fourth of an octave, `1000 * 10^(k / 80)` Hz.
const CURVE: std::ops::RangeInclusive<i32> = -104..=80;

/// Depths and thicknesses are alike within this, meters: 2 in count as 50 mm.
const ALIKE: f64 = 0.001;

/// Everything to be compared, rows first, numbered; and what is wrong with what was asked.
pub(super) fn samples(asked: &Asked<'_>, scene: Option<&Scene>) -> (Vec<Sample>, Vec<Mistake>) {
    let (mut samples, mut mistakes) = (Vec::new(), Vec::new());
    for (index, name) in asked.rows.iter().enumerate() {
        match table::find(name) {
            Some(row) => samples.push(of_row(row)),
            None => mistakes.push(row_mistake(index, name)),
        }
    }
    if let Some(scene) = scene {
        samples.extend(scene.stock.iter().map(|kind| of_stock(scene, kind, asked.budget)));
    }
    for (index, text) in asked.panels.iter().enumerate() {
        match written::read(text) {
            Ok(written) => samples.push(of_written(&written, asked.budget)),
            Err(found) => {
                let place = format!("panel {}", index + 1);
                mistakes.extend(found.into_iter().map(|diagnostic| Mistake { place: place.clone(), text: text.clone(), diagnostic }));
            }
        }
    }
    for (index, sample) in samples.iter_mut().enumerate() {
        sample.number = index + 1;
    }
    (samples, mistakes)
}

pub(super) fn row_mistake(index: usize, name: &str) -> Mistake {
    let near: Vec<String> = table::nearest(name, 3).iter().map(|row| format!("\"{}\"", row.name)).collect();
    let message = format!("no row of the table is called \"{name}\"");
    whole(format!("row {}", index + 1), name, "material-not-found", message, format!("nearest: {}", near.join(", ")))
}

/// A mistake that is about all of a text.
pub(super) fn whole(place: String, text: &str, id: &'static str, message: String, hint: String) -> Mistake {
    let diagnostic = Diagnostic { severity: Severity::Error, id, span: 0..text.len(), line: 1, column: 1, message, hint: Some(hint) };
    Mistake { place, text: text.to_owned(), diagnostic }
}

/// What is wrong with a budget.
pub(super) fn budget_mistake(budget: Option<f64>, samples: &[Sample]) -> Option<Mistake> {
    let budget = budget?;
    let complain = |message: &str, hint: &str| {
        Some(whole("budget".to_owned(), &budget.to_string(), "out-of-range", message.to_owned(), hint.to_owned()))
    };
    if !(budget > 0.0 && budget <= 1e9) {
        return complain("a budget is more than nothing, and 1e9 at most", "write a bare number in the currency of the prices");
    }
    if samples.iter().all(|sample| sample.price_per_m2.is_none()) {
        return complain("a budget buys nothing that has no price", "add price 62 per m2, or size 60 x 120 cm, price 45");
    }
    None
}

/// What edges add to panels of this size before a wall.
fn count_edges(sample: &mut Sample, finish: &Finish, size: DVec2) {
    if let Some(beside) = Beside::of(finish, size).filter(|_| !sample.suspended) {
        sample.absorption_alone = Some(beside.alone);
        sample.absorption_touching = Some(beside.touching);
    }
}

/// A row of the table.
pub(super) fn of_row(row: &Row) -> Sample {
    let (absorption, extrapolated) = row.absorption();
    let mut sample = of_finish(row.name, &row.finish(), absorption, extrapolated);
    sample.source = Some(row.source.to_owned());
    sample.status = Some(row.status.label().to_owned());
    sample
}

/// A material known by octave. One that absorbs alike at every angle, by the user's word, has no impedance.
pub(super) fn of_finish(name: &str, finish: &Finish, absorption: Bands<f64>, extrapolated: Bands<bool>) -> Sample {
    let used = finish.absorption;
    let impedance = finish.admittance.map(|_| used.map(|value| Some(impedance::from_random_incidence(value)).filter(|z| z.is_finite())));
    Sample {
        number: 0,
        name: name.to_owned(),
        kind: SampleKind::Material,
        layers: Vec::new(),
        suspended: false,
        cells: false,
        source: None,
        status: None,
        absorption,
        absorption_range: Bands::from_fn(|band| span(table::range(absorption[band], band, extrapolated[band]))),
        extrapolated,
        absorption_used: used,
        absorption_back: None,
        absorption_alone: None,
        absorption_touching: None,
        absorption_normal: if impedance.is_some() { used.map(|value| impedance::law(value, 1.0)) } else { used },
        deep_share: impedance.map(|_| used.map(impedance::deep_share)),
        impedance,
        scattering: finish.scattering,
        curve: None,
        thickness_m: None,
        depth_m: None,
        price_per_m2: None,
        bought: None,
    }
}

/// A build-up of layers, of this `2 S / P` in meters where it is suspended; `extremes` are the same with what is not known of them at its least and its most.
fn of_layers(finish: &Finish, build_up: &BuildUp, extremes: Option<&[BuildUp; 2]>, radius: f64) -> Sample {
    let frequency_hz: Vec<f64> = CURVE.map(|step| 1000.0 * 10.0_f64.powf(f64::from(step) / 80.0)).collect();
    let curve = AbsorptionCurve {
        absorption_diffuse: build_up.curve(&frequency_hz, Incidence::Diffuse),
        absorption_normal: build_up.curve(&frequency_hz, Incidence::Normal),
        frequency_hz,
    };
    let is_air = |layer: &&Layer| matches!(layer, Layer::Air { .. });
    let mut sample = Sample {
        kind: SampleKind::Layers,
        layers: build_up.layers.iter().filter(|layer| !is_air(layer) || layer.thickness() > 0.0).map(told).collect(),
        suspended: build_up.backing == Backing::FreeAir,
        cells: build_up.cells,
        absorption_range: Bands::from_fn(|band| span(finish.absorption_range(band))),
        absorption_normal: build_up.octaves(Incidence::Normal),
        impedance: None,
        deep_share: None,
        curve: Some(curve),
        thickness_m: Some(build_up.layers.iter().filter(|layer| !is_air(layer)).map(Layer::thickness).sum()),
        depth_m: Some(build_up.depth()),
        ..of_finish(&finish.name, finish, finish.absorption, finish.extrapolated)
    };
    if sample.suspended {
        count_both_sides(&mut sample, &BothSides::new(build_up, radius));
    }
    if let Some(extremes) = extremes {
        let ends = extremes.each_ref().map(|extreme| match extreme.backing {
            Backing::Rigid => extreme.octaves(Incidence::Diffuse),
            Backing::FreeAir => BothSides::new(extreme, radius).octaves().into_iter().fold(Bands::splat(0.0), |sum, side| sum + side),
        });
        sample.absorption_range =
            Bands::from_fn(|band| wider(sample.absorption[band], sample.absorption_range[band], ends.map(|end| end[band])));
    }
    sample
}

/// What is suspended absorbs with front and back; what is said of either by itself is wrong the same way, so their ranges add up.
fn count_both_sides(sample: &mut Sample, both: &BothSides) {
    let [front, back] = both.octaves();
    let ranges = Bands::from_fn(|band| [front, back].map(|side| span(table::range(side[band], band, sample.extrapolated[band]))));
    sample.absorption = front + back;
    sample.absorption_used = sample.absorption;
    sample.absorption_back = Some(back);
    sample.absorption_range =
        ranges.map(|[front, back]| Span { low: front.low + back.low, high: front.high.min(1.0) + back.high.min(1.0) });
    if let Some(curve) = &mut sample.curve {
        curve.absorption_diffuse = both.curve(&curve.frequency_hz);
    }
}

/// A range widened by what a second doubt moves its value to, held as ranges are.
fn wider(value: f64, range: Span, ends: [f64; 2]) -> Span {
    let (low, high) = table::wider(value, (range.low, range.high), ends);
    Span { low, high: high.min(impedance::GREATEST_KEPT.max(range.high)) }
}

/// A layer as it is told.
fn told(layer: &Layer) -> SampleLayer {
    let blank = SampleLayer { thickness_m: layer.thickness(), ..SampleLayer::default() };
    match *layer {
        Layer::Porous { flow_resistivity, .. } => {
            SampleLayer { what: LayerKind::Fiber, flow_resistivity_pa_s_per_m2: Some(flow_resistivity), ..blank }
        }
        Layer::Air { .. } => blank,
        Layer::Membrane { mass, .. } => SampleLayer { what: LayerKind::Membrane, mass_kg_per_m2: Some(mass), ..blank },
        Layer::Cloth { resistance, mass } => SampleLayer {
            what: LayerKind::Cloth,
            flow_resistance_pa_s_per_m: Some(resistance),
            mass_kg_per_m2: Some(mass).filter(|mass| mass.is_finite()),
            ..blank
        },
        Layer::Perforated { hole, open, .. } => {
            SampleLayer { what: LayerKind::Perforated, opening_m: Some(hole), open_percent: Some(100.0 * open), ..blank }
        }
        Layer::Slotted { slot, open, .. } => {
            SampleLayer { what: LayerKind::Slotted, opening_m: Some(slot), open_percent: Some(100.0 * open), ..blank }
        }
    }
}

/// A type of panel in a scene's stock.
pub(super) fn of_stock(scene: &Scene, kind: &PanelType, budget: Option<f64>) -> Sample {
    let finish = panel_finish(scene, kind, kind.gap);
    let cloud = (kind.kind == StockKind::Cloud).then(|| build_up(kind, 0.0)).flatten().map(BuildUp::suspended);
    let suspended = cloud.as_ref().map(|layers| Finish::of(&kind.name, layers, kind.scattering()));
    let mut sample = match (cloud.as_ref().or(finish.build_up.as_deref()), &kind.core) {
        (Some(build_up), _) => of_layers(suspended.as_ref().unwrap_or(&finish), build_up, None, radius(kind.size.x, kind.size.y)),
        (None, Core::Material(name)) => of_stock_material(scene, name, &finish),
        (None, _) => of_finish(&kind.name, &finish, finish.absorption, finish.extrapolated),
    };
    sample.name.clone_from(&kind.name);
    if !matches!(kind.kind, StockKind::Corner | StockKind::FreeStanding | StockKind::Bookcase) {
        count_edges(&mut sample, &finish, kind.size);
    }
    sample.thickness_m = Some(kind.thickness);
    sample.depth_m = Some(if sample.suspended { kind.thickness } else { kind.thickness + kind.gap });
    let area = kind.size.x * kind.size.y;
    sample.price_per_m2 = kind.price.filter(|_| area > 0.0).map(|price| price / area);
    sample.bought = budget.zip(kind.price).and_then(|(budget, price)| bought(&sample, budget, Some((price, area)), None));
    sample
}

/// What is known of a panel by the name of its material: a row of the table, or else a material of the scene, which is never called as one.
fn of_stock_material(scene: &Scene, name: &str, finish: &Finish) -> Sample {
    let mut sample = table::find(name).map_or_else(|| of_finish(name, finish, finish.absorption, finish.extrapolated), of_row);
    sample.scattering = finish.scattering;
    sample.source = own_source(scene, name).or(sample.source);
    sample
}

/// Where the values of a material of the scene come from.
pub(super) fn own_source(scene: &Scene, name: &str) -> Option<String> {
    let own = scene.materials.iter().find(|material| material.name == *name)?;
    let source = own.source.trim();
    Some(if source.is_empty() { format!("material \"{name}\" of the scene, without a source") } else { source.to_owned() })
}

/// A build-up as typed.
pub(super) fn of_written(written: &Written, budget: Option<f64>) -> Sample {
    let finish = Finish::of(&written.name, &written.build_up, Bands::splat(FLAT_SCATTERING));
    let around = written.size.map_or(f64::INFINITY, |size| radius(size.x, size.y));
    let mut sample = of_layers(&finish, &written.build_up, written.extremes.as_ref(), around);
    if let Some(size) = written.size {
        count_edges(&mut sample, &finish, size);
    }
    sample.price_per_m2 = written.price_per_m2();
    let panel = written.price_each().zip(written.size.map(|size| size.x * size.y));
    sample.bought = budget.and_then(|budget| bought(&sample, budget, panel, written.price_per_m2()));
    sample
}

/// What a budget buys: whole panels of a price and an area in m2 each, or else as many square meters as it pays for.
fn bought(sample: &Sample, budget: f64, panel: Option<(f64, f64)>, price_per_m2: Option<f64>) -> Option<Bought> {
    let (panels, price, area_m2) = match (panel, price_per_m2) {
        (Some((price, area)), _) if price > 0.0 => {
            // A hair more, so that ten times a tenth buys ten.
            let count = (budget / price * (1.0 + 1e-12)).floor().min(f64::from(u32::MAX));
            (Some(count as u32), count * price, count * area)
        }
        (_, Some(price)) if price > 0.0 => (None, budget, budget / price),
        _ => return None,
    };
    Some(Bought { panels, price, area_m2, absorption_m2: sample.absorption * area_m2 })
}

/// The first `rows` samples, which were asked for by name, beside every build-up of layers before a wall.
pub(super) fn against(samples: &[Sample], rows: usize) -> Vec<Against> {
    let beside = |row: &Sample, layers: &Sample| {
        let apart = row.absorption_range.zip(layers.absorption_range, |one, other| one.low > other.high || other.low > one.high);
        Against { row: row.number, layers: layers.number, difference: row.absorption - layers.absorption, apart }
    };
    let layers = || samples.iter().filter(|sample| sample.kind == SampleKind::Layers && !sample.suspended);
    samples.iter().take(rows).flat_map(|row| layers().map(move |layers| beside(row, layers))).collect()
}

/// Samples of known price together; then those as deep, and those as thick, as another.
pub(super) fn groups(samples: &[Sample]) -> Vec<Group> {
    let priced: Vec<(usize, Bands<f64>)> = samples
        .iter()
        .filter_map(|sample| Some((sample.number, sample.price_per_m2.filter(|price| *price > 0.0)?, sample.absorption)))
        .map(|(number, price, absorption)| (number, absorption * (PRICE_UNIT / price)))
        .collect();
    let mut groups = Vec::new();
    if priced.len() > 1 {
        groups.push(group(Same::Price, None, priced));
    }
    for (same, size) in
        [(Same::Depth, (|sample| sample.depth_m) as fn(&Sample) -> Option<f64>), (Same::Thickness, |sample| sample.thickness_m)]
    {
        groups.extend(alike(samples, same, size));
    }
    groups
}

/// Groups of two or more samples of the same size, in the order of their first members.
fn alike(samples: &[Sample], same: Same, size: fn(&Sample) -> Option<f64>) -> Vec<Group> {
    let mut found: Vec<(f64, Vec<&Sample>)> = Vec::new();
    for sample in samples {
        let Some(size) = size(sample) else { continue };
        match found.iter_mut().find(|(other, _)| (other - size).abs() <= ALIKE) {
            Some((_, members)) => members.push(sample),
            None => found.push((size, vec![sample])),
        }
    }
    let groups = found.into_iter().filter(|(_, members)| members.len() > 1);
    groups
        .map(|(size, members)| group(same, Some(size), members.iter().map(|sample| (sample.number, sample.absorption)).collect()))
        .collect()
}

fn group(same: Same, size_m: Option<f64>, absorbed: Vec<(usize, Bands<f64>)>) -> Group {
    let ahead = Bands::from_fn(|band: Band| {
        let best = absorbed.iter().max_by(|one, other| one.1[band].total_cmp(&other.1[band]))?;
        let rest = absorbed.iter().filter(|other| other.0 != best.0).map(|other| other.1[band]);
        (best.1[band] >= LEAD * rest.fold(0.0, f64::max)).then_some(best.0)
    });
    let members = absorbed.into_iter().map(|(number, absorbed_m2)| Member { number, absorbed_m2 }).collect();
    Group { same, size_m, members, ahead }
}

/// What must be known to read the figures.
pub(super) fn notes(samples: &[Sample], scene: Option<&Scene>, by_density: bool) -> Vec<String> {
    let mut notes = Vec::new();
    let mut say = |applies: bool, note: &str| {
        if applies {
            notes.push(note.to_owned());
        }
    };
    let materials = || samples.iter().filter(|sample| sample.kind == SampleKind::Material);
    let layers = || samples.iter().filter(|sample| sample.kind == SampleKind::Layers);
    say(
        !samples.is_empty(),
        "Figures are those of a surface without end, but where edges are named: those of a panel on the wall draw sound in, so that it absorbs more than its area says, and more by \
         itself than in a row. With a size (size 60 x 120 cm) a build-up is told with its edges, too.",
    );
    let filled = materials().any(|sample| sample.extrapolated.0.contains(&true));
    say(filled, table::FILL_RULE);
    let is_edged = |sample: &Sample| sample.absorption.0.iter().any(|&value| value > 1.0);
    say(
        materials().any(|sample| !is_edged(sample) && sample.absorption != sample.absorption_used),
        "Values above 0.99 come from the edges of the sample in the laboratory, or were rounded down to 1: rooms are computed with 0.99 there.",
    );
    say(
        materials().any(is_edged),
        "A value above 1 tells that a row holds the edges of its sample: rooms are computed with the surface without end of which a sample of 3.6 x 3 m absorbs so much, and with the \
         edges of what hangs.",
    );
    say(
        materials().next().is_some(),
        "A row says nothing about angles: rooms are computed with the real impedance that has its value in a diffuse field, and normal incidence follows from that.",
    );
    say(
        layers().next().is_some(),
        "Fiber is computed from its flow resistivity by Miki's fit; sound runs sideways in all layers, unless they are in cells. Octaves outside 0.01 < f / flow \
         resistivity < 1 are marked.",
    );
    let has = |wanted: LayerKind| layers().any(|sample| sample.layers.iter().any(|layer| layer.what == wanted));
    say(
        has(LayerKind::Membrane) || has(LayerKind::Perforated) || has(LayerKind::Slotted),
        "Membranes have no stiffness here; boards and the way they are fixed differ. A resonance narrower than a tenth of an octave shows in the curve, not in its octave.",
    );
    say(
        layers().any(|sample| sample.suspended),
        "What is suspended counts with both sides, far from any wall, so that 1 m2 of it may absorb up to 2 m2; at normal incidence one side. What passes through it is not absorbed. With a \
         size, sound goes round it and drives less through it in the bass; without, it has no end. Its edges are not counted.",
    );
    say(
        by_density,
        "Fiber known by its density: flow resistivity by two published laws, their spread and that of usual fiber diameters are in the range. A maker's value is better.",
    );
    let kinds = scene.map_or(&[][..], |scene| &scene.stock);
    let is_flat = |kind: &PanelType| match kind.kind {
        StockKind::Corner | StockKind::FreeStanding => false,
        StockKind::Cloud => !matches!(kind.core, Core::Material(_)),
        _ => true,
    };
    let off_wall = !kinds.iter().all(is_flat);
    say(off_wall, "Corner panels, clouds of a measured material and what stands freely are compared as if they lay flat on a wall.");
    notes
}

fn span((low, high): (f64, f64)) -> Span {
    Span { low, high }
}
