"""Small dense systems solved on one thread: handing them to several costs more than it saves."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def one_thread() -> Iterator[None]:
    """Keep linear algebra on one thread; also decorates a function.

    So the last digits do not hang on the number of processors either.
    """
    import scipy.linalg  # noqa: F401  only libraries that are loaded already can be limited
    from threadpoolctl import threadpool_limits

    with threadpool_limits(limits=1, user_api="blas"):
        yield
