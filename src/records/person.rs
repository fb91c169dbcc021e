//! Somebody who works here, and what they may do.

use serde::Serialize;

use super::StaffId;
use super::column::words;

words! {
    /// What somebody may do. One person can have several.
    Role {
        /// Checks in, quotes, takes money, hands over.
        Desk = "desk" => "front desk",
        /// Measures and works.
        Bench = "bench" => "bench",
        /// Everything, and the shop's settings.
        Owner = "owner" => "owner",
    }
}

/// The roles of one person.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Roles {
    /// Front desk.
    pub desk: bool,
    /// Bench.
    pub bench: bool,
    /// Owner.
    pub owner: bool,
}

impl Roles {
    /// Whether the person may act as `role`. An owner may act as anybody.
    pub fn may_act_as(self, role: Role) -> bool {
        self.owner
            || match role {
                Role::Desk => self.desk,
                Role::Bench => self.bench,
                Role::Owner => false,
            }
    }

    /// The roles one by one.
    pub fn held(self) -> Vec<Role> {
        let held = [(self.desk, Role::Desk), (self.bench, Role::Bench), (self.owner, Role::Owner)];
        held.into_iter().filter(|(has, _)| *has).map(|(_, role)| role).collect()
    }

    /// The roles in words.
    pub fn spoken(self) -> String {
        self.held().into_iter().map(Role::spoken).collect::<Vec<_>>().join(", ")
    }
}

/// A member of staff. The password hash stays in the file.
#[derive(Debug, Clone, Serialize)]
pub struct Staff {
    /// Key.
    pub id: StaffId,
    /// The name they sign in with.
    pub name: String,
    /// What they may do.
    pub roles: Roles,
    /// Whether they may sign in.
    pub active: bool,
    /// For optimistic locking.
    pub version: i64,
}
