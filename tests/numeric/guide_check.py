#!/usr/bin/env python3
"""guide_check.py PROGRAM: the guide speaks of what the program has.

Every message in the README's table stands in the sources as quoted, every command and option exists, every file it
shows is there.
"""
import pathlib
import re
import subprocess
import sys

program = sys.argv[1]
root = pathlib.Path(__file__).resolve().parents[2]
guide = (root / "README.md").read_text(encoding="utf-8")
wrong = []


def string_literals(text):
    """All string literals, those that follow each other joined as the compiler joins them."""
    text = re.sub(r"^\s*//.*$", "", text, flags=re.M)
    joined = re.sub(r'(?<!\\)"\s*\n?\s*"', "", text)
    return re.findall(r'"((?:[^"\\\n]|\\.)*)"', joined)


said = "\n".join(
    literal
    for path in sorted((root / "src").rglob("*.cpp"))
    for literal in string_literals(path.read_text(encoding="utf-8"))
).lower()

# --- messages: alternatives are split by " / "; words in capitals stand for what differs
table = guide.split("### When it says", 1)[1].split("\n\n", 2)[1]
rows = [line.split("|")[1].strip() for line in table.splitlines() if line.startswith("|")][2:]
for row in rows:
    for message in row.split(" / "):
        parts = [part.strip().lower() for part in re.split(r"\b[A-Z]+\b", message.replace("`", ""))]
        for part in (p for p in parts if p):
            if part not in said:
                wrong.append(f"the program never says '{part}' (row '{row}')")
if len(rows) < 10:
    wrong.append("the table of messages was not found")


def help_of(*words):
    result = subprocess.run([program, *words, "--help"], capture_output=True, text=True, check=False)
    return result.stdout if result.returncode == 0 else ""


# --- commands and options
commands = set(re.findall(r"^  ([a-z]+) ", help_of().split("Subcommands:", 1)[1], flags=re.M)) | {"completion", "man"}
for line in re.findall(r"`([^`\n]*)`|^    (.*)$", guide, flags=re.M):
    words = (line[0] or line[1]).split("#")[0].split()
    if len(words) < 2 or words[0] != "sheetloupe":
        continue
    if words[1].startswith("-"):
        continue
    if words[1] not in commands:
        wrong.append(f"no command '{words[1]}'")
        continue
    under = [words[1]]
    if len(words) > 2 and words[1] == "log":
        under.append(words[2])
    known = help_of(*under)
    if words[1] not in ("completion", "man") and not known:
        wrong.append(f"no command '{' '.join(under)}'")
    for option in (w for w in words if w.startswith("--")):
        if option not in known:
            wrong.append(f"'{' '.join(under)}' has no {option}")
everywhere = "\n".join([help_of()] + [help_of(c) for c in sorted(commands)] +
                       [help_of("log", c) for c in re.findall(r"^  ([a-z]+) ", help_of("log").split("ommands:", 1)[1], flags=re.M)])
for option in re.findall(r"`(--[a-z-]+)", guide):
    if option not in everywhere:
        wrong.append(f"no command has {option}")

# --- pictures and files of the repository
for name in re.findall(r"\]\(([^)#:]+)\)", guide) + re.findall(r"`((?:models|tests|test_images|src)/[^`*]*)`", guide):
    if not (root / name).exists():
        wrong.append(f"no file {name}")

print("\n".join(wrong) or f"the guide's {len(rows)} messages, its commands and files are there")
sys.exit(bool(wrong))
