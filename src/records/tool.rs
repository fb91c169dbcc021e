//! The measuring tools of the bench, and how far each can be trusted.

use std::sync::LazyLock;

use serde::Deserialize;

use super::seed_data::{self, UnusableSeedData};

/// One tool.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tool {
    /// The word in forms.
    pub key: String,
    /// As the bench calls it.
    pub name: String,
    /// Smallest step, mm.
    pub step_mm: f64,
    /// Half-width within which it is right, mm.
    pub limit_mm: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Tools {
    tool: Vec<Tool>,
}

static TOOLS: LazyLock<Result<Tools, UnusableSeedData>> =
    LazyLock::new(|| read_tools(include_str!("../../seed-data/tools.toml")));

fn read_tools(text: &str) -> Result<Tools, UnusableSeedData> {
    seed_data::read("tools.toml", text, |tools: &Tools| {
        if tools.tool.is_empty() {
            return Some("it holds no tool".to_owned());
        }
        let is_sound = |tool: &Tool| tool.step_mm > 0.0 && tool.limit_mm >= 0.0 && !tool.name.trim().is_empty();
        tools.tool.iter().find(|tool| !is_sound(tool)).map(|tool| format!("“{}” has no step, limit or name", tool.key))
    })
}

/// Whether the tools can be read.
pub(super) fn check() -> Result<(), UnusableSeedData> {
    TOOLS.as_ref().map(|_| ()).map_err(Clone::clone)
}

/// Every tool.
pub fn tools() -> &'static [Tool] {
    &seed_data::compiled_in(&TOOLS).tool
}

/// The tool of a key.
pub fn tool(key: &str) -> Option<&'static Tool> {
    tools().iter().find(|tool| tool.key == key)
}

#[cfg(test)]
mod tests {
    use super::{read_tools, tool};

    #[test]
    fn bad_text_is_said_and_never_means_a_bench_without_tools() {
        let dial = "[[tool]]\nkey = \"dial\"\nname = \"dial\"\nstep_mm = 0.01\nlimit_mm = 0.02\n";
        assert_eq!(read_tools(dial).unwrap().tool.len(), 1);
        for (text, said) in [
            (String::new(), "missing field `tool`"),
            ("tool = []".to_owned(), "it holds no tool"),
            (dial.replace("0.01", "0.0"), "“dial” has no step, limit or name"),
            (dial.replace("0.01", "fine"), "step_mm = fine"),
        ] {
            let words = read_tools(&text).unwrap_err().to_string();
            assert!(words.contains("seed-data/tools.toml") && words.contains(said), "{said}: {words}");
        }
    }

    #[test]
    fn the_bench_has_its_tools() {
        assert!(tool("calliper").is_some_and(|tool| tool.step_mm == 0.01));
    }
}
