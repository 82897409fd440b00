#!/usr/bin/env python3
"""bench-desk-faults: runs on the desk with faults at random, each judged by the ink that has landed, by what
pages are told afterwards and by how the desk ends. Usage: bench-desk-faults [N] [--seed N] [--jobs N]
[--kind KIND]; 24 runs without a number. Run by ./dev bench --desk-faults N."""
import argparse
import concurrent.futures
import json
import math
import os
import pathlib
import random
import select
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

PROGRAM, SOURCE = str(pathlib.Path(sys.argv[1]).resolve()), pathlib.Path(sys.argv[2])
sys.path.insert(0, str(SOURCE / "tests/desk"))
from desk import Desk, Page

EXAMPLES = SOURCE / "examples"
PATIENCE_S = 180
PAUSE_S = 30
# At most the stroke at hand is drawn again, and at most it is missing until a resume: of all ink that lies
# on the sheet in the end, at most this share may lie elsewhere.
MOST_ELSEWHERE, MOST_MISSING = 0.002, 0.001
WAITS = ("pen-change", "paused", "held", "parked")


def rig_file(folder, more=""):
    path = pathlib.Path(folder) / "order.rig"
    lines = ["order = green terracotta black" if line.startswith("order =") else line
             for line in (EXAMPLES / "rig.ini").read_text().splitlines()]
    path.write_text("\n".join(lines) + more)
    return path


# What a run stands on ----------------------------------------------------------------------------


class SmallDisk:
    """A file system of its own that can be filled; needs the right to mount one."""

    def __init__(self, folder):
        self.folder = pathlib.Path(folder)
        self.folder.mkdir()
        self.mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=24m", "none", str(self.folder)], capture_output=True).returncode == 0

    def fill(self):
        with open(self.folder / "filler", "wb", buffering=0) as f:
            try:
                while f.write(b"x" * 65536):
                    pass
            except OSError:
                pass
            try:
                while f.write(b"x"):
                    pass
            except OSError:
                pass

    def free(self):
        (self.folder / "filler").unlink(missing_ok=True)

    def close(self):
        if self.mounted:
            subprocess.run(["umount", "-l", str(self.folder)], capture_output=True)


class Relay:
    """A network between page and desk that can stand still both ways."""

    def __init__(self, port):
        self.to, self.stands, self.ends = port, threading.Event(), False
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        self.pairs, self.lock = {}, threading.Lock()
        threading.Thread(target=self.accept, daemon=True).start()
        threading.Thread(target=self.move, daemon=True).start()

    def accept(self):
        while not self.ends:
            try:
                one, _ = self.server.accept()
                other = socket.create_connection(("127.0.0.1", self.to))
            except OSError:
                return
            with self.lock:
                self.pairs[one], self.pairs[other] = other, one

    def move(self):
        while not self.ends:
            with self.lock:
                all = list(self.pairs)
            if not all or self.stands.is_set():
                time.sleep(0.02)
                continue
            for s in select.select(all, [], [], 0.05)[0]:
                try:
                    data = s.recv(65536)
                    if data:
                        self.pairs[s].sendall(data)
                except OSError:
                    data = b""
                if not data:
                    with self.lock:
                        other = self.pairs.pop(s, None)
                        self.pairs.pop(other, None)
                    for end in (s, other):
                        if end:
                            end.close()

    def close(self):
        self.ends = True
        self.server.close()
        with self.lock:
            for s in self.pairs:
                s.close()


class Bench:
    """A rig on its own, whose sheet outlives the desk, and a desk at its port."""

    def __init__(self, folder, more="", small=False):
        self.folder = pathlib.Path(folder)
        self.port = self.folder / "port"
        self.disk = SmallDisk(self.folder / "disk") if small else None
        self.rig = subprocess.Popen([PROGRAM, "rig", str(rig_file(folder, more)), "--link", str(self.port), "--out", str(self.folder / "ink")],
                                    stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        while not self.port.is_symlink():
            assert self.rig.poll() is None, "the rig does not start"
            time.sleep(0.01)
        own = ("--work", str(self.disk.folder / "work"), "--journal", str(self.disk.folder / "journal.db")) if small else ()
        self.desk = Desk(PROGRAM, "--machine", str(EXAMPLES / "workshop.ini"), "--port", str(self.port), *own, rig=False)

    def restart(self):
        self.desk.kill()
        self.desk.process.stdout.close()
        self.desk.process.stderr.close()
        self.desk.start()

    def close(self):
        """Ends both; what the rig says of the sheet."""
        try:
            code = self.desk.close()
            assert code == 0 and not self.desk.errors, (code, self.desk.errors[-500:])
        finally:
            self.rig.terminate()
            ended = self.rig.wait(timeout=60)
            if self.disk:
                self.disk.close()
        assert ended == 0, ended
        return json.loads((self.folder / "ink/ink.json").read_text())


# The ink --------------------------------------------------------------------------------------------


def strokes_by_pen(sheet):
    pens = {}
    for s in sheet["strokes"]:
        pens.setdefault(s["pen"], []).append(s.get("points", s.get("xy")))
    return pens


def samples(strokes, every=0.3):
    for points in strokes:
        pairs = points if isinstance(points[0], list) else list(zip(points[::2], points[1::2]))
        yield tuple(pairs[0])
        for (ax, ay), (bx, by) in zip(pairs, pairs[1:]):
            n = max(1, int(math.hypot(bx - ax, by - ay) / every))
            for k in range(1, n + 1):
                yield ax + (bx - ax) * k / n, ay + (by - ay) * k / n


def uncovered(of, by, near=0.35):
    """The share of the ink `of` that has no ink of the same pen in `by` within so many mm."""
    bad = total = 0
    for pen, strokes in of.items():
        cells = {(round(x / near), round(y / near)) for x, y in samples(by.get(pen, []))}
        for x, y in samples(strokes):
            i, j = round(x / near), round(y / near)
            total += 1
            bad += not any((i + a, j + b) in cells for a in (-1, 0, 1) for b in (-1, 0, 1))
    return bad / max(1, total)


# A run ------------------------------------------------------------------------------------------------


def begin(bench, art):
    page, bench.art = bench.desk.page(), art
    assert bench.desk.drop("label.svg", art)[0] == 200
    page.wait(lambda s: s["run"]["phase"] == "ready", 60, "a plan")
    status, said = bench.desk.post("start", revision=page.parts["drawing"]["revision"], serial=page.parts["session"]["serial"], despite=True)
    assert status == 200, said
    return page


def resume(bench, s, run):
    bench.desk.post("resume", run=run, back_strokes=0, from_place=False, serial=s["session"]["serial"])


def person(bench, s):
    """What somebody at the machine does next; TRUE where the run has ended as it should."""
    run, state = s["run"], s["session"]["state"]
    if run["phase"] == "ended":
        if run["ended"] == "done":
            return True
        if run["id"] or run["resumes"]:
            resume(bench, s, run["id"] or run["resumes"])
        else:  # it ended before it was a run that could be resumed: nothing is drawn
            bench.desk.post("again")
    elif run["phase"] == "none" and "unfinished" in s["log"]:
        resume(bench, s, s["log"]["unfinished"]["run"])
    elif run["phase"] == "none" and s["drawing"]["name"] is None:
        bench.desk.drop("label.svg", bench.art)  # the desk was killed before the run began
    elif run["phase"] == "none" and s["drawing"]["state"] == "failed":
        bench.desk.post("again")  # the disk was full when its program was written
    elif run["phase"] == "ready" and state in ("closed", "ready"):
        bench.desk.post("start", revision=s["drawing"]["revision"], serial=s["session"]["serial"], despite=True)
    elif state in WAITS:
        bench.desk.post("request", request="go-on", serial=s["session"]["serial"])
    return False


def finish(bench, page, trouble):
    """To the end, whatever happens; `trouble` is called now and then and may bring another page."""
    limit, s = time.monotonic() + PATIENCE_S, {}
    while time.monotonic() < limit:
        page = trouble(page) or page
        if not page.update(0.2) and page.frame(0) == (8, b""):
            page.close()
            page = bench.desk.page()
        s = page.parts
        if s and "session" in s and person(bench, s):
            return page
    raise AssertionError(f"no end: {s.get('session', {}).get('state')} {json.dumps(s.get('run'))[:600]}")


class Trouble:
    """Faults of some kinds, each at a moment of its own."""

    def __init__(self, bench, kinds, r):
        self.bench, self.r, self.others, self.relay, self.disagreed = bench, r, [], None, 0
        now = time.monotonic()
        self.due = sorted((now + r.uniform(0.05, 1.5), i, kind) for i, kind in enumerate(kinds))
        self.free_at = math.inf

    def __call__(self, page):
        now = time.monotonic()
        if now > self.free_at:
            self.bench.disk.free()
            self.free_at = math.inf
        if not self.due or now < self.due[0][0]:
            return None
        return getattr(self, self.due.pop(0)[2].replace(" ", "_"))(page)

    def page_closed(self, page):
        page.close()
        time.sleep(self.r.uniform(0, 0.5))
        return self.bench.desk.page()

    def page_reloaded(self, page):
        fresh = self.bench.desk.page()
        page.close()
        return fresh

    def pages_fighting(self, page):
        other = self.bench.desk.page()
        other.update()
        serial = other.parts["session"]["serial"]
        for request in self.r.sample(["go-on", "pause-at-lift", "pause-now", "park", "go-on", "pause-at-change"], 4):
            self.bench.desk.post("request", request=request, serial=serial)
            page.update(0.02)
        self.others.append(other)

    def network_paused(self, page):
        """Nothing passes for half a minute; then the page must know within a second what has become of it."""
        self.relay = Relay(self.bench.desk.port)
        page.close()
        slow = Page(self.bench.desk, port=self.relay.port)
        slow.update()
        self.relay.stands.set()
        time.sleep(PAUSE_S)
        self.relay.stands.clear()
        began = time.monotonic()
        fresh = self.bench.desk.page()
        fresh.update()
        while time.monotonic() - began < 1 and slow.parts.get("session", {}).get("state") != fresh.parts["session"]["state"]:
            slow.update(0.1)
            fresh.update(0)
        self.disagreed += slow.parts["session"]["state"] != fresh.parts["session"]["state"]
        self.others.append(fresh)
        return slow

    def desk_killed(self, page):
        page.close()
        self.bench.restart()
        return self.bench.desk.page()

    def stopped_by_hand(self, page):
        self.bench.desk.post("request", request="stop", serial=0)

    def disk_full(self, page):
        if not self.bench.disk.mounted:
            return
        self.bench.disk.fill()
        self.free_at = time.monotonic() + self.r.uniform(0.3, 2)

    def board_reset(self, page):
        """By the rig, at a line of its own."""

    board_unplugged = board_reset


KINDS = ("page closed", "page reloaded", "pages fighting", "network paused", "desk killed", "stopped by hand", "board reset", "board unplugged", "disk full")


def rig_faults(kinds, r):
    list = [{"board reset": "reset at line {}", "board unplugged": "unplug 1 at line {}"}[k].format(r.randrange(100, 3600))
            for k in kinds if k.startswith("board")]
    return f"\n[faults]\nlist = {'; '.join(list)}\n" if list else ""


def judge(bench, page, trouble, reference):
    """What is wrong with the end of a run; empty where nothing is."""
    began, found = time.monotonic(), []
    fresh = bench.desk.page()
    fresh.update()
    while time.monotonic() - began < 1 and not all(p.parts.get("run") == fresh.parts.get("run") for p in [page, *trouble.others]):
        for p in [page, *trouble.others]:
            p.update(0.02)
    if fresh.parts["run"]["ended"] != "done" or page.parts["run"]["ended"] != "done":
        found.append("pages do not agree that it is done")
    if trouble.disagreed:
        found.append("a page knew nothing new a second after its network was back")
    for p in [page, fresh, *trouble.others]:
        p.close()
    if trouble.relay:
        trouble.relay.close()
    sheet = bench.close()
    ink = strokes_by_pen(sheet)
    missing, elsewhere = uncovered(reference, ink), uncovered(ink, reference)
    if missing >= MOST_MISSING:
        found.append(f"{missing:.2%} of the ink is missing")
    if elsewhere >= MOST_ELSEWHERE:
        found.append(f"{elsewhere:.2%} of the ink lies elsewhere")
    if not sheet["figures"].get("pen_up_at_end", True):
        found.append("the pen is down at the end")
    return found


def one(number, seed, only, art, reference):
    r = random.Random(seed * 100003 + number)
    kinds = [only] * r.randint(1, 3) if only else [KINDS[number % len(KINDS)], *r.choices([k for k in KINDS if k != "network paused"], k=r.choice((0, 0, 1, 2)))]
    bench = None
    with tempfile.TemporaryDirectory(prefix="drawtrue-faults-") as folder:
        try:
            bench = Bench(folder, rig_faults(kinds, r), "disk full" in kinds)
            trouble = Trouble(bench, kinds, r)
            found = judge(bench, finish(bench, begin(bench, art), trouble), trouble, reference)
        except (AssertionError, OSError, KeyError) as error:
            found = [f"{type(error).__name__}: {str(error)[:400]}"]
            if bench:
                try:
                    bench.close()
                except (AssertionError, OSError):
                    pass
    return number, kinds, found


def campaign(count, seed=1, jobs=3, only=None):
    """How many of so many runs ended otherwise than they should."""
    art = (EXAMPLES / "packet-label.svg").read_bytes()
    with tempfile.TemporaryDirectory(prefix="drawtrue-faults-") as folder:
        bench = Bench(folder)
        finish(bench, begin(bench, art), lambda page: None).close()
        reference = strokes_by_pen(bench.close())
    bad, seen = 0, dict.fromkeys(KINDS, 0)
    with concurrent.futures.ThreadPoolExecutor(jobs) as pool:
        for number, kinds, found in pool.map(lambda i: one(i, seed, only, art, reference), range(count)):
            bad += bool(found)
            for kind in kinds:
                seen[kind] += 1
            if found:
                print(f"  run {number}, {', '.join(kinds)}: {'; '.join(found)}", flush=True)
            elif (number + 1) % 20 == 0:
                print(f"  {number + 1} of {count} runs, {bad} wrong", flush=True)
    print("  " + ", ".join(f"{kind} {n}" for kind, n in seen.items()))
    return bad


def main():
    a = argparse.ArgumentParser(prog="bench-desk-faults", description=__doc__.split("Usage")[0])
    a.add_argument("count", nargs="?", type=int, default=24)
    a.add_argument("--seed", type=int, default=1)
    a.add_argument("--jobs", type=int, default=3)
    a.add_argument("--kind", choices=KINDS)
    o = a.parse_args(sys.argv[3:])
    print(f"{o.count} runs with faults at random, seed {o.seed}", flush=True)
    bad = campaign(o.count, o.seed, o.jobs, o.kind)
    print(f"{o.count} runs, {bad} ended otherwise than they should")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
