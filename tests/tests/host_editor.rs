//! The editor in use while the plugin plays: opened and closed over and over,
//! typed into, clicked on, resized, with a real mouse and keyboard as far as
//! the plugin can tell. What is played is as if nobody had looked.
//!
//! As in `host_realtime`, an allocation while processing ends this program.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail, ensure};
use barform_dice::{Dice, seed};
use barform_tests::display::{Display, Window};
use barform_tests::hands::{Hands, Named};
use barform_tests::host::{
    Block, Format, Host, Note, ParamChange, Played, Processor, Transport, check_ends,
};
use barform_tests::stored::Stored;

const RATE_HZ: u32 = 48_000;
const FRAMES: u32 = 128;
const TEMPO_BPM: f64 = 120.0;

/// One mouse, one keyboard: one test at a time.
static HANDS: Mutex<()> = Mutex::new(());

/// A screen, hands, and a home folder of the tests' own: nothing that is
/// clicked or typed reaches the user's files.
fn seat() -> Result<(MutexGuard<'static, ()>, Display, Hands)> {
    static HOME: OnceLock<()> = OnceLock::new();
    let guard = HANDS.lock().unwrap_or_else(PoisonError::into_inner);
    HOME.get_or_init(|| {
        let home = Path::new(env!("CARGO_TARGET_TMPDIR")).join("home");
        for (variable, folder) in [
            ("HOME", home.clone()),
            ("XDG_DATA_HOME", home.join("data")),
            ("XDG_CONFIG_HOME", home.join("config")),
            ("XDG_CACHE_HOME", home.join("cache")),
        ] {
            // A folder that cannot be made shows when something is to be kept.
            let _ = std::fs::create_dir_all(&folder);
            // SAFETY: every test of this program calls this first and holds
            // the lock, so no other thread reads the environment meanwhile.
            unsafe { std::env::set_var(variable, &folder) };
        }
        // What is saved by a bare name lands there too.
        let _ = std::env::set_current_dir(&home);
    });
    let display = Display::private()?;
    let hands = Hands::new(&display)?;
    Ok((guard, display, hands))
}

/// What a host hears.
#[derive(Default)]
struct Heard {
    blocks: u32,
    /// On samples of the session.
    notes: Vec<(i64, Note)>,
    audio: [Vec<f32>; 2],
}

impl Heard {
    fn block(&mut self, processor: &mut dyn Processor, block: &Block) -> Result<()> {
        let mut played = Played::default();
        processor.process(block, &mut played)?;
        let sample = self.audio[0].len() as i64;
        for note in &played.notes {
            self.notes.push((sample + i64::from(note.frame), *note));
        }
        for (all, new) in self.audio.iter_mut().zip(&played.audio) {
            all.extend(new);
        }
        self.blocks += 1;
        Ok(())
    }
}

/// The host's time at a block of a session that starts at its first.
fn transport(number: u32) -> Transport {
    let samples = f64::from(number) * f64::from(FRAMES);
    Transport::playing(samples * TEMPO_BPM / (60.0 * f64::from(RATE_HZ)), TEMPO_BPM)
}

/// Plays in time while `work` is done on this thread.
fn while_playing(
    processor: &mut dyn Processor,
    stands: &AtomicBool,
    work: impl FnOnce() -> Result<()>,
) -> Result<Heard> {
    let over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let player = scope.spawn(|| {
            let mut heard = Heard::default();
            let start = Instant::now();
            while !over.load(Ordering::Acquire) {
                let time = if stands.load(Ordering::Acquire) {
                    Transport::stopped()
                } else {
                    transport(heard.blocks)
                };
                heard.block(processor, &Block::of(FRAMES, time))?;
                let due = f64::from(heard.blocks) * f64::from(FRAMES) / f64::from(RATE_HZ);
                let due = start + Duration::from_secs_f64(due);
                std::thread::sleep(due.saturating_duration_since(Instant::now()));
            }
            Ok(heard)
        });
        let done = work();
        over.store(true, Ordering::Release);
        let heard = player.join().expect("the audio thread");
        done.and(heard)
    })
}

/// What a host does on its main thread for a while.
fn idle(host: &mut dyn Host, how_long: Duration) {
    let start = Instant::now();
    while start.elapsed() < how_long {
        host.pump();
        std::thread::sleep(Duration::from_millis(4));
    }
}

fn open(host: &mut dyn Host, display: &Display) -> Result<Window> {
    let window = host.open_editor(display)?;
    window.drawn(|| {
        idle(host, Duration::from_millis(10));
        Ok(())
    })?;
    Ok(window)
}

/// Width and height of a window in round `n`, in pixels.
fn size(n: u32) -> (u32, u32) {
    (800 + n * 97 % 700, 500 + n * 61 % 560)
}

/// The score text of the plugin's state.
fn score(host: &mut dyn Host) -> Result<String> {
    Ok(Stored::read(host.format(), &host.save()?)?
        .score()?
        .to_owned())
}

/// Types a comment at the end of the score text.
fn write_a_comment(hands: &Hands, window: &Window, host: &mut dyn Host, height: u32) -> Result<()> {
    // A frame or two of a machine that draws without a graphics card.
    let beat = Duration::from_millis(80);
    // A click on the margin, where nothing is, for the keyboard to follow.
    hands.click(window, 2, 2)?;
    idle(host, beat);
    hands.control_character('3')?;
    idle(host, beat);
    // The text is at the bottom of the Score page.
    hands.click(window, 300, i16::try_from(height * 19 / 20)?)?;
    idle(host, beat);
    hands.control(Named::End)?;
    hands.type_text("\n# wood")?;
    idle(host, beat);
    Ok(())
}

#[test]
fn what_is_played_is_the_same_with_the_editor_in_use_and_without() -> Result<()> {
    let (_one, display, hands) = seat()?;
    for (format, rounds) in [(Format::Clap, 50), (Format::Vst3, 6)] {
        let mut host = format.load()?;
        let host = host.as_mut();
        let before = score(host)?;
        let mut processor = host.activate(RATE_HZ.into(), FRAMES)?;
        let with = while_playing(processor.as_mut(), &AtomicBool::new(false), || {
            for round in 0..rounds {
                let window = open(host, &display)?;
                let (width, height) = size(round);
                host.resize_editor(&window, width, height)?;
                if round % 5 == 0 {
                    write_a_comment(&hands, &window, host, height)?;
                    idle(host, Duration::from_millis(300));
                } else {
                    hands.click(&window, 2, 2)?;
                    let page = char::from_digit(1 + round % 6, 10).context("a page")?;
                    hands.control_character(page)?;
                    idle(host, Duration::from_millis(30));
                }
                // The first is waited for: it arrives, is checked and plays.
                let start = Instant::now();
                while round == 0 && !score(host)?.contains("# wood") {
                    if start.elapsed() > Duration::from_secs(20) {
                        let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join("editor.png");
                        window.picture()?.write_png(&file)?;
                        bail!("nothing was typed; see {}", file.display());
                    }
                    idle(host, Duration::from_millis(500));
                    write_a_comment(&hands, &window, host, height)?;
                }
                let shown = window.picture()?;
                ensure!(
                    (shown.width, shown.height) == (width, height),
                    "{round}: size"
                );
                host.close_editor();
            }
            Ok(())
        })
        .with_context(|| format!("{format:?}"))?;
        host.deactivate(processor)?;
        let after = score(host)?;
        let comments = after
            .strip_prefix(&before)
            .context("the score is another")?;
        let typed = comments.matches("# wood").count();
        ensure!(typed >= 1, "{format:?}: {comments}");

        let mut host = format.load()?;
        let mut processor = host.activate(RATE_HZ.into(), FRAMES)?;
        let mut without = Heard::default();
        for number in 0..with.blocks {
            without.block(processor.as_mut(), &Block::of(FRAMES, transport(number)))?;
        }
        host.deactivate(processor)?;
        ensure!(without.notes.len() > 40, "{format:?}: hardly a note");
        for (ours, other) in with.notes.iter().zip(&without.notes) {
            ensure!(ours == other, "{format:?}: {ours:?} instead of {other:?}");
        }
        ensure!(
            with.notes.len() == without.notes.len(),
            "{format:?}: notes at the end"
        );
        for (ours, other) in with.audio.iter().zip(&without.audio) {
            let differs = ours
                .iter()
                .zip(other)
                .position(|(a, b)| a.to_bits() != b.to_bits());
            ensure!(
                differs.is_none(),
                "{format:?}: sound differs at sample {differs:?}"
            );
        }
        println!(
            "{format:?}: {rounds} rounds, {typed} comments, {} notes",
            with.notes.len()
        );
    }
    Ok(())
}

#[test]
fn wild_clicks_and_keys_on_every_page_leave_nothing_hanging() -> Result<()> {
    let (_one, display, hands) = seat()?;
    let seed = seed(1);
    let mut dice = Dice::of(seed);
    for format in Format::ALL {
        let mut host = format.load()?;
        let host = host.as_mut();
        let params = host.params()?;
        let bypass = params.iter().find(|p| p.bypass).context("no bypass")?.id;
        let mut processor = host.activate(RATE_HZ.into(), FRAMES)?;
        let mut heard = while_playing(processor.as_mut(), &AtomicBool::new(false), || {
            for page in ['1', '2', '3', '4', '5', '6', '2', '1'] {
                let window = open(host, &display)?;
                let shown = window.picture()?;
                let (width, height) = (shown.width as usize, shown.height as usize);
                let mut place = || -> Result<(i16, i16)> {
                    let (x, y) = (dice.below(width), dice.below(height));
                    Ok((i16::try_from(x)?, i16::try_from(y)?))
                };
                let mut dice = Dice::of(seed.wrapping_add(page.into()));
                let at = place()?;
                hands.move_to(&window, at.0, at.1)?;
                hands.control_character(page)?;
                for _ in 0..40 {
                    match dice.below(10) {
                        0..=4 => {
                            let at = place()?;
                            hands.click(&window, at.0, at.1)?;
                        }
                        5 | 6 => hands.drag(&window, place()?, place()?)?,
                        7 => hands.type_text(["r", "R", "l", "k", ".", "6", "b"][dice.below(7)])?,
                        8 => hands.control_character(['z', 'y', 'c', 'v', 'd'][dice.below(5)])?,
                        _ => hands.key(
                            [
                                Named::F5,
                                Named::F6,
                                Named::Tab,
                                Named::Escape,
                                Named::Return,
                            ][dice.below(5)],
                        )?,
                    }
                    idle(host, Duration::from_millis(8));
                }
                host.close_editor();
            }
            Ok(())
        })
        .with_context(|| format!("{format:?}"))?;
        // The own clock may run by now; bypass stops that too.
        let quiet = [ParamChange {
            frame: 0,
            id: bypass,
            value: 1.0,
        }];
        let end = Block {
            params: &quiet,
            ..Block::of(FRAMES, Transport::stopped())
        };
        heard.block(processor.as_mut(), &end)?;
        host.deactivate(processor)?;
        let sound = heard.audio.iter().flatten();
        ensure!(
            sound.clone().all(|s| s.abs() <= 1.0) && sound.clone().any(|s| *s != 0.0),
            "{format:?}: no sound, or too loud"
        );
        check_ends(&heard.notes).with_context(|| format!("{format:?}"))?;
        println!(
            "{format:?}: {} blocks, {} notes",
            heard.blocks,
            heard.notes.len()
        );
    }
    Ok(())
}

/// What the host's window hears once `sign` was typed into the editor.
fn heard_of(hands: &Hands, window: &Window, host: &mut dyn Host, sign: &str) -> Result<Vec<char>> {
    hands.type_text(sign)?;
    // Frames of a machine that draws without a graphics card.
    idle(host, Duration::from_millis(400));
    hands.heard(window)
}

#[test]
fn keys_that_mean_nothing_in_the_editor_reach_the_host() -> Result<()> {
    let (_one, display, hands) = seat()?;
    for format in Format::ALL {
        let mut host = format.load()?;
        let host = host.as_mut();
        let mut processor = host.activate(RATE_HZ.into(), FRAMES)?;
        // The host's time stands; it is the host's that rules.
        while_playing(processor.as_mut(), &AtomicBool::new(true), || {
            let window = open(host, &display)?;
            hands.listen(&window)?;
            let before = score(host)?;
            for page in '1'..='6' {
                hands.click(&window, 2, 2)?;
                hands.control_character(page)?;
                idle(host, Duration::from_millis(400));
                let _ = hands.heard(&window)?;
                let heard = heard_of(&hands, &window, host, " ")?;
                ensure!(heard == [' '], "page {page}: {heard:?} for the space bar");
            }
            ensure!(score(host)? == before, "a space has changed the score");
            hands.control_character('2')?;
            idle(host, Duration::from_millis(400));
            for (sign, reaches) in [("w", true), ("r", false), ("x", false)] {
                let heard = heard_of(&hands, &window, host, sign)?;
                let wanted: Vec<char> = sign.chars().filter(|_| reaches).collect();
                ensure!(heard == wanted, "{heard:?} for {sign}");
            }
            // The score's text takes what is typed.
            hands.control_character('3')?;
            idle(host, Duration::from_millis(400));
            let height = window.picture()?.height;
            hands.click(&window, 300, i16::try_from(height * 19 / 20)?)?;
            idle(host, Duration::from_millis(400));
            let heard = heard_of(&hands, &window, host, " w")?;
            ensure!(heard.is_empty(), "{heard:?} for what is typed");
            host.close_editor();
            Ok(())
        })
        .with_context(|| format!("{format:?}"))?;
        host.deactivate(processor)?;
    }
    Ok(())
}

#[test]
fn a_window_at_rest_stays_and_notices_when_time_runs() -> Result<()> {
    let (_one, display, hands) = seat()?;
    let mut host = Format::Clap.load()?;
    let host = host.as_mut();
    let mut processor = host.activate(RATE_HZ.into(), FRAMES)?;
    let stands = AtomicBool::new(true);
    while_playing(processor.as_mut(), &stands, || {
        let window = open(host, &display)?;
        hands.move_to(&window, 2, 2)?;
        idle(host, Duration::from_millis(1_500));
        let rest = window.picture()?;
        idle(host, Duration::from_millis(1_000));
        ensure!(window.picture()? == rest, "it moves though nothing happens");
        stands.store(false, Ordering::Release);
        let start = Instant::now();
        while window.picture()? == rest {
            idle(host, Duration::from_millis(20));
            if start.elapsed() > Duration::from_secs(5) {
                bail!("it stands still though time runs");
            }
        }
        host.close_editor();
        Ok(())
    })?;
    host.deactivate(processor)
}
