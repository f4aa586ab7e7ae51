"""How the charts do on shops whose truth is known.

Run from the top folder:

    python tests/benchmarks/track_study.py            the tables
    python tests/benchmarks/track_study.py --quick    the same, fewer shops
    python tests/benchmarks/track_study.py --write    false_alarms.toml anew
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np

TOP = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(TOP))

from analysis.model.outlook import TargetBand  # noqa: E402
from analysis.monitoring.baseline import first_stable, frozen  # noqa: E402
from analysis.monitoring.charts import track  # noqa: E402
from analysis.monitoring.differences import differences  # noqa: E402
from analysis.monitoring.made_pieces import pieces  # noqa: E402
from analysis.monitoring.rules import (  # noqa: E402
    ALL_RULES,
    BEYOND,
    DEFAULT_RULES,
    EIGHT_ON_ONE_SIDE,
    FOUR_OF_FIVE,
    SMOOTHED,
    TWO_OF_THREE,
    broken,
)
from analysis.monitoring.target import chance_now, chance_of_target  # noqa: E402
from analysis.monitoring.wear import form_wear  # noqa: E402
from analysis.services.batches import batches  # noqa: E402
from analysis.services.forms import wear as wear_of_forms  # noqa: E402

SHOP_POURS = 60
BINS = ((8, 10, 9), (11, 13, 12), (14, 16, 15), (17, 19, 18), (20, 20, 20))
FROZEN = (30, 50, 100)
KNOWN = 1_000_000
TARGET = TargetBand(low=0.0, high=0.006)
RULE_SETS = (
    DEFAULT_RULES,
    (BEYOND,),
    (BEYOND, EIGHT_ON_ONE_SIDE),
    (BEYOND, SMOOTHED),
    (BEYOND, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_ON_ONE_SIDE),
    ALL_RULES,
)


def say(*words):
    """Write a line of the table."""
    sys.stdout.write(" ".join(words) + "\n")


def rates_after_baseline(rules, shops, rng):
    """Share of steady pours marked, by the length of the baseline."""
    one = np.ones(SHOP_POURS, dtype=int)
    found = {middle: [] for _, _, middle in BINS}
    for _ in range(shops):
        shop = rng.normal(size=SHOP_POURS)
        base = first_stable(shop, one, 0.0, rules)
        m = len(base.pours)
        standard = (shop - base.limits.centre) / base.limits.sigma
        marked = broken(standard, rules, centre_from=m).any(axis=0)[m:].mean()
        middle = next(c for a, b, c in BINS if a <= m <= b)
        found[middle].append(marked)
    rates = {m: float(np.mean(x)) for m, x in found.items()}
    for m in FROZEN:
        marks = []
        for _ in range(shops // 10):
            shop = rng.normal(size=m + 40)
            base = frozen(shop, np.ones(m + 40, int), 0.0, rules, np.arange(m))
            standard = (shop - base.limits.centre) / base.limits.sigma
            marked = broken(standard, rules, centre_from=m).any(axis=0)
            marks.append(marked[m:].mean())
        rates[m] = float(np.mean(marks))
    long = rng.normal(size=shops * 100)
    rates[KNOWN] = float(broken(long, rules, centre_from=None).any(axis=0).mean())
    return rates


def write(shops):
    """Make false_alarms.toml anew."""
    rng = np.random.default_rng(20240501)
    lines = [
        "# Share of steady pours after the baseline marked by chance: normal log",
        f"# shares, {SHOP_POURS} pours per shop, baseline chosen as the program does",
        "# up to 20 pours (a short one means that something looked like a change) and",
        "# frozen above; 1000000 stands for limits known beforehand.",
        'command = "python tests/benchmarks/track_study.py --write"',
        f"shops = {shops}",
    ]
    for rules in RULE_SETS:
        rates = rates_after_baseline(rules, shops, rng)
        lengths = ", ".join(str(m) for m in rates)
        values = ", ".join(f"{rate:.4f}" for rate in rates.values())
        lines += ["", "[[table]]", "rules = ["]
        lines += [f'  "{rule.name}",' for rule in rules]
        lines += ["]", f"baseline_pours = [{lengths}]", f"rates = [{values}]"]
        say("\n".join(lines[-3:]))
    text = "\n".join(lines) + "\n"
    target = TOP / "analysis" / "series" / "false_alarms.toml"
    target.write_text(text, encoding="utf-8")


def mean_run_length(rules, shift, runs, rng, longest=6000):
    """Pours until the first mark, limits known; long runs are cut and counted."""
    length = min(longest, 60 + int(3000 / (1 + 20 * shift**2)))
    ends = []
    for _ in range(runs):
        total = 0
        while True:
            marks = broken(rng.normal(shift, 1.0, length), rules, centre_from=None).any(
                axis=0
            )
            if marks.any():
                ends.append(total + int(marks.argmax()) + 1)
                break
            total += length
    return float(np.mean(ends)), float(np.std(ends) / np.sqrt(runs))


def run_lengths(runs, rng):
    say("\nMean run length, limits known (standard error)")
    say("individuals, 3 sigma: closed form 370.4, 43.9, 6.3 at shifts 0, 1, 2")
    say("smoothed 0.2, 2.962: printed in Montgomery after Lucas and Saccucci, from")
    say("memory 500, 41.8 (0.5), 10.5 (1), 3.7 (2) with steady limits")
    say("four handbook rules: printed by Champ and Woodall 1987, from memory 91.75")
    for title, rules in (
        ("individuals", (BEYOND,)),
        ("smoothed", (SMOOTHED,)),
        ("default", DEFAULT_RULES),
        ("four handbook rules", RULE_SETS[4]),
    ):
        cells = []
        for shift in (0.0, 0.5, 1.0, 2.0):
            mean, error = mean_run_length(rules, shift, runs, rng)
            cells.append(f"{shift:g}: {mean:7.2f} ({error:.2f})")
        say(f"{title:20s}", "   ".join(cells))


def shop(rng, *, pours=40, per_pour=4, drift=0.0, step=0.0, at=24):
    """Void shares of a shop: lognormal between pours and between pieces."""
    pour = rng.normal(0.0, 0.25, pours)
    late = np.maximum(np.arange(pours) - at + 1, 0)
    pour = pour + drift * late + step * (late > 0)
    logs = np.log(0.004) + np.repeat(pour, per_pour)
    logs = logs + rng.normal(0.0, 0.3, pours * per_pour)
    names = [f"P{i:03d}" for i in range(pours) for _ in range(per_pour)]
    return np.exp(logs), names


def shops(count, rng):
    say(f"\n{count} shops, 40 pours of 4 pieces; change from pour 25 on")
    say("shop                     pours marked  stated  shops marked  found by +8")
    for title, change in (
        ("steady", {}),
        ("step of x1.5", {"step": np.log(1.5)}),
        ("step of x2", {"step": np.log(2.0)}),
        ("drift of 5 % a pour", {"drift": np.log(1.05)}),
        ("drift of 10 % a pour", {"drift": np.log(1.10)}),
    ):
        share, stated, any_mark, soon = [], [], 0, 0
        for _ in range(count):
            values, names = shop(rng, **change)
            result = track(pieces(values, pours=names))
            marks = result.points.signals.any(axis=0)
            after = int(np.flatnonzero(result.points.in_baseline).max()) + 1
            share.append(marks[after:].mean())
            stated.append(result.false_alarm_rate)
            any_mark += bool(marks.any())
            soon += bool(marks[24:32].any())
        say(
            f"{title:24s} {np.mean(share):10.3f}   {np.mean(stated):7.3f}"
            f"   {any_mark / count:8.3f}   {soon / count:10.3f}"
        )


def wear(count, rng):
    say(f"\n{count} forms of each kind, a casting per use, log spread 0.35")
    say("form                       castings   called worn   too early")
    for title, rise, knee in (
        ("steady", 0.0, 0),
        ("rise 2 % a use", 0.02, 0),
        ("rise 5 % a use", 0.05, 0),
        ("rise 10 % after half", 0.10, -1),
    ):
        for n in (6, 12, 25, 50):
            use = np.arange(1, n + 1)
            start = n // 2 if knee else 0
            called, early = 0, 0
            for _ in range(count):
                logs = np.log(0.004) + rise * np.maximum(use - start, 0)
                values = np.exp(logs + rng.normal(0.0, 0.35, n))
                table = pieces(values, form=["F1"] * n, form_use=use * 1.0)
                (result,) = form_wear(table)
                early += result.advice == "too_early"
                called += result.advice in {"re_seal", "refinish", "retire"}
            say(f"{title:26s} {n:6d} {called / count:12.3f} {early / count:12.3f}")


def chances(count, rng):
    say(f"\n{count} shops: 95 % interval of the chance of meeting the target")
    say("pours  pieces   truth   mean chance   mean width   holds the truth")
    from scipy.stats import norm  # noqa: PLC0415

    truth = norm.cdf((np.log(0.006) - np.log(0.004)) / np.hypot(0.25, 0.3))
    for pours in (4, 8, 20):
        for per_pour in (1, 4):
            holds, width, mean = 0, [], []
            for _ in range(count):
                values, names = shop(rng, pours=pours, per_pour=per_pour)
                found = chance_of_target(pieces(values, pours=names), TARGET)
                holds += found.low <= truth <= found.high
                width.append(found.high - found.low)
                mean.append(found.chance)
            say(
                f"{pours:5d} {per_pour:7d} {truth:8.3f} {np.mean(mean):11.3f}"
                f" {np.mean(width):12.3f} {holds / count:14.3f}"
            )


def page(n):
    """Time what the page of batches needs of n pieces already read."""
    rng = np.random.default_rng(6)
    table = pieces(
        np.exp(rng.normal(np.log(0.004), 0.3, n)),
        pours=[f"P{i // 5:05d}" for i in range(n)],
        form=[f"F{i % 20}" for i in range(n)],
        form_use=1.0 + np.arange(n) // 20,
        void_count=rng.poisson(40, n),
        face_area_mm2=np.full(n, 1e5),
        joint_sealing=np.full(n, "tape"),
    )
    say(f"\n{n} pieces in {n // 5} pours, already read: processor time")

    def timed(title, work, *given):
        start = time.process_time()
        result = work(*given)
        say(f"{title:32s} {time.process_time() - start:6.2f} s")
        return result

    found = timed("chart, answer, points to draw", batches, table)
    timed("chance of the target", chance_now, table, found.track, TARGET)
    timed("what differs", differences, table, found.track, "P00100")
    timed("wear of 20 forms", wear_of_forms, table)
    marked = int(found.track.points.signals.any(axis=0).sum())
    say(f"points drawn: {len(found.drawn)}, all {marked} signals among them")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    if given.write:
        write(20_000)
        return
    rng = np.random.default_rng(7)
    run_lengths(200 if given.quick else 2000, rng)
    shops(50 if given.quick else 200, rng)
    wear(20 if given.quick else 200, rng)
    chances(40 if given.quick else 400, rng)
    page(100_000)


if __name__ == "__main__":
    main()
