"""What is known to be wrong with a file's audio, and where in it: a value, and its sentence.

Finding it is for ``framewalk`` (by the container's structure) and for the transcoder (by decoding).
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Damage:
    """What is wrong with a file's audio.

    ``words`` go on a sentence that says that the file is damaged; ``at_s`` is where in the file it
    begins, in seconds of playing time, None where it concerns the whole or cannot be told.
    """

    words: str
    at_s: float | None = None

    def sentence(self, item: str) -> str:
        """The sentence about the file *item*, with the remedy."""
        place = "" if self.at_s is None else f" at {clock(self.at_s)}"
        return f"{item} is damaged{place}: {self.words}. Rip or fetch it again."


def clock(seconds: float) -> str:
    """*seconds* as h:mm:ss.s, cut off and not rounded: the damage is there or soon after."""
    tenths = max(0, int(seconds * 10 + 1e-6))
    return f"{tenths // 36000}:{tenths // 600 % 60:02d}:{tenths // 10 % 60:02d}.{tenths % 10}"
