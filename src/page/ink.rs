//! Colours, hatchings and line styles.

/// A colour, `#rrggbb`.
pub(super) type Colour = &'static str;

pub(super) const BLACK: Colour = "#000000";
pub(super) const WHITE: Colour = "#ffffff";
pub(super) const GREY: Colour = "#777777";
pub(super) const PALE: Colour = "#e6e6e6";
pub(super) const ORANGE: Colour = "#e69f00";
pub(super) const SKY: Colour = "#56b4e9";
pub(super) const YELLOW: Colour = "#f0e442";
pub(super) const GREEN: Colour = "#009e73";
pub(super) const BLUE: Colour = "#0072b2";
pub(super) const VERMILION: Colour = "#d55e00";
pub(super) const PURPLE: Colour = "#cc79a7";

/// Lines that belong to different legs or axes differ in colour and in dashes.
pub(super) fn line_of(index: usize) -> (Colour, &'static str) {
    const COLOURS: [Colour; 6] = [BLUE, VERMILION, GREEN, PURPLE, BLACK, ORANGE];
    const DASHES: [&str; 6] = ["", "5 2", "2 2", "7 2 2 2", "1 2", "9 3"];
    (COLOURS[index % 6], DASHES[index % 6])
}

/// A hatching that is told from the others without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hatch {
    /// Lines rising to the right.
    Rising,
    /// Rings, wide apart.
    Sparse,
    /// Dots.
    Dots,
    /// Crossed lines.
    Crossed,
    /// Level lines.
    Level,
    /// Lines falling to the right, wide apart, on nothing.
    Falling,
}

impl Hatch {
    pub(super) const ALL: [Hatch; 6] =
        [Hatch::Rising, Hatch::Sparse, Hatch::Dots, Hatch::Crossed, Hatch::Level, Hatch::Falling];

    fn id(self) -> &'static str {
        match self {
            Hatch::Rising => "rising",
            Hatch::Sparse => "sparse",
            Hatch::Dots => "dots",
            Hatch::Crossed => "crossed",
            Hatch::Level => "level",
            Hatch::Falling => "falling",
        }
    }

    /// What stands in a `fill`.
    pub(super) fn fill(self) -> String {
        format!("url(#{})", self.id())
    }

    /// Its tile, for the page's definitions.
    pub(super) fn definition(self) -> String {
        let (size, ground, marks) = match self {
            Hatch::Rising => {
                (6, SKY, "<path d=\"M-1 1L1-1M0 6L6 0M5 7L7 5\" stroke=\"#003a5c\" stroke-width=\"0.9\"/>")
            }
            Hatch::Sparse => (
                9,
                YELLOW,
                "<circle cx=\"4.5\" cy=\"4.5\" r=\"2\" fill=\"none\" stroke=\"#3d3a00\" stroke-width=\"0.8\"/>",
            ),
            Hatch::Dots => (5, ORANGE, "<circle cx=\"2.5\" cy=\"2.5\" r=\"0.9\" fill=\"#4a3300\"/>"),
            Hatch::Crossed => {
                (6, PURPLE, "<path d=\"M0 6L6 0M0 0L6 6\" stroke=\"#4d1232\" stroke-width=\"0.8\"/>")
            }
            Hatch::Level => (4, GREEN, "<path d=\"M0 2H4\" stroke=\"#00261b\" stroke-width=\"0.9\"/>"),
            Hatch::Falling => {
                (8, "none", "<path d=\"M-1 7L1 9M0 0L8 8M7-1L9 1\" stroke=\"#000000\" stroke-width=\"0.5\"/>")
            }
        };
        format!(
            "<pattern id=\"{}\" width=\"{size}\" height=\"{size}\" patternUnits=\"userSpaceOnUse\"><rect \
             width=\"{size}\" height=\"{size}\" fill=\"{ground}\"/>{marks}</pattern>",
            self.id()
        )
    }
}
