"""What README and the guide to verdicts show is what the program prints today."""

import os
import pathlib
import re
import subprocess

import pytest

from package_support import run_page

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = os.environ["SPOTWRIGHT_PROGRAM"]
README = (ROOT / "README.md").read_text()
VERDICT = (ROOT / "docs/guide/verdict.md").read_text()


def blocks(marker, language="", page=VERDICT):
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", page, re.S | re.M)
    return [text for name, text in fenced if name == language and marker in text]


@pytest.fixture(scope="module")
def demonstration(tmp_path_factory):
    """Folder and run of the demonstration, which takes a while."""
    folder = tmp_path_factory.mktemp("demo")
    run = subprocess.run([PROGRAM, "demo", "--out", str(folder)], cwd=ROOT, capture_output=True, text=True)
    assert run.returncode == 0
    assert run.stderr == ""
    return folder, run


def test_every_scenario_of_the_demonstration_leaves_its_series_and_pictures(demonstration):
    folder, run = demonstration
    scenarios = sorted(path.stem for path in (ROOT / "scenarios").glob("*.toml"))
    assert scenarios == sorted(path.stem for path in folder.glob("*.h5"))
    assert scenarios == sorted(path.stem.removesuffix("-reading") for path in folder.glob("*-reading.svg"))
    assert scenarios == sorted(path.stem.removesuffix("-layout") for path in folder.glob("*-layout.svg"))
    assert (folder / "report.html").exists()
    assert (folder / "20-speckle-still-and-moving-averaging.svg").exists()
    assert not (folder / "01-white-tile-averaging.svg").exists()  # stable as it is
    assert not list(folder.glob("*.part"))
    assert "100 % of readings are too dark" in run.stdout


def test_the_excerpt_of_the_demonstration_is_real(demonstration):
    _, run = demonstration
    (excerpt,) = blocks("verdict      unreadable")
    missing = [line for line in excerpt.splitlines() if line != "[...]" and line not in run.stdout.splitlines()]
    assert missing == []


def test_the_reading_in_readme_is_real():
    run = subprocess.run([PROGRAM, "read", "scenarios/01-white-tile.toml"], cwd=ROOT, capture_output=True, text=True)
    assert run.returncode == 0
    (excerpt,) = blocks("verdict      stable", page=README)
    missing = [line for line in excerpt.splitlines() if line != "[...]" and line not in run.stdout.splitlines()]
    assert missing == []
    assert excerpt.splitlines()[0] == run.stdout.splitlines()[0]
    assert excerpt.splitlines()[-1] == run.stdout.splitlines()[-1]


def test_readme_is_short():
    assert len(README.splitlines()) <= 135


def test_the_budget_in_the_guide_is_real():
    run = subprocess.run([PROGRAM, "budget", "scenarios/01-white-tile.toml"], cwd=ROOT, capture_output=True, text=True)
    assert run.returncode == 0
    (excerpt,) = blocks("trials of everything at once")
    assert run.stdout == excerpt


def test_the_excerpt_of_a_mistake_is_real(tmp_path):
    (tmp_path / "wrong.toml").write_text('[target]\nmaterial = "black-ruber"\n\n[detector]\npich_um = 7.0\n')
    run = subprocess.run([PROGRAM, "read", "wrong.toml"], cwd=tmp_path, capture_output=True, text=True)
    assert run.returncode == 2
    (excerpt,) = blocks("pich_um")
    assert run.stderr == excerpt


def test_the_scenario_in_readme_reads(tmp_path):
    (scenario,) = blocks("schema", "toml", README)
    (tmp_path / "readme.toml").write_text(scenario)
    run = subprocess.run([PROGRAM, "read", "readme.toml", "--strict"], cwd=tmp_path, capture_output=True, text=True)
    assert run.returncode in (0, 1), run.stderr


def test_the_python_prints_what_stands_there(tmp_path):
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    subprocess.run([PROGRAM, "read", "scenarios/01-white-tile.toml", "--out", "series.h5"], cwd=tmp_path, check=True,
                   capture_output=True)
    for page in (README, VERDICT):
        assert page.count("```python") >= 1
        assert run_page(page, tmp_path) == []


def test_the_guide_to_python_prints_what_stands_there(tmp_path):
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    assert run_page((ROOT / "docs/guide/python.md").read_text(), tmp_path) == []


def test_the_picture_is_the_one_the_program_draws(tmp_path):
    out = tmp_path / "layout.svg"
    subprocess.run([PROGRAM, "layout", "scenarios/01-white-tile.toml", "--out", str(out)], cwd=ROOT, check=True,
                   capture_output=True)
    assert out.read_text() == (ROOT / "docs/pictures/layout.svg").read_text()
