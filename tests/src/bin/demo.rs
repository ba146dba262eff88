//! The product at work: the built plugin plays the demo form in a host without
//! a screen, in time, with its editor open, and what came of it is left in
//! `target/demo`.
//!
//! `cargo xtask demo` builds what this needs and runs it.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail, ensure};
use barform_tests::command::{barform, checked};
use barform_tests::display::{Display, Picture, Window};
use barform_tests::host::{
    Block, Format, Host, Note, Played, Processor, Transport, param_id, target_dir,
};

/// Samples a second.
const RATE_HZ: u32 = 48_000;
/// Samples a block.
const FRAMES: u32 = 480;
/// What the embedded kit may not exceed, in dB true peak.
const CEILING_DBTP: f64 = -1.0;
/// The kit has rung out after so long at the latest.
const TAIL_SECONDS: u32 = 8;

fn main() -> Result<()> {
    let folder = target_dir().join("demo");
    if folder.exists() {
        fs::remove_dir_all(&folder)?;
    }
    fs::create_dir_all(&folder)?;
    let mut report = String::new();

    println!("score: the counted form as text, and the MIDI file");
    let score = checked(barform()?.arg("demo").output()?, "barform demo")?;
    let text = checked(
        barform()?.args(["show", "--demo"]).output()?,
        "barform show",
    )?;
    fs::write(folder.join("demo.txt"), &text)?;
    let midi = folder.join("demo.mid");
    let export = barform()?
        .args(["midi", "--demo", "--quiet", "--output"])
        .arg(&midi)
        .output()?;
    checked(export, "barform midi")?;
    println!("sheet: engraved, as PDF and picture, as MusicXML, and as a hand-out");
    for (verb, options, file) in [
        ("sheet", &["--fold", "repeats"][..], "demo.pdf"),
        (
            "sheet",
            &["--fold", "letters", "--dpi", "110"],
            "letters.png",
        ),
        ("handout", &[], "handout.pdf"),
        ("musicxml", &[], "demo.musicxml"),
        ("flac", &["--loudness", "-18"], "demo.flac"),
    ] {
        let mut command = barform()?;
        command.args([verb, "--demo", "--quiet"]).args(options);
        let done = command.arg("--output").arg(folder.join(file)).output()?;
        checked(done, &format!("barform {verb}"))?;
    }
    let written = Written::read(&midi)?;
    ensure!(!written.notes.is_empty(), "the MIDI file has no notes");
    let title = score.lines().find(|line| line.starts_with("title"));
    writeln!(
        report,
        "Score          {}",
        title.unwrap_or("without a title")
    )?;
    writeln!(
        report,
        "demo.mid       {} notes in {} beats at {:.3} beats a minute",
        written.notes.len(),
        written.beats,
        written.tempo_bpm
    )?;

    let display = Display::private()?;
    let bundle = Format::Clap.bundle()?;
    println!(
        "host: {} at {RATE_HZ} Hz, {FRAMES} samples a block",
        bundle.display()
    );
    let mut host = Format::Clap.load()?;
    // The form once, not over and over.
    let repeat = param_id(host.as_mut(), "Repeat form")?;
    let processor = host.activate(RATE_HZ.into(), FRAMES)?;
    let window = host.open_editor(&display)?;
    let mut show = Show {
        host,
        processor: Some(processor),
        window,
        once: repeat,
        notes: Vec::new(),
        audio: [Vec::new(), Vec::new()],
    };
    let pictures = show.play(&written)?;
    show.close()?;
    pictures[1].write_png(&folder.join("editor.png"))?;
    ensure!(
        pictures[0] != pictures[1],
        "the editor stands still while time runs"
    );
    writeln!(
        report,
        "editor.png     {} by {} pixels, {} colours; it moved while time ran",
        pictures[1].width,
        pictures[1].height,
        pictures[1].colours()
    )?;

    println!("notes: the host's against the MIDI file's");
    let worst = compare(&written, &show.notes)?;
    writeln!(
        report,
        "notes          all {} heard by the host as in demo.mid, none off by more than {worst:.2} \
         samples, where half a tick of the file is {:.2}; each with its note-off",
        written.notes.len(),
        written.half_tick_beats * 60.0 * f64::from(RATE_HZ) / written.tempo_bpm
    )?;

    let wav = folder.join("demo.wav");
    let (seconds, peak) = write_wav(&wav, &show.audio)?;
    writeln!(
        report,
        "demo.wav       {seconds:.1} s as the host got it, true peak {peak:.2} dB"
    )?;
    writeln!(report, "demo.txt       the form, counted")?;
    writeln!(
        report,
        "demo.pdf       the sheet; letters.png: each letter once"
    )?;
    writeln!(
        report,
        "handout.pdf    the sheet, then a page to practise each letter from"
    )?;
    writeln!(report, "demo.musicxml  the sheet for notation programs")?;
    writeln!(
        report,
        "demo.flac      the form on the embedded kit, at -18 LUFS"
    )?;
    fs::write(folder.join("report.txt"), &report)?;
    print!("\n{report}\nEverything is in {}\n", folder.display());
    Ok(())
}

/// What a Standard MIDI File says.
struct Written {
    /// Beat, key and velocity of each note-on, in order of time.
    notes: Vec<(f64, u8, u8)>,
    beats: f64,
    tempo_bpm: f64,
    /// Half a tick, in beats: the file cannot be finer.
    half_tick_beats: f64,
}

impl Written {
    fn read(path: &Path) -> Result<Written> {
        let bytes = fs::read(path)?;
        let file = midly::Smf::parse(&bytes)?;
        let midly::Timing::Metrical(ticks_per_beat) = file.header.timing else {
            bail!("a MIDI file in seconds");
        };
        let tick = 1.0 / f64::from(ticks_per_beat.as_int());
        let mut written = Written {
            notes: Vec::new(),
            beats: 0.0,
            tempo_bpm: 120.0,
            half_tick_beats: tick / 2.0,
        };
        for track in &file.tracks {
            let mut at = 0u64;
            for event in track {
                at += u64::from(event.delta.as_int());
                let beats = at as f64 * tick;
                match event.kind {
                    midly::TrackEventKind::Meta(midly::MetaMessage::Tempo(us)) => {
                        written.tempo_bpm = 6e7 / f64::from(us.as_int());
                    }
                    midly::TrackEventKind::Midi {
                        message: midly::MidiMessage::NoteOn { key, vel },
                        ..
                    } if vel > 0 => {
                        written.notes.push((beats, key.as_int(), vel.as_int()));
                    }
                    _ => {}
                }
                written.beats = written.beats.max(beats);
            }
        }
        written.notes.sort_by(|a, b| a.0.total_cmp(&b.0));
        Ok(written)
    }
}

/// A host that plays the form.
struct Show {
    host: Box<dyn Host>,
    processor: Option<Box<dyn Processor>>,
    window: Window,
    /// The parameter that says whether the form starts over.
    once: u32,
    /// On samples of the whole session.
    notes: Vec<(u64, Note)>,
    audio: [Vec<f32>; 2],
}

impl Show {
    /// Plays the form in time, then stops and lets the kit ring out. Returns
    /// what the editor showed early and late in the form.
    fn play(&mut self, written: &Written) -> Result<[Picture; 2]> {
        let per_block = f64::from(FRAMES) * written.tempo_bpm / (60.0 * f64::from(RATE_HZ));
        let blocks = (written.beats / per_block).ceil() as u32 + 1;
        let mut played = Played::default();
        // The first picture is taken before time runs.
        let window_drawn = {
            let Show { host, window, .. } = self;
            window.drawn(|| {
                host.pump();
                std::thread::sleep(Duration::from_millis(20));
                Ok(())
            })
        };
        window_drawn.context("editor")?;
        let once = [barform_tests::host::ParamChange {
            frame: 0,
            id: self.once,
            value: 0.0,
        }];
        let (mut early, mut late) = (None, None);
        let start = Instant::now();
        for number in 0..blocks {
            let beats = f64::from(number) * per_block;
            let block = Block {
                params: if number == 0 { &once } else { &[] },
                ..Block::of(FRAMES, Transport::playing(beats, written.tempo_bpm))
            };
            self.process(&block, &mut played)?;
            self.host.pump();
            let share = f64::from(number) / f64::from(blocks);
            if share > 0.2 && early.is_none() {
                early = Some(self.window.picture()?);
            }
            if share > 0.6 && late.is_none() {
                late = Some(self.window.picture()?);
            }
            if number % 100 == 0 {
                println!("playing: beat {beats:.1} of {}", written.beats);
            }
            let due = f64::from(number + 1) * f64::from(FRAMES) / f64::from(RATE_HZ);
            let due = start + Duration::from_secs_f64(due);
            std::thread::sleep(due.saturating_duration_since(Instant::now()));
        }
        for _ in 0..TAIL_SECONDS * RATE_HZ / FRAMES {
            self.process(&Block::of(FRAMES, Transport::stopped()), &mut played)?;
        }
        Ok([
            early.context("the form is too short for a picture")?,
            late.context("the form is too short for a picture")?,
        ])
    }

    fn process(&mut self, block: &Block, played: &mut Played) -> Result<()> {
        let processor = self.processor.as_mut().context("not active")?;
        let sample = self.audio[0].len() as u64;
        processor.process(block, played)?;
        for note in &played.notes {
            self.notes.push((sample + u64::from(note.frame), *note));
        }
        for (all, new) in self.audio.iter_mut().zip(&played.audio) {
            all.extend(new);
        }
        Ok(())
    }

    fn close(&mut self) -> Result<()> {
        self.host.close_editor();
        let processor = self.processor.take().context("not active")?;
        self.host.deactivate(processor)
    }
}

/// Compares what the host heard with the file; returns the largest deviation
/// in samples. A note may be off by half a sample and half a tick.
fn compare(written: &Written, heard: &[(u64, Note)]) -> Result<f64> {
    let per_beat = 60.0 * f64::from(RATE_HZ) / written.tempo_bpm;
    let mut offs = 0;
    let mut on: Vec<(f64, u8, u8)> = Vec::new();
    for (sample, note) in heard {
        if note.on {
            on.push((*sample as f64, note.key, note.midi_velocity()));
        } else {
            offs += 1;
        }
    }
    ensure!(on.len() == offs, "{} note-ons, {offs} note-offs", on.len());
    ensure!(
        on.len() == written.notes.len(),
        "the host heard {} notes, the file has {}",
        on.len(),
        written.notes.len()
    );
    let allowed = 0.5 + written.half_tick_beats * per_beat;
    let mut worst = 0.0f64;
    let mut rest = on;
    for (beats, key, velocity) in &written.notes {
        let at = beats * per_beat;
        let near = |(sample, k, v): &(f64, u8, u8)| {
            k == key && v == velocity && (sample - at).abs() <= allowed + 1e-6
        };
        let found = rest.iter().position(near);
        let found = found.with_context(|| format!("key {key} at beat {beats:.3} was not heard"))?;
        worst = worst.max((rest.swap_remove(found).0 - at).abs());
    }
    Ok(worst)
}

/// Writes the sound as 32-bit floating point; returns its length in seconds and
/// its true peak in dB.
fn write_wav(path: &Path, audio: &[Vec<f32>; 2]) -> Result<(f64, f64)> {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: RATE_HZ,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(path, spec)?;
    let mut meter = ebur128::EbuR128::new(2, RATE_HZ, ebur128::Mode::TRUE_PEAK)?;
    for (left, right) in audio[0].iter().zip(&audio[1]) {
        ensure!(
            left.is_finite() && right.is_finite(),
            "the sound is no sound"
        );
        writer.write_sample(*left)?;
        writer.write_sample(*right)?;
        meter.add_frames_f32(&[*left, *right])?;
    }
    writer.finalize()?;
    let peak = meter.true_peak(0)?.max(meter.true_peak(1)?);
    let peak = 20.0 * peak.log10();
    ensure!(peak > -40.0, "the sound is silent: {peak:.1} dB");
    ensure!(
        peak <= CEILING_DBTP,
        "the sound is too loud: {peak:.2} dB true peak"
    );
    Ok((audio[0].len() as f64 / f64::from(RATE_HZ), peak))
}
