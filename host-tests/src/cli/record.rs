//! `tallyvolt record FILE RECORD...`

use std::path::PathBuf;

use clap::Args;

use super::{Exit, failure};
use crate::calibrate::recorded::bytes::Image;
use crate::calibrate::recorded::judge::Judge;
use crate::calibrate::recorded::places::{places, words};
use crate::cli::progress::Progress;
use crate::describe::firmware::Conversion;
use crate::describe::front_end_file;
use crate::words::recorded::{Examined, Slot, json, text};

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

pub(super) fn run(arguments: &Arguments) -> Exit {
    let front_end = match front_end_file::read(&arguments.file) {
        Ok(front_end) => front_end,
        Err(error) => {
            failure::show(error);
            return Exit::BadInput;
        }
    };
    let judge = match Judge::new(&front_end) {
        Ok(judge) => judge,
        Err(error) => {
            failure::say(&format!("{}: {error}", arguments.file.display()));
            return Exit::BadInput;
        }
    };
    let (mut files, mut bad) = (Vec::new(), Vec::new());
    let progress = Progress::new(judge.counts() * arguments.records.len() as u64);
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
    let printed = if arguments.json {
        failure::print_json(&json(&front_end, &judge, &files, &bad))
    } else if files.is_empty() {
        Ok(())
    } else {
        failure::print(&text(&front_end, &judge, &files))
    };
    for error in &bad {
        failure::say(error);
    }
    match printed {
        Err(exit) => exit,
        Ok(()) if !bad.is_empty() => Exit::BadInput,
        Ok(()) if files.iter().all(Examined::is_sound) => Exit::Holds,
        Ok(()) => Exit::Fails,
    }
}

fn examined(judge: &Judge<'_>, file: String, image: &Image, progress: &Progress) -> Examined {
    let slots = places(image, judge.fingerprint())
        .iter()
        .map(|place| Slot {
            address: place.address,
            behind: words(place.behind),
            judged: judge.judge(place.bytes, Conversion::outcome, |counts| {
                progress.advance(counts);
            }),
        })
        .collect();
    Examined {
        file,
        format: image.format,
        length: image.length(),
        slots,
    }
}
