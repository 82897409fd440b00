#!/usr/bin/env python3
"""sheet and true as their user meets them: sheets made and kept, readings as arguments and as answers, bad
readings, corrections written and taken back, two sheets compared. Speaks TAP.
Usage: test-truing.py DRAWTRUE SOURCE-ROOT"""
import contextlib
import json
import os
import pathlib
import sqlite3
import struct
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases, scratch_folder

PROGRAM = os.path.abspath(sys.argv[1])
EXAMPLES = pathlib.Path(sys.argv[2]).resolve() / "examples"
# What libraries keep to the end is known, for a program under LeakSanitizer.
os.environ["LSAN_OPTIONS"] = (f"suppressions={pathlib.Path(sys.argv[2]).resolve()}/tests/fuzz/leaks.txt"
                              ":print_suppressions=0")
HANGS_AFTER = 60
READINGS = ["X1=3", "X2=between 4 and 5", "X3=7", "X4=9", "Y1=11", "Y2=11", "Y3=12",
            "LX=161.2,161.3,161.3", "LY=109.3,109.3,109.4"]


class Bench:
    def __init__(self, folder):
        self.folder = folder
        text = (EXAMPLES / "workshop.ini").read_text()
        begin, rest = text.split("# Measured with")
        self.fresh = begin + rest[rest.index("[controller]"):]
        self.profile = self.folder / "my.ini"
        self.profile.write_text(self.fresh)

    def run(self, *words, code=0, answers=""):
        command = [PROGRAM, *words]
        if words[0] in ("sheet", "true"):
            command += ["-m", "my.ini"]
        done = subprocess.run([*command, "--journal", "j.db"], cwd=self.folder, input=answers,
                              capture_output=True, text=True, timeout=HANGS_AFTER)
        assert done.returncode == code, (done.returncode, done.stdout, done.stderr)
        return done.stdout if code == 0 else done.stderr

    def sheet(self, *kinds):
        return self.run("sheet", *kinds, "-o", "s.nc", "--force", "--date", "2026-03-14", "--json")


@case
def a_sheet_is_numbered_and_fit_to_be_drawn(b):
    assert json.loads(b.sheet())["sheet"] == 1
    assert json.loads(b.sheet("slack"))["sheet"] == 2
    for kind in ("settle", "speed", "pens", "scan", "square"):
        b.sheet(kind)
        found = subprocess.run([PROGRAM, "inspect", "s.nc", "-m", "my.ini"], cwd=b.folder, capture_output=True,
                               text=True, timeout=HANGS_AFTER)
        assert found.returncode == 0, (kind, found.stdout)


@case
def a_sheet_has_a_picture(b):
    b.run("sheet", "slack", "-o", "s.nc", "--date", "2026-03-14", "--picture", "s.png")
    data = (b.folder / "s.png").read_bytes()
    width, height = struct.unpack(">II", data[16:24])  # PNG (ISO/IEC 15948), the IHDR chunk
    assert width == 2000 and 154 / 216 < height / width < 0.8, (width, height)  # A5 with 3 mm around it, and its title
    assert len(data) > 20000, len(data)
    (b.folder / "mine.png").write_text("somebody's")
    assert "mine.png" in b.run("sheet", "slack", "-o", "t.nc", "--picture", "mine.png", code=1)
    assert (b.folder / "mine.png").read_text() == "somebody's" and not (b.folder / "t.nc").exists()


@case
def the_same_sheet_is_the_same_program(b):
    b.sheet("slack")
    one = (b.folder / "s.nc").read_bytes()
    (b.folder / "j.db").unlink()
    b.sheet("slack")
    assert one == (b.folder / "s.nc").read_bytes()


@case
def reading_makes_no_journal(b):
    for words, says in ((("--sheet", "9"), "there is no sheet 9"), ((), "no test sheet of"),
                        (("--undo",), "no correction of"), (("--compare", "1", "2"), "there is no sheet 1")):
        assert f"j.db: {says}" in b.run("true", *words, code=1)
        assert not (b.folder / "j.db").exists(), words


@case
def readings_become_corrections_and_are_taken_back(b):
    b.sheet("slack", "scale")
    told = json.loads(b.run("true", *READINGS, "--json"))
    assert told["written"] == "my.ini"
    keys = {c["key"] for c in told["changes"]}
    assert keys == {"scale_x", "scale_y", "backlash_x", "backlash_y"}, keys
    text = b.profile.read_text()
    assert "# truing: sheet 1, 2026-03-14\nbacklash_y = " in text
    b.run("true", "--undo")
    assert b.profile.read_text() == b.fresh
    assert "no correction" in b.run("true", "--undo", code=1)


@case
def an_older_sheet_does_not_replace_a_newer_one(b):
    b.sheet("slack")
    b.sheet("slack", "scale")
    b.run("true", "--sheet", "2", *[f"X{i}=5" for i in range(1, 5)])
    newer = b.profile.read_text()
    older = ("true", "--sheet", "1", *[f"X{i}=10" for i in range(1, 5)])
    told = b.run(*older)
    assert "the profile has that of a newer sheet" in told and "has the number:\n2\n" in told, told
    assert b.profile.read_text() == newer
    told = json.loads(b.run(*older, *[f"Y{i}=5" for i in range(1, 4)], "--json"))  # the newer one lacks those
    assert [c["key"] for c in told["changes"]] == ["backlash_y"], told["changes"]
    for _ in range(2):
        b.run("true", "--undo")
    assert b.profile.read_text() == b.fresh
    assert "backlash_x" in {c["key"] for c in json.loads(b.run(*older, "--json"))["changes"]}


@case
def nothing_is_written_where_anything_is_wrong(b):
    b.sheet("slack", "scale")
    for words, told, code in (
            (["X1=40"], "out of range", 1), (["X1=six"], "not a reading", 1), (["Q1=3"], "not a reading of this", 2),
            (["X1=3", "X2=4", "x1=5"], "'X1=3' and 'x1=5' answer the same question", 2),
            (["X1=3", "X2=4", "X3=18", "X4=4"], "X3", 1), (["LX=150,165,170"], "LX", 1), (["--sheet", "9"], "9", 1)):
        assert told in b.run("true", *words, code=code), words
        assert b.profile.read_text() == b.fresh
        subprocess.run(["rm", "-f", "j.db", "j.db-wal", "j.db-shm"], cwd=b.folder, check=True)
        b.sheet("slack", "scale")


def kept(b):
    with sqlite3.connect(b.folder / "j.db") as db:
        (text,) = db.execute("SELECT readings FROM sheets").fetchone()
    return json.loads(text) if text else {}


@case
def refused_arguments_leave_the_journal_as_it_was(b):
    b.sheet("slack", "scale")
    b.run("true", "X1=3", "LX=161.2,161.3", "--show")
    had = {"X1": ["3"], "LX": ["161.2", "161.3"]}
    assert kept(b) == had
    for words in (["LX=161.3,161.4,170"], ["X1=3", "X2=4", "X3=15", "X4=4"], ["X1=4", "--scan", "none.png"]):
        b.run("true", *words, code=1)
        assert kept(b) == had, words
    b.run("true", "Y1=11", "--show")
    assert kept(b) == {**had, "Y1": ["11"]}


@case
def answers_that_contradict_each_other_are_kept_and_can_be_replaced(b):
    b.sheet("slack")
    told = b.run("true", "--pictures", "p", answers="3\n4\n15\n4\n" + "5\n" * 3 + "0\n" * 4, code=1)
    assert "X3 says" in told and "'drawtrue true NAME=READING' replaces a reading" in told, told
    assert kept(b)["X3"] == ["15"]
    b.run("true", "X3=4", "--show")
    assert kept(b)["X3"] == ["4"]


@case
def a_sheet_of_another_drive_train_tells_nothing(b):
    b.sheet("slack")
    b.profile.write_text(b.fresh.replace("pulley_x = 12.4 mm", "pulley_x = 15 mm"))
    assert "draw a new one" in b.run("true", "X1=3", code=1)


@case
def a_sheet_that_was_broken_off_is_not_read(b):
    b.sheet("slack")
    with sqlite3.connect(b.folder / "j.db") as db:
        (program,) = db.execute("SELECT program_sum FROM sheets").fetchone()
        db.execute("INSERT INTO runs (started, machine, profile, program, sha256, port, status, strokes, drawn,"
                   " estimate_s, told_s, total_ink_mm) VALUES (1, 'm', '', 's.nc', ?, 'p', 'stopped', 300, 120, 1,"
                   " 1, 1)", (program,))
    assert "after 120 of 300 strokes" in b.run("true", "X1=3", code=1)


@case
def answers_are_kept_and_gone_on_with(b):
    b.sheet("slack")
    told = b.run("true", "--pictures", "p", code=1, answers="4\nbetween 5 and 6\nback\n5\n99\n?\n")
    assert "the answers end at" in told and "out of range" in told
    assert (b.folder / "p/X1.png").stat().st_size > 1000
    with sqlite3.connect(b.folder / "j.db") as db:
        (kept,) = db.execute("SELECT readings FROM sheets").fetchone()
    assert json.loads(kept) == {"X1": ["4"], "X2": ["5"]}
    b.run("true", "--pictures", "p", "--show", answers="5\n5\n11\n11\n11\n11\n0\n1\n-1\nbetween 0 and 1\n")
    assert b.profile.read_text() == b.fresh


@case
def a_length_is_read_several_times(b):
    b.sheet("scale")
    told = b.run("true", "--pictures", "p", code=1, answers="179.2\n179.9\nback\n179.4\n179.3\n")
    asked = [part.split(">")[0] for part in told.split("  reading ")[1:]]
    assert asked == ["1 of 3  ", "2 of 3  ", "3 of 3  ", "2 of 3  [179.9] ", "3 of 3  ", "1 of 3  "], asked
    with sqlite3.connect(b.folder / "j.db") as db:
        (kept,) = db.execute("SELECT readings FROM sheets").fetchone()
    assert json.loads(kept) == {"LX": ["179.2", "179.4", "179.3"]}


@case
def nothing_read_is_no_result(b):
    b.sheet("slack")
    assert "sheet 1 has no reading yet" in b.run("true", "--pictures", "p", code=1, answers="?\n" * 20)
    assert b.profile.read_text() == b.fresh


@case
def a_question_is_asked_without_its_picture_too(b):
    b.sheet("slack")
    (b.folder / "p").write_text("a file")
    told = b.run("true", "--pictures", "p", code=1, answers="4\n")
    assert told.count("(no picture: ") == 2 and "the answers end at X2" in told, told


@case
def a_profile_that_agrees_is_left_as_it_is(b):
    b.sheet("slack", "scale")
    b.run("true", *READINGS)
    written = b.profile.read_text()
    assert "nothing to write: the profile already agrees with this sheet" in b.run("true", *READINGS)
    assert b.profile.read_text() == written


@case
def what_was_read_before_counts_and_is_not_asked_again(b):
    b.sheet("slack")
    b.run("true", "X1=9", "X2=9", "X3=9", "X4=9", "--show")
    b.run("true", "--pictures", "p", "--show", answers="5\n5\n5\n0\n0\n0\n0\n")  # only what is open
    asked = {path.stem for path in (b.folder / "p").iterdir()}
    assert len(asked) == 7 and asked.isdisjoint({"X1", "X2", "X3", "X4"}), asked
    whole = json.loads(b.run("true", "--show", "--json"))  # nothing is open: it reads no answer
    found = {f["axis"] for f in whole["result"]["figures"] if f["figure"] == "mean-reversal" and f["known"]}
    assert found == {"x", "y"}, whole
    assert "the answers end at X1" in b.run("true", "--ask", "--pictures", "p", "--show", code=1)
    with sqlite3.connect(b.folder / "j.db") as db:
        db.execute("UPDATE sheets SET readings = '{\"X1\": 9'")
    assert "readings of this sheet are damaged" in b.run("true", "X2=9", "--show", code=1)
    with sqlite3.connect(b.folder / "j.db") as db:
        assert db.execute("SELECT readings FROM sheets").fetchone() == ('{"X1": 9',)


@case
def two_sheets_are_compared(b):
    b.sheet("slack")
    b.run("true", "X1=9", "X2=9", "X3=9", "X4=9", "Y1=5", "Y2=5", "Y3=5", "--show")
    b.sheet("slack")
    assert "not read yet" in b.run("true", "--compare", "1", "2", code=1)
    b.run("true", "X1=4", "X2=4", "X3=4", "X4=4", "Y1=5", "Y2=5", "Y3=between 5 and 6", "--show")
    told = json.loads(b.run("true", "--compare", "1", "2", "--picture", "c.png", "--json"))
    verdicts = {(f["figure"], f["axis"]): f["verdict"] for f in told["figures"]}
    assert verdicts == {("mean-reversal", "x"): "better", ("mean-reversal", "y"): "same"}, verdicts
    assert (b.folder / "c.png").stat().st_size > 1000
    logged = json.loads(b.run("log", "--machine", "--json"))
    assert [s["sheet"] for s in logged["sheets"]] == [1, 2]


def expected(b, *words):
    """The expected ink error as plan tells it, and the program."""
    (b.folder / "line.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" '
                                       'viewBox="0 0 100 60"><path d="M5 5H90V50H5Z" fill="none" stroke="#1c1c1c"/>'
                                       "</svg>")
    told = b.run("plan", "line.svg", "-o", "line.nc", "--force", "-m", "my.ini", *words)
    return told, (b.folder / "line.nc").read_bytes()


@case
def plan_and_proof_tell_the_expected_ink_error(b):
    told, program = expected(b)
    assert "this machine has not been measured; 'drawtrue sheet'" in told, told
    assert json.loads(expected(b, "--json")[0])["expected_ink_error"] == {"measured": False}
    b.sheet("slack", "scale")
    b.run("true", *READINGS, "--show")
    before, same = expected(b, "--json")
    before = json.loads(before)["expected_ink_error"]
    assert same == program  # what is told of a program does not change it
    assert before["sheet"] == 1 and before["date"] == "2026-03-14"
    # the profile lacks the corrections: X is drawn some 5 % too long, 2 mm at the ends of a figure of 85 mm
    assert {"scale", "reversal value"} == set(before["not_corrected"]), before
    assert 1.5 < before["p95_mm"] < 8, before
    b.run("true", *READINGS)
    after = json.loads(expected(b, "--json")[0])["expected_ink_error"]
    assert after["not_corrected"] == [] and 0.005 < after["p95_mm"] < 0.15, after
    assert after["p95_mm"] <= after["largest_mm"]
    assert "straightness" in after["not_measured"] and "scale" not in after["not_measured"], after
    told, _ = expected(b)
    assert f"expected ink error at least {after['p95_mm']:.3f} mm" in told, told
    proof = json.loads(b.run("proof", "line.svg", "-o", "line.png", "-m", "my.ini", "--json"))
    assert proof["expected_ink_error"] == after and not after["of_the_program_alone"]
    proof = json.loads(b.run("proof", "line.nc", "-o", "line.png", "--force", "-m", "my.ini", "--json"))
    # a program does not know the drawing's lines
    assert proof["expected_ink_error"]["of_the_program_alone"]
    assert 0.8 * after["p95_mm"] < proof["expected_ink_error"]["p95_mm"] < after["p95_mm"] + 0.002
    told = b.run("proof", "line.nc", "-o", "line.png", "--force", "-m", "my.ini")
    assert "against the program's own lines" in told, told


@case
def each_of_several_sheets_tells_its_expected_ink_error(b):
    b.sheet("slack", "scale")
    b.run("true", *READINGS)
    expected(b)
    words = ("plan", "line.svg", "-o", "parts.nc", "-m", "my.ini", "--sheets", "2x1")
    told = json.loads(b.run(*words, "--force", "--json"))["sheets"]
    assert len(told) == 2 and all(0.005 < s["expected_ink_error"]["p95_mm"] < 0.3 for s in told), told
    assert b.run(*words, "--force").count("expected ink error at least") == 2
    told = json.loads(b.run("proof", "line.svg", "-o", "parts.png", *words[4:], "--force", "--json"))["sheets"]
    assert all(s["expected_ink_error"]["measured"] for s in told), told


@case
def a_changed_drive_train_is_unmeasured_and_a_damaged_journal_is_named(b):
    b.sheet("slack", "scale")
    b.run("true", *READINGS)
    b.profile.write_text(b.profile.read_text().replace("pulley_x = 12.4 mm", "pulley_x = 15 mm"))
    assert "has not been measured" in expected(b)[0]
    for name in ("j.db-wal", "j.db-shm"):
        (b.folder / name).unlink(missing_ok=True)
    (b.folder / "j.db").write_text("no journal")
    assert "expected ink error unknown: j.db: not a drawtrue journal" in expected(b)[0]


@case
def likely_causes_are_ranked(b):
    b.sheet("slack", "scale")
    readings = ["X1=2", "X2=6", "X3=10", "X4=14", *READINGS[4:]]
    told = json.loads(b.run("true", *readings, "--show", "--json"))["causes"]
    parts = [(c["part"], c["axis"]) for c in told]
    assert ("rails-apart", "x") in parts and ("gear-or-tension", "y") in parts, told
    assert [c["ink_mm"] for c in told] == sorted((c["ink_mm"] for c in told), reverse=True)
    text = b.run("true", *readings, "--show")
    assert text.index("would be written") < text.index("likely causes") < text.index("rails are not parallel"), text
    assert "repair: measure between the rails" in text


@contextlib.contextmanager
def bench():
    with scratch_folder() as (folder,):
        yield (Bench(folder),)


run_cases(bench)
