//! Paints the window without a display, from the same triangles that the screen would show, as a PNG.

use std::collections::BTreeMap;

use egui::epaint::{ImageData, Mesh, Primitive, Vertex};
use egui::{Color32, Context, Pos2, RawInput, Rect, TextureId, pos2, vec2};
use resvg::tiny_skia::Pixmap;

use super::app::Editor;

/// How often the window is drawn until nothing shifts any more: egui places some things a pass
/// later.
const PASSES: usize = 4;

/// A painted window: pixels from the top left, row by row.
#[derive(Clone, Debug)]
pub struct Screenshot {
    /// Pixels from left to right.
    pub width: usize,
    /// Pixels from top to bottom.
    pub height: usize,
    /// One colour a pixel.
    pub pixels: Vec<Color32>,
}

/// The images, here the letters, with which the triangles are filled.
#[derive(Default)]
pub struct Images {
    images: BTreeMap<TextureId, (usize, usize, Vec<Color32>)>,
}

impl Images {
    /// Takes over the images that egui has added or changed.
    pub fn take(&mut self, delta: &egui::TexturesDelta) {
        let all = delta.set.iter().flat_map(|(id, list)| list.iter().map(move |one| (id, one)));
        for (id, delta) in all {
            let ImageData::Color(image) = &delta.image;
            let [width, height] = image.size;
            let Some([left, top]) = delta.pos else {
                self.images.insert(*id, (width, height, image.pixels.clone()));
                continue;
            };
            let Some((whole_width, _, pixels)) = self.images.get_mut(id) else { continue };
            for row in 0..height {
                let to = (top + row) * *whole_width + left;
                let from = row * width;
                pixels[to..to + width].copy_from_slice(&image.pixels[from..from + width]);
            }
        }
        for id in &delta.free {
            self.images.remove(id);
        }
    }

    /// The colour at a place of an image, 0..=1 both ways: of the four pixels about it, each as
    /// much as it is near.
    fn at(&self, id: TextureId, uv: Pos2) -> [f32; 4] {
        let Some((width, height, pixels)) = self.images.get(&id) else { return [255.0; 4] };
        let (x, y) = (uv.x * *width as f32 - 0.5, uv.y * *height as f32 - 0.5);
        let (left, top) = (x.floor(), y.floor());
        let mut sum = [0.0; 4];
        for (step_x, step_y) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
            let (at_x, at_y) = (left + step_x as f32, top + step_y as f32);
            let share = (1.0 - (x - at_x).abs()) * (1.0 - (y - at_y).abs());
            let place = |at: f32, count: usize| (at.max(0.0) as usize).min(count - 1);
            let pixel = pixels[place(at_y, *height) * width + place(at_x, *width)];
            for (sum, channel) in sum.iter_mut().zip(pixel.to_array()) {
                *sum += share * f32::from(channel);
            }
        }
        sum
    }
}

/// Paints the editor as it stands, `width` by `height` pixels.
pub fn paint(editor: &mut Editor, width: u16, height: u16) -> Screenshot {
    let context = Context::default();
    super::fonts::install(&context);
    let mut images = Images::default();
    let scale = f32::from(editor.model().appearance.percent) / 100.0;
    context.set_zoom_factor(scale);
    let size = vec2(f32::from(width), f32::from(height)) / scale;
    let mut output = egui::FullOutput::default();
    for pass in 0..PASSES {
        let rect = Rect::from_min_size(Pos2::ZERO, size);
        let input =
            RawInput { screen_rect: Some(rect), time: Some(pass as f64), ..RawInput::default() };
        output = context.run_ui(input, |ui| {
            editor.frame(ui, 0.0);
        });
        images.take(&output.textures_delta);
        output.textures_delta.clear();
    }
    let shapes = std::mem::take(&mut output.shapes);
    let meshes = context.tessellate(shapes, scale);
    let mut screenshot = Screenshot::blank(usize::from(width), usize::from(height));
    for primitive in &meshes {
        if let Primitive::Mesh(mesh) = &primitive.primitive {
            screenshot.mesh(mesh, primitive.clip_rect, scale, &images);
        }
    }
    screenshot
}

impl Screenshot {
    /// An empty screenshot.
    pub fn blank(width: usize, height: usize) -> Screenshot {
        Screenshot { width, height, pixels: vec![Color32::BLACK; width * height] }
    }

    /// Paints triangles, within a rectangle; places are points, `scale` pixels each.
    pub fn mesh(&mut self, mesh: &Mesh, clip: Rect, scale: f32, images: &Images) {
        for corners in mesh.indices.chunks_exact(3) {
            let corner = |place: usize| mesh.vertices[corners[place] as usize];
            self.triangle([corner(0), corner(1), corner(2)], mesh.texture_id, clip, scale, images);
        }
    }

    fn triangle(
        &mut self,
        corners: [Vertex; 3],
        image: TextureId,
        clip: Rect,
        scale: f32,
        images: &Images,
    ) {
        let [a, b, c] = corners.map(|corner| pos2(corner.pos.x * scale, corner.pos.y * scale));
        let area = cross(a, b, c);
        if area == 0.0 {
            return;
        }
        let lows = |one: f32, two: f32, three: f32| one.min(two).min(three).floor();
        let highs = |one: f32, two: f32, three: f32| one.max(two).max(three).ceil();
        let clip = clip * scale;
        let left = lows(a.x, b.x, c.x).max(clip.left().round()).max(0.0) as usize;
        let top = lows(a.y, b.y, c.y).max(clip.top().round()).max(0.0) as usize;
        let right =
            (highs(a.x, b.x, c.x).min(clip.right().round()).max(0.0) as usize).min(self.width);
        let bottom =
            (highs(a.y, b.y, c.y).min(clip.bottom().round()).max(0.0) as usize).min(self.height);
        for y in top..bottom {
            for x in left..right {
                let at = pos2(x as f32 + 0.5, y as f32 + 0.5);
                let shares =
                    [cross(b, c, at) / area, cross(c, a, at) / area, cross(a, b, at) / area];
                // A pixel on an edge belongs to one of two triangles: the one to its left.
                if shares.iter().any(|share| *share < 0.0) {
                    continue;
                }
                let uv = corners
                    .iter()
                    .zip(shares)
                    .fold(pos2(0.0, 0.0), |sum, (corner, share)| sum + corner.uv.to_vec2() * share);
                let texel = images.at(image, uv);
                let mut over = [0.0; 4];
                for (corner, share) in corners.iter().zip(shares) {
                    let channels = corner.color.to_array();
                    for (over, channel) in over.iter_mut().zip(channels) {
                        *over += f32::from(channel) * share;
                    }
                }
                for (over, texel) in over.iter_mut().zip(texel) {
                    *over *= texel / 255.0;
                }
                self.blend(x, y, over);
            }
        }
    }

    /// Lays a premultiplied colour over a pixel.
    fn blend(&mut self, x: usize, y: usize, over: [f32; 4]) {
        let pixel = &mut self.pixels[y * self.width + x];
        let keep = 1.0 - over[3] / 255.0;
        let mix = |over: f32, under: u8| (over + f32::from(under) * keep).round().min(255.0) as u8;
        *pixel = Color32::from_rgb(
            mix(over[0], pixel.r()),
            mix(over[1], pixel.g()),
            mix(over[2], pixel.b()),
        );
    }

    /// The screenshot as a PNG.
    ///
    /// # Errors
    /// One sentence if it cannot be one.
    pub fn png(&self) -> Result<Vec<u8>, String> {
        let (width, height) = (self.width as u32, self.height as u32);
        let mut pixmap = Pixmap::new(width, height).ok_or_else(|| {
            format!("a screenshot of {width} by {height} pixels cannot be painted")
        })?;
        for (to, from) in pixmap.data_mut().chunks_exact_mut(4).zip(&self.pixels) {
            to.copy_from_slice(&from.to_array());
        }
        pixmap.encode_png().map_err(|error| error.to_string())
    }
}

/// Twice the area of a triangle, with its sense of turning.
fn cross(a: Pos2, b: Pos2, c: Pos2) -> f32 {
    (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)
}
