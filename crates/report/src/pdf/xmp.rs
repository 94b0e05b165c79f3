//! The metadata packet: what the file is, and to which standards it is written.
//!
//! Sources: ISO 16684-1 (XMP), ISO 19005-3 6.6 (PDF/A identification and extension schemas),
//! ISO 14289-1 5 (PDF/UA identification).

use super::{Metadata, date::Timestamp};
use crate::{scene::Language, xml};

/// Text as XML character data on one line.
fn escape(text: &str) -> String {
    let escaped = xml::escape(&text.replace(['\t', '\n', '\r'], " "));
    if super::imitates_signature(text.as_bytes()) {
        escaped.replace('/', "&#47;")
    } else {
        escaped
    }
}

/// Returns the packet.
pub(super) fn packet(metadata: &Metadata<'_>, language: Language, issued: &Timestamp) -> String {
    let [title, author, subject, producer] = [
        metadata.title,
        metadata.author,
        metadata.subject,
        metadata.producer,
    ]
    .map(escape);
    let (date, language) = (issued.iso(), language.tag());
    let identifier = metadata.sealed.map_or_else(String::new, |sealed| {
        format!(
            "<dc:identifier>tangmark:record:sha-256:{}</dc:identifier>\n",
            sealed.record
        )
    });
    let alternatives =
        |text: &str| format!("<rdf:Alt><rdf:li xml:lang=\"x-default\">{text}</rdf:li></rdf:Alt>");
    let (title, subject) = (alternatives(&title), alternatives(&subject));
    format!(
        "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>
<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">
<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">
<rdf:Description rdf:about=\"\"
 xmlns:dc=\"http://purl.org/dc/elements/1.1/\"
 xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\"
 xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\"
 xmlns:pdfaid=\"http://www.aiim.org/pdfa/ns/id/\"
 xmlns:pdfuaid=\"http://www.aiim.org/pdfua/ns/id/\"
 xmlns:pdfaExtension=\"http://www.aiim.org/pdfa/ns/extension/\"
 xmlns:pdfaSchema=\"http://www.aiim.org/pdfa/ns/schema#\"
 xmlns:pdfaProperty=\"http://www.aiim.org/pdfa/ns/property#\">
<pdfaid:part>3</pdfaid:part>
<pdfaid:conformance>A</pdfaid:conformance>
<pdfuaid:part>1</pdfuaid:part>
<dc:format>application/pdf</dc:format>
{identifier}<dc:title>{title}</dc:title>
<dc:description>{subject}</dc:description>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<xmp:CreatorTool>{producer}</xmp:CreatorTool>
<xmp:CreateDate>{date}</xmp:CreateDate>
<xmp:ModifyDate>{date}</xmp:ModifyDate>
<xmp:MetadataDate>{date}</xmp:MetadataDate>
<pdf:Producer>{producer}</pdf:Producer>
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType=\"Resource\">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType=\"Resource\">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 to which the file conforms</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end=\"r\"?>"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_names_stays_text() {
        assert_eq!(
            escape("A & <B> \"C\"\u{1}\n鎬"),
            "A &amp; &lt;B&gt; &quot;C&quot; 鎬"
        );
        assert_eq!(escape("a/b & /Contents"), "a&#47;b &amp; &#47;Contents");
        assert_eq!(escape("a/b"), "a/b");
    }
}
