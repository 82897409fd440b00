#!/usr/bin/env python3
"""The desk's page in Chromium on the virtual machine: the whole job by mouse, by keyboard and by the
commands' --json ends in the same program and the same ink; Stop, faults of the page, text that is no
markup. Speaks TAP.
Usage: test-page.py DRAWTRUE EXAMPLES OUT [CASE...]"""
import json
import pathlib
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from workshop import PROGRAM, STATIONS, Workshop, landed, main, other_ink

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case

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
    for name, ink in (("mouse", mouse[1]), ("keyboard", keyboard[1])):
        other = other_ink(ink, command[1])
        assert other is None, f"the {name} puts other ink down: {other}"


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
        b.excuse("/set-options")  # the refusal itself, as the browser's console tells it
        time.sleep(10)
        assert b.run("document.querySelector('.toast') !== null"), "a complaint has gone before it was read"
        b.run("(() => { const i = [...document.querySelectorAll('.option')].find(o => o.textContent.startsWith('Tolerance')).querySelector('input');"
              " i.value = '0.1'; i.dispatchEvent(new Event('change')); })()")
        b.wait("deskPage.desk.drawing.options.tolerance && !document.querySelector('.toast')", 10, "the complaint to go with its cause")


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
        drawn, planned = w.state("session.stroke"), w.state("drawing.strokes")
        b.mouse("mouseMoved", *b.run("(() => { const b = document.getElementById('strip-slider').getBoundingClientRect(); return [b.x + 1, b.y + 9]; })()"))
        assert b.run("document.getElementById('strip-slider').title") == "", "what belongs to every run is marked"
        w.desk.kill()
        b.wait("!deskPage.desk.online", 10, "the page to say so")
        told = b.run("document.getElementById('offline').innerText")
        assert "cut its supply" in told and "start it again" in told and "not affected" not in told, told
        assert b.run("document.getElementById('card').inert && document.getElementById('side').inert"), "what nobody answers can be pressed"
        b.click("#stop")
        b.wait("document.querySelector('.toast')?.textContent.includes('cut its supply')", 5, "what Stop cannot do")
        assert b.run("document.getElementById('state-word').textContent") == "No connection to the desk"
        w.desk.process.stdout.close()
        w.desk.process.stderr.close()
        w.desk.start()
        b.leave()  # or the old page could still complain that it reaches nobody
        b.wait("location.href === 'about:blank'", what="the empty page")
        b.complaints.clear()
        b.open(w.desk.address)
        b.wait("deskPage.desk.log.unfinished", 10, "the unfinished run")
        b.click("#card button", "Look at it")
        b.wait("deskPage.desk.run.phase === 'ready' && deskPage.desk.run.resumes > 0", 20, "the resume")
        goes_on = f"It goes on with stroke {drawn + 1} of {planned}."
        b.wait(f"document.getElementById('card').innerText.includes({json.dumps(goes_on)})", 5, "where it goes on")
        b.click("#card button.go", "Go on drawing")
        w.pens_in()
        assert w.state("run.ended") == "done" and drawn > 0
        left = w.state("run.strokes") - drawn
        assert len(w.ink()) == left, left  # a new sheet of the rig, with what was not drawn yet


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


main()
