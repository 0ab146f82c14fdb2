"""Long recordings: read in blocks of repetitions, as if read whole, in bounded memory."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from squatlab.motion import film
from squatlab.review import measure, view
from squatlab.review.quantities import Quantities, over_time
from squatlab.review.view import BLOCK_FRAMES, MARGIN_S, view_of, views_of
from squatlab.tracks import Tracks
from tests.review.squats import BAR_KG, FRONT, LIFTER, SIDE, squat

DECLARED = {"lifter": LIFTER, "bar_kg": BAR_KG, "camera": SIDE}
STILL_S = 1.0
"""A repetition begins and ends with about so long of standing."""


def long_films(repetitions, cameras=(SIDE, FRONT), step=2, still=True):
    """Return films of one repetition again and again, at 30 frames per second, with noise.

    Without ``still`` the standing between them is cut out: only that before the first and after
    the last is left.
    """
    rep, rng, films = squat(("short_depth", 9.0), ("uneven_bar", 6.0)), np.random.default_rng(5), []
    for camera in cameras:
        once = film(rep.points, rep.time, camera)
        positions = once.positions[:-1:step]
        (only,) = view_of(once).repetitions
        moving = slice(only.start // step, only.end // step)
        parts = [positions] * repetitions
        if not still:
            head, tail = positions[: moving.start], positions[moving.stop :]
            parts = [head, *[positions[moving]] * repetitions, tail]
        seen = np.concatenate(parts)
        seen = seen + rng.normal(0, 3.0, seen.shape)
        times = np.arange(len(seen)) * step / once.rate
        films.append(Tracks(times, seen, once.names, once.view, "px", once.scale_px_per_m))
    return films


@pytest.fixture(scope="module")
def forty():
    """Return films of forty repetitions, longer than one block."""
    films = long_films(40)
    assert films[0].times.size > 2 * BLOCK_FRAMES
    return films


@pytest.fixture(scope="module")
def in_blocks(forty):
    """Return what is read of them block by block."""
    return measure(*forty, **DECLARED)


def test_blocks_read_what_the_whole_recording_reads(forty, in_blocks, monkeypatch):
    """What stays is told from fewer frames of standing: values differ by a part of their ±."""
    monkeypatch.setattr(view, "BLOCK_FRAMES", 10**6)
    whole = measure(*forty, **DECLARED)
    assert [s.start for s in in_blocks.repetitions] == [s.start for s in whole.repetitions]
    assert [s.bottom_s for s in in_blocks.repetitions] == [s.bottom_s for s in whole.repetitions]
    for one, other in zip(in_blocks, whole, strict=True):
        assert one.answer == other.answer, one.fault
        assert np.isnan(one.each).tolist() == np.isnan(other.each).tolist()
        if not np.isnan(one.value):
            # What a peak is too large by is told from a dozen draws of jitter.
            assert abs(one.value - other.value) < 0.25 * one.plus_minus, one.fault
            apart = np.subtract(one.each, other.each)
            assert np.nanmax(np.abs(apart)) < 0.4 * one.plus_minus, one.fault
    for fault in ("short_depth", "uneven_bar"):
        one, other = in_blocks[fault], whole[fault]
        assert one.present == "yes"
        if one.repetition == other.repetition:
            assert (one.first, one.worst, one.last) == (other.first, other.worst, other.last)


def test_frames_of_a_finding_are_those_of_the_whole_view(forty, in_blocks):
    finding = in_blocks["uneven_bar"]
    seen = [seen for seen in in_blocks.repetitions if seen.view == "front"][finding.repetition - 1]
    assert seen.start <= finding.first <= finding.worst <= finding.last <= seen.end
    assert seen.bottom_s == pytest.approx(forty[1].times[seen.bottom])


def test_each_repetition_is_in_one_block_with_its_standing(forty):
    whole = view_of(forty[0])
    blocks = whole.blocks
    assert len(blocks) > 1
    assert [number for b in blocks for number in range(b.first, b.end)] == list(range(40))
    for block in blocks:
        part = whole.cut(block)
        assert part.times.size <= BLOCK_FRAMES + 2 * (MARGIN_S + STILL_S) * part.rate + 2
        for number, repetition in enumerate(part.repetitions, block.first):
            before = whole.repetitions[number]
            assert part.times[list(repetition)] == pytest.approx(whole.times[list(before)])
            stand = part.stands[number - block.first]
            assert part.times[stand] == pytest.approx(whole.times[whole.stands[number]])


def test_a_short_recording_is_one_block_and_not_copied():
    short = view_of(long_films(3, [SIDE])[0])
    (block,) = short.blocks
    assert short.cut(block) is short


def test_repetitions_without_standing_between_them_take_the_nearest():
    (side,) = long_films(45, [SIDE], still=False)
    whole = view_of(side, **DECLARED)
    assert len(whole.blocks) > 1 and not whole.is_trimmed
    middle = whole.cut(whole.blocks[1])
    # The only standing is before the first and after the last repetition.
    assert middle.times[middle.stands[0]].min() < middle.times[middle.repetitions[0].start] - 9
    findings = measure(side, **DECLARED)
    depths = np.array(findings["short_depth"].each)
    assert len(depths) == 45 and np.ptp(depths) < 2 * findings["short_depth"].plus_minus


def test_three_hundred_repetitions_are_read_and_told_in_short():
    (side,) = long_films(300, [SIDE], step=6)
    findings = measure(side, **DECLARED)
    depth = findings["short_depth"]
    assert len(depth.each) == 300 and depth.present == "yes"
    assert depth.each_in_words.startswith("300 repetitions: from ")
    assert max(map(len, repr(findings).splitlines())) < 200


def test_memory_grows_no_faster_than_the_recording():
    """Disturbed pictures are a hundred times the recording; only a block's are held."""

    def peak(repetitions):
        films = long_films(repetitions)
        tracemalloc.start()
        measure(*films, **DECLARED)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return most, sum(film.positions.nbytes for film in films)

    (forty_peak, forty_size), (eighty_peak, eighty_size) = peak(40), peak(80)
    assert eighty_peak - forty_peak < 12 * (eighty_size - forty_size)


def test_a_block_reads_the_same_wherever_the_recording_begins(forty):
    """Cutting off what lies before a block changes nothing in it."""
    whole = view_of(forty[0])
    block = whole.blocks[1]
    alone = replace(
        forty[0], times=forty[0].times[block.frames], positions=forty[0].positions[block.frames]
    )
    findings = measure(alone, **DECLARED)
    again = measure(forty[0], **DECLARED)["short_depth"].each[block.first : block.end]
    assert findings["short_depth"].each == pytest.approx(again, abs=0.3)


def test_a_quantity_over_a_long_recording_is_what_a_review_reads(forty, in_blocks):
    """Block by block, each counting from its own standing, and every frame once."""
    (whole,) = (one for one in views_of(*forty, **DECLARED) if one.kind == "side")
    series = over_time(whole, "thigh_level").series
    bottoms = [repetition.bottom for repetition in whole.repetitions]
    # The review takes off the recording's likeliest errors as well: within its ±.
    finding = in_blocks["short_depth"]
    assert series[bottoms] == pytest.approx(finding.each, abs=finding.plus_minus)
    unseen = np.isnan(whole["hip"][:, 1])
    assert np.isnan(series[~unseen]).sum() == 0


def test_a_quantity_over_time_reads_each_repetition_in_its_block_only(forty, monkeypatch):
    """So that the work is in proportion to the recording."""
    (whole,) = (one for one in views_of(*forty, **DECLARED) if one.kind == "side")
    sizes, made = [], Quantities.__init__

    def counted(self, part, repetition=None):
        sizes.append(part.times.size)
        made(self, part, repetition)

    monkeypatch.setattr(Quantities, "__init__", counted)
    over_time(whole, "heel_height")
    most = max(block.frames.size for block in whole.blocks)
    assert sizes[0] == whole.times.size and len(sizes) == 1 + len(whole.repetitions)
    assert max(sizes[1:]) <= most < 0.6 * whole.times.size


def test_a_block_holds_its_repetitions_the_standing_around_them_and_a_margin(monkeypatch):
    """Three squats in three blocks: frames of standing keep their times, and no other is there."""
    whole = view_of(squat(repetitions=3).tracks())
    monkeypatch.setattr(
        view, "BLOCK_FRAMES", (whole.repetitions[0].end - whole.repetitions[0].start)
    )
    blocks = replace(whole).blocks
    assert [(block.first, block.end) for block in blocks] == [(0, 1), (1, 2), (2, 3)]
    margin = int(MARGIN_S * whole.rate)
    for block in blocks:
        part = whole.cut(block)
        around = whole.stands[block.first : block.end + 1]
        assert len(part.stands) == len(around) == 2
        for own, there in zip(part.stands, around, strict=True):
            assert np.array_equal(part.times[own], whole.times[there])
        (only,) = whole.repetitions[block.first : block.end]
        known = np.concatenate([*around, np.arange(only.start, only.end + 1)])
        assert block.frames.min() == max(known.min() - margin, 0)
        assert block.frames.max() == min(known.max() + margin, whole.times.size - 1)
