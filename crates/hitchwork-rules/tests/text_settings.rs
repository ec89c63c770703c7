//! Words that a maker chooses: what a setting of text takes, and how it refuses the rest.

use hitchwork_core::band::Setting;
use hitchwork_rules::{Error, Made, Range, Rules, Settings};

const BOARD: &str = "let name = text(\"name\", \"Ahoy\", 2..=5, \"what the band says\");
let word = lettering(name);
band(word.width + 1).repeat(over_leader(word)).title(name)";

fn made(settings: &Settings) -> Result<Made, Error> {
    let rules = Rules::new();
    let rule = rules.compile("board", BOARD).expect("a rule");
    rules.make(&rule, settings)
}

fn refused(settings: &Settings) -> (String, String) {
    let error = made(settings).expect_err("it does not fit");
    let diagnostic = &error.diagnostics()[0];
    assert_eq!(diagnostic.code, "setting-refused");
    let help = diagnostic.help.clone().expect("what to do");
    (diagnostic.message.clone(), help)
}

fn title(settings: &Settings) -> String {
    made(settings).expect("it fits").band.title().to_owned()
}

#[test]
fn a_rule_says_what_its_maker_wrote_and_its_default_otherwise() {
    assert_eq!(title(&Settings::new()), "Ahoy");
    assert_eq!(title(&Settings::new().set("name", "Ebb")), "Ebb");
    let band = made(&Settings::new().set("name", "Ebb"))
        .expect("made")
        .band;
    let origin = band.origin().expect("it says whence it comes");
    assert_eq!(origin.settings["name"], Setting::Text("Ebb".to_owned()));
}

/// A year is a word on a band, whether it comes as a number or as text; so is what begins with 0.
#[test]
fn digits_are_words_as_well() {
    assert_eq!(title(&Settings::new().set("name", 2031)), "2031");
    assert_eq!(title(&Settings::new().set("name", "007")), "007");
}

#[test]
fn letters_are_counted_as_people_count_them() {
    for fits in ["ab", "Zoé's", "Σκιά", "Маяк"] {
        assert_eq!(title(&Settings::new().set("name", fits)), fits);
    }
    // Five letters, the accents of two of them apart.
    let apart = "e\u{301}te\u{301}ab";
    assert_eq!(title(&Settings::new().set("name", apart)), apart);
    let (message, help) = refused(&Settings::new().set("name", "Marina"));
    assert_eq!(
        message,
        "name cannot be set like that: it has 6 letters, and may have 2 to 5"
    );
    assert_eq!(
        help,
        "name: what the band says; it takes 2 to 5 letters, on one line"
    );
    let (message, _) = refused(&Settings::new().set("name", "A"));
    assert!(message.ends_with("it has 1 letter, and may have 2 to 5"));
}

#[test]
fn what_does_not_stand_on_one_line_is_refused() {
    for broken in ["a\nb", "a\tb", "a\u{7}b"] {
        let (message, _) = refused(&Settings::new().set("name", broken));
        assert_eq!(
            message,
            "name cannot be set like that: it holds a line break, or another character that cannot be shown"
        );
    }
    let (message, _) = refused(&Settings::new().set("name", true));
    assert!(message.contains("is not 2 to 5 letters, on one line"));
}

#[test]
fn a_text_is_declared_with_letters_that_a_band_file_can_hold() {
    let rules = Rules::new();
    for (letters, why) in [
        ("0..=201", "the setting name cannot have 0 to 201 letters"),
        ("-1..=5", "the setting name cannot have -1 to 5 letters"),
        ("6..=5", "the setting name has an empty range: 6..=5"),
        (
            "5..=9",
            "the default of name cannot be: it has 4 letters, and may have 5 to 9",
        ),
    ] {
        let text = BOARD.replace("2..=5", letters);
        let rule = rules.compile("board", &text).expect("a rule");
        let error = rules.make(&rule, &Settings::new()).expect_err(letters);
        assert_eq!(error.diagnostics()[0].code, "setting-declared-wrongly");
        assert_eq!(error.diagnostics()[0].message, why);
    }
}

#[test]
fn a_plan_may_take_it_whatever_else_decides_how_long_it_is() {
    let short = Range::Text { least: 2, most: 5 };
    let any = short.without_bounds();
    assert_eq!(
        any,
        Range::Text {
            least: 0,
            most: 200
        }
    );
    assert!(any.accept(&Setting::Text("lighthouse".to_owned())).is_ok());
    assert!(any.accept(&Setting::Places(vec![1])).is_err());
}

#[test]
fn colours_are_compared_and_shown_by_name() {
    let rules = Rules::new();
    let text = "let lamp = colour(\"lamp\", \"#ffc145\");
let night = colour(\"night\", \"#22304f\");
let sign = picture([\"#.\", \".#\"]).recoloured(lamp);
require(lamp in sign.colours && !(night in sign.colours), \"in\", \"\");
require(sign.cell(1, 1) == lamp && sign.cell(1, 1) != night && sign.cell(1, 2) != lamp, \"equal\", \"\");
require(lamp != colour(\"lamp\", \"#ffc146\") && lamp != colour(\"light\", \"#ffc145\"), \"both\", \"\");
require(`${lamp} ${sign.colours}` == \"lamp [lamp]\", `${lamp} ${sign.colours}`, \"\");
band(3).repeat(over_leader(sign))";
    let rule = rules.compile("sign", text).expect("a rule");
    let made = rules.make(&rule, &Settings::new());
    made.unwrap_or_else(|error| panic!("{}", error.render(false)));
}
