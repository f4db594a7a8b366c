//! Numbers for people: grouping, rounding and units, in one place.
//!
//! In: SI values, or µm where the name says so. Out: text. Digits are grouped by threes with a space (SI brochure, 9th
//! edition, 5.4.4), the decimal sign is a point.

/// Space between groups in HTML: narrow and without a break (U+202F).
pub const NARROW_SPACE: char = '\u{202f}';

/// A number with so many decimals, its whole part grouped by threes.
///
/// ```
/// use modalith::output::units::grouped;
/// assert_eq!(grouped(14812.04, 1, ' '), "14 812.0");
/// assert_eq!(grouped(-1234567.0, 0, ' '), "-1 234 567");
/// ```
pub fn grouped(value: f64, decimals: usize, space: char) -> String {
    let text = format!("{value:.decimals$}");
    let (sign, rest) = text.strip_prefix('-').map_or(("", text.as_str()), |r| ("-", r));
    if !rest.starts_with(|c: char| c.is_ascii_digit()) {
        return text;
    }
    let (whole, fraction) = rest.split_once('.').map_or((rest, None), |(w, f)| (w, Some(f)));
    // "-0.0" says nothing that "0.0" does not.
    let zero = rest.bytes().all(|b| b == b'0' || b == b'.');
    let mut out = String::from(if zero { "" } else { sign });
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i) % 3 == 0 {
            out.push(space);
        }
        out.push(digit);
    }
    if let Some(fraction) = fraction {
        out.push('.');
        out.push_str(fraction);
    }
    out
}

/// A frequency in Hz to six digits, at most four decimals, without its unit.
///
/// ```
/// use modalith::output::units::frequency;
/// assert_eq!(frequency(8904.126, ' '), "8 904.13");
/// assert_eq!(frequency(1_234_567.8, ' '), "1 234 568");
/// ```
pub fn frequency(hz: f64, space: char) -> String {
    grouped(hz, decimals_for(hz, 6).min(4), space)
}

/// A figure with so many decimals, or fewer where its error bar supports no more, and the bar to the same place: no more than two
/// significant digits, rounded up. Without a bar that says something the figure alone.
///
/// ```
/// use modalith::output::units::to_its_bar;
/// assert_eq!(to_its_bar(8904.126, 1.23, 2), ["8 904.1", "1.3"]);
/// assert_eq!(to_its_bar(57581.6, 163.0, 1), ["57 580", "170"]);
/// assert_eq!(to_its_bar(12930.52, 0.0034, 1), ["12 930.5", "0.1"]);
/// ```
pub fn to_its_bar(value: f64, bar: f64, decimals: usize) -> [String; 2] {
    if !(bar > 0.0 && bar.is_finite()) {
        return [grouped(value, decimals, ' '), String::new()];
    }
    // 9.95 is rounded up to 10, which has its second digit one place higher.
    let place = ((bar / 0.99).log10().floor() as i32 - 1).max(-(decimals as i32));
    let unit = 10f64.powi(place);
    let bar = (bar / unit * (1.0 - 1e-9)).ceil() * unit;
    let shown = |x: f64| grouped(if place > 0 { (x / unit).round() * unit } else { x }, (-place).max(0) as usize, ' ');
    [shown(value), shown(bar)]
}

/// A frequency for a screen and its error bar in Hz, where there is one.
pub fn frequency_to_its_bar(hz: f64, bar_hz: Option<f64>) -> [String; 2] {
    to_its_bar(hz, bar_hz.unwrap_or(0.0), decimals_for(hz, 6).min(4))
}

/// A frequency in kHz or MHz where that is shorter, to four digits, with its unit.
///
/// ```
/// use modalith::output::units::short_frequency;
/// assert_eq!(short_frequency(40_000.0), "40 kHz");
/// assert_eq!(short_frequency(52_343.0), "52.34 kHz");
/// assert_eq!(short_frequency(999.0), "999 Hz");
/// ```
pub fn short_frequency(hz: f64) -> String {
    with_prefix(hz, &[(1e9, "GHz"), (1e6, "MHz"), (1e3, "kHz"), (1.0, "Hz")], 4)
}

/// A mass in a unit near its size, to three digits.
///
/// ```
/// assert_eq!(modalith::output::units::mass(1.234e-9), "1.23 µg");
/// ```
pub fn mass(kg: f64) -> String {
    with_prefix(kg, &[(1.0, "kg"), (1e-3, "g"), (1e-6, "mg"), (1e-9, "µg"), (1e-12, "ng"), (1e-15, "pg")], 3)
}

/// A length given in µm, in nm, µm or mm, to three digits.
///
/// ```
/// use modalith::output::units::length_um;
/// assert_eq!(length_um(0.001), "1 nm");
/// assert_eq!(length_um(1250.0), "1.25 mm");
/// ```
pub fn length_um(um: f64) -> String {
    with_prefix(um, &[(1e3, "mm"), (1.0, "µm"), (1e-3, "nm")], 3)
}

/// A share as whole percent; "under 1 %" rather than a false zero.
pub fn percent(share: f64) -> String {
    if share > 0.0 && share < 0.005 { "under 1 %".to_owned() } else { format!("{:.0} %", 100.0 * share + 0.0) }
}

/// A share in percent with two digits below a tenth, for what is held against a limit.
///
/// ```
/// use modalith::output::units::small_percent;
/// assert_eq!([0.42, 0.0132, 0.00167, 0.0].map(small_percent), ["42 %", "1.3 %", "0.17 %", "0 %"]);
/// ```
pub fn small_percent(share: f64) -> String {
    if share <= 0.0 || share >= 0.0995 || !share.is_finite() {
        return format!("{:.0} %", 100.0 * share + 0.0);
    }
    let digits = (1.0 - (100.0 * share).log10().floor()).clamp(0.0, 6.0) as usize;
    let text = format!("{:.digits$}", 100.0 * share);
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{text} %")
}

/// A duration in seconds, in minutes when long.
///
/// ```
/// use modalith::output::units::duration;
/// assert_eq!(duration(2.84), "2.8 s");
/// assert_eq!(duration(0.0412), "0.04 s");
/// assert_eq!(duration(132.0), "2 min 12 s");
/// ```
pub fn duration(s: f64) -> String {
    if s < 1.0 {
        format!("{s:.2} s")
    } else if s < 100.0 {
        format!("{s:.1} s")
    } else {
        let whole = s.round();
        format!("{:.0} min {:.0} s", (whole / 60.0).floor(), whole % 60.0)
    }
}

/// Bytes in MB (10⁶) or GB, to three digits.
pub fn bytes(n: u64) -> String {
    with_prefix(n as f64, &[(1e9, "GB"), (1e6, "MB"), (1e3, "kB"), (1.0, "B")], 3)
}

/// Decimals that leave so many significant digits.
pub fn decimals_for(value: f64, digits: i32) -> usize {
    let size = value.abs();
    if !size.is_finite() || size <= 0.0 {
        return 0;
    }
    (digits - 1 - size.log10().floor() as i32).max(0) as usize
}

/// A value in the largest unit that does not exceed it (the smallest unit for less), trailing zeros dropped.
fn with_prefix(value: f64, units: &[(f64, &str)], digits: i32) -> String {
    let Some(&(size, name)) = units.iter().find(|(size, _)| value.abs() >= *size * (1.0 - 1e-9)).or(units.last())
    else {
        return value.to_string();
    };
    let scaled = value / size;
    let decimals = decimals_for(scaled, digits).min(4);
    let text = format!("{scaled:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{text} {name}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_at_every_length() {
        for (value, text) in [(0.0, "0"), (-0.2, "0"), (999.0, "999"), (1000.0, "1 000"), (123456.0, "123 456")] {
            assert_eq!(grouped(value, 0, ' '), text);
        }
        assert_eq!(grouped(f64::NAN, 2, ' '), "NaN");
        assert_eq!(grouped(-0.04, 1, ' '), "0.0");
        assert_eq!(grouped(1e4, 2, NARROW_SPACE), "10\u{202f}000.00");
    }

    #[test]
    fn digits_follow_the_bar() {
        for (value, bar, decimals, text) in [
            (19_804.52, 3.51, 1, ["19 804.5", "3.6"]),
            (19_804.52, 16.0, 1, ["19 805", "16"]),
            (19_804.52, 0.04, 1, ["19 804.5", "0.1"]),
            (19_804.52, 2345.0, 1, ["19 800", "2 400"]),
            (19_804.52, 9.95, 1, ["19 805", "10"]),
            (19_804.52, 99.5, 1, ["19 800", "100"]),
            (0.8194, 0.0212, 3, ["0.819", "0.022"]),
            (0.0653, 0.534, 4, ["0.07", "0.54"]),
            (-109.7, 668.0, 0, ["-110", "670"]),
            (3.2, 668.0, 2, ["0", "670"]),
            (12.3, 0.0, 1, ["12.3", ""]),
            (12.3, f64::NAN, 1, ["12.3", ""]),
            (12.3, f64::INFINITY, 1, ["12.3", ""]),
        ] {
            assert_eq!(to_its_bar(value, bar, decimals), text, "{value} {bar}");
        }
        assert_eq!(frequency_to_its_bar(14812.04, Some(2.6)), ["14 812.0", "2.6"]);
        assert_eq!(frequency_to_its_bar(14812.04, None), ["14 812.0", ""]);
    }

    #[test]
    fn digits_follow_size() {
        assert_eq!(frequency(14812.04, ' '), "14 812.0");
        assert_eq!(frequency(0.0, ' '), "0");
        assert_eq!(frequency(3.2e-5, ' '), "0.0000");
        assert_eq!(frequency(12.345678, ' '), "12.3457");
        assert_eq!(mass(0.0), "0 pg");
        assert_eq!(length_um(20.0), "20 µm");
        assert_eq!(length_um(0.0), "0 nm");
        assert_eq!(bytes(412_345_678), "412 MB");
        assert_eq!(percent(0.98), "98 %");
        assert_eq!(percent(0.001), "under 1 %");
        assert_eq!(duration(119.7), "2 min 0 s");
    }
}
