"""The REML criterion of the panel model with exact first and second derivatives, all descriptors at once.

Model, one descriptor: score = lot + taster + lot:taster + lot:pot + error. Taster, lot:taster and lot:pot are random,
lot is fixed or random. Each lot is eliminated with matrices of size tasters and pots only; nothing of size scores or
lots is formed. Patterson & Thompson 1971, Biometrika 58:545; average information: Gilmour, Thompson & Cullis 1995,
Biometrics 51:1440.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.blocks import Blocks

# Order of the variances in every array of them.
TASTER, LOT_TASTER, LOT_POT, LOT, RESIDUAL = range(5)
SOURCES = ("taster", "lot:taster", "lot:pot", "lot", "residual")


@dataclass(frozen=True, eq=False)
class Eliminated:
    """Matrices of each block with its lots eliminated, axes (block, taster or pot, ...)."""

    K: np.ndarray  # (B, T, T)  Z_x' Q Z_x of one lot
    J: np.ndarray  # (B, T, P)  Z_x' Q Z_p
    N: np.ndarray  # (B, P, P)  Z_p' Q Z_p
    omega: np.ndarray  # (B, T)  row sums of the block before the lot is eliminated
    psi: np.ndarray  # (B, P)
    a: np.ndarray  # (B,)  information on the lot
    logdet: np.ndarray  # (B,)
    to_py: np.ndarray  # (B, T+P, T+P)  z -> (Z_x'Qy, Z_p'Qy)
    quad: np.ndarray  # (B, T+P, T+P)  z -> y'Qy without the within-cell part


@dataclass(frozen=True, eq=False)
class Global:
    """Tasters eliminated too, axes (descriptor, taster, ...)."""

    K: np.ndarray  # (D, T, T)
    inner: np.ndarray  # (D, T, T)  u = inner @ g; P = Q - Q Z inner Z' Q
    M: np.ndarray  # (D, T, T)  (I + sT K)^-1
    u: np.ndarray  # (D, T)  taster BLUPs (with the means, where lots are random)
    zeta: np.ndarray  # (D, T)  Z_t' P y
    ypy: np.ndarray  # (D,)
    logdet: np.ndarray  # (D,)


@dataclass(frozen=True, eq=False)
class Criterion:
    """-2 log restricted likelihood and its derivatives at given variances.

    Attributes
    ----------
    value : ndarray, shape (D,)
    gradient : ndarray, shape (D, 5)
    expected, average : ndarray, shape (D, 5, 5)
        Expected and average information, on the scale of the Hessian of -2 log L, which is 2 average - expected.
    lots_in, tasters_in
        The eliminations, for means and contrasts.
    """

    value: np.ndarray
    gradient: np.ndarray
    expected: np.ndarray
    average: np.ndarray
    lots_in: Eliminated
    tasters_in: Global


def criterion(b: Blocks, theta: np.ndarray, *, lots_random: bool = False) -> Criterion:
    """-2 log restricted likelihood, gradient and information.

    Parameters
    ----------
    b : Blocks
    theta : ndarray, shape (D, 5)
        Variances in the order of SOURCES; the residual must be positive. The lot variance is not used for fixed lots.
    lots_random : bool

    Returns
    -------
    Criterion
        For fixed lots the value equals -2 times the log-likelihood that treatment-coded fixed lots give.
    """
    per_block = theta[b.descriptor]
    lot = eliminate_lots(b, per_block, lots_random=lots_random)
    whole = _eliminate_tasters(b, lot, theta, lots_random=lots_random)
    fixed = _group_columns(b, whole.K).any(axis=2).sum(axis=1) if lots_random else b.p
    value = (
        (b.scores - fixed) * np.log(2 * np.pi)
        + (b.scores - b.cells) * np.log(theta[:, RESIDUAL])
        + b.per_descriptor(b.lots * lot.logdet)
        + whole.logdet
        + whole.ypy
    )
    trace, square, expected, average = _with_residual(
        theta, b.scores - fixed, whole.ypy, _second_order(b, lot, whole, lots_random=lots_random)
    )
    return Criterion(value, trace - square, expected, average, lot, whole)


def eliminate_lots(b: Blocks, theta: np.ndarray, *, lots_random: bool) -> Eliminated:
    """Matrices of each block; `theta` has a row per block."""
    s_x, s_p, s_l, s_e = (theta[:, k, None] for k in (LOT_TASTER, LOT_POT, LOT, RESIDUAL))
    n_cell = b.counts.sum(axis=2)
    d = n_cell * s_x + s_e
    w = n_cell / d
    counts = b.counts if b.pots else b.counts[:, :, :0]
    R = -(s_x / s_e)[..., None] * np.einsum("btp,bt,btq->bpq", counts, 1 / d, counts)
    R += np.eye(counts.shape[2]) * (counts.sum(axis=1) / s_e)[:, None, :]
    # By eigenvalues, and less what pot totals never have, their sum: where pots differ far more than looks, an inverse
    # would lose all its digits.
    r, U = np.linalg.eigh(R)
    r = np.maximum(r, 0.0)
    shrunk, U_c = U / (1 + s_p * r)[:, None, :], _less_mean(U, axis=1)
    E, E_c = shrunk @ np.swapaxes(U, 1, 2), shrunk @ np.swapaxes(U_c, 1, 2)
    BE = (counts / d[..., None]) @ E
    W = -s_p[..., None] * (BE @ np.swapaxes(counts / d[..., None], 1, 2))
    W += np.eye(b.tasters) * w[:, None, :]
    omega, psi = W.sum(axis=2), BE.sum(axis=1)
    a = omega.sum(axis=1)
    share = (s_l[:, 0] / (1 + s_l[:, 0] * a) if lots_random else 1 / a)[:, None, None]
    K = W - share * omega[:, :, None] * omega[:, None, :]
    J = BE - share * omega[:, :, None] * psi[:, None, :]
    N = (shrunk * r[:, None, :]) @ np.swapaxes(U, 1, 2) - share * psi[:, :, None] * psi[:, None, :]
    logdet = np.where(n_cell > 0, np.log(d), 0.0).sum(axis=1) + np.log1p(s_p * r).sum(axis=1)
    logdet += np.log1p(s_l[:, 0] * a) if lots_random else np.log(a)
    ratio, psi_c = (s_p / s_e)[..., None], _less_mean(psi, axis=1)
    J_c = (counts / d[..., None]) @ E_c - share * omega[:, :, None] * psi_c[:, None, :]
    rest = (E_c + s_p[..., None] * share * psi[:, :, None] * psi_c[:, None, :]) / s_e[..., None]
    to_py = _bordered(K, -ratio * J_c, np.swapaxes(J, 1, 2), rest)
    quad = _bordered(K, -ratio * J_c, -ratio * np.swapaxes(J_c, 1, 2), -ratio * _less_mean(rest, axis=1))
    return Eliminated(K, J, N, omega, psi, a, logdet, to_py, quad)


def _less_mean(x: np.ndarray, *, axis: int) -> np.ndarray:
    """Deviations from the mean along an axis, which may be empty."""
    return x - x.sum(axis=axis, keepdims=True) / max(x.shape[axis], 1)


def _bordered(top: np.ndarray, right: np.ndarray, left: np.ndarray, corner: np.ndarray) -> np.ndarray:
    if not corner.size:  # no pots: nothing to copy
        return top
    return np.concatenate([np.concatenate([top, right], axis=2), np.concatenate([left, corner], axis=2)], axis=1)


def _eliminate_tasters(b: Blocks, lot: Eliminated, theta: np.ndarray, *, lots_random: bool) -> Global:
    t = b.tasters
    K = b.per_descriptor(b.lots[:, None, None] * lot.K)
    g0 = b.per_descriptor(np.einsum("btz,bz->bt", lot.to_py[:, :t], b.first))
    q0 = b.per_descriptor(np.einsum("byz,byz->b", lot.quad, b.second))
    K_shift = np.einsum("dtu,du->dt", K, b.shift)
    g = g0 + K_shift
    s_t = theta[:, TASTER, None, None]
    A = np.eye(t) + s_t * K
    M = np.linalg.inv(A)
    M = (M + np.swapaxes(M, 1, 2)) / 2
    inner, logdet = s_t * M, np.linalg.slogdet(A)[1]
    if lots_random:  # the means of the groups are then the fixed effects; no lot joins two groups
        columns = _group_columns(b, K)  # (D, group, T)
        m_one = columns @ M
        information = np.einsum("dgt,dtu,dgu->dg", columns, K, m_one)
        seen = columns.any(axis=2) & (information > 0)  # marks without any error leave a group no information
        inner = inner + np.swapaxes(m_one, 1, 2) @ (m_one / np.where(seen, information, 1.0)[:, :, None])
        logdet = logdet + np.where(seen, np.log(np.where(seen, information, 1.0)), 0.0).sum(axis=1)
    u = np.einsum("dtu,du->dt", inner, g)
    ypy = q0 + np.einsum("dt,dt->d", b.shift, 2 * g0 + K_shift) - np.einsum("dt,dt->d", g, u)
    ypy = ypy + b.within_ss / theta[:, RESIDUAL]
    return Global(K, inner, M, u, g - np.einsum("dtu,du->dt", K, u), ypy, logdet)


def _group_columns(b: Blocks, K: np.ndarray) -> np.ndarray:
    """Indicators of the groups of tasters, shape (D, group, T); zero for tasters without a score."""
    member = np.arange(b.group.max() + 1)[:, None] == b.group
    return (member[None] & (np.einsum("dtt->dt", K) > 0)[:, None, :]).astype(float)


def _second_order(b: Blocks, lot: Eliminated, whole: Global, *, lots_random: bool) -> tuple[np.ndarray, ...]:
    """Traces, squares and second-order terms of the four named components (all but the residual)."""
    pairs = _local_products(lot, lots_random=lots_random)
    first, second = _moments_of_py(b, lot, whole, lots_random=lots_random)
    local = [f for f, h in pairs if f == h]
    d, n, inner = b.per_descriptor, b.lots, whole.inner
    G = {f: d(n[:, None, None] * pairs[LOT_TASTER, f] @ np.swapaxes(pairs[LOT_TASTER, f], 1, 2)) for f in local}
    k = {f: d((pairs[LOT_TASTER, f] @ first[f][:, :, None])[:, :, 0]) for f in local}
    trace, square, tr2, y2 = _taster_terms(whole, G, k, len(b.p))
    for f in local:
        trace[:, f] = d(n * np.einsum("bii->b", pairs[f, f])) - np.einsum("dtu,dut->d", inner, G[f])
        square[:, f] = d(np.einsum("bii->b", second[f, f]))
    for (f, h), A in pairs.items():
        triple = pairs[LOT_TASTER, f] @ A @ np.swapaxes(pairs[LOT_TASTER, h], 1, 2)
        twice = np.einsum("dtu,dut->d", inner, d(n[:, None, None] * triple))
        product = np.einsum("dtu,dut->d", inner @ G[f], inner @ G[h])
        tr2[:, f, h] = tr2[:, h, f] = d(n * np.einsum("bij,bij->b", A, A)) - 2 * twice + product
        form = d(np.einsum("bij,bij->b", A, second[f, h]))
        y2[:, f, h] = y2[:, h, f] = form - np.einsum("dt,dtu,du->d", k[f], inner, k[h])
    return trace, square, tr2, y2


def _local_products(lot: Eliminated, *, lots_random: bool) -> dict[tuple[int, int], np.ndarray]:
    """Z_f' Q Z_h inside one lot for the components that live there, f at or before h."""
    pairs = {(LOT_TASTER, LOT_TASTER): lot.K, (LOT_TASTER, LOT_POT): lot.J, (LOT_POT, LOT_POT): lot.N}
    if lots_random:  # the lot's column is the sum of its tasters' columns
        row = lot.K.sum(axis=2, keepdims=True)
        pot_row = np.swapaxes(lot.J, 1, 2).sum(axis=2, keepdims=True)
        pairs |= {(LOT_TASTER, LOT): row, (LOT_POT, LOT): pot_row, (LOT, LOT): row.sum(axis=1, keepdims=True)}
    return {places: A for places, A in pairs.items() if A.size}  # without pots those of pots are empty


def _moments_of_py(
    b: Blocks, lot: Eliminated, whole: Global, *, lots_random: bool
) -> tuple[dict[int, np.ndarray], dict[tuple[int, int], np.ndarray]]:
    """First and second moments of Z_f'Py over the lots of each block."""
    t, n = b.tasters, b.lots[:, None]
    eps = np.zeros_like(b.first)
    eps[:, :t] = (whole.u - b.shift)[b.descriptor]
    rest = b.first - n * eps
    moved = b.second - b.first[:, :, None] * eps[:, None, :] - eps[:, :, None] * rest[:, None, :]
    py1 = (lot.to_py @ rest[:, :, None])[:, :, 0]
    py2 = lot.to_py @ moved @ np.swapaxes(lot.to_py, 1, 2)
    x, p = slice(None, t), slice(t, None)
    first = {LOT_TASTER: py1[:, x], LOT_POT: py1[:, p]}
    second = {
        (LOT_TASTER, LOT_TASTER): py2[:, x, x],
        (LOT_TASTER, LOT_POT): py2[:, x, p],
        (LOT_POT, LOT_POT): py2[:, p, p],
    }
    if lots_random:
        first[LOT] = py1[:, x].sum(axis=1, keepdims=True)
        second[LOT_TASTER, LOT] = py2[:, x, x].sum(axis=2, keepdims=True)
        second[LOT_POT, LOT] = py2[:, p, x].sum(axis=2, keepdims=True)
        second[LOT, LOT] = second[LOT_TASTER, LOT].sum(axis=1, keepdims=True)
    return first, second


def _taster_terms(
    whole: Global, G: dict[int, np.ndarray], k: dict[int, np.ndarray], size: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """The arrays of terms with the taster's row filled in."""
    trace, square = np.zeros((size, 4)), np.zeros((size, 4))
    tr2, y2 = np.zeros((size, 4, 4)), np.zeros((size, 4, 4))
    left = np.eye(whole.K.shape[1]) - whole.K @ whole.inner
    KT = whole.K @ np.swapaxes(left, 1, 2)
    trace[:, TASTER] = np.einsum("dtt->d", KT)
    square[:, TASTER] = np.einsum("dt,dt->d", whole.zeta, whole.zeta)
    tr2[:, TASTER, TASTER] = np.einsum("dtu,dut->d", KT, KT)
    y2[:, TASTER, TASTER] = np.einsum("dt,dtu,du->d", whole.zeta, KT, whole.zeta)
    for f, squared in G.items():
        tr2[:, TASTER, f] = tr2[:, f, TASTER] = np.einsum("dtu,dtu->d", left @ squared, left)
        y2[:, TASTER, f] = y2[:, f, TASTER] = np.einsum("dt,dtu,du->d", whole.zeta, left, k[f])
    return trace, square, tr2, y2


def _with_residual(
    theta: np.ndarray, df: np.ndarray, ypy: np.ndarray, named: tuple[np.ndarray, ...]
) -> tuple[np.ndarray, ...]:
    """Add the residual's row: P V P = P gives it from what is already known, with no further work."""
    trace, square, tr2, y2 = named
    rest, s_e = theta[:, :RESIDUAL], theta[:, RESIDUAL]

    def left_over(total: np.ndarray, parts: np.ndarray) -> np.ndarray:
        return (total - (rest * parts).sum(axis=-1)) / s_e

    trace_e, square_e = left_over(df, trace), left_over(ypy, square)
    full = []
    for matrix, first, first_e in ((tr2, trace, trace_e), (y2, square, square_e)):
        column = (first - np.einsum("dfh,dh->df", matrix, rest)) / s_e[:, None]
        out = np.empty((len(theta), 5, 5))
        out[:, :4, :4] = matrix
        out[:, :4, 4] = out[:, 4, :4] = column
        out[:, 4, 4] = left_over(first_e, column)
        full.append(out)
    return np.column_stack([trace, trace_e]), np.column_stack([square, square_e]), full[0], full[1]
