//! Signs for which a blade may be held: this plugin does not judge them, it only says what the plan then is for.

use tangmark_core::record::{
    FlawKind, InscriptionKind, RegistrationKind, Sheet, SignKind, Standing, TemperVisibility,
    Term as _,
};

/// A sign, in words, and where it stands.
pub(crate) type Seen = (String, String);

/// Flaws for which blades are set aside, as far as the sheet does not rule them out.
///
/// Source: reference pages on flaws by collectors and a study club.
pub(crate) fn signs(sheet: &Sheet) -> Vec<Seen> {
    use FlawKind as F;
    let mut seen: Vec<Seen> = Vec::new();
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        let fatal = matches!(
            flaw.kind,
            F::Hagire
                | F::Karasunokuchi
                | F::KissakiBroken
                | F::BoshiNone
                | F::Yakemi
                | F::Hagarami
                | F::TsukiNoWa
                | F::Mikazuki
                | F::Crack
        );
        if fatal && flaw.standing != Standing::RuledOut {
            let standing = if flaw.standing == Standing::Confirmed {
                "confirmed"
            } else {
                "suspected"
            };
            seen.push((
                format!("{} ({standing})", flaw.kind.gloss()),
                format!("/flaws/{index}"),
            ));
        }
    }
    if sheet
        .temper_line
        .as_ref()
        .is_some_and(|line| line.visibility == TemperVisibility::Lost)
    {
        seen.push(("temper line lost".to_owned(), "/temper_line".to_owned()));
    }
    for (index, one) in sheet.blade.registrations.iter().enumerate() {
        if matches!(
            one.kind,
            RegistrationKind::NationalTreasure
                | RegistrationKind::ImportantCulturalProperty
                | RegistrationKind::ImportantArtObject
                | RegistrationKind::OtherDesignation
        ) {
            seen.push((
                one.kind.gloss().to_owned(),
                format!("/blade/registrations/{index}"),
            ));
        }
    }
    for (index, one) in sheet.blade.signs.iter().enumerate() {
        if matches!(
            one.kind,
            SignKind::DesignationByLaw | SignKind::ImportantMakerOnPapers | SignKind::ExcavatedLook
        ) {
            seen.push((one.kind.gloss().to_owned(), format!("/blade/signs/{index}")));
        }
    }
    let inscriptions = sheet
        .tang
        .iter()
        .flat_map(|tang| &tang.inscriptions)
        .enumerate();
    for (index, one) in inscriptions {
        if one.kind == InscriptionKind::KinzoganMei {
            seen.push((
                one.kind.gloss().to_owned(),
                format!("/tang/inscriptions/{index}"),
            ));
        }
    }
    seen
}
