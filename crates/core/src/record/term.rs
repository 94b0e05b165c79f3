//! Terms of the trade as closed lists: romaji key, kanji and English gloss.

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

/// Defines a closed list of terms as an enum with serde, JSON Schema and [`Term`].
macro_rules! terms {
    ($(#[$meta:meta])* $name:ident { $($variant:ident $key:literal $kanji:literal $gloss:literal;)+ }) => {
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
