//! The follower's sheet as plain text.
