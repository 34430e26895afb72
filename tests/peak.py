"""Peak memory of a process of its own, for tests and benchmarks that run a program in one."""

from __future__ import annotations

from typing import Final

#: Python source of ``peak()``: most memory held so far, bytes. A child begins with the peak of
#: the process that started it in ``ru_maxrss``, so Linux's own figure is read where there is one.
PEAK: Final = """
def peak():
    import resource, sys
    try:
        with open("/proc/self/status") as file:
            return next(1024 * int(line.split()[1]) for line in file if line.startswith("VmHWM"))
    except OSError:
        unit = 1 if sys.platform == "darwin" else 1024
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit
"""
