//! What a stranger gets who takes a crate from a registry: its licences, its page with the
//! pictures, its documentation, and no more dependencies than it uses.

use std::fs;
use std::path::{Path, PathBuf};

use hitchwork_tests::files;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn text(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The folders of all crates that are published.
fn published() -> Vec<PathBuf> {
    let crates = fs::read_dir(root().join("crates")).expect("there are crates");
    let mut folders: Vec<PathBuf> = crates.map(|one| one.expect("readable").path()).collect();
    folders.push(root().join("scripts"));
    folders.sort();
    assert!(folders.len() > 6);
    folders
}

fn manifest(folder: &Path) -> toml::Table {
    let manifest = text(&folder.join("Cargo.toml"));
    manifest.parse().expect("a manifest is TOML")
}

#[test]
fn every_crate_says_what_a_registry_asks_for() {
    for folder in published() {
        let manifest = manifest(&folder);
        let package = manifest["package"].as_table().expect("a table");
        let shown = folder.display();
        for inherited in [
            "repository",
            "rust-version",
            "version",
            "categories",
            "keywords",
        ] {
            assert_eq!(
                package[inherited]["workspace"].as_bool(),
                Some(true),
                "{shown}: {inherited}"
            );
        }
        let words = |key: &str| package.get(key).and_then(toml::Value::as_str);
        assert!(words("description").is_some(), "{shown}");
        assert_eq!(words("readme"), Some("README.md"), "{shown}");
        assert!(package.contains_key("include"), "{shown}");
        let documentation = &package["metadata"]["docs"]["rs"];
        assert_eq!(
            documentation["all-features"].as_bool(),
            Some(true),
            "{shown}"
        );
    }
}

#[test]
fn every_crate_carries_the_licences_that_it_names() {
    for folder in published() {
        for licence in ["LICENSE-MIT", "LICENSE-APACHE"] {
            let own = text(&folder.join(licence));
            assert_eq!(own, text(&root().join(licence)), "{}", folder.display());
        }
        let fonts = files::below(&folder)
            .into_iter()
            .any(|file| file.extension().is_some_and(|ending| ending == "ttf"));
        let manifest = manifest(&folder);
        let licence = manifest["package"]["license"].as_str();
        assert_eq!(
            fonts,
            licence.is_some_and(|licence| licence.contains("AND OFL-1.1"))
        );
        if fonts {
            assert!(text(&folder.join("fonts/LICENCE.txt")).contains("SIL OPEN FONT LICENSE"));
        }
    }
}

/// Registries find the pictures of a crate's page from the repository and the crate's folder
/// in it: so they are named from that folder, and lie there.
#[test]
fn the_pictures_of_every_page_are_where_a_registry_looks() {
    let mut pictures = 0;
    for folder in published() {
        let page = text(&folder.join("README.md"));
        for rest in page.split("](").skip(1) {
            let (path, _) = rest.split_once(')').expect("a bracket closes");
            assert!(!path.contains(':'), "{}: {path}", folder.display());
            assert!(folder.join(path).is_file(), "{}: {path}", folder.display());
            pictures += usize::from(path.ends_with(".png"));
        }
        assert!(!page.contains("<img"), "{}", folder.display());
    }
    assert!(pictures >= 5, "{pictures}");
}

/// Where links are not to be had, a checkout holds a file with the link's words in its place.
#[test]
fn no_file_is_a_link() {
    let looked_at = ["crates", "scripts", "tests", "demo", ".ci", ".cargo"];
    let all: Vec<PathBuf> = looked_at
        .iter()
        .flat_map(|folder| files::below(&root().join(folder)))
        .collect();
    assert!(all.len() > 300, "{}", all.len());
    for file in all {
        let kind = fs::symlink_metadata(&file).expect("it is there");
        assert!(!kind.is_symlink(), "{} is a link", file.display());
    }
}

/// Rust that says `name::` somewhere, outside of comments.
fn says(files: &[PathBuf], name: &str) -> bool {
    let wanted = [
        format!("{}::", name.replace('-', "_")),
        format!("use {};", name.replace('-', "_")),
        format!("use {} as ", name.replace('-', "_")),
    ];
    files.iter().any(|file| {
        text(file)
            .lines()
            .filter(|line| !line.trim_start().starts_with("//") || line.contains("/// use"))
            .any(|line| wanted.iter().any(|wanted| line.contains(wanted.as_str())))
    })
}

#[test]
fn every_dependency_is_used() {
    let mut folders = published();
    folders.push(root().join("tests"));
    let mut named = 0;
    for folder in folders {
        let manifest = manifest(&folder);
        let mut rust: Vec<PathBuf> = files::below(&folder)
            .into_iter()
            .filter(|file| file.extension().is_some_and(|ending| ending == "rs"))
            .filter(|file| !file.starts_with(folder.join("fuzz")))
            .collect();
        // Its examples are tests of the workspace, too.
        rust.push(root().join("README.md"));
        let inside = folder.join("src");
        let library: Vec<PathBuf> = rust
            .iter()
            .filter(|file| file.starts_with(&inside))
            .cloned()
            .collect();
        let mut tables = vec![
            (manifest.get("dependencies"), &library, false),
            (manifest.get("dev-dependencies"), &rust, true),
        ];
        for target in manifest
            .get("target")
            .and_then(toml::Value::as_table)
            .into_iter()
            .flatten()
        {
            tables.push((target.1.get("dependencies"), &library, false));
        }
        for (table, files, is_for_tests) in tables {
            for name in table
                .and_then(toml::Value::as_table)
                .into_iter()
                .flat_map(toml::Table::keys)
            {
                // Tests ask for features of a crate that is named above.
                let above = manifest.get("dependencies");
                let only_features =
                    is_for_tests && above.is_some_and(|above| above.get(name).is_some());
                assert!(
                    only_features || says(files, name),
                    "{}: {name} is not used",
                    folder.display()
                );
                named += 1;
            }
        }
    }
    assert!(named > 80, "{named}");
}
