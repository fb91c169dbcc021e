//! The office's door: what the owner decides.

pub(super) mod export;
pub(super) mod home;
pub(super) mod import;
pub(super) mod papers;
pub(super) mod services;
pub(super) mod settings;
pub(super) mod staff;
pub(super) mod targets;
pub(super) mod tokens;
