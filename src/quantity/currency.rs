//! Currencies the shop can work in. Codes and decimals: ISO 4217.

use super::notation::Notation;

/// A currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Currency {
    /// Three letters.
    pub code: &'static str,
    /// Digits after the point.
    pub decimals: u32,
    /// What is printed before an amount.
    pub symbol: &'static str,
    /// How amounts are written where the shop is.
    pub notation: Notation,
}

const fn currency(code: &'static str, decimals: u32, symbol: &'static str) -> Currency {
    Currency { code, decimals, symbol, notation: Notation::BRITISH }
}

impl Currency {
    /// Those we know, by code.
    pub const KNOWN: &'static [Self] = &[
        currency("AUD", 2, "A$"),
        currency("CAD", 2, "C$"),
        currency("CHF", 2, "CHF "),
        currency("CZK", 2, "CZK "),
        currency("DKK", 2, "DKK "),
        currency("EUR", 2, "€"),
        currency("GBP", 2, "£"),
        currency("JPY", 0, "¥"),
        currency("NOK", 2, "NOK "),
        currency("NZD", 2, "NZ$"),
        currency("PLN", 2, "PLN "),
        currency("SEK", 2, "SEK "),
        currency("USD", 2, "$"),
    ];

    /// The same as it is written in a country.
    #[must_use]
    pub fn written_in(self, country: &str) -> Self {
        Self { notation: Notation::of(country), ..self }
    }

    /// The currency of a code.
    pub fn known(code: &str) -> Option<Self> {
        Self::KNOWN.iter().copied().find(|known| known.code == code)
    }
}

impl Default for Currency {
    /// The euro.
    fn default() -> Self {
        currency("EUR", 2, "€")
    }
}
