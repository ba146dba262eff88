//! The panel that hands a score on as a file: every choice, and no file replaced
//! unasked.

mod soundfont;
mod window;

use std::path::{Path, PathBuf};
use std::time::Duration;

use egui::{Event, Key};
use egui_kittest::kittest::Queryable;
use window::Window;

/// Four beats: two letters, a kick and a snare.
const SCORE: &str = "barform = 1\ntitle = \"Two\"\ntempo = 120\nmeter = \"4/4\"\n\
    form = \"A B\"\n\
    [cell.A]\ngrid = \"2 2\"\nsticking = \"R L R L\"\n\
    [cell.B]\ngrid = \"2 2\"\nsticking = \"K - K -\"\n";

fn open(folder: &Path) -> Window {
    let mut window = Window::with_score(SCORE);
    let score = folder.join("two.barform").display().to_string();
    window.params.session.set_file(Some(score));
    window.click("Export…");
    window
}

/// Clicks a button that starts the work, and waits for its end.
fn work(window: &mut Window, button: &str) {
    window.click(button);
    while window.harness.query_by_label("Close").is_none() {
        std::thread::sleep(Duration::from_millis(2));
        window.harness.run_steps(1);
    }
    window.settle();
}

/// Types a number into a field.
fn number(window: &mut Window, label: &str, text: &str) {
    window.harness.get_by_label(label).click();
    window.harness.run_steps(3);
    window.harness.event(Event::Text(text.to_owned()));
    window.harness.run_steps(2);
    window.key(Key::Enter);
}

/// Opens a list and takes one of its lines.
fn pick(window: &mut Window, list: &str, line: &str) {
    window.click(list);
    window
        .harness
        .get_all_by_label(line)
        .last()
        .unwrap()
        .click();
    window.settle();
}

fn wav(path: &Path) -> hound::WavReader<std::io::BufReader<std::fs::File>> {
    hound::WavReader::open(path).unwrap()
}

fn seconds(path: &Path) -> f64 {
    let reader = wav(path);
    f64::from(reader.duration()) / f64::from(reader.spec().sample_rate)
}

fn files(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// At 120 beats a minute a letter of two beats lasts a second.
#[test]
fn one_letter_so_many_times_at_a_bit_depth_and_rate() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("two.wav");
    let mut window = open(folder.path());
    window.click("WAV");
    pick(&mut window, "What is played", "letter A");
    number(&mut window, "Times", "3");
    window.click("16 bit");
    window.click("44.1 kHz");
    window.click("Cut at the end");
    work(&mut window, "Write");
    window.harness.get_by_label_contains("Done. ");
    let spec = wav(&file).spec();
    assert_eq!((spec.bits_per_sample, spec.sample_rate), (16, 44_100));
    assert!((seconds(&file) - 3.0).abs() < 1e-3, "{}", seconds(&file));
}

#[test]
fn the_form_with_bars_ahead_a_click_and_another_tempo() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = open(folder.path());
    window.click("MIDI file");
    number(&mut window, "Times", "2");
    number(&mut window, "Count-in bars", "1");
    window.click("Click");
    window.click("From the score");
    number(&mut window, "Tempo of the file", "60");
    work(&mut window, "Write");
    // A bar ahead and the form twice: twelve beats at 60 are twelve seconds.
    window.harness.get_by_label_contains("12.0 s");
    let bytes = std::fs::read(folder.path().join("two.mid")).unwrap();
    let clicked = bytes.len();
    window.click("Click");
    work(&mut window, "Write");
    work(&mut window, "Replace it");
    let bytes = std::fs::read(folder.path().join("two.mid")).unwrap();
    assert!(bytes.len() < clicked, "no click any more");
}

#[test]
fn what_is_left_out_is_not_heard() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = open(folder.path());
    window.click("MIDI file");
    window.click("Hands");
    window.click("Feet");
    window.click("Ostinatos");
    work(&mut window, "Write");
    let bytes = std::fs::read(folder.path().join("two.mid")).unwrap();
    let notes = bytes.windows(3).filter(|b| b[0] == 0x99 && b[2] > 0);
    assert_eq!(notes.count(), 0);
}

#[test]
fn stems_go_into_a_folder_and_replace_nothing_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let stems = folder.path().join("two");
    let mut window = open(folder.path());
    window.click("WAV");
    window.click("A file for each voice");
    assert!(window.harness.query_all_by_label("Folder").next().is_some());
    work(&mut window, "Write");
    window
        .harness
        .get_by_label_contains("2 files (kick, snare)");
    assert_eq!(files(&stems), ["two-kick.wav", "two-snare.wav"]);
    assert_eq!(files(folder.path()), ["two"], "nothing else is left");

    std::fs::write(stems.join("two-kick.wav"), "theirs").unwrap();
    work(&mut window, "Write");
    window.harness.get_by_label("A file of that name exists.");
    let kick = stems.join("two-kick.wav");
    window.harness.get_by_label(&kick.display().to_string());
    assert_eq!(std::fs::read(&kick).unwrap(), b"theirs");
    work(&mut window, "Replace it");
    assert!(std::fs::read(&kick).unwrap().starts_with(b"RIFF"));
}

/// EBU R 128 as the core measures it; its own tests check that against published
/// signals.
#[test]
fn a_loudness_is_reached_or_the_shortfall_told() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = open(folder.path());
    window.click("FLAC");
    number(&mut window, "Times", "4");
    window.click("As it is");
    number(&mut window, "Loudness", "-30");
    work(&mut window, "Write");
    window.harness.get_by_label_contains("-30.0 LUFS");
    let bytes = std::fs::read(folder.path().join("two.flac")).unwrap();
    assert!(bytes.starts_with(b"fLaC"));
    number(&mut window, "Loudness", "-5");
    work(&mut window, "Write");
    work(&mut window, "Replace it");
    window
        .harness
        .get_by_label_contains("below the loudness asked for");
}

#[test]
fn floating_point_is_for_wav_only() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = open(folder.path());
    window.click("WAV");
    window.click("32 bit");
    work(&mut window, "Write");
    let spec = wav(&folder.path().join("two.wav")).spec();
    assert_eq!(spec.sample_format, hound::SampleFormat::Float);
    window.click("FLAC");
    work(&mut window, "Write");
    window.harness.get_by_label_contains("Done. ");
    assert!(folder.path().join("two.flac").exists());
}

/// Types the path of a SoundFont and has it read, until `seen` is said.
fn read_font(window: &mut Window, font: &Path, seen: &str) {
    window.harness.get_by_label("SoundFont file").focus();
    window.harness.run_steps(2);
    let path = font.display().to_string();
    window
        .harness
        .get_by_label("SoundFont file")
        .type_text(&path);
    window.settle();
    window.click("Read it");
    while window
        .harness
        .query_all_by_label_contains(seen)
        .next()
        .is_none()
    {
        std::thread::sleep(Duration::from_millis(2));
        window.harness.run_steps(1);
    }
}

#[test]
fn a_preset_of_a_soundfont_plays_and_what_it_lacks_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let font = folder.path().join("kick.sf2");
    std::fs::write(&font, soundfont::bytes()).unwrap();
    let mut window = open(folder.path());
    window.click("WAV");
    work(&mut window, "Write");
    let of_kit = std::fs::read(folder.path().join("two.wav")).unwrap();
    window.click("SoundFont");
    read_font(&mut window, &font, "Preset");
    pick(&mut window, "Preset", "128:1 Hall");
    work(&mut window, "Write");
    work(&mut window, "Replace it");
    window
        .harness
        .get_by_label_contains("Not in the SoundFont, so from the embedded kit: snare");
    let of_font = std::fs::read(folder.path().join("two.wav")).unwrap();
    assert_ne!(of_font, of_kit);
}

#[test]
fn a_soundfont_that_is_none_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let font: PathBuf = folder.path().join("none.sf2");
    std::fs::write(&font, "no sounds in here").unwrap();
    let mut window = open(folder.path());
    window.click("WAV");
    window.click("SoundFont");
    work(&mut window, "Write");
    window
        .harness
        .get_by_label_contains("Read a SoundFont first");
    read_font(&mut window, &font, "not a valid SoundFont 2 file");
    work(&mut window, "Write");
    assert!(!folder.path().join("two.wav").exists());
    window.click("Embedded kit");
    work(&mut window, "Write");
    assert!(folder.path().join("two.wav").exists());
}

#[test]
fn work_can_be_stopped_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = open(folder.path());
    window.click("WAV");
    // Ten minutes of audio: it is stopped long before its end.
    number(&mut window, "Times", "300");
    window.harness.get_by_label("Write").click();
    window.harness.run_steps(2);
    window.harness.get_by_label("Stop").click_accesskit();
    while window.harness.query_by_label("Close").is_none() {
        window.harness.run_steps(1);
        std::thread::sleep(Duration::from_millis(2));
    }
    window.settle();
    window.harness.get_by_label_contains("Stopped");
    assert!(
        files(folder.path()).is_empty(),
        "{:?}",
        files(folder.path())
    );
}

#[test]
fn a_name_of_another_kind_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = open(folder.path());
    window.click("WAV");
    let field = window.harness.get_all_by_label("File");
    let field = field.last().unwrap();
    field.focus();
    window.harness.run_steps(2);
    window
        .harness
        .key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    window.harness.run_steps(1);
    let name = folder.path().join("two.flac").display().to_string();
    window.harness.event(Event::Text(name));
    window.settle();
    work(&mut window, "Write");
    window.harness.get_by_label_contains("would hold WAV audio");
    assert!(files(folder.path()).is_empty());
}
