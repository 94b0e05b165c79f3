//! Which renderer made a report: the number of its pages' rules, and the fonts that it carries.

use std::fmt;
use std::sync::OnceLock;

use tangmark_core::Digest;

use crate::font;

/// The renderer, as it stands in every report. The same record and wishes give the same bytes from the same renderer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Renderer {
    /// [`crate::RENDERER_VERSION`].
    pub version: u32,
    /// SHA-256 over the SHA-256 of each font that comes with the renderer, in their order.
    pub fonts: Digest,
}

impl fmt::Display for Renderer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "Tangmark report renderer {}, fonts sha-256:{}",
            self.version, self.fonts
        )
    }
}

/// Returns the renderer of this program.
pub fn renderer() -> &'static Renderer {
    static RENDERER: OnceLock<Renderer> = OnceLock::new();
    RENDERER.get_or_init(|| {
        let fonts = digest_of_all(&font::BUNDLED);
        Renderer {
            version: crate::RENDERER_VERSION,
            fonts,
        }
    })
}

fn digest_of_all(files: &[&[u8]]) -> Digest {
    let digests: Vec<u8> = files
        .iter()
        .flat_map(|file| *Digest::of(file).as_bytes())
        .collect();
    Digest::of(&digests)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_renderer_names_its_number_and_its_fonts() {
        let text = renderer().to_string();
        let (number, fonts) = text.split_once(", fonts sha-256:").unwrap_or_default();
        assert_eq!(
            number,
            format!("Tangmark report renderer {}", crate::RENDERER_VERSION)
        );
        assert_eq!(fonts, renderer().fonts.to_string());
        assert_eq!(fonts.len(), 64);
    }

    #[test]
    fn another_font_or_another_order_is_another_renderer() {
        let digest = digest_of_all(&[b"one", b"two"]);
        assert_ne!(digest, digest_of_all(&[b"two", b"one"]));
        assert_ne!(digest, digest_of_all(&[b"one", b"twO"]));
        assert_ne!(digest, digest_of_all(&[b"onetwo"]));
    }
}
