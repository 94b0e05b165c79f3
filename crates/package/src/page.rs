//! The verifier page and the digests of the released ones.
//!
//! The page is one HTML file without network access. It is put together from the modules in `page/` of this crate, so that
//! nothing made by a tool lies in the repository; `.ci/page/bundle.mjs` makes the same bytes without Rust.

mod bundle;
#[cfg(test)]
mod tests;

use std::sync::OnceLock;

use tangmark_core::Digest;

/// Number of the page, raised when a page with other bytes is released.
pub const VERSION: u32 = 1;

/// Version and digest of every page that was released, the newest last.
pub const RELEASED: &[(u32, &str)] = &[(
    1,
    "daf3c315daddcf04c4c22d91c1da0d242e26a6c7a3bea4caf92578991e170365",
)];

/// What stands before the digest in the page; it stands there once.
const BEFORE_DIGEST: &str = "<code id=\"page-digest\">";

/// Digits of a digest.
const DIGITS: usize = 64;

/// What is known of a page by its bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// Byte for byte a page that was released.
    Released {
        /// Its version.
        version: u32,
    },
    /// Anything else.
    Other,
}

/// Returns the page, as it lies in packages.
pub fn page() -> &'static str {
    static PAGE: OnceLock<String> = OnceLock::new();
    PAGE.get_or_init(|| {
        let mut page = bundle::assemble();
        if let Some(place) = place_of_digest(page.as_bytes()) {
            let digest = Digest::of(page.as_bytes()).to_string();
            page.replace_range(place..place + DIGITS, &digest);
        }
        page
    })
}

/// Returns the digest that stands in the page: SHA-256 over the page with zeros in its place.
pub fn digest() -> &'static str {
    let page = page();
    place_of_digest(page.as_bytes())
        .and_then(|place| page.get(place..place + DIGITS))
        .unwrap_or_default()
}

/// Tells whether `bytes` are a page that was released.
pub fn known(bytes: &[u8]) -> Known {
    let Some(place) = place_of_digest(bytes) else {
        return Known::Other;
    };
    let mut zeroed = bytes.to_vec();
    let stated = zeroed[place..place + DIGITS].to_vec();
    zeroed[place..place + DIGITS].fill(b'0');
    let computed = Digest::of(&zeroed).to_string();
    RELEASED
        .iter()
        .find(|(_, released)| *released == computed && stated == released.as_bytes())
        .map_or(Known::Other, |(version, _)| Known::Released {
            version: *version,
        })
}

/// Returns where the 64 digits begin, when they stand once.
fn place_of_digest(bytes: &[u8]) -> Option<usize> {
    let mark = BEFORE_DIGEST.as_bytes();
    let mut places = bytes
        .windows(mark.len())
        .enumerate()
        .filter(|(_, window)| *window == mark)
        .map(|(place, _)| place + mark.len());
    let place = places.next()?;
    let digits = bytes.get(place..place + DIGITS)?;
    let plain = digits
        .iter()
        .all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'));
    (plain && places.next().is_none()).then_some(place)
}
