//! Simulated data for measuring: `make_data batch MODULES` or `make_data log ROWS`, CSV on standard output. The front end is
//! `hut-divided-12bit`; the data is that of `harness`.

use std::io::{BufWriter, Write, stdout};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tallyvolt_harness::simulated;

fn main() -> std::io::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let what = arguments.next().unwrap_or_default();
    let number: u32 = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(10_000);
    let front_end = simulated::front_end("hut-divided-12bit");
    let mut output = BufWriter::new(stdout().lock());
    match what.as_str() {
        "batch" => output.write_all(simulated::batch(&front_end, number, 1, 1).as_bytes()),
        "log" => {
            let mut random = ChaCha8Rng::seed_from_u64(3);
            let truths: Vec<_> = (0..16).map(|_| simulated::truth(&mut random)).collect();
            writeln!(output, "time,module,count,meter_mv")?;
            for row in 0..number {
                let second = row / 16;
                let mv = 3300.0 + 100.0 * (f64::from(second) / 5000.0).sin();
                for (at, truth) in truths
                    .iter()
                    .enumerate()
                    .filter(|(at, _)| *at as u32 == row % 16)
                {
                    let count = simulated::count(&front_end, truth, mv, &mut random);
                    writeln!(output, "{second},m{at:02},{count},{mv:.2}")?;
                }
            }
            Ok(())
        }
        _ => {
            eprintln!("make_data batch MODULES | make_data log ROWS");
            std::process::exit(2)
        }
    }?;
    output.flush()
}
