//! `barform wav` and `barform flac`: the form or a letter as audio files.

pub(crate) mod tell;

use crate::args::AudioArgs;
use crate::failure::Failure;
use crate::input::is_dash;
use crate::output;
use crate::progress::Progress;
use barform_app::export::Options;
use barform_app::export::audio::{
    self, AudioError, FileKind, Format, Grouping, Overwrite, Part, Sounds, Source, StemTarget,
    Written,
};
use barform_app::export::render::RenderError;
use barform_app::save::is_special;
use barform_app::sound::soundfont::{FontError, SoundFont};
use std::io::{self, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Writes the file or the stems.
pub fn run(args: &AudioArgs, kind: FileKind) -> Result<(), Failure> {
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if args.source.is_stdin() => PathBuf::from("-"),
        None => PathBuf::from(format!("{}.{}", name(args), kind.ending())),
    };
    if let Some(other) = FileKind::of(&path).filter(|other| *other != kind) {
        let (other, kind) = (other.ending(), kind.ending());
        return Err(Failure::Usage(format!(
            "{} would hold {} audio; end its name in .{kind}, or use the verb {other}",
            path.display(),
            kind.to_uppercase(),
        )));
    }
    let to_stdout = args.stems.is_none() && is_dash(&path);
    if to_stdout {
        output::refuse_terminal("audio")?;
    }
    if args.stems.is_none() {
        output::refuse_existing(&path, args.target.force)?;
    }
    let timeline = Arc::new(args.source.read()?.timeline()?);
    let playing = args.playing.options();
    let passes = args.times.unwrap_or(playing.passes);
    let options = Options { passes, ..playing };
    let source = Source {
        timeline: &timeline,
        part: args.letter.clone().map_or(Part::Form, Part::Letter),
        options: &options,
        tail_s: args.sound.tail,
        sounds: sounds(args)?,
    };
    let format = args.sound.format(kind);
    let told = match &args.stems {
        Some(folder) => stems(args, &source, format, folder)?,
        None => {
            let written = file(args, &source, format, &path)?;
            tell::file(&path, format, &written)
        }
    };
    if args.quiet {
        Ok(())
    } else if to_stdout {
        let _ = write!(io::stderr(), "{told}");
        Ok(())
    } else {
        output::say(&told)
    }
}

fn file(
    args: &AudioArgs,
    source: &Source,
    format: Format,
    path: &Path,
) -> Result<Written, Failure> {
    let mut progress = Progress::new("rendering", args.quiet);
    let step = |done: audio::Progress| {
        progress.at(done.share());
        ControlFlow::Continue(())
    };
    if is_dash(path) || is_special(path) {
        let mut bytes = Vec::new();
        let written = audio::write_stream(source, format, args.sound.level(), &mut bytes, step)
            .map_err(|e| failure(path, e))?;
        output::write_file(path, &bytes, args.target.force)?;
        return Ok(written);
    }
    let overwrite = overwrite(args);
    audio::write_file(source, format, args.sound.level(), path, overwrite, step)
        .map_err(|e| failure(path, e))
}

fn stems(
    args: &AudioArgs,
    source: &Source,
    format: Format,
    folder: &Path,
) -> Result<String, Failure> {
    let mut progress = Progress::new("rendering", args.quiet);
    let step = |done: audio::Progress| {
        progress.at(done.share());
        ControlFlow::Continue(())
    };
    let target = StemTarget {
        folder,
        name: &name(args),
        grouping: if args.grouped {
            Grouping::Groups
        } else {
            Grouping::Voices
        },
        overwrite: overwrite(args),
    };
    let set = audio::write_stems(source, format, args.sound.level(), &target, step)
        .map_err(|e| failure(folder, e))?;
    drop(progress);
    Ok(tell::stems(format, &set))
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

fn overwrite(args: &AudioArgs) -> Overwrite {
    Overwrite::if_asked(args.target.force)
}

pub(crate) fn failure(path: &Path, error: AudioError) -> Failure {
    match error {
        AudioError::Exists(there) if there == path => output::exists(path),
        AudioError::Exists(there) => output::exists(&there),
        AudioError::Io { .. } | AudioError::NotAFile(_) => Failure::File(error.to_string()),
        AudioError::FlacFloat | AudioError::Render(RenderError::NoLetter { .. }) => {
            Failure::Usage(error.to_string())
        }
        other => Failure::export(other),
    }
}
