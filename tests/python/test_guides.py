"""What the guides tell to type runs, and what they show is what it prints.

In a guide, a block of `toml` is the file named in the line above it; each line of a block of `sh` is typed in a folder that
holds these files and the scenarios; a block without a language is an excerpt of what the commands above it print, `[...]`
standing for lines left out.
"""

import os
import pathlib
import re
import shlex
import subprocess
import sys

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = os.environ["SPOTWRIGHT_PROGRAM"]
GUIDES = ["first-reading.md", "bench-log.md", "data-sheet.md"]
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.S | re.M)
NAMED = re.compile(r"`([\w-]+\.\w+)`[^`]*\Z")


def typed(line, folder):
    words = shlex.split(line)
    assert words[0] == "spotwright", line
    run = subprocess.run([PROGRAM, *words[1:]], cwd=folder, capture_output=True, text=True, timeout=120)
    return run.returncode, run.stdout + run.stderr


def absent(excerpt, printed):
    """Lines of the excerpt that are not printed, one after the other and in its order."""
    lines = iter(printed.splitlines())
    missing, gap = [], True
    for wanted in excerpt.splitlines():
        if wanted == "[...]":
            gap = True
        elif gap:
            if wanted not in lines:  # goes on to the first that is
                missing.append(wanted)
            gap = False
        elif next(lines, None) != wanted:
            missing.append(wanted)
    return missing


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    # The guide to logs has one with names and units of its own: that of the workshop, as another recorder would write it.
    rows = (ROOT / "scenarios/logs/grey-insert.csv").read_text().splitlines()[2:]
    own = [f"{float(time) / 1000:.6f},{1000 * float(reading):.3f},{share}" for time, reading, share in
           (row.split(",") for row in rows)]
    (tmp_path / "mine.csv").write_text("\n".join(["when,height,share", *own]) + "\n")
    return tmp_path


@pytest.mark.parametrize("guide", GUIDES)
def test_what_is_typed_runs_and_what_is_shown_is_printed(guide, folder):
    text = (ROOT / "docs/guide" / guide).read_text(encoding="utf-8")
    printed, excerpts, commands = "", 0, 0
    for block in BLOCK.finditer(text):
        language, content = block.groups()
        if language == "toml":
            (folder / NAMED.search(text[: block.start()]).group(1)).write_text(content)
        elif language == "sh":
            printed = ""
            for line in content.splitlines():
                code, said = typed(line, folder)
                refused = "what it looked for" in text[block.start() - 60 : block.start()]
                assert code == (2 if refused else 0), said
                printed += said
                commands += 1
        else:
            assert language == "" and absent(content, printed) == []
            excerpts += 1
    assert commands >= 5 and excerpts >= 5


def test_the_commands_of_the_guide_to_shortlists_run(folder):
    text = (ROOT / "docs/guide/shortlist.md").read_text(encoding="utf-8")
    lines = [line for language, content in BLOCK.findall(text) if language == "sh" for line in content.splitlines()]
    assert len(lines) == 3
    for line in lines:
        code, said = typed(line, folder)
        assert code == 0, said
        assert "mirror-36" in said
    assert "mirror-36" in (folder / "ring.html").read_text(encoding="utf-8")


def test_the_plot_of_the_lessons_page_is_drawn(folder):
    page = (ROOT / "docs/guide/lessons.md").read_text(encoding="utf-8")
    (lines,) = [content for language, content in BLOCK.findall(page) if language == "python" and "sw.plot" in content]
    subprocess.run([sys.executable, "-c", lines], cwd=folder, check=True, env={**os.environ, "MPLBACKEND": "Agg"})
    assert (folder / "shaft.png").read_bytes().startswith(b"\x89PNG")


def test_an_excerpt_that_is_not_printed_is_found():
    printed = "a\nb\nc\nd\n"
    assert absent("a\nb\n[...]\nd", printed) == []
    assert absent("b\nd", printed) == ["d"]
    assert absent("d\n[...]\na", printed) == ["a"]
    assert absent("e", printed) == ["e"]
