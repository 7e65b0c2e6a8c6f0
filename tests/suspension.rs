//! Clouds on wires: lengths and loads by hand, every reason against hanging, and what holds for any cloud.

use glam::DVec2;
use proptest::prelude::{prop_assert, prop_assert_eq, proptest};
use roomwright::layout::places::Axis;
use roomwright::workshop::anchors::{Hang, Member};
use roomwright::workshop::suspension::{Demands, GRAVITY, Part, Reason, Remark, Suspension, Verdict, suspend};

fn joist(name: &str, center: f64) -> Member {
    Member { name: name.to_owned(), along: Axis::Y, center, width: 0.045, structural: true }
}

/// 1.2 x 0.6 m about (2, 1.5), underside at 2 m, 8 kg.
fn cloud() -> Hang {
    Hang {
        center: DVec2::new(2.0, 1.5),
        size: DVec2::new(1.2, 0.6),
        underside: 2.0,
        tilt: DVec2::ZERO,
        thickness: 0.05,
        mass_kg: Some(8.0),
    }
}

/// Two a quarter of the cloud's side from its ends, one beside it.
fn joists() -> Vec<Member> {
    vec![joist("joist 1", 1.7), joist("joist 2", 2.3), joist("joist 3", 2.7)]
}

fn level(_: DVec2) -> f64 {
    2.4
}

fn hung(hang: &Hang, members: &[Member]) -> Suspension {
    suspend(hang, &level, members, &Demands::default())
}

fn reasons(found: &Suspension) -> &[Reason] {
    match &found.verdict {
        Verdict::AsFigured => &[],
        Verdict::NotToBeHung(reasons) => reasons,
    }
}

#[track_caller]
fn expect_close(ours: f64, theirs: f64) {
    assert!((ours - theirs).abs() < 1e-9, "{ours} instead of {theirs}");
}

// By hand.

#[test]
fn exact_level_cloud() {
    let found = hung(&cloud(), &joists());
    assert_eq!(found.verdict, Verdict::AsFigured);
    assert!(found.remarks.is_empty());
    let weight = 8.0 * 9.80665;
    expect_close(found.weight_n.unwrap(), weight);
    // y: 0.6 m, a fifth in: 1.2 + 0.12 and 1.8 - 0.12. Top at 2.05, ceiling at 2.4.
    let expected = [(1.7, 1.68, "joist 1"), (2.3, 1.68, "joist 2"), (1.7, 1.32, "joist 1"), (2.3, 1.32, "joist 2")];
    assert_eq!(found.points.len(), 4);
    for (index, (point, (x, y, member))) in found.points.iter().zip(expected).enumerate() {
        assert_eq!((point.number as usize, point.member.as_deref()), (index + 1, Some(member)));
        for (ours, theirs) in [(point.x_m, x), (point.y_m, y), (point.attachment_m, 2.05), (point.anchor_m, 2.4), (point.wire_m, 0.35)] {
            expect_close(ours, theirs);
        }
        expect_close(point.load_n.unwrap(), weight / 4.0);
        expect_close(point.load_one_lost_n.unwrap(), weight / 2.0);
        expect_close(point.load_alone_n.unwrap(), weight / 2.0);
    }
    expect_close(found.largest_n.unwrap(), weight / 2.0);
    expect_close(found.needed_n.unwrap(), 5.0 * weight / 2.0);
    assert!(found.factor.is_none() && found.weakest.is_none(), "no strength is known");
    // 1.2 m long: two secondary wires, the first from the first wire to the joist that carries none, 1.0 m to the side; 0.35 m up.
    let [second, other] = &found.secondary[..] else { panic!("{:?}", found.secondary) };
    assert_eq!((second.beside_number, second.member.as_str()), (1, "joist 3"));
    // The other from the opposite corner, 0.4 m from that joist.
    assert_eq!((other.beside_number, other.member.as_str()), (4, "joist 3"));
    expect_close(other.straight_m, (0.4_f64 * 0.4 + 0.35 * 0.35).sqrt());
    let straight = (1.0_f64 + 0.35 * 0.35).sqrt();
    for (ours, theirs) in [
        (second.x_m, 2.7),
        (second.y_m, 1.68),
        (second.anchor_m, 2.4),
        (second.straight_m, straight),
        (second.longest_m, straight + 0.025),
        (second.drop_m, ((straight + 0.025).powi(2) - 1.0).sqrt() - 0.35),
        (second.needed_n.unwrap(), 5.0 * weight * straight / 0.35),
    ] {
        expect_close(ours, theirs);
    }
}

#[test]
fn exact_tilted_cloud_under_a_slope() {
    // Rises 0.75 m per meter of x: 1.25 along the slope. 80 mm thick: its top is 100 mm plumb above its underside, and top and underside
    // share 1.2 - 0.75 x 0.08 / 1.25 = 1.152 m in plan. The ceiling rises by 0.5 m per meter of x and falls by 0.1 of y.
    let hang = Hang { tilt: DVec2::new(0.75, 0.0), thickness: 0.08, ..cloud() };
    let ceiling = |place: DVec2| 2.6 + 0.5 * (place.x - 2.0) - 0.1 * (place.y - 1.5);
    let found = suspend(&hang, &ceiling, &joists(), &Demands::default());
    let lengths: Vec<f64> = found.points.iter().map(|point| point.wire_m).collect();
    // Attachments: 2.1 -/+ 0.225. Ceiling at (1.7, 1.68): 2.6 - 0.15 - 0.018, and so on.
    let expected = [2.432 - 1.875, 2.732 - 2.325, 2.468 - 1.875, 2.768 - 2.325];
    assert_eq!(lengths.len(), 4);
    lengths.iter().zip(expected).for_each(|(ours, theirs)| expect_close(*ours, theirs));
    found.points.iter().for_each(|point| expect_close(point.load_n.unwrap(), 8.0 * GRAVITY / 4.0));
    let share = 0.3 / 1.2 - 0.024 / 1.2;
    assert!(share > 0.2, "still the rule's inset: {share}");
    assert!(found.remarks.iter().all(|remark| !matches!(remark, Remark::InsetOffRule { .. })), "{:?}", found.remarks);
    // 1.2 x 0.6 x 1.25 = 0.9 m2: two secondary wires, from opposite corners.
    assert_eq!(found.secondary.iter().map(|second| second.beside_number).collect::<Vec<_>>(), [1, 4]);
}

#[test]
fn exact_factor_and_weakest_part() {
    let weight = 8.0 * GRAVITY;
    let part = |name: &str, breaking_n: f64| Part { name: name.to_owned(), breaking_n };
    let with = |breaking_n: f64, factor: f64| {
        let parts = vec![part("wire", 4000.0), part("screw eye", breaking_n), part("fitting", 900.0)];
        suspend(&cloud(), &level, &joists(), &Demands { parts, factor, ..Demands::default() })
    };
    let found = with(weight * 3.0, 5.0);
    assert_eq!(found.weakest.as_ref().unwrap().name, "screw eye");
    expect_close(found.factor.unwrap(), 6.0);
    assert_eq!(found.verdict, Verdict::AsFigured);
    let strict = with(weight * 3.0, 10.0);
    expect_close(strict.needed_n.unwrap(), 5.0 * weight);
    let [Reason::TooWeak { part, factor, factor_wanted }] = reasons(&strict) else { panic!("{:?}", strict.verdict) };
    assert_eq!(part, "screw eye");
    expect_close(*factor, 6.0);
    expect_close(*factor_wanted, 10.0);
    // Asking for less than five, or for nonsense, is five; a strength that is no number is none.
    for factor in [1.0, f64::NAN, f64::INFINITY, -3.0] {
        expect_close(with(weight * 2.0, factor).factor_wanted, 5.0);
        assert!(matches!(reasons(&with(weight * 2.0, factor)), [Reason::TooWeak { .. }]));
    }
    for breaking_n in [f64::NAN, f64::INFINITY, -1.0] {
        assert!(matches!(reasons(&with(breaking_n, 5.0)), [Reason::TooWeak { .. }]), "{breaking_n}");
    }
}

#[test]
fn exact_off_center_joists_get_another_row() {
    // Joists 0.18 and 0.84 m from the left end: the middle is not midway between them, so that four wires would tip.
    let members = [joist("a", 1.58), joist("b", 2.24), joist("c", 2.9)];
    let found = hung(&cloud(), &members);
    assert_eq!(found.points.len(), 6);
    assert!(found.remarks.contains(&Remark::RowAdded));
    assert_eq!(found.verdict, Verdict::AsFigured);
    // By levers: (2.24 - 2) / 0.66 of the weight on the left three, the rest on the right; and all of that on the middle one if need be.
    let weight = 8.0 * GRAVITY;
    let on = |name: &str| {
        found.points.iter().filter(|point| point.member.as_deref() == Some(name)).map(|point| point.load_n.unwrap()).sum::<f64>()
    };
    expect_close(on("a"), weight * 0.24 / 0.66);
    expect_close(on("b"), weight * 0.42 / 0.66);
    expect_close(found.points[3].load_alone_n.unwrap(), weight * 0.42 / 0.66);
    expect_close(found.largest_n.unwrap(), weight * 0.42 / 0.66);
}

#[test]
fn exact_joists_along_x_and_wide_clouds() {
    // 2.4 x 1.2 m across joists along x: rows on them, a sixth in. Two columns, a quarter in, are exactly 1.2 m apart.
    let hang = Hang { size: DVec2::new(2.4, 1.2), ..cloud() };
    let along = |center: f64| Member { along: Axis::X, ..joist(&format!("at {center}"), center) };
    let found = hung(&hang, &[along(1.2), along(1.8), along(2.4)]);
    let at: Vec<(f64, f64)> = found.points.iter().map(|point| (point.x_m, point.y_m)).collect();
    for (ours, theirs) in at.iter().zip([(1.4, 1.8), (2.6, 1.8), (1.4, 1.2), (2.6, 1.2)]) {
        expect_close(ours.0, theirs.0);
        expect_close(ours.1, theirs.1);
    }
    assert_eq!(at.len(), 4);
    // Both secondary wires reach the free joist, 0.6 m and 1.2 m to the side.
    let to: Vec<_> = found.secondary.iter().map(|second| (second.beside_number, second.member.as_str())).collect();
    assert_eq!(to, [(1, "at 2.4"), (4, "at 2.4")]);
}

// Every reason.

#[test]
fn exact_reasons_in_the_members() {
    let none = hung(&cloud(), &[]);
    assert_eq!(reasons(&none), [Reason::NoMember, Reason::NoSecondMember]);
    assert!(none.points.len() == 4 && none.points.iter().all(|point| point.member.is_none()), "the rule's places");
    // Without a name nobody can say that it is one.
    let unnamed = [joist("", 1.7), joist(" ", 2.3), joist("", 2.7)];
    assert_eq!(reasons(&hung(&cloud(), &unnamed)), [Reason::NoMember, Reason::NoSecondMember]);
    // Two door tracks are no structure, also where a joist is near.
    let track = |name: &str, center: f64| Member { structural: false, ..joist(name, center) };
    let tracks = [track("door track", 1.7), track("lamp rail", 2.3)];
    let not = |name: &str| Reason::NotStructural { name: name.to_owned() };
    assert_eq!(reasons(&hung(&cloud(), &tracks)), [Reason::NoMember, not("door track"), not("lamp rail"), Reason::NoSecondMember]);
    let with_joist = [&tracks[..], &[joist("joist", 2.9)]].concat();
    assert_eq!(reasons(&hung(&cloud(), &with_joist)), [Reason::MemberMisses, not("door track"), not("lamp rail")]);
    // Joists go before tracks that lie better.
    let both = [&tracks[..], &[joist("a", 1.55), joist("b", 2.45), joist("c", 2.8)]].concat();
    let found = hung(&cloud(), &both);
    assert_eq!(found.verdict, Verdict::AsFigured);
    assert!(
        found.remarks.iter().any(|remark| matches!(remark, Remark::InsetOffRule { axis: Axis::X, share } if (share - 0.125).abs() < 1e-9))
    );
    // One joist over the middle, or two at the very edges.
    for centers in [vec![2.0], vec![1.42, 2.58], vec![1.7, 1.9]] {
        let members: Vec<Member> = centers.iter().map(|center| joist(&format!("at {center}"), *center)).collect();
        let found = hung(&cloud(), &members);
        assert!(reasons(&found).contains(&Reason::MemberMisses), "{centers:?}");
        assert!(found.points.iter().all(|point| point.member.is_none()));
    }
}

#[test]
fn exact_secondary_wires() {
    // Only the two joists that carry it: each side's second wire goes to the other one, and that is said.
    let pair = [joist("a", 1.7), joist("b", 2.3)];
    let found = hung(&cloud(), &pair);
    assert_eq!(found.verdict, Verdict::AsFigured);
    assert_eq!((found.secondary[0].beside_number, found.secondary[0].member.as_str()), (1, "b"));
    let shared = |name: &str| Remark::SharedMember { name: name.to_owned() };
    assert_eq!(found.remarks, [shared("b"), shared("a")]);
    // Joists side by side are one: nothing else is there for the second.
    let doubled = [joist("a", 1.7), joist("a, second half", 1.745)];
    let crossing = Member { along: Axis::X, ..joist("beam", 1.6) };
    let hang = Hang { size: DVec2::new(0.12, 0.6), center: DVec2::new(1.7225, 1.5), ..cloud() };
    assert!(reasons(&hung(&hang, &doubled)).contains(&Reason::NoSecondMember));
    let crossed = hung(&hang, &[&doubled[..], &[crossing]].concat());
    assert_eq!(crossed.secondary[0].member, "beam", "one that crosses is another");
    // A joist beyond 1.2 m from the first wire is reached from the second, one beyond that from none. A door track carries no secondary wire.
    let far = |center: f64| hung(&cloud(), &[&pair[..], &[joist("c", center)]].concat()).secondary[0].clone();
    assert_eq!((far(3.0).beside_number, far(3.0).member.as_str()), (2, "c"));
    assert_eq!((far(3.6).beside_number, far(3.6).member.as_str()), (1, "b"));
    let track = Member { structural: false, ..joist("track", 2.7) };
    assert_eq!(hung(&cloud(), &[&pair[..], &[track]].concat()).secondary[0].member, "b");
    // 100 mm up and 600 mm to the side would bear six times the weight.
    let near = |_: DVec2| 2.15;
    let flat = suspend(&cloud(), &near, &pair, &Demands::default());
    assert!(reasons(&flat).contains(&Reason::NoSecondMember), "{:?}", flat.secondary);
    // Two where it is large, and one is not enough.
    let large = Hang { size: DVec2::new(1.2, 0.7), ..cloud() };
    assert_eq!(hung(&large, &joists()).secondary.len(), 2);
    assert_eq!(hung(&Hang { size: DVec2::new(1.2, 0.6), ..cloud() }, &joists()).secondary.len(), 2, "a long side");
    assert_eq!(hung(&Hang { size: DVec2::new(0.7, 0.7), ..cloud() }, &joists()).secondary.len(), 1, "short sides");
}

#[test]
fn exact_reasons_in_room_and_mass() {
    let unknown = hung(&Hang { mass_kg: None, ..cloud() }, &joists());
    assert_eq!(reasons(&unknown), [Reason::MassUnknown]);
    assert!(unknown.needed_n.is_none() && unknown.points.iter().all(|point| point.load_n.is_none() && point.load_alone_n.is_none()));
    for mass in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(reasons(&hung(&Hang { mass_kg: Some(mass), ..cloud() }, &joists())), [Reason::MassUnknown]);
    }
    // Top at 2.31, ceiling at 2.4, fittings need 100 mm: all four.
    let low = hung(&Hang { underside: 2.26, ..cloud() }, &joists());
    let told: Vec<_> = reasons(&low)
        .iter()
        .filter_map(|reason| match reason {
            Reason::CeilingTooLow { number, wire_m, least_m } => Some((*number, *wire_m, *least_m)),
            _ => None,
        })
        .collect();
    assert_eq!(told.len(), 4);
    told.iter().for_each(|(_, wire, least)| {
        expect_close(*wire, 0.09);
        expect_close(*least, 0.1);
    });
    // In the ceiling.
    assert!(
        reasons(&hung(&Hang { underside: 2.5, ..cloud() }, &joists()))
            .iter()
            .any(|reason| matches!(reason, Reason::CeilingTooLow { wire_m, .. } if *wire_m < 0.0))
    );
}

#[test]
fn keeps_nonsense_out() {
    let bad = [
        Hang { size: DVec2::new(0.0, 1.0), ..cloud() },
        Hang { size: DVec2::new(f64::NAN, 1.0), ..cloud() },
        Hang { size: DVec2::new(1.0, f64::NAN), ..cloud() },
        Hang { size: DVec2::new(1.0, 100.0), ..cloud() },
        Hang { center: DVec2::new(f64::INFINITY, 0.0), ..cloud() },
        Hang { underside: f64::NAN, ..cloud() },
        Hang { tilt: DVec2::new(2.0, 0.0), ..cloud() },
        Hang { tilt: DVec2::new(f64::NAN, 0.0), ..cloud() },
        Hang { thickness: -0.1, ..cloud() },
        Hang { thickness: 0.9, tilt: DVec2::new(0.0, 1.0), size: DVec2::splat(0.6), ..cloud() },
    ];
    for hang in bad {
        let found = hung(&hang, &joists());
        assert_eq!((reasons(&found), found.points.len()), (&[Reason::OutOfRange][..], 0), "{hang:?}");
    }
    let open = suspend(&cloud(), &|place: DVec2| if place.x > 2.0 { f64::NAN } else { 2.4 }, &joists(), &Demands::default());
    assert_eq!(reasons(&open), [Reason::OutOfRange]);
    let odd = [joist("a", f64::NAN), joist("b", 1.7), Member { width: f64::NAN, ..joist("c", 2.3) }, joist("d", f64::INFINITY)];
    assert_eq!(hung(&cloud(), &odd).points.len(), 4);
    let demands = Demands { wire_least: f64::NAN, slack_most: f64::NAN, ..Demands::default() };
    assert_eq!(suspend(&cloud(), &level, &joists(), &demands), hung(&cloud(), &joists()));
}

// As JSON.

/// Keys of all objects that hold a number.
fn keys(value: &serde_json::Value, found: &mut Vec<String>) {
    match value {
        serde_json::Value::Object(fields) => fields.iter().for_each(|(key, inner)| {
            if inner.is_number() {
                found.push(key.clone());
            }
            keys(inner, found);
        }),
        serde_json::Value::Array(items) => items.iter().for_each(|item| keys(item, found)),
        _ => {}
    }
}

#[test]
fn keeps_json_both_ways_and_units_in_keys() {
    let parts = vec![Part { name: "wire".to_owned(), breaking_n: 100.0 }];
    let demands = Demands { parts, ..Demands::default() };
    let low = Hang { underside: 2.26, size: DVec2::new(1.2, 0.8), ..cloud() };
    for found in [suspend(&low, &level, &[joist("a", 1.58), joist("b", 2.24)], &demands), hung(&cloud(), &joists()), hung(&cloud(), &[])] {
        let text = serde_json::to_string(&found).unwrap();
        assert_eq!(serde_json::from_str::<Suspension>(&text).unwrap(), found);
        let mut numbers = Vec::new();
        keys(&serde_json::to_value(&found).unwrap(), &mut numbers);
        let plain = ["number", "beside_number", "factor", "factor_wanted", "share"];
        let unnamed: Vec<_> = numbers
            .iter()
            .filter(|key| !(["_m", "_n", "_kg"].iter().any(|unit| key.ends_with(unit)) || plain.contains(&key.as_str())))
            .collect();
        assert!(unnamed.is_empty() && numbers.len() > 20, "{unnamed:?}");
        let stray = text.replacen("\"points\"", "\"stray\":1,\"points\"", 1);
        assert!(serde_json::from_str::<Suspension>(&stray).is_err());
    }
    assert!(serde_json::to_string(&schemars::schema_for!(Suspension)).unwrap().contains("needed_n"));
}

// Any cloud.

proptest! {
    #[test]
    fn keeps_every_cloud_held(
        size in (0.2..3.0_f64, 0.2..3.0_f64), tilt in (-0.4..0.4_f64, -0.4..0.4_f64), slope in (-0.3..0.3_f64, -0.3..0.3_f64),
        (underside, thickness) in (1.8..2.3_f64, 0.0..0.15_f64), mass in 0.5..60.0_f64, factor in 5.0..10.0_f64, (first, apart) in (-0.4..0.0_f64, 0.2..0.8_f64),
        along_x in proptest::bool::ANY, structural in proptest::collection::vec(proptest::bool::weighted(0.9), 12), strength in proptest::option::of(50.0..9000.0_f64),
    ) {
        let along = if along_x { Axis::X } else { Axis::Y };
        let members: Vec<Member> = structural.iter().enumerate()
            .map(|(index, structural)| Member { along, structural: *structural, ..joist(&format!("member {index}"), first + apart * index as f64) })
            .collect();
        let hang = Hang { center: DVec2::new(1.6, 1.9), size: DVec2::from(size), underside, tilt: DVec2::from(tilt), thickness, mass_kg: Some(mass) };
        let ceiling = |place: DVec2| 2.7 + DVec2::from(slope).dot(place - DVec2::new(1.0, 1.0));
        let parts: Vec<Part> = strength.map(|breaking_n| Part { name: "wire".to_owned(), breaking_n }).into_iter().collect();
        let found = suspend(&hang, &ceiling, &members, &Demands { factor, parts, ..Demands::default() });
        let weight = mass * 9.80665;
        let (mut sum, mut moment) = (0.0, DVec2::ZERO);
        prop_assert!(found.points.len() >= 4);
        for point in &found.points {
            let place = DVec2::new(point.x_m, point.y_m);
            let arm = place - hang.center;
            prop_assert!(arm.abs().cmplt(hang.size * 0.4 + 1e-9).all(), "inside by a tenth: {}", arm);
            // The plane of the top by its normal: half the thickness along it above the middle, and another half from the underside.
            let normal = glam::DVec3::new(-hang.tilt.x, -hang.tilt.y, 1.0);
            let above = underside + thickness * normal.length();
            let top = above - (normal.x * arm.x + normal.y * arm.y) / normal.z;
            prop_assert!((point.attachment_m - top).abs() < 1e-9 && (point.anchor_m - ceiling(place)).abs() < 1e-9);
            prop_assert!((point.wire_m - (ceiling(place) - top)).abs() < 1e-9);
            let load = point.load_n.unwrap();
            (sum, moment) = (sum + load, moment + arm * load);
            let lost = point.load_one_lost_n.unwrap();
            let most = point.load_alone_n.unwrap();
            prop_assert!(load >= 0.0 && load <= most + 1e-6 * weight && lost <= most + 0.01 * weight);
            prop_assert!(found.largest_n.unwrap() >= load.max(lost).max(most));
            if let Some(name) = &point.member {
                let member = members.iter().find(|member| member.name == *name).unwrap();
                let across = if along_x { point.y_m } else { point.x_m };
                prop_assert!((across - member.center).abs() < 1e-9);
            }
        }
        prop_assert!((sum - weight).abs() < 1e-6 * weight && moment.length() < 1e-6 * weight);
        prop_assert!(found.needed_n.unwrap() >= factor * weight / 2.0 * (1.0 - 1e-9));
        for second in &found.secondary {
            let beside = &found.points[second.beside_number as usize - 1];
            prop_assert!(beside.member.as_ref() != Some(&second.member));
            let straight = (second.x_m - beside.x_m).hypot(second.y_m - beside.y_m).hypot(second.anchor_m - beside.attachment_m);
            prop_assert!((second.straight_m - straight).abs() < 1e-9 && (second.longest_m - straight - 0.025).abs() < 1e-9);
            prop_assert!(second.needed_n.unwrap() >= factor * weight * (1.0 - 1e-9) && second.drop_m >= 0.025 - 1e-9);
            prop_assert!((second.anchor_m - ceiling(DVec2::new(second.x_m, second.y_m))).abs() < 1e-9);
            prop_assert!(members.iter().any(|member| member.name == second.member && member.structural));
        }
        // The verdict follows from what is printed.
        let structural = found.points.iter().all(|point| {
            point.member.as_ref().is_some_and(|name| members.iter().any(|member| member.name == *name && member.structural))
        });
        let room = found.points.iter().all(|point| point.wire_m >= 0.1);
        let strong = strength.is_none_or(|strength| strength >= found.needed_n.unwrap() * (1.0 - 1e-12));
        let area = size.0 * size.1 * (1.0 + DVec2::from(tilt).length_squared()).sqrt();
        let long = DVec2::from(size).max_element() * (1.0 + DVec2::from(tilt).length_squared()).sqrt() > 0.75;
        let seconds = found.secondary.len() == if area > 0.75 || long { 2 } else { 1 };
        prop_assert_eq!(found.verdict == Verdict::AsFigured, structural && room && strong && seconds, "{:?}", found);
    }
}
