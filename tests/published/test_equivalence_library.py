"""Two one-sided tests against statsmodels, on samples; and logged runs whose load changed."""

import warnings

import numpy as np
import pandas as pd
import pytest
from heater_runs import DATA, readings_of

from hotspot.reason.before_after import compare
from hotspot.reason.equivalence import interval, verdict

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from statsmodels.stats.weightstats import ztost


@pytest.mark.published
def test_same_is_what_the_library_calls_equivalent():
    """statsmodels.stats.weightstats.ztost (two one-sided z tests, unequal sizes), on 200 pairs of samples; ours asks
    for 2.5 % on each side."""
    rng = np.random.default_rng(11)
    seen = {True: 0, False: 0}
    for _ in range(200):
        sizes = rng.integers(15, 60, 2)
        shift, scatter = rng.uniform(-4.5, 4.5), rng.uniform(1.0, 6.0)
        before, after = rng.normal(40.0, scatter, sizes[0]), rng.normal(40.0 + shift, scatter, sizes[1])
        p = float(ztost(after, -3.0, 3.0, before, usevar="pooled")[0])
        pooled = ((sizes[0] - 1) * before.var(ddof=1) + (sizes[1] - 1) * after.var(ddof=1)) / (sizes.sum() - 2)
        u = np.sqrt(pooled * (1.0 / sizes).sum())
        low, high = interval(float(after.mean() - before.mean()), float(u))
        assert (verdict(low, high, 3.0) == "same") == (p <= 0.025)
        seen[p <= 0.025] += 1
    assert min(seen.values()) > 20


@pytest.mark.published
def test_runs_of_other_drives_credit_nobody():
    """Two logged records of heaters driven differently (tests/data/tclab_load_changes): their rises differ, but by the
    drives, and no current is known, so that no answer may call it fixed, better or worse."""
    from compare_made import results_of

    found = []
    for name in ("energy_balance_data", "second_order_mimo_data"):
        table = pd.read_csv(DATA / "tclab_load_changes" / f"{name}.txt", skipinitialspace=True)
        time_s, _, _, first, second = (table.iloc[:, column].to_numpy(float) for column in range(5))
        readings = readings_of(time_s, {"1": first, "2": second}, 20.5, uncertainty=0.3)
        found.append(results_of(readings, digest=name, ambient=20.5, camera={"name": "logger"}))
    for comparison in (compare(*found), compare(*found[::-1])):
        assert comparison.answer in ("cannot tell", "no change")
        assert set(comparison.table["repaired"]) == {""}
        assert any(said.code == "basis_load_unknown" for said in comparison.basis)
