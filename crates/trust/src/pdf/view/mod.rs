//! What the pages of a report hold: their words, their pictures and who set them. It judges nothing.
//!
//! Read with the strict reader and from the forms that reports have. Words are those that the fonts' own tables give to
//! the codes on the page, which is what copying and searching see; whether a glyph looks like its character is not asked.
//!
//! Source: ISO 32000-1, 7.7.3 (pages), 9.10 (extraction of text), 14.3.3 (document information); from memory.

mod text;

use std::collections::{BTreeMap, BTreeSet};
use std::io::Read as _;

use flate2::read::ZlibDecoder;

use super::{
    file::{self, File},
    problem::PDF_LIMIT,
    syntax::{Dictionary, Object, name},
};

/// The most bytes of one unpacked page or table. A page of a report has some hundred thousand.
const STREAM_LIMIT: u64 = 32 << 20;
/// The most pages that are looked at; a report has some dozens.
const PAGE_LIMIT: usize = 2_000;

/// The pages of a report and what it says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PdfView {
    /// The program that set the pages (`Producer`).
    pub producer: Option<String>,
    /// The title.
    pub title: Option<String>,
    /// The pages in order.
    pub pages: Vec<PageView>,
    /// Names of the fonts, without the letters that mark a reduced font.
    pub fonts: BTreeSet<String>,
    /// Files of the pictures, each once, as they lie in the report.
    pub pictures: BTreeSet<Vec<u8>>,
}

/// One page.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PageView {
    /// Width and height of the paper in thousandths of a point.
    pub size: [i64; 2],
    /// The words in the order in which they are drawn, a line for each run of text.
    pub words: String,
    /// The drawing commands.
    pub drawn: Vec<u8>,
}

/// What a report says of itself; its pages are not looked at, and may be of any form.
pub fn heading(pdf: &[u8]) -> PdfView {
    if pdf.len() > PDF_LIMIT {
        return PdfView::default();
    }
    file::read(pdf).map_or_else(|_| PdfView::default(), |file| heading_of(&file))
}

fn heading_of(file: &File<'_>) -> PdfView {
    let mut view = PdfView::default();
    if let Some(information) = file.dictionary(&file.trailer, "Info") {
        view.producer = words_of(file, information, "Producer");
        view.title = words_of(file, information, "Title");
    }
    view
}

/// Looks at the pages of a PDF; none when they are not of the form that reports have.
pub fn view(pdf: &[u8]) -> Option<PdfView> {
    if pdf.len() > PDF_LIMIT {
        return None;
    }
    let file = file::read(pdf).ok()?;
    let mut view = heading_of(&file);
    let mut tables = BTreeMap::new();
    let catalog = file.dictionary(&file.trailer, "Root")?;
    for page in pages(&file, file.dictionary(catalog, "Pages")?)? {
        let seen = look_at(&file, page, &mut tables, &mut view)?;
        view.pages.push(seen);
    }
    Some(view)
}

/// A text string: UTF-16 with its mark, or plain characters.
fn words_of(file: &File<'_>, dictionary: &Dictionary, key: &str) -> Option<String> {
    match file.get(dictionary, key)? {
        Object::Text(text) => Some(text::string(&text.bytes)),
        _ => None,
    }
}

/// The pages below a node of the tree, in order.
fn pages<'a>(file: &'a File<'_>, root: &'a Dictionary) -> Option<Vec<&'a Dictionary>> {
    let mut found = Vec::new();
    let mut open = vec![root];
    // A tree that bites its tail has no more nodes than this either.
    let mut left = file.objects.len() + 1;
    while let Some(node) = open.pop() {
        left = left.checked_sub(1)?;
        if name(node, "Type") == Some(b"Page") {
            found.push(node);
            if found.len() > PAGE_LIMIT {
                return None;
            }
            continue;
        }
        let kids = file.array(node, "Kids")?;
        for kid in kids.iter().rev() {
            match file.follow(kid)? {
                Object::Dictionary(kid) => open.push(kid),
                _ => return None,
            }
        }
        if open.len() > PAGE_LIMIT {
            return None;
        }
    }
    Some(found)
}

fn look_at(
    file: &File<'_>,
    page: &Dictionary,
    tables: &mut BTreeMap<u32, text::Table>,
    view: &mut PdfView,
) -> Option<PageView> {
    let size = match file.array(page, "MediaBox")? {
        [left, bottom, right, top] => {
            let [left, bottom, right, top] = [left, bottom, right, top].map(thousandths);
            [right?.checked_sub(left?)?, top?.checked_sub(bottom?)?]
        }
        _ => return None,
    };
    let resources = file.dictionary(page, "Resources")?;
    let mut fonts = BTreeMap::new();
    for (key, font) in file.dictionary(resources, "Font").into_iter().flatten() {
        let Some(Object::Dictionary(font)) = file.follow(font) else {
            return None;
        };
        let base = String::from_utf8_lossy(name(font, "BaseFont")?).into_owned();
        let whole = base
            .split_once('+')
            .map_or(base.as_str(), |(_, whole)| whole);
        view.fonts.insert(whole.to_owned());
        let Some(Object::Reference(table)) = font.get(b"ToUnicode".as_slice()) else {
            return None;
        };
        if !tables.contains_key(table) {
            tables.insert(*table, text::Table::read(&unpacked(file, *table)?));
        }
        fonts.insert(key.clone(), *table);
    }
    for picture in file.dictionary(resources, "XObject").into_iter().flatten() {
        if let Object::Reference(number) = picture.1
            && let Some(bytes) = jpeg(file, *number)
        {
            view.pictures.insert(bytes.to_vec());
        }
    }
    let Some(Object::Reference(content)) = page.get(b"Contents".as_slice()) else {
        return None;
    };
    let drawn = unpacked(file, *content)?;
    let words = text::words(&drawn, |font| {
        fonts.get(font).and_then(|table| tables.get(table))
    });
    Some(PageView { size, words, drawn })
}

fn thousandths(number: &Object) -> Option<i64> {
    match number {
        Object::Integer(value) => value.checked_mul(1000),
        Object::Real(thousandths) => Some(*thousandths),
        _ => None,
    }
}

/// The bytes of a picture that is kept as a JPEG file.
fn jpeg<'a>(file: &File<'a>, number: u32) -> Option<&'a [u8]> {
    let object = file.objects.get(&number)?;
    let Object::Dictionary(dictionary) = &object.value else {
        return None;
    };
    let is_jpeg = dictionary
        .get(b"Filter".as_slice())
        .is_some_and(|filter| filter.is_name("DCTDecode"));
    let place = object.stream.clone().filter(|_| is_jpeg)?;
    file.bytes.get(place)
}

/// The bytes of a stream, unpacked where it is packed.
fn unpacked(file: &File<'_>, number: u32) -> Option<Vec<u8>> {
    let object = file.objects.get(&number)?;
    let Object::Dictionary(dictionary) = &object.value else {
        return None;
    };
    let bytes = file.bytes.get(object.stream.clone()?)?;
    match dictionary.get(b"Filter".as_slice()) {
        None => Some(bytes.to_vec()),
        Some(filter) if filter.is_name("FlateDecode") => {
            let mut plain = Vec::new();
            let mut decoder = ZlibDecoder::new(bytes).take(STREAM_LIMIT + 1);
            decoder.read_to_end(&mut plain).ok()?;
            (u64::try_from(plain.len()).ok()? <= STREAM_LIMIT).then_some(plain)
        }
        Some(_) => None,
    }
}

#[cfg(test)]
mod tests;
