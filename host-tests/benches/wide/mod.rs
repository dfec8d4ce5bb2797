//! Front ends with 2^24 counts: 14 bits, 1024 samples.

/// The text of a file in a topology, named after it.
pub fn front_end_text(topology: &str) -> String {
    let divider = match topology {
        "divided-input" => "[divider]\ntop_ohms = 24900\nbottom_ohms = 10000\n",
        _ => "",
    };
    format!(
        "name = \"wide-{topology}\"\ntopology = \"{topology}\"\n\
         [cell]\nchemistry = \"LFP\"\nmin_mv = 2000\nnominal_mv = 3200\nmax_mv = 3650\n\
         [converter]\nbits = 14\nsamples = 1024\n\
         [reference]\nmicrovolts = 1_225_000\n{divider}"
    )
}
