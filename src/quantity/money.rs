//! Money in integer minor units, and tax on it. No floats: rates are integers of a thousandth of a percent.

use serde::{Deserialize, Serialize};

use super::currency::Currency;
use super::notation::Notation;

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
    /// Reads an amount as typed: `12`, `12.50`, `12,50`, `1,234.50`, `€12.50`, `-3`, in the notation that goes with
    /// the currency; what can be read in two ways is asked about.
    ///
    /// # Errors
    /// Words that say how to mend what was typed.
    pub fn parse(typed: &str, currency: &Currency) -> Result<Self, String> {
        let text: String = typed.trim().chars().filter(|c| !matches!(c, '\u{200b}' | '\u{feff}')).collect();
        let bare = text.as_str();
        let bare = bare.strip_prefix(currency.symbol.trim()).unwrap_or(bare).trim_start();
        let bare = bare.strip_prefix(currency.code).or_else(|| bare.strip_suffix(currency.code)).unwrap_or(bare).trim();
        let bare = bare.strip_suffix(currency.symbol.trim()).unwrap_or(bare).trim_end();
        let (negative, bare) = match bare.strip_prefix(['-', '−']) {
            Some(rest) => (true, rest.trim_start()),
            None => (false, bare),
        };
        let bare = bare.strip_prefix(currency.symbol.trim()).unwrap_or(bare).trim_start();
        let example = Self(1250).plain(currency);
        let not_money = || format!("This is not an amount. Type it as {example}.");
        let decimals = usize::try_from(currency.decimals).unwrap_or(2);
        let (whole, rest) = Self::halves(bare, decimals, currency.notation).ok_or_else(not_money)??;
        if rest.len() > decimals {
            return Err(format!("{} has {decimals} digits after the point. Type it as {example}.", currency.code));
        }
        if whole.len() > MOST_DIGITS {
            return Err("That is more money than the books can hold.".to_owned());
        }
        let minor: i64 = format!("{whole}{rest:0<decimals$}").parse().map_err(|_| not_money())?;
        Ok(Self(if negative { -minor } else { minor }))
    }

    /// The digits before and after the decimal sign; `None` where it is no amount, and words where it could be two.
    fn halves(text: &str, decimals: usize, notation: Notation) -> Option<Result<(String, String), String>> {
        let is_gap = |c: char| c.is_whitespace() || matches!(c, '\'' | '’');
        let is_sign = |c: char| matches!(c, '.' | ',');
        let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
        // the last point or comma is the decimal sign, unless it stands between groups
        let signs: Vec<char> = text.chars().filter(|c| is_sign(*c)).collect();
        let last = signs.last().copied();
        let behind = last.and_then(|sign| text.rsplit_once(sign)).map_or("", |(_, behind)| behind);
        let is_repeated = last.is_some_and(|last| signs.iter().filter(|sign| **sign == last).count() > 1);
        let ahead = text.find(is_sign).unwrap_or(0);
        let could_be_group =
            signs.len() == 1 && behind.len() == 3 && (1..=3).contains(&ahead) && !text.starts_with('0');
        if could_be_group && decimals > 0 && last == Some(notation.decimal) && digits(behind) {
            let (whole, _) = text.split_once(is_sign)?;
            let (cut, grouped) = (behind.get(..decimals)?, format!("{whole}{behind}"));
            return digits(whole).then(|| {
                Err(format!(
                    "“{text}” can be read in two ways. Type {grouped} or {whole}{}{cut}, whichever is meant.",
                    notation.decimal
                ))
            });
        }
        let (whole, rest) = match last {
            Some(sign) if !is_repeated && !could_be_group => text.rsplit_once(sign)?,
            _ => (text, ""),
        };
        if !rest.is_empty() && !digits(rest) {
            return None;
        }
        // groups: three digits each behind the first, with one sign between them all
        let between = whole.chars().find(|c| is_sign(*c) || is_gap(*c));
        let mut groups = whole.split(|c: char| Some(c) == between);
        let first = groups.next()?;
        let mut joined = first.to_owned();
        if !digits(first) || (between.is_some() && first.len() > 3) {
            return None;
        }
        for group in groups {
            if group.len() != 3 || !digits(group) {
                return None;
            }
            joined.push_str(group);
        }
        Some(Ok((joined, rest.to_owned())))
    }

    /// "12.50": digits and the shop's decimal sign only, as it is typed.
    pub fn plain(self, currency: &Currency) -> String {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, rest) = self.parts(currency);
        format!("{sign}{whole}{}", Self::behind(rest, currency))
    }

    /// "€1,234.50", as it is printed.
    pub fn with_symbol(self, currency: &Currency) -> String {
        let sign = if self.0 < 0 { "−" } else { "" };
        let (whole, rest) = self.parts(currency);
        format!("{sign}{}{}{}", currency.symbol, currency.notation.grouped(whole), Self::behind(rest, currency))
    }

    fn parts(self, currency: &Currency) -> (u64, u64) {
        let unit = 10_u64.pow(currency.decimals);
        (self.0.unsigned_abs() / unit, self.0.unsigned_abs() % unit)
    }

    fn behind(rest: u64, currency: &Currency) -> String {
        let width = usize::try_from(currency.decimals).unwrap_or(2);
        if width == 0 { String::new() } else { format!("{}{rest:0width$}", currency.notation.decimal) }
    }
}

impl TaxRate {
    /// "8.25 %".
    pub fn percent(self) -> String {
        self.percent_in(Notation::BRITISH)
    }

    /// The same with the shop's decimal sign.
    pub fn percent_in(self, notation: Notation) -> String {
        let decimals = format!("{:03}", self.0.rem_euclid(1000));
        let decimals = decimals.trim_end_matches('0');
        let whole = self.0.div_euclid(1000);
        if decimals.is_empty() { format!("{whole} %") } else { format!("{whole}{}{decimals} %", notation.decimal) }
    }

    /// The part of an amount, halves away from zero; `None` beyond what the books can hold.
    pub fn of(self, amount: Money) -> Option<Money> {
        let part = divided(i128::from(amount.0) * i128::from(self.0), WHOLE, Rounding::HalfUp);
        i64::try_from(part).ok().map(Money)
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

/// How the tax of a paper is reckoned: the shop's own choice, kept with the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TaxRule {
    /// Prices hold the tax already.
    pub is_inclusive: bool,
    /// How a fraction of the smallest unit is rounded.
    pub rounding: Rounding,
    /// Where.
    pub level: TaxLevel,
}

/// What the lines of one rate come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TaxOfRate {
    /// The rate.
    pub rate: TaxRate,
    /// Without tax.
    pub net: Money,
    /// The tax.
    pub tax: Money,
}

/// What lines come to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taxed {
    /// Without tax.
    pub net: Money,
    /// The tax of all rates.
    pub tax: Money,
    /// Both.
    pub total: Money,
    /// Rate by rate, the highest first; a rate of nothing stands among them.
    pub by_rate: Vec<TaxOfRate>,
}

/// Sums up lines of price and rate; `None` beyond what the books can hold. What is summed is what is shown: net and tax of
/// all rates come to those of the whole, and both to the total.
pub fn taxed(lines: &[(Money, TaxRate)], rule: TaxRule) -> Option<Taxed> {
    let mut rates: Vec<TaxRate> = lines.iter().map(|(_, rate)| *rate).collect();
    rates.sort_unstable_by(|one, other| other.cmp(one));
    rates.dedup();
    let mut by_rate = Vec::with_capacity(rates.len());
    let (mut net, mut tax) = (0_i64, 0_i64);
    for rate in rates {
        let of_rate: Vec<(Money, TaxRate)> = lines.iter().copied().filter(|line| line.1 == rate).collect();
        let prices = of_rate.iter().try_fold(0_i64, |sum, (price, _)| sum.checked_add(price.0))?;
        let its_tax = match (rule.is_inclusive, rule.level) {
            (false, level) => tax_on_lines(&of_rate, rule.rounding, level)?,
            (true, TaxLevel::OnTotal) => tax_in_gross(Money(prices), rate, rule.rounding)?,
            (true, TaxLevel::PerLine) => {
                let taxes = of_rate.iter().map(|(price, _)| tax_in_gross(*price, rate, rule.rounding));
                Money(taxes.into_iter().try_fold(0_i64, |sum, tax| sum.checked_add(tax?.0))?)
            }
        };
        let its_net = if rule.is_inclusive { prices.checked_sub(its_tax.0)? } else { prices };
        net = net.checked_add(its_net)?;
        tax = tax.checked_add(its_tax.0)?;
        by_rate.push(TaxOfRate { rate, net: Money(its_net), tax: its_tax });
    }
    Some(Taxed { net: Money(net), tax: Money(tax), total: Money(net.checked_add(tax)?), by_rate })
}

/// Shares an amount out by weights, so that the parts come to the whole (largest remainder): each gets its share rounded
/// down, and the units left over go to the largest fractions, of equals to the first. `None` where all weights are nothing,
/// one is negative, or the amount is.
pub fn shared_out(amount: Money, weights: &[i64]) -> Option<Vec<Money>> {
    let whole: i128 = weights.iter().map(|weight| i128::from(*weight)).sum();
    if whole <= 0 || amount.0 < 0 || weights.iter().any(|weight| *weight < 0) {
        return None;
    }
    let exact = |weight: &i64| i128::from(amount.0) * i128::from(*weight);
    let mut shares: Vec<i128> = weights.iter().map(|weight| exact(weight) / whole).collect();
    let mut by_fraction: Vec<usize> = (0..weights.len()).collect();
    by_fraction.sort_by_key(|place| std::cmp::Reverse(weights.get(*place).map_or(0, |weight| exact(weight) % whole)));
    let left = usize::try_from(i128::from(amount.0) - shares.iter().sum::<i128>()).ok()?;
    for place in by_fraction.into_iter().take(left) {
        *shares.get_mut(place)? += 1;
    }
    shares.into_iter().map(|share| i64::try_from(share).ok().map(Money)).collect()
}

/// An amount to the nearest coin, halves away from zero: where the smallest coins are gone, cash is rounded and the
/// difference booked.
pub fn to_nearest(amount: Money, coin: i64) -> Money {
    if coin <= 1 {
        return amount;
    }
    let coins = divided(i128::from(amount.0), i128::from(coin), Rounding::HalfUp);
    i64::try_from(coins * i128::from(coin)).map_or(amount, Money)
}
