//! What to buy and what it costs, and what each type is made of.
//!
//! ```text
//! total = sum of the lines, each as printed to the hundredth
//! ```
//!
//! *Limits.* As `workshop::shop`: tools, paint and work have no price.

use crate::report::html::plain;
use crate::report::tape::Tape;
use crate::scene::prices::plural;
use crate::workshop::caution::Place;
use crate::workshop::{Build, Made, Purchase};

use super::corner_view;
use super::shop_pages::{INVENTED, Job, cautions, is_made, mass, money, percent, sentence};
use crate::report::leaf::{Chapter, Format, Voice, Writer};
use crate::report::leaf_table::{TICK, Table};

/// What to buy.
#[must_use]
pub fn shopping(format: &Format, job: Job<'_>) -> Chapter {
    let build = job.build;
    let mut page = Writer::new(format, "Shopping list");
    if build.prices_are_invented {
        page.paragraph(INVENTED);
    }
    let mut table = Table::new(&["", "what", "ask for", "#needed", "#a pack holds", "#to buy", "#price of one", "#cost"]);
    for line in &build.purchases {
        table.row(purchase(line));
    }
    let blank = || String::new();
    table.sum(vec![
        blank(),
        format!("together {}", build.currency).trim_end().to_owned(),
        blank(),
        blank(),
        blank(),
        blank(),
        blank(),
        plain(build.costs.total, 2),
    ]);
    page.table(&table);
    page.paragraph(&format!(
        "{} more than is needed is bought of everything but finished panels, for what goes wrong; whole packs add the rest. Of the total {} is left over as off-cuts, spare and rests of packs.",
        percent(job.scene.making.spare),
        percent(build.costs.left_over_share)
    ));
    if !build.costs.without_price.is_empty() {
        page.paragraph(&format!("Without a price, and in no sum: {}.", build.costs.without_price.join(", ")));
    }
    page.section("Made against bought", 20.0);
    against(&mut page, build);
    cautions(&mut page, build, Place::Shop, None);
    page.finish("build-shopping")
}

fn purchase(line: &Purchase) -> Vec<String> {
    let is_cut = line.is_cut_to_length();
    let amount = |quantity: f64| format!("{} {}", quantity_of(quantity), plural(&line.unit, quantity));
    vec![
        TICK.to_owned(),
        line.name.clone(),
        line.ask_for.clone(),
        amount(line.needed),
        if is_cut { "cut to length".to_owned() } else { amount(line.pack) },
        if is_cut { amount(f64::from(line.packs) * line.pack) } else { line.packs.to_string() },
        line.price.map_or_else(|| "not known".to_owned(), |price| plain(if is_cut { price / line.pack } else { price }, 2)),
        line.cost.map_or_else(|| "not known".to_owned(), |cost| plain(cost, 2)),
    ]
}

/// A quantity to the hundredth, without trailing zeros; what is less is said so.
pub(crate) fn quantity_of(quantity: f64) -> String {
    let text = plain(quantity, 2);
    if quantity > 0.0 && quantity < 0.005 {
        return "< 0.01".to_owned();
    }
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// What a type costs made, and what bought.
fn against(page: &mut Writer, build: &Build) {
    let each = |price: Option<f64>| price.map_or_else(|| "-".to_owned(), |price| plain(price, 2));
    let mut table = Table::new(&["type", "#how many", "#made, materials of one", "#bought, one", "#made, all", "#bought, all"]);
    for cost in &build.costs.types {
        let all = |price: Option<f64>| each(price.map(|price| price * f64::from(cost.count)));
        table.row(vec![
            cost.kind.clone(),
            cost.count.to_string(),
            each(cost.made_each),
            each(cost.bought_each),
            all(cost.made_each),
            all(cost.bought_each),
        ]);
    }
    page.table(&table);
    let total = money(build.costs.total, build);
    match build.costs.bought_total {
        Some(bought) => page.paragraph(&format!(
            "What is made here would cost {} bought as it hangs, by the scene's prices; the whole shopping list, spare and rests of packs and what holds the panels included, comes to {total}. Materials of one are \
             figured without waste. Your hours and tools have no price here.",
            money(bought, build)
        )),
        None => page.paragraph(&format!(
            "The scene gives no price for some of these bought, so the two cannot be compared as a whole; the whole shopping list comes to {total}. Materials of one are figured without waste. Your hours and \
             tools have no price here."
        )),
    }
}

/// What each type is made of.
#[must_use]
pub fn cut_list(format: &Format, job: Job<'_>) -> Chapter {
    let build = job.build;
    let mut page = Writer::new(format, "Cut list");
    page.paragraph("What one of each type is made of. Measure what you have before you cut: a board is often smaller than the size that it is sold by.");
    for made in &build.types {
        // The table stays in one piece where a page can hold it.
        let rows = made.cores.len() + made.frame.len() + made.supplies.len() + 3;
        page.section(&format!("{}: {}", made.kind, how_many(made)), 22.0 + 5.3 * rows as f64);
        for trouble in build.troubles.iter().filter(|trouble| trouble.kind.as_ref() == Some(&made.kind) && !trouble.is_of_hanging()) {
            page.boxed("Look at this first", &[format!("{}. To do: {}.", sentence(&trouble.message), trouble.hint)], Voice::Heavy);
        }
        page.paragraph(&format!(
            "{}; face {}, {} thick; mass of one {}; held by {}.",
            sentence(made.construction.word()),
            format.tape.say_size(made.face_m[0], made.face_m[1]),
            format.tape.say(made.thickness_m),
            mass(made.mass_kg, format.tape),
            made.fixing.word()
        ));
        if is_made(made) {
            parts(&mut page, made, job);
        } else {
            page.paragraph("Bought as it hangs: nothing is cut.");
        }
    }
    page.finish("build-cut-list")
}

fn how_many(made: &Made) -> String {
    format!("{} {}", made.count, if is_made(made) { "to make" } else { "to buy" })
}

/// Cores, frame, cloth, and what else goes in.
fn parts(page: &mut Writer, made: &Made, job: Job<'_>) {
    let tape = page.tape();
    let mut table = Table::new(&["part", "of", "size", "#in one", "#in all"]);
    let mut row = |part: &str, of: &str, size: String, each: u32, spare: u32| {
        let in_one = if spare > 0 { format!("up to {each}") } else { each.to_string() };
        table.row(vec![part.to_owned(), of.to_owned(), size, in_one, (each * made.count - spare).to_string()]);
    };
    for core in &made.cores {
        row("core", &core.board, tape.say_size(core.size_m[0], core.size_m[1]), core.layers, 0);
    }
    for (index, side) in made.frame.iter().enumerate() {
        let ends = side.count.min(2);
        row(if index == 0 { "long side" } else { "end" }, &side.timber, tape.say(side.length_m), ends, 0);
        if side.count > ends {
            row("cross-batten", &side.timber, tape.say(side.length_m), side.count - ends, made.battens_spare);
        }
    }
    if let Some(cloth) = &made.cloth {
        row("cloth", &cloth.cloth, tape.say_size(cloth.size_m[0], cloth.size_m[1]), 1, 0);
    }
    for used in &made.supplies {
        let supply = job.build.purchases.iter().find(|line| line.name == used.supply);
        let say = |quantity: f64| {
            let unit = supply.map_or("", |line| line.unit.as_str());
            format!("{} {}", quantity_of(quantity), plural(unit, quantity)).trim_end().to_owned()
        };
        table.row(vec![
            "besides".to_owned(),
            used.supply.clone(),
            String::new(),
            say(used.quantity),
            say(used.quantity * f64::from(made.count)),
        ]);
    }
    if table.rows.is_empty() {
        page.paragraph("What it is made of is not known: see what to look at first.");
    } else {
        page.table(&table);
    }
    if made.cloth.is_some() {
        page.paragraph(&cloth_sum(made, tape, job.scene.making.cloth_return));
    }
    if let Some(cut) = &made.corner {
        let thick =
            0.5 * (made.face_m[0] - made.frame.get(1).map_or(made.face_m[0], |end| end.length_m)) * cut.bevel_deg.to_radians().cos();
        page.paragraph(&format!(
            "Across a corner of {} degrees: both long sides stand {} degrees off square: boards {} wide on either face, both edges sawn to the same slant, so that each takes {} of a board's width; its back is {} wide; its front edges lie {} from the corner along each wall; {} liters of air behind.",
            plain(cut.corner_deg, 0),
            plain(cut.bevel_deg, 1),
            tape.say(made.thickness_m / cut.bevel_deg.to_radians().cos()),
            tape.say(cut.board(made.thickness_m, thick)),
            tape.say(cut.back_m),
            tape.say(cut.leg_m),
            plain(1000.0 * cut.air_m3, 0)
        ));
        if let (Some(end), Some(core)) = (made.frame.get(1), made.cores.first()) {
            let back = |front: f64| tape.read(front - 2.0 * made.thickness_m * (0.5 * cut.corner_deg.to_radians()).tan());
            page.paragraph(&format!(
                "Its ends are trapezoids, {} long at the front and {} at the back, ripped to {}; so is its core, {} wide at the front and {} at the back. It hangs by keyhole plates let into the outer faces of its long sides at \
                 the marks: screw heads stand 4 mm out of both walls; lift it over them and let it down by 10 mm: a mark is where the screw's head then sits in the narrow end of the slot. Try the fit before the cloth goes on.",
                tape.read(end.length_m),
                back(end.length_m),
                tape.say(made.thickness_m),
                tape.read(core.size_m[0]),
                back(core.size_m[0])
            ));
        }
        corner_view::draw(page, made);
    }
}

/// How the size of the cloth comes about: `600 + 2 x (50 + 100) = 900`.
fn cloth_sum(made: &Made, tape: Tape, fold: f64) -> String {
    let Some(cloth) = &made.cloth else { return String::new() };
    let sum = |face: f64, all: f64| {
        let side = 0.5 * (all - face) - fold;
        format!("{} + 2 x ({} + {}) = {}", tape.read(face), tape.read(side), tape.read(fold), tape.say(all))
    };
    format!(
        "Cloth of one, face + 2 x (side + fold on the back): {} and {}.",
        sum(made.face_m[0], cloth.size_m[0]),
        sum(made.face_m[1], cloth.size_m[1])
    )
}
