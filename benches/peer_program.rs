//! The peer that speeds are told beside: the program of `benches/peer` and the library that it loads, asked for by
//! `ROOMWRIGHT_PEER="PROGRAM LIBRARY"`.
//!
//! *Limits.* It is a process of its own, so it shares no memory with ours; its start, its reading and its building are not in its times.

use std::path::{Path, PathBuf};
use std::process::Command;

use glam::{DVec3, Vec3};

/// The program and its library.
pub(crate) struct Peer {
    program: String,
    library: String,
    folder: PathBuf,
}

impl Peer {
    /// The peer, where there is one.
    pub(crate) fn asked() -> Option<Self> {
        let asked = std::env::var("ROOMWRIGHT_PEER").ok()?;
        let (program, library) = asked.split_once(' ').expect("ROOMWRIGHT_PEER names a program and a library");
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("peer");
        std::fs::create_dir_all(&folder).expect("the target folder can be written to");
        Some(Self { program: program.to_owned(), library: library.to_owned(), folder })
    }

    /// Writes down corners and rays for it.
    pub(crate) fn files(&self, name: &str, corners: &[DVec3], rays: &[(Vec3, Vec3)]) -> (PathBuf, PathBuf) {
        let bytes = |numbers: Vec<f32>| numbers.into_iter().flat_map(f32::to_le_bytes).collect::<Vec<u8>>();
        let (mesh, list) = (self.folder.join(format!("{name}.mesh")), self.folder.join(format!("{name}.rays")));
        std::fs::write(&mesh, bytes(corners.iter().flat_map(|at| at.as_vec3().to_array()).collect())).expect("it can be written");
        // It needs a start off the surface, or it meets that again.
        let apart = |&(origin, direction): &(Vec3, Vec3)| [(origin + 1e-4 * direction).to_array(), direction.to_array()].concat();
        std::fs::write(&list, bytes(rays.iter().flat_map(apart).collect())).expect("it can be written");
        (mesh, list)
    }

    /// Million rays a second of its fast scene and of its robust one.
    pub(crate) fn run(&self, mode: &str, mesh: &Path, what: &[&str]) -> [f64; 2] {
        let run = Command::new(&self.program).args([&self.library, mode]).arg(mesh).args(what).output().expect("the peer runs");
        let lines = String::from_utf8_lossy(&run.stdout);
        let mut speeds = lines.lines().filter_map(|line| line.split(' ').nth(1)?.parse().ok());
        [speeds.next().expect("two scenes"), speeds.next().expect("two scenes")]
    }
}
