//! Why one alternative is hung and not another, in sentences that hold nothing but the figures of a [`Choice`].
//!
//! The chosen one stands beside its rival: what decided; which terms of the score differ, and by how much; what either absorbs where they differ most, and in the octaves that the
//! largest difference is judged in; what they absorb where nothing is judged.
//!
//! *Limits.* That a term goes with an absorption area is said, not that it follows from it: where panels hang counts as well.

use crate::bands::Band;
use crate::findings::Estimate;
use crate::units::LengthUnit;

use super::Figures;
use super::choice::{Alternative, Choice, Decision};
use super::score::LEAST_STEPS;
use crate::scene::Term;
use crate::weigh::early_bands;

/// Two octaves are told as one where the ratio of what is absorbed differs by less than this share.
const ALIKE: f64 = 0.05;

/// Absorption that differs by less than this share does not differ.
const LEAST_DIFFERENCE: f64 = 0.005;

/// Square meters of a square foot (exact by definition).
const SQUARE_FOOT: f64 = 0.3048 * 0.3048;

/// The sentences; `bands` are the octaves that the decay is judged in, areas are told in the unit of lengths.
pub(super) fn reasons(choice: &Choice, bands: &[Band], schroeder_hz: f64, unit: LengthUnit) -> Vec<String> {
    let (Some(chosen), Some(rival)) = (choice.chosen(), choice.numbered(choice.rival)) else { return Vec::new() };
    let pair = Pair { choice, chosen, rival, bands, unit };
    let mut reasons = vec![pair.verdict()];
    let terms = pair.terms();
    reasons.push(Pair::differences(&terms));
    reasons.extend(pair.absorbed(terms.first()));
    reasons.extend(pair.unjudged(schroeder_hz));
    reasons
}

/// `"thin panel"`, `"thin panel" with "rug"`.
pub(super) fn name(alternative: &Alternative) -> String {
    alternative.types.iter().map(|name| format!("\"{name}\"")).collect::<Vec<_>>().join(" with ")
}

/// A term of the score in which the two differ.
struct Difference {
    /// By how many steps the chosen is ahead.
    lead: Estimate,
    words: String,
    judged_in: Vec<Band>,
}

/// The alternative that is hung and its rival.
struct Pair<'a> {
    choice: &'a Choice,
    chosen: &'a Alternative,
    rival: &'a Alternative,
    bands: &'a [Band],
    unit: LengthUnit,
}

impl Pair<'_> {
    /// What decided.
    fn verdict(&self) -> String {
        let (chosen, rival) = (name(self.chosen), name(self.rival));
        let scores = [self.chosen, self.rival].map(|one| told(one.score_steps, 1));
        let lead = told(self.choice.lead_steps, 1);
        let alike = || {
            format!(
                "{chosen} and {rival} are not told apart, {} and {} steps better than bare, a difference of {lead}",
                scores[0], scores[1]
            )
        };
        match self.choice.decided_by {
            Decision::Score => {
                format!(
                    "{chosen} is hung: the room gets {} steps better than bare, with {rival} {}; on the same rays a lead of {lead}.",
                    scores[0], scores[1]
                )
            }
            Decision::Cost => format!("{}: {chosen} is hung, as it costs {}.", alike(), self.cheaper()),
            Decision::Panels => {
                let [few, many] = [self.chosen, self.rival].map(|one| one.hung.iter().map(|(_, count)| count).sum::<u32>());
                format!("{}; {}: {chosen} is hung, as it takes {few} panels and not {many}.", alike(), self.costs())
            }
            Decision::Order => format!("{}; {}: {chosen} is hung, as the scene names it first.", alike(), self.costs()),
        }
    }

    fn cheaper(&self) -> String {
        match (self.chosen.cost, self.rival.cost) {
            (Some(less), Some(more)) => format!("{less:.2} and not {more:.2}"),
            // Something that both hang alike has no price.
            _ => "less by what they hang differently".to_owned(),
        }
    }

    fn costs(&self) -> String {
        match (self.chosen.cost, self.rival.cost) {
            (Some(cost), Some(_)) => format!("they cost the same, {cost:.2}"),
            _ => "not every price is known".to_owned(),
        }
    }

    /// Terms of the score that differ by more than their error, the largest difference first.
    fn terms(&self) -> Vec<Difference> {
        let is_told = |lead: &Estimate| lead.value.abs() >= lead.half_width_95().max(LEAST_STEPS);
        let mut terms: Vec<Difference> = Term::ALL
            .into_iter()
            .filter_map(|term| {
                let lead = self.choice.lead_by_term_steps[term].filter(is_told)?;
                let (words, judged_in) = self.against(term);
                Some(Difference { lead, words, judged_in })
            })
            .collect();
        terms.sort_by(|a, b| b.lead.value.abs().total_cmp(&a.lead.value.abs()));
        terms
    }

    /// What the two are in a term, and the octaves that it is judged in.
    fn against(&self, term: Term) -> (String, Vec<Band>) {
        let figures = [&self.chosen.figures, &self.rival.figures];
        let both = |read: &dyn Fn(&Figures) -> String| figures.map(read);
        let known = |figure: Option<Estimate>, decimals: usize| figure.map_or_else(String::new, |figure| told(figure, decimals));
        let decay = self.bands.to_vec();
        match term {
            Term::Reflections => {
                let [own, other] = both(&|figures| plain(figures.octave_mean_db(), 1));
                (format!("what is over the criterion, octave by octave, {own} dB against {other}"), early_bands().collect())
            }
            Term::EarlyLevel => {
                let [own, other] = both(&|figures| told(figures.early_level_db, 1));
                (format!("the early level, {own} dB against {other}"), early_bands().collect())
            }
            Term::Decay => {
                let [own, other] = both(&|figures| known(figures.t_mid_s, 2));
                let asked = self.choice.asked_decay_s.map_or_else(String::new, |[low, high]| format!(", asked {low:.2} to {high:.2}"));
                (format!("the decay, {own} s against {other}{asked}"), decay)
            }
            Term::Evenness => {
                let [own, other] = both(&|figures| known(figures.unevenness_percent, 0));
                (format!("its evenness, octaves off their mean by {own} % against {other}"), decay)
            }
            Term::Likeness => {
                let [own, other] = both(&|figures| known(figures.likeness_db, 1));
                (format!("left against right, {own} dB against {other}"), early_bands().collect())
            }
            Term::Speech => {
                let [own, other] = both(&|figures| known(figures.speech_c50_db, 1));
                (format!("the clarity of speech, {own} dB against {other}"), decay)
            }
            Term::Flutter => {
                let [own, other] = both(&|figures| plain(100.0 * figures.ringing_share.unwrap_or(0.0), 0));
                (format!("flutter, {own} % of what faces against {other}"), decay)
            }
            Term::Bass => ("the bass".to_owned(), Vec::new()),
        }
    }

    /// For it and against it.
    fn differences(terms: &[Difference]) -> String {
        let one = |term: &Difference| {
            let sign = if term.lead.value > 0.0 { "+" } else { "" };
            format!("{} ({sign}{} steps)", term.words, told(term.lead, 1))
        };
        let told = |is_for: bool| -> String {
            let terms = terms.iter().filter(|term| (term.lead.value > 0.0) == is_for);
            terms.map(one).collect::<Vec<_>>().join("; ")
        };
        let sentences = [("For it", told(true)), ("Against it", told(false))].into_iter().filter(|(_, terms)| !terms.is_empty());
        let sentences: Vec<String> = sentences.map(|(what, terms)| format!("{what}: {terms}.")).collect();
        if sentences.is_empty() { "No term of the score differs by more than its error.".to_owned() } else { sentences.join(" ") }
    }

    /// What either absorbs: where the largest difference is judged, and in the octaves where the two are least alike.
    fn absorbed(&self, largest: Option<&Difference>) -> Option<String> {
        let ratio = |band: Band| self.chosen.absorption_m2[band] / self.rival.absorption_m2[band];
        let judged: Vec<Band> =
            Band::ALL.into_iter().filter(|band| self.bands.contains(band) || early_bands().any(|early| early == *band)).collect();
        let most = judged.iter().copied().filter(|&band| ratio(band).is_finite()).max_by(|&a, &b| ratio(a).total_cmp(&ratio(b)))?;
        let least = judged.iter().copied().filter(|&band| ratio(band).is_finite()).min_by(|&a, &b| ratio(a).total_cmp(&ratio(b)))?;
        // Of the same panels there is nothing to tell.
        if (ratio(most) - 1.0).abs().max((ratio(least) - 1.0).abs()) < LEAST_DIFFERENCE {
            return None;
        }
        let (chosen, rival) = (name(self.chosen), name(self.rival));
        let areas = self.both(self.chosen.area_m2, self.rival.area_m2);
        let at = |band: Band| format!("{} at {}", self.both(self.chosen.absorption_m2[band], self.rival.absorption_m2[band]), band.label());
        let octaves = if most == least || (ratio(most) / ratio(least) - 1.0).abs() < ALIKE {
            at(most)
        } else {
            // From low to high.
            format!("{}, {}", at(most.min(least)), at(most.max(least)))
        };
        let where_judged = largest.filter(|term| !term.judged_in.is_empty()).map_or_else(String::new, |term| {
            let mean =
                |one: &Alternative| term.judged_in.iter().map(|&band| one.absorption_m2[band]).sum::<f64>() / term.judged_in.len() as f64;
            let [low, high] = [term.judged_in.first(), term.judged_in.last()].map(|band| band.map_or("", |band| band.label()));
            format!(
                " What differs most is judged in {low} - {high}: there they absorb {} in the mean.",
                self.both(mean(self.chosen), mean(self.rival))
            )
        });
        Some(format!("{chosen} against {rival}: {areas} of panels, which absorb {octaves}.{where_judged}"))
    }

    /// What either absorbs below Schroeder's frequency.
    fn unjudged(&self, schroeder_hz: f64) -> Option<String> {
        let low: Vec<String> = Band::ALL
            .into_iter()
            .filter(|band| band.center() < schroeder_hz)
            .map(|band| format!("{} at {}", self.both(self.chosen.absorption_m2[band], self.rival.absorption_m2[band]), band.label()))
            .collect();
        let tell = || {
            format!(
                "Below Schroeder's frequency ({schroeder_hz:.0} Hz) they absorb {}: a statistical reading, which has no part in the choice.",
                low.join(", ")
            )
        };
        let differs = |band: Band| (self.chosen.absorption_m2[band] / self.rival.absorption_m2[band] - 1.0).abs() > LEAST_DIFFERENCE;
        Band::ALL.into_iter().any(|band| band.center() < schroeder_hz && differs(band)).then(tell)
    }

    /// `3.10 m2 against 3.40`
    fn both(&self, own_m2: f64, other_m2: f64) -> String {
        match self.unit {
            LengthUnit::Foot | LengthUnit::Inch => {
                format!("{} ft2 against {}", plain(own_m2 / SQUARE_FOOT, 1), plain(other_m2 / SQUARE_FOOT, 1))
            }
            LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => {
                format!("{} m2 against {}", plain(own_m2, 2), plain(other_m2, 2))
            }
        }
    }
}

/// `0.82 m2`, `8.8 ft2`
pub(super) fn area(m2: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Foot | LengthUnit::Inch => format!("{} ft2", plain(m2 / SQUARE_FOOT, 1)),
        LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => format!("{} m2", plain(m2, 2)),
    }
}

/// A number that never is a negative zero.
pub(super) fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.trim_matches(['-', '0', '.']).is_empty() { text.trim_start_matches('-').to_owned() } else { text }
}

/// A value and half the width of its interval of 95 %, as on every page.
pub(super) fn told(estimate: Estimate, decimals: usize) -> String {
    let (value, half) = (plain(estimate.value, decimals), estimate.half_width_95());
    let least = 10.0_f64.powi(-(decimals as i32));
    match half {
        0.0 => value,
        half if half < 0.5 * least => format!("{value} +-<{}", plain(least, decimals)),
        half => format!("{value} +-{}", plain(half, decimals)),
    }
}
