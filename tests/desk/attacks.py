"""What the attacks on the desk share: the list of cases, and ways to ask that no page has."""
import pathlib
import socket

from desk import Page

cases = []


def case(function):
    cases.append((function.__name__, function))
    return function


def each(name, values):
    """One case for each of several values."""
    def take(function):
        for label, value in values:
            cases.append((f"{name}: {label}", lambda d, v=value: function(d, v)))
        return function
    return take


def refused(answer, *codes):
    assert answer[0] in (codes or (400, 403, 404, 405, 409, 411, 413, 415, 421, 429)), answer
    return answer


def raw(d, text, wait=3, until=None):
    with socket.create_connection(("127.0.0.1", d.port), timeout=wait) as s:
        s.sendall(text if isinstance(text, bytes) else text.encode())
        data = b""
        try:
            while (until is None or until not in data) and (more := s.recv(65536)):
                data += more
        except OSError:
            pass
        return data


def memory(d):
    return int(pathlib.Path(f"/proc/{d.process.pid}/statm").read_text().split()[1]) * 4096


def snapshot(d):
    page = Page(d)
    page.update()
    page.close()
    return page.parts
