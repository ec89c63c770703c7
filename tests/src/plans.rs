//! Plans that the benches of collections make, held to what plans say today.

/// A collection of bands by chance, told apart by their seeds, each with its picture and its
/// steps.
#[must_use]
pub fn by_chance(threads: u16, length_cm: u32, members: u64) -> String {
    format!(
        "[defaults]\nlengths = {length_cm}\nwrite = [\"fabric\", \"text\"]\n[[item]]\nrule = \"flotsam\"\nsettings = {{ threads = {threads} }}\nseeds = \"1..{members}\"\n"
    )
}

#[cfg(test)]
mod tests {
    use super::by_chance;
    use hitchwork_collection::plan;
    use hitchwork_rules::Rules;

    #[test]
    fn the_plans_of_benches_are_plans() {
        let plan = plan::read(&Rules::new(), "bench.toml", &by_chance(8, 6, 12));
        let plan = plan.unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(plan.members().count(), 12);
    }
}
