//! Costs as a table for people.

use tallyvolt_cost::energy::Charge;
use tallyvolt_cost::figure::{Costs, Figure};

use crate::words::numbers::told;
use crate::words::sheet::{self, Sheet, text_width};
use crate::words::wrapping::wrapped;

/// The usual ways that ratios are taken against, and their headings.
const AGAINST: [(&str, &str); 4] = [
    ("Rust f32", "Rust f32"),
    ("Rust u32 division", "Rust u32 /"),
    ("C f32", "C f32"),
    ("C u32 division", "C u32 /"),
];

/// Jobs down, cores across: mean cycles or instructions, and of a load the flash of loading and converting. A cell has Rust's portable
/// code, its kernel and emitted C, as far as there are such.
pub(crate) fn overview(cores: &[Costs]) -> Sheet {
    let jobs = jobs(cores, |figure| {
        let shown = ["divided", "supply", "reading", "load"].contains(&&*figure.task);
        shown && figure.promised
    });
    let heads = cores
        .iter()
        .map(|costs| format!(" | >{}, {}", costs.core, costs.amount));
    let mut table = Sheet::new(&format!("job{}", heads.collect::<String>()), 1);
    for job in jobs {
        let cells = cores.iter().map(|costs| {
            let of = |figure: &&Figure| figure.what == job;
            let cells: Vec<String> = costs.figures.iter().filter(of).map(cell).collect();
            cells.join(", ")
        });
        table.row(std::iter::once(job.to_owned()).chain(cells));
    }
    table
}

/// What loading a record takes, for the front ends that Rust and C both have.
pub(crate) fn loads(cores: &[Costs]) -> Sheet {
    let mut table = Sheet::new(
        "load a record, then convert | core | by | >flash B | >RAM B | >stack B | >most",
        3,
    );
    let of = |figure: &Figure| figure.task == "load" && figure.origin == "portable";
    for job in jobs(cores, of) {
        let (name, _) = job.split_once(',').unwrap_or((job, ""));
        for costs in cores {
            for figure in costs.figures.iter().filter(|figure| figure.what == job) {
                table.row([
                    name.to_owned(),
                    costs.core.clone(),
                    figure.origin.clone(),
                    figure.flash.to_string(),
                    figure.ram.to_string(),
                    figure.stack.to_string(),
                    format!("{} {}", figure.max, costs.amount),
                ]);
            }
        }
    }
    table
}

/// The jobs of some figures, each once.
fn jobs(cores: &[Costs], of: impl Fn(&Figure) -> bool) -> Vec<&str> {
    let mut jobs: Vec<&str> = Vec::new();
    for figure in cores.iter().flat_map(|costs| &costs.figures) {
        if of(figure) && !jobs.contains(&&*figure.what) {
            jobs.push(&figure.what);
        }
    }
    jobs
}

fn cell(figure: &Figure) -> String {
    let amount = if figure.task == "load" {
        format!("{} B", figure.flash)
    } else {
        format!("{:.0}", figure.mean)
    };
    match &*figure.origin {
        "portable" => amount,
        "arch" => format!("kernel {amount}"),
        _ => format!("C {amount}"),
    }
}

/// What the headings mean.
const WORDS: &str = "by: portable Rust, Rust for this core alone (arch), the C that `emit` writes, or the usual ways that are \
    compared (rust, c); flash, RAM, stack: bytes it needs; div: divisions that are linked; counts: how many were answered and \
    compared with the exact model; x ...: how many times longer that usual way takes";

/// The table of one core, for a terminal.
pub fn table(costs: &Costs) -> String {
    let width = text_width();
    let words = wrapped(WORDS, 2, width);
    described(costs, width, &format!("{}{words}", sheet(costs).fitted()))
}

/// The same for a page: one Markdown table, as wide as it is.
pub fn markdown(costs: &Costs) -> String {
    described(costs, usize::MAX, &sheet(costs).markdown())
}

fn sheet(costs: &Costs) -> Sheet {
    let measured = |what: &str| {
        let mut figures = costs.figures.iter();
        figures.any(|figure| costs.usual(&figure.task, what).is_some())
    };
    let against: Vec<(&str, &str)> = AGAINST
        .into_iter()
        .filter(|(what, _)| measured(what))
        .collect();
    let headings = against
        .iter()
        .map(|(_, heading)| format!(" | >x {heading}"));
    let mut table = Sheet::new(
        &format!(
            "function | by | >{} min/mean/max | >flash B | >RAM B | >stack B | >div | >counts | >wrong{}",
            costs.amount,
            headings.collect::<String>()
        ),
        2,
    );
    for figure in &costs.figures {
        let times = against.iter().map(|(what, _)| {
            told(costs.usual(&figure.task, what), "", |mean| {
                format!("{:.1}", mean / figure.mean)
            })
        });
        table.row(row(figure).into_iter().chain(times));
    }
    table
}

/// A table with what it was measured by, and what was found besides.
fn described(costs: &Costs, width: usize, table: &str) -> String {
    let broken: String = costs
        .figures
        .iter()
        .filter(|figure| figure.promised && !figure.broken_rules.is_empty())
        .map(|figure| {
            format!(
                "BROKEN: {} ({}): {}\n",
                figure.what,
                figure.origin,
                figure.broken_rules.join(", ")
            )
        })
        .collect();
    let (besides, wrong) = costs.checked_besides;
    let compilers = if costs.c.is_empty() {
        costs.rust.clone()
    } else {
        format!("{}; {}", costs.rust, costs.c)
    };
    let basis = wrapped(&format!("{}: {}", costs.core, costs.basis), 2, width);
    let built = wrapped(&format!("built by {compilers}"), 2, width);
    format!(
        "{basis}\n{built}\n\n{table}\n\n{broken}{besides} further answers, faults told apart, were compared: {wrong} wrong.\n"
    )
}

fn row(figure: &Figure) -> [String; 9] {
    [
        figure.what.clone(),
        figure.origin.clone(),
        format!("{}/{:.1}/{}", figure.min, figure.mean, figure.max),
        figure.flash.to_string(),
        figure.ram.to_string(),
        figure.stack.to_string(),
        figure.divisions.to_string(),
        if figure.step == 1 {
            figure.counts.to_string()
        } else {
            format!("{} (every {}.)", figure.counts, figure.step)
        },
        figure.wrong.to_string(),
    ]
}

/// The charges of a front end's readings.
pub fn charges(charges: &[Charge]) -> String {
    let header =
        "core | function | >us a reading | >nC a reading | >uA on average | >uA with sleep";
    let rows = charges.iter().map(|charge| {
        [
            charge.core.clone(),
            charge.what.clone(),
            format!("{:.3}", charge.microseconds),
            format!("{:.4}", charge.nanocoulombs),
            format!("{:.6}", charge.conversions_ua),
            told(charge.average_ua, "", |ua| format!("{ua:.4}")),
        ]
    });
    let table = sheet::table(header, 2, rows);
    let wholes = wholes(charges);
    format!("charge of the arithmetic alone, over the sleep current:\n{table}{wholes}")
}

/// The readings with their samples; nothing where the file does not say how long the converter takes.
fn wholes(charges: &[Charge]) -> String {
    let header = "core | function | >us of the converter | >us of the function | >share of the time | >nC a reading";
    let rows = charges.iter().filter_map(|charge| {
        let whole = charge.whole.as_ref()?;
        Some([
            charge.core.clone(),
            charge.what.clone(),
            format!("{:.1}", whole.converter_microseconds),
            format!("{:.3}", charge.microseconds),
            format!("{:.2} %", whole.share_percent),
            format!("{:.1}", whole.nanocoulombs),
        ])
    });
    let rows: Vec<_> = rows.collect();
    if rows.is_empty() {
        return String::new();
    }
    let table = sheet::table(header, 2, rows);
    format!(
        "\na reading with its samples, the core running all the while, over the sleep current; what converter and reference draw comes on \
         top:\n{table}"
    )
}

/// The `[measured]` tables that `compare` reads from a front-end file: what a module's calibrated conversion takes at most.
/// Nothing for a core whose instructions are counted and not its cycles.
pub fn measured_tables(costs: &Costs) -> String {
    if costs.amount != "cycles" {
        return String::new();
    }
    costs
        .figures
        .iter()
        .filter(|figure| ["divided", "supply"].contains(&&*figure.task))
        .filter(|figure| figure.what.ends_with("calibrated"))
        .map(|figure| {
            format!(
                "[measured]  # {}, {}\ncore = \"{}\"\ncycles = {}\nflash_bytes = {}\n\n",
                figure.what, figure.origin, costs.core, figure.max, figure.flash
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use tallyvolt_cost::chip::Chip;
    use tallyvolt_cost::energy::{Charge, Whole};
    use tallyvolt_cost::recorded::read;

    use super::{charges, loads, overview};
    use crate::words::numbers::grouped;

    #[test]
    fn a_reading_is_said_whole_where_its_samples_are_known() {
        let mut charge = Charge {
            what: "hut (reading, arch)".to_owned(),
            core: "avr".to_owned(),
            microseconds: 84.0,
            nanocoulombs: 268.8,
            conversions_ua: 0.2688,
            average_ua: None,
            whole: None,
        };
        let without = charges(std::slice::from_ref(&charge));
        assert!(!without.contains("a reading with its samples"), "{without}");
        charge.whole = Some(Whole {
            converter_microseconds: 3744.0,
            share_percent: 100.0 * 84.0 / 3828.0,
            nanocoulombs: 12249.6,
        });
        let with = charges(&[charge]);
        for word in [
            "a reading with its samples",
            "3744.0",
            "84.000",
            "2.19 %",
            "12249.6",
        ] {
            assert!(with.contains(word), "{word}: {with}");
        }
    }

    #[test]
    fn the_documentation_shows_the_committed_figures() {
        let page = include_str!("../../../docs/small-cores.md");
        let cores = Chip::ALL.map(|chip| read(chip).expect("the committed figures"));
        for costs in &cores {
            assert!(costs.hold(), "{}", costs.core);
            assert!(page.contains(&costs.rust), "{}", costs.core);
            assert!(page.contains(&costs.c), "{}", costs.core);
        }
        for table in [overview(&cores), loads(&cores)] {
            assert!(
                page.contains(table.markdown().trim()),
                "{}",
                table.markdown()
            );
        }
        // The whole readings of "What share of a reading it is", at 8 MHz.
        let avr = cores.iter().find(|costs| costs.core == "avr");
        let whole = avr
            .iter()
            .flat_map(|costs| &costs.figures)
            .filter(|figure| {
                figure.what == "hut-divided-thermistor, whole reading of a buffer of 16"
                    && figure.origin != "portable"
            });
        let microseconds: Vec<String> = whole
            .map(|figure| format!("| 3744.0 | {:.3} |", figure.mean / 8.0))
            .collect();
        assert_eq!(microseconds.len(), 2);
        for cells in microseconds {
            assert!(page.contains(&cells), "{cells}");
        }
        let answers: u64 = cores
            .iter()
            .map(|costs| {
                let promised = costs.figures.iter().filter(|figure| figure.promised);
                costs.checked_besides.0 + promised.map(|figure| figure.counts).sum::<u64>()
            })
            .sum();
        assert!(page.contains(&format!("{} answers", grouped(answers))));
    }
}
