//! Things drawn as strokes or boxes by tiny-skia: crack, gold signs, scale bar.

use tiny_skia::{
    FillRule, LineCap, LineJoin, Mask, MaskType, Paint, PathBuilder, Pixmap, Rect, Stroke,
    Transform,
};

use super::PhotoError;
use super::blade::{Blade, Place};
use super::canvas::Shot;
use super::noise::Noise;

/// Where the scale bar lies, in pixels: left, top, height.
const BAR_MARGIN: f32 = 26.0;
const BAR_HEIGHT: f32 = 30.0;

/// How strongly each kind of mark covers one pixel, 0..1.
pub(super) struct Marked {
    pub(super) crack: f64,
    pub(super) gold: f64,
    pub(super) stamp: f64,
}

/// The marks of a whole picture.
pub(super) struct Marks {
    crack: Mask,
    gold: Mask,
    stamp: Mask,
}

impl Marks {
    pub(super) fn at(&self, index: usize) -> Marked {
        let part = |mask: &Mask| f64::from(mask.data()[index]) / 255.0;
        Marked {
            crack: part(&self.crack),
            gold: part(&self.gold),
            stamp: part(&self.stamp),
        }
    }
}

impl Shot {
    pub(super) fn marks(&self, blade: &Blade) -> Result<Marks, PhotoError> {
        Ok(Marks {
            crack: self.crack_mask(blade)?,
            gold: self.gold_mask(blade)?,
            stamp: self.stamp_mask(blade)?,
        })
    }

    fn mask(&self) -> Result<Mask, PhotoError> {
        Mask::new(u32::from(self.size.0), u32::from(self.size.1))
            .ok_or(PhotoError::Size { file: self.file })
    }

    /// Strokes given in blade coordinates, drawn with a width in mm.
    fn strokes(
        &self,
        blade: &Blade,
        lines: &[Vec<Place>],
        breadth: f64,
    ) -> Result<Mask, PhotoError> {
        let mut pixmap = self.blank()?;
        let mut paint = Paint::default();
        paint.set_color_rgba8(255, 255, 255, 255);
        let stroke = Stroke {
            width: (breadth / self.pixel).max(0.9) as f32,
            line_cap: LineCap::Round,
            line_join: LineJoin::Round,
            ..Stroke::default()
        };
        for line in lines {
            let mut builder = PathBuilder::new();
            for (index, &place) in line.iter().enumerate() {
                let (x, y) = self.to_pixels(blade.chord_frame(place));
                if index == 0 {
                    builder.move_to(x, y);
                } else {
                    builder.line_to(x, y);
                }
            }
            if let Some(path) = builder.finish() {
                pixmap.stroke_path(&path, &paint, &stroke, Transform::identity(), None);
            }
        }
        Ok(Mask::from_pixmap(pixmap.as_ref(), MaskType::Alpha))
    }

    fn blank(&self) -> Result<Pixmap, PhotoError> {
        Pixmap::new(u32::from(self.size.0), u32::from(self.size.1))
            .ok_or(PhotoError::Size { file: self.file })
    }

    /// A crack that leaves the edge at a right angle and wavers a little.
    fn crack_mask(&self, blade: &Blade) -> Result<Mask, PhotoError> {
        let Some((station, depth)) = blade.crack else {
            return self.mask();
        };
        let noise = Noise::new(blade.seed).layer(31);
        let Some((_, edge)) = blade.span(station) else {
            return self.mask();
        };
        let line = (0..=24)
            .map(|step_number| {
                let part = f64::from(step_number) / 24.0;
                let waver = (noise.layered(part * 7.0, 0.0, 2) - 0.5) * 1.1 * part.min(0.6);
                Place {
                    along: station + waver,
                    across: edge + 0.4 - part * (depth + 0.4),
                }
            })
            .collect::<Vec<_>>();
        let mouth = line.iter().take(6).copied().collect();
        self.strokes(blade, &[line, mouth], 0.13)
    }

    /// Rows of gold signs: invented strokes in a square each, spelling nothing.
    fn gold_mask(&self, blade: &Blade) -> Result<Mask, PhotoError> {
        let noise = Noise::new(blade.seed).layer(32);
        let mut lines = Vec::new();
        for sign in 0..blade.tang.gold_signs {
            let start = -(34.0 + 15.5 * f64::from(sign));
            let Some((top, bottom)) = blade.span(start - 6.0) else {
                continue;
            };
            let size = 5.2;
            let middle = f64::midpoint(top, bottom) + 0.4;
            let at = |x: f64, y: f64| Place {
                along: start - 5.8 + y * size,
                across: middle - x * size,
            };
            let chance = |number: i64| noise.cell(i64::from(sign), number);
            let bars = 2 + (chance(0) * 3.0) as i64;
            for bar in 0..bars {
                let y =
                    0.85 - 1.6 * bar as f64 / (bars - 1) as f64 + 0.15 * (chance(10 + bar) - 0.5);
                let (left, right) = (0.35 + 0.6 * chance(20 + bar), 0.35 + 0.6 * chance(25 + bar));
                lines.push(vec![at(-left, y), at(right, y + 0.10)]);
            }
            let post = 0.9 * (chance(30) - 0.5);
            lines.push(vec![
                at(post, 0.95),
                at(post - 0.05, 0.1 - 1.05 * chance(31)),
            ]);
            match (chance(32) * 4.0) as i64 {
                0 => lines.push(vec![at(post, 0.2), at(post - 0.35, -0.4), at(-0.9, -0.95)]),
                1 => lines.push(vec![
                    at(-0.85, 0.6),
                    at(-0.85, -0.9),
                    at(0.85, -0.9),
                    at(0.85, 0.6),
                ]),
                2 => lines.push(vec![at(-0.75, 0.9), at(-0.8, -0.2), at(-0.95, -0.9)]),
                _ => lines.push(vec![at(0.7, 0.9), at(0.75, -0.7), at(0.45, -0.95)]),
            }
            if chance(33) > 0.4 {
                lines.push(vec![
                    at(post + 0.1, 0.0),
                    at(post + 0.45, -0.55),
                    at(0.95, -0.9),
                ]);
            }
        }
        self.strokes(blade, &lines, 0.95)
    }

    /// A maker's mark pressed into the tang: a running hare in a frame, invented.
    fn stamp_mask(&self, blade: &Blade) -> Result<Mask, PhotoError> {
        const FRAME: &[(f64, f64)] = &[
            (-6.4, -3.2),
            (-5.6, -4.0),
            (5.6, -4.0),
            (6.4, -3.2),
            (6.4, 3.2),
            (5.6, 4.0),
            (-5.6, 4.0),
            (-6.4, 3.2),
            (-6.4, -3.2),
        ];
        const BODY: &[(f64, f64)] = &[
            (-3.6, 0.2),
            (-2.6, -1.1),
            (-0.6, -1.2),
            (1.2, -0.6),
            (2.6, -1.2),
            (3.9, -0.9),
            (4.2, -0.3),
            (3.2, 0.0),
        ];
        const BELLY: &[(f64, f64)] =
            &[(-3.6, 0.2), (-1.6, 0.4), (0.6, 0.6), (2.4, 0.2), (3.2, 0.0)];
        const LEGS: &[&[(f64, f64)]] = &[
            &[(2.2, 0.3), (3.6, 1.4), (5.0, 1.5)],
            &[(1.2, 0.5), (2.4, 1.7), (3.8, 2.0)],
            &[(-2.6, 0.3), (-3.6, 1.3), (-5.2, 1.4)],
            &[(-2.0, 0.4), (-2.6, 1.7), (-4.2, 2.1)],
        ];
        const EARS: &[&[(f64, f64)]] = &[&[(2.7, -1.2), (1.2, -2.6)], &[(3.0, -1.3), (1.9, -2.9)]];
        let Some((middle, (top, bottom))) = blade
            .tang
            .stamp
            .and_then(|from_notch| Some((-from_notch, blade.span(-from_notch)?)))
        else {
            return self.mask();
        };
        let across = f64::midpoint(top, bottom);
        let lines: Vec<Vec<Place>> = [FRAME, BODY, BELLY]
            .iter()
            .chain(LEGS)
            .chain(EARS)
            .map(|line| {
                line.iter()
                    .map(|&(x, y)| Place {
                        along: middle + x,
                        across: across + y,
                    })
                    .collect()
            })
            .collect();
        self.strokes(blade, &lines, 0.55)
    }

    /// A plate with alternating blocks of 10 mm, and ticks of 1 mm where pixels allow it.
    pub(super) fn scale_bar(&self) -> Result<Pixmap, PhotoError> {
        let mut pixmap = self.blank()?;
        let per_mm = (1.0 / self.pixel) as f32;
        let length = f32::from(self.bar) * per_mm;
        let top = f32::from(self.size.1) - BAR_MARGIN - BAR_HEIGHT;
        let mut fill = |x: f32, y: f32, w: f32, h: f32, level: u8| {
            let mut paint = Paint::default();
            paint.set_color_rgba8(level, level, level.saturating_sub(6), 255);
            if let Some(rect) = Rect::from_xywh(x, y, w, h) {
                let path = PathBuilder::from_rect(rect);
                pixmap.fill_path(
                    &path,
                    &paint,
                    FillRule::Winding,
                    Transform::identity(),
                    None,
                );
            }
        };
        fill(
            BAR_MARGIN - 9.0,
            top - 6.0,
            length + 18.0,
            BAR_HEIGHT + 12.0,
            208,
        );
        for block in 0..self.bar / 10 {
            let x = BAR_MARGIN + f32::from(block) * 10.0 * per_mm;
            let level = if block % 2 == 0 { 26 } else { 214 };
            fill(
                x,
                top + BAR_HEIGHT * 0.55,
                10.0 * per_mm,
                BAR_HEIGHT * 0.45,
                level,
            );
        }
        for millimetre in 0..=self.bar {
            let (height, drawn) = match millimetre {
                m if m % 50 == 0 => (0.50, true),
                m if m % 10 == 0 => (0.40, true),
                m if m % 5 == 0 => (0.28, per_mm >= 1.2),
                _ => (0.18, per_mm >= 4.0),
            };
            if drawn {
                let x = BAR_MARGIN + f32::from(millimetre) * per_mm;
                fill(
                    x - 0.6,
                    top + BAR_HEIGHT * (0.55 - height),
                    1.2,
                    BAR_HEIGHT * height,
                    30,
                );
            }
        }
        Ok(pixmap)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::demo;

    #[test]
    fn scale_bar_is_as_long_as_it_says() {
        for (_, shots) in demo::session() {
            for shot in shots {
                let bar = shot.scale_bar().unwrap();
                let row = u32::from(shot.size.1) - 30;
                // First and last pixel of the plate, which overhangs the blocks by 9 px on each side.
                let opaque: Vec<u32> = (0..bar.width())
                    .filter(|&x| bar.pixel(x, row).is_some_and(|p| p.alpha() > 127))
                    .collect();
                let found = f64::from(opaque.len() as u32) - 18.0;
                let wanted = f64::from(shot.bar) / shot.pixel;
                assert!(
                    (found - wanted).abs() <= 1.0,
                    "{}: {found} px for {wanted} px",
                    shot.file
                );
            }
        }
    }
}
