//! The C header's quotients: how wide a division is needed, and the shortest that each core has.

use tallyvolt::QuotientConstants;

use super::c_rows::rows;

/// How wide the short division of a header is; none where counts or denominators are wider than any.
#[derive(Clone, Copy)]
pub(super) struct Short {
    /// Whether denominators have more than 16 bits.
    pub(super) wide: bool,
    /// Whether the drawing's K has more than 32, and so an argument of its own.
    pub(super) high: bool,
}

impl Short {
    /// Of the drawing's constants; a module's are of its widths or take the long division.
    pub(super) fn of(quotient: &QuotientConstants, rail: u32) -> Option<Self> {
        let wide = rail >> 12 != 0 || largest_denominator(quotient) >> 16 != 0;
        let fits = rail >> 16 == 0 && largest_denominator(quotient) >> 24 == 0;
        fits.then_some(Self {
            wide,
            high: wide && quotient.numerator >> 32 != 0,
        })
    }

    /// The least D that is too long for a module's short division, and for products.
    pub(super) fn end(self) -> u64 {
        if self.wide { 0x2_0000 } else { 0x1_0000 }
    }

    /// By bits for AVR, and by products for cores with a multiplier alone.
    fn division(self) -> String {
        let either = |narrow: &'static str, wide| if self.wide { wide } else { narrow };
        let wide = |text| either("", text);
        let high = |text: &'static str| if self.high { text } else { "" };
        let seeds: Vec<u32> = (32..128_u32)
            .map(|index| {
                let middle = 256 * index + 128;
                (2 * (1 << 20) + middle) / (2 * middle)
            })
            .collect();
        include_str!("c/quotient_short.h")
            .replace("/* TYPE */", either("uint16_t", "uint32_t"))
            .replace("/* ROL */", wide("rol %C[r]\\n\\t"))
            .replace("/* CPC */", wide("cpc %C[r], %C[d]\\n\\t"))
            .replace("/* SBC */", wide("sbc %C[r], %C[d]\\n\\t"))
            .replace("/* HIGH */", high(", uint16_t high"))
            .replace("/* UPPER */", high(" | (uint32_t)high << 16"))
            .replace("/* VOID */", high("    (void)high;\n"))
            .replace("/* TOP */", either("r1", "%C[d]"))
            .replace("/* ADC */", wide("adc %C[r], r1\\n\\t"))
            .replace(
                "/* ROR */",
                either("ror %B[r]\\n\\t", "lsr %C[r]\\n\\tror %B[r]\\n\\t"),
            )
            .replace("/* SEEDS */", &rows(&seeds))
            .replace("/* LEAST */", either("13", "14"))
            .replace("/* PLACES */", either("8", "9"))
            .replace("/* SCALE */", either("20", "21"))
            .replace("/* ESTIMATE */", either("12", "13"))
            .replace("/* REST */", either("rest", "(rest >> 1)"))
    }
}

/// The ways to form a quotient.
pub(super) fn quotients(quotient: &QuotientConstants, rail: u32) -> String {
    let short = Short::of(quotient, rail)
        .map_or_else(String::new, |short| format!("\n{}", short.division()));
    format!("{}{short}", include_str!("c/quotient.h"))
}

fn largest_denominator(quotient: &QuotientConstants) -> u64 {
    (u64::from(quotient.counts - 1) << quotient.step_log2) + u64::from(quotient.at_first)
}

/// The body of the drawing's conversion: one quotient, in the way that the core takes.
pub(super) fn division(quotient: &QuotientConstants, rail: u32) -> String {
    let (k, step_log2, at_first) = (quotient.numerator, quotient.step_log2, quotient.at_first);
    // D is even: its half is what is worked with.
    let half = |places: u8| {
        format!(
            "((uint32_t)position << {}) + UINT32_C({})",
            step_log2 - 1 + places,
            u64::from(at_first / 2) << places
        )
    };
    let high = k >> 32;
    let mut ways = Vec::new();
    if let Some(short) = Short::of(quotient, rail) {
        // Where products serve, both are doubled as often as they stay in range: a small half is enlarged first.
        let fits = |places: &u8| {
            largest_denominator(quotient) << places < short.end()
                && ((k << places) + 0xFFFF) >> 32 == 0
        };
        let mut way = |cores: &str, places: u8, high: &str| {
            ways.push(format!(
                "if {cores}
    return front_end_short_division((front_end_half)({}), UINT32_C({}){high});
",
                half(places),
                (k << places) & 0xFFFF_FFFF,
            ));
        };
        let (products, bits) = (
            "FRONT_END_DIVISION == 1",
            "defined(FRONT_END_AVR) || defined(FRONT_END_AVR_ADDS)",
        );
        match (0..16).take_while(fits).last() {
            Some(0) => way(&format!("{products} || {bits}"), 0, ""),
            Some(places) => {
                way(products, places, "");
                way(bits, 0, "");
            }
            None if short.high => way(bits, 0, &format!(", UINT16_C({high})")),
            None => way(bits, 0, ""),
        }
    }
    ways.push(format!(
        "if FRONT_END_DIVISION != 0
    return (uint16_t)front_end_long_division(({}) << 1, UINT32_C({}), UINT16_C({}));
",
        half(0),
        k >> 16,
        k & 0xFFFF
    ));
    format!(
        "#{}#else
    return (uint16_t)(({} / ({}) + 1) >> 1);
#endif
",
        ways.join("#el"),
        if high == 0 {
            format!("UINT32_C({k})")
        } else {
            format!("UINT64_C({k})")
        },
        half(0),
    )
}
