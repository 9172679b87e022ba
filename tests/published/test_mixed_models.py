"""Mixed models: published REML fits of three data sets, statsmodels on unbalanced data, closed forms."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.regression.mixed_linear_model import MixedLM

from server.analysis.evidence.mixed_model import MixedModel, fit
from tests.published.reference_tables import read_rows

DIGITS = 2e-6
"""To which the published digits are held, relative."""


def published(data: str) -> dict[str, float]:
    rows = read_rows("mixed_model_fits.csv")
    return {row["quantity"]: float(row["value"]) for row in rows if row["data"] == data}


def column(rows: list[dict[str, str]], name: str) -> np.ndarray:
    return np.array([float(row[name]) for row in rows])


def codes(words: list[str]) -> np.ndarray:
    return pd.factorize(np.array(words))[0]


def fitted(data: str) -> tuple[MixedModel, list[str]]:
    """The model and what its groupings are called."""
    if data == "penicillin":
        rows = read_rows("penicillin_1972.csv")
        names = ["plate", "sample"]
        groups = [codes([row[name] for row in rows]) for name in names]
        response = column(rows, "diameter_mm")
    elif data == "pastes":
        rows = read_rows("pastes_1972.csv")
        names = ["cask", "batch"]
        groups = [codes([row["batch"] + row["cask"] for row in rows]), codes([row["batch"] for row in rows])]
        response = column(rows, "strength")
    else:
        rows = read_rows("dyestuff.csv")
        names, groups = ["batch"], [codes([row["batch"] for row in rows])]
        response = column(rows, "yield_1972")
    return fit(response, np.ones((response.size, 1)), groups), names


@pytest.mark.parametrize("data", ["penicillin", "pastes", "dyestuff"])
def test_published_fits(data: str) -> None:
    found, names = fitted(data)
    wanted = published(data)
    assert found.criterion == pytest.approx(wanted["criterion"], abs=1e-6)
    assert found.fixed[0] == pytest.approx(wanted["intercept"], rel=1e-12)
    assert np.sqrt(found.covariance[0, 0]) == pytest.approx(wanted["standard_error"], rel=DIGITS)
    assert np.sqrt(found.residual) == pytest.approx(wanted["sd_residual"], rel=DIGITS)
    for name, variance in zip(names, found.variances, strict=True):
        assert np.sqrt(variance) == pytest.approx(wanted[f"sd_{name}"], rel=5e-6)


def test_a_variance_that_is_estimated_as_nothing() -> None:
    """Box and Tiao's yields: the mean squares between and within batches give a variance below 0. What is left is the
    plain mean's; the batches still leave five degrees of freedom."""
    rows = read_rows("dyestuff.csv")
    response = column(rows, "yield_1973")
    found = fit(response, np.ones((30, 1)), [codes([row["batch"] for row in rows])])
    assert found.variances[0] == 0
    assert found.residual == pytest.approx(response.var(ddof=1), rel=1e-9)
    said = found.contrast([1.0])
    assert said.error == pytest.approx(response.std(ddof=1) / np.sqrt(30), rel=1e-9)
    assert said.freedom == pytest.approx(5, rel=1e-6)
    assert found.effects[0] == pytest.approx(np.zeros(6), abs=1e-12)


def test_a_balanced_mean_has_the_textbook_interval() -> None:
    """Dyestuff: the mean's t interval over the six batch means, with 5 degrees of freedom."""
    rows = read_rows("dyestuff.csv")
    means = column(rows, "yield_1972").reshape(6, 5).mean(axis=1)
    said = fitted("dyestuff")[0].contrast([1.0])
    assert said.freedom == pytest.approx(5, rel=1e-6)
    expected = stats.ttest_1samp(means, 0).confidence_interval(0.9)
    assert said.interval(0.9) == pytest.approx((expected.low, expected.high), rel=1e-8)


def test_satterthwaites_degrees_of_freedom_of_crossed_groupings() -> None:
    """Penicillin: the mean's variance is (M_plate + M_sample - M_rest) / 144 with mean squares of 23, 5 and 115 degrees
    of freedom, and Satterthwaite (1946) approximates it by (sum)^2 / sum(M^2 / f) degrees."""
    table = column(read_rows("penicillin_1972.csv"), "diameter_mm").reshape(24, 6)
    plate = 6 * table.mean(axis=1).var(ddof=1)
    sample = 24 * table.mean(axis=0).var(ddof=1)
    rest = table - table.mean(axis=1, keepdims=True) - table.mean(axis=0) + table.mean()
    left = (rest**2).sum() / 115
    whole = plate + sample - left
    freedom = whole**2 / (plate**2 / 23 + sample**2 / 5 + left**2 / 115)
    said = fitted("penicillin")[0].contrast([1.0])
    assert said.freedom == pytest.approx(freedom, rel=1e-5)
    assert said.error == pytest.approx(np.sqrt(whole / 144), rel=1e-6)


def test_predicted_effects_of_a_balanced_grouping() -> None:
    """Dyestuff: batch means less the whole, times n s_b^2 / (n s_b^2 + s^2); errors as Henderson has them."""
    found = fitted("dyestuff")[0]
    means = column(read_rows("dyestuff.csv"), "yield_1972").reshape(6, 5).mean(axis=1)
    between, within = found.variances[0], found.residual
    weight = 5 * between / (5 * between + within)
    assert found.effects[0] == pytest.approx(weight * (means - means.mean()), rel=1e-8)
    error = (1 - weight) * between + weight**2 * (between + within / 5) / 6
    assert found.errors[0] == pytest.approx(np.full(6, np.sqrt(error)), rel=1e-8)


def unbalanced(seed: int) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]]:
    """Responses with a slope, two crossed groupings of unequal use."""
    draw = np.random.default_rng(seed)
    first, second = codes(list(draw.integers(0, 5, 70))), codes(list(draw.choice(8, 70, p=np.arange(1, 9) / 36)))
    slope = draw.normal(0, 1, 70)
    made = 2 + 0.5 * slope + draw.normal(0, 2, 5)[first] + draw.normal(0, 1, 8)[second] + draw.normal(0, 1.5, 70)
    return made, np.column_stack([np.ones(70), slope]), [first, second]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_crossed_unbalanced_data_agree_with_statsmodels(seed: int) -> None:
    """statsmodels' optimiser stops earlier: variances to 1 in 1,000, and its criterion never lies below ours.
    Its errors come from the curvature in all parameters at once: ours are held to dense matrices below."""
    y, x, groups = unbalanced(seed)
    ours = fit(y, x, groups)
    frame = pd.DataFrame({"y": y, "x": x[:, 1], "one": 1, "first": groups[0], "second": groups[1]})
    parts = {"first": "0 + C(first)", "second": "0 + C(second)"}
    theirs = MixedLM.from_formula("y ~ x", frame, groups="one", vc_formula=parts, re_formula="0").fit(reml=True)
    assert ours.fixed == pytest.approx(theirs.fe_params.to_numpy(), abs=1e-4)
    assert ours.variances == pytest.approx(theirs.vcomp, rel=2e-3, abs=1e-4)
    assert ours.residual == pytest.approx(theirs.scale, rel=1e-3)
    assert ours.criterion <= -2 * theirs.llf + 1e-6
    assert ours.criterion == pytest.approx(-2 * theirs.llf, abs=1e-3)


def test_the_criterion_is_the_restricted_likelihood_of_dense_matrices() -> None:
    """log |V| + log |X'V^-1 X| + y'Py + (n - p) log 2 pi, weighted and with known variances too."""
    y, x, groups = unbalanced(4)
    draw = np.random.default_rng(5)
    given = draw.uniform(0.5, 2, y.size)
    for found in (fit(y, x, groups), fit(y, x, groups, weights=given), fit(y, x, groups, known=given)):
        shares = [np.equal.outer(code, code) * part for code, part in zip(groups, found.variances, strict=True)]
        v = np.sum(shares, axis=0) + np.diag(found.residual / found.weights)
        inverse = np.linalg.inv(v)
        inner = x.T @ inverse @ x
        fixed = np.linalg.solve(inner, x.T @ inverse @ y)
        rest = y - x @ fixed
        dense = np.linalg.slogdet(v)[1] + np.linalg.slogdet(inner)[1] + rest @ inverse @ rest
        dense += (y.size - 2) * np.log(2 * np.pi)
        assert found.criterion == pytest.approx(dense, rel=1e-9)
        assert found.fixed == pytest.approx(fixed, rel=1e-8)
        assert found.covariance == pytest.approx(np.linalg.inv(inner), rel=1e-7)


def dense_criterion(y: np.ndarray, groups: list[np.ndarray], weights: np.ndarray, relative: tuple[float, ...]) -> float:
    """Minus twice the restricted log likelihood of a mean alone, the residual profiled out, of dense matrices."""
    shares = [spread**2 * np.equal.outer(code, code) for code, spread in zip(groups, relative, strict=True)]
    v = np.sum(shares, axis=0) + np.diag(1 / weights)
    inverse = np.linalg.inv(v)
    inner = float(inverse.sum())
    rest = y - float(inverse.sum(axis=0) @ y) / inner
    free = y.size - 1
    residual = float(rest @ inverse @ rest) / free
    return float(np.linalg.slogdet(v)[1] + np.log(inner) + free * (1 + np.log(2 * np.pi * residual)))


@pytest.mark.parametrize("seed", [18, 42, 57, 75, 161])
def test_a_spread_is_nothing_only_where_the_likelihood_says_so(seed: int) -> None:
    """Rounds of players on courses, some of nine holes: nowhere on a grid is the criterion below the one found. A
    search along the slope alone ended at 0, where there is none: in 18 of 400 such sets, by up to 2.1."""
    draw = np.random.default_rng(seed)
    levels = int(draw.integers(2, 9)), int(draw.integers(1, 6))
    count = int(draw.integers(max(levels) + 4, 40))
    groups = [np.unique(draw.integers(0, many, count), return_inverse=True)[1] for many in levels]
    y = draw.normal(0, draw.choice([0, 0.5, 1, 2]), levels[0])[groups[0]]
    y = y + draw.normal(0, draw.choice([0, 0.3, 1]), levels[1])[groups[1]] + draw.normal(0, 1, count)
    weights = np.where(draw.random(count) < 0.3, 0.5, 1.0)
    found = fit(y, np.ones((count, 1)), groups, weights=weights)
    steps = [0, 0.03, 0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3]
    least = min(dense_criterion(y, groups, weights, (a, b)) for a in steps for b in steps)
    assert found.criterion <= least + 1e-6
    at = tuple(np.sqrt(found.variances / found.residual))
    assert found.criterion == pytest.approx(dense_criterion(y, groups, weights, at), abs=1e-8)


@pytest.mark.parametrize("seed", [5, 7])
def test_the_error_is_kenward_and_rogers_of_dense_matrices(seed: int) -> None:
    """Kenward and Roger (1997) in the words of the vignette of R's mmrm, with V^-1 differentiated numerically and the
    expected information of R's pbkrtest, on unbalanced data, the second with a variance of 0: Phi + 2 Phi sum W (Q -
    P Phi P) Phi, and 2 / (a' W a) degrees of freedom."""
    y, x, groups = unbalanced(seed)
    found = fit(y, x, groups, weights=np.random.default_rng(8).uniform(0.5, 2, y.size))
    shares = [np.equal.outer(code, code).astype(float) for code in groups] + [np.diag(1 / found.weights)]
    at = np.array([*found.variances, found.residual])

    def inverse(variances: np.ndarray) -> np.ndarray:
        return np.linalg.inv(np.tensordot(variances, shares, axes=1))

    steps = 1e-4 * found.residual * np.eye(3)
    slopes = [(inverse(at + step) - inverse(at - step)) / (2 * step.sum()) for step in steps]
    v, phi, every = np.tensordot(at, shares, axes=1), np.linalg.inv(x.T @ inverse(at) @ x), range(3)
    p = [x.T @ slope @ x for slope in slopes]
    q = [[x.T @ slopes[i] @ v @ slopes[j] @ x for j in every] for i in every]
    information = np.array(
        [
            [
                np.trace(v @ slopes[i] @ v @ slopes[j])
                - 2 * np.trace(phi @ q[i][j])
                + np.trace(phi @ p[i] @ phi @ p[j])
                for j in every
            ]
            for i in every
        ]
    )
    w = 2 * np.linalg.inv(information)
    more = np.sum([[w[i, j] * (q[i][j] - p[i] @ phi @ p[j]) for j in every] for i in every], axis=(0, 1))
    adjusted = phi + 2 * phi @ more @ phi
    for c in np.eye(2):
        a = np.array([c @ phi @ one @ phi @ c for one in p]) / (c @ phi @ c)
        said = found.contrast(c)
        assert said.error == pytest.approx(np.sqrt(c @ adjusted @ c), rel=1e-5)
        assert said.error > 1.002 * np.sqrt(c @ phi @ c)
        assert said.freedom == pytest.approx(2 / (a @ w @ a), rel=1e-5)


def test_known_variances_are_a_meta_analysis() -> None:
    """Nine laboratories (Kacker 2004), one level each: REML's equation for the variance between them holds."""
    rows = read_rows("kacker_2004.csv")
    means, variances = column(rows, "laboratory_mean"), column(rows, "variance_of_mean")
    found = fit(means, np.ones((9, 1)), [np.arange(9)], known=variances)
    weight = 1 / (variances + found.variances[0])
    middle = weight @ means / weight.sum()
    slope = -weight.sum() + (weight**2).sum() / weight.sum() + (weight**2) @ (means - middle) ** 2
    assert slope == pytest.approx(0, abs=1e-5)
    assert found.fixed[0] == pytest.approx(middle, rel=1e-10)


def test_without_groupings_it_is_weighted_least_squares() -> None:
    y, x, _ = unbalanced(6)
    said = fit(y, x).contrast([0.0, 1.0])
    line = stats.linregress(x[:, 1], y)
    assert (said.estimate, said.error) == pytest.approx((line.slope, line.stderr), rel=1e-9)
    assert said.freedom == pytest.approx(68, rel=1e-9)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"weights": np.array([1.0, 0, 1, 1])}, "weights: must be 4 finite numbers above 0"),
        ({"known": np.array([1.0, 1, 1])}, "known: must be 4"),
        ({"weights": np.ones(4), "known": np.ones(4)}, "one of the two"),
        ({"groups": [np.array([0, 0, 2, 2])]}, "groups: grouping 0 has codes"),
        ({"groups": [np.array([0, 1])]}, "groups: grouping 0 has shape"),
        ({"design": np.ones((4, 2))}, "design: a column follows"),
        ({"design": np.eye(4)}, "design: 4 columns need more than 4"),
        ({"response": np.array([1.0, np.nan, 0, 0])}, "response: must be finite"),
    ],
)
def test_what_does_not_fit_is_named(more: dict[str, np.ndarray], words: str) -> None:
    given = {"response": np.arange(4.0), "design": np.ones((4, 1)), **more}
    with pytest.raises(ValueError, match=words):
        fit(given.pop("response"), given.pop("design"), **given)  # type: ignore[arg-type]
