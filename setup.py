"""Builds the module of the package with CMake; everything else is in pyproject.toml.

The build folder is build-wheel/, or the one that SPOTWRIGHT_BUILD_DIR names: that of a build that has been configured.
"""

import os
import re
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path

from setuptools import Extension, setup
from setuptools.command.build_ext import build_ext
from setuptools.command.build_py import build_py

ROOT = Path(__file__).resolve().parent
OWN_FOLDER = ROOT / "build-wheel"
SETTINGS = ["-DCMAKE_BUILD_TYPE=Release", "-DSPOTWRIGHT_PYTHON=ON", "-DSPOTWRIGHT_TESTS=OFF",
            "-DSPOTWRIGHT_BENCHMARKS=OFF"]


def version():
    """That of the project, which only CMakeLists.txt tells."""
    (found,) = re.findall(r"^project\(spotwright VERSION ([0-9.]+)", (ROOT / "CMakeLists.txt").read_text(), re.M)
    return found


class BuildFresh(build_py):
    """What an earlier build has left shall not get into the package."""

    def run(self):
        shutil.rmtree(self.build_lib, ignore_errors=True)
        super().run()


class BuildWithCMake(build_ext):
    def build_extension(self, extension):
        folder = Path(os.environ.get("SPOTWRIGHT_BUILD_DIR") or OWN_FOLDER / "cmake").resolve()
        if not (folder / "CMakeCache.txt").exists():
            generator = ["-G", "Ninja"] if shutil.which("ninja") else []
            subprocess.run(["cmake", "-S", ROOT, "-B", folder, *generator, *SETTINGS,
                            f"-DPython_EXECUTABLE={sys.executable}"], check=True)
        subprocess.run(["cmake", "--build", folder, "--target", "spotwright_python", "--parallel"], check=True)
        built = folder / "python" / "spotwright" / ("_core" + sysconfig.get_config_var("EXT_SUFFIX"))
        target = Path(self.get_ext_fullpath(extension.name))
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(built, target)


# setuptools would use build/, where CMake has its own.
scratch = OWN_FOLDER / "setuptools"
scratch.mkdir(parents=True, exist_ok=True)

setup(
    version=version(),
    ext_modules=[Extension("spotwright._core", sources=[])],
    cmdclass={"build_ext": BuildWithCMake, "build_py": BuildFresh},
    options={"build": {"build_base": str(scratch)}, "egg_info": {"egg_base": str(scratch)}},
)
