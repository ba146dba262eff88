//! What the thread has done, taken up by the page; and what waits for it.
//!
//! Gives the list as it now is, words for the user, an item in the score or in
//! the ear.

use std::sync::Arc;

use barform_app::shelf::ItemId;
use barform_app::timeline::Timeline;

use super::{Pane, ShelfEdit, ShelfPage, Wanted, insert};
use crate::editor::desk::Desk;
use barform_app::background::Worker;
use barform_app::shelf::{EditKind, ShelfAnswer, ShelfContents, WatchedShelf};

impl ShelfPage {
    /// Takes what the thread has done.
    pub(super) fn poll(&mut self, desk: &mut Desk) {
        while let Some(answer) = self.worker.as_mut().and_then(Worker::answer) {
            match answer {
                ShelfAnswer::Looked(found) => self.take_found(found),
                ShelfAnswer::Done {
                    kind,
                    about,
                    now,
                    found,
                } => {
                    let name = self.name_of(about.as_ref());
                    let at = self.row_of(about.as_ref());
                    if let (EditKind::Name, Ok(Some(now))) = (kind, &now) {
                        self.fields.renamed(about.as_ref(), now);
                    }
                    self.take_found(found);
                    match now {
                        Ok(now) => self.done(desk, kind, (about, &name, at), now),
                        Err(why) => self.refused(desk, kind, about, why),
                    }
                }
                ShelfAnswer::Read(id, score) => {
                    self.previews.take(id.clone(), score);
                    self.go_on(desk, &id);
                }
                ShelfAnswer::Compiled(id, timeline) => self.play(desk, id, timeline),
            }
        }
    }

    fn take_found(&mut self, found: Result<ShelfContents, String>) {
        match found {
            Ok(found) => {
                // A search leaves the list itself as it was.
                if !Arc::ptr_eq(&self.found.all, &found.all) {
                    self.previews.doubt();
                }
                self.found = found;
                self.looked = true;
                self.unlisted = None;
            }
            Err(why) => self.unlisted = Some(why),
        }
        let empty = match self.pane {
            Pane::Removed => self.found.removed.is_empty(),
            Pane::Damaged => self.found.damaged.is_empty(),
            Pane::Item | Pane::Keep(_) => false,
        };
        if empty {
            self.pane = Pane::Item;
        }
    }

    fn name_of(&self, id: Option<&ItemId>) -> String {
        let item = self.found.all.iter().find(|i| Some(&i.id) == id);
        match (item, id) {
            (Some(item), _) => item.name.clone(),
            (None, Some(id)) => id.to_string(),
            (None, None) => String::new(),
        }
    }

    fn row_of(&self, id: Option<&ItemId>) -> Option<usize> {
        let all = &self.found.all;
        let mut shown = self.found.matching.iter();
        shown.position(|at| all.get(*at).is_some_and(|i| Some(&i.id) == id))
    }

    /// A edit was done to an item of a name that stood at a row.
    fn done(
        &mut self,
        desk: &mut Desk,
        kind: EditKind,
        (about, name, at): (Option<ItemId>, &str, Option<usize>),
        now: Option<ItemId>,
    ) {
        match kind {
            EditKind::Used => return,
            EditKind::Remove => {
                desk.tell(format!(
                    "{name} was removed; it can be put back under Removed."
                ));
                // Its neighbour is chosen, so that the keys go on.
                if let Some(at) = at {
                    let last = self.found.matching.len().saturating_sub(1);
                    let next = self.found.matching.get(at.min(last));
                    let next = next.and_then(|at| self.found.all.get(*at));
                    self.chosen = next.map(|item| item.id.clone());
                }
                return;
            }
            EditKind::Keep => {
                if matches!(&self.pane, Pane::Keep(keep) if keep.sent) {
                    self.pane = Pane::Item;
                }
                self.put_by.retain(|keep| !keep.sent);
                let name = self.name_of(now.as_ref());
                desk.tell(format!("{name} is on the shelf."));
            }
            EditKind::Restore => {
                let name = self.name_of(now.as_ref());
                desk.tell(format!("{name} is back on the shelf."));
            }
            EditKind::Name | EditKind::Tags | EditKind::Note => {
                self.fields.refused = None;
                if self.heard == about {
                    self.heard.clone_from(&now);
                }
                if self.chosen != about {
                    return;
                }
            }
        }
        self.chosen = now.or(self.chosen.take());
        self.reveal = true;
    }

    fn refused(&mut self, desk: &mut Desk, kind: EditKind, about: Option<ItemId>, why: String) {
        if kind == EditKind::Keep
            && let Some(keep) = self.sent()
        {
            keep.sent = false;
            keep.refused = Some(why.clone());
            if !matches!(self.pane, Pane::Keep(_)) {
                desk.tell(why);
            }
            return;
        }
        match about {
            // That the date is not kept is not worth a word.
            Some(_) if kind == EditKind::Used => {}
            Some(id) if self.found.all.iter().any(|item| item.id == id) => {
                self.fields.refused = Some((id, kind, why));
            }
            _ => desk.tell(why),
        }
    }

    /// Wants something of the chosen item, now or once it was read.
    pub(super) fn want(&mut self, desk: &mut Desk, wanted: Wanted) {
        let Some(id) = self.chosen.clone() else {
            return;
        };
        if wanted == Wanted::Hear && self.heard.as_ref() == Some(&id) && self.is_heard(desk) {
            desk.session().audition.stop();
            self.heard = None;
            return;
        }
        if self.previews.wants(&id) {
            self.read(id.clone());
        }
        self.wanted = Some((id.clone(), wanted));
        self.go_on(desk, &id);
    }

    /// Does what was wanted of an item, if it has been read.
    fn go_on(&mut self, desk: &mut Desk, id: &ItemId) {
        let Some((_, wanted)) = self.wanted.clone().filter(|(of, _)| of == id) else {
            return;
        };
        let score = match self.previews.score(id) {
            None => return,
            Some(Ok(score)) => score.clone(),
            Some(Err(why)) => {
                self.fields.refused = Some((id.clone(), EditKind::Used, why.to_owned()));
                self.wanted = None;
                return;
            }
        };
        self.wanted = None;
        let name = self.name_of(Some(id));
        match wanted {
            Wanted::Insert(place) => {
                if insert::insert(desk, &name, &score, place) {
                    self.act(ShelfEdit::Used(id.clone()));
                }
            }
            Wanted::Hear => {
                let (id, kit) = (id.clone(), desk.score().kit.clone());
                if let Some(worker) = &mut self.worker {
                    worker.ask(move |_| WatchedShelf::compile(id, &score, kit));
                }
            }
        }
    }

    fn play(&mut self, desk: &Desk, id: ItemId, timeline: Result<Arc<Timeline>, String>) {
        match timeline {
            Ok(timeline) => {
                let tempo = self.tempo_bpm(desk, &id);
                let click = self.hearing.click;
                desk.session().audition.play(timeline, tempo, click);
                self.heard = Some(id);
            }
            Err(why) => self.fields.refused = Some((id, EditKind::Used, why)),
        }
    }

    /// Tempo or click were changed while it is heard.
    pub(super) fn heard_otherwise(&self, desk: &Desk, id: &ItemId) {
        let audition = &desk.session().audition;
        audition.set_click(self.hearing.click);
        audition.set_tempo(self.tempo_bpm(desk, id));
    }

    fn tempo_bpm(&self, desk: &Desk, id: &ItemId) -> f64 {
        let own = self.previews.score(id).and_then(Result::ok);
        let own = own.filter(|_| self.hearing.own_tempo);
        own.map_or(desk.score().tempo, |score| score.tempo).to_f64()
    }
}
