//! A hundred bands of one rule, each drawn into a file of its own.

use std::path::Path;

use hitchwork::core::tied::Tied;
use hitchwork::draw::output::{Output, OutputOptions};
use hitchwork::rules::{Rules, Settings};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).unwrap_or("out/hundred".to_owned());
    hundred(Path::new(&folder))
}

pub(crate) fn hundred(folder: &Path) -> Result<(), Box<dyn std::error::Error>> {
    std::fs::create_dir_all(folder)?;
    let (rules, fabric) = (Rules::new(), Output::find("fabric").ok_or("not there")?);
    let flotsam = rules.built_in("flotsam").ok_or("not there")?;
    for seed in 1..=100 {
        let settings = Settings::new().seed(seed).length_mm(30.0);
        let tied = Tied::of(rules.make(&flotsam, &settings)?.band);
        for file in fabric.files(&tied, &OutputOptions::fitting(&tied))? {
            std::fs::write(folder.join(format!("{seed}-{}", file.name)), file.bytes)?;
        }
    }
    Ok(())
}
