//! An edit changes what it is about; the rest of the file stays as written.

use barform_app::music::{Beats, Key, Letter, Voice};
use barform_app::score::{CellDef, Document, FormItem, Overrides, Score, read_form, read_sticking};

const FILE: &str = r#"# My practice page
barform = 1   # the first version

title = 'Etude'          # to be named
tempo   = 92
meter = "4/4"
form = "A  B B |"        # four beats

# --- cells ---

# the long one
[cell.A]
sticking = "R> L R L R L   R L R L K K"   # lead right
grid = "6 6"

# the short one
[cell.B]
grid = "4"
sticking = "R L R K"
voices   = "hat snare hat kick"  # groove

[ostinato.foot]  # left foot
grid = "2"
sticking = "- H"

[kit.snare]
key = 40 # electric
# the end
"#;

fn document() -> Document {
    Document::parse(FILE, "etude.barform").unwrap()
}

fn letter(text: &str) -> Letter {
    Letter::new(text).unwrap()
}

/// Applies an edit and tells the lines that went and came.
fn edit(change: impl FnOnce(&mut Score)) -> (Vec<String>, Vec<String>, Document) {
    let mut document = document();
    let mut score = document.score().clone();
    change(&mut score);
    document.update(&score).unwrap();
    assert_eq!(document.score(), &score);
    assert_eq!(&Score::parse(document.text(), "").unwrap(), &score);
    let not_in = |a: &str, b: &str| -> Vec<String> {
        a.lines()
            .filter(|l| !b.lines().any(|m| m == *l))
            .map(str::to_owned)
            .collect()
    };
    (
        not_in(FILE, document.text()),
        not_in(document.text(), FILE),
        document,
    )
}

#[test]
fn no_edit_no_change() {
    let (_, _, document) = edit(|_| {});
    assert_eq!(document.text(), FILE);
}

#[test]
fn a_value_changes_in_its_line() {
    let (gone, come, _) = edit(|s| s.tempo = Beats::new(185, 2));
    assert_eq!(gone, ["tempo   = 92"]);
    assert_eq!(come, ["tempo   = 92.5"]);
    let (gone, come, _) = edit(|s| s.title = "Lied".into());
    assert_eq!(gone, ["title = 'Etude'          # to be named"]);
    assert_eq!(come, ["title = \"Lied\"          # to be named"]);
}

#[test]
fn one_stroke_changes_and_the_gaps_stay() {
    let (gone, come, _) = edit(|s| {
        s.cells[0].sticking = Some(read_sticking("R> L R L R L R> L R L K K").unwrap());
    });
    assert_eq!(
        gone,
        ["sticking = \"R> L R L R L   R L R L K K\"   # lead right"]
    );
    assert_eq!(
        come,
        ["sticking = \"R> L R L R L   R> L R L K K\"   # lead right"]
    );
}

#[test]
fn the_form_changes_in_its_line() {
    let (gone, come, _) = edit(|s| s.sections[0].items = read_form("A  A |").unwrap());
    assert_eq!(gone, ["form = \"A  B B |\"        # four beats"]);
    assert_eq!(come, ["form = \"A A |\"        # four beats"]);
}

#[test]
fn a_cell_comes_at_its_place() {
    let cell = |s: &Score, l: &str| CellDef {
        letter: letter(l),
        ..s.cells[1].clone()
    };
    for at in 0..=2 {
        let (gone, come, document) = edit(|s| s.cells.insert(at, cell(s, "C")));
        assert!(gone.is_empty(), "{gone:?}");
        let lines = [
            "sticking = \"R   L     R   K\"",
            "voices   = \"hat snare hat kick\"",
        ];
        assert_eq!(come, ["[cell.C]", lines[0], lines[1]]);
        let heads = ["[cell.A]", "[cell.B]", "[cell.C]"].map(|h| document.text().find(h).unwrap());
        assert_eq!(heads[2] < heads[0], at == 0);
        assert_eq!(heads[2] < heads[1], at <= 1);
    }
    let (gone, come, _) = edit(|s| {
        let like = Some(letter("B"));
        let letter = letter("B'");
        s.cells.push(CellDef {
            letter,
            like,
            grid: None,
            sticking: None,
            voices: None,
        });
    });
    assert!(gone.is_empty());
    assert_eq!(come, ["[cell.\"B'\"]", "like = \"B\""]);
}

#[test]
fn a_cell_goes_with_the_comment_above_it() {
    let (gone, come, _) = edit(|s| {
        s.cells.remove(0);
        s.sections[0].items.remove(0);
        s.sections[0].items.pop();
    });
    assert_eq!(
        gone,
        [
            "form = \"A  B B |\"        # four beats",
            "# --- cells ---",
            "# the long one",
            "[cell.A]",
            "sticking = \"R> L R L R L   R L R L K K\"   # lead right",
            "grid = \"6 6\"",
        ]
    );
    assert_eq!(come, ["form = \"B B\"        # four beats"]);
}

#[test]
fn cells_change_places() {
    let (gone, come, document) = edit(|s| s.cells.swap(0, 1));
    assert!(gone.is_empty() && come.is_empty());
    let text = document.text();
    assert!(text.find("# the short one") < text.find("# the long one"));
}

#[test]
fn lines_come_and_go() {
    let (gone, come, _) = edit(|s| s.cells[1].voices = None);
    assert_eq!(gone, ["voices   = \"hat snare hat kick\"  # groove"]);
    assert!(come.is_empty());
    let (gone, come, _) = edit(|s| {
        s.pickup = Beats::new(1, 3);
        s.sections[0].items.pop();
    });
    assert_eq!(gone, ["form = \"A  B B |\"        # four beats"]);
    assert_eq!(
        come,
        ["form = \"A B B\"        # four beats", "pickup = \"1/3\""]
    );
}

#[test]
fn kit_ostinato_and_voicing_change() {
    let (gone, come, _) = edit(|s| {
        s.kit.voice_mut(Voice::Snare).keys[0] = Key::new(41);
        s.ostinatos[0].sticking = read_sticking("H -").unwrap();
    });
    assert_eq!(gone, ["sticking = \"- H\"", "key = 40 # electric"]);
    assert_eq!(come, ["sticking = \"H -\"", "key = 41 # electric"]);
    let (gone, come, _) = edit(|s| s.kit.voice_mut(Voice::Kick).keys[0] = Key::new(35));
    assert!(gone.is_empty());
    assert_eq!(come, ["[kit.kick]", "key = 35"]);
}

#[test]
fn a_form_becomes_sections() {
    let (gone, come, mut document) = edit(|s| {
        s.sections[0].name = "Call".into();
        let mut second = s.sections[0].clone();
        second.name = "Answer".into();
        second.overrides = Overrides {
            level: Some(80),
            ..Overrides::default()
        };
        s.sections.push(second);
    });
    assert_eq!(gone, ["form = \"A  B B |\"        # four beats"]);
    let form = "form = \"A B B |\"";
    let head = "[[section]]";
    let want = [
        head,
        "name = \"Call\"",
        form,
        head,
        "name = \"Answer\"",
        "level = 80",
        form,
    ];
    assert_eq!(come, want);
    let mut score = document.score().clone();
    score.sections.remove(0);
    score.sections[0].items.push(FormItem::Letter {
        letter: letter("A"),
        overrides: Overrides::default(),
    });
    document.update(&score).unwrap();
    score.sections[0].name.clear();
    score.sections[0].overrides = Overrides::default();
    document.update(&score).unwrap();
    // The file keeps to sections.
    let text = document.text();
    assert!(
        text.contains("[[section]]\nform = \"A B B | A\"\n"),
        "{text}"
    );
    assert!(document.text().contains("# the long one"));
}

#[test]
fn what_does_not_check_changes_nothing() {
    let mut document = document();
    let mut score = document.score().clone();
    score.cells.pop();
    assert!(document.update(&score).is_err());
    assert_eq!(document.text(), FILE);
    assert_eq!(document.score().cells.len(), 2);
}

/// Typographic primes, inline tables, dotted keys, other newlines.
#[test]
fn unusual_files_are_edited_as_well() {
    for file in [
        "barform = 1\nform = \"A A′\"\n[cell.A]\ngrid = \"2\"\nsticking = \"R L\"\n# mine\n[cell.\"A′\"]\nlike = \"A\"\n",
        "barform = 1\nform = \"A\" # mine\ncell.A.grid = \"2\"\ncell.A.sticking = \"R L\"\n",
        "barform = 1\nform = \"A\"\n# mine\n[cell]\nA = { grid = \"2\", sticking = \"R L\" }\n",
        "barform = 1\r\nform = \"A\"\r\n# mine\r\n[cell.A]\r\ngrid = \"2\"\r\nsticking = \"R L\"\r\n",
    ] {
        let mut document = Document::parse(file, "").unwrap();
        let mut score = document.score().clone();
        for cell in score.cells.iter_mut().filter(|c| c.like.is_none()) {
            cell.sticking = Some(read_sticking("L R").unwrap());
        }
        score.tempo = Beats::whole(60);
        document.update(&score).unwrap();
        assert_eq!(Score::parse(document.text(), "").unwrap(), score);
        assert!(document.text().contains("# mine"), "{}", document.text());
    }
}
