//! Measured figures of one place beside predicted ones, octave by octave: how far apart, how sure, in just noticeable steps.
//!
//! The difference of a figure has one standard uncertainty: the root of the sum of squares of the scatter of a single place (`scatter`), of the error of the tracing, and of half of the range that inputs leave. A figure
//! is **as predicted** where it lies within two of them, which 95 of 100 do if nothing else is wrong.
//!
//! *References.* As `scatter`; adding in squares: JCGM 100 (Guide to the expression of uncertainty in measurement), 5.1.2.
//!
//! *Limits.* A statistical octave (below Schroeder's frequency, no waves run) is shown and judged by nothing.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::scatter::Measure;
use crate::bands::Band;
use crate::findings::{Basis, Estimate, Octave, Pair, Span};
use crate::measured::{Figure, Measured, MeasuredBand};

/// How a measured figure stands to the predicted one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Agreement {
    /// Within two standard uncertainties.
    AsPredicted,
    /// More than that.
    Higher,
    /// Less than that.
    Lower,
    /// One of the two is not known, or nothing is judged by the predicted one.
    NotJudged,
}

/// A figure measured, predicted, and before; in the unit of the key that holds it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Compared {
    /// What the recording says.
    pub measured: Figure,
    /// By how much a single place scatters, one standard uncertainty.
    pub scatter: Option<f64>,
    /// What the scene says, with the error of the tracing.
    pub predicted: Option<Estimate>,
    /// Where that may lie because of materials and tape.
    pub predicted_inputs: Option<Span>,
    /// Measured less predicted.
    pub difference: Option<f64>,
    /// One standard uncertainty of that.
    pub difference_sure: Option<f64>,
    /// The difference in just noticeable steps.
    pub difference_steps: Option<f64>,
    /// How they stand to each other.
    pub agreement: Agreement,
    /// What the recording of before says, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Figure>,
    /// Measured less before, in just noticeable steps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub change_steps: Option<f64>,
}

/// An octave measured and predicted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ProvedOctave {
    /// Nominal frequency.
    pub frequency_hz: u32,
    /// What the prediction rests on.
    pub basis: Basis,
    /// Early decay time.
    pub edt_s: Compared,
    /// T20.
    pub t20_s: Compared,
    /// T30.
    pub t30_s: Compared,
    /// Clarity at 50 ms.
    pub c50_db: Compared,
    /// Clarity at 80 ms.
    pub c80_db: Compared,
    /// Definition.
    pub d50: Compared,
    /// Center time.
    pub center_time_ms: Compared,
    /// All that was measured.
    pub measured: MeasuredBand,
}

impl ProvedOctave {
    /// T30, or T20 where the record or the prediction does not bear that.
    #[must_use]
    pub fn decay(&self) -> &Compared {
        if self.is_by_t30() { &self.t30_s } else { &self.t20_s }
    }

    /// Whether that is T30.
    #[must_use]
    pub fn is_by_t30(&self) -> bool {
        let both = |one: &Compared| one.measured.value.is_some() && one.predicted.is_some();
        both(&self.t30_s) || !both(&self.t20_s)
    }
}

/// What a figure is compared with.
struct Side<'a> {
    measure: Measure,
    width_hz: f64,
    decay_s: Option<f64>,
    is_judged: bool,
    before: Option<&'a MeasuredBand>,
}

impl Side<'_> {
    fn compare(
        &self,
        measured: &Figure,
        (predicted, inputs): (Option<Estimate>, Option<Span>),
        of: fn(&MeasuredBand) -> &Figure,
    ) -> Compared {
        let measure = self.measure;
        let scatter = measured.value.zip(self.decay_s).map(|(value, decay)| measure.scatter(value, self.width_hz, decay));
        let before = self.before.map(|band| of(band).clone());
        let change_steps = measured.value.zip(before.as_ref().and_then(|before| before.value)).map(|(now, then)| measure.steps(now, then));
        let steps = |value: f64, other: f64| measure.steps(value, other);
        Compared { before, change_steps, ..compared(measured, scatter, (predicted, inputs), steps, self.is_judged) }
    }
}

/// A figure beside another.
pub(super) fn compared(
    measured: &Figure,
    scatter: Option<f64>,
    (predicted, predicted_inputs): (Option<Estimate>, Option<Span>),
    steps: impl Fn(f64, f64) -> f64,
    is_judged: bool,
) -> Compared {
    let both = measured.value.zip(predicted);
    let difference = both.map(|(value, predicted)| value - predicted.value);
    let sure = predicted.zip(scatter).map(|(predicted, scatter)| {
        let inputs = predicted_inputs.map_or(0.0, |span| 0.5 * (span.high - span.low));
        scatter.hypot(predicted.se).hypot(inputs)
    });
    let agreement = match difference.zip(sure) {
        Some((difference, sure)) if is_judged && difference.abs() <= 2.0 * sure => Agreement::AsPredicted,
        Some((difference, _)) if is_judged && difference > 0.0 => Agreement::Higher,
        Some(_) if is_judged => Agreement::Lower,
        _ => Agreement::NotJudged,
    };
    Compared {
        measured: measured.clone(),
        scatter,
        predicted,
        predicted_inputs,
        difference,
        difference_sure: difference.and(sure),
        difference_steps: both.map(|(value, predicted)| steps(value, predicted.value)).filter(|steps| steps.is_finite()),
        agreement,
        before: None,
        change_steps: None,
    }
}

/// All octaves of a pair.
#[must_use]
pub fn octaves(pair: &Pair, measured: &Measured, before: Option<&Measured>) -> Vec<ProvedOctave> {
    let each = pair.octaves.iter().zip(Band::ALL).zip(&measured.octaves).enumerate();
    each.map(|(index, ((predicted, band), measured))| octave(predicted, band, measured, before.map(|before| &before.octaves[index])))
        .collect()
}

fn octave(predicted: &Octave, band: Band, measured: &MeasuredBand, before: Option<&MeasuredBand>) -> ProvedOctave {
    let decay_s = measured.t30_s.value.or(measured.t20_s.value).or(measured.edt_s.value).or(measured.late_decay_s);
    let side = |measure: Measure| Side {
        measure,
        width_hz: band.upper() - band.lower(),
        decay_s,
        is_judged: predicted.basis != Basis::Statistical,
        before,
    };
    let time = |measure, figure, predicted, of| side(measure).compare(figure, predicted, of);
    ProvedOctave {
        frequency_hz: predicted.frequency_hz,
        basis: predicted.basis,
        edt_s: time(Measure::Early, &measured.edt_s, (predicted.edt_s, predicted.edt_inputs_s), |band| &band.edt_s),
        t20_s: time(Measure::Twenty, &measured.t20_s, (predicted.t20_s, predicted.t20_inputs_s), |band| &band.t20_s),
        t30_s: time(Measure::Thirty, &measured.t30_s, (predicted.t30_s, predicted.t30_inputs_s), |band| &band.t30_s),
        c50_db: time(Measure::C50, &measured.c50_db, (predicted.c50_db, predicted.c50_inputs_db), |band| &band.c50_db),
        c80_db: time(Measure::C80, &measured.c80_db, (predicted.c80_db, predicted.c80_inputs_db), |band| &band.c80_db),
        d50: time(Measure::D50, &measured.d50, (predicted.d50, None), |band| &band.d50),
        center_time_ms: time(Measure::CenterTime, &measured.center_time_ms, (predicted.ts_ms, None), |band| &band.center_time_ms),
        measured: measured.clone(),
    }
}

/// Mean decay of the octaves that both know and that something is judged by, and which these are (indices, first and last).
#[must_use]
pub fn mean_decay(octaves: &[ProvedOctave], range: (usize, usize)) -> Option<((usize, usize), Compared)> {
    let known: Vec<(usize, &Compared)> = (range.0..=range.1)
        .filter_map(|index| Some((index, octaves.get(index).filter(|octave| octave.basis != Basis::Statistical)?.decay())))
        .filter(|(_, decay)| decay.measured.value.is_some() && decay.predicted.is_some())
        .collect();
    let ends = (known.first()?.0, known.last()?.0);
    let count = known.len() as f64;
    let sum = |of: fn(&Compared) -> Option<f64>| known.iter().map(|(_, decay)| of(decay)).sum::<Option<f64>>();
    let squares = |of: fn(&Compared) -> Option<f64>| known.iter().map(|(_, decay)| of(decay).map(|one| one * one)).sum::<Option<f64>>();
    let measured = Figure::known(sum(|decay| decay.measured.value)? / count);
    let scatter = squares(|decay| decay.scatter).map(|sum| sum.sqrt() / count);
    let predicted = Estimate {
        value: sum(|decay| decay.predicted.map(|predicted| predicted.value))? / count,
        // Octaves of one source share their rays: added plainly, which never flatters.
        se: sum(|decay| decay.predicted.map(|predicted| predicted.se))? / count,
    };
    let inputs = Span::mean(&known.iter().map(|(_, decay)| decay.predicted_inputs).collect::<Vec<_>>());
    let steps = |value: f64, other: f64| Measure::Thirty.steps(value, other);
    let before = sum(|decay| decay.before.as_ref().and_then(|before| before.value)).map(|sum| Figure::known(sum / count));
    let change_steps = before.as_ref().and_then(|before| before.value).zip(measured.value).map(|(then, now)| steps(now, then));
    Some((ends, Compared { before, change_steps, ..compared(&measured, scatter, (Some(predicted), inputs), steps, true) }))
}
