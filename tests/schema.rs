//! The JSON: its committed schema, real output against that schema, and a unit in every key that needs one.
//!
//! `UPDATE_EXPECT=1 cargo test --release schema` writes the schemas anew; the change then shows in the diff and in the change log.

use expect_test::expect_file;
use roomwright::findings::{Findings, Survey};
use roomwright::plan::Plan;
use roomwright::progress::Progress;
use roomwright::prove::Proof;
use roomwright::prove::voice::VoiceProof;
use roomwright::report::Contents;
use roomwright::study::{self, Absorbers, Asked, BassStudy, CloudStudy, Comparison, PositionsStudy, Sounds, TestSignal};
use roomwright::workshop::Build;
use schemars::{JsonSchema, schema_for};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::support::small_scene;

fn schema<T: JsonSchema>() -> Value {
    schema_for!(T).to_value()
}

fn pretty(schema: &Value) -> String {
    serde_json::to_string_pretty(schema).expect("a schema is JSON") + "\n"
}

#[test]
fn locked_schemas_change_only_on_purpose() {
    expect_file!["./cases/schema/survey.json"].assert_eq(&pretty(&schema::<Survey>()));
    expect_file!["./cases/schema/findings.json"].assert_eq(&pretty(&schema::<Findings>()));
    expect_file!["./cases/schema/plan.json"].assert_eq(&pretty(&schema::<Plan>()));
    expect_file!["./cases/schema/absorbers.json"].assert_eq(&pretty(&schema::<Absorbers>()));
    expect_file!["./cases/schema/cloud.json"].assert_eq(&pretty(&schema::<CloudStudy>()));
    expect_file!["./cases/schema/build.json"].assert_eq(&pretty(&schema::<Build>()));
    expect_file!["./cases/schema/bass.json"].assert_eq(&pretty(&schema::<BassStudy>()));
    expect_file!["./cases/schema/positions.json"].assert_eq(&pretty(&schema::<PositionsStudy>()));
    expect_file!["./cases/schema/prove.json"].assert_eq(&pretty(&schema::<Proof>()));
    expect_file!["./cases/schema/sound.json"].assert_eq(&pretty(&schema::<Sounds>()));
    expect_file!["./cases/schema/voice.json"].assert_eq(&pretty(&schema::<VoiceProof>()));
    expect_file!["./cases/schema/report.json"].assert_eq(&pretty(&schema::<Contents>()));
    expect_file!["./cases/schema/compare.json"].assert_eq(&pretty(&schema::<Comparison>()));
    expect_file!["./cases/schema/sweep.json"].assert_eq(&pretty(&schema::<TestSignal>()));
}

/// What in `value` the schema does not allow. Knows the words that our own schemas use, and refuses others.
fn complaints(schema: &Value, root: &Value, value: &Value, at: &str) -> Vec<String> {
    if let Some(Value::String(reference)) = schema.get("$ref") {
        let target = reference.strip_prefix('#').and_then(|pointer| root.pointer(pointer));
        return complaints(target.expect("references lead into the schema itself"), root, value, at);
    }
    if let Some(Value::Array(choices)) = schema.get("anyOf").or(schema.get("oneOf")) {
        let all: Vec<Vec<String>> = choices.iter().map(|choice| complaints(choice, root, value, at)).collect();
        return if all.iter().any(Vec::is_empty) { Vec::new() } else { all.into_iter().flatten().collect() };
    }
    let mut found = Vec::new();
    let allowed = match schema.get("type") {
        Some(Value::String(name)) => vec![name.as_str()],
        Some(Value::Array(names)) => names.iter().filter_map(Value::as_str).collect(),
        _ => Vec::new(),
    };
    if !allowed.is_empty() && !allowed.iter().any(|name| is_of_type(value, name)) {
        found.push(format!("{at}: {value} is not {}", allowed.join(" or ")));
    }
    if let Some(only) = schema.get("const").filter(|only| *only != value) {
        found.push(format!("{at}: {value} is not {only}"));
    }
    if let Some(Value::Array(names)) = schema.get("enum")
        && !names.contains(value)
    {
        found.push(format!("{at}: {value} is none of {names:?}"));
    }
    if let (Some(Value::Object(properties)), Value::Object(fields)) = (schema.get("properties"), value) {
        for name in schema.get("required").and_then(Value::as_array).into_iter().flatten().filter_map(Value::as_str) {
            if !fields.contains_key(name) {
                found.push(format!("{at}: lacks {name}"));
            }
        }
        for (name, field) in fields {
            match properties.get(name) {
                Some(inner) => found.extend(complaints(inner, root, field, &format!("{at}.{name}"))),
                None => found.push(format!("{at}: has an unknown {name}")),
            }
        }
    }
    if let Value::Array(items) = value {
        let length = |word: &str| schema.get(word).and_then(Value::as_u64).map(|length| length as usize);
        if length("minItems").is_some_and(|least| items.len() < least) || length("maxItems").is_some_and(|most| items.len() > most) {
            found.push(format!("{at}: has {} items", items.len()));
        }
        let prefix = schema.get("prefixItems").and_then(Value::as_array);
        for (index, item) in items.iter().enumerate() {
            let inner = prefix.and_then(|prefix| prefix.get(index)).or(schema.get("items"));
            found.extend(inner.into_iter().flat_map(|inner| complaints(inner, root, item, &format!("{at}[{index}]"))));
        }
    }
    found
}

fn is_of_type(value: &Value, name: &str) -> bool {
    match name {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        _ => panic!("the schema speaks of a type {name}"),
    }
}

/// Real output obeys the committed schema, reads back with unknown fields denied, and says the same when written again.
#[track_caller]
pub(crate) fn check<T: JsonSchema + Serialize + DeserializeOwned>(result: &T) {
    let text = serde_json::to_string(result).expect("a result is JSON");
    let value: Value = serde_json::from_str(&text).expect("what we write reads");
    let schema = schema::<T>();
    let found = complaints(&schema, &schema, &value, "");
    assert!(found.is_empty(), "against its schema:\n  {}", found[..found.len().min(20)].join("\n  "));
    let back: T = serde_json::from_str(&text).unwrap_or_else(|error| panic!("does not read back: {error}"));
    let (once, again) = (value, serde_json::to_value(&back).expect("a result is JSON"));
    assert!(alike(&once, &again), "reads back as something else");
}

/// Equal but for the last digit of a number, which a fast reader may round the other way.
fn alike(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap_or(f64::NAN), b.as_f64().unwrap_or(f64::NAN));
            (a - b).abs() <= 4.0 * f64::EPSILON * a.abs()
        }
        (Value::Array(a), Value::Array(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| alike(a, b)),
        (Value::Object(a), Value::Object(b)) => a.len() == b.len() && a.iter().all(|(key, a)| b.get(key).is_some_and(|b| alike(a, b))),
        _ => one == other,
    }
}

#[test]
fn keeps_real_output_within_its_schema() {
    let scene = small_scene(2_000);
    check(&study::survey(&scene));
    let (findings, _) = study::hear(&Progress::new(), &scene).expect("nobody cancels");
    check(&findings);
    let placement = study::place(&Progress::new(), &scene).expect("nobody cancels");
    check(&placement.plan);
    check(&study::absorbers(&Asked::default(), None).expect("nothing can be wrong"));
    let panels =
        ["50 mm, 12000, price 60 per m2", "slotted 16 mm with 15 % of 6 mm slots, 50 mm, 45 kg/m3 glass, suspended"].map(str::to_owned);
    let rows = ["Rough concrete".to_owned()];
    let asked = Asked { words: "", rows: &rows, panels: &panels, budget: Some(500.0) };
    check(&study::absorbers(&asked, Some(&scene)).expect("nothing is wrong"));
}

#[test]
fn keeps_the_schema_check_able_to_fail() {
    let schema = schema::<Survey>();
    let good = serde_json::to_value(study::survey(&small_scene(1_000))).expect("a survey is JSON");
    let count = |change: &dyn Fn(&mut Value)| {
        let mut value = good.clone();
        change(&mut value);
        complaints(&schema, &schema, &value, "").len()
    };
    assert_eq!(count(&|_| ()), 0);
    assert_eq!(count(&|value| value["volume_m3"] = "ten".into()), 1);
    // What a NaN becomes in JSON.
    assert_eq!(count(&|value| value["volume_m3"] = Value::Null), 1);
    assert_eq!(count(&|value| value["volume"] = 10.into()), 1);
    assert_eq!(count(&|value| drop(value.as_object_mut().expect("an object").remove("height_m"))), 1);
    assert_eq!(count(&|value| value["surfaces"][0]["absorption"] = vec![0.1; 7].into()), 1);
}

/// Endings of keys that say a unit.
const UNITS: &[&str] = &["_m", "_m2", "_m3", "_s", "_ms", "_hz", "_db", "_deg", "_percent", "_steps", "_n", "_kg", "_h", "_mb"];

/// Numbers that have no unit, or whose unit another key says.
const PLAIN: &[&str] = &[
    // `Estimate`: the unit is in the key that holds it.
    "value",
    "se",
    // Counts and indices.
    "number",
    "best",
    "hung_panel_number",
    "chosen",
    "rival",
    "edges_counted",
    "rounds",
    "order",
    "bends",
    "panel",
    "count",
    "panels",
    "enough_panels",
    "ahead",
    "row",
    "layers",
    "places",
    "places_fitting",
    "places_within_half_step",
    "cells",
    "others",
    "at_receivers",
    "runs",
    "half_waves",
    "coinciding",
    // Terms of the score: weights, or steps where the key that holds them says so.
    "reflections",
    "early_level",
    "decay",
    "evenness",
    "likeness",
    "speech",
    "flutter",
    "bass",
    // Money, in the currency of the prices.
    "rest",
    "made_each",
    "bought_each",
    "materials_cost",
    "bought_price",
    "total",
    "used",
    "bought_total",
    // Of the workshop: counts; quantities in the unit that `unit` or the price list names; factors of strength over load.
    "facet",
    "batch",
    "batches",
    "battens_spare",
    "evening",
    "evenings",
    "packs",
    "pack",
    "needed",
    "quantity",
    "least_sheets",
    "least_lengths",
    "beside_number",
    "corner",
    "tones",
    "same_order",
    "pairs",
    "same_sign",
    "verified",
    "verified_rank",
    "factor",
    "factor_wanted",
    "waste_share",
    "left_over_share",
    // Of recordings: counts; of a comparison: in the unit of the key that holds it.
    "repeats",
    "drift_ppm",
    "bandwidth_time",
    "channels",
    "channel",
    "octaves",
    "measured",
    "scatter",
    "predicted",
    "difference_sure",
    // Of a fit: absorption, and counts of panels.
    "written",
    "hung_anew",
    "staying",
    "leaving",
    // Ratios.
    "ratio",
    "treated_share",
    "share",
    "ringing_share",
    "zone_share",
    "d50",
    "effective_sample_share",
    "absorption",
    "absorption_used",
    "absorption_alone",
    "absorption_back",
    "absorption_touching",
    "absorption_normal",
    "absorption_diffuse",
    "difference",
    "deep_share",
    "scattering",
    "impedance",
    // Of money, in any currency.
    "price",
    "cost",
    "budget",
    // Ratios of findings.
    "high_octaves_absorption_unfaced",
    "speech_transmission_index",
    // In the unit of the kind of figure beside it.
    "by",
    "cells",
    "change",
    // Bounds in the unit that `unit` beside them names.
    "low",
    "high",
    "rays_escaped",
    "rays_per_source",
];

/// Keys of the schema that hold numbers (or estimates, or lists of them), without a unit.
fn unitless(schema: &Value, root: &Value) -> Vec<String> {
    let mut found = Vec::new();
    let definitions = schema.get("$defs").and_then(Value::as_object);
    for inner in definitions.into_iter().flat_map(|inner| inner.values()).chain([schema]) {
        for (key, property) in inner.get("properties").and_then(Value::as_object).into_iter().flatten() {
            let named = UNITS.iter().any(|unit| key.ends_with(unit)) || PLAIN.contains(&key.as_str());
            if holds_numbers(property, root) && !named {
                found.push(key.clone());
            }
        }
    }
    found
}

fn holds_numbers(schema: &Value, root: &Value) -> bool {
    let is_number = |name: &Value| name == "number" || name == "integer";
    let own = match schema.get("type") {
        Some(Value::Array(names)) => names.iter().any(is_number),
        Some(name) => is_number(name),
        None => false,
    };
    let parts = ["anyOf", "oneOf"].iter().filter_map(|word| schema.get(word).and_then(Value::as_array)).flatten();
    let target = schema.get("$ref").and_then(Value::as_str).and_then(|name| root.pointer(name.trim_start_matches('#')));
    let is_estimate = schema.get("$ref").and_then(Value::as_str).is_some_and(|name| name.ends_with("/Estimate"));
    let through = target.filter(|target| target.get("properties").is_none());
    own || is_estimate || parts.chain(schema.get("items")).chain(through).any(|inner| holds_numbers(inner, root))
}

#[test]
fn keeps_a_unit_in_every_key() {
    let all = [schema::<Survey>(), schema::<Findings>(), schema::<Plan>(), schema::<Absorbers>()];
    let others = [
        schema::<CloudStudy>(),
        schema::<PositionsStudy>(),
        schema::<Build>(),
        schema::<BassStudy>(),
        schema::<Proof>(),
        schema::<Comparison>(),
        schema::<TestSignal>(),
        schema::<Sounds>(),
    ];
    for schema in all.into_iter().chain(others) {
        let found = unitless(&schema, &schema);
        assert!(found.is_empty(), "keys without a unit: {found:?}");
    }
    let sample: Value = serde_json::json!({ "properties": { "delay": { "type": "number" }, "gap_m": { "type": "number" } } });
    assert_eq!(unitless(&sample, &sample), ["delay"]);
}
