"""squatlab: teach, see and examine the high-bar and low-bar back squat."""

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
