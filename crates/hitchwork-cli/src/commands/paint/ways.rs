//! The ways to tie a picture, and which of them is taken.

use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::picture::solve::{Closing, Painting, Solved};
use hitchwork_core::picture::{OverLeader, Picture};
use hitchwork_rules::solving_effort;

use super::art::{Art, ArtForm, cells_of};
use super::painted::{HowTied, OnLattice, PaintedBand};
use crate::arguments::{PaintArguments, PaintWay};
use crate::trouble::Trouble;

/// The most patience that a rule can be told to have, and what it has otherwise.
const MOST_PATIENCE: u8 = 100;
const PATIENCE: u8 = 10;

impl PaintedBand {
    /// Ties the picture as was asked; or, where nobody asked, so that most of it shows.
    pub(super) fn tied(paint: &PaintArguments, art: &Art) -> Result<Self, Trouble> {
        match paint.way {
            Some(PaintWay::Leader) => over_leader(paint, art),
            Some(PaintWay::Pairs) => {
                let lattice = LatticeArt::of(paint, art)?;
                let solved = lattice.painting.in_pairs()?;
                Ok(lattice.tied(PaintWay::Pairs, None, solved, None))
            }
            Some(PaintWay::Solved) => {
                let lattice = LatticeArt::of(paint, art)?;
                let (solved, patience) = solved(&lattice.painting)?;
                Ok(lattice.tied(PaintWay::Solved, None, solved, patience))
            }
            None => Self::as_suits(paint, art),
        }
    }

    fn as_suits(paint: &PaintArguments, art: &Art) -> Result<Self, Trouble> {
        let every_cell = !matches!(art.form, ArtForm::Letters(_));
        let asked = wishes_of_lattice(paint);
        // Whoever names the ground of a picture without clear cells means it over a leader.
        if every_cell && asked.is_none() && paint.ground.is_some() && is_full(art) {
            return over_leader(paint, art);
        }
        if every_cell
            && asked.is_none()
            && let Ok(tied) = over_leader(paint, art)
        {
            let why = Some("so that every cell of motif and ground shows".to_owned());
            return Ok(Self { why, ..tied });
        }
        let why = match asked {
            _ if !every_cell => None,
            None => Some("as one of its columns has several colours besides the ground".to_owned()),
            Some(option) => suits_leader(paint, art).then(|| {
                format!(
                    "as {option} asks for knots in every second place (without it the picture is tied over a leader, and every cell shows)"
                )
            }),
        };
        let lattice = LatticeArt::of(paint, art)?;
        let (solved, patience) = solved(&lattice.painting)?;
        if !solved.missed.is_empty()
            && let Ok(in_pairs) = lattice.painting.in_pairs()
        {
            let none = "so that none misses".to_owned();
            let why = match (why, asked) {
                (Some(why), Some(_)) => Some(format!("{none}, {why}")),
                _ => Some(none),
            };
            return Ok(lattice.tied(PaintWay::Pairs, why, in_pairs, None));
        }
        Ok(lattice.tied(PaintWay::Solved, why, solved, patience))
    }

    /// The picture on the lattice, without its knots.
    pub(super) fn unsolved(paint: &PaintArguments, art: &Art) -> Result<Painting, Trouble> {
        LatticeArt::of(paint, art).map(|lattice| lattice.painting)
    }
}

/// The first wish that only knots on the lattice can fulfil.
pub(super) fn wishes_of_lattice(paint: &PaintArguments) -> Option<&'static str> {
    let wishes = [
        ("--counts", paint.counts.is_some()),
        ("--threads", paint.threads.is_some()),
        ("--free-rows", paint.free_rows > 0),
    ];
    let wished = wishes.into_iter().find(|(_, given)| *given);
    wished.map(|(option, _)| option)
}

/// Whether every cell of the picture shows a colour.
fn is_full(art: &Art) -> bool {
    let picture = art.picture.as_ref();
    picture.is_none_or(|picture| !picture.cells().contains(&None))
}

/// Whether a picture can be tied over a leader at all.
pub(super) fn suits_leader(paint: &PaintArguments, art: &Art) -> bool {
    motif_and_ground(paint, art).is_ok()
}

fn how(paint: &PaintArguments) -> OverLeader {
    OverLeader {
        comes_back: !paint.open,
        ..OverLeader::default()
    }
}

/// The motif of a picture, with the ground taken out, and the colours that hang.
fn motif_and_ground(
    paint: &PaintArguments,
    art: &Art,
) -> Result<(Picture, Colour, Vec<Colour>), Trouble> {
    let Some(picture) = &art.picture else {
        return Err(Trouble::new(
            "over a leader every cell shows, and between the knots of the lattice this text has other marks",
            "write a letter, or a dot for the ground, in every place; or choose another way",
        ));
    };
    let hung =
        |motif: &Picture, ground: &Colour| how(paint).hung(motif, std::slice::from_ref(ground));
    if picture.cells().contains(&None) {
        let colours = hung(picture, &art.ground)?;
        return Ok((picture.clone(), art.ground.clone(), colours));
    }
    // What fills most cells is the ground, if the columns of the rest have one colour each.
    let mut grounds: Vec<&Colour> = picture.shown();
    if let Some(asked) = &paint.ground {
        grounds.retain(|colour| colour.srgb == art.ground.srgb);
        if grounds.is_empty() {
            let shown: Vec<&str> = picture
                .shown()
                .iter()
                .map(|one| one.name.as_str())
                .collect();
            return Err(Trouble::new(
                format!(
                    "every cell of the picture shows a colour, and none shows {asked}: it would lie nowhere"
                ),
                format!(
                    "choose one of the picture for --ground: {}",
                    shown.join(", ")
                ),
            ));
        }
    }
    grounds.sort_by_key(|colour| std::cmp::Reverse(cells_of(picture, colour)));
    let mut refusal = None;
    for ground in grounds {
        let motif =
            picture.recoloured(|colour| (colour.srgb != ground.srgb).then(|| colour.clone()))?;
        match hung(&motif, ground) {
            Ok(colours) => return Ok((motif, ground.clone(), colours)),
            Err(error) => refusal = refusal.or(Some(error)),
        }
    }
    Err(refusal.map_or_else(
        || Trouble::new("the picture shows nothing", "paint something"),
        Trouble::from,
    ))
}

fn over_leader(paint: &PaintArguments, art: &Art) -> Result<PaintedBand, Trouble> {
    if let Some(option) = wishes_of_lattice(paint) {
        return Err(Trouble::new(
            format!("over a leader {option} says nothing: a thread hangs for each column"),
            format!("leave out {option}, or choose another way"),
        ));
    }
    let (picture, ground, hung) = motif_and_ground(paint, art)?;
    over_this_ground(paint, art, picture, (ground, hung))
}

/// A motif over a leader of this colour, and with these hanging threads.
fn over_this_ground(
    paint: &PaintArguments,
    art: &Art,
    picture: Picture,
    (ground, hung): (Colour, Vec<Colour>),
) -> Result<PaintedBand, Trouble> {
    let rows = how(paint).rows(&picture)?;
    let mut colours: Vec<Colour> = Vec::new();
    for colour in &hung {
        if !colours.contains(colour) {
            colours.push(colour.clone());
        }
    }
    let number = |colour: &Colour| colours.iter().position(|known| known == colour);
    Ok(PaintedBand {
        way: PaintWay::Leader,
        why: None,
        keys: colours
            .iter()
            .map(|colour| key_of(art, colour).unwrap_or_else(|| colour.name.clone()))
            .collect(),
        start: hung.iter().filter_map(number).collect(),
        colours,
        rows,
        picture,
        marks: art.marks(),
        found: HowTied::OverLeader { ground },
    })
}

/// Other ways to tie what is tied over a leader, with the options that ask for them: over each of the
/// other grounds, and in pairs.
pub(super) fn other_ways(
    paint: &PaintArguments,
    art: &Art,
    painted: &PaintedBand,
) -> Vec<(String, PaintedBand)> {
    let mut ways = Vec::new();
    let (HowTied::OverLeader { ground }, Some(picture)) = (&painted.found, &art.picture) else {
        return ways;
    };
    if paint.ground.is_some() {
        return ways;
    }
    let others = picture.shown().into_iter();
    for other in others.filter(|other| is_full(art) && other.srgb != ground.srgb) {
        let motif = picture.recoloured(|one| (one.srgb != other.srgb).then(|| one.clone()));
        let tied = motif.map_err(Trouble::from).and_then(|motif| {
            let hung = how(paint).hung(&motif, std::slice::from_ref(other))?;
            over_this_ground(paint, art, motif, (other.clone(), hung))
        });
        let name = match other.name.contains(' ') {
            true => format!("\"{}\"", other.name),
            false => other.name.clone(),
        };
        ways.extend(tied.ok().map(|tied| (format!("--ground {name}"), tied)));
    }
    let in_pairs = LatticeArt::of(paint, art).and_then(|lattice| {
        let solved = lattice.painting.in_pairs()?;
        Ok(lattice.tied(PaintWay::Pairs, None, solved, None))
    });
    ways.extend(in_pairs.ok().map(|tied| ("--way pairs".to_owned(), tied)));
    ways
}

/// The letter of a colour, in a text of letters.
fn key_of(art: &Art, colour: &Colour) -> Option<String> {
    let ArtForm::Letters(letters) = &art.form else {
        return None;
    };
    let at = letters.colours.iter().position(|known| known == colour)?;
    letters.letters.get(at).map(char::to_string)
}

/// A picture on the lattice before its knots are known.
struct LatticeArt {
    picture: Picture,
    marks: Vec<(Srgb, char)>,
    painting: Painting,
    colours: Vec<Colour>,
    keys: Vec<String>,
}

impl LatticeArt {
    fn of(paint: &PaintArguments, art: &Art) -> Result<Self, Trouble> {
        let has_letters = matches!(art.form, ArtForm::Letters(_));
        if paint.ground.is_some() && (has_letters || is_full(art)) {
            return Err(Trouble::new(
                "--ground says what leads over a leader, or shows where the picture shows nothing, and here every knot has a colour of the picture",
                "leave out --ground, or add --way leader",
            ));
        }
        let mut lattice = match (&art.form, &art.picture) {
            (ArtForm::Letters(letters), _) => {
                let picture = &letters.lattice;
                let threads = threads(paint, (picture.columns() + 1).max(2));
                let named = |error| Trouble::of_file(&paint.picture.to_string_lossy(), &error);
                let painting = picture.painting(threads, &letters.letters);
                let of_letter = |mark: &char| {
                    let at = letters.letters.iter().position(|known| known == mark);
                    at.map(|at| letters.colours[at].clone())
                };
                let shown: Vec<Colour> = picture.marks().iter().filter_map(of_letter).collect();
                Self {
                    painting: painting.map_err(named)?,
                    picture: picture.picture(&shown).map_err(named)?,
                    marks: art.marks(),
                    colours: letters.colours.clone(),
                    keys: letters.letters.iter().map(char::to_string).collect(),
                }
            }
            (_, Some(picture)) => Self::of_cells(paint, picture, art)?,
            (_, None) => return Err(Trouble::new("the picture shows nothing", "paint something")),
        };
        let painting = lattice.painting.with_free_rows(paint.free_rows);
        lattice.painting = Painting {
            counts: lattice.counts(paint)?,
            closing: match paint.open {
                true => Closing::Open,
                false => Closing::Closed,
            },
            ..painting
        };
        Ok(lattice)
    }

    fn of_cells(paint: &PaintArguments, picture: &Picture, art: &Art) -> Result<Self, Trouble> {
        // Nothing means any colour: beside one colour alone, that would be this one everywhere.
        let picture = match picture.shown().len() < 2 && picture.cells().contains(&None) {
            true => picture.filled(art.ground.clone())?,
            false => picture.clone(),
        };
        let threads = match paint.threads {
            Some(threads) => threads,
            None => threads(paint, picture.threads_on_lattice()?),
        };
        // Whoever counts threads of a colour hangs it, even if no knot shows it.
        let hung = match &paint.counts {
            Some(_) => picture.shown(),
            None => picture.shown_on_lattice(),
        };
        let colours: Vec<Colour> = hung.into_iter().cloned().collect();
        Ok(Self {
            painting: picture.on_lattice(threads, &colours)?,
            keys: colours.iter().map(|colour| colour.name.clone()).collect(),
            picture,
            marks: art.marks(),
            colours,
        })
    }

    /// How many threads of each colour hang, where that was asked.
    fn counts(&self, paint: &PaintArguments) -> Result<Option<Vec<u16>>, Trouble> {
        let Some(counts) = &paint.counts else {
            return Ok(None);
        };
        let all = self.keys.join(", ");
        if let Some((unknown, _)) = counts.0.iter().find(|(name, _)| !self.keys.contains(name)) {
            return Err(Trouble::new(
                format!("the picture shows no colour called {unknown}"),
                format!("it shows {all}"),
            ));
        }
        let count = |key: &String| {
            let count = counts.0.iter().find(|(name, _)| name == key);
            count.map(|(_, count)| *count).ok_or_else(|| {
                Trouble::new(
                    format!("--counts says nothing of {key}, which the picture shows"),
                    format!("give each of its colours with its threads: {all}"),
                )
            })
        };
        self.keys
            .iter()
            .map(count)
            .collect::<Result<_, _>>()
            .map(Some)
    }

    fn tied(
        self,
        way: PaintWay,
        why: Option<String>,
        solved: Solved,
        patience: Option<u8>,
    ) -> PaintedBand {
        PaintedBand {
            way,
            why,
            colours: self.colours,
            keys: self.keys,
            start: solved.start.iter().copied().map(usize::from).collect(),
            rows: solved.rows.clone(),
            marks: self.marks,
            found: HowTied::OnLattice(Box::new(OnLattice {
                free_rows: self.painting.rows.len() - usize::from(self.picture.height()),
                painting: self.painting,
                solved,
                patience,
            })),
            picture: self.picture,
        }
    }
}

/// How many threads hang where nobody says: as many as the picture takes, or as are counted if these
/// are more, as in a rule.
fn threads(paint: &PaintArguments, least: u16) -> u16 {
    let counted = paint.counts.iter().flat_map(|counts| &counts.0);
    let counted = counted.fold(0, |all: u16, (_, count)| all.saturating_add(*count));
    paint.threads.unwrap_or(least.max(counted))
}

/// The knots as a rule finds them that is told the counts, and the patience that it needs.
fn solved(painting: &Painting) -> Result<(Solved, Option<u8>), Trouble> {
    let quick = solving_effort(PATIENCE);
    let patient = solving_effort(MOST_PATIENCE);
    if painting.counts.is_some() {
        if let Ok(solved) = painting.solve(&quick)
            && solved.is_proved()
        {
            return Ok((solved, None));
        }
        return Ok((painting.solve(&patient)?, Some(MOST_PATIENCE)));
    }
    let searched = painting.solve(&patient)?;
    let counted = Painting {
        counts: Some(searched.counts.clone()),
        ..painting.clone()
    };
    let mut found = (counted.solve(&quick)?, None);
    if found.0.missed.len() > searched.missed.len() {
        found = (counted.solve(&patient)?, Some(MOST_PATIENCE));
    }
    // What was proved of all counts is more than what is proved of these.
    found.0.least = searched.least.min(found.0.missed.len());
    found.0.exact = searched.exact;
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eight colours on nine threads have more counts than can all be tried, and few orders each: what
    /// is proved of the counts that were climbed to says nothing of others.
    #[test]
    fn no_more_is_said_of_all_counts_than_is_proved_of_them() {
        let mut state = 1_u32;
        // A linear congruential generator (Knuth 1997, section 3.3.4, line 26).
        let mut colour = |_, _| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            u8::try_from(state >> 12 & 7).ok()
        };
        let painting = Painting::lattice(9, 8, 24, &mut colour).expect("a lattice");
        let (found, _) = solved(&painting).expect("knots");
        let counts = Some(found.counts.clone());
        let counted = Painting { counts, ..painting };
        let of_these = counted
            .solve(&solving_effort(MOST_PATIENCE))
            .expect("knots");
        assert_eq!(of_these.least, found.missed.len(), "these are proved");
        assert!(found.least < of_these.least, "others were not looked at");
    }
}
