//! Photographs that show the same thing, side by side.

use tangmark_core::record::Photo;

use super::super::super::{Content, photos, words};
use crate::{
    layout::{Flow, style},
    speech::pair,
};

pub(super) fn set(flow: &mut Flow, content: &Content<'_>, pairs: &[(&Photo, &Photo)]) {
    words::heading(
        flow,
        &pair("Photographs before and after", "写真の比較"),
        40.0,
    );
    if pairs.is_empty() {
        flow.say(
            &pair(
                "No two photographs of the records show the same thing in two states.",
                "二つの状態で同じものを写した写真はない。",
            ),
            style::BODY,
        );
        return;
    }
    flow.say(
        &pair(
            "Left before, right after. What a light shows another light can hide.",
            "左が前、右が後。見え方は光により異なる。",
        ),
        style::NOTE,
    );
    flow.y += 1.2;
    for (first, second) in pairs {
        photos::side_by_side(flow, content, first, second);
    }
}
