"""Processes that end when the process that started them is gone, however that one ended."""

import ctypes
import os
import signal
import sys
import threading
import time

PR_SET_PDEATHSIG = 1  # <sys/prctl.h>, Linux
POLL_SECONDS = 1.0


def tie_to(parent: int, by_kernel: bool) -> None:
    """Kill this process at once when `parent`, the process that started it, ends.

    by_kernel uses Linux's parent death signal where there is one. It follows the *thread* that started this process, so
    it suits children of a main thread only; the others, and other systems, look for the parent every second.
    """
    if by_kernel and sys.platform == "linux":
        ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    else:
        threading.Thread(target=_watch, args=(parent,), name="lifeline", daemon=True).start()
    if os.getppid() != parent:  # it ended before the tie was made
        os.kill(os.getpid(), signal.SIGKILL)


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(POLL_SECONDS)
    os.kill(os.getpid(), signal.SIGKILL)
