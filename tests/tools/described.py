"""What the program's own help says, for the tests of manual and completion; cases and their TAP."""
import re
import subprocess
import traceback

CASES = []


def case(function):
    CASES.append(function)
    return function


def run_cases():
    print(f"1..{len(CASES)}")
    failed = 0
    for n, function in enumerate(CASES, 1):
        try:
            function()
            print(f"ok {n} {function.__name__}")
        except Exception:
            failed += 1
            print(f"not ok {n} {function.__name__}")
            print("".join(f"# {line}\n" for line in traceback.format_exc().splitlines()), end="")
    return 1 if failed else 0


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
