"""How uneven are swung eighths at a tempo?

The *swing ratio* is the length of the eighth on the beat over that of the eighth after it.

Measured on the ride cymbal by Friberg & Sundström, "Swing Ratios and Ensemble Timing in
Jazz Performance", *Music Perception* 19 (2002), pp. 333-349 (abstract read, figures not):
up to 3.5:1 at slow tempi, falling to 1:1 at fast ones; the short eighth stays close to
100 ms at medium and fast tempi; soloists have a smaller ratio than the cymbal, because
they play their downbeats late and their off-beats with it. Their report in TMH-QPSR
4/1997 puts 3.5:1 at tempi around 120.

So the curve here is ``(beat - 0.1 s) / 0.1 s``, kept between 1 and 3.5. It meets 3.5 at
133 beats a minute and 1 at 300. The melody takes at most 2.4 (our choice: further than
that slow practice sounds dotted), and comes at most `MELODY_DELAY_S` late on the beat.
"""

from __future__ import annotations

from fractions import Fraction

__all__ = ["melody_delay_s", "melody_share", "ride_ratio", "swing_share", "warp"]

SHORT_EIGHTH_S = 0.1
SLOWEST_RATIO = 3.5
MELODY_RATIO = 2.4
MELODY_DELAY_S = 0.03


def ride_ratio(tempo_bpm: float) -> float:
    """Give the swing ratio of the ride cymbal at a tempo in beats per minute.

    Raises
    ------
    ValueError
        If the tempo is not above zero.

    Examples
    --------
    >>> [round(ride_ratio(tempo), 2) for tempo in (80, 160, 200, 300)]
    [3.5, 2.75, 2.0, 1.0]
    """
    if not tempo_bpm > 0:
        raise ValueError(f"a tempo must be above zero, not {tempo_bpm}")
    ratio = (60.0 / tempo_bpm - SHORT_EIGHTH_S) / SHORT_EIGHTH_S
    return min(SLOWEST_RATIO, max(1.0, ratio))


def swing_share(ratio: float) -> float:
    """Turn a swing ratio into the share of the beat before the off-beat: 2 gives 2/3."""
    return ratio / (1.0 + ratio)


def melody_share(ensemble_share: float, tempo_bpm: float) -> float:
    """Give the melody's off-beat as a share of the beat, its late downbeat counted in.

    Parameters
    ----------
    ensemble_share : float, 0.5 to 0.78
        The band's off-beat as a share of the beat, as `swing_share` gives it.
    tempo_bpm : float > 0
        Beats per minute.

    Returns
    -------
    float
        At most `ensemble_share`: a soloist is never more uneven than the cymbal.
    """
    late = melody_delay_s(tempo_bpm) * tempo_bpm / 60.0
    # From a late downbeat at `late` to the next one at 1 + late, divided at 2.4 to 1.
    furthest = late + swing_share(MELODY_RATIO)
    return min(ensemble_share, furthest)


def melody_delay_s(tempo_bpm: float) -> float:
    """Say how late the soloist's downbeats come in swing, in seconds (our choice)."""
    return min(MELODY_DELAY_S, 0.06 * 60.0 / tempo_bpm)


def warp(fraction: Fraction, share: float) -> float:
    """Move a place within a beat so that its middle falls on `share`.

    Halves, quarters and eighths of the beat swing; triplets and other divisions are
    already uneven or written out, and stay.

    Examples
    --------
    >>> warp(Fraction(1, 2), 2 / 3) == 2 / 3, warp(Fraction(1, 3), 0.7) == 1 / 3
    (True, True)
    """
    place = float(fraction)
    # Not a power of two: a triplet or another tuplet.
    if fraction.denominator & (fraction.denominator - 1):
        return place
    if place <= 0.5:
        return 2.0 * place * share
    return share + (2.0 * place - 1.0) * (1.0 - share)
