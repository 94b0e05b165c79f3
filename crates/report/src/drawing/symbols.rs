//! Signs for flaws, made for this report: told apart by form alone, so that they read in black and white.

use tangmark_core::record::{FlawKind, Standing};

use super::{filled, stroked};
use crate::{
    layout::style::INK,
    scene::{Colour, Draw, Path, Stroke},
    speech::{Pair, pair},
};

/// How far a sign may reach to the left and to the right, mm.
pub(super) const REACH: f64 = 1.6;

/// Family of flaws that share a sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Sign {
    Crack,
    Opening,
    Chip,
    Blister,
    Surface,
    ActiveRust,
    Pits,
    Temper,
    Form,
    Plug,
    Other,
}

impl Sign {
    /// The sign of a kind of flaw.
    pub(crate) const fn of(kind: FlawKind) -> Self {
        use FlawKind as K;
        match kind {
            K::Hagire | K::Karasunokuchi | K::Hagarami | K::TsukiNoWa | K::Mikazuki | K::Crack => {
                Self::Crack
            }
            K::Ware
            | K::HadaWare
            | K::KitaeWare
            | K::TateWare
            | K::MuneWare
            | K::ShinogiWare
            | K::HaWare
            | K::Delamination => Self::Opening,
            K::Hakobore | K::KissakiBroken | K::Kirikomi | K::NotchWorn | K::GeometryLost => {
                Self::Chip
            }
            K::Fukure | K::FukureYabure => Self::Blister,
            K::JiAre
            | K::Shingane
            | K::Tsukare
            | K::HaJimi
            | K::Shimi
            | K::SabiStable
            | K::Scratches => Self::Surface,
            K::SabiActive => Self::ActiveRust,
            K::Pits => Self::Pits,
            K::BoshiNone | K::NioiGire | K::Saiha | K::Yakemi | K::KakeDashi | K::YakibaKuzure => {
                Self::Temper
            }
            K::Shinae | K::Magari | K::Nejire => Self::Form,
            K::Umegane => Self::Plug,
            K::Other => Self::Other,
        }
    }

    /// What the sign stands for, in the key of the map.
    pub(crate) fn meaning(self) -> Pair {
        match self {
            Self::Crack => pair("crack", "亀裂"),
            Self::Opening => pair("opening along a weld", "割れ"),
            Self::Chip => pair("chip, cut or lost form", "刃毀れ・切込み・形崩れ"),
            Self::Blister => pair("blister", "膨れ"),
            Self::Surface => pair("patch of the surface", "肌の荒れ・染み"),
            Self::ActiveRust => pair("active rust", "赤錆（進行性）"),
            Self::Pits => pair("pits", "朽込み"),
            Self::Temper => pair("fault of the temper", "焼刃の欠点"),
            Self::Form => pair("bend, twist or ripple", "曲り・捩れ・撓え"),
            Self::Plug => pair("let-in steel", "埋鉄"),
            Self::Other => pair("other", "その他"),
        }
    }

    /// Draws the sign with its middle at (x, y), about 2.4 mm across. What is only suspected is drawn
    /// with broken lines, what was ruled out with a line through it.
    pub(crate) fn draw(self, x: f64, y: f64, standing: Standing) -> Vec<Draw> {
        let suspected = standing == Standing::Suspected;
        let stroke = if suspected {
            Stroke::dashed(INK, 0.22, 0.45, 0.3)
        } else {
            Stroke::solid(INK, 0.28)
        };
        let mut draws = Vec::new();
        let outlined = |draws: &mut Vec<Draw>, path: Path| {
            draws.push(filled(path.clone(), Colour::WHITE));
            draws.push(stroked(path, stroke.clone()));
        };
        match self {
            Self::Crack => {
                let zigzag = Path::open([
                    [x + 0.5, y - 1.3],
                    [x - 0.55, y - 0.2],
                    [x + 0.55, y + 0.2],
                    [x - 0.5, y + 1.3],
                ]);
                // A white border keeps the line apart from lines of the drawing.
                draws.push(stroked(zigzag.clone(), Stroke::solid(Colour::WHITE, 1.0)));
                let line = if suspected {
                    Stroke::dashed(INK, 0.4, 0.6, 0.35)
                } else {
                    Stroke::solid(INK, 0.45)
                };
                draws.push(stroked(zigzag, line));
            }
            Self::Opening => outlined(&mut draws, lens(x, y)),
            Self::Chip => {
                let triangle =
                    Path::polygon([[x - 1.15, y - 0.95], [x + 1.15, y - 0.95], [x, y + 1.05]]);
                if suspected {
                    outlined(&mut draws, triangle);
                } else {
                    draws.push(filled(triangle, INK));
                }
            }
            Self::Blister => {
                outlined(&mut draws, Path::circle(x, y, 1.1));
                draws.push(filled(Path::circle(x, y, 0.35), INK));
            }
            Self::Surface => outlined(&mut draws, square(x, y, 1.0)),
            Self::ActiveRust => {
                if suspected {
                    outlined(&mut draws, square(x, y, 1.0));
                    draws.push(filled(square(x, y, 0.45), INK));
                } else {
                    draws.push(filled(square(x, y, 1.05), INK));
                }
            }
            Self::Pits => {
                outlined(&mut draws, square(x, y, 1.1));
                for (dx, dy) in [
                    (-0.45, -0.45),
                    (0.45, -0.45),
                    (0.0, 0.05),
                    (-0.45, 0.5),
                    (0.45, 0.5),
                ] {
                    draws.push(filled(Path::circle(x + dx, y + dy, 0.2), INK));
                }
            }
            Self::Temper => outlined(
                &mut draws,
                Path::polygon([[x, y - 1.3], [x + 1.1, y], [x, y + 1.3], [x - 1.1, y]]),
            ),
            Self::Form => {
                let wave = Path {
                    segments: wave(x, y),
                };
                draws.push(stroked(wave.clone(), Stroke::solid(Colour::WHITE, 1.0)));
                draws.push(stroked(wave, stroke.clone()));
            }
            Self::Plug => {
                outlined(&mut draws, square(x, y, 1.1));
                draws.push(stroked(square(x, y, 0.5), Stroke::solid(INK, 0.22)));
            }
            Self::Other => {
                outlined(&mut draws, Path::circle(x, y, 1.1));
                draws.push(stroked(
                    Path::line(x - 0.6, y, x + 0.6, y),
                    Stroke::solid(INK, 0.22),
                ));
                draws.push(stroked(
                    Path::line(x, y - 0.6, x, y + 0.6),
                    Stroke::solid(INK, 0.22),
                ));
            }
        }
        if standing == Standing::RuledOut {
            draws.push(stroked(
                Path::line(x - REACH, y + 1.3, x + REACH, y - 1.3),
                Stroke::solid(INK, 0.3),
            ));
        }
        draws
    }
}

fn square(x: f64, y: f64, half: f64) -> Path {
    Path::rectangle(x - half, y - half, 2.0 * half, 2.0 * half)
}

fn lens(x: f64, y: f64) -> Path {
    use crate::scene::Segment::{Close, Curve, Move};
    let (left, right) = ([x - 1.5, y], [x + 1.5, y]);
    let bow = |side: f64, dy: f64| [x + side * 0.6, y + dy];
    let segments = vec![
        Move(left),
        Curve(bow(-1.0, -1.0), bow(1.0, -1.0), right),
        Curve(bow(1.0, 1.0), bow(-1.0, 1.0), left),
        Close,
    ];
    Path { segments }
}

fn wave(x: f64, y: f64) -> Vec<crate::scene::Segment> {
    use crate::scene::Segment::{Curve, Move};
    vec![
        Move([x - 1.5, y]),
        Curve([x - 1.1, y - 1.2], [x - 0.4, y - 1.2], [x, y]),
        Curve([x + 0.4, y + 1.2], [x + 1.1, y + 1.2], [x + 1.5, y]),
    ]
}

#[cfg(test)]
mod tests {
    use super::{super::extent, *};
    use tangmark_core::record::Term as _;

    #[test]
    fn signs_differ_by_form_and_by_standing() {
        let mut seen: Vec<(Sign, Vec<Draw>)> = Vec::new();
        for kind in FlawKind::ALL {
            let sign = Sign::of(*kind);
            let draws = sign.draw(0.0, 0.0, Standing::Confirmed);
            assert_ne!(draws, sign.draw(0.0, 0.0, Standing::Suspected), "{sign:?}");
            assert_ne!(draws, sign.draw(0.0, 0.0, Standing::RuledOut), "{sign:?}");
            for (other, known) in &seen {
                assert_eq!(*other == sign, *known == draws, "{sign:?} {other:?}");
            }
            let ruled_out = sign.draw(0.0, 0.0, Standing::RuledOut);
            for [left, _, right, _] in ruled_out.iter().filter_map(extent) {
                assert!(left >= -REACH && right <= REACH, "{sign:?}");
            }
            seen.push((sign, draws));
        }
    }
}
