//! Build-ups of layers: fluids, sheets with openings, stacks, resonances, and what holds of all of them.

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;
use roomwright::absorbers::cache::Cache;
use roomwright::absorbers::fluid::{AIR_DENSITY, AIR_IMPEDANCE, AIR_VISCOSITY, Fluid, Model, Pores};
use roomwright::absorbers::opening::{Form, Sheet, density_in_hole, density_in_slot};
use roomwright::absorbers::resistivity::Fiber;
use roomwright::absorbers::{Backing, BuildUp, COSINE_BINS, Finish, Incidence, Layer};
use roomwright::air::REFERENCE_SPEED;
use roomwright::bands::{Band, Bands};

use super::{Check, rounding};

const POROUS: &str = include_str!("../cases/porous_layers.csv");

const TONES: [f64; 8] = [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];

const INDEPENDENT: &str = "transfer matrices, computed independently of this project";

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = porous_checks();
    checks.extend(resonance_checks());
    checks.extend(thin_checks());
    checks.extend(resistivity_checks());
    checks
}

/// One line of the outside values.
struct Line {
    model: Model,
    name: &'static str,
    flow_resistivity: f64,
    thickness: f64,
    gap: f64,
    quantity: &'static str,
    values: [f64; 8],
}

fn lines() -> impl Iterator<Item = Line> {
    POROUS.lines().filter(|line| !line.starts_with('#')).skip(1).map(|line| {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |index: usize| fields[index].parse::<f64>().expect("a number");
        let model = match fields[0] {
            "Miki" => Model::Miki,
            "Delany-Bazley" => Model::DelanyBazley,
            "Delany-Bazley by density" => Model::DelanyBazleyByDensity,
            "Johnson-Champoux-Allard" => Model::JohnsonChampouxAllard(Pores::default()),
            "Zwikker-Kosten" => Model::ZwikkerKosten { porosity: 0.98, tortuosity: 1.0 },
            other => panic!("{other} is no model"),
        };
        let values = std::array::from_fn(|tone| number(5 + tone));
        Line { model, name: fields[0], flow_resistivity: number(1), thickness: number(2), gap: number(3), quantity: fields[4], values }
    })
}

/// The quantity of a line, as the program computes it.
fn ours(line: &Line, frequency: f64) -> f64 {
    let porous = Layer::Porous { flow_resistivity: line.flow_resistivity, thickness: line.thickness, model: line.model };
    let build_up = BuildUp::new([porous, Layer::Air { thickness: line.gap }]);
    match line.quantity {
        "normal" => build_up.normal(frequency),
        "diffuse" => build_up.diffuse(frequency),
        "diffuse 78" => build_up.tone(frequency).diffuse_within(78_f64.to_radians().cos()),
        "local" => build_up.in_cells().diffuse(frequency),
        "resistance" => build_up.surface_impedance(frequency, 1.0).re,
        "reactance" => build_up.surface_impedance(frequency, 1.0).im,
        other => panic!("{other} is no quantity"),
    }
}

/// Surface impedance re air of a layer of a fluid before a gap, by the cotangent formulas of the text books: another way than the program's.
fn cotangents(fluid: Fluid, line: &Line, frequency: f64, cosine: f64) -> Complex64 {
    let k = TAU * frequency / REFERENCE_SPEED;
    let across = (fluid.index * fluid.index - 1.0 + cosine * cosine).sqrt();
    let (own, cot) = (fluid.impedance * fluid.index / across, 1.0 / (across * k * line.thickness).tan());
    let j = Complex64::I;
    if line.gap > 0.0 {
        let behind = -j / cosine / (k * line.gap * cosine).tan();
        own * (-j * behind * cot + own) / (behind - j * own * cot)
    } else {
        -j * own * cot
    }
}

/// The quantity of a line by the formulas of its model, whether they hold or not.
fn by_formula(line: &Line, frequency: f64) -> f64 {
    let fluid = line.model.formula(line.flow_resistivity, frequency);
    let absorption = |z: Complex64, cosine: f64| 4.0 * cosine * z.re / (z * cosine + 1.0).norm_sqr();
    let normal = cotangents(fluid, line, frequency, 1.0);
    let mean = |least: f64, of: &dyn Fn(f64) -> f64| {
        let width = (1.0 - least) / 4000.0;
        let middles = (0..4000).map(|step| least + (f64::from(step) + 0.5) * width);
        let (sum, weights) = middles.fold((0.0, 0.0), |sum, cosine| (sum.0 + cosine * of(cosine), sum.1 + cosine));
        sum / weights
    };
    let bulk = |cosine: f64| absorption(cotangents(fluid, line, frequency, cosine), cosine);
    match line.quantity {
        "normal" => absorption(normal, 1.0),
        "diffuse" => mean(0.0, &bulk),
        "diffuse 78" => mean(78_f64.to_radians().cos(), &bulk),
        "local" => mean(0.0, &|cosine| absorption(normal, cosine)),
        "resistance" => normal.re,
        "reactance" => normal.im,
        other => panic!("{other} is no quantity"),
    }
}

/// Worst deviation of each quantity of each model; where the formulas of a model do not hold, the formulas themselves are held to the outside values.
fn porous_checks() -> Vec<Check> {
    let mut worst: Vec<(String, f64, usize)> = Vec::new();
    for line in lines() {
        for (frequency, expected) in TONES.into_iter().zip(line.values) {
            let holds = line.model.holds_at(line.flow_resistivity, frequency);
            let value = if holds { ours(&line, frequency) } else { by_formula(&line, frequency) };
            let kind = if holds { "" } else { " (the formulas beyond their range)" };
            let what = format!("{}, {}{kind}", line.name, line.quantity);
            let off = (value - expected).abs();
            match worst.iter_mut().find(|row| row.0 == what) {
                Some(row) => *row = (what, row.1.max(off), row.2 + 1),
                None => worst.push((what, off, 1)),
            }
        }
    }
    let row = |(what, off, count): (String, f64, usize)| Check {
        what: format!("{what}: worst of {count} values"),
        ours: off,
        expected: 0.0,
        tolerance: rounding("0.0001"),
        why: "printed digits",
        source: INDEPENDENT,
    };
    worst.into_iter().map(row).collect()
}

/// The frequency at which a reactance passes through 0 from below, between these two.
fn resonance(build_up: &BuildUp, low: f64, high: f64) -> f64 {
    let (mut low, mut high) = (low, high);
    assert!(build_up.surface_impedance(low, 1.0).im < 0.0 && build_up.surface_impedance(high, 1.0).im > 0.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if build_up.surface_impedance(middle, 1.0).im < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

fn resonance_checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for (mass, depth) in [(3.0, 0.05), (5.0, 0.1), (10.0, 0.1)] {
        let membrane = BuildUp::new([Layer::Membrane { mass, resistance: 0.0 }, Layer::Air { thickness: depth }]);
        checks.push(Check {
            what: format!("resonance of a membrane of {mass} kg/m2 before {depth} m of air, Hz"),
            ours: resonance(&membrane, 20.0, 200.0),
            expected: 60.0 / f64::sqrt(mass * depth),
            tolerance: 0.01 * 60.0 / f64::sqrt(mass * depth),
            why: "the rule rounds 59.9 up and takes the depth for small against the wavelength",
            source: "60 / sqrt(m d), text books",
        });
    }
    // Holes so wide that friction adds less than a hundredth to their mass, a cavity that is small against the wavelength.
    for (hole, open, thickness, depth) in [(0.020, 0.02, 0.012, 0.05), (0.010, 0.01, 0.018, 0.05), (0.020, 0.05, 0.006, 0.02)] {
        let absorber = BuildUp::new([Layer::Perforated { hole, open, thickness }, Layer::Air { thickness: depth }]);
        let both_ends = 0.85 * hole * (1.0 - 1.47 * f64::sqrt(open) + 0.47 * f64::sqrt(open).powi(3));
        let expected = REFERENCE_SPEED / TAU * f64::sqrt(open / (depth * (thickness + both_ends)));
        checks.push(Check {
            what: format!("resonance of holes of {hole} m, {open} open, {thickness} m thick, before {depth} m of air, Hz"),
            ours: resonance(&absorber, 30.0, 2000.0),
            expected,
            tolerance: 0.03 * expected,
            why: "the formula leaves out friction and takes the depth for small against the wavelength",
            source: "c / (2 pi) sqrt(e / (d (t + 2 ends))), ends by Rschevkin's correction 1 - 1.47 sqrt(e) + 0.47 sqrt(e)^3, text books",
        });
    }
    checks
}

fn thin_checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for ratio in [0.5, 2.0, 8.0] {
        let cloth = BuildUp::new([Layer::Cloth { resistance: ratio * AIR_IMPEDANCE, mass: f64::INFINITY }]);
        checks.push(Check {
            what: format!("absorption of cloth of {ratio} rho c that is held still in free air, normal"),
            ours: cloth.suspended().normal(500.0),
            expected: 4.0 * ratio / (2.0 + ratio).powi(2),
            tolerance: 1e-3 * 4.0 * ratio / (2.0 + ratio).powi(2),
            why: "held still is as heavy as the heaviest membrane",
            source: "4 r / (2 + r)^2, closed form",
        });
    }
    let spaced = BuildUp::new([
        Layer::Cloth { resistance: AIR_IMPEDANCE, mass: f64::INFINITY },
        Layer::Air { thickness: REFERENCE_SPEED / (4.0 * 500.0) },
    ]);
    checks.push(Check {
        what: "absorption of cloth of rho c a quarter of a wavelength before a wall, normal".to_owned(),
        ours: spaced.normal(500.0),
        expected: 1.0,
        tolerance: 1e-9,
        why: "rounding",
        source: "matched termination, closed form",
    });
    for (mass, cosine) in [(0.5, 1.0), (5.0, 1.0), (5.0, 0.3)] {
        let wall = BuildUp::new([Layer::Membrane { mass, resistance: 0.0 }]).suspended();
        let ratio = TAU * 500.0 * mass * cosine / (2.0 * AIR_IMPEDANCE);
        checks.push(Check {
            what: format!("power through {mass} kg/m2 at 500 Hz, cosine {cosine}"),
            ours: wall.transmission_factor(500.0, cosine).norm_sqr(),
            expected: 1.0 / (1.0 + ratio * ratio),
            tolerance: 1e-12,
            why: "rounding",
            source: "mass law 1 / (1 + (w m c / 2 Z0)^2), closed form",
        });
    }
    checks
}

fn resistivity_checks() -> Vec<Check> {
    let glass = [("16", "5.0"), ("24", "8.9"), ("32", "13.4"), ("48", "23.9"), ("64", "35.9"), ("80", "49")];
    let row = |(density, expected): (&str, &'static str)| Check {
        what: format!("flow resistivity of glass wool of {density} kg/m3, fibers of 6 micrometers, first law, kPa s/m2"),
        ours: Fiber::Glass.laws(density.parse().expect("a number"), 6e-6)[0] / 1000.0,
        expected: expected.parse().expect("a number"),
        tolerance: if expected.contains('.') { 1.1 * rounding(expected) } else { rounding(expected) },
        why: "printed digits, and a hair for the density of the fiber, which is rounded too",
        source: "3.2 eta s^1.42 / a^2 (T. J. Cox and P. D'Antonio, table 5.1), computed independently",
    };
    glass.map(row).into()
}

#[test]
fn exact_formulas_are_those_of_the_text_books_where_the_program_uses_them() {
    // The chain of the program against the cotangents, everywhere but where the model gives way to another.
    for line in lines() {
        for frequency in TONES {
            if line.model.holds_at(line.flow_resistivity, frequency) {
                let (chain, cotangents) = (ours(&line, frequency), by_formula(&line, frequency));
                assert!((chain - cotangents).abs() < 2e-6, "{} {} {frequency}: {chain} is not {cotangents}", line.name, line.quantity);
            }
        }
    }
}

#[test]
fn exact_model_that_does_not_hold_gives_way_to_one_that_does() {
    let of = |model| BuildUp::new([Layer::Porous { flow_resistivity: 20_000.0, thickness: 0.05, model }]);
    let (asked, miki) = (of(Model::DelanyBazley), of(Model::Miki));
    for frequency in [63.0, 125.0, 199.0, 20_001.0] {
        assert_eq!(asked.normal(frequency), miki.normal(frequency), "{frequency} Hz");
    }
    for frequency in [250.0, 1000.0, 19_999.0] {
        assert!((asked.normal(frequency) - miki.normal(frequency)).abs() > 1e-4, "{frequency} Hz");
    }
    let substitutes = asked.substitutes();
    assert_eq!(substitutes.len(), 1);
    assert_eq!((substitutes[0].layer, substitutes[0].used), (0, Model::Miki));
    assert_eq!(substitutes[0].bands.0, [true, true, false, false, false, false, false, false]);
    assert!(miki.substitutes().is_empty());
    // The limit that the page states: the modulus turns active a little above the foot of the range.
    for (model, limit) in [(Model::DelanyBazley, 0.010_65), (Model::DelanyBazleyByDensity, 0.011_71)] {
        assert!(!model.holds_at(1000.0, 1000.0 * limit * 0.999) && model.holds_at(1000.0, 1000.0 * limit * 1.001));
    }
}

#[test]
fn exact_holes_and_slots_by_the_series_of_their_functions() {
    for ratio in [0.01, 0.3, 1.0, 3.0, 8.0] {
        // q^2 = -j x^2.
        let square = Complex64::new(0.0, -ratio * ratio);
        let series = |order: f64| {
            let (mut term, mut sum) = (Complex64::ONE, Complex64::ONE);
            for index in 1..80 {
                term *= -square / (4.0 * f64::from(index) * (f64::from(index) + order));
                sum += term;
            }
            sum
        };
        let expected = 1.0 / (1.0 - series(1.0) / series(0.0));
        let found = density_in_hole(ratio);
        assert!((found - expected).norm() < 1e-9 * expected.norm().max(1.0 / (ratio * ratio)), "x = {ratio}: {found} is not {expected}");
    }
    for density in [density_in_hole as fn(f64) -> Complex64, density_in_slot] {
        assert!((density(49.999_9) - density(50.000_1)).norm() < 1e-6, "no step where another series takes over");
        // Wide openings hold little: 1 + (1 - j) / (x sqrt 2) times 2 for round holes, 1 for slots.
        let far = density(1000.0) - 1.0;
        assert!((far.re + far.im).abs() < 1e-5 && far.re > 0.0);
    }
    // Narrow ones: the resistivity of Poiseuille's flow, 8 eta / r^2 and 3 eta / (w / 2)^2, and 4/3 and 6/5 of the mass.
    let (hole, slot) = (density_in_hole(0.05), density_in_slot(0.05));
    assert!((hole.re - 4.0 / 3.0).abs() < 1e-5 && (hole.im * 0.0025 + 8.0).abs() < 1e-5, "{hole}");
    assert!((slot.re - 1.2).abs() < 1e-5 && (slot.im * 0.0025 + 3.0).abs() < 1e-5, "{slot}");
}

#[test]
fn exact_ends_of_openings_in_their_limits() {
    let end = |form, open| Sheet { form, width: 0.01, open, thickness: 0.0 }.end_correction();
    // A piston in a wall: 8 r / (3 pi) on each side; a lone slot: a logarithm.
    assert!((end(Form::Round, 1e-8) / (8.0 * 0.005 / (3.0 * PI)) - 1.0).abs() < 2e-4);
    assert!((end(Form::Slot, 1e-4) / (0.01 / PI * f64::ln(2.0 / (PI * 1e-4))) - 1.0).abs() < 1e-6);
    for form in [Form::Round, Form::Slot] {
        assert!(end(form, 1.0).abs() < 1e-4, "no end where all is open");
        let ends: Vec<f64> = (1..100).map(|percent| end(form, f64::from(percent) / 100.0)).collect();
        assert!(ends.windows(2).all(|pair| pair[1] < pair[0] || pair[0] < 1e-4), "neighbors take mass away");
    }
    // Another published correction for the crowd of round holes.
    for percent in 1..=60 {
        let root = (f64::from(percent) / 100.0).sqrt();
        let crowd = end(Form::Round, root * root) / end(Form::Round, 1e-12);
        assert!((crowd - (1.0 - 1.47 * root + 0.47 * root.powi(3))).abs() < 0.03, "{percent} %: {crowd}");
    }
}

#[test]
fn exact_sheet_before_fiber_adds_its_impedance() {
    let fiber = Layer::fiber(12_000.0, 0.05);
    let cloth = BuildUp::new([fiber]).faced(Layer::Cloth { resistance: 200.0, mass: 0.3 });
    let sheet = BuildUp::new([Layer::Perforated { hole: 0.005, open: 0.2, thickness: 0.006 }, Layer::Air { thickness: 0.01 }, fiber]);
    for frequency in [100.0, 700.0, 5000.0] {
        let omega = TAU * frequency;
        let added = cloth.surface_impedance(frequency, 0.5) - BuildUp::new([fiber]).surface_impedance(frequency, 0.5);
        let expected = 1.0 / (1.0 / 200.0 + 1.0 / Complex64::new(0.0, omega * 0.3)) / AIR_IMPEDANCE;
        assert!((added - expected).norm() < 1e-9, "{frequency} Hz: {added} is not {expected}");
        let bare = BuildUp::new(sheet.layers[1..].to_vec());
        let added = (sheet.surface_impedance(frequency, 1.0) - bare.surface_impedance(frequency, 1.0)) * AIR_IMPEDANCE * 0.2;
        let end = Sheet { form: Form::Round, width: 0.005, open: 0.2, thickness: 0.006 }.end_correction();
        let held = density_in_hole(0.0025 * (omega * AIR_DENSITY / AIR_VISCOSITY).sqrt());
        let friction = 2.0 * (2.0 * AIR_VISCOSITY * omega * AIR_DENSITY).sqrt();
        let expected = Complex64::I * omega * AIR_DENSITY * (held * 0.006 + 2.0 * end) + friction;
        assert!((added - expected).norm() < 1e-9 * expected.norm(), "{frequency} Hz: {added} is not {expected}");
    }
}

#[test]
fn keeps_more_resistance_where_fiber_touches_the_holes() {
    let sheet = Layer::Perforated { hole: 0.005, open: 0.1, thickness: 0.006 };
    let (touching, apart) = (
        BuildUp::new([sheet, Layer::fiber(10_000.0, 0.05)]),
        BuildUp::new([sheet, Layer::Air { thickness: 1e-9 }, Layer::fiber(10_000.0, 0.05)]),
    );
    let more = (touching.surface_impedance(200.0, 1.0) - apart.surface_impedance(200.0, 1.0)).re * AIR_IMPEDANCE;
    // About the resistivity over the length of the end, through a tenth of the area.
    let end = Sheet { form: Form::Round, width: 0.005, open: 0.1, thickness: 0.006 }.end_correction();
    assert!((0.5..2.0).contains(&(more / (10_000.0 * end / 0.1))), "{more} Pa s/m");
}

#[test]
fn exact_facings_that_are_not_there_change_nothing() {
    let bare = BuildUp::panel(12_000.0, 0.05, 0.05);
    let nothing = [
        Layer::Membrane { mass: 0.0, resistance: 0.0 },
        Layer::Cloth { resistance: 0.0, mass: 0.5 },
        Layer::Cloth { resistance: 500.0, mass: 0.0 },
        Layer::Air { thickness: 0.0 },
        Layer::fiber(20_000.0, 0.0),
    ];
    for facing in nothing {
        let faced = bare.clone().faced(facing);
        for frequency in [63.0, 1000.0, 8000.0] {
            assert!((faced.diffuse(frequency) - bare.diffuse(frequency)).abs() < 1e-12, "{facing:?}");
        }
    }
    // Nothing but openings of a sheet without thickness, at a frequency where its faces hardly rub.
    let open = bare.clone().faced(Layer::Perforated { hole: 0.01, open: 1.0, thickness: 0.0 });
    assert!((open.normal(500.0) - bare.normal(500.0)).abs() < 2e-3);
}

#[test]
fn exact_build_ups_scale() {
    // Miki's constants depend on f / sigma alone: twice the resistivity at half the size, half the mass and twice the frequency is the same.
    let of = |by: f64| {
        BuildUp::new([
            Layer::Membrane { mass: 0.4 / by, resistance: 30.0 },
            Layer::fiber(10_000.0 * by, 0.1 / by),
            Layer::Air { thickness: 0.05 / by },
            Layer::Cloth { resistance: 300.0, mass: 0.2 / by },
            Layer::fiber(6_000.0 * by, 0.03 / by),
        ])
    };
    for backing in [Backing::Rigid, Backing::FreeAir] {
        let [one, other] = [1.0, 2.0].map(|by| BuildUp { backing, ..of(by) });
        for frequency in [40.0, 333.0, 2500.0] {
            assert!((one.diffuse(frequency) - other.diffuse(2.0 * frequency)).abs() < 1e-10);
            for cosine in [0.05, 0.5, 1.0] {
                let (first, second) = (one.reflection_factor(frequency, cosine), other.reflection_factor(2.0 * frequency, cosine));
                assert!((first - second).norm() < 1e-10);
            }
        }
    }
}

#[test]
fn exact_tables_are_the_mean_of_every_angle_by_itself() {
    // Polynomials over the angle against the chain at every angle, in bins at the two ends and between.
    let sheet = Layer::Perforated { hole: 0.005, open: 0.1, thickness: 0.006 };
    let deep = [Layer::fiber(8_000.0, 0.1), Layer::Air { thickness: 0.2 }];
    let (first, last) = (0.774_596_669_241_483_4, 5.0 / 9.0);
    for layers in [vec![Layer::fiber(12_000.0, 0.05)], vec![sheet, deep[0], deep[1]], vec![deep[0]; 6], vec![deep[1], sheet]] {
        for build_up in [BuildUp::new(layers.clone()), BuildUp::new(layers.clone()).suspended(), BuildUp::new(layers).in_cells()] {
            let bins = build_up.bins();
            for (bin, band) in [(0, 0), (1, 5), (20, 3), (40, 7), (63, 1), (63, 6)].map(|(bin, band)| (bin, Band::new(band))) {
                let mut mean = 0.0;
                for step in 0..9 {
                    let frequency = band.lower() * 10_f64.powf(0.3 * (f64::from(step) + 0.5) / 9.0);
                    let tone = build_up.tone(frequency);
                    let (mut sum, mut weights) = (0.0, 0.0);
                    for (node, weight) in [(-first, last), (0.0, 8.0 / 9.0), (first, last)] {
                        let cosine = (bin as f64 + 0.5 + 0.5 * node) / COSINE_BINS as f64;
                        sum += weight * cosine * tone.absorption(cosine);
                        weights += weight * cosine;
                    }
                    mean += sum / weights / 9.0;
                }
                assert!((bins[bin][band] - mean).abs() < 1e-11, "{build_up:?} bin {bin} {}: {} {mean}", band.label(), bins[bin][band]);
            }
        }
    }
}

#[test]
fn exact_octaves_are_the_diffuse_value_of_the_tables() {
    let build_up = BuildUp::new([
        Layer::Membrane { mass: 0.3, resistance: 0.0 },
        Layer::Slotted { slot: 0.004, open: 0.15, thickness: 0.012 },
        Layer::fiber(9_000.0, 0.05),
        Layer::Air { thickness: 0.05 },
    ]);
    let finish = Finish::of("slats", &build_up, Bands::splat(0.1));
    let octaves = build_up.octaves(Incidence::Diffuse);
    let kept = Cache::new();
    for band in Band::ALL {
        assert!((finish.absorption[band] - octaves[band]).abs() < 1e-12, "{}", band.label());
    }
    assert_eq!(kept.finish("slats", &build_up, Bands::splat(0.1)), finish);
    assert_eq!(kept.finish("slats", &build_up, Bands::splat(0.1)), finish, "from what was kept");
    assert_ne!(*kept.bins(&build_up.clone().suspended()), *kept.bins(&build_up));
    assert_eq!(finish.build_up.as_deref(), Some(&build_up));
}

#[test]
fn exact_octaves_are_the_mean_over_the_band() {
    let membrane = Layer::Membrane { mass: 5.0, resistance: 0.0 };
    let sheet = Layer::Perforated { hole: 0.005, open: 0.05, thickness: 0.006 };
    let air = |thickness| Layer::Air { thickness };
    let stacks = [
        (0.000_3, vec![Layer::fiber(12_000.0, 0.05)]),
        (0.000_3, vec![Layer::fiber(8_000.0, 0.05), air(0.2)]),
        (0.000_3, vec![Layer::fiber(30_000.0, 0.02), air(0.3)]),
        (0.001_1, vec![membrane, Layer::fiber(5_000.0, 0.1)]),
        (0.001_1, vec![sheet, Layer::fiber(8_000.0, 0.05), air(0.05)]),
    ];
    for (diffuse_tolerance, layers) in stacks {
        let build_up = BuildUp::new(layers);
        for (incidence, tolerance) in
            [(Incidence::Diffuse, diffuse_tolerance), (Incidence::Normal, 0.001), (Incidence::Oblique(0.5), 0.001)]
        {
            let octaves = build_up.octaves(incidence);
            for band in Band::ALL {
                let frequencies: Vec<f64> =
                    (0..500).map(|step| band.lower() * 10_f64.powf(0.3 * (f64::from(step) + 0.5) / 500.0)).collect();
                let mean = build_up.curve(&frequencies, incidence).iter().sum::<f64>() / 500.0;
                assert!((octaves[band] - mean).abs() < tolerance, "{build_up:?} {incidence:?} {}: {} {mean}", band.label(), octaves[band]);
            }
        }
    }
}

#[test]
fn keeps_free_of_undefined_numbers_whatever_is_asked() {
    let wild = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e-300, f64::MAX];
    for a in wild {
        for b in wild {
            let pores = Pores { porosity: Some(a), tortuosity: Some(b), viscous_length: Some(a), thermal_length: Some(b) };
            let layers = [
                Layer::fiber(a, b),
                Layer::Porous { flow_resistivity: b, thickness: a, model: Model::JohnsonChampouxAllard(pores) },
                Layer::Porous { flow_resistivity: a, thickness: 0.1, model: Model::ZwikkerKosten { porosity: b, tortuosity: a } },
                Layer::Porous { flow_resistivity: a, thickness: 0.1, model: Model::DelanyBazley },
                Layer::Air { thickness: a },
                Layer::Membrane { mass: a, resistance: b },
                Layer::Cloth { resistance: a, mass: b },
                Layer::Perforated { hole: a, open: b, thickness: a },
                Layer::Slotted { slot: b, open: a, thickness: b },
            ];
            let stacks = layers.iter().map(|&layer| vec![layer]).chain([layers.to_vec(), layers.repeat(20)]);
            for build_up in stacks.map(BuildUp::new).flat_map(|build_up| [build_up.clone().suspended(), build_up]) {
                for (frequency, cosine) in [(63.0, 0.0), (1000.0, 0.5), (a, b), (8000.0, 1.0)] {
                    let absorbed = build_up.tone(frequency).absorption(cosine);
                    assert!((-1e-9..=1.0 + 1e-9).contains(&absorbed), "{absorbed}: {build_up:?} at {frequency} Hz, {cosine}");
                    let mirrored = build_up.reflection_factor(frequency, cosine).norm();
                    assert!(mirrored <= 1.0 + 1e-9, "{mirrored}: {build_up:?} at {frequency} Hz, {cosine}");
                    assert!(build_up.transmission_factor(frequency, cosine).norm() <= 1.0 + 1e-9);
                }
                let diffuse = build_up.tone(500.0).diffuse();
                assert!((-1e-9..=1.0 + 1e-9).contains(&diffuse), "{diffuse}: {build_up:?}");
            }
        }
    }
}

#[test]
fn exact_resistivity_lies_within_its_laws() {
    for fiber in [Fiber::Glass, Fiber::Mineral, Fiber::Polyester] {
        let mut before = 0.0;
        for density in [10.0, 20.0, 40.0, 80.0, 160.0] {
            let free = fiber.resistivity(density, None).expect("plausible");
            let given = fiber.resistivity(density, Some(fiber.usual_diameters()[1])).expect("plausible");
            assert!(free.low <= given.low && given.low <= given.likely && given.likely <= given.high && given.high <= free.high);
            assert!((free.likely - given.likely).abs() < 1e-9 && free.likely > before);
            before = free.likely;
            let thick = fiber.resistivity(density, Some(2.0 * fiber.usual_diameters()[1])).expect("plausible");
            assert!((thick.likely / given.likely - 0.25).abs() < 1e-12, "a quarter at twice the diameter");
        }
        for (density, diameter) in [(f64::NAN, None), (-1.0, None), (0.0, None), (1e5, None), (48.0, Some(0.0)), (48.0, Some(f64::NAN))] {
            assert_eq!(fiber.resistivity(density, diameter), None);
        }
    }
    // Typical rock wool (common practice, from memory): 30-40 kg/m3 has 6 to 12, 45-60 12 to 25, 80-100 30 to 55 kPa s/m2.
    for (density, low, high) in [(35.0, 6e3, 12e3), (52.0, 12e3, 25e3), (90.0, 30e3, 55e3)] {
        let estimate = Fiber::Mineral.resistivity(density, None).expect("plausible");
        assert!(
            estimate.low <= high && estimate.high >= low && (0.8 * low..1.25 * high).contains(&estimate.likely),
            "{density}: {estimate:?}"
        );
    }
}
