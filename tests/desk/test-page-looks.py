#!/usr/bin/env python3
"""A picture of every station and state of the desk's page, in Chromium, free of faults by axe-core and WCAG 2.2
in light, dark and narrow. Speaks TAP.
Usage: test-page-looks.py DRAWTRUE EXAMPLES OUT [CASE...]"""
import pathlib
import shutil
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import witness
from workshop import OUT, Workshop, draw_sheet, main, open_sheet, place_of, wait_question

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case

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
    assert b.run("document.getElementById('state-word').textContent") == "Ready", "a run that has ended is told instead"
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
        assert w.desk.post("keep-reading", sheet=2, ask=a["name"], i=0, text="1" if a["name"].startswith("T") else "4")[0] == 200
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
                if look == "narrow" and w.b.run("document.querySelector('.steps-bar') !== null"):
                    row = w.b.run("(() => { const r = document.querySelector('.steps-bar'), c = r.querySelector('[aria-current]').getBoundingClientRect(); return [r.clientHeight, c.x, c.right]; })()")
                    assert row[0] < 70 and row[1] >= 0 and row[2] <= width, f"{name}: the question at hand is not in the row: {row}"
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
def where_two_pens_cross_the_ink_is_darker_than_either_whichever_comes_first():
    with Workshop() as w:
        seen = w.b.run("""import("/js/ink.js").then(async ({ InkPainter }) => {
            const seen = [];
            for (const pens of [["#e08060", "#80cc99"], ["#80cc99", "#e08060"]]) {
              const canvas = new OffscreenCanvas(40, 40), p = new InkPainter(canvas, () => {});
              p.setPens(pens.map((colour) => ({ colour, tip_mm: 6 })));
              p.setInk({ n: 3, total_s: 3, xy: new Float32Array([0, 20, 40, 20, 20, 0, 20, 40, 0, 20, 40, 20]),
                first: new Uint32Array([0, 2, 4, 6]), begin: new Float32Array([0, 1, 2]), end: new Float32Array([1, 2, 3]),
                pen: new Uint8Array([0, 1, 0]),
                box: new Float32Array([0, 20, 40, 20, 20, 0, 20, 40, 0, 20, 40, 20]) });
              p.setView({ scale: 1, x: 0, y: 40, w: 40, h: 40, ratio: 1 });
              for (const t of [1.9, 4]) {
                p.setShow({ t, pale: false });
                while (p.made < 3) await new Promise((done) => setTimeout(done, 5));
                p.paint();
                for (const [x, y] of [[20, 20], [5, 20], [20, 5]])
                  seen.push([...canvas.getContext("2d").getImageData(x, y, 1, 1).data]);
              }
            }
            return seen;
          })""")
        one, two, both = [224, 128, 96, 255], [128, 204, 153, 255], [128, 128, 96, 255]
        assert seen == 2 * [both, one, two] + 2 * [both, two, one], seen


main()
