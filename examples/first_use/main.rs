//! Paints the README's first way through the window: a learned wheel, the erhu, the first phrase.

use std::path::Path;

use polso::editor::Editor;
use polso::editor::act::{Act, Page};
use polso::editor::feed::Texts;
use polso::editor::model::Model;
use polso::editor::picture::paint;
use polso::editor::strand::Strand;
use polso::editor::take::TakeFeed;
use polso::profile::{self, FileKind, Hand, Instrument, Target};

/// Pixels of a picture.
const SIZE: (u16, u16) = (1120, 700);
/// From one frame of the window to the next, seconds.
const FRAME_S: f64 = 0.02;

fn main() -> Result<(), String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let bytes = std::fs::read(folder.join("last-ferry.mid")).map_err(|error| error.to_string())?;
    let mut editor = fresh(&bytes)?;
    // The wheel of the take is moved while the window waits for a controller.
    editor.act(Act::Turn(Page::Hand));
    editor.act(Act::Learn(true));
    editor.act(Act::Run(true));
    pass(&mut editor, 5.0);
    keep(&mut editor, &folder.join("first-use-1.png"))?;
    editor.act(Act::Turn(Page::Library));
    editor.act(Act::Choose(FileKind::Instrument, "erhu".to_owned()));
    pass(&mut editor, 5.0);
    keep(&mut editor, &folder.join("first-use-2.png"))?;
    editor.act(Act::Look(Strand::Width));
    pass(&mut editor, 6.0);
    keep(&mut editor, &folder.join("first-use-3.png"))
}

/// A window over the take, with another instrument and another controller than the take's.
fn fresh(bytes: &[u8]) -> Result<Editor, String> {
    let told = |error: profile::LoadError| error.to_string();
    let instrument = profile::load::<Instrument>("violin").map_err(told)?;
    let target = profile::load::<Target>("generic").map_err(told)?;
    let hand = profile::load::<Hand>("breath").map_err(told)?;
    let texts = Texts {
        instrument: instrument.flattened().to_owned(),
        target: target.flattened().to_owned(),
        hand: hand.flattened().to_owned(),
    };
    let model = Model::open(&[texts.clone(), texts], 0, 0)
        .map_err(|faults| faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))?;
    let patch = model.slot().patch(0)?;
    let feed = TakeFeed::open(bytes, &patch).map_err(|error| error.to_string())?;
    Ok(Editor::new(model, Box::new(feed)))
}

/// Lets time go by.
fn pass(editor: &mut Editor, seconds: f64) {
    for _ in 0..(seconds / FRAME_S) as u32 {
        editor.listen(FRAME_S);
    }
}

fn keep(editor: &mut Editor, path: &Path) -> Result<(), String> {
    let png = paint(editor, SIZE.0, SIZE.1).png()?;
    println!("{}: {} KiB", path.display(), png.len() / 1024);
    std::fs::write(path, png).map_err(|error| format!("{}: {error}", path.display()))
}
