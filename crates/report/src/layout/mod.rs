//! Pages from headings, paragraphs, tables and figures, set one after another.
//!
//! A [`Flow`] keeps a place on a page and moves to the next page when something does not fit. It
//! knows nothing of blades.

mod blocks;
mod chrome;
mod flow;
mod glue;
mod lines;
mod span;
pub(crate) mod style;
mod table;

pub(crate) use chrome::Chrome;
pub(crate) use flow::{FigureSpec, Fit, Flow, count};
pub(crate) use lines::{Line, break_lines, draw_line};
pub(crate) use span::Span;
pub(crate) use style::{Style, page as page_format};
pub(crate) use table::{Align, Cell, Column, GUTTER, Table, Width};
