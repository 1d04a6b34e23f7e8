//! The lights have contrast, and the main states can be painted and look like themselves.

use approx::assert_abs_diff_eq;
use polso::editor::act::{Act, Light, Tab};
use polso::editor::screenshot::{Screenshot, paint};
use polso::editor::strand::Strand;
use polso::editor::theme::{WindowTheme, contrast};

use crate::room::{editor, texts};

#[test]
fn every_word_has_a_contrast_of_4_5_to_1() {
    // WCAG 2.2, 1.4.3.
    for light in Light::ALL {
        for (pair, one, other) in WindowTheme::of(light).pairs() {
            let found = contrast(one, other);
            assert!(found >= 4.5, "{}: {pair} has {found:.2}", light.name());
        }
    }
}

#[test]
fn contrast_is_that_of_wcag() {
    let grey = egui::Color32::from_rgb(0x77, 0x77, 0x77);
    // The best known pair: #777 on white has 4.48 and just fails (WCAG 2.2, from memory).
    assert_abs_diff_eq!(contrast(grey, egui::Color32::WHITE), 4.48, epsilon = 0.005);
    assert_abs_diff_eq!(contrast(egui::Color32::BLACK, egui::Color32::WHITE), 21.0, epsilon = 1e-9);
}

/// A state of the window, painted; in POLSO_PICTURES it can be looked at.
fn painted(name: &str, acts: &[Act]) -> Screenshot {
    let (mut editor, _) = editor(&texts("erhu", "generic", "wheel"));
    editor.act(Act::Seek(15.0));
    for act in acts {
        editor.act(act.clone());
    }
    let picture = paint(&mut editor, 1280, 800);
    if let Some(folder) = std::env::var_os("POLSO_PICTURES") {
        let path = std::path::Path::new(&folder).join(format!("{name}.png"));
        std::fs::write(path, picture.png().expect("a picture")).expect("written");
    }
    picture
}

/// How many pixels have a colour.
fn count(picture: &Screenshot, colour: egui::Color32) -> usize {
    picture.pixels.iter().filter(|pixel| **pixel == colour).count()
}

fn check(name: &str, light: Light, percent: u16, acts: &[Act]) {
    let mut all = vec![Act::Light(light), Act::Size(percent)];
    all.extend_from_slice(acts);
    let picture = painted(name, &all);
    let theme = WindowTheme::of(light);
    let pixels = picture.pixels.len();
    let ground = count(&picture, theme.ground) + count(&picture, theme.paper);
    assert!(ground > pixels / 2, "{name}: half of it is ground");
    assert!(count(&picture, theme.ink) > 1500, "{name}: there are words and lines");
    assert!(count(&picture, theme.chosen) > 1000, "{name}: something is chosen");
}

#[test]
fn the_main_states_are_painted_in_each_light_and_size() {
    for light in Light::ALL {
        for percent in [100, 200] {
            let name = format!("curve {} {percent}", light.name());
            check(&name, light, percent, &[Act::Look(Strand::Width)]);
        }
    }
    check("curve light 300", Light::Day, 300, &[]);
}

#[test]
fn every_page_and_strand_is_painted() {
    for page in Tab::ALL {
        check(&format!("page {}", page.name()), Light::Day, 100, &[Act::Turn(page)]);
    }
    for strand in Strand::ALL {
        check(&format!("strand {}", strand.name()), Light::Night, 100, &[Act::Look(strand)]);
    }
}

#[test]
fn a_looked_at_strand_changes_the_picture_and_undoing_changes_it_back() {
    let width = painted("width", &[Act::Look(Strand::Width)]);
    let again = painted("width", &[Act::Look(Strand::Rate), Act::Look(Strand::Width)]);
    let rate = painted("rate", &[Act::Look(Strand::Rate)]);
    assert!(width.pixels == again.pixels, "the same state is the same picture");
    assert!(width.pixels != rate.pixels);
}
