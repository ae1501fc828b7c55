"""The matrices that bring several channels down to two or one, as texts for ffmpeg's ``pan``.

Coefficients of Rec. ITU-R BS.775-3 Annex 4: the centre and each surround at 0.7071 (a back centre
goes to both sides, hence 0.5 each), LFE left out. The whole is scaled by the sum of the
coefficients, so that no input can clip; ffmpeg's own downmix scales or not depending on the
sample format, so it is never asked for one.

For places that the recommendation does not know (beside the centre, wide, above) there is no
published figure here: they get the surrounds' share, so that nothing but LFE is left out.

Channels are named, not numbered: ``pan`` ignores a name that the source's layout lacks, so one
matrix serves back and side surrounds alike.
"""

_HALF = 0.7071

_BESIDES = ("B", "S", "W", "TF", "TB", "TS")  # with L or R: surrounds, wide, above
_STEREO_LEFT = {"FL": 1.0, "FC": _HALF, "BC": 0.5, "FLC": _HALF, "TFC": 0.5, "TBC": 0.5, "TC": 0.5}
_STEREO_LEFT |= {f"{place}L": _HALF for place in _BESIDES}
_STEREO_RIGHT = {"FR": 1.0, "FC": _HALF, "BC": 0.5, "FRC": _HALF, "TFC": 0.5, "TBC": 0.5, "TC": 0.5}
_STEREO_RIGHT |= {f"{place}R": _HALF for place in _BESIDES}
_MONO = {"FC": 1.0, "FL": _HALF, "FR": _HALF, "FLC": 0.5, "FRC": 0.5}
_MONO |= dict.fromkeys(("BC", "TFC", "TBC", "TC"), _HALF)
_MONO |= {f"{place}{side}": 0.5 for place in _BESIDES for side in "LR"}

# The largest sum of coefficients on one side, over the layouts that a channel count may mean.
_STEREO_SUM = {3: 1.7071, 4: 2.2071, 5: 2.4142, 6: 2.4142, 7: 3.1213, 8: 3.1213}
_MONO_SUM = {2: 1.4142, 3: 2.4142, 4: 3.1213, 5: 3.4142, 6: 3.4142, 7: 4.4142, 8: 4.4142}


def pan(matrix: str) -> str:
    """The argument of ``pan`` for the matrix *matrix*, named by its channel counts ("6to2").

    Raises KeyError for counts that no matrix has.
    """
    source, target = (int(count) for count in matrix.split("to"))
    if target == 1:
        return f"mono|FC={_terms(_MONO, _MONO_SUM[source])}"
    if target != 2:
        raise KeyError(matrix)
    total = _STEREO_SUM[source]
    return f"stereo|FL={_terms(_STEREO_LEFT, total)}|FR={_terms(_STEREO_RIGHT, total)}"


def _terms(coefficients: dict[str, float], total: float) -> str:
    return "+".join(f"{value / total:.6f}*{name}" for name, value in coefficients.items())
