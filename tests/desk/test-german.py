#!/usr/bin/env python3
"""The desk's page in German, in Chromium: chosen by the browser and by the switch, without a word of English left
over, nothing clipped, overlapping or wider than the window, and free of faults by axe-core. Speaks TAP.
Usage: test-german.py DRAWTRUE EXAMPLES OUT [CASE...]"""
import json
import pathlib
import shutil
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import browser
import witness
from desk import Desk

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases

PROGRAM, EXAMPLES, OUT = (pathlib.Path(p).resolve() for p in sys.argv[1:4])
WIDTHS = {"wide": (1720, 1000), "usual": (1280, 800), "narrow": (390, 800), "phone": (360, 740)}
STATIONS = ("drawing", "draw", "measure", "machine", "log")

# Texts of the page that are an English text of the catalogue, where its German is another one.
LEFT_OVER = """(async () => {
  const { de } = (await import("/js/catalogue.js")).default;
  const english = new Map(Object.entries(de.texts).filter(([text, german]) => german !== text && typeof german === "string"));
  const german = new Set([...english.values()]), found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n = walker.nextNode(); n; n = walker.nextNode()) {
    const text = n.data.trim();
    if (english.has(text) && !german.has(text)) found.push(text);
  }
  for (const name of ["aria-label", "title", "placeholder", "alt"])
    for (const e of document.querySelectorAll(`[${name}]`))
      if (english.has(e.getAttribute(name)) && !german.has(e.getAttribute(name))) found.push(`${name}: ${e.getAttribute(name)}`);
  return found;
})()"""

# Texts that leave their box, or lie on one another.
CROWDED = """(() => {
  const seen = (e) => e.checkVisibility({ visibilityProperty: true, opacityProperty: true }) && !e.closest(".hidden, [aria-hidden=true]");
  const found = [], boxes = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n = walker.nextNode(); n; n = walker.nextNode()) {
    const e = n.parentElement, text = n.data.trim();
    if (!text || !seen(e) || e.closest("option, svg, script, .scroll, #bed-marks")) continue;
    const range = document.createRange();
    range.selectNodeContents(n);
    for (let b = e; b !== document.body; b = b.parentElement) {
      const s = getComputedStyle(b);
      if (s.overflowX !== "visible" && b.scrollWidth > b.clientWidth + 1 && s.overflowX !== "auto" && s.overflowX !== "scroll") {
        found.push(`clipped: ${text}`);
        break;
      }
    }
    const button = e.closest("button, label.choice, [role=tab]")?.getBoundingClientRect();
    for (const r of range.getClientRects()) {
      if (r.width < 2 || r.bottom < 0 || r.top > innerHeight) continue;
      if (r.right > innerWidth + 1 || r.left < -1) found.push(`beyond the window: ${text}`);
      if (button && (r.right > button.right + 1 || r.left < button.left - 1)) found.push(`beyond its button: ${text}`);
      boxes.push([r, e, text]);
    }
  }
  for (let i = 0; i < boxes.length; i++)
    for (let k = i + 1; k < boxes.length; k++) {
      const [a, ea, ta] = boxes[i], [b, eb, tb] = boxes[k];
      if (ea === eb || ea.contains(eb) || eb.contains(ea)) continue;
      if (getComputedStyle(ea).position === "fixed" || ea.closest(".savebar, .top, #strip, .toasts") !== eb.closest(".savebar, .top, #strip, .toasts")) continue;
      const w = Math.min(a.right, b.right) - Math.max(a.left, b.left), h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (w > 3 && h > 5) found.push(`"${ta}" lies on "${tb}"`);
    }
  return [...new Set(found)];
})()"""


class Workshop:
    """A desk on the rig with a drawing on its bed, and a browser that asks for German."""

    def __init__(self, languages="de-AT,de;q=0.9,en;q=0.8"):
        self.start = pathlib.Path(tempfile.mkdtemp(prefix="drawtrue-german-"))
        for name in ("packet-label.svg", "workshop.ini", "rig.ini"):
            shutil.copy(EXAMPLES / name, self.start)
        self.desk = Desk(str(PROGRAM), "--machine", str(self.start / "workshop.ini"), "--rig-file", str(self.start / "rig.ini"), folder=self.start)
        self.b = browser.Browser(1280, 800)
        agent = self.b.run("navigator.userAgent")
        self.b.call("Network.setUserAgentOverride", userAgent=agent, acceptLanguage=languages)
        self.b.open(self.desk.address)

    def plan(self):
        self.b.choose("#file", self.start / "packet-label.svg")
        self.b.wait("deskPage.desk.run.phase === 'ready' && deskPage.desk.drawing.own", 60, "a plan")

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.b.close()
        self.desk.close()
        shutil.rmtree(self.start, ignore_errors=True)


@case
def the_browser_and_the_switch_choose_the_language():
    with Workshop() as w:
        assert w.b.run("document.documentElement.lang") == "de"
        assert w.b.run("document.getElementById('stop-word').textContent") == "Stopp"
        assert w.b.run("document.getElementById('bed-focus').getAttribute('aria-label')") == "Die Zeichenfläche von oben"
        said = w.b.run("(async () => (await (await fetch('/options')).json()).options.find(o => o.name === 'no_turn').help)()")
        assert said == "Die Zeichnung nicht zum besseren Einpassen drehen", said
        said = w.b.run("(async () => (await (await fetch('/dance', {method: 'POST', headers: {'Content-Type': 'application/json'}, body: '{}'})).json()).error)()")
        assert said == "diese Aktion gibt es nicht", said
        w.b.run("(() => { const s = document.querySelector('.language select'); s.value = 'en'; s.dispatchEvent(new Event('change')); })()")
        w.b.wait("document.documentElement.lang === 'en' && document.getElementById('stop-word').textContent === 'Stop'"
                 " && window.deskPage && deskPage.desk.session", 20)
        said = w.b.run("(async () => (await (await fetch('/options')).json()).options.find(o => o.name === 'no_turn').help)()")
        assert said == "Do not turn the drawing to fit better", said
    with Workshop("fr,en;q=0.5,de;q=0.4") as w:
        assert w.b.run("document.documentElement.lang") == "en"


@case
def every_station_is_german_whole_and_uncrowded():
    script = witness.axe_source(OUT / "witness")
    found, count = [], 0
    with Workshop() as w:
        def look_at(name):
            nonlocal count
            found.extend((name, "English", text) for text in w.b.run(LEFT_OVER))
            for width, (x, y) in WIDTHS.items():
                w.b.resize(x, y)
                time.sleep(0.2)
                w.b.run("scrollTo(0, 0)")
                crowded = w.b.run(CROWDED)
                for _ in range(4):  # marks on the bed follow a resize, and a moving tip, an update later
                    if crowded:
                        time.sleep(0.3)
                        crowded = w.b.run(CROWDED)
                found.extend((name, width, text) for text in crowded)
                if not w.b.run(f"document.documentElement.scrollWidth <= {x}"):
                    found.append((name, width, "scrolls sideways"))
                w.b.picture(OUT / f"german/{name}-{width}.png")
                if script and width != "wide":
                    found.extend((name, width, *v) for v in witness.violations(w.b, script))
                count += 1
            w.b.resize(1280, 800)
        look_at("empty")
        w.plan()
        w.b.run("for (const d of document.querySelectorAll('#side details, #card details')) d.open = true")
        for station in STATIONS:
            w.b.run(f"deskPage.show({json.dumps(station)})")
            time.sleep(0.4)
            w.b.run("for (const d of document.querySelectorAll('details')) d.open = true")
            time.sleep(0.2)
            look_at(station)
        for part in ("hand", "corners"):
            w.b.run("deskPage.show('measure')")
            w.b.run(f"document.querySelector('.parts input[value={part}]').click()")
            time.sleep(0.2)
            look_at(f"measure-{part}")
        w.b.run("(async () => { await fetch('/make-test-sheet', {method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify({kind: 'all'})}); })()")
        w.b.wait("deskPage.desk.run.phase === 'ready' && deskPage.desk.drawing.name?.startsWith('sheet')", 60, "a test sheet")
        w.b.run("deskPage.show('draw')")
        w.b.wait("document.querySelector('#card button.go') && !document.querySelector('#card button.go').disabled", 20)
        look_at("draw-sheet")
        w.b.run("document.querySelector('#card button.go').click()")
        w.b.wait("deskPage.desk.session.state === 'pen-change' || deskPage.desk.session.state === 'drawing'", 30, "a run")
        look_at("running")
        w.b.wait("deskPage.desk.session.state === 'pen-change'", 90, "the turned paper")
        look_at("pen-change")
        w.b.run("(async () => { await fetch('/request', {method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify({request: 'stop', serial: 0})}); })()")
        w.b.wait("deskPage.desk.run.phase === 'ended'", 60, "the end")
        look_at("ended")
        w.b.run("deskPage.show('log')")
        time.sleep(0.4)
        look_at("log-run")
    assert count > 30 and not found, f"{len(found)}:\n# " + "\n# ".join(str(f) for f in found[:40])
    return None if script else "axe-core cannot be had here"


if not browser.find():
    print("1..0 # SKIP there is no chromium")
else:
    run_cases(wanted=sys.argv[4:])
