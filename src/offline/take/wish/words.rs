//! Wishes in words: what may be asked of a note, as a text or a line of a table says it.

use super::place::spot_of;
use super::request::{Length, Spot, WishRequest, WishTable};
use super::stretch_words;
use crate::engine::{Mode, NoteWish};
use crate::profile::pitch::key_of;
use crate::profile::wish::{StretchWish, allowed_of_notes, read_note, read_stretch};

/// How a text begins that is a wish.
const TEXT_HEAD: &str = "wish";
/// What a text asks.
#[derive(Clone, Debug, PartialEq)]
pub enum TextWish {
    /// Of the notes that begin there, or of the one of a key.
    Notes(Option<u8>, NoteWish),
    /// Of a stretch that begins there.
    Stretch(Length, Vec<StretchWish>),
}

/// Reads a table. `styles` are the instrument's names of its styles.
///
/// # Errors
/// A sentence with line, value and what is allowed.
pub fn read_table(text: &str, styles: &[String]) -> Result<WishTable, String> {
    let mut wishes = WishTable::default();
    for (number, line) in text.trim_start_matches('\u{FEFF}').lines().enumerate() {
        let line = without_remark(line).trim();
        if line.is_empty() {
            continue;
        }
        let place = format!("wishes, line {}", number + 1);
        let fault = |what: String| format!("{place}: {what}");
        match line.split_once(':') {
            Some((head, asked)) if head.contains("..") => {
                let request = stretch_words::read(head.trim(), asked, styles).map_err(fault)?;
                wishes.stretches.push(super::StretchRequest { place, ..request });
            }
            parts => {
                let request = read_line(line, parts, styles).map_err(fault)?;
                wishes.notes.push(WishRequest { place, ..request });
            }
        }
    }
    Ok(wishes)
}

/// What stands before a `#`, unless that makes a note's name sharp: `F#4`.
fn without_remark(line: &str) -> &str {
    let is_remark = |&(at, _): &(usize, &str)| !line[..at].ends_with(|c: char| c.is_alphanumeric());
    line.match_indices('#').find(is_remark).map_or(line, |(at, _)| &line[..at])
}

fn read_line(
    line: &str,
    parts: Option<(&str, &str)>,
    styles: &[String],
) -> Result<WishRequest, String> {
    let form = || {
        format!(
            "`{line}` is no wish; allowed is BAR.BEAT KEY: WISH, as 12.3 A4: open, or \
             BAR.BEAT..BAR.BEAT: WISH, as 12.1..14.4: softer 3 dB"
        )
    };
    let (head, asked) = parts.ok_or_else(form)?;
    let (place, key) = head.trim().split_once(char::is_whitespace).ok_or_else(form)?;
    let (bar, beat) = spot_of(place).ok_or_else(|| {
        format!("place is `{place}`; allowed is bar.beat from 1.1, as 12.3 or 12.3+1/2")
    })?;
    let key = Some(read_key(key)?);
    let asked = read_wish(asked, styles)?;
    let (beat, spot) = (place.to_owned(), Spot::Beat { bar, beat });
    Ok(WishRequest { place: String::new(), beat, spot, key, asked })
}

/// What a text asks; `None` if it is no wish.
pub fn read_text(text: &str, styles: &[String]) -> Result<Option<TextWish>, String> {
    let Some((head, asked)) = text.trim().split_once(':') else { return Ok(None) };
    let Some(of) = head.strip_prefix(TEXT_HEAD) else { return Ok(None) };
    let key = match of.trim() {
        "" => None,
        _ if !of.starts_with(char::is_whitespace) => return Ok(None),
        of => match stretch_words::length_of(of) {
            Some(length) => {
                let wishes = read_stretch(asked, styles)?;
                return Ok(Some(TextWish::Stretch(length?, wishes)));
            }
            None => Some(read_key(of)?),
        },
    };
    Ok(Some(TextWish::Notes(key, read_wish(asked, styles)?)))
}

fn read_key(text: &str) -> Result<u8, String> {
    let text = text.trim();
    key_of(text).ok_or_else(|| {
        format!("key is `{text}`; allowed is 0 to 127 or a name from C-1 to G9, as Bb3")
    })
}

fn read_wish(asked: &str, styles: &[String]) -> Result<NoteWish, String> {
    let mut wish = NoteWish::NONE;
    let asks = asked.trim();
    for word in asked.split(',').map(str::trim) {
        let Some(one) = read_note(word, styles) else {
            return Err(match read_stretch(word, styles) {
                Ok(_) => format!("wish is `{word}`, which is for a stretch, as 12.3..12.4: {word}"),
                Err(_) => format!("wish is `{word}`; allowed is {}", allowed_of_notes(styles)),
            });
        };
        if one.style.is_some() && wish.style.is_some() {
            return Err(format!("wish is `{asks}`; allowed is one style"));
        }
        if one.legato.is_some() && wish.legato.is_some() {
            return Err(format!("wish is `{asks}`; allowed is one way to join"));
        }
        wish = NoteWish {
            style: one.style.or(wish.style),
            is_still: one.is_still || wish.is_still,
            is_open: one.is_open || wish.is_open,
            legato: one.legato.or(wish.legato),
        };
    }
    match wish {
        NoteWish { is_open: true, .. } if wish.mode() == Some(Mode::Slide) => Err(format!(
            "wish is `{asks}`; allowed is open or slide, as no slide ends on an open string"
        )),
        _ => Ok(wish),
    }
}
