//! The office's door: what the owner decides.

pub(super) mod export;
pub(super) mod final_check;
pub(super) mod first_hour;
pub(super) mod home;
pub(super) mod import;
pub(super) mod papers;
pub(super) mod part;
pub(super) mod parts;
pub(super) mod services;
pub(super) mod settings;
pub(super) mod staff;
pub(super) mod string_set;
pub(super) mod string_sets;
pub(super) mod targets;
pub(super) mod tokens;
