//! Data of the trade that is compiled in (`seed-data/`): how it is read, and what becomes of a text that cannot be.

use serde::de::DeserializeOwned;

/// A text of `seed-data/` that cannot be used, in one line for the console.
#[derive(Debug, Clone, thiserror::Error)]
#[error(
    "seed-data/{file} of this build cannot be used, so nothing is started without it: {fault}. Use a build whose tests \
     passed, or mend the file and build again."
)]
pub struct UnusableSeedData {
    file: &'static str,
    fault: String,
}

/// Reads a text and looks it over; `fault` says what is wrong with what was read, where something is.
pub(super) fn read<T: DeserializeOwned>(
    file: &'static str,
    text: &str,
    fault: impl FnOnce(&T) -> Option<String>,
) -> Result<T, UnusableSeedData> {
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let unusable = |fault: String| UnusableSeedData { file, fault: one_line(&fault) };
    let found: T = toml::from_str(text).map_err(|cause| unusable(cause.to_string()))?;
    match fault(&found) {
        None => Ok(found),
        Some(words) => Err(unusable(words)),
    }
}

/// What was read. The start looks first ([`super::check_seed_data`]), so that no shop opens without it.
#[expect(
    clippy::panic,
    reason = "nobody may work without what guards them: a page that fails is better than a silent one"
)]
pub(super) fn compiled_in<T>(read: &'static Result<T, UnusableSeedData>) -> &'static T {
    match read {
        Ok(found) => found,
        Err(unusable) => panic!("{unusable}"),
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::read;

    #[test]
    fn a_text_that_cannot_be_used_is_named_in_one_line_with_what_is_wrong() {
        let nothing_wrong = |_: &BTreeMap<String, i64>| None;
        assert_eq!(read("tools.toml", "steps = 3", nothing_wrong).unwrap()["steps"], 3);
        let broken = read("tools.toml", "steps = \n", nothing_wrong).unwrap_err().to_string();
        assert!(broken.starts_with("seed-data/tools.toml of this build cannot be used") && !broken.contains('\n'));
        let wrong = read("tools.toml", "steps = 3", |_: &BTreeMap<String, i64>| Some("too few steps".to_owned()));
        assert!(wrong.unwrap_err().to_string().contains("too few steps"));
    }
}
