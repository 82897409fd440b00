#!/usr/bin/env python3
"""drawtrue run and jog on the virtual machine, as their user runs them: signals, keys and motions."""
import json
import os
import pathlib
import pty
import re
import select
import signal
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks

DRAWTRUE = sys.argv[1]


def program(path, strokes):
    with open(path, "w", encoding="utf-8") as file:
        file.write("(drawtrue 0 for plotter, profile x)\nG21\nG90\nM5\nG4P0.2\nG28\n")
        for i in range(strokes):
            file.write(f"(stroke {i + 1} pen black)\nG0X{10 + i % 40}Y20\nM3S40\nG4P0.25\n"
                       f"G1X{10 + i % 40}Y60F600\nX{12 + i % 40}Y20\nM5\nG4P0.15\n")
        file.write("G0X0Y0\nM2\n")


class Rig:
    """Real time: what a signal finds is a machine that draws."""

    def __init__(self, folder, *options):
        self.out = os.path.join(folder, "ink")
        self.port = os.path.join(folder, "port")
        self.process = subprocess.Popen([DRAWTRUE, "rig", "--link", self.port, "--json", "--once",
                                         "--out", self.out, *options],
                                        stdout=subprocess.PIPE, text=True)
        self.process.stdout.readline()

    def figures(self):
        try:
            text, _ = self.process.communicate(timeout=30)
        except subprocess.TimeoutExpired:
            self.process.terminate()  # nobody has opened its port
            text, _ = self.process.communicate(timeout=30)
        return json.loads(text)


def events(process, until):
    """Those up to the first for which `until` holds, and whether there was one."""
    heard = []
    for line in process.stdout:
        heard.append(json.loads(line))
        if until(heard[-1]):
            return heard, True
    return heard, False


def start(*args, stdin=subprocess.DEVNULL):
    return subprocess.Popen([DRAWTRUE, *args], stdin=stdin, stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True)


def drawing(event):
    return event["state"] == "drawing" and event["line"] > 10


with tempfile.TemporaryDirectory() as folder:
    # fontconfig keeps what it found for the life of the process.
    with open(os.path.join(folder, "leaks"), "w", encoding="utf-8") as file:
        file.write("leak:libfontconfig\n")
    os.environ["LSAN_OPTIONS"] = f"suppressions={file.name}:print_suppressions=0"
    near = os.path.join(folder, "near.ini")  # where homing is short
    with open(near, "w", encoding="utf-8") as ini:
        ini.write("[truth]\nstart_x = 3\nstart_y = 3\n")
    job, journal = os.path.join(folder, "job.nc"), os.path.join(folder, "journal.db")
    program(job, 60)
    run = ("run", job, "--json", "--other-machine", "--pens-ready", "--journal", journal)

    # SIGTERM again and again: the pen is up, the motors are off, and the board is not called dead.
    rig = Rig(folder, near, "--real-time")
    process = start(*run, "--port", rig.port)
    heard, there = events(process, drawing)
    check("it draws", there, heard[-3:])
    for _ in range(300):
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
        time.sleep(0.002)
    out, said = process.communicate(timeout=60)
    figures = rig.figures()
    check("stopped by SIGTERM", process.returncode == 1 and "stopped by hand" in said, said)
    check("the board is not called dead", "no longer answers" not in said, said)
    check("the pen is up and the motors are off",
          figures["pen_up_at_end"] and figures["motors_off"], figures)

    # Ctrl-C pauses, SIGUSR1 goes on, the journal's run is resumed and ends.
    rig = Rig(folder, near)  # hours in seconds: a job that a busy computer cannot end before the signal
    long_job = os.path.join(folder, "long.nc")
    program(long_job, 4000)
    process = start(*run[:1], long_job, *run[2:], "--port", rig.port)
    events(process, drawing)
    process.send_signal(signal.SIGINT)
    heard, there = events(process, lambda e: e["event"] == "paused")
    check("Ctrl-C pauses at a lift", there and heard[-1]["state"] == "paused"
          and not heard[-1]["pen_down"], heard[-3:])
    process.send_signal(signal.SIGUSR1)
    events(process, drawing)
    process.send_signal(signal.SIGUSR2)
    heard, there = events(process, lambda e: e["event"] == "paused")
    check("SIGUSR2 pauses at a lift", there and heard[-1]["state"] == "paused" and not heard[-1]["pen_down"], heard[-3:])
    process.send_signal(signal.SIGUSR1)
    heard, there = events(process, lambda e: e["event"] == "done")
    process.communicate(timeout=60)
    check("and it goes on to its end", there and process.returncode == 0, heard[-1:])
    rig.figures()

    # In the background it draws without its terminal; what it cannot begin is said while somebody is there.
    def in_background(port, *more):
        return subprocess.run([DRAWTRUE, *run[:1], long_job, *run[3:], "--port", port, "--background", *more],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60)

    def logged():
        return json.loads(subprocess.run([DRAWTRUE, "log", "--json", "--journal", journal], capture_output=True, text=True,
                                         timeout=60).stdout)["runs"][-1]

    def told_in_log(state):
        limit = time.monotonic() + 60
        while logged()["state"] != state and time.monotonic() < limit:
            time.sleep(0.05)
        return logged()["state"] == state

    done = in_background("/no/such")
    check("a background run without a port fails at once", done.returncode == 1 and "no such port" in done.stderr
          and "background run" not in done.stdout, done)
    rig = Rig(folder, near, "--real-time")
    done = in_background(rig.port)
    said = re.fullmatch(r"background run (\d+) draws as process (\d+); 'drawtrue log' shows it\n"
                        r" +kill -USR2 \2 pauses it at the next lift, kill -USR1 \2 goes on \(after a\n"
                        r" +pen change too\), kill \2 ends it with the pen up\n",
                        done.stdout[done.stdout.find("background"):])
    check("a background run says how it is steered", done.returncode == 0 and said, done)
    if said:
        check("it draws on", logged()["run"] == int(said[1]) and logged()["state"] == "running", logged())
        os.kill(int(said[2]), signal.SIGTERM)
        check("and is ended by its number", told_in_log("stopped"), logged())
    figures = rig.figures()
    check("with the pen up", figures["pen_up_at_end"] and figures["motors_off"], figures)

    # Ctrl-Z: held with the pen up before the process sleeps; it goes on when it is told to.
    rig = Rig(folder, near, "--real-time")
    process = start(*run, "--port", rig.port, stdin=subprocess.PIPE)
    events(process, lambda e: drawing(e) and e["pen_down"])
    process.send_signal(signal.SIGTSTP)
    os.waitid(os.P_PID, process.pid, os.WSTOPPED)
    process.send_signal(signal.SIGCONT)
    heard, there = events(process, lambda e: e["event"] == "paused")
    check("Ctrl-Z lifts the pen before it sleeps", there and heard[-1]["state"] == "held",
          heard[-1:])
    process.stdin.write("\n")
    process.stdin.flush()
    heard, there = events(process, lambda e: e["state"] == "drawing")
    check("Enter goes on", there, heard[-1:])
    process.stdin.write("q\n")
    process.stdin.flush()
    out, said = process.communicate(timeout=60)
    check("q ends the run", process.returncode == 1 and "stopped by hand" in said, said)
    check("with the pen up", rig.figures()["pen_up_at_end"])

    # Jogging by a list of motions.
    rig = Rig(folder, near)
    done = subprocess.run([DRAWTRUE, "jog", "--port", rig.port, "--json", "to", "50,60", "down",
                           "by", "10,0", "up", "park"], capture_output=True, text=True, timeout=60)
    states = [json.loads(line) for line in done.stdout.splitlines()]
    figures = rig.figures()
    ink = json.load(open(os.path.join(rig.out, "ink.json")))["strokes"]
    check("jog moves and lowers the pen", done.returncode == 0 and len(ink) == 1, (done, ink))
    check("by 10 mm of ink", abs(figures["ink_mm"] - 10) < 0.1, figures)
    check("it says that it homes", any(e["state"] == "homing" for e in states), states)
    check("and ends with the pen up and the port closed",
          figures["pen_up_at_end"] and states[-1]["state"] == "closed", states[-1])

    # By keys on a terminal: what is typed while it homes is discarded.
    rig = Rig(folder, near, "--real-time")
    master, slave = pty.openpty()
    process = subprocess.Popen([DRAWTRUE, "jog", "--port", rig.port], stdin=slave, stdout=slave,
                               stderr=slave, start_new_session=True)
    os.close(slave)
    text = b""

    def hear(wanted, seconds=60):
        global text
        end = time.time() + seconds
        while wanted not in text and time.time() < end:
            if select.select([master], [], [], 0.2)[0]:
                try:
                    text += os.read(master, 4096)
                except OSError:
                    break
        found = wanted in text
        text = text.split(wanted, 1)[-1] if found else text
        return found

    check("the wait says homing", hear(b"homing; keep clear"), text)
    os.write(master, b"\x1b[A\x1b[A\x1b[C\x1b[C")
    check("typed while it homes is discarded", hear(b"X 0.00 Y 0.00 mm, step 10 mm, pen up"), text)
    os.write(master, b"2\x1b[A")
    check("an arrow moves by the step", hear(b"X 0.00 Y 1.00 mm, step 1 mm, pen up"), text)
    os.write(master, b"q")
    hear(b"\n", 5)
    end = time.time() + 20
    while process.poll() is None and time.time() < end:
        if select.select([master], [], [], 0.1)[0]:
            try:
                os.read(master, 4096)
            except OSError:
                pass
    check("q ends it", process.poll() == 0, process.poll())
    os.close(master)
    figures = rig.figures()
    check("nothing was drawn", figures["pen_up_at_end"] and figures["ink_mm"] == 0, figures)

    # What is to be known before it draws is all told, each thing once; the caution with the first run alone.
    program(job, 2)
    fresh = os.path.join(folder, "fresh.db")
    for first in (True, False):
        rig = Rig(folder, near)
        done = subprocess.run([DRAWTRUE, "run", job, "--other-machine", "--pens-ready", "--journal", fresh,
                               "--port", rig.port], capture_output=True, text=True, timeout=60,
                              stdin=subprocess.DEVNULL)
        rig.figures()
        told = [line[:11].strip() for line in done.stdout.splitlines()]
        check("paper, pen and board are told in this order",
              done.returncode == 0 and told == ["paper", "pen", "board", "homing", "done"], done)
        check("the caution is told with the first run alone",
              ("First run on this machine." in done.stderr) == first, done)

    for args, code, message in (
            (["jog"], 2, "--port"),
            (["jog", "--port", "/no/such", "sideways"], 2, "'sideways' is not a motion"),
            (["jog", "--port", "/no/such", "to", "5"], 2, "'to 5' is not a motion"),
            (["jog", "--port", "/no/such", "home"], 1, "no such port"),
            (["jog", "--port", "/no/such", "--speed", "-1", "home"], 2, "--speed")):
        done = subprocess.run([DRAWTRUE, *args], capture_output=True, text=True, timeout=30,
                              stdin=subprocess.DEVNULL)
        check(" ".join(args) + " is refused", done.returncode == code and message in done.stderr,
              (done.returncode, done.stderr))

end_checks()
