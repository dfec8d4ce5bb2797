//! What a reading's log says once it is decoded, from this program's own texts.

#![expect(unsafe_code, reason = "a log's transport is an unsafe trait")]

use std::sync::Mutex;

use defmt_decoder::Table;
use embedding::cell::{SETUP, WINDOW};
use embedding::logged::log;
use tallyvolt::{Channel, Sensing};

struct Sent {
    encoder: defmt::Encoder,
    bytes: Vec<u8>,
}

static SENT: Mutex<Sent> = Mutex::new(Sent {
    encoder: defmt::Encoder::new(),
    bytes: Vec::new(),
});

fn send(part: impl FnOnce(&mut defmt::Encoder, &mut dyn FnMut(&[u8]))) {
    let mut sent = SENT.lock().expect("nobody panics while sending");
    let Sent { encoder, bytes } = &mut *sent;
    part(encoder, &mut |encoded| bytes.extend_from_slice(encoded));
}

#[defmt::global_logger]
struct Transport;

// SAFETY: one thread logs, so a frame's parts are never mixed; each part holds the lock.
unsafe impl defmt::Logger for Transport {
    fn acquire() {
        send(|encoder, mut write| encoder.start_frame(&mut write));
    }

    unsafe fn flush() {}

    unsafe fn release() {
        send(|encoder, mut write| encoder.end_frame(&mut write));
    }

    unsafe fn write(bytes: &[u8]) {
        send(|encoder, mut write| encoder.write(bytes, &mut write));
    }
}

#[test]
fn a_decoded_log_has_the_readings() {
    let mut channel = Channel::<_, WINDOW>::new(&SETUP).expect("sixteen samples are summed");
    for (cell, code) in [(1, 3065), (2, 4095)] {
        channel.samples(&[code; WINDOW]);
        let reading = channel.reading(Sensing::default()).expect("a full window");
        log(cell, &reading);
    }
    let program = std::fs::read(std::env::current_exe().expect("its own path")).expect("its file");
    let table = Table::parse(&program)
        .expect("a section of texts")
        .expect("and it is not empty");
    let bytes = std::mem::take(&mut SENT.lock().expect("unpoisoned").bytes);
    assert!(
        bytes.len() < 64,
        "numbers and no text: {} bytes",
        bytes.len()
    );
    let mut decoder = table.new_stream_decoder();
    decoder.received(&bytes);
    let line = decoder.decode().expect("a whole frame");
    assert_eq!(
        line.display_message().to_string(),
        "cell 1: Ok(Voltage(3200))"
    );
    let line = decoder.decode().expect("a whole frame");
    assert_eq!(
        line.display_message().to_string(),
        "cell 2: Err(Rail) [no voltage][sample at rail]"
    );
    assert!(decoder.decode().is_err(), "two lines and no more");
}
