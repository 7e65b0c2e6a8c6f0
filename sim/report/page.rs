//! The summary: what is wrong, where the panels go, what they earn, how that compares, and what is not known. One printable page.
//!
//! *Limits.* Numbers are those of the findings; nothing is computed here but means over pairs (see `chart`).

use crate::bands::Band;
use crate::findings::decay_times::decay_times;
use crate::findings::{EarlyResponse, Findings, Pair, Place, Span, Target};
use crate::plan::Plan;
use crate::room::{Role, Room};
use crate::scene::{Activity, Scene};
use crate::workshop::caution::{self, Hazards};

use super::HOT_SPOTS;
use super::as_built;
use super::chart;
use super::choice;
use super::heatmap::heading;
use super::html::{self, estimate, maybe, plain, table};
use super::hung::{How, Hung};
use super::sheet::grouped;
use super::svg::escape;
use super::tape::Tape;
use super::text;
use super::text::bass_short;
use super::text::figures::{MERGED, is_of_waves};
use super::text::response::{hidden, round};
use super::{edged, explain, layouts, owned, suspended};

/// A file beside the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Beside {
    /// Its name.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Which part of the page shows it.
    pub kind: Kind,
}

/// What a file shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The room.
    Room,
    /// Reflections from above.
    TopView,
    /// Energy over time.
    EnergyTime,
    /// Level of the first sound over frequency.
    EarlyResponse,
    /// Decay.
    Decay,
    /// Decay curves by octave.
    DecayCurves,
    /// Absorption curves of the types that exclude one another.
    Curves,
    /// Earnings of panels.
    Earnings,
    /// What is wrong after so many panels.
    HowMany,
    /// Layouts beside each other.
    Layouts,
    /// Earning map.
    Heat,
    /// Other map.
    Map,
    /// Working drawing; for the surface with this index.
    Sheet(usize),
    /// Anything else.
    Other,
}

/// The summary of a plan.
#[must_use]
pub fn plan(scene: &Scene, room: &Room, plan: &Plan, hung: &[Hung], files: &[Beside]) -> String {
    let tape = Tape::of(scene.unit);
    let mut body = head(scene, "Where the panels go");
    body += &headline(scene, room, plan);
    body += &pictures(files, Kind::Room, false);
    body += &owned::html(plan, tape);
    body += &choice::html(scene, plan, &pictures(files, Kind::Curves, false));
    body += "<h2>What is wrong, and what the plan does about it</h2>\n";
    body += &targets(&plan.before, Some(&plan.after));
    body += &pair_table(&plan.before, Some(&plan.after));
    body += "<h2>Hot spots: where absorber earns most</h2>\n";
    body += &hot_spots(plan, tape);
    body += &pictures(files, Kind::TopView, false);
    body += "<h2>The plan</h2>\n";
    body += &placed(room, plan, hung, files, tape);
    body += &format!("<p>It stops there because {}.{}</p>\n", escape(&plan.stopped_because), left_over(plan));
    body += &edged::html(scene, &plan.after.survey);
    body += &suspended::html(scene, &plan.after);
    body += &pictures(files, Kind::Earnings, false);
    body += &explain::html(plan, &pictures(files, Kind::HowMany, false));
    body += &layouts::html(plan, &pictures(files, Kind::Layouts, false));
    body += "<h2>How long it rings</h2>\n";
    body += &decay_table(&plan.before, Some(&plan.after));
    body += &pictures(files, Kind::Decay, false);
    body += &pictures(files, Kind::DecayCurves, true);
    body += &low_end(&plan.after);
    body += "<h2>What arrives, and when</h2>\n";
    body += &pictures(files, Kind::EnergyTime, true);
    body += "<h2>The tone of the first sound</h2>\n";
    body += &straight_and_bent(&plan.after, tape);
    body += &early_responses(&plan.after);
    body += &pictures(files, Kind::EarlyResponse, true);
    body += &other_findings(&plan.after, tape, ", with the plan");
    body += "<h2>Maps: what one panel earns where</h2>\n";
    body += &pictures(files, Kind::Heat, true);
    body += "<h2>Sheets for the wall</h2>\n<p>Print at 100 %, then lay a tape along the bar at the lower right.</p>\n";
    body += &sheets(files);
    body += &cautions(scene, hung, room);
    body += &limits(scene, plan.notes.iter().chain(&plan.before.notes).chain(&plan.after.notes));
    let more = [
        ("plan.toml", "the scene with the plan's panels: edit it, then place or hear it again"),
        ("plan.json", "every number of this page"),
    ];
    body += &file_list(files, &more);
    html::page(&format!("{}: where the panels go", scene.name), &body)
}

/// The summary of a room as it stands.
#[must_use]
pub fn hear(scene: &Scene, findings: &Findings, files: &[Beside]) -> String {
    let tape = Tape::of(scene.unit);
    let mut body = head(scene, "What is heard now");
    body += &pictures(files, Kind::Room, false);
    body += "<h2>What is wrong</h2>\n";
    body += &targets(findings, None);
    body += &pair_table(findings, None);
    body += "<h2>Where the first bounces touch</h2>\n";
    body += &reflections(findings, tape);
    body += &pictures(files, Kind::TopView, false);
    body += "<h2>How long it rings</h2>\n";
    body += &decay_table(findings, None);
    body += &pictures(files, Kind::Decay, false);
    body += &pictures(files, Kind::DecayCurves, true);
    body += &low_end(findings);
    body += "<h2>What arrives, and when</h2>\n";
    body += &pictures(files, Kind::EnergyTime, true);
    body += "<h2>The tone of the first sound</h2>\n";
    body += &straight_and_bent(findings, tape);
    body += &early_responses(findings);
    body += &pictures(files, Kind::EarlyResponse, true);
    body += &other_findings(findings, tape, "");
    body += &limits(scene, findings.notes.iter());
    body += &file_list(files, &[]);
    html::page(&format!("{}: what is heard now", scene.name), &body)
}

/// The low end in short, with the way to its own page.
fn low_end(findings: &Findings) -> String {
    findings.bass.as_ref().map_or_else(String::new, |study| {
        let lines = html::list(&bass_short::lines(study));
        format!("<h2>{}</h2>\n{lines}<p><a href=\"bass.html\">The page of the low end</a></p>\n", bass_short::HEADING)
    })
}

/// Title, question, what the room is.
fn head(scene: &Scene, step: &str) -> String {
    let activity = match scene.activity {
        Activity::Mixing => "mixing on loudspeakers",
        Activity::Voice => "a voice at a microphone",
        Activity::Rehearsal => "rehearsing",
        Activity::Lesson => "teaching and talking",
    };
    let question = scene.question.as_ref().map_or_else(String::new, |question| format!(" {}", escape(question)));
    let (name, step) = (escape(&scene.name), escape(step));
    let settings = &scene.settings;
    format!(
        "<h1>{name}: {}</h1>\n<p class=\"quiet\">For {activity}.{question} Seed {}, {} rays a source.</p>\n",
        step.to_lowercase(),
        settings.seed,
        grouped(settings.rays)
    )
}

/// What the plan does, in two sentences, as it is built.
fn headline(scene: &Scene, room: &Room, plan: &Plan) -> String {
    let count = plan.placed.len();
    let plural = if count == 1 { "" } else { "s" };
    let (before, after) = (&plan.before, &plan.after);
    let mut out = format!("<p class=\"lead\"><b>{count} panel{plural}</b>");
    let early = [before, after].map(|findings| as_built::early_level(scene, room, findings));
    if let [Some(before), Some(after)] = early {
        out +=
            &format!(" bring the early reflections from {} to <b>{} dB</b> re direct sound and", estimate(before, 1), estimate(after, 1));
    }
    let decay = [before, after].map(|findings| chart::decay_target(findings).and_then(|target| target.value));
    if let [Some(before), Some(after)] = decay {
        out += &format!(" the decay from {} to <b>{} s</b>,", estimate(before, 2), estimate(after, 2));
    }
    out += &format!(" on {} % of floor, walls and ceiling.", plain(100.0 * after.survey.treated_share, 1));
    let octaves = chart::decay_target(after).map_or_else(String::new, |target| format!(" Decay: {}.", escape(&target.question)));
    out += "</p>\n";
    let told =
        text::plan::against_rules(plan).into_iter().chain(text::plan::held_back(plan)).chain(text::plan::meanwhile(scene, room, plan));
    for sentence in told.chain(text::plan::what_is_left(room, plan)) {
        out += &format!("<p>{}</p>\n", escape(&sentence.replace('`', "'")));
    }
    out += &format!(
        "<p class=\"quiet\">Early: what arrives within the window after the direct sound, octaves 1-8 kHz, mean of the sources, mean over the seat's zone.{octaves} \
         The plan's figures are traced anew with every panel as built. \u{b1} holds 95 of 100 repeats of the tracing; what materials and tape add stands below as a range.</p>\n",
    );
    out
}

/// Pictures of one kind, side by side if there may be several.
fn pictures(files: &[Beside], kind: Kind, side_by_side: bool) -> String {
    // Of a drawing and a picture of the same, the drawing.
    let shown = files.iter().filter(|file| file.kind == kind && !(kind == Kind::Room && file.name.ends_with(".png")));
    let all: String = shown.map(|file| html::figure(&file.name, &file.about)).collect();
    if side_by_side && !all.is_empty() { format!("<div class=\"two\">\n{all}</div>\n") } else { all }
}

/// A recommended range in words.
fn wanted(target: &Target) -> String {
    let digits = if target.unit == "s" { 2 } else { 1 };
    let unit = escape(&target.unit);
    match (target.low, target.high) {
        (Some(low), Some(high)) => format!("{} to {} {unit}", plain(low, digits), plain(high, digits)),
        (Some(low), None) => format!("{} {unit} or more", plain(low, digits)),
        (None, Some(high)) => format!("{} {unit} or less", plain(high, digits)),
        (None, None) => "\u{2013}".to_owned(),
    }
}

/// A verdict, in color unless all is well.
fn verdict(text: &str) -> String {
    let text = escape(text);
    if text.starts_with("too") { format!("<span class=\"bad\">{text}</span>") } else { text }
}

/// Findings against what is wanted.
fn targets(before: &Findings, after: Option<&Findings>) -> String {
    let digits = |target: &Target| if target.unit == "s" { 2 } else { 1 };
    let rows: Vec<Vec<String>> = before
        .targets
        .iter()
        .map(|target| {
            let range = |target: &Target| match target.unit.as_str() {
                "s" => target.inputs.map_or_else(String::new, inputs),
                _ => inputs_to(target.inputs, digits(target)),
            };
            let value = |target: &Target| maybe(target.value, digits(target)) + &range(target);
            let mut row = vec![escape(&target.question), wanted(target), value(target), verdict(&text::figures::verdict(target))];
            if let Some(after) = after {
                let other = after.targets.iter().find(|other| other.question == target.question);
                row.push(other.map_or_else(|| "\u{2013}".to_owned(), value));
                row.push(other.map_or_else(String::new, |other| verdict(&text::figures::verdict(other))));
            }
            row.push(format!("<span class=\"quiet\">{}</span>", escape(&target.source)));
            row
        })
        .collect();
    match after {
        Some(_) => table(&["what", "wanted", "#as it stands", "", "#with the plan", "", "who wants it"], &rows),
        None => table(&["what", "wanted", "#as it stands", "", "who wants it"], &rows),
    }
}

/// The range of a decay time, under its value.
fn inputs(inputs: Span) -> String {
    format!("<br><small>inputs {}\u{2013}{}</small>", plain(inputs.low, 2), plain(inputs.high, 2))
}

/// The range of a figure that may lie below zero, in brackets behind its value.
fn inputs_to(inputs: Option<Span>, decimals: usize) -> String {
    inputs.map_or_else(String::new, |Span { low, high }| format!(" <small>({} to {})</small>", plain(low, decimals), plain(high, decimals)))
}

/// What each source does at each receiver.
fn pair_table(before: &Findings, after: Option<&Findings>) -> String {
    let mut rows = Vec::new();
    for (index, pair) in before.pairs.iter().enumerate() {
        let other = after.and_then(|after| after.pairs.get(index));
        let both = |value: &dyn Fn(&Pair) -> String| match other {
            Some(other) if value(other) != value(pair) => format!("{} \u{2192} <b>{}</b>", value(pair), value(other)),
            _ => value(pair),
        };
        let gap = |pair: &Pair| pair.initial_delay_gap_ms.map_or_else(|| "\u{2013}".to_owned(), |gap| plain(gap, 1));
        rows.push(vec![
            format!("{}, {}", escape(&pair.source), escape(&pair.receiver)),
            both(&|pair| estimate(pair.early_level_db, 1) + &inputs_to(pair.early_level_inputs_db, 1)),
            both(&|pair| plain(pair.early_excess_db, 1)),
            both(&|pair| maybe(pair.speech_transmission_index, 2) + &inputs_to(pair.speech_transmission_index_inputs, 2)),
            both(&|pair| pair.direct_to_reverberant_db.map_or_else(|| "\u{2013}".to_owned(), |value| estimate(value, 1))),
            both(&gap),
        ]);
    }
    let noise_free = before.pairs.iter().any(|pair| pair.speech_index_noise_free);
    let note = if noise_free { "<p class=\"quiet\">Speech index without noise: an upper bound, not a score.</p>\n" } else { "" };
    // A directional microphone that looks away from a source hardly takes its direct sound: every figure re direct is then huge.
    let blind = |pair: &Pair| pair.early_level_db.value > 0.0;
    let blind = before.pairs.iter().any(blind);
    let blind_note = "<p class=\"quiet\">An early level above 0 dB: the direct sound is weaker than the reflections, as where a microphone looks away from that source. \
                      Figures re direct then say little.</p>\n";
    let note = if blind { format!("{note}{blind_note}") } else { note.to_owned() };
    let headings = [
        "source, receiver",
        "#early level, dB re direct",
        "#over the line, dB",
        "#speech index",
        "#direct to reverberant, dB",
        "#first gap, ms",
    ];
    let inputs_note =
        "<p class=\"quiet\">In brackets: where the figure lies in two of three rooms, by the doubt of absorption values.</p>\n";
    table(&headings, &rows) + inputs_note + &note
}

/// Hot spots with their numbers.
fn hot_spots(plan: &Plan, tape: Tape) -> String {
    if plan.hot_spots.is_empty() {
        return "<p>None: no early reflection is over the line.</p>\n".to_owned();
    }
    let rows: Vec<Vec<String>> = plan
        .hot_spots
        .iter()
        .enumerate()
        .take(HOT_SPOTS)
        .map(|(index, spot)| {
            vec![
                format!("<b>{}</b>", index + 1),
                escape(&spot.center.surface),
                tape.read(spot.center.left_m),
                tape.read(spot.center.bottom_m),
                size(tape, spot.extent_m),
                format!("{}, {}", escape(&spot.source), escape(&spot.receiver)),
                plain(spot.delay_ms, 1),
                plain(spot.level_db, 1),
                plain(100.0 * spot.share, 0),
            ]
        })
        .collect();
    let unit = if tape.is_inch() { String::new() } else { ", mm".to_owned() };
    let (left, lower, size) = (format!("#from left{unit}"), format!("#from floor or lower edge{unit}"), format!("#size{unit}"));
    let headings = ["no.", "surface", &left, &lower, &size, "from, at", "#ms later", "#dB re direct", "#% of the early energy"];
    let weaker = plan.hot_spots.len().saturating_sub(HOT_SPOTS);
    let more =
        if weaker > 0 { format!("<p class=\"quiet\">And {weaker} weaker ones: plan.json has them all.</p>\n") } else { String::new() };
    table(&headings, &rows) + &more
}

/// Width and height in one line.
fn size(tape: Tape, size_m: [f64; 2]) -> String {
    format!("{} x {}", tape.read(size_m[0]), tape.read(size_m[1])).replace(' ', "\u{a0}")
}

/// The plan, panel by panel.
fn placed(room: &Room, plan: &Plan, hung: &[Hung], files: &[Beside], tape: Tape) -> String {
    let rows: Vec<Vec<String>> = plan
        .placed
        .iter()
        .map(|panel| {
            let mut on: Vec<&Hung> = hung.iter().filter(|hung| hung.number == Some(panel.number)).collect();
            // First the surface that it is measured on.
            on.sort_by_key(|hung| room.surfaces[hung.surface].name != panel.place.surface);
            let links: Vec<String> = on
                .iter()
                .map(|hung| {
                    let surface = &room.surfaces[hung.surface];
                    let name = escape(&heading(&surface.name, surface.role).to_lowercase());
                    let file = files.iter().find(|file| file.kind == Kind::Sheet(hung.surface));
                    file.map_or_else(|| name.clone(), |file| format!("<a href=\"{}\">{name}</a>", escape(&file.name)))
                })
                .collect();
            let how = match on.first().map(|hung| hung.how) {
                Some(How::Flat { gap }) if tape.mark(gap) > 0 => format!("gap {}", tape.say(gap)),
                Some(How::Flat { .. }) => "flush".to_owned(),
                Some(How::Corner { .. }) => "across the corner".to_owned(),
                Some(How::Cloud { underside, .. }) => format!("underside {} over the floor", tape.say(underside)),
                None => escape(&panel.mount),
            };
            let how = how + text::owned::is_there(plan, panel.number);
            vec![
                format!("<b>{}</b>", panel.number),
                escape(&panel.kind),
                if links.is_empty() { escape(&panel.place.surface) } else { links.join(" and ") },
                tape.read(panel.place.left_m),
                tape.read(panel.place.bottom_m),
                size(tape, panel.size_m),
                how,
                escape(&text::plan::why(panel)),
                estimate(panel.earns_early_db, 2),
                maybe(panel.earns_decay_percent, 1),
            ]
        })
        .collect();
    let unit = if tape.is_inch() { String::new() } else { ", mm".to_owned() };
    let (left, lower, size) = (format!("#from left{unit}"), format!("#from floor or lower edge{unit}"), format!("#size{unit}"));
    let headings = ["no.", "type", "where", &left, &lower, &size, "how", "why", "#early, dB", "#decay, %"];
    let note = "<p class=\"quiet\">Measured to the lower left corner of a panel, as seen from inside; a corner panel's on the first wall named, a cloud's plumb \
                above it on its ceiling. Early and decay: what is lost when that panel alone is taken down; what it earns of the score stands below.</p>\n";
    format!("<div class=\"scroll\">{}</div>\n{note}", table(&headings, &rows))
}

/// Stock that stays in its stack.
fn left_over(plan: &Plan) -> String {
    let left: Vec<String> =
        plan.left_over.iter().filter(|(_, count)| *count > 0).map(|(kind, count)| format!("{count} of {}", escape(kind))).collect();
    if left.is_empty() { String::new() } else { format!(" Left over: {}.", left.join(", ")) }
}

/// Decay times by octave.
fn decay_table(before: &Findings, after: Option<&Findings>) -> String {
    let row = |name: &str, findings: &Findings| {
        let times = decay_times(findings);
        let cells = times.0.iter().map(|time| {
            let Some(time) = time else { return "\u{2013}".to_owned() };
            let range = time.inputs_s.map_or_else(String::new, inputs);
            match time.statistical {
                true => format!("<span class=\"quiet\">{}{range}</span>", plain(time.time_s.value, 2)),
                false => format!("{}{}{range}", estimate(time.time_s, 2), if time.is_t20 { "*" } else { "" }),
            }
        });
        std::iter::once(name.to_owned()).chain(cells).collect::<Vec<_>>()
    };
    let mut rows = vec![row("as it stands", before)];
    rows.extend(after.map(|after| row("with the plan", after)));
    let headings = ["seconds", "#63 Hz", "#125 Hz", "#250 Hz", "#500 Hz", "#1 kHz", "#2 kHz", "#4 kHz", "#8 kHz"];
    let waves = before.bass.as_ref().map_or_else(String::new, |study| format!("Below {} Hz by waves. ", plain(study.crossover_hz, 0)));
    let low = format!(
        "{waves}Gray: below {} Hz waves rule and this is a statistical reading, judged by nothing.",
        plain(before.survey.schroeder_hz, 0)
    );
    let note = format!(
        "<p class=\"quiet\">T30, mean over all sources and receivers; *: T20, as the decay does not support T30. {low} Inputs: where the figure lies in two of three rooms, by the doubt of absorption values (0.1 up to \
         250 Hz, 0.05 above, at most a factor of 2; twice that where filled by rule) and of the tape; before and after are mostly off together.</p>\n"
    );
    table(&headings, &rows) + &note
}

/// The strongest early reflections.
fn reflections(findings: &Findings, tape: Tape) -> String {
    let mut rows = Vec::new();
    for pair in &findings.pairs {
        let mut loudest: Vec<_> = pair.reflections.iter().collect();
        loudest.sort_by(|a, b| b.level_db.total_cmp(&a.level_db).then(a.delay_ms.total_cmp(&b.delay_ms)));
        for reflection in loudest.into_iter().take(6) {
            let places = places(&reflection.places, tape);
            let level = plain(reflection.level_db, 1);
            rows.push(vec![
                format!("{}, {}", escape(&pair.source), escape(&pair.receiver)),
                plain(reflection.delay_ms, 1),
                if reflection.is_too_loud() { format!("<span class=\"bad\">{level}</span>") } else { level },
                reflection.order.to_string(),
                if places.is_empty() { escape(&reflection.surfaces.join(" > ")) } else { places },
            ]);
        }
    }
    table(&["source, receiver", "#ms later", "#dB re direct", "#order", &places_head("where", tape)], &rows)
        + &format!("<p class=\"quiet\">{MERGED} The six loudest of each pair; the JSON has all.</p>\n")
}

/// Places on surfaces, as a tape reads.
fn places(places: &[Place], tape: Tape) -> String {
    let place = |place: &Place| format!("{} {} x {}", escape(&place.surface), tape.read(place.left_m), tape.read(place.bottom_m));
    places.iter().map(place).collect::<Vec<_>>().join("; ")
}

/// What stands over them.
fn places_head(what: &str, tape: Tape) -> String {
    let unit = if tape.is_inch() { "" } else { ", mm" };
    format!("{what}, from left x from floor or lower edge{unit}")
}

/// The direct sound at each ear, and the loudest that is bent round an edge there.
fn straight_and_bent(findings: &Findings, tape: Tape) -> String {
    let mut rows = Vec::new();
    for (pair, ear) in ears(findings) {
        let name = format!("{}, {}, {}", escape(&pair.source), escape(&pair.receiver), ear.at);
        let direct = &ear.direct;
        let (level, way) = if direct.hidden_by.is_empty() {
            (plain(direct.level_db, 1), format!("straight, {}", tape.say(direct.way_m)))
        } else {
            ("-".to_owned(), format!("<span class=\"bad\">{}</span>", escape(&hidden(direct))))
        };
        rows.push(vec![name.clone(), plain(0.0, 1), level, way]);
        rows.extend(ear.edges.first().map(|edge| {
            let bends = places(&edge.places[..edge.bends as usize], tape);
            vec![name, plain(edge.delay_ms, 1), plain(edge.level_db, 1), format!("round {}: {bends}", escape(&round(edge)))]
        }));
    }
    let way = places_head("direct sound, and the loudest round an edge: where", tape);
    table(&["source, receiver, ear", "#ms later", "#dB re direct", &way], &rows)
}

/// Every ear of every pair.
fn ears(findings: &Findings) -> impl Iterator<Item = (&Pair, &EarlyResponse)> {
    findings.pairs.iter().flat_map(|pair| pair.early_responses.iter().map(move |ear| (pair, ear)))
}

/// Flutter and likeness.
fn other_findings(findings: &Findings, tape: Tape, when: &str) -> String {
    let mut out = String::new();
    let audible: Vec<String> = findings
        .flutter
        .iter()
        .filter(|flutter| flutter.audible)
        .map(|flutter| {
            let [a, b] = &flutter.between;
            let [x, y, z] = flutter.clap_at_m.map(|meters| tape.say(meters));
            format!("Between {a} and {b}, {:.1} ms a round: to hear it, clap at x {x}, y {y}, {z} over the floor.", flutter.period_ms)
        })
        .collect();
    if !audible.is_empty() {
        out += &format!("<h2>Flutter{when}</h2>\n");
        out += &html::list(&audible);
    }
    if !findings.likeness.is_empty() {
        let row = |likeness: &crate::findings::Likeness| {
            let name = format!("{} less {}, at {}", escape(&likeness.left), escape(&likeness.right), escape(&likeness.seat));
            std::iter::once(name).chain(likeness.early_difference_db.0.iter().map(|value| plain(*value, 1))).collect::<Vec<_>>()
        };
        let rows: Vec<Vec<String>> = findings.likeness.iter().map(row).collect();
        out += &format!("<h2>How alike left and right are{when}</h2>\n");
        out += &table(
            &["early reflected level, dB", "#63 Hz", "#125 Hz", "#250 Hz", "#500 Hz", "#1 kHz", "#2 kHz", "#4 kHz", "#8 kHz"],
            &rows,
        );
    }
    out
}

/// Combs by octave, ear by ear.
fn early_responses(findings: &Findings) -> String {
    let row = |(pair, ear): (&Pair, &EarlyResponse)| {
        let name = format!("{}, {}, {}", escape(&pair.source), escape(&pair.receiver), ear.at);
        std::iter::once(name).chain(ear.comb_depth_db.0.iter().map(|depth| plain(*depth, 1))).collect::<Vec<_>>()
    };
    let rows: Vec<Vec<String>> = ears(findings).map(row).collect();
    let octave = |band: Band| format!("#{}{}", band.label(), if is_of_waves(findings, band) { "*" } else { "" });
    let headings: Vec<String> = std::iter::once("peak to dip, dB (*: waves rule)".to_owned()).chain(Band::ALL.map(octave)).collect();
    table(&headings.iter().map(String::as_str).collect::<Vec<_>>(), &rows)
        + "<p class=\"quiet\">Direct sound, mirror images and what edges bend, summed with their phases. Later sound fills the dips; the head itself is not \
         there; absorbers mirror in phase. Edges by faces that absorb are an approximation without a reference.</p>\n"
}

/// Links to the working drawings.
fn sheets(files: &[Beside]) -> String {
    let rows: Vec<Vec<String>> = files
        .iter()
        .filter(|file| matches!(file.kind, Kind::Sheet(_)))
        .map(|file| vec![format!("<a href=\"{0}\">{0}</a>", escape(&file.name)), escape(&file.about)])
        .collect();
    table(&["sheet", "surface"], &rows)
}

/// Where theory or data stop, each once.
fn limits<'a>(scene: &Scene, notes: impl Iterator<Item = &'a String>) -> String {
    let mut lines: Vec<String> = Vec::new();
    for note in notes {
        if !lines.contains(note) {
            lines.push(note.clone());
        }
    }
    let tape = Tape::of(scene.unit);
    lines.push(format!("Measures hold to the tape: \u{b1} {}.", tape.say(scene.tape_tolerance.0)));
    lines.push("Panels in the room do not keep sound in it or out of it.".to_owned());
    format!("<h2>How sure this is</h2>\n{}", html::list(&lines))
}

/// Cautions for the whole job.
fn cautions(scene: &Scene, hung: &[Hung], room: &Room) -> String {
    let types: Vec<_> =
        scene.stock.iter().filter(|kind| hung.iter().any(|panel| panel.number.is_some() && panel.kind == kind.name)).collect();
    let on_floor = |panel: &&Hung| room.surfaces[panel.surface].role == Role::Floor;
    let hazards = Hazards {
        drilling: types.iter().any(|kind| kind.is_drilled()),
        standing: types.iter().any(|kind| kind.kind.stands()),
        laid: hung.iter().any(|panel| panel.number.is_some() && on_floor(&panel)),
        overhead: hung.iter().any(|panel| crate::layout::is_overhead(room.surfaces[panel.surface].role)),
        corner: hung.iter().any(|panel| matches!(panel.how, How::Corner { .. })),
        fiber: types.iter().any(|kind| kind.core.is_fibrous()),
        heaviest_kg: types.iter().filter_map(|kind| kind.mass).reduce(f64::max),
        pounds: Tape::of(scene.unit).is_inch(),
    };
    format!("<div class=\"box\"><h2>{}</h2>\n{}</div>\n", caution::heading(hazards), html::list(&caution::lines(hazards)))
}

/// What each file beside the page is; `more` are those that others write.
fn file_list(files: &[Beside], more: &[(&str, &str)]) -> String {
    let mut rows: Vec<Vec<String>> = more.iter().map(|(name, about)| vec![escape(name), escape(about)]).collect();
    rows.extend(files.iter().map(|file| vec![format!("<a href=\"{0}\">{0}</a>", escape(&file.name)), escape(&file.about)]));
    format!("<h2>Files beside this page</h2>\n{}", table(&["file", "what it is"], &rows))
}
