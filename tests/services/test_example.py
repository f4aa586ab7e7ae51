"""The example workshop's built-in truths are found, and vanish when erased."""

from __future__ import annotations

import pytest

from analysis.compare.compare import compare
from analysis.errors import InputError
from analysis.model.comparison import CompareOptions
from analysis.model.vibration import VibrationQuestion
from analysis.model.workshop import Form
from analysis.monitoring.differences import differences
from analysis.monitoring.target import chance_now
from analysis.services import batch_marks, batches, example
from analysis.services import forms as forms_service
from analysis.services import log as log_service
from analysis.services.records import add, list_all
from analysis.services.tables import trials_of_log
from analysis.vibration.dose_answer import vibration


@pytest.fixture(scope="module", params=[True, False], ids=["true", "erased"])
def shop(request, tmp_path_factory):
    log = log_service.open_log(tmp_path_factory.mktemp("example"))
    example.build_example(log, effects=request.param, photos=False)
    return log, request.param


@pytest.fixture(scope="module")
def photographed(tmp_path_factory):
    log = log_service.open_log(tmp_path_factory.mktemp("photos"))
    told = []
    example.build_example(log, progress=lambda part, words: told.append((part, words)))
    return log, told


def test_sealed_joints_help(shop):
    log, true = shop
    head = compare(trials_of_log(log), CompareOptions(by="joints_sealed")).head

    assert head.levels == ("yes", "no")
    assert head.verdict == ("lower" if true else "no_clear_difference")
    if true:
        assert head.ratio_low < 0.5 < head.ratio_high


def test_release_agent_cannot_be_told_from_the_mix(shop):
    log, true = shop
    head = compare(trials_of_log(log), CompareOptions(by="release_agent")).head

    assert [alias.factor for alias in head.aliases] == (["mix"] if true else [])
    assert head.verdict == ("cannot_separate" if true else "no_clear_difference")


def test_troughs_drift(shop):
    log, true = shop
    pieces = batches.pieces_of_log(log)
    found = batches.batches(pieces, product_line="flower troughs").status

    assert found.state == ("drifting" if true else "steady")
    if true:
        assert not found.more_voids
        chart = batches.batches(pieces, product_line="flower troughs").track
        settings = {d.setting for d in differences(pieces, chart, "P26")}
        assert "release_application" in settings


def test_one_form_wears(shop):
    log, true = shop
    found = forms_service.wear(
        batches.pieces_of_log(log), targets=batch_marks.targets_of_lines(log)
    )

    worn = [name for name, wear in found.items() if wear.advice != "no_sign"]
    assert worn == (["Pot 2"] if true else [])
    if true:
        assert found["Pot 2"].advice in {"refinish", "retire"}


def test_decorative_line_has_the_voids_it_wants(shop):
    log, true = shop
    pieces = batches.pieces_of_log(log)
    chart = batches.batches(pieces, product_line="pitted bowls").track
    target = batch_marks.target_of(log, "pitted bowls")
    chance = chance_now(pieces, chart, target).chance

    assert target.low > 0.02
    assert (chance > 0.8) if true else (chance < 0.1)


@pytest.mark.parametrize(
    ("form_type", "line", "when_true"),
    [("panel", "wall panels", "more"), ("bench leg", "garden benches", "less")],
)
def test_vibration_of_the_under_and_the_over_vibrated(shop, form_type, line, when_true):
    log, true = shop
    target = batch_marks.target_of(log, line)
    asked = VibrationQuestion(
        form_type=form_type,
        method="table",
        target_low=target.low,
        target_high=target.high,
    )
    decision = vibration(trials_of_log(log), asked).decision

    if true:
        assert decision == when_true
    else:
        assert decision not in {"more", "less"}


def test_size_of_the_shop(photographed):
    log, _ = photographed

    assert len(log_service.forms(log)) >= 6
    assert len({form.form_type for form in log_service.forms(log)}) >= 4
    assert len(log_service.pours(log)) >= 24
    assert len(log_service.list_castings(log)) >= 90
    assert len(log_service.list_readings(log)) == 12


def test_photos_are_measured_near_what_was_drawn(photographed):
    log, _ = photographed
    names = {one.piece.id: one.piece.name for one in log_service.list_castings(log)}
    drawn = {
        row["piece"]: row["void_area_percent"] for row in example.workshop.castings()
    }

    for line in log_service.list_readings(log):
        wanted = drawn[names[line.piece_id]] / 100
        assert wanted / 2.2 < line.void_share < wanted * 2.2
        assert not log_service.load_reading(log, line.id).light_flags


def test_photos_leave_the_truths_as_they_are(photographed):
    log, _ = photographed
    table = trials_of_log(log)

    sealed = compare(table, CompareOptions(by="joints_sealed")).head
    assert sealed.verdict == "lower"


def test_progress_is_told_to_the_end(photographed):
    _, told = photographed
    parts = [part for part, _ in told]

    assert parts == sorted(parts)
    assert parts[-1] == 1.0
    assert "Measuring photo 3 of 12" in {words for _, words in told}


def test_built_once(photographed):
    log, _ = photographed

    example.build_example(log)

    assert len(log_service.list_readings(log)) == 12


def test_begun_build_is_gone_on_with(tmp_path):
    log = log_service.open_log(tmp_path)

    def stop(_part, words):
        if words == "Measuring photo 2 of 12":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        example.build_example(log, progress=stop)
    assert not example.is_example(log)

    example.build_example(log, photos=False)

    assert example.is_example(log)
    assert len(log_service.list_castings(log)) == len(example.workshop.castings())
    assert len(list_all(log, Form)) == len(example.workshop.FORMS)


def test_refuses_a_log_in_use(tmp_path):
    log = log_service.open_log(tmp_path)
    add(log, Form(name="My own trough"), save_token="own")

    with pytest.raises(InputError, match="holds other forms or pieces"):
        example.build_example(log)

    assert [form.name for form in log_service.forms(log)] == ["My own trough"]


def test_opens_beside_the_own_log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    own = log_service.open_log()
    monkeypatch.setattr(example, "_add_photo", lambda *_: None)

    log = example.open_example()

    assert log.file.parent == tmp_path / "example"
    assert not log_service.list_castings(own)
    assert example.is_example(log)
