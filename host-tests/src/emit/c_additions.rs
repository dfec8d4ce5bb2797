//! A line's value for AVR without a multiplier: its constants as additions and halvings, in the words of `c/product_adds.h`.

use tallyvolt::LineConstants;

/// Bits that one accumulator takes.
const HALF: u32 = 16;

/// The statements that return `(M * position + B) >> S`, for positions of 16 bits and an S of at most 32.
///
/// M and B fall into three parts: whole steps of the value, the 16 places below, and what lies below those. The two lower parts are
/// halved away one after the other; a carry between them is one step of the value.
pub(super) fn value(line: &LineConstants) -> String {
    let shift = u32::from(line.shift);
    let low = shift.saturating_sub(HALF);
    let part = |value: u128, from: u32, to: u32| (value >> from) & ((1 << (to - from)) - 1);
    let mut steps = Vec::new();
    if low > 0 {
        steps.extend(halvings(part(line.factor, 0, low), low));
        steps.push("\"add %A[v], %A[b]\\n\\tadc %B[v], %B[b]\\n\\tadc %[c], r1\\n\\t\"".to_owned());
    }
    steps.extend(halvings(part(line.factor, low, shift), shift - low));
    steps.extend(wholes(line.factor >> shift));
    let rows: Vec<String> = steps.chunks(10).map(|row| row.join(" ")).collect();
    let (first, second) = (part(line.addend, 0, low), part(line.addend, low, shift));
    let start = if low > 0 { first } else { second };
    let (declared, written, read) = if low > 0 {
        (
            "    uint8_t carry = 0;\n".to_owned(),
            ", [c] \"+&r\"(carry)",
            format!(" : [b] \"r\"(UINT16_C({second}))"),
        )
    } else {
        (String::new(), "", String::new())
    };
    let whole = match line.addend >> shift {
        0 => String::new(),
        whole => format!(" + UINT16_C({whole})"),
    };
    let carry = if low > 0 { " + carry" } else { "" };
    format!(
        "    uint16_t value = UINT16_C({start});
{declared}    __asm__({}
            : [v] \"+&r\"(value), [p] \"+&r\"(position){written}{read});
    return (uint16_t)(value{whole}{carry});
",
        rows.join("\n            "),
    )
}

/// A factor's bits, the lowest first.
fn halvings(factor: u128, bits: u32) -> impl Iterator<Item = String> {
    (0..bits).map(move |bit| format!("FRONT_END_{}", factor >> bit & 1))
}

/// A factor of whole steps.
fn wholes(mut factor: u128) -> Vec<String> {
    let mut steps = Vec::new();
    while factor > 0 {
        if factor & 1 != 0 {
            steps.push("FRONT_END_PLUS".to_owned());
        }
        factor >>= 1;
        if factor > 0 {
            steps.push("FRONT_END_TWICE".to_owned());
        }
    }
    steps
}
