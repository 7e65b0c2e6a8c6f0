//! Studies in the background: a new edit cancels what runs and begins anew; what comes back carries the generation of its scene.
//!
//! | what was edited | at once | then, each step when the one before is done |
//! | --- | --- | --- |
//! | a flat panel | the early window and what that panel takes off it, from the stored paths | all findings, maps, earnings |
//! | anything that paths meet | a trace of 1,000 rays, the early window, all findings | the same with 10,000 rays, then with the scene's own |
//! | nothing, but waves have told its low end | | all findings from the stored paths, joined with it |
//!
//! Recordings are read on a thread of their own (`recordings`). Three workers, each a thread: *quick* weighs the early window, without and with what was moved, so that it answers while a panel is dragged; *slow*
//! traces, judges and draws maps, one job at a time, and gives a job up at its next step when a newer one comes; a third one runs an errand (`errand`)
//! when it is asked. Only the coarse trace is never given up: while a loudspeaker is dragged every trace that was begun ends, and its early
//! window follows the mouse at the pace of the machine.

use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex};
use std::thread;

use bevy::prelude::Resource;
use roomwright::bands::Band;
use roomwright::findings::{Estimate, Findings, Survey};
use roomwright::hanging::from_panels;
use roomwright::plan::{HotSpot, SurfaceMap};
use roomwright::progress::{Cancelled, Progress};
use roomwright::scene::{Panel, Scene};
use roomwright::study::{self, BassRun, EarlyFindings, Landing, Live, MapChoice, Traced, same_room};

use crate::errand::{Errand, LowEnd, Outcome, Running};
use crate::recordings::{Reader, SoundFile};
use crate::recovery::Storage;
use crate::results::{Generation, Known, Status};

/// Rays a source of the first looks, before those that the scene asks for.
const FIRST_LOOKS: [u32; 2] = [1_000, 10_000];

/// Paths that are held, and the scene they were traced for.
#[derive(Clone, Debug)]
pub(crate) struct Held {
    /// The scene.
    pub(crate) scene: Arc<Scene>,
    /// Its paths.
    pub(crate) traced: Arc<Traced>,
}

impl Held {
    fn rays(&self) -> u32 {
        self.traced.rays()
    }
}

/// Tells errands apart: one that was stopped may report when the next, of the same scene, is already run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct ErrandNumber(u64);

/// A result on its way.
#[derive(Debug)]
pub(crate) enum Report {
    /// Paths, for the scene they were traced for.
    Traced(Generation, Held),
    /// Sizes and areas.
    Survey(Known<Survey>),
    /// The early window.
    Early(Known<EarlyFindings>),
    /// All findings, and the low end that they are joined with.
    Findings(Known<Findings>, Option<Arc<LowEnd>>),
    /// The early window with nothing hung.
    BareEarly(Known<EarlyFindings>),
    /// All findings with nothing hung, likewise.
    Bare(Known<Findings>, Option<Arc<LowEnd>>),
    /// What the panel that was moved last, by its number, takes off the early level where it is now.
    Earning(Known<(usize, Option<Estimate>)>),
    /// What each panel takes off the early level.
    Earnings(Known<Vec<Option<Estimate>>>),
    /// Hot spots.
    HotSpots(Known<Vec<HotSpot>>),
    /// A map.
    Map(MapChoice, Known<Vec<SurfaceMap>>),
    /// The energy that lands on the surfaces.
    Landing(Known<Landing>),
    /// A recording as it lies on disk.
    Read(SoundFile),
    /// What came of the errand of this number; `None` if it was stopped.
    Errand(ErrandNumber, Generation, Option<Outcome>),
    /// All that was asked for this scene is done.
    Done(Generation),
}

/// What is known already of a scene, so that it is not computed again.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Has {
    /// Whether its sizes are known.
    pub(crate) survey: bool,
    /// Rays that its findings rest on; 0 if there are none.
    pub(crate) findings: u32,
    /// Rays that the findings with nothing hung rest on.
    pub(crate) bare: u32,
    /// Whether its hot spots are known.
    pub(crate) hot_spots: bool,
    /// Rays that its earnings rest on.
    pub(crate) earnings: u32,
    /// Rays that the map that is looked at rests on.
    pub(crate) map: u32,
    /// Rays that the landing energy that is looked at rests on.
    pub(crate) landing: u32,
}

/// What to find out of a scene.
#[derive(Clone, Debug)]
pub(crate) struct Wanted {
    /// Its generation.
    pub(crate) generation: Generation,
    /// The scene.
    pub(crate) scene: Arc<Scene>,
    /// What is known of it.
    pub(crate) has: Has,
    /// Its low end, where waves have told it.
    pub(crate) low_end: Option<Arc<LowEnd>>,
    /// The map that is looked at.
    pub(crate) map: Option<MapChoice>,
    /// The type of panel that maps are for; index into the stock.
    pub(crate) kind: Option<usize>,
    /// Source and octave of the landing energy that is looked at.
    pub(crate) landing: Option<(usize, Band)>,
}

/// Wakes the window when there is something new to draw.
#[derive(Clone, Resource)]
pub(crate) struct Waker(pub(crate) Arc<dyn Fn() + Send + Sync>);

impl Default for Waker {
    fn default() -> Self {
        Self(Arc::new(|| ()))
    }
}

/// The way back from a worker.
#[derive(Clone)]
struct Back {
    reports: Sender<Report>,
    waker: Arc<Mutex<Waker>>,
}

impl Back {
    fn send(&self, report: Report) {
        // Nobody listens any more when the window is gone.
        drop(self.reports.send(report));
        if let Ok(waker) = self.waker.lock() {
            (waker.0)();
        }
    }
}

/// The workers.
#[derive(Resource)]
pub(crate) struct Compute {
    quick: Sender<Weighing>,
    slow: Sender<Job>,
    reader: Reader,
    reports: Mutex<Receiver<Report>>,
    back: Back,
    held: Option<Held>,
    running: Option<Progress>,
    errand: Option<(ErrandNumber, Errand, Progress)>,
    /// The number of the last errand that was begun.
    last_errand: ErrandNumber,
}

/// One layout to weigh.
struct Weighing {
    generation: Generation,
    scene: Arc<Scene>,
    held: Held,
}

/// One scene to study.
struct Job {
    wanted: Wanted,
    held: Option<Held>,
    progress: Progress,
}

impl Default for Compute {
    fn default() -> Self {
        let (report, reports) = mpsc::channel();
        let back = Back { reports: report, waker: Arc::default() };
        let (quick, weighings) = mpsc::channel();
        let (slow, jobs) = mpsc::channel();
        let (for_quick, for_slow, for_reader) = (back.clone(), back.clone(), back.clone());
        thread::spawn(move || weigh(&weighings, &for_quick));
        thread::spawn(move || work(&jobs, &for_slow));
        Self {
            quick,
            slow,
            reader: Reader::new(move |file| for_reader.send(Report::Read(file))),
            reports: Mutex::new(reports),
            back,
            held: None,
            running: None,
            errand: None,
            last_errand: ErrandNumber::default(),
        }
    }
}

impl Compute {
    /// Who is to be woken.
    pub(crate) fn wake_by(&self, waker: Waker) {
        if let Ok(mut slot) = self.back.waker.lock() {
            *slot = waker;
        }
    }

    /// Finds out what is wanted; what was wanted before is given up.
    pub(crate) fn ask(&mut self, wanted: Wanted) {
        self.stop();
        let held = self.held.clone().filter(|held| same_room(&held.scene, &wanted.scene));
        if let Some(held) = &held {
            self.weigh(wanted.generation, wanted.scene.clone(), held.clone());
        }
        let progress = Progress::new();
        self.running = Some(progress.clone());
        // The worker lives as long as we do.
        drop(self.slow.send(Job { wanted, held, progress }));
    }

    /// Gives up what runs, the errand apart.
    pub(crate) fn stop(&mut self) {
        if let Some(running) = self.running.take() {
            running.cancel();
        }
    }

    /// The paths that are held.
    pub(crate) fn held(&self) -> Option<&Held> {
        self.held.as_ref()
    }

    fn weigh(&self, generation: Generation, scene: Arc<Scene>, held: Held) {
        drop(self.quick.send(Weighing { generation, scene, held }));
    }

    /// Everything that has come back since the last call, less what an errand that was given up still says. New paths are kept, and the
    /// layout on screen is weighed on them.
    pub(crate) fn reports(&mut self, shown: Option<(Generation, &Arc<Scene>)>) -> Vec<Report> {
        let Ok(reports) = self.reports.get_mut() else { return Vec::new() };
        let mut reports: Vec<Report> = reports.try_iter().collect();
        let running = self.errand.as_ref().map(|(number, ..)| *number);
        reports.retain(|report| !matches!(report, Report::Errand(number, ..) if running != Some(*number)));
        for report in &reports {
            match report {
                Report::Traced(generation, held) => {
                    self.held = Some(held.clone());
                    match shown {
                        Some((shown, scene)) if same_room(&held.scene, scene) => self.weigh(shown, scene.clone(), held.clone()),
                        _ => self.weigh(*generation, held.scene.clone(), held.clone()),
                    }
                }
                Report::Done(generation) if shown.is_some_and(|(shown, _)| shown == *generation) => self.running = None,
                Report::Errand(..) => self.errand = None,
                _ => {}
            }
        }
        reports
    }

    /// Has recordings read, in their order; each is reported.
    pub(crate) fn read<'a>(&self, files: impl Iterator<Item = &'a SoundFile>, disk: &Storage) {
        files.for_each(|file| self.reader.read(file.clone(), disk.0.clone()));
    }

    /// Runs an errand on a scene, with files that lie on this disk; one that is run is given up.
    pub(crate) fn begin(&mut self, (generation, scene): (Generation, Arc<Scene>), errand: Errand, disk: &Storage) {
        self.stop_errand();
        let progress = Progress::new();
        self.last_errand.0 += 1;
        let number = self.last_errand;
        self.errand = Some((number, errand.clone(), progress.clone()));
        let (back, disk) = (self.back.clone(), disk.clone());
        thread::spawn(move || {
            let outcome = on_own_threads(|| errand.run(&progress, &scene, &*disk.0).ok());
            back.send(Report::Errand(number, generation, outcome));
        });
    }

    /// Has the errand end with the best that it has found, if it has found anything yet.
    pub(crate) fn end_errand(&self) {
        if let Some((_, _, progress)) = &self.errand {
            // Where there is nothing to end with it goes on.
            let _ends = progress.enough();
        }
    }

    /// Gives the errand up.
    pub(crate) fn stop_errand(&mut self) {
        if let Some((_, _, progress)) = self.errand.take() {
            progress.cancel();
        }
    }

    /// What the workers do.
    pub(crate) fn fill(&self, status: &mut Status) {
        let part = |progress: &Progress| {
            let (stage, done, total) = progress.state();
            (stage, done as f32 / total.max(1) as f32)
        };
        let now = self.running.as_ref().map(part);
        status.stage = now.map(|(stage, _)| stage);
        status.done = now.map_or(1.0, |(_, done)| done.min(1.0));
        status.errand = self.errand.as_ref().map(|(_, errand, progress)| {
            let (stage, done) = part(progress);
            Running { errand: errand.clone(), stage, done, can_end: progress.can_end() }
        });
    }
}

/// The last of what waits, and if nothing does, the next that comes; `None` when nobody is left to ask.
fn latest<T>(asked: &Receiver<T>) -> Option<T> {
    let first = asked.recv().ok()?;
    Some(asked.try_iter().last().unwrap_or(first))
}

/// The quick worker.
fn weigh(asked: &Receiver<Weighing>, back: &Back) {
    let progress = Progress::new();
    let mut next = latest(asked);
    while let Some(mut weighing) = next.take() {
        let traced = weighing.held.traced.clone();
        let Ok(mut live) = Live::new(&progress, &traced) else { return };
        let (mut before, mut panel): (Option<Arc<Scene>>, Option<usize>) = (None, None);
        loop {
            let Weighing { generation, scene, .. } = &weighing;
            if let Ok(early) = live.early(&progress, scene) {
                back.send(Report::Early(known(*generation, &traced, early)));
                panel = before.and_then(|before| if before.panels == scene.panels { panel } else { moved(&before, scene) });
                if let Some(panel) = panel {
                    back.send(Report::Earning(known(*generation, &traced, (panel, live.earning(scene, panel)))));
                }
            }
            before = Some(scene.clone());
            match latest(asked) {
                Some(newer) if Arc::ptr_eq(&newer.held.traced, &traced) => weighing = newer,
                other => {
                    next = other;
                    break;
                }
            }
        }
    }
}

/// The one panel that hangs elsewhere than before.
fn moved(before: &Scene, now: &Scene) -> Option<usize> {
    let mut elsewhere =
        before.panels.iter().zip(&now.panels).enumerate().filter(|(_, (before, now))| before != now).map(|(panel, _)| panel);
    let first = elsewhere.next().filter(|_| before.panels.len() == now.panels.len());
    first.filter(|_| elsewhere.next().is_none())
}

fn known<T>(generation: Generation, traced: &Traced, value: T) -> Known<T> {
    Known { generation, rays: traced.rays(), value: Arc::new(value) }
}

/// Runs something on threads apart from those that all share, so that the quick worker never waits behind it.
fn on_own_threads<T: Send>(run: impl FnOnce() -> T + Send) -> T {
    match rayon::ThreadPoolBuilder::new().build() {
        Ok(pool) => pool.install(run),
        Err(_) => run(),
    }
}

/// The slow worker.
fn work(jobs: &Receiver<Job>, back: &Back) {
    while let Some(job) = latest(jobs) {
        if on_own_threads(|| job.run(back)).is_ok() {
            back.send(Report::Done(job.wanted.generation));
        }
    }
}

impl Job {
    fn run(&self, back: &Back) -> Result<(), Cancelled> {
        let Wanted { generation, scene, has, .. } = &self.wanted;
        let asked = scene.settings.rays;
        let mut held = match self.held.clone() {
            Some(held) => held,
            // Never given up: see above.
            None => self.hold(back, study::trace_for_trials(&Progress::new(), scene, FIRST_LOOKS[0].min(asked))?),
        };
        if !has.survey {
            back.send(Report::Survey(Known { generation: *generation, rays: 0, value: Arc::new(study::survey(scene)) }));
        }
        let mut lacks_hot_spots = !has.hot_spots;
        loop {
            let errors_met = has.findings >= held.rays() || self.findings(back, &held.traced)?;
            if lacks_hot_spots {
                // They come from images alone: more rays change nothing.
                self.hot_spots(back, &held.traced)?;
                lacks_hot_spots = false;
            }
            if held.traced.paths.asked >= asked {
                self.rest(back, &held.traced)?;
                return if errors_met { Ok(()) } else { self.until_sure(back, &held.traced) };
            }
            let more = FIRST_LOOKS.into_iter().find(|&look| look > held.rays() && look < asked).unwrap_or(asked);
            held = self.hold(back, study::trace_for_trials(&self.progress, scene, more)?);
        }
    }

    /// What waves have told of the scene.
    fn low_end(&self) -> Option<&BassRun> {
        self.wanted.low_end.as_ref()?.found.as_ref().ok()
    }

    fn hold(&self, back: &Back, traced: Traced) -> Held {
        let held = Held { scene: self.wanted.scene.clone(), traced: Arc::new(traced) };
        back.send(Report::Traced(self.wanted.generation, held.clone()));
        held
    }

    /// Findings from more and more rays until they are as sure as the scene asks for. The paths that are held stay as they are: what is moved by
    /// hand is to be weighed quickly.
    fn until_sure(&self, back: &Back, traced: &Traced) -> Result<(), Cancelled> {
        let mut traced = traced.clone();
        loop {
            let rounds = traced.rounds_left();
            if rounds == 0 {
                return Ok(());
            }
            traced.refine(&self.progress, rounds)?;
            if self.findings(back, &traced)? {
                return Ok(());
            }
        }
    }

    /// All findings, as the room hangs; and with nothing hung, if that costs no trace. Whether they are as sure as the scene asks for.
    fn findings(&self, back: &Back, traced: &Traced) -> Result<bool, Cancelled> {
        let Wanted { generation, scene, has, .. } = &self.wanted;
        let hanging = from_panels(scene, &traced.room, &scene.panels);
        let low = self.low_end().map(|run| &run.low);
        let findings = study::study_with(&self.progress, scene, (traced, low), &hanging)?;
        let errors_met = findings.tracing.errors_met;
        let findings = known(*generation, traced, findings);
        if scene.panels.is_empty() && has.bare < traced.rays() {
            back.send(Report::Bare(findings.clone(), self.wanted.low_end.clone()));
        }
        back.send(Report::Findings(findings, self.wanted.low_end.clone()));
        Ok(errors_met)
    }

    fn hot_spots(&self, back: &Back, traced: &Traced) -> Result<(), Cancelled> {
        let Wanted { generation, scene, kind, .. } = &self.wanted;
        let Some(kind) = kind.and_then(|kind| scene.stock.get(kind)) else { return Ok(()) };
        let live = Live::new(&self.progress, traced)?;
        back.send(Report::HotSpots(known(*generation, traced, live.hot_spots(scene, kind))));
        Ok(())
    }

    /// What is only worth computing with all rays.
    fn rest(&self, back: &Back, traced: &Traced) -> Result<(), Cancelled> {
        let Wanted { generation, scene, has, map, kind, landing, .. } = &self.wanted;
        let rays = traced.rays();
        if let Some((source, band)) = *landing
            && has.landing < rays
            && source < traced.room.sources.len()
        {
            let landing = study::landing(&self.progress, scene, traced, source, band)?;
            back.send(Report::Landing(known(*generation, traced, landing)));
        }
        let live = Live::new(&self.progress, traced)?;
        if let (Some(choice), Some(kind)) = (*map, kind.and_then(|kind| scene.stock.get(kind)))
            && has.map < rays
        {
            let map = live.map(&self.progress, scene, kind, choice)?;
            back.send(Report::Map(choice, known(*generation, traced, map)));
        }
        if has.earnings < rays {
            let earnings = live.earnings(&self.progress, scene)?;
            back.send(Report::Earnings(known(*generation, traced, earnings)));
        }
        drop(live);
        if has.bare < rays { self.bare(back, traced) } else { Ok(()) }
    }

    /// The room with nothing hung: the same paths if only flat panels hang, else traced anew.
    fn bare(&self, back: &Back, traced: &Traced) -> Result<(), Cancelled> {
        let Wanted { generation, scene, .. } = &self.wanted;
        let bare = Scene { panels: Vec::<Panel>::new(), ..(**scene).clone() };
        let fresh;
        let traced = if same_room(&bare, scene) {
            traced
        } else {
            fresh = study::trace_for_trials(&self.progress, &bare, traced.settings.rays)?;
            &fresh
        };
        let early = Live::new(&self.progress, traced)?.early(&self.progress, &bare)?;
        back.send(Report::BareEarly(known(*generation, traced, early)));
        if !scene.panels.is_empty() {
            let low = self.low_end().and_then(|run| run.bare_low.as_ref());
            let findings = study::study_with(&self.progress, &bare, (traced, low), &from_panels(&bare, &traced.room, &bare.panels))?;
            back.send(Report::Bare(known(*generation, traced, findings), self.wanted.low_end.clone()));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_an_errand_when_one_that_was_stopped_reports_late() {
        let scene = Arc::new(roomwright::scene::read(include_str!("../scenes/attic-voice-room.toml")).unwrap().0);
        let (generation, mut compute) = (Generation(1), Compute::default());
        let number = |compute: &Compute| compute.errand.as_ref().map(|(number, ..)| *number);
        compute.begin((generation, scene.clone()), Errand::Plan(None), &Storage::default());
        let stopped = number(&compute).unwrap();
        compute.stop_errand();
        compute.begin((generation, scene), Errand::Plan(None), &Storage::default());
        let running = number(&compute).unwrap();
        assert_ne!(stopped, running);
        compute.back.send(Report::Errand(stopped, generation, None));
        assert!(compute.reports(None).is_empty() && number(&compute) == Some(running));
        compute.back.send(Report::Errand(running, generation, None));
        let progress = compute.errand.as_ref().unwrap().2.clone();
        let reports = compute.reports(None);
        assert!(matches!(reports[..], [Report::Errand(reported, _, None)] if reported == running) && number(&compute).is_none());
        progress.cancel();
    }
}
