"""Every figure of README.md points at the check that asserts it.

In:   README.md. A block (paragraph, item of a list, row of a table, screen) that holds a digit outside of code ends with a comment

          <!-- asserted: FILE::FUNCTION "LITERAL"; FILE "LITERAL" -->

      that names checks and what stands in their files: a bound as it is asserted, or what is read.
Out:  a line for every block without a pointer and every pointer that leads nowhere; exit code 1 if there is one.

A pointer into Rust names a function with #[test]; one into a script names a script that validation/run or .ci/run calls, or a
script whose block says that it is run by hand. Commands, device files and headings are no claims.
"""

import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
POINTER = re.compile(r"<!--\s*asserted:\s*(.*?)-->", re.DOTALL)
ONE = re.compile(r'^(?P<file>[\w./-]+)(?:::(?P<function>\w+))?(?P<literals>(?:\s+"[^"]*")*)$')
# Screens are the fenced blocks that are neither commands nor device files.
COMMANDS = ("cargo ", "#!", "{", '"')


def blocks(text):
    """Blocks with their comments, and the line each starts on."""
    lines, found, at = text.split("\n"), [], 0
    while at < len(lines):
        start = at
        if lines[at].startswith("```"):
            at += 1
            while not lines[at].startswith("```"):
                at += 1
            at += 1
            block = lines[start:at]
        elif lines[at].strip():
            at += 1
            alone = lines[start].startswith("|")
            while not alone and at < len(lines) and lines[at].strip() and not re.match(r"- |```|\||\s*<!--", lines[at]):
                at += 1
            block = lines[start:at]
        else:
            at += 1
            continue
        while at < len(lines) and lines[at].lstrip().startswith("<!--"):
            while True:
                block.append(lines[at])
                at += 1
                if "-->" in block[-1]:
                    break
        found.append((start + 1, "\n".join(block)))
    return found


def claims(block):
    """Whether a block states a figure."""
    words = re.sub(r"<!--.*?-->", "", block, flags=re.DOTALL)
    if words.startswith("#"):
        return False
    if words.startswith("```"):
        first = words.split("\n")[1]
        return words.startswith("```\n") and not first.startswith(COMMANDS)
    return re.search(r"\d", re.sub(r"`[^`]*`", "", words)) is not None


def fault(pointer, block):
    """What is wrong with one pointer; none if it leads to a check."""
    parts = ONE.match(" ".join(pointer.split()))
    if not parts:
        return "cannot be read"
    path = ROOT / parts["file"]
    if not path.is_file():
        return "no such file"
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".rs":
        name = parts["function"]
        if not name or not re.search(rf"#\[test\][^{{}}]*\bfn {name}\b", text):
            return "no test of that name"
    elif path.parent.name == "validation":
        run = (ROOT / "validation/run").read_text(encoding="utf-8") + (ROOT / ".ci/run").read_text(encoding="utf-8")
        if f"validation/{path.name}" not in run and f"`validation/{path.name}`" not in block:
            return "no script that is run"
    missing = [l for l in re.findall(r'"([^"]*)"', parts["literals"]) if l not in text]
    return f"{missing[0]!r} does not stand there" if missing else None


def main():
    wrong, pointers, figures = [], 0, 0
    for line, block in blocks((ROOT / "README.md").read_text(encoding="utf-8")):
        named = [p.strip() for found in POINTER.findall(block) for p in found.split(";")]
        figures += claims(block)
        if claims(block) and not named:
            wrong.append(f"README.md:{line}: a figure without a pointer: {block.splitlines()[0][:90]}")
        for pointer in named:
            pointers += 1
            why = fault(pointer, block)
            if why:
                wrong.append(f"README.md:{line}: {pointer}: {why}")
    print(f"{figures} blocks with figures, {pointers} pointers")
    print("\n".join(wrong))
    sys.exit(1 if wrong or figures == 0 else 0)


if __name__ == "__main__":
    main()
