//! Colour of cloth and steel at one place, in display values 0..1.

use super::blade::{Blade, Make, Place};
use super::noise::{Noise, blend, bump, step};

/// Red, green, blue.
pub(super) type Colour = [f64; 3];

/// How the steel looks when the picture is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Surface {
    /// 0 clean … 1 heavy red rust.
    pub(super) rust: f64,
    /// 0 dull, scratched … 1 freshly polished.
    pub(super) polish: f64,
}

pub(super) fn mix(from: Colour, to: Colour, part: f64) -> Colour {
    [
        blend(from[0], to[0], part),
        blend(from[1], to[1], part),
        blend(from[2], to[2], part),
    ]
}

pub(super) fn scale(colour: Colour, factor: f64) -> Colour {
    colour.map(|value| value * factor)
}

/// Dark woven cloth; `x`, `y` in pixels.
pub(super) fn cloth(noise: Noise, x: f64, y: f64) -> Colour {
    let folds = noise.layer(1).layered(x / 420.0, y / 300.0, 3) - 0.5;
    let slub = noise.layer(2).layered(x / 46.0, y / 5.0, 2)
        + noise.layer(3).layered(x / 5.0, y / 46.0, 2)
        - 1.0;
    let level = 0.13 + 0.055 * folds + 0.030 * slub;
    [level * 0.86, level * 0.92, level * 1.12]
}

/// Light from a long soft lamp: how bright a facet of this tilt looks at this station.
fn lamp(tilt: f64, along: f64, length: f64, drift: f64) -> f64 {
    let reach = along / length;
    // The lamp's picture wanders along the blade as the surface turns away from it.
    let centre = 0.10 + 0.16 * (reach - 0.45) + 0.05 * drift;
    0.17 + 0.36 * bump(tilt - centre, 0.15) + 0.12 * bump(tilt + 0.22 - 0.1 * reach, 0.12)
}

/// Steel of the blade at a place inside its outline. `pixel` is the size of one pixel in mm.
pub(super) fn blade_steel(
    blade: &Blade,
    surface: Surface,
    place: Place,
    span: (f64, f64),
    pixel: f64,
) -> Colour {
    let noise = Noise::new(blade.seed);
    let (along, across) = (place.along, place.across);
    let (top, bottom) = span;
    let width = (bottom - top).max(0.01);
    let share = (across - top) / width;
    let drift = noise.layer(5).smooth(along / 90.0, 0.0) - 0.5;

    let (tilt, facet) = facet(blade, along, across, span);
    // Grain of the steel: long wandering streaks, like wood.
    let warp = noise.layer(6).layered(along / 14.0, across / 5.0, 3) * 5.0;
    let grain = noise
        .layer(7)
        .layered(along / 7.5, (across + warp) / 0.9, 3)
        - 0.5;
    let scratches = noise
        .layer(8)
        .smooth(along / 22.0, across / pixel.max(0.12))
        - 0.5;
    let mut level = lamp(tilt + 0.03 * drift, along, blade.length, drift);
    level += 0.07 * grain * surface.polish * facet.grain;
    level = blend(
        0.33 + 0.30 * (level - 0.33) + 0.10 * scratches,
        level,
        surface.polish,
    );
    level *= facet.level;

    if let Some(height) = blade.temper_height(along) {
        let over_edge = bottom - across;
        let mist = 0.45 + 0.25 * noise.layer(9).smooth(along / 1.7, across / 1.2);
        let inside = step(-mist, mist, height - over_edge);
        let line = bump(over_edge - height, 0.55_f64.max(pixel * 0.9));
        let shown = 0.10 + 0.90 * surface.polish;
        level += shown
            * (0.15 * inside
                + 0.12 * line
                + 0.06 * inside * (noise.layer(10).smooth(along / 2.6, over_edge / 1.1) - 0.5));
    }
    // Ridge, back and edge catch the light as thin lines.
    let thin = 0.28_f64.max(pixel * 0.75);
    if let Some(ridge) = blade.ridge(along) {
        level += (0.10 + 0.12 * surface.polish) * bump(across - ridge, thin);
    }
    if let Make::Ridged(_) = blade.make {
        let start = blade.length - blade.point;
        if across > blade.ridge(along).unwrap_or(0.0) {
            level += 0.16 * surface.polish * bump(along - start, thin);
        }
    }
    if blade.make != Make::Spear {
        level += 0.22 * bump(across - top - 0.35, 0.40_f64.max(pixel * 0.8));
    }
    level += 0.16 * surface.polish * bump(bottom - across, 0.22_f64.max(pixel * 0.7));
    level += 0.02 * (share - 0.5);

    let steel = [level * 0.985, level, level * 1.025];
    rusted(steel, noise, surface.rust, along, across, share)
}

struct Facet {
    level: f64,
    grain: f64,
}

/// Tilt of the surface towards the lamp, and how the facet is finished.
fn facet(blade: &Blade, along: f64, across: f64, (top, bottom): (f64, f64)) -> (f64, Facet) {
    let width = (bottom - top).max(0.01);
    let share = (across - top) / width;
    let ground = Facet {
        level: 1.0,
        grain: 1.0,
    };
    match blade.make {
        Make::Ridged(_) => {
            let ridge = blade.ridge(along).unwrap_or(top);
            let in_point = along > blade.length - blade.point;
            if across < ridge {
                // The burnished side flat is dark but for the lamp.
                (
                    -0.07 + 0.05 * share,
                    Facet {
                        level: 0.80,
                        grain: 0.25,
                    },
                )
            } else {
                let part = (across - ridge) / (bottom - ridge).max(0.01);
                let turn = if in_point { 0.09 } else { 0.0 };
                (0.02 + 0.09 * part + turn, ground)
            }
        }
        Make::Spear => {
            let away = (share - 0.5) * 2.0;
            (
                if away < 0.0 { -0.12 } else { 0.13 } + 0.05 * away,
                Facet {
                    level: 1.0,
                    grain: 0.6,
                },
            )
        }
        Make::Fullered => {
            let fullered =
                step(0.0, 6.0, along - 18.0) * (1.0 - step(0.62, 0.72, along / blade.length));
            let groove = (share - 0.36) / 0.22;
            if groove.abs() < 1.0 {
                (
                    blend(-0.02, 0.30 * groove, fullered),
                    Facet {
                        level: 1.0,
                        grain: 0.1,
                    },
                )
            } else {
                (
                    -0.02 + 0.20 * (share - 0.4),
                    Facet {
                        level: 1.0,
                        grain: 0.1,
                    },
                )
            }
        }
    }
}

fn rusted(steel: Colour, noise: Noise, amount: f64, along: f64, across: f64, share: f64) -> Colour {
    if amount <= 0.0 {
        return steel;
    }
    let islands = noise.layer(11).layered(along / 30.0, across / 15.0, 7);
    let clusters = noise.layer(12).layered(along / 140.0, 0.5, 2);
    let limit = 0.70 - 0.27 * amount * (0.45 + clusters * 0.9) - 0.04 * share;
    let cover = step(limit - 0.02, limit + 0.05, islands);
    let mottle = noise.layer(13).layered(along / 2.4, across / 2.4, 5);
    let red = mix(
        [0.16, 0.085, 0.05],
        [0.47, 0.285, 0.165],
        step(0.2, 0.8, mottle),
    );
    let mut colour = mix(steel, red, cover * (0.75 + 0.25 * mottle));
    // A brown veil around the spots, and pits inside them.
    let veil = step(limit - 0.16, limit, islands) * 0.35;
    colour = mix(colour, [0.33, 0.24, 0.17], veil * (1.0 - cover));
    let pits = noise.layer(14).layered(along / 1.1, across / 1.1, 4);
    mix(
        colour,
        [0.085, 0.055, 0.045],
        0.85 * cover * step(0.60, 0.74, pits),
    )
}

/// The tang: dark, even patina with file marks. It is never cleaned.
pub(super) fn tang_steel(blade: &Blade, place: Place, span: (f64, f64), pixel: f64) -> Colour {
    let noise = Noise::new(blade.seed).layer(20);
    let (along, across) = (place.along, place.across);
    let (top, bottom) = span;
    let patches = noise.layered(along / 26.0, across / 14.0, 4) - 0.5;
    let speckle = noise.layer(1).layered(along / 1.1, across / 1.1, 2) - 0.5;
    let share = (across - top) / (bottom - top).max(0.01);
    let mut level = 0.19 + 0.08 * bump(share - 0.36, 0.35) + 0.15 * patches + 0.06 * speckle;
    if let Some((spacing, slope)) = blade.tang.file_marks {
        let phase = (along - across * slope) / spacing
            + 0.16 * noise.layer(2).smooth(along / 9.0, across / 9.0);
        let part = phase - phase.floor();
        // Too fine for this picture's pixels: let the marks fade instead of beating.
        let visible = step(1.6, 3.2, spacing / pixel);
        let worn = 0.55 + 0.45 * noise.layer(3).layered(along / 30.0, across / 12.0, 2);
        level +=
            visible * worn * (0.060 * bump(part - 0.35, 0.16) - 0.060 * bump(part - 0.65, 0.15));
    }
    level += 0.10 * bump(across - top - 0.4, 0.5_f64.max(pixel))
        - 0.06 * bump(bottom - across, 0.6_f64.max(pixel));
    let warm = noise.layer(4).layered(along / 40.0, across / 30.0, 2);
    [
        level * (1.02 + 0.14 * warm),
        level * (0.93 + 0.03 * warm),
        level * (0.87 - 0.08 * warm),
    ]
}
