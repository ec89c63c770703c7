//! Plans as they are written: TOML in, a checked plan or an error at its place out.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use hitchwork_core::band::{MAX_NOTES_LETTERS, MAX_TITLE_LETTERS, Setting, check_letters};
use hitchwork_core::colour::{Palette, PaletteFormat, built_in_palettes};
use hitchwork_core::craft::{
    Ease, Gauge, Habits, Pace, Swatch, WRISTS, Yarn, knotted_mm_for_wrist,
};
use hitchwork_core::misread::from_toml;
use hitchwork_core::near::{did_you_mean, did_you_mean_quoted};
use hitchwork_core::text::unmarked;
use hitchwork_draw::output::Output;
use hitchwork_rules::load::{self, FileKind, Unread};
use hitchwork_rules::{
    Error, Expression, Folder, Parameter, Range as HasRange, Rule, Rules, built_in_names,
};
use serde::Deserialize;
use toml::{Spanned, Value};

use super::name::{ALWAYS, Template, refused};
use super::values::{self, Seeds};
use super::{Best, Item, MOST_MEMBERS, MemberLength, Plan, RulesBeside};

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
    seeds: Option<Spanned<Value>>,
    mirrored: Option<Spanned<Value>>,
    lengths: Option<Spanned<Value>>,
    wrists: Option<Spanned<Vec<Value>>>,
    thread: Option<Spanned<String>>,
    swatch: Option<Spanned<String>>,
    pace: Option<Spanned<Value>>,
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
        reading.wrong(
            message,
            "a plan has a title, [defaults], and an [[item]] for each rule",
            unread.place,
        )
    })?;
    reading.plan(written)
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
            let help = "say rule = \"drift\", or name a file such as rule = \"gulls.rhai\"";
            let head = place.start..(place.start + 8).min(self.text.len());
            return Err(self.wrong("this item names no rule", help, Some(head)));
        };
        let (rule, beside) = self.rule(rule_name)?;
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
            habits: self.habits(own.pace.as_ref().or(defaults.pace.as_ref()))?,
            keep: self.conditions(own.keep.as_ref().or(defaults.keep.as_ref()))?,
            reject: self.conditions(own.reject.as_ref().or(defaults.reject.as_ref()))?,
            prefer: self.conditions(own.prefer.as_ref().or(defaults.prefer.as_ref()))?,
            best: self.best(own.best.as_ref().or(defaults.best.as_ref()))?,
            name: Template::usual(std::iter::empty()),
            write: self.outputs(outputs)?,
            beside,
        };
        item.name = match template {
            Some(template) => self.template(&item, template)?,
            None => usual(&item),
        };
        self.check_settings(&item, own, defaults, rule_name.span())?;
        self.check_palettes(&item, own, defaults)?;
        Ok(item)
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
        let mut all = Vec::new();
        if let Some(lengths) = &said.lengths {
            let help = "lengths are centimetres of knotting: 15, or [15, 17.5]";
            for centimetres in
                self.placed(values::numbers(lengths.get_ref()), lengths.span(), help)?
            {
                if !(1.0..=10_000.0).contains(&centimetres) {
                    return Err(self.wrong(
                        format!("{centimetres} cm is not a length that a band can have"),
                        "lengths are from 1 to 10,000 centimetres of knotting: 15, or [15, 17.5]",
                        Some(lengths.span()),
                    ));
                }
                all.push(MemberLength {
                    mm: centimetres * 10.0,
                    wrist_mm: None,
                });
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

    fn habits(&self, pace: Option<&Spanned<Value>>) -> Result<Habits, Error> {
        let usual = Habits::default();
        let Some(pace) = pace else { return Ok(usual) };
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

    fn template(&self, item: &Item, template: &Spanned<String>) -> Result<Template, Error> {
        let names = item
            .settings
            .keys()
            .chain(item.grid.keys())
            .map(String::as_str);
        let known: Vec<&str> = ALWAYS.into_iter().chain(names).collect();
        let read = Template::read(template.get_ref(), &known);
        self.placed(
            read,
            template.span(),
            "a name is words with places in them, such as \"{rule}-{threads}\"",
        )
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
        own: &WrittenItem,
        defaults: &WrittenItem,
    ) -> Result<(), Error> {
        let all = || item.settings.values().chain(item.grid.values().flatten());
        if !all().any(|value| matches!(value, Setting::Text(_))) {
            return Ok(());
        }
        // Which parameters there are may depend on the others.
        let last = item.candidates().saturating_sub(1);
        let ends = [0, last].map(|nth| item.settings_of(&item.member(0, nth)));
        let parameters = ends
            .iter()
            .flat_map(|settings| self.rules.parameters_besides_refused(&item.rule, settings));
        for parameter in parameters {
            let Parameter { name, range, .. } = &parameter;
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
            // Some disks do not tell capitals from small letters.
            names.push((member.name.to_lowercase(), member.item, member.number));
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

/// What is not the same for all members, as a name.
fn usual(item: &Item) -> Template {
    let grid = item
        .grid
        .iter()
        .filter(|(_, values)| values.len() > 1)
        .map(|(name, _)| name.as_str());
    let more = [
        ("palette", item.palettes.len() > 1),
        ("length", item.lengths.len() > 1),
        ("mirrored", item.mirrored.len() > 1),
        ("seed", item.seeds.count() > 1),
    ];
    let more = more
        .into_iter()
        .filter(|(_, varies)| *varies)
        .map(|(name, _)| name);
    Template::usual(grid.chain(more))
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
