//! Every picture of every built-in rule is a sound SVG that can be painted.

use hitchwork_core::colour::Sight;
use hitchwork_core::tied::Tied;
use hitchwork_draw::{fabric, font, gradient, order, png, thread_use};
use hitchwork_rules::{Rules, Settings, built_in_names};
use roxmltree::{Document, Node};

/// Well-formed, with a title and a description, no name twice, and no name used that is
/// not there.
fn check(rule: &str, picture: &str) {
    let document = Document::parse(picture).unwrap_or_else(|error| panic!("{rule}: {error}"));
    let elements = || document.descendants().filter(Node::is_element);
    for name in ["title", "desc"] {
        let said = elements()
            .find(|node| node.has_tag_name(name))
            .and_then(|node| node.text());
        assert!(
            said.is_some_and(|said| !said.trim().is_empty()),
            "{rule} has no {name}"
        );
    }
    let mut names: Vec<&str> = elements().filter_map(|node| node.attribute("id")).collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all, "{rule}: a name twice");
    for attribute in elements().flat_map(|node| node.attributes()) {
        let value = attribute.value();
        let used = value
            .strip_prefix("url(#")
            .and_then(|rest| rest.strip_suffix(')'))
            .or_else(|| {
                value
                    .strip_prefix('#')
                    .filter(|_| attribute.name() == "href")
            });
        if let Some(used) = used {
            assert!(
                names.binary_search(&used).is_ok(),
                "{rule}: there is no {used}"
            );
        }
        assert!(
            !value.contains("NaN") && !value.contains("inf"),
            "{rule}: {value}"
        );
    }
}

#[test]
fn every_picture_of_every_built_in_rule_is_sound() {
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("there");
        let tied = Tied::of(rules.make(&rule, &Settings::new()).expect("sound").band);
        let band = tied.band();
        let options = fabric::FabricOptions::default();
        check(name, &fabric::svg(&tied, &options).expect("small enough"));
        check(name, &fabric::tile(&tied, &options).expect("comes again"));
        let sight = Sight::of_knot(&band.gauge());
        let charts = [
            order::svg(&tied),
            thread_use::svg(&tied),
            gradient::svg(name, band.palette(), false, sight).expect("two colours or more"),
        ];
        for chart in charts {
            check(name, &chart);
            check(name, &font::carried(&chart).expect("XML"));
            png::render(&chart, 0.5).expect("paintable");
        }
    }
}
