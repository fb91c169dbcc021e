//! The pages of the office in their groups: what is to be done today, what the figures say, and how the house is set up.

/// A group of pages.
pub(super) struct TabGroup {
    name: &'static str,
    tabs: &'static [Tab],
}

/// A page: where it is, and how it is called there.
pub(super) struct Tab {
    href: &'static str,
    name: &'static str,
}

const fn tab(href: &'static str, name: &'static str) -> Tab {
    Tab { href, name }
}

const GROUPS: [TabGroup; 3] = [
    TabGroup {
        name: "Today",
        tabs: &[tab("/office", "Evening"), tab("/office/queue", "Queue"), tab("/office/calendar", "Bench calendar")],
    },
    TabGroup {
        name: "Figures",
        tabs: &[
            tab("/office/turnaround", "Turnaround"),
            tab("/office/promises", "Promises kept"),
            tab("/office/minutes", "Minutes"),
            tab("/office/money", "Money"),
            tab("/office/audit", "Who did what"),
        ],
    },
    TabGroup {
        name: "House",
        tabs: &[
            tab("/office/staff", "Staff"),
            tab("/office/services", "Services"),
            tab("/office/parts", "Parts"),
            tab("/office/string-sets", "String sets"),
            tab("/office/final-check", "Final check"),
            tab("/office/targets", "Target values"),
            tab("/office/papers", "Papers"),
            tab("/office/telling", "Telling people"),
            tab("/office/settings", "Settings"),
            tab("/office/import", "Import"),
            tab("/office/export", "Export"),
            tab("/office/tokens", "Programs"),
            tab("/bench/calculations", "Calculations"),
        ],
    },
];

/// A link of the navigation, and whether it is where one is.
pub(super) struct TabLink {
    /// Where it leads.
    pub(super) href: &'static str,
    /// Its words.
    pub(super) name: &'static str,
    /// The present page or group.
    pub(super) is_here: bool,
}

fn is_at(tab: &Tab, path: &str) -> bool {
    path == tab.href || path.strip_prefix(tab.href).is_some_and(|rest| tab.href != "/office" && rest.starts_with('/'))
}

fn group_of(path: &str) -> &'static TabGroup {
    let [today, ..] = &GROUPS;
    GROUPS.iter().find(|group| group.tabs.iter().any(|tab| is_at(tab, path))).unwrap_or(today)
}

/// The groups; each leads to its first page.
pub(super) fn groups(path: &str) -> Vec<TabLink> {
    let here = group_of(path).name;
    let link = |group: &TabGroup| {
        let first = group.tabs.first()?;
        Some(TabLink { href: first.href, name: group.name, is_here: group.name == here })
    };
    GROUPS.iter().filter_map(link).collect()
}

/// The pages of the group in which one is.
pub(super) fn pages(path: &str) -> Vec<TabLink> {
    let link = |tab: &Tab| TabLink { href: tab.href, name: tab.name, is_here: is_at(tab, path) };
    group_of(path).tabs.iter().map(link).collect()
}
