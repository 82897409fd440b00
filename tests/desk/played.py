"""The same browser as in browser.py, driven by playwright-core (witness/driver.mjs) instead of by hand."""
import json
import os
import pathlib
import shutil
import subprocess
import tempfile
import time

import browser
import witness


class Played(browser.Browser):
    def __init__(self, folder, width=1440, height=900, dark=False, reduced=False):
        self.home = tempfile.mkdtemp(prefix="drawtrue-browser-")
        self.process = subprocess.Popen(["node", str(witness.LOCK / "driver.mjs"), str(witness.modules(folder)), browser.find(), self.home],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.count, self.data, self.frm = 0, b"", self.process.stdout.fileno()
        self.events, self.complaints = [], []
        assert self.answer(lambda m: m.get("method") == "ready", 30) is not None, "the browser does not start"
        self.resize(width, height)
        self.media(dark, reduced)

    def answer(self, test, timeout):
        limit = time.monotonic() + timeout
        while True:
            line, end, rest = self.data.partition(b"\n")
            if end:
                self.data = rest
                m = json.loads(line)
                if test(m):
                    return m
                if m.get("method") == "complaint":
                    self.complaints.append(m["params"])
                elif "method" in m:
                    self.events.append(m)
                    del self.events[:-4000]
                continue
            left = limit - time.monotonic()
            if left <= 0 or not browser.select.select([self.frm], [], [], left)[0]:
                return None
            more = os.read(self.frm, 1 << 20)
            assert more, "the browser has ended"
            self.data += more

    def ask(self, op, timeout=30, **values):
        self.count += 1
        number = self.count
        self.process.stdin.write(json.dumps({"id": number, "op": op, **values}).encode() + b"\n")
        self.process.stdin.flush()
        m = self.answer(lambda m: m.get("id") == number, timeout)
        assert m is not None, f"the browser does not answer {op}"
        assert "error" not in m, (op, values, m["error"])
        return m["value"]

    def call(self, method, timeout=30, **params):
        return self.ask("send", timeout, method=method, params=params)

    def open(self, address):
        self.ask("goto", url=address)
        self.wait("window.deskPage && deskPage.desk.session && deskPage.desk.machine", what="the page")

    def leave(self):
        self.ask("goto", url="about:blank")

    def run(self, script, timeout=30):
        return self.ask("run", timeout, script=script)

    def resize(self, width, height, scale=1):
        self.ask("size", width=width, height=height)

    def media(self, dark=False, reduced=False):
        self.ask("media", dark=dark, reduced=reduced)

    def click_at(self, x, y):
        self.ask("click", x=x, y=y)

    def key(self, key, shift=False):
        self.ask("key", key=f"Shift+{key}" if shift else key)

    def type(self, text):
        self.ask("type", text=text)

    def choose(self, selector, path):
        self.ask("choose", selector=selector, path=str(path))

    def picture(self, path):
        pathlib.Path(path).parent.mkdir(parents=True, exist_ok=True)
        self.ask("picture", path=str(path))

    def close(self):
        try:
            self.ask("close", 10)
            self.process.wait(timeout=10)
        except (AssertionError, OSError, subprocess.TimeoutExpired):
            self.process.kill()
            self.process.wait()
        self.process.stdin.close()
        self.process.stdout.close()
        shutil.rmtree(self.home, ignore_errors=True)
