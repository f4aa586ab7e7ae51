"""Can the answers be believed: workshops in which a wrong one lies close at hand.

    python tests/benchmarks/trial_study.py [--shops N] [--only WORD ...] [--out FILE]

`--shops 60` is the short form for development; the table is made with 400. Each shop
is drawn without an effect (share of firm verdicts) and with a true ratio of 0.5 (share
of right ones, and the geometric mean of the told ratios over the true one).

For speed random arrangements are 1,999 in place of 9,999, and the sentence about the
pours still needed, which no verdict rests on, is left out.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
import trial_shops as shops
import vibration_shops

from analysis.compare import compare as compare_module
from analysis.compare import permutation
from analysis.compare.compare import compare, compare_factors
from analysis.compare.within_piece import compare_joints
from analysis.model.comparison import CompareOptions
from analysis.model.plan import OwnedForm, PlanQuestion
from analysis.monitoring.charts import track
from analysis.monitoring.made_pieces import pieces as followed_pieces
from analysis.monitoring.wear import form_wear
from analysis.pieces.table import piece_table
from analysis.planning.pour_plan import plan
from analysis.vibration.dose_answer import vibration

DECISIONS = ("more", "same", "less", "other_cause_first", "not_enough_evidence")
MARKED_MOST = 0.06
permutation.DRAWS = 1_999
compare_module.needed_for = lambda *_: (0, 0, "")
TAPE = CompareOptions(by="joint_sealing", levels=("tape", "none"))
FIRM = {"lower", "higher"}


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A shop, how it is asked, and what is wanted of the answer."""

    draw: object
    ask: object = None
    ratio: float = 0.5
    false_most: float | None = 0.07
    power_least: float | None = 0.6
    bias_most: float | None = None
    fewer: int = 1  # times fewer shops where one takes long
    right: str = "lower"  # the right verdict where there is an effect


def plainly(table):
    head = compare(table, TAPE).head
    return head.verdict, head.ratio


def after_each_two(table):
    """Look after every two pours, and stop at the first firm verdict."""
    pour = table.text["pour"].astype(int)
    for cast in range(8, int(pour.max()) + 2, 2):
        verdict, ratio = plainly(table.taken(pour < cast))
        if verdict in FIRM:
            break
    return verdict, ratio


def by_joints(table):
    """Ask about the joints of one or two pieces."""
    head = compare_joints(table, TAPE).head
    return head.verdict, head.ratio


def each_of_eight(table):
    """Ask about all settings at once; a firm word about a wrong one is false."""
    names = tuple(f"setting_{k}" for k in range(8))
    found = compare_factors(table, names, CompareOptions(by=names[0]))
    heads = [found[name].head for name in names]
    others = [one.verdict for one in heads[1:] if one.verdict in FIRM]
    return (heads[0].verdict if not others else "higher"), heads[0].ratio


COMPARED = {
    "few forms that each hold one level": Asked(draw=shops.few_forms, power_least=None),
    "few forms, one a pour": Asked(draw=shops.few_forms_alone, power_least=None),
    "five forms and eight pours of each": Asked(draw=shops.forms_and_pours),
    "six forms against six": Asked(draw=shops.many_forms),
    "all forms in every pour, a swap or two": Asked(draw=shops.swaps),
    "before and after, with learning": Asked(
        draw=shops.before_after, right="cannot_separate", power_least=0.95
    ),
    "mostly after, with learning": Asked(draw=shops.mostly_after),
    "level dealt by day": Asked(draw=shops.by_day),
    "another setting along in most pours": Asked(draw=shops.along),
    "faces 2 to 6 times unequal, few voids": Asked(
        draw=shops.unequal_faces, bias_most=0.05
    ),
    "4 against 12 pours, unequal spread": Asked(draw=shops.unequal_spread),
    "looking again after each two pours": Asked(
        draw=shops.looking, fewer=2, ask=after_each_two
    ),
    "eight settings asked about at once": Asked(
        draw=shops.eight_factors, ask=each_of_eight, ratio=0.4, fewer=4
    ),
    "eight joints on two pieces, five-fold": Asked(
        draw=shops.joints, ask=by_joints, ratio=0.2, power_least=0.9
    ),
    "eight joints on one piece, five-fold": Asked(
        draw=shops.joints_of_one, ask=by_joints, ratio=0.2
    ),
    "clean faces 8 to 42 %": Asked(draw=shops.clean_faces, bias_most=0.05),
    "leaks logged": Asked(draw=shops.leaks),
    "flat light told from voids": Asked(draw=shops.flat_light, ratio=0.2),
    "within pours, by lot": Asked(draw=shops.within_pours, power_least=0.65),
}


def studied(asked, count, seed):
    """Return false firm verdicts, right ones, and the told over the true ratio."""
    ask = asked.ask or plainly
    random = np.random.default_rng(seed)
    false = sum(ask(asked.draw(random, 1.0))[0] in FIRM for _ in range(count))
    told, right, wrong = [], 0, 0
    for _ in range(count):
        verdict, ratio = ask(asked.draw(random, asked.ratio))
        right += verdict == asked.right
        wrong += verdict == "higher"
        if ratio:
            told.append(np.log(ratio / asked.ratio))
    bias = float(np.exp(np.mean(told))) if told else float("nan")
    return false / count, right / count, wrong / count, bias


def followed(count, seed):
    """Return the share of pours marked, and of charts that warn."""
    random = np.random.default_rng(seed)
    marked, told = [], []
    for _ in range(count):
        chart = track(followed_pieces(shops.followed(random)))
        marked.append(chart.points.signals.any(axis=0).mean())
        told.append(any(n.code == "neighbours_alike" for n in chart.notes))
    marked, told = np.array(marked), np.array(told)
    met = (told | (marked <= MARKED_MOST)).mean()
    return (
        f"| pours that carry over by half | {count} | {marked.mean():.3f} of pours "
        f"marked, {told.mean():.3f} of charts warn | at most 0.06 marked or a warning: "
        f"{met:.3f} of charts, 0.90 wanted | {'met' if met >= 0.9 else 'NOT met'} |"
    )


def worn(count, seed):
    """Return how often a sound form is told to be refinished in a drifting shop."""
    random = np.random.default_rng(seed)
    told = forms = 0
    for _ in range(count):
        rows = shops.drifting_forms(random)
        pour, form, use, share = zip(*rows, strict=True)
        table = followed_pieces(
            np.array(share) / 100,
            pours=[f"P{n:03d}" for n in pour],
            form=list(form),
            form_use=[float(n) for n in use],
        )
        for one in form_wear(table):
            told += one.advice in {"refinish", "retire"}
            forms += 1
    rate = told / forms
    return (
        f"| sound forms in a shop that drifts 2 % a pour | {count} | {rate:.3f} of "
        f"{forms} forms told to be refinished | at most 0.03 | "
        f"{'met' if rate <= 0.03 else 'NOT met'} |"
    )


def shaken(kind, count, seed, words, wanted):
    """Return what vibration says of a kind of shop."""
    said = []
    for n in range(count):
        made = vibration_shops.shop(kind, np.random.default_rng([seed, n]))
        answer = vibration(piece_table(made.rows), made.question)
        said.append((answer.decision, answer.decision in made.right))
    share = {word: np.mean([one[0] == word for one in said]) for word in DECISIONS}
    right = float(np.mean([one[1] for one in said]))
    told = ", ".join(f"{k} {v:.3f}" for k, v in share.items() if v)
    met = wanted(share, right)
    return f"| {kind} | {count} | {told} | {words} | {'met' if met else 'NOT met'} |"


def planned(form_sd, count, seed):
    """Return how often a plan for 0.80 finds what it was made for."""
    random = np.random.default_rng(seed)
    forms = [OwnedForm(name=name, form_type="trough") for name in shops.PLANNED_FORMS]
    found, promised, pours = [], [], []
    for n in range(count):
        yard = shops.Yard(random, form_sd)
        log = piece_table(yard.before())
        asked = PlanQuestion(
            by="joint_sealing", levels=("tape", "none"), ratio=0.6, seed=n
        )
        made = plan(log, asked, forms)
        rows = []
        for pour in range(1, made.pours + 1):
            dealt = {o.form: o.level for o in made.assignments if o.pour == pour}
            rows += yard.cast(dealt, 0.6)
        for row in rows:
            row |= {"trial": "seal", "trial_pours": made.pours, "dealt": "by_lot"}
        verdict, _ = plainly(piece_table(rows))
        found.append(verdict == "lower")
        promised.append(made.chance)
        pours.append(made.pours)
    kept = float(np.mean(found))
    kind = "alike" if form_sd == 0 else f"unlike (log spread {form_sd:g})"
    return (
        f"| plan for 0.80, forms {kind} | {count} | promised "
        f"{np.mean(promised):.2f}, kept {kept:.3f}, {np.mean(pours):.1f} pours | "
        f"0.75 to 0.90 | {'met' if 0.75 <= kept <= 0.9 else 'NOT met'} |"
    )


OTHERS = {
    "carry over": followed,
    "sound forms": lambda count, seed: worn(max(count // 4, 10), seed),
    "looks": lambda count, seed: shaken(
        "bad_looks_shaken_longer",
        count,
        seed,
        "firm 'less' at most 0.03",
        lambda share, _: share["less"] <= 0.03,
    ),
    "varied within pours": lambda count, seed: shaken(
        "varied_within_pours",
        count,
        seed,
        "right at least 0.80, not enough evidence at most 0.20",
        lambda share, right: right >= 0.8 and share["not_enough_evidence"] <= 0.2,
    ),
    "plan alike": lambda count, seed: planned(0.0, count, seed),
    "plan unlike": lambda count, seed: planned(0.5, count, seed),
}


def line(name, asked, count, seed):
    start = time.perf_counter()
    count = max(count // asked.fewer, 10)
    false, right, wrong, bias = studied(asked, count, seed)
    spent = (time.perf_counter() - start) / count / 2 * 1e3
    met = [
        wanted is None or holds
        for wanted, holds in (
            (asked.false_most, false <= (asked.false_most or 0)),
            (asked.power_least, right >= (asked.power_least or 0)),
            (asked.bias_most, abs(bias - 1) <= (asked.bias_most or 0)),
        )
    ]
    wanted = [
        "-" if one is None else f"{one:.2f}"
        for one in (asked.false_most, asked.power_least, asked.bias_most)
    ]
    return (
        f"| {name} | {count} | {false:.3f} | {wanted[0]} | {right:.3f} | {wanted[1]} | "
        f"{wrong:.3f} | {bias:.2f} | {wanted[2]} | {spent:.0f} | "
        f"{'met' if all(met) else 'NOT met'} |"
    )


HEAD = (
    "| shop | shops | firm without an effect | at most | right at the true ratio | "
    "at least | wrong side | told / true ratio | within | ms a shop | target |"
)


def say(words):
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


def main(argv):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--shops", type=int, default=400)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--seed", type=int, default=90_000)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args(argv)
    lines = [HEAD, "|" + " --- |" * 11]
    say("\n".join(lines))
    for n, (name, asked) in enumerate(COMPARED.items()):
        if given.only and not any(word in name for word in given.only):
            continue
        done = line(name, asked, given.shops, given.seed + n)
        say(done)
        lines.append(done)
    start = ["", "| shop | shops | told | wanted | target |", "|" + " --- |" * 5]
    say("\n".join(start))
    lines += start
    for n, (name, study) in enumerate(OTHERS.items()):
        if given.only and not any(word in name for word in given.only):
            continue
        done = study(given.shops, given.seed + 100 + n)
        say(done)
        lines.append(done)
    if given.out:
        given.out.write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
