//! The words of the command line.

use crate::craft;
use crate::handout;
use crate::import;
use crate::input::Source;
use crate::musicxml;
use crate::output::Target;
use crate::practice;
use crate::sheet;
use crate::take;
use crate::text;
use barform_app::export::Options;
use barform_app::export::audio::{FileKind, Format, Level, SampleFormat};
use barform_app::music::{Beats, Letter};
use barform_app::player::Mute;
use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

const STATUS: &str = "\
Exit status:
  0  done
  1  a score has an error, or cannot be played as asked
  2  the command line has an error
  3  a file cannot be read or written

NO_COLOR turns colours off.";

const EXAMPLES: &str = "\
Examples:
  barform demo > mine.barform            start from the demo score
  barform check mine.barform             find what is wrong
  barform show mine.barform              read it, counted bar by bar
  barform midi mine.barform              write mine.mid
  barform wav mine.barform --click --count-in 2 --passes 4
                                         a practice track: count-in, four times

Start playback low: drums and clicks in headphones can damage hearing.";

/// Lettered drum forms: check, show, export
#[derive(Debug, Parser)]
#[command(name = "barform", version, after_help = format!("{EXAMPLES}\n\n{STATUS}"))]
#[command(max_term_width = 100)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub verb: Verb,
}

/// What the command can do.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Check scores for errors, and say where they are
    Check(CheckArgs),
    /// Show a form in the terminal: letters, counts, sticking and voices
    Show(ShowArgs),
    /// Write a Standard MIDI File
    Midi(MidiArgs),
    /// Write the form or a letter as a WAV file, or as stems
    Wav(AudioArgs),
    /// The same as FLAC: lossless, about half the size
    Flac(AudioArgs),
    /// Print the form or a letter as a sheet: PDF, SVG or PNG
    Sheet(sheet::SheetArgs),
    /// Print the form and a practice page for each letter, for a student: PDF
    Handout(handout::HandoutArgs),
    /// Write the sheet as MusicXML, for notation programs
    Musicxml(musicxml::MusicXmlArgs),
    /// Read a MIDI file or a MusicXML part into a score
    Import(import::ImportArgs),
    /// Read what somebody played into a lettered form
    Take(take::TakeArgs),
    /// Make practice tracks, and say how a take was played
    Practice(Box<practice::PracticeArgs>),
    /// Print the demo score, to start from
    Demo,
    /// Print a score in its regular spelling
    Respell(RespellArgs),
    /// Say what is counted on each slot
    Count(craft::count::CountArgs),
    /// Find the sticking that costs the hands least, with reasons
    Stick(craft::stick::StickArgs),
    /// Find the rudiments in a score
    Rudiments(craft::rudiments::RudimentsArgs),
    /// Say how fast it can be played, and what limits it
    Playable(craft::playable::PlayableArgs),
    /// Make variations of a cell, nearest first
    Vary(craft::vary::VaryArgs),
    /// Put cells on another subdivision, refit or carried
    Refit(craft::refit::RefitArgs),
    /// Put cells on another kit
    Revoice(craft::revoice::RevoiceArgs),
    /// List forms that fill so many bars, best first
    Forms(craft::forms::FormsArgs),
    /// Find what does not fill its bars, and fix it
    Mend(craft::mend::MendArgs),
}

/// `barform check`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform check *.barform
  barform check --quiet - < mine.barform && echo valid")]
pub struct CheckArgs {
    /// Score files; - reads standard input
    #[arg(value_name = "SCORE", required_unless_present = "demo")]
    pub scores: Vec<PathBuf>,
    /// Check the built-in demo score
    #[arg(long)]
    pub demo: bool,
    /// Say nothing about scores without errors
    #[arg(short, long)]
    pub quiet: bool,
}

/// `barform show`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform show mine.barform
  barform show mine.barform --bars 3-6
  barform show mine.barform --letter \"A'\"   one cell, counted from its first beat")]
pub struct ShowArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Show one cell on its own
    #[arg(short, long, value_name = "LETTER", value_parser = letter)]
    #[arg(conflicts_with = "bars")]
    pub letter: Option<Letter>,
    /// Show some bars: 3, 3-6, 3- or -6; a pickup is bar 0
    #[arg(short, long, value_name = "BARS", value_parser = bars, allow_hyphen_values = true)]
    pub bars: Option<(u32, u32)>,
    /// Columns to use [default: those of the terminal, else 80]
    #[arg(short, long, value_name = "COLUMNS")]
    #[arg(value_parser = clap::value_parser!(u16).range(40..=400))]
    pub width: Option<u16>,
}

/// What a file plays.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "What is played")]
pub struct Playing {
    /// Play the form this many times
    #[arg(short, long, default_value_t = 1, value_name = "N")]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=9999))]
    pub passes: u32,
    /// Bars of count-in before the form; only the click plays
    #[arg(long, default_value_t = 0, value_name = "BARS")]
    #[arg(value_parser = clap::value_parser!(u32).range(0..=64))]
    pub count_in: u32,
    /// Beats a minute, instead of the score's
    #[arg(short, long, value_parser = text::beats)]
    pub tempo: Option<Beats>,
    /// Add the metronome click
    #[arg(short, long)]
    pub click: bool,
    /// Leave out: hands, feet, ostinatos (several with commas)
    #[arg(long, value_name = "WHAT", value_delimiter = ',')]
    pub without: Vec<Part>,
    /// Milliseconds between grace notes
    #[arg(long, default_value_t = Options::default().grace_ms, value_name = "MS")]
    pub grace: f64,
    /// Milliseconds between the bounces of a buzz
    #[arg(long, default_value_t = Options::default().buzz_ms, value_name = "MS")]
    pub buzz: f64,
}

/// What can be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Part {
    /// Strokes of the hands in the form
    Hands,
    /// Strokes of the feet in the form
    Feet,
    /// All ostinatos
    Ostinatos,
}

impl Playing {
    /// As the core takes it.
    pub fn options(&self) -> Options {
        let without = |part| self.without.contains(&part);
        Options {
            passes: self.passes,
            empty_bars: self.count_in,
            tempo: self.tempo,
            grace_ms: self.grace,
            buzz_ms: self.buzz,
            mute: Mute {
                hands: without(Part::Hands),
                feet: without(Part::Feet),
                ostinato: without(Part::Ostinatos),
                click: !self.click,
            },
            ..Options::default()
        }
    }
}

/// `barform midi`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Bar lines of the file are the form's; a pickup is the end of the file's first bar.

Examples:
  barform midi mine.barform
  barform midi mine.barform --count-in 1 --passes 4 -o four-times.mid
  barform midi - -o - < mine.barform > mine.mid")]
pub struct MidiArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// Say nothing about the file
    #[arg(short, long)]
    pub quiet: bool,
    /// What is played.
    #[command(flatten)]
    pub playing: Playing,
    /// Length of every note in milliseconds
    #[arg(long, default_value_t = Options::default().gate_ms, value_name = "MS")]
    pub gate: f64,
}

/// `barform wav` and `barform flac`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
The file starts as the MIDI file with the same options does, and never exceeds
-1 dB true peak. Its loudness is given as EBU R 128 measures it.

Stems share one gain and add up to the mix; they are made without the limiter
that holds the built-in kit back where it is very loud.

Examples:
  barform wav mine.barform
  barform wav mine.barform --tail 0 -o loop.wav          cut at the form's end
  barform wav mine.barform --click --count-in 2 --tempo 70   slow, with a count-in
  barform wav mine.barform --letter A --times 16         one letter, looped
  barform flac mine.barform --loudness -16 --bits 16     as loud as asked for
  barform wav mine.barform --stems takes                 takes/mine-snare.wav ...
  barform wav mine.barform --soundfont drums.sf2         on your own sounds")]
pub struct AudioArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// Write one file per voice that sounds, into this folder, instead
    #[arg(long, value_name = "FOLDER", conflicts_with = "output")]
    pub stems: Option<PathBuf>,
    /// Put all toms into one stem, all hi-hats, all cymbals
    #[arg(long, requires = "stems")]
    pub grouped: bool,
    /// Say nothing about the file, and show no progress
    #[arg(short, long)]
    pub quiet: bool,
    /// What is played.
    #[command(flatten)]
    pub playing: Playing,
    /// Play one letter instead of the form
    #[arg(long, value_name = "LETTER", value_parser = letter, conflicts_with = "passes")]
    pub letter: Option<Letter>,
    /// Play the letter this many times
    #[arg(long, value_name = "N", requires = "letter")]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=9999))]
    pub times: Option<u32>,
    /// Play on a SoundFont 2 file instead of the built-in kit
    #[arg(long, value_name = "FILE", help_heading = "How it sounds")]
    pub soundfont: Option<PathBuf>,
    /// Bank and program in the SoundFont [default: its first drum kit, bank 128]
    #[arg(long, value_name = "BANK:PROGRAM", value_parser = preset)]
    #[arg(requires = "soundfont", help_heading = "How it sounds")]
    pub preset: Option<(u16, u16)>,
    /// Loudness, rate, bits, tail.
    #[command(flatten)]
    pub sound: SoundArgs,
}

/// Options of every verb that writes sound.
#[derive(Debug, clap::Args)]
pub struct SoundArgs {
    /// Integrated loudness to reach, in LUFS, as far as -1 dB true peak allows
    #[arg(long, value_name = "LUFS", allow_hyphen_values = true)]
    #[arg(help_heading = "How it sounds")]
    pub loudness: Option<f64>,
    /// Sample rate in hertz
    #[arg(short, long, default_value_t = 48_000, value_name = "HZ")]
    #[arg(value_parser = clap::value_parser!(u32).range(8_000..=384_000))]
    #[arg(help_heading = "How it sounds")]
    pub rate: u32,
    /// Bits per sample; 32 is floating point, in WAV files only
    #[arg(
        long,
        default_value = "24",
        value_name = "BITS",
        help_heading = "How it sounds"
    )]
    pub bits: Bits,
    /// Seconds after the end [default: until the kit has rung out]
    #[arg(long, value_name = "SECONDS", help_heading = "How it sounds")]
    pub tail: Option<f64>,
}

impl SoundArgs {
    /// The format of a file of one kind.
    pub fn format(&self, kind: FileKind) -> Format {
        Format {
            kind,
            rate_hz: self.rate,
            sample: match self.bits {
                Bits::Sixteen => SampleFormat::Int16,
                Bits::TwentyFour => SampleFormat::Int24,
                Bits::ThirtyTwo => SampleFormat::Float32,
            },
        }
    }

    /// How loud it becomes.
    pub fn level(&self) -> Level {
        Level {
            target_lufs: self.loudness,
        }
    }
}

/// Bits per sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Bits {
    /// Integer, dithered
    #[value(name = "16")]
    Sixteen,
    /// Integer, dithered
    #[value(name = "24")]
    TwentyFour,
    /// Floating point
    #[value(name = "32")]
    ThirtyTwo,
}

/// `barform respell`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  barform respell mine.barform                              look at it
  barform respell mine.barform -o mine.barform --force   respell the file")]
pub struct RespellArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
}

pub(crate) fn letter(text: &str) -> Result<Letter, String> {
    Letter::new(text)
        .ok_or_else(|| "a letter is a capital with or without primes: A, B2, C'".into())
}

/// Reads `128:0`.
fn preset(text: &str) -> Result<(u16, u16), String> {
    let numbers = text.split_once(':').and_then(|(bank, program)| {
        let number = |t: &str| t.trim().parse::<u16>().ok();
        Some((number(bank)?, number(program)?))
    });
    numbers.ok_or_else(|| "a preset is written as bank and program: 128:0".to_owned())
}

/// Reads `3`, `3-6`, `3-` or `-6`.
fn bars(text: &str) -> Result<(u32, u32), String> {
    let wrong = || "bars are written 3, 3-6, 3- or -6".to_owned();
    let number = |t: &str| t.trim().parse::<u32>().map_err(|_| wrong());
    let (first, last) = match text.split_once('-') {
        None => (number(text)?, number(text)?),
        Some(("", "")) => return Err(wrong()),
        Some((first, "")) => (number(first)?, u32::MAX),
        Some(("", last)) => (0, number(last)?),
        Some((first, last)) => (number(first)?, number(last)?),
    };
    if first > last {
        Err(format!("bar {first} comes after bar {last}"))
    } else {
        Ok((first, last))
    }
}
