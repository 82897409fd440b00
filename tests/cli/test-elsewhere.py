#!/usr/bin/env python3
"""Programs from elsewhere, and what a person types or ends: corrections, doubts, names, numbers and exit
codes. Speaks TAP. Usage: test-elsewhere.py DRAWTRUE"""
import concurrent.futures
import json
import math
import os
import pathlib
import signal
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks

PROGRAM = os.path.abspath(sys.argv[1])
LIMIT = 90  # seconds; only a hang takes so long
os.environ["ASAN_OPTIONS"] = os.environ.get("ASAN_OPTIONS", "") + ":detect_leaks=0"
# The same errors in the profile as in the virtual machine, which knows nothing of the profile.
BENT = """[machine]
name = bent
[corrections]
scale_x = 1.02
scale_y = 0.99
square = 0.5 deg
backlash_x = 0.3 mm
backlash_y = 0.3 mm
"""
TRUTH = """[truth]
start_x = 3
start_y = 3
scale_x = 1.02
scale_y = 0.99
square = 0.5
backlash_x = 0.3
backlash_y = 0.3
wave = 0
"""
SQUARE = ("G21 G90\nM5\nG4P0.2\nG28\nG0 X20 Y20\nM3 S40\nG4P0.2\nG1 X60 Y20 F600\nG1 X60 Y50\nG1 X20 Y50\nG1 X20 Y20\n"
          "M5\nG4P0.2\nG0 X0 Y0\nM2\n")
CORNERS = ((20, 20), (60, 20), (60, 50), (20, 50))


def environment(folder):
    return {**{k: v for k, v in os.environ.items() if not k.startswith("DRAWTRUE")}, "HOME": str(folder),
            "XDG_STATE_HOME": str(folder / "state")}


def run(folder, *arguments):
    return subprocess.run([PROGRAM, *arguments], cwd=folder, env=environment(folder), stdin=subprocess.DEVNULL,
                          capture_output=True, text=True, timeout=LIMIT)


def drawn(folder, program, *options, truth=TRUTH):
    """Runs it on the virtual machine: what it said, and the ink."""
    (folder / "rig.ini").write_text(truth)
    rig = subprocess.Popen([PROGRAM, "rig", "rig.ini", "--link", "port", "--json", "--once", "--out", "ink"], cwd=folder,
                           stdout=subprocess.PIPE, text=True)
    rig.stdout.readline()
    done = run(folder, "run", program, "-m", "bent.ini", "--port", "port", "--pens-ready", *options)
    try:
        rig.communicate(timeout=30)
    except subprocess.TimeoutExpired:
        rig.terminate()
        rig.communicate(timeout=30)
    strokes = json.loads((folder / "ink" / "ink.json").read_text())["strokes"] if (folder / "ink").exists() else []
    return done, [point for stroke in strokes for point in stroke["points"]]


def off_by(points, corners=CORNERS):
    """The farthest that a corner of the square lies from the ink."""
    return max(min((x - px) ** 2 + (y - py) ** 2 for px, py in points) for x, y in corners) ** 0.5 if points else 999


def corrections(folder):
    (folder / "bent.ini").write_text(BENT)
    (folder / "square.nc").write_text(SQUARE)
    done, ink = drawn(folder, "square.nc")
    check("a program from elsewhere lands where the machine's errors take it", done.returncode == 0 and off_by(ink) > 0.5,
          (done, off_by(ink)))
    check("and its correction is offered", "--correct applies them" in done.stderr, done.stderr)
    done, ink = drawn(folder, "square.nc", "--correct")
    check("run --correct: the ink lands where the program says", done.returncode == 0 and off_by(ink) < 0.05,
          (done, off_by(ink)))
    check("what was drawn stands beside it", "square-corrected.nc" in done.stderr and
          (folder / "square-corrected.nc").exists(), done.stderr)
    again, _ = drawn(folder, "square-corrected.nc", "--correct")
    check("nothing is corrected twice", again.returncode == 1 and "twice" in again.stderr, again)
    mended = run(folder, "mend", "square.nc", "-m", "bent.ini", "-o", "mended.nc", "--correct")
    check("mend --correct says so", mended.returncode == 0 and "corrections" in mended.stdout, mended)
    done, ink = drawn(folder, "mended.nc")
    check("mend --correct: the same ink", done.returncode == 0 and off_by(ink) < 0.05, (done, off_by(ink)))
    check("and nothing more is offered", "--correct" not in done.stderr, done.stderr)
    twice = run(folder, "mend", "mended.nc", "-m", "bent.ini", "-o", "twice.nc", "--correct")
    check("mend does not correct twice", twice.returncode == 1 and not (folder / "twice.nc").exists(), twice)
    (folder / "noted.nc").write_text("(a note)\n\n" + (folder / "mended.nc").read_text())
    twice = run(folder, "mend", "noted.nc", "-m", "bent.ini", "-o", "twice.nc", "--correct")
    check("nor where the head is not the first line", twice.returncode == 1 and not (folder / "twice.nc").exists(), twice)
    run(folder, "plan", "art.svg", "-m", "bent.ini", "-o", "plain.nc", "--no-corrections")
    plain = run(folder, "mend", "plain.nc", "-m", "bent.ini", "-o", "twice.nc", "--correct")
    check("a program that was planned without corrections is to be planned again", plain.returncode == 1 and
          "--no-corrections" in plain.stderr and not (folder / "twice.nc").exists(), plain)
    (folder / "mute.ini").write_text(BENT + "\n[controller]\nwords = G0 G1 G4 G21 G28 G90 M0 M2 M3 M5 F P S X Y comment:none\n")
    run(folder, "plan", "art.svg", "-m", "mute.ini", "-o", "mute.nc")
    mute = run(folder, "mend", "mute.nc", "-m", "mute.ini", "-o", "twice.nc", "--correct")
    check("without comments it is said that it cannot be told", "corrected twice" in mute.stderr, mute)
    done = run(folder, "run", "mute.nc", "-m", "mute.ini", "--port", "nowhere", "--corners", "20,20,225.9,21.8")
    check("nor where a program is from that is laid", "taken for a program of drawtrue's own" in done.stderr, done)
    both = run(folder, "run", "square.nc", "-m", "bent.ini", "--port", "port", "--correct", "--corners", "1,1,200,1")
    check("a program that is laid is corrected anyway", both.returncode == 2, both)
    (folder / "square-corrected.nc").write_text("my own notes\n")
    kept = run(folder, "run", "square.nc", "-m", "bent.ini", "--port", "port", "--correct")
    check("a file of somebody else is kept", kept.returncode != 0 and
          (folder / "square-corrected.nc").read_text() == "my own notes\n", kept)


def laid(folder):
    """A sheet of A5, whose lower corners were touched, lies rotated on the bed: the drawing lies on it as planned."""
    (folder / "bent.ini").write_text("[machine]\nname = straight\n")
    (folder / "square.nc").write_text(SQUARE)
    left, turn = (12, 8), math.radians(2)
    right = (left[0] + 210 * math.cos(turn), left[1] + 210 * math.sin(turn))
    told = f"{left[0]:.2f} {left[1]:.2f} and {right[0]:.2f} {right[1]:.2f}: square-laid.nc"
    done, ink = drawn(folder, "square.nc", "--corners", f"{left[0]},{left[1]},{right[0]:.3f},{right[1]:.3f}",
                      truth="[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0\nbacklash_y = 0\nwave = 0\n")
    there = [(left[0] + x * math.cos(turn) - y * math.sin(turn), left[1] + x * math.sin(turn) + y * math.cos(turn))
             for x, y in CORNERS]
    check("a drawing is laid on the sheet that was touched", done.returncode == 0 and off_by(ink, there) < 0.05,
          (done, off_by(ink, there)))
    check("and where it lies is said", f"laid on the sheet at {told}" in done.stderr, done.stderr)
    check("what was drawn stands beside it", (folder / "square-laid.nc").exists())
    check("the program is as it was", (folder / "square.nc").read_text() == SQUARE)
    check("the paper is told once", sum(line.startswith("paper ") for line in done.stdout.splitlines()) == 1, done.stdout)
    check("the caution is told once", done.stderr.count("First run on this machine.") == 1, done.stderr)


def doubts(folder):
    (folder / "in.nc").write_text("G0 X1 Y1\nM3 S40\nG1 X2 Y1 F30\nG1 X2 Y2\nM5\nG0 X0 Y0\nM2\n")
    done = run(folder, "mend", "in.nc", "-o", "out.nc")
    check("inches in doubt are no success", done.returncode == 1 and "--units" in done.stderr and
          not (folder / "out.nc").exists(), done)
    done = run(folder, "mend", "in.nc", "-o", "out.nc", "--units", "in")
    check("said, they are one", done.returncode == 0 and "X50.8" in (folder / "out.nc").read_text(), done)
    done = run(folder, "mend", "in.nc", "-o", "out2.nc", "--units", "ell")
    check("a unit that is none is wrong usage", done.returncode == 2, done)
    (folder / "odd.nc").write_text("G21 G90\nG28\nG187 P1\nG0 X10 Y10\nM3 S40\nG1 X20 Y10 F300\nM5\nM2\n")
    done = run(folder, "mend", "odd.nc", "-o", "o.nc")
    check("a word of no standard is refused with its place", done.returncode == 1 and "odd.nc:3:1:" in done.stderr, done)
    done = run(folder, "mend", "odd.nc", "-o", "o.nc", "--leave-out", "G187")
    check("and left out when that is said", done.returncode == 0 and "odd.nc:3: the line with G187" in done.stdout and
          "G187" not in (folder / "o.nc").read_text(), done)
    (folder / "z.nc").write_text("G21 G90\nG28\nG0 Z5\nG0 X10 Y10\nG1 Z-1 F300\nG1 X60 Y10 F600\nG1 X60 Y40\n"
                                 "G0 Z5\nG0 X0 Y0\nM2\n")
    done = run(folder, "inspect", "z.nc")
    check("inspect says how mend would read the pen", done.returncode == 1 and
          "how mend reads its pen:" in done.stdout and "--pen-by 'z-below:2'): 80 mm" in done.stdout, done)
    told = json.loads(run(folder, "inspect", "z.nc", "--json").stdout)
    check("in its report too", told["readings"][0]["pen_by"] == "z-below:2" and not told["pen_in_doubt"], told)
    run(folder, "mend", "z.nc", "-o", "fit.nc")
    done = run(folder, "inspect", "fit.nc")
    check("and nothing of a program that is fit", done.returncode == 0 and "mend reads" not in done.stdout, done)
    (folder / "holes.nc").write_text("G21 G90\nG28\nG0 Z5\nG81 X20 Y20 Z-1 R2 F200\nX30 Y20\nX30 Y30\nG80\nG0 Z5\n"
                                     "G0 X0 Y0\nM2\n")
    done = run(folder, "mend", "holes.nc", "-o", "dots.nc")
    told = json.loads(run(folder, "inspect", "dots.nc", "--json").stdout)
    check("holes (G81) are dots where they are drilled", done.returncode == 0 and told["strokes"] == 3 and
          told["ink_box"] == [20, 20, 30, 30], (done, told))


def other_machines(folder):
    """A program of ours holds its machine's corrections: on another machine they are errors."""
    (folder / "bent.ini").write_text(BENT)
    words = "\n[controller]\nwords = G0 G1 G4 G21 G28 G90 M0 M2 M3 M5 F N P S X Y comment:semicolon\n"
    (folder / "other.ini").write_text("[machine]\nname = other\n")
    (folder / "semicolons.ini").write_text(BENT + words)
    run(folder, "plan", "art.svg", "-m", "bent.ini", "-o", "bent.nc")
    own = run(folder, "inspect", "bent.nc", "-m", "bent.ini")
    other = json.loads(run(folder, "inspect", "bent.nc", "-m", "other.ini", "--json").stdout)
    check("a program is found to be another machine's", own.returncode == 0 and
          [f["kind"] for f in other["findings"]] == ["other-machine"], (own, other))
    done = run(folder, "mend", "bent.nc", "-m", "other.ini", "-o", "other.nc")
    check("mending it leaves the doubt", done.returncode == 1 and "written for the machine 'bent'" in done.stdout and
          (folder / "other.nc").read_text() == (folder / "bent.nc").read_text(), done)
    done = run(folder, "mend", "bent.nc", "-m", "semicolons.ini", "-o", "semicolons.nc")
    text = (folder / "semicolons.nc").read_text()
    check("a head in another kind of comment stays the only one", done.returncode == 0 and
          text.startswith(";drawtrue ") and text.count("drawtrue ") == 1, (done, text[:200]))
    (folder / "mended.nc").write_text(text.replace(" for bent", " mended for bent", 1))
    other = json.loads(run(folder, "inspect", "mended.nc", "-m", "other.ini", "--json").stdout)
    check("a mended program has nobody's corrections", "other-machine" not in [f["kind"] for f in other["findings"]], other)


def names_and_numbers(folder):
    name = "bad\nname.nc"
    (folder / name).write_text("G21 G90\nG28\nG1 X9999 Y10 F600\nM2\n")
    done = run(folder, "inspect", name)
    lines = [line for line in done.stdout.splitlines() if "name.nc" in line]
    check("a line feed in a name breaks no line of a report", lines and all("bad\\x0aname.nc:" in line for line in lines),
          done.stdout)
    check("a program reads the name as it is", json.loads(run(folder, "inspect", name, "--json").stdout)["program"] == name)
    (folder / name).write_text(SQUARE)
    done = run(folder, "mend", name, "-o", "good\nname.nc")
    check("mend too", done.returncode == 0 and done.stdout.count("\n") == 1 and (folder / "good\nname.nc").exists(), done)
    for text, line, says in (("[motion]\nspeed_x = 12,5 mm/s\n", 2, "use a point: '12.5'"),
                             ("[lift]\npark = 15,5, 12,5\n", 2, "is not a place"),
                             ("[corrections]\nscale_x = 1,008\n", 2, "use a point: '1.008'")):
        (folder / "comma.ini").write_text(text)
        done = run(folder, "machine", "-m", "comma.ini")
        check(f"{text.split()[1]} with a decimal comma is refused", done.returncode == 1 and
              f"comma.ini:{line}:" in done.stderr and says in done.stderr, done)
    for place in ("15, 12", "15,12", "15 , 12 mm"):
        (folder / "place.ini").write_text(f"[machine]\nname = p\n[lift]\npark = {place}\n")
        (folder / "square.nc").write_text(SQUARE)
        done = run(folder, "plan", "art.svg", "-m", "place.ini", "-o", "place.nc", "--force")
        check(f"a place may be written {place}", done.returncode == 0 and "X15Y12" in (folder / "place.nc").read_text(),
              (done, (folder / "place.nc").exists()))
    template = run(folder, "machine", "--template").stdout
    check("the template writes places so", "\npark = 0, 0\n" in template and "\nchange_at = 0, 0\n" in template)


LEARNT = {"profile": str, "words": str, "untried": str, "greeting": str, "accept": str, "refuse": str, "notices": str,
          "program_end": str, "refused_lines": str, "window": int, "longest_line": int, "line_check": bool,
          "tells_state": bool, "holds_at_once": bool, "abandons_at_once": bool, "latency_s": (int, float)}


def learn(folder, *options):
    (folder / "rig.ini").write_text(TRUTH)
    rig = subprocess.Popen([PROGRAM, "rig", "rig.ini", "--link", "port", "--json", "--once"], cwd=folder,
                           stdout=subprocess.PIPE, text=True)
    rig.stdout.readline()
    done = run(folder, "learn", "--port", "port", "-m", "new.ini", *options)
    figures = json.loads(rig.communicate(timeout=40)[0])
    return done, figures


def learning(folder):
    (folder / "new.ini").write_text(run(folder, "machine", "--template").stdout)
    done, figures = learn(folder, "--still", "--json", "-o", "still.ini")
    told = json.loads(done.stdout)
    fits = set(told) == set(LEARNT) and all(isinstance(told[k], t) for k, t in LEARNT.items())
    check("learn's report is as it was agreed", done.returncode == 0 and fits, (done, told))
    check("with --still nothing moves", figures["travel_mm"] == 0 and figures["ink_mm"] == 0, figures)
    check("and what needs motion was not tried", told["untried"] == "G2 G3 G28 M0 M3 I J R", told)
    check("that such a profile cannot draw yet is said", "it cannot draw yet" in done.stderr, done.stderr)
    done = run(folder, "plan", "art.svg", "-m", "still.ini", "-o", "still.nc")
    check("it is refused with the line and what to do", done.returncode == 1 and "learn --may-move" in done.stderr and
          "still.ini:" in done.stderr, done)
    done, figures = learn(folder, "--may-move", "-o", "moved.ini")
    check("learn finds all words where it may move", done.returncode == 0 and
          "it takes G0 G1 G2 G3 G4 G17 G20 G21 G28 G90 G91 G94 M2 M3 M5 M30 F I J N P R S0..100 X Y" in done.stdout, done)
    check("and leaves the pen up", figures["pen_up_at_end"], figures)
    done = run(folder, "plan", "art.svg", "-m", "moved.ini", "-o", "moved.nc")
    check("what it wrote can draw", done.returncode == 0, done)
    text = (folder / "new.ini").read_text().replace("pen_down = M3 S40", "pen_down = M77")
    (folder / "new.ini").write_text(text)
    done, figures = learn(folder, "--may-move", "-o", "odd.ini")
    check("a pen line that is refused is no success", done.returncode == 1 and
          "refuses the profile's pen_down = M77" in done.stdout and "odd.ini:" in done.stderr, done)


def cancelled(folder):
    squares = "".join(f'<path d="M{x} {y}h.4v.4h-.4z"/>' for x in range(2, 190) for y in range(2, 130))
    (folder / "big.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="140mm" '
                                    f'viewBox="0 0 200 140" fill="none" stroke="#000" stroke-width=".3">{squares}</svg>')
    for number in (signal.SIGINT, signal.SIGTERM):
        process = subprocess.Popen([PROGRAM, "plan", "big.svg", "-o", "big.nc", "--effort", "100000000"], cwd=folder,
                                   env=environment(folder), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        time.sleep(2.5)  # it is at work by then
        process.send_signal(number)
        out, said = process.communicate(timeout=LIMIT)
        check(f"{number.name} ends a plan with 1 and leaves no file", process.returncode == 1 and "cancel" in said and
              not (folder / "big.nc").exists(), (process.returncode, said))


def own_paper(folder):
    """A drawing planned for another sheet than the profile's: every command that has its program knows that sheet."""
    (folder / "bent.ini").write_text("[machine]\nname = straight\n[paper]\nat = 20, 20 mm\n")
    run(folder, "plan", "art.svg", "-m", "bent.ini", "-o", "own.nc")
    check("the profile's own paper goes without saying", "(paper " not in (folder / "own.nc").read_text())
    run(folder, "plan", "art.svg", "-m", "bent.ini", "-o", "a6.nc", "--paper", "A6", "--paper-at", "150,60")
    seen = run(folder, "inspect", "a6.nc", "-m", "bent.ini")
    check("another one is no fault", seen.returncode == 0 and "beside" not in seen.stdout, seen)
    done, ink = drawn(folder, "a6.nc", truth="[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0\nbacklash_y = 0\n")
    check("run says where it belongs", done.returncode == 0 and
          "A6, 105 x 148 mm, its lower left corner 150 mm right of and 60 mm behind" in done.stdout and
          "beside" not in done.stderr and all(150 < x < 255 and 60 < y < 208 for x, y in ink), done)
    x, y = ink[0]
    again = run(folder, "resume", "--run", "1", "-m", "bent.ini", "--port", "nowhere", "--at", f"{x - 150},{y - 60}")
    check("a place on the sheet is found there", "no ink lies" not in again.stderr, again)
    again = run(folder, "resume", "--run", "1", "-m", "bent.ini", "--port", "nowhere", "--at", f"{x - 20},{y - 20}")
    check("and not where the profile's sheet is", "no ink lies" in again.stderr, again)
    again = run(folder, "resume", "--run", "1", "-m", "bent.ini", "--port", "nowhere", "--back", "1", "--back-mm", "5")
    check("two ways back are refused", again.returncode == 2 and "not both" in again.stderr, again)
    (folder / "low.nc").write_text(SQUARE.replace("X20", "X5"))
    said = run(folder, "mend", "low.nc", "-m", "bent.ini", "-o", "fit.nc")
    check("mend says what lies beside the paper", "fit.nc: 60 of 170 mm of the ink lie beside the paper, A5" in said.stderr, said)
    seen = run(folder, "inspect", "fit.nc", "-m", "bent.ini")
    check("so does inspect", "lie beside the paper" in seen.stdout and "nothing else is wrong" in seen.stdout, seen)
    done, _ = drawn(folder, "fit.nc")
    check("so does run", "60 of 170 mm of the ink lie beside the paper, A5" in done.stderr, done)


def unfinished(folder):
    """The program of a run that is drawing or could be resumed is not replaced."""
    (folder / "art.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 30"><path d="M2 2H12V8" fill="none" stroke="#000"/>'
        '<path d="M22 2H32V8" fill="none" stroke="#f00"/></svg>')
    plan = ("plan", "art.svg", "-o", "two.nc", "--effort", "0")
    check("there is a program", run(folder, *plan).returncode == 0 and "M0" in (folder / "two.nc").read_text())
    rig = subprocess.Popen([PROGRAM, "rig", "--link", "port", "--json"], cwd=folder, stdout=subprocess.PIPE, text=True)
    rig.stdout.readline()
    drawing = subprocess.Popen([PROGRAM, "run", "two.nc", "--port", "port", "--json"], cwd=folder, env=environment(folder),
                               stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True)
    for line in drawing.stdout:
        if "pen-change" in line:
            break
    before = (folder / "two.nc").read_bytes()
    busy = run(folder, *plan, "--outlines")
    check("not while it is drawn", busy.returncode == 1 and "run 1 is drawing it" in busy.stderr and
          (folder / "two.nc").read_bytes() == before, busy)
    drawing.terminate()
    drawing.communicate(timeout=LIMIT)
    rig.terminate()
    rig.communicate(timeout=LIMIT)
    for command in (plan, ("mend", "other.nc", "-o", "two.nc"), ("sheet", "-o", "two.nc")):
        (folder / "other.nc").write_text(SQUARE)
        kept = run(folder, *command)
        check(f"{command[0]} keeps what can be resumed", kept.returncode == 1 and "'drawtrue resume --run 1'" in kept.stderr and
              (folder / "two.nc").read_bytes() == before, kept)
    check("--force replaces it", run(folder, *plan, "--force", "--pens", "black").returncode == 0 and
          (folder / "two.nc").read_bytes() != before)
    check("what replaced it is nobody's need", run(folder, *plan).returncode == 0)


def meant(folder):
    """What a person may not have meant is said, and lists given twice count together."""
    (folder / "my.ini").write_text("[machine]\nname = straight\n[paper]\nsize = A5 landscape\nat = 20, 20 mm\n")
    plan = ("plan", "art.svg", "-o", "job.nc")
    mine = (*plan, "-m", "my.ini")
    said = run(folder, *mine)
    check("of a usual plan nothing is said", said.returncode == 0 and not said.stderr, said)
    for command in (plan, ("proof", "art.svg", "-o", "p.png")):
        said = run(folder, *command)
        check(f"{command[0]} says that there is no profile", said.returncode == 0 and "no profile is given" in said.stderr, said)
    said = run(folder, *mine, "--paper-at", "250,200")
    check("a sheet beyond the reach is said", said.returncode == 0 and "can be reached" in said.stderr and
          "A5 landscape at 250, 200 mm" in said.stderr, said)
    said = run(folder, *mine, "--paper-at", "250,200", "--true-size", "--paper", "60x60")
    check("where it is fitted, not at true size", "can be reached" not in said.stderr, said)
    said = run(folder, *mine, "--colour", "#1c1c1c=blue")
    check("a colour that is there gets its pen", said.stderr == "" and "pen blue" in said.stdout, said)
    said = run(folder, *mine, "--colour", "#40a040=blue")
    check("one that is not is said", said.returncode == 0 and "--colour #40a040=blue has no effect" in said.stderr, said)
    both = run(folder, *mine, "--swap", "black=red", "--swap", "red=blue")
    check("lists given twice count together", both.returncode == 0 and "pen red" in both.stdout and
          "pen black" not in both.stdout, both)


def mute_sheets(folder):
    """A controller without comments: that a test sheet goes beyond the limits on purpose is known from the journal."""
    (folder / "mute.ini").write_text("[machine]\nname = mute\n[paper]\nat = 20, 20 mm\n[controller]\n"
                                     "words = G0 G1 G4 G21 G28 G90 M0 M2 M3 M5 F P S X Y comment:none\n")
    for kind in ("settle", "speed"):
        run(folder, "sheet", kind, "-o", f"{kind}.nc", "-m", "mute.ini")
        seen = run(folder, "inspect", f"{kind}.nc", "-m", "mute.ini")
        check(f"inspect of a {kind} sheet lists nothing that is meant", seen.returncode == 0 and "Will" not in seen.stdout and
              "mend reads" not in seen.stdout, seen)
        told = run(folder, "inspect", f"{kind}.nc", "-m", "mute.ini", "--explain")
        check(f"nor in words ({kind})", told.returncode == 0, told.stderr)
        (folder / "other.nc").write_text((folder / f"{kind}.nc").read_text() + "\n")
        seen = run(folder, "inspect", "other.nc", "-m", "mute.ini")
        check(f"what is no sheet has its findings ({kind})", seen.returncode == 1 and "Will " in seen.stdout, seen)


def play(case):
    with tempfile.TemporaryDirectory(prefix="drawtrue-") as scratch:
        (pathlib.Path(scratch) / "art.svg").write_text(
            '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">'
            '<path d="M2 2H12V8" fill="none" stroke="#1c1c1c"/></svg>')
        case(pathlib.Path(scratch))


cases = (corrections, laid, doubts, other_machines, names_and_numbers, learning, cancelled, own_paper, unfinished, meant, mute_sheets)
with concurrent.futures.ThreadPoolExecutor(len(cases)) as pool:  # most of the time is waiting
    for done in [pool.submit(play, case) for case in cases]:
        done.result()
end_checks()
