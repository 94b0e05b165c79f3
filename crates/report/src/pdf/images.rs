//! Pictures as objects of the file: their bytes as they are, their colours as their profile says.

use std::collections::BTreeMap;

use lopdf::{Document, Object, ObjectId, Stream, dictionary};
use printpdf::{DictItem, ExternalStream, ExternalXObject, XObject, XObjectId, XObjectMap};

use super::{PdfError, image_name};
use crate::scene::{Image, Scene};

/// Hands the pictures over to printpdf.
pub(super) fn add(scene: &Scene, map: &mut XObjectMap) {
    for (index, image) in scene.images.iter().enumerate() {
        let stream = ExternalStream {
            dict: image_dictionary(image),
            content: image.bytes.to_vec(),
            compress: false,
        };
        let external = ExternalXObject {
            stream,
            width: None,
            height: None,
            dpi: None,
        };
        map.map
            .insert(XObjectId(image_name(index)), XObject::External(external));
    }
}

/// The dictionary under which JPEG bytes are embedded as they are.
fn image_dictionary(image: &Image) -> BTreeMap<String, DictItem> {
    let name = |text: &str| DictItem::Name(text.as_bytes().to_vec());
    let space = if image.header.components == 1 {
        "DeviceGray"
    } else {
        "DeviceRGB"
    };
    BTreeMap::from([
        ("Type".to_owned(), name("XObject")),
        ("Subtype".to_owned(), name("Image")),
        (
            "Width".to_owned(),
            DictItem::Int(i64::from(image.header.width)),
        ),
        (
            "Height".to_owned(),
            DictItem::Int(i64::from(image.header.height)),
        ),
        ("ColorSpace".to_owned(), name(space)),
        ("BitsPerComponent".to_owned(), DictItem::Int(8)),
        ("Filter".to_owned(), name("DCTDecode")),
    ])
}

/// Gives each picture that has a colour profile the colour space of that profile; equal profiles are written once.
///
/// Source: ISO 32000-1, 8.6.5.5.
pub(super) fn add_profiles(
    document: &mut Document,
    scene: &Scene,
    page: ObjectId,
) -> Result<(), PdfError> {
    let with_profile = scene
        .images
        .iter()
        .enumerate()
        .filter_map(|(index, image)| {
            let profile = image.profile.as_deref()?;
            Some((index, image.header.components, profile))
        });
    let mut written: BTreeMap<&[u8], ObjectId> = BTreeMap::new();
    for (index, components, profile) in with_profile {
        let picture = picture(document, page, index)?;
        let profile = *written.entry(profile).or_insert_with(|| {
            let dictionary = dictionary! { "N" => i64::from(components) };
            document.add_object(Stream::new(dictionary, profile.to_vec()))
        });
        let space = vec!["ICCBased".into(), Object::Reference(profile)];
        let stream = document.get_object_mut(picture)?.as_stream_mut()?;
        stream.dict.set("ColorSpace", space);
    }
    Ok(())
}

/// Finds the object of a picture by its name among the resources of a page.
fn picture(document: &Document, page: ObjectId, index: usize) -> Result<ObjectId, PdfError> {
    let mut at = document.get_object(page)?;
    for key in ["Resources", "XObject"] {
        at = document.dereference(at.as_dict()?.get(key.as_bytes())?)?.1;
    }
    let name = image_name(index);
    Ok(at.as_dict()?.get(name.as_bytes())?.as_reference()?)
}
