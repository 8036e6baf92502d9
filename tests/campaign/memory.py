"""Full reads in one Python process, and what they leave behind."""

import subprocess
import sys
import time

PROGRAM = """
import gc, sys, time
import spotwright as sw
end = time.monotonic() + float(sys.argv[1])
def resident():
    return int(open('/proc/self/statm').read().split()[1]) * 4
done, early = 0, None
while done < 2000 and time.monotonic() < end or done < 60:
    s = sw.Scenario({'target.material': ['white-ceramic', 'polished-steel'][done % 2], 'run.readings': 16 + done % 7,
                     'run.patches': 16, 'target.displacement_mm': 0.001 * (done % 11)})
    sw.read(s)
    try:
        sw.Scenario({'target.material': 'no such'})
    except sw.ScenarioError:
        pass
    done += 1
    if done == 40:
        gc.collect()
        early = resident()
gc.collect()
print(done, early, resident())
"""


def run(campaign, deadline):
    """As many as the time allows, at most 2000; from the 40th on memory may grow by 1 KiB a read and 2 MiB in all."""
    seconds = max(1.0, deadline - time.monotonic())
    out = subprocess.run([sys.executable, "-c", PROGRAM, str(seconds)], capture_output=True, text=True,
                         env={"PYTHONPATH": ":".join(sys.path[:2])})
    if out.returncode != 0:
        campaign.find("f", f"exit code {out.returncode}: {out.stderr[-300:]}")
        return
    done, early, late = (int(word) for word in out.stdout.split())
    campaign.count("reads", done)
    campaign.count("KiB of growth", late - early)
    if late - early > 2048 + done:
        campaign.find("f", f"{late - early} KiB more after {done} reads")
