//! Plans as they are written: TOML in, a checked plan or an error at its place out.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use hitchwork_core::band::{
    MAX_LENGTH_MM, MAX_NOTES_LETTERS, MAX_TITLE_LETTERS, MIN_LENGTH_MM, Setting, check_letters,
};
use hitchwork_core::colour::{Palette, PaletteFormat, built_in_palettes};
use hitchwork_core::craft::{
    Ease, Gauge, Habits, Pace, Swatch, WRISTS, Yarn, knotted_mm_for_wrist,
};
use hitchwork_core::misread::{Belongs, Misread, NotRead, from_toml};
use hitchwork_core::near::{did_you_mean, did_you_mean_quoted};
use hitchwork_core::text::{is_blank, unmarked};
use hitchwork_draw::output::Output;
use hitchwork_rules::load::{self, FileKind, Unread};
use hitchwork_rules::{
    Error, Expression, Folder, Parameter, Range as HasRange, Rule, Rules, built_in_names,
};
use serde::Deserialize;
use toml::{Spanned, Value};

use super::name::{ALWAYS, NamePlace, Template, refused};
use super::values::{self, Seeds, WrittenSeeds};
use super::{Best, Item, MOST_MEMBERS, MemberLength, Plan, RulesBeside};
use crate::names::{is_counted, on_every_disk};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenPlan {
    title: Option<String>,
    #[serde(default)]
    notes: String,
    #[serde(default)]
    defaults: WrittenItem,
    #[serde(default)]
    item: Vec<Spanned<WrittenItem>>,
}

/// An item, or what all items have unless they say otherwise.
#[derive(Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct WrittenItem {
    rule: Option<Spanned<String>>,
    name: Option<Spanned<String>>,
    settings: BTreeMap<String, Spanned<Value>>,
    grid: BTreeMap<String, Spanned<Value>>,
    palettes: Option<Spanned<Vec<String>>>,
    seeds: Option<Spanned<WrittenSeeds>>,
    mirrored: Option<Spanned<Value>>,
    lengths: Option<Spanned<Value>>,
    wrists: Option<Spanned<Vec<Value>>>,
    thread: Option<Spanned<String>>,
    swatch: Option<Spanned<String>>,
    pace: Option<Spanned<Value>>,
    as_written: Option<bool>,
    half_rows_ahead: Option<Spanned<u32>>,
    keep: Option<Vec<Spanned<String>>>,
    reject: Option<Vec<Spanned<String>>>,
    prefer: Option<Vec<Spanned<String>>>,
    best: Option<Spanned<WrittenBest>>,
    write: Option<Spanned<Vec<String>>>,
}

#[derive(Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenBest {
    count: usize,
    by: Option<String>,
}

/// Reads a plan. Rules and palettes that it names by their files are looked for from the folder
/// that the plan is in.
///
/// ```
/// use hitchwork_collection::plan;
/// let rules = hitchwork_rules::Rules::new();
/// let plan = "title = \"Drifts\"\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8] }\n";
/// assert_eq!(plan::read(&rules, "drifts.toml", plan)?.candidates(), 2);
/// let wrong = plan.replace("threads", "thread");
/// let error = plan::read(&rules, "drifts.toml", &wrong).unwrap_err();
/// assert_eq!(error.diagnostics()[0].code, "not-a-plan");
/// # Ok::<(), hitchwork_rules::Error>(())
/// ```
///
/// # Errors
/// When the plan cannot be read, names a rule or a palette that does not exist, has settings
/// that the rule does not, conditions over measures that do not exist, or names that cannot
/// be those of folders or come twice: each with its place in the plan.
pub fn read(rules: &Rules, file: &str, text: &str) -> Result<Plan, Error> {
    let text = unmarked(text);
    let reading = PlanReader { rules, file, text };
    if text.len() > FileKind::Plan.most_bytes() {
        let message = FileKind::Plan.too_long(file);
        return Err(reading.wrong(message, FileKind::Plan.shorter(), None));
    }
    let written: WrittenPlan = from_toml(text).map_err(|unread| {
        let message = format!("{file} cannot be read: {}", unread.words);
        reading.wrong(message, meant_by(&unread, text), unread.place)
    })?;
    reading.plan(written)
}

/// How a rule is named.
const RULE_HELP: &str = "say rule = \"drift\", or name a file such as rule = \"gulls.rhai\"";

/// What helps with a text that could not be read: the very line, as it was meant.
fn meant_by(unread: &NotRead, text: &str) -> String {
    let place = unread.place.clone().unwrap_or_default();
    let line_start = text[..place.start].rfind('\n').map_or(0, |end| end + 1);
    let line = text[line_start..].lines().next().unwrap_or("").trim();
    let key = line.split('=').next().unwrap_or("").trim();
    let value = line.split_once('=').map_or("", |(_, value)| value.trim());
    if text.lines().any(|line| line.trim().starts_with("[item]")) {
        return "write [[item]], with two brackets: a plan may have several".to_owned();
    }
    match &unread.misread {
        Misread::UnknownField { name, others } => {
            // A number of threads is no slip for the thread.
            let meant = did_you_mean_quoted(name, others.iter().copied());
            if !meant.is_empty() && !is_counted(name) {
                return meant.trim_end().to_owned();
            }
            if others.contains(&"settings") && key == name && !value.is_empty() {
                return format!(
                    "if it is a setting of the rule, write settings = {{ {name} = {value} }}"
                );
            }
        }
        Misread::Kind {
            wanted: Belongs::Fields,
            ..
        } if key == "best" && !value.is_empty() => {
            return format!("write best = {{ count = {value} }}");
        }
        Misread::Kind {
            wanted: Belongs::Fields,
            ..
        } if ["settings", "grid"].contains(&key) => {
            return format!(
                "write {key} = {{ threads = 8 }}, with the names of the rule's settings"
            );
        }
        Misread::Kind {
            wanted: Belongs::List,
            ..
        } if !value.is_empty() => return format!("write {key} = [{value}]"),
        Misread::Foreign => {
            if let Some(quoted) = in_quotes(&text[line_start..], place.start - line_start) {
                return quoted;
            }
        }
        _ => {}
    }
    "a plan has a title, [defaults], and an [[item]] for each rule".to_owned()
}

/// What stands around a byte of a line and is neither number nor text, as it was meant: a
/// range, or a word.
fn in_quotes(rest: &str, at: usize) -> Option<String> {
    let line = rest.lines().next()?;
    let before = line.get(..at).filter(|before| before.contains('='))?;
    let start = before.rfind(['=', ',', '[', '{']).map_or(0, |end| end + 1);
    let end = line[at..]
        .find([',', ']', '}'])
        .map_or(line.len(), |end| at + end);
    let found = line.get(start..end)?.trim();
    if let Some(range) = range_meant(found) {
        return Some(format!("put a range in quotes: \"{range}\""));
    }
    let is_word = found.starts_with(char::is_alphabetic)
        && found
            .chars()
            .all(|letter| letter.is_alphanumeric() || "_-. ".contains(letter));
    is_word.then(|| format!("put text in quotes: \"{found}\""))
}

/// Two numbers with something between them that a range has not, or has: "6-8", "6..8:2".
fn range_meant(text: &str) -> Option<String> {
    let numbers: Vec<&str> = text
        .split(|letter: char| !letter.is_ascii_digit())
        .filter(|number| !number.is_empty())
        .collect();
    let between = text.trim_matches(|letter: char| letter.is_ascii_digit());
    let known = ["..", "..=", "...", "-", "–", "to", ":"];
    match numbers.as_slice() {
        [first, last] if known.contains(&between.trim()) => Some(format!("{first}..{last}")),
        [first, last, step] if text.contains("..") => Some(format!("{first}..{last}:{step}")),
        _ => None,
    }
}

struct PlanReader<'a> {
    rules: &'a Rules,
    file: &'a str,
    text: &'a str,
}

impl PlanReader<'_> {
    fn wrong(
        &self,
        message: impl Into<String>,
        help: impl Into<String>,
        place: Option<Range<usize>>,
    ) -> Error {
        Error::in_plan(message, help, self.file, self.text, place)
    }

    fn plan(&self, written: WrittenPlan) -> Result<Plan, Error> {
        if written.item.is_empty() {
            return Err(self.wrong(
                format!("{} describes no bands", self.file),
                "write an [[item]] with a rule, such as rule = \"drift\"",
                None,
            ));
        }
        if let Some(rule) = &written.defaults.rule {
            return Err(self.wrong(
                "the defaults name a rule",
                "a rule belongs to an [[item]]; the defaults say what all items have",
                Some(rule.span()),
            ));
        }
        let mut items = Vec::new();
        for item in &written.item {
            items.push(self.item(item.get_ref(), &written.defaults, item.span())?);
        }
        let stem = Path::new(self.file)
            .file_stem()
            .and_then(|stem| stem.to_str());
        let too_long = written
            .title
            .iter()
            .map(|title| ("the title", title, MAX_TITLE_LETTERS));
        let notes = std::iter::once(("the text of the notes", &written.notes, MAX_NOTES_LETTERS));
        for (what, text, most) in too_long.chain(notes) {
            check_letters(what, text, most).map_err(|error| {
                self.wrong(error.to_string(), error.help().unwrap_or_default(), None)
            })?;
        }
        let plan = Plan {
            title: written
                .title
                .unwrap_or(stem.unwrap_or("collection").to_owned()),
            notes: written.notes,
            items,
        };
        self.check_members(&plan, &written.item)?;
        Ok(plan)
    }

    fn item(
        &self,
        own: &WrittenItem,
        defaults: &WrittenItem,
        place: Range<usize>,
    ) -> Result<Item, Error> {
        let Some(rule_name) = &own.rule else {
            let head = place.start..(place.start + 8).min(self.text.len());
            return Err(self.wrong("this item names no rule", RULE_HELP, Some(head)));
        };
        let (rule, beside) = self.rule(rule_name)?;
        for written in [defaults, own] {
            self.chosen_once(written)?;
        }
        let mut settings = BTreeMap::new();
        for (name, value) in defaults.settings.iter().chain(&own.settings) {
            let read = values::setting(value.get_ref());
            settings.insert(
                name.clone(),
                self.placed(
                    read,
                    value.span(),
                    "a setting is a number, text, true or false, or a list of places",
                )?,
            );
        }
        let mut grid = BTreeMap::new();
        for (name, value) in defaults.grid.iter().chain(&own.grid) {
            let read = values::values(value.get_ref());
            let help = "give a list such as [6, 8, 10], or a range such as \"6..24:2\"";
            settings.remove(name);
            grid.insert(name.clone(), self.placed(read, value.span(), help)?);
        }
        for name in own.settings.keys() {
            if !own.grid.contains_key(name) {
                grid.remove(name);
            }
        }
        let (palettes, own_palettes) =
            self.palettes(own.palettes.as_ref().or(defaults.palettes.as_ref()))?;
        let seeds = match own.seeds.as_ref().or(defaults.seeds.as_ref()) {
            Some(seeds) => self.placed(
                Seeds::read(seeds.get_ref()),
                seeds.span(),
                "give a seed, a list of them, or a range such as \"1..20\"",
            )?,
            None => Seeds::ordinary(),
        };
        let template = own.name.as_ref().or(defaults.name.as_ref());
        let outputs = own.write.as_ref().or(defaults.write.as_ref());
        let mut item = Item {
            rule_name: short_name(rule_name.get_ref()),
            rule,
            settings,
            grid,
            palettes,
            own_palettes,
            seeds,
            mirrored: self.mirrored(own.mirrored.as_ref().or(defaults.mirrored.as_ref()))?,
            lengths: self.lengths(own, defaults)?,
            gauge: self.gauge(own, defaults)?,
            habits: self.habits(own, defaults)?,
            keep: self.conditions(own.keep.as_ref().or(defaults.keep.as_ref()))?,
            reject: self.conditions(own.reject.as_ref().or(defaults.reject.as_ref()))?,
            prefer: self.conditions(own.prefer.as_ref().or(defaults.prefer.as_ref()))?,
            best: self.best(own.best.as_ref().or(defaults.best.as_ref()))?,
            name: Template::usual(std::iter::empty()),
            write: self.outputs(outputs)?,
            beside,
        };
        self.check_settings(&item, own, defaults, rule_name.span())?;
        let ends = self.parameters_at_ends(&item);
        self.check_palettes(&item, &ends, own, defaults)?;
        self.check_values(&item, &ends, own, defaults)?;
        item.name = match template {
            Some(template) => self.template(&item, &ends, template)?,
            None => usual(&item),
        };
        Ok(item)
    }

    /// Refuses a setting that has one value and is combined as well.
    fn chosen_once(&self, written: &WrittenItem) -> Result<(), Error> {
        let twice = |(name, _): &(&String, &Spanned<Value>)| written.settings.contains_key(*name);
        match written.grid.iter().find(twice) {
            None => Ok(()),
            Some((name, combined)) => Err(self.wrong(
                format!("{name} stands in \"settings\" and in \"grid\", and a band has one of them"),
                format!("leave {name} out of one of the two: settings are the same for all bands of an item, and those in a grid are combined"),
                Some(combined.span()),
            )),
        }
    }

    /// A value, or its refusal at its place.
    fn placed<T>(
        &self,
        read: Result<T, String>,
        place: Range<usize>,
        help: &str,
    ) -> Result<T, Error> {
        read.map_err(|why| self.wrong(why, help, Some(place)))
    }

    /// The rule, with the others that it can use.
    fn rule(&self, name: &Spanned<String>) -> Result<(Rule, Arc<RulesBeside>), Error> {
        let written = name.get_ref();
        if is_blank(written) {
            return Err(self.wrong(
                "the rule of this item has no name",
                RULE_HELP,
                Some(name.span()),
            ));
        }
        let finding = |rule: Rule, folder| {
            let beside = RulesBeside::new(folder);
            (rule.finding(Arc::clone(&beside)), beside)
        };
        if let Some(rule) = self.rules.built_in(written) {
            return Ok(finding(rule, None));
        }
        if !written.ends_with(".rhai") {
            let meant = did_you_mean(written, built_in_names());
            return Err(self.wrong(
                format!("there is no built-in rule called {written}"),
                format!(
                    "{meant}a rule of your own is named with its ending, such as \"gulls.rhai\""
                ),
                Some(name.span()),
            ));
        }
        let path = self.beside(written);
        let shown = path.display().to_string();
        let text = load::text(&path, &shown, FileKind::Rule).map_err(|unread| {
            self.unread(
                &unread,
                "rules are looked for from the folder that the plan is in",
                name.span(),
            )
        })?;
        let known_as = known_as(written, self.folder(), &path);
        let rule = self.rules.compile(&known_as, &text);
        // What cannot be read at all is shown by a path that leads there from here.
        let rule = rule.or_else(|_| self.rules.compile(&shown, &text))?;
        let folder = known_as.rfind('/').map_or("", |end| &known_as[..=end]);
        let folder = Folder::of_file(&path).shown_as(folder);
        Ok(finding(rule, Some(folder)))
    }

    /// The folder in which the plan lies.
    fn folder(&self) -> &Path {
        let parent = Path::new(self.file).parent();
        match parent {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        }
    }

    fn beside(&self, name: &str) -> PathBuf {
        let parent = Path::new(self.file).parent().unwrap_or(Path::new(""));
        parent.join(name)
    }

    /// A file that the plan names and that cannot be read.
    fn unread(&self, unread: &Unread, where_from: &str, place: Range<usize>) -> Error {
        let help = match unread.is_missing() {
            true => where_from,
            false => unread.help(),
        };
        self.wrong(unread.to_string(), help, Some(place))
    }

    fn no_palette<'k>(
        &self,
        name: &str,
        known: impl Iterator<Item = &'k str>,
        place: Option<Range<usize>>,
    ) -> Error {
        let meant = did_you_mean_quoted(name, known);
        self.wrong(
            format!("there is no palette called \"{name}\""),
            format!("{meant}one of your own is named with its ending, such as \"class.csv\", under palettes"),
            place,
        )
    }

    fn palettes(
        &self,
        names: Option<&Spanned<Vec<String>>>,
    ) -> Result<(Vec<String>, Vec<Palette>), Error> {
        let (mut all, mut own) = (Vec::new(), Vec::new());
        let Some(names) = names else {
            return Ok((all, own));
        };
        for name in names.get_ref() {
            let ending = Path::new(name)
                .extension()
                .and_then(|ending| ending.to_str());
            let Some(format) = ending.and_then(PaletteFormat::of_extension) else {
                let known = built_in_palettes();
                if known.iter().all(|palette| palette.name != *name) {
                    let known = known.iter().map(|palette| palette.name.as_str());
                    return Err(self.no_palette(name, known, Some(names.span())));
                }
                all.push(name.clone());
                continue;
            };
            let path = self.beside(name);
            let stem = path
                .file_stem()
                .and_then(|stem| stem.to_str())
                .unwrap_or("palette")
                .to_owned();
            let shown = path.display().to_string();
            let bytes = load::bytes(&path, &shown, FileKind::Palette).map_err(|unread| {
                self.unread(
                    &unread,
                    "palettes are looked for from the folder that the plan is in",
                    names.span(),
                )
            })?;
            let palette = Palette::read(&stem, &bytes, format).map_err(|error| {
                self.wrong(
                    format!("{shown}: {error}"),
                    error.help().unwrap_or_default(),
                    Some(names.span()),
                )
            })?;
            all.push(palette.name.clone());
            own.push(palette);
        }
        Ok((all, own))
    }

    fn mirrored(&self, said: Option<&Spanned<Value>>) -> Result<Vec<bool>, Error> {
        let Some(said) = said else {
            return Ok(Vec::new());
        };
        let all = match said.get_ref() {
            Value::Array(all) => all.as_slice(),
            one => std::slice::from_ref(one),
        };
        let each: Option<Vec<bool>> = all.iter().map(Value::as_bool).collect();
        each.filter(|each| !each.is_empty()).ok_or_else(|| {
            self.wrong(
                "\"mirrored\" is true, false or both in a list",
                "write false for bands as designed, true for their mirror images, or [false, true] for both",
                Some(said.span()),
            )
        })
    }

    fn lengths(
        &self,
        own: &WrittenItem,
        defaults: &WrittenItem,
    ) -> Result<Vec<MemberLength>, Error> {
        let said = [own, defaults]
            .into_iter()
            .find(|item| item.lengths.is_some() || item.wrists.is_some());
        let Some(said) = said else {
            return Ok(Vec::new());
        };
        if let (Some(_), Some(wrists)) = (&said.lengths, &said.wrists) {
            return Err(self.wrong(
                "lengths and wrists are both given here, and each says how long the bands are",
                "leave one of them out; a second [[item]] can have the other",
                Some(wrists.span()),
            ));
        }
        let mut all = Vec::new();
        if let Some(lengths) = &said.lengths {
            let help = "lengths are centimetres of knotting: 15, or [15, 17.5]";
            for centimetres in
                self.placed(values::numbers(lengths.get_ref()), lengths.span(), help)?
            {
                let mm = centimetres * 10.0;
                if !(MIN_LENGTH_MM..=MAX_LENGTH_MM).contains(&mm) {
                    return Err(self.wrong(
                        format!("{centimetres} cm is not a length that a band can have"),
                        format!(
                            "lengths are from {} to {} centimetres of knotting: 15, or [15, 17.5]",
                            MIN_LENGTH_MM / 10.0,
                            MAX_LENGTH_MM / 10.0
                        ),
                        Some(lengths.span()),
                    ));
                }
                all.push(MemberLength { mm, wrist_mm: None });
            }
        }
        for wrist in said.wrists.iter().flat_map(Spanned::get_ref) {
            let place = said.wrists.as_ref().map(Spanned::span);
            let help = "wrists are \"child\", \"woman\", \"man\" or centimetres round";
            let round_mm = match wrist {
                Value::String(name) => WRISTS
                    .iter()
                    .find(|wrist| wrist.name == *name)
                    .map(|wrist| wrist.mm),
                other => values::numbers(other)
                    .ok()
                    .and_then(|list| list.first().map(|cm| cm * 10.0)),
            };
            let Some(round_mm) = round_mm else {
                return Err(self.wrong(format!("{wrist} is not a wrist"), help, place));
            };
            let knotted = knotted_mm_for_wrist(round_mm, Ease::default());
            all.push(MemberLength {
                mm: knotted.map_err(|error| self.wrong(error.to_string(), help, place))?,
                wrist_mm: Some(round_mm),
            });
        }
        Ok(all)
    }

    /// The thread, the swatch, or both. A swatch is knotted from one thread: that of the
    /// defaults does not hold for an item with a thread of its own.
    fn gauge(&self, own: &WrittenItem, defaults: &WrittenItem) -> Result<Option<Gauge>, Error> {
        let wrong = |error: &hitchwork_core::Error, place| {
            self.wrong(
                error.to_string(),
                error.help().unwrap_or_default(),
                Some(place),
            )
        };
        let thread = own.thread.as_ref().or(defaults.thread.as_ref());
        let thread_mm = thread.map(|thread| {
            let yarn = thread.get_ref().parse::<Yarn>();
            yarn.map(|yarn| yarn.diameter_mm())
                .map_err(|error| wrong(&error, thread.span()))
        });
        let thread_mm = thread_mm.transpose()?;
        let usual = defaults.swatch.as_ref().filter(|_| own.thread.is_none());
        if let Some(swatch) = own.swatch.as_ref().or(usual) {
            let fit = swatch.get_ref().parse::<Swatch>();
            let fit = fit.and_then(|swatch| swatch.fit(thread_mm));
            let fit = fit.map_err(|error| wrong(&error, swatch.span()))?;
            return Ok(Some(fit.gauge));
        }
        let gauge = thread_mm.map(Gauge::from_diameter).transpose();
        gauge.map_err(|error| wrong(&error, thread.map_or(0..0, Spanned::span)))
    }

    fn habits(&self, own: &WrittenItem, defaults: &WrittenItem) -> Result<Habits, Error> {
        let ahead = own
            .half_rows_ahead
            .as_ref()
            .or(defaults.half_rows_ahead.as_ref());
        let usual = Habits {
            as_written: own.as_written.or(defaults.as_written).unwrap_or_default(),
            half_rows_ahead: ahead.map(|ahead| *ahead.get_ref()),
            ..Habits::default()
        };
        let usual = usual.checked().map_err(|error| {
            self.wrong(
                error.to_string(),
                error.help().unwrap_or_default(),
                ahead.map(Spanned::span),
            )
        })?;
        let Some(pace) = own.pace.as_ref().or(defaults.pace.as_ref()) else {
            return Ok(usual);
        };
        // Whatever is neither number nor text is refused as text that is not a pace.
        let read = match pace.get_ref() {
            Value::String(text) => text.parse(),
            other => other.to_string().parse::<Pace>(),
        };
        let pace = read.map_err(|error| {
            self.wrong(
                error.to_string(),
                error.help().unwrap_or_default(),
                Some(pace.span()),
            )
        })?;
        Ok(Habits { pace, ..usual })
    }

    fn conditions(
        &self,
        conditions: Option<&Vec<Spanned<String>>>,
    ) -> Result<Vec<Expression>, Error> {
        let read = |text: &Spanned<String>| {
            Expression::condition(text.get_ref())
                .map_err(|error| self.of_expression(&error, text.span()))
        };
        conditions.into_iter().flatten().map(read).collect()
    }

    /// What is wrong with an expression, at its place in the plan.
    fn of_expression(&self, error: &Error, place: Range<usize>) -> Error {
        let first = error.diagnostics().first();
        let message = first.map_or_else(|| error.to_string(), |first| first.message.clone());
        let help = first
            .and_then(|first| first.help.clone())
            .unwrap_or_default();
        self.wrong(message, help, Some(place))
    }

    fn best(&self, best: Option<&Spanned<WrittenBest>>) -> Result<Option<Best>, Error> {
        let Some(best) = best else { return Ok(None) };
        let WrittenBest { count, by } = best.get_ref();
        if *count == 0 {
            return Err(self.wrong(
                "the best 0 leave nothing to make",
                "keep at least 1",
                Some(best.span()),
            ));
        }
        let by = by.as_deref().map(Expression::score).transpose();
        let by = by.map_err(|error| self.of_expression(&error, best.span()))?;
        Ok(Some(Best { count: *count, by }))
    }

    fn outputs(&self, outputs: Option<&Spanned<Vec<String>>>) -> Result<BTreeSet<Output>, Error> {
        let Some(outputs) = outputs else {
            return Ok(Output::usual_of_many().collect());
        };
        let output = |name: &String| {
            Output::find(name).ok_or_else(|| {
                let all: Vec<&str> = Output::all().map(Output::name).collect();
                self.wrong(
                    format!("there is no \"{name}\" to write"),
                    format!(
                        "there are {}; the band file is always written",
                        all.join(", ")
                    ),
                    Some(outputs.span()),
                )
            })
        };
        outputs.get_ref().iter().map(output).collect()
    }

    /// The settings that the rule has, with their values, for the first and for the last of an
    /// item's members: which there are, and what they take, may depend on the others.
    fn parameters_at_ends(&self, item: &Item) -> [Vec<Parameter>; 2] {
        let last = item.candidates().saturating_sub(1);
        [0, last].map(|nth| {
            let settings = item.settings_of(&item.member(0, nth));
            self.rules.parameters_besides_refused(&item.rule, &settings)
        })
    }

    /// Values that no member could have: of another kind than the setting takes, or outside what
    /// it takes whatever the others are. Those outside what depends on others are a matter of
    /// the single member.
    fn check_values(
        &self,
        item: &Item,
        [first, last]: &[Vec<Parameter>; 2],
        own: &WrittenItem,
        defaults: &WrittenItem,
    ) -> Result<(), Error> {
        for parameter in first {
            let name = &parameter.name;
            let other = last.iter().find(|other| other.name == *name);
            let range = match other {
                Some(other) if other.range == parameter.range => parameter.range.clone(),
                _ => parameter.range.without_bounds(),
            };
            let chosen = item.settings.get(name).into_iter();
            for value in chosen.chain(item.grid.get(name).into_iter().flatten()) {
                let Err(why) = range.accept(value) else {
                    continue;
                };
                let written = [&own.grid, &own.settings, &defaults.grid, &defaults.settings];
                let place = written.into_iter().find_map(|settings| settings.get(name));
                let place = place.map(Spanned::span);
                let text = value.to_string();
                if let Some(range) = range_meant(&text).filter(|_| item.grid.contains_key(name)) {
                    return Err(self.wrong(
                        format!("\"{text}\" is not a range"),
                        format!("write \"{range}\""),
                        place,
                    ));
                }
                return Err(self.wrong(
                    format!("{name} cannot be set like that: {why}"),
                    format!("it takes {}: {}", range.words(), parameter.sentence),
                    place,
                ));
            }
        }
        Ok(())
    }

    fn template(
        &self,
        item: &Item,
        [first, last]: &[Vec<Parameter>; 2],
        template: &Spanned<String>,
    ) -> Result<Template, Error> {
        let chosen = item.settings.keys().chain(item.grid.keys());
        let known: Vec<&str> = ALWAYS
            .into_iter()
            .chain(chosen.map(String::as_str))
            .collect();
        // Settings that nobody chose have one value for all members, or follow from others.
        let fixed = first.iter().filter(|parameter| {
            let same = |other: &&Parameter| other.name == parameter.name;
            let last = last.iter().find(same);
            last.is_some_and(|last| last.value == parameter.value)
        });
        let fixed: BTreeMap<&str, &Setting> = fixed
            .map(|parameter| (parameter.name.as_str(), &parameter.value))
            .filter(|(name, _)| !known.contains(name))
            .collect();
        let read = Template::read(template.get_ref(), &known, &fixed);
        let varying = first.iter().map(|parameter| parameter.name.as_str());
        let mut varying = varying.filter(|name| !known.contains(name) && !fixed.contains_key(name));
        let left = varying.find(|name| template.get_ref().contains(&format!("{{{name}}}")));
        let help = match left {
            Some(name) => format!(
                "left to the rule, {name} differs from band to band: give it under settings or grid"
            ),
            None => "a name is words with places in them, such as \"{rule}-{number}\"".to_owned(),
        };
        self.placed(read, template.span(), &help)
    }

    /// Settings that the rule does not have are a slip of the plan; those that it refuses
    /// are a matter of the single member.
    fn check_settings(
        &self,
        item: &Item,
        own: &WrittenItem,
        defaults: &WrittenItem,
        place: Range<usize>,
    ) -> Result<(), Error> {
        let first = item.member(0, 0);
        let Err(error) = self.rules.make(&item.rule, &item.settings_of(&first)) else {
            return Ok(());
        };
        let Some(unknown) = error
            .diagnostics()
            .iter()
            .rfind(|diagnostic| diagnostic.code == "setting-unknown")
        else {
            return Ok(());
        };
        let written = [&own.grid, &own.settings, &defaults.grid, &defaults.settings];
        let named = written
            .into_iter()
            .flatten()
            .find(|(name, _)| unknown.setting.as_ref() == Some(name));
        let place = named.map_or(place, |(_, value)| value.span());
        Err(self.wrong(
            unknown.message.clone(),
            unknown.help.clone().unwrap_or_default(),
            Some(place),
        ))
    }

    /// Palettes that do not exist, whichever setting names them: unlike other values, they
    /// are known for the whole plan.
    fn check_palettes(
        &self,
        item: &Item,
        ends: &[Vec<Parameter>; 2],
        own: &WrittenItem,
        defaults: &WrittenItem,
    ) -> Result<(), Error> {
        let all = || item.settings.values().chain(item.grid.values().flatten());
        if !all().any(|value| matches!(value, Setting::Text(_))) {
            return Ok(());
        }
        let parameters: Vec<Parameter> = ends.iter().flatten().cloned().collect();
        self.check_one_palette(item, own, defaults, &parameters)?;
        for parameter in &parameters {
            let Parameter { name, range, .. } = parameter;
            let HasRange::Palette { options } = range else {
                continue;
            };
            let given = item.settings.get(name).into_iter();
            let mut given = given.chain(item.grid.get(name).into_iter().flatten());
            let unknown = given.find(|value| !options.contains(&value.to_string()));
            if let Some(unknown) = unknown {
                let written = [&own.grid, &own.settings, &defaults.grid, &defaults.settings];
                let place = written.into_iter().find_map(|settings| settings.get(name));
                return Err(self.no_palette(
                    &unknown.to_string(),
                    options.iter().map(String::as_str),
                    place.map(Spanned::span),
                ));
            }
        }
        Ok(())
    }

    /// Refuses palettes that no band would have, since settings say the palette too.
    fn check_one_palette(
        &self,
        item: &Item,
        own: &WrittenItem,
        defaults: &WrittenItem,
        parameters: &[Parameter],
    ) -> Result<(), Error> {
        let written = [&own.settings, &own.grid, &defaults.settings, &defaults.grid];
        let mut said = None;
        for parameter in parameters {
            if !matches!(parameter.range, HasRange::Palette { .. }) {
                continue;
            }
            let name = &parameter.name;
            let given = item.settings.get(name).into_iter();
            let given: Vec<&Setting> = given
                .chain(item.grid.get(name).into_iter().flatten())
                .collect();
            let the_same =
                |palette: &String| given.iter().all(|value| value.to_string() == *palette);
            if given.is_empty() || item.palettes.iter().all(the_same) {
                return Ok(());
            }
            let place = written.into_iter().find_map(|settings| settings.get(name));
            said = said.or(place.map(|value| (name, value)));
        }
        match said {
            None => Ok(()),
            Some((name, value)) => Err(self.wrong(
                format!(
                    "the palette is chosen twice: by palettes = [\"{}\"], and by the setting {name} = {}",
                    item.palettes.join("\", \""),
                    value.get_ref()
                ),
                "leave one of them out; palettes = [] in an item takes back those of the defaults",
                Some(value.span()),
            )),
        }
    }

    /// Names that cannot be folders, and names that come twice.
    fn check_members(&self, plan: &Plan, written: &[Spanned<WrittenItem>]) -> Result<(), Error> {
        let candidates = plan.candidates();
        if candidates > MOST_MEMBERS {
            return Err(self.wrong(
                format!(
                    "{} describes {candidates} bands; a plan has at most {MOST_MEMBERS}",
                    self.file
                ),
                "combine fewer settings, or write several plans",
                None,
            ));
        }
        let place = |item: usize| {
            let written = written[item].get_ref();
            let named = written.name.as_ref().or(written.rule.as_ref());
            named.map(Spanned::span)
        };
        let mut names: Vec<(String, usize, u64)> = Vec::new();
        for member in plan.members() {
            if let Some(why) = refused(&member.name) {
                return Err(self.wrong(
                    format!("the name \"{}\" {why}", member.name),
                    "give the item another name, such as name = \"{rule}-{number}\"",
                    place(member.item),
                ));
            }
            names.push((on_every_disk(&member.name), member.item, member.number));
        }
        names.sort_unstable();
        if let Some(pair) = names.windows(2).find(|pair| pair[0].0 == pair[1].0) {
            return Err(self.wrong(
                format!("two bands would be called {}", pair[0].0),
                "put what they differ by into the name, such as {seed} or {number}",
                place(pair[1].1),
            ));
        }
        Ok(())
    }
}

/// What is not the same for all members, as a name. Where several of them are numbers, each
/// says of what.
fn usual(item: &Item) -> Template {
    let is_number = |value: &Setting| matches!(value, Setting::Whole(_) | Setting::Number(_));
    let varied = item.grid.iter().filter(|(_, values)| values.len() > 1);
    let mut places: Vec<(&str, bool)> = varied
        .map(|(name, values)| (name.as_str(), values.iter().all(is_number)))
        .collect();
    let more = [
        ("palette", item.palettes.len() > 1, false),
        ("length", item.lengths.len() > 1, true),
        ("mirrored", item.mirrored.len() > 1, false),
        ("seed", item.seeds.count() > 1, false),
    ];
    let more = more.into_iter().filter(|(_, varies, _)| *varies);
    places.extend(more.map(|(name, _, is_number)| (name, is_number)));
    let numbers = places.iter().filter(|(_, is_number)| *is_number).count();
    Template::usual(places.into_iter().map(|(name, is_number)| NamePlace {
        name,
        says_of_what: is_number && numbers > 1,
    }))
}

fn short_name(rule: &str) -> String {
    let name = Path::new(rule)
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or(rule);
    name.strip_suffix(".rhai").unwrap_or(name).to_owned()
}

/// A rule's file as the plan knows it, with slashes and without detours: the same however the
/// path of the plan is written, and on every machine.
fn known_as(written: &str, folder: &Path, path: &Path) -> String {
    let written = Path::new(written);
    if written.is_relative() {
        return plain_path(written);
    }
    let inside = path
        .canonicalize()
        .ok()
        .zip(folder.canonicalize().ok())
        .and_then(|(path, folder)| Some(plain_path(path.strip_prefix(folder).ok()?)));
    let name = || written.file_name().unwrap_or_default().to_string_lossy();
    inside.unwrap_or_else(|| name().into_owned())
}

/// A relative path with slashes, in which nothing leads into a folder and out of it again.
fn plain_path(path: &Path) -> String {
    let mut parts: Vec<String> = Vec::new();
    for part in path.components() {
        match part {
            Component::Normal(name) => parts.push(name.to_string_lossy().into_owned()),
            Component::ParentDir if parts.last().is_some_and(|last| last != "..") => {
                parts.pop();
            }
            Component::ParentDir => parts.push("..".to_owned()),
            Component::CurDir | Component::RootDir | Component::Prefix(_) => {}
        }
    }
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rule_is_known_by_its_path_from_the_plan() {
        for (written, known) in [
            ("gulls.rhai", "gulls.rhai"),
            ("./gulls.rhai", "gulls.rhai"),
            ("class/../gulls.rhai", "gulls.rhai"),
            ("class//parts/./gulls.rhai", "class/parts/gulls.rhai"),
            ("../rules/gulls.rhai", "../rules/gulls.rhai"),
            ("../../a/../gulls.rhai", "../../gulls.rhai"),
            ("/home/nobody/gulls.rhai", "gulls.rhai"),
        ] {
            assert_eq!(
                known_as(written, Path::new("class"), Path::new(written)),
                known
            );
        }
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("class/gulls.rhai");
        std::fs::create_dir(folder.path().join("class")).expect("a folder");
        std::fs::write(&path, "").expect("written");
        let absolute = path.display().to_string();
        assert_eq!(
            known_as(&absolute, folder.path(), &path),
            "class/gulls.rhai"
        );
    }
}
