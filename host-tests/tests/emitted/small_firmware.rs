//! The whole firmware in C and in Rust for a chip of 8 kB of flash and 512 bytes of RAM (`cores/small`), both topologies, on a simulated ATtiny84: each
//! line against the model, with the record that `fit` wrote, without one, and with a second one whose writing was cut off at any byte.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;

use super::support::{folder, names, run_silent};
use tallyvolt::{RECORD_BYTES, Record};
use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_cost::chip::Chip;
use tallyvolt_cost::elf::Image;
use tallyvolt_cost::images;
use tallyvolt_cost::runner::{self, Ran, Runner};
use tallyvolt_cost::toolchain::{Choice, require};
use tallyvolt_host::cost::subject::Subject;
use tallyvolt_host::cost::{channel, source};
use tallyvolt_host::emit::{Lang, emit_channel_with};
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::channel::{ChannelModel, PlainChannel, SensorOutcome};
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::outcome::Outcome;

/// Static RAM and deepest stack together: what is promised.
const RAM: u32 = 200;
/// Flash in C: what is promised.
const FLASH_C: u32 = 2500;
/// Flash in Rust: what is promised.
const FLASH_RUST: u32 = 4096;
/// Enough for four lines.
const CYCLES: u64 = 8_000_000;
const REFERENCE_MV: u32 = 1100;

fn host() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// One topology's board: its module, its firmware, and what the simulated converter gives.
struct Board {
    supply: bool,
    subject: Subject,
    /// What it converts with before a record is loaded.
    drawn: ChannelModel,
    image: PathBuf,
    flash: u32,
}

impl Board {
    fn new(name: &str, lang: Lang, folder: &Path) -> Self {
        let file = host().join(format!("cores/front-ends/{name}.toml"));
        let front_end = front_end_file::read(&file).expect("a good file");
        let supply = name == "board-supply";
        let subject = Subject::of(&front_end).expect("describable");
        let (image, drawn, flash) = match lang {
            Lang::C => (
                in_c(&front_end, supply, folder),
                channel::model(&subject, false),
                FLASH_C,
            ),
            Lang::Rust => {
                let as_drawn = CalibrationModel::from_words(1 << 24, 0);
                let short = Subject::calibrated(&front_end, &as_drawn).expect("constants");
                (
                    in_rust(&subject, supply),
                    channel::model(&short, true),
                    FLASH_RUST,
                )
            }
        };
        let mut board = Self {
            supply,
            subject,
            drawn,
            image,
            flash,
        };
        board.subject = board.with(&board.fitted(&file, folder));
        board
    }

    /// The record that `fit` writes for a module whose reference, or divider, is off by half a percent.
    fn fitted(&self, file: &Path, folder: &Path) -> [u8; RECORD_BYTES] {
        let mut readings = "module,meter_mv,count\n".to_owned();
        for mv in (2000..=3600).step_by(100) {
            // Rounded to the nearest count.
            let (numerator, denominator) = if self.supply {
                (16 * 1023 * 2 * 11_055_u64, 10 * mv)
            } else {
                (16 * 1023 * 2 * mv * 995, 4 * 1000 * u64::from(REFERENCE_MV))
            };
            let count = (numerator / denominator).div_ceil(2);
            readings += &format!("hut-1,{mv},{count}\n");
        }
        let name = if self.supply { "supply" } else { "divided" };
        let input = folder.join(format!("{name}.csv"));
        let records = folder.join(format!("{name}-records"));
        let _ = fs::remove_dir_all(&records);
        fs::write(&input, readings).expect("written");
        let output = Command::new(env!("CARGO_BIN_EXE_tallyvolt"))
            .arg("fit")
            .args([file, &input])
            .arg("--records")
            .arg(&records)
            .args(["--address", "0"])
            .output()
            .expect("the program runs");
        let bytes = fs::read(records.join("hut-1.bin"));
        bytes
            .ok()
            .and_then(|bytes| bytes.try_into().ok())
            .unwrap_or_else(|| panic!("no record: {output:?}"))
    }

    /// The board with the module of another record.
    fn with(&self, bytes: &[u8; RECORD_BYTES]) -> Subject {
        let firmware = &self.subject.firmware;
        let record = Record::decode(bytes, firmware.fingerprint()).expect("sound");
        Subject {
            module: firmware.recorded(&record).expect("sound"),
            record: *bytes,
            ..self.subject.clone()
        }
    }

    /// A run at a cell voltage, the sensor's share of its excitation in thousandths.
    fn run(&self, runner: &mut Runner, cell_mv: u32, share: u32, lines: usize) -> Ran {
        let (vcc, sensor) = if self.supply {
            (cell_mv, cell_mv * share / 1000)
        } else {
            (3300, REFERENCE_MV * share / 1000)
        };
        let pins = [(1, sensor), (2, cell_mv / 4), (3, REFERENCE_MV)];
        runner
            .system_with(vcc, REFERENCE_MV, &pins, lines, CYCLES)
            .expect("a run")
    }

    /// The lines that a model gives for it.
    fn lines<const N: usize>(&self, model: &ChannelModel, cell_mv: u32, share: u32) -> [String; N] {
        let sample = |signal: u32, reference: u32| (signal * 1023 / reference).min(1023);
        let (cell, sensor) = if self.supply {
            (
                sample(REFERENCE_MV, cell_mv),
                sample(cell_mv * share / 1000, cell_mv),
            )
        } else {
            (
                sample(cell_mv / 4, REFERENCE_MV),
                sample(REFERENCE_MV * share / 1000, REFERENCE_MV),
            )
        };
        let mut channel = PlainChannel::new(model);
        [(); N].map(|()| {
            channel.samples(&[cell as u16; 16]);
            let reading = channel.reading(Some(4 * sensor), false).expect("a window");
            let voltage = match reading.voltage {
                Outcome::Units(mv) => mv.to_string(),
                Outcome::Fault(_) => "-".to_owned(),
            };
            let temperature = match reading.temperature {
                Some(SensorOutcome::Tenths(tenths)) => tenths.to_string(),
                _ => "-".to_owned(),
            };
            let alarms = reading.alarms.iter().rev();
            let alarms = alarms.fold(0, |sum, alarm| 2 * sum + u32::from(*alarm));
            format!(
                "{voltage} {temperature} alarms {alarms} faults {}",
                reading.faults
            )
        })
    }
}

/// The firmware of `main.c` with the emitted header.
fn in_c(front_end: &FrontEnd, supply: bool, folder: &Path) -> PathBuf {
    let header = emit_channel_with(front_end, "as the test does", &|_| {});
    let header_file = format!("{}.h", names(front_end).lower);
    fs::write(folder.join(header_file), header.expect("it passes")).expect("written");
    let image = folder.join(format!("{}.elf", front_end.name));
    let mut compile = Command::new("avr-gcc");
    compile
        .args([
            "-mmcu=attiny84",
            "-fshort-enums",
            "-Os",
            "-std=c99",
            "-Wall",
            "-Wextra",
            "-Wconversion",
            "-Werror",
        ])
        .args(["-ffunction-sections", "-Wl,--gc-sections"])
        .arg(format!("-DSUPPLY={}", u8::from(supply)))
        .arg("-I")
        .arg(folder)
        .arg("-o")
        .arg(&image)
        .arg(host().join("cores/small/main.c"));
    run_silent(&mut compile, "gcc-avr avr-libc");
    image
}

/// The firmware of the package `small` with the emitted module.
fn in_rust(subject: &Subject, supply: bool) -> PathBuf {
    // Every test builds it, in one folder.
    static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
    let _one = ONE_AT_A_TIME.lock().expect("the other built it");
    let toolchain = require(Chip::Avr25, Choice::Debian).expect("what cores/ci.sh installs");
    let source = source::small_firmware(subject).expect("it passes");
    // As `cores/ci.sh` uses it, so that nothing is built twice.
    let folder = host().join("../target/cost");
    images::small_firmware(&toolchain, &source, supply, &folder).expect("it builds")
}

/// In C, in Rust.
fn boards(name: &str) -> (PathBuf, Vec<Board>) {
    let folder = folder(name);
    let mut boards = Vec::new();
    for lang in [Lang::C, Lang::Rust] {
        for board in ["board-supply", "board-divided"] {
            boards.push(Board::new(board, lang, &folder));
        }
    }
    (folder, boards)
}

#[test]
#[ignore = "needs avr-gcc and libsimavr"]
fn every_line_of_the_small_firmware_is_the_models() {
    let (folder, boards) = boards("small-firmware");
    let program = runner::build(Chip::Avr25, &folder).expect("a simulator");
    for board in &boards {
        let name = &board.subject.front_end.name;
        let image = Image::read(&board.image).expect("an image");
        let mut runner = Runner::start(&program, &board.image).expect("it starts");
        runner.eeprom(&[0xFF; 2 * RECORD_BYTES]).expect("taken");
        let sent = board.run(&mut runner, 3300, 500, 2).lines;
        let [line] = board.lines(&board.drawn, 3300, 500);
        assert_eq!(sent, ["no calibration", &line]);

        let mut slots = board.subject.record.to_vec();
        slots.resize(2 * RECORD_BYTES, 0xFF);
        runner.eeprom(&slots).expect("taken");
        let model = channel::model(&board.subject, true);
        let (mut readings, mut noticed, mut stack) = (0, 0, 0);
        let (mut faults, mut alarms) = (BTreeSet::new(), BTreeSet::new());
        for (place, cell_mv) in (0_u32..).zip((1900..=4300).step_by(10)) {
            // Shorted and open now and then; between them the sensor goes over its whole range.
            let share = match place % 20 {
                0 => 0,
                1 => 1000,
                _ => place * 37 % 1001,
            };
            let ran = board.run(&mut runner, cell_mv, share, 2);
            let wanted: [String; 2] = board.lines(&model, cell_mv, share);
            assert_eq!(ran.lines, wanted, "{name} {cell_mv} mV, sensor {share}");
            // Negative control: the drawing's lines are others.
            let [as_drawn] = board.lines(&board.drawn, cell_mv, share);
            noticed += usize::from(ran.lines[0] != as_drawn);
            for line in &ran.lines {
                let mut words = line.split(' ').rev();
                faults.extend(words.next().and_then(|word| word.parse::<u16>().ok()));
                alarms.extend(words.nth(1).and_then(|word| word.parse::<u16>().ok()));
            }
            readings += ran.lines.len();
            stack = stack.max(ran.stack);
        }
        println!(
            "{name}: {readings} readings, 0 mismatches; flash {} B, static RAM {} B, stack {stack} B; alarms {alarms:?}, faults {faults:?}",
            image.flash, image.ram
        );
        assert!(readings > 400 && noticed > 150, "{readings} {noticed}");
        for alarm in [1, 2, 4, 8] {
            assert!(alarms.iter().any(|bits| bits & alarm != 0), "alarm {alarm}");
        }
        for fault in [1 << 5, 1 << 6, 1 << 7] {
            assert!(faults.iter().any(|bits| bits & fault != 0), "fault {fault}");
        }
        assert!(image.flash <= board.flash, "{} B of flash", image.flash);
        assert!(
            image.ram + stack <= RAM,
            "{} and {stack} B of RAM",
            image.ram
        );
    }
}

/// Power fails while the second slot is written: the first one's module until the last byte is there, and then the second one's.
#[test]
#[ignore = "needs avr-gcc and libsimavr"]
fn a_write_that_is_cut_off_leaves_the_earlier_calibration() {
    let (folder, boards) = boards("small-firmware-cut");
    let program = runner::build(Chip::Avr25, &folder).expect("a simulator");
    for board in &boards {
        let first = &board.subject;
        let later = Subject::calibrated(
            &first.front_end,
            &CalibrationModel::from_words(16_600_000, 700),
        )
        .expect("it has constants");
        let record = Record::decode(&first.record, first.firmware.fingerprint()).expect("sound");
        let later_bytes = first
            .firmware
            .record(later.module.constants(), record.sequence().wrapping_add(1))
            .expect("it can be stored")
            .encode();
        let of = |subject: &Subject| -> [String; 1] {
            board.lines(&channel::model(subject, true), 3300, 500)
        };
        let (before, after) = (of(first), of(&board.with(&later_bytes)));
        assert_ne!(before, after);
        let mut runner = Runner::start(&program, &board.image).expect("it starts");
        for old in [0xFF, 0x5A] {
            for written in 0..=RECORD_BYTES {
                let mut second = [old; RECORD_BYTES];
                second[..written].copy_from_slice(&later_bytes[..written]);
                let slots = [first.record, second].concat();
                runner.eeprom(&slots).expect("taken");
                let sent = board.run(&mut runner, 3300, 500, 1).lines;
                let wanted = if second == later_bytes {
                    &after
                } else {
                    &before
                };
                assert_eq!(sent, *wanted, "{written} bytes over {old:#x}");
                // The slots the other way round.
                let slots = [second, first.record].concat();
                runner.eeprom(&slots).expect("taken");
                assert_eq!(board.run(&mut runner, 3300, 500, 1).lines, *wanted);
            }
        }
    }
}
