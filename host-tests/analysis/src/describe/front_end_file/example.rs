//! Front-end files to start from, one a topology: each has every key, and passes `check`.

/// How the cell reaches the converter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Example {
    /// Through a resistor divider, against a fixed reference.
    DividedInput,
    /// As the converter's supply and reference; a fixed reference is sampled.
    SupplyReference,
}

impl Example {
    /// Both.
    pub const ALL: [Self; 2] = [Self::DividedInput, Self::SupplyReference];

    /// The file's text.
    pub const fn text(self) -> &'static str {
        match self {
            Self::DividedInput => concat!(
                include_str!("example/divided-input.toml"),
                include_str!("example/common.toml")
            ),
            Self::SupplyReference => concat!(
                include_str!("example/supply-reference.toml"),
                include_str!("example/common.toml")
            ),
        }
    }
}
