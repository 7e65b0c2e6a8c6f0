//! How surfaces absorb over the angle: impedance of table rows, porous layers.

use proptest::prelude::{prop_assert, proptest};
use roomwright::absorbers::impedance::{self, absorption_at, from_random_incidence, random_incidence_absorption};
use roomwright::absorbers::sized::sample::Sample;
use roomwright::absorbers::table;
use roomwright::absorbers::{BuildUp, COSINE_BINS, Finish, bin_weight, diffuse_average};
use roomwright::bands::{Band, Bands};

use super::{Check, rounding};

const MIKI: &str = include_str!("../cases/porous_miki.csv");

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = vec![
        Check {
            what: "random-incidence absorption of z = 3".to_owned(),
            ours: random_incidence_absorption(3.0),
            expected: 0.868_810,
            tolerance: rounding("0.868810"),
            why: "printed digits",
            source: "Paris integral, closed form, computed independently",
        },
        Check {
            what: "greatest random-incidence absorption of a real impedance".to_owned(),
            ours: random_incidence_absorption(1.5669),
            expected: 0.95122,
            tolerance: rounding("0.95122"),
            why: "printed digits",
            source: "maximum of the closed form at z = 1.5669, computed independently; text books print 0.951 at 1.57",
        },
        Check {
            what: "impedance of random-incidence absorption 0.868810".to_owned(),
            ours: from_random_incidence(0.868_810),
            expected: 3.0,
            tolerance: 1e-5,
            why: "six digits of the absorption, slope d alpha / d z = -0.10",
            source: "Paris integral, closed form, computed independently",
        },
    ];
    for asked in [0.96, 0.99] {
        let finish = Finish::from_random_incidence("mosaic", Bands::splat(asked), Bands::splat(0.0), Bands::splat(false));
        checks.push(Check {
            what: format!("diffuse average over the bins of a material of {asked}"),
            ours: absorbed(&finish)[Band::new(4)],
            expected: asked,
            tolerance: 1e-6,
            why: "shares are held in single precision",
            source: "the value asked for: impedance of greatest absorption and matched deep layer in shares that make it",
        });
    }
    for line in MIKI.lines().skip(3) {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |index: usize| fields[index].parse::<f64>().expect("a number");
        let layer = BuildUp::panel(number(0), number(1), number(2));
        for (index, frequency) in [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0].into_iter().enumerate() {
            checks.push(Check {
                what: format!("{} Pa s/m2, {} m, gap {} m, {} {frequency} Hz", fields[0], fields[1], fields[2], fields[3]),
                ours: if fields[3] == "normal" { layer.normal(frequency) } else { layer.diffuse(frequency) },
                expected: number(4 + index),
                tolerance: rounding(fields[4 + index]),
                why: "printed digits",
                source: "Miki (1990) layer before a rigid wall, computed independently",
            });
        }
    }
    checks
}

/// Diffuse average of what a finish absorbs, from its bins.
fn absorbed(finish: &Finish) -> Bands<f64> {
    (diffuse_average(&finish.specular) + diffuse_average(&finish.diffuse)).map(|reflected| 1.0 - reflected)
}

fn assert_close(ours: Bands<f64>, expected: Bands<f64>, tolerance: f64, what: &str) {
    for band in Band::ALL {
        assert!((ours[band] - expected[band]).abs() <= tolerance, "{what}, {}: {} is not {}", band.label(), ours[band], expected[band]);
    }
}

#[test]
fn exact_bin_weights_make_one() {
    let sum: f64 = (0..COSINE_BINS).map(bin_weight).sum();
    assert!((sum - 1.0).abs() < 1e-14);
}

#[test]
fn exact_diffuse_average_of_every_row_is_its_value() {
    for row in table::rows() {
        let finish = row.finish();
        let asked = row.absorption().0;
        assert_close(absorbed(&finish), finish.absorption, 1e-6, row.name);
        // A row that passes 1 holds the edges of its sample: its endless surface is another's matter (`sized`).
        let found = asked.map(|value| (value.min(0.99), value > 0.99));
        let is_edged = asked.0.iter().any(|&value| value > 1.0);
        let found = if is_edged { Sample::usual().material(asked).map(|found| (found.absorption, found.capped)) } else { found };
        assert_close(finish.absorption, found.map(|(value, _)| value), 1e-12, row.name);
        assert_eq!((finish.capped, finish.is_turned_back), (found.map(|(_, capped)| capped), is_edged), "{}", row.name);
        let scattered = finish.absorption.zip(finish.scattering, |absorption, scattering| (1.0 - absorption) * scattering);
        assert_close(diffuse_average(&finish.diffuse), scattered, 1e-6, row.name);
    }
}

#[test]
fn exact_bins_are_the_mean_of_the_law_over_their_cosines() {
    // Midpoint rule with a thousand steps a bin, against the closed form in the program.
    for absorption in [0.01, 0.1, 0.4, 0.9] {
        let z = from_random_incidence(absorption);
        let finish = Finish::from_random_incidence("test", Bands::splat(absorption), Bands::splat(0.0), Bands::splat(false));
        for bin in [0, 1, 13, 40, 63] {
            let (mut sum, mut weights) = (0.0, 0.0);
            for step in 0..1000 {
                let cosine = (f64::from(bin) + (f64::from(step) + 0.5) / 1000.0) / COSINE_BINS as f64;
                sum += cosine * absorption_at(z, cosine);
                weights += cosine;
            }
            let ours = 1.0 - f64::from(finish.specular[bin as usize][Band::new(4)]);
            assert!((ours - sum / weights).abs() < 1e-6, "alpha {absorption}, bin {bin}: {ours} is not {}", sum / weights);
        }
    }
}

#[test]
fn exact_inversion_of_the_random_incidence_value() {
    for step in 1..=951 {
        let absorption = f64::from(step) / 1000.0;
        let z = from_random_incidence(absorption);
        assert!(z >= 1.5669);
        assert!((random_incidence_absorption(z) - absorption).abs() < 1e-12, "{absorption}");
    }
    assert_eq!(from_random_incidence(1.2), impedance::IMPEDANCE_OF_GREATEST_ABSORPTION);
    assert!(from_random_incidence(0.0).is_infinite());
}

#[test]
fn exact_diffuse_average_above_what_an_impedance_reaches() {
    // From one model to the next and beyond 1: the average is the value asked for as long as it is kept, and never falls on the way.
    let mut before = 0.0;
    for step in 900..=1200 {
        let asked = f64::from(step) / 1000.0;
        let finish = Finish::from_random_incidence("test", Bands::splat(asked), Bands::splat(0.1), Bands::splat(false));
        let ours = absorbed(&finish)[Band::new(4)];
        assert!((ours - asked.min(0.99)).abs() < 1e-6, "{asked}: {ours}");
        assert!(ours >= before - 1e-7, "{asked}: {ours} after {before}");
        assert_eq!(finish.capped, Bands::splat(asked > 0.99), "{asked}");
        before = ours;
    }
}

#[test]
fn exact_mosaic_of_impedance_and_deep_layer() {
    let of = |asked: f64| Finish::from_random_incidence("test", Bands::splat(asked), Bands::splat(0.0), Bands::splat(false));
    let returned = |finish: &Finish, bin: usize| f64::from(finish.specular[bin][Band::new(4)]);
    let (below, above) = (of(0.951_2), of(0.951_3));
    // Half of it layer: refraction index 1 and impedance 1 return nothing by Snell and Fresnel, so half of what the impedance returns is left.
    let half = of(0.5 * (1.0 + impedance::GREATEST_ABSORPTION));
    for bin in 0..COSINE_BINS {
        assert!((returned(&below, bin) - returned(&above, bin)).abs() < 0.01, "no step in the law over the angle, bin {bin}");
        let (mut sum, mut weights) = (0.0, 0.0);
        for step in 0..1000 {
            let cosine = (bin as f64 + (f64::from(step) + 0.5) / 1000.0) / COSINE_BINS as f64;
            sum += cosine * 0.5 * (1.0 - absorption_at(impedance::IMPEDANCE_OF_GREATEST_ABSORPTION, cosine));
            weights += cosine;
        }
        assert!((returned(&half, bin) - sum / weights).abs() < 1e-5, "bin {bin}");
    }
}

#[test]
fn keeps_a_word_about_values_of_every_angle_above_one() {
    let finish = Finish::uniform("test", Bands([0.5, 1.0, 1.2, f64::NAN, 0.0, 1.0, 1.0, 1.0]), Bands::splat(0.0));
    assert_eq!(finish.capped.0, [false, false, true, false, false, false, false, false]);
    assert_eq!(finish.absorption.0[..3], [0.5, 1.0, 1.0]);
}

#[test]
fn exact_hard_surfaces_absorb_half_as_much_at_normal_incidence_as_at_random() {
    // For large z the closed forms tend to 4/z and 8/z.
    let z = from_random_incidence(0.001);
    assert!((absorption_at(z, 1.0) / 0.001 - 0.5).abs() < 0.01);
}

#[test]
fn exact_diffuse_average_of_layers_is_their_value() {
    for (flow_resistivity, thickness, gap) in [(10_000.0, 0.05, 0.0), (12_000.0, 0.1, 0.1), (40_000.0, 0.2, 0.0), (6_000.0, 0.3, 0.4)] {
        let finish = Finish::of("layer", &BuildUp::panel(flow_resistivity, thickness, gap), Bands::splat(0.1));
        assert_close(absorbed(&finish), finish.absorption, 1e-6, "layer");
        assert!((finish.depth - thickness - gap).abs() < 1e-15);
        // The band value once more, by a midpoint rule over angle and frequency that shares nothing with the program's.
        let layer = BuildUp::panel(flow_resistivity, thickness, gap);
        for band in Band::ALL {
            let mut sum = 0.0;
            for tone in 0..60 {
                let frequency = band.lower() * 10.0_f64.powf(0.3 * (f64::from(tone) + 0.5) / 60.0);
                for step in 0..400 {
                    let cosine = (f64::from(step) + 0.5) / 400.0;
                    sum += 2.0 * cosine * layer.absorption(frequency, cosine) / (60.0 * 400.0);
                }
            }
            assert!((finish.absorption[band] - sum).abs() < 2e-3, "{}: {} is not {sum}", band.label(), finish.absorption[band]);
        }
    }
}

#[test]
fn exact_layers_scale() {
    // Miki's constants depend on f / sigma alone, the layer on f d: twice the resistivity at half the size and twice the frequency is the same layer.
    let (one, other) = (BuildUp::panel(10_000.0, 0.1, 0.1), BuildUp::panel(20_000.0, 0.05, 0.05));
    for frequency in [40.0, 100.0, 333.0, 1000.0, 2500.0] {
        for cosine in [0.05, 0.4, 0.8, 1.0] {
            assert!((one.absorption(frequency, cosine) - other.absorption(2.0 * frequency, cosine)).abs() < 1e-12);
        }
    }
}

#[test]
fn exact_air_absorbs_nothing() {
    for layer in [BuildUp::panel(0.0, 0.1, 0.0), BuildUp::panel(10_000.0, 0.0, 0.1), BuildUp::panel(f64::NAN, -1.0, f64::INFINITY)] {
        for frequency in [63.0, 1000.0] {
            assert!(layer.diffuse(frequency).abs() < 1e-12);
        }
    }
}

#[test]
fn exact_mix_is_linear() {
    let wall = table::find("Plaster on solid wall").expect("in the table").finish();
    let panel = Finish::of("panel", &BuildUp::panel(12_000.0, 0.1, 0.05), Bands::splat(0.1));
    let mix = Finish::mixed(&wall, &panel, 0.05);
    for bin in 0..COSINE_BINS {
        for band in Band::ALL {
            for (ours, first, second) in [
                (mix.specular[bin][band], wall.specular[bin][band], panel.specular[bin][band]),
                (mix.diffuse[bin][band], wall.diffuse[bin][band], panel.diffuse[bin][band]),
            ] {
                assert!((f64::from(ours) - 0.95 * f64::from(first) - 0.05 * f64::from(second)).abs() < 1e-7);
            }
        }
    }
    assert_close(absorbed(&mix), mix.absorption, 1e-6, "mix");
    let scattered = mix.absorption.zip(mix.scattering, |absorption, scattering| (1.0 - absorption) * scattering);
    assert_close(diffuse_average(&mix.diffuse), scattered, 1e-3, "mix");
    assert_eq!(Finish::mixed(&wall, &panel, 0.0).specular, wall.specular);
    assert_eq!(Finish::mixed(&wall, &panel, 1.0).diffuse, panel.diffuse);
}

#[test]
fn exact_edge_moves_mirrored_energy_to_scattered() {
    let panel = Finish::of("panel", &BuildUp::panel(12_000.0, 0.1, 0.05), Bands::splat(0.1));
    let edged = panel.with_edge(Bands([0.9, 0.7, 0.5, 0.3, 0.2, 0.1, 0.0, 1.0]));
    assert_close(absorbed(&edged), panel.absorption, 1e-6, "edged");
    assert_close(
        diffuse_average(&edged.specular),
        diffuse_average(&panel.specular) * Bands([0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 1.0, 0.0]),
        1e-6,
        "edged",
    );
    assert!((edged.scattering[Band::new(0)] - 0.91).abs() < 1e-12);
}

#[test]
fn keeps_every_share_between_zero_and_one_whatever_is_asked() {
    let wild = Bands([f64::NAN, -1.0, 0.0, 0.5, 1.0, 1.5, f64::INFINITY, f64::NEG_INFINITY]);
    let finishes = [
        Finish::uniform("wild", wild, wild),
        Finish::from_random_incidence("wild", wild, wild, Bands::splat(false)),
        Finish::of("wild", &BuildUp::panel(f64::INFINITY, f64::MAX, 1e300), wild),
        Finish::of("wild", &BuildUp::panel(1e-300, 1e-300, 0.0), wild),
        Finish::mixed(&Finish::uniform("a", wild, wild), &Finish::uniform("b", wild, wild), f64::NAN).with_edge(wild),
    ];
    for finish in &finishes {
        for bins in [&finish.specular, &finish.diffuse] {
            assert_eq!(bins.len(), COSINE_BINS);
            assert!(bins.iter().flat_map(|bin| bin.0).all(|share| (0.0..=1.0).contains(&share)));
        }
        for values in [finish.absorption, finish.scattering] {
            assert!(values.0.iter().all(|share| (0.0..=1.0).contains(share)), "{}", finish.name);
        }
    }
}

proptest! {
    #[test]
    fn keeps_layers_passive(flow_resistivity in 100.0..1e7_f64, thickness in 0.001..1.0_f64, gap in 0.0..1.0_f64, frequency in 20.0..12_000.0_f64, cosine in 0.0..1.0_f64) {
        // The layer's own value, before any clamp: the surface takes power in, it gives none out.
        let absorption = BuildUp::panel(flow_resistivity, thickness, gap).tone(frequency).absorption(cosine);
        prop_assert!((-1e-12..1.0 + 1e-12).contains(&absorption), "{absorption}");
    }
}
