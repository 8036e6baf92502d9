"""The package installs without a network, holds what it should and nothing else, and works far from the sources."""

import email
import os
import pathlib
import re
import subprocess
import sys
import zipfile

import pytest

from package_support import ROOT, scenario_file

BUILD = pathlib.Path(os.environ["SPOTWRIGHT_BUILD_DIR"])
OFFLINE = dict(os.environ, PIP_NO_INDEX="1", PIP_DISABLE_PIP_VERSION_CHECK="1", PYTHONPATH="")


def run(*command, cwd=ROOT):
    finished = subprocess.run(list(map(str, command)), cwd=cwd, env=OFFLINE, capture_output=True, text=True,
                              timeout=300)
    assert finished.returncode == 0, finished.stdout + finished.stderr
    return finished.stdout


def untidy():
    """What the sources hold beyond what is kept, if they are a working copy."""
    status = subprocess.run(["git", "status", "--porcelain"], cwd=ROOT, capture_output=True, text=True)
    return status.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder, before = tmp_path_factory.mktemp("wheel"), untidy()
    run(sys.executable, "-m", "pip", "wheel", "--no-build-isolation", "--no-deps", "--wheel-dir", folder, ".")
    assert untidy() == before
    (path,) = folder.iterdir()
    return path


def test_the_wheel_holds_the_package_and_nothing_else(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    information = [name for name in names if ".dist-info/" in name]
    kept = {f"spotwright/{path.name}" for path in (ROOT / "bindings/python/spotwright").iterdir() if path.is_file()}
    assert {"spotwright/py.typed", "spotwright/_core.pyi", "spotwright/results.py"} <= kept
    modules = [name for name in names if re.fullmatch(r"spotwright/_core\.[^/]+\.so", name)]
    assert len(modules) == 1
    assert sorted(names) == sorted([*kept, *modules, *information])
    assert {name.split("/", 1)[1] for name in information} == {
        "LICENSE", "METADATA", "RECORD", "WHEEL", "top_level.txt"}


def test_the_wheel_says_what_it_is(wheel):
    archive = zipfile.ZipFile(wheel)
    (name,) = [name for name in archive.namelist() if name.endswith(".dist-info/METADATA")]
    told = email.message_from_string(archive.read(name).decode())
    (version,) = re.findall(r"project\(spotwright VERSION (\S+)", (ROOT / "CMakeLists.txt").read_text())
    assert (told["Name"], told["Version"], told["License"]) == ("spotwright", version, "Apache-2.0")
    assert told["Requires-Python"] == ">=3.11" and "displacement sensors" in told["Summary"]
    needed = [each for each in told.get_all("Requires-Dist") if "extra" not in each]
    assert sorted(needed) == ["h5netcdf", "numpy", "xarray"]
    assert set(told.get_all("Provides-Extra")) == {"cluster", "notebooks", "plot"}
    assert told.get_payload() == (ROOT / "README.md").read_text()


def test_an_installed_package_works_far_from_the_sources(wheel, tmp_path):
    run(sys.executable, "-m", "venv", "--system-site-packages", "--without-pip", tmp_path / "v")
    python = tmp_path / "v/bin/python"
    run(python, "-m", "pip", "install", "--no-deps", wheel)
    program = "import spotwright as sw; print(sw.__file__); print(sw.read(sw.load({!r})).verdict.level)"
    where, level = run(python, "-c", program.format(str(ROOT / scenario_file(1))), cwd=tmp_path).splitlines()
    assert where.startswith(str(tmp_path / "v")) and level == "stable"
