"""Files that a run writes: under calls that fail, kills and damage."""

import re
import signal
import subprocess
import time

import h5py

from common import died, finite_json

SCENARIO = """schema = 1
[target]
material = "white-ceramic"
[run]
readings = 200
patches = 16
trials = 100
"""
SHEET = """schema = 1
title = "Sensor of a sheet"
principle = "triangulation"
[sheet]
reference_distance_mm = 50.0
range_mm = [-5.0, 5.0]
"""
DATE = re.compile(rb"\d{4}-\d\d-\d\d[T ,]*(\d\d:\d\d(:\d\d)?)?( ?UTC|Z)?|D:\d{14}")
OLD = "what stood here before\n"
KINDS = {"write": {0, 3}, "rename": {0, 3}, "fsync": {0, 3}, "open": {0, 3}, "ftruncate": {0, 3}, "close": {0, 3},
         "alloc": {0, 3, 5}, "thread": {0}}


SHORT = {"series as CSV", "series as HDF5", "drawing", "new scenario"}


def _commands(campaign):
    """Name, arguments without the output, ending of the output, exit codes other than by faults."""
    s = campaign.folder / "s.toml"
    s.write_text(SCENARIO)
    grid = ["--over", "target.displacement_mm=-1:1:4"]
    commands = [("series as CSV", ["read", s, "--quiet", "--out"], "csv"), ("series as HDF5", ["read", s, "--out"], "h5"),
            ("report", ["read", s, "--out"], "html"), ("picture", ["read", s, "--out"], "svg"),
            ("sweep as CSV", ["sweep", s, *grid, "--out"], "csv"), ("sweep as HDF5", ["sweep", s, *grid, "--out"], "h5"),
            ("drawing", ["layout", s, "--out"], "svg"), ("DXF", ["layout", s, "--out"], "dxf"),
            ("PDF", ["layout", s, "--out"], "pdf"), ("log", ["bench", "--scenario", s, "--simulate"], "csv"),
            ("new scenario", ["new", "--no-questions", "--material", "white-ceramic", "--force", "--out"], "toml")]
    return [each for each in commands if not campaign.short or each[0] in SHORT]


def _content(path):
    """What counts of a file: not its date. None: it is no whole file of its kind."""
    if path.suffix == ".h5":
        try:
            with h5py.File(path) as file:
                return {name: file[name][()].tobytes() for name in file}
        except OSError:
            return path.read_bytes()
    if path.suffix == ".pdf":  # its date is in what is compressed
        data = path.read_bytes()
        return data.startswith(b"%PDF") and data.rstrip().endswith(b"%%EOF")
    return DATE.sub(b"DATE", path.read_bytes())


def _clear(out):
    for path in out.parent.glob(out.name + "*"):
        path.unlink()


def _references(campaign):
    references = []
    for name, arguments, ending in _commands(campaign):
        out = campaign.folder / f"out.{ending}"
        _clear(out)
        result = campaign.run([*arguments, out])
        if result.code != 0 or not out.exists():
            campaign.find("c", f"{name}: exit code {result.code} without a fault: {result.err[-200:]}", arguments)
            continue
        references.append((name, arguments, out, _content(out)))
    return references


def _judge(campaign, part, words, out, reference, command, failed):
    """Old or complete; nothing unfinished stays."""
    if not out.exists():
        campaign.find(part, f"{words}: the file that stood there is gone", command)
        return
    now = _content(out)
    old = OLD.encode() in out.read_bytes()[:64]
    if not old and now != reference:
        campaign.find(part, f"{words}: neither the old file nor the complete one", command)
    if old and not failed:
        campaign.find(part, f"{words}: exit code 0 without the file", command)


def faults(campaign, deadline):
    """Each call of each kind fails once, as far as the time goes."""
    references = _references(campaign)
    todo = []
    count, mark = campaign.folder / "count", campaign.folder / "mark"
    for name, arguments, out, reference in references:
        count.unlink(missing_ok=True)
        _clear(out)
        campaign.run([*arguments, out], {"LD_PRELOAD": campaign.faults, "FAULT_COUNT": str(count)})
        for (kind, allowed), calls in zip(KINDS.items(), [int(word) for word in count.read_text().split()]):
            if kind == "alloc" and campaign.short:
                continue  # tens of thousands of calls, of which seconds try a few: docs/reliability.md has what is known
            if kind in ("alloc", "thread") and name == "PDF":
                continue  # the library that draws it ends the process by itself without memory or threads
            campaign.count(f"{kind} calls", calls)
            todo += [(name, arguments, out, reference, kind, allowed, at) for at in range(1, calls + 1)
                     if calls <= 200 or campaign.random.random() < 200.0 / calls]
    campaign.random.shuffle(todo)
    campaign.count("faults drawn", len(todo))
    for name, arguments, out, reference, kind, allowed, at in todo:
        if time.monotonic() > deadline:
            break
        _clear(out)
        out.write_text(OLD)
        mark.unlink(missing_ok=True)
        command = [*arguments, out]
        result = campaign.run(command, {"LD_PRELOAD": campaign.faults, "FAULT_KIND": kind, "FAULT_AT": str(at),
                                        "FAULT_MARK": str(mark)}, seconds=60.0)
        words = f"{name}: {kind} {at} fails"
        campaign.count("faults")
        if not mark.exists():
            campaign.count("faults not reached")
        if kind == "alloc" and out.suffix == ".h5" and result.code not in allowed and result.code is not None:
            # Libraries of HDF5 1.10 end the process where some of their own allocations fail: the file that stood there
            # must be there all the same.
            campaign.count("ended by the HDF5 library")
            _judge(campaign, "c", words, out, reference, command, True)
            continue
        if result.code not in allowed:
            campaign.find("c", f"{words}: exit code {result.code}: {result.err[-200:]}", command)
        elif result.code != 0 and not result.err.strip():
            campaign.find("c", f"{words}: no message", command)
        _judge(campaign, "c", words, out, reference, command, result.code != 0)
        left = [path.name for path in out.parent.glob(out.name + ".part")]
        if left:
            campaign.find("c", f"{words}: leaves {left}", command)


def _killed(campaign, command, after):
    process = subprocess.Popen([campaign.program, *[str(each) for each in command]], stdout=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, cwd=campaign.folder)
    time.sleep(after)
    process.send_signal(signal.SIGKILL)
    return process.wait()


def _order(campaign, name, arguments, out):
    """The file reaches the disk before it gets its name, and then the folder does: what a loss of power leaves."""
    log = campaign.folder / "order"
    log.unlink(missing_ok=True)
    _clear(out)
    campaign.run([*arguments, out], {"LD_PRELOAD": campaign.faults, "FAULT_LOG": str(log)})
    lines = log.read_text().splitlines() if log.exists() else []
    campaign.count("orders of writing")
    renamed = [i for i, line in enumerate(lines) if line.startswith("rename") and line.endswith(out.name)]
    if not renamed:
        campaign.find("d", f"{name}: the file gets its name by no rename", [*arguments, out])
        return
    at = renamed[-1]
    if not any(line.startswith("fsync") and line.endswith(".part") for line in lines[:at]):
        campaign.find("d", f"{name}: renamed before it is on the disk: {lines}", [*arguments, out])
    if not any(line == f"fsync {out.parent}" for line in lines[at:]):
        campaign.find("d", f"{name}: the folder is not written after the renaming: {lines}", [*arguments, out])


def kills(campaign, deadline):
    """kill -9 at random moments, at most 200; the next run succeeds."""
    references = _references(campaign)
    times = {}
    for name, arguments, out, reference in references:
        _order(campaign, name, arguments, out)
        begin = time.monotonic()
        campaign.run([*arguments, out])
        times[name] = time.monotonic() - begin
    while time.monotonic() < deadline and campaign.counts.get("kills", 0) < 200:
        name, arguments, out, reference = campaign.random.choice(references)
        _clear(out)
        out.write_text(OLD)
        command = [*arguments, out]
        code = _killed(campaign, command, campaign.random.uniform(0.0, 1.1 * times[name]))
        campaign.count("kills")
        campaign.count("before the end", int(code != 0))
        _judge(campaign, "d", f"{name}: killed", out, reference, command, code != 0)
        again = campaign.run(command)
        if again.code != 0 or _content(out) != reference:
            campaign.find("d", f"{name}: the run after a kill: exit code {again.code}: {again.err[-200:]}", command)
        elif list(out.parent.glob(out.name + ".part")):
            campaign.find("d", f"{name}: an unfinished file stays after the next run", command)
        else:
            campaign.count("survived")


def _damaged(random, content):
    """Bits turned, a piece cut out, doubled or overwritten, or the end lost."""
    data = bytearray(content)
    for _ in range(random.choice([1, 1, 2, 8])):
        if not data:
            break
        at = random.randrange(len(data))
        length = min(len(data) - at, 1 + int(random.expovariate(0.05)))
        kind = random.randrange(6)
        if kind == 0:
            data[at] ^= 1 << random.randrange(8)
        elif kind == 1:
            del data[at:at + length]
        elif kind == 2:
            data[at:at] = data[at:at + length]
        elif kind == 3:
            data[at:at + length] = bytes(random.randrange(256) for _ in range(length))
        elif kind == 4:
            del data[at:]
        else:
            data[at:at + length] = bytes(length)
    return bytes(data)


def _points_of(campaign, arguments, out):
    """The file of a sweep that was killed after some of its points; empty: it was too fast."""
    for _ in range(20):
        _clear(out)
        _killed(campaign, [*arguments, out], campaign.random.uniform(0.05, 0.4))
        points = out.with_name(out.name + ".points")
        if points.exists() and points.stat().st_size > 100:
            return points.read_bytes()
    return b""


def damage(campaign, deadline):
    """What the program writes and reads again, damaged in between: right, or refused with a message."""
    folder = campaign.folder
    s = folder / "s.toml"
    s.write_text(SCENARIO)
    log, out = folder / "log.csv", folder / "sweep.csv"
    campaign.run(["bench", "--scenario", s, "--simulate", log])
    template = campaign.run(["materials", "--template"]).out
    new = folder / "new.toml"
    campaign.run(["new", "--no-questions", "--material", "white-ceramic", "--force", "--out", new])
    sweep = ["sweep", s, "--quiet", "--set", "run.readings=4000", "--over", "target.displacement_mm=-1:1:40", "--out"]
    _clear(out)
    campaign.run([*sweep, out])
    whole = _content(out)
    points = _points_of(campaign, sweep, out)
    texts = {"log": log.read_bytes(), "scenario": new.read_bytes(), "material": template.encode()}
    file = folder / "damaged"
    while time.monotonic() < deadline:
        kind = campaign.random.choice([*texts, *(["points"] if points else [])])
        if kind == "points":
            _clear(out)
            out.with_name(out.name + ".points").write_bytes(_damaged(campaign.random, points))
            command = [*sweep, out]
            result = campaign.run(command)
            if result.code == 0 and _content(out) != whole:
                campaign.find("e", "a sweep goes on with damaged points", command)
        else:
            data = _damaged(campaign.random, texts[kind])
            path = file.with_suffix(".csv" if kind == "log" else ".toml")
            path.write_bytes(data)
            command = {"log": ["bench", path, "--json"], "scenario": ["layout", path, "--json"],
                       "material": ["layout", s, "--json", "--set", f"target.material={path}"]}[kind]
            result = campaign.run(command)
            if result.code == 0:
                campaign.count("read all the same")
                try:
                    finite_json(result.out)
                except ValueError as error:
                    campaign.find("e", f"{kind}: {error}", [*command, path])
        campaign.count(f"damaged {kind}")
        if died(result.code) or result.code not in (0, 2):
            campaign.find("e", f"{kind}: exit code {result.code}: {result.err[-200:]}", command)
