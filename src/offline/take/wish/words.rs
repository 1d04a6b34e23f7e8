//! Wishes in words: what may be asked of a note, as a text or a line of a table says it.

use super::request::{Spot, WishRequest};
use crate::engine::Wish;
use crate::profile::pitch::key_of;

/// How a text begins that is a wish.
const TEXT_HEAD: &str = "wish";

/// Reads a table. `styles` are the instrument's names of its styles.
///
/// # Errors
/// A sentence with line, value and what is allowed.
pub fn read_table(text: &str, styles: &[String]) -> Result<Vec<WishRequest>, String> {
    let mut requests = Vec::new();
    for (number, line) in text.trim_start_matches('\u{FEFF}').lines().enumerate() {
        let line = without_remark(line).trim();
        if line.is_empty() {
            continue;
        }
        let place = format!("wishes, line {}", number + 1);
        let request = read_line(line, styles).map_err(|what| format!("{place}: {what}"))?;
        requests.push(WishRequest { place, ..request });
    }
    Ok(requests)
}

/// What stands before a `#`, unless that makes a note's name sharp: `F#4`.
fn without_remark(line: &str) -> &str {
    let is_remark = |&(at, _): &(usize, &str)| !line[..at].ends_with(|c: char| c.is_alphanumeric());
    line.match_indices('#').find(is_remark).map_or(line, |(at, _)| &line[..at])
}

fn read_line(line: &str, styles: &[String]) -> Result<WishRequest, String> {
    let form = || format!("`{line}` is no wish; allowed is BAR.BEAT KEY: WISH, as 12.3 A4: open");
    let (head, asked) = line.split_once(':').ok_or_else(form)?;
    let (place, key) = head.trim().split_once(char::is_whitespace).ok_or_else(form)?;
    let (bar, beat) = spot_of(place).ok_or_else(|| {
        format!("place is `{place}`; allowed is bar.beat from 1.1, as 12.3 or 12.3+1/2")
    })?;
    let key = Some(read_key(key)?);
    let wish = read_wish(asked, styles)?;
    let (beat, spot) = (place.to_owned(), Spot::Beat { bar, beat });
    Ok(WishRequest { place: String::new(), beat, spot, key, wish })
}

/// The key and the wish of a text; `None` if the text is none.
pub fn read_text(text: &str, styles: &[String]) -> Result<Option<(Option<u8>, Wish)>, String> {
    let Some((head, asked)) = text.trim().split_once(':') else { return Ok(None) };
    let Some(key) = head.strip_prefix(TEXT_HEAD) else { return Ok(None) };
    let key = match key.trim() {
        "" => None,
        _ if !key.starts_with(char::is_whitespace) => return Ok(None),
        key => Some(read_key(key)?),
    };
    Ok(Some((key, read_wish(asked, styles)?)))
}

/// Bar and beat, both from 1.
fn spot_of(text: &str) -> Option<(u64, f64)> {
    let (bar, beat) = text.split_once('.')?;
    let (whole, part) = match beat.split_once('+') {
        Some((whole, part)) => {
            let (above, below) = part.split_once('/')?;
            let (above, below) = (above.parse::<u32>().ok()?, below.parse::<u32>().ok()?);
            (whole, (above < below).then(|| f64::from(above) / f64::from(below))?)
        }
        None => (beat, 0.0),
    };
    let (bar, whole) = (bar.parse::<u32>().ok()?, whole.parse::<u8>().ok()?);
    (bar >= 1 && whole >= 1).then(|| (bar.into(), f64::from(whole) + part))
}

fn read_key(text: &str) -> Result<u8, String> {
    let text = text.trim();
    key_of(text).ok_or_else(|| {
        format!("key is `{text}`; allowed is 0 to 127 or a name from C-1 to G9, as Bb3")
    })
}

fn read_wish(asked: &str, styles: &[String]) -> Result<Wish, String> {
    let mut wish = Wish::none(0, 0);
    let asks = asked.trim();
    for word in asked.split(',').map(str::trim) {
        match word {
            "no vibrato" => wish.is_still = true,
            "open" => wish.is_open = true,
            "slide" | "no slide" if wish.slide.is_none() => wish.slide = Some(word == "slide"),
            "slide" | "no slide" => {
                return Err(format!("wish is `{asks}`; allowed is one of slide and no slide"));
            }
            style => match styles.iter().position(|own| own == style) {
                Some(place) if wish.style.is_none() => wish.style = Some(place as u8),
                Some(_) => return Err(format!("wish is `{asks}`; allowed is one style")),
                None => {
                    let styles = styles.join(", ");
                    return Err(format!(
                        "wish is `{word}`; allowed is no vibrato, open, slide, no slide, {styles}"
                    ));
                }
            },
        }
    }
    match wish {
        Wish { is_open: true, slide: Some(true), .. } => Err(format!(
            "wish is `{asks}`; allowed is open or slide, as no slide ends on an open string"
        )),
        _ => Ok(wish),
    }
}

/// The wish in words, as a table has it after its key.
pub fn in_words(wish: &Wish, styles: &[String]) -> String {
    let mut words: Vec<&str> = Vec::new();
    words.extend(wish.style.and_then(|style| styles.get(usize::from(style))).map(String::as_str));
    words.extend(wish.is_still.then_some("no vibrato"));
    words.extend(wish.is_open.then_some("open"));
    words.extend(wish.slide.map(|slide| if slide { "slide" } else { "no slide" }));
    words.join(", ")
}
