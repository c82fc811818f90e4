"""Error profiles: the log ratio of reference to instrument load, learned by partial pooling.

The expected log ratio of a cell (instrument, firmware, family, activity) is the prior's centre for the
family plus effects that are drawn toward zero: of the family, the instrument, the instrument in the family,
the instrument in the activity, and the firmware in the family. A form of the model may add slopes on what
the session itself tells, for all together and for the instrument in the family, or leave the cell out.
Sessions scatter about it with a Student-t spread whose scale is the family's.

References
----------
Gelman A et al. (2013). Bayesian Data Analysis, 3rd edition, chapters 5, 13.3 and 17.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from scipy import special

from accuracy.core.learning.feature_range import FeatureRange, Path, range_along, ranges_of
from accuracy.core.learning.pooled_regression import (
    DEGREES_OF_FREEDOM,
    OWN_NOISE,
    SHARED_NOISE,
    Fitted,
    Level,
    Problem,
    fit,
)
from accuracy.core.learning.priors import FAMILIES, Prior
from trainlog.load.draws import (
    DRAWS,
    REMEMBERED,
    athlete_seed,
    session_seed,
    standard_normals,
    stratified_uniforms,
)
from trainlog.trace import FloatArray

SLOPE_SCALE, SLOPE_DOUBT = 0.3, 0.7
"""Prior standard deviation of a slope, in units of the noise between sessions for a usual departure of the
feature, and of the log factor on it (common practice, no source)."""


@dataclass(frozen=True)
class Form:
    """What the expected log ratio may depend on.

    Attributes
    ----------
    name : str
    cells : bool
        Whether it depends on the cell; else it is zero but for slopes.
    features : tuple of int
        Places of the features that it has slopes on.
    """

    name: str
    cells: bool = True
    features: tuple[int, ...] = ()


CONSTANT = Form("constant")


@dataclass(frozen=True)
class Cell:
    """Where an error is the same but for chance: one instrument, firmware and activity."""

    instrument: str
    firmware: str
    family: str
    activity: str

    @property
    def effects(self) -> tuple[str, ...]:
        """Names of the effects that add up to the cell's log ratio, in the order of the levels."""
        return (
            f"family/{self.family}",
            f"instrument/{self.instrument}",
            f"instrument/{self.instrument}/family/{self.family}",
            f"instrument/{self.instrument}/activity/{self.activity}",
            f"instrument/{self.instrument}/firmware/{self.firmware}/family/{self.family}",
        )

    @property
    def slopes(self) -> tuple[str, str]:
        """Names of the groups whose slopes add up: all together, and the instrument in the family."""
        return "slope", f"slope/{self.group}"

    @property
    def group(self) -> str:
        """Name of the instrument in the family."""
        return f"{self.instrument}/family/{self.family}"

    @property
    def path(self) -> Path:
        """Groups that share a range of features, from the widest to the narrowest."""
        return f"family/{self.family}", self.group, f"{self.instrument}/activity/{self.activity}"


def _no_features() -> FloatArray:
    return np.zeros(0)


@dataclass(frozen=True)
class PairedLoads:
    """One pair's evidence.

    Attributes
    ----------
    cell : Cell
    log_ratio : float
        Log of the reference's load over the instrument's, over the same seconds.
    content : str
        Content hash of the session; seeds what is peculiar to it.
    features : array, shape (features,)
        In the order of ``features.FEATURES``, NaN where unknown; empty for an instrument without.
    """

    cell: Cell
    log_ratio: float
    content: str
    features: FloatArray = field(default_factory=_no_features, compare=False)


@dataclass(frozen=True, eq=False)
class Posterior:
    """What was learned about all instruments of one kind under one form.

    Attributes
    ----------
    prior : Prior
    form : Form
    seed : int
        The athlete's seed.
    kind : str
        Kind of instrument; keeps the draws of kinds apart.
    level_scales : array, shape (DRAWS, levels)
        Draws of the scale of each level of ``levels_of``.
    shared_noise : array, shape (DRAWS,)
        Draws of the scale that slopes for all together are measured by.
    residual : mapping of family to array, shape (DRAWS,)
        Draws of the Student-t scale between sessions.
    effects : mapping of name to array, shape (DRAWS,)
        Draws of the effects and slopes that some pair tells about.
    counts : mapping of cell to int
        Number of pairs.
    ranges : mapping of group to FeatureRange
    """

    prior: Prior
    form: Form
    seed: int
    kind: str
    level_scales: FloatArray
    shared_noise: FloatArray
    residual: dict[str, FloatArray]
    effects: dict[str, FloatArray]
    counts: dict[Cell, int]
    ranges: dict[str, FeatureRange]

    def expected(self, cell: Cell, features: FloatArray | None = None) -> FloatArray:
        """Draws of the expected log ratio of a session of a cell, seen or not, shape (DRAWS,).

        Parameters
        ----------
        cell : Cell
        features : array, shape (features,), optional
            Of the session; without them an average session of the cell.
        """
        result = np.zeros(DRAWS)
        scales = list(self.level_scales.T)
        if self.form.cells:
            result += self.prior.centre[cell.family]
            for name in cell.effects:
                result += self._effect(name, scales.pop(0))
        within = range_along(cell.path, self.ranges)
        if features is None or within is None or not self.form.features:
            return result
        apart = within.departures(features)
        for group, multiple in zip(cell.slopes, (self.shared_noise, self.residual[cell.family]), strict=True):
            scale = scales.pop(0) * multiple
            for place in self.form.features:
                if apart[place]:
                    result += apart[place] * self._effect(f"{group}/{place}", scale)
        return result

    def further_session(self, cell: Cell, content: str, features: FloatArray | None = None) -> FloatArray:
        """Draws of the log ratio of one further session of a cell, shape (DRAWS,).

        Parameters
        ----------
        cell : Cell
        content : str
            Content hash of the session: its own chance is the same in every fit.
        features : array, shape (features,), optional
        """
        chance = chance_of_session(session_seed(content, self.kind))
        return self.expected(cell, features) + self.residual[cell.family] * chance

    def pairs_of(self, cell: Cell, *, level: str = "activity") -> int:
        """Pairs of a cell's instrument in its ``"activity"`` or ``"family"``, whatever the firmware."""
        return sum(
            count
            for other, count in self.counts.items()
            if other.instrument == cell.instrument and getattr(other, level) == getattr(cell, level)
        )

    def _effect(self, name: str, scale: FloatArray) -> FloatArray:
        """Draws of an effect: learned, or from its scale where no pair tells about it."""
        known = self.effects.get(name)
        if known is not None:
            return known
        return scale * standard_normals(athlete_seed(self.seed, f"{self.kind}/{name}"))


@lru_cache(REMEMBERED)
def chance_of_session(seed: str) -> FloatArray:
    """What chance adds to one session in units of the residual, shape (DRAWS,); not to be written to.

    The same for every candidate that foretells the session.
    """
    chance: FloatArray = special.stdtrit(DEGREES_OF_FREEDOM, stratified_uniforms(seed))
    chance.setflags(write=False)
    return chance


def in_order(pairs: Sequence[PairedLoads]) -> list[PairedLoads]:
    """Pairs in an order that does not depend on the one they came in."""
    return sorted(pairs, key=lambda pair: (pair.content, pair.cell.instrument, pair.cell.activity))


def learn(
    pairs: Sequence[PairedLoads], prior: Prior, form: Form = CONSTANT, *, seed: int, kind: str
) -> Posterior:
    """Learn the log ratios of all cells together.

    Parameters
    ----------
    pairs : sequence of PairedLoads
        In any order; the result does not depend on it.
    prior : Prior
        Of the kind of instrument.
    form : Form
    seed : int
        The athlete's seed, which fixes the normals behind all shared draws.
    kind : str
        Name of the kind of instrument.

    Returns
    -------
    Posterior
        With the prior alone where there are no pairs.
    """
    designed = design(in_order(pairs), prior, form)
    return draws_of(designed, fit(designed.problem), seed=seed, kind=kind)


@dataclass(frozen=True, eq=False)
class Designed:
    """A regression with the names of its effects.

    Attributes
    ----------
    pairs : list of PairedLoads
        Its observations.
    prior : Prior
    form : Form
    names : list of str
        Of the effects, in the order of the columns.
    problem : Problem
    ranges : mapping of group to FeatureRange
    """

    pairs: list[PairedLoads]
    prior: Prior
    form: Form
    names: list[str]
    problem: Problem
    ranges: dict[str, FeatureRange]


def levels_of(prior: Prior, form: Form) -> list[Level]:
    """Levels of effects under a form: those of the cell, then slopes for all and of the instrument."""
    scales = (
        prior.family,
        prior.instrument,
        prior.instrument_family,
        prior.instrument_activity,
        prior.firmware,
    )
    cells = [Level(scale, prior.scale_doubt) for scale in scales]
    slopes = [Level(SLOPE_SCALE, SLOPE_DOUBT, follows) for follows in (SHARED_NOISE, OWN_NOISE)]
    return (cells if form.cells else []) + (slopes if form.features else [])


def design(pairs: list[PairedLoads], prior: Prior, form: Form, offsets: FloatArray | None = None) -> Designed:
    """Lay out the regression of a form.

    Parameters
    ----------
    pairs : list of PairedLoads
    prior : Prior
    form : Form
    offsets : array, shape (pairs,), optional
        What is expected of each log ratio for another reason; taken off.
    """
    ranges = ranges_of((pair.cell.path, pair.features) for pair in pairs) if form.features else {}
    placed: dict[str, tuple[int, int]] = {}
    rows: list[dict[str, float]] = []
    for pair in pairs:
        row: dict[str, float] = {}
        family = FAMILIES.index(pair.cell.family)
        for level, name in enumerate(pair.cell.effects if form.cells else ()):
            row[name], placed[name] = 1.0, (level, family)
        if form.features:
            apart = ranges[pair.cell.path[-1]].departures(pair.features)
            first = len(pair.cell.effects) if form.cells else 0
            for level, group in enumerate(pair.cell.slopes, start=first):
                for place in form.features:
                    name = f"{group}/{place}"
                    row[name], placed[name] = float(apart[place]), (level, family)
        rows.append(row)
    names = sorted(placed)
    matrix = np.array([[row.get(name, 0.0) for name in names] for row in rows])
    centres = np.array([prior.centre[pair.cell.family] if form.cells else 0.0 for pair in pairs])
    observed = np.array([pair.log_ratio for pair in pairs]) - centres
    problem = Problem(
        design=matrix.reshape(len(pairs), len(names)),
        observed=observed if offsets is None else observed - offsets,
        levels=levels_of(prior, form),
        level_of_effect=np.array([placed[name][0] for name in names], dtype=int),
        family_of_effect=np.array([placed[name][1] for name in names], dtype=int),
        family_of_observation=np.array([FAMILIES.index(pair.cell.family) for pair in pairs], dtype=int),
        base_noise=np.array([prior.residual[family] for family in FAMILIES]),
    )
    return Designed(pairs, prior, form, names, problem, ranges)


def scale_draws(fitted: Fitted, *, seed: int, kind: str) -> FloatArray:
    """Draws of the standardised log factors of all scales, shape (DRAWS, factors)."""
    normals = [
        standard_normals(athlete_seed(seed, f"{kind}/scale/{index}")) for index in range(len(fitted.mode))
    ]
    return fitted.hyper(np.column_stack(normals))


def draws_of(designed: Designed, fitted: Fitted, *, seed: int, kind: str) -> Posterior:
    """Draws of everything that a fitted regression says, seeded by names and contents."""
    hyper = scale_draws(fitted, seed=seed, kind=kind)
    problem, pairs = designed.problem, designed.pairs
    effects: dict[str, FloatArray] = {}
    if designed.names:
        own = [
            standard_normals(session_seed(pair.content, f"{kind}/learned/{pair.cell.activity}"))
            for pair in pairs
        ]
        shared = [standard_normals(athlete_seed(seed, f"{kind}/{name}")) for name in designed.names]
        draws = fitted.effect_draws(hyper, np.column_stack(own), np.column_stack(shared))
        effects = {name: draws[:, column] for column, name in enumerate(designed.names)}
    counts: dict[Cell, int] = {}
    for pair in pairs:
        counts[pair.cell] = counts.get(pair.cell, 0) + 1
    residual = problem.noise(hyper)
    return Posterior(
        prior=designed.prior,
        form=designed.form,
        seed=seed,
        kind=kind,
        level_scales=problem.level_scales(hyper),
        shared_noise=problem.shared_noise(hyper),
        residual={family: residual[:, column] for column, family in enumerate(FAMILIES)},
        effects=effects,
        counts=counts,
        ranges=designed.ranges,
    )
