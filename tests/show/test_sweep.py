"""What a browser is sent is, at every position, what the posture there says."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from squatlab import joint_moments
from squatlab.show import explorers, fault_explorers, motion_explorers, rack_picture
from squatlab.show.controls import Slider
from squatlab.show.explorer import Explorer, Together
from squatlab.show.moving import Curve, Trail, rows_of, where, worded
from squatlab.show.picture import Scene
from squatlab.show.primitives import Disc, Line, Shape, Text, Tiles
from squatlab.show.sweep import GONE, UNIT, Sweep, sweep_of, whole
from tests.show.browser_side import read

MAKERS = [
    explorers.lever_arms,
    explorers.proportions,
    explorers.stance,
    explorers.balance_rules,
    rack_picture.rack_height,
    motion_explorers.repetition,
    motion_explorers.phone,
    fault_explorers.faults,
    fault_explorers.first_to_fix,
]
NEAR = 0.1
"""No coordinate may be further off than this, picture units."""

HEAVY = {
    "lever_arms": 3,
    "proportions": 3,
    "stance": 3,
    "balance_rules": 3,
    "faults": 4,
    "phone": 7,
    "repetition": 9,
}
"""Only one position in so many is compared, all with --long-fuzz. The words of the first four are
compared at every one below."""


def swept(explorer: Explorer, name: str, at: list[float]):
    """Yield every position of a slider as it was sent: value, pictures, sentence."""
    begun = 0
    for shown in explorer.subject.pieces(explorer.values(), name, at, explorer._before):
        received = [read(*sweep.sent()) for sweep in shown.sweeps]
        for position, sentence in enumerate(shown.sentences):
            yield at[begun + position], [one(position) for one in received], sentence
        begun += len(shown.sentences)
    assert begun == len(at)


def same(sent: Scene, alone: Scene) -> None:
    """Check that what was sent is a picture made for this position alone."""
    assert sent.alt == alone.alt
    assert [type(part) for part in sent.primitives] == [type(p) for p in alone.primitives]
    for one, other in zip(sent.primitives, alone.primitives, strict=True):
        for name, value in one._asdict().items():
            expected = getattr(other, name)
            if name in ("points", "centre", "at", "radius"):
                assert np.abs(np.subtract(value, expected)).max() <= NEAR, (one, other)
            elif name == "cells":
                assert (value == expected).all()
            else:
                assert value == expected, (one, other)


@pytest.mark.parametrize("make", MAKERS, ids=lambda make: make.__name__)
def test_every_position_of_every_slider_is_what_is_shown_at_rest(make, request):
    long = request.config.getoption("--long-fuzz")
    explorer, every = make(), 1 if long else HEAVY.get(make.__name__, 1)
    explorer.set({"hold": "trunk"} if "hold" in explorer.controls else {})
    for name, control in explorer.controls.items():
        if not isinstance(control, Slider) or not control.enabled(explorer.values()):
            continue
        at = control.positions[::every].tolist()
        for value, scenes, sentence in swept(explorer, name, at):
            values = explorer.values() | {name: value}
            state = explorer.subject.build(values)
            alone = explorer.subject.one(values, state, explorer._before)
            assert sentence == alone.sentences[0], (name, value)
            for scene, sweep in zip(scenes, alone.sweeps, strict=True):
                expected = sweep.scene(0)
                if scene.bounds != expected.bounds:  # room is that of the largest
                    expected = replace(expected, bounds=scene.bounds)
                same(scene, expected)


@pytest.mark.parametrize("make", MAKERS[:4], ids=lambda make: make.__name__)
def test_every_number_is_the_postures(make):
    """Outside source: the posture of each position by itself, and its own numbers."""
    explorer = make()
    assert isinstance(explorer.subject, Together)
    for name, control in explorer.controls.items():
        if not isinstance(control, Slider) or not control.enabled(explorer.values()):
            continue
        for value, (side, *_), sentence in swept(explorer, name, control.positions.tolist()):
            posture = explorer.subject.build(explorer.values() | {name: value})
            if not posture.feasible:
                assert posture.reason.rstrip(".") in sentence
                continue
            words = [text.words for text in side.texts()]
            moments = joint_moments(posture)
            lean = f"{round(float(posture.trunk_deg), 1) + 0.0:.1f}°".replace("-", "−")
            assert sentence.startswith(f"Lean {lean} from"), (name, value)
            assert lean in words and f"{abs(100 * posture.moment_arms().hip_bar):.1f} cm" in words
            numbers = f"hip {moments.hip:.0f}, knee {moments.knee:.0f}, ankle {moments.ankle:.0f}"
            assert numbers.replace(" -", " −") in sentence


def test_an_outline_of_where_one_was_is_the_same_at_every_position():
    explorer = explorers.lever_arms()
    explorer.depth = 20
    explorer._begin("load")
    dashed = [
        [p.points for p in scenes[0].primitives if isinstance(p, Shape) and p.dash]
        for _, scenes, _ in swept(explorer, "load", [0.0, 100.0, 200.0])
    ]
    assert dashed[0] and dashed[0] == dashed[1] == dashed[2]


def test_what_has_no_solution_is_another_structure_of_the_same_sweep():
    explorer = explorers.stance()
    shown = explorer.subject.every(
        explorer.values(), {"stance_width": np.arange(15, 101).tolist()}, None
    )
    front = shown.sweeps[1]
    assert len(front.structures) >= 2 and sum(s.count for s in front.structures) == len(front)
    reasons = {front.scene(i).primitives[-1].words for i in range(80, 86)}
    assert reasons and all(len(part.points) for part in front.scene(0).primitives[:1])


# Its parts


def test_columns_carry_moving_fixed_and_lost_coordinates():
    way = np.array([0.0, 10.0, np.nan, 30.0]) + 5j
    parts = (
        Line((0j, way), "#111111", 2.0),
        Disc(7 + 7j, np.array([1.0, 2.0, 3.0, 4.0]), "#222222"),
        Text(way, ["a", "b", "c", "b"]),
        Text(1 + 1j, "still"),
        Trail(way, "#333333", 1.0),
        Curve((0j, way, 9 + 0j, 9 + 9j), "#444444"),
    )
    sweep = whole(parts, (0.0, 0.0, 40.0, 40.0), 4)
    head, body = sweep.sent()
    sent = read(head, body)
    for position in range(4):
        same(sent(position), sweep.scene(position))
    lost = sweep.scene(2)
    assert [type(p) for p in lost.primitives] == [Disc, Text, Line, Line]
    assert lost.primitives[0].radius == 3.0
    assert head["structures"][0]["words"][1] == [head["book"].index("still")]
    assert UNIT * 40 < -GONE


def test_pictures_of_one_kind_share_a_structure():
    def scene(x: float, dash: str = "") -> Scene:
        return Scene((Line((0j, x + 0j), dash=dash),), (0.0, 0.0, 9.0, 9.0), f"{x}")

    sweep = sweep_of([scene(1), scene(2, "3 3"), scene(3)])
    assert sweep.structure.tolist() == [0, 1, 0] and sweep.row.tolist() == [0, 0, 1]
    assert [sweep.scene(i) for i in range(3)] == [scene(1), scene(2, "3 3"), scene(3)]


def test_a_still_is_a_sweep_of_one_and_may_be_repeated():
    sweep = whole([Line((0j, 1j))], (0.0, 0.0, 1.0, 1.0), 1, ["up"])
    assert len(sweep) == 1 and isinstance(sweep, Sweep)
    again = sweep.repeated(3)
    assert len(again) == 3 and again.scene(2) == sweep.scene(0) and again.repeated(3) is again


def test_tiles_keep_their_kinds():
    cells = np.arange(24, dtype=np.uint8).reshape(2, 3, 4) % 5
    sweep = whole([Tiles((0j, 4 + 3j), cells)], (0.0, 0.0, 4.0, 3.0), 2)
    sent = read(*sweep.sent())
    for position in range(2):
        assert (sent(position).primitives[0].cells == cells[position]).all()


def test_helpers_of_moving_parts():
    mask = np.array([True, False])
    (part,) = where(mask, [Line((np.array([1 + 1j, 2 + 2j]), 0j))])
    assert np.isnan(part.points[0][1]) and part.points[0][0] == 1 + 1j
    assert where(True, [part]) == [part] and where(False, [part]) == []
    assert worded(lambda a, b: f"{a:.0f}{b}", np.array([1.0, 2.0]), "x") == ["1x", "2x"]
    posture = explorers.lever_arms().subject.build
    values = explorers.lever_arms().values() | {"depth": np.array([0.0, 10.0, 20.0])}
    some = rows_of(posture(values), np.array([2]), 3)
    assert re.match("1 postures", repr(some))
    alone = posture(values | {"depth": 20.0})
    assert float(some.trunk_deg[0]) == pytest.approx(float(alone.trunk_deg))
