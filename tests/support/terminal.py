"""A program on a terminal of its own."""
import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import termios
import time

LIMIT = 60  # seconds; only a hang takes so long


def settings(folder, extra=None):
    """An environment without the user's own settings, whose home and state are in the folder."""
    return {**{k: v for k, v in os.environ.items() if not k.startswith("DRAWTRUE")},
            "HOME": str(folder), "XDG_STATE_HOME": str(folder / "state"), **(extra or {})}


class Terminal:
    """A command that runs in a folder, with a controlling terminal of so many columns. `text` holds all that it has
    written, with line ends as they were written."""

    def __init__(self, folder, *command, columns=80):
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        mode = termios.tcgetattr(slave)
        mode[1] &= ~termios.ONLCR
        termios.tcsetattr(slave, termios.TCSANOW, mode)

        def take_terminal():
            os.setsid()
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)

        self.process = subprocess.Popen(command, cwd=folder, env=settings(folder), stdin=slave, stdout=slave,
                                        stderr=slave, preexec_fn=take_terminal)
        os.close(slave)
        self.text = b""
        self.heard = 0  # what was found ends there

    def hear(self, wanted=None, seconds=LIMIT):
        """Whether the pattern comes after what was found before. None: reads all up to the end, and is False."""
        end = time.monotonic() + seconds
        while True:
            found = wanted is not None and re.compile(wanted).search(self.text, self.heard)
            if found:
                self.heard = found.end()
                return True
            if time.monotonic() > end:
                return False
            if not select.select([self.master], [], [], 0.1)[0]:
                continue
            try:
                got = os.read(self.master, 65536)
            except OSError:
                return False
            self.text += got

    def press(self, keys):
        os.write(self.master, keys)

    def close(self):
        os.close(self.master)

    def wait(self, seconds=LIMIT):
        """The exit code, or "hangs"."""
        try:
            return self.process.wait(seconds)
        except subprocess.TimeoutExpired:
            self.process.kill()
            return "hangs"

    def end(self, seconds=20):
        """All that it still writes; then its exit code."""
        self.hear(seconds=seconds)
        self.close()
        return self.wait()
