"""The figure: as thick as the segment table makes it, and one in every picture."""

import numpy as np
import pytest

from squatlab import tables
from squatlab.lifter import Lifter
from squatlab.mechanics.balance import balance
from squatlab.mechanics.legs import Stance
from squatlab.mechanics.trunk import Bar
from squatlab.segments import segments_of
from squatlab.show import body, palette
from squatlab.show.body import Build, around, front_body, front_places, side_body, side_places
from squatlab.show.picture import Scene
from squatlab.show.primitives import Shape
from squatlab.show.raster import image

ROUND = 0.08
"""Part of a limb's volume that its rounded ends beyond the joints may add or lack."""


def volume(name: str, lifter: Lifter, length_m: float) -> float:
    """Return what is inside both outlines of an upright limb, m³: ellipses, one below another."""
    build = Build.of(lifter)
    heights = np.linspace(0.01, 0.99, 99) * length_m

    def breadths(profile) -> np.ndarray:
        points = np.array(around(0j, 1j * length_m, profile, build, getattr(build, name), 1j))
        half = len(points) // 2
        right, left = points[:half], points[half:][::-1]
        return np.interp(heights, right.imag, right.real) - np.interp(heights, left.imag, left.real)

    depth, breadth = map(breadths, body.THICK[name])
    return float(np.mean(np.abs(np.pi / 4 * depth * breadth)) * length_m)


@pytest.mark.parametrize("table", ["winter2009", "deleva1996_women"])
@pytest.mark.parametrize("name", ["thigh", "shank"])
def test_a_limb_is_as_large_as_its_mass_at_its_density(name, table):
    # Outside source: the table's mass, over the density of the same limb [winter2009].
    for mass in (55.0, 80.0, 120.0):
        lifter = Lifter.from_stature(1.75, mass, table)
        expected = segments_of(table)[name].mass * mass
        expected /= tables.value("limits", name=name, quantity="density")
        drawn = volume(name, lifter, getattr(lifter, f"{name}_m"))
        assert drawn == pytest.approx(expected, rel=ROUND)


def test_heavier_is_thicker_and_taller_is_taller():
    light, heavy = (Build.of(Lifter.from_stature(1.75, mass)) for mass in (60, 120))
    for name in body.THICK:
        assert getattr(heavy, name) / getattr(light, name) == pytest.approx(np.sqrt(2))
    # Of an average build the profiles are drawn nearly as they are written down.
    average = Build.of(Lifter.from_stature(1.75, 75))
    assert all(0.8 < getattr(average, name) < 1.25 for name in body.THICK)


POSTURE = balance(Lifter.from_stature(1.75, 80), Bar.high(80), Stance(), 40, 25)


def pixels(drawn: body.Body, height_px: int = 120) -> np.ndarray:
    """Return a body as a small picture, rows of RGB."""
    frame = body.Frame(150 + 400j, 210.0)
    parts = tuple(drawn.drawn(frame, body.SOLID))
    scene = Scene(parts, (0.0, 0.0, 300.0, 420.0), "")
    return np.asarray(image(scene, round(300 * height_px / 420)), dtype=int)


def near(picture: np.ndarray, colour: str) -> np.ndarray:
    tone = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
    return np.abs(picture - tone).sum(axis=2) < 30


def test_a_face_tells_front_from_back_in_a_small_picture():
    front = pixels(front_body(front_places(POSTURE), Build.of(POSTURE.lifter)))
    whole = side_body(side_places(POSTURE), Build.of(POSTURE.lifter))
    side = pixels(body.Body((), whole.near[:5]))  # an arm beside the head is no face
    for picture in (front, side):
        hair = near(picture, palette.HAIR)
        rows = np.flatnonzero(hair.any(axis=1))
        head = slice(rows[0], rows[0] + 17)
        face = near(picture[head], palette.SKIN)
        assert hair.sum() > 20 and face.sum() > 20
        if picture is side:  # forward is to the right
            assert np.nonzero(face)[1].max() > 2 + np.nonzero(hair)[1].mean()


def test_a_leg_is_one_area_without_an_edge_at_the_knee():
    drawn = side_body(side_places(POSTURE), Build.of(POSTURE.lifter))
    parts = drawn.drawn(body.Frame(150 + 400j, 210.0), body.SOLID)
    leg = next(p for p in parts if isinstance(p, Shape) and p.fill == palette.SKIN and p.pieces)
    apart = [leg._replace(points=outline, pieces=()) for outline in leg.outlines()]

    def edge_pixels(*shapes: Shape) -> int:
        scene = Scene(shapes, (0.0, 0.0, 300.0, 420.0), "")
        return int(near(np.asarray(image(scene, 900), dtype=int), palette.EDGE).sum())

    # Apart, the thigh's rounded end at the knee crosses the shin.
    assert edge_pixels(*apart) - edge_pixels(leg) > 100
