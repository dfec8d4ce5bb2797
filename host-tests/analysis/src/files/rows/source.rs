//! Bytes of a file as UTF-8: unpacked where they are gzip'd, and converted as their byte order mark says.

use std::io::{self, BufRead, BufReader, Cursor, Read};

use encoding_rs_io::DecodeReaderBytesBuilder;
use flate2::bufread::MultiGzDecoder;

/// Bytes read at once.
pub const BUFFER: usize = 1 << 16;
/// First bytes of a gzip stream (RFC 1952).
const GZIP: [u8; 2] = [0x1F, 0x8B];

/// UTF-8 from any bytes: gzip'd or plain; UTF-8 with or without a byte order mark, UTF-16 with one. Bytes that belong to no
/// character stay as they are in UTF-8, and become U+FFFD from UTF-16.
///
/// # Errors
/// The source's.
pub fn decoded<'a>(source: impl Read + 'a) -> io::Result<Box<dyn Read + 'a>> {
    let mut buffered = BufReader::with_capacity(BUFFER, source);
    let packed = buffered.fill_buf()?.starts_with(&GZIP);
    let mut builder = DecodeReaderBytesBuilder::new();
    builder.utf8_passthru(true).strip_bom(true);
    Ok(if packed {
        Box::new(builder.build(MultiGzDecoder::new(buffered)))
    } else {
        Box::new(builder.build(buffered))
    })
}

/// The first bytes of a source, up to a number, and a source that gives all of them and the rest. An error on the way comes
/// where it would have come.
pub fn sampled<'a>(mut source: Box<dyn Read + 'a>, bytes: u64) -> (Vec<u8>, Box<dyn Read + 'a>) {
    let mut sample = Vec::new();
    let broken = source.by_ref().take(bytes).read_to_end(&mut sample).err();
    let rest: Box<dyn Read + 'a> = match broken {
        Some(error) => Box::new(Broken(Some(error))),
        None => source,
    };
    (sample.clone(), Box::new(Cursor::new(sample).chain(rest)))
}

/// A source that gives an error and then ends.
struct Broken(Option<io::Error>);

impl Read for Broken {
    fn read(&mut self, _buffer: &mut [u8]) -> io::Result<usize> {
        self.0.take().map_or(Ok(0), Err)
    }
}

#[cfg(test)]
mod tests {
    use super::{decoded, sampled};
    use std::io::Read;

    #[test]
    fn every_byte_order_mark_gives_the_same_text() -> Result<(), Box<dyn std::error::Error>> {
        let text = "Modul µ\n1,5 V\n";
        let utf16 = |order: fn(u16) -> [u8; 2]| -> Vec<u8> {
            std::iter::once(0xFEFF)
                .chain(text.encode_utf16())
                .flat_map(order)
                .collect()
        };
        for bytes in [
            text.as_bytes().to_vec(),
            [&[0xEF, 0xBB, 0xBF], text.as_bytes()].concat(),
            utf16(u16::to_le_bytes),
            utf16(u16::to_be_bytes),
        ] {
            let (sample, mut all) = sampled(decoded(&*bytes)?, 5);
            assert_eq!(sample, b"Modul");
            let mut read = String::new();
            all.read_to_string(&mut read)?;
            assert_eq!(read, text);
        }
        Ok(())
    }
}
