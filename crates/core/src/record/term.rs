//! Terms of the trade as closed lists: romaji key, kanji, English gloss, and what a Japanese page says.

use super::readings::reading_of;

/// A term of a closed list.
pub trait Term: Copy + 'static {
    /// Every term of the list, in the order of the list.
    const ALL: &'static [Self];

    /// Returns the key written in records (romaji or plain English, lower case).
    fn key(self) -> &'static str;

    /// Returns the Japanese writing; empty where the term has none.
    fn kanji(self) -> &'static str;

    /// Returns a short English gloss.
    fn gloss(self) -> &'static str;

    /// Returns what a Japanese page says for the term: a word of its own where the kanji alone would not say it or there
    /// are none, else the kanji.
    fn japanese(self) -> &'static str;

    /// Returns the reading in hiragana, for terms whose kanji few people read aloud at sight.
    fn reading(self) -> Option<&'static str> {
        reading_of(self.japanese())
    }

    /// Returns key, kanji and gloss in one line for people: `suguha 直刃 (straight)`.
    fn shown(self) -> String {
        let key = self.key().replace('_', " ");
        let mut text = key.clone();
        if !self.kanji().is_empty() {
            text.push(' ');
            text.push_str(self.kanji());
        }
        if !self.gloss().is_empty() && self.gloss() != key {
            text.push_str(" (");
            text.push_str(self.gloss());
            text.push(')');
        }
        text
    }
}

/// Defines a closed list of terms as an enum with serde, JSON Schema and [`Term`]: key, kanji, gloss, and where the kanji
/// do not say it the word of a Japanese page, which the schema does not show.
macro_rules! terms {
    ($(#[$meta:meta])* $name:ident { $($variant:ident $key:literal $kanji:literal $gloss:literal $($japanese:literal)?;)+ }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        pub enum $name {
            $(#[doc = concat!("`", $key, "` ", $kanji, ": ", $gloss, ".")] #[serde(rename = $key)] $variant,)+
        }

        impl $crate::record::Term for $name {
            const ALL: &'static [Self] = &[$(Self::$variant),+];

            fn key(self) -> &'static str {
                match self { $(Self::$variant => $key),+ }
            }

            fn kanji(self) -> &'static str {
                match self { $(Self::$variant => $kanji),+ }
            }

            fn gloss(self) -> &'static str {
                match self { $(Self::$variant => $gloss),+ }
            }

            fn japanese(self) -> &'static str {
                let own = match self { $(Self::$variant => concat!($($japanese)?)),+ };
                if own.is_empty() { self.kanji() } else { own }
            }
        }

        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                $crate::record::term::schema_of::<Self>()
            }
        }
    };
}
pub(crate) use terms;

/// Builds the JSON Schema of a closed list: an `enum` whose description names kanji and gloss.
pub(crate) fn schema_of<T: Term>() -> schemars::Schema {
    let keys: Vec<&str> = T::ALL.iter().map(|term| term.key()).collect();
    let words: Vec<String> = T::ALL.iter().map(|term| term.shown()).collect();
    schemars::json_schema!({ "type": "string", "enum": keys, "description": words.join("; ") })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::super::*;

    /// Key, Japanese and reading of every term of a list.
    type Entry = (&'static str, &'static str, Option<&'static str>);

    fn entries<T: Term>() -> Vec<Entry> {
        T::ALL
            .iter()
            .map(|term| (term.key(), term.japanese(), term.reading()))
            .collect()
    }

    macro_rules! all {
        ($($list:ident)+) => { [$((stringify!($list), entries::<$list>())),+] };
    }

    fn every_list() -> Vec<(&'static str, Vec<Entry>)> {
        all! {
            AbrasiveOrigin
            Activity
            AnswerKind
            ArtefactKind
            BackForm
            BladeKind
            Completeness
            Confidence
            Construction
            CurvatureKind
            CustodyKind
            Datum
            DocumentKind
            Face
            FileMarks
            FittingOrigin
            FittingPart
            FlawKind
            Fukura
            GrainFamily
            GritSystem
            InscriptionKind
            Kept
            Level
            MassState
            Matched
            Material
            MeiView
            Operation
            Outcome
            Part
            PointClass
            PointConvention
            PointTemperForm
            Progress
            ProtectedScreen
            Purpose
            Reason
            RegistrationKind
            Role
            Shows
            SightingMethod
            SignKind
            Standing
            StoneStage
            SurfaceGrade
            TangEnd
            TangShape
            TangState
            TemperFamily
            TemperStart
            TemperVisibility
            TurnBack
            UncertaintyBasis
            ValueBasis
            Verdict
            Zone
        }
        .to_vec()
    }

    #[test]
    fn every_term_has_japanese_and_it_is_japanese() {
        let mut terms = 0;
        for (list, entries) in every_list() {
            for (key, japanese, _) in entries {
                terms += 1;
                assert!(!japanese.is_empty(), "{list} {key}");
                // Names of standards and years are written as everywhere.
                let mut rest = japanese.to_owned();
                for name in [
                    "FEPA F",
                    "FEPA P",
                    "JIS R 6001",
                    "CAMI",
                    "X線",
                    "1933",
                    "1945",
                    "1970",
                ] {
                    rest = rest.replace(name, "");
                }
                for letter in rest.chars() {
                    assert!(
                        matches!(letter, 'ぁ'..='ゖ' | 'ァ'..='ー' | '々' | '一'..='鿿' | '、' | '。' | '（' | '）' | '～'),
                        "{list} {key}: {japanese} has {letter:?}"
                    );
                }
            }
        }
        assert!(terms > 400, "{terms}");
    }

    /// The Latin spelling of the keys: Hepburn without marks on long vowels.
    fn latin(reading: &str) -> String {
        const KANA: &str = "あa いi うu えe おo かka きki くku けke こko がga ぎgi ぐgu げge ごgo さsa しshi すsu せse そso ざza じji ずzu ぜze ぞzo たta ちchi つtsu てte とto だda ぢji づzu でde どdo なna にni ぬnu ねne のno はha ひhi ふfu へhe ほho ばba びbi ぶbu べbe ぼbo ぱpa ぴpi ぷpu ぺpe ぽpo まma みmi むmu めme もmo やya ゆyu よyo らra りri るru れre ろro わwa をo んn";
        let letters: Vec<char> = reading.chars().collect();
        let mut text = String::new();
        for (index, letter) in letters.iter().enumerate() {
            let small = match letter {
                'ゃ' => Some("a"),
                'ゅ' => Some("u"),
                'ょ' => Some("o"),
                _ => None,
            };
            if let Some(vowel) = small {
                // `shi` and `ya` make `sha`, `ki` and `ya` make `kya`.
                text.pop();
                if !text.ends_with("sh") && !text.ends_with("ch") && !text.ends_with('j') {
                    text.push('y');
                }
                text.push_str(vowel);
            } else if *letter == 'っ' {
                text.push('っ');
            } else if *letter == 'う'
                && text.ends_with(['o', 'u'])
                && letters.get(index.wrapping_sub(1)) != Some(&'う')
            {
                // A long vowel is written short.
            } else {
                let spelled = KANA
                    .split(' ')
                    .find_map(|entry| entry.strip_prefix(*letter))
                    .unwrap_or_else(|| panic!("{letter} in {reading}"));
                text.push_str(spelled);
            }
            // A small tsu doubles the consonant after it.
            if let Some(place) = text.find('っ')
                && let Some(next) = text[place..].chars().nth(1)
            {
                text = text.replace('っ', &next.to_string());
            }
        }
        text.replace("oo", "o")
    }

    #[test]
    fn readings_agree_with_the_keys() {
        // Terms whose key is English or leaves a part of the word out.
        let other_keys = [
            ("ho", "朴の木"),
            ("gohei", "御幣形"),
            ("same", "鮫皮"),
            ("kiri", "切鑢"),
            ("kiri", "切尻"),
            ("hyotan", "瓢箪刃"),
            ("sudare", "簾刃"),
            ("shingane", "心鉄の露出"),
            ("binsui", "備水砥"),
            ("kaisei", "改正砥"),
            ("chu_nagura", "中名倉砥"),
            ("koma_nagura", "細名倉砥"),
            ("kawazu_choji", "蛙子丁子"),
            ("iori", "庵棟"),
            ("hira", "平棟"),
            ("mitsu", "三つ棟"),
            ("maru", "丸棟"),
            ("chisagatana", "小サ刀"),
            ("kata_kiriha", "片切刃造"),
            ("kanmuri_otoshi", "冠落造"),
            ("kissaki_moroha", "鋒両刃造"),
            ("nengo", "年紀"),
            ("togari", "尖り刃"),
        ];
        let english = [
            "ridge",
            "back",
            "point",
            "tang",
            "temper_line",
            "point_temper",
            "grain",
            "flaw",
            "inscription",
            "fittings",
            "polisher",
            "smith",
            "back_notch",
            "shortened",
            "whiten",
            "wipe_polish",
            "kissaki_broken",
            "ray_skin",
            "rosewood",
            "ebony",
            "lacquer",
            "ivory",
            "rhinoceros_horn",
            "baleen",
            "tortoiseshell",
            "coral",
            "brass",
            "pits",
            "shaft",
        ];
        let (mut compared, mut differ) = (0, Vec::new());
        for (list, entries) in every_list() {
            for (key, japanese, reading) in entries {
                let Some(reading) = reading else { continue };
                if english.contains(&key) {
                    continue;
                }
                compared += 1;
                let spelled = latin(reading);
                let same = spelled == key.replace('_', "");
                if same == other_keys.contains(&(key, japanese)) {
                    differ.push(format!("{list} {key} {japanese} {reading} {spelled}"));
                }
            }
        }
        assert_eq!(differ, Vec::<String>::new());
        assert!(compared > 120, "{compared}");
    }
}
