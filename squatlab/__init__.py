"""squatlab: teach, see and examine the high-bar and low-bar back squat.

The mechanics alone, from a lifter under a bar to the one thing to fix first:

>>> from squatlab import Bar, Lifter, Stance, balance, joint_moments, motion, review
>>> lifter, bar = Lifter.from_stature(1.75, mass_kg=75), Bar.low(mass_kg=60)
>>> joint_moments(balance(lifter, bar, Stance()))
JointMoments(hip 149.1, knee 91.7, ankle 42.4, l5s1 216.5 N·m)
>>> shallow = motion.Injection("short_depth", 20)
>>> squat = motion.synthesise(lifter, bar, Stance(), injections=shallow)
>>> tracks = motion.film(squat.points, squat.time, motion.Camera.side())
>>> review.prioritise(review.measure(tracks, lifter=lifter, bar_kg=60)).first.fault
'short_depth'
"""

from __future__ import annotations

from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance, pose
from squatlab.mechanics.dynamics import chain_moments, dynamic_moments
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.moments import JointMoments, back_extensor_force, joint_moments
from squatlab.mechanics.posture import Posture
from squatlab.mechanics.trunk import Bar
from squatlab.population import Population

__version__ = "0.1.0"

__all__ = [
    "Bar",
    "JointMoments",
    "Lifter",
    "Population",
    "Posture",
    "Stance",
    "back_extensor_force",
    "balance",
    "chain_moments",
    "dynamic_moments",
    "joint_moments",
    "pose",
]
