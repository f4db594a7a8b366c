//! Which part of the points this process does: `--shard K/N`, or what a scheduler's array job says. In: the command line and the
//! environment. Out: K and N, both from 1.

use crate::exit::CommandError;
use std::fmt;

/// Part K of N; point p is done by part p mod N, so that every part sees the whole range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shard {
    /// Which, from 1.
    pub part: u32,
    /// Of how many.
    pub of: u32,
}

impl Shard {
    /// Everything.
    pub const WHOLE: Self = Self { part: 1, of: 1 };

    /// Whether it does this point, from 0.
    pub fn has(self, point: usize) -> bool {
        point % self.of as usize + 1 == self.part as usize
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.part, self.of)
    }
}

/// Reads `K/N`.
///
/// # Errors
/// For anything else, and K outside 1 to N.
pub fn parse(text: &str) -> Result<Shard, String> {
    let wrong = || "part K of N is needed, K from 1, such as 3/8".to_owned();
    let (part, of) = text.split_once('/').ok_or_else(wrong)?;
    let (part, of) = (part.trim().parse::<u32>().map_err(|_| wrong())?, of.trim().parse::<u32>().map_err(|_| wrong())?);
    if part < 1 || part > of { Err(wrong()) } else { Ok(Shard { part, of }) }
}

/// The part that the scheduler's array job stands for, and the scheduler's variable; `None` outside an array job. Reads those of
/// Slurm (sbatch(1), "Job array support") and of Grid Engine (qsub(1), `-t`); a PBS array does not tell its size.
///
/// # Errors
/// When the variables do not make sense, or do not say how many parts there are.
pub fn of_scheduler(variable: impl Fn(&str) -> Option<String>) -> Result<Option<(Shard, &'static str)>, CommandError> {
    let number = |name: &'static str| -> Result<Option<u32>, CommandError> {
        match variable(name) {
            None => Ok(None),
            Some(text) if text == "undefined" => Ok(None),
            Some(text) => text.trim().parse().map(Some).map_err(|_| strange(name, &text)),
        }
    };
    let task = |name, id: u32, first: u32, step: u32, of: u32| {
        let past = id.checked_sub(first).filter(|p| p % step.max(1) == 0).map(|p| p / step.max(1) + 1);
        match past {
            Some(part) if part <= of => Ok(Some((Shard { part, of }, name))),
            _ => Err(strange(name, &id.to_string())),
        }
    };
    if let Some(id) = number("SLURM_ARRAY_TASK_ID")? {
        let (first, step) =
            (number("SLURM_ARRAY_TASK_MIN")?.unwrap_or(1), number("SLURM_ARRAY_TASK_STEP")?.unwrap_or(1));
        let last = number("SLURM_ARRAY_TASK_MAX")?;
        let counted = last.and_then(|l| l.checked_sub(first)).map(|n| n / step.max(1) + 1);
        let Some(of) = number("SLURM_ARRAY_TASK_COUNT")?.or(counted) else {
            return Err(no_size("SLURM_ARRAY_TASK_ID"));
        };
        return task("SLURM_ARRAY_TASK_ID", id, first, step, of);
    }
    if let Some(id) = number("SGE_TASK_ID")? {
        let (first, step) = (number("SGE_TASK_FIRST")?.unwrap_or(1), number("SGE_TASK_STEPSIZE")?.unwrap_or(1));
        let Some(last) = number("SGE_TASK_LAST")?.filter(|l| *l >= first) else { return Err(no_size("SGE_TASK_ID")) };
        return task("SGE_TASK_ID", id, first, step, (last - first) / step.max(1) + 1);
    }
    match number("PBS_ARRAY_INDEX")? {
        Some(_) => Err(no_size("PBS_ARRAY_INDEX")),
        None => Ok(None),
    }
}

fn strange(name: &str, text: &str) -> CommandError {
    let what = format!("{name} is \"{text}\", which is no task of an array numbered as its other variables say");
    CommandError::Usage { what, hint: "name the part with --shard K/N".into() }
}

fn no_size(name: &str) -> CommandError {
    let what = format!("{name} is set, but not how many tasks the array has");
    CommandError::Usage {
        what,
        hint: format!("name the part: --shard ${name}/N for an array from 1 to N, or unset {name}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(variables: &[(&str, &str)]) -> Result<Option<Shard>, CommandError> {
        let value_of = |name: &str| variables.iter().find(|(n, _)| *n == name).map(|(_, v)| (*v).to_owned());
        of_scheduler(value_of).map(|s| s.map(|(s, _)| s))
    }

    #[test]
    fn array_variables() {
        let shard = |part, of| Some(Shard { part, of });
        assert_eq!(read(&[]).unwrap(), None);
        let slurm = |id, min, step, count| {
            read(&[
                ("SLURM_ARRAY_TASK_ID", id),
                ("SLURM_ARRAY_TASK_MIN", min),
                ("SLURM_ARRAY_TASK_STEP", step),
                ("SLURM_ARRAY_TASK_COUNT", count),
            ])
        };
        assert_eq!(slurm("3", "1", "1", "8").unwrap(), shard(3, 8));
        assert_eq!(slurm("0", "0", "1", "8").unwrap(), shard(1, 8));
        assert_eq!(slurm("14", "0", "2", "8").unwrap(), shard(8, 8));
        assert!(slurm("9", "1", "1", "8").is_err());
        assert_eq!(
            read(&[("SLURM_ARRAY_TASK_ID", "4"), ("SLURM_ARRAY_TASK_MIN", "1"), ("SLURM_ARRAY_TASK_MAX", "8")])
                .unwrap(),
            shard(4, 8)
        );
        let sge = [("SGE_TASK_ID", "5"), ("SGE_TASK_FIRST", "1"), ("SGE_TASK_LAST", "8"), ("SGE_TASK_STEPSIZE", "1")];
        assert_eq!(read(&sge).unwrap(), shard(5, 8));
        assert_eq!(read(&[("SGE_TASK_ID", "undefined")]).unwrap(), None);
        assert!(read(&[("PBS_ARRAY_INDEX", "2")]).is_err());
    }

    #[test]
    fn the_parts_make_the_whole() {
        for text in ["0/8", "9/8", "3", "a/b", "1/0", "-1/2"] {
            assert!(parse(text).is_err(), "{text}");
        }
        let parts: Vec<Shard> = (1..=3).map(|k| parse(&format!("{k}/3")).unwrap()).collect();
        assert!((0..10).all(|p| parts.iter().filter(|s| s.has(p)).count() == 1));
    }
}
