//! Draws the line: notes, gesture and everything the gesture becomes.

use std::path::{Path, PathBuf};

use super::answer::{Answer, stored};
use super::performer::Performer;
use polso::offline::plot::layout::{WIDTH_MAX, WIDTH_MIN};
use polso::offline::plot::{DARK, LIGHT, PlotStyle, SecondTake, plot_bytes};
use polso::offline::save;
use serde_json::json;

/// Draw the line over its gesture
#[derive(clap::Args)]
pub struct PlotOptions {
    /// The recorded take, a MIDI file; - is standard input
    input: PathBuf,
    /// Where the picture goes, .svg or .png; - is standard output, as SVG
    #[arg(short, long, value_name = "OUT.svg|png")]
    output: PathBuf,
    #[command(flatten)]
    performer: Performer,
    /// Another take, laid over the first with dotted lines
    #[arg(long, value_name = "OTHER.mid")]
    with: Option<PathBuf>,
    /// Light lines on a dark ground
    #[arg(long)]
    dark: bool,
    /// How wide; more bars need more width
    #[arg(long, value_name = "UNITS", default_value_t = 1600)]
    width: u32,
    /// Overwrite the output; peel an input that was shaped before
    #[arg(long)]
    force: bool,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &PlotOptions) -> Answer {
    plot(options).unwrap_or_else(|answer| answer)
}

fn plot(options: &PlotOptions) -> Result<Answer, Answer> {
    let PlotOptions { input, output, performer, with, dark, width, force, json } = options;
    if !(WIDTH_MIN..=WIDTH_MAX).contains(width) {
        let sentence = format!("--width is {width}; allowed is {WIDTH_MIN} to {WIDTH_MAX}");
        return Err(Answer::bad_input(sentence));
    }
    let is_png = is_png(output)?;
    let settings = performer.settings(*force).map_err(Answer::bad_input)?;
    let instrument = performer.instrument().map_err(Answer::bad_input)?;
    save::check_output(input, output, *force).map_err(stored)?;
    let take = super::answer::stored_take(input)?;
    let second = with.as_deref().map(super::answer::stored_take).transpose()?;
    let other_name = with.as_deref().map(name).unwrap_or_default();
    let other = second.as_ref().map(|take| SecondTake { take: take.as_take(), name: &other_name });
    let style =
        PlotStyle { width: *width, theme: if *dark { DARK } else { LIGHT }, title: name(input) };
    let picture = plot_bytes(take.as_take(), other, &settings, &instrument, &style)
        .map_err(|error| super::answer::about(input, error))?;
    let mut notices = picture.notices;
    let file = match is_png {
        true => painted(&picture.svg, &mut notices)?,
        false => picture.svg.into_bytes(),
    };
    save::write(output, &file, *force).map_err(stored)?;
    if *json && !save::is_standard(output) {
        let object =
            json!({ "output": output.to_string_lossy(), "bytes": file.len(), "notices": notices });
        return Ok(Answer::fine(format!("{object}\n")));
    }
    Ok(Answer::aside(notices.iter().map(|notice| format!("{notice}\n")).collect()))
}

/// Whether the picture becomes a PNG.
fn is_png(output: &Path) -> Result<bool, Answer> {
    let kind = output.extension().unwrap_or_default().to_string_lossy().to_ascii_lowercase();
    match kind.as_str() {
        _ if save::is_standard(output) => Ok(false),
        "svg" => Ok(false),
        "png" => Ok(true),
        _ => Err(Answer::bad_input(format!(
            "--output is {}; allowed is .svg or .png",
            output.display()
        ))),
    }
}

/// What stands over the picture: the file's name without its ending.
fn name(path: &Path) -> String {
    match save::is_standard(path) {
        true => "take".to_owned(),
        false => path.file_stem().unwrap_or_default().to_string_lossy().into_owned(),
    }
}

#[cfg(feature = "png")]
fn painted(svg: &str, notices: &mut Vec<String>) -> Result<Vec<u8>, Answer> {
    let png = polso::offline::plot::png::png(svg).map_err(Answer::bad_input)?;
    notices.extend(png.notices);
    Ok(png.bytes)
}

#[cfg(not(feature = "png"))]
fn painted(_: &str, _: &mut Vec<String>) -> Result<Vec<u8>, Answer> {
    let sentence = "this program was built without PNG; write an .svg instead";
    Err(Answer::bad_input(sentence))
}
