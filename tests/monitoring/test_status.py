"""Is it drifting? Checked on shops whose truth is known."""

import re

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.model.monitoring import Change, ChartStatus, TrackOptions
from analysis.monitoring.charts import track
from analysis.monitoring.made_pieces import pieces
from analysis.monitoring.status import chart_status, track_sentence, track_summary

STEADY = [0.010, 0.012, 0.011, 0.009] * 5


def of(shares, **options):
    return track(pieces(shares), TrackOptions(**options))


def test_unknown_state_is_refused():
    with pytest.raises(InputError, match="State of the chart"):
        ChartStatus(state="fine", n_pours=3)


def test_steady_shop_is_steady():
    assert chart_status(of(STEADY)).state == "steady"
    assert track_sentence(of(STEADY)) == "No drift: none of 20 pours stands out."


@pytest.mark.parametrize("after", [[], [0.0105], [0.0105, 0.0095]])
def test_one_wild_pour_is_no_drift(after):
    found = chart_status(of([*STEADY, 0.06, *after]))

    assert (found.state, found.at, found.more_voids) == ("one_pour", 20, True)
    assert found.times == pytest.approx(0.06 / 0.0104, rel=0.03)


def test_a_lasting_rise_is_a_drift():
    found = chart_status(of([*STEADY, 0.016, 0.017, 0.016, 0.018]))

    assert (found.state, found.more_voids) == ("drifting", True)
    said = track_sentence(of([*STEADY, 0.016, 0.017, 0.016, 0.018]))
    assert said.startswith("Drifting to more voids: at pour P0024, ")
    assert re.search(r"P0024, [3-6]\d % more void area than usual, from 24 pours", said)
    assert said.endswith(": clear.")


def test_two_wild_pours_together_are_a_drift():
    assert chart_status(of([*STEADY, 0.06, 0.05])).state == "drifting"


def test_without_the_rule_on_limits_every_signal_is_a_drift():
    rules = ("smoothed mean beyond its limits",)

    assert chart_status(of([*STEADY, 0.06], rules=rules)).state == "drifting"


def test_a_short_baseline_tempers_the_answer():
    said = track_sentence(of([*STEADY[:8], 0.030, 0.032, 0.031, 0.033]))

    assert said.startswith("Drifting to more voids")
    assert said.endswith(": perhaps by chance, with only 8 pours to go by.")


def test_a_lasting_fall_is_told_as_fewer():
    found = chart_status(of([*STEADY, 0.006, 0.005, 0.006, 0.005]))

    assert (found.state, found.more_voids) == ("drifting", False)
    assert found.times < 1
    assert " % less void area than usual" in track_sentence(
        of([*STEADY, 0.007, 0.0065, 0.007, 0.0065])
    )


def test_an_old_signal_is_over():
    result = of([*STEADY, 0.06, *STEADY])

    assert chart_status(result).state == "over"
    said = track_sentence(result)
    assert said.startswith("Steady now; pour P0021 was the last to stand out, with ")
    assert said.endswith(" times the usual void area.")


def test_few_pours_are_too_early():
    assert (
        track_sentence(of([0.01])) == "Too early to tell: 1 pour so far, 8 are needed."
    )


def test_pours_all_alike_have_no_limits():
    assert "all the same" in track_sentence(of([0.01] * 9))


def test_after_a_change_it_is_too_early_again():
    day = np.datetime64("2024-01-01") + 7 * 20
    change = Change(from_day=day.astype(object), what="new mix")

    said = track_sentence(of([*STEADY, 0.03, 0.031], changes=(change,)))

    assert said == "Too early to tell: 2 pours since the change, 8 are needed."


def test_summary_names_the_newest_pour_and_the_signals():
    lines = track_summary(of([*STEADY, 0.06])).splitlines()

    assert lines[0] == (
        "Pour P0021 stands out: about 5.7 times the usual void area, from 21 pours: "
        "clear."
    )
    assert lines[1].startswith("Newest: pour P0021, 6.00 % void area, usual 1.0")
    assert lines[2] == "Pours that stand out: 1, the latest P0021."
