#!/usr/bin/env python3
"""A small reference reader of RS-274/NGC, written from the published report alone (T. Kramer,
F. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000), as a witness
for the reader and the controller. It knows what pen plotters use: lines, arcs by centre (their end
points), units, distance modes, home, comments.

    rs274_reference.py PROGRAM...   prints the point that each motion leads to: X Y, in mm; a line
                                    "# PROGRAM" before those of each where there are several
"""
import re
import sys
from decimal import Decimal

COMMENT = re.compile(r"\([^()]*\)|;.*")
WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
MOTION = {"0", "1", "2", "3"}
INCH = Decimal("25.4")


def words_of(line):
    """Section 3.3.1: blanks and case count for nothing; '/' deletes a block."""
    text = re.sub(r"\s", "", COMMENT.sub("", line)).upper()
    if text.startswith(("/", "%")):
        return []
    found = WORD.findall(text)
    if "".join(letter + number for letter, number in found) != text:
        raise ValueError("not a line of RS-274: %r" % line)
    return [(letter, Decimal(number)) for letter, number in found]


class Machine:
    """The modal state of section 3.4 as far as motion needs it."""

    def __init__(self):
        self.at = {"X": Decimal(0), "Y": Decimal(0)}
        self.motion = None
        self.unit = Decimal(1)
        self.absolute = True
        self.ended = False

    def run(self, line):
        """Executes one line in the order of table 8; gives the point it leads to, or None."""
        words = words_of(line)
        if self.ended or not words:
            return None
        codes = [str(v.normalize() if v else Decimal(0)) for l, v in words if l == "G"]
        codes = ["{:f}".format(Decimal(c)) for c in codes]
        stops = [int(v) for l, v in words if l == "M"]
        if "20" in codes:
            self.unit = INCH
        if "21" in codes:
            self.unit = Decimal(1)
        if "90" in codes:
            self.absolute = True
        if "91" in codes:
            self.absolute = False
        for code in codes:
            if code in MOTION:
                self.motion = code
        point = self.move(dict(words), codes)
        if 2 in stops or 30 in stops:
            self.ended = True
        return point

    def move(self, words, codes):
        axes = [a for a in "XY" if a in words]
        if "28" in codes:
            for axis in self.at:
                self.at[axis] = Decimal(0)
            return dict(self.at)
        if not axes:
            return None
        if self.motion is None:
            raise ValueError("axis words without a motion mode")
        for axis in axes:
            value = words[axis] * self.unit
            self.at[axis] = value if self.absolute else self.at[axis] + value
        return dict(self.at)


def points_of(path):
    machine = Machine()
    out = []
    with open(path, encoding="utf-8", errors="replace") as program:
        for line in program:
            point = machine.run(line)
            if point is not None:
                out.append("%.9f %.9f\n" % (point["X"], point["Y"]))
    return out


def main(paths):
    for path in paths:
        if len(paths) > 1:
            sys.stdout.write("# %s\n" % path)
        sys.stdout.writelines(points_of(path))


if __name__ == "__main__":
    main(sys.argv[1:])
