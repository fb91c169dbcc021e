//! Places in JSON as pointers (RFC 6901).

use serde_path_to_error::Segment;

/// The place of a fault.
pub(super) fn pointer(path: &serde_path_to_error::Path) -> String {
    let step = |segment: &Segment| match segment {
        Segment::Seq { index } => format!("/{index}"),
        Segment::Map { key: name } | Segment::Enum { variant: name } => {
            format!("/{}", escaped(name))
        }
        Segment::Unknown => String::new(),
    };
    path.iter().map(step).collect()
}

/// A name as a step of a JSON pointer (RFC 6901).
pub(super) fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
