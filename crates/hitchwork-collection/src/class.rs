//! What a class has to buy and cut for some members of a collection.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use hitchwork_core::care::care;
use hitchwork_core::cell::neutral;
use hitchwork_core::colour::Srgb;
use hitchwork_core::craft::{
    Cut, CutList, Purchase, Shopping, SkeinSize, metres_at_least, shopping,
};
use hitchwork_core::file;
use hitchwork_core::near::did_you_mean;
use hitchwork_core::text::plain;
use hitchwork_core::tied::Tied;
use hitchwork_draw::html::lettered;
use hitchwork_draw::web;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::folder::{FolderError, FolderErrorKind, bytes_of, reason};
use crate::making::band_file;
use crate::manifest;
use crate::record::{MadeMember, MemberOutcome, Record};

/// One member that the class makes.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// Its name in the collection.
    pub name: String,
    /// What the band is called.
    pub title: String,
    /// What one person cuts for it.
    pub cuts: CutList,
}

/// What a class buys and cuts.
#[derive(Clone, Debug, PartialEq)]
pub struct ClassList {
    /// What the collection is called.
    pub title: String,
    /// The members.
    pub chosen: Vec<Chosen>,
    /// How many people make each of them.
    pub people: u32,
    /// What to buy for all.
    pub shopping: Shopping,
}

/// A colour in all members together.
struct Sum<'a> {
    colour: &'a str,
    srgb: Srgb,
    /// How many pieces there are of each length in millimetres, the longest first.
    pieces: Vec<(f64, usize)>,
    needs_mm: f64,
    skeins: usize,
}

/// Adds up what the members of a collection take, from their band files. No names choose
/// them all.
///
/// ```
/// # use std::{ops::ControlFlow, sync::atomic::AtomicBool};
/// # use hitchwork_collection::{plan, run::{CollectOptions, collect}};
/// # let rules = hitchwork_rules::Rules::new();
/// # let plan = plan::read(&rules, "drifts.toml", "title = \"Drifts\"\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8] }\n")?;
/// # let folder = tempfile::tempdir()?;
/// # collect(&rules, &plan, folder.path(), &CollectOptions::default(), &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()))?;
/// use hitchwork_collection::class::class_list;
/// use hitchwork_core::craft::SkeinSize;
/// let list = class_list(folder.path(), &[], 12, SkeinSize::default())?;
/// assert_eq!(list.chosen.len(), 2);
/// assert!(class_list(folder.path(), &["storm".into()], 12, SkeinSize::default()).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the manifest or a band cannot be read, there is no member of a name, or a piece is
/// longer than a skein.
pub fn class_list(
    folder: &Path,
    names: &[String],
    people: u32,
    skein: SkeinSize,
) -> Result<ClassList, FolderError> {
    let manifest = manifest::read(folder)?;
    let made: Vec<(&str, &MadeMember)> = manifest.records.iter().filter_map(made).collect();
    let known: Vec<&str> = made.iter().map(|(name, _)| *name).collect();
    if let Some(unknown) = names.iter().find(|name| !known.contains(&name.as_str())) {
        let meant = did_you_mean(unknown, known.iter().copied());
        return Err(FolderError::new(
            FolderErrorKind::Other,
            format!("the collection has no band called {unknown}"),
            format!(
                "{meant}collection.csv lists the {} that there are",
                known.len()
            ),
        ));
    }
    let wanted = made
        .into_iter()
        .filter(|(name, _)| names.is_empty() || names.iter().any(|wanted| wanted == name));
    let chosen = wanted
        .map(|(name, made)| one(folder, name, made))
        .collect::<Result<Vec<Chosen>, _>>()?;
    let all = CutList::of_all(chosen.iter().map(|chosen| &chosen.cuts));
    let shopping = shopping(&all, people, skein).map_err(|error| {
        FolderError::new(
            FolderErrorKind::Other,
            error.to_string(),
            error.help().unwrap_or_default(),
        )
    })?;
    Ok(ClassList {
        title: manifest.title,
        chosen,
        people,
        shopping,
    })
}

fn made(record: &Record) -> Option<(&str, &MadeMember)> {
    match &record.outcome {
        MemberOutcome::Made(made) => Some((&record.name, made)),
        _ => None,
    }
}

/// One member, from its band file, which is what the manifest says.
fn one(folder: &Path, name: &str, made: &MadeMember) -> Result<Chosen, FolderError> {
    let path = band_file(name);
    let place = folder.join(&path);
    let refused = |why: String| {
        FolderError::new(
            FolderErrorKind::NotWhole,
            format!("{}{why}", place.display()),
            "rename or delete it if you have changed it, and make the collection again from its plan: what is missing is made again",
        )
    };
    let file = made.files.iter().find(|file| file.path == path);
    let file = file.ok_or_else(|| refused(" is not in the manifest".to_owned()))?;
    let bytes = bytes_of(folder, file)
        .map_err(|error| refused(format!(" cannot be read: {}", reason(&error))))?;
    let band = file::read(&bytes).map_err(|error| refused(format!(": {error}")))?;
    Ok(Chosen {
        name: name.to_owned(),
        title: band.title().to_owned(),
        cuts: Tied::of(band).cut_list().clone(),
    })
}

impl ClassList {
    fn sums(&self) -> Vec<Sum<'_>> {
        let purchases = self.shopping.purchases.iter();
        let sum = |purchase: &Purchase| {
            let cuts = self.chosen.iter().flat_map(|chosen| &chosen.cuts.cuts);
            // Lengths are whole cutting steps: tenths of a millimetre tell them apart.
            let mut pieces: BTreeMap<String, (f64, usize)> = BTreeMap::new();
            for cut in cuts.filter(|cut| cut.srgb == purchase.srgb) {
                let (_, count) = pieces
                    .entry(format!("{:09.1}", cut.cut_mm))
                    .or_insert((cut.cut_mm, 0));
                *count += cut.pieces * self.people as usize;
            }
            let pieces: Vec<(f64, usize)> = pieces.into_values().rev().collect();
            #[allow(clippy::cast_precision_loss, reason = "numbers of pieces")]
            let needs_mm = pieces.iter().map(|(mm, count)| mm * *count as f64).sum();
            (pieces, needs_mm, purchase.skeins)
        };
        let sums = purchases.map(|purchase| {
            let (pieces, needs_mm, skeins) = sum(purchase);
            Sum {
                colour: &purchase.colour,
                srgb: purchase.srgb,
                pieces,
                needs_mm,
                skeins,
            }
        });
        sums.collect()
    }

    /// A piece's colour by the name under which the class buys it; where the band's own
    /// sheet calls it differently, that too.
    fn called(&self, cut: &Cut) -> String {
        let mut purchases = self.shopping.purchases.iter();
        let bought = purchases.find(|purchase| purchase.srgb == cut.srgb);
        match bought.map(|purchase| purchase.colour.as_str()) {
            Some(name) if name != cut.colour => {
                format!("{} (on its sheet: {})", plain(name), plain(&cut.colour))
            }
            _ => plain(&cut.colour),
        }
    }

    /// What is said of the whole: how many bands, for how many.
    fn headline(&self) -> String {
        let bands = match self.chosen.len() {
            1 => "1 band".to_owned(),
            count => format!("{count} bands"),
        };
        let people = self.shopping.people_words();
        let each = if self.people == 1 {
            ""
        } else {
            ", one of each"
        };
        let cost = self
            .shopping
            .cost
            .map(|cost| format!(", {cost:.2} in all"))
            .unwrap_or_default();
        let skeins = self.shopping.skeins_words(self.shopping.skeins);
        format!("{bands} for {people}{each}: {skeins}{cost}")
    }

    /// The list as text.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!("{}\n{}\n\nTo buy\n", plain(&self.title), self.headline());
        for sum in self.sums() {
            text.push_str(&format!(
                "  {:>3} x {}  {}  ({})\n",
                sum.skeins,
                plain(sum.colour),
                sum.srgb,
                metres_at_least(sum.needs_mm)
            ));
        }
        text.push_str("\nTo cut, for everybody together\n");
        for sum in self.sums() {
            let pieces = sum
                .pieces
                .iter()
                .map(|(mm, count)| format!("{count} of {:.0} cm", mm / 10.0));
            text.push_str(&format!(
                "  {}: {}\n",
                plain(sum.colour),
                pieces.collect::<Vec<_>>().join(", ")
            ));
        }
        text.push_str("\nTo cut, for each person\n");
        for chosen in &self.chosen {
            text.push_str(&format!("  {} ({})\n", plain(&chosen.title), chosen.name));
            for cut in &chosen.cuts.cuts {
                text.push_str(&format!(
                    "    {} {} of {:.0} cm\n",
                    cut.pieces,
                    self.called(cut),
                    cut.cut_mm / 10.0
                ));
            }
        }
        text.push_str("\nTake care\n");
        for line in care(false) {
            text.push_str(&format!("  - {line}\n"));
        }
        text
    }

    /// The list as a table (RFC 4180): one row for each length of each colour. A name that a
    /// spreadsheet would take for a formula has an apostrophe before it.
    ///
    /// # Panics
    /// Never: a table in memory can be written.
    #[must_use]
    pub fn csv(&self) -> Vec<u8> {
        let mut csv = csv::Writer::from_writer(Vec::new());
        let written = "a table in memory";
        csv.write_record(["colour", "value", "skeins", "cut_cm", "pieces", "metres"])
            .expect(written);
        for sum in self.sums() {
            for (number, (mm, count)) in sum.pieces.iter().enumerate() {
                #[allow(clippy::cast_precision_loss, reason = "numbers of pieces")]
                let metres = mm * *count as f64 / 1000.0;
                // Skeins belong to the colour: they stand once.
                let skeins = if number == 0 {
                    sum.skeins.to_string()
                } else {
                    String::new()
                };
                csv.write_record([
                    neutral(sum.colour).into_owned(),
                    sum.srgb.to_string(),
                    skeins,
                    format!("{:.0}", mm / 10.0),
                    count.to_string(),
                    format!("{metres:.2}"),
                ])
                .expect(written);
            }
        }
        csv.into_inner().expect(written)
    }

    /// The list as a page to print.
    #[must_use]
    pub fn page(&self) -> String {
        let body = self.body().into_string();
        let style = lettered(&body, "") + STYLE;
        let style = format!("{style}{}", self.dabs());
        let policy = web::policy(&style, None, "img-src data:; font-src data:; ");
        let heading = format!("{}: what to buy and cut", plain(&self.title));
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                (web::head(&heading, &style, Some(&policy), &html! {}))
                (PreEscaped(body))
            }
        };
        page.into_string() + "\n"
    }

    /// The style of the dabs of colour: the page's policy lets no element have one of its own.
    fn dabs(&self) -> String {
        let bought = self.shopping.purchases.iter().map(|purchase| purchase.srgb);
        let cut = self.chosen.iter().flat_map(|chosen| &chosen.cuts.cuts);
        let all: BTreeSet<String> = bought
            .chain(cut.map(|cut| cut.srgb))
            .map(|srgb| format!(".{}{{background:{srgb}}}\n", dab_class(srgb)))
            .collect();
        all.into_iter().collect()
    }

    fn body(&self) -> Markup {
        html! {
            body {
                main {
                h1 { (plain(&self.title)) }
                p { (self.headline()) "." }
                h2 { "To buy and cut, for everybody together" }
                table {
                    thead { tr { th scope="col" { "colour" } th scope="col" { "skeins" } th scope="col" { "thread" } th scope="col" { "pieces" } } }
                    tbody {
                        @for sum in self.sums() {
                            tr {
                                th scope="row" { (dab(sum.srgb)) (plain(sum.colour)) " " small { (sum.srgb) } }
                                td { (sum.skeins) }
                                td { (metres_at_least(sum.needs_mm)) }
                                td { (sum.pieces.iter().map(|(mm, count)| format!("{count} of {:.0} cm", mm / 10.0)).collect::<Vec<_>>().join(", ")) }
                            }
                        }
                    }
                }
                h2 { "To cut, for each person" }
                @for chosen in &self.chosen {
                    section {
                        h3 { (plain(&chosen.title)) " " small { (chosen.name) } }
                        ul {
                            @for cut in &chosen.cuts.cuts {
                                li { span.box { } (dab(cut.srgb)) (cut.pieces) " " (self.called(cut)) " of " (format!("{:.0} cm", cut.cut_mm / 10.0)) }
                            }
                        }
                    }
                }
                }
                footer { h2 { "Take care" } ul { @for line in care(false) { li { (line) } } } }
            }
        }
    }
}

fn dab(colour: Srgb) -> Markup {
    html! { i class={ "dab " (dab_class(colour)) } {} }
}

fn dab_class(colour: Srgb) -> String {
    colour.to_string().replace('#', "k")
}

const STYLE: &str = include_str!("class/class.css");
