"""inspect is killed, run twice at once and starved of disk; every output must be the whole old or the whole new one.
Pictures are opened by Pillow, JSON by Python: other readers than the program's own. How long a run took differs from
run to run and is left out of the comparison: times.json, and the line of the page that tells it."""

import io
import json
import pathlib
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time

from PIL import Image

program = sys.argv[1]
photographed = pathlib.Path(__file__).resolve().parents[2] / "test_images" / "H-012"


def outputs(folder):
    files = {p.relative_to(folder / "loupe").as_posix(): p.read_bytes() for p in sorted((folder / "loupe").rglob("*"))
             if p.is_file() and not p.name.startswith(".")}
    if "times.json" in files:
        require_whole({"times.json": files.pop("times.json")})
    if "report.html" in files:
        files["report.html"] = re.sub(rb'<p id="times">.*?</p>', b"", files["report.html"])
    return files


def require_whole(files):
    for name, data in files.items():
        if name.endswith("json"):
            json.loads(data)
        elif name.endswith((".png", ".jpg", ".tiff")):
            Image.open(io.BytesIO(data)).load()
        elif name.endswith(".html"):
            assert data.rstrip().endswith(b"</html>"), name


def inspect(folder, **more):
    return subprocess.Popen([program, "inspect", folder], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **more)


with tempfile.TemporaryDirectory() as name:
    sheet = pathlib.Path(name) / "H-012"
    shutil.copytree(photographed, sheet, ignore=shutil.ignore_patterns("loupe"))
    begin = time.monotonic()
    assert inspect(sheet).wait() == 0
    whole_time = time.monotonic() - begin
    first = outputs(sheet)
    require_whole(first)
    assert {"report.json", "report.html", "usable.geojson", "front_overlay.png"} <= set(first)

    # Killed: half the times early, half while files are written.
    seeded = random.Random(1)
    for i in range(6):
        run = inspect(sheet)
        time.sleep(whole_time * (seeded.uniform(0.05, 1.0) if i % 2 else seeded.uniform(0.8, 1.05)))
        run.kill()
        run.wait()
        after = outputs(sheet)
        require_whole(after)
        if after != first:  # killed between two of the renames: then the folder says so
            assert (sheet / "loupe" / ".unfinished").exists()
            print("a mix was noticed")
            assert inspect(sheet).wait() == 0 and not (sheet / "loupe" / ".unfinished").exists()
            after = outputs(sheet)
        assert after == first, [n for n in first if after.get(n) != first[n]]

    # Two at once.
    runs = [inspect(sheet), inspect(sheet)]
    assert [r.wait() for r in runs] == [0, 0]
    assert outputs(sheet) == first

    # A file system that takes no more: no file above 20 kB can be written. Old outputs stay, the message is one line.
    run = inspect(sheet, preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000)), restore_signals=False)
    out, err = run.communicate()
    assert run.returncode == 2, (run.returncode, err)
    assert err.count("\n") == 1 and "written" in err, err
    assert outputs(sheet) == first
    print(f"{len(first)} outputs stayed whole; one inspection takes {whole_time:.1f} s")
