//! What is printed fits the terminal it is printed in: the demos at 80, 100 and 140 columns, a row on one line, no line wider, the answer
//! on top, what there was no room for named, and everything with `--wide`.

// A helper that cannot go on fails its test.
#![allow(clippy::unwrap_used)]

use modalith_tests::modalith_in;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use unicode_width::UnicodeWidthStr;

const WIDTHS: [u16; 3] = [80, 100, 140];

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../meshes").join(name).join("device.json").canonicalize().unwrap()
}

fn printed(folder: &Path, args: &[&str], columns: Option<u16>) -> String {
    let run = modalith_in(folder, args, columns).unwrap();
    assert_eq!(run.code, Some(0), "{run:?}");
    run.stdout
}

/// A table of so many rows whose head starts so: head, rows, and what is named below as left out.
struct Table<'a> {
    head: &'a str,
    rows: Vec<&'a str>,
    left_out: Vec<String>,
}

fn table<'a>(text: &'a str, head: &str, rows: usize) -> Table<'a> {
    let mut lines = text.lines().skip_while(|l| !l.trim_start().starts_with(head));
    let head = lines.next().unwrap();
    let rows: Vec<&str> = lines.by_ref().take(rows).collect();
    let below = lines.collect::<Vec<_>>().join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
    let named = below.strip_prefix("Columns left out for want of room: ").and_then(|l| l.split("; `--wide`").next());
    let left_out = named.iter().flat_map(|l| l.split(", ")).map(str::to_owned).collect();
    Table { head, rows, left_out }
}

impl Table<'_> {
    /// Each of these heads is shown, or named below.
    #[track_caller]
    fn has(&self, heads: &[&str]) {
        for head in heads {
            let named = self.left_out.iter().any(|l| l == head);
            assert!(self.head.contains(head) != named, "{head} in {} and {:?}", self.head, self.left_out);
        }
    }

    /// All heads, of a table that leaves out none: at least two blanks between them.
    fn heads(&self) -> Vec<&str> {
        assert!(self.left_out.is_empty(), "{:?}", self.left_out);
        self.head.split("  ").map(str::trim).filter(|h| !h.is_empty()).collect()
    }
}

/// No line is wider, and the answer lies within the first five.
#[track_caller]
fn fits(text: &str, width: u16, answer: &str) {
    let wide: Vec<&str> = text.lines().filter(|l| l.width() > usize::from(width)).collect();
    assert!(wide.is_empty(), "wider than {width}: {wide:#?}\n{text}");
    assert!(text.lines().take(5).any(|l| l.contains(answer)), "{answer} is not on top:\n{text}");
    assert!(text.lines().all(|l| l == l.trim_end()), "{text}");
}

/// The round demo is left to the others: its mirrors take long.
#[test]
fn what_check_and_mesh_understand_fits() {
    let folder = TempDir::new().unwrap();
    for (name, pieces, flexures) in [("comb-resonator", 4, 8), ("gimbal", 3, 4), ("platform", 3, 28), ("ring", 2, 32)] {
        let device = demo(name);
        let device = device.to_str().unwrap();
        let whole = printed(folder.path(), &["check", device, "--wide"], Some(80));
        for width in WIDTHS {
            let text = printed(folder.path(), &["check", device], Some(width));
            fits(&text, width, "Accepted");
            for (head, rows) in [("name", pieces), ("flexure ", flexures)] {
                table(&text, head, rows).has(&table(&whole, head, rows).heads());
            }
            let numbers = table(&text, "flexure ", flexures).rows;
            assert!(numbers.last().unwrap().trim_start().starts_with(&flexures.to_string()), "{text}");
            let text = printed(folder.path(), &["mesh", device, "--out", "mesh"], Some(width));
            fits(&text, width, "triangles");
        }
    }
}

#[test]
fn modes_fit_with_a_row_a_line() {
    let folder = TempDir::new().unwrap();
    for name in ["comb-resonator", "gimbal"] {
        let device = demo(name);
        let args = ["modes", device.to_str().unwrap(), "--out", "out", "--count", "6", "--model", "shell"];
        let whole = printed(folder.path(), &[&args[..], &["--wide"]].concat(), Some(80));
        for width in WIDTHS {
            let text = printed(folder.path(), &args, Some(width));
            fits(&text, width, "6 modes found");
            let shown = table(&text, "mode ", 6);
            assert!(shown.head.contains("frequency Hz") && shown.head.contains("± mesh"), "{text}");
            for (i, row) in shown.rows.iter().enumerate() {
                assert_eq!(row.split_whitespace().next(), Some((i + 1).to_string().as_str()), "{text}");
            }
            shown.has(&table(&whole, "mode ", 6).heads());
        }
    }
}

/// The margin holds the verdict, and is never left out.
#[test]
fn rate_keeps_its_verdicts_at_every_width() {
    let folder = TempDir::new().unwrap();
    let device = demo("platform");
    let args = ["rate", device.to_str().unwrap(), "--out", "out", "--model", "lumped"];
    for width in WIDTHS {
        let text = printed(folder.path(), &args, Some(width));
        fits(&text, width, "of 10 requirements");
        let shown = table(&text, "requirement", 10);
        shown.has(&["asked", "drawn", "as made"]);
        let is_weighed =
            |row: &&str| row.ends_with("no verdict") || row.ends_with("FAILS") || row.ends_with(char::is_numeric);
        assert!(shown.head.ends_with("margin") && shown.rows.iter().all(is_weighed), "{text}");
        assert!(shown.rows[0].starts_with("mode split, Hz") && shown.rows[9].starts_with("shock travel, µm"), "{text}");
    }
}

#[test]
fn an_audit_keeps_what_fails_at_every_width() {
    let folder = TempDir::new().unwrap();
    let device = demo("gimbal");
    let args = ["audit", device.to_str().unwrap(), "--out", "out", "--count", "3", "--memory-limit", "500MB"];
    let all: Vec<[usize; 3]> = WIDTHS
        .iter()
        .map(|&width| {
            let text = printed(folder.path(), &args, Some(width));
            fits(&text, width, "Use ");
            let shown = table(&text, "assumption", 8);
            shown.has(&["measure", "limit", "measured as"]);
            assert!(shown.head.contains("verdict"), "{text}");
            let shown = table(&text, "mode ", 7);
            shown.has(&["lumped", "beam-shell", "what moves"]);
            assert!(shown.rows[0].trim_start().starts_with("1*"), "{text}");
            ["holds", "FAILS", "not measured"].map(|verdict| text.matches(verdict).count())
        })
        .collect();
    assert!(all[0] == all[1] && all[0] == all[2] && all[0].iter().sum::<usize>() > 4, "{all:?}");
}

#[test]
fn a_batch_fits() {
    let folder = TempDir::new().unwrap();
    let plan = serde_json::json!({
        "format": "modalith.plan/1", "device": demo("gimbal"), "command": "modes", "model": "lumped",
        "vary": {"/process/thickness_um": {"list": [5.0, 5.1]}}, "sampling": {"method": "grid"},
        "keep": {"frequency_of_the_first_mode_of_the_plate": "/modes/0/frequency_hz", "second": "/modes/1/frequency_hz"},
        "limits": {"second": [1e2, null]},
    });
    std::fs::write(folder.path().join("plan.json"), plan.to_string()).unwrap();
    for width in WIDTHS {
        let text = printed(folder.path(), &["variants", "plan.json", "--out", "out"], Some(width));
        fits(&text, width, "2 of 2 points keep all limits");
        let shown = table(&text, "result", 2);
        assert!(shown.rows[0].starts_with("frequency_of_the_first") && shown.rows[1].starts_with("second"), "{text}");
        assert!(shown.head.contains("mean") && shown.head.contains("yield"), "{text}");
        shown.has(&["as drawn", "deviation", "smallest", "largest"]);
    }
}

/// A pipe has 100 columns, and so has whoever says what is no width; files are the same for all.
#[test]
fn a_pipe_has_a_hundred_columns_and_files_do_not_depend_on_it() {
    let folder = TempDir::new().unwrap();
    let device = demo("gimbal");
    let args = ["modes", device.to_str().unwrap(), "--out", "out", "--count", "3", "--model", "lumped"];
    let answer = |columns| {
        let text = printed(folder.path(), &args, columns);
        let page = std::fs::read(folder.path().join("out/report.html")).unwrap();
        (text.split("Wrote").next().unwrap().to_owned(), page)
    };
    let (pipe, page) = answer(None);
    assert_eq!(answer(Some(100)), (pipe.clone(), page.clone()));
    assert_eq!(answer(Some(39)), (pipe.clone(), page.clone()));
    let (narrow, same) = answer(Some(60));
    assert!(narrow != pipe && same == page, "{narrow}");
}
