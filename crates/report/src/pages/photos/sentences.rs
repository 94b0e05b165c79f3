//! What is said of photos.

use tangmark_core::{
    Digest,
    record::{Photo, PhotoFile, Record, Term as _},
};

use super::{super::words, scale_bar::ScaleBar};
use crate::{
    Speech,
    jpeg::TRANSFORM,
    scene::Image,
    speech::{Pair, pair},
};

/// Numbers of the flaws that refer to a photo, as on the map.
pub(super) fn flaw_numbers(record: &Record, photo: &Photo) -> Vec<usize> {
    record
        .flaws
        .iter()
        .enumerate()
        .filter(|(_, flaw)| flaw.photos.contains(&photo.id))
        .map(|(index, _)| index + 1)
        .collect()
}

/// `flaws 1, 4`.
pub(super) fn flaws(speech: Speech, numbers: &[usize]) -> String {
    let numbers: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    let word = if numbers.len() == 1 { "flaw" } else { "flaws" };
    let between = words::comma(speech);
    format!(
        "{} {}",
        speech.text(&pair(word, "疵")),
        numbers.join(between)
    )
}

/// Why no picture is shown.
pub(super) fn not_shown(photo: &Photo) -> Pair {
    if photo.original_kept_private || !photo.withheld.is_empty() {
        pair(
            "This picture stays with the workshop.",
            "この写真は工房に留め置く。",
        )
    } else {
        pair(
            "This picture is not in this copy.",
            "この写真は本書にない。",
        )
    }
}

/// How files that are shown in place of originals were made.
pub(super) fn made(ids: &[String], way: &str) -> Pair {
    let japanese = match way.strip_prefix(TRANSFORM) {
        Some(rest) => {
            format!("撮影地、カメラ、注記、縮小画像の区分を除く。画像データは不変{rest}")
        }
        None => way.to_owned(),
    };
    pair(
        format!(
            "Shown in place of the original of {}: {way}.",
            ids.join(", ")
        ),
        format!("{}は原本に代わる写し：{japanese}。", ids.join("、")),
    )
}

/// Beginnings of the digests: of the original, and of what is shown in its place.
pub(super) fn digests(
    speech: Speech,
    photo: &Photo,
    file: Option<&PhotoFile>,
    image: Option<&Image>,
) -> Vec<String> {
    let original = photo
        .original
        .as_ref()
        .filter(|_| !photo.original_kept_private)
        .map(|original| original.digest);
    let shown = image
        .map(|image| image.digest)
        .or(file.map(|file| file.digest));
    let named = |name: &Pair, digest: &Digest| {
        format!("{} {}", speech.text(name), words::digest_prefix(digest))
    };
    match (original, shown) {
        (Some(original), Some(shown)) if original != shown => vec![
            named(&pair("original", "原本"), &original),
            named(&pair("shown", "掲載"), &shown),
        ],
        (_, Some(only)) | (Some(only), None) => vec![words::digest_prefix(&only)],
        (None, None) => Vec::new(),
    }
}

/// What a screen reader says of a photo.
pub(super) fn alternative(
    speech: Speech,
    photo: &Photo,
    bar: Option<&ScaleBar>,
    numbers: &[usize],
    missing: Option<&Pair>,
) -> String {
    let mut en = format!(
        "Photograph {} ({}): {}",
        photo.id,
        photo.shows.gloss(),
        photo.caption
    );
    let mut ja = format!(
        "写真 {}（{}）：{}",
        photo.id,
        photo.shows.japanese(),
        photo.caption
    );
    let end = |text: &mut String, stop: &str| {
        if !text.ends_with(['.', '。', '!', '?']) {
            text.push_str(stop);
        }
    };
    end(&mut en, ".");
    end(&mut ja, "。");
    if !numbers.is_empty() {
        en = format!("{en} It shows {}.", flaws(Speech::English, numbers));
        ja = format!("{ja}{}を写す。", flaws(Speech::Japanese, numbers));
    }
    if let Some(field) = &photo.field_width {
        let field = words::quantity(field);
        en = format!("{en} The picture is {field} wide on the blade.");
        ja = format!("{ja}画面の幅は刀身上で{field}。");
    }
    if let Some(bar) = bar {
        let (length, scale) = (bar.on_blade, bar.written());
        en = format!("{en} Shown at {scale} with a bar of {length} mm.");
        ja = format!("{ja}縮尺 {scale}、{length} mmの目盛りを添える。");
    }
    if let Some(missing) = missing {
        en = format!("{en} {}", missing.en);
        ja = format!("{ja}{}", missing.ja);
    }
    speech.text(&pair(en, ja))
}
