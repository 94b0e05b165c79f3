//! The closed lists of the record, for people: key, kanji and gloss of every term.

use serde::Serialize;
use tangmark_core::record::{self, Term};

/// One term.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct TermLine {
    /// Key written in sheets and records.
    pub key: &'static str,
    /// Japanese writing; empty where the term has none.
    pub kanji: &'static str,
    /// English gloss.
    pub gloss: &'static str,
}

/// One closed list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TermList {
    /// Name of the list, as in the schema but in lower case with `_`.
    pub name: String,
    /// Terms in the order of the list.
    pub terms: Vec<TermLine>,
}

fn list<T: Term>(type_name: &str) -> TermList {
    let mut name = String::new();
    for letter in type_name.chars() {
        if letter.is_ascii_uppercase() && !name.is_empty() {
            name.push('_');
        }
        name.push(letter.to_ascii_lowercase());
    }
    let line = |term: &T| TermLine {
        key: term.key(),
        kanji: term.kanji(),
        gloss: term.gloss(),
    };
    TermList {
        name,
        terms: T::ALL.iter().map(line).collect(),
    }
}

macro_rules! lists {
    ($($name:ident)+) => {
        /// Returns every closed list a sheet or record uses, by name.
        pub fn lists() -> Vec<TermList> {
            let mut lists = vec![$(list::<record::$name>(stringify!($name))),+];
            lists.sort_by(|one, other| one.name.cmp(&other.name));
            lists
        }
    };
}

lists! {
    Activity AbrasiveOrigin AnswerKind ArtefactKind BackForm BladeKind Completeness Confidence Construction CurvatureKind CustodyKind
    Datum DocumentKind Face FileMarks FittingOrigin FittingPart FlawKind Fukura GrainFamily GritSystem InscriptionKind Kept Level MassState
    Matched Material MeiView Operation Outcome Part PointClass PointConvention PointTemperForm Progress ProtectedScreen Purpose Reason
    RegistrationKind Role Shows SightingMethod SignKind Standing StoneStage SurfaceGrade TangEnd TangShape TangState
    TemperFamily TemperStart TemperVisibility TurnBack UncertaintyBasis ValueBasis Verdict Zone
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::collections::BTreeSet;

    use serde_json::Value;
    use tangmark_core::schema::RECORD_V1;

    use super::*;

    #[test]
    fn every_closed_list_of_the_schema_is_shown_whole() {
        let schema: Value = serde_json::from_str(RECORD_V1).unwrap();
        let published: BTreeSet<Vec<&str>> = schema["$defs"]
            .as_object()
            .unwrap()
            .values()
            .filter(|definition| {
                definition["description"]
                    .as_str()
                    .is_some_and(|text| text.contains("; "))
            })
            .filter_map(|definition| definition["enum"].as_array())
            .map(|keys| keys.iter().map(|key| key.as_str().unwrap()).collect())
            .collect();
        let lists = lists();
        let shown: BTreeSet<Vec<&str>> = lists
            .iter()
            .map(|list| list.terms.iter().map(|term| term.key).collect())
            .collect();
        assert_eq!(
            published.difference(&shown).collect::<Vec<_>>(),
            Vec::<&Vec<&str>>::new()
        );
        assert!(
            published.len() > 40,
            "{} lists found in the schema",
            published.len()
        );
    }

    #[test]
    fn names_are_lower_case_and_unique() {
        let lists = lists();
        let names: BTreeSet<&str> = lists.iter().map(|list| list.name.as_str()).collect();
        assert_eq!(names.len(), lists.len());
        assert!(names.contains("temper_family"));
        assert!(lists.iter().all(|list| !list.terms.is_empty()));
    }
}
