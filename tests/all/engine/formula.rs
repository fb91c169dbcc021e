//! A formula as it is written beside an answer, evaluated by `exmex` with the numbers put in.
//!
//! Here it is only put into the letters that `exmex` knows; sums are written out, and the quantiles of
//! Student's t and of the normal distribution are found from their distribution functions (Abramowitz and
//! Stegun, Handbook of Mathematical Functions, 26.5.8 and 26.2.11), not by the library that the engine uses.

use exmex::prelude::*;
use thumbplane::working::{Working, below};

use super::close;

/// What a formula's right side comes to; `None` for a condition.
pub(super) fn evaluated(working: &Working) -> Option<f64> {
    let (left, right) = working.formula.split_once(" = ")?;
    let is_symbol = left.chars().all(is_letter);
    is_symbol.then(|| of_text(right, working))
}

fn of_text(text: &str, working: &Working) -> f64 {
    let mut written = Written { text: String::new(), values: Vec::new() };
    let letters: Vec<char> = text.chars().collect();
    write(&letters, working, None, &mut written);
    let parsed = exmex::parse::<f64>(&written.text)
        .unwrap_or_else(|fault| panic!("{} as {}: {fault}", working.formula, written.text));
    // exmex takes the values in the order of its names
    let values: Vec<f64> =
        parsed.var_names().iter().map(|name| written.values[name[1..].parse::<usize>().unwrap()]).collect();
    parsed.eval(&values).unwrap_or_else(|fault| panic!("{}: {fault}", working.formula))
}

struct Written {
    text: String,
    values: Vec<f64>,
}

impl Written {
    fn value(&mut self, value: f64) {
        self.text.push_str(&format!("v{:05}", self.values.len()));
        self.values.push(value);
    }
}

fn is_letter(letter: char) -> bool {
    letter.is_alphabetic() || ('₀'..='₉').contains(&letter) || matches!(letter, '′' | '_' | '\u{304}')
}

/// From an opening bracket to its closing one.
fn bracketed(letters: &[char]) -> &[char] {
    assert_eq!(letters.first(), Some(&'('));
    let mut open = 0;
    for (place, letter) in letters.iter().enumerate() {
        open += i32::from(*letter == '(') - i32::from(*letter == ')');
        if open == 0 {
            return &letters[1..place];
        }
    }
    panic!("a bracket is not closed");
}

fn put_in(working: &Working, symbol: &str) -> Option<f64> {
    working.with.iter().find(|put| put.symbol == symbol).map(|put| put.value)
}

fn write(letters: &[char], working: &Working, index: Option<usize>, written: &mut Written) {
    let mut at = 0;
    let mut inside_bars = false;
    while at < letters.len() {
        let letter = letters[at];
        let word: String = letters[at..].iter().take_while(|letter| is_letter(**letter)).collect();
        at += 1;
        match letter {
            '·' => written.text.push('*'),
            '−' => written.text.push('-'),
            '²' => written.text.push_str("^2"),
            '⁴' => written.text.push_str("^4"),
            '√' => written.text.push_str("sqrt"),
            '⌊' => written.text.push_str("floor("),
            '⌈' => written.text.push_str("ceil("),
            '⌋' | '⌉' => written.text.push(')'),
            '|' => {
                written.text.push_str(if inside_bars { ")" } else { "abs(" });
                inside_bars = !inside_bars;
            }
            'Σ' => {
                let inner = bracketed(&letters[at..]);
                at += inner.len() + 2;
                sum(inner, working, written);
            }
            _ if word.is_empty() => written.text.push(letter),
            _ => {
                at += word.chars().count() - 1;
                at += symbol(&word, &letters[at..], working, index, written);
            }
        }
    }
}

/// Writes a sum out over every number that its symbols were put in for.
fn sum(inner: &[char], working: &Working, written: &mut Written) {
    let text: String = inner.iter().collect();
    let end = text.find('ᵢ').unwrap_or_else(|| panic!("{}: a sum over nothing", working.formula));
    let symbol: String = text[..end].chars().rev().take_while(|letter| is_letter(*letter)).collect();
    let symbol: String = symbol.chars().rev().collect();
    let count = (1..).take_while(|number| put_in(working, &format!("{symbol}{}", below(*number))).is_some()).count();
    assert!(count > 0, "{}: nothing to sum", working.formula);
    written.text.push('(');
    for number in 1..=count {
        written.text.push_str(if number == 1 { "(" } else { "+(" });
        write(inner, working, Some(number), written);
        written.text.push(')');
    }
    written.text.push(')');
}

/// Writes a symbol's number or a function; answers how many letters after the word were used.
fn symbol(word: &str, after: &[char], working: &Working, index: Option<usize>, written: &mut Written) -> usize {
    let known = match (word.strip_suffix('ᵢ'), index) {
        (Some(symbol), Some(index)) => put_in(working, &format!("{symbol}{}", below(index))),
        _ => put_in(working, word),
    };
    match (word, known) {
        (_, Some(value)) => written.value(value),
        ("π", None) => written.text.push_str("PI"),
        ("exp" | "ln" | "log" | "max" | "min", None) => written.text.push_str(word),
        ("student" | "normal", None) => {
            let inner: String = bracketed(after).iter().collect();
            let (share, freedom) =
                inner.rsplit_once(", ").map_or((inner.as_str(), None), |(share, freedom)| (share, Some(freedom)));
            let share = of_text(share, working);
            written.value(match (word, freedom) {
                ("student", Some(freedom)) => student(share, of_text(freedom, working)),
                _ => normal(share),
            });
            return inner.chars().count() + 2;
        }
        _ => panic!("{}: no number for {word}", working.formula),
    }
    0
}

/// The quantile of a rising distribution function about 0.
fn quantile(share: f64, below: impl Fn(f64) -> f64) -> f64 {
    let mut most = 1.0;
    while below(most) < share {
        most *= 2.0;
    }
    let mut least = 0.0;
    for _ in 0..200 {
        let middle = f64::midpoint(least, most);
        if below(middle) < share { least = middle } else { most = middle }
    }
    f64::midpoint(least, most)
}

/// Normal quantile of a share of one half or more.
pub(super) fn normal(share: f64) -> f64 {
    quantile(share, |x| {
        let (mut term, mut sum) = (x, x);
        for odd in (3..400).step_by(2) {
            term *= x * x / f64::from(odd);
            sum += term;
        }
        0.5 + (-x * x / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt() * sum
    })
}

/// Student's quantile of a share of one half or more.
pub(super) fn student(share: f64, freedom: f64) -> f64 {
    quantile(share, |t| 1.0 - 0.5 * incomplete_beta(freedom / 2.0, 0.5, freedom / (freedom + t * t)))
}

/// I_x(a, b) by its continued fraction (Lentz).
pub(super) fn incomplete_beta(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 || x >= 1.0 {
        return x.clamp(0.0, 1.0);
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - incomplete_beta(b, a, 1.0 - x);
    }
    let front = (a * x.ln() + b * (-x).ln_1p() + ln_gamma(a + b) - ln_gamma(a) - ln_gamma(b)).exp() / a;
    let (mut f, mut c, mut d) = (1.0, 1.0, 0.0);
    for step in 0..100_000_u32 {
        let (m, even) = (f64::from(step / 2), step % 2 == 0);
        let numerator = match (step, even) {
            (0, _) => 1.0,
            (_, true) => m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m)),
            (_, false) => -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0)),
        };
        d = 1.0 / (1.0 + numerator * d);
        c = 1.0 + numerator / c;
        f *= c * d;
        if step > 0 && (1.0 - c * d).abs() < 1e-16 {
            break;
        }
    }
    front * (f - 1.0)
}

/// ln Γ by Stirling's series after stepping up (Abramowitz and Stegun 6.1.40).
fn ln_gamma(x: f64) -> f64 {
    let (mut x, mut shift) = (x, 0.0);
    while x < 20.0 {
        shift += x.ln();
        x += 1.0;
    }
    let series = 1.0 / (12.0 * x) - 1.0 / (360.0 * x.powi(3)) + 1.0 / (1260.0 * x.powi(5)) - 1.0 / (1680.0 * x.powi(7));
    (x - 0.5) * x.ln() - x + 0.5 * (2.0 * std::f64::consts::PI).ln() + series - shift
}

fn written(formula: &str, with: &[(&str, f64)]) -> f64 {
    let working = with
        .iter()
        .fold(Working::new("", "", formula), |working, (symbol, value)| working.put(*symbol, "", *value, ""));
    evaluated(&working).expect("a formula, no condition")
}

#[test]
fn the_evaluator_reads_formulas_as_a_person_does() {
    close(written("T = μ·(2·L·f)²", &[("μ", 0.001), ("L", 0.5), ("f", 100.0)]), 10.0, 1e-12);
    close(written("x = L·(1 − 2^(−n/12))", &[("L", 648.0), ("n", 12.0)]), 324.0, 1e-12);
    close(
        written("s = √(Σ((xᵢ − x̄)²)/(n − 1))", &[("x₁", 1.0), ("x₂", 3.0), ("x̄", 2.0), ("n", 2.0)]),
        2_f64.sqrt(),
        1e-12,
    );
    close(written("p = max(⌊(a − w)/s⌋, 0)·s", &[("a", 0.55), ("w", 0.02), ("s", 0.1)]), 0.5, 1e-12);
    close(
        written("o = |a − b| + ⌈c⌉ + min(a, b) − π", &[("a", 1.0), ("b", 3.0), ("c", 0.2)]),
        4.0 - std::f64::consts::PI,
        1e-12,
    );
    close(written("u = −4·r + log2(8) + exp(0) + ln(1)", &[("r", 0.5)]), 2.0, 1e-12);
}

/// GUM, JCGM 100:2008, Table G.2 for 95 %, and the normal's 1.960.
#[test]
fn the_quantiles_are_those_of_the_published_table() {
    for (freedom, t) in [(1.0, 12.71), (2.0, 4.30), (5.0, 2.57), (10.0, 2.23), (30.0, 2.04), (100.0, 1.984)] {
        close(written("t = student((1 + p)/2, ν)", &[("p", 0.95), ("ν", freedom)]), t, 0.005);
    }
    close(written("k = normal((1 + p)/2)", &[("p", 0.95)]), 1.959_964, 1e-6);
}
