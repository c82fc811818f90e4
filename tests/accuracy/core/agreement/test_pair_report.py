import json
import re

import numpy as np
import pytest

from accuracy.core.agreement.agreement_charts import BIN_BPM, difference_plot, identity_density
from accuracy.core.agreement.pair_agreement import UNITS, agree
from accuracy.core.agreement.pair_report import CONDITION_UNITS, report_pair
from accuracy.core.agreement.pooled import pool
from accuracy.core.agreement.study_summary import MISSING, NOT_KNOWN, Protocol, number, study_summary
from accuracy.core.agreement.timing import lag
from accuracy.core.traces.artefacts import Reason, flag
from accuracy.core.traces.faults import departures, share_of_time_by_fault
from accuracy.core.traces.simulate_traces import simulate_pair
from trainlog.load.trimp import MEN

BODY = {"resting": 50.0, "maximum": 190.0, "weighting": MEN}


@pytest.fixture(scope="module")
def pair():
    made = simulate_pair(np.random.default_rng(1), seconds=1800, work="intervals")
    tested = made.tested.copy()
    tested[600:700] = np.nan
    return made.reference, tested


@pytest.fixture(scope="module")
def report(pair):
    flags = [flag(trace, principle=p) for trace, p in zip(pair, ("electrical", "optical"), strict=True)]
    return report_pair(*pair, **BODY, reference_flags=flags[0], tested_flags=flags[1])


def test_a_report_holds_the_figures_of_every_epoch_length(pair, report):
    assert list(report.by_epoch) == [1, 5, 30, 60]
    assert report.by_epoch[30] == agree(*pair, epoch_seconds=30)
    assert all(figures.epoch_seconds == seconds for seconds, figures in report.by_epoch.items())


def test_a_report_is_json_with_a_unit_for_every_figure(report):
    body = json.loads(json.dumps(report.as_dict(), allow_nan=False))
    assert set(body["by_epoch_seconds"]["1"]) == set(UNITS)
    assert set(body["by_intensity"][0]) == set(CONDITION_UNITS)


def test_bands_share_out_all_common_seconds(report):
    assert sum(row.seconds for row in report.by_intensity) == report.by_epoch[1].common_seconds == 1700


def test_a_short_pair_has_no_long_epochs(pair):
    short = report_pair(pair[0][:40], pair[1][:40], **BODY)
    assert list(short.by_epoch) == [1, 5]


def test_time_in_each_fault_is_a_share(pair):
    shares = share_of_time_by_fault(flag(pair[1], principle="optical"))
    assert shares["drop_out"] == pytest.approx(100 / 1800)
    assert set(shares) == {reason.name.lower() for reason in Reason}


def test_a_minute_far_off_is_a_departure_and_a_moment_is_not(pair):
    reference = pair[0]
    tested = reference.copy()
    tested[300:400] += 40
    tested[900:930] += 40
    (found,) = departures(reference, tested)
    assert (found.start, found.end) == (300, 400)
    assert found.mean_difference == pytest.approx(40)


def test_the_lag_of_a_sensor_on_one_clock_is_found():
    made = simulate_pair(np.random.default_rng(3), seconds=1800, work="intervals")
    assert lag(made.reference, np.roll(made.tested, 6)).seconds == pytest.approx(6, abs=1)


def test_units_speak_of_what_the_figures_are():
    assert UNITS["bias"] == UNITS["upper_limit_high"] == UNITS["deming_intercept"] == "bpm"
    assert UNITS["mean_absolute_percentage_error"] == "%"
    assert UNITS["share_within_either"] == "share, 0 to 1"
    assert UNITS["lock_on_seconds"] == "s"
    assert UNITS["peaks_missed"] == "count"
    assert UNITS["icc_2_1"] == UNITS["concordance_low"] == "no unit"
    assert UNITS["deming_slope_low"] == "bpm per bpm"


def test_every_common_second_is_counted_once_in_the_density(pair):
    density = identity_density([pair, pair])
    assert density.counts.sum() == 2 * 1700
    assert sum(density.as_dict()["epochs"]) == 2 * 1700


def test_the_density_counts_rates_in_their_cell_and_extremes_in_the_last():
    density = identity_density([(np.array([100.0, 101.9, 300.0]), np.array([120.0, 121.9, 10.0]))])
    at = {
        (round(float(density.edges[i])), round(float(density.edges[j]))): density.counts[i, j]
        for i, j in np.argwhere(density.counts)
    }
    assert at == {(100, 120): 2, (230 - BIN_BPM, 30): 1}


def test_a_difference_plot_is_thinned_evenly_and_alike_every_time(pair):
    plot = difference_plot([pair, pair], epoch_seconds=1, most=500)
    assert plot.of_epochs == 3400
    assert 400 < len(plot.mean) <= 500
    assert set(plot.session) == {0, 1}
    again = difference_plot([pair, pair], epoch_seconds=1, most=500)
    assert np.array_equal(plot.difference, again.difference)


def test_a_difference_plot_of_no_pair_has_no_point():
    assert len(difference_plot([]).mean) == 0


def items(table, item):
    return [row for row in table if row.item == item]


def test_a_study_summary_gives_the_figures_and_says_what_is_missing(pair):
    pooled = pool([pair] * 3)
    table = study_summary({"intervals": pooled}, Protocol(reference="electrical chest sensor"))
    assert items(table, "criterion sensor")[0].value == "electrical chest sensor"
    assert items(table, "skin tone (Fitzpatrick)")[0].value == NOT_KNOWN
    assert all(not row.given and MISSING in row.value for row in table if row.item.startswith("laboratory"))
    assert not any(row.given for row in items(table, "participants"))
    assert items(table, "mean difference")[0].value.startswith(
        f"{number(pooled.figures['bias'].value, 2)} bpm"
    )
    assert items(table, "paired values")[0].activity == "intervals"
    assert json.dumps([row.as_dict() for row in table], allow_nan=False)


def test_a_study_summary_of_one_session_says_that_intervals_are_not_known(pair):
    table = study_summary({"intervals": pool([pair])})
    assert NOT_KNOWN in items(table, "mean difference")[0].value
    assert not items(table, "standard error of the mean difference, over sessions")[0].given


@pytest.mark.parametrize(("error", "verdict"), [(0.05, "under 10%"), (0.2, "not under 10%")])
def test_a_study_summary_holds_the_percentage_error_against_ten(error, verdict):
    reference = 120 + 20 * np.sin(np.arange(600) / 30)
    table = study_summary({"run": pool([(reference, reference * (1 - error))])})
    (row,) = items(table, "mean absolute percentage error under 10%")
    assert row.value.endswith(f": {verdict}")


@pytest.mark.parametrize(
    ("value", "shown"), [(-3.16, "−3.2"), (2.0, "2.0"), (-0.04, "0.0"), (float("nan"), NOT_KNOWN)]
)
def test_numbers_of_a_study_summary_have_a_true_minus_and_none_before_a_zero(value, shown):
    assert number(value, 1) == shown


def test_no_value_of_a_study_summary_holds_an_ascii_minus_before_a_digit():
    reference = 120 + 20 * np.sin(np.arange(600) / 30)
    pairs = [(reference, reference - 5 + 3 * np.sin(np.arange(600) / 7 + k)) for k in range(3)]
    table = study_summary({"run": pool(pairs)})
    assert items(table, "mean difference")[0].value.startswith("−4.99 bpm")
    assert not any(re.search(r"(?<![\w.])-\d", row.value) for row in table)
