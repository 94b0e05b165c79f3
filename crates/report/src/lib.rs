//! Drawings and pages of the report, written once as a scene and from there as PDF or SVG.
//!
//! [`render`] makes the whole report of a record. Below it lie, from the words down: `pages` (what
//! is said, section by section), `drawing` (pictures from numbers), `layout` (lines, tables, page
//! breaks), [`scene`] (marks in millimetres with their meaning) and the two writers [`pdf`] and
//! [`svg`], which know nothing of blades.
#![forbid(unsafe_code)]

mod compare;
mod drawing;
mod drawings;
pub mod font;
pub mod jpeg;
mod label_sheet;
mod layout;
mod pages;
pub mod pdf;
mod render;
#[cfg(test)]
mod sample;
pub mod scene;
mod speech;
pub mod svg;
mod xml;

pub use compare::{
    AccountTold, EtchTold, FlawTold, Number, PhotoTold, QuantityTold, SizeTold, StateTold,
    StationTold, StepTold, Told, TotalTold, comparison_drawings, unsealed,
};
pub use drawing::{MonthBars, Seat, SeatOpening, SeatPeg, StageBar};
pub use drawings::{
    DrawingFile, bars_svg, blade_map_svg, chart_svg, drawings, line_of_time, pass_history,
    seat_drawing, stage_drawing, true_size_sheets,
};
pub use label_sheet::{LABEL_CODE_BYTES, Label, LabelSheet, label_sheet};
pub use pdf::{Renderer, renderer};
pub use render::{
    Beside, Kind, PageSize, RENDERER_VERSION, RenderError, RenderInput, Rendered, Revealed,
    compared_with, picture_files, pictures_wanted, render, render_again, render_beside,
    render_revealing, scene_of, title_of,
};
pub use speech::Speech;
