"""The rules of the house that no compiler holds: a stage knows no files and no commands and no other stage's insides, a
file holds one idea, nothing names a machine."""

import pathlib
import re
import sys

root = pathlib.Path(__file__).resolve().parents[2]
stages = ["photo", "markers", "scale", "outline", "rectify", "weave", "defects", "plies", "laminate", "usable",
          "placement", "grade", "trend", "scene", "geometry"]
sources = [p for folder in ("src", "include", "tests") for p in (root / folder).rglob("*")
           if p.suffix in (".cpp", ".h")]
wrong = []


def note(path, text):
    wrong.append(f"{path.relative_to(root)}: {text}")


for path in sources:
    text = path.read_text()
    lines = text.count("\n")
    if lines > 420:
        note(path, f"{lines} lines; about 400 is the most that one idea needs")
    for word in ("TO" + "DO", "FIX" + "ME", "XX" + "X:"):
        if word in text:
            note(path, f"holds {word}")
    for place in re.findall(r"\"(/(?:work|root|Users)/[^\"]*)\"", text):
        note(path, f"names a machine's folder {place}")
    stage = next((s for s in stages if path.is_relative_to(root / "src" / s)), None)
    if path.is_relative_to(root / "src" / "inspect"):
        stage = "inspect"
    if stage is None:
        continue
    for header in re.findall(r"#include [\"<]([^\">]+)[\">]", text):
        if header.startswith(("io/", "cli/", "sheetloupe/io/")) or "nlohmann" in header or any(word in header for word in ("imgcodecs", "jpeglib", "png.h", "tiffio")):
            note(path, f"a stage that includes {header}")
        folder = header.split("/")[0]
        if folder in stages and folder != stage and stage != "inspect":
            note(path, f"looks into another stage: {header}")
        if header in ("fstream", "iostream", "filesystem", "chrono", "ctime"):
            note(path, f"a stage that reads files, prints or asks the clock: <{header}>")

top = {"CMakeLists.txt", "CMakePresets.json", "README.md", "DEVELOPERS.md", "LICENSE", "run", "src", "include", "models",
       "tests", "test_images", "build", "demo"}
for entry in root.iterdir():
    if entry.name not in top and not entry.name.startswith("."):
        note(entry, "does not belong at the top")
print("\n".join(wrong) or f"{len(sources)} files keep the rules")
sys.exit(bool(wrong))
