//! What a varied value may be: listed values, or a distribution with its inverse. In: the plan's object for one variable.
//! Out: values from quantiles u in (0, 1) and normal scores z.

use super::keys;
use crate::device::node::{Node, Object, Read};
use modalith_solver::process::{Distribution, Draw, Figures, Values, evenly_spaced, listed};
use serde_json::Value;

/// How a value varies.
#[derive(Clone, Debug, PartialEq)]
pub enum Variation {
    /// One of these, each as likely.
    Listed(Vec<Value>),
    /// A number with a distribution.
    Distributed(Distribution),
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
            "list" => list(node),
            "range" => range(&node.object(&keys::RANGE)?),
            "normal" => {
                let o = node.object(&keys::NORMAL)?;
                Ok(Self::Distributed(Distribution::Normal {
                    mean: number(&o, "mean")?,
                    deviation: positive(&o, "deviation")?,
                }))
            }
            "lognormal" => {
                let o = node.object(&keys::LOGNORMAL)?;
                Ok(Self::Distributed(Distribution::Lognormal {
                    median: positive(&o, "median")?,
                    log_deviation: positive(&o, "log_deviation")?,
                }))
            }
            "uniform" => {
                let o = node.object(&keys::UNIFORM)?;
                let (low, high) = (number(&o, "low")?, number(&o, "high")?);
                ordered(&o, low < high)?;
                Ok(Self::Distributed(Distribution::Uniform { low, high }))
            }
            _ => {
                let o = node.object(&keys::TRIANGULAR)?;
                let (low, peak, high) = (number(&o, "low")?, number(&o, "peak")?, number(&o, "high")?);
                ordered(&o, low < high && low <= peak && peak <= high)?;
                Ok(Self::Distributed(Distribution::Triangular { low, peak, high }))
            }
        }
    }

    /// The value that a draw takes.
    pub fn at(&self, draw: Draw) -> Value {
        match self {
            Self::Listed(values) => values[listed(draw.quantile, values.len())].clone(),
            Self::Distributed(distribution) => Value::from(distribution.at(draw.quantile, draw.score)),
        }
    }

    /// A value in the middle of what it may be.
    pub fn middle(&self) -> Value {
        self.at(Draw { quantile: 0.5, score: 0.0 })
    }

    /// How many values are listed; one of a distribution.
    pub fn values(&self) -> usize {
        match self {
            Self::Listed(values) => values.len(),
            Self::Distributed(_) => 1,
        }
    }

    /// The value at a place of the list; the middle of a distribution, which the reader lets into no grid.
    pub fn listed(&self, place: usize) -> Value {
        match self {
            Self::Listed(values) => values[place].clone(),
            Self::Distributed(_) => self.middle(),
        }
    }

    /// Mean and standard deviation; `None` for a list that holds something else than numbers.
    pub fn moments(&self) -> Option<(f64, f64)> {
        match self {
            Self::Listed(values) => {
                let numbers: Vec<f64> = values.iter().map(Value::as_f64).collect::<Option<_>>()?;
                Figures::of(&numbers, Values::Population).map(|f| (f.mean, f.deviation))
            }
            Self::Distributed(distribution) => Some(distribution.moments()),
        }
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

fn list(node: &Node) -> Read<Variation> {
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
    Ok(Variation::Listed(evenly_spaced([from, to], count as usize).into_iter().map(Value::from).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every value of a list as likely: (1 + 2 + 6)/3 = 3 and √((4 + 1 + 9)/3), by hand.
    #[test]
    fn a_list_has_the_moments_of_its_values() {
        let (mean, deviation) = Variation::Listed([1.0, 2.0, 6.0].map(Value::from).to_vec()).moments().unwrap();
        assert!(
            (mean - 3.0).abs() < 1e-12 && (deviation - (14.0_f64 / 3.0).sqrt()).abs() < 1e-12,
            "{mean} {deviation}"
        );
        assert!(Variation::Listed(vec![Value::from("silicon")]).moments().is_none());
    }
}
