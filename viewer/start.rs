//! The program: arguments -> window -> exit code.
//!
//! *Limits.* Whether there is a graphics driver is only known by asking for one: what the engine says then is turned into one sentence.

use std::io::Write as _;
use std::panic::{self, AssertUnwindSafe};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Arc, Mutex};

use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::window::{
    ExitCondition, FileDragAndDrop, Monitor, OnMonitor, PresentMode, PrimaryMonitor, PrimaryWindow, RequestRedraw, WindowCloseRequested,
    WindowResolution,
};
use bevy::winit::{EventLoopProxyWrapper, WinitSettings, WinitUserEvent};

use crate::bench::{self, BenchPlugin, Subject};
use crate::command::Command;
use crate::compute::Waker;
use crate::document::Document;
use crate::headless;
use crate::results::Results;
use crate::session::SessionPlugin;
use crate::shelf::{Shelf, list_place};
use crate::sound::SoundPlugin;
use crate::stage::StagePlugin;
use crate::stopwatch::{self, StopwatchPlugin};
use crate::ui::UiPlugin;
use crate::view::View;

/// Boxes in the hall at most.
const BOXES_MOST: u32 = 5000;

const USAGE: &str = "The room on screen: see the hot spots, hang a panel, watch the numbers move

Usage: viewer [OPTIONS] [SCENE]

Arguments:
  [SCENE]  The scene file; without one, a start page

Options:
  --picture FILE  write the stage as a PNG at print size, without a window
  --bench         time 200 frames of an orbit and one edit, without a window
  --bench-window  the same in a window, with the panels
  --boxes N       a hall with N boxes in place of SCENE, to be timed
  --timing        print how long it takes to the first picture and findings, and close
  -h, --help      print this
  -V, --version   print the version

Exit codes: 0 closed, 2 it could not run.";

/// What was typed.
#[derive(Debug, PartialEq)]
enum Asked {
    Window { scene: Option<PathBuf>, timing: bool },
    Picture { scene: PathBuf, file: PathBuf },
    Bench { subject: Subject, window: bool },
    Say(String),
    Mistake(String),
}

fn arguments(mut arguments: impl Iterator<Item = std::ffi::OsString>) -> Asked {
    let (mut scene, mut file, mut boxes): (Option<PathBuf>, Option<PathBuf>, Option<u32>) = (None, None, None);
    let (mut timing, mut bench, mut window) = (false, false, false);
    while let Some(word) = arguments.next() {
        match word.to_str() {
            Some("--help" | "-h") => return Asked::Say(USAGE.to_owned()),
            Some("--version" | "-V") => return Asked::Say(format!("viewer {}", env!("CARGO_PKG_VERSION"))),
            Some("--timing") => timing = true,
            Some("--bench") => bench = true,
            Some("--bench-window") => (bench, window) = (true, true),
            Some("--picture") => match arguments.next() {
                Some(next) => file = Some(next.into()),
                None => return Asked::Mistake("--picture needs the name of a file".to_owned()),
            },
            Some("--boxes") => match arguments.next().and_then(|next| next.to_str().and_then(|next| next.parse().ok())) {
                Some(count @ 0..=BOXES_MOST) => boxes = Some(count),
                _ => return Asked::Mistake(format!("--boxes needs a number up to {BOXES_MOST}")),
            },
            Some(option) if option.starts_with('-') => return Asked::Mistake(format!("there is no option {option}")),
            _ if scene.is_some() => {
                return Asked::Mistake(format!("one scene at a time: \"{}\" is one too many", word.to_string_lossy()));
            }
            _ => scene = Some(word.into()),
        }
    }
    match (scene, file, boxes) {
        (Some(scene), Some(file), None) if !bench && !timing => Asked::Picture { scene, file },
        (Some(scene), None, None) if bench && !timing => Asked::Bench { subject: Subject::Scene(scene), window },
        (None, None, Some(boxes)) if bench && !timing => Asked::Bench { subject: Subject::Boxes(boxes), window },
        (None, None, None) if bench || timing => Asked::Mistake("which scene?".to_owned()),
        (scene, None, None) => Asked::Window { scene, timing },
        (None, Some(_), None) => Asked::Mistake("which scene?".to_owned()),
        _ => Asked::Mistake("these options do not go together".to_owned()),
    }
}

/// Runs the program.
pub(crate) fn run() -> ExitCode {
    match arguments(std::env::args_os().skip(1)) {
        Asked::Say(text) => {
            print(&text);
            ExitCode::SUCCESS
        }
        Asked::Mistake(mistake) => {
            say(&format!("error: {mistake}\n\n{USAGE}"));
            ExitCode::from(2)
        }
        Asked::Window { scene, timing } => window(scene.map(open).into_iter().collect(), timing.then_some(Watch::Timing)),
        Asked::Bench { subject, window: true } => window(subject.commands(), Some(Watch::Bench)),
        Asked::Bench { subject, window: false } => guarded(|| bench::headless(&subject)),
        Asked::Picture { scene, file } => guarded(|| match headless::picture(&scene, file) {
            Ok(said) => {
                print(&said);
                AppExit::Success
            }
            Err(failure) => {
                say(&format!("error: {failure}"));
                AppExit::from_code(2)
            }
        }),
    }
}

/// Opens a scene by a path that stays true wherever one looks from.
fn open(scene: PathBuf) -> Command {
    Command::Open(std::path::absolute(&scene).unwrap_or(scene))
}

/// Prints what was asked for.
pub(crate) fn print(text: &str) {
    // Where even that is closed there is nobody left to tell.
    drop(writeln!(std::io::stdout(), "{}", text.trim_end()));
}

/// Says what is wrong.
pub(crate) fn say(text: &str) {
    drop(writeln!(std::io::stderr(), "{text}"));
}

/// What is measured in the window.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Watch {
    Timing,
    Bench,
}

/// Opens the window and runs until it closes.
fn window(commands: Vec<Command>, watch: Option<Watch>) -> ExitCode {
    if cfg!(target_os = "linux") && ["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"].iter().all(|name| std::env::var_os(name).is_none()) {
        say("error: there is no display to open a window on (neither DISPLAY nor WAYLAND_DISPLAY is set).");
        return ExitCode::from(2);
    }
    guarded(|| app(commands, watch).run())
}

/// Runs something of the engine; what it says when it fails is turned into one sentence.
fn guarded(run: impl FnOnce() -> AppExit) -> ExitCode {
    let fault: Arc<Mutex<Option<String>>> = Arc::default();
    let noted = fault.clone();
    panic::set_hook(Box::new(move |panic| {
        if let Ok(mut fault) = noted.lock() {
            fault.get_or_insert_with(|| panic.to_string());
        }
    }));
    let outcome = panic::catch_unwind(AssertUnwindSafe(run));
    drop(panic::take_hook());
    let fault = fault.lock().ok().and_then(|mut fault| fault.take());
    match (outcome, fault) {
        (Ok(exit), None) => match exit {
            AppExit::Success => ExitCode::SUCCESS,
            AppExit::Error(code) => ExitCode::from(code.get()),
        },
        (_, fault) => {
            say(&sentence(fault.as_deref().unwrap_or("the window ended without a word")));
            ExitCode::from(2)
        }
    }
}

/// What the engine says, for someone who wants to mend it.
fn sentence(fault: &str) -> String {
    if fault.contains("Unable to find a GPU") {
        "error: no graphics driver was found; install a Vulkan driver (on Debian and its like, mesa-vulkan-drivers, which also draws without \
         a graphics card)."
            .to_owned()
    } else if fault.contains("event loop") {
        "error: the display cannot be opened; is DISPLAY or WAYLAND_DISPLAY right, and are the X11 or Wayland libraries installed?"
            .to_owned()
    } else {
        format!(
            "viewer met a fault of its own and stopped: {fault}\nPlease report it together with the scene. Unsaved work lies in a recovery \
             copy beside the scene and is offered at the next start."
        )
    }
}

/// The whole application.
fn app(commands: Vec<Command>, watch: Option<Watch>) -> App {
    let mut app = App::new();
    let is_bench = watch == Some(Watch::Bench);
    let size = if is_bench { bench::SIZE } else { UVec2::new(1440, 900) };
    let window = Window {
        title: "Roomwright".into(),
        name: Some("roomwright".into()),
        resolution: WindowResolution::new(size.x, size.y),
        // What is timed is not to wait for the screen.
        present_mode: if is_bench { PresentMode::AutoNoVsync } else { PresentMode::default() },
        ..default()
    };
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin {
                primary_window: Some(window),
                exit_condition: ExitCondition::OnPrimaryClosed,
                close_when_requested: false,
                ..default()
            })
            .set(LogPlugin { level: Level::ERROR, filter: "wgpu_hal=off".to_owned(), ..default() }),
    )
    // Draws when something happens, not all the time.
    .insert_resource(WinitSettings::desktop_app())
    .add_plugins((SessionPlugin, SoundPlugin, StagePlugin, UiPlugin))
    .add_systems(PreStartup, wake)
    .add_systems(First, (close, drop_in))
    .add_systems(Update, (fit, title));
    match watch {
        Some(Watch::Timing) => _ = app.add_plugins(StopwatchPlugin).add_systems(Last, close_when_timed),
        Some(Watch::Bench) => _ = app.add_plugins((StopwatchPlugin, BenchPlugin { waits: false })),
        // What is only measured stays out of the user's list.
        None => _ = app.insert_resource(shelf()),
    }
    app.world_mut().write_message_batch(commands);
    app
}

/// The user's own list of scenes; files are looked for first where the program was started.
fn shelf() -> Shelf {
    Shelf::new(list_place(std::env::consts::OS, |name| std::env::var_os(name)), std::env::current_dir().unwrap_or_default())
}

/// The window, and the screen that it is on as far as that is known.
type WindowOnScreen<'w, 's> = Single<'w, 's, (&'static mut Window, Option<&'static OnMonitor>), With<PrimaryWindow>>;

/// Makes the window no larger than the screen that it is on: without a window manager nobody else does.
fn fit(mut done: Local<bool>, monitors: Query<(&Monitor, Has<PrimaryMonitor>)>, window: Option<WindowOnScreen>) {
    let (false, Some(window)) = (*done, window) else { return };
    let (mut window, on) = window.into_inner();
    let own = on.and_then(|on| monitors.get(on.0).ok());
    // Screens are told once the window is there.
    let Some((screen, _)) = own.or_else(|| monitors.iter().max_by_key(|(_, is_primary)| *is_primary)) else { return };
    *done = true;
    let size = window.resolution.physical_size();
    let least = size.min(screen.physical_size());
    if least != size && least.min_element() > 0 {
        window.resolution.set_physical_resolution(least.x, least.y);
        window.position = WindowPosition::At(screen.physical_position);
    }
}

/// The title: the scene, and where it is saved.
fn title(document: Res<Document>, window: Option<Single<&mut Window, With<PrimaryWindow>>>) {
    let Some(mut window) = window else { return };
    let title = title_of(&document);
    if window.title != title {
        window.title = title;
    }
}

fn title_of(document: &Document) -> String {
    if !document.is_open() {
        return "Roomwright".to_owned();
    }
    let name = document.scene().map_or("a scene with mistakes", |scene| &scene.name);
    let file = document.path().and_then(Path::file_name).map(|file| file.to_string_lossy().into_owned());
    let place = match (file, document.is_copy(), document.is_text_unsaved()) {
        (_, true, _) => "a copy without a file".to_owned(),
        (None, ..) => "not saved yet".to_owned(),
        (Some(file), _, true) => format!("{file}, changed"),
        (Some(file), _, false) if document.is_other_unsaved() => format!("{file}, layout {} in no file", document.layouts().other_letter()),
        (Some(file), _, false) => file,
    };
    format!("{name} ({place}) - Roomwright")
}

/// A file that is dropped on the window is opened.
fn drop_in(mut dropped: MessageReader<FileDragAndDrop>, mut commands: MessageWriter<Command>) {
    for file in dropped.read() {
        if let FileDragAndDrop::DroppedFile { path_buf, .. } = file {
            commands.write(Command::Open(path_buf.clone()));
        }
    }
}

/// Prints the times once findings are on screen, and closes; a scene that cannot be studied is said and ends it, too.
fn close_when_timed(
    mut exit: MessageWriter<AppExit>,
    mut redraw: MessageWriter<RequestRedraw>,
    results: Res<Results>,
    document: Res<Document>,
    view: Res<View>,
) {
    if let (false, Some(notice)) = (document.is_open(), &view.notice) {
        say(&format!("error: {notice}"));
        exit.write(AppExit::from_code(2));
    } else if document.is_open() && document.scene().is_none() {
        say("error: the scene has mistakes; `roomwright survey` lists them");
        exit.write(AppExit::from_code(2));
    } else if stopwatch::first_findings().is_some() {
        print(&stopwatch::report());
        exit.write(AppExit::Success);
    } else if results.findings.is_some() {
        // The frame that has them is being drawn.
        redraw.write(RequestRedraw);
    }
}

/// Lets the workers wake the window.
fn wake(proxy: Res<EventLoopProxyWrapper>, mut waker: ResMut<Waker>) {
    let proxy = Mutex::new((**proxy).clone());
    *waker = Waker(Arc::new(move || {
        if let Ok(proxy) = proxy.lock() {
            // An event loop that has ended needs no waking.
            let _ended = proxy.send_event(WinitUserEvent::WakeUp);
        }
    }));
}

/// The window's own button asks like the command.
fn close(mut requests: MessageReader<WindowCloseRequested>, mut commands: MessageWriter<Command>) {
    if requests.read().count() > 0 {
        commands.write(Command::Close);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_arguments_as_the_help_says() {
        let read = |words: &[&str]| arguments(words.iter().map(Into::into));
        assert_eq!(read(&[]), Asked::Window { scene: None, timing: false });
        assert_eq!(read(&["attic.toml"]), Asked::Window { scene: Some("attic.toml".into()), timing: false });
        assert_eq!(read(&["attic.toml", "--timing"]), Asked::Window { scene: Some("attic.toml".into()), timing: true });
        let picture = Asked::Picture { scene: "attic.toml".into(), file: "attic.png".into() };
        assert_eq!(read(&["--picture", "attic.png", "attic.toml"]), picture);
        let bench = |subject, window| Asked::Bench { subject, window };
        assert_eq!(read(&["--bench", "attic.toml"]), bench(Subject::Scene("attic.toml".into()), false));
        assert_eq!(read(&["--boxes", "830", "--bench-window"]), bench(Subject::Boxes(830), true));
        for wrong in [&["--bench"][..], &["--picture"], &["--picture", "a.png"], &["--timing"], &["--boxes", "-1"], &["--boxes", "9"]] {
            assert!(matches!(read(wrong), Asked::Mistake(_)), "{wrong:?}");
        }
        assert!(matches!(read(&["a.toml", "--bench", "--boxes", "9"]), Asked::Mistake(_)));
        assert_eq!(read(&["--help"]), Asked::Say(USAGE.to_owned()));
        assert!(matches!(read(&["--frobnicate"]), Asked::Mistake(_)));
        assert!(matches!(read(&["a.toml", "b.toml"]), Asked::Mistake(_)));
    }

    #[test]
    fn keeps_the_windows_own_button_a_command() {
        let mut app = App::new();
        app.add_plugins(MinimalPlugins).add_message::<WindowCloseRequested>().add_message::<Command>().add_systems(First, close);
        app.update();
        assert!(app.world().resource::<Messages<Command>>().is_empty());
        app.world_mut().write_message(WindowCloseRequested { window: Entity::PLACEHOLDER });
        app.update();
        let sent: Vec<Command> = app.world_mut().resource_mut::<Messages<Command>>().drain().collect();
        assert_eq!(sent, [Command::Close]);
    }

    #[test]
    fn keeps_a_dropped_file_a_command() {
        let mut app = App::new();
        app.add_plugins(MinimalPlugins).add_message::<FileDragAndDrop>().add_message::<Command>().add_systems(First, drop_in);
        let window = Entity::PLACEHOLDER;
        app.world_mut().write_message(FileDragAndDrop::HoveredFile { window, path_buf: "hovered.toml".into() });
        app.world_mut().write_message(FileDragAndDrop::DroppedFile { window, path_buf: "attic.toml".into() });
        app.update();
        let sent: Vec<Command> = app.world_mut().resource_mut::<Messages<Command>>().drain().collect();
        assert_eq!(sent, [Command::Open("attic.toml".into())]);
    }

    #[test]
    fn keeps_the_window_on_its_screen() {
        for (screen, expected) in [((1280, 720), (1280, 720)), ((1366, 1024), (1366, 900)), ((2560, 1440), (1440, 900))] {
            let mut app = App::new();
            app.add_plugins(MinimalPlugins).add_systems(Update, fit);
            let monitor = Monitor {
                name: None,
                physical_width: screen.0,
                physical_height: screen.1,
                physical_position: IVec2::ZERO,
                refresh_rate_millihertz: None,
                scale_factor: 1.0,
                video_modes: Vec::new(),
            };
            let window = app.world_mut().spawn((Window { resolution: WindowResolution::new(1440, 900), ..default() }, PrimaryWindow)).id();
            app.update();
            app.world_mut().spawn((monitor, PrimaryMonitor));
            app.update();
            let size = app.world().get::<Window>(window).map(|window| (window.physical_width(), window.physical_height()));
            assert_eq!(size, Some(expected), "{screen:?}");
        }
    }

    #[test]
    fn keeps_the_title_true() {
        let mut document = Document::default();
        assert_eq!(title_of(&document), "Roomwright");
        let text = include_str!("../scenes/attic-voice-room.toml");
        document.open(None, text.to_owned(), true);
        assert_eq!(title_of(&document), "Attic voice room (a copy without a file) - Roomwright");
        document.replace(format!("{text}\n"));
        assert_eq!(title_of(&document), "Attic voice room (not saved yet) - Roomwright");
        document.mark_saved("rooms/attic.toml".into());
        assert_eq!(title_of(&document), "Attic voice room (attic.toml) - Roomwright");
        document.replace(text.to_owned());
        assert_eq!(title_of(&document), "Attic voice room (attic.toml, changed) - Roomwright");
        let (mut other, b) = (Document::default(), format!("{text}\n"));
        other.open(Some("rooms/attic.toml".into()), text.to_owned(), true);
        other.toggle_layout();
        other.replace(b);
        other.toggle_layout();
        assert_eq!(title_of(&other), "Attic voice room (attic.toml, layout B in no file) - Roomwright");
        document.replace("name".to_owned());
        assert_eq!(title_of(&document), "a scene with mistakes (attic.toml, changed) - Roomwright");
    }

    #[test]
    fn keeps_one_sentence_for_a_missing_driver() {
        let said = sentence("panicked at renderer/mod.rs:142: Unable to find a GPU! Make sure you have installed required drivers!");
        assert!(said.starts_with("error: no graphics driver") && !said.contains('\n'));
        assert!(sentence("Failed to build event loop: NotSupported").starts_with("error: the display cannot be opened"));
        assert!(sentence("index out of bounds").contains("recovery"));
    }
}
