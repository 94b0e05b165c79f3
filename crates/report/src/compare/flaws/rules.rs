//! The rules by which the program reads what became of a flaw.

use tangmark_core::record::{
    Examination, Flaw, Length, Outcome, Part, Pass, SightingMethod, Standing,
};
use tangmark_measure::Against;

use super::{
    super::{kinds, state},
    Case, Fate, Judged, SizeChange, stands,
};
use crate::{drawing::stations::datums_differ, pages::words, speech::pair};

impl Case<'_> {
    pub(super) fn still_there(first: &Flaw, second: &Flaw, sizes: &[SizeChange]) -> Judged {
        let names = |against: Against| {
            let found = sizes.iter().filter(|size| size.against() == against);
            let (en, ja): (Vec<&str>, Vec<&str>) = found
                .map(|size| (size.name.en.as_ref(), size.name.ja.as_ref()))
                .unzip();
            (!en.is_empty()).then(|| pair(en.join(", "), ja.join("・")))
        };
        match (names(Against::Below), names(Against::Above)) {
            (Some(less), None) => (
                Fate::Smaller,
                "measured-smaller",
                pair(
                    format!("{} less by more than the measurement can tell", less.en),
                    format!("{}の減少は測定で判別できる", less.ja),
                ),
            ),
            (None, Some(more)) => (
                Fate::Larger,
                "measured-larger",
                pair(
                    format!("{} more by more than the measurement can tell", more.en),
                    format!("{}の増加は測定で判別できる", more.ja),
                ),
            ),
            (Some(less), Some(more)) => (
                Fate::Changed,
                "measured-both",
                pair(
                    format!(
                        "{} less and {} more by more than the measurement can tell",
                        less.en, more.en
                    ),
                    format!("{}は減少、{}は増加（測定で判別できる）", less.ja, more.ja),
                ),
            ),
            (None, None) if first == second => (
                Fate::Same,
                "entry-taken-over",
                pair(
                    "its entry is the earlier one word for word: taken over, not looked at again",
                    "記載は前回と同一。引き写しであり、再調査ではない",
                ),
            ),
            (None, None) if sizes.is_empty() => (
                Fate::Same,
                "size-not-measured",
                pair(
                    "still recorded; no size of it was measured both times",
                    "記録あり。大きさは二度とも計測していない",
                ),
            ),
            (None, None) => (
                Fate::Same,
                "size-cannot-be-told",
                pair(
                    "still recorded; no size differs by more than the measurement can tell",
                    "記録あり。大きさの差は測定で判別できない",
                ),
            ),
        }
    }

    /// In the first state, and in the second as looked for and not found.
    pub(super) fn looked_for_again(&self, first: &Flaw, second: &Flaw) -> Judged {
        let now = state::in_text(self.after);
        if first.standing == Standing::Suspected {
            return (
                Fate::RuledOut,
                "suspicion-lifted",
                pair(
                    format!("suspected; {} has it as looked for and not found", now.en),
                    format!("疑いがあったが、{}では調査し認められず", now.ja),
                ),
            );
        }
        let looks = second
            .sightings
            .iter()
            .filter(|look| look.outcome == Outcome::NotSeen)
            .count();
        (
            Fate::Gone,
            "looked-for-again",
            pair(
                format!(
                    "{} has it as looked for and not found ({} {})",
                    now.en,
                    looks,
                    if looks == 1 { "look" } else { "looks" }
                ),
                format!("{}では調査し認められず（{looks} 回）", now.ja),
            ),
        )
    }

    pub(super) fn no_longer_recorded(&self, flaw: &Flaw) -> Judged {
        let now = state::in_text(self.after);
        let Some(examination) = &self.after.examination else {
            return (
                Fate::NotLookedAt,
                "no-examination",
                pair(
                    format!("no longer recorded; {} has no examination", now.en),
                    format!("記載なし。{}に調査の記載がない", now.ja),
                ),
            );
        };
        if let Some(part) = not_examined(examination, flaw) {
            let part = words::gloss(part);
            return (
                Fate::NotLookedAt,
                "part-not-examined",
                pair(
                    format!(
                        "no longer recorded; not examined in {}: {}",
                        now.en, part.en
                    ),
                    format!("記載なし。{}では{}を調査していない", now.ja, part.ja),
                ),
            );
        }
        let Some(method) = seeing(examination, flaw) else {
            return (
                Fate::NotLookedAt,
                "no-way-of-looking",
                pair(
                    format!(
                        "no longer recorded; no way of looking in {} would show it",
                        now.en
                    ),
                    format!("記載なし。{}にこの疵を示す調査方法がない", now.ja),
                ),
            );
        };
        let method = words::gloss(method);
        let worked = self.worked(flaw, |_| true);
        let passes = match worked {
            0 => pair("", ""),
            1 => pair(", after 1 pass there", "、その部位の作業 1 回の後"),
            many => pair(
                format!(", after {many} passes there"),
                format!("、その部位の作業 {many} 回の後"),
            ),
        };
        (
            Fate::Gone,
            "not-there-when-looked-at",
            pair(
                format!(
                    "no longer recorded; its place was looked at again in {} ({}{})",
                    now.en, method.en, passes.en
                ),
                format!(
                    "記載なし。{}で同所を再調査（{}{}）",
                    now.ja, method.ja, passes.ja
                ),
            ),
        )
    }

    /// How many passes worked the zone of a flaw.
    fn worked(&self, flaw: &Flaw, which: impl Fn(&Pass) -> bool) -> usize {
        self.passes
            .iter()
            .filter(|pass| pass.zones.contains(&flaw.zone) && which(pass))
            .count()
    }

    /// In the second state and not in the first, or there as looked for and not found.
    pub(super) fn newly_recorded(&self, ruled_out: Option<&Flaw>, flaw: &Flaw) -> Judged {
        let then = state::in_text(self.before);
        let Some(examination) = &self.before.examination else {
            return (
                Fate::New,
                "no-examination",
                pair(
                    format!("since when cannot be told: {} has no examination", then.en),
                    format!("いつからかは不明。{}に調査の記載がない", then.ja),
                ),
            );
        };
        let ground = self.worked(flaw, |pass| pass.operation.takes_steel());
        if kinds::goes_with_the_surface(flaw.kind) && ground > 0 {
            return (
                Fate::NewlyMade,
                "older-ones-went-with-the-surface",
                pair(
                    "steel was taken there since, and an older one would have gone with it",
                    "その後に鋼を削っており、以前からのものなら共に除かれたはず",
                ),
            );
        }
        if let Some(covered) = self.covered(examination, flaw) {
            return covered;
        }
        if let Some(part) = not_examined(examination, flaw) {
            let part = words::gloss(part);
            return (
                Fate::NewlyVisible,
                "part-not-examined",
                pair(
                    format!("not examined in {}: {}", then.en, part.en),
                    format!("{}では{}を調査していない", then.ja, part.ja),
                ),
            );
        }
        if kinds::lies_under_the_skin(flaw.kind) && ground > 0 {
            let passes = if ground == 1 { "pass" } else { "passes" };
            return (
                Fate::NewlyVisible,
                "opened-by-work",
                pair(
                    format!(
                        "a kind that lies in the steel, and {ground} {passes} took steel there since"
                    ),
                    format!("鋼の中にある種類で、その後に同所の鋼を {ground} 回削った"),
                ),
            );
        }
        if kinds::is_made(flaw.kind) {
            return (
                Fate::NewlyMade,
                "kind-that-is-made",
                pair(
                    format!(
                        "a kind that work, handling or keeping makes; the place was examined in {} and had none",
                        then.en
                    ),
                    format!(
                        "作業・取扱い・保管で生じる種類。{}では同所を調査し、なかった",
                        then.ja
                    ),
                ),
            );
        }
        match seeing(examination, flaw) {
            Some(method) => {
                let method = words::gloss(method);
                let said = if ruled_out.is_some() {
                    pair("looked for and not found", "調査し認められなかった")
                } else {
                    pair("looked at and not recorded", "調査し記載がなかった")
                };
                (
                    Fate::NewlyMade,
                    "looked-at-before",
                    pair(
                        format!(
                            "{} in {} in a way that would have shown it ({})",
                            said.en, then.en, method.en
                        ),
                        format!(
                            "{}で、これを示す方法（{}）により{}",
                            then.ja, method.ja, said.ja
                        ),
                    ),
                )
            }
            None => (
                Fate::NewlyVisible,
                "no-way-of-looking",
                pair(
                    format!("no way of looking in {} would have shown it", then.en),
                    format!("{}にこの疵を示す調査方法がない", then.ja),
                ),
            ),
        }
    }

    /// What hid the place of a new flaw before, where something did.
    fn covered(&self, examination: &Examination, flaw: &Flaw) -> Option<Judged> {
        let then = state::in_text(self.before);
        let places = !datums_differ(self.before, self.after);
        let cover = self.before.flaws.iter().find(|cover| {
            stands(cover) && kinds::hides(cover.kind, flaw.kind) && same_place(cover, flaw, places)
        });
        if let Some(cover) = cover {
            let kind = words::gloss(cover.kind);
            return Some((
                Fate::NewlyVisible,
                "place-was-covered",
                pair(
                    format!(
                        "its place lay under {} ({}) in {}",
                        kind.en, cover.id, then.en
                    ),
                    format!(
                        "{}では同所が{}（{}）の下にあった",
                        then.ja, kind.ja, cover.id
                    ),
                ),
            ));
        }
        kinds::surface_hides(examination.surface, flaw.kind).then(|| {
            let surface = words::gloss(examination.surface);
            (
                Fate::NewlyVisible,
                "surface-hid-it",
                pair(
                    format!(
                        "the surface as a whole hid it in {}: {}",
                        then.en, surface.en
                    ),
                    format!("{}では表面全体に隠れていた：{}", then.ja, surface.ja),
                ),
            )
        })
    }
}

/// A part that shows a flaw and was not examined.
fn not_examined(examination: &Examination, flaw: &Flaw) -> Option<Part> {
    kinds::parts(flaw.kind, flaw.zone).into_iter().find(|part| {
        let mut left_out = examination.not_examined.iter();
        !examination.examined.contains(part) || left_out.any(|one| one.part == *part)
    })
}

/// A way of looking of an examination that shows a flaw: one by which it was seen, else one that shows its kind.
fn seeing(examination: &Examination, flaw: &Flaw) -> Option<SightingMethod> {
    let seen: Vec<SightingMethod> = flaw
        .sightings
        .iter()
        .filter(|look| look.outcome == Outcome::Seen)
        .map(|look| look.method)
        .collect();
    examination.methods.iter().copied().find(|method| {
        // What was found with a dye another look with a lens may pass over.
        let by_kind = seen.is_empty() || !kinds::is_fine_crack(flaw.kind);
        seen.contains(method) || (by_kind && kinds::shows(*method, flaw.kind))
    })
}

/// Whether one flaw lies over another: in one zone, on one face, and along the blade as far as that is known.
fn same_place(cover: &Flaw, flaw: &Flaw, places: bool) -> bool {
    let face = cover.faces.iter().any(|face| flaw.faces.contains(face));
    if cover.zone != flaw.zone || !face {
        return false;
    }
    let Some(reach) = cover.length.as_ref().filter(|_| places) else {
        return true;
    };
    let half = |length: Option<&Length>| length.map_or(0.0, |length| length.to_f64() / 2.0);
    let apart = (cover.at.to_f64() - flaw.at.to_f64()).abs();
    // As far as the places are known: k = 2.
    let doubt = 2.0 * cover.at.standard().hypot(flaw.at.standard());
    apart <= reach.to_f64() / 2.0 + half(flaw.length.as_ref()) + doubt
}
