"""How many threads the linear algebra takes."""

from __future__ import annotations

import os


def use_one_thread() -> None:
    """Let BLAS keep to one thread, unless the environment says otherwise.

    A vehicle's blocks are small: more threads mostly wait for each other, and a search took half as
    long again. To be called before numpy is imported.
    """
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
