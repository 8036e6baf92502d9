#!/usr/bin/python3
"""Joins the units of a compile database, so that clang-tidy reads the headers of libraries a few times and not sixty.

    join_units.py FOLDER      of a CMake build with a compile_commands.json; writes FOLDER/joined

Checks visit everything a unit includes, and headers of libraries are two thirds of it. Units of several stations can be
joined because the names of each are in a namespace of its own. Vector kernels stay among themselves (their instruction
set), and so does the Python module (its headers).
"""
import json
import shlex
import sys
from pathlib import Path

# More of them keep the cores equally busy, fewer read the headers less often.
units_of_a_kind = {"kernels": 2, "python": 2, "others": 5}
ways_of_output = {"-o": 2, "-c": 2}


def flags_of(entry):
    """Options of a compile command without compiler, input, output, warnings and optimisation."""
    words = iter(word for word in shlex.split(entry["command"]) if not word.endswith(("ccache", "clang++-14")))
    flags = []
    for word in words:
        if word in ways_of_output:
            next(words)
        elif word == "-isystem":
            flags.append((word, next(words)))
        elif not word.startswith(("-O", "-W")):
            flags.append((word,))
    return flags


def kind_of(flags):
    words = [word for flag in flags for word in flag]
    if any(word.startswith("-march") for word in words):
        return "kernels"
    return "python" if any("python3" in word for word in words) else "others"


def files_of(unit):
    """The project's own sources in a unit, which may include others."""
    text = Path(unit).read_text()
    included = [line.split('"')[1] for line in text.splitlines() if line.startswith('#include "/')]
    return [unit, *(file for name in included for file in files_of(name))]


def lines_of(unit):
    return sum(Path(file).read_text().count("\n") for file in files_of(unit))


def kept_apart(unit):
    """Of two units that share any of these, names would clash: units of one station, and programs."""
    marks = {str(Path(unit).parent) if "/Unity/" in unit else unit}
    if any("\nint main(" in Path(file).read_text() for file in files_of(unit)):
        marks.add("main")
    return marks


def in_parts(units, count):
    """Parts of about equal length, in each of which no names clash."""
    parts = [[] for _ in range(count)]
    for unit in sorted(units, key=lines_of, reverse=True):
        free = [part for part in parts if not any(kept_apart(unit) & kept_apart(other) for other in part)]
        if not free:
            parts.append([])
            free = parts[-1:]
        min(free, key=lambda part: sum(map(lines_of, part))).append(unit)
    # As stations follow each other: what a header of one needs, it includes.
    return [sorted(part, key=units.index) for part in parts if part]


def main(folder):
    entries = json.loads((folder / "compile_commands.json").read_text())
    joined = folder / "joined"
    joined.mkdir(exist_ok=True)
    units, flags = {}, {}
    for entry in entries:
        if "/generated/" in entry["file"]:
            continue
        kind = kind_of(flags_of(entry))
        units.setdefault(kind, []).append(entry["file"])
        flags.setdefault(kind, {}).update(dict.fromkeys(flags_of(entry)))
    database = []
    for kind, files in units.items():
        for index, part in enumerate(in_parts(files, units_of_a_kind[kind])):
            source = joined / f"{kind}_{index}.cpp"
            source.write_text("".join(f'#include "{file}"\n' for file in part))
            words = ["clang++-14", *(word for flag in flags[kind] for word in flag), "-c", str(source)]
            database.append({"directory": str(folder), "command": shlex.join(words), "file": str(source)})
    (joined / "compile_commands.json").write_text(json.dumps(database, indent=1))


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
