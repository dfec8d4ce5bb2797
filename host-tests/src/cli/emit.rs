//! `tallyvolt emit FILE --lang rust|c`

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use tallyvolt_model::acquisition::AcquisitionModel;

use super::destination::{Destination, as_seen_from};
use super::exit::Exit;
use super::progress::Progress;
use super::{failure, print};
use crate::emit::error::EmitError;
use crate::emit::{Lang, emit_channel_with, emit_with};
use crate::words::quoting::quoted;
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_analysis::files::output_file::difference::difference;

#[derive(Debug, Args)]
pub(super) struct Options {
    /// Front-end file (TOML).
    file: PathBuf,
    /// Language of the text.
    #[arg(long)]
    lang: Lang,
    /// With the whole channel: sums, rail watch, plausibility and alarms over a buffer of samples (C; the crate has it for Rust).
    #[arg(long)]
    channel: bool,
    #[command(flatten)]
    destination: Destination,
    /// Write nothing; exit with 1 if the file is not what would be written.
    #[arg(long, conflicts_with = "force")]
    check: bool,
    /// Print what was done as JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Output<'a> {
    front_end: &'a str,
    lang: Lang,
    out: Option<String>,
    /// `printed`, `written`, `unchanged`, `current` or `stale`.
    outcome: &'static str,
    /// Where a stale file first differs.
    difference: Option<String>,
    /// The emitted text, where it was not written to a file.
    text: Option<&'a str>,
}

impl Options {
    /// The command that makes the file in the file's own folder, whether it is to be written or checked: the same from any folder.
    fn command(&self) -> String {
        let out = &*self.destination.out;
        let name = out.file_name().map_or(out, Path::new);
        self.command_of(&as_seen_from(out, &self.file), name)
    }

    /// The command that makes the file here.
    fn command_here(&self) -> String {
        self.command_of(&self.file.display().to_string(), &self.destination.out)
    }

    fn command_of(&self, file: &str, out: &Path) -> String {
        let lang = match self.lang {
            Lang::Rust => "rust",
            Lang::C => "c",
        };
        format!(
            "tallyvolt emit {} --lang {lang}{} --out {}",
            quoted(file),
            if self.channel { " --channel" } else { "" },
            quoted(&out.display().to_string())
        )
    }
}

pub(super) fn run(options: &Options) -> Result<Exit, Exit> {
    let out = options.destination.file();
    if options.check && out.is_none() {
        let why = "--check needs the file to be checked: give --out PATH";
        return Err(failure::bad_input(why));
    }
    if options.channel && options.lang == Lang::Rust {
        return Err(failure::bad_input(
            "--channel is for --lang c: in Rust the crate's BlockChannel takes the emitted module's constants",
        ));
    }
    let front_end = failure::read(&options.file)?;
    let counts = AcquisitionModel::new(&front_end.converter).largest_count();
    let progress = Progress::of(2 * u64::from(counts), "counts");
    let command = options.command();
    let emitted = progress.during(|told| match options.channel {
        true => emit_channel_with(&front_end, &command, told),
        false => emit_with(&front_end, options.lang, &command, told),
    });
    let fails = matches!(emitted, Err(EmitError::Fails { .. }));
    let text = match failure::of_file(&options.file, emitted) {
        Err(_) if fails => return Ok(Exit::Fails),
        other => other?,
    };
    let mut output = Output {
        front_end: &front_end.name,
        lang: options.lang,
        out,
        outcome: "printed",
        difference: None,
        text: None,
    };
    let mut exit = Exit::Holds;
    if options.check {
        let out = &options.destination.out;
        let difference = difference(out, text.as_bytes());
        output.outcome = "current";
        if let Some(difference) = failure::of_file(out, difference)? {
            failure::say(&format!(
                "{} is stale: {difference}\nmake it again with: {} --force",
                out.display(),
                options.command_here()
            ));
            output.outcome = "stale";
            output.difference = Some(difference.to_string());
            exit = Exit::Fails;
        }
    } else {
        let inputs = front_end_file::inputs(&options.file, &front_end);
        match options.destination.put(&text, &inputs)? {
            Some(outcome) => output.outcome = outcome,
            None => output.text = Some(&text),
        }
    }
    print::document(options.json, &output, output.text.unwrap_or_default())?;
    Ok(exit)
}
