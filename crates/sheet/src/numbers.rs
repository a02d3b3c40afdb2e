//! Numbers as a maker reads them.

use quantity::trimmed;

/// A height or length with two decimals, as the machine's display shows it: `2.61`.
pub(crate) fn two(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" { "0.00".to_owned() } else { minus(text) }
}

/// A number with at most so many decimals: `220`, `3.175`.
pub(crate) fn short(value: f64, decimals: usize) -> String {
    minus(trimmed(value, decimals))
}

/// Minutes: `45 s`, `12 min`, `1 h 05 min`. Anything that is no time is a dash.
pub(crate) fn minutes(value: f64) -> String {
    if !value.is_finite() || !(0.0..1e7).contains(&value) {
        return "–".to_owned();
    }
    if value < 1.0 {
        return format!("{:.0} s", (value * 60.0).ceil());
    }
    let whole = value.round() as u64;
    if whole < 60 { format!("{whole} min") } else { format!("{} h {:02} min", whole / 60, whole % 60) }
}

/// A count with its noun: `1 spot`, `3 spots`.
pub(crate) fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

fn minus(text: String) -> String {
    text.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn read_well() {
        assert_eq!(two(-0.001), "0.00");
        assert_eq!(two(-0.2), "−0.20");
        assert_eq!(two(2.6149), "2.61");
        assert_eq!(minutes(0.5), "30 s");
        assert_eq!(minutes(12.4), "12 min");
        assert_eq!(minutes(64.9), "1 h 05 min");
        assert_eq!(minutes(f64::NAN), "–");
        assert_eq!(count(1, "spot", "spots"), "1 spot");
    }
}
