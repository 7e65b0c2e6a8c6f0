//! Decay times and clarity of one band of an impulse response.
//!
//! **Decay.** The filter runs forward; where bandwidth times decay time is below 16, or no decay time comes out, it runs backward; below 4 there is no decay time. Time begins at the onset moved by the mean delay of the energy that the filter
//! itself has, later forward, earlier backward: but for terms of second order in the length of its ringing the integrated curve is then that of the unfiltered decay. What the filter
//! brings before that instant counts as arriving then.
//!
//! What a pulse that holds no more than half the rate of a record rings before its onset, a millisecond of it, belongs to the response: without it the octave of 8 kHz loses up to a twelfth of the direct sound.
//!
//! **Clarity.** Where the filter is over in a fraction of 50 ms (bandwidth times that is 10 or more), the filtered energy is parted at 50 ms and 80 ms from the onset moved by its mean delay: parted before, a bass that still rings
//! would be cut short, and the octave would hear that click. Where the filter is slower, the response is parted before it is filtered, and each part keeps its ringing, a share of energies that the delay does not move; there one part
//! fades into the other over 8 ms, so that their squares add up to that of the whole. The center time is that of the filtered energy less the mean delay of the filter.
//!
//! **Range.** A range of levels counts where the noise lies 10 dB below its lower limit: 20 dB for EDT, 35 dB for T20, 45 dB for T30; 30 dB for clarity, where the rest beyond the cut is a thousandth.
//!
//! *References.* ISO 3382-1:2009, 5.3.3 and annex A; ISO 3382-2:2008, 7.3 on bandwidth times decay time and annex B (read in part, else from memory).
//!
//! *Limits.* Of seeded noise that dies away exponentially the mean of T20, T30, definition and center time over 30 draws lies within three standard errors of the truth from 125 Hz on, that of EDT from 500 Hz on (tested). Below, a band
//! has few degrees of freedom in 10 dB: at 125 Hz and 0.5 s single values of EDT scatter by a fifth and their mean is 0.56 s, with an error of 0.02 s. A border of 8 ms moves C50 of a decay of 0.2 s by 0.02 dB.

use std::f64::consts::PI;

use super::noise::Cut;
use super::{Figure, MeasuredBand};
use crate::bands::Band;
use crate::dsp::filter::{Direction, Filter};
use crate::metrics::clarity::Clarity;
use crate::metrics::decay::{DecayCurve, Fit, Range, Tail, curvature_percent};
use crate::metrics::speech::{OCTAVES, modulation_transfer, transmission_index, weighted};

/// The direct sound lasts so long at the least, seconds; early decay is that of the room where it takes no more than this share of the 10 dB (`metrics::decay` has the same rule for bins).
const DIRECT_S: f64 = 0.001;
const LEAST_LEFT: f64 = 0.75;

/// Bandwidth times decay time from which a filter may run forward, and from which it may be used at all.
const FORWARD: f64 = 16.0;
const BACKWARD: f64 = 4.0;

/// What rings before the onset, seconds.
const LEAD_S: f64 = 0.001;

/// Bandwidth times the lower limit from which a filtered decay is parted itself.
const PARTED: f64 = 10.0;

/// Else the width of the border between early and late, seconds.
const BORDER_S: f64 = 0.008;

/// Range in dB that clarity needs.
const CLARITY_DB: f64 = 30.0;

/// Range in dB that modulations need: beyond it they count no more (IEC 60268-16 holds apparent ratios at 15 dB).
const SPEECH_DB: f64 = 15.0;

/// Range in dB that a decay time needs.
fn needed_db(range: Range) -> f64 {
    10.0 - range.limits().1
}

/// An impulse response and where it begins.
#[derive(Clone, Copy, Debug)]
pub struct Look<'a> {
    /// Samples.
    pub response: &'a [f64],
    /// Its first sample within 20 dB of the largest: when time begins.
    pub onset: usize,
    /// Samples a second.
    pub rate_hz: f64,
}

/// A decay on its way from samples to figures.
struct Decay {
    backward: bool,
    /// Energy sample by sample, without noise, with the rest beyond the cut; time begins `lead` samples after its first.
    energy: Vec<f64>,
    lead: usize,
    cut: Cut,
    peak: f64,
    curve: Option<DecayCurve>,
    /// Samples in which the direct sound is over: as long as the filter rings, a millisecond at the least.
    direct: usize,
}

impl Look<'_> {
    /// All frequencies together.
    #[must_use]
    pub fn broadband(&self) -> MeasuredBand {
        let squares: Vec<f64> = self.response[self.onset..].iter().map(|value| value * value).collect();
        let Some(decay) = Decay::new(&squares, 0, self.rate_hz, 0.5 * self.rate_hz, false) else {
            return without(None, "no decay stands out of the noise");
        };
        let mut told = decay.told(None, None, self.rate_hz);
        if let Some(clarity) = Clarity::new(&decay.energy, 1.0 / self.rate_hz) {
            told.set_clarity(decay.range_db(), (clarity.c50_db, clarity.c80_db), clarity.d50, clarity.center_time_s);
        }
        told
    }

    /// What passes a filter; it is missing where the rate is too low for it.
    #[must_use]
    pub fn band(&self, filter: Option<&Filter>, nominal_hz: f64) -> MeasuredBand {
        let Some(filter) = filter else {
            return without(Some(nominal_hz), "the rate of the record is too low for this band");
        };
        let told = |decay: &Decay| decay.told(Some(nominal_hz), Some(filter.width_hz), self.rate_hz);
        let Some(decay) = self.best(filter) else { return without(Some(nominal_hz), "no decay stands out of the noise") };
        let mut told = told(&decay);
        self.add_clarity(filter, &decay, &mut told);
        told
    }

    /// What the response leaves of each modulation in an octave, without noise; `None` where no decay of 15 dB stands out of it.
    #[must_use]
    pub fn modulations(&self, filter: &Filter) -> Option<[f64; 14]> {
        let decay = self.best(filter).filter(|decay| decay.range_db() >= SPEECH_DB)?;
        modulation_transfer(&decay.energy, 1.0 / self.rate_hz)
    }

    /// Speech transmission index of the response itself.
    #[must_use]
    pub fn speech(&self) -> Figure {
        let mut indices = [0.0; OCTAVES];
        for (index, band) in indices.iter_mut().zip(&Band::ALL[1..]) {
            match Filter::octave(*band, self.rate_hz).and_then(|filter| self.modulations(&filter)) {
                Some(modulations) => *index = transmission_index(&modulations),
                None => {
                    return Figure::missing(format!(
                        "no decay of {SPEECH_DB:.0} dB at {}, and it takes all octaves from 125 Hz to 8 kHz",
                        band.label()
                    ));
                }
            }
        }
        Figure::known(weighted(indices))
    }

    /// The decay of a band, forward where it rings long enough for that.
    fn best(&self, filter: &Filter) -> Option<Decay> {
        let forward = self.decay(filter, Direction::Forward);
        let product = |decay: &Decay| decay.told(None, Some(filter.width_hz), self.rate_hz).bandwidth_time;
        let long = forward.as_ref().and_then(product).is_some_and(|product| product >= FORWARD);
        if long { forward } else { self.decay(filter, Direction::Backward) }
    }

    /// The decay of a band.
    fn decay(&self, filter: &Filter, direction: Direction) -> Option<Decay> {
        let delay = filter.delay_s() * self.rate_hz;
        // What a filter rings before the first sample has its place, and what a backward run has not filled at the end is left out.
        let ringing = (10.0 * delay) as usize;
        let before = self.onset - self.first();
        let mut all = vec![0.0; ringing];
        all.extend_from_slice(&self.response[self.first()..]);
        let out = filter.run(&all, direction);
        let (moved, lead, end) = match direction {
            Direction::Forward => (delay, 2.0 * delay, 0.0),
            Direction::Backward => (-delay, 8.0 * delay, 4.0 * delay),
        };
        let (start, lead) = ((ringing + before) as f64 + moved, before as f64 + lead);
        let (start, lead) = (start.round() as usize, lead as usize);
        let squares: Vec<f64> = out[start.saturating_sub(lead)..out.len().saturating_sub(end as usize)].iter().map(|v| v * v).collect();
        Decay::new(&squares, lead.min(start), self.rate_hz, filter.width_hz, direction == Direction::Backward)
    }

    /// The first sample that belongs to the response.
    fn first(&self) -> usize {
        self.onset.saturating_sub((LEAD_S * self.rate_hz) as usize)
    }

    /// Clarity, of a decay that is parted itself or of a response that is parted before it is filtered.
    fn add_clarity(&self, filter: &Filter, decay: &Decay, told: &mut MeasuredBand) {
        let is_quick = filter.width_hz * 0.050 >= PARTED;
        let at = |limit_s: f64| if is_quick { decay.parted(limit_s, self.rate_hz) } else { self.parted(filter, decay, limit_s) };
        let whole = Clarity::new(&decay.energy, 1.0 / self.rate_hz);
        let (Some(fifty), Some(eighty), Some(whole)) = (at(0.050), at(0.080), whole) else { return };
        let center_time_s = whole.center_time_s - decay.lead as f64 / self.rate_hz;
        told.set_clarity(decay.range_db(), (fifty.c50_db, eighty.c80_db), fifty.d50, center_time_s);
    }

    /// Clarity of parts that one fades into the other before they are filtered.
    fn parted(&self, filter: &Filter, decay: &Decay, limit_s: f64) -> Option<Clarity> {
        let border = BORDER_S * self.rate_hz;
        let middle = self.onset as f64 + (limit_s * self.rate_hz).round();
        let [from, to] = [-0.5, 0.5].map(|side| ((middle + side * border).round() as usize).min(self.response.len()));
        let part = |sample: usize| share_of_late((sample as f64 + 0.5 - middle) / border + 0.5);
        let ringing = (20.0 / filter.width_hz * self.rate_hz) as usize;
        let early = (self.first()..to).map(|sample| self.response[sample] * (1.0 - part(sample)).sqrt());
        let early: Vec<f64> = early.chain(std::iter::repeat_n(0.0, ringing)).collect();
        let early: f64 = filter.run(&early, Direction::Forward).iter().map(|value| value * value).sum();
        let late: Vec<f64> = (from..self.response.len()).map(|sample| self.response[sample] * part(sample).sqrt()).collect();
        let late = filter.run(&late, Direction::Forward);
        let moved = from as f64 - self.onset as f64 - filter.delay_s() * self.rate_hz;
        let kept = late.iter().enumerate().map(|(index, value)| value * value * decay.cut.share(index as f64 + moved));
        Clarity::new(&[early, kept.sum::<f64>() + decay.cut.beyond()], limit_s)
    }
}

/// Share of the energy that counts as late at a place of the border, 0 to 1: as smooth as its square root, so that neither part clicks.
fn share_of_late(place: f64) -> f64 {
    let half = (0.5 * PI * place.clamp(0.0, 1.0)).sin();
    (0.5 * PI * half * half).sin().powi(2)
}

impl Decay {
    /// The decay of squared samples, of which the first `lead` come before time begins.
    fn new(squares: &[f64], lead: usize, rate_hz: f64, width_hz: f64, backward: bool) -> Option<Self> {
        if squares.len() <= lead {
            return None;
        }
        let cut = Cut::find(&squares[lead..], rate_hz, width_hz)?;
        let kept = (lead + cut.place.ceil() as usize).min(squares.len());
        let weighed = squares[..kept].iter().enumerate().map(|(index, square)| square * cut.share(index as f64 - lead as f64));
        let energy: Vec<f64> = weighed.chain(cut.rest()).collect();
        let mut from_start = energy[lead..].to_vec();
        *from_start.first_mut()? += energy[..lead].iter().sum::<f64>();
        let curve = DecayCurve::new(&from_start, 1.0 / rate_hz, Tail::Ignored).ok();
        let peak = squares.iter().copied().fold(0.0, f64::max);
        let direct = (rate_hz * DIRECT_S.max(1.0 / width_hz)).ceil() as usize;
        Some(Self { backward, energy, lead, cut, peak, curve, direct })
    }

    /// Clarity of the decay parted at a time.
    fn parted(&self, limit_s: f64, rate_hz: f64) -> Option<Clarity> {
        let split = (self.lead + (limit_s * rate_hz).round() as usize).min(self.energy.len());
        let (early, late) = self.energy.split_at(split);
        Clarity::new(&[early.iter().sum(), late.iter().sum()], limit_s)
    }

    /// Largest sample re the noise, dB; `None` where the record ends before its noise.
    fn peak_to_noise_db(&self) -> Option<f64> {
        (self.cut.noise > 0.0).then(|| 10.0 * (self.peak / self.cut.noise).log10())
    }

    /// How far the decay falls before noise or end, dB.
    fn range_db(&self) -> f64 {
        let integrated = 10.0 * (self.energy.iter().sum::<f64>() / self.cut.beyond()).log10();
        self.peak_to_noise_db().map_or(integrated, |peak| peak.min(integrated))
    }

    /// A fit, or why there is none.
    fn fit(&self, range: Range) -> Result<Fit, String> {
        let (reach, needed) = (self.range_db(), needed_db(range));
        if reach < needed {
            let what = if self.cut.noise > 0.0 { "noise" } else { "the end of the record" };
            return Err(format!("{reach:.0} dB down to {what}; {} needs {needed:.0} dB", range.name()));
        }
        let curve = self.curve.as_ref().ok_or_else(|| "no energy arrives".to_owned())?;
        let fallen = curve.level_db().get(self.direct).copied().unwrap_or(0.0);
        if range == Range::Early && fallen < LEAST_LEFT * range.limits().1 {
            return Err(format!("the direct sound alone takes {:.0} of the 10 dB", -fallen.max(-10.0)));
        }
        curve.fit(range).map_err(|error| error.to_string())
    }

    /// All but clarity.
    fn told(&self, nominal_hz: Option<f64>, width_hz: Option<f64>, rate_hz: f64) -> MeasuredBand {
        let late_decay_s = 6.0 * std::f64::consts::LN_10 / (self.cut.rate * rate_hz);
        let mut fits = [Range::Early, Range::Twenty, Range::Thirty].map(|range| self.fit(range));
        let longest = fits.iter().rev().find_map(|fit| fit.as_ref().ok().map(|fit| fit.time_s)).unwrap_or(late_decay_s);
        let product = width_hz.map(|width| width * longest);
        if let Some(product) = product.filter(|product| *product < BACKWARD) {
            let reason =
                format!("width of the band times decay time is {product:.1}, below {BACKWARD:.0}: the filter rings as long as the room");
            fits = fits.map(|_| Err(reason.clone()));
        }
        let figure = |fit: &Result<Fit, String>, of: fn(&Fit) -> f64| match fit {
            Ok(fit) => Figure::known(of(fit)),
            Err(reason) => Figure::missing(reason.as_str()),
        };
        let [early, twenty, thirty] = &fits;
        let curvature = match (twenty, thirty) {
            (Ok(twenty), Ok(thirty)) => Figure::known(curvature_percent(twenty.time_s, thirty.time_s)),
            (Err(reason), _) | (_, Err(reason)) => Figure::missing(reason.as_str()),
        };
        MeasuredBand {
            peak_to_noise_db: self.peak_to_noise_db().map_or_else(|| Figure::missing("the record ends before its noise"), Figure::known),
            range_db: Figure::known(self.range_db()),
            cut_s: Some(self.cut.place / rate_hz),
            late_decay_s: Some(late_decay_s),
            bandwidth_time: product,
            backward: self.backward,
            edt_s: figure(early, |fit| fit.time_s),
            t20_s: figure(twenty, |fit| fit.time_s),
            t30_s: figure(thirty, |fit| fit.time_s),
            t20_nonlinearity_permille: figure(twenty, |fit| fit.xi_permille),
            t30_nonlinearity_permille: figure(thirty, |fit| fit.xi_permille),
            curvature_percent: curvature,
            ..without(nominal_hz, "nothing arrives")
        }
    }
}

impl MeasuredBand {
    /// Sets clarity at 50 and 80 ms, definition and center time, if the range of the record bears them.
    fn set_clarity(&mut self, range_db: f64, (c50_db, c80_db): (Option<f64>, Option<f64>), d50: f64, center_time_s: f64) {
        let figure = |value: Option<f64>| match value {
            _ if range_db < CLARITY_DB => {
                Figure::missing(format!("{range_db:.0} dB down to noise or end; clarity needs {CLARITY_DB:.0} dB"))
            }
            Some(value) => Figure::known(value),
            None => Figure::missing("nothing comes later"),
        };
        self.c50_db = figure(c50_db);
        self.c80_db = figure(c80_db);
        self.d50 = figure(Some(d50));
        self.center_time_ms = figure(Some(1000.0 * center_time_s));
    }
}

/// A band that says nothing.
fn without(nominal_hz: Option<f64>, reason: &str) -> MeasuredBand {
    let missing = || Figure::missing(reason);
    MeasuredBand {
        nominal_hz,
        peak_to_noise_db: missing(),
        range_db: missing(),
        cut_s: None,
        late_decay_s: None,
        bandwidth_time: None,
        backward: false,
        edt_s: missing(),
        t20_s: missing(),
        t30_s: missing(),
        t20_nonlinearity_permille: missing(),
        t30_nonlinearity_permille: missing(),
        curvature_percent: missing(),
        c50_db: missing(),
        c80_db: missing(),
        d50: missing(),
        center_time_ms: missing(),
    }
}
