#![allow(clippy::unwrap_used)]
use std::collections::BTreeMap;

use jpeg_encoder::ColorType;
use serde_json::{Value, json};
use tangmark_core::Digest;

use crate::{
    RenderInput, Speech,
    jpeg::{
        TRANSFORM, copy,
        tests::files::{
            SECRETS, colour_profile, holds, picture, profile, profile_segments, talkative,
            with_segments,
        },
    },
    render,
    sample::{self, Sample},
    scene::{Draw, ImageDraw, Role, Scene, upright},
    scene_of,
};

/// The sample with other files behind its photos.
fn with_files(files: &[Vec<u8>], orientation: u8) -> Sample {
    let base = sample::sword();
    let mut value = serde_json::to_value(&base.record).unwrap();
    let photos: Vec<Value> = files
        .iter()
        .enumerate()
        .map(|(index, file)| {
            let header = crate::jpeg::header(file).unwrap();
            json!({
                "id": format!("p-{index}"), "shows": "point", "caption": format!("Point {index}"),
                "original_kept_private": false, "original": {
                    "digest": Digest::of(file).to_string(), "length": file.len(), "media_type": "image/jpeg",
                    "width_px": header.width, "height_px": header.height, "orientation": orientation,
                },
            })
        })
        .collect();
    value["photos"] = photos.into();
    for flaw in value["flaws"].as_array_mut().unwrap() {
        flaw.as_object_mut().unwrap().remove("photos");
    }
    Sample {
        photos: files
            .iter()
            .map(|file| (Digest::of(file), file.clone()))
            .collect(),
        ..Sample::of(&value)
    }
}

fn scene(sample: &Sample, speech: Speech) -> Scene {
    let input = RenderInput {
        speech,
        ..sample.input()
    };
    scene_of(&sample.record, &input).unwrap().0
}

fn images(scene: &Scene) -> Vec<&ImageDraw> {
    scene
        .pages
        .iter()
        .flat_map(|page| &page.groups)
        .flat_map(|group| &group.draws)
        .filter_map(|draw| match draw {
            Draw::Image(image) => Some(image),
            _ => None,
        })
        .collect()
}

fn figures(scene: &Scene) -> Vec<&str> {
    scene
        .nodes
        .iter()
        .filter(|node| node.role == Role::Figure)
        .filter_map(|node| node.alternative.as_deref())
        .filter(|text| text.starts_with("Photograph") || text.starts_with("写真"))
        .collect()
}

#[test]
fn a_report_holds_the_picture_and_nothing_a_camera_wrote() {
    let bare = picture(64, 40, ColorType::Rgb, false);
    let file = talkative(&bare);
    let sample = with_files(std::slice::from_ref(&file), 1);
    let pdf = render(&sample.record, &sample.input()).unwrap().pdf;
    for secret in SECRETS {
        assert!(!holds(&pdf, secret), "{secret}");
    }
    // The coded picture stands in the file as the camera wrote it.
    assert!(memchr::memmem::find(&pdf, &bare).is_some());
    let scene = scene(&sample, Speech::English);
    let copy = Digest::of(&bare);
    assert_eq!(scene.images[0].digest, copy);
    assert_eq!(scene.images[0].left_out.as_deref(), Some(TRANSFORM));
    let words = crate::pages::tests::words(&scene);
    let prefix = |digest: &Digest| crate::pages::words::digest_prefix(digest);
    for said in [
        format!("original {}", prefix(&Digest::of(&file))),
        format!("shown {}", prefix(&copy)),
        format!("Shown in place of the original of p-0: {TRANSFORM}."),
    ] {
        assert!(
            words.replace('\u{a0}', " ").contains(&said),
            "{said}: {words}"
        );
    }
}

#[test]
fn a_file_made_from_the_original_is_shown_in_its_place() {
    let bare = picture(64, 40, ColorType::Rgb, false);
    let file = talkative(&bare);
    let plain = with_files(std::slice::from_ref(&file), 6);
    let mut value = serde_json::to_value(&plain.record).unwrap();
    let mut made = value["photos"][0]["original"].clone();
    made["digest"] = Digest::of(&bare).to_string().into();
    made["length"] = bare.len().into();
    value["photos"][0]["derivatives"] = json!([{ "file": made, "transform": TRANSFORM }]);
    let both = Sample {
        photos: BTreeMap::from([
            (Digest::of(&file), file.clone()),
            (Digest::of(&bare), bare.clone()),
        ]),
        ..Sample::of(&value)
    };
    let listed = scene(&both, Speech::English);
    assert_eq!(listed.images.len(), 1);
    assert_eq!(listed.images[0].left_out, None);
    // The same picture on the same pages as when the copy is made for the report.
    let made_now = scene(&plain, Speech::English);
    assert_eq!(listed.images[0].bytes, made_now.images[0].bytes);
    assert_eq!(images(&listed), images(&made_now));
    // With the derivative away the original is copied.
    let original_only = Sample {
        photos: BTreeMap::from([(Digest::of(&file), file)]),
        ..Sample::of(&value)
    };
    assert_eq!(
        scene(&original_only, Speech::English).images[0].bytes,
        listed.images[0].bytes
    );
}

#[test]
fn each_orientation_puts_the_stored_corner_where_it_belongs() {
    let file = picture(60, 20, ColorType::Rgb, false);
    // Where the stored upper left corner lies in the upright picture (Exif, tag 0x0112; from memory).
    let corners = [
        (1, [0.0, 0.0]),
        (2, [1.0, 0.0]),
        (3, [1.0, 1.0]),
        (4, [0.0, 1.0]),
        (5, [0.0, 0.0]),
        (6, [1.0, 0.0]),
        (7, [1.0, 1.0]),
        (8, [0.0, 1.0]),
    ];
    for (orientation, corner) in corners {
        let sample = with_files(std::slice::from_ref(&file), orientation);
        let scene = scene(&sample, Speech::English);
        let drawn = images(&scene)[0];
        assert_eq!(drawn.orientation, orientation);
        let proportion = if orientation > 4 { 1.0 / 3.0 } else { 3.0 };
        assert!(
            (drawn.width / drawn.height - proportion).abs() < 1e-9,
            "{orientation}"
        );
        let origin = upright(orientation).origin;
        assert!(
            origin.iter().zip(corner).all(|(a, b)| (a - b).abs() < 1e-9),
            "{orientation}: {origin:?}"
        );
        // The PDF's matrix takes the stored upper left corner (0, 1) to the same place on the page.
        let pdf = render(&sample.record, &sample.input()).unwrap().pdf;
        let placed = matrix(&pdf);
        let (x, y) = (placed[2] + placed[4], placed[3] + placed[5]);
        let page = scene.pages[0].height * 72.0 / 25.4;
        let points = |mm: f64| mm * 72.0 / 25.4;
        let expected = [
            points(drawn.x + corner[0] * drawn.width),
            page - points(drawn.y + corner[1] * drawn.height),
        ];
        assert!(
            (x - expected[0]).abs() < 0.01 && (y - expected[1]).abs() < 0.01,
            "{orientation}: {x} {y} {expected:?}"
        );
        let mirrored = matches!(orientation, 2 | 4 | 5 | 7);
        let determinant = placed[0] * placed[3] - placed[1] * placed[2];
        assert_eq!(determinant < 0.0, mirrored, "{orientation}");
    }
}

/// The matrix before the first picture in the unpacked pages of a PDF.
fn matrix(pdf: &[u8]) -> [f64; 6] {
    let document = lopdf::Document::load_mem(pdf).unwrap();
    for page in document.get_pages().into_values() {
        let content = document.get_page_content(page);
        let content = lopdf::content::Content::decode(&content).unwrap();
        let operations = &content.operations;
        if let Some(shown) = operations.iter().position(|one| one.operator == "Do") {
            let placed = operations[..shown]
                .iter()
                .rev()
                .find(|one| one.operator == "cm")
                .unwrap();
            let numbers: Vec<f64> = placed
                .operands
                .iter()
                .map(|number| f64::from(number.as_float().unwrap()))
                .collect();
            return numbers.try_into().unwrap();
        }
    }
    panic!("no picture");
}

#[test]
fn colours_follow_the_profile_of_each_picture() {
    let bare = picture(32, 32, ColorType::Rgb, false);
    let with = |profile: &[u8]| with_segments(&bare, &profile_segments(profile, 2));
    let grey_profile = profile(*b"GRAY", &[*b"kTRC"], 9);
    let mut broken = colour_profile(3);
    broken[8] = 5;
    let grey = with_segments(
        &picture(32, 32, ColorType::Luma, false),
        &profile_segments(&grey_profile, 1),
    );
    let second = with_segments(
        &picture(16, 48, ColorType::Rgb, false),
        &profile_segments(&colour_profile(1), 1),
    );
    let files = [
        bare.clone(),
        with(&colour_profile(1)),
        with(&colour_profile(2)),
        grey,
        with(&broken),
        second,
    ];
    let sample = with_files(&files, 1);
    let pdf = render(&sample.record, &sample.input()).unwrap().pdf;
    let document = lopdf::Document::load_mem(&pdf).unwrap();
    let mut spaces = BTreeMap::new();
    let mut profiles = BTreeMap::new();
    for object in document.objects.values() {
        let Ok(stream) = object.as_stream() else {
            continue;
        };
        if !stream.dict.has_type(b"XObject")
            || stream.dict.get(b"Subtype").unwrap().as_name().unwrap() != b"Image"
        {
            continue;
        }
        let space = match stream.dict.get(b"ColorSpace").unwrap() {
            lopdf::Object::Name(name) => String::from_utf8(name.clone()).unwrap(),
            lopdf::Object::Array(parts) => {
                assert_eq!(parts[0].as_name().unwrap(), b"ICCBased");
                let id = parts[1].as_reference().unwrap();
                let profile = document.get_object(id).unwrap().as_stream().unwrap();
                let bytes = profile
                    .decompressed_content()
                    .unwrap_or_else(|_| profile.content.clone());
                let components = profile.dict.get(b"N").unwrap().as_i64().unwrap();
                profiles.insert(id, bytes.clone());
                format!("{components} by profile {}", bytes[bytes.len() - 1])
            }
            other => panic!("{other:?}"),
        };
        spaces.insert(Digest::of(&stream.content), space);
    }
    let found: Vec<&str> = files
        .iter()
        .map(|file| spaces[&Digest::of(&copy(file).unwrap().bytes)].as_str())
        .collect();
    // The broken profile is left out, so the last picture but one is the first one; equal profiles are written once.
    assert_eq!(
        found,
        [
            "DeviceRGB",
            "3 by profile 1",
            "3 by profile 2",
            "1 by profile 9",
            "DeviceRGB",
            "3 by profile 1"
        ]
    );
    assert_eq!(profiles.len(), 3);
    assert!(profiles.values().any(|bytes| *bytes == colour_profile(1)));
}

#[test]
fn words_for_those_who_cannot_see_name_scale_and_flaws() {
    let sample = sample::sword();
    let mut value = serde_json::to_value(&sample.record).unwrap();
    value["flaws"][2]["photos"] = json!(["rust-1"]);
    value["flaws"][4]["photos"] = json!(["rust-1", "whole-1"]);
    let sample = Sample {
        photos: sample.photos,
        ..Sample::of(&value)
    };
    let scene_en = scene(&sample, Speech::English);
    let rust: Vec<&str> = figures(&scene_en)
        .into_iter()
        .filter(|text| text.contains("rust-1"))
        .collect();
    // In the sheet and larger: the same picture, another scale.
    assert_eq!(rust.len(), 2, "{rust:?}");
    for text in &rust {
        assert!(
            text.starts_with("Photograph rust-1 (flaw): Active rust on the back. It shows flaws 3, 5. The picture is 120")
                && text.contains("with a bar of "),
            "{text}"
        );
    }
    let scene_ja = scene(&sample, Speech::Japanese);
    let rust = figures(&scene_ja)
        .into_iter()
        .find(|text| text.contains("rust-1"))
        .unwrap();
    assert!(
        rust.starts_with("写真 rust-1（疵）：Active rust on the back。疵 3、5を写す。"),
        "{rust}"
    );
    let private = figures(&scene_en)
        .into_iter()
        .find(|text| text.contains("tang-1"))
        .unwrap();
    assert_eq!(
        private,
        "Photograph tang-1 (tang): Tang, ura. This picture stays with the workshop."
    );
}

#[test]
fn all_photos_stand_in_the_sheet_and_the_important_ones_larger() {
    let sample = sample::sword();
    let scene = scene(&sample, Speech::English);
    let widths = |id: &str| -> Vec<f64> {
        let digest = sample
            .record
            .photos
            .iter()
            .find(|photo| photo.id.as_str() == id)
            .and_then(|photo| photo.original.as_ref())
            .map(|file| file.digest)
            .unwrap();
        images(&scene)
            .into_iter()
            .filter(|image| image.digest == digest)
            .map(|image| image.width)
            .collect()
    };
    for id in ["whole-1", "point-1", "rust-1"] {
        let widths = widths(id);
        assert_eq!(widths.len(), 2, "{id}");
        assert!(widths[0] < 52.0 && widths[1] > 75.0, "{id}: {widths:?}");
    }
    // The long picture takes the whole width.
    assert!(widths("whole-1")[1] > 150.0);
    // The same bytes are embedded once.
    assert_eq!(scene.images.len(), 3);
}
