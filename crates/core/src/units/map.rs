//! Which column of a CSV holds what.

use std::{collections::BTreeMap, fmt, str::FromStr};

use serde::Serialize;

use super::{Dimension, QuantityKind, shorten, words};

/// What a column of a CSV can hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Field {
    /// Number or name of the object; must be mapped.
    Identity,
    /// Who holds the object.
    Holder,
    /// Kind as the holder words it.
    Kind,
    /// Period or date as the holder words it.
    Period,
    /// The published line of dimensions, compared with the columns below.
    Published,
    /// Where the row was published.
    Source,
    /// Terms under which it was published.
    Licence,
    /// Remark.
    Note,
    /// Length of the whole object.
    OverallLength,
    /// Length of the blade with its tang.
    BladeWithTang,
    /// Length of the blade without its tang.
    BladeLength,
    /// Curvature.
    Curvature,
    /// Width at the base of the blade.
    Width,
    /// Mass.
    Mass,
}

impl Field {
    /// Every field.
    pub const ALL: [Self; 14] = [
        Self::Identity,
        Self::Holder,
        Self::Kind,
        Self::Period,
        Self::Published,
        Self::Source,
        Self::Licence,
        Self::Note,
        Self::OverallLength,
        Self::BladeWithTang,
        Self::BladeLength,
        Self::Curvature,
        Self::Width,
        Self::Mass,
    ];

    /// Returns the name of the field in a map.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Identity => "identity",
            Self::Holder => "holder",
            Self::Kind => "kind",
            Self::Period => "period",
            Self::Published => "published",
            Self::Source => "source",
            Self::Licence => "licence",
            Self::Note => "note",
            Self::OverallLength => "overall_length",
            Self::BladeWithTang => "blade_with_tang",
            Self::BladeLength => "blade_length",
            Self::Curvature => "curvature",
            Self::Width => "width",
            Self::Mass => "mass",
        }
    }

    /// Returns what the field is measured in; `None` for a text.
    pub const fn dimension(self) -> Option<Dimension> {
        match self {
            Self::Mass => Some(Dimension::Mass),
            Self::OverallLength
            | Self::BladeWithTang
            | Self::BladeLength
            | Self::Curvature
            | Self::Width => Some(Dimension::Length),
            _ => None,
        }
    }

    /// Returns the published value that the field is compared with.
    pub const fn published_kind(self) -> Option<QuantityKind> {
        match self {
            Self::OverallLength => Some(QuantityKind::OverallLength),
            Self::BladeWithTang => Some(QuantityKind::BladeWithTang),
            Self::BladeLength => Some(QuantityKind::BladeLength),
            Self::Curvature => Some(QuantityKind::Curvature),
            Self::Width => Some(QuantityKind::Width),
            Self::Mass => Some(QuantityKind::Mass),
            _ => None,
        }
    }
}

impl fmt::Display for Field {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// One mapped column.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Column {
    /// Its name in the header of the CSV.
    pub name: String,
    /// The unit of cells that are a bare number, as a reading may write it (`cm`, `shaku`).
    pub unit: Option<String>,
    /// The CSV must have the column.
    pub required: bool,
}

/// Which column of a CSV holds what, each field once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ColumnMap {
    columns: BTreeMap<Field, Column>,
}

/// A map of columns cannot be understood.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each field is named in the text above it")]
pub enum MapError {
    /// No `=`, or nothing on one side of it.
    #[error("`{pair}` is not a column map: `field=column` or `field=column:unit` is allowed")]
    Form { pair: String },
    /// An unknown field.
    #[error("`{field}` in `{pair}` is not a field: {} are allowed", field_names())]
    UnknownField { pair: String, field: String },
    /// A unit that does not measure the field.
    #[error("`{unit}` in `{pair}` is not a unit for {field}: {allowed} are allowed")]
    Unit {
        pair: String,
        unit: String,
        field: Field,
        allowed: String,
    },
    /// A field that is mapped twice.
    #[error(
        "`{pair}` maps {field} again, which `{before}` holds already: one column for each field is allowed"
    )]
    Again {
        pair: String,
        field: Field,
        before: String,
    },
    /// No column for the identity.
    #[error("no column is mapped to identity: one is needed, so that each row can be named")]
    NoIdentity,
}

fn field_names() -> String {
    Field::ALL.map(Field::name).join(", ")
}

impl MapError {
    /// Says what to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Form { .. } | Self::Unit { .. } => "write it like `blade_length=nagasa_cm:cm`",
            Self::UnknownField { .. } => "use one of these names on the left of `=`",
            Self::Again { .. } => "leave one of the two out",
            Self::NoIdentity => "add `identity=COLUMN` with the column of the object's number",
        }
    }
}

impl ColumnMap {
    /// Builds a map from `field=column` and `field=column:unit` pairs. A mapped column must be in the CSV.
    ///
    /// # Errors
    /// See [`MapError`].
    pub fn from_pairs<S: AsRef<str>>(pairs: impl IntoIterator<Item = S>) -> Result<Self, MapError> {
        let mut columns = BTreeMap::new();
        for pair in pairs {
            let (field, column) = parse_pair(pair.as_ref())?;
            if let Some(before) = columns
                .get(&field)
                .map(|before: &Column| before.name.clone())
            {
                return Err(MapError::Again {
                    pair: shorten(pair.as_ref()),
                    field,
                    before,
                });
            }
            columns.insert(field, column);
        }
        if columns.contains_key(&Field::Identity) {
            Ok(Self { columns })
        } else {
            Err(MapError::NoIdentity)
        }
    }

    /// Returns the mapped columns.
    pub fn columns(&self) -> impl Iterator<Item = (Field, &Column)> {
        self.columns.iter().map(|(field, column)| (*field, column))
    }

    /// Returns the column of a field.
    pub fn column(&self, field: Field) -> Option<&Column> {
        self.columns.get(&field)
    }
}

impl Default for ColumnMap {
    /// The map for a CSV of published blades with a header of this tool's own: `museum`,
    /// `accession_no`, `object_type`, `period_or_date`, `overall_cm`, `blade_with_tang_cm`,
    /// `nagasa_cutting_edge_cm`, `sori_cm`, `width_at_base_cm`, `mass_g`,
    /// `published_dimensions_text`, `unit_check_note`, `source_url`, `licence_note`. Only `accession_no` must be there.
    fn default() -> Self {
        let column = |field, name: &str, unit: Option<&str>| {
            let column = Column {
                name: name.to_owned(),
                unit: unit.map(str::to_owned),
                required: field == Field::Identity,
            };
            (field, column)
        };
        let columns = BTreeMap::from([
            column(Field::Identity, "accession_no", None),
            column(Field::Holder, "museum", None),
            column(Field::Kind, "object_type", None),
            column(Field::Period, "period_or_date", None),
            column(Field::Published, "published_dimensions_text", None),
            column(Field::Source, "source_url", None),
            column(Field::Licence, "licence_note", None),
            column(Field::Note, "unit_check_note", None),
            column(Field::OverallLength, "overall_cm", Some("cm")),
            column(Field::BladeWithTang, "blade_with_tang_cm", Some("cm")),
            column(Field::BladeLength, "nagasa_cutting_edge_cm", Some("cm")),
            column(Field::Curvature, "sori_cm", Some("cm")),
            column(Field::Width, "width_at_base_cm", Some("cm")),
            column(Field::Mass, "mass_g", Some("g")),
        ]);
        Self { columns }
    }
}

impl FromStr for ColumnMap {
    type Err = MapError;

    /// Reads pairs divided by commas, as in `identity=no,blade_length=nagasa:cm`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::from_pairs(text.split(','))
    }
}

fn parse_pair(pair: &str) -> Result<(Field, Column), MapError> {
    let form = || MapError::Form {
        pair: shorten(pair),
    };
    let (field, column) = pair
        .split_once('=')
        .map(|(field, column)| (field.trim(), column.trim()))
        .ok_or_else(form)?;
    let known = Field::ALL.into_iter().find(|known| known.name() == field);
    let field = known.ok_or_else(|| MapError::UnknownField {
        pair: shorten(pair),
        field: shorten(field),
    })?;
    // A text has no unit, so that a colon there belongs to the column's name.
    let (name, unit) = match (field.dimension(), column.rsplit_once(':')) {
        (Some(dimension), Some((name, unit))) => {
            let unit = unit.trim();
            if words::find(&unit.to_lowercase()).is_none_or(|known| known.dimension != dimension) {
                let allowed = dimension.allowed_units();
                return Err(MapError::Unit {
                    pair: shorten(pair),
                    unit: shorten(unit),
                    field,
                    allowed,
                });
            }
            (name.trim(), Some(unit.to_owned()))
        }
        _ => (column, None),
    };
    if name.is_empty() {
        return Err(form());
    }
    Ok((
        field,
        Column {
            name: name.to_owned(),
            unit,
            required: true,
        },
    ))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn pairs_name_columns_and_units() {
        let map: ColumnMap = "identity=no, blade_length = nagasa (cm) : cm,note=a:b,curvature=sori"
            .parse()
            .unwrap();
        let column = map.column(Field::BladeLength).unwrap();
        assert_eq!(
            (
                column.name.as_str(),
                column.unit.as_deref(),
                column.required
            ),
            ("nagasa (cm)", Some("cm"), true)
        );
        assert_eq!(map.column(Field::Note).unwrap().name, "a:b");
        assert_eq!(map.column(Field::Curvature).unwrap().unit, None);
        assert_eq!(map.column(Field::Mass), None);
    }

    #[test]
    fn bad_pairs_are_refused_by_name() {
        let text = |text: &str| text.parse::<ColumnMap>().unwrap_err();
        assert_eq!(
            text("identity").to_string(),
            "`identity` is not a column map: `field=column` or `field=column:unit` is allowed"
        );
        assert_eq!(
            text("identity=").hint(),
            "write it like `blade_length=nagasa_cm:cm`"
        );
        assert_eq!(
            text("mass=:g").to_string(),
            "`mass=:g` is not a column map: `field=column` or `field=column:unit` is allowed"
        );
        assert_eq!(
            text("nagasa=x").to_string(),
            "`nagasa` in `nagasa=x` is not a field: identity, holder, kind, period, published, source, licence, note, overall_length, \
             blade_with_tang, blade_length, curvature, width, mass are allowed"
        );
        assert_eq!(
            text("nagasa=x").hint(),
            "use one of these names on the left of `=`"
        );
        assert_eq!(
            text("mass=x:cm").to_string(),
            "`cm` in `mass=x:cm` is not a unit for mass: g, kg, oz, lb, momme are allowed"
        );
        let again = text("identity=a,identity=b");
        assert_eq!(
            again.to_string(),
            "`identity=b` maps identity again, which `a` holds already: one column for each field is allowed"
        );
        assert_eq!(again.hint(), "leave one of the two out");
        assert_eq!(
            text("kind=a").to_string(),
            "no column is mapped to identity: one is needed, so that each row can be named"
        );
        assert_eq!(
            text("kind=a").hint(),
            "add `identity=COLUMN` with the column of the object's number"
        );
    }
}
