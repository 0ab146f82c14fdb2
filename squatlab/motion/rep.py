"""A set of repetitions in time, with the truth about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from squatlab import signals
from squatlab.frozen import Frozen
from squatlab.lifter import Lifter
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.moments import JointMoments, joint_moments
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.motion.effort import load_share, mean_speed
from squatlab.motion.filmed import filmed_points
from squatlab.motion.injection import Injection, knees_ahead
from squatlab.motion.onsets import side_view, timed
from squatlab.motion.path import WEIGHT_FORWARD, Path, path_of
from squatlab.motion.plan import (
    SLOWEST_ABOVE_LEVEL_DEG,
    SLOWS_FROM,
    USUAL,
    Plan,
    Tempo,
    spread,
)
from squatlab.motion.schedule import Shares, Timeline, ramp, shares, sticking, timeline
from squatlab.motion.verdict import obstacle, uncleanness
from squatlab.ranges import number_within, shown
from squatlab.tracks import Tracks

USUAL_ASCENT_S = 1.5
"""How long an ascent lasts whose postures are impossible [teaching-value]."""

BEFORE_S = 0.3
"""Standing that is looked at before each descent, s [teaching-value]."""


@dataclass(frozen=True, eq=False, repr=False)
class Rep(Frozen):
    """Hold a set of repetitions and the truth about it; see `synthesise`.

    ``posture`` has one posture per frame with the true angles; ``plan``
    is what was decided for each repetition; ``path`` and ``shares`` say
    how far every frame is between standing and bottom. ``notes`` say what
    an injection brought with it, ``unmet`` what this lifter cannot do.
    Only `points` and `tracks` may be shown to a review; everything else
    is the truth it is tested against.
    """

    lifter: Lifter
    bar: Bar
    stance: Stance
    tempo: Tempo
    injections: tuple[Injection, ...]
    posture: Posture
    plan: Plan
    path: Path
    line: Timeline
    shares: Shares
    notes: tuple[str, ...] = ()
    unmet: tuple[str, ...] = ()

    @property
    def time(self) -> NDArray[np.float64]:
        """Return the time of each frame, (frame,) s."""
        return self.line.time

    @cached_property
    def points(self) -> dict[str, NDArray[np.float64]]:
        """Return every point that can be filmed, name: (frame, 3) m."""
        plan, early = self.path.plan, ramp(self.shares.knee, *WEIGHT_FORWARD)
        return filmed_points(self.posture, plan.tilt_deg * early, plan.head_up_deg, early)

    def tracks(self) -> Tracks:
        """Return the exact positions in space, and no truth beside them."""
        positions = np.stack(list(self.points.values()), axis=1)
        return Tracks(self.time, positions, tuple(self.points), "3d", source="synthetic")

    @cached_property
    def moments(self) -> JointMoments:
        """Return the static joint moments of every frame, N·m."""
        return joint_moments(self.posture)

    @cached_property
    def bottom(self) -> int:
        """Return the frame in which the first repetition is first lowest."""
        return int(np.argmin(np.where(self.line.which == 0, self.posture.hip.y, np.inf)))

    @property
    def events(self) -> dict[str, float]:
        """Return when things happen in the first repetition, s."""
        return self.each[0]

    @cached_property
    def each(self) -> tuple[dict[str, float], ...]:
        """Return the events of every repetition, name: s from the beginning.

        ``start`` and ``end`` of the movement, ``hip_onset`` and
        ``knee_onset`` at 5 % of their flexion as seen from the right,
        ``bottom``, and ``ascent`` when it is left again.
        """
        plan, view = self.plan, side_view(self.posture)
        start = self.line.start
        bottom = start + plan.descent_s
        ascent = bottom + plan.pause_s
        end = ascent + plan.ascent_s
        events = []
        for repetition in range(start.size):
            # The onsets are looked for from a little before the descent to the bottom.
            looked_at = (start[repetition] - BEFORE_S, bottom[repetition])
            frames = slice(*np.searchsorted(self.time, looked_at))
            when = {
                "start": start[repetition],
                "bottom": bottom[repetition],
                "ascent": ascent[repetition],
                "end": end[repetition],
                "hip_onset": signals.onset(view.hip[frames], self.time[frames]),
                "knee_onset": signals.onset(view.knee[frames], self.time[frames]),
            }
            events.append({name: float(time) for name, time in when.items()})
        return tuple(events)

    @cached_property
    def reason(self) -> str:
        """Return why this lifter cannot do it, in words; empty if it can."""
        return self.unmet[0] if self.unmet else obstacle(self.posture, self.time)

    @property
    def feasible(self) -> bool:
        """Return whether this lifter can do what was asked."""
        return not self.reason

    @cached_property
    def flaw(self) -> str:
        """Return why this is not moved cleanly, in words; empty if it is.

        It may still hold a fault: that is for the review to find.
        """
        return self.reason or uncleanness(self.posture, self.line, self.plan)

    @property
    def clean(self) -> bool:
        """Return whether it is feasible, steady and over mid-foot."""
        return not self.flaw

    def __repr__(self) -> str:
        count = self.line.start.size
        faults = ", ".join(f"{i.fault} {i.size:g}" for i in self.injections) or "nothing"
        state = "" if self.feasible else f"; not feasible: {self.reason}"
        return (
            f"Rep: {count} repetition{'s' * (count > 1)} with {self.bar.name} "
            f"{self.bar.mass_kg:g} kg, {self.time[-1]:.1f} s, injected: {faults}{state}"
        )


def synthesise(
    lifter: Lifter,
    bar: Bar,
    stance: Stance,
    tempo: Tempo = USUAL,
    injections: Injection | Sequence[Injection] = (),
    rng: np.random.Generator | None = None,
    *,
    thigh_deg: float = -6.0,
    shank_deg: float = 32.0,
    lumbar_deg: float = 26.0,
    standing_lean_deg: float = 4.0,
    asymmetry_deg: float = 0.0,
    onset_s: float = np.nan,
    rise_deg: float = np.nan,
    straightness: float = 0.0,
    slows_from: float = SLOWS_FROM,
    slowest_deg: float = SLOWEST_ABOVE_LEVEL_DEG,
    best_kg: float | None = None,
    rate: float = 120.0,
) -> Rep:
    """Move a lifter through a set of squats, balanced at every instant.

    The hips go about the ankles from standing, where the trunk leans by
    ``standing_lean_deg``, to the bottom, given by thigh and shank, with
    the low back rounding by ``lumbar_deg`` (a man's normal 26
    [mckean2010a]). ``asymmetry_deg`` turns the right foot out more than
    the left. ``onset_s`` is how long before the hips the knees begin, in
    place of the tempo's lead, ``rise_deg`` how much further the trunk
    leans going up than going down; where the lifter cannot do one of these
    two in full, the nearest possible is done. ``straightness`` 1 keeps the
    bar over mid-foot, 0 bar and body together. With more than
    ``slows_from`` of ``best_kg`` (1.5 times body mass if not given) the
    ascent has a sticking region, slowest with the thigh ``slowest_deg``
    above level. ``rng`` makes lifters and repetitions differ a little;
    left out, all are exactly as asked. ``rate`` is in frames per second.
    What cannot be done is marked, not raised; ValueError for numbers out
    of range.
    """
    if lifter.shape or bar.shape or stance.shape:
        raise ValueError(
            "a set is moved by one lifter with one bar in one stance, and here a length, mass or "
            "angle is an array; take one of its values, and call again for the next"
        )
    if rng is not None and not isinstance(rng, np.random.Generator):
        raise TypeError(
            f"rng is {shown(rng)}; give numpy.random.default_rng(seed), so that the same seed "
            "moves the same, or leave it out for no variation"
        )
    number_within("rate", rate, 20.0, 2000.0, "frames per second")
    load = load_share(lifter, bar, best_kg)
    plan = Plan(
        turnout_deg=stance.turnout_deg,
        asymmetry_deg=number_within(
            "asymmetry_deg", asymmetry_deg, -20, 20, "° of right over left"
        ),
        standing_lean_deg=number_within("standing_lean_deg", standing_lean_deg, 2, 7, "° of lean"),
        descent_s=tempo.descent_s,
        pause_s=tempo.pause_s,
        ascent_s=USUAL_ASCENT_S if tempo.ascent_s is None else tempo.ascent_s,
        ascent_m_s=np.nan if tempo.ascent_s else mean_speed(load, tempo.intent),
        braking=tempo.braking,
        load=load,
        onset_s=onset_s,
        rise_deg=rise_deg,
        straightness=number_within(
            "straightness", straightness, 0, 1, "(1 keeps the bar over mid-foot)"
        ),
        slows_from=number_within("slows_from", slows_from, 0.3, 0.99, "of the best load"),
        slowest_deg=number_within("slowest_deg", slowest_deg, 0, 60, "° of thigh elevation"),
        hip_lead_s=tempo.hip_lead_s,
        thigh_deg=number_within(
            "thigh_deg", thigh_deg, -40, 60, "° of thigh elevation (0 is level)"
        ),
        shank_deg=number_within("shank_deg", shank_deg, 0, 60, "° of shank lean"),
        lumbar_deg=number_within("lumbar_deg", lumbar_deg, 0, 60, "° of lumbar flexion"),
        valgus_deg=stance.valgus_deg,
        heel_rise_deg=stance.heel_rise_deg,
    )
    count = int(tempo.repetitions)
    plan = plan if rng is None else plan.varied(count, rng)
    injections = (injections,) if isinstance(injections, Injection) else tuple(injections)
    for injection in injections:
        plan = injection.into(plan, count, lifter, bar)
    plan, notes = knees_ahead(lifter, stance, plan)
    path = path_of(lifter, bar, stance, plan)
    plan, unmet_by_fault = timed(path)
    # An injected fault that this lifter cannot show makes the set infeasible. A habit that
    # this lifter cannot have in full does not.
    injected = {injection.fault for injection in injections}
    unmet = tuple(words for fault, words in unmet_by_fault.items() if fault in injected)
    line = timeline(plan, count, tempo.standing_s, rate)
    risen = spread(path.risen_to(plan.slowest_deg), line.which)
    path = replace(path, plan=plan).at(line.which)
    descended = shares(path.plan, line, sticking(path.plan, risen))
    return Rep(
        lifter,
        bar,
        stance,
        tempo,
        injections,
        path.posture(descended),
        plan,
        path,
        line,
        descended,
        notes,
        unmet,
    )
