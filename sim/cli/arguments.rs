//! Arguments: exactly what was typed, and the help that goes with it.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use roomwright::scene::Activity;

/// What is wrong with a small room, and where each absorber panel goes.
#[derive(Debug, Parser)]
#[command(name = "roomwright", version, about, max_term_width = 100, arg_required_else_help = true)]
#[command(after_help = "Exit codes: 0 done, 1 the scene has errors (nothing is written), 2 it could not run.\n\
    The job in order: new, survey, hear, place; absorbers helps to choose what to hang.")]
pub(crate) struct Arguments {
    /// What to do
    #[command(subcommand)]
    pub(crate) command: Command,
    /// Threads to use; results do not depend on it [default: one a core]
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
    /// Folder for what is written [default: out/ and the scene's file name without .toml]
    #[arg(long, global = true, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
}

/// The steps of the job that exist.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Write a commented scene to fill in
    New {
        /// Name of the room, with a folder before it if you like; the file gets the name and the ending .toml
        name: String,
        /// Length x width x height with their unit
        #[arg(long, value_name = "LxWxH", default_value = "3.6x2.9x2.4m")]
        size: String,
        /// What the room is for: two loudspeakers and a seat, a voice at a microphone, an instrument or a voice and a seat
        #[arg(long = "use", value_name = "USE", default_value = "mixing", value_parser = activity)]
        activity: Activity,
    },
    /// Check the scene: what is the room? Sizes, areas, volume, materials, cautions
    Survey(OneScene),
    /// What does the seat hear now? Reflections, decay, clarity, speech, flutter; writes charts
    Hear(OneScene),
    /// Where do the panels go, and what does each one earn? Writes the plan, drawings and maps
    Place(OneScene),
    /// What does an absorber absorb? Lists and searches the materials table, compares rows and build-ups; writes a chart
    Absorbers(Absorbers),
}

/// A command on a scene.
#[derive(Args, Debug)]
pub(crate) struct OneScene {
    /// The scene file
    pub(crate) scene: PathBuf,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
}

/// Absorbers: what is listed, shown, compared.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright absorbers                            all materials of the table\n  \
    roomwright absorbers rock wool 50 mm            those that are called so\n  \
    roomwright absorbers --show \"Rock wool 50 mm, 40 kg/m3\" --panel \"50 mm, 12000\"\n  \
    roomwright absorbers --panel \"50 mm, 12000\" --panel \"50 mm, 12000, gap 50 mm\" --panel \"100 mm, 12000\"\n  \
    roomwright absorbers --panel \"thin: 2 in, 12000, price 60 per m2\" --panel \"thick: 4 in, 12000, price 110 per m2\"\n  \
    roomwright absorbers scenes/basement-mix-room.toml --budget 660\n\n\
    A panel is written front first, with commas between its parts:\n  \
    50 mm, 12000                       thickness, flow resistivity in Pa s/m2 (or 12 kPa s/m2)\n  \
    50 mm, 45 kg/m3 mineral            or its density, of glass, mineral or polyester fiber\n  \
    gap 50 mm                          air\n  \
    cloth 200 Pa s/m 0.3 kg/m2         cloth that resists, and its mass if it may move\n  \
    membrane 2.5 kg/m2                 film, foil, thin board\n  \
    perforated 3 mm with 20 % of 5 mm holes, slotted 16 mm with 15 % of 6 mm slots\n  \
    suspended, cells                   both sides in free air, no hard wall; partitions across it\n  \
    size 60 x 120 cm, price 45         of one panel; or price 62 per m2\n  \
    NAME:                              before all, if you like")]
pub(crate) struct Absorbers {
    /// Words to search the table for, or a scene file (.toml) whose stock is compared
    #[arg(value_name = "WORDS or SCENE")]
    pub(crate) words: Vec<String>,
    /// A row of the table to show; again for more
    #[arg(long, value_name = "NAME")]
    pub(crate) show: Vec<String>,
    /// A build-up to compare, like "50 mm, 12000, gap 50 mm"; again for more
    #[arg(long, value_name = "PANEL", allow_hyphen_values = true)]
    pub(crate) panel: Vec<String>,
    /// Money that may be spent on each, in the currency of the prices
    #[arg(long, value_name = "PRICE", allow_hyphen_values = true)]
    pub(crate) budget: Option<f64>,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
}

/// Reads the command line; ends the program with the help text, or with exit code 2 and what is wrong with it.
pub(crate) fn read() -> Arguments {
    Arguments::parse()
}

fn activity(word: &str) -> Result<Activity, String> {
    Activity::named(word).ok_or_else(|| format!("expected one of {}", Activity::ALL.map(Activity::word).join(", ")))
}
