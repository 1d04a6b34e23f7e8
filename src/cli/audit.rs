//! Says what a live player could not play, before the part goes out.

use std::path::{Path, PathBuf};

use super::answer::{Answer, Exit, stored};
use super::performer::Performer;
use polso::offline::audit::{as_json, as_text, audit_bytes};
use polso::offline::page::audit_and_page_bytes;
use polso::offline::save;

/// Say what a live player could not play
#[derive(clap::Args)]
#[command(after_help = "Each finding has its bar and beat. Exit code 1 if there is any.")]
pub struct AuditOptions {
    /// The recorded take, a MIDI file; - is standard input
    input: PathBuf,
    #[command(flatten)]
    performer: Performer,
    /// Overwrite the page; peel an input that was shaped before
    #[arg(long)]
    force: bool,
    /// Also draw one page for the player, .svg or .pdf
    #[arg(long, value_name = "OUT.svg|pdf")]
    page: Option<PathBuf>,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

pub fn run(options: &AuditOptions) -> Answer {
    audit(options).unwrap_or_else(|answer| answer)
}

fn audit(options: &AuditOptions) -> Result<Answer, Answer> {
    let AuditOptions { input, performer, page, force, json } = options;
    let is_pdf = page.as_deref().map(is_pdf).transpose()?;
    let settings = performer.settings(*force).map_err(Answer::bad_input)?;
    let instrument = performer.instrument().map_err(Answer::bad_input)?;
    if let Some(page) = page {
        save::check_output(input, page, *force).map_err(stored)?;
    }
    let take = super::answer::stored_take(input)?;
    let audit = match (page, is_pdf) {
        (Some(page), Some(is_pdf)) => {
            let title = input.file_stem().unwrap_or_default().to_string_lossy();
            let (mut audit, svg) =
                audit_and_page_bytes(take.as_take(), &settings, &instrument, &title)
                    .map_err(|error| super::answer::about(input, error))?;
            let file = match is_pdf {
                true => printed(&svg, &mut audit.notices)?,
                false => svg.into_bytes(),
            };
            save::write(page, &file, *force).map_err(stored)?;
            audit
        }
        _ => audit_bytes(take.as_take(), &settings, &instrument)
            .map_err(|error| super::answer::about(input, error))?,
    };
    let exit = if audit.findings.is_empty() { Exit::Fine } else { Exit::Findings };
    let out = if *json { as_json(&audit) } else { as_text(&audit) };
    let notices = audit.notices.iter().map(|notice| format!("{notice}\n"));
    Ok(Answer { exit, out, err: notices.collect() })
}

/// Whether the page becomes a PDF.
fn is_pdf(page: &Path) -> Result<bool, Answer> {
    let kind = page.extension().unwrap_or_default().to_string_lossy().to_ascii_lowercase();
    match kind.as_str() {
        "svg" => Ok(false),
        "pdf" => Ok(true),
        _ => {
            Err(Answer::bad_input(format!("--page is {}; allowed is .svg or .pdf", page.display())))
        }
    }
}

#[cfg(feature = "png")]
fn printed(svg: &str, notices: &mut Vec<String>) -> Result<Vec<u8>, Answer> {
    let pdf = polso::offline::page::pdf::pdf(svg).map_err(Answer::bad_input)?;
    notices.extend(pdf.notices);
    Ok(pdf.bytes)
}

#[cfg(not(feature = "png"))]
fn printed(_: &str, _: &mut Vec<String>) -> Result<Vec<u8>, Answer> {
    let sentence = "this program was built without PDF; write an .svg instead";
    Err(Answer::bad_input(sentence))
}
