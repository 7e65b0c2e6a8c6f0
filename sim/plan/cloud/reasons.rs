//! Why a cloud hangs as high as it does, in sentences that hold nothing but the figures of a [`CloudStudy`].
//!
//! The height and its score; which terms of the score carry it; what becomes of the ceiling's bounce; what the air above it brings; how far one may depart from that height; how the lowest
//! and the highest do; what else would be better.
//!
//! *Limits.* That a term goes with a bounce or an absorption area is said, not that it follows from it.

use crate::bands::Band;
use crate::findings::Estimate;
use crate::plan::reasons::{area, plain, told};
use crate::plan::score::LEAST_STEPS;
use crate::scene::Term;
use crate::units::{Length, LengthUnit};

use super::{CloudStudy, CloudVariant};

/// The octave by which absorption is told: in the middle of those that decay is judged in.
const TOLD_HZ: u32 = 500;

/// The octaves by which a zone is told: the widest and the narrowest of the criterion.
const ZONE_HZ: [u32; 2] = [1000, 8000];

/// The sentences; lengths in this unit.
pub(super) fn reasons(study: &CloudStudy, unit: LengthUnit) -> Vec<String> {
    let Some(best) = study.best() else { return Vec::new() };
    let told = Sentences { study, best, unit };
    let mut sentences = vec![told.verdict(), told.terms(), told.bounce()];
    sentences.extend([told.absorbed()]);
    sentences.extend(told.flatness());
    sentences.extend(told.now());
    sentences.extend(told.besides());
    sentences
}

struct Sentences<'a> {
    study: &'a CloudStudy,
    best: &'a CloudVariant,
    unit: LengthUnit,
}

/// Whether a difference is more than its error and what is told.
fn is_told(estimate: Estimate) -> bool {
    estimate.value.abs() >= estimate.half_width_95().max(LEAST_STEPS)
}

/// `+0.4 +-0.1`
fn signed(estimate: Estimate) -> String {
    format!("{}{}", if estimate.value > 0.0 { "+" } else { "" }, told(estimate, 1))
}

fn decibels(level: Option<f64>) -> String {
    level.map_or_else(|| "nothing".to_owned(), |level| format!("{} dB", plain(level, 1)))
}

fn octave(nominal: u32) -> Option<Band> {
    Band::ALL.into_iter().find(|band| band.nominal() == nominal)
}

impl Sentences<'_> {
    fn length(&self, meters: f64) -> String {
        Length(meters).print(self.unit)
    }

    fn verdict(&self) -> String {
        let height = self.length(self.best.underside_m);
        let score = told(self.best.score_steps, 1);
        let air = self.length(self.best.air_above_m);
        let of = match self.study.heights.len() {
            1 => "the only height tried".to_owned(),
            count => format!("the highest score of {count} heights"),
        };
        if self.best.score_steps.value <= self.best.score_steps.half_width_95() {
            return format!(
                "No height makes the room better than without it by more than the error: {height} from the floor to its underside, with {air} of air above, has {of}, {score} steps."
            );
        }
        format!(
            "Hang its underside {height} over the floor, with {air} of air above: {of}, {score} just-noticed steps better than the room without it."
        )
    }

    /// Which terms carry the score.
    fn terms(&self) -> String {
        let (without, with) = (&self.study.without.figures, &self.best.figures);
        let from = |what: &str, was: String, is: String, unit: &str| format!("{what} from {was} to {is} {unit}");
        let time = |time: Option<Estimate>| time.map_or_else(|| "-".to_owned(), |time| told(time, 2));
        let percent = |share: Option<Estimate>| share.map_or_else(|| "-".to_owned(), |share| told(share, 0));
        let asked = self.study.asked_decay_s.map_or_else(String::new, |[low, high]| format!(", asked {low:.2} to {high:.2}"));
        let decibels = |level: Option<Estimate>| level.map_or_else(|| "-".to_owned(), |level| told(level, 1));
        let share = |share: Option<f64>| share.map_or_else(|| "-".to_owned(), |share| plain(100.0 * share, 0));
        let words = |term: Term| match term {
            Term::Reflections => from(
                "what is over the criterion, octave by octave,",
                plain(without.octave_mean_db(), 1),
                plain(with.octave_mean_db(), 1),
                "dB",
            ),
            Term::EarlyLevel => from("early level", told(without.early_level_db, 1), told(with.early_level_db, 1), "dB"),
            Term::Decay => from("mean decay", time(without.t_mid_s), time(with.t_mid_s), &format!("s{asked}")),
            Term::Evenness => from("octaves off their mean", percent(without.unevenness_percent), percent(with.unevenness_percent), "%"),
            Term::Likeness => from("left against right", decibels(without.likeness_db), decibels(with.likeness_db), "dB"),
            Term::Speech => from("clarity of speech", decibels(without.speech_c50_db), decibels(with.speech_c50_db), "dB"),
            Term::Flutter => from("facing surfaces that ring", share(without.ringing_share), share(with.ringing_share), "%"),
            Term::Bass => "the bass".to_owned(),
        };
        let gain = |term: Term| self.best.gains_steps[term].filter(|gain| is_told(*gain));
        let mut terms: Vec<(Estimate, String)> = Term::ALL.into_iter().filter_map(|term| Some((gain(term)?, words(term)))).collect();
        terms.sort_by(|a, b| b.0.value.abs().total_cmp(&a.0.value.abs()));
        if terms.is_empty() {
            return "No term of the score differs from the room without it by more than its error.".to_owned();
        }
        let words: Vec<String> = terms.into_iter().map(|(gain, words)| format!("{words} ({} steps)", signed(gain))).collect();
        format!("What it is made of: {}.", words.join("; "))
    }

    /// What becomes of the ceiling's bounce.
    fn bounce(&self) -> String {
        let (was, is, own) = (self.study.without.ceiling_db, self.best.ceiling_db, self.best.cloud_db);
        let mirrored = format!(
            "By way of the ceiling come {} re direct without it and {} with it, by its own faces {}",
            decibels(was),
            decibels(is),
            decibels(own)
        );
        let covered = self.best.zone_share.map_or_else(String::new, |share| {
            let at = ZONE_HZ.iter().filter_map(|&nominal| octave(nominal));
            let at: Vec<String> = at.map(|band| format!("{} % at {}", plain(100.0 * share[band], 0), band.label())).collect();
            format!("; it covers {} of the first Fresnel zones of the ceiling's bounces", at.join(", "))
        });
        let comb = match (self.study.without.comb_depth_db, self.best.comb_depth_db) {
            (Some(was), Some(is)) => {
                format!(". The deepest comb of ceiling or cloud at an ear is {} dB, {} without it", plain(is, 1), plain(was, 1))
            }
            (None, Some(is)) => format!(". It makes a comb of {} dB at an ear, where there was none from above", plain(is, 1)),
            _ => String::new(),
        };
        format!("{mirrored}{covered}{comb}.")
    }

    /// What the air above it brings.
    fn absorbed(&self) -> String {
        let told_at = octave(TOLD_HZ).map_or_else(String::new, |band| {
            let gained = self.best.gained_m2[band];
            let against = if gained < 0.0 { "less" } else { "more" };
            format!(
                "At {} it absorbs {}, {} {against} than flush on the ceiling",
                band.label(),
                area(self.best.absorption_m2[band], self.unit),
                area(gained.abs(), self.unit)
            )
        });
        let decay =
            self.best.decay_change_percent.map_or_else(String::new, |change| format!("; the mean decay changes by {} %", told(change, 1)));
        format!("{told_at}{decay}.")
    }

    /// How far one may depart from the best, and how the ends do.
    fn flatness(&self) -> Vec<String> {
        let heights = &self.study.heights;
        let (Some(low), Some(high)) = (heights.first(), heights.last()) else { return Vec::new() };
        if heights.len() < 2 {
            return Vec::new();
        }
        let range = |[from, to]: [f64; 2]| {
            if to - from < 1e-6 { format!("only {}", self.length(from)) } else { format!("{} to {}", self.length(from), self.length(to)) }
        };
        let all = |[from, to]: [f64; 2]| from <= low.underside_m + 1e-6 && to >= high.underside_m - 1e-6;
        let flat = if all(self.study.alike_m) {
            "No height that was tried is told apart from the best: let the ladder decide.".to_owned()
        } else {
            let half = if all(self.study.half_step_m) { "all of them".to_owned() } else { range(self.study.half_step_m) };
            format!(
                "Not told apart from the best: {}; within half a step of it: {half}. In there the ladder decides.",
                range(self.study.alike_m)
            )
        };
        let apart: Vec<String> = heights
            .iter()
            .filter(|one| one.alike && !within(one.underside_m, self.study.alike_m))
            .map(|one| self.length(one.underside_m))
            .collect();
        let apart = match &apart[..] {
            [] => String::new(),
            [only] => format!(" Farther off, {only} is not told apart from it either."),
            [first, .., last] => {
                format!(" Farther off, {} more from {first} to {last} are not told apart from it either.", apart.len())
            }
        };
        let end = |one: &CloudVariant| {
            format!(
                "{} steps at {} ({} of air above)",
                told(one.score_steps, 1),
                self.length(one.underside_m),
                self.length(one.air_above_m)
            )
        };
        vec![format!("{flat}{apart}"), format!("The lowest and the highest score {} and {}.", end(low), end(high))]
    }

    /// How it does where it hangs now.
    fn now(&self) -> Option<String> {
        self.study.hung_panel_number?;
        let now = self.study.heights.iter().find(|one| one.what == super::NOW)?;
        let behind = if now.number == self.best.number {
            "the best height".to_owned()
        } else if now.alike {
            format!("not told apart from the best ({} steps behind)", told(now.behind_steps, 1))
        } else {
            format!("{} steps behind the best", told(now.behind_steps, 1))
        };
        Some(format!("Where it hangs now, at {}, it is {behind}.", self.length(now.underside_m)))
    }

    /// What else would be better, group by group.
    fn besides(&self) -> Option<String> {
        let all = self.study.besides.iter().flat_map(|besides| &besides.variants);
        let tried = all.clone().count();
        let mut better: Vec<&CloudVariant> = all.filter(|one| one.behind_steps.value < 0.0 && !one.alike).collect();
        better.sort_by(|a, b| a.behind_steps.value.total_cmp(&b.behind_steps.value));
        let ahead = |one: &CloudVariant| {
            let ahead = Estimate { value: -one.behind_steps.value, se: one.behind_steps.se };
            format!("{} ({} steps ahead)", one.what, told(ahead, 1))
        };
        match &better[..] {
            [] if tried == 0 => None,
            [] => Some(format!("None of {tried} tilts, sizes and places beside it is better by more than the error.")),
            better => Some(format!("Better still: {}.", better.iter().take(3).map(|one| ahead(one)).collect::<Vec<_>>().join(", "))),
        }
    }
}

fn within(height: f64, [low, high]: [f64; 2]) -> bool {
    (low - 1e-9..=high + 1e-9).contains(&height)
}
