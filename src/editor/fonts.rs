//! Letters of every script: where the built-in font lacks one, a font of the system is found that has it.

use std::sync::{Arc, OnceLock};

use egui::epaint::text::FontInsert;
use egui::{FallbackRequest, FontData, FontProvider};

/// The fonts of the system, looked for once the first letter is missing.
#[derive(Default)]
struct SystemFonts {
    fonts: OnceLock<fontdb::Database>,
}

/// Families that are tried first, since their letters look well beside the built-in ones.
const WANTED: [&str; 6] = [
    "Noto Sans CJK SC",
    "Noto Sans SC",
    "WenQuanYi Micro Hei",
    "Noto Sans",
    "DejaVu Sans",
    "Arial Unicode MS",
];

impl SystemFonts {
    fn fonts(&self) -> &fontdb::Database {
        self.fonts.get_or_init(|| {
            let mut fonts = fontdb::Database::new();
            fonts.load_system_fonts();
            fonts
        })
    }

    /// The bytes of a face that has a letter.
    fn face(&self, letter: char) -> Option<(String, Vec<u8>, u32)> {
        let fonts = self.fonts();
        let rank = |face: &fontdb::FaceInfo| {
            let name = face.families.first().map_or("", |(name, _)| name.as_str());
            let is_plain = face.style == fontdb::Style::Normal
                && face.weight == fontdb::Weight::NORMAL
                && face.stretch == fontdb::Stretch::Normal;
            let place = WANTED.iter().position(|wanted| *wanted == name);
            (!is_plain, place.unwrap_or(WANTED.len()))
        };
        let mut faces: Vec<&fontdb::FaceInfo> = fonts.faces().collect();
        faces.sort_by_key(|face| rank(face));
        faces.into_iter().find_map(|face| {
            fonts.with_face_data(face.id, |bytes, index| {
                let parsed = ttf_parser::Face::parse(bytes, index).ok()?;
                let has_outline = parsed.glyph_index(letter).is_some();
                has_outline.then(|| (face.post_script_name.clone(), bytes.to_vec(), index))
            })?
        })
    }
}

impl FontProvider for SystemFonts {
    fn font_for(&self, request: &FallbackRequest<'_>) -> Option<FontInsert> {
        let (name, bytes, index) = self.face(request.cluster.chars().next()?)?;
        let mut data = FontData::from_owned(bytes);
        data.index = index;
        Some(FontInsert::new(&name, data, Vec::new()))
    }
}

/// Lets a context draw every letter for which the system has a font. To be called once for each.
pub fn install(context: &egui::Context) {
    context.add_font_provider(Arc::new(SystemFonts::default()));
}

/// The letters of a text that no font here has, for a sentence about it.
pub fn missing(text: &str) -> Vec<char> {
    let system = SystemFonts::default();
    let mut missing: Vec<char> = Vec::new();
    for letter in text.chars().filter(|letter| !letter.is_ascii() && !letter.is_whitespace()) {
        if !missing.contains(&letter) && system.face(letter).is_none() {
            missing.push(letter);
        }
    }
    missing
}
