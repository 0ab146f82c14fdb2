"""What an instructor sets up: rack, safety bars and plates."""

from __future__ import annotations

from squatlab.gym.plates import Loading, PlateSet, strap_held, warm_up
from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.gym.set_up import SetUp, lowest_bar_m, safety_hole, set_up
from squatlab.gym.unracking import Unracking, highest_flat_m, unrack

__all__ = [
    "Loading",
    "PlateSet",
    "Rack",
    "SetUp",
    "Unracking",
    "highest_flat_m",
    "lowest_bar_m",
    "mid_sternum_m",
    "safety_hole",
    "set_up",
    "strap_held",
    "unrack",
    "warm_up",
]
