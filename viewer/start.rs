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
    ExitCondition, FileDragAndDrop, Monitor, OnMonitor, PrimaryMonitor, PrimaryWindow, WindowCloseRequested, WindowResolution,
};
use bevy::winit::{EventLoopProxyWrapper, WinitSettings, WinitUserEvent};

use crate::command::Command;
use crate::compute::Waker;
use crate::document::Document;
use crate::session::SessionPlugin;
use crate::shelf::{Shelf, list_place};
use crate::stage::StagePlugin;
use crate::ui::UiPlugin;

const USAGE: &str = "The room on screen: see the hot spots, hang a panel, watch the numbers move

Usage: viewer [SCENE]

Arguments:
  [SCENE]  The scene file; without one, a start page

Exit codes: 0 closed, 2 it could not run.";

/// What was typed.
#[derive(Debug, PartialEq)]
enum Asked {
    Window(Option<PathBuf>),
    Say(String),
    Mistake(String),
}

fn arguments(mut arguments: impl Iterator<Item = std::ffi::OsString>) -> Asked {
    let Some(first) = arguments.next() else { return Asked::Window(None) };
    if let Some(second) = arguments.next() {
        return Asked::Mistake(format!("one scene at a time: \"{}\" is one too many", second.to_string_lossy()));
    }
    match first.to_str() {
        Some("--help" | "-h") => Asked::Say(USAGE.to_owned()),
        Some("--version" | "-V") => Asked::Say(format!("viewer {}", env!("CARGO_PKG_VERSION"))),
        Some(option) if option.starts_with('-') => Asked::Mistake(format!("there is no option {option}")),
        _ => Asked::Window(Some(first.into())),
    }
}

/// Runs the program.
pub(crate) fn run() -> ExitCode {
    match arguments(std::env::args_os().skip(1)) {
        Asked::Say(text) => {
            drop(writeln!(std::io::stdout(), "{text}"));
            ExitCode::SUCCESS
        }
        Asked::Mistake(mistake) => {
            say(&format!("error: {mistake}\n\n{USAGE}"));
            ExitCode::from(2)
        }
        Asked::Window(scene) => window(scene),
    }
}

fn say(text: &str) {
    // Where even that is closed there is nobody left to tell.
    drop(writeln!(std::io::stderr(), "{text}"));
}

/// Opens the window and runs until it closes.
fn window(scene: Option<PathBuf>) -> ExitCode {
    if cfg!(target_os = "linux") && ["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"].iter().all(|name| std::env::var_os(name).is_none()) {
        say("error: there is no display to open a window on (neither DISPLAY nor WAYLAND_DISPLAY is set).");
        return ExitCode::from(2);
    }
    let fault: Arc<Mutex<Option<String>>> = Arc::default();
    let noted = fault.clone();
    panic::set_hook(Box::new(move |panic| {
        if let Ok(mut fault) = noted.lock() {
            fault.get_or_insert_with(|| panic.to_string());
        }
    }));
    let outcome = panic::catch_unwind(AssertUnwindSafe(|| app(scene).run()));
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
fn app(scene: Option<PathBuf>) -> App {
    let mut app = App::new();
    let window =
        Window { title: "Roomwright".into(), name: Some("roomwright".into()), resolution: WindowResolution::new(1440, 900), ..default() };
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
    .add_plugins((SessionPlugin, StagePlugin, UiPlugin))
    .add_systems(PreStartup, wake)
    .insert_resource(shelf())
    .add_systems(First, (close, drop_in))
    .add_systems(Update, (fit, title));
    if let Some(scene) = scene {
        // A path that stays true wherever one looks from.
        app.world_mut().write_message(Command::Open(std::path::absolute(&scene).unwrap_or(scene)));
    }
    app
}

/// The user's own list of scenes; files are looked for first where the program was started.
fn shelf() -> Shelf {
    Shelf::new(list_place(std::env::consts::OS, |name| std::env::var_os(name)), std::env::current_dir().unwrap_or_default())
}

/// Makes the window no larger than the screen that it is on: without a window manager nobody else does.
fn fit(
    mut done: Local<bool>,
    monitors: Query<(&Monitor, Has<PrimaryMonitor>)>,
    window: Option<Single<(&mut Window, Option<&OnMonitor>), With<PrimaryWindow>>>,
) {
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
    let place = match (file, document.is_copy(), document.is_unsaved()) {
        (_, true, _) => "a copy without a file".to_owned(),
        (None, ..) => "not saved yet".to_owned(),
        (Some(file), _, true) => format!("{file}, changed"),
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
        assert_eq!(read(&[]), Asked::Window(None));
        assert_eq!(read(&["attic.toml"]), Asked::Window(Some("attic.toml".into())));
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
