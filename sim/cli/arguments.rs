//! Arguments: exactly what was typed, and the help that goes with it.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use roomwright::scene::{Activity, Paper};
use roomwright::study::{BassAsked, HEIGHTS_MOST, Listener, MEMORY, MOST_OTHERS, OTHERS, USUAL_TOP};

/// What is wrong with a small room, and where each absorber panel goes.
#[derive(Debug, Parser)]
#[command(name = "roomwright", version, about, max_term_width = 100, arg_required_else_help = true)]
#[command(after_help = "Exit codes: 0 done, 1 the scene has errors (nothing is written), 2 it could not run.\n\
    The job in order: new, survey, hear, place, build, prove (with sweep before it); before place, positions tells where seat and loudspeakers stand.\n\
    bass tells what waves do below rays, cloud how high a cloud hangs, absorbers helps to choose what to hang.")]
pub(crate) struct Arguments {
    /// What to do
    #[command(subcommand)]
    pub(crate) command: Command,
    /// Threads to use; results do not depend on it [default: one a core]
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
    /// Folder for what is written [default: out/ and the scene's file name without .toml; of a plan.toml its own folder, or one called plan in it]
    #[arg(long, global = true, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Print every table that an answer rests on (hear, place, build, prove); the pages that are written have them all either way
    #[arg(long, global = true)]
    pub(crate) full: bool,
}

/// The steps of the job that exist.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Write a commented scene to fill in
    #[command(after_help = "Examples:\n  \
        roomwright new rooms/spare-bedroom --size 3.6x2.9x2.4m\n  \
        roomwright new den --size 12x10x8ft --use voice")]
    New {
        /// Name of the room, with a folder before it if you like; the file gets the name and the ending .toml
        name: String,
        /// Length x width x height with their unit [default: 3.6x2.9x2.4m, an example]
        #[arg(long, value_name = "LxWxH")]
        size: Option<String>,
        /// What the room is for: two loudspeakers and a seat, a voice at a microphone, an instrument or a voice and a seat
        #[arg(long = "use", value_name = "USE", default_value = "mixing", value_parser = activity)]
        activity: Activity,
    },
    /// Check the scene: what is the room? Sizes, areas, volume, materials, cautions
    #[command(after_help = "Examples:\n  \
        roomwright survey scenes/attic-voice-room.toml\n  \
        roomwright survey scenes/attic-voice-room.toml --json")]
    Survey(OneScene),
    /// What does the seat hear now? Reflections, decay, clarity, speech, flutter; writes charts, and sound if asked
    Hear(Hear),
    /// What do waves do below some 250 Hz? Levels, decays, dips and their walls, modes; bare beside what hangs; writes charts
    Bass(Bass),
    /// Where do the panels go, and what does each one earn? Writes the plan, drawings and maps
    #[command(after_help = "Examples:\n  \
        roomwright place scenes/attic-voice-room.toml\n  \
        roomwright place scenes/attic-voice-room.toml --rays-only\n  \
        roomwright --out tries/first place scenes/attic-voice-room.toml --top 150")]
    Place(Judged),
    /// How high does a cloud hang? Heights, then tilts, sizes and places; writes a chart and the scene with the cloud
    Cloud(Cloud),
    /// Where do seat and loudspeakers stand before a panel is hung? Maps of the room, and the scene with the best place
    Positions(Positions),
    /// What do I cut, and where do I drill? Cut lists, costs, sheets with every mark, loads; writes a PDF to print
    Build(Build),
    /// Which signal is the room measured with? Writes a sweep to play, and says how to record it
    Sweep(SweepGiven),
    /// Did it work? Compares recordings with what the scene predicts, and with recordings of before; writes a page
    Prove(Prove),
    /// All of it in one document to hand over: writes a page that holds all it needs, and a PDF, of what the other commands found
    #[command(after_help = "Examples:\n  \
        roomwright report scenes/attic-voice-room.toml\n  \
        roomwright report out/attic-voice-room/plan.toml --rays-only")]
    Report(Judged),
    /// What does a change do? Hears scenes one by one and sets them side by side, each less the first; writes a page
    Compare(Compare),
    /// What does a room do? Eight small lessons, each with versions of one room; writes a page, its scenes, and a PDF
    Lesson(LessonGiven),
    /// What does an absorber absorb? Lists and searches the materials table, compares rows and build-ups; writes a chart
    Absorbers(Absorbers),
    /// Let a shell complete what is typed: prints a script for it
    #[command(after_help = "Examples:\n  \
        roomwright completions bash > ~/.local/share/bash-completion/completions/roomwright\n  \
        roomwright completions fish > ~/.config/fish/completions/roomwright.fish")]
    Completions {
        /// Which shell
        shell: Shell,
    },
    /// Write manual pages: one of the program, one of each command
    #[command(after_help = "Examples:\n  \
        roomwright manual\n  \
        roomwright --out ~/.local/share/man/man1 manual")]
    Manual,
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

/// A scene that is judged, its low end by waves.
#[derive(Args, Debug)]
pub(crate) struct Judged {
    #[command(flatten)]
    pub(crate) of: OneScene,
    /// No waves: the octaves below Schroeder's frequency are then a statistical reading that nothing is judged by; quicker
    #[arg(long)]
    pub(crate) rays_only: bool,
    #[command(flatten)]
    pub(crate) waves: Waves,
}

/// What the seat hears, and what that sounds like.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright hear scenes/attic-voice-room.toml\n  \
    roomwright hear out/basement-mix-room/plan.toml --sound clap --sound my-song.wav\n  \
    roomwright hear out/basement-mix-room/plan.toml --sound all --ears splayed\n\n\
    With --sound the scene is heard as it hangs and, if panels hang, bare. Begin with the volume all the way down.")]
pub(crate) struct Hear {
    #[command(flatten)]
    pub(crate) judged: Judged,
    #[command(flatten)]
    pub(crate) sound: SoundGiven,
}

/// Sounds to be heard in the room.
#[derive(Args, Debug)]
#[command(next_help_heading = "What it sounds like")]
pub(crate) struct SoundGiven {
    /// A dry sound: clap, pink, plucked, bowed, speech-like, all of them, or a WAV file; again for more
    #[arg(long, value_name = "SOUND or FILE")]
    pub(crate) sound: Vec<String>,
    /// At which seat or microphone, by its name [default: the first seat, for a voice the first microphone]
    #[arg(long, value_name = "NAME", requires = "sound")]
    pub(crate) at: Option<String>,
    /// Who listens: two ears on a head, pairs of microphones (crossed, 40 cm apart, splayed), or a point [default: head]
    #[arg(long, value_name = "EARS", requires = "sound", value_parser = Listener::ALL.map(Listener::word))]
    pub(crate) ears: Option<String>,
    /// A head as it was measured, in place of the sphere: a file in the open format SOFA (in builds with the feature sofa)
    #[arg(long, value_name = "FILE.sofa", requires = "sound")]
    pub(crate) head: Option<PathBuf>,
    /// By how much the listener turns to the left, degrees
    #[arg(long, value_name = "DEG", requires = "sound", default_value_t = 0.0, allow_hyphen_values = true)]
    pub(crate) turned: f64,
    /// Samples a second: 44100, 48000 or 96000
    #[arg(long, value_name = "HZ", requires = "sound", default_value_t = 48_000)]
    pub(crate) sound_rate: u32,
    /// How long each version sounds where they take turns, seconds
    #[arg(long, value_name = "S", requires = "sound", default_value_t = 4.0)]
    pub(crate) each: f64,
}

/// Waves: how high, with how much memory.
#[derive(Args, Clone, Copy, Debug)]
#[command(next_help_heading = "Waves of the low end")]
pub(crate) struct Reach {
    /// Highest frequency in Hz
    #[arg(long, value_name = "HZ", default_value_t = USUAL_TOP)]
    top: f64,
    /// Memory that they may take, in GB
    #[arg(long, value_name = "GB", default_value_t = MEMORY as f64 / 1e9)]
    memory: f64,
}

impl Reach {
    /// As the library takes it, no rooms with other walls.
    pub(crate) fn asked(self) -> BassAsked {
        BassAsked { top_hz: self.top, memory: (1e9 * self.memory.max(0.0)) as u64, others: 0, beside_bare: false }
    }
}

/// The same, and in how many rooms.
#[derive(Args, Clone, Copy, Debug)]
#[command(next_help_heading = "Waves of the low end")]
pub(crate) struct Waves {
    #[command(flatten)]
    reach: Reach,
    /// Rooms with other walls, within what tables leave open, that tell where figures may lie; 0 for none
    #[arg(long, value_name = "N", default_value_t = OTHERS as u32, value_parser = clap::value_parser!(u32).range(0..=MOST_OTHERS as i64))]
    others: u32,
}

impl Waves {
    /// As the library takes it.
    pub(crate) fn asked(self) -> BassAsked {
        BassAsked { others: self.others as usize, beside_bare: true, ..self.reach.asked() }
    }
}

/// The low end.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright bass scenes/basement-mix-room.toml\n  \
    roomwright bass out/basement-mix-room/plan.toml --top 200\n  \
    roomwright bass scenes/basement-mix-room.toml --corners\n\n\
    The scene is computed with all that hangs in it and, if panels hang, without them. Twice the top frequency takes\n\
    eight times the memory and sixteen times the time.")]
pub(crate) struct Bass {
    /// The scene file
    pub(crate) scene: PathBuf,
    #[command(flatten)]
    pub(crate) waves: Waves,
    /// Rank the corners by what a panel across each would buy
    #[arg(long)]
    pub(crate) corners: bool,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
}

/// A cloud: which one, where, and at which heights.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright cloud scenes/attic-voice-room.toml\n  \
    roomwright cloud scenes/attic-voice-room.toml --center 2.4,3.9 --from 2.1 --to 2.3 --heights 9\n  \
    roomwright cloud shed.toml --type \"thick cloud\" --center \"7 ft 10 in, 12 ft\"\n\n\
    Lengths without a unit are in the unit of the scene.")]
pub(crate) struct Cloud {
    /// The scene file
    pub(crate) scene: PathBuf,
    /// Type of cloud, by its name in the stock [default: the cloud that hangs in the scene, else the first type in stock]
    #[arg(long = "type", value_name = "NAME")]
    pub(crate) kind: Option<String>,
    /// Middle of the cloud on the floor plan [default: over the ceiling's first reflection points]
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    pub(crate) center: Option<String>,
    /// How many heights
    #[arg(long, value_name = "N", default_value_t = 25, value_parser = clap::value_parser!(u32).range(1..=i64::from(HEIGHTS_MOST)))]
    pub(crate) heights: u32,
    /// Lowest height of its underside [default: as low as headroom allows]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) from: Option<String>,
    /// Highest height of its underside [default: where it touches the ceiling]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) to: Option<String>,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
}

/// Places for seat and loudspeakers: how fine a grid, and what stays.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright positions scenes/attic-voice-room.toml\n  \
    roomwright positions scenes/attic-voice-room.toml --step 0.2 --from-walls 0.5\n  \
    roomwright positions scenes/attic-voice-room.toml --stays desk\n  \
    roomwright positions scenes/attic-voice-room.toml --rays-only\n\n\
    Lengths without a unit are in the unit of the scene.")]
pub(crate) struct Positions {
    /// The scene file
    pub(crate) scene: PathBuf,
    /// From one place of the grid to the next [default: as fine as some 400 places allow]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) step: Option<String>,
    /// What loudspeakers and microphones keep from walls at least [default: 0.3 m; heads keep 0.5 m or this]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) from_walls: Option<String>,
    /// A thing that stays where it is though it would move along, like a desk that is built in; again for more
    #[arg(long, value_name = "NAME")]
    pub(crate) stays: Vec<String>,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
    /// No waves: what the low end gains or loses is not told; quicker
    #[arg(long)]
    pub(crate) rays_only: bool,
    #[command(flatten)]
    pub(crate) reach: Reach,
}

/// A plan on its way into the workshop.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright place scenes/attic-voice-room.toml\n  \
    roomwright build scenes/attic-voice-room.toml\n  \
    roomwright build scenes/attic-voice-room.toml --prices my-shop.toml --paper letter\n  \
    roomwright build out/attic-voice-room/plan.toml\n\n\
    The plan is the one that place wrote for this scene, in the same folder; without one, everything that\n\
    hangs in the scene is to be built. How panels are made stands in the scene: [build], [[structure]], and\n\
    `made` and `fixing` of a [[stock]].")]
pub(crate) struct Build {
    /// The scene file
    pub(crate) scene: PathBuf,
    /// The plan, a scene of the same room with more panels [default: plan.toml in the output folder]
    #[arg(long, value_name = "FILE")]
    pub(crate) plan: Option<PathBuf>,
    /// A price list [default: prices.toml beside the sheets; where there is none, one of invented examples, which is written there for you to edit]
    #[arg(long, value_name = "FILE")]
    pub(crate) prices: Option<PathBuf>,
    /// Paper of the sheets [default: `paper` in [build]; else by the scene's unit]
    #[arg(long, value_name = "PAPER", value_parser = ["a4", "letter"], ignore_case = true)]
    pub(crate) paper: Option<String>,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
}

impl Build {
    /// The paper that is asked for.
    pub(crate) fn paper(&self) -> Option<Paper> {
        self.paper.as_ref().map(|word| if word.eq_ignore_ascii_case("a4") { Paper::A4 } else { Paper::Letter })
    }
}

/// A test signal, as `sweep` makes it and `prove` undoes it.
#[derive(Args, Clone, Copy, Debug)]
#[command(next_help_heading = "The sweep")]
pub(crate) struct SweepAsked {
    /// Frequency it begins with in Hz: not below what the loudspeaker can do
    #[arg(long, value_name = "HZ", default_value_t = 20.0)]
    pub(crate) from: f64,
    /// Frequency it ends with in Hz
    #[arg(long, value_name = "HZ", default_value_t = 20_000.0)]
    pub(crate) to: f64,
    /// Length of one sweep in seconds; twice as long is 3 dB better against noise
    #[arg(long, value_name = "S", default_value_t = 10.0)]
    pub(crate) seconds: f64,
    /// How often it is played; two or more tell the drift of the recorder's clock
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=64))]
    pub(crate) repeats: u32,
    /// Silence after each, in seconds: longer than the room rings
    #[arg(long, value_name = "S", default_value_t = 3.0)]
    pub(crate) pause: f64,
    /// Largest sample in dB re full scale
    #[arg(long, value_name = "DB", default_value_t = -30.0, allow_hyphen_values = true)]
    pub(crate) level: f64,
    /// Samples a second; a recording is read at its own
    #[arg(long, value_name = "HZ", default_value_t = 48_000, value_parser = clap::value_parser!(u32).range(8_000..=192_000))]
    pub(crate) rate: u32,
}

/// The test signal as a file.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright sweep\n  \
    roomwright sweep --from 50 --to 16000 --seconds 15\n  \
    roomwright sweep --level -20 --rate 44100 --out ready\n\n\
    Begin with the volume all the way down, and raise it while a sweep plays until it is as loud as speech.\n\
    Sweeps that are loud at the top destroy tweeters, and hurt ears: leave the room, or protect them.")]
pub(crate) struct SweepGiven {
    #[command(flatten)]
    pub(crate) sweep: SweepAsked,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
}

/// What recordings are of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SignalWord {
    /// The sweep of this program, through a loudspeaker
    Sweep,
    /// An impulse response already
    Response,
    /// A clap or a bursting balloon
    Clap,
    /// A voice that reads one text, before and after (with --before)
    Voice,
}

/// Recordings beside a scene.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright prove out/attic-voice-room/plan.toml after.wav\n  \
    roomwright prove out/basement-mix-room/plan.toml l.wav r.wav --source left --source right\n  \
    roomwright prove out/attic-voice-room/plan.toml after.wav --before bare.wav\n  \
    roomwright prove scenes/attic-voice-room.toml clap.wav --is clap\n  \
    roomwright prove out/attic-voice-room/plan.toml after.wav --is voice --before before.wav\n  \
    roomwright prove scenes/basement-mix-room.toml l.wav r.wav --source left --source right --fit\n\n\
    A recording is a WAV file of one source at one seat or microphone: the microphone where the middle of the head is.\n\
    The scene is the room as it is recorded: a plan, once its panels hang. What is written lies beside a plan.\n\
    A phone saves what it records compressed: set its recorder to WAV (or lossless) and turn voice enhancement off,\n\
    then send the file over by cable or as a file, not through a chat, which compresses it again.")]
pub(crate) struct Prove {
    /// The scene file, as the room stood when it was recorded
    pub(crate) scene: PathBuf,
    /// Recordings, WAV
    #[arg(value_name = "RECORDING")]
    pub(crate) recordings: Vec<PathBuf>,
    /// A recording of before, the same way; one for each, in their order
    #[arg(long, value_name = "RECORDING")]
    pub(crate) before: Vec<PathBuf>,
    /// What they are of
    #[arg(long, value_enum, default_value_t = SignalWord::Sweep)]
    pub(crate) is: SignalWord,
    /// Which source sounded, by its name; once for all recordings, or once for each [default: the only one]
    #[arg(long, value_name = "NAME")]
    pub(crate) source: Vec<String>,
    /// At which seat or microphone, by its name; once for all, or once for each [default: the only seat, for a voice the only microphone]
    #[arg(long, value_name = "NAME")]
    pub(crate) at: Vec<String>,
    /// Channel of the recordings to take, counted from 1 [default: the first, or the only one that is not silent]
    #[arg(long, value_name = "N")]
    pub(crate) channel: Option<usize>,
    /// Fit materials to the measured decay: writes the scene with them as fitted.toml and plans it anew, into the folder fitted; minutes, where there is something to plan
    #[arg(long)]
    pub(crate) fit: bool,
    /// With --fit: no new plan
    #[arg(long, requires = "fit")]
    pub(crate) no_plan: bool,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
    /// No waves: octaves below Schroeder's frequency are then judged by nothing; quicker
    #[arg(long)]
    pub(crate) rays_only: bool,
    #[command(flatten)]
    pub(crate) sweep: SweepAsked,
    #[command(flatten)]
    pub(crate) waves: Waves,
}

/// Scenes side by side.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright compare room.toml room-with-carpet.toml\n  \
    roomwright compare room.toml out/room/plan.toml mine.toml --rays-only\n\n\
    Copy a scene, change one thing, and ask for the difference. Sources and seats belong together by their names.")]
pub(crate) struct Compare {
    /// The scene file that the others are compared with
    pub(crate) scene: PathBuf,
    /// The others, five at most
    #[arg(required = true, value_name = "OTHER")]
    pub(crate) others: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) sound: SoundGiven,
    /// Print the result as JSON and nothing else on standard output
    #[arg(long)]
    pub(crate) json: bool,
    /// No waves: the octaves below Schroeder's frequency are then a statistical reading that nothing is judged by; quicker
    #[arg(long)]
    pub(crate) rays_only: bool,
    #[command(flatten)]
    pub(crate) reach: Reach,
}

/// A lesson.
#[derive(Args, Debug)]
#[command(after_help = "Examples:\n  \
    roomwright lesson\n  \
    roomwright lesson flutter\n  \
    roomwright lesson flutter --sound clap\n  \
    roomwright lesson all --out lessons\n\n\
    Without --out a lesson goes into out/lessons/ and its word. Its rooms lie there as scene files, to be changed and compared.")]
pub(crate) struct LessonGiven {
    /// Its word or number, or all; without one, which there are
    pub(crate) lesson: Option<String>,
    #[command(flatten)]
    pub(crate) sound: SoundGiven,
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
