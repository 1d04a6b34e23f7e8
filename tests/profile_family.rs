//! An instrument that is based on another says only what differs, and all else comes from there.

use polso::profile::shipped::SHIPPED;
use polso::profile::{self, FileKind, Hand, Instrument, Target, check, load};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

const HEAD: &str = "polso = \"instrument\"\nformat = 1\n";
const ABOUT: &str = "[about]\nid = \"mine\"\nnames = { en = \"mine\" }\n";

fn based_on(parent: &str, rest: &str) -> String {
    format!("{HEAD}based_on = \"{parent}\"\n{ABOUT}{rest}")
}

fn write(folder: &TempDir, name: &str, text: &str) -> String {
    let path = folder.path().join(name);
    fs::write(&path, text).expect("a file is written");
    path.to_string_lossy().into_owned()
}

/// What is wrong with a text, each thing a sentence.
fn faults(text: &str) -> Vec<String> {
    let faults = check::<Instrument>(text).err().unwrap_or_default();
    faults.iter().map(ToString::to_string).collect()
}

fn shipped_instruments() -> Vec<profile::Loaded<Instrument>> {
    let ids = SHIPPED.iter().filter(|each| each.kind == FileKind::Instrument);
    ids.map(|each| load(each.id).expect("a shipped instrument")).collect()
}

#[test]
fn a_child_gives_only_what_differs() {
    let child = check::<Instrument>(&based_on("erhu", "[tail]\ntail_ms = 500\n")).expect("mine");
    let mut erhu = load::<Instrument>("erhu").expect("erhu").profile;
    assert_eq!(child.profile.about.id, "mine");
    erhu.about = child.profile.about.clone();
    erhu.tail.tail_ms = 500.0;
    // The number that the child gives does not keep the parent's origin.
    let own = |path: &str| child.profile.origins.iter().any(|origin| origin.path == path);
    assert!(!own("tail.tail_ms") && own("tail.tail_db"));
    assert_eq!(child.notes.len(), 1);
    assert!(child.notes[0].sentence.ends_with("tail.tail_ms"), "{}", child.notes[0]);
    assert_eq!(
        Instrument { origins: Vec::new(), ..child.profile },
        Instrument { origins: Vec::new(), ..erhu }
    );
}

#[test]
fn one_change_reaches_the_family() {
    let folder = tempfile::tempdir().expect("a folder");
    let base = based_on("erhu", "[bow]\npp_s = 9\n[origin]\n\"bow.pp_s\" = \"M: a player\"\n");
    write(&folder, "base.toml", &base);
    write(&folder, "middle.toml", &based_on("./base.toml", "[tail]\ntail_db = 9\n"));
    let young = write(&folder, "young.toml", &based_on("middle.toml", ""));
    let read = || load::<Instrument>(&young).expect("the youngest");
    let before = read();
    let field = before.fields.iter().find(|field| field.path == "bow.pp_s").expect("a field");
    assert_eq!((field.line, field.file.as_deref()), (Some(8), Some("./base.toml")));
    let origin = before.profile.origins.iter().find(|origin| origin.path == "bow.pp_s");
    assert_eq!(origin.map(|origin| origin.text.as_str()), Some("a player"));
    write(&folder, "base.toml", &base.replace("pp_s = 9", "pp_s = 8"));
    let after = read();
    assert_eq!(before.document.text(), after.document.text());
    assert_ne!(before.profile.budget, after.profile.budget);
    // What a shaped file is marked with changes as well.
    assert_ne!(before.flattened(), after.flattened());
}

#[test]
fn a_fault_names_the_file_in_which_the_value_stands() {
    let folder = tempfile::tempdir().expect("a folder");
    write(&folder, "base.toml", &based_on("erhu", "[vibrato.rolled]\nrate_hz = 90\n"));
    let young = write(&folder, "young.toml", &based_on("base.toml", "[tail]\ntail_db = 99\n"));
    let error = load::<Instrument>(&young).expect_err("two faults").to_string();
    assert_eq!(
        error,
        format!(
            "{young}: line 8 of base.toml: vibrato.rolled.rate_hz is 90; allowed is 2 to 9\n\
             {young}: line 8: tail.tail_db is 99; allowed is 0 to 60"
        )
    );
    write(&folder, "base.toml", "polso = \n");
    let error = load::<Instrument>(&young).expect_err("no TOML").to_string();
    assert!(error.contains("line 1 of base.toml: the file is not TOML here"), "{error}");
}

#[test]
fn what_cannot_be_a_parent_is_refused_with_a_sentence() {
    const RULE: &str =
        "a shipped instrument, or a file by a path that ends in .toml, from this file's folder";
    assert_eq!(
        faults(&based_on("erhuu", "")),
        [format!("line 3: based_on is \"erhuu\"; allowed is {RULE}; the nearest shipped is erhu")]
    );
    let number = based_on("erhu", "").replace("\"erhu\"", "5");
    assert_eq!(faults(&number), [format!("line 3: based_on is 5; allowed is {RULE}")]);
    let missing = &faults(&based_on("no/such.toml", ""))[0];
    assert!(missing.starts_with("line 3: based_on is \"no/such.toml\", which cannot be read ("));
    let folder = tempfile::tempdir().expect("a folder");
    let hand = write(&folder, "hand.toml", "polso = \"hand\"\nformat = 1\n");
    let refused = &faults(&based_on(&hand, ""))[0];
    assert!(refused.ends_with("which is: hand; allowed is an instrument of format 1"), "{refused}");
    let newer = write(&folder, "newer.toml", "polso = \"instrument\"\nformat = 2\n");
    let refused = &faults(&based_on(&newer, ""))[0];
    assert!(refused.contains("which has format 2"), "{refused}");
}

#[test]
fn a_circle_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let one = write(&folder, "one.toml", &based_on("two.toml", ""));
    write(&folder, "two.toml", &based_on("./one.toml", ""));
    let error = load::<Instrument>(&one).expect_err("a circle").to_string();
    assert_eq!(
        error,
        format!(
            "{one}: line 3 of two.toml: based_on is \"./one.toml\", which is based on this file \
             itself; allowed is an instrument that does not lead back here"
        )
    );
    let own = write(&folder, "own.toml", &based_on("own.toml", ""));
    assert!(load::<Instrument>(&own).expect_err("a circle").to_string().contains("itself"));
}

#[test]
fn a_chain_has_at_most_four_parents() {
    let folder = tempfile::tempdir().expect("a folder");
    write(&folder, "0.toml", &based_on("erhu", ""));
    for place in 1..=4 {
        let parent = format!("{}.toml", place - 1);
        write(&folder, &format!("{place}.toml"), &based_on(&parent, ""));
    }
    let path = |place: usize| folder.path().join(format!("{place}.toml"));
    let read = |path: &Path| load::<Instrument>(&path.to_string_lossy()).map(|_| ());
    assert_eq!(read(&path(3)), Ok(()));
    let error = read(&path(4)).expect_err("too long").to_string();
    assert!(error.contains("line 3 of 0.toml: based_on is \"erhu\", the file number 5"), "{error}");
    assert!(error.ends_with("allowed is a chain of at most 4 files"), "{error}");
}

#[test]
fn a_flattened_instrument_stands_alone_and_means_the_same() {
    let mut derived = 0;
    for loaded in shipped_instruments() {
        let alone = check::<Instrument>(loaded.flattened()).expect("a flattened instrument");
        let id = &loaded.profile.about.id;
        assert_eq!(alone.notes, [], "{id}");
        assert!(alone.fields.iter().all(|field| field.file.is_none()), "{id}");
        let sorted = |instrument: &Instrument| {
            let mut instrument = instrument.clone();
            instrument.origins.sort_by(|one, other| one.path.cmp(&other.path));
            instrument
        };
        assert_eq!(sorted(&alone.profile), sorted(&loaded.profile), "{id}");
        // A file that is based on none stays as it is, byte for byte.
        let is_based = loaded.document.text().contains("based_on");
        assert_eq!(loaded.flattened() == loaded.document.text(), !is_based, "{id}");
        assert_eq!(alone.flattened(), loaded.flattened(), "{id}");
        derived += usize::from(is_based);
    }
    assert!(derived >= 10, "{derived} shipped instruments are based on others");
}

#[test]
fn every_shipped_instrument_plays_on_every_shipped_target() {
    let wheel = load::<Hand>("wheel").expect("a hand").profile;
    for loaded in shipped_instruments() {
        for target in SHIPPED.iter().filter(|each| each.kind == FileKind::Target) {
            let receiver = load::<Target>(target.id).expect("a target").profile;
            let patch = profile::patch(&loaded.profile, &receiver, &wheel, 1, 1.0);
            let patch = patch.unwrap_or_else(|error| panic!("{}: {error}", target.id));
            assert!(patch.target.output_count > 0 && patch.dynamics.floor < patch.dynamics.ceiling);
            let names = loaded.profile.vibrato.styles.len();
            assert_eq!(patch.vibrato.style_count, names, "{}", loaded.profile.about.id);
        }
    }
}
