"""What an instructor sets up: rack, plates, roster, groups and rotation."""

from __future__ import annotations

from squatlab.gym.grouping import groups, moves
from squatlab.gym.plates import Loading, PlateSet, strap_held, warm_up
from squatlab.gym.rack import Rack, mid_sternum_m
from squatlab.gym.roster import Person, Roster, read_roster
from squatlab.gym.rotation import Turn, rotation
from squatlab.gym.screening import Advice, advise
from squatlab.gym.session import CAUTION, Holes, Round, Session, Station, plan_session
from squatlab.gym.set_up import SetUp, lowest_bar_m, safety_hole, set_up
from squatlab.gym.units import kilograms, metres
from squatlab.gym.unracking import Unracking, unrack

__all__ = [
    "Advice",
    "CAUTION",
    "Holes",
    "Loading",
    "Person",
    "PlateSet",
    "Rack",
    "Roster",
    "Round",
    "Session",
    "SetUp",
    "Station",
    "Turn",
    "Unracking",
    "advise",
    "groups",
    "kilograms",
    "lowest_bar_m",
    "metres",
    "mid_sternum_m",
    "moves",
    "plan_session",
    "read_roster",
    "rotation",
    "safety_hole",
    "set_up",
    "strap_held",
    "unrack",
    "warm_up",
]
