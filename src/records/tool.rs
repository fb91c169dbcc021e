//! The measuring tools of the bench, and how far each can be trusted.

use std::sync::LazyLock;

use serde::Deserialize;

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

#[derive(Debug, Default, Deserialize)]
struct Tools {
    tool: Vec<Tool>,
}

static TOOLS: LazyLock<Tools> =
    LazyLock::new(|| toml::from_str(include_str!("../../seed-data/tools.toml")).unwrap_or_default());

/// Every tool.
pub fn tools() -> &'static [Tool] {
    &TOOLS.tool
}

/// The tool of a key.
pub fn tool(key: &str) -> Option<&'static Tool> {
    tools().iter().find(|tool| tool.key == key)
}

#[cfg(test)]
mod tests {
    use super::tool;

    #[test]
    fn the_bench_has_its_tools() {
        assert!(tool("calliper").is_some_and(|tool| tool.step_mm == 0.01));
    }
}
