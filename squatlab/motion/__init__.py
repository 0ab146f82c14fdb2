"""A repetition in time, faults put into it, what a camera would record."""

from __future__ import annotations

from squatlab.motion.camera import Camera, film
from squatlab.motion.injection import Injection
from squatlab.motion.people import DrawnPerson, draw_person
from squatlab.motion.plan import Tempo
from squatlab.motion.rep import Rep, synthesise

__all__ = [
    "Camera",
    "Injection",
    "DrawnPerson",
    "Rep",
    "Tempo",
    "draw_person",
    "film",
    "synthesise",
]
