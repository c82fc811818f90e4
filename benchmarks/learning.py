"""Time of a refit from 200 pairs, and the pooled regression against a general sampler of the same model.

    .venv/bin/python -m benchmarks.learning

``make bench`` installs what the sampler needs; without it the second part is left out. The sampler's time is
that of four chains of 1000 draws each after 1000 to warm up, compilation not counted; for ours, one fit with
its draws on one thread. Both posteriors are of the form with few features. Estimates are compared in
posterior standard deviations: four Monte Carlo standard errors of our draws are 0.18 of them, the sampler's
own is smaller.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

from benchmarks import one_thread  # noqa: F401  # before numpy is loaded

# isort: split
import numpy as np

from accuracy.core.evaluation.simulate_athletes import simulate_athlete
from accuracy.core.evaluation.simulated_log import ACTIVITIES, pair_of
from accuracy.core.learning.pooled_regression import DEGREES_OF_FREEDOM, NO_NOISE, OWN_NOISE, Problem, fit
from accuracy.core.learning.priors import FAMILIES, WRIST
from accuracy.core.learning.profile import Designed, design, draws_of, in_order
from accuracy.core.learning.wrist_fit import CANDIDATES, KIND, WristPair, learn_wrist
from trainlog.load.draws import DRAWS
from trainlog.load.physiology import PhysiologyDraws
from trainlog.trace import FloatArray

PAIRS = 200

SEED = 5

CHAINS, WARM_UP, KEPT = 4, 1000, 1000

MONTE_CARLO = 4 / np.sqrt(DRAWS)
"""Tolerance of a posterior mean, in posterior standard deviations."""

Estimates = dict[str, FloatArray]
"""Draws of what is compared, by name."""


def pairs_of_athlete(count: int = PAIRS) -> list[WristPair]:
    """Pairs of one simulated athlete, as many of each family."""
    athlete = simulate_athlete(SEED, broad=True)
    physiology = PhysiologyDraws(athlete.resting, athlete.maximum, 0.0, 0.0, athlete.weighting, SEED)
    found: list[WristPair] = []
    place = 0
    while len(found) < count:
        for activity in ACTIVITIES:
            pair = pair_of(athlete.session(activity, place, paired=True), physiology)
            found += [] if pair is None else [pair]
        place += 1
    return found[:count]


def median_seconds(action: Callable[[], object], times: int = 7) -> float:
    """Median time of an action, after one to warm up."""
    action()
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        action()
        spent.append(time.perf_counter() - begin)
    return statistics.median(spent)


def ours(designed: Designed) -> Estimates:
    """Draws of the pooled regression: expected log ratio of each cell, log residual scale of its family."""
    posterior = draws_of(designed, fit(designed.problem), seed=SEED, kind=KIND)
    cells = sorted({pair.cell for pair in designed.pairs}, key=lambda cell: cell.activity)
    expected = {f"cell {cell.activity}": posterior.expected(cell) for cell in cells}
    scales = {f"log scale {cell.family}": np.log(posterior.residual[cell.family]) for cell in cells}
    return expected | scales


def sampler(designed: Designed) -> tuple[Estimates, Estimates, float]:
    """The same by the no-U-turn sampler.

    Returns
    -------
    tuple of mapping, mapping, float
        Draws; numbers of independent draws they are worth; and seconds, compilation not counted.
    """
    import jax  # noqa: PLC0415
    import numpyro  # noqa: PLC0415
    from numpyro.diagnostics import effective_sample_size  # noqa: PLC0415
    from numpyro.infer import MCMC, NUTS  # noqa: PLC0415

    numpyro.enable_x64()
    kernel = NUTS(_model, target_accept_prob=0.9)
    chains = MCMC(
        kernel,
        num_warmup=WARM_UP,
        num_samples=KEPT,
        num_chains=CHAINS,
        chain_method="sequential",
        progress_bar=False,
        jit_model_args=False,
    )
    chains.run(jax.random.PRNGKey(0), designed.problem)
    begin = time.perf_counter()
    chains.run(jax.random.PRNGKey(1), designed.problem)
    drawn = {name: np.asarray(values) for name, values in chains.get_samples(group_by_chain=True).items()}
    seconds = time.perf_counter() - begin
    estimates = {}
    for cell in {pair.cell for pair in designed.pairs}:
        places = [designed.names.index(name) for name in cell.effects]
        centre = designed.prior.centre[cell.family]
        estimates[f"cell {cell.activity}"] = centre + drawn["effects"][:, :, places].sum(axis=2)
        estimates[f"log scale {cell.family}"] = np.log(drawn["noise"][:, :, FAMILIES.index(cell.family)])
    worth = {name: effective_sample_size(values) for name, values in estimates.items()}
    return {name: values.ravel() for name, values in estimates.items()}, worth, seconds


def _model(problem: Problem) -> None:
    """The regression as its docstring states it, effects and scales in standard units."""
    import jax.numpy as jnp  # noqa: PLC0415
    import numpyro  # noqa: PLC0415
    from numpyro import distributions as dist  # noqa: PLC0415

    count = len(problem.levels)
    follows = np.array([level.follows for level in problem.levels])[problem.level_of_effect]
    base = np.array([level.scale for level in problem.levels])
    standard = numpyro.sample("factors", dist.Normal(0, 1).expand([len(problem.doubt)]).to_event(1))
    logs = standard * problem.doubt
    noise = numpyro.deterministic("noise", problem.base_noise * jnp.exp(logs[count] + logs[count + 1 :]))
    shared = problem.base_noise.mean() * jnp.exp(logs[count])
    measure = jnp.where(follows == OWN_NOISE, noise[problem.family_of_effect], shared)
    measure = jnp.where(follows == NO_NOISE, 1.0, measure)
    scale = (base * jnp.exp(logs[:count]))[problem.level_of_effect] * measure
    departures = numpyro.sample("departures", dist.Normal(0, 1).expand([len(scale)]).to_event(1))
    effects = numpyro.deterministic("effects", departures * scale)
    spread = noise[problem.family_of_observation]
    numpyro.sample(
        "observed",
        dist.StudentT(DEGREES_OF_FREEDOM, problem.design @ effects, spread),
        obs=problem.observed,
    )


def compare(designed: Designed) -> None:
    """Print estimates of both side by side, and the ratio of their times."""
    mine = ours(designed)
    spent = median_seconds(lambda: ours(designed))
    try:
        theirs, worth, seconds = sampler(designed)
    except ModuleNotFoundError as missing:
        print(f"no sampler here ({missing.name}); `make bench` installs it")
        return
    print(f"{'':26}{'ours':>16}{'sampler':>16}{'apart':>8}{'independent draws':>19}")
    for name, draws in mine.items():
        other = theirs[name]
        apart = (draws.mean() - other.mean()) / other.std()
        mark = "" if abs(apart) < MONTE_CARLO else " *"
        print(
            f"{name:26}{draws.mean():8.4f} ±{draws.std():.4f}{other.mean():8.4f} ±{other.std():.4f}"
            f"{apart:8.2f}{worth[name]:19.0f}{mark}"
        )
    print(f"* beyond {MONTE_CARLO:.2f} standard deviations")
    print(f"ours {spent:.3f} s, sampler {seconds:.1f} s: 1/{seconds / spent:.0f} of its time")
    print(f"one chain alone {seconds / CHAINS:.1f} s: 1/{seconds / CHAINS / spent:.0f} of its time")


def main() -> None:
    """Print the figures."""
    pairs = pairs_of_athlete()
    refit = median_seconds(lambda: learn_wrist(pairs, seed=SEED))
    print(f"refit of {len(CANDIDATES)} candidates from {len(pairs)} pairs: median {refit:.2f} s")
    few = next(form for form in CANDIDATES if form.name == "few features")
    compare(design(in_order([pair.loads for pair in pairs]), WRIST, few))


if __name__ == "__main__":
    main()
