//! A session's state in real hosts: saved and loaded it is the same, and what is
//! damaged or from the future is refused whole.

use anyhow::{Context, Result, ensure};
use barform_hosts::form::Form;
use barform_tests::host::{Block, Format, Host, Note, Played, Processor, Transport, param_id};
use barform_tests::session;
use barform_tests::stored::{Stored, frame};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestCaseError, TestRunner};
use serde_json::json;

const RATE_HZ: f64 = 48_000.0;
const FRAMES: u32 = 512;

/// A score of one's own, with a comment that must survive.
const SCORE: &str = "\
# do not lose me
barform = 1
title = \"Invented\"
tempo = 101.5
meter = \"3/4\"
form = \"A B A\"

[cell.A]
grid = \"3 4\"
sticking = \"R> L R  (L) R K L\"

[cell.B]
grid = \"5\"
sticking = \"R - L K H\"
";

struct Instance {
    host: Box<dyn Host>,
    processor: Option<Box<dyn Processor>>,
}

impl Instance {
    fn new(format: Format) -> Result<Instance> {
        let mut host = format.load()?;
        let processor = Some(host.activate(RATE_HZ, FRAMES)?);
        Ok(Instance { host, processor })
    }

    fn process(&mut self, block: &Block) -> Result<Vec<Note>> {
        let mut played = Played::default();
        let processor = self.processor.as_mut().context("not active")?;
        processor.process(block, &mut played)?;
        Ok(played.notes)
    }

    /// Eight seconds from beat 0 on, and a stop.
    fn listen(&mut self) -> Result<Vec<(u32, Note)>> {
        let per_block = f64::from(FRAMES) * 120.0 / (60.0 * RATE_HZ);
        let mut heard = Vec::new();
        for number in 0..751 {
            let transport = if number < 750 {
                Transport::playing(f64::from(number) * per_block, 120.0)
            } else {
                Transport::stopped()
            };
            let notes = self.process(&Block::of(FRAMES, transport))?;
            heard.extend(notes.into_iter().map(|note| (number, note)));
        }
        Ok(heard)
    }

    fn state(&mut self) -> Result<Stored> {
        Stored::read(self.host.format(), &self.host.save()?)
    }

    /// Loads a session that differs from a new one in everything.
    fn load_own(&mut self) -> Result<()> {
        let own = self
            .state()?
            .with_score(SCORE)
            .with_param("rate", json!("double"))
            .with_param("start_bar", json!(2))
            .with_param("repeat", json!(false))
            .with_param("mute_feet", json!(true))
            .with_param("note_ms", json!(33.0));
        let bytes = own.write(self.host.format());
        self.host.load(&bytes);
        ensure!(self.state()?.score()? == SCORE, "the score was refused");
        Ok(())
    }
}

impl Drop for Instance {
    fn drop(&mut self) {
        if let Some(processor) = self.processor.take() {
            // A refusal to be deactivated would fail the next test that is.
            let _ = self.host.deactivate(processor);
        }
    }
}

#[test]
fn state_of_one_instance_loaded_in_another_is_the_same_and_plays_the_same() -> Result<()> {
    for format in Format::ALL {
        let (mut one, mut other) = (Instance::new(format)?, Instance::new(format)?);
        one.load_own()?;
        let saved = one.host.save()?;
        assert_ne!(
            saved,
            other.host.save()?,
            "{format:?}: nothing to tell apart"
        );
        other.host.load(&saved);
        assert_eq!(saved, other.host.save()?, "{format:?}");
        for name in [
            "Rate",
            "Start bar",
            "Repeat form",
            "Mute feet",
            "Note length",
        ] {
            let id = param_id(one.host.as_mut(), name)?;
            let values = [one.host.param_value(id)?, other.host.param_value(id)?];
            assert_eq!(values[0], values[1], "{format:?}: {name}");
        }
        let heard = one.listen()?;
        assert!(heard.iter().any(|(_, note)| note.on), "{format:?}: silence");
        assert_eq!(heard, other.listen()?, "{format:?}");
    }
    Ok(())
}

#[test]
fn both_formats_store_the_same_document() -> Result<()> {
    let mut clap = Instance::new(Format::Clap)?;
    let mut vst3 = Instance::new(Format::Vst3)?;
    clap.load_own()?;
    vst3.load_own()?;
    assert_eq!(clap.state()?, vst3.state()?);
    Ok(())
}

/// Loads what must be refused; nothing may change by it.
fn refused(instance: &mut Instance, state: &[u8], what: &str) -> Result<()> {
    let format = instance.host.format();
    let before = instance.host.save()?;
    instance.host.load(state);
    ensure!(
        before == instance.host.save()?,
        "{format:?}: {what} changed what was loaded"
    );
    Ok(())
}

#[test]
fn damaged_or_newer_state_is_refused_and_what_was_loaded_stays() -> Result<()> {
    for format in Format::ALL {
        let mut instance = Instance::new(format)?;
        instance.load_own()?;
        let heard = instance.listen()?;
        let good = instance.state()?;
        let bytes = good
            .with_score(&SCORE.replace("A B A", "B A B"))
            .write(format);

        for length in [
            0,
            1,
            7,
            8,
            9,
            bytes.len() / 3,
            bytes.len() / 2,
            bytes.len() - 1,
        ] {
            refused(
                &mut instance,
                &bytes[..length],
                &format!("the first {length} bytes"),
            )?;
        }
        for garbage in [
            "",
            "null",
            "[]",
            "{}",
            "\u{0}\u{1}",
            "{\"params\":{},\"fields\":{}}",
        ] {
            refused(&mut instance, &frame(format, garbage.as_bytes()), garbage)?;
        }
        let newer = |version| {
            let mut newer = good.clone();
            newer.session["version"] = version;
            newer.session["score"] = SCORE.replace("A B A", "B").into();
            newer.write(format)
        };
        for version in [
            json!(2),
            json!(u64::MAX),
            json!(0),
            json!("1"),
            json!(null),
            json!(-1),
        ] {
            refused(
                &mut instance,
                &newer(version.clone()),
                &format!("version {version}"),
            )?;
        }
        for score in [
            "",
            "barform = 1",
            "barform = 99",
            &SCORE.replace("A B A", "A C A"),
        ] {
            refused(&mut instance, &good.with_score(score).write(format), score)?;
        }
        for (id, value) in [
            ("rate", json!("triple")),
            ("repeat", json!(1)),
            ("note_ms", json!(true)),
        ] {
            let state = good
                .with_score(&SCORE.replace("A B A", "B"))
                .with_param(id, value.clone())
                .write(format);
            refused(&mut instance, &state, &format!("{id} = {value}"))?;
        }
        let mut missing = good.with_score(&SCORE.replace("A B A", "B"));
        if let Some(session) = missing.session.as_object_mut() {
            session.remove("editor");
        }
        refused(
            &mut instance,
            &missing.write(format),
            "a document without the editor's look",
        )?;
        assert_eq!(
            heard,
            instance.listen()?,
            "{format:?}: it plays something else"
        );
    }
    Ok(())
}

/// Any form comes back as it was stored, whatever else is done to the bytes:
/// a change of one byte is refused, or is another sound session.
#[test]
fn state_with_one_byte_changed_is_refused_or_sound() -> Result<()> {
    for format in Format::ALL {
        let instance = std::cell::RefCell::new(Instance::new(format)?);
        let mut runner = TestRunner::new(Config {
            cases: 100,
            rng_seed: RngSeed::Fixed(7),
            failure_persistence: None,
            ..Config::default()
        });
        let damage = (session::form(), any::<prop::sample::Index>(), any::<u8>());
        runner.run(&damage, |(form, place, byte)| {
            one_byte(&mut instance.borrow_mut(), &form, place, byte)
                .map_err(|error| TestCaseError::fail(format!("{error:#}\n{}", form.score())))
        })?;
    }
    Ok(())
}

fn one_byte(
    instance: &mut Instance,
    form: &Form,
    place: prop::sample::Index,
    byte: u8,
) -> Result<()> {
    let format = instance.host.format();
    let good = instance.state()?.with_score(&form.score()).write(format);
    instance.host.load(&good);
    let loaded = instance.host.save()?;
    ensure!(
        Stored::read(format, &loaded)?.score()? == form.score(),
        "the score was refused"
    );
    let mut damaged = loaded;
    let place = place.index(damaged.len());
    damaged[place] = byte;
    instance.host.load(&damaged);
    let after = instance.host.save()?;
    instance.host.load(&after);
    ensure!(
        after == instance.host.save()?,
        "what is saved does not load"
    );
    instance.process(&Block::of(FRAMES, Transport::playing(0.0, 120.0)))?;
    instance.process(&Block::of(FRAMES, Transport::stopped()))?;
    Ok(())
}
