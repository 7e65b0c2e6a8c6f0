//! The command line: arguments -> run -> exit code. No acoustics here; every command prints and writes what the study returns.
//!
//! What people read goes to standard output, diagnostics and progress to standard error. A scene with mistakes gets all of them
//! printed, exit code 1, and nothing is written.

use std::ffi::OsStr;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use roomwright::files::{self, Disk as _, FileError, RealDisk, Written};
use roomwright::geometry::instructions::{Instructions, choose};
use roomwright::progress::{Cancelled, Progress};
use roomwright::report::text::Extent;
use roomwright::scene::{self, Activity, RoomSize, Scene};
use roomwright::study::{BassAsked, BassStudy, Placement};
use roomwright::{report, study};

use arguments::{Arguments, Command, Judged, OneScene};

pub(crate) mod arguments;
mod bass;
mod build;
mod cloud;
mod compare;
mod handout;
mod listen;
mod positions;
mod prove;
mod shelf;
mod terminal;
mod voice;
mod waiting;

/// Why a command ended early.
#[derive(Debug, thiserror::Error)]
enum Failure {
    /// The scene has mistakes; they are printed already.
    #[error("")]
    Mistakes,
    /// What was typed has mistakes; they are printed already.
    #[error("{0} in what was typed; nothing was written")]
    Typed(String),
    /// What was typed makes no sense.
    #[error("{0}")]
    Usage(String),
    /// The size of a new room.
    #[error("--size: {0}")]
    Size(#[from] scene::starter::RoomSizeError),
    /// The plan is no scene; a fault of ours.
    #[error("the plan does not read as a scene, so nothing was written:\n{0}")]
    Plan(#[from] scene::Refused),
    /// The scene with the cloud is no scene; a fault of ours.
    #[error("the scene with the cloud does not read, so nothing was written:\n{0}")]
    Hung(#[from] scene::EditError),
    /// Nothing can be built.
    #[error(transparent)]
    Build(#[from] study::CannotBuild),
    /// No cloud can be studied.
    #[error(transparent)]
    Cloud(#[from] study::CannotHang),
    /// No set can be moved.
    #[error(transparent)]
    Positions(#[from] study::CannotMove),
    /// The scene with the set moved is no scene; a fault of ours.
    #[error("the scene with the set moved does not read, so nothing was written:\n{0}")]
    Moved(#[source] scene::EditError),
    /// The scene with fitted materials is no scene; a fault of ours.
    #[error("the scene with fitted materials does not read, so nothing was written:\n{0}")]
    Variant(#[source] scene::EditError),
    /// A file could not be read or written.
    #[error(transparent)]
    File(#[from] FileError),
    /// Ctrl-C.
    #[error("stopped; nothing was written")]
    Stopped(#[from] Cancelled),
    /// Standard output is gone or full.
    #[error("cannot print: {0}")]
    Print(#[from] io::Error),
    /// The threads asked for could not be started.
    #[error("cannot start the threads: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
    /// A result could not be turned into JSON.
    #[error("cannot write the result as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// Runs `body`; a fault of the program's own becomes a plain message and exit code 2.
pub(crate) fn guard(body: impl FnOnce() -> ExitCode + std::panic::UnwindSafe) -> ExitCode {
    std::panic::set_hook(Box::new(|fault| {
        say(&format!(
            "roomwright met a fault of its own and stopped: {fault}\nPlease report it together with the scene; the scene is as it was."
        ));
    }));
    std::panic::catch_unwind(body).unwrap_or(ExitCode::from(2))
}

/// Runs the command and turns its outcome into an exit code.
pub(crate) fn run(arguments: &Arguments) -> ExitCode {
    match dispatch(arguments) {
        Ok(()) => ExitCode::SUCCESS,
        // Whoever reads our output has read enough.
        Err(Failure::Print(cause)) if cause.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(Failure::Mistakes) => ExitCode::from(1),
        Err(failure @ Failure::File(FileError::NotText { .. })) => {
            say(&format!("error: {failure}"));
            ExitCode::from(1)
        }
        Err(failure @ Failure::Stopped(Cancelled)) => {
            say(&failure.to_string());
            ExitCode::from(2)
        }
        Err(failure) => {
            say(&format!("error: {failure}"));
            ExitCode::from(2)
        }
    }
}

fn dispatch(arguments: &Arguments) -> Result<(), Failure> {
    let out = arguments.out.as_deref();
    let extent = if arguments.full { Extent::Full } else { Extent::Short };
    choose(instructions(std::env::var_os(INSTRUCTIONS).as_deref())?);
    match &arguments.command {
        Command::New { name, size, activity } => new(name, size.as_deref(), *activity, out),
        Command::Survey(given) => survey(given),
        Command::Hear(given) if given.sound.sound.is_empty() => on_threads(arguments, || hear(&given.judged, out, extent)),
        Command::Hear(given) => on_threads(arguments, || listen::hear_and_listen(given, out, extent)),
        Command::Place(given) => on_threads(arguments, || place(given, out, extent)),
        Command::Bass(given) => on_threads(arguments, || bass::bass(given, out)),
        Command::Cloud(given) => on_threads(arguments, || cloud::cloud(given, out, extent)),
        Command::Positions(given) => on_threads(arguments, || positions::positions(given, out)),
        Command::Build(given) => build::build(given, out, extent),
        Command::Sweep(given) => prove::sweep(given, out),
        Command::Prove(given) => on_threads(arguments, || prove::prove(given, out, extent)),
        Command::Report(given) => on_threads(arguments, || handout::report(given, out)),
        Command::Compare(given) => on_threads(arguments, || compare::compare(given, out)),
        Command::Lesson(given) => on_threads(arguments, || compare::lesson(given, out)),
        Command::Absorbers(given) => shelf::absorbers(given, out),
        Command::Completions { shell } => terminal::completions(*shell),
        Command::Manual => terminal::manual(out),
    }
}

/// Names the vector instructions to use; for whoever doubts that figures do not depend on them beyond their errors.
const INSTRUCTIONS: &str = "ROOMWRIGHT_SIMD";

/// What the variable [`INSTRUCTIONS`] asks for; nothing in it is the same as none.
fn instructions(asked: Option<&OsStr>) -> Result<Instructions, Failure> {
    match asked.map(OsStr::to_string_lossy).as_deref() {
        None | Some("" | "auto") => Ok(Instructions::Widest),
        Some("fallback") => Ok(Instructions::Portable),
        Some(other) => Err(Failure::Usage(format!(
            "{INSTRUCTIONS} is \"{other}\", which is none of: auto (the widest vector instructions of this machine), fallback (the portable ones)"
        ))),
    }
}

/// Runs on as many threads as asked for.
fn on_threads(arguments: &Arguments, body: impl FnOnce() -> Result<(), Failure> + Send) -> Result<(), Failure> {
    match arguments.threads {
        None => body(),
        Some(threads) => rayon::ThreadPoolBuilder::new().num_threads(usize::from(threads)).build()?.install(body),
    }
}

/// The size of a new room where none is typed.
const EXAMPLE_SIZE: &str = "3.6x2.9x2.4m";

fn new(name: &str, size: Option<&str>, activity: Activity, out: Option<&Path>) -> Result<(), Failure> {
    let name = Path::new(name.strip_suffix(".toml").unwrap_or(name));
    let title = name.file_name().unwrap_or_default().to_string_lossy();
    let text = scene::starter_for(&title, &RoomSize::read(size.unwrap_or(EXAMPLE_SIZE))?, activity);
    let path = out.unwrap_or("".as_ref()).join(name).with_file_name(format!("{}.toml", file_stem_from_title(&title)?));
    files::write_new(&RealDisk, &path, text.as_bytes())?;
    let shown = path.display();
    let called = called();
    let steps = ["survey", "hear", "place", "build"].map(|step| format!("    {called} {step} {shown}\n")).concat();
    let example = match size {
        None => format!("Its {EXAMPLE_SIZE} are an example: with --size a room gets its own.\n"),
        Some(_) => String::new(),
    };
    print(&format!("Wrote {shown}.\n{example}Open it in a text editor and put in what your tape measure says; then:\n\n{steps}"))
}

fn survey(given: &OneScene) -> Result<(), Failure> {
    let (_, scene) = read(&given.scene)?;
    let survey = study::survey(&scene);
    if given.json {
        return print(&json(&survey)?);
    }
    print(&format!("{}\nNext: {} hear {}\n", report::text::survey(&scene, &survey), called(), given.scene.display()))
}

/// As this program was called, so that a line can be copied as it stands.
fn called() -> String {
    std::env::args().next().unwrap_or_else(|| "roomwright".to_owned())
}

fn hear(judged: &Judged, out: Option<&Path>, extent: Extent) -> Result<(), Failure> {
    let given = &judged.of;
    let (_, scene) = read(&given.scene)?;
    let asked = BassAsked { beside_bare: false, ..judged.waves.asked() };
    let (findings, sheets) = waiting::wait(|progress| {
        let (findings, room) = study::hear_with(progress, &scene, (!judged.rays_only).then_some(&asked))?;
        begin_sheets(progress)?;
        let sheets = report::hear_files(&scene, &room, &findings);
        progress.step(1)?;
        Ok((findings, sheets))
    })?;
    let sheets = with_bass(sheets, findings.bass.as_ref())?;
    let written = write("hear", Some(&given.scene), out, &sheets)?;
    finish(given.json, &written, &json(&findings)?, || report::text::hear(&scene, &findings, extent))
}

/// The files, and every number of the low end where there are any.
fn with_bass(mut files: Vec<(String, Vec<u8>)>, bass: Option<&BassStudy>) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    if let Some(bass) = bass {
        files.push(("bass.json".into(), format!("{}\n", json(bass)?).into_bytes()));
    }
    Ok(files)
}

fn place(judged: &Judged, out: Option<&Path>, extent: Extent) -> Result<(), Failure> {
    let given = &judged.of;
    let (text, scene) = read(&given.scene)?;
    if !scene.stock.iter().any(|kind| kind.count > 0) {
        say(
            "Nothing is in stock, so nothing will be hung and no hot spot told: write a [[stock]] with a `count` into the scene (the README lists its keys). Ctrl-C stops.",
        );
    }
    let planned = study::planned(&scene);
    let asked = judged.waves.asked();
    let (placement, sheets) = waiting::wait(|progress| {
        let placement = study::place_with(progress, &scene, (!judged.rays_only).then_some(&asked))?;
        begin_sheets(progress)?;
        let sheets = report::files(&planned, &placement.room, &placement.plan, &placement.pictures);
        progress.step(1)?;
        Ok((placement, sheets))
    })?;
    let json = json(&placement.plan)?;
    let sheets = plan_files(&text, &planned, &placement, sheets)?;
    let mut written = write("place", Some(&given.scene), out, &sheets)?;
    let folder = out.map_or_else(|| files::default_folder(&given.scene), PathBuf::from);
    let report = handout::report_plan(given, (&planned, &placement), &folder)?;
    written.files.extend(report.files);
    written.kept.extend(report.kept);
    finish(given.json, &written, &json, || report::text::place(&planned, &placement.room, &placement.plan, extent))
}

/// Everything of a plan: its scene, a text with its panels, and its numbers before the drawings.
fn plan_files(
    text: &str,
    planned: &Scene,
    placement: &Placement,
    mut sheets: Vec<(String, Vec<u8>)>,
) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let placed = placement.pictures.panels.get(planned.panels.len()..).unwrap_or_default();
    let (leaving, panels) = (placement.plan.leaving(), placement.plan.to_hang(placed));
    let rest = placement.plan.purchase.as_ref().map(|purchase| purchase.rest);
    let plan = scene::with_moves(text, &leaving, &panels, (&placement.plan.out(), rest))?;
    sheets.insert(0, ("plan.toml".into(), plan.into_bytes()));
    sheets.insert(1, ("plan.json".into(), format!("{}\n", json(&placement.plan)?).into_bytes()));
    with_bass(sheets, placement.plan.after.bass.as_ref())
}

fn begin_sheets(progress: &Progress) -> Result<(), Cancelled> {
    progress.begin("drawing", 1);
    progress.step(0)
}

/// The text and the scene; prints every diagnostic, and ends where one of them is an error.
fn read(path: &Path) -> Result<(String, Scene), Failure> {
    let text = files::read_text(&RealDisk, path).map_err(|failure| with_meant(failure, path))?;
    let shown = path.display().to_string();
    match scene::read(&text) {
        Ok((scene, warnings)) => {
            for warning in &warnings {
                say(&warning.render(&text, &shown));
            }
            Ok((text, scene))
        }
        Err(mistakes) => {
            for mistake in &mistakes {
                say(&mistake.render(&text, &shown));
            }
            let count = mistakes.iter().filter(|mistake| mistake.severity == scene::Severity::Error).count();
            say(&format!("{count} {} in {shown}; nothing was written", if count == 1 { "error" } else { "errors" }));
            Err(Failure::Mistakes)
        }
    }
}

/// Where the file is not there but one with the ending `.toml` or nearly its name is, says so.
fn with_meant(failure: FileError, path: &Path) -> Failure {
    let misses = matches!(&failure, FileError::Read { cause, .. } if cause.kind() == io::ErrorKind::NotFound);
    let ended = path.with_extension("toml");
    let is_there = |meant: &PathBuf| meant != path && RealDisk.canonical(meant).is_ok();
    match Some(ended).filter(is_there).or_else(|| files::nearest(&RealDisk, path)).filter(|_| misses) {
        Some(meant) => Failure::Usage(format!("{failure}; there is {}", meant.display())),
        None => failure.into(),
    }
}

/// Writes what a command made from a scene, or from none.
fn write(command: &str, scene: Option<&Path>, out: Option<&Path>, sheets: &[(String, Vec<u8>)]) -> Result<Written, Failure> {
    write_around(command, scene, out, sheets, &[])
}

/// The same, with files of these names left as they lie.
fn write_around(
    command: &str,
    scene: Option<&Path>,
    out: Option<&Path>,
    sheets: &[(String, Vec<u8>)],
    lying: &[&str],
) -> Result<Written, Failure> {
    let folder = out.map_or_else(|| files::default_folder(scene.unwrap_or(command.as_ref())), PathBuf::from);
    let scene = scene.unwrap_or("".as_ref());
    Ok(waiting::uninterrupted(|| files::write_around(&RealDisk, &folder, command, scene, sheets, lying))?)
}

/// Says which files stayed because they were changed.
fn say_kept(written: &Written) {
    for (stays, instead) in &written.kept {
        say(&format!("{} was changed since it was written, so it stays; the new one is {}", stays.display(), instead.display()));
    }
}

/// Prints the result: as JSON alone, or as text with what was written where.
fn finish(as_json: bool, written: &Written, json: &str, text: impl FnOnce() -> String) -> Result<(), Failure> {
    say_kept(written);
    if as_json {
        return print(json);
    }
    let mut text = text();
    if let Some(folder) = written.files.first().and_then(|file| file.parent()) {
        let names: Vec<String> =
            written.files.iter().filter_map(|file| file.file_name()).map(|name| name.to_string_lossy().into()).collect();
        let files = if names.len() == 1 { "1 file".to_owned() } else { format!("{} files", names.len()) };
        text = format!("{}\n\nWrote {files} into {}:\n{}", text.trim_end(), folder.display(), listed(&names));
    }
    // Where there is a page it holds the rest.
    const PAGES: [&str; 11] = [
        "index.html",
        "report.html",
        "sound.html",
        "hear.html",
        "lesson.html",
        "compare.html",
        "build.pdf",
        "prove.html",
        "bass.html",
        "cloud.html",
        "positions.html",
    ];
    let page = PAGES.iter().find_map(|page| written.files.iter().find(|file| file.file_name().is_some_and(|name| name == *page)));
    for gone in &written.removed {
        text.push_str(&format!("Removed {}, which an earlier run wrote and this one has no use for.\n", gone.display()));
    }
    if let Some(page) = page {
        text.push_str(&format!("Open {} first.\n", page.display()));
    }
    print(&text)
}

/// Names in lines of readable width.
fn listed(names: &[String]) -> String {
    let mut lines = String::from(" ");
    let mut width = 1;
    for name in names {
        if width + name.len() > 98 {
            lines.push_str("\n ");
            width = 1;
        }
        lines.push_str(&format!(" {name}"));
        width += name.len() + 1;
    }
    lines + "\n"
}

/// `Attic, north` -> `attic-north`.
fn file_stem_from_title(title: &str) -> Result<String, Failure> {
    let words: Vec<String> = title.split(|letter: char| !letter.is_alphanumeric() && letter != '_').map(str::to_lowercase).collect();
    let stem = words.into_iter().filter(|word| !word.is_empty()).collect::<Vec<_>>().join("-");
    if stem.is_empty() { Err(Failure::Usage(format!("\"{title}\" has no letter or digit to name a file after"))) } else { Ok(stem) }
}

fn json(value: &impl serde::Serialize) -> Result<String, serde_json::Error> {
    serde_json::to_string_pretty(value)
}

/// Prints to standard output, with a line end.
fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    writeln!(out, "{}", text.trim_end())?;
    out.flush()?;
    Ok(())
}

/// Prints to standard error; where even that is closed there is nobody left to tell.
fn say(text: &str) {
    drop(writeln!(io::stderr().lock(), "{}", text.trim_end()));
}
