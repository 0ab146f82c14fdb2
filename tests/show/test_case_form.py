"""The form that keeps a real lifter: without consent nothing, with it a case."""

from __future__ import annotations

import shutil
from datetime import date

import pytest

from squatlab.questions.real_cases import RealCases
from squatlab.show.case_form import CaseForm
from squatlab.show.footage_form import FootageForm
from squatlab.show.form_fields import DEMO


@pytest.fixture(scope="module")
def lift():
    return FootageForm()


@pytest.fixture
def form(lift, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    lift.fill(delete_on=None)
    return CaseForm(lift)


def test_the_invented_lifter_has_a_key_and_no_consent(form, tmp_path):
    key, agreed, place = form.steps
    assert key.complete and "2 of 3 coaches" in key.message and place.complete
    assert not agreed.complete and "no consent is stated: who consented" in agreed.message
    form.keep.click()
    assert "Nothing was kept" in form.message and not list(tmp_path.iterdir())


def test_with_consent_and_a_day_the_button_keeps_a_case(form, lift, tmp_path):
    lift.fill(delete_on=date(2999, 12, 31))
    assert "no consent is stated: who consented" in form.steps[1].message
    form.fill(given_by="guardian", asked_by="I1", asked_on=date(2020, 1, 2))
    assert form.missing == () and "2999-12-31" in form.steps[1].message
    form.keep.click()
    assert form.message.startswith("Kept") and "knees fall in 8.5° ± 1.7° (clear)" in form.message
    assert "In real_cases: K-01." in form.steps[2].message
    case = RealCases(tmp_path / "real_cases").case("K-01")
    assert case.first == "knee_valgus" and case.key.together and len(case.shots) == 2
    assert case.said.bar_kg == 30 and case.consent.given_by == "guardian"
    form.keep.click()
    assert "choose another id" in form.message


def test_an_own_film_is_not_kept_with_the_key_of_the_invented_lifter(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copy(DEMO / "footage" / "laurel-side.csv", tmp_path / "mine.csv")
    lift = FootageForm()
    lift.fields["side"].look_again()
    lift.fill(side=lift.fields["side"].control.options[1][1])
    lift.fill(side_scale="unknown", delete_on=date(2999, 12, 31))
    form = CaseForm(lift)
    assert lift.missing == () and "invented lifter" in form.missing[0]
    rows = "coach_id,there,first\nK1,nothing,nothing\nK2,nothing,nothing\n"
    form.fill(coaches=form.fields["coaches"].add("said.csv", rows.encode()))
    assert form.steps[0].complete and "2 of 2 coaches" in form.steps[0].message


def test_a_wrong_table_is_said_at_its_step(form, tmp_path):
    (tmp_path / "mine.csv").write_text("coach_id,there,first\nK1,head_up,head_up\n", "utf-8")
    form.fields["coaches"].look_again()
    form.fill(coaches=form.fields["coaches"].control.options[-1][1])
    assert "mine.csv: 1 coach answered" in form.missing[0]
    assert "To fix: " in form._repr_mimebundle_()["text/html"]
