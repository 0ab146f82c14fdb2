"""What an instructor sets up: rack, plates, roster, groups and rotation."""

from __future__ import annotations

from squatlab.gym.plates import Loading, PlateSet, strap_held, warm_up
from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.gym.set_up import SetUp, lowest_bar_m, safety_hole, set_up
from squatlab.gym.units import kilograms, metres
from squatlab.gym.unracking import Unracking, unrack

__all__ = [
    "Loading",
    "PlateSet",
    "Rack",
    "SetUp",
    "Unracking",
    "kilograms",
    "lowest_bar_m",
    "metres",
    "mid_sternum_m",
    "safety_hole",
    "set_up",
    "strap_held",
    "unrack",
    "warm_up",
]
