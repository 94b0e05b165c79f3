//! The stages of a blade in the workshop, as a closed list.

use serde::{Deserialize, Serialize};
use tangmark_core::record::Term;

/// Defines the list: variant, key, kanji, gloss, and what a Japanese page says.
macro_rules! stages {
    ($($variant:ident $key:literal $kanji:literal $gloss:literal $japanese:literal;)+) => {
        /// Where a blade stands in the work.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum Stage {
            $(#[doc = concat!("`", $key, "` ", $kanji, ": ", $gloss, ".")] #[serde(rename = $key)] $variant,)+
        }

        impl Term for Stage {
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
                match self { $(Self::$variant => $japanese),+ }
            }
        }
    };
}

// Order of the trade: common practice, no source.
stages! {
    AsReceived "as_received" "" "as it came" "受入れのまま";
    FirstPass "first_pass" "錆取り" "rust off, first look at the steel" "錆取り";
    Etched "etched" "" "etched to see the temper line" "腐食検査済み";
    Foundation "foundation" "下地研ぎ" "foundation stones" "下地研ぎ";
    Middle "middle" "名倉" "middle stones" "名倉";
    Fine "fine" "内曇" "fine stones" "内曇";
    FingerFinish "finger_finish" "仕上げ研ぎ" "finger stones and finish" "仕上げ研ぎ";
    Finished "finished" "" "finished, still here" "研ぎ上がり";
    SetAside "set_aside" "" "set aside" "作業中止";
    Held "held" "" "held until a stop is answered" "停止中";
    Referred "referred" "" "with a senior specialist" "専門家へ照会中";
    Sold "sold" "" "sold" "売却済み";
    Returned "returned" "" "back with its owner" "返却済み";
}

impl Stage {
    /// Whether the work ends with it: the blade has left the workshop.
    pub const fn ends(self) -> bool {
        matches!(self, Self::Sold | Self::Returned)
    }

    /// Whether the blade is not in the workshop: it has left, or is with a specialist.
    pub const fn is_away(self) -> bool {
        self.ends() || matches!(self, Self::Referred)
    }

    /// Place in the order of the work; none for stages that are no part of it.
    pub(crate) const fn place(self) -> Option<u8> {
        match self {
            Self::AsReceived => Some(0),
            Self::FirstPass => Some(1),
            Self::Etched => Some(2),
            Self::Foundation => Some(3),
            Self::Middle => Some(4),
            Self::Fine => Some(5),
            Self::FingerFinish => Some(6),
            Self::Finished => Some(7),
            Self::SetAside | Self::Held | Self::Referred | Self::Sold | Self::Returned => None,
        }
    }

    /// Whether steel is worked in it.
    pub const fn is_work(self) -> bool {
        matches!(self.place(), Some(1..=6))
    }

    /// Finds the stage of a key.
    pub fn of_key(key: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|stage| stage.key() == key)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn keys_are_what_is_written_and_read() {
        for stage in Stage::ALL {
            let written = serde_json::to_value(stage).unwrap();
            assert_eq!(written, stage.key());
            assert_eq!(Stage::of_key(stage.key()), Some(*stage));
            assert!(!stage.gloss().is_empty() && !stage.japanese().is_empty());
        }
        assert_eq!(Stage::of_key("polished"), None);
        let ending: Vec<&str> = Stage::ALL
            .iter()
            .filter(|stage| stage.ends())
            .map(|stage| stage.key())
            .collect();
        assert_eq!(ending, ["sold", "returned"]);
    }
}
