"""The family of errors. Every message names the thing, the cause and the remedy.

SyncdError
├── ItemProblem     this track is skipped and reported; the run goes on
├── CardProblem     this card stops; the others go on
│   ├── CardFull        the card has no room for what the plan promised
│   ├── CardFailing     the card does not keep what is written to it
│   └── CardGone        the card went away
└── SetupProblem    nothing can start (usage, settings, profile, programme)

Only a port (file system, encoder, database) turns ``OSError`` or an exit status into one of
these, with ``raise ... from``. ``syncd.cli.exits`` is the one place that maps them to exit codes.
"""


class SyncdError(Exception):
    """Base of all errors that a listener is meant to read."""


class ItemProblem(SyncdError):
    """One track cannot be read, played or pressed; the rest goes on.

    ``item`` names the track (a path, as the listener knows it); ``str()`` is a full sentence.
    """

    def __init__(self, item: str, reason: str) -> None:
        super().__init__(reason)
        self.item = item
        self.reason = reason


class CardProblem(SyncdError):
    """One card cannot be read or written; the other cards go on."""


class CardFull(CardProblem):
    """The card has less room than the plan was made for."""


class CardFailing(CardProblem):
    """The card does not give back what was written to it."""


class CardGone(CardProblem):
    """The card is no longer there, or is another one than a moment ago."""


class CardBusy(CardProblem):
    """Another syncd is at work on the card."""


class SetupProblem(SyncdError):
    """Nothing can start: a setting, a profile, an argument or the state at home is wrong."""
