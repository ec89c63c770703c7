//! Every command that a text tells its reader to type, and every example of a page that
//! explains, does what the text says.

use std::collections::BTreeSet;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::common::{Said, folder, hitchwork};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn text(path: &str) -> String {
    fs::read_to_string(root().join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// What stands for a word that the reader is to choose.
fn chosen(word: &str) -> &str {
    match word {
        "RULE" | "BAND" => "drift",
        "NAME" => "gulls",
        "CODE" => "open-gaps",
        "PLAN" => "plan.toml",
        "FILE" => "reference.html",
        other => other,
    }
}

/// The words of a command as a shell splits them; quotes keep words together.
fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut quote = None;
    for character in line.chars() {
        match (quote, character) {
            (Some(open), _) if character == open => quote = None,
            (None, '\'' | '"') => {
                quote = Some(character);
                word.get_or_insert_default();
            }
            (None, ' ') => words.extend(word.take()),
            _ => word.get_or_insert_default().push(character),
        }
    }
    words.extend(word);
    assert_eq!(quote, None, "an open quote in {line}");
    words
}

/// The commands in a text: lines of a block that begin with `hitchwork`, and such pieces
/// between backticks, each once, in order.
fn commands(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut add = |command: &str| {
        let command = command.split_whitespace().collect::<Vec<_>>().join(" ");
        if !found.contains(&command) {
            found.push(command);
        }
    };
    for line in text.lines() {
        let line = line.trim_start();
        let line = line.strip_prefix("$ ").unwrap_or(line);
        let line = line.strip_prefix("#   ").unwrap_or(line);
        if line.starts_with("hitchwork ") {
            add(line);
        }
    }
    for (at, piece) in text.split('`').enumerate() {
        if at % 2 == 1 && piece.starts_with("hitchwork ") {
            add(piece);
        }
    }
    found
}

/// Runs a command as its text gives it.
fn typed(folder: &Path, command: &str) -> Said {
    let arguments = words(command);
    let arguments: Vec<&str> = arguments[1..].iter().map(|word| chosen(word)).collect();
    hitchwork(folder, &arguments)
}

/// Asserts that the live page comes up, and ends it.
fn comes_up(folder: &Path, command: &str) {
    let arguments = words(command);
    let arguments = arguments[1..].iter().filter(|word| *word != "--open");
    let mut page = Command::new(env!("CARGO_BIN_EXE_hitchwork"))
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command starts");
    let mut first = String::new();
    let errors = page.stderr.take().expect("piped");
    let _ = BufReader::new(errors).read_line(&mut first);
    page.kill().expect("it runs until it is ended");
    page.wait().expect("it ends");
    assert!(first.starts_with("http://127.0.0.1:"), "{command}: {first}");
}

/// Runs all commands of a text, one after another in one folder.
fn all_work(about: &str, text: &str, folder: &Path) {
    let commands = commands(text);
    assert!(!commands.is_empty(), "{about} gives no commands");
    for command in commands {
        if command.starts_with("hitchwork watch") {
            comes_up(folder, &command);
            continue;
        }
        let said = typed(folder, &command);
        assert_eq!(
            said.status,
            Some(0),
            "{about}: {command}\n{}{}",
            said.out,
            said.err
        );
    }
}

/// A folder in which the files lie that the README speaks of.
fn desk() -> tempfile::TempDir {
    let folder = folder();
    let class = folder.path().join("demo/evening-class");
    fs::create_dir_all(&class).expect("made");
    for entry in fs::read_dir(root().join("demo/evening-class")).expect("there") {
        let entry = entry.expect("readable");
        fs::copy(entry.path(), class.join(entry.file_name())).expect("copied");
    }
    let plan =
        "[[item]]\nname = \"drift-{threads}\"\nrule = \"drift\"\ngrid = { threads = \"6..7\" }\n";
    fs::write(
        folder.path().join("plan.toml"),
        format!("title = \"two\"\n{plan}"),
    )
    .expect("written");
    folder
}

/// The last block of a kind that begins with the words.
fn block<'a>(text: &'a str, kind: &str, begins: &str) -> &'a str {
    let opening = format!("```{kind}\n");
    let blocks: Vec<&str> = text.split(&opening).skip(1).collect();
    blocks
        .into_iter()
        .filter_map(|rest| rest.split("```").next())
        .rfind(|block| block.starts_with(begins))
        .unwrap_or_else(|| panic!("no block begins with {begins}"))
}

#[test]
fn every_command_of_the_readme_works() {
    let readme = text("README.md");
    let folder = desk();
    let ebb = block(&readme, "rhai", "/// A lattice band");
    fs::write(folder.path().join("ebb.rhai"), ebb).expect("written");
    let boat = block(&readme, "text", "....#");
    fs::write(folder.path().join("boat.txt"), boat).expect("written");
    all_work("README", &readme, folder.path());
}

/// What stands before an ellipsis in the README, line by line, is what the command says.
#[test]
fn the_readme_shows_what_the_command_says() {
    let readme = text("README.md");
    let folder = desk();
    let shown = block(&readme, "text", "$ hitchwork make drift");
    let (command, shown) = shown.split_once('\n').expect("more than the command");
    let said = typed(folder.path(), &command[2..]);
    for (line, says) in shown.lines().zip(said.out.lines()) {
        let line = line.split('…').next().unwrap_or_default();
        assert!(says.starts_with(line), "README: {line}\nsaid: {says}");
    }
    assert_eq!(shown.lines().count(), said.out.lines().count());
    let steps = folder.path().join("out/drift/sheet.txt");
    let steps = fs::read_to_string(steps).expect("written");
    assert!(steps.contains(block(&readme, "text", "Row 1 of 2")));
}

/// The mistake in the README, made in the rule that it shows, is told in just these lines.
#[test]
fn the_readme_shows_a_mistake_as_the_command_does() {
    let readme = text("README.md");
    let folder = desk();
    let sound = block(&readme, "rhai", "/// A lattice band");
    let mistaken = sound.replace("backward(column)", "backwards(column)");
    assert_ne!(mistaken, sound);
    fs::write(folder.path().join("ebb.rhai"), mistaken).expect("written");
    let said = typed(folder.path(), "hitchwork make ebb.rhai");
    assert_eq!(said.status, Some(2));
    assert_eq!(said.err, block(&readme, "text", "error["));
}

#[test]
fn every_command_of_the_tutorial_works() {
    let tutorial = text("crates/hitchwork-rules/TUTORIAL.md");
    let folder = desk();
    let pier = block(&tutorial, "rhai", "/// Colours that drift");
    fs::write(folder.path().join("pier.rhai"), pier).expect("written");
    let tests = block(&tutorial, "toml", "[[case]]");
    fs::write(folder.path().join("pier.tests.toml"), tests).expect("written");
    let ahoy = block(&tutorial, "rhai", "/// A name");
    fs::write(folder.path().join("ahoy.rhai"), ahoy).expect("written");
    let boats = block(&tutorial, "rhai", "/// Little boats");
    let boat = boats
        .split('`')
        .nth(1)
        .expect("a picture between backticks");
    fs::write(folder.path().join("boat.txt"), boat).expect("written");
    all_work("tutorial", &tutorial, folder.path());
}

/// The help of a command and of all below it.
fn helps(folder: &Path, command: &[&str]) -> Vec<(String, String)> {
    let help = hitchwork(folder, &[command, &["--help"]].concat());
    assert_eq!(help.status, Some(0), "{command:?} --help");
    let below: Vec<String> = help
        .out
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.strip_prefix("  "))
        .filter(|line| !line.starts_with(' '))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .map(str::to_owned)
        .collect();
    let mut all = vec![(format!("hitchwork {}", command.join(" ")), help.out)];
    for name in below {
        all.extend(helps(folder, &[command, &[&name]].concat()));
    }
    all
}

#[test]
fn every_command_of_every_help_works() {
    let folder = desk();
    let drawn = "a a b b a\n a b b a\na b ? b a\n b b b b\n";
    fs::write(folder.path().join("sail.txt"), drawn).expect("written");
    let word = "#.#..##..##\n#.#.#..#.#.#\n###.#..#.##.\n#.#.#..#.#..\n#.#..##..#..\n";
    fs::write(folder.path().join("word.txt"), word).expect("written");
    let harbour = ["draw", "drift", "--out", "harbour.png"];
    assert_eq!(hitchwork(folder.path(), &harbour).status, Some(0));
    let all = helps(folder.path(), &[]);
    assert!(all.len() > 12, "{} helps", all.len());
    let mut with_examples = BTreeSet::new();
    for (command, help) in all {
        let help = help.replace("Begin with:  ", "");
        if !commands(&help).is_empty() {
            all_work(&command, &help, folder.path());
            with_examples.insert(command);
        }
    }
    for command in ["hitchwork ", "hitchwork explore", "hitchwork collect"] {
        assert!(with_examples.contains(command), "{command} gives examples");
    }
}

/// What a plan comes to, in a line, as its page says it.
fn comes_to(plan: &serde_json::Value) -> String {
    let number = |key: &str| plan[key].as_u64().expect("a number");
    let bands = match number("members") {
        1 => "1 band".to_owned(),
        many => format!("{many} bands"),
    };
    let names = plan["names"].as_array().expect("a list").iter();
    let names: Vec<&str> = names.filter_map(serde_json::Value::as_str).collect();
    match (number("candidates"), plan["conditions"] == true) {
        (candidates, _) if candidates != number("members") => {
            format!("{bands} of {candidates} candidates")
        }
        (_, true) => format!("up to {bands}: {}", names.join(", ")),
        (_, false) => format!("{bands}: {}", names.join(", ")),
    }
}

/// The page about plans has a part for every key that the schema has, and every example makes
/// what stands under it.
#[test]
fn every_key_of_a_plan_is_explained_by_a_plan_that_works() {
    let page = text("crates/hitchwork-collection/PLANS.md");
    let schema: serde_json::Value =
        serde_json::from_str(&text("crates/hitchwork-collection/plan.schema.json")).expect("JSON");
    let of_plans = schema["properties"].as_object().expect("keys").keys();
    let of_items = schema["$defs"]["all"]["propertyNames"]["enum"]
        .as_array()
        .expect("keys");
    let of_items = of_items.iter().filter_map(serde_json::Value::as_str);
    let keys: BTreeSet<&str> = of_plans.map(String::as_str).chain(of_items).collect();
    let parts: Vec<(&str, &str)> = page
        .split("\n## ")
        .skip(1)
        .map(|part| part.split_once('\n').expect("more than a heading"))
        .collect();
    let explained: BTreeSet<&str> = parts.iter().map(|(key, _)| *key).collect();
    assert_eq!(explained, keys);
    let folder = desk();
    let class = folder.path().join("demo/evening-class");
    let examples = parts.into_iter().chain([("rule", page.as_str())]);
    for (key, part) in examples {
        let (_, example) = part.split_once("```toml\n").expect("an example");
        let (example, after) = example.split_once("```\n\n> ").expect("what it comes to");
        let uses = |line: &str| {
            line.split_once('=')
                .is_some_and(|(name, _)| name.trim() == key)
                || line.trim_matches(['[', ']']) == key
        };
        assert!(example.lines().any(uses), "{key}:\n{example}");
        fs::write(class.join("example.toml"), example).expect("written");
        let said = hitchwork(&class, &["collect", "example.toml", "--dry-run", "--json"]);
        assert_eq!(said.status, Some(0), "{key}:\n{}{}", said.out, said.err);
        let plan = serde_json::from_str(&said.out).expect("JSON");
        assert_eq!(
            after.lines().next(),
            Some(comes_to(&plan).as_str()),
            "{key}"
        );
    }
}

#[test]
fn every_command_of_the_page_about_plans_works() {
    let folder = desk();
    all_work(
        "plans",
        &text("crates/hitchwork-collection/PLANS.md"),
        folder.path(),
    );
}

/// The example of a page: what stands further in than the words around it.
fn example(page: &str) -> String {
    page.lines()
        .skip_while(|line| *line != "Example")
        .skip(1)
        .take_while(|line| line.is_empty() || line.starts_with(' '))
        .filter_map(|line| line.strip_prefix("    "))
        .map(|line| format!("{line}\n"))
        .collect()
}

#[test]
fn the_example_of_every_page_gives_what_the_page_explains() {
    let folder = folder();
    let listed = hitchwork(folder.path(), &["explain"]).out;
    let codes: Vec<&str> = listed
        .lines()
        .filter_map(|line| line.strip_prefix("  "))
        .filter_map(|line| line.split(' ').next())
        .collect();
    assert!(codes.len() > 25, "{codes:?}");
    let mut wrong = Vec::new();
    for code in codes {
        let page = hitchwork(folder.path(), &["explain", code]).out;
        let example = example(&page);
        if example.is_empty() {
            wrong.push(format!("{code} has no example that can be tried"));
            continue;
        }
        let write = |name: &str| fs::write(folder.path().join(name), &example).expect("written");
        let said = match code {
            _ if example.starts_with("hitchwork ") => typed(folder.path(), example.trim()),
            "not-a-condition" => hitchwork(
                folder.path(),
                &["explore", "flotsam", "--where", example.trim()],
            ),
            "not-a-plan" => {
                write("plan.toml");
                hitchwork(
                    folder.path(),
                    &["collect", "plan.toml", "--dry-run", "--out", "bands"],
                )
            }
            "not-tests" => {
                fs::write(
                    folder.path().join("row.rhai"),
                    "/// A row.\nband(4).repeat(forward(1..4))\n",
                )
                .expect("written");
                write("row.tests.toml");
                hitchwork(folder.path(), &["rules", "test", "row.rhai"])
            }
            "stash-too-short" => {
                write("stash.csv");
                hitchwork(
                    folder.path(),
                    &[
                        "check",
                        "candy_stripe",
                        "--palette",
                        "stash.csv",
                        "--stash",
                        "stash.csv",
                    ],
                )
            }
            _ => {
                write("example.rhai");
                // Tests are built to be checked, not to be fast.
                hitchwork(
                    folder.path(),
                    &["check", "example.rhai", "--seconds", "100"],
                )
            }
        };
        let given = format!("{}{}", said.out, said.err);
        let others: Vec<&str> = ["error[", "warning[", "note["]
            .iter()
            .flat_map(|opens| given.split(opens).skip(1))
            .filter_map(|rest| rest.split(']').next())
            .filter(|other| *other != code)
            .collect();
        if !given.contains(&format!("[{code}]")) || !others.is_empty() {
            wrong.push(format!(
                "the example of {code} gives instead, or as well:\n{given}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
