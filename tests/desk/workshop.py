"""What the tests of the desk's page share: a desk on the virtual machine with a browser on it, the ink that
landed, and a list of cases that speaks TAP. Takes DRAWTRUE EXAMPLES OUT [CASE...] from the command line."""
import json
import math
import pathlib
import shutil
import sys
import tempfile

import browser
from desk import Desk

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import run_cases

PROGRAM, EXAMPLES, OUT = (str(pathlib.Path(p).resolve()) for p in sys.argv[1:4])
EXAMPLES, OUT = pathlib.Path(EXAMPLES), pathlib.Path(OUT)
STATIONS = ("drawing", "draw", "measure", "machine", "log")

def rig_file(folder, near_home=False):
    """The rig of the examples, its pens in the order in which a program for the workshop takes them."""
    text = (EXAMPLES / "rig.ini").read_text()
    path = folder / "order.rig"
    lines = [line for line in text.splitlines() if not (near_home and line.startswith("start_"))]
    lines = ["order = green terracotta black" if line.startswith("order =") else line for line in lines]
    if near_home:
        lines.append("[truth]\nstart_x = 2\nstart_y = 2")
    path.write_text("\n".join(lines))
    return path


class Workshop:
    """A desk on the rig, with the examples in its folder, and a browser on it."""

    def __init__(self, *options, real_time=False, dark=False, width=1440, height=900, browse=True):
        start = pathlib.Path(tempfile.mkdtemp(prefix="drawtrue-start-"))
        for name in ("garden-bed.svg", "packet-label.svg", "planting-calendar.svg", "workshop.ini"):
            shutil.copy(EXAMPLES / name, start)
        self.start = start
        more = ["--real-time"] if real_time else []
        self.desk = Desk(PROGRAM, "--machine", str(start / "workshop.ini"), "--rig-file", str(rig_file(start, real_time)), "--ink", str(start / "ink"),
                           *more, *options, folder=start)
        self.b = None
        if browse:
            self.b = browser.Browser(width, height, dark)
            self.b.open(self.desk.address)

    def state(self, part):
        return self.b.run(f"deskPage.desk.{part}")

    def plan(self, name="packet-label.svg"):
        self.b.choose("#file", self.start / name)
        self.b.wait(f"deskPage.desk.drawing.name === {json.dumps(name)} && deskPage.desk.run.phase === 'ready' && deskPage.desk.drawing.own", 60, "a plan")

    def begin(self, name="packet-label.svg"):
        self.plan(name)
        self.b.click("#tab-draw")
        self.b.click("#card button.go", "Start drawing")
        self.b.wait("deskPage.desk.run.phase === 'active'", 20, "a run")

    def pens_in(self):
        """Puts every pen in, by mouse, until the run has ended."""
        while True:
            self.b.wait("deskPage.desk.session.state === 'pen-change' || deskPage.desk.run.phase === 'ended'", 120, "a pen change or the end")
            if self.state("run.phase") == "ended":
                return
            serial = self.state("session.serial")
            self.b.wait("document.querySelector('#card .tick input')", 5)
            self.b.click("#card .tick input")
            self.b.click("#card button.go", "Go on")
            self.b.wait(f"deskPage.desk.session.serial !== {serial}", 20, "the next pen")

    def program(self):
        return self.desk.ask("GET", "/program")[2]

    def ink(self):
        """Ends the desk; pens and points of the ink that landed."""
        code = self.close(keep=True)
        assert code == 0 and not self.desk.errors, (code, self.desk.errors)
        return landed(self.start / "ink/ink.json")

    def close(self, keep=False):
        if self.b:
            self.complaints = self.b.complaints
            self.b.close()
            self.b = None
        code = self.desk.close()
        if not keep:
            shutil.rmtree(self.start, ignore_errors=True)
        return code

    def __enter__(self):
        return self

    def __exit__(self, kind, *_):
        if kind and self.b:
            try:
                self.b.picture(OUT / "failed.png")
            except AssertionError:
                pass
        complaints = self.b.complaints if self.b else getattr(self, "complaints", [])
        self.close()
        if kind is None:
            assert not complaints, complaints


def landed(path):
    strokes = json.loads(path.read_text())["strokes"]
    return [(s["pen"], s.get("points", s.get("xy"))) for s in strokes]


def off(point, line):
    """The distance of a point from a polyline, mm."""
    least = math.inf
    for (ax, ay), (bx, by) in zip(line, line[1:]):
        dx, dy = bx - ax, by - ay
        length = dx * dx + dy * dy
        t = min(max(((point[0] - ax) * dx + (point[1] - ay) * dy) / length, 0), 1) if length else 0
        least = min(least, math.hypot(point[0] - ax - t * dx, point[1] - ay - t * dy))
    return least


def other_ink(a, b):
    """What the ink of two runs differs in, or None. The rig waits 0.3 s for a sender and then lets the board run
    short of lines: it slows down or stops at another place, and from there its pieces of a line end at other
    fractions of a step. Each run keeps within half a step of the line, so two are the same within one step of
    0.0101 mm, and the 0.001 mm by which points on a line are merged."""
    within = 0.0101 + 0.001
    if [s[0] for s in a] != [s[0] for s in b]:
        return f"{len(a)} and {len(b)} strokes, pens {[s[0] for s in a]} and {[s[0] for s in b]}"
    for number, ((_, line), (_, other)) in enumerate(zip(a, b)):
        worst = max((off(p, q), p) for points, q in ((line, other), (other, line)) for p in points)
        if worst[0] > within:
            return f"stroke {number} is off by {worst[0]:.4f} mm at {worst[1]}"
    return None


def draw_sheet(w, kind):
    """Makes a test sheet and draws it."""
    b = w.b
    assert w.desk.post("make-test-sheet", kind=kind)[0] == 200
    b.wait("deskPage.desk.drawing.name?.startsWith('sheet-') && deskPage.desk.run.phase === 'ready'", 30, "the sheet on the bed")
    b.run("deskPage.show('draw')")
    b.click("#card button.go", "Start drawing")
    while True:
        b.wait("deskPage.desk.session.may.includes('go-on') || deskPage.desk.run.phase === 'ended'", 120, "a pause or the end")
        if w.state("run.phase") == "ended":
            break
        serial = w.state("session.serial")
        w.desk.post("request", request="go-on", serial=serial)
        b.wait(f"deskPage.desk.session.serial !== {serial}", 20)
    assert w.state("run.ended") == "done", w.state("run")


def open_sheet(w):
    w.b.click("#tab-measure")
    w.b.wait("[...document.querySelectorAll('#side button')].some(e => e.textContent.startsWith('Read sheet') && !e.disabled)", 10, "the sheet to be read")
    w.b.click("#side button", "Read sheet")
    w.b.wait("document.querySelector('.question h3')", 5, "a question")


def place_of(w, name, number, share=0.0):
    """Where the picture shows a number of a comb, or a share of the way to the next one."""
    choices = {c["place"]: c["line"] for c in w.desk.get(f"/comb?ask={name}")["choices"]}
    view = w.desk.get(f"/comb?ask={name}")["view"]
    mid = lambda line: ((line[0] + line[2]) / 2, (line[1] + line[3]) / 2)
    a, c = mid(choices[number]), mid(choices.get(number + 1, choices[number]))
    x, y = a[0] + share * (c[0] - a[0]), a[1] + share * (c[1] - a[1])
    return w.b.run(f"(() => {{ const p = new DOMPoint({x}, {view[3] + view[1] - y}).matrixTransform(document.querySelector('.comb').getScreenCTM()); return [p.x, p.y]; }})()")


def wait_question(w, name):
    w.b.wait(f"document.querySelector('.question h3')?.textContent.startsWith('{name}:') && document.querySelector('.comb')", 10, f"question {name}")


def main():
    if not browser.find():
        print("1..0 # SKIP there is no chromium")
        return
    run_cases(wanted=sys.argv[4:])
