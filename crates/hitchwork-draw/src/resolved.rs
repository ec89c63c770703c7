//! Pictures read back, for those who paint and print them.

use std::sync::{Arc, LazyLock};

use resvg::usvg::fontdb::Database;
use resvg::usvg::{Options, Tree};

use crate::error::{Error, Problem};
use crate::font;

/// A picture of this crate with everything in it resolved.
pub(crate) fn tree(svg: &str) -> Result<Tree, Error> {
    Tree::from_str(svg, &shut_in()).map_err(|error| {
        Problem::NotAPicture {
            reason: error.to_string(),
        }
        .into()
    })
}

/// Read once: a batch paints many pictures.
fn fonts() -> Arc<Database> {
    static FONTS: LazyLock<Arc<Database>> = LazyLock::new(|| {
        let mut fonts = Database::new();
        fonts.load_font_data(font::REGULAR.to_vec());
        fonts.load_font_data(font::STRONG.to_vec());
        fonts.set_sans_serif_family(font::FAMILY);
        Arc::new(fonts)
    });
    Arc::clone(&FONTS)
}

/// Options by which a picture reaches nothing outside itself.
fn shut_in() -> Options<'static> {
    let mut options = Options {
        font_family: font::FAMILY.to_owned(),
        ..Options::default()
    };
    options.fontdb = fonts();
    options.image_href_resolver.resolve_string = Box::new(|_, _| None);
    options
}
