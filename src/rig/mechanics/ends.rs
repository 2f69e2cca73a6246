//! How a screw's two ends are held: what buckling and whirling depend on.

/// Mounting of the two ends of a screw or column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ends {
    /// One end clamped, the other free.
    FixedFree,
    /// Both ends turn in their supports.
    SupportedSupported,
    /// One end clamped, the other supported.
    FixedSupported,
    /// Both ends clamped.
    FixedFixed,
}

impl Ends {
    /// All four, softest first.
    pub const ALL: [Ends; 4] =
        [Ends::FixedFree, Ends::SupportedSupported, Ends::FixedSupported, Ends::FixedFixed];

    /// The words of a rig file and of reports.
    pub fn words(self) -> &'static str {
        match self {
            Ends::FixedFree => "fixed-free",
            Ends::SupportedSupported => "supported-supported",
            Ends::FixedSupported => "fixed-supported",
            Ends::FixedFixed => "fixed-fixed",
        }
    }

    /// The mounting of these words.
    pub fn from_words(words: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|ends| ends.words() == words)
    }

    /// Factor N of Euler's load N pi^2 E I / L^2: 1/4, 1, 2.046, 4. Source: catalogues print 1/4, 1, 2, 4 (read in
    /// a maker's table); 2.046 is the exact (4.4934 / pi)^2, 4.4934 the least root of tan x = x, calculated.
    pub fn buckling_factor(self) -> f64 {
        match self {
            Ends::FixedFree => 0.25,
            Ends::SupportedSupported => 1.0,
            Ends::FixedSupported => 2.046,
            Ends::FixedFixed => 4.0,
        }
    }

    /// Square of the first root of the bending beam's frequency equation: 1.8751^2, pi^2, 3.9266^2, 4.7300^2.
    ///
    /// Source: Euler-Bernoulli beam, any text on vibration (from memory); the roots are those of
    /// cos x cosh x = -1, sin x = 0, tan x = tanh x and cos x cosh x = 1 (calculated; a test puts them in).
    pub fn whirl_factor(self) -> f64 {
        let root = match self {
            Ends::FixedFree => 1.875_104_068_711_961,
            Ends::SupportedSupported => std::f64::consts::PI,
            Ends::FixedSupported => 3.926_602_312_047_919,
            Ends::FixedFixed => 4.730_040_744_862_704,
        };
        root * root
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use libm::{cos, cosh, tan, tanh};

    #[test]
    fn roots_solve_their_equations() {
        let root = |ends: Ends| ends.whirl_factor().sqrt();
        let x = root(Ends::FixedFree);
        assert!((cos(x) * cosh(x) + 1.0).abs() < 1e-12);
        let x = root(Ends::FixedSupported);
        assert!((tan(x) - tanh(x)).abs() < 1e-12);
        let x = root(Ends::FixedFixed);
        assert!((cos(x) * cosh(x) - 1.0).abs() < 1e-10);
        let x = Ends::FixedSupported.buckling_factor().sqrt() * std::f64::consts::PI;
        assert!((tan(x) - x).abs() < 0.01 * x, "2.046 is rounded: {x}");
    }

    #[test]
    fn words_come_back() {
        for ends in Ends::ALL {
            assert_eq!(Ends::from_words(ends.words()), Some(ends));
        }
        assert_eq!(Ends::from_words("fixed"), None);
    }
}
