//! What panels are made of: read, printed, edited, and told in their owner's words.

use std::ops::Range;

use proptest::prelude::*;
use roomwright::absorbers::fluid::{Model, Pores};
use roomwright::absorbers::{BuildUp, Finish, Layer};
use roomwright::bands::{Band, Bands};
use roomwright::findings::StockPanel;
use roomwright::room;
use roomwright::scene::{self, Core, CoreLayer, Editor, FORMAT, Facing, Fiber, Fibers, Filling, PanelType, PorousLaw, Scene};
use roomwright::study;
use roomwright::units::LengthUnit;

use super::edit::{edited, read};

fn fiber() -> impl Strategy<Value = Option<Fibers>> {
    let kind = proptest::sample::select(vec![Fiber::Glass, Fiber::Mineral, Fiber::Polyester]);
    proptest::option::of((kind, 5.0..300.0_f64, proptest::option::of(1e-6..90e-6_f64)))
        .prop_map(|fiber| fiber.map(|(kind, density, diameter)| Fibers { kind, density, diameter }))
}

/// A share that a text can say: by percent, whose numbers lie farther apart than those of shares.
fn share(percent: Range<f64>) -> impl Strategy<Value = f64> {
    percent.prop_map(|percent| percent / 100.0)
}

fn law() -> impl Strategy<Value = PorousLaw> {
    let maybe = proptest::option::of::<Range<f64>>;
    let pores = (proptest::option::of(share(11.0..99.0)), maybe(1.0..9.9), maybe(2e-6..0.004), maybe(2e-6..0.004));
    let pores = pores.prop_map(|(porosity, tortuosity, viscous_length, thermal_length)| {
        PorousLaw::Pores(Pores { porosity, tortuosity, viscous_length, thermal_length })
    });
    prop_oneof![3 => Just(PorousLaw::Miki), 1 => Just(PorousLaw::DelanyBazley), 2 => pores]
}

fn filling() -> impl Strategy<Value = Filling> {
    (proptest::option::of(500.0..500_000.0_f64), fiber(), law()).prop_map(|(flow_resistivity, fiber, law)| {
        match (flow_resistivity, fiber) {
            (None, None) => Filling { law, ..Filling::of_resistivity(12_000.0) },
            (flow_resistivity, fiber) => Filling { flow_resistivity, fiber, law },
        }
    })
}

/// Any facing; sheets thinner than 20 mm.
fn facing() -> impl Strategy<Value = Facing> {
    let sheet = || (0.0002..0.1_f64, share(0.2..77.0), 0.0002..0.02_f64);
    prop_oneof![
        Just(Facing::OpenCloth),
        (1.0..10_000.0_f64, 0.01..5.0_f64).prop_map(|(flow_resistance, mass)| Facing::Cloth { flow_resistance, mass }),
        (0.005..50.0_f64).prop_map(|mass| Facing::Membrane { mass }),
        sheet().prop_map(|(hole, open, thickness)| Facing::Perforated { hole, open, thickness }),
        sheet().prop_map(|(slot, open, thickness)| Facing::Slotted { slot, open, thickness }),
    ]
}

fn layer() -> impl Strategy<Value = CoreLayer> {
    prop_oneof![
        (filling(), 0.001..0.1_f64).prop_map(|(filling, thickness)| CoreLayer::Porous { filling, thickness }),
        (0.001..0.1_f64).prop_map(|thickness| CoreLayer::Air { thickness }),
        facing().prop_map(CoreLayer::Sheet),
    ]
}

/// Any core; a stack of thin sheets alone is not as thick as a panel must be, so it gets the air that is missing.
fn core() -> impl Strategy<Value = Core> {
    let stack = proptest::collection::vec(layer(), 1..6).prop_map(|mut layers| {
        if layers.iter().map(CoreLayer::thickness).sum::<f64>() < 0.001 {
            layers.push(CoreLayer::Air { thickness: 0.001 });
        }
        Core::Layers(layers)
    });
    prop_oneof![filling().prop_map(Core::Porous), stack]
}

/// A type of panel that is as thick as its parts.
fn panel_type() -> impl Strategy<Value = PanelType> {
    (core(), proptest::option::of(facing()), 0.001..0.4_f64).prop_map(|(core, facing, spare)| {
        let sheet = facing.as_ref().map_or(0.0, Facing::thickness);
        let parts = match &core {
            Core::Layers(layers) => layers.iter().map(CoreLayer::thickness).sum::<f64>(),
            Core::Porous(_) | Core::Material(_) => spare,
        };
        PanelType { core, facing, thickness: sheet + parts, ..read(FORMAT).stock[0].clone() }
    })
}

fn with_stock(kind: PanelType) -> Scene {
    let mut scene = read(FORMAT);
    scene.panels.clear();
    scene.stock = vec![kind];
    scene
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 300, ..ProptestConfig::default() })]

    /// Every build-up is printed so that it reads as the same one, bit by bit, in every unit.
    #[test]
    fn keeps_build_ups_through_print_and_read(kind in panel_type(), unit in proptest::sample::select(LengthUnit::ALL.to_vec())) {
        let scene = Scene { unit, ..with_stock(kind) };
        let printed = scene::print(&scene);
        let (again, warnings) = scene::read(&printed).unwrap_or_else(|found| panic!("{printed}\n{found:?}"));
        prop_assert_eq!(&again, &scene);
        prop_assert!(warnings.iter().all(|found| found.id != "layers-too-thin"), "{:?}", warnings);
    }

    /// A type of panel that is made another one reads as that one, and what was said about others stays to the letter.
    #[test]
    fn keeps_everything_else_when_a_type_of_panel_is_changed(kind in panel_type(), which in 0..6_usize) {
        let before = read(FORMAT);
        let name = before.stock[which].name.clone();
        let kind = PanelType { name: name.clone(), kind: before.stock[which].kind, count: before.stock[which].count, ..kind };
        let Ok(mut editor) = Editor::new(FORMAT) else { panic!("the format reads") };
        editor.change_stock(&name, &kind).unwrap();
        // A panel that hangs already may be too thick now.
        let Ok(after) = editor.finish() else { return Ok(()) };
        let mut expected = before.clone();
        expected.stock[which] = kind;
        prop_assert_eq!(&after.scene, &expected);
        let tables = |text: &str| text.split("\n\n").map(str::to_owned).collect::<Vec<_>>();
        let (old, new) = (tables(FORMAT), tables(&after.text));
        prop_assert_eq!(old.len(), new.len());
        prop_assert!(old.iter().zip(&new).filter(|(old, new)| old != new).count() <= 1);
    }
}

#[test]
fn keeps_the_spelling_of_a_build_up_that_is_not_changed() {
    let scene = read(FORMAT);
    for kind in &scene.stock {
        let same = edited(FORMAT, |editor| editor.change_stock(&kind.name, kind));
        assert_eq!(same, FORMAT);
        let dearer = PanelType { price: Some(99.0), ..kind.clone() };
        let changed = edited(FORMAT, |editor| editor.change_stock(&kind.name, &dearer));
        let lines: Vec<&str> = FORMAT.lines().collect();
        assert!(changed.lines().filter(|line| !lines.contains(line)).all(|line| line.contains("99")), "{changed}");
    }
    let added = edited(FORMAT, |editor| {
        editor.add_stock(&PanelType { name: "another".to_owned(), ..scene.stock[4].clone() });
        Ok(())
    });
    assert_eq!(read(&added).stock[6], PanelType { name: "another".to_owned(), ..scene.stock[4].clone() });
    assert!(Editor::new(FORMAT).unwrap().change_stock("nobody's", &scene.stock[0]).is_err());
}

/// A closet with one type of panel, whose own lines are these.
pub(crate) fn closet(lines: &str) -> Scene {
    read(&format!(
        "format = 1\nname = \"Closet\"\nuse = \"voice\"\n[room]\nsize = [2.4, 2, 2.3]\nfloor = \"Concrete floor\"\nwall_material = \"Glass 4 mm\"\n\
         ceiling_material = \"Glass 4 mm\"\n[[voice]]\nposition = [0.7, 0.5, 0.6]\ntoward = \"seat\"\n[[seat]]\near = [0.7, 1.4, 1]\n[[stock]]\nname = \
         \"panel\"\nkind = \"panel\"\nsize = [0.6, 1.2]\n{lines}"
    ))
}

fn finish(lines: &str) -> Finish {
    let scene = closet(lines);
    room::panel_finish(&scene, &scene.stock[0], scene.stock[0].gap)
}

/// A plain panel is the layer and the gap that it always was, and a cloth that breathes changes no bit of it.
#[test]
fn exact_plain_panels_are_one_layer_and_a_gap() {
    for (thickness, gap) in [(0.05, 0.0), (0.05, 0.05), (0.1, 0.12)] {
        let plain = format!("thickness = {thickness}\nflow_resistivity = 12000\ngap = {gap}\n");
        let expected = Finish::of("panel", &BuildUp::panel(12_000.0, thickness, gap), Bands::splat(0.1));
        assert_eq!(finish(&plain), Finish { depth: thickness + gap, ..expected });
        assert_eq!(finish(&plain), finish(&(plain.clone() + "facing = \"open cloth\"\n")));
        // The same as a list of layers; what the list leaves of the thickness is air.
        let layers = format!("thickness = {thickness}\nlayers = [{{ thickness = {thickness}, flow_resistivity = 12000 }}]\ngap = {gap}\n");
        assert_eq!(finish(&plain), finish(&layers));
        let short = format!("thickness = {}\nlayers = [{{ thickness = {thickness}, flow_resistivity = 12000 }}]\n", thickness + gap);
        let (one, other) = (finish(&plain), finish(&short));
        Band::ALL.into_iter().for_each(|band| assert!((one.absorption[band] - other.absorption[band]).abs() < 1e-9));
    }
}

/// What stands in the text is what is computed: every kind of layer, front first, in SI.
#[test]
fn exact_build_ups_follow_the_text() {
    let lines = "thickness = \"6 in\"\ngap = \"4 in\"\nfacing = { kind = \"cloth\", flow_resistance = 200, mass = 0.3 }\nlayers = [{ kind = \"perforated\", hole \
                 = \"5 mm\", open = 20, thickness = \"3 mm\" }, { thickness = \"2 in\", flow_resistivity = 20000, model = \"delany-bazley\" }, { kind = \"membrane\", \
                 mass = 0.5 }, { air = \"1 in\" }, { thickness = \"40 mm\", flow_resistivity = 9000, density = 60, fiber = \"glass\", porosity = 95 }, { kind = \
                 \"slotted\", slot = \"6 mm\", open = 15, thickness = \"16 mm\" }]\n";
    let scene = closet(lines);
    let pores = Pores { porosity: Some(0.95), ..Pores::default() };
    let inch = 0.0254;
    let expected = [
        Layer::Cloth { resistance: 200.0, mass: 0.3 },
        Layer::Perforated { hole: 0.005, open: 0.2, thickness: 0.003 },
        Layer::Porous { flow_resistivity: 20_000.0, thickness: 2.0 * inch, model: Model::DelanyBazley },
        Layer::Membrane { mass: 0.5, resistance: 0.0 },
        Layer::Air { thickness: inch },
        Layer::Porous { flow_resistivity: 9000.0, thickness: 0.04, model: Model::JohnsonChampouxAllard(pores) },
        Layer::Slotted { slot: 0.006, open: 0.15, thickness: 0.016 },
        Layer::Air { thickness: 6.0 * inch - 3.0 * inch - 0.059 },
        Layer::Air { thickness: 4.0 * inch },
    ];
    let found = room::build_up(&scene.stock[0], scene.stock[0].gap).unwrap().layers;
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(&expected) {
        match (found, expected) {
            (Layer::Air { thickness }, Layer::Air { thickness: expected }) => assert!((thickness - expected).abs() < 1e-12),
            _ => assert_eq!(found, expected),
        }
    }
    // By density alone the likely value of the laws is taken, and less than the whole thickness where a sheet takes some of it.
    let slats = closet(
        "thickness = 0.066\ndensity = 48\nfiber = \"glass\"\nfiber_diameter = \"6 um\"\nfacing = { kind = \"slotted\", slot = 0.006, open = 15, thickness = 0.016 }\n",
    );
    let likely = Fiber::Glass.resistivity(48.0, Some(6e-6)).unwrap().likely;
    let Layer::Porous { flow_resistivity, thickness, .. } = room::build_up(&slats.stock[0], 0.0).unwrap().layers[1] else {
        panic!("fiber")
    };
    assert!(flow_resistivity.to_bits() == likely.to_bits() && (thickness - 0.05).abs() < 1e-12);
}

/// A film before a panel turns the high octaves back, which is said with both figures; a cloth that breathes is not blamed.
#[test]
fn keeps_cautions_for_facings_that_kill_high_octaves() {
    let surveyed = |lines: &str| study::survey(&closet(lines)).stock.remove(0);
    let plain = "thickness = 0.05\nflow_resistivity = 12000\n";
    let open = surveyed(plain);
    assert!(open.cautions.is_empty() && open.high_octaves_absorption_unfaced.is_none());
    let high = |kind: &StockPanel| (5..8).map(|index| kind.absorption[Band::new(index)]).sum::<f64>() / 3.0;
    let film = surveyed(&format!("{plain}facing = {{ kind = \"membrane\", mass = 0.5 }}\n"));
    assert!((film.high_octaves_absorption_unfaced.unwrap() - high(&open)).abs() < 1e-12);
    assert!(high(&film) < 0.3 && high(&open) > 0.9, "{film:?}");
    let told = [high(&film), high(&open)].map(|value| format!("{value:.2}"));
    assert!(told.iter().all(|value| film.cautions[0].contains(value)), "{:?}", film.cautions);
    let light = surveyed(&format!("{plain}facing = {{ kind = \"cloth\", flow_resistance = 50, mass = 0.2 }}\n"));
    assert!(light.cautions.is_empty() && light.high_octaves_absorption_unfaced.is_some(), "{light:?}");
    assert_eq!(film.made_of, ["membrane of 0.5 kg/m2", "50 mm fiber or foam of 12000 Pa s/m2"]);
}

/// A model that is asked for outside its range is replaced, and that is said; the values are those of the one that computes.
#[test]
fn keeps_to_the_model_that_holds_and_says_so() {
    let surveyed = |lines: &str| study::survey(&closet(lines)).stock.remove(0);
    let asked = surveyed("thickness = 0.05\nflow_resistivity = 30000\nmodel = \"delany-bazley\"\n");
    let miki = surveyed("thickness = 0.05\nflow_resistivity = 30000\n");
    assert!(
        asked.cautions.iter().any(|caution| caution.contains("Delany-Bazley does not hold at 63 Hz") && caution.contains("Miki computes")),
        "{asked:?}"
    );
    assert!(miki.cautions.is_empty() && asked.source.contains("Delany-Bazley") && miki.source.contains("Miki"));
    assert!((asked.absorption[Band::new(0)] - miki.absorption[Band::new(0)]).abs() < 1e-12);
    assert!((asked.absorption[Band::new(4)] - miki.absorption[Band::new(4)]).abs() > 1e-4);
    // Density alone leaves a wide range.
    let weighed = surveyed("thickness = 0.05\ndensity = 48\nfiber = \"glass\"\n");
    assert!(weighed.cautions.iter().any(|caution| caution.contains("A declared value is better")), "{weighed:?}");
    assert!(surveyed("thickness = 0.05\ndensity = 48\nfiber = \"glass\"\nfiber_diameter = \"6 um\"\n").cautions.is_empty());
}
