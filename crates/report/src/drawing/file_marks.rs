//! File marks of the tang: a hatch for each family.

use tangmark_core::record::FileMarks;

use crate::scene::Path;

/// How file marks are drawn: a hatch for each family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Hatch {
    /// Straight lines; how far they go along the tang for their way across it.
    Slanting(f64),
    /// Lines that turn back in the middle.
    Feather(f64),
    /// Two families of slanting lines.
    Crossed(f64),
    /// Lines along the tang.
    Lengthwise,
}

impl Hatch {
    /// The hatch of a family; nothing where no marks are to be seen or their direction is not known.
    ///
    /// Source: the slants are this report's own, in the order of the families' names.
    pub(super) const fn of(marks: FileMarks) -> Option<Self> {
        match marks {
            FileMarks::Kiri => Some(Self::Slanting(0.0)),
            FileMarks::KatteSagari => Some(Self::Slanting(0.2)),
            FileMarks::KatteAgari => Some(Self::Slanting(-0.2)),
            FileMarks::Sujikai => Some(Self::Slanting(0.5)),
            FileMarks::OSujikai => Some(Self::Slanting(1.0)),
            FileMarks::GyakuOSujikai => Some(Self::Slanting(-1.0)),
            FileMarks::Takanoha => Some(Self::Feather(1.0)),
            FileMarks::GyakuTakanoha => Some(Self::Feather(-1.0)),
            FileMarks::Higaki => Some(Self::Crossed(0.7)),
            FileMarks::Sensuki => Some(Self::Lengthwise),
            FileMarks::Worn | FileMarks::None | FileMarks::Other => None,
        }
    }

    /// Lines every `step` mm on a tang with these corners (see [`Profile::tang_corners`]), up to `end` mm from the
    /// datum; as (along, across).
    pub(super) fn lines(self, corners: [(f64, f64); 4], end: f64, step: f64) -> Path {
        let [top, bottom, end_top, end_bottom] = corners;
        let start = step / 2.0;
        let tang = -end_top.0;
        let mut path = Path::new();
        if !(end > start && tang > 0.0 && step > 0.0) {
            return path;
        }
        // A place by its distance from the datum and its way across, from the back (0) to the edge (1).
        let at = |distance: f64, across: f64| {
            let part = (distance / tang).clamp(0.0, 1.0);
            let high = top.1 + (end_top.1 - top.1) * part;
            let low = bottom.1 + (end_bottom.1 - bottom.1) * part;
            [-distance, high + (low - high) * across]
        };
        let height = bottom.1 - top.1;
        // From the back to the edge, or as far as it stays between start and end.
        let line = |path: &mut Path, first: f64, slope: f64, [from, to]: [f64; 2]| {
            let distance = |across: f64| first + slope * height * (across - from);
            let shares = (0..=8).map(|piece| from + (to - from) * f64::from(piece) / 8.0);
            let inside: Vec<[f64; 2]> = shares
                .filter(|across| (start..=end).contains(&distance(*across)))
                .map(|across| at(distance(across), across))
                .collect();
            if inside.len() >= 2 {
                path.add_points(inside);
            }
        };
        let mut each = |draw: &dyn Fn(&mut Path, f64)| {
            let mut first = start - 1.5 * height;
            let mut count = 0;
            while first <= end + 1.5 * height && count < 2000 {
                draw(&mut path, first);
                first += step;
                count += 1;
            }
        };
        match self {
            Self::Slanting(slope) => each(&|path, first| line(path, first, slope, [0.0, 1.0])),
            Self::Feather(slope) => each(&|path, first| {
                line(path, first, slope, [0.0, 0.5]);
                line(path, first + slope * height / 2.0, -slope, [0.5, 1.0]);
            }),
            Self::Crossed(slope) => each(&|path, first| {
                line(path, first, slope, [0.0, 1.0]);
                line(path, first, -slope, [0.0, 1.0]);
            }),
            Self::Lengthwise => {
                for share in [0.15, 0.32, 0.5, 0.68, 0.85] {
                    path.add_points([at(start, share), at(end, share)]);
                }
            }
        }
        path
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tangmark_core::record::Term as _;

    const CORNERS: [(f64, f64); 4] = [(0.0, 2.0), (0.0, 26.0), (-200.0, 2.0), (-200.0, 18.0)];

    #[test]
    fn each_family_has_its_own_hatch_inside_the_tang() {
        let mut seen: Vec<Path> = Vec::new();
        for marks in FileMarks::ALL {
            let Some(hatch) = Hatch::of(*marks) else {
                continue;
            };
            let path = hatch.lines(CORNERS, 190.0, 4.0);
            assert!(!path.is_empty(), "{marks:?}");
            assert!(!seen.contains(&path), "{marks:?} looks like another");
            for [along, across] in path.points() {
                assert!((-190.0..=0.0).contains(&along), "{marks:?} {along}");
                assert!((2.0..=26.0).contains(&across), "{marks:?} {across}");
            }
            seen.push(path);
        }
        assert_eq!(seen.len(), 10);
        // Level marks go straight across, lengthwise ones along.
        let level = Hatch::Slanting(0.0).lines(CORNERS, 190.0, 4.0).points();
        assert!((level[0][0] - level[1][0]).abs() < 1e-9);
        assert!(Hatch::Lengthwise.lines(CORNERS, 0.0, 4.0).is_empty());
    }
}
