"""Makes the pictures of docs/gallery.md with the commands below each of them.

    make_gallery.py [FOLDER]

Without a folder, docs/pictures. The program is SPOTWRIGHT_PROGRAM from the environment, or that in build/; the package is found
by PYTHONPATH.
"""

import os
import pathlib
import re
import shlex
import subprocess
import sys
import tempfile

import matplotlib

ROOT = pathlib.Path(__file__).resolve().parents[1]
PICTURE = re.compile(r"^!\[[^\]]+\]\(pictures/(?P<name>[\w.-]+)\)\n\n```(?P<language>\w+)\n(?P<lines>.*?)^```$", re.M | re.S)
# No date and no random identifiers, so the same picture is the same file; text stays text.
STYLE = {"backend": "Agg", "svg.hashsalt": "spotwright", "svg.fonttype": "none"}


def pictures():
    """Name, language and lines of each picture of the gallery."""
    text = (ROOT / "docs/gallery.md").read_text(encoding="utf-8")
    return [match.group("name", "language", "lines") for match in PICTURE.finditer(text)]


def make(language, lines, folder):
    """Runs the lines; they write into the folder."""
    if language == "python":
        here = os.getcwd()
        os.chdir(folder)
        try:
            with matplotlib.rc_context(STYLE):
                exec(compile(lines, "docs/gallery.md", "exec"), {})
                matplotlib.pyplot.close("all")
        finally:
            os.chdir(here)
        return
    program = os.environ.get("SPOTWRIGHT_PROGRAM", str(ROOT / "build/spotwright"))
    for line in lines.splitlines():
        words = shlex.split(line)
        assert words[0] == "spotwright", line
        subprocess.run([program, *words[1:]], cwd=folder, check=True, stdout=subprocess.DEVNULL)


def make_all(target):
    """Makes every picture of the gallery in the target folder. Returns their names."""
    os.environ["SOURCE_DATE_EPOCH"] = "0"
    names = []
    with tempfile.TemporaryDirectory() as work:
        folder = pathlib.Path(work)
        (folder / "scenarios").symlink_to(ROOT / "scenarios")
        for name, language, lines in pictures():
            make(language, lines, folder)
            names.append(name)
            (target / name).write_bytes((folder / name).read_bytes())
    return names


if __name__ == "__main__":
    print(*make_all(pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs/pictures"), sep="\n")
