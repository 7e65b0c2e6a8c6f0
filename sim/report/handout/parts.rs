//! The parts of a report in their order, each made of sections of the pages that the command line prints, of drawings, and of gaps where something is not there yet.

use crate::report::content::{Block, Section};
use crate::report::document::{Part, Piece, drawing, heard, paragraph, part, pieces, take, whole};
use crate::report::heatmap::Heat;
use crate::report::text::{self, bass_short};
use crate::report::{axonometry, chart, explain, hung, layouts, sheet, tone, top_view};
use crate::scene::Panel;
use crate::study::handout::Heard;

use super::{ContentsPart, Handout, maps};

/// What a part says it has not.
pub(super) fn contents(part: &Part) -> ContentsPart {
    let gap = |piece: &Piece| match piece {
        Piece::Gap(why) => Some(why.clone()),
        _ => None,
    };
    ContentsPart { heading: part.heading.clone(), missing: part.pieces.iter().filter_map(gap).collect() }
}

/// The title.
pub(super) fn title(handout: &Handout<'_>) -> String {
    format!("{}: the report", handout.scene.name)
}

/// All parts.
pub(super) fn parts(handout: &Handout<'_>) -> Vec<Part> {
    let heard = text::findings::page(handout.scene, handout.now).sections();
    let survey = text::room::page(handout.scene, &handout.now.survey).sections();
    let plan =
        handout.plan.as_ref().map_or_else(|_| Vec::new(), |(plan, _)| text::plan::page(handout.scene, handout.room, plan).sections());
    let mut sections = Sections { heard, survey, plan };
    let mut parts = vec![
        room(handout, &mut sections),
        wrong(handout, &mut sections),
        hot_spots(handout, &mut sections),
        the_plan(handout, &mut sections),
        before_and_after(handout, &mut sections),
        low_end(handout, &mut sections),
        listening(handout),
        measured(handout),
        cautions(&mut sections),
        rests_on(&mut sections),
    ];
    parts.extend(tables(sections));
    parts
}

/// Sections of pages that no part has taken yet.
struct Sections {
    heard: Vec<Section>,
    survey: Vec<Section>,
    plan: Vec<Section>,
}

/// The room and its picture.
fn room(handout: &Handout<'_>, sections: &mut Sections) -> Part {
    let Handout { scene, room, .. } = *handout;
    let mut pieces: Vec<Piece> = scene.question.iter().map(paragraph).collect();
    let none = crate::plan::PlanPictures::default();
    let (spots, placed, pictures) = match &handout.plan {
        Ok((plan, pictures)) => (plan.hot_spots.as_slice(), plan.placed.as_slice(), *pictures),
        Err(_) => (&[][..], &[][..], &none),
    };
    let panels: &[Panel] = if pictures.panels.is_empty() { &scene.panels } else { &pictures.panels };
    let hung = hung::panels(scene, room, placed, panels);
    let (heat, shown) = maps(handout.maps)
        .into_iter()
        .find(|(_, maps)| !maps.is_empty())
        .map_or((Heat::Early, &[][..]), |(heat, maps)| (heat, maps.as_slice()));
    let svg = axonometry::svg(axonometry::View { scene, room, hung: &hung, hot_spots: spots, maps: shown, heat });
    let about = match (placed.is_empty(), shown.is_empty()) {
        (true, true) => "The room as it stands".to_owned(),
        (true, false) => format!("The room as it stands; in color {}, {}", heat.meaning(), heat.unit()),
        (false, _) => format!("The room with the plan; in color {}, {}", heat.meaning(), heat.unit()),
    };
    pieces.push(Piece::Room { svg, about });
    if !placed.is_empty() {
        pieces.push(paragraph("As the room stands, before the plan:"));
    }
    pieces.extend(take(&mut sections.survey, "Size", false));
    part("The room", pieces)
}

/// What is wrong, in sentences.
fn wrong(handout: &Handout<'_>, sections: &mut Sections) -> Part {
    let mut pieces = take(&mut sections.heard, "What is wrong here", false);
    pieces.extend(take(&mut sections.heard, "Targets", true));
    let window = 1000.0 * handout.scene.settings.window_s;
    pieces.push(drawing(top_view::svg(handout.scene, handout.room, handout.now, window), "Where the first bounces touch, from above"));
    part("What is wrong", pieces)
}

/// Where absorber earns.
fn hot_spots(handout: &Handout<'_>, sections: &mut Sections) -> Part {
    let mut pieces = take(&mut sections.plan, "Hot spots", false);
    if let Err(why) = &handout.plan {
        pieces.push(Piece::Gap(format!("Hot spots come with the plan. {why}")));
    }
    part("Hot spots: where absorber earns most", pieces)
}

/// Where the panels go.
fn the_plan(handout: &Handout<'_>, sections: &mut Sections) -> Part {
    let Handout { scene, room, .. } = *handout;
    let (plan, pictures) = match &handout.plan {
        Ok(planned) => *planned,
        Err(why) => return part("The plan", vec![Piece::Gap(why.clone())]),
    };
    let mut pieces: Vec<Piece> = handout.doubt.iter().cloned().map(Piece::Gap).collect();
    pieces.extend(take(&mut sections.plan, "The plan in short", false));
    for heading in [
        "What hangs already",
        "What it costs",
        "Which of the stock",
        "The alternatives",
        "The panels, in the order",
        "What each panel is for",
        "What each panel earns",
        "What each corner panel",
    ] {
        pieces.extend(take(&mut sections.plan, heading, true));
    }
    if !plan.placed.is_empty() {
        pieces.push(drawing(chart::earnings(&plan.placed), "What each panel earns"));
    }
    pieces.extend(take(&mut sections.plan, "How many panels", true));
    if let Some(curve) = plan.curve.as_ref().filter(|curve| curve.points.len() > 1) {
        pieces.push(drawing(explain::svg(curve), "What is wrong after so many panels, in the order of greatest gain"));
    }
    pieces.extend(take(&mut sections.plan, "What the search bought", true));
    if pictures.layouts.is_empty() {
        pieces.push(Piece::Gap(
            "The plan does not say what hangs in the layouts beside it, so they are not drawn: `roomwright place` with this scene writes it anew.".to_owned(),
        ));
    } else {
        pieces.push(drawing(
            layouts::svg(scene, room, plan, pictures),
            "The plan, the room without it, and the same stock hung by rules of thumb",
        ));
    }
    pieces.extend(sheets(handout, plan, pictures));
    part("The plan", pieces)
}

/// One drawing for every surface that something of the plan hangs on.
fn sheets(handout: &Handout<'_>, plan: &crate::plan::Plan, pictures: &crate::plan::PlanPictures) -> Vec<Piece> {
    let Handout { scene, room, .. } = *handout;
    let hung = hung::panels(scene, room, &plan.placed, &pictures.panels);
    let to_mark = |panel: &hung::Hung| panel.number.filter(|&number| !plan.hangs_already(number));
    let marked: Vec<hung::Hung> = hung.iter().map(|panel| hung::Hung { number: to_mark(panel), ..panel.clone() }).collect();
    let treated: Vec<usize> =
        (0..room.surfaces.len()).filter(|index| marked.iter().any(|panel| panel.surface == *index && panel.number.is_some())).collect();
    let mut pieces = Vec::new();
    if !treated.is_empty() {
        pieces.push(Piece::Heading("Where each panel hangs".to_owned()));
        pieces.push(paragraph(
            "On paper each of these sheets is a page by itself, behind this one, true to scale where it is printed at 100 %.",
        ));
    }
    for (order, index) in treated.iter().enumerate() {
        let job = sheet::Job {
            scene,
            room,
            hung: &marked,
            hot_spots: &plan.hot_spots,
            sheet: order + 1,
            sheets: treated.len(),
            planned: plan.placed.len(),
            held_back: &plan.held_back,
            command: "roomwright report",
        };
        let surface = &room.surfaces[*index];
        let about = format!("{}, with every panel on it and its measures", crate::report::heatmap::heading(&surface.name, surface.role));
        pieces.push(Piece::Sheet { svg: sheet::svg(job, *index), about });
    }
    pieces
}

/// Before and after, against what is wanted.
fn before_and_after(handout: &Handout<'_>, sections: &mut Sections) -> Part {
    let (now, window) = (handout.now, 1000.0 * handout.scene.settings.window_s);
    let after = handout.plan.as_ref().ok().map(|(plan, _)| &plan.after);
    let mut pieces = take(&mut sections.plan, "Targets, before and after", false);
    if let Err(why) = &handout.plan {
        pieces.push(Piece::Gap(format!("Before only: {why}")));
    }
    let when = if after.is_some() { ", before and after" } else { "" };
    pieces.push(drawing(chart::decay(now, after), format!("Decay time by octave{when}")));
    for (index, pair) in now.pairs.iter().enumerate() {
        let other = after.and_then(|after| after.pairs.get(index));
        let of = format!("{} at {}{when}", pair.source, pair.receiver);
        pieces.push(drawing(chart::energy_time(pair, other, window), format!("What arrives, and when: {of}")));
        pieces.push(drawing(
            tone::early_response(pair, other, window, now.survey.schroeder_hz),
            format!("The tone of the first sound: {of}"),
        ));
    }
    part(if after.is_some() { "Before and after" } else { "How it sounds now, in numbers" }, pieces)
}

/// The low end in short.
fn low_end(handout: &Handout<'_>, sections: &mut Sections) -> Part {
    let mut pieces = take(&mut sections.plan, bass_short::HEADING, false);
    let of_now = take(&mut sections.heard, bass_short::HEADING, false);
    if pieces.is_empty() {
        pieces = of_now;
    }
    if pieces.is_empty() {
        let hz = text::figures::number(handout.now.survey.schroeder_hz, 0);
        // What stands here is of the plan where there is one, whatever was heard beside it.
        let again = if handout.plan.is_ok() {
            "this plan was made without them; `roomwright place` without --rays-only makes one with them"
        } else {
            "`roomwright report` without --rays-only runs them"
        };
        pieces.push(Piece::Gap(format!(
            "No waves were run: below {hz} Hz figures are a statistical reading that nothing is judged by. `roomwright bass` tells the low end by itself; {again}."
        )));
    }
    part("The low end", pieces)
}

/// What it sounds like.
fn listening(handout: &Handout<'_>) -> Part {
    let pieces = match &handout.sounds {
        Ok(Heard { sounds, folder, doubt }) => doubt.iter().cloned().map(Piece::Gap).chain(heard(sounds, folder)).collect(),
        Err(why) => vec![Piece::Gap(why.clone())],
    };
    part("By ear", pieces)
}

/// Whether it worked.
fn measured(handout: &Handout<'_>) -> Part {
    let mut pieces = Vec::new();
    match &handout.proof {
        Ok(proof) => {
            let page = text::prove::page(handout.scene, proof);
            pieces.extend(whole(page));
            for one in &proof.recordings {
                let [decay, time] = crate::report::prove::charts(one, proof.asked_s);
                let of = format!("{} at {}", one.source, one.receiver);
                pieces.push(drawing(decay, format!("Decay by octave, measured and predicted: {of}")));
                pieces.push(drawing(time, format!("What arrives, and when, measured and predicted: {of}")));
            }
        }
        Err(why) => pieces.push(Piece::Gap(why.clone())),
    }
    pieces.extend(handout.voice.map(|voice| whole(text::voice::page(handout.scene, voice))).into_iter().flatten());
    part("What was measured", pieces)
}

/// What can hurt someone.
fn cautions(sections: &mut Sections) -> Part {
    let of = |piece: Piece| match piece {
        Piece::Block(Block::Paragraph { text, .. }) => Some(text),
        _ => None,
    };
    let mut lines: Vec<String> = take(&mut sections.plan, "Cautions", false).into_iter().filter_map(of).collect();
    if lines.is_empty() {
        lines.extend(text::plan::CAUTIONS.map(str::to_owned));
    }
    part("Cautions: before you drill, cut or climb", vec![Piece::Cautions(lines)])
}

/// What the numbers rest on.
fn rests_on(sections: &mut Sections) -> Part {
    let mut pieces = take(&mut sections.heard, "How to read the tables", false);
    take(&mut sections.plan, "How to read the tables", false);
    pieces.extend(take(&mut sections.survey, "Surfaces", true));
    pieces.extend(take(&mut sections.survey, "Materials", true));
    pieces.extend(take(&mut sections.survey, "Panels, with", true));
    let mut notes: Vec<Piece> = Vec::new();
    for piece in take(&mut sections.plan, "Notes", false).into_iter().chain(take(&mut sections.heard, "Notes", false)) {
        let same = |other: &Piece| matches!((other, &piece), (Piece::Block(one), Piece::Block(other)) if one == other);
        if !notes.iter().any(same) {
            notes.push(piece);
        }
    }
    if !notes.is_empty() {
        pieces.push(Piece::Heading("Where theory or data stop".to_owned()));
        pieces.extend(notes);
    }
    pieces.extend(take(&mut sections.survey, "What panels do not do", true));
    part("What the numbers rest on", pieces)
}

/// All tables that no part has taken.
fn tables(sections: Sections) -> Vec<Part> {
    let Sections { heard, survey, plan } = sections;
    let all = |heading: &str, sections: Vec<Section>| {
        let pieces: Vec<Piece> = sections.into_iter().flat_map(|section| pieces(section, true)).collect();
        (!pieces.is_empty()).then(|| part(heading, pieces))
    };
    [all("All tables: with the plan", plan), all("All tables: what is heard now", heard), all("All tables: the room", survey)]
        .into_iter()
        .flatten()
        .collect()
}
