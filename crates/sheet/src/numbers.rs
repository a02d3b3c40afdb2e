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

/// Whole minutes, rounded up so that nobody waits unexpectedly: the one rule by which sheet, pictures and captions tell
/// times, so that they never differ. `None` for what is no time.
fn whole_minutes(value: f64) -> Option<u64> {
    // A time that is whole but for the last digits of a sum stays what it is.
    (value.is_finite() && (0.0..1e7).contains(&value)).then(|| (value - 1e-6).ceil().max(0.0) as u64)
}

/// Minutes as one number for a column; anything that is no time is a dash.
pub(crate) fn minutes_number(value: f64) -> String {
    whole_minutes(value).map_or_else(|| "–".to_owned(), |whole| whole.to_string())
}

/// Minutes: `45 s`, `13 min`, `1 h 05 min`. Anything that is no time is a dash.
pub(crate) fn minutes(value: f64) -> String {
    let Some(whole) = whole_minutes(value) else { return "–".to_owned() };
    let seconds = (value * 60.0 - 1e-6).ceil().max(0.0) as u64;
    match whole {
        _ if seconds < 60 => format!("{seconds} s"),
        0..60 => format!("{whole} min"),
        _ => format!("{} h {:02} min", whole / 60, whole % 60),
    }
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

    /// A caption and a column of the sheet tell the same time the same.
    #[test]
    fn times_agree() {
        for tenths in 10..6000 {
            let value = f64::from(tenths) / 10.0;
            let (words, number) = (minutes(value), minutes_number(value));
            let told: u64 = match words.split(' ').collect::<Vec<_>>()[..] {
                [m, "min"] => m.parse().unwrap_or(u64::MAX),
                [h, "h", m, "min"] => h.parse::<u64>().unwrap_or(0) * 60 + m.parse::<u64>().unwrap_or(0),
                _ => u64::MAX,
            };
            assert_eq!(told.to_string(), number, "{value}");
            assert!(told as f64 >= value - 1e-6 && (told as f64) < value + 1.0);
        }
        assert_eq!(minutes_number((0..10).map(|_| 2.8).sum()), "28");
    }

    #[test]
    fn read_well() {
        assert_eq!(two(-0.001), "0.00");
        assert_eq!(two(-0.2), "−0.20");
        assert_eq!(two(2.6149), "2.61");
        assert_eq!(minutes(0.5), "30 s");
        assert_eq!(minutes(12.4), "13 min");
        assert_eq!(minutes(64.1), "1 h 05 min");
        assert_eq!(minutes(0.999), "1 min");
        assert_eq!((minutes(f64::NAN), minutes_number(-1.0)), ("–".to_owned(), "–".to_owned()));
        assert_eq!(count(1, "spot", "spots"), "1 spot");
    }
}
