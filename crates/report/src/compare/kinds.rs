//! What the comparison knows of kinds of flaws: which part must be looked at, how they are seen, what hides them, what
//! makes them.
//!
//! All of it is common practice, no source.

use tangmark_core::record::{FlawKind, Part, SightingMethod, SurfaceGrade, Zone};

/// The part to which a zone belongs.
const fn part_of(zone: Zone) -> Part {
    match zone {
        Zone::Edge => Part::Edge,
        Zone::Ground => Part::Ground,
        Zone::Ridge => Part::Ridge,
        Zone::Back => Part::Back,
        Zone::Point => Part::Point,
        Zone::Tang => Part::Tang,
    }
}

/// The parts that must be looked at to see a flaw: its zone, and what of the blade it is a flaw of.
pub(super) fn parts(kind: FlawKind, zone: Zone) -> Vec<Part> {
    use FlawKind as K;
    let more = match kind {
        K::NioiGire | K::Saiha | K::Yakemi | K::KakeDashi | K::YakibaKuzure | K::HaJimi => {
            Some(Part::TemperLine)
        }
        K::BoshiNone | K::Karasunokuchi | K::TsukiNoWa | K::Mikazuki => Some(Part::PointTemper),
        K::HadaWare | K::KitaeWare | K::JiAre | K::Shingane | K::Tsukare => Some(Part::Grain),
        K::Magari | K::Nejire => Some(Part::Straightness),
        _ => None,
    };
    std::iter::once(part_of(zone)).chain(more).collect()
}

/// Whether a kind is a fine crack, which the bare eye passes over.
pub(super) const fn is_fine_crack(kind: FlawKind) -> bool {
    use FlawKind as K;
    matches!(
        kind,
        K::Hagire
            | K::Karasunokuchi
            | K::Hagarami
            | K::TsukiNoWa
            | K::Mikazuki
            | K::HaWare
            | K::Crack
            | K::Delamination
    )
}

/// Whether a way of looking shows a kind, where the flaw itself does not say by which it was seen.
pub(super) const fn shows(method: SightingMethod, kind: FlawKind) -> bool {
    use FlawKind as K;
    use SightingMethod as M;
    match kind {
        _ if is_fine_crack(kind) => matches!(
            method,
            M::TransmittedGlare
                | M::Loupe
                | M::Microscope
                | M::MildEtch
                | M::StainLine
                | M::DyePenetrant
                | M::Radiograph
        ),
        K::NioiGire
        | K::Saiha
        | K::Yakemi
        | K::BoshiNone
        | K::KakeDashi
        | K::YakibaKuzure
        | K::HaJimi => matches!(
            method,
            M::TransmittedGlare | M::Loupe | M::Microscope | M::MildEtch
        ),
        K::Magari | K::Nejire => matches!(method, M::SightAlong),
        K::Pits => matches!(
            method,
            M::NakedEye
                | M::RakingLight
                | M::TransmittedGlare
                | M::Loupe
                | M::Microscope
                | M::DepthGauge
        ),
        _ => matches!(
            method,
            M::NakedEye | M::RakingLight | M::TransmittedGlare | M::Loupe | M::Microscope
        ),
    }
}

/// Whether a kind is seen by the form of the blade, so that rust and stains do not hide it.
const fn is_form(kind: FlawKind) -> bool {
    use FlawKind as K;
    matches!(
        kind,
        K::Hakobore
            | K::KissakiBroken
            | K::Magari
            | K::Nejire
            | K::NotchWorn
            | K::GeometryLost
            | K::Kirikomi
    )
}

/// Whether a flaw of one kind hides one of another in the same place.
pub(super) const fn hides(cover: FlawKind, kind: FlawKind) -> bool {
    use FlawKind as K;
    !is_form(kind)
        && matches!(cover, K::SabiActive | K::SabiStable | K::Shimi)
        && !matches!(kind, K::SabiActive)
}

/// Whether a surface as a whole hides a kind.
pub(super) const fn surface_hides(surface: SurfaceGrade, kind: FlawKind) -> bool {
    use FlawKind as K;
    match surface {
        SurfaceGrade::FullPolish | SurfaceGrade::WornPolish => false,
        // Stains and scratches hide what lives by the polish alone.
        SurfaceGrade::StainedOrScratched => matches!(
            kind,
            K::NioiGire
                | K::Saiha
                | K::Yakemi
                | K::BoshiNone
                | K::KakeDashi
                | K::YakibaKuzure
                | K::HaJimi
                | K::JiAre
                | K::Shingane
                | K::Tsukare
        ),
        SurfaceGrade::Rusted | SurfaceGrade::DeeplyRusted => {
            !is_form(kind) && !matches!(kind, K::SabiActive)
        }
    }
}

/// Whether a kind lies in the steel and comes to light when the surface goes.
pub(super) const fn lies_under_the_skin(kind: FlawKind) -> bool {
    use FlawKind as K;
    matches!(
        kind,
        K::Fukure
            | K::FukureYabure
            | K::Ware
            | K::HadaWare
            | K::KitaeWare
            | K::TateWare
            | K::MuneWare
            | K::ShinogiWare
            | K::HaWare
            | K::Umegane
            | K::JiAre
            | K::Shingane
            | K::Delamination
    )
}

/// Whether a kind is one that work, handling or keeping makes.
pub(super) const fn is_made(kind: FlawKind) -> bool {
    use FlawKind as K;
    matches!(
        kind,
        K::Scratches
            | K::GeometryLost
            | K::NotchWorn
            | K::Hakobore
            | K::KissakiBroken
            | K::Magari
            | K::Nejire
            | K::Shinae
            | K::SabiActive
            | K::Shimi
            | K::Tsukare
            | K::Yakemi
    )
}

/// Whether grinding or polishing a zone takes every older flaw of a kind with it: what is there afterwards is new.
pub(super) const fn goes_with_the_surface(kind: FlawKind) -> bool {
    matches!(kind, FlawKind::Scratches | FlawKind::SabiActive)
}
