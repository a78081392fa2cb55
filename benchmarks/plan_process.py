"""Whole time of `soakline plan` for each example, and what it goes to: loading, the answer itself, writing it down."""

from __future__ import annotations

import subprocess
import sys
from os import getloadavg
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage
from statistics import median
from time import perf_counter

REPEATS = 5
AIM_S = 2.0
ROOT = Path(__file__).resolve().parents[1]
LOADING = "import soakline.faces.cli.main, soakline.casefile.read, soakline.workflows.plan, soakline.faces.cli.terminal"
# In one process: a first answer (kernels come from the disk), then again, which leaves the sums alone.
ANSWERING = f"""
{LOADING}
import sys
from pathlib import Path
from time import perf_counter
from soakline.settings import Settings
from soakline.workflows.plan import plan_text

text, settings = Path(sys.argv[1]).read_bytes(), Settings.from_environment()
for _ in range(2):
    start_s = perf_counter()
    plan_text(text, settings)
    print(perf_counter() - start_s)
"""


def main() -> None:
    """Print the time of each example's whole process, and of its parts."""
    print(f"load {getloadavg()[0]:.1f}; s, median (least) of {REPEATS} runs after one that warms up")
    loading, of_processor = repeated([sys.executable, "-c", LOADING])
    print(f"loading the program alone: {median(loading):.2f} ({min(loading):.2f}), processor {min(of_processor):.2f}")
    print(f"{'':40}{'whole process':>15}{'processor':>11}{'first answer':>15}{'again':>8}")
    late = 0
    for case_file in sorted((ROOT / "examples").glob("*.toml")):
        whole, of_processor = repeated([str(Path(sys.executable).with_name("soakline")), "plan", str(case_file)])
        first, again = answering(case_file)
        late += median(whole) >= AIM_S
        spent = f"{median(whole):.2f} ({min(whole):.2f})"
        print(f"{case_file.stem:40}{spent:>15}{min(of_processor):>11.2f}{first:>15.2f}{again:>8.2f}")
    print(f"{late} at {AIM_S:g} s or more; load {getloadavg()[0]:.1f}")


def repeated(command: list[str]) -> tuple[list[float], list[float]]:
    """Return how long a command takes in s, and the processor's time of it, run after run, the first left out."""
    runs = [timed(command) for _ in range(REPEATS + 1)][1:]
    return [spent for spent, _ in runs], [of_processor for _, of_processor in runs]


def timed(command: list[str]) -> tuple[float, float]:
    """Return one run's time and processor's time in s; a shut gate ends with 3 and is an answer too."""
    before, start_s = getrusage(RUSAGE_CHILDREN), perf_counter()
    done = subprocess.run(command, capture_output=True, check=False)  # noqa: S603 - our own program
    spent_s, after = perf_counter() - start_s, getrusage(RUSAGE_CHILDREN)
    if done.returncode not in {0, 3}:
        raise SystemExit(done.stderr.decode())
    return spent_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def answering(case_file: Path) -> tuple[float, float]:
    """Return the least time in s of a first answer in a new process, and of the same answer again."""
    command = [sys.executable, "-c", ANSWERING, str(case_file)]
    runs = [
        subprocess.run(command, capture_output=True, check=True, text=True).stdout.split()  # noqa: S603 - as above
        for _ in range(3)
    ]
    return min(float(first) for first, _ in runs), min(float(again) for _, again in runs)


if __name__ == "__main__":
    main()
