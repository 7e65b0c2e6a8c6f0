//! The report: nothing of other pages is lost, nothing beside it is needed, what is not there leaves a gap that says so, the room as data, the command.

use roomwright::plan::{HeldBack, Plan, PlanPictures};
use roomwright::report::{self, Contents, Handout, text};
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::units::LengthUnit;
use serde_json::Value;

use crate::report::attic;
use crate::support::{Folder, quick, run, small_scene_text};

/// Said in place of what is not there.
const NOT_YET: &str = "Not measured yet, says the test.";

/// A report of the invented attic, with its plan or without.
fn made((scene, room, plan, pictures): &(Scene, Room, Plan, PlanPictures), with_plan: bool) -> (Contents, Vec<(String, Vec<u8>)>) {
    let none = PlanPictures::default();
    let handout = Handout {
        scene,
        room,
        now: &plan.before,
        plan: if with_plan { Ok((plan, pictures)) } else { Err("No plan yet, says the test.".to_owned()) },
        maps: if with_plan { pictures } else { &none },
        doubt: None,
        proof: Err(NOT_YET.to_owned()),
        voice: None,
        sounds: Err("No sounds yet, says the test.".to_owned()),
    };
    report::handout_files(&handout).expect("our own drawings are well-formed")
}

fn page(files: &[(String, Vec<u8>)]) -> String {
    let (_, bytes) = files.iter().find(|(name, _)| name == "report.html").expect("it is written");
    String::from_utf8(bytes.clone()).expect("it is text")
}

/// What stands in a page between tags, with its spaces made one.
fn plain(html: &str) -> String {
    let mut out = String::new();
    let mut is_tag = false;
    for letter in html.chars() {
        match letter {
            '<' => is_tag = true,
            '>' => is_tag = false,
            other if !is_tag => out.push(other),
            _ => {}
        }
    }
    out.replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&").replace('\u{b1}', "+-")
}

#[test]
fn keeps_all_that_the_commands_say() {
    let all = attic(LengthUnit::Meter);
    let (scene, room, plan, _) = &all;
    let (contents, files) = made(&all, true);
    let page = page(&files);
    let said = plain(&page).replace(char::is_whitespace, "");
    // Every word and every cell of the commands' pages; headings are those of the report's parts.
    let pages = [
        text::place(scene, room, plan, text::Extent::Full),
        text::hear(scene, &plan.before, text::Extent::Full),
        text::survey(scene, &plan.before.survey),
    ];
    for line in pages.iter().flat_map(|page| page.lines()).filter(|line| line.starts_with("  ")) {
        for word in line.split_whitespace().filter(|word| !word.chars().all(|letter| matches!(letter, '-' | '='))) {
            assert!(said.contains(word), "\"{word}\" of \"{line}\" is missing");
        }
    }
    assert!(contents.parts.iter().any(|part| part.missing == [NOT_YET]) && said.contains(&NOT_YET.replace(' ', "")), "{contents:?}");
    assert_eq!(page, self::page(&made(&all, true).1), "the same bytes");
    assert_eq!(page.matches("<h2>").count(), contents.parts.len());
}

#[test]
fn keeps_a_page_that_needs_nothing_beside_it() {
    let (_, files) = made(&attic(LengthUnit::Foot), true);
    let page = page(&files);
    assert!(page.len() < 5_000_000, "{} bytes", page.len());
    for sign in ["src=\"http", "href=\"http", "@import", "<link", "src=\"data.", "<img"] {
        assert!(!page.contains(sign), "{sign}");
    }
    // Each drawing has its words, and its own names.
    let drawings = page.matches("<svg role=\"img\" aria-label=\"").count();
    assert!(drawings > 8 && drawings == page.matches("<svg ").count(), "{drawings} of {}", page.matches("<svg ").count());
    let mut names: Vec<&str> = page.split("<clipPath id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let count = names.len();
    names.sort_unstable();
    names.dedup();
    assert!(names.len() == count && names.iter().all(|name| page.contains(&format!("url(#{name})"))), "{names:?}");
    let (_, paper) = files.iter().find(|(name, _)| name == "report.pdf").expect("it is written");
    assert!(paper.starts_with(b"%PDF-") && paper.len() < 5_000_000, "{} bytes", paper.len());
}

#[test]
fn keeps_a_gap_in_the_place_of_what_is_not_there() {
    let (contents, files) = made(&attic(LengthUnit::Meter), false);
    let part = |heading: &str| contents.parts.iter().find(|part| part.heading.starts_with(heading)).expect("it has its place");
    for heading in ["Hot spots", "The plan", "How it sounds now"] {
        assert!(part(heading).missing.iter().any(|why| why.contains("No plan yet, says the test.")), "{heading}: {contents:?}");
    }
    assert!(part("What is wrong").missing.is_empty() && part("The room").missing.is_empty());
    let page = page(&files);
    assert!(page.matches("class=\"gap\"").count() >= 5 && page.contains("Where the first bounces touch"));
}

/// What may not be hung is said where the plan is told and on its sheet, which has no box to tick for it.
#[test]
fn keeps_what_is_not_to_be_hung_in_view() {
    let (scene, room, mut plan, pictures) = attic(LengthUnit::Meter);
    let boxes = |plan: &Plan| {
        let page = page(&made(&(scene.clone(), room.clone(), plan.clone(), pictures.clone()), true).1);
        (page.matches("NOT TO BE HUNG").count(), page.matches("width=\"2.6\" height=\"2.6\"").count())
    };
    let (none, all) = boxes(&plan);
    let cloud = plan.placed.iter().find(|placed| placed.kind == "cloud 80").expect("it has a cloud").number;
    plan.held_back = vec![HeldBack { number: cloud, surface: "ceiling".to_owned(), why: vec!["nothing is known above it".to_owned()] }];
    let (said, left) = boxes(&plan);
    assert!(none == 0 && said >= 3 && left == all - 1, "{none} {all}; {said} {left}");
    let text = text::place(&scene, &room, &plan, text::Extent::Full);
    let sentence = format!("Panel {cloud} is overhead and NOT TO BE HUNG as the scene stands: nothing is known above it.");
    assert!(text.split_whitespace().collect::<Vec<_>>().join(" ").contains(&sentence), "{text}");
}

/// Faces run counterclockwise as seen from the air, maps lie on the surfaces that they name, reflections begin at their source.
#[test]
fn exact_room_as_data() {
    let all = attic(LengthUnit::Meter);
    let (_, room, plan, pictures) = &all;
    let page = page(&made(&all, true).1);
    let (_, rest) = page.split_once("<script type=\"application/json\" id=\"room\">").expect("it is there");
    let data: Value = serde_json::from_str(rest.split_once("</script>").expect("it ends").0).expect("it is JSON");
    let point = |value: &Value| {
        let of = |axis: usize| value[axis].as_f64().expect("a number");
        glam::DVec3::new(of(0), of(1), of(2))
    };
    let list = |value: &Value| value.as_array().expect("a list").clone();
    let normal = |polygon: &Value| {
        let corners: Vec<glam::DVec3> = list(polygon).iter().map(point).collect();
        let next = |index: usize| corners[(index + 1) % corners.len()];
        (0..corners.len()).map(|index| corners[index].cross(next(index))).sum::<glam::DVec3>().try_normalize().expect("it has an area")
    };
    let surfaces = list(&data["surfaces"]);
    for surface in &room.surfaces {
        if matches!(surface.role, roomwright::room::Role::Panel(_)) {
            continue;
        }
        let name = surface.name.to_lowercase();
        let found = surfaces.iter().find(|one| {
            one["name"].as_str().is_some_and(|given| given.contains(&name)) && normal(&one["polygons"][0]).dot(surface.chart.normal) > 0.999
        });
        assert!(found.is_some(), "{name} looks into the air");
    }
    assert_eq!(list(&data["panels"]).len(), pictures.panels.len());
    for panel in list(&data["panels"]) {
        // A body: what is inside lies behind every face.
        let faces = list(&panel["polygons"]);
        let corners: Vec<glam::DVec3> = faces.iter().flat_map(list).map(|corner| point(&corner)).collect();
        let middle = corners.iter().sum::<glam::DVec3>() / corners.len() as f64;
        for face in &faces {
            assert!(normal(face).dot(point(&face[0]) - middle) > 0.0, "{panel}");
        }
    }
    for map in list(&data["maps"]) {
        for field in list(&map["fields"]) {
            let surface = &surfaces[field["surface"].as_u64().expect("a number") as usize];
            let facing = normal(&surface["polygons"][0]);
            let up = point(&field["right"]).cross(point(&field["up"])).try_normalize().expect("a patch has an area");
            assert!(
                up.dot(facing) > 0.999 && (point(&field["origin"]) - point(&surface["polygons"][0][0])).dot(facing).abs() < 0.002,
                "{field}"
            );
            let cells = field["columns"].as_u64().expect("a number") * field["rows"].as_u64().expect("a number");
            assert_eq!(list(&field["values"]).len() as u64, cells);
        }
    }
    let paths = list(&data["paths"]);
    assert!(!paths.is_empty() && paths.len() <= plan.before.pairs.iter().map(|pair| pair.reflections.len()).sum());
    for path in paths {
        let source = room.sources.iter().find(|source| path["source"] == source.name.as_str()).expect("it is in the room");
        assert!(point(&path["points"][0]).distance(source.position) < 0.002, "{path}");
    }
}

#[test]
fn keeps_what_stands_in_a_page_from_ending_its_scripts() {
    for (name, text) in [
        ("three.js", include_str!("../sim/report/room_view/vendored/three.js")),
        ("solid.js", include_str!("../sim/report/room_view/solid.js")),
        ("picture.js", include_str!("../sim/report/room_view/picture.js")),
        ("overlay.js", include_str!("../sim/report/room_view/overlay.js")),
        ("room_view.js", include_str!("../sim/report/room_view/room_view.js")),
    ] {
        assert!(!text.contains("</script") && !text.contains("<!--"), "{name}");
    }
    let mut all = attic(LengthUnit::Meter);
    all.0.name = "</script><b>\u{7}\"&".to_owned();
    let page = page(&made(&all, true).1);
    assert!(!page.contains("</script><b>") && page.contains("\\u003c/script>"), "a name that looks like one");
}

/// The items of a list; none where there is none.
fn list_of(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

#[test]
fn keeps_the_report_on_the_command_line() {
    let folder = Folder::new("cli-report");
    folder.put("den.toml", quick(&small_scene_text(), 2_000));
    let bare = run(&folder, &["report", "den.toml", "--rays-only"]);
    assert_eq!(bare.code, Some(0), "{}\n{}", bare.err, bare.out);
    assert!(bare.out.contains("There is no plan yet"), "{}", bare.out);
    let placed = run(&folder, &["place", "den.toml", "--rays-only"]);
    assert!(placed.code == Some(0) && placed.out.contains("report.html"), "{}\n{}", placed.err, placed.out);
    let written = folder.text("out/den/report.html");
    assert!(written.contains("The panels, in the order to hang them"));
    // What its sheets forbid, the plan says.
    let built: Value = serde_json::from_str(&run(&folder, &["build", "den.toml", "--json"]).out).expect("it is JSON");
    let forbidden: Vec<&Value> =
        list_of(&built["overhead"]).filter(|one| list_of(&one["not_to_be_hung"]).count() > 0).map(|one| &one["number"]).collect();
    let plan: Value = serde_json::from_str(&folder.text("out/den/plan.json")).expect("it is JSON");
    let held: Vec<&Value> = list_of(&plan["held_back"]).map(|one| &one["number"]).collect();
    assert!(held == forbidden && !held.is_empty(), "{held:?}, {forbidden:?}");
    // Gathered again from what lies there it says the same, drawing by drawing.
    let again = run(&folder, &["report", "den.toml", "--rays-only", "--json"]);
    let contents: Contents = serde_json::from_str(&again.out).expect("it is JSON");
    let missing = |contents: &Contents, heading: &str| -> Vec<String> {
        contents.parts.iter().filter(|part| part.heading == heading).flat_map(|part| part.missing.clone()).collect()
    };
    assert!(missing(&contents, "The plan").is_empty(), "{contents:?}");
    assert_eq!(folder.text("out/den/report.html"), written);
    // Sounds of the room as it stands are no sounds of the plan; those of the plan lie beside it.
    for (scene, into, gap) in [("den.toml", "", 1), ("out/den/plan.toml", "plan/", 0)] {
        let heard = run(&folder, &["hear", scene, "--rays-only", "--sound", "clap"]);
        assert_eq!(heard.code, Some(0), "{}", heard.err);
        let ran = run(&folder, &["report", "den.toml", "--rays-only", "--json"]);
        let contents: Contents = serde_json::from_str(&ran.out).expect("it is JSON");
        assert_eq!(missing(&contents, "By ear").len(), gap, "{contents:?}");
        let page = folder.text("out/den/report.html");
        let sound = page.split("<audio controls preload=\"none\" src=\"").nth(1).and_then(|rest| rest.split('"').next());
        let sound = sound.expect("there is something to play");
        assert!(sound.starts_with(into), "{sound}");
        assert!(folder.path().join("out/den").join(sound).exists(), "{sound}");
    }
    // Another room: the plan is older than that.
    let wider = folder.text("den.toml").replace("3.6", "3.7");
    folder.put("den.toml", wider);
    let older = run(&folder, &["report", "den.toml", "--rays-only"]);
    assert!(older.code == Some(0) && older.out.contains("is older than this scene"), "{}\n{}", older.err, older.out);
    // What is no plan is said, and the rest is complete.
    folder.put("out/den/plan.json", "{");
    let broken = run(&folder, &["report", "den.toml", "--rays-only"]);
    assert!(broken.code == Some(0) && broken.out.contains("plan.json is not what this version writes"), "{}\n{}", broken.err, broken.out);
}
