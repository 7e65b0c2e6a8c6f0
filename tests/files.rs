//! Files: nobody ever finds half a file, loses an edit, or takes yesterday's drawing for today's.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use roomwright::files::{
    Broken, Disk, FileError, Held, RealDisk, Sink, Stream, read_text, remove, replace, write_all, write_new, write_streams,
};

use crate::support::Folder;

/// A disk in memory whose n-th changing step fails.
#[derive(Default)]
struct FakeDisk {
    files: RefCell<BTreeMap<PathBuf, Vec<u8>>>,
    steps: Cell<usize>,
    fails_at: Option<usize>,
    /// Opens no file to write.
    refuses: Cell<bool>,
}

impl FakeDisk {
    fn holding(files: &[(&str, &str)]) -> Self {
        let files = files.iter().map(|(path, text)| (PathBuf::from(path), text.as_bytes().to_vec())).collect();
        Self { files: RefCell::new(files), ..Self::default() }
    }

    fn step(&self) -> io::Result<()> {
        self.steps.set(self.steps.get() + 1);
        if self.fails_at == Some(self.steps.get()) { Err(io::ErrorKind::StorageFull.into()) } else { Ok(()) }
    }

    fn text(&self, path: &str) -> Option<String> {
        self.files.borrow().get(Path::new(path)).map(|bytes| String::from_utf8_lossy(bytes).into_owned())
    }

    fn names(&self) -> Vec<String> {
        self.files.borrow().keys().map(|path| path.display().to_string()).collect()
    }
}

impl Disk for FakeDisk {
    fn read(&self, path: &Path, _bytes_max: u64) -> io::Result<Vec<u8>> {
        self.files.borrow().get(path).cloned().ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    fn write(&self, path: &Path, bytes: &[u8], fresh: bool) -> io::Result<()> {
        if self.refuses.get() {
            return Err(io::ErrorKind::PermissionDenied.into());
        }
        if fresh && self.files.borrow().contains_key(path) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        // A failing write leaves half a file, as a full disk does; none where there was none before.
        let outcome = self.step();
        if fresh && outcome.is_err() {
            return outcome;
        }
        let kept = if outcome.is_ok() { bytes } else { &bytes[..bytes.len() / 2] };
        self.files.borrow_mut().insert(path.into(), kept.to_vec());
        outcome
    }

    fn create<'a>(&'a self, path: &Path) -> io::Result<Box<dyn Sink + 'a>> {
        self.step()?;
        self.files.borrow_mut().insert(path.into(), Vec::new());
        Ok(Box::new(Pouring { disk: self, path: path.into() }))
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.step()?;
        let bytes = self.files.borrow_mut().remove(from).ok_or(io::ErrorKind::NotFound)?;
        self.files.borrow_mut().insert(to.into(), bytes);
        Ok(())
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        self.files.borrow_mut().remove(path).map(|_| ()).ok_or_else(|| io::ErrorKind::NotFound.into())
    }

    fn make_folder(&self, _path: &Path) -> io::Result<()> {
        self.step()
    }

    fn canonical(&self, path: &Path) -> io::Result<PathBuf> {
        if self.files.borrow().contains_key(path) { Ok(path.into()) } else { Err(io::ErrorKind::NotFound.into()) }
    }

    fn list(&self, _folder: &Path) -> io::Result<Vec<Held>> {
        Err(io::ErrorKind::Unsupported.into())
    }
}

/// A file that is being written: each piece is a step, and so is its end.
struct Pouring<'a> {
    disk: &'a FakeDisk,
    path: PathBuf,
}

impl Write for Pouring<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.disk.step()?;
        self.disk.files.borrow_mut().entry(self.path.clone()).or_default().extend(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Sink for Pouring<'_> {
    fn close(self: Box<Self>) -> io::Result<()> {
        self.disk.step()
    }
}

fn set(files: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
    files.iter().map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect()
}

fn write(disk: &dyn Disk, files: &[(&str, &str)]) -> Result<Vec<String>, FileError> {
    let written = write_all(disk, Path::new("out"), "place", Path::new("scene.toml"), &set(files))?;
    Ok(written.files.iter().map(|path| path.display().to_string()).collect())
}

#[test]
fn keeps_all_or_nothing_whichever_step_fails() {
    let old = [("plan.toml", "old plan"), ("north.svg", "old north")];
    let new = [("plan.toml", "new plan, longer"), ("north.svg", "new north"), ("south.svg", "new south")];
    let mut failures = 0;
    for fails_at in 1.. {
        let mut disk = FakeDisk::holding(&[("scene.toml", "scene")]);
        write(&disk, &old).expect("nothing fails yet");
        let before = disk.files.borrow().clone();
        disk.steps.set(0);
        disk.fails_at = Some(fails_at);
        match write(&disk, &new) {
            Ok(_) => {
                assert_eq!(disk.text("out/south.svg").as_deref(), Some("new south"));
                break;
            }
            Err(error) => {
                failures += 1;
                assert!(error.to_string().contains("the disk is full"), "{error}");
                assert_eq!(*disk.files.borrow(), before, "step {fails_at} failed and left something else than before");
            }
        }
    }
    // A folder, four writes (three files and the list), three that are kept, four renames.
    assert_eq!(failures, 12);
}

/// Two files side by side, in three pieces each.
fn pieces<'a>(names: [&str; 2], text: &'a str) -> Stream<'a> {
    Stream {
        names: names.map(str::to_owned).to_vec(),
        write: Box::new(move |to| {
            for number in 0..3 {
                for (index, to) in to.iter_mut().enumerate() {
                    write!(to, "{text} {index} {number},")?;
                }
            }
            Ok(())
        }),
    }
}

fn pour(disk: &dyn Disk, text: &str, streams: Vec<Stream<'_>>) -> Result<Vec<String>, FileError> {
    let written = write_streams(disk, (Path::new("out"), "hear", Path::new("scene.toml")), &set(&[("page.html", text)]), streams)?;
    Ok(written.files.iter().map(|path| path.display().to_string()).collect())
}

#[test]
fn keeps_all_or_nothing_of_files_in_pieces() {
    let mut failures = 0;
    for fails_at in 1.. {
        let mut disk = FakeDisk::holding(&[("scene.toml", "scene"), ("out/c.wav", "somebody's")]);
        pour(&disk, "old", vec![pieces(["a.wav", "b.wav"], "old")]).expect("nothing fails yet");
        let before = disk.files.borrow().clone();
        disk.steps.set(0);
        disk.fails_at = Some(fails_at);
        match pour(&disk, "new", vec![pieces(["a.wav", "b.wav"], "new"), pieces(["c.wav", "d.wav"], "more")]) {
            Ok(names) => {
                assert_eq!(names, ["out/page.html", "out/a.wav", "out/b.wav", "out/c.wav", "out/d.wav"]);
                assert_eq!(disk.text("out/b.wav").as_deref(), Some("new 1 0,new 1 1,new 1 2,"));
                assert_eq!(disk.names().len(), 7, "nothing else is left: {:?}", disk.names());
                break;
            }
            Err(error) => {
                failures += 1;
                assert!(error.to_string().contains("the disk is full"), "{error}");
                assert_eq!(*disk.files.borrow(), before, "step {fails_at} failed and left something else than before");
            }
        }
    }
    // A folder, two whole files, four in pieces, of which a text may be several, five that are kept, six renames.
    assert!(failures >= 1 + 2 + 4 * (1 + 3 + 1) + 5 + 6, "{failures}");
}

#[test]
fn keeps_what_was_there_when_there_is_nothing_more_to_write() {
    let disk = FakeDisk::holding(&[("scene.toml", "scene")]);
    pour(&disk, "old", vec![pieces(["a.wav", "b.wav"], "old")]).expect("nothing fails");
    let before = disk.files.borrow().clone();
    let write = |to: &mut [&mut dyn Write]| {
        to[0].write_all(b"half of it")?;
        Err(Broken::Content("the song is gone".into()))
    };
    let ends = Stream { names: vec!["c.wav".to_owned()], write: Box::new(write) };
    let error = pour(&disk, "new", vec![pieces(["a.wav", "b.wav"], "new"), ends]).expect_err("it ends early");
    assert_eq!((error.to_string().as_str(), &*disk.files.borrow()), ("the song is gone", &before));
    // The next run knows them as its own, by the hash that was taken as they were written.
    let written = write_streams(&disk, (Path::new("out"), "hear", Path::new("scene.toml")), &set(&[("page.html", "new")]), Vec::new());
    assert_eq!(written.expect("nothing fails").removed, ["out/a.wav", "out/b.wav"].map(PathBuf::from));
}

#[test]
fn keeps_a_long_file_in_pieces_on_a_real_disk() {
    let folder = Folder::new("files-pieces");
    let out = folder.path().join("out");
    let long = |letter: &'static str| Stream {
        names: vec!["long.wav".to_owned()],
        write: Box::new(move |to| {
            for _ in 0..100 {
                to[0].write_all(letter.repeat(10_000).as_bytes())?;
            }
            Ok(())
        }),
    };
    let run = |streams| write_streams(&RealDisk, (&out, "hear", Path::new("scene.toml")), &[], streams);
    run(vec![long("a")]).expect("writes");
    // Stopped halfway: the old file, and no other.
    let stopped = Stream { names: vec!["long.wav".to_owned()], write: Box::new(|_| Err(Broken::Content("stopped".into()))) };
    assert!(run(vec![stopped]).is_err());
    assert_eq!(
        (folder.names("out"), folder.text("out/long.wav")),
        (vec![".hear.sum".to_owned(), "long.wav".to_owned()], "a".repeat(1_000_000))
    );
    run(vec![long("b")]).expect("writes");
    assert_eq!(
        (folder.names("out"), folder.text("out/long.wav")),
        (vec![".hear.sum".to_owned(), "long.wav".to_owned()], "b".repeat(1_000_000))
    );
    assert_eq!(run(Vec::new()).expect("writes").removed, [out.join("long.wav")]);
}

#[test]
fn keeps_a_plan_that_its_owner_changed() {
    let disk = FakeDisk::holding(&[("scene.toml", "scene")]);
    assert_eq!(write(&disk, &[("plan.toml", "one"), ("a.svg", "one")]).expect("writes"), ["out/plan.toml", "out/a.svg"]);
    // As we left it: replaced.
    assert_eq!(write(&disk, &[("plan.toml", "two"), ("a.svg", "two")]).expect("writes"), ["out/plan.toml", "out/a.svg"]);
    assert_eq!(disk.text("out/plan.toml").as_deref(), Some("two"));
    // Edited: kept; the new one gets a number, and the next new one the same number again, as that file is ours.
    disk.files.borrow_mut().insert("out/plan.toml".into(), b"mine".to_vec());
    for text in ["three", "four"] {
        let written = write_all(&disk, Path::new("out"), "place", Path::new("scene.toml"), &set(&[("plan.toml", text)])).expect("writes");
        assert_eq!(written.kept, [(PathBuf::from("out/plan.toml"), PathBuf::from("out/plan-2.toml"))]);
        assert_eq!(disk.text("out/plan.toml").as_deref(), Some("mine"));
        assert_eq!(disk.text("out/plan-2.toml").as_deref(), Some(text));
    }
    // Both edited: a third.
    disk.files.borrow_mut().insert("out/plan-2.toml".into(), b"mine too".to_vec());
    assert_eq!(write(&disk, &[("plan.toml", "five")]).expect("writes"), ["out/plan-3.toml"]);
    assert_eq!(disk.text("out/plan-2.toml").as_deref(), Some("mine too"));
}

#[test]
fn keeps_a_plan_that_was_there_before_us() {
    let disk = FakeDisk::holding(&[("scene.toml", "scene"), ("out/plan.toml", "not ours")]);
    assert_eq!(write(&disk, &[("plan.toml", "new")]).expect("writes"), ["out/plan-2.toml"]);
    assert_eq!(disk.text("out/plan.toml").as_deref(), Some("not ours"));
}

#[test]
fn keeps_the_scene_even_when_it_is_our_own_plan() {
    let disk = FakeDisk::holding(&[("scene.toml", "scene")]);
    write(&disk, &[("plan.toml", "plan")]).expect("writes");
    let written = write_all(&disk, Path::new("out"), "place", Path::new("out/plan.toml"), &set(&[("plan.toml", "next")])).expect("writes");
    assert_eq!(written.files, [PathBuf::from("out/plan-2.toml")]);
    assert_eq!(disk.text("out/plan.toml").as_deref(), Some("plan"));
}

#[test]
fn keeps_no_drawing_of_an_earlier_run_unless_it_was_edited() {
    let disk = FakeDisk::holding(&[("scene.toml", "scene")]);
    write(&disk, &[("north.svg", "n"), ("south.svg", "s"), ("east.svg", "e")]).expect("writes");
    disk.files.borrow_mut().insert("out/east.svg".into(), b"with notes of mine".to_vec());
    let written = write_all(&disk, Path::new("out"), "place", Path::new("scene.toml"), &set(&[("north.svg", "n2")])).expect("writes");
    assert_eq!(written.removed, [PathBuf::from("out/south.svg")]);
    assert_eq!(disk.names(), ["out/.place.sum", "out/east.svg", "out/north.svg", "scene.toml"]);
}

#[test]
fn keeps_every_name_inside_the_folder() {
    for name in ["../scene.toml", "a/b.svg", "", ".", "..", "/etc/b", "a\\b"] {
        let disk = FakeDisk::holding(&[("scene.toml", "scene")]);
        let outcome = write(&disk, &[("fine.svg", "x"), (name, "x")]);
        assert!(matches!(outcome, Err(FileError::Name { .. })), "{name:?}: {outcome:?}");
        assert_eq!(disk.names(), ["scene.toml"]);
    }
    // Nor does a damaged list lead outside.
    let disk = FakeDisk::holding(&[("scene.toml", "scene"), ("out/.place.sum", "0 5 ../scene.toml\nnonsense\n")]);
    write(&disk, &[("fine.svg", "x")]).expect("writes");
    assert!(disk.text("scene.toml").is_some());
}

#[test]
fn keeps_an_existing_file_when_a_new_one_is_asked_for() {
    let mut disk = FakeDisk::holding(&[("attic.toml", "mine")]);
    assert!(matches!(write_new(&disk, Path::new("attic.toml"), b"new"), Err(FileError::Exists { .. })));
    assert_eq!(disk.text("attic.toml").as_deref(), Some("mine"));
    write_new(&disk, Path::new("shed.toml"), b"new").expect("writes");
    assert_eq!(disk.text("shed.toml").as_deref(), Some("new"));
    disk.steps.set(0);
    disk.fails_at = Some(1);
    assert!(matches!(write_new(&disk, Path::new("den.toml"), b"new"), Err(FileError::Write { .. })));
    assert_eq!(disk.text("den.toml"), None, "no half a scene stays");
    disk.refuses.set(true);
    assert!(matches!(write_new(&disk, Path::new("attic.toml"), b"new"), Err(FileError::Write { .. })));
    assert_eq!(disk.text("attic.toml").as_deref(), Some("mine"), "what cannot even be opened is left alone");
}

#[test]
fn keeps_reading_errors_plain() {
    let folder = Folder::new("reading");
    let said = |path: &Path| read_text(&RealDisk, path).expect_err("cannot be read").to_string();
    assert!(said(&folder.path().join("none.toml")).ends_with("none.toml: there is no such file or folder"));
    assert!(said(folder.path()).ends_with("it is a folder, not a file"));
    let path = folder.path().join("latin.toml");
    std::fs::write(&path, b"name = \"a\"\n# caf\xe9\n").expect("the test's own file");
    assert!(said(&path).contains("latin.toml:2:6: this is not text"), "{}", said(&path));
    let path = folder.path().join("long.toml");
    std::fs::write(&path, vec![b'#'; (8 << 20) + 1]).expect("the test's own file");
    assert!(said(&path).ends_with("it is longer than anything that is read here"));
    let path = folder.path().join("good.toml");
    std::fs::write(&path, "name = \"é\"").expect("the test's own file");
    assert_eq!(read_text(&RealDisk, &path).expect("reads"), "name = \"é\"");
}

#[test]
fn keeps_the_same_rules_on_a_real_disk() {
    let folder = Folder::new("real-disk");
    let out = folder.path().join("deep/out");
    let scene = folder.path().join("scene.toml");
    std::fs::write(&scene, "scene").expect("the test's own file");
    let run = |files: &[(&str, &str)]| write_all(&RealDisk, &out, "place", &scene, &set(files));
    run(&[("plan.toml", "one"), ("gone.svg", "x")]).expect("writes");
    std::fs::write(out.join("plan.toml"), "mine").expect("the test's own file");
    let written = run(&[("plan.toml", "two")]).expect("writes");
    assert_eq!(written.kept.len(), 1);
    assert_eq!(written.removed, [out.join("gone.svg")]);
    assert_eq!(folder.names("deep/out"), [".place.sum", "plan-2.toml", "plan.toml"]);
    // A folder where a file should be: nothing changes, no temporary stays.
    std::fs::create_dir(out.join("wall.svg")).expect("the test's own folder");
    let failed = run(&[("plan.toml", "three"), ("wall.svg", "x")]).expect_err("a folder is in the way");
    assert!(failed.to_string().contains("wall.svg"), "{failed}");
    assert_eq!(folder.names("deep/out"), [".place.sum", "plan-2.toml", "plan.toml", "wall.svg"]);
    assert_eq!(std::fs::read_to_string(out.join("plan-2.toml")).expect("is there"), "two");
}

#[test]
fn keeps_the_old_file_or_has_the_new_one() {
    for fails_at in 1..=2 {
        let disk = FakeDisk { fails_at: Some(fails_at), ..FakeDisk::holding(&[("a.toml", "old")]) };
        assert!(replace(&disk, Path::new("a.toml"), b"new").is_err());
        assert_eq!(disk.text("a.toml").as_deref(), Some("old"), "step {fails_at}");
        assert_eq!(disk.names(), ["a.toml"], "step {fails_at}");
    }
    let disk = FakeDisk::holding(&[("a.toml", "old")]);
    replace(&disk, Path::new("a.toml"), b"new").unwrap();
    replace(&disk, Path::new("b.toml"), b"first").unwrap();
    assert_eq!((disk.text("a.toml").as_deref(), disk.text("b.toml").as_deref()), (Some("new"), Some("first")));
    remove(&disk, Path::new("a.toml")).unwrap();
    assert_eq!(disk.names(), ["b.toml"]);
}

#[test]
fn keeps_no_complaint_about_a_file_that_is_gone_already() {
    let folder = Folder::new("files-gone");
    remove(&RealDisk, &folder.path().join("none.toml")).unwrap();
    folder.put("one.toml", "1");
    remove(&RealDisk, &folder.path().join("one.toml")).unwrap();
    assert!(folder.names("").is_empty());
}

#[cfg(unix)]
#[test]
fn keeps_a_link_a_link() {
    let folder = Folder::new("files-link");
    folder.put("real.toml", "old");
    std::os::unix::fs::symlink(folder.path().join("real.toml"), folder.path().join("link.toml")).unwrap();
    replace(&RealDisk, &folder.path().join("link.toml"), b"new").unwrap();
    assert_eq!(folder.text("real.toml"), "new");
    assert!(std::fs::symlink_metadata(folder.path().join("link.toml")).unwrap().is_symlink());
}

#[test]
fn keeps_what_a_folder_holds() {
    let folder = Folder::new("listing");
    std::fs::create_dir(folder.path().join("rooms")).unwrap();
    std::fs::write(folder.path().join("attic.toml"), "x").unwrap();
    let mut held = RealDisk.list(folder.path()).unwrap();
    held.sort();
    let expected = [("attic.toml", false), ("rooms", true)].map(|(name, is_folder)| Held { name: name.to_owned(), is_folder });
    assert_eq!(held, expected);
    assert!(RealDisk.list(&folder.path().join("attic.toml")).is_err());
    assert_eq!(RealDisk.list(&folder.path().join("none")).unwrap_err().kind(), io::ErrorKind::NotFound);
}
