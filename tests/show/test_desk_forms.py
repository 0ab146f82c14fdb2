"""The instructor's forms: what is missing is said, what is filled in is what is computed with."""

from __future__ import annotations

from datetime import date

import pytest

from squatlab import Bar, units
from squatlab.gym import PlateSet, Rack, plan_session, set_up
from squatlab.lifter import Lifter
from squatlab.review import measure
from squatlab.show import sheets
from squatlab.show.desk_forms import DayForm, RosterForm, SessionForm
from squatlab.show.footage_form import FootageForm
from squatlab.show.form_fields import DEMO, Field, TypedNumber, new_name
from squatlab.show.rack_picture import rack_picture

ROSTER = b"name,height,height_unit\nAsh,5'11\",ft\nBay,64,in\nCole,178,cm\n"


@pytest.fixture(autouse=True)
def in_a_folder(tmp_path, monkeypatch):
    """Own files are beside the notebook."""
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def people():
    return RosterForm()


@pytest.fixture
def session(people):
    return SessionForm(people)


@pytest.mark.parametrize(
    ("system", "kind", "text", "si"),
    [
        ("metric", units.STATURE, "178", 1.78),
        ("metric", units.STATURE, "5'11\"", 71 * 0.0254),
        ("us", units.STATURE, "69", 69 * 0.0254),
        ("us", units.STATURE, "5 ft 9 in", 69 * 0.0254),
        ("us", units.MASS, "225", 225 * 0.45359237),
        ("us", units.MASS, "100 kg", 100),
        ("metric", units.MASS, "225 lb", 225 * 0.45359237),
        ("us", units.DISTANCE, "13", 13 * 0.3048),
        ("us", units.DISTANCE, "4 m", 4),
        ("us", units.FLOOR_HEIGHT, "16", 16 * 0.0254),
    ],
)
def test_a_number_is_read_with_its_unit_and_a_bare_one_in_the_unit_shown(system, kind, text, si):
    with units.written_in(system):
        field = TypedNumber("It", kind, None, 0, 1000)
        field.control.value = text
        assert field.value == pytest.approx(si, abs=1e-12)


def test_what_is_shown_rounded_stays_exact_until_somebody_types():
    with units.written_in("us"):
        field = TypedNumber("Height", units.STATURE, 1.66, 1.2, 2.3)
        assert (field.control.value, field.value) == ("5 ft 5.5 in", 1.66)
        field.control.value = "5 ft 6 in"
        assert field.value == pytest.approx(66 * 0.0254)


@pytest.mark.parametrize(
    ("text", "said"),
    [("", "is missing"), ("225 lb", "“lb”"), ("3 m", "is not possible"), ("tall", "no number")],
)
def test_nothing_is_clamped_or_guessed(text, said):
    field = TypedNumber("Height", units.STATURE, None, 1.2, 2.3)
    field.control.value = text
    with pytest.raises(ValueError, match=f"^Height: .*{said}"):
        _ = field.value


@pytest.mark.parametrize(
    ("kind", "low", "high"),
    [
        (units.STATURE, 1.2, 2.3),
        (units.MASS, 30, 250),
        (units.MASS, 0, 600),
        (units.READING, 0.2, 0.7),
    ],
)
@pytest.mark.parametrize("system", units.SYSTEMS)
def test_the_ends_that_a_field_names_may_be_typed(system, kind, low, high):
    with units.written_in(system):
        field = TypedNumber("It", kind, None, low, high)
        for end in (low, high):
            field.control.value = kind.words(end)
            assert low <= field.value <= high
            assert kind.words(field.value) == kind.words(end)


@pytest.mark.parametrize("system", units.SYSTEMS)
def test_a_bare_number_with_a_comma_for_thousands_is_refused(system):
    with units.written_in(system):
        field = TypedNumber("Bar", units.MASS, None, 0, 600)
        field.control.value = "1,100"
        with pytest.raises(ValueError, match="^Bar: .*a thousand times"):
            _ = field.value


def test_a_roster_of_one_s_own_is_added_and_never_overwrites_another(people, session, tmp_path):
    (tmp_path / "mine.csv").write_bytes(b"something else")
    kept = people.fields["file"].add("mine.csv", ROSTER)
    assert kept.name == "mine-2.csv" and (tmp_path / "mine.csv").read_bytes() == b"something else"
    assert [person.name for person in people.values.people] == ["Ash", "Bay", "Cole"]
    assert session.values.racks == 1, "suggested for those who come"
    assert people.fields["file"].add("mine-2.csv", ROSTER) == kept, "the same is not kept twice"


def test_a_wrong_roster_is_said_row_by_row_and_all_that_follows_says_so(people, session):
    planned = session.result(lambda given: plan_session(people.values, *given))
    people.fields["file"].add("wrong.csv", ROSTER.replace(b"178", b"17"))
    assert not people.steps[0].complete
    assert "row 4, column height" in people.missing[0] and "row 4" in planned.error
    people.fields["leave_out"].control.value = True
    assert [person.name for person in people.values.people] == ["Ash", "Bay"]
    assert len(planned.values.stations) == 1


def test_a_session_in_pounds_is_what_the_functions_plan(people):
    with units.written_in("us"):
        session = SessionForm(people)
        assert session.values.rack == Rack.of("2 in")
        assert (session.values.plates, session.values.load) == (PlateSet.of("lb"), 95)
        session.fill(load="135", first_hole="17", racks="6")
        settings = session.values
        assert settings.load == pytest.approx(135, abs=1e-9)
        assert settings.rack.first_hole_m == pytest.approx(17 * 0.0254)
        plan = plan_session(people.values, *settings)
        assert f"{plan.ramp[-1][0].total:g}" == "135" and len(plan.stations) == 6
        card = sheets.session_cards(plan)[0]
    assert "Card of rack 1" in card.alt


def test_another_rack_brings_its_own_holes_unless_some_were_typed(people):
    with units.written_in("us"):
        session = SessionForm(people)
        session.fill(spacing="1 in")
        assert session.values.rack == Rack.of("1 in")
        session.fill(holes="40", first_hole="20 in", spacing="2 in")
        rack = session.values.rack
        assert (rack.holes, rack.first_hole_m) == (40, pytest.approx(20 * 0.0254))
        session.fill(holes="3")
        assert " m " not in session.missing[0] and " in" in session.missing[0]


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("minutes", "10", "Time: .*blocks of"),
        ("load", "100.3 kg", "Bar: .*cannot be loaded"),
        ("racks", "2.5", "Racks.*no whole number"),
        ("first_hole", "5 kg", "Racks.*“kg”"),
    ],
)
def test_each_step_says_what_is_wrong_with_it(session, name, text, said):
    session.fill(**{name: text})
    with pytest.raises(ValueError, match=said):
        _ = session.values
    assert "To fix:" in session._kept_html()


def test_a_result_follows_its_form_and_the_page_keeps_it():
    clock = DayForm()
    shown = clock.result(lambda given: f"from {given.start}")
    seen = shown.result(lambda words: words.upper())
    clock.fill(start="13:30")
    assert (shown.values, seen.values, repr(seen)) == ("from 13:30", "FROM 13:30", "FROM 13:30")
    bundle = seen._repr_mimebundle_()
    assert "FROM 13:30" in bundle["text/html"] and bundle["text/plain"] == "FROM 13:30"
    clock.fill(start="half past")
    assert "09:00" in seen.error
    with pytest.raises(ValueError, match="half past"):
        _ = seen.values


def test_a_picture_among_the_results_is_shown_as_a_picture(people, session):
    person = people.values.people[0]
    placed = session.result(lambda given: set_up(given.rack, person.lifter(), Bar.high(20)))
    shown = placed.result(lambda both: [person.name, rack_picture(both)])
    html = shown._repr_mimebundle_()["text/html"]
    assert person.name in html and html.count("<img ") == 1


def test_saving_takes_a_new_name_each_time_and_printing_opens_the_same_pdf(
    session, people, pages_undrawn
):
    planned = session.result(lambda given: plan_session(people.values, *given))
    row = planned.printing(
        "cards.pdf", "Cards", lambda plan, size: sheets.session_cards(plan, size)
    )
    row.save.click()
    row.save.click()
    assert row.message == "Saved cards-2.pdf."
    assert new_name("cards.pdf").name == "cards-3.pdf"
    assert row.values.startswith(b"%PDF")
    sent = []
    row._tab.send = lambda content, buffers: sent.append(buffers[0])
    pages_undrawn.undo()  # drawn this time
    row.print.click()
    assert b"/FontFile2" in sent[0] and sent[0].startswith(b"%PDF")
    session.fill(minutes="3")
    row.save.click()
    assert "cards" not in row.message and "minutes" in row.message, (
        "no page of what is not complete"
    )


@pytest.fixture(scope="module")
def club():
    return FootageForm()


def test_the_club_s_footage_is_what_the_notebook_s_functions_get(club):
    filmed = club.values
    assert [tracks.view for tracks in filmed.tracks] == ["side", "front"]
    assert repr(filmed.lifter) == repr(Lifter.from_stature(1.66, 61))
    assert (filmed.lifter.mass_kg, filmed.bar_kg) == (61, 30)
    assert filmed.camera == (4.0, 1.0)
    # The camera that filmed this had 375 px for a metre at the lifter (data/demo is made so).
    assert filmed.tracks[0].scale_px_per_m == pytest.approx(375, rel=0.01)
    assert measure(*filmed.tracks, **filmed.declared)["hips_rise_first"].present == "yes"


@pytest.mark.parametrize(
    ("wanted", "step", "said"),
    [
        ({"front_rate": ""}, "1 · Files", "Front frame rate"),
        ({"side": "", "front": ""}, "1 · Files", "choose a film"),
        ({"units": "m"}, "1 · Files", "m apart"),
        ({"height": ""}, "2 · Camera and scale", "distance and its height"),
        ({"distance": "", "height": ""}, "2 · Camera and scale", "tape the distance"),
        ({"thigh": ""}, "2 · Camera and scale", "Thigh, taped"),
        ({"front_scale": "given"}, "2 · Camera and scale", "Pixels per metre"),
        ({"mass": ""}, "3 · Lifter and bar", "height and body mass"),
        ({"load": "5'9\""}, "3 · Lifter and bar", "Bar with plates"),
    ],
)
def test_each_step_of_own_footage_says_what_is_missing(club, wanted, step, said):
    before = {name: club.fields[name].control.value for name in wanted}
    club.fill(**wanted)
    complaints = {one.title: one.message for one in club.steps if not one.complete}
    assert said in complaints[step]
    club.fill(**before)
    assert club.missing == ()


def test_own_footage_asks_for_the_day_in_the_consent(club):
    form = FootageForm()
    content = (DEMO / "footage" / "laurel-side.csv").read_bytes()
    form.fields["side"].add("mine.csv", content)
    # Nothing of the club's stays: neither its other film nor its lifter, bar and camera.
    assert [one.title for one in form.steps if not one.complete] == [
        "2 · Camera and scale",
        "4 · Consent",
    ]
    form.fill(delete_on=date(2026, 12, 24), distance="13 ft", height="3 ft")
    filmed = form.values
    assert filmed.delete_on == date(2026, 12, 24)
    assert [path.name for path in filmed.files] == ["mine.csv"]
    assert (filmed.lifter, filmed.bar_kg) == (None, None)
    form.fill(stature="5'9\"", mass="176 lb", load="135 lb")
    assert form.values.bar_kg == pytest.approx(61.235, abs=1e-3)


def test_every_field_has_a_label_that_no_other_has(session, people, club):
    for form in (session, people, club, DayForm()):
        labels = [field.label for field in form.fields.values()]
        assert len(set(labels)) == len(labels)
        assert all(isinstance(field, Field) for field in form.fields.values())
