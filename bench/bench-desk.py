#!/usr/bin/env python3
"""bench-desk: how quick the desk is for a person, what its page takes, and what is left of a run after
faults, each against its bar. Usage: bench-desk [--quick] [--faults N] [--seed N] [PART...]; parts are
page, scrub, axe and faults; without one, all. Run by ./dev bench --desk."""
import argparse
import math
import os
import pathlib
import random
import sys
import tempfile
import time

PROGRAM, SOURCE = str(pathlib.Path(sys.argv[1]).resolve()), pathlib.Path(sys.argv[2])
sys.path.insert(0, str(SOURCE / "tests/desk"))
import browser
import desk_faults
import witness
from desk import Desk
from desk_faults import rig_file
from played import Played

EXAMPLES = SOURCE / "examples"
WITNESS = "build/witness"  # what npm fetched
missed = 0


def open_browser():
    """By playwright-core; where npm cannot fetch it, by our own client of the browser's protocol."""
    return Played(WITNESS) if witness.modules(WITNESS) else browser.Browser()


def row(name, value, bar, unit):
    global missed
    good = value <= bar
    missed += not good
    print(f"  {name:<58}{value:10.3f} of {bar:8.3f} {unit:<6}{'' if good else '  TOO MUCH'}", flush=True)


def quantile(values, share):
    values = sorted(values)
    return values[min(len(values) - 1, int(share * len(values)))] if values else math.inf


# The page -----------------------------------------------------------------------------------------


def start_time(b, folder, times=5):
    """From the command to a page that can be used, the browser being open."""
    found = []
    for _ in range(times):
        began = time.monotonic()
        d = Desk(PROGRAM, "--machine", str(EXAMPLES / "workshop.ini"), "--rig-file", str(rig_file(folder)))
        b.open(d.address)
        b.wait("document.querySelector('#card h2') && deskPage.painted")
        found.append(time.monotonic() - began)
        b.leave()
        d.close()
    return found


ON_PAGE = """
window.times = { drop: [], option: [], event: [] };
window.until = (test) => new Promise(done => { const t = setInterval(() => { if (test()) { clearInterval(t); done(); } }, 4); });
window.paints = 0; window.waiting = null; window.lastEvent = 0;
deskPage.onPainted = (d) => {
  paints++;
  if (waiting && waiting(d)) { waiting = null; }
  const e = deskPage.desk.session?.event_ms ?? 0;
  if (e !== lastEvent && deskPage.desk.run?.phase === "active" && e > 0) { lastEvent = e; times.event.push(Date.now() - e); }
};
"""


def page_times(b, d, folder, quick):
    art = (EXAMPLES / "garden-bed.svg").read_bytes()
    b.run(ON_PAGE)
    drops = []
    for i in range(2 if quick else 5):
        path = pathlib.Path(folder) / f"garden-{i}.svg"
        path.write_bytes(art)
        number = b.run("deskPage.desk.drawing.ink")
        began = time.monotonic()
        b.drop(path)
        b.wait(f"deskPage.desk.drawing.ink > {number} && deskPage.desk.drawing.strokes > 100 && deskPage.painted.whole && deskPage.painted.strokes > 100")
        drops.append(time.monotonic() - began)
        b.wait("deskPage.desk.run.phase === 'ready'", 60)
    row("garden map dropped to picture, median", quantile(drops, 0.5), 1, "s")
    row("garden map dropped to picture, worst", max(drops), 1, "s")
    changes = []
    for i in range(3 if quick else 10):
        if i % 2 == 0:
            b.wait("deskPage.desk.run.phase === 'ready'", 60)  # every other one comes while a plan is under way
        number = b.run("deskPage.desk.drawing.ink")
        began = time.monotonic()
        assert d.post("set-options", values={"hatch": ("lines", "serpentine")[i % 2], "margin": 5 + i})[0] == 200
        b.wait(f"deskPage.desk.drawing.ink > {number} && deskPage.painted.whole && deskPage.painted.strokes > 100 && deskPage.desk.drawing.options.margin === {5 + i}")
        changes.append(time.monotonic() - began)
    row("an option changed to new picture, median", quantile(changes, 0.5), 1, "s")
    row("an option changed to new picture, worst", max(changes), 1, "s")


def event_times(b, d):
    b.wait("deskPage.desk.run.phase === 'ready'", 60)
    b.run("deskPage.show('draw')")
    b.run("times.event.length = 0")
    status, said = d.post("start", revision=b.run("deskPage.desk.drawing.revision"), serial=b.run("deskPage.desk.session.serial"), despite=True)
    assert status == 200, said
    while b.run("deskPage.desk.run.phase") != "ended":
        if b.run("deskPage.desk.session.state") == "pen-change":
            d.post("request", request="go-on", serial=b.run("deskPage.desk.session.serial"))
        time.sleep(0.1)
    times = b.run("times.event")
    print(f"  {len(times)} events that came to the picture", flush=True)
    row("event to pixel, median", quantile(times, 0.5) / 1000, 0.1, "s")
    row("event to pixel, 95 %", quantile(times, 0.95) / 1000, 0.1, "s")


def page_part(quick):
    print("page", flush=True)
    with tempfile.TemporaryDirectory() as folder, open_browser() as b:
        row("from 'drawtrue desk --rig' to a page, median", quantile(start_time(b, folder), 0.5), 1, "s")
        with Desk(PROGRAM, "--machine", str(EXAMPLES / "workshop.ini"), "--rig-file", str(rig_file(folder))) as d:
            b.events.clear()
            b.open(d.address)
            time.sleep(0.5)
            b.run("1")
            size = sum(e["params"]["encodedDataLength"] for e in b.events if e["method"] == "Network.loadingFinished")
            row("loaded by the page", size / 1000, 300, "kB")
            page_times(b, d, folder, quick)
            event_times(b, d)


# Scrubbing ------------------------------------------------------------------------------------------


def big_program(path, n, seed=1):
    """n strokes of two to four points all over the sheet."""
    r = random.Random(seed)
    with open(path, "w") as f:
        f.write("G21\nG90\nM5\nG28\n")
        for i in range(n):
            x, y = r.uniform(30, 215), r.uniform(30, 155)
            f.write(f"G0 X{x:.2f} Y{y:.2f}\nM3 S40\nG4 P0.15\n")
            for _ in range(r.randrange(1, 4)):
                x, y = x + r.uniform(-1.5, 1.5), y + r.uniform(-1.5, 1.5)
                f.write(f"G1 X{x:.2f} Y{y:.2f} F600\n")
            f.write("M5\nG4 P0.1\n")
        f.write("M2\n")


SCRUB = """(async () => {
  const all = deskPage.desk.drawing.total_s, found = [], draw = [];
  const step = (t) => new Promise(done => { const began = performance.now();
    deskPage.onPainted = (d) => { if (Math.abs(d.t - t) < 1e-6) { found.push(performance.now() - began); draw.push(d.ms); done(); } };
    deskPage.scrub(t); });
  let t = all / 2, way = 1;
  for (let i = 0; i < %d; i++) {
    if (i %% 25 === 24) { t = all * ((i * 0.6180339887) %% 1); way = -way; } else t += way * all / 900;
    t = Math.max(0.001, Math.min(all, t));
    await step(t);
  }
  return [found, draw];
})()"""


def renderer_memory(b):
    """MB that the page's processes have to themselves or share evenly with others (Pss)."""
    kB = 0
    for pid in os.listdir("/proc"):
        try:
            if not pid.isdigit() or b.home.encode() not in pathlib.Path(f"/proc/{pid}/cmdline").read_bytes():
                continue
            if b"--type=renderer" not in pathlib.Path(f"/proc/{pid}/cmdline").read_bytes():
                continue
            for line in pathlib.Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
                if line.startswith("Pss:"):
                    kB += int(line.split()[1])
        except OSError:
            pass
    return kB / 1000


def scrub_part(quick):
    for n, share, bar in ((100_000, 0.95, 33), (1_000_000, 0.95, 100)):
        if quick and n > 100_000:
            return
        print(f"scrub {n:,} strokes", flush=True)
        with tempfile.TemporaryDirectory() as folder, open_browser() as b:
            path = pathlib.Path(folder) / "big.nc"
            big_program(path, n)
            with Desk(PROGRAM, "--machine", str(EXAMPLES / "workshop.ini"), str(path)) as d:
                began = time.monotonic()
                b.open(d.address)
                b.wait(f"deskPage.desk.drawing.strokes >= {n}", 300, "the program")
                b.wait("deskPage.painted?.whole && deskPage.painted.strokes > 0", 120, "its ink")
                print(f"  first picture after {time.monotonic() - began:.1f} s", flush=True)
                found, draw = b.run(SCRUB % (200 if quick else 500), 600)
                row("a frame of scrubbing, median", quantile(found, 0.5), bar, "ms")
                row(f"a frame of scrubbing, {share:.0%}", quantile(found, share), bar, "ms")
                row("of it drawn in the worker", quantile(draw, share), bar, "ms")
                if n >= 1_000_000:
                    row("memory of the page", renderer_memory(b), 600, "MB")


# axe ------------------------------------------------------------------------------------------------


def axe_part(_quick):
    print("axe-core, every station in light, dark and narrow", flush=True)
    script = witness.axe_source(WITNESS)
    if script is None:
        print("  axe-core cannot be had here (npm is missing or finds no way out)")
        return
    found = []
    with tempfile.TemporaryDirectory() as folder, open_browser() as b, \
            Desk(PROGRAM, "--machine", str(EXAMPLES / "workshop.ini"), "--rig-file", str(rig_file(folder))) as d:
        b.open(d.address)
        d.drop("garden-bed.svg", (EXAMPLES / "garden-bed.svg").read_bytes())
        b.wait("deskPage.desk.run.phase === 'ready'", 60)
        for station in ("drawing", "draw", "measure", "machine", "log"):
            b.run(f"deskPage.show('{station}')")
            time.sleep(0.4)
            b.run("for (const f of document.querySelectorAll('details')) f.open = true")
            for width, dark in ((1440, False), (1440, True), (390, False), (390, True)):
                b.resize(width, 900)
                b.media(dark)
                time.sleep(0.2)
                found += [(station, width, "dark" if dark else "light", *v) for v in witness.violations(b, script)]
    for f in found[:10]:
        print("  ", f)
    row("violations", len(found), 0, "")


# Faults -----------------------------------------------------------------------------------------------


def faults_part(quick, count, seed):
    count = count or (9 if quick else 27)
    print(f"faults, {count} runs at random, seed {seed}", flush=True)
    row("runs that ended otherwise than they should", desk_faults.campaign(count, seed), 0, "")


def main():
    a = argparse.ArgumentParser(prog="bench-desk", description=__doc__.split("Usage")[0])
    a.add_argument("parts", nargs="*", choices=["page", "scrub", "axe", "faults", []])
    a.add_argument("--quick", action="store_true", help="fewer repetitions, no million strokes")
    a.add_argument("--faults", type=int, default=0, metavar="N", help="so many runs with faults")
    a.add_argument("--seed", type=int, default=1)
    o = a.parse_args(sys.argv[3:])
    parts = o.parts or ["page", "scrub", "axe", "faults"]
    if browser.find() is None:
        print("bench: there is no chromium", file=sys.stderr)
        return 3
    print("driven by " + ("playwright-core" if witness.modules(WITNESS) else "our own client: npm cannot fetch playwright-core here"), flush=True)
    if "page" in parts:
        page_part(o.quick)
    if "scrub" in parts:
        scrub_part(o.quick)
    if "axe" in parts:
        axe_part(o.quick)
    if "faults" in parts:
        faults_part(o.quick, o.faults, o.seed)
    return 1 if missed else 0


sys.exit(main())
