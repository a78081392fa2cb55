"""Processes that work for the program are gone once it is, however it ended."""

import os
import signal
import subprocess
import sys
import time

import pytest

AT_WORK = """
import time
from soakline.faces.workers import workers
with workers() as executor:
    print(executor.submit(__import__("os").getpid).result(), flush=True)
    time.sleep(600)
"""


def is_there(process):
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.parametrize("ended_by", [signal.SIGKILL, signal.SIGTERM])
def test_no_worker_outlives_a_program_that_is_killed(ended_by, tmp_path):
    script = tmp_path / "at_work.py"
    script.write_text(f"if __name__ == '__main__':{AT_WORK.replace(chr(10), chr(10) + '    ')}")
    with subprocess.Popen([sys.executable, script], stdout=subprocess.PIPE, text=True) as program:
        worker = int(program.stdout.readline())
        assert is_there(worker)
        program.send_signal(ended_by)
    until = time.monotonic() + 10.0
    while is_there(worker) and time.monotonic() < until:
        time.sleep(0.05)
    assert not is_there(worker)
