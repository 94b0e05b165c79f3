//! The fonts of a report, in the order in which they are asked.

use std::{
    cell::RefCell,
    fmt,
    sync::{Arc, OnceLock},
};

use super::{
    Program, Shaped, Weight,
    cutting::{Clusters, cut_between},
    is_japanese,
};

/// The fonts that come with the renderer, in the order in which they are asked for Latin text:
/// reduced as `fonts/README.md` says.
pub(crate) static BUNDLED: [&[u8]; 4] = [
    include_bytes!("../../fonts/FiraSans-Regular.ttf"),
    include_bytes!("../../fonts/FiraSans-Bold.ttf"),
    include_bytes!("../../fonts/BIZUDPGothic-Regular.ttf"),
    include_bytes!("../../fonts/BIZUDPGothic-Bold.ttf"),
];

/// A font file of the workshop that is not used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RefusedFont {
    /// File name.
    pub file: String,
    /// Why, and what to do, without the file's name: "forbids …".
    pub reason: String,
}

impl fmt::Display for RefusedFont {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "font file `{}` {}", self.file, self.reason)
    }
}

/// The fonts a report is set in. Cloning is cheap; what one report shaped is not shaped again for the next.
#[derive(Clone)]
pub struct FontSet(Arc<Inner>);

struct Inner {
    programs: Vec<Arc<Program>>,
    /// For each program its file name; none for those that come with the renderer.
    files: Vec<Option<String>>,
    refused: Vec<RefusedFont>,
    /// Programs in the order in which they are asked, by weight and then by whether the text is Japanese.
    order: [[Vec<usize>; 2]; 2],
}

impl FontSet {
    /// Returns the fonts that come with the renderer, read at the first call.
    pub fn bundled() -> &'static Self {
        static BUNDLED_SET: OnceLock<FontSet> = OnceLock::new();
        BUNDLED_SET.get_or_init(|| {
            // The bytes are our own, and a test reads each of them.
            let programs: Vec<_> = BUNDLED
                .iter()
                .filter_map(|data| Program::read(Arc::new(*data)).ok())
                .map(Arc::new)
                .collect();
            let files = vec![None; programs.len()];
            Self::of(programs, files, Vec::new())
        })
    }

    /// Returns the bundled fonts followed by those of a folder, given as file name and bytes.
    ///
    /// They are asked in the order of their names, whatever the order in which they are given, for
    /// what no font before them covers. A file that is no font or may not be embedded is left out
    /// and named in [`FontSet::refused`]; of a collection the first font is taken, of a variable
    /// font its default instance.
    pub fn with_folder(files: impl IntoIterator<Item = (String, Vec<u8>)>) -> Self {
        let bundled = Self::bundled();
        let mut programs = bundled.0.programs.clone();
        let mut names = bundled.0.files.clone();
        let mut refused = Vec::new();
        let mut files: Vec<_> = files.into_iter().collect();
        files.sort();
        for (file, data) in files {
            match Program::read_checked(data) {
                Ok(program) => {
                    programs.push(Arc::new(program));
                    names.push(Some(file));
                }
                Err(error) => refused.push(RefusedFont {
                    file,
                    reason: error.to_string(),
                }),
            }
        }
        if programs.len() == bundled.0.programs.len() && refused.is_empty() {
            return bundled.clone();
        }
        Self::of(programs, names, refused)
    }

    fn of(
        programs: Vec<Arc<Program>>,
        files: Vec<Option<String>>,
        refused: Vec<RefusedFont>,
    ) -> Self {
        let order = [Weight::Regular, Weight::Bold].map(|weight| {
            [false, true].map(|japanese| {
                let mut order: Vec<usize> = (0..programs.len()).collect();
                // A stable sort: among equals the order of the files.
                order.sort_by_key(|index| {
                    let own = files.get(*index).is_some_and(Option::is_some);
                    let wrong_weight = programs
                        .get(*index)
                        .is_some_and(|program| program.weight != weight);
                    // The bundled Latin pair stands before the Japanese pair.
                    let wrong_script = !own && japanese == (*index < 2);
                    (own, wrong_weight, wrong_script)
                });
                order
            })
        });
        Self(Arc::new(Inner {
            programs,
            files,
            refused,
            order,
        }))
    }

    /// Returns the same set without one font of the workshop, and that font; none for a bundled one.
    pub(crate) fn without(&self, index: usize, reason: &str) -> Option<(Self, RefusedFont)> {
        let file = self.0.files.get(index)?.clone()?;
        let (mut programs, mut files) = (self.0.programs.clone(), self.0.files.clone());
        programs.remove(index);
        files.remove(index);
        let set = Self::of(programs, files, self.0.refused.clone());
        let reason = reason.to_owned();
        Some((set, RefusedFont { file, reason }))
    }

    /// Returns the files of the workshop that are not used, with the reason.
    pub fn refused(&self) -> &[RefusedFont] {
        &self.0.refused
    }

    /// Returns the PostScript names of the fonts, in their order.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.0.programs.iter().map(|program| program.name.as_str())
    }

    /// Returns a font of the set.
    pub(crate) fn program(&self, index: usize) -> Option<&Program> {
        self.0.programs.get(index).map(AsRef::as_ref)
    }

    /// Returns the first font that can draw `cluster`, a character with the marks on it.
    pub(crate) fn program_for(&self, weight: Weight, cluster: &str) -> Option<usize> {
        let orders = &self.0.order[usize::from(weight == Weight::Bold)];
        if matches!(cluster.as_bytes(), [b' '..=b'~']) {
            // The first font has all of ASCII.
            return orders[0].first().copied();
        }
        orders[usize::from(cluster.starts_with(is_japanese))]
            .iter()
            .copied()
            .find(|index| self.program(*index).is_some_and(|p| p.covers(cluster)))
    }

    /// Cuts `text` into pieces of one font each. What no font covers is given to the first one, which shows its sign for a missing glyph.
    pub(crate) fn pieces<'f, 't>(&'f self, weight: Weight, text: &'t str) -> Pieces<'f, 't> {
        Pieces {
            fonts: self,
            weight,
            rest: text,
            next: None,
        }
    }

    /// Cuts and shapes `text`: for each piece its font, its text and its glyphs.
    pub(crate) fn shape<'f, 't>(
        &'f self,
        weight: Weight,
        text: &'t str,
        tabular: bool,
    ) -> impl Iterator<Item = (usize, &'t str, Arc<Shaped>)> + use<'f, 't> {
        self.pieces(weight, text).filter_map(move |(index, piece)| {
            let program = self.program(index)?;
            Some((index, piece, program.shape(piece, tabular)))
        })
    }

    /// Returns the width of `text` in millimetres at `size` points.
    pub(crate) fn width(&self, text: &str, weight: Weight, size: f64, tabular: bool) -> f64 {
        self.shape(weight, text, tabular)
            .filter_map(|(index, _, shaped)| {
                Some(f64::from(shaped.width) * self.program(index)?.scale(size))
            })
            .sum()
    }

    /// Returns the height of Latin capitals, mm at `size` points.
    pub(crate) fn cap_height(&self, weight: Weight, size: f64) -> f64 {
        self.program_for(weight, "H")
            .and_then(|index| self.program(index))
            .map_or(0.0, |program| program.cap_height(size))
    }

    /// Does `work` with this set in use, in this thread.
    pub fn scope<T>(&self, work: impl FnOnce() -> T) -> T {
        struct Back;
        impl Drop for Back {
            fn drop(&mut self) {
                IN_USE.with_borrow_mut(Vec::pop);
            }
        }
        IN_USE.with_borrow_mut(|sets| sets.push(self.clone()));
        let _back = Back;
        work()
    }
}

thread_local! {
    /// The innermost set last.
    static IN_USE: RefCell<Vec<FontSet>> = const { RefCell::new(Vec::new()) };
}

/// Returns the set in use: the bundled one outside of any [`FontSet::scope`].
pub(crate) fn in_use() -> FontSet {
    IN_USE
        .with_borrow(|sets| sets.last().cloned())
        .unwrap_or_else(|| FontSet::bundled().clone())
}

/// The set in use.
impl Default for FontSet {
    fn default() -> Self {
        in_use()
    }
}

impl fmt::Debug for FontSet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(&self.0.programs).finish()
    }
}

/// Two sets are equal when they hold the same files in the same order.
impl PartialEq for FontSet {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
            || (self.0.programs.len() == other.0.programs.len()
                && self
                    .0
                    .programs
                    .iter()
                    .zip(&other.0.programs)
                    .all(|(a, b)| Arc::ptr_eq(a, b) || a.data() == b.data()))
    }
}

/// Pieces of a text, each with the number of its font.
pub(crate) struct Pieces<'f, 't> {
    fonts: &'f FontSet,
    weight: Weight,
    rest: &'t str,
    /// The cluster after the last piece, with its font.
    next: Option<(usize, &'t str)>,
}

impl<'t> Pieces<'_, 't> {
    /// Takes the first cluster of `rest` with its font.
    fn cluster(&self, rest: &'t str) -> Option<(usize, &'t str)> {
        let cluster = Clusters(rest).next()?;
        let index = self
            .fonts
            .program_for(self.weight, cluster)
            .unwrap_or_else(|| {
                let order = &self.fonts.0.order[usize::from(self.weight == Weight::Bold)][0];
                order.first().copied().unwrap_or(0)
            });
        Some((index, cluster))
    }
}

impl<'t> Iterator for Pieces<'_, 't> {
    type Item = (usize, &'t str);

    fn next(&mut self) -> Option<(usize, &'t str)> {
        let (index, cluster) = self.next.take().or_else(|| self.cluster(self.rest))?;
        let mut length = cluster.len();
        let mut before = cluster.chars().next()?;
        while let Some(after) = self.cluster(self.rest.get(length..)?) {
            let first = after.1.chars().next()?;
            if after.0 != index || cut_between(before, first) {
                self.next = Some(after);
                break;
            }
            before = first;
            length += after.1.len();
        }
        let (piece, rest) = self.rest.split_at(length);
        self.rest = rest;
        Some((index, piece))
    }
}
