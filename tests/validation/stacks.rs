//! What holds of every build-up, however it is stacked: no power out of nothing, alike from both sides, quick tables as every angle by itself.

use proptest::prelude::{Just, ProptestConfig, Strategy, any, prop_assert, prop_oneof, proptest};
use roomwright::absorbers::fluid::{Model, Pores};
use roomwright::absorbers::{Backing, BuildUp, Layer};

/// A number between two, as likely in each of their octaves.
fn scale(low: f64, high: f64) -> impl Strategy<Value = f64> + Clone {
    (low.ln()..high.ln()).prop_map(f64::exp)
}

fn model() -> impl Strategy<Value = Model> + Clone {
    let pores =
        (scale(0.3, 1.0), scale(1.0, 4.0), scale(5e-6, 1e-3), scale(5e-6, 2e-3)).prop_map(|(porosity, tortuosity, viscous, thermal)| {
            Pores { porosity: Some(porosity), tortuosity: Some(tortuosity), viscous_length: Some(viscous), thermal_length: Some(thermal) }
        });
    prop_oneof![
        Just(Model::Miki),
        Just(Model::DelanyBazley),
        Just(Model::DelanyBazleyByDensity),
        Just(Model::JohnsonChampouxAllard(Pores::default())),
        pores.prop_map(Model::JohnsonChampouxAllard),
        (scale(0.3, 1.0), scale(1.0, 4.0)).prop_map(|(porosity, tortuosity)| Model::ZwikkerKosten { porosity, tortuosity }),
    ]
}

fn layer() -> impl Strategy<Value = Layer> + Clone {
    prop_oneof![
        3 => (scale(100.0, 1e7), scale(5e-4, 0.5), model())
            .prop_map(|(flow_resistivity, thickness, model)| Layer::Porous { flow_resistivity, thickness, model }),
        2 => scale(1e-3, 1.0).prop_map(|thickness| Layer::Air { thickness }),
        1 => (scale(0.01, 50.0), prop_oneof![Just(0.0), scale(1.0, 1e4)]).prop_map(|(mass, resistance)| Layer::Membrane { mass, resistance }),
        1 => (scale(1.0, 1e5), prop_oneof![Just(f64::INFINITY), scale(0.01, 5.0)]).prop_map(|(resistance, mass)| Layer::Cloth { resistance, mass }),
        1 => (scale(5e-5, 0.05), scale(1e-3, 1.0), scale(1e-4, 0.05)).prop_map(|(hole, open, thickness)| Layer::Perforated { hole, open, thickness }),
        1 => (scale(5e-5, 0.05), scale(1e-3, 1.0), scale(1e-4, 0.05)).prop_map(|(slot, open, thickness)| Layer::Slotted { slot, open, thickness }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(10_000))]

    // A tone's own values, before rounding errors beyond 0 and 1 are held there.
    #[test]
    fn keeps_every_build_up_passive_and_alike_from_both_sides(
        layers in proptest::collection::vec(layer(), 1..=6),
        cells in any::<bool>(),
        frequency in scale(20.0, 10_000.0),
        oblique in 0.0..1.0_f64,
    ) {
        let build_up = BuildUp { layers, backing: Backing::Rigid, cells };
        let hung = build_up.clone().suspended();
        for cosine in [oblique, 0.01 * oblique, 1.0] {
            let (absorbed, mirrored) = (build_up.tone(frequency).absorption(cosine), build_up.reflection_factor(frequency, cosine).norm_sqr());
            prop_assert!((-1e-12..1.0 + 1e-12).contains(&absorbed), "{absorbed}");
            prop_assert!((absorbed + mirrored - 1.0).abs() < 1e-9, "{absorbed} and {mirrored}");
            for side in [&hung, &hung.clone().reversed()] {
                let (absorbed, mirrored, passed) = (
                    side.tone(frequency).absorption(cosine),
                    side.reflection_factor(frequency, cosine).norm_sqr(),
                    side.transmission_factor(frequency, cosine).norm_sqr(),
                );
                prop_assert!((-1e-12..1.0 + 1e-12).contains(&absorbed), "{absorbed}");
                prop_assert!((absorbed + mirrored + passed - 1.0).abs() < 1e-9, "{absorbed}, {mirrored}, {passed}");
            }
            let (there, back) = (hung.transmission_factor(frequency, cosine), hung.clone().reversed().transmission_factor(frequency, cosine));
            prop_assert!((there - back).norm() <= 1e-7 * there.norm() + 1e-300, "{there} {back}");
        }
        // From a few angles, and from each by itself.
        for side in [build_up, hung] {
            let tone = side.tone(frequency);
            let (diffuse, every) = (tone.diffuse(), tone.diffuse_within(0.0));
            prop_assert!((-1e-10..1.0 + 1e-10).contains(&diffuse), "{diffuse}");
            prop_assert!((diffuse - every).abs() < 1e-7, "{diffuse} {every}");
        }
    }
}
