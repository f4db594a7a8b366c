//! What a varied value may be: listed values, or a distribution with its inverse. In: the plan's object for one variable.
//! Out: values from quantiles u in (0, 1) and normal scores z.

use super::keys;
use crate::device::node::{Node, Object, Read};
use serde_json::Value;
use statrs::distribution::{ContinuousCDF, Normal};

/// How a value varies.
#[derive(Clone, Debug, PartialEq)]
pub enum Variation {
    /// One of these, each as likely.
    Listed(Vec<Value>),
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        deviation: f64,
    },
    /// The logarithm is normal.
    Lognormal {
        /// Median.
        median: f64,
        /// Standard deviation of the natural logarithm.
        log_deviation: f64,
    },
    /// Even between two ends.
    Uniform {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Rises linearly from the lower end to a peak and falls linearly to the upper end.
    Triangular {
        /// Lower end.
        low: f64,
        /// Most likely value.
        peak: f64,
        /// Upper end.
        high: f64,
    },
}

/// The normal score of a quantile: the inverse of the standard normal distribution.
pub fn score(u: f64) -> f64 {
    standard().map_or(0.0, |n| n.inverse_cdf(u))
}

/// The quantile of a normal score.
pub fn quantile(z: f64) -> f64 {
    standard().map_or(0.5, |n| n.cdf(z))
}

fn standard() -> Option<Normal> {
    Normal::new(0.0, 1.0).ok()
}

impl Variation {
    /// Reads it.
    ///
    /// # Errors
    /// For anything but one of the known kinds with sound numbers.
    pub fn read(node: &Node) -> Read<Self> {
        let hint = "write {\"list\": [1, 2]}, {\"range\": {\"from\": 1, \"to\": 2, \"count\": 5}}, {\"normal\": {\"mean\": 1, \
                    \"deviation\": 0.1}}, {\"uniform\": {\"low\": 0, \"high\": 1}}, …";
        let o = node.object(&keys::VARIABLE)?;
        let members: Vec<(&str, Node)> = o.members().collect();
        let [(kind, node)] = members.as_slice() else {
            return Err(node.error(format!("holds {} kinds of variation; one is needed", members.len()), hint));
        };
        match *kind {
            "list" => listed(node),
            "range" => range(&node.object(&keys::RANGE)?),
            "normal" => {
                let o = node.object(&keys::NORMAL)?;
                Ok(Self::Normal { mean: number(&o, "mean")?, deviation: positive(&o, "deviation")? })
            }
            "lognormal" => {
                let o = node.object(&keys::LOGNORMAL)?;
                Ok(Self::Lognormal { median: positive(&o, "median")?, log_deviation: positive(&o, "log_deviation")? })
            }
            "uniform" => {
                let o = node.object(&keys::UNIFORM)?;
                let (low, high) = (number(&o, "low")?, number(&o, "high")?);
                ordered(&o, low < high)?;
                Ok(Self::Uniform { low, high })
            }
            _ => {
                let o = node.object(&keys::TRIANGULAR)?;
                let (low, peak, high) = (number(&o, "low")?, number(&o, "peak")?, number(&o, "high")?);
                ordered(&o, low < high && low <= peak && peak <= high)?;
                Ok(Self::Triangular { low, peak, high })
            }
        }
    }

    /// The value at a quantile u, whose normal score is z.
    pub fn at(&self, u: f64, z: f64) -> Value {
        match self {
            Self::Listed(values) => {
                let i = ((u * values.len() as f64) as usize).min(values.len() - 1);
                values[i].clone()
            }
            Self::Normal { mean, deviation } => Value::from(mean + deviation * z),
            Self::Lognormal { median, log_deviation } => Value::from(median * (log_deviation * z).exp()),
            Self::Uniform { low, high } => Value::from(low + (high - low) * u),
            Self::Triangular { low, peak, high } => {
                let (whole, left) = (high - low, peak - low);
                Value::from(if u * whole < left {
                    low + (u * whole * left).sqrt()
                } else {
                    high - ((1.0 - u) * whole * (high - peak)).sqrt()
                })
            }
        }
    }

    /// Mean and standard deviation; `None` for a list that holds something else than numbers.
    pub fn moments(&self) -> Option<(f64, f64)> {
        Some(match self {
            Self::Listed(values) => {
                let numbers: Vec<f64> = values.iter().map(Value::as_f64).collect::<Option<_>>()?;
                let mean = numbers.iter().sum::<f64>() / numbers.len() as f64;
                let square = numbers.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / numbers.len() as f64;
                (mean, square.sqrt())
            }
            Self::Normal { mean, deviation } => (*mean, *deviation),
            Self::Lognormal { median, log_deviation: s } => {
                let mean = median * (0.5 * s * s).exp();
                (mean, mean * (s * s).exp_m1().sqrt())
            }
            Self::Uniform { low, high } => (0.5 * (low + high), (high - low) / 12f64.sqrt()),
            Self::Triangular { low: a, peak: c, high: b } => {
                ((a + b + c) / 3.0, ((a * a + b * b + c * c - a * b - a * c - b * c) / 18.0).sqrt())
            }
        })
    }

    /// Whether every value is a number.
    pub fn is_number(&self) -> bool {
        self.moments().is_some()
    }
}

fn number(o: &Object, key: &str) -> Read<f64> {
    o.need(key, &format!("write \"{key}\": 1.0"))?.number("a number")
}

fn positive(o: &Object, key: &str) -> Read<f64> {
    o.need(key, &format!("write \"{key}\": 1.0"))?.positive("a number")
}

fn ordered(o: &Object, right: bool) -> Read<()> {
    if right {
        Ok(())
    } else {
        Err(o.node().error("has no length or its ends in the wrong order", "the lower end comes first"))
    }
}

fn listed(node: &Node) -> Read<Variation> {
    let values = node.array("values")?;
    if values.is_empty() {
        return Err(node.error("is empty", "list at least one value"));
    }
    let plain = |n: &Node| match n.value() {
        Value::Object(_) | Value::Null => Err(n.error("cannot be varied", "list numbers, texts or arrays")),
        value => Ok(value.clone()),
    };
    values.iter().map(plain).collect::<Read<_>>().map(Variation::Listed)
}

fn range(o: &Object) -> Read<Variation> {
    let (from, to) = (number(o, "from")?, number(o, "to")?);
    let count = o.need("count", "write \"count\": 5, how many values with both ends")?.whole(2, 1_000_000)?;
    ordered(o, from < to)?;
    let step = (to - from) / (count - 1) as f64;
    Ok(Variation::Listed(
        (0..count).map(|i| Value::from(if i + 1 == count { to } else { from + step * i as f64 })).collect(),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Means and deviations over a fine set of quantiles against the closed forms.
    #[test]
    fn the_inverses_have_the_stated_moments() {
        let all = [
            Variation::Normal { mean: 20.0, deviation: 0.2 },
            Variation::Lognormal { median: 3.0, log_deviation: 0.2 },
            Variation::Uniform { low: -1.0, high: 2.0 },
            Variation::Triangular { low: 0.0, peak: 0.25, high: 2.0 },
            Variation::Listed([1.0, 2.0, 6.0].map(Value::from).to_vec()),
        ];
        let n = 300_000;
        for v in all {
            let values: Vec<f64> = (0..n)
                .map(|i| (f64::from(i) + 0.5) / f64::from(n))
                .map(|u| v.at(u, score(u)).as_f64().unwrap())
                .collect();
            let mean = values.iter().sum::<f64>() / f64::from(n);
            let deviation = (values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / f64::from(n)).sqrt();
            let (m, d) = v.moments().unwrap();
            assert!((mean - m).abs() < 1e-4 * d && (deviation / d - 1.0).abs() < 1e-4, "{v:?}: {mean} {deviation}");
        }
    }

    /// Abramowitz and Stegun 1964, table 26.1: P(1.96) = 0.975 002 104 851 8.
    #[test]
    fn normal_scores() {
        assert!((score(0.975_002_104_851_8) - 1.96).abs() < 1e-9);
        assert!((quantile(1.96) - 0.975_002_104_851_8).abs() < 1e-10);
    }
}
