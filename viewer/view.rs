//! What is chosen and how it is looked at: nothing here is saved, and nothing here changes a number.

use bevy::math::{DVec2, DVec3};
use bevy::prelude::Resource;
use roomwright::bands::Band;
use roomwright::report::positions_map::Shown as PlaceMap;
use roomwright::scene::Scene;
use roomwright::scene::lessons::Lesson;
pub(crate) use roomwright::study::{MapChoice, Quantity};

use crate::command::Command;
use crate::comparison::{Comparison, Target};
use crate::errand::Errand;
use crate::low_end::LowEndView;
use crate::proving::ProveView;

/// The five steps of the job.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Step {
    /// What is the room?
    #[default]
    Survey,
    /// What does the seat hear now?
    Hear,
    /// Where do the panels go?
    Place,
    /// What do I cut, and where do I drill?
    Build,
    /// Did it work?
    Prove,
}

impl Step {
    /// In the order of the job.
    pub(crate) const ALL: [Self; 5] = [Self::Survey, Self::Hear, Self::Place, Self::Build, Self::Prove];
}

/// What the strip beneath the stage shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Strip {
    /// Plots of what is heard.
    #[default]
    Plots,
    /// Absorbers side by side.
    Absorbers,
    /// The scene text.
    Text,
}

/// Something that arrives early, see [`crate::arrival`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) struct ArrivalChoice {
    /// Of which source at which receiver: index into the pairs of the findings, the early ones and all alike.
    pub(crate) pair: usize,
    /// What of it.
    pub(crate) which: Which,
}

/// One of the arrivals of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Which {
    /// A row of its `reflections`.
    Reflection(usize),
    /// What joins one of these.
    Joined {
        /// Index into its `reflections`.
        row: usize,
        /// Index into the `joined_by` of that.
        member: usize,
    },
    /// The direct sound at an ear: index into its `early_responses`.
    Direct {
        /// That index.
        ear: usize,
    },
    /// What is bent round edges.
    Edge {
        /// Index into its `early_responses`.
        ear: usize,
        /// Index into the `edges` of that.
        row: usize,
    },
}

/// Where the room is looked at from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) enum CameraView {
    /// From outside, walls towards the eye left out.
    #[default]
    Orbit,
    /// From above.
    Plan,
    /// Square on to one surface; index into the room's surfaces.
    Elevation(usize),
    /// From the head at the seat, looking ahead; index of the receiver.
    Ear(usize),
}

/// A place on a surface that was pressed for a form.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pressed {
    /// Name of the wall, the part of the ceiling or the floor; of a block it is the block's.
    pub(crate) surface: String,
    /// From the surface's left edge and from its lower edge, meters.
    pub(crate) position: DVec2,
    /// The same in the room, meters.
    pub(crate) point: DVec3,
}

/// How a section cuts the room.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cut {
    /// Upright, along the length: it stands at a distance across, y.
    AlongLength,
    /// Upright, across the width: it stands at a distance along, x.
    AcrossWidth,
    /// Level: it lies at a height, z.
    Level,
}

impl Cut {
    /// The axis that it is square to: 0, 1, 2 for x, y, z.
    pub(crate) fn axis(self) -> usize {
        match self {
            Self::AlongLength => 1,
            Self::AcrossWidth => 0,
            Self::Level => 2,
        }
    }
}

/// A plane that the wavefront is drawn on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Section {
    /// How it cuts the room.
    pub(crate) cut: Cut,
    /// Where, on the axis that it is square to, meters.
    pub(crate) at: f64,
}

/// Something in the room that can be chosen and moved, by its number in the scene.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Thing {
    /// A panel that hangs.
    Panel(usize),
    /// A loudspeaker, voice or instrument.
    Source(usize),
    /// A seat or microphone; seats first, as the room counts its receivers.
    Receiver(usize),
    /// A door, window or hatch.
    Opening(usize),
    /// A solid box.
    Block(usize),
    /// A place that must stay clear.
    Clearance(usize),
}

impl Thing {
    /// Whether a scene has it.
    pub(crate) fn is_in(self, scene: &Scene) -> bool {
        match self {
            Self::Panel(index) => index < scene.panels.len(),
            Self::Source(index) => index < scene.sources.len(),
            Self::Receiver(index) => index < scene.seats.len() + scene.microphones.len(),
            Self::Opening(index) => index < scene.openings.len(),
            Self::Block(index) => index < scene.blocks.len(),
            Self::Clearance(index) => index < scene.clearances.len(),
        }
    }
}

/// What was wanted and refused: drawn where it was wanted, with the reason.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Refused {
    /// What was wanted.
    pub(crate) command: Command,
    /// What is in the way, in words.
    pub(crate) reason: String,
}

/// What needs an answer before anything else is done. Answers are commands.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Question {
    /// There is unsaved work and the window is to close, or another scene to open: `Save`, `Discard`, `Stay`. Of a layout that is not
    /// shown: `ToggleLayout` and `AskWhere`, `Discard`, `Stay`.
    Unsaved,
    /// Which file to open: `Open`, `LookInto`, `Stay`.
    Which,
    /// Which WAV file to listen to: `Sound`, `LookInto`, `Stay`.
    WhichSound,
    /// A new room has no file yet, or another is wanted: `SaveAs`, `LookInto`, `Stay`.
    WhereTo(std::path::PathBuf),
    /// Which recording; or which one of before, for the recording of this number: `Prove`, `LookInto`, `Stay`.
    WhichRecording(Option<usize>),
    /// The file was changed by another program: `Reload` (undo brings ours back), `Overwrite`, `SaveAs`, `Stay`.
    ChangedOnDisk,
    /// A recovery copy lies beside the scene: `RestoreRecovery`, `DiscardRecovery`.
    Recovery,
}

/// What is chosen, and how the room is looked at.
#[derive(Clone, Debug, PartialEq, Resource)]
pub(crate) struct View {
    /// The step of the job.
    pub(crate) step: Step,
    /// The lesson that is open.
    pub(crate) lesson: Option<&'static Lesson>,
    /// What lies beneath the stage.
    pub(crate) strip: Strip,
    /// The absorbers that stand side by side there.
    pub(crate) comparison: Comparison,
    /// The arrival whose path is drawn and explained.
    pub(crate) arrival: Option<ArrivalChoice>,
    /// The hot spot that is pointed at; index into [`crate::results::Results::hot_spots`].
    pub(crate) hot_spot: Option<usize>,
    /// The thing that is chosen: what keys move, turn and remove.
    pub(crate) chosen: Option<Thing>,
    /// The type of stock that is added next and that the earning map is for; index into the scene's stock.
    pub(crate) stock: Option<usize>,
    /// The height of the cloud study that is chosen, by its number; `None`: the best.
    pub(crate) height: Option<usize>,
    /// The place for the set that is chosen, by its number.
    pub(crate) place: Option<usize>,
    /// What the map of places shows, and the facing, degrees against the present one.
    pub(crate) place_map: (PlaceMap, u32),
    /// The surface whose marks are listed, by its number in the room that is built in; `None`: that of the chosen panel, else the first.
    pub(crate) sheet: Option<usize>,
    /// Whether a press on the stage hangs a panel of that type.
    pub(crate) hanging: bool,
    /// The source whose findings are in front; index into the room's sources.
    pub(crate) source: usize,
    /// The receiver whose findings are in front; index into the room's receivers.
    pub(crate) receiver: usize,
    /// The ear of it whose tone is drawn and at which edges are told; index into the early responses of a pair.
    pub(crate) ear: usize,
    /// The map on the surfaces.
    pub(crate) map: Option<MapChoice>,
    /// Time of the wavefront after it left the source, milliseconds.
    pub(crate) time_ms: f64,
    /// The octave whose energy lights up the surfaces while there is a wavefront; `None` leaves them as they are.
    pub(crate) landing: Option<Band>,
    /// The plane that the wavefront is drawn on; `None`: level, at the ear of the receiver in front.
    pub(crate) section: Option<Section>,
    /// Whether the wavefront runs.
    pub(crate) playing: bool,
    /// Seconds on the clock for one millisecond of sound.
    pub(crate) slowness: f64,
    /// What is chosen of the low end.
    pub(crate) low_end: LowEndView,
    /// Recordings, and what is chosen of their answer.
    pub(crate) proving: ProveView,
    /// Where the room is looked at from.
    pub(crate) camera: CameraView,
    /// What was refused last, until the next edit.
    pub(crate) refused: Option<Refused>,
    /// What needs an answer first.
    pub(crate) question: Option<Question>,
    /// What was done last, or failed, in one sentence.
    pub(crate) notice: Option<String>,
    /// A place in the room that is pointed at, meters.
    pub(crate) pointer: Option<DVec3>,
    /// Whether a form waits for a press on a surface.
    pub(crate) asks_place: bool,
    /// What was pressed for it, until it has taken that.
    pub(crate) pressed: Option<Pressed>,
}

impl View {
    /// The last moment of the wavefront, milliseconds.
    pub(crate) const TIME_MOST_MS: f64 = 100.0;

    /// The panel that is chosen, if a panel is; index into the scene's panels.
    pub(crate) fn panel(&self) -> Option<usize> {
        match self.chosen {
            Some(Thing::Panel(index)) => Some(index),
            _ => None,
        }
    }
}

impl Default for View {
    fn default() -> Self {
        Self {
            step: Step::default(),
            lesson: None,
            strip: Strip::default(),
            comparison: Comparison::default(),
            arrival: None,
            hot_spot: None,
            chosen: None,
            stock: None,
            height: None,
            place: None,
            place_map: (PlaceMap::Score, 0),
            sheet: None,
            hanging: false,
            source: 0,
            receiver: 0,
            ear: 0,
            map: Some(MapChoice { quantity: Quantity::Early, source: None, octave: None }),
            time_ms: 0.0,
            landing: Band::ALL.into_iter().find(|band| band.nominal() == 1000),
            section: None,
            playing: false,
            slowness: 0.2,
            low_end: LowEndView::default(),
            proving: ProveView::default(),
            camera: CameraView::default(),
            refused: None,
            question: None,
            notice: None,
            pointer: None,
            asks_place: false,
            pressed: None,
        }
    }
}

impl View {
    /// Source and octave of the energy that lights up the surfaces, while there is a wavefront.
    pub(crate) fn lands(&self) -> Option<(usize, Band)> {
        self.landing.filter(|_| self.playing || self.time_ms > 0.0).map(|band| (self.source, band))
    }

    /// The map that is painted: none where it is asked where to drill, or whether it worked.
    pub(crate) fn painted_map(&self) -> Option<MapChoice> {
        self.map.filter(|_| !matches!(self.step, Step::Build | Step::Prove))
    }

    /// Lets go of what was chosen of an errand's last outcome.
    pub(crate) fn forget_choices_of(&mut self, errand: &Errand) {
        match errand {
            Errand::Plan(_) | Errand::Difference(_) | Errand::Report(_) => {}
            Errand::Cloud(_) => self.height = None,
            Errand::Positions(..) => (self.place, self.place_map.1) = (None, 0),
            Errand::LowEnd(_) => self.low_end.mode = None,
            Errand::Prove(_) => self.proving.told = None,
        }
    }

    /// Looks at another ear: direct sound that is chosen is then the one there, what is bent there is other.
    pub(crate) fn choose_ear(&mut self, ear: usize) {
        self.ear = ear;
        self.arrival = self.arrival.and_then(|choice| match choice.which {
            Which::Reflection(_) | Which::Joined { .. } => Some(choice),
            Which::Direct { .. } => Some(ArrivalChoice { which: Which::Direct { ear }, ..choice }),
            Which::Edge { .. } => None,
        });
    }

    /// Chooses something that can be moved; an opening or block is what a material is given to then.
    pub(crate) fn choose(&mut self, choice: Option<Thing>, scene: Option<&Scene>) {
        (self.chosen, self.refused) = (choice, None);
        if matches!(choice, Some(Thing::Panel(_))) {
            self.sheet = None;
        }
        let name = scene.and_then(|scene| match choice? {
            Thing::Opening(index) => scene.openings.get(index).map(|opening| opening.name.clone()),
            Thing::Block(index) => scene.blocks.get(index).map(|block| block.name.clone()),
            _ => None,
        });
        self.comparison.target = name.map(Target::One).or(self.comparison.target.take());
    }

    /// Lets go of what a scene does not have.
    pub(crate) fn keep_within(&mut self, scene: &Scene) {
        self.comparison.keep_within(scene);
        self.chosen = self.chosen.filter(|thing| thing.is_in(scene));
        self.stock = self.stock.filter(|&kind| kind < scene.stock.len());
        self.hanging &= scene.stock.iter().any(|kind| kind.count > 0);
        self.source = self.source.min(scene.sources.len().saturating_sub(1));
        self.receiver = self.receiver.min((scene.seats.len() + scene.microphones.len()).saturating_sub(1));
        // A microphone is one ear.
        if self.receiver >= scene.seats.len() && self.ear > 0 {
            self.choose_ear(0);
        }
    }
}
