"""One frame out of a set, as a posture that can be drawn and measured."""

from __future__ import annotations

import numpy as np

from squatlab.mechanics.posture import Posture
from squatlab.motion.rep import Rep
from squatlab.motion.schedule import Shares


def posture_at(rep: Rep, frame: int) -> Posture:
    """Return the single posture of one frame of one repetition.

    Raises ValueError for a set of several, whose plan may change, and for
    a frame that is not there.
    """
    if len(rep.each) > 1:
        raise ValueError(
            f"the set has {len(rep.each)} repetitions; synthesise one of them to look at one moment"
        )
    if not 0 <= frame < rep.time.size:
        raise ValueError(f"frame is {frame}; this set has frames 0 to {rep.time.size - 1}")
    taken = (np.asarray(share)[frame] if np.ndim(share) else share for share in rep.shares)
    return rep.path.posture(Shares(*taken))
