//! What all reports share: head, style, lists, the table as printed, and the words of care. HTML 5 that opens offline.

use super::findings::Findings;
use super::svg::escape;
use super::units::length_um;
use std::fmt::Write as _;

const STYLE: &str = "body{font:16px/1.5 Helvetica,Arial,'DejaVu Sans',sans-serif;color:#1d2730;overflow-wrap:anywhere;max-width:68rem;margin:2rem auto;padding:0 1rem}\
h1{font-size:1.5rem;margin-bottom:.2rem}h2{font-size:1.15rem;margin-top:2.2rem;border-bottom:1px solid #cfd5d9}\
.answer{font-size:1.1rem}.bad{color:#9c2f14;font-weight:bold}table{border-collapse:collapse;font-variant-numeric:tabular-nums}\
th,td{padding:.2rem .8rem;text-align:left;border-bottom:1px solid #e3e6e8;vertical-align:top}.n{text-align:right}\
.wide{overflow-x:auto;overflow-wrap:normal}pre{overflow-x:auto;background:#f6f7f7;padding:.8rem;font-size:.85rem}code{font-size:.8rem;word-break:break-all}\
figure{margin:1.2rem 0;break-inside:avoid}figcaption{color:#3c4750}svg{max-width:100%;height:auto}\
.modes{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(27rem,100%),1fr));gap:1.2rem 1.6rem}.modes figure{margin:0}\
.care{border-left:4px solid #c47808;padding:.1rem 1rem;background:#fbf7ef}";

const CARE: &str = "<h2>Care</h2>\n<div class=\"care\">\n\
<p>These figures are design estimates, computed from the drawing and from the material and process data given. They do not replace \
measurement and test of made parts.</p>\n\
<p>Where a part steers a vehicle or guards people, it must be qualified to the standards that apply where it is used. Etchants and \
release chemicals injure: in the clean room the safety rules of the process owner hold, and nothing here changes them.</p>\n\
<p>\u{201c}Counted independently\u{201d} means that a second calculation found the same number of modes in the band. It is a \
check of the arithmetic, not a safety certificate.</p>\n</div>\n";

/// From the doctype to the heading; `what` says which report it is.
pub fn head(device: &str, what: &str) -> String {
    let device = escape(device);
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n<title>{device}: {what}</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<h1>{device}</h1>\n"
    )
}

/// Thickness, material and model in one line.
pub fn about(out: &mut String, findings: &Findings) {
    let _ = writeln!(
        out,
        "<p>{} {}; {} model ({})</p>",
        length_um(findings.thickness_um),
        escape(&findings.material),
        escape(&findings.model),
        escape(&findings.model_reason)
    );
}

/// The table as printed, the words of care, and the end.
pub fn end(mut out: String, table_text: &str) -> String {
    let _ = write!(out, "<h2>As printed</h2>\n<pre>{}</pre>\n", escape(table_text));
    out.push_str(CARE);
    out.push_str("</body>\n</html>\n");
    out
}

/// A list under a heading of its own.
pub fn list(out: &mut String, title: &str, items: &[String]) {
    let _ = write!(out, "<h2>{title}</h2>\n<ul>\n");
    for item in items {
        let _ = writeln!(out, "<li>{}</li>", escape(item));
    }
    out.push_str("</ul>\n");
}
