//! WAV and FLAC files as an ear and a meter get them: strokes begin when the score says,
//! the level keeps its limit, nothing is clipped, nothing is silent.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use barform_tests::command;
use ebur128::{EbuR128, Mode};
use serde_json::{Value, json};

/// How far a stroke may be heard from where it is written.
const TOLERANCE_S: f64 = 0.001;

/// A file to be rendered and listened to.
struct Job {
    name: &'static str,
    /// Verb and ending.
    kind: &'static str,
    score: String,
    options: &'static [&'static str],
    /// The same for Python: passes, lead, click, tracks heard.
    passes: u32,
    lead: u32,
    click: bool,
    heard: &'static [&'static str],
}

/// A score of one cell; strokes are kept apart enough to be told from each other.
fn score(tempo: &str, meter: &str, pickup: &str, cell: &str) -> String {
    format!(
        "barform = 1\ntitle = \"{meter}\"\ntempo = {tempo}\nmeter = \"{meter}\"\n\
         pickup = \"{pickup}\"\nform = \"A A A\"\n\n[cell.A]\n{cell}\n"
    )
}

fn jobs() -> Result<Vec<Job>> {
    let demo = command::checked(command::barform()?.arg("demo").output()?, "demo")?;
    let job = |name, score| Job {
        name,
        kind: "wav",
        score,
        options: &[],
        passes: 1,
        lead: 0,
        click: false,
        heard: &["Hands", "Feet"],
    };
    let cross = "grid = \"4 3 5\"\nsticking = \"R L R L  R L R  R L R L R\"\n\
                 voices = \"snare:cross . . .  . . .  . . . . .\"";
    let hat = "grid = \"3@2 7@3\"\nsticking = \"R R R  R R R R R R R\"\n\
               voices = \"hat . .  . . . . . . .\"";
    let snare = "grid = \"1 2 1@1/2 1@1/2\"\nsticking = \"R L R L -\"";
    let kick = "grid = \"2 3@2\"\nsticking = \"K K  K K K\"";
    Ok(vec![
        job("cross-stick", score("92", "4/4", "0", cross)),
        Job {
            options: &["--rate=44100", "--passes=2", "--count-in=1", "--bits=16"],
            passes: 2,
            lead: 1,
            ..job("hat", score("133", "7/8", "0", hat))
        },
        Job {
            options: &["--rate=96000", "--bits=32"],
            ..job("snare", score("71.3", "4/4", "1", snare))
        },
        job("kick", score("97", "3/4", "1/2", kick)),
        Job {
            kind: "flac",
            ..job("snare-flac", score("83.7", "4/4", "1", snare))
        },
        Job {
            kind: "flac",
            options: &["--rate=192000", "--bits=16", "--loudness=-20"],
            ..job("cross-flac", score("101", "5/4", "0", cross))
        },
        Job {
            options: &[
                "--click",
                "--count-in=2",
                "--without=hands,feet",
                "--rate=44100",
            ],
            lead: 2,
            click: true,
            heard: &["Click"],
            ..job("click", score("101", "5/4", "1", snare))
        },
        Job {
            options: &["--without=hands,ostinatos", "--passes=2"],
            passes: 2,
            heard: &["Feet"],
            ..job("demo-feet", demo.clone())
        },
        Job {
            options: &["--without=hands,feet"],
            heard: &["Ostinatos"],
            ..job("demo-ostinato", demo)
        },
    ])
}

/// Renders a score and returns the file.
fn render(folder: &Path, name: &str, kind: &str, score: &str, options: &[&str]) -> Result<PathBuf> {
    let source = folder.join(format!("{name}.barform"));
    let file = folder.join(format!("{name}.{kind}"));
    fs::write(&source, score)?;
    let mut barform = command::barform()?;
    let output = barform
        .arg(kind)
        .arg(&source)
        .arg("-o")
        .arg(&file)
        .args(options)
        .output()?;
    command::checked(output, name)?;
    Ok(file)
}

/// A file's channels, full scale ±1, and its rate.
struct Audio {
    left: Vec<f32>,
    right: Vec<f32>,
    rate_hz: u32,
}

fn read(file: &Path) -> Result<Audio> {
    if file.extension().is_some_and(|ending| ending == "flac") {
        return read_flac(file);
    }
    let mut reader = hound::WavReader::open(file)?;
    let spec = reader.spec();
    assert_eq!(spec.channels, 2);
    let samples: Vec<f32> = match spec.sample_format {
        hound::SampleFormat::Float => reader.samples().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => {
            let full_scale = (1_u64 << (spec.bits_per_sample - 1)) as f32;
            let samples = reader.samples::<i32>();
            samples
                .map(|s| s.map(|s| s as f32 / full_scale))
                .collect::<Result<_, _>>()?
        }
    };
    let channel = |n| samples.iter().skip(n).step_by(2).copied().collect();
    Ok(Audio {
        left: channel(0),
        right: channel(1),
        rate_hz: spec.sample_rate,
    })
}

/// The same from a FLAC file.
fn read_flac(file: &Path) -> Result<Audio> {
    let mut reader = claxon::FlacReader::open(file)?;
    let info = reader.streaminfo();
    assert_eq!(info.channels, 2);
    let full_scale = (1_u64 << (info.bits_per_sample - 1)) as f32;
    let samples: Vec<f32> = reader
        .samples()
        .map(|s| s.map(|s| s as f32 / full_scale))
        .collect::<Result<_, _>>()?;
    let channel = |n| samples.iter().skip(n).step_by(2).copied().collect();
    Ok(Audio {
        left: channel(0),
        right: channel(1),
        rate_hz: info.sample_rate,
    })
}

/// Where energy rises at once: the energy of the next third of a millisecond,
/// above 1 kHz, against the strongest of the six milliseconds before.
fn onsets(audio: &Audio) -> Vec<f64> {
    let rate_hz = f64::from(audio.rate_hz);
    let frames = |seconds: f64| (seconds * rate_hz).round() as usize;
    let (window, past, guard) = (frames(0.000_3), frames(0.006), frames(0.000_5));
    let mut bright: Vec<f64> = audio
        .left
        .iter()
        .zip(&audio.right)
        .map(|(l, r)| f64::from(l + r))
        .collect();
    // Two first-order high-passes: ringing below does not count.
    let keep = (-2.0 * std::f64::consts::PI * 1000.0 / rate_hz).exp();
    for _ in 0..2 {
        let mut low = 0.0;
        for x in &mut bright {
            low = keep * low + (1.0 - keep) * *x;
            *x -= low;
        }
    }
    let power: Vec<f64> = bright
        .windows(window)
        .map(|w| w.iter().map(|x| x * x).sum())
        .collect();
    let strongest = power.iter().copied().fold(0.0, f64::max);
    let mut found = Vec::new();
    let mut rest_until = 0;
    for n in 0..power.len() {
        if n < rest_until || power[n] < strongest * 1e-3 {
            continue;
        }
        let before = &power[n.saturating_sub(past)..n.saturating_sub(guard)];
        let background = before.iter().copied().fold(0.0, f64::max);
        if power[n] > 10.0 * background {
            found.push(n as f64 / rate_hz);
            rest_until = n + frames(0.03);
        }
    }
    found
}

/// Levels: the limit, no clipping, no silence, numbers only.
fn check_levels(name: &str, audio: &Audio) -> Result<()> {
    let all = || audio.left.iter().chain(&audio.right);
    assert!(all().all(|x| x.is_finite()), "{name}");
    let peak = all().fold(0.0_f32, |peak, x| peak.max(x.abs()));
    assert!(peak > 0.01, "{name} is all but silent: {peak}");
    // Clipping shows as neighbours at the highest level.
    let flat = |channel: &[f32]| {
        channel
            .windows(3)
            .any(|w| w.iter().all(|x| x.abs() >= 0.999))
    };
    assert!(
        !flat(&audio.left) && !flat(&audio.right),
        "{name} is clipped"
    );

    // True peak by ITU-R BS.1770, as ebur128 measures it; silence lets the
    // interpolator see the end.
    let mut meter = EbuR128::new(2, audio.rate_hz, Mode::TRUE_PEAK)?;
    meter.add_frames_planar_f32(&[&audio.left, &audio.right])?;
    meter.add_frames_planar_f32(&[&[0.0; 64], &[0.0; 64]])?;
    let true_peak = meter.true_peak(0)?.max(meter.true_peak(1)?);
    let dbtp = 20.0 * true_peak.log10();
    assert!(dbtp <= -1.0, "{name}: {dbtp} dBTP");
    Ok(())
}

fn seconds(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_f64)
        .collect()
}

fn near(time: f64, times: &[f64]) -> usize {
    times
        .iter()
        .filter(|t| (*t - time).abs() <= TOLERANCE_S)
        .count()
}

#[test]
fn strokes_begin_when_the_score_says() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let jobs = jobs()?;
    let described: Vec<Value> = jobs
        .iter()
        .map(|job| {
            json!({"score": job.score, "passes": job.passes, "lead": job.lead,
                "click": job.click, "heard": job.heard})
        })
        .collect();
    let list = folder.path().join("jobs.json");
    fs::write(&list, serde_json::to_vec(&described)?)?;
    let schedules: Value = serde_json::from_str(&command::python("onsets.py", &[&list])?)?;

    for (job, schedule) in jobs
        .iter()
        .zip(schedules.as_array().context("no schedules")?)
    {
        let name = job.name;
        let audio = read(&render(
            folder.path(),
            name,
            job.kind,
            &job.score,
            job.options,
        )?)?;
        check_levels(name, &audio)?;
        let (must, may) = (seconds(&schedule["must"]), seconds(&schedule["may"]));
        assert!(must.len() >= 12, "{name}: only {} strokes", must.len());
        let heard = onsets(&audio);
        for time in &must {
            assert_eq!(
                near(*time, &heard),
                1,
                "{name}: at {time} s; heard {heard:?}"
            );
        }
        for time in &heard {
            let known = near(*time, &must) + near(*time, &may);
            assert!(
                known >= 1,
                "{name}: something at {time} s that is not written"
            );
        }
        // Rung out at the end, or the form's length at least.
        let length = audio.left.len() as f64 / f64::from(audio.rate_hz);
        assert!(
            length >= schedule["end"].as_f64().context("no end")? - 1.0 / 44_100.0,
            "{name}"
        );
    }
    Ok(())
}

#[test]
fn the_demo_and_the_loudest_score_keep_the_limit() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let demo = command::checked(command::barform()?.arg("demo").output()?, "demo")?;
    // Everything at once, accented, far louder than any music.
    let loud = "barform = 1\ntempo = 300\nform = \"A[level 150%] A[level 150%]\"\n\n\
                [cell.A]\ngrid = \"4 4\"\nsticking = \"R>+L>+K>+H> R>+L>+K>+H> R>+L>+K> R>+L>+K> \
                R>+L>+K>+H> R>+L>+K>+H> R>+L>+K> R>+L>+K>\"\n\
                voices = \"crash+snare:rim+kick+hatfoot . tom6+china+kick . \
                crash2+tom5+kick+hatfoot . tom1:rim+snare:rim+kick .\"\n";
    for (name, score) in [("demo", demo.as_str()), ("loud", loud)] {
        for (bits, rate) in [("16", "44100"), ("24", "48000"), ("32", "96000")] {
            let name = format!("{name}-{bits}");
            let options = [
                format!("--bits={bits}"),
                format!("--rate={rate}"),
                "--click".to_owned(),
            ];
            let options: Vec<&str> = options.iter().map(String::as_str).collect();
            let audio = read(&render(folder.path(), &name, "wav", score, &options)?)?;
            assert_eq!(audio.rate_hz.to_string(), rate);
            check_levels(&name, &audio)?;
        }
    }
    Ok(())
}

#[test]
fn a_tail_of_nothing_cuts_at_the_form_s_end() -> Result<()> {
    let folder = tempfile::tempdir()?;
    // Three beats at 97 a minute, three times.
    let score = score("97", "3/4", "0", "grid = \"1 1 1\"\nsticking = \"R L R\"");
    for (tail, after) in [("--tail=0", 0.0), ("--tail=1.5", 1.5)] {
        let audio = read(&render(folder.path(), tail, "wav", &score, &[tail])?)?;
        let frames = (9.0 * 60.0 / 97.0 + after) * 48_000.0;
        assert!((audio.left.len() as f64 - frames).abs() <= 1.0, "{tail}");
    }
    Ok(())
}
