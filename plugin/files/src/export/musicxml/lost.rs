//! What MusicXML has no sign for, in words.

use super::{Options, bar::decimal};
use barform_score::music::{Beats, Kit, Voice};
use barform_score::score::{FormItem, Overrides, Score};
use barform_sheet::Written;
use std::str::FromStr;

/// What a document of this score does not say to other programs, one sentence
/// each; empty if it says all. With [`Options::carry_score`] the score goes
/// along and comes back whole, as long as the notes are not changed.
pub fn lost(written: &Written, score: &Score, options: &Options) -> Vec<String> {
    let mut lost = Vec::new();
    if !options.sticking {
        lost.push("which limb plays: sticking is not written".to_owned());
    }
    if options.counts {
        let missing = written.bars.iter().flat_map(|bar| {
            let all = || bar.hands.elements.iter().chain(&bar.feet.elements);
            let counts = bar.under.iter().filter(|u| !u.count.is_empty());
            counts.filter(move |u| !all().any(|e| e.at == u.at))
        });
        let missing = missing.count();
        if missing > 0 {
            lost.push(format!(
                "{missing} counts between notes: a lyric needs a note or a rest"
            ));
        }
    }
    if Beats::from_str(&decimal(written.tempo)) != Ok(written.tempo) {
        let rounded = decimal(written.tempo);
        lost.push(format!(
            "the exact tempo {}: {rounded} is written",
            written.tempo
        ));
    }
    if !score.ostinatos.is_empty() {
        lost.push("ostinatos as such: their strokes stand in the bars".to_owned());
    }
    if score.cells.iter().any(|c| c.like.is_some()) {
        lost.push("which cell is a variation of which".to_owned());
    }
    if score.sections.iter().any(|s| s.any(|o| !o.is_empty())) {
        lost.push("overrides as such: what is played is written out".to_owned());
    }
    if score.sections.iter().any(|s| s.any(|o| o.level.is_some())) {
        lost.push("levels in per cent".to_owned());
    }
    if kit_differs(&score.kit) {
        lost.push("the kit's velocities and its order".to_owned());
    }
    lost
}

fn kit_differs(kit: &Kit) -> bool {
    let standard = Kit::general_midi();
    let curve = |v: Voice| kit.voice(v).curve != standard.voice(v).curve;
    kit.order != standard.order || Voice::ALL.into_iter().any(curve)
}

/// Looks at every override of a part of the form.
trait Any {
    fn any(&self, hit: impl Fn(&Overrides) -> bool + Copy) -> bool;
}

impl Any for barform_score::score::Section {
    fn any(&self, hit: impl Fn(&Overrides) -> bool + Copy) -> bool {
        hit(&self.overrides) || self.items.iter().any(|i| i.any(hit))
    }
}

impl Any for FormItem {
    fn any(&self, hit: impl Fn(&Overrides) -> bool + Copy) -> bool {
        match self {
            FormItem::Letter { overrides, .. } => hit(overrides),
            FormItem::Group {
                items, overrides, ..
            } => hit(overrides) || items.iter().any(|i| i.any(hit)),
            FormItem::BarLine => false,
        }
    }
}
