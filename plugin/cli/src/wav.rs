//! `barform wav` and `barform flac`: the form or a letter as audio files.

use crate::args::{Playing, SoundArgs, letter};
use crate::failure::Failure;
use crate::input::Source;
use crate::output::{self, Target};
use crate::progress::Progress;
use barform_app::export::Options;
use barform_app::export::audio::{FileKind, Grouping, Part, Sounds};
use barform_app::music::Letter;
use barform_app::orders::{AudioOptions, Stems, audio};
use barform_app::sound::soundfont::{FontError, SoundFont};
use std::path::PathBuf;
use std::sync::Arc;

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

/// Writes the file or the stems.
pub fn run(args: &AudioArgs, kind: FileKind) -> Result<(), Failure> {
    let path = match &args.stems {
        Some(folder) => folder.clone(),
        None => {
            let usual = PathBuf::from(format!("{}.{}", name(args), kind.ending()));
            let path = args.target.place_or(&args.source, usual)?;
            if FileKind::of(&path).is_none_or(|named| named == kind) {
                output::refuse_terminal(&path, "audio")?;
            }
            path
        }
    };
    let score = args.source.read()?.compiled()?;
    let playing = args.playing.options();
    let options = AudioOptions {
        part: args.letter.clone().map_or(Part::Form, Part::Letter),
        playing: Options {
            passes: args.times.unwrap_or(playing.passes),
            ..playing
        },
        sounds: sounds(args)?,
        format: args.sound.format(kind),
        level: args.sound.level(),
        tail_s: args.sound.tail,
        stems: args.stems.is_some().then(|| Stems {
            grouping: if args.grouped {
                Grouping::Groups
            } else {
                Grouping::Voices
            },
            name: Some(name(args)),
        }),
    };
    let mut progress = Progress::new("rendering", args.quiet);
    output::make(&path, args.target.force, args.quiet, |target| {
        audio(&score, &options, target, &mut progress)
    })
}

/// The score's name, and the letter's if it is one letter.
fn name(args: &AudioArgs) -> String {
    let file = args.source.beside("");
    let name = match file.file_stem() {
        Some(name) if !args.source.is_stdin() => name.to_string_lossy().into_owned(),
        _ => "form".to_owned(),
    };
    match &args.letter {
        // A quotation mark in a file name is a nuisance in a shell.
        Some(letter) => format!("{name}-{}", letter.to_string().replace('\'', "prime")),
        None => name,
    }
}

fn sounds(args: &AudioArgs) -> Result<Sounds, Failure> {
    let Some(path) = &args.soundfont else {
        return Ok(Sounds::Kit);
    };
    let failed = |error: FontError| match error {
        FontError::Read(error) => Failure::file(path, "read", &error),
        other => Failure::File(format!("{}: {other}", path.display())),
    };
    let font = SoundFont::open(path).map_err(failed)?;
    font.drums(args.preset).map_err(failed)?;
    Ok(Sounds::Font {
        font: Arc::new(font),
        preset: args.preset,
    })
}

/// Reads `128:0`.
fn preset(text: &str) -> Result<(u16, u16), String> {
    let numbers = text.split_once(':').and_then(|(bank, program)| {
        let number = |t: &str| t.trim().parse::<u16>().ok();
        Some((number(bank)?, number(program)?))
    });
    numbers.ok_or_else(|| "a preset is written as bank and program: 128:0".to_owned())
}
