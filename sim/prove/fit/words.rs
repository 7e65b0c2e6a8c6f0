//! What a fit says, in sentences.

use super::emulator::Emulator;
use super::octave::NARROWED;
use super::states::{Described, FACTOR, MOST};
use super::{Fit, FitOctave, Made, Outcome};
use crate::bands::{Band, Bands};
use crate::scene::Scene;

/// A material with what is made of it.
fn made(made: &Made) -> String {
    if made.on.is_empty() { quoted(&made.name) } else { format!("{} ({})", quoted(&made.name), made.on.join(", ")) }
}

/// A name between quotes.
fn quoted(name: &str) -> String {
    format!("\"{name}\"")
}

/// `a, b and c`
fn all(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

fn label(octave: &FitOctave) -> String {
    Band::ALL.into_iter().find(|band| band.nominal() == octave.frequency_hz).map_or_else(String::new, |band| band.label().to_owned())
}

/// The answer.
pub(super) fn sentences(fit: &Fit) -> Vec<String> {
    if fit.octaves.is_empty() {
        return vec!["Nothing could be fitted: no octave has a decay that is both measured and predicted by rays.".to_owned()];
    }
    let mut told: Vec<String> = decays(fit).into_iter().chain(materials(fit)).collect();
    told.extend(apart(fit));
    told.extend(not_met(fit));
    told.push(changed(fit));
    told.extend(replan(fit));
    told
}

/// How far off decays were, and are.
fn decays(fit: &Fit) -> Option<String> {
    let all = || fit.octaves.iter().flat_map(|octave| &octave.decays);
    let count = all().count() as f64;
    let off = |of: &dyn Fn(&super::FitDecay) -> Option<f64>| -> Option<f64> {
        let squares: f64 = all().map(|one| Some(((one.measured_s / of(one)?).ln()).powi(2))).sum::<Option<f64>>()?;
        Some(100.0 * (squares / count).sqrt())
    };
    let (before, after) = (off(&|one| Some(one.predicted_s))?, off(&|one| one.fitted_s)?);
    let mut octaves: Vec<String> = fit.octaves.iter().map(label).collect();
    octaves.dedup();
    let range = match (octaves.first(), octaves.last()) {
        (Some(first), Some(last)) if first != last => format!("from {first} to {last}"),
        (Some(first), _) => format!("at {first}"),
        _ => return None,
    };
    Some(format!(
        "Predicted decays {range} lie {before:.0} % off what was measured (root of the mean square), with fitted materials {after:.0} %."
    ))
}

/// What is fitted singly, material by material.
fn materials(fit: &Fit) -> Vec<String> {
    let mut names: Vec<&str> = Vec::new();
    let fitted = || fit.octaves.iter().flat_map(|octave| octave.materials.iter().map(move |one| (octave, one)));
    for (_, one) in fitted().filter(|(_, one)| one.outcome == Outcome::Fitted) {
        if !names.contains(&one.name.as_str()) {
            names.push(&one.name);
        }
    }
    let sentence = |name: &&str| {
        let octaves = fitted().filter(|(_, one)| one.name == *name && one.outcome == Outcome::Fitted).map(|(octave, one)| {
            format!(
                "{} {:.2} instead of {:.2} ({:.2} to {:.2})",
                label(octave),
                one.fitted.value,
                one.absorption,
                one.fitted.low,
                one.fitted.high
            )
        });
        format!("Fitted: {} absorbs {}.", quoted(name), all(&octaves.collect::<Vec<_>>()))
    };
    let told: Vec<String> = names.iter().map(sentence).collect();
    if told.is_empty() {
        return vec![format!("No material by itself is told by what was measured: none is narrowed by {:.0} % or more.", 100.0 * NARROWED)];
    }
    told
}

/// What is told together only, octaves of the same materials in one sentence.
fn apart(fit: &Fit) -> Vec<String> {
    let mut groups: Vec<(&[Made], Vec<String>)> = Vec::new();
    for octave in &fit.octaves {
        let Some(group) = &octave.not_told_apart else { continue };
        let factor = &group.factor;
        let words = format!("{} {:.2} times ({:.2} to {:.2})", label(octave), factor.value, factor.low, factor.high);
        match groups.iter_mut().find(|(names, _)| *names == group.materials) {
            Some((_, octaves)) => octaves.push(words),
            None => groups.push((&group.materials, vec![words])),
        }
    }
    let sentence = |(names, octaves): &(&[Made], Vec<String>)| {
        let names: Vec<String> = names.iter().map(made).collect();
        format!(
            "Cannot be told apart: {}. Together they take, of what the scene says, {}; which of them is off, no recording of decays tells here.",
            all(&names),
            all(octaves)
        )
    };
    groups.iter().map(sentence).collect()
}

/// Octaves that no materials explain.
fn not_met(fit: &Fit) -> Option<String> {
    let octaves: Vec<String> = fit.octaves.iter().filter(|octave| !octave.is_met).map(label).collect();
    (!octaves.is_empty()).then(|| {
        format!(
            "At {} no materials between their bounds ring as was measured: most likely something else is off, as a door that stood open, furniture or a surface that the scene lacks, or a wrong size. Nothing is fitted there.",
            all(&octaves)
        )
    })
}

/// What the variant changes.
fn changed(fit: &Fit) -> String {
    if fit.changed.is_empty() {
        return "Nothing is told surely enough to change the scene, so no fitted.toml is written.".to_owned();
    }
    let names: Vec<String> = fit.changed.iter().map(|one| made(&one.material)).collect();
    format!(
        "fitted.toml is the scene with other values of {}, each with what it was and how sure it is; all else is as it was.",
        all(&names)
    )
}

/// What a plan of the variant brings.
fn replan(fit: &Fit) -> Option<String> {
    let plan = fit.replan.as_ref()?;
    let panels = |count: u32| if count == 1 { "1 panel".to_owned() } else { format!("{count} panels") };
    let mut parts = vec![format!("{} hung anew", panels(plan.hung_anew))];
    parts.extend(
        (plan.staying + plan.leaving > 0).then(|| format!("{} of what hangs now stay, {} leave their places", plan.staying, plan.leaving)),
    );
    let worth = plan
        .now_steps
        .zip(plan.planned_steps)
        .map_or_else(String::new, |(now, planned)| format!(" What is wrong with the room goes from {now:.1} to {planned:.1} steps."));
    Some(format!("Planned anew with fitted materials: {}.{worth} The plan is in the folder fitted.", parts.join("; ")))
}

/// Where theory and data stop.
pub(super) fn notes(scene: &Scene, (described, emulators): (&Described, &[Bands<Option<Emulator>>]), fit: &Fit) -> Vec<String> {
    let mut notes = vec![format!(
        "Before the recording a material may absorb 1/{FACTOR:.0} to {FACTOR:.0} times what the scene says, all factors alike, or anything in the range of its table where that is wider, at most 0.99; what is computed from layers twice what its own range leaves open. Fitted is called what a recording narrows by {:.0} % or more of that; intervals hold 90 of 100.",
        100.0 * NARROWED
    )];
    let worst = emulators.iter().flat_map(|of_pair| of_pair.0.iter().flatten()).map(|one| one.error).fold(0.0, f64::max);
    notes.push(format!(
        "Nothing is traced anew for the fit: stored paths are weighed with {} other sets of materials, and a polynomial through these decays, {:.1} % off where it is worst (root of the mean square), stands for all others (that is in the uncertainty); decays with fitted materials are weighed.",
        described.states,
        100.0 * worst
    ));
    let left: Vec<String> = Band::ALL
        .into_iter()
        .filter(|band| fit.octaves.iter().all(|octave| octave.frequency_hz != band.nominal()))
        .map(|band| band.label().to_owned())
        .collect();
    if !left.is_empty() {
        notes.push(format!(
            "Not fitted: {}. There waves have a part in the prediction, which weighing rays anew does not change, or the filter reads a neighbor that rings longer (a tenth of the decay or more), or one of the two has no decay time.",
            all(&left)
        ));
    }
    if described.materials.len() == MOST {
        notes.push(format!(
            "Of the materials the {MOST} that move the decay most are fitted; what the others may move it by is in the uncertainty."
        ));
    }
    let layers: Vec<String> =
        described.materials.iter().filter(|material| material.is_kept).map(|material| quoted(&material.name)).collect();
    if !layers.is_empty() {
        notes.push(format!("Computed from layers, or from a sample whose edges are counted apart, and kept so in the variant whatever the recording tells: {}.", all(&layers)));
    }
    if emulators.len() == 1 && scene.sources.len() * (scene.seats.len() + scene.microphones.len()) > 1 {
        notes.push("One place tells what materials take together and little of each: recordings of more places make intervals narrower, and none of them tells two alike materials apart.".to_owned());
    }
    notes
}
