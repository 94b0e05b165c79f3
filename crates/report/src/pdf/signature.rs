//! The one signature field, written with the pages and filled later without moving a byte.
//!
//! Sources: ISO 32000-1, 12.7.4.5 (signature fields), 12.8 (DocMDP); ISO 19005-3, 6.3 and 6.4;
//! the PAdES form of ETSI EN 319 142-1 (from memory).

use lopdf::{Document, Object, ObjectId, Stream, StringFormat, dictionary};

use super::{Metadata, PdfError, date::Timestamp, tags, tags::Tree, text_string};
use crate::scene::{Scene, SignatureField};

/// Hexadecimal digits kept for the signature.
pub(super) const CONTENTS_DIGITS: usize = 16_384;

/// Adds field, widget, signature dictionary and the permission that certifies the file: no change at all.
pub(super) fn add(
    document: &mut Document,
    scene: &Scene,
    pages: &[ObjectId],
    tree: &Tree,
    field: &SignatureField,
    metadata: &Metadata<'_>,
    issued: &Timestamp,
) -> Result<(), PdfError> {
    let page = *pages
        .get(field.page)
        .ok_or(PdfError::Shape("the signature's page"))?;
    let height = scene.pages.get(field.page).map_or(0.0, |page| page.height);
    let form = *tree
        .elements
        .get(field.node.0)
        .ok_or(PdfError::Shape("the signature's form element"))?;

    let permission =
        dictionary! { "Type" => "TransformParams", "P" => 1, "V" => Object::Name(b"1.2".to_vec()) };
    let reference = dictionary! { "Type" => "SigRef", "TransformMethod" => "DocMDP", "TransformParams" => permission };
    let signature = document.add_object(dictionary! {
        "Type" => "Sig",
        "Filter" => Object::Name(b"Adobe.PPKLite".to_vec()),
        "SubFilter" => Object::Name(b"ETSI.CAdES.detached".to_vec()),
        // Both are written in the width in which they are filled, whatever stands here; see `syntax::dictionary`.
        "ByteRange" => Object::Array(Vec::new()),
        "Contents" => Object::String(Vec::new(), StringFormat::Hexadecimal),
        "M" => text_string(&issued.pdf()),
        "Name" => text_string(metadata.author),
        "Reference" => vec![Object::Dictionary(reference)],
    });

    let rectangle = tags::rectangle(height, field.bounds);
    let appearance = document.add_object(appearance(&rectangle));
    let widget = document.add_object(dictionary! {
        "Type" => "Annot",
        "Subtype" => "Widget",
        "FT" => "Sig",
        "T" => text_string("issuer"),
        "TU" => text_string("Signature of the issuer over the whole file"),
        "V" => signature,
        "P" => page,
        // Print and Locked.
        "F" => 132,
        "Rect" => rectangle,
        "AP" => dictionary! { "N" => appearance },
        "StructParent" => tree.widget_key,
    });
    let sheet = document.get_object_mut(page)?.as_dict_mut()?;
    sheet.set("Annots", vec![Object::Reference(widget)]);
    let element = document.get_object_mut(form)?.as_dict_mut()?;
    element.set("Pg", page);
    element
        .get_mut(b"K")
        .and_then(Object::as_array_mut)?
        .push(Object::Dictionary(
            dictionary! { "Type" => "OBJR", "Obj" => widget, "Pg" => page },
        ));

    let catalog = document.catalog_mut()?;
    catalog.set(
        "AcroForm",
        dictionary! { "Fields" => vec![Object::Reference(widget)], "SigFlags" => 3 },
    );
    catalog.set("Perms", dictionary! { "DocMDP" => signature });
    Ok(())
}

/// A plain frame: what the signature says in words is page content.
fn appearance(rectangle: &[Object]) -> Stream {
    let side = |low: usize, high: usize| {
        let at = |index: usize| {
            rectangle
                .get(index)
                .and_then(|value| value.as_float().ok())
                .unwrap_or(0.0)
        };
        super::content::narrow(f64::from(at(high)) - f64::from(at(low)))
    };
    let (width, height) = (side(0, 2), side(1, 3));
    let inner = |length: f32| super::content::narrow(f64::from(length) - 0.5);
    let content = format!(
        "0.4 0.4 0.4 RG 0.5 w 0.25 0.25 {} {} re S",
        inner(width),
        inner(height)
    );
    let bounds = [0.0, 0.0, width, height].map(Object::Real).to_vec();
    Stream::new(
        dictionary! { "Type" => "XObject", "Subtype" => "Form", "BBox" => bounds, "Resources" => lopdf::Dictionary::new() },
        content.into_bytes(),
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use crate::{
        sample,
        scene::{Draw, Role},
        scene_of,
    };

    /// An appearance may be drawn or not; what the signature says in words is part of the page.
    #[test]
    fn the_words_of_the_signature_are_page_content_inside_its_frame() {
        let sample = sample::sword();
        let (scene, ..) = scene_of(&sample.record, &sample.input()).unwrap();
        let field = scene.signature.as_ref().unwrap();
        assert_eq!(scene.nodes[field.node.0].role, Role::Form);
        let [x, y, width, height] = field.bounds;
        let groups = scene.pages[field.page].groups.iter();
        let words: String = groups
            .filter(|group| group.node.is_some())
            .flat_map(|group| &group.draws)
            .filter_map(|draw| match draw {
                Draw::Text(text)
                    if (x..x + width).contains(&text.x) && (y..y + height).contains(&text.y) =>
                {
                    Some(text.text.as_str())
                }
                _ => None,
            })
            .collect();
        assert!(words.contains(sample::FINGERPRINT), "{words}");
        assert!(words.contains(&sample.record.issuer.name), "{words}");
    }
}
