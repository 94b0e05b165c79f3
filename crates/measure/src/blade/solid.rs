//! Bodies that are put together.

/// Volume of a body, and its first moment along the blade.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Solid {
    /// Volume, mm³.
    pub volume: f64,
    /// Integral of area times place from the datum, mm⁴; negative on the tang.
    pub moment: f64,
}

impl Solid {
    /// Returns the place of the centre of mass from the datum, mm, for even density; `None` for an empty body.
    pub fn centre(self) -> Option<f64> {
        (self.volume != 0.0).then(|| self.moment / self.volume)
    }
}

impl std::ops::Add for Solid {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            volume: self.volume + other.volume,
            moment: self.moment + other.moment,
        }
    }
}

impl std::iter::Sum for Solid {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::default(), |sum, one| sum + one)
    }
}

/// Returns the body of a tang of rectangular sections (width, thickness) at equal distances, from the datum backwards.
///
/// `None` for fewer than two sections. The corners taken off a real tang, its holes and its file marks are neglected.
///
/// Source: prismoidal formula; exact for a linear taper between neighbours, for the moment as well (a cubic).
pub fn tang_bar(length: f64, sections: &[(f64, f64)]) -> Option<Solid> {
    let gaps = sections.len().checked_sub(1).filter(|gaps| *gaps > 0)?;
    let step = length / gaps as f64;
    let pieces = sections.windows(2).enumerate().map(|(index, pair)| {
        let (first, last) = (pair[0], pair[1]);
        let middle = f64::midpoint(first.0, last.0) * f64::midpoint(first.1, last.1);
        let areas = [first.0 * first.1, 4.0 * middle, last.0 * last.1];
        let start = index as f64 * step;
        let places = [start, start + step / 2.0, start + step];
        let weighted = areas.iter().zip(places).map(|(area, place)| area * place);
        Solid {
            volume: step / 6.0 * areas.iter().sum::<f64>(),
            moment: -step / 6.0 * weighted.sum::<f64>(),
        }
    });
    Some(pieces.sum())
}
