//! Which colour profiles stay.

use jpeg_encoder::ColorType;

use super::files::{colour_profile, picture, profile, profile_segments, with_segments};
use crate::jpeg::copy;

fn fault(colour: ColorType, profile: &[u8]) -> String {
    let file = with_segments(
        &picture(16, 16, colour, false),
        &profile_segments(profile, 1),
    );
    let copied = copy(&file).unwrap();
    assert_eq!(copied.profile, None);
    assert_eq!(&*copied.bytes, picture(16, 16, colour, false).as_slice());
    copied.profile_left_out.unwrap().to_string()
}

#[test]
fn a_sound_profile_stays_in_its_parts_and_in_order() {
    let profile = colour_profile(1);
    let bare = picture(16, 16, ColorType::Rgb, false);
    let segments = profile_segments(&profile, 3);
    let file = with_segments(&bare, &segments);
    let copied = copy(&file).unwrap();
    assert_eq!(copied.profile.as_deref(), Some(profile.as_slice()));
    assert!(!copied.differs());
    let mixed = [
        segments[2].clone(),
        segments[0].clone(),
        segments[1].clone(),
    ];
    assert_eq!(&*copy(&with_segments(&bare, &mixed)).unwrap().bytes, file);
}

#[test]
fn grey_pictures_keep_grey_profiles() {
    let profile = profile(*b"GRAY", &[*b"kTRC"], 1);
    let file = with_segments(
        &picture(16, 16, ColorType::Luma, true),
        &profile_segments(&profile, 1),
    );
    assert_eq!(copy(&file).unwrap().profile, Some(profile));
}

#[test]
fn unsuitable_profiles_are_left_out_with_the_reason() {
    let sound = colour_profile(1);
    let changed = |at: usize, byte: u8| {
        let mut profile = sound.clone();
        profile[at] = byte;
        fault(ColorType::Rgb, &profile)
    };
    assert_eq!(
        changed(8, 5),
        "is of version 5, versions 2 to 4 are allowed"
    );
    assert_eq!(changed(36, b'x'), "is damaged");
    assert_eq!(changed(0, 0x7f), "is damaged");
    assert_eq!(changed(64, 1), "is damaged");
    assert_eq!(changed(131, 200), "is damaged");
    assert_eq!(changed(136, 0xff), "is damaged");
    assert_eq!(
        changed(12, b'l'),
        "is none of a camera, screen, printer or colour space"
    );
    assert_eq!(changed(132, b'x'), "lacks the curves or tables it needs");
    assert_eq!(
        fault(ColorType::Luma, &sound),
        "is for other colours than the picture has"
    );
    assert_eq!(
        fault(ColorType::Rgb, &profile(*b"CMYK", &[*b"A2B0"], 1)),
        "is for other colours than the picture has"
    );
    assert_eq!(fault(ColorType::Rgb, &sound[..100]), "is damaged");
    let bare = picture(16, 16, ColorType::Rgb, false);
    let parts = profile_segments(&sound, 3);
    for incomplete in [
        &parts[..2],
        &[parts[0].clone(), parts[0].clone(), parts[2].clone()],
    ] {
        let file = with_segments(&bare, incomplete);
        let copied = copy(&file).unwrap();
        assert_eq!(
            copied.profile_left_out.as_ref().unwrap().to_string(),
            "is not complete"
        );
        assert_eq!(
            copied.transform(),
            "segments with place, camera, comments and thumbnails left out; picture data unchanged; its colour profile is not complete, so it is left out and sRGB is assumed"
        );
    }
}
