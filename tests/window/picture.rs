//! A screen as a coarse grid, to compare with one that a person looked at: how light each cell is and how much is drawn
//! in it. Type and edges of another machine pass; an empty, missing or misplaced panel does not.

use std::path::Path;

/// Points of a cell, across and down.
const CELL: (usize, usize) = (32, 25);

/// Cells in a hundred that may differ: type of another size, a path of another length. Own choice; what it catches is
/// tested below.
const MOST_PERCENT: usize = 2;

/// Light and detail of every cell, 0 to 9, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Grid {
    pub(crate) columns: usize,
    cells: Vec<(u8, u8)>,
}

/// A stretch of cells.
#[derive(Debug, Clone)]
pub(crate) struct Area {
    pub(crate) columns: std::ops::Range<usize>,
    pub(crate) rows: std::ops::Range<usize>,
}

impl Grid {
    /// Of a frame buffer as Xvfb leaves it with `-fbdir`: an X window dump (XWDFile.h of X.Org, from memory).
    pub(crate) fn of_screen(path: &Path) -> Self {
        let bytes = std::fs::read(path).unwrap();
        let word = |at: usize| u32::from_be_bytes(bytes[4 * at..4 * at + 4].try_into().unwrap()) as usize;
        let (width, height, little, bits, line) = (word(4), word(5), word(7) == 0, word(11), word(12));
        assert_eq!((word(1), bits), (7, 32), "a dump of version 7 with 32 bits a pixel");
        let pixels = &bytes[word(0) + 12 * word(19)..];
        let light = |x: usize, y: usize| {
            let at = y * line + 4 * x;
            let rgb = if little { &pixels[at..at + 3] } else { &pixels[at + 1..at + 4] };
            rgb.iter().map(|part| u32::from(*part)).sum::<u32>() / 3
        };
        let (columns, rows) = (width / CELL.0, height / CELL.1);
        let cell = |at: usize| {
            let (left, top) = (at % columns * CELL.0, at / columns * CELL.1);
            let (mut sum, mut steps) = (0, 0);
            for y in top..top + CELL.1 {
                for x in left..left + CELL.0 {
                    sum += light(x, y);
                    // Up and down as well as across, so that a level line counts.
                    let (right, below) = ((x + 1).min(width - 1), (y + 1).min(height - 1));
                    steps += light(x, y).abs_diff(light(right, y)) + light(x, y).abs_diff(light(x, below));
                }
            }
            let count = (CELL.0 * CELL.1) as u32;
            ((sum * 9 / 255 / count) as u8, (steps * 9 / 40 / count).min(9) as u8)
        };
        Self { columns, cells: (0..columns * rows).map(cell).collect() }
    }

    /// As text: light and detail side by side.
    pub(crate) fn text(&self) -> String {
        let digits = |cells: &[(u8, u8)], pick: fn(&(u8, u8)) -> u8| {
            cells.iter().map(|cell| char::from(b'0' + pick(cell))).collect::<String>()
        };
        let row = |cells: &[(u8, u8)]| {
            format!("{} {}\n", digits(cells, |cell| cell.0), digits(cells, |cell| cell.1))
        };
        self.cells.chunks(self.columns).map(row).collect()
    }

    /// From its text.
    pub(crate) fn read(text: &str) -> Self {
        let digit = |c: char| c.to_digit(10).unwrap() as u8;
        let columns = text.find(' ').unwrap();
        let row = |line: &str| {
            let (light, detail) = line.split_once(' ').unwrap();
            light.chars().map(digit).zip(detail.chars().map(digit)).collect::<Vec<_>>()
        };
        Self { columns, cells: text.lines().flat_map(row).collect() }
    }

    /// Cells that look different: lighter or darker by two steps, or drawn on in one and empty in the other.
    pub(crate) fn differing(&self, other: &Self) -> usize {
        let pairs = self.cells.iter().zip(&other.cells);
        let differ = |(a, b): &(&(u8, u8), &(u8, u8))| {
            let emptied = (a.1 == 0 || b.1 == 0) && a.1.abs_diff(b.1) >= 2;
            a.0.abs_diff(b.0) >= 2 || a.1.abs_diff(b.1) >= 4 || emptied
        };
        self.cells.len().abs_diff(other.cells.len()) + pairs.filter(differ).count()
    }

    /// Whether this is the same picture to a person who does not look closely.
    pub(crate) fn is_like(&self, other: &Self) -> bool {
        self.columns == other.columns && self.differing(other) * 100 <= self.cells.len() * MOST_PERCENT
    }

    /// With nothing drawn in an area.
    pub(crate) fn emptied(&self, area: &Area) -> Self {
        let mut grid = self.clone();
        for row in area.rows.clone() {
            for column in area.columns.clone() {
                grid.cells[row * self.columns + column] = (self.cells[row * self.columns + column].0, 0);
            }
        }
        grid
    }
}

/// Compares with the grid kept under `name`; `CUELOOM_RENEW=1` keeps the present one instead. Look at the picture first.
pub(crate) fn compare(name: &str, now: &Grid) {
    let path = kept(name);
    if std::env::var_os("CUELOOM_RENEW").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, now.text()).unwrap();
    }
    let before = Grid::read(&std::fs::read_to_string(&path).unwrap());
    assert!(
        now.is_like(&before),
        "{name} looks different in {} cells. It was (light, detail):\n{}\nand is:\n{}\nLook at target/tmp/desktop/; \
         CUELOOM_RENEW=1 keeps the new look",
        now.differing(&before),
        before.text(),
        now.text()
    );
}

/// Where the grid called `name` is kept.
pub(crate) fn kept(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/snapshots/window").join(format!("{name}.txt"))
}
