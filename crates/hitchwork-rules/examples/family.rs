//! A whole family of bands from one rule, made on all cores by a program of your own.
//!
//! `cargo run --release -p hitchwork-rules --example family`
//!
//! The language is built once, with a function and a palette of the program's own, and is
//! shared by all threads, as is the rule. Each thread does its share in one batch, so that
//! the deep stack that rules need is made once a thread and not once a band.

use hitchwork_core::colour::{Colour, Palette, Srgb};
use hitchwork_core::tied::Tied;
use hitchwork_rules::rhai::Module;
use hitchwork_rules::{Error, Rules, Settings};

/// A band for each boat of the harbour: as many threads as the boat has crew, twice.
const RULE: &str = r#"
/// A band for the crew of a boat.
let crew = whole("crew", 4, 2..=20, "people in the boat");
let threads = berths(crew);
let rows = lattice(threads, 2 * crew, |row, column|
    if chance(0.2) { even_shows(column) } else { forward(column) }
);
band(threads).repeat(rows).colours(in_turn(gradient("low water", 4), threads))
"#;

fn language() -> Rules {
    let mut functions = Module::new();
    functions.set_native_fn("berths", |crew: i64| Ok(2 * crew));
    let low_water = Palette {
        name: "low water".to_owned(),
        sentence: "Mud, weed and a little sky.".to_owned(),
        colours: vec![
            Colour::new("mud", Srgb::new(92, 80, 64)),
            Colour::new("weed", Srgb::new(70, 100, 70)),
            Colour::new("sky", Srgb::new(150, 185, 200)),
        ],
    };
    Rules::builder()
        .functions(functions)
        .palette(low_water)
        .build()
}

fn main() -> Result<(), Error> {
    let rules = language();
    let rule = rules.compile("crew", RULE)?;
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let share = |worker: usize| {
        rules.batch(|| {
            let mine = (2..=20_u16).filter(|crew| usize::from(*crew) % workers == worker);
            let made = mine.map(|crew| {
                let settings = Settings::new().set("crew", crew).seed(u64::from(crew));
                let tied = Tied::of(rules.make(&rule, &settings)?.band);
                Ok((
                    crew,
                    tied.band().knot_count(),
                    tied.report().repeats_to_close,
                ))
            });
            made.collect::<Result<Vec<_>, Error>>()
        })
    };
    let shares = std::thread::scope(|scope| {
        let share = &share;
        let threads: Vec<_> = (0..workers)
            .map(|worker| scope.spawn(move || share(worker)))
            .collect();
        let joined = threads
            .into_iter()
            .map(|thread| thread.join().expect("a share does not panic"));
        joined.collect::<Result<Vec<_>, Error>>()
    })?;
    let mut family = shares.concat();
    family.sort_unstable();
    #[allow(clippy::print_stdout, reason = "a program may print")]
    for (crew, knots, closes) in family {
        println!("crew of {crew}: {knots} knots, comes round after {closes} repeats");
    }
    Ok(())
}
