"""The most likely coefficients of a model whose log-likelihood has one summit, and their spread.

Counts per reach (Poisson) and preferences between pairs (binomial) both are such models; the climb
itself is scipy's trust-region method with exact second derivatives.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Coefficients on the log scale, their covariance, and the value expected of each row."""

    at: Numbers
    covariance: Numbers
    expected: Numbers

    def contrast(self, weights: Any) -> tuple[float, float]:
        """A weighted sum of coefficients and its standard error."""
        import numpy as np  # noqa: PLC0415 - only verdicts pay for it

        along = np.asarray(weights, dtype=float)
        return float(along @ self.at), float(np.sqrt(max(0.0, along @ self.covariance @ along)))


def fitted_counts(counts: Any, exposure: Any, design: Any) -> Fit:
    """Poisson counts with ``log(expected / exposure) = design @ coefficients`` [agresti2019]."""
    import numpy as np  # noqa: PLC0415 - as above

    y, offset, x = (
        np.asarray(counts, float),
        np.log(np.asarray(exposure, float)),
        np.asarray(design, float),
    )

    def cost(b: Numbers) -> tuple[float, Numbers, Numbers]:
        mean = np.exp(np.clip(offset + x @ b, -50, 50))
        loss = float(mean.sum() - y @ (offset + x @ b))
        return loss, x.T @ (mean - y), x.T @ (mean[:, None] * x)

    # From the common rate, in any coordinates: near enough for a climb with one summit.
    start = np.linalg.lstsq(x, np.full(len(y), np.log(y.sum() / np.exp(offset).sum())), rcond=None)[
        0
    ]
    at, information = _summit(cost, start)
    return Fit(
        at=at,
        covariance=np.asarray(np.linalg.inv(information), float),
        expected=np.exp(offset + x @ at),
    )


def fitted_preferences(wins: Any, of: Any, design: Any) -> Fit:
    """Binomial wins with ``log-odds = design @ coefficients`` [agresti2019]."""
    import numpy as np  # noqa: PLC0415 - as above
    from scipy.special import expit, log_expit  # noqa: PLC0415 - as above

    y, n, x = np.asarray(wins, float), np.asarray(of, float), np.asarray(design, float)

    def cost(b: Numbers) -> tuple[float, Numbers, Numbers]:
        odds = x @ b
        share = expit(odds)
        loss = -float(y @ log_expit(odds) + (n - y) @ log_expit(-odds))
        return loss, x.T @ (n * share - y), x.T @ ((n * share * (1 - share))[:, None] * x)

    at, information = _summit(cost, np.zeros(x.shape[1]))
    return Fit(
        at=at, covariance=np.asarray(np.linalg.inv(information), float), expected=n * expit(x @ at)
    )


def _summit(
    cost: Callable[[Numbers], tuple[float, Numbers, Numbers]], start: Numbers
) -> tuple[Numbers, Numbers]:
    """Where the cost is least, and its second derivatives there (the information)."""
    from scipy.optimize import minimize  # noqa: PLC0415 - as above

    found = minimize(
        lambda b: cost(b)[0],
        start,
        jac=lambda b: cost(b)[1],
        hess=lambda b: cost(b)[2],
        method="trust-exact",
        options={"gtol": 1e-8, "maxiter": 500},
    )
    # trust-exact stops within its tolerance; one full step more lands on the figures' last digits.
    _, slope, curve = cost(found.x)
    import numpy as np  # noqa: PLC0415 - as above

    at = found.x - np.linalg.solve(curve, slope)
    return at, cost(at)[2]
