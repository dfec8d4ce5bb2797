//! The whole firmware of `main.c` in Rust, for the same chip: an ATtiny84 at 8 MHz, without a multiplier, with 8 kB of flash and 512
//! bytes of RAM.
//!
//! ```text
//! 3301 254 alarms 0 faults 0      millivolts, tenths of a degree Celsius, `-` for what is none; alarms and faults added up
//! ```
//!
//! A module's record lies in one of two slots of 32 bytes at the start of the EEPROM, so power may fail while the other one is written:
//! the later of those that are accepted is used. Without one it says `no calibration`, and goes on as drawn, by constants of the short form.
//!
//! `TALLYVOLT_FRONT_ENDS` names the file that `tallyvolt emit board-supply.toml --lang rust` writes, or that of board-divided without the
//! feature `supply`, with the drawing's short form as `DRAWN` behind it. **Lithium cells burn:** this measures, and protects nothing. It has run in a simulator, not on silicon.
#![no_std]
#![feature(asm_experimental_arch)]

mod chip;
mod report;

use core::arch::asm;

mod board {
    include!(env!("TALLYVOLT_FRONT_ENDS"));
}

use tallyvolt::{
    BlockChannel, ChannelSetup, Count, OutputUnit, Plausibility, RECORD_BYTES, Sensing,
    SensorAsDrawn,
};

/// Samples in a count of the cell, as the front-end files say: a window, and as many bytes as a record.
const SAMPLES: usize = 16;
/// Samples in a count of the sensor.
const SENSOR_SAMPLES: u8 = 4;

#[cfg(feature = "supply")]
mod topology {
    use tallyvolt::{CountLimit, LimitSide, Microvolts, SupplyModule};

    /// What the chip loads.
    pub type Module = SupplyModule;

    /// The count of the converter's lowest supply; none where it cannot be read.
    pub fn supply_minimum(module: &Module) -> Option<CountLimit> {
        module
            .count_limit(LimitSide::Under, Microvolts::from_mv(1800))
            .ok()
    }
}

#[cfg(not(feature = "supply"))]
mod topology {
    use tallyvolt::{CountLimit, DividedModule};

    /// What the chip loads: counts of 16 samples of 10 bits.
    pub type Module = DividedModule<14>;

    /// The cell does not feed the converter.
    pub fn supply_minimum(_: &Module) -> Option<CountLimit> {
        None
    }
}

use topology::Module;

#[panic_handler]
fn panicked(_: &core::panic::PanicInfo<'_>) -> ! {
    stop();
}

/// For what is never so.
fn stop() -> ! {
    loop {}
}

/// What the channel is set up with.
type Setup = ChannelSetup<Module, SensorAsDrawn<board::Sensor>>;

/// As drawn, until a record is loaded and [`limit`] has found its limits.
static mut SETUP: Setup = ChannelSetup {
    conversion: match board::DRAWN.short() {
        Some(module) => module,
        None => panic!("the short form"),
    },
    limits: board::LIMITS,
    thermistor: Some(SensorAsDrawn::NEW),
    plausibility: Plausibility::NONE,
    calibrated: false,
};

/// The samples of a count.
static mut WINDOW: [u16; SAMPLES] = [0; SAMPLES];

/// Loads a slot's record through the window, which has no samples yet.
#[inline(never)]
fn load(setup: &mut Setup, window: &mut [u16; SAMPLES], slot: u8) -> bool {
    // SAFETY: as many bytes of the same memory, which nothing else uses meanwhile.
    let bytes = unsafe { &mut *window.as_mut_ptr().cast::<[u8; RECORD_BYTES]>() };
    let mut address = slot;
    for byte in bytes.iter_mut() {
        *byte = chip::eeprom(address);
        address = address.wrapping_add(1);
    }
    let Ok(module) = board::load(bytes) else {
        return false;
    };
    setup.conversion = module;
    true
}

/// Loads a module and finds its limits.
#[inline(never)]
fn prepare(setup: &mut Setup, window: &mut [u16; SAMPLES]) {
    if !load_later(setup, window) {
        report::text!(b"no calibration\n\0");
    }
    limit(setup);
}

/// Loads the later of the records that are accepted, by their sequence numbers, modulo 2^16.
fn load_later(setup: &mut Setup, window: &mut [u16; SAMPLES]) -> bool {
    let first = load(setup, window, 0);
    let [_, sequence, ..] = *window;
    if load(setup, window, RECORD_BYTES as u8) {
        let [_, later, ..] = *window;
        if !first || later.wrapping_sub(sequence) as i16 > 0 {
            return true;
        }
    }
    load(setup, window, 0)
}

/// Finds the counts of the voltage limits with the module that is loaded.
fn limit(setup: &mut Setup) {
    let module = &setup.conversion;
    // So in every module of this board: where the compiler sees it, limits are found of one step.
    if module.unit() != OutputUnit::Millivolt {
        return;
    }
    setup.plausibility.supply_minimum = topology::supply_minimum(module);
    setup.limits.over_voltage = board::over_voltage(module).ok();
    setup.limits.under_voltage = board::under_voltage(module).ok();
    if setup.limits.over_voltage.is_none() || setup.limits.under_voltage.is_none() {
        report::text!(b"a limit cannot be read\n\0");
    }
}

/// Reads and reports. A function of its own, so that the stack that it needs and that of finding limits are not one on the other. It is
/// given places that the compiler knows: addresses need no stack then.
#[inline(never)]
fn run(setup: &Setup, window: &mut [u16; SAMPLES]) -> ! {
    let Ok(mut channel) = BlockChannel::new(setup) else {
        stop();
    };
    loop {
        chip::select(chip::CELL);
        for sample in window.iter_mut() {
            *sample = chip::sample();
        }
        chip::select(chip::SENSOR);
        let mut sensor = 0;
        for _ in 0..SENSOR_SAMPLES {
            sensor += chip::sample();
        }
        let sensing = Sensing {
            sensor: Some(Count(sensor.into())),
            bleeding: false,
        };
        report::line(&channel.reading(window, sensing));
    }
}

/// The same address, whose value the compiler does not see: behind it, fields are written by shorter instructions.
fn unseen<T>(mut address: *mut T) -> *mut T {
    // SAFETY: does nothing.
    unsafe {
        asm!("/* {0} */", inout(reg_pair) address, options(nostack, preserves_flags));
    }
    address
}

/// Where the start-up code of avr-libc goes.
#[unsafe(no_mangle)]
pub extern "C" fn main() -> ! {
    chip::start();
    {
        let (setup, window) = (unseen(&raw mut SETUP), unseen(&raw mut WINDOW));
        // SAFETY: nothing else runs, and nobody else has these.
        unsafe { prepare(&mut *setup, &mut *window) };
    }
    let (setup, window) = (&raw const SETUP, &raw mut WINDOW);
    // SAFETY: as above, and `prepare` has returned.
    unsafe { run(&*setup, &mut *window) }
}
