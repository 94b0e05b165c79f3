//! From a shot to JPEG bytes: shading, soft shadow, lens, grain, encoding.

use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

use super::PhotoError;
use super::blade::{Blade, Place};
use super::camera::Beside;
use super::marks::Marked;
use super::noise::{Noise, blend, bump, step};
use super::shade::{self, Colour, Surface};

/// One picture to take.
#[derive(Debug, Clone)]
pub(super) struct Shot {
    pub(super) file: &'static str,
    pub(super) shows: &'static str,
    pub(super) surface: Surface,
    /// Middle of the picture in the frame of the chord, mm.
    pub(super) centre: (f64, f64),
    /// Size of one pixel, mm.
    pub(super) pixel: f64,
    pub(super) size: (u16, u16),
    /// Half-angle tangent by which the blade is turned in the picture.
    pub(super) turn: f64,
    /// Length of the scale bar, mm, a multiple of 10.
    pub(super) bar: u16,
    pub(super) quality: u8,
    /// What stands in the file beside the picture.
    pub(super) beside: Beside,
}

impl Shot {
    /// Chord-frame millimetres of the middle of a pixel.
    fn to_chord(&self, column: f64, row: f64) -> (f64, f64) {
        let x = (column + 0.5 - f64::from(self.size.0) / 2.0) * self.pixel;
        let y = (row + 0.5 - f64::from(self.size.1) / 2.0) * self.pixel;
        let (sine, cosine) = self.rotation();
        (
            self.centre.0 + cosine * x + sine * y,
            self.centre.1 - sine * x + cosine * y,
        )
    }

    /// Pixel coordinates of a chord-frame place.
    pub(super) fn to_pixels(&self, (x, y): (f64, f64)) -> (f32, f32) {
        let (sine, cosine) = self.rotation();
        let (dx, dy) = (
            (x - self.centre.0) / self.pixel,
            (y - self.centre.1) / self.pixel,
        );
        let column = cosine * dx - sine * dy + f64::from(self.size.0) / 2.0;
        let row = sine * dx + cosine * dy + f64::from(self.size.1) / 2.0;
        (column as f32, row as f32)
    }

    /// Sine and cosine without trigonometry: t is the tangent of half the angle.
    fn rotation(&self) -> (f64, f64) {
        let square = self.turn * self.turn;
        (
            2.0 * self.turn / (1.0 + square),
            (1.0 - square) / (1.0 + square),
        )
    }

    /// Takes the picture: baseline JPEG, the same bytes each time.
    pub(super) fn take(&self, blade: &Blade) -> Result<Vec<u8>, PhotoError> {
        let (width, height) = (usize::from(self.size.0), usize::from(self.size.1));
        let noise = Noise::new(blade.seed).layer(u64::from(self.size.1) + self.shows.len() as u64);
        let bar = self.scale_bar()?;
        let marks = self.marks(blade)?;

        let mut cover = Vec::with_capacity(width * height);
        for index in 0..width * height {
            let (x, y) = self.to_chord((index % width) as f64, (index / width) as f64);
            cover.push(self.coverage(blade, blade.place(x, y)));
        }
        let solid: Vec<f64> = cover
            .iter()
            .zip(bar.pixels())
            .map(|(&part, bar)| part.max(f64::from(bar.alpha()) / 255.0))
            .collect();
        let shadow = soften(
            &solid,
            width,
            height,
            (5.5 / self.pixel).clamp(5.0, 30.0) as usize,
        );

        let mut picture = Vec::with_capacity(width * height);
        for (index, &steel_part) in cover.iter().enumerate() {
            let (column, row) = (index % width, index / width);
            let (u, v) = (column as f64, row as f64);
            let lift = ((2.2 / self.pixel).clamp(2.0, 14.0)) as usize;
            let under = shadow[row.saturating_sub(lift) * width + column.saturating_sub(lift / 2)];
            let mut colour = shade::scale(shade::cloth(noise, u, v), 1.0 - 0.80 * under);
            if steel_part > 0.0 {
                let (x, y) = self.to_chord(u, v);
                let place = blade.place(x, y);
                let steel = self.steel(blade, place, &marks.at(index));
                colour = shade::mix(colour, steel, steel_part);
            }
            let mark = bar.pixels()[index].demultiply();
            let flat =
                [mark.red(), mark.green(), mark.blue()].map(|value| f64::from(value) / 255.0);
            colour = shade::mix(colour, flat, f64::from(mark.alpha()) / 255.0);
            // Light falls off from the upper left, a little more towards the corners.
            let (a, b) = (u / width as f64 - 0.42, v / height as f64 - 0.36);
            picture.push(shade::scale(colour, 1.17 - 0.30 * (a * a + b * b)));
        }
        self.encode(&lens(&picture, width, height), noise)
    }

    /// How much of the pixel is steel.
    fn coverage(&self, blade: &Blade, place: Place) -> f64 {
        let Some((top, bottom)) = blade.span(place.along) else {
            return 0.0;
        };
        let inside = (place.across - top).min(bottom - place.across) / self.pixel + 0.5;
        let mut part = inside.clamp(0.0, 1.0);
        if place.along < 0.0 {
            let middle = f64::midpoint(top, bottom);
            for &(from_notch, diameter) in &blade.tang.holes {
                let (dx, dy) = (place.along + from_notch, place.across - middle);
                let beyond = ((dx * dx + dy * dy).sqrt() - diameter / 2.0) / self.pixel + 0.5;
                part = part.min(beyond.clamp(0.0, 1.0));
            }
        }
        part
    }

    fn steel(&self, blade: &Blade, place: Place, marks: &Marked) -> Colour {
        let Some(span) = blade.span(place.along) else {
            return [0.0; 3];
        };
        let bright = || shade::blade_steel(blade, self.surface, place, span, self.pixel);
        let dark = || shade::tang_steel(blade, place, span, self.pixel);
        // Bright steel passes into the tang's patina over the last millimetres above the notches.
        let border = step(-1.5, 4.0, place.along);
        let mut colour = if border >= 1.0 {
            bright()
        } else if border <= 0.0 {
            dark()
        } else {
            shade::mix(dark(), bright(), border)
        };
        let middle = f64::midpoint(span.0, span.1);
        for &(from_notch, diameter) in &blade.tang.holes {
            let (dx, dy) = (place.along + from_notch, place.across - middle);
            let rim = (dx * dx + dy * dy).sqrt() - diameter / 2.0;
            let lit = 0.16
                * bump(rim - 0.3, 0.4_f64.max(self.pixel))
                * (dy / diameter * 1.6).clamp(-1.0, 1.0);
            colour = colour.map(|value| value + lit);
        }
        colour = shade::scale(colour, 1.0 - 0.62 * marks.stamp);
        if marks.gold > 0.0 {
            let noise = Noise::new(blade.seed).layer(30);
            let rub = noise.layered(place.along / 1.3, place.across / 1.3, 3);
            let leaf = shade::scale([0.86, 0.66, 0.27], 0.70 + 0.55 * rub);
            colour = shade::mix(
                colour,
                leaf,
                marks.gold * (0.78 + 0.22 * step(0.25, 0.4, rub)),
            );
        }
        shade::mix(colour, [0.035, 0.032, 0.03], marks.crack * 0.92)
    }

    fn encode(&self, picture: &[Colour], noise: Noise) -> Result<Vec<u8>, PhotoError> {
        let width = usize::from(self.size.0);
        let mut bytes = Vec::with_capacity(picture.len() * 3);
        let grain = noise.layer(50);
        for (index, colour) in picture.iter().enumerate() {
            let (column, row) = ((index % width) as i64, (index / width) as i64);
            let level = (colour[0] + colour[1] + colour[2]) / 3.0;
            let speck = grain.deviate(column, row) * blend(0.0075, 0.011, level.clamp(0.0, 1.0));
            let tint = grain.layer(1).deviate(column / 2, row / 2) * 0.003;
            for value in [
                colour[0] + speck + tint,
                colour[1] + speck,
                colour[2] + speck - tint,
            ] {
                bytes.push((value.clamp(0.0, 1.0) * 255.0).round() as u8);
            }
        }
        let mut jpeg = Vec::new();
        let mut encoder = Encoder::new(&mut jpeg, self.quality);
        encoder.set_sampling_factor(SamplingFactor::F_2_2);
        encoder.set_optimized_huffman_tables(true);
        let fault = |source| PhotoError::Encode {
            file: self.file,
            source,
        };
        encoder
            .encode(&bytes, self.size.0, self.size.1, ColorType::Rgb)
            .map_err(fault)?;
        self.beside.put(jpeg, &bytes, self.size).map_err(fault)
    }
}

/// The lens: a little light of each pixel reaches its neighbours.
fn lens(picture: &[Colour], width: usize, height: usize) -> Vec<Colour> {
    let mut out = Vec::with_capacity(picture.len());
    for row in 0..height {
        for column in 0..width {
            let mut sum = [0.0; 3];
            for (dy, vertical) in [(0, 1.0), (1, 4.0), (2, 1.0)] {
                for (dx, horizontal) in [(0, 1.0), (1, 4.0), (2, 1.0)] {
                    let y = (row + dy).saturating_sub(1).min(height - 1);
                    let x = (column + dx).saturating_sub(1).min(width - 1);
                    let weight = vertical * horizontal / 36.0;
                    for (total, value) in sum.iter_mut().zip(picture[y * width + x]) {
                        *total += weight * value;
                    }
                }
            }
            out.push(sum);
        }
    }
    out
}

/// Three passes of a running mean in both directions: nearly a Gaussian.
fn soften(values: &[f64], width: usize, height: usize, radius: usize) -> Vec<f64> {
    let mut current = values.to_vec();
    for _ in 0..3 {
        let mut next = vec![0.0; current.len()];
        for row in 0..height {
            running_mean(&current, &mut next, row * width, 1, width, radius);
        }
        for column in 0..width {
            running_mean(&next, &mut current, column, width, height, radius);
        }
    }
    current
}

fn running_mean(
    from: &[f64],
    to: &mut [f64],
    start: usize,
    stride: usize,
    count: usize,
    radius: usize,
) {
    let at =
        |index: isize| from[start + index.clamp(0, count as isize - 1).cast_unsigned() * stride];
    let reach = radius as isize;
    let mut sum: f64 = (-reach..=reach).map(at).sum();
    for index in 0..count as isize {
        to[start + index.cast_unsigned() * stride] = (sum / (2 * radius + 1) as f64).max(0.0);
        sum += at(index + reach + 1) - at(index - reach);
    }
}

#[cfg(test)]
mod tests {
    use super::super::demo;

    #[test]
    fn pixels_and_millimetres_agree() {
        for (_, shots) in demo::session() {
            for shot in shots {
                let (x, y) = shot.to_chord(99.5, 49.5);
                let (column, row) = shot.to_pixels((x, y));
                assert!(
                    (column - 100.0).abs() < 1e-3 && (row - 50.0).abs() < 1e-3,
                    "{}: {column} {row}",
                    shot.file
                );
            }
        }
    }
}
