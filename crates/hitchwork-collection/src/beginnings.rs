//! How the files that a collection writes about its whole begin: by this they are recognised.

/// The format of manifests.
pub const FORMAT: &str = "hitchwork-collection/1";
/// With which words every manifest begins.
pub(crate) const MANIFEST_BEGINS: &str = "{\"about\": ";
/// With which columns every table begins.
pub(crate) const TABLE_BEGINS: &str = "name,outcome,title,rule,palette,seed,mirrored,settings,";
/// What the head of every gallery says of its origin.
pub(crate) const GALLERY_MARK: &str = "<meta name=\"generator\" content=\"hitchwork collect\">";
