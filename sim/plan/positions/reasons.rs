//! Where a listening set should stand and why, in sentences that hold nothing but the figures of a [`PositionsStudy`]; and what to look to before it is moved.
//!
//! The verdict; which terms of the score carry it; what the low end gains or loses by it, and where that alone would stand; what else was nearly as good; how carefully one must measure; how flat the
//! room is; what speaks against the present place.
//!
//! *Limits.* Common practice, no source: the cautions.

use glam::DVec3;

use crate::findings::Estimate;
use crate::findings::bass::BassEvenness;
use crate::plan::Figures;
use crate::plan::reasons::{plain, told};
use crate::plan::score::LEAST_STEPS;
use crate::scene::{OpeningKind, Scene, SourceKind, Term};
use crate::units::{Length, LengthUnit};

use super::fit::CLEAR_WAY;
use super::set::ListeningSet;
use super::{EvenestPlace, Finalist, LeftOutPlace, PositionsBass, PositionsStudy, Standing};

/// A difference of evenness below this prints as none, dB.
const ALIKE_DB: f64 = 0.05;

/// The sentences; lengths in this unit.
pub(super) fn reasons(study: &PositionsStudy, unit: LengthUnit) -> Vec<String> {
    let told = Sentences { study, unit };
    let mut sentences = vec![told.verdict()];
    sentences.extend(study.suggested().map(|best| told.terms(best)));
    sentences.extend(told.low_end());
    sentences.extend(told.others());
    sentences.extend(study.suggested().and_then(|best| told.care(best)));
    sentences.push(told.flatness());
    sentences.extend(told.objection());
    sentences
}

struct Sentences<'a> {
    study: &'a PositionsStudy,
    unit: LengthUnit,
}

/// What was in the way and how often, the most frequent first.
pub(super) fn by_reason(left_out: &[LeftOutPlace]) -> Vec<(&str, usize)> {
    let mut reasons: Vec<(&str, usize)> = Vec::new();
    for out in left_out {
        match reasons.iter_mut().find(|(reason, _)| *reason == out.reason) {
            Some((_, count)) => *count += 1,
            None => reasons.push((&out.reason, 1)),
        }
    }
    reasons.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    reasons
}

impl Sentences<'_> {
    fn length(&self, meters: f64) -> String {
        Length(meters).print(self.unit)
    }

    /// `0.4 +-0.1`, with an interval for all finalists together.
    fn gain(one: &Finalist) -> String {
        format!("{} +-{}", plain(one.score_steps.value, 1), plain(one.half_width_steps.max(0.05), 1))
    }

    fn verdict(&self) -> String {
        let tried = self.study.tried.len();
        let of = format!("of {tried} places tried in four facings");
        let Some(best) = self.study.suggested() else {
            return match self.study.finalists.first() {
                Some(best) => format!(
                    "Stay where you are: the present place is as good as any {of}, as far as the tracing can tell. The best of them is {} just-noticed steps better, which is no more than its error or not \
                     noticed.",
                    Self::gain(best)
                ),
                None => "Stay where you are: no other place could be judged.".to_owned(),
            };
        };
        let facing =
            if best.place.turned_deg == 0 { format!("facing {} as now", best.facing) } else { format!("turned to face {}", best.facing) };
        let moved =
            if best.moved_m < 0.005 { "where it is now".to_owned() } else { format!("{} from where it is now", self.length(best.moved_m)) };
        let which = if self.ahead_by_rays(best).is_some() { "one of the best" } else { "the best" };
        format!(
            "Move the set so that {} is {moved}, {facing}: {} just-noticed steps better, {which} {of}.",
            self.study.middle,
            Self::gain(best)
        )
    }

    /// Which terms carry the gain.
    fn terms(&self, best: &Finalist) -> String {
        let (was, is) = (&self.study.present.figures, &best.figures);
        let gain = |term: Term| best.gains_steps[term].filter(|gain| gain.value.abs() >= gain.half_width_95().max(LEAST_STEPS));
        let mut terms: Vec<(Estimate, String)> =
            Term::ALL.into_iter().filter_map(|term| Some((gain(term)?, self.change(term, was, is)))).collect();
        terms.sort_by(|a, b| b.0.value.abs().total_cmp(&a.0.value.abs()));
        if terms.is_empty() {
            return "No single term of the score differs by more than its error; together they do.".to_owned();
        }
        let signed = |gain: Estimate| format!("{}{}", if gain.value > 0.0 { "+" } else { "" }, told(gain, 1));
        let words: Vec<String> = terms.into_iter().map(|(gain, words)| format!("{words} ({} steps)", signed(gain))).collect();
        format!("What it is made of: {}.", words.join("; "))
    }

    /// What becomes of a term's own figure.
    fn change(&self, term: Term, was: &Figures, is: &Figures) -> String {
        let from = |what: &str, was: String, is: String, unit: &str| format!("{what} from {was} to {is} {unit}");
        let maybe = |value: Option<Estimate>, digits: usize| value.map_or_else(|| "-".to_owned(), |value| told(value, digits));
        let share = |share: Option<f64>| share.map_or_else(|| "-".to_owned(), |share| plain(100.0 * share, 0));
        match term {
            Term::Reflections => {
                from("what is over the criterion, octave by octave,", plain(was.octave_mean_db(), 1), plain(is.octave_mean_db(), 1), "dB")
            }
            Term::EarlyLevel => from("early level", told(was.early_level_db, 1), told(is.early_level_db, 1), "dB"),
            Term::Decay => {
                let asked = self.study.asked_decay_s.map_or_else(String::new, |[low, high]| format!(", asked {low:.2} to {high:.2}"));
                from("mean decay", maybe(was.t_mid_s, 2), maybe(is.t_mid_s, 2), &format!("s{asked}"))
            }
            Term::Evenness => from("octaves off their mean", maybe(was.unevenness_percent, 0), maybe(is.unevenness_percent, 0), "%"),
            Term::Likeness => from("left against right", maybe(was.likeness_db, 1), maybe(is.likeness_db, 1), "dB"),
            Term::Speech => from("clarity of speech", maybe(was.speech_c50_db, 1), maybe(is.speech_c50_db, 1), "dB"),
            Term::Flutter => from("facing surfaces that ring", share(was.ringing_share), share(is.ringing_share), "%"),
            Term::Bass => "the bass".to_owned(),
        }
    }

    /// What the low end is like where it is suggested to stand, what puts a place first that is not the best by rays, and where the low end alone would stand.
    fn low_end(&self) -> Vec<String> {
        let (Some(bass), Some(present)) = (&self.study.bass, self.study.present.bass) else {
            return vec!["Bass is not computed here and has no part in this: the low end may ask for another place, which a study of it there tells.".to_owned()];
        };
        let [low, high] = bass.octaves_hz.map(|hertz| plain(hertz, usize::from(hertz.fract() != 0.0)));
        let what = format!("third octaves of {low} to {high} Hz are off their mean by");
        let suggested = self.study.suggested().and_then(|best| Some((best, best.bass?)));
        let first = match suggested {
            Some((_, own)) => {
                let gain = present.evenness_db - own.evenness_db;
                let verdict = match gain.abs() {
                    none if none < ALIKE_DB => "is as even as now".to_owned(),
                    _ if gain > 0.0 => format!("gains {} dB of evenness", plain(gain, 1)),
                    _ => format!("loses {} dB of evenness", plain(-gain, 1)),
                };
                format!("The low end {verdict} there: {what} {}, now {}.", evenness(own), evenness(present))
            }
            None => format!("The low end where it stands now: {what} {}.", evenness(present)),
        };
        let by_rays = suggested.and_then(|(best, _)| self.ahead_by_rays(best));
        std::iter::once(first).chain(by_rays).chain(bass.evenest.as_ref().map(|evenest| self.evenest(bass, evenest))).collect()
    }

    /// A finalist that has more by rays, though not for sure.
    fn ahead_by_rays(&self, best: &Finalist) -> Option<String> {
        let ahead = self.study.finalists.iter().max_by(|a, b| a.score_steps.value.total_cmp(&b.score_steps.value))?;
        (ahead.score_steps.value > best.score_steps.value).then(|| {
            format!("The tracing cannot tell it from place {}, {} steps; its low end puts it first.", ahead.number, Self::gain(ahead))
        })
    }

    /// Where the low end alone would stand.
    fn evenest(&self, bass: &PositionsBass, evenest: &EvenestPlace) -> String {
        let alone = "For the low end alone the evenest of all places that fit";
        let is_here = |place: &super::SetPlace| *place == evenest.place;
        if is_here(&self.study.present.place) {
            return format!("{alone} is the present one.");
        }
        if let Some(one) = self.study.finalists.iter().find(|one| is_here(&one.place)) {
            let which = if self.study.suggested().is_some_and(|best| best.number == one.number) { ", the suggested one" } else { "" };
            return format!("{alone} is place {}{which}: {}.", one.number, evenness(evenest.bass));
        }
        let now = if evenest.place.turned_deg == 0 { " as now" } else { "" };
        let score = evenest.score_steps.map_or_else(String::new, |steps| {
            format!(
                "; by the early terms of the score that place is {} steps better than the present one, by the few rays of the search",
                told(steps, 1)
            )
        });
        format!(
            "{alone} is another one: {} {} from where it is now, facing {}{now}, {}: {}{score}. Decibels of evenness and steps of the score have no common measure, so which counts more is for the ear.",
            self.study.middle,
            self.length(evenest.moved_m),
            evenest.facing,
            self.ways(bass, &evenest.standing),
            evenness(evenest.bass)
        )
    }

    /// How far the sources go.
    fn ways(&self, bass: &PositionsBass, standing: &[Standing]) -> String {
        let pairs = standing.iter().zip(&self.study.present.standing);
        let way = |(one, now): (&Standing, &Standing)| {
            bass.sources.contains(&one.name).then(|| {
                let meters = DVec3::from_array(one.point_m).distance(DVec3::from_array(now.point_m));
                format!("the {} \"{}\" {}", one.kind, one.name, self.length(meters))
            })
        };
        let ways: Vec<String> = pairs.filter_map(way).collect();
        if ways.is_empty() { "the sources where they are".to_owned() } else { ways.join(", ") }
    }

    /// The other finalists that are better, too.
    fn others(&self) -> Option<String> {
        let one = |one: &Finalist| {
            let now = if one.place.turned_deg == 0 { " as now" } else { "" };
            format!("place {}, {} away facing {}{now}, {} steps", one.number, self.length(one.moved_m), one.facing, Self::gain(one))
        };
        let words: Vec<String> = self.study.finalists.iter().skip(1).filter(|one| one.is_better).map(one).collect();
        (!words.is_empty()).then(|| format!("If that does not suit: {}.", words.join("; ")))
    }

    /// How carefully it must be put there.
    fn care(&self, best: &Finalist) -> Option<String> {
        let lost = best.lost_beside_steps.filter(|lost| *lost > 0.0)?;
        Some(format!(
            "Measure it: {} to one side or the other costs up to about {} just-noticed steps, by the few rays of the search.",
            self.length(self.study.step_m / 2.0),
            plain(lost, 1)
        ))
    }

    /// How much the place matters at all.
    fn flatness(&self) -> String {
        let values = || self.study.tried.iter().map(|one| one.figures.better_steps.value);
        let (worst, best) = (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
        let count = self.study.places_within_half_step;
        let are = if count == 1 { "1 place is".to_owned() } else { format!("{count} places are") };
        format!(
            "How flat it is: {are} within half a step of the best of the grid, {} from one to the next; from the worst to the best of it are {} steps of early terms.",
            self.length(self.study.step_m),
            plain(best - worst, 1)
        )
    }

    fn objection(&self) -> Option<String> {
        self.study.present.objection.as_ref().map(|why| format!("As it stands now it would not be suggested: {why}, by the rule here."))
    }
}

/// `3.2 dB, the weakest 63 Hz with 7.1 dB under it`.
fn evenness(bass: BassEvenness) -> String {
    format!(
        "{} dB, the weakest {} Hz with {} dB under it",
        plain(bass.evenness_db, 1),
        plain(bass.weakest_hz, usize::from(bass.weakest_hz.fract() != 0.0)),
        plain(-bass.weakest_db, 1)
    )
}

/// What to look to before anything is moved.
pub(super) fn cautions(scene: &Scene, set: &ListeningSet) -> Vec<String> {
    let mut lines = Vec::new();
    let has_loudspeakers = set.sources.iter().any(|&source| scene.sources[source].kind == SourceKind::Loudspeaker);
    if has_loudspeakers {
        lines.push(
            "Distances are those of the acoustic center: the box behind it needs room. A port wants free air before it; ask its maker how much, and how near to a wall it may stand.".to_owned(),
        );
    }
    lines.push(
        "Cables: are they long enough, and do none cross where people walk or lie under a chair's wheels? Keep sockets and heaters free."
            .to_owned(),
    );
    if scene.openings.iter().any(|opening| opening.kind == OpeningKind::Door) {
        lines.push(format!(
            "Before every door its own width and {} beyond stay clear, as if it swung inward: try how it does. Leave a way from there to the seat and keep escape windows free.",
            Length(CLEAR_WAY).print(scene.unit)
        ));
    }
    let carried: Vec<&str> = set.blocks.iter().map(|&block| scene.blocks[block].name.as_str()).collect();
    if !carried.is_empty() {
        lines.push(format!("Two people carry what is heavy, and empty it first: {}.", carried.join(", ")));
    }
    if has_loudspeakers {
        lines.push("Hold loudspeakers on stands while they are moved: they tip.".to_owned());
    }
    lines
}
