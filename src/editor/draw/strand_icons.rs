//! The icons of the strands: each has a shape of its own, so that nobody needs the colours.

use egui::{Color32, Painter, Pos2, Shape, Stroke, pos2, vec2};

use crate::editor::strand::Strand;

/// Draws a strand's icon about a point, `size` points wide.
pub fn draw(painter: &Painter, strand: Strand, at: Pos2, size: f32, colour: Color32) {
    let stroke = Stroke::new(1.6, colour);
    let half = size / 2.0;
    let corner = |x: f32, y: f32| at + vec2(x * half, y * half);
    match strand {
        Strand::Gesture => {
            painter.circle_filled(at, half, colour);
        }
        // A hairpin: louder to the right.
        Strand::Dynamics => {
            painter.line_segment([corner(-1.0, 0.0), corner(1.0, -0.8)], stroke);
            painter.line_segment([corner(-1.0, 0.0), corner(1.0, 0.8)], stroke);
        }
        // Two ends with a bar between them.
        Strand::Width => {
            painter.line_segment([corner(0.0, -1.0), corner(0.0, 1.0)], stroke);
            painter.line_segment([corner(-0.7, -1.0), corner(0.7, -1.0)], stroke);
            painter.line_segment([corner(-0.7, 1.0), corner(0.7, 1.0)], stroke);
        }
        // Three strokes, one after the other.
        Strand::Rate => {
            for x in [-0.8, 0.0, 0.8] {
                painter.line_segment([corner(x, -0.8), corner(x, 0.8)], stroke);
            }
        }
        Strand::Style => {
            let points =
                vec![corner(0.0, -1.0), corner(1.0, 0.0), corner(0.0, 1.0), corner(-1.0, 0.0)];
            painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
        }
        // A slur.
        Strand::Legato => {
            let arc = |step: u8| {
                let x = f32::from(step) / 4.0 - 1.0;
                pos2(at.x + x * half, at.y + half * (0.7 * x * x - 0.5))
            };
            painter.line((0..=8).map(arc).collect(), stroke);
        }
        // It falls to nothing.
        Strand::Tail => {
            let points = vec![corner(-1.0, -0.9), corner(-1.0, 0.9), corner(1.0, 0.9)];
            painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
        }
        Strand::Pitch => {
            let wave = |step: u8| {
                let u = f64::from(step) / 12.0;
                let swing = libm::sin(u * std::f64::consts::TAU) as f32;
                pos2(at.x + (2.0 * u as f32 - 1.0) * half, at.y - 0.8 * half * swing)
            };
            painter.line((0..=12).map(wave).collect(), stroke);
        }
    }
}
