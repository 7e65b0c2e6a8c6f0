//! The program as it is run: what it prints where, exit codes, and that nothing is written when it should not be.

use std::io::{BufRead as _, BufReader, Read as _};
use std::process::Stdio;

use roomwright::findings::{Findings, Survey};
use roomwright::plan::Plan;
use roomwright::study::Absorbers;

use crate::support::{Folder, Ran, program, quick, run, small_scene_text};

/// A folder with a small, quick scene in it.
fn with_scene(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.put("den.toml", quick(&small_scene_text(), 2_000));
    folder
}

#[track_caller]
fn assert_done(ran: &Ran) {
    assert_eq!(ran.code, Some(0), "standard error:\n{}\nstandard output:\n{}", ran.err, ran.out);
}

#[test]
fn keeps_the_way_from_new_to_survey() {
    let folder = Folder::new("cli-new");
    let ran = run(&folder, &["new", "Back shed", "--size", "3.6x2.9x2.4m"]);
    assert_done(&ran);
    assert!(ran.out.contains("back-shed.toml"), "{}", ran.out);
    assert_eq!(folder.names("."), ["back-shed.toml"]);
    let text = folder.text("back-shed.toml");
    assert!(text.lines().filter(|line| line.trim_start().starts_with('#')).count() > 10, "the scene explains itself:\n{text}");

    let ran = run(&folder, &["survey", "back-shed.toml"]);
    assert_done(&ran);
    // 3.6 x 2.9 x 2.4 m.
    assert!(ran.out.contains("25.06 m3"), "the volume is missing:\n{}", ran.out);
    assert_eq!(folder.names("."), ["back-shed.toml"], "survey writes nothing");
}

#[test]
fn keeps_new_from_overwriting() {
    let folder = Folder::new("cli-new-again");
    folder.put("den.toml", "mine");
    let ran = run(&folder, &["new", "den", "--size", "3x3x2.4m"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("den.toml exists already"), "{}", ran.err);
    assert_eq!(ran.out, "");
    assert_eq!(folder.text("den.toml"), "mine");
}

/// What a shell completes and what the manual tells is what there is to type.
#[test]
fn keeps_the_terminal_informed() {
    let folder = Folder::new("cli-terminal");
    let help = run(&folder, &["--help"]).out;
    let commands = help.split("Commands:\n").nth(1).and_then(|rest| rest.split("\n\n").next()).expect("help lists commands");
    let commands: Vec<&str> = commands.lines().filter_map(|line| line.split_whitespace().next()).filter(|word| *word != "help").collect();
    assert!(commands.len() > 14 && commands.contains(&"place"), "{commands:?}");
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let ran = run(&folder, &["completions", shell]);
        assert_done(&ran);
        assert!(commands.iter().all(|command| ran.out.contains(command)) && ran.out.contains("rays-only"), "{shell}:\n{}", ran.out);
    }
    let unknown = run(&folder, &["completions", "abacus"]);
    assert!(unknown.code == Some(2) && unknown.err.contains("fish"), "{}", unknown.err);
    assert!(folder.names(".").is_empty(), "a script is printed, not written");
    assert_done(&run(&folder, &["manual"]));
    for command in &commands {
        let page = folder.text(&format!("out/manual/roomwright-{command}.1"));
        assert!(page.starts_with(".ie") && page.contains(".SH SYNOPSIS") && page.contains(command), "{command}:\n{page}");
        // Whoever asks for help gets an example.
        let told = run(&folder, &[command, "--help"]).out;
        assert!(
            told.contains("Examples:") && told.contains(&format!("roomwright {command}")) || told.contains("--out"),
            "{command}:\n{told}"
        );
        assert!(told.contains("Examples:"), "{command}:\n{told}");
    }
    assert!(folder.text("out/manual/roomwright.1").contains("place"));
}

#[test]
fn keeps_folders_for_new() {
    let folder = Folder::new("cli-new-folder");
    assert_done(&run(&folder, &["new", "rooms/Den", "--size", "12ft x 9ft 6in x 8ft"]));
    assert_done(&run(&folder, &["new", "Loft.toml", "--size", "3x3x2.4m", "--out", "elsewhere"]));
    assert_eq!(folder.names("rooms"), ["den.toml"]);
    assert_eq!(folder.names("elsewhere"), ["loft.toml"]);
}

#[test]
fn keeps_a_plan_on_its_way_into_the_workshop() {
    let folder = with_scene("cli-build");
    let ran = run(&folder, &["build", "den.toml"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("no panel hangs in this scene"), "{}", ran.err);
    assert_eq!(folder.names("."), ["den.toml"], "nothing is written");

    // The plan that lies where `place` puts it.
    let scene = folder.text("den.toml");
    let panel = "\n[[panel]]\ntype = \"panel\"\nsurface = \"east\"\nleft = 0.5\nbottom = 0.8\n";
    let stock = if scene.contains("[[stock]]") {
        String::new()
    } else {
        "\n[[stock]]\nname = \"panel\"\nkind = \"panel\"\nsize = [0.6, 1.2]\nthickness = \"50 mm\"\nflow_resistivity = 12000\n".to_owned()
    };
    let kind = scene.split("[[stock]]").nth(1).and_then(|stock| stock.split("name = \"").nth(1)).and_then(|rest| rest.split('"').next());
    let panel = panel.replace("type = \"panel\"", &format!("type = \"{}\"", kind.unwrap_or("panel")));
    // A scene whose panels are all to be made is built by itself; that makes the folder, too.
    folder.put("den.toml", format!("{scene}{stock}{panel}"));
    assert_done(&run(&folder, &["build", "den.toml"]));
    folder.put("den.toml", format!("{scene}{stock}"));
    folder.put("out/den/plan.toml", format!("{scene}{stock}{panel}"));
    let ran = run(&folder, &["build", "den.toml"]);
    assert_done(&ran);
    assert!(ran.err.contains("plan.toml"), "it says which plan: {}", ran.err);
    assert!(ran.out.contains("INVENTED EXAMPLES") && ran.out.contains("Before you drill"), "{}", ran.out);
    let names = folder.names("out/den");
    for wanted in ["build.json", "build.pdf", "marks-east.svg", "plan.toml", "prices.toml", "shopping.csv"] {
        assert!(names.iter().any(|name| name == wanted), "{wanted} is missing: {names:?}");
    }
    let ran = run(&folder, &["build", "den.toml", "--json"]);
    assert_done(&ran);
    let build: roomwright::workshop::Build = serde_json::from_str(&ran.out).expect("JSON alone on standard output");
    assert_eq!(format!("{}\n", ran.out.trim_end()), folder.text("out/den/build.json"));
    assert_eq!(build.surfaces.len(), 1);

    // A price list of one's own, and its mistakes.
    let prices = folder.text("out/den/prices.toml").replace("invented = true", "invented = false");
    folder.put("mine.toml", &prices);
    let ran = run(&folder, &["build", "den.toml", "--prices", "mine.toml"]);
    assert_done(&ran);
    assert!(!ran.out.contains("INVENTED"), "{}", ran.out);
    folder.put("mine.toml", prices.replace("price = 11", "price = \"eleven\""));
    let ran = run(&folder, &["build", "den.toml", "--prices", "mine.toml"]);
    assert_eq!(ran.code, Some(1));
    assert!(ran.err.contains("error[wrong-type]") && ran.err.contains("mine.toml:"), "{}", ran.err);

    // The list that lies beside the sheets is the one that counts, and stays whose it is.
    let lying = folder.text("out/den/prices.toml").replace("price = 11", "price = 1234.5");
    folder.put("out/den/prices.toml", &lying);
    for _ in 0..2 {
        let ran = run(&folder, &["build", "den.toml"]);
        assert_done(&ran);
        assert!(ran.out.contains("1234.50") && ran.err.contains("the prices: "), "{}\n{}", ran.out, ran.err);
        assert_eq!(folder.text("out/den/prices.toml"), lying);
        assert!(folder.names("out/den").iter().all(|name| name != "prices-2.toml"), "nothing new is written beside it");
    }

    // The room has changed since.
    folder.put("den.toml", format!("{scene}{stock}").replacen("name = ", "question = \"Another?\"\nname = ", 1));
    let ran = run(&folder, &["build", "den.toml"]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.err.contains("run `place` again"), "{}", ran.err);
}

#[test]
fn keeps_bad_sizes_and_names_plain() {
    let folder = Folder::new("cli-new-bad");
    for (name, size) in [
        ("den", "3.6x2.9"),
        ("den", "large"),
        ("den", "3x-2x2m"),
        ("den", "0x2x2m"),
        ("den", "nanxinfx2m"),
        ("///", "3x3x2m"),
        ("?", "3x3x2m"),
    ] {
        let ran = run(&folder, &["new", name, "--size", size]);
        assert_eq!(ran.code, Some(2), "{name} {size}: {}", ran.err);
        assert!(ran.err.starts_with("error: "), "{name} {size}: {}", ran.err);
        assert_eq!(folder.names("."), Vec::<String>::new(), "{name} {size}");
    }
}

#[test]
fn keeps_exit_codes_of_usage() {
    let folder = Folder::new("cli-usage");
    for (arguments, code) in [
        (&["--help"][..], 0),
        (&["--version"], 0),
        (&["place", "--help"], 0),
        (&["absorbers", "--help"], 0),
        (&["cloud", "--help"], 0),
        (&["positions", "--help"], 0),
        (&["bass", "--help"], 0),
        (&["build", "--help"], 0),
        (&["build", "none.toml", "--paper", "napkin"], 2),
        (&[], 2),
        (&["fly"], 2),
        (&["survey"], 2),
        (&["survey", "none.toml", "--wings"], 2),
        (&["survey", "none.toml", "--threads", "0"], 2),
        (&["survey", "none.toml", "--threads", "many"], 2),
        (&["survey", "none.toml"], 2),
        (&["survey", "."], 2),
    ] {
        let ran = run(&folder, arguments);
        assert_eq!(ran.code, Some(code), "{arguments:?}: {}{}", ran.out, ran.err);
        assert_eq!(ran.err.is_empty(), code == 0, "{arguments:?}: {}", ran.err);
        assert_eq!(ran.out.is_empty(), code != 0, "{arguments:?}: {}", ran.out);
    }
    assert!(run(&folder, &["survey", "none.toml"]).err.contains("cannot read none.toml: there is no such file"));
    folder.put("den.toml", "");
    assert!(run(&folder, &["survey", "den"]).err.contains("there is den.toml"));
    assert!(run(&folder, &["survey", "dne.toml"]).err.contains("there is den.toml"));
}

#[test]
fn keeps_every_mistake_of_a_scene_in_view_and_writes_nothing() {
    let folder = Folder::new("cli-broken");
    // Two mistakes far apart: a key that does not exist, and a value that is no length.
    let broken = small_scene_text() + "\n[[seat]]\nname = \"second\"\near = [\"one\", 1.0, 1.2]\nhight = 3\n";
    folder.put("broken.toml", broken);
    folder.put("latin.toml", b"name = \"caf\xe9\"\n");
    folder.put("empty.toml", "");
    let commands =
        ["survey", "hear", "bass", "place", "cloud", "positions"].into_iter().flat_map(|command| [(command, false), (command, true)]);
    for (command, json) in commands {
        let arguments = [command, "broken.toml", "--json"];
        let ran = run(&folder, &arguments[..if json { 3 } else { 2 }]);
        assert_eq!(ran.code, Some(1), "{command}: {}", ran.err);
        assert_eq!(ran.out, "", "{command}");
        assert!(ran.err.contains("broken.toml:"), "{command} names file and line:\n{}", ran.err);
        assert!(ran.err.contains("hight") && ran.err.contains("one"), "{command} shows both mistakes:\n{}", ran.err);
        assert!(ran.err.contains("errors in broken.toml; nothing was written"), "{command}:\n{}", ran.err);
    }
    for scene in ["latin.toml", "empty.toml"] {
        let ran = run(&folder, &["place", scene]);
        assert_eq!((ran.code, ran.out.as_str()), (Some(1), ""), "{scene}: {}", ran.err);
        assert!(ran.err.contains(scene), "{}", ran.err);
    }
    assert_eq!(folder.names("."), ["broken.toml", "empty.toml", "latin.toml"]);
}

#[test]
fn keeps_json_alone_on_standard_output() {
    let folder = with_scene("cli-json");
    let surveyed = run(&folder, &["survey", "den.toml", "--json"]);
    let heard = run(&folder, &["hear", "den.toml", "--rays-only", "--json"]);
    let placed = run(&folder, &["place", "den.toml", "--rays-only", "--json"]);
    for ran in [&surveyed, &heard, &placed] {
        assert_done(ran);
        assert!(!ran.out.contains("den.toml") && !ran.out.contains("out/"), "JSON holds no paths");
    }
    serde_json::from_str::<Survey>(&surveyed.out).expect("a survey");
    serde_json::from_str::<Findings>(&heard.out).expect("findings");
    serde_json::from_str::<Plan>(&placed.out).expect("a plan");
    assert_eq!(folder.text("out/den/plan.json").trim_end(), placed.out.trim_end(), "the file and the output are one text");
}

#[test]
fn keeps_place_writing_a_plan_that_reads() {
    let folder = with_scene("cli-place");
    let ran = run(&folder, &["place", "den.toml", "--rays-only"]);
    assert_done(&ran);
    let names = folder.names("out/den");
    for name in ["plan.toml", "plan.json"] {
        assert!(names.iter().any(|other| other == name), "{name} is missing: {names:?}");
    }
    for ending in [".svg", ".png"] {
        assert!(names.iter().any(|name| name.ends_with(ending)), "no {ending}: {names:?}");
    }
    assert!(names.iter().all(|name| !name.ends_with(".part")), "{names:?}");
    for name in names.iter().filter(|name| !name.starts_with('.')) {
        assert!(ran.out.contains(name.as_str()), "{name} is written and not mentioned:\n{}", ran.out);
    }
    // The plan is a scene: the line can be walked from it again, and comments of the owner are in it still.
    let again = run(&folder, &["survey", "out/den/plan.toml"]);
    assert_done(&again);
    let comment = small_scene_text().lines().find(|line| line.starts_with("# ")).map(str::to_owned).expect("the scene has comments");
    assert!(folder.text("out/den/plan.toml").contains(&comment));

    // Edited: kept, with a word about it.
    folder.put("out/den/plan.toml", folder.text("out/den/plan.toml") + "# mine\n");
    let ran = run(&folder, &["place", "den.toml", "--rays-only"]);
    assert_done(&ran);
    assert!(ran.err.contains("plan-2.toml"), "{}", ran.err);
    assert!(folder.text("out/den/plan.toml").ends_with("# mine\n"));
}

#[test]
fn keeps_absorbers_to_one_chart_and_lists_to_none() {
    let folder = with_scene("cli-absorbers");
    for arguments in [&["absorbers"][..], &["absorbers", "rock", "wool", "50"], &["absorbers", "carpet", "--json"]] {
        assert_done(&run(&folder, arguments));
        assert_eq!(folder.names("."), ["den.toml"], "{arguments:?} writes nothing");
    }
    let listed = run(&folder, &["absorbers", "carpet", "--json"]);
    assert!(!serde_json::from_str::<Absorbers>(&listed.out).expect("an answer").listed.is_empty());
    let compared =
        run(&folder, &["absorbers", "--panel", "50 mm, 12000", "--panel", "100 mm, 12000", "--show", "Rough concrete", "--json"]);
    assert_done(&compared);
    assert_eq!(serde_json::from_str::<Absorbers>(&compared.out).expect("an answer").samples.len(), 3);
    assert_eq!(folder.names("out/absorbers"), [".absorbers.sum", "absorbers.svg"]);
    let stock = run(&folder, &["absorbers", "den.toml", "--out", "here"]);
    assert_done(&stock);
    assert!(stock.out.contains("side by side") && stock.out.contains("absorbers.svg"), "{}", stock.out);
    assert_eq!(folder.names("here"), [".absorbers.sum", "absorbers.svg"]);

    // Mistakes of what was typed end with 2, those of a scene with 1, and nothing is written.
    folder.put("broken.toml", small_scene_text() + "\n[[seat]]\nhight = 3\n");
    for (arguments, code, said) in [
        (
            &["absorbers", "--panel", "-50 mm, 12000", "--panel", "50 mm", "--out", "no"][..],
            2,
            "3 errors in what was typed; nothing was written",
        ),
        (&["absorbers", "--show", "rock wol", "--out", "no"], 2, "nearest: \"Rock wool"),
        (&["absorbers", "--panel", "50 mm, 12000", "--budget", "-5", "--out", "no"], 2, "a budget is more than nothing"),
        (&["absorbers", "--panel", "50 mm, 12000", "--budget", "much", "--out", "no"], 2, "much"),
        (&["absorbers", "carpet", "--panel", "50 mm, 12000", "--out", "no"], 2, "leave it out"),
        (&["absorbers", "carpet", "den.toml", "--out", "no"], 2, "one scene"),
        (&["absorbers", "none.toml", "--out", "no"], 2, "there is no such file"),
        (&["absorbers", "broken.toml", "--out", "no"], 1, "hight"),
    ] {
        let ran = run(&folder, arguments);
        assert_eq!((ran.code, ran.out.as_str()), (Some(code), ""), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
        assert_eq!(folder.names("no"), Vec::<String>::new(), "{arguments:?}");
    }
}

#[test]
fn keeps_results_apart_from_threads_and_folders() {
    let folder = with_scene("cli-threads");
    let one = run(&folder, &["hear", "den.toml", "--rays-only", "--json", "--threads", "1", "--out", "a"]);
    let two = run(&folder, &["--threads", "2", "--out", "b", "hear", "den.toml", "--rays-only", "--json"]);
    assert_done(&one);
    assert_done(&two);
    assert_eq!(one.out, two.out);
    assert_eq!(folder.names("a"), folder.names("b"));
    for name in folder.names("a") {
        let bytes = |inner: &str| std::fs::read(folder.path().join(inner).join(&name)).expect("is there");
        assert_eq!(bytes("a"), bytes("b"), "{name}");
    }
    assert_eq!(folder.names("."), ["a", "b", "den.toml"], "nothing goes anywhere else");
}

/// Every figure with its standard error in the JSON, in order.
fn estimates(json: &serde_json::Value) -> Vec<(f64, f64)> {
    match json {
        serde_json::Value::Array(items) => items.iter().flat_map(estimates).collect(),
        serde_json::Value::Object(fields) => match (fields.get("value"), fields.get("se")) {
            (Some(value), Some(se)) if fields.len() == 2 => value.as_f64().zip(se.as_f64()).into_iter().collect(),
            _ => fields.values().flat_map(estimates).collect(),
        },
        _ => Vec::new(),
    }
}

#[test]
fn keeps_results_apart_from_vector_instructions() {
    let folder = with_scene("cli-simd");
    let hear = |instructions: Option<&str>| {
        let mut command = program(&folder, &["hear", "den.toml", "--rays-only", "--json"]);
        match instructions {
            Some(word) => command.env("ROOMWRIGHT_SIMD", word),
            None => command.env_remove("ROOMWRIGHT_SIMD"),
        };
        Ran::from(command.output().expect("the program can be started"))
    };
    let widest = hear(None);
    assert_done(&widest);
    for word in ["auto", ""] {
        let ran = hear(Some(word));
        assert_done(&ran);
        assert_eq!(ran.out, widest.out, "{word}");
    }
    // Rounding sends rays other ways after some bounces: figures are the same within their errors, which do not know of each other.
    let fallback = hear(Some("fallback"));
    assert_done(&fallback);
    let figures = |ran: &Ran| estimates(&serde_json::from_str(&ran.out).expect("JSON"));
    let (one, other) = (figures(&widest), figures(&fallback));
    assert!(one.len() > 20 && one.len() == other.len(), "{} and {} figures", one.len(), other.len());
    for ((value, se), (again, its)) in one.into_iter().zip(other) {
        assert!((value - again).abs() <= 6.0 * se.hypot(its) + 1e-9, "{value} +- {se} and {again} +- {its}");
    }
    // It is read, and a slip of the pen is not taken for the default.
    let ran = hear(Some("Fallback"));
    assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{}", ran.err);
    assert!(ran.err.starts_with("error: ROOMWRIGHT_SIMD is \"Fallback\"") && ran.err.contains("auto") && ran.err.contains("fallback"));
}

#[test]
fn keeps_an_output_folder_that_cannot_be_made_plain() {
    let folder = with_scene("cli-no-folder");
    folder.put("wall", "a file");
    let ran = run(&folder, &["hear", "den.toml", "--rays-only", "--out", "wall/inner"]);
    assert_eq!((ran.code, ran.out.as_str()), (Some(2), ""), "{}", ran.err);
    assert!(ran.err.contains("cannot write wall/inner: "), "{}", ran.err);
}

#[test]
fn keeps_quiet_when_nobody_reads_on() {
    let folder = with_scene("cli-pipe");
    let mut child = program(&folder, &["hear", "den.toml", "--rays-only", "--json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program can be started");
    // Reading a first line and closing the pipe, as `head -1` does.
    let mut first = String::new();
    BufReader::with_capacity(16, child.stdout.take().expect("is piped")).read_line(&mut first).expect("a line");
    let ran: Ran = child.wait_with_output().expect("ends").into();
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
}

#[cfg(unix)]
#[test]
fn keeps_ctrl_c_from_leaving_anything() {
    let folder = Folder::new("cli-stop");
    // Far more rays than anybody waits for.
    folder.put("den.toml", quick(&small_scene_text(), 5_000_000));
    let mut child = program(&folder, &["hear", "den.toml", "--rays-only"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program can be started");
    std::thread::sleep(std::time::Duration::from_millis(400));
    let sent = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill is there");
    assert!(sent.success());
    let code = child.wait().expect("ends").code();
    let mut said = String::new();
    child.stderr.take().expect("is piped").read_to_string(&mut said).expect("UTF-8");
    assert_eq!(code, Some(2), "{said}");
    assert_eq!(said.trim_end(), "stopped; nothing was written");
    assert_eq!(folder.names("."), ["den.toml"]);
}
