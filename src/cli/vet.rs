//! Checks files, each alone and all of them together, and says everything that is wrong.

use super::answer::{Answer, Exit};
use polso::engine::patch::Source;
use polso::profile::{self, Any, Fault, FileKind, Hand, LoadError, Loaded, Remark};
use serde_json::{Value as Json, json};
use std::io::Read;

/// Check files of your own, alone and together
#[derive(clap::Args)]
pub struct VetOptions {
    /// Files or shipped names; - is standard input
    #[arg(required = true)]
    files: Vec<String>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

/// What standard input is called in an answer.
const STANDARD_INPUT: &str = "standard input";

/// What there is to say about one file, or about files that do not go together.
struct Verdict {
    name: String,
    any: Option<Any>,
    faults: Vec<Fault>,
}

pub fn run(options: &VetOptions) -> Answer {
    let mut verdicts = Vec::new();
    let mut err = String::new();
    for name in &options.files {
        let shown = if name == "-" { STANDARD_INPUT } else { name }.to_owned();
        match load(name) {
            Ok(any) => verdicts.push(Verdict { name: shown, any: Some(any), faults: Vec::new() }),
            Err(LoadError::Faulty { name, faults }) => {
                verdicts.push(Verdict { name, any: None, faults })
            }
            Err(error) => err += &format!("{error}\n"),
        }
    }
    check_together(&mut verdicts);
    let fault_count: usize = verdicts.iter().map(|verdict| verdict.faults.len()).sum();
    let has_slip = verdicts.iter().any(|verdict| notes(verdict).iter().any(|note| note.is_slip));
    let exit = match (err.is_empty(), fault_count > 0 || has_slip) {
        (false, _) => Exit::BadInput,
        (true, false) => Exit::Fine,
        (true, true) => Exit::Findings,
    };
    let out = if options.json { as_json(&verdicts, fault_count) } else { as_text(&verdicts) };
    Answer { exit, out, err }
}

fn load(name: &str) -> Result<Any, LoadError> {
    if name != "-" {
        return Any::load(name);
    }
    let mut bytes = Vec::new();
    // One byte more than a file may have is enough to see that it is too long.
    let most = profile::document::FILE_BYTES_MAX as u64 + 1;
    let read = std::io::stdin().take(most).read_to_end(&mut bytes);
    let name = || STANDARD_INPUT.to_owned();
    read.map_err(|error| LoadError::Unreadable { name: name(), reason: error.to_string() })?;
    Any::check(&bytes).map_err(|faults| LoadError::Faulty { name: name(), faults })
}

/// Puts every instrument, target and hand among the files together, and gives each fault to the
/// file that it stands in. Without a hand among them, a wheel plays.
fn check_together(verdicts: &mut [Verdict]) {
    let wheel = Hand::for_source(Source::Controller(1));
    let mut found: Vec<(usize, Fault)> = Vec::new();
    for (_, instrument) in picked(verdicts, Any::instrument) {
        for (target_place, target) in picked(verdicts, Any::target) {
            let mut try_hand = |hand: &Hand, hand_place: Option<usize>| {
                let result = profile::patch(&instrument.profile, &target.profile, hand, 0, 1.0);
                let mismatches = result.map_or_else(|error| error.mismatches, |_| Vec::new());
                for mismatch in mismatches {
                    let place = match (mismatch.kind, hand_place) {
                        (Some(FileKind::Hand), Some(place)) => place,
                        _ => target_place,
                    };
                    found.push((place, mismatch.fault));
                }
            };
            let hands = picked(verdicts, Any::hand);
            if hands.is_empty() {
                try_hand(&wheel, None);
            }
            for (place, hand) in hands {
                try_hand(&hand.profile, Some(place));
            }
        }
    }
    for (place, mut fault) in found {
        let verdict = &mut verdicts[place];
        let fields = verdict.any.as_ref().map_or(&[][..], Any::fields);
        fault.line = fields.iter().find(|field| field.path == fault.field).and_then(|it| it.line);
        if !verdict.faults.contains(&fault) {
            verdict.faults.push(fault);
        }
    }
}

/// The files that `pick` picks, each with its place.
fn picked<'a, T>(
    verdicts: &'a [Verdict],
    pick: impl Fn(&'a Any) -> Option<&'a Loaded<T>>,
) -> Vec<(usize, &'a Loaded<T>)> {
    let place =
        |(place, verdict): (usize, &'a Verdict)| Some((place, pick(verdict.any.as_ref()?)?));
    verdicts.iter().enumerate().filter_map(place).collect()
}

fn notes(verdict: &Verdict) -> &[Remark] {
    verdict.any.as_ref().map_or(&[], Any::notes)
}

fn as_text(verdicts: &[Verdict]) -> String {
    let mut text = String::new();
    for verdict in verdicts {
        let name = &verdict.name;
        for fault in &verdict.faults {
            text += &format!("{name}: {fault}\n");
        }
        for note in notes(verdict) {
            text += &format!("{name}: note: {note}\n");
        }
        if let (Some(any), true) = (&verdict.any, verdict.faults.is_empty()) {
            text += &format!("{name}: the {} {} is in order\n", any.kind().name(), any.about().id);
        }
    }
    text
}

fn as_json(verdicts: &[Verdict], fault_count: usize) -> String {
    let fault = |fault: &Fault| {
        json!({
            "line": fault.line,
            "field": fault.field,
            "found": fault.found,
            "allowed": fault.allowed,
            "sentence": fault.to_string(),
        })
    };
    let note = |note: &Remark| json!({ "line": note.line, "field": note.field, "sentence": note.sentence });
    let file = |verdict: &Verdict| {
        json!({
            "name": verdict.name,
            "kind": verdict.any.as_ref().map(|any| any.kind().name()),
            "id": verdict.any.as_ref().map(|any| any.about().id.as_str()),
            "faults": verdict.faults.iter().map(fault).collect::<Vec<Json>>(),
            "notes": notes(verdict).iter().map(note).collect::<Vec<Json>>(),
        })
    };
    let files: Vec<Json> = verdicts.iter().map(file).collect();
    format!("{}\n", json!({ "fault_count": fault_count, "files": files }))
}
