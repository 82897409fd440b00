#!/usr/bin/env python3
"""Test sheets on the desk's page, in Chromium on the virtual machine: read by clicks and by keys, and their
corrections are those of the command. Speaks TAP.
Usage: test-page-sheets.py DRAWTRUE EXAMPLES OUT [CASE...]"""
import json
import pathlib
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from workshop import PROGRAM, Workshop, draw_sheet, main, open_sheet, place_of, wait_question

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case

# A sheet read by eye ------------------------------------------------------------------------------------


def asked(w):
    return w.desk.get("/measure")["sheet"]["asks"]


def true(w, *more):
    done = subprocess.run([PROGRAM, "true", "-m", str(w.start / "workshop.ini"), "--journal", str(w.desk.root / "journal.db"), "--json", *more], capture_output=True, timeout=60, stdin=subprocess.DEVNULL)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@case
def a_sheet_is_read_by_clicks_and_by_keys_and_its_corrections_are_those_of_the_command():
    with Workshop() as w:
        b, ini = w.b, w.start / "workshop.ini"
        before = ini.read_bytes()
        draw_sheet(w, "slack")
        open_sheet(w)
        names = [a["name"] for a in asked(w)]
        assert len(names) >= 4 and names[0] == "X1", names
        wait_question(w, "X1")
        b.click_at(*place_of(w, "X1", 3))  # the wrong tick, then the right one
        b.click_at(*place_of(w, "X1", 4))
        assert b.run("document.querySelector('.answers input').value") == "4"
        assert asked(w)[0]["answers"] == [""], "kept before it was said to be the answer"
        b.click(".answer button", "Keep and go on")
        wait_question(w, names[1])
        assert asked(w)[0]["answers"] == ["4"]
        b.click_at(*place_of(w, names[1], 4, 0.5))
        assert b.run("document.querySelector('.answers input').value") == "between 4 and 5"
        b.key("Enter")  # the field has the focus
        wait_question(w, names[2])
        b.type("back")
        b.key("Enter")
        wait_question(w, names[1])
        assert b.run("document.querySelector('.answers input').value") == "between 4 and 5"
        b.key("Enter")
        wait_question(w, names[2])
        b.type("99")
        b.key("Enter")
        b.wait("document.querySelector('.toast')?.textContent.includes('out of range')", 5, "a refusal")
        wait_question(w, names[2])
        b.run("document.querySelector('.answers input').select()")
        for name in names[2:]:
            wait_question(w, name)
            b.type("?" if name == names[-1] else "2")
            b.key("Enter")
        b.wait("document.querySelector('.question h3')?.textContent === 'What follows'", 10, "what follows")
        given = [a["answers"] for a in asked(w)]
        assert given == [["4"], ["between 4 and 5"], *[["2"]] * (len(names) - 3), [""]], given
        assert true(w, "--show", "X1=4")["changes"] == [{k: c[k] for k in ("section", "key", "value")} for c in w.desk.get("/measure")["sheet"]["result"]["changes"]]
        assert ini.read_bytes() == before
        b.click(".write button.go", "Write to the profile")
        b.wait("document.querySelector('.write')?.textContent.includes('are in workshop.ini')", 10, "the corrections to be written")
        written = ini.read_bytes()
        assert written != before
        b.wait("deskPage.desk.session.state === 'closed'", 10, "the port to be let go of")
        time.sleep(0.5)  # the page follows with the profile as it was written
        b.wait("document.querySelector('.write button:not(:disabled)')", 10, "what can be taken back")
        b.click(".write button", "Undo the corrections")
        b.wait("document.querySelector('.write button.go')", 10, "the corrections to be taken back")
        assert ini.read_bytes() == before
        b.wait("document.querySelector('.write button.go:not(:disabled)')", 10, "the profile to be loaded")
        assert true(w, "X1=4")["written"] == str(ini)
        assert ini.read_bytes() == written, "the command writes other corrections"
        w.b.complaints[:] = [c for c in w.b.complaints if "409" not in c]


@case
def a_press_is_not_lost_when_what_is_pressed_is_told_anew_meanwhile():
    with Workshop() as w:
        b = w.b
        assert w.desk.post("make-test-sheet", kind="slack")[0] == 200
        b.click("#tab-measure")
        x, y = b.place("#side button", "Compare two sheets")
        b.wait("document.querySelector('#side .last-sheet b')", 10, "the sheet")
        x, y = b.place("#side button", "Compare two sheets")
        b.mouse("mouseMoved", x, y)
        b.mouse("mousePressed", x, y, 1, button="left", clickCount=1)
        number = w.state("measure.number")
        assert w.desk.post("keep-reading", sheet=1, ask="X1", i=0, text="5")[0] == 200
        b.wait(f"deskPage.desk.measure.number > {number}", 10)
        time.sleep(0.3)
        b.mouse("mouseReleased", x, y, 0, button="left", clickCount=1)
        b.wait("document.querySelector('.reading-head h2')?.textContent === 'Before and after'", 5, "what was pressed for")


@case
def corrections_are_written_only_as_they_were_seen():
    with Workshop() as w:
        draw_sheet(w, "slack")
        sheet = w.desk.get("/measure")["sheet"]
        for a in sheet["asks"]:
            assert w.desk.post("keep-reading", sheet=sheet["number"], ask=a["name"], i=0, text="2")[0] == 200
        digest = w.desk.get("/measure")["sheet"]["result"]["digest"]
        before = (w.start / "workshop.ini").read_bytes()
        assert w.desk.post("keep-reading", sheet=sheet["number"], ask="X1", i=0, text="3")[0] == 200
        status, said = w.desk.post("write-corrections", sheet=sheet["number"], digest=digest)
        assert status == 409 and "changed since" in said["error"], said
        assert (w.start / "workshop.ini").read_bytes() == before
        digest = w.desk.get("/measure")["sheet"]["result"]["digest"]
        assert w.desk.post("make-test-sheet", kind="scale")[0] == 200
        for name, more in (("write-corrections", {"digest": digest}), ("keep-reading", {"ask": "X1", "i": 0, "text": "4"})):
            status, said = w.desk.post(name, sheet=sheet["number"], **more)
            assert status == 409 and "newer sheet" in said["error"], said
        assert w.desk.post("undo-corrections", sheet=sheet["number"])[0] == 409
        assert (w.start / "workshop.ini").read_bytes() == before


main()
