//! Tables that go on over pages: rows stay whole, the header comes again.

use super::{
    Line, Span, Style, draw_line,
    flow::{Flow, count},
    style,
};
use crate::scene::{Draw, NodeId, Path, PathDraw, Role, Stroke};

/// Space above and below the text of a row, mm.
const PADDING: f64 = 0.9;
/// A table no higher than this stays on one page, mm.
const TOGETHER: f64 = 48.0;
/// Two rows no higher than this stay with the header of a table, mm.
const FIRST_ROWS: f64 = 24.0;
/// Space between columns, mm.
pub(crate) const GUTTER: f64 = 3.0;

/// Width of a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Width {
    /// Millimetres.
    Fixed(f64),
    /// A share of what the fixed columns leave.
    Share(f64),
}

/// Where text stands in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    /// At the left edge.
    Left,
    /// At the right edge.
    Right,
}

/// A column.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Column {
    pub(crate) title: String,
    pub(crate) width: Width,
    pub(crate) align: Align,
}

impl Column {
    /// A column of words.
    pub(crate) fn words(title: &str, width: Width) -> Self {
        Self {
            title: title.to_owned(),
            width,
            align: Align::Left,
        }
    }

    /// A column of numbers.
    pub(crate) fn numbers(title: &str, width: Width) -> Self {
        Self {
            title: title.to_owned(),
            width,
            align: Align::Right,
        }
    }
}

/// Text of a cell.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Cell(pub(crate) Vec<Span>);

impl Cell {
    /// Plain text.
    pub(crate) fn plain(text: impl Into<String>) -> Self {
        Self(vec![Span::plain(text)])
    }

    /// Numbers.
    pub(crate) fn figures(text: impl Into<String>) -> Self {
        Self(vec![Span::figures(text)])
    }
}

/// A table.
pub(crate) struct Table {
    pub(crate) columns: Vec<Column>,
    /// Rows: one cell for each column.
    pub(crate) rows: Vec<Vec<Cell>>,
    pub(crate) style: Style,
    /// Whether the columns have a header row.
    pub(crate) header: bool,
    /// Space above and below the text of a row, mm.
    pub(crate) padding: f64,
    /// Whether the first cell of a row names the row.
    pub(crate) row_headers: bool,
}

impl Table {
    /// A table with a header row over the columns.
    pub(crate) fn new(columns: Vec<Column>) -> Self {
        Self {
            columns,
            rows: Vec::new(),
            style: style::CELL,
            header: true,
            padding: PADDING,
            row_headers: false,
        }
    }

    /// A list of names and values: the names are the rows' headers.
    pub(crate) fn pairs(name_width: f64) -> Self {
        let columns = vec![
            Column::words("", Width::Fixed(name_width)),
            Column::words("", Width::Share(1.0)),
        ];
        Self {
            columns,
            rows: Vec::new(),
            style: style::CELL,
            header: false,
            padding: PADDING,
            row_headers: true,
        }
    }

    /// Height of a header and a row of one line each, mm: what must follow a heading. A table that needs more moves its
    /// heading along.
    pub(crate) fn start(&self) -> f64 {
        let header = if self.header {
            style::LABEL.leading + 1.5
        } else {
            0.0
        };
        header + self.style.leading + 2.0 * self.padding
    }

    /// Left edge and width of each column in `width` mm.
    fn places(&self, width: f64) -> Vec<(f64, f64)> {
        let gutters = GUTTER * count(self.columns.len().saturating_sub(1));
        let fixed: f64 = self
            .columns
            .iter()
            .map(|column| {
                if let Width::Fixed(mm) = column.width {
                    mm
                } else {
                    0.0
                }
            })
            .sum();
        let shares: f64 = self
            .columns
            .iter()
            .map(|column| {
                if let Width::Share(share) = column.width {
                    share
                } else {
                    0.0
                }
            })
            .sum();
        let rest = (width - gutters - fixed).max(0.0);
        let mut x = 0.0;
        self.columns
            .iter()
            .map(|column| {
                let own = match column.width {
                    Width::Fixed(mm) => mm,
                    Width::Share(share) => rest * share / shares,
                };
                let place = (x, own);
                x += own + GUTTER;
                place
            })
            .collect()
    }
}

impl Flow {
    /// Sets a table over the whole width.
    pub(crate) fn table(&mut self, table: &Table) {
        self.table_at(table, 0.0, self.frame.text_width());
    }

    /// Sets a heading inside a section and a table that begins on the same page.
    pub(crate) fn headed_table(&mut self, title: &str, table: &Table) {
        if table.rows.is_empty() {
            return;
        }
        let keep = table.start();
        self.subheading(title, keep);
        self.table(table);
    }

    /// Sets a table in a part of the width.
    pub(crate) fn table_at(&mut self, table: &Table, indent: f64, width: f64) {
        if table.rows.is_empty() {
            return;
        }
        let rows = self.rows(table, width);
        let heights: Vec<f64> = rows.iter().map(|row| row_height(table, row)).collect();
        let mut setter = Setter::new(self, table, indent, width);
        let header = setter.header_height();
        let whole = header + heights.iter().sum::<f64>();
        let start = if whole <= TOGETHER {
            whole
        } else {
            header + first_rows(&heights)
        };
        if !(self.is_glued_at_top() && start > self.remaining()) {
            self.ensure(start);
        }
        setter.node = self.node(Role::Table);
        setter.header(self, true);
        for (index, (row, height)) in rows.iter().zip(&heights).enumerate() {
            // The last row does not stand alone on a page.
            let with_last = (index > 0 && index + 2 == heights.len())
                .then(|| heights.last().map_or(0.0, |last| last + height))
                .filter(|both| *both <= TOGETHER);
            setter.row(self, row, with_last.unwrap_or(*height));
        }
    }

    /// Breaks the words of every cell into lines.
    fn rows(&mut self, table: &Table, width: f64) -> Vec<Vec<Vec<Line>>> {
        let places = table.places(width);
        table
            .rows
            .iter()
            .map(|row| {
                row.iter()
                    .zip(&places)
                    .map(|(cell, (_, width))| self.lines(&cell.0, table.style, *width))
                    .collect()
            })
            .collect()
    }
}

/// Height of a row, mm.
fn row_height(table: &Table, row: &[Vec<Line>]) -> f64 {
    let lines = row.iter().map(Vec::len).max().unwrap_or(0);
    table.style.leading * count(lines) + 2.0 * table.padding
}

/// Height of the rows that stay with the header of a long table: two, unless they are high, mm.
fn first_rows(heights: &[f64]) -> f64 {
    let two: f64 = heights.iter().take(2).sum();
    if two <= FIRST_ROWS {
        two
    } else {
        heights.first().copied().unwrap_or(0.0)
    }
}

/// A table being set.
struct Setter<'a> {
    table: &'a Table,
    node: NodeId,
    left: f64,
    width: f64,
    places: Vec<(f64, f64)>,
    titles: Vec<Vec<Line>>,
}

impl<'a> Setter<'a> {
    fn new(flow: &mut Flow, table: &'a Table, indent: f64, width: f64) -> Self {
        let places = table.places(width);
        let titles = table
            .columns
            .iter()
            .zip(&places)
            .map(|(column, (_, width))| {
                flow.lines(&[Span::plain(column.title.clone())], style::LABEL, *width)
            })
            .collect();
        Self {
            table,
            // Until it is known on which page the table begins.
            node: NodeId(usize::MAX),
            left: flow.frame.left + indent,
            width,
            places,
            titles,
        }
    }

    /// Height of the header with its rule, mm.
    fn header_height(&self) -> f64 {
        if self.table.header {
            style::LABEL.leading * count(self.titles.iter().map(Vec::len).max().unwrap_or(0)) + 1.25
        } else {
            0.0
        }
    }

    /// Sets the header row: as cells the first time, as decoration on later pages.
    fn header(&self, flow: &mut Flow, first: bool) {
        if !self.table.header {
            return;
        }
        let height =
            style::LABEL.leading * count(self.titles.iter().map(Vec::len).max().unwrap_or(0));
        let row = first.then(|| flow.scene.add_node(Role::TableRow, Some(self.node)));
        for (index, lines) in self.titles.iter().enumerate() {
            let cell = row.map(|row| flow.scene.add_node(Role::ColumnHeader, Some(row)));
            // Titles stand on the rule.
            let top = flow.y + height - style::LABEL.leading * count(lines.len());
            let draws = self.cell_draws(index, lines, style::LABEL, top);
            match cell {
                Some(cell) => flow.scene.put(flow.page, Some(cell), draws),
                None => flow.scene.put_pagination(flow.page, draws),
            }
        }
        flow.y += height + 0.5;
        flow.rule(self.left, self.width, 0.25, style::SLATE);
        flow.y += 0.5;
    }

    fn cell_draws(&self, index: usize, lines: &[Line], style: Style, top: f64) -> Vec<Draw> {
        let (Some((x, width)), Some(column)) =
            (self.places.get(index), self.table.columns.get(index))
        else {
            return Vec::new();
        };
        let mut draws = Vec::new();
        for (number, line) in lines.iter().enumerate() {
            let shift = if column.align == Align::Right {
                width - line.width
            } else {
                0.0
            };
            draws.extend(draw_line(
                line,
                style,
                self.left + x + shift,
                top + style.leading * count(number),
            ));
        }
        draws
    }

    /// Sets a row; `keep` mm from its top stay on one page.
    fn row(&mut self, flow: &mut Flow, cells: &[Vec<Line>], keep: f64) {
        let style = self.table.style;
        let total = cells.iter().map(Vec::len).max().unwrap_or(0);
        // A row that no page can hold begins where three lines fit.
        let keep = if keep > flow.capacity() - self.header_height() {
            3.0 * style.leading + 2.0 * self.table.padding
        } else {
            keep
        };
        // Under a heading at the top of a page there is nowhere better.
        if flow.remaining() + 1e-6 < keep && !flow.is_glued() {
            self.new_page(flow);
        }
        flow.end_glue();
        let row = flow.scene.add_node(Role::TableRow, Some(self.node));
        let nodes: Vec<NodeId> = (0..cells.len())
            .map(|index| {
                flow.scene.add_node(
                    if index == 0 && self.table.row_headers {
                        Role::RowHeader
                    } else {
                        Role::TableCell
                    },
                    Some(row),
                )
            })
            .collect();
        // A row higher than a page goes on over pages, as many lines as fit each time.
        let mut done = 0;
        loop {
            let room = ((flow.remaining() - 2.0 * self.table.padding) / style.leading + 1e-6)
                .floor()
                .max(1.0);
            // The room is a small whole number by now.
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let end = total.min(done + room as usize);
            let top = flow.y + self.table.padding;
            for (index, (lines, node)) in cells.iter().zip(&nodes).enumerate() {
                let part = lines.get(done..end.min(lines.len())).unwrap_or_default();
                let draws = self.cell_draws(index, part, style, top);
                flow.scene.put(flow.page, Some(*node), draws);
            }
            flow.y += style.leading * count(end - done) + 2.0 * self.table.padding;
            done = end;
            if done >= total {
                break;
            }
            self.new_page(flow);
        }
        self.row_rule(flow);
    }

    fn new_page(&self, flow: &mut Flow) {
        flow.next_page();
        self.header(flow, false);
    }

    fn row_rule(&self, flow: &mut Flow) {
        let path = Path::line(self.left, flow.y, self.left + self.width, flow.y);
        let line = PathDraw {
            path,
            fill: None,
            stroke: Some(Stroke::solid(style::HAIR, 0.12)),
        };
        flow.scene.put(flow.page, None, vec![Draw::Path(line)]);
    }
}
