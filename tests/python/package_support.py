"""What the tests of the Python package share."""

import contextlib
import functools
import io
import json
import os
import pathlib
import re
import subprocess
import sys

import spotwright as sw

ROOT = pathlib.Path(__file__).resolve().parents[2]
SCENARIOS = ROOT / "scenarios"
PROGRAM = os.environ["SPOTWRIGHT_PROGRAM"]
DATE = "1000000000"


def scenario_file(number):
    """The path of a scenario of the demonstration, as seen from the root."""
    (path,) = SCENARIOS.glob(f"{number:02}-*.toml")
    return str(path.relative_to(ROOT))


def run_program(*arguments):
    """The finished run of the program from the root, its output as bytes."""
    return subprocess.run([PROGRAM, *map(str, arguments)], cwd=ROOT, capture_output=True, timeout=120,
                          env=dict(os.environ, SOURCE_DATE_EPOCH=DATE))


def printed(*arguments):
    """What a run that succeeds prints."""
    run = run_program(*arguments)
    assert run.returncode == 0, run.stderr.decode()
    return run.stdout.decode()


def set_options(settings):
    """Settings as the command line has them."""
    options = []
    for key, value in settings.items():
        options += ["--set", f"{key}={value if isinstance(value, str) else json.dumps(value)}"]
    return options


def python(code, **options):
    """A finished run of Python code in a process of its own, from the root."""
    return subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True,
                          **{"timeout": 60, **options})


def run_page(text, folder):
    """Runs the Python of a page in one session from a folder; blocks whose output is not what stands behind them."""
    blocks = re.findall(r"^```(\w*)\n(.*?)^```$", text, re.S | re.M)
    session, wrong, before = {}, [], os.getcwd()
    os.chdir(folder)
    try:
        for i, (language, code) in enumerate(blocks):
            if language != "python":
                continue
            printed = io.StringIO()
            with contextlib.redirect_stdout(printed):
                exec(code, session)
            shown = blocks[i + 1][1] if i + 1 < len(blocks) and blocks[i + 1][0] == "" else ""
            if printed.getvalue() and printed.getvalue() != shown:
                wrong.append((code, printed.getvalue(), shown))
    finally:
        os.chdir(before)
    return wrong


# Studies that take seconds are made once and looked at by several tests.
CHEAP = {"run.readings": 64, "run.patches": 8, "run.trials": 100, "run.speckle": "off"}
FEW = {"run.readings": 256, "run.patches": 8, "run.speckle": "off"}


def warm_hall():
    return sw.load(str(ROOT / scenario_file(29)), FEW)


PLATE = {"run.readings": 100, "run.patches": 8, "run.speckle": "off", "reading.thickness_index": 1.515}


@functools.lru_cache
def reading_of_a_plate():
    return sw.read(sw.load(str(ROOT / scenario_file(14)), PLATE))


@functools.lru_cache
def linearity_of_the_warm_hall():
    return sw.linearity(warm_hall())


@functools.lru_cache
def advice_on_the_seal():
    return sw.advise(sw.load(str(ROOT / scenario_file(2)), CHEAP))
