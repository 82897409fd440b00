"""TAP from tests that are written in Python: cases that raise where something is wrong, or checks one by one.
What was wrong goes to the error stream, which the report of a failing test shows."""
import contextlib
import pathlib
import sys
import tempfile
import threading
import time

MOST_SAID = 2500  # characters of what was wrong

cases = []
_count = _failed = 0
_printing = threading.Lock()


def case(function):
    """Decorates a case, which run_cases() runs; a text that it returns says why it was skipped."""
    cases.append(function)
    return function


def check(name, good, detail=""):
    """One check; `detail` is said where it is not good. May be called from several threads."""
    global _count, _failed
    with _printing:
        _count += 1
        _failed += not good
        print(f"{'ok' if good else 'not ok'} {_count} {name}", flush=True)
        if not good and detail != "":
            said = detail if isinstance(detail, str) else repr(detail)
            print(f"{name}: {said[:MOST_SAID]}", file=sys.stderr, flush=True)


def end_checks():
    """Says how many checks there were, and ends with 1 where one was not good."""
    print(f"1..{_count}")
    sys.exit(_failed > 0)


def attempt(number, name, function, *arguments):
    """Runs one case; whether it went well."""
    try:
        note = function(*arguments)
    except Exception as error:  # a case must not take the others with it
        print(f"not ok {number} {name}", flush=True)
        print(f"{name}: {type(error).__name__}: {str(error)[:MOST_SAID]}", file=sys.stderr, flush=True)
        return False
    print(f"ok {number} {name}" + (f" # SKIP {note}" if note else ""), flush=True)
    return True


@contextlib.contextmanager
def scratch_folder():
    with tempfile.TemporaryDirectory(prefix="drawtrue-", ignore_cleanup_errors=True) as folder:
        yield (pathlib.Path(folder),)


@contextlib.contextmanager
def nothing():
    yield ()


def run_cases(given=nothing, wanted=()):
    """Runs the cases, or those whose name holds one of the words of `wanted`, each with what `given` makes for it: a
    context manager around its arguments. Ends the program, with 1 where one failed."""
    chosen = [c for c in cases if not wanted or any(word in c.__name__ for word in wanted)]
    print(f"1..{len(chosen)}", flush=True)
    failed = 0
    for number, function in enumerate(chosen, 1):
        began = time.monotonic()
        with given() as arguments:
            failed += not attempt(number, function.__name__, function, *arguments)
        print(f"# {time.monotonic() - began:.1f} s", flush=True)
    sys.exit(failed > 0)
