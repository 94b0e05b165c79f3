//! The five invented blades of the tour and the pictures taken of them.
//!
//! No real blade, maker or owner stands behind any of the numbers.

use super::blade::{Blade, Make, Place, Tang, Temper};
use super::camera::Beside;
use super::canvas::Shot;
use super::shade::Surface;

const AS_RECEIVED: Surface = Surface {
    rust: 0.80,
    polish: 0.12,
};
const WORN: Surface = Surface {
    rust: 0.22,
    polish: 0.55,
};
const POLISHED: Surface = Surface {
    rust: 0.0,
    polish: 1.0,
};
const OLD_POLISH: Surface = Surface {
    rust: 0.04,
    polish: 0.82,
};

#[cfg(test)]
pub(super) fn blades() -> Vec<Blade> {
    session().into_iter().map(|(blade, _)| blade).collect()
}

/// Each blade with its pictures.
pub(super) fn session() -> Vec<(Blade, Vec<Shot>)> {
    vec![reed(), gorge(), lantern(), heron(), dune()]
}

/// The whole blade, tang to the left, point to the right.
fn overall(
    blade: &Blade,
    file: &'static str,
    shows: &'static str,
    surface: Surface,
    height: u16,
) -> Shot {
    let whole = blade.length + blade.tang.length;
    Shot {
        file,
        shows,
        surface,
        centre: (
            blade.length - whole / 2.0,
            blade.widths.0 / 2.0 + blade.curvature * 0.25 + 0.030 * whole,
        ),
        pixel: whole / 1500.0,
        size: (1600, height),
        turn: 0.004,
        bar: 100,
        quality: 88,
        beside: Beside::Nothing,
    }
}

/// The tang from its end to a little above the notches.
fn tang(blade: &Blade, file: &'static str, surface: Surface) -> Shot {
    let shown = blade.tang.length + 46.0;
    let middle = Place {
        along: 16.0 - blade.tang.length / 2.0,
        across: blade.widths.0 / 2.0,
    };
    let (x, y) = blade.chord_frame(middle);
    Shot {
        file,
        shows: "tang",
        surface,
        centre: (x, y + 0.045 * shown),
        pixel: shown / 1160.0,
        size: (1200, 420),
        turn: -0.006,
        bar: 50,
        quality: 86,
        beside: Beside::Nothing,
    }
}

/// A stretch of about 56 mm around a station.
fn close_up(
    blade: &Blade,
    file: &'static str,
    shows: &'static str,
    surface: Surface,
    along: f64,
) -> Shot {
    let across = blade
        .span(along)
        .map_or(0.0, |(top, bottom)| top + 0.62 * (bottom - top));
    let (x, y) = blade.chord_frame(Place { along, across });
    Shot {
        file,
        shows,
        surface,
        centre: (x, y + 2.0),
        pixel: 0.055,
        size: (1024, 640),
        turn: 0.03,
        bar: 20,
        quality: 84,
        beside: Beside::Nothing,
    }
}

/// Sound ridged blade over two shaku, worked: rust before, polished after.
fn reed() -> (Blade, Vec<Shot>) {
    let blade = Blade {
        id: "reed",
        make: Make::Ridged(34),
        length: 698.0,
        curvature: 16.5,
        widths: (30.8, 21.6),
        point: 34.0,
        temper: Some(Temper {
            height: 7.6,
            wave: 4.2,
            period: 16.0,
        }),
        tang: Tang {
            length: 208.0,
            end_width: 15.0,
            notches: (1.6, 2.9),
            holes: vec![(58.0, 5.4)],
            file_marks: Some((1.25, 0.75)),
            gold_signs: 0,
            stamp: None,
        },
        crack: None,
        seed: 0x72ee_d001,
    };
    let shots = vec![
        Shot {
            beside: Beside::Camera,
            ..overall(
                &blade,
                "reed-before.jpg",
                "whole blade, before work",
                AS_RECEIVED,
                380,
            )
        },
        overall(
            &blade,
            "reed-after.jpg",
            "whole blade, after work",
            POLISHED,
            380,
        ),
        tang(&blade, "reed-tang.jpg", AS_RECEIVED),
        close_up(
            &blade,
            "reed-rust.jpg",
            "rust, before work",
            AS_RECEIVED,
            402.0,
        ),
        Shot {
            beside: Beside::Profile,
            ..close_up(
                &blade,
                "reed-temper.jpg",
                "temper line at the same place, after work",
                POLISHED,
                402.0,
            )
        },
    ];
    (blade, shots)
}

/// Ridged blade between one and two shaku with a crack through the edge.
fn gorge() -> (Blade, Vec<Shot>) {
    let blade = Blade {
        id: "gorge",
        make: Make::Ridged(36),
        length: 462.0,
        curvature: 9.0,
        widths: (28.4, 20.2),
        point: 29.0,
        temper: Some(Temper {
            height: 6.2,
            wave: 0.0,
            period: 40.0,
        }),
        tang: Tang {
            length: 132.0,
            end_width: 14.0,
            notches: (2.4, 2.8),
            holes: vec![(46.0, 5.0), (78.0, 5.8)],
            file_marks: Some((1.1, 0.25)),
            gold_signs: 0,
            stamp: None,
        },
        crack: Some((287.0, 6.8)),
        seed: 0x6072_6e02,
    };
    let shots = vec![
        overall(
            &blade,
            "gorge-before.jpg",
            "whole blade, as received",
            WORN,
            380,
        ),
        tang(&blade, "gorge-tang.jpg", WORN),
        Shot {
            beside: Beside::Camera,
            ..close_up(
                &blade,
                "gorge-crack.jpg",
                "crack through the edge at 287 mm",
                WORN,
                287.0,
            )
        },
    ];
    (blade, shots)
}

/// Curved blade over two shaku with gold signs let into the tang.
fn lantern() -> (Blade, Vec<Shot>) {
    let blade = Blade {
        id: "lantern",
        make: Make::Ridged(35),
        length: 705.0,
        curvature: 22.0,
        widths: (28.9, 18.6),
        point: 26.0,
        temper: Some(Temper {
            height: 6.4,
            wave: 2.0,
            period: 11.0,
        }),
        tang: Tang {
            length: 176.0,
            end_width: 16.5,
            notches: (2.2, 2.4),
            holes: vec![(24.0, 5.2), (124.0, 5.6)],
            file_marks: Some((1.3, 0.0)),
            gold_signs: 5,
            stamp: None,
        },
        crack: None,
        seed: 0x1a47_e503,
    };
    let shots = vec![
        overall(
            &blade,
            "lantern-before.jpg",
            "whole blade, as received",
            OLD_POLISH,
            380,
        ),
        tang(&blade, "lantern-tang.jpg", OLD_POLISH),
    ];
    (blade, shots)
}

/// Straight spear head with a long tang.
fn heron() -> (Blade, Vec<Shot>) {
    let blade = Blade {
        id: "heron",
        make: Make::Spear,
        length: 148.0,
        curvature: 0.0,
        widths: (19.5, 18.6),
        point: 62.0,
        temper: Some(Temper {
            height: 3.6,
            wave: 0.0,
            period: 30.0,
        }),
        tang: Tang {
            length: 212.0,
            end_width: 6.5,
            notches: (4.0, 4.0),
            holes: vec![(112.0, 3.6)],
            file_marks: Some((1.0, 0.0)),
            gold_signs: 0,
            stamp: None,
        },
        crack: None,
        seed: 0x4e70_4404,
    };
    let shots = vec![
        overall(
            &blade,
            "heron-before.jpg",
            "whole spear head, as received",
            WORN,
            360,
        ),
        tang(&blade, "heron-tang.jpg", WORN),
    ];
    (blade, shots)
}

/// Sabre hardened right through, from elsewhere: no temper line to see.
fn dune() -> (Blade, Vec<Shot>) {
    let blade = Blade {
        id: "dune",
        make: Make::Fullered,
        length: 792.0,
        curvature: 58.0,
        widths: (33.0, 22.0),
        point: 96.0,
        temper: None,
        tang: Tang {
            length: 128.0,
            end_width: 13.0,
            notches: (6.0, 7.0),
            holes: vec![(96.0, 6.5)],
            file_marks: None,
            gold_signs: 0,
            stamp: Some(38.0),
        },
        crack: None,
        seed: 0xd04e_0005,
    };
    let shots = vec![
        overall(
            &blade,
            "dune-before.jpg",
            "whole blade, as received",
            WORN,
            460,
        ),
        // Turned so that the strongly curved tang lies level.
        Shot {
            turn: -0.135,
            ..tang(&blade, "dune-tang.jpg", WORN)
        },
    ];
    (blade, shots)
}
