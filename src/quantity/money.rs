//! Money in integer minor units, and tax on it. No floats: rates are integers of a thousandth of a percent.

use serde::{Deserialize, Serialize};

use super::Currency;

/// An amount in the smallest unit of its currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Money(pub i64);

/// A tax rate in thousandths of a percent: 8.25 % is 8250.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct TaxRate(pub i64);

/// How a fraction of the smallest unit is rounded. Law decides; the owner sets it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// Ties away from zero.
    HalfUp,
    /// Ties to the even neighbour.
    HalfEven,
    /// Towards zero.
    Down,
}

/// Where tax is rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TaxLevel {
    /// Each line by itself.
    PerLine,
    /// Once for each rate, on the sum of its lines.
    OnTotal,
}

/// One hundred percent, in thousandths of a percent.
const WHOLE: i128 = 100_000;
/// Digits before the point in what is typed, at most.
const MOST_DIGITS: usize = 10;

impl Money {
    /// Reads an amount as typed: `12`, `12.50`, `12,50`, `€12.50`, `-3`.
    ///
    /// # Errors
    /// Words that say how to mend what was typed.
    pub fn parse(typed: &str, currency: &Currency) -> Result<Self, String> {
        let text: String =
            typed.chars().filter(|c| !c.is_whitespace() && !matches!(c, '\u{200b}' | '\u{feff}')).collect();
        let text = text.strip_prefix(currency.symbol.trim()).unwrap_or(&text);
        let text = text.strip_prefix(currency.code).or_else(|| text.strip_suffix(currency.code)).unwrap_or(text);
        let text = text.strip_suffix(currency.symbol.trim()).unwrap_or(text);
        let (negative, text) = match text.strip_prefix(['-', '−']) {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        let example = Self(1250).plain(currency);
        let not_money = || format!("This is not an amount. Type it as {example}.");
        let (whole, rest) = text.split_once(['.', ',']).unwrap_or((text, ""));
        let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
        if whole.is_empty() || !digits(whole) || !digits(rest) {
            return Err(not_money());
        }
        let decimals = usize::try_from(currency.decimals).unwrap_or(2);
        if rest.len() > decimals {
            return Err(format!("{} has {decimals} digits after the point. Type it as {example}.", currency.code));
        }
        if whole.len() > MOST_DIGITS {
            return Err("That is more money than the books can hold.".to_owned());
        }
        let minor: i64 = format!("{whole}{rest:0<decimals$}").parse().map_err(|_| not_money())?;
        Ok(Self(if negative { -minor } else { minor }))
    }

    /// "12.50": digits only, as it is typed.
    pub fn plain(self, currency: &Currency) -> String {
        let sign = if self.0 < 0 { "-" } else { "" };
        let unit = 10_u64.pow(currency.decimals);
        let (whole, rest) = (self.0.unsigned_abs() / unit, self.0.unsigned_abs() % unit);
        if currency.decimals == 0 {
            return format!("{sign}{whole}");
        }
        let width = usize::try_from(currency.decimals).unwrap_or(2);
        format!("{sign}{whole}.{rest:0width$}")
    }

    /// "€12.50", as it is printed.
    pub fn with_symbol(self, currency: &Currency) -> String {
        let sign = if self.0 < 0 { "−" } else { "" };
        format!("{sign}{}{}", currency.symbol, Self(self.0.saturating_abs()).plain(currency))
    }
}

impl TaxRate {
    /// "8.25 %".
    pub fn percent(self) -> String {
        let decimals = format!("{:03}", self.0.rem_euclid(1000));
        let decimals = decimals.trim_end_matches('0');
        let whole = self.0.div_euclid(1000);
        if decimals.is_empty() { format!("{whole} %") } else { format!("{whole}.{decimals} %") }
    }

    /// Reads a rate in percent as typed: `20`, `8.25`, `8,25 %`.
    ///
    /// # Errors
    /// Words that say how to mend what was typed.
    pub fn parse(typed: &str) -> Result<Self, String> {
        let text = typed.trim().trim_end_matches('%').trim();
        let (whole, rest) = text.split_once(['.', ',']).unwrap_or((text, ""));
        let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
        if whole.is_empty() || whole.len() > 3 || rest.len() > 3 || !digits(whole) || !digits(rest) {
            return Err("Type the rate in percent, such as 20 or 8.25.".to_owned());
        }
        let rate: i64 =
            format!("{whole}{rest:0<3}").parse().map_err(|_| "Type the rate in percent, such as 20.".to_owned())?;
        if rate > 100_000 { Err("A rate is at most 100 %.".to_owned()) } else { Ok(Self(rate)) }
    }
}

fn divided(top: i128, bottom: i128, rounding: Rounding) -> i128 {
    let (whole, rest) = (top.abs() / bottom, top.abs() % bottom);
    let up = match rounding {
        Rounding::Down => false,
        Rounding::HalfUp => rest * 2 >= bottom,
        Rounding::HalfEven => rest * 2 > bottom || (rest * 2 == bottom && whole % 2 == 1),
    };
    (whole + i128::from(up)) * top.signum()
}

/// Tax on lines of net price and rate; `None` beyond what the books can hold. A refund's lines carry
/// a minus and give the mirrored tax.
pub fn tax_on_lines(lines: &[(Money, TaxRate)], rounding: Rounding, level: TaxLevel) -> Option<Money> {
    let exact = |(price, rate): &(Money, TaxRate)| i128::from(price.0) * i128::from(rate.0);
    let tax = match level {
        TaxLevel::PerLine => lines.iter().map(|line| divided(exact(line), WHOLE, rounding)).sum::<i128>(),
        TaxLevel::OnTotal => {
            let mut rates: Vec<TaxRate> = lines.iter().map(|(_, rate)| *rate).collect();
            rates.sort_unstable();
            rates.dedup();
            let of_rate = |rate: TaxRate| lines.iter().filter(|line| line.1 == rate).map(exact).sum::<i128>();
            rates.into_iter().map(|rate| divided(of_rate(rate), WHOLE, rounding)).sum()
        }
    };
    i64::try_from(tax).ok().map(Money)
}

/// The tax inside a gross price; the rest is net.
pub fn tax_in_gross(gross: Money, rate: TaxRate, rounding: Rounding) -> Option<Money> {
    let rate = i128::from(rate.0);
    i64::try_from(divided(i128::from(gross.0) * rate, WHOLE + rate, rounding)).ok().map(Money)
}
