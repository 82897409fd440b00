#!/usr/bin/env python3
"""Every command run as a program: its text, its JSON against a schema, and its exit code. Speaks TAP.
Usage: test-commands.py DRAWTRUE SOURCE-ROOT

A schema is a dictionary: a member's name to what its value must be: a type, a tuple of types, a
schema, or a list with one schema for all its elements. No member may be missing, and none beyond
the schema may be there, so that a renamed or lost figure is seen."""
import json
import math
import os
import pathlib
import re
import shutil
import subprocess
import sys
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases, scratch_folder

PROGRAM = os.path.abspath(sys.argv[1])
EXAMPLES = pathlib.Path(sys.argv[2]).resolve() / "examples"
HANGS_AFTER = 90  # seconds; only a hang takes so long
NUMBER = (int, float)
TEXT = str
MAYBE_TEXT = (str, type(None))
TIMES = {"time_s": NUMBER, "ink_s": NUMBER, "slack_s": NUMBER, "travel_s": NUMBER, "lift_s": NUMBER, "home_s": NUMBER,
         "change_s": NUMBER, "ink_mm": NUMBER, "travel_mm": NUMBER, "lifts": int,
         "pen_changes": int, "held_up_s": NUMBER, "starved": int}
COLOUR = {"colour": TEXT, "pen": MAYBE_TEXT, "coverage": NUMBER, "across": MAYBE_TEXT,
          "across_coverage": NUMBER, "difference": NUMBER, "difference_dense": NUMBER,
          "area_mm2": NUMBER}
LOST = {"covered_mm": NUMBER, "unseen_mm": (int, float, type(None))}
UNMEASURED = {"expected_ink_error": {"measured": bool}}
SIZE = {"scale": NUMBER, "width_mm": NUMBER, "height_mm": NUMBER}
PLAN = {"art": TEXT, "program": TEXT, "machine": TEXT, "paper": TEXT, **SIZE, **TIMES, "retraced_mm": NUMBER, "strokes": int,
        **UNMEASURED, "pens": [{"name": TEXT, "ink_mm": NUMBER}], "colours": [COLOUR], **LOST, "notes": [TEXT]}
ONE_WAY = {"axis": TEXT, "lost_mm": NUMBER, "time_s": NUMBER, "both_ways_time_s": NUMBER,
           "uncorrected_error_mm": NUMBER, "both_ways_uncorrected_error_mm": NUMBER}
SHEETS = {"art": TEXT, "machine": TEXT, "paper": TEXT, "columns": int, "rows": int,
          "sheets": [{"program": TEXT, "column": int, "row": int, **TIMES, **UNMEASURED}],
          "colours": [COLOUR], **LOST, "notes": [TEXT]}
PEN = {"name": TEXT, "strokes": int, "ink_mm": NUMBER, "ink_s": NUMBER, "slack_s": NUMBER,
       "travel_s": NUMBER, "lift_s": NUMBER}
PROOF = {"source": TEXT, "picture": TEXT, "machine": TEXT, "paper": TEXT, **TIMES, **UNMEASURED,
         "pens": [PEN]}
LOOK = {"difference_40_cm": NUMBER, "difference_2_m": NUMBER, "lightness_2_m": NUMBER}
FINDING = {"line": int, "column": int, "kind": TEXT, "rank": TEXT, "text": TEXT}
READING = {"pen_by": TEXT, "text": TEXT, "points_behind": NUMBER, "ink_mm": NUMBER, "strokes": int}
INSPECT = {"program": TEXT, "lines": int, "refused_lines": int, "deleted_lines": int, "strokes": int, "ink_mm": NUMBER,
           "off_paper_mm": NUMBER, "travel_mm": NUMBER, "time_s": NUMBER,
           "held_up_s": NUMBER, "starved": int,
           "ink_box": (list, type(None)), "findings_omitted": int, "findings": [FINDING],
           "readings": [READING], "pen_in_doubt": bool}
MEND = {"program": TEXT, "output": TEXT, "corrected": bool, "changes_omitted": int, "doubts": int, "readings": [READING],
        "changes": [{"line": int, "text": TEXT}]}
PAIR = [NUMBER]
MACHINE = {"name": TEXT, "travel_mm": PAIR, "steps_per_mm": PAIR, "drive_steps_per_mm": PAIR,
           "finest_step_mm": PAIR, "speed_mm_s": PAIR, "fastest_diagonal_mm_s": NUMBER,
           "fastest_any_mm_s": NUMBER, "highest_step_rate_per_s": NUMBER,
           "line_on_wire_s": NUMBER, "shortest_fast_move_mm": NUMBER, "home_least_s": NUMBER,
           "home_most_s": NUMBER, "paper": TEXT,
           "paper_w_mm": NUMBER, "paper_h_mm": NUMBER, "sheet_diagonal_s": NUMBER,
           "reach_low_mm": PAIR, "reach_high_mm": PAIR, "supply_v": NUMBER, "supply_a": NUMBER,
           "need_a": NUMBER, "need_w": NUMBER, "advised_a": NUMBER, "supply_suffices": bool,
           "pens": [{"name": TEXT, "tip_mm": NUMBER}]}
LOG = {"runs": [dict], "notes": [dict]}
LEARN = {"profile": TEXT, "words": TEXT, "untried": TEXT, "greeting": TEXT, "accept": TEXT, "refuse": TEXT,
         "notices": TEXT, "program_end": TEXT, "refused_lines": TEXT, "window": int, "longest_line": int,
         "line_check": bool, "tells_state": bool, "holds_at_once": bool, "abandons_at_once": bool,
         "latency_s": NUMBER}
EVENT = {"event": TEXT, "state": TEXT, "serial": int, "waits_for": TEXT, "done": NUMBER, "left_s": NUMBER,
         "ink_mm": NUMBER, "travel_mm": NUMBER, "pen": TEXT, "line": int, "stroke": int, "strokes": int}
# Members that an event has where they are known.
EVENT_MORE = {"x": NUMBER, "y": NUMBER, "pen_down": bool, "from_line": int, "text": TEXT}
STATES = {"closed", "opening", "ready", "homing", "jogging", "learning", "drawing", "pen-change", "paused",
          "held", "parked", "unplugged", "recovering", "ending", "done", "stopped", "failed"}
RIG = {"time_s": NUMBER, "home_s": NUMBER, "stop_s": NUMBER, "ink_mm": NUMBER, "travel_mm": NUMBER, "dry_mm": NUMBER,
       "drag_mm": NUMBER, "end_x": NUMBER, "end_y": NUMBER, "lines_taken": int, "lines_refused": int,
       "endstop_hits": int, "bytes_lost": int, "steps_lost": int, "steps_slipped": int, "lifts": int,
       "homings": int, "pen_changes": int, "changes_without_stop": int, "steps_x": int, "steps_y": int,
       "replies": int, "starved": int, "bytes": int, "faults": int, "homed": bool, "motors_off": bool,
       "stopped_on_switch": bool, "pen_up_at_end": bool}


def want(condition, message):
    if not condition:
        raise AssertionError(message)


def run(folder, *arguments, code=0):
    environment = {k: v for k, v in os.environ.items() if not k.startswith("DRAWTRUE")}
    if len(arguments) > 2 and arguments[0] in ("plan", "proof"):
        arguments += ("--effort", "200")  # the order is not what is judged here
    quiet = folder / "leaks-of-libraries"  # fontconfig keeps its caches to the end
    quiet.write_text("leak:libfontconfig\nleak:libpango\n")
    environment["LSAN_OPTIONS"] = f"suppressions={quiet}:print_suppressions=0"
    for name in ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        environment[name] = str(folder / "home")
    done = subprocess.run([PROGRAM, *map(str, arguments)], cwd=folder, env=environment,
                          stdin=subprocess.DEVNULL, capture_output=True, text=True,
                          timeout=HANGS_AFTER)
    want(done.returncode == code,
         f"{arguments[:1]}: exit code {done.returncode}, not {code}: {done.stderr}{done.stdout}")
    return done


def fits(value, schema, where):
    if isinstance(schema, dict):
        want(isinstance(value, dict), f"{where} is no object")
        want(set(value) == set(schema), f"{where}: missing {sorted(set(schema) - set(value))}, "
             f"not in the schema {sorted(set(value) - set(schema))}")
        for name, inner in schema.items():
            fits(value[name], inner, f"{where}.{name}")
    elif isinstance(schema, list):
        want(isinstance(value, list), f"{where} is no array")
        for i, element in enumerate(value):
            fits(element, schema[0], f"{where}[{i}]")
    else:
        want(isinstance(value, schema) and (schema is bool or not isinstance(value, bool)),
             f"{where} is {value!r}, not {schema}")


def report(folder, schema, *arguments, code=0):
    """The command's JSON, after it was held against the schema and its numbers against rounding."""
    done = run(folder, *arguments, "--json", code=code)
    numbers = []

    def number(text):
        numbers.append(text)
        return float(text)

    value = json.loads(done.stdout, parse_float=number)
    fits(value, schema, arguments[0])
    long = [text for text in numbers if len(text.split(".")[-1]) > 4]
    want(not long, f"{arguments[0]}: not rounded: {long[:3]}")
    return value


def examples(folder):
    for path in EXAMPLES.iterdir():
        shutil.copy(path, folder)
    return "packet-label.svg", "workshop.ini"


@case
def plan(folder):
    art, machine = examples(folder)
    told = report(folder, PLAN, "plan", art, "-m", machine, "-o", "job.nc")
    parts = sum(told[name] for name in ("ink_s", "slack_s", "travel_s", "lift_s", "home_s"))
    want(abs(parts - told["time_s"]) < 0.01, f"the parts add up to {parts}: {told}")
    want(abs(sum(p["ink_mm"] for p in told["pens"]) - told["ink_mm"]) < 1, told["pens"])
    text = run(folder, "plan", art, "-m", machine, "-o", "again.nc").stdout
    want(re.search(r"^  time \d+ min \d+ s: ink .*, travel .*, lifts .*, slack .*, homing .*$", text,
                   re.M), text)
    want(f"ink {told['ink_mm'] / 1000:.2f} m" in text and "written to again.nc" in text, text)
    for pen in told["pens"]:
        want(f"pen {pen['name']}  {pen['ink_mm'] / 1000:.2f} m" in text, text)
    listed = [pen["name"] for pen in told["pens"]]
    program = (folder / "job.nc").read_text(encoding="utf-8")
    want(listed == list(dict.fromkeys(re.findall(r"\(stroke \d+ pen (\w+)\)", program))) and len(listed) == 3,
         f"{listed} is not the drawing order")
    want(re.findall(r"^  pen (\w+)  \d", text, re.M) == listed, text)
    want((folder / "job.nc").read_bytes() == (folder / "again.nc").read_bytes(), "not repeated")
    one_way = report(folder, {**PLAN, "one_way": ONE_WAY}, "plan", art, "-m", machine, "-o", "w.nc",
                     "--one-way")
    want(one_way["one_way"]["axis"] in "XY", one_way["one_way"])


@case
def plan_on_several_sheets(folder):
    art, machine = examples(folder)
    told = report(folder, SHEETS, "plan", art, "-m", machine, "-o", "job.nc", "--sheets", "2x2", "--no-turn",
                  "--paper", "A6 landscape")
    want(told["columns"] == 2 and told["rows"] == 2, told)
    for sheet in told["sheets"]:
        want((folder / sheet["program"]).stat().st_size > 0, sheet)
    text = run(folder, "plan", art, "-m", machine, "-o", "job.nc", "--sheets", "2x2", "--no-turn",
               "--paper", "A6 landscape").stdout
    want("on 2 by 2 sheets" in text and text.count("written to") == len(told["sheets"]), text)


@case
def proof_of_a_drawing_and_of_its_program(folder):
    art, machine = examples(folder)
    run(folder, "plan", art, "-m", machine, "-o", "job.nc")
    drawing = report(folder, {**PROOF, **SIZE, "look": LOOK, "colours": [COLOUR], **LOST, "notes": [TEXT]},
                     "proof", art, "-m", machine, "-o", "a.svg")
    program = report(folder, {**PROOF, "findings": int, "refused_lines": int},
                     "proof", "job.nc", "-m", machine, "-o", "b.png", "--width", "400")
    want(abs(drawing["ink_mm"] - program["ink_mm"]) < 5, "the program's ink is the drawing's")
    want(abs(drawing["time_s"] / program["time_s"] - 1) < 0.01, (drawing, program))
    want(program["refused_lines"] == 0, program)
    want((folder / "b.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n", "no PNG")
    picture = (folder / "a.svg").read_text()
    want("<svg" in picture and picture.count("<path") > 100, "a picture without its ink")
    text = run(folder, "proof", art, "-m", machine, "-o", "a.svg", "--order").stdout
    want("in the drawing's own order it would take" in text, text)
    for pen in drawing["pens"]:
        want(re.search(rf"pen {pen['name']} +{pen['ink_mm'] / 1000:.2f} m +{pen['strokes']} strokes",
                       text), text)


def words_of(folder, name):
    """The text of a PDF picture by lines, blanks folded."""
    text = subprocess.run(["pdftotext", "-layout", folder / name, "-"], capture_output=True, text=True,
                          check=True).stdout
    return [" ".join(line.split()) for line in text.splitlines() if line.strip()]


def duration(seconds):
    return f"{seconds:.1f} s" if seconds < 60 else f"{round(seconds) // 60} min {round(seconds) % 60:02} s"


@case
def what_a_proof_says(folder):
    art, machine = examples(folder)
    told = report(folder, {**PROOF, **SIZE, "look": LOOK, "colours": [COLOUR], **LOST, "notes": [TEXT],
                           "time_in_drawing_order_s": NUMBER},
                  "proof", art, "-m", machine, "-o", "proof.pdf", "--order")
    lines = words_of(folder, "proof.pdf")
    page = "\n".join(lines)
    want(any(line.startswith(art) for line in lines), page)
    for heading in ("Pens, in drawing order", "Order of the travel", "Time of each pen, min:s",
                    "Where the time goes"):
        want(sum(heading in line for line in lines) == 1, f"'{heading}' is not there once: {page}")
    for pen in told["pens"]:
        row = f"{pen['ink_mm'] / 1000:.2f} m, {pen['strokes']} strokes"
        want(any(row in line for line in lines), f"'{row}' is not in {page}")
    names = [pen["name"] for pen in told["pens"]]
    in_column = re.findall(rf"\b({'|'.join(names)}) 0\.\d mm$", page, re.M)
    want(in_column == names, f"{in_column} in the picture, {names} in drawing order")
    for name, key in (("ink", "ink_s"), ("slack", "slack_s"), ("travel", "travel_s")):
        of_pens = sum(pen[key] for pen in told["pens"])  # which are what the picture adds up
        want(any(f"{name} {duration(of_pens)}" in line for line in lines), f"{name}: {of_pens} is not in {page}")
        want(abs(of_pens - told[key]) < 0.02 * told["time_s"], f"{key}: {of_pens} and {told[key]}")
    want(any(f"lifts {told['lifts']} " in line for line in lines), page)
    want(f"time {duration(told['time_s'])}" in page, page)
    run(folder, "proof", art, "-m", machine, "-o", "plain.pdf")
    want("Order of the travel" not in "\n".join(words_of(folder, "plain.pdf")), "a key to what is not shown")


@case
def inspect(folder):
    art, machine = examples(folder)
    planned = report(folder, PLAN, "plan", art, "-m", machine, "-o", "job.nc")
    told = report(folder, INSPECT, "inspect", "job.nc", "-m", machine)
    want(told["findings"] == [] and told["refused_lines"] == 0, told)
    want(abs(told["ink_mm"] - planned["ink_mm"]) < 5 and told["strokes"] == planned["lifts"] - 1
         or told["strokes"] == planned["lifts"], (told, planned))
    want(len(told["ink_box"]) == 4, told["ink_box"])
    text = run(folder, "inspect", "job.nc", "-m", machine, "--picture", "p.png").stdout
    want("nothing is wrong with it on this machine" in text, text)
    want((folder / "p.png").stat().st_size > 1000, "no picture")
    # what is wrong is drawn in red, and what is not, is not
    (folder / "far.nc").write_text("G21 G90\nM5\nG28\nG0 X10 Y10\nM3 S40\nG4 P0.2\nG1 X900 F600\nM5\nG0 X0 Y0\nM2\n")
    red = "rgb(82%"
    run(folder, "inspect", "job.nc", "-m", machine, "--picture", "sound.svg")
    run(folder, "inspect", "far.nc", "-m", machine, "--picture", "far.svg", code=1)
    want(red not in (folder / "sound.svg").read_text() and red in (folder / "far.svg").read_text(), "red where it is wrong")
    # each stroke is one line, as long as the pen stays down, and so is each travel
    (folder / "two.nc").write_text("G21 G90\nM5\nG28\nG0 X10 Y10\nM3 S40\nG4 P0.2\nG1 X90 F600\nY50\nX10\nM5\n"
                                   "G4 P0.2\nG0 X20 Y80\nM3 S40\nG4 P0.2\nG1 X80\nM5\nG4 P0.2\nG0 X0 Y0\nM2\n")
    run(folder, "inspect", "two.nc", "--picture", "two.svg")
    lines = [[tuple(round(float(x)) for x in at) for at in re.findall(r"[ML] (\S+) (\S+)", way)] for way in
             re.findall(r'stroke-linecap:round[^>]* d="([^"]*)"', (folder / "two.svg").read_text())]
    want(lines == [[(10, 10), (90, 10), (90, 50), (10, 50)], [(20, 80), (80, 80)],
                   [(0, 0), (10, 10)], [(10, 50), (20, 80)], [(80, 80), (0, 0)]], lines)
    words = run(folder, "inspect", "job.nc", "-m", machine, "--explain").stdout
    want(len(words.splitlines()) == told["lines"], "each line is explained")
    (folder / "bad.nc").write_text("G21 G90\nG28\nG1 X9999 Y10 F600\n")
    bad = report(folder, INSPECT, "inspect", "bad.nc", "-m", machine, code=1)
    want(any(f["rank"] == "will-harm" and f["line"] == 3 for f in bad["findings"]), bad)
    text = run(folder, "inspect", "bad.nc", "-m", machine, code=1).stdout
    want("bad.nc:3:" in text, text)


@case
def mend(folder):
    _, machine = examples(folder)
    (folder / "other.nc").write_text("G21 G90\nG28\nG0 Z5\nG0 X10 Y10\nG1 Z-1 F300\nG1 X60 Y10 F600\n"
                                     "G1 X60 Y40\nG0 Z5\nG0 X0 Y0\nM2\n")
    told = report(folder, MEND, "mend", "other.nc", "-m", machine, "-o", "mended.nc")
    want(told["changes"] and told["output"] == "mended.nc", told)
    again = report(folder, MEND, "mend", "mended.nc", "-m", machine, "-o", "twice.nc")
    want(again["changes"] == [], again)
    want((folder / "mended.nc").read_bytes() == (folder / "twice.nc").read_bytes(), "mended twice")
    want(told["readings"][0]["pen_by"].startswith("z-below:"), told["readings"])
    text = run(folder, "mend", "other.nc", "-m", machine, "-o", "mended.nc").stdout
    want(f"{len(told['changes'])} change" in text and "written to mended.nc" in text, text)
    want(not told["corrected"] and "corrections" not in text, text)
    told = report(folder, MEND, "mend", "other.nc", "-m", machine, "-o", "mended.nc", "--correct")
    text = run(folder, "mend", "other.nc", "-m", machine, "-o", "mended.nc", "--correct").stdout
    want(told["corrected"] and text.endswith("with this machine's corrections\n"), text)


@case
def mend_tells_its_doubts_behind_any_number_of_changes(folder):
    _, machine = examples(folder)
    lines = [f"G0 X{10 + k % 50} Y10\nM3 S40\nG1 Y20 F600\nM5\n" for k in range(600)]  # without dwells
    (folder / "other.nc").write_text("G21 G90\nM5\nG28\n" + "".join(lines) + "G0 X80\nM3 S40\nG1 Y10\nG4 P90\nY30\nM5\nG0 X0 Y0\nM2\n")
    told = report(folder, MEND, "mend", "other.nc", "-m", machine, "-o", "mended.nc", code=1)
    want(told["doubts"] == 1 and told["changes_omitted"] > 0, told["doubts"])
    want("left in doubt" in told["changes"][-1]["text"] and "90 s" in told["changes"][-1]["text"], told["changes"][-1])
    done = run(folder, "mend", "other.nc", "-m", machine, "-o", "mended.nc", code=1)
    want("left in doubt, in the result's line: a dwell of 90 s" in done.stdout, done.stdout[-400:])
    want("1 line is left in doubt; 'mended.nc' is written" in done.stderr, done.stderr)
    run(folder, "inspect", "mended.nc", "-m", machine, code=1)


@case
def machine(folder):
    _, profile = examples(folder)
    told = report(folder, MACHINE, "machine", "-m", profile)
    text = run(folder, "machine", "-m", profile).stdout
    want(told["name"] in text and f"{told['steps_per_mm'][0]:.4f}" in text, text)
    diagonal = math.hypot(*told["speed_mm_s"])
    want(abs(told["fastest_any_mm_s"] - diagonal) < 1e-3, told)
    (folder / "new.ini").write_text(run(folder, "machine", "--template").stdout)
    fits(report(folder, MACHINE, "machine", "-m", "new.ini"), MACHINE, "machine")


@case
def an_earlier_key_is_still_read_with_a_note(folder):
    (folder / "old.ini").write_text("[motion]\nfastest_x = 11 mm/s\n")
    done = run(folder, "machine", "-m", "old.ini", "--json")
    want(json.loads(done.stdout)["speed_mm_s"][0] == 11, done.stdout)
    want(done.stderr == "old.ini:2: 'fastest_x' is called 'speed_x' now\n", done.stderr)


@case
def log_of_no_run(folder):
    want(run(folder, "log").stdout == "no run yet\n", "an empty log")
    told = report(folder, LOG, "log")
    want(told == {"runs": [], "notes": []}, told)
    for more in ((), ("--machine",), ("--json",)):
        done = run(folder, "log", "--journal", "mistyped.db", *more, code=1)
        want("mistyped.db: there is no such journal" in done.stderr and done.stdout == "", done)
    want(not (folder / "mistyped.db").exists(), "a journal was made")


class Rig:
    """The virtual machine at `tty` in the folder; its report when it has ended."""

    def __init__(self, folder):
        self.folder = folder

    def __enter__(self):
        self.process = subprocess.Popen([PROGRAM, "rig", "rig.ini", "--link", "tty", "--json"], cwd=self.folder,
                                        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        until = time.monotonic() + 20
        while not (self.folder / "tty").exists() and self.process.poll() is None and time.monotonic() < until:
            time.sleep(0.05)
        want((self.folder / "tty").exists(), "the virtual machine makes no port")
        return self

    def end(self):
        self.process.terminate()
        out, err = self.process.communicate(timeout=20)
        port, report = out.split("\n", 1)
        want(set(json.loads(port)) == {"port"}, port)
        want(err == "" and self.process.returncode == 0, f"{self.process.returncode} {err}")
        told = json.loads(report)
        fits(told, RIG, "rig")
        return told

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.kill()
            self.process.communicate()


def events(done):
    """The events that a command printed, each held against the schema, its serial never falling."""
    listed = [json.loads(line) for line in done.stdout.splitlines()]
    for i, event in enumerate(listed):
        more = {name: kind for name, kind in EVENT_MORE.items() if name in event}
        fits(event, {**EVENT, **more}, f"event {i}")
        want(event["state"] in STATES and event["waits_for"] in ("nothing", "board", "port", "person"), event)
        want(i == 0 or event["serial"] >= listed[i - 1]["serial"], event)
    return listed


def plan_small(folder, machine, shapes='<path d="M2 2H12V8"/>'):
    (folder / "art.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" '
                                    f'viewBox="0 0 40 30" fill="none" stroke="#1c1c1c" stroke-width="0.3">{shapes}</svg>')
    run(folder, "plan", "art.svg", "-m", machine, "-o", "job.nc", "--true-size")


@case
def run_on_the_virtual_machine(folder):
    _, machine = examples(folder)
    plan_small(folder, machine)
    with Rig(folder) as rig:
        listed = events(run(folder, "run", "job.nc", "--port", "tty", "-m", machine, "--json", "--pens-ready"))
        want(listed and listed[-1]["event"] == "done", listed[-1:])
        want(sum(e["event"] == "done" for e in listed) == 1, "it ends once")
        want(abs(listed[-1]["done"] - 1) < 1e-6, listed[-1])
        told = rig.end()
        want(abs(told["ink_mm"] - 16) < 0.5, told)
    told = report(folder, LOG, "log")
    want(len(told["runs"]) == 1 and told["runs"][0]["state"] == "done", told)
    text = run(folder, "log").stdout
    want(re.search(r"^ +1  .* done .* 1/1 ", text, re.M), text)


@case
def resume_after_a_stop(folder):
    _, machine = examples(folder)
    plan_small(folder, machine, '<path d="M2 2H38M2 6H38"/><path d="M2 10H38M2 14H38M2 18H38" stroke="#2e7d32"/>')
    with Rig(folder) as rig:
        environment = {**os.environ, **{name: str(folder / "home") for name in
                                        ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME")}}
        cut = subprocess.Popen([PROGRAM, "run", "job.nc", "--port", "tty", "-m", machine, "--json"], cwd=folder,
                               env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE, text=True)
        watchdog = threading.Timer(HANGS_AFTER, cut.kill)
        watchdog.start()
        for event in map(json.loads, cut.stdout):
            if event["state"] != "pen-change" or event["waits_for"] != "person":
                continue
            if event["line"] > 0:  # nobody is there for the second pen
                break
            cut.stdin.write("\n")  # the first one is in
            cut.stdin.flush()
        watchdog.cancel()
        cut.kill()
        cut.communicate()
        told = report(folder, LOG, "log")["runs"]
        want(len(told) == 1 and told[0]["state"] not in ("done", "stopped"), told)
        listed = events(run(folder, "resume", "--port", "tty", "-m", machine, "--json", "--pens-ready"))
        want(listed[-1]["event"] == "done" and listed[-1]["strokes"] == 5, listed[-1])
        drawn = rig.end()
        want(abs(drawn["ink_mm"] - 5 * 36) < 3 and drawn["lines_refused"] == 0, drawn)
    want(report(folder, LOG, "log")["runs"][-1]["state"] == "done", "the log")


@case
def a_board_that_does_not_go_on_is_reported(folder):
    _, machine = examples(folder)
    text = (folder / machine).read_text()
    want("go_on" not in text, "the example says how its board goes on")
    (folder / machine).write_text(text.replace("[controller]", "[controller]\ngo_on = \\x11", 1))  # once, not twice
    plan_small(folder, machine, '<path d="M2 2H38"/><path d="M2 10H38" stroke="#2e7d32"/>')
    with Rig(folder) as rig:
        done = run(folder, "run", "job.nc", "--port", "tty", "-m", machine, "--json", "--pens-ready", code=1)
        want("'go_on'" in done.stderr + done.stdout, done.stderr)
        told = rig.end()
        want(told["pen_up_at_end"] and told["motors_off"], told)


@case
def jog_by_arguments(folder):
    _, machine = examples(folder)
    with Rig(folder) as rig:
        listed = events(run(folder, "jog", "--port", "tty", "-m", machine, "--json", "to", "30,20", "down", "up"))
        want([e["state"] for e in listed if e["event"] == "state"][:2] == ["homing", "ready"], listed)
        want(any(e.get("pen_down") for e in listed), "the pen was down")
        want(listed[-1]["state"] == "closed", listed[-1])
        told = rig.end()
        want(told["lifts"] >= 1 and told["pen_up_at_end"] and told["motors_off"], told)
        want(abs(told["end_x"] - 30) < 1 and abs(told["end_y"] - 20) < 1, told)
        run(folder, "jog", "--port", "tty", "-m", machine, "to", "30;20", code=2)


@case
def learn_from_the_virtual_machine(folder):
    _, machine = examples(folder)
    before = (folder / machine).read_bytes()
    with Rig(folder) as rig:
        done = run(folder, "learn", "--port", "tty", "-m", machine, "--still", "--json", "-o", "learnt.ini")
        told = json.loads(done.stdout)
        fits(told, LEARN, "learn")
        want(told["line_check"] and told["window"] == 128 and told["longest_line"] == 127, told)
        want("G1" in told["words"].split() and "M3" in told["untried"].split(), told)
        want("it greets with" in done.stderr, done.stderr)
        still = rig.end()
        want(still["steps_x"] == 0 and still["lifts"] == 0, "it was to keep still")
    want((folder / machine).read_bytes() == before, "the profile was to stay")
    text = (folder / "learnt.ini").read_text()
    want("untried:" in text, text[:400])


@case
def usage_and_help(folder):
    want(run(folder, "--version").stdout.startswith("drawtrue "), "--version")
    usage = run(folder, "--help").stdout
    names = re.findall(r"^  (\w+) ", usage, re.M)
    want(len(names) >= 10, usage)
    for name in names:
        text = run(folder, name, "--help").stdout
        want(text.startswith(f"usage: drawtrue {name} ") and "--help" in text, text)
        run(folder, name, "--no-such-option", code=2)
    run(folder, code=2)
    want("did you mean 'inspect'" in run(folder, "inspct", code=2).stderr, "no suggestion")


run_cases(scratch_folder)
