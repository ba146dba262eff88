//! What the audio tests share: scores, folders, readers of both kinds of file.
use barform_app::export::Options;
use barform_app::export::audio::{
    AudioError, FileKind, Format, Level, Part, Progress, SampleFormat, Sounds, Source, Written,
    write_stream,
};
use barform_app::score::Score;
use barform_app::timeline::Timeline;
use std::io::Cursor;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of its own, removed afterwards.
pub struct Folder(pub PathBuf);

impl Folder {
    pub fn new() -> Folder {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("barform-audio-{}-{count}", std::process::id());
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir(&path).expect("a temporary folder");
        Folder(path)
    }

    pub fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(&self.0).expect("the folder");
        let mut names: Vec<String> = entries
            .map(|e| e.expect("an entry").file_name().to_string_lossy().into())
            .collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

pub fn timeline(text: &str) -> Arc<Timeline> {
    let score = Score::parse(text, "test").expect("a sound score");
    Arc::new(Timeline::compile(&score).expect("a timeline"))
}

/// Quiet strokes on several voices, far from the limiter.
pub fn quiet() -> Arc<Timeline> {
    timeline(
        "barform = 1\ntempo = 90\nform = \"A B A\"\n[cell.A]\ngrid = \"4 4\"\n\
         sticking = \"(R) (L) K (L) H (R) (L) K\"\n\
         voices = \"hat:open snare kick tom1 hatfoot ride tom6 kick\"\n\
         [cell.B]\ngrid = \"3@2\"\nsticking = \"(R) (L) (R)\"\nvoices = \"snare:cross tom2 hat\"\n",
    )
}

pub fn source<'a>(timeline: &'a Arc<Timeline>, options: &'a Options) -> Source<'a> {
    Source {
        timeline,
        part: Part::Form,
        options,
        tail_s: None,
        sounds: Sounds::Kit,
    }
}

pub fn format(kind: FileKind, rate_hz: u32, sample: SampleFormat) -> Format {
    Format {
        kind,
        rate_hz,
        sample,
    }
}

pub fn onwards(_: Progress) -> ControlFlow<()> {
    ControlFlow::Continue(())
}

pub fn bytes(
    source: &Source,
    format: Format,
    level: Level,
) -> Result<(Vec<u8>, Written), AudioError> {
    let mut out = Vec::new();
    let written = write_stream(source, format, level, &mut out, onwards)?;
    Ok((out, written))
}

/// The samples of a WAV file as stored, left and right in turn.
pub fn wav_steps(file: &[u8]) -> Vec<i32> {
    let reader = hound::WavReader::new(Cursor::new(file)).expect("a WAV file");
    reader
        .into_samples::<i32>()
        .map(|s| s.expect("a sample"))
        .collect()
}

/// The samples of a floating-point WAV file, left and right in turn.
pub fn wav_floats(file: &[u8]) -> Vec<f32> {
    let reader = hound::WavReader::new(Cursor::new(file)).expect("a WAV file");
    reader
        .into_samples::<f32>()
        .map(|s| s.expect("a sample"))
        .collect()
}

/// The samples of a FLAC file, read by a decoder that shares nothing with the
/// encoder, and its head.
pub fn flac_steps(file: &[u8]) -> (Vec<i32>, claxon::metadata::StreamInfo) {
    let mut reader = claxon::FlacReader::new(Cursor::new(file)).expect("a FLAC file");
    let info = reader.streaminfo();
    let steps = reader.samples().map(|s| s.expect("a sample")).collect();
    (steps, info)
}
