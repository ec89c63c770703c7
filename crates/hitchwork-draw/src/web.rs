//! What all pages for a browser have in common: a head, and a policy that lets nothing in.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

/// What a page's style and script may do, and nothing else may: they are named by their
/// digests, so that a change of either needs no other change. `more` are further
/// directives, such as `img-src data:;`, and end in a space.
#[must_use]
pub fn policy(style: &str, script: Option<&str>, more: &str) -> String {
    let script = script.map_or(String::new(), |script| {
        format!("script-src '{}'; ", digest(script))
    });
    format!(
        "default-src 'none'; {script}style-src '{}'; {more}base-uri 'none'; form-action 'none'",
        digest(style)
    )
}

/// A page's script, after what scripts that build elements have in common: `by(id)` finds
/// one, and `el(tag, attributes, ...children)` makes one; attributes that are false or missing
/// are left out.
#[must_use]
pub fn script(own: &str) -> String {
    include_str!("web/elements.js").to_owned() + own
}

fn digest(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text)))
}

/// The head of a page. `policy` stands in it, where the server does not send it; `more`
/// comes before the title.
#[must_use]
pub fn head(title: &str, style: &str, policy: Option<&str>, more: &Markup) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            @if let Some(policy) = policy {
                meta http-equiv="Content-Security-Policy" content=(policy);
            }
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            (more)
            title { (title) }
            link rel="icon" href="data:,";
            style { (PreEscaped(style)) }
        }
    }
}
