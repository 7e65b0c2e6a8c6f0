//! The document, the view, the results and the workers joined: one system applies commands, one takes results in. No window here.

use std::sync::Arc;

use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use roomwright::scene;
use roomwright::study;

use crate::command::Command;
use crate::comparison::{MOST, compare};
use crate::compute::{Compute, Report, Waker, Wanted};
use crate::document::Document;
use crate::edits::{change, is_edit, touches_text};
use crate::errand::{Errand, Outcome};
use crate::reason::reason;
use crate::recovery::{self, NobodysWork, Recovered, Storage};
use crate::reporting::ReportAsked;
use crate::results::{Generation, Results, is_same_low_end};
use crate::shelf::{self, Shelf};
use crate::view::{Question, Refused, Step, Thing, View};
use crate::{lesson, low_end, proving, sheets, take};

/// When things happen within `Update`: who draws from document, view and results runs after [`Session`].
#[derive(Clone, Debug, Eq, Hash, PartialEq, SystemSet)]
pub(crate) struct Session;

/// Everything but what needs a screen: runs under `MinimalPlugins`.
pub(crate) struct SessionPlugin;

impl Plugin for SessionPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Document>()
            .init_resource::<View>()
            .init_resource::<Results>()
            .init_resource::<Compute>()
            .init_resource::<Storage>()
            .init_resource::<Shelf>()
            .init_resource::<Recovered>()
            .init_resource::<Waker>()
            .init_resource::<Postponed>()
            .add_message::<Command>()
            .add_systems(Startup, (wake, offer))
            .add_systems(
                Update,
                (
                    apply,
                    receive,
                    compare,
                    sheets::prepare,
                    (low_end::run, low_end::prepare, low_end::prepare_place).chain(),
                    run_wavefront,
                    recovery::keep.run_if(not(resource_exists::<NobodysWork>)),
                    recovery::watch,
                    let_go,
                    shelf::watch,
                )
                    .chain()
                    .in_set(Session),
            );
    }
}

/// Said until a picture is written.
pub(crate) const DRAWING: &str = "Drawing the picture.";

/// What is done once a question is answered.
#[derive(Debug, Default, Resource)]
struct Postponed(Option<Command>);

/// Everything that commands change.
#[derive(SystemParam)]
struct Desk<'w> {
    document: ResMut<'w, Document>,
    view: ResMut<'w, View>,
    results: ResMut<'w, Results>,
    compute: ResMut<'w, Compute>,
    storage: Res<'w, Storage>,
    recovered: ResMut<'w, Recovered>,
    shelf: ResMut<'w, Shelf>,
    postponed: ResMut<'w, Postponed>,
    exit: MessageWriter<'w, AppExit>,
}

/// Lets the workers wake whoever draws.
fn wake(compute: Res<Compute>, waker: Res<Waker>) {
    compute.wake_by(waker.clone());
}

/// Offers a new room that was never saved, and the scenes opened last.
fn offer(storage: Res<Storage>, mut recovered: ResMut<Recovered>, mut view: ResMut<View>, mut shelf: ResMut<Shelf>) {
    shelf.read(&*storage.0);
    recovered.0 = recovery::left(&*storage.0, None, "");
    view.question = recovered.0.is_some().then_some(Question::Recovery);
}

/// Applies what panels and stage have sent, in order.
fn apply(mut commands: MessageReader<Command>, mut desk: Desk<'_>) {
    // A hand that does not know yet that its drag was taken back may have moved on meanwhile.
    let mut is_taken_back = false;
    for command in commands.read() {
        match command {
            Command::CancelDrag => is_taken_back = true,
            Command::BeginDrag => is_taken_back = false,
            _ => {}
        }
        if !(is_taken_back && is_edit(command)) {
            desk.apply(command);
        }
    }
}

/// A question takes what is dragged out of the hand, where it is.
fn let_go(view: Res<View>, mut document: ResMut<Document>) {
    if view.question.is_some() && document.is_dragged() {
        document.end_drag();
    }
}

/// Takes in what the workers have found.
fn receive(document: Res<Document>, mut results: ResMut<Results>, mut compute: ResMut<Compute>, mut view: ResMut<View>) {
    let scene = results.scene.clone().filter(|_| !results.is_sketch);
    let reports = compute.reports(scene.as_ref().map(|scene| (results.generation, scene)));
    let mut status = results.status.clone();
    compute.fill(&mut status);
    status.rays_wanted = document.scene().map_or(0, |scene| scene.settings.rays);
    let mut is_new = false;
    if !reports.is_empty() {
        let low_end = results.low_end().cloned();
        let spot = view.hot_spot.and_then(|index| results.hot_spot(index).cloned());
        for report in reports {
            proving::take_in(&report, &mut view);
            if let Report::Errand(_, _, Some(Outcome::Report(said))) = &report {
                view.notice = Some(said.clone());
            }
            is_new |= results.take(report);
        }
        status.rays = results.findings.as_ref().map_or(0, |known| known.rays);
        // The number of a spot means another one when the spots are others.
        if spot.is_some() && view.hot_spot.and_then(|index| results.hot_spot(index)) != spot.as_ref() {
            view.hot_spot = None;
        }
        if !is_same_low_end(low_end.as_ref(), results.low_end()) {
            // What is known of low octaves rests on another one.
            ask(&results, &view, &mut compute);
        }
    }
    // Written only when something has changed, so that whoever looks for changes sees those alone.
    if is_new || status != results.status {
        results.status = status;
    }
}

/// Lets time go on while the wavefront runs, and stops it at the end.
fn run_wavefront(time: Res<Time>, mut view: ResMut<View>) {
    if view.playing {
        let now = view.time_ms + time.delta_secs_f64() / view.slowness;
        view.time_ms = now.min(View::TIME_MOST_MS);
        view.playing = now < View::TIME_MOST_MS;
    }
}

/// Has the scene on screen studied, as far as it is not known.
fn ask(results: &Results, view: &View, compute: &mut Compute) {
    let Some(scene) = results.scene.clone().filter(|_| !results.is_sketch) else { return };
    let kind = view.stock.or_else(|| study::usual_panel(&scene));
    let (map, landing) = (view.map, view.lands());
    let (generation, has, low_end) = (results.generation, results.has(map, landing), results.low_end().cloned());
    compute.ask(Wanted { generation, scene, has, low_end, map, kind, landing });
}

impl Desk<'_> {
    fn apply(&mut self, command: &Command) {
        if matches!(self.view.question, Some(Question::Recovery)) && touches_text(command) {
            // The copy on disk would be overwritten before it is known what becomes of it.
            return;
        }
        match command {
            Command::Open(_) | Command::New(_) | Command::OpenCopy(_) | Command::OpenLesson(_) | Command::ToStart | Command::Close => {
                // What was said before has nothing to do in a question.
                self.view.notice = None;
                self.leave(command);
            }
            Command::AskFile => self.ask_file(Question::Which),
            Command::AskWhere => self.ask_where(),
            Command::Prove(choice) => {
                let workers = (&*self.compute, &*self.storage);
                proving::choose(choice, (&mut self.view, &mut self.shelf), (&self.document, &self.results), workers);
            }
            Command::LookInto(folder) => self.view.notice = self.shelf.look_into(folder, &*self.storage.0).err(),
            Command::Forget(path) => self.shelf.forget(path, &*self.storage.0),
            Command::Save => self.answer(|desk| desk.save(false)),
            Command::Overwrite => self.answer(|desk| desk.save(true)),
            Command::SaveAs(path) => self.answer(|desk| desk.save_as(path)),
            Command::Reload => self.answer(Self::reload),
            Command::RestoreRecovery | Command::DiscardRecovery => self.recover(*command == Command::RestoreRecovery),
            Command::Discard => self.drop_work(),
            Command::Stay => (self.view.question, self.postponed.0) = (None, None),
            Command::Begin(errand) => self.begin_errand(errand),
            Command::StopErrand => self.compute.stop_errand(),
            Command::EndErrand => self.compute.end_errand(),
            Command::WriteReport => match ReportAsked::of(&self.document, &self.results, &self.view) {
                Ok(asked) => self.begin_errand(&Errand::Report(Box::new(asked))),
                Err(why) => self.view.notice = Some(why.to_owned()),
            },
            Command::WriteSheets => {
                self.view.notice = Some(sheets::write(&*self.storage.0, &self.document, &mut self.results).unwrap_or_else(|why| why));
            }
            _ => {
                if *command == Command::ChooseStep(Step::Prove) {
                    self.view.proving.look_anew(&self.compute, &self.storage);
                }
                if !self.write(command) {
                    self.look(command);
                }
            }
        }
    }

    // The text.

    /// Applies a command that edits the text; `false` if it is not one.
    fn write(&mut self, command: &Command) -> bool {
        match command {
            Command::Undo => drop(self.document.undo()),
            Command::Redo => drop(self.document.redo()),
            Command::BeginDrag => {
                self.view.refused = None;
                self.document.begin_drag();
            }
            Command::EndDrag => self.document.end_drag(),
            Command::CancelDrag => {
                self.view.refused = None;
                self.document.cancel_drag();
            }
            Command::SetText(text) => drop(self.document.replace(text.clone())),
            Command::ToggleLayout => self.document.toggle_layout(),
            Command::ShowVersion(number) => {
                if let Some(lesson) = self.view.lesson {
                    lesson::show_version(&mut self.document, lesson, *number);
                }
            }
            Command::TakePlan | Command::TakeCloud(_) | Command::TakePlace(_) => self.take(command),
            Command::AddPanel(panel) => {
                let left =
                    self.document.scene().and_then(|scene| scene.stock.iter().find(|kind| kind.name == panel.kind)).map(|kind| kind.count);
                if left.is_some_and(|left| left < panel.count()) {
                    self.refuse(command, format!("there is no \"{}\" left in stock", panel.kind));
                } else {
                    self.edit(command);
                }
            }
            _ if is_edit(command) => self.edit(command),
            _ => return false,
        }
        self.refresh();
        true
    }

    fn edit(&mut self, command: &Command) {
        match self.document.edit(|editor| change(editor, command)) {
            Ok(_) => {
                self.view.refused = None;
                let last = self.document.scene().map_or(0, |scene| scene.panels.len()).checked_sub(1);
                match command {
                    Command::AddPanel(_) => self.view.chosen = last.map(Thing::Panel),
                    Command::RemovePanel(_) | Command::RemoveThing(..) => self.view.chosen = None,
                    _ => {}
                }
            }
            Err(error) => self.refuse(command, reason(&error)),
        }
    }

    /// The text stays as it is, and it is said why.
    fn refuse(&mut self, command: &Command, reason: String) {
        self.view.refused = Some(Refused { command: command.clone(), reason });
    }

    /// Takes in what an errand found, or says why not.
    fn take(&mut self, command: &Command) {
        let (document, results) = (&mut *self.document, &mut *self.results);
        let taken = match command {
            Command::TakeCloud(height) => take::cloud(document, results, *height).map(|panel| self.view.chosen = Some(Thing::Panel(panel))),
            Command::TakePlace(place) => take::place(document, results, *place),
            _ => {
                let plan = results.plan_here();
                take::plan(document, results).map(|()| results.hung_plan = plan.zip(document.scene().cloned()))
            }
        };
        if let Err(said) = taken {
            self.view.notice = Some(said);
        }
    }

    /// Shows the scene of the text, if it is another one, and has it studied.
    fn refresh(&mut self) {
        let generation = Generation(self.document.revision());
        if self.results.generation == generation {
            return;
        }
        let Some(scene) = self.document.scene().cloned() else {
            // What was drawn before the mistake was made is better than a sketch.
            if self.results.scene.is_none() || self.results.is_sketch {
                match scene::sketch(self.document.text()) {
                    Some(sketch) => self.results.show_sketch(generation, Arc::new(sketch)),
                    None => *self.results = Results::default(),
                }
            }
            return;
        };
        self.compute.stop_errand();
        self.results.show(generation, &scene);
        self.view.keep_within(&scene);
        self.keep_spot();
        self.ask();
    }

    /// Lets go of a hot spot when there are none any more.
    fn keep_spot(&mut self) {
        if self.results.hot_spots.is_none() && self.view.hot_spot.is_some() {
            self.view.hot_spot = None;
        }
    }

    fn ask(&mut self) {
        ask(&self.results, &self.view, &mut self.compute);
    }

    fn begin_errand(&mut self, errand: &Errand) {
        match self.document.scene() {
            Some(scene) => {
                if let Some(errand) = proving::made_ready(errand, &mut self.view, (self.document.text(), scene)) {
                    self.view.forget_choices_of(&errand);
                    self.compute.begin((self.results.generation, scene.clone()), errand, &self.storage);
                }
            }
            None => self.view.notice = Some("The scene has mistakes; mend them first.".to_owned()),
        }
    }

    // What is looked at.

    fn look(&mut self, command: &Command) {
        let view = &mut *self.view;
        let before = (view.map, view.stock);
        let landed = view.lands();
        let scene = self.results.scene.as_deref();
        match command {
            Command::ChooseStrip(strip) => view.strip = *strip,
            Command::Compare(choice) => match choice.sample(1, scene) {
                Ok(_) if view.comparison.put(scene, choice) => {}
                Ok(_) => view.notice = Some(format!("{MOST} absorbers stand side by side; leave one out first.")),
                Err(mistakes) => view.notice = mistakes.first().map(|mistake| mistake.diagnostic.message.clone()),
            },
            Command::LeaveOut(choice) => view.comparison.leave_out(scene, choice),
            Command::ChooseField(field) => view.comparison.field = *field,
            Command::ChooseTarget(target) => view.comparison.target.clone_from(target),
            Command::ChooseStep(step) => (view.step, view.hanging) = (*step, view.hanging && *step == Step::Place),
            Command::ChooseArrival(choice) => view.arrival = *choice,
            Command::ChooseHotSpot(choice) => view.hot_spot = *choice,
            Command::Choose(choice) => view.choose(*choice, scene),
            Command::ChooseStock(choice) => view.stock = *choice,
            Command::ChooseHeight(height) => view.height = *height,
            Command::ChoosePlace(place) => view.place = *place,
            Command::ChooseSheet(sheet) => view.sheet = *sheet,
            Command::ChoosePlaceMap(map, facing) => view.place_map = (*map, *facing),
            Command::HangByHand(hanging) => view.hanging = *hanging,
            Command::ChooseSource(source) => view.source = *source,
            Command::ChooseReceiver(receiver) => view.receiver = *receiver,
            Command::ChooseEar(ear) => view.choose_ear(*ear),
            Command::ChooseMap(choice) => view.map = *choice,
            Command::SetTime(time_ms) => view.time_ms = time_ms.clamp(0.0, View::TIME_MOST_MS),
            Command::Play(playing) => view.playing = *playing,
            Command::SetSlowness(slowness) => view.slowness = slowness.clamp(0.005, 5.0),
            Command::ChooseLanding(band) => view.landing = *band,
            Command::ChooseSection(section) => view.section = section.filter(|section| section.at.is_finite()),
            Command::LowEnd(choice) => view.low_end.choose(*choice),
            Command::CameraTo(camera) => view.camera = *camera,
            Command::PointAt(place) => view.pointer = *place,
            Command::AskPlace(asks) => (view.asks_place, view.pressed) = (*asks, None),
            Command::GivePlace(pressed) if view.asks_place => (view.asks_place, view.pressed) = (false, Some(pressed.clone())),
            Command::ExportPicture(_) if self.results.room.is_none() => {
                view.notice = Some("There is no room to make a picture of.".to_owned());
            }
            // The letters of a picture and its curves are of one moment.
            Command::ExportPicture(_) => (view.playing, view.low_end.playing, view.notice) = (false, false, Some(DRAWING.to_owned())),
            Command::Say(sentence) => view.notice = Some(sentence.clone()),
            _ => {}
        }
        if let Some(scene) = &self.results.scene {
            view.keep_within(scene);
        }
        if view.stock != before.1 {
            // Maps and hot spots are for a type of panel.
            self.results.maps.clear();
            (self.results.hot_spots, self.view.hot_spot) = (None, None);
        }
        let lacks_map = self.view.map.is_some_and(|map| !self.results.maps.get(&map).is_some_and(|known| self.results.is_fresh(known)));
        let lacks_landing = self.view.lands() != landed && self.results.has(None, self.view.lands()).landing == 0;
        if lacks_landing || ((self.view.map, self.view.stock) != before && (lacks_map || self.results.hot_spots.is_none())) {
            self.ask();
        }
    }
}

#[path = "session_files.rs"]
mod filing;
#[cfg(test)]
#[path = "session_tests.rs"]
mod tests;
