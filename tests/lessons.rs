//! Lessons: their texts read and are changed where they say, what can be reckoned by hand comes out so, what each claims is so, the command.

use std::fs;
use std::path::PathBuf;

use glam::DVec3;
use roomwright::bands::Band;
use roomwright::findings::decay_times::decay_times;
use roomwright::findings::{Findings, Reflection};
use roomwright::progress::Progress;
use roomwright::scene::difference::differences;
use roomwright::scene::lessons::{Change, Lesson, Variation};
use roomwright::scene::{self, Scene};
use roomwright::settings::Settings;
use roomwright::study::compare::{Kind, compare};
use roomwright::study::{BassAsked, ComparedRooms, Version};

use crate::support::{Folder, run};

fn lesson(word: &str) -> &'static Lesson {
    Lesson::named(word).expect("there is such a lesson")
}

/// The versions of a lesson, with other settings.
fn versions(lesson: &Lesson, other: impl Fn(Settings) -> Settings) -> Vec<Version> {
    let read = |text: &str| scene::read(text).expect("a lesson reads").0;
    let version = |version: scene::lessons::Version| {
        let scene = read(&version.text);
        let settings = other(scene.settings.clone());
        Version { name: version.name.to_owned(), scene: Scene { settings, ..scene }, differs: differences(lesson.text, &version.text) }
    };
    lesson.versions().into_iter().map(version).collect()
}

fn heard(word: &str) -> (Vec<Scene>, ComparedRooms) {
    heard_with(lesson(word), |settings| Settings { rays: 20_000, ..settings })
}

/// The scenes of a lesson's versions, and what is heard in them with other settings.
pub(crate) fn heard_with(lesson: &Lesson, other: impl Fn(Settings) -> Settings) -> (Vec<Scene>, ComparedRooms) {
    let versions = versions(lesson, other);
    let waves = lesson.is_by_waves.then(|| BassAsked { others: 0, ..BassAsked::default() });
    let compared = compare(&Progress::default(), &versions, waves.as_ref()).expect("nobody stops it");
    (versions.into_iter().map(|version| version.scene).collect(), compared)
}

fn value(compared: &ComparedRooms, kind: Kind, version: usize) -> f64 {
    compared.comparison.figure(kind).and_then(|figure| figure.cells[version].value).expect("it is told").value
}

fn decay(compared: &ComparedRooms, version: usize, band: usize) -> f64 {
    decay_times(&compared.comparison.versions[version].findings)[Band::new(band)].expect("it rings").time_s.value
}

/// The strongest single bounce whose point is like this.
pub(crate) fn single(findings: &Findings, is: impl Fn(DVec3) -> bool) -> &Reflection {
    let all = findings.pairs[0].reflections.iter().flat_map(|one| std::iter::once(one).chain(&one.joined_by));
    let single = all.filter(|one| one.order == 1 && is(DVec3::from(one.points_m[0])));
    single.max_by(|a, b| a.level_db.total_cmp(&b.level_db)).expect("there is one")
}

#[test]
fn keeps_lessons_as_their_files_have_them() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes/lessons");
    let mut files: Vec<String> = fs::read_dir(&folder)
        .expect("it is there")
        .map(|entry| entry.expect("listed").file_name().to_string_lossy().into_owned())
        .collect();
    files.sort();
    let mut words: Vec<String> = Lesson::ALL.iter().map(|lesson| format!("{}.toml", lesson.word)).collect();
    words.sort();
    assert_eq!(files, words);
    for (index, lesson) in Lesson::ALL.iter().enumerate() {
        assert_eq!(lesson.number, index + 1);
        assert_eq!(Lesson::named(&lesson.number.to_string()), Some(lesson));
        assert!(lesson.shown <= lesson.variations.len() && !lesson.variations.is_empty(), "{}", lesson.word);
        for variation in lesson.variations {
            // What is written anew stands there once, before and after what was changed beside it.
            let mut text = lesson.text.to_owned();
            for change in variation.changes {
                if let Change::Piece { was, .. } = change {
                    assert_eq!(text.matches(was).count(), 1, "{}, {}: {was}", lesson.word, variation.name);
                }
                text = Variation { name: "", changes: std::slice::from_ref(change) }.applied(&text);
            }
            assert!(!differences(lesson.text, &variation.applied(lesson.text)).is_empty(), "{}, {}", lesson.word, variation.name);
        }
        for version in lesson.versions() {
            match scene::read(&version.text) {
                Ok((scene, warnings)) => {
                    assert!(warnings.is_empty(), "{}, {}: {warnings:?}", lesson.word, version.name);
                    assert!(scene.question.is_some());
                }
                Err(mistakes) => panic!("{}, {}: {mistakes:?}", lesson.word, version.name),
            }
        }
    }
}

/// Image of a source in a wall (Allen and Berkley, J. Acoust. Soc. Am. 65 (1979) 943; from memory): delay and spreading by hand.
#[test]
fn exact_one_wall_by_hand() {
    let (scenes, compared) = heard("one-wall");
    for (index, delay_ms, level_db) in [(0, 3.62, -3.0), (1, 13.46, -8.1)] {
        let (source, seat) = (scenes[index].sources[0].position, scenes[index].microphones[0].position);
        let image = DVec3::new(source.x, -source.y, source.z);
        let (straight, by_wall) = (source.distance(seat), image.distance(seat));
        let one = single(&compared.comparison.versions[index].findings, |point| point.y < 0.01);
        assert!((one.delay_ms - 1000.0 * (by_wall - straight) / compared.rooms[index].medium.speed).abs() < 1e-6, "{one:?}");
        assert!((one.made_of.spreading_db - 20.0 * (straight / by_wall).log10()).abs() < 1e-6, "{one:?}");
        // As the page has them, reckoned with 343 m/s.
        assert!((one.delay_ms - delay_ms).abs() < 0.05 && (one.made_of.spreading_db - level_db).abs() < 0.05, "{one:?}");
    }
    // Distance takes 5 dB, the panel more.
    let [near, far, panel] = [0, 1, 2].map(|version| value(&compared, Kind::Strongest, version));
    assert!(far < near - 4.0 && panel < far - 1.0, "{near}, {far}, {panel}");
}

/// Where a wall mirrors: similar triangles.
#[test]
fn exact_mirror_points_by_hand() {
    let (scenes, compared) = heard("mirror-point");
    let level = |index: usize| single(&compared.comparison.versions[index].findings, |point| point.x > 3.3).level_db;
    let bare = single(&compared.comparison.versions[1].findings, |point| point.x > 3.3);
    let (source, seat) = (scenes[1].sources[0].position, scenes[1].microphones[0].position);
    let along = source.y + (seat.y - source.y) * (3.6 - source.x) / (3.6 - source.x + 3.6 - seat.x);
    assert!((bare.points_m[0][1] - along).abs() < 1e-6 && (along - 3.7).abs() < 1e-9, "{along}: {bare:?}");
    // With its panel the reflection is far weaker; once the seat has moved the same panel does less, and serves again where it follows.
    let [with, without, stays, follows, two] = [0, 1, 2, 3, 4].map(level);
    assert!(with < without - 6.0, "{with}, {without}");
    assert!(follows < stays - 1.0, "{follows}, {stays}");
    // A reflection needs an area round its point, the larger the farther the seat.
    assert!(two < follows - 2.0, "{two}, {follows}");
}

#[test]
fn keeps_what_flutter_says() {
    let (_, compared) = heard("flutter");
    let audible = |version: usize| compared.comparison.versions[version].findings.flutter.iter().any(|one| one.audible);
    assert_eq!([0, 1, 2, 3].map(audible), [true, true, false, false]);
    // Panels with gaps shorten what the room rings, and leave it in between.
    assert!(value(&compared, Kind::MeanDecay, 1) < 0.5 * value(&compared, Kind::MeanDecay, 0));
    let flutter = &compared.comparison.versions[0].findings.flutter[0];
    assert!((flutter.period_ms - 2.0 * 3.0 / compared.rooms[0].medium.speed * 1000.0).abs() < 1e-6);
}

#[test]
fn keeps_what_scattering_says() {
    let (_, compared) = heard("absorb-or-scatter");
    let off_a_wall =
        |version: usize| single(&compared.comparison.versions[version].findings, |point| (0.05..2.55).contains(&point.z)).level_db;
    let [smooth, scatters, absorbs] = [0, 1, 2].map(off_a_wall);
    assert!(scatters < smooth - 1.0 && absorbs < smooth - 1.0, "{smooth}, {scatters}, {absorbs}");
    let [smooth, scatters, absorbs] = [0, 1, 2].map(|version| value(&compared, Kind::MeanDecay, version));
    // Scattering leaves the decay within a tenth; absorption more than halves it.
    assert!((scatters / smooth - 1.0).abs() < 0.1 && absorbs < 0.5 * smooth, "{smooth}, {scatters}, {absorbs}");
}

#[test]
fn keeps_what_clouds_say() {
    let (_, compared) = heard("cloud-heights");
    let above = |version: usize| single(&compared.comparison.versions[version].findings, |point| point.z > 1.9).level_db;
    let [bare, rest @ ..] = [0, 1, 2, 3, 4].map(above);
    assert!(rest.iter().all(|level| *level < bare - 6.0), "{bare}, {rest:?}");
    // With air above its back works, too.
    let decays = [0, 1, 2, 3, 4].map(|version| value(&compared, Kind::MeanDecay, version));
    assert!(decays[1] < decays[0] && decays[2] < decays[1] && decays[3] < decays[1] && decays[4] < decays[1], "{decays:?}");
}

#[test]
fn keeps_what_the_share_says() {
    let (_, compared) = heard("twenty-per-cent");
    let share = |version: usize| compared.comparison.versions[version].findings.survey.treated_share;
    assert!((share(1) - 0.10).abs() < 0.01 && [2, 3, 4].iter().all(|version| (share(*version) - 0.20).abs() < 0.01));
    let decays = [0, 1, 2, 3, 4].map(|version| value(&compared, Kind::MeanDecay, version));
    assert!(decays[1] < 0.75 * decays[0] && decays[2] < 0.8 * decays[1], "{decays:?}");
    let early = [0, 1, 2, 3, 4].map(|version| value(&compared, Kind::EarlyLevel, version));
    // Places set what the first reflections do; all in one place does less of both.
    assert!(early[3] < early[2] - 1.0 && early[3] < early[4] - 2.0, "{early:?}");
    assert!(decays[4] > decays[2] && early[4] > early[2], "{decays:?} {early:?}");
}

#[test]
fn keeps_what_corners_say() {
    let (_, compared) = heard("corners");
    let [bare, corners, flat] = [0, 1, 2].map(|version| [0, 1, 2].map(|band| decay(&compared, version, band)));
    // At 125 Hz corners do more than the same fiber on walls; both leave 63 Hz to more than half.
    assert!(corners[1] < 0.9 * flat[1] && flat[1] < bare[1], "{bare:?} {corners:?} {flat:?}");
    assert!(corners[0] > 0.5 * bare[0], "{bare:?} {corners:?}");
}

#[test]
fn keeps_what_a_dead_room_says() {
    let (_, compared) = heard("too-dead");
    let ratio = |version: usize| decay(&compared, version, 1) / decay(&compared, version, 4);
    assert!(ratio(0) > 3.0, "dull and booming: {}", ratio(0));
    assert!(ratio(1) < ratio(0) && ratio(2) < 0.6 * ratio(0), "{} {} {}", ratio(0), ratio(1), ratio(2));
    assert!(decay(&compared, 0, 4) < 0.15 && (0.15..=0.30).contains(&decay(&compared, 2, 4)), "{}", decay(&compared, 2, 4));
}

#[test]
fn keeps_the_command_for_lessons() {
    let folder = Folder::new("lesson");
    let ran = run(&folder, &["lesson"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    for lesson in &Lesson::ALL {
        assert!(ran.out.contains(lesson.word) && ran.out.contains(lesson.title), "{}", ran.out);
    }
    assert_eq!(folder.names("."), Vec::<String>::new(), "a list writes nothing");
    let ran = run(&folder, &["lesson", "one-wall"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.lines().all(|line| line.chars().count() <= 100), "{}", ran.out);
    let out = "out/lessons/one-wall";
    let names = [".lesson.sum", "lesson.html", "lesson.json", "lesson.pdf", "one-wall-b.toml", "one-wall-c.toml", "one-wall.toml"];
    assert_eq!(folder.names(out), names);
    let page = folder.text(&format!("{out}/lesson.html"));
    for words in ["What is asked", "What happens", "Side by side", "By ear", "Change one thing", "What the numbers rest on"] {
        assert!(page.contains(&format!("<h2>{words}</h2>")), "no \"{words}\"");
    }
    // What lies beside it can be changed and compared, and what was changed stays.
    let mine = folder.text(&format!("{out}/one-wall.toml")).replace("position = [4.5, 1.5, 1.5]", "position = [3.5, 1.5, 1.5]");
    folder.put(&format!("{out}/one-wall-b.toml"), &mine);
    let ran = run(&folder, &["compare", &format!("{out}/one-wall.toml"), &format!("{out}/one-wall-b.toml"), "--rays-only"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert!(ran.out.contains("position of microphone \"seat\" [3.5, 1.5, 1.5] for [4.5, 1.5, 1.5]"), "{}", ran.out);
    let ran = run(&folder, &["lesson", "1"]);
    assert_eq!(ran.code, Some(0), "{}", ran.err);
    assert_eq!(folder.text(&format!("{out}/one-wall-b.toml")), mine, "an edit is kept");
    let ran = run(&folder, &["lesson", "two-walls"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("there is no lesson \"two-walls\"; there are one-wall, mirror-point"), "{}", ran.err);
}
