#!/usr/bin/env python3
"""The keys of the terminal, what is shown in its last line, and what the virtual machine writes. Speaks TAP.
Usage: test-keys.py DRAWTRUE"""
import json
import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import termios
import time

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks
from terminal import LIMIT, Terminal, settings

PROGRAM = os.path.abspath(sys.argv[1])
os.environ["ASAN_OPTIONS"] = os.environ.get("ASAN_OPTIONS", "") + ":detect_leaks=0"
os.environ["LC_ALL"] = "C.UTF-8"


def hears(t, wanted):
    return t.hear(re.escape(wanted))


def told(t, sentence):
    """Whether a sentence comes, wherever its lines are broken."""
    check(sentence, t.hear(rb"\s+".join(re.escape(word) for word in sentence.encode().split())), t.text)


def press(t, key, wanted):
    t.press(key)
    good = hears(t, wanted)
    check(f"{key!r}: {wanted.decode()}", good, t.text)
    return good


class Rig:
    def __init__(self, folder, *options):
        (folder / "near.ini").write_text("[truth]\nstart_x = 3\nstart_y = 3\n")
        self.port = str(folder / "port")
        self.process = subprocess.Popen([PROGRAM, "rig", "near.ini", "--link", self.port, "--once", *options],
                                        stdout=subprocess.PIPE, text=True, cwd=folder)
        self.process.stdout.readline()

    def said(self):
        try:
            return self.process.communicate(timeout=40)[0]
        except subprocess.TimeoutExpired:
            self.process.terminate()
            return self.process.communicate(timeout=30)[0]


def place(x, y, step=10, pen="up"):
    return b"X %.2f Y %.2f mm, step %g mm, pen %s" % (x, y, step, pen.encode())


def every_key(folder):
    rig = Rig(folder)
    t = Terminal(folder, PROGRAM, "jog", "--port", rig.port)
    told(t, "The machine homes first. Keep hands, hair and cables away from what moves, and have its supply's switch "
            "in reach.")
    told(t, "The arrow keys move the pen; 1, 2 and 3 step by 10, 1 and 0.1 mm, space lets it touch and lifts it, h homes, "
            "p parks, q ends. What is typed while it moves is discarded.")
    check("jogging begins at home", hears(t, place(0, 0)), t.text)
    for key, at in ((b"\x1b[A", place(0, 10)), (b"\x1b[C", place(10, 10)), (b"2", place(10, 10, 1)),
                    (b"\x1bOC", place(11, 10, 1)), (b"\x1bOA", place(11, 11, 1)), (b"3", place(11, 11, 0.1)),
                    (b"\x1b[D", place(10.9, 11, 0.1)), (b"\x1b[B", place(10.9, 10.9, 0.1)), (b"1", place(10.9, 10.9)),
                    (b" ", place(10.9, 10.9, pen="down")), (b" ", place(10.9, 10.9)),
                    # of these only the last is a key
                    (b"0ABCDx[O\x1b[E\n\r4" + b"2", place(10.9, 10.9, 1)),
                    (b"\x1b\x1b[C", place(11.9, 10.9, 1)), (b"h", place(0, 0, 1)), (b"\x1b[A", place(0, 1, 1))):
        if not press(t, key, at):
            break
    t.press(b"q")
    check("q ends it", t.end() == 0, t.text)
    text = rig.said()
    check("with the pen up", re.search(r"pen up at -?0\.0\d (0\.9|1\.0)\d", text) and "0 end-stop" in text, text)


def ended_by_a_signal(folder):
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        rig = Rig(folder)
        t = Terminal(folder, PROGRAM, "jog", "--port", rig.port)
        hears(t, place(0, 0))
        press(t, b" ", place(0, 0, pen="down"))
        t.process.send_signal(number)
        code, text = t.end(), rig.said()
        check(f"{number.name}: jogging is ended, not done, with the pen up",
              code == 1 and b"jogging was ended by hand" in t.text and "pen up" in text, (code, t.text, text))


def suspended(folder):
    """Ctrl-Z: the pen is lifted and the terminal is as it was, before the program sleeps; then it goes on as before."""
    for lowered in (True, False):
        rig = Rig(folder)
        t = Terminal(folder, PROGRAM, "jog", "--port", rig.port)
        hears(t, place(0, 0))
        raw = termios.tcgetattr(t.master)[3]
        if lowered:
            press(t, b" ", place(0, 0, pen="down"))
        t.process.send_signal(signal.SIGTSTP)
        os.waitid(os.P_PID, t.process.pid, os.WSTOPPED)
        calm = termios.tcgetattr(t.master)[3]
        if lowered:
            check("Ctrl-Z lifts the pen first", hears(t, place(0, 0)), t.text)
        check("the terminal echoes again meanwhile", not raw & termios.ECHO and calm & termios.ECHO and calm & termios.ICANON)
        t.process.send_signal(signal.SIGCONT)
        while termios.tcgetattr(t.master)[3] & termios.ECHO:
            time.sleep(0.01)
        press(t, b"\x1b[C", place(10, 0))
        t.press(b"q")
        check("and q ends it", t.end() == 0, t.text)
        check("with the pen up", "pen up" in rig.said())


def a_terminal_that_is_gone(folder):
    rig = Rig(folder)
    t = Terminal(folder, PROGRAM, "jog", "--port", rig.port)
    hears(t, place(0, 0))
    press(t, b" ", place(0, 0, pen="down"))
    t.close()
    check("jogging ends with its terminal, and is not done", t.wait() == 1, t.text)
    check("and with the pen up", "pen up" in rig.said())


def the_park_place(folder):
    (folder / "far.ini").write_text("[lift]\npark = 7, 30 mm\n")
    rig = Rig(folder)
    t = Terminal(folder, PROGRAM, "jog", "-m", "far.ini", "--port", rig.port)
    hears(t, place(0, 0))
    press(t, b" ", place(0, 0, pen="down"))
    press(t, b"p", place(7, 30))
    t.press(b"q")
    code, text = t.end(), rig.said()
    check("parking draws no line", code == 0 and "0.0 mm in" in text and re.search(r"pen up at [67]\.\d+ (29|30)", text),
          (code, t.text, text))


def questions(folder):
    """What was typed before a question is no answer to it, and only yes is yes."""
    (folder / "other.nc").write_text("(drawtrue 0 for another, profile x)\nG21\nG90\nM5\nG4P0.2\nG28\nG0X10Y10\nM3S40\n"
                                     "G4P0.25\nG1X60F600\nM5\nG4P0.15\nG0X0Y0\nM2\n")
    for answer, code in ((b"n\n", 1), (b"\n", 1), (b"Yes\n", 0)):
        rig = Rig(folder)
        t = Terminal(folder, PROGRAM, "run", "other.nc", "--pens-ready", "--port", rig.port)
        t.press(b"y\n")
        asked = t.hear(rb"Draw it as it is\? \[y/N\] ")
        check("it asks before it draws what was made for another machine", asked, t.text)
        t.press(answer)
        ended, text = t.end(), rig.said()
        check(f"{answer} is answered", ended == code and ("in 1 stroke" in text) == (code == 0), (ended, t.text, text))
        if code:
            check("and nothing is drawn", b"nothing was drawn" in t.text, t.text)
    (folder / "mine.ini").write_text("[machine]\nname = mine\n")
    rig = Rig(folder)
    t = Terminal(folder, PROGRAM, "learn", "-m", "mine.ini", "--port", rig.port)
    t.press(b"y\n")
    check("it asks before it moves", t.hear(rb"May it move\? \[y/N\] "), t.text)
    t.press(b"n\n")
    code, text = t.end(LIMIT), rig.said()
    check("and keeps still", code == 0 and b"not tried, and so not used" in t.text and "0 strokes" in text, (code, t.text, text))


def the_corners_of_a_sheet(folder):
    (folder / "art.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" '
                                    'viewBox="0 0 40 30"><path d="M2 2H12" fill="none" stroke="#1c1c1c"/></svg>')
    subprocess.run([PROGRAM, "plan", "art.svg", "-o", "art.nc", "--effort", "0"], cwd=folder, env=settings(folder),
                   capture_output=True, timeout=LIMIT)
    rig = Rig(folder)
    t = Terminal(folder, PROGRAM, "run", "art.nc", "--place", "--pens-ready", "--port", rig.port)
    told(t, "Bring the pen to the corner that is named; Enter takes the place.")
    check("it asks for the first corner", hears(t, b"lower left corner: " + place(0, 0)), t.text)
    press(t, b"\x1b[C", b"lower left corner: " + place(10, 0))
    press(t, b" ", b"lower left corner: " + place(10, 0, pen="down"))
    press(t, b"\n", b"lower right corner: " + place(10, 0))  # and lifts the pen
    t.press(b"q")
    code = t.end()
    check("ended by hand is not done", code == 1 and b"placing was ended by hand" in t.text, (code, t.text))
    rig.said()
    rig = Rig(folder)
    t = Terminal(folder, PROGRAM, "run", "art.nc", "--place", "--pens-ready", "--port", rig.port)
    hears(t, b"lower left corner: " + place(0, 0))
    press(t, b"\r", b"lower right corner: " + place(0, 0))
    press(t, b"\x1b[C", b"lower right corner: " + place(10, 0))
    t.press(b"\n")  # a sheet is wider than that
    code = t.end()
    check("corners that are no sheet's are refused", code == 1 and b"corner" in t.text, (code, t.text))
    rig.said()


def steering_a_run(folder):
    lines = "".join(f'<path d="M{x} {y}h3"/>' for y in range(2, 118, 2) for x in range(2, 178, 4))
    (folder / "art.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="180mm" height="120mm" '
                                    f'viewBox="0 0 180 120" fill="none" stroke="#1c1c1c" stroke-width="0.3">{lines}</svg>')
    subprocess.run([PROGRAM, "plan", "art.svg", "-o", "long.nc", "--effort", "0", "--true-size"], cwd=folder, env=settings(folder),
                   capture_output=True, timeout=LIMIT)
    rig = Rig(folder)  # hours in seconds
    t = Terminal(folder, PROGRAM, "run", "long.nc", "--pens-ready", "--port", rig.port)
    told(t, "keys with Enter: p pauses at the next lift, h at once, c at the next pen change; a parks to look at the "
            "sheet, Enter alone goes on, q ends the run")
    check("it draws", t.hear(rb"[1-9]\d* mm of ink"), t.text)
    t.press(b"p\n")
    told(t, "p pauses at the next lift")
    told(t, "Enter goes on")
    told(t, "a and Enter parks it out of the way, q and Enter ends the run")
    t.press(b"a\n")
    told(t, "a parks at the next lift")
    told(t, "Enter goes on")
    t.press(b"\n")
    check("it draws again", t.hear(rb"[1-9]\d* mm of ink"), t.text)
    t.press(b"c\n")
    told(t, "c waits at the next pen change")
    t.process.send_signal(signal.SIGINT)
    told(t, "Ctrl-C pauses at the next lift; once more ends the run")
    told(t, "Enter goes on")
    t.process.send_signal(signal.SIGINT)
    code, text = t.end(), rig.said()
    check("and ends it", code == 1 and b"stopped by hand" in t.text and "pen up" in text, (code, t.text, text))


def the_last_line(folder):
    (folder / "job.nc").write_text("G21\nG90\nM5\nG4P0.2\nG28\n" + "".join(
        f"(stroke {i + 1} pen black)\nG0X10Y{i + 10}\nM3S40\nG4P0.25\nG1X60F600\nM5\nG4P0.15\n" for i in range(4))
        + "G0X0Y0\nM2\n")
    for columns in (24, 40, 55, 60, 80, 200):
        rig = Rig(folder)
        t = Terminal(folder, PROGRAM, "run", "job.nc", "--other-machine", "--pens-ready", "--despite-doubts",
                     "--port", rig.port, columns=columns)
        code, text = t.end(), t.text.decode()
        rig.said()
        lines = [re.split(r"[\r\n]", part)[0] for part in text.split("\x1b[K")[1:]]  # each stands alone
        lines = [part for part in lines if "%" in part]
        widest = max(map(len, lines), default=0)
        check(f"{columns} columns: no line is wider than one less", code == 0 and 0 < widest < columns, (code, lines))
        bars = [re.match(r"\[(#*)(\.*)\] +(\d+) %", part) for part in lines]
        if columns >= 80:
            good = all(bars) and all(len(b[1]) + len(b[2]) <= 40 and
                                     abs(len(b[1]) / len(b[1] + b[2]) - int(b[3]) / 100) < 0.05 for b in bars)
            check("a bar shows how much is done", good, lines)
        if columns == 24:
            check("a line that is too long is cut to that", widest == 23, lines)
        if columns <= 40:
            check("there is no room for a bar", not any(part.startswith("[") for part in lines), lines)
        if columns == 200:
            check("a bar has 40 cells at most", max(len(b[1] + b[2]) for b in bars) == 40, lines)


def what_the_virtual_machine_writes(folder):
    out = folder / "ink"
    for name in ("ink.json", "ink.svg", "ink.png"):
        out.mkdir(exist_ok=True)
        (out / name).write_text("somebody's")
        done = subprocess.run([PROGRAM, "rig", "--link", str(folder / "p"), "--once", "--out", "ink"], cwd=folder,
                              stdin=subprocess.DEVNULL, capture_output=True, timeout=LIMIT, env=settings(folder))
        check(f"{name} is somebody's", done.returncode == 1 and name.encode() in done.stderr
              and (out / name).read_text() == "somebody's", done)
        (out / name).unlink()
    for options in ((), ("--out", "ink"), ("--out", "new/ink"), ("--json", "--out", "ink")):
        rig = Rig(folder, *options)
        subprocess.run([PROGRAM, "jog", "--port", rig.port, "home", "to", "10,10", "down", "by", "5,0", "up"], cwd=folder,
                       stdin=subprocess.DEVNULL, capture_output=True, timeout=LIMIT, env=settings(folder))
        text = rig.said()
        if "--json" in options:
            figures = json.loads(text)
            check("figures as JSON", abs(figures["ink_mm"] - 5) < 0.1 and figures["lifts"] == 1
                  and figures["pen_up_at_end"], text)
            continue
        check(f"rig {' '.join(options)} says what was drawn", "5.0 mm in 1 stroke," in text and "pen up" in text, text)
        check("and where it is", ("ink is in" in text) == bool(options), text)
        if options:
            check("all of it", all((folder / options[-1] / f"ink.{e}").stat().st_size > 0 for e in ("json", "svg", "png")))


for case in (every_key, ended_by_a_signal, suspended, a_terminal_that_is_gone, the_park_place, questions, the_corners_of_a_sheet, steering_a_run, the_last_line, what_the_virtual_machine_writes):
    with tempfile.TemporaryDirectory(prefix="drawtrue-") as scratch:
        case(pathlib.Path(scratch))
end_checks()
