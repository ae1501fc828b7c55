"""Exit statuses, and the one place that turns errors into them.

0 all done; 1 done, with items left out or a difference found; 2 nothing started (usage, settings);
3 a card failed; 130 interrupted.
"""

from syncd.errors import CardProblem, SetupProblem, SyncdError

DONE = 0
WITH_REMAINDER = 1
NOT_STARTED = 2
CARD_FAILED = 3
INTERRUPTED = 130


def status_of(error: SyncdError) -> int:
    """The exit status that *error* ends the program with."""
    if isinstance(error, CardProblem):
        return CARD_FAILED
    if isinstance(error, SetupProblem):
        return NOT_STARTED
    return WITH_REMAINDER
