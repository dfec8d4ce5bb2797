//! An image on a simulator: requests and rows, as `cores/runners/request.h` tells them.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use super::chip::Chip;
use super::cores::cores_folder;
use super::error::CostError;
use super::images::run_step;

/// One call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row {
    /// What the function returned.
    pub result: u64,
    /// Cycles or instructions.
    pub amount: u64,
    /// Deepest stack in bytes.
    pub stack: u32,
}

/// A sweep's rows.
#[derive(Debug, Clone)]
pub struct Rows {
    /// In order of the swept argument.
    pub rows: Vec<Row>,
    /// Most hardware divisions in one call.
    pub divisions: u32,
}

/// A run of a whole image.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ran {
    /// What it sent.
    pub lines: Vec<String>,
    /// Deepest stack in bytes.
    pub stack: u32,
}

/// A running simulator; ends with the value.
#[derive(Debug)]
pub struct Runner {
    process: Child,
    requests: ChildStdin,
    answers: BufReader<ChildStdout>,
}

/// A core's simulator program.
#[derive(Debug, Clone)]
pub struct Simulator {
    program: PathBuf,
    /// What it is told beside the image.
    option: Option<&'static str>,
}

/// Builds a core's simulator program.
///
/// # Errors
/// [`CostError::Step`] with the compiler's words, [`CostError::Missing`] when the simulator's library is not there.
pub fn build(chip: Chip, folder: &Path) -> Result<Simulator, CostError> {
    let (libraries, packages, header): (&[&str], _, _) = match chip {
        chip if chip.is_avr() => (
            &["-lsimavr", "-lelf"],
            "libsimavr-dev libelf-dev",
            "simavr/sim_avr.h",
        ),
        _ => (&["-lunicorn"], "libunicorn-dev", "unicorn/unicorn.h"),
    };
    if !Path::new("/usr/include").join(header).is_file() {
        return Err(CostError::Missing(vec![format!(
            "{header}: install {packages}"
        )]));
    }
    std::fs::create_dir_all(folder).map_err(|error| CostError::file(folder, error))?;
    let program = folder.join(chip.runner());
    let source = cores_folder()
        .join("runners")
        .join(format!("{}.c", chip.runner()));
    let mut compile = Command::new("cc");
    compile
        .args(["-O2", "-o"])
        .arg(&program)
        .arg(source)
        .args(libraries);
    run_step("compiling the simulator program", &mut compile)?;
    Ok(Simulator {
        program,
        option: chip.runner_option(),
    })
}

impl Runner {
    /// Starts a simulator with an image.
    ///
    /// # Errors
    /// [`CostError`] when it does not start or refuses the image.
    pub fn start(simulator: &Simulator, image: &Path) -> Result<Self, CostError> {
        let Simulator { program, option } = simulator;
        let mut process = Command::new(program)
            .arg(image)
            .args(*option)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .map_err(|error| CostError::file(program, error))?;
        let (Some(requests), Some(answers)) = (process.stdin.take(), process.stdout.take()) else {
            return Err(CostError::file(program, "no pipes"));
        };
        let mut runner = Self {
            process,
            requests,
            answers: BufReader::new(answers),
        };
        let greeting = runner.line()?;
        if greeting.starts_with("ready ") {
            Ok(runner)
        } else {
            Err(answer_error("start", &greeting))
        }
    }

    /// Calls a function once, or for every value of a swept argument.
    ///
    /// # Errors
    /// [`CostError::Runner`] when the call did not return properly.
    pub fn call(&mut self, symbol: &str, result: &str, arguments: &str) -> Result<Rows, CostError> {
        let request = format!("call {symbol} {result} {arguments}");
        let mut rows = Vec::new();
        for line in self.ask(&request)? {
            let mut fields = line.split(' ').map(str::parse::<u64>);
            match (fields.next(), fields.next(), fields.next()) {
                (Some(Ok(result)), Some(Ok(amount)), Some(Ok(stack))) => rows.push(Row {
                    result,
                    amount,
                    stack: u32::try_from(stack).unwrap_or(u32::MAX),
                }),
                _ => {
                    let end: Vec<_> = line.split(' ').collect();
                    if let ["end", calls, divisions] = end[..]
                        && calls.parse() == Ok(rows.len())
                        && let Ok(divisions) = divisions.parse()
                    {
                        return Ok(Rows { rows, divisions });
                    }
                    return Err(answer_error(&request, &line));
                }
            }
        }
        Err(answer_error(&request, "nothing"))
    }

    /// Writes bytes into RAM, from a symbol on.
    ///
    /// # Errors
    /// [`CostError::Runner`] when they do not fit.
    pub fn poke(&mut self, symbol: &str, bytes: &[u8]) -> Result<(), CostError> {
        let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        let request = format!("poke {symbol} {hex}");
        match self.ask(&request)?.last().map(String::as_str) {
            Some("ok") => Ok(()),
            other => Err(answer_error(&request, other.unwrap_or("nothing"))),
        }
    }

    /// What whole images find in the EEPROM's first bytes from now on.
    ///
    /// # Errors
    /// [`CostError::Runner`] when the simulator refuses.
    pub fn eeprom(&mut self, bytes: &[u8]) -> Result<(), CostError> {
        let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        let request = format!("eeprom {hex}");
        match self.ask(&request)?.last().map(String::as_str) {
            Some("ok") => Ok(()),
            other => Err(answer_error(&request, other.unwrap_or("nothing"))),
        }
    }

    /// Runs a whole image from reset with voltages at its supply and pins; the lines that it sent over the UART.
    ///
    /// # Errors
    /// [`CostError::Runner`] when the simulator refuses.
    pub fn system(
        &mut self,
        supply_mv: u32,
        pins_mv: &[(u8, u32)],
        lines: usize,
        cycles: u64,
    ) -> Result<Vec<String>, CostError> {
        let ran = self.system_with(supply_mv, 0, pins_mv, lines, cycles)?;
        Ok(ran.lines)
    }

    /// The same with a voltage at the reference pin, and with the deepest stack.
    ///
    /// # Errors
    /// [`CostError::Runner`] when the simulator refuses.
    pub fn system_with(
        &mut self,
        supply_mv: u32,
        aref_mv: u32,
        pins_mv: &[(u8, u32)],
        lines: usize,
        cycles: u64,
    ) -> Result<Ran, CostError> {
        let pins: String = pins_mv
            .iter()
            .map(|(pin, mv)| format!(" {pin} {mv}"))
            .collect();
        let request = format!("system {supply_mv} {aref_mv} {lines} {cycles}{pins}");
        let answers = self.ask(&request)?;
        let end: Vec<&str> = answers
            .last()
            .map_or("", String::as_str)
            .split(' ')
            .collect();
        match end[..] {
            ["end", _, _, stack] => Ok(Ran {
                lines: answers
                    .iter()
                    .filter_map(|line| line.strip_prefix("uart "))
                    .map(str::to_owned)
                    .collect(),
                stack: stack
                    .parse()
                    .map_err(|_| answer_error(&request, "a stack that is no number"))?,
            }),
            _ => Err(answer_error(&request, &end.join(" "))),
        }
    }

    /// All lines of an answer, the closing one included.
    fn ask(&mut self, request: &str) -> Result<Vec<String>, CostError> {
        writeln!(self.requests, "{request}")
            .map_err(|error| answer_error(request, &error.to_string()))?;
        let mut lines = Vec::new();
        loop {
            let line = self.line()?;
            let closes = line.is_empty()
                || line == "ok"
                || line.starts_with("end ")
                || line.starts_with("error");
            lines.push(line);
            if closes {
                return Ok(lines);
            }
        }
    }

    fn line(&mut self) -> Result<String, CostError> {
        let mut line = String::new();
        self.answers
            .read_line(&mut line)
            .map_err(|error| answer_error("read", &error.to_string()))?;
        Ok(line.trim_end().to_owned())
    }
}

impl Drop for Runner {
    fn drop(&mut self) {
        // It ends by itself when its input closes; one that hangs is ended here.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn answer_error(request: &str, answer: &str) -> CostError {
    CostError::Runner {
        request: request.to_owned(),
        answer: answer.to_owned(),
    }
}
