//! What a crash leaves: a copy of the unsaved text beside the scene, `.NAME.toml.unsaved`, offered at the next start.
