//! The low end as it is looked at: what its next study is asked, which frequency or mode is in front, and the slice of the field that the stage draws. What is asked of waves
//! there is asked of those of a plan and of places for the set, too.
//!
//! The slice is kept up by a system while the step *hear* is open, the effort while that or *prove* is, the effort of plan and places while *place* is: a slice takes some hundredths of a second. Every number is one of
//! `study::BassFields` and `study::BassStudy`.
//!
//! *Limits.* A moving pressure is slowed down so that one period takes [`PERIOD_S`] on the clock, whatever its frequency.

use std::sync::Arc;

use bevy::prelude::{Res, ResMut, Time};
use roomwright::findings::bass::LOWEST;
use roomwright::report::axis::Marks;
use roomwright::scene::Scene;
use roomwright::study::{self, BassAsked, BassEffort, BassError, BassFields, BassPicture, BassRun, BassSlice, BassStudy, TOPS};

use crate::document::Document;
use crate::errand::{LowEnd, why_no_low_end};
use crate::results::{Generation, Results};
use crate::view::{Step, View};

/// A period of a moving pressure on the clock, seconds.
pub(crate) const PERIOD_S: f64 = 2.0;
/// Levels that the colors of a slice stand for, dB: the same at every frequency, so that they can be held side by side.
const LEVELS: Marks = Marks { low: -24.0, high: 18.0, step: 6.0 };
/// The same of a mode, re its loudest place.
const MODE_LEVELS: Marks = Marks { low: -36.0, high: 0.0, step: 6.0 };
/// About how many marks a scale of pressure has.
const MARKS: usize = 5;

/// How the field is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Look {
    /// How loud it is, dB.
    Level,
    /// The pressure at a moment, with its sign.
    Pressure,
}

/// One thing that is chosen of the low end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum LowEndChoice {
    /// The next study is asked this.
    Ask(BassAsked),
    /// Plan and places for the set are told their low end by waves, or go by rays alone.
    ByWaves(bool),
    /// All loudspeakers sound together, or the source in front alone.
    Together(bool),
    /// Puts a frequency in front, Hz, and draws the field there; a mode is let go.
    Frequency(f64),
    /// Puts a mode in front, by its number in the study, and draws its shape; or none.
    Mode(Option<usize>),
    /// Draws the field so, or not at all.
    Field(Option<Look>),
    /// Draws it at this height over the floor, meters; `None`: at the ear in front.
    Height(Option<f64>),
    /// Lets the pressure move, or holds it.
    Play(bool),
}

/// What is chosen of the low end.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct LowEndView {
    /// What the next study is asked.
    pub(crate) asked: BassAsked,
    /// Whether plan and places for the set are told their low end by waves.
    pub(crate) by_waves: bool,
    /// Whether all loudspeakers sound together, where there are several.
    pub(crate) together: bool,
    /// The frequency in front, Hz.
    pub(crate) frequency_hz: f64,
    /// The mode in front, by its number in the study.
    pub(crate) mode: Option<usize>,
    /// How the field is drawn, if it is.
    pub(crate) field: Option<Look>,
    /// Height of the slice, meters; `None`: at the ear in front.
    pub(crate) height_m: Option<f64>,
    /// Whether the pressure moves.
    pub(crate) playing: bool,
    /// Where in its period it is, 0 to 1.
    pub(crate) periods: f64,
}

impl Default for LowEndView {
    fn default() -> Self {
        Self {
            asked: BassAsked::default(),
            by_waves: true,
            together: true,
            frequency_hz: 50.0,
            mode: None,
            field: None,
            height_m: None,
            playing: false,
            periods: 0.0,
        }
    }
}

impl LowEndView {
    /// What the waves of a plan and of places for the set are asked, if any are run.
    pub(crate) fn waves(&self) -> Option<BassAsked> {
        self.by_waves.then_some(self.asked)
    }

    /// Chooses something.
    pub(crate) fn choose(&mut self, choice: LowEndChoice) {
        match choice {
            LowEndChoice::Ask(asked) => self.asked = BassAsked { top_hz: asked.top_hz.clamp(TOPS[0], TOPS[1]), ..asked },
            LowEndChoice::ByWaves(by_waves) => self.by_waves = by_waves,
            LowEndChoice::Together(together) => self.together = together,
            LowEndChoice::Frequency(frequency) if frequency.is_finite() => {
                (self.frequency_hz, self.mode) = (frequency.clamp(LOWEST, TOPS[1]), None);
                self.field = self.field.or(Some(Look::Level));
            }
            LowEndChoice::Mode(mode) => (self.mode, self.field) = (mode, mode.map(|_| Look::Pressure).or(self.field)),
            LowEndChoice::Field(look) => (self.field, self.playing) = (look, self.playing && look == Some(Look::Pressure)),
            LowEndChoice::Height(height) => self.height_m = height.filter(|height| height.is_finite()),
            LowEndChoice::Play(playing) => (self.playing, self.field) = (playing, if playing { Some(Look::Pressure) } else { self.field }),
            LowEndChoice::Frequency(_) => {}
        }
    }
}

/// What sounds on a slice.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Sounds {
    /// These sources, by their numbers in the fields, at a frequency in Hz.
    Sources(Vec<usize>, f64),
    /// A mode, by its number.
    Mode(usize),
}

/// A slice of the field, and what it shows.
#[derive(Clone, Debug)]
pub(crate) struct Slice {
    /// Of which study.
    of: Arc<LowEnd>,
    /// What sounds.
    pub(crate) sounds: Sounds,
    /// The height that it was made for, meters.
    wanted_m: f64,
    /// Its cells.
    pub(crate) cells: Arc<BassSlice>,
    /// What it shows.
    pub(crate) picture: Arc<BassPicture>,
}

impl Slice {
    /// The slice that is looked at, if one is and its study is of the scene on screen. Cells are taken over from the last one where they are the same.
    fn wanted(view: &View, results: &Results, last: Option<&Self>) -> Option<Self> {
        let chosen = &view.low_end;
        let of = results.low_end().filter(|_| chosen.field.is_some())?;
        let BassRun { study, fields, .. } = of.found.as_ref().ok()?;
        let room = &results.room.as_ref()?.value;
        let sounds = match chosen.mode.filter(|mode| *mode < fields.modes_hz.len()) {
            Some(mode) => Sounds::Mode(mode),
            None => {
                let response = study.stands.responses.get(response(study, &of.scene, view)?)?;
                let number = |name: &String| fields.sources.iter().position(|other| other == name);
                Sounds::Sources(response.sources.iter().filter_map(number).collect(), chosen.frequency_hz.min(fields.top_hz))
            }
        };
        let wanted_m = chosen.height_m.or_else(|| Some(room.receivers.get(view.receiver)?.position.z))?;
        let same = last.filter(|last| Arc::ptr_eq(&last.of, of) && last.wanted_m == wanted_m);
        if let Some(same) = same.filter(|same| same.sounds == sounds) {
            return Some(same.clone());
        }
        let cells = same.map_or_else(|| Arc::new(fields.slice(room, wanted_m)), |same| same.cells.clone());
        let picture = Arc::new(pictured(&cells, fields, &sounds));
        Some(Self { of: of.clone(), sounds, wanted_m, cells, picture })
    }

    /// Whether both show the same.
    pub(crate) fn is_same(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.picture, &other.picture)
    }

    /// The scale of its colors.
    pub(crate) fn marks(&self, look: Look) -> Marks {
        match (look, &self.sounds) {
            (Look::Level, Sounds::Sources(..)) => LEVELS,
            (Look::Level, Sounds::Mode(_)) => MODE_LEVELS,
            (Look::Pressure, _) => Marks::round(-self.picture.loud, self.picture.loud, MARKS),
        }
    }

    /// What its colors stand for, with the unit.
    pub(crate) fn meaning(&self, look: Look) -> &'static str {
        match (look, &self.sounds) {
            (Look::Level, Sounds::Sources(..)) => "level, dB re the free field of one source at 1 m",
            (Look::Level, Sounds::Mode(_)) => "level of the mode, dB re its loudest place in the room",
            (Look::Pressure, Sounds::Sources(..)) => "pressure at a moment, re the free field of one source at 1 m = 1",
            (Look::Pressure, Sounds::Mode(_)) => "pressure of the mode, its loudest place in the room = 1",
        }
    }

    /// Values of its cells, rows along x; `None` where there is no air.
    pub(crate) fn values(&self, look: Look, periods: f64) -> Vec<Option<f64>> {
        match look {
            Look::Level => self.picture.levels(),
            Look::Pressure => self.picture.moment(periods),
        }
    }

    /// Who sounds and at which frequency, Hz.
    pub(crate) fn heading(&self) -> (String, f64) {
        match (&self.sounds, &self.of.found) {
            (Sounds::Sources(sources, frequency), Ok(BassRun { fields, .. })) => {
                let names: Vec<&str> = sources.iter().filter_map(|source| fields.sources.get(*source)).map(String::as_str).collect();
                (names.join(" and "), *frequency)
            }
            (Sounds::Mode(mode), Ok(BassRun { fields, .. })) => ("a mode".to_owned(), fields.modes_hz.get(*mode).copied().unwrap_or(0.0)),
            (_, Err(_)) => (String::new(), 0.0),
        }
    }
}

fn pictured(cells: &BassSlice, fields: &BassFields, sounds: &Sounds) -> BassPicture {
    match sounds {
        Sounds::Sources(sources, frequency) => cells.sounding(fields, sources, *frequency),
        Sounds::Mode(mode) => cells.mode(fields, *mode),
    }
}

/// The response in front, by its number: to the receiver in front from the source in front, or from all loudspeakers together.
pub(crate) fn response(study: &BassStudy, scene: &Scene, view: &View) -> Option<usize> {
    let receiver = study.receivers.get(view.receiver)?;
    let source = scene.sources.get(view.source).map(|source| &source.name);
    let of = |is_meant: &dyn Fn(&[String]) -> bool| {
        study.stands.responses.iter().position(|response| response.receiver == *receiver && is_meant(&response.sources))
    };
    let together = view.low_end.together.then(|| of(&|names| names.len() > 1)).flatten();
    together.or_else(|| of(&|names| names.len() == 1 && names.first() == source))
}

/// What a study of the scene on screen would take.
#[derive(Clone, Debug)]
pub(crate) struct Effort {
    generation: Generation,
    asked: BassAsked,
    /// The effort, or why there can be no study.
    pub(crate) found: Result<BassEffort, String>,
}

/// What the waves of a plan and of places for the set would take in the scene on screen.
#[derive(Clone, Debug)]
pub(crate) struct PlaceEffort {
    generation: Generation,
    asked: BassAsked,
    /// Those of a plan, or why there can be none.
    pub(crate) plan: Result<BassEffort, String>,
    /// Those of places for the set.
    pub(crate) positions: Result<BassEffort, String>,
}

impl PlaceEffort {
    /// Those of a scene.
    pub(crate) fn of(generation: Generation, scene: &Scene, asked: BassAsked) -> Self {
        let told = |found: Result<BassEffort, BassError>| found.map_err(|why| why_no_low_end(&why));
        let [plan, positions] = [study::place_effort, study::positions_effort].map(|effort| told(effort(scene, &asked)));
        Self { generation, asked, plan, positions }
    }
}

/// Keeps what plan and places would take while they can be asked for; not at every place of what is dragged.
pub(crate) fn prepare_place(document: Res<Document>, view: Res<View>, mut results: ResMut<Results>) {
    let is_looked_at = view.step == Step::Place && !results.is_sketch && !document.is_dragged();
    let (Some(scene), Some(asked)) = (results.scene.clone().filter(|_| is_looked_at), view.low_end.waves()) else { return };
    let generation = results.generation;
    if results.place_effort.as_ref().is_none_or(|effort| (effort.generation, effort.asked) != (generation, asked)) {
        results.place_effort = Some(PlaceEffort::of(generation, &scene, asked));
    }
}

/// Keeps effort and slice while they are looked at.
pub(crate) fn prepare(view: Res<View>, mut results: ResMut<Results>) {
    let scene = results.scene.clone().filter(|_| matches!(view.step, Step::Hear | Step::Prove) && !results.is_sketch);
    let slice = scene.as_ref().filter(|_| view.step == Step::Hear).and_then(|_| Slice::wanted(&view, &results, results.slice.as_ref()));
    let is_same = match (&slice, &results.slice) {
        (Some(one), Some(other)) => one.is_same(other),
        (one, other) => one.is_none() && other.is_none(),
    };
    if !is_same {
        results.slice = slice;
    }
    let Some(scene) = scene else { return };
    let (generation, asked) = (results.generation, view.low_end.asked);
    if results.effort.as_ref().is_none_or(|effort| (effort.generation, effort.asked) != (generation, asked)) {
        let found = study::bass_effort(&scene, &asked).map_err(|why| why_no_low_end(&why));
        results.effort = Some(Effort { generation, asked, found });
    }
}

/// Lets the pressure move on.
pub(crate) fn run(time: Res<Time>, mut view: ResMut<View>) {
    if view.low_end.playing {
        view.low_end.periods = (view.low_end.periods + time.delta_secs_f64() / PERIOD_S).fract();
    }
}
