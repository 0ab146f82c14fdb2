"""What an instructor sets up: rack, safety bars, plates, roster, groups and rotation."""

from __future__ import annotations

from squatlab.gym.grouping import groups
from squatlab.gym.plates import Loading, PlateSet, strap_held, warm_up
from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.gym.roster import Person, Roster, read_roster
from squatlab.gym.rotation import Turn, rotation
from squatlab.gym.screening import Start, start
from squatlab.gym.session import Holes, Round, Session, Station, plan_session
from squatlab.gym.set_up import SetUp, lowest_bar_m, safety_hole, set_up
from squatlab.gym.unracking import Unracking, highest_flat_m, unrack

__all__ = [
    "Holes",
    "Loading",
    "Person",
    "PlateSet",
    "Rack",
    "Roster",
    "Round",
    "Session",
    "SetUp",
    "Start",
    "Station",
    "Turn",
    "Unracking",
    "groups",
    "highest_flat_m",
    "lowest_bar_m",
    "mid_sternum_m",
    "plan_session",
    "read_roster",
    "rotation",
    "safety_hole",
    "set_up",
    "start",
    "strap_held",
    "unrack",
    "warm_up",
]
