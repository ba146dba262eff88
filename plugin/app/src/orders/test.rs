use std::ops::ControlFlow;
use std::path::Path;

use super::*;
use crate::save::Overwrite;

fn made(
    kind: Kind,
    path: &Path,
    overwrite: Overwrite,
    mut watch: impl FnMut(f64) -> ControlFlow<()>,
) -> Result<Report, OrderError> {
    let demo = CompiledScore::parse(crate::DEMO_SCORE, "demo.barform").unwrap();
    let mut target = Target::file(path, overwrite);
    make(kind, &Choices::default(), &demo, &mut target, &mut watch)
}

#[test]
fn every_kind_is_a_file_of_its_own_and_replaces_nothing_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let go_on = |_| ControlFlow::Continue(());
    for (kind, name, ending, _) in Kind::ALL {
        let path = folder.path().join(name).with_extension(ending);
        let mut last = 0.0;
        let report = made(kind, &path, Overwrite::Refuse, |share| {
            assert!(share >= last);
            last = share;
            ControlFlow::Continue(())
        });
        let report = report.unwrap_or_else(|error| panic!("{name}: {error}"));
        let first = match kind {
            // The demo's sheet has two pages.
            Kind::Picture => page_files(&path, 2).remove(0),
            _ => path.clone(),
        };
        assert_eq!(report.files[0], first);
        let bytes = std::fs::read(&first).unwrap();
        let head: &[u8] = match kind {
            Kind::Sheet | Kind::Handout => b"%PDF-",
            Kind::Picture => b"\x89PNG",
            Kind::MusicXml => b"<?xml",
            Kind::Midi => b"MThd",
            Kind::Wav => b"RIFF",
            Kind::Flac => b"fLaC",
        };
        assert!(bytes.starts_with(head), "{name}");
        let again = made(kind, &path, Overwrite::Refuse, go_on);
        assert!(
            matches!(again, Err(OrderError::Exists(there)) if there == first),
            "{name} was replaced unasked"
        );
        assert_eq!(std::fs::read(&first).unwrap(), bytes);
    }
    let path = folder.path().join("Sheet.pdf");
    made(Kind::Sheet, &path, Overwrite::Replace, go_on).unwrap();
}

#[test]
fn what_is_stopped_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    for kind in [Kind::Wav, Kind::Sheet, Kind::Handout, Kind::Picture] {
        let path = folder.path().join("a").with_extension(kind.ending());
        let made = made(kind, &path, Overwrite::Refuse, |_| ControlFlow::Break(()));
        assert!(matches!(made, Err(OrderError::Stopped)), "{kind:?}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
