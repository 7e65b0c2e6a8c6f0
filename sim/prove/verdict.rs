//! What recordings say, in sentences: the decay against what is asked and what was predicted, the octaves, the reflections, what changed.

use super::{Agreement, Compared, Found, Proof, Proved};
use crate::findings::targets::{CRITERION_DB, CRITERION_WINDOW_MS};
use crate::scene::Activity;

/// The answer.
pub(super) fn sentences(activity: Activity, proof: &Proof) -> Vec<String> {
    let mut sentences: Vec<String> = changed(proof).into_iter().chain(asked(proof)).collect();
    for one in &proof.recordings {
        let of = if proof.recordings.len() > 1 { format!("{} at {}: ", one.source, one.receiver) } else { String::new() };
        sentences
            .extend(decay(one).into_iter().chain(octaves(one)).chain(reflections(activity, one)).map(|sentence| begin(&of, &sentence)));
    }
    sentences
}

/// What stands before a sentence, and the sentence.
fn begin(of: &str, sentence: &str) -> String {
    if of.is_empty() {
        return sentence.to_owned();
    }
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| format!("{of}{}{}", first.to_lowercase(), letters.as_str()))
}

/// Mean of the recordings that have a figure, of all of them alike.
fn mean(proof: &Proof, of: impl Fn(&Compared) -> Option<f64>) -> Option<f64> {
    let values: Vec<f64> = proof.recordings.iter().filter_map(|one| one.decay_s.as_ref().and_then(&of)).collect();
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Before and after.
fn changed(proof: &Proof) -> Option<String> {
    let then = mean(proof, |decay| decay.before.as_ref()?.value)?;
    let (now, steps) = (mean(proof, |decay| decay.measured.value)?, mean(proof, |decay| decay.change_steps)?);
    let much = if steps.abs() < 1.0 { "which is not noticed".to_owned() } else { format!("{:.0} just noticeable steps", steps.abs()) };
    let percent = 100.0 * (now / then - 1.0).abs();
    Some(match now < then {
        true => format!("The work took the decay from {then:.2} s to {now:.2} s, {percent:.0} % shorter, {much}."),
        false => format!("The decay went from {then:.2} s to {now:.2} s, {percent:.0} % longer, {much}: the room got no drier."),
    })
}

/// Against what the use asks.
fn asked(proof: &Proof) -> Option<String> {
    let [low, high] = proof.asked_s?;
    let now = mean(proof, |decay| decay.measured.value)?;
    let scatter = mean(proof, |decay| decay.scatter)? / (proof.recordings.len() as f64).sqrt();
    let place = if now > high + 2.0 * scatter {
        "too long"
    } else if now < low - 2.0 * scatter {
        "too short"
    } else if (low..=high).contains(&now) {
        "as asked"
    } else {
        "at the border of what is asked, and one place cannot tell on which side"
    };
    let octaves = proof.recordings.iter().find_map(|one| one.decay_octaves_hz);
    let octaves = octaves.map_or_else(String::new, |[first, last]| format!(", mean of {first} Hz to {last} Hz"));
    Some(format!(
        "Measured decay {now:.2} s{octaves} (+-{:.2} s for where it was measured); asked for: {low:.2} s to {high:.2} s. It is {place}.",
        2.0 * scatter
    ))
}

/// Against the prediction.
fn decay(one: &Proved) -> Option<String> {
    let decay = one.decay_s.as_ref()?;
    let (predicted, difference, sure) = (decay.predicted?, decay.difference?, decay.difference_sure?);
    let how = match decay.agreement {
        Agreement::AsPredicted => "as predicted".to_owned(),
        Agreement::Higher => format!("longer than predicted by {difference:.2} s, more than materials, tape and place leave open"),
        Agreement::Lower => format!("shorter than predicted by {:.2} s, more than materials, tape and place leave open", -difference),
        Agreement::NotJudged => return None,
    };
    Some(format!("The decay is {how}: predicted {:.2} s, difference {difference:+.2} s +-{:.2} s.", predicted.value, 2.0 * sure))
}

/// How many octaves agree, and which do not.
fn octaves(one: &Proved) -> Option<String> {
    let judged = one.octaves.iter().filter(|octave| octave.decay().agreement != Agreement::NotJudged);
    let (agree, differ): (Vec<_>, Vec<_>) = judged.partition(|octave| octave.decay().agreement == Agreement::AsPredicted);
    let all = agree.len() + differ.len();
    if all == 0 {
        return None;
    }
    let off = differ.iter().map(|octave| {
        let word = if octave.decay().agreement == Agreement::Higher { "longer" } else { "shorter" };
        format!("{} Hz rings {word}", octave.frequency_hz)
    });
    let off: Vec<String> = off.collect();
    let off = if off.is_empty() { String::new() } else { format!("; {}", off.join(", ")) };
    Some(format!("Of {all} octaves {} ring as long as predicted{off}.", agree.len()))
}

/// Which reflections are there, and how loud the loudest is.
fn reflections(activity: Activity, one: &Proved) -> Vec<String> {
    let mut told = Vec::new();
    if !one.reflections.is_empty() {
        let count = |found: &[Found]| one.reflections.iter().filter(|reflection| found.contains(&reflection.found)).count();
        let there = count(&[Found::AsPredicted, Found::Louder, Found::Weaker]);
        let (hidden, missing) = (count(&[Found::NotToldApart]), count(&[Found::Missing]));
        let are = if there == 1 { "is" } else { "are" };
        let mut parts = vec![format!("of {} predicted reflections {there} {are} there", one.reflections.len())];
        parts.extend((hidden > 0).then(|| format!("{hidden} not told apart from others")));
        parts.extend((missing > 0).then(|| format!("{missing} missing")));
        let new = one.new_reflections.len();
        parts.extend((new > 0).then(|| format!("{new} more that nothing predicts")));
        let text = parts.join(", ");
        told.push(format!("O{}.", &text[1..]));
    }
    let measured = one.reflections.iter().filter(|one| one.measured_delay_ms.is_some_and(|delay| delay <= CRITERION_WINDOW_MS));
    let measured = measured.filter_map(|one| Some((one.measured_level_db?, one.surfaces.join(", "))));
    let new = one
        .new_reflections
        .iter()
        .filter(|one| one.delay_ms <= CRITERION_WINDOW_MS)
        .map(|one| (one.level_db, "nothing that is predicted".to_owned()));
    let loudest = measured.chain(new).max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((level, way)) = loudest.filter(|_| matches!(activity, Activity::Mixing | Activity::Voice)) {
        let verdict = if level > CRITERION_DB { "too loud" } else { "as asked" };
        told.push(format!(
            "Of reflections that stand out within {CRITERION_WINDOW_MS:.0} ms the loudest comes by {way} at {level:.1} dB re direct (asked for: {CRITERION_DB:.0} dB or less): {verdict}."
        ));
    }
    told
}

/// What speaks against recordings, and where theory stops.
pub(super) fn notes(recordings: &[Proved]) -> Vec<String> {
    let mut notes = Vec::new();
    for one in recordings {
        let both = [("", Some(&one.recording)), ("before, ", one.before.as_ref())];
        for (when, about) in both.into_iter().filter_map(|(when, about)| Some((when, about?))) {
            let name = format!("{} at {}, {when}", one.source, one.receiver);
            let said = about.hints.iter().map(crate::measured::Hint::sentence).chain(about.notes.iter().cloned());
            notes.extend(said.map(|sentence| format!("{}: {sentence}", name.trim_end_matches(", "))));
        }
        if one.recording.signal == "clap" {
            notes.push(format!(
                "{} at {}: a clap is not the loudspeaker. Decay times of it are right where they stand out of the noise; clarity is that of the hands, and reflections are not compared.",
                one.source, one.receiver
            ));
        }
    }
    notes.push("A recording tells of one place. By how much one place lies off the mean of many is in every +- of what was measured (ISO 3382-2, annex A, from memory, and our own reckoning for EDT, clarity and center time).".to_owned());
    notes.push(
        "Predicted figures of an octave are what its filter reads of them, as it does of a recording: beside a neighbor that rings much longer it reads more than `hear` tells of the octave itself."
            .to_owned(),
    );
    notes.push(
        "This is no measurement after ISO 3382-2 in one of its grades: those take several places of source and microphone.".to_owned(),
    );
    notes.push("Steps are just noticeable differences of ISO 3382-1, table A.1, which come from concert halls: 5 % of a decay time, 1 dB of clarity, 0.05 of definition, 10 ms of center time; of the speech transmission index 0.03 (from memory).".to_owned());
    notes
}
