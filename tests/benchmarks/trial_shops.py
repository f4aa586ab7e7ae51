"""Simulated workshops in which a firm wrong answer lies close at hand.

Each shop is a function of a random generator and the true ratio of `tape` to `none`;
it returns a table of pieces. They are written from how workshops work, without looking
at how the comparison is made.
"""

from __future__ import annotations

import numpy as np

from analysis.model.comparison import PieceTable

AREA_MM2 = 60_000.0
CENTRE = 0.5  # percent


def table_of(**columns):
    """Return a table of pieces; numbers are kept as numbers, too."""
    n = len(columns["pour"])
    columns = {"piece": np.arange(n)} | columns
    text = {name: np.asarray(cells).astype(str) for name, cells in columns.items()}
    number = {
        name: np.asarray(cells, dtype=float)
        for name, cells in columns.items()
        if name not in {"piece", "pour"} and np.asarray(cells).dtype.kind in "if"
    }
    return PieceTable(text=text, number=number, line=np.arange(n) + 2)


def days(pour):
    """Return a day per pour, one after the other."""
    start = np.datetime64("2026-01-05")
    return (start + np.asarray(pour)).astype(str)


def sealed(x):
    return np.where(np.asarray(x) > 0, "tape", "none")


def shares(log):
    return CENTRE * np.exp(log)


def crossed(pours, forms):
    """Return pour and form of each piece where each pour fills each form."""
    return np.repeat(np.arange(pours), forms), np.tile(np.arange(forms), pours)


def noise(random, pour, form, *, between=0.3, form_sd=0.35, within=0.35):
    log = random.normal(0, between, pour.max() + 1)[pour]
    log = log + random.normal(0, form_sd, form.max() + 1)[form]
    return log + random.normal(0, within, len(pour))


def few_forms(random, ratio, forms=(3, 3)):
    """Two or three forms of each level, each cast in every pour."""
    if forms == (3, 3):
        forms = tuple(random.integers(2, 4, 2))
    pour, form = crossed(int(random.integers(6, 11)), sum(forms))
    x = form < forms[0]
    log = noise(random, pour, form) + np.log(ratio) * x
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        void_area_percent=shares(log),
    )


def few_forms_alone(random, ratio):
    """Three forms of each level, each pour casts one of them."""
    pour = np.repeat(np.arange(24), 2)
    form = np.repeat(random.permutation(np.tile(np.arange(6), 4)), 2)
    x = form < 3
    log = noise(random, pour, form, between=0.2) + np.log(ratio) * x
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        void_area_percent=shares(log),
    )


def forms_and_pours(random, ratio):
    """Five forms and eight pours of each level: both differ, and they cross."""
    own = np.array([random.permutation(2) for _ in range(8)]).ravel()
    pour = np.repeat(np.arange(16), 5)
    form = np.concatenate([np.arange(5) + 5 * side for side in own])
    x = own[pour]
    log = noise(random, pour, form, form_sd=0.25) + np.log(ratio) * x
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        void_area_percent=shares(log),
    )


def many_forms(random, ratio):
    """Six forms against six, each holding one level."""
    return few_forms(random, ratio, (6, 6))


def swaps(random, ratio):
    """Six forms in every pour; half of them hold tape, with a swap or two."""
    pour, form = crossed(int(random.integers(7, 11)), 6)
    x = (form < 3).astype(float)
    for _ in range(int(random.integers(1, 3))):
        here = int(random.integers(0, pour.max() + 1))
        one, other = random.integers(0, 3), random.integers(3, 6)
        x[(pour == here) & (form == one)] = 0
        x[(pour == here) & (form == other)] = 1
    log = noise(random, pour, form, within=0.3) + np.log(ratio) * x
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        void_area_percent=shares(log),
    )


def learned(pour, gain=0.8, after=6.0):
    """Return what the hands have learned by each pour, log share."""
    return gain * np.exp(-np.asarray(pour) / after)


def before_after(random, ratio):
    """Tape was introduced one day; the hands learned all along."""
    pours = int(random.integers(12, 21))
    pour, form = crossed(pours, 3)
    x = pour >= pours // 2
    log = noise(random, pour, form) + learned(pour) + np.log(ratio) * x
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        void_area_percent=shares(log),
    )


def mostly_after(random, ratio):
    """As before, but a few pours of each level lie on the other side."""
    pours = int(random.integers(20, 29))
    own = np.arange(pours) >= pours // 2
    for side in (True, False):
        turned = random.choice(np.flatnonzero(own == side), 3, replace=False)
        own[turned] = ~own[turned]
    pour, form = crossed(pours, 3)
    x = own[pour]
    log = noise(random, pour, form) + learned(pour) + np.log(ratio) * x
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        void_area_percent=shares(log),
    )


def by_day(random, ratio):
    """Ten to fourteen days of three pours; the level was dealt to days."""
    n_days = 2 * int(random.integers(5, 8))
    pour, form = crossed(3 * n_days, 2)
    day = pour // 3
    own = random.permutation(np.arange(n_days) % 2)
    x = own[day]
    log = noise(random, pour, form, between=0.15) + np.log(ratio) * x
    log = log + random.normal(0, 0.35, n_days)[day]
    return table_of(
        pour=pour,
        cast_on=days(day),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        void_area_percent=shares(log),
    )


def along(random, ratio):
    """The release agent went along in four of five pours, and is what acts."""
    pours = int(random.integers(20, 29))
    own = random.permutation(np.arange(pours) % 2)
    other = np.where(random.random(pours) < 0.8, own, 1 - own)
    for side in (0, 1):  # both kinds of exceptions are there
        if (own[other == side] == side).all():
            other[np.flatnonzero(own == side)[0]] = 1 - side
    pour, form = crossed(pours, 3)
    x = own[pour]
    log = noise(random, pour, form) + np.log(ratio) * x - 0.8 * other[pour]
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        release_agent=np.where(other[pour] > 0, "wax", "oil"),
        void_area_percent=shares(log),
    )


def unequal_faces(random, ratio):
    """Tape on faces two to six times as large in most pours, with few voids."""
    pours = 2 * int(random.integers(7, 11))
    own = np.arange(pours) % 2
    pour = np.repeat(np.arange(pours), 4)
    x = own[pour]
    times = random.uniform(2, 6)
    large = np.where(random.random(pours) < 0.9, own, 1 - own)[pour]
    area = 20_000.0 * np.where(large > 0, times, 1.0)
    log = random.normal(0, 0.25, pours)[pour] + random.normal(0, 0.2, len(pour))
    voids = random.uniform(4, 12)  # on a small face
    rate = voids / 20_000.0 * area * np.exp(log + np.log(ratio) * x)
    count = random.poisson(rate)
    void_mm2 = np.array([_sizes(random, k).sum() for k in count])
    return table_of(
        pour=pour,
        cast_on=days(pour),
        joint_sealing=sealed(x),
        void_area_percent=100 * void_mm2 / area,
        face_area_mm2=area,
        void_count=count,
        smallest_counted_mm=np.full(len(pour), 1.0),
    )


def _sizes(random, count):
    """Return the areas of so many voids, mm2."""
    across = 1.0 + random.exponential(1.2, count)
    return np.pi / 4 * across**2


def unequal_spread(random, ratio):
    """Four pours with tape that differ much against twelve that do not."""
    own = np.repeat([1, 0], [4, 12])
    pour = np.repeat(np.arange(16), 3)
    x = own[pour]
    spread = np.where(own > 0, 0.45, 0.2)
    log = (spread * random.normal(0, 1, 16))[pour] + random.normal(0, 0.2, len(pour))
    when = random.permutation(16)[pour]
    return table_of(
        pour=pour,
        cast_on=days(when),
        joint_sealing=sealed(x),
        void_area_percent=shares(log + np.log(ratio) * x),
    )


def looking(random, ratio, *, pours=24):
    """A trial dealt by lot in twos, that can be looked at after each two."""
    own = np.concatenate([random.permutation(2) for _ in range(pours // 2)])
    pour = np.repeat(np.arange(pours), 3)
    x = own[pour]
    log = random.normal(0, 0.4, pours)[pour] + random.normal(0, 0.35, len(pour))
    return table_of(
        pour=pour,
        cast_on=days(pour),
        joint_sealing=sealed(x),
        trial=np.full(len(pour), "sealing"),
        trial_pours=np.full(len(pour), float(pours)),
        dealt=np.full(len(pour), "by_lot"),
        void_area_percent=shares(log + np.log(ratio) * x),
    )


def eight_factors(random, ratio):
    """Eight settings dealt to twenty to twenty-eight pours; only the first acts."""
    pours = 4 * int(random.integers(5, 8))
    pour = np.repeat(np.arange(pours), 3)
    columns = {
        f"setting_{k}": random.permutation(np.arange(pours) % 2)[pour] for k in range(8)
    }
    log = random.normal(0, 0.3, pours)[pour] + random.normal(0, 0.3, len(pour))
    log = log + np.log(ratio) * columns["setting_0"]
    words = {k: np.where(v > 0, "a", "b") for k, v in columns.items()}
    return table_of(
        pour=pour, cast_on=days(pour), void_area_percent=shares(log), **words
    )


def clean_faces(random, ratio, *, clean=None):
    """Both levels in each pour; 8 to 42 of 100 faces hold no void to count."""
    pours = int(random.integers(12, 17))
    pour = np.repeat(np.arange(pours), 4)
    x = np.concatenate([random.permutation([0, 0, 1, 1]) for _ in range(pours)])
    log = random.normal(0, 0.35, pours)[pour] + random.normal(0, 0.3, len(pour))
    clean = random.uniform(0.08, 0.42) if clean is None else clean
    voids = -np.log(clean) * 1.6
    area = random.uniform(40_000, 80_000, len(pour))
    rate = voids * area / 60_000 * np.exp(log + np.log(ratio) * x)
    count = random.poisson(rate)
    void_mm2 = np.array([_sizes(random, k).sum() for k in count])
    return table_of(
        pour=pour,
        cast_on=days(pour),
        joint_sealing=sealed(x),
        void_area_percent=100 * void_mm2 / area,
        face_area_mm2=area,
        void_count=count,
        smallest_counted_mm=np.full(len(pour), 1.0),
    )


def leaks(random, ratio):
    """Leaks were logged: none where sealed, slight where open."""
    pours = 2 * int(random.integers(6, 9))
    own = np.concatenate([random.permutation(2) for _ in range(pours // 2)])
    pour, form = crossed(pours, 3)
    x = own[pour]
    log = noise(random, pour, form) + np.log(ratio) * x
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        leak=np.where(x > 0, "none", "slight"),
        fins=np.where(x > 0, "none", "some"),
        void_area_percent=shares(log),
    )


def flat_light(random, ratio):
    """The light is called flat only where there are ten voids to tell it by."""
    made = leaks(random, ratio)
    share = made.number["void_area_percent"]
    count = np.rint(share / CENTRE * 14).astype(int)
    text = {k: v for k, v in made.text.items() if k not in {"leak", "fins"}}
    text["light"] = np.where(count >= 10, "flat_light", "plain")
    text["void_count"] = count.astype(str)
    number = dict(made.number) | {"void_count": count.astype(float)}
    return PieceTable(text=text, number=number, line=made.line)


def within_pours(random, ratio):
    """Both levels dealt by lot in each of six pours of four forms."""
    pour, form = crossed(6, 4)
    x = np.concatenate([random.permutation([0, 0, 1, 1]) for _ in range(6)])
    log = noise(random, pour, form, within=0.5, form_sd=0.0) + np.log(ratio) * x
    return table_of(
        pour=pour,
        cast_on=days(pour),
        form=np.char.add("F", form.astype(str)),
        joint_sealing=sealed(x),
        void_area_percent=shares(log),
    )


def joints(random, ratio, *, pieces=2):
    """Eight joints of each piece, half of them taped by lot; places differ."""
    piece = np.repeat(np.arange(pieces), 8)
    joint = np.tile(np.arange(8), pieces)
    first = random.permutation([1, 1, 1, 1, 0, 0, 0, 0])
    x = np.concatenate(
        [first]
        + [random.permutation([1, 1, 1, 1, 0, 0, 0, 0]) for _ in range(pieces - 1)]
    )
    log = random.normal(0, 0.25, 8)[joint] + random.normal(0, 0.3, pieces)[piece]
    log = log + random.normal(0, 0.4, len(x)) + np.log(ratio) * x
    return table_of(
        piece=piece,
        pour=piece,
        joint=np.char.add("J", joint.astype(str)),
        joint_sealing=sealed(x),
        joints_sealed=np.where(x > 0, "yes", "no"),
        joint_band_percent=shares(log),
        dealt=np.full(len(x), "by_lot"),
    )


def joints_of_one(random, ratio):
    """Eight joints of one piece."""
    return joints(random, ratio, pieces=1)


def followed(random, carried=0.5, pours=60):
    """Return shares of steady pours, of which half carries over to the next."""
    values = np.zeros(pours + 20)
    for at in range(1, pours + 20):
        values[at] = carried * values[at - 1] + random.normal()
    return 0.005 * np.exp(0.25 * values[20:])


def drifting_forms(random, drift=0.02, pours=24, forms=4):
    """Sound forms in a shop that drifts: each pour casts two of them."""
    uses = random.integers(0, 10, forms)
    rows = []
    for pour in range(pours):
        shift = drift * pour + random.normal(0, 0.15)
        for form in sorted(random.permutation(forms)[:2].tolist()):
            uses[form] += 1
            share = 0.5 * np.exp(shift + random.normal(0, 0.2))
            rows.append((pour, f"F{form}", int(uses[form]), float(share)))
    return rows


PLANNED_FORMS = tuple("ABCD")


class Yard:
    """A yard with four forms, whose pours go on."""

    def __init__(self, random, form_sd, within=0.4, between=0.35):
        self.random, self.within, self.between = random, within, between
        self.form = dict(zip(PLANNED_FORMS, random.normal(0, form_sd, 4), strict=True))
        self.pour = 0

    def cast(self, levels, ratio):
        """Return rows of one pour: a level for each form."""
        shift = self.random.normal(0, self.between)
        self.pour += 1
        return [
            {
                "piece": f"{self.pour}-{form}",
                "pour": f"P{self.pour:03d}",
                "cast_on": str(days([self.pour])[0]),
                "form": form,
                "form_type": "trough",
                "joint_sealing": level,
                "void_area_percent": CENTRE
                * np.exp(
                    shift
                    + self.form[form]
                    + self.random.normal(0, self.within)
                    + (np.log(ratio) if level == "tape" else 0.0)
                ),
            }
            for form, level in levels.items()
        ]

    def before(self, pours=12):
        """Return the pours of the log: each form by chance at either level."""
        rows = []
        for _ in range(pours):
            levels = dict(
                zip(
                    PLANNED_FORMS,
                    self.random.permutation(["tape"] * 2 + ["none"] * 2),
                    strict=True,
                )
            )
            rows += self.cast(levels, 0.6)
        return rows
