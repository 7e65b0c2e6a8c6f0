//! All a user can do, as one enum. Panels and stage send these; [`crate::session`] applies them, in order.

use std::path::PathBuf;

use bevy::math::{DVec2, DVec3};
use bevy::prelude::Message;
use roomwright::bands::Band;
use roomwright::report::absorption::Field;
use roomwright::report::positions_map::Shown as PlaceMap;
use roomwright::scene::{
    Activity, Block, Clearance, ClearanceRegion, Goals, MeasuredPlane, Opening, Panel, PanelPlace, PanelType, RoomSize, ThingKind,
};

use crate::comparison::{Choice, Target};
use crate::errand::Errand;
use crate::low_end::LowEndChoice;
use crate::proving::ProveChoice;
use crate::sound::SoundChoice;
use crate::view::{ArrivalChoice, CameraView, MapChoice, Pressed, Section, Step, Strip, Thing};

/// A room to begin with.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct NewRoom {
    /// Title.
    pub(crate) name: String,
    /// Length, width, height, and the unit of the scene.
    pub(crate) size: RoomSize,
    /// What the room is for.
    pub(crate) activity: Activity,
    /// Material of the walls, the floor and the ceiling; `None` leaves what a new scene has.
    pub(crate) materials: [Option<String>; 3],
}

/// One thing a user does.
#[derive(Clone, Debug, Message, PartialEq)]
pub(crate) enum Command {
    // The file.
    /// Opens a scene file; asks first if there is unsaved work.
    Open(PathBuf),
    /// Begins a new room, not saved yet.
    New(NewRoom),
    /// Opens a copy of this text that has no file; while nothing is changed in it there is nothing to save.
    OpenCopy(String),
    /// Opens the lesson of this number, likewise.
    OpenLesson(usize),
    /// Goes back to the page without a scene; asks first if there is unsaved work.
    ToStart,
    /// Asks which file to open.
    AskFile,
    /// Asks where to save to.
    AskWhere,
    /// Looks into a folder for the one or the other.
    LookInto(PathBuf),
    /// Takes a file off the list of those opened last.
    Forget(PathBuf),
    /// Writes the text back to its file; asks if another program changed that meanwhile.
    Save,
    /// Writes the text to another file and goes on with that one; an existing file is not replaced.
    SaveAs(PathBuf),
    /// Writes the text although another program changed the file.
    Overwrite,
    /// Takes the text of the file as it is now; undo brings ours back.
    Reload,
    /// Takes the text of the recovery copy.
    RestoreRecovery,
    /// Removes the recovery copy.
    DiscardRecovery,
    /// Closes the window; asks first if there is unsaved work.
    Close,
    /// Answers a question: drop the unsaved work and go on.
    Discard,
    /// Answers a question: do nothing.
    Stay,

    // The text.
    /// Takes back the last edit.
    Undo,
    /// Does it again.
    Redo,
    /// Edits until [`Command::EndDrag`] are one step of undo.
    BeginDrag,
    /// Ends what [`Command::BeginDrag`] began.
    EndDrag,
    /// Takes back everything since [`Command::BeginDrag`].
    CancelDrag,
    /// Another text altogether, from the text pane.
    SetText(String),
    /// Hangs a panel from the stock.
    AddPanel(Panel),
    /// Takes a panel down and puts it back into the stock; index into the scene's panels.
    RemovePanel(usize),
    /// Hangs a panel elsewhere.
    MovePanel {
        /// Index into the scene's panels.
        panel: usize,
        /// Where to.
        place: PanelPlace,
    },
    /// Moves a loudspeaker, voice or instrument.
    MoveSource {
        /// Its name.
        name: String,
        /// Where to, meters.
        position: DVec3,
    },
    /// Moves a seat or a microphone.
    MoveReceiver {
        /// Its name.
        name: String,
        /// Where to, meters.
        position: DVec3,
    },
    /// Gives a surface, opening or block another material.
    SetMaterial {
        /// Name of a wall, a part of the ceiling, `floor`, an opening or a block.
        surface: String,
        /// Name of the material.
        material: String,
    },
    /// Gives every wall this material.
    SetWallMaterial(String),
    /// Adds a type of panel to the stock.
    AddStock(PanelType),
    /// Says how many of a type there are to hang.
    SetStockCount {
        /// Name of the type.
        kind: String,
        /// How many.
        count: u32,
    },
    /// Says what the room is for.
    SetActivity(Activity),
    /// Says what is asked of a plan.
    SetGoals(Box<Goals>),
    /// Adds a door, window or hatch.
    AddOpening(Opening),
    /// Makes a door, window or hatch another one.
    ChangeOpening {
        /// Its name as it was.
        name: String,
        /// What it is to be.
        opening: Opening,
    },
    /// Adds a solid box.
    AddBlock(Block),
    /// Makes a solid box another one.
    ChangeBlock {
        /// Its name as it was.
        name: String,
        /// What it is to be.
        block: Block,
    },
    /// Moves a block.
    MoveBlock {
        /// Its name.
        name: String,
        /// Middle of its footprint, meters.
        center: DVec2,
    },
    /// Slides a door, window or hatch on its surface.
    MoveOpening {
        /// Its name.
        name: String,
        /// Its left and lower edge on the surface, meters.
        low: DVec2,
    },
    /// Moves a place that must stay clear.
    MoveClearance {
        /// Its name.
        name: String,
        /// Where to: a region of the same kind.
        region: ClearanceRegion,
    },
    /// Adds a place that must stay clear.
    AddClearance(Clearance),
    /// Keeps another place clear.
    ChangeClearance {
        /// Its name as it was.
        name: String,
        /// What it is to be.
        clearance: Clearance,
    },
    /// Removes an opening, block or clearance of this name.
    RemoveThing(ThingKind, String),
    /// Takes parts of the ceiling away and adds others.
    SetCeiling {
        /// Names of the parts that go.
        away: Vec<String>,
        /// Parts that come.
        add: Vec<MeasuredPlane>,
    },
    /// Gives a part of the ceiling other measures or another material.
    ChangeCeiling {
        /// Its name, which it keeps.
        name: String,
        /// What it is to be.
        plane: MeasuredPlane,
    },
    /// Swaps the layout with the other one, A with B. The first time both are alike.
    ToggleLayout,
    /// Makes a version of the open lesson layout B, by its number among those.
    ShowVersion(usize),

    // What is asked for.
    /// Makes a long study of the scene as it is; one that is being made is given up.
    Begin(Errand),
    /// Gives it up.
    StopErrand,
    /// Has the errand end with the best that it has found until now.
    EndErrand,
    /// Hangs what the plan hangs.
    TakePlan,
    /// Hangs the cloud that was studied at a height of this number, or takes it there.
    TakeCloud(usize),
    /// Moves seat, loudspeakers and desk to one of the best places, by its number.
    TakePlace(usize),
    /// Writes the sheets of what is to be built into a folder beside the scene, all of them or none.
    WriteSheets,
    /// Writes the report of the room on screen into that folder.
    WriteReport,

    // What is looked at.
    /// Goes to a step of the job.
    ChooseStep(Step),
    /// Shows plots, absorbers or the text beneath the stage.
    ChooseStrip(Strip),
    /// Puts an absorber beside those that stand side by side.
    Compare(Choice),
    /// Takes it out.
    LeaveOut(Choice),
    /// Shows what they absorb in a diffuse field, or at normal incidence.
    ChooseField(Field),
    /// Says what a material is given to.
    ChooseTarget(Option<Target>),
    /// Draws the path of an early arrival and tells what makes its level.
    ChooseArrival(Option<ArrivalChoice>),
    /// Points at a hot spot.
    ChooseHotSpot(Option<usize>),
    /// Chooses something that can be moved.
    Choose(Option<Thing>),
    /// Chooses a type of stock.
    ChooseStock(Option<usize>),
    /// Chooses one of the heights that a cloud was tried at, by its number; `None`: the best.
    ChooseHeight(Option<usize>),
    /// Chooses one of the best places for the set, by its number.
    ChoosePlace(Option<usize>),
    /// Chooses what the map of these places shows, and the facing, degrees against the present one.
    ChoosePlaceMap(PlaceMap, u32),
    /// Lists the marks of a surface of the room that is built in; `None`: of the one that the chosen panel hangs on.
    ChooseSheet(Option<usize>),
    /// Lets a press on the stage hang a panel of the chosen type, or no longer.
    HangByHand(bool),
    /// Puts the findings of a source in front.
    ChooseSource(usize),
    /// Puts the findings of a receiver in front.
    ChooseReceiver(usize),
    /// Tells the tone and the edges of one ear of it.
    ChooseEar(usize),
    /// Draws a map, or none.
    ChooseMap(Option<MapChoice>),
    /// Sets the time of the wavefront, milliseconds.
    SetTime(f64),
    /// Lets the wavefront run, or stops it.
    Play(bool),
    /// Sets how many seconds on the clock one millisecond of sound takes.
    SetSlowness(f64),
    /// Lights up the surfaces with the energy that has landed in an octave, or leaves them as they are.
    ChooseLanding(Option<Band>),
    /// Draws the wavefront on a plane; `None`: level, at the ear.
    ChooseSection(Option<Section>),
    /// Chooses something of the low end.
    LowEnd(LowEndChoice),
    /// Does something with recordings, or chooses what of their answer is looked at.
    Prove(ProveChoice),
    /// Chooses something of what is listened to.
    Sound(SoundChoice),
    /// Looks at the room from elsewhere.
    CameraTo(CameraView),
    /// Points at a place in the room, meters, or nowhere.
    PointAt(Option<DVec3>),
    /// The next press on a surface of the stage is for the form that is open; or no longer.
    AskPlace(bool),
    /// That press.
    GivePlace(Pressed),
    /// Says what was done, or why it failed, in one sentence.
    Say(String),
    /// Writes the stage as a PNG into a file, whatever that held; without one, beside the scene under the first number that is free. A
    /// wavefront that runs stops at the moment that the picture shows.
    ExportPicture(Option<PathBuf>),
}
