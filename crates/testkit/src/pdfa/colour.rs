//! Rules about colour, pictures and transparency.

use lopdf::{Dictionary, Object, Stream};

use super::facts::{dictionary_of, text, unpacked};
use super::{Facts, Rule, Told};

/// Rules about colour, pictures and transparency.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "K1",
        clause: "ISO 19005-3, 6.2.3, from memory",
        says: "there is one output intent, GTS_PDFA1, with its profile under DestOutputProfile",
        check: intent,
    },
    Rule {
        id: "K2",
        clause: "ISO 19005-3, 6.2.3 and 6.2.4.2, and ICC.1:2010, 7.2, from memory",
        says: "colour profiles are ICC profiles up to version 4 of as many channels as stated",
        check: profiles,
    },
    Rule {
        id: "K3",
        clause: "ISO 19005-3, 6.2.4.3 (6.2.4.3-2 of a validator)",
        says: "device colours are those of the output intent: RGB and grey, no CMYK",
        check: device_colours,
    },
    Rule {
        id: "K4",
        clause: "ISO 19005-3, 6.2.8, from memory",
        says: "pictures are not interpolated and have no alternates",
        check: interpolation,
    },
    Rule {
        id: "K5",
        clause: "ISO 32000-1, 8.9.5, from memory, and a rule of this project",
        says: "a JPEG is as large and has as many channels as its dictionary says",
        check: pictures,
    },
    Rule {
        id: "K6",
        clause: "ISO 19005-3, 6.2.5, from memory",
        says: "graphics states hold no transfer function and no halftone of their own",
        check: states,
    },
    Rule {
        id: "K7",
        clause: "ISO 19005-3, 6.2.10, from memory; none at all: a rule of this project",
        says: "nothing is transparent",
        check: transparency,
    },
    Rule {
        id: "K8",
        clause: "ISO 19005-3, 6.2.9, from memory",
        says: "form XObjects refer to nothing outside, and there is no PostScript",
        check: forms,
    },
];

fn intent(facts: &Facts<'_>, told: &mut Told) {
    let intents = facts.array(facts.catalog(), "OutputIntents");
    let mut archival = 0;
    for intent in intents {
        let Some(intent) = dictionary_of(facts.follow(intent)) else {
            continue;
        };
        if facts.name(intent, "S") == Some(b"GTS_PDFA1") {
            archival += 1;
            if facts.stream(intent, "DestOutputProfile").is_none() {
                told.push("no profile under DestOutputProfile".to_owned());
            }
            if facts.string(intent, "OutputConditionIdentifier").is_none() {
                told.push("no OutputConditionIdentifier".to_owned());
            }
        }
    }
    if (archival, intents.len()) != (1, 1) {
        told.push(format!("{} intents, {archival} GTS_PDFA1", intents.len()));
    }
}

/// What is wrong with a profile; ICC.1:2010, 7.2, gives the header's fields (from memory).
fn profile_fault(stream: &Stream) -> Option<String> {
    let Ok(bytes) = unpacked(stream) else {
        return Some("cannot be unpacked".to_owned());
    };
    let Some(header) = bytes.get(..128) else {
        return Some(format!("{} bytes are no profile", bytes.len()));
    };
    let size = u32::from_be_bytes([header[0], header[1], header[2], header[3]]);
    let channels = match &header[16..20] {
        b"RGB " | b"Lab " => 3,
        b"GRAY" => 1,
        b"CMYK" => 4,
        _ => 0,
    };
    let stated = stream.dict.get(b"N").and_then(Object::as_i64).unwrap_or(0);
    if size as usize != bytes.len() {
        return Some(format!("{} bytes, {size} stated", bytes.len()));
    }
    if &header[36..40] != b"acsp" || header[8] > 4 {
        return Some(format!("signature or version {}", header[8]));
    }
    if channels != stated {
        return Some(format!("{channels} channels, N {stated}"));
    }
    if !matches!(&header[12..16], b"mntr" | b"prtr" | b"scnr" | b"spac") {
        return Some(format!("class `{}`", header[12..16].escape_ascii()));
    }
    None
}

/// Colour spaces of a picture or of resources, each as it is written.
fn colour_spaces<'f>(facts: &'f Facts<'_>) -> Vec<(String, &'f Object)> {
    let mut found = facts.resources("ColorSpace");
    for (number, stream) in facts.streams() {
        if let Some(space) = facts.get(&stream.dict, "ColorSpace") {
            found.push((format!("object {number}"), space));
        }
    }
    found
}

fn profiles(facts: &Facts<'_>, told: &mut Told) {
    let mut profiles: Vec<(String, &Stream)> = Vec::new();
    for intent in facts.array(facts.catalog(), "OutputIntents") {
        if let Some(intent) = dictionary_of(facts.follow(intent))
            && let Some(profile) = facts.stream(intent, "DestOutputProfile")
        {
            profiles.push(("output intent".to_owned(), profile));
        }
    }
    for (place, space) in colour_spaces(facts) {
        if let Object::Array(items) = space
            && let [Object::Name(kind), profile] = items.as_slice()
            && kind == b"ICCBased"
        {
            match facts.follow(profile).as_stream() {
                Ok(profile) => profiles.push((place, profile)),
                Err(_) => told.push(format!("{place}: no profile")),
            }
        }
    }
    for (place, profile) in profiles {
        if let Some(fault) = profile_fault(profile) {
            told.push(format!("{place}: {fault}"));
        }
    }
}

fn device_colours(facts: &Facts<'_>, told: &mut Told) {
    let mut used: Vec<(String, String)> = Vec::new();
    for sheet in &facts.sheets {
        used.extend(
            sheet
                .content
                .colours
                .iter()
                .map(|colour| (sheet.name.clone(), colour.clone())),
        );
    }
    for (place, space) in colour_spaces(facts) {
        match space {
            Object::Name(name) => used.push((place, text(name))),
            Object::Array(items) => {
                if let Some(Object::Name(name)) = items.first() {
                    used.push((place, text(name)));
                }
            }
            _ => {}
        }
    }
    let known = ["DeviceRGB", "DeviceGray", "ICCBased"];
    for (place, colour) in used {
        let named = facts
            .resources("ColorSpace")
            .iter()
            .any(|(name, _)| name.ends_with(&format!("/{colour}")));
        if !named && !known.contains(&colour.as_str()) {
            told.push(format!("{place}: {colour}"));
        }
    }
}

fn images<'f>(facts: &'f Facts<'_>) -> impl Iterator<Item = (u32, &'f Stream)> {
    facts
        .streams()
        .filter(|(_, stream)| facts.name(&stream.dict, "Subtype") == Some(b"Image"))
}

fn interpolation(facts: &Facts<'_>, told: &mut Told) {
    for (number, image) in images(facts) {
        let interpolated = facts
            .get(&image.dict, "Interpolate")
            .and_then(|object| object.as_bool().ok());
        if interpolated == Some(true) || image.dict.has(b"Alternates") || image.dict.has(b"OPI") {
            told.push(format!("object {number}"));
        }
    }
}

fn channels(facts: &Facts<'_>, image: &Dictionary) -> Option<i64> {
    match facts.get(image, "ColorSpace")? {
        Object::Name(name) => match name.as_slice() {
            b"DeviceGray" => Some(1),
            b"DeviceRGB" => Some(3),
            b"DeviceCMYK" => Some(4),
            _ => None,
        },
        Object::Array(items) => {
            let profile = facts.follow(items.get(1)?).as_stream().ok()?;
            facts.integer(&profile.dict, "N")
        }
        _ => None,
    }
}

fn pictures(facts: &Facts<'_>, told: &mut Told) {
    for (number, image) in images(facts) {
        if image.filters().unwrap_or_default() != [b"DCTDecode"] {
            continue;
        }
        let Some(frame) = frame(&image.content) else {
            told.push(format!("object {number} is no JPEG"));
            continue;
        };
        let [width, height, bits] =
            ["Width", "Height", "BitsPerComponent"].map(|key| facts.integer(&image.dict, key));
        if [width, height, bits] != [Some(frame.width), Some(frame.height), Some(frame.bits)] {
            told.push(format!(
                "object {number}: {width:?} by {height:?}, it is {frame:?}"
            ));
        }
        // CMYK is another rule's affair.
        let stated = channels(facts, &image.dict).filter(|channels| *channels < 4);
        if stated.is_some_and(|stated| stated != frame.channels) {
            told.push(format!(
                "object {number}: {stated:?} channels, it is {frame:?}"
            ));
        }
    }
}

/// What the frame header of a JPEG says.
#[derive(Debug)]
struct Frame {
    bits: i64,
    height: i64,
    width: i64,
    channels: i64,
}

/// Reads the frame header of a JPEG (ITU-T T.81, B.2.2).
fn frame(bytes: &[u8]) -> Option<Frame> {
    let short = |at: usize| Some(u16::from_be_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]));
    let mut at = 2;
    loop {
        let marker = bytes.get(at + 1)?;
        if matches!(marker, 0xc0..=0xc3 | 0xc5..=0xc7 | 0xc9..=0xcb | 0xcd..=0xcf) {
            return Some(Frame {
                bits: i64::from(*bytes.get(at + 4)?),
                height: i64::from(short(at + 5)?),
                width: i64::from(short(at + 7)?),
                channels: i64::from(*bytes.get(at + 9)?),
            });
        }
        at += 2 + usize::from(short(at + 2)?);
    }
}

fn graphics_states<'f>(facts: &'f Facts<'_>) -> Vec<(String, &'f Dictionary)> {
    facts
        .resources("ExtGState")
        .into_iter()
        .filter_map(|(place, object)| Some((place, dictionary_of(object)?)))
        .collect()
}

fn states(facts: &Facts<'_>, told: &mut Told) {
    for (place, state) in graphics_states(facts) {
        for key in ["TR", "HT", "HTP", "HTO"] {
            if state.has(key.as_bytes()) {
                told.push(format!("{place}: /{key}"));
            }
        }
        if facts
            .get(state, "TR2")
            .is_some_and(|value| value.as_name().ok() != Some(b"Default"))
        {
            told.push(format!("{place}: /TR2"));
        }
    }
}

fn transparency(facts: &Facts<'_>, told: &mut Told) {
    for (place, state) in graphics_states(facts) {
        for key in ["ca", "CA"] {
            let alpha = facts
                .get(state, key)
                .and_then(|value| value.as_float().ok());
            if alpha.is_some_and(|alpha| alpha < 1.0) {
                told.push(format!("{place}: /{key} {alpha:?}"));
            }
        }
        let mode = facts.name(state, "BM").unwrap_or(b"Normal");
        if !matches!(mode, b"Normal" | b"Compatible") {
            told.push(format!("{place}: /BM {}", text(mode)));
        }
        if facts
            .get(state, "SMask")
            .is_some_and(|mask| mask.as_name().ok() != Some(b"None"))
        {
            told.push(format!("{place}: /SMask"));
        }
    }
    for (number, stream) in facts.streams() {
        if facts.get(&stream.dict, "SMask").is_some() || stream.dict.has(b"SMaskInData") {
            told.push(format!("object {number}: /SMask"));
        }
    }
    for (number, dictionary) in facts.dictionaries() {
        let group = facts.dictionary(dictionary, "Group");
        if group.is_some_and(|group| facts.name(group, "S") == Some(b"Transparency")) {
            told.push(format!("object {number}: a transparency group"));
        }
    }
}

fn forms(facts: &Facts<'_>, told: &mut Told) {
    for (number, stream) in facts.streams() {
        match facts.name(&stream.dict, "Subtype") {
            Some(b"PS") => told.push(format!("object {number}: PostScript")),
            Some(b"Form") => {
                for key in ["Ref", "OPI", "PS", "Subtype2"] {
                    if stream.dict.has(key.as_bytes()) {
                        told.push(format!("object {number}: /{key}"));
                    }
                }
            }
            _ => {}
        }
    }
}
