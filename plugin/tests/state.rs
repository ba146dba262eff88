//! Stored sessions: what is saved comes back, old versions load for ever, newer
//! and damaged ones are refused whole.

use std::collections::BTreeMap;
use std::sync::Arc;

use barform::Barform;
use nice_plug::plugin::ParamValue;
use nice_plug::prelude::{Params, Plugin, PluginState};

/// A session as the first version stored it. Never edited: it stands for all
/// sessions that users have on disk.
const VERSION_1: &str = include_str!("data/state-v1.json");

fn stored(json: &str) -> PluginState {
    serde_json::from_str(json).unwrap()
}

/// The fields' part of what the framework does when a host loads state.
fn load(params: &Arc<dyn Params>, mut state: PluginState) -> PluginState {
    Barform::filter_state(&mut state);
    params.deserialize_fields(&state.fields);
    state
}

fn session(params: &Arc<dyn Params>) -> serde_json::Value {
    serde_json::from_str(&params.serialize_fields()["session"]).unwrap()
}

#[test]
fn a_session_of_version_1_loads() {
    let params = Barform::default().params();
    let state = load(&params, stored(VERSION_1));
    let session = session(&params);
    assert!(session["score"].as_str().unwrap().contains("Paper Boats"));
    assert_eq!(session["file"], "/scores/paper-boats.barform");
    assert_eq!(session["editor"]["theme"], "light");
    assert_eq!(session["editor"]["width"], 1280);
    assert!(
        matches!(state.params["start_bar"], ParamValue::I32(5)),
        "parameters are let through"
    );
    for id in state.params.keys() {
        let known = params.param_map().iter().any(|(known, ..)| known == id);
        assert!(known, "parameter '{id}' of version 1 is still there");
    }
}

#[test]
fn loading_twice_and_in_another_instance_saves_the_same_bytes() {
    let (one, two) = (Barform::default().params(), Barform::default().params());
    load(&one, stored(VERSION_1));
    let first = one.serialize_fields();
    let mut state = stored(VERSION_1);
    state.fields.clone_from(&first);
    load(&one, state.clone());
    assert_eq!(one.serialize_fields(), first);
    load(&two, state);
    assert_eq!(two.serialize_fields(), first);
}

#[test]
fn a_fresh_session_survives_a_round_trip() {
    let params = Barform::default().params();
    let before = params.serialize_fields();
    let state = PluginState {
        version: String::new(),
        params: BTreeMap::new(),
        fields: before.clone(),
    };
    load(&params, state);
    assert_eq!(params.serialize_fields(), before);
}

/// What must be refused, and a word its message must hold.
fn bad_sessions() -> Vec<(&'static str, PluginState, &'static str)> {
    let with = |session: &str| {
        let mut state = stored(VERSION_1);
        state
            .fields
            .insert("session".to_owned(), session.to_owned());
        state
    };
    let good = stored(VERSION_1).fields["session"].clone();
    let mut without = stored(VERSION_1);
    without.fields.clear();
    let mut bad_param = stored(VERSION_1);
    bad_param
        .params
        .insert("repeat".to_owned(), ParamValue::F32(0.5));
    let mut bad_choice = stored(VERSION_1);
    bad_choice
        .params
        .insert("rate".to_owned(), ParamValue::String("triple".to_owned()));
    vec![
        (
            "newer",
            with(&good.replace("\"version\":1", "\"version\":2")),
            "version 2",
        ),
        ("cut short", with(&good[..good.len() / 2]), "damaged"),
        ("no version", with("{}"), "damaged"),
        (
            "version 0",
            with(&good.replace("\"version\":1", "\"version\":0")),
            "damaged",
        ),
        (
            "unsound score",
            with(&good.replace("grid = ", "grit = ")),
            "damaged",
        ),
        (
            "field of another type",
            with(&good.replace("\"light\"", "7")),
            "damaged",
        ),
        ("no session", without, "damaged"),
        ("parameter of another kind", bad_param, "'repeat'"),
        ("choice that does not exist", bad_choice, "'rate'"),
    ]
}

#[test]
fn bad_sessions_are_refused_whole_and_what_was_there_stays() {
    for (name, state, word) in bad_sessions() {
        let plugin = Barform::default();
        let params = plugin.params();
        let before = params.serialize_fields();
        let filtered = load(&params, state);
        assert!(
            filtered.params.is_empty(),
            "{name}: no parameter is let through"
        );
        assert_eq!(params.serialize_fields(), before, "{name}: the score stays");
        let notice = plugin.session().notice().unwrap_or_default();
        assert!(notice.contains(word), "{name}: the message is '{notice}'");
    }
}

#[test]
fn a_good_session_takes_the_message_away() {
    let plugin = Barform::default();
    let params = plugin.params();
    let (_, bad, _) = bad_sessions().remove(0);
    load(&params, bad);
    assert!(plugin.session().notice().is_some());
    load(&params, stored(VERSION_1));
    assert_eq!(plugin.session().notice(), None);
}
