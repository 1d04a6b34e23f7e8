//! The instruments, targets and hands to choose from: those that come with the program, and opened ones.

use crate::profile::instrument::Family;
use crate::profile::shipped::SHIPPED;
use crate::profile::{Any, FileKind};

/// One file of the library.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Which of the three files it is.
    pub kind: FileKind,
    /// The name by which it is called.
    pub id: String,
    /// Its names by language.
    pub names: Vec<(String, String)>,
    /// Bowed or blown, for an instrument; for a target, who makes the vibrato.
    pub family: &'static str,
    /// Its whole text, in which nothing is taken over from elsewhere.
    pub text: String,
}

impl Entry {
    /// The entry of a text that can be used; `None` for any other.
    pub fn of(any: &Any) -> Entry {
        let about = any.about();
        let (family, text) = match any {
            Any::Instrument(loaded) => (loaded.profile.family.name(), loaded.flattened()),
            Any::Target(loaded) => {
                let performs = loaded.profile.outputs.iter().any(|output| {
                    output.is_on && output.address == crate::engine::patch::Address::PitchBend
                });
                let family = if performs { "vibrato by pitch" } else { "vibrato of its own" };
                (family, loaded.flattened())
            }
            Any::Hand(loaded) => ("hand", loaded.flattened()),
        };
        let (id, names) = (about.id.clone(), about.names.clone());
        Entry { kind: any.kind(), id, names, family, text: text.to_owned() }
    }

    /// The name that is shown first: the id with the names in other scripts.
    pub fn title(&self) -> String {
        let mut title = self.id.clone();
        let mut told: Vec<String> = vec![self.id.replace('-', " ")];
        for (_, name) in &self.names {
            // The same word in another language, or with another first letter, says nothing new.
            let plain = name.to_lowercase();
            if !told.contains(&plain) && told.len() < 4 {
                title += &format!("  {name}");
                told.push(plain);
            }
        }
        title
    }

    /// Whether its id, family or one of its names holds the words of a search.
    pub fn matches(&self, search: &str) -> bool {
        let search = search.trim().to_lowercase();
        let mut names = self.names.iter().map(|(_, name)| name.to_lowercase());
        search.is_empty()
            || self.id.contains(&search)
            || self.family.contains(&search)
            || names.any(|name| name.contains(&search))
    }
}

/// Everything to choose from.
#[derive(Clone, Debug, Default)]
pub struct Library {
    entries: Vec<Entry>,
}

impl Library {
    /// What comes with the program.
    pub fn shipped() -> Library {
        let loaded = SHIPPED.iter().filter_map(|each| Any::load(each.id).ok());
        Library { entries: loaded.map(|any| Entry::of(&any)).collect() }
    }

    /// Adds a file, in place of one of the same kind and id.
    pub fn add(&mut self, entry: Entry) {
        self.entries.retain(|old| (old.kind, &old.id) != (entry.kind, &entry.id));
        self.entries.push(entry);
    }

    /// Of one kind, by family, those that a search leaves.
    pub fn families(&self, kind: FileKind, search: &str) -> Vec<(&'static str, Vec<&Entry>)> {
        let mut families: Vec<(&'static str, Vec<&Entry>)> = Vec::new();
        let order = [Family::Bowed.name(), Family::Wind.name()];
        let of_kind = |entry: &&Entry| entry.kind == kind && entry.matches(search);
        for entry in self.entries.iter().filter(of_kind) {
            match families.iter_mut().find(|(family, _)| *family == entry.family) {
                Some((_, list)) => list.push(entry),
                None => families.push((entry.family, vec![entry])),
            }
        }
        families.sort_by_key(|(family, _)| order.iter().position(|each| each == family));
        families
    }

    /// One file by kind and id.
    pub fn find(&self, kind: FileKind, id: &str) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.kind == kind && entry.id == id)
    }
}
