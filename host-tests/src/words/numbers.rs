//! Numbers and their units.

/// Digits in groups of three.
pub(crate) fn grouped(value: u64) -> String {
    indicatif::HumanCount(value).to_string()
}

/// How many things there are, with the plural's `s` where it belongs.
pub(crate) fn counted(number: usize, thing: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{} {thing}{plural}", grouped(number as u64))
}

/// How many rows were read, and how many of them are bad.
pub(crate) fn read(rows: u64, bad: u64) -> String {
    format!("{}, {} bad", grouped(rows), grouped(bad))
}

/// Four significant figures, without an exponent.
pub(crate) fn figures(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let places = (3 - value.abs().log10().floor() as i32).clamp(0, 9) as usize;
    let text = format!("{value:.places$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A bound, rounded up to so many decimals.
pub(crate) fn rounded_up(bound: f64, decimals: i32) -> f64 {
    let steps = 10_f64.powi(decimals);
    (bound * steps).ceil() / steps
}

/// A value in words, or what stands for none.
pub(crate) fn told<T>(value: Option<T>, none: &str, words: impl FnOnce(T) -> String) -> String {
    value.map_or_else(|| none.to_owned(), words)
}

pub(crate) fn unit(unit_uv: u32) -> String {
    if unit_uv.is_multiple_of(1000) {
        format!("{} mV", unit_uv / 1000)
    } else {
        format!("{unit_uv} uV")
    }
}

pub(crate) fn yes(yes: bool) -> String {
    if yes { "yes" } else { "NO" }.to_owned()
}
