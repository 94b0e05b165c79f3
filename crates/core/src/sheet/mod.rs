//! Reads a sheet as a person writes it, TOML or JSON, and turns it into the record's own form.
//!
//! In a sheet a quantity may be a text (`"70.15 cm"`) or a table with `text` or `readings`; the schema says where
//! quantities are, so the long form of the record is filled in from there. Every problem names line and field.

mod expand;
mod lines;
mod problem;
mod toml_source;

use serde_json::Value;

pub use problem::{Place, SheetError, SheetProblem, dotted};

use crate::check::{self, Form};
use crate::json::{self, Limits};
use crate::record::{PhotoFile, Sheet};
use crate::schema;
use problem::Places;

/// How a sheet is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetFormat {
    /// TOML 1.1.
    Toml,
    /// JSON, read strictly.
    Json,
}

/// Longest sheet, in bytes.
pub const LONGEST_SHEET: usize = 4 * 1024 * 1024;

/// Finds the photo file that a sheet names by path; the error is the sentence a person reads.
pub type PhotoFinder<'a> = dyn FnMut(&str) -> Result<PhotoFile, String> + 'a;

/// Reads a sheet. `photos` describes the file behind `file = "..."` of a photo.
///
/// # Errors
/// All problems found at the first stage that finds any: text, form, meaning.
pub fn read(
    bytes: &[u8],
    format: SheetFormat,
    photos: &mut PhotoFinder<'_>,
) -> Result<Sheet, SheetError> {
    let (value, places) = parse(bytes, format)?;
    from_parsed(value, &places, photos)
}

/// Reads a sheet that is already a JSON value, for example a stored draft.
///
/// # Errors
/// As [`read`], without lines.
pub fn from_value(value: Value) -> Result<Sheet, SheetError> {
    from_parsed(value, &Places::None, &mut |_| {
        Err("a stored draft names photos by digest, not by file".to_owned())
    })
}

fn from_parsed(
    mut value: Value,
    places: &Places,
    photos: &mut PhotoFinder<'_>,
) -> Result<Sheet, SheetError> {
    let problems = expand::expand(&mut value, photos);
    if !problems.is_empty() {
        return Err(places.error(problems));
    }
    let problems = check::against_schema(schema::sheet_validator(), &value, Form::Sheet);
    if !problems.is_empty() {
        return Err(places.error(problems));
    }
    let sheet: Sheet =
        check::typed(&value, Form::Sheet).map_err(|problem| places.error(vec![problem]))?;
    let mut problems = check::sheet(&sheet);
    photos_without_file(&sheet, &mut problems);
    if problems.is_empty() {
        Ok(sheet)
    } else {
        Err(places.error(problems))
    }
}

/// A sealed record may keep an original back; a sheet never does.
fn photos_without_file(sheet: &Sheet, problems: &mut Vec<check::Problem>) {
    for (index, photo) in sheet.photos.iter().enumerate() {
        if photo.original.is_none() {
            problems.push(check::Problem::new(
                format!("/photos/{index}"),
                format!("the photo `{}` names no file, one file is needed", photo.id),
                "add `file` with the path of a JPEG, PNG or TIFF file, relative to the sheet",
            ));
        }
    }
}

fn parse(bytes: &[u8], format: SheetFormat) -> Result<(Value, Places), SheetError> {
    if bytes.len() > LONGEST_SHEET {
        return Err(SheetError::single(
            None,
            "",
            format!(
                "{} bytes found, at most {LONGEST_SHEET} bytes are allowed",
                bytes.len()
            ),
            "split the sheet, and keep photos in files of their own".to_owned(),
        ));
    }
    match format {
        SheetFormat::Json => {
            let document = json::read(bytes, &Limits::default()).map_err(|error| {
                let place = Place {
                    line: error.position.line,
                    column: error.position.column,
                };
                SheetError::single(
                    Some(place),
                    "",
                    error.kind.to_string(),
                    error.hint().into_owned(),
                )
            })?;
            Ok((document.value, Places::Json(document.positions)))
        }
        SheetFormat::Toml => {
            let (value, places) = toml_source::parse(bytes)?;
            Ok((value, Places::Toml(places)))
        }
    }
}

#[cfg(test)]
mod tests;
