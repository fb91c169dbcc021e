//! How a reading's mean and its uncertainty came about.

use super::{ReadingInput, ReadingOutput, TypeA, as_number, grubbs_limit, grubbs_t, own_deviation, whole_freedom};
use crate::setup::spread::{LARGE_FREEDOM, quantile_working};
use crate::working::{Working, Workings};

/// The working of every number.
pub fn explain(input: &ReadingInput, output: &ReadingOutput, workings: &mut Workings) {
    workings.figure("", || chain(input, output, Some(""), "", "mm"));
}

/// From the repeats to the expanded uncertainty. `at` is where the answer stands; `None`: on the way only.
pub(in crate::setup) fn chain(
    input: &ReadingInput,
    output: &ReadingOutput,
    at: Option<&str>,
    name: &str,
    unit: &str,
) -> Vec<Working> {
    let of = |field: &str| at.map_or_else(String::new, |at| format!("{at}/{field}"));
    let said = |what: &str| if name.is_empty() { what.to_owned() } else { format!("{name}: {what}") };
    let count = as_number(input.values_mm.len());
    let values = || input.values_mm.iter().copied();
    let mut chain = vec![
        Working::new(of("mean_mm"), said("mean of the repeats"), "x̄ = Σ(xᵢ)/n")
            .put_each("x", "reading", values(), unit)
            .put("n", "how many", count, "")
            .gives(output.mean_mm, unit, "JCGM 100:2008 (GUM) 4.2.1"),
    ];
    let own = own_deviation(&input.values_mm, output.mean_mm);
    let type_a = TypeA::of(input, output.mean_mm, own);
    if output.standard_deviation_mm.is_some() {
        chain.push(deviation_of(
            input,
            output,
            of("standard_deviation_mm"),
            &said("standard deviation of one reading"),
            unit,
        ));
    }
    if let Some(own) = own {
        chain.extend(outlier(input, output, own, &said));
    }
    let uncertainty = output.standard_uncertainty_mm;
    let [repeats, step, tool] = type_a.with_tool(input).map(|part| part.standard_uncertainty);
    if let Some(deviation) = output.standard_deviation_mm {
        chain.push(
            Working::new("", said("of the mean, from the repeats"), "u_A = s/√(n)")
                .put("s", "standard deviation of one reading", deviation, unit)
                .put("n", "how many", count, "")
                .gives(repeats, unit, "JCGM 100:2008 (GUM) 4.2.3"),
        );
    }
    chain.push(
        Working::new("", said("from the scale's step"), "u_q = q/√(12)")
            .put("q", "smallest step of the scale", input.resolution_mm, unit)
            .gives(step, unit, "JCGM 100:2008 (GUM) F.2.2.1"),
    );
    chain.push(
        Working::new("", said("from the tool's limit"), "u_t = a/√(3)")
            .put("a", "half-width within which the tool is right", input.tool_limit_mm, unit)
            .gives(tool, unit, "JCGM 100:2008 (GUM) 4.3.7"),
    );
    chain.push(
        Working::new(of("standard_uncertainty_mm"), said("standard uncertainty"), "u = √(u_A² + u_q² + u_t²)")
            .put("u_A", "from the repeats; 0 of a single reading", repeats, unit)
            .put("u_q", "from the scale's step", step, unit)
            .put("u_t", "from the tool's limit", tool, unit)
            .gives(uncertainty, unit, "JCGM 100:2008 (GUM) 5.1.2"),
    );
    let whole = output.degrees_of_freedom.map(whole_freedom);
    if let Some((freedom, whole)) = output.degrees_of_freedom.zip(whole) {
        chain.push(
            effective(input, of("degrees_of_freedom"), said("effective degrees of freedom"))
                .put("u", "standard uncertainty", uncertainty, unit)
                .put("u_A", "its part from the repeats", repeats, unit)
                .put("n", "how many", count, "")
                .gives(freedom, "", "Welch–Satterthwaite, JCGM 100:2008 (GUM) G.4.1"),
        );
        chain.push(
            Working::new("", said("cut to a whole number"), "ν_w = max(⌊ν·(1 + h)⌋, 1)")
                .put("ν", "effective degrees of freedom", freedom, "")
                .put("h", "a hair for the computer's rounding", super::FREEDOM_HAIR, "")
                .gives(whole, "", "JCGM 100:2008 (GUM) G.4.1, note 1"),
        );
    }
    let what = said("coverage factor");
    let whole = whole.filter(|whole| *whole < LARGE_FREEDOM);
    chain.push(quantile_working(
        of("coverage_factor"),
        what,
        "k",
        ("(1 + p)/2", "p", "share of cases covered"),
        (input.coverage, whole),
        output.coverage_factor,
    ));
    chain.push(
        Working::new(of("expanded_mm"), said("expanded uncertainty"), "U = k·u")
            .put("k", "coverage factor", output.coverage_factor, "")
            .put("u", "standard uncertainty", uncertainty, unit)
            .gives(output.expanded_mm, unit, "JCGM 100:2008 (GUM) 6.2.1"),
    );
    chain
}

/// Welch–Satterthwaite with the degrees of freedom of the repeats, and of the tool where they are pooled.
fn effective(input: &ReadingInput, of: String, what: String) -> Working {
    match input.repeatability_degrees_of_freedom {
        Some(known) => Working::new(of, what, "ν = u⁴/(u_A⁴/(ν₀ + n − 1))").put(
            "ν₀",
            "degrees of freedom of the tool's repeatability",
            known,
            "",
        ),
        None => Working::new(of, what, "ν = u⁴/(u_A⁴/(n − 1))"),
    }
}

fn deviation_of(input: &ReadingInput, output: &ReadingOutput, of: String, what: &str, unit: &str) -> Working {
    const SOURCE: &str = "JCGM 100:2008 (GUM) 4.2.2";
    let deviation = output.standard_deviation_mm.unwrap_or(0.0);
    if let Some(known) = input.repeatability() {
        return Working::new(
            of,
            format!("{what}, pooled with the tool's repeatability"),
            "s = √((ν₀·r² + Σ((xᵢ − x̄)²))/(ν₀ + n − 1))",
        )
        .put("ν₀", "degrees of freedom of the tool's repeatability", known.degrees_of_freedom, "")
        .put("r", "repeatability of the tool", known.standard_deviation_mm, unit)
        .put_each("x", "reading", input.values_mm.iter().copied(), unit)
        .put("x̄", "mean", output.mean_mm, unit)
        .put("n", "how many", as_number(input.values_mm.len()), "")
        .gives(deviation, unit, "JCGM 100:2008 (GUM) 4.2.4");
    }
    if deviation == 0.0 {
        return Working::new(of, format!("{what}: the repeats are equal"), "s = 0").gives(0.0, unit, SOURCE);
    }
    Working::new(of, what, "s = √(Σ((xᵢ − x̄)²)/(n − 1))")
        .put_each("x", "reading", input.values_mm.iter().copied(), unit)
        .put("x̄", "mean", output.mean_mm, unit)
        .put("n", "how many", as_number(input.values_mm.len()), "")
        .gives(deviation, unit, SOURCE)
}

/// Grubbs' test, where there are readings enough for it and something to find.
fn outlier(
    input: &ReadingInput,
    output: &ReadingOutput,
    deviation: f64,
    said: &dyn Fn(&str) -> String,
) -> Vec<Working> {
    const SOURCE: &str = "Grubbs, Technometrics 11 (1969) 1, two-sided at a risk of 5 %";
    let Some(limit) = grubbs_limit(input.values_mm.len()) else {
        return Vec::new();
    };
    let Some(suspect) = output.outlier.and_then(|place| input.values_mm.get(place)) else {
        return Vec::new();
    };
    let count = as_number(input.values_mm.len());
    let t = grubbs_t(count);
    let suspected = (suspect - output.mean_mm).abs() / deviation;
    vec![
        Working::new(
            "",
            said("distance of the suspected reading from the mean, in standard deviations"),
            "G = |x − x̄|/s",
        )
        .put("x", "the suspected reading", *suspect, "mm")
        .put("x̄", "mean", output.mean_mm, "mm")
        .put("s", "standard deviation of one reading", deviation, "mm")
        .gives(suspected, "", SOURCE),
        Working::new("", said("Student's t of the outlier test"), "t = student(1 − a/(2·n), n − 2)")
            .put("a", "risk of calling a good reading an outlier", super::OUTLIER_RISK, "")
            .put("n", "how many", count, "")
            .gives(t, "", SOURCE),
        Working::new("", said("farther than this is an outlier"), "G_l = (n − 1)/√(n)·√(t²/(n − 2 + t²))")
            .put("n", "how many", count, "")
            .put("t", "Student's t", t, "")
            .gives(limit, "", SOURCE),
    ]
}
