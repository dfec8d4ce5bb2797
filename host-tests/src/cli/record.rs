//! `tallyvolt record FILE RECORD...`

use std::path::PathBuf;

use clap::Args;

use super::exit::Exit;
use super::progress::Progress;
use super::{failure, print};
use crate::words::recorded::{Examined, File, Found};
use tallyvolt_analysis::calibrate::recorded::bytes::Image;
use tallyvolt_analysis::calibrate::recorded::judge::Judge;
use tallyvolt_analysis::calibrate::recorded::places::{places, words};
use tallyvolt_analysis::describe::firmware::Conversion;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Front-end file (TOML).
    file: PathBuf,
    /// Files with a record, or with both slots of a store: binary, Intel HEX or hexadecimal text.
    #[arg(required = true)]
    records: Vec<PathBuf>,
    /// Print JSON instead of text.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments) -> Result<Exit, Exit> {
    let front_end = failure::read(&arguments.file)?;
    let judge = failure::of_file(&arguments.file, Judge::new(&front_end))?;
    let (mut files, mut bad) = (Vec::new(), Vec::new());
    let counts = judge.counts() * arguments.records.len() as u64;
    let progress = Progress::of(counts, "counts");
    for path in &arguments.records {
        match Image::read(path) {
            Ok(image) => files.push(examined(
                &judge,
                path.display().to_string(),
                &image,
                &progress,
            )),
            Err(error) => bad.push(format!("{}: {error}", path.display())),
        }
    }
    drop(progress);
    let examined = Examined::of(&front_end, &judge, files, &bad);
    let printed = if arguments.json || !examined.files.is_empty() {
        print::result(arguments.json, &examined, || examined.text())
    } else {
        Ok(())
    };
    for error in &bad {
        failure::say(error);
    }
    printed?;
    Ok(if bad.is_empty() {
        Exit::of(examined.sound)
    } else {
        Exit::BadInput
    })
}

fn examined(judge: &Judge<'_>, file: String, image: &Image, progress: &Progress) -> File {
    let swept = |counts| progress.advance(counts);
    let found = places(image, judge.fingerprint())
        .iter()
        .map(|place| {
            let judged = judge.judge(place.bytes, &Conversion::outcome, &swept);
            Found::of(place.address, words(place.behind), judged)
        })
        .collect();
    File::of(file, image.format, image.length(), found)
}
