"""Chromium for a test, through its own remote-debugging protocol on a pipe: no driver to install. One
tab; hands are mouse and key events as the system would send them."""
import base64
import json
import os
import pathlib
import select
import shutil
import subprocess
import tempfile
import time

from desk import PATIENCE

KEYS = {"Enter": ("Enter", 13, "\r"), "Tab": ("Tab", 9, ""), "Escape": ("Escape", 27, ""), " ": ("Space", 32, " "),
        "ArrowRight": ("ArrowRight", 39, ""), "ArrowLeft": ("ArrowLeft", 37, ""), "ArrowUp": ("ArrowUp", 38, ""),
        "ArrowDown": ("ArrowDown", 40, ""), "Home": ("Home", 36, ""), "End": ("End", 35, ""), "PageUp": ("PageUp", 33, ""),
        "PageDown": ("PageDown", 34, ""), "Backspace": ("Backspace", 8, "")}


def find():
    return shutil.which("chromium") or shutil.which("chromium-browser")


class Navigated(AssertionError):
    """The document that a call was about has gone: the page was loaded anew meanwhile."""


GONE = ("Inspected target navigated or closed", "Execution context was destroyed.", "Cannot find default execution context")


class Browser:
    def __init__(self, width=1440, height=900, dark=False, reduced=False):
        self.home = tempfile.mkdtemp(prefix="drawtrue-browser-")
        ours, theirs = os.pipe(), os.pipe()

        def place():
            os.dup2(ours[0], 60)
            os.dup2(theirs[1], 61)
            os.dup2(60, 3)
            os.dup2(61, 4)

        self.process = subprocess.Popen(
            [find(), "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--remote-debugging-pipe",
             "--disable-dev-shm-usage", "--hide-scrollbars", f"--user-data-dir={self.home}", "about:blank"],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, close_fds=False, preexec_fn=place)
        os.close(ours[0])
        os.close(theirs[1])
        self.to, self.frm, self.data, self.count = ours[1], theirs[0], b"", 0
        self.events, self.complaints = [], []
        self.session = None
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for name in ("Page", "Runtime", "Log", "Network", "DOM"):
            self.call(f"{name}.enable")
        self.call("Page.setInterceptFileChooserDialog", enabled=True)
        self.resize(width, height)
        self.media(dark, reduced)

    def resize(self, width, height, scale=1):
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=scale, mobile=False)

    def media(self, dark=False, reduced=False):
        self.call("Emulation.setEmulatedMedia", features=[
            {"name": "prefers-color-scheme", "value": "dark" if dark else "light"},
            {"name": "prefers-reduced-motion", "value": "reduce" if reduced else "no-preference"}])

    # The protocol ---------------------------------------------------------------------------------

    def receive(self, timeout):
        limit = time.monotonic() + timeout
        while b"\0" not in self.data:
            left = limit - time.monotonic()
            if left <= 0 or not select.select([self.frm], [], [], left)[0]:
                return None
            more = os.read(self.frm, 1 << 20)
            assert more, "the browser has ended"
            self.data += more
        text, _, self.data = self.data.partition(b"\0")
        message = json.loads(text)
        if "method" in message:
            self.note(message)
        return message

    def note(self, m):
        name, p = m["method"], m["params"]
        if name == "Runtime.exceptionThrown":
            d = p["exceptionDetails"]
            self.complaints.append(d.get("exception", {}).get("description", d["text"]))
        elif name == "Log.entryAdded" and p["entry"]["level"] == "error":
            self.complaints.append(p["entry"]["text"] + " " + p["entry"].get("url", ""))
        elif name == "Page.javascriptDialogOpening":
            self.complaints.append("a dialog: " + p["message"])
            self.send("Page.handleJavaScriptDialog", accept=True)
        else:
            self.events.append(m)
            del self.events[:-4000]

    def send(self, method, **params):
        self.count += 1
        message = {"id": self.count, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.to, json.dumps(message).encode() + b"\0")
        return self.count

    def call(self, method, timeout=30, **params):
        number = self.send(method, **params)
        limit = time.monotonic() + timeout
        while (m := self.receive(limit - time.monotonic())) is not None:
            if m.get("id") == number:
                if "error" in m:
                    raise (Navigated if m["error"]["message"] in GONE else AssertionError)((method, m["error"]))
                return m["result"]
        raise AssertionError(f"the browser does not answer {method}")

    # The page -------------------------------------------------------------------------------------

    def excuse(self, part, timeout=10):
        """Takes off the one complaint that the test provoked, once it has come."""
        limit = time.monotonic() + PATIENCE * timeout
        while not any(part in c for c in self.complaints):
            assert time.monotonic() < limit, (part, self.complaints)
            self.run("1")
        self.complaints.remove(next(c for c in self.complaints if part in c))

    def open(self, address):
        self.call("Page.navigate", url=address)
        self.wait("window.deskPage && deskPage.desk.session && deskPage.desk.machine", what="the page")

    def leave(self):
        self.call("Page.navigate", url="about:blank")

    def run(self, script, timeout=30):
        r = self.call("Runtime.evaluate", timeout, expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in r, (script, r["exceptionDetails"].get("exception", {}).get("description"))
        return r["result"].get("value")

    def wait(self, script, timeout=30, what=None):
        """The value of `script` once it is true. A page that is loaded anew on the way is waited for, too. `timeout`
        is for a machine with nothing else to do."""
        limit = time.monotonic() + PATIENCE * timeout
        while True:
            try:
                value = self.run(f"(() => {{ try {{ return {script}; }} catch (e) {{ return false; }} }})()")
            except Navigated:
                value = None
            if value not in (None, False, 0, ""):  # an element comes as {}
                return value
            if time.monotonic() > limit:
                raise AssertionError(f"waited in vain for {what or script}: " + str(self.run(
                    "JSON.stringify([deskPage.desk.session?.state, deskPage.desk.drawing?.state, deskPage.desk.drawing?.problem, deskPage.desk.run?.phase,"
                    " document.getElementById('toasts').textContent])")) + str(self.complaints))
            time.sleep(0.015)

    def place(self, selector, text=None):
        """The middle of what a person sees, scrolled to."""
        find = (f"[...document.querySelectorAll({json.dumps(selector)})].find(e => e.checkVisibility() && "
                + (f"e.textContent.trim().startsWith({json.dumps(text)}))" if text else "true)"))
        box = self.wait(f"(() => {{ const e = {find}; if (!e) return null; e.scrollIntoView({{block: 'nearest'}}); "
                        "const b = e.getBoundingClientRect(); return {x: b.x + b.width / 2, y: b.y + b.height / 2}; })()", 10, f"{selector} {text or ''}")
        return box["x"], box["y"]

    def mouse(self, kind, x, y, buttons=0, **more):
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, buttons=buttons, **more)

    def click_at(self, x, y):
        self.mouse("mouseMoved", x, y)
        self.mouse("mousePressed", x, y, 1, button="left", clickCount=1)
        self.mouse("mouseReleased", x, y, 0, button="left", clickCount=1)

    def click(self, selector, text=None):
        self.click_at(*self.place(selector, text))

    def drag(self, x, y, to_x, to_y, steps=6):
        self.mouse("mouseMoved", x, y)
        self.mouse("mousePressed", x, y, 1, button="left", clickCount=1)
        for i in range(1, steps + 1):
            self.mouse("mouseMoved", x + (to_x - x) * i / steps, y + (to_y - y) * i / steps, 1, button="left")
        self.mouse("mouseReleased", to_x, to_y, 0, button="left", clickCount=1)

    def drop(self, path, selector="#bed-focus"):
        x, y = self.place(selector)
        data = {"items": [], "files": [str(path)], "dragOperationsMask": 1}
        for kind in ("dragEnter", "dragOver", "drop"):
            self.call("Input.dispatchDragEvent", type=kind, x=x, y=y, data=data)

    def choose(self, selector, path):
        root = self.call("DOM.getDocument")["root"]["nodeId"]
        node = self.call("DOM.querySelector", nodeId=root, selector=selector)["nodeId"]
        self.call("DOM.setFileInputFiles", nodeId=node, files=[str(path)])

    def key(self, key, shift=False):
        code, number, text = KEYS.get(key, (f"Key{key.upper()}", ord(key.upper()[0]), key))
        what = {"key": key, "code": code, "windowsVirtualKeyCode": number, "modifiers": 8 if shift else 0}
        self.call("Input.dispatchKeyEvent", type="keyDown" if text else "rawKeyDown", text=text, **what)
        self.call("Input.dispatchKeyEvent", type="keyUp", **what)

    def type(self, text):
        self.call("Input.insertText", text=text)

    def tab_to(self, test, most=80, shift=False):
        """Tab until the focused element passes: an expression over `e`."""
        for _ in range(most):
            if self.run(f"(() => {{ const e = document.activeElement; return Boolean({test}); }})()"):
                return
            self.key("Tab", shift)
        raise AssertionError(f"the keyboard does not reach {test}")

    def picture(self, path):
        pathlib.Path(path).parent.mkdir(parents=True, exist_ok=True)
        data = self.call("Page.captureScreenshot", format="png")["data"]
        pathlib.Path(path).write_bytes(base64.b64decode(data))

    def close(self):
        try:
            self.session, _ = None, self.session
            self.send("Browser.close")
            self.process.wait(timeout=10)
        except (OSError, subprocess.TimeoutExpired):
            self.process.kill()
            self.process.wait()
        os.close(self.to)
        os.close(self.frm)
        shutil.rmtree(self.home, ignore_errors=True)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()
