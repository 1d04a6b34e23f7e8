//! Opens a window over a take: the gesture splits into its consequences, and their curves can be bent.

use std::path::PathBuf;

use super::answer::Answer;
#[cfg(feature = "png")]
use super::answer::stored;
use polso::editor::act::{Act, Light};
use polso::editor::feed::Texts;
use polso::editor::model::Model;
use polso::editor::take_feed::TakeFeed;
use polso::editor::{Editor, window};
#[cfg(feature = "png")]
use polso::offline::save;
use polso::profile::{self, Hand, Instrument, Target};

/// Bend the curves of a line in a window
#[derive(clap::Args)]
pub struct EditOptions {
    /// The recorded take, a MIDI file; without one the window opens over silence
    input: Option<PathBuf>,
    /// The instrument: a shipped name (see list) or a file
    #[arg(short, long, value_name = "NAME", default_value = "erhu")]
    instrument: String,
    /// The receiver: a shipped name or a file
    #[arg(short, long, value_name = "NAME", default_value = "generic")]
    target: String,
    /// Your own controller: a shipped name or a file
    #[arg(long, value_name = "FILE", default_value = "wheel")]
    hand: String,
    /// Which of the possible performances
    #[arg(long, value_name = "N", default_value_t = profile::patch::SEED)]
    seed: u64,
    /// Wind the take to this place first
    #[arg(long, value_name = "SECONDS", default_value_t = 0.0)]
    at: f64,
    /// Open dark
    #[arg(long)]
    dark: bool,
    /// Open no window, but paint it into a file
    #[cfg(feature = "png")]
    #[arg(long, value_name = "OUT.png")]
    picture: Option<PathBuf>,
    /// Overwrite the picture
    #[cfg(feature = "png")]
    #[arg(long)]
    force: bool,
}

pub fn run(options: &EditOptions) -> Answer {
    edit(options).unwrap_or_else(|answer| answer)
}

fn edit(options: &EditOptions) -> Result<Answer, Answer> {
    let mut editor = editor(options)?;
    editor.act(Act::Seek(options.at));
    if options.dark {
        editor.act(Act::Light(Light::Night));
    }
    #[cfg(feature = "png")]
    if let Some(path) = &options.picture {
        let (width, height) = window::SIZE;
        let picture = polso::editor::screenshot::paint(&mut editor, width as u16, height as u16);
        let png = picture.png().map_err(Answer::bad_input)?;
        save::write(path, &png, options.force).map_err(stored)?;
        return Ok(Answer::fine(String::new()));
    }
    window::open("Polso", editor).map_err(Answer::bad_input)?;
    Ok(Answer::fine(String::new()))
}

fn editor(options: &EditOptions) -> Result<Editor, Answer> {
    let EditOptions { input, instrument, target, hand, seed, .. } = options;
    let instrument = profile::load::<Instrument>(instrument).map_err(Answer::bad_input)?;
    let target = profile::load::<Target>(target).map_err(Answer::bad_input)?;
    let hand = profile::load::<Hand>(hand).map_err(Answer::bad_input)?;
    let texts = Texts {
        instrument: instrument.flattened().to_owned(),
        target: target.flattened().to_owned(),
        hand: hand.flattened().to_owned(),
    };
    let told = |faults: Vec<profile::Fault>| {
        let sentences: Vec<String> = faults.iter().map(ToString::to_string).collect();
        Answer::bad_input(sentences.join("\n"))
    };
    let model = Model::open(&[texts.clone(), texts], 0, *seed).map_err(told)?;
    let patch = model.slot().patch(*seed).map_err(Answer::bad_input)?;
    let feed = match input {
        None => TakeFeed::silent(&patch),
        Some(path) => {
            let bytes = super::answer::take(path)?;
            TakeFeed::open(&bytes, &patch).map_err(|error| super::answer::about(path, error))?
        }
    };
    Ok(Editor::new(model, Box::new(feed)))
}
