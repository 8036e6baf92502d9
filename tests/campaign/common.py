"""What all parts of the campaign share: programs run under limits, and what they find."""

import json
import math
import os
import random
import resource
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[2]
CPU_SECONDS = 20.0
MEMORY_MIB = 1024.0


class Result:
    """Of a run of the program."""

    def __init__(self, code, out, err, cpu, mib):
        self.code, self.out, self.err, self.cpu, self.mib = code, out, err, cpu, mib


class Campaign:
    """Program, seed, time and finds."""

    def __init__(self, program, seed, keep, short=False):
        self.short = short  # as the tests run it: fewer commands
        self.random = random.Random(seed)
        self.keep = Path(keep)
        self.folder = Path(tempfile.mkdtemp(prefix="spotwright-campaign-"))
        self.program = str(self.folder / "spotwright")  # a copy: a build may replace the program meanwhile
        shutil.copy2(program, self.program)
        self.finds = []
        self.counts = {}
        self.most = {"cpu s": 0.0, "MiB": 0.0}
        self.faults = self._compiled("faults.c", "cc")
        self.targets = self._compiled("targets.cpp", "c++")

    def _compiled(self, source, compiler):
        library = self.folder / (source.split(".")[0] + ".so")
        subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", library, Path(__file__).parent / source, "-ldl"],
                       check=True)
        return str(library)

    def count(self, what, by=1):
        self.counts[what] = self.counts.get(what, 0) + by

    def find(self, part, words, command=()):
        """Notes a fault, with the files that lead to it."""
        number = len(self.finds) + 1
        self.finds.append(f"{part}: {words}")
        kept = self.keep / f"{part}-{number}"
        kept.mkdir(parents=True, exist_ok=True)
        (kept / "find.txt").write_text(f"{words}\n{' '.join(str(word) for word in command)}\n")
        for word in command:
            path = Path(str(word))
            if str(word).startswith(str(self.folder)) and path.is_file():
                shutil.copy(path, kept)

    def run(self, arguments, environment=None, seconds=None):
        """Runs the program. A run of more than `seconds` of wall time is killed, with the code None."""
        command = [self.program, *[str(each) for each in arguments]]
        out, err = self.folder / "stdout", self.folder / "stderr"
        with out.open("wb") as to, err.open("wb") as errors:
            process = subprocess.Popen(command, stdout=to, stderr=errors, stdin=subprocess.DEVNULL,
                                       env={**os.environ, **(environment or {})}, cwd=self.folder)
            deadline = time.monotonic() + (seconds or 12.0 * CPU_SECONDS)
            killed = False
            while True:
                pid, status, usage = os.wait4(process.pid, os.WNOHANG)
                if pid:
                    break
                if time.monotonic() > deadline and not killed:
                    process.kill()
                    killed = True
                time.sleep(0.002)
            process.returncode = os.waitstatus_to_exitcode(status)
        code = None if killed else process.returncode
        return Result(code, out.read_text(errors="replace"), err.read_text(errors="replace"),
                      usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024.0)

    def close(self):
        shutil.rmtree(self.folder, ignore_errors=True)


def _no_constant(text):
    raise ValueError(f"{text} in JSON")


def finite_json(text):
    """The value of a JSON text. @raises ValueError  It is none, or holds NaN or an infinite number."""
    value = json.loads(text, parse_constant=_no_constant)
    stack = [value]
    while stack:
        each = stack.pop()
        if isinstance(each, dict):
            stack.extend(each.values())
        elif isinstance(each, list):
            stack.extend(each)
        elif isinstance(each, float) and not math.isfinite(each):
            raise ValueError(f"{each} in JSON")
    return value


def limited(seconds):
    """Before a child begins: its processor time."""
    return lambda: resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))


def died(code):
    """Whether a program ended by a signal that is none of its own doing."""
    return code is not None and code < 0 and -code not in (signal.SIGKILL, signal.SIGALRM, signal.SIGTERM)
