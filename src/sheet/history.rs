//! The texts that a study has been, from the first to the newest, and which of them is on the disk.

use std::sync::Arc;

/// Texts that are kept for going back: those of so many characters altogether.
const MOST_BYTES: usize = 256 * 1024 * 1024;

/// A text with those before and after it.
#[derive(Debug, Clone)]
pub struct History {
    texts: Vec<Arc<str>>,
    at: usize,
    /// Rises with every change, also when it goes back.
    version: u64,
    /// The text as the file was when it was read or written last.
    saved: Arc<str>,
    /// Edits of the same step in a row are one text.
    step: Option<String>,
}

/// What saving comes to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Saving {
    /// The file is as it was: ours can be written.
    Write(Arc<str>),
    /// The file holds our text already.
    Nothing,
    /// Somebody else changed the file meanwhile.
    Conflict {
        /// Ours.
        ours: Arc<str>,
        /// What the file holds.
        theirs: Arc<str>,
    },
}

impl History {
    /// Begins with what the file holds.
    pub fn new(text: &str) -> Self {
        let text: Arc<str> = text.into();
        History { texts: vec![Arc::clone(&text)], at: 0, version: 1, saved: text, step: None }
    }

    /// The text now.
    pub fn text(&self) -> &Arc<str> {
        &self.texts[self.at]
    }

    /// Its version: higher than that of any text shown before.
    pub fn version(&self) -> u64 {
        self.version
    }

    /// Whether the text is another than the file's.
    pub fn is_unsaved(&self) -> bool {
        *self.text() != self.saved
    }

    /// Whether there is a text to go back to.
    pub fn can_undo(&self) -> bool {
        self.at > 0
    }

    /// Whether there is one to go forward to.
    pub fn can_redo(&self) -> bool {
        self.at + 1 < self.texts.len()
    }

    /// A new text. Those that were gone back from are gone. One of the same step as the last takes its place.
    pub fn put(&mut self, text: String, step: Option<&str>) {
        self.version += 1;
        let goes_on = step.is_some() && self.step.as_deref() == step && self.at > 0;
        self.step = step.map(str::to_owned);
        if !goes_on && text == **self.text() {
            return;
        }
        self.texts.truncate(self.at + 1);
        if goes_on {
            self.texts[self.at] = text.into();
        } else {
            self.texts.push(text.into());
            self.at += 1;
        }
        self.forget();
    }

    /// The oldest texts go when all are more than a machine should hold; the newest stays.
    fn forget(&mut self) {
        let mut bytes: usize = self.texts.iter().map(|text| text.len()).sum();
        while bytes > MOST_BYTES && self.at > 0 {
            bytes -= self.texts.remove(0).len();
            self.at -= 1;
        }
    }

    /// Goes back by one text, if there is one.
    pub fn undo(&mut self) -> bool {
        let can = self.can_undo();
        self.go(can, self.at.saturating_sub(1))
    }

    /// Goes forward by one text, if there is one.
    pub fn redo(&mut self) -> bool {
        let can = self.can_redo();
        self.go(can, self.at + 1)
    }

    fn go(&mut self, can: bool, to: usize) -> bool {
        if can {
            self.at = to;
            self.version += 1;
            self.step = None;
        }
        can
    }

    /// What saving comes to, when the file now holds `theirs`; none if it is gone. With `over` theirs is written over.
    pub fn saving(&self, theirs: Option<&str>, over: bool) -> Saving {
        match theirs {
            Some(theirs) if theirs == &**self.text() => Saving::Nothing,
            Some(theirs) if theirs != &*self.saved && !over => {
                Saving::Conflict { ours: Arc::clone(self.text()), theirs: theirs.into() }
            }
            _ => Saving::Write(Arc::clone(self.text())),
        }
    }

    /// The file holds this text now. What is typed next is a step of its own, so that undo leads back to it.
    pub fn is_saved(&mut self, text: &Arc<str>) {
        self.saved = Arc::clone(text);
        self.step = None;
        self.version += 1;
    }

    /// Takes what the file holds as one more text.
    pub fn take(&mut self, theirs: &str) {
        self.put(theirs.to_owned(), None);
        self.saved = theirs.into();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn edits_of_one_step_are_one_text() {
        let mut history = History::new("a");
        for text in ["b", "bc", "bcd"] {
            history.put(text.into(), Some("1"));
        }
        history.put("x".into(), Some("2"));
        assert!(history.undo());
        assert_eq!(&**history.text(), "bcd");
        assert!(history.undo() && !history.undo());
        assert_eq!(&**history.text(), "a");
        assert!(history.redo() && history.redo() && !history.redo());
        assert_eq!(&**history.text(), "x");
        // A step that was gone back from does not go on.
        history.undo();
        history.put("y".into(), Some("1"));
        history.undo();
        assert_eq!(&**history.text(), "bcd");
    }

    #[test]
    fn what_is_saved_and_what_is_not() {
        let mut history = History::new("a");
        assert!(!history.is_unsaved());
        history.put("b".into(), None);
        assert!(history.is_unsaved());
        assert_eq!(history.saving(Some("b"), false), Saving::Nothing);
        assert_eq!(history.saving(Some("a"), false), Saving::Write("b".into()));
        assert_eq!(history.saving(None, false), Saving::Write("b".into()));
        let conflict = Saving::Conflict { ours: "b".into(), theirs: "c".into() };
        assert_eq!(history.saving(Some("c"), false), conflict);
        assert_eq!(history.saving(Some("c"), true), Saving::Write("b".into()));
        let ours = Arc::clone(history.text());
        history.is_saved(&ours);
        assert!(!history.is_unsaved());
        // What is typed on after saving does not take the place of what was saved.
        let mut typed = History::new("a");
        typed.put("b".into(), Some("1"));
        let saved = Arc::clone(typed.text());
        typed.is_saved(&saved);
        typed.put("bc".into(), Some("1"));
        typed.undo();
        assert!(!typed.is_unsaved() && &**typed.text() == "b");
        // Going back to what the file no longer holds is unsaved again.
        history.undo();
        assert!(history.is_unsaved());
        history.take("c");
        assert!(!history.is_unsaved() && history.can_undo());
        assert_eq!(&**history.text(), "c");
    }

    proptest! {
        /// All the way back is the first text, all the way forward the last, and the version only rises.
        #[test]
        fn back_and_forward(texts in prop::collection::vec(("[a-c]{0,3}", prop::option::of("[ab]")), 1..40)) {
            let mut history = History::new("start");
            let mut version = history.version();
            for (text, step) in &texts {
                history.put(text.clone(), step.as_deref());
                prop_assert!(history.version() > version);
                version = history.version();
                prop_assert_eq!(&**history.text(), text.as_str());
            }
            while history.undo() {}
            prop_assert_eq!(&**history.text(), "start");
            prop_assert!(!history.is_unsaved());
            while history.redo() {}
            prop_assert_eq!(&**history.text(), texts.last().unwrap().0.as_str());
            prop_assert!(history.version() >= version);
        }
    }
}
