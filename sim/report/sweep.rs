//! The test signal as sound files, each with what it is and the level that full scale stands for.

use crate::dsp::sweep::Sweep;
use crate::dsp::wav::{Broadcast, Form, Sound, WavError, write};
use crate::study::sweep::TestSignal;

use super::text::sweep::level;

/// What `sweep` writes: file name and bytes, what is to be played first.
///
/// # Errors
/// A sweep too long for a sound file.
pub fn sweep_files(sweep: &Sweep, signal: &TestSignal) -> Result<Vec<(String, Vec<u8>)>, WavError> {
    let file = |what: &str, samples: Vec<f32>, form: Form| {
        let about = Broadcast { description: format!("{what}; {}", level(signal)), history: history(signal) };
        write(&Sound { rate: sweep.rate_hz as u32, channels: vec![samples] }, form, Some(&about))
    };
    Ok(vec![
        ("sweep.wav".to_owned(), file("Exponential sweep", sweep.signal(), Form::Pcm24)?),
        ("sweep-inverse.wav".to_owned(), file("Inverse filter of one sweep", sweep.inverse_filter(), Form::Float32)?),
    ])
}

/// How it came about, in the words of the broadcast chunk.
fn history(signal: &TestSignal) -> String {
    let TestSignal { rate_hz, low_hz, high_hz, length_s, repeats, silence_s, .. } = signal;
    format!(
        "A=PCM,F={rate_hz},M=mono,T=exponential sweep {low_hz} Hz to {high_hz} Hz; {length_s} s; {repeats} times; {silence_s} s silence after each"
    )
}
