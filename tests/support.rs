//! What the tests share: a folder that goes away, the program as it is run, thread pools, small scenes.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use glam::DVec3;
use roomwright::random::{Purpose, Stream};
use roomwright::scene::{self, RoomSize, Scene};

/// A folder of one test, empty at first and removed with its content at the end.
pub(crate) struct Folder(PathBuf);

impl Folder {
    /// A fresh folder; `name` must be the test's own.
    pub(crate) fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{}", std::process::id()));
        drop(std::fs::remove_dir_all(&path));
        std::fs::create_dir_all(&path).expect("the target folder can be written to");
        Self(path)
    }

    /// Where it is.
    pub(crate) fn path(&self) -> &Path {
        &self.0
    }

    /// Writes a file into it.
    pub(crate) fn put(&self, name: &str, content: impl AsRef<[u8]>) {
        std::fs::write(self.0.join(name), content).expect("the test's own file can be written");
    }

    /// Reads a file in it.
    pub(crate) fn text(&self, name: &str) -> String {
        std::fs::read_to_string(self.0.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    /// Names in it or in a folder of it, hidden ones too, sorted; none where there is no such folder.
    pub(crate) fn names(&self, inner: &str) -> Vec<String> {
        let Ok(entries) = std::fs::read_dir(self.0.join(inner)) else { return Vec::new() };
        let mut names: Vec<String> =
            entries.map(|entry| entry.expect("an entry of the test's own folder").file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        drop(std::fs::remove_dir_all(&self.0));
    }
}

/// Gaussian numbers of variance 1 (Box and Muller), the same for the same seed and index.
pub(crate) fn gaussian(seed: u64, index: u64, length: usize) -> Vec<f64> {
    let mut stream = Stream::new(seed, Purpose::Search, index);
    (0..length).map(|_| (-2.0 * (1.0 - stream.unit()).ln()).sqrt() * (std::f64::consts::TAU * stream.unit()).cos()).collect()
}

/// What a run of the program left.
pub(crate) struct Ran {
    /// Exit code; `None` after a signal.
    pub(crate) code: Option<i32>,
    /// Standard output.
    pub(crate) out: String,
    /// Standard error.
    pub(crate) err: String,
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("the program prints UTF-8");
        Self { code: output.status.code(), out: text(&output.stdout), err: text(&output.stderr) }
    }
}

/// The program, to be run in a folder.
pub(crate) fn program(folder: &Folder, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_roomwright"));
    command.args(arguments).current_dir(folder.path());
    command
}

/// Runs the program in a folder.
pub(crate) fn run(folder: &Folder, arguments: &[&str]) -> Ran {
    program(folder, arguments).output().expect("the program can be started").into()
}

/// Runs `body` on a pool of its own with this many threads.
pub(crate) fn on_threads<T: Send>(threads: usize, body: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a few threads can be started").install(body)
}

/// The text of a small room with two loudspeakers, a seat and some stock, as `roomwright new` writes it.
pub(crate) fn small_scene_text() -> String {
    scene::starter("Test room", &RoomSize::read("3.6x2.9x2.4m").expect("the size is a good one"))
}

/// The text of a box of a material that takes 0.2 at every angle and scatters so much, few rays asked of it; nobody is in it yet. Use, size in meters, rays, image order, scattering.
macro_rules! even_box {
    ($activity:literal, $size_m:literal, $rays:literal, $image_order:literal, $scattering:literal) => {
        concat!(
            "\nformat = 1\nname = \"Box\"\nuse = \"",
            $activity,
            "\"\n[settings]\nrays = ",
            $rays,
            "\nrounds = 1\nimage_order = ",
            $image_order,
            "\n[room]\nsize = ",
            $size_m,
            "\nfloor = \"even\"\nwall_material = \"even\"\nceiling_material = \"even\"\n[[material]]\nname = \"even\"\n",
            "absorption = [0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2]\nscattering = ",
            $scattering,
            "\nangle = \"uniform\"\n"
        )
    };
}
pub(crate) use even_box;

/// The text of an [`even_box`] whose walls take this much instead.
pub(crate) fn taking(text: &str, absorption: f64) -> String {
    let row = |absorption: f64| format!("absorption = {:?}", [absorption; 8]);
    assert!(text.contains(&row(0.2)), "the box says what its walls take");
    text.replace(&row(0.2), &row(absorption))
}

/// The room that `roomwright new` writes, made quick.
pub(crate) fn small_scene(rays: u32) -> Scene {
    let text = quick(&small_scene_text(), rays);
    let (scene, _) = scene::read(&text).unwrap_or_else(|mistakes| {
        let all: Vec<String> = mistakes.iter().map(|mistake| mistake.render(&text, "starter")).collect();
        panic!("what `roomwright new` writes does not read:\n{}", all.join("\n"))
    });
    scene
}

/// The same scene text with this many rays in one round, coarse maps and little in stock: what is asked of it here does not hang on fineness.
pub(crate) fn quick(text: &str, rays: u32) -> String {
    assert!(!text.contains("[settings]"), "the starter leaves settings at their defaults");
    let little = |line: &str| if line.starts_with("count =") { "count = 1".to_owned() } else { line.to_owned() };
    let lines: Vec<String> = text.lines().map(little).collect();
    format!("{}\n\n[settings]\nrays = {rays}\nimage_order = 2\npatch = \"300 mm\"\nleaders = 4\nrounds = 1\n", lines.join("\n"))
}

/// Upper 1 % point of chi-square (Wilson and Hilferty 1931, good to 1 % from 5 degrees of freedom on).
pub(crate) fn chi_square_99(degrees: usize) -> f64 {
    let n = degrees as f64;
    n * (1.0 - 2.0 / (9.0 * n) + 2.326 * (2.0 / (9.0 * n)).sqrt()).powi(3)
}

/// Square of the normal deviate as rare as Student's t (D. L. Wallace, Ann. Math. Stat. 30, 1121, 1959: within 0.02 of the deviate; from
/// memory): what a chi-square of deviations re their standard errors must add up.
pub(crate) fn normal_square(t: f64, degrees: f64) -> f64 {
    ((8.0 * degrees + 1.0) / (8.0 * degrees + 3.0)).powi(2) * degrees * (t * t / degrees).ln_1p()
}

/// Degrees of freedom of the difference of two means over batches with these standard errors (B. L. Welch 1947; from memory).
pub(crate) fn welch(a: f64, b: f64) -> f64 {
    f64::from(roomwright::settings::BATCHES - 1) * a.hypot(b).powi(4) / (a.powi(4) + b.powi(4))
}

/// Length of what of a way lies in a ball.
pub(crate) fn chord(from: DVec3, to: DVec3, center: DVec3, radius: f64) -> f64 {
    let length = from.distance(to);
    let way = (to - from) / length;
    let middle = (center - from).dot(way);
    let half = (radius * radius - (from + way * middle).distance_squared(center)).max(0.0).sqrt();
    ((middle + half).min(length) - (middle - half).max(0.0)).max(0.0)
}
