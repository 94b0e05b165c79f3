//! Text as XML.

/// Returns text as XML character data or as an attribute's value; characters that XML does not allow are left out.
///
/// Source: Extensible Markup Language (XML) 1.0, 2.2 (`Char`) and 2.4; from memory.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\t' | '\n' | '\r' => out.push(character),
            '\0'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => {}
            _ => out.push(character),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_is_text_and_what_xml_forbids_is_left_out() {
        assert_eq!(
            escape("A & <B> \"C\" 'd'\t\r\n鎬"),
            "A &amp; &lt;B&gt; &quot;C&quot; 'd'\t\r\n鎬"
        );
        let allowed = |character: &char| matches!(character, '\t' | '\n' | '\r' | '\u{20}'..='\u{fffd}' | '\u{10000}'..);
        for character in '\0'..=char::MAX {
            let kept = !escape(character.encode_utf8(&mut [0; 4])).is_empty();
            assert_eq!(kept, allowed(&character), "{character:?}");
        }
    }
}
