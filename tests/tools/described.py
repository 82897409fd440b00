"""What the program's own help says, for the tests of manual and completion."""
import re
import subprocess


def output(*command):
    return subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout


def commands(program):
    """The names that --help lists."""
    return re.findall(r"^  ([a-z]+) +\S", output(program, "--help"), re.M)


def options(program, command):
    """{long name: (letter or None, placeholder or None, help)} of a command's --help."""
    found = {}
    for line in output(program, command, "--help").splitlines():
        m = re.match(r"^  (?:-(\w), )?--([a-z-]+)(?:=(\S+))?\s*(.*)$", line)
        if m:
            found[m[2]] = (m[1], m[3], m[4].strip())
    assert "help" in found and len(found) > 1, (command, found)
    return found
