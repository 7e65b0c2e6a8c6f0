//! All findings of one traced room with what hangs in it.

use rayon::prelude::*;

use crate::absorbers::impedance::GREATEST_KEPT;
use crate::bands::{Band, Bands};
use crate::hanging::{Hanging, Patch};
use crate::progress::{Cancelled, Progress};
use crate::rays::STORE_MOST;
use crate::response::{Estimate, LowEnd, Response};
use crate::room::bodies::is_patch;
use crate::room::{Bodies, Room};
use crate::scene::{PanelType, Scene};
use crate::weigh::ear::Ears;
use crate::weigh::early::{EarlyEnergy, early_energy};
use crate::weigh::{Linings, RayCurve, Traced, weigh_rays};

use super::inputs::Inputs;
use super::pairs::{Context, Decays, pair, speech_to_noise};
use super::response::early_response;
use super::sure::{LeastSure, least_sure};
use super::survey::sending_limits;
use super::targets::{judged, judged_pairs, likeness_target, targets};
use super::{Findings, Likeness, Pair, Survey, Tracing, flutter, likeness};

/// Rays that leave through cracks, as a share of all, above which the findings say so.
const ESCAPED_SHARE: f64 = 1e-4;

/// Every pair of a traced room, and what it was read from; what inputs move is not told yet.
pub struct Heard {
    linings: Linings,
    early: EarlyEnergy,
    /// What the rays bring, by source and receiver.
    curves: Vec<Vec<RayCurve>>,
    /// Receivers within sources.
    responses: Vec<Response>,
    pairs: Vec<Pair>,
    decays: Vec<Decays>,
}

impl Heard {
    /// Weighs a traced room, with what waves bring in it if they were run; `schroeder_hz` is that of the bare room.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(
        progress: &Progress,
        scene: &Scene,
        (traced, low): (&Traced, Option<&LowEnd>),
        hanging: &Hanging,
        schroeder_hz: f64,
    ) -> Result<Self, Cancelled> {
        let linings = Linings::new(&traced.room, hanging);
        let curves = weigh_rays(progress, traced, &linings)?;
        let early = early_energy(progress, traced, &linings)?;
        let ears = Ears::new(&traced.room);
        let judged = judged_pairs(scene.activity, &traced.room);
        let context = Context { scene, traced, linings: &linings, early: &early, judged: &judged, schroeder_hz };
        let asked = every_pair(&traced.room);
        progress.begin("summing the first sound", (asked.len() * traced.room.surfaces.len()) as u64);
        let judged = asked.into_par_iter().map(|(source, receiver)| {
            let early_responses = early_response(progress, &ears, traced, &linings, source, receiver)?;
            let rays = Response::new(traced, &linings, curves[source][receiver].clone(), source, receiver);
            let response = match low {
                Some(low) => rays.with_low(low, (source, receiver)),
                None => rays,
            };
            let (pair, decays) = pair(&context, &response, source, receiver);
            Ok((response, (Pair { early_responses, ..pair }, decays)))
        });
        let (responses, (pairs, decays)) = judged.collect::<Result<Vec<_>, Cancelled>>()?.into_iter().unzip();
        Ok(Self { linings, early, curves, responses, pairs, decays })
    }

    /// The response of a pair, receivers within sources.
    ///
    /// # Panics
    /// Where there is no such pair.
    #[must_use]
    pub fn response(&self, (source, receiver): (usize, usize)) -> &Response {
        &self.responses[source * self.curves[source].len() + receiver]
    }

    /// What rays bring, by source and receiver.
    #[must_use]
    pub fn curves(&self) -> &[Vec<RayCurve>] {
        &self.curves
    }

    /// What hangs, and what it hangs on.
    #[must_use]
    pub fn linings(&self) -> &Linings {
        &self.linings
    }

    /// The figure that is least sure, where one is less sure than the settings ask for.
    #[must_use]
    pub fn unsure(&self, traced: &Traced) -> Option<LeastSure> {
        least_sure(&self.pairs, &traced.settings).filter(|least| least.excess > 1.0)
    }

    /// Findings with all that inputs move; `survey` is that of the layout, its Schroeder frequency that of the bare room.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn judged(
        mut self,
        progress: &Progress,
        scene: &Scene,
        (traced, low): (&Traced, Option<&LowEnd>),
        hanging: &Hanging,
        survey: Survey,
    ) -> Result<Findings, Cancelled> {
        let unsure = self.unsure(traced);
        let pairs = self.told(progress, scene, traced, hanging)?;
        let likeness = self.likeness(traced);
        let mut judged = targets((scene.activity, scene.goals.decay_s), &survey, &pairs, &self.decays);
        judged.extend(likeness_target(scene.activity, &likeness));
        let mut notes = vec![below_schroeder(survey.schroeder_hz, low)];
        notes.extend(self::notes((scene, traced), hanging, &survey, &pairs));
        if traced.settings.image_order < scene.settings.image_order {
            notes.push(held_order(traced));
        }
        if traced.paths.rays < traced.paths.asked {
            notes.push(held_rays(traced));
        }
        if let Some(least) = &unsure
            && traced.rounds_left() == 0
        {
            notes.push(unsure_still(traced, least));
        }
        let tracing = Tracing {
            rays_per_source: traced.rays(),
            rounds: traced.paths.rounds,
            errors_met: unsure.is_none(),
            rays_escaped: traced.paths.escaped,
        };
        Ok(Findings {
            tracing,
            flutter: flutter::flutter(&traced.room, hanging, room_decay(&pairs)),
            likeness,
            targets: judged,
            notes,
            pairs,
            survey,
            bass: None,
        })
    }

    /// The pairs with what inputs move.
    fn told(&mut self, progress: &Progress, scene: &Scene, traced: &Traced, hanging: &Hanging) -> Result<Vec<Pair>, Cancelled> {
        let pairs = std::mem::take(&mut self.pairs);
        let inputs = Inputs::new(progress, traced, hanging, (&self.linings, &self.curves), scene.tape_tolerance.0)?;
        let speech_to_noise = speech_to_noise(scene);
        let each = pairs.into_par_iter().zip(&self.responses).zip(every_pair(&traced.room));
        Ok(each.map(|((pair, response), at)| inputs.told(pair, response, &self.early, at, speech_to_noise)).collect())
    }

    /// How alike loudspeakers are.
    fn likeness(&self, traced: &Traced) -> Vec<Likeness> {
        let room = &traced.room;
        let of_pairs = |energy: &dyn Fn(usize, usize) -> Bands<f64>| -> Vec<Vec<Bands<f64>>> {
            (0..room.sources.len()).map(|source| (0..room.receivers.len()).map(|receiver| energy(source, receiver)).collect()).collect()
        };
        let direct = of_pairs(&|source, receiver| traced.direct_energy(source, room.receivers[receiver].position));
        likeness::likeness(room, &of_pairs(&|source, receiver| self.early.total(source, receiver)), &direct)
    }
}

/// Every source at every receiver, receivers within sources.
fn every_pair(room: &Room) -> Vec<(usize, usize)> {
    (0..room.sources.len()).flat_map(|source| (0..room.receivers.len()).map(move |receiver| (source, receiver))).collect()
}

/// Findings of a traced room, with what waves bring in it if they were run; `survey` is that of the layout, its Schroeder frequency that of the bare room.
///
/// # Errors
/// [`Cancelled`].
pub fn judge(
    progress: &Progress,
    scene: &Scene,
    (traced, low): (&Traced, Option<&LowEnd>),
    hanging: &Hanging,
    survey: Survey,
) -> Result<Findings, Cancelled> {
    Heard::new(progress, scene, (traced, low), hanging, survey.schroeder_hz)?.judged(progress, scene, (traced, low), hanging, survey)
}

/// Mean T30 (T20 where that is missing) over the pairs, by octave.
fn room_decay(pairs: &[Pair]) -> Bands<Option<f64>> {
    Bands::from_fn(|band: Band| {
        let times: Vec<f64> = pairs
            .iter()
            .filter_map(|pair| {
                let octave = &pair.octaves[band.index()];
                octave.t30_s.or(octave.t20_s).map(|estimate: Estimate| estimate.value)
            })
            .collect();
        (!times.is_empty()).then(|| times.iter().sum::<f64>() / times.len() as f64)
    })
}

/// That fewer rays are traced than were asked for.
fn held_rays(traced: &Traced) -> String {
    format!(
        "{} rays a source are traced and not {}: their paths would take more than {} GB.",
        traced.paths.rays,
        traced.paths.asked,
        STORE_MOST >> 30,
    )
}

/// That all rays that were to be traced do not make every figure as sure as it is wanted.
fn unsure_still(traced: &Traced, least: &LeastSure) -> String {
    format!(
        "With {} rays a source the least sure figure is known less well than asked: {}. More `rounds` help.",
        traced.rays(),
        least.words
    )
}

/// That exact images end earlier than they were asked to.
fn held_order(traced: &Traced) -> String {
    format!(
        "Exact reflections are listed up to order {} only: with {} surfaces a higher order would take too many trails. Rays carry the later \
         ones, with their error.",
        traced.settings.image_order,
        traced.room.surfaces.len()
    )
}

/// What the octaves below Schroeder's frequency rest on.
fn below_schroeder(schroeder_hz: f64, low: Option<&LowEnd>) -> String {
    let Some(low) = low else {
        return format!(
            "Octaves centered below {schroeder_hz:.0} Hz (Schroeder's frequency of the bare room) are a statistical reading: waves rule there, and \
             nothing is judged by them."
        );
    };
    let crossover = low.crossover.frequency;
    let is_between = |band: Band| (crossover..schroeder_hz).contains(&band.center());
    let above = if crossover < 0.99 * schroeder_hz && Band::ALL.into_iter().any(is_between) {
        format!(
            "Octaves centered between it and {schroeder_hz:.0} Hz (Schroeder's frequency of the bare room) are a statistical reading: waves rule there, which were not run so high, and \
             nothing is judged by them."
        )
    } else {
        format!("Schroeder's frequency of the bare room is {schroeder_hz:.0} Hz.")
    };
    format!(
        "Below {crossover:.0} Hz, the crossover, octaves are those of waves, above of images and rays; an octave that it lies in is joined of both. {above} Waves have no error \
         of the tracing; walls that tables do not tell are in the range of the inputs."
    )
}

/// Who has no part in what the use is judged by: a voice and its microphone in a room to mix in, a seat in one to speak in.
fn not_judged(scene: &Scene, pairs: &[Pair]) -> Option<String> {
    let judged = judged(pairs);
    let mut others: Vec<&str> = Vec::new();
    for name in pairs.iter().map(|pair| pair.source.as_str()).chain(pairs.iter().map(|pair| pair.receiver.as_str())) {
        if !judged.iter().any(|one| one.source == name || one.receiver == name) && !others.contains(&name) {
            others.push(name);
        }
    }
    let (verb, them) = match others[..] {
        [] => return None,
        [_] => ("is", "it"),
        [..] => ("are", "them"),
    };
    Some(format!(
        "{} {verb} in the tables, but no target and no plan for {} looks at {them}. For a room with two uses plan for the one that matters more; then write the other use into a copy of plan.toml and hear that.",
        others.join(", "),
        scene.activity.word()
    ))
}

/// Where theory or data stop.
fn notes((scene, traced): (&Scene, &Traced), hanging: &Hanging, survey: &Survey, pairs: &[Pair]) -> Vec<String> {
    let mut notes = Vec::new();
    let filled: Vec<&str> = Band::ALL
        .iter()
        .filter(|&&band| survey.surfaces.iter().any(|surface| surface.extrapolated[band]))
        .map(|band| band.label())
        .collect();
    if !filled.is_empty() {
        notes.push(format!(
            "No table gives {} for every material here: those values were filled by rule (see the README).",
            filled.join(" and ")
        ));
    }
    let mut capped: Vec<&str> = traced
        .room
        .finishes
        .iter()
        .chain(&hanging.finishes)
        .filter(|finish| finish.capped.0.contains(&true))
        .map(|finish| finish.name.as_str())
        .collect();
    capped.sort_unstable();
    capped.dedup();
    if !capped.is_empty() {
        notes.push(format!(
            "Absorption values that no flat material has are held at the most that one does: {GREATEST_KEPT}, less where the edges of a sample are taken off, 1 where every angle absorbs alike: {}.",
            capped.join(", ")
        ));
    }
    if pairs.iter().any(|pair| pair.speech_index_noise_free) {
        notes.push(
            "The speech transmission index is noise-free: the scene gives no noise and speech levels. It ranks nothing by itself."
                .to_owned(),
        );
    }
    notes.extend(not_judged(scene, pairs));
    notes.extend(survey.stock.iter().flat_map(|kind| kind.cautions.iter().map(move |caution| format!("{}: {caution}", kind.name))));
    notes.extend(sending_limits(&survey.sources));
    let has_sides = |kind: &&PanelType| !is_patch(kind.kind, Bodies::All);
    let is_flush = |patch: &Patch| scene.stock.iter().filter(has_sides).any(|kind| kind.name == hanging.finishes[patch.finish].name);
    if hanging.patches.iter().any(is_flush) {
        notes.push("What hangs flat is taken as flush here, since it may be moved: `hear` and `place` take it as built. In a room of 33 m3 a plan then had 0.7 to 1.1 dB more C50 and 6 to 10 % less EDT at 1 kHz.".to_owned());
    }
    for (source, row) in traced.images.iter().enumerate() {
        for (receiver, zone) in row.iter().enumerate() {
            if zone.points[0].first().is_none_or(|first| !first.path.bounces.is_empty()) {
                notes.push(format!(
                    "Something stands between {} and {}: levels are re the direct sound that would arrive without it.",
                    traced.room.sources[source].name, traced.room.receivers[receiver].name
                ));
            }
        }
    }
    let escaped = traced.paths.escaped as f64 / traced.paths.traced.max(1) as f64;
    if escaped > ESCAPED_SHARE {
        notes.push(format!(
            "{:.3} % of the rays left through cracks between surfaces; the decay is that much too fast at most.",
            100.0 * escaped
        ));
    }
    notes
}
