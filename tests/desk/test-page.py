#!/usr/bin/env python3
"""The desk's page in Chromium on the virtual machine: the whole job by mouse, by keyboard and by the
commands' --json ends in the same program and the same ink; Stop, faults of the page, text that is no
markup, axe-core by WCAG 2.2, and a picture of every station and state. Speaks TAP.
Usage: test-page.py DRAWTRUE EXAMPLES OUT [CASE...]"""
import json
import math
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import browser
import witness
from desk import Desk

PROGRAM, EXAMPLES, OUT = (str(pathlib.Path(p).resolve()) for p in sys.argv[1:4])
EXAMPLES, OUT = pathlib.Path(EXAMPLES), pathlib.Path(OUT)
STATIONS = ("drawing", "draw", "measure", "machine", "log")
cases = []


def case(function):
    cases.append(function)
    return function


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


def same_ink(a, b):
    """Steps of both axes that fall together within microseconds are done in either order: the ink is the
    same within half a step of 0.0101 mm, and the 0.001 mm by which points on a line are merged."""
    within = 0.0101 / 2 + 0.001
    return [s[0] for s in a] == [s[0] for s in b] and all(
        max(off(p, q) for p in points) <= within
        for (_, line), (_, other) in zip(a, b) for points, q in ((line, other), (other, line)))


# The whole job -----------------------------------------------------------------------------------


def by_mouse():
    with Workshop() as w:
        w.b.drop(w.start / "packet-label.svg")
        w.b.wait("deskPage.desk.drawing.state === 'ready'", 60, "a plan")
        revision = w.state("drawing.revision")
        w.b.click("#side summary", "Paper and place")
        w.b.click("#side .option input[inputmode=decimal]")  # the first number of it: the margin
        w.b.type("12")
        w.b.click("#tab-draw")
        w.b.wait(f"deskPage.desk.drawing.revision > {revision} && deskPage.desk.run.phase === 'ready'", 60, "the changed plan")
        w.b.click("#card button.go", "Start drawing")
        w.pens_in()
        assert w.state("run.ended") == "done", w.state("run")
        return w.program(), w.ink()


def by_keyboard():
    with Workshop() as w:
        b = w.b
        b.tab_to("e.id === 'tab-drawing'")
        b.tab_to("e.tagName === 'SUMMARY' && e.textContent.startsWith('From the folder')")
        b.key("Enter")
        b.wait("[...document.querySelectorAll('.files button')].some(e => e.textContent === 'packet-label.svg')")
        b.tab_to("e.textContent === 'packet-label.svg'")
        b.key("Enter")
        b.wait("deskPage.desk.drawing.state === 'ready'", 60, "a plan")
        revision = w.state("drawing.revision")
        b.tab_to("e.tagName === 'SUMMARY' && e.textContent === 'Paper and place'")
        b.key("Enter")
        b.tab_to("e.inputMode === 'decimal' && e.closest('.option').textContent.startsWith('Margin')")
        b.type("12")
        b.key("Enter")
        b.wait(f"deskPage.desk.drawing.revision > {revision} && deskPage.desk.run.phase === 'ready'", 60, "the changed plan")
        b.tab_to("e.id === 'tab-drawing'", 120, shift=True)
        b.key("ArrowRight")
        b.tab_to("e.textContent === 'Start drawing'")
        b.key("Enter")
        while True:
            b.wait("deskPage.desk.session.state === 'pen-change' || deskPage.desk.run.phase === 'ended'", 120, "a pen change or the end")
            if w.state("run.phase") == "ended":
                break
            serial = w.state("session.serial")
            b.wait("document.querySelector('#card .tick input')", 5)
            b.tab_to("e.type === 'checkbox' && e.closest('#card')")
            b.key(" ")
            b.tab_to("e.textContent === 'Go on' && !e.disabled")
            b.key("Enter")
            b.wait(f"deskPage.desk.session.serial !== {serial}", 20, "the next pen")
        assert w.state("run.ended") == "done", w.state("run")
        return w.program(), w.ink()


def by_json():
    with Workshop(browse=False) as w:
        folder = w.start
        machine = str(folder / "workshop.ini")
        job = folder / "job.nc"
        done = subprocess.run([PROGRAM, "plan", str(folder / "packet-label.svg"), "-o", str(job), "--machine", machine, "--margin", "12", "--json"],
                              capture_output=True, timeout=120)
        assert done.returncode == 0, done.stderr
        port = folder / "port"
        rig = subprocess.Popen([PROGRAM, "rig", str(folder / "order.rig"), "--link", str(port), "--out", str(folder / "cli"), "--once", "--json"],
                               stdout=subprocess.DEVNULL)
        while not port.is_symlink():
            assert rig.poll() is None
            time.sleep(0.02)
        done = subprocess.run([PROGRAM, "run", str(job), "--port", str(port), "--machine", machine, "--pens-ready", "--json", "--journal", str(folder / "j.db")],
                              capture_output=True, timeout=120)
        assert done.returncode == 0, done.stderr
        assert rig.wait(timeout=30) == 0
        return job.read_bytes(), landed(folder / "cli/ink.json")


@case
def the_job_by_mouse_by_keyboard_and_by_json_is_the_same_program_and_the_same_ink():
    mouse, keyboard, command = by_mouse(), by_keyboard(), by_json()
    assert mouse[0] == command[0], "the mouse makes another program"
    assert keyboard[0] == command[0], "the keyboard makes another program"
    assert len(command[1]) > 50
    assert same_ink(mouse[1], command[1]), "the mouse puts other ink down"
    assert same_ink(keyboard[1], command[1]), "the keyboard puts other ink down"


# Stop ----------------------------------------------------------------------------------------------


@case
def the_space_bar_lifts_and_holds_twice_does_no_more_and_escape_twice_ends():
    with Workshop(real_time=True) as w:
        b = w.b
        w.begin()
        b.wait("deskPage.desk.session.state === 'drawing' && deskPage.desk.session.pen_down", 60, "a line")
        b.key(" ")
        b.wait("['held', 'paused'].includes(deskPage.desk.session.state)", 10, "it to be held")
        assert not w.state("session.pen_down"), w.state("session")
        b.key(" ")
        b.key(" ")
        time.sleep(0.4)
        assert w.state("session.state") in ("held", "paused"), w.state("session.state")
        b.click("#stop")
        time.sleep(0.3)
        assert w.state("run.phase") == "active", w.state("run")
        time.sleep(1.3)
        b.click("#card button.go", "Go on")
        b.wait("deskPage.desk.session.state === 'drawing'", 20, "it to go on")
        b.key("Escape")
        time.sleep(0.2)
        assert w.state("run.phase") == "active"
        b.key("Escape")
        b.wait("deskPage.desk.run.phase === 'ended'", 30, "the end")
        assert w.state("run.ended") == "stopped"


@case
def stop_is_at_the_same_place_and_covered_by_nothing():
    with Workshop() as w:
        w.plan()
        for width, height in ((1440, 900), (390, 844)):
            w.b.resize(width, height)
            places = set()
            for station in STATIONS:
                w.b.run(f"deskPage.show('{station}'); scrollTo(0, 0)")
                box = w.b.run("(() => { const b = document.getElementById('stop').getBoundingClientRect(); return [b.x, b.y, b.width, b.height]; })()")
                places.add(tuple(round(v) for v in box))
                x, y = box[0] + box[2] / 2, box[1] + box[3] / 2
                assert w.b.run(f"document.elementFromPoint({x}, {y}).closest('#stop') !== null"), station
                w.b.run("scrollTo(0, 400)")
                assert w.b.run("document.getElementById('stop').getBoundingClientRect().y < innerHeight - 20"), station
            assert len(places) == 1, places


# The bed and the strip ---------------------------------------------------------------------------------


@case
def the_sheet_is_dragged_turned_and_moved_by_keys_and_a_stroke_is_pointed_at():
    with Workshop() as w:
        b = w.b
        w.plan()
        paper = w.state("drawing.paper")
        x, y = b.place("#bed-marks .grip")
        scale = b.run("(() => { const t = document.getElementById('bed').getBoundingClientRect(); return t.width / 340; })()")
        b.drag(x, y, x + 40, y - 20)
        moved = b.wait(f"deskPage.desk.drawing.paper[0] > {paper[0]} && deskPage.desk.drawing.paper", 10, "the sheet to move")
        assert moved[1] > paper[1] and scale > 0
        time.sleep(0.2)  # its handles follow with the next picture
        b.click("#bed-marks .grip[aria-label^=Turn]")
        b.wait(f"deskPage.desk.drawing.paper[3] - deskPage.desk.drawing.paper[1] === {paper[2] - paper[0]}", 10, "the sheet to turn")
        b.wait("deskPage.desk.run.phase === 'ready' || deskPage.desk.drawing.state === 'failed'", 60)
        b.run("document.querySelector('#bed-marks .grip').focus()")
        before = w.state("drawing.paper")
        b.key("ArrowLeft")
        b.wait(f"deskPage.desk.drawing.paper[0] === {before[0] - 1}", 10, "the sheet to move by 1 mm")
        b.wait("deskPage.desk.run.phase === 'ready' && deskPage.painted?.whole", 60)
        b.run("document.getElementById('bed-focus').focus()")
        b.key("PageDown")
        b.wait("document.querySelector('.stroke h3')?.textContent.startsWith('Stroke 1 of')", 10, "a stroke")


@case
def a_run_begins_at_the_stroke_that_was_pointed_at():
    with Workshop() as w:
        b = w.b
        w.plan()
        total = w.state("drawing.strokes")
        b.run("deskPage.show('draw'); document.getElementById('bed-focus').focus()")
        for _ in range(5):
            b.key("PageDown")
            b.wait("document.querySelector('.stroke h3')", 5)
            time.sleep(0.05)
        b.wait("document.querySelector('.stroke h3').textContent.startsWith('Stroke 5 of')", 5)
        b.click("#side button", "Begin here")
        b.wait("deskPage.desk.drawing.skip === 4 && deskPage.desk.run.phase === 'ready'", 60, "the run from there")
        b.click("#card button.go", "Start drawing")
        w.pens_in()
        assert w.state("run.ended") == "done", w.state("run")
        assert len(w.ink()) == total - 4


@case
def the_strip_is_scrubbed_by_mouse_and_keys():
    with Workshop() as w:
        b = w.b
        w.plan("garden-bed.svg")
        b.wait("deskPage.painted?.whole && deskPage.painted.strokes > 700", 20, "all ink")
        box = b.run("(() => { const b = document.getElementById('strip-slider').getBoundingClientRect(); return [b.x, b.y, b.width, b.height]; })()")
        b.click_at(box[0] + box[2] / 4, box[1] + box[3] / 2)
        b.wait("deskPage.painted.strokes > 20 && deskPage.painted.strokes < 500", 10, "a moment")
        b.run("document.getElementById('strip-slider').focus()")
        b.key("End")
        b.wait("deskPage.painted.strokes > 700", 10, "the end")
        b.key("Home")
        b.wait("deskPage.painted.strokes <= 1", 10, "the beginning")
        assert "of" in b.run("document.getElementById('strip-slider').getAttribute('aria-valuetext')")


@case
def the_tip_says_where_it_goes_before_it_moves_and_corners_are_touched():
    with Workshop() as w:
        b = w.b
        b.click("#tab-measure")
        b.click("#side .choice", "By hand")
        b.click("#side button", "Home the machine")
        b.wait("deskPage.desk.session.state === 'ready' && deskPage.desk.session.homed", 30, "home")
        b.wait("document.querySelector('.tip-handle').checkVisibility()", 5)
        x, y = b.place(".tip-handle")
        b.drag(x, y, x + 120, y - 90)
        b.wait("document.querySelector('.offer').checkVisibility()", 5, "the question")
        assert w.state("session.tip")[0] < 5, "it moved unasked"
        b.click(".offer button", "Move")
        b.wait("deskPage.desk.session.state === 'ready' && deskPage.desk.session.tip[0] > 20", 30, "the move")
        b.click("#side .tick input")
        b.wait("!document.getElementById('bed-warning').hidden")
        at = w.state("session.at")
        b.key("ArrowUp")
        b.wait(f"Math.abs(deskPage.desk.session.at[1] - {at[1]} - 1) < 0.03", 10, "a step of 1 mm")
        b.wait("deskPage.desk.session.state === 'ready'", 10)
        b.key("Escape")
        b.wait("document.getElementById('bed-warning').hidden && !document.querySelector('#side .tick input').checked", 5)
        b.click("#side .choice", "Corners")
        b.click("#side button", "Take this as the lower left")
        b.wait("deskPage.desk.drawing.left", 5, "the corner")


@case
def an_option_and_a_colour_change_the_plan_and_a_wrong_one_is_refused():
    with Workshop() as w:
        b = w.b
        w.plan("garden-bed.svg")
        b.click("#side summary", "Pens")
        b.wait("document.querySelector('.colour select')")
        colour = b.run("document.querySelector('.colour code').textContent")
        b.run("(() => { const s = document.querySelector('.colour select'); s.value = 'black'; s.dispatchEvent(new Event('change')); })()")
        b.wait(f"deskPage.desk.drawing.options.colour === '{colour}=black' && deskPage.desk.run.phase === 'ready'", 60, "the colour's pen")
        b.click("#side summary", "Lines")
        b.run("(() => { const i = [...document.querySelectorAll('.option')].find(o => o.textContent.startsWith('Tolerance')).querySelector('input');"
              " i.value = 'abc'; i.dispatchEvent(new Event('change')); })()")
        b.wait("document.querySelector('.toast')", 5, "a complaint")
        assert "tolerance" not in w.state("drawing.options")
        b.complaints.clear()  # the refusal itself, as the browser's console tells it


# Faults of the page ------------------------------------------------------------------------------------


@case
def a_page_that_is_reloaded_closed_or_joined_by_another_changes_nothing():
    with Workshop() as w:
        b = w.b
        w.begin("garden-bed.svg")
        other = w.desk.page()
        b.wait("deskPage.desk.session.state === 'pen-change'", 60, "a pen change")
        b.call("Page.reload")
        b.wait("window.deskPage && deskPage.desk.session?.state === 'pen-change'", 20, "the same state after it is loaded again")
        other.wait(lambda s: s["session"]["state"] == "pen-change")
        serial = w.state("session.serial")
        assert other.parts["session"]["serial"] == serial
        status, _ = w.desk.post("request", request="go-on", serial=serial)
        assert status == 200
        b.wait(f"deskPage.desk.session.serial !== {serial}", 10, "what the other page did")
        status, said = w.desk.post("request", request="go-on", serial=serial)
        assert status == 409, said  # two pages fighting: the later one is refused
        b.call("Page.navigate", url="about:blank")
        other.wait(lambda s: s["session"]["state"] == "pen-change" or s["run"]["phase"] == "ended", 60)
        other.close()
        b.open(w.desk.address)
        b.click("#tab-draw")
        w.pens_in()
        assert w.state("run.ended") == "done"
        with_pens = {pen for pen, _ in w.ink()}
        assert with_pens == {"green", "terracotta", "black"}, with_pens


@case
def a_desk_that_was_killed_offers_the_run_again_and_finishes_it():
    with Workshop() as w:
        b = w.b
        w.begin("garden-bed.svg")
        b.wait("deskPage.desk.session.state === 'pen-change'", 60, "a pen change")
        drawn = w.state("session.stroke")
        w.desk.kill()
        b.wait("!deskPage.desk.online", 10, "the page to say so")
        assert b.run("document.getElementById('state-word').textContent") == "No connection to the desk"
        w.desk.process.stdout.close()
        w.desk.process.stderr.close()
        w.desk.start()
        b.complaints.clear()
        b.open(w.desk.address)
        b.wait("deskPage.desk.log.unfinished", 10, "the unfinished run")
        b.click("#card button", "Look at it")
        b.wait("deskPage.desk.run.phase === 'ready' && deskPage.desk.run.resumes > 0", 20, "the resume")
        b.click("#card button.go", "Go on drawing")
        w.pens_in()
        assert w.state("run.ended") == "done" and drawn > 0
        left = w.state("run.strokes") - drawn
        assert len(w.ink()) == left, left  # a new sheet of the rig, with what was not drawn yet


# A sheet read by eye ------------------------------------------------------------------------------------


def draw_sheet(w, kind):
    """Makes a test sheet and draws it."""
    b = w.b
    assert w.desk.post("make-test-sheet", kind=kind)[0] == 200
    b.wait("deskPage.desk.drawing.name?.startsWith('sheet-') && deskPage.desk.run.phase === 'ready'", 30, "the sheet on the bed")
    b.run("deskPage.show('draw')")
    b.click("#card button.go", "Start drawing")
    while True:
        b.wait("!['drawing', 'homing'].includes(deskPage.desk.session.state) || deskPage.desk.run.phase === 'ended'", 120, "a pause or the end")
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


def asked(w):
    return w.desk.get("/measure")["sheet"]["asks"]


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


def true(w, *more):
    done = subprocess.run([PROGRAM, "true", "-m", str(w.start / "workshop.ini"), "--journal", str(w.desk.root / "journal.db"), "--json", *more], capture_output=True, timeout=60, stdin=subprocess.DEVNULL)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@case
def a_sheet_is_read_by_clicks_and_by_keys_and_its_corrections_are_those_of_the_command():
    with Workshop() as w:
        b, ini = w.b, w.start / "workshop.ini"
        before = ini.read_bytes()
        draw_sheet(w, "slack")
        open_sheet(w)
        names = [a["name"] for a in asked(w)]
        assert len(names) >= 4 and names[0] == "X1", names
        wait_question(w, "X1")
        b.click_at(*place_of(w, "X1", 3))  # the wrong tick, then the right one
        b.click_at(*place_of(w, "X1", 4))
        assert b.run("document.querySelector('.answers input').value") == "4"
        assert asked(w)[0]["answers"] == [""], "kept before it was said to be the answer"
        b.click(".answer button", "Keep and go on")
        wait_question(w, names[1])
        assert asked(w)[0]["answers"] == ["4"]
        b.click_at(*place_of(w, names[1], 4, 0.5))
        assert b.run("document.querySelector('.answers input').value") == "between 4 and 5"
        b.key("Enter")  # the field has the focus
        wait_question(w, names[2])
        b.type("back")
        b.key("Enter")
        wait_question(w, names[1])
        assert b.run("document.querySelector('.answers input').value") == "between 4 and 5"
        b.key("Enter")
        wait_question(w, names[2])
        b.type("99")
        b.key("Enter")
        b.wait("document.querySelector('.toast')?.textContent.includes('out of range')", 5, "a refusal")
        wait_question(w, names[2])
        b.run("document.querySelector('.answers input').select()")
        for name in names[2:]:
            wait_question(w, name)
            b.type("?" if name == names[-1] else "5")
            b.key("Enter")
        b.wait("document.querySelector('.question h3')?.textContent === 'What follows'", 10, "what follows")
        given = [a["answers"] for a in asked(w)]
        assert given == [["4"], ["between 4 and 5"], *[["5"]] * (len(names) - 3), [""]], given
        assert true(w, "--show", "X1=4")["changes"] == [{k: c[k] for k in ("section", "key", "value")} for c in w.desk.get("/measure")["sheet"]["result"]["changes"]]
        assert ini.read_bytes() == before
        b.click(".write button.go", "Write to the profile")
        b.wait("document.querySelector('.write')?.textContent.includes('are in workshop.ini')", 10, "the corrections to be written")
        written = ini.read_bytes()
        assert written != before
        b.wait("deskPage.desk.session.state === 'closed'", 10, "the port to be let go of")
        time.sleep(0.5)  # the page follows with the profile as it was written
        b.wait("document.querySelector('.write button:not(:disabled)')", 10, "what can be taken back")
        b.click(".write button", "Undo the corrections")
        b.wait("document.querySelector('.write button.go')", 10, "the corrections to be taken back")
        assert ini.read_bytes() == before
        b.wait("document.querySelector('.write button.go:not(:disabled)')", 10, "the profile to be loaded")
        assert true(w, "X1=4")["written"] == str(ini)
        assert ini.read_bytes() == written, "the command writes other corrections"
        w.b.complaints[:] = [c for c in w.b.complaints if "409" not in c]


@case
def a_press_is_not_lost_when_what_is_pressed_is_told_anew_meanwhile():
    with Workshop() as w:
        b = w.b
        assert w.desk.post("make-test-sheet", kind="slack")[0] == 200
        b.click("#tab-measure")
        x, y = b.place("#side button", "Compare two sheets")
        b.wait("document.querySelector('#side .last-sheet b')", 10, "the sheet")
        x, y = b.place("#side button", "Compare two sheets")
        b.mouse("mouseMoved", x, y)
        b.mouse("mousePressed", x, y, 1, button="left", clickCount=1)
        number = w.state("measure.number")
        assert w.desk.post("keep-reading", sheet=1, ask="X1", i=0, text="5")[0] == 200
        b.wait(f"deskPage.desk.measure.number > {number}", 10)
        time.sleep(0.3)
        b.mouse("mouseReleased", x, y, 0, button="left", clickCount=1)
        b.wait("document.querySelector('.reading-head h2')?.textContent === 'Before and after'", 5, "what was pressed for")


@case
def corrections_are_written_only_as_they_were_seen():
    with Workshop() as w:
        draw_sheet(w, "slack")
        sheet = w.desk.get("/measure")["sheet"]
        for a in sheet["asks"]:
            assert w.desk.post("keep-reading", sheet=sheet["number"], ask=a["name"], i=0, text="5")[0] == 200
        digest = w.desk.get("/measure")["sheet"]["result"]["digest"]
        before = (w.start / "workshop.ini").read_bytes()
        assert w.desk.post("keep-reading", sheet=sheet["number"], ask="X1", i=0, text="3")[0] == 200
        status, said = w.desk.post("write-corrections", sheet=sheet["number"], digest=digest)
        assert status == 409 and "changed since" in said["error"], said
        assert (w.start / "workshop.ini").read_bytes() == before
        digest = w.desk.get("/measure")["sheet"]["result"]["digest"]
        assert w.desk.post("make-test-sheet", kind="scale")[0] == 200
        for name, more in (("write-corrections", {"digest": digest}), ("keep-reading", {"ask": "X1", "i": 0, "text": "4"})):
            status, said = w.desk.post(name, sheet=sheet["number"], **more)
            assert status == 409 and "another sheet" in said["error"], said
        assert w.desk.post("undo-corrections", sheet=sheet["number"])[0] == 409
        assert (w.start / "workshop.ini").read_bytes() == before


# Text that is no markup -------------------------------------------------------------------------------------

EVIL = "<img src=x onerror=window.hacked=1><script>window.hacked=1<"


@case
def no_text_that_is_shown_is_read_as_markup():
    with Workshop() as w:
        b = w.b
        name = EVIL.replace("/", "") + ".svg"
        svg = ("<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='60mm' onload='window.hacked=1'><script>window.hacked=1</script>"
               f"<style>&lt;img src=x onerror=hacked=1&gt;</style><g id='&lt;img src=x onerror=hacked=1&gt;'><foreignObject><img src='x' onerror='hacked=1'/></foreignObject>"
               "<rect x='10' y='10' width='30' height='20' class='&lt;script&gt;' fill='none' stroke='#123'/></g><unknown&gt;/></svg>")
        good = svg.replace("<unknown&gt;/>", "<unknown a='&lt;script&gt;alert(1)&lt;/script&gt;'/>")
        assert w.desk.drop(name, good.encode())[0] == 200
        b.wait("deskPage.desk.drawing.name?.includes('onerror') && deskPage.desk.drawing.state === 'ready'", 30, "its plan")
        assert b.run("document.getElementById('drawing-name').textContent").startswith("<img src=x")
        for station in STATIONS:
            b.run(f"deskPage.show('{station}')")
            time.sleep(0.15)
            assert b.run("document.querySelectorAll('img, script:not([src]), foreignObject').length") == 0, station
        assert w.desk.drop(name, svg.encode())[0] == 200
        b.wait("deskPage.desk.drawing.state === 'failed'", 30, "a refusal")
        b.run("deskPage.show('drawing')")
        assert w.desk.post("set-keys", changes=[{"section": "machine", "key": "name", "value": EVIL[:79]}])[0] == 200
        b.wait("deskPage.desk.machine.name.includes('onerror')", 10, "the machine's name")
        b.run("deskPage.show('machine')")
        b.wait("document.querySelectorAll('.key input').length > 20", 10)
        assert b.run("window.hacked === undefined")


# How it looks ----------------------------------------------------------------------------------------------


def every_state(w, shoot):
    """Calls `shoot` with a name in every station and state that the rig can be brought to."""
    b = w.b
    shoot("drawing-empty")
    b.click("#tab-drawing")
    w.plan("garden-bed.svg")
    b.wait("deskPage.painted?.whole", 10)
    time.sleep(0.3)
    shoot("drawing-plan")
    b.wait("document.querySelectorAll('#side details').length > 3", 10)
    b.run("for (const d of document.querySelectorAll('#side details')) d.open = true")
    shoot("drawing-options")
    b.run("document.querySelectorAll('#side .look input')[2].click()")
    time.sleep(0.2)
    shoot("drawing-half")
    b.run("document.querySelectorAll('#side .look input')[3].click()")
    time.sleep(0.2)
    shoot("drawing-difference")
    b.run("document.querySelectorAll('#side .look input')[0].click()")
    b.run("deskPage.show('draw')")
    time.sleep(0.2)
    shoot("draw-before")
    b.click("#card button.go", "Start drawing")
    b.wait("deskPage.desk.session.state === 'drawing'", 20)
    time.sleep(0.15)
    shoot("draw-drawing")
    b.wait("deskPage.desk.session.state === 'pen-change'", 60)
    time.sleep(0.2)
    shoot("draw-pen")
    b.run("deskPage.show('measure')")
    shoot("measure-running")
    b.run("deskPage.show('draw')")
    b.click("#card .tick input")
    b.click("#card button.go", "Go on")
    b.wait("deskPage.desk.session.state === 'drawing'", 10)
    w.desk.post("request", request="pause-now", serial=0)
    b.wait("['held', 'paused'].includes(deskPage.desk.session.state)", 20)
    time.sleep(0.2)
    shoot("draw-held")
    w.desk.post("request", request="park", serial=w.state("session.serial"))
    b.wait("deskPage.desk.session.state === 'parked'", 20)
    time.sleep(0.2)
    shoot("draw-parked")
    w.desk.post("request", request="stop", serial=0)
    b.wait("deskPage.desk.run.phase === 'ended'", 20)
    time.sleep(0.2)
    shoot("draw-stopped")
    assert w.desk.post("resume", run=w.state("run.id"), back_strokes=3, from_place=False, serial=w.state("session.serial"))[0] == 200
    b.wait("deskPage.desk.run.phase === 'ready' && deskPage.desk.drawing.strokes > 0", 30)
    time.sleep(0.3)
    shoot("draw-resume")
    b.click("#card button.go", "Go on drawing")
    w.pens_in()
    time.sleep(0.3)
    shoot("draw-done")
    b.run("deskPage.show('measure')")
    b.click("#side .choice", "By hand")
    b.click("#side button", "Home the machine")
    b.wait("deskPage.desk.session.state === 'ready' && deskPage.desk.session.homed", 30)
    time.sleep(0.2)
    shoot("measure-homed")
    w.desk.post("jog", kind="to", x=60, y=40, serial=w.state("session.serial"))
    b.wait("deskPage.desk.session.state === 'ready' && deskPage.desk.session.tip[0] > 50", 30)
    w.desk.post("touch-corner", which="left", serial=w.state("session.serial"))
    b.wait("deskPage.desk.drawing.left", 10)
    b.click("#side .choice", "Corners")
    time.sleep(0.2)
    shoot("measure-corner")
    b.click("#side .choice", "Test sheets")
    draw_sheet(w, "all")
    b.run("deskPage.show('measure')")
    b.wait("[...document.querySelectorAll('#side button')].some(e => e.textContent.startsWith('Read sheet') && !e.disabled)", 10)
    time.sleep(0.2)
    shoot("measure-sheet")
    open_sheet(w)
    wait_question(w, "X1")
    b.click_at(*place_of(w, "X1", 4))
    shoot("reading-comb")
    sheet = w.desk.get("/measure")["sheet"]
    for a in sheet["asks"]:
        for i in range(len(a["answers"])):
            middle = 5 if a["kind"] != "rule" else (a["least"] + a["most"]) / 2 + 0.3
            text = f"{min(max(middle, a['least']), a['most']):g}" if a["name"][0] != "S" else "0"
            assert w.desk.post("keep-reading", sheet=sheet["number"], ask=a["name"], i=i, text=text)[0] == 200
    for kind in ("rule", "ladder"):
        name = next((a["name"] for a in sheet["asks"] if a["kind"] == kind), None)
        if name:
            b.click(".step", name)
            b.wait("document.querySelector('.comb')", 5)
            time.sleep(0.2)
            shoot(f"reading-{kind}")
    upright = next(a["name"] for a in sheet["asks"] if a["name"].startswith("Y"))
    b.click(".step", upright)
    b.wait("document.querySelector('.comb.upright')", 5)
    shoot("reading-upright")
    b.click(".step", "What follows")
    b.wait("document.querySelector('.write button.go')", 5, "what follows")
    b.run("for (const d of document.querySelectorAll('.question details')) d.open = true")
    shoot("reading-result")
    b.click(".write button.go", "Write to the profile")
    b.wait("document.querySelector('.write')?.textContent.includes('are in workshop.ini')", 10)
    shoot("reading-written")
    b.click(".reading-head button", "Close")
    assert w.desk.post("make-test-sheet", kind="slack")[0] == 200
    for a in w.desk.get("/measure")["sheet"]["asks"]:
        assert w.desk.post("keep-reading", sheet=2, ask=a["name"], i=0, text="4")[0] == 200
    b.click("#side button", "Compare two sheets")
    b.wait("document.querySelector('img.compare')?.naturalWidth > 0 && document.querySelector('.causes, .figures')", 20, "the comparison")
    shoot("reading-compare")
    b.click(".reading-head button", "Close")
    assert w.desk.post("make-test-sheet", kind="scan")[0] == 200
    b.wait("[...document.querySelectorAll('#side button')].some(e => e.textContent === 'Read sheet 3 by scans')", 20, "the sheet for a scanner")
    b.click("#side button", "Read sheet 3 by scans")
    b.wait("document.querySelector('.question h3')", 5)
    shoot("reading-scans")
    b.click(".reading-head button", "Close")
    b.run("deskPage.show('machine')")
    b.wait("document.querySelectorAll('.key input').length > 20", 10)
    shoot("machine")
    b.run("for (const d of document.querySelectorAll('details')) d.open = true")
    shoot("machine-open")
    b.run("deskPage.show('log')")
    b.wait("document.querySelector('table')", 10)
    shoot("log")
    w.desk.drop("broken.svg", b"<svg><rect")
    b.wait("deskPage.desk.drawing.state === 'failed'", 20)
    b.run("deskPage.show('drawing')")
    time.sleep(0.2)
    shoot("drawing-failed")


LOOKS = {"light": (1440, 900, False), "dark": (1440, 900, True), "narrow": (390, 844, False), "narrow-dark": (390, 844, True), "wide": (2560, 1440, False), "small": (1280, 720, True)}


@case
def every_station_and_state_is_free_of_faults_by_axe_in_light_dark_and_narrow():
    script = witness.axe_source(OUT / "witness")
    shutil.rmtree(OUT / "pictures", ignore_errors=True)
    found, count = [], 0
    with Workshop() as w:
        def shoot(name):
            nonlocal count
            for look, (width, height, dark) in LOOKS.items():
                if look in ("wide", "small") and name not in ("drawing-plan", "draw-pen", "machine", "log", "measure-homed"):
                    continue
                w.b.resize(width, height)
                w.b.media(dark)
                time.sleep(0.12)
                w.b.run("scrollTo(0, 0)")
                if name.startswith(("draw", "measure")) and w.b.run("deskPage.painted?.whole !== undefined") and w.state("drawing.strokes"):
                    w.b.wait("deskPage.painted?.whole && deskPage.painted.w === document.getElementById('bed').clientWidth", 10)
                    time.sleep(0.06)
                assert w.b.run(f"document.documentElement.scrollWidth <= {width}"), f"{name} {look} scrolls sideways"
                w.b.picture(OUT / f"pictures/{name}-{look}.png")
                count += 1
                if script and look not in ("wide", "small"):
                    found.extend((name, look, *v) for v in witness.violations(w.b, script))
            w.b.resize(1440, 900)
            w.b.media(False)
        every_state(w, shoot)
        w.b.complaints[:] = [c for c in w.b.complaints if "409" not in c]
    first = {}
    for f in found:
        first.setdefault((f[2], f[4]), f)
    assert count > 60 and not found, f"{len(found)} in {count}:\n# " + "\n# ".join(str(f) for f in list(first.values())[:16])
    if not script:
        return "axe-core cannot be had here; the pictures alone were made"


@case
def the_page_is_small_and_asks_nothing_of_others():
    with Workshop() as w:
        w.b.events.clear()
        w.b.call("Page.reload")
        w.b.wait("window.deskPage && deskPage.desk.session", 20)
        time.sleep(0.3)
        w.b.run("1")
        size = sum(e["params"]["encodedDataLength"] for e in w.b.events if e["method"] == "Network.loadingFinished")
        urls = [e["params"]["request"]["url"] for e in w.b.events if e["method"] == "Network.requestWillBeSent"]
        assert 20_000 < size <= 300_000, size
        assert urls and all(u.startswith(f"http://127.0.0.1:{w.desk.port}/") for u in urls), urls


def main():
    if not browser.find():
        print("1..0 # SKIP there is no chromium")
        return 0
    slow = [every_station_and_state_is_free_of_faults_by_axe_in_light_dark_and_narrow]  # a test of its own
    wanted = [c for c in cases if (any(word in c.__name__ for word in sys.argv[4:]) if len(sys.argv) > 4 else c not in slow)]
    print(f"1..{len(wanted)}", flush=True)
    failed = 0
    for number, function in enumerate(wanted, 1):
        began = time.monotonic()
        try:
            note = function()
            skip = f" # SKIP {note}" if note else ""
            print(f"ok {number} {function.__name__}{skip}", flush=True)
        except Exception as error:  # a check that breaks is a check that fails
            failed += 1
            print(f"not ok {number} {function.__name__}\n# {type(error).__name__}: {str(error)[:2500]}", flush=True)
        print(f"# {time.monotonic() - began:.1f} s", flush=True)
    return failed > 0


sys.exit(main())
