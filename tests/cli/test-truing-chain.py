#!/usr/bin/env python3
"""From a machine that nobody has measured to a true drawing, as its maker goes: a sheet, drawn on the virtual
machine, scanned twice, read with a rule; the corrections written; a drawing planned with them, drawn, and the
ink measured. Speaks TAP.
Usage: test-truing-chain.py DRAWTRUE SOURCE-ROOT"""
import json
import math
import os
import pathlib
import sqlite3
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks

PROGRAM = os.path.abspath(sys.argv[1])
EXAMPLES = pathlib.Path(sys.argv[2]).resolve() / "examples"
os.environ["LSAN_OPTIONS"] = (f"suppressions={pathlib.Path(sys.argv[2]).resolve()}/tests/fuzz/leaks.txt"
                              ":print_suppressions=0")
HANGS_AFTER = 240
GAUGE = 1  # a mark's kind
SCALE, SQUARE_DEG, SLACK = (1.012, 0.991), 0.35, ((0.12, 0.32), (0.30, 0.30))
TRUTH = f"""[truth]
scale_x = {SCALE[0]}
scale_y = {SCALE[1]}
square = {SQUARE_DEG}
backlash_x = 0:{SLACK[0][0]} 300:{SLACK[0][1]}
backlash_y = {SLACK[1][0]}
position_x = 0:0 75:0.15 150:-0.1 225:0.1 300:0
straight_x = 0:0 150:0.12 300:0
pulley_x = 0.12
pulley_phase_x = 40
twist_y = 0.08
wave = 0
slack_scatter_x = 0.005
[pen]
merge = 0.0005
[scan]
sheet_w = 210
sheet_h = 148
sheet_x = 20
sheet_y = 20
scale_x = 1.004
scale_y = 0.997
skew = 0.2
wave = 0.03
"""
SQUARE_SVG = ('<svg xmlns="http://www.w3.org/2000/svg" width="190mm" height="128mm" viewBox="0 0 190 128">'
              '<path d="M10 10H180V118H10Z" fill="none" stroke="#1c1c1c" stroke-width="0.4"/></svg>')


class Workshop:
    def __init__(self, folder):
        self.folder = pathlib.Path(folder)
        begin, rest = (EXAMPLES / "workshop.ini").read_text().split("# Measured with")
        (self.folder / "my.ini").write_text(begin + rest[rest.index("[controller]"):])
        (self.folder / "line.svg").write_text(SQUARE_SVG)

    def call(self, *words, code=0):
        done = subprocess.run([PROGRAM, *words], cwd=self.folder, capture_output=True, text=True,
                              timeout=HANGS_AFTER, stdin=subprocess.DEVNULL)
        assert done.returncode == code, (words, done.returncode, done.stdout[-2000:], done.stderr[-2000:])
        return done.stdout if code == 0 else done.stderr

    def draw(self, job, scan=None, turn=0, rotation=0.4):
        """Draws on the virtual machine; its ink, and what a scanner sees of it."""
        (self.folder / "rig.ini").write_text(f"{TRUTH}turn = {turn}\nrotation = {rotation}\n")
        words = [PROGRAM, "rig", "rig.ini", "--link", "port", "--out", "ink", "--once", "--json", "--force"]
        rig = subprocess.Popen(words + (["--scan", scan] if scan else []), cwd=self.folder, text=True,
                               stdout=subprocess.PIPE)
        rig.stdout.readline()
        try:
            self.call("run", job, "--port", "port", "-m", "my.ini", "--journal", "j.db", "--pens-ready", "--json")
            rig.communicate(timeout=HANGS_AFTER)
        finally:
            rig.kill()
        return json.loads((self.folder / "ink/ink.json").read_text())


def corners(ink):
    """Of the rectangle: the ink's points nearest to those of the box around it."""
    points = [(p[0], p[1]) for stroke in ink["strokes"] for p in stroke["points"]]
    low = [min(p[i] for p in points) for i in (0, 1)]
    high = [max(p[i] for p in points) for i in (0, 1)]
    wanted = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    return [min(points, key=lambda p, w=w: math.dist(p, w)) for w in wanted]


def rectangle_error(ink):
    """By how much sides and diagonals are off those of 170 x 108 mm, at most."""
    a, b, c, d = corners(ink)
    true = (170, 108, 170, 108, math.hypot(170, 108), math.hypot(170, 108))
    found = (math.dist(a, b), math.dist(b, c), math.dist(c, d), math.dist(d, a), math.dist(a, c), math.dist(b, d))
    return max(abs(t - f) for t, f in zip(true, found))


def rule_readings(ink, journal):
    """LX and LY: between the middles of the ticks of each gauge line, to a tenth of a millimetre, three times.
    Strokes come in the order of the sheet's marks, letters last."""
    with sqlite3.connect(journal) as db:
        (text,) = db.execute("SELECT sheet FROM sheets").fetchone()
    sheet = json.loads(text)
    column = {name: i for i, name in enumerate(sheet["columns"])}
    ends = {}
    for i, mark in enumerate(sheet["marks"]):
        if mark[column["kind"]] == GAUGE and mark[column["place"]] > 0:
            points = ink["strokes"][i]["points"]
            middle = [(points[0][k] + points[-1][k]) / 2 for k in (0, 1)]
            ends.setdefault("XY"[int(mark[column["axis"]])], []).append(middle)
    return [f"L{axis}=" + ",".join([f"{math.dist(*two):.1f}"] * 3) for axis, two in ends.items()]


def near_table(text, truth, tolerance):
    """Whether a table of the profile is within the tolerance of a function at all its places."""
    pairs = [tuple(float(v) for v in pair.split(":")) for pair in text.split()]
    return bool(pairs) and max(abs(v - truth(at)) for at, v in pairs) < tolerance


with tempfile.TemporaryDirectory() as folder:
    w = Workshop(folder)
    w.call("plan", "line.svg", "--true-size", "-o", "before.nc", "-m", "my.ini")
    before = rectangle_error(w.draw("before.nc"))
    check("without corrections the ink is off by a millimetre", before > 0.5, before)
    w.call("sheet", "scan", "-o", "scan.nc", "-m", "my.ini", "--journal", "j.db", "--date", "2026-03-14")
    w.draw("scan.nc", "one.png")
    readings = rule_readings(w.draw("scan.nc", "turned.png", turn=1, rotation=-0.6), w.folder / "j.db")
    fresh = (w.folder / "my.ini").read_text()
    scans = ("--scan", "one.png", "--scan", "turned.png")
    true = ("true", "-m", "my.ini", "--journal", "j.db")

    # One scan alone must not guess.
    one = json.loads(w.call(*true, "--scan", "one.png", "--show", "--json"))["result"]
    known = {(f["figure"], f["axis"]): f["known"] for f in one["figures"]}
    check("one scan leaves squareness and scale unknown",
          not known["square", None] and not known["scale", "x"] and known["backlash", "x"], known)
    check("--show writes nothing", (w.folder / "my.ini").read_text() == fresh)

    told = json.loads(w.call(*true, *scans, *readings, "--json"))
    written = {c["key"]: c["value"] for c in told["changes"]}
    check("corrections are written", told.get("written") == "my.ini" and "sheet 1, 2026-03-14"
          in (w.folder / "my.ini").read_text(), told)
    check("scales", all(abs(float(written[f"scale_{axis}"]) - SCALE[i]) < 0.001 for i, axis in enumerate("xy")), written)
    check("slack of X, which grows along it", near_table(
        written["backlash_x"], lambda at: SLACK[0][0] + (SLACK[0][1] - SLACK[0][0]) * at / 300, 0.02), written)
    check("slack of Y, the same everywhere", near_table(written["backlash_y"], lambda at: SLACK[1][0], 0.02), written)
    check("twist of Y", near_table(written["twist_y"], lambda at: 0.08, 0.02), written)
    check("no twist of X where there is none", "twist_x" not in written, written)
    check("the pulley of X", abs(float(written["pulley_error_x"].split()[0]) - 0.12) < 0.02, written)
    check("causes are named", told["causes"] and told["causes"][0]["ink_mm"] > 0.05, told["causes"])

    # A profile that stands corrected draws true, and says how true.
    said = json.loads(w.call("plan", "line.svg", "--true-size", "-o", "after.nc", "-m", "my.ini", "--journal", "j.db", "--json"))
    expected = said["expected_ink_error"]
    check("the expected error is told", expected["sheet"] == 1 and 0.005 < expected["p95_mm"] < 0.1, expected)
    after = rectangle_error(w.draw("after.nc"))
    check("the ink is true", after < 0.12 and after < before / 8, (before, after))
    w.call(*true, "--undo")
    check("--undo gives the old profile back", (w.folder / "my.ini").read_text() == fresh)

    # Scans that will not do: one line of reason, and the profile as it was.
    for bad in ("before.nc", "missing.png", "ink/ink.png"):
        said = w.call(*true, "--scan", bad, code=1)
        check(f"{bad} is refused by name", bad in said and len(said.splitlines()) == 1, said)
    check("and the profile is untouched", (w.folder / "my.ini").read_text() == fresh)

end_checks()
