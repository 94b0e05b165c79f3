//! The closed lists of the record, by name, for tests that go through all of them.

use tangmark_core::record::{self, Term};

/// One closed list.
pub(crate) struct List {
    /// Name of the type.
    pub(crate) name: &'static str,
    /// Key, kanji, gloss and the shown form of every term.
    pub(crate) terms: Vec<(&'static str, &'static str, &'static str, String)>,
    /// What serde writes for every term.
    #[allow(dead_code, reason = "not every test that uses the lists looks at it")]
    pub(crate) written: Vec<String>,
}

fn list<T: Term + serde::Serialize>(name: &'static str) -> List {
    List {
        name,
        terms: T::ALL
            .iter()
            .map(|term| (term.key(), term.kanji(), term.gloss(), term.shown()))
            .collect(),
        written: T::ALL
            .iter()
            .filter_map(|term| serde_json::to_value(term).ok()?.as_str().map(str::to_owned))
            .collect(),
    }
}

macro_rules! lists {
    ($($name:ident)+) => {
        /// Every closed list, by name.
        pub(crate) fn lists() -> Vec<List> {
            let mut lists = vec![$(list::<record::$name>(stringify!($name))),+];
            lists.sort_by_key(|list| list.name);
            lists
        }
    };
}

lists! {
    BladeKind Construction BackForm SignKind RegistrationKind CustodyKind ValueBasis Datum PointConvention CurvatureKind
    PointClass Fukura MassState Face Reason SightingMethod SurfaceGrade Completeness Part Level ArtefactKind Verdict
    AnswerKind FittingPart Material Matched ProtectedScreen FlawKind Zone Progress Standing Outcome Purpose Operation
    GritSystem AbrasiveOrigin StoneStage Role Confidence DocumentKind Shows UncertaintyBasis TangShape TangEnd FileMarks
    TangState InscriptionKind MeiView TemperVisibility TemperFamily TemperStart PointTemperForm TurnBack Activity
    GrainFamily FittingOrigin Kept
}
