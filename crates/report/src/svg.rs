//! A scene as SVG, for pages on a screen.

use std::fmt::Write as _;

use tangmark_core::Digest;

use crate::{
    font::{Face, MM_PER_POINT, Weight},
    scene::{
        Colour, Draw, Group, ImageDraw, Language, PathDraw, Role, Scene, Segment, TextDraw, upright,
    },
    xml::escape,
};

/// Returns page `index` of a scene as a stand-alone SVG document, if there is such a page.
///
/// `picture` gives the address under which a picture's bytes are found.
pub fn page(scene: &Scene, index: usize, picture: &dyn Fn(&Digest) -> String) -> Option<String> {
    scene.fonts.scope(|| page_in_scope(scene, index, picture))
}

fn page_in_scope(
    scene: &Scene,
    index: usize,
    picture: &dyn Fn(&Digest) -> String,
) -> Option<String> {
    let page = scene.pages.get(index)?;
    let mut out = String::new();
    open(&mut out, [0.0, 0.0, page.width, page.height], None);
    let _ = write!(
        out,
        "<rect width=\"{}\" height=\"{}\" fill=\"#fff\"/>",
        number(page.width),
        number(page.height)
    );
    for group in &page.groups {
        open_group(&mut out, scene, group);
        draws(&mut out, &group.draws, picture);
        out.push_str("</g>\n");
    }
    out.push_str("</svg>\n");
    Some(out)
}

/// Returns one drawing as a stand-alone SVG document: the box `bounds` (x, y, width, height in mm)
/// of the given marks, with what it shows in words.
pub fn drawing(
    marks: &[Draw],
    bounds: [f64; 4],
    alternative: &str,
    picture: &dyn Fn(&Digest) -> String,
) -> String {
    let mut out = String::new();
    open(&mut out, bounds, Some(alternative));
    draws(&mut out, marks, picture);
    out.push_str("</svg>\n");
    out
}

fn open(out: &mut String, [x, y, width, height]: [f64; 4], alternative: Option<&str>) {
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{2}mm\" height=\"{3}mm\" viewBox=\"{0} {1} {2} {3}\"",
        number(x),
        number(y),
        number(width),
        number(height)
    );
    if let Some(alternative) = alternative {
        let _ = write!(out, " role=\"img\" aria-label=\"{}\"", escape(alternative));
    }
    out.push_str(">\n");
}

fn open_group(out: &mut String, scene: &Scene, group: &Group) {
    match group.node.and_then(|id| scene.nodes.get(id.0)) {
        None => out.push_str("<g aria-hidden=\"true\">"),
        Some(node) if node.role == Role::Figure => {
            let _ = write!(
                out,
                "<g role=\"img\" aria-label=\"{}\">",
                escape(node.alternative.as_deref().unwrap_or_default())
            );
        }
        Some(_) => out.push_str("<g>"),
    }
}

fn draws(out: &mut String, marks: &[Draw], picture: &dyn Fn(&Digest) -> String) {
    for mark in marks {
        match mark {
            Draw::Path(path) => path_element(out, path),
            Draw::Text(text) => text_element(out, text),
            Draw::Image(image) => image_element(out, image, picture),
        }
    }
}

fn path_element(out: &mut String, draw: &PathDraw) {
    out.push_str("<path d=\"");
    for segment in &draw.path.segments {
        let pair = |[x, y]: [f64; 2]| format!("{} {}", number(x), number(y));
        let _ = match *segment {
            Segment::Move(to) => write!(out, "M{}", pair(to)),
            Segment::Line(to) => write!(out, "L{}", pair(to)),
            Segment::Curve(a, b, to) => write!(out, "C{} {} {}", pair(a), pair(b), pair(to)),
            Segment::Close => write!(out, "Z"),
        };
    }
    let fill = draw.fill.map_or_else(|| "none".to_owned(), colour);
    let _ = write!(out, "\" fill=\"{fill}\"");
    if let Some(stroke) = &draw.stroke {
        let _ = write!(
            out,
            " stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\"",
            colour(stroke.colour),
            number(stroke.width)
        );
        if !stroke.dash.is_empty() {
            let dash: Vec<String> = stroke.dash.iter().map(|length| number(*length)).collect();
            let _ = write!(out, " stroke-dasharray=\"{}\"", dash.join(" "));
        }
    }
    out.push_str("/>");
}

fn text_element(out: &mut String, draw: &TextDraw) {
    let weight = if draw.weight == Weight::Bold {
        " font-weight=\"700\""
    } else {
        ""
    };
    let language = if draw.language == Language::Japanese {
        " lang=\"ja\""
    } else {
        ""
    };
    // Letters stay letters, so that they can be found, copied and read out; whatever font the viewer has, the text takes
    // the width it was set with.
    let mut length = String::new();
    if !draw.text.is_empty() {
        let width = Face::of(draw.weight).width(&draw.text, draw.size, draw.tabular);
        let _ = write!(
            length,
            " textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\"",
            number(width)
        );
    }
    let figures = if draw.tabular {
        " font-variant-numeric=\"tabular-nums\""
    } else {
        ""
    };
    let _ = write!(
        out,
        "<text x=\"{}\" y=\"{}\" font-family=\"'Fira Sans', 'BIZ UDPGothic', sans-serif\" font-size=\"{}\"{weight}{figures}{length} fill=\"{}\"{language} xml:space=\"preserve\">{}</text>",
        number(draw.x),
        number(draw.y),
        number(draw.size * MM_PER_POINT),
        colour(draw.colour),
        escape(&draw.text)
    );
}

fn image_element(out: &mut String, draw: &ImageDraw, picture: &dyn Fn(&Digest) -> String) {
    let turn = upright(draw.orientation);
    // The stored picture fills a unit square, which the matrix takes to the box.
    let matrix = [
        draw.width * turn.across[0],
        draw.height * turn.across[1],
        draw.width * turn.down[0],
        draw.height * turn.down[1],
        draw.x + draw.width * turn.origin[0],
        draw.y + draw.height * turn.origin[1],
    ];
    let matrix: Vec<String> = matrix.iter().map(|value| number(*value)).collect();
    let _ = write!(
        out,
        "<image width=\"1\" height=\"1\" preserveAspectRatio=\"none\" transform=\"matrix({})\" href=\"{}\"/>",
        matrix.join(" "),
        escape(&picture(&draw.digest))
    );
}

fn colour(Colour(r, g, b): Colour) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// A length with at most three decimals.
fn number(value: f64) -> String {
    let rounded = (value * 1000.0).round() / 1000.0;
    // Adding zero turns negative zero into zero.
    (rounded + 0.0).to_string()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::scene::{Path, RubyPart, Stroke};

    #[test]
    fn a_drawing_keeps_its_words_and_numbers() {
        let marks = [
            Draw::Path(PathDraw {
                path: Path::line(0.0, 1.0, 2.0, 3.000_04),
                fill: None,
                stroke: Some(Stroke::dashed(Colour(1, 2, 255), 0.2, 1.0, 0.5)),
            }),
            Draw::Text(TextDraw {
                x: 1.0,
                y: 2.0,
                size: 72.0,
                weight: Weight::Bold,
                colour: Colour::BLACK,
                language: Language::Japanese,
                tabular: false,
                ruby: RubyPart::None,
                text: "<鎬>".into(),
            }),
        ];
        let svg = drawing(
            &marks,
            [0.0, 0.0, 5.0, 6.0],
            "a\u{1} \"ridge\"",
            &|digest| digest.to_string(),
        );
        assert!(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"5mm\" height=\"6mm\" viewBox=\"0 0 5 6\" role=\"img\" aria-label=\"a &quot;ridge&quot;\">"), "{svg}");
        assert!(svg.contains("<path d=\"M0 1L2 3\" fill=\"none\" stroke=\"#0102ff\" stroke-width=\"0.2\" stroke-linejoin=\"round\" stroke-dasharray=\"1 0.5\"/>"), "{svg}");
        assert!(svg.contains("font-size=\"25.4\" font-weight=\"700\" textLength=\"51.765\" lengthAdjust=\"spacingAndGlyphs\" fill=\"#000000\" lang=\"ja\" xml:space=\"preserve\">&lt;鎬&gt;</text>"), "{svg}");
    }
}
