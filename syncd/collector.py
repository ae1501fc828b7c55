"""A rest for the garbage collector while very many values are made at once."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_resting() -> Iterator[None]:
    """Pause the cyclic collector: none of a million new plain values is a cycle.

    Looking for one each few hundred values took two fifths of the time of a large plan. Values
    that are dropped are freed all the same, by their reference counts. At the end the new ones are
    put among the old without a look at them, which would cost a tenth of what it cost to make them.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            if not gc.get_freeze_count():  # else what another has frozen would thaw
                gc.freeze()
                gc.unfreeze()
            gc.enable()
