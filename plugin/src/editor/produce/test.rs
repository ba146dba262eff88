use super::*;
use crate::state::check;

fn order(product: Product, path: &Path, replace: bool) -> Order {
    Order {
        checked: check(barform_app::DEMO_SCORE, "demo.barform").unwrap(),
        product,
        print: Print::default(),
        playing: Playing::default(),
        audio: Audio::default(),
        path: path.to_owned(),
        replace,
    }
}

#[test]
fn every_product_is_a_file_of_its_kind_and_replaces_nothing_unasked() {
    let folder = tempfile::tempdir().unwrap();
    for (product, name, ending, _) in Product::ALL {
        let path = folder.path().join(name).with_extension(ending);
        let mut last = 0.0;
        let made = make(&order(product, &path, false), |share| {
            assert!(share >= last);
            last = share;
            ControlFlow::Continue(())
        });
        assert!(made.is_ok(), "{name}: {made:?}");
        let first = match product {
            // The demo's sheet has two pages.
            Product::Picture => page_path(&path, 0, 2),
            _ => path.clone(),
        };
        let bytes = std::fs::read(&first).unwrap();
        let head: &[u8] = match product {
            Product::Sheet | Product::HandOut => b"%PDF-",
            Product::Picture => b"\x89PNG",
            Product::MusicXml => b"<?xml",
            Product::Midi => b"MThd",
            Product::Wav => b"RIFF",
            Product::Flac => b"fLaC",
        };
        assert!(bytes.starts_with(head), "{name}");
        let again = make(&order(product, &path, false), |_| ControlFlow::Continue(()));
        assert!(again.is_err(), "{name} was replaced unasked");
        assert_eq!(std::fs::read(&first).unwrap(), bytes);
    }
    let path = folder.path().join("Sheet.pdf");
    make(&order(Product::Sheet, &path, true), |_| {
        ControlFlow::Continue(())
    })
    .unwrap();
}

#[test]
fn audio_can_be_stopped_and_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.wav");
    let made = make(&order(Product::Wav, &path, false), |_| {
        ControlFlow::Break(())
    });
    assert!(made.is_err());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
