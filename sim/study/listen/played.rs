//! One dry sound through all states of the room, piece by piece: once to be measured, once more at its gains.
//!
//! *References.* `listen::play`, `listen::loudness`, `listen::alternate`.
//!
//! *Limits.* A dry sound that changes between the two walks is played at the gains of what it was.

use super::{ListenError, SoundFile, State, file_name};
use crate::dsp::wav::{Form, Shape};
use crate::listen::alternate::Turns;
use crate::listen::loudness::{LoudnessError, Meter, Metered, factor, matched_of, same_scale_of};
use crate::listen::play::{Playback, Stream};
use crate::listen::supply::Supply;
use crate::progress::Progress;

mod together;

use together::{Meters, Together};

/// Samples that a response runs through at a time: as many as it has, so that it is one part, within these.
const BLOCKS: (usize, usize) = (1 << 14, 1 << 16);

/// A dry sound as it will be played: which files it makes, and how loud.
#[derive(Debug)]
pub struct Played {
    /// What its files are: in each state on one scale, in each equally loud, in turns.
    pub files: Vec<(SoundFile, Shape)>,
    name: String,
    supply: Supply,
    turn_s: f64,
    levels: Levels,
}

/// How loud it is, by state.
#[derive(Debug)]
struct Levels {
    heard: Vec<Metered<1>>,
    scale_db: f64,
    /// Of several states: gains that make them equally loud, and all in turns without.
    matched: Option<(Vec<f64>, Box<dyn Together>)>,
}

/// Samples by state or file, then channel.
type Pieces = Vec<Vec<Vec<f32>>>;

impl Played {
    /// Measures a dry sound in all states of the room.
    pub(super) fn measured(
        progress: &Progress,
        (name, supply): (&String, &Supply),
        (playbacks, states): (&[Playback], &[State]),
        turn_s: f64,
    ) -> Result<Self, ListenError> {
        let silent = |why| ListenError::Loudness { name: name.clone(), why };
        let (rate, ears) = (playbacks[0].rate(), playbacks[0].ears());
        let mut meters = playbacks.iter().map(|_| Meter::<1>::new(rate, ears)).collect::<Result<Vec<_>, _>>().map_err(silent)?;
        let mut turns = turns(supply, playbacks, turn_s)?;
        let mut together = turns.is_some().then(|| Meters::new(playbacks.len(), (rate, ears))).transpose().map_err(silent)?;
        walk(progress, "listening", (name, supply), playbacks, |heard| {
            for (meter, heard) in meters.iter_mut().zip(heard) {
                meter.push([heard]).map_err(silent)?;
            }
            if let (Some(turns), Some(together)) = (&mut turns, &mut together) {
                together.push(&slices(&turns.push(&slices(heard)))).map_err(silent)?;
            }
            Ok::<_, ListenError>(())
        })?;
        let finish = || {
            let heard = meters.into_iter().map(Meter::finish).collect::<Result<Vec<_>, _>>()?;
            let matched = together.map(|together| Ok::<_, LoudnessError>((matched_of(&heard)?, together.finish()?))).transpose()?;
            Ok::<_, LoudnessError>(Levels { scale_db: same_scale_of(&heard)?, heard, matched })
        };
        let levels = finish().map_err(silent)?;
        let files = levels.files(name, states, turn_s).into_iter().zip(shapes(supply, playbacks));
        let files = files.map(|(file, shape)| (SoundFile { length_s: shape.frames as f64 / f64::from(rate), ..file }, shape)).collect();
        Ok(Self { files, name: name.clone(), supply: supply.clone(), turn_s, levels })
    }

    /// Names of its files.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.files.iter().map(|(file, _)| file.name.as_str())
    }

    /// By how much it is softer as it hangs than bare; `None` where nothing hangs.
    pub(super) fn softer_db(&self) -> Option<f64> {
        let [bare, hung] = &self.levels.heard[..] else { return None };
        Some(bare.loudness_db([0.0]).ok()? - hung.loudness_db([0.0]).ok()?)
    }

    /// Plays it once more at its gains: `give` gets what comes next in each file, by channel.
    pub(super) fn again<E: From<ListenError>>(
        &self,
        progress: &Progress,
        playbacks: &[Playback],
        mut give: impl FnMut(&[Vec<Vec<f32>>]) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut turns = turns(&self.supply, playbacks, self.turn_s)?;
        walk(progress, "writing sounds", (&self.name, &self.supply), playbacks, |heard| {
            let mut files: Pieces = heard.iter().map(|sound| louder(sound.clone(), self.levels.scale_db)).collect();
            if let (Some(turns), Some((gains_db, _))) = (&mut turns, &self.levels.matched) {
                let matched = |sounds: Pieces| sounds.into_iter().zip(gains_db).map(|(sound, gain_db)| louder(sound, *gain_db));
                files.extend(matched(heard.to_vec()));
                files.extend(matched(turns.push(&slices(heard))).reduce(|sum, one| added(sum, &one)));
            }
            give(&files)
        })
    }
}

impl Levels {
    /// What the files are, but for their lengths.
    fn files(&self, name: &str, states: &[State], turn_s: f64) -> Vec<SoundFile> {
        let file = |words: &str, what: String, loudness: Result<f64, LoudnessError>, gain_db: f64| SoundFile {
            name: file_name(&format!("sound {name} {words}")),
            what: format!("{name}, {what}"),
            loudness_db: loudness.ok(),
            gain_db,
            length_s: 0.0,
        };
        let on_scale = states.iter().zip(&self.heard).map(|(state, heard)| {
            file(&state.word, format!("{}, on one scale", state.what), heard.loudness_db([self.scale_db]), self.scale_db)
        });
        let mut files: Vec<SoundFile> = on_scale.collect();
        if let Some((gains_db, together)) = &self.matched {
            files.extend(states.iter().zip(&self.heard).zip(gains_db).map(|((state, heard), gain_db)| {
                let words = format!("{} matched", state.word);
                file(&words, format!("{}, equally loud", state.what), heard.loudness_db([*gain_db]), *gain_db)
            }));
            let whats: Vec<&str> = states.iter().map(|state| state.what.as_str()).collect();
            let (last, before) = whats.split_last().unwrap_or((&"", &[]));
            let all = format!("{} and {last}", before.join(", "));
            let what = format!("equally loud, {all} in turns of {turn_s} s, {} first", whats[0]);
            files.push(file("turns", what, together.loudness_db(gains_db), 0.0));
        }
        files
    }
}

/// The shape of each file, in their order.
fn shapes(supply: &Supply, playbacks: &[Playback]) -> Vec<Shape> {
    let shape = |frames| Shape { rate: playbacks[0].rate(), channels: playbacks[0].ears(), frames, form: Form::Pcm24 };
    let one_each = || playbacks.iter().map(|playback| frames(supply, playback));
    let alone = one_each().map(shape);
    if playbacks.len() < 2 { alone.collect() } else { alone.chain(one_each().map(shape)).chain(one_each().max().map(shape)).collect() }
}

/// Samples of each channel of what is heard.
fn frames(supply: &Supply, playback: &Playback) -> u64 {
    supply.frames_at(playback.rate()) + playback.tail() as u64
}

/// Turns of several states.
fn turns(supply: &Supply, playbacks: &[Playback], turn_s: f64) -> Result<Option<Turns>, ListenError> {
    let frames = playbacks.iter().map(|playback| frames(supply, playback)).max().unwrap_or(0);
    let (rate, ears) = (playbacks[0].rate(), playbacks[0].ears());
    let count = playbacks.len();
    Ok((count > 1).then(|| Turns::new((count, ears), (rate, frames as usize), turn_s)).transpose()?)
}

/// A dry sound through all states side by side: `hear` gets what comes next, by state and ear.
fn walk<E: From<ListenError>>(
    progress: &Progress,
    stage: &'static str,
    (name, supply): (&str, &Supply),
    playbacks: &[Playback],
    mut hear: impl FnMut(&[Vec<Vec<f32>>]) -> Result<(), E>,
) -> Result<(), E> {
    let play = |why| ListenError::Play { name: name.to_owned(), why };
    let read = |why| ListenError::Read { name: name.to_owned(), why };
    let rate = playbacks[0].rate();
    progress.begin(stage, supply.frames_at(rate));
    // All by blocks of one length, so that as much is told of each at any time.
    let longest = playbacks.iter().map(Playback::tail).max().unwrap_or(0) + 1;
    let block = longest.next_power_of_two().clamp(BLOCKS.0, BLOCKS.1);
    let begin = |playback: &Playback| playback.stream(supply.channels(), block).map_err(play);
    let mut streams = playbacks.iter().map(begin).collect::<Result<Vec<_>, _>>()?;
    for piece in supply.play(rate).map_err(read)? {
        let piece = piece.map_err(read)?;
        let channels: Vec<&[f32]> = piece.iter().map(Vec::as_slice).collect();
        let through = |stream: &mut Stream| stream.push(&channels).map(<[_]>::to_vec).map_err(play);
        let heard = streams.iter_mut().map(through).collect::<Result<Pieces, _>>()?;
        hear(&heard)?;
        progress.step(channels.first().map_or(0, |channel| channel.len() as u64)).map_err(ListenError::from)?;
    }
    let rest: Pieces = streams.into_iter().map(Stream::finish).collect();
    hear(&rest)?;
    Ok(progress.step(0).map_err(ListenError::from)?)
}

fn slices(pieces: &[Vec<Vec<f32>>]) -> Vec<&[Vec<f32>]> {
    pieces.iter().map(Vec::as_slice).collect()
}

/// A sound by so many dB louder.
fn louder(mut channels: Vec<Vec<f32>>, gain_db: f64) -> Vec<Vec<f32>> {
    let factor = factor(gain_db);
    channels.iter_mut().flatten().for_each(|value| *value *= factor);
    channels
}

/// Two sounds at once.
fn added(mut one: Vec<Vec<f32>>, other: &[Vec<f32>]) -> Vec<Vec<f32>> {
    one.iter_mut().flatten().zip(other.iter().flatten()).for_each(|(sum, value)| *sum += value);
    one
}
