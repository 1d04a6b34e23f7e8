//! Says what is in a MIDI file, and which command shapes it.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use super::answer::{Answer, Exit, about};
use polso::offline::look::{Look, look_bytes};
use polso::offline::save;
use serde_json::{Value as Json, json};

/// Say what is in a take, and which command shapes it
#[derive(clap::Args)]
pub struct LookOptions {
    /// MIDI files; - is standard input
    #[arg(required = true, value_name = "FILE.mid")]
    files: Vec<PathBuf>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &LookOptions) -> Answer {
    let (mut err, mut texts, mut objects) = (String::new(), Vec::new(), Vec::new());
    for path in &options.files {
        let look = super::answer::take(path)
            .and_then(|bytes| look_bytes(&bytes).map_err(|error| about(path, error)));
        match look {
            Ok(look) if options.json => objects.push(object(path, &look)),
            Ok(look) => texts.push(text(path, &look)),
            Err(answer) => err += &answer.err,
        }
    }
    let out = match options.json {
        true => format!("{}\n", json!({ "files": objects })),
        false => texts.join("\n"),
    };
    let exit = if err.is_empty() { Exit::Fine } else { Exit::BadInput };
    Answer { exit, out, err }
}

fn text(path: &Path, look: &Look) -> String {
    let command = command(path, look);
    let line = match command.is_empty() {
        true => String::new(),
        false => format!("command    {}\n", line(&command)),
    };
    let name =
        if save::is_standard(path) { "standard input".into() } else { path.to_string_lossy() };
    format!("file       {name}\n{look}{line}")
}

fn object(path: &Path, look: &Look) -> Json {
    let command = command(path, look);
    let mut object = json!({ "file": path.to_string_lossy() });
    if let (Json::Object(all), Json::Object(own)) = (&mut object, json!(look)) {
        all.extend(own);
        all.insert("command".to_owned(), json!(line(&command)));
        all.insert("words".to_owned(), json!(command));
    }
    object
}

/// The command in words; none where there is nothing to do.
fn command(path: &Path, look: &Look) -> Vec<String> {
    let input = match path.to_string_lossy() {
        name if name.starts_with('-') && name.len() > 1 => format!("./{name}"),
        name => name.into_owned(),
    };
    let added = match (look.next.verb, &look.next.instrument) {
        (Some("peel"), _) => "take",
        (_, Some(instrument)) if !look.next.is_placeholder => instrument,
        _ => "shaped",
    };
    let words = look.next.words(&input, &free_name(path, added));
    if words.is_empty() { words } else { [vec!["polso".to_owned()], words].concat() }
}

/// A name in the folder where one stands that no file has yet: `last-ferry-erhu.mid`.
fn free_name(path: &Path, added: &str) -> String {
    let stem = match save::is_standard(path) {
        true => "take".into(),
        false => path.file_stem().unwrap_or(OsStr::new("take")).to_string_lossy(),
    };
    let stem = stem.trim_start_matches('-');
    let numbers = [String::new()].into_iter().chain((2..).map(|number| format!("-{number}")));
    let mut names = numbers.map(|number| format!("{stem}-{added}{number}.mid"));
    names.find(|name| !Path::new(name).exists()).unwrap_or_default()
}

/// The words as a shell reads them.
fn line(words: &[String]) -> String {
    let is_plain = |each: char| each.is_alphanumeric() || "-_./,=+:@%".contains(each);
    let word = |word: &String| match !word.is_empty() && word.chars().all(is_plain) {
        true => word.clone(),
        false => format!("'{}'", word.replace('\'', "'\\''")),
    };
    words.iter().map(word).collect::<Vec<_>>().join(" ")
}
