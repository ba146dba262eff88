//! Arguments that several verbs have, and how values are read.

use barform_app::export::Options;
use barform_app::export::audio::{FileKind, Format, Level, SampleFormat};
use barform_app::music::{Beats, Letter};
use barform_app::player::Mute;
use clap::ValueEnum;

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
    #[arg(short, long, value_parser = beats)]
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
    /// As the writers take it.
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

/// Reads a letter.
pub fn letter(text: &str) -> Result<Letter, String> {
    Letter::new(text)
        .ok_or_else(|| "a letter is a capital with or without primes: A, B2, C'".into())
}

/// Reads a number of beats or of beats a minute.
pub fn beats(text: &str) -> Result<Beats, String> {
    text.parse::<Beats>().map_err(|e| e.to_string())
}
